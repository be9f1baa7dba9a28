"""What of a drip system its user should look at, as findings."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from ..model import Finding, RowPlan
from ..model.findings import in_wording
from .design import WaterDesign
from .drips import emitter_of, friction_of
from .finding_words import MOST_OF_A_KIND, code_of, counted, xy_of
from .longest import longest_lateral
from .pipe_faults import flushing_faults, source_faults, speed_faults, surge_faults

DEFERENCE = (
    "Pressure, backflow prevention and anything that is mixed into the water are for a licensed "
    "irrigation designer to approve; local codes come first."
)


def found_faults(
    design: WaterDesign,
    plans: Sequence[RowPlan],
    eu_pct: Mapping[int, float],
    target_pct: tuple[float, float],
    with_longest: bool = True,
) -> tuple[Finding, ...]:
    """All findings, most pressing first.

    Parameters
    ----------
    plans : sequence of RowPlan
        As the design was made from.
    eu_pct : mapping of block's index to emission uniformity
        [%]
    target_pct : (float, float)
        What is usual for design on this ground.
    with_longest : bool
        Whether the longest permissible lateral is looked for where drip lines vary too much.
    """
    if not len(design.vine_flow_l_h):
        return (
            Finding(
                "nothing-to-water",
                "There are no vines, so there is nothing to water: lay rows first.",
            ),
        )
    return (
        *source_faults(design),
        *_of_unsolved(design),
        *_of_dry_vines(design, plans),
        *_of_range(design),
        *_of_evenness(design, eu_pct, target_pct),
        *(_of_long_laterals(design) if with_longest else ()),
        *speed_faults(design),
        *surge_faults(design),
        *flushing_faults(design),
        *_of_assumptions(design),
        Finding("water-approval", DEFERENCE),
    )


def _of_unsolved(design: WaterDesign) -> Iterator[Finding]:
    wrong = np.flatnonzero(~design.flow.converged)
    if len(wrong):
        yield Finding(
            "water-unsolved",
            f"{counted(len(wrong), 'drip line')} could not be solved, {code_of(design, wrong[0])} first; "
            "figures there mean nothing. Look at tube, pressure and heights.",
            where=code_of(design, wrong[0]),
            place=xy_of(design.lines.inlet_xy_m[wrong[0]]),
        )


def _of_dry_vines(design: WaterDesign, plans: Sequence[RowPlan]) -> Iterator[Finding]:
    lines, names = design.lines, design.blocks
    block = lines.block[lines.vine_lateral]
    dry = design.vine_flow_l_h <= 0
    before = 0
    for b, plan in enumerate(plans):
        mine = np.flatnonzero(dry & (block == b))
        if len(mine):
            first = int(mine[0])
            yield Finding(
                "vines-dry",
                f"{names[b]}: {counted(len(mine), 'vine')} get{'s' if len(mine) == 1 else ''} no water, "
                f"first in {code_of(design, lines.vine_lateral[first])}: the pressure does not reach that "
                "high or that far.",
                where=code_of(design, lines.vine_lateral[first]),
                place=xy_of(plan.vines.xy_m[first - before]),
            )
        before += plan.n_vines


def _of_range(design: WaterDesign) -> Iterator[Finding]:
    lines, flow = design.lines, design.flow
    rows = lines.laterals
    block = lines.block[rows.lateral]
    for b, name in enumerate(design.blocks):
        emitter = emitter_of(design.water.drip_of(name))
        mine = (block == b) & (rows.emitters > 0)
        if not mine.any():
            continue
        said = in_wording(name)
        # A millimetre of head is rounding.
        low = mine & (flow.head_m < emitter.least_head_m - 1e-3)
        if low.any():
            worst = int(np.flatnonzero(low)[flow.head_m[low].argmin()])
            yield Finding(
                "emitters-below-range",
                wording=f"{said}: {_share(low, mine)} of the places with emitters have less than the {{}} of "
                f"head that emitters ask for, the least {{}}, in {in_wording(code_of(design, rows.lateral[worst]))}.",
                lengths_m=(emitter.least_head_m, max(float(flow.head_m[worst]), 0.0)),
                where=code_of(design, rows.lateral[worst]),
                place=xy_of(lines.inlet_xy_m[rows.lateral[worst]]),
            )
        high = mine & (flow.head_m > emitter.greatest_head_m + 1e-3)
        if high.any():
            worst = int(np.flatnonzero(high)[flow.head_m[high].argmax()])
            yield Finding(
                "emitters-above-range",
                wording=f"{said}: {_share(high, mine)} of the places with emitters have more than the {{}} of "
                f"head that emitters bear, the most {{}}, in {in_wording(code_of(design, rows.lateral[worst]))}: "
                "parts may come loose.",
                lengths_m=(emitter.greatest_head_m, float(flow.head_m[worst])),
                where=code_of(design, rows.lateral[worst]),
                place=xy_of(lines.inlet_xy_m[rows.lateral[worst]]),
            )


def _of_evenness(design: WaterDesign, eu_pct, target_pct) -> Iterator[Finding]:
    uneven = [
        s
        for s in design.sets
        if s.variation_pct > design.water.drip_of(design.blocks[s.block]).variation_pct + 0.05
    ]
    for each in uneven[:MOST_OF_A_KIND]:
        permitted = design.water.drip_of(design.blocks[each.block]).variation_pct
        yield Finding(
            "set-uneven",
            f"In set {each.number} emitters differ by {each.variation_pct:.0f} %; {permitted:g} % are "
            "permitted.",
            where=f"set {each.number}",
            place=each.valve_xy_m,
        )
    if len(uneven) > MOST_OF_A_KIND:
        yield Finding(
            "set-uneven",
            f"{counted(len(uneven) - MOST_OF_A_KIND, 'more set')} differ by more than is permitted.",
        )
    for b, value in eu_pct.items():
        if value < target_pct[0] - 0.05:
            yield Finding(
                "uniformity-low",
                f"{design.blocks[b]}: emission uniformity is {value:.0f} %; {target_pct[0]:g} to "
                f"{target_pct[1]:g} % are usual for design on such ground (ASABE EP405.1, from memory).",
                where=design.blocks[b],
            )


def _of_long_laterals(design: WaterDesign) -> Iterator[Finding]:
    """Only where drip lines vary by themselves: the longest permissible one takes some solving."""
    lines, flow = design.lines, design.flow
    greatest = flow.greatest_l_h
    with np.errstate(invalid="ignore"):
        spread = 100 * (1 - flow.least_l_h / np.where(greatest > 0, greatest, np.nan))
    for b, name in enumerate(design.blocks):
        drip = design.water.drip_of(name)
        mine = np.flatnonzero((lines.block == b) & (spread > drip.variation_pct + 0.05))
        if not len(mine):
            continue
        worst = int(mine[spread[mine].argmax()])
        asked = _longest_like(design, worst)
        if asked is None:
            continue
        n, longest, grade = asked
        long = mine[lines.length_m[mine] > longest + 1e-6]
        if not len(long):
            continue
        code = in_wording(code_of(design, worst))
        ground = (
            "level ground"
            if abs(grade) < 0.05
            else f"ground that {'rises' if grade > 0 else 'falls'} {abs(grade):.1f} % along the row's numbers"
        )
        most = "no vine at all" if not n else "rows of {}"
        lengths = (float(lines.length_m[worst]),) + ((longest,) if n else ())
        yield Finding(
            "lateral-too-long",
            wording=f"{in_wording(name)}: {counted(len(long), 'drip line')} "
            f"{'is' if len(long) == 1 else 'are'} longer than the tube can feed within "
            f"{drip.variation_pct:g} %. {code} is {{}} long; on {ground}, fed as it is, the tube carries "
            f"{most}.",
            lengths_m=lengths,
            where=code_of(design, worst),
            place=xy_of(lines.inlet_xy_m[worst]),
        )


def _longest_like(design: WaterDesign, lateral: int) -> tuple[int, float, float] | None:
    """Outlets and length of the longest permissible lateral like one, and the grade of its ground.

    Of even spacing and grade, which the one may not have.
    """
    lines, rows = design.lines, design.lines.laterals
    drip = design.water.drip_of(design.blocks[int(lines.block[lateral])])
    mine = slice(int(rows.offset[lateral]), int(rows.offset[lateral + 1]))
    place, height = rows.outlet_m[mine], rows.outlet_height_m[mine]
    if len(place) < 2:
        return None
    inlet = float(rows.inlet_m[lateral])
    spacing = float(np.median(np.diff(place)))
    if spacing <= 0:
        return None
    grade = 100 * float(np.polyfit(place, height, 1)[0])
    fed = "start" if inlet <= place[0] else "far" if inlet >= place[-1] else "middle"
    nearest = float(np.abs(place - inlet).min())
    found = longest_lateral(
        emitter_of(drip),
        float(rows.diameter_m[lateral]),
        spacing,
        float(design.flow.inlet_head_m[lateral]),
        friction=friction_of(drip),
        variation_pct=drip.variation_pct,
        grade_pct=grade,
        first_m=max(nearest, 1e-3) if fed != "middle" else spacing / 2,
        fed=fed,
        emitters=float(np.median(rows.emitters[mine])),
        barb_loss=drip.barb_loss,
        most=len(place),
    )
    return found.n_outlets, found.length_m, grade


def _of_assumptions(design: WaterDesign) -> Iterator[Finding]:
    water = design.water
    if water.source.is_assumed:
        yield Finding(
            "source-assumed",
            "Nobody said what the water source gives: its flow and head are assumed. Measure both, or ask "
            "who tested the pump or the well, before anything is ordered.",
            place=xy_of(design.source_xy_m),
        )
    if not design.lines.heights_known:
        yield Finding(
            "water-heights-unknown",
            "Heights of the ground are not known along all drip lines; where they are not, the ground is taken "
            "to be level or like its neighbours. A slope changes who gets how much.",
        )
    of_law = [n for n in design.blocks if water.drip_of(n).law == "hazen-williams"]
    if of_law:
        yield Finding(
            "hazen-williams-used",
            f"Friction in {', '.join(of_law)} is by Hazen and Williams, which says about a sixth too little in "
            "usual drip tube. Darcy and Weisbach hold there.",
            where=", ".join(of_law),
        )


def _share(some: np.ndarray, of: np.ndarray) -> str:
    share = 100 * some.sum() / of.sum()
    return f"{share:.0f} %" if share >= 1 else "under 1 %"
