"""What there is to draw of a drip system, as arrays."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..core.water.design import PipeRun
from .watering import WaterAnswer

_BOUNDS_PCT = (70.0, 80.0, 90.0, 95.0, 105.0, 110.0)
"""Where steps of the ramp meet; 90 and 110 are what the judgement calls too little and too much. [%]"""


@dataclass(frozen=True)
class RampStep:
    """One step of the ramp: shares of the block's mean flow from `low_pct` to below `high_pct`.

    The first has no lower bound and the last no upper one: None. [%]
    """

    low_pct: float | None
    high_pct: float | None
    label: str


def _steps() -> tuple[RampStep, ...]:
    lows, highs = (None, *_BOUNDS_PCT), (*_BOUNDS_PCT, None)
    return tuple(
        RampStep(
            low,
            high,
            f"under {high:g} %"
            if low is None
            else f"{low:g} % and more"
            if high is None
            else f"{low:g} to {high:g} %",
        )
        for low, high in zip(lows, highs, strict=True)
    )


RAMP: tuple[RampStep, ...] = _steps()


@dataclass(frozen=True, eq=False)
class WaterDrawing:
    """A drip system to be painted; everything in the site frame. v vines, s sets.

    Attributes
    ----------
    vine_xy_m : float array, shape (v, 2)
        Plan after plan, in the order of `plan.vines`. [m]
    vine_class : int8 array, shape (v,)
        Step of the ramp that its share is in; -1 for a vine without water.
    ramp : tuple of RampStep
        From little to much.
    submains : tuple of float array, shape (k, 2)
        Lines of one diameter each. [m]
    submain_mm : tuple of float
        Outer diameter of each of them. [mm]
    mains : tuple of float array, shape (k, 2)
        From the source to each valve, in pieces of one diameter; what several sets share is once in
        it. [m]
    main_mm : tuple of float
    valves : float array, shape (s, 2)
    valve_labels : tuple of str
        Numbers of the sets.
    source : float array, shape (2,)
    """

    vine_xy_m: np.ndarray
    vine_class: np.ndarray
    ramp: tuple[RampStep, ...]
    submains: tuple[np.ndarray, ...]
    submain_mm: tuple[float, ...]
    mains: tuple[np.ndarray, ...]
    main_mm: tuple[float, ...]
    valves: np.ndarray
    valve_labels: tuple[str, ...]
    source: np.ndarray


def water_drawing(answer: WaterAnswer) -> WaterDrawing:
    """The drip system of an answer as arrays."""
    design = answer.design
    xy = np.concatenate([np.empty((0, 2)), *(p.vines.xy_m for p in answer.plans)])
    submains, submain_mm = _lines_of([b for s in design.sets for b in s.branches])
    mains, main_mm = _lines_of([s.main for s in design.sets])
    return WaterDrawing(
        xy,
        vine_classes(design.vine_share),
        RAMP,
        submains,
        submain_mm,
        mains,
        main_mm,
        np.array([s.valve_xy_m for s in design.sets], dtype=float).reshape(-1, 2),
        tuple(str(s.number) for s in design.sets),
        np.array(design.source_xy_m, dtype=float),
    )


def vine_classes(share: np.ndarray) -> np.ndarray:
    """Step of the ramp for shares of the mean, 1 being the mean; -1 where nothing flows.

    Examples
    --------
    >>> vine_classes(np.array([1.0, 0.72, 0.0, 1.3, np.nan])).tolist()
    [4, 1, -1, 6, -1]
    """
    share = np.asarray(share, dtype=float)
    # A share that is the bound but for rounding belongs above it.
    step = np.searchsorted(np.array(_BOUNDS_PCT), 100 * share + 1e-9, side="right").astype(np.int8)
    step[~(share > 0)] = -1
    return step


def _lines_of(runs: list[PipeRun]) -> tuple[tuple[np.ndarray, ...], tuple[float, ...]]:
    """Pipes as lines of one diameter each, every stretch once."""
    lines: dict[tuple, tuple[np.ndarray, float]] = {}
    for run in runs:
        if not len(run.length_m):
            continue
        cuts = np.flatnonzero(np.diff(run.outer_mm) != 0) + 1
        for begin, end in zip(
            [0, *cuts.tolist()], [*cuts.tolist(), len(run.outer_mm)], strict=True
        ):
            line, size = run.xy_m[begin : end + 1], float(run.outer_mm[begin])
            lines.setdefault((size, line.round(3).tobytes()), (line, size))
    found = lines.values()
    return tuple(line for line, _ in found), tuple(size for _, size in found)
