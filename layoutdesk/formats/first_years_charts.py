"""What is drawn in the calendar of the first years: bars over months, and the ramp of the crop."""

from __future__ import annotations

import calendar
import datetime
import itertools
from dataclasses import dataclass

from ..core.model.planting import COUNTINGS
from ..core.planting.counting_leaves import first_small_leaf
from ..core.planting.duties import MILESTONE, Duty
from .orders_pdf_flow import Flow, broken
from .pdf_pen import Pen
from .yearset import FirstYearsSet

_LINE_MM, _BAR_MM, _HEAD_MM = 5.4, 2.6, 6.5
_WORDS_PT = 7.5
_RAMP_MM = 48.0
_CLOSE_MM = 24.0
"""Bars of the ramp that are nearer to each other have no room for units."""
_LEAST_MM = 1.0
"""A bar is drawn no shorter."""


@dataclass(frozen=True)
class _Axis:
    """Days across the sheet."""

    left_mm: float
    right_mm: float
    begins: datetime.date
    ends: datetime.date

    def x_mm(self, day: datetime.date) -> float:
        share = (day - self.begins).days / max((self.ends - self.begins).days + 1, 1)
        return self.left_mm + min(max(share, 0.0), 1.0) * (self.right_mm - self.left_mm)

    def bar(self, begins: datetime.date, ends: datetime.date) -> tuple[float, float]:
        """Where a bar begins and ends, its last day in it. [mm]"""
        x0 = self.x_mm(begins)
        x1 = max(self.x_mm(ends + datetime.timedelta(days=1)), x0 + _LEAST_MM)
        return (x0, x1) if x1 <= self.right_mm else (self.right_mm - (x1 - x0), self.right_mm)


def chart_mm(duties: list[Duty]) -> float:
    """How high the bars of duties are drawn. [mm]"""
    return _HEAD_MM + _LINE_MM * len(_lines_of(duties)) + 3.0


def draw_months(flow: Flow, duties: list[Duty], begins, ends, by_task=None, bands=()) -> None:
    """Bars of duties over the months of a stretch of days, a line for everything that is done.

    Parameters
    ----------
    flow : Flow
    duties : list of Duty
    begins, ends : datetime.date
        First and last day of the axis.
    by_task : dict, optional
        Names of tasks: lines are tasks then, milestones left out.
    bands : tuple of (str, datetime.date, datetime.date), optional
        Growing years, told apart by a quiet ground.
    """
    lines = _lines_of(duties, by_task)
    pen, top = flow.pen, flow.y_mm
    names = max(pen.width_of_mm(name, "sans", _WORDS_PT) for name in lines)
    axis = _Axis(flow.left_mm + min(names, 74.0) + 4.0, flow.right_mm, begins, ends)
    foot = top + _HEAD_MM + _LINE_MM * len(lines) + 0.8
    flow.draw(lambda: _draw_axis(pen, axis, top, foot, bands))
    for i, (name, mine) in enumerate(lines.items()):
        y = top + _HEAD_MM + _LINE_MM * (i + 0.5)
        flow.draw(lambda y=y, name=name, mine=mine: _draw_line(pen, flow, axis, y, name, mine))
    flow.y_mm = foot + 2.2


def _lines_of(duties: list[Duty], by_task=None) -> dict[str, list[Duty]]:
    lines: dict[str, list[Duty]] = {}
    for duty in duties:
        if by_task is None:
            lines.setdefault(duty.what, []).append(duty)
        elif duty.task != MILESTONE:
            lines.setdefault(by_task[duty.task], []).append(duty)
    return lines


def _draw_axis(pen: Pen, axis: _Axis, top: float, foot: float, bands) -> None:
    for i, (name, begins, ends) in enumerate(bands):
        x0, x1 = axis.x_mm(begins), axis.x_mm(ends + datetime.timedelta(days=1))
        if i % 2 == 0:
            corners = [(x0, top), (x1, top), (x1, foot), (x0, foot)]
            pen.area([corners], "kept clear")
        pen.text_within(
            (x0 + x1) / 2, top + 2.6, name, "sans strong", 7.0, x1 - x0 - 1, "ink", "centre"
        )
    ticks = _years(axis) if bands else _months(axis)
    y = top + (_HEAD_MM - 0.8 if bands else _HEAD_MM - 2.4)
    for (day, words), (after, _) in itertools.pairwise([*ticks, (None, "")]):
        x0 = axis.x_mm(day)
        x1 = axis.right_mm if after is None else axis.x_mm(after)
        pen.line(x0, top + _HEAD_MM - 0.4, x0, foot, "hairline", 0.15)
        if pen.width_of_mm(words, "sans", 7.0) <= x1 - x0 - 0.6:
            pen.text((x0 + x1) / 2, y, words, "sans", 7.0, "centre", "soft")
    pen.line(axis.left_mm, top + _HEAD_MM - 0.4, axis.right_mm, top + _HEAD_MM - 0.4, "soft", 0.2)
    pen.line(axis.left_mm, foot, axis.right_mm, foot, "hairline", 0.2)


