"""DXF drawings: closed polylines, circles, block references and loose lines as pieces."""

from __future__ import annotations

import io
import logging
import math
import re
from collections import Counter
from contextlib import contextmanager
from pathlib import Path

import numpy as np

from layoutdesk.core.model.findings import Finding, InputProblem

from .arcs import SAGITTA_M, flattened_arc, flattened_bulges, flattened_circle
from .chains import GAP_M, joined
from .reference import FOOT_M, US_SURVEY_FOOT_M, metres_of_unit
from .shapes import Piece, Source, counted

INSUNITS_M = {
    1: 0.0254,
    2: FOOT_M,
    3: 1609.344,
    4: 0.001,
    5: 0.01,
    6: 1.0,
    7: 1000.0,
    10: 0.9144,
    14: 0.1,
    15: 10.0,
    16: 100.0,
    21: US_SURVEY_FOOT_M,
    22: US_SURVEY_FOOT_M / 12,
    23: US_SURVEY_FOOT_M * 3,
    24: US_SURVEY_FOOT_M * 5280,
}
"""Metres in each `$INSUNITS` code of the DXF reference that a drawing of land can have. [m]"""

HEADER_BYTES = 4_000_000
"""The header is at the start of a drawing, and shorter than this. [bytes]"""

MAX_NESTING = 24
"""Block references inside block references are followed so deep."""


def read_drawing(path: Path, shown: str, unit_text, *, areas_wanted: bool) -> Source:
    """Closed shapes, lines and points of the model space, block references opened up.

    Parameters
    ----------
    unit_text : str or None
        The unit given by the user; it sets how finely arcs are cut, scaling comes later.
    areas_wanted : bool
        Whether the caller wants outlines only, so that open lines are remarked on.

    Raises
    ------
    InputProblem
        When it is no DXF file.
    """
    source = Source("DXF", needs_unit=True, rings_close_themselves=True)
    with quiet_drawing():
        document = drawing_document(path, shown, source)
        header_unit = document.header.get("$INSUNITS", 0) if says_unit(path) else 0
        source.unit_m = INSUNITS_M.get(header_unit)
        unit_m = metres_of_unit(unit_text) if unit_text else source.unit_m
        entities = list(visible_entities(document, shown, source))
        sagitta = (SAGITTA_M / unit_m) if unit_m else 1e-6 * _extent(document, entities)
        reading = _Reading(source, sagitta)
        for entity, layer in entities:
            reading.take(entity, layer)
        reading.join(GAP_M / unit_m if unit_m else sagitta * 4, unit_m or 1.0, shown, areas_wanted)
    return source


@contextmanager
def quiet_drawing():
    log = logging.getLogger("ezdxf")
    silent = logging.NullHandler()
    log.addHandler(silent)
    before = log.propagate
    log.propagate = False
    try:
        yield
    finally:
        log.propagate = before
        log.removeHandler(silent)


def drawing_document(path, shown, source):
    import ezdxf
    from ezdxf import recover

    try:
        return ezdxf.readfile(path)
    except Exception:  # the second, patient way decides
        pass
    try:
        return ezdxf.read(io.StringIO(_with_markers(path)))
    except Exception:  # neither is it a bare file of few words
        pass
    try:
        document, _ = recover.readfile(path)
    except Exception as trouble:  # ezdxf raises many kinds on files that are no DXF
        raise InputProblem(
            f"{shown} cannot be read as DXF; save it again as DXF 2007 or later."
        ) from trouble
    if not len(document.modelspace()):
        raise InputProblem(
            f"{shown} cannot be read as DXF, or is cut off; save it again as DXF 2007 or later."
        )
    text = "The drawing is damaged and was read as far as possible; check that nothing is missing."
    source.findings.append(Finding("drawing-recovered", text, where=shown))
    return document


_BARE_POLYLINE = re.compile(
    r"^(\s*0\s*\nLWPOLYLINE\n)((?:[ \t]*(?:5|6|8|48|60|62|370|410|420)[ \t]*\n.*\n)*)(?![ \t]*100[ \t]*\n)",
    re.MULTILINE,
)


def _with_markers(path) -> str:
    """A DXF's text with the subclass markers that simple exporters leave out of polylines."""
    text = path.read_bytes().decode("utf-8", "surrogateescape").replace("\r\n", "\n")
    mended, n = _BARE_POLYLINE.subn(r"\g<1>100\nAcDbEntity\n\g<2>100\nAcDbPolyline\n", text)
    if not n:
        raise ValueError("no polyline without markers")
    if "$ACADVER" not in mended:  # else taken for R12, which has no such polylines
        mended = "0\nSECTION\n2\nHEADER\n9\n$ACADVER\n1\nAC1015\n0\nENDSEC\n" + mended
    return mended


