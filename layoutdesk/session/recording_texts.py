"""What is recorded of vines as typed in the window's cards, and what became of filled forms in words."""

from __future__ import annotations

from ..core.model import InputProblem, Project
from ..core.model.planting import CHECKS
from . import recording
from .assigning import vines_of_text
from .demand_words import typed_day
from .form_merging import Merged
from .tally import grouped
from .wording import listed

_LINES_AT_MOST = 200


def with_recorded_texts(
    project: Project, plans, event: str, texts: dict[str, str], when: str
) -> Project:
    """The project with an event on record, as typed.

    Parameters
    ----------
    event : str
        Of EVENTS.
    texts : mapping
        "parts" says which vines, "day" when; further "by", "note", and for some events "lot", "although",
        "cause", "faults".
    when : str
        Now, ISO 8601 with its offset.

    Raises
    ------
    InputProblem
        One sentence that says what cannot be.
    """
    vines = vines_of_text(project, plans, texts["parts"])
    said = {"by": texts["by"].strip(), "when": when, "note": texts["note"].strip()}
    if not said["by"]:
        raise InputProblem("Recorded by: a record needs a name; type who says so.")
    if event == "void":
        return recording.with_mistake(project, plans, vines, **said)
    day = typed_day(texts["day"], "day")
    if day is None:
        raise InputProblem("Day: say when it was so, like 2027-04-01.")
    if event in ("planted", "replanted"):
        record = recording.with_planted if event == "planted" else recording.with_replanted
        lot = texts["lot"].strip() or None
        return record(
            project, plans, vines, day, lot=lot, although=texts.get("although", ""), **said
        )
    if event in ("missing", "dead"):
        cause = texts["cause"].strip()
        return recording.with_loss(project, plans, vines, event, cause, day, **said)
    if event == "checked":
        faults = typed_faults(texts["faults"])
        return recording.with_checked(project, plans, vines, faults, day, **said)
    if event == "reworked":
        return recording.with_reworked(project, plans, vines, day, **said)
    if event == "alive":
        return recording.with_alive(project, plans, vines, day, **said)
    raise ValueError(f"event: {event!r} is none of the register's")


def typed_faults(text: str) -> int:
    """What was wrong as bits of CHECKS, from words or parts of them; 0 where nothing is typed.

    Raises
    ------
    InputProblem
        Where a word is of no check, or of several.

    Examples
    --------
    >>> typed_faults(""), typed_faults("container, firm")
    (0, 17)
    """
    bits = 0
    for word in text.replace(";", ",").split(","):
        wanted = word.strip().casefold()
        if not wanted or wanted in ("none", "nothing"):
            continue
        fits = [i for i, (k, w) in enumerate(CHECKS.items()) if wanted in (k, w.casefold())]
        fits = fits or [i for i, w in enumerate(CHECKS.values()) if wanted in w.casefold()]
        if len(fits) != 1:
            raise InputProblem(
                f"What was wrong: {word.strip()!r} is no single check: {listed(tuple(CHECKS.values()), 'or')}."
            )
        bits |= 1 << fits[0]
    return bits


def merged_words(merged: Merged) -> str:
    """What became of every line of the forms: counts first, then those that were not taken."""
    lines = merged.lines
    said = [f"{grouped(n)} {outcome}" for outcome, n in merged.counts.items() if n]
    head = f"Lines of the forms: {', '.join(said) or 'none'}."
    left = [line for line in lines if not line.line or line.outcome in ("clash", "not read")]
    told = [str(line) for line in left[:_LINES_AT_MOST]]
    if len(left) > len(told):
        told.append(f"and {grouped(len(left) - len(told))} more")
    return "\n".join((head, *told))
