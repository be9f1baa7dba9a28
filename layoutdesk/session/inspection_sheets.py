"""Inspection sheets of a site, as their file is written from them."""

from __future__ import annotations

import datetime
from pathlib import Path

import numpy as np

from ..core.layout.numbering import mark_code
from ..core.model.planting import CHECKS, Planting
from ..core.model.register import STATES
from ..core.planting.day_cautions import WORK_CAUTIONS
from ..core.planting.printed_table import printed_aql
from ..formats.field_form import FormLines
from ..formats.inspection_pdf import InspectionSet, InspectionSheet, VineLine, write_inspection_pdf
from .day_cards import paper_of
from .day_words import NO_LOT, band_text, vines_text
from .field_forms import form_lines, inspection_form, vines_to_inspect, walked_at
from .inspection_lines import accept_words, chance_text
from .planted import PlantingAnswer, planting_of
from .record_words import day_words
from .sheet import Paper
from .stakeout import SLOPE_CAUTION
from .tally import grouped
from .wording import listed

NOTHING = {
    "sample": "There are no vines to inspect yet: lay a block out, and say which lot stands where.",
    "again": "No vine waits to be put right or to be inspected again.",
}
_FILL = (
    "Fill every box: a tick where it is right, a cross where it is not; leave it empty only where nobody looked. "
    "R: a cross was put right at once. Rows are walked up and down by turns."
)
_ROWS_NAMED = 8


def inspection_set(
    answer: PlantingAnswer,
    unit: str = "m",
    day: datetime.date | None = None,
    which: str = "sample",
) -> InspectionSet:
    """What inspection.pdf is written from; it says so where there is nothing to look at.

    Parameters
    ----------
    answer : PlantingAnswer
    unit : str
        Of lengths for people.
    day : datetime.date, optional
        Printed on the sheets; the project's own where it is left out.
    which : str
        Of `field_forms.WHICH`.
    """
    from ..formats.project_file import plan_mark

    project = answer.project
    day = day or project.day
    mark = f"Plan {plan_mark(project)}" + (f", {day.isoformat()}" if day else "")
    vines = vines_to_inspect(answer, which)
    sheets = _sheets(answer, which, vines)
    return InspectionSet(
        name=project.name,
        said_of=mark,
        day=day,
        lots=_lot_rows(answer) if which == "sample" else _lot_counts(answer, vines),
        how=_how(answer, which),
        checks=_checks(answer, unit),
        fill=_FILL,
        exceeded=_exceeded(answer),
        cautions=(*WORK_CAUTIONS[:2], SLOPE_CAUTION),
        sheets=sheets,
        missing="" if sheets else NOTHING[which],
    )


def write_inspection_sheets(
    path,
    answer: PlantingAnswer,
    unit: str = "m",
    day: datetime.date | None = None,
    which: str = "sample",
    paper: Paper | None = None,
    progress=None,
) -> int:
    """Write inspection.pdf; returns how many pages it has."""
    from .places import resource

    paper = paper or paper_of(unit)
    found = inspection_set(answer, unit, day, which)
    size_mm = (paper.width_mm, paper.height_mm)
    return write_inspection_pdf(Path(path), found, size_mm, resource("fonts"), progress)


def _sheets(answer: PlantingAnswer, which: str, vines: np.ndarray) -> tuple[InspectionSheet, ...]:
    if not len(vines):
        return ()
    several = 1
    if which == "sample":
        several = int(answer.sample.sheet.max(initial=0)) + 1
    made = []
    for k in range(several):
        lines = inspection_form(answer, which, sheet=k if which == "sample" else None)
        if not len(lines):
            continue
        chosen = answer.sample.vines[answer.sample.sheet == k] if which == "sample" else vines
        order = np.argsort(walked_at(answer.assigned.segment, answer.plans, chosen))
        known = _on_record(answer, chosen[order])
        made.append((lines, known))
    title = "Inspection sheet" if which == "sample" else "Sheet to put right and inspect again"
    return tuple(
        InspectionSheet(
            f"{title} {k} of {len(made)}" if len(made) > 1 else title,
            _summary(lines),
            tuple(_vine_lines(lines, known)),
        )
        for k, (lines, known) in enumerate(made, 1)
    )


def _codes(lines: FormLines) -> list[str]:
    number, letter = lines.number.tolist(), lines.letter.tolist()
    return [
        mark_code(lines.block[s], number[s], letter[s], "vine", i)
        for s, i in zip(lines.segment.tolist(), lines.index.tolist(), strict=True)
    ]


def _vine_lines(lines: FormLines, known: list[str]):
    lots = [*lines.lots, ""]
    for code, lot, told in zip(_codes(lines), lines.lot.tolist(), known, strict=True):
        row, vine = code.rsplit("-", 1)
        yield VineLine(row, vine, lots[lot] or NO_LOT, told)


