"""A take-off as its files are written from it: orders, changes and mechanics in people's units."""

from __future__ import annotations

import datetime
import math
from collections.abc import Sequence
from dataclasses import replace

from ..core.materials.cautions import DEFERENCE, post_spacing_m, wire_checks
from ..core.materials.mechanics import end_pull, end_shape
from ..core.materials.takeoff import COLUMN, TakeOff
from ..core.materials.units_of_sale import product_of, spare_amount
from ..core.model import Finding, Product, Project, RowPlan, SettledTakeOff
from ..core.model.materials import Materials
from ..core.model.trellis import ITEMS
from ..formats.compareset import shown_number
from ..formats.takeoffset import (
    Change,
    Count,
    OrderRow,
    PeopleUnits,
    TakeOffSet,
    TrellisCheck,
    cut_said,
    item_name,
    sized_item,
)
from .catalogue import size_words
from .quantities import KG_PER_LB, N_PER_LBF
from .specification import as_text, shown_length
from .stakeout import CAUTIONS as STAKE_CAUTIONS
from .units import area_unit, unit_label, unit_length_m

CAUTIONS = (
    "Wire under tension recoils when it breaks or slips: eye protection and gloves, nobody in line "
    "with it, and never more than its supplier allows.",
    "A roll of wire may weigh more than one person should lift, and unwinds when its ties are cut: use "
    "a spinner and a machine.",
    f"{DEFERENCE} Local codes and a licensed practitioner decide where they have a say.",
    *STAKE_CAUTIONS[:2],
)
"""Printed with every take-off."""
WATER_CAUTION = (
    "Pipes and fittings are of a first design: a licensed irrigation designer decides on pressure, "
    "backflow prevention, surge and whatever is fed into the water, under local codes."
)
"""Printed where pipes and fittings are ordered."""


def people_units(unit: str) -> PeopleUnits:
    """What goes with a unit of length: kilograms and hectares, or pounds and acres."""
    area_m2, area = area_unit(unit)
    label, length_m = unit_label(unit), unit_length_m(unit)
    if unit == "m":
        return PeopleUnits(unit, label, length_m, "kg", 1.0, area, area_m2)
    return PeopleUnits(unit, label, length_m, "lb", KG_PER_LB, area, area_m2, "lbf", N_PER_LBF)


def take_off_set(
    answer,
    unit: str = "m",
    day: datetime.date | None = None,
    *,
    terrain: str = "",
    revision: str = "",
    changed_from: str = "",
    notes: tuple[str, ...] = (),
) -> TakeOffSet:
    """What the files of a take-off are written from.

    Parameters
    ----------
    answer : TakeOffAnswer
    unit : str
        Of lengths for people; programs get SI.
    day : datetime.date, optional
        Printed on the files; the project's own where it is left out.
    terrain : str
        Where the heights come from, in words.
    revision : str
        The project's own where it is left out.
    changed_from : str
        What the settled take-off is called; its day where it is left out.
    notes : tuple of str
        What else is to be known, printed with the counting rule.
    """
    from ..formats.project_file import revision_of

    project, materials = answer.project, answer.project.materials or Materials()
    unit = "ft" if unit == "usft" else unit  # nothing is sold by the survey foot, 2 ppm longer
    units = people_units(unit)
    settled = materials.settled
    if settled is not None and not changed_from:
        on = f" on {settled.day.isoformat()}" if settled.day else ""
        changed_from = f"the take-off settled{on}"
    return TakeOffSet(
        project=project,
        take_off=answer.take_off,
        orders=_order_rows(answer, answer.parts, units, day or project.day),
        checks=_checks(answer.plans, answer.take_off, materials),
        changes=_changes(answer, settled),
        changed_from=changed_from if settled is not None else "",
        statement=_statement(answer.take_off, unit),
        density=density_sentences(answer.plans, answer.take_off, unit),
        paragraphs=_paragraphs(project, materials, answer.take_off, unit),
        findings=tuple(answer.findings),
        found=tuple(_found(f, unit) for f in answer.findings),
        cautions=(*CAUTIONS, WATER_CAUTION) if answer.parts else CAUTIONS,
        terrain=terrain,
        revision=revision or revision_of(project),
        day=day or project.day,
        currency=materials.currency,
        units=units,
        parts=tuple(answer.parts),
        notes=tuple(notes),
        plants=tuple((p.product, p.per_block) for p in answer.plants),
    )


def _order_rows(
    answer, parts, units: PeopleUnits, day: datetime.date | None
) -> tuple[OrderRow, ...]:
    counts = _counts(answer.take_off)
    of_parts: dict[Product, list] = {}
    for part in parts:
        of_parts.setdefault(part.product, []).append(part)
    rows = []
    for line in answer.lines:
        need = line.order.need
        mine = counts.get(need.product) or _counts_of_parts(need, of_parts.get(need.product, ()))
        row = OrderRow(
            line.order,
            line.supply.name or item_name(need.product.item),
            size_words(need.product, units.unit),
            line.supply.supplier,
            line.change,
            tuple(mine),
        )
        plant = line.plant
        if plant is None:
            rows.append(replace(row, note=cut_said(row, units)))
        else:
            rows.append(replace(row, note=plant.note(day), order_by=plant.order_by))
    return tuple(rows)


