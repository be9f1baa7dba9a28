"""emitters.csv, laterals.csv and sets.csv: a drip system as tables for programs, in SI."""

from __future__ import annotations

import contextlib
import csv

import numpy as np

from ..core.layout.numbering import INDEX_DIGITS, segment_letter
from ..core.water.emitters import kpa_of_head
from .csv_cells import csv_cell
from .digits import Chosen, DecimalOrBlank, Records, Whole
from .stake_chunks import clean, mark_infix, segment_codes
from .waterset import WaterFiles

EMITTERS_HEADER = b"code,lateral,pressure_kpa,flow_l_h\n"
KPA_DECIMALS, FLOW_DECIMALS = 3, 4
LATERAL_COLUMNS = (
    *("lateral", "set", "block", "row", "from_segment", "to_segment", "vines", "outlets"),
    *("length_m", "inner_mm", "inlet_northing", "inlet_easting", "inlet_elevation_m"),
    *("inlet_kpa", "least_kpa", "greatest_kpa", "flow_l_h"),
    *("least_emitter_l_h", "mean_emitter_l_h", "greatest_emitter_l_h", "velocity_m_s"),
    *("variation_pct", "solved"),
)
SET_COLUMNS = (
    *("set", "block", "rows", "laterals", "vines", "flow_m3_h", "valve_kpa"),
    *("source_kpa", "available_kpa", "served", "eu_pct", "du_pct", "variation_pct"),
    *("least_emitter_l_h", "mean_emitter_l_h", "greatest_emitter_l_h"),
    *("submain_m", "main_m", "greatest_velocity_m_s", "flushing_m3_h", "surge_kpa"),
    *("wetting_h", "wetting_l_a_vine", "first_h", "first_l_a_vine", "fullest_week_h"),
    *("valve_northing", "valve_easting", "valve_elevation_m", "pipes"),
)


def write_emitters_csv(path, water: WaterFiles) -> int:
    """A line a vine: its code, its lateral, pressure and flow; returns how many there are.

    In the order of the stakes. Where a lateral could not be solved both figures are left empty.
    """
    design = water.design
    lines, begin = design.lines, 0
    laterals = Chosen([code.encode("utf-8", "replace") for code in water.lateral_codes])
    solved = design.flow.converged
    with open(path, "wb") as file:
        file.write(EMITTERS_HEADER)
        for plan in water.plans:
            vines, mine = plan.vines, slice(begin, begin + plan.n_vines)
            begin = mine.stop
            if not plan.n_vines:
                continue
            known = solved[lines.vine_lateral[mine]]
            records = Records(
                [
                    *("code", mark_infix("vine"), "index", b",", "lateral", b","),
                    *("pressure", b",", "flow", b"\n"),
                ],
                {
                    "code": Chosen(segment_codes(plan, clean(plan.block.name))),
                    "index": Whole(INDEX_DIGITS["vine"]),
                    "lateral": laterals,
                    "pressure": DecimalOrBlank(KPA_DECIMALS),
                    "flow": DecimalOrBlank(FLOW_DECIMALS),
                },
            )
            values = {
                "code": vines.segment,
                "index": vines.index,
                "lateral": lines.vine_lateral[mine],
                "pressure": np.where(known, kpa_of_head(design.vine_head_m[mine]), np.nan),
                "flow": np.where(known, design.vine_flow_l_h[mine], np.nan),
            }
            for piece in records.encoded(values):
                file.write(piece)
    return begin


