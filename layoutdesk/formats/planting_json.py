"""planting.json: lots, need, assignments, days, sample, results, register, first years, for programs."""

from __future__ import annotations

import dataclasses
import datetime
import json
import math
from pathlib import Path

import numpy as np

from ..core.layout.numbering import INDEX_DIGITS, MARK_LETTER, segment_code
from ..core.model.planting import Lot, Plant
from ..core.model.register import STATES
from ..core.planting.days import Run, person_hours_a_vine, vines_a_day
from ..core.planting.on_record import codes_on_record
from ..core.planting.survival import Tally
from .plantingset import PlantingSet
from .summary import finding_facts, frame_facts, survey_facts


def planting_facts(found: PlantingSet) -> dict:
    """All of a site's planting as plain values in SI; None where something is not known.

    Vines are told by their codes, days in ISO 8601.
    """
    codes = VineCodes(found)
    planting, project = found.assigned.planting, found.project
    plant = found.assigned.plant
    return {
        "project": project.name,
        "revision": found.revision,
        "plan": found.plan_mark,
        "begins": _plain(found.begins),
        "vines": {
            "count": len(plant),
            "with_plant": int((plant >= 0).sum()),
            "with_lot": int((found.assigned.lot >= 0).sum()),
        },
        "needs": [_need(need) for need in found.needs],
        "lots": [_lot(use) for use in found.uses],
        "tags": [_plain(tag) for tag in planting.tags],
        "assignments": _assignments(found),
        "setting": _plain(planting.setting),
        "crew": _plain(planting.crew)
        | {
            "person_hours_a_vine": _number(person_hours_a_vine(planting.crew), 6),
            "vines_a_day": vines_a_day(planting.crew),
        },
        "days": _days(found, codes),
        "inspecting": _plain(planting.inspecting),
        "sample": _sample(found, codes),
        "inspection": _inspection(found),
        "record": _record(found),
        "survival": _survival(found),
        "years": _plain(planting.years),
        "first_years": _first_years(found),
        "title": _plain(planting.title),
        "findings": [finding_facts(f) for f in found.findings],
        "missing": list(found.missing),
        "notes": list(found.notes),
        "cautions": list(found.cautions),
        "site": {
            "frame": frame_facts(project.site.frame),
            "survey": survey_facts(found.survey),
        },
    }


class VineCodes:
    """Codes of segments and vines of all plans."""

    def __init__(self, found: PlantingSet):
        self._segments = [
            segment_code(plan.block.name, number, letter)
            for plan in found.plans
            for number, letter in zip(
                plan.segments.number.tolist(), plan.segments.letter.tolist(), strict=True
            )
        ]
        self._before = np.cumsum([0, *(plan.n_segments for plan in found.plans)])
        self._segment, self._index = found.assigned.segment, found.assigned.index

    def segment(self, plan: int, segment: int) -> str:
        """Code of a segment within its plan."""
        return self._segments[self._before[plan] + segment]

    def vine(self, plan: int, segment: int, index: int) -> str:
        """Code of a vine of a segment."""
        return _vine_code(self.segment(plan, segment), index)

    def vines(self, vines: np.ndarray) -> list[str]:
        """Codes of vines, counted as in `Assigned`."""
        pairs = zip(self._segment[vines].tolist(), self._index[vines].tolist(), strict=True)
        return [_vine_code(self._segments[s], i) for s, i in pairs]


def _vine_code(segment: str, index: int) -> str:
    return f"{segment}-{MARK_LETTER['vine']}{index:0{INDEX_DIGITS['vine']}d}"


def _need(need) -> dict:
    facts = _plain(need) | {"wanted": need.wanted, "vines_by_use": dict(need.vines_by_use)}
    return _with_plant(facts, need.plant)


def _lot(use) -> dict:
    lot: Lot = use.lot
    facts = _plain(lot) | {"usable": lot.usable}
    told = {f.name: _plain(getattr(use, f.name)) for f in dataclasses.fields(use)}
    told.pop("lot")
    return _with_plant(facts, lot.plant) | told


def _with_plant(facts: dict, plant: Plant) -> dict:
    return facts | {"plant": _plain(plant), "words": str(plant)}


def _assignments(found: PlantingSet) -> list[dict]:
    planting = found.assigned.planting
    holds = found.assigned.assignment
    counts = np.bincount(holds[holds >= 0], minlength=len(planting.assignments))
    return [
        _plain(said) | {"number": i + 1, "where": words, "vines": int(counts[i])}
        for i, (said, words) in enumerate(zip(planting.assignments, found.parts_said, strict=True))
    ]


def _days(found: PlantingSet, codes: VineCodes) -> dict | None:
    days = found.days
    if days is None:
        return None
    return {
        "vines": days.vines,
        "unassigned": days.unassigned,
        "person_hours": _number(days.person_hours, 3),
        "days": [
            {
                "number": day.number,
                "day": _plain(day.day),
                "vines": day.vines,
                "hours": {task: _number(hours, 3) for task, hours in day.hours},
                "crew_hours": _number(day.crew_hours, 3),
                "wet_on": _plain(day.wet_on),
                "sets": list(day.sets),
                "daylight_h": _number(day.light_h, 2),
                "waits": list(day.waits),
                "runs": [_run(found, codes, run) for run in day.runs],
            }
            for day in days.days
        ],
    }


