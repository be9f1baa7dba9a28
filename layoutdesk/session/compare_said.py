"""What is said beside the table of a comparison: terrain, sun, findings, rules in words, notes."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from ..core.compare.catalogue import MEASURES
from ..core.layout.checks import plan_findings
from ..core.model import Finding, Project, RowPlan, Study
from .stakeout import project_findings
from .study_words import MONTHS
from .units import unit_label, unit_length_m

_CONTOURS_AT_MOST = 16


def contour_lines(project: Project, study: Study, read, unit: str):
    """Lines of equal height over the blocks, no more than small plans can bear, and what they are."""
    terrain = project.terrain
    if read is None or terrain is None or not terrain.contour_m:
        return (), ""
    import shapely

    from ..core.terrain.contours import contours

    bounds = shapely.total_bounds([b.outline for b in study.blocks_of(project.blocks)]).tolist()
    x, y = (np.linspace(bounds[i], bounds[i + 2], _NET) for i in (0, 1))
    heights = read.surface.heights_m(np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2))
    if not np.isfinite(heights).any():
        return (), ""
    span = float(np.nanmax(heights) - np.nanmin(heights))
    interval_m = next(
        terrain.contour_m * step * 10.0**power
        for power in range(9)
        for step in (1, 2, 5)
        if span <= _CONTOURS_AT_MOST * terrain.contour_m * step * 10.0**power
    )
    lines = tuple(
        np.column_stack([xy, np.full(len(xy), height / unit_length_m(unit))])
        for height, xy in contours(read.surface, interval_m, bounds)
    )
    said = f"{interval_m / unit_length_m(unit):.4g} {unit_label(unit)}"
    return lines, f"Contours every {said}."


_NET = 40
"""Places each way at which heights are looked up for their range."""


def terrain_facts(project: Project, read) -> dict | None:
    """Where the heights come from, for programs and in a sentence; None where there are none."""
    if read is None:
        return None
    terrain = project.terrain
    return {
        "path": "" if terrain is None else Path(terrain.path).name,
        "unit": read.unit_said or ("" if terrain is None else terrain.unit),
        "datum": read.datum_said or ("" if terrain is None else terrain.datum),
        "spacing_m": float(read.surface.spacing_m),
        "statement": read.statement,
    }


def sun_facts(project: Project, study: Study, values) -> dict:
    """Place, canopy and season; the sentence is empty where nothing of the sun is known."""
    frame, canopy, season = project.site.frame, study.canopy, study.season
    months = season.months(frame.latitude_deg)
    known = any(np.isfinite(values[n]).any() for n, m in MEASURES.items() if m.needs == "sun")
    said = (
        f"Direct clear-sky sun on a hedge {canopy.height_m:g} m high, from {canopy.foot_m:g} m up and "
        f"{canopy.width_m:g} m wide, shaded by the next rows, from {MONTHS[months[0] - 1]} to {MONTHS[months[-1] - 1]} at "
        f"latitude {frame.latitude_deg:.3f}°, longitude {frame.longitude_deg:.3f}°; the hottest hours "
        f"are {season.hot_from_h:g} to {season.hot_to_h:g} h, solar time. Left and right are as seen "
        "along the bearing."
    )
    return {
        "latitude_deg": frame.latitude_deg,
        "longitude_deg": frame.longitude_deg,
        "months": list(months),
        "hot_from_h": season.hot_from_h,
        "hot_to_h": season.hot_to_h,
        "canopy_height_m": canopy.height_m,
        "canopy_foot_m": canopy.foot_m,
        "canopy_width_m": canopy.width_m,
        "statement": said if known else "",
    }


def comparison_findings(project: Project, study: Study, results, read) -> tuple[Finding, ...]:
    """Of the site, of the terrain, and of the base's rows: the other candidates are not staked yet."""
    straight = all(r.candidate.bearing_deg is not None for r in results)
    base: tuple[RowPlan, ...] = tuple(results[study.base].plans) if results else ()
    site = [
        f
        for f in project_findings(project, base, read)
        if not (straight and f.code == "bearing-chosen")
    ]
    rows = [f for plan in base for f in plan_findings(plan, project.exclusions)]
    found = [*site, *rows]
    order = {"wrong": 0, "caution": 1, "note": 2}
    return tuple(sorted(dict.fromkeys(found), key=lambda f: order[f.severity]))


def paragraphs(project: Project, study: Study, candidates, unit: str):
    """The base's rules, and what is measured by, as paragraphs of plain language."""
    from .sheet_words import rule_sections
    from .specification import as_text
    from .study_words import study_paragraph

    blocks = study.blocks_of(project.blocks)
    names = tuple(b.name for b in project.blocks)
    measured = study_paragraph(study, project.site.frame.latitude_deg, unit, names)
    if not candidates:
        return (("Measured by", as_text(measured)),)
    base = replace(
        project, blocks=tuple(candidates[study.base].block_of(b) for b in blocks), study=None
    )
    said = tuple((f"{s.heading}, base", " ".join(s.paragraphs)) for s in rule_sections(base, unit))
    return (*said, ("Measured by", as_text(measured).replace("\n", " ")))


def notes_of(project: Project, study: Study, candidates, differs: str = "") -> tuple[str, ...]:
    """What is to be known to read the table; the first says how it is marked.

    `differs` says what sets the candidates apart.
    """
    blocks = study.blocks_of(project.blocks)
    notes = ["The best of each line is marked; lines are not added up into a score."]
    if differs:
        notes.append(differs)
    if len(blocks) < len(project.blocks):
        notes.append(f"Compared are the rows of {', '.join(b.name for b in blocks)} alone.")
    curved = [b.name for b in blocks if b.guide is not None]
    if curved and any(c.bearing_deg is not None for c in candidates):
        follow = "follows" if len(curved) == 1 else "follow"
        notes.append(
            f"{', '.join(curved)} {follow} a drawn line: candidates with a bearing are straight rows, "
            "compared with the curve as it stands."
        )
    own = [b.name for b in blocks if b.overrides]
    if own and any(c.changes for c in candidates):
        notes.append(
            f"What was decided for single rows, posts and vines of {', '.join(own)} holds for the plan "
            "as it stands alone."
        )
    notes += _not_told(study, blocks, candidates)
    return tuple(notes)


def _not_told(study: Study, blocks, candidates) -> list[str]:
    """Lines that were asked for and stay empty, and what they want."""
    notes = []
    prices, hedge_m = study.prices, study.canopy.width_m
    known = {"an end assembly": prices.end_assembly, "a line post": prices.line_post}
    missing = [name for name, price in known.items() if price is None]
    if len(missing) == 1:
        notes.append(f"Costs are left out: the price of {missing[0]} is not given.")
    spacings = [c.block_of(b).rules.row_spacing_m for c in candidates for b in blocks]
    if any(spacing <= hedge_m for spacing in spacings):
        notes.append(
            f"Sun is left out where rows stand no farther apart than the hedge is wide ({hedge_m:g} m)."
        )
    return notes
