"""Planting of a project as JSON values, and back; the register has tables of its own."""

from __future__ import annotations

import dataclasses
import datetime

from ..core.model import (
    Assignment,
    Crew,
    Inspecting,
    Lot,
    Part,
    Plant,
    Planting,
    Setting,
    Tag,
    TitleBlock,
    Years,
)

_DAYS = ("grafted", "potted", "came", "recorded", "day")


def planting_fields(planting: Planting | None) -> dict | None:
    """Planting as JSON values."""
    return None if planting is None else json_values(dataclasses.asdict(planting))


def json_values(value):
    """Days as text, tuples as lists, all the way down."""
    if isinstance(value, dict):
        return {key: json_values(v) for key, v in value.items()}
    if isinstance(value, list | tuple):
        return [json_values(v) for v in value]
    return value.isoformat() if isinstance(value, datetime.date) else value


def planting_from(said: dict | None) -> Planting | None:
    """Planting of JSON values."""
    if said is None:
        return None
    years = said["years"]
    return Planting(
        tuple(lot_from(lot) for lot in said["lots"]),
        tuple(Tag(**_with_days(tag)) for tag in said["tags"]),
        tuple(_assignment_from(a) for a in said["assignments"]),
        Setting(**said["setting"]),
        Crew(
            **said["crew"]
            | {
                "weekdays_off": tuple(said["crew"]["weekdays_off"]),
                "days_off": _days(said["crew"]["days_off"]),
                "missed": _days(said["crew"]["missed"]),
            }
        ),
        Inspecting(**said["inspecting"]),
        Years(
            **years
            | {
                "shares_pct": tuple(years["shares_pct"]),
                "per_h": tuple((task, rate) for task, rate in years["per_h"]),
            }
        ),
        TitleBlock(**said["title"]),
    )


def lot_from(said: dict) -> Lot:
    """A lot of JSON values."""
    parts = {"plant": Plant(**said["plant"]), "attachments": tuple(said["attachments"])}
    return Lot(**_with_days(said) | parts)


def _assignment_from(said: dict) -> Assignment:
    parts = tuple(Part(**p) for p in said["parts"])
    return Assignment(**_with_days(said) | {"parts": parts, "plant": Plant(**said["plant"])})


def _with_days(said: dict) -> dict:
    return said | {k: _day(said[k]) for k in _DAYS if k in said}


def _days(texts) -> tuple[datetime.date, ...]:
    return tuple(datetime.date.fromisoformat(text) for text in texts)


def _day(text: str | None) -> datetime.date | None:
    return datetime.date.fromisoformat(text) if text else None
