"""What holds for the whole site, the look, the units, and the history of edits."""

from __future__ import annotations

import json

import pytest
from PySide6.QtCore import QSettings, Qt
from PySide6.QtGui import QColor, QPalette
from PySide6.QtTest import QTest

from layoutdesk.desk.look import LAMP, PAPER, contrast
from layoutdesk.desk.window import DeskWindow
from tests.desk.hands import bury, notices, open_sample_named, pump_until, rest, type_into

Key = Qt.Key


def answer(window, action: str, text: str, name: str | None = None):
    """Type into the card an action brings, and press Enter; gives back the card."""
    window.actions_by_id[action].trigger()
    card = window.site.card
    line = card.fields[name or next(iter(card.fields))].line
    pump_until(line.hasFocus, "the card has the keyboard", 5)
    line.selectAll()
    QTest.keyClick(line, Key.Key_Delete)
    QTest.keyClicks(line, text)
    QTest.keyClick(line, Key.Key_Return)
    return card


def test_a_height_is_an_edit(desk):
    before = desk.document.project
    factor = desk.factor_label.text()
    card = answer(desk, "height", "820")
    assert not card.isVisible()
    assert desk.document.project.site.frame.height_m == 820
    assert desk.undo_button.text() == "Undo height"
    rest(desk)
    assert desk.factor_label.text() != factor
    desk.actions_by_id["undo"].trigger()
    assert desk.document.project == before
    assert desk.factor_label.text() == factor


@pytest.mark.parametrize("text", ["high", "99999", ""])
def test_a_height_that_cannot_be_stays_to_be_mended(desk, text):
    before = desk.document.project
    card = answer(desk, "height", text)
    assert card.isVisible()
    assert card.texts() == {"height": text}
    assert card.problem_text().endswith(".")
    assert notices(desk) == []
    assert desk.document.project is before
    line = card.fields["height"].line
    assert line.hasFocus()
    line.selectAll()
    QTest.keyClicks(line, "310")
    QTest.keyClick(line, Key.Key_Return)
    assert not card.isVisible()
    assert desk.document.project.site.frame.height_m == 310


def test_the_height_as_it_is_can_be_taken_in_feet_too(window):
    open_sample_named(window, "bench_in_feet")
    before = window.document.project
    window.actions_by_id["height"].trigger()
    QTest.keyClick(window.site.card.fields["height"].line, Key.Key_Return)
    assert window.site.card.problem_text() == ""
    was, now = before.site.frame.height_m, window.document.project.site.frame.height_m
    assert now == pytest.approx(was, abs=0.01)


def test_leaving_the_height_changes_nothing_and_gives_the_keyboard_back(desk):
    desk.canvas.setFocus()
    desk.actions_by_id["height"].trigger()
    card = desk.site.card
    QTest.keyClicks(card.fields["height"].line, "820")
    QTest.keyClick(card.fields["height"].line, Key.Key_Escape)
    assert not card.isVisible()
    assert desk.document.undo_label is None
    assert desk.canvas.hasFocus()


def test_a_question_goes_with_its_site(desk, small_project):
    desk.actions_by_id["height"].trigger()
    assert desk.site.card.isVisible()
    desk.actions_by_id["close-site"].trigger()
    assert not desk.site.card.isVisible()


def test_another_survey_grid_is_an_edit(desk):
    before = desk.document.project
    answer(desk, "survey-crs", "28354")
    assert "MGA zone 54" in desk.crs_label.text()
    assert desk.undo_button.text() == "Undo survey grid"
    rest(desk)
    desk.actions_by_id["undo"].trigger()
    assert desk.document.project == before
    assert "UTM zone 54S" in desk.crs_label.text()


def test_a_survey_grid_is_found_by_its_name(desk):
    desk.actions_by_id["survey-crs"].trigger()
    card = desk.site.card
    assert "UTM zone 54S" in card.sentence.text()
    rows = card.fields["grid"]
    assert rows.offers.item(0).text().startswith("EPSG:32754")
    QTest.keyClicks(rows.line, "gda2020 mga")
    shown = [rows.offers.item(i).text() for i in range(rows.offers.count())]
    assert "MGA zone 54" in shown[0]
    assert all("GDA2020 / MGA" in text for text in shown)
    assert all("does not cover the site" in text for text in shown[1:])
    QTest.keyClick(rows.line, Key.Key_Down)
    QTest.keyClick(rows.offers, Key.Key_Return)
    assert not card.isVisible()
    assert desk.document.project.site.survey_crs == "EPSG:7854"


