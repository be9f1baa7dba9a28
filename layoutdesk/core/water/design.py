"""A drip system as designed: laterals, submains, sets, valves and mains, with what flows in them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..model import Water
from .lateral_flow import LateralFlow
from .laterals import Laterals


@dataclass(frozen=True, eq=False)
class LateralLines:
    """Laterals of all blocks where they lie on the ground; n laterals with t outlets and v vines.

    Attributes
    ----------
    laterals : Laterals
        All of them, block after block, in order of row number, then along the bearing.
    block, number, letter : int array, shape (n,)
        Which plan; its row number; letter of its first segment, 0 for A.
    last_letter : int array, shape (n,)
        Of its last segment: another where segments are bridged.
    inlet_xy_m : float array, shape (n, 2)
        Site frame. [m]
    tail_xy_m : float array, shape (n, 2, 2)
        Both ends of the tube, the start end's first. [m]
    length_m : float array, shape (n,)
        Of tube, its bridges with it, along the ground where heights are known. [m]
    vine_lateral : int array, shape (v,)
        Lateral of every vine, plan after plan in the order of `plan.vines`.
    vine_outlet_m : float array, shape (v,)
        Place of every vine along its lateral's tube. [m]
    vine_emitters : float array, shape (v,)
        Emitters that serve it: a fraction where they sit in the line.
    heights_known : bool
        Whether every height was known; a NaN is taken from its neighbours.
    is_level : bool
        Whether no height at all was known, so that everything stands at 0.
    chains : tuple of int array
        Laterals that one submain line can serve, in row order, block after block.
    """

    laterals: Laterals
    block: np.ndarray
    number: np.ndarray
    letter: np.ndarray
    last_letter: np.ndarray
    inlet_xy_m: np.ndarray
    tail_xy_m: np.ndarray
    length_m: np.ndarray
    vine_lateral: np.ndarray
    vine_outlet_m: np.ndarray
    vine_emitters: np.ndarray
    heights_known: bool
    is_level: bool = False
    chains: tuple[np.ndarray, ...] = ()


@dataclass(frozen=True, eq=False)
class PipeRun:
    """Pipe from place to place, one piece after another, in the direction water takes.

    Attributes
    ----------
    xy_m : float array, shape (k + 1, 2)
        Places between pieces. [m]
    height_m : float array, shape (k + 1,)
        Of the ground at them. [m]
    length_m, flow_m3_h, loss_m, velocity_m_s : float array, shape (k,)
        Of every piece. [m], [m³/h], [m], [m/s]
    outer_mm, inner_mm : float array, shape (k,)
    lateral : int array, shape (k,)
        The lateral that begins at each piece's far end; -1 for none.
    """

    xy_m: np.ndarray
    height_m: np.ndarray
    length_m: np.ndarray
    flow_m3_h: np.ndarray
    loss_m: np.ndarray
    velocity_m_s: np.ndarray
    outer_mm: np.ndarray
    inner_mm: np.ndarray
    lateral: np.ndarray


@dataclass(frozen=True, eq=False)
class WaterSet:
    """Rows that are watered together: one valve, its submain to both sides, the main that reaches it.

    Attributes
    ----------
    number : int
        1, 2, … over the whole site.
    block : int
        Which plan.
    laterals : int array
        In the order in which they stand along the submain.
    valve_xy_m : (x, y)
    valve_height_m : float
    flow_m3_h : float
    head_m : float
        Pressure head behind the valve. [m]
    branches : tuple of PipeRun
        Submain from the valve outward: one, or one to each side.
    main : PipeRun
        From the source to the valve.
    source_flow_m3_h, source_head_m : float
        What the set asks of the source: its flow, and the head that brings it to the valve through
        filter, main and valve, up or down to its height. [m³/h], [m]
    available_head_m : float
        That the source has left at that flow; -inf where it cannot give it. [m]
    least_l_h, mean_l_h, greatest_l_h : float
        Flow of one emitter. [L/h]
    eu_pct, du_pct, variation_pct : float
        Emission uniformity, distribution uniformity, flow variation. [%]
    flushing_m3_h : float
        Flow that washes the tails of all laterals that are opened together at 0.3 m/s. [m³/h]
    surge_m : float
        Rise of head in the main when the valve shuts at once (Joukowsky). [m]
    """

    number: int
    block: int
    laterals: np.ndarray
    valve_xy_m: tuple[float, float]
    valve_height_m: float
    flow_m3_h: float
    head_m: float
    branches: tuple[PipeRun, ...]
    main: PipeRun
    source_flow_m3_h: float
    source_head_m: float
    available_head_m: float
    least_l_h: float
    mean_l_h: float
    greatest_l_h: float
    eu_pct: float
    du_pct: float
    variation_pct: float
    flushing_m3_h: float
    surge_m: float

    @property
    def is_served(self) -> bool:
        """Whether the source can give what the set asks."""
        return self.available_head_m >= self.source_head_m


@dataclass(frozen=True, eq=False)
class WaterDesign:
    """A whole site's drip system.

    Attributes
    ----------
    water : Water
    blocks : tuple of str
    lines : LateralLines
    flow : LateralFlow
        Of all laterals, at the heads that their submains leave.
    sets : tuple of WaterSet
    set_of_lateral : int array, shape (n,)
        Index into `sets`.
    vine_head_m, vine_flow_l_h : float array, shape (v,)
        At every vine: pressure head, and flow of all that serves it. [m], [L/h]
    source_xy_m : (x, y)
        As used. [m]
    source_height_m : float
        That its heads count from. [m]
    area_per_vine_m2 : float array, shape (b,)
        Row times vine spacing of each block. [m²]
    made_of : tuple
        What the sets were made of, so that another design may keep them.
    """

    water: Water
    blocks: tuple[str, ...]
    lines: LateralLines
    flow: LateralFlow
    sets: tuple[WaterSet, ...]
    set_of_lateral: np.ndarray
    vine_head_m: np.ndarray
    vine_flow_l_h: np.ndarray
    source_xy_m: tuple[float, float]
    source_height_m: float
    area_per_vine_m2: np.ndarray
    made_of: tuple = ()

    @property
    def vine_share(self) -> np.ndarray:
        """Flow of every vine, of the mean of its block, (v,); NaN where nothing flows."""
        block = self.lines.block[self.lines.vine_lateral]
        count = np.bincount(block, minlength=len(self.blocks))
        total = np.bincount(block, self.vine_flow_l_h, minlength=len(self.blocks))
        mean = np.where(total > 0, total / np.maximum(count, 1), np.nan)
        return self.vine_flow_l_h / mean[block]
