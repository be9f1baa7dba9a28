"""Stake-out points as a table: point, northing, easting, elevation, description."""

from __future__ import annotations

import numpy as np

from ..core.layout.numbering import INDEX_DIGITS
from .digits import Chosen, Decimal, DecimalOrBlank, Records, Whole
from .stake_chunks import (
    Progress,
    clean,
    in_survey,
    mark_infix,
    marks_by_kind,
    n_marks,
    segment_codes,
)
from .stakeset import StakeSet

HEADER = b"point,northing,easting,elevation,description\n"
DECIMALS = 4
"""Of coordinates in the survey unit."""


def write_stakes_csv(path, stakes: StakeSet, *, progress: Progress | None = None) -> int:
    """Number of points written, in the survey system and its unit.

    Per block: end posts, line posts, anchors, vines. The elevation is in the same unit, and empty
    where the height of the ground is not known. Not atomic: the caller swaps the file in.

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
    elevation = [b","] if stakes.heights is None else [b",", "elevation"]
    with open(path, "wb") as file:
        file.write(HEADER)
        for plan in stakes.plans:
            codes = Chosen(segment_codes(plan, clean(plan.block.name)))
            for kind, chunks in marks_by_kind(plan):
                records = Records(
                    [
                        *("point", b",", "northing", b",", "easting", *elevation, b","),
                        *("code", mark_infix(kind), "index", b"\n"),
                    ],
                    {
                        "point": Whole(),
                        "northing": Decimal(DECIMALS),
                        "easting": Decimal(DECIMALS),
                        **({"elevation": DecimalOrBlank(DECIMALS)} if stakes.heights else {}),
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
                    if stakes.heights is not None:
                        values["elevation"] = stakes.heights(marks.xy_m) / stakes.survey.unit_m
                    for piece in records.encoded(values):
                        file.write(piece)
                    point += len(marks)
                    if progress:
                        progress(point / total)
    return point
