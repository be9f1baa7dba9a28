"""What a crew checks a stake-out against: each block in words, and distances between its posts."""

from __future__ import annotations

import math
import re
import textwrap

import numpy as np

from ..core.layout.numbering import mark_code, segment_code
from ..core.model import RowPlan
from ..formats.stakeset import StakeSet
from .exclusions import clearance_sentence
from .specification import as_text, shown_bearing, shown_length, specification

_WIDTH = 100
_PEOPLE_UNITS = {"US survey foot": "usft", "foot": "ft"}


def block_lines(stakes: StakeSet) -> tuple[str, ...]:
    """Every block's specification, its first and last row, and check distances, line by line.

    Lengths are told in metres, and in the survey grid's own foot where that is its unit. A check is
    a straight line between two end posts: on the ground, to be taped, and on the grid, as the files'
    coordinates have it.
    """
    units = ("m",)
    if stakes.survey.unit in _PEOPLE_UNITS:
        units += (_PEOPLE_UNITS[stakes.survey.unit],)
    lines: list[str] = []
    for plan in stakes.plans:
        if lines:
            lines.append("")
        lines += _block(stakes, plan, units)
    return tuple(lines)


def _block(stakes: StakeSet, plan: RowPlan, units: tuple[str, ...]) -> list[str]:
    lines = [f"Block {plan.block.name}"]
    for unit in units:
        kept = clearance_sentence(stakes.project.exclusions, unit)
        words = as_text(
            specification(plan.rules, unit, kept, curved=plan.course is not None)
        ).replace("\n", " ")
        lines += _wrapped(words)
    if plan.course is None:
        true = plan.rules.bearing_deg
        grid = (true - stakes.survey.convergence_deg) % 360
        lines.append(f"  Rows run at {shown_bearing(true)} true, {shown_bearing(grid)} grid.")
    else:
        lines.append("  Rows follow a guide line, so their bearing changes along them.")
    lines += _exceptions(plan)
    if not plan.n_segments:
        return [*lines, "  No row fits."]
    s = plan.segments
    first, last = (np.flatnonzero(s.number == n) for n in (s.number.min(), s.number.max()))
    for word, row in (("First", first), ("Last", last)):
        lengths = [
            f"{segment_code(plan.block.name, int(s.number[i]), int(s.letter[i]))} "
            + " = ".join(_length(float(s.length_m[i]), u) for u in units)
            for i in row
        ]
        lines.append(f"  {word} row is {s.number[row[0]]}: {'; '.join(lengths)}.")
    checks = [((first[0], 0), (first[-1], 1))]
    if first[0] != last[0]:
        checks += [((last[0], 0), (last[-1], 1)), ((first[0], 0), (last[0], 0))]
    return [*lines, *(_check(stakes, plan, a, b, units) for a, b in checks)]


_LISTED = 12


def _exceptions(plan: RowPlan) -> list[str]:
    """What was decided for single rows, posts and vines, by code."""
    s, special, name = plan.segments, plan.special, plan.block.name

    def row(some, i: int) -> str:
        return segment_code(name, int(some.number[i]), int(some.letter[i]))

    def mark(kind: str, segment: int, index: int) -> str:
        return mark_code(name, int(s.number[segment]), int(s.letter[segment]), kind, int(index))

    out = plan.left_out
    rank = np.arange(len(special.added_segment)) - np.searchsorted(
        special.added_segment, special.added_segment
    )
    told = (
        ("Rows left out", [row(out, i) for i in range(len(out))] if out is not None else []),
        (
            "Vines left out",
            [
                mark("vine", a, b)
                for a, b in zip(special.gap_segment, special.gap_index, strict=True)
            ],
        ),
        (
            "Vines added",
            [
                mark("vine", a, s.n_vines[a] + k + 1)
                for a, k in zip(special.added_segment, rank, strict=True)
            ],
        ),
        (
            "Line posts moved",
            [
                mark("line_post", a, b)
                for a, b in zip(special.post_segment, special.post_index, strict=True)
            ],
        ),
    )
    lines = []
    for words, codes in told:
        if codes:
            more = f" and {len(codes) - _LISTED} more" if len(codes) > _LISTED else ""
            lines += _wrapped(f"{words}: {', '.join(codes[:_LISTED])}{more}.")
    ends = sum(o.what == "end moved" for o in plan.block.overrides)
    if ends:
        lines.append(f"  Row ends set by hand: {ends}.")
    unfit = set(plan.unfit)
    measured = sum(
        o.what == "end staked" for i, o in enumerate(plan.block.overrides) if i not in unfit
    )
    if measured:
        lines.append(f"  Row ends that stand where they were measured: {measured}.")
    return lines


def _check(stakes: StakeSet, plan: RowPlan, start, end, units: tuple[str, ...]) -> str:
    """One line on the straight between two end posts, told by segment and end (0 start, 1 far)."""
    s = plan.segments
    codes = [
        mark_code(plan.block.name, int(s.number[i]), int(s.letter[i]), "end_post", e + 1)
        for i, e in (start, end)
    ]
    ends_m = np.array([plan.segment_ends_m[i, e] for i, e in (start, end)])
    grid = stakes.to_survey(ends_m)
    east, north = (grid[1] - grid[0]).tolist()
    on_grid_m = math.hypot(east, north) * stakes.survey.unit_m
    ground = " = ".join(_length(math.dist(*ends_m.tolist()), u) for u in units)
    bearing = math.degrees(math.atan2(east, north)) % 360
    return (
        f"  Check {codes[0]} to {codes[1]}: {ground} on the ground; "
        f"{_length(on_grid_m, units[-1])} on the grid at {bearing:08.4f}° grid."
    )


def _wrapped(words: str) -> list[str]:
    """Lines of a paragraph; a number stays with its unit."""
    held = re.sub(r"(?<=\d) (?=m\b|US ft|ft\b|%)", "\u00a0", words).replace("US ft", "US\u00a0ft")
    lines = textwrap.wrap(
        held, _WIDTH, initial_indent="  ", subsequent_indent="  ", break_on_hyphens=False
    )
    return [line.replace("\u00a0", " ") for line in lines]


def _length(metres: float, unit: str) -> str:
    """To the millimetre, or to the hundredth of a foot."""
    return shown_length(metres, unit, 3 if unit == "m" else 2)
