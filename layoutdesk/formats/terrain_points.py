"""Heights from surveyed points, contours and triangles: CSV, LandXML and DXF."""

from __future__ import annotations

import contextlib
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from ..core.model import Finding, InputProblem, SiteFrame
from ..core.terrain.surface import TriangleSurface, surface_of_points
from .crs import crs_named, to_frame
from .terrain import UNITS_M, Draft, Said, is_ground, settled_unit_m

_MANY = 200_000
"""Of more points than this only those near the site make triangles."""

_WIDER_M = 400.0
"""Points so far beyond the site are near it: triangles reach over its rim. [m]"""

_FARTHEST_M = 20_000.0
"""Points farther than this are mistakes. [m]"""

_FLAT_SHARE = 0.02
_LONGEST_STEP_M = 10.0
"""Contours get points at least so often. [m]"""


@dataclass
class Points:
    """Points as a file has them, easting first.

    Attributes
    ----------
    xyz : float array, shape (n, 3)
        In the file's own units.
    triangles : int array, shape (t, 3), or None
    lines : list of int array
        Points that follow one another in a contour or breakline.
    geographic : bool
        Whether easting and northing are longitude and latitude.
    unit_m : float or None
        Of the coordinates in plan, where the file says so. [m]
    """

    said: Said
    xyz: np.ndarray
    triangles: np.ndarray | None = None
    lines: list = field(default_factory=list)
    geographic: bool = False
    unit_m: float | None = None
    findings: list = field(default_factory=list)


def plain_unit(unit_m: float | None) -> tuple[str | None, float]:
    """One of VERTICAL_UNITS for a length, and what brings a file's numbers into it.

    Examples
    --------
    >>> plain_unit(0.3048), plain_unit(0.001), plain_unit(None)
    (('ft', 1.0), ('m', 0.001), (None, 1.0))
    """
    if unit_m is None:
        return None, 1.0
    for unit, length_m in UNITS_M.items():
        if abs(length_m - unit_m) < 1e-9:
            return unit, 1.0
    return "m", unit_m


def _read(path: Path) -> Points:
    suffix = path.suffix.lower()
    if suffix == ".dxf":
        from .terrain_drawing import read_drawn_points as read
    elif suffix in (".xml", ".landxml"):
        from .terrain_landxml import read_landxml as read
    else:
        from .terrain_table import read_table_points as read
    return read(path)


def described_points(path: Path) -> Said:
    """What a file of points says of its heights."""
    return _read(path).said


def read_points(path: Path, given_crs, given_unit_m, frame: SiteFrame, around_m, site_crs) -> Draft:
    """The triangles between the points of a file round a site."""
    points, name = _read(path), path.name
    draft = Draft(points.said, findings=points.findings)
    crs = _crs_of(points, name, given_crs, site_crs, draft.findings)
    xyz = _with_steps(points, crs)
    scale = 1.0
    if points.unit_m and crs.is_projected:
        scale = points.unit_m / crs.axis_info[0].unit_conversion_factor
    z = xyz[:, 2] * settled_unit_m(points.said.unit, given_unit_m)
    ground = is_ground(z)
    full = np.column_stack([to_frame(crs, frame)(xyz[:, :2] * scale), z])
    known, near = _known_near(full, ground, around_m)
    if not near.any() and any(f.code == "columns-assumed" for f in draft.findings):
        turned = np.column_stack([to_frame(crs, frame)(xyz[:, 1::-1] * scale), z])
        if _known_near(turned, ground, around_m)[1].any():
            full, (known, near) = turned, _known_near(turned, ground, around_m)
            _say_turned(draft, name)
    if (~known).any():
        text = (
            f"{int((~known).sum()):,} points of {name} without a usable place or height, such as "
            "0 or -9999, were left out."
        )
        draft.findings.append(Finding("terrain-points-dropped", text, name))
    try:
        if points.triangles is not None:
            kept = _meeting(full, points.triangles[known[points.triangles].all(axis=1)], around_m)
            used = len(np.unique(kept))
            draft.surface = TriangleSurface(full, kept) if len(kept) else None
        else:
            chosen = near if known.sum() > _MANY and near.any() else known
            used = int(chosen.sum())
            draft.surface = surface_of_points(full[chosen]) if used else None
    except ValueError as problem:
        reason = str(problem).partition(": ")[2]
        raise InputProblem(f"{name} makes no surface ({reason}): give more points.") from None
    if draft.surface is None or not (near.any() or _covers(draft.surface, around_m)):
        raise InputProblem(
            f"{name}, its coordinates taken as {crs.name}, has no heights near the site: check that "
            "it is the right file, or give its system with --terrain-crs EPSG:nnnn."
        )
    if points.lines:
        _say_flat(draft, name)
    draft.samples = f"{used:,} points, {len(draft.surface.triangles):,} triangles"
    return draft


