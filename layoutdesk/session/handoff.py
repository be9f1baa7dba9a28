"""What a stake-out set will hold, said before anything is written."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from ..core.model import Project
from .layouts import LayoutAnswer
from .opened import SetThere, set_in
from .survey import SurveyView
from .tally import grouped


@dataclass(frozen=True)
class FileToWrite:
    """One file of the set: its name, what is in it, and in which system."""

    name: str
    holds: str
    system: str


@dataclass(frozen=True)
class Preview:
    """A stake-out set before it is written.

    Attributes
    ----------
    files : tuple of FileToWrite
    factor : str
        What grid distances are against those on the ground.
    there : str
        What the folder holds already, empty where nothing.
    wrong : int
        Findings that have to be mended first.
    """

    files: tuple[FileToWrite, ...]
    factor: str
    there: str
    wrong: int


def preview_of(
    project: Project, answer: LayoutAnswer, survey: SurveyView, folder: Path | None
) -> Preview:
    """What would be written now, from a settled answer."""
    plans = answer.plans
    counts = {
        name: sum(len(getattr(p, name)) for p in plans)
        for name in ("end_posts", "line_posts", "anchors", "vines")
    }
    points = sum(counts.values())
    listed = ", ".join(f"{grouped(n)} {name.replace('_', ' ')}" for name, n in counts.items() if n)
    segments = sum(p.n_segments for p in plans)
    grid = survey.grid
    code = grid.crs if len(grid.crs) < 40 else "own definition"
    in_grid = f"{grid.name} ({code}), {grid.unit}, grid coordinates"
    n = len(project.exclusions)
    exclusions = f", {_counted(n, 'exclusion')}" if n else ""
    files = (
        FileToWrite("stakes.csv", f"{grouped(points)} points: {listed}", in_grid),
        FileToWrite(
            "stakes.dxf",
            f"{_counted(segments, 'row segment')}, {grouped(points)} points, "
            f"{_counted(len(project.blocks), 'outline')}{exclusions}",
            in_grid,
        ),
        FileToWrite(
            "stakes.geojson",
            f"{grouped(points + segments + len(project.blocks))} features",
            "WGS 84, longitude and latitude in degrees",
        ),
        FileToWrite("project.gpkg", "this project with its layers", "the site frame, metres"),
        FileToWrite("summary.json, about.txt", "counts, definitions, check distances", "text"),
    )
    there = set_in(folder) if folder is not None and folder.is_dir() else None
    return Preview(
        files,
        survey.factor,
        _there(there, project),
        sum(f.severity == "wrong" for f in answer.findings),
    )


def _counted(n: int, word: str) -> str:
    return f"{n} {word}" if n == 1 else f"{grouped(n)} {word}s"


def _there(there: SetThere | None, project: Project) -> str:
    from ..formats.project_file import revision_of

    if there is None:
        return ""
    if there.revision == revision_of(project):
        return f"This plan is written there already: {there.words}."
    return f"The folder holds {there.words}, which will be replaced."
