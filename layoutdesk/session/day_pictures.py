"""How the plan of a day of planting lies on its card, and what is drawn on it."""

from __future__ import annotations

import numpy as np
import shapely

from ..core.model import RowPlan
from ..core.model.register import STATES
from ..core.planting.day_order import TRAY_ENDS
from ..core.planting.days import DayPlan, Run
from ..formats.day_plan_pdf import DayPicture, lot_letter
from .planted import PlantingAnswer
from .sheet import Box, fitting_scale, sheet_bar

_INSET_MM = 13.0
"""Kept round the day's rows, for trays and row numbers. [mm]"""
_HIGHEST_MM, _TALLEST_MM, _LOWEST_MM = 118.0, 165.0, 55.0
"""The plan is so high at most; higher where that shows it markedly larger. [mm]"""
_MARKEDLY = 1.3
_LEAST_NAMED = 0.02
"""Of the plan: a block with less of it in sight has no name."""
_LARGEST_RATIO = {"m": 250.0}
"""No plan is drawn larger; in feet 20 ft an inch. Ours."""
_LARGEST_RATIO_FT = 240.0
_CLOSEST_MM, _ONE_IN = 0.6, (1, 2, 5, 10, 20, 50, 100)
"""Thin rows nearer than this run together in print. [mm]"""
_BAR_MM = 50.0
_DOTS_UNTIL = 0.5
"""A run with a smaller share of the places between its first and its last vine is drawn vine by vine."""
_WINDS = ("N", "NE", "E", "SE", "S", "SW", "W", "NW")


