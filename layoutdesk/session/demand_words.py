"""How much water vines and soil take, and the climate, in plain language, as typed and as stepped."""

from __future__ import annotations

import datetime
import re
from dataclasses import replace

from ..core.model import InputProblem
from ..core.model.water import DEMAND_LIMITS, SOILS, Water
from ..core.water.run_times import SEASON_MONTH
from . import climate_words
from .climate_words import climate_sentences, stepped_climate, typed_climate
from .figure_lists import listed_figures, typed_figures
from .quantities import Quantity, stepped, typed, value_of
from .specification import Paragraph
from .study_words import MONTHS

_SHADE = Quantity("shaded ground", "share", 0.0, 100.0)
_YEARS_AT_MOST = 10
_NOTHING = ("", "none", "no", "-", "–", "not said", "usual")


def _of(name: str, field: str, kind: str, **more) -> Quantity:
    return Quantity(name, kind, *DEMAND_LIMITS[field], **more)


_QUANTITIES: dict[str, Quantity] = {
    "soil": Quantity(
        "soil",
        "choice",
        choices=tuple(SOILS),
        meanings=tuple(f"Holds {mm:g} mm for plants in a metre" for mm in SOILS.values()),
    ),
    "wet_depth_m": _of("depth wetted before planting", "wet_depth_m", "length", step=0.05, step_ft=0.25),
    "wet_width_m": _of("width wetted before planting", "wet_width_m", "length", step=0.05, step_ft=0.25),
    "dry_share_pct": _of("water missing in the soil", "dry_share_pct", "share", step=5, step_ft=5),
    "first_watering_l": _of("first watering of a vine", "first_watering_l", "volume"),
    "planting": Quantity("day of planting", "text"),
    "shaded_pct": Quantity("ground shaded in each year", "text"),
    "kc_per_shaded_pct": _of(
        "crop coefficient a percent of shade", "kc_per_shaded_pct", "number", step=0.001, step_ft=0.001
    ),
    "efficiency_pct": _of("efficiency of watering", "efficiency_pct", "share"),
    "rain_used_pct": _of("rain that vines can use", "rain_used_pct", "share", step=5, step_ft=5),
    "days_a_week": _of("days of watering a week", "days_a_week", "whole"),
}  # fmt: skip

NAMES = {
    **{f"demand.{key}": quantity.name for key, quantity in _QUANTITIES.items()},
    **{f"demand.shaded_{i}": f"ground shaded in year {i}" for i in range(1, _YEARS_AT_MOST + 1)},
    **climate_words.NAMES,
}
"""Plain names of the values."""

_YEAR = re.compile(r"^demand\.shaded_(\d+)$")


def typed_demand(water: Water, key: str, text: str, latitude_deg: float, unit: str = "m") -> Water:
    """The water with one value of demand or climate as typed or chosen.

    Twelve months go into one value, "4.1, 3.2, …"; one month has a key of its own. A month typed where
    evapotranspiration was assumed leaves the assumed ones for the others.

    Raises
    ------
    InputProblem
        One sentence that says what can be typed.
    """
    part, _, name = key.partition(".")
    if part == "climate":
        return replace(water, climate=typed_climate(water.climate, name, text, latitude_deg, unit))
    listed, demand = _YEAR.match(key), water.demand
    if listed:
        value = typed(replace(_SHADE, name=NAMES[key]), text, unit)
        shaded = _with_year(demand.shaded_pct, int(listed[1]), value)
        return replace(water, demand=replace(demand, shaded_pct=shaded))
    if name == "shaded_pct":
        value = typed_figures(text, _SHADE, unit)
        if not 1 <= len(value) <= _YEARS_AT_MOST:
            raise InputProblem(
                f"Ground shaded in each year: write one to {_YEARS_AT_MOST} figures, like 5, 15, 30 %."
            )
    elif name == "planting":
        value = typed_day(text)
    else:
        value = typed(_QUANTITIES[name], text, unit)
    return replace(water, demand=replace(demand, **{name: value}))


def _with_year(shaded: tuple, year: int, value: float) -> tuple:
    """Shares of years; those between the last one said and this are as the last."""
    grown = (*shaded, *(shaded[-1:] * (year - len(shaded))))
    return (*grown[: year - 1], value, *grown[year:])


