"""A drip system in figures and lines of text, in the units people read."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..core.layout.numbering import mark_code, segment_letter
from ..core.water.design import WaterDesign, WaterSet
from ..core.water.judgement import DU_CLASSES, EU_CLASSES
from .quantities import Quantity, shown
from .specification import shown_length
from .tally import grouped
from .watering import WaterAnswer
from .week_bars import hours_text

_HEAD = Quantity("pressure", "head")
_FLOW = Quantity("flow", "flow", decimals=1)
_DROP = Quantity("flow of a vine", "drop_flow", decimals=2)
_VOLUME = Quantity("water of a vine", "volume")
_NONE = "none"
_LATER = "…"


@dataclass(frozen=True)
class Figure:
    """One figure: its name, its value as read, and what it means."""

    name: str
    value: str
    meaning: str


@dataclass(frozen=True)
class SetLine:
    """A set as text, in the order of the design's sets.

    Attributes
    ----------
    number : int
    rows, vines, flow : str
        Rows "1–12", with the block where there are several; vines; flow of the set.
    head, available : str
        Pressure it asks of the source, and what the source still has at its flow.
    eu, du : str
    wetting, first, week : str
        Hours the day before planting, of the first watering, and of the fullest week.
    """

    number: int
    rows: str
    vines: str
    flow: str
    head: str
    available: str
    eu: str
    du: str
    wetting: str
    first: str
    week: str


def share_text(share_pct: float) -> str:
    """A share in whole per cent; "none" where there is none."""
    return f"{share_pct:.0f} %" if np.isfinite(share_pct) else _NONE


def head_text(head_m: float, unit: str = "m") -> str:
    """A pressure as read; "none" where the source has none left."""
    return shown(_HEAD, head_m, unit) if np.isfinite(head_m) else _NONE


def water_figures(answer: WaterAnswer, unit: str = "m") -> tuple[Figure, ...]:
    """What a drip system comes to: uniformity first, then flow, pressure, lengths and hours."""
    design, judgement = answer.design, answer.judgement
    if not design.sets:
        return ()
    low, high = judgement.eu_target_pct
    return (
        Figure(
            "Emission uniformity",
            _with_class(judgement.eu_pct, judgement.eu_class),
            "Least over mean flow of an emitter, less what manufacture takes (Keller and Karmeli, 1974); "
            f"{low:g} to {high:g} % is usual for design on such ground. The word is that of "
            f"{EU_CLASSES[0].source}.",
        ),
        Figure(
            "Distribution uniformity",
            _with_class(judgement.du_pct, judgement.du_class),
            "What the quarter of the vines that gets least has, of the mean of all, by pressure alone. "
            f"The word is that of {DU_CLASSES[0].source}.",
        ),
        Figure(
            "A vine gets",
            _vine_text(design, unit),
            "Flow of all emitters of a vine: the mean, and in brackets the least and the greatest",
        ),
        *_source_figures(design, unit),
        *_length_figures(answer, unit),
        *_hour_figures(answer, unit),
    )


def _with_class(value_pct: float, name: str) -> str:
    return f"{value_pct:.1f} %, {name}" if np.isfinite(value_pct) else _NONE


def _vine_text(design: WaterDesign, unit: str) -> str:
    flow = design.vine_flow_l_h
    least, most = shown(_DROP, float(flow.min()), unit), shown(_DROP, float(flow.max()), unit)
    return (
        f"{shown(_DROP, float(flow.mean()), unit)} ({least.split(' ')[0]} to {most.split(' ')[0]})"
    )


def _source_figures(design: WaterDesign, unit: str) -> tuple[Figure, ...]:
    sets = design.sets
    largest = max(sets, key=lambda s: s.source_flow_m3_h)
    hardest = max(sets, key=lambda s: s.source_head_m)
    tightest = min(sets, key=_spare_m)
    spare = _spare_m(tightest)
    kept = head_text(spare, unit) if spare >= 0 else f"{head_text(-spare, unit)} too little"
    return (
        Figure("Sets", grouped(len(sets)), "Rows that are watered together, one set after another"),
        Figure(
            "Asked of the source",
            f"{shown(_FLOW, largest.source_flow_m3_h, unit)}, {head_text(hardest.source_head_m, unit)}",
            f"The most flow, by set {largest.number}, and the most pressure, by set {hardest.number}: "
            "behind the valve, lost on the way, and up to the valve's height",
        ),
        Figure(
            "The source has to spare",
            kept if np.isfinite(spare) else "too little flow",
            f"Pressure left at the flow of set {tightest.number}, the set with least to spare",
        ),
    )


def _spare_m(one: WaterSet) -> float:
    return one.available_head_m - one.source_head_m


def _length_figures(answer: WaterAnswer, unit: str) -> tuple[Figure, ...]:
    design = answer.design
    piped = sum(p.amount for p in answer.parts if p.product.item == "pipe_m")
    is_counted = bool(answer.parts) or not answer.haste
    along = (
        "along the ground" if design.lines.heights_known else "in plan, as heights are not known"
    )
    return (
        Figure(
            "Drip line",
            _length(float(design.lines.length_m.sum()), unit),
            f"All of it, with bare tube over gaps, {along}; the longest is "
            f"{_length(float(design.lines.length_m.max(initial=0.0)), unit)}",
        ),
        Figure(
            "Submains and mains",
            _length(piped, unit) if is_counted else _LATER,
            "Pipe of all sizes, without trenches' depth",
        ),
    )


def _length(metres: float, unit: str) -> str:
    figure, _, label = shown_length(metres, unit, 0).partition(" ")
    return f"{grouped(float(figure))} {label}"


def _hour_figures(answer: WaterAnswer, unit: str) -> tuple[Figure, ...]:
    times = answer.run_times
    wetting = times.wetting_l[np.isfinite(times.wetting_l)]
    figures = []
    if len(wetting):
        figures.append(
            Figure(
                "Wetting run",
                f"{hours_text(float(np.nansum(times.wetting_h)))}, {_volumes(wetting, unit)} a vine",
                "Wets the soil before planting, all sets one after another",
            )
        )
    figures.append(
        Figure(
            "Busiest day",
            hours_text(times.most_hours_a_day),
            "All sets one after another, in the fullest week of the first years"
            + (", by an assumed climate" if times.is_assumed else ""),
        )
    )
    return tuple(figures)


def _volumes(litres: np.ndarray, unit: str) -> str:
    """Litres of vines, "up to" where blocks differ."""
    text = shown(_VOLUME, float(litres.max()), unit)
    return text if np.ptp(litres) < 0.05 else f"up to {text}"


def set_lines(answer: WaterAnswer, unit: str = "m") -> tuple[SetLine, ...]:
    """The sets as lines of a table."""
    design, times = answer.design, answer.run_times
    of_vine = design.set_of_lateral[design.lines.vine_lateral]
    vines = np.bincount(of_vine[of_vine >= 0], minlength=len(design.sets))
    fullest = np.max(np.nan_to_num(times.hours, nan=-1.0), axis=0, initial=-1.0)
    return tuple(
        SetLine(
            one.number,
            rows_text(answer, one),
            grouped(int(vines[i])),
            shown(_FLOW, one.flow_m3_h, unit),
            head_text(one.source_head_m, unit),
            head_text(one.available_head_m, unit),
            share_text(one.eu_pct),
            share_text(one.du_pct),
            hours_text(float(times.wetting_h[i])),
            hours_text(float(times.first_h[i])),
            hours_text(float(fullest[i])) if fullest[i] >= 0 else _NONE,
        )
        for i, one in enumerate(design.sets)
    )


def rows_text(answer: WaterAnswer, one: WaterSet) -> str:
    """Rows of a set: "1–12, 14"; with letters where it has other parts of its rows than the first.

    Neighbouring rows are one span, whatever numbers were left out between them.
    """
    lines = answer.design.lines
    mine = np.asarray(one.laterals, dtype=np.intp)
    if not len(mine):
        return _NONE
    all_numbers = np.unique(lines.number[lines.block == one.block])
    spans = []
    for letter in np.unique(lines.letter[mine]).tolist():
        numbers = np.unique(lines.number[mine[lines.letter[mine] == letter]])
        rank = np.searchsorted(all_numbers, numbers)
        word = segment_letter(letter) if _has_parts(lines, one.block) else ""
        for span in np.split(numbers, np.flatnonzero(np.diff(rank) > 1) + 1):
            first, last = int(span[0]), int(span[-1])
            spans.append(f"{first}{word}" if first == last else f"{first}–{last}{word}")
    text = ", ".join(spans)
    several = len(answer.design.blocks) > 1
    return f"{answer.design.blocks[one.block]} {text}" if several else text


def _has_parts(lines, block: int) -> bool:
    """Whether some row of a block is more than one lateral."""
    numbers = lines.number[lines.block == block]
    return len(np.unique(numbers)) < len(numbers)


def said_at(answer: WaterAnswer, block_index: int, vine_index: int, unit: str = "m") -> str:
    """What a vine gets, in words.

    Parameters
    ----------
    block_index, vine_index : int
        Which plan, and which vine in the order of its `vines`.
    """
    design, plan = answer.design, answer.plans[block_index]
    begin = sum(p.n_vines for p in answer.plans[:block_index])
    i = begin + vine_index
    segment = int(plan.vines.segment[vine_index])
    code = mark_code(
        plan.block.name,
        int(plan.segments.number[segment]),
        int(plan.segments.letter[segment]),
        "vine",
        int(plan.vines.index[vine_index]),
    )
    lateral = int(design.lines.vine_lateral[i])
    which = int(design.set_of_lateral[lateral]) if lateral >= 0 else -1
    behind = f"; set {design.sets[which].number}" if which >= 0 else "; in no set"
    head, flow = float(design.vine_head_m[i]), float(design.vine_flow_l_h[i])
    if not flow > 0:
        return f"{code}: no water reaches this vine{behind}"
    mean = float(design.vine_flow_l_h[begin : begin + plan.n_vines].mean())
    share = share_text(100 * flow / mean)
    gets = f"{shown(_DROP, flow, unit)} at {head_text(head, unit)}"
    return f"{code}: {gets}, {share} of the mean of its block{behind}"
