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

    @property
    def bearing_deg(self) -> np.ndarray:
        """Direction of each edge in its ring's sense. [deg]"""
        step = self.end_m - self.start_m
        return bearing_of(step[:, 0], step[:, 1])


NO_EDGES = Edges(
    np.empty((0, 2)), np.empty((0, 2)), np.empty(0, dtype=np.intp), np.empty(0, dtype=np.intp)
)


def _edges_of_lines(coords: np.ndarray, part: np.ndarray) -> Edges:
    """Edges between successive points of the same part; zero-length ones are left out."""
    joined = part[1:] == part[:-1]
    first_of_part = np.flatnonzero(np.r_[True, ~joined])
    index = np.arange(len(coords)) - np.repeat(
        first_of_part, np.diff(np.r_[first_of_part, len(coords)])
    )
    keep = joined & (coords[1:] != coords[:-1]).any(axis=1)
    return Edges(coords[:-1][keep], coords[1:][keep], part[:-1][keep], index[:-1][keep])


def ring_edges(polygon: shapely.Polygon) -> Edges:
    """Edges of a polygon's shell and holes, turned so that the area lies on their left.

    `index` follows the rings as stored, so an edge keeps its name whichever way its ring runs.

    Examples
    --------
    >>> e = ring_edges(shapely.box(0, 0, 2, 1))
    >>> len(e), sorted(set(e.ring.tolist()))
    (4, [0])
    """
    rings = shapely.get_rings(polygon)
    coords, part = shapely.get_coordinates(rings, return_index=True)
    edges = _edges_of_lines(coords, part)
    turn = shapely.is_ccw(rings) != (np.arange(len(rings)) == 0)
    turned = turn[edges.ring][:, None]
    return Edges(
        np.where(turned, edges.end_m, edges.start_m),
        np.where(turned, edges.start_m, edges.end_m),
        edges.ring,
        edges.index,
    )


def simple_parts(shapes) -> list:
    """Points, lines and polygons of shapes and of collections in them, empty ones left out."""
    parts = list(shapes)
    while any(hasattr(p, "geoms") for p in parts):
        parts = list(shapely.get_parts(parts))
    return [p for p in parts if not p.is_empty]


def area_edges(shapes) -> Edges:
    """Edges of every polygon among `shapes`, in winding sense; lines and points give none."""
    return joined_edges([ring_edges(p) for p in simple_parts(shapes) if p.geom_type == "Polygon"])


def line_edges(shapes) -> Edges:
    """Edges of lines; a point, or a line of no length, is one edge of no length."""
    every = []
    for shape in simple_parts(shapes):
        if shape.geom_type == "Polygon":
            continue
        coords = shapely.get_coordinates(shape)
        edges = _edges_of_lines(coords, np.zeros(len(coords), np.intp))
        if not len(edges):
            edges = Edges(coords[:1], coords[:1], np.zeros(1, np.intp), np.zeros(1, np.intp))
        every.append(edges)
    return joined_edges(every)


def joined_edges(several) -> Edges:
    """One Edges from several, in order."""
    several = [e for e in several if len(e)]
    if not several:
        return NO_EDGES
    return Edges(
        *(np.concatenate([getattr(e, f) for e in several]) for f in ("start_m", "end_m", "ring", "index"))
    )
