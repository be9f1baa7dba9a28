"""The project's rules and records as one versioned JSON document, geometry aside."""

from __future__ import annotations

import dataclasses
import datetime

import shapely

from ..core.model import (
    Alley,
    Backdrop,
    Block,
    Candidate,
    Canopy,
    EdgeWidth,
    Exclusion,
    Finding,
    Guide,
    InputProblem,
    Override,
    Prices,
    Project,
    RowRules,
    Season,
    Site,
    SiteFrame,
    Study,
    Terrain,
)
from .document_handoff import hand_off_fields, hand_off_from
from .document_parts import materials_fields, materials_from, water_fields, water_from
from .document_planting import planting_fields, planting_from

VERSION = 6
"""Raised with every change that an older program could not read."""


def document_of(project: Project) -> dict:
    """Everything of a project but its geometries, as JSON values."""
    return {
        "version": VERSION,
        "name": project.name,
        "day": project.day.isoformat() if project.day else None,
        "site": {
            "frame": _fields(project.site.frame),
            "source_crs": project.site.source_crs,
            "survey_crs": project.site.survey_crs,
            "source": project.site.source,
            "findings": [_fields(f) for f in project.site.findings],
        },
        "blocks": [
            {
                "name": b.name,
                "rules": _fields(b.rules) | {"alleys": [_fields(a) for a in b.rules.alleys]},
                "edge_widths": [_fields(w) for w in b.edge_widths],
                "overrides": [_fields(o) for o in b.overrides],
                "guide": _guide_fields(b.guide),
                "common": b.common,
            }
            for b in project.blocks
        ],
        "exclusions": [
            {"name": e.name, "kind": e.kind, "clearance_m": e.clearance_m}
            for e in project.exclusions
        ],
        "backdrop": _fields(project.backdrop) if project.backdrop else None,
        "terrain": _fields(project.terrain) if project.terrain else None,
        "study": dataclasses.asdict(project.study) if project.study else None,
        "materials": materials_fields(project.materials),
        "water": water_fields(project.water),
        "planting": planting_fields(project.planting),
        "hand_off": hand_off_fields(project.hand_off),
    }


def _study_from(said: dict | None) -> Study | None:
    if said is None:
        return None
    parts = {
        "candidates": tuple(Candidate(**c) for c in said["candidates"]),
        "blocks": tuple(said["blocks"]),
        "chosen": tuple(said["chosen"]),
        "canopy": Canopy(**said["canopy"]),
        "season": Season(**said["season"]),
        "prices": Prices(**said["prices"]),
    }
    return Study(**said | parts)


def _guide_fields(guide: Guide | None) -> dict | None:
    if guide is None:
        return None
    return {"points_m": [list(p) for p in guide.points_m], "smooth": guide.smooth}


def _guide_from(said: dict | None) -> Guide | None:
    return said and Guide(tuple(tuple(p) for p in said["points_m"]), said["smooth"])


def project_from(document: dict, outlines, exclusions) -> Project:
    """The project of a document and its geometries, which come in the document's order.

    Raises
    ------
    InputProblem
        Where a newer program wrote the document, or parts are missing.
    """
    version = document["version"]
    if version > VERSION:
        raise InputProblem(
            f"The project was saved by a newer program (document version {version}; this one reads up "
            f"to {VERSION}): update Layout Desk to open it."
        )
    document = _migrated(document)
    if len(outlines) != len(document["blocks"]) or len(exclusions) != len(document["exclusions"]):
        raise InputProblem(
            "The project's outlines or exclusions do not match its rules: another program added or "
            "removed some; open a copy saved by Layout Desk."
        )
    site = document["site"]
    return Project(
        document["name"],
        Site(
            SiteFrame(**site["frame"]),
            site["source_crs"],
            site["survey_crs"],
            site["source"],
            tuple(
                Finding(**f | {k: tuple(f[k]) if f[k] is not None else None for k in _TUPLES})
                for f in site["findings"]
            ),
        ),
        tuple(
            Block(
                b["name"],
                outline,
                RowRules(
                    **b["rules"] | {"alleys": tuple(Alley(**a) for a in b["rules"]["alleys"])}
                ),
                tuple(EdgeWidth(**w) for w in b["edge_widths"]),
                tuple(Override(**o) for o in b["overrides"]),
                _guide_from(b["guide"]),
                b["common"],
            )
            for b, outline in zip(document["blocks"], outlines, strict=True)
        ),
        tuple(
            Exclusion(shape, e["clearance_m"], e["name"], e["kind"])
            for e, shape in zip(document["exclusions"], exclusions, strict=True)
        ),
        datetime.date.fromisoformat(document["day"]) if document["day"] else None,
        Backdrop(**document["backdrop"]) if document["backdrop"] else None,
        Terrain(**document["terrain"]) if document["terrain"] else None,
        _study_from(document["study"]),
        materials_from(document["materials"]),
        water_from(document["water"]),
        planting_from(document["planting"]),
        hand_off=hand_off_from(document["hand_off"]),
    )


_TUPLES = ("place", "lengths_m")


def _fields(value) -> dict:
    return {
        f.name: getattr(value, f.name)
        for f in dataclasses.fields(value)
        if not isinstance(getattr(value, f.name), shapely.Geometry)
    }


def _from_1(document: dict) -> dict:
    """Version 2 knows special rows and vines, guide lines, common rules and a backdrop."""
    fresh = {"overrides": [], "guide": None, "common": False}
    blocks = [b | fresh for b in document["blocks"]]
    return document | {"version": 2, "blocks": blocks, "backdrop": None}


def _from_2(document: dict) -> dict:
    """Version 3 knows the heights of the ground and a study of candidates."""
    return document | {"version": 3, "terrain": None, "study": None}


def _from_3(document: dict) -> dict:
    """Version 4 knows trellises, what is ordered, and water."""
    return document | {"version": 4, "materials": None, "water": None}


def _from_4(document: dict) -> dict:
    """Version 5 knows planting; the register has tables of its own."""
    return document | {"version": 5, "planting": None}


def _from_5(document: dict) -> dict:
    """Version 6 knows the hand-off, and ends of rows that stand where they were measured."""
    return document | {"version": 6, "hand_off": None}


_MIGRATIONS: dict = {1: _from_1, 2: _from_2, 3: _from_3, 4: _from_4, 5: _from_5}
"""From each older version, the function that makes the next version's document."""


def _migrated(document: dict) -> dict:
    while document["version"] < VERSION:
        document = _MIGRATIONS[document["version"]](document)
    return document