def says_unit(path) -> bool:
    """Whether the file itself names a unit; ezdxf fills in metres where a header is missing."""
    with path.open("rb") as stream:
        return b"$INSUNITS" in stream.read(HEADER_BYTES)


def visible_entities(document, shown, source):
    """(entity, layer) of everything switched on, block references followed."""
    hidden = {
        layer.dxf.name.lower() for layer in document.layers if layer.is_off() or layer.is_frozen()
    }
    skipped = Counter()
    for entity, layer in _opened(document.modelspace(), None, 0):
        if layer.lower() in hidden:
            skipped[layer] += 1
        else:
            yield entity, layer
    if skipped:
        text = (
            f"{counted(sum(skipped.values()), 'entity').replace('entitys', 'entities')} on hidden "
            f"layers left out ({', '.join(sorted(skipped)[:5])})."
        )
        source.findings.append(Finding("shapes-skipped", text, where=shown))


def _opened(entities, outer_layer, depth):
    for entity in entities:
        layer = entity.dxf.get("layer", "0")
        if layer == "0" and outer_layer is not None:
            layer = outer_layer  # what a block draws on layer 0 takes the reference's layer
        if entity.dxftype() != "INSERT":
            yield entity, layer
        elif depth < MAX_NESTING:
            for one in entity.multi_insert() if entity.mcount > 1 else (entity,):
                yield from _opened(one.virtual_entities(), layer, depth + 1)


def _extent(document, entities) -> float:
    """A rough size of the drawing in its unit, for one that says no unit."""
    from ezdxf import bbox

    box = bbox.extents((e for e, _ in entities[:2000]), fast=True)
    return max(box.size.x, box.size.y, 1e-9) if box.has_data else 1.0


