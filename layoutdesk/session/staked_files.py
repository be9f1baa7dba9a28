"""Writing an as-staked check: table, sheet, map layer, and all of it for programs."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from pathlib import Path

import numpy as np
import shapely

from ..core.model.handoff import POINT_KINDS, StakedCheck
from ..core.staking.residuals import figures
from ..formats.pdf_pen import MARGIN_MM
from ..formats.staked_csv import write_staked_csv
from ..formats.staked_geojson import write_staked_geojson
from ..formats.staked_pdf import write_staked_pdf
from ..formats.staked_pdf_map import LEGEND_MM
from ..formats.stakedset import StakedMap, StakedSet, StakedWords
from .day_cards import paper_of
from .file_sets import refuse_format, write_alone
from .hand_off_drawing import Arrows
from .hand_off_set import hand_off_of
from .sheet import Box, Paper, fitting_scale, paper_named, sheet_bar
from .staked import StakedAnswer, codes_of, taken_points
from .staked_drawing import round_times, staked_arrows
from .staked_findings import missing_points
from .staked_lines import (
    explanation_lines,
    histogram_bars,
    shown_small,
    staked_notes,
    staked_row_lines,
    staked_sentences,
    worst_lines,
)
from .tally import grouped
from .units import unit_length_m

Progress = Callable[[float, str], None]

FILES = ("as-staked.csv", "as-staked.geojson", "as-staked.json", "as-staked.pdf")
"""In the order they are written."""
_ROWS_PRINTED, _WORST_PRINTED = 200, 200
_ARROW_MM = 7.0
"""The longest arrow on paper, those of a few points far off aside. [mm]"""
_APART_MM = 3.0
_HEAD_MM, _FOOT_MM, _INSET_MM = 16.0, 6.0, 8.0


def write_staked(
    folder,
    answer: StakedAnswer,
    unit: str = "m",
    *,
    day: datetime.date | None = None,
    progress: Progress | None = None,
) -> tuple[str, ...]:
    """Write as-staked.csv, .geojson, .json and .pdf into a folder, all of them or none; gives back their names.

    Parameters
    ----------
    folder : path
    answer : StakedAnswer
    unit : str
        Of lengths for people, on the sheet.
    day : datetime.date, optional
        Printed on the sheet; the hand-off's where it is left out.
    progress : function of (share done, what is written), optional
        May raise to cancel.

    Raises
    ------
    InputProblem
        Where the folder cannot be written.
    """
    from ..formats.atomic import replacing_set

    say = progress or (lambda share, what: None)
    found = staked_set(answer, unit, day)
    with replacing_set(Path(folder)) as stage:
        for i, name in enumerate(FILES):
            say(i / len(FILES), name)
            _write(stage / name, found, unit)
        say(1.0, "done")  # the last moment to stop
    return FILES


def write_staked_file(
    path, answer: StakedAnswer, unit: str = "m", day: datetime.date | None = None
) -> None:
    """Write one of the files, told by the end of its name, whole or not at all.

    Raises
    ------
    InputProblem
        Where the name says no format, or the place cannot be written.
    """
    path = Path(path)
    ends = tuple(Path(name).suffix for name in FILES)
    if path.suffix.lower() not in ends:
        refuse_format(path, ends)
    found = staked_set(answer, unit, day)
    write_alone(path, lambda stage, it: _write(stage, it, unit, path.suffix.lower()), found)


def staked_json(answer: StakedAnswer, unit: str = "m", day: datetime.date | None = None) -> str:
    """What as-staked.json holds."""
    from ..formats.staked_json import staked_json as text

    return text(staked_set(answer, unit, day))


def _write(path: Path, found: StakedSet, unit: str, end: str = "") -> None:
    from ..formats.staked_json import write_staked_json
    from .places import resource

    end = end or path.suffix
    if end == ".csv":
        write_staked_csv(path, found)
    elif end == ".geojson":
        write_staked_geojson(path, found)
    elif end == ".json":
        write_staked_json(path, found)
    else:
        paper = paper_of(unit)
        write_staked_pdf(path, found, (paper.width_mm, paper.height_mm), resource("fonts"))


def staked_set(
    answer: StakedAnswer, unit: str = "m", day: datetime.date | None = None
) -> StakedSet:
    """What the files are written from."""
    hand, pairs, off = answer.hand, answer.matched, answer.residuals
    placing = hand.placing
    some = taken_points(pairs.points, pairs.planned)
    planned = hand.elevations(some.xy_m)
    kinds = np.unique(some.kind).tolist()
    return StakedSet(
        project=hand.project,
        plans=hand.plans,
        revision=hand.revision,
        plan=hand.plan,
        day=day or hand.day,
        file=answer.request.path.name,
        checksum=answer.checksum,
        way=pairs.way,
        read_said=answer.read_said,
        placing=placing,
        to_wgs84=hand.to_wgs84,
        wgs84_shift=hand.wgs84_shift,
        points=hand.points,
        some=some,
        code=codes_of(hand.points, some),
        measured=answer.measured,
        pair=pairs.measured,
        planned_en=placing.placed(some.xy_m),
        measured_en=answer.measured.en_m[pairs.measured] / placing.unit_m,
        planned_height_m=np.full(len(some), np.nan)
        if planned is None
        else planned * placing.unit_m,
        off=off,
        tolerance_m=answer.tolerance_m,
        strange=pairs.strange,
        doubled=pairs.doubled,
        n_missing=len(missing_points(answer)),
        figures=figures(off),
        by_kind=tuple((POINT_KINDS[k], figures(off, some.kind == k)) for k in kinds),
        histogram=answer.histogram,
        explanations=answer.explanations,
        findings=answer.findings,
        words=_words(answer, unit),
        map=_map(answer, unit),
    )


def _words(answer: StakedAnswer, unit: str) -> StakedWords:
    worst = worst_lines(answer, unit)[:_WORST_PRINTED]
    rows = staked_row_lines(answer, unit)[:_ROWS_PRINTED]
    return StakedWords(
        staked_sentences(answer, unit),
        staked_notes(answer),
        tuple((e.words, e.where, e.amount) for e in explanation_lines(answer)),
        tuple((b.label, b.count, b.is_off) for b in histogram_bars(answer, unit)),
        tuple((w.code, w.along, w.across, w.height, w.distance) for w in worst),
        len(answer.worst),
        tuple((r.row, r.points, r.across, r.along, r.worst) for r in rows),
        tuple(check_words(c, unit) for c in hand_off_of(answer.request.project).checks),
    )


def check_words(check: StakedCheck, unit: str = "m") -> str:
    """A decision on record as a sentence."""
    note = f" {check.note}" if check.note else ""
    return (
        f"{check.day.isoformat()}: {check.by or 'nobody named'} {check.verdict} {check.file} ({grouped(check.n_points)} "
        f"points, root mean square {shown_small(check.rms_m, unit)}, farthest {shown_small(check.worst_m, unit)}).{note}"
    )


def _map(answer: StakedAnswer, unit: str) -> StakedMap:
    plans = answer.hand.plans
    bounds = shapely.total_bounds([plan.block.outline for plan in plans])
    x0, y0, x1, y1 = bounds.tolist()
    ways = []
    for landscape in (True, False):
        paper = paper_named("A4" if unit == "m" else "Letter", landscape)
        frame = _frame(paper)
        room = Box(0, 0, frame.width_mm - 2 * _INSET_MM, frame.height_mm - 2 * _INSET_MM)
        ways.append((paper, frame, fitting_scale(x1 - x0, y1 - y0, room, unit)))
    paper, frame, scale = min(ways, key=lambda way: way[2].ratio)
    bar = sheet_bar(scale, unit, 50.0)
    arrows = staked_arrows(answer, unit, longest_m=_ARROW_MM * scale.ratio / 1000.0)
    shown, said = _thinned(arrows, _APART_MM * scale.ratio / 1000.0)
    label, sample_m = _sample(arrows.times, scale.ratio, unit)
    return StakedMap(
        paper.width_mm,
        paper.height_mm,
        (frame.x_mm, frame.y_mm, frame.width_mm, frame.height_mm),
        scale.ratio,
        scale.words,
        bar.label,
        bar.length_mm,
        ((x0 + x1) / 2, (y0 + y1) / 2),
        arrows.at_m[shown],
        arrows.step_m[shown],
        arrows.times,
        arrows.amiss[shown],
        tuple(arrows.label[i] for i in shown.tolist()),
        said,
        label,
        sample_m * arrows.times * 1000.0 / scale.ratio,
    )


def _thinned(arrows: Arrows, apart_m: float) -> tuple[np.ndarray, str]:
    """Which arrows are printed: of those that would run together the longest; and what is said of them."""
    length = np.hypot(*arrows.step_m.T)
    worst_first = np.argsort(-length, kind="stable")
    cell = np.floor(arrows.at_m[worst_first] / apart_m).astype(np.int64)
    _, first = np.unique(cell, axis=0, return_index=True)
    shown = np.sort(worst_first[first])
    if len(shown) == len(length):
        return shown, arrows.said
    return (
        shown,
        f"{arrows.said}; of points within {_APART_MM:g} mm on paper the farthest off is shown",
    )


def _frame(paper: Paper) -> Box:
    top = MARGIN_MM + _HEAD_MM
    high = paper.height_mm - MARGIN_MM - _FOOT_MM - LEGEND_MM - top
    return Box(MARGIN_MM, top, paper.width_mm - 2 * MARGIN_MM, high)


def _sample(times: float, ratio: float, unit: str) -> tuple[str, float]:
    """A round length whose arrow is some millimetres long on the paper, and the length itself. [m]"""
    room_m = 2 * _ARROW_MM * ratio / 1000.0 / times
    size_m = 0.01 if unit == "m" else unit_length_m(unit)
    units = _round_down(room_m / size_m)
    if unit == "m" and units >= 100:
        return f"{units / 100:g} m", units * size_m
    name = "cm" if unit == "m" else ("US ft" if unit == "usft" else unit)
    return f"{units:g} {name}", units * size_m


def _round_down(value: float) -> float:
    scale = 1.0
    while value * scale < 1.0:
        scale *= 10.0
    return round_times(value * scale) / scale
