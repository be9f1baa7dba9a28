"""Saving, stake-out and leaving: work is kept, what was there stays whole, one notice says what failed."""

from __future__ import annotations

import datetime
import errno
import json
import os
import threading
from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from layoutdesk.desk.telling import NoticeCard
from layoutdesk.formats.project_file import open_project, save_project
from layoutdesk.session.journal import Journal
from layoutdesk.session.opened import HeldFile
from layoutdesk.session.tally import grouped
from tests.desk.hands import CTRL, filed, notices, pump_until, rest, type_into

Key = Qt.Key
SET = {
    "stakes.csv",
    "stakes.geojson",
    "stakes.dxf",
    "project.gpkg",
    "summary.json",
    "about.txt",
}


def contents(folder) -> dict[str, bytes]:
    return {p.name: p.read_bytes() for p in folder.iterdir()}


def test_a_saved_project_opens_equal(desk, tmp_path):
    type_into(desk, "row_spacing_m", "2.7")
    path = tmp_path / "mine.gpkg"
    desk.filing.save_to(path)
    filed(desk)
    assert desk.state.text() == "saved"
    assert not desk.isWindowModified()
    project = desk.document.project
    assert open_project(path) == project
    desk.filing.open_file(path)
    filed(desk)
    rest(desk)
    assert desk.document.project == project
    assert desk.document.project is not project
    assert desk.state.text() == "saved"
    assert desk.document.path == path


def test_an_edit_after_saving_is_unsaved_and_its_undo_is_saved_again(desk, tmp_path):
    desk.filing.save_to(tmp_path / "mine.gpkg")
    filed(desk)
    type_into(desk, "row_spacing_m", "2.7")
    assert desk.state.text() == "not saved"
    assert desk.isWindowModified()
    desk.actions_by_id["undo"].trigger()
    assert desk.state.text() == "saved"
    assert not desk.isWindowModified()


def test_an_edit_while_saving_stays_unsaved(desk, tmp_path):
    before = desk.document.project
    desk.filing.save_to(tmp_path / "mine.gpkg")
    desk.rules.type("row_spacing_m", "2.7")
    filed(desk)
    assert desk.state.text() == "not saved"
    assert open_project(tmp_path / "mine.gpkg") == before


@pytest.mark.parametrize(
    ("typed", "written"),
    [
        ("north field", "north field.gpkg"),
        ("north.gpkg", "north.gpkg"),
        ("block 2.5", "block 2.5.gpkg"),
    ],
)
def test_save_as_gives_the_file_its_ending(desk, asked, tmp_path, typed, written):
    asked.path = str(tmp_path / typed)
    desk.actions_by_id["save-as"].trigger()
    filed(desk)
    assert (tmp_path / written).is_file()
    assert desk.document.path == tmp_path / written


def test_saving_by_key_asks_where_only_the_first_time(desk, asked, tmp_path):
    asked.path = str(tmp_path / "first.gpkg")
    QTest.keyClick(desk.canvas, Key.Key_S, CTRL)
    filed(desk)
    asked.path = str(tmp_path / "second.gpkg")
    type_into(desk, "row_spacing_m", "2.7")
    QTest.keyClick(desk.canvas, Key.Key_S, CTRL)
    filed(desk)
    assert not (tmp_path / "second.gpkg").exists()
    assert open_project(tmp_path / "first.gpkg") == desk.document.project


def test_text_being_typed_is_part_of_what_is_saved(desk, asked, tmp_path):
    asked.path = str(tmp_path / "typed.gpkg")
    value = desk.paragraph.fields["row_spacing_m"]
    value.setFocus()
    QTest.keyClicks(value, "2.9")
    QTest.keyClick(value, Key.Key_S, CTRL)
    filed(desk)
    assert open_project(tmp_path / "typed.gpkg").blocks[0].rules.row_spacing_m == 2.9


def refuse_to_write(monkeypatch):
    def replace(*args):
        raise OSError(errno.EROFS, "Read-only file system")

    monkeypatch.setattr("layoutdesk.formats.atomic.os.replace", replace)


def test_a_place_that_cannot_be_written_is_one_notice_and_work_is_kept(desk, tmp_path, monkeypatch):
    type_into(desk, "row_spacing_m", "2.7")
    project = desk.document.project
    refuse_to_write(monkeypatch)
    desk.filing.save_to(tmp_path / "mine.gpkg")
    filed(desk)
    texts = notices(desk)
    assert len(texts) == 1
    assert "read-only file system" in texts[0]
    assert "choose another place" in texts[0]
    assert "Your work is kept here" in texts[0]
    assert desk.document.project is project
    assert desk.state.text() == "not saved as a project"
    assert desk.document.undo_label == "Change row spacing"
    assert list(tmp_path.glob("*mine*")) == []


