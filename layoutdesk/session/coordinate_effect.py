"""What ground or calibrated coordinates do at a site: arrows over the plan, and the same in words."""

from __future__ import annotations

import numpy as np
import shapely

from ..core.model.handoff import HandOff
from ..core.staking.looking_like import FOOT_M, small_length
from ..formats.handoffset import HandOffSet
from .calibrating import Calibrated, calibrated
from .coordinate_typing import plural_unit
from .hand_off_drawing import Arrows

MOST_CORNERS = 12
"""Of an outline that get an arrow."""
_LONGEST = 0.1
"""Of the site's size, of the longest arrow as drawn."""
_LARGE_SHIFT_M = 1.0
"""A calibration that shifts by more is drawn without its shift: its turn and scale would not be seen. [m]"""
_LARGE_TURN_DEG = 1.0
"""A calibration that turns by more is onto a system of its own, and no arrow at a corner says anything. [deg]"""


def effect_arrows(hand: HandOffSet) -> Arrows | None:
    """Arrows at corners of outlines and at control points; None where there is nothing to show.

    At corners they lead from the grid's coordinates to the written ones, offsets and a large shift aside; at
    control points from fitted to measured ones, also where a calibration is refused or not used.
    """
    at, step, label, amiss, said = [], [], [], [], []
    grid_m = hand.placing.grid.unit_m
    corners, words = _corner_steps(hand)
    if corners is not None:
        at.append(corners[0])
        step.append(corners[1])
        lengths = np.hypot(*corners[1].T)
        label += [_label(length, grid_m) for length in lengths.tolist()]
        amiss.append(np.zeros(len(lengths), bool))
        said.append(words)
    found = calibrated(hand.project)
    residuals = None if found is None else _residual_steps(hand, found)
    if residuals is not None:
        names, places, steps, lengths = residuals
        at.append(places)
        step.append(steps)
        label += [f"{n} {_label(m, grid_m)}" for n, m in zip(names, lengths.tolist(), strict=True)]
        amiss.append(lengths > hand.hand.calibration.worst_m)
        said.append("from fitted to measured control points")
    if not at:
        return None
    at, step = np.concatenate(at), np.concatenate(step)
    longest = float(np.hypot(*step.T).max())
    if longest <= 0:
        return None
    times = _round_times(_LONGEST * _size_m(hand) / longest)
    drawn = f"drawn {times:g} times as long" if times != 1 else "true to scale"
    return Arrows(
        at, step, times, np.concatenate(amiss), tuple(label), f"Arrows {' and '.join(said)}, {drawn}"
    )  # fmt: skip


def effect_words(hand: HandOffSet) -> str:
    """What the coordinates that are handed off do at the site, in a sentence."""
    placing, asked = hand.placing, hand.hand
    unit_m = placing.grid.unit_m
    if asked.coordinates == "calibrated" and placing.coordinates != "calibrated":
        found = calibrated(hand.project)
        why = "No control point is measured." if found is None else found.refused
        return f"{why} Coordinates stay on the grid."
    if placing.coordinates == "grid":
        stays = "" if asked.coordinates == "grid" else " Coordinates stay on the grid."
        ppm = placing.grid.ppm
        more = "longer" if ppm > 0 else "shorter"
        off = small_length(abs(ppm) * 1e-4 * unit_m, unit_m)
        return (
            f"Grid coordinates: 100 {plural_unit(placing.grid.unit)} on the ground are {off} {more} on the grid."
            f"{stays}"
        )
    block, most = _most_moved(hand)
    if placing.coordinates == "ground":
        offset = asked.ground.offset_e or asked.ground.offset_n
        aside = ", offsets aside" if offset else ""
        return (
            f"Ground coordinates lie up to {small_length(most, unit_m)} from the grid's at the corners of {block}"
            f"{aside}."
        )
    return (
        f"The calibration moves the corners of {block} by up to {small_length(most, unit_m)} from the grid's "
        "coordinates."
    )


def _written_steps(hand: HandOffSet, xy_m: np.ndarray, shift: np.ndarray) -> np.ndarray:
    """(n, 2) of what written coordinates add to the grid's, less a shift, as steps in the site frame. [m]"""
    placing = hand.placing
    on_grid = placing.to_grid(xy_m)
    added = on_grid @ placing.matrix[:, :2].T + placing.matrix[:, 2] - on_grid - shift
    return placing.from_grid(on_grid + added) - placing.from_grid(on_grid)


