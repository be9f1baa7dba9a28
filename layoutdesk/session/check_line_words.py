"""Check lines in words: on the grid, on the ground, with their bearings."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ..core.staking.check_lines import CheckLine, bearing_of, check_lines
from ..formats.handoffset import HandOffSet
from .tally import grouped
from .units import unit_label, unit_length_m

KIND_WORDS: dict[str, str] = {
    "diagonal": "longer diagonal",
    "other diagonal": "other diagonal",
    "first row": "first long row, end to end",
    "last row": "last long row, end to end",
    "start ends": "first to last long row, start ends",
    "far ends": "first to last long row, far ends",
}
_PEOPLE_UNITS = {"US survey foot": "usft", "foot": "ft", "metre": "m"}


@dataclass(frozen=True)
class CheckRow:
    """One check line as it is read.

    Attributes
    ----------
    name : str
        The two end posts.
    grid, ground : str
        Lengths: by coordinates of the survey grid, and on the ground as a tape shows them.
    bearing : str
        On the grid and true.
    key : str
        The two codes with a space between them.
    what : str
        What the line is of its block.
    written : str
        Length by written coordinates, where they are not the grid's; else empty.
    """

    name: str
    grid: str
    ground: str
    bearing: str
    key: str
    what: str = ""
    written: str = ""


@dataclass(frozen=True)
class Checked:
    """A check line in figures, lengths in metres and bearings in degrees."""

    line: CheckLine
    ground_m: float
    grid_m: float
    written_m: float
    true_deg: float
    grid_deg: float
    written_deg: float


def checked_lines(hand: HandOffSet) -> tuple[Checked, ...]:
    """The check lines of a hand-off, in figures."""
    import numpy as np

    lines = check_lines(hand.lines)
    if not lines:
        return ()
    placing = hand.placing
    xy = np.array([line.ends_m for line in lines]).reshape(-1, 2)
    on_grid = (placing.to_grid(xy) * placing.grid.unit_m).reshape(-1, 2, 2).tolist()
    written = (placing.placed(xy) * placing.unit_m).reshape(-1, 2, 2).tolist()
    return tuple(
        Checked(
            line,
            line.ground_m,
            math.dist(*of_grid),
            math.dist(*as_written),
            line.bearing_deg,
            bearing_of(*of_grid),
            bearing_of(*as_written),
        )
        for line, of_grid, as_written in zip(lines, on_grid, written, strict=True)
    )


def check_rows(hand: HandOffSet, unit: str = "m") -> tuple[CheckRow, ...]:
    """The check lines of a hand-off as they are listed.

    Lengths are in the unit of written coordinates, on the ground in people's unit as well where that is
    another.

    Parameters
    ----------
    hand : HandOffSet
    unit : str
        Of lengths for people.
    """
    return tuple(_row(checked, hand, unit) for checked in checked_lines(hand))


def _row(c: Checked, hand: HandOffSet, unit: str) -> CheckRow:
    placing = hand.placing

    def shown(length_m: float) -> str:
        return written_length(length_m, placing.unit, placing.unit_m)

    ground = shown(c.ground_m)
    if abs(unit_length_m(unit) / placing.unit_m - 1) > 1e-9:
        ground += f" = {grouped(c.ground_m / unit_length_m(unit), 3)} {unit_label(unit)}"
    return CheckRow(
        " to ".join(c.line.codes),
        shown(c.grid_m),
        ground,
        f"{shown_degrees(c.grid_deg)} grid, {shown_degrees(c.true_deg)} true",
        " ".join(c.line.codes),
        KIND_WORDS[c.line.kind],
        "" if placing.coordinates == "grid" else shown(c.written_m),
    )


def written_length(length_m: float, unit: str, unit_m: float) -> str:
    """A length in the unit of written coordinates, to a thousandth of it.

    Examples
    --------
    >>> written_length(1200.0, "US survey foot", 1200 / 3937).replace("\\u202f", " ")
    '3 937.000 US ft'
    """
    return f"{grouped(length_m / unit_m, 3)} {unit_label(_PEOPLE_UNITS.get(unit, unit))}"


def shown_degrees(bearing_deg: float) -> str:
    """A bearing as surveyors write one, 0.0001° being 1.7 mm in 1 km.

    Examples
    --------
    >>> shown_degrees(18.60741), shown_degrees(359.99998)
    ('018.6074°', '000.0000°')
    """
    return f"{round(bearing_deg, 4) % 360:08.4f}°"
