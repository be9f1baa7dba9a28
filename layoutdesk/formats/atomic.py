"""Files written whole or not at all."""

from __future__ import annotations

import contextlib
import glob
import os
import secrets
import shutil
from pathlib import Path

from ..core.model import InputProblem

_STAGE = ".layoutdesk-"
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
    """
    folder = Path(folder)
    made: list[Path] = []
    stage = folder / f"{_STAGE}{secrets.token_hex(4)}"
    try:
        try:
            made = [f for f in (folder, *folder.parents) if not f.exists()]
            if folder.exists() and not folder.is_dir():
                raise InputProblem(
                    f"{folder} is a file, not a folder: give another one with --out."
                )
            stage.mkdir(parents=True)
        except OSError as problem:
            raise _cannot_write(folder, problem) from problem
        for old in folder.glob(f"{_STAGE}*"):  # left by a run that was killed
            if old != stage:
                _finish(old, folder)
                shutil.rmtree(old, ignore_errors=True)
        try:
            yield stage
            _exchange(stage, folder)
        except OSError as problem:
            raise _cannot_write(folder, problem) from problem
        made = []
    finally:
        shutil.rmtree(stage, ignore_errors=True)
        with contextlib.suppress(OSError):
            for empty in made:
                empty.rmdir()


def _exchange(stage: Path, folder: Path) -> None:
    new = sorted(p for p in stage.iterdir() if p.is_file())
    for path in new:
        if (folder / path.name).is_dir():
            raise IsADirectoryError(None, f"{path.name} in it is a folder")
        flush_to_disk(path)
    flush_to_disk(stage)
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
            for path in [p for p in stage.iterdir() if p.is_file()]:
                os.replace(path, folder / path.name)


def _cannot_write(path: Path, problem: OSError) -> InputProblem:
    reason = (problem.strerror or str(problem)).lower()
    return InputProblem(f"{path} cannot be written ({reason}): choose another place.")
