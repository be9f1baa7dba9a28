"""Planting as asked for on the command line: worked out, recorded, read from forms, told."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from ..core.model import InputProblem, Project, RowPlan
from .asked_planting import AskedPlanting, with_asked_planting
from .form_merging import Merged
from .planted import PlantingAnswer, PlantingCounter, PlantingRequest


@dataclass(frozen=True, eq=False)
class CountedPlanting:
    """A site's planting, and what is to be said beside it.

    Attributes
    ----------
    answer : PlantingAnswer
    unit : str
        Of lengths for people.
    notes : tuple of str
        What is to be told of files that were read.
    """

    answer: PlantingAnswer
    unit: str
    notes: tuple[str, ...]


def counted_planting(
    project: Project,
    path=None,
    asked: AskedPlanting | None = None,
    *,
    today: datetime.date,
    by: str = "",
) -> CountedPlanting:
    """Lay a project, and work out its planting as it says and as is asked for.

    Parameters
    ----------
    project : Project
    path : path, optional
        The project's own file, beside which heights are looked for.
    asked : AskedPlanting, optional
    today : datetime.date
    by : str
        Who reads tags.

    Raises
    ------
    InputProblem
    """
    from .stakeout import lay_project
    from .survey import survey_view
    from .terrain import terrain_or_finding

    if not project.blocks:
        raise InputProblem(f"{project.name} has no block to plant: open its outline again.")
    plans = lay_project(project, check=False)
    notes: tuple[str, ...] = ()
    if asked is not None:
        project, notes = with_asked_planting(project, plans, asked, today, by)
    terrain, unread = terrain_or_finding(project, path)
    surface = None if terrain is None else terrain.surface
    beside = None if path is None else Path(path).parent
    request = PlantingRequest(0, project, plans, today, surface, beside)
    answer = PlantingCounter().answer(request)
    answer = replace(answer, findings=(*unread, *answer.findings))
    return CountedPlanting(answer, survey_view(project).people_unit, notes)


def opened_project(path) -> tuple[Project, tuple[RowPlan, ...]]:
    """A project and its rows, for what is kept in its file.

    Raises
    ------
    InputProblem
        Where the file is none: an outline keeps no record.
    """
    from ..formats.project_file import is_project, open_project
    from .stakeout import lay_project

    if not str(path).strip():
        raise InputProblem("PROJECT is empty: give the project file.")
    if Path(path).is_file() and not is_project(path):
        raise InputProblem(
            f"{Path(path).name} is no project, so nothing can be kept in it: make one with layoutdesk lay "
            "INPUT --out DIR."
        )
    if Path(path).is_dir():
        raise InputProblem(f"{Path(path).name} is a folder: give the project file in it.")
    project = open_project(path)
    return project, lay_project(project, check=False)


def save_into(path, project: Project, plans: Sequence[RowPlan]) -> None:
    """Write a project back into its file, whole or not at all."""
    from ..formats.project_file import save_project

    save_project(Path(path), project, tuple(plans))


def read_forms_into(
    path,
    forms: Sequence,
    *,
    by: str,
    when: datetime.datetime,
    although: str = "",
    day: datetime.date | None = None,
    dry_run: bool = False,
    leftover=None,
) -> Merged:
    """Merge filled forms into the project in a file, and write it where something new was taken.

    Parameters
    ----------
    path : path
        Of the project.
    forms : sequence of paths
    by : str
        Who reads them in.
    when : datetime.datetime
        Now, with its zone.
    although : str
        Why lots were planted before all of their tags were recorded.
    day : datetime.date, optional
        For lines that say none.
    dry_run : bool
        Whether the file is left as it is.
    leftover : path, optional
        CSV that lines which were not taken go to, to be corrected and read again; not written where there
        are none.

    Raises
    ------
    InputProblem
        Where a file cannot be read at all or written; nothing is changed then.
    """
    from ..formats.atomic import replacing
    from .form_merging import merge_forms

    if not all(str(form).strip() for form in forms):
        raise InputProblem("FORM is empty: give the form that was filled in.")
    if leftover is not None:
        _hold_apart(leftover, (path, *forms))
    project, plans = opened_project(path)
    merged = merge_forms(
        project, plans, forms, by=by, when=when.isoformat(timespec="seconds"), today=when.date(),
        although=although, day=day,
    )  # fmt: skip
    text = merged.leftover_csv() if leftover is not None else ""
    is_new = merged.project is not project and not dry_run
    if not text:
        if is_new:
            save_into(path, merged.project, plans)
        return merged
    with replacing(Path(leftover)) as stage:  # it takes its place once the project is written
        stage.write_text("\ufeff" + text, encoding="utf-8", newline="")
        if is_new:
            save_into(path, merged.project, plans)
    return merged


def _hold_apart(leftover, others: Sequence) -> None:
    there = Path(leftover).resolve()
    if any(Path(other).resolve() == there for other in others):
        raise InputProblem(
            f"--leftover {leftover} is one of the files that are read: give it another name."
        )


def record_into(
    path, event: str, texts: Mapping[str, str], when: datetime.datetime
) -> tuple[Project, int]:
    """Record an event in the project of a file; gives back the project and how many vines it is about.

    Parameters
    ----------
    path : path
    event : str
        Of EVENTS.
    texts : mapping
        As `recording_texts.with_recorded_texts` takes them.
    when : datetime.datetime
        Now, with its zone.

    Raises
    ------
    InputProblem
        One sentence that says what cannot be; the file is as it was then.
    """
    from .recording_texts import with_recorded_texts

    project, plans = opened_project(path)
    after = with_recorded_texts(
        project, plans, event, dict(texts), when.isoformat(timespec="seconds")
    )
    save_into(path, after, plans)
    return after, len(after.register.batches[-1].events)


def told_of(path, codes: Sequence[str]) -> tuple[str, ...]:
    """Everything on record of vines, by their codes of then or today; of rows, what stands at each vine.

    Raises
    ------
    InputProblem
        Where a code is none.
    """
    project, plans = opened_project(path)
    lines: list[str] = []
    for code in codes:
        lines += _told_of_code(project, plans, code.strip())
    return tuple(lines)


def _told_of_code(project: Project, plans, code: str) -> list[str]:
    """A code on record goes before the same code of today's plan: what was planted keeps its code."""
    from ..core.layout.numbering import place_of_code
    from ..core.planting.on_record import place_on_record, places_of_row
    from ..core.planting.standing import standing

    named = place_of_code(code)
    if named is None or named.kind not in (None, "vine"):
        raise InputProblem(
            f"{code!r} is no code of a vine or a row: write it like B1-R012A-V034 or B1-R012A."
        )
    register = project.register
    nothing = [f"{code}: nothing is on record here."]
    if register is None or not register.batches:
        return nothing
    if named.kind is None:
        places = places_of_row(register, code)
        if len(places):
            return _told_of_row(standing(register), places)
        places = _places_today(project, plans, code)
        if not len(places):
            return nothing
        return [f"{code}, recorded as:", *_told_of_row(standing(register), places, today=False)]
    place = place_on_record(register, code)
    if place is not None:
        return _told_of_place(project, plans, place, code)
    places = _places_today(project, plans, code)
    return _told_of_place(project, plans, int(places[0]), code) if len(places) else nothing


