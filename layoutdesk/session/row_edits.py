"""How a block's rows run, set on the plan: bearing, first row, alleys, guide line."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..core.geometry.axes import bearing_of
from ..core.layout.courses import guide_bearing_deg
from ..core.model import Alley, Guide, InputProblem, Project, RowPlan
from .rule_scope import with_rules


def with_bearing_through(project: Project, names, places_m) -> Project:
    """The project with rows along the line from one place to another."""
    (x0, y0), (x1, y1) = places_m
    if np.hypot(x1 - x0, y1 - y0) < 0.01:
        raise InputProblem("Both places are one: set them farther apart.")
    bearing = round(float(bearing_of(x1 - x0, y1 - y0)), 4)
    return with_rules(project, names, lambda rules: replace(rules, bearing_deg=bearing))


def with_first_row_through(project: Project, plan: RowPlan, x_m: float, y_m: float) -> Project:
    """The project with a row line of a block through a place, row 1 within one spacing of the rim."""
    if plan.course is not None:
        from ..core.geometry.curves import to_lines

        across = float(to_lines(plan.course.guide, [(x_m, y_m)])[1][0])
    else:
        across = float(plan.axes.to_axes(np.array([x_m, y_m]))[1])
    if not plan.n_lines:
        raise InputProblem(f"{plan.block.name} has no rows yet: make its clear strips narrower.")
    spacing = plan.rules.row_spacing_m
    offset = round((across - plan.extent_across_m[0]) % spacing, 4) % spacing
    return with_rules(project, (plan.block.name,), lambda rules: replace(rules, first_row_m=offset))


def block_at(project: Project, x_m: float, y_m: float) -> str:
    """The block that holds a place, else the nearest one."""
    import shapely

    away = shapely.distance([b.outline for b in project.blocks], shapely.Point(x_m, y_m))
    return project.blocks[int(np.argmin(away))].name


def with_alley(project: Project, name: str, x_m: float, y_m: float) -> Project:
    """The project with an alley at right angles to a block's rows through a place."""

    def change(rules):
        fresh = Alley(x_m, y_m, rules.alley_width_m or 6.0)
        return replace(rules, alleys=(*rules.alleys, fresh))

    return with_rules(project, (name,), change)


def with_alley_at(project: Project, name: str, i: int, x_m: float, y_m: float) -> Project:
    """The project with one of a block's alleys elsewhere."""

    def change(rules):
        alleys = list(rules.alleys)
        alleys[i] = replace(alleys[i], x_m=x_m, y_m=y_m)
        return replace(rules, alleys=tuple(alleys))

    return with_rules(project, (name,), change)


def without_alley(project: Project, name: str, i: int) -> Project:
    """The project with one of a block's alleys taken away."""
    return with_rules(
        project,
        (name,),
        lambda rules: replace(rules, alleys=rules.alleys[:i] + rules.alleys[i + 1 :]),
    )


def with_guide(project: Project, name: str, places_m, smooth: bool = True) -> Project:
    """The project with a block's rows parallel to a drawn line.

    Raises
    ------
    InputProblem
        Where the line turns too sharply to be followed.
    """
    from ..core.geometry.curves import guide_curve

    guide = Guide(tuple((float(x), float(y)) for x, y in places_m), smooth)
    try:
        guide_curve(np.array(guide.points_m), smooth=smooth)
    except ValueError as problem:
        said = str(problem).rpartition(": ")[2]
        raise InputProblem(f"Rows cannot follow this line ({said}): draw a gentler one.") from None
    block = project.block(name)
    if block.rules.leftover == "across":
        raise InputProblem(
            "Vines cannot line up across curved rows: let what is left over go to an end first."
        )
    rules = replace(block.rules, bearing_deg=round(guide_bearing_deg(guide), 4))
    return project.with_block(replace(block, rules=rules, guide=guide, common=False))


def without_guide(project: Project, name: str) -> Project:
    """The project with a block's rows straight again, at the bearing of the guide line's ends."""
    return project.with_block(replace(project.block(name), guide=None))
