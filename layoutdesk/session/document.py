"""The document being worked on: a project, its history and its file."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from ..core.model import Project

Edit = Callable[[Project], Project]


_revisions = itertools.count(1)
"""Revisions run on across documents, so that an answer for one is never taken for another's."""


@dataclass(frozen=True)
class _Step:
    label: str
    before: Project


def _changing(steps: list[_Step], now: Project) -> list[_Step]:
    """Steps, the next one to be taken last, without those that lead to where one is by then."""
    left: list[_Step] = []
    for step in reversed(steps):
        if step.before != now:
            left.append(step)
        now = step.before
    return left[::-1]


class Document:
    """A project with undo, redo and the knowledge of what is saved.

    Every change goes through `edit`; whoever shows the project listens. Dirty means "not the value
    that was saved", so undoing back to it is clean again.
    """

    def __init__(
        self,
        project: Project,
        path: Path | None = None,
        *,
        saved: bool = False,
        recovered: bool = False,
    ):
        self.project = project
        self.path = path
        self.recovered = recovered
        self.revision = self.first_revision = next(_revisions)
        self._saved = project if saved else None
        self._undo: list[_Step] = []
        self._redo: list[_Step] = []
        self._merging: str | None = None
        self._listeners: list[Callable[[], None]] = []

    def listen(self, listener: Callable[[], None]) -> None:
        """Have `listener` called after every change of the project or its saved state."""
        self._listeners.append(listener)

    def _say(self) -> None:
        for listener in list(self._listeners):
            listener()

    @property
    def is_dirty(self) -> bool:
        return self._saved is None or self.project != self._saved

    @property
    def has_work(self) -> bool:
        """Whether leaving it unsaved would lose something a person did."""
        touched = self.undo_label or self.redo_label or self.path or self.recovered
        return bool(touched) and self.is_dirty

    @property
    def undo_label(self) -> str | None:
        """What undo would take back, None where there is nothing."""
        return self._undo[-1].label if self._undo else None

    @property
    def redo_label(self) -> str | None:
        return self._redo[-1].label if self._redo else None

    def edit(self, label: str, change: Edit, merge: str | None = None) -> bool:
        """Apply a change as one step of the history; False where it changes nothing.

        Successive edits with the same `merge` are one step, in hand until `settle` or another edit.
        """
        after = change(self.project)
        if after == self.project:
            return False
        if merge is None or merge != self._merging:
            self._undo.append(_Step(label, self.project))
        self._merging = merge
        self._redo.clear()
        self.project = after
        self.revision = next(_revisions)
        if self._undo and self._undo[-1].before == after:  # scrubbed back to where it began
            self._undo.pop()
            self._merging = None
        self._say()
        return True

    def settle(self) -> None:
        """Let go of the edits in hand: the next one is a step of its own, and none is withdrawn."""
        self._merging = None

    def withdraw(self, merge: str | None = None, *, for_good: bool = False) -> bool:
        """Take back the edits in hand, to the value last settled; redo brings them again.

        Not `for_good`, as where they left what cannot stay. Only edits of that `merge`, where one is named. False where nothing is in hand: a plain edit
        is settled at once, and another gesture, undo, redo and saving settle what came before.
        """
        if self._merging is None or merge not in (None, self._merging):
            return False
        step = self._undo.pop()
        if not for_good:
            self._redo.append(_Step(step.label, self.project))
        self._move_to(step.before)
        return True

    def undo(self) -> None:
        """Go back one step; the project is the identical value it was."""
        if self._undo:
            step = self._undo.pop()
            self._redo.append(_Step(step.label, self.project))
            self._move_to(step.before)

    def redo(self) -> None:
        if self._redo:
            step = self._redo.pop()
            self._undo.append(_Step(step.label, self.project))
            self._move_to(step.before)

    def _move_to(self, project: Project) -> None:
        self.project = project
        self._merging = None
        self.revision = next(_revisions)
        self._say()

    def mark_saved(self, path: Path, project: Project) -> None:
        """Note that `project` is what the file holds; undo can come back to it.

        What was recorded at vines can be undone until then; from then on it is in every step of the
        history, and steps that would change nothing any more are gone.
        """
        self.path = path
        self._merging = None
        self._saved = project
        self.recovered = False
        if project.register is not None:
            self._keep_records(project)
        self._say()

    def _keep_records(self, saved: Project) -> None:
        def kept(project: Project) -> Project:
            register = saved.register
            known = project.register
            if (known is not None and not register.begins_with(known)) or known == register:
                return project  # more was recorded meanwhile
            return replace(project, register=register)

        now = kept(self.project)
        if now is not self.project:  # undone while it was being saved
            self.project = now
            self.revision = next(_revisions)
        self._undo = _changing([replace(s, before=kept(s.before)) for s in self._undo], now)
        self._redo = _changing([replace(s, before=kept(s.before)) for s in self._redo], now)
