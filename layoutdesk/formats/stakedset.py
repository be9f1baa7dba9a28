"""What the files of an as-staked check are written from."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

import numpy as np

from ..core.model import Finding, Project, RowPlan
from ..core.model.handoff import POINT_KINDS
from ..core.staking.explanations import Explanation
from ..core.staking.matching import Measured
from ..core.staking.points import Points, PointSet
from ..core.staking.residuals import Figures, Histogram, Residuals
from .handoffset import Placing
from .stakeset import Transform


@dataclass(frozen=True)
class StakedMap:
    """The plan with arrows, on a page of its own.

    Attributes
    ----------
    width_mm, height_mm : float
        Of the page as it lies.
    frame : (float, float, float, float)
        Left, top, width and height of the plan. [mm]
    ratio : float
        Scale 1 : ratio.
    scale_words, bar_label : str
    bar_mm : float
    centre_m : (float, float)
        Site frame place at the middle of the plan.
    at_m, step_m : float array, shape (n, 2)
        Where arrows begin, and what they show, true to scale. [m]
    times : float
        So many times as long they are drawn.
    amiss : bool array, shape (n,)
    label : tuple of str
    said : str
    sample_label : str
        What the arrow in the legend stands for.
    sample_mm : float
        How long it is drawn.
    """

    width_mm: float
    height_mm: float
    frame: tuple[float, float, float, float]
    ratio: float
    scale_words: str
    bar_label: str
    bar_mm: float
    centre_m: tuple[float, float]
    at_m: np.ndarray
    step_m: np.ndarray
    times: float
    amiss: np.ndarray
    label: tuple[str, ...]
    said: str
    sample_label: str
    sample_mm: float


@dataclass(frozen=True)
class StakedWords:
    """What people read of a check.

    Attributes
    ----------
    sentences, notes : tuple of str
    explanations : tuple of tuple of str
        A line each: words, where, amount.
    bars : tuple of (str, int, bool)
        Of the histogram: label, count, and whether all of it is beyond the tolerance.
    worst : tuple of tuple of str
        A line each: code, along, across, height, distance.
    n_worst : int
        Beyond tolerance, those that are not listed too.
    rows : tuple of tuple of str
        A line each: row, points, across, along, farthest.
    checks : tuple of str
        What was decided before.
    """

    sentences: tuple[str, ...]
    notes: tuple[str, ...]
    explanations: tuple[tuple[str, str, str], ...]
    bars: tuple[tuple[str, int, bool], ...]
    worst: tuple[tuple[str, ...], ...]
    n_worst: int
    rows: tuple[tuple[str, ...], ...]
    checks: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class StakedSet:
    """One check of measured points, pair by pair, and in words.

    Attributes
    ----------
    project : Project
    plans : tuple of RowPlan
    revision, plan : str
        Marks of the project's state and of its plan.
    day : datetime.date
    file, checksum, way, read_said : str
        Of what was read: name, first 12 hexadecimal digits of its SHA-256, how it was matched and read.
    placing : Placing
    to_wgs84 : function
    wgs84_shift : str
    points : PointSet
    some : Points
        Of the pairs, in their order.
    code : tuple of str
    measured : Measured
        All that was read.
    pair : int array, shape (m,)
        Into `measured`.
    planned_en, measured_en : float array, shape (m, 2)
        As written, in the unit of the hand-off.
    planned_height_m : float array, shape (m,)
        NaN where not known. [m]
    off : Residuals
    tolerance_m : float array, shape (m,)
    strange, doubled : int array
        Into `measured`.
    n_missing : int
    figures : Figures
    by_kind : tuple of (str, Figures)
    histogram : Histogram
    explanations : tuple of Explanation
    findings : tuple of Finding
    words : StakedWords
    map : StakedMap
    """

    project: Project
    plans: tuple[RowPlan, ...]
    revision: str
    plan: str
    day: datetime.date
    file: str
    checksum: str
    way: str
    read_said: str
    placing: Placing
    to_wgs84: Transform
    wgs84_shift: str
    points: PointSet
    some: Points
    code: tuple[str, ...]
    measured: Measured
    pair: np.ndarray
    planned_en: np.ndarray
    measured_en: np.ndarray
    planned_height_m: np.ndarray
    off: Residuals
    tolerance_m: np.ndarray
    strange: np.ndarray
    doubled: np.ndarray
    n_missing: int
    figures: Figures
    by_kind: tuple[tuple[str, Figures], ...]
    histogram: Histogram
    explanations: tuple[Explanation, ...]
    findings: tuple[Finding, ...]
    words: StakedWords
    map: StakedMap

    @property
    def verdict(self) -> list[str]:
        """Of each pair: "within" or "beyond" its tolerance."""
        return np.where(self.off.distance_m > self.tolerance_m, "beyond", "within").tolist()

    @property
    def kind(self) -> list[str]:
        """Of each pair, of POINT_KINDS."""
        return np.array(POINT_KINDS)[self.some.kind].tolist()
