"""What a hand-off's measured points are explained with, and what an explanation says."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, eq=False)
class Facts:
    """What is known of a hand-off, to explain with.

    Attributes
    ----------
    unit_m : float
        Of written coordinates. [m]
    combined_factor : float
        Grid over ground, at the site.
    about_m : (float, float)
        Point that ground coordinates keep, in written coordinates. [m]
    coordinates : str
        Of COORDINATES, as handed off.
    convergence_deg, declination_deg : float or None
        Grid and magnetic north seen from true north, clockwise. [deg]; None where not known.
    row_spacing_m, vine_spacing_m : float
        The least of all blocks. [m]
    noise_m : float
        Standard deviation expected of an honest measurement, each axis; common practice 2 cm. [m]
    tolerance_m, height_tolerance_m : float
        [m]
    """

    unit_m: float
    combined_factor: float
    about_m: tuple[float, float]
    coordinates: str = "grid"
    convergence_deg: float | None = None
    declination_deg: float | None = None
    row_spacing_m: float = 2.4
    vine_spacing_m: float = 1.2
    noise_m: float = 0.02
    tolerance_m: float = 0.03
    height_tolerance_m: float = 0.05


@dataclass(frozen=True)
class Explanation:
    """One thing that explains what was measured.

    Attributes
    ----------
    code : str
        Of EXPLANATIONS.
    words : str
        "Looks like …", what it did here, and what to do.
    where : tuple of str
        Codes of blocks, rows or points it is about; empty for all.
    left_rms_m : float
        Root mean square of what is left of the points it is about, once everything explained is taken
        away: in plan, or in height for heights. [m]
    amount : float or None
        What was found, in the unit of the code's meaning (deg, ppm, m, rows).
    """

    code: str
    words: str
    where: tuple[str, ...] = ()
    left_rms_m: float = 0.0
    amount: float | None = None


EXPLANATIONS: dict[str, str] = {
    # code: meaning
    "survey-foot": "US survey feet read as international feet, or the reverse",
    "feet-as-metres": "feet read as metres, or the reverse",
    "axes-swapped": "northing and easting exchanged",
    "grid-as-ground": "grid coordinates staked as lengths on the ground, or the reverse",
    "bearing-convergence": "turned by the convergence: grid north taken for true north, or the reverse",
    "bearing-magnetic": "turned by the declination: magnetic north taken for true north, or the reverse",
    "rows-swapped": "two rows exchanged",
    "rows-shifted": "rows numbered one or more too high or too low",
    "row-reversed": "a row counted from its other end",
    "shift": "all of it shifted",
    "turn": "all of it turned",
    "scale": "all of it longer or shorter",
    "height-shift": "all heights off by the same",
    "height-unit": "heights in another unit",
    "point-off": "single points far from where they belong",
}
