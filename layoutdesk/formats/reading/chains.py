"""Loose lines and arcs joined end to end into rings."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

GAP_M = 0.001
"""Ends no further apart than this are one corner. [m]"""


@dataclass
class Joined:
    """What became of loose lines.

    Attributes
    ----------
    rings : list of (float array (n, 2), layer, int, float)
        A ring, the layer of its first line, how many lines it is made of, and its widest gap.
    lines : list of (float array (n, 2), layer)
        Chains that do not close.
    """

    rings: list
    lines: list


def joined(paths: list[tuple[np.ndarray, str]], tolerance: float) -> Joined:
    """Rings from lines whose ends meet within a tolerance, in the unit of the coordinates.

    Lines that meet only two by two are chained (`ezdxf.edgeminer`). Where three or more meet,
    every face between them becomes a ring of its own.
    """
    from ezdxf import edgeminer

    edges = []
    rings = []
    for xy, layer in paths:
        if np.abs(xy[0] - xy[-1]).max() <= tolerance and len(xy) > 3:
            rings.append((xy[:-1], layer, 1, float(np.hypot(*(xy[0] - xy[-1])))))
        elif np.hypot(*np.diff(xy, axis=0).T).sum() > tolerance:
            edges.append(edgeminer.make_edge(tuple(xy[0]), tuple(xy[-1]), payload=(xy, layer)))
    if not edges:
        return Joined(rings, [])
    deposit = edgeminer.Deposit(edges, gap_tol=tolerance)
    chains = edgeminer.find_all_simple_chains(deposit)
    open_chains = []
    for chain in chains:
        xy, gap = _corners(chain)
        layer = chain[0].payload[1]
        ends = float(np.hypot(*(xy[0] - xy[-1])))
        if len(chain) > 1 and ends <= tolerance and len(xy) > 3:
            rings.append((xy[:-1], layer, len(chain), max(gap, ends)))
        else:
            open_chains.append((xy, layer, len(chain), gap))
    faces, lines = _faces(open_chains, tolerance)
    return Joined(rings + faces, lines)


def _corners(chain) -> tuple[np.ndarray, float]:
    """One line through a chain's edges, and its widest gap; a gap's two ends become their middle."""
    whole = None
    widest = 0.0
    for edge in chain:
        xy = edge.payload[0][::-1] if edge.is_reverse else edge.payload[0]
        if whole is None:
            whole = [xy.copy()]
            continue
        last = whole[-1]
        widest = max(widest, float(np.hypot(*(last[-1] - xy[0]))))
        last[-1] = (last[-1] + xy[0]) / 2
        whole.append(xy[1:].copy())
    return np.vstack(whole), widest


def _faces(chains, tolerance):
    """Faces between chains that meet in junctions, and the chains that bound none."""
    if len(chains) < 2:
        return [], [(xy, layer) for xy, layer, _, _ in chains]
    ends = np.array([xy[i] for xy, *_ in chains for i in (0, -1)])
    # Ends within the tolerance take the place of the first of them, so that lines meet exactly.
    tree = shapely.STRtree(shapely.points(ends))
    a, b = tree.query(shapely.points(ends), predicate="dwithin", distance=tolerance)
    meet = np.arange(len(ends))
    np.minimum.at(meet, a, b)
    gaps = np.hypot(*(ends - ends[meet]).T)
    lines = []
    for number, (xy, *_) in enumerate(chains):
        snapped = xy.copy()
        snapped[0], snapped[-1] = ends[meet[2 * number]], ends[meet[2 * number + 1]]
        lines.append(shapely.LineString(snapped))
    faces, _, _, _ = shapely.polygonize_full(lines)
    faces = [f for f in shapely.get_parts(faces) if not f.is_empty]
    if not faces:
        return [], [(xy, layer) for xy, layer, _, _ in chains]
    edges_used = shapely.union_all([f.boundary for f in faces])
    bounding = [bool(shapely.covers(edges_used, line)) for line in lines]
    widest = float(max([gaps.max(), *(c[3] for c in chains)]))
    n_lines = sum(c[2] for c, used in zip(chains, bounding, strict=True) if used)
    layer = next((c[1] for c, used in zip(chains, bounding, strict=True) if used), chains[0][1])
    # Each face as a ring; a face around another has it as a separate face inside, joined later.
    rings = [(np.asarray(f.exterior.coords)[:-1], layer, n_lines, widest) for f in faces]
    return rings, [(c[0], c[1]) for c, used in zip(chains, bounding, strict=True) if not used]
