"""Unsaved work is kept on disk, offered after a crash, and never lost twice."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import textwrap
from dataclasses import replace
from pathlib import Path

import pytest
import shapely

from layoutdesk import Block, InputProblem, Project, RowRules, Site, SiteFrame
from layoutdesk.session.document import Document
from layoutdesk.session.journal import Journal

ROOT = Path(__file__).parents[2]


def a_project(spacing_m: float = 2.4) -> Project:
    block = Block("B1", shapely.box(0, 0, 90, 160), RowRules(row_spacing_m=spacing_m))
    return Project("Lower field", Site(SiteFrame(-41.5, 173.9), "EPSG:2193", "EPSG:2193"), (block,))


def widened(project: Project) -> Project:
    block = project.blocks[0]
    rules = replace(block.rules, row_spacing_m=block.rules.row_spacing_m + 0.1)
    return project.with_block(replace(block, rules=rules))


@pytest.fixture
def journal(tmp_path):
    made = Journal(tmp_path / "unsaved", delay_s=0, threaded=False)
    yield made
    made.close()


def files(tmp_path) -> set[str]:
    return {p.suffix for p in (tmp_path / "unsaved").glob("*")}


def test_a_change_is_on_disk_at_once_and_a_save_clears_it(journal, tmp_path):
    document = Document(a_project(), tmp_path / "f.gpkg", saved=True)
    journal.keep(document)
    assert not files(tmp_path)
    document.edit("wider", widened)
    assert files(tmp_path) == {".gpkg", ".json", ".lock"}
    document.mark_saved(tmp_path / "f.gpkg", document.project)
    assert not files(tmp_path)
    document.edit("wider", widened)
    document.undo()  # back to what the file holds
    assert not files(tmp_path)


def test_an_outline_just_opened_is_no_work_to_keep(journal, tmp_path):
    journal.keep(Document(a_project()))
    assert not files(tmp_path)


def test_work_of_a_living_session_is_not_offered(journal, tmp_path):
    document = Document(a_project())
    journal.keep(document)
    document.edit("wider", widened)
    other = Journal(tmp_path / "unsaved", delay_s=0, threaded=False)
    assert other.left_behind() == []
    other.close()
    assert files(tmp_path) == {".gpkg", ".json", ".lock"}


CHILD = """
import sys, time
sys.path.insert(0, {root!r})
from pathlib import Path
from layoutdesk.session.document import Document
from layoutdesk.session.journal import Journal
from tests.session.test_journal import a_project, widened
folder = Path(sys.argv[1])
journal = Journal(folder / "unsaved", delay_s=0)
left = journal.left_behind()
if left:
    document = Document(journal.take_up(left[0]), left[0].origin, recovered=True)
else:
    document = Document(a_project(), folder / "field.gpkg", saved=True)
journal.keep(document)
document.edit("wider", widened)
assert journal.wait() and journal.problem is None, journal.problem
print(document.project.blocks[0].rules.row_spacing_m, flush=True)
time.sleep(60)
"""


def crash(folder: Path) -> float:
    """Work in a process of its own, killed in the middle; the row spacing it had come to."""
    code = textwrap.dedent(CHILD.format(root=str(ROOT)))
    child = subprocess.Popen(
        [sys.executable, "-c", code, str(folder)], stdout=subprocess.PIPE, text=True, cwd=ROOT
    )
    said = child.stdout.readline()
    os.kill(child.pid, signal.SIGKILL if hasattr(signal, "SIGKILL") else signal.SIGTERM)
    child.wait()
    child.stdout.close()
    return float(said)


def test_a_second_crash_loses_nothing(journal, tmp_path):
    assert crash(tmp_path) == pytest.approx(2.5)
    assert [w.name for w in journal.left_behind()] == ["Lower field"]
    assert crash(tmp_path) == pytest.approx(2.6)  # took the work up, went on, was killed again
    (left,) = journal.left_behind()
    assert left.origin == (tmp_path / "field.gpkg").resolve()
    project = journal.take_up(left)
    assert project.blocks[0].rules.row_spacing_m == pytest.approx(2.6)
    document = Document(project, left.origin, recovered=True)
    assert document.has_work
    journal.keep(document)
    assert journal.left_behind() == []
    assert files(tmp_path) == {".gpkg", ".json", ".lock"}  # kept until it is saved
    document.mark_saved(left.origin, document.project)
    assert not files(tmp_path)


def test_left_work_that_is_thrown_away_is_gone(journal, tmp_path):
    crash(tmp_path)
    journal.discard(journal.left_behind()[0])
    assert not files(tmp_path)


def test_left_work_that_does_not_read_is_refused_in_one_sentence_and_stays(journal, tmp_path):
    crash(tmp_path)
    (left,) = journal.left_behind()
    (tmp_path / "unsaved" / f"{left.token}.gpkg").write_bytes(b"half a file")
    with pytest.raises(InputProblem, match="no whole Layout Desk project"):
        journal.take_up(left)
    assert len(journal.left_behind()) == 1


def test_a_place_that_cannot_be_written_does_not_stop_the_work(tmp_path):
    (tmp_path / "unsaved").write_text("a file where the folder should be")
    journal = Journal(tmp_path / "unsaved", delay_s=0, threaded=False)
    document = Document(a_project())
    journal.keep(document)
    document.edit("wider", widened)
    assert journal.problem
    assert document.project.blocks[0].rules.row_spacing_m == pytest.approx(2.5)
    journal.close()
