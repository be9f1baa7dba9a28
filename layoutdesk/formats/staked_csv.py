"""as-staked.csv: a line a measured point of the plan, with where it belongs, where it stands, and how far off."""

from __future__ import annotations

import csv

import numpy as np

from .csv_cells import csv_cell
from .stakedset import StakedSet

COLUMNS = (
    *("code", "kind", "planned_northing", "planned_easting", "measured_northing"),
    *("measured_easting", "unit", "along_m", "across_m", "height_m", "distance_m"),
    *("tolerance_m", "verdict", "measured_as", "line"),
)
DECIMALS = 4


def write_staked_csv(path, staked: StakedSet) -> int:
    """Number of lines; coordinates as handed off, in the named unit, what is off in metres.

    Measured points that are no point of the plan come last, without a code.
    """
    off, measured = staked.off, staked.measured
    n = len(staked.code)
    unit = staked.placing.unit
    labels = [csv_cell(measured.name[i] or measured.description[i]) for i in staked.pair.tolist()]
    columns = (
        [csv_cell(code) for code in staked.code],
        staked.kind,
        *(_fixed(v) for v in (staked.planned_en[:, 1], staked.planned_en[:, 0])),
        *(_fixed(v) for v in (staked.measured_en[:, 1], staked.measured_en[:, 0])),
        [unit] * n,
        *(_fixed(v) for v in (off.along_m, off.across_m, off.height_m, off.distance_m)),
        _fixed(staked.tolerance_m),
        staked.verdict,
        labels,
        measured.line[staked.pair].tolist(),
    )
    with open(path, "w", encoding="utf-8", errors="replace", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(COLUMNS)
        writer.writerows(zip(*columns, strict=True))
        en = measured.en_m[staked.strange] / staked.placing.unit_m
        names = [
            csv_cell(measured.name[i] or measured.description[i]) for i in staked.strange.tolist()
        ]
        for name, e, north, line in zip(
            names,
            _fixed(en[:, 0]),
            _fixed(en[:, 1]),
            measured.line[staked.strange].tolist(),
            strict=True,
        ):
            blank = ("",) * 5
            writer.writerow(
                ("", "", "", "", north, e, unit, *blank, "no point of the plan", name, line)
            )
    return n + len(staked.strange)


def _fixed(values: np.ndarray) -> list[str]:
    """Numbers with four decimals, empty for NaN, no minus before zero."""
    texts = np.char.mod(f"%.{DECIMALS}f", np.round(values, DECIMALS) + 0.0)
    texts[~np.isfinite(values)] = ""
    return texts.tolist()
