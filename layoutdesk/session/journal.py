"""Unsaved work kept on disk while it is worked on, and offered after a crash."""

from __future__ import annotations

import contextlib
import datetime
import json
import secrets
import threading
from dataclasses import dataclass
from pathlib import Path

from ..core.model import InputProblem, Project
from .document import Document
from .jobs import NewestWins

DELAY_S = 1.0
"""Work is written so long after a change, so that a scrub is written once. [s]"""


def usual_folder() -> Path:
    """Where journals are kept for the user who runs the program."""
    from platformdirs import user_state_path

    return user_state_path("layoutdesk", appauthor=False) / "unsaved"


@dataclass(frozen=True)
class LeftWork:
    """Work that a session left when it ended without closing.

    Attributes
    ----------
    token : str
        Names its files in the journal folder.
    name : str
        Of the project.
    origin : Path or None
        The project's own file, where it had one.
    when : datetime.datetime
        When it was last written, local time.
    """

    token: str
    name: str
    origin: Path | None
    when: datetime.datetime


class Journal:
    """Keeps the unsaved state of one document at a time.

    A lock that the system frees when a process ends tells work in progress from work left behind.
    Everything is written off the caller's thread. Taking up left work takes over its files, so that
    a second crash finds the same work again.
    """

    def __init__(self, folder: Path, *, delay_s: float = DELAY_S, threaded: bool = True):
        self.folder = Path(folder)
        self._delay_s = delay_s
        self._document: Document | None = None
        self._token: str | None = None
        self._lock = None
        self._stop = threading.Event()
        self._files = threading.Lock()
        self._writer = NewestWins(self._write, self._written, threaded=threaded, name="journal")
        self.problem: str | None = None

    # what was left

    def left_behind(self) -> list[LeftWork]:
        """Work of sessions that are no longer alive, the newest first."""
        found = []
        for about in self.folder.glob("*.json"):
            token = about.stem
            if token == self._token or not (self.folder / f"{token}.gpkg").is_file():
                continue
            lock = self._locked(token)
            if lock is None:
                continue
            lock.release()
            with contextlib.suppress(OSError, ValueError, KeyError, TypeError):
                said = json.loads(about.read_text(encoding="utf-8"))
                origin = Path(said["origin"]) if said["origin"] else None
                when = datetime.datetime.fromisoformat(said["when"])
                found.append(LeftWork(token, str(said["name"]), origin, when))
        return sorted(found, key=lambda w: w.when, reverse=True)

    def take_up(self, left: LeftWork) -> Project:
        """The project of left work; its files become this session's.

        Raises
        ------
        InputProblem
            Where it does not read, or another session has taken it meanwhile.
        """
        from ..formats.project_file import open_project

        lock = self._locked(left.token)
        if lock is None:
            raise InputProblem(f"The work on {left.name} is open in another window by now.")
        try:
            project = open_project(self.folder / f"{left.token}.gpkg")
        except InputProblem:
            lock.release()
            raise
        self.forget()
        self._token, self._lock = left.token, lock
        return project

    def discard(self, left: LeftWork) -> None:
        """Throw left work away."""
        lock = self._locked(left.token)
        if lock is not None:
            self._remove(left.token)
            lock.release()

    # what is being worked on

    def keep(self, document: Document) -> None:
        """Follow a document from now on; what was kept before is forgotten, unless taken up for it."""
        if self._document is not None:
            self.forget()
        self._document = document
        document.listen(self._changed)
        self._changed()

    def _changed(self) -> None:
        document = self._document
        if document is None:
            return
        kept = (document, document.project, document.path) if document.has_work else None
        self._writer.submit(kept)

    def _write(self, request) -> None:
        if request is None:
            self._drop_files()
            return
        document, project, origin = request
        if self._delay_s and self._stop.wait(self._delay_s):
            return
        with self._files:
            if document is not self._document or self._stop.is_set():
                return
            self._save(project, origin)

    def _save(self, project: Project, origin: Path | None) -> None:
        from ..formats.atomic import replacing
        from ..formats.project_file import save_project

        self.folder.mkdir(parents=True, exist_ok=True)
        if self._token is None:
            token = secrets.token_hex(6)
            self._lock, self._token = self._locked(token), token
        save_project(self.folder / f"{self._token}.gpkg", project, draft=True)
        about = {
            "name": project.name,
            "origin": str(origin.resolve()) if origin else None,
            "when": datetime.datetime.now().isoformat(timespec="seconds"),
        }
        with replacing(self.folder / f"{self._token}.json") as stage:
            stage.write_text(json.dumps(about), encoding="utf-8")

    def _written(self, request, answer, problem) -> None:
        """A journal that cannot be written must not stop the work; `problem` says why, once."""
        if problem is not None:
            self.problem = str(problem)

    def wait(self, timeout_s: float = 30.0) -> bool:
        """Until everything is written."""
        return self._writer.wait(timeout_s)

    def forget(self) -> None:
        """Stop following the document and throw its journal away: it was saved or left on purpose."""
        self._document = None
        self._drop_files()

    def _drop_files(self) -> None:
        with self._files:
            if self._token is not None:
                self._remove(self._token)
                if self._lock is not None:
                    self._lock.release()
                self._token = self._lock = None

    def close(self) -> None:
        """The end of a session that ends well: nothing stays behind."""
        self._stop.set()
        self._writer.close()
        self.forget()

    def _locked(self, token: str):
        """The lock of a token, held; None where a living session holds it."""
        from filelock import FileLock, Timeout

        self.folder.mkdir(parents=True, exist_ok=True)
        lock = FileLock(self.folder / f"{token}.lock", thread_local=False)
        try:
            lock.acquire(timeout=0)
        except (Timeout, OSError):
            return None
        return lock

    def _remove(self, token: str) -> None:
        for ending in ("json", "gpkg", "lock"):
            with contextlib.suppress(OSError):
                (self.folder / f"{token}.{ending}").unlink(missing_ok=True)
