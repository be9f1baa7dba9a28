"""Evapotranspiration and rain by months, in plain language, as typed and as stepped."""

from __future__ import annotations

import re
from dataclasses import replace

from ..core.model.water import Climate
from ..core.water.climate import assumed_et0_mm_day
from .figure_lists import listed_figures, typed_figures
from .quantities import Quantity, stepped, typed, value_of
from .specification import Sentence
from .study_words import MONTHS

_ET0 = Quantity("reference evapotranspiration", "depth", 0.0, 20.0, 0.1, 0.005)
_RAIN = Quantity("rain", "depth", 0.0, 3000.0, 1.0, 0.1)
_NOTHING = ("", "none", "no", "-", "–", "not said", "assumed")
_MONTH = re.compile(r"^(?:et0|rain)_(\d+)$")

NAMES = {
    "climate.et0": "reference evapotranspiration by month",
    "climate.rain": "rain by month",
    "climate.source": "source of the climate",
    **{f"climate.et0_{i}": f"reference evapotranspiration of {m}" for i, m in enumerate(MONTHS, 1)},
    **{f"climate.rain_{i}": f"rain of {m}" for i, m in enumerate(MONTHS, 1)},
}
"""Plain names of the values."""

_TYPED_TOO = "; some figures typed in"
_OTHERS_ASSUMED = "some months typed in, the others assumed from the latitude"
_ALL_TYPED = ""


def typed_climate(
    climate: Climate, name: str, text: str, latitude_deg: float, unit: str = "m"
) -> Climate:
    """The climate with one value as typed: "et0", "rain", "et0_7" for July's, or "source".

    A month typed where evapotranspiration was assumed leaves the assumed ones for the others, and
    its source says so. Figures typed over those of a file are told in its source too.

    Raises
    ------
    InputProblem
        One sentence that says what can be typed.

    Examples
    --------
    >>> typed_climate(Climate(), "rain_2", "30 mm", 45.0).rain_mm[:3]
    (0.0, 30.0, 0.0)
    """
    if name == "source":
        words = " ".join(text.split())
        return replace(climate, source="" if words.lower() in _NOTHING else words)
    is_et0 = name.startswith("et0")
    quantity, field = (_ET0, "et0_mm_day") if is_et0 else (_RAIN, "rain_mm")
    listed = _MONTH.match(name)
    if listed:
        value = typed(replace(quantity, name=NAMES[f"climate.{name}"]), text, unit)
        return _with_month(climate, field, int(listed[1]), value, latitude_deg)
    other = climate.rain_mm if is_et0 else climate.et0_mm_day
    source = _also_typed(climate.source) if other else _ALL_TYPED
    if text.strip().lower() in _NOTHING:
        return replace(climate, **{field: ()}, source=source)
    figures = typed_figures(text, quantity, unit, 12)
    return replace(climate, **{field: figures}, source=source)


def _also_typed(source: str) -> str:
    """A source when some figures are no more of it."""
    said = source.endswith(_TYPED_TOO) or source in (_ALL_TYPED, _OTHERS_ASSUMED)
    return source if said else source + _TYPED_TOO


def _with_month(
    climate: Climate, field: str, month: int, value: float, latitude_deg: float
) -> Climate:
    """One month changed; the others stay as they are or are assumed."""
    begin = getattr(climate, field)
    source = _also_typed(climate.source)
    if not begin:
        begin = _unsaid(field, latitude_deg)
        source = source if field == "rain_mm" else _OTHERS_ASSUMED
    return replace(climate, **{field: (*begin[: month - 1], value, *begin[month:])}, source=source)


def _unsaid(name: str, latitude_deg: float) -> tuple:
    """Months where nobody said any: assumed evapotranspiration, no rain."""
    if name.startswith("et0"):
        return tuple(assumed_et0_mm_day(latitude_deg).round(1).tolist())
    return (0.0,) * 12


def stepped_climate(
    climate: Climate, name: str, steps: float, latitude_deg: float, unit: str = "m"
) -> Climate:
    """The climate with one month moved by so many steps, or all that are said."""
    if name == "source":
        return climate
    quantity, field = (_ET0, "et0_mm_day") if name.startswith("et0") else (_RAIN, "rain_mm")
    listed = _MONTH.match(name)
    if listed:
        month = int(listed[1])
        begin = getattr(climate, field) or _unsaid(field, latitude_deg)
        moved = stepped(quantity, begin[month - 1], steps, unit)
        return _with_month(climate, field, month, moved, latitude_deg)
    values = tuple(stepped(quantity, v, steps, unit) for v in getattr(climate, field))
    source = _also_typed(climate.source) if values else climate.source
    return replace(climate, **{field: values}, source=source)


def climate_sentences(climate: Climate, latitude_deg: float, unit: str) -> tuple[Sentence, ...]:
    """The year by months: what is said, or what is assumed from the latitude."""
    et0 = climate.et0_mm_day or _unsaid("et0", latitude_deg)
    step = _ET0.step if unit == "m" else _ET0.step_ft
    step = step if climate.et0_mm_day else 0.0  # what nobody said is not moved, only typed over

    def listed(key: str, values, quantity: Quantity, step: float):
        text = Quantity(NAMES[key], "text")
        found = value_of(key, text, (("", listed_figures(values, quantity, unit)),), unit)
        return replace(found, step=step)

    month_by_month: Sentence = (
        "A watered grass would use ",
        listed("climate.et0", et0, _ET0, step),
        " a day in the months from January on",
        "." if climate.et0_mm_day else ": assumed from the latitude alone.",
    )
    rain = Quantity(NAMES["climate.rain"], "text", none="none")
    rain_step = _RAIN.step if unit == "m" else _RAIN.step_ft
    if climate.rain_mm:
        fallen = (
            "Rain in these months: ",
            listed("climate.rain", climate.rain_mm, _RAIN, rain_step),
            ".",
        )
    else:
        fallen = (
            "Rain in these months: ",
            value_of("climate.rain", rain, (("", None),), unit),
            " is counted.",
        )
    if not (climate.et0_mm_day or climate.rain_mm):
        return month_by_month, fallen
    told = Quantity(NAMES["climate.source"], "text", none="not said")
    source = value_of("climate.source", told, (("", climate.source or None),), unit)
    return month_by_month, fallen, ("Where these figures come from: ", source, ".")
