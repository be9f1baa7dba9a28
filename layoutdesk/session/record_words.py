"""Words of what is recorded: days, causes, faults, lots, notes, and why something is not recorded."""

from __future__ import annotations

import datetime
from collections.abc import Sequence

import numpy as np

from ..core.layout.numbering import Place, place_of_code
from ..core.model import Lot
from ..core.model.register import CAUSES
from .study_words import MONTHS
from .vine_places import code_of_vine, vine_of_index
from .wording import listed

WINDOW = "window"
"""Source of what is recorded by hand."""


def day_words(day: datetime.date | int | None) -> str:
    """A day as people write it; empty where nobody said.

    Examples
    --------
    >>> day_words(datetime.date(2027, 4, 1)), day_words(0)
    ('1 April 2027', '')
    """
    if not day:
        return ""
    if not isinstance(day, datetime.date):
        day = datetime.date.fromordinal(day)
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"


def cause_named(text: str, state: str = "dead") -> str:
    """A cause as it is written in CAUSES where it is one of those, else as it is.

    Examples
    --------
    >>> cause_named(" Frost"), cause_named("hail, 3 May"), cause_named("", "missing")
    ('frost', 'hail, 3 May', '')
    """
    words = " ".join(text.split())
    if not words:
        return CAUSES[0] if state == "dead" else ""
    return next((cause for cause in CAUSES if cause.casefold() == words.casefold()), words)


def other_lot_words(lots: Sequence[Lot], wanted: np.ndarray, planted: np.ndarray) -> list[str]:
    """Sentences on lots that were planted where others are assigned; both by index of `lots`."""
    other = np.flatnonzero((wanted >= 0) & (planted >= 0) & (wanted != planted))
    pairs, counts = np.unique(
        np.column_stack([planted[other], wanted[other]]), axis=0, return_counts=True
    )
    return [
        f"Lot {lots[a].name} where lot {lots[b].name} is assigned: {n:,} {vines_word(n)}."
        for (a, b), n in zip(pairs.tolist(), counts.tolist(), strict=True)
    ]


def although_words(lots: Sequence[Lot], planted: np.ndarray, although: str) -> list[str]:
    """The sentence on lots whose tags were not recorded when they were planted, with the reason."""
    if not although.strip():
        return []
    used = [lots[i] for i in np.unique(planted[planted >= 0]).tolist()]
    names = [lot.name for lot in used if not lot.tags_recorded]
    reason = although.strip().rstrip(".")
    return (
        [f"Although not all tags of lot {listed(names)} are recorded: {reason}."] if names else []
    )


NOTE_MARK = " | "
"""Stands between a vine's code and what is noted of it alone, one a line, in the note of an entry."""


_NO_VINE = Place("", 0)


def note_of_vine(note: str, code: str) -> str:
    """An entry's note without the lines that are about other vines.

    Examples
    --------
    >>> note_of_vine("Wet soil.\\nB1-R001A-V002 | stake split\\nB1-R001A-V003 | loose", "B1-R001A-V003")
    'Wet soil. loose'
    """
    kept = []
    for line in note.splitlines():
        head, mark, rest = line.partition(NOTE_MARK)
        if not mark or (place_of_code(head) or _NO_VINE).index is None:
            kept.append(line)
        elif head == code:
            kept.append(rest)
    return " ".join(kept)


def refusal(reason: str, states, plans, vines, which, day, lot) -> str:
    """Why vines cannot have an event recorded: what, where, what to do."""
    first, one = int(which[0]), len(which) == 1
    where, shown = example_words(plans, vines[which]), day_words(day) if day is not None else ""
    known = states.lots[int(lot[first])] if lot[first] >= 0 else None
    name = known.name if known is not None else ""
    then = day_words(int(states.planted[first]))
    verb = "is" if one else "are"
    words = {
        "elsewhere": f"{where} {verb} not where their codes are on record: give the block the rules back "
        "that it was planted with, or number its new rows as no others are.",
        "no day": "Say the day: write it like 1 April 2027 or 2027-04-01.",
        "future": f"{shown} is still to come: only what has happened is recorded.",
        "no lot": f"No lot is assigned at {where}: name the lot that was planted.",
        "not come": f"Lot {name} came on {day_words(known and known.came)}, so it cannot have been planted "
        f"on {shown}: correct the day, or the lot's.",
        "not grafted": f"Lot {name} was grafted on {day_words(known and known.grafted)}, so it cannot have "
        f"been planted on {shown}: correct the day, or the lot's.",
        "tags": f"Not all tags of lot {name} are recorded: record them before they come off, or say why "
        "it is planted all the same.",
        "stands": f"{where} {verb} on record as planted{then and f' ({then} the first)'}: record that as a "
        "mistake first, if it is one.",
        "gone": f"{where} {verb} on record as lost: record it as planted again.",
        "never planted": f"{where} {verb} not on record as planted: record the planting first.",
        "no loss": f"{where} {verb} on record as standing: record it as missing or dead first.",
        "no plant": f"{where} {verb} on record as missing or dead: record what stands there first.",
        "too early": f"{shown} is before {where} {'was' if one else 'were'} planted on record "
        f"({then}): correct the day.",
        "nothing wrong": f"Nothing is on record as wrong at {where}: there is nothing to put right.",
    }[reason]
    return words[:1].upper() + words[1:]


def example_words(plans, vines: np.ndarray) -> str:
    code = code_of_vine(plans, vine_of_index(plans, int(vines[0])))
    return f"vine {code}" if len(vines) == 1 else f"{len(vines):,} vines such as {code}"


def vines_word(n: int) -> str:
    return "vine" if n == 1 else "vines"