def _summary(lines: FormLines) -> str:
    rows = list(dict.fromkeys(code.rsplit("-", 1)[0] for code in _codes(lines)))
    named = (
        listed(rows)
        if len(rows) <= _ROWS_NAMED
        else f"{grouped(len(rows))} rows from {rows[0]} to {rows[-1]}"
    )
    return f"{vines_text(len(lines))} to look at in {named}."


def _on_record(answer: PlantingAnswer, vines: np.ndarray) -> list[str]:
    """What the inspector is to know of each vine: that it is not planted yet, lost, faulty, or was looked at."""
    now = answer.standing
    if now is None:
        return [""] * len(vines)
    words = list(CHECKS.values())
    told = []
    for place in answer.matching.place[vines].tolist():
        if place < 0 or STATES[now.state[place]] == "not planted":
            told.append("not planted on record")
        elif STATES[now.state[place]] in ("missing", "dead"):
            told.append(f"{STATES[now.state[place]]} on record")
        elif now.faults[place]:
            wrong = [w for bit, w in enumerate(words) if now.faults[place] >> bit & 1]
            told.append(f"was not right: {', '.join(wrong)}")
        elif now.checked[place]:
            told.append(f"looked at, {day_words(int(now.changed[place]))}")
        else:
            told.append("")
    return told


def _lot_rows(answer: PlantingAnswer) -> tuple[tuple[str, ...], ...]:
    planting, sample = planting_of(answer.project), answer.sample
    if sample is None:
        return ()
    return tuple(
        (
            name or NO_LOT,
            _plant_of(planting, name),
            grouped(plan.lot_size),
            "all" if plan.is_all else grouped(plan.size),
            grouped(plan.accept),
            chance_text(plan.found_out_pct).removeprefix("a chance of "),
            "" if printed is None else f"{grouped(printed.size)}, up to {printed.accept}",
        )
        for name, plan, printed in zip(sample.lots, sample.plans, sample.printed, strict=True)
    )


def _plant_of(planting: Planting, name: str) -> str:
    lot = planting.lot(name) if name else None
    return str(lot.plant) if lot is not None else ""


def _lot_counts(answer: PlantingAnswer, vines: np.ndarray) -> tuple[tuple[str, ...], ...]:
    """Lots of the vines to look at again: how many there are, and nothing of a sample."""
    planting, lines = planting_of(answer.project), form_lines(answer, vines)
    lots = [*lines.lots, ""]
    counts: dict[str, int] = {}
    for k in lines.lot.tolist():
        counts[lots[k]] = counts.get(lots[k], 0) + 1
    return tuple(
        (name or NO_LOT, _plant_of(planting, name), "", grouped(n), "", "", "")
        for name, n in counts.items()
    )


def _how(answer: PlantingAnswer, which: str) -> tuple[str, ...]:
    inspecting = planting_of(answer.project).inspecting
    if which == "again":
        return (
            "These vines were not right when they were looked at. Look at all of it again, not at what was wrong "
            "alone.",
        )
    share = f"{inspecting.tolerated_pct:g}\u00a0%"
    aql = printed_aql(inspecting.tolerated_pct)
    table = (
        ()
        if aql is None
        else (
            f"The printed table is told for comparison: MIL-STD-105E (1989), general level II, normal inspection, AQL "
            f"{aql:g}\u00a0%. It is made to pass lots at its AQL nearly always, not to find out those with {share}.",
        )
    )
    return (
        f"Found out with: the chance that a lot with {share} faulty vines or more is not accepted. The share and the "
        f"{inspecting.confidence_pct:g}\u00a0% asked for are settings of this site.",
        f"Vines were drawn at random with seed {inspecting.seed} and are spread over the rows of each lot; the "
        "same lots and seed give the same vines. Take no neighbour instead: one that is missing or not planted "
        "is said so in the remark. The chances hold for vines taken as they are drawn.",
        *table,
    )


_HEADS = {
    "container_off": "container",
    "tag_off": "tag",
    "union_in_band": "graft union",
    "trunk_at_stake": "trunk",
    "firm": "firm",
    "roots_whole": "roots",
    "shelter_set": "shelter",
    "tube_in": "drip tube",
}


def _checks(answer: PlantingAnswer, unit: str) -> tuple[tuple[str, str], ...]:
    band = band_text(planting_of(answer.project).setting, unit)
    told = CHECKS | {"union_in_band": f"graft union {band} above the soil"}
    return tuple((_HEADS[item], words) for item, words in told.items())


def _exceeded(answer: PlantingAnswer) -> tuple[str, ...]:
    accept = planting_of(answer.project).inspecting.accept
    return (
        "One cross or more makes a vine faulty. Put it right at once or mark it; it is faulty in the count of its lot "
        "all the same, and is looked at again after it was put right.",
        f"Accepted in each lot's sample: {accept_words(accept)}. A lot with more is not accepted: stop planting of "
        "it, find the cause, go over every vine of the lot, put right what is wrong, then inspect again.",
        "A container or a tag found on one vine is likely on its neighbours: look at the whole row.",
    )
