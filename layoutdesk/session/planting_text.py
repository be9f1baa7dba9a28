"""A site's planting as plain text, for a terminal: need, lots, assignments, days, inspection, record."""

from __future__ import annotations

import datetime

from ..core.model.findings import Finding
from ..core.model.register import STATES
from .day_lines import day_lines, days_sentences
from .inspection_lines import checked_lot_lines, inspection_sentences, rework_lines
from .lot_lines import assignment_lines, lot_lines, need_lines
from .planted import PlantingAnswer
from .planting_set import missing_of
from .specification import shown_length
from .tally import grouped
from .wording import listed

_PLAIN = str.maketrans({"\u202f": ",", "\u00a0": " ", "−": "-", "–": "-", "×": "x", "³": "3"})
"""Signs that not every terminal has."""
_DAYS_LISTED = 60
_ROWS_LISTED = 40
_ASSIGNMENTS_LISTED = 200


def plain(text: str) -> str:
    """A text without signs that not every terminal has."""
    return text.translate(_PLAIN)


def planting_text(answer: PlantingAnswer, unit: str = "m", notes: tuple[str, ...] = ()) -> str:
    """Sentences and tables; what there is much of is cut short, and that is said.

    Parameters
    ----------
    answer : PlantingAnswer
    unit : str
        Of lengths for people.
    notes : tuple of str
        What is to be told of files that were read.
    """
    parts = [
        [*_plants(answer)],
        [*_assignments(answer)],
        [*_days(answer, unit)],
        [*_inspection(answer, unit)],
        [*_record(answer)],
        [*_years(answer)],
        [*missing_of(answer), *notes],
    ]
    text = "\n\n".join("\n".join(lines) for lines in parts if lines)
    return plain(text)


def findings_text(answer: PlantingAnswer, unit: str = "m") -> tuple[str, ...]:
    """What is amiss, most pressing first."""
    return tuple(_told(f, unit).translate(_PLAIN) for f in answer.findings)


def _told(finding: Finding, unit: str) -> str:
    told = finding.told(lambda m: shown_length(m, unit))
    where = finding.where
    before = f"{where}: " if where and where not in told else ""
    return f"{finding.severity.capitalize()}. {before}{told}"


def _table(heads: str, lines: list[list[str]], most: int, what: str) -> list[str]:
    """Lines under heads, parted by bars; a head that begins with > has figures under it, to the right."""
    named = heads.split("|")
    rows = [[head.lstrip(">") for head in named], *lines[:most]]
    wide = [max(len(row[k]) for row in rows) for k in range(len(named))]
    told = [
        "  ".join(
            cell.rjust(w) if head.startswith(">") else cell.ljust(w)
            for cell, w, head in zip(row, wide, named, strict=True)
        ).rstrip()
        for row in rows
    ]
    more = len(lines) - most
    return [*told, f"and {grouped(more)} more {what}."] if more > 0 else told


def _plants(answer: PlantingAnswer):
    plant = answer.assigned.plant
    without = int((plant < 0).sum())
    count = f"{grouped(len(plant))} vines" if len(plant) != 1 else "1 vine"
    told = f"{count} on the plan; {grouped(len(plant) - without)} have a plant assigned"
    yield f"{told}, {grouped(without)} have none." if without else f"{told}."
    found = need_lines(answer)
    if found:
        heads = "Plant|>wanted|>there|>on order|>short|>over|order by"
        rows = [
            [n.plant, n.wanted, n.usable, n.on_order, n.short, n.surplus, n.order_by] for n in found
        ]
        yield ""
        yield from _table(heads, rows, _ROWS_LISTED, "plants")
    lots = lot_lines(answer)
    if lots:
        heads = "Lot|plant|>there|>vines|>left|>tags"
        rows = [[one.name, one.plant, one.usable, one.vines, one.left, one.tags] for one in lots]
        yield ""
        yield from _table(heads, rows, _ROWS_LISTED, "lots")


