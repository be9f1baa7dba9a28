"""What can be asked of, and changed at, one edge of an outline."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..core.geometry.edges import ring_edges
from ..core.layout.clearances import clear_width_m
from ..core.model import Block, EdgeWidth, Project


@dataclass(frozen=True)
class EdgeView:
    """One edge as a person reads it.

    Attributes
    ----------
    block : str
    ring, edge : int
        Which edge: ring 0 is the outline itself, then its holes.
    ends_m : ((x, y), (x, y))
        Site frame. [m]
    length_m, bearing_deg : float
        The bearing as rows would run along it, within half a turn of the rows' own. [m], [deg]
    width_m : float
        Clear width in force. [m]
    own : bool
        Whether the width is the edge's own and not the rules'.
    is_end : bool
        Whether rows end at it, as the rules see it.
    """

    block: str
    ring: int
    edge: int
    ends_m: tuple[tuple[float, float], tuple[float, float]]
    length_m: float
    bearing_deg: float
    width_m: float
    own: bool
    is_end: bool


def edge_view(block: Block, ring: int, edge: int) -> EdgeView | None:
    """One edge of a block; None where there is no such edge."""
    edges = ring_edges(block.outline)
    found = np.flatnonzero((edges.ring == ring) & (edges.index == edge))
    if not len(found):
        return None
    i = found[0]
    a, b = edges.start_m[i], edges.end_m[i]
    bearing = float(edges.bearing_deg[i])
    if abs((bearing - block.rules.bearing_deg + 180) % 360 - 180) > 90:
        bearing = (bearing + 180) % 360
    bare = replace(block, edge_widths=())
    by_rule = clear_width_m(edges, bare, replace(block.rules, headland_m=1.0, side_margin_m=0.0))
    own = any(w.ring == ring and w.edge == edge for w in block.edge_widths)
    return EdgeView(
        block.name,
        ring,
        edge,
        (tuple(a.tolist()), tuple(b.tolist())),
        float(np.hypot(*(b - a))),
        bearing,
        float(clear_width_m(edges, block, block.rules)[i]),
        own,
        bool(by_rule[i] == 1.0),
    )


def edge_at(project: Project, x_m: float, y_m: float, reach_m: float) -> EdgeView | None:
    """The outline edge nearest to a place, None where none is within reach."""
    best, nearest = None, reach_m
    for block in project.blocks:
        edges = ring_edges(block.outline)
        step = edges.end_m - edges.start_m
        away = np.array([x_m, y_m]) - edges.start_m
        share = np.clip((away * step).sum(axis=1) / (step * step).sum(axis=1), 0.0, 1.0)
        distance = np.hypot(*(away - share[:, None] * step).T)
        i = int(np.argmin(distance))
        if distance[i] <= nearest:
            nearest = float(distance[i])
            best = block, int(edges.ring[i]), int(edges.index[i])
    return edge_view(*best) if best else None


def with_edge_width(project: Project, view: EdgeView, width_m: float | None) -> Project:
    """The project with a clear width of the edge's own; None gives it back to the rules."""
    block = project.block(view.block)
    others = [w for w in block.edge_widths if (w.ring, w.edge) != (view.ring, view.edge)]
    if width_m is not None:
        others.append(EdgeWidth(view.ring, view.edge, width_m))
    widths = tuple(sorted(others, key=lambda w: (w.ring, w.edge)))
    return project.with_block(replace(block, edge_widths=widths))


def with_rows_along(project: Project, view: EdgeView) -> Project:
    """The project with the block's rows parallel to the edge, turned as little as need be."""
    block = project.block(view.block)
    return project.with_block(
        replace(block, rules=replace(block.rules, bearing_deg=view.bearing_deg))
    )
