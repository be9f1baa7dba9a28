"""compare.json: candidates with every measure, for programs."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np

from ..core.compare.catalogue import MEASURES
from .compareset import CompareSet, plain_number, records, used_rules
from .summary import finding_facts, frame_facts, survey_facts


def compare_facts(compare: CompareSet) -> dict:
    """All of a comparison as plain values; a measure that is not known is left out."""
    study = compare.study
    return {
        "project": compare.project.name,
        "revision": compare.revision,
        "statement": compare.statement,
        "base": study.base,
        "chosen": list(study.chosen),
        "candidates": [_candidate(compare, i, record) for i, record in enumerate(records(compare))],
        "best": {name: np.flatnonzero(which).tolist() for name, which in compare.best.items()},
        "beaten_by": [int(b) if b >= 0 else None for b in compare.beaten],
        "measures": {
            m.name: {
                "label": m.label,
                "unit": m.unit,
                "better": m.better or None,
                "needs": m.needs or None,
                "definition": m.definition,
            }
            for m in MEASURES.values()
        },
        "curves": _curves(compare),
        "limits": {
            "short_row_m": study.short_row_m,
            "grade_along_pct": study.grade_along_pct,
            "grade_across_pct": study.grade_across_pct,
            "machine_length_m": study.machine_length_m,
            "machine_width_m": study.machine_width_m,
        },
        "terrain": compare.terrain,
        "sun": compare.sun,
        "wind_from_deg": study.wind_from_deg,
        "prices": {
            "end_assembly": study.prices.end_assembly,
            "line_post": study.prices.line_post,
            "currency": study.prices.currency,
        },
        "site": {
            "blocks": [b.name for b in study.blocks_of(compare.project.blocks)],
            "frame": frame_facts(compare.project.site.frame),
            "survey": survey_facts(compare.survey),
        },
        "notes": list(compare.notes),
        "findings": [finding_facts(f) for f in compare.findings],
        "cautions": list(compare.cautions),
    }


def _candidate(compare: CompareSet, index: int, record: dict) -> dict:
    """Names of COLUMNS, then the rules of each block; measures that are not known are left out."""
    kept = {
        key: value
        for key, value in record.items()
        if value is not None or (key not in MEASURES and key != "beaten_by")
    }
    kept.pop("beaten_by", None)  # told by number beside the candidates
    if not record["problem"]:
        kept.pop("problem")
    kept["changes"] = compare.candidates[index].changes
    kept["blocks"] = [
        {
            "block": plan.block.name,
            **used_rules(plan),
            "rows": plan.n_rows,
            "segments": plan.n_segments,
            "vines": plan.n_vines,
            "end_posts": len(plan.end_posts),
            "row_length_m": plan.row_length_m,
        }
        for plan in compare.plans[index]
    ]
    return kept


def _curves(compare: CompareSet) -> dict | None:
    if not len(compare.bearings_deg):
        return None
    return {
        "bearing_deg": compare.bearings_deg.tolist(),
        **{
            name: [plain_number(name, v) for v in curve]
            for name, curve in compare.curves.items()
            if name in MEASURES
        },
    }


def compare_text(compare: CompareSet) -> str:
    """compare.json, word for word."""
    return json.dumps(compare_facts(compare), ensure_ascii=False, indent=2, allow_nan=False) + "\n"


def write_compare_json(path, compare: CompareSet) -> None:
    """Write compare.json."""
    Path(path).write_text(compare_text(compare), encoding="utf-8")
