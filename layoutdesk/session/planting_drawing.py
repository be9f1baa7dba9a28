"""What there is to draw of planting, as arrays: a class for every vine, and what the classes mean."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

import numpy as np

from ..core.model.register import STATES
from ..core.planting.days import day_of_vines
from .day_words import weekday_text
from .planted import PlantingAnswer, lots_of_vines
from .tally import grouped

WAYS: dict[str, tuple[str, str]] = {
    # way: (what vines are coloured by, meaning)
    "plant": ("plant", "Variety, clone and rootstock that are assigned, or stand there by the register"),
    "variety": ("variety", "Variety alone"),
    "lot": ("lot", "Delivery that stands there by the register, else the one that is assigned"),
    "day": ("day", "Day it was planted by the register, else the day that is planned"),
    "state": ("state", "What stands there by the register"),
    "sample": ("sample", "Vines drawn for inspection, and what was found"),
}  # fmt: skip
_NONE = "nothing said"
_DAYS_AT_MOST = 12
"""More days than these are told in weeks."""


@dataclass(frozen=True)
class LegendEntry:
    """A class of vines: its label, how many there are, and its role.

    `role` is "" for one of many alike; "quiet" for vines of which nothing is said; "good", "amiss" and "noted"
    where the class itself says so.
    """

    label: str
    count: int
    role: str = ""


@dataclass(frozen=True, eq=False)
class PlantingDrawing:
    """Vines of all plans to be painted by their class.

    Attributes
    ----------
    by : str
        Of WAYS.
    vine_xy_m : float array, shape (v, 2)
        Site frame, plan after plan. [m]
    vine_class : int16 array, shape (v,)
        Index of `legend`.
    legend : tuple of LegendEntry
    """

    by: str
    vine_xy_m: np.ndarray
    vine_class: np.ndarray
    legend: tuple[LegendEntry, ...]


def planting_drawing(answer: PlantingAnswer, by: str) -> PlantingDrawing:
    """Vines by one of WAYS; classes without a vine are left out."""
    classes, labels, roles = _CLASSES[by](answer)
    n = len(labels)
    classes = np.where(classes < 0, n, classes).astype(np.intp)
    labels, roles = [*labels, _NONE], [*roles, "quiet"]
    counts = np.bincount(classes, minlength=n + 1)
    kept = np.flatnonzero(counts)
    number = np.zeros(n + 1, np.int16)
    number[kept] = np.arange(len(kept))
    xy = [plan.vines.xy_m for plan in answer.plans]
    legend = tuple(LegendEntry(labels[k], int(counts[k]), roles[k]) for k in kept.tolist())
    return PlantingDrawing(
        by, np.concatenate(xy) if xy else np.empty((0, 2)), number[classes], legend
    )


def legend_words(entry: LegendEntry) -> str:
    """A class as the legend tells it.

    Examples
    --------
    >>> legend_words(LegendEntry("lot A", 1240)).replace("\u202f", " ")
    'lot A: 1 240'
    """
    return f"{entry.label}: {grouped(entry.count)}"


def _by_lot(answer: PlantingAnswer):
    lot, names = lots_of_vines(answer.assigned, answer.standing, answer.matching)
    return lot, [f"lot {name}" for name in names], [""] * len(names)


def _plants(answer: PlantingAnswer):
    """Plant of each vine, as it stands where that is on record, else as assigned; and all plants."""
    plants = list(answer.assigned.plants)
    plant = answer.assigned.plant.astype(np.int32)
    now, match = answer.standing, answer.matching
    if now is None or not len(now.register.lots):
        return plant, plants
    of_lot = np.empty(len(now.register.lots), np.int32)
    for i, lot in enumerate(now.register.lots):
        if lot.plant not in plants:
            plants.append(lot.plant)
        of_lot[i] = plants.index(lot.plant)
    known = match.place >= 0
    lots = now.lot[match.place[known]]
    plant[known] = np.where(lots >= 0, of_lot[lots], plant[known])
    return plant, plants


def _by_plant(answer: PlantingAnswer):
    plant, plants = _plants(answer)
    return plant, [str(p) for p in plants], [""] * len(plants)


def _by_variety(answer: PlantingAnswer):
    plant, plants = _plants(answer)
    names = list(dict.fromkeys(p.variety for p in plants))
    of_plant = np.array([names.index(p.variety) for p in plants] or [-1], np.int32)
    return np.where(plant >= 0, of_plant[plant], -1), names, [""] * len(names)


def _by_state(answer: PlantingAnswer):
    state = np.zeros(len(answer.assigned.plant), np.int32)
    if answer.standing is not None:
        known = answer.matching.place >= 0
        state[known] = answer.standing.state[answer.matching.place[known]]
    roles = {"planted": "good", "replanted": "noted", "missing": "amiss", "dead": "amiss"}
    return state, list(STATES), [roles.get(s, "quiet") for s in STATES]


def _by_day(answer: PlantingAnswer):
    ordinal = np.zeros(len(answer.assigned.plant), np.int64)
    if answer.days is not None:
        days = np.array([0, *(d.day.toordinal() for d in answer.days.days)])
        ordinal = days[day_of_vines(answer.assigned, answer.days)]
    if answer.standing is not None:
        known = answer.matching.place >= 0
        stood = answer.standing.planted[answer.matching.place[known]]
        ordinal[known] = np.where(stood > 0, stood, ordinal[known])
    days = np.unique(ordinal[ordinal > 0])
    weekly = len(days) > _DAYS_AT_MOST
    if weekly:
        ordinal = np.where(ordinal > 0, ordinal - (ordinal - 1) % 7, 0)  # the Monday of each
        days = np.unique(ordinal[ordinal > 0])
    texts = (weekday_text(datetime.date.fromordinal(int(d)), short=True) for d in days)
    labels = [f"week of {text}" if weekly else text for text in texts]
    found = np.searchsorted(days, ordinal)
    return np.where(ordinal > 0, found, -1), labels, [""] * len(days)


def _by_sample(answer: PlantingAnswer):
    classes = np.full(len(answer.assigned.plant), -1, np.int32)
    classes[answer.sample.vines] = 0
    now = answer.standing
    if now is not None:
        place = answer.matching.place
        known = place >= 0
        looked = np.zeros(len(classes), bool)
        looked[known] = now.checked[place[known]]
        faulty = np.zeros(len(classes), bool)
        faulty[known] = now.faults[place[known]] > 0
        classes[looked] = 1
        classes[faulty] = 2
    return classes, ["to be inspected", "inspected, right", "to be put right"], ["noted", "good", "amiss"]  # fmt: skip


_CLASSES = {
    "plant": _by_plant,
    "variety": _by_variety,
    "lot": _by_lot,
    "day": _by_day,
    "state": _by_state,
    "sample": _by_sample,
}
