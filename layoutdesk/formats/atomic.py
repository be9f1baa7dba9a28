"""Files written whole or not at all."""

from __future__ import annotations

import contextlib
import glob
import os
import re
import secrets
import shutil
import time
from pathlib import Path

from ..core.model import InputProblem

_STAGE = ".layoutdesk-"
_STAGE_NAME = re.compile(re.escape(_STAGE) + "[0-9a-f]{8}")
_LOCK = ".lock"
_SURELY_DEAD_S = 3600.0
_BEFORE = "before"
"""Folder of a stage for the files it replaces; there once the stage is whole."""


def flush_to_disk(path: Path) -> None:
    """Have the system put a file, or a folder's entries, on the disk itself."""
    with contextlib.suppress(OSError):  # some file systems refuse it for folders
        descriptor = os.open(path, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


@contextlib.contextmanager
def replacing(path: Path):
    """A name beside `path` to write to; at the end it takes the place of `path` in one step.

    Where the body raises, `path` is as it was and nothing is left beside it.
    """
    path = Path(os.path.realpath(path))  # a link stays a link
    stage = path.with_name(f"{_STAGE}{secrets.token_hex(4)}-{path.name}")
    try:
        for old in path.parent.glob(f"{_STAGE}????????-{glob.escape(path.name)}"):
            old.unlink(missing_ok=True)  # left by a run that was killed
        yield stage
        if path.exists():
            shutil.copymode(path, stage)
        flush_to_disk(stage)
        os.replace(stage, path)
        flush_to_disk(path.parent)
    except OSError as problem:
        raise _cannot_write(path, problem) from problem
    finally:
        with contextlib.suppress(OSError):
            stage.unlink(missing_ok=True)


@contextlib.contextmanager
def replacing_set(folder: Path):
    """A folder to write a set of files in; at the end they replace those of `folder` together.

    Nothing in `folder` changes until every file of the set is whole and on the disk. Where one of
    the last renames fails, the files already exchanged are put back. Files of other names stay.

    Several runs may write into one folder at a time: each has a stage of its own, and of sets
    exchanged one after the other the last one stays, whole.
    """
    folder = Path(folder)
    made: list[Path] = []
    alive = None
    stage = folder / f"{_STAGE}{secrets.token_hex(4)}"
    try:
        try:
            made = [f for f in (folder, *folder.parents) if not f.exists()]
            if folder.exists() and not folder.is_dir():
                raise InputProblem(
                    f"{folder} is a file, not a folder: give another one with --out."
                )
            folder.mkdir(parents=True, exist_ok=True)
            with _alone_in(folder):
                _clear(folder)
                stage.mkdir()
                alive = _held(stage)
        except OSError as problem:
            raise _cannot_write(folder, problem) from problem
        try:
            yield stage
            _exchange(stage, folder)
        except OSError as problem:
            raise _cannot_write(folder, problem) from problem
        made = []
    finally:
        _take_away(stage, alive)
        with contextlib.suppress(OSError):
            for empty in made:
                empty.rmdir()


@contextlib.contextmanager
def _alone_in(folder: Path):
    """No other run begins, clears up or exchanges in the folder meanwhile.

    The folder itself is locked where the system can: a lock file of its own would have to stay, or
    could be removed under a run that waits for it. Without any locks the body runs all the same.
    """
    try:
        import fcntl
    except ImportError:  # an open file cannot be removed on these systems, so that a file will do
        with _waiting(folder):
            yield
        return
    door = os.open(folder, os.O_RDONLY)
    try:
        with contextlib.suppress(OSError):  # some network disks lock no folders
            fcntl.flock(door, fcntl.LOCK_EX)
        yield
    finally:
        os.close(door)


@contextlib.contextmanager
def _waiting(folder: Path):
    from filelock import FileLock

    lock = FileLock(folder / f"{_STAGE}door{_LOCK}", thread_local=False)
    try:
        lock.acquire()
    except (OSError, NotImplementedError):
        lock = None
    try:
        yield
    finally:
        if lock is not None:
            lock.release()
            with contextlib.suppress(OSError):
                Path(lock.lock_file).unlink(missing_ok=True)


def _held(stage: Path):
    """A lock in a stage that says its run is alive, held; None where another run holds it.

    Where the disk has no locks it is False.
    """
    from filelock import FileLock, Timeout

    lock = FileLock(stage / _LOCK, thread_local=False)
    try:
        lock.acquire(timeout=0)
    except Timeout:
        return None
    except (OSError, NotImplementedError):
        return False
    return lock


def _take_away(stage: Path, lock) -> None:
    """Remove a stage, then give its lock up; some systems keep a locked file till then."""
    shutil.rmtree(stage, ignore_errors=True)
    if lock:
        with contextlib.suppress(OSError):
            lock.release()
        shutil.rmtree(stage, ignore_errors=True)


def _clear(folder: Path) -> None:
    """Take away what runs left that were killed, completing a set that was being exchanged."""
    for old in folder.glob(f"{_STAGE}*"):
        if not (_STAGE_NAME.fullmatch(old.name) and old.is_dir()):
            continue
        lock = _held(old)
        if lock is None or (lock is False and _age_s(old) < _SURELY_DEAD_S):
            continue
        _finish(old, folder)
        _take_away(old, lock)


def _age_s(path: Path) -> float:
    try:
        return time.time() - path.stat().st_mtime
    except OSError:
        return 0.0


def _files(stage: Path) -> list[Path]:
    """Files of the set in a stage."""
    return sorted(p for p in stage.iterdir() if p.is_file() and p.name != _LOCK)


def _exchange(stage: Path, folder: Path) -> None:
    new = _files(stage)
    for path in new:
        if (folder / path.name).is_dir():
            raise IsADirectoryError(None, f"{path.name} in it is a folder")
        flush_to_disk(path)
    flush_to_disk(stage)
    with _alone_in(folder):
        _put_in_place(stage, folder, new)


def _put_in_place(stage: Path, folder: Path, new: list[Path]) -> None:
    kept = stage / _BEFORE
    kept.mkdir()
    done = []
    try:
        for path in new:
            target = folder / path.name
            if target.exists():
                os.replace(target, kept / path.name)
            done.append(path.name)
            os.replace(path, target)
    except BaseException:  # a signal too
        for name in done:
            if (kept / name).exists():
                os.replace(kept / name, folder / name)
            else:
                (folder / name).unlink(missing_ok=True)
        raise
    flush_to_disk(folder)


def _finish(stage: Path, folder: Path) -> None:
    """Complete an exchange that was killed on the way: its set was whole by then."""
    if (stage / _BEFORE).is_dir():
        with contextlib.suppress(OSError):
            for path in _files(stage):
                os.replace(path, folder / path.name)


def _cannot_write(path: Path, problem: OSError) -> InputProblem:
    reason = (problem.strerror or str(problem)).lower()
    return InputProblem(f"{path} cannot be written ({reason}): choose another place.")
