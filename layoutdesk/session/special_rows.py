"""Leaving out, trimming, shifting and adding: what is special about one row, post or vine.

Every function gives a new project; a plan says where things stand now.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..core.layout.numbering import mark_code, segment_code
from ..core.model import InputProblem, Override, Project, RowPlan

MOST_MOVED_M = 200.0
"""No end post is moved farther than this at once. [m]"""


@dataclass(frozen=True)
class Picked:
    """One thing on the plan: a row segment, or a post or vine in it.

    Attributes
    ----------
    block : str
    kind : str
        "row", "end_post", "line_post", "vine", or "left_out" for a row that is left out and
        "gap" for a vine that is.
    segment : int
        In the plan's segments, or in its `left_out`.
    index : int
        Of the mark in its segment, 1, 2, …; for a gap its number; 0 for rows.
    place_m : (float, float)
        Site frame. [m]
    """

    block: str
    kind: str
    segment: int
    index: int
    place_m: tuple[float, float]


def pick(plan: RowPlan, x_m: float, y_m: float, reach_m: float, marks: bool) -> Picked | None:
    """What lies at a place: a vine or post where `marks` are shown, else the row; None where nothing.

    Looked up by spatial index, then along one row alone.
    """
    import shapely

    from ..core.layout.looking import segment_at

    at, name = np.array([x_m, y_m]), plan.block.name
    gaps = plan.gaps_m
    if marks and len(gaps):
        away = np.hypot(*(gaps - at).T)
        i = int(np.argmin(away))
        if away[i] <= reach_m:
            s = plan.special
            return Picked(name, "gap", int(s.gap_segment[i]), int(s.gap_index[i]), _pair(gaps[i]))
    reach_row_m = max(reach_m, 0.5 * plan.rules.row_spacing_m)
    segment = segment_at(plan, x_m, y_m, reach_row_m)
    if segment is not None:
        reach_row_m = float(shapely.distance(plan.shapes[segment], shapely.Point(at)))
    empty = _pick_left_out(plan, at, reach_row_m)
    if empty is not None or segment is None:
        return empty
    part = plan.part(segment, segment + 1)
    if marks:
        best, nearest = None, reach_m
        for found in (part.end_posts, part.line_posts, part.vines):
            if not len(found):
                continue
            away = np.hypot(*(found.xy_m - at).T)
            i = int(np.argmin(away))
            if away[i] < nearest:
                nearest = away[i]
                best = Picked(name, found.kind, segment, int(found.index[i]), _pair(found.xy_m[i]))
        if best is not None:
            return best
    start, far = plan.segment_ends_m[segment]
    for end, place in ((1, start), (2, far)):
        if np.hypot(*(place - at)) <= reach_m:
            return Picked(name, "end_post", segment, end, _pair(place))
    middle = plan.places(
        np.array([segment]),
        np.array([plan.segments.start_m[segment] + plan.segments.end_m[segment]]) / 2,
    )[0]
    return Picked(name, "row", segment, 0, _pair(middle))


def _pair(place) -> tuple[float, float]:
    return float(place[0]), float(place[1])


def left_out_ends_m(plan: RowPlan) -> np.ndarray:
    """Ends of the segments that are left out, shape (k, 2, 2). [m]"""
    s = plan.left_out
    if s is None:
        return np.empty((0, 2, 2))
    if plan.left_out_ends_m is not None:
        return plan.left_out_ends_m
    return np.stack(
        [plan.on_lines(s.line, s.start_m, s.across_m), plan.on_lines(s.line, s.end_m, s.across_m)],
        axis=1,
    )


def _pick_left_out(plan: RowPlan, at: np.ndarray, reach_m: float) -> Picked | None:
    import shapely

    ends = left_out_ends_m(plan)
    if not len(ends):
        return None
    away = shapely.distance(shapely.linestrings(ends), shapely.Point(at))
    i = int(np.argmin(away))
    if away[i] > reach_m:
        return None
    return Picked(plan.block.name, "left_out", i, 0, _pair(ends[i].mean(axis=0)))


def code_of(plan: RowPlan, picked: Picked) -> str:
    """The code of what is picked."""
    s = plan.left_out if picked.kind == "left_out" else plan.segments
    number, letter = int(s.number[picked.segment]), int(s.letter[picked.segment])
    if picked.kind in ("row", "left_out"):
        return segment_code(plan.block.name, number, letter)
    kind = "vine" if picked.kind == "gap" else picked.kind
    return mark_code(plan.block.name, number, letter, kind, picked.index)


# edits


def _with(project: Project, block: str, overrides) -> Project:
    return project.with_block(replace(project.block(block), overrides=tuple(overrides)))


def _adding(project: Project, plan: RowPlan, what: str, segment: int, place_m) -> Project:
    block = project.block(plan.block.name)
    x, y = _pair(place_m)
    fresh = Override(what, int(plan.segments.line[segment]), x, y)
    return _with(project, block.name, (*block.overrides, fresh))


def with_rows_left_out(project: Project, plan: RowPlan, segments) -> Project:
    """The project with segments of a plan not planted."""
    s, which = plan.segments, np.asarray(segments, dtype=np.intp)
    if not len(which):
        return project
    middles = plan.places(which, (s.start_m[which] + s.end_m[which]) / 2)
    fresh = tuple(
        Override("row left out", line, x, y)
        for line, (x, y) in zip(s.line[which].tolist(), middles.tolist(), strict=True)
    )
    block = project.block(plan.block.name)
    return _with(project, block.name, (*block.overrides, *fresh))


def with_end_at(
    project: Project, plan: RowPlan, segment: int, end: int, x_m: float, y_m: float
) -> Project:
    """The project with an end post (1 start, 2 far) put where its row passes a place.

    What was set for this end before is replaced.
    """
    here = plan.segment_ends_m[segment, end - 1]
    if np.hypot(*(here - (x_m, y_m))) > MOST_MOVED_M:
        raise InputProblem(
            f"An end post is moved by {MOST_MOVED_M:g} m at most: pick a place nearer to it."
        )
    line = int(plan.segments.line[segment])
    block = project.block(plan.block.name)
    kept = [
        o
        for o in block.overrides
        if not (
            o.what in ("end moved", "end staked")
            and o.line == line
            and np.hypot(*(here - (o.x_m, o.y_m))) < 0.05
        )
    ]
    project = _with(project, block.name, kept)
    return _adding(project, plan, "end moved", segment, (x_m, y_m))


def with_end_moved(
    project: Project, plan: RowPlan, segment: int, end: int, out_m: float
) -> Project:
    """The project with an end post moved outward along its row; negative trims the row. [m]"""
    place = plan.segment_ends_m[segment, end - 1] + out_m * plan.outward[segment, end - 1]
    return with_end_at(project, plan, segment, end, *_pair(place))


def with_post_moved(
    project: Project, plan: RowPlan, segment: int, index: int, far_m: float
) -> Project:
    """The project with a line post moved towards the far end. [m]"""
    posts = plan.line_posts
    mine = np.flatnonzero(posts.segment == segment)[index - 1]
    s, every = plan.segments, plan.rules.line_post_every
    step = float(s.vine_step_m[segment])
    regular = s.start_m[segment] + s.first_vine_m[segment] + (index * every - 0.5) * step
    place = posts.xy_m[mine] + far_m * plan.outward[segment, 1]
    along = plan.places(np.array([segment, segment]), np.array([regular, regular + 1.0]))
    shift = float((place - along[0]) @ (along[1] - along[0]))
    if abs(shift) >= every * step / 2:
        raise InputProblem(
            f"A line post is moved by less than half its interval ({every * step / 2:.2f} m): "
            "give less."
        )
    line = int(s.line[segment])
    block = project.block(plan.block.name)
    kept = [
        o
        for o in block.overrides
        if not (
            o.what == "line post moved"
            and o.line == line
            and np.hypot(*(posts.xy_m[mine] - (o.x_m, o.y_m))) < 0.05
        )
    ]
    project = _with(project, block.name, kept)
    return (
        project if abs(shift) < 1e-9 else _adding(project, plan, "line post moved", segment, place)
    )


def with_vine_left_out(project: Project, plan: RowPlan, picked: Picked) -> Project:
    """The project with a vine place left empty; one that was added is taken away again."""
    added = _nearest(project, picked, "vine added")
    if picked.index > int(plan.segments.n_vines[picked.segment]) and added is not None:
        return without_override(project, picked.block, added)
    return _adding(project, plan, "vine left out", picked.segment, picked.place_m)


def with_vine_added(project: Project, plan: RowPlan, x_m: float, y_m: float) -> Project:
    """The project with one more vine on the row at a place.

    Raises
    ------
    InputProblem
        Where no row is there, or a vine or end post stands there already.
    """
    from ..core.layout.looking import segment_at

    segment = segment_at(plan, x_m, y_m, plan.rules.row_spacing_m / 2)
    if segment is None:
        raise InputProblem("There is no row to add a vine to: pick a place on a row.")
    part = plan.part(segment, segment + 1)
    vines = part.vines.xy_m
    if len(vines) and np.hypot(*(vines - (x_m, y_m)).T).min() < 0.1:
        raise InputProblem("A vine stands there already: pick a place between two vines.")
    return _adding(project, plan, "vine added", segment, (x_m, y_m))


_OF_KIND = {"left_out": "row left out", "gap": "vine left out"}


def put_back(project: Project, picked: Picked) -> Project:
    """The project with a row or vine that was left out planted again."""
    i = _nearest(project, picked, _OF_KIND[picked.kind])
    return project if i is None else without_override(project, picked.block, i)


def _nearest(project: Project, picked: Picked, what: str) -> int | None:
    overrides = project.block(picked.block).overrides
    away = [
        (np.hypot(o.x_m - picked.place_m[0], o.y_m - picked.place_m[1]), i)
        for i, o in enumerate(overrides)
        if o.what == what
    ]
    return min(away)[1] if away else None


def without_override(project: Project, block: str, i: int) -> Project:
    """The project with one of a block's overrides taken back."""
    overrides = project.block(block).overrides
    return _with(project, block, overrides[:i] + overrides[i + 1 :])


def without_unfit(project: Project, plans) -> Project:
    """The project without the overrides that no longer fit."""
    for plan in plans:
        overrides = project.block(plan.block.name).overrides
        kept = [o for i, o in enumerate(overrides) if i not in plan.unfit]
        project = _with(project, plan.block.name, kept)
    return project


def as_the_rules_say(project: Project, plan: RowPlan, segment: int) -> Project:
    """The project with everything special about one segment taken back."""
    import shapely

    line, row = int(plan.segments.line[segment]), plan.shapes[segment]
    reach = plan.rules.row_spacing_m / 2
    block = project.block(plan.block.name)
    kept = [
        o
        for o in block.overrides
        if o.line != line or shapely.distance(row, shapely.Point(o.x_m, o.y_m)) > reach
    ]
    return _with(project, block.name, kept)


def is_special(plan: RowPlan, segment: int) -> bool:
    """Whether something special is set on a segment."""
    s, line = plan.special, int(plan.segments.line[segment])
    touched = np.r_[s.gap_segment, s.added_segment, s.post_segment]
    ends = ("end moved", "end staked")
    moved = any(o.what in ends and o.line == line for o in plan.block.overrides)
    return bool((touched == segment).any()) or moved
