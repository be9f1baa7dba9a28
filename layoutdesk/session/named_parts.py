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


def _with_assignments(project: Project, change) -> Project:
    """The project with the parts of every assignment changed."""
    planting = project.planting
    if planting is None or not planting.assignments:
        return project
    changed = tuple(replace(a, parts=change(a.parts)) for a in planting.assignments)
    return replace(project, planting=replace(planting, assignments=changed))


def with_renamed_parts(project: Project, old: str, new: str) -> Project:
    """What belonged to one name belongs to another; where vines are on record, the new name is too."""
    project = _with_renamed_record(project, old, new)
    project = _with_assignments(
        project,
        lambda parts: tuple(replace(p, block=new) if p.block == old else p for p in parts),
    )
    return _with_pairs(
        project, lambda pairs: tuple((new if name == old else name, v) for name, v in pairs)
    )


def _with_renamed_record(project: Project, old: str, new: str) -> Project:
    """The project with an entry that tells the new name, where the register knows the old one.

    It has no day and nobody's name: it says nothing of vines, and an edit has no clock.
    """
    register = project.register
    if register is None or old == new:
        return project
    names = set(register.block_names)
    today = {told[0] for told in names}
    blocks = {block.name for block in project.blocks}
    # A rename that was saved and then undone has left a name in the register that no block has.
    known = {told[0] for told in names if old in told and told[0] not in blocks}
    renamed = ((old, new),) if old in today else tuple((name, new) for name in sorted(known))
    if not renamed:
        return project
    register = register.with_batch(recorded="", by="", source="rename", renamed=renamed)
    return replace(project, register=register)


def with_parts_alike(project: Project, like: str, names: tuple[str, ...]) -> Project:
    """New blocks have the trellis, the drip system and the plants of another.

    Plants that were assigned to all of it are: rows have other numbers in the new ones.
    """
    materials, water = project.materials, project.water
    for name in names:
        if materials is not None:
            materials = materials.with_trellis(name, materials.trellis_of(like))
        if water is not None:
            water = water.with_drip(name, water.drip_of(like))
    project = _with_assignments(project, lambda parts: _alike(parts, like, names))
    return replace(project, materials=materials, water=water)


def _alike(parts, like: str, names: tuple[str, ...]):
    more = [
        replace(part, block=name)
        for part in parts
        if part.block == like and part.first_row is None
        for name in names
        if name != like
    ]
    return (*parts, *(part for part in more if part not in parts))


def without_lost_parts(project: Project) -> Project:
    """No trellis and no drip system waits for a block that is gone.

    What was settled or assigned stays, and what was recorded at vines always does; a finding tells which
    plants have no rows any more.
    """
    names = {b.name for b in project.blocks}
    materials, water = project.materials, project.water
    if materials is not None:
        kept = tuple((n, t) for n, t in materials.trellises if n in names)
        materials = replace(materials, trellises=kept)
    if water is not None:
        water = replace(water, drips=tuple((n, d) for n, d in water.drips if n in names))
    return replace(project, materials=materials, water=water)
