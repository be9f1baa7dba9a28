"""The cards beside the plan and the bar above it: picking rows, findings, figures, room."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QGuiApplication, QImage
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLabel

from layoutdesk.core.model import Finding, RowRules
from tests.desk.hands import CTRL, LEFT, PLAIN, SHIFT, follow, pump_until, rest, wheel

Key = Qt.Key


def bar(window, i: int) -> QPoint:
    """The middle of a bar of the strip."""
    strip = window.strip
    x = strip._left()[i] + strip._spacing()[0] / 2
    return QPoint(round(x), round(strip._band().center().y()))


def click(window, i: int, modifiers=PLAIN) -> None:
    QTest.mouseClick(window.strip, LEFT, modifiers, bar(window, i))


def hover(window, i: int) -> None:
    """Point at a bar, coming from the strip's rim: a pointer that stays where it is says nothing."""
    QTest.mouseMove(window.strip, QPoint(3, 3))
    QTest.mouseMove(window.strip, bar(window, i))


@pytest.fixture
def strip(desk):
    return desk.strip


def heard(signal) -> list:
    """Everything a signal says from now on."""
    said: list = []
    signal.connect(lambda *what: said.append(what[0] if what else None))
    return said


# picking rows in the strip


def test_a_click_picks_a_row_lights_it_up_and_takes_the_keyboard(desk, strip):
    view = desk.canvas.view
    picked = heard(strip.picked)
    click(desk, 7)
    assert strip.hasFocus()
    assert (strip.picked_place, strip.selection, picked) == ((0, 7), [(0, 7)], [(0, 7)])
    assert desk.canvas.pointed == (0, 7)
    assert desk.canvas.view == view  # a click goes nowhere


def test_arrow_keys_walk_from_the_picked_row_and_never_pan_the_plan(desk, strip):
    view = desk.canvas.view
    click(desk, 7)
    QTest.keyClick(strip, Key.Key_Right)
    QTest.keyClick(strip, Key.Key_Right)
    QTest.keyClick(strip, Key.Key_Left)
    assert strip.picked_place == (0, 8)
    assert desk.canvas.pointed == (0, 8)
    assert desk.canvas.view == view


def test_pointing_at_other_rows_leaves_the_picked_one_picked(desk, strip):
    click(desk, 7)
    hover(desk, 20)
    assert (strip.hovered, strip.picked_place) == ((0, 20), (0, 7))
    QTest.keyClick(strip, Key.Key_Right)
    assert strip.picked_place == (0, 8)


def test_picked_and_pointed_at_are_two_colours(desk, strip):
    click(desk, 7)
    hover(desk, 20)
    image = strip.grab().toImage().convertToFormat(QImage.Format.Format_RGB32)
    low = round(strip._band().bottom()) - 4

    def colour(i: int) -> str:
        return image.pixelColor(bar(desk, i).x(), low).name().upper()

    assert colour(7) == desk.theme.accent
    assert colour(14) == desk.theme.row
    assert colour(20) not in (desk.theme.accent, desk.theme.row, desk.theme.panel)


def test_home_and_end_go_to_the_first_and_last_row_and_not_to_the_whole_plan(desk, strip):
    wheel(desk.canvas, QPoint(500, 300), 5)
    view, last = desk.canvas.view, desk.answer.plans[0].n_segments - 1
    click(desk, 7)
    QTest.keyClick(strip, Key.Key_End)
    assert strip.picked_place == (0, last)
    QTest.keyClick(strip, Key.Key_Right)
    assert strip.picked_place == (0, last)
    QTest.keyClick(strip, Key.Key_Home)
    assert strip.picked_place == (0, 0)
    assert desk.canvas.view == view


@pytest.mark.parametrize("how", ["enter", "double click"])
def test_enter_and_a_double_click_go_to_the_row(desk, strip, how):
    wanted, view = heard(strip.wanted), desk.canvas.view
    click(desk, 7)
    if how == "enter":
        QTest.keyClick(strip, Key.Key_Return)
    else:
        QTest.mouseDClick(strip, LEFT, PLAIN, bar(desk, 7))
    assert wanted == [(0, 7)]
    assert desk.canvas.view != view


def test_shift_takes_in_all_rows_up_to_one_and_ctrl_one_more_or_less(desk, strip):
    selected = heard(strip.selected)
    click(desk, 7)
    click(desk, 10, SHIFT)
    assert selected[-1] == [(0, i) for i in (7, 8, 9, 10)]
    click(desk, 5, SHIFT)  # from the pick, not from where Shift was last
    assert selected[-1] == [(0, i) for i in (5, 6, 7)]
    assert strip.picked_place == (0, 7)
    click(desk, 15, CTRL)
    click(desk, 6, CTRL)
    assert selected[-1] == [(0, i) for i in (5, 7, 15)]
    click(desk, 15, CTRL)
    assert strip.selection == [(0, 5), (0, 7)]


