"""What a place can snap to: corners, edges and end posts of a project as arrays."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely

from ..core.model import Project

_FEW = 500
"""So many edges are sooner looked at all than searched for."""


@dataclass(frozen=True, eq=False)
class SnapTargets:
    """Corners, edges and end posts of a project as arrays, made once and asked at each move.

    A shape is named ("block", name) or ("exclusion", i); its ring is 0 for the shell, then the holes;
    the rings, lines and points of an exclusion of several parts are counted on, part after part.

    Attributes
    ----------
    shapes : tuple of (str, str or int)
    names : tuple of str
        What each is called in words.
    outlined : bool array, shape (s,)
        Whether it has edges and corners in words, or is one line or point.
    corner_m : float array, shape (n, 2); corner_of : int array, shape (n, 3)
        Corners, and the shape, ring and index of each. [m]
    start_m, unit : float arrays, shape (e, 2); length_m : float array, shape (e,)
        Edges, the shortest first: where they start, which way they run as stored, how long. [m]
    edge_of : int array, shape (e, 3)
        Shape, ring and index of each.
    post_m : float array, shape (p, 2); post_of : int array, shape (p,); post_blocks : tuple of str
        End posts, and the block each is of. [m]
    edge_tree, corner_tree, post_tree : shapely.STRtree
    corner_counts, edge_counts : bool arrays, shapes (n,) and (e,)
        False for those left out.
    """

    shapes: tuple
    names: tuple[str, ...]
    outlined: np.ndarray
    corner_m: np.ndarray
    corner_of: np.ndarray
    start_m: np.ndarray
    unit: np.ndarray
    length_m: np.ndarray
    edge_of: np.ndarray
    post_m: np.ndarray
    post_of: np.ndarray
    post_blocks: tuple[str, ...]
    edge_tree: shapely.STRtree
    corner_tree: shapely.STRtree
    post_tree: shapely.STRtree
    corner_counts: np.ndarray
    edge_counts: np.ndarray

    @classmethod
    def of(cls, project: Project, plans=(), *, leave_out=None) -> SnapTargets:
        """The targets of a project and, where given, of the end posts of its plans.

        `leave_out` is (shape, ring, index): see `without`.
        """
        ground = {("block", b.name): (b.outline, b.name) for b in project.blocks}
        for i, e in enumerate(project.exclusions):
            ground["exclusion", i] = e.shape, e.name or (f"the {e.kind}" if e.kind else "")
        geometries = [shape for shape, _ in ground.values()]
        corner_m, corner_of, start_m, end_m, edge_of = _corners_and_edges(geometries)
        length = np.hypot(*(end_m - start_m).T)
        order = np.argsort(length, kind="stable")
        start_m, end_m, edge_of, length = (a[order] for a in (start_m, end_m, edge_of, length))
        posts = [plan.end_posts.xy_m for plan in plans]
        post_m = np.concatenate([np.empty((0, 2)), *posts])
        targets = cls(
            tuple(ground),
            tuple(name or "an exclusion" for _, name in ground.values()),
            np.array([g.geom_type.endswith(("Polygon", "Collection")) for g in geometries], bool),
            corner_m,
            corner_of,
            start_m,
            (end_m - start_m) / length[:, None],
            length,
            edge_of,
            post_m,
            np.repeat(np.arange(len(posts)), [len(p) for p in posts]),
            tuple(plan.block.name for plan in plans),
            shapely.STRtree(shapely.linestrings(np.stack([start_m, end_m], axis=1))),
            shapely.STRtree(shapely.points(corner_m)),
            shapely.STRtree(shapely.points(post_m)),
            np.ones(len(corner_m), bool),
            np.ones(len(edge_of), bool),
        )
        return targets.without(*leave_out) if leave_out else targets

    def without(self, shape, ring: int | None = None, index: int | None = None) -> SnapTargets:
        """The targets less one corner and its two edges, as while it is dragged.

        Without an index the whole ring is left out, without a ring the whole shape. KeyError where
        there is no such shape.
        """
        if shape not in self.shapes:
            raise KeyError(f"no shape {shape!r} to leave out")
        wanted = [self.shapes.index(shape), ring][: 1 if ring is None else 2]
        corners = (self.corner_of[:, : len(wanted)] == wanted).all(axis=1)
        edges = (self.edge_of[:, : len(wanted)] == wanted).all(axis=1)
        if index is not None:
            n = max(int(corners.sum()), 1)
            closed = int(edges.sum()) and int(self.edge_of[edges, 2].max()) == n - 1
            index = index % n if closed else index
            before = (index - 1) % n if closed else index - 1
            corners &= self.corner_of[:, 2] == index
            edges &= np.isin(self.edge_of[:, 2], (before, index))
        return replace(
            self,
            corner_counts=self.corner_counts & ~corners,
            edge_counts=self.edge_counts & ~edges,
        )

    def edges_near(self, x_m: float, y_m: float, reach_m: float, least_m: float = 0.0):
        """Edges within reach, nearest first: which, their nearest places (k, 2), and how far. [m]"""
        first = int(np.searchsorted(self.length_m, least_m))
        if len(self.length_m) - first <= _FEW:
            which = np.arange(first, len(self.length_m))
        else:
            which = self.edge_tree.query(_around(x_m, y_m, reach_m))
            which = which[which >= first]
        which = which[self.edge_counts[which]]
        start, unit = self.start_m[which], self.unit[which]
        along = ((np.array([x_m, y_m]) - start) * unit).sum(axis=1)
        feet = start + np.clip(along, 0.0, self.length_m[which])[:, None] * unit
        away = np.hypot(feet[:, 0] - x_m, feet[:, 1] - y_m)
        order = np.lexsort((-which, away))  # at a corner the longer edge
        order = order[away[order] <= reach_m]
        return which[order], feet[order], away[order]

    def corners_near(self, x_m: float, y_m: float, reach_m: float):
        """Corners within reach, nearest first: which, and how far. [m]"""
        which = self.corner_tree.query(_around(x_m, y_m, reach_m))
        return _nearest_first(self.corner_m, which[self.corner_counts[which]], x_m, y_m, reach_m)

    def posts_near(self, x_m: float, y_m: float, reach_m: float):
        """End posts within reach, nearest first: which, and how far. [m]"""
        which = self.post_tree.query(_around(x_m, y_m, reach_m))
        return _nearest_first(self.post_m, which, x_m, y_m, reach_m)

    def ends_m(self, edge: int) -> tuple:
        """Both ends of an edge. [m]"""
        start = self.start_m[edge]
        end = start + self.length_m[edge] * self.unit[edge]
        return tuple(start.tolist()), tuple(end.tolist())

    def told_edge(self, edge: int) -> str:
        """An edge in words: "an edge of B1", or a line by its name."""
        shape = self.edge_of[edge, 0]
        return f"an edge of {self.names[shape]}" if self.outlined[shape] else self.names[shape]

    def told_corner(self, corner: int) -> str:
        """A corner in words, a point exclusion by its name."""
        shape = self.corner_of[corner, 0]
        single = not self.outlined[shape] and not (self.edge_of[:, 0] == shape).any()
        return self.names[shape] if single else f"corner of {self.names[shape]}"


def _around(x_m: float, y_m: float, reach_m: float):
    return shapely.box(x_m - reach_m, y_m - reach_m, x_m + reach_m, y_m + reach_m)


def _nearest_first(places_m, which, x_m: float, y_m: float, reach_m: float):
    away = np.hypot(places_m[which, 0] - x_m, places_m[which, 1] - y_m)
    order = np.lexsort((which, away))  # of corners at one place always the same one
    order = order[away[order] <= reach_m]
    return which[order], away[order]


def _corners_and_edges(shapes):
    """Corners, whose they are, starts and ends of edges, whose they are: shape, ring, index."""
    parts = np.array(list(shapes), dtype=object)
    owner = np.arange(len(parts))
    while (shapely.get_type_id(parts) >= 4).any():  # multi-parts and collections, nested or not
        parts, index = shapely.get_parts(parts, return_index=True)
        owner = owner[index]
    areas = shapely.get_type_id(parts) == 3
    rings, area = shapely.get_rings(parts[areas], return_index=True)
    pieces = np.concatenate([rings, parts[~areas]])
    part = np.concatenate([np.flatnonzero(areas)[area], np.flatnonzero(~areas)])
    order = np.argsort(part, kind="stable")
    pieces, piece_owner = pieces[order], owner[part[order]]
    coords, piece = shapely.get_coordinates(pieces, return_index=True)
    index = np.arange(len(coords)) - np.searchsorted(piece, piece)
    ring = np.arange(len(pieces)) - np.searchsorted(piece_owner, piece_owner)
    whose = np.column_stack([piece_owner[piece], ring[piece], index]).astype(np.intp)
    joined = piece[1:] == piece[:-1]
    last = ~np.r_[joined, False][: len(coords)]
    corner = ~(last & (shapely.get_type_id(pieces) == 2)[piece])  # a ring ends where it began
    edge = np.flatnonzero(joined & (coords[1:] != coords[:-1]).any(axis=1))
    return coords[corner], whose[corner], coords[edge], coords[edge + 1], whose[edge]
