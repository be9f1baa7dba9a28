"""Edits of which plant and lot stands where, and parts of blocks as people type and read them."""

from __future__ import annotations

import datetime
import re
from dataclasses import replace

import numpy as np

from ..core.layout.numbering import place_of_code, segment_letter
from ..core.model import Assignment, InputProblem, Part, Plant, Project
from ..core.model.planting import USES
from ..core.planting.assigned import assigned, filled, parts_of_vines, vines_of_parts
from .planted import planting_of
from .selection import Selection
from .wording import listed

_LIKE = "B1, B1 rows 12-40, B1 rows 3-30 every 9, B1-R012A, B1-R012A-V001..V060"
ORDERS = ("rows", "back and forth")
_ROWS = re.compile(
    r"^(?P<block>.+?)[,:]?\s+(?:rows?|r)\s*(?P<first>\d+)(?:\s*(?:-|–|to|\.\.)\s*(?P<last>\d+))?"
    r"(?:\s+every\s+(?P<every>\d+)(?:st|nd|rd|th)?)?(?:[,]?\s+segment\s+(?P<letter>[A-Za-z]+))?"
    r"(?:[,]?\s+every\s+(?P<vine>\d+)(?:st|nd|rd|th)?\s+vine)?$",
    re.IGNORECASE,
)
_VINES = re.compile(
    r"^(?P<head>.+-R\d+[A-Za-z]*)(?:-V(?P<first>\d+)(?:\s*(?:\.\.|…|-|–|to)\s*(?:V?(?P<last>\d+)|(?P<end>end)))?)?"
    r"(?:[,]?\s+every\s+(?P<vine>\d+)(?:st|nd|rd|th)?\s+vine)?$",
    re.IGNORECASE,
)
_WHOLE = re.compile(
    r"^(?P<block>.+?)(?:[,]?\s+every\s+(?P<vine>\d+)(?:st|nd|rd|th)?\s+vine)?$", re.IGNORECASE
)


def typed_parts(text: str, project: Project) -> tuple[Part, ...]:
    """Parts of blocks as typed; a project of one block needs no name of it.

    Parameters
    ----------
    text : str
        "B1 rows 12-40", "B1 rows 3-30 every 9", "B1-R012A", "B1-R012A-V034..V060", "B1", each with
        "every 5th vine" behind it where that is meant; several with a semicolon.
    project : Project

    Raises
    ------
    InputProblem
        Where it is none, or there is no such block.
    """
    pieces = [piece.strip() for piece in text.split(";") if piece.strip()]
    if not pieces:
        raise InputProblem(f"Nothing is said of where: write it like {_LIKE}.")
    return tuple(_typed_part(piece, project) for piece in pieces)


def _typed_part(piece: str, project: Project) -> Part:
    blocks = {b.name.casefold(): b.name for b in project.blocks}
    if len(blocks) == 1 and re.match(r"^(rows?|r)\s*\d", piece, re.IGNORECASE):
        piece = f"{project.blocks[0].name} {piece}"
    whole = _WHOLE.match(piece)
    if whole and whole["block"].casefold() in blocks:
        return Part(blocks[whole["block"].casefold()], every_vine=int(whole["vine"] or 1))
    found = _VINES.match(piece)
    told = place_of_code(found["head"]) if found else None
    if told is not None:
        name = _block(blocks, told.block, piece)
        letter = "" if told.letter is None else segment_letter(told.letter)
        first = int(found["first"] or 1)
        last = int(found["last"]) if found["last"] else (first if found["first"] else None)
        if found["end"]:
            last = None
        return _part(piece, name, told.number, told.number, letter, first, last, 1, found["vine"])
    rows = _ROWS.match(piece)
    if rows is None:
        raise InputProblem(f"{piece!r} says no rows or vines: write it like {_LIKE}.")
    first, last = int(rows["first"]), int(rows["last"] or rows["first"])
    name = _block(blocks, rows["block"], piece)
    every = int(rows["every"] or 1)
    if rows["every"] and not rows["last"]:
        raise InputProblem(f"{piece!r}: say from which row to which, like rows 3-30 every 9.")
    letter = (rows["letter"] or "").upper()
    return _part(piece, name, first, last, letter, 1, None, every, rows["vine"])


