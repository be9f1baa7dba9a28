"""The hand-off stage: what will be written is said first, and written only when asked for."""

from __future__ import annotations

import csv
import json

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton

from layoutdesk.core.model import ControlPoint
from layoutdesk.session.control_points import with_control

from .handoff_hands import (
    hand_off,
    lines,
    press,
    to_handoff,
    turn_to,
    type_value,
    worked_out,
)
from .handoff_hands import (
    told as said_on,
)
from .hands import LEFT, filed, notices, pixel_of, rest, type_into
from .planting_hands import fill_in
from .test_habits import controls

Key = Qt.Key


@pytest.fixture
def handoff(desk):
    to_handoff(desk, "files")
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
    to_handoff(desk, "files")
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
    to_handoff(handoff, "files")
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
    page = card.stack.currentWidget()
    for widget in (card.folder, card.hand_off, card.write, *card.formats.values()):
        box = widget.rect().translated(widget.mapTo(page.widget(), widget.rect().topLeft()))
        assert 0 <= box.left() <= box.right() <= page.viewport().width(), widget
        assert widget.width() >= widget.minimumSizeHint().width()
    assert card.text.height() >= card.text.heightForWidth(card.text.width())


def test_the_button_above_goes_to_where_files_are_written(desk):
    desk.stakeout_button.click()
    assert desk.stage == "handoff"
    assert desk.handoff_card.folder.isVisible()


# points


def test_what_is_typed_of_points_is_what_is_counted_and_shown_on_the_plan(desk):
    to_handoff(desk)
    (plan,) = desk.answer.plans
    assert [line.kind for line in lines(desk, "kinds")] == [
        *("End posts", "Line posts", "Anchors", "Vines")
    ]
    type_value(desk, "points.kinds", "end posts, outline")
    worked_out(desk)
    assert [(line.kind, line.count) for line in lines(desk, "kinds")] == [
        ("End posts", str(len(plan.end_posts))),
        ("Outline corners", "4"),
    ]
    assert len(desk.canvas.overlay.square_m) == len(plan.end_posts)
    assert len(desk.canvas.overlay.round_m) == 4
    desk.undo()
    worked_out(desk)
    assert len(desk.canvas.overlay.round_m) == len(plan.vines)


def test_the_points_of_the_plan_are_shown_on_their_own_page_alone(desk):
    to_handoff(desk)
    assert desk.canvas.overlay is not None
    assert desk.handing_off.legend.isVisible()
    turn_to(desk, "files")
    assert desk.canvas.overlay is None
    assert not desk.handing_off.legend.isVisible()
    turn_to(desk, "points")
    desk.actions_by_id["stage-rows"].trigger()
    assert desk.canvas.overlay is None


def test_the_selected_rows_alone_are_handed_off(desk):
    to_handoff(desk)
    desk.selecting.take_places([(0, 2), (0, 3)])
    press(desk, "Selected rows alone")
    worked_out(desk)
    (plan,) = desk.answer.plans
    (vines,) = [line.count for line in lines(desk, "kinds") if line.kind == "Vines"]
    assert int(vines) == int(plan.vines_of_segment[[2, 3]].sum())
    press(desk, "The whole site")
    worked_out(desk)
    assert hand_off(desk).points.parts == ()


def test_a_value_that_cannot_be_is_said_at_the_value(desk):
    to_handoff(desk)
    type_value(desk, "table.columns", "point, colour")
    assert "'colour' is none of" in desk.handoff_card.paragraphs["table"].reason("table.columns")
    assert desk.document.undo_label is None


def test_ticking_a_file_is_an_edit_and_the_last_one_stays(handoff):
    card = handoff.handoff_card
    QTest.keyClick(card.formats["kml"], Key.Key_Space)
    assert "kml" in hand_off(handoff).formats
    worked_out(handoff)
    assert "plan.kml" in [line.name for line in lines(handoff, "files")]
    handoff.undo()
    assert not card.formats["kml"].isChecked()
    handoff.handing_off.edits.choose_formats(("dxf",))
    QTest.keyClick(card.formats["dxf"], Key.Key_Space)
    assert hand_off(handoff).formats == ("dxf",)
    assert card.formats["dxf"].isChecked()
    assert len(notices(handoff)) == 1


# grid and control


def test_ground_coordinates_are_arrows_with_their_exaggeration(desk):
    to_handoff(desk, "grid")
    assert desk.canvas.overlay is None  # nothing to show on the grid
    type_value(desk, "coordinates", "")
    desk.handing_off.edits.type("coordinates", "ground")
    worked_out(desk)
    layer = desk.canvas.overlay
    assert "from grid to ground coordinates" in layer.said
    assert f"drawn {layer.arrows_in(desk.canvas.view).times:g} times as long" in (
        desk.handing_off.legend.said
    )
    assert all("cm" in label for label in layer.arrows.label)
    assert "Ground coordinates lie up to" in said_on(desk, "grid")


