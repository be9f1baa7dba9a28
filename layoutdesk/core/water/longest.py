"""The longest lateral that a tube may feed while flows stay alike."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .emitters import Emitter
from .friction import Friction
from .lateral_flow import solve_laterals
from .laterals import Feed, even_laterals

_AT_ONCE = 24
"""Counts of outlets tried together."""


@dataclass(frozen=True)
class LongestLateral:
    """The longest permissible lateral, and what holds it back.

    Attributes
    ----------
    n_outlets : int
        0 where even one outlet is not served as asked.
    length_m : float
        Of tube, from its one end to the last outlet. [m]
    variation_pct : float
        Greatest less least flow, of the greatest; NaN without outlets. [%]
    total_l_h : float
        Flow into it. [L/h]
    limit : str
        What one outlet more would break: `"variation"`, `"least head"`, `"greatest head"`, or
        `"none"` where the most outlets asked about still hold.
    """

    n_outlets: int
    length_m: float
    variation_pct: float
    total_l_h: float
    limit: str


def longest_lateral(
    emitter: Emitter,
    diameter_m: float,
    spacing_m: float,
    inlet_head_m: float,
    *,
    friction: Friction | None = None,
    variation_pct: float = 10.0,
    grade_pct: float = 0.0,
    first_m: float | None = None,
    fed: Feed = "start",
    emitters: float = 1.0,
    barb_loss: float = 0.0,
    most: int = 4000,
) -> LongestLateral:
    """The longest lateral whose flows vary no more than permitted, at one head at the inlet.

    Every shorter one is permissible too (counts are tried a tenth of their size apart): on ground that
    falls, a long lateral may be even where a shorter is not, and rows of a block differ. Heads must
    stay within the emitter's working range.

    Parameters
    ----------
    diameter_m : float
        Inner diameter of the tube. [m]
    spacing_m : float
        From one outlet to the next. [m]
    inlet_head_m : float
        Pressure head at the inlet. [m]
    variation_pct : float
        Permitted: greatest less least flow, of the greatest. 10 is common practice. [%]
    grade_pct : float
        Of the ground from the start end, positive uphill. [%]
    first_m : float, optional
        From the tube's end to the first outlet; one spacing, if left out. [m]
    fed : "start", "far" or "middle"
    emitters, barb_loss : float
        At each outlet, see `Laterals`.
    most : int
        Outlets at most.

    Examples
    --------
    >>> longest_lateral(Emitter(2.0, 10.0, 0.5), 0.0136, 1.0, 12.0).n_outlets
    152
    """
    first = spacing_m if first_m is None else first_m

    def tried(counts):
        counts = np.asarray(counts, dtype=np.intp)
        place = np.concatenate([first + spacing_m * np.arange(c) for c in counts])
        rows = even_laterals(
            counts,
            spacing_m,
            first,
            diameter_m,
            fed=fed,
            outlet_height_m=grade_pct / 100 * place,
            emitters=emitters,
            barb_loss=barb_loss,
        )
        flow = solve_laterals(rows, emitter, friction, inlet_head_m=inlet_head_m)
        spread = 100 * (1 - flow.least_l_h / np.where(flow.greatest_l_h > 0, flow.greatest_l_h, 1))
        broken = np.select(
            [
                ~flow.converged | (flow.least_head_m < emitter.least_head_m),
                flow.greatest_head_m > emitter.greatest_head_m,
                spread > variation_pct,
            ],
            ["least head", "greatest head", "variation"],
            default="none",
        )
        return broken, spread, flow.total_l_h

    good, bad, limit = 0, most + 1, "none"
    counts = np.unique(np.minimum(np.ceil(1.1 ** np.arange(200)), most)).astype(int)
    at = 0
    while at < len(counts):  # from short to long: most tubes end early, and long ones cost time
        part = counts[at : at + _AT_ONCE]
        broken = tried(part)[0]
        wrong = np.flatnonzero(broken != "none")
        if len(wrong):
            bad, limit = int(part[wrong[0]]), str(broken[wrong[0]])
            good = int(part[wrong[0] - 1]) if wrong[0] else good
            break
        good = int(part[-1])
        at += _AT_ONCE
    while bad - good > 1 and limit != "none":
        part = np.unique(np.linspace(good + 1, bad - 1, _AT_ONCE).astype(int))
        broken = tried(part)[0]
        wrong = np.flatnonzero(broken != "none")
        if len(wrong):
            bad, limit = int(part[wrong[0]]), str(broken[wrong[0]])
            good = int(part[wrong[0] - 1]) if wrong[0] else good
        else:
            good = int(part[-1])
    if not good:
        return LongestLateral(0, 0.0, float("nan"), 0.0, limit)
    _, spread, total = tried([good])
    length = first + (good - 1) * spacing_m
    return LongestLateral(good, length, float(spread[0]), float(total[0]), limit)
