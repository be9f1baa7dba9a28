"""Which vines of the plans the lines of filled forms are about."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import cached_property

import numpy as np

from ..core.layout.numbering import segment_code
from ..core.model import InputProblem, Project, RowPlan
from ..core.planting.matching import LEAST_REACH_M
from ..core.planting.on_record import codes_on_record, place_on_record
from ..core.planting.standing import Matching
from ..formats.reading.field_forms import FormTable
from .vine_places import code_of_vine, vine_of_index

NOWHERE = -1


class FormVines:
    """Finds the vines that forms name on the plans of a project.

    Parameters
    ----------
    project : Project
    plans : sequence of RowPlan
    match : Matching or None
        Of the project's register, where it has one.
    mark : str
        Of the plan as it is.
    """

    def __init__(
        self, project: Project, plans: Sequence[RowPlan], match: Matching | None, mark: str
    ):
        self.project, self.plans, self.match, self.mark = project, plans, match, mark
        self._segments: dict[tuple[str, int], dict[int, int]] = {}
        offset = 0
        for plan in plans:
            s, block = plan.segments, _block(plan.block.name)
            for i, (row, letter) in enumerate(
                zip(s.number.tolist(), s.letter.tolist(), strict=True)
            ):
                self._segments.setdefault((block, row), {})[letter] = offset + i
            offset += plan.n_segments
        self._blocks = {_block(plan.block.name) for plan in plans}
        self._former = self._former_names()
        counts = [plan.vines_of_segment for plan in plans]
        segment = np.repeat(np.arange(offset), np.concatenate([np.empty(0, int), *counts]))
        index = np.concatenate([np.empty(0, np.int64), *(plan.vines.index for plan in plans)])
        self._keys = (segment.astype(np.int64) << 32) | index
        step = [plan.segments.vine_step_m for plan in plans]
        self._reach = np.fmax(np.concatenate([np.empty(0), *step])[segment] / 4, LEAST_REACH_M)

    def _former_names(self) -> dict[str, str]:
        """Names that blocks had when something was recorded of them, and what they are called now."""
        register, found = self.project.register, {}
        if register is not None:
            for names in register.block_names:
                for old in names[1:]:
                    found.setdefault(_block(old), _block(names[0]))
        return {old: new for old, new in found.items() if old not in self._blocks}

    def found(self, form: FormTable) -> tuple[np.ndarray, dict[int, str], np.ndarray, np.ndarray]:
        """Vines of a form's lines, as counted in `Assigned`; NOWHERE where a line names none.

        Returns
        -------
        vine : int array, shape (n,)
        why : mapping of int to str
            Why a line names none, though its code can be read.
        strange : bool array, shape (n,)
            Lines of another revision of the plan than this one, and of none that is said.
        incomplete : bool array, shape (n,)
            Lines that leave open which block or segment they are about.
        """
        strange = self.is_strange(form)
        segments = np.full(len(form), NOWHERE, np.int64)
        incomplete = np.zeros(len(form), bool)
        why: dict[int, str] = {}
        readable = (form.row >= 0) & (form.vine >= 0)
        known: dict[tuple[str, int, int], int | str] = {}
        keys = zip(form.block, form.row.tolist(), form.letter.tolist(), strict=True)
        for i, key in enumerate(keys):
            if not readable[i]:
                continue
            if key not in known:
                known[key] = self._segment(*key)
            if isinstance(known[key], str):
                why[i] = known[key]
                incomplete[i] = not key[0] or key[2] < 0
            else:
                segments[i] = known[key]
        wanted = (segments << 32) | form.vine
        at = np.minimum(np.searchsorted(self._keys, wanted), max(len(self._keys) - 1, 0))
        there = (segments >= 0) & (self._keys[at] == wanted) if len(self._keys) else segments >= 0
        vine = np.where(there, at, NOWHERE)
        for i in np.flatnonzero(readable & ~there).tolist():
            why[i] = self._elsewhere(form, i) or why.get(
                i, f"there is no vine {form.code[i]} on the plan"
            )
        for i in np.flatnonzero(there & strange).tolist():
            other = self._other_code(int(vine[i]))
            if other:
                why[i] = other
        for i, away in self._apart(form, vine, strange):
            why.setdefault(i, away)
        vine[list(why)] = NOWHERE
        return vine, why, strange, incomplete

    def codes(self, vines: np.ndarray) -> list[str]:
        """Codes of vines as they are on record, else as the plan has them."""
        heads = [
            segment_code(plan.block.name, row, letter)
            for plan in self.plans
            for row, letter in zip(
                plan.segments.number.tolist(), plan.segments.letter.tolist(), strict=True
            )
        ]
        keys = self._keys[vines].tolist()
        found = [f"{heads[key >> 32]}-V{key & 0xFFFFFFFF:03d}" for key in keys]
        if self.match is not None:
            place = self.match.place[vines]
            known = np.flatnonzero(place >= 0).tolist()
            then = codes_on_record(self.project.register, place[known])
            for i, code in zip(known, then, strict=True):
                found[i] = code
        return found

    def is_strange(self, form: FormTable) -> np.ndarray:
        """Which lines do not carry the mark of the plan as it is."""
        marks = form.cells.get("plan")
        if marks is None:
            return np.ones(len(form), bool)
        # A spreadsheet drops zeros in front of marks that happen to be figures.
        mine = self.mark.casefold().lstrip("0")
        return np.array([mark.casefold().lstrip("0") != mine for mark in marks], bool)

    def _segment(self, block: str, row: int, letter: int) -> int | str:
        name = _block(block)
        name = self._former.get(name, name)
        if not name and len(self._blocks) == 1:
            name = next(iter(self._blocks))
        if name not in self._blocks:
            told = f"there is no block {block}" if name else "the block is not said"
            return f"{told}: blocks are {', '.join(plan.block.name for plan in self.plans)}"
        letters = self._segments.get((name, row), {})
        if letter in letters:
            return letters[letter]
        shown = segment_code(block.upper() or name, row, max(letter, 0))
        if letter < 0 and len(letters) == 1:
            return next(iter(letters.values()))
        if letter < 0 and letters:
            return (
                f"row {shown[:-1]} has {len(letters)} segments: write the letter, such as {shown}"
            )
        return f"there is no row {shown if letter >= 0 else shown[:-1]} on the plan"

    def _elsewhere(self, form: FormTable, i: int) -> str:
        """Where a code that is only on record stands on the plan as it is."""
        register = self.project.register
        if register is None or self.match is None or form.letter[i] < 0:
            return ""
        code = f"{segment_code(form.block[i], int(form.row[i]), int(form.letter[i]))}-V{form.vine[i]:03d}"
        place = place_on_record(register, code)
        if place is None:
            return ""
        vines = np.flatnonzero(self.match.place == place)
        if not len(vines):
            return f"{form.code[i]} is on record, and the plan has no vine there any more"
        return f"{form.code[i]} is called {self._code(int(vines[0]))} on this plan: write that"

    def _other_code(self, vine: int) -> str:
        """Why a code of another revision does not say which vine is meant."""
        if self.match is None:
            return ""
        if vine in self._renamed:
            then = codes_on_record(self.project.register, [int(self.match.place[vine])])[0]
            return (
                f"the form is of another revision of the plan, and {self._code(vine)} is on record as "
                f"{then}: write its code on this plan, and this plan's mark {self.mark}"
            )
        return ""

    @cached_property
    def _renamed(self) -> frozenset[int]:
        return frozenset(self.match.renamed.tolist())

    def _code(self, vine: int) -> str:
        return code_of_vine(self.plans, vine_of_index(self.plans, vine))

    def _apart(self, form: FormTable, vine: np.ndarray, strange: np.ndarray):
        """Lines of another revision whose vine stands elsewhere on this plan than the form has it."""
        which = np.flatnonzero(strange & (vine >= 0))
        if form.places is None or not len(which):
            return
        xy = places_in_frame(self.project, form, which)
        if xy is None:
            return
        plan_xy = np.concatenate([plan.vines.xy_m for plan in self.plans])[vine[which]]
        away = np.hypot(*(xy - plan_xy).T)
        for k in np.flatnonzero(away > self._reach[vine[which]]).tolist():
            i = int(which[k])
            yield (
                i,
                f"the form is of another revision of the plan: {form.code[i]} stands {away[k]:.1f} m "
                f"away now; write the code of the vine that was meant, and this plan's mark {self.mark}",
            )


def places_in_frame(project: Project, form: FormTable, which) -> np.ndarray | None:
    """Places of some lines in the site frame, shape (n, 2); None where their system is not known. [m]"""
    from ..formats.crs import crs_named, to_frame

    try:
        crs = crs_named(form.places_in)
    except InputProblem:
        return None
    xy = to_frame(crs, project.site.frame)(form.places[which])
    return np.where(np.isfinite(xy), xy, np.nan)


def _block(name: str) -> str:
    """A block's name as it is compared: case, blanks and dashes do not matter."""
    return re.sub(r"[\s_\-]+", " ", name).strip().upper()