@pytest.fixture
def controlled(desk):
    """Three control points measured 10 cm east, one of them another 20 cm north."""
    places = desk.survey.to_survey([[-80.0, -60.0], [80.0, -60.0], [0.0, 90.0]]).round(3).tolist()
    points = [
        ControlPoint(f"K{i}", e, n, None, round(e + 0.1, 3), round(n + 0.2 * (i == 3), 3))
        for i, (e, n) in enumerate(places, 1)
    ]
    desk.document.edit("control points", lambda p: with_control(p, points))
    to_handoff(desk, "grid")
    return desk


def test_a_control_point_is_added_with_what_was_measured_there(desk):
    to_handoff(desk, "grid")
    (e, n) = desk.survey.to_survey([[-80.0, -60.0]])[0].tolist()
    press(desk, "Add a control point…")
    known, measured = f"{e:.3f} {n:.3f} 120.5", f"{e + 0.1:.3f} {n:.3f}"
    card = fill_in(desk, name="K1", known=known, measured=measured)
    assert not card.isVisible(), card.problem_text()
    worked_out(desk)
    (point,) = hand_off(desk).control
    assert (point.name, point.elevation) == ("K1", 120.5)
    assert point.measured_easting - point.easting == pytest.approx(0.1)
    ((name, x, y),) = desk.canvas.overlay.control
    assert (name, x, y) == ("K1", pytest.approx(-80, abs=0.002), pytest.approx(-60, abs=0.002))


def test_control_points_are_listed_and_taken_away(controlled):
    assert [line.name for line in lines(controlled, "control")] == ["K1", "K2", "K3"]
    assert [c[0] for c in controlled.canvas.overlay.control] == ["K1", "K2", "K3"]
    controlled.handing_off.side.tables["control"].hold(1)
    press(controlled, "Take the point away")
    worked_out(controlled)
    assert [p.name for p in hand_off(controlled).control] == ["K1", "K3"]
    controlled.undo()
    worked_out(controlled)
    assert [line.name for line in lines(controlled, "control")] == ["K1", "K2", "K3"]


def test_a_point_left_out_makes_a_refused_calibration_hold(controlled):
    controlled.handing_off.edits.type("coordinates", "calibrated")
    worked_out(controlled)
    side = controlled.handing_off.side
    assert "Coordinates stay on the grid" in side.firsts["grid"].text()
    assert any(line.flag for line in lines(controlled, "control"))
    side.tables["control"].hold(2)
    press(controlled, "Leave the point out")
    worked_out(controlled)
    assert not hand_off(controlled).control_point("K3").in_plan
    assert side.firsts["grid"].text() == ""
    assert "The calibration moves the corners" in side.sentences["grid"].text()
    press(controlled, "Use the point again")
    worked_out(controlled)
    assert hand_off(controlled).control_point("K3").in_plan
    assert "Coordinates stay on the grid" in side.firsts["grid"].text()


def test_a_control_point_is_found_from_the_list_and_from_the_plan(controlled):
    work = controlled.handing_off
    controlled.canvas.go_to(300.0, 300.0)
    table = work.side.tables["control"]
    table.setFocus()
    table.hold(0)
    assert work.tool.places[0] == pytest.approx((-80, -60), abs=0.002)
    assert controlled.canvas.free_room().contains(pixel_of(controlled, -80, -60))
    QTest.mouseClick(controlled.canvas, LEFT, pos=pixel_of(controlled, -80, -60))
    assert table.held_line.name == "K1"
    QTest.keyClick(controlled.canvas, Key.Key_Escape)
    assert table.held is None
    assert work.tool.places == ()


def test_a_check_line_is_drawn_on_the_plan_from_its_list(desk):
    to_handoff(desk, "grid")
    (plan,) = desk.answer.plans
    table = desk.handing_off.side.tables["checks"]
    codes = [line.key.split() for line in table.lines]
    at = next(i for i, (a, b) in enumerate(codes) if a[:-1] == b[:-1])  # both ends of a row
    table.hold(at)
    number = int(codes[at][0].split("-R")[1][:3])
    ends = plan.segment_ends_m[plan.segments.number.tolist().index(number)]
    assert sorted(desk.handing_off.tool.places) == [pytest.approx(e) for e in sorted(ends.tolist())]
    table.setFocus()
    QTest.keyClick(table, Key.Key_Return)
    for end in ends.tolist():
        assert desk.canvas.free_room().contains(pixel_of(desk, *end))
    QTest.keyClick(desk.canvas, Key.Key_Escape)
    assert desk.handing_off.tool.places == ()


