"""Grid and ground at a site as a surveyor works them: factors, a worked line, norths, units, area of use."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

from ..formats.handoffset import HandOffSet, Placing
from .check_line_words import Checked, shown_degrees, written_length
from .coordinate_typing import plural_unit
from .tally import grouped

_FOOT_M, _SURVEY_FOOT_M = 0.3048, 1200 / 3937
"""Exact by definition. Source: NIST Special Publication 811 (2008), appendix B.6. [m]"""
_FEET = {"foot": _FOOT_M, "US survey foot": _SURVEY_FOOT_M}


@dataclass(frozen=True)
class WorkedFactor:
    """A combined factor and its two parts."""

    point_scale: float
    radius: float
    height: float

    @property
    def elevation_factor(self) -> float:
        return self.radius / (self.radius + self.height)

    @property
    def combined(self) -> float:
        return self.point_scale * self.elevation_factor

    def words(self, decimals: int = 9) -> str:
        """The reckoning, with lengths in one unit whatever it is.

        Examples
        --------
        A worked example that surveyors print, in feet:

        >>> WorkedFactor(0.999981, 20_906_000, 500).words(6).replace("\\u202f", ",")
        '0.999981 × 20,906,000 / (20,906,000 + 500) = 0.999981 × 0.999976 = 0.999957'
        """
        plus = "+" if self.height >= 0 else "−"
        size = grouped(abs(self.height), 0 if float(self.height).is_integer() else 1)
        radius = grouped(self.radius)
        return (
            f"{self.point_scale:.{decimals}f} × {radius} / ({radius} {plus} {size}) = "
            f"{self.point_scale:.{decimals}f} × {self.elevation_factor:.{decimals}f} = "
            f"{self.combined:.{decimals}f}"
        )


def worked_factor(hand: HandOffSet) -> WorkedFactor:
    """The combined factor of a site, in the unit of written coordinates."""
    frame, placing = hand.project.site.frame, hand.placing
    to_unit = 1 / placing.unit_m
    return WorkedFactor(
        placing.grid.point_scale, frame.mean_radius_m * to_unit, frame.height_m * to_unit
    )


def factor_words(hand: HandOffSet) -> str:
    """The combined factor of a site with its parts."""
    unit = plural_unit(hand.placing.unit)
    return (
        "Point scale × elevation factor, which is radius / (radius + height above the ellipsoid), lengths in "
        f"{unit}: {worked_factor(hand).words()}. It is that of the site's middle, at the one height used for the "
        "whole site."
    )


def worked_line_words(hand: HandOffSet, line: Checked) -> str:
    """One line of the site, from ground to grid by the combined factor, held against its coordinates."""
    placing = hand.placing
    factor = worked_factor(hand).combined

    def shown(length_m: float) -> str:
        return written_length(length_m, placing.unit, placing.unit_m)

    by_factor_m = line.ground_m * factor
    start, end = line.line.codes
    return (
        f"{start} to {end}: {shown(line.ground_m)} on the ground × {factor:.9f} = {shown(by_factor_m)} on the grid; "
        f"their grid coordinates give {shown(line.grid_m)}."
    )


def worked_line(lines: tuple[Checked, ...]) -> Checked | None:
    """The row that is worked; the first line there is where none is along a row."""
    rows = [c for c in lines if c.line.kind in ("first row", "last row")]
    return max(rows, key=lambda c: c.ground_m, default=lines[0] if lines else None)


def convergence_words(hand: HandOffSet) -> str:
    """Where grid north points, its sign in words."""
    angle = hand.placing.grid.convergence_deg
    if abs(angle) < 5e-7:
        return "Grid north is true north at the site's middle."
    side, sign = ("east", "clockwise") if angle > 0 else ("west", "anticlockwise")
    return (
        f"Grid north points {abs(angle):.6f}° {side} of true north ({sign}) at the site's middle: grid bearing = "
        f"true bearing {'−' if angle > 0 else '+'}\u00a0{abs(angle):.6f}°."
    )


def worked_bearing_words(hand: HandOffSet, line: Checked) -> str:
    """The same line's bearings, worked and by coordinates."""
    angle = hand.placing.grid.convergence_deg
    sign = "−" if angle >= 0 else "+"
    start, end = line.line.codes
    text = (
        f"{start} to {end}: {shown_degrees(line.true_deg)} true {sign}\u00a0{abs(angle):.4f}° = "
        f"{shown_degrees(line.true_deg - angle)} grid; their grid coordinates give {shown_degrees(line.grid_deg)}."
    )
    if abs((line.written_deg - line.grid_deg + 180) % 360 - 180) > 5e-5:
        text += f" By written coordinates, which are calibrated, it is {shown_degrees(line.written_deg)}."
    return text


