"""What the pages of the planting stage tell: lines of every list, sentences above them, words of a vine."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from ..core.model.register import STATES
from ..core.planting.assigned import vines_of_parts
from ..core.planting.on_record import places_of_row
from .day_lines import day_lines, days_sentences
from .day_words import vines_text
from .first_year_lines import crop_lines, duty_lines, labour_lines
from .inspection_lines import (
    again_sentences,
    checked_lot_lines,
    checked_row_lines,
    rework_lines,
    sampling_sentences,
)
from .lot_lines import assignment_lines, lot_lines, need_lines, tag_lines
from .planted import PlantingAnswer
from .tally import grouped
from .vine_places import Vine, code_of_vine, index_of

_ROWS_AT_MOST = 40
_LOTS_AT_MOST = 4


@dataclass(frozen=True)
class TallyLine:
    """Plants of a lot or a row and how many of them were lost, as text."""

    key: str
    name: str
    size: str
    faulty: str
    share: str
    bounds: str
    told: str
    flag: str = ""


@dataclass(frozen=True)
class CountLine:
    """A cause and how many plants it took, of all that were set, with bounds."""

    key: str
    name: str
    count: str
    share: str
    bounds: str


@dataclass(frozen=True)
class ReplantLine:
    """Plants of a lot that are to be planted again."""

    key: str
    lot: str
    plant: str
    vines: str
    order: str


def lines_of(key: str, answer: PlantingAnswer, unit: str = "m", lot: str = "") -> tuple:
    """Lines of one of the lists; `lot` is the one in hand."""
    make = _LINES.get(key)
    if make is not None:
        return make(answer)
    if key == "tags":
        return tag_lines(answer, lot)
    if key == "days":
        return day_lines(answer, unit)
    if key == "checked_lots":
        return checked_lot_lines(answer, unit)
    if key == "checked_rows":
        return checked_row_lines(answer, unit)
    if key == "rework":
        return rework_lines(answer, unit)
    if key == "duties":
        return duty_lines(answer, unit)
    if key == "labour":
        return labour_lines(answer)
    if key == "crops":
        return crop_lines(answer, unit)
    raise ValueError(f"key: {key!r} is no list of the planting stage")


def _stand_lots(answer: PlantingAnswer) -> tuple[TallyLine, ...]:
    lost = answer.survival
    return () if lost is None else tuple(_tally_line(t, "lot nobody said") for t in lost.by_lot)


def _stand_rows(answer: PlantingAnswer) -> tuple[TallyLine, ...]:
    if answer.survival is None:
        return ()
    rows = sorted((t for t in answer.survival.by_row if t.faulty), key=lambda t: -t.share_pct)
    return tuple(_tally_line(t, "") for t in rows[:_ROWS_AT_MOST])


def _tally_line(tally, nameless: str) -> TallyLine:
    name = tally.name or nameless
    share = f"{tally.share_pct:.1f} %"
    bounds = f"{tally.low_pct:.1f}–{tally.high_pct:.1f} %"
    causes = ", ".join(f"{cause} {n:,}" for cause, n in tally.items)
    told = (
        f"{name}: {grouped(tally.faulty)} of {grouped(tally.size)} plants lost, {share}; with 95 % confidence "
        f"{bounds}."
    )
    return TallyLine(
        name, name, grouped(tally.size), grouped(tally.faulty), share, bounds,
        f"{told} Causes: {causes}." if causes else told,
    )  # fmt: skip


def _causes(answer: PlantingAnswer) -> tuple[CountLine, ...]:
    lost = answer.survival
    if lost is None:
        return ()
    return tuple(
        CountLine(
            t.name, t.name or "not known", grouped(t.faulty), f"{t.share_pct:.1f} %",
            f"{t.low_pct:.1f}–{t.high_pct:.1f} %",
        )
        for t in lost.causes
    )  # fmt: skip


def _replant(answer: PlantingAnswer) -> tuple[ReplantLine, ...]:
    lost = answer.survival
    if lost is None:
        return ()
    return tuple(
        ReplantLine(r.lot, r.lot or "not said", r.plant, grouped(len(r.places)), grouped(r.order))
        for r in lost.replant
    )


_LINES = {
    "lots": lot_lines,
    "needs": need_lines,
    "assignments": assignment_lines,
    "stand_lots": _stand_lots,
    "stand_rows": _stand_rows,
    "causes": _causes,
    "replant": _replant,
}


def sentences_of(page: str, answer: PlantingAnswer) -> tuple[str, ...]:
    """What is told above the lists of a page."""
    make = _SENTENCES.get(page)
    return () if make is None else tuple(make(answer))


def notes_of(page: str, answer: PlantingAnswer) -> tuple[str, ...]:
    """What is told at length below the lists of a page."""
    if page == "checks":
        return sampling_sentences(answer)
    if page == "years" and answer.years is not None:
        return answer.years.counting_words
    return ()


def _lot_sentences(answer: PlantingAnswer):
    if not answer.uses:
        yield "Add lots as they are ordered, or read them from a table; what is needed of each plant is told then."
        return
    waiting = [
        u.lot.name for u in answer.uses if u.vines and u.lot.delivered and not u.lot.tags_recorded
    ]
    if waiting:
        yield f"Waiting for their tags: {', '.join(waiting)}."


def _plant_sentences(answer: PlantingAnswer):
    n = len(answer.assigned.plant)
    bare = int(np.count_nonzero(answer.assigned.plant < 0))
    if bare == n:
        yield "No vine has a plant yet: assign one, to all rows or to some."
    elif bare:
        yield f"{grouped(bare)} of {vines_text(n)} have no plant yet."
    else:
        yield f"All {vines_text(n)} have their plant."


def _check_sentences(answer: PlantingAnswer):
    sample = answer.sample
    if sample.lots:
        looks = [
            f"{grouped(plan.size)} of {grouped(plan.lot_size)} of {f'lot {name}' if name else 'no lot'}"
            for name, plan in zip(sample.lots, sample.plans, strict=True)
        ]
        more = f" and {len(looks) - _LOTS_AT_MOST} more lots" if len(looks) > _LOTS_AT_MOST else ""
        yield f"Vines to look at: {', '.join(looks[:_LOTS_AT_MOST])}{more}."
    yield from again_sentences(answer)


def _record_sentences(answer: PlantingAnswer):
    if answer.standing is None:
        yield "Nothing is on record yet. What is recorded stays: a slip is put right by another entry."
        return
    counts = np.bincount(answer.standing.state, minlength=len(STATES))
    said = [f"{grouped(int(n))} {s}" for s, n in zip(STATES[1:], counts[1:], strict=True) if n]
    yield f"On record: {', '.join(said) or 'no vine planted'}."
    lost = answer.survival
    if lost is not None and lost.site.size:
        yield f"To be replaced: {lost.replacement_pct:.2f} % (dead or missing, of vines a row times rows)."


def _year_sentences(answer: PlantingAnswer):
    if answer.years is None:
        yield "Say when planting begins, and the first years follow from it."
        return
    yield from (w for w in answer.years.counting_words if w.startswith("Counted here"))
    yield from answer.years.cautions


_SENTENCES = {
    "lots": _lot_sentences,
    "plants": _plant_sentences,
    "days": days_sentences,
    "checks": _check_sentences,
    "record": _record_sentences,
    "years": _year_sentences,
}


def told_of_vine(answer: PlantingAnswer, vine: Vine) -> str:
    """What is planned and known of a vine, parts of it with semicolons."""
    found, at = answer.assigned, index_of(answer.plans, vine)
    code = code_of_vine(answer.plans, vine)
    plant, lot = int(found.plant[at]), int(found.lot[at])
    parts = [f"{code}: {found.plants[plant] if plant >= 0 else 'no plant assigned'}"]
    if lot >= 0:
        parts.append(f"lot {found.planting.lots[lot].name}")
    now, match = answer.standing, answer.matching
    if now is not None and match.place[at] >= 0:
        place = int(match.place[at])
        known = int(now.lot[place])
        state = STATES[now.state[place]]
        of = f", lot {now.register.lots[known].name}" if known >= 0 else ""
        parts.append(f"on record: {state}{of}")
    elif answer.days is not None:
        day = _day_of(answer, vine)
        if day is not None:
            parts.append(f"planned for {day.isoformat()}")
    return "; ".join(parts)


def _day_of(answer: PlantingAnswer, vine: Vine):
    plan = answer.plans[vine[0]]
    segment, index = int(plan.vines.segment[vine[1]]), int(plan.vines.index[vine[1]])
    lot = int(answer.assigned.lot[index_of(answer.plans, vine)])
    for day in answer.days.days:
        for run in day.runs:
            here = (run.plan, run.segment) == (vine[0], segment)
            if here and run.first <= index <= run.last and run.lot == lot:
                return day.day
    return None


def segments_of_day(answer: PlantingAnswer, at: int) -> list[tuple[int, int]]:
    """Segments that are planted on a day, told by plan and segment."""
    return sorted({(run.plan, run.segment) for run in answer.days.days[at].runs})


def bounds_of_line(key: str, answer: PlantingAnswer, at: int):
    """Extent of what a line is about: x0, y0, x1, y1; None where it has no place. [m]"""
    if key == "days":
        shapes = [answer.plans[p].shapes[s] for p, s in segments_of_day(answer, at)]
        return tuple(shapely.total_bounds(shapes).tolist()) if shapes else None
    if key == "assignments":
        vines = vines_of_parts(answer.plans, answer.assigned.planting.assignments[at].parts)
        xy = np.concatenate([p.vines.xy_m for p in answer.plans])[vines]
    elif answer.standing is not None:
        line = lines_of(key, answer)[at]
        stand = answer.standing.register.stand
        xy = stand.xy_m(places_of_row(answer.standing.register, line.key))
        xy = xy[np.isfinite(xy).all(axis=1)]
    else:
        return None
    if not len(xy):
        return None
    return (*xy.min(axis=0).tolist(), *xy.max(axis=0).tolist())