def _places_today(project: Project, plans, code: str) -> np.ndarray:
    """Positions on record of the vines that bear a code, or are of a row, on today's plan."""
    from ..core.planting.standing import matching
    from .part_words import vines_of_text

    try:
        vines = vines_of_text(project, plans, code)
    except InputProblem:
        return np.empty(0, np.int64)
    places = matching(project.register, plans).place[vines]
    return places[places >= 0]


def _told_of_place(project: Project, plans, place: int, code: str) -> list[str]:
    from ..core.planting.on_record import codes_on_record
    from ..core.planting.standing import history, matching
    from .vine_history import history_lines
    from .vine_places import code_of_vine, vine_of_index

    register = project.register
    (then,) = codes_on_record(register, [place])
    vines = np.flatnonzero(matching(register, plans).place == place)
    if len(vines):
        today = code_of_vine(plans, vine_of_index(plans, int(vines[0])))
    else:
        (today,) = codes_on_record(register, [place], today=True)
    head = today if then == today else f"{today}, recorded as {then}"
    told = history_lines(history(register, place), then) or ("Nothing is on record here.",)
    lines = [f"{head}:", *(f"  {line}" for line in told)]
    if code.upper() == then.upper() != today.upper():
        others = _places_today(project, plans, code)
        if len(others):
            (other,) = codes_on_record(register, others[:1])
            lines.append(f"  On today's plan {code} is another vine: the one recorded as {other}.")
    return lines


def _told_of_row(now, places, *, today: bool = True) -> list[str]:
    from ..core.model.register import NO_PLACE, STATES
    from ..core.planting.on_record import codes_on_record
    from .record_words import day_words

    register = now.register
    places = places[register.stand.xy_mm[places, 0] != NO_PLACE]
    lines = []
    for code, place in zip(
        codes_on_record(register, places, today=today), places.tolist(), strict=True
    ):
        lot, cause = int(now.lot[place]), int(now.cause[place])
        words = [STATES[now.state[place]]]
        if lot >= 0:
            words.append(f"lot {register.lots[lot].name} ({register.lots[lot].plant})")
        if now.planted[place]:
            words.append(f"planted on {day_words(int(now.planted[place]))}")
        if cause >= 0:
            words.append(register.words[cause])
        if now.faults[place]:
            words.append("to be put right")
        lines.append(f"{code}: {', '.join(words)}")
    return lines
