"""Sets: which rows of a chain are watered together, and the pipes of their submain."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..model.water import Drip, Water
from .chains import divided, running_m
from .drips import friction_of
from .emitters import LITRES_AN_HOUR, SECONDS_AN_HOUR
from .lateral_flow import LateralFlow
from .submains import Manifold, chosen_pipes, manifold_of

_ROWS_ALONE_SHARE = 0.1
"""Of the permitted variation, that a submain may add where rows alone differ by more than is permitted."""
_FLOWS_TRIED = 60
_FULL = 1.001
"""Times the flow that the source gives, that a set may ask for."""
_LEVEL_SHARE = 0.05
"""Of the head that is held: a submain that climbs no more needs no look at its heights."""
_SETS_MORE = 6
"""Times as many sets as the flow alone asks for, that heights may make of a submain."""


@dataclass(frozen=True, eq=False)
class RowSet:
    """One set while it is made: its block's drip, its manifold, and the pipe of every piece."""

    block: int
    chain: np.ndarray
    manifold: Manifold
    inner_m: np.ndarray
    outer_m: np.ndarray


def allotted(n_sets: int, flows: list[float]) -> list[int]:
    """So many sets shared out among chains by their flow, each having one at least.

    >>> allotted(5, [1.0, 6.0, 3.0]), allotted(1, [1.0, 6.0])
    ([1, 3, 1], [1, 1])
    """
    count = [1] * len(flows)
    for _ in range(n_sets - len(flows)):
        fullest = max(range(len(flows)), key=lambda i: flows[i] / count[i])
        count[fullest] += 1
    return count


def most_m3_s(water: Water, drip: Drip, length_m: float, up_m: float) -> float:
    """Flow that the source still brings to a valve so far away and so high, at the head asked. [m³/s]

    In the widest pipe, no faster than permitted. Where no flow does, that of the curve's end.
    """
    source = water.source
    widest = water.pipes_mm[-1][1] / 1000
    most = min(source.curve[-1][0] / SECONDS_AN_HOUR, source.velocity_m_s * np.pi / 4 * widest**2)
    flows = np.linspace(most / _FLOWS_TRIED, most, _FLOWS_TRIED)
    loss, _ = friction_of(drip).loss_and_slope(
        flows, np.full(len(flows), widest), np.full(len(flows), max(length_m, 0.01))
    )
    left = np.array([source.head_at_m(q * SECONDS_AN_HOUR) for q in flows.tolist()])
    enough = left >= drip.head_m + source.losses_m + up_m + loss
    return float(flows[enough].max()) if enough.any() else float(most)


def sets_of_chain(lines, flow: LateralFlow, chain, whose, water: Water, source, found):
    b, drip = whose
    place, level = source
    xy, height = lines.inlet_xy_m[chain], lines.laterals.inlet_height_m[chain]
    station = running_m(xy, height)
    each = flow.total_l_h[chain]
    away = float(np.linalg.norm(xy - np.array(place), axis=1).min() + station[-1])
    most = np.inf
    if drip.sets is None:
        most = most_m3_s(water, drip, away, float(height.max()) - level) * LITRES_AN_HOUR
        n_sets = int(np.ceil(each.sum() / most - 1e-6)) if most > 0 else 1
    else:
        mine = [c for other, c in found if other == b]
        here = next(i for i, c in enumerate(mine) if c is chain)
        n_sets = allotted(drip.sets, [float(flow.total_l_h[c].sum()) for c in mine])[here]

    def cut(n: int) -> list[Manifold]:
        return [
            manifold_of(chain[run], station[run], xy[run], height[run], each[run])
            for run in divided(each, max(n, 1))
        ]

    manifolds = cut(n_sets)
    while len(manifolds) < len(each) and any(
        flow.total_l_h[m.laterals].sum() > most * _FULL for m in manifolds
    ):
        manifolds = cut(len(manifolds) + 1)
    if drip.sets is None and float(np.ptp(height)) > _LEVEL_SHARE * drip.head_m:
        manifolds = _cut_for_height(manifolds, cut, drip, flow)
    return [_with_pipes(b, chain, m, drip, water, flow) for m in manifolds]


def _cut_for_height(manifolds: list[Manifold], cut, drip: Drip, flow) -> list[Manifold]:
    """More sets where the submain climbs so much that one head cannot serve all its rows.

    As few as make every set as good as its rows alone let it be; the first number of sets where none
    does, up to _SETS_MORE times as many.
    """

    def spoilt(some: list[Manifold]) -> int:
        found = 0
        for m in some:
            level = replace(m, height_m=np.full(len(m.height_m), m.valve_height_m))
            found += _Evenness(level, drip, flow).is_possible and not (
                _Evenness(m, drip, flow).is_possible
            )
        return found

    most = min(_SETS_MORE * len(manifolds), sum(len(m.laterals) for m in manifolds))
    if not spoilt(manifolds):
        return manifolds
    for n in range(len(manifolds) + 1, most + 1):
        some = cut(n)
        if not spoilt(some):
            return some
    return manifolds


def _with_pipes(b: int, chain, manifold: Manifold, drip: Drip, water: Water, flow) -> RowSet:
    pipes = np.array(water.pipes_mm) / 1000
    even = _Evenness(manifold, drip, flow)
    each = flow.total_l_h[manifold.laterals] / LITRES_AN_HOUR
    size = chosen_pipes(
        manifold, each, pipes[:, 1], water.source.velocity_m_s, friction_of(drip), even.holds
    )
    return RowSet(b, chain, manifold, pipes[size, 1], pipes[size, 0])


class _Evenness:
    """Whether flows in a set stay alike enough, judged from how its laterals do at the head that is held.

    What rows alone, or heights along the submain, already make uneven no pipe can mend: friction may
    then add a tenth of what is permitted.
    """

    def __init__(self, manifold: Manifold, drip: Drip, flow: LateralFlow):
        which = manifold.laterals
        self.drip = drip
        self.rise = manifold.height_m - manifold.valve_height_m
        least, greatest = flow.least_l_h[which], flow.greatest_l_h[which]
        self.fed = np.isfinite(least) & (greatest > 0)
        self.least, self.greatest = least[self.fed], greatest[self.fed]
        lowest = np.where(self.fed, flow.least_head_m[which], drip.head_m)
        self.room_m = lowest - self.rise - drip.least_head_m
        self.permitted = drip.variation_pct / 100
        self.bare = self._variation(np.zeros(len(which)))

    @property
    def is_possible(self) -> bool:
        """Whether pipes without friction would do."""
        return bool(self.bare <= self.permitted and (self.room_m >= 0).all())

    def holds(self, friction_m: np.ndarray) -> bool:
        """Whether flows are alike enough, and heads in the working range, at losses in the submain."""
        least_room = _ROWS_ALONE_SHARE * self.permitted * self.drip.head_m
        if (friction_m > np.maximum(self.room_m, least_room)).any():
            return False
        most = max(self.permitted, self.bare + _ROWS_ALONE_SHARE * self.permitted)
        return self._variation(friction_m) <= most

    def _variation(self, friction_m: np.ndarray) -> float:
        """Greatest less least flow, of the greatest, as heads at the inlets make them."""
        if not self.fed.any():
            return 0.0
        head = self.drip.head_m - (friction_m + self.rise)[self.fed]
        ratio = np.maximum(head / self.drip.head_m, 1e-6) ** self.drip.exponent
        return float(1 - (self.least * ratio).min() / (self.greatest * ratio).max())
