"""What is there already: files other windows hold, sets in folders."""

from __future__ import annotations

import subprocess
import sys

import pytest

from layoutdesk.session.opened import HeldFile, set_folder, set_in
from layoutdesk.session.samples import open_sample, samples
from layoutdesk.session.stakeout import stake_set, write_stake_set

HOLD = """
import sys
from layoutdesk.session.opened import HeldFile
assert HeldFile(sys.argv[1]).hold(sys.argv[2])
held = HeldFile(sys.argv[1])
print(held.elsewhere(sys.argv[2]), flush=True)
sys.stdin.read()
"""


def test_a_file_that_is_held_is_known_to_another_window(tmp_path):
    mine, other = HeldFile(tmp_path), HeldFile(tmp_path)
    path = tmp_path / "oak.gpkg"
    assert mine.hold(path)
    assert mine.hold(path)
    assert not mine.elsewhere(path)
    assert other.elsewhere(path)
    assert not other.hold(path)
    assert other.hold(tmp_path / "elm.gpkg")
    mine.free()
    assert not other.elsewhere(path)
    assert other.hold(path)
    assert mine.hold(tmp_path / "elm.gpkg")  # other holds one file at a time


def test_one_file_has_one_name_however_it_is_reached(tmp_path, monkeypatch):
    (tmp_path / "sub").mkdir()
    mine, other = HeldFile(tmp_path), HeldFile(tmp_path)
    assert mine.hold(tmp_path / "oak.gpkg")
    assert other.elsewhere(tmp_path / "sub" / ".." / "oak.gpkg")
    monkeypatch.chdir(tmp_path)
    assert other.elsewhere("oak.gpkg")


def test_asking_leaves_nothing_behind(tmp_path):
    held = HeldFile(tmp_path / "kept")
    held.elsewhere(tmp_path / "oak.gpkg")
    held.hold(tmp_path / "oak.gpkg")
    held.free()
    assert list((tmp_path / "kept").iterdir()) == []


def test_a_process_that_dies_lets_go(tmp_path):
    path = tmp_path / "oak.gpkg"
    process = subprocess.Popen(
        [sys.executable, "-c", HOLD, str(tmp_path), str(path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
    )
    try:
        process.stdout.readline()
        mine = HeldFile(tmp_path)
        assert mine.hold(tmp_path / "elm.gpkg")
    finally:
        process.kill()
        process.communicate()
    assert mine.hold(path)


def test_a_folder_that_cannot_be_written_stops_nobody(tmp_path):
    (tmp_path / "file").write_text("", encoding="utf-8")
    held = HeldFile(tmp_path / "file")
    assert held.hold(tmp_path / "oak.gpkg")
    assert not held.elsewhere(tmp_path / "elm.gpkg")
    held.free()


@pytest.fixture(scope="module")
def field():
    return open_sample(next(s for s in samples() if s.name == "field_with_pond"))


def test_a_set_says_its_project_and_revision(tmp_path, field):
    assert set_in(tmp_path) is None
    stakes = stake_set(field)
    write_stake_set(tmp_path, stakes)
    there = set_in(tmp_path)
    assert (there.project, there.revision) == (field.name, stakes.revision)
    assert stakes.revision in there.words
    (tmp_path / "summary.json").write_text("{half", encoding="utf-8")
    assert set_in(tmp_path).revision == ""


def test_a_set_goes_into_an_empty_folder_or_over_a_set_else_into_one_of_its_own(tmp_path):
    assert set_folder(tmp_path / "new", "oak") == tmp_path / "new"
    assert set_folder(tmp_path, "oak") == tmp_path
    (tmp_path / "letter.txt").write_text("", encoding="utf-8")
    assert set_folder(tmp_path, "oak") == tmp_path / "oak stake-out"
    assert set_folder(tmp_path, "a/b: c?") == tmp_path / "a-b- c- stake-out"
    (tmp_path / "summary.json").write_text("{}", encoding="utf-8")
    assert set_folder(tmp_path, "oak") == tmp_path
