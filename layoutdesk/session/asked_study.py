"""What to compare, and by what, asked for in words on the command line, and the project it makes."""

from __future__ import annotations

import difflib
import math
import re
from dataclasses import dataclass, replace
from operator import attrgetter

import numpy as np

from ..core.compare.catalogue import MEASURES
from ..core.model import Candidate, InputProblem, Project, Study
from .asked_rules import asked_bearing_deg, asked_length_m, of_option
from .study_words import MONTHS

MOST_CANDIDATES = 1000
_WIDEST_STEP_DEG = 90.0
_LENGTHS = {
    # option: where it goes in a study
    "short-row": "short_row_m",
    "machine-length": "machine_length_m",
    "machine-width": "machine_width_m",
    "canopy-height": "canopy.height_m",
    "canopy-foot": "canopy.foot_m",
    "canopy-width": "canopy.width_m",
}
_NUMBERS = {
    "limit-along": "grade_along_pct",
    "limit-across": "grade_across_pct",
    "end-price": "prices.end_assembly",
    "line-post-price": "prices.line_post",
}
STUDY_OPTIONS = (*_LENGTHS, *_NUMBERS, "season", "wind-from", "currency", "chosen", "base")
"""Options that give one value of a study each."""


def usual_text(option: str) -> str:
    """What a new study has for an option, in brackets; empty where it has nothing.

    Examples
    --------
    >>> usual_text("short-row"), usual_text("currency")
    (' [45 m]', '')
    """
    where = {**_LENGTHS, **_NUMBERS}.get(option)
    value = None if where is None else attrgetter(where)(Study())
    return "" if value is None else f" [{value:g}{' m' if option in _LENGTHS else ''}]"


@dataclass(frozen=True)
class AskedStudy:
    """What was given on the command line, as text, None or empty where it was not.

    Attributes
    ----------
    bearings, sweep : str or None
        Bearings parted by commas, or a step from bearing to bearing.
    candidates : tuple of str
        Each as a person types one: "96; 2.2 x 1.2".
    values : dict of str
        By the names of STUDY_OPTIONS.
    blocks : tuple of str
        Names of the blocks compared; empty for all, or those of the project's own study.
    bearing_given : bool
        Whether --bearing was given, which is easily meant for --bearings.
    """

    bearings: str | None = None
    sweep: str | None = None
    candidates: tuple[str, ...] = ()
    values: dict[str, str] | None = None
    blocks: tuple[str, ...] = ()
    bearing_given: bool = False


def with_asked_study(project: Project, asked: AskedStudy) -> Project:
    """The project with the study that was asked for; its own where no candidate was named.

    Raises
    ------
    InputProblem
        One sentence that names the option.
    """
    study = project.study or Study()
    if asked.blocks:
        study = replace(study, blocks=asked.blocks)
    if not study.blocks_of(project.blocks):
        raise InputProblem(
            "The project's study is about blocks that are gone: name others with --block."
        )
    candidates = asked_candidates(project, study, asked)
    if candidates:
        study = replace(study, candidates=candidates, base=0)
        study = replace(study, base=_nearest_to_standing(project, study) if asked.sweep else 0)
    elif not study.candidates:
        meant = " (--bearing gives the rules of the plan as it stands)" * asked.bearing_given
        raise InputProblem(
            "Nothing is said to compare: give --bearings 0,45,90 or --sweep 1, or a project with a "
            f"study of its own{meant}."
        )
    study = _with_values(project, study, asked.values or {})
    return replace(project, study=study)


