"""The ground stage: what is drawn, imported, reshaped and taken away, as edits of the document."""

from __future__ import annotations

from pathlib import Path

from ..core.model import InputProblem
from ..session import ground_edits
from ..session.exclusions import typed_clearance_m
from ..session.kinds import KINDS, KindDefaults, caution_for, defaults_from, defaults_text
from ..session.reshaping import ShapeId, checked, with_leg
from ..session.specification import shown_length
from ..session.units import length_m
from . import choosing
from .asking import Field, Unfit
from .reshape import ReshapeTool
from .sketch import SketchTool

_SHAPES = "Shapes (*.geojson *.json *.gpkg *.shp *.zip *.kml *.kmz *.dxf *.csv);;All files (*)"


class GroundEdits:
    """Edits outlines and exclusions; `tool` holds the shape in hand."""

    def __init__(self, window):
        self.window = window
        self.tool = ReshapeTool(window, self._show)
        self._cautioned: set[str] = set()

    def _show(self) -> None:
        if self.window.document is not None:
            self.window.ground_card.show_ground(self.window, self.tool)
            self.window.arrange()

    @property
    def project(self):
        return self.window.document.project

    @property
    def defaults(self) -> KindDefaults:
        """The clearance each kind begins with, as the user has set them."""
        try:
            return defaults_from(str(self.window.settings.value("kind_clearances", "")))
        except InputProblem:
            return KindDefaults()

    def _edit(self, label: str, change, merge: str | None = None) -> bool:
        try:
            return self.window.document.edit(label, change, merge)
        except InputProblem as problem:
            self.window.filing.complain(problem)
            return False

    def _block_edit(self, label: str, change, name: str):
        """What a sketch ends in: an edit of a block that may have gone meanwhile."""

        def finish(places):
            if name not in [b.name for b in self.project.blocks]:
                raise InputProblem(f"There is no block {name} any more: leave, and pick another.")
            self.window.document.edit(label, lambda p: change(p, name, places))

        return finish

    def _sketch(self, what: str, shape: str, finish) -> None:
        if self.window.document is not None:
            self.window.show_stage("ground")
            self.window.take_tool(SketchTool(self.window, what, shape, finish))

    def block_in_hand(self) -> str:
        """The block in hand; else the one the rules are shown for."""
        held = self.tool.held
        if held is not None and held.kind == "block":
            return held.key
        return self.window.rules.block_names()[0]

    # drawing

    def draw_block(self) -> None:
        def finish(places):
            before = {b.name for b in self.project.blocks}
            self.window.document.edit(
                "block drawn", lambda p: ground_edits.with_block_drawn(p, places)
            )
            fresh = [b.name for b in self.project.blocks if b.name not in before]
            self.tool.hold(ShapeId("block", fresh[0]))

        self._sketch("Corners of a new block", "area", finish)

    def draw_hole(self) -> None:
        name = self.block_in_hand()
        self._sketch(
            f"Ground to cut out of {name}",
            "area",
            self._block_edit(f"hole in {name}", ground_edits.with_hole, name),
        )

    def draw_exclusion(self, form: str) -> None:
        kind = self.window.ground_card.kind()
        shape = {"polygon": "area"}.get(form, form)
        words = {"point": "Place", "line": "Line", "polygon": "Corners"}[form]

        def finish(places):
            drawn = ground_edits.drawn(places, form)
            clearance = self.defaults[kind] if kind in KINDS else 0.0
            self.window.document.edit(
                f"{kind or 'exclusion'} drawn",
                lambda p: ground_edits.with_exclusion(p, drawn, kind, clearance),
            )
            self.tool.hold(ShapeId("exclusion", len(self.project.exclusions) - 1))
            if caution_for(kind) and kind not in self._cautioned:
                self._cautioned.add(kind)
                self.window.filing.tell(caution_for(kind), f"Near a {kind}")

        self._sketch(f"{words} of the {kind or 'exclusion'}", shape, finish)

    def split_block(self) -> None:
        name = self.block_in_hand()
        self._sketch(
            f"Line that cuts {name} in two",
            "line",
            self._block_edit(f"split of {name}", ground_edits.split, name),
        )

    def join_blocks(self) -> None:
        """Join all blocks that touch the one in hand, after asking which."""
        names = [b.name for b in self.project.blocks]
        if len(names) < 2:
            self.window.filing.complain("There is one block only: draw or import another to join.")
            return
        self.window.site.ask(
            "Join blocks",
            f"Blocks that touch become one, with the rules of the first. There are {', '.join(names)}.",
            (Field("names", "Blocks to join", ", ".join(names)),),
            "Join them",
            lambda texts: self._join([n.strip() for n in texts["names"].split(",") if n.strip()]),
        )

    def _join(self, names: list[str]) -> None:
        known = {b.name.upper(): b.name for b in self.project.blocks}
        for name in names:
            if name.upper() not in known:
                raise InputProblem(
                    f"There is no block {name}: write names of {', '.join(known.values())}."
                )
        names = [known[n.upper()] for n in names]
        self.window.document.edit("joined blocks", lambda p: ground_edits.merged(p, names))

    # the shape in hand

    def _held(self) -> ShapeId | None:
        if self.tool.held is None:
            self.window.filing.say("Click an outline or an exclusion on the ground stage first.")
        return self.tool.held

    def copy_shape(self) -> None:
        self._shift("Copy", "copy", ground_edits.copied)

    def move_shape(self) -> None:
        self._shift("Move", "shape moved", ground_edits.moved)

    def _shift(self, words: str, label: str, change) -> None:
        """Have two places set, and the shape in hand copied or moved by the step between them."""
        held = self._held()
        if held is None:
            return

        def finish(places):
            (x0, y0), (x1, y1) = places
            self.window.document.edit(label, lambda p: change(p, held, x1 - x0, y1 - y0))

        self._sketch(f"{words}: from a place to where it shall be", "pair", finish)

    def grow_shape(self) -> None:
        held = self._held()
        if held is None:
            return
        self.window.site.ask(
            "Grow or shrink",
            "All edges move outward by this much; with a minus inward.",
            (Field("by", "By", shown_length(2.0, self.window.unit)),),
            "Do it",
            lambda texts: self._grow(held, texts["by"]),
        )

    def _grow(self, held: ShapeId, text: str) -> None:
        by = length_m(text, self.window.unit)
        self.window.document.edit(
            "grown shape" if by > 0 else "shrunk shape",
            lambda p: ground_edits.offset_shape(p, held, by),
        )

    def delete_shape(self) -> None:
        held = self._held()
        if held is None:
            return
        if held.kind == "block" and self.tool.corner is not None and self.tool.corner[0] > 0:
            ring = self.tool.corner[0]
            if self._edit("hole closed", lambda p: ground_edits.without_hole(p, held.key, ring)):
                self.tool.hold(held)
            return
        words = f"{held.key} deleted" if held.kind == "block" else "exclusion deleted"
        if self._edit(words, lambda p: ground_edits.without_shape(p, held)):
            self.tool.hold(None)

    def rename(self, text: str) -> None:
        """Give the block in hand another name; codes begin with it."""
        old = self.block_in_hand()
        if text.strip() == old:
            return
        if self._edit("block name", lambda p: ground_edits.renamed(p, old, text.strip())):
            self.tool.hold(ShapeId("block", text.strip()))
        else:
            self._show()

    def choose_kind(self, kind: str) -> None:
        """Make the exclusion in hand one of a kind, with the clearance that kind begins with."""
        held = self.tool.held
        if held is None or held.kind != "exclusion":
            return
        clearance = self.defaults[kind] if kind in KINDS else None
        self._edit(
            "kind of exclusion",
            lambda p: ground_edits.with_exclusion_kind(p, held.key, kind, clearance),
            f"kind of exclusion {held.key}",  # letters typed into the list pass through others
        )

    def type_clearance(self, text: str) -> None:
        held = self.tool.held
        if held is None or held.kind != "exclusion":
            return
        try:
            metres = typed_clearance_m(text, self.window.unit)
        except InputProblem as problem:
            self.window.filing.complain(problem)
            return
        kind = self.project.exclusions[held.key].kind
        self._edit(
            "clearance",
            lambda p: ground_edits.with_exclusion_kind(p, held.key, kind, metres),
        )

    def keep_as_default(self) -> None:
        """Let exclusions of this kind begin with the clearance the one in hand has."""
        held = self.tool.held
        if held is None or held.kind != "exclusion":
            return
        one = self.project.exclusions[held.key]
        if one.kind not in KINDS:
            self.window.filing.say("Choose what kind it is first.")
            return
        changed = self.defaults.changed_to(one.kind, one.clearance_m)
        self.window.settings.setValue("kind_clearances", defaults_text(changed))
        self.window.filing.say(
            f"A new {one.kind} begins with {shown_length(one.clearance_m, self.window.unit)} now."
        )

    def type_place(self, text: str) -> None:
        """Put the picked corner where survey coordinates or a length and bearing say."""
        from ..session.typed_places import survey_transforms, typed_place

        if self.tool.corner is None:
            return
        beside = self.tool.neighbours(*self.tool.corner)
        try:
            place = typed_place(
                text,
                anchor=beside[0] if beside else None,
                unit=self.window.unit,
                from_survey=survey_transforms(self.project)[1],
                true_from=self.window.rules.true_from,
                grid_unit=self.window.survey.people_unit,
            )
        except InputProblem as problem:
            self.window.filing.complain(problem)
            return
        self.tool.put_corner(*place)

    def type_leg(self, text: str) -> None:
        """Give the picked edge a length and bearing; its second corner moves."""
        from ..session.typed_places import typed_leg

        held, edge = self.tool.held, self.tool.edge
        if held is None or edge is None:
            return
        try:
            length, bearing = typed_leg(text, self.window.unit, self.window.rules.true_from)
        except InputProblem as problem:
            self.window.filing.complain(problem)
            return
        self._edit("edge", lambda p: checked(with_leg(p, held, *edge, length, bearing), held))

    # files

    def import_outlines(self) -> None:
        path = choosing.chosen_path(
            self.window,
            "Outlines to add as blocks",
            choosing.usual_folder(str(self.window.settings.value("folder", ""))),
            _SHAPES,
        )
        if path is not None:
            self.import_file(Path(path))

    def import_file(self, path: Path, crs: str = "", unit: str = "") -> None:
        """Add a file's outlines as blocks; what it does not say is asked."""
        from ..session.wording import wants_crs, wants_unit

        def take(texts):
            try:
                self.window.document.edit(
                    f"outlines from {path.name}",
                    lambda p: ground_edits.imported_blocks(
                        p, path, texts["crs"].strip() or None, texts["unit"].strip() or None
                    ),
                )
            except InputProblem as problem:
                field = (
                    "unit" if wants_unit(str(problem)) and not wants_crs(str(problem)) else "crs"
                )
                raise Unfit(problem, field) from None

        try:
            take({"crs": crs, "unit": unit})
        except InputProblem as problem:
            if not (wants_crs(str(problem)) or wants_unit(str(problem))):
                self.window.filing.complain(problem)
                return
            self.window.site.ask(
                f"Outlines from {path.name}",
                str(problem),
                (
                    Field("crs", "Coordinate system", hint="EPSG:32754"),
                    Field("unit", "Drawing unit", hint="m, ft, usft or mm"),
                ),
                "Import them",
                take,
            )
