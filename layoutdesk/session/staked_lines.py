"""Measured points against the plan as they are read: sentences, the farthest points, rows, explanations, bars."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..core.model.handoff import POINT_KINDS
from ..core.staking.looking_like import small_length
from ..core.staking.residuals import Figures, figures
from .control_lines import signed_length
from .point_words import KIND_WORDS
from .staked import StakedAnswer
from .staked_findings import missing_points
from .tally import grouped
from .units import unit_label, unit_length_m

_LISTED = 500
"""Points and rows that are listed at most."""
_SYSTEMATIC = 3.0
"""A mean this many times its own uncertainty is no accident: one set in 400 would show it."""
_WAYS = {"code": "code", "number": "point number", "place": "place"}
_PLACE_NOTE = (
    "Matched by place, each point with the nearest of the plan, no farther than half the way to another: rows "
    "exchanged or all of it moved by a vine or a row cannot be seen so. Points with codes or numbers can tell."
)
_CAUTIONS = (
    "Boundaries are a licensed surveyor's to set and to move; points of this check prove none.",
    "Locate buried services before a post is driven: the local one-call service; private lines are not marked by it. "
    "Keep posts and machines away from overhead lines: their owner says how far.",
)


@dataclass(frozen=True)
class WorstLine:
    """One point beyond its tolerance; `key` is its code."""

    code: str
    along: str
    across: str
    height: str
    distance: str
    key: str
    flag: str
    told: str


@dataclass(frozen=True)
class StakedRowLine:
    """One row of which points were measured: how many, and means across and along; `key` is the row's code."""

    row: str
    points: str
    across: str
    along: str
    worst: str
    key: str
    flag: str


@dataclass(frozen=True)
class ExplanationLine:
    """One thing that explains what was measured; `key` is the first code it is about, else its own."""

    words: str
    where: str
    amount: str
    key: str
    flag: str


@dataclass(frozen=True)
class HistogramBar:
    """Points between two distances; `is_off` where all of them are beyond the tolerance of posts."""

    label: str
    count: int
    is_off: bool


def worst_lines(answer: StakedAnswer, unit: str = "m") -> tuple[WorstLine, ...]:
    """Points beyond their tolerance, the farthest first; the first 500."""
    return tuple(_worst_line(answer, int(pair), unit) for pair in answer.worst[:_LISTED])


def _worst_line(answer: StakedAnswer, pair: int, unit: str) -> WorstLine:
    off, code = answer.residuals, answer.code(pair)
    along = signed_length(float(off.along_m[pair]), unit)
    across = signed_length(float(off.across_m[pair]), unit)
    height = _height(float(off.height_m[pair]), unit)
    distance = shown_small(float(off.distance_m[pair]), unit)
    tolerance = shown_small(float(answer.tolerance_m[pair]), unit)
    ways = _ways_told(answer, pair, unit)
    told = f"{code}: {distance} from the plan, {ways}; {tolerance} is asked for."
    return WorstLine(code, along, across, height, distance, code, "caution", told)


def _ways_told(answer: StakedAnswer, pair: int, unit: str) -> str:
    off = answer.residuals
    pairs = answer.matched
    in_row = pairs.points.owner[pairs.planned[pair]] < answer.hand.points.owners.n_segments
    words = (("too far on", "short of it"), ("to the right", "to the left"))
    if not in_row:
        words = (("to the north", "to the south"), ("to the east", "to the west"))
    told = []
    for value, (plus, minus) in zip((off.along_m[pair], off.across_m[pair]), words, strict=True):
        told.append(f"{shown_small(abs(float(value)), unit)} {plus if value >= 0 else minus}")
    return " and ".join(told)


def staked_row_lines(answer: StakedAnswer, unit: str = "m") -> tuple[StakedRowLine, ...]:
    """Rows of which any point was measured, those with points beyond tolerance first, then as they are numbered."""
    row = _row_of_pairs(answer)
    in_row = np.flatnonzero(row >= 0)
    if not len(in_row):
        return ()
    rows, inverse, count = np.unique(row[in_row], return_inverse=True, return_counts=True)
    off = answer.residuals
    distance = off.distance_m[in_row]
    across = np.bincount(inverse, off.across_m[in_row]) / count
    along = np.bincount(inverse, off.along_m[in_row]) / count
    worst = np.zeros(len(rows))
    np.maximum.at(worst, inverse, distance)
    beyond = np.bincount(inverse, distance > answer.tolerance_m[in_row], minlength=len(rows))
    order = np.lexsort((rows, -np.where(beyond > 0, worst, 0.0)))
    codes = answer.hand.points.owners.code
    return tuple(
        StakedRowLine(
            codes[rows[i]],
            grouped(int(count[i])),
            signed_length(float(across[i]), unit),
            signed_length(float(along[i]), unit),
            shown_small(float(worst[i]), unit),
            codes[rows[i]],
            "caution" if beyond[i] else "",
        )
        for i in order[:_LISTED].tolist()
    )