def _corner_steps(hand: HandOffSet):
    """Corners with their steps, and what they are in words; None and nothing where there are none."""
    placing, asked = hand.placing, hand.hand
    if placing.coordinates == "grid" or not hand.project.blocks:
        return None, ""
    shift, aside = _shift(asked), ""
    if placing.coordinates == "ground":
        aside = ", offsets aside" if shift.any() else ""
        words = f"from grid to ground coordinates{aside}"
    else:
        found = calibrated(hand.project)
        if abs(found.plan.turn_deg) > _LARGE_TURN_DEG:
            return None, ""
        moved_m = float(np.hypot(*found.plan.shift_m))
        if moved_m > _LARGE_SHIFT_M:
            shift = np.array(found.plan.shift_m) / placing.grid.unit_m
            aside = f", a shift of {small_length(moved_m, placing.grid.unit_m)} aside"
        words = f"from grid to calibrated coordinates{aside}"
    xy = np.concatenate([_few_corners(b.outline) for b in hand.project.blocks])
    return (xy, _written_steps(hand, xy, shift)), words


def _shift(asked: HandOff) -> np.ndarray:
    if asked.coordinates != "ground":
        return np.zeros(2)
    return np.array([asked.ground.offset_e, asked.ground.offset_n])


def _residual_steps(hand: HandOffSet, found: Calibrated):
    """Names, places, steps and lengths of residuals, turned back into the site frame; None where there are none."""
    if found.plan is None:
        return None
    there = np.isfinite(found.residual_m).all(axis=1)
    lengths = np.hypot(*found.residual_m.T)
    there &= np.nan_to_num(lengths) < _size_m(hand)  # a kilometre is no arrow: the list tells it
    if not there.any():
        return None
    placing = hand.placing
    known = np.array([(p.easting, p.northing) for p in hand.hand.control])[there]
    turned = np.linalg.solve(found.plan.matrix[:, :2], found.residual_m[there].T).T
    places = placing.from_grid(known)
    steps = placing.from_grid(known + turned / placing.grid.unit_m) - places
    names = [name for name, is_there in zip(found.names, there, strict=True) if is_there]
    return names, places, steps, lengths[there]


def _most_moved(hand: HandOffSet) -> tuple[str, float]:
    """The block whose corners are moved most, and by how much, offsets of ground coordinates aside. [m]"""
    found = []
    for block in hand.project.blocks:
        xy = shapely.get_coordinates(block.outline)
        steps = _written_steps(hand, xy, _shift(hand.hand))
        found.append((float(np.hypot(*steps.T).max()), block.name))
    most, name = max(found, default=(0.0, "the site"))
    return name, most


def _few_corners(outline) -> np.ndarray:
    """At most MOST_CORNERS corners of an outline, those that make its shape. [m]"""
    ring, tolerance_m = outline, 0.01
    while shapely.get_num_coordinates(ring) > MOST_CORNERS + 1 and tolerance_m < 1e6:
        ring = shapely.simplify(outline, tolerance_m, preserve_topology=True)
        tolerance_m *= 2
    corners = np.unique(shapely.get_coordinates(ring), axis=0)
    return corners[:: -(-len(corners) // MOST_CORNERS)]


def _size_m(hand: HandOffSet) -> float:
    x0, y0, x1, y1 = shapely.total_bounds([b.outline for b in hand.project.blocks])
    return float(np.hypot(x1 - x0, y1 - y0))


def _label(length_m: float, unit_m: float) -> str:
    if abs(unit_m / FOOT_M - 1) < 1e-5:
        return f"{length_m / unit_m:.2f} ft"
    return f"{length_m * 100:.1f} cm"


def _round_times(wanted: float) -> float:
    """The next of 1, 2, 5, 10, 20, … that is not more than wanted, at least 1."""
    if wanted <= 1:
        return 1.0
    power = 10.0 ** np.floor(np.log10(wanted))
    return float(next(f * power for f in (5, 2, 1) if f * power <= wanted))
