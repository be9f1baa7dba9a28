"""A row end seen from the side: what stands and hangs in it as lines to scale, with its heights."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..core.materials.mechanics import end_shape
from ..core.model import RowRules, Trellis
from .specification import shown_exactly, shown_length

SEEN_M = 7.5
"""So much of the row is drawn at most; wires run on. [m]"""
_PAST_POST_M = 0.25
_LEAST_SEEN_M = 3.0
_ANCHOR_ROD_M = 0.45
"""An anchor's depth is the supplier's matter: so much of it is indicated. [m]"""
_ON_GROUND_M = 0.03
_ARM_SHARE = 0.42
"""Of the vine spacing: each arm of a grown vine along the fruiting wire."""

ROLES = (
    "ground",
    "stake",
    "vine",
    "drip line",
    "wire",
    "fruiting wire",
    "tie",
    "brace",
    "pad",
    "anchor",
    "line post",
    "end post",
)
"""What a line stands for, in the order they are painted."""


@dataclass(frozen=True, eq=False)
class Stroke:
    """One line of the drawing: its role, and its corners (k, 2), x along the row, y up. [m]"""

    role: str
    points_m: np.ndarray


@dataclass(frozen=True)
class HeightMark:
    """A height beside the drawing: in metres, in words, and the value of the paragraph that sets it."""

    height_m: float
    text: str
    key: str


@dataclass(frozen=True, eq=False)
class TrellisDrawing:
    """A row end to scale; the end post's foot is at (0, 0) and the row runs to the right.

    Attributes
    ----------
    strokes : tuple of Stroke
        In the order of ROLES.
    marks : tuple of HeightMark
        From the highest.
    bounds_m : (left, low, right, high)
    said : str
        All of it in one sentence, for who cannot see it.
    caption : str
        What the drawing leaves open; empty where nothing.
    """

    strokes: tuple[Stroke, ...]
    marks: tuple[HeightMark, ...]
    bounds_m: tuple[float, float, float, float]
    said: str
    caption: str = ""

    def of(self, role: str) -> tuple[np.ndarray, ...]:
        """Corners of all lines of a role."""
        return tuple(s.points_m for s in self.strokes if s.role == role)


def trellis_drawing(
    trellis: Trellis, rules: RowRules, unit: str = "m", block: str = ""
) -> TrellisDrawing:
    """The start end of a row with this trellis, as the rules set vines and posts.

    Thicknesses are not in it, nor how deep an anchor goes.

    Parameters
    ----------
    trellis : Trellis
    rules : RowRules
    unit : str
        Of the heights.
    block : str, optional
        Named in the caption, where several blocks differ.

    Examples
    --------
    >>> drawing = trellis_drawing(Trellis(), RowRules())
    >>> [m.text for m in drawing.marks][:2], len(drawing.of("end post"))
    (['1.80 m', '1.50 m pair'], 1)
    """
    right_m = _right_m(trellis, rules)
    strokes = [
        *_end(trellis, rules),
        *_along(trellis, rules, right_m),
        *_wires(trellis, right_m),
    ]
    every = np.concatenate([s.points_m for s in strokes])
    left, low = every.min(axis=0)
    high = every[:, 1].max()
    left -= 0.15
    strokes.append(Stroke("ground", np.array([[left, 0.0], [right_m, 0.0]])))
    marks = _marks(trellis, unit)
    ends = {
        "tied back": "the end post is tied back to an anchor",
        "braced inside": "the end post is braced inside the row",
        "slanted brace": "a slanted brace holds the end post",
    }[trellis.ends]
    return TrellisDrawing(
        tuple(sorted(strokes, key=lambda s: ROLES.index(s.role))),
        marks,
        (float(left), float(low), float(right_m), float(high)),
        f"A row end from the side: {ends}; {'; '.join(m.text for m in marks)}.",
        _caption(trellis, rules, right_m, unit, block),
    )


def _first_post_m(rules: RowRules) -> float | None:
    """Where the first line post stands from the end post, None without line posts. [m]"""
    if not rules.line_post_every:
        return None
    return rules.first_vine_m + (rules.line_post_every - 0.5) * rules.vine_spacing_m


def _right_m(trellis: Trellis, rules: RowRules) -> float:
    """How far along the row the drawing goes: past the first line post where that is near. [m]"""
    post = _first_post_m(rules)
    inside = 0.0 if trellis.ends == "tied back" else trellis.brace_span_m
    wanted = SEEN_M if post is None else post + _PAST_POST_M
    return min(max(wanted, inside + 1.0, _LEAST_SEEN_M), SEEN_M)


def _line(role: str, *points) -> Stroke:
    return Stroke(role, np.array(points, dtype=float))


def _upright(role: str, x_m: float, length_m: float, driven_m: float) -> Stroke:
    return _line(role, (x_m, -driven_m), (x_m, length_m - driven_m))


def _lean(trellis: Trellis) -> float:
    """How far an end post goes out of the row for every metre up. [m/m]"""
    return 1.0 / math.tan(math.radians(trellis.end_angle_deg))


def _end(trellis: Trellis, rules: RowRules):
    """The end post and what holds it."""
    angle = math.radians(trellis.end_angle_deg)
    out, up = math.cos(angle), math.sin(angle)
    above = trellis.end_post_length_m - trellis.end_post_driven_m
    below = trellis.end_post_driven_m
    yield _line("end post", (out * below, -up * below), (-out * above, up * above))
    held = (-_lean(trellis) * trellis.tie_m, trellis.tie_m)
    if trellis.ends == "tied back":
        anchor_m = rules.anchor_m or trellis.tie_m
        along = np.array([-anchor_m, 0.0]) - held
        along /= np.hypot(*along)
        foot = (-anchor_m + along[0] * _ANCHOR_ROD_M, along[1] * _ANCHOR_ROD_M)
        if trellis.tie_lines:
            yield _line("tie", held, (-anchor_m, 0.0))
        yield _line("anchor", (-anchor_m, 0.0), foot)
    elif trellis.ends == "braced inside":
        span = trellis.brace_span_m
        yield _upright("end post", span, trellis.end_post_length_m, trellis.end_post_driven_m)
        yield _line("brace", held, (span, trellis.tie_m))
        if trellis.tie_lines:
            yield _line("tie", (span, trellis.tie_m), (0.0, 0.0))
    else:
        shape = end_shape(trellis, 0.0)
        foot = shape.spread_m if shape is not None else 0.0
        yield _line("brace", held, (foot, 0.0))
        yield _line("pad", (foot - 0.15, -_ON_GROUND_M), (foot + 0.15, -_ON_GROUND_M))
        if trellis.tie_lines:
            yield _line("tie", (foot, 0.0), (0.0, 0.0))


def _along(trellis: Trellis, rules: RowRules, right_m: float):
    """Line posts, and every vine with its stake."""
    post = _first_post_m(rules)
    while post is not None and post <= right_m:
        yield _upright("line post", post, trellis.line_post_length_m, trellis.line_post_driven_m)
        post += rules.line_post_every * rules.vine_spacing_m
    height = trellis.fruiting_wire_height_m
    arm = _ARM_SHARE * rules.vine_spacing_m
    for x in np.arange(rules.first_vine_m, right_m + 1e-9, rules.vine_spacing_m).tolist():
        if trellis.stake_length_m:
            yield _upright("stake", x, trellis.stake_length_m, trellis.stake_driven_m)
        yield _line("vine", (x, 0.0), (x, height))
        yield _line("vine", (max(x - arm, 0.0), height), (min(x + arm, right_m), height))


def _wires(trellis: Trellis, right_m: float):
    """Every wire, and the drip line, from the end post to where the drawing ends."""
    lean = _lean(trellis)
    for run in trellis.wires:
        role = "fruiting wire" if run.item == "fruiting_wire_m" else "wire"
        yield _line(role, (-lean * run.height_m, run.height_m), (right_m, run.height_m))
    if trellis.drip_line:
        y = trellis.drip_wire_height_m
        y = _ON_GROUND_M if y is None else y - _ON_GROUND_M
        yield _line("drip line", (0.0, y), (right_m, y))


def _marks(trellis: Trellis, unit: str) -> tuple[HeightMark, ...]:
    fruiting = trellis.fruiting_wire_height_m
    found = [(fruiting, " fruit", "fruiting_wire_height_m")]
    for i, wire in enumerate(trellis.foliage_wires):
        found.append((wire.height_m, " pair" if wire.paired else "", f"foliage.{i}.height_m"))
    if trellis.drip_wire_height_m is not None:
        found.append((trellis.drip_wire_height_m, " drip", "drip_wire_height_m"))
    found.sort(key=lambda mark: -mark[0])
    return tuple(HeightMark(h, f"{shown_length(h, unit)}{what}", key) for h, what, key in found)


def _caption(trellis, rules, right_m, unit, block: str) -> str:
    said = []
    if block:
        said.append(f"As in block {block}.")
    post = _first_post_m(rules)
    if post is None:
        said.append("No line posts stand in the rows.")
    elif post > right_m:
        said.append(f"The first line post stands {shown_exactly(post, unit, 1)} in.")
    if trellis.ends == "tied back" and not rules.anchor_m:
        said.append("No anchors are staked: drawn for a tie at 45°.")
    return " ".join(said)
