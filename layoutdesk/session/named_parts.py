"""What a project says of its blocks by name: carried along when blocks are renamed, split or removed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from ..core.model import Project

Pairs = tuple[tuple[str, object], ...]


def _with_pairs(project: Project, change: Callable[[Pairs], Pairs]) -> Project:
    """The project with a change made to everything that is listed by block name."""
    study, materials, water = project.study, project.materials, project.water
    if study is not None and study.blocks:
        named = change(tuple((name, None) for name in study.blocks))
        study = replace(study, blocks=tuple(name for name, _ in named))
    if materials is not None:
        settled = materials.settled
        if settled is not None:
            settled = replace(settled, amounts=change(settled.amounts))
        materials = replace(materials, trellises=change(materials.trellises), settled=settled)
    if water is not None:
        water = replace(water, drips=change(water.drips))
    return replace(project, study=study, materials=materials, water=water)


def with_renamed_parts(project: Project, old: str, new: str) -> Project:
    """What belonged to one name belongs to another."""
    return _with_pairs(
        project, lambda pairs: tuple((new if name == old else name, v) for name, v in pairs)
    )


def with_parts_alike(project: Project, like: str, names: tuple[str, ...]) -> Project:
    """New blocks have the trellis and the drip system of another."""
    materials, water = project.materials, project.water
    for name in names:
        if materials is not None:
            materials = materials.with_trellis(name, materials.trellis_of(like))
        if water is not None:
            water = water.with_drip(name, water.drip_of(like))
    return replace(project, materials=materials, water=water)


def without_lost_parts(project: Project) -> Project:
    """No trellis and no drip system waits for a block that is gone; what was settled stays on record."""
    names = {b.name for b in project.blocks}
    materials, water = project.materials, project.water
    if materials is not None:
        kept = tuple((n, t) for n, t in materials.trellises if n in names)
        materials = replace(materials, trellises=kept)
    if water is not None:
        water = replace(water, drips=tuple((n, d) for n, d in water.drips if n in names))
    return replace(project, materials=materials, water=water)
