"""What is to be said of a drip system: classes, worst stretches, sentences; findings are `faults`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..model import Finding, RowPlan
from .design import WaterDesign
from .faults import DEFERENCE, found_faults
from .finding_words import counted
from .remedies import remedies
from .stretches import Stretch, Stretches, found_stretches, told_stretch
from .uniformity import distribution_uniformity_pct, emission_uniformity_pct

__all__ = [
    "DEFERENCE",
    "DU_CLASSES",
    "EU_CLASSES",
    "Class",
    "Judgement",
    "Stretch",
    "class_of",
    "eu_target_pct",
    "judged",
    "water_findings",
]

STEEP_PCT = 2.0
"""Ground that is steeper counts as steep: ASABE EP405.1 (from memory). [%]"""
_OVER_M = 10.0
_STRETCHES_AT_MOST = 8
_SENTENCES_AT_MOST = 3
_ROWS_TRIED = 3
"""Rows of a stretch, the worst ones, that advice is tried on."""


@dataclass(frozen=True)
class Class:
    """A class of uniformity by a standard: its name, the least value that is in it, and the source."""

    name: str
    least_pct: float
    source: str


_MERRIAM_KELLER = "Merriam and Keller, Farm irrigation system evaluation, 1978, for emission uniformity (from memory)"
_EP458 = (
    "ASAE EP458, Field evaluation of microirrigation systems, low-quarter uniformity (from memory)"
)

EU_CLASSES: tuple[Class, ...] = (
    Class("excellent", 90.0, _MERRIAM_KELLER),
    Class("good", 80.0, _MERRIAM_KELLER),
    Class("fair", 70.0, _MERRIAM_KELLER),
    Class("poor", 0.0, _MERRIAM_KELLER),
)
"""Classes of emission uniformity. They are for measured flows; ASABE EP405.1, which is for design, names
no classes but gives ranges to aim at: see `eu_target_pct`."""

DU_CLASSES: tuple[Class, ...] = (
    Class("excellent", 94.0, _EP458),
    Class("good", 81.0, _EP458),
    Class("fair", 68.0, _EP458),
    Class("poor", 56.0, _EP458),
    Class("unacceptable", 0.0, _EP458),
)
"""Classes of low-quarter distribution uniformity. The standard prints ranges with gaps between them (94 to
100, 81 to 87, 68 to 75, 56 to 62, below 50); a value in a gap is put in the class below it."""


@dataclass(frozen=True, eq=False)
class Judgement:
    """Judged set by set and as a whole.

    Attributes
    ----------
    sentences : tuple of str
        Plain language, the most pressing first.
    eu_pct, du_pct : float
        Over all vines of the site; EU is that of its least even block, as blocks may have different
        emitters. NaN where there is nothing to water. [%]
    eu_class, du_class : str
        Names of EU_CLASSES and DU_CLASSES; empty where there is nothing to water.
    eu_target_pct : (float, float)
        What is usual for design on ground like this.
    worst : tuple of Stretch
        The heaviest of every group of rows, heaviest first.
    """

    sentences: tuple[str, ...]
    eu_pct: float
    du_pct: float
    eu_class: str
    du_class: str
    eu_target_pct: tuple[float, float]
    worst: tuple[Stretch, ...]


def class_of(value_pct: float, classes: Sequence[Class]) -> str:
    """Name of the class a value is in.

    >>> class_of(90.0, EU_CLASSES), class_of(90.0, DU_CLASSES), class_of(55.0, DU_CLASSES)
    ('excellent', 'good', 'unacceptable')
    """
    if not np.isfinite(value_pct):
        return ""
    return next(c.name for c in classes if value_pct >= c.least_pct)


def eu_target_pct(is_steep: bool, emitters_apart_m: float = 1.5) -> tuple[float, float]:
    """Emission uniformity that is usual for design, perennial crops with point sources. [%]

    Less than 4 m apart: 85 to 90 on even ground, 80 to 90 on steep or broken ground; farther apart 90
    to 95, and 85 to 90. ASABE EP405.1, Design and installation of microirrigation systems (from memory).

    >>> eu_target_pct(False), eu_target_pct(True)
    ((85.0, 90.0), (80.0, 90.0))
    """
    if emitters_apart_m >= 4.0:
        return (85.0, 90.0) if is_steep else (90.0, 95.0)
    return (80.0, 90.0) if is_steep else (85.0, 90.0)


def judged(design: WaterDesign, plans: Sequence[RowPlan], *, with_advice: bool = True) -> Judgement:
    """Judge a design.

    Parameters
    ----------
    plans : sequence of RowPlan
        As the design was made from.
    with_advice : bool
        Whether ways to serve the worst stretches are tried, which solves their rows again, some
        milliseconds each; without, they are told only.
    """
    target = eu_target_pct(is_steep(design), _vines_apart_m(plans))
    if not len(design.vine_flow_l_h):
        nothing = ("There are no vines to water.",)
        return Judgement(nothing, np.nan, np.nan, "", "", target, ())
    eu = min(block_eu_pct(design, plans).values(), default=np.nan)
    share = design.vine_share
    known = share[np.isfinite(share)]
    du = distribution_uniformity_pct(known) if len(known) else 0.0
    found = found_stretches(design, plans)
    groups = _grouped(design, found)
    worst = [
        told_stretch(design, plans, found, g[_heaviest(found, g)])
        for g in groups[:_STRETCHES_AT_MOST]
    ]
    told = _without_echoes(found, groups)
    sentences = [
        *_of_source(design),
        *_of_dry_vines(design),
        *(_of_group(design, plans, found, g, with_advice) for g in told[:_SENTENCES_AT_MOST]),
    ]
    if len(told) > _SENTENCES_AT_MOST:
        rest = told[_SENTENCES_AT_MOST:]
        vines = sum(int((found.last[g] - found.first[g] + 1).sum()) for g in rest)
        sentences.append(
            f"In {counted(len(rest), 'more place')} {counted(vines, 'vine')} get less than 90 % or more "
            "than 110 % of the average."
        )
    sentences.append(_of_uniformity(eu, du, target, is_steep(design)))
    if not groups:
        sentences.append(_of_even_vines(share))
    return Judgement(
        tuple(sentences),
        eu,
        du,
        class_of(eu, EU_CLASSES),
        class_of(du, DU_CLASSES),
        target,
        tuple(worst),
    )


def water_findings(
    design: WaterDesign, plans: Sequence[RowPlan], *, with_longest: bool = True
) -> tuple[Finding, ...]:
    """Everything about a drip system that its user should look at, most pressing first.

    What follows from the run times (an assumed climate among it) is `run_times.run_time_findings`.
    `with_longest` asks how long drip lines may be where they vary too much: some milliseconds a block.
    """
    target = eu_target_pct(is_steep(design), _vines_apart_m(plans))
    eu = block_eu_pct(design, plans) if len(design.vine_flow_l_h) else {}
    return found_faults(design, plans, eu, target, with_longest)


def block_eu_pct(design: WaterDesign, plans: Sequence[RowPlan]) -> dict[int, float]:
    """Emission uniformity of every block that has emitters, by Keller and Karmeli. [%]

    e, the emitters that serve a vine, is the mean over its vines, also where emitters sit in the line.
    """
    lines = design.lines
    flow = design.flow.emitter_l_h
    block = lines.block[lines.laterals.lateral]
    of_vine = lines.block[lines.vine_lateral]
    out = {}
    for b, name in enumerate(design.blocks):
        mine = flow[(block == b) & np.isfinite(flow)]
        emitters = lines.vine_emitters[of_vine == b]
        if not len(mine) or not len(emitters) or not emitters.mean() > 0:
            continue
        cv = design.water.drip_of(name).cv
        out[b] = emission_uniformity_pct(mine, cv, float(emitters.mean()))
    return out


def is_steep(design: WaterDesign) -> bool:
    """Whether the ground is steep or broken: more than STEEP_PCT along rows or from row to row."""
    rows = design.lines.laterals
    if len(rows.outlet_m) > 1:
        # Over some ten metres: what a vine's step rises is mostly the noise of heights.
        usual = (
            float(np.median(np.diff(rows.outlet_m)[~rows.apart])) if (~rows.apart).any() else 0.0
        )
        some = slice(None, None, max(1, round(_OVER_M / usual)) if usual > 0 else 1)
        same = np.diff(rows.lateral[some]) == 0
        rise = np.abs(np.diff(rows.outlet_height_m[some]))[same].sum()
        run = np.diff(rows.outlet_m[some])[same].sum()
        if run > 0 and 100 * rise / run > STEEP_PCT:
            return True
    place, height = design.lines.inlet_xy_m, rows.inlet_height_m
    same = np.diff(design.lines.block) == 0
    apart = np.linalg.norm(np.diff(place, axis=0), axis=1)[same] if len(place) else np.zeros(0)
    rise = np.abs(np.diff(height))[same]
    return bool(apart.sum() > 0 and 100 * rise.sum() / apart.sum() > STEEP_PCT)


def _vines_apart_m(plans: Sequence[RowPlan]) -> float:
    return min((p.rules.vine_spacing_m for p in plans), default=1.5)


def _heaviest(found: Stretches, group: np.ndarray) -> int:
    return int(found.weight[group].argmax())


def _grouped(design: WaterDesign, found: Stretches) -> list[np.ndarray]:
    """Stretches of neighbouring rows that are alike, as one; the heaviest group first."""
    if not len(found):
        return []
    lines = design.lines
    lateral = found.lateral
    # Rows by rank, since numbers of row lines without a row are left out.
    pairs = np.column_stack([lines.block, lines.number])
    rank = np.unique(pairs, axis=0, return_inverse=True)[1].ravel()[lateral]
    inlet = lines.laterals.inlet_m[lateral]
    beyond = lines.vine_outlet_m[(found.first + found.last) // 2] >= inlet
    kind = 8 * lines.block[lateral] + 4 * (found.share < 1) + 2 * found.at_tail + beyond
    order = np.lexsort((rank, kind))
    parts = np.flatnonzero((np.diff(kind[order]) != 0) | (np.diff(rank[order]) > 1))
    groups = np.split(order, parts + 1)
    weight = [found.weight[g].sum() for g in groups]
    return [groups[i] for i in np.argsort(weight, kind="stable")[::-1]]


def _without_echoes(found: Stretches, groups: list[np.ndarray]) -> list[np.ndarray]:
    """Groups less those that get much because others in the same rows get little."""
    little = [found.lateral[g] for g in groups if found.share[g[0]] < 1]
    short = np.unique(np.concatenate([np.zeros(0, dtype=np.intp), *little]))
    return [
        g for g in groups if found.share[g[0]] < 1 or np.isin(found.lateral[g], short).mean() < 0.5
    ]


def _of_group(
    design: WaterDesign, plans, found: Stretches, group: np.ndarray, with_advice: bool
) -> str:
    """What a group of rows gets, and what would serve them."""
    vines = found.last[group] - found.first[group] + 1
    worst = told_stretch(design, plans, found, int(group[_heaviest(found, group)]))
    share = 100 * float((found.share[group] * vines).sum() / vines.sum())
    rows = np.unique(design.lines.number[found.lateral[group]])
    where = f"{worst.block}, " if len(design.blocks) > 1 else ""
    letter = worst.letter if _is_cut(design, worst) else ""
    if len(rows) == 1:
        said = _which_vines(worst.n_vines, worst.n_vines, worst)
        who = f"{where}row {rows[0]}{letter}'s {said}"
    else:
        said = _which_vines(int(vines.min()), int(vines.max()), worst)
        who = f"{where}rows {rows[0]} to {rows[-1]}: the {said}"
    sentence = f"{who} get {share:.0f} % of the average"
    sentence = sentence[0].upper() + sentence[1:]
    if not with_advice:
        return sentence + "."
    return sentence + _advice(design, found, group, len(rows) > 1)


def _is_cut(design: WaterDesign, stretch: Stretch) -> bool:
    lines = design.lines
    same = (lines.block == lines.block[stretch.lateral]) & (lines.number == stretch.row)
    return bool(
        same.sum() > 1 or lines.last_letter[stretch.lateral] > lines.letter[stretch.lateral]
    )


def _which_vines(least: int, most: int, like: Stretch) -> str:
    """Their number, and where in the row they stand."""
    many = str(most) if least == most else f"{least} to {most}"
    noun = "vine" if most == 1 else "vines"
    if like.at_start and like.at_far:
        return f"{many} {noun}"
    if like.at_far:
        return f"last {noun}" if most == 1 else f"last {many} {noun}"
    if like.at_start:
        return f"first {noun}" if most == 1 else f"first {many} {noun}"
    if least == most == like.n_vines and most > 1:
        return f"vines {like.from_vine} to {like.to_vine}"
    return (
        f"vine {like.from_vine}" if most == 1 else f"{many} vines from about vine {like.from_vine}"
    )


def _advice(design: WaterDesign, found: Stretches, group: np.ndarray, several: bool) -> str:
    lines = design.lines
    off = np.abs(found.share[group] - 1)
    longest = lines.length_m[found.lateral[group]]
    # What serves the worst and the longest serves those between.
    ranked = np.concatenate([[off.argmax(), longest.argmax()], np.argsort(-off, kind="stable")])
    hardest = group[list(dict.fromkeys(ranked.tolist()))[:_ROWS_TRIED]]
    begin, end = lines.vine_outlet_m[found.first[hardest]], lines.vine_outlet_m[found.last[hardest]]
    laterals = found.lateral[hardest]
    is_short = bool(found.share[hardest[0]] < 1)
    tried = remedies(design, laterals, begin, end, is_short, found.lateral[group])
    it = "them" if several else "it"
    if tried.good:
        return f"; {_any_of(tried.good).format(it=it)}."
    permitted = design.water.drip_of(design.blocks[int(lines.block[laterals[0]])]).variation_pct
    return (
        f"; {_any_of(tried.tried, 'and')} were tried, with sets and pipes as they are: none of these brings {it} within "
        f"{permitted:g} %."
    )


def _any_of(words: Sequence[str], last: str = "or") -> str:
    """Words as a list in a sentence.

    >>> _any_of(["a", "b", "c"]), _any_of(["a", "b"], "and")
    ('a, b or c', 'a and b')
    """
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} {last} {words[-1]}"


def _of_source(design: WaterDesign):
    short = [s.number for s in design.sets if not s.is_served]
    if short:
        yield (
            f"The source cannot serve {_sets_said(short)}: it has too little flow or pressure for "
            f"{'it' if len(short) == 1 else 'them'}."
        )


def _sets_said(numbers: Sequence[int]) -> str:
    if len(numbers) == 1:
        return f"set {numbers[0]}"
    if len(numbers) > 6:
        return f"{len(numbers)} sets"
    return f"sets {', '.join(map(str, numbers[:-1]))} and {numbers[-1]}"


def _of_dry_vines(design: WaterDesign):
    dry = int((design.vine_flow_l_h <= 0).sum())
    if dry:
        yield f"{counted(dry, 'vine')} get{'s' if dry == 1 else ''} no water at all."


def _of_uniformity(eu: float, du: float, target, steep: bool) -> str:
    ground = "steep or broken" if steep else "even"
    low, high = target
    usual = f"{low:g} to {high:g} % that is usual for design on {ground} ground"
    if not np.isfinite(eu):
        return "Emission uniformity cannot be told: no emitter gives water."
    if eu >= high:
        how = f"above the {usual}"
    elif eu >= low:
        how = f"within the {usual}"
    else:
        how = f"below the {usual}"
    return (
        f"Emission uniformity is {eu:.1f} %, {how}; the quarter of the vines that gets least has {du:.0f} % "
        "of the average."
    )


def _of_even_vines(share: np.ndarray) -> str:
    low, high = 100 * np.nanmin(share), 100 * np.nanmax(share)
    n = len(share)
    if n > 1 and high - low < 1:
        return f"All {n:,} vines get the same within 1 %, by pressure alone."
    return (
        f"{'The vine gets' if n == 1 else f'All {n:,} vines get'} between {low:.0f} and {high:.0f} % of the "
        "average, by pressure alone."
    )
