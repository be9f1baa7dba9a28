"""What a project says of its planting, as paragraphs, and every value of them as typed and as stepped.

Keys are dotted by what they are of ("setting.hole_depth_m", "crew.people", "title.client"), but for the day
planting begins ("begins"): that is one with the planting day of the project's water.
"""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import replace

from ..core.model import Planting, Project, Water
from . import crew_words, inspecting_words, setting_words, years_words
from .crew_words import BEGINS
from .planted import begins_of, planting_of
from .planting_values import planting_value, stepped_value, typed_value
from .quantities import Quantity
from .specification import Paragraph

__all__ = [
    "PLANTING_NAMES", "TITLE_FIELDS", "crew_paragraph", "inspecting_paragraph", "setting_paragraph",
    "title_paragraph", "title_texts", "with_missed_day", "with_stepped_planting", "with_title_texts",
    "with_typed_planting", "years_paragraph",
]  # fmt: skip

TITLE_FIELDS: tuple[tuple[str, str], ...] = (
    ("client", "For"),
    ("address", "Address"),
    ("drawn_by", "Drawn by"),
    ("checked_by", "Checked by"),
    ("sheet_number", "Sheet"),
    ("revision", "Revision"),
    ("remarks", "Remarks"),
)
"""Fields of the title block, and what is printed beside each."""
_LEFT_OPEN = "left open"
_TITLE: dict[str, Quantity] = {
    f"title.{field}": Quantity(f"title block, {label.lower()}", "text", none=_LEFT_OPEN)
    for field, label in TITLE_FIELDS
}
QUANTITIES: dict[str, Quantity] = {
    **setting_words.QUANTITIES,
    **crew_words.QUANTITIES,
    **inspecting_words.QUANTITIES,
    **years_words.QUANTITIES,
    **_TITLE,
}
PLANTING_NAMES: dict[str, str] = {key: quantity.name for key, quantity in QUANTITIES.items()}
"""Plain names of all values, as undo and the screen reader say them."""


def setting_paragraph(project: Project, unit: str = "m") -> Paragraph:
    """How vines are set, and how long before they are ordered."""
    return setting_words.setting_paragraph_of(planting_of(project).setting, unit)


def crew_paragraph(project: Project, unit: str = "m") -> Paragraph:
    """Who plants, how fast, and when."""
    return crew_words.crew_paragraph_of(planting_of(project).crew, begins_of(project), unit)


def inspecting_paragraph(project: Project, unit: str = "m") -> Paragraph:
    """How many vines are inspected, and how many faulty ones are too many."""
    return inspecting_words.inspecting_paragraph_of(planting_of(project).inspecting, unit)


def years_paragraph(project: Project, unit: str = "m") -> Paragraph:
    """The first years: counting, form, ties, crop, rates."""
    return years_words.years_paragraph_of(planting_of(project).years, unit)


def title_paragraph(project: Project, unit: str = "m") -> Paragraph:
    """What stands in the title block of the sheets; what is left open can be filled in by hand."""
    title = planting_of(project).title
    sentence: list = []
    for field, label in TITLE_FIELDS:
        key = f"title.{field}"
        value = planting_value(key, QUANTITIES[key], getattr(title, field), unit)
        sentence += ["; " if sentence else "", f"{label}: ", value]
    return ((*sentence, "."),)


def with_typed_planting(project: Project, key: str, text: str, unit: str = "m") -> Project:
    """The project with one value of its planting as typed or chosen.

    Parameters
    ----------
    project : Project
    key : str
        Of PLANTING_NAMES.
    text : str
    unit : str
        Of lengths; bare numbers are in it and in the units that go with it.

    Raises
    ------
    InputProblem
        One sentence that says what can be typed.
    """
    return _with_value(project, key, typed_value(QUANTITIES[key], text, unit))


def with_stepped_planting(project: Project, key: str, steps: float, unit: str = "m") -> Project:
    """The project with one value moved by so many steps, held inside its limits; texts stay."""
    quantity = QUANTITIES[key]
    if key == BEGINS:
        return _with_value(project, key, stepped_value(quantity, begins_of(project), steps))
    part, _, field = key.partition(".")
    if part == "setting":
        quantity = setting_words.stepped_limits(planting_of(project).setting, field, quantity)
    value = stepped_value(quantity, _value(project, part, field), steps, unit)
    return _with_value(project, key, value)


def _value(project: Project, part: str, field: str):
    said = getattr(planting_of(project), part)
    return years_words.value_of_years(said, field) if part == "years" else getattr(said, field)


def _with_value(project: Project, key: str, value) -> Project:
    if key == BEGINS:
        return with_begins(project, value)
    part, _, field = key.partition(".")
    planting = planting_of(project)
    said = getattr(planting, part)
    if part == "setting":
        said = setting_words.with_setting(said, field, value)
    elif part == "years":
        said = years_words.with_years(said, field, value)
    else:
        said = replace(said, **{field: value})
    return _with_planting(project, replace(planting, **{part: said}))


def _with_planting(project: Project, planting: Planting) -> Project:
    if project.planting is None and planting == Planting():
        return project
    return replace(project, planting=planting)


def with_begins(project: Project, day: datetime.date | None) -> Project:
    """The project with the day planting begins, or with none said."""
    if day == begins_of(project):
        return project
    water = project.water or Water()
    return replace(project, water=replace(water, demand=replace(water.demand, planting=day)))


def with_missed_day(project: Project, day: datetime.date) -> Project:
    """The project with a day that did not come about; what was planned for it moves on."""
    planting = planting_of(project)
    missed = tuple(sorted({*planting.crew.missed, day}))
    return replace(project, planting=replace(planting, crew=replace(planting.crew, missed=missed)))


def title_texts(project: Project) -> dict[str, str]:
    """What stands in the title block, by field."""
    title = planting_of(project).title
    return {field: getattr(title, field) for field, _ in TITLE_FIELDS}


def with_title_texts(project: Project, texts: Mapping[str, str]) -> Project:
    """The project with fields of the title block as typed; those that are not given stay.

    Raises
    ------
    InputProblem
        Where a text is too long for a title block.
    """
    for field, _ in TITLE_FIELDS:
        if field in texts:
            project = with_typed_planting(project, f"title.{field}", texts[field])
    return project
