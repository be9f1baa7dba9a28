"""Opening, saving and exporting, off the GUI thread, one piece of work at a time."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QObject, Qt, QTimer
from PySide6.QtWidgets import QApplication, QFileDialog, QMessageBox

from ..core.model import InputProblem, Project
from .background import Cancelled, Task
from .paragraph import ValueField

# What reads and writes files is imported where it is used: the first picture waits for none of it.

_RECENT = 8
"""So many files are remembered."""


class Filing(QObject):
    """What the window does with files."""

    def __init__(self, window):
        super().__init__(window)
        self.window = window
        self.task: Task | None = None
        self._pending: Path | None = None
        self._quiet = QTimer(self)
        self._quiet.setSingleShot(True)
        self._quiet.setInterval(8000)
        self._quiet.timeout.connect(self._fall_quiet)

    def open(self) -> None:
        if not self.may_leave():
            return
        path, _ = QFileDialog.getOpenFileName(
            self.window,
            "Open an outline or project",
            str(self.window.settings.value("folder", "")),
            "Outlines and projects (*.geojson *.json *.gpkg *.shp *.zip *.kml *.kmz *.dxf *.csv *.txt);;"
            "All files (*)",
        )
        if path:
            self.open_file(Path(path))

    def open_file(self, path: Path, crs: str = "", unit: str = "") -> None:
        """Open an outline or a project; what the file does not say is asked."""
        from ..session.opening import open_any

        path = Path(path)
        self.run(
            lambda say: open_any(path, crs=crs or None, unit=unit or None),
            f"Opening {path.name}",
            lambda project: self._opened(project, path),
            lambda problem: self._ask(path, problem),
        )

    def _opened(self, project: Project, path: Path) -> None:
        from ..formats.project_file import is_project

        own = path if is_project(path) else None
        self.window.settings.setValue("folder", str(path.parent))
        self.note_recent(path)
        self.window.show_project(project, own)

    def _saved(self, document, path: Path, project: Project) -> None:
        document.mark_saved(path, project)
        self.note_recent(path)

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
                lambda say: open_sample(sample),
                f"Opening {sample.title}",
                self.window.show_project,
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
            lambda say: self.window.journal.take_up(left),
            f"Recovering {left.name}",
            lambda project: self.window.show_project(project, left.origin, recovered=True),
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
        if "--crs" not in str(problem) and "--unit" not in str(problem):
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
        if self.window.document.path is None:
            self.save_as()
        else:
            self.save_to(self.window.document.path)

    def save_as(self) -> None:
        if self.window.document is None:
            return
        self.take_typing()
        start = self.window.document.path or Path(
            str(self.window.settings.value("folder", "")),
            f"{self.window.document.project.name}.gpkg",
        )
        path, _ = QFileDialog.getSaveFileName(
            self.window, "Save the project", str(start), "Layout Desk project (*.gpkg)"
        )
        if path:
            named = Path(path)
            right = named.suffix.lower() == ".gpkg"
            self.save_to(named if right else named.with_name(f"{named.name}.gpkg"))

    def save_to(self, path: Path) -> None:
        """Save the project as it is now, off the GUI thread."""
        from ..formats.project_file import save_project
        from ..session.stakeout import lay_project

        document, project = self.window.document, self.window.document.project
        self.run(
            lambda say: save_project(path, project, lay_project(project)),
            "Saving",
            lambda _: self._saved(document, path, project),
            self.complain,
        )

    def stake_out(self) -> None:
        if self.window.document is None:
            return
        self.take_typing()
        folder = QFileDialog.getExistingDirectory(
            self.window,
            "Folder for the stake-out set",
            str(self.window.settings.value("folder", "")),
        )
        if folder:
            self.stake_out_to(Path(folder))

    def stake_out_to(self, folder: Path) -> None:
        """Write the stake-out set of the project as it is now, off the GUI thread."""
        from ..session.stakeout import stake_set, write_stake_set

        project = self.window.document.project
        self.run(
            lambda say: write_stake_set(folder, stake_set(project), say),
            "Writing the stake-out set",
            lambda s: self.say(
                f"{s['vines']:,} vines, {s['end_posts']:,} end posts written to {folder.name}"
            ),
            self.complain,
        )

    def may_leave(self) -> bool:
        """Whether the project may be left; asks once where work is unsaved."""
        self.take_typing()
        document = self.window.document
        if document is None or not document.has_work:
            return True
        buttons = QMessageBox.StandardButton
        answer = QMessageBox.question(
            self.window,
            "Layout Desk",
            f"{self.window.document.project.name} has changes that are not saved.",
            buttons.Save | buttons.Discard | buttons.Cancel,
            buttons.Save,
        )
        if answer == buttons.Save:
            self.save()
            if self.task is not None:
                self.task.wait()
                QApplication.processEvents()
            return not self.window.document.is_dirty
        return answer == buttons.Discard

    def complain(self, problem: Exception | str) -> None:
        """Say in one notice what could not be done."""
        box = QMessageBox(QMessageBox.Icon.Warning, "Layout Desk", str(problem), parent=self.window)
        box.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        box.open()

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

    def run(self, work, what: str, done, failed) -> None:
        if self.task is not None:
            self.say("One thing at a time: wait for the work in hand, or cancel it.")
            return
        task = self.task = Task(work, self, what)
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
