"""Cards that ask and tell, and the file dialog in the program's own look."""

from __future__ import annotations

from pathlib import Path

import pytest
import shiboken6
from PySide6.QtCore import QEvent, Qt, QTimer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import (
    QApplication,
    QDialog,
    QMessageBox,
    QPushButton,
    QToolButton,
    QTreeView,
)

from layoutdesk.core.model import InputProblem
from layoutdesk.desk import choosing, telling
from layoutdesk.desk.asking import AskCard, Field, Unfit
from layoutdesk.desk.telling import NoticeCard
from tests.desk.hands import pump_until, rest

Key = Qt.Key

# the real ones, which the fixture `asked` stands in for
decide, chosen_path = telling.decide, choosing.chosen_path


def refuse(texts):
    raise Unfit("Two is too many: give --unit m.", "second")


@pytest.fixture
def card(desk):
    """A card with two fields that can never be taken."""
    card = AskCard(desk.canvas)
    fields = (Field("first", "First", "one"), Field("second", "Second", asked=False))
    card.ask("Two things", "Say both.", fields, "Take them", refuse)
    return card


def test_a_card_asks_with_the_keyboard_on_its_first_field(card):
    line = card.fields["first"].line
    assert line.hasFocus()
    assert line.selectedText() == "one"
    assert not card.fields["second"].isVisible()
    assert card.accessibleName() == "Two things"
    assert card.accessibleDescription() == "Say both."


def test_a_problem_stands_under_its_field_and_nothing_typed_is_lost(card):
    QTest.keyClicks(card.fields["first"].line, "mine")
    QTest.keyClick(card.fields["first"].line, Key.Key_Return)
    assert card.isVisible()
    assert card.texts() == {"first": "mine", "second": ""}
    rows = card.fields["second"]
    assert rows.isVisible()
    assert rows.line.hasFocus()
    assert rows.problem.isVisible()
    assert "--" not in rows.problem.text()
    assert rows.problem.mapTo(card, rows.problem.rect().topLeft()).y() > (
        rows.line.mapTo(card, rows.line.rect().topLeft()).y()
    )
    assert card.rect().contains(rows.problem.mapTo(card, rows.problem.rect().bottomRight()))


def test_tab_walks_from_field_to_button_in_the_order_they_are_seen(card):
    card.fields["second"].show()
    for expected in (card.fields["second"].line, card.primary, card.leave_button):
        QTest.keyClick(QApplication.focusWidget(), Key.Key_Tab)
        assert expected.hasFocus()
    QTest.keyClick(card.leave_button, Key.Key_Return)
    assert not card.isVisible()


def test_a_card_stays_in_the_middle_of_the_window(desk, card, qtbot):
    desk.resize(1000, 640)
    qtbot.waitUntil(lambda: desk.width() == 1000)
    assert desk.canvas.rect().contains(card.geometry())
    assert abs(card.geometry().center().x() - desk.canvas.rect().center().x()) <= 1


def test_the_window_can_be_used_while_a_card_is_open(desk, card):
    desk.rules.type("row_spacing_m", "3")
    rest(desk)
    assert desk.answer.project.blocks[0].rules.row_spacing_m == 3
    assert card.isVisible()


def test_a_click_beside_the_words_is_not_for_the_plan_below(desk, card):
    clicked = []
    desk.canvas.stage_tool.click = lambda *at: clicked.append(at)
    QTest.mouseClick(card, Qt.MouseButton.LeftButton, pos=card.rect().bottomRight() / 2)
    assert clicked == []


@pytest.mark.parametrize("key", [Key.Key_Escape, Key.Key_Return, Key.Key_Space])
def test_a_notice_closes_by_key_and_gives_the_keyboard_back(desk, key):
    desk.canvas.setFocus()
    notice = telling.tell(desk.canvas, "The disk is full.")
    [close] = notice.buttons
    assert close.text() == "Close"
    assert close.hasFocus()
    QTest.keyClick(close, key)
    assert desk.canvas.hasFocus()
    QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
    assert not shiboken6.isValid(notice)


def test_the_same_notice_is_not_stacked(desk):
    for _ in range(3):
        desk.filing.complain(InputProblem("The disk is full."))
    QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
    assert [n.text() for n in desk.findChildren(NoticeCard)] == ["The disk is full."]
    assert desk.findChildren(QMessageBox) == []


def test_a_notice_speaks_the_words_of_the_window(desk):
    desk.filing.complain("The axes are odd: give another grid with --survey-crs EPSG:nnnn.")
    [notice] = desk.findChildren(NoticeCard)
    assert notice.text() == "The axes are odd: give another grid, by its code or name."


