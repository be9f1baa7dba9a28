"""How evenly water is given, and the exact sums behind the older friction tables."""

from __future__ import annotations

from typing import Literal

import numpy as np


def emission_uniformity_pct(flow_l_h, cv: float, emitters_per_vine: float = 1.0) -> float:
    """Emission uniformity EU = 100 · (1 − 1.27 Cv / √e) · least / mean flow. [%]

    A forecast for new emitters: the least flow by pressure, less what manufacture may take from the
    worst quarter of them. Not for measured flows. Nothing flowing at all gives 0.

    Source: Keller and Karmeli, Trickle irrigation design parameters, Trans. ASAE 17:678, 1974.

    Parameters
    ----------
    flow_l_h : float array, any shape
        Flow of one emitter at each place, as pressure makes it. NaN is left out. [L/h]
    cv : float
        Coefficient of variation by manufacture.
    emitters_per_vine : float
        e in the formula.

    >>> round(emission_uniformity_pct([1.9, 2.0, 2.1], 0.05, 2), 2)
    90.73
    """
    flow = _known(flow_l_h)
    mean = flow.mean()
    if mean <= 0:
        return 0.0
    spread = 1 - 1.27 * cv / np.sqrt(emitters_per_vine)
    return float(100 * max(spread, 0.0) * flow.min() / mean)


def distribution_uniformity_pct(flow_l_h) -> float:
    """Distribution uniformity of the low quarter: its mean flow, of the mean of all. [%]

    Exactly a quarter is taken: where the number of places is no multiple of four, the last counts
    in part. Source: Merriam and Keller, Farm irrigation system evaluation, 1978 (from memory).

    >>> distribution_uniformity_pct([1.0, 2.0, 2.0, 3.0])
    50.0
    """
    flow = np.sort(_known(flow_l_h))
    quarter = len(flow) / 4
    weight = np.clip(quarter - np.arange(len(flow)), 0.0, 1.0)
    mean = flow.mean()
    return float(100 * (flow @ weight) / quarter / mean) if mean > 0 else 0.0


def christiansen_f(
    n_outlets: int, exponent: float, first: Literal["full", "half"] = "full"
) -> float:
    """Friction in a pipe with equal outlets, of that in one which carries all its flow to the end.

    The exact sum, not the closed form of 1942, which exceeds 1 for one outlet; printed tables follow
    that form and differ by up to 0.001. For checking by hand: the solver needs no such factor, and
    outlets of equal flow are what it does not assume.

    Parameters
    ----------
    n_outlets : int
    exponent : float
        Of the flow in the friction law: 1.75, 1.852, 1.9, 2.
    first : "full" or "half"
        First outlet at one spacing from the inlet, or at half of one. The length that friction is
        told for then ends at the last outlet too.

    >>> round(christiansen_f(10, 1.852), 4), round(christiansen_f(10, 1.852, "half"), 4)
    (0.4022, 0.3707)
    """
    if n_outlets < 1:
        raise ValueError(f"n_outlets is {n_outlets}; it must be at least 1")
    if first not in ("full", "half"):
        raise ValueError(f"first is {first!r}; it must be full or half")
    share = (np.arange(1, n_outlets + 1) / n_outlets) ** exponent
    lead = 1.0 if first == "full" else 0.5
    return float((share[:-1].sum() + lead) / (n_outlets - 1 + lead))


def _known(flow_l_h) -> np.ndarray:
    flow = np.asarray(flow_l_h, dtype=float).ravel()
    flow = flow[~np.isnan(flow)]
    if not len(flow):
        raise ValueError("flow_l_h must hold at least one flow")
    return flow
