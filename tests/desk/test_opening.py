"""From nothing to a plan: files, samples, questions, and files that cannot be used."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QMimeData, QPointF, Qt, QUrl
from PySide6.QtGui import QDragEnterEvent, QDropEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from tests.desk.hands import LEFT, filed, notices, open_sample_named, pump_until, rest, type_into

Key = Qt.Key


def test_with_no_site_the_window_says_what_to_do(window):
    assert window.welcome.isVisible()
    assert not window.specification_card.isVisible()
    assert not window.stakeout_button.isEnabled()
    for name in ("save", "stake-out", "fit", "exclusions", "undo", "redo"):
        assert not window.actions_by_id[name].isEnabled(), name
    assert window.actions_by_id["open"].isEnabled()
    assert window.windowTitle() == "Layout Desk"


def test_every_action_can_be_triggered_with_no_site(window):
    for name, action in window.actions_by_id.items():
        if name not in ("quit", "open"):
            action.trigger()
    notices(window)
    assert window.document is None


def test_an_outline_file_becomes_a_plan(window, outline_file, asked):
    asked.path = str(outline_file)
    window.actions_by_id["open"].trigger()
    filed(window)
    rest(window)
    assert window.title.text() == "paddock"
    assert window.state.text() == "not saved as a project"
    assert window.canvas.drawing.answer.plans[0].n_vines > 1000
    assert window.tally.vines.text().replace("\u202f", "") == str(window.answer.tally.vines)
    assert window.specification_card.isVisible()
    assert not window.welcome.isVisible()
    assert "UTM zone 54S" in window.crs_label.text()
    assert window.factor_label.text().startswith("Combined factor 0.99")


def test_leaving_the_file_dialog_changes_nothing(window, asked):
    asked.path = ""
    window.actions_by_id["open"].trigger()
    assert window.document is None
    assert window.filing.task is None


def test_every_sample_opens_by_its_button(window):
    names = [b.text() for b in window.welcome.sample_buttons]
    assert len(names) >= 3
    QTest.mouseClick(window.welcome.sample_buttons[0], LEFT)
    filed(window)
    rest(window)
    assert window.document.project.name == names[0]
    assert window.answer.tally.vines > 1000


def test_a_sample_in_feet_shows_feet(window):
    open_sample_named(window, "bench_in_feet")
    assert window.paragraph.fields["row_spacing_m"].text() == "8.0 US ft"
    assert window.tally.figures["Plantable"].text().endswith(" ac")
    assert window.tally.figures["Longest"].text().endswith(" US ft")


def test_a_file_of_no_stated_grid_asks_and_opens_when_told(window, no_crs_file):
    window.filing.open_file(no_crs_file)
    filed(window)
    assert window.question.isVisible()
    assert not window.welcome.isVisible()
    assert "corners.csv" in window.question.text.text()
    assert "--" not in window.question.text.text()
    assert window.question.crs.hasFocus()
    QTest.keyClicks(window.question.crs, "EPSG:32754")
    QTest.keyClick(window.question.crs, Key.Key_Return)
    filed(window)
    rest(window)
    assert not window.question.isVisible()
    assert window.title.text() == "corners"
    assert window.answer.tally.vines > 1000


def test_a_wrong_answer_asks_again(window, no_crs_file):
    window.filing.open_file(no_crs_file)
    filed(window)
    QTest.keyClicks(window.question.crs, "the usual one")
    QTest.keyClick(window.question.crs, Key.Key_Return)
    filed(window)
    assert window.question.isVisible()
    assert "the usual one" in window.question.text.text()
    assert window.document is None


def test_a_question_can_be_left_with_escape(window, no_crs_file):
    window.filing.open_file(no_crs_file)
    filed(window)
    QTest.keyClick(window.question.crs, Key.Key_Escape)
    assert not window.question.isVisible()
    assert window.welcome.isVisible()


def test_a_question_leaves_the_open_site_alone(desk, no_crs_file):
    project = desk.document.project
    desk.filing.open_file(no_crs_file)
    filed(desk)
    assert desk.question.isVisible()
    desk.filing.leave_question()
    assert desk.document.project is project
    assert desk.canvas.drawing is not None


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("broken.geojson", b'{"type": "FeatureColl'),
        ("notes.txt", b"nothing here is a corner\n"),
        ("empty.gpkg", b""),
    ],
)
def test_a_file_that_cannot_be_read_says_so_in_one_sentence(window, tmp_path, name, content):
    path = tmp_path / name
    path.write_bytes(content)
    window.filing.open_file(path)
    filed(window)
    texts = [window.question.text.text()] if window.question.isVisible() else notices(window)
    assert len(texts) == 1
    assert name in texts[0]
    assert "Traceback" not in texts[0]
    assert "Errno" not in texts[0]
    assert window.document is None


def test_a_folder_without_a_shape_in_it_says_so(window, tmp_path):
    folder = tmp_path / "photos"
    folder.mkdir()
    window.filing.open_file(folder)
    filed(window)
    texts = [window.question.text.text()] if window.question.isVisible() else notices(window)
    assert len(texts) == 1
    assert "photos" in texts[0]


def test_a_file_that_is_not_there_says_so(window, tmp_path):
    window.filing.open_file(tmp_path / "gone.geojson")
    filed(window)
    texts = [window.question.text.text()] if window.question.isVisible() else notices(window)
    assert len(texts) == 1
    assert "gone.geojson" in texts[0]


def drop(window, path) -> None:
    """A file dragged in over the plan and let go."""
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(path))])
    held = (
        Qt.DropAction.CopyAction,
        data,
        Qt.MouseButton.LeftButton,
        Qt.KeyboardModifier.NoModifier,
    )
    over = QPointF(400, 400)
    QApplication.sendEvent(window, QDragEnterEvent(over.toPoint(), *held))
    QApplication.sendEvent(window, QDropEvent(over, *held))


def test_a_dropped_file_opens(window, outline_file):
    drop(window, outline_file)
    filed(window)
    rest(window)
    assert window.title.text() == "paddock"


def test_a_second_file_while_one_is_being_opened_is_refused_in_words(window, outline_file):
    window.filing.open_file(outline_file)
    window.filing.open_file(outline_file)
    assert "One thing at a time" in window.work.text()
    filed(window)
    rest(window)
    assert window.title.text() == "paddock"


def test_another_site_starts_afresh(desk, two_block_project):
    desk.canvas.point_at((0, 5))
    type_into(desk, "row_spacing_m", "wide")
    assert desk.paragraph.reason("row_spacing_m")
    desk.show_project(two_block_project)
    rest(desk)
    assert desk.document.undo_label is None
    assert len(desk.canvas.drawing.answer.plans) == 2
    assert not desk.paragraph.reason("row_spacing_m")
    assert desk.canvas.pointed is None
    assert desk.tally.difference.text() == ""
    assert desk.block_choice.isVisible()


def test_an_answer_for_a_site_that_was_left_is_not_shown(desk, small_project, two_block_project):
    desk.show_project(two_block_project)
    desk.show_project(small_project)
    rest(desk)
    assert desk.answer.project == small_project
    assert len(desk.canvas.drawing.answer.plans) == 1


def test_closing_the_site_shows_what_to_do_next(desk):
    desk.actions_by_id["close-site"].trigger()
    assert desk.welcome.isVisible()
    assert desk.document is None
    assert desk.canvas.drawing is None
    assert desk.title.text() == "Layout Desk"
    assert desk.crs_label.text() == ""
    pump_until(lambda: desk.answer is None, "nothing is shown", 2)