def test_a_save_that_failed_can_be_made_somewhere_else(desk, asked, tmp_path, monkeypatch):
    refuse_to_write(monkeypatch)
    desk.filing.save_to(tmp_path / "mine.gpkg")
    filed(desk)
    monkeypatch.undo()
    monkeypatch.setattr("layoutdesk.desk.choosing.chosen_path", asked.chosen_path)
    asked.path = str(tmp_path / "other.gpkg")
    [card] = desk.findChildren(NoticeCard)
    assert card.buttons[0].text() == "Save somewhere else…"
    assert card.buttons[0].hasFocus()
    QTest.keyClick(card.buttons[0], Key.Key_Return)
    filed(desk)
    assert open_project(tmp_path / "other.gpkg") == desk.document.project
    assert desk.state.text() == "saved"


@pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write anywhere"
)
def test_a_read_only_folder_is_one_notice(desk, tmp_path):
    folder = tmp_path / "shut"
    folder.mkdir(mode=0o555)
    desk.filing.save_to(folder / "mine.gpkg")
    filed(desk)
    assert len(notices(desk)) == 1
    assert desk.state.text() == "not saved"


def test_a_folder_that_is_gone_is_one_notice(desk, tmp_path):
    desk.filing.save_to(tmp_path / "gone" / "mine.gpkg")
    filed(desk)
    texts = notices(desk)
    assert len(texts) == 1
    assert "gone" in texts[0]


# stake-out


def test_a_stake_out_set_is_written_whole(desk, asked, tmp_path):
    asked.path = str(tmp_path / "set")
    desk.actions_by_id["stake-out"].trigger()
    filed(desk)
    assert set(contents(tmp_path / "set")) == SET
    lines = (tmp_path / "set" / "stakes.csv").read_bytes().count(b"\n")
    assert lines > desk.answer.tally.vines + desk.answer.tally.end_posts
    assert f"{grouped(desk.answer.tally.vines)} vines" in desk.work.text()
    assert notices(desk) == []


def test_a_cancelled_export_leaves_the_old_set_whole(desk, tmp_path, monkeypatch):
    folder = tmp_path / "set"
    desk.filing.stake_out_to(folder)
    filed(desk)
    before = contents(folder)
    type_into(desk, "row_spacing_m", "3")

    import layoutdesk.formats.stakes_geojson as later

    reached, go = threading.Event(), threading.Event()
    write = later.write_stakes_geojson

    def held(*args):
        reached.set()
        assert go.wait(20)
        return write(*args)

    monkeypatch.setattr(later, "write_stakes_geojson", held)
    desk.filing.stake_out_to(folder)
    pump_until(reached.is_set, "the export is half done")
    assert desk.stop.isVisible()
    desk.stop.click()
    go.set()
    filed(desk)
    assert contents(folder) == before
    assert "called off" in desk.work.text()
    assert not desk.stop.isVisible()
    desk.filing.stake_out_to(folder)  # and the next one goes through
    monkeypatch.undo()
    filed(desk)
    assert set(contents(folder)) == SET
    assert contents(folder)["stakes.csv"] != before["stakes.csv"]


def test_an_export_that_fails_leaves_the_old_set_whole(desk, tmp_path, monkeypatch):
    folder = tmp_path / "set"
    desk.filing.stake_out_to(folder)
    filed(desk)
    before = contents(folder)
    type_into(desk, "row_spacing_m", "3")
    import layoutdesk.formats.stakes_dxf as late

    def full(*args):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(late, "write_stakes_dxf", full)
    desk.filing.stake_out_to(folder)
    filed(desk)
    assert contents(folder) == before
    texts = notices(desk)
    assert len(texts) == 1
    assert "no space left" in texts[0].lower()


def test_the_window_can_be_used_while_an_export_runs(desk, tmp_path):
    project = desk.document.project
    desk.filing.stake_out_to(tmp_path / "set")
    desk.rules.type("row_spacing_m", "3")
    filed(desk)
    assert open_project(tmp_path / "set" / "project.gpkg") == project
    assert desk.document.project != project


def test_a_folder_with_other_things_gets_a_folder_for_the_set(desk, asked, tmp_path):
    (tmp_path / "letter.txt").write_text("kept", encoding="utf-8")
    asked.path = str(tmp_path)
    desk.actions_by_id["stake-out"].trigger()
    filed(desk)
    assert set(contents(tmp_path / "paddock stake-out")) == SET
    assert (tmp_path / "letter.txt").read_text(encoding="utf-8") == "kept"


