"""After a crash the window offers what was left, once, for the right project."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from layoutdesk.formats.project_file import open_project
from layoutdesk.session.document import Document
from layoutdesk.session.journal import Journal

from .hands import filed, rest, type_into


def widened(project):
    block = project.blocks[0]
    return project.with_block(replace(block, rules=replace(block.rules, row_spacing_m=3.1)))


def left_after_a_crash(folder: Path, project, origin: Path | None) -> None:
    """A journal whose session is gone: its lock is free, its files are there."""
    journal = Journal(folder, delay_s=0, threaded=False)
    document = Document(project, origin)
    journal.keep(document)
    document.edit("wider", widened)
    journal._lock.release()


@pytest.fixture
def journalled(window, tmp_path):
    window.journal = Journal(tmp_path / "unsaved", delay_s=0)
    yield window
    window.journal.close()


def spacing(window) -> float:
    return window.document.project.blocks[0].rules.row_spacing_m


def buttons(window):
    from PySide6.QtWidgets import QPushButton

    return {b.text(): b for b in window.recovery.findChildren(QPushButton) if not b.isHidden()}


def test_left_work_is_offered_and_taken_up(journalled, small_project, tmp_path, asked):
    left_after_a_crash(tmp_path / "unsaved", small_project, None)
    journalled.filing.offer_left_work()
    assert not journalled.recovery.isHidden()
    buttons(journalled)["Go on"].click()
    filed(journalled)
    rest(journalled)
    assert spacing(journalled) == 3.1
    assert journalled.state.text() == "not saved as a project"
    journalled.filing.save_to(tmp_path / "kept.gpkg")
    filed(journalled)
    assert journalled.journal.wait()
    assert open_project(tmp_path / "kept.gpkg").blocks[0].rules.row_spacing_m == 3.1
    assert not list((tmp_path / "unsaved").glob("*.gpkg"))
    journalled.filing.offer_left_work()
    assert journalled.recovery.isHidden()  # once


def test_recovered_work_is_not_left_without_a_question(journalled, small_project, tmp_path, asked):
    left_after_a_crash(tmp_path / "unsaved", small_project, None)
    journalled.filing.offer_left_work()
    buttons(journalled)["Go on"].click()
    filed(journalled)
    assert journalled.document.has_work


def test_work_on_another_project_is_not_offered_here(journalled, small_project, tmp_path):
    left_after_a_crash(tmp_path / "unsaved", small_project, tmp_path / "other.gpkg")
    journalled.filing.offer_left_work(tmp_path / "mine.gpkg")
    assert journalled.recovery.isHidden()
    journalled.filing.offer_left_work(tmp_path / "other.gpkg")
    assert not journalled.recovery.isHidden()
    buttons(journalled)["Throw away"].click()
    assert journalled.recovery.isHidden()
    assert not list((tmp_path / "unsaved").glob("*"))


def test_work_in_hand_is_kept_and_gone_when_the_window_is_closed(
    journalled, small_project, tmp_path, asked
):
    journalled.show_project(small_project)
    rest(journalled)
    type_into(journalled, "row_spacing_m", "2.8")
    rest(journalled)
    assert journalled.journal.wait()
    (kept,) = (tmp_path / "unsaved").glob("*.gpkg")
    assert open_project(kept).blocks[0].rules.row_spacing_m == pytest.approx(2.8)
    journalled.journal.close()
    assert not list((tmp_path / "unsaved").glob("*"))
