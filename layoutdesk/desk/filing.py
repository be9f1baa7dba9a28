"""Opening, saving and exporting, off the GUI thread, one piece of work at a time."""

from __future__ import annotations

import weakref
from pathlib import Path

from PySide6.QtCore import QObject, QTimer
from PySide6.QtWidgets import QApplication

from ..core.model import InputProblem, Project
from ..session.tally import grouped
from ..session.wording import wants_crs, wants_unit
from . import choosing, telling
from .autosave import Autosave
from .background import Cancelled, Task
from .paragraph import ValueField

# What reads and writes files is imported where it is used: the first picture waits for none of it.

_RECENT = 8
"""So many files are remembered."""

_KINDS = (
    "Outlines and projects (*.geojson *.json *.gpkg *.shp *.zip *.kml *.kmz *.dxf *.csv *.txt);;"
    "All files (*)"
)


def _state(path: Path):
    """What tells whether a file was written since; None where there is none."""
    try:
        said = path.stat()
    except OSError:
        return None
    return said.st_mtime_ns, said.st_size, said.st_ino


def surveyed(project: Project) -> Project:
    """The project, its survey grid made ready on this thread: the window then need not wait."""
    from ..session.survey import survey_view

    survey_view(project)
    return project


class Filing(QObject):
    """What the window does with files."""

    def __init__(self, window):
        super().__init__(window)
        self.window = window
        self.task: Task | None = None
        self._pending: Path | None = None
        self._state_of: tuple | None = None
        self._quiet = QTimer(self)
        self._quiet.setSingleShot(True)
        self._quiet.setInterval(8000)
        self._quiet.timeout.connect(self._fall_quiet)
        self.held = self._new_held()
        self.autosave = Autosave(self)

    def open(self) -> None:
        if not self.may_leave():
            return
        path = choosing.chosen_path(
            self.window, "Open an outline or project", self._usual_folder(), _KINDS
        )
        if path is not None:
            self.open_file(path)

    def _usual_folder(self) -> Path:
        return choosing.usual_folder(str(self.window.settings.value("folder", "")))

    def open_file(self, path: Path, crs: str = "", unit: str = "") -> None:
        """Open an outline or a project; what the file does not say is asked."""
        from ..formats.project_file import is_project
        from ..session.opening import open_any, with_round_rules

        path = Path(path)

        def opened(say) -> Project:
            project = open_any(path, crs=crs or None, unit=unit or None)
            return surveyed(project if is_project(path) else with_round_rules(project))

        self.run(
            opened,
            f"Opening {path.name}",
            lambda project: self._opened(project, path),
            lambda problem: self._ask(path, problem),
        )

    def _opened(self, project: Project, path: Path) -> None:
        from ..formats.project_file import is_project

        own = path if is_project(path) else None

        def show() -> None:
            self.window.settings.setValue("folder", str(path.parent))
            self.note_recent(path)
            self.show(project, own)

        if own is None or self.held is None or not self.held.elsewhere(own):
            show()
            return
        self.tell(
            f"{path.name} is open in another window: saving here replaces what is saved there.",
            answers=(("Leave it", lambda: None), ("Open anyway", show)),
        )

    def show(self, project: Project, path: Path | None = None, *, recovered: bool = False) -> None:
        """Show a project in place of the one before, whose file is free again."""
        self.let_go()
        self._state_of = (path, _state(path)) if path is not None and not recovered else None
        self.window.show_project(project, path, recovered=recovered)
        self.held = self._new_held()
        if self.held is not None:
            weakref.finalize(self.window.document, self.held.free)
            if path is not None:
                self.held.hold(path)

    def let_go(self) -> None:
        """Other windows may have the file of the project that is left."""
        if self.held is not None:
            self.held.free()

    def _new_held(self):
        if self.window.journal is None:
            return None
        from ..session.opened import HeldFile

        return HeldFile(self.window.journal.folder)

    def _saved(self, document, path: Path, project: Project) -> None:
        document.mark_saved(path, project)
        self._state_of = path, _state(path)
        self.note_recent(path)
        self.window.settings.setValue("folder", str(path.parent))
        if self.held is not None and document is self.window.document:
            self.held.hold(path)

    def recent(self) -> list[str]:
        """Files opened or saved lately, the latest first."""
        kept = self.window.settings.value("recent", [])
        return [kept] if isinstance(kept, str) else list(kept or [])

    def note_recent(self, path: Path) -> None:
        """Put a file at the head of the recent ones."""
        name = str(Path(path).resolve())
        others = [p for p in self.recent() if p != name]
        self.window.settings.setValue("recent", [name, *others][:_RECENT])

    def list_recent(self) -> None:
        """Fill the menu of recent files with those that are still there."""
        menu = self.window.recent_menu
        menu.clear()
        paths = [p for p in map(Path, self.recent()) if p.exists()]
        for path in paths:
            action = menu.addAction(f"{path.name}    {path.parent}")
            action.triggered.connect(lambda _=False, p=path: self.open_recent(p))
        if not paths:
            menu.addAction("No files yet").setEnabled(False)

    def open_recent(self, path: Path) -> None:
        if self.may_leave():
            self.open_file(path)

    def open_sample(self, sample) -> None:
        from ..session.samples import open_sample

        if self.may_leave():
            self.run(
                lambda say: surveyed(open_sample(sample)),
                f"Opening {sample.title}",
                self.show,
                self.complain,
            )

    def offer_left_work(self, path: Path | None = None) -> None:
        """Offer what a session that ended badly left behind; with a path, only its own."""
        if self.window.journal is None:
            return
        left = self.window.journal.left_behind()
        if path is not None:
            left = [w for w in left if w.origin == Path(path).resolve()]
        self.window.recovery.offer(left)
        self.window.arrange()

    def take_up(self, left) -> None:
        """Go on with left work."""
        self.window.recovery.hide()
        if not self.may_leave():
            return
        self.run(
            lambda say: surveyed(self.window.journal.take_up(left)),
            f"Recovering {left.name}",
            lambda project: self.show(project, left.origin, recovered=True),
            self.complain,
        )

    def leave_offer(self) -> None:
        """Leave what was kept for the next start."""
        self.window.recovery.hide()
        self.window.arrange()

    def discard_left(self, left) -> None:
        self.window.journal.discard(left)
        self.offer_left_work()

    def _ask(self, path: Path, problem: InputProblem) -> None:
        if not (wants_crs(str(problem)) or wants_unit(str(problem))):
            self.complain(problem)  # nothing that could be said about the file would help
            return
        self._pending = path
        self.window.question.ask(str(problem))
        self.window.arrange()

    def open_again(self, crs: str, unit: str) -> None:
        if self._pending is not None:
            self.window.question.hide()
            self.open_file(self._pending, crs.strip(), unit.strip())

    def leave_question(self) -> None:
        self.window.question.hide()
        self._pending = None
        self.window.arrange()

    def save(self) -> None:
        if self.window.document is None:
            return
        self.take_typing()
        path = self.window.document.path
        if path is None:
            self.save_as()
        elif not self.changed_elsewhere():
            self.save_to(path)
        else:
            answer = telling.decide(
                self.window,
                f"{path.name} has been changed elsewhere. Replace it?",
                "Another window or program saved it since it was opened or saved here.",
                (("other", "Save somewhere else…"), ("replace", "Replace it")),
                "Go back",
            )
            if answer == "other":
                self.save_as()
            elif answer == "replace":
                self.save_to(path)

    def changed_elsewhere(self) -> bool:
        """Whether the project's file is not as it was when last opened or saved here."""
        path = self.window.document.path
        known = self._state_of if self._state_of and self._state_of[0] == path else None
        return known is not None and path.exists() and known[1] != _state(path)

    def save_as(self) -> None:
        if self.window.document is None:
            return
        self.take_typing()
        document = self.window.document
        start = document.path or self._usual_folder() / f"{document.project.name}.gpkg"
        path = choosing.chosen_path(
            self.window, "Save the project", start, "Layout Desk project (*.gpkg)", what="save"
        )
        if path is None:
            return
        right = path.suffix.lower() == ".gpkg"
        path = path if right else path.with_name(f"{path.name}.gpkg")
        if self._may_replace(path, asked=right):
            self.save_to(path)

    def _may_replace(self, path: Path, *, asked: bool) -> bool:
        """Whether a file may be replaced; `asked` where the dialog asked for that name already."""
        if path == self.window.document.path:
            return True
        if self.held is not None and self.held.elsewhere(path):
            sentence = "It is open in another window: saving here replaces what is saved there."
        elif not asked and path.exists():
            sentence = "A project of that name is there already."
        else:
            return True
        return bool(
            telling.decide(
                self.window,
                f"Replace {path.name}?",
                sentence,
                (("replace", "Replace it"),),
                "Go back",
            )
        )

    def save_to(self, path: Path, *, by_itself: bool = False) -> None:
        """Save the project as it is now, off the GUI thread."""
        from ..formats.project_file import save_project
        from ..session.stakeout import lay_project

        document, project = self.window.document, self.window.document.project

        def saved(_) -> None:
            self._saved(document, path, project)
            self.autosave.went_well(by_itself)

        def failed(problem: InputProblem) -> None:
            if self.autosave.may_complain(by_itself):
                self._say_unsaved(document, problem)

        self.run(
            lambda say: save_project(path, project, lay_project(project)),
            "Saving",
            saved,
            failed,
            quietly=by_itself,
        )

    def _say_unsaved(self, document, problem: InputProblem) -> None:
        def elsewhere() -> None:
            if self.window.document is document:
                self.save_as()

        self.tell(
            f"{problem} Your work is kept here, in this window.",
            "Not saved",
            (("Save somewhere else…", elsewhere), ("Close", lambda: None)),
        )

    def choose_autosave(self, minutes: int) -> None:
        """Save every so many minutes where the project has a file; 0 is never."""
        self.autosave.choose(minutes)

    # stake-out

    def stake_out(self) -> None:
        if self.window.document is None:
            return
        self.take_typing()
        folder = self._stake_folder()
        if folder is not None:
            self.window.settings.setValue("folder", str(folder.parent))
            self.stake_out_to(folder)

    def ask_set_folder(self) -> Path | None:
        """A folder for the set; one that holds other things gets a folder of its own inside."""
        from ..session.opened import set_folder

        chosen = choosing.chosen_path(
            self.window, "Folder for the stake-out set", self._usual_folder(), what="folder"
        )
        return set_folder(chosen, self.window.document.project.name) if chosen else None

    def _stake_folder(self) -> Path | None:
        """Where the set goes; asks before a set that is there is replaced."""
        from ..session.opened import set_in

        while True:
            folder = self.ask_set_folder()
            if folder is None:
                return None
            there = set_in(folder)
            if there is None:
                return folder
            answer = telling.decide(
                self.window,
                f"Replace the set in {folder.name}?",
                f"The folder holds {there.words}.",
                (("replace", "Replace it"), ("other", "Another folder…")),
                "Go back",
            )
            if answer != "other":
                return folder if answer else None

    def stake_out_to(self, folder: Path) -> None:
        """Write the stake-out set of the project as it is now, off the GUI thread."""
        from ..session.stakeout import stake_set, write_stake_set

        project, path = self.window.document.project, self.window.document.path

        def written(s) -> None:
            self.say(
                f"{grouped(s['vines'])} vines, {grouped(s['end_posts'])} end posts written to "
                f"{folder.name}"
            )
            if self.window.stage == "handoff":
                self.window.handing_off.files.show()  # which tells the set that is there now

        self.run(
            lambda say: write_stake_set(folder, stake_set(project, project_path=path), say),
            "Writing the stake-out set",
            written,
            self.complain,
        )

    def may_leave(self) -> bool:
        """Whether the project may be left; asks once where work is unsaved."""
        self.take_typing()
        may = self._may_lose_work()
        if may:
            self.window.site.leave()
        return may

    def _may_lose_work(self) -> bool:
        document = self.window.document
        if document is None or not document.has_work:
            return True
        answer = telling.decide(
            self.window,
            f"Save the changes to {document.project.name} before closing?",
            "" if document.path else "It has not been saved to a file yet.",
            (("save", "Save"), ("drop", "Don't save")),
            "Go back",
        )
        if answer == "save":
            self.save()
            if self.task is not None:
                self.task.wait()
                QApplication.processEvents()
            return not document.is_dirty
        return answer == "drop"

    def complain(self, problem: Exception | str) -> None:
        """Say in one notice what could not be done."""
        self.tell(str(problem))

    def tell(self, sentence: str, title: str = "", answers: tuple[telling.Answer, ...] = ()):
        """Say something in a notice on the plan, with answers where there are any."""
        return telling.tell(self.window.canvas, sentence, title, answers)

    def say(self, text: str) -> None:
        """Say in the bar, for a while, how it went."""
        self.window.work.setText(text)
        self._quiet.start()

    def _fall_quiet(self) -> None:
        if self.task is None:
            self.window.work.clear()

    def take_typing(self) -> None:
        """Have a value that is being typed taken before the project is written or left."""
        field = QApplication.focusWidget()
        if isinstance(field, ValueField):
            field.commit()

    def run(self, work, what: str, done, failed, *, quietly: bool = False) -> None:
        if self.task is not None:
            self.say("One thing at a time: wait for the work in hand, or cancel it.")
            return
        task = self.task = Task(work, self, what)
        if not quietly:
            self.window.work.setText(f"{what}…")
            self.window.stop.show()
        task.progressed.connect(
            lambda share, name: self.window.work.setText(f"{what}: {name} {share:.0%}")
        )

        def finish(result, problem):
            self.task = None
            self.window.stop.hide()
            self.window.work.clear()
            task.deleteLater()
            if isinstance(problem, InputProblem):
                failed(problem)
            elif isinstance(problem, Cancelled):
                self.say(f"{what} was called off; nothing was changed.")
            elif problem is not None:
                self.complain(f"{what} failed: {problem}. Nothing was changed.")
            else:
                done(result)
            self.window.refresh()
            if problem is not None and not isinstance(problem, InputProblem | Cancelled):
                raise problem  # ours to mend: said on screen, and not hidden

        task.finished.connect(finish)
        task.start()

    def cancel(self) -> None:
        if self.task is not None:
            self.task.cancel()
