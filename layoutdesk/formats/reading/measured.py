"""Measured points from the files crews bring back: tables in any habit, LandXML, drawings, GIS layers.

Whatever the file, points come out in the written coordinates of the hand-off, so that they can be held against it.
"""

from __future__ import annotations

import tempfile
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from layoutdesk.core.model import Finding, InputProblem, SiteFrame
from layoutdesk.core.staking.matching import Measured

from ..handoffset import Placing
from ..project_file import is_project
from .recognise import format_of
from .reference import metres_of_unit, unit_name

_HEAD_BYTES = 65_536
_FORMATS = "CSV or text, LandXML, DXF, GeoPackage, Shapefile, GeoJSON, KML or GPX"
_TEXT_ENDS = (".csv", ".txt", ".tsv", ".asc", ".pts", ".pnt", ".xyz", ".dat", ".cor", ".prn", "")
_WORDS = {
    "export the corners": "export the measured points",
    "give the outline's file": "give the file with the measured points",
    "the one with the outline": "the one with the measured points",
}
_SAME_UNIT = 1e-9
_LARGEST = 1e10
"""No grid counts farther, in any unit."""
_NAMED_LINES = 3


@dataclass
class Draft:
    """Points as a file has them, before unit and coordinate system are settled.

    Attributes
    ----------
    format : str
        For people.
    name, description : list of str
    en : float array, shape (n, 2)
        Easting and northing (longitude and latitude) as they stand; NaN where a cell is no number.
    height : float array, shape (n,)
        As it stands.
    line : int array, shape (n,)
    unit_m : float or None
        As the file says. [m]
    crs : pyproj.CRS or None
        As the file says.
    said : list of str
        How it was read.
    empty : int array
        Which points have no coordinates at all, and are passed over quietly.
    findings : list of Finding
    """

    format: str
    name: list[str] = field(default_factory=list)
    description: list[str] = field(default_factory=list)
    en: np.ndarray = field(default_factory=lambda: np.empty((0, 2)))
    height: np.ndarray = field(default_factory=lambda: np.empty(0))
    line: np.ndarray = field(default_factory=lambda: np.empty(0, np.int64))
    unit_m: float | None = None
    crs: object = None
    said: list[str] = field(default_factory=list)
    empty: np.ndarray = field(default_factory=lambda: np.empty(0, np.intp))
    findings: list[Finding] = field(default_factory=list)


@dataclass(frozen=True, eq=False)
class MeasuredRead:
    """What was read of a file.

    Attributes
    ----------
    measured : Measured
        On the coordinates of the hand-off.
    said : str
        Format, columns, unit and system, in one line.
    findings : tuple of Finding
    """

    measured: Measured
    said: str
    findings: tuple[Finding, ...] = ()


def read_measured(
    path,
    placing: Placing,
    *,
    columns: str = "",
    unit: str = "",
    layer: str = "",
    frame: SiteFrame | None = None,
) -> MeasuredRead:
    """Measured points of a file, on the coordinates of a hand-off.

    Numbers are taken as the hand-off's own coordinates, in its unit, unless the file or the user says another
    unit, or the file another coordinate system; what was taken is told. Heights in longitude-and-latitude
    files count from the ellipsoid and are left out.

    Parameters
    ----------
    path : path
    placing : Placing
        The written coordinates of the hand-off.
    columns : str
        Of a table: "point, northing, easting, elevation, description"; "-" passes a column over.
    unit : str
        Of UNITS, or short: m, ft, usft; empty to go by the file, else by the hand-off.
    layer : str
        Of a drawing or layered file; empty for all.
    frame : SiteFrame, optional
        Of the site; needed for files in another coordinate system.

    Raises
    ------
    InputProblem
        Where nothing usable is in the file: what, where, what to do.
    """
    path = Path(path)
    shown = (path.name or str(path)).encode("utf-8", "replace").decode()
    with np.errstate(all="ignore"):
        try:
            draft = _draft_of(path, shown, placing, columns, layer, frame)
        except InputProblem as problem:
            raise InputProblem(_of_points(str(problem))) from None
        if not len(draft.line):
            raise InputProblem(
                f"{shown} holds no points: export the measured points again as {_FORMATS}."
            )
        draft = _with_numbers_alone(draft, shown)
        return _settled(draft, path, shown, placing, unit, frame)


def _of_points(text: str) -> str:
    """What readers of outlines say, said of measured points."""
    for outline, points in _WORDS.items():
        text = text.replace(outline, points)
    return text