def test_a_set_that_is_there_is_replaced_only_when_asked_to(desk, asked, tmp_path):
    folder = tmp_path / "set"
    desk.filing.stake_out_to(folder)
    filed(desk)
    before = contents(folder)
    revision = json.loads(before["summary.json"])["revision"]
    type_into(desk, "row_spacing_m", "3")
    asked.path = str(folder)
    desk.actions_by_id["stake-out"].trigger()
    filed(desk)
    assert contents(folder) == before
    assert f"revision {revision}" in asked.questions[0]
    assert str(datetime.date.today().year) in asked.questions[0]
    asked.answer, asked.paths = "other", [str(folder), str(tmp_path / "next")]
    desk.actions_by_id["stake-out"].trigger()
    filed(desk)
    assert contents(folder) == before
    assert set(contents(tmp_path / "next")) == SET
    asked.answer = "replace"
    desk.actions_by_id["stake-out"].trigger()
    filed(desk)
    assert contents(folder)["stakes.csv"] != before["stakes.csv"]


# saving by itself


def test_the_program_saves_by_itself_where_the_project_has_a_file(desk, tmp_path):
    desk.filing.choose_autosave(5)
    desk.filing.autosave.tick()
    assert desk.filing.task is None  # it has no file
    desk.filing.save_to(tmp_path / "mine.gpkg")
    filed(desk)
    type_into(desk, "row_spacing_m", "2.7")
    desk.filing.autosave.tick()
    assert not desk.stop.isVisible()
    filed(desk)
    assert open_project(tmp_path / "mine.gpkg") == desk.document.project
    assert desk.state.text() == "saved"
    assert "saved by itself at" in desk.work.text()


def test_a_hand_on_the_plan_is_not_disturbed(desk, tmp_path, monkeypatch):
    desk.filing.save_to(tmp_path / "mine.gpkg")
    filed(desk)
    type_into(desk, "row_spacing_m", "2.7")
    monkeypatch.setattr(
        "layoutdesk.desk.autosave.QApplication.mouseButtons", lambda: Qt.MouseButton.LeftButton
    )
    desk.filing.autosave.tick()
    assert desk.filing.task is None
    assert desk.state.text() == "not saved"


def test_failing_by_itself_is_said_once(desk, tmp_path, monkeypatch):
    desk.filing.save_to(tmp_path / "mine.gpkg")
    filed(desk)
    type_into(desk, "row_spacing_m", "2.7")
    refuse_to_write(monkeypatch)
    for expected in (1, 0):
        desk.filing.autosave.tick()
        filed(desk)
        assert len(notices(desk)) == expected


def test_how_often_is_kept_and_never_is_never(desk, settings):
    clock = desk.filing.autosave._clock
    assert not clock.isActive()
    desk.filing.choose_autosave(15)
    assert clock.interval() == 15 * 60_000
    assert clock.isActive()
    assert desk.filing.autosave.minutes() == 15
    desk.filing.choose_autosave(0)
    assert not clock.isActive()


# a project that is open twice


@pytest.fixture
def journalled(desk, tmp_path):
    """The window with a journal of its own, on a project with a file."""
    desk.journal = Journal(tmp_path / "unsaved", delay_s=0.0)
    path = tmp_path / "mine.gpkg"
    desk.filing.save_to(path)
    filed(desk)
    desk.filing.open_file(path)
    filed(desk)
    rest(desk)
    yield desk
    if desk.document is not None:
        desk.document.mark_saved(path, desk.document.project)
    desk.journal.close()


def test_a_project_open_in_another_window_is_said_before_it_opens(journalled, tmp_path):
    desk, path = journalled, tmp_path / "mine.gpkg"
    desk.close_site()
    other = HeldFile(desk.journal.folder)
    assert other.hold(path)  # the closed site has let it go
    desk.filing.open_file(path)
    filed(desk)
    [card] = desk.findChildren(NoticeCard)
    assert card.text() == (
        "mine.gpkg is open in another window: saving here replaces what is saved there."
    )
    assert desk.document is None
    QTest.keyClick(card.buttons[0], Key.Key_Escape)
    assert desk.document is None
    desk.filing.open_file(path)
    filed(desk)
    card = desk.findChildren(NoticeCard)[-1]
    assert [b.text() for b in card.buttons] == ["Leave it", "Open anyway"]
    card.buttons[1].click()
    rest(desk)
    assert desk.document.path == path
    other.free()