def test_a_notice_is_read_as_it_stands(desk):
    notice = telling.tell(desk.canvas, "<b>oak</b>.geojson & more is not there.")
    assert notice.sentence.textFormat() == Qt.TextFormat.PlainText


@pytest.fixture
def in_dialog(desk):
    """Has a function done to the next modal dialog; what goes wrong in it fails the test."""
    seen, wrong = [], []

    def arrange(act):
        def now():
            dialog = QApplication.activeModalWidget()
            try:
                assert dialog is not None
                seen.append(dialog)
                act(dialog)
            except BaseException as problem:
                wrong.append(problem)
            if dialog is not None and shiboken6.isValid(dialog) and dialog.isVisible():
                dialog.reject()

        QTimer.singleShot(0, now)

    yield arrange
    assert wrong == []
    assert len(seen) == 1


ANSWERS = (("save", "Save"), ("drop", "Don't save"))


@pytest.mark.parametrize(
    ("words", "key"), [("Save", "save"), ("Don't save", "drop"), ("Go back", "")]
)
def test_a_question_gives_the_answer_that_was_pressed(desk, in_dialog, words, key):
    def press(dialog):
        [button] = [b for b in dialog.findChildren(QPushButton) if b.text() == words]
        assert button.icon().isNull()
        button.click()

    in_dialog(press)
    assert decide(desk, "Save the changes?", "", ANSWERS, "Go back") == key


@pytest.mark.parametrize(("pressed", "key"), [(Key.Key_Escape, ""), (Key.Key_Return, "save")])
def test_a_question_is_answered_by_key(desk, in_dialog, pressed, key):
    in_dialog(lambda dialog: QTest.keyClick(dialog, pressed))
    assert decide(desk, "Save the changes?", "", ANSWERS, "Go back") == key


def is_drawn_in(icon, ink, size: int = 16) -> bool:
    """Whether all that is seen of a sign is of one colour."""
    image = icon.pixmap(size, size).toImage()
    pixels = [image.pixelColor(x, y) for x in range(image.width()) for y in range(image.height())]
    seen = [p for p in pixels if p.alpha() > 100]
    # edges are half covered, and their colour is rounded
    off = [
        max(abs(p.red() - ink.red()), abs(p.green() - ink.green()), abs(p.blue() - ink.blue()))
        for p in seen
    ]
    return bool(seen) and max(off) <= 4


@pytest.mark.parametrize("theme", ["theme-paper", "theme-lamp"])
def test_every_sign_of_the_file_dialog_is_drawn_in_ink(desk, in_dialog, tmp_path, theme):
    desk.actions_by_id[theme].trigger()
    (tmp_path / "files" / "folder").mkdir(parents=True)
    (tmp_path / "files" / "oak.geojson").write_text("{}", encoding="utf-8")
    ink = desk.theme["ink"]

    def look(dialog):
        buttons = [b for b in dialog.findChildren(QToolButton) if not b.icon().isNull()]
        assert len(buttons) >= 5
        for button in buttons:
            assert is_drawn_in(button.icon(), ink), button.objectName()
        tree = dialog.findChild(QTreeView)
        files = tree.model()
        pump_until(lambda: files.rowCount(tree.rootIndex()) == 2, "the folder is listed", 5)
        for row in range(2):
            index = files.index(row, 0, tree.rootIndex())
            assert is_drawn_in(files.data(index, Qt.ItemDataRole.DecorationRole), ink)
        assert len(dialog.sidebarUrls()) <= 4
        assert all(Path(url.toLocalFile()).is_dir() for url in dialog.sidebarUrls())

    in_dialog(look)
    assert chosen_path(desk, "Open", tmp_path / "files", "All files (*)") is None


def test_saving_proposes_a_name_and_gives_what_was_typed(desk, in_dialog, tmp_path):
    def agree(dialog: QDialog):
        assert Path(dialog.selectedFiles()[0]) == tmp_path / "mine.gpkg"
        QTest.keyClick(dialog, Key.Key_Return)

    in_dialog(agree)
    wanted = tmp_path / "mine.gpkg"
    assert chosen_path(desk, "Save", wanted, "Project (*.gpkg)", what="save") == wanted


def test_a_dialog_starts_where_files_were_last_used_if_that_is_still_there(tmp_path):
    assert choosing.usual_folder(str(tmp_path)) == tmp_path
    assert choosing.usual_folder(str(tmp_path / "gone")).is_dir()
    assert choosing.usual_folder("") != Path()