def _draft_of(path: Path, shown, placing, columns, layer, frame) -> Draft:
    kind = _kind_of(path, shown)
    if kind == "table":
        from .measured_table import read_measured_table

        return read_measured_table(path, shown, placing, columns, frame)
    if kind == "landxml":
        from .measured_landxml import read_measured_landxml

        return read_measured_landxml(path, shown)
    if kind == "dxf":
        from .measured_drawing import read_measured_drawing

        return read_measured_drawing(path, shown, layer)
    from .measured_layers import read_measured_layers

    if kind in ("zip", "folder", "shp"):
        from .archive import staged_folder, staged_shapefile, staged_zip

        stage = {"folder": staged_folder, "zip": staged_zip, "shp": staged_shapefile}[kind]
        with tempfile.TemporaryDirectory(
            prefix="layoutdesk-", ignore_cleanup_errors=True
        ) as directory:
            staged = stage(path, Path(directory))
            if len(staged) == 1 and format_of(staged[0][0]) in ("csv", "dxf"):
                return _draft_of(staged[0][0], shown, placing, columns, layer, frame)
            return read_measured_layers(staged, shown, layer)
    return read_measured_layers([(path, shown)], shown, layer)


def _kind_of(path: Path, shown: str) -> str:
    if path.is_file():
        with path.open("rb") as file:
            head = file.read(_HEAD_BYTES)
        if b"<LandXML" in head or b":LandXML" in head:
            return "landxml"
        is_text = b"\x00" not in head[:4096] or head.startswith((b"\xff\xfe", b"\xfe\xff"))
        if head.strip() and is_text and path.suffix.lower() in _TEXT_ENDS:
            return "dxf" if _looks_drawn(head) else "table"
    try:
        kind = format_of(path)
    except InputProblem as problem:
        if "in no format" not in str(problem):
            raise
        raise InputProblem(
            f"{shown} is in no format that can be read here: export the measured points as {_FORMATS}."
        ) from None
    if kind == "gpkg" and is_project(path):
        raise InputProblem(
            f"{shown} is a Layout Desk project, which holds the plan: give the file with the measured points."
        )
    return "table" if kind == "csv" else kind


def _looks_drawn(head: bytes) -> bool:
    words = head.split(None, 4)
    return len(words) > 3 and (words[0] in (b"0", b"999")) and b"SECTION" in head[:400]


def _with_numbers_alone(draft: Draft, shown: str) -> Draft:
    """Points with coordinates; what had none is told."""
    known = (np.abs(draft.en) < _LARGEST).all(axis=1)  # nor is what is no number
    bad = ~known
    bad[draft.empty] = False
    if not known.any():
        where = int(draft.line[np.argmax(bad)]) if bad.any() else int(draft.line[0])
        raise InputProblem(
            f"{shown} holds no point with usable coordinates, as in line {where}: check its columns and "
            "export it again."
        )
    if bad.any():
        lines = ", ".join(map(str, draft.line[bad][:_NAMED_LINES].tolist()))
        n = int(bad.sum())
        more = " and more" if n > _NAMED_LINES else ""
        text = f"{n:,} {'line' if n == 1 else 'lines'} without usable coordinates left out: {lines}{more}."
        draft.findings.append(Finding("measured-dropped", text, where=shown))
    if len(draft.empty):
        draft.said.append(f"{len(draft.empty):,} without coordinates passed over")
    if known.all():
        return draft
    which = np.flatnonzero(known)
    draft.name = [draft.name[i] for i in which.tolist()]
    draft.description = [draft.description[i] for i in which.tolist()]
    draft.en, draft.height, draft.line = draft.en[which], draft.height[which], draft.line[which]
    return draft


def _settled(draft: Draft, path: Path, shown: str, placing: Placing, unit: str, frame):
    given_m = metres_of_unit(_short(unit)) if unit.strip() else None
    en_m, height_m, system = _on_hand_off(draft, path, shown, placing, given_m, frame)
    known = np.isfinite(en_m).all(axis=1)
    if not known.any():
        raise InputProblem(
            f"{shown} cannot be carried onto the survey grid: its points lie out of its reach, so check its "
            "coordinate system."
        )
    if not known.all():
        n = int((~known).sum())
        text = f"{n:,} points lie out of reach of the survey grid and were left out."
        draft.findings.append(Finding("measured-dropped", text, where=shown))
        keep = np.flatnonzero(known).tolist()
        draft.name, draft.description = (
            [texts[i] for i in keep] for texts in (draft.name, draft.description)
        )
        en_m, height_m, draft.line = en_m[keep], height_m[keep], draft.line[keep]
    measured = Measured(
        tuple(draft.name), tuple(draft.description), en_m, height_m, draft.line.astype(np.int64)
    )
    said = "; ".join((draft.format, *draft.said, system))
    return MeasuredRead(measured, said, tuple(draft.findings))


