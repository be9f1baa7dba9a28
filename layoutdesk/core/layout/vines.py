"""Where vines stand along a row segment."""

from __future__ import annotations

import numpy as np

from ..geometry.stationing import ALIGN_M, whole_steps
from ..model import RowRules


def vines_along(start_m, end_m, line, rules: RowRules, lattice_from_m: float):
    """First vine, vine step and number of vines of every segment, the leftover settled.

    Parameters
    ----------
    start_m, end_m : float array, shape (s,)
        Both end posts, along the rows. [m]
    line : int array, shape (s,)
        Row line, 0 the leftmost; odd ones are shifted in a staggered lattice.
    lattice_from_m : float
        Where the lattice of "across" begins, along the rows. [m]

    Returns
    -------
    first_m, step_m : float array, shape (s,)
        From the start end post to the first vine, and from vine to vine. [m]
    count : int array, shape (s,)

    Examples
    --------
    >>> rules = RowRules(vine_spacing_m=2.0, first_vine_m=1.0, last_vine_m=1.0)
    >>> for leftover in ("far end", "both ends"):
    ...     rules = RowRules(vine_spacing_m=2, first_vine_m=1, last_vine_m=1, leftover=leftover)
    ...     first, step, n = vines_along(np.zeros(1), np.array([13.0]), np.zeros(1, int), rules, 0)
    ...     print(first.tolist(), step.tolist(), n.tolist())
    [1.0] [2.0] [6]
    [1.5] [2.0] [6]
    """
    first_gap, spacing = float(rules.first_vine_m), float(rules.vine_spacing_m)
    span = end_m - start_m - first_gap - rules.last_vine_m
    steps = whole_steps(span, spacing)
    first = np.full(len(span), first_gap)
    step = np.full(len(span), spacing)
    if rules.leftover == "both ends":
        first += np.where(steps >= 0, np.maximum(span - steps * spacing, 0.0) / 2, 0.0)
    elif rules.leftover == "stretch":
        step, steps = _stretched(span, steps, spacing, rules.stretch_max_pct / 100)
    elif rules.leftover == "across":
        shift = np.where(line % 2 == 1, spacing / 2, 0.0) if rules.lattice == "staggered" else 0.0
        origin = lattice_from_m + shift
        lowest = np.ceil((start_m + first_gap - ALIGN_M - origin) / spacing)
        highest = np.floor((end_m - rules.last_vine_m + ALIGN_M - origin) / spacing)
        steps = np.where(span < -ALIGN_M, -1, (highest - lowest).astype(np.int64))
        first = np.where(steps >= 0, origin + lowest * spacing - start_m, first_gap)
    return first, step, np.maximum(steps + 1, 0)


def _stretched(span, steps, spacing, most):
    """Spacing and steps that fill the span, the spacing changed by no more than the share `most`.

    The whole number of spaces nearest to the wanted spacing is taken if the limit allows it, else
    the other neighbour; where neither fills the span, the spacing goes to the limit and the rest
    stays at the far end.
    """
    step = np.full(len(span), spacing)
    fewer = np.maximum(steps, 0)
    wide, tight = span / np.maximum(fewer, 1), span / (fewer + 1)
    wide_ok = (fewer >= 1) & (wide <= spacing * (1 + most) + ALIGN_M)
    tight_ok = (steps >= 0) & (tight >= spacing * (1 - most) - ALIGN_M)
    take_tight = tight_ok & (~wide_ok | (spacing - tight < wide - spacing))
    step = np.where(wide_ok, wide, step)
    step = np.where(take_tight, tight, step)
    step = np.where((fewer >= 1) & ~wide_ok & ~take_tight, spacing * (1 + most), step)
    return step, np.where(take_tight, steps + 1, steps)
