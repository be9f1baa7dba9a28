"""The picture under the plan: asked for as the view moves, read off the GUI thread."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from PySide6.QtCore import QObject, QTimer, Signal
from PySide6.QtGui import QImage

from ..core.model import Backdrop, InputProblem, Site
from ..session.view import View
from . import choosing
from .asking import Field
from .background import Answers

_PICTURES = "Pictures (*.tif *.tiff *.vrt *.jp2 *.jpg *.jpeg *.png *.img);;All files (*)"


@dataclass(frozen=True)
class _Wanted:
    """A piece of a picture, and where its file is looked for."""

    path: str
    project_path: Path | None
    site: Site
    view: View

    @property
    def file(self) -> tuple:
        """What tells one picture from another."""
        return self.path, self.project_path, self.site.frame, self.site.source_crs


class _Built(QObject):
    """Brings word from the thread that makes reduced copies to the GUI thread."""

    answered = Signal(object, object, object)


class BackdropView:
    """Shows the project's backdrop on the canvas, as much of it as is looked at."""

    def __init__(self, window):
        self.window = window
        self._answers: Answers | None = None
        self._worker = None
        self._opened: tuple | None = None  # the worker's own: what is open, and its source
        self._shown: tuple | None = None
        self._build = None
        self._built = _Built(window)
        self._built.answered.connect(self._finer)
        self._later = QTimer(window)
        self._later.setSingleShot(True)
        self._later.setInterval(60)
        self._later.timeout.connect(self._ask)
        window.canvas.view_changed.connect(self.follow)

    def choose(self) -> None:
        """Put a picture under the plan."""
        if self.window.document is None:
            return
        path = choosing.chosen_path(
            self.window,
            "Picture under the plan",
            choosing.usual_folder(str(self.window.settings.value("folder", ""))),
            _PICTURES,
        )
        if path is not None:
            self.put(path)

    def put(self, path: Path) -> None:
        """Put a picture file under the plan; a notice says why where it cannot be."""
        from ..formats.backdrop import read_about

        document, site = self.window.document, self.window.document.project.site

        def found(source) -> None:
            if self.window.document is not document:
                return  # another project has been opened meanwhile
            document.edit("backdrop", lambda p: replace(p, backdrop=Backdrop(str(path))))
            if source.notes:
                self.window.filing.say(" ".join(source.notes))

        self.window.filing.run(
            lambda say: read_about(path, site.frame, site.source_crs),
            "Opening the picture",
            found,
            self.window.filing.complain,
        )

    def ask_strength(self) -> None:
        document = self.window.document
        if document is None or document.project.backdrop is None:
            self.window.filing.say("There is no picture under the plan yet.")
            return
        now = document.project.backdrop.opacity

        def take(texts):
            try:
                share = float(texts["share"].rstrip(" %").replace(",", ".")) / 100
                strength = replace(document.project.backdrop, opacity=share)
            except ValueError:
                raise InputProblem("Write a share between 0 and 100 %.") from None
            document.edit("strength of the backdrop", lambda p: replace(p, backdrop=strength))

        self.window.site.ask(
            "Strength of the backdrop",
            "How strongly the picture shows: 0 not at all, 100 in full.",
            (Field("share", "Share, %", f"{now:.0%}"),),
            "Show it so",
            take,
        )

    def toggle(self) -> None:
        """Hide the picture, or show it again."""
        document = self.window.document
        if document is None or document.project.backdrop is None:
            self.choose()
            return
        other = replace(document.project.backdrop, shown=not document.project.backdrop.shown)
        words = "backdrop shown" if other.shown else "backdrop hidden"
        document.edit(words, lambda p: replace(p, backdrop=other))

    def remove(self) -> None:
        if self.window.document is not None:
            self.window.document.edit("backdrop", lambda p: replace(p, backdrop=None))

    def follow(self) -> None:
        """After the document or the view changed."""
        document = self.window.document
        backdrop = document.project.backdrop if document is not None else None
        if backdrop is None or not backdrop.shown:
            if self.window.canvas.backdrop is not None:
                self.window.canvas.show_backdrop(None)
            self._shown = None
            return
        if self._shown is not None and self._shown[2] != backdrop.opacity:
            self._show(*self._shown[:2], backdrop.opacity)
        self._later.start()

    def _ask(self) -> None:
        document = self.window.document
        backdrop = document.project.backdrop if document is not None else None
        if backdrop is None or not backdrop.shown:
            return
        wanted = _Wanted(
            backdrop.path, document.path, document.project.site, self.window.canvas.view
        )
        if self._shown is not None:
            before, answer, _ = self._shown
            if before.file == wanted.file and answer.request.suits(wanted.view):
                return
        if self._answers is None:
            from ..session.backdrop import Backdrops

            self._worker = Backdrops()
            self._answers = Answers(self._read, self.window, "backdrop")
            self._answers.answered.connect(self._take)
        self._answers.submit(wanted)

    def _read(self, wanted: _Wanted):
        """The picture of what is wanted; on the worker's thread, for files are slow."""
        from ..formats.backdrop import read_about
        from ..session.backdrop import picture_file, request_for

        frame = wanted.site.frame
        if self._opened is None or self._opened[0] != wanted.file:
            path = picture_file(wanted.path, wanted.project_path)
            self._opened = wanted.file, read_about(path, frame, wanted.site.source_crs)
        return self._worker.answer(request_for(0, self._opened[1], frame, wanted.view))

    def _take(self, wanted: _Wanted, answer, problem) -> None:
        document = self.window.document
        backdrop = document.project.backdrop if document is not None else None
        if problem is not None:
            self.window.filing.say(str(problem))
        elif backdrop is not None and backdrop.shown and backdrop.path == wanted.path:
            self._show(wanted, answer, backdrop.opacity)

    def _show(self, wanted: _Wanted, answer, opacity: float) -> None:
        if answer.coarse:
            self._make_copies(answer.request.source)
        rgba = answer.rgba
        height, width = rgba.shape[:2]
        image = QImage(rgba.data, width, height, 4 * width, QImage.Format.Format_RGBA8888)
        self._shown = wanted, answer, opacity
        self.window.canvas.show_backdrop((image, answer.request.bounds_m, opacity))

    def _make_copies(self, source) -> None:
        """Finer pixels need reduced copies of a large picture; they are made once, and kept."""
        from ..session.backdrop import OverviewBuild

        if self._build is not None:
            if self._build.source.path == source.path:
                return
            self._build.cancel()
        self._build = OverviewBuild(source, lambda *_: self._built.answered.emit(0, 0, 0))
        self._build.start()

    def _finer(self, *_) -> None:
        """The reduced copies are made: look again."""
        self._shown = None
        self.follow()

    def close(self) -> None:
        self._later.stop()
        if self._build is not None:
            self._build.cancel()
            self._build.wait()
        if self._answers is not None:
            self._answers.close()
            self._worker.close()
