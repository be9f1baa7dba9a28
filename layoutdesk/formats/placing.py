"""Where a project's hand-off puts its points: on the grid, on the ground or as calibrated, in which unit."""

from __future__ import annotations

import math

import numpy as np

from ..core.model import Finding, Project
from ..core.model.handoff import HandOff
from ..core.staking.calibration import Calibrated, calibrate, does
from ..core.staking.looking_like import GridFacts, small_length
from . import crs as systems
from .handoffset import Placing
from .smooth import fitted
from .stakeset import SurveyGrid, Transform

UNITS_M = {"metre": 1.0, "foot": systems.FOOT_M, "US survey foot": systems.US_SURVEY_FOOT_M}
"""[m]"""
_SEEN_PPM = 20.0
"""A stated combined factor that is off by more is told. [ppm] 2 mm in 100 m."""
_FARTHEST_M = 50_000.0
"""A ground point is not farther from its site: the combined factor there says nothing about the site. [m]"""
_SURE_SPAN_M = 1000.0
"""A shift alone is not carried far by small errors: control is near within so much. [m] Common practice."""


def placing_of(project: Project, bounds_m) -> tuple[Placing, tuple[Finding, ...]]:
    """Where places of the site frame stand in written coordinates, and what is to be known of it.

    What cannot be done as asked (control points that do not fit, a ground point stated in another system)
    leaves coordinates on the grid, with a finding that is "wrong".

    Parameters
    ----------
    project : Project
    bounds_m : (x0, y0, x1, y1)
        Around all that is written, in the site frame; what lies outside is placed as exactly, but slower. [m]

    Raises
    ------
    InputProblem
        Where the survey system cannot be used.
    """
    frame, crs = project.site.frame, project.site.survey_crs
    hand = project.hand_off or HandOff()
    grid = systems.survey_grid(frame, crs)
    to_grid, from_grid = _both_ways(project, bounds_m, grid)
    unit, unit_m = _unit(hand, grid)
    corners = _corners(project, bounds_m)
    on_grid = to_grid(corners)
    matrix, heights = np.eye(2, 3), (0.0,) * 5
    coordinates, words, told = hand.coordinates, "grid coordinates", []
    if coordinates != "grid" and is_stated_elsewhere(project):
        told.append(_elsewhere(hand, crs))
        coordinates = "grid"
    if coordinates == "ground":
        point, factor = ground_point(project, grid), ground_factor(project, grid)
        scale = hand.ground
        matrix = _ground_matrix(point, factor, (scale.offset_e, scale.offset_n))
        words = (
            f"ground coordinates: the grid's divided by the combined factor {factor:.9f} about "
            f"E {point[0]:.12g}, N {point[1]:.12g}{_offset_words(scale)}"
        )
        told += _ground_findings(project, grid, point, factor, corners, on_grid)
    elif coordinates == "calibrated":
        found = calibrated_on(project, grid)
        told += found.findings
        if found.stands:
            matrix, heights = _calibration_matrix(found), _height_plane(found)
            words = f"calibrated on control points {', '.join(_used(found))}: {does(found)}"
            told += _far_findings(found, hand, grid, on_grid)
        else:
            coordinates = "grid"
    told += _unit_findings(grid, unit, unit_m, on_grid)
    placing = Placing(
        grid, coordinates, unit, unit_m, matrix, heights, to_grid, from_grid,
        _statement(grid, unit, unit_m, words, hand.vertical_datum),
    )  # fmt: skip
    return placing, tuple(told)


def is_stated_elsewhere(project: Project) -> bool:
    """Whether the ground point or control points are stated in another system than the survey grid."""
    hand = project.hand_off or HandOff()
    return bool(hand.stated_in) and hand.stated_in != project.site.survey_crs


def ground_point(project: Project, grid: SurveyGrid) -> tuple[float, float]:
    """Easting and northing of the point that keeps its coordinates. [unit of the grid]

    The origin of the site frame where none is stated, rounded to whole units: it lies in the site's middle
    and stays there whatever is edited, so that ground coordinates do not wander.
    """
    ground = (project.hand_off or HandOff()).ground
    if ground.easting is not None:
        return ground.easting, ground.northing
    to_grid = systems.frame_to_survey(project.site.frame, project.site.survey_crs)
    easting, northing = to_grid(np.zeros((1, 2)))[0]
    return float(round(easting)), float(round(northing))


def ground_factor(project: Project, grid: SurveyGrid) -> float:
    """Combined factor that ground coordinates go by: as stated, else that at the ground point."""
    ground = (project.hand_off or HandOff()).ground
    if ground.factor is not None:
        return ground.factor
    crs = project.site.survey_crs
    found = systems.combined_factor_at(project.site.frame, crs, *ground_point(project, grid))
    return found if math.isfinite(found) else grid.combined_factor


