"""Materials and water of a project as JSON values, and back."""

from __future__ import annotations

import dataclasses
import datetime

from ..core.model import (
    Climate,
    Conditions,
    Demand,
    Drip,
    FoliageWire,
    Materials,
    Product,
    SaleUnit,
    SettledTakeOff,
    Source,
    Supply,
    Trellis,
    Water,
    Wire,
)


def materials_fields(materials: Materials | None) -> dict | None:
    """Materials as JSON values."""
    if materials is None:
        return None
    said = dataclasses.asdict(materials)
    if materials.settled is not None:
        said["settled"]["day"] = _day_said(materials.settled.day)
    return said


def materials_from(said: dict | None) -> Materials | None:
    """Materials of JSON values."""
    if said is None:
        return None
    settled = said["settled"]
    return Materials(
        tuple((name, _trellis_from(t)) for name, t in said["trellises"]),
        tuple(
            Supply(
                Product(
                    s["product"]["item"],
                    tuple(s["product"]["size"]),
                    s["product"].get("words", ""),
                ),
                s["name"],
                s["supplier"],
                SaleUnit(**s["sold"]),
            )
            for s in said["supplies"]
        ),
        said["currency"],
        Conditions(**said["conditions"]),
        settled
        and SettledTakeOff(
            _day_from(settled["day"]),
            tuple((b, tuple((i, a) for i, a in items)) for b, items in settled["amounts"]),
        ),
    )


_WIRES = ("fruiting_wire", "foliage_wire", "drip_wire", "tie_wire")


def _trellis_from(said: dict) -> Trellis:
    parts = {name: Wire(**said[name]) for name in _WIRES}
    parts["foliage_wires"] = tuple(FoliageWire(**w) for w in said["foliage_wires"])
    parts["spares_pct"] = tuple((i, p) for i, p in said["spares_pct"])
    return Trellis(**said | parts)


def water_fields(water: Water | None) -> dict | None:
    """Water as JSON values."""
    if water is None:
        return None
    said = dataclasses.asdict(water)
    said["demand"]["planting"] = _day_said(water.demand.planting)
    return said


def water_from(said: dict | None) -> Water | None:
    """Water of JSON values."""
    if said is None:
        return None
    demand = said["demand"]
    return Water(
        tuple(
            (name, Drip(**d | {"line_m": tuple(tuple(p) for p in d["line_m"])}))
            for name, d in said["drips"]
        ),
        Source(**said["source"]),
        tuple(tuple(p) for p in said["pipes_mm"]),
        Climate(**said["climate"]),
        Demand(
            **demand
            | {
                "planting": _day_from(demand["planting"]),
                "shaded_pct": tuple(demand["shaded_pct"]),
            }
        ),
    )


def _day_said(day: datetime.date | None) -> str | None:
    return day.isoformat() if day else None


def _day_from(text: str | None) -> datetime.date | None:
    return datetime.date.fromisoformat(text) if text else None