class DayPictures:
    """Makes the pictures of all days of a site.

    Parameters
    ----------
    answer : PlantingAnswer
    wide_mm : float
        Of the plan on the paper. [mm]
    unit : str
    """

    def __init__(self, answer: PlantingAnswer, wide_mm: float, unit: str):
        self._project, self._plans = answer.project, answer.plans
        self._found, self._wide_mm, self._unit = answer.assigned, wide_mm, unit
        self._starts = [np.cumsum(p.vines_of_segment) - p.vines_of_segment for p in self._plans]
        self._before = np.cumsum([0, *(p.n_vines for p in self._plans)]).tolist()
        self._bounds = [shapely.bounds(p.shapes) for p in self._plans]
        self._stands = _stands(answer)

    def vines_of(self, run: Run) -> np.ndarray:
        """Places of a run's own vines, (n, 2). [m]"""
        here, mine = self._own(run)
        return self._plans[run.plan].vines.xy_m[here][mine]

    def indices_of(self, run: Run) -> np.ndarray:
        """Indices of a run's own vines in their segment, (n,)."""
        here, mine = self._own(run)
        before = self._before[run.plan]
        return self._found.index[before + here.start : before + here.stop][mine]

    def _own(self, run: Run) -> tuple[slice, np.ndarray]:
        """Vines of a run's segment in its plan, and which of them are the run's."""
        found = self._found
        start = int(self._starts[run.plan][run.segment])
        here = slice(start, start + int(self._plans[run.plan].vines_of_segment[run.segment]))
        before = self._before[run.plan]
        span = slice(before + here.start, before + here.stop)
        mine = (found.index[span] >= run.first) & (found.index[span] <= run.last)
        mine &= (found.lot[span] == run.lot) & (found.plant[span] == run.plant)
        if self._stands is not None:
            mine &= ~self._stands[span]
        return here, mine

    def picture(self, day: DayPlan, lot_of: dict[tuple[int, int], int]) -> DayPicture:
        """The plan of one day.

        Parameters
        ----------
        day : DayPlan
        lot_of : dict
            Place in the day's list of lots, by lot and plant.
        """
        plans, unit = self._plans, self._unit
        places = list(dict.fromkeys((r.plan, r.segment) for r in day.runs))
        bounds = np.array([self._bounds[p][s] for p, s in places])
        low, high = bounds[:, :2].min(axis=0), bounds[:, 2:].max(axis=0)
        centre = (low + high) / 2
        wide, tall = (high - low).tolist()
        scale = self._scale(wide, tall, _HIGHEST_MM)
        taller = self._scale(wide, tall, _TALLEST_MM)
        if scale.ratio >= _MARKEDLY * taller.ratio:
            scale = taller
        height_mm = max(_LOWEST_MM, float(scale.on_paper_mm(tall)) + 2 * _INSET_MM)
        half = scale.on_ground_m(np.array([self._wide_mm, height_mm])) / 2
        window = shapely.box(*(centre - half), *(centre + half))
        spacing = float(scale.on_paper_mm(min(plans[p].rules.row_spacing_m for p, _ in places)))
        one_in = next((n for n in _ONE_IN if n * spacing >= _CLOSEST_MM), _ONE_IN[-1])
        bar = sheet_bar(scale, unit, _BAR_MM)
        strokes, dots = self._marks(day, lot_of)
        tray_ends, row_ends = self._ends(day, lot_of)
        return DayPicture(
            width_mm=self._wide_mm,
            height_mm=height_mm,
            ratio=scale.ratio,
            scale_words=scale.words,
            bar_label=bar.label,
            bar_mm=bar.length_mm,
            centre_m=(float(centre[0]), float(centre[1])),
            spacing_mm=spacing,
            one_in=one_in,
            blocks=tuple(p.block for p in plans if p.block.outline.intersects(window)),
            exclusions=tuple(
                e for e in self._project.exclusions if e.shape.distance(window) <= e.clearance_m
            ),
            names=self._names(window, places),
            quiet=self._quiet(set(places), centre - half, centre + half, one_in),
            strokes=strokes,
            dots=dots,
            tray_ends=tray_ends,
            row_ends=row_ends,
        )

    def _names(self, window, places) -> tuple[tuple, ...]:
        """Names of the blocks in sight, beside the day's rows where there is room, each in its block."""
        if len(self._plans) == 1:
            return ()
        rows = shapely.multilinestrings([self._plans[p].shapes[s] for p, s in places])
        taken = shapely.convex_hull(rows)
        named = []
        for plan in self._plans:
            seen = shapely.intersection(plan.block.outline, window)
            if seen.area < _LEAST_NAMED * window.area:
                continue
            free = shapely.difference(seen, taken)
            room = free if free.area > _LEAST_NAMED * window.area else seen
            largest = max(shapely.get_parts(room), key=lambda part: part.area)
            place = shapely.point_on_surface(largest)
            named.append(((place.x, place.y), plan.block.name))
        return tuple(named)

    def _scale(self, wide_m: float, tall_m: float, highest_mm: float):
        room = Box(0, 0, self._wide_mm - 2 * _INSET_MM, highest_mm - 2 * _INSET_MM)
        least_m = _LARGEST_RATIO.get(self._unit, _LARGEST_RATIO_FT) * room.width_mm / 1000
        return fitting_scale(max(wide_m, least_m), tall_m, room, self._unit)

    def _quiet(self, mine: set[tuple[int, int]], low, high, one_in: int) -> tuple[np.ndarray, ...]:
        """Rows in sight that are not the day's."""
        found = []
        for p, plan in enumerate(self._plans):
            b = self._bounds[p]
            seen = (b[:, :2] <= high).all(axis=1) & (b[:, 2:] >= low).all(axis=1)
            seen &= plan.segments.line % one_in == 0
            found += [
                shapely.get_coordinates(plan.shapes[s])
                for s in np.flatnonzero(seen).tolist()
                if (p, s) not in mine
            ]
        return tuple(found)

    def _marks(self, day: DayPlan, lot_of):
        """Runs as lines; those whose vines stand far apart among others as dots, drawn over the lines."""
        strokes, dots = [], []
        for run in day.runs:
            xy, at = self.vines_of(run), lot_of[run.lot, run.plant]
            span = run.last - run.first + 1
            if len(xy) < 2 or run.vines < _DOTS_UNTIL * span:
                dots.append((xy, at))
            else:
                straight = self._plans[run.plan].course is None
                strokes.append((xy[[0, -1]] if straight else xy, at))
        return tuple(strokes), tuple(dots)

    def _ends(self, day: DayPlan, lot_of):
        """Trays at the row ends they go to, by lot, and row numbers at the other ends."""
        trays: dict[tuple[int, int, str], list[str]] = {}
        for run in day.runs:
            words = trays.setdefault((run.plan, run.segment, run.tray_end), [])
            if run.trays:
                words.append(f"{run.trays}{lot_letter(lot_of[run.lot, run.plant])}")
        tray_ends, row_ends = [], []
        for (p, s, end), words in trays.items():
            plan, k = self._plans[p], TRAY_ENDS.index(end)
            if words:
                tray_ends.append((*self._end(plan, s, k), " ".join(words)))
            row_ends.append((*self._end(plan, s, 1 - k), str(int(plan.segments.number[s]))))
        return tuple(tray_ends), tuple(row_ends)

    def _end(self, plan: RowPlan, segment: int, k: int):
        place, out = plan.segment_ends_m[segment, k], plan.outward[segment, k]
        return tuple(place.tolist()), tuple(out.tolist())

    def wind(self, run: Run) -> str:
        """Where the row end that a run's trays go to lies, as one of eight winds."""
        x, y = self._plans[run.plan].outward[run.segment, TRAY_ENDS.index(run.tray_end)].tolist()
        return _WINDS[round(float(np.degrees(np.arctan2(x, y))) / 45) % 8]


def _stands(answer: PlantingAnswer) -> np.ndarray | None:
    """Which vines have been planted by the register; None where nothing is recorded."""
    if answer.standing is None:
        return None
    place = answer.matching.place
    stands = np.zeros(len(place), bool)
    stands[place >= 0] = answer.standing.state[place[place >= 0]] != STATES.index("not planted")
    return stands
