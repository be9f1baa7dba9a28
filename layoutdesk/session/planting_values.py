"""Values of planting by kind: days, days of the week, times of day, warmth and lists, beside those of `quantities`.

Each kind is shown, typed and stepped in one place; what is shown can be typed again.
"""

from __future__ import annotations

import datetime
import re
from dataclasses import replace

from ..core.model import InputProblem
from .demand_words import typed_day
from .figure_lists import listed_figures, typed_figures
from .quantities import Quantity, shown, stepped, typed, value_of
from .record_words import day_words
from .specification import Value
from .wording import listed

NOT_SAID, NONE = "not said", "none"
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_NOTHING = ("", NONE, "no", "-", "–", NOT_SAID)
_LONGEST_TEXT = 300
_MOST_DAYS = 2000
_DAY = datetime.timedelta(days=1)
_STEPS = {"day": 1.0, "clock": 0.25, "warmth_c": 1.0, "shares": 1.0}
"""Of kinds that are no quantity's, in what they show."""
_FEWEST_IN_A_ROW = 3
"""Days that follow one another are told by the first and the last from so many on."""


def in_steps(size: float) -> dict[str, float]:
    """Steps of one size whatever lengths are in."""
    return {"step": size, "step_ft": size}


def shown_value(quantity: Quantity, value, unit: str = "m") -> str:
    """A value of planting as people read it.

    Examples
    --------
    >>> shown_value(Quantity("begin of work", "clock"), 7.5)
    '07:30'
    >>> shown_value(Quantity("days off", "weekdays"), (5, 6))
    'Saturday and Sunday'
    >>> shown_value(Quantity("heat", "warmth_c"), 32.0, "ft")
    '89.6 °F'
    """
    kind = quantity.kind
    if kind == "day":
        return day_words(value) or NOT_SAID
    if kind == "days":
        return days_text(value)
    if kind == "weekdays":
        return listed(WEEKDAYS[d] for d in sorted(value)) if value else "no day of the week"
    if kind == "clock":
        minutes = round(value * 60)
        return f"{minutes // 60:02d}:{minutes % 60:02d}"
    if kind == "warmth_c":
        return f"{value:.3g} °C" if unit == "m" else f"{value * 1.8 + 32:.3g} °F"
    if kind == "shares":
        return listed_figures(value, replace(quantity, kind="share"), unit)
    if kind == "text":
        return value or quantity.none or NOT_SAID
    return shown(quantity, value, unit)


def typed_value(quantity: Quantity, text: str, unit: str = "m"):
    """A value of planting as typed.

    Raises
    ------
    InputProblem
        One sentence that says what can be typed.

    Examples
    --------
    >>> typed_value(Quantity("begin of work", "clock", 0, 23), "6:30 am")
    6.5
    >>> typed_value(Quantity("days off", "weekdays"), "Sat, Sun")
    (5, 6)
    """
    kind = quantity.kind
    if kind == "day":
        return typed_day(text, quantity.name)
    if kind == "days":
        return typed_days(text, quantity.name)
    if kind == "weekdays":
        return _typed_weekdays(text, quantity.name)
    if kind == "clock":
        return _typed_clock(text, quantity)
    if kind == "warmth_c":
        return _typed_warmth(text, quantity, unit)
    if kind == "shares":
        return typed_figures(text, replace(quantity, kind="share"), unit)
    if kind == "text":
        return _typed_text(text, quantity)
    if kind == "choice":
        return typed(quantity, " ".join(text.lower().replace("-", " ").split()), unit)
    return typed(quantity, text, unit)


def stepped_value(quantity: Quantity, value, steps: float, unit: str = "m"):
    """A value moved by so many of its steps; what has no steps stays as it is."""
    kind = quantity.kind
    if kind == "day":
        return value + round(steps) * _DAY if value else value
    if kind in ("days", "weekdays", "text"):
        return value
    if kind == "clock":
        return min(max(value + steps * _STEPS[kind], quantity.low), quantity.high)
    if kind == "warmth_c":
        degree = 1.0 if unit == "m" else 5 / 9
        return round(min(max(value + steps * degree, quantity.low), quantity.high), 9)
    if kind == "shares":
        one = replace(quantity, kind="share")
        return tuple(stepped(one, share, steps, unit) for share in value)
    return stepped(quantity, value, steps, unit)