def test_what_is_wrong_of_a_control_point_is_said_under_its_field(desk):
    to_handoff(desk, "grid")
    press(desk, "Add a control point…")
    card = fill_in(desk, name="K 1", known="1 2")
    assert card.isVisible()
    assert "without blanks" in card.fields["name"].problem.text()
    fill_in(desk, name="K1", known="1 2")
    assert "km from the site" in card.fields["known"].problem.text()
    desk.site.leave()
    assert hand_off(desk).control == ()


def test_what_a_crew_measured_is_changed_in_a_card(controlled):
    controlled.handing_off.side.tables["control"].hold(2)
    press(controlled, "Change the point…")
    e, n = controlled.survey.to_survey([[0.0, 90.0]])[0].tolist()
    card = fill_in(controlled, measured=f"{e + 0.1:.3f} {n:.3f}", used="position")
    assert not card.isVisible(), card.problem_text()
    point = hand_off(controlled).control_point("K3")
    assert point.measured_northing == pytest.approx(n, abs=0.001)
    assert (point.in_plan, point.in_height) == (True, False)
    worked_out(controlled)
    assert not any(line.flag for line in lines(controlled, "control"))


def test_control_points_are_read_from_a_table_and_what_was_assumed_is_told(desk, tmp_path):
    to_handoff(desk, "grid")
    places = desk.survey.to_survey([[-80.0, -60.0], [80.0, -60.0]]).tolist()
    path = tmp_path / "control.csv"
    rows = [f"K{i},{e:.3f},{n:.3f}" for i, (e, n) in enumerate(places, 1)]
    path.write_text("\n".join(("name,easting,northing", *rows)), encoding="utf-8")
    desk.handing_off.edits.read_control_from(path)
    assert [p.name for p in hand_off(desk).control] == ["K1", "K2"]
    path.write_text("name,easting\nK1,12", encoding="utf-8")
    notices(desk)
    desk.handing_off.edits.read_control_from(path)
    assert len(notices(desk)) == 1
    assert [p.name for p in hand_off(desk).control] == ["K1", "K2"]


def test_a_grid_of_another_place_is_found_by_words_of_its_name(desk):
    desk.actions_by_id["handoff-grid"].trigger()
    rows = desk.site.card.fields["grid"]
    QTest.keyClicks(rows.line, "washington south ftus")
    shown = [rows.offers.item(i).text() for i in range(rows.offers.count())]
    assert any("US survey foot" in text and "does not cover" in text for text in shown)
    desk.site.leave()


# writing and verifying


def test_the_files_told_are_those_written(handoff, tmp_path):
    handoff.handing_off.edits.choose_formats(("csv", "geojson"))
    worked_out(handoff)
    folder = tmp_path / "hand-off"
    type_folder(handoff, folder)
    press(handoff, "Write the hand-off")
    filed(handoff)
    assert notices(handoff) == []
    written = {path.name for path in folder.iterdir()}
    assert written == {line.name for line in lines(handoff, "files")}
    assert "In the folder is a hand-off of" in handoff.handoff_card.there.text()


def test_a_file_is_held_against_the_plan_until_that_changes(handoff, tmp_path):
    handoff.handing_off.edits.choose_formats(("csv",))
    worked_out(handoff)
    type_folder(handoff, tmp_path / "hand-off")
    press(handoff, "Write the hand-off")
    filed(handoff)
    path = tmp_path / "hand-off" / "points.csv"
    handoff.handing_off.files.verify_file(path)
    filed(handoff)
    assert "It matches the plan" in handoff.handing_off.side.sentences["files"].text()
    assert lines(handoff, "moved") == ()
    handoff.actions_by_id["stage-rows"].trigger()
    type_into(handoff, "first_vine_m", "1.2")
    rest(handoff)
    to_handoff(handoff, "files")
    assert said_on(handoff, "files").strip() == ""
    handoff.handing_off.files.verify_file(path)
    filed(handoff)
    assert "does not match the plan" in handoff.handing_off.side.firsts["files"].text()
    assert len(lines(handoff, "moved")) > 100


def test_writing_can_be_called_off_and_leaves_nothing(handoff, tmp_path):
    type_folder(handoff, tmp_path / "hand-off")
    press(handoff, "Write the hand-off")
    handoff.filing.cancel()
    filed(handoff)
    assert "called off" in handoff.work.text()
    assert not (tmp_path / "hand-off").exists()


@pytest.mark.parametrize("page", ["grid", "files", "staked"])
def test_every_control_of_a_page_has_a_name(controlled, page):
    turn_to(controlled, page)
    bare = [
        f"{type(w).__name__} {w.objectName()}"
        for w in controls(controlled)
        if not (w.accessibleName() or (isinstance(w, QAbstractButton) and w.text()))
    ]
    assert bare == []
