"""What is there already: a project file that another window holds, a stake-out set in a folder."""

from __future__ import annotations

import contextlib
import datetime
import hashlib
import json
from dataclasses import dataclass
from pathlib import Path


class HeldFile:
    """The project file a window works on, made known to other running windows.

    The system frees the lock when the process ends, however it ends. Two windows may still save to
    one file where their user says so: this only tells.
    """

    def __init__(self, folder: Path):
        self.folder = Path(folder)
        self.path: Path | None = None
        self._lock = None

    def hold(self, path: Path) -> bool:
        """Hold a file in place of the one held so far; False where another window holds it.

        Where locks cannot be kept (a folder that may not be written) the file counts as held here:
        that must not stop the work.
        """
        path = Path(path).resolve()
        if path == self.path:
            return True
        lock = self._acquired(path)
        if lock is None:
            return False
        self.free()
        self.path, self._lock = path, lock
        return True

    def elsewhere(self, path: Path) -> bool:
        """Whether another running window holds a file."""
        path = Path(path).resolve()
        if path == self.path:
            return False
        lock = self._acquired(path)
        if lock:
            self._release(lock)
        return lock is None

    def free(self) -> None:
        """Hold nothing any more."""
        if self._lock:
            self._release(self._lock)
        self.path = self._lock = None

    def _acquired(self, path: Path):
        """The lock of a file, held; None where another holds it, False where there can be none."""
        from filelock import FileLock, Timeout

        key = hashlib.sha256(str(path).encode("utf-8", "surrogatepass")).hexdigest()[:24]
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            lock = FileLock(self.folder / f"open-{key}.lock", thread_local=False)
            lock.acquire(timeout=0)
        except Timeout:
            return None
        except (OSError, NotImplementedError):
            return False
        return lock

    def _release(self, lock) -> None:
        with contextlib.suppress(OSError):
            Path(lock.lock_file).unlink(missing_ok=True)
        lock.release()


@dataclass(frozen=True)
class SetThere:
    """A stake-out set that lies in a folder.

    Attributes
    ----------
    project, revision : str
        As its summary says; empty where it does not.
    when : datetime.datetime
        When it was written, local time.
    """

    project: str
    revision: str
    when: datetime.datetime

    @property
    def words(self) -> str:
        """The set as a clause of a sentence.

        Examples
        --------
        >>> SetThere("oak", "3f2a", datetime.datetime(2026, 5, 1, 14, 32)).words
        'a set of oak, revision 3f2a, written on 1 May 2026 at 14:32'
        """
        of = f" of {self.project}" if self.project else ""
        revision = f", revision {self.revision}" if self.revision else ""
        when = f"{self.when.day} {self.when:%B %Y at %H:%M}"
        return f"a set{of}{revision}, written on {when}"


def set_in(folder: Path) -> SetThere | None:
    """The stake-out set in a folder; None where there is none.

    A set is told by its summary or, where that is gone, by its stakes.
    """
    folder = Path(folder)
    for name in ("summary.json", "stakes.csv", "about.txt"):
        path = folder / name
        try:
            when = datetime.datetime.fromtimestamp(path.stat().st_mtime)
        except (OSError, ValueError):
            continue
        said = {}
        with contextlib.suppress(OSError, ValueError):
            said = json.loads((folder / "summary.json").read_text(encoding="utf-8"))
        if not isinstance(said, dict):
            said = {}
        return SetThere(str(said.get("project") or ""), str(said.get("revision") or ""), when)
    return None


def set_folder(chosen: Path, project: str) -> Path:
    """The folder a set goes to: the chosen one where it is empty, new or holds a set already.

    A folder that holds other things gets a folder of the set's own inside, "<project> stake-out".
    """
    chosen = Path(chosen)
    try:
        holds_other = chosen.is_dir() and any(chosen.iterdir())
    except OSError:
        return chosen  # writing will say what is amiss
    if not holds_other or set_in(chosen) is not None:
        return chosen
    name = "".join("-" if c in '<>:"/\\|?*' or ord(c) < 32 else c for c in project).strip(" .")
    return chosen / f"{name or 'site'} stake-out"
