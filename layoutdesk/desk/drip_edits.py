"""Wishes on the water stage, as edits of the document: values, the source, submains, the climate."""

from __future__ import annotations

from dataclasses import replace

from ..core.model import InputProblem, Water
from . import choosing
from .sketch import SketchTool
from .water_tool import EdgeTool

_TABLES = "Tables (*.csv *.txt);;All files (*)"


class DripEdits:
    """Edits the water of the project: of the blocks in scope, and of the site."""

    def __init__(self, window, card):
        self.window, self.card = window, card
        for p in card.paragraphs.values():
            p.began.connect(lambda _: self.begin())
            p.typed.connect(self.type)
            p.chosen.connect(self.type)
            p.moved.connect(self.move)
            p.put_back.connect(self.put_back)
            p.settled.connect(lambda _: self.settle())

    def names(self) -> tuple[str, ...]:
        """Blocks in scope: those the rules are for, too."""
        return tuple(self.window.rules.block_names())

    def begin(self) -> None:
        if self.window.document is not None:
            self.window.document.settle()

    def settle(self) -> None:
        if self.window.document is not None:
            self.window.document.settle()
            self.window.ask_settled()

    # values

    def type(self, key: str, text: str) -> None:
        """Take a value as typed or chosen; what cannot be is said at the value."""
        from ..session.water_words import with_typed_water

        names, unit = self.names(), self.window.unit
        self._try(key, lambda p: with_typed_water(p, names, key, text, unit))

    def move(self, key: str, steps: float) -> None:
        """Step a value, in each block from what it has there; steps in a row are one edit."""
        from ..session.water_words import with_stepped_water

        names, unit = self.names(), self.window.unit
        change = lambda p: with_stepped_water(p, names, key, steps, unit)  # noqa: E731
        self._try(key, change, _scrub(key))

    def _try(self, key: str, change, merge: str | None = None) -> None:
        from ..session.water_words import WATER_NAMES

        try:
            self.window.document.edit(f"Change {WATER_NAMES[key]}", change, merge)
        except InputProblem as problem:
            paragraph = self.card.paragraph_with(key)
            if paragraph is None:
                self.window.filing.complain(problem)
            else:
                paragraph.refuse(key, str(problem))

    def put_back(self, key: str) -> None:
        """Take back what was stepped or scrubbed since the value was last settled."""
        self.window.document.withdraw(_scrub(key))

    # places

    def place_source(self) -> None:
        """Have the place of the source set on the plan."""
        from ..session.water_edits import with_source_at

        self._sketch(
            "Where the water comes from",
            "point",
            "place of the source",
            lambda p, places: with_source_at(p, places[0]),
        )

    def draw_submain(self) -> None:
        """Have the line of a submain drawn; it is of the blocks it runs through."""
        from ..session.water_edits import with_submain_line
        from ..session.water_places import blocks_along

        self._sketch(
            "The submain, across the rows it feeds",
            "line",
            "submain",
            lambda p, places: with_submain_line(p, blocks_along(p, self.names(), places), places),
        )

    def _sketch(self, what: str, shape: str, label: str, change) -> None:
        w = self.window
        w.show_stage("water")
        w.take_tool(
            SketchTool(
                w,
                what,
                shape,
                lambda places: self._edit(label, lambda p: change(p, places)),
            )
        )

    def _edit(self, label: str, change) -> None:
        self.window.document.edit(label, change)
        self.settle()

    def submain_along_edge(self) -> None:
        """Run the submain along the edge in hand, else along one that is picked now."""
        w = self.window
        view = w.edges.view
        w.show_stage("water")
        if view is not None:
            self._along(view)
            return
        w.take_tool(EdgeTool(w, "The edge that the submain runs along", self._along))

    def _along(self, view) -> None:
        from ..session.water_edits import with_submain_edge

        self.window.canvas.mark_edge(None)
        if view is None:
            raise InputProblem("There is no edge of an outline so near: click closer to one.")
        self._edit("submain", lambda p: with_submain_edge(p, view.block, view.ring, view.edge))

    # climate

    def read_climate(self) -> None:
        """Read a year's evapotranspiration and rain from a file."""
        w = self.window
        if w.document is None:
            return
        start = choosing.usual_folder(str(w.settings.value("folder", "")))
        path = choosing.chosen_path(w, "Climate of the site, as a table", start, _TABLES)
        if path is not None:
            w.settings.setValue("folder", str(path.parent))
            self.read_climate_from(path)

    def read_climate_from(self, path) -> None:
        """Read the climate of a file, off the GUI thread; a notice says why where it cannot be."""
        from ..session.water_edits import with_climate_file

        w = self.window
        document = w.document

        def found(made) -> None:
            if w.document is not document:
                return
            climate = made.water.climate
            change = lambda p: replace(p, water=replace(p.water or Water(), climate=climate))  # noqa: E731
            document.edit("climate", change)
            w.filing.say(f"The climate is that of {path.name}.")
            self.settle()

        w.filing.run(
            lambda say: with_climate_file(document.project, path),
            "Reading the climate",
            found,
            w.filing.complain,
        )


def _scrub(key: str) -> str:
    return f"scrub {key}"
