"""The sample sites: what each shows and how it is opened."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from pathlib import Path

from ..core.model import Project, RowRules, Terrain
from .places import sample_sites


@dataclass(frozen=True)
class Sample:
    """One invented site, with its files beside its site.json."""

    name: str
    title: str
    about: str
    folder: Path
    outline: Path
    exclusions: tuple[tuple[Path, float | None], ...]
    rules: dict
    height_m: float
    expected: dict
    terrain: Terrain | None = None


def samples() -> tuple[Sample, ...]:
    """All sample sites that come with the program."""
    found = []
    for name, folder in sample_sites().items():
        said = json.loads((folder / "site.json").read_text(encoding="utf-8"))
        found.append(
            Sample(
                name,
                said["title"],
                said["about"],
                folder,
                folder / said["outline"],
                tuple(
                    (folder / e["file"], e.get("clearance_m")) for e in said.get("exclusions", ())
                ),
                said.get("rules", {}),
                said["height_m"],
                said.get("expected", {}),
                _terrain(folder, said.get("terrain")),
            )
        )
    return tuple(found)


def _terrain(folder: Path, said: dict | None) -> Terrain | None:
    return said and Terrain(str(folder / said["file"]), said["unit"], said["datum"])


def open_sample(sample: Sample) -> Project:
    """The project of a sample site."""
    from .opening import project_from_outline

    project = project_from_outline(
        sample.outline,
        height_m=sample.height_m,
        exclusions=sample.exclusions,
        rules=RowRules(**sample.rules),
    )
    return replace(project, name=sample.title, terrain=sample.terrain)
