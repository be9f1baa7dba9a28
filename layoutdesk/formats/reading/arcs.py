"""True arcs as short edges that keep the arc's area exactly.

The inner corners are set a hair outside the arc, so that what each chord cuts off and what the
corners add are equal. The edges stray from the arc by less than twice the sagitta, and a parcel
with curved sides has its exact area with few corners.
"""

from __future__ import annotations

import numpy as np

SAGITTA_M = 0.00025
"""Rise of an arc over each of its edges. Edges then stay within 0.5 mm of the arc. [m]"""


def n_edges(radius, sweep_rad, sagitta):
    """Edges for an arc so that its rise over each is at most `sagitta`; 2 or more. [1]"""
    step = 2 * np.arccos(1 - np.minimum(sagitta / radius, 0.25))
    return np.maximum(np.ceil(np.abs(sweep_rad) / step), 2).astype(int)


def area_keeping_radius(radius, sweep_rad, n):
    """Radius for the inner corners of an arc whose two ends stay on it.

    From ½ sin θ ((n − 2) ρ² + 2 ρ) = ½ φ for the sector's area, with θ = φ/n, ρ the ratio of radii.
    """
    phi = np.abs(sweep_rad)
    want = phi / np.sin(phi / n)
    ratio = np.where(n > 2, (np.sqrt(1 + (n - 2) * want) - 1) / np.maximum(n - 2, 1), want / 2)
    return radius * ratio


def flattened_bulges(xy: np.ndarray, bulge: np.ndarray, closed: bool, sagitta: float) -> np.ndarray:
    """Corners of a polyline with its bulged edges made of short ones.

    Parameters
    ----------
    xy : float array, shape (n, 2)
    bulge : float array, shape (n,)
        Tangent of a quarter of the sweep of the edge that starts at each corner; positive
        counter-clockwise.
    closed : bool
        Whether the last corner's edge leads to the first.
    sagitta : float
        In the unit of `xy`.

    Returns
    -------
    float array, shape (m, 2)
        Given corners are kept exactly; a closed ring does not repeat its first.
    """
    bulge = bulge.copy()
    if not closed and len(bulge):
        bulge[-1] = 0.0
    chord = np.roll(xy, -1, axis=0) - xy
    length = np.hypot(*chord.T)
    curved = np.abs(bulge) * length / 2 > sagitta / 25  # a rise below 10 µm is straight
    if not curved.any():
        return xy
    b = np.where(curved, bulge, 1.0)
    size = np.where(curved, length, 1.0)
    radius = size * (1 + b * b) / (4 * np.abs(b))
    sweep = 4 * np.arctan(b)
    left = np.column_stack([-chord[:, 1], chord[:, 0]])
    centre = xy + chord / 2 + left * ((1 - b * b) / (4 * b))[:, None]
    n = np.where(curved, n_edges(radius, sweep, sagitta), 1)
    inner_radius = area_keeping_radius(radius, sweep, np.maximum(n, 2))
    first = np.arctan2(xy[:, 1] - centre[:, 1], xy[:, 0] - centre[:, 0])

    edge = np.repeat(np.arange(len(xy)), n)
    step = np.arange(len(edge)) - np.repeat(np.cumsum(n) - n, n)
    angle = first[edge] + sweep[edge] * step / n[edge]
    out = centre[edge] + inner_radius[edge, None] * np.column_stack([np.cos(angle), np.sin(angle)])
    return np.where((step == 0)[:, None], xy[edge], out)


def flattened_arc(centre, radius: float, start_rad: float, sweep_rad: float, sagitta: float):
    """Corners of an open arc, both ends included and on it. Shape (n + 1, 2)."""
    n = int(n_edges(radius, sweep_rad, sagitta))
    angle = start_rad + sweep_rad * np.arange(n + 1) / n
    at = np.full(n + 1, float(area_keeping_radius(radius, sweep_rad, n)))
    at[[0, -1]] = radius
    return np.asarray(centre) + at[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])


def flattened_circle(centre, radius: float, sagitta: float) -> np.ndarray:
    """Corners of a circle, the first not repeated; its area is the circle's. Shape (n, 2)."""
    n = max(int(n_edges(radius, 2 * np.pi, sagitta)), 8)
    angle = 2 * np.pi * np.arange(n) / n
    wider = radius * np.sqrt((2 * np.pi / n) / np.sin(2 * np.pi / n))
    return np.asarray(centre) + wider * np.column_stack([np.cos(angle), np.sin(angle)])