def asked_candidates(project: Project, study: Study, asked: AskedStudy) -> tuple[Candidate, ...]:
    """The candidates named on the command line, and a curve as it stands before straight rows."""
    from .study_edits import candidate_of

    if asked.bearings is not None and asked.sweep is not None:
        raise InputProblem("--bearings and --sweep contradict each other: give one of them.")
    bearings: list[float] = []
    if asked.bearings is not None:
        bearings = asked_bearings(project, asked.bearings)
    elif asked.sweep is not None:
        bearings = asked_sweep(asked.sweep)
    if len(bearings) + len(asked.candidates) > MOST_CANDIDATES:
        raise InputProblem(
            f"{len(bearings) + len(asked.candidates):,} candidates are more than the "
            f"{MOST_CANDIDATES:,} that can stand side by side: give fewer, or a wider step."
        )

    def true_from(convention: str, degrees: float) -> float:
        return asked_bearing_deg("candidate", f"{degrees!r} {convention}", project)

    found = [Candidate(bearing_deg=b) for b in bearings]
    for text in asked.candidates:
        with of_option("candidate"):
            found.append(candidate_of(text, true_from=true_from))
    curved = any(b.guide is not None for b in study.blocks_of(project.blocks))
    if bearings and curved and not any(c.bearing_deg is None for c in found):
        found.insert(0, Candidate())
    return tuple(found)


def asked_bearings(project: Project, text: str) -> list[float]:
    """True bearings from a list parted by commas. [deg]"""
    found: list[float] = []
    for part in text.split(","):
        if not part.strip():
            raise InputProblem(f"--bearings {text!r} has an empty place: write it like 0,45,90.")
        with of_option("bearings"):
            bearing = asked_bearing_deg("bearings", part.strip(), project)
        if bearing in found:
            raise InputProblem(f"--bearings {text!r} names {part.strip()} twice: give it once.")
        found.append(bearing)
    return found


def asked_sweep(text: str) -> list[float]:
    """Bearings from 0 up to 180, a step apart. [deg]"""
    from ..core.compare.sweep import sweep_bearings

    step = _number("sweep", text.strip().rstrip("°"), "a step in degrees, like 1")
    if not 0 < step <= _WIDEST_STEP_DEG:
        raise InputProblem(
            f"--sweep {text}: a step must be more than 0 and at most {_WIDEST_STEP_DEG:g} degrees."
        )
    count = 180.0 / step - 1e-9  # a step next to nothing makes more than can be written down
    if count > MOST_CANDIDATES:
        many = f"{math.ceil(count):,}" if count < 1e6 else "millions of"
        raise InputProblem(
            f"--sweep {text} makes {many} candidates, more than {MOST_CANDIDATES:,}: give a step of "
            f"{180 / MOST_CANDIDATES:g} degrees or more."
        )
    return sweep_bearings(step).tolist()


def _nearest_to_standing(project: Project, study: Study) -> int:
    """The candidate of a sweep whose rows run most like those of the first block as it stands."""
    standing = study.blocks_of(project.blocks)[0].rules.bearing_deg
    if study.candidates[0].bearing_deg is None:
        return 0
    away = [
        90.0 if c.bearing_deg is None else abs((c.bearing_deg - standing + 90) % 180 - 90)
        for c in study.candidates
    ]
    return int(np.argmin(np.round(away, 9)))


def _number(option: str, text: str, like: str) -> float:
    try:
        value = float(text.replace(",", ".").replace("−", "-"))
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise InputProblem(f"--{option} {text!r} is no number: give {like}.")
    return value


def _with_values(project: Project, study: Study, texts: dict[str, str]) -> Study:
    changes: dict[str, object] = {}
    for option, where in _LENGTHS.items():
        if option in texts:
            changes[where] = asked_length_m(option, texts[option])
    for option, where in _NUMBERS.items():
        if option in texts:
            text = texts[option].strip().rstrip("% ")
            changes[where] = _number(option, text, "one like 15")
    if "currency" in texts:
        changes["prices.currency"] = texts["currency"].strip()
    if "wind-from" in texts:
        with of_option("wind-from"):
            changes["wind_from_deg"] = asked_bearing_deg("wind-from", texts["wind-from"], project)
    if "season" in texts:
        first, last = _months(texts["season"])
        changes |= {"season.first_month": first, "season.last_month": last}
    if "chosen" in texts:
        changes["chosen"] = _chosen_measures(texts["chosen"])
    try:
        study = _changed(study, changes)
    except ValueError as problem:
        raise _told_by_option(problem) from None
    if "base" in texts:
        study = replace(study, base=_base(project, study, texts["base"]))
    return study


