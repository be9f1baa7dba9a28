"""Control points as they are listed: what is known, what was measured, how they fit."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..core.model import ControlPoint, Project
from ..core.staking.looking_like import small_length
from .calibrating import Calibrated, calibrated
from .control_points import USES
from .coordinate_typing import shown_coordinate
from .hand_off_set import hand_off_of
from .units import unit_length_m

NOT_MEASURED = "not measured"


@dataclass(frozen=True)
class ControlLine:
    """One control point.

    Attributes
    ----------
    name : str
    known, measured : str
        Easting, northing and maybe elevation, in the grid's unit.
    plan, height : str
        Measured less fitted: east and north, and up; empty where there is none.
    used : str
        Of USES, as the user chose.
    key : str
        The point's name.
    flag : str
        "wrong" beyond what is allowed, else empty.
    told : str
        All of it in a sentence.
    """

    name: str
    known: str
    measured: str
    plan: str
    height: str
    used: str
    key: str
    flag: str
    told: str


def control_lines(project: Project, unit: str = "m") -> tuple[ControlLine, ...]:
    """The control points of a project and how they fit, whether coordinates are calibrated or not."""
    hand = hand_off_of(project)
    if not hand.control:
        return ()
    found = calibrated(project)
    return tuple(
        _line(point, i, found, hand.calibration, unit) for i, point in enumerate(hand.control)
    )


def _line(point: ControlPoint, at: int, found: Calibrated | None, asked, unit: str) -> ControlLine:
    plan = height = flag = ""
    told = [f"{point.name}: {'measured' if point.is_measured else NOT_MEASURED}"]
    if found is not None and np.isfinite(found.residual_m[at]).all():
        east, north = found.residual_m[at]
        off = float(np.hypot(east, north))
        plan = f"{signed_length(east, unit)} E, {signed_length(north, unit)} N"
        role = "in the fit" if found.in_plan[at] else "as a check, not in the fit"
        told.append(f"{small_length(off, unit_length_m(unit))} off in position, {role}")
        flag = "wrong" if off > asked.worst_m else flag
    if found is not None and np.isfinite(found.residual_height_m[at]):
        up = float(found.residual_height_m[at])
        height = signed_length(up, unit)
        role = "in the fit" if found.in_height[at] else "as a check, not in the fit"
        told.append(f"{height} in height, {role}")
        flag = "wrong" if abs(up) > asked.worst_height_m else flag
    used = next(w for w, said in USES.items() if said == (point.in_plan, point.in_height))
    known = _three(point.easting, point.northing, point.elevation)
    measured = (
        _three(point.measured_easting, point.measured_northing, point.measured_elevation)
        if point.is_measured
        else NOT_MEASURED
    )
    if point.measured_elevation is not None and not point.is_measured:
        measured = f"elevation {shown_coordinate(point.measured_elevation)}"
    return ControlLine(
        point.name, known, measured, plan, height, used, point.name, flag, f"{'; '.join(told)}."
    )


def signed_length(length_m: float, unit: str) -> str:
    """A small length with its sign.

    Examples
    --------
    >>> signed_length(-0.0083, "m"), signed_length(0.274, "m"), signed_length(0.0083, "ft")
    ('−8 mm', '+27.4 cm', '+0.027 ft')
    """
    sign = "−" if length_m < 0 else "+"
    return f"{sign}{small_length(abs(length_m), unit_length_m(unit))}"


def _three(easting, northing, elevation) -> str:
    return ", ".join(shown_coordinate(v) for v in (easting, northing, elevation) if v is not None)
