"""The hand-off stage at work: its pages kept true, what they show on the plan, wishes handed on."""

from __future__ import annotations

import math

from .handoff_counting import HandingOver
from .handoff_edits import HandOffEdits
from .handoff_files import HandOffFiles
from .handoff_legend import HandOffLegend
from .handoff_pages import PAGE
from .handoff_stage import HandOffCard, HandOffSide
from .handoff_tool import HandOffTool
from .side_work import WORKING, SideWork
from .staked_work import StakedWork

_NO_ROWS = (
    "No row is laid on this site yet. Draw a block on the stage Ground, lay its rows on the stage Rows, and "
    "they are handed off to those who stake from here."
)
_STAKED_LISTS = ("explanations", "worst", "staked_rows")
_PLACES_HELD = ("control", "checks", *_STAKED_LISTS)
"""Lists whose lines are about places."""


class HandOffWork(SideWork):
    """Shows the hand-off of the document on its stage."""

    stage = "handoff"

    def __init__(self, window):
        super().__init__(window, HandingOver(window))
        self.card = HandOffCard(window.canvas)
        self.side = HandOffSide(window.theme, window.canvas)
        self.legend = HandOffLegend(window.theme, window.canvas)
        self.page = PAGE["points"]
        self.tool = HandOffTool(window, self)
        self.edits = HandOffEdits(window, self)
        self.files = HandOffFiles(window, self)
        self.staked = StakedWork(window, self)
        self.staked.staking.came.connect(self._come)
        self._written: dict[str, tuple] = {}
        self._loaded = False
        self._tie()

    def _tie(self) -> None:
        actions, card, side = self.window.actions_by_id, self.card, self.side
        card.built.connect(self._tie_card)
        side.built.connect(self._tie_side)
        card.bar.wanted.connect(self.turn_to)
        self.window.canvas.view_changed.connect(self._view_changed)
        side.act = {
            "files": actions["handoff-write"].trigger,
            "staked": actions["handoff-staked-report"].trigger,
        }
        side.files_menu.addActions(
            [actions[f"handoff-staked-{end}"] for end in ("pdf", "csv", "geojson", "json")]
        )

    def _tie_card(self, name: str) -> None:
        """A page was made at the left."""
        page, actions = PAGE[name], self.window.actions_by_id
        pairs = [(actions[f"handoff-{action}"], words) for action, words in page.actions]
        self.card.add_buttons(name, pairs)
        self.edits.tie(page)
        if name == "files":
            self.files.tie()

    def _tie_side(self, name: str) -> None:
        """A page was made at the right."""
        for key in (part.key for part in PAGE[name].tables if part.key in _PLACES_HELD):
            table = self.side.tables[key]
            table.pointed.connect(lambda at, k=key: self._show_line(k, at))
            table.wanted.connect(lambda at, k=key: self._go_to_line(k, at))

    def act(self, page: str, method: str, *arguments) -> None:
        """Do what an action of a page names, on that page."""
        if self.window.document is None:
            return
        if not self.is_shown:
            self.window.show_stage(self.stage)
        if page != self.page.name:
            self.turn_to(page)
        parts = {"files": self.files, "staked": self.staked}
        getattr(parts.get(page, self.edits), method)(*arguments)

    # being on show

    def close(self) -> None:
        super().close()
        self.staked.close()

    def forget(self) -> None:
        """Put down everything of the project that is left."""
        super().forget()
        self.edits.forget()
        self.files.forget()
        self.staked.forget()
        self._written = {}
        for table in self.side.tables.values():
            table.hold(None)
        self.tool.ring(())
        self.window.canvas.show_overlay(None)

    def follow(self) -> None:
        """Show the document's hand-off as it is, and have worked out what is not yet."""
        canvas = self.window.canvas
        if not self.is_shown:
            canvas.show_overlay(None)
            self.tool.ring(())
            return
        canvas.stage_tool = self.tool
        self.card.show_page(self.page)
        self.side.show_page(self.page)
        self.counting.follow()
        self.staked.staking.follow()
        self.show()
        self._wait()

    def turn_to(self, name: str) -> None:
        """Turn to a page; the plan shows what it is about."""
        page = PAGE[name]
        if page is not self.page:
            self.page = page
            self.tool.ring(())
        if self.is_shown:
            self.follow()
            self.window.arrange()

    def found_now(self):
        """Findings of the hand-off, and of the file in hand."""
        staked = self.staked.answer
        of_file = staked.findings if staked is not None and not self.staked.staking.problem else ()
        own = self.answer.hand.own_findings if self.answer is not None else ()
        return (*of_file, *own)

    @property
    def layer(self):
        """What the plan shows over its rows: points, arrows, or nothing."""
        newest, way = self.counting.newest, self.page.way
        if way == "staked":
            return self.staked.layer
        if not way or newest is None or not self.holds:
            return None
        if way == "points":
            return newest.points
        return newest.effect if newest.effect.signs else None

    @property
    def _is_ready(self) -> bool:
        """Whether what words and lists are made by is loaded: on the worker's thread, with the first answer."""
        self._loaded |= self.counting.newest is not None or bool(self.counting.problem)
        return self._loaded

    def legend_px(self) -> int:
        return self.legend.wanted_height(self.card.width())

    # showing

    def show(self) -> None:
        """Show the newest answer, where it is of the rows on show."""
        w, side = self.window, self.side
        if not self.is_shown:
            return
        rows = w.answer is None or any(p.n_segments for p in w.answer.plans)
        side.say_empty("" if rows else _NO_ROWS)
        layer = self.layer if rows else None
        w.canvas.show_overlay(layer)
        self._explain()
        self._say_state()
        if not self._is_ready:
            return
        self.edits.show_words()
        self.files.show()
        if not rows:
            return
        written = (self.counting.newest, w.theme)
        if self.holds and written != self._written.get(self.page.name):
            self._written[self.page.name] = written
            self._write(self.page.name)
        self.files.show_verified()
        self.staked.show()
        self.edits.show_buttons()

    def _explain(self) -> None:
        """Explain what the plan shows in its view, with the exaggeration of arrows there."""
        canvas, high = self.window.canvas, self.legend_px()
        layer = canvas.overlay
        said = layer.said_in(canvas.view) if layer is not None else ""
        self.legend.show_layer(layer, said, self.window.theme)
        if high != self.legend_px():
            self.window.arrange()

    def _view_changed(self) -> None:
        if self.is_shown and self.window.canvas.overlay is not None:
            self._explain()

    def _write(self, page: str) -> None:
        """Everything that a page tells of the newest answer."""
        w, side, newest = self.window, self.side, self.counting.newest
        answer = newest.answer
        if page == "points":
            side.say("points", (newest.counted,))
        if page == "grid":
            refused = answer.calibrated is not None and bool(answer.calibrated.refused)
            told = ((), (answer.effect,)) if refused else ((answer.effect,), ())
            side.say("grid", told[0], first=told[1])
        lines = {
            "kinds": newest.kinds,
            "control": answer.control,
            "checks": answer.checks,
            "files": answer.files,
            "decided": newest.decided,
        }
        for part in PAGE[page].tables:
            if part.key in lines:
                side.show_lines(part.key, lines[part.key], w.theme)

    @property
    def is_going_on(self) -> bool:
        """Whether something of the project as it is, or of the file in hand, is still to come."""
        return self.counting.is_going_on or self.staked.staking.is_going_on

    def _say_state(self) -> None:
        staking = self.staked.staking
        if self.page.name == "staked" and staking.is_going_on and not self._patience.isActive():
            self.side.state.say(WORKING)
        else:
            super()._say_state()

    def _wait(self) -> None:
        if self.is_going_on and not self._patience.isActive():
            self._patience.start()

    # places

    def _show_line(self, key: str, at: int | None) -> None:
        """Ring the places that a line is about, and bring them into view."""
        if key == "control":
            self.edits.show_buttons()
        places = () if at is None else self._places_of(key, at)
        self.tool.ring(places)
        for place in places:
            self.window.canvas.reveal(*place)

    def _go_to_line(self, key: str, at: int) -> None:
        """Show the places that a line is about from near."""
        places = self._places_of(key, at)
        self.tool.ring(places)
        if len(places) == 1:
            self.window.canvas.go_to(*places[0])
        elif places:
            (x0, x1), (y0, y1) = (sorted(c) for c in zip(*places, strict=True))
            self.window.canvas.look_over((x0, y0, x1, y1))

    def _places_of(self, key: str, at: int) -> tuple[tuple[float, float], ...]:
        """Where the plan has what a line of a list is about: one place, or both ends of a check line. [m]"""
        if key in _STAKED_LISTS:
            place = self.staked.place_of(key, at)
            return () if place is None else (place,)
        newest = self.counting.newest
        if newest is None or not self.holds:
            return ()
        line = self.side.tables[key].lines[at]
        if key == "checks":
            return tuple(tuple(end) for end in newest.check_ends.get(line.key, ()))
        return tuple((x, y) for name, x, y in newest.control if name == line.key)

    def hold_at(self, x_m: float, y_m: float, reach_m: float) -> None:
        """Take the line of the control point or the point beyond tolerance at a place in hand."""
        key = {"grid": "control", "staked": "worst"}.get(self.page.name)
        if key is None:
            return
        table = self.side.tables[key]
        near = []
        for at in range(len(table.lines)):
            for x, y in self._places_of(key, at):
                near.append((math.hypot(x - x_m, y - y_m), at))
        away, at = min(near, default=(reach_m + 1.0, 0))
        table.hold(at if away <= reach_m else None)

    def let_go(self) -> None:
        """Put down what is in hand."""
        for key, table in self.side.tables.items():
            if key in _PLACES_HELD:
                table.hold(None)
        self.tool.ring(())
