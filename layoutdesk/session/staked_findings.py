"""What is to be told of measured points: mistakes with a name, points off, strange and missing ones."""

from __future__ import annotations

import numpy as np

from ..core.model import Finding
from ..core.staking.matching import Measured
from ..formats.handoffset import HandOffSet
from .staked import StakedAnswer, codes_of, taken_points
from .wording import listed

_NAMED = 3
_MILD = ("point-off", "height-shift", "height-unit")
"""Explanations that leave where the other points stand untouched."""
_FAR_M = 5000.0
_WANTED = {
    "": "code of the plan, number of the hand-off, or place near a point of it",
    "code": "code of the plan",
    "number": "number of the hand-off",
    "place": "place near a point of the plan",
}


def nothing_matches(name: str, measured: Measured, hand: HandOffSet, way: str) -> str:
    """Why a file is refused of which no point is one of the plan."""
    placing = hand.placing
    middle = placing.placed(np.zeros((1, 2)))[0] * placing.unit_m
    away = float(np.hypot(*(np.median(measured.en_m, axis=0) - middle)))
    far = f" ({away / 1000:,.0f} km from the site)" if away > _FAR_M else ""
    n = len(measured)
    points = "its only point has no" if n == 1 else f"none of its {n:,} points has a"
    return (
        f"{name} matches nothing of the plan, for {points} {_WANTED[way]}{far}: check the file, its columns, unit and "
        "coordinate system, or how points are matched."
    )


def staked_findings(answer: StakedAnswer, as_written: bool) -> list[Finding]:
    """What is to be told of an answer; `as_written` where its file is a hand-off's own, unchanged."""
    found: list[Finding] = []
    pairs, off, name = answer.matched, answer.residuals, answer.request.path.name
    if as_written:
        found.append(
            Finding(
                "staked-unmeasured",
                f"{name} is a file of a hand-off as this program wrote it: it holds the plan, not what was measured. "
                "Give the file that came back from the field.",
            )
        )
    for explanation in answer.explanations:
        mild = {"severity": "caution"} if explanation.code in _MILD else {}
        where = listed(explanation.where[:_NAMED]) if explanation.where else ""
        found.append(Finding("staked-explained", explanation.words, where, **mild))
    if len(answer.worst):
        first = int(answer.worst[0])
        n = len(answer.worst)
        verb = "stands" if n == 1 else "stand"
        found.append(
            Finding(
                "staked-off",
                wording=f"{_counted(n)} {verb} farther from the plan than the tolerance, the farthest {{}} off.",
                lengths_m=(float(off.distance_m[first]),),
                where=answer.code(first),
                place=tuple(answer.planned_xy_m[first].tolist()),
            )
        )
    if len(pairs.strange):
        n = len(pairs.strange)
        some = ", ".join(_names(answer.measured, pairs.strange))
        found.append(
            Finding(
                "staked-strange",
                f"{_counted(n)} of {name} {'is' if n == 1 else 'are'} no point of the plan: {some}"
                f"{' and more' if n > _NAMED else ''}.",
            )
        )
    missing = missing_points(answer)
    if len(missing):
        n = len(missing)
        some = codes_of(answer.hand.points, taken_points(pairs.points, missing[:_NAMED]))
        found.append(
            Finding(
                "staked-missing",
                f"{_counted(n)} of kinds that were measured {'is' if n == 1 else 'are'} not among them: "
                f"{', '.join(some)}{' and more' if n > _NAMED else ''}.",
            )
        )
    return found


def missing_points(answer: StakedAnswer) -> np.ndarray:
    """Points of the plan that were not measured, of kinds of which any was: indices into `matched.points`."""
    points = answer.matched.points
    there = np.zeros(len(points), bool)
    there[answer.matched.planned] = True
    kinds = np.unique(points.kind[there])
    return np.flatnonzero(~there & np.isin(points.kind, kinds))


def _names(measured: Measured, which: np.ndarray) -> list[str]:
    return [
        measured.description[i] or measured.name[i] or f"line {measured.line[i]}"
        for i in which[:_NAMED].tolist()
    ]


def _counted(n: int) -> str:
    return "1 point" if n == 1 else f"{n:,} points"