@pytest.mark.parametrize("text", ["EPSG:4326", "EPSG:1", "the usual", "zone 54", ""])
def test_a_grid_no_stake_can_be_set_in_stays_to_be_mended(desk, text):
    before = desk.document.project
    card = answer(desk, "survey-crs", text)
    assert card.isVisible()
    assert card.texts() == {"grid": text}
    assert card.problem_text()
    assert "--" not in card.problem_text()
    assert desk.document.project is before


@pytest.fixture
def pole_file(tmp_path):
    """One point in the middle of the block of 2 ha."""
    crs = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::32754"}}
    geometry = {"type": "Point", "coordinates": [500_060, 6_100_080]}
    feature = {"type": "Feature", "properties": {"kind": "pole"}, "geometry": geometry}
    path = tmp_path / "pole.geojson"
    path.write_text(
        json.dumps({"type": "FeatureCollection", "crs": crs, "features": [feature]}),
        encoding="utf-8",
    )
    return path


def test_exclusions_from_a_file_are_an_edit(desk, asked, pole_file):
    before, vines = desk.document.project, desk.answer.tally.vines
    asked.path = str(pole_file)
    answer(desk, "exclusions", "12")
    [exclusion] = desk.document.project.exclusions
    assert exclusion.clearance_m == 12
    assert desk.undo_button.text() == "Undo exclusions from pole.geojson"
    rest(desk)
    assert desk.answer.tally.vines < vines
    assert [s.role for s in desk.canvas.drawing.spots] == ["exclusion point"]
    assert [a.role for a in desk.canvas.drawing.areas].count("kept clear") == 1
    desk.actions_by_id["undo"].trigger()
    rest(desk)
    assert desk.document.project == before
    assert desk.canvas.drawing.spots == ()
    assert desk.answer.tally.vines == vines


@pytest.mark.parametrize("clearance", ["near", "-4", "99999"])
def test_an_absurd_clearance_stays_to_be_mended(desk, asked, pole_file, clearance):
    asked.path = str(pole_file)
    card = answer(desk, "exclusions", clearance)
    assert card.texts()["clearance"] == clearance
    assert card.problem_text()
    assert desk.document.undo_label is None


def test_a_drawing_without_a_unit_is_asked_for_it(desk, asked, tmp_path):
    import ezdxf

    drawing = ezdxf.new(units=0)
    drawing.modelspace().add_point((500_060, 6_100_080))
    drawing.saveas(tmp_path / "pole.dxf")
    asked.path = str(tmp_path / "pole.dxf")
    card = answer(desk, "exclusions", "7")
    assert card.fields["unit"].isVisible()
    assert "without a unit" in card.problem_text()
    assert "--" not in card.problem_text()
    assert card.texts()["clearance"] == "7"
    line = card.fields["unit"].line
    QTest.keyClicks(line, "m")
    QTest.keyClick(line, Key.Key_Return)
    assert not card.isVisible()
    [exclusion] = desk.document.project.exclusions
    assert exclusion.clearance_m == 7


def test_everything_undone_is_the_identical_project(desk, asked, pole_file):
    before = desk.document.project
    states = [before]
    for rule, text in (("row_spacing_m", "3"), ("leftover", "stretch"), ("bearing_deg", "77")):
        desk.rules.type(rule, text)
        states.append(desk.document.project)
    desk.site.set_height("300")
    states.append(desk.document.project)
    desk.site.exclude_file(pole_file, "5")
    states.append(desk.document.project)
    for state in reversed(states[:-1]):
        desk.actions_by_id["undo"].trigger()
        assert desk.document.project is state
    assert not desk.actions_by_id["undo"].isEnabled()
    for state in states[1:]:
        desk.actions_by_id["redo"].trigger()
        assert desk.document.project is state
    assert not desk.actions_by_id["redo"].isEnabled()
    rest(desk)
    assert desk.answer.project == states[-1]


def test_undo_and_redo_say_what_they_change(desk):
    assert desk.undo_button.text() == "Undo"
    assert not desk.redo_button.isVisible()
    type_into(desk, "headland_m", "9")
    assert desk.undo_button.text() == "Undo headland"
    desk.undo_button.click()
    assert desk.redo_button.text() == "Redo headland"
    assert desk.redo_button.isVisible()
    assert desk.actions_by_id["redo"].text() == "Redo headland"


