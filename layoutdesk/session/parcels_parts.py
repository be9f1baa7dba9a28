"""Results kept part by part while a run is under way, so that another can go on where it stopped.

The parts lie in a hidden folder beside the final files, each written whole or not at all, with a
manifest that says which run they are of. Only when all are there do the final files appear,
together.
"""

from __future__ import annotations

import contextlib
import json
import shutil
import zlib
from collections import Counter
from collections.abc import Iterator
from dataclasses import asdict, replace
from pathlib import Path

from ..core.model import InputProblem
from ..formats.atomic import replacing, replacing_set
from .parcels_work import FINDINGS_OF_A_KIND, PartResult, Refused

WORK = ".layoutdesk-parcels"
_MANIFEST = "manifest.json"
_LOCK = ".lock"

ROWS, BEST, FACTS = "parcels.csv", "parcels_best.csv", "parcels.json"
"""The final files."""


class WorkFolder:
    """The parts of one run. Use as a context: nobody else works in the folder meanwhile.

    Attributes
    ----------
    out : Path
    manifest : dict
        Plain values that two runs must share for one to go on with the other's parts.
    done : dict of int to int
        Parcels in each part that is there, by the part's number.
    """

    def __init__(self, out, manifest: dict, anew: bool = False):
        self.out = Path(out)
        self.manifest = json.loads(json.dumps(manifest))
        self.anew = anew
        self.done: dict[int, int] = {}
        self._folder = self.out / WORK
        self._lock = None
        self._made: list[Path] = []

    def __enter__(self) -> WorkFolder:
        if self.out.exists() and not self.out.is_dir():
            raise InputProblem(f"{self.out} is a file, not a folder: give another one with --out.")
        try:
            self._made = [f for f in (self.out, *self.out.parents) if not f.exists()]
            self._folder.mkdir(parents=True, exist_ok=True)
        except OSError as problem:
            raise InputProblem(
                f"{self.out} cannot be written ({(problem.strerror or str(problem)).lower()}): "
                "choose another place."
            ) from problem
        self._lock = self._alone()
        try:
            self._take_up()
        except BaseException:
            self._let_go()
            raise
        return self

    def __exit__(self, *_):
        self._let_go()

    def _let_go(self) -> None:
        if self._lock:
            with contextlib.suppress(OSError):
                self._lock.release()
            self._lock = None
        if not (self._folder / _MANIFEST).exists():  # nothing in it to go on with
            shutil.rmtree(self._folder, ignore_errors=True)
            with contextlib.suppress(OSError):
                for empty in self._made:
                    empty.rmdir()

    def _alone(self):
        from filelock import FileLock, Timeout

        lock = FileLock(self._folder / _LOCK, thread_local=False)
        try:
            lock.acquire(timeout=0)
        except Timeout:
            raise InputProblem(
                f"Another run is at work in {self.out}: wait for its end or give another --out."
            ) from None
        except (OSError, NotImplementedError):  # some network disks have no locks
            return None
        return lock

    def _take_up(self) -> None:
        """Go on with the parts that are there, or begin."""
        there = self._manifest_there()
        if there is not None and not self.anew:
            refuse_other_run(there, self.manifest, self.out)
        if there is None or self.anew:
            (self._folder / _MANIFEST).unlink(missing_ok=True)
            for old in self._folder.glob("part-*"):
                old.unlink(missing_ok=True)
            with replacing(self._folder / _MANIFEST) as stage:
                stage.write_text(json.dumps(self.manifest, indent=1), encoding="utf-8")
            return
        for path in self._folder.glob("part-*"):
            read = read_part(path)
            if read is None:
                path.unlink(missing_ok=True)
            else:
                self.done[int(path.name.partition("-")[2])] = read.n_parcels

    def _manifest_there(self) -> dict | None:
        try:
            return json.loads((self._folder / _MANIFEST).read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return None

    def _part(self, index: int) -> Path:
        return self._folder / f"part-{index:06d}"

    def write(self, index: int, result: PartResult) -> None:
        """Put a part on the disk; a part that is there already stays."""
        if index in self.done:
            return
        facts = asdict(result)
        rows, best = facts.pop("rows"), facts.pop("best")
        body = rows + best
        first = json.dumps(
            {"rows_bytes": len(rows), "bytes": len(body), "crc32": zlib.crc32(body), **facts}
        )
        with replacing(self._part(index)) as stage, stage.open("wb") as file:
            file.write(first.encode() + b"\n")
            file.write(body)
        self.done[index] = result.n_parcels

    def parts(self) -> Iterator[PartResult]:
        """All parts in order, one held at a time.

        Raises
        ------
        InputProblem
            Where one was lost meanwhile.
        """
        for index in range(len(self.done)):
            read = read_part(self._part(index))
            if read is None:
                self._part(index).unlink(missing_ok=True)
                raise InputProblem(
                    f"Part {index + 1} of the results in {self.out} was lost or damaged meanwhile: "
                    "run the same command again, which makes that part anew."
                )
            yield read

    def finish(self, rows_head: bytes, best_head: bytes, facts) -> dict:
        """Write the final files together and take the parts away.

        Parameters
        ----------
        rows_head, best_head : bytes
            First lines of the tables.
        facts : function of a PartResult without lines
            What the whole comes to, as plain values for the file of facts.
        """
        sums = PartResult()
        found: Counter = Counter()
        told: list[tuple[str, str, str]] = []
        kept: Counter = Counter()
        refused: list[Refused] = []
        with replacing_set(self.out) as stage:
            with (stage / ROWS).open("wb") as rows, (stage / BEST).open("wb") as best:
                rows.write(rows_head)
                best.write(best_head)
                for part in self.parts():
                    rows.write(part.rows)
                    best.write(part.best)
                    found.update(part.found)
                    refused += part.refused
                    for one in part.told:
                        kept[one[0]] += 1
                        if kept[one[0]] <= FINDINGS_OF_A_KIND:
                            told.append(one)
                    sums = replace(
                        sums,
                        n_parcels=sums.n_parcels + part.n_parcels,
                        n_compared=sums.n_compared + part.n_compared,
                        n_rows=sums.n_rows + part.n_rows,
                        n_empty=sums.n_empty + part.n_empty,
                    )
            whole = facts(
                replace(sums, refused=tuple(refused), found=dict(found), told=tuple(told))
            )
            text = json.dumps(whole, ensure_ascii=False, indent=2, allow_nan=False)
            (stage / FACTS).write_text(text + "\n", encoding="utf-8")
        self.drop()
        return whole

    def drop(self) -> None:
        """Take the parts away, the manifest first: what is left of them is nobody's."""
        (self._folder / _MANIFEST).unlink(missing_ok=True)
        for old in self._folder.glob("part-*"):
            with contextlib.suppress(OSError):
                old.unlink()
        self.done.clear()


def read_part(path: Path) -> PartResult | None:
    """A part that was written whole; None for anything else."""
    try:
        with path.open("rb") as file:
            facts = json.loads(file.readline())
            body = file.read()
        n_rows, size, crc = facts.pop("rows_bytes"), facts.pop("bytes"), facts.pop("crc32")
        if len(body) != size or zlib.crc32(body) != crc:
            return None
        facts["refused"] = tuple(Refused(**one) for one in facts["refused"])
        facts["told"] = tuple(map(tuple, facts["told"]))
        return PartResult(rows=body[:n_rows], best=body[n_rows:], **facts)
    except (OSError, ValueError, KeyError, TypeError):
        return None


def refuse_other_run(there: dict, wanted: dict, out) -> None:
    """Say why the parts that are there are not this run's.

    Raises
    ------
    InputProblem
    """
    if there == wanted:
        return
    if there.get("program") != wanted["program"]:
        why = f"with {there.get('program')}"
    elif there.get("input") != wanted["input"]:
        why = "of another input, or of one that has changed since"
    else:
        old, new = _flat(there.get("options", {})), _flat(wanted["options"])
        other = [key for key in dict.fromkeys((*old, *new)) if old.get(key) != new.get(key)]
        told = ", ".join(f"{k} {_short(old.get(k))}, now {_short(new.get(k))}" for k in other[:3])
        why = f"with other options ({told or 'of another kind'})"
    raise InputProblem(
        f"{out} holds a run that was begun {why}: finish that one first, give another --out, or add "
        "--anew to drop it."
    )


def _flat(options: dict, before: str = "") -> dict:
    flat = {}
    for key, value in options.items():
        if isinstance(value, dict):
            flat |= _flat(value, f"{before}{key}.")
        else:
            flat[f"{before}{key}"] = value
    return flat


def _short(value) -> str:
    if isinstance(value, list) and len(value) > 3:
        return f"{len(value)} values"
    return "none" if value is None else str(value)[:60]