def _known_near(full: np.ndarray, ground: np.ndarray, around_m) -> tuple[np.ndarray, np.ndarray]:
    """Points with a place and a height, and those of them round the site."""
    low, high = np.array(around_m[:2]), np.array(around_m[2:])
    with np.errstate(invalid="ignore"):
        far = (full[:, :2] < low - _FARTHEST_M) | (full[:, :2] > high + _FARTHEST_M)
        away = (full[:, :2] < low - _WIDER_M) | (full[:, :2] > high + _WIDER_M)
    known = ground & np.isfinite(full).all(axis=1) & ~far.any(axis=1)
    return known, known & ~away.any(axis=1)


def _meeting(full: np.ndarray, triangles: np.ndarray, around_m) -> np.ndarray:
    """Those triangles whose boxes meet the ground round the site."""
    corners = full[triangles, :2]
    low, high = corners.min(axis=1), corners.max(axis=1)
    return triangles[((low <= around_m[2:]) & (high >= around_m[:2])).all(axis=1)]


def _covers(surface, around_m) -> bool:
    """Whether anything is known of the ground round the site."""
    x0, y0, x1, y1 = around_m
    xy = np.stack(np.meshgrid(np.linspace(x0, x1, 9), np.linspace(y0, y1, 9)), axis=-1)
    return bool(np.isfinite(surface.heights_m(xy.reshape(-1, 2))).any())


def _say_turned(draft: Draft, name: str) -> None:
    draft.findings[:] = [f for f in draft.findings if f.code != "columns-assumed"]
    text = (
        "It has no column names known here: its first coordinate was taken as northing and its "
        "second as easting, for only so it lies at the site."
    )
    draft.findings.append(Finding("columns-assumed", text, name))


def _say_flat(draft: Draft, name: str) -> None:
    surface = draft.surface
    z = surface.points[surface.triangles, 2]
    flat = float((np.ptp(z, axis=1) == 0).mean())
    if flat > _FLAT_SHARE:
        text = (
            f"{100 * flat:.0f} % of the triangles between the contours of {name} are level, which "
            "ground hardly is: add points on ridges and in hollows."
        )
        draft.findings.append(Finding("terrain-flat-triangles", text, name))


def _crs_of(points: Points, name: str, given, site_crs, findings):
    if given:
        return crs_named(given)
    if points.said.crs:
        with contextlib.suppress(InputProblem):
            return crs_named(points.said.crs)
    if points.geographic:
        taken, why = crs_named("EPSG:4326"), "WGS 84"
    elif site_crs is not None:
        taken = crs_named(site_crs)
        why = f"the outline's, {taken.name},"
    else:
        raise InputProblem(
            f"{name} names no coordinate system: give it with --terrain-crs EPSG:nnnn."
        )
    findings.append(
        Finding("terrain-crs-assumed", f"{name} names no coordinate system; {why} was taken.", name)
    )
    return taken


def _with_steps(points: Points, crs) -> np.ndarray:
    """The points, and on contours and breaklines more of them where they stand far apart."""
    if not points.lines or points.triangles is not None:
        return points.xyz
    unit_m = points.unit_m or (crs.axis_info[0].unit_conversion_factor if crs.is_projected else 0)
    if not unit_m:
        return points.xyz
    added = [points.xyz]
    for line in points.lines:
        a, b = points.xyz[line[:-1]], points.xyz[line[1:]]
        length = np.hypot(*(b - a)[:, :2].T) * unit_m
        n = np.ceil(length / _LONGEST_STEP_M).astype(int) - 1
        piece = np.repeat(np.arange(len(n)), np.maximum(n, 0))
        if not len(piece):
            continue
        rank = np.arange(len(piece)) - np.repeat(
            np.cumsum(np.maximum(n, 0)) - np.maximum(n, 0), np.maximum(n, 0)
        )
        share = ((rank + 1) / (n[piece] + 1))[:, None]
        added.append(a[piece] * (1 - share) + b[piece] * share)
    return np.concatenate(added)


def refuse_level(xyz: np.ndarray, name: str) -> None:
    """InputProblem where there are no points, or all their heights are 0."""
    if not len(xyz):
        raise InputProblem(f"{name} has no points with heights: export them again, with heights.")
    if (xyz[:, 2] == 0).all():
        raise InputProblem(f"All heights in {name} are 0: export the points again with heights.")
