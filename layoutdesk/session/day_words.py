"""Days of planting in words: which rows, which lots with how many trays, what is wetted, and how vines are set."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

import numpy as np

from ..core.layout.numbering import segment_code, segment_letter
from ..core.model import RowPlan
from ..core.model.planting import TASKS, Planting, Setting
from ..core.planting.assigned import Assigned
from ..core.planting.days import DayPlan, DaysPlan, Run
from .study_words import MONTHS
from .tally import grouped
from .wording import listed

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
NO_LOT = "no lot said"
_SPACE = "\u00a0"


def weekday_text(day: datetime.date, *, short: bool = False) -> str:
    """A day with its weekday.

    Examples
    --------
    >>> weekday_text(datetime.date(2027, 4, 5)), weekday_text(datetime.date(2027, 4, 5), short=True)
    ('Monday 5 April 2027', 'Mon 5 Apr 2027')
    """
    most = 3 if short else None
    return f"{WEEKDAYS[day.weekday()][:most]} {day.day} {MONTHS[day.month - 1][:most]} {day.year}"


def vines_text(vines: int) -> str:
    """How many vines."""
    return f"{grouped(vines)}{_SPACE}vine{'s' * (vines != 1)}"


def trays_text(trays: int, bundles: bool = False) -> str:
    """How many trays, or bundles of plants with bare roots."""
    word = "bundle" if bundles else "tray"
    return f"{grouped(trays)}{_SPACE}{word}{'s' * (trays != 1)}"


# rows


def rows_text(plans: tuple[RowPlan, ...], days: DaysPlan, at: int) -> str:
    """Rows of a day: "B1 3–12, 13 in part".

    Neighbouring rows are one span. A segment has its letter where others of its row are not planted on the day,
    and is "in part" where the rest of it has another day. Blocks are named where there are several.
    """
    places = list(dict.fromkeys((r.plan, r.segment) for r in days.days[at].runs))
    partly = _shared_with_neighbours(days, at)
    texts = []
    for p in sorted({p for p, _ in places}):
        plan = plans[p]
        mine = np.array([s for q, s in places if q == p])
        part = {s for q, s in partly if q == p}
        text = _spans(plan, mine, part)
        texts.append(f"{plan.block.name} {text}" if len(plans) > 1 else text)
    return "; ".join(texts)


def _shared_with_neighbours(days: DaysPlan, at: int) -> set[tuple[int, int]]:
    """Segments that have another day too."""
    mine = {(r.plan, r.segment) for r in days.days[at].runs}
    others: set[tuple[int, int]] = set()
    for other in (at - 1, at + 1):
        if 0 <= other < len(days.days):
            others |= {(r.plan, r.segment) for r in days.days[other].runs}
    return mine & others


def _spans(plan: RowPlan, mine: np.ndarray, part: set[int]) -> str:
    """Spans of whole rows, then of segments by letter, in the order of rows."""
    s = plan.segments
    filled = plan.vines_of_segment > 0
    of_row = np.bincount(s.number[filled])
    here = np.bincount(s.number[mine], minlength=len(of_row))
    all_numbers = np.unique(s.number[filled])
    told: list[tuple[int, str]] = []
    pieces: list[tuple[int, str, bool]] = []
    for i in mine.tolist():
        number = int(s.number[i])
        whole = here[number] >= of_row[number]
        letter = "" if whole or of_row[number] == 1 else segment_letter(int(s.letter[i]))
        pieces.append((number, letter, i in part))
    whole_rows = sorted({n for n, letter, p in pieces if not letter and not p})
    in_part = {n for n, letter, p in pieces if not letter and p}
    whole_rows = [n for n in whole_rows if n not in in_part]
    rank = np.searchsorted(all_numbers, whole_rows)
    for span in np.split(np.array(whole_rows, int), np.flatnonzero(np.diff(rank) > 1) + 1):
        if len(span):
            told.append((int(span[0]), _span(int(span[0]), int(span[-1]))))
    told += [(n, f"{n} in part") for n in in_part]
    by_letter: dict[tuple[str, bool], list[int]] = {}
    for number, letter, p in pieces:
        if letter:
            by_letter.setdefault((letter, p), []).append(number)
    for (letter, p), numbers in by_letter.items():
        numbers = np.unique(numbers)
        rank = np.searchsorted(all_numbers, numbers)
        for span in np.split(numbers, np.flatnonzero(np.diff(rank) > 1) + 1):
            text = _span(int(span[0]), int(span[-1])) + letter
            told.append((int(span[0]), f"{text} in part" if p else text))
    return ", ".join(text for _, text in sorted(told))


def _span(first: int, last: int) -> str:
    return f"{first}" if first == last else f"{first}–{last}"


def run_code(plans: tuple[RowPlan, ...], run: Run) -> str:
    """Code of a run's segment."""
    s = plans[run.plan].segments
    name = plans[run.plan].block.name
    return segment_code(name, int(s.number[run.segment]), int(s.letter[run.segment]))