def write_laterals_csv(path, water: WaterFiles) -> None:
    """A line a lateral, in the order of rows; inlets in the survey grid's own unit."""
    design = water.design
    lines, flow, rows = design.lines, design.flow, design.lines.laterals
    n = len(rows)
    east_north = water.to_survey(lines.inlet_xy_m) if n else np.empty((0, 2))
    emitters = rows.summed(rows.emitters)
    total, least, greatest = flow.total_l_h, flow.least_l_h, flow.greatest_l_h
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = total / emitters
        variation = 100 * (1 - least / greatest)
    velocity = flow.velocity_m_s
    low, high = kpa_of_head(flow.least_head_m), kpa_of_head(flow.greatest_head_m)
    inlet = kpa_of_head(flow.inlet_head_m)
    known = lines.heights_known
    with _table(path, LATERAL_COLUMNS) as write:
        for i in range(n):
            k = int(design.set_of_lateral[i])
            solved = bool(flow.converged[i])

            def found(values, decimals, i=i, solved=solved):
                return _plain(values[i], decimals) if solved else ""

            write(
                (
                    water.lateral_codes[i],
                    design.sets[k].number if k >= 0 else "",
                    design.blocks[lines.block[i]],
                    int(lines.number[i]),
                    segment_letter(int(lines.letter[i])),
                    segment_letter(int(lines.last_letter[i])),
                    int(water.vines_of_lateral[i]),
                    int(rows.count[i]),
                    _plain(lines.length_m[i], 3),
                    _plain(1000 * rows.diameter_m[i], 3),
                    _plain(east_north[i, 1], 4),
                    _plain(east_north[i, 0], 4),
                    _plain(rows.inlet_height_m[i], 3) if known else "",
                    found(inlet, 3),
                    found(low, 3),
                    found(high, 3),
                    found(total, 3),
                    found(least, 4),
                    found(mean, 4),
                    found(greatest, 4),
                    found(velocity, 4),
                    found(variation, 3),
                    "yes" if solved else "no",
                )
            )


def write_sets_csv(path, water: WaterFiles) -> None:
    """A line a set; valves in the survey grid's own unit."""
    design, times = water.design, water.run_times
    xy = np.array([s.valve_xy_m for s in design.sets], dtype=float).reshape(-1, 2)
    east_north = water.to_survey(xy) if len(xy) else xy
    fullest = np.max(np.nan_to_num(times.hours, nan=-1.0), axis=0, initial=-1.0)
    with _table(path, SET_COLUMNS) as write:
        for k, (one, told) in enumerate(zip(design.sets, water.set_rows, strict=True)):
            runs = (*one.branches, one.main)
            has = np.isfinite(one.available_head_m)
            write(
                (
                    one.number,
                    design.blocks[one.block],
                    _in_words(told.rows, design.blocks[one.block]),
                    len(one.laterals),
                    water.vines_of(one),
                    _plain(one.flow_m3_h, 4),
                    _plain(kpa_of_head(one.head_m), 3),
                    _plain(kpa_of_head(one.source_head_m), 3),
                    _plain(kpa_of_head(one.available_head_m), 3) if has else "",
                    "yes" if one.is_served else "no",
                    _plain(one.eu_pct, 2),
                    _plain(one.du_pct, 2),
                    _plain(one.variation_pct, 2),
                    _plain(one.least_l_h, 4),
                    _plain(one.mean_l_h, 4),
                    _plain(one.greatest_l_h, 4),
                    _plain(sum(float(b.length_m.sum()) for b in one.branches), 2),
                    _plain(float(one.main.length_m.sum()), 2),
                    _plain(max(float(r.velocity_m_s.max(initial=0.0)) for r in runs), 3),
                    _plain(one.flushing_m3_h, 3),
                    _plain(kpa_of_head(one.surge_m), 1),
                    _plain(times.wetting_h[k], 3),
                    _plain(times.wetting_l[k], 2),
                    _plain(times.first_h[k], 3),
                    _plain(times.first_l[k], 2),
                    _plain(fullest[k], 3) if fullest[k] >= 0 else "",
                    _plain(east_north[k, 1], 4),
                    _plain(east_north[k, 0], 4),
                    _plain(one.valve_height_m, 3) if design.lines.heights_known else "",
                    told.pipes,
                )
            )


@contextlib.contextmanager
def _table(path, columns):
    """A CSV file with a header; gives what writes a line of it."""
    with open(path, "w", newline="", encoding="utf-8", errors="replace") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(columns)
        yield lambda row: writer.writerow([csv_cell(v) for v in row])


def _plain(value, decimals: int) -> float | str:
    """A number to so many decimals; empty where it is not known."""
    value = float(value)
    return round(value, decimals) + 0.0 if np.isfinite(value) else ""


def _in_words(rows: str, block: str) -> str:
    """Spans of rows without their block, as no spreadsheet takes them for a date."""
    return rows.removeprefix(f"{block} ").replace("–", " to ").replace(",", ";")
