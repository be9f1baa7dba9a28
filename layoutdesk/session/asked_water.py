"""A drip system asked for in words on the command line, and the project it makes."""

from __future__ import annotations

from collections.abc import Mapping

from ..core.model import InputProblem, Project
from .asked_rules import of_option
from .drip_words import FEED_WORDS, tube_sold_as
from .water_words import with_typed_water
from .wording import listed

WATER_OPTIONS: dict[str, str] = {
    # option: the value of the paragraphs that it gives
    "tube": "tube_mm",
    "head": "head_m",
    "emitter": "emitter_l_h",
    "emitter-head": "emitter_head_m",
    "exponent": "exponent",
    "cv": "cv",
    "least-head": "least_head_m",
    "greatest-head": "greatest_head_m",
    "emitters": "emitters_per_vine",
    "inline": "inline_m",
    "barb-loss": "barb_loss",
    "fed": "fed",
    "bridge": "bridge_m",
    "variation": "variation_pct",
    "sets": "sets",
    "friction": "law",
    "source-at": "source.place_m",
    "source-level": "source.level_m",
    "source-curve": "source.curve",
    "source-losses": "source.losses_m",
    "source-hours": "source.hours_a_day",
    "pipe-speed": "source.velocity_m_s",
    "pipes": "pipes_mm",
    "climate": "climate",
    "et0": "climate.et0",
    "rain": "climate.rain",
    "soil": "demand.soil",
    "wet-depth": "demand.wet_depth_m",
    "wet-width": "demand.wet_width_m",
    "dry-share": "demand.dry_share_pct",
    "first-watering": "demand.first_watering_l",
    "planting": "demand.planting",
    "shaded": "demand.shaded_pct",
    "crop-coefficient": "demand.kc_per_shaded_pct",
    "efficiency": "demand.efficiency_pct",
    "rain-used": "demand.rain_used_pct",
    "days-a-week": "demand.days_a_week",
}
"""Every option that gives a value of the drip system, in the order they are taken in."""

WATER_MEANINGS: dict[str, str] = {
    "tube": "drip tube by what it is sold as (16mm, 20mm) or its inner width (13.6mm, '20mm inside')",
    "head": "pressure behind every valve (1.5bar, 150kPa, 15m, 22psi)",
    "emitter": "flow of one emitter (2 or '2 L/h', 0.5gph)",
    "emitter-head": "pressure that flow is told for",
    "exponent": "x of the emitter's law: 0.05 compensating, 0.5 turbulent, 1 laminar",
    "cv": "variation of new emitters (5% or 0.05)",
    "least-head": "least pressure emitters work at",
    "greatest-head": "greatest pressure emitters work at",
    "emitters": "emitters at every vine",
    "inline": "emitters in the drip line, one every so far; none for at the vines",
    "barb-loss": "velocity heads that are lost past an emitter",
    "fed": "where water enters the rows: 'start end', 'far end', middle, or line as drawn",
    "bridge": "widest gap in a row that one drip line crosses",
    "variation": "flow variation permitted in a set, in per cent",
    "sets": "sets that each block is watered in; none for as few as source and slope allow",
    "friction": "darcy-weisbach or hazen-williams",
    "source-at": "place of the source in survey coordinates ('E 512345 N 6101234'), or corner",
    "source-level": "height that the source's heads count from; none for the ground's",
    "source-curve": "flow in m³/h and head in m that is left then, as pairs: 0:50,20:40",
    "source-losses": "pressure lost in filter and control head",
    "source-hours": "hours that watering may take in a day",
    "pipe-speed": "greatest speed of water in pipes (1.5, '5 ft/s')",
    "pipes": "pipes there are, outer and inner width in mm: '40/35.2, 50/44'",
    "climate": "FILE with months of evapotranspiration and rain, or with days of weather",
    "et0": "reference evapotranspiration of twelve months in mm a day, January first",
    "rain": "rain of twelve months in mm, January first",
    "soil": "sand, loamy sand, sandy loam, loam, silt loam, silty clay loam or clay",
    "wet-depth": "depth of soil that is wetted before planting",
    "wet-width": "width of soil that is wetted before planting",
    "dry-share": "per cent of the soil's water for plants that is missing then",
    "first-watering": "water for a vine right after planting (9.5L, 2.5gal)",
    "planting": "day of planting (2027-04-01)",
    "shaded": "per cent of the ground in the vines' shade, year after year: 5,15,30",
    "crop-coefficient": "of one per cent of shaded ground",
    "efficiency": "per cent of the water given that vines can use",
    "rain-used": "per cent of the rain that vines can use",
    "days-a-week": "days of watering in a week",
}
"""What each option takes, for the help of a command."""


def with_asked_water(
    project: Project, values: Mapping[str, str], names: tuple[str, ...] | None = None
) -> Project:
    """The project with all of its water that is asked for.

    Bare numbers are metres, bar, L/h, m³/h and mm. A tube of a size that tubes are sold by is that tube:
    20mm is 17.6 mm inside, unless "inside" stands behind it.

    Parameters
    ----------
    project : Project
    values : mapping of str to str
        Text by option, of WATER_OPTIONS.
    names : tuple of str, optional
        Blocks that drip systems are asked for; all of them, if left out.

    Raises
    ------
    InputProblem
        One sentence that names the option.
    """
    unknown = [option for option in values if option not in WATER_OPTIONS]
    if unknown:
        raise ValueError(f"values: {unknown[0]!r} is no option of water")
    if "climate" in values and "et0" in values:
        raise InputProblem("--climate and --et0 contradict each other: give one of them.")
    scope = tuple(b.name for b in project.blocks) if names is None else names
    for option in _in_order(project, values, scope):
        text = values[option]
        if not text.strip():
            raise InputProblem(f"--{option} is empty: give it or leave it out.")
        with of_option(option):
            project = _with_option(project, scope, option, text)
    return project


def _in_order(project: Project, values: Mapping[str, str], scope: tuple[str, ...]) -> list[str]:
    """Options as they are taken in: a working range is moved up from its upper end."""
    order = [option for option in WATER_OPTIONS if option in values]
    if {"least-head", "greatest-head"} <= set(order):
        try:
            with_typed_water(project, scope, "least_head_m", values["least-head"])
        except InputProblem:
            order.remove("greatest-head")
            order.insert(order.index("least-head"), "greatest-head")
    return order


def _with_option(project: Project, scope: tuple[str, ...], option: str, text: str) -> Project:
    if option == "climate":
        from .water_edits import with_climate_file

        return with_climate_file(project, text)
    if option == "tube":
        text = _tube(text)
    if option == "fed" and text.strip().lower() not in FEED_WORDS:
        raise InputProblem(
            f"{text!r} is no place rows are fed at: use {listed(_quoted(FEED_WORDS), 'or')}."
        )
    return with_typed_water(project, scope, WATER_OPTIONS[option], text)


def _tube(text: str) -> str:
    """A tube's inner diameter, as typed or of the size it is sold by.

    Examples
    --------
    >>> _tube("20mm"), _tube("20 mm inside"), _tube("13.6")
    ('17.6 mm', '20 mm', '13.6')
    """
    bare = text.strip()
    if bare.lower().endswith("inside"):
        return bare[: -len("inside")].strip()
    sold = tube_sold_as(bare.lower().removesuffix("tube"))
    return bare if sold is None else f"{sold:g} mm"


def _quoted(words) -> list[str]:
    """Words as they are typed: in quotes where they have a space."""
    return [f"'{w}'" if " " in w else w for w in words]