def _short(unit: str) -> str:
    return {"us survey foot": "usft", "metre": "m", "foot": "ft"}.get(unit.strip().lower(), unit)


def _on_hand_off(draft: Draft, path, shown, placing: Placing, given_m, frame):
    """Coordinates and heights in metres' worth of the hand-off's unit, and in which system they stood."""
    grid = placing.grid
    if draft.crs is not None and not _is_grid(draft.crs, grid.crs):
        if given_m is not None:
            text = (
                "A unit was given for a file whose coordinate system has its own; it is not used."
            )
            draft.findings.append(Finding("unit-unused", text, where=shown))
        crs_m = 1.0 if draft.crs.is_geographic else draft.crs.axis_info[0].unit_conversion_factor
        en = draft.en if draft.unit_m is None else draft.en * (draft.unit_m / crs_m)
        xy = _to_frame(draft.crs, shown, placing, frame)(en)
        en_m = placing.placed(xy) * placing.unit_m
        height = draft.height * (draft.unit_m or crs_m)
        if draft.crs.is_geographic:
            height = np.full(len(en_m), np.nan)
        return en_m, height, f"{draft.crs.name}, brought onto {grid.name}"
    own_m = draft.unit_m
    if own_m is None and draft.crs is not None:
        own_m = grid.unit_m
    if own_m is None:
        own_m = _sealed_unit_m(path)
    unit_m = given_m or own_m or placing.unit_m
    if given_m and own_m and abs(given_m / own_m - 1) > _SAME_UNIT:
        text = f"The file says its unit is {_unit_words(own_m)}, but {_unit_words(given_m)} was given and is used."
        draft.findings.append(Finding("unit-given", text, where=shown))
    if abs(unit_m / placing.unit_m - 1) > _SAME_UNIT:
        draft.findings.append(_other_unit(draft, shown, placing, unit_m))
    taken = "as given" if given_m else "as the file says" if own_m else "the hand-off's"
    system = f"{_unit_words(unit_m)}, {taken}; on {grid.name}, {placing.coordinates} coordinates"
    return draft.en * unit_m, draft.height * unit_m, system


def _other_unit(draft: Draft, shown, placing: Placing, unit_m: float) -> Finding:
    apart = float(np.hypot(*np.median(draft.en, axis=0))) * abs(unit_m - placing.unit_m)
    far = f", {apart:.2f} m here" if abs(unit_m / placing.unit_m - 1) < 1e-4 else ""
    return Finding(
        "unit-scaled",
        f"Its coordinates are in {_unit_words(unit_m)}, the hand-off's in {_unit_words(placing.unit_m)}: they were "
        f"brought into that{far}.",
        where=shown,
        severity="caution",
    )


def _unit_words(unit_m: float) -> str:
    short = unit_name(unit_m)
    return {"m": "metres", "ft": "feet", "usft": "US survey feet"}.get(short, short)


def _sealed_unit_m(path: Path) -> float | None:
    """The unit that the seal of the file says, where it has one."""
    from ..seal import read_seal

    found = read_seal(path) if path.is_file() else None
    return None if found is None or found.seal.coordinates == "wgs84" else found.seal.unit_m


def _is_grid(crs, grid: str) -> bool:
    from ..crs import crs_named

    return crs.equals(crs_named(grid), ignore_axis_order=True)


def _to_frame(crs, shown: str, placing: Placing, frame: SiteFrame | None):
    """Function from the file's coordinates to the site frame.

    A system on the grid's datum goes over the grid, as the hand-off does: where the grid stands on another datum
    than the site, latitude and longitude are carried over unshifted.
    """
    from pyproj import Transformer

    from ..crs import crs_named, same_datum, to_frame

    grid = crs_named(placing.grid.crs)
    if crs.is_projected and same_datum(crs, grid):
        onto = Transformer.from_crs(crs, grid, always_xy=True)
        return lambda en: placing.from_grid(np.column_stack(onto.transform(en[:, 0], en[:, 1])))
    if frame is None:
        raise InputProblem(
            f"{shown} stands in {crs.name}, not on the survey grid: export it again on {placing.grid.name}."
        )
    return to_frame(crs, frame)