def explanation_lines(answer: StakedAnswer) -> tuple[ExplanationLine, ...]:
    """What went wrong, where it has a name; the most of it first."""
    lines = []
    for e in answer.explanations:
        where = ", ".join(e.where[:6]) + (
            f" and {len(e.where) - 6} more" if len(e.where) > 6 else ""
        )
        mild = e.code in ("point-off", "height-shift", "height-unit")
        key = e.where[0] if e.where else e.code
        lines.append(
            ExplanationLine(
                e.words, where or "all of it", _amount(e.code, e.amount), key,
                "caution" if mild else "wrong",
            )
        )  # fmt: skip
    return tuple(lines)


def _amount(code: str, amount: float | None) -> str:
    """What was found, with the unit of its kind."""
    if amount is None or not math.isfinite(amount) or code == "axes-swapped":
        return ""
    if code.startswith("bearing") or code == "turn":
        return f"{amount:+.4f}°".replace("-", "−")
    if code in ("survey-foot", "grid-as-ground", "scale"):
        return f"{amount:+.1f} ppm".replace("-", "−")
    if code in ("feet-as-metres", "height-unit"):
        return f"× {1 + amount / 1e6 if code == 'feet-as-metres' else amount:.4g}"
    if code in ("shift", "height-shift", "point-off"):
        return f"{amount:.3f} m"
    return f"{amount:g} {'row' if abs(amount) == 1 else 'rows'}"


def histogram_bars(answer: StakedAnswer, unit: str = "m") -> tuple[HistogramBar, ...]:
    """Distances from plan to ground, counted; the last bar may hold all that is farther."""
    edge, count = answer.histogram.edge_m, answer.histogram.count
    tolerance_m = answer.hand.hand.tolerance_m
    size_m, name = (0.01, "cm") if unit == "m" else (unit_length_m(unit), unit_label(unit))
    shown = [f"{e / size_m:.4g}" if unit == "m" else f"{e / size_m:.2f}" for e in edge.tolist()]
    step = edge[1] - edge[0]
    return tuple(
        HistogramBar(
            f"{shown[i]}–{shown[i + 1]} {name}"
            if edge[i + 1] - edge[i] < 1.5 * step
            else f"over {shown[i]} {name}",
            int(n),
            bool(edge[i] >= tolerance_m - 1e-9),
        )
        for i, n in enumerate(count.tolist())
    )


def staked_sentences(answer: StakedAnswer, unit: str = "m") -> tuple[str, ...]:
    """The verdict, what explains it first, how points were matched, and what all of them come to."""
    told = [_verdict(answer, unit)]
    if answer.explanations:
        told.append(answer.explanations[0].words)
    told.append(_matched_words(answer))
    some = figures(answer.residuals)
    told.append(
        f"Root mean square {shown_small(some.rms_m, unit)}; 95 of 100 points within {shown_small(some.most_95_m, unit)}; the "
        f"farthest is {answer.code(_farthest(answer))}, {shown_small(some.worst_m, unit)} off."
    )
    told.append(_systematic(answer, some, unit))
    if some.n_heights:
        told.append(_heights(answer, some, unit))
    return tuple(told)


def _farthest(answer: StakedAnswer) -> int:
    return int(np.argmax(answer.residuals.distance_m))


def _verdict(answer: StakedAnswer, unit: str) -> str:
    n, n_off = len(answer.residuals), len(answer.worst)
    asked = _asked(answer, unit)
    if any(f.code == "staked-unmeasured" for f in answer.findings):
        return (
            "Nothing can be said of what stands in the ground: the file holds the plan as it was handed off. Give the "
            "file that came back from the field."
        )
    if any(f.code == "staked-explained" and f.severity == "wrong" for f in answer.findings):
        return (
            f"Do not plant from these points yet: they look like a mistake with a name. {_points(n_off)} of "
            f"{grouped(n)} {_stand(n_off)} farther off than asked for ({asked}). Mend what is told below, and measure again."
        )
    if n_off:
        return (
            f"{_points(n_off)} of {grouped(n)} {_stand(n_off)} farther off than asked for ({asked}). Have "
            f"{'it' if n_off == 1 else 'them'} staked again, or adopt the ends as they stand if they will do."
        )
    return f"All {_points(n)} that were measured stand within tolerance ({asked}): accept them."


def _asked(answer: StakedAnswer, unit: str) -> str:
    hand = answer.hand.hand
    kinds = answer.matched.points.kind[answer.matched.planned]
    vine = kinds == POINT_KINDS.index("vine")
    said = []
    if not vine.all():
        said.append(f"{shown_small(hand.tolerance_m, unit)} at posts")
    if vine.any():
        said.append(f"{shown_small(hand.vine_tolerance_m, unit)} at vines")
    return ", ".join(said)


