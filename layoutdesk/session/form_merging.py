"""Filled field forms merged into the register, told line by line; what is not clear is not taken."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..core.model import Planting, Project, RowPlan
from ..core.model.register import WHAT
from ..core.planting.assigned import assigned
from ..formats.project_file import plan_mark
from ..formats.reading.field_forms import FormTable, read_form
from .form_events import (
    FormEvents,
    contradictions,
    event_words,
    first_alike,
    on_record_already,
    refused,
)
from .form_leftovers import leftover_text
from .form_lines import OUTCOMES, FormLines, LineEvents
from .form_vines import FormVines
from .record_rules import NOT_PLANTED, vine_states
from .record_words import NOTE_MARK, although_words, day_words, other_lot_words
from .recording import with_events


@dataclass(frozen=True)
class MergedLine:
    """What became of a line of a form; line 0 is about the whole file.

    `outcome` is one of OUTCOMES; `words` say what was taken, or what is wrong and what to do.

    Examples
    --------
    >>> print(MergedLine("rows.csv", 7, "B1-R001A-V003", "clash", "it is on record as dead"))
    rows.csv, line 7: B1-R001A-V003 clash: it is on record as dead
    """

    file: str
    line: int
    code: str
    outcome: str
    words: str

    def __str__(self) -> str:
        if not self.line:
            return f"{self.file}: {self.words}"
        code = f" {self.code}" if self.code else ""
        return f"{self.file}, line {self.line}:{code} {self.outcome}: {self.words}"


@dataclass(frozen=True, eq=False)
class Merged:
    """Forms as merged: the project with what was taken, and a line for every line of theirs.

    Attributes
    ----------
    project : Project
        The one that was given where nothing is taken.
    lines : tuple of MergedLine
    forms : tuple of FormTable
    left : tuple of (int, int, str)
        Form and row of the lines that were not taken, and what is wrong.
    """

    project: Project
    lines: tuple[MergedLine, ...]
    forms: tuple[FormTable, ...]
    left: tuple[tuple[int, int, str], ...]

    @property
    def counts(self) -> dict[str, int]:
        """Lines by outcome, what is about whole files aside."""
        found = dict.fromkeys((o for o in OUTCOMES if o != "told"), 0)
        for line in self.lines:
            if line.line:
                found[line.outcome] += 1
        return found

    def leftover_csv(self) -> str:
        """Lines that were not taken, as CSV to be corrected and read again, with what to do; "" for none."""
        return leftover_text(self.forms, self.left)


def merge_forms(
    project: Project,
    plans: Sequence[RowPlan],
    paths: Sequence,
    *,
    by: str,
    when: str,
    today: datetime.date,
    revision: str = "",
    day: datetime.date | None = None,
    although: str = "",
) -> Merged:
    """The project with everything on record that filled forms say clearly; one entry a form.

    A line is taken whole or not at all. Reading a form twice changes nothing. Lines of another revision of
    the plan are taken where their code still stands at the same place, as far as form and register can
    tell.

    Parameters
    ----------
    project : Project
    plans : sequence of RowPlan
        As the project is laid.
    paths : sequence of paths
    by : str
        Who reads the forms in; who filled them goes before, where a form says that.
    when : str
        Now, ISO 8601 with its offset.
    today : datetime.date
        Nothing of a later day is taken.
    revision : str
        Mark of the plan; that of the project where it is not given.
    day : datetime.date, optional
        For lines that say none.
    although : str
        Why lots were planted before all of their tags were recorded.

    Raises
    ------
    InputProblem
        Where a file cannot be read at all; nothing of the others is taken then.
    """
    lines = FormLines([read_form(path) for path in paths])
    mark = revision or plan_mark(project)
    return _Merging(project, tuple(plans), lines, mark, today, day, although).merged(by, when)


class _Merging:
    """One run over lines of all forms."""

    def __init__(self, project, plans, lines: FormLines, mark, today, day, although):
        self.project, self.plans, self.lines, self.mark = project, plans, lines, mark
        self.today, self.although = today, although
        self.states, self.match, self.now = vine_states(project, plans, although)
        planting = project.planting or Planting()
        self.wanted = assigned(plans, planting).lot
        self.causes = list(project.register.words) if project.register is not None else []
        self.finder = FormVines(project, plans, self.match, mark)
        default = day.toordinal() if day is not None else 0
        self.reading = LineEvents(
            lines, self.states.lots, len(planting.lots), self.wanted, self.causes, default
        )  # fmt: skip
        self._twins: dict[int, int] = {}

    def merged(self, by: str, when: str) -> Merged:
        parts = [self.reading.of_form(f, self.finder) for f in range(len(self.lines.forms))]
        events = self._without_known(FormEvents.of([event for form in parts for event in form]))
        events = self._without_twins(events)
        why = refused(events, self.states, self.today)
        for line, words in why.items():
            self.lines.say(line, "clash", words)
        events = events.taken(~np.isin(events.line, list(why)))
        self._tell_taken(events)
        self._settle_twins()
        self._settle_not_planted(events)
        return self._told(self._recorded(events, by, when))

    def _without_known(self, events: FormEvents) -> FormEvents:
        """Without what is on record already; what was taken back, or found otherwise, is told."""
        say = self.lines.say
        same, back, other = on_record_already(
            events, self.project.register, self.match, self.now, self.states.lots, self.causes
        )
        for line in events.line[back].tolist():
            words = (
                "it was on record and was taken back as a mistake: record it by hand if it is right"
            )
            say(line, "clash", words)
        for i in np.flatnonzero(other >= 0).tolist():
            then = event_words(WHAT["checked"], int(events.day[i]), "", "", int(other[i]))
            words = f"on record it was {then}: record that it was put right, or a mistake, first"
            say(int(events.line[i]), "clash", words)
        amiss = np.array([bool(self.lines.outcome[line]) for line in events.line.tolist()], bool)
        kept = ~same & ~amiss
        new = set(events.line[kept].tolist())
        for line in events.line[same & ~amiss].tolist():
            if line not in new:
                note = "; its remark is not taken" if self.lines.note(line) else ""
                say(line, "same", f"it is on record already{note}")
        return events.taken(kept)

    def _without_twins(self, events: FormEvents) -> FormEvents:
        """Without lines that contradict each other, and with one of those that say the same."""
        other = contradictions(events)
        for i in np.flatnonzero(other >= 0).tolist():
            j = int(other[i])
            where = self.lines.where(int(events.line[j]))
            words = f"{where} says otherwise: {self._words_of(events, j)}"
            self.lines.say(int(events.line[i]), "clash", words)
        clear = np.array([not self.lines.outcome[line] for line in events.line.tolist()], bool)
        events = events.taken(clear)
        first = first_alike(events)
        twin = first != np.arange(len(events))
        alone = set(events.line[~twin].tolist())
        for i in np.flatnonzero(twin).tolist():
            line = int(events.line[i])
            if line not in alone:
                self._twins.setdefault(line, int(events.line[first[i]]))
        return events.taken(~twin)

    def _settle_twins(self) -> None:
        """Lines that say what another does share its fate."""
        for line, lead in self._twins.items():
            outcome, where = self.lines.outcome[lead], self.lines.where(lead)
            if outcome == "taken":
                note = "; its remark is not taken" if self.lines.note(line) else ""
                self.lines.say(line, "same", f"{where} says the same{note}")
            else:
                self.lines.say(line, outcome, f"as {where}: {self.lines.words[lead]}")

    def _settle_not_planted(self, taken: FormEvents) -> None:
        """Lines that say a vine is not planted, of a day on which it is by all others."""
        plants = taken.what == WHAT["planted"]
        days = dict(zip(taken.vine[plants].tolist(), taken.day[plants].tolist(), strict=True))
        for line, vine, day in self.reading.not_planted:
            since = days.get(vine, int(self.states.planted[vine]))
            is_planted = vine in days or self.states.state[vine] != NOT_PLANTED
            if is_planted and (day == 0 or day >= since):
                then = f" on {day_words(since)}" if since else ""
                words = (
                    f"it says not planted, and it was planted{then}: correct the one that is wrong"
                )
                self.lines.say(line, "clash", words)
            else:
                self.lines.say(line, "empty", "not planted: there is nothing to record")

    def _words_of(self, events: FormEvents, i: int) -> str:
        lot, cause = int(events.lot[i]), int(events.cause[i])
        return event_words(
            int(events.what[i]), int(events.day[i]), self.states.lots[lot].name if lot >= 0 else "",
            self.causes[cause] if cause >= 0 else "", int(events.faults[i]),
        )  # fmt: skip

    def _tell_taken(self, events: FormEvents) -> None:
        if not len(events):
            return
        # One sentence for all events that differ in the vine alone.
        _, first, of = np.unique(
            events.table[:, 1:], axis=0, return_index=True, return_inverse=True
        )
        kinds = [self._words_of(events, i) for i in first.tolist()]
        said: dict[int, str] = {}
        for line, kind in zip(events.line.tolist(), of.reshape(-1).tolist(), strict=True):
            said[line] = f"{said[line]}; {kinds[kind]}" if line in said else kinds[kind]
        for line, words in said.items():
            self.lines.say(line, "taken", words)

    def _recorded(self, events: FormEvents, by: str, when: str) -> Project:
        """The project with an entry for every form that something is taken of."""
        project, forms, offsets = self.project, self.lines.forms, self.lines.offsets
        # What was planted goes on record before what was seen at it on the same day.
        for f in sorted(range(len(forms)), key=lambda f: not forms[f].has_states):
            mine = (events.line >= offsets[f]) & (events.line < offsets[f + 1])
            if mine.any():
                project = self._with_form(project, f, events.taken(mine), by, when)
        return project

    def _with_form(self, project: Project, f: int, some: FormEvents, by: str, when: str) -> Project:
        form = self.lines.forms[f]
        some = some.taken(np.lexsort((some.line, some.what >= WHAT["checked"], some.day)))
        rows = np.unique(some.line) - self.lines.offsets[f]
        people = form.cells.get("by", [""] * len(form))
        names = list(dict.fromkeys(people[i] for i in rows.tolist() if people[i]))
        lots = np.array([*self.states.lots, None], dtype=object)[some.lot].tolist()
        causes = np.array([*self.causes, ""], dtype=object)[some.cause].tolist()
        return with_events(
            project, self.plans, some.vine, some.what, some.day,
            lots=lots, causes=causes, faults=some.faults, by=", ".join(names) or by, when=when,
            source=form.name, revision=self.mark, note=self._note(f, some, names, by),
        )  # fmt: skip

    def _note(self, f: int, some: FormEvents, names: list[str], by: str) -> str:
        """What is said of the form as a whole, then a line for each vine that has a remark of its own."""
        form, offset = self.lines.forms[f], int(self.lines.offsets[f])
        said = [f"Read in by {by}."] if names and by else []
        said += [words for words in self.lines.told[f] if not words.startswith("Columns")]
        plants = some.taken(some.what <= WHAT["replanted"])
        if len(plants):
            lots = self.states.lots
            said += other_lot_words(lots, self.wanted[plants.vine], plants.lot)
            said += although_words(lots, plants.lot, self.although)
        line, first = np.unique(some.line, return_index=True)
        people = form.cells.get("by", [""] * len(form))
        own = []
        for row in (line - offset).tolist():
            who = f"by {people[row]}" if len(names) > 1 and people[row] else ""
            own.append(" ".join("; ".join(filter(None, (form.note[row], who))).split()))
        noted = [k for k, words in enumerate(own) if words]
        codes = self.finder.codes(some.vine[first[noted]]) if noted else ()
        lines = [f"{code}{NOTE_MARK}{own[k]}" for k, code in zip(noted, codes, strict=True)]
        return "\n".join([" ".join(said), *lines]).strip()

    def _told(self, project: Project) -> Merged:
        lines, left = [], []
        for f, form in enumerate(self.lines.forms):
            lines += [MergedLine(form.name, 0, "", "told", words) for words in self.lines.told[f]]
            offset = int(self.lines.offsets[f])
            for i, number in enumerate(form.line.tolist()):
                outcome, words = self.lines.outcome[offset + i], self.lines.words[offset + i]
                lines.append(MergedLine(form.name, number, form.code[i], outcome, words))
                if outcome in ("clash", "not read"):
                    left.append((f, i, words))
        return Merged(project, tuple(lines), self.lines.forms, tuple(left))