def test_shift_and_arrows_take_in_rows_one_by_one(desk, strip):
    click(desk, 7)
    for key in (Key.Key_Right, Key.Key_Right, Key.Key_Left):
        QTest.keyClick(strip, key, SHIFT)
    assert strip.selection == [(0, 7), (0, 8)]
    QTest.keyClick(strip, Key.Key_Home, SHIFT)
    assert len(strip.selection) == 8
    QTest.keyClick(strip, Key.Key_Escape)
    assert (strip.selection, strip.picked_place) == ([], None)


def test_rows_are_selected_from_elsewhere_and_the_plan_is_told_once(desk, strip):
    selected = heard(strip.selected)
    strip.select({(0, 3), (0, 9), (0, 10**6), (5, 0)})
    strip.select({(0, 9), (0, 3)})
    assert selected == [[(0, 3), (0, 9)]]
    assert strip.picked_place == (0, 3)


def test_copying_and_taking_all_rows_by_their_usual_keys(desk, strip):
    asked = heard(strip.copy_wanted)
    click(desk, 2)
    QTest.keyClick(strip, Key.Key_A, CTRL)
    assert len(strip.selection) == desk.answer.plans[0].n_segments
    QTest.keyClick(strip, Key.Key_C, CTRL)
    assert len(asked) == 1


def test_a_picked_row_stays_picked_by_its_number_when_rows_are_laid_anew(desk, strip):
    click(desk, 7)
    click(desk, 9, SHIFT)
    numbers = desk.answer.plans[0].segments.number[[7, 8, 9]].tolist()
    desk.rules.edit("headland_m", lambda r: replace(r, headland_m=12.0))
    rest(desk)
    found = desk.answer.plans[0].segments.number[[s for _, s in strip.selection]].tolist()
    assert found == numbers
    desk.rules.edit("row_spacing_m", lambda r: replace(r, row_spacing_m=20.0))
    rest(desk)
    assert strip.picked_place is None
    assert strip.selection == []
    strip.grab()


