"""What the hand-off stage draws over the plan: arrows from plan to ground, or of what moves coordinates."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, eq=False)
class Arrows:
    """Arrows and marks over the plan.

    Attributes
    ----------
    at_m : float array, shape (n, 2)
        Site frame. [m]
    step_m : float array, shape (n, 2)
        What each shows, true to scale; it is drawn `times` as long. [m]
    times : float
        Exaggeration.
    amiss : bool array, shape (n,)
        Beyond tolerance.
    label : tuple of str
        Beside each; empty for none.
    said : str
        What is drawn, with the exaggeration, for the legend.
    """

    at_m: np.ndarray
    step_m: np.ndarray
    times: float
    amiss: np.ndarray
    label: tuple[str, ...]
    said: str