def _matched_words(answer: StakedAnswer) -> str:
    pairs = answer.matched
    kinds = pairs.points.kind[pairs.planned]
    counts = [(KIND_WORDS[POINT_KINDS[k]], int((kinds == k).sum())) for k in np.unique(kinds)]
    said = ", ".join(f"{grouped(n)} {name}" for name, n in counts)
    told = (
        f"{_points(len(pairs.planned))} of {answer.request.path.name} matched with the plan by {_WAYS[pairs.way]}: "
        f"{said}."
    )
    if len(pairs.doubled):
        n = len(pairs.doubled)
        kept = "the nearest counts" if pairs.way == "place" else "the last counts"
        told += f" {grouped(n)} {'was' if n == 1 else 'were'} measured more than once: {kept}."
    if len(pairs.strange):
        n = len(pairs.strange)
        told += f" {grouped(n)} {'is' if n == 1 else 'are'} no point of the plan."
    n_missing = len(missing_points(answer))
    if n_missing:
        told += f" {_points(n_missing)} of these kinds {'was' if n_missing == 1 else 'were'} not measured."
    return told


def _systematic(answer: StakedAnswer, some: Figures, unit: str) -> str:
    """What all points are off together, and whether that is more than chance."""
    row = _row_of_pairs(answer) >= 0
    of_rows = figures(answer.residuals, row) if row.any() else some
    along, across = of_rows.mean_along_m, of_rows.mean_across_m
    told = (
        f"On average points stand {shown_small(abs(along), unit)} {'beyond' if along >= 0 else 'before'} their place along "
        f"the row, and {shown_small(abs(across), unit)} to the {'right' if across >= 0 else 'left'} of it"
    )
    if not row.any():
        told = (
            f"On average points stand {shown_small(abs(along), unit)} to the {'north' if along >= 0 else 'south'} and "
            f"{shown_small(abs(across), unit)} to the {'east' if across >= 0 else 'west'} of their place"
        )
    off = answer.residuals
    every = row if row.any() else np.ones(len(off), bool)
    n = int(every.sum())
    spread = [float(np.std(v[every])) / math.sqrt(n) for v in (off.along_m, off.across_m)]
    is_more = n >= 5 and any(
        abs(mean) > _SYSTEMATIC * max(s, 1e-4)
        for mean, s in zip((along, across), spread, strict=True)
    )
    return f"{told}{', which is more than chance' if is_more else ''}."


def _heights(answer: StakedAnswer, some: Figures, unit: str) -> str:
    asked = answer.hand.hand.height_tolerance_m
    known = answer.residuals.height_m
    beyond = int((np.abs(known[np.isfinite(known)]) > asked).sum())
    told = (
        f"Heights are known of {_points(some.n_heights)}: {signed_length(some.mean_height_m, unit)} on average, root "
        f"mean square {shown_small(some.rms_height_m, unit)}"
    )
    if beyond:
        return f"{told}; {_points(beyond)} {'is' if beyond == 1 else 'are'} off by more than {shown_small(asked, unit)}."
    return f"{told}, all within {shown_small(asked, unit)}."


def staked_notes(answer: StakedAnswer) -> tuple[str, ...]:
    """How the file was read, what its way of matching cannot see, and cautions."""
    notes = [f"Read as {answer.read_said}. SHA-256 {answer.checksum}."]
    if answer.matched.way == "place":
        notes.append(_PLACE_NOTE)
    notes.append(
        "Plus is farther along the row's bearing, right of the row as it runs, and up. Tolerances are settings of "
        "this site; 3 cm at posts and 5 cm at vines are common practice."
    )
    return (*notes, *_CAUTIONS)


def place_of_key(answer: StakedAnswer, key: str) -> tuple[float, float] | None:
    """Where in the plan lies what a line is about: a point, a row, a block; None for all of it. [m]"""
    pairs, owners = answer.matched, answer.hand.points.owners
    owner = pairs.points.owner[pairs.planned]
    row, _, tail = key.rpartition("-")
    if row in owners.code and tail[1:].isdecimal():
        for pair in np.flatnonzero(owner == owners.code.index(row)).tolist():
            if answer.code(pair) == key:
                return tuple(answer.planned_xy_m[pair].tolist())
    about = [i for i, code in enumerate(owners.code) if _is_part_of(code, key)]
    which = np.flatnonzero(np.isin(owner, about))
    if not len(which):
        return None
    return tuple(answer.planned_xy_m[which].mean(axis=0).tolist())


def _is_part_of(code: str, key: str) -> bool:
    """Whether a segment is a row, or lies in a block: B1-R012A in B1-R012 and in B1."""
    rest = code.removeprefix(key) if code.startswith(key) else None
    return rest is not None and (not rest or rest.startswith("-R") or rest.isalpha())


def _row_of_pairs(answer: StakedAnswer) -> np.ndarray:
    owner = answer.matched.points.owner[answer.matched.planned]
    return np.where(owner < answer.hand.points.owners.n_segments, owner, -1)


def shown_small(metres: float, unit: str) -> str:
    """A small length in people's unit."""
    return small_length(metres, unit_length_m(unit))


def _height(metres: float, unit: str) -> str:
    return signed_length(metres, unit) if math.isfinite(metres) else ""


def _points(n: int) -> str:
    return "1 point" if n == 1 else f"{grouped(n)} points"


def _stand(n: int) -> str:
    return "stands" if n == 1 else "stand"
