"""Shapes on the plan and their corners: which is meant, moving, adding, removing, typing a leg.

The edits of corners may pass through a state that cannot stay, as a drag does; `shape_problem` says
what is wrong with it and `checked` refuses it.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import shapely

from ..core.geometry.axes import bearing_of, sine_cosine
from ..core.geometry.edges import ring_edges
from ..core.model import EdgeWidth, InputProblem, Project

FARTHEST_M = 50_000.0
"""Shapes farther from the frame's origin are refused: lengths there are no longer the ground's. [m]"""
_NO_AREA_M2 = 1e-4
_ON_EDGE_M = 1e-6


@dataclass(frozen=True)
class ShapeId:
    """Which shape of a project: a block by its name, or an exclusion by its place in the list."""

    kind: Literal["block", "exclusion"]
    key: str | int


@dataclass(frozen=True, eq=False)
class Corners:
    """Corners of one shape; a ring's first corner is not repeated at its end.

    Attributes
    ----------
    xy_m : float array, shape (n, 2)
        Site frame. [m]
    ring, index : int array, shape (n,)
        Which ring (0 the shell, then the holes; 0 for a line or a point) and which corner of it.
    """

    xy_m: np.ndarray
    ring: np.ndarray
    index: np.ndarray

    def __len__(self) -> int:
        return len(self.xy_m)


@dataclass(frozen=True)
class ShapeProblem:
    """Why a shape cannot stay as it is: one sentence, and the place (x_m, y_m) where there is one."""

    sentence: str
    place: tuple[float, float] | None = None


def shape_of(project: Project, which: ShapeId) -> shapely.Geometry:
    """The outline of a block or the shape of an exclusion."""
    if which.kind == "block":
        return project.block(which.key).outline
    return project.exclusions[which.key].shape


def shape_words(project: Project, which: ShapeId) -> str:
    """What a shape is called in a sentence.

    Examples
    --------
    >>> from layoutdesk import Block, Site, SiteFrame
    >>> site = Site(SiteFrame(47.0, 8.0), "EPSG:25832", "EPSG:25832")
    >>> project = Project("x", site, (Block("B1", shapely.box(0, 0, 9, 9)),))
    >>> shape_words(project, ShapeId("block", "B1"))
    'the outline of B1'
    """
    if which.kind == "block":
        return f"the outline of {which.key}"
    exclusion = project.exclusions[which.key]
    return exclusion.name or f"the {exclusion.kind or 'exclusion'}"


def with_shape(project: Project, which: ShapeId, shape: shapely.Geometry) -> Project:
    """The project with another shape in the place of one; not checked.

    Edge widths of their own stay on those edges that lie on the old ones.
    """
    if which.kind == "exclusion":
        return _with_exclusion_shape(project, which.key, shape)
    block = project.block(which.key)
    widths = carried_widths(shape, [(block.outline, block.edge_widths)])
    return project.with_block(replace(block, outline=shape, edge_widths=widths))


def _with_exclusion_shape(project: Project, index: int, shape) -> Project:
    several = list(project.exclusions)
    several[index] = replace(several[index], shape=shape)
    return replace(project, exclusions=tuple(several))


def shapes_at(project: Project, x_m: float, y_m: float, reach_m: float) -> tuple[ShapeId, ...]:
    """Every shape at a place, the likeliest first.

    Exclusions come before blocks. Of each, those whose edge (or line, or point) is within reach come
    by its distance, then those the place lies inside of, the smallest first.
    """
    exclusions = [ShapeId("exclusion", i) for i in range(len(project.exclusions))]
    blocks = [ShapeId("block", b.name) for b in project.blocks]
    names = exclusions + blocks
    if not names:
        return ()
    shapes = np.array(
        [*(e.shape for e in project.exclusions), *(b.outline for b in project.blocks)]
    )
    rims = np.where(np.isin(shapely.get_type_id(shapes), (3, 6)), shapely.boundary(shapes), shapes)
    point = shapely.points(x_m, y_m)
    away = shapely.distance(rims, point)
    near = away <= reach_m
    inside = shapely.intersects(shapes, point)
    is_block = np.arange(len(names)) >= len(exclusions)
    order = np.lexsort((np.where(near, away, shapely.area(shapes)), ~near, is_block))
    return tuple(names[i] for i in order if near[i] or inside[i])


@dataclass(frozen=True)
class _Ragged:
    """A geometry as flat coordinates; ring r is xy[offsets[0][r]:offsets[0][r + 1]]."""

    kind: shapely.GeometryType
    xy: np.ndarray
    offsets: tuple[np.ndarray, ...]

    @property
    def closed(self) -> bool:
        return self.kind in (shapely.GeometryType.POLYGON, shapely.GeometryType.MULTIPOLYGON)

    @property
    def first(self) -> np.ndarray:
        return self.offsets[0] if self.offsets else np.array([0, len(self.xy)])

    def span(self, ring: int) -> tuple[int, int]:
        """Where a ring's corners begin and how many it has."""
        if not 0 <= ring < len(self.first) - 1:
            raise IndexError(f"ring: there is no ring {ring}")
        begin, end = self.first[ring : ring + 2].tolist()
        return begin, end - begin - self.closed

    def at(self, ring: int, index: int) -> int:
        begin, count = self.span(ring)
        if not 0 <= index < count:
            raise IndexError(f"index: ring {ring} has no corner {index}")
        return begin + index

    def built(self) -> shapely.Geometry:
        """The geometry again; rings are closed onto their first corners."""
        if self.closed:
            self.xy[self.first[1:] - 1] = self.xy[self.first[:-1]]
        return shapely.from_ragged_array(self.kind, self.xy, self.offsets or None)[0]

    def resized(self, ring: int, xy: np.ndarray) -> _Ragged:
        """With other coordinates, all of the change in one ring."""
        first = self.first.copy()
        first[ring + 1 :] += len(xy) - len(self.xy)
        return _Ragged(self.kind, xy, (first, *self.offsets[1:]))


