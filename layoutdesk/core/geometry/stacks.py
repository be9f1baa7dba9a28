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
from .scanline import Region, Strips


@dataclass(frozen=True, eq=False)
class Stack:
    """Regions of equally many edges in one, each moved across by its own offset.

    Edges of member 0 come first, then those of member 1, and so on.

    Attributes
    ----------
    region : Region
    offset_m : float array, shape (k,)
        How far each member is moved across; ascending, or descending in a mirrored stack. [m]
    """

    region: Region
    offset_m: np.ndarray

    def __len__(self) -> int:
        return len(self.offset_m)

    def member_of(self, edges: Edges) -> np.ndarray:
        """Which member each of the region's edges is of, int (e,)."""
        return np.repeat(np.arange(len(self)), len(edges) // max(len(self), 1))

    def mirrored(self) -> Stack:
        """The same with left and right exchanged."""
        return Stack(self.region.mirrored(), -self.offset_m)

    def part(self, begin: int, end: int) -> Stack:
        """Members from `begin` up to `end`, where they are."""

        def some(edges: Edges) -> Edges:
            each = len(edges) // len(self)
            here = slice(begin * each, end * each)
            return Edges(*(getattr(edges, f)[here] for f in ("start_m", "end_m", "ring", "index")))

        r, each = self.region, len(self.region.rim) // len(self)
        width = r.rim_width_m[begin * each : end * each]
        region = Region(some(r.inside), some(r.outside), some(r.rim), width, r.strips)
        return Stack(region, self.offset_m[begin:end])

    def without_strips(self) -> Stack:
        """The same without strips across the lines."""
        return Stack(replace(self.region, strips=None), self.offset_m)

    def narrowed(self, low_m: np.ndarray, high_m: np.ndarray) -> Region:
        """Only those edges that lines between `low_m` and `high_m` of each member can meet."""

        def picked(edges: Edges, width):
            of = self.member_of(edges)
            a, b = edges.start_m[:, 1], edges.end_m[:, 1]
            met = (np.minimum(a, b) - width <= high_m[of]) & (np.maximum(a, b) + width >= low_m[of])
            return Edges(
                edges.start_m[met], edges.end_m[met], edges.ring[met], edges.index[met]
            ), met

        region = self.region
        rim, met = picked(region.rim, region.rim_width_m)
        return Region(
            picked(region.inside, 0.0)[0],
            picked(region.outside, 0.0)[0],
            rim,
            region.rim_width_m[met],
            region.strips,
        )


def alone(region: Region) -> Stack:
    """One region as a stack."""
    width = region.rim_width_m if region.rim_width_m is not None else np.zeros(len(region.rim))
    return Stack(replace(region, rim_width_m=width), np.zeros(1))


def stacked(
    bearings_deg: Sequence[float],
    inside: Edges,
    outside: Edges,
    rim: Sequence[Edges],
    rim_width_m: np.ndarray,
    strips: Sequence[Strips | None] = (),
) -> Stack:
    """One piece of ground in the row axes of several bearings.

    Parameters
    ----------
    bearings_deg : sequence of k floats
    inside, outside : Edges
        In the plane.
    rim : sequence of Edges
        Together the edges of the widths.
    rim_width_m : float array, shape (k, e)
        Width to keep clear along each edge of the rim, for each bearing. [m]
    strips : sequence of k Strips or None
        In row axes, not moved; empty for none at all.
    """
    rim = joined_edges(rim)
    reach = max(float(np.abs(e.start_m).max(initial=0.0)) for e in (inside, outside, rim))
    reach += float(rim_width_m.max(initial=0.0)) + 1.0
    # A power of two as the pitch keeps the rounding of moved coordinates least.
    pitch = 2.0 ** np.ceil(np.log2(3.0 * reach))
    offset = pitch * np.arange(len(bearings_deg))
    turn = np.array([sine_cosine(b) for b in bearings_deg]).reshape(-1, 2)
    region = Region(
        _turned(inside, turn, offset),
        _turned(outside, turn, offset),
        _turned(rim, turn, offset),
        np.ascontiguousarray(rim_width_m).ravel(),
        _moved_strips(strips, offset, pitch / 2),
    )
    return Stack(region, offset)


def _turned(edges: Edges, turn: np.ndarray, offset: np.ndarray) -> Edges:
    s, c = turn[:, :1], turn[:, 1:]

    def in_axes(xy):
        x, y = xy[:, 0], xy[:, 1]
        out = np.empty((len(turn), len(xy), 2))
        out[..., 0] = x * s + y * c
        out[..., 1] = x * c - y * s + offset[:, None]
        return out.reshape(-1, 2)

    n = len(turn)
    return Edges(
        in_axes(edges.start_m),
        in_axes(edges.end_m),
        np.tile(edges.ring, n),
        np.tile(edges.index, n),
    )


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
