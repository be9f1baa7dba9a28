"""A drip system as asked for on the command line: laid, designed, with the heights it stands on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from ..core.model import InputProblem, Project
from .watering import WaterAnswer


@dataclass(frozen=True, eq=False)
class Watered:
    """A drip system, and what is to be said beside it.

    Attributes
    ----------
    answer : WaterAnswer
    unit : str
        Of lengths for people.
    terrain : TerrainRead or None
    """

    answer: WaterAnswer
    unit: str
    terrain: object | None

    @property
    def said(self) -> dict:
        """As `water_set` and `write_water_set` take it."""
        return {"terrain_read": self.terrain}


def watered(
    project: Project, path=None, values: Mapping[str, str] | None = None, names=None
) -> Watered:
    """Lay a project, and design its drip system as it says and as is asked for.

    Parameters
    ----------
    project : Project
    path : path, optional
        The project's own file, beside which heights are looked for.
    values : mapping of str to str, optional
        Text by option, of `asked_water.WATER_OPTIONS`.
    names : sequence of str, optional
        Blocks that drip systems are asked for; all of them, if left out.

    Raises
    ------
    InputProblem
    """
    from .asked_rules import chosen_names
    from .asked_water import with_asked_water
    from .stakeout import lay_project
    from .survey import survey_view
    from .terrain import terrain_or_finding
    from .watering import WaterDesigner, WaterRequest

    if not project.blocks:
        raise InputProblem(f"{project.name} has no block to water: open its outline again.")
    scope = chosen_names(project, tuple(names)) if names else None
    if values:
        project = with_asked_water(project, values, scope)
    plans = lay_project(project, check=False)
    terrain, unread = terrain_or_finding(project, path)
    surface = None if terrain is None else terrain.surface
    answer = WaterDesigner().answer(WaterRequest(0, project, plans, surface))
    answer = replace(answer, findings=(*unread, *answer.findings))
    return Watered(answer, survey_view(project).people_unit, terrain)
