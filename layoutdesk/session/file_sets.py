"""Sets of files written together, and single ones of them: whole or not at all."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from ..core.model import InputProblem

Writer = Callable[[Path, Any], None]
Progress = Callable[[float, str], None]


def write_together(folder, writers: Mapping[str, Writer], found, progress: Progress | None) -> None:
    """Write files into a folder, all of them or none.

    Parameters
    ----------
    folder : path
    writers : mapping
        By the name of the file, in order: what writes it from `found`.
    progress : function of (share done, what is written), or None
        May raise to cancel.
    """
    from ..formats.atomic import replacing_set

    say = progress or (lambda share, what: None)
    with replacing_set(Path(folder)) as stage:
        for i, (name, write) in enumerate(writers.items()):
            say(i / len(writers), name)
            write(stage / name, found)
    say(1.0, "done")


def refuse_format(path: Path, ends: tuple[str, ...]) -> None:
    """Say which ends of a name say a format."""
    *first, last = ends
    raise InputProblem(
        f"{path.name} says no format: let its name end in {', '.join(first)} or {last}."
    )


def write_alone(path: Path, write: Writer, found) -> None:
    """Write one file, whole or not at all."""
    from ..formats.atomic import replacing

    with replacing(path) as stage:
        write(stage, found)
