"""Files written whole or not at all, wherever it stops."""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from layoutdesk.core.model import InputProblem
from layoutdesk.formats import atomic
from layoutdesk.formats.atomic import replacing, replacing_set

ROOT = Path(atomic.__file__).parents[2]


def tree(folder) -> dict[str, str]:
    """Every file and folder below, with what the files hold."""
    return {
        str(p.relative_to(folder)): p.read_text() if p.is_file() else "/"
        for p in sorted(folder.rglob("*"))
    }


def write_set(folder, names=("a", "b", "c"), what="new"):
    with replacing_set(folder) as stage:
        for name in names:
            (stage / name).write_text(what)


class Stop(BaseException):
    """Stands for a signal: no OSError, no Exception."""


TROUBLES = [
    OSError(28, "No space left on device"),
    Stop(),
    KeyboardInterrupt(),
    RuntimeError("a bug"),
]


def failing_on(call: int, real, trouble):
    """The function, but its nth call raises before anything happens."""
    left = [call]

    def now_and_then(*args, **how):
        left[0] -= 1
        if left[0] == 0:
            raise trouble
        return real(*args, **how)

    return now_and_then


# ------------------------------------------------------------------------------------ one file


def test_a_file_is_replaced_and_nothing_stays_beside_it(tmp_path):
    (tmp_path / "x").write_text("old")
    with replacing(tmp_path / "x") as stage:
        assert (tmp_path / "x").read_text() == "old"
        assert stage.parent == tmp_path
        stage.write_text("new")
        assert (tmp_path / "x").read_text() == "old"
    assert tree(tmp_path) == {"x": "new"}


@pytest.mark.parametrize("trouble", TROUBLES, ids=repr)
@pytest.mark.parametrize("where", ["body", "flush", "replace"])
@pytest.mark.parametrize("before", [{}, {"x": "old"}], ids=["new", "old"])
def test_trouble_anywhere_leaves_the_file_as_it_was(tmp_path, monkeypatch, trouble, where, before):
    for name, text in before.items():
        (tmp_path / name).write_text(text)
    if where == "flush":
        monkeypatch.setattr(atomic, "flush_to_disk", failing_on(1, atomic.flush_to_disk, trouble))
    if where == "replace":
        monkeypatch.setattr(os, "replace", failing_on(1, os.replace, trouble))
    expected = InputProblem if isinstance(trouble, OSError) else type(trouble)
    with pytest.raises(expected), replacing(tmp_path / "x") as stage:
        stage.write_text("half")
        if where == "body":
            raise trouble
    assert tree(tmp_path) == before


