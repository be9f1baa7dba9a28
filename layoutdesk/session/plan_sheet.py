"""The plan sheet of a site: a true scale on one paper or many, with everything that is said on it."""

from __future__ import annotations

import datetime
from dataclasses import replace

import numpy as np
import shapely

from ..core.geometry.grid_lines import grid_axes, grid_crosses, grid_ticks, round_step
from ..core.layout.clearances import alley_areas, alley_strips
from ..core.model import InputProblem, Project, RowPlan
from ..core.model.register import STATES
from ..formats.day_plan_pdf import lot_letter
from ..formats.plansheet import PlanSheet, PlantMark, SheetMeasure, SheetTile
from ..formats.smooth import fitted
from .planted import PlantingAnswer, planting_of
from .planting_drawing import planting_drawing
from .row_table import row_table, said_of
from .rule_scope import scoped_paragraph
from .setting_words import setting_paragraph_of
from .sheet import Box, SheetScale, fitting_scale, paper_named, sheet_bar
from .sheet_tiles import INSET_MM, centred, sheet_boxes, tile_grid, typed_scale
from .sheet_words import Section, bound, survey_lines
from .specification import as_text, shown_length
from .stakeout import CAUTIONS as STAKE_CAUTIONS
from .survey import survey_view
from .tally import figures_of, grouped, tally_of
from .wording import window_words

ROWS_PRINTED = 1200
"""Segments up to which the row table is printed behind the plan."""
_GRID_FROM_MM = 60.0
"""Between two grid ticks, at least. [mm]"""
_BAR_MM = 50.0
_FINDINGS_AT_MOST = 12
_NOT_PRINTED = "{} segments are too many to print: they are listed in row-table.csv, which is written with this sheet."
_NO_PLANT = "Vine, no plant assigned"
_UNITS = {"metre": "m", "foot": "ft", "US survey foot": "US ft"}
_BEYOND_M = 50.0


def usual_paper(unit: str = "m") -> str:
    """A3, or Tabloid where people measure in feet."""
    return "A3" if unit == "m" else "Tabloid"


def plan_sheet(
    answer: PlantingAnswer,
    unit: str = "m",
    paper: str | None = None,
    scale: str | SheetScale | None = None,
    set_of_segment: np.ndarray | None = None,
    *,
    day: datetime.date | None = None,
) -> PlanSheet:
    """The sheets of a site's plan.

    Parameters
    ----------
    answer : PlantingAnswer
    unit : str
        Of lengths; foot units get a scale of feet an inch.
    paper : str, optional
        Of `sheet.PAPERS`; A3 or Tabloid where it is left out. It lies.
    scale : str or SheetScale, optional
        "1:500", "1 in = 50 ft", or "fit" for the whole site on one sheet. Where it is left out 1 : 500 or 1 in to
        40 ft is taken, on as many sheets as it needs up to a number; see `sheet_tiles.tile_grid`.
    set_of_segment : int array, optional
        Of the row table, where the answer knows none.
    day : datetime.date, optional
        Printed on the sheets; the project's own where it is left out.

    Raises
    ------
    InputProblem
        Where the project has no block, or the scale is none or needs too many sheets.
    """
    project, plans = answer.project, answer.plans
    if not project.blocks:
        raise InputProblem(f"{project.name} has no block to print: draw one or open its outline.")
    lying = paper_named(paper or usual_paper(unit))
    frame, column = sheet_boxes(lying)
    outlines = [block.outline for block in project.blocks]
    bounds = tuple(shapely.total_bounds(outlines).tolist())
    whole = isinstance(scale, str) and typed_scale(scale, unit) is None
    asked = typed_scale(scale, unit) if isinstance(scale, str) else scale
    vine_m, row_m = _closest(plans)
    grid = tile_grid(outlines, frame, unit, asked, whole=whole, closest_m=vine_m)
    view = survey_view(project)
    to_grid = _near(view, bounds)
    step = _grid_step(grid.scale, view.grid.unit_m)
    tiles = tuple(
        _tile(k + 1, box, grid.neighbours(k), to_grid, step) for k, box in enumerate(grid.bounds)
    )
    index = index_measure = None
    if len(tiles) > 1:
        over, index_measure = _index_scale(bounds, frame, unit)
        shown = centred(bounds, frame, over)
        index = _tile(0, shown, {}, to_grid, _grid_step(over, view.grid.unit_m))
    if answer.set_of_segment is None and set_of_segment is not None:
        answer = replace(answer, set_of_segment=set_of_segment)
    day = day or project.day
    drawn = planting_drawing(answer, "plant")
    n_segments = sum(plan.n_segments for plan in plans)
    title = planting_of(project).title
    printed = n_segments <= ROWS_PRINTED
    return PlanSheet(
        name=project.name,
        said_of=said_of(answer, day),
        day=day,
        paper=lying.name,
        width_mm=lying.width_mm,
        height_mm=lying.height_mm,
        frame=_sides(frame),
        column=_sides(column),
        measure=_measure(grid.scale, unit),
        tiles=tiles,
        index=index,
        index_measure=index_measure,
        plans=plans,
        exclusions=project.exclusions,
        alleys=tuple(a for plan in plans if (a := alley_shape(plan)) is not None),
        vine_class=drawn.vine_class,
        marks=_marks(drawn.legend),
        lost=_lost(answer),
        vine_mm=float(grid.scale.on_paper_mm(vine_m)),
        row_mm=float(grid.scale.on_paper_mm(row_m)),
        grid_unit=f"{view.grid.name}, {_UNITS.get(view.grid.unit, view.grid.unit)}",
        sections=_sections(answer, unit, grid.said, len(tiles)),
        reminders=(_cautions(),),
        title=_title_fields(project),
        own=_own_fields(answer, day),
        sheet_name=title.sheet_number,
        rows=row_table(answer, unit) if printed else None,
        rows_said=_rows_said(view) if printed else _NOT_PRINTED.format(grouped(n_segments)),
        notes=(grid.said,) if grid.said and len(tiles) > 1 else (),
    )