def _part(piece, name, first_row, last_row, letter, first, last, every_row, every_vine) -> Part:
    try:
        if last_row < first_row or (last is not None and last < first):
            raise ValueError
        return Part(name, first_row, last_row, letter, first, last, every_row, int(every_vine or 1))
    except ValueError:
        raise InputProblem(
            f"{piece!r}: the first comes before the last, and counts begin with 1."
        ) from None


def _block(blocks: dict[str, str], name: str, piece: str) -> str:
    found = blocks.get(name.strip().casefold())
    if found is None:
        raise InputProblem(
            f"{piece!r}: there is no block {name.strip()}; there {'is' if len(blocks) == 1 else 'are'} "
            f"{listed(list(blocks.values()))}."
        )
    return found


def parts_text(parts: tuple[Part, ...]) -> str:
    """Parts as people read and type them.

    Examples
    --------
    >>> parts_text((Part("B1", 12, 40), Part("B1", 41, 41, "A", 1, 60)))
    'B1 rows 12-40; B1-R041A-V001..V060'
    """
    return "; ".join(map(_part_text, parts))


def _part_text(part: Part) -> str:
    every = f" every {_ordinal(part.every_vine)} vine" if part.every_vine > 1 else ""
    if part.first_row is None:
        return f"{part.block}{every}"
    some = part.first_vine > 1 or part.last_vine is not None
    if part.first_row == part.last_row and (part.letter or some):
        text = f"{part.block}-R{part.first_row:03d}{part.letter}"
        if some:
            last = "end" if part.last_vine is None else f"V{part.last_vine:03d}"
            single = part.last_vine == part.first_vine
            text += f"-V{part.first_vine:03d}" + ("" if single else f"..{last}")
        return text + every
    rows = f"row {part.first_row}"
    if part.last_row != part.first_row:
        rows = f"rows {part.first_row}-{part.last_row}"
    step = f" every {part.every_row}" if part.every_row > 1 else ""
    segment = f" segment {part.letter}" if part.letter else ""
    return f"{part.block} {rows}{step}{segment}{every}"


def _ordinal(n: int) -> str:
    """A count as an ordinal: 2nd, 3rd, 11th."""
    teen = 10 < n % 100 < 20
    return f"{n}{'th' if teen else {1: 'st', 2: 'nd', 3: 'rd'}.get(n % 10, 'th')}"


def parts_of_selection(selection: Selection) -> tuple[Part, ...]:
    """The rows that are selected; segments of one letter in rows with running numbers are one part."""
    parts: list[Part] = []
    for block, letter, number in sorted((b, k, n) for b, n, k in selection):
        last = parts[-1] if parts else None
        text = segment_letter(letter)
        if last and (last.block, last.letter, last.last_row) == (block, text, number - 1):
            parts[-1] = replace(last, last_row=number)
        else:
            parts.append(Part(block, number, number, text))
    return tuple(parts)


def vines_of_text(project: Project, plans, text: str) -> np.ndarray:
    """Vines that are meant by a text, counted as in `Assigned`.

    Raises
    ------
    InputProblem
        Where it says none, or none stands there.
    """
    vines = vines_of_parts(plans, typed_parts(text, project))
    if not len(vines):
        raise InputProblem(f"No vine stands at {text.strip()}: look at the rows on the plan.")
    return vines


def with_assignment(
    project: Project, parts: tuple[Part, ...], plant: Plant, lot: str = "", use: str = "crop"
) -> Project:
    """The project with a plant, and its lot where one is named, assigned to parts.

    Raises
    ------
    InputProblem
        Where there is no such lot, or it is of another plant, or the use is none.
    """
    if use not in USES:
        raise InputProblem(f"{use!r} is no use: {listed(USES, 'or')}.")
    if lot:
        known = planting_of(project).lot(lot)
        if known is None:
            raise _no_lot(project, lot)
        lot, plant = known.name, known.plant
    elif not plant.variety.strip():
        raise InputProblem("A plant needs a variety: Variety; clone; rootstock.")
    return _behind(project, Assignment(tuple(parts), plant, lot, use))