# lots


@dataclass(frozen=True)
class LotOfDay:
    """What is wanted of a lot on a day.

    Attributes
    ----------
    lot : int
        Index of `planting.lots`, -1 where no lot is said.
    plant : int
        Of `Assigned.plants`.
    name : str
        Of the lot, or NO_LOT.
    vines, trays : int
        `trays` is 0 where nobody said how many plants one holds.
    is_bare_root : bool
    """

    lot: int
    plant: int
    name: str
    vines: int
    trays: int
    is_bare_root: bool


def lots_of_day(found: Assigned, day: DayPlan) -> tuple[LotOfDay, ...]:
    """Lots of a day in the order they are first planted; vines without a lot by their plant."""
    sums: dict[tuple[int, int], list[int]] = {}
    for run in day.runs:
        total = sums.setdefault((run.lot, run.plant), [0, 0])
        total[0] += run.vines
        total[1] += run.trays
    lots = found.planting.lots
    return tuple(
        LotOfDay(
            lot,
            plant,
            lots[lot].name if lot >= 0 else NO_LOT,
            vines,
            trays,
            lot >= 0 and lots[lot].grown == "bare root",
        )
        for (lot, plant), (vines, trays) in sums.items()
    )


def lots_text(lots: tuple[LotOfDay, ...]) -> str:
    """Names of lots: "27-A, 27-B"."""
    return ", ".join(dict.fromkeys(one.name for one in lots))


_NAME_LETTERS, _NAMED_LOTS = 14, 3
_SET_LETTERS = 16


def lots_in_short(lots: tuple[LotOfDay, ...]) -> str:
    """Names of lots where there is little room: long ones cut, the first few of many.

    Examples
    --------
    >>> names = ("27-A", "a lot with a long name", "27-C", "27-D")
    >>> lots_in_short(tuple(LotOfDay(0, 0, n, 1, 0, False) for n in names))
    '27-A, a lot with a…, 2 more'
    """
    names = list(dict.fromkeys(one.name for one in lots))
    shown = names if len(names) <= _NAMED_LOTS else names[: _NAMED_LOTS - 1]
    cut = [n if len(n) <= _NAME_LETTERS else f"{n[: _NAME_LETTERS - 1].rstrip()}…" for n in shown]
    more = len(names) - len(shown)
    return ", ".join([*cut, f"{more} more"] if more else cut)


def sets_in_short(sets: tuple[int, ...]) -> str:
    """Sets by number where there is little room, how many where they are too many to name.

    Examples
    --------
    >>> sets_in_short((1, 2, 3)), sets_in_short((1, 3, 5, 7, 9, 11, 13, 15)), sets_in_short(())
    ('sets 1–3', '8 sets', '')
    """
    if not sets:
        return ""
    text = f"set{'s' * (len(sets) > 1)} {sets_text(sets)}"
    return text if len(text) <= _SET_LETTERS else f"{len(sets)} sets"


def brought_text(planting: Planting, one: LotOfDay) -> str:
    """What is brought of a lot: its trays, or plants where nobody said what a tray holds.

    Where the rest of yesterday's tray is enough it says so.
    """
    if one.lot < 0 or not planting.lots[one.lot].tray:
        return f"{grouped(one.vines)}{_SPACE}plant{'s' * (one.vines != 1)}"
    if not one.trays:
        return f"the rest of the opened {'bundle' if one.is_bare_root else 'tray'}"
    return trays_text(one.trays, one.is_bare_root)


def sets_text(sets: tuple[int, ...]) -> str:
    """Sets by number, neighbours as spans: "1–3, 7"."""
    numbers = np.array(sorted(sets), int)
    spans = np.split(numbers, np.flatnonzero(np.diff(numbers) > 1) + 1)
    return ", ".join(_span(int(s[0]), int(s[-1])) for s in spans if len(s))


def wetting_text(day: DayPlan) -> str:
    """What is wetted the day before, as a sentence."""
    when = weekday_text(day.wet_on)
    if not day.sets:
        return f"Wet the ground of these rows on {when}, the day before: no drip set is known for them."
    word = "set" if len(day.sets) == 1 else "sets"
    return (
        f"Run {word} {sets_text(day.sets)} on {when}, the day before, so that the ground is moist; "
        "look that every emitter drips."
    )


# how vines are set


