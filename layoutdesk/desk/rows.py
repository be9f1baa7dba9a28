"""The rows stage: what is picked there and what is changed at it, as edits of the document."""

from __future__ import annotations

from ..core.layout.numbering import segment_code
from ..core.model import InputProblem
from ..session import row_edits
from ..session import special_rows as special
from ..session.rule_scope import with_common
from ..session.specification import shown_length
from ..session.tally import grouped
from ..session.units import length_m, unit_label, unit_length_m
from .rows_tool import RowsTool
from .sketch import SketchTool

_KIND_WORDS = {"end_post": "End post", "line_post": "Line post", "vine": "Vine"}


def _long(metres: float, unit: str) -> str:
    return f"{grouped(metres / unit_length_m(unit), 1)} {unit_label(unit)}"


class RowEdits:
    """What is picked on the plan, its card, and edits of rows, posts, vines, alleys and guides."""

    def __init__(self, window):
        self.window = window
        self.picked: special.Picked | None = None
        self.tool = RowsTool(window)

    # what is picked

    def _plan(self, name: str):
        answer = self.window.answer
        return next((p for p in answer.plans if p.block.name == name), None) if answer else None

    def hold(self, picked: special.Picked | None, *, adding: bool = False) -> None:
        """Take something in hand; a row is selected, with Ctrl beside what is selected already."""
        window = self.window
        if picked is not None and picked.kind == "row":
            plans = window.answer.plans
            p = next(i for i, plan in enumerate(plans) if plan.block.name == picked.block)
            if adding:
                window.selecting.toggle((p, picked.segment))
            else:
                window.selecting.take(frozenset())
                window.selecting.take_places([(p, picked.segment)])
        elif not adding and window.answer is not None:
            window.selecting.clear()
        self.picked = picked
        self.show()

    def hold_at(self, x: float, y: float) -> None:
        """Take the post or vine at a place in hand, its row staying selected."""
        for plan in self.window.answer.plans:
            found = special.pick(plan, x, y, 0.05, marks=True)
            if found is not None and found.kind != "row":
                self.picked = found
                self.show()
                return

    def let_go(self) -> None:
        self.hold(None)
        self.window.canvas.setFocus()

    def follow(self) -> None:
        """Keep in hand what is still there on a new layout."""
        if self.picked is None:
            return
        plan, p = self._plan(self.picked.block), self.picked
        found = special.pick(plan, *p.place_m, 0.3, marks=p.kind != "row") if plan else None
        if p.kind in ("end_post", "line_post") and plan is not None:
            found = found if found is not None and found.kind == p.kind else None
        self.picked = found if found is None or found.kind == p.kind else None

    def show(self) -> None:
        """The card of what is picked, or of the rows that are selected."""
        window, card = self.window, self.window.picked_card
        n = len(window.canvas.selected)
        nothing = window.document is None or window.answer is None
        if nothing or window.stage != "rows" or window.edges.view is not None:
            card.hide()
        elif self.picked is not None and self.picked.kind != "row":
            self._show_mark(card)
        elif n == 1:
            self._show_row(card)
        elif n > 1:
            f = window.selecting.figures()
            card.show_picked(
                f"{grouped(f.rows)} {'row' if f.rows == 1 else 'rows'} selected",
                f"{_long(f.length_m, window.unit)}, {grouped(f.vines)} vines, "
                f"{grouped(f.line_posts)} line posts, {grouped(f.end_posts)} end posts",
                (),
                (
                    ("leave-out", "Leave them out"),
                    ("zoom", "Show them"),
                    ("copy", "Copy as a table"),
                ),
            )
        else:
            card.hide()
        window.canvas.update()
        window.arrange()

    def _selected_row(self):
        """(plan, segment) of the only row selected, None where it is gone."""
        from ..session.selection import places_of

        plans = self.window.answer.plans
        places = places_of(self.window.selecting.selection, plans)
        return (plans[places[0][0]], places[0][1]) if len(places) == 1 else None

    def _show_row(self, card) -> None:
        row, unit = self._selected_row(), self.window.unit
        if row is None:
            card.hide()
            return
        plan, i = row
        s = plan.segments
        code = segment_code(plan.block.name, int(s.number[i]), int(s.letter[i]))
        zero = shown_length(0.0, unit)
        buttons = [("leave-out", "Leave it out")]
        if special.is_special(plan, i):
            buttons.append(("rules", "As the rules say"))
        slope = self.window.terrain.slope_said(plan, i)
        figures = (
            f"{shown_length(float(s.length_m[i]), unit)}, {plan.vines_of_segment[i]} vines, "
            f"{plan.line_posts.count[i]} line posts"
        )
        card.show_picked(
            f"Row {code}",
            f"{figures}\n{slope.words}" if slope else figures,
            (("start", "Start end out by", zero), ("far", "Far end out by", zero)),
            tuple(buttons),
            slope.caution if slope else "",
        )

    def _show_mark(self, card) -> None:
        p, unit = self.picked, self.window.unit
        plan = self._plan(p.block)
        if plan is None:  # its block bears another name, or is gone, and is not laid yet
            card.hide()
            return
        code = special.code_of(plan, p)
        zero = shown_length(0.0, unit)
        if p.kind in ("left_out", "gap"):
            what = "Left-out row" if p.kind == "left_out" else "Left-out vine"
            card.show_picked(f"{what} {code}", "", (), (("back", "Plant it again"),))
        elif p.kind == "vine":
            place = self.window.survey.coordinates(*p.place_m)
            card.show_picked(f"Vine {code}", place, (), (("leave-out-vine", "Leave it out"),))
        else:
            words = "Out by" if p.kind == "end_post" else "Towards the far end by"
            place = self.window.survey.coordinates(*p.place_m)
            card.show_picked(f"{_KIND_WORDS[p.kind]} {code}", place, (("post", words, zero),), ())

    # edits of what is picked

    def _edit(self, label: str, change, names=None) -> bool:
        try:
            done = self.window.document.edit(label, change)
        except InputProblem as problem:
            self.window.filing.complain(problem)
            return False
        self.window.rules.settle()
        return done

    def _plan_at(self, project, place):
        """The plan of the block at a place; InputProblem where its rows are not laid yet."""
        name = row_edits.block_at(project, *place)
        plan = self._plan(name)
        if plan is None:
            raise InputProblem(f"The rows of {name} are not laid yet: set the place once more.")
        return plan

    def type(self, key: str, text: str) -> None:
        """A length typed into the card."""
        try:
            metres = length_m(text, self.window.unit)
        except InputProblem as problem:
            self.window.filing.complain(problem)
            return
        if key in ("start", "far"):
            row = self._selected_row()
            if row is not None:
                plan, i = row
                end = 1 if key == "start" else 2
                self._edit("row end", lambda p: special.with_end_moved(p, plan, i, end, metres))
        elif self.picked is not None:
            plan, picked = self._plan(self.picked.block), self.picked
            end = picked.kind == "end_post"
            change = special.with_end_moved if end else special.with_post_moved
            if self._edit(
                "end post" if end else "line post",
                lambda p: change(p, plan, picked.segment, picked.index, metres),
            ):
                self.picked = None  # it stands elsewhere now
                self.show()

    def act(self, key: str) -> None:
        """A button of the card."""
        acts = {
            "leave-out": self.leave_out,
            "leave-out-vine": self.leave_out,
            "back": self.put_back,
            "rules": self.as_the_rules_say,
            "zoom": self.window.selecting.zoom,
            "copy": self.window.selecting.copy_table,
        }
        acts[key]()

    def leave_out(self) -> None:
        """Leave out the vine that is picked, or the rows that are selected."""
        if self.window.answer is None:
            return
        if self.window.stage != "rows":  # nothing unseen is left out
            self.window.show_stage("rows")
            return
        p = self.picked
        if p is not None and p.kind == "vine":
            plan = self._plan(p.block)
            self._edit(
                "vine left out", lambda project: special.with_vine_left_out(project, plan, p)
            )
            return
        from ..session.selection import segments_of

        selection, plans = self.window.selecting.selection, self.window.answer.plans
        if not selection:
            self.window.filing.say("Pick a row or a vine first.")
            return

        def change(project):
            for plan in plans:
                project = special.with_rows_left_out(project, plan, segments_of(selection, plan))
            return project

        self.picked = None
        if self._edit("rows left out" if len(selection) > 1 else "row left out", change):
            self.window.selecting.clear()

    def put_back(self) -> None:
        picked = self.picked
        if picked is None or picked.kind not in ("left_out", "gap"):
            self.window.filing.say("Pick a row or a vine that is left out first.")
            return
        self.picked = None
        self._edit("planted again", lambda p: special.put_back(p, picked))
        self.show()

    def as_the_rules_say(self) -> None:
        row = self._selected_row()
        if row is not None:
            plan, i = row
            self._edit("row as the rules say", lambda p: special.as_the_rules_say(p, plan, i))

    def drop_unfit(self) -> None:
        """Take back everything special that no longer fits."""
        plans = self.window.answer.plans if self.window.answer else ()
        if not any(p.unfit for p in plans):
            self.window.filing.say("Everything special still fits.")
            return
        self._edit("what no longer fits", lambda p: special.without_unfit(p, plans))

    # edits set on the plan

    def _sketch(self, what: str, shape: str, label: str, change) -> None:
        """Have places set; `change(project, places)` is the edit."""
        window = self.window
        if window.document is None:
            return
        window.show_stage("rows")

        def finish(places):
            window.document.edit(label, lambda p: change(p, places))
            window.rules.settle()

        window.take_tool(SketchTool(window, what, shape, finish))

    def add_vine(self) -> None:
        def change(project, places):
            return special.with_vine_added(project, self._plan_at(project, places[0]), *places[0])

        self._sketch("Place of one more vine, on a row", "point", "vine added", change)

    def bearing_through(self) -> None:
        names = tuple(self.window.rules.block_names())
        self._sketch(
            "Rows run from one place to another",
            "pair",
            "bearing",
            lambda p, places: row_edits.with_bearing_through(p, names, places),
        )

    def first_row_through(self) -> None:
        def change(project, places):
            plan = self._plan_at(project, places[0])
            return row_edits.with_first_row_through(project, plan, *places[0])

        self._sketch("A row passes through this place", "point", "first row", change)

    def put_alley(self) -> None:
        def change(project, places):
            return row_edits.with_alley(
                project, row_edits.block_at(project, *places[0]), *places[0]
            )

        self._sketch("Middle of an alley across the rows", "point", "alley", change)

    def draw_guide(self) -> None:
        name = self.window.rules.block_names()[0]

        def change(project, places):
            if name not in [b.name for b in project.blocks]:
                raise InputProblem(f"There is no block {name} any more: leave, and pick another.")
            return row_edits.with_guide(project, name, places)

        self._sketch(f"Line that the rows of {name} follow", "line", "guide line", change)

    def drop_guide(self) -> None:
        def change(project):
            for name in self.window.rules.block_names():
                project = row_edits.without_guide(project, name)
            return project

        if not self._edit("straight rows", change):
            self.window.filing.say("The rows are straight already.")

    def share_rules(self) -> None:
        """Give all blocks one set of rules, those of the block on show; once more gives each its own."""
        project = self.window.document.project
        on = not all(b.common for b in project.blocks)
        first = self.window.rules.block_names()[0]
        names = [first, *(b.name for b in project.blocks if b.name != first)]

        def change(p):
            for name in names:
                p = with_common(p, name, on)
            return p

        self._edit("shared rules" if on else "separate rules", change)
