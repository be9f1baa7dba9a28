"""A site calibration: what control points, known and measured, do to coordinates, and when it is refused."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from ..model import Finding
from ..model.handoff import Calibration, ControlPoint
from .fitting import (
    FEWEST,
    FEWEST_HEIGHTS,
    HeightFit,
    PlanFit,
    height_fit,
    plan_fit,
    stand_in_one_line,
)
from .looking_like import (
    GridFacts,
    looks_like_feet_mixed,
    looks_like_misfit,
    looks_like_scale,
    small_length,
)

ONE_PLACE_M = 1.0
"""Control points nearer to each other stand at one place. [m] Common practice is hundreds of metres."""
MOST_PPM = 500.0
"""Off by more is no scale between two surveys. [ppm] Grid and ground differ by up to about 400 ppm of UTM's own
scale and 160 ppm for each kilometre of height."""
MOST_TURN_DEG = 20.0
"""A larger turn is believed only where something checks it. [deg] Common practice."""
MOST_TILT = 1 / 200
"""A steeper plane is no difference between two vertical datums: the geoid rises against the ellipsoid by less than
1 in 10,000 nearly everywhere (from memory)."""


@dataclass(frozen=True, eq=False)
class Calibrated:
    """What control points do to coordinates.

    Attributes
    ----------
    moves, heights : str
        What was asked for, of MOVES and HEIGHT_MOVES.
    names : tuple of str
        Of all control points.
    residual_m : float array, shape (k, 2)
        Measured less fitted; NaN where a point is not measured or there is no fit. [m]
    residual_height_m : float array, shape (k,)
    in_plan, in_height : bool array, shape (k,)
        What the fits rest on.
    plan : PlanFit or None
        None where there is none; there may be one that is refused.
    height : HeightFit or None
    refused : str
        Why nothing is moved; empty where the calibration stands.
    findings : tuple of Finding
    unit_m : float
        Unit of the grid. [m]
    """

    moves: str
    heights: str
    names: tuple[str, ...]
    residual_m: np.ndarray
    residual_height_m: np.ndarray
    in_plan: np.ndarray
    in_height: np.ndarray
    plan: PlanFit | None
    height: HeightFit | None
    refused: str
    findings: tuple[Finding, ...]
    unit_m: float

    @property
    def stands(self) -> bool:
        """Whether coordinates are moved by it."""
        return not self.refused

    @property
    def ppm(self) -> float:
        """What the scale is off by, parts per million."""
        return 0.0 if self.plan is None else (self.plan.scale - 1) * 1e6

    def spread(self, at_m: np.ndarray, known_m: np.ndarray) -> np.ndarray:
        """(n,) of how much larger an error of the control points is at other places of the grid.

        Square root of 1/k + d²/Σr², with k points used, r their distances and d the place's from their
        middle; where nothing is turned, square root of 1/k. By error propagation through the fit (any text
        on least squares; from memory).

        Parameters
        ----------
        at_m : float array, shape (n, 2)
            Easting and northing. [m]
        known_m : float array, shape (k, 2)
            Of all control points. [m]
        """
        used = known_m[self.in_plan]
        middle = used.mean(axis=0)
        squared = np.full(len(at_m), 1 / len(used))
        if self.moves != "shift":
            apart = ((at_m - middle) ** 2).sum(axis=1)
            squared = squared + apart / ((used - middle) ** 2).sum()
        return np.sqrt(squared)


def calibrate(
    control: Sequence[ControlPoint], calibration: Calibration, grid: GridFacts
) -> Calibrated:
    """What the control points do, and whether that is to be believed.

    Parameters
    ----------
    control : sequence of ControlPoint
    calibration : Calibration
    grid : GridFacts
        Unit, combined factor and convergence, to tell what a bad fit looks like.

    Examples
    --------
    >>> points = (
    ...     ControlPoint("K1", 1000, 5000, None, 1000.10, 5000.20),
    ...     ControlPoint("K2", 1400, 5000, None, 1400.10, 5000.20),
    ...     ControlPoint("K3", 1400, 5300, None, 1400.10, 5300.60),
    ... )
    >>> calibrate(points[:2], Calibration("shift"), GridFacts()).stands
    True
    >>> calibrate(points, Calibration("shift"), GridFacts()).refused.partition(":")[0]
    'The control points do not fit'
    """
    names = tuple(p.name for p in control)
    known = _array([(p.easting, p.northing) for p in control], 2) * grid.unit_m
    measured = _array([(p.measured_easting, p.measured_northing) for p in control], 2) * grid.unit_m
    there = np.isfinite(measured).all(axis=1)
    in_plan = there & np.array([p.in_plan for p in control], bool)
    plan, refused, told = _plan(names, known, measured, in_plan, calibration, grid)
    rise = _array([(p.elevation, p.measured_elevation) for p in control], 2) * grid.unit_m
    has_heights = np.isfinite(rise).all(axis=1)
    in_height = has_heights & np.array([p.in_height for p in control], bool)
    height, too = None, ""
    if calibration.heights == "none":
        in_height = np.zeros(len(names), bool)
    else:
        height, too = _height(names, known, rise, in_height, calibration, grid)
    refused = refused or too
    residual, residual_height = np.full((len(names), 2), np.nan), np.full(len(names), np.nan)
    if plan is not None:
        residual[there] = measured[there] - plan.moved(known[there])
    if height is not None:
        added = height.added_m(known[has_heights])
        residual_height[has_heights] = rise[has_heights] @ [-1.0, 1.0] - added
    if refused:
        told = (Finding("calibration-refused", f"{refused} Coordinates stay on the grid."),)
    else:
        told = (*told, *_unchecked(plan, height, there & ~in_plan, has_heights & ~in_height))
    return Calibrated(
        calibration.moves, calibration.heights, names, residual, residual_height, in_plan, in_height,
        plan, height, refused, told, grid.unit_m,
    )  # fmt: skip


def _array(rows, width: int) -> np.ndarray:
    """Numbers in an array; NaN for None."""
    return np.array(rows, dtype=float).reshape(-1, width)


def _plan(names, known, measured, used, calibration: Calibration, grid: GridFacts):
    """The fit in plan, why it is refused, and what is to be known of it."""
    moves, n = calibration.moves, int(used.sum())
    if n < FEWEST[moves]:
        return None, _too_few(moves, "to", n, FEWEST[moves], "known and measured"), ()
    ours = [name for name, is_used in zip(names, used, strict=True) if is_used]
    source, target = known[used], measured[used]
    for places, what in ((source, "known"), (target, "measured")):
        pair = _nearest_pair(places)
        if pair is not None:
            return (
                None,
                f"Control points {ours[pair[0]]} and {ours[pair[1]]} stand at one place by their {what} "
                "coordinates: leave one out, or correct it.",
                (),
            )
    fit = plan_fit(source, target, moves)
    if fit.worst_m > calibration.worst_m:
        without = _left_out(
            n,
            FEWEST[moves],
            calibration.worst_m,
            lambda kept: plan_fit(source[kept], target[kept], moves),
        )
        off = np.hypot(*fit.residual_m.T)
        said = _misfit(ours, off, calibration.worst_m, without, "", grid)
        return fit, f"{said}{looks_like_misfit(source, target, calibration, grid)}", ()
    if abs(fit.scale - 1) * 1e6 > MOST_PPM:
        return (
            fit,
            f"The control points would stretch lengths by {(fit.scale - 1) * 1e6:+,.0f} ppm, more than two "
            f"surveys differ by{looks_like_scale(fit, source, grid)}: correct the coordinates.",
            (),
        )
    if abs(fit.turn_deg) > MOST_TURN_DEG and fit.redundancy == 0:
        return (
            fit,
            f"The control points would turn everything by {fit.turn_deg:+.1f}° and nothing checks it: measure "
            "one point more.",
            (),
        )
    return fit, "", looks_like_feet_mixed(fit, source, calibration.worst_m, grid)


def _height(names, known, rise, used, calibration: Calibration, grid: GridFacts):
    """The fit of heights and why it is refused."""
    heights, n, needs = calibration.heights, int(used.sum()), FEWEST_HEIGHTS[calibration.heights]
    what = "heights by a plane" if heights == "plane" else "heights"
    if n < needs:
        return None, _too_few(what, "to shift", n, needs, "with a known and a measured elevation")
    ours = [name for name, is_used in zip(names, used, strict=True) if is_used]
    at, from_, to = known[used], rise[used, 0], rise[used, 1]
    if heights == "plane" and stand_in_one_line(at):
        return (
            None,
            "The control points stand in one line, through which no plane of heights can be laid: measure one "
            "to the side, or shift heights alone.",
        )
    fit = height_fit(at, from_, to, heights)
    if fit.worst_m > calibration.worst_height_m:

        def kept_fit(kept):
            if heights == "plane" and stand_in_one_line(at[kept]):
                return None
            return height_fit(at[kept], from_[kept], to[kept], heights)

        without = _left_out(n, needs, calibration.worst_height_m, kept_fit)
        off = np.abs(fit.residual_m)
        said = _misfit(ours, off, calibration.worst_height_m, without, " in height", grid)
        return fit, f"{said}{_tilted_instead(at, from_, to, calibration)}"
    if fit.tilt > MOST_TILT:
        return (
            fit,
            f"The control points would tilt heights by 1 in {1 / fit.tilt:.0f}, steeper than any two vertical "
            "datums: correct the elevations.",
        )
    return fit, ""


def _tilted_instead(at, from_m, to_m, calibration: Calibration) -> str:
    """That a plane would fit heights that a shift does not: a sentence with a blank before it, or nothing."""
    if calibration.heights != "shift" or len(at) < 4 or stand_in_one_line(at):
        return ""
    plane = height_fit(at, from_m, to_m, "plane")
    fits = plane.worst_m <= calibration.worst_height_m and plane.tilt <= MOST_TILT
    return f" Tilted by 1 in {1 / plane.tilt:,.0f} they would fit." if fits and plane.tilt else ""


def _too_few(what: str, verb: str, n: int, needs: int, how: str) -> str:
    there = {0: "there is none", 1: "there is 1"}.get(n, f"there are {n}")
    points = "1 control point is" if needs == 1 else f"{needs} control points are"
    return f"{verb.capitalize()} {what}, {points} needed that {'is' if needs == 1 else 'are'} {how}: {there}."


def _nearest_pair(places: np.ndarray) -> tuple[int, int] | None:
    """Two places nearer than ONE_PLACE_M, or None."""
    import shapely

    tree = shapely.STRtree(shapely.points(places))
    a, b = tree.query(shapely.points(places), "dwithin", ONE_PLACE_M)
    pairs = np.flatnonzero(a < b)
    return (int(a[pairs[0]]), int(b[pairs[0]])) if len(pairs) else None


_Fit = PlanFit | HeightFit | None


def _left_out(n: int, fewest: int, worst_m: float, fit_of: Callable[[np.ndarray], _Fit]):
    """(point, worst residual of the others) of each point without which the others fit and check each other. [m]"""
    found = []
    for one in range(n if n - 1 >= fewest else 0):
        fit = fit_of(np.arange(n) != one)
        if fit is not None and fit.redundancy > 0 and fit.worst_m <= worst_m:
            found.append((one, fit.worst_m))
    return sorted(found, key=lambda f: f[1])


def _misfit(names, off_m, worst_m: float, without, where: str, grid: GridFacts) -> str:
    """Which point is off, and without which the others fit."""

    def m(length: float) -> str:
        return small_length(length, grid.unit_m)

    worst = int(np.argmax(off_m))
    said = (
        f"The control points do not fit: {names[worst]} is {m(off_m[worst])} off{where}, where "
        f"{m(worst_m)} is allowed"
    )
    if not without:
        return f"{said}. Check the coordinates of all of them, or measure more points."
    one, left = without[0]
    if len(without) == 1:
        return (
            f"{said}; without {names[one]} the others fit within {m(left)}. Measure {names[one]} again, or "
            "leave it out."
        )
    some = " or ".join(names[i] for i, _ in without[:3])
    return f"{said}; the others fit without {some}, and which one is wrong cannot be told: measure one point more."


def _unchecked(plan, height, spare_plan, spare_height) -> tuple[Finding, ...]:
    """That nothing checks a fit; a point that is measured and left out of it does."""
    open_ = []
    if plan is not None and plan.redundancy == 0 and not spare_plan.any():
        open_.append("position")
    if height is not None and height.redundancy == 0 and not spare_height.any():
        open_.append("height")
    if not open_:
        return ()
    return (
        Finding(
            "calibration-unchecked",
            f"Nothing checks the calibration in {' and '.join(open_)}: a mistake at one control point would "
            "not be seen. Measure one point more.",
        ),
    )


def does(found: Calibrated, decimals: int = 3) -> str:
    """What a calibration does, in the unit of its grid, without a name for that.

    Examples
    --------
    >>> points = (ControlPoint("K1", 0, 0, 10, 0.1, -0.2, 10.05),)
    >>> does(calibrate(points, Calibration("shift", "shift"), GridFacts()))
    'shifts by +0.100 E, -0.200 N, heights by +0.050'
    """
    plan, unit = found.plan, found.unit_m
    if plan is None:
        return "does nothing"
    east, north = (f"{s / unit:+.{decimals}f}" for s in plan.shift_m)
    said = f"shifts by {east} E, {north} N"
    if found.moves != "shift":
        said += f" in the middle of its points, turns by {plan.turn_deg:+.5f} deg"
    if found.moves == "shift, turn and scale":
        said += f", stretches by {found.ppm:+.1f} ppm"
    if found.height is not None:
        said += f", heights by {found.height.plane[0] / unit:+.{decimals}f}"
        if found.heights == "plane" and not math.isclose(found.height.tilt, 0.0, abs_tol=1e-9):
            said += f" tilted 1 in {1 / found.height.tilt:,.0f}"
    return said
