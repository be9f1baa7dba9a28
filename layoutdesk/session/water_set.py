"""A drip system as its files are written from it: sets, run times and parts in people's units."""

from __future__ import annotations

import datetime
from dataclasses import replace

import numpy as np

from ..core.model import Finding, Project
from ..core.model.study import Study
from ..core.water.design import WaterSet
from ..core.water.faults import DEFERENCE
from ..core.water.judgement import DU_CLASSES, EU_CLASSES
from ..core.water.parts import PARTS
from ..core.water.run_times import RunTimes
from ..formats import crs as systems
from ..formats.water_network import network_notes
from ..formats.waterset import MonthTable, PartRow, SetRow, WaterFiles
from .quantities import Quantity, shown
from .specification import as_text, shown_length
from .stakeout import CAUTIONS as STAKE_CAUTIONS
from .study_words import MONTHS
from .take_off_set import size_words
from .tally import grouped
from .water_lines import set_lines, water_figures
from .water_words import demand_paragraph, source_paragraph, water_of, water_paragraph
from .week_bars import before_words, year_words, years_of

CAUTIONS = (
    DEFERENCE,
    "Where the source also serves people or a public main, backflow prevention is required by law in most "
    "places: ask the water supplier before anything is joined.",
    "Water under pressure and trapped air injure people: fill lines slowly, vent them, and test them with "
    "nobody beside them.",
    "Pumps are on dangerous voltages: a licensed electrician joins and earths them.",
    "A trench may cave in: shoring and access follow the rules of work safety. Before any is dug: "
    + STAKE_CAUTIONS[0].split(": ", 1)[1],
    "Lines are proposed straight from inlet to inlet: they are no trench plan, and know nothing of rock, "
    "roads, roots or services.",
)
"""Printed with every drip system."""

_DEPTH = Quantity("water", "depth")
_VOLUME = Quantity("water of a vine", "volume")
_PIPE = Quantity("pipe", "thickness")


def water_set(
    answer,
    unit: str = "m",
    day: datetime.date | None = None,
    *,
    terrain_read=None,
    revision: str = "",
) -> WaterFiles:
    """What the files of a drip system are written from.

    Parameters
    ----------
    answer : WaterAnswer
        Settled, so with its advice and parts.
    unit : str
        Of lengths for people, and of what goes with them; programs get SI.
    day : datetime.date, optional
        Printed on the files; the project's own where it is left out.
    terrain_read : TerrainRead, optional
        The heights it was designed on; looked for as the project says where left out.
    revision : str
        The project's own where it is left out.
    """
    from ..formats.project_file import revision_of
    from .compare_said import contour_lines
    from .water_drawing import water_drawing
    from .water_places import rings_of
    from .water_sheet import plan_pages

    project, design = answer.project, answer.design
    grid, to_survey = _survey(project)
    unit = "ft" if unit == "usft" else unit  # nothing is sold by the survey foot, 2 ppm longer
    read = _terrain(project, design) if terrain_read is None else terrain_read
    contours, contour_words = contour_lines(project, Study(), read, unit)
    found = WaterFiles(
        project=project,
        plans=answer.plans,
        design=design,
        judgement=answer.judgement,
        run_times=answer.run_times,
        parts=answer.parts,
        findings=answer.findings,
        survey=grid,
        to_survey=to_survey,
        revision=revision or revision_of(project),
        day=day or project.day,
        terrain="" if read is None else read.statement,
        unit=unit,
        sentences=answer.judgement.sentences,
        found=tuple(_found(f, unit) for f in answer.findings),
        figures=tuple((f.name, f.value, f.meaning) for f in water_figures(answer, unit)),
        set_rows=_set_rows(answer, unit),
        part_rows=_part_rows(answer, unit),
        months=_months(answer, unit),
        weeks=_weeks(answer, unit),
        week_titles=_WEEK_TITLES,
        before=before_words(answer.run_times, None, unit) if design.sets else "",
        paragraphs=_paragraphs(project, unit),
        assumed=_assumed(answer),
        classes=_classes(answer),
        cautions=CAUTIONS,
        plan_pages=plan_pages(answer.plans, design, unit),
        drawing=water_drawing(answer),
        worst=rings_of(answer),
        contours=contours,
        contour_words=contour_words,
    )
    return replace(found, notes=network_notes(found))