def _ragged(project: Project, which: ShapeId) -> _Ragged:
    try:
        kind, xy, offsets = shapely.to_ragged_array([shape_of(project, which)], include_z=False)
    except ValueError:
        words = shape_words(project, which)
        raise InputProblem(
            f"{_capital(words)} is a collection of unlike shapes and has no corners to edit: bring "
            "its parts in one by one."
        ) from None
    return _Ragged(kind, np.array(xy), tuple(np.asarray(o) for o in offsets or ()))


def corners_of(project: Project, which: ShapeId) -> Corners:
    """The corners of a shape."""
    ragged = _ragged(project, which)
    size = np.diff(ragged.first)
    ring = np.repeat(np.arange(len(size)), size)
    index = np.arange(len(ragged.xy)) - np.repeat(ragged.first[:-1], size)
    keep = index < size[ring] - ragged.closed
    return Corners(ragged.xy[keep], ring[keep], index[keep])


def _reshaped(project: Project, which: ShapeId, shape, widths=None) -> Project:
    if which.kind == "exclusion":
        return _with_exclusion_shape(project, which.key, shape)
    block = project.block(which.key)
    widths = block.edge_widths if widths is None else sorted_widths(widths)
    return project.with_block(replace(block, outline=shape, edge_widths=widths))


def sorted_widths(widths) -> tuple[EdgeWidth, ...]:
    """Edge widths in the order of rings and edges."""
    return tuple(sorted(widths, key=lambda w: (w.ring, w.edge)))


def _own_widths(project: Project, which: ShapeId) -> tuple[EdgeWidth, ...]:
    return project.block(which.key).edge_widths if which.kind == "block" else ()


def _placed(project: Project, which: ShapeId, x_m: float, y_m: float) -> tuple[float, float]:
    """A corner's place; GEOS makes no ring with one that is no number."""
    if not (math.isfinite(x_m) and math.isfinite(y_m)):
        raise InputProblem(
            f"A corner of {shape_words(project, which)} has no usable place: give it in metres."
        )
    return x_m, y_m


def with_corner_moved(
    project: Project, which: ShapeId, ring: int, index: int, x_m: float, y_m: float
) -> Project:
    """The project with one corner elsewhere; not checked."""
    ragged = _ragged(project, which)
    ragged.xy[ragged.at(ring, index)] = _placed(project, which, x_m, y_m)
    return _reshaped(project, which, ragged.built())


def with_corner_added(
    project: Project, which: ShapeId, ring: int, index: int, x_m: float, y_m: float
) -> Project:
    """The project with a corner more, behind corner `index`; not checked.

    Both halves of the edge keep its own width. A line grows at its end behind its last corner, and
    at its beginning behind corner -1.

    Raises
    ------
    InputProblem
        For a point.
    """
    ragged = _ragged(project, which)
    if ragged.kind == shapely.GeometryType.POINT:
        raise InputProblem(
            f"{_capital(shape_words(project, which))} is a single point and takes no corner: draw a "
            "line or an area in its place."
        )
    place = _placed(project, which, x_m, y_m)
    begins_line = not ragged.closed and index == -1
    at = ragged.span(ring)[0] if begins_line else ragged.at(ring, index) + 1
    shape = ragged.resized(ring, np.insert(ragged.xy, at, place, axis=0)).built()
    widths = []
    for own in _own_widths(project, which):
        if own.ring != ring or own.edge < index:
            widths.append(own)
        else:
            widths.append(replace(own, edge=own.edge + 1))
            if own.edge == index:
                widths.append(own)
    return _reshaped(project, which, shape, widths)


