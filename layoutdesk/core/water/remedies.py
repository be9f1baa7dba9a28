"""What would serve a stretch of vines: each way is tried by solving its laterals again."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from .design import WaterDesign
from .drips import DRIP_TUBES_MM, emitter_of, friction_of, tube_called
from .lateral_flow import solve_laterals
from .laterals import Laterals

COMPENSATING = 0.05
"""Exponent of emitters that compensate for pressure. Common practice: 0 to 0.1."""
_MORE_HEAD = ((1.25, "a quarter more"), (1.5, "half more"), (2.0, "twice the"))


@dataclass(frozen=True)
class Remedies:
    """Ways that were tried for a stretch.

    Attributes
    ----------
    good : tuple of str
        Those that bring its laterals within the variation permitted, as commands with `{it}` for the
        row or rows: "feed {it} from the middle".
    tried : tuple of str
        All of them, as nouns: "another inlet".
    """

    good: tuple[str, ...]
    tried: tuple[str, ...]


def remedies(
    design: WaterDesign, laterals, begin_m, end_m, is_short: bool, changed=None
) -> Remedies:
    """Ways of feeding some laterals of one block so that a stretch of each is served like the rest.

    Each way is solved at the head that the laterals' inlets have now. It is good where, in all of
    them, flows vary by no more than permitted, emitters work within their range, and the stretch gets
    as much as the block's mean within the variation permitted. The mean is that after the change; for a
    way that must be taken for the whole block, the lateral's own. What a change in these laterals does to
    submain and source is not in it: the design has to be looked at again.

    Parameters
    ----------
    laterals : int array, shape (k,)
        Those tried: indices into the design's.
    begin_m, end_m : float array, shape (k,)
        Where the stretch of each begins and ends along its tube. [m]
    is_short : bool
        Whether it gets too little, not too much.
    changed : int array, optional
        All laterals that the change would be made in, like those tried; those alone, if left out.
    """
    laterals = np.asarray(laterals)
    changed = laterals if changed is None else np.unique(changed)
    trial = _Trial(design, laterals, np.asarray(begin_m), np.asarray(end_m), is_short, changed)
    return trial.remedies()


@dataclass(frozen=True)
class _Way:
    """One way: where the inlet is ("" for where it is), and the inner diameter."""

    feed: str
    tube_m: float


class _Trial:
    def __init__(self, design: WaterDesign, laterals, begin_m, end_m, is_short, changed):
        lines = design.lines
        block = int(lines.block[laterals[0]])
        self.drip = design.water.drip_of(design.blocks[block])
        self.permitted = self.drip.variation_pct / 100
        self.is_short = is_short
        self.emitter, self.friction = emitter_of(self.drip), friction_of(self.drip)
        self.head_m = design.flow.inlet_head_m[laterals]
        all_of = lines.laterals
        self.outlets = [
            slice(int(all_of.offset[i]), int(all_of.offset[i + 1])) for i in laterals.tolist()
        ]
        self.all, self.laterals = all_of, laterals
        self.begin_m, self.end_m = begin_m - 1e-6, end_m + 1e-6
        rest = lines.block == block
        self.n_changed = float((all_of.count[changed]).sum())
        rest[changed] = False
        others = design.flow.emitter_l_h[rest[all_of.lateral]]
        others = others[np.isfinite(others)]
        self.n_others, self.others_l_h = len(others), float(others.sum())
        self.spare_m = min(
            (
                s.available_head_m - s.source_head_m
                for s in (
                    design.sets[k] for k in np.unique(design.set_of_lateral[laterals]) if k >= 0
                )
            ),
            default=0.0,
        )

    def remedies(self) -> Remedies:
        feeds = [f for f in ("start end", "far end", "middle") if f not in self._fed()]
        now = self.drip.tube_mm
        tubes = [inner for _, inner in DRIP_TUBES_MM if inner > 1.02 * now]
        single = [_Way(f, now / 1e3) for f in feeds] + [_Way("", t / 1e3) for t in tubes]
        works = self._works(single)
        good = [
            f"feed {{it}} from the {w.feed}"
            for w, ok in zip(single, works, strict=True)
            if ok and w.feed
        ]
        good = good[-1:]  # the middle before an end, an end before none
        good += [
            f"use {tube_called(w.tube_m * 1e3)}"
            for w, ok in zip(single, works, strict=True)
            if ok and not w.feed
        ][:1]
        tried = ["another inlet"]
        if tubes:
            tried.append(f"wider tube up to {tube_called(tubes[-1]).removesuffix(' tube')}")
        if self.drip.exponent > 2 * COMPENSATING:
            tried.append("compensating emitters")
            if self._compensating():
                good.append("choose emitters that compensate for pressure")
        if not good and tubes:
            both = [_Way(f, t / 1e3) for t in tubes for f in feeds[::-1]]
            for way, ok in zip(both, self._works(both), strict=True):
                if ok:
                    good = [
                        f"feed {{it}} from the {way.feed} and use {tube_called(way.tube_m * 1e3)}"
                    ]
                    break
        if self.is_short:
            tried.append("more pressure")
            if not good:
                good += self._more_head()
        return Remedies(tuple(good), tuple(tried))

    def _fed(self) -> set[str]:
        """Where all of them are fed already."""
        first = np.array([self.all.outlet_m[o.start] for o in self.outlets])
        last = np.array([self.all.outlet_m[o.stop - 1] for o in self.outlets])
        inlet = self.all.inlet_m[self.laterals]
        if (inlet <= first).all():
            return {"start end"}
        if (inlet >= last).all():
            return {"far end"}
        off = np.abs(inlet - (first + last) / 2)
        return {"middle"} if (off <= 0.1 * (last - first)).all() else set()

    def _works(self, ways: list[_Way]) -> list[bool]:
        """Whether each way serves all the laterals."""
        if not ways:
            return []
        stacked = self._stacked(ways)
        head = np.tile(self.head_m, len(ways))
        return self._judged(stacked, self.emitter, head)

    def _compensating(self) -> bool:
        even = replace(self.emitter, exponent=COMPENSATING)
        rows = self._stacked([_Way("", self.drip.tube_mm / 1e3)])
        return self._judged(rows, even, self.head_m, of_block=True)[0]

    def _more_head(self) -> list[str]:
        """More head behind the valve, or all of it at the inlet, where that is what is missing."""
        rows = self._stacked([_Way("", self.drip.tube_mm / 1e3)])
        full = np.full(len(self.head_m), self.drip.head_m)
        if (self.head_m < 0.95 * self.drip.head_m).all() and self._judged(rows, self.emitter, full)[
            0
        ]:
            return ["bring the valve's full pressure to {it}, by wider submains or a valve nearby"]
        for times, said in _MORE_HEAD:
            if (times - 1) * self.drip.head_m > self.spare_m:
                break
            more = self.head_m + (times - 1) * self.drip.head_m
            if self._judged(rows, self.emitter, more, of_block=True)[0]:
                return [f"hold {said} pressure behind the valve"]
        return []

    def _mean_after(self, mean_l_h) -> np.ndarray:
        """Mean flow of an emitter in the block once each way is taken, (ways,). [L/h]"""
        total = self.others_l_h + self.n_changed * mean_l_h.mean(axis=1)
        return total / (self.n_others + self.n_changed)

    def _judged(self, rows: Laterals, emitter, head_m, of_block: bool = False) -> list[bool]:
        """Whether all laterals of each way are served; `of_block` where the whole block changes."""
        k = len(self.laterals)
        found = solve_laterals(rows, emitter, self.friction, inlet_head_m=head_m)
        flow = found.emitter_l_h
        fed = np.isfinite(flow)
        flow = np.where(fed, flow, 0.0)
        count = np.maximum(rows.summed(fed.astype(float)), 1)
        mean = rows.summed(flow) / count
        if not of_block:
            mean = np.repeat(self._mean_after(mean.reshape(-1, k)), k)
        way = np.arange(len(rows)) % k
        begin, end = self.begin_m[way][rows.lateral], self.end_m[way][rows.lateral]
        inside = fed & (rows.outlet_m >= begin) & (rows.outlet_m <= end)
        share = rows.summed(np.where(inside, flow, 0.0)) / np.maximum(
            rows.summed(inside.astype(float)), 1
        )
        share /= np.where(mean > 0, mean, 1.0)
        greatest = found.greatest_l_h
        spread = 1 - found.least_l_h / np.where(greatest > 0, greatest, 1.0)
        good = found.converged & (spread <= self.permitted) & (share >= 1 - self.permitted)
        good &= share <= 1 + self.permitted
        good &= found.least_head_m >= emitter.least_head_m
        good &= found.greatest_head_m <= emitter.greatest_head_m
        return good.reshape(-1, k).all(axis=1).tolist()

    def _stacked(self, ways: list[_Way]) -> Laterals:
        """The laterals once for every way, way after way."""
        count = np.array([o.stop - o.start for o in self.outlets])
        take = np.concatenate([np.arange(o.start, o.stop) for o in self.outlets])
        n = len(ways)
        inlets = [self._inlets(w.feed, take, count) for w in ways]
        return Laterals(
            np.concatenate([[0], np.cumsum(np.tile(count, n))]),
            np.tile(self.all.outlet_m[take], n),
            np.tile(self.all.outlet_height_m[take], n),
            np.concatenate([place for place, _ in inlets]),
            np.concatenate([height for _, height in inlets]),
            np.repeat([w.tube_m for w in ways], len(count)),
            np.tile(self.all.emitters[take], n),
            np.tile(self.all.barb_loss[take], n),
        )

    def _inlets(self, feed: str, take, count) -> tuple[np.ndarray, np.ndarray]:
        """Place and height of the inlets; their heights are those of the outlets next to them. [m]"""
        place, height = self.all.outlet_m[take], self.all.outlet_height_m[take]
        first = np.cumsum(count) - count
        last = first + count - 1
        if not feed:
            return self.all.inlet_m[self.laterals], self.all.inlet_height_m[self.laterals]
        if feed == "start end":
            return place[first], height[first]
        if feed == "far end":
            return place[last], height[last]
        near = first + np.maximum(count // 2 - 1, 0)
        next_one = np.minimum(near + 1, last)
        return (place[near] + place[next_one]) / 2, (height[near] + height[next_one]) / 2
