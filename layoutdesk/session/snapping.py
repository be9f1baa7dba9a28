"""Places that snap while outlines and exclusions are drawn or reshaped, in the site frame."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from .snap_targets import SnapTargets

ALL = frozenset({"corner", "post", "edge", "perpendicular", "parallel", "grid"})

_SAME_M = 1e-6
"""Places closer than this are one place. [m]"""

_FAR, _LEAST, _CLEAR = 40.0, 3.0, 2.0
"""In reaches: how far off an edge still gives a direction; how long it must look to give one; how far
from its anchor a leg must run to have a direction at all."""

_TOUCHING, _NEAREST, _CROSSING = 4, 2, 8
"""Most edges at an anchor, near it, and under the pointer that count: more is a forest of snaps."""

_SINE = 0.02
"""Lines that meet at less than about 1 degree have no crossing to speak of. Common practice."""

_APART = 0.25
"""Lines from one anchor closer than this at the pointer are one, the earlier's. In reaches."""


@dataclass(frozen=True)
class Snapped:
    """Where a place under the hand settles.

    Attributes
    ----------
    x_m, y_m : float
        The place itself where nothing is in reach. [m]
    kind : str
        "", or one of ALL.
    words : str
        For the plan, such as "corner of B1".
    guide : ((x, y), (x, y)) or None
        A line to draw: the edge, or from the anchor to the place. [m]
    edge : ((x, y), (x, y)) or None
        The edge or leg it goes by. [m]
    """

    x_m: float
    y_m: float
    kind: str = ""
    words: str = ""
    guide: tuple | None = None
    edge: tuple | None = None


@dataclass(frozen=True)
class GridSteps:
    """Lines of the survey grid at whole steps from an origin.

    Attributes
    ----------
    step : float
        In the survey grid's own unit; in metres of the site frame without transforms.
    origin : (float, float)
        Easting and northing of one crossing.
    to_survey, from_survey : functions of (n, 2) to (n, 2), optional
        From the site frame to the survey grid, and back.
    """

    step: float
    origin: tuple[float, float] = (0.0, 0.0)
    to_survey: Callable | None = None
    from_survey: Callable | None = None

    def nearest(self, x_m: float, y_m: float, reach_m: float) -> Snapped | None:
        """The crossing in reach, else the nearest place on a line in reach, else None."""
        place = np.array([[x_m, y_m]])
        there = (self.to_survey(place) if self.to_survey else place)[0]
        if not np.isfinite(there).all():
            return None
        whole = np.round((there - self.origin) / self.step) * self.step + self.origin
        tried = np.array([whole, [whole[0], there[1]], [there[0], whole[1]]])
        settled = self.from_survey(tried) if self.from_survey else tried
        away = np.hypot(*(settled - place).T)
        if not away.min() <= reach_m:
            return None
        i = 0 if away[0] <= reach_m else int(np.nanargmin(away))
        told = [f"{letter} {_plain(v)}" for letter, v in zip("EN", whole, strict=True)]
        told = told if i == 0 else [told[i - 1]]
        return Snapped(*settled[i].tolist(), "grid", f"grid {' '.join(told)}")


def _plain(value: float) -> str:
    text = f"{value:,.4f}".rstrip("0").rstrip(".").replace(",", "\u202f")
    return "0" if text == "-0" else text


def _pair(place) -> tuple[float, float]:
    return float(place[0]), float(place[1])


@dataclass(frozen=True)
class _Line:
    """A line through an anchor along or across an edge: where a leg may run."""

    anchor: np.ndarray
    unit: np.ndarray
    kind: str
    words: str
    edge: tuple

    def settled(self, place, words: str = "") -> Snapped:
        place = _pair(place)
        guide = _pair(self.anchor), place
        return Snapped(*place, self.kind, self.words + words, guide, self.edge)


