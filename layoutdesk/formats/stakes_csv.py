"""Stake-out points as a table: point, northing, easting, elevation, description."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator

import numpy as np

from ..core.layout.numbering import INDEX_DIGITS, MARK_LETTER, segment_code
from ..core.model import InputProblem, RowPlan
from ..core.model.rowplan import Marks
from .digits import RECORDS, Chosen, Decimal, Records, Whole
from .stakeset import StakeSet

HEADER = b"point,northing,easting,elevation,description\n"
DECIMALS = 4
"""Of coordinates in the survey unit."""

Progress = Callable[[float], None]


def write_stakes_csv(path, stakes: StakeSet, *, progress: Progress | None = None) -> int:
    """Number of points written, in the survey system and its unit.

    Per block: end posts, line posts, anchors, vines. The elevation stays empty: without terrain
    it is not known. Not atomic: the caller swaps the file in.

    Parameters
    ----------
    path : path
    stakes : StakeSet
    progress : function of the share done, optional
        May raise to cancel.

    Raises
    ------
    InputProblem
        Where a point has no place in the survey system.
    """
    total, point = n_marks(stakes), 0
    with open(path, "wb", buffering=0) as file:
        file.write(HEADER)
        for plan in stakes.plans:
            codes = Chosen(segment_codes(plan, clean(plan.block.name)))
            for kind, chunks in marks_by_kind(plan):
                records = Records(
                    [
                        *("point", b",", "northing", b",", "easting", b",,"),
                        *("code", mark_infix(kind), "index", b"\n"),
                    ],
                    {
                        "point": Whole(),
                        "northing": Decimal(DECIMALS),
                        "easting": Decimal(DECIMALS),
                        "code": codes,
                        "index": Whole(INDEX_DIGITS[kind]),
                    },
                )
                for first_segment, marks in chunks:
                    east_north = in_survey(stakes, marks.xy_m)
                    values = {
                        "point": np.arange(point + 1, point + len(marks) + 1),
                        "northing": east_north[:, 1],
                        "easting": east_north[:, 0],
                        "code": first_segment + marks.segment,
                        "index": marks.index,
                    }
                    for piece in records.encoded(values):
                        file.write(piece)
                    point += len(marks)
                    if progress:
                        progress(point / total)
    return point


def in_survey(stakes: StakeSet, xy_m: np.ndarray) -> np.ndarray:
    """(n, 2) of easting, northing in the survey unit; InputProblem where there is no such place."""
    east_north = stakes.to_survey(xy_m)
    if not np.isfinite(east_north).all():
        raise InputProblem(
            f"The site lies outside the survey system {stakes.survey.name}: choose another one."
        )
    return east_north


def n_marks(stakes: StakeSet) -> int:
    """Posts, anchors and vines of all blocks."""
    return sum(len(marks) for plan in stakes.plans for marks in plan.marks())


def marks_by_kind(plan: RowPlan) -> Iterator[tuple[str, Iterator[tuple[int, Marks]]]]:
    """Kinds of marks that there are in a block, each with its marks some at a time.

    Yields
    ------
    (kind, chunks)
        `chunks` gives the number of the first segment, and the marks of it and the next ones,
        whose `segment` counts from that first one. Coordinates are made for one chunk at a time
        and about RECORDS of them, more only where a single segment has more.
    """
    for place, marks in enumerate(plan.marks()):
        if len(marks):
            yield marks.kind, _chunks(plan, place, marks.count)


def _chunks(plan: RowPlan, place: int, count: np.ndarray) -> Iterator[tuple[int, Marks]]:
    fields = [f.name for f in dataclasses.fields(plan.segments)]
    before = np.concatenate([[0], np.cumsum(count)])
    begin = 0
    while begin < len(count):
        end = int(np.searchsorted(before, before[begin] + RECORDS, side="right")) - 1
        end = max(end, begin + 1)
        part = {name: getattr(plan.segments, name)[begin:end] for name in fields}
        piece = dataclasses.replace(plan, segments=dataclasses.replace(plan.segments, **part))
        marks = piece.marks()[place]
        if len(marks):
            yield begin, marks
        begin = end


def segment_codes(plan: RowPlan, name: str) -> list[bytes]:
    """Code of every segment, such as B1-R012A, in UTF-8.

    `name` is the block's, as the file writes it; what is no character becomes a question mark.
    """
    s = plan.segments
    pairs = zip(s.number.tolist(), s.letter.tolist(), strict=True)
    known = name.encode("utf-8", "replace").decode()
    return [segment_code(known, number, letter).encode() for number, letter in pairs]


def mark_infix(kind: str) -> bytes:
    """What stands between a segment's code and the index of a mark, such as -V."""
    return f"-{MARK_LETTER[kind]}".encode()


def clean(text: str) -> str:
    """A text in one line: control characters become spaces."""
    return "".join(c if c >= " " and c != "\x7f" else " " for c in text)
