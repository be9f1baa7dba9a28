"""What becomes of measured points: accepted as they are, or adopted as the ends of rows."""

from __future__ import annotations

import datetime
from dataclasses import replace

import numpy as np

from ..core.layout.staked_ends import STAKED
from ..core.model import InputProblem, Override, Project, RowPlan, StakedCheck
from ..core.model.handoff import POINT_KINDS
from .hand_off_set import hand_off_of
from .staked import StakedAnswer

_ENDS = ("end moved", STAKED)
_SAME_M = 1e-6
_END_POST = POINT_KINDS.index("end_post")


def with_accepted(
    project: Project, answer: StakedAnswer, by: str, day: datetime.date, note: str = ""
) -> Project:
    """The project with it on record that measured points were looked at and will do.

    Raises
    ------
    InputProblem
        Where nothing was measured, or nothing matches the plan.
    """
    _refuse_unmeasured(answer)
    return _on_record(project, answer, "accepted", by, day, note)


def with_adopted(
    project: Project,
    answer: StakedAnswer,
    by: str,
    day: datetime.date,
    note: str = "",
    *,
    although: str = "",
) -> Project:
    """The project whose rows run between the ends that were measured.

    End posts that were measured within half a row spacing of their place become the row's ends; what was set for them
    before goes. Ends that were not measured stay as they are laid. It is put on record.

    Parameters
    ----------
    project : Project
    answer : StakedAnswer
        Of this project's plan.
    by : str
        Who says so.
    day : datetime.date
    note : str
    although : str
        Why it is done although the points look like a mistake; goes on record.

    Raises
    ------
    InputProblem
        Where no end post was measured near its place, the points look like a mistake and nothing is said of it, or
        a block has changed since they were compared with it.
    """
    _refuse_unmeasured(answer)
    amiss = [f for f in answer.findings if f.code == "staked-explained" and f.severity == "wrong"]
    if amiss and not although.strip():
        raise InputProblem(
            f"The measured points look like a mistake ({amiss[0].message.rstrip('.')}): mend it and measure again, or "
            "say why they are adopted all the same."
        )
    ends = _measured_ends(answer)
    if not any(ends.values()):
        raise InputProblem(
            "No end post was measured within half a row spacing of its place: nothing can be adopted."
        )
    for plan, fresh in zip(answer.hand.plans, ends.values(), strict=True):
        if not fresh:
            continue
        block = next((b for b in project.blocks if b.name == plan.block.name), None)
        if block != plan.block:
            raise InputProblem(
                f"{plan.block.name} has changed since the measured points were compared with it: compare them again."
            )
        planned = np.array([at for at, _ in fresh])
        kept = _about_others(block.overrides, plan, planned)
        overrides = (*kept, *(override for _, override in fresh))
        project = project.with_block(replace(block, overrides=overrides))
    told = "; ".join(t for t in (note.strip(), although.strip()) if t)
    return _on_record(project, answer, "adopted", by, day, told)


def _about_others(overrides, plan: RowPlan, planned_m: np.ndarray) -> list[Override]:
    """Overrides less those that were set for ends that now have new ones, planned at places (n, 2). [m]

    An end that was measured before stands at exactly its own override; one that was moved by hand stands where
    its row passes the place.
    """
    from scipy.spatial import cKDTree

    unfit = {plan.block.overrides[i] for i in plan.unfit}
    old = [i for i, o in enumerate(overrides) if o.what in _ENDS]
    if not old:
        return list(overrides)
    xy = np.array([(overrides[i].x_m, overrides[i].y_m) for i in old])
    away, _ = cKDTree(planned_m).query(xy)
    exact = np.array([overrides[i].what == STAKED and overrides[i] not in unfit for i in old])
    gone = away <= np.where(exact, _SAME_M, plan.rules.row_spacing_m / 2)
    gone = {i for i, g in zip(old, gone.tolist(), strict=True) if g}
    return [o for i, o in enumerate(overrides) if i not in gone]


def without_adopted(project: Project, block: str = "") -> Project:
    """The project with rows laid by the rules again, in one block or in all; itself where none was adopted.

    Raises
    ------
    InputProblem
        Where there is no such block.
    """
    names = [b.name for b in project.blocks]
    if block and block not in names:
        raise InputProblem(f"There is no block {block!r}: there are {', '.join(names)}.")
    for one in project.blocks:
        kept = tuple(o for o in one.overrides if o.what != STAKED)
        if len(kept) < len(one.overrides) and block in ("", one.name):
            project = project.with_block(replace(one, overrides=kept))
    return project


def _measured_ends(answer: StakedAnswer) -> dict[str, list[tuple[np.ndarray, Override]]]:
    """Of every block, where ends are planned and the overrides that put them where they were measured."""
    pairs, points = answer.matched, answer.matched.points
    owner, kind = points.owner[pairs.planned], points.kind[pairs.planned]
    index, planned = points.index[pairs.planned], points.xy_m[pairs.planned]
    measured = planned + answer.residuals.offset_m
    found: dict[str, list[tuple[np.ndarray, Override]]] = {}
    first = 0
    for plan in answer.hand.plans:
        n = plan.n_segments
        near = answer.residuals.distance_m <= plan.rules.row_spacing_m / 2
        mine = np.flatnonzero(
            (kind == _END_POST) & (owner >= first) & (owner < first + n) & (index <= 2) & near
        )
        lines = plan.segments.line[owner[mine] - first].tolist()
        places = zip(planned[mine], measured[mine].tolist(), lines, strict=True)
        found[plan.block.name] = [(at, Override(STAKED, line, x, y)) for at, (x, y), line in places]
        first += n
    return found


def _refuse_unmeasured(answer: StakedAnswer) -> None:
    if not len(answer.matched.planned):
        raise InputProblem("No measured point matches the plan: there is nothing to decide.")
    stops = [f for f in answer.findings if f.code == "staked-unmeasured"]
    if stops:
        raise InputProblem(stops[0].message)


def _on_record(
    project: Project, answer: StakedAnswer, verdict: str, by: str, day: datetime.date, note: str
) -> Project:
    off = answer.residuals.distance_m
    check = StakedCheck(
        day,
        by.strip(),
        answer.request.path.name,
        answer.checksum,
        len(off),
        float(np.sqrt(np.mean(off**2))),
        float(off.max()),
        verdict,
        answer.hand.plan,
        note.strip(),
    )
    hand = hand_off_of(project)
    return replace(project, hand_off=replace(hand, checks=(*hand.checks, check)))
