"""A comparison as its files are written from it: names, rules and measures as lines of a table."""

from __future__ import annotations

import datetime

import numpy as np

from ..core.compare.catalogue import MEASURES
from ..core.model import Study
from ..core.model.study import CHANGES
from ..formats.compareset import CompareSet, Line, used_rules
from .candidate_words import candidate_names
from .compare_said import (
    comparison_findings,
    contour_lines,
    notes_of,
    paragraphs,
    sun_facts,
    terrain_facts,
)
from .measure_words import measure_unit, what_differs
from .stakeout import CAUTIONS
from .units import unit_label, unit_length_m

_RULE_LABELS = {
    "bearing_deg": "Bearing, true",
    "row_spacing_m": "Row spacing",
    "vine_spacing_m": "Vine spacing",
    "headland_m": "Headland",
    "side_margin_m": "Side margin",
    "first_row_m": "First row",
}


def compare_set(
    answer, terrain_read=None, unit: str = "m", day: datetime.date | None = None
) -> CompareSet:
    """What the files of a comparison are written from.

    Parameters
    ----------
    answer : CompareAnswer
    terrain_read : TerrainRead or None
        The heights it was measured with.
    unit : str
        Of lengths for people; programs get SI.
    day : datetime.date, optional
        Printed on the files; the project's own where it is left out.
    """
    from ..formats import crs as systems
    from ..formats.project_file import revision_of

    project, study = answer.project, answer.study
    results = answer.results
    candidates = tuple(r.candidate for r in results)
    values = {name: np.array([_number(r.values.get(name)) for r in results]) for name in MEASURES}
    nowhere = np.zeros(len(results), dtype=bool)
    best = {name: np.asarray(answer.best.get(name, nowhere), dtype=bool) for name in MEASURES}
    bearings, curves = np.empty(0), {}
    if answer.sweep is not None:
        bearings = np.asarray(answer.sweep.bearings_deg, dtype=float)
        known = {**answer.sweep.values, **(answer.curves or {})}
        curves = {n: np.asarray(known[n], dtype=float) for n in MEASURES if n in known}
    plans = tuple(tuple(r.plans) for r in results)
    differs = what_differs(values, unit, study)
    frame = project.site.frame
    return CompareSet(
        project,
        study,
        candidate_names(candidates, study.blocks_of(project.blocks), unit),
        candidates,
        plans,
        tuple(r.problem for r in results),
        values,
        best,
        np.asarray(answer.beaten),
        bearings,
        curves,
        _rule_lines(plans, candidates, unit),
        _measure_lines(study, values, best, curves, unit),
        systems.survey_grid(frame, project.site.survey_crs),
        revision_of(project),
        day or project.day,
        terrain_facts(project, terrain_read),
        sun_facts(project, study, values),
        comparison_findings(project, study, results, terrain_read),
        CAUTIONS,
        paragraphs(project, study, candidates, unit),
        notes_of(project, study, candidates, differs),
        unit,
        *contour_lines(project, study, terrain_read, unit),
        differs,
    )


def _number(value) -> float:
    return float("nan") if value is None else float(value)


def _rule_lines(plans, candidates, unit: str) -> tuple[Line, ...]:
    """What the candidates may change, as used in the first block."""
    used = [
        used_rules(p[0]) if p else {r: c.changes.get(r) for r in CHANGES}
        for p, c in zip(plans, candidates, strict=True)
    ]
    lines = []
    for rule in CHANGES:
        found = [u[rule] if isinstance(u[rule], int | float) else None for u in used]
        numbers = np.array([_number(v) for v in found])
        size, label, decimals = 1.0, "°", 1
        if rule.endswith("_m"):
            size, label, decimals = unit_length_m(unit), unit_label(unit), 2
        shown = numbers / size
        while (
            decimals < 4 and np.nanmax(np.abs(shown - np.round(shown, decimals)), initial=0) > 5e-5
        ):
            decimals += 1
        none = np.zeros(len(used), dtype=bool)
        lines.append(Line(rule, _RULE_LABELS[rule], label, "", decimals, shown, none))
    return tuple(lines)


def _measure_lines(study: Study, values, best, curves, unit: str) -> tuple[Line, ...]:
    """Every measure that is known of some candidate."""
    lines = []
    for name, measure in MEASURES.items():
        if np.isfinite(values[name]).any():
            size, label = measure_unit(name, unit, study)
            curve = curves.get(name)
            definition = f"{measure.definition}{_limit_of(name, study, unit)}"
            lines.append(
                Line(
                    name,
                    measure.label,
                    label,
                    measure.better,
                    measure.decimals,
                    values[name] / size,
                    best[name],
                    None if curve is None else curve / size,
                    definition,
                )
            )
    return tuple(lines)


def _limit_of(name: str, study: Study, unit: str) -> str:
    """The study's own limit behind a measure's definition."""
    if name == "short_rows":
        return f" The limit is {study.short_row_m / unit_length_m(unit):g} {unit_label(unit)}."
    limits = {"steep_along_m": study.grade_along_pct, "steep_across_m": study.grade_across_pct}
    return f" The limit is {limits[name]:g} %." if name in limits else ""
