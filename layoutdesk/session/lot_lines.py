"""Lots, needs, tags and assignments as lines of the window's lists."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .day_words import vines_text
from .part_words import parts_text
from .planted import PlantingAnswer
from .tally import grouped

_PARTS_SHOWN = 6
_WAYS = {"potted": "potted plants", "bare root": "dormant plants with bare roots"}


@dataclass(frozen=True)
class LotLine:
    """A lot as text; `left` is below 0 where it is assigned to more vines than it has plants."""

    key: str
    name: str
    plant: str
    usable: str
    vines: str
    left: str
    tags: str
    told: str
    flag: str


@dataclass(frozen=True)
class NeedLine:
    """A plant and what is needed of it, as text."""

    key: str
    plant: str
    wanted: str
    usable: str
    on_order: str
    short: str
    surplus: str
    order_by: str
    told: str
    flag: str


@dataclass(frozen=True)
class TagLine:
    """A tag of the ledger, as text; `index` is that of `Planting.tags`."""

    key: str
    index: int
    text: str
    plants: str
    recorded: str
    told: str
    flag: str


@dataclass(frozen=True)
class AssignmentLine:
    """An assignment as text; `index` is that of `Planting.assignments`."""

    key: str
    index: int
    parts: str
    what: str
    use: str
    vines: str
    told: str
    flag: str


def lot_lines(answer: PlantingAnswer) -> tuple[LotLine, ...]:
    """One line a lot."""
    return tuple(_lot_line(use) for use in answer.uses)


def _lot_line(use) -> LotLine:
    lot = use.lot
    came = lot.delivered > 0
    there = f"{grouped(lot.usable)} plants can be planted" if came else "nothing has come"
    rejected = f", {grouped(lot.rejected)} were rejected" if lot.rejected else ""
    tags = f"{grouped(use.tags)} {'tag is' if use.tags == 1 else 'tags are'} recorded"
    state = "these are said to be all" if lot.tags_recorded else "not said to be all"
    if came:
        state += (
            f"; about {grouped(use.usual_tags)} of {grouped(lot.delivered)} plants usually carry one "
            "(common practice)"
        )
    left = f"{grouped(use.left)} are left" if use.left >= 0 else f"{grouped(-use.left)} are missing"
    if not use.is_counted:
        left = "how many plants it has is not said"
    told = (
        f"Lot {lot.name}, {lot.plant}: {grouped(lot.ordered)} ordered, {there}{rejected}; "
        f"{vines_text(use.vines)} are to be of it, {left}. {tags}, {state}."
    )
    if use.contradictions:
        told += f" It may be mixed: {'; '.join(use.contradictions)}."
    waits = use.vines and came and (not lot.tags_recorded or use.has_few_tags)
    is_short = use.is_counted and use.left < 0
    flag = "wrong" if is_short or use.contradictions else "caution" if waits else ""
    return LotLine(
        lot.name,
        lot.name,
        str(lot.plant),
        grouped(lot.usable) if came else "–",
        grouped(use.vines),
        f"{'−' if use.left < 0 else ''}{grouped(abs(use.left))}" if use.is_counted else "–",
        "all" if lot.tags_recorded else grouped(use.tags),
        told,
        flag,
    )


def need_lines(answer: PlantingAnswer) -> tuple[NeedLine, ...]:
    """One line a plant that is assigned or of which there is a lot."""
    return tuple(_need_line(need) for need in answer.needs)


def _need_line(need) -> NeedLine:
    dates = ""
    if need.order_by:
        days = " or ".join(f"{_WAYS[way]} by {day.isoformat()}" for way, day in need.order_by)
        dates = (
            f" To be planted on time they are ordered as {days}, by usual times (common practice)."
        )
    uses = ", ".join(f"{grouped(n)} {use}" for use, n in need.vines_by_use if use != "crop")
    told = (
        f"{need.plant}: {vines_text(need.vines)}{f' ({uses})' if uses else ''} and {grouped(need.spares)} "
        f"spares; {grouped(need.usable)} are there, {grouped(need.on_order)} on order, "
        f"{grouped(need.short)} short, {grouped(need.surplus)} over.{dates}"
    )
    return NeedLine(
        str(need.plant),
        str(need.plant),
        grouped(need.wanted),
        grouped(need.usable),
        grouped(need.on_order),
        grouped(need.short),
        grouped(need.surplus),
        max(day for _, day in need.order_by).isoformat() if need.order_by and need.short else "",
        told,
        "caution" if need.short else "",
    )


def tag_lines(answer: PlantingAnswer, lot_name: str) -> tuple[TagLine, ...]:
    """Tags of one lot, those last recorded first; struck ones are told with their reason."""
    same, lines = lot_name.casefold(), []
    for i, tag in enumerate(answer.assigned.planting.tags):
        if tag.lot.casefold() != same:
            continue
        said = [
            tag.variety,
            tag.clone and f"clone {tag.clone}",
            tag.rootstock and f"on {tag.rootstock}",
        ]
        said += [
            f"{w} {d.isoformat()}"
            for w, d in (("grafted", tag.grafted), ("potted", tag.potted))
            if d
        ]
        words = ", ".join(w for w in said if w)
        text = tag.text or words
        when = tag.recorded.isoformat() if tag.recorded else ""
        by = f"{' ' * bool(when)}by {tag.by}" if tag.by else ""
        read = "; ".join(dict.fromkeys(t for t in (tag.text, words) if t))
        plants = f"{grouped(tag.plants)} plant{'s' * (tag.plants != 1)}"
        recorded = f", recorded {when}{by}" if when or by else ""
        told = f"Tag {i + 1}: {read}. On {plants}{recorded}."
        if tag.struck:
            text, told = f"struck: {text}", f"{told} It does not count: {tag.struck}."
        lines.append(
            TagLine(
                str(i),
                i,
                text,
                grouped(tag.plants),
                f"{when}{by}",
                told,
                "caution" if tag.struck else "",
            )
        )
    return tuple(reversed(lines))


def assignment_lines(answer: PlantingAnswer) -> tuple[AssignmentLine, ...]:
    """One line an assignment, in the order they were made."""
    found = answer.assigned
    counts = np.bincount(
        found.assignment[found.assignment >= 0], minlength=len(found.planting.assignments)
    )
    lines = []
    for i, said in enumerate(found.planting.assignments):
        n, where = int(counts[i]), parts_text(said.parts, _PARTS_SHOWN)
        what = f"lot {said.lot}" if said.lot else str(said.plant)
        plant = f" ({said.plant})" if said.lot else ""
        told = f"{i + 1}. {where}: {what}{plant}, {said.use}; it holds at {vines_text(n)}."
        if said.reason:
            day = f" on {said.day.isoformat()}" if said.day else ""
            what, told = f"swap: {what}", f"{told} Swapped{day}: {said.reason}."
        lines.append(
            AssignmentLine(
                str(i), i, where, what, said.use, grouped(n), told, "" if n else "caution"
            )
        )
    return tuple(lines)
