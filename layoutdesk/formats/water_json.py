"""water.json: a drip system's uniformity, source, sets, run times, parts and findings, for programs."""

from __future__ import annotations

import dataclasses
import datetime
import json
import math
from pathlib import Path

import numpy as np

from ..core.water.design import PipeRun, WaterSet
from ..core.water.emitters import kpa_of_head
from ..core.water.judgement import DU_CLASSES, EU_CLASSES
from .summary import finding_facts, frame_facts, survey_facts
from .waterset import WaterFiles


def water_facts(water: WaterFiles) -> dict:
    """All of a drip system as plain values in SI; None where something is not known."""
    design, judgement = water.design, water.judgement
    lines = design.lines
    return {
        "project": water.project.name,
        "revision": water.revision,
        "statement": water.statement,
        "uniformity": {
            "eu_pct": _number(judgement.eu_pct, 3),
            "eu_class": judgement.eu_class or None,
            "eu_class_source": EU_CLASSES[0].source,
            "eu_usual_for_design_pct": list(judgement.eu_target_pct),
            "du_pct": _number(judgement.du_pct, 3),
            "du_class": judgement.du_class or None,
            "du_class_source": DU_CLASSES[0].source,
        },
        "source": _source(water),
        "laterals": {
            "count": len(lines.laterals),
            "outlets": len(lines.laterals.outlet_m),
            "length_m": _number(lines.length_m.sum(), 2),
            "longest_m": _number(lines.length_m.max(initial=0.0), 2),
            "solved": bool(design.flow.converged.all()),
            "heights_known": bool(lines.heights_known),
        },
        "vines": _vines(water),
        "sets": [_set(water, k) for k in range(len(design.sets))],
        "blocks": [_block(water, b) for b in range(len(design.blocks))],
        "run_times": _run_times(water),
        "parts": [
            {
                "block": p.block or None,
                "item": p.product.item,
                "size": list(p.product.size),
                "amount": _number(p.amount, 3) if p.unit == "m" else round(p.amount),
                "unit": p.unit,
            }
            for p in water.parts
        ],
        "sentences": list(judgement.sentences),
        "worst": [_stretch(s) for s in judgement.worst],
        "findings": [finding_facts(f) for f in water.findings],
        "assumed": list(water.assumed),
        "notes": list(water.notes),
        "cautions": list(water.cautions),
        "terrain": water.terrain or None,
        "site": {
            "frame": frame_facts(water.project.site.frame),
            "survey": survey_facts(water.survey),
        },
    }


def _source(water: WaterFiles) -> dict:
    """What the source gives, and the most that any set asks of it."""
    design = water.design
    source, sets = design.water.source, design.sets
    east_north = water.to_survey(np.array([design.source_xy_m], dtype=float))[0].tolist()
    flow = max((s.source_flow_m3_h for s in sets), default=None)
    head = max((s.source_head_m for s in sets), default=None)
    return {
        "flow_m3_h": _number(flow, 4),
        "head_m": _number(head, 4),
        "pressure_kpa": _number(None if head is None else kpa_of_head(head), 3),
        "is_assumed": source.is_assumed,
        "curve_m3_h_m": [list(pair) for pair in source.curve],
        "losses_m": source.losses_m,
        "hours_a_day": source.hours_a_day,
        "northing": round(east_north[1], 4),
        "easting": round(east_north[0], 4),
        "place_is_assumed": source.place_m is None,
        "level_m": _number(design.source_height_m, 3),
        "serves_all_sets": all(s.is_served for s in sets),
    }


def _vines(water: WaterFiles) -> dict:
    flow, head = water.design.vine_flow_l_h, water.design.vine_head_m
    if not len(flow):
        return {"count": 0}
    return {
        "count": len(flow),
        "least_l_h": _number(flow.min(), 4),
        "mean_l_h": _number(flow.mean(), 4),
        "greatest_l_h": _number(flow.max(), 4),
        "least_kpa": _number(kpa_of_head(head.min()), 3),
        "greatest_kpa": _number(kpa_of_head(head.max()), 3),
        "without_water": int((flow <= 0).sum()),
    }