def _near(view, bounds):
    """The survey grid as a cubic near the site, where that is exact enough."""
    x0, y0, x1, y1 = bounds
    by = max(_BEYOND_M, x1 - x0, y1 - y0)
    unit_m = view.grid.unit_m
    return fitted(view.to_survey, (x0 - by, y0 - by, x1 + by, y1 + by), (unit_m, unit_m))


def _grid_step(scale: SheetScale, unit_m: float) -> float:
    return round_step(float(scale.on_ground_m(_GRID_FROM_MM)) / unit_m)


def _tile(number: int, bounds, neighbours: dict[str, int], to_grid, step: float) -> SheetTile:
    x0, y0, x1, y1 = bounds
    return SheetTile(
        number,
        bounds,
        neighbours,
        grid_crosses(to_grid, bounds, step),
        grid_axes(to_grid, ((x0 + x1) / 2, (y0 + y1) / 2)),
        grid_ticks(to_grid, bounds, step),
    )


def _index_scale(bounds, frame: Box, unit: str) -> tuple[SheetScale, SheetMeasure]:
    x0, y0, x1, y1 = bounds
    room = Box(0, 0, frame.width_mm - 2 * INSET_MM, frame.height_mm - 2 * INSET_MM)
    scale = fitting_scale(x1 - x0, y1 - y0, room, unit)
    return scale, _measure(scale, unit)


def _measure(scale: SheetScale, unit: str) -> SheetMeasure:
    bar = sheet_bar(scale, unit, _BAR_MM)
    return SheetMeasure(scale.ratio, scale.words, bar.label, bar.length_mm)


def _sides(box: Box) -> tuple[float, float, float, float]:
    return box.x_mm, box.y_mm, box.width_mm, box.height_mm


def _closest(plans: tuple[RowPlan, ...]) -> tuple[float, float]:
    """From vine to vine and from row to row, the least of all blocks. [m]"""
    rows = min((plan.rules.row_spacing_m for plan in plans), default=2.0)
    vines = min((plan.rules.vine_spacing_m for plan in plans), default=1.0)
    return min(vines, rows), rows


def alley_shape(plan: RowPlan) -> shapely.Geometry | None:
    """The alleys of a block inside its outline; None where there are none. [m]"""
    block, rules = plan.block, plan.rules
    if plan.course is not None:
        areas = alley_areas(block, rules)
    else:
        strips = alley_strips(block, rules)
        if strips is None:
            return None
        v = plan.axes.to_axes(shapely.get_coordinates(block.outline))[:, 1]
        sides = np.array([v.min() - 1, v.max() + 1])
        middles = strips.along_m[:, None] + strips.slope[:, None] * sides
        half = strips.half_m[:, None]
        corners = np.concatenate([middles - half, (middles + half)[:, ::-1]], axis=1)
        across = np.broadcast_to([*sides, *sides[::-1]], corners.shape)
        places = plan.axes.to_plane(np.stack([corners, across], axis=-1).reshape(-1, 2))
        areas = shapely.union_all(shapely.polygons(places.reshape(-1, 4, 2)))
    if areas is None:
        return None
    inside = shapely.intersection(areas, block.outline)
    return None if inside.is_empty else inside