def _assignments(answer: PlantingAnswer):
    found = assignment_lines(answer)
    if not found:
        return
    heads = ">Number|what|for|>vines|where"
    rows = [[f"{one.index + 1}", one.what, one.use, one.vines, one.parts] for one in found]
    yield from _table(heads, rows, _ASSIGNMENTS_LISTED, "assignments")


def _days(answer: PlantingAnswer, unit: str):
    found = day_lines(answer, unit)
    if answer.days is None:
        return
    yield from days_sentences(answer)
    if not found:
        return
    heads = ">Day||rows|lots|>vines|>trays|>hours|wet before"
    rows = [
        [f"{d.number}", d.day, d.rows, d.lots, d.vines, d.trays, d.hours, d.sets] for d in found
    ]
    yield from _table(heads, rows, _DAYS_LISTED, "days")
    for line in found[:_DAYS_LISTED]:
        if line.waits:
            yield f"Day {line.number} waits: {line.waits}"


def _inspection(answer: PlantingAnswer, unit: str):
    yield from inspection_sentences(answer, unit)
    if answer.result is None or not any(t.size for t in answer.result.by_lot):
        return
    heads = "Lot|>looked at|>faulty|>share|>bounds (95 %)|"
    rows = [
        [one.name, one.size, one.faulty, one.share, one.bounds, one.verdict]
        for one in checked_lot_lines(answer, unit)
    ]
    yield from _table(heads, rows, _ROWS_LISTED, "lots")
    again = rework_lines(answer, unit)
    for line in again[:_ROWS_LISTED]:
        yield f"To go over again: {line.told}"
    if len(again) > _ROWS_LISTED:
        yield f"and {grouped(len(again) - _ROWS_LISTED)} more rows."


def _record(answer: PlantingAnswer):
    now, lost = answer.standing, answer.survival
    if now is None or lost is None:
        return
    counts = [(state, int((now.state == i).sum())) for i, state in enumerate(STATES)]
    said = listed(f"{grouped(n)} {state}" for state, n in counts if n)
    entries = len(now.register.batches)
    yield f"On record, in {grouped(entries)} {'entry' if entries == 1 else 'entries'}: {said}."
    tallies = [("site", lost.site), *((f"lot {t.name or 'not said'}", t) for t in lost.by_lot)]
    rows = [
        [
            *(name, grouped(t.size), grouped(t.faulty), f"{t.share_pct:.1f} %"),
            f"{t.low_pct:.1f}-{t.high_pct:.1f} %",
        ]
        for name, t in tallies
        if t.size
    ]
    if rows:
        yield from _table("Of|>planted|>lost|>share|>bounds (95 %)", rows, _ROWS_LISTED, "lots")
        yield (
            f"To replace: {lost.replacement_pct:.2f} %, as 100·A/(B·C) of A dead or missing, B vines a row, C "
            "rows counted."
        )
    for t in lost.causes:
        bounds = f"{t.share_pct:.1f} % of all plants, bounds {t.low_pct:.1f} to {t.high_pct:.1f} %"
        yield f"Lost, {t.name or 'no cause said'}: {grouped(t.faulty)}, {bounds}"
    for line in lost.replant:
        yield (
            f"To plant again: {grouped(len(line.places))} of {line.plant}, lot {line.lot or 'not said'}; order "
            f"{grouped(line.order)} with spares."
        )


def _years(answer: PlantingAnswer):
    years = answer.years
    if years is None:
        return
    yield f"First years, counted from {_day(years.planted)}: {len(years.duties)} duties."
    yield from years.counting_words
    yield from years.cautions
    for crop in years.crops:
        small = ", the first small crop" if crop.is_first_small else ""
        yield (
            f"Harvest {crop.number}, leaf {crop.leaf}, from {_day(crop.harvest)}: {crop.share_pct:g} % of a "
            f"mature crop{small}"
        )


def _day(day: datetime.date) -> str:
    return day.isoformat()