def small_length(metres: float, unit: str = "m") -> str:
    """A length of a hand's breadth or an arm in people's unit, with the other one behind it.

    Examples
    --------
    >>> small_length(0.4), small_length(0.4, "ft")
    ('40\\xa0cm (15¾\\xa0in)', '15¾\\xa0in (40\\xa0cm)')
    """
    return _both(f"{metres * 100:.3g}{_SPACE}cm", f"{_inches(metres)}{_SPACE}in", unit)


def band_text(setting: Setting, unit: str = "m") -> str:
    """The band of the graft union above the soil.

    Examples
    --------
    >>> band_text(Setting()).replace("\\xa0", " ")
    '5.5 to 8 cm (2¼ to 3¼ in)'
    """
    low, high = setting.union_low_m, setting.union_high_m
    metric = f"{low * 100:.3g} to {high * 100:.3g}{_SPACE}cm"
    return _both(metric, f"{_inches(low)} to {_inches(high)}{_SPACE}in", unit)


def _both(metric: str, inches: str, unit: str) -> str:
    return f"{metric} ({inches})" if unit == "m" else f"{inches} ({metric})"


_QUARTERS = ("", "¼", "½", "¾")


def _inches(metres: float) -> str:
    """Inches to the quarter, as rules have them."""
    whole, quarter = divmod(round(metres / 0.0254 * 4), 4)
    return f"{whole or ''}{_QUARTERS[quarter]}" or "0"


def setting_steps(
    setting: Setting, grown: set[str], first_watering_l: float | None, unit: str = "m"
) -> tuple[str, ...]:
    """How a vine is planted, step by step.

    Parameters
    ----------
    setting : Setting
    grown : set of str
        Of GROWN: what the day's plants are.
    first_watering_l : float or None
        What each vine gets right after it is planted; None where nobody said. [L]
    """
    depth, band = small_length(setting.hole_depth_m, unit), band_text(setting, unit)
    taken = {
        "potted": "Take the plant out of its container whole: the roots stay together, and no container, sleeve "
        "or ring goes into the ground.",
        "bare root": "Keep them wet and shaded until they are set; spread the roots in the hole, "
        "straight and not bent upwards.",
    }
    if len(grown) > 1:
        taken = {g: f"{_GROWN_WORDS[g]}: {text[:1].lower()}{text[1:]}" for g, text in taken.items()}
    water = (
        ""
        if first_watering_l is None
        else f" Each vine gets {_volume(first_watering_l, unit)} at once."
    )
    return (
        "The ground was wetted the day before. Dry ground is not planted: say so and wet it.",
        f"Dig the hole about {depth} deep at the training stake, wide enough for the roots; loosen sides that are "
        "smeared.",
        *(taken[g] for g in taken if g in (grown or {"potted"})),
        "Read the tag, see that it is on record with its lot, then take it off: left on, it strangles the trunk.",
        "Set the plant upright and close against its training stake.",
        f"Hold the graft union {band} above the soil when all is filled and firmed, three to four fingers.",
        "Fill with moist soil, without clods and stones, so that no hollow is left at the roots.",
        "Firm with the foot on both sides, so that potting mix and soil touch; fill up again. A light pull does not "
        "lift the plant. Look once more at the graft union.",
        f"Put the shelter round the vine and the drip tube inside it; see it drip.{water}",
    )


_GROWN_WORDS = {"potted": "Potted plants", "bare root": "Dormant plants with bare roots"}
_LITRES_PER_GALLON = 3.785411784
"""US liquid gallon, exact (NIST SP 811, appendix B). [L]"""


def _volume(litres: float, unit: str) -> str:
    metric, gallons = f"{litres:.3g}{_SPACE}L", f"{litres / _LITRES_PER_GALLON:.2g}{_SPACE}gal"
    return _both(metric, gallons, unit)


def hours_rows(planting: Planting, day: DayPlan) -> tuple[tuple[str, str, str], ...]:
    """Tasks of a day: what, person-hours, and how many people that is all day long."""
    hours_a_day = planting.crew.hours_a_day
    return tuple(
        (
            f"{TASKS[task][0].upper()}{TASKS[task][1:]}",
            f"{hours:.1f}{_SPACE}h",
            f"{hours / hours_a_day:.1f}",
        )
        for task, hours in day.hours
    )


def lots_brought(found: Assigned, lots: tuple[LotOfDay, ...]) -> str:
    """What is brought that morning, in a line: "77 trays of lot 27-A and 5 plants of no lot said"."""
    return listed(
        f"{brought_text(found.planting, one)} of "
        + (f"lot {one.name}" if one.lot >= 0 else f"{found.plants[one.plant]}, {NO_LOT}")
        for one in lots
    )