class _Reading:
    """Collects pieces from entities; loose ends are kept for joining."""

    def __init__(self, source: Source, sagitta: float):
        self.source = source
        self.sagitta = sagitta
        self.loose: list[tuple[np.ndarray, str]] = []
        self.n_arcs = 0

    def take(self, entity, layer: str) -> None:
        """Read one entity; kinds that are no shape of the ground (text, hatches) are passed over."""
        read = getattr(self, f"_read_{entity.dxftype().lower()}", None)
        if read is not None:
            read(entity, layer)

    def _area(self, xy, layer, what):
        where = f"layer {layer}, {what} at ({xy[0][0]:.2f}, {xy[0][1]:.2f})"
        name = "" if layer == "0" else layer
        self.source.pieces.append(Piece("area", [np.asarray(xy, float)], name, where=where))

    def _path(self, xy, closed, layer, what):
        if closed and len(xy) > 2:
            self._area(xy, layer, what)
        elif len(xy) > 1:
            self.loose.append((np.asarray(xy, float), layer))

    def _read_lwpolyline(self, entity, layer):
        points = np.array(entity.get_points("xyb"), dtype=float).reshape(-1, 3)
        self._polyline(points[:, :2], points[:, 2], entity.dxf.elevation, entity, layer)

    def _read_polyline(self, entity, layer):
        if entity.is_3d_polyline:
            xy = [(v.dxf.location.x, v.dxf.location.y) for v in entity.vertices]
            self._path(xy, entity.is_closed, layer, "polyline")
        elif entity.is_2d_polyline and len(entity.vertices):
            # 16: control points of a fitted curve, which are not on it
            rows = [v.dxf for v in entity.vertices if not v.dxf.flags & 16]
            points = np.array([(d.location.x, d.location.y, d.get("bulge", 0.0)) for d in rows])
            height = entity.dxf.elevation.z if entity.dxf.hasattr("elevation") else 0.0
            self._polyline(points[:, :2], points[:, 2], height, entity, layer)

    def _polyline(self, xy, bulge, height, entity, layer):
        if not len(xy):
            return
        closed = bool(entity.is_closed)
        if closed and len(xy) > 1 and (xy[0] == xy[-1]).all():
            xy, bulge = xy[:-1], bulge[:-1]  # closed by flag and again by a repeated corner
        self.n_arcs += int((bulge[: None if closed else -1] != 0).sum())
        flat = flattened_bulges(xy, bulge, closed, self.sagitta)
        self._path(_in_world(flat, height, entity), closed, layer, "polyline")

    def _read_line(self, entity, layer):
        a, b = entity.dxf.start, entity.dxf.end
        self._path([(a.x, a.y), (b.x, b.y)], False, layer, "line")

    def _read_arc(self, entity, layer):
        dxf = entity.dxf
        if dxf.radius <= 0:
            return
        sweep = math.radians((dxf.end_angle - dxf.start_angle) % 360.0 or 360.0)
        start = math.radians(dxf.start_angle)
        centre = dxf.center
        xy = flattened_arc((centre.x, centre.y), dxf.radius, start, sweep, self.sagitta)
        self.n_arcs += 1
        self._path(_in_world(xy, centre.z, entity), False, layer, "arc")

    def _read_circle(self, entity, layer):
        centre = entity.dxf.center
        if entity.dxf.radius > 0:
            xy = flattened_circle((centre.x, centre.y), entity.dxf.radius, self.sagitta)
            self.n_arcs += 1
            self._area(_in_world(xy, centre.z, entity), layer, "circle")

    def _read_ellipse(self, entity, layer):
        self._curve(entity, layer, "ellipse")

    def _read_spline(self, entity, layer):
        self._curve(entity, layer, "spline")

    def _curve(self, entity, layer, what):
        # Chords cut inside: a fiftieth of the arcs' sagitta keeps the area to 4 mm² per metre.
        try:
            xy = np.array([(p.x, p.y) for p in entity.flattening(self.sagitta / 50)])
        except Exception:  # a spline without enough control points
            self.source.n_skipped += 1
            return
        self.n_arcs += 1
        closed = len(xy) > 3 and np.abs(xy[0] - xy[-1]).max() <= self.sagitta
        self._path(xy[:-1] if closed else xy, closed, layer, what)

    def _read_point(self, entity, layer):
        at = entity.dxf.location
        name = "" if layer == "0" else layer
        where = f"layer {layer}, point at ({at.x:.2f}, {at.y:.2f})"
        self.source.pieces.append(Piece("point", [np.array([[at.x, at.y]])], name, where=where))

    def join(self, tolerance, unit_m, shown, areas_wanted) -> None:
        """Join loose lines into rings, and say what was joined and what still gapes."""
        result = joined(self.loose, tolerance)
        for xy, layer, n, gap in result.rings:
            self._area(xy, layer, "lines")
            if n > 1:
                gap_mm = gap * unit_m * 1000
                exact = gap_mm < 1e-3
                text = f"{counted(n, 'loose line')} joined into an outline, " + (
                    "their ends meet." if exact else f"the widest gap was {gap_mm:.1f} mm."
                )
                where = f"layer {layer}"
                severity = "note" if exact else "caution"
                finding = Finding("gap-closed", text, where, severity=severity)
                if finding not in self.source.findings:  # faces of one net say the same
                    self.source.findings.append(finding)
        for xy, layer in result.lines:
            where = f"layer {layer}, line at ({xy[0][0]:.2f}, {xy[0][1]:.2f})"
            name = "" if layer == "0" else layer
            self.source.pieces.append(Piece("line", [xy], name, where=where))
        if self.n_arcs:
            text = (
                f"{counted(self.n_arcs, 'curve')} made of short straight edges that stay within "
                "0.5 mm; the area keeps."
            )
            self.source.findings.append(Finding("arc-flattened", text, where=shown))
        if areas_wanted and not any(p.form == "area" for p in self.source.pieces):
            self.source.nothing = _why_none(result.lines, unit_m, shown, self.source.unit_m)


def _why_none(lines, unit_m, shown, known) -> str:
    if not lines:
        return f"{shown} draws no closed outline in its model space; draw it as a closed polyline."
    gap, xy = min((float(np.hypot(*(xy[0] - xy[-1]))), tuple(xy[-1])) for xy, _ in lines)
    size = f"{gap * unit_m:.3g} m" if known else f"{gap:.3g} units"
    return (
        f"{shown} draws no closed outline: of {counted(len(lines), 'open line')} the one "
        f"nearest to closing gapes by {size} at ({xy[0]:.2f}, {xy[1]:.2f}); close it and save again."
    )


def _in_world(xy, height, entity) -> np.ndarray:
    """Plan coordinates of points given in an entity's own coordinate system."""
    system = entity.ocs()
    if not system.transform:
        return xy
    ux, uy, uz = (np.array([v.x, v.y]) for v in (system.ux, system.uy, system.uz))
    return xy[:, :1] * ux + xy[:, 1:2] * uy + height * uz
