"""The figures of a stake-out set, for people and programs: summary.json."""

from __future__ import annotations

import json
from pathlib import Path

from ..core.layout.clearances import plantable_area
from ..core.model import Finding, SiteFrame
from .crs import frame_crs
from .stakeset import StakeSet, SurveyGrid


def summary_of(stakes: StakeSet) -> dict:
    """Totals over all blocks, each block's own figures, frame, survey grid and findings."""
    project, survey, frame = stakes.project, stakes.survey, stakes.project.site.frame
    blocks = [_block_figures(plan, project.exclusions) for plan in stakes.plans]
    total = {key: sum(b[key] for b in blocks) for key in _COUNTED}
    first = blocks[0] if blocks else {"bearing_deg": None, "first_row_m": None}
    return {
        "project": project.name,
        "revision": stakes.revision,
        **total,
        "bearing_deg": first["bearing_deg"],
        "first_row_m": first["first_row_m"],
        "blocks": blocks,
        "frame": frame_facts(frame),
        "survey": survey_facts(survey),
        "wgs84_shift": stakes.wgs84_shift,
        "findings": [finding_facts(f) for f in stakes.findings],
    }


def frame_facts(frame: SiteFrame) -> dict:
    """The site frame, so that other programs can make it."""
    return {
        "definition": frame_crs(frame).to_wkt(),
        "latitude_deg": frame.latitude_deg,
        "longitude_deg": frame.longitude_deg,
        "height": frame.height_m,  # [m], named as in the outside contract
        "height_m": frame.height_m,
        "scale": frame.scale,
    }


def survey_facts(survey: SurveyGrid) -> dict:
    """The survey grid and what it does to lengths and bearings."""
    return {
        "crs": survey.crs,
        "name": survey.name,
        "unit": survey.unit,
        "unit_m": survey.unit_m,
        "coordinates": "grid",
        "point_scale": survey.point_scale,
        "combined_factor": survey.combined_factor,
        "convergence_deg": survey.convergence_deg,
    }


def finding_facts(finding: Finding) -> dict:
    """One finding with its place."""
    return {
        "code": finding.code,
        "severity": finding.severity,
        "message": finding.message,
        "where": finding.where,
        "place": list(finding.place) if finding.place else None,
    }


_COUNTED = (
    "rows",
    "segments",
    "vines",
    "end_posts",
    "line_posts",
    "anchors",
    "row_length_m",
    "outline_m2",
    "plantable_m2",
    "dropped_segments",
)


def _block_figures(plan, exclusions) -> dict:
    return {
        "block": plan.block.name,
        "rows": plan.n_rows,
        "segments": plan.n_segments,
        "vines": plan.n_vines,
        "end_posts": len(plan.end_posts),
        "line_posts": len(plan.line_posts),
        "anchors": len(plan.anchors),
        "row_length_m": plan.row_length_m,
        "outline_m2": plan.block.outline.area,
        "plantable_m2": plantable_area(plan.block, plan.rules, exclusions).area,
        "dropped_segments": len(plan.dropped),
        "bearing_deg": plan.rules.bearing_deg,
        "first_row_m": plan.first_row_m,
    }


def write_summary(path, summary: dict) -> None:
    """Write summary.json."""
    text = json.dumps(summary, ensure_ascii=False, indent=2, allow_nan=False)
    Path(path).write_text(text + "\n", encoding="utf-8")


def _elevations_said(stakes: StakeSet) -> str:
    if stakes.heights is None:
        return "Elevations are left empty: they are not known to this plan."
    unit, lost = (
        stakes.survey.unit.replace("foot", "feet").replace("metre", "metres"),
        stakes.n_without_height,
    )
    if not lost:
        return (
            f"Elevations are of the ground, in {unit}: in stakes.csv, and the z of points in stakes.dxf, "
            f"whose lines are flat. {stakes.heights_said}."
        )
    return (
        f"Elevations in stakes.csv are of the ground, in {unit}, and empty for {lost:,} points whose "
        f"height is not known; for their sake all of stakes.dxf is flat. {stakes.heights_said}."
    )


def write_about(
    path, stakes: StakeSet, cautions: tuple[str, ...], block_lines: tuple[str, ...] = ()
) -> None:
    """Write a page of plain text that says what is in each file: a CSV has no room to say it.

    Parameters
    ----------
    path : path
    stakes : StakeSet
    cautions : tuple of str
        The page ends with them.
    block_lines : tuple of str
        What a crew checks each block against, line by line, ready to print.
    """
    s = stakes.survey
    per_100 = s.ppm / 100
    height_m = stakes.project.site.frame.height_m
    way = "longer" if per_100 > 0 else "shorter"
    lines = [
        f"{stakes.project.name}: stake-out set, revision {stakes.revision}",
        "",
        f"stakes.csv, stakes.dxf   {stakes.statement}",
        f"stakes.geojson           WGS 84 longitude, latitude in degrees; datum shift: {stakes.wgs84_shift}",
        "project.gpkg             the project itself; layers in the site frame, metres on the ground",
        "summary.json             counts, areas, definitions, findings",
        "",
        f"Coordinates are grid coordinates. 100 m on the ground are {abs(per_100):.2f} cm {way} on the grid.",
        f"Grid bearing = true bearing {-s.convergence_deg:+.6f} degrees at the site.",
        f"Height used: {height_m:.1f} m above the ellipsoid, for the whole site.",
        _elevations_said(stakes),
        "Codes: B1-R012A-V034 is block B1, row 12, segment A, vine 34 from the start end; E end post,",
        "L line post, A anchor; 1 is at the start end, 2 at the far end.",
        "",
        *block_lines,
        *([""] if block_lines else []),
        *cautions,
    ]
    Path(path).write_text("\n".join(lines) + "\n", encoding="utf-8")
