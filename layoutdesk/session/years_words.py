"""The first years after planting, in plain language."""

from __future__ import annotations

from dataclasses import replace

from ..core.model import InputProblem
from ..core.model.planting import COUNTINGS, YEAR_TASKS, YEARS_LIMITS, Years
from .planting_values import in_steps, planting_value, usual_words
from .quantities import Quantity
from .specification import Paragraph

MOST_SHARES = 12
_RATE = "_per_h"


def _of(name: str, field: str, kind: str, **more) -> Quantity:
    return Quantity(name, kind, *YEARS_LIMITS[field], **more)


QUANTITIES: dict[str, Quantity] = {
    "years.counting": Quantity(
        "way of counting to the first small crop",
        "choice",
        choices=COUNTINGS,
        meanings=(
            "The third season of leaves, that of planting being the first",
            "The second harvest after planting",
        ),
    ),
    "years.form": Quantity(
        "form vines are raised to",
        "choice",
        choices=("cane", "cordon"),
        meanings=("New canes are laid down every winter", "Arms that stay for good"),
    ),
    "years.tie_days": _of("days between rounds of tying", "tie_days", "number", decimals=1, **in_steps(1)),
    "years.shares_pct": Quantity("expected crop year after year", "shares", 0.0, 200.0),
    "years.mature_kg_vine": _of("crop of a mature vine", "mature_kg_vine", "mass", step=0.1, step_ft=0.25, decimals=2),
    "years.union_check_m": _of("least height of the graft union in years to come", "union_check_m", "small_length"),
    **{
        f"years.{task}{_RATE}": Quantity(f"vines one person does in an hour: {words}", "number", 0.1, 5000.0, decimals=1, **in_steps(10))
        for task, (words, _) in YEAR_TASKS.items()
    },
}  # fmt: skip
_WORDS = {
    "tie_days": "days between ties",
    "shares_pct": "the crop year after year",
    "mature_kg_vine": "the crop of a mature vine",
    "union_check_m": "the height kept clear",
}


def years_paragraph_of(years: Years, unit: str = "m") -> Paragraph:
    """How vines are raised, the crop to expect, and how fast the work is done.

    Examples
    --------
    >>> from .specification import as_text
    >>> as_text(years_paragraph_of(Years())).splitlines()[0]
    'The first small crop is counted by the third leaf, and vines are raised to cane.'
    """

    def v(field: str):
        key, said, usual = f"years.{field}", None, getattr(Years(), field)
        said = getattr(years, field)
        usual = None if field in ("counting", "form") else usual
        return planting_value(key, QUANTITIES[key], said, unit, usual)

    def rate(task: str):
        key = f"years.{task}{_RATE}"
        said, usual = years.rate_per_h(task), YEAR_TASKS[task][1]
        return planting_value(key, QUANTITIES[key], said, unit, usual)

    rates = []
    for task, (words, _) in YEAR_TASKS.items():
        rates += ["; " if rates else "", f"{words} ", rate(task)]
    same = all(years.rate_per_h(task) == usual for task, (_, usual) in YEAR_TASKS.items())
    said_of_rates = " These rates are common practice: change them to your own." if same else ""
    return (
        (
            *("The first small crop is counted by the ", v("counting"), ", and vines are raised to "),
            *(v("form"), "."),
        ),
        (
            *("While a trunk grows it is tied every ", v("tie_days"), " days. The graft union stays at "),
            *("least ", v("union_check_m"), " above the soil, so that the scion does not root."),
        ),
        (
            *("A mature vine bears ", v("mature_kg_vine"), "; year after year ", v("shares_pct")),
            *(" of that are expected.",),
        ),
        (
            "Usual are ties about every ten days (extension services), and 0, 0 to 10, 25 to 50, 60 to 80 and 100 % "
            "of a crop." + usual_words(years, Years(), _WORDS),
        ),
        ("In an hour one person does so many vines: ", *rates, "." + said_of_rates),
    )  # fmt: skip


def value_of_years(years: Years, field: str):
    """A value by its field, or the rate of a task."""
    if field.endswith(_RATE):
        return years.rate_per_h(field.removesuffix(_RATE))
    return getattr(years, field)


def with_years(years: Years, field: str, value) -> Years:
    """The first years with one value changed; a rate that is the usual one is none of the user's.

    Raises
    ------
    InputProblem
        Where there are no shares, or too many.
    """
    if field.endswith(_RATE):
        task = field.removesuffix(_RATE)
        rates = dict(years.per_h) | {task: value}
        kept = tuple(
            (t, rates[t]) for t in YEAR_TASKS if t in rates and rates[t] != YEAR_TASKS[t][1]
        )
        return replace(years, per_h=kept)
    if field == "shares_pct" and not 1 <= len(value) <= MOST_SHARES:
        raise InputProblem(
            f"Expected crop year after year: write one to {MOST_SHARES} figures, like 0, 5, 35, 70, 100 %."
        )
    return replace(years, **{field: value})