def _behind(project: Project, assignment: Assignment) -> Project:
    planting = planting_of(project)
    return replace(
        project, planting=replace(planting, assignments=(*planting.assignments, assignment))
    )


def _no_lot(project: Project, name: str) -> InputProblem:
    names = [lot.name for lot in planting_of(project).lots]
    there = (
        f"there {'is' if len(names) == 1 else 'are'} {listed(names)}" if names else "add it first"
    )
    return InputProblem(f"There is no lot {name.strip()!r}; {there}.")


def with_lot_on(project: Project, selection: Selection, lot_name: str) -> Project:
    """The project with a lot on the selected rows."""
    if not selection:
        raise InputProblem("No row is selected: Shift and a drag on the plan select some.")
    known = planting_of(project).lot(lot_name)
    if known is None:
        raise _no_lot(project, lot_name)
    return with_assignment(project, parts_of_selection(selection), known.plant, known.name)


def with_swap(
    project: Project, plans, vines, lot_name: str, reason: str, day: datetime.date | None
) -> Project:
    """The project with another lot at some vines than was assigned; what was assigned stays on record.

    Raises
    ------
    InputProblem
        Where there is no reason, no such lot, or nothing was assigned.
    """
    if not reason.strip():
        raise InputProblem("A swap needs its reason: say why another lot takes the place.")
    planting = planting_of(project)
    known = planting.lot(lot_name)
    if known is None:
        raise _no_lot(project, lot_name)
    found = assigned(plans, planting)
    vines = np.asarray(vines)
    if (found.assignment[vines] < 0).all():
        raise InputProblem(
            "Nothing is assigned there that could be swapped: assign the lot instead."
        )
    uses = {planting.assignments[i].use for i in np.unique(found.assignment[vines]) if i >= 0}
    use = uses.pop() if len(uses) == 1 else "crop"
    return _behind(
        project,
        Assignment(parts_of_vines(found, vines), known.plant, known.name, use, reason.strip(), day),
    )


def without_assignment(project: Project, i: int) -> Project:
    """The project with an assignment taken back; a swap stays: it is on record.

    Raises
    ------
    InputProblem
        Where it is a swap.
    """
    planting = planting_of(project)
    if planting.assignments[i].reason:
        raise InputProblem(
            "A swap stays on record: where it was a mistake, swap again and say so in its reason."
        )
    kept = planting.assignments[:i] + planting.assignments[i + 1 :]
    return replace(project, planting=replace(planting, assignments=kept))


def filled_from(project: Project, plans, lot_name: str, code: str, order: str = "rows") -> Project:
    """The project with a lot filled in from a vine on, until its plants are used up.

    Raises
    ------
    InputProblem
        Where there is no such lot or vine, or nothing of the lot is left.
    """
    planting = planting_of(project)
    lot = planting.lot(lot_name)
    if lot is None:
        raise _no_lot(project, lot_name)
    order = order.strip().lower() or "rows"
    if order not in ORDERS:
        raise InputProblem(f"{order!r} is no way of filling: {listed(ORDERS, 'or')}.")
    start = vines_of_text(project, plans, code)[0]
    found = assigned(plans, planting)
    has = lot.usable if lot.delivered else lot.ordered
    number = planting.lots.index(lot)
    left = has - int(np.count_nonzero(found.lot == number))
    if left <= 0:
        raise InputProblem(
            f"Nothing of lot {lot.name} is left: its {has:,} plants are assigned already."
        )
    mine = found.lot == number
    taken = replace(found, lot=np.where(mine, np.int16(len(planting.lots)), found.lot))
    parts = filled(taken, lot.name, int(start), left, order=order)
    if not parts:
        raise InputProblem(f"No vine from {code.strip()} on is free for lot {lot.name}.")
    return with_assignment(project, parts, lot.plant, lot.name)
