"""What of pipes, valves and the source their user should look at, as findings."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ..model import Finding
from ..model.findings import in_wording
from .design import PipeRun, WaterDesign, WaterSet
from .finding_words import MOST_OF_A_KIND, code_of, counted, xy_of

PE100_STRESS_MPA = 8.0
"""Design stress of PE 100 at 20 °C, 10 MPa over 1.25: ISO 4427 (from memory). [MPa]"""
_M_PER_MPA = 101.972


def source_faults(design: WaterDesign) -> Iterator[Finding]:
    """Sets that the source cannot serve."""
    source = design.water.source
    for each in design.sets:
        if each.is_served:
            continue
        if np.isfinite(each.available_head_m):
            yield Finding(
                "source-short",
                wording=f"Set {each.number} asks the source for {{}} of head at its flow; the source has "
                "{} left then. Water fewer rows at a time, hold less pressure behind the valve, or lay "
                "wider pipes.",
                lengths_m=(each.source_head_m, each.available_head_m),
                place=each.valve_xy_m,
                where=f"set {each.number}",
            )
        else:
            most = source.curve[-1][0]
            share = 100 * each.source_flow_m3_h / most if most > 0 else np.inf
            yield Finding(
                "source-short",
                f"Set {each.number} takes {share:.0f} % of the most that the source gives. Water fewer "
                "rows at a time.",
                place=each.valve_xy_m,
                where=f"set {each.number}",
            )


def _runs(each: WaterSet) -> tuple[PipeRun, ...]:
    return (each.main, *each.branches)


def speed_faults(design: WaterDesign) -> Iterator[Finding]:
    """Water that runs faster than permitted."""
    limit = design.water.source.velocity_m_s
    fast = []
    for each in design.sets:
        worst, at = 0.0, each.valve_xy_m
        for run in _runs(each):
            if len(run.velocity_m_s) and run.velocity_m_s.max() > worst:
                i = int(run.velocity_m_s.argmax())
                worst, at = float(run.velocity_m_s[i]), xy_of((run.xy_m[i] + run.xy_m[i + 1]) / 2)
        if worst > limit * 1.001:
            fast.append((worst, at, each.number))
    for worst, at, number in sorted(fast, reverse=True)[:MOST_OF_A_KIND]:
        yield Finding(
            "pipe-fast",
            wording=f"Water of set {number} runs {{}} a second in a pipe; {{}} are permitted. Lay a wider "
            "pipe, or water fewer rows at a time.",
            lengths_m=(worst, limit),
            where=f"set {number}",
            place=at,
        )
    if len(fast) > MOST_OF_A_KIND:
        yield Finding(
            "pipe-fast",
            f"In {counted(len(fast) - MOST_OF_A_KIND, 'more set')} water runs faster than is permitted.",
        )
    speed = design.flow.velocity_m_s
    with np.errstate(invalid="ignore"):
        quick = np.flatnonzero(speed > limit * 1.001)
    if len(quick):
        worst = int(quick[speed[quick].argmax()])
        yield Finding(
            "pipe-fast",
            wording=f"In {counted(len(quick), 'drip line')} water runs faster than is permitted in pipes, up to "
            f"{{}} a second in {in_wording(code_of(design, worst))}. Use wider tube, or feed rows from the middle.",
            lengths_m=(float(speed[worst]),),
            where=code_of(design, worst),
            place=xy_of(design.lines.inlet_xy_m[worst]),
        )


def pipe_rating_m(outer_mm, inner_mm):
    """Head that a polyethylene pipe is rated for, taken as PE 100, at 20 °C. [m]

    2 σ / (SDR − 1), with the outer diameter over the wall's thickness as SDR: ISO 4427 (from memory).

    >>> round(float(pipe_rating_m(170.0, 150.0)))
    102
    """
    outer, inner = np.asarray(outer_mm, dtype=float), np.asarray(inner_mm, dtype=float)
    sdr = outer / ((outer - inner) / 2)
    return 2 * PE100_STRESS_MPA / (sdr - 1) * _M_PER_MPA


def surge_faults(design: WaterDesign) -> Iterator[Finding]:
    """The main that a valve shut at once would strain most, where it is rated for less."""
    still = design.water.source.curve[0][1]
    worst = None
    for each in design.sets:
        run = each.main
        if not len(run.length_m):
            continue
        drop = design.source_height_m - np.minimum(run.height_m[1:], run.height_m[:-1])
        over = still + drop + each.surge_m - pipe_rating_m(run.outer_mm, run.inner_mm)
        i = int(over.argmax())
        if over[i] > 0 and (worst is None or over[i] > worst[0]):
            worst = float(over[i]), each, i, float(still + drop[i] + each.surge_m)
    if worst is None:
        return
    _, each, i, head = worst
    rating = float(pipe_rating_m(each.main.outer_mm[i], each.main.inner_mm[i]))
    yield Finding(
        "surge-high",
        wording=f"If the valve of set {each.number} shut at once, the main would have {{}} of head, by what the "
        "source has at rest and the surge; a pipe of that wall in PE 100 is rated for {} (both are taken: ask "
        "its supplier). Choose a thicker pipe, or valves that close slowly.",
        lengths_m=(head, rating),
        where=f"set {each.number}",
        place=xy_of((each.main.xy_m[i] + each.main.xy_m[i + 1]) / 2),
    )


def flushing_faults(design: WaterDesign) -> Iterator[Finding]:
    """Sets whose drip lines cannot all be flushed at once."""
    most = design.water.source.curve[-1][0]
    short = [s for s in design.sets if s.flushing_m3_h > most * (1 + 1e-9)]
    if not short:
        return
    worst = max(short, key=lambda s: s.flushing_m3_h)
    parts = int(np.ceil(worst.flushing_m3_h / most)) if most > 0 else 0
    rows = f"in {parts} parts or more" if parts else "a few at a time"
    yield Finding(
        "flushing-short",
        f"The source cannot flush all drip lines of {counted(len(short), 'set')} at once "
        f"(set {worst.number} most): open their ends {rows}.",
        where=f"set {worst.number}",
        place=worst.valve_xy_m,
    )
