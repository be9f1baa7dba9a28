"""Arrows from plan to ground, to be drawn over the plan."""

from __future__ import annotations

import math

import numpy as np

from .hand_off_drawing import Arrows
from .staked import StakedAnswer
from .staked_lines import shown_small
from .tally import grouped

MOST_ARROWS = 5000
"""Points beyond tolerance first, then some of the others, evenly."""
_LABELLED, _APART = 12, 0.07
"""So many of the farthest ones have their distance beside them, no nearer to each other than this share of the
site's size."""


def staked_arrows(answer: StakedAnswer, unit: str = "m", longest_m: float | None = None) -> Arrows:
    """An arrow for every point beyond its tolerance and a sample of the others, 5,000 at most.

    They are drawn so much longer than they are that the longest is about a row spacing: a round number, and never
    shorter than they are. `longest_m` is drawn instead of a row spacing, for paper.
    """
    off = answer.residuals
    drawn = drawn_pairs(answer)
    beyond = off.distance_m > answer.tolerance_m
    step = off.offset_m[drawn]
    spacing_m = min(plan.rules.row_spacing_m for plan in answer.hand.plans)
    # One point far off is not to make arrows of all others too short to see.
    longest = float(np.quantile(off.distance_m, 0.99)) if len(off) else 0.0
    times = round_times((longest_m or spacing_m) / longest) if longest > 0 else 1.0
    named = _labelled(answer)
    label = tuple(
        shown_small(float(off.distance_m[i]), unit) if i in named else "" for i in drawn.tolist()
    )
    how = f"drawn {times:g} times as long" if times > 1 else "true to scale"
    n_off, n = int(beyond.sum()), len(off)
    within = len(drawn) - min(n_off, len(drawn))
    some = f"; of the others some ({grouped(within)})" if within and len(drawn) < n else ""
    said = f"Arrows from plan to ground, {how}; {grouped(n_off)} of {grouped(n)} beyond tolerance{some}"
    return Arrows(answer.planned_xy_m[drawn], step, times, beyond[drawn], label, said)


def _labelled(answer: StakedAnswer) -> set[int]:
    """Which pairs have words beside them."""
    xy, worst = answer.planned_xy_m, answer.worst[: 40 * _LABELLED]
    apart_m = _APART * float(np.ptp(xy, axis=0).max(initial=0.0))
    chosen: list[int] = []
    for i in worst.tolist():
        if all(np.hypot(*(xy[i] - xy[k])) >= apart_m for k in chosen):
            chosen.append(i)
            if len(chosen) == _LABELLED:
                break
    return set(chosen)


def drawn_pairs(answer: StakedAnswer) -> np.ndarray:
    """Which pairs have an arrow, in order."""
    n = len(answer.residuals)
    if n <= MOST_ARROWS:
        return np.arange(n)
    off = answer.worst[:MOST_ARROWS]
    within = np.setdiff1d(np.arange(n), answer.worst, assume_unique=True)
    room = MOST_ARROWS - len(off)
    if room and len(within):
        within = within[
            np.unique(np.linspace(0, len(within) - 1, min(room, len(within))).astype(int))
        ]
        return np.sort(np.concatenate([off, within]))
    return np.sort(off)


def round_times(times: float) -> float:
    """The round number below: 1, 2 or 5 times a power of ten, and never less than 1.

    Examples
    --------
    >>> round_times(37.2), round_times(130.0), round_times(0.4)
    (20.0, 100.0, 1.0)
    """
    if times <= 1:
        return 1.0
    power = 10.0 ** math.floor(math.log10(times))
    return max(power * k for k in (1, 2, 5) if power * k <= times * (1 + 1e-9))
