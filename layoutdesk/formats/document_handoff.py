"""What a project says of its hand-off as JSON values, and back."""

from __future__ import annotations

import dataclasses
import datetime

from ..core.model import (
    Calibration,
    ControlPoint,
    GroundScale,
    HandOff,
    Part,
    PointChoice,
    PointTable,
    StakedCheck,
)
from .document_planting import json_values


def hand_off_fields(hand: HandOff | None) -> dict | None:
    """A hand-off as JSON values."""
    return None if hand is None else json_values(dataclasses.asdict(hand))


def hand_off_from(said: dict | None) -> HandOff | None:
    """A hand-off of JSON values."""
    if said is None:
        return None
    points, table = said["points"], said["table"]
    parts = tuple(Part(**p) for p in points["parts"])
    checks = (c | {"day": datetime.date.fromisoformat(c["day"])} for c in said["checks"])
    return HandOff(
        **said
        | {
            "points": PointChoice(**points | {"kinds": tuple(points["kinds"]), "parts": parts}),
            "table": PointTable(
                **table
                | {"columns": tuple(table["columns"]), "features": _pairs(table["features"])}
            ),
            "formats": tuple(said["formats"]),
            "ground": GroundScale(**said["ground"]),
            "control": tuple(ControlPoint(**p) for p in said["control"]),
            "calibration": Calibration(**said["calibration"]),
            "contacts": _pairs(said["contacts"]),
            "checks": tuple(StakedCheck(**c) for c in checks),
        }
    )


def _pairs(said) -> tuple[tuple[str, str], ...]:
    return tuple((a, b) for a, b in said)