def _survey(project: Project):
    """The survey grid, and what brings places of the site frame into it."""
    import shapely

    from ..formats.smooth import fitted

    frame, survey_crs = project.site.frame, project.site.survey_crs
    grid = systems.survey_grid(frame, survey_crs)
    to_survey = systems.frame_to_survey(frame, survey_crs)
    shapes = [b.outline for b in project.blocks]
    place = water_of(project).source.place_m
    if place is not None:
        shapes.append(shapely.Point(place))
    if not shapes:
        return grid, to_survey
    x0, y0, x1, y1 = shapely.total_bounds(shapes).tolist()
    around = x0 - _BEYOND_M, y0 - _BEYOND_M, x1 + _BEYOND_M, y1 + _BEYOND_M
    return grid, fitted(to_survey, around, (grid.unit_m, grid.unit_m))


_BEYOND_M = 25.0


def _terrain(project: Project, design):
    """The heights that a design stands on; None where it is level."""
    from .terrain import terrain_or_finding

    if project.terrain is None or not design.lines.laterals.outlet_height_m.any():
        return None
    return terrain_or_finding(project)[0]


def _found(finding: Finding, unit: str) -> str:
    told = finding.told(lambda m: shown_length(m, unit))
    where = finding.where
    before = f"{where}: " if where and where not in told else ""
    return f"{finding.severity.capitalize()}. {before}{told}"


def _set_rows(answer, unit: str) -> tuple[SetRow, ...]:
    return tuple(
        SetRow(
            str(line.number),
            line.rows,
            line.vines,
            line.flow,
            line.head,
            line.available,
            line.eu,
            line.du,
            pipes_said(one, unit),
            line.wetting,
            line.first,
            line.week,
        )
        for line, one in zip(set_lines(answer, unit), answer.design.sets, strict=True)
    )


def pipes_said(one: WaterSet, unit: str = "m") -> str:
    """Pipes of a set in words, the widest first: "submain 63 mm 24 m, 50 mm 30 m; main 75 mm 120 m"."""
    said = []
    for word, runs in (("submain", one.branches), ("main", (one.main,))):
        lengths: dict[float, float] = {}
        for run in runs:
            for outer in np.unique(run.outer_mm).tolist():
                length = float(run.length_m[run.outer_mm == outer].sum())
                lengths[outer] = lengths.get(outer, 0.0) + length
        sizes = [
            f"{pipe_said(outer, unit)} {shown_length(length, unit, 0)}"
            for outer, length in sorted(lengths.items(), reverse=True)
        ]
        if sizes:
            said.append(f"{word} {', '.join(sizes)}")
    return "; ".join(said)


def pipe_said(outer_mm: float, unit: str = "m") -> str:
    """Outer diameter of a pipe.

    Examples
    --------
    >>> pipe_said(63.0), pipe_said(63.0, "ft")
    ('63 mm', '2.48 in')
    """
    return f"{outer_mm:g} mm" if unit == "m" else shown(replace(_PIPE, decimals=2), outer_mm, unit)


def _part_rows(answer, unit: str) -> tuple[PartRow, ...]:
    return tuple(
        PartRow(
            PARTS[p.product.item][0],
            size_words(p.product, unit),
            p.block or "site",
            _length(p.amount, unit) if p.unit == "m" else grouped(round(p.amount)),
        )
        for p in answer.parts
    )


def _length(metres: float, unit: str) -> str:
    figure, _, label = shown_length(metres, unit, 0).partition(" ")
    return f"{grouped(float(figure))} {label}"


# run times


def _months(answer, unit: str) -> tuple[MonthTable, ...]:
    """A table a year: what sets run and vines get in a week, on average over the weeks of a month."""
    times, design = answer.run_times, answer.design
    if not design.sets:
        return ()
    # A week is of the month in which it begins, so that a year has twelve of them.
    month = times.weeks.astype("datetime64[M]")
    tables = []
    for year, title in zip(years_of(times), year_words(times), strict=True):
        mine = times.year == year
        months = np.unique(month[mine])
        groups = [mine & (month == m) for m in months]
        lines = []
        for k, one in enumerate(design.sets):
            cells = tuple(_mean(times.hours[g, k]) for g in groups)
            lines.append((f"Set {one.number}, hours", *cells))
        if len(design.sets) > 1:
            cells = tuple(_mean(np.nansum(times.hours[g], axis=1)) for g in groups)
            lines.append(("All sets, hours", *cells))
        size, label = _volume(unit)
        served = sorted({one.block for one in design.sets})
        alike = all(np.allclose(times.vine_l[:, b], times.vine_l[:, served[0]]) for b in served)
        for b in served[:1] if alike else served:
            of_block = "" if alike else f" of {design.blocks[b]}"
            cells = tuple(_mean(times.vine_l[g, b] / size) for g in groups)
            lines.append((f"A vine{of_block}, {label}", *cells))
        names = tuple(MONTHS[int(m) - 1][:3] for m in months.astype(int) % 12 + 1)
        tables.append(MonthTable(title, names, tuple(lines)))
    return tuple(tables)


