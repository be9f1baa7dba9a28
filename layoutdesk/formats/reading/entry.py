"""From a path to shapes: recognise, read, settle the coordinate system, repair, look again."""

from __future__ import annotations

import tempfile
from collections import Counter
from pathlib import Path

import numpy as np

from layoutdesk.core.model.findings import Finding, InputProblem

from ..project_file import is_project
from .recognise import format_of
from .shapes import Shape, Shapes, Source, counted

MOST_FINDINGS_OF_A_KIND = 20
"""Beyond this the rest of a kind is counted in one finding."""


def read_outlines(path, *, crs=None, unit=None) -> Shapes:
    """Site outlines from a file: valid polygons, each a block's.

    Parts that touch or overlap are joined, which is a finding; others stay separate.

    Parameters
    ----------
    path : str or Path
        GeoJSON, GeoPackage, Shapefile (a .shp, a folder or a zip holding one), KML, KMZ, DXF,
        GPX or CSV.
    crs : str, optional
        Coordinate system typed by the user; used as a declaration, nothing is converted.
    unit : str, optional
        Unit of a drawing: "m", "ft", "usft", "mm", ….

    Raises
    ------
    InputProblem
        One sentence: what is wrong, where, and what to do.
    """
    with np.errstate(all="ignore"):  # absurd numbers are refused by what they come to
        return _read(path, crs, unit, outlines=True)


def read_exclusions(path, *, crs=None, unit=None, site_crs=None) -> Shapes:
    """Things to keep clear of: points, lines and polygons, multi-parts split, nothing joined.

    Parameters, formats and problems as in `read_outlines`; `site_crs` is the outline's system, taken
    where neither the file nor the user names one. In a CSV each row is a point, unless a
    column such as `block` or `part` groups rows.
    """
    with np.errstate(all="ignore"):
        return _read(path, crs, unit, outlines=False, site_crs=site_crs)


def _read(path, crs_text, unit_text, *, outlines: bool, site_crs=None) -> Shapes:
    from .plausible import place_findings
    from .reference import settle_reference

    path = Path(path)
    shown = (path.name or str(path)).encode("utf-8", "replace").decode()
    source = _source_of(path, shown, unit_text, outlines)
    if not source.pieces:
        _refuse_nothing(source, shown)
    if outlines:
        _keep_areas(source, shown)
    crs, factor = settle_reference(source, shown, crs_text, unit_text, site_crs)
    if factor != 1.0:
        for piece in source.pieces:
            piece.rings = [ring * factor for ring in piece.rings]
    shapes, findings = _mended(source, crs, shown, outlines)
    findings += place_findings(shapes, crs, shown)
    return Shapes(tuple(shapes), crs, shown, tuple(shortened(findings)))


def outlines_in(source: Source, crs, shown: str) -> tuple[list[Shape], list[Finding]]:
    """Outlines of pieces whose coordinate system is known, mended, and what is to be said of them.

    For one feature of many; whether the place fits the system is asked of all of them together.

    Raises
    ------
    InputProblem
    """
    with np.errstate(all="ignore"):
        if not source.pieces:
            _refuse_nothing(source, shown)
        _keep_areas(source, shown)
        return _mended(source, crs, shown, outlines=True)


def _mended(source: Source, crs, shown: str, outlines: bool) -> tuple[list[Shape], list[Finding]]:
    """Shapes that are valid, of plausible numbers and size, and all findings so far."""
    from .plausible import check_numbers, joined_across_antimeridian, size_findings

    check_numbers(source.pieces, crs, shown)
    findings = source.findings
    if joined_across_antimeridian(source.pieces, crs):
        text = (
            "It crosses the antimeridian; longitudes run on past 180° so that it is in one piece."
        )
        findings.append(Finding("antimeridian-joined", text, where=shown))
    shapes, said = _shapes(source, crs, outlines)
    findings += said
    if not shapes:
        why = next((f for f in said if f.code == "outline-part-dropped"), None)
        first = (
            f" ({why.where}: {why.message[0].lower()}{why.message[1:].rstrip('.')})" if why else ""
        )
        raise InputProblem(
            f"{shown} holds no shape with usable corners and extent{first}; check its coordinates."
        )
    if source.n_skipped:
        text = f"{counted(source.n_skipped, 'feature')} without a usable geometry skipped."
        findings.append(Finding("shapes-skipped", text, where=shown))
    if outlines:
        findings += size_findings(shapes, crs)
    return shapes, findings


def _source_of(path: Path, shown: str, unit_text, outlines: bool) -> Source:
    kind = format_of(path)
    if kind == "gpkg" and is_project(path):
        raise InputProblem(
            f"{shown} is a Layout Desk project, not an outline file; open it as a project."
        )
    if kind in ("folder", "zip", "shp"):
        from .archive import staged_folder, staged_shapefile, staged_zip

        stage = {"folder": staged_folder, "zip": staged_zip, "shp": staged_shapefile}[kind]
        # Windows keeps files open a little longer than we do; leftovers go with the next clean-up.
        with tempfile.TemporaryDirectory(
            prefix="layoutdesk-", ignore_cleanup_errors=True
        ) as directory:
            try:
                staged = stage(path, Path(directory))
            except OSError as trouble:
                raise InputProblem(
                    f"{shown} cannot be unpacked or copied ({trouble.strerror or trouble}); check "
                    "the disk's free space and that you may read it."
                ) from trouble
            return _joined(
                [(_one_file(f, name, unit_text, outlines), name) for f, name in staged], shown
            )
    return _one_file(path, shown, unit_text, outlines, kind)


