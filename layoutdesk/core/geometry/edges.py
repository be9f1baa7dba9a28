"""Polygons as flat arrays of edges."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from .axes import bearing_of


@dataclass(frozen=True, eq=False)
class Edges:
    """Directed edges of one or more rings or lines, as arrays.

    Rings of areas run with the area on their left (shells counter-clockwise, holes clockwise), so
    that edges counted with their direction give a winding number.

    Attributes
    ----------
    start_m, end_m : float array, shape (e, 2)
        Both ends of each edge. [m]
    ring : int array, shape (e,)
        Which ring (0 the shell, then the holes) or line an edge is of.
    index : int array, shape (e,)
        Position of an edge in the ring as stored, 0 from the first corner.
    """

    start_m: np.ndarray
    end_m: np.ndarray
    ring: np.ndarray
    index: np.ndarray

    def __len__(self) -> int:
        return len(self.start_m)

    def taken(self, which) -> Edges:
        """Some of the edges, by mask or indices."""
        return Edges(self.start_m[which], self.end_m[which], self.ring[which], self.index[which])

    def reversed(self) -> Edges:
        """The same edges run the other way, areas on their right."""
        return Edges(self.end_m, self.start_m, self.ring, self.index)

    @property
    def bearing_deg(self) -> np.ndarray:
        """Direction of each edge in its ring's sense. [deg]"""
        step = self.end_m - self.start_m
        return bearing_of(step[:, 0], step[:, 1])


NO_EDGES = Edges(
    np.empty((0, 2)), np.empty((0, 2)), np.empty(0, dtype=np.intp), np.empty(0, dtype=np.intp)
)


def _between(coords: np.ndarray, ring: np.ndarray, keep_points: bool = False) -> Edges:
    """Edges between successive points of the same ring; those of no length are left out.

    With `keep_points`, a ring that has no other edge keeps one of no length.
    """
    joined = ring[1:] == ring[:-1]
    first_of_ring = np.flatnonzero(np.r_[True, ~joined][: len(coords)])
    index = np.arange(len(coords)) - np.repeat(
        first_of_ring, np.diff(np.r_[first_of_ring, len(coords)])
    )
    keep = joined & (coords[1:] != coords[:-1]).any(axis=1)
    edges = Edges(coords[:-1][keep], coords[1:][keep], ring[:-1][keep], index[:-1][keep])
    if not keep_points:
        return edges
    bare = first_of_ring[~np.isin(ring[first_of_ring], edges.ring)]
    points = Edges(coords[bare], coords[bare], ring[bare], np.zeros(len(bare), np.intp))
    return joined_edges([edges, points])


def _simple_parts(shapes):
    """Points, lines and polygons of shapes and of collections in them, and whose part each is."""
    parts = np.array(list(shapes), dtype=object)
    owner = np.arange(len(parts))
    while (shapely.get_type_id(parts) >= 4).any():  # multi-parts and collections, nested or not
        parts, index = shapely.get_parts(parts, return_index=True)
        owner = owner[index]
    some = ~shapely.is_empty(parts)
    return parts[some], owner[some]


def _ring_edges(polygons: np.ndarray) -> tuple[Edges, np.ndarray]:
    """Edges of all rings of polygons, areas on their left, and the polygon of each edge."""
    rings, polygon = shapely.get_rings(polygons, return_index=True)
    coords, ring = shapely.get_coordinates(rings, return_index=True)
    edges = _between(coords, ring)
    is_shell = np.r_[True, polygon[1:] != polygon[:-1]][: len(rings)]
    turned = (shapely.is_ccw(rings) != is_shell)[edges.ring][:, None]
    start = np.where(turned, edges.end_m, edges.start_m)
    end = np.where(turned, edges.start_m, edges.end_m)
    return Edges(start, end, edges.ring, edges.index), polygon[edges.ring]


def ring_edges(polygon: shapely.Polygon) -> Edges:
    """Edges of a polygon's shell and holes, turned so that the area lies on their left.

    `index` follows the rings as stored, so an edge keeps its name whichever way its ring runs.

    Examples
    --------
    >>> e = ring_edges(shapely.box(0, 0, 2, 1))
    >>> len(e), sorted(set(e.ring.tolist()))
    (4, [0])
    """
    return _ring_edges(np.array([polygon]))[0]


def area_edges(shapes) -> tuple[Edges, np.ndarray]:
    """Edges of every polygon among `shapes`, areas on their left, and the shape each is of."""
    parts, owner = _simple_parts(shapes)
    areas = shapely.get_type_id(parts) == 3
    if not areas.any():
        return NO_EDGES, np.empty(0, np.intp)
    edges, polygon = _ring_edges(parts[areas])
    return edges, owner[areas][polygon]


def line_edges(shapes) -> tuple[Edges, np.ndarray]:
    """Edges of lines and points among `shapes`, and the shape each is of.

    A point, or a line of no length, is one edge of no length.
    """
    parts, owner = _simple_parts(shapes)
    thin = shapely.get_type_id(parts) != 3
    if not thin.any():
        return NO_EDGES, np.empty(0, np.intp)
    coords, part = shapely.get_coordinates(parts[thin], return_index=True)
    edges = _between(coords, part, keep_points=True)
    return edges, owner[thin][edges.ring]


def joined_edges(several) -> Edges:
    """One Edges from several, in order."""
    several = [e for e in several if len(e)]
    if not several:
        return NO_EDGES
    fields = ("start_m", "end_m", "ring", "index")
    return Edges(*(np.concatenate([getattr(e, f) for e in several]) for f in fields))