def test_a_place_that_cannot_be_written_is_one_sentence(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(InputProblem) as refused, replacing(tmp_path / "file" / "x") as stage:
        stage.write_text("new")
    assert str(refused.value) == (
        f"{tmp_path / 'file' / 'x'} cannot be written (not a directory): choose another place."
    )


def test_what_a_killed_save_left_goes_with_the_next_save_of_that_file(tmp_path):
    left = tmp_path / ".layoutdesk-0a1b2c3d-x [1].gpkg"
    other = tmp_path / ".layoutdesk-0a1b2c3d-y.gpkg"
    for path in (left, other):
        path.write_text("half")
    with replacing(tmp_path / "x [1].gpkg") as stage:
        stage.write_text("new")
    assert tree(tmp_path) == {"x [1].gpkg": "new", other.name: "half"}


def test_the_file_is_on_the_disk_before_it_takes_its_place(tmp_path, monkeypatch):
    order = []
    flush, move = atomic.flush_to_disk, os.replace
    monkeypatch.setattr(atomic, "flush_to_disk", lambda p: (order.append(p), flush(p)))
    monkeypatch.setattr(os, "replace", lambda a, b: (order.append("moved"), move(a, b)))
    with replacing(tmp_path / "x") as stage:
        stage.write_text("new")
    assert order == [stage, "moved", tmp_path]


# -------------------------------------------------------------------------------- a set of files


def test_a_set_replaces_files_of_its_names_and_leaves_others(tmp_path):
    for name in ("a", "b", "mine"):
        (tmp_path / name).write_text("old")
    write_set(tmp_path)
    assert tree(tmp_path) == {"a": "new", "b": "new", "c": "new", "mine": "old"}


def test_a_set_makes_its_folder_with_those_above(tmp_path):
    write_set(tmp_path / "p" / "q" / "r", ("a",))
    assert tree(tmp_path / "p" / "q" / "r") == {"a": "new"}


@pytest.mark.parametrize("trouble", TROUBLES, ids=repr)
def test_trouble_while_writing_leaves_no_folder_that_was_not_there(tmp_path, trouble):
    expected = InputProblem if isinstance(trouble, OSError) else type(trouble)
    with pytest.raises(expected), replacing_set(tmp_path / "p" / "q") as stage:
        (stage / "a").write_text("half")
        raise trouble
    assert tree(tmp_path) == {}


@pytest.mark.parametrize("trouble", TROUBLES, ids=repr)
@pytest.mark.parametrize("call", [1, 2, 3, 4, 5])
def test_trouble_at_any_exchange_leaves_the_set_that_was_there(
    tmp_path, monkeypatch, trouble, call
):
    before = {"a": "old a", "b": "old b", "mine": "mine"}  # c is new: 2 + 2 + 1 renames
    for name, text in before.items():
        (tmp_path / name).write_text(text)
    monkeypatch.setattr(os, "replace", failing_on(call, os.replace, trouble))
    expected = InputProblem if isinstance(trouble, OSError) else type(trouble)
    with pytest.raises(expected):
        write_set(tmp_path)
    assert tree(tmp_path) == before


@pytest.mark.parametrize("trouble", TROUBLES, ids=repr)
@pytest.mark.parametrize("call", [1, 2, 3, 4])
def test_trouble_at_any_flush_leaves_the_set_that_was_there(tmp_path, monkeypatch, trouble, call):
    (tmp_path / "a").write_text("old")
    monkeypatch.setattr(atomic, "flush_to_disk", failing_on(call, atomic.flush_to_disk, trouble))
    with pytest.raises(InputProblem if isinstance(trouble, OSError) else type(trouble)):
        write_set(tmp_path)
    assert tree(tmp_path) == {"a": "old"}


KILLED_AT = """
import os, signal, sys
from layoutdesk.formats.atomic import replacing_set
left, real = [int(sys.argv[2])], os.replace
def deadly(a, b):
    left[0] -= 1
    if left[0] == 0:
        os.kill(os.getpid(), signal.SIGKILL)
    real(a, b)
os.replace = deadly
from pathlib import Path
with replacing_set(Path(sys.argv[1])) as stage:
    for name in "abc":
        (stage / name).write_text("new")
"""


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no such signal here")
@pytest.mark.parametrize("call", [1, 2, 3, 5])
def test_a_set_killed_amid_its_exchange_is_completed_by_the_next_run(tmp_path, call):
    """A kill runs no clean-up at all; the next run, even one that fails, leaves one whole set."""
    for name in ("a", "b"):
        (tmp_path / name).write_text("old")
    killed = subprocess.run([sys.executable, "-c", KILLED_AT, str(tmp_path), str(call)], cwd=ROOT)
    assert killed.returncode == -signal.SIGKILL
    assert any(name.startswith(".layoutdesk-") for name in tree(tmp_path))
    with pytest.raises(RuntimeError), replacing_set(tmp_path):
        raise RuntimeError
    assert tree(tmp_path) == dict.fromkeys("abc", "new")


def test_a_set_killed_while_being_written_goes_with_the_next_run(tmp_path):
    (tmp_path / "a").write_text("old")
    (tmp_path / ".layoutdesk-0a1b2c3d").mkdir()
    (tmp_path / ".layoutdesk-0a1b2c3d" / "a").write_text("ha")
    with pytest.raises(RuntimeError), replacing_set(tmp_path):
        raise RuntimeError
    assert tree(tmp_path) == {"a": "old"}


def test_a_file_in_place_of_the_folder_is_refused_and_kept(tmp_path):
    (tmp_path / "out").write_text("mine")
    with pytest.raises(
        InputProblem, match=r"is a file, not a folder: give another one with --out\.$"
    ):
        write_set(tmp_path / "out")
    with pytest.raises(InputProblem, match=r"cannot be written \(not a directory\)"):
        write_set(tmp_path / "out" / "sub")
    assert tree(tmp_path) == {"out": "mine"}


def test_a_folder_in_place_of_a_file_of_the_set_is_refused_and_kept(tmp_path):
    (tmp_path / "a").write_text("old")
    (tmp_path / "b").mkdir()
    (tmp_path / "b" / "mine").write_text("mine")
    before = tree(tmp_path)
    write_set(tmp_path, ("a",))
    with pytest.raises(InputProblem, match=r"\(b in it is a folder\)"):
        write_set(tmp_path, what="newer")
    assert tree(tmp_path) == before | {"a": "new"}


def test_a_name_longer_than_the_disk_takes_is_one_sentence(tmp_path):
    with pytest.raises(InputProblem, match=r"cannot be written \(file name too long\)"):
        write_set(tmp_path / ("x" * 300))
    assert tree(tmp_path) == {}


@pytest.mark.skipif(not os.path.isdir("/proc/self"), reason="needs a folder nobody can write in")
def test_a_folder_nobody_can_write_in_is_one_sentence():
    with pytest.raises(
        InputProblem, match=r"^/proc/self/out cannot be written \(.*\): choose another"
    ):
        write_set(Path("/proc/self/out"))


# ------------------------------------------------------------------- several runs into one folder

RUN = """
import os, sys
from pathlib import Path
from layoutdesk.formats.atomic import replacing_set
folder, what, pause = Path(sys.argv[1]), sys.argv[2], sys.argv[3]
def wait(word):
    print(word, flush=True)
    sys.stdin.readline()
real, left = os.replace, [2]
def slow(a, b):
    left[0] -= 1
    if left[0] == 0:
        wait("amid")
    real(a, b)
with replacing_set(folder) as stage:
    for name in "abc":
        (stage / name).write_text(what)
    if pause == "written":
        wait("written")
    if pause == "amid":
        os.replace = slow
    print("exchange", flush=True)
"""


class Run:
    """A process that writes a set and stops at a word until it is let go."""

    def __init__(self, folder, what, pause="never"):
        self.process = subprocess.Popen(
            [sys.executable, "-c", RUN, str(folder), what, pause],
            cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
        )  # fmt: skip

    def reach(self, word):
        while (line := self.process.stdout.readline()) != f"{word}\n":
            assert line, "it ended before"
        return self

    def end(self):
        self.process.communicate("\n", timeout=60)
        return self.process.returncode


def test_a_living_stage_is_left_alone_and_the_last_set_stays(tmp_path):
    first = Run(tmp_path, "first", "written").reach("written")
    write_set(tmp_path, what="second")
    assert {name: tree(tmp_path)[name] for name in "abc"} == dict.fromkeys("abc", "second")
    assert list(tmp_path.glob(".layoutdesk-*/a"))
    assert first.end() == 0
    assert tree(tmp_path) == dict.fromkeys("abc", "first")


def test_two_stages_of_one_process_are_told_apart(tmp_path):
    with replacing_set(tmp_path) as outer:
        (outer / "a").write_text("outer")
        write_set(tmp_path, ("a", "b"), "inner")
        assert (outer / "a").read_text() == "outer"
    assert tree(tmp_path) == {"a": "outer", "b": "inner"}


@pytest.mark.skipif(os.name != "posix", reason="locks as on POSIX")
def test_an_exchange_waits_for_the_one_that_is_under_way(tmp_path):
    """Renames of two sets among each other would leave files of both."""
    write_set(tmp_path, what="old")
    first = Run(tmp_path, "first", "amid").reach("amid")
    # a run that begins now waits at once; one that has begun waits where it would exchange
    second = Run(tmp_path, "second")
    with contextlib.suppress(subprocess.TimeoutExpired):
        second.process.wait(1.0)
    assert first.end() == 0
    assert second.end() == 0
    assert tree(tmp_path) == dict.fromkeys("abc", "second")


@pytest.mark.skipif(os.name != "posix", reason="locks as on POSIX")
def test_an_exchange_is_not_begun_amid_another(tmp_path):
    write_set(tmp_path, what="old")
    second = Run(tmp_path, "second", "written").reach("written")
    first = Run(tmp_path, "first", "amid").reach("amid")
    second.process.stdin.write("\n")
    second.process.stdin.flush()
    second.reach("exchange")
    with contextlib.suppress(subprocess.TimeoutExpired):
        second.process.wait(0.5)
    assert first.end() == 0
    assert second.process.wait(60) == 0
    assert tree(tmp_path) == dict.fromkeys("abc", "second")


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no such signal here")
def test_a_stage_of_a_killed_run_goes_while_a_living_one_stays(tmp_path):
    living = Run(tmp_path, "living", "written").reach("written")
    killed = Run(tmp_path, "killed", "written").reach("written")
    killed.process.kill()
    killed.process.communicate()
    assert len(list(tmp_path.glob(".layoutdesk-*/a"))) == 2
    write_set(tmp_path, what="next")
    assert [p.read_text() for p in tmp_path.glob(".layoutdesk-*/a")] == ["living"]
    assert living.end() == 0
    assert tree(tmp_path) == dict.fromkeys("abc", "living")


def test_where_a_disk_has_no_locks_a_fresh_stage_is_left_and_an_old_one_goes(tmp_path, monkeypatch):
    monkeypatch.setattr(atomic, "_held", lambda stage: False)
    fresh, old = tmp_path / ".layoutdesk-0a1b2c3d", tmp_path / ".layoutdesk-0a1b2c3e"
    for stage in (fresh, old):
        stage.mkdir()
    os.utime(old, (1e9, 1e9))
    write_set(tmp_path)
    assert tree(tmp_path) == {**dict.fromkeys("abc", "new"), fresh.name: "/"}
