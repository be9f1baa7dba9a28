"""Edits of which plant and lot stands where: assigned, filled in from a vine on, swapped, taken back."""

from __future__ import annotations

import datetime
from dataclasses import replace

import numpy as np

from ..core.model import Assignment, InputProblem, Lot, Part, Plant, Project
from ..core.model.planting import USES
from ..core.planting.assigned import Assigned, assigned, filled, parts_of_vines, vines_of_parts
from .part_words import parts_of_selection, parts_text, typed_parts, vines_of_text
from .planted import planting_of
from .selection import Selection
from .wording import listed

__all__ = [
    "ORDERS", "filled_from", "known_lot", "parts_of_selection", "parts_of_vines", "parts_text", "typed_parts",
    "vines_of_text", "with_assignment", "with_lot_on", "with_swap", "without_assignment",
]  # fmt: skip

ORDERS = ("rows", "back and forth")
"""Ways of filling rows."""


def known_lot(project: Project, name: str) -> Lot:
    """The lot of that name.

    Raises
    ------
    InputProblem
        Where the project has none.
    """
    planting = planting_of(project)
    lot = planting.lot(name)
    if lot is None:
        names = [known.name for known in planting.lots[:8]]
        there = (
            f"there {'is' if len(names) == 1 else 'are'} {listed(names)}"
            if names
            else "add it first"
        )
        raise InputProblem(f"There is no lot {name.strip()!r}; {there}.")
    return lot


def with_assignment(
    project: Project, parts: tuple[Part, ...], plant: Plant, lot: str = "", use: str = "crop"
) -> Project:
    """The project with a plant, and its lot where one is named, assigned to parts.

    It goes before all that were planned earlier, and behind swaps: these stay in effect. A lot is of its own
    plant, whatever is given.

    Raises
    ------
    InputProblem
        Where there is no such lot, no variety, no part or no such use.
    """
    if use not in USES:
        raise InputProblem(f"{use!r} is no use: {listed(USES, 'or')}.")
    if not parts:
        raise InputProblem("No row and no vine is named that a plant could be assigned to.")
    if lot.strip():
        known = known_lot(project, lot)
        lot, plant = known.name, known.plant
    elif not plant.variety.strip():
        raise InputProblem("A plant needs a variety: Variety; clone; rootstock.")
    return _planned(project, (Assignment(tuple(parts), plant, lot, use),))


def _planned(project: Project, more: tuple[Assignment, ...]) -> Project:
    """The project with assignments behind those that were planned and before all swaps."""
    planting = planting_of(project)
    planned = tuple(a for a in planting.assignments if not a.reason)
    swaps = tuple(a for a in planting.assignments if a.reason)
    return replace(project, planting=replace(planting, assignments=(*planned, *more, *swaps)))


def with_lot_on(project: Project, selection: Selection, lot_name: str, plans=None) -> Project:
    """The project with a lot on the selected rows."""
    if not selection:
        raise InputProblem("No row is selected: Shift and a drag on the plan select some.")
    known = known_lot(project, lot_name)
    return with_assignment(project, parts_of_selection(selection, plans), known.plant, known.name)


def with_swap(
    project: Project, plans, vines, lot_name: str, reason: str, day: datetime.date | None
) -> Project:
    """The project with another lot at some vines than was assigned; what was assigned stays on record.

    Vines stay what they are for: buffer, pollinator and trial vines are swapped as such.

    Parameters
    ----------
    project : Project
    plans : sequence of RowPlan
    vines : int array, shape (n,)
        As vines are counted in `Assigned`.
    lot_name, reason : str
    day : datetime.date or None

    Raises
    ------
    InputProblem
        Where there is no reason, no such lot, nothing was assigned, or all of it is of that lot already.
    """
    if not reason.strip():
        raise InputProblem("A swap needs its reason: say why another lot takes the place.")
    known, planting = known_lot(project, lot_name), planting_of(project)
    found = assigned(plans, planting)
    vines = np.unique(np.asarray(vines, np.intp))
    if (found.assignment[vines] < 0).all():
        raise InputProblem(
            "Nothing is assigned there that could be swapped: assign the lot instead."
        )
    if (found.lot[vines] == planting.lots.index(known)).all():
        raise InputProblem(f"Lot {known.name} is assigned there already.")
    swaps = tuple(
        Assignment(parts_of_vines(plans, some), known.plant, known.name, use, reason.strip(), day)
        for use, some in _by_use(found, vines)
    )
    assignments = (*planting.assignments, *swaps)
    return replace(project, planting=replace(planting, assignments=assignments))