def typed_day(text: str, name: str = "day of planting") -> datetime.date | None:
    """A day as typed: 2027-04-01 or 1 April 2027; None for the usual one, or where none is said.

    `name` is what a refusal begins with.

    Raises
    ------
    InputProblem
        Where it is no day.

    Examples
    --------
    >>> typed_day("1 apr 2027"), typed_day("usual")
    (datetime.date(2027, 4, 1), None)
    """
    wanted = text.strip().replace(",", " ")
    if wanted.lower() in _NOTHING or wanted.lower().startswith("the usual"):
        return None
    sentence = (
        f"{name[:1].upper()}{name[1:]}: {text.strip()!r} is no day: write it like 1 April 2027 or "
        "2027-04-01."
    )
    number = re.fullmatch(r"(\d{4})-(\d{1,2})-(\d{1,2})", wanted)
    words = re.fullmatch(r"(\d{1,2})\.?\s+([A-Za-z]+)\.?\s+(\d{4})", wanted)
    turned = re.fullmatch(r"([A-Za-z]+)\.?\s+(\d{1,2})\s+(\d{4})", wanted)
    if number:
        year, month, day = (int(n) for n in number.groups())
    elif words or turned:
        day, word, year = words.groups() if words else (turned[2], turned[1], turned[3])
        fit = [i for i, m in enumerate(MONTHS, 1) if m.lower().startswith(word.lower())]
        if len(fit) != 1:
            raise InputProblem(sentence)
        year, month, day = int(year), fit[0], int(day)
    else:
        raise InputProblem(sentence)
    try:
        found = datetime.date(year, month, day)
    except ValueError:
        raise InputProblem(sentence) from None
    if not 1900 <= year <= 2200:
        raise InputProblem(sentence)
    return found


def day_text(day: datetime.date | None, latitude_deg: float) -> str:
    """A day of planting as the paragraph says it.

    Examples
    --------
    >>> day_text(datetime.date(2027, 9, 15), 45.0), day_text(None, -35.0)
    ('15 September 2027', 'the usual day, 1 October')
    """
    if day is None:
        month = SEASON_MONTH["south" if latitude_deg < 0 else "north"]
        return f"the usual day, 1 {MONTHS[month - 1]}"
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"


def stepped_demand(
    water: Water, key: str, steps: float, latitude_deg: float, unit: str = "m"
) -> Water:
    """The water with one value of demand or climate moved by so many steps, held inside its limits.

    A list of months, or of years, moves as a whole, where there is one; a day of planting by days.
    """
    part, _, name = key.partition(".")
    listed, demand, climate = _YEAR.match(key), water.demand, water.climate
    if part == "climate":
        return replace(water, climate=stepped_climate(climate, name, steps, latitude_deg, unit))
    if listed:
        year = int(listed[1])
        before = demand.shaded_pct[min(year, len(demand.shaded_pct)) - 1]
        shaded = _with_year(demand.shaded_pct, year, stepped(_SHADE, before, steps, unit))
        return replace(water, demand=replace(demand, shaded_pct=shaded))
    if name == "shaded_pct":
        value = tuple(stepped(_SHADE, v, steps, unit) for v in demand.shaded_pct)
    elif name == "planting":
        if demand.planting is None:
            return water
        value = demand.planting + datetime.timedelta(days=round(steps))
    else:
        value = stepped(_QUANTITIES[name], getattr(demand, name), steps, unit)
    return replace(water, demand=replace(demand, **{name: value}))


def demand_paragraph(water: Water, latitude_deg: float, unit: str = "m") -> Paragraph:
    """What vines and soil take, and the climate.

    Parameters
    ----------
    latitude_deg : float
        Of the site: a climate and a day that nobody said follow it.

    Examples
    --------
    >>> from .specification import as_text
    >>> as_text(demand_paragraph(Water(), 45.0)).splitlines()[0][:68]
    'The soil is loam; the day before planting it is wetted 0.60 m deep a'
    """
    demand = water.demand

    def v(name: str):
        value = getattr(demand, name)
        if name == "planting":
            value = day_text(value, latitude_deg)
        elif name == "shaded_pct":
            value = listed_figures(value, _SHADE, unit)
        found = value_of(f"demand.{name}", _QUANTITIES[name], (("", value),), unit)
        by_days = name == "planting" and demand.planting is not None
        return replace(found, step=1.0) if by_days or name == "shaded_pct" else found

    several = len(demand.shaded_pct) > 1
    return (
        (
            "The soil is ",
            v("soil"),
            "; the day before planting it is wetted ",
            v("wet_depth_m"),
            " deep and ",
            v("wet_width_m"),
            " wide along the row, where ",
            v("dry_share_pct"),
            " of the water it can hold for plants is missing.",
        ),
        (
            "Right after planting, on ",
            v("planting"),
            ", each vine gets ",
            v("first_watering_l"),
            ".",
        ),
        (
            "At noon the canopy shades ",
            v("shaded_pct"),
            " of the ground",
            f" in years 1 to {len(demand.shaded_pct)}" if several else " in year 1",
            "; each percent takes ",
            v("kc_per_shaded_pct"),
            " of what a watered grass would.",
        ),
        (
            "Rows are watered on ",
            v("days_a_week"),
            " days a week; vines can use "
            if demand.days_a_week > 1
            else " day a week; vines can use ",
            v("efficiency_pct"),
            " of the water and ",
            v("rain_used_pct"),
            " of the rain.",
        ),
        *climate_sentences(water.climate, latitude_deg, unit),
    )
