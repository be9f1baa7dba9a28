"""Several regions side by side across the lines, so that all are clipped at once.

NumPy's price is a call, not an edge: what takes a hundred small calls a region takes a hundred
calls for all of them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from .axes import sine_cosine
from .edges import Edges, joined_edges
from .insets import Rings, insets
from .scanline import Region, Strips


@dataclass(frozen=True, eq=False)
class Stack:
    """Regions in one, each moved across by its own offset.

    `ring` of an edge or arc is its member; those of the curves stand in order of the members.

    Attributes
    ----------
    region : Region
    offset_m : float array, shape (k,)
        How far each member is moved across; ascending, or descending in a mirrored stack. [m]
    reach_m : float array, shape (k, 2)
        Nothing of a member lies beyond these, across. [m]
    """

    region: Region
    offset_m: np.ndarray
    reach_m: np.ndarray

    def __len__(self) -> int:
        return len(self.offset_m)

    def mirrored(self) -> Stack:
        """The same with left and right exchanged."""
        return Stack(self.region.mirrored(), -self.offset_m, -self.reach_m[:, ::-1])

    def without_strips(self) -> Stack:
        """The same without strips across the lines."""
        return replace(self, region=replace(self.region, strips=None))

    def part(self, begin: int, end: int) -> Region:
        """Members from `begin` up to `end`, where they are."""

        def some(of):
            return slice(*np.searchsorted(of.ring, (begin, end)).tolist())

        r = self.region
        near = (r.rim.ring >= begin) & (r.rim.ring < end)
        return Region(
            r.inside.taken(some(r.inside)),
            r.arcs.taken(some(r.arcs)),
            r.rim.taken(near),
            r.rim_width_m[near],
            r.strips,
        )

    def narrowed(self, low_m: np.ndarray, high_m: np.ndarray) -> Region:
        """Only what lines between `low_m` and `high_m` of each member can meet."""

        def met(a, b, member, width=0.0):
            low, high = np.minimum(a, b) - width, np.maximum(a, b) + width
            return np.flatnonzero((low <= high_m[member]) & (high >= low_m[member]))

        r = self.region
        arcs, rim, width = r.arcs, r.rim, r.rim_width_m
        inside = met(r.inside.start_m[:, 1], r.inside.end_m[:, 1], r.inside.ring)
        near = met(rim.start_m[:, 1], rim.end_m[:, 1], rim.ring, width)
        return Region(
            r.inside.taken(inside),
            arcs.taken(met(arcs.from_m, arcs.to_m, arcs.ring)),
            rim.taken(near),
            width[near],
            r.strips,
        )


def stacked(
    bearings_deg: Sequence[float],
    rings: Rings,
    ring_width_m: np.ndarray,
    rim: Edges,
    rim_width_m: np.ndarray,
    strips: Sequence[Strips | None] = (),
) -> Stack:
    """One piece of ground in the row axes of several bearings.

    Parameters
    ----------
    bearings_deg : sequence of k floats
    rings : Rings
        Inside of which a width is kept, in the plane.
    ring_width_m : float array, shape (k, e)
        Width to keep along each edge of the rings, for each bearing. [m]
    rim : Edges
        In the plane; clear strips are kept on both sides of these.
    rim_width_m : float array, shape (k, f)
        Width to keep clear along each edge of the rim, for each bearing. [m]
    strips : sequence of k Strips or None
        In row axes, not moved; empty for none at all.
    """
    reach = max(float(np.abs(e.start_m).max(initial=0.0)) for e in (rings, rim))
    reach += max(float(w.max(initial=0.0)) for w in (ring_width_m, rim_width_m)) + 1.0
    # A power of two as the pitch keeps the rounding of moved coordinates least.
    pitch = 2.0 ** np.ceil(np.log2(3.0 * reach))
    offset = pitch * np.arange(len(bearings_deg))
    turn = np.array([sine_cosine(b) for b in bearings_deg]).reshape(-1, 2)
    curves = insets(rings, turn, offset, ring_width_m)
    region = Region(
        curves.edges,
        curves.arcs,
        joined_edges([curves.discs, _turned(rim, turn, offset)]),
        np.concatenate([curves.disc_m, rim_width_m.ravel()]),
        _moved_strips(strips, offset, pitch / 2),
    )
    return Stack(region, offset, curves.reach_m)


def _turned(edges: Edges, turn: np.ndarray, offset: np.ndarray) -> Edges:
    s, c = turn[:, :1], turn[:, 1:]

    def in_axes(xy):
        x, y = xy.T
        return np.array([x * s + y * c, x * c - y * s + offset[:, None]]).reshape(2, -1).T

    member = np.repeat(np.arange(len(turn)), len(edges))
    return Edges(in_axes(edges.start_m), in_axes(edges.end_m), member, member)


def _moved_strips(strips, offset, reach: float) -> Strips | None:
    """Strips of all members, each for the lines of its own member alone."""
    some = [(s, o) for s, o in zip(strips, offset.tolist(), strict=bool(strips)) if s is not None]
    if not some:
        return None
    if len(offset) == 1:
        return some[0][0]
    return Strips(
        np.concatenate([s.along_m - o * s.slope for s, o in some]),
        np.concatenate([s.slope for s, _ in some]),
        np.concatenate([s.half_m for s, _ in some]),
        np.concatenate([np.full(len(s.slope), o - reach) for s, o in some]),
        np.concatenate([np.full(len(s.slope), o + reach) for s, o in some]),
    )