def _by_use(found: Assigned, vines: np.ndarray):
    """Vines by what they are for; crop where nothing is assigned."""
    use = np.array([*(USES.index(a.use) for a in found.planting.assignments), 0])
    of_vine = use[found.assignment[vines].astype(np.intp)]
    for u in np.unique(of_vine).tolist():
        yield USES[u], vines[of_vine == u]


def without_assignment(project: Project, i: int) -> Project:
    """The project with an assignment taken back.

    Raises
    ------
    InputProblem
        Where it is a swap, or a swap tells what took its place: both stay on record.
    """
    planting = planting_of(project)
    taken, others = planting.assignments[i], planting.assignments
    if taken.reason:
        raise InputProblem(
            "A swap stays on record: where it was a mistake, swap again and say so in its reason."
        )
    swaps = [a for a in others if a.reason]
    if any(_may_meet(part, other) for part in taken.parts for s in swaps for other in s.parts):
        raise InputProblem(
            "Vines of it were swapped, so it stays on record as what was planned: assign something else over "
            "it for the others."
        )
    return replace(project, planting=replace(planting, assignments=others[:i] + others[i + 1 :]))


def _may_meet(one: Part, other: Part) -> bool:
    """Whether two parts can have a vine in common, whatever stands in the rows."""
    if one.block != other.block or (one.letter and other.letter and one.letter != other.letter):
        return False
    rows = [_span(p.first_row, p.last_row) for p in (one, other)]
    vines = [(p.first_vine, np.inf if p.last_vine is None else p.last_vine) for p in (one, other)]
    return all(a[0] <= b[1] and b[0] <= a[1] for a, b in (rows, vines))


def _span(first: int | None, last: int | None) -> tuple[float, float]:
    return (-np.inf, np.inf) if first is None else (min(first, last), max(first, last))


def filled_from(project: Project, plans, lot_name: str, code: str, order: str = "rows") -> Project:
    """The project with a lot filled in from a vine on, until its plants are used up.

    Vines of another plant or lot are passed over, and what vines are for stays as it was.

    Raises
    ------
    InputProblem
        Where there is no such lot or vine, nothing of the lot is left, or no vine is free for it.
    """
    lot, planting = known_lot(project, lot_name), planting_of(project)
    order = order.strip().lower() or ORDERS[0]
    if order not in ORDERS:
        raise InputProblem(f"{order!r} is no way of filling: {listed(ORDERS, 'or')}.")
    start = int(vines_of_text(project, plans, code)[0])
    found = assigned(plans, planting)
    has = lot.usable if lot.delivered else lot.ordered
    mine = found.lot == planting.lots.index(lot)
    left = has - int(np.count_nonzero(mine))
    if not has:
        raise InputProblem(f"Nobody said how many plants lot {lot.name} has: say it first.")
    if left <= 0:
        raise InputProblem(
            f"Nothing of lot {lot.name} is left: its {has:,} plants are assigned already."
        )
    # Vines that are of the lot already have their plants: they are passed over like those of others.
    others = replace(found, lot=np.where(mine, np.int16(len(planting.lots)), found.lot))
    parts = filled(others, lot.name, start, left, order=order)
    if not parts:
        raise InputProblem(f"No vine from {code.strip()} on is free for lot {lot.name}.")
    vines = vines_of_parts(plans, parts)
    more = tuple(
        Assignment(parts_of_vines(plans, some), lot.plant, lot.name, use)
        for use, some in _by_use(found, vines)
    )
    return _planned(project, more)
