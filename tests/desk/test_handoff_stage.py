"""The hand-off stage: what will be written is said first, and written only when asked for."""

from __future__ import annotations

import csv
import json

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from .hands import filed, notices, rest, type_into

Key = Qt.Key


@pytest.fixture
def handoff(desk):
    desk.actions_by_id["stage-handoff"].trigger()
    return desk


def told(window):
    """The preview's text without its marks and thin spaces."""
    return window.handoff_card.text.text().replace("\u202f", "").replace("\u00a0", "")


def type_folder(window, folder):
    line = window.handoff_card.folder
    line.setFocus()
    line.selectAll()
    line.insert(str(folder))


def test_the_preview_lists_files_with_the_plans_counts_system_and_unit(handoff):
    (plan,) = handoff.answer.plans
    text = told(handoff)
    for name in ("stakes.csv", "stakes.dxf", "stakes.geojson", "project.gpkg", "summary.json"):
        assert name in text
    assert f"{len(plan.vines)} vines" in text
    assert f"{len(plan.end_posts)} end posts" in text
    assert f"{len(plan.line_posts)} line posts" in text
    assert f"{plan.n_segments} row segments" in text
    assert "EPSG:32754" in text
    assert "metre" in text
    assert "WGS 84" in text
    assert handoff.survey.factor in handoff.handoff_card.text.text()


def test_the_preview_follows_a_change_of_the_rules(handoff):
    before = told(handoff)
    handoff.actions_by_id["stage-rows"].trigger()
    type_into(handoff, "vine_spacing_m", "3")
    rest(handoff)
    handoff.actions_by_id["stage-handoff"].trigger()
    (plan,) = handoff.answer.plans
    assert told(handoff) != before
    assert f"{len(plan.vines)} vines" in told(handoff)
    handoff.actions_by_id["undo"].trigger()
    rest(handoff)
    assert told(handoff) == before


def test_without_a_folder_nothing_can_be_written(handoff, tmp_path):
    assert not handoff.handoff_card.write.isEnabled()
    type_folder(handoff, tmp_path / "set")
    assert handoff.handoff_card.write.isEnabled()
    type_folder(handoff, "  ")
    assert not handoff.handoff_card.write.isEnabled()


def test_nothing_is_written_before_the_button_and_then_all_that_was_said(handoff, tmp_path):
    folder = tmp_path / "set"
    type_folder(handoff, folder)
    rest(handoff)
    assert not folder.exists()
    assert not handoff.handoff_card.there.isVisible()
    handoff.handoff_card.write.click()
    filed(handoff)
    assert notices(handoff) == []
    (plan,) = handoff.answer.plans
    with (folder / "stakes.csv").open(encoding="utf-8", newline="") as f:
        rows = [r for r in csv.reader(f) if r and not r[0].startswith("#")]
    n = sum(len(m) for m in plan.marks())
    assert len(rows) - 1 == n
    assert f"{n} points" in told(handoff)
    features = json.loads((folder / "stakes.geojson").read_text(encoding="utf-8"))["features"]
    assert f"{len(features)} features" in told(handoff)
    assert (folder / "project.gpkg").exists()
    assert (folder / "summary.json").exists()
    assert (folder / "about.txt").exists()
    assert "written to set" in handoff.work.text()


def test_the_features_told_are_those_written_with_an_exclusion_too(desk, tmp_path):
    from .test_ground_stage import places

    desk.actions_by_id["draw-exclusion-area"].trigger()
    places(desk, (-10, -10), (12, -10), (0, 14))
    notices(desk)
    rest(desk)
    desk.actions_by_id["stage-handoff"].trigger()
    assert "1 exclusion" in told(desk)
    type_folder(desk, tmp_path / "set")
    desk.handoff_card.write.click()
    filed(desk)
    text = (tmp_path / "set" / "stakes.geojson").read_text(encoding="utf-8")
    assert f"{len(json.loads(text)['features'])} features" in told(desk)


def test_a_folder_with_an_older_set_says_so_and_is_replaced(handoff, tmp_path):
    folder = tmp_path / "set"
    type_folder(handoff, folder)
    handoff.handoff_card.write.click()
    filed(handoff)
    assert "written there already" in handoff.handoff_card.there.text()  # at once
    type_folder(handoff, tmp_path / "other")
    assert not handoff.handoff_card.there.isVisible()
    type_folder(handoff, folder)
    assert handoff.handoff_card.there.isVisible()
    handoff.actions_by_id["stage-rows"].trigger()
    type_into(handoff, "vine_spacing_m", "3")
    rest(handoff)
    handoff.actions_by_id["stage-handoff"].trigger()
    assert "will be replaced" in handoff.handoff_card.there.text()
    handoff.handoff_card.write.click()
    filed(handoff)
    summary = json.loads((folder / "summary.json").read_text(encoding="utf-8"))
    assert summary["vines"] == handoff.answer.tally.vines


def test_writing_changes_no_project_and_leaves_no_step(handoff, tmp_path):
    before = handoff.document.project
    type_folder(handoff, tmp_path / "set")
    handoff.handoff_card.write.click()
    filed(handoff)
    assert handoff.document.project is before
    assert handoff.document.undo_label is None


def test_the_folder_can_be_chosen_and_is_asked_for_once(handoff, asked, tmp_path):
    folder = tmp_path / "chosen"
    folder.mkdir()
    asked.path = str(folder)
    handoff.handoff_card.folder_wanted.emit()
    assert handoff.handoff_card.folder.text() == str(folder)
    assert list(folder.iterdir()) == []
    handoff.handoff_card.write.click()
    filed(handoff)
    assert (folder / "stakes.csv").exists()
    assert asked.questions == []


def test_a_folder_that_cannot_be_is_told_in_one_sentence(handoff, tmp_path):
    (tmp_path / "file").write_text("x", encoding="utf-8")
    type_folder(handoff, tmp_path / "file" / "set")
    handoff.handoff_card.write.click()
    filed(handoff)
    (sentence,) = notices(handoff)
    assert sentence.count(". ") <= 1


def test_a_name_with_marks_of_html_is_shown_as_it_is(handoff, tmp_path):
    type_folder(handoff, tmp_path / "a <b> & c")
    handoff.handoff_card.write.click()
    filed(handoff)
    assert "a <b> & c" in handoff.work.text()


def test_the_folder_of_another_site_is_not_kept(handoff, two_block_project, tmp_path):
    type_folder(handoff, tmp_path / "set")
    handoff.show_project(two_block_project)
    rest(handoff)
    handoff.actions_by_id["stage-handoff"].trigger()
    assert handoff.handoff_card.folder.text() == ""
    (a, b) = handoff.answer.plans
    assert f"{len(a.vines) + len(b.vines)} vines" in told(handoff)
    assert "2 outlines" in told(handoff)


def test_enter_in_the_folder_goes_on_to_the_button(handoff, tmp_path):
    type_folder(handoff, tmp_path / "set")
    QTest.keyClick(handoff.handoff_card.folder, Key.Key_Return)
    assert not (tmp_path / "set").exists()  # Enter alone writes nothing


def test_every_word_of_the_card_is_in_reach(handoff):
    card = handoff.handoff_card
    assert card.isVisible()
    for widget in (card.folder, card.write):
        assert card.rect().contains(widget.geometry())
    assert card.text.height() >= card.text.heightForWidth(card.text.width())
