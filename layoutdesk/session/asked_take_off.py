"""A take-off as asked for on the command line: laid, counted, compared, with the user's own items."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from ..core.model import Finding, InputProblem, Project
from ..core.model.materials import Materials, SettledTakeOff
from .taking_off import TakeOffAnswer, TakeOffCounter, TakeOffRequest


@dataclass(frozen=True, eq=False)
class TakenOff:
    """A take-off, and what is to be said beside it.

    Attributes
    ----------
    answer : TakeOffAnswer
    unit : str
        Of lengths for people.
    terrain : str
        Where the heights come from; empty where there are none.
    revision : str
        Of the project as it was opened.
    changed_from : str
        What it is compared with; empty for the project's own settled take-off.
    notes : tuple of str
    """

    answer: TakeOffAnswer
    unit: str
    terrain: str
    revision: str
    changed_from: str
    notes: tuple[str, ...]

    @property
    def said(self) -> dict:
        """As `take_off_set` and `write_take_off_set` take it."""
        return {
            "terrain": self.terrain,
            "revision": self.revision,
            "changed_from": self.changed_from,
            "notes": self.notes,
        }


def taken_off(
    project: Project,
    path=None,
    *,
    supplies: str | None = None,
    against: str | None = None,
    with_water: bool = True,
) -> TakenOff:
    """Lay a project, count what it takes, and compare that with another one where asked.

    Parameters
    ----------
    project : Project
    path : path, optional
        The project's own file, beside which heights are looked for.
    supplies : path, optional
        CSV of own items with units of sale and prices; they go before the project's.
    against : path, optional
        Another project, taken off in the same way; the differences are from it.
    with_water : bool
        Whether the drip system's pipes and fittings are in it.

    Raises
    ------
    InputProblem
    """
    from ..formats.project_file import revision_of
    from .survey import survey_view

    revision = revision_of(project)
    changed_from = ""
    if supplies is not None:
        from .catalogue import user_supplies_from
        from .material_edits import with_own_supplies

        project = with_own_supplies(project, user_supplies_from(Path(supplies)))
    if against is not None:
        other = _opened(against)
        settled = _settled_of(other, against, with_water)
        changed_from = f"{other.name} ({Path(against).name})"
        known = project.materials or Materials()
        project = replace(project, materials=replace(known, settled=settled))
    answer, terrain, notes = _counted(project, path, with_water)
    unit = survey_view(project).people_unit
    return TakenOff(answer, unit, terrain, revision, changed_from, notes)


def _opened(path: str) -> Project:
    from .opening import open_any

    return open_any(path)


def _settled_of(project: Project, path: str, with_water: bool) -> SettledTakeOff:
    from .material_edits import settled_from

    answer, _, _ = _counted(project, path, with_water)
    return settled_from(answer)


def _counted(project: Project, path, with_water: bool):
    """The answer, where heights come from, and what is to be told."""
    from .stakeout import lay_project
    from .terrain import terrain_or_finding

    if not project.blocks:
        raise InputProblem(
            f"{project.name} has no block to take materials for: open its outline again."
        )
    plans = lay_project(project, check=False)
    terrain, unread = terrain_or_finding(project, path)
    surface = None if terrain is None else terrain.surface
    parts, notes = water_parts_of(project, plans, surface) if with_water else ((), ())
    answer = TakeOffCounter().answer(TakeOffRequest(0, project, plans, surface, tuple(parts)))
    found: tuple[Finding, ...] = (*unread, *answer.findings)
    return replace(answer, findings=found), "" if terrain is None else terrain.statement, notes


def water_parts_of(project: Project, plans, surface):
    """Pipes and fittings of the drip system, and a note where it is one by usual values."""
    from .watering import WaterDesigner, WaterRequest

    try:
        parts = WaterDesigner().answer(WaterRequest(0, project, plans, surface)).parts
    except InputProblem as problem:
        return (), (f"Pipes and fittings of the drip system are left out: {problem}",)
    if project.water is not None or not parts:
        return parts, ()
    return parts, (
        "Pipes and fittings are those of a drip system by usual values: the project says nothing of "
        "its water yet.",
    )
