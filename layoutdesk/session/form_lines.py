"""Lines of filled forms: what each says of its vine as events, and what becomes of it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..core.model import Lot
from ..core.model.planting import CHECKS
from ..core.model.register import WHAT
from ..formats.reading.field_forms import NOT_LOOKED_AT, WRONG, FormTable, by_cell, is_yes
from .form_vines import FormVines
from .record_words import cause_named

OUTCOMES: dict[str, str] = {
    # outcome: what became of a line
    "taken": "it is on record now",
    "same": "it was on record already, or another line says the same",
    "empty": "nothing is filled in",
    "clash": "it contradicts the plan, the register or another line: nothing of it is taken",
    "not read": "it cannot be read: nothing of it is taken",
    "told": "something about the whole file",
}


class FormLines:
    """Lines of all forms of a run, counted through one form after another, and their outcomes.

    Attributes
    ----------
    forms : tuple of FormTable
    offsets : int array
        First line of each form.
    outcome, words : list of str
        Of OUTCOMES; empty while nothing is settled of a line.
    told : list of list of str
        What is said of each form as a whole.
    """

    def __init__(self, forms: Sequence[FormTable]):
        self.forms = tuple(forms)
        self.offsets = np.cumsum([0, *map(len, forms)])
        n = int(self.offsets[-1])
        self.outcome, self.words = [""] * n, [""] * n
        self.told = [list(form.remarks) for form in forms]

    def say(self, line: int, outcome: str, words: str) -> None:
        """Settle a line; the first that is said of it holds."""
        if not self.outcome[line]:
            self.outcome[line], self.words[line] = outcome, words

    def place_of(self, line: int) -> tuple[FormTable, int]:
        """The form of a line, and its row there."""
        f = int(np.searchsorted(self.offsets, line, side="right")) - 1
        return self.forms[f], int(line - self.offsets[f])

    def where(self, line: int) -> str:
        """A line in words."""
        form, i = self.place_of(line)
        return f"line {int(form.line[i])} of {form.name}"

    def note(self, line: int) -> str:
        """The remark on a line."""
        form, i = self.place_of(line)
        return form.note[i]

    def tell_of_form(self, f: int, revision: str, strange, by_place: bool) -> None:
        """Say once of a form that it is of another revision, and that not everything was looked at."""
        form = self.forms[f]
        if strange.any():
            cells = form.cells.get("plan", [""] * len(form))
            marks = sorted({cells[i] for i in np.flatnonzero(strange).tolist()} - {""})
            is_of = (
                f"is of another revision of the plan ({', '.join(marks[:3])}; the plan is {revision} now)"
                if marks
                else f"does not say which revision of the plan it is of (the plan is {revision})"
            )
            place = " and by the places that it has" if by_place else ""
            self.told[f].append(f"It {is_of}: vines are known by their codes{place}.")
        looked_at = form.checks != NOT_LOOKED_AT
        partly = int((looked_at.any(axis=1) & ~looked_at.all(axis=1)).sum())
        if partly and all(item in form.meanings for item in CHECKS):
            vines = "vine" if partly == 1 else "vines"
            self.told[f].append(f"At {partly:,} {vines} not everything was looked at.")


class LineEvents:
    """Turns lines into events, as tuples in the order of `FormEvents`.

    Parameters
    ----------
    lines : FormLines
    lots : sequence of Lot
        Those of the project first, `n_lots` of them, then those that only the register knows.
    n_lots : int
    assigned : int array, shape (n,)
        Lot that is assigned to each vine, -1 for none.
    causes : list of str
        Causes on record; new ones are put behind them.
    default_day : int
        Ordinal of the day of lines that say none, 0 for none.

    Attributes
    ----------
    not_planted : list of (int, int, int)
        Line, vine and day of what is said not to be planted; yet to be settled.
    """

    def __init__(
        self,
        lines: FormLines,
        lots: Sequence[Lot],
        n_lots: int,
        assigned: np.ndarray,
        causes: list[str],
        default_day: int,
    ):
        self.lines, self.lots, self.n_lots = lines, lots, n_lots
        self.assigned, self.causes, self.default_day = assigned, causes, default_day
        self.not_planted: list[tuple[int, int, int]] = []
        self._cause_of = {word.casefold(): i for i, word in enumerate(causes)}
        self._lot_of = {lot.name.casefold(): i for i, lot in enumerate(lots)}

    def of_form(self, f: int, finder: FormVines) -> list[tuple[int, ...]]:
        """Events of a form; lines that say none, or something amiss, are settled."""
        form, offset, say = self.lines.forms[f], int(self.lines.offsets[f]), self.lines.say
        vines, astray, strange, incomplete = finder.found(form)
        none = [""] * len(form)
        lots, planted_lots, causes = (
            form.cells.get(k, none) for k in ("lot", "lot_planted", "cause")
        )
        reworked = by_cell(form.cells.get("reworked", none), lambda cell: bool(is_yes(cell)))
        seen = (form.checks != NOT_LOOKED_AT).any(axis=1)
        bits = ((form.checks == WRONG) * (1 << np.arange(len(CHECKS)))).sum(axis=1).tolist()
        days = np.where(form.days.ordinal == 0, self.default_day, form.days.ordinal).tolist()
        parts: list[tuple[int, ...]] = []
        filled = np.zeros(len(form), bool)
        for i in range(len(form)):
            state = form.state[i]
            filled[i] = (
                state != "" or bool(planted_lots[i] or causes[i]) or bool(seen[i]) or reworked[i]
            )
            if not filled[i]:
                if form.note[i]:
                    words = "nothing is filled in but a remark: write what was seen beside it"
                    say(offset + i, "not read", words)
                else:
                    say(offset + i, "empty", "nothing is filled in")
            elif i in form.why:
                say(offset + i, "not read", form.why[i])
            elif vines[i] < 0:
                outcome = "clash" if strange[i] and not incomplete[i] else "not read"
                say(offset + i, outcome, astray.get(i, f"there is no vine {form.code[i]}"))
            else:
                parts += self._said(
                    offset + i, int(vines[i]), state, lots[i], planted_lots[i], causes[i],
                    bits[i] if seen[i] else None, reworked[i], days[i],
                    "lot_planted" not in form.meanings,
                )  # fmt: skip
        self.lines.tell_of_form(f, finder.mark, strange & filled, form.places is not None)
        return parts

    def _said(
        self, line, vine, state, lot, planted_lot, cause, faults, reworked, day, lot_is_seen
    ) -> list[tuple[int, ...]]:
        """Events of a line; none where something of it is amiss, which is said then."""
        say = self.lines.say
        if state == "" and planted_lot:
            state = "planted"
        if state == "" and cause:
            say(line, "not read", "it has a cause and no state: write missing or dead beside it")
            return []
        if state == "not planted":
            if faults is None and not reworked:
                self.not_planted.append((line, vine, day))
            else:
                say(line, "clash", "it says not planted, and what was seen at the plant")
            return []
        set_lot = seen_lot = -1
        if state in ("planted", "replanted"):
            set_lot = beside = self._lot_set(line, vine, lot, planted_lot)
        else:
            text = planted_lot or (lot if lot_is_seen else "")
            seen_lot = beside = self._lot_number(line, text) if text else -1
        if self.lines.outcome[line]:
            return []
        number = self._cause_number(cause, state) if state in ("missing", "dead") else -1
        said = []
        if state:
            said.append((line, vine, WHAT[state], day, set_lot, number, 0, seen_lot))
        if faults is not None:
            said.append((line, vine, WHAT["checked"], day, -1, -1, faults, beside))
        if reworked:
            said.append((line, vine, WHAT["reworked"], day, -1, -1, 0, beside))
        return said

    def _lot_set(self, line: int, vine: int, lot: str, planted_lot: str) -> int:
        """Lot that was planted: the one written, else the one assigned, where form and plan agree."""
        if planted_lot:
            return self._lot_number(line, planted_lot, is_planted=True)
        planned = int(self.assigned[vine])
        if not lot:
            return planned
        number = self._lot_number(line, lot, is_planted=True)
        if planned >= 0 and number >= 0 and planned != number:
            name = self.lots[planned].name
            words = (
                f"the form has lot {lot} assigned, and the plan lot {name}: write which was planted"
            )
            self.lines.say(line, "clash", words)
        return number

    def _lot_number(self, line: int, name: str, *, is_planted: bool = False) -> int:
        number = self._lot_of.get(name.strip().casefold(), -1)
        if number < 0 or (is_planted and number >= self.n_lots):
            words = f"there is no lot {name!r}: correct its name, or add it to the lots"
            self.lines.say(line, "clash", words)
        return number

    def _cause_number(self, cause: str, state: str) -> int:
        words = cause_named(cause, state)
        if not words:
            return -1
        known = self._cause_of.setdefault(words.casefold(), len(self.causes))
        if known == len(self.causes):
            self.causes.append(words)
        return known