def _changed(study: Study, changes: dict[str, object]) -> Study:
    """All at once: a foot and a height may each contradict the other's value of before."""
    own = {where: value for where, value in changes.items() if "." not in where}
    for part in ("canopy", "season", "prices"):
        inner = {w.partition(".")[2]: v for w, v in changes.items() if w.startswith(f"{part}.")}
        if inner:
            own[part] = replace(getattr(study, part), **inner)
    return replace(study, **own)


def _told_by_option(problem: ValueError) -> InputProblem:
    name, _, rest = str(problem).partition(": ")
    wheres = {**_LENGTHS, **_NUMBERS}
    option = {where.rpartition(".")[2]: option for option, where in wheres.items()}.get(name, name)
    unit = {"m": " m", "pct": " %"}.get(name.rpartition("_")[2], "")
    return InputProblem(f"--{option}: {rest}{unit}.")


def _months(text: str) -> tuple[int, int]:
    """Numbers of the first and last month.

    Examples
    --------
    >>> _months("4-10"), _months("Oct-Apr")
    ((4, 10), (10, 4))
    """
    found = re.fullmatch(r"\s*(\w+)\s*[-–]\s*(\w+)\s*", text)
    months = [_month(word) for word in found.groups()] if found else [None]
    if None in months:
        raise InputProblem(
            f"--season {text!r} cannot be read: give its first and last month, like 4-10."
        )
    return months[0], months[1]


def _month(word: str) -> int | None:
    if word.isdecimal():
        return int(word) if 1 <= int(word) <= 12 else None
    fit = [i for i, name in enumerate(MONTHS, 1) if name.casefold().startswith(word.casefold())]
    return fit[0] if len(fit) == 1 else None


def _chosen_measures(text: str) -> tuple[str, ...]:
    names = tuple(dict.fromkeys(n.strip() for n in text.split(",") if n.strip()))
    if not names:
        raise InputProblem("--chosen is empty: name measures, such as vines,short_rows.")
    for name in names:
        if name not in MEASURES:
            near = difflib.get_close_matches(name, MEASURES, 3, 0.5) or ["vines", "short_rows"]
            raise InputProblem(f"--chosen {name!r} is no measure: did you mean {', '.join(near)}?")
        if not MEASURES[name].better:
            raise InputProblem(
                f"--chosen {name}: neither more nor less of it is better as such, so that nothing can be "
                "beaten by it; name another."
            )
    return names


def _base(project: Project, study: Study, text: str) -> int:
    """A candidate by name, by bearing, or by its place such as #2."""
    from .compare_set import candidate_names

    wanted = text.strip()
    if re.fullmatch(r"#\d+", wanted) and 1 <= int(wanted[1:]) <= len(study.candidates):
        return int(wanted[1:]) - 1
    names = candidate_names(study.candidates, study.blocks_of(project.blocks))
    of_name = [i for i, n in enumerate(names) if n.casefold() == wanted.casefold()]
    if of_name:
        return of_name[0]
    try:
        bearing = asked_bearing_deg("base", wanted, project)
    except InputProblem:
        bearing = None
    of_bearing = [i for i, c in enumerate(study.candidates) if c.bearing_deg == bearing is not None]
    if len(of_bearing) > 1:  # the one that changes nothing else is meant
        of_bearing = [i for i in of_bearing if len(study.candidates[i].changes) == 1]
    if len(of_bearing) == 1:
        return of_bearing[0]
    raise InputProblem(
        f"--base {text!r} is no candidate or more than one: give its bearing, its name, or its place, "
        f"from #1 to #{len(study.candidates)}."
    )
