"""Laying out a whole project and writing its stake-out set."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from ..core.layout.checks import site_findings
from ..core.layout.rows import lay_rows
from ..core.model import Finding, InputProblem, Project, RowPlan
from ..formats import crs as systems
from ..formats.stakeset import StakeSet

if TYPE_CHECKING:
    from ..formats.terrain import TerrainRead

SLOPE_CAUTION = (
    "Slopes, wires under tension and heavy loads injure people: the machine's manual and the "
    "employer's rules govern."
)
CAUTIONS = (
    "Before any post is driven: have buried services located (the local one-call service; private "
    "lines are not marked).",
    "Keep posts, pipes and augers clear of overhead lines; their owner states the distance.",
    "Property boundaries and monuments are for a licensed surveyor. Local rules on setbacks, water "
    "and grading come first.",
    SLOPE_CAUTION,
)
"""Printed with every stake-out set."""


def lay_project(project: Project, *, check: bool = True) -> tuple[RowPlan, ...]:
    """The plans of all blocks, in the project's order.

    Raises
    ------
    InputProblem
        Where a block's rules contradict each other.
    """
    plans = []
    for block in project.blocks:
        try:
            plans.append(lay_rows(block, block.rules, project.exclusions, check=check))
        except ValueError as problem:
            raise InputProblem(f"Block {block.name} cannot be laid out: {problem}.") from None
    return tuple(plans)


def project_findings(
    project: Project, plans, terrain: TerrainRead | None = None
) -> tuple[Finding, ...]:
    """Everything found, from reading the outline to the last anchor, heights included where given.

    The worst first, and of one severity those first that have a place to go to.
    """
    _, shift, _ = systems.frame_to_wgs84(project.site.frame)
    found = [
        *(f for f in project.site.findings if _still_true(f, project)),
        *systems.survey_findings(project.site.frame, project.site.survey_crs, shift),
        *site_findings(project.blocks, project.exclusions),
        *(f for plan in plans for f in plan.findings),
        *_terrain_findings(plans, terrain),
    ]
    order = {"wrong": 0, "caution": 1, "note": 2}
    return tuple(sorted(found, key=lambda f: (order[f.severity], f.place is None)))


def _terrain_findings(plans, terrain: TerrainRead | None) -> tuple[Finding, ...]:
    if terrain is None:
        return ()
    from ..core.terrain.checks import terrain_findings

    return *terrain.findings, *terrain_findings(plans, terrain.surface)


_SAME_BEARING_DEG = 5e-5  # the finding tells a bearing to four decimals


def _still_true(finding: Finding, project: Project) -> bool:
    """Whether what was said when the outline was read has not been decided otherwise since."""
    if finding.code != "bearing-chosen":
        return True
    from .opening import longest_edge_bearing_deg

    block = next((b for b in project.blocks if b.name == finding.where), None)
    if block is None or block.guide is not None:
        return False
    away = block.rules.bearing_deg - longest_edge_bearing_deg(block.outline)
    return abs((away + 180) % 360 - 180) < _SAME_BEARING_DEG


def stake_set(project: Project, plans=None, project_path=None) -> StakeSet:
    """What the stake-out files are written from; lays the project where no plans are given.

    `project_path` is the project's own file, beside which heights are looked for too.
    """
    from ..formats.project_file import revision_of
    from ..formats.smooth import fitted
    from .terrain import terrain_or_finding

    if not project.blocks:
        raise InputProblem(f"{project.name} has no block to stake out: open its outline again.")
    plans = lay_project(project) if plans is None else plans
    frame, survey_crs = project.site.frame, project.site.survey_crs
    grid = systems.survey_grid(frame, survey_crs)
    to_survey = systems.frame_to_survey(frame, survey_crs)
    to_wgs84, shift, smooth = systems.frame_to_wgs84(frame)
    around = bounds_of(project)
    degree_m = 111_320.0
    terrain, unread = terrain_or_finding(project, project_path)
    return StakeSet(
        project,
        tuple(plans),
        grid,
        fitted(to_survey, around, (grid.unit_m, grid.unit_m)),
        fitted(to_wgs84, around, (degree_m, degree_m)) if smooth else to_wgs84,
        shift,
        revision_of(project),
        (*unread, *project_findings(project, plans, terrain)),
        None if terrain is None else terrain.surface.heights_m,
        "" if terrain is None else terrain.statement,
    )


_BEYOND_M = 25.0


def bounds_of(project: Project):
    import shapely

    x0, y0, x1, y1 = shapely.total_bounds(
        [b.outline for b in project.blocks] + [e.shape for e in project.exclusions]
    )
    return x0 - _BEYOND_M, y0 - _BEYOND_M, x1 + _BEYOND_M, y1 + _BEYOND_M


def write_stake_set(folder, stakes: StakeSet, progress=None) -> dict:
    """Write the whole set into a folder and give back its summary.

    An export that is interrupted leaves the set that was there before; so does one that would lose what is
    on record in the project of that set.

    Parameters
    ----------
    folder : path
    stakes : StakeSet
    progress : function of (share done, what is written), optional
        May raise to cancel.
    """
    from ..formats.atomic import replacing_set
    from ..formats.project_file import open_project, write_project
    from ..formats.register_tables import hold_records
    from ..formats.stakes_csv import write_stakes_csv
    from ..formats.stakes_dxf import write_stakes_dxf
    from ..formats.stakes_geojson import write_stakes_geojson
    from ..formats.summary import summary_of, write_about, write_summary
    from .about import block_lines

    say = progress or (lambda share, what: None)
    with replacing_set(Path(folder)) as stage:
        say(0.0, "stakes.csv")
        write_stakes_csv(stage / "stakes.csv", stakes)
        say(0.15, "stakes.geojson")
        write_stakes_geojson(stage / "stakes.geojson", stakes)
        say(0.4, "stakes.dxf")
        write_stakes_dxf(stage / "stakes.dxf", stakes)
        say(0.65, "project.gpkg")
        hold_records(Path(folder) / "project.gpkg", stakes.project)
        write_project(stage / "project.gpkg", stakes.project, stakes.plans)
        if open_project(stage / "project.gpkg") != stakes.project:
            raise InputProblem("The project did not read back as it was written: try another disk.")
        say(0.95, "summary.json")
        summary = summary_of(stakes)
        write_summary(stage / "summary.json", summary)
        write_about(stage / "about.txt", stakes, CAUTIONS, block_lines(stakes))
        say(1.0, "done")  # the last moment to stop: from here on the set is replaced
    return summary
