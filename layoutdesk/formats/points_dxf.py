"""Points and lines of a hand-off as a drawing: DXF R2010 in written coordinates, for any drawing or survey program.

The document, its layers, symbols, outlines and exclusions are ezdxf's; rows, labels and the many
symbols are streamed into its entities section as text.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from ..core.model.handoff import POINT_KINDS
from .block_rows import block_of, rows_by_block
from .digits import Records
from .handoffset import HandOffSet, Progress
from .point_descriptions import columns_in, template_parts
from .point_records import PointTexts, placed, taken
from .points_dxf_document import NO_HEIGHT, drawn_document, halves, layer_of
from .points_dxf_raised import RaisedLines
from .points_dxf_records import (
    TAG_PARTS,
    Labels,
    handles_from,
    label_records,
    label_values,
    row_records,
    row_values,
    symbol_records,
)
from .seal import Seal, SealedFile
from .stake_chunks import clean

_END = b"  0\nEOF\n"


def write_points_dxf(
    path, hand: HandOffSet, seal: Seal, *, raised: bool = False, progress: Progress | None = None
) -> int:
    """Number of entities written, in written coordinates.

    Outlines, exclusions, the chosen rows with a label at both ends, a symbol with invisible attributes
    CODE, ROW, SEGMENT, INDEX, POINT (its number) and, where descriptions are more than the code,
    DESCRIPTION for every point, and a note with the statement on the coordinates. The seal is a remark before
    the end of the file. Symbols of one kind stand together whatever the order of points. Not atomic: the
    caller swaps the file in.

    Parameters
    ----------
    path : path
    hand : HandOffSet
    seal : Seal
    raised : bool
        Whether points stand at the height of the ground, and lines run on it. What stands on ground that
        is not known is at 0, on a layer whose name ends in NO_HEIGHT, and the note says how much it is.
    progress : function of the share done, optional
        May raise to cancel.

    Raises
    ------
    InputProblem
        Where a point has no place in the survey system.
    """
    tags = dict(TAG_PARTS)
    template = hand.hand.table.description
    if template.strip() != "{code}":
        tags["DESCRIPTION"] = template_parts(template, clean)
    drawing = Drawing(hand, tags, raised=raised, lines_raised=raised, progress=progress)
    with SealedFile(path) as file:
        drawing.write(file)
        file.write(drawing.tail.removesuffix(_END) + b"999\n")
        file.write(file.seal_text(seal).encode())
        file.write(b"\n" + _END)
    return drawing.n_entities


class Drawing:
    """A drawing that is written once.

    Parameters
    ----------
    hand : HandOffSet
    tags : dict of str to list of bytes or str
        Attributes of the symbols, with the columns of `PointTexts` they are written by.
    raised, lines_raised : bool
        Whether points, and lines, stand at the height of the ground.
    progress : function of the share done, optional

    Attributes
    ----------
    n_entities : int
    tail : bytes
        What stands behind everything that `write` writes.
    """

    def __init__(
        self,
        hand: HandOffSet,
        tags: dict[str, list[bytes | str]],
        *,
        raised: bool,
        lines_raised: bool,
        progress: Callable[[float], None] | None,
    ):
        self._hand, self._tags = hand, tags
        self._raised = raised and hand.heights is not None
        self._progress = progress
        self._rows = rows_by_block(hand)
        self._labels = [Labels(rows, hand) for rows in self._rows]
        self._texts = PointTexts(hand.points, clean, hand.hand.table.feature)
        self._lines = RaisedLines(hand) if lines_raised and self._raised else None
        self._names = columns_in([part for parts in tags.values() for part in parts])
        note, no_height = self._note(lines_raised)
        n_flat = 0 if self._lines else sum(len(r.line) for r in self._rows if r.is_straight)
        n_labels = 2 * sum(len(rows.line) for rows in self._rows)
        n_records = n_flat + n_labels + len(hand.points)
        document = drawn_document(
            hand,
            [*(label.reach for label in self._labels), *_single_places(hand)],
            tuple(tags),
            note,
            flat=self._lines is None,
            no_height=no_height,
        )
        self.n_entities = len(document.modelspace()) + n_records
        if self._lines:
            self.n_entities += len(hand.lines)
            n_records += self._lines.n_handles
        self._handle, seed = handles_from(str(document.entitydb.handles), n_records)
        document.entitydb.handles.reset(seed)
        self._head, self.tail = halves(document)
        self._owner = document.modelspace().block_record_handle.encode()

    def write(self, file) -> None:
        """Everything up to the end of the entities."""
        file.write(self._head)
        if self._lines:
            for piece in self._lines.records(self._owner, self._handle):
                file.write(piece)
            self._handle += self._lines.n_handles
        symbols: dict[tuple[int, str], Records] = {}
        drawn, done, total = 0, 0, len(self._hand.points)
        for some in self._hand.points.chunks():
            # A block's rows stand before its points; corners and control points come last.
            drawn = self._write_rows(file, drawn, block_of(self._hand, int(some.owner[0])) + 1)
            for kind in np.flatnonzero(np.bincount(some.kind)).tolist():
                own = some if (some.kind == kind).all() else taken(some, some.kind == kind)
                for z, part, place in self._by_height(own):
                    if (kind, z) not in symbols:
                        symbols[kind, z] = symbol_records(
                            *(kind, self._texts, self._tags, self._owner),
                            *(self._hand.placing.unit_m, z),
                        )
                    values = place | self._texts.values(part, self._names)
                    self._write(file, symbols[kind, z], values)
            done += len(some)
            if self._progress:
                self._progress(done / total)
        self._write_rows(file, drawn, len(self._rows))

    def _by_height(self, some) -> Iterator[tuple]:
        """Points whose ground is known and those whose is not, with where they stand."""
        xy = placed(self._hand, some.xy_m)
        if not self._raised:
            yield "flat", some, {"x": xy[:, 0], "y": xy[:, 1]}
            return
        z = self._hand.elevations(some.xy_m)
        unknown = np.isnan(z)
        for name, which in (("known", ~unknown), ("unknown", unknown)):
            if which.all():
                yield name, some, {"x": xy[:, 0], "y": xy[:, 1], "z": z}
            elif which.any():
                place = {"x": xy[which, 0], "y": xy[which, 1], "z": z[which]}
                yield name, taken(some, which), place

    def _write_rows(self, file, begin: int, end: int) -> int:
        """Rows and labels of some blocks; gives which block is next."""
        for rows, label in zip(self._rows[begin:end], self._labels[begin:end], strict=True):
            if not len(rows.line):
                continue
            if not self._lines and rows.is_straight:
                self._write(file, row_records(self._owner), row_values(label))
            raised = self._lines is not None
            records = label_records(label, self._owner, raised)
            for side in (0, 1):
                z = self._hand.elevations(label.ends_m[:, side]) if raised else None
                self._write(file, records, label_values(label, side, z))
        return max(begin, end)

    def _write(self, file, records: Records, values: dict) -> None:
        n = len(values["x"])
        values["handle"] = np.arange(self._handle, self._handle + n)
        self._handle += n
        for piece in records.encoded(values):
            file.write(piece)

    def _note(self, lines_raised: bool) -> tuple[str, tuple[str, ...]]:
        """The statement, where heights come from and what has none; and the layers of what has none."""
        hand = self._hand
        if self._lines is None:
            flat = (
                "; heights of the ground are not known: the drawing is flat" if lines_raised else ""
            )
            return hand.statement + flat, ()
        n_of_kind = np.zeros(len(POINT_KINDS), np.int64)
        for some in hand.points.chunks():
            unknown = np.isnan(hand.elevations(some.xy_m))
            n_of_kind += np.bincount(some.kind[unknown], minlength=len(n_of_kind))
        layers = [*self._lines.unknown, *map(layer_of, np.flatnonzero(n_of_kind).tolist())]
        ends_m = np.concatenate(
            [np.empty((0, 2)), *(b.ends_m.reshape(-1, 2) for b in self._labels)]
        )
        if len(ends_m) and np.isnan(hand.elevations(ends_m)).any():
            layers.append("ROW_LABEL")
        told = f"{hand.statement}; heights of the ground: {hand.heights_said}"
        if layers:
            told += (
                f"; {n_of_kind.sum()} of {len(hand.points)} points have no known height: they stand at 0, as do "
                f"lines without, on layers whose names end in {NO_HEIGHT}"
            )
        return told, tuple(layers)


def _single_places(hand: HandOffSet) -> list[np.ndarray]:
    """Where control points stand, in written coordinates; corners stand on lines that are drawn."""
    if "control" not in hand.points.counts:
        return []
    return [placed(hand, np.array([place[1:] for place in hand.points.control], dtype=float))]
