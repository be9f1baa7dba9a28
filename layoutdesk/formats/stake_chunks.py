"""The marks of a stake-out set some at a time, and their codes, for every writer of points."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from ..core.layout.numbering import MARK_LETTER, segment_code
from ..core.model import InputProblem, RowPlan
from ..core.model.rowplan import Marks
from .digits import RECORDS
from .stakeset import StakeSet

Progress = Callable[[float], None]


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
    before = np.concatenate([[0], np.cumsum(count)])
    begin = 0
    while begin < len(count):
        end = int(np.searchsorted(before, before[begin] + RECORDS, side="right")) - 1
        end = max(end, begin + 1)
        marks = plan.part(begin, end).marks()[place]
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