def with_corner_removed(project: Project, which: ShapeId, ring: int, index: int) -> Project:
    """The project with a corner less; not checked.

    The joined edge keeps an own width that both of its parts had.

    Raises
    ------
    InputProblem
        Where three corners of a ring, two of a line or the one point are all there are.
    """
    ragged = _ragged(project, which)
    at, (_, count) = ragged.at(ring, index), ragged.span(ring)
    least = 3 if ragged.closed else 1 if ragged.kind == shapely.GeometryType.MULTIPOINT else 2
    if count <= least:
        words, sort = (
            _capital(shape_words(project, which)),
            "an area" if ragged.closed else "a line",
        )
        needs = f"{sort} needs {('two', 'three')[ragged.closed]} corners"
        if least == 1 or ragged.kind == shapely.GeometryType.POINT:
            needs = "it is a single point"
        raise InputProblem(f"{words} can lose no corner, for {needs}: delete the whole instead.")
    shape = ragged.resized(ring, np.delete(ragged.xy, at, axis=0)).built()
    before, widths = (index - 1) % count, []
    own_m = {w.edge: w.width_m for w in _own_widths(project, which) if w.ring == ring}
    for own in _own_widths(project, which):
        if own.ring != ring:
            widths.append(own)
        elif own.edge not in (before, index):
            widths.append(replace(own, edge=own.edge - (own.edge > index)))
        elif own.edge == before and own_m.get(index) == own.width_m:
            widths.append(replace(own, edge=before - (before > index)))
    return _reshaped(project, which, shape, widths)


def _leg_ends(ragged: _Ragged, ring: int, edge: int) -> tuple[int, int]:
    """The corners at the beginning and at the far end of an edge, as indices of the ring."""
    count = ragged.span(ring)[1]
    far = (edge + 1) % count if ragged.closed else edge + 1
    ragged.at(ring, far)
    return edge, far


def leg_of(project: Project, which: ShapeId, ring: int, edge: int) -> tuple[float, float]:
    """Length and bearing of an edge, from corner `edge` to the one behind it. [m], [deg]"""
    ragged = _ragged(project, which)
    near, far = (ragged.xy[ragged.at(ring, i)] for i in _leg_ends(ragged, ring, edge))
    dx, dy = (far - near).tolist()
    return math.hypot(dx, dy), float(bearing_of(dx, dy))


def with_leg(
    project: Project,
    which: ShapeId,
    ring: int,
    edge: int,
    length_m: float | None = None,
    bearing_deg: float | None = None,
) -> Project:
    """The project with an edge of a given length or bearing, or both; not checked.

    Its far corner moves, all others stay. The bearing runs from corner `edge` to the one behind it.

    Raises
    ------
    InputProblem
        Where the length is not above 0 and at most 100 km, or the bearing no number.
    """
    now_m, now_deg = leg_of(project, which, ring, edge)
    if length_m is None and bearing_deg is None:
        return project
    length_m = now_m if length_m is None else length_m
    if not 0 < length_m <= 2 * FARTHEST_M:
        raise InputProblem("An edge must be longer than 0 m and at most 100 km: type its length.")
    if bearing_deg is not None and not math.isfinite(bearing_deg):
        raise InputProblem("The edge's bearing is no number: type degrees clockwise from north.")
    ragged = _ragged(project, which)
    near, far = _leg_ends(ragged, ring, edge)
    sine, cosine = sine_cosine(now_deg if bearing_deg is None else bearing_deg)
    x, y = ragged.xy[ragged.at(ring, near)].tolist()
    return with_corner_moved(project, which, ring, far, x + length_m * sine, y + length_m * cosine)


def carried_widths(
    outline: shapely.Polygon, sources, reach_m: float = _ON_EDGE_M
) -> tuple[EdgeWidth, ...]:
    """Own widths for the edges of an outline that lie on edges of earlier ones.

    `sources` are pairs of an earlier outline and its edge widths; the first that fits counts. Rings
    may begin at other corners and run the other way.
    """
    found: dict[tuple[int, int], float] = {}
    edges = ring_edges(outline) if any(widths for _, widths in sources) else None
    for earlier, widths in sources:
        before = ring_edges(earlier) if widths else None
        for own in widths:
            at = np.flatnonzero((before.ring == own.ring) & (before.index == own.edge))
            if not len(at):  # an edge of no length
                continue
            a, step = before.start_m[at[0]], before.end_m[at[0]] - before.start_m[at[0]]
            size = math.hypot(*step)
            unit = step / size
            along, off = [], []
            for end in (edges.start_m, edges.end_m):
                s = (end - a) @ unit
                off.append(np.abs((end - a) @ np.array([-unit[1], unit[0]])))
                along.append(s)
            inside = [(s >= -reach_m) & (s <= size + reach_m) for s in along]
            with_it = np.abs(along[1] - along[0]) > np.abs(off[1] - off[0]) * 2
            on = inside[0] & inside[1] & (off[0] <= reach_m) & (off[1] <= reach_m) & with_it
            for i in np.flatnonzero(on).tolist():
                found.setdefault((int(edges.ring[i]), int(edges.index[i])), own.width_m)
    return sorted_widths(EdgeWidth(*key, width_m) for key, width_m in found.items())