def _marks(legend) -> tuple[PlantMark, ...]:
    several = len(legend) > 1
    marks = []
    for k, entry in enumerate(legend):
        quiet = entry.role == "quiet"
        letter = lot_letter(k) if several and not quiet else ""
        label = _NO_PLANT if quiet else entry.label
        marks.append(PlantMark(letter, label, grouped(entry.count), quiet))
    return tuple(marks)


def _lost(answer: PlantingAnswer) -> np.ndarray | None:
    """Vines that are missing or dead by the register."""
    if answer.standing is None:
        return None
    place = answer.matching.place
    lost = np.zeros(len(place), bool)
    gone = [STATES.index("missing"), STATES.index("dead")]
    lost[place >= 0] = np.isin(answer.standing.state[place[place >= 0]], gone)
    return lost


# words


def _sections(answer: PlantingAnswer, unit: str, said: str, n_sheets: int) -> tuple[Section, ...]:
    project = answer.project
    setting = as_text(setting_paragraph_of(planting_of(project).setting, unit)).split("\n")
    found = _findings(answer, unit)
    sections = (
        Section("Figures", figures=_figures(answer, unit)),
        *((Section("Before anyone plants", found, kind="caution"),) if found else ()),
        _cautions(),
        *_rules(project, unit),
        Section("How vines are set", tuple(setting[:1]), kind="rules"),
        Section("Survey and scale", (*survey_lines(project, survey_view(project)), *_scale_lines(said, n_sheets))),
    )  # fmt: skip
    return tuple(replace(s, paragraphs=tuple(map(bound, s.paragraphs))) for s in sections)


def _rules(project: Project, unit: str):
    """The rules of rows in words, those of blocks that have the same together."""
    groups: dict[tuple, list[str]] = {}
    for block in project.blocks:
        guide = None if block.guide is None else block.name
        groups.setdefault((block.rules, guide, block.common), []).append(block.name)
    for names in groups.values():
        words = as_text(scoped_paragraph(project, tuple(names), unit)).split("\n")
        everywhere = 1 < len(names) == len(project.blocks)
        heading = "Rows of all blocks" if everywhere else f"Rows of {', '.join(names)}"
        yield Section(heading, tuple(words), kind="rules")


def _scale_lines(said: str, n_sheets: int):
    if said:
        yield said
    if n_sheets > 1:
        yield "Neighbouring sheets overlap, and tell each other's numbers along the frame."
    yield (
        "Ticks and crosses are at round coordinates of the survey grid: what they are apart on the ground is what "
        "they are apart on the grid over the combined factor."
    )


def _cautions() -> Section:
    return Section(
        "Cautions",
        (
            *STAKE_CAUTIONS,
            "Tags are recorded and containers are off before a vine is set: look at both on every plant.",
        ),
        kind="caution",
    )


def _figures(answer: PlantingAnswer, unit: str) -> tuple[tuple[str, str], ...]:
    tally = tally_of(answer.plans)
    lines = [(f.name, f.value) for f in figures_of(tally, None, unit) if f.name != "Plantable"]
    for need in answer.needs:
        if need.vines:
            spares = f" + {grouped(need.spares)}\u00a0spare{'s' * (need.spares != 1)}"
            lines.append((str(need.plant), f"{grouped(need.vines)}{spares if need.spares else ''}"))
    bare = int((answer.assigned.plant < 0).sum())
    if bare and answer.needs:
        lines.append(("Vines without a plant", grouped(bare)))
    return tuple(lines)


def _findings(answer: PlantingAnswer, unit: str) -> tuple[str, ...]:
    """What is amiss with rows and plants, the worst first."""
    every = (*answer.findings, *(f for plan in answer.plans for f in plan.findings))
    serious = sorted(
        (f for f in every if f.severity != "note"), key=lambda f: f.severity != "wrong"
    )
    lines = []
    for f in serious[:_FINDINGS_AT_MOST]:
        told = window_words(f.told(lambda m: shown_length(m, unit)))
        where = f"{f.where}: " if f.where and f.where not in told else ""
        lines.append(f"{f.severity.capitalize()}. {where}{told}")
    more = len(serious) - len(lines)
    return (*lines, f"And {more} more, listed in the program.") if more else tuple(lines)


def _title_fields(project) -> tuple[tuple[str, str], ...]:
    from .planting_words import TITLE_FIELDS, title_texts

    texts = title_texts(project)
    return tuple((label, texts[field]) for field, label in TITLE_FIELDS if field != "sheet_number")


def _own_fields(answer: PlantingAnswer, day):
    from ..formats.project_file import plan_mark

    return (
        ("Plan", plan_mark(answer.project)),
        ("Day", day.isoformat() if day else ""),
    )


def _rows_said(view) -> str:
    return (
        f"Coordinates of end posts in {view.system}. Lengths are from end post to end post on the ground. Plants and "
        "lots are what is on record, else what is assigned."
    )
