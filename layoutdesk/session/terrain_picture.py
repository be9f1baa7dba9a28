"""What of the ground's heights is drawn: contours at every scale, their heights, the light on slopes."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

from ..core.model import InputProblem, Project
from ..core.terrain.contours import MOST_LEVELS, contours
from ..core.terrain.relief import hillshade, sampled_grid
from ..formats.terrain import AROUND_M, TerrainRead
from .specification import shown_exactly
from .terrain_reach import Reach
from .units import unit_length_m
from .view import View

_WIDEST_CELLS = 900
_LEVEL = 181
"""Light on level ground, of 255, with the light at 45°."""
_PIECE = 64
"""Points a piece has at most: pieces out of sight are passed over."""
_DETAILS_M = (0.0, 0.06, 0.25, 1.0, 4.0, 16.0)
"""What contours may be off where they are seen from afar. [m]"""
_OFF_PX = 0.4
_APART_PX = 5.0
"""Contours that would lie nearer on the average are left out, the strong ones last. [px]"""
_CARRIES_PX = 170.0
"""A contour seen for less than this carries no height. [px]"""
_TEXT_PX = 17.0
"""Half of what a height takes up along its contour. [px]"""
_CLEAR_PX = 15.0
"""A height keeps so far from an outline where it can. [px]"""
_TRIES = 8

_STEPS = (1.0, 2.0, 2.5, 5.0)
_USUAL_CONTOURS = 80
_LEAST_USUAL = {"m": 0.25}  # else 1 ft


def emphasis(interval: float) -> int:
    """Every so many contours one is drawn stronger, with its height, so that it is a round one.

    Examples
    --------
    >>> emphasis(1.0), emphasis(0.25), emphasis(2.5)
    (5, 4, 4)
    """
    digits = interval / 10.0 ** math.floor(math.log10(interval) + 1e-9)
    return 4 if abs(digits - 2.5) < 1e-6 else 5


def usual_interval_m(range_m: float, unit: str = "m") -> float:
    """A round interval, in the unit people read, that draws some dozens of contours. [m]

    Examples
    --------
    >>> usual_interval_m(65.0), usual_interval_m(3.0), round(usual_interval_m(65.0, "ft") / 0.3048, 6)
    (1.0, 0.25, 5.0)
    """
    size = unit_length_m(unit)
    wanted = max(range_m / size / _USUAL_CONTOURS, _LEAST_USUAL.get(unit, 1.0))
    power = 10.0 ** math.floor(math.log10(wanted) - 1e-9)
    steps = [s for s in _STEPS if s != 2.5 or power < 1]
    return size * next(s * p for p in (power, 10 * power) for s in steps if s * p >= wanted - 1e-9)


@dataclass(frozen=True, eq=False)
class Pieces:
    """Pieces of contours, each of one shade.

    Attributes
    ----------
    xy_m : float array, shape (n, 2)
    first : int array, shape (p + 1,)
        Where each piece begins in `xy_m`.
    box_m : float array, shape (p, 4)
    rank : int array, shape (p,)
        How many times its contour's number can be divided by the emphasis, at most 2.
    shade : float array, shape (p,)
        1 near the outlines, less farther off.
    """

    xy_m: np.ndarray
    first: np.ndarray
    box_m: np.ndarray
    rank: np.ndarray
    shade: np.ndarray


@dataclass(frozen=True, eq=False)
class Stations:
    """Places along strong contours where a height may stand, equally far apart along each.

    Attributes
    ----------
    xy_m : float array, shape (k, 2)
    contour : int array, shape (k,)
    height_m, from_outline_m : float array, shape (k,)
        The latter less than 0 inside an outline.
    rank : int array, shape (k,)
    apart_m : float
    """

    xy_m: np.ndarray
    contour: np.ndarray
    height_m: np.ndarray
    from_outline_m: np.ndarray
    rank: np.ndarray
    apart_m: float


@dataclass(frozen=True, eq=False)
class HeightPlace:
    """Where a height may stand on its contour: its middle, and its turn, clockwise. [px, deg]"""

    text: str
    x_px: float
    y_px: float
    turn_deg: float
    inside: bool


@dataclass(frozen=True, eq=False)
class TerrainPicture:
    """Contours, and the relief as a picture.

    Attributes
    ----------
    interval_m : float
    details : tuple of Pieces
        The same contours, the finest first; empty where there are none.
    apart_m : float
        Average distance between neighbouring contours. [m]
    relief : uint8 array, shape (r, c, 4), or None
        Black where slopes lie in the shade and white where they face the light, see-through by how
        much; north up.
    bounds_m : (x0, y0, x1, y1)
        Of the relief. [m]
    too_many : bool
        Whether there are none because the interval is too small for the ground.
    """

    interval_m: float = 0.0
    details: tuple[Pieces, ...] = ()
    stations: Stations | None = None
    apart_m: float = 0.0
    relief: np.ndarray | None = None
    bounds_m: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)
    too_many: bool = False

    def least_rank(self, scale: float) -> int:
        """Contours of a lower rank are not drawn at so many pixels a metre: they would run together."""
        every = emphasis(self.interval_m) if self.interval_m else 1
        return sum(self.apart_m * scale * every**k < _APART_PX for k in (0, 1))

    def lines_px(self, view: View) -> list[tuple[bool, float, np.ndarray, np.ndarray]]:
        """What a view shows of the contours, the faint ones first.

        Each is (strong, shade, points (n, 2) in pixels, int (p + 1,) where each piece begins).
        """
        if not self.details:
            return []
        pairs = zip(self.details, _DETAILS_M, strict=True)
        fit = [pieces for pieces, off in pairs if off * view.scale < _OFF_PX]
        pieces = fit[-1]
        least = self.least_rank(view.scale)
        x0, y0, x1, y1 = view.bounds_m
        low, high = pieces.box_m[:, :2], pieces.box_m[:, 2:]
        seen = (high >= (x0, y0)).all(axis=1) & (low <= (x1, y1)).all(axis=1)
        seen &= pieces.rank >= least
        found = []
        for strong in (False, True):
            mine = seen & ((pieces.rank > least) == strong)
            for shade in np.unique(pieces.shade[mine]).tolist():
                which = np.flatnonzero(mine & (pieces.shade == shade))
                at, first = _spans(pieces.first[which], pieces.first[which + 1])
                found.append((strong, shade, view.to_pixels(pieces.xy_m[at]), first))
        return found

    def height_places(self, view: View, unit: str = "m") -> list[list[HeightPlace]]:
        """For each strong contour that is seen long enough, places for its height, the best first.

        On straight stretches, off the outlines, rather beside the blocks than on their rows.
        """
        s = self.stations
        if s is None or not len(s.xy_m):
            return []
        size, decimals = unit_length_m(unit), _decimals(self.interval_m, unit)
        px = view.to_pixels(s.xy_m)
        room = (px > _TEXT_PX).all(axis=1) & (
            px < np.subtract((view.width, view.height), _TEXT_PX)
        ).all(axis=1)
        room &= s.rank > self.least_rank(view.scale)
        reach = max(math.ceil(_TEXT_PX / (s.apart_m * view.scale)), 1)
        at = np.flatnonzero(room)
        before, after = at - reach, at + reach
        whole = (before >= 0) & (after < len(px))
        at, before, after = at[whole], before[whole], after[whole]
        same = (s.contour[before] == s.contour[at]) & (s.contour[after] == s.contour[at])
        at, before, after = at[same], before[same], after[same]
        if not len(at):
            return []
        chord = px[after] - px[before]
        straight = np.hypot(*chord.T) / (2 * reach * s.apart_m * view.scale)
        turn = np.degrees(np.arctan2(chord[:, 1], chord[:, 0]))
        turn = (turn + 90) % 180 - 90  # never upside down
        off = s.from_outline_m[at] * view.scale
        # One run where a contour is seen without a gap.
        run = np.cumsum(np.r_[0, (np.diff(at) > 1) | (np.diff(s.contour[at]) != 0)])
        count = np.bincount(run)
        rank = np.arange(len(at)) - np.r_[0, np.cumsum(count)[:-1]][run]
        middle = np.abs((rank + 0.5) / count[run] - 0.5)
        cost = (
            middle
            + 1.5 * (off < 0)
            + 3.0 * (np.abs(off) < _CLEAR_PX)
            + 30 * np.maximum(0.98 - straight, 0)
        )
        found = []
        for r in np.flatnonzero(count * s.apart_m * view.scale >= _CARRIES_PX).tolist():
            mine = np.flatnonzero(run == r)
            best = mine[np.argsort(cost[mine], kind="stable")]
            best = best[:: max(len(best) // (4 * _TRIES), 1)][:_TRIES]
            found.append(
                [
                    HeightPlace(
                        f"{s.height_m[at[i]] / size:.{decimals}f}",
                        *px[at[i]].tolist(),
                        float(turn[i]),
                        bool(off[i] < 0),
                    )
                    for i in best.tolist()
                ]
            )
        return found


def _spans(begin: np.ndarray, end: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """All indices of spans one after another, and where each span begins among them, with the end."""
    first = np.r_[0, np.cumsum(end - begin)]
    return np.repeat(begin - first[:-1], end - begin) + np.arange(first[-1]), first


def _decimals(interval_m: float, unit: str) -> int:
    """Decimals that tell contours apart, in a unit; one where the interval is not round in it."""
    units = interval_m / unit_length_m(unit)
    return next((d for d in (0, 1, 2) if abs(round(units, d) - units) < 1e-6 * units), 1)


def terrain_picture(read: TerrainRead, outlines, contour_m: float, relief: bool) -> TerrainPicture:
    """What is drawn of the ground round outlines.

    Parameters
    ----------
    read : TerrainRead
    outlines : sequence of shapely polygons
        Contours and relief grow fainter away from them.
    contour_m : float
        Interval; 0 for no contours. [m]
    relief : bool
        Whether light and shade are wanted.
    """
    reach = Reach.round(outlines)
    wide = reach.bounds_m
    lines = contours(read.surface, contour_m, wide)
    made = {"too_many": False}
    if lines:
        every = emphasis(contour_m)
        number = np.round([h / contour_m for h, _ in lines]).astype(np.int64)
        rank = (number % every == 0).astype(np.int64) + (number % every**2 == 0)
        details = _details([xy for _, xy in lines], rank, reach)
        length = sum(float(np.hypot(*np.diff(xy, axis=0).T).sum()) for _, xy in lines)
        area = (wide[2] - wide[0]) * (wide[3] - wide[1])
        made |= {
            "interval_m": contour_m,
            "details": details,
            "stations": _stations(lines, rank, reach),
            "apart_m": area / max(length, 1e-9),
        }
    elif contour_m > 0:
        made["too_many"] = heights_range_m(read, wide) > MOST_LEVELS * contour_m
    if relief:
        span = max(wide[2] - wide[0], wide[3] - wide[1])
        step = max(read.surface.spacing_m, span / _WIDEST_CELLS)
        heights, (a0, b0, a1, b1), step = sampled_grid(read.surface, wide, step)
        inner = (a0 + step, b0 + step, a1 - step, b1 - step)
        shade = hillshade(heights, step)
        made |= {
            "relief": _see_through(shade, reach.shade_of_cells(inner, shade.shape)),
            "bounds_m": inner,
        }
    return TerrainPicture(**made)


def interval_for(read: TerrainRead, project: Project, unit: str = "m") -> float:
    """An interval of contours that suits the ground of a project. [m]"""
    return usual_interval_m(heights_range_m(read, _around(project)), unit)


def check_interval(read: TerrainRead, project: Project, interval_m: float, unit: str = "m") -> None:
    """Refuse an interval so small that there would be too many contours.

    Raises
    ------
    InputProblem
        With the least that can be drawn.
    """
    rises = heights_range_m(read, _around(project))
    if interval_m > 0 and rises > MOST_LEVELS * interval_m:
        least = usual_interval_m(_USUAL_CONTOURS * rises / MOST_LEVELS, unit)
        raise InputProblem(
            f"That would be more than {MOST_LEVELS} contours: give {shown_exactly(least, unit)} or more."
        )


def _around(project: Project) -> tuple[float, float, float, float]:
    x0, y0, x1, y1 = shapely.total_bounds([b.outline for b in project.blocks]).tolist()
    return x0 - AROUND_M, y0 - AROUND_M, x1 + AROUND_M, y1 + AROUND_M


def heights_range_m(read: TerrainRead, bounds_m) -> float:
    """From the lowest to the highest height known within bounds, 0 where nothing is. [m]"""
    x0, y0, x1, y1 = bounds_m
    step = max(read.surface.spacing_m, max(x1 - x0, y1 - y0) / 400)
    heights, _, _ = sampled_grid(read.surface, bounds_m, step)
    known = heights[np.isfinite(heights)]
    return float(np.ptp(known)) if len(known) else 0.0


def _see_through(light: np.ndarray, shade: np.ndarray) -> np.ndarray:
    """Light as black or white, the stronger the more it differs from that of level ground."""
    known = light > 0
    more = light.astype(np.int16) - _LEVEL
    rgba = np.zeros((*light.shape, 4), dtype=np.uint8)
    rgba[..., :3] = np.where(more > 0, 255, 0)[..., None]
    rgba[..., 3] = np.where(known, np.clip(np.abs(more) * 0.9, 0, 140) * shade, 0)
    return rgba


def _details(lines, rank: np.ndarray, reach: Reach) -> tuple[Pieces, ...]:
    """Contours cut where their shade changes, at every detail."""
    xy = np.concatenate(lines)
    owner = np.repeat(np.arange(len(lines)), [len(line) for line in lines])
    joined = np.flatnonzero(owner[1:] == owner[:-1])
    shade = reach.shade_in_steps((xy[joined] + xy[joined + 1]) / 2)
    # Segments, and where a run of one contour and one shade begins and ends.
    begins = np.r_[True, (np.diff(joined) > 1) | (np.diff(shade) != 0)]
    first = np.flatnonzero(begins)
    last = np.r_[first[1:], len(joined)] - 1
    kept = shade[first] > 0
    first, last = first[kept], last[kept]
    shade, of = shade[first], owner[joined[first]]
    begin, count = joined[first], joined[last] + 2 - joined[first]
    if not len(count):
        return ()
    at, _ = _spans(begin, begin + count)
    runs = shapely.linestrings(xy[at], indices=np.repeat(np.arange(len(count)), count))
    made = []
    for off in _DETAILS_M:
        simple = shapely.simplify(runs, off, preserve_topology=False) if off else runs
        made.append(_cut(*shapely.get_coordinates(simple, return_index=True), rank[of], shade))
    return tuple(made)


def _cut(xy, run, rank, shade) -> Pieces:
    """Runs as pieces of no more than so many points, each with the first point of the next."""
    n = np.bincount(run, minlength=len(rank))
    begin = np.r_[0, np.cumsum(n)[:-1]]
    pieces = np.maximum(-(-(n - 1) // (_PIECE - 1)), 1)
    of = np.repeat(np.arange(len(n)), pieces)
    nth = np.arange(len(of)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    first = begin[of] + nth * (_PIECE - 1)
    at, start = _spans(first, np.minimum(first + _PIECE, begin[of] + n[of]))
    points = xy[at]
    low = np.minimum.reduceat(points, start[:-1])
    high = np.maximum.reduceat(points, start[:-1])
    return Pieces(points, start, np.hstack([low, high]), rank[of], shade[of])


def _stations(lines, rank: np.ndarray, reach: Reach) -> Stations:
    """Places along the strong contours, where these are drawn."""
    x0, y0, x1, y1 = reach.bounds_m
    apart = min(max(max(x1 - x0, y1 - y0) / 200, 1.0), 20.0)
    xy, contour, height = [], [], []
    for i in np.flatnonzero(rank > 0).tolist():
        z, line = lines[i]
        along = np.r_[0.0, np.cumsum(np.hypot(*np.diff(line, axis=0).T))]
        at = np.arange(apart / 2, along[-1], apart)
        xy.append(np.column_stack([np.interp(at, along, line[:, k]) for k in (0, 1)]))
        contour.append(np.full(len(at), i))
        height.append(np.full(len(at), z))
    if not xy:
        return Stations(np.empty((0, 2)), *(np.empty(0) for _ in range(4)), apart)
    xy, contour, height = np.concatenate(xy), np.concatenate(contour), np.concatenate(height)
    # What fades away carries no height; a gap in the places parts what is left.
    contour = np.where(reach.shade_in_steps(xy) > 0.4, contour, -1)
    return Stations(
        xy,
        contour,
        height,
        reach.from_outline_m(xy),
        np.where(contour < 0, 0, rank[contour]),
        apart,
    )
