"""as-staked.json: a check of measured points for programs, in SI."""

from __future__ import annotations

import dataclasses
import json
import math
from pathlib import Path

import numpy as np

from .stakedset import StakedSet
from .summary import finding_facts, frame_facts, survey_facts

_LISTED = 1000


def staked_facts(staked: StakedSet) -> dict:
    """All figures of a check as plain values; None where something is not known."""
    hand = staked.project.hand_off
    placing = staked.placing
    return {
        "project": staked.project.name,
        "revision": staked.revision,
        "plan": staked.plan,
        "day": staked.day.isoformat(),
        "file": staked.file,
        "file_sha256_begins": staked.checksum,
        "read": staked.read_said,
        "matched_by": staked.way,
        "counts": {
            "measured": len(staked.measured),
            "matched": len(staked.code),
            "beyond_tolerance": int((staked.off.distance_m > staked.tolerance_m).sum()),
            "strange": len(staked.strange),
            "measured_again": len(staked.doubled),
            "not_measured": staked.n_missing,
        },
        "figures": _figures(staked.figures),
        "by_kind": {kind: _figures(f) for kind, f in staked.by_kind},
        "tolerance_m": {
            "posts": _asked(hand, "tolerance_m", 0.03),
            "vines": _asked(hand, "vine_tolerance_m", 0.05),
            "height": _asked(hand, "height_tolerance_m", 0.05),
        },
        "histogram": {
            "edge_m": staked.histogram.edge_m.tolist(),
            "count": staked.histogram.count.tolist(),
        },
        "explanations": [
            {
                "code": e.code,
                "words": e.words,
                "where": list(e.where),
                "amount": _number(e.amount),
                "left_rms_m": _number(e.left_rms_m),
            }
            for e in staked.explanations
        ],
        "worst": _worst(staked),
        "strange": _strange(staked),
        "checks": [_check(c) for c in (hand.checks if hand is not None else ())],
        "coordinates": placing.coordinates,
        "unit": placing.unit,
        "unit_m": placing.unit_m,
        "statement": placing.statement,
        "wgs84_shift": staked.wgs84_shift,
        "frame": frame_facts(staked.project.site.frame),
        "survey": survey_facts(placing.grid),
        "findings": [finding_facts(f) for f in staked.findings],
    }


def staked_json(staked: StakedSet) -> str:
    """The same as text."""
    return json.dumps(staked_facts(staked), ensure_ascii=False, indent=2, allow_nan=False) + "\n"


def write_staked_json(path, staked: StakedSet) -> None:
    """Write it."""
    Path(path).write_text(staked_json(staked), encoding="utf-8", errors="replace")


def _asked(hand, name: str, usual: float) -> float:
    return usual if hand is None else getattr(hand, name)


def _figures(figures) -> dict:
    return {
        k: _number(v) if isinstance(v, float) else v for k, v in dataclasses.asdict(figures).items()
    }


def _number(value) -> float | None:
    return None if value is None or not math.isfinite(value) else round(float(value), 6)


def _worst(staked: StakedSet) -> list[dict]:
    off = staked.off
    beyond = np.flatnonzero(off.distance_m > staked.tolerance_m)
    beyond = beyond[np.argsort(-off.distance_m[beyond], kind="stable")][:_LISTED]
    return [
        {
            "code": staked.code[i],
            "along_m": _number(off.along_m[i]),
            "across_m": _number(off.across_m[i]),
            "height_m": _number(off.height_m[i]),
            "distance_m": _number(off.distance_m[i]),
            "line": int(staked.measured.line[staked.pair[i]]),
        }
        for i in beyond.tolist()
    ]


def _strange(staked: StakedSet) -> list[dict]:
    measured = staked.measured
    return [
        {
            "name": measured.name[i],
            "description": measured.description[i],
            "line": int(measured.line[i]),
            "easting": _number(measured.en_m[i, 0] / staked.placing.unit_m),
            "northing": _number(measured.en_m[i, 1] / staked.placing.unit_m),
        }
        for i in staked.strange[:_LISTED].tolist()
    ]


def _check(check) -> dict:
    return dataclasses.asdict(check) | {"day": check.day.isoformat()}