def calibrated_on(project: Project, grid: SurveyGrid) -> Calibrated:
    """What the project's control points do."""
    hand = project.hand_off or HandOff()
    facts = GridFacts(grid.unit_m, grid.combined_factor, grid.convergence_deg)
    return calibrate(hand.control, hand.calibration, facts)


def _both_ways(project: Project, bounds_m, grid: SurveyGrid) -> tuple[Transform, Transform]:
    """Transforms from frame to grid and back: quick inside the bounds, exact everywhere."""
    frame, crs = project.site.frame, project.site.survey_crs
    to_exact, from_exact = systems.frame_to_survey(frame, crs), systems.survey_to_frame(frame, crs)
    to_quick = fitted(to_exact, bounds_m, (grid.unit_m, grid.unit_m))
    x0, y0, x1, y1 = bounds_m
    x, y = np.meshgrid(np.linspace(x0, x1, 9), np.linspace(y0, y1, 9))
    around = to_exact(np.column_stack([x.ravel(), y.ravel()]))
    if not np.isfinite(around).all():
        return to_exact, from_exact
    on_grid = (*around.min(axis=0), *around.max(axis=0))
    return (
        _quick_inside(to_quick, to_exact, bounds_m),
        _quick_inside(fitted(from_exact, on_grid), from_exact, on_grid),
    )


def _quick_inside(quick: Transform, exact: Transform, bounds) -> Transform:
    if quick is exact:
        return exact
    x0, y0, x1, y1 = bounds
    low, high = np.array(bounds[:2]), np.array(bounds[2:])

    def placed(xy):
        xy = np.asarray(xy, dtype=float)
        if not len(xy):
            return np.empty((0, 2))
        # column by column: several times as quick as along the short axis
        x, y = xy[:, 0], xy[:, 1]
        if x.min() >= x0 and x.max() <= x1 and y.min() >= y0 and y.max() <= y1:
            return quick(xy)
        inside = ((xy >= low) & (xy <= high)).all(axis=1)
        out = np.empty((len(xy), 2))
        out[inside], out[~inside] = quick(xy[inside]), exact(xy[~inside])
        return out

    return placed


def _unit(hand: HandOff, grid: SurveyGrid) -> tuple[str, float]:
    wanted = hand.table.unit
    if not wanted or wanted == grid.unit:
        return grid.unit, grid.unit_m
    return wanted, UNITS_M[wanted]


def _corners(project: Project, bounds_m) -> np.ndarray:
    """Corners of all outlines; of the bounds where there are none. [m]"""
    import shapely

    if project.blocks:
        return shapely.get_coordinates([b.outline for b in project.blocks])
    x0, y0, x1, y1 = bounds_m
    return np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], dtype=float)


def _ground_matrix(point, factor: float, offset) -> np.ndarray:
    scale = 1 / factor
    shift = [p * (1 - scale) + o for p, o in zip(point, offset, strict=True)]
    return np.array([[scale, 0.0, shift[0]], [0.0, scale, shift[1]]])


def _calibration_matrix(found: Calibrated) -> np.ndarray:
    matrix = found.plan.matrix.copy()
    matrix[:, 2] /= found.unit_m
    return matrix


def _height_plane(found: Calibrated) -> tuple[float, float, float, float, float]:
    if found.height is None:
        return (0.0,) * 5
    shift, per_e, per_n = found.height.plane
    e, n = found.height.middle_m
    return shift / found.unit_m, per_e, per_n, e / found.unit_m, n / found.unit_m


def _used(found: Calibrated) -> list[str]:
    used = found.in_plan | found.in_height
    return [name for name, is_used in zip(found.names, used, strict=True) if is_used]


def _offset_words(scale) -> str:
    if not (scale.offset_e or scale.offset_n):
        return ", no offsets"
    return f", then {scale.offset_e:+.12g} E and {scale.offset_n:+.12g} N added"


def _statement(grid: SurveyGrid, unit: str, unit_m: float, words: str, datum: str) -> str:
    """System, unit, grid or ground or calibrated and how, combined factor, vertical datum."""
    known_as = grid.crs if len(grid.crs) < 40 else "own definition"
    own = "" if unit == grid.unit else f" (the grid's own is {grid.unit} = {grid.unit_m:.12g} m)"
    return (
        f"{grid.name} ({known_as}); unit {unit} = {unit_m:.12g} m{own}; {words}; combined factor "
        f"{grid.combined_factor:.9f} at the site ({grid.ppm:+.1f} ppm, {grid.ppm / 100:+.2f} cm per 100 m); "
        f"vertical datum {datum.strip() or 'not stated'}"
    )