def snap(
    targets: SnapTargets,
    x_m: float,
    y_m: float,
    reach_m: float,
    *,
    anchor=None,
    chain=(),
    grid: GridSteps | None = None,
    kinds=ALL,
) -> Snapped:
    """Where a place settles: what is preferred of all within reach.

    A corner, then an end post, then where a leg at right angles or parallel to an edge meets an edge
    or another such leg, then the nearest place on an edge, then such a leg alone, then the survey
    grid. Legs go by the edges at the anchor, the nearest ones to it and the nearest to the pointer,
    as far as they look long enough to have a direction.

    Parameters
    ----------
    targets : SnapTargets
    x_m, y_m, reach_m : float
        The pointer, and how far it reaches. [m]
    anchor : place or places, optional
        Where the leg comes from; both neighbours where a corner is dragged. [m]
    chain : float array-like, shape (n, 2), optional
        Corners drawn so far: the last is the anchor unless one is given, its legs give directions,
        and the first closes the ring. [m]
    grid : GridSteps, optional
    kinds : set of str
        Those of ALL that are wanted.

    Returns
    -------
    Snapped

    Examples
    --------
    >>> import shapely
    >>> from layoutdesk import Block, Project, Site, SiteFrame
    >>> b1 = Block("B1", shapely.box(0, 0, 100, 50))
    >>> targets = SnapTargets.of(Project("x", Site(SiteFrame(-41, 173), "", ""), (b1,)))
    >>> snap(targets, 99.4, 50.5, 1.0).words, snap(targets, 40.0, 49.6, 1.0).words
    ('corner of B1', 'on an edge of B1')
    """
    chain = np.asarray(chain, dtype=float).reshape(-1, 2)
    anchors = np.asarray(chain[-1:] if anchor is None else anchor, dtype=float).reshape(-1, 2)
    place = np.array([x_m, y_m])
    found = _point(targets, place, reach_m, anchors, chain, kinds)
    if found:
        return found
    edges, feet, _ = targets.edges_near(x_m, y_m, reach_m) if "edge" in kinds else ((), (), ())
    lines = []
    if {"perpendicular", "parallel"} & set(kinds):
        every = _lines(targets, place, reach_m, anchors, chain, anchor is None)
        lines = [ln for ln in every if ln.kind in kinds]
    found = _crossing(targets, place, reach_m, lines, edges[:_CROSSING])
    if found:
        return found
    if len(edges):
        ends = targets.ends_m(edges[0])
        words = f"on {targets.told_edge(edges[0])}"
        return Snapped(*_pair(feet[0]), "edge", words, ends, ends)
    if lines:
        feet = [ln.anchor + ((place - ln.anchor) @ ln.unit) * ln.unit for ln in lines]
        i = int(np.argmin([np.hypot(*(foot - place)) for foot in feet]))
        return lines[i].settled(feet[i])
    found = grid.nearest(x_m, y_m, reach_m) if grid and "grid" in kinds else None
    return found or Snapped(float(x_m), float(y_m))


def _point(targets, place, reach_m, anchors, chain, kinds) -> Snapped | None:
    """The nearest corner in reach, the chain's first before others as near, else the end post."""

    def first_apart(places_m, which):
        """The nearest that is at no anchor: a leg needs a length."""
        apart = np.abs(places_m[which][:, None] - anchors).max(axis=2, initial=0.0) > _SAME_M
        free = np.flatnonzero(apart.all(axis=1))
        return int(free[0]) if len(free) else None

    if "corner" in kinds:
        which, away = targets.corners_near(*place, reach_m)
        i = first_apart(targets.corner_m, which)
        closing = np.hypot(*(chain[0] - place)) if len(chain) > 2 else np.inf
        if closing <= min(reach_m, np.inf if i is None else away[i]):
            return Snapped(*_pair(chain[0]), "corner", "the first corner")
        if i is not None:
            words = targets.told_corner(which[i])
            return Snapped(*_pair(targets.corner_m[which[i]]), "corner", words)
    if "post" in kinds:
        which, _ = targets.posts_near(*place, reach_m)
        i = first_apart(targets.post_m, which)
        if i is not None:
            block = targets.post_blocks[targets.post_of[which[i]]]
            return Snapped(*_pair(targets.post_m[which[i]]), "post", f"end post of {block}")
    return None


