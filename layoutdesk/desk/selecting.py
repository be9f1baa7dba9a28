"""Rows that are selected, on the plan, in the strip and by name."""

from __future__ import annotations

from PySide6.QtWidgets import QApplication

from ..session import selection as rows
from .asking import Field
from .sketch import SketchTool

_SHOWING = ("rows", "materials", "planting")
"""Stages on which something is told of the selected rows."""


class Selecting:
    """Keeps what is selected by name, so that it outlives a new layout."""

    def __init__(self, window):
        self.window = window
        self.selection: rows.Selection = rows.NOTHING
        self._followed = None

    def _plans(self):
        return self.window.answer.plans if self.window.answer else ()

    def take(self, selection: rows.Selection) -> None:
        """Select rows; plan, strip and card follow, and a post or vine in hand gives way."""
        self.selection = selection
        self._show()
        self.window.rows.picked = None
        self.window.rows.show()

    def _show(self) -> None:
        places = rows.places_of(self.selection, self._plans())
        self.window.canvas.select(places if self.window.stage in _SHOWING else ())
        if set(self.window.strip.selection) != set(places):
            self.window.strip.select(set(places))

    def take_places(self, places) -> None:
        """Select rows told by plan and segment, as the strip does."""
        if self.window.answer is not self._followed:  # the strip itself takes up a new layout
            return
        if set(places) == set(rows.places_of(self.selection, self._plans())):
            return
        found = rows.NOTHING
        for p, plan in enumerate(self._plans()):
            found |= rows.names_of(plan, [s for q, s in places if q == p])
        self.take(found)

    def follow(self) -> None:
        """Show the selection on a new layout; rows that are gone may come back selected."""
        self._followed = self.window.answer
        self._show()

    def clear(self) -> None:
        self.take(rows.NOTHING)

    def toggle(self, place) -> None:
        plan = self._plans()[place[0]]
        self.take(self.selection ^ rows.names_of(plan, [place[1]]))

    def take_area(self, corners) -> None:
        """Select the rows that a box (two corners) or a lasso touches, with what is selected."""
        self.take(self.selection | rows.rows_touched(self._plans(), corners))

    def every(self) -> None:
        self.take(rows.every_row(self._plans()))

    def sketch(self, shape: str) -> None:
        """Have a box or a lasso drawn."""
        if self.window.stage not in _SHOWING:
            self.window.show_stage("rows")
        words = "Box: two corners" if shape == "box" else "Lasso: places round the rows"
        self.window.take_tool(SketchTool(self.window, words, shape, self.take_area))

    def ask(self) -> None:
        """Select by numbers or codes."""
        self.window.site.ask(
            "Select rows",
            "By number or code: 12-20, 25 or B2: 3-9 or B1-R012A or all.",
            (Field("rows", "Rows", hint="12-20, 25"),),
            "Select them",
            lambda texts: self.take(rows.rows_named(self._plans(), texts["rows"])),
        )

    def ask_place(self) -> None:
        """Go to a row, post or vine by its code."""
        self.window.site.ask(
            "Go to a code",
            "A row number, or what stands on its tag: B1-R012A-V034, B1-R012A-E1.",
            (Field("code", "Code", hint="B1-R012A-V034"),),
            "Go there",
            lambda texts: self.go_to_code(texts["code"]),
        )

    def go_to_code(self, code: str) -> None:
        """Show what bears a code; InputProblem where nothing does."""
        p, segment, (x, y) = rows.place_named(self._plans(), code)
        if self.window.stage == "planting":
            self.window.canvas.go_to(x, y)
            self.window.planting.hold_at(x, y)
            return
        self.window.show_stage("rows")
        self.take(rows.names_of(self._plans()[p], [segment]))
        self.window.canvas.go_to(x, y)
        if "-" in code.strip().split("-R")[-1]:
            self.window.rows.hold_at(x, y)

    def zoom(self) -> None:
        """Show the selected rows, all of them."""
        bounds = rows.bounds_of(self.selection, self._plans())
        if bounds is None:
            self.window.filing.say(
                "Nothing is selected: click a row, or press Shift and drag a box."
            )
            return
        self.window.canvas.look_over(bounds)

    def copy_table(self) -> None:
        """Put the selected rows, or all, on the clipboard as text."""
        plans = self._plans()
        text = rows.table_text(self.selection, plans, self.window.unit)
        QApplication.clipboard().setText(text)
        n = text.count("\n") - 1
        self.window.filing.say(f"{n} row segments copied as a table.")

    def figures(self) -> rows.SelectionFigures:
        return rows.figures_of(self.selection, self._plans())