def shape_problem(project: Project, which: ShapeId) -> ShapeProblem | None:
    """Why a shape cannot stay as it is, None where it can: cheap enough for every step of a drag."""
    shape, plain = shape_of(project, which), shape_words(project, which)
    words = _capital(plain)
    xy = shapely.get_coordinates(shape)
    if not len(xy) or not np.isfinite(xy).all():
        return ShapeProblem(f"{words} has a corner without a usable place: give it a number.")
    away = np.hypot(*xy.T)
    if away.max() > FARTHEST_M:
        far = np.argmax(away)
        return ShapeProblem(
            f"{words} would lie {away[far] / 1000:,.0f} km from the middle of the site, more than "
            "the 50 km lengths hold for: start a project of its own there.",
            _pair(xy[far]),
        )
    if shapely.get_dimensions(shape) == 0:
        return None
    area = shapely.get_type_id(shape) in (3, 6)
    parts = shapely.get_rings(shape) if area else shapely.get_parts(shape)
    coords, part = shapely.get_coordinates(parts, return_index=True)
    same = (coords[1:] == coords[:-1]).all(axis=1) & (part[1:] == part[:-1])
    if same.any():
        at = coords[np.argmax(same)]
        return ShapeProblem(
            f"Two corners of {plain} stand on the same place, {_place(at)}: remove one of them.",
            _pair(at),
        )
    return _area_problem(shape, plain, parts) if area else None


_REASON = re.compile(r"^([^\[]*)(?:\[(\S+) (\S+)\])?")


def _area_problem(shape, plain: str, rings) -> ShapeProblem | None:
    words = _capital(plain)
    ground_m2 = shapely.area(shape)
    if ground_m2 < _NO_AREA_M2 and shapely.area(shapely.convex_hull(shape)) < _NO_AREA_M2:
        return ShapeProblem(f"{words} would have no area: its corners lie on one line.")
    if shapely.is_valid(shape):
        if ground_m2 < _NO_AREA_M2:
            return ShapeProblem(f"{words} would have no area: leave some ground between its edges.")
        return None
    reason, *numbers = _REASON.match(shapely.is_valid_reason(shape)).groups()
    at = np.array([float(n) if n else np.nan for n in numbers])
    where = f" at {_place(at)}" if np.isfinite(at).all() else ""
    between = len(rings) > 1 and shapely.is_simple(rings).all()
    if "outside shell" in reason:
        said = f"A hole would lie outside {plain}{where}: keep it inside."
    elif "nested" in reason.lower() or "Duplicate" in reason:
        said = f"Two rings of {plain} would cover each other{where}: keep one."
    elif "disconnected" in reason:
        said = f"{words} would fall apart{where}, where a hole meets its edge: move the hole."
    elif between:
        said = f"A hole would cross an edge of {plain}{where}: keep it inside."
    elif reason.startswith("Ring"):
        said = f"{words} would touch itself{where}: move that corner away."
    else:
        said = f"{words} would cross itself{where}: move a corner there back."
    return ShapeProblem(said, _pair(at) if where else None)


def checked(project: Project, which: ShapeId) -> Project:
    """The project, if its shape can stay; shells turned counter-clockwise and holes clockwise.

    Turning a ring leaves its first corner the first, and own widths on their edges.

    Raises
    ------
    InputProblem
        Where the shape crosses or touches itself, has no area, or lies too far away.
    """
    problem = shape_problem(project, which)
    if problem:
        raise InputProblem(problem.sentence)
    shape = shape_of(project, which)
    if shapely.get_type_id(shape) not in (3, 6):
        return project
    rings, polygon = shapely.get_rings(shapely.get_parts(shape), return_index=True)
    is_shell = np.r_[True, polygon[1:] != polygon[:-1]]
    turned = shapely.is_ccw(rings) != is_shell
    if not turned.any():
        return project
    count = shapely.get_num_coordinates(rings) - 1
    widths = [
        replace(w, edge=int(count[w.ring]) - 1 - w.edge) if turned[w.ring] else w
        for w in _own_widths(project, which)
    ]
    return _reshaped(project, which, shapely.orient_polygons(shape), widths)


def _capital(words: str) -> str:
    return words[0].upper() + words[1:]


def _place(xy) -> str:
    return f"({xy[0]:,.1f}, {xy[1]:,.1f}) m"


def _pair(xy) -> tuple[float, float]:
    return float(xy[0]), float(xy[1])