def _directions(targets, anchor, reach_m, under):
    """Edges that give a leg from an anchor its directions, the likeliest first: ends, unit, words."""
    touching = targets.edges_near(*anchor, _SAME_M)[0][:_TOUCHING]
    near = targets.edges_near(*anchor, _FAR * reach_m, _LEAST * reach_m)[0]
    near = near[~np.isin(near, touching)][:_NEAREST]
    for edge in dict.fromkeys([*touching.tolist(), *near.tolist(), *under.tolist()]):
        yield targets.ends_m(edge), targets.unit[edge], targets.told_edge(edge)


def _leg(start, end, words: str):
    """A leg of the chain as a direction; nothing where it has no length."""
    step = end - start
    length = np.hypot(*step)
    return [((_pair(start), _pair(end)), step / length, words)] if length > _SAME_M else []


def _lines(targets, place, reach_m, anchors, chain, own: bool) -> list[_Line]:
    """Lines through the anchors that pass the pointer within reach."""
    under = targets.edges_near(*place, _FAR * reach_m, _LEAST * reach_m)[0][:1]
    lines = []
    for anchor in anchors:
        legs = _leg(chain[-2], chain[-1], "the leg before") if own and len(chain) > 1 else []
        legs += _directions(targets, anchor, reach_m, under)
        lines += _passing(anchor, place, reach_m, legs)
    if own and len(chain) > 2:  # the leg that will close the ring
        lines += _passing(chain[0], place, reach_m, _leg(chain[0], chain[1], "the first leg"))
    return lines


def _passing(anchor, place, reach_m, directions) -> list[_Line]:
    """Those lines of one anchor that pass the pointer within reach, each but once."""
    leg = place - anchor
    away = np.hypot(*leg)
    if away <= _CLEAR * reach_m:
        return []
    lines = []
    for ends, (ux, uy), told in directions:
        turns = [("perpendicular", "at right angles to", (-uy, ux))]
        (ax, ay), (bx, by) = np.subtract(ends, anchor)
        if abs(ax * uy - ay * ux) > _SAME_M:
            turns.insert(0, ("parallel", "parallel to", (ux, uy)))
        elif not ax * ux + ay * uy <= leg @ (ux, uy) <= bx * ux + by * uy:  # not back on the edge
            turns.insert(0, ("parallel", "in line with", (ux, uy)))
        for kind, words, (vx, vy) in turns:
            if abs(leg[0] * vy - leg[1] * vx) <= reach_m and not any(
                abs(ln.unit[0] * vy - ln.unit[1] * vx) * away < _APART * reach_m for ln in lines
            ):
                lines.append(_Line(anchor, np.array([vx, vy]), kind, f"{words} {told}", ends))
    return lines


def _crossing(targets, place, reach_m, lines, edges) -> Snapped | None:
    """The nearest place in reach where a line meets an edge or another line."""
    if not lines:
        return None
    edges = np.asarray(edges, dtype=np.intp)
    p, u = (np.array([getattr(ln, name) for ln in lines]) for name in ("anchor", "unit"))
    q, v = np.concatenate([targets.start_m[edges], p]), np.concatenate([targets.unit[edges], u])
    least = np.repeat([-_SAME_M, -np.inf], [len(edges), len(p)])
    most = np.concatenate([targets.length_m[edges] + _SAME_M, np.full(len(p), np.inf)])
    sine = _cross(u[:, None], v)
    sine = np.where(np.abs(sine) > _SINE, sine, np.nan)
    gap = q - p[:, None]
    spot = p[:, None] + (_cross(gap, v) / sine)[..., None] * u[:, None]
    on_other = _cross(gap, u[:, None]) / sine
    away = np.hypot(*(spot - place).T).T
    away = np.where((on_other >= least) & (on_other <= most), away, np.nan)
    if not (away <= reach_m).any():
        return None
    i, j = np.unravel_index(np.nanargmin(away), away.shape)
    other = lines[j - len(edges)].words if j >= len(edges) else f"on {targets.told_edge(edges[j])}"
    return lines[i].settled(spot[i, j], f", {other}")


def _cross(a, b):
    return a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]