def _set(water: WaterFiles, k: int) -> dict:
    design, times = water.design, water.run_times
    one: WaterSet = design.sets[k]
    east_north = water.to_survey(np.array([one.valve_xy_m], dtype=float))[0].tolist()
    return {
        "set": one.number,
        "block": design.blocks[one.block],
        "rows": water.set_rows[k].rows if water.set_rows else None,
        "laterals": [water.lateral_codes[i] for i in one.laterals.tolist()],
        "vines": water.vines_of(one),
        "flow_m3_h": _number(one.flow_m3_h, 4),
        "head_m": _number(one.head_m, 4),
        "source_head_m": _number(one.source_head_m, 4),
        "available_head_m": _number(one.available_head_m, 4),
        "served": one.is_served,
        "eu_pct": _number(one.eu_pct, 3),
        "du_pct": _number(one.du_pct, 3),
        "variation_pct": _number(one.variation_pct, 3),
        "least_l_h": _number(one.least_l_h, 4),
        "mean_l_h": _number(one.mean_l_h, 4),
        "greatest_l_h": _number(one.greatest_l_h, 4),
        "flushing_m3_h": _number(one.flushing_m3_h, 4),
        "surge_m": _number(one.surge_m, 2),
        "valve": {
            "northing": round(east_north[1], 4),
            "easting": round(east_north[0], 4),
            "height_m": _number(one.valve_height_m, 3),
        },
        "submains": [pipe for branch in one.branches for pipe in _pipes(branch)],
        "main": _pipes(one.main),
        "wetting_h": _number(times.wetting_h[k], 3),
        "first_watering_h": _number(times.first_h[k], 3),
        "weekly_h": [_number(h, 3) for h in times.hours[:, k].tolist()],
    }


def _pipes(run: PipeRun) -> list[dict]:
    """Pieces of one size together, in the direction water takes."""
    cuts = np.flatnonzero(np.diff(run.outer_mm) != 0) + 1
    return [
        {
            "outer_mm": float(run.outer_mm[some[0]]),
            "inner_mm": float(run.inner_mm[some[0]]),
            "length_m": _number(run.length_m[some].sum(), 3),
            "loss_m": _number(run.loss_m[some].sum(), 4),
            "greatest_m3_h": _number(run.flow_m3_h[some].max(), 4),
            "greatest_velocity_m_s": _number(run.velocity_m_s[some].max(), 4),
        }
        for some in np.split(np.arange(len(run.length_m)), cuts)
        if len(some)
    ]


def _block(water: WaterFiles, b: int) -> dict:
    """A block's drip system as it was used, and whether it is the usual one."""
    design, name = water.design, water.design.blocks[b]
    drip = dataclasses.asdict(design.water.drip_of(name))
    drip["line_m"] = [list(p) for p in drip["line_m"]] if drip["fed"] == "line" else None
    return {
        "block": name,
        "vines": water.plans[b].n_vines,
        "area_per_vine_m2": _number(design.area_per_vine_m2[b], 4),
        "is_usual": name not in dict(design.water.drips),
        "drip": drip,
    }


def _run_times(water: WaterFiles) -> dict:
    times, demand = water.run_times, water.design.water.demand
    planting = (
        times.weeks[0].astype("datetime64[D]").astype(datetime.date) if len(times.weeks) else None
    )

    def figures(values, decimals=3):
        return [_number(v, decimals) for v in np.asarray(values).tolist()]

    return {
        "planting": planting.isoformat() if planting else None,
        "days_a_week": times.days_a_week,
        "climate_is_assumed": times.is_assumed,
        "statement": times.statement,
        "most_hours_a_day": _number(times.most_hours_a_day, 3),
        "wetting_h": _number(np.nansum(times.wetting_h), 3),
        "soil": demand.soil,
        "first_watering_l": demand.first_watering_l,
        "weeks": [str(w) for w in times.weeks.astype("datetime64[D]")],
        "year": times.year.tolist(),
        "et0_mm": figures(times.et0_mm),
        "rain_mm": figures(times.rain_mm),
        "shaded_pct": figures(times.shaded_pct),
        "crop_coefficient": figures(times.kc, 4),
        "need_mm": figures(times.need_mm),
        "vine_l": {name: figures(times.vine_l[:, b]) for b, name in enumerate(water.design.blocks)},
    }


def _stretch(stretch) -> dict:
    facts = {f.name: getattr(stretch, f.name) for f in dataclasses.fields(stretch)}
    facts.pop("lateral")
    facts["share_pct"] = _number(facts["share_pct"], 2)
    facts["place"] = list(facts["place"])
    return facts


def _number(value, decimals: int):
    """A plain number; None where it is not known."""
    if value is None:
        return None
    value = float(value)
    return round(value, decimals) + 0.0 if math.isfinite(value) else None


def water_json(water: WaterFiles) -> str:
    """water.json, word for word."""
    return json.dumps(water_facts(water), ensure_ascii=False, indent=2, allow_nan=False) + "\n"


def write_water_json(path, water: WaterFiles) -> None:
    """Write water.json."""
    Path(path).write_text(water_json(water), encoding="utf-8")