def _elsewhere(hand: HandOff, crs: str) -> Finding:
    what = "control points are" if hand.coordinates == "calibrated" else "ground point is"
    here = crs if len(crs) < 40 else "the plan's own system"
    there = hand.stated_in if len(hand.stated_in) < 40 else "another system"
    return Finding(
        "stated-elsewhere",
        f"The {what} stated in {there}, the survey grid is {here} now: state them again, or go back to "
        f"{there}. Coordinates stay on the grid.",
        there,
    )


def _ground_findings(project, grid: SurveyGrid, point, factor, corners, on_grid) -> list[Finding]:
    ground, frame = project.hand_off.ground, project.site.frame
    moved = (on_grid - point) * (1 / factor - 1) * grid.unit_m
    most = float(np.hypot(*moved.T).max())
    own = (ground.offset_e, ground.offset_n) != (0.0, 0.0)
    apart = (
        "offsets keep them apart from the grid's"
        if own
        else "nothing keeps them apart from the grid's: add offsets, such as another first figure"
    )
    aside = ", offsets aside" if own else ""
    found = [
        Finding(
            "ground-coordinates",
            f"Written coordinates are on the ground, up to {small_length(most, grid.unit_m)} from the grid's at "
            f"corners of the site{aside}; {apart}. Give the crew the ground point, the factor and the offsets.",
        )
    ]
    site = systems.frame_to_survey(frame, project.site.survey_crs)(np.zeros((1, 2)))[0]
    away = float(np.hypot(*(np.array(point) - site))) * grid.unit_m
    if not away <= _FARTHEST_M:
        found.append(
            Finding(
                "ground-coordinates",
                f"The ground point lies {away / 1000:,.0f} km from the site: state one on the site, easting first.",
                severity="wrong",
            )
        )
    elif ground.factor is not None:
        found += _factor_findings(project, grid, point, factor)
    return found


def _factor_findings(project, grid: SurveyGrid, point, factor: float) -> list[Finding]:
    """That a stated combined factor is not the one here."""
    here = systems.combined_factor_at(project.site.frame, project.site.survey_crs, *point)
    off_ppm = (factor - here) * 1e6
    if not abs(off_ppm) > _SEEN_PPM:
        return []
    if abs(factor - 1 / here) * 1e6 < _SEEN_PPM:
        return [
            Finding(
                "ground-coordinates",
                f"The combined factor {factor:.9f} looks upside down: grid over ground is {here:.9f} here. "
                f"Distances between written points would be {2 * abs(1 - here) * 1e5:.1f} mm per 100 m wrong.",
                severity="wrong",
            )
        ]
    return [
        Finding(
            "ground-coordinates",
            f"The stated combined factor {factor:.9f} is {off_ppm:+.0f} ppm off the {here:.9f} at the ground "
            f"point: {abs(off_ppm) / 10:.1f} mm in 100 m.",
        )
    ]


def _far_findings(found: Calibrated, hand: HandOff, grid: SurveyGrid, on_grid) -> list[Finding]:
    """That the site reaches beyond the control points by more than their span."""
    import shapely

    known_m = np.array([(p.easting, p.northing) for p in hand.control]) * grid.unit_m
    used = known_m[found.in_plan]
    site_m = on_grid * grid.unit_m
    hull = shapely.MultiPoint(used).convex_hull
    span = float(np.hypot(*(used[:, None] - used[None]).transpose(2, 0, 1)).max())
    room = max(span, _SURE_SPAN_M) if found.moves == "shift" else span
    away = shapely.distance(hull, shapely.points(site_m))
    if away.max() <= room:
        return []
    larger = float(found.spread(site_m, known_m).max())
    return [
        Finding(
            "control-far",
            f"The site reaches {away.max():,.0f} m beyond the control points, which span {span:,.0f} m: an error "
            f"of 10 mm at each of them may be {10 * larger:.0f} mm there. Measure control points around the site.",
        )
    ]


def _unit_findings(grid: SurveyGrid, unit: str, unit_m: float, on_grid) -> list[Finding]:
    if unit == grid.unit:
        return []
    most_m = float(np.hypot(*on_grid.T).max()) * abs(unit_m - grid.unit_m)
    if abs(unit_m / grid.unit_m - 1) < 1e-5:
        far = (
            f"{abs(unit_m / grid.unit_m - 1) * 1e6:.0f} parts in a million, which put points {most_m:.1f} m "
            "away here where one is taken for the other"
        )
    else:
        far = f"1 {grid.unit} is {grid.unit_m / unit_m:.9g} of them"
    return [
        Finding(
            "hand-off-unit",
            f"Coordinates are written by the {unit} ({unit_m:.9g} m), the grid's own unit is the {grid.unit} "
            f"({grid.unit_m:.9g} m): {far}. Tell the crew.",
            grid.name,
        )
    ]