def test_the_file_is_held_until_another_project_is_shown(journalled, outline_file, tmp_path):
    desk, other = journalled, HeldFile(journalled.journal.folder)
    assert not other.hold(tmp_path / "mine.gpkg")
    desk.filing.open_file(outline_file)
    filed(desk)
    rest(desk)
    assert other.hold(tmp_path / "mine.gpkg")
    other.free()


def test_opening_the_same_project_again_asks_nothing(journalled, tmp_path):
    journalled.filing.open_file(tmp_path / "mine.gpkg")
    filed(journalled)
    rest(journalled)
    assert notices(journalled) == []


# leaving


def test_closing_with_nothing_changed_asks_nothing(desk, asked):
    assert desk.close()
    assert asked.questions == []


def test_closing_with_unsaved_work_asks_once_and_cancel_stays(desk, asked):
    type_into(desk, "row_spacing_m", "2.7")
    asked.answer = ""
    assert not desk.close()
    assert desk.isVisible()
    assert len(asked.questions) == 1
    assert asked.questions[0].startswith("Save the changes to paddock before closing?")
    assert asked.answers[0] == ("Save", "Don't save", "Go back")
    assert desk.document.undo_label == "Change row spacing"
    rest(desk)  # the worker still answers


def test_undoing_what_was_saved_is_unsaved_work_too(desk, asked, tmp_path):
    type_into(desk, "row_spacing_m", "2.7")
    desk.filing.save_to(tmp_path / "mine.gpkg")
    filed(desk)
    desk.actions_by_id["undo"].trigger()
    assert desk.state.text() == "not saved"
    assert not desk.close()
    assert len(asked.questions) == 1


def test_closing_and_discarding_closes(desk, asked):
    type_into(desk, "row_spacing_m", "2.7")
    asked.answer = "drop"
    assert desk.close()
    assert len(asked.questions) == 1


def test_closing_and_saving_saves_then_closes(desk, asked, tmp_path):
    path = tmp_path / "mine.gpkg"
    desk.filing.save_to(path)
    filed(desk)
    type_into(desk, "row_spacing_m", "2.7")
    asked.answer = "save"
    assert desk.close()
    assert len(asked.questions) == 1
    assert open_project(path).blocks[0].rules.row_spacing_m == 2.7


def test_closing_and_saving_where_saving_fails_stays_open(desk, asked, tmp_path, monkeypatch):
    path = tmp_path / "mine.gpkg"
    desk.filing.save_to(path)
    filed(desk)
    type_into(desk, "row_spacing_m", "2.7")
    refuse_to_write(monkeypatch)
    asked.answer = "save"
    assert not desk.close()
    assert len(notices(desk)) == 1
    assert desk.isVisible()
    assert desk.state.text() == "not saved"


def test_closing_and_saving_but_leaving_the_file_dialog_stays_open(desk, asked):
    type_into(desk, "row_spacing_m", "2.7")
    asked.answer, asked.path = "save", ""
    assert not desk.close()
    assert desk.state.text() == "not saved as a project"


def test_opening_another_site_with_unsaved_work_asks_too(desk, asked, outline_file):
    type_into(desk, "row_spacing_m", "2.7")
    project = desk.document.project
    asked.answer, asked.path = "", str(outline_file)
    desk.actions_by_id["open"].trigger()
    assert len(asked.questions) == 1
    assert desk.document.project is project
    desk.actions_by_id["close-site"].trigger()
    assert len(asked.questions) == 2
    assert desk.document.project is project


def test_closing_while_an_export_runs_leaves_no_half_set(desk, tmp_path):
    desk.filing.stake_out_to(tmp_path / "set")
    desk.close()
    left = set(contents(tmp_path / "set")) if (tmp_path / "set").exists() else set()
    assert left in (set(), SET)


def test_a_file_that_another_window_saved_meanwhile_is_not_replaced_unasked(desk, asked, tmp_path):
    path = tmp_path / "shared.gpkg"
    desk.filing.save_to(path)
    filed(desk)
    other = replace(desk.document.project, name="theirs")
    save_project(path, other)
    type_into(desk, "row_spacing_m", "3.3")
    desk.actions_by_id["save"].trigger()
    filed(desk)
    assert any("changed elsewhere" in q for q in asked.questions)
    assert open_project(path) == other
    asked.answer = "replace"
    desk.actions_by_id["save"].trigger()
    filed(desk)
    assert open_project(path) == desk.document.project