# units


def test_lengths_in_feet_everywhere(desk):
    longest_m = desk.answer.tally.longest_m
    desk.actions_by_id["unit-ft"].trigger()
    assert desk.paragraph.fields["row_spacing_m"].text() == "7.874 ft"
    assert desk.tally.figures["Longest"].text() == f"{longest_m / 0.3048:,.0f} ft"
    assert desk.canvas.unit == "ft"
    type_into(desk, "row_spacing_m", "8")
    assert desk.document.project.blocks[0].rules.row_spacing_m == pytest.approx(2.4384)
    desk.actions_by_id["unit-m"].trigger()
    assert desk.paragraph.fields["row_spacing_m"].text() == "2.438 m"


def test_showing_another_unit_is_no_edit(desk):
    before = desk.document.project
    for unit in ("unit-ft", "unit-usft", "unit-m"):
        desk.actions_by_id[unit].trigger()
    assert desk.document.project is before
    assert desk.document.undo_label is None


def test_the_unit_shown_is_the_one_checked_in_the_menu(window):
    open_sample_named(window, "bench_in_feet")
    assert window.unit == "usft"
    checked = [
        n for n, a in window.actions_by_id.items() if n.startswith("unit-") and a.isChecked()
    ]
    assert checked == ["unit-usft"]


# the look


def ground_of(window):
    return window.canvas.grab().toImage().pixelColor(window.canvas.width() // 2, 2).name().upper()


def test_the_theme_changes_everything_at_once(desk):
    assert ground_of(desk) == PAPER.ground
    desk.actions_by_id["theme-lamp"].trigger()
    assert ground_of(desk) == LAMP.ground
    foot = desk.grab().toImage().pixelColor(desk.width() // 2, desk.height() - 4)
    assert foot.name().upper() == LAMP.panel
    assert desk.tally.vines.palette().windowText().color().name().upper() == LAMP.ink
    desk.actions_by_id["theme-paper"].trigger()
    assert ground_of(desk) == PAPER.ground


@pytest.mark.parametrize("theme", ["theme-paper", "theme-lamp"])
def test_what_cannot_be_used_now_can_still_be_read(desk, theme):
    desk.actions_by_id[theme].trigger()
    palette = desk.palette()
    for role in (QPalette.ColorRole.WindowText, QPalette.ColorRole.ButtonText):
        text = palette.color(QPalette.ColorGroup.Disabled, role)
        assert contrast(text, QColor(desk.theme.panel)) >= 3


def test_the_theme_is_kept_for_the_next_start(desk, settings, tmp_path):
    desk.actions_by_id["theme-lamp"].trigger()
    settings.sync()
    again = QSettings(str(tmp_path / "settings.ini"), QSettings.Format.IniFormat)
    other = DeskWindow(again)
    assert other.theme is LAMP
    bury(other)


@pytest.mark.parametrize("size", [(960, 600), (1280, 800), (1920, 1080)])
def test_cards_do_not_overlap_at_any_size(desk, qtbot, size):
    desk.resize(*size)
    qtbot.waitUntil(lambda: desk.width() == size[0] and desk.canvas.height() < size[1])
    desk.rules.type("row_spacing_m", "wide")  # with its notice
    cards = [desk.specification_card, desk.tally, desk.findings, desk.strip]
    boxes = [c.geometry() for c in cards]
    room = desk.canvas.rect()
    for i, a in enumerate(boxes):
        assert room.contains(a)
        assert not any(a.intersects(b) for b in boxes[i + 1 :])


@pytest.mark.parametrize("size", [(1280, 800), (1920, 1080)])
def test_a_notice_and_the_norths_are_in_sight(window, qtbot, size):
    window.resize(*size)
    open_sample_named(window, "bench_in_feet")
    window.notify("A sentence about what could not be taken, long enough for a second line here.")
    for label in (window.notice, window.norths):
        assert label.isVisible()
        assert label.visibleRegion().boundingRect() == label.rect()
        assert label.height() >= label.heightForWidth(label.width())


def test_the_whole_foot_fits_at_the_least_width(desk, qtbot):
    desk.resize(960, 600)
    qtbot.waitUntil(lambda: desk.width() == 960)
    for label in (desk.crs_label, desk.factor_label):
        assert label.width() >= label.sizeHint().width()
        assert label.mapTo(desk, label.rect().bottomRight()).x() < desk.width()
