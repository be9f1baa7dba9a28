"""Joining outlines that touch or overlap, so that each block is one polygon."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry.polygon import orient

from layoutdesk.core.model.findings import Finding

from .shapes import Piece, counted

_SLIVER_M2 = 1e-6
"""Ground in common, in the file's own unit squared, that rounding alone makes."""


def merged(parts: list[tuple[shapely.Polygon, Piece]]) -> tuple[list[tuple], list[Finding]]:
    """Polygons that share ground or an edge joined into one; the others as they were.

    Polygons that touch in a point only stay apart, and so do those of different names that share
    no more than an edge.

    Parameters
    ----------
    parts : list of (Polygon, Piece)

    Returns
    -------
    list of (Polygon, Piece)
        Each joined polygon keeps the piece of its first part.
    list of Finding
        One per joined group.
    """
    polygons = np.array([p for p, _ in parts], dtype=object)
    tree = shapely.STRtree(polygons)
    a, b = tree.query(polygons, predicate="intersects")
    a, b = a[a < b], b[a < b]
    if not len(a):
        return parts, []
    shared = shapely.intersection(polygons[a], polygons[b])
    meet = shapely.get_dimensions(shared) >= 1
    names = [piece.name for _, piece in parts]
    # Neighbours that people named apart are two blocks with a common boundary.
    apart = np.array(
        [bool(names[i] and names[j] and names[i] != names[j]) for i, j in zip(a, b, strict=True)]
    )
    meet &= ~(apart & (shapely.area(shared) <= _SLIVER_M2))
    group = _groups(len(parts), a[meet], b[meet])

    out, findings = [], []
    for first in np.unique(group):
        members = np.flatnonzero(group == first)
        if len(members) == 1:
            out.append(parts[members[0]])
            continue
        whole = shapely.union_all(polygons[members])
        out += [(orient(p), parts[first][1]) for p in shapely.get_parts(whole)]
        findings.append(_said(polygons[members], [parts[m][1] for m in members], whole))
    return out, findings


def _groups(n: int, a: np.ndarray, b: np.ndarray) -> np.ndarray:
    """The least index each item is linked to, for links a-b."""
    group = np.arange(n)
    while True:
        low = np.minimum(group[a], group[b])
        new = group.copy()
        np.minimum.at(new, a, low)
        np.minimum.at(new, b, low)
        new = new[new]
        if (new == group).all():
            return group
        group = new


def _said(polygons, pieces, whole) -> Finding:
    names = list(dict.fromkeys(p.name for p in pieces if p.name))
    where = ", ".join(p.where for p in pieces[:4]) + (", …" if len(pieces) > 4 else "")
    overlap = 1 - whole.area / shapely.area(polygons).sum()
    text = f"{counted(len(pieces), 'part')} that touch or overlap were joined into one outline"
    if overlap > 1e-9:
        text += f" (they shared {overlap:.2%} of their ground)"
    if len(names) > 1:
        text += f"; it is named {names[0]}, not {', '.join(names[1:4])}"
    swallowed = shapely.covers(polygons[np.argmax(shapely.area(polygons))], polygons).sum() > 1
    severity = ""
    if swallowed:
        text += "; one lies wholly inside another: if it is to be kept clear, give it as exclusion"
        severity = "caution"
    return Finding("parts-merged", text + ".", where=where, severity=severity)
