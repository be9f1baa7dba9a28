"""row-table.csv: a line a segment, for people who set out, count and carry plants."""

from __future__ import annotations

import csv
from dataclasses import dataclass

import numpy as np

from .csv_cells import csv_cell

_COORDINATE_DECIMALS, _LENGTH_DECIMALS = 3, 2


@dataclass(frozen=True, eq=False)
class RowTable:
    """Segments of all blocks, plan after plan; arrays are one entry a segment.

    Attributes
    ----------
    block, segment, code : tuple of str
        Name of the block, the segment's letter, its code.
    row : int array
    start, far : float array, shape (s, 2)
        Easting and northing of both end posts, in the survey unit.
    length_m : float array
        From end post to end post, on the ground. [m]
    unit, unit_m : str, float
        What people measure in, and its length. [m]
    survey_unit : str
        Of the coordinates, as a column's name takes it: "m", "ft" or "usft".
    vines : int array
    first_vine, last_vine : int array
        Indices; 0 where the segment has no vine.
    plants, lots : tuple of str
        What stands there by the register, else what is assigned.
    trays : int array
        Trays or bundles that hold the segment's plants, opened ones too; -1 where nobody said what one holds.
    planted, missing, dead : int array, or None
        By the register: standing, missing, dead; None where nothing is recorded.
    sets : int array, or None
        Of the set that waters it, 0 for none.
    """

    block: tuple[str, ...]
    row: np.ndarray
    segment: tuple[str, ...]
    code: tuple[str, ...]
    start: np.ndarray
    far: np.ndarray
    length_m: np.ndarray
    unit: str
    unit_m: float
    survey_unit: str
    vines: np.ndarray
    first_vine: np.ndarray
    last_vine: np.ndarray
    plants: tuple[str, ...]
    lots: tuple[str, ...]
    trays: np.ndarray
    planted: np.ndarray | None
    missing: np.ndarray | None
    dead: np.ndarray | None
    sets: np.ndarray | None

    def __len__(self) -> int:
        return len(self.row)

    @property
    def length(self) -> np.ndarray:
        """In what people measure in."""
        return self.length_m / self.unit_m

    @property
    def columns(self) -> tuple[str, ...]:
        """Names of the columns in the file."""
        unit = self.survey_unit
        own = () if self.unit == "m" else (f"length_{self.unit}",)
        return (
            *("block", "row", "segment", "code"),
            *(f"start_easting_{unit}", f"start_northing_{unit}"),
            *(f"far_easting_{unit}", f"far_northing_{unit}", "length_m", *own),
            *("vines", "first_vine", "last_vine", "plants", "lots", "trays_alone"),
            *("planted", "missing", "dead", "set"),
        )


def write_row_table_csv(path, table: RowTable) -> int:
    """Write the table; returns how many segments there are."""
    columns = [
        *(table.block, table.row.tolist(), table.segment, table.code),
        *(np.round(xy, _COORDINATE_DECIMALS).tolist() for xy in (*table.start.T, *table.far.T)),
        np.round(table.length_m, _LENGTH_DECIMALS).tolist(),
    ]
    if table.unit != "m":
        columns.append(np.round(table.length, _LENGTH_DECIMALS).tolist())
    columns += [
        *(table.vines.tolist(), _or_empty(table.first_vine, 1), _or_empty(table.last_vine, 1)),
        *(table.plants, table.lots, _or_empty(table.trays, 0)),
        *(_told(values, len(table)) for values in (table.planted, table.missing, table.dead)),
        [""] * len(table) if table.sets is None else _or_empty(table.sets, 1),
    ]
    with open(path, "w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(table.columns)
        writer.writerows([csv_cell(v) for v in line] for line in zip(*columns, strict=True))
    return len(table)


def _or_empty(values: np.ndarray, least: int) -> list:
    return [v if v >= least else "" for v in values.tolist()]


def _told(values: np.ndarray | None, n: int) -> list:
    return [""] * n if values is None else values.tolist()