def test_the_ring_shows_that_the_strip_has_the_keyboard(desk, strip):
    desk.canvas.setFocus()

    def rim() -> str:
        return strip.grab().toImage().pixelColor(strip.width() // 2, 1).name().upper()

    assert rim() != desk.theme.accent
    strip.setFocus()
    assert rim() == desk.theme.accent


def test_bars_of_two_blocks_stand_apart_and_the_gap_is_no_row(two_blocks):
    strip, first = two_blocks.strip, two_blocks.answer.plans[0].n_segments
    left, (step, gap) = strip._left(), strip._spacing()
    assert gap > 5
    assert left[first] - left[first - 1] == pytest.approx(step + gap)
    assert left[-1] + step == pytest.approx(strip._band().right())
    between = QPoint(round(left[first] - gap / 2), 50)
    QTest.mouseMove(strip, between)
    assert strip.hovered is None
    click(two_blocks, first)
    assert strip.picked_place == (1, 0)


def test_ten_thousand_bars_are_painted_one_a_pixel(desk, monkeypatch):
    from layoutdesk.desk import bar_chart

    made = []
    real = bar_chart._rects

    def counted(left, *rest):
        made.append(len(left))
        return real(left, *rest)

    monkeypatch.setattr(bar_chart, "_rects", counted)
    desk.rules.edit("row_spacing_m", lambda r: replace(r, row_spacing_m=1.0))
    rest(desk)
    plan = desk.answer.plans[0]
    # as many plans as make ten thousand segments
    plans = (plan,) * (10_000 // plan.n_segments + 1)
    desk.strip.show_answer(replace(desk.answer, plans=plans))
    desk.strip.grab()
    assert 0 < sum(made[-3:]) <= desk.strip.width()


# findings


FOUND = (
    Finding("grid-not-ground", "Said of a grid."),
    Finding("rows-short", "A short row.", place=(3.0, 4.0)),
    Finding("overhead-line", "A line, somewhere."),
    Finding("overhead-line", "A line, there.", place=(1.0, 2.0)),
    Finding("winding-turned", "Said of a file."),
    Finding("anchor-outside", "Mend this.", place=(5.0, 6.0)),
)


@pytest.fixture
def findings(desk):
    desk.findings.show_findings(FOUND, desk.unit, desk.theme)
    desk.arrange()
    pump_until(lambda: desk.findings.lines[0].isVisible(), "the findings are shown", 5)
    return desk.findings


def words(card) -> list[str]:
    return [n.words for n in card.lines if n.isVisible()]


def test_the_worst_come_first_those_with_a_place_before_and_notes_on_files_are_folded(findings):
    shown = ["Mend this.", "A line, there.", "A line, somewhere.", "A short row."]
    assert words(findings) == [*shown, "and 2 notes"]
    assert findings.heading.text() == "Findings · 6"
    assert findings.lines[0].accessibleName() == "wrong: Mend this."
    assert [n.sign.text() for n in findings.lines[:4]] == ["■", "▲", "▲", "●"]


@pytest.mark.parametrize("how", ["click", "enter"])
def test_the_folded_notes_open_and_close(findings, how):
    heights = heard(findings.height_changed)
    before = words(findings)
    for wanted in ([*before, "Said of a grid.", "Said of a file."], before):
        if how == "click":
            QTest.mouseClick(findings.fold, LEFT)
        else:
            findings.fold.setFocus()
            QTest.keyClick(findings.fold, Key.Key_Return)
        assert words(findings) == wanted
    assert len(heights) == 2


def test_notes_on_files_alone_are_no_afterthought(findings, desk):
    findings.show_findings(FOUND[:1], desk.unit, desk.theme)
    assert findings.fold.words == "1 note"


def test_keys_walk_the_findings_and_enter_goes_there(findings, desk):
    wanted = []
    findings.wanted.connect(lambda x, y: wanted.append((x, y)))
    view = desk.canvas.view
    findings.lines[0].setFocus(Qt.FocusReason.TabFocusReason)
    QTest.keyClick(findings.lines[0], Key.Key_Down)
    assert findings.lines[1].hasFocus()
    assert desk.canvas.view == view
    QTest.keyClick(findings.lines[1], Key.Key_Return)
    assert wanted == [(1.0, 2.0)]
    QTest.keyClick(findings.lines[1], Key.Key_End)
    assert findings.fold.hasFocus()
    QTest.keyClick(findings.fold, Key.Key_Home)
    assert findings.lines[0].hasFocus()
    QTest.keyClick(findings.lines[0], Key.Key_C, CTRL)
    assert QGuiApplication.clipboard().text() == "Mend this."


def test_tab_comes_to_the_findings_once_and_to_the_line_that_was_left(findings):
    strong = Qt.FocusPolicy.StrongFocus
    assert [n.focusPolicy() == strong for n in findings.lines[:3]] == [True, False, False]
    findings.lines[0].setFocus()
    QTest.keyClick(findings.lines[0], Key.Key_Down)
    assert [n.focusPolicy() == strong for n in findings.lines[:3]] == [False, True, False]


def test_a_finding_with_the_keyboard_wears_a_ring(findings, desk):
    line = findings.lines[1]

    def rim() -> str:
        return line.grab().toImage().pixelColor(line.width() // 2, 1).name().upper()

    assert rim() != desk.theme.accent
    line.setFocus()
    assert rim() == desk.theme.accent


def test_equal_findings_are_not_listed_anew_and_others_keep_the_keyboard(findings, desk):
    first = findings.lines[0]
    findings.show_findings(tuple(replace(f) for f in FOUND), desk.unit, desk.theme)
    assert findings.lines[0] is first
    findings.lines[1].setFocus()
    findings.show_findings(FOUND[:4], desk.unit, desk.theme)
    assert findings.lines[0] is not first
    assert findings.lines[1].hasFocus()


def test_long_sentences_wrap_inside_the_list(findings, desk):
    long = Finding(
        "rows-short", "Pieces of row that are left out, one by one. " * 9, place=(0.0, 0.0)
    )
    findings.show_findings((long, *FOUND), desk.unit, desk.theme)
    pump_until(lambda: findings.lines[1].isVisible(), "the findings are shown", 5)
    room = findings.area.viewport().width()
    for line in findings.lines:
        if line.isVisible():
            assert line.width() <= room
            assert line.height() >= line.heightForWidth(line.width())
    assert findings.area.horizontalScrollBar().maximum() == 0


def test_no_more_than_sixty_findings_are_listed(findings, desk):
    many = tuple(Finding("rows-short", f"Row {i}.", place=(i, 0.0)) for i in range(200))
    findings.show_findings(many, desk.unit, desk.theme)
    assert len(findings.lines) == findings.AT_MOST == 60
    assert "and 140 more" in [n.text() for n in findings.area.widget().findChildren(QLabel)]


# the tally


def test_rows_and_row_length_tell_their_difference_too(desk):
    desk.rules.edit("row_spacing_m", lambda r: replace(r, row_spacing_m=3.0))
    follow(desk)
    rows, length = desk.tally.differences["Rows"], desk.tally.differences["Row length"]
    assert rows.text().startswith("−")
    assert length.text().startswith("−")
    assert rows.isVisible()


def test_figures_stay_where_they_are_and_whole_while_differences_come_and_go(desk):
    tally = replace(
        desk.answer.tally, row_length_m=112_650.0, segments=9_999, planted_m2=1_234_567.0
    )
    before = replace(tally, row_length_m=104_000.0, rows=1, end_posts=0, segments=1)
    boxes = []
    for told in (None, before):
        desk.tally.show_tally(tally, told, "usft", desk.theme)
        desk.arrange()
        pump_until(lambda: desk.tally.sizeHint().height() <= desk.tally.height(), "it has room", 5)
        QApplication.processEvents()
        figures, changes = desk.tally.figures.values(), desk.tally.differences.values()
        boxes.append([label.geometry().right() for label in figures])
        for label in (*figures, *changes):
            if label.isVisible():
                assert label.width() >= label.sizeHint().width(), label.text()
    assert boxes[0] == boxes[1]


def test_segments_are_told_where_a_row_is_cut(desk):
    shown = desk.tally.figures["Segments"]
    assert not shown.isVisible()
    assert "segments" not in desk.tally.as_text()
    cut = replace(desk.answer.tally, segments=desk.answer.tally.rows + 22)
    desk.tally.show_tally(cut, None, "m", desk.theme)
    assert shown.isVisible()
    assert shown.text() == str(desk.answer.tally.rows + 22)
    assert shown.text() in desk.tally.as_text()
    assert shown.toolTip()


# the bar and what lies behind the cards


def test_the_wheel_and_a_drag_over_a_card_never_reach_the_plan(desk):
    view = desk.canvas.view
    for card in (desk.specification_card, desk.tally, desk.findings, desk.strip):
        at = QPoint(card.width() // 2, card.height() - 6)
        for notches in (3, -3):
            wheel(card, at, notches)
        QTest.mousePress(card, LEFT, PLAIN, at)
        QTest.mouseMove(card, at + QPoint(40, 2))
        QTest.mouseRelease(card, LEFT, PLAIN, at)
    wheel(desk.findings.area.viewport(), QPoint(20, 20), -3)
    wheel(desk.tally.vines, QPoint(5, 5), 3)
    assert desk.canvas.view == view


def overlaps(bar) -> list[tuple[str, str]]:
    """Pairs of things in the bar that lie on one another or are cut."""
    parts = {
        "menu": bar.menu,
        "title": bar.title,
        "state": bar.state,
        "stop": bar.stop,
        "undo": bar.undo,
        "redo": bar.redo,
        "stakeout": bar.stakeout,
    }
    boxes = {n: w.geometry() for n, w in parts.items() if w.isVisible()}
    names = list(boxes)
    found = [
        (a, b) for i, a in enumerate(names) for b in names[i + 1 :] if boxes[a].intersects(boxes[b])
    ]
    rim = bar.rect()
    return found + [(n, "rim") for n, box in boxes.items() if not rim.contains(box)]


def test_in_a_narrow_window_nothing_in_the_bar_overlaps_and_names_are_elided(desk, qtbot):
    bar = desk.title.parentWidget()
    desk.resize(960, 600)
    long = "The lower paddock behind the old packing shed, second survey, corrected"
    desk.title.setText(long)
    desk.state.setText("not saved as a project")
    for button in (desk.undo_button, desk.redo_button, desk.stop):
        button.show()
    desk.undo_button.setText("Undo clearance of the overhead line")
    desk.redo_button.setText("Redo least row length")
    desk.work.setText("Writing the stake-out set: stakes.geojson 40 % " * 3)
    qtbot.waitUntil(lambda: bar.width() == 960 and desk.work.isVisible())
    qtbot.wait(20)
    assert overlaps(bar) == []
    assert desk.title.text() == long
    shown = desk.title.shown_text()
    assert "…" in shown[1:-1]
    assert desk.work.shown_text().endswith("…")
    assert desk.undo_button.shown_text().startswith("Undo")
    assert desk.menu.width() >= desk.menu.sizeHint().width()
    assert desk.state.width() >= desk.state.sizeHint().width()


def test_the_menu_stays_where_it_is_whatever_the_project_is_called(desk, qtbot):
    before = desk.menu.geometry()
    desk.title.setText("A much longer name than it had")
    qtbot.wait(20)
    assert desk.menu.geometry() == before
    assert desk.menu.geometry().right() < desk.title.geometry().left()


def test_a_message_takes_room_only_while_there_is_one(desk, qtbot):
    assert desk.work.isHidden()
    desk.filing.say("Saved.")
    assert desk.work.isVisible()
    desk.filing._fall_quiet()
    assert desk.work.isHidden()


def test_a_rule_changed_by_many_rows_leaves_no_mark_of_thousands_but_the_thin_space(desk):
    desk.rules.edit(
        "row_spacing_m", lambda r: RowRules(bearing_deg=r.bearing_deg, vine_spacing_m=0.4)
    )
    rest(desk)
    assert desk.answer.tally.vines > 10_000
    assert "," not in desk.tally.as_text()
    assert "\u202f" in desk.tally.vines.text()