def _months(axis: _Axis) -> list[tuple[datetime.date, str]]:
    """First days of months on the axis; of the first one its own first day."""
    found, day = [], axis.begins
    while day <= axis.ends:
        name = calendar.month_abbr[day.month]
        found.append((day, name))
        day = datetime.date(day.year + day.month // 12, day.month % 12 + 1, 1)
    narrow = (axis.right_mm - axis.left_mm) / max(len(found), 1) < 7.0
    return [(d, name[0] if narrow else name) for d, name in found]


def _years(axis: _Axis) -> list[tuple[datetime.date, str]]:
    first = [(axis.begins, str(axis.begins.year))]
    later = range(axis.begins.year + 1, axis.ends.year + 1)
    return first + [(datetime.date(year, 1, 1), str(year)) for year in later]


def _draw_line(pen: Pen, flow: Flow, axis: _Axis, y: float, name: str, duties: list[Duty]) -> None:
    most = axis.left_mm - flow.left_mm - 3.0
    pen.text_within(flow.left_mm, y + 0.95, name, "sans", _WORDS_PT, most)
    pen.line(axis.left_mm, y, axis.right_mm, y, "hairline", 0.1)
    half = _BAR_MM / 2
    for duty in duties:
        x0, x1 = axis.bar(duty.begins, duty.ends)
        corners = [(x0, y - half), (x1, y - half), (x1, y + half), (x0, y + half)]
        if duty.task == MILESTONE:
            pen.area([corners], "white", "row", 0.25)
        else:
            pen.area([corners], "accent" if duty.task == "picking" else "row")


def draw_ramp(flow: Flow, found: FirstYearsSet) -> None:
    """The crop of every harvest as a bar, with its share and mass, and which harvest is counted how.

    Many bars stand too close for units: their masses are in the greater one, as a line above them says.
    """
    crops = found.years.crops
    wide = flow.wide_mm / max(len(crops), 5)
    flow.room_for(_RAMP_MM + 6.0)
    if wide < _CLOSE_MM:
        flow.text(f"Masses in {found.heavy[0]}.", size=8, colour="soft")
    top = flow.y_mm
    flow.draw(lambda: _draw_bars(flow, found, top, wide))
    flow.y_mm = top + _RAMP_MM


def _draw_bars(flow: Flow, found: FirstYearsSet, top: float, wide: float) -> None:
    pen, crops = flow.pen, found.years.crops
    most = max(100.0, *(c.share_pct for c in crops))
    foot, high = top + _RAMP_MM - 16.0, _RAMP_MM - 25.0
    pen.line(flow.left_mm, foot, flow.left_mm + wide * len(crops), foot, "soft", 0.2)
    for i, (crop, row) in enumerate(zip(crops, found.crop_rows, strict=True)):
        middle, half = flow.left_mm + wide * (i + 0.5), min(wide * 0.32, 10.0)
        y = foot - high * crop.share_pct / most
        if crop.share_pct > 0:
            corners = [
                (middle - half, foot),
                (middle - half, y),
                (middle + half, y),
                (middle + half, foot),
            ]
            pen.area([corners], "accent" if crop.is_first_small else "row")
        is_told = wide >= _CLOSE_MM or not crop.crop_kg
        mass = row.crop if is_told else _figure(crop.crop_kg / found.heavy[1])
        leaf = f"leaf {crop.leaf}" + (f", harvest {crop.number}" if wide > 27.0 else "")
        for at, text, face, size, colour in (
            (y - 1.4, mass, "sans strong", 8.0, "ink"),
            (y - 5.0, row.share, "sans", 7.5, "soft"),
            (foot + 3.8, f"{crop.harvest.year}", "sans strong", 8.0, "ink"),
            (foot + 7.4, leaf, "sans", 7.0, "soft"),
            *_counted(pen, found, crop.leaf, foot + 11.0, wide - 1.0),
        ):
            pen.text_within(middle, at, text, face, size, wide - 1.0, colour, "centre")


def _counted(pen: Pen, found: FirstYearsSet, leaf: int, y: float, room: float):
    """Lines that name the way of counting which means this harvest; the one that is set stands out."""
    for way in COUNTINGS:
        if first_small_leaf(way) == leaf:
            is_set = way == found.years.settings.counting
            face, colour = ("sans strong", "accent") if is_set else ("sans", "soft")
            for down, text in enumerate(broken(pen, way, face, 7.0, room)):
                yield y + 3.2 * down, text, face, 7.0, colour


def _figure(mass: float) -> str:
    decimals = 0 if mass >= 99.5 else 1 if mass >= 9.95 else 2
    return f"{mass:,.{decimals}f}".replace(",", "\u202f")