def _run(found: PlantingSet, codes: VineCodes, run: Run) -> dict:
    lots = found.assigned.planting.lots
    return {
        "segment": codes.segment(run.plan, run.segment),
        "first": codes.vine(run.plan, run.segment, run.first),
        "last": codes.vine(run.plan, run.segment, run.last),
        "vines": run.vines,
        "lot": lots[run.lot].name if run.lot >= 0 else None,
        "plant": str(found.assigned.plants[run.plant]) if run.plant >= 0 else None,
        "trays": run.trays,
        "tray_end": run.tray_end,
    }


def _sample(found: PlantingSet, codes: VineCodes) -> list[dict]:
    sample = found.sample
    told = []
    for i, (name, plan, printed) in enumerate(
        zip(sample.lots, sample.plans, sample.printed, strict=True)
    ):
        mine = np.flatnonzero(sample.lot == i)
        told.append(
            {
                "lot": name or None,
                **_plain(plan),
                "found_out_pct": _number(plan.found_out_pct, 4),
                "printed": None if printed is None else _plain(printed),
                "codes": codes.vines(sample.vines[mine]),
                "sheets": (sample.sheet[mine] + 1).tolist(),
            }
        )
    return told


def _tally(tally: Tally) -> dict:
    return {
        "name": tally.name or None,
        "size": tally.size,
        "faulty": tally.faulty,
        "share_pct": _number(tally.share_pct, 4) if tally.size else None,
        "low_pct": _number(tally.low_pct, 4),
        "high_pct": _number(tally.high_pct, 4),
        "items": dict(tally.items),
    }


def _inspection(found: PlantingSet) -> dict | None:
    result = found.result
    if result is None:
        return None
    register = found.standing.register
    return {
        "confidence_of_bounds_pct": 95.0,
        "by_lot": [_tally(t) for t in result.by_lot],
        "by_row": [_tally(t) for t in result.by_row],
        "accepted": [{"lot": name or None, "accepted": yes} for name, yes in result.accepted],
        "rework": [
            {
                "row": r.row,
                "why": r.why,
                "codes": codes_on_record(register, list(r.places), today=True),
            }
            for r in result.rework
        ],
    }


def _record(found: PlantingSet) -> dict | None:
    now = found.standing
    if now is None:
        return None
    register, match = now.register, found.matching
    counts = np.bincount(now.state, minlength=len(STATES))
    return {
        "mark": register.mark,
        "entries": len(register.batches),
        "events": len(register.events),
        "positions": len(register.stand),
        "states": dict(zip(STATES, counts.tolist(), strict=True)),
        "vines_of_the_plan_on_record": int((match.place >= 0).sum()),
        "broken_at": register.broken_at,
    }


def _survival(found: PlantingSet) -> dict | None:
    lost = found.survival
    if lost is None:
        return None
    register = found.standing.register
    return {
        "confidence_of_bounds_pct": 95.0,
        "site": _tally(lost.site),
        "by_lot": [_tally(t) for t in lost.by_lot],
        "by_row": [_tally(t) for t in lost.by_row],
        "by_cause": dict(lost.by_cause),
        "causes": [_tally(t) for t in lost.causes],
        "replacement_pct": _number(lost.replacement_pct, 4),
        "replant": [
            {
                "lot": line.lot or None,
                "plant": str(line.plant),
                "vines": len(line.places),
                "order": line.order,
                "codes": codes_on_record(register, line.places, today=True),
            }
            for line in lost.replant
        ],
    }


def _first_years(found: PlantingSet) -> dict | None:
    years = found.years
    if years is None:
        return None
    return {
        "planted": _plain(years.planted),
        "vines": years.vines,
        "duties": [_plain(duty) for duty in years.duties],
        "crops": [_plain(crop) for crop in years.crops],
        "labour": [
            {"year": year, "task": task, "person_hours": _number(hours, 3)}
            for year, task, hours in years.labour
        ],
        "spans": [[_plain(first), _plain(last)] for first, last in years.spans],
        "counting": list(years.counting_words),
        "notes": list(years.notes),
        "cautions": list(years.cautions),
    }


def _plain(value):
    """Frozen values, days and numbers as JSON has them."""
    if dataclasses.is_dataclass(value):
        return {f.name: _plain(getattr(value, f.name)) for f in dataclasses.fields(value)}
    if isinstance(value, datetime.date):
        return value.isoformat()
    if isinstance(value, tuple | list):
        return [_plain(v) for v in value]
    if isinstance(value, np.generic):
        value = value.item()
    return _number(value, 6) if isinstance(value, float) else value


def _number(value, decimals: int):
    """A number rounded, None for what is none."""
    if value is None or not math.isfinite(value):
        return None
    return round(float(value), decimals)


def planting_json(found: PlantingSet) -> str:
    """The facts as JSON text."""
    return json.dumps(planting_facts(found), ensure_ascii=False, indent=2, allow_nan=False) + "\n"


def write_planting_json(path, found: PlantingSet) -> None:
    """Write planting.json."""
    Path(path).write_text(planting_json(found), encoding="utf-8")
