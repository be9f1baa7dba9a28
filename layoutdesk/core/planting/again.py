"""Vines that are to be inspected again after they were put right."""

from __future__ import annotations

import numpy as np

from ..model.register import WHAT
from .standing import Standing


def to_inspect_again(now: Standing) -> np.ndarray:
    """Positions, rising, where what was wrong has been put right and nobody has looked since."""
    events = now.register.events
    what = events.what[now.order]
    if not (what == WHAT["reworked"]).any():
        return np.empty(0, np.int64)
    settles = np.isin(what, [WHAT[e] for e in ("planted", "replanted", "checked", "reworked")])
    at = np.flatnonzero(settles)
    place = events.place[now.order[at]]
    last = np.flatnonzero(np.diff(place, append=-1))
    return place[last[what[at[last]] == WHAT["reworked"]]].astype(np.int64)