def declination_words(hand: HandOffSet) -> str:
    """Where a compass points on the sheet's day."""
    from ..formats.bearings import north_offsets

    day: datetime.date = hand.day
    norths = north_offsets(hand.project.site.frame, hand.placing.grid.convergence_deg, day)
    angle = norths.declination_deg
    if angle is None:
        return f"Not known for {day.isoformat()}: the magnetic model holds from 2025 to 2029."
    side = "east" if angle >= 0 else "west"
    return (
        f"A compass points {abs(angle):.1f}° {side} of true north on {day.isoformat()} by the World Magnetic Model "
        "2025; iron and wires turn it, so rows are not staked by it."
    )


def unit_words(placing: Placing, farthest: float) -> str:
    """The unit of written coordinates, exactly, and which foot it is not.

    Parameters
    ----------
    placing : Placing
    farthest : float
        The largest written coordinate, which tells what mixing up feet would do.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> unit_words(SimpleNamespace(unit="metre", unit_m=1.0), 6e6)
    'Metre. No foot of any kind is used in files in the survey system.'
    """
    unit = placing.unit
    if unit not in _FEET:
        if unit == "metre":
            return "Metre. No foot of any kind is used in files in the survey system."
        return f"{unit.capitalize()} = {placing.unit_m:.12g} m. It is neither the metre nor a foot of another length."
    other = next(name for name in _FEET if name != unit)
    off = abs(farthest) * abs(_FEET[other] / _FEET[unit] - 1)
    exact = "0.3048 m exactly" if unit == "foot" else "1200/3937 m exactly, 0.304800609601 m"
    also = "0.3048 m" if other == "foot" else "1200/3937 m"
    name = "International foot" if unit == "foot" else "US survey foot"
    wrong = "international foot" if other == "foot" else other
    return (
        f"{name} = {exact}. It is not the {wrong} of {also}: taking one for the other moves points by up to "
        f"{off:.2f} feet here."
    )


@dataclass(frozen=True)
class SystemFacts:
    """What the EPSG data set says of the survey system: area of use, its bounds, datum, ellipsoid."""

    area: str
    datum: str


def system_facts(hand: HandOffSet) -> SystemFacts:
    """Area of use and datum of the survey system, in words.

    Source: the EPSG data set, as PROJ carries it.
    """
    from ..formats.crs import crs_named

    crs = crs_named(hand.project.site.survey_crs)
    area = crs.area_of_use
    words = "Not stated by the system's definition: ask whether it is made for this place."
    if area is not None:
        frame = hand.project.site.frame
        inside = _within(area, frame.longitude_deg, frame.latitude_deg)
        words = (
            f"{area.name} Longitude {_degrees(area.west, 'EW')} to {_degrees(area.east, 'EW')}, latitude "
            f"{_degrees(area.south, 'NS')} to {_degrees(area.north, 'NS')}. "
            + ("The site lies in it." if inside else "The site lies outside: use another grid.")
        )
    datum, ellipsoid = crs.datum, crs.ellipsoid
    named = datum.name if datum is not None else crs.geodetic_crs.name
    on = f", on the ellipsoid {ellipsoid.name}" if ellipsoid is not None else ""
    return SystemFacts(words, f"{named}{on}.")


def _within(area, longitude: float, latitude: float) -> bool:
    if not area.south <= latitude <= area.north:
        return False
    if area.west <= area.east:
        return area.west <= longitude <= area.east
    return longitude >= area.west or longitude <= area.east  # over the 180th meridian


def _degrees(angle: float, letters: str) -> str:
    return f"{abs(angle):.2f}° {letters[0] if angle >= 0 else letters[1]}"