def planting_value(key: str, quantity: Quantity, value, unit: str = "m", usual=None) -> Value:
    """A value of a paragraph; its name tells where it is common practice still: as `usual` is."""
    if usual is not None and value == usual:
        quantity = replace(quantity, name=f"{quantity.name} (common practice)")
    own = quantity.kind in ("day", "days", "weekdays", "clock", "warmth_c", "shares", "text")
    if not own:
        return value_of(key, quantity, (("", value),), unit)
    text = shown_value(quantity, value, unit)
    found = value_of(key, replace(quantity, kind="text"), (("", text),), unit)
    return replace(found, step=0.0 if value is None else _STEPS.get(quantity.kind, 0.0))


def usual_words(said, usual, words: dict[str, str]) -> str:
    """A sentence on what is common practice still, because nobody said otherwise; empty where all is said.

    Parameters
    ----------
    said, usual : frozen value
    words : dict
        What each field is called.

    Examples
    --------
    >>> from ..core.model.planting import Setting
    >>> words = {"spares_pct": "spares", "hole_depth_m": "the hole's depth"}
    >>> usual_words(Setting(spares_pct=5.0), Setting(), words)
    " The hole's depth is common practice: change it to what holds here."
    """
    same = [w for f, w in words.items() if getattr(said, f) == getattr(usual, f)]
    same = list(dict.fromkeys(same))
    if not same:
        return ""
    told = listed(same)
    one = len(same) == 1 and not same[0].endswith("s")
    verb, it = ("is", "it") if one else ("are", "them")
    return f" {told[:1].upper()}{told[1:]} {verb} common practice: change {it} to what holds here."


def days_text(days) -> str:
    """Days, those that follow one another by the first and the last.

    Examples
    --------
    >>> day = datetime.date
    >>> days_text((day(2027, 4, 5),)), days_text(())
    ('2027-04-05', 'none')
    >>> days_text(day(2027, 4, d) for d in (5, 6, 7, 9))
    '2027-04-05 to 2027-04-07, 2027-04-09'
    """
    runs: list[list[datetime.date]] = []
    for day in sorted(set(days)):
        if runs and day - runs[-1][-1] == _DAY:
            runs[-1].append(day)
        else:
            runs.append([day])
    parts = [
        p
        for run in runs
        for p in (
            [f"{run[0]} to {run[-1]}"] if len(run) >= _FEWEST_IN_A_ROW else [str(d) for d in run]
        )
    ]
    return ", ".join(parts) or NONE


_SPAN = re.compile(r"\s+to\s+|\s*(?:\.\.+|…|–)\s*", re.IGNORECASE)
_AMERICAN = re.compile(r"([A-Za-z]+\.?\s+\d{1,2})\s*,\s*(\d{4})")


def typed_days(text: str, name: str = "days") -> tuple[datetime.date, ...]:
    """Days as typed, one after the other or from one to another; in order, each once.

    Raises
    ------
    InputProblem

    Examples
    --------
    >>> [d.isoformat() for d in typed_days("5 April 2027; 2027-04-01 to 2027-04-02")]
    ['2027-04-01', '2027-04-02', '2027-04-05']
    """
    if text.strip().lower() in _NOTHING:
        return ()
    plain = _AMERICAN.sub(r"\1 \2", text)
    found: set[datetime.date] = set()
    for part in re.split(r"[;,\n]|\s+and\s+", plain):
        if not part.strip():
            continue
        ends = [typed_day(p, name) for p in _SPAN.split(part.strip())]
        first, last = ends[0], ends[-1]
        if len(ends) > 2 or first is None or last is None or last < first:
            raise InputProblem(
                f"{_named(name)}: {part.strip()!r} is no stretch of days: write it like 2027-04-05 to "
                "2027-04-09."
            )
        if (last - first).days + len(found) >= _MOST_DAYS:
            raise InputProblem(f"{_named(name)}: more than {_MOST_DAYS:,} days are too many.")
        found.update(first + i * _DAY for i in range((last - first).days + 1))
    return tuple(sorted(found))


