"""What a project says of its water, as paragraphs, and every value of them as typed and as stepped.

Keys of a block's drip system stand alone ("tube_mm"); those of the site are dotted ("source.curve",
"demand.soil", "climate.et0"), but for the pipes ("pipes_mm").
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from ..core.model import InputProblem, Project, Water
from ..core.model.water import Drip
from . import demand_words, drip_words, source_words
from .demand_words import demand_paragraph
from .source_words import source_paragraph
from .specification import Paragraph

__all__ = [
    "WATER_NAMES",
    "demand_paragraph",
    "source_paragraph",
    "water_of",
    "water_paragraph",
    "with_drips",
    "with_stepped_water",
    "with_typed_water",
]

WATER_NAMES: dict[str, str] = {**drip_words.NAMES, **source_words.NAMES, **demand_words.NAMES}
"""Plain names of all values, as undo and the screen reader say them."""


def water_of(project: Project) -> Water:
    """What a project says of its water; the usual where it says nothing."""
    return project.water or Water()


def water_paragraph(project: Project, names: tuple[str, ...], unit: str = "m") -> Paragraph:
    """The drip systems of the blocks in scope; where they differ a value tells what each has."""
    water = water_of(project)
    return drip_words.drip_paragraph(tuple((name, water.drip_of(name)) for name in names), unit)


def with_drips(project: Project, names: tuple[str, ...], change: Callable[[Drip], Drip]) -> Project:
    """The project with the drip systems of some blocks changed, each from its own."""
    water = water_of(project)
    for name in names:
        water = water.with_drip(name, change(water.drip_of(name)))
    return replace(project, water=water)


def with_typed_water(
    project: Project, names: tuple[str, ...], key: str, text: str, unit: str = "m"
) -> Project:
    """The project with one value of its water as typed or chosen.

    Parameters
    ----------
    project : Project
    names : tuple of str
        Blocks in scope; values of the site are one for all of them.
    key : str
        Of WATER_NAMES.
    text : str
    unit : str
        Of lengths; bare numbers are in it and in the units that go with it.

    Raises
    ------
    InputProblem
        One sentence that says what can be typed.
    """
    if key in drip_words.NAMES:
        return with_drips(project, names, lambda d: drip_words.typed_drip(d, key, text, unit))
    water = water_of(project)
    if (
        key == "source.place_m"
        and text.strip()[:1].upper() in ("E", "N")
        and any(map(str.isdigit, text))
    ):
        from .water_edits import with_source_at

        return with_source_at(project, _typed_place(project, text, unit))
    if key in source_words.NAMES:
        return replace(project, water=source_words.typed_source(water, key, text, unit))
    latitude = project.site.frame.latitude_deg
    return replace(project, water=demand_words.typed_demand(water, key, text, latitude, unit))


def _typed_place(project: Project, text: str, unit: str) -> tuple[float, float]:
    """A place in the survey grid, as typed. [m]"""
    from .typed_places import survey_transforms, typed_place

    try:
        return typed_place(
            text,
            anchor=None,
            unit=unit,
            from_survey=survey_transforms(project)[1],
            true_from=lambda _, degrees: degrees,
        )
    except InputProblem as problem:
        raise InputProblem(f"Place of the source: {problem}") from None


def with_stepped_water(
    project: Project, names: tuple[str, ...], key: str, steps: float, unit: str = "m"
) -> Project:
    """The project with one value moved by so many steps, in each block from what it has there."""
    if key in drip_words.NAMES:
        return with_drips(project, names, lambda d: drip_words.stepped_drip(d, key, steps, unit))
    water = water_of(project)
    if key in source_words.NAMES:
        ground = project.site.frame.height_m
        return replace(project, water=source_words.stepped_source(water, key, steps, unit, ground))
    latitude = project.site.frame.latitude_deg
    return replace(project, water=demand_words.stepped_demand(water, key, steps, latitude, unit))
