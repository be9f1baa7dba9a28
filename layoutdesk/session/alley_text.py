"""Alleys set down in place as words with values, and the edits those values make."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely

from ..core.geometry.axes import RowAxes
from ..core.model import Alley, Block, InputProblem, Project
from .rule_typing import stepped_figure, typed_length_m
from .rule_words import step_of
from .specification import Sentence, Value, shown_bearing, shown_exactly, shown_length
from .units import unit_length_m

RULE = "alley"
MOST_M = 1000.0


def is_alley(rule: str) -> bool:
    """Whether a value of the paragraph is the width of an alley in place."""
    return rule.split(" ")[0] == RULE


def along_m(block: Block, alley: Alley) -> float:
    """How far along the rows an alley's place lies from where the block begins. [m]

    Examples
    --------
    >>> along_m(Block("B1", shapely.box(0, 0, 100, 50)), Alley(50, 30, 6))
    30.0
    """
    axes = RowAxes(block.rules.bearing_deg)
    begin = axes.to_axes(shapely.get_coordinates(block.outline))[:, 0].min()
    return float(axes.to_axes(np.array([alley.x_m, alley.y_m]))[0] - begin)


def alley_words(blocks: tuple[Block, ...], unit: str = "m") -> Sentence:
    """The end of a sentence that tells every alley in place; empty where there are none.

    Examples
    --------
    >>> from layoutdesk.core.model import RowRules
    >>> block = Block("B1", shapely.box(0, 0, 9, 50), RowRules(alleys=(Alley(5, 30, 6),)))
    >>> "".join(p.text if isinstance(p, Value) else p for p in alley_words((block,)))
    '; one 6.0 m wide lies 30.0 m along them'
    """
    parts: list[str | Value] = []
    for block in blocks:
        for i, alley in enumerate(block.rules.alleys):
            width = shown_exactly(alley.width_m, unit)
            name = f"width of alley {i + 1} of {block.name}"
            rows = "them" if len(blocks) == 1 else f"those of {block.name}"
            place = f"{shown_length(along_m(block, alley), unit, 1)} along {rows}"
            if alley.bearing_deg is not None:
                place += f" at {shown_bearing(alley.bearing_deg)}"
            parts += [
                ", and one " if parts else "; one ",
                Value(f"{RULE} {i} {block.name}", width, name, step_of("alley_width_m", unit)),
                f" wide lies {place}",
            ]
    return tuple(parts)


def _named(rule: str) -> tuple[int, str]:
    _, index, name = rule.split(" ", 2)
    return int(index), name


def typed_alley_m(text: str, unit: str) -> float:
    """The width of an alley as typed, 0 for "none". [m]

    Raises
    ------
    InputProblem
        Where it is no length, or too long.
    """
    if text.strip().lower() in ("no", "none"):
        return 0.0
    metres = typed_length_m(text, unit)
    if not 0 <= metres <= MOST_M:
        most = shown_length(MOST_M, unit)
        raise InputProblem(
            f"Alley width must lie between {shown_length(0, unit)}, which takes it out, and {most}."
        )
    return metres


def stepped_alley_m(project: Project, rule: str, steps: float, unit: str) -> float:
    """The width of an alley moved by so many steps; one step is the least it comes to. [m]"""
    index, name = _named(rule)
    size, step = unit_length_m(unit), step_of("alley_width_m", unit)
    now = project.block(name).rules.alleys[index].width_m / size
    return min(max(stepped_figure(now, steps, step), step) * size, MOST_M)


def with_alley_width(
    project: Project, names: tuple[str, ...], rule: str, width_m: float
) -> Project:
    """The project with one alley as wide, or gone where that is 0; `names` share the rules it is in."""
    index, name = _named(rule)
    before = project.block(name).rules.alleys
    for each in names:
        block = project.block(each)
        if block.rules.alleys != before:
            continue
        changed = (replace(before[index], width_m=width_m),) if width_m else ()
        alleys = (*before[:index], *changed, *before[index + 1 :])
        project = project.with_block(replace(block, rules=replace(block.rules, alleys=alleys)))
    return project


def alley_name(rule: str) -> str:
    """What an alley's width is called, for undo."""
    index, name = _named(rule)
    return f"width of alley {index + 1} of {name}"