def _typed_weekdays(text: str, name: str) -> tuple[int, ...]:
    wanted = text.strip().lower()
    if wanted in (*_NOTHING, "no day of the week"):
        return ()
    if wanted in ("weekend", "weekends"):
        return 5, 6
    found = set()
    for word in re.split(r"[;,\s]+", wanted):
        if word in ("and", "&", ""):
            continue
        bare = word.rstrip(".").removesuffix("s") if len(word) > 4 else word.rstrip(".")
        fit = [i for i, day in enumerate(WEEKDAYS) if day.lower().startswith(bare)]
        if len(bare) < 2 or len(fit) != 1:
            raise InputProblem(
                f"{_named(name)}: {word!r} is no day of the week: write them like Saturday, Sunday, or none."
            )
        found.add(fit[0])
    if len(found) == 7:
        raise InputProblem(f"{_named(name)}: one day of the week is left to work at least.")
    return tuple(sorted(found))


_CLOCK = re.compile(r"(\d{1,2})(?:[:.h](\d{2}))?\s*(?:h|o'clock)?\s*(am|pm|a\.m\.|p\.m\.)?")


def _typed_clock(text: str, quantity: Quantity) -> float:
    found = _CLOCK.fullmatch(text.strip().lower())
    name = _named(quantity.name)
    if found is None:
        raise InputProblem(f"{name}: {text.strip()!r} is no time of day: write it like 07:30.")
    hour, minute, half = int(found[1]), int(found[2] or 0), (found[3] or "")[:1]
    if minute > 59 or hour > 24 or (half and not 1 <= hour <= 12):
        raise InputProblem(f"{name}: {text.strip()!r} is no time of day: write it like 07:30.")
    if half:
        hour = hour % 12 + (12 if half == "p" else 0)
    value = hour + minute / 60
    if not quantity.low <= value <= quantity.high:
        low, high = (shown_value(quantity, v) for v in (quantity.low, quantity.high))
        raise InputProblem(f"{name} must lie between {low} and {high}.")
    return value


_WARMTH = re.compile(r"([+-]?\d+(?:[.,]\d+)?)\s*°?\s*([cf]?)", re.IGNORECASE)


def _typed_warmth(text: str, quantity: Quantity, unit: str) -> float:
    found = _WARMTH.fullmatch(text.strip().replace("−", "-"))
    name = _named(quantity.name)
    if found is None:
        like = shown_value(quantity, 32.0, unit)
        raise InputProblem(f"{name}: {text.strip()!r} is no temperature: write it like {like}.")
    figure = float(found[1].replace(",", "."))
    fahrenheit = found[2].lower() == "f" or (not found[2] and unit != "m")
    value = (figure - 32) / 1.8 if fahrenheit else figure
    if not quantity.low - 1e-9 <= value <= quantity.high + 1e-9:
        low, high = (shown_value(quantity, v, unit) for v in (quantity.low, quantity.high))
        raise InputProblem(f"{name} must lie between {low} and {high}.")
    return round(min(max(value, quantity.low), quantity.high), 9)


def _typed_text(text: str, quantity: Quantity) -> str:
    plain = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    if plain.lower() in (NOT_SAID, quantity.none.lower()):
        return ""
    if len(plain) > _LONGEST_TEXT:
        raise InputProblem(
            f"{_named(quantity.name)}: {len(plain)} letters do not fit: write up to {_LONGEST_TEXT}."
        )
    return plain


def _named(name: str) -> str:
    return name[:1].upper() + name[1:]
