"""The water stage at work: drip lines edited, the system kept true on the plan, and handed out."""

from __future__ import annotations

from pathlib import Path

from ..core.model import Finding, Water
from . import choosing, telling
from .designing import Designer, Designing
from .drip_edits import DripEdits
from .ramp_legend import HIGH_PX as _LEGEND_PX
from .ramp_legend import RampLegend
from .side_work import SideWork
from .water_stage import WaterCard, WaterSide
from .water_tool import WaterTool

_KINDS = {
    "pdf": ("The irrigation sheet", "PDF (*.pdf)", "irrigation"),
    "csv": ("A table of vines", "CSV (*.csv)", "emitters"),
    "inp": ("The network for EPANET", "EPANET network (*.inp)", "network"),
}
_NO_ROWS = (
    "No vine stands on this site yet. Draw a block on the stage Ground, lay its rows on the stage "
    "Rows, and the water for every vine is worked out here."
)


class WaterWork(SideWork):
    """Shows the drip system of the document on the water stage."""

    stage = "water"

    def __init__(self, window):
        self.designing = Designing(window)
        super().__init__(window, self.designing)
        self.card = WaterCard(window.canvas)
        self.legend = RampLegend(window.theme, window.canvas)
        self.side = WaterSide(window.theme, window.canvas)
        self.edits = DripEdits(window, self.card)
        self.tool = WaterTool(window, self)
        self._written: tuple = ()
        self._worded: tuple = ()
        self._rings: tuple = (None, None, ())
        self._tie()

    def _tie(self) -> None:
        actions, card, side = self.window.actions_by_id, self.card, self.side
        card.scope.chosen.connect(self.choose_block)
        card.add_buttons(
            "drip",
            (
                (actions["water-submain"], "Draw the submain"),
                (actions["water-edge"], "Along an edge"),
            ),
        )
        card.add_buttons("source", ((actions["water-source"], "Place it on the plan"),))
        card.add_buttons("demand", ((actions["water-climate"], "Read the climate…"),))
        side.sentences.wanted.connect(self.go_to)
        side.sets.pointed.connect(self._show_held)
        side.sets.wanted.connect(self.go_to_set)
        side.years_chosen.connect(self._show_calendar)
        side.sheet.clicked.connect(actions["water-pdf"].trigger)
        side.files_menu.addActions([actions[f"water-{k}"] for k in ("set", "inp", "csv")])

    # being on show

    @property
    def held(self) -> int | None:
        """Index of the set in hand."""
        return self.side.sets.held

    def forget(self) -> None:
        """Put down everything of the project that is left."""
        super().forget()
        self.tool.forget()
        self.side.sets.hold(None)
        self._written = self._worded = ()
        self._rings = (None, None, ())
        self.window.canvas.show_water(None)

    def follow(self) -> None:
        """Show the document's water as it is, and have worked out what is not yet."""
        canvas = self.window.canvas
        if not self.is_shown:
            canvas.show_water(None)
            self.tool.forget()
            return
        canvas.stage_tool = self.tool
        self.show_words()
        self.designing.follow()
        self._settle()
        self.show()
        self._wait()

    def _settle(self) -> None:
        """Have all worked out once the rows are settled, and no hand moves."""
        laid, document = self.window.answer, self.window.document
        if laid is not None and laid.settled and laid.answers(document.project, document.path):
            self.designing.settle()

    def _come(self) -> None:
        if self.is_shown:
            self._settle()
        super()._come()

    def found_now(self) -> tuple[Finding, ...] | None:
        """What is found in haste would come and go under a moving hand."""
        newest = self.designing.newest
        return None if newest is None or newest.haste else newest.answer.findings

    def legend_px(self) -> int:
        return _LEGEND_PX if self.window.canvas.water is not None else 0

    # showing

    def show_words(self) -> None:
        """The paragraphs of the blocks in scope, and of the site."""
        from ..session.water_words import demand_paragraph, source_paragraph, water_paragraph

        w = self.window
        project, unit = w.document.project, w.unit
        water = project.water or Water()
        names = self.edits.names()
        worded = (project, names, unit)
        if not names or (worded[1:] == self._worded[1:] and project is self._worded[0]):
            return
        self._worded = worded
        self.card.scope.follow(w.block_choice, project.blocks[0].name)
        latitude = project.site.frame.latitude_deg
        shown = self.card.paragraphs
        shown["drip"].show_paragraph(water_paragraph(project, names, unit))
        shown["source"].show_paragraph(source_paragraph(water, unit))
        shown["demand"].show_paragraph(demand_paragraph(water, latitude, unit))

    def choose_block(self, index: int) -> None:
        """Have the words be of a block, or of all: on every stage."""
        self.window.block_choice.setCurrentIndex(index)
        self.window.show_rules()
        self.show_words()

    def show(self) -> None:
        """Show the newest drip system, where it is of the rows on show."""
        w, side, answer = self.window, self.side, self.answer
        if not self.is_shown:
            return
        self._say_state()
        vines = w.answer is None or any(p.n_vines for p in w.answer.plans)
        side.say_empty("" if vines else _NO_ROWS)
        if answer is None or not vines:
            w.canvas.show_water(None)
            return
        fresh = self.holds
        w.canvas.show_water(self.designing.newest.layer if fresh else None)
        written = (self.designing.newest, w.unit, w.theme)
        if fresh and written != self._written:
            self._written = written
            self._write()
        if not fresh:
            self.tool.point_at(None)
        self._show_held(self.held)

    def _write(self) -> None:
        """Everything that is told of the newest drip system."""
        from ..session.water_lines import set_lines, water_figures
        from ..session.water_places import pipe_words, sentence_places

        w, side, answer = self.window, self.side, self.answer
        side.sentences.show_sentences(answer.judgement.sentences, sentence_places(answer), w.theme)
        side.show_figures(water_figures(answer, w.unit))
        sets = answer.design.sets
        lines = tuple(set_lines(answer, w.unit))
        short = frozenset(i for i, s in enumerate(sets) if not s.is_served)
        side.sets.show_sets(lines, short, w.theme)
        side.sets_part.setVisible(bool(lines))
        side.times_part.setVisible(bool(lines))
        layer = self.designing.newest.layer
        self.legend.show_layer(layer, pipe_words(layer.sizes_mm, w.unit), w.theme)
        self._show_calendar()

    def _show_calendar(self) -> None:
        from ..session.week_bars import before_words, week_bars, year_words

        side, answer = self.side, self.answer
        if answer is None or not answer.design.sets:
            return
        times, names = answer.run_times, [f"Set {s.number}" for s in answer.design.sets]
        side.show_choices(year_words(times), tuple(names))
        chosen = side.chosen_set
        block = 0 if chosen is None else answer.design.sets[chosen].block
        year = max(side.year.currentIndex(), 0) + 1
        bars = week_bars(times, year, chosen, self.window.unit, block)
        side.calendar.show_bars(bars, self.window.theme)
        side.before.setText(before_words(times, chosen, self.window.unit))
        side.statement.setText(times.statement)

    # sets and places

    def hold_set(self, index: int | None) -> None:
        """Take a set in hand: it lights up on the plan and stands in the calendar."""
        self.side.sets.hold(index)

    def hold_set_of(self, vine) -> None:
        """Take the set that waters a vine in hand; none for no vine."""
        from ..session.water_places import set_of_vine

        self.hold_set(None if vine is None else set_of_vine(self.answer, vine))

    def _show_held(self, index: int | None) -> None:
        side = self.side
        has = index is not None and self.holds and index < len(self.answer.design.sets)
        self.window.canvas.update()
        side.set_told.setText(side.sets.told())
        side.set_told.setVisible(has)
        if side.which.count() > 1 and side.chosen_set != index:
            side.choose_set(index)

    def rings_of_held(self) -> tuple:
        """Rings round the rows of the set in hand; none without one. [m]"""
        index = self.held
        if index is None or not self.holds or index >= len(self.answer.design.sets):
            return ()
        if self._rings[:2] != (self.answer, index):
            from ..session.water_places import outline_of_set

            self._rings = (self.answer, index, outline_of_set(self.answer, index))
        return self._rings[2]

    def go_to_set(self, index: int) -> None:
        """Show all rows of a set."""
        from ..session.water_places import bounds_of_set

        if self.holds:
            self.hold_set(index)
            self.window.canvas.look_over(bounds_of_set(self.answer, index))

    def go_to(self, x_m: float, y_m: float) -> None:
        """Show a place, and tell of the vine that stands there."""
        from ..session.vine_places import vine_at

        self.window.canvas.go_to(x_m, y_m)
        self.tool.point_at(vine_at(self.tool.plans, x_m, y_m, 5.0), by_key=True)

    # places set by hand

    def place_source(self) -> None:
        self.edits.place_source()

    def draw_submain(self) -> None:
        self.edits.draw_submain()

    def submain_along_edge(self) -> None:
        self.edits.submain_along_edge()

    def read_climate(self) -> None:
        self.edits.read_climate()

    # handing out

    def write(self, kind: str) -> None:
        """Ask where to, and write the drip system as it is now."""
        w = self.window
        w.filing.take_typing()
        start = choosing.usual_folder(str(w.settings.value("folder", "")))
        if kind == "set":
            folder = choosing.chosen_path(w, "Folder for the water files", start, what="folder")
            if folder is not None and self._may_replace(folder):
                w.settings.setValue("folder", str(folder))
                self.write_to(folder, whole=True)
            return
        title, filters, word = _KINDS[kind]
        start = start / f"{w.document.project.name}, {word}.{kind}"
        path = choosing.chosen_path(w, title, start, filters, what="save")
        if path is None:
            return
        if path.suffix.lower() != f".{kind}":
            path = path.with_name(f"{path.name}.{kind}")
        w.settings.setValue("folder", str(path.parent))
        self.write_to(path)

    def _may_replace(self, folder: Path) -> bool:
        """Whether water files that lie in a folder may be replaced; asks where there are some."""
        from ..session.water_files import FILES

        there = [name for name in FILES if (folder / name).exists()]
        return not there or bool(
            telling.decide(
                self.window,
                f"Replace the water files in {folder.name}?",
                f"The folder holds {', '.join(there)}.",
                (("replace", "Replace them"),),
                "Go back",
            )
        )

    def write_to(self, path: Path, *, whole: bool = False) -> None:
        """Write into a file, or the whole set into a folder, off the GUI thread."""
        from ..session.water_files import write_water_file, write_water_set

        filing, unit = self.window.filing, self.window.unit
        wanted = self.designing.wanted()
        held = self.designing.newest if self.designing.is_done else None
        if wanted is None:
            filing.say("The rows are still being laid: in a moment.")
            return
        day = wanted.project.day

        def work(say):
            say(0.1, path.name)
            designed = held or Designer().answer(wanted)
            say(0.3, path.name)
            answer, said = designed.answer, {"terrain_read": designed.terrain}
            if whole:
                write_water_set(
                    path,
                    answer,
                    unit,
                    day=day,
                    progress=lambda share, what: say(0.3 + 0.7 * share, what),
                    **said,
                )
            else:
                write_water_file(path, answer, unit, day, **said)

        filing.run(
            work,
            "Writing the drip system",
            lambda _: filing.say(f"The drip system is written to {path.name}."),
            filing.complain,
        )