def _one_file(path: Path, shown, unit_text, outlines, kind=None) -> Source:
    kind = kind or format_of(path)
    if kind == "dxf":
        from .drawing import read_drawing

        return read_drawing(path, shown, unit_text, areas_wanted=outlines)
    if kind == "csv":
        from .corners import read_corners

        return read_corners(path, shown, areas_wanted=outlines)
    if kind in ("folder", "zip"):
        raise InputProblem(f"{shown} is an archive inside an archive; unpack it first.")
    from .vector import read_vector

    return read_vector(path, kind, shown, areas_wanted=outlines)


def _joined(read: list[tuple[Source, str]], shown: str) -> Source:
    """One source of several files of an archive or folder, those with pieces."""
    used = [(s, n) for s, n in read if s.pieces] or read[:1]
    first = used[0][0]
    if len(used) == 1:
        return first
    if len({(s.crs.to_wkt() if s.crs else None, s.unit_m, s.needs_unit) for s, _ in used}) > 1:
        names = " and ".join(n for _, n in used[:3])
        raise InputProblem(
            f"{shown} holds files in different coordinate systems or units ({names}); "
            "give the one with the outline."
        )
    for source, name in used:
        for piece in source.pieces:
            piece.where = f"{name}, {piece.where}"
    for source, _ in used[1:]:
        first.pieces += source.pieces
        first.findings += source.findings
        first.n_skipped += source.n_skipped
    text = f"Shapes were read from {len(used)} files: {', '.join(n for _, n in used)}."
    first.findings.append(Finding("layers-read", text, where=shown))
    return first


def _refuse_nothing(source: Source, shown: str):
    if source.nothing:
        raise InputProblem(source.nothing)
    if source.n_skipped:
        raise InputProblem(
            f"{shown} has {counted(source.n_skipped, 'feature')} but no geometry in any of them; "
            "export it again with its shapes."
        )
    raise InputProblem(
        f"{shown} is a {source.format} file without any feature; export it again with its shapes."
    )


def _keep_areas(source: Source, shown: str) -> None:
    """Leave only areas; a line whose ends meet (or a GPS track) counts when there is no area."""
    areas = [p for p in source.pieces if p.form == "area"]
    if not areas:
        areas = [p for p in source.pieces if _may_be_ring(p, source)]
        for piece in areas:
            piece.form = "area"
            source.findings.append(
                Finding("ring-closed", "A closed line was taken as the outline.", where=piece.where)
            )
        if source.format == "GPX":
            source.findings = [f for f in source.findings if f.code != "ring-closed"]
    left = Counter(p.form for p in source.pieces if p.form != "area")
    words = " and ".join(counted(n, form) for form, n in left.items())
    if not areas:
        raise InputProblem(
            source.nothing
            or f"{shown} holds no polygon, only {words}; give the outline as a closed area."
        )
    if left:
        text = f"{words} left out: only areas can be outlines."
        source.findings.append(Finding("shapes-skipped", text, where=shown))
    source.pieces = areas


def _may_be_ring(piece, source: Source) -> bool:
    if piece.form != "line" or len(piece.rings[0]) < 4:
        return False
    if source.format == "GPX":
        return True
    line = piece.rings[0]
    return bool((line[0] == line[-1]).all())


def _shapes(source: Source, crs, outlines: bool) -> tuple[list[Shape], list[Finding]]:
    from .merging import merged
    from .plausible import area_m2
    from .reference import crs_unit_m
    from .repair import Repair

    repair = Repair(
        crs_unit_m(crs),
        lambda polygon: area_m2(polygon, crs),
        decimals=7 if crs.is_geographic else 2,
        rings_close_themselves=source.rings_close_themselves,
        shell_direction=source.shell_direction,
        drop_slivers=outlines,
    )
    made = []
    for piece in source.pieces:
        if piece.form == "area":
            made += [(polygon, piece) for polygon in repair.polygons(piece)]
        else:
            geometry = repair.line(piece) if piece.form == "line" else repair.point(piece)
            if geometry is not None:
                made.append((geometry, piece))
    findings = repair.findings
    if outlines and len(made) > 1:
        made = repair.without_slivers(made)
        made, joined = merged(made)
        findings += joined
    return [Shape(g, p.name, p.kind, p.clearance_m) for g, p in made], findings


def shortened(findings: list[Finding]) -> list[Finding]:
    """At most so many findings of one code; the rest of it as a count."""
    total = Counter(f.code for f in findings)
    seen: Counter = Counter()
    kept = []
    for finding in findings:
        seen[finding.code] += 1
        if seen[finding.code] <= MOST_FINDINGS_OF_A_KIND:
            kept.append(finding)
        elif seen[finding.code] == total[finding.code]:
            more = total[finding.code] - MOST_FINDINGS_OF_A_KIND
            text = f"The same in {more:,} more places."
            kept.append(Finding(finding.code, text, severity=finding.severity))
    return kept