def _counts(take_off: TakeOff) -> dict[Product, list[Count]]:
    """What every product's need is made of, block by block, as `needs` counts it."""
    found: dict[Product, list[Count]] = {}
    for b, trellis in enumerate(take_off.trellises):
        for item, (label, unit) in ITEMS.items():
            amount = float(take_off.per_block[b, COLUMN[item]])
            if amount:
                pct = trellis.spare_pct(item)
                spares = spare_amount(amount, pct, unit)
                count = Count(take_off.blocks[b], item, label, amount, pct, spares)
                found.setdefault(product_of(item, trellis), []).append(count)
    return found


def _counts_of_parts(need, parts) -> list[Count]:
    """The same of a drip system's product: by block, or as one where spares are whole pieces of all."""
    item, label = need.product.item, item_name(need.product.item)
    share = need.spares / need.counted if need.counted else 0.0
    whole = math.isclose(sum(p.amount for p in parts), need.counted, abs_tol=1e-6)
    if not whole or (need.unit == "each" and share):
        return [Count("", item, label, need.counted, 100 * share, need.spares)]
    return [Count(p.block, item, label, p.amount, 100 * share, p.amount * share) for p in parts]


def _changes(answer, settled: SettledTakeOff | None) -> tuple[Change, ...]:
    """Every item of which there is more or less than in the settled take-off, or as much."""
    if settled is None:
        return ()
    take_off = answer.take_off
    now: dict[tuple[str, str], float] = {}
    for b, block in enumerate(take_off.blocks):
        for item, amount in zip(ITEMS, take_off.per_block[b].tolist(), strict=True):
            now[block, item] = amount
    for part in answer.parts:
        key = part.block, sized_item(part.product)
        now[key] = now.get(key, 0.0) + part.amount
    for plant in answer.plants:
        now |= {(block, sized_item(plant.product)): float(n) for block, n in plant.per_block}
    before = {
        (block, item): amount for block, amounts in settled.amounts for item, amount in amounts
    }
    keys = dict.fromkeys([*now, *before])
    return tuple(
        Change(block, item, now.get((block, item), 0.0), before.get((block, item), 0.0))
        for block, item in keys
        if now.get((block, item)) or before.get((block, item))
    )


def _checks(plans: Sequence[RowPlan], take_off: TakeOff, materials: Materials):
    """Mechanics of every trellis, once for all blocks that have it between the same posts."""
    blocks: dict[tuple, list[str]] = {}
    for plan, trellis in zip(plans, take_off.trellises, strict=True):
        key = trellis, round(post_spacing_m(plan), 3), plan.rules.anchor_m
        blocks.setdefault(key, []).append(plan.block.name)
    conditions = materials.conditions
    return tuple(
        TrellisCheck(
            tuple(names),
            span_m,
            anchor_m,
            wire_checks(trellis, span_m, conditions),
            end_shape(trellis, anchor_m),
            end_pull(trellis, anchor_m),
            end_pull(trellis, anchor_m, -conditions.colder_k),
        )
        for (trellis, span_m, anchor_m), names in blocks.items()
    )


def _statement(take_off: TakeOff, unit: str) -> str:
    """How lengths were taken, with metres of row in people's unit."""
    unknown_m = take_off.lengths.unknown_m
    told = f"{unknown_m:,.0f} m of row"
    return take_off.statement.replace(
        told, f"{unknown_m / unit_length_m(unit):,.0f} {unit_label(unit)} of row"
    )


def density_sentences(plans: Sequence[RowPlan], take_off: TakeOff, unit: str) -> tuple[str, ...]:
    """Vines counted beside what area over spacings would give: the whole site, then each block."""
    area_m2, area = area_unit(unit)
    counted = [p.n_vines for p in plans]
    theory, outline = take_off.theoretical_vines, take_off.outline_m2

    def said(name: str, vines: int, by_area: float, ground_m2: float, spacing: str = "") -> str:
        if not by_area or not ground_m2:
            return f"{name}: no area."
        a_piece = area_m2 / ground_m2
        return (
            f"{name}: {shown_number(vines, 0)} vines counted, {shown_number(vines * a_piece, 0)} per {area} of "
            f"outline; the theoretical density{spacing} is {shown_number(by_area * a_piece, 0)} per {area}, "
            f"{shown_number(by_area, 0)} vines, of which {100 * vines / by_area:.1f} % are planted."
        )

    blocks = [
        said(
            p.block.name,
            n,
            float(t),
            float(a),
            f" at {shown_length(p.rules.row_spacing_m, unit)} by "
            f"{shown_length(p.rules.vine_spacing_m, unit)}",
        )
        for p, n, t, a in zip(plans, counted, theory, outline, strict=True)
    ]
    if len(blocks) == 1:
        return tuple(blocks)
    return (
        said("Site", sum(counted), float(theory.sum()), float(outline.sum())),
        *blocks,
    )


def _paragraphs(project: Project, materials: Materials, take_off: TakeOff, unit: str):
    """Trellises in words, once for all blocks that share one."""
    from .trellis_words import trellis_paragraph

    names: dict = {}
    for block, trellis in zip(take_off.blocks, take_off.trellises, strict=True):
        names.setdefault(trellis, []).append(block)
    return tuple(
        (f"Trellis of {', '.join(some)}", as_text(trellis_paragraph(materials, tuple(some), unit)))
        for some in names.values()
    )


def _found(finding: Finding, unit: str) -> str:
    told = finding.told(lambda m: shown_length(m, unit))
    where = finding.where
    before = f"{where}: " if where and where not in told else ""
    return f"{finding.severity.capitalize()}. {before}{told}"