def _mean(values: np.ndarray) -> str:
    if not len(values) or not np.isfinite(values).any():
        return "–"
    mean = float(np.nanmean(values))
    return grouped(mean, 1) if mean < 99.95 else grouped(mean)


def _volume(unit: str) -> tuple[float, str]:
    """What litres are told in: its size, and its name. [L]"""
    label = shown(_VOLUME, 0.0, unit).split(" ")[-1]
    from .quantities import typed

    return typed(replace(_VOLUME, high=1e9), f"1 {label}"), "litres" if unit == "m" else "gallons"


_WEEK_TITLES = (
    *("Week of", "ET0", "Rain used", "Shade", "To be watered", "A vine gets"),
    *("All sets", "On each day"),
)


def _weeks(answer, unit: str) -> tuple[tuple[str, ...], ...]:
    """Weeks in which anything is watered."""
    times: RunTimes = answer.run_times
    if not answer.design.sets:
        return ()
    total = np.nansum(times.hours, axis=1)
    lines = []
    for w in np.flatnonzero(total > 0).tolist():
        day = times.weeks[w].astype("datetime64[D]").astype(datetime.date)
        litres = times.vine_l[w]
        vine = shown(_VOLUME, float(litres.max()), unit)
        lines.append(
            (
                f"{day.day} {MONTHS[day.month - 1]} {day.year}",
                shown(_DEPTH, float(times.et0_mm[w]), unit),
                shown(_DEPTH, float(times.rain_mm[w]), unit),
                f"{times.shaded_pct[w]:.0f} %",
                shown(_DEPTH, float(times.need_mm[w]), unit),
                vine if np.ptp(litres) < 0.05 else f"up to {vine}",
                f"{total[w]:.1f} h",
                f"{total[w] / times.days_a_week:.1f} h",
            )
        )
    return tuple(lines)


# words


def _paragraphs(project: Project, unit: str) -> tuple[tuple[str, str], ...]:
    """What was decided: drip systems once for all blocks that share one, the source, the demand."""
    water = water_of(project)
    names: dict = {}
    for block in project.blocks:
        names.setdefault(water.drip_of(block.name), []).append(block.name)
    drips = tuple(
        (f"Drip system of {', '.join(some)}", as_text(water_paragraph(project, tuple(some), unit)))
        for some in names.values()
    )
    latitude = project.site.frame.latitude_deg
    return (
        *drips,
        ("Source and pipes", as_text(source_paragraph(water, unit))),
        ("Demand and climate", as_text(demand_paragraph(water, latitude, unit))),
    )


def _assumed(answer) -> tuple[str, ...]:
    """What nobody said, so that the usual was taken."""
    project, design = answer.project, answer.design
    water = water_of(project)
    usual = [b.name for b in project.blocks if b.name not in dict(water.drips)]
    said = []
    if usual:
        said.append(f"Emitters, drip line and submain of {', '.join(usual)} are the usual ones.")
    if water.source.is_assumed:
        said.append("What the source gives is assumed: flow and head must be measured.")
    if water.source.place_m is None:
        said.append("Where the source stands is assumed: at a corner of an outline.")
    if answer.run_times.is_assumed:
        said.append("Evapotranspiration is assumed from the latitude alone, so are all run times.")
    if water.demand.planting is None:
        said.append("The day of planting is assumed.")
    if not design.lines.heights_known:
        said.append("Heights of the ground are not all known: where not, it is taken to be level.")
    return tuple(said)


def _classes(answer) -> tuple[str, ...]:
    """Whose words of uniformity are used."""
    if not answer.design.sets:
        return ()
    low, high = answer.judgement.eu_target_pct

    def told(classes) -> str:
        return ", ".join(f"{c.name} from {c.least_pct:g} %" for c in classes)

    return (
        f"Emission uniformity: {told(EU_CLASSES)}. Source: {EU_CLASSES[0].source}. For design {low:g} to "
        f"{high:g} % are usual on such ground (ASABE EP405.1, from memory).",
        f"Distribution uniformity: {told(DU_CLASSES)}. Source: {DU_CLASSES[0].source}.",
    )
