"""The planting stage by mouse and keyboard: lots, tags, assignments, days, what stands on record, the plan."""

from __future__ import annotations

import datetime
from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QImage
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QPushButton

from layoutdesk.core.model import Lot, Plant, Planting, Water
from layoutdesk.core.model.planting import Crew
from layoutdesk.core.model.water import Demand
from layoutdesk.core.planting.standing import standing
from layoutdesk.desk.planting_pages import PAGES
from layoutdesk.desk.planting_painting import class_colours
from layoutdesk.session.assigning import typed_parts, with_assignment
from layoutdesk.session.planted import begins_of
from layoutdesk.session.vine_places import code_of_vine, index_of
from tests.desk.hands import (
    CTRL,
    LEFT,
    PLAIN,
    SHIFT,
    filed,
    move_hand,
    notices,
    pixel_of,
    rest,
)
from tests.desk.planting_hands import (
    button,
    click_vine,
    field,
    fill_in,
    planting_of,
    press,
    to_planting,
    turn_to,
    type_planting,
    vine_pixel,
    worked_out,
)

Key = Qt.Key
MONDAY = datetime.date(2027, 4, 5)
LOTS = (
    Lot("27-A", Plant("Furmint", "F 12", "5BB"), delivered=4000, tags_recorded=True),
    Lot("27-P", Plant("Kadarka"), grown="bare root", delivered=300),
)
PLANNED = Planting(lots=LOTS, crew=Crew(people=6))


def shown(window, project):
    window.show_project(project)
    window.ask_settled()
    rest(window)
    to_planting(window)
    return window


@pytest.fixture
def bare(desk):
    """The stage with the block of 2 ha and nothing said of planting."""
    to_planting(desk)
    return desk


@pytest.fixture
def lots(window, small_project):
    """The stage with two lots that are assigned nowhere."""
    return shown(window, replace(small_project, planting=PLANNED))


@pytest.fixture
def planned(window, small_project):
    """The stage with lot 27-A in all of B1, and planting to begin on a Monday."""
    project = replace(small_project, planting=PLANNED, water=Water(demand=Demand(planting=MONDAY)))
    parts = typed_parts("B1", project)
    return shown(window, with_assignment(project, parts, LOTS[0].plant, "27-A"))


def lines(window, key: str):
    return window.planting.side.tables[key].lines


def lots_by_vine(window) -> np.ndarray:
    return window.planting.answer.assigned.lot


def states(window) -> np.ndarray:
    """State of every position on record, empty where nothing is."""
    register = window.document.project.register
    return np.empty(0) if register is None else standing(register).state


def record(window, words: str, **texts) -> None:
    """Record by the card of the page of records."""
    press(window, words)
    fill_in(window, **texts)
    worked_out(window)


# pages


def test_a_first_look_says_what_to_do_and_changes_nothing(bare):
    work = bare.planting
    assert work.card.isVisible()
    assert work.side.isVisible()
    assert work.legend.isVisible()
    assert "No lot yet" in work.card.notes["lots"].text()
    assert bare.document.project.planting is None
    assert bare.document.undo_label is None
    for page in PAGES:
        turn_to(bare, page.name)
    assert bare.document.undo_label is None
    assert bare.document.project.planting is None


def test_pages_are_turned_by_click_and_by_keys_and_the_plan_is_coloured_as_suits_them(planned):
    work, bar = planned.planting, planned.planting.card.bar
    for page in PAGES:
        turn_to(planned, page.name)
        assert work.card.stack.currentIndex() == work.side.stack.currentIndex()
        assert work.side.heading.text() == page.side_heading
        assert planned.canvas.planting.drawing.by == page.way
    bar.buttons["lots"].setFocus(Qt.FocusReason.TabFocusReason)
    QTest.keyClick(bar.buttons["lots"], Key.Key_Space)
    worked_out(planned)
    assert work.page.name == "lots"
    QTest.keyClick(bar.buttons["lots"], Key.Key_Right)
    held = QApplication.focusWidget()
    assert held is bar.buttons["plants"]
    QTest.keyClick(held, Key.Key_Space)
    worked_out(planned)
    assert work.page.name == "plants"


def test_what_a_page_is_for_can_be_done_without_scrolling(planned):
    for page in PAGES:
        turn_to(planned, page.name)
        area = planned.planting.card.stack.currentWidget()
        buttons = area.findChildren(QPushButton)
        assert len(buttons) == len(page.actions)
        for b in buttons:
            foot = b.mapTo(area.viewport(), QPoint(b.width(), b.height()))
            assert foot.y() <= area.viewport().height(), f"{page.name}: {b.text()} is out of sight"
            assert foot.x() <= area.viewport().width(), f"{page.name}: {b.text()} is cut"


def test_without_vines_it_is_said_what_to_do(desk):
    desk.rules.type("min_row_m", "900")
    rest(desk)
    assert desk.answer.tally.vines == 0
    to_planting(desk)
    side = desk.planting.side
    assert side.empty.isVisible()
    assert "stage Rows" in side.empty.text()
    assert not side.sheet.isEnabled()
    assert desk.canvas.planting is None


def test_leaving_the_stage_takes_its_marks_away_and_coming_back_brings_them(planned):
    layer = planned.canvas.planting
    assert layer is not None
    QTest.keyClick(planned, Key.Key_2, CTRL)
    assert planned.canvas.planting is None
    assert planned.canvas.stage_tool is planned.rows.tool
    for part in (planned.planting.card, planned.planting.side, planned.planting.legend):
        assert not part.isVisible()
    to_planting(planned)
    assert planned.canvas.planting is layer, "nothing was worked out anew"
    assert planned.canvas.stage_tool is planned.planting.tool


# lots and tags


def test_a_lot_is_added_by_the_card_and_undo_takes_it_back(bare):
    press(bare, "New lot…")
    fill_in(bare, name="27-C", variety="Furmint", rootstock="5BB", ordered="1200")
    worked_out(bare)
    (lot,) = planting_of(bare).lots
    assert (lot.name, lot.plant, lot.ordered) == ("27-C", Plant("Furmint", "", "5BB"), 1200)
    assert [line.name for line in lines(bare, "lots")] == ["27-C"]
    assert bare.planting.card.paragraph_with("lot.variety").isVisible()
    bare.actions_by_id["undo"].trigger()
    worked_out(bare)
    assert bare.document.project.planting is None
    assert lines(bare, "lots") == ()


def test_a_lot_without_a_variety_is_refused_in_the_card_which_stays(bare):
    press(bare, "New lot…")
    card = fill_in(bare, name="27-C")
    assert card.isVisible()
    assert "variety" in card.problem_text()
    assert bare.document.project.planting is None
    QTest.keyClick(card.fields["name"].line, Key.Key_Escape)
    assert not card.isVisible()
    assert bare.document.undo_label is None


def test_values_of_a_lot_are_typed_stepped_and_refused_in_its_paragraph(lots):
    before = lots.document.project
    type_planting(lots, "lot.rejected", "40")
    worked_out(lots)
    assert planting_of(lots).lots[0].rejected == 40
    assert lines(lots, "lots")[0].usable.replace("\u202f", "").replace(",", "") == "3960"
    type_planting(lots, "lot.rejected", "forty")
    assert lots.planting.card.paragraphs["lot"].reason("lot.rejected").endswith(".")
    assert planting_of(lots).lots[0].rejected == 40
    lots.actions_by_id["undo"].trigger()
    assert lots.document.project is before
    value = field(lots, "lot.delivered")
    for _ in range(3):
        QTest.keyClick(value, Key.Key_Up)
    assert planting_of(lots).lots[0].delivered > 4000
    QTest.keyClick(value, Key.Key_Escape)
    assert lots.document.project == before


def test_the_lot_in_hand_is_the_one_of_words_tags_and_cards(lots):
    table = lots.planting.side.tables["lots"]
    table.setFocus(Qt.FocusReason.TabFocusReason)
    QTest.keyClick(table, Key.Key_Down)
    assert lots.planting.held_lot == "27-P"
    assert lots.planting.card.paragraphs["lot"].fields["lot.name"].text() == "27-P"
    press(lots, "Record a tag…")
    card = lots.site.card
    assert card.fields["lot"].line.text() == "27-P"
    fill_in(lots, text="Kadarka  cl. 2", plants="25", by="Ilka")
    worked_out(lots)
    (tag,) = planting_of(lots).tags
    assert (tag.lot, tag.text, tag.plants, tag.by) == ("27-P", "Kadarka cl. 2", 25, "Ilka")
    assert [line.text for line in lines(lots, "tags")] == ["Kadarka cl. 2"]
    assert table.held_line.name == "27-P", "and it stays in hand"
    lots.actions_by_id["undo"].trigger()
    assert planting_of(lots).tags == ()


def test_a_lot_that_is_added_or_renamed_stays_in_hand(lots):
    work = lots.planting
    press(lots, "New lot…")
    fill_in(lots, name="27-Z", variety="Bouvier")
    worked_out(lots)
    assert work.held_lot == "27-Z"
    value = work.card.paragraphs["lot"].fields["lot.name"]
    assert value.text() == "27-Z"
    type_planting(lots, "lot.name", "27-Y")
    assert work.held_lot == "27-Y", "before the list is told anew"
    worked_out(lots)
    assert work.held_lot == "27-Y"
    assert work.card.paragraphs["lot"].fields["lot.variety"].text() == "Bouvier"


def test_what_needs_a_lot_cannot_be_pressed_without_one(bare):
    assert not button(bare, "Record a tag…").isEnabled()
    assert not button(bare, "Remove the lot").isEnabled()
    press(bare, "New lot…")
    fill_in(bare, name="27-C", variety="Furmint")
    worked_out(bare)
    assert button(bare, "Record a tag…").isEnabled()
    press(bare, "Remove the lot")
    worked_out(bare)
    assert planting_of(bare).lots == ()
    assert not button(bare, "Remove the lot").isEnabled()


def test_that_all_tags_are_recorded_is_turned_on_and_off(lots):
    lots.planting.side.tables["lots"].hold(1)
    press(lots, "All tags recorded")
    assert planting_of(lots).lots[1].tags_recorded
    press(lots, "Tags not all recorded")
    assert not planting_of(lots).lots[1].tags_recorded
    assert button(lots, "All tags recorded").isEnabled()


# which plant stands where


def test_rows_in_a_box_and_a_row_clicked_with_ctrl_are_assigned(lots):
    turn_to(lots, "plants")
    plan = lots.answer.plans[0]
    ends = plan.segment_ends_m
    a, b = (pixel_of(lots, *ends[s].mean(axis=0).tolist()) for s in (4, 8))
    QTest.mousePress(lots.canvas, LEFT, SHIFT, a)
    move_hand(lots, b, LEFT, SHIFT)
    QTest.mouseRelease(lots.canvas, LEFT, SHIFT, b)
    vine = (0, int(np.flatnonzero(plan.vines.segment == 20)[10]))
    click_vine(lots, vine, CTRL)
    assert lots.selecting.selection
    press(lots, "Assign a plant…")
    assert lots.site.card.fields["parts"].line.text(), "the selected rows are named"
    fill_in(lots, what="27-A")
    worked_out(lots)
    with_lot = set(plan.vines.segment[lots_by_vine(lots) == 0].tolist())
    assert with_lot >= {5, 6, 7, 20}
    assert not with_lot & {2, 10, 19, 21}
    legend = {e.label: e.count for e in lots.canvas.planting.drawing.legend}
    assert legend[str(LOTS[0].plant)] == np.count_nonzero(lots_by_vine(lots) == 0)
    lots.actions_by_id["undo"].trigger()
    worked_out(lots)
    assert (lots_by_vine(lots) < 0).all()


def test_what_is_no_row_is_refused_in_the_card(lots):
    turn_to(lots, "plants")
    press(lots, "Assign a plant…")
    card = fill_in(lots, parts="B7 rows 1-4", what="27-A")
    assert card.isVisible()
    assert card.problem_text()
    assert planting_of(lots).assignments == ()


def test_a_lot_is_filled_in_from_a_vine_until_it_is_used_up(lots):
    turn_to(lots, "plants")
    click_vine(lots, (0, 100))
    press(lots, "Fill from a vine…")
    code = code_of_vine(lots.answer.plans, (0, 100))
    assert lots.site.card.fields["code"].line.text() == code
    fill_in(lots, lot="27-P")
    worked_out(lots)
    (filled,) = np.nonzero(lots_by_vine(lots) == 1)
    assert len(filled) == 300
    assert filled[0] == 100


def test_a_swap_keeps_what_was_assigned_and_its_reason_and_stays_on_record(planned):
    turn_to(planned, "plants")
    click_vine(planned, (0, 200))
    press(planned, "Swap a lot…")
    card = fill_in(planned, lot="27-P")
    assert not card.fields["reason"].problem.isHidden(), "it is said where it is to be typed"
    fill_in(planned, reason="27-A ran out")
    worked_out(planned)
    assert lots_by_vine(planned)[200] == 1
    assert np.count_nonzero(lots_by_vine(planned) == 1) == 1
    first, swap = planting_of(planned).assignments
    assert (first.lot, swap.lot, swap.reason) == ("27-A", "27-P", "27-A ran out")
    table = planned.planting.side.tables["assignments"]
    table.setFocus()
    table.hold(1)
    before = planned.document.project
    press(planned, "Take it back")
    assert "stays on record" in " ".join(notices(planned))
    assert planned.document.project is before


def test_an_assignment_in_hand_is_taken_back(planned):
    turn_to(planned, "plants")
    table = planned.planting.side.tables["assignments"]
    table.setFocus(Qt.FocusReason.TabFocusReason)
    assert table.held == 0
    press(planned, "Take it back")
    worked_out(planned)
    assert planting_of(planned).assignments == ()
    planned.actions_by_id["undo"].trigger()
    worked_out(planned)
    assert len(lines(planned, "assignments")) == 1


# days


def test_days_follow_the_crew_that_is_typed(planned):
    turn_to(planned, "days")
    before = len(lines(planned, "days"))
    assert before > 1
    type_planting(planned, "crew.people", "2")
    worked_out(planned)
    assert planting_of(planned).crew.people == 2
    assert len(lines(planned, "days")) > before
    type_planting(planned, "crew.people", "none at all")
    assert planned.planting.card.paragraphs["crew"].reason("crew.people").endswith(".")
    assert planting_of(planned).crew.people == 2


def test_the_day_planting_begins_is_one_with_that_of_the_water(lots):
    turn_to(lots, "days")
    assert lines(lots, "days") == ()
    type_planting(lots, "begins", "2027-04-05")
    assert begins_of(lots.document.project) == MONDAY
    assert lots.document.project.water.demand.planting == MONDAY


def test_a_day_in_hand_lights_up_its_rows_and_a_missed_one_moves_its_rows_on(planned):
    turn_to(planned, "days")
    table = planned.planting.side.tables["days"]
    table.setFocus(Qt.FocusReason.TabFocusReason)
    assert table.held == 0
    day = planned.planting.answer.days.days[0]
    assert day.day == MONDAY
    wanted = {(run.plan, run.segment) for run in day.runs}
    assert set(planned.strip.selection) == wanted
    press(planned, "The day was missed")
    worked_out(planned)
    assert planting_of(planned).crew.missed == (MONDAY,)
    days = planned.planting.answer.days.days
    assert days[0].day > MONDAY
    assert {(run.plan, run.segment) for run in days[0].runs} >= wanted
    planned.actions_by_id["undo"].trigger()
    worked_out(planned)
    assert planned.planting.answer.days.days[0].day == MONDAY


# the plan


def test_what_vines_are_coloured_by_is_chosen_and_the_plan_and_legend_follow(planned):
    choice = planned.planting.legend.choice
    choice.setFocus()
    at = choice.findData("state")
    for _ in range(abs(at - choice.currentIndex())):
        QTest.keyClick(choice, Key.Key_Down if at > choice.currentIndex() else Key.Key_Up)
    worked_out(planned)
    assert planned.canvas.planting.drawing.by == "state"
    assert "not planted" in planned.planting.legend.accessibleDescription()


def test_a_vine_has_the_colour_of_its_class_on_the_plan_in_both_themes(planned):
    vine = (0, 500)
    for theme in ("theme-lamp", "theme-paper"):
        planned.actions_by_id[theme].trigger()
        worked_out(planned)
        click_vine(planned, (0, 900))
        drawing = planned.canvas.planting.drawing
        planned.canvas.go_to(*drawing.vine_xy_m[500].tolist())
        rest(planned)
        wanted = class_colours(planned.theme, drawing.legend)[drawing.vine_class[500]]
        image, at = planned.canvas.grab().toImage(), vine_pixel(planned, vine)
        near = {
            image.pixelColor(at + QPoint(dx, dy)).rgb()
            for dx in range(-5, 6)
            for dy in range(-5, 6)
        }
        assert wanted.rgb() in near, theme


def test_the_whole_plan_shows_classes_and_one_dead_vine_is_larger_than_the_others(planned):
    turn_to(planned, "record")
    record(planned, "Planted…", parts="B1 rows 3-20", by="Ana")
    vine = (0, 400)
    record(planned, "Dead…", parts=code_of_vine(planned.answer.plans, vine), by="Ana")
    planned.canvas.fit()
    rest(planned)
    layer, view = planned.canvas.planting, planned.canvas.view
    colours = dict(
        zip(
            [e.label for e in layer.drawing.legend],
            class_colours(planned.theme, layer.drawing.legend),
            strict=True,
        )
    )
    image = QImage(planned.canvas.size(), QImage.Format.Format_ARGB32_Premultiplied)

    def painted(view) -> dict[str, int]:
        image.fill(0)
        layer.paint_dots(image, view, planned.theme, 1.0)
        pixels = np.frombuffer(image.constBits(), np.uint32)
        return {label: int(np.sum(pixels == c.rgba())) for label, c in colours.items()}

    whole = painted(view)
    assert whole["dead"] >= 20, "one vine, and it can be found"
    assert whole["planted"] > 200
    assert painted(view) == whole
    beside = replace(view, x_m=view.x_m + 5 * view.width / view.scale)
    assert not any(painted(beside).values()), "another view is another picture"
    assert painted(view) == whole


def test_nothing_is_cut_sideways_in_a_small_window(planned):
    turn_to(planned, "record")
    record(planned, "Planted…", parts="B1 rows 3-20", by="Ana")
    record(planned, "Dead…", parts="B1 row 4", by="Ana")
    planned.resize(960, 600)
    for page in PAGES:
        turn_to(planned, page.name)
        for stack in (planned.planting.card.stack, planned.planting.side.stack):
            area = stack.currentWidget()
            assert area.widget().width() <= area.viewport().width(), page.name
        for part in page.tables:
            table = planned.planting.side.tables[part.key]
            if table.isVisible():
                columns = range(table.model().columnCount())
                wide = sum(table.columnWidth(c) for c in columns if not table.isColumnHidden(c))
                assert wide <= table.viewport().width(), part.key


def test_cards_that_ask_stand_whole_in_a_small_window(planned):
    planned.resize(960, 600)
    rest(planned)
    for name in ("lot", "tag", "assign", "planted", "dead", "checked", "title"):
        planned.actions_by_id[f"planting-{name}"].trigger()
        card = planned.site.card
        assert planned.canvas.rect().contains(card.geometry()), name
        QTest.keyClick(next(iter(card.fields.values())).line, Key.Key_Escape)


def test_a_vine_that_is_clicked_tells_its_history_and_escape_puts_it_down(planned):
    turn_to(planned, "record")
    note = planned.planting.card.notes["record"]
    assert "Click a vine" in note.text()
    click_vine(planned, (0, 321))
    assert code_of_vine(planned.answer.plans, (0, 321)) in note.text()
    QTest.keyClick(planned.canvas, Key.Key_Escape)
    assert "Click a vine" in note.text()


def test_vines_are_walked_by_keys_and_enter_takes_one_in_hand(planned):
    turn_to(planned, "record")
    canvas, tool = planned.canvas, planned.planting.tool
    canvas.setFocus()
    QTest.keyClick(canvas, Key.Key_Right, SHIFT)
    QTest.keyClick(canvas, Key.Key_Right, SHIFT)
    assert tool.vine == (0, 1)
    assert "27-A" in tool.said()
    QTest.keyClick(canvas, Key.Key_Return)
    assert tool.held == (0, 1)
    press(planned, "Planted…")
    code = code_of_vine(planned.answer.plans, (0, 1))
    assert planned.site.card.fields["parts"].line.text() == code
    QTest.keyClick(planned.site.card.fields["parts"].line, Key.Key_Escape)


# the record


def test_planting_and_a_loss_are_recorded_and_undo_takes_them_back(planned):
    turn_to(planned, "record")
    record(planned, "Planted…", parts="B1 rows 3-5", by="Ana")
    planted = int(np.count_nonzero(states(planned) == 1))
    vines = planned.answer.plans[0].vines
    assert planted == np.count_nonzero(
        np.isin(vines.segment, [s for s in range(40) if _row(planned, s) in (3, 4, 5)])
    )
    first = int(np.flatnonzero([_row(planned, s) == 3 for s in range(40)])[0])
    vine = (0, int(np.flatnonzero(vines.segment == first)[2]))
    click_vine(planned, vine)
    record(planned, "Dead…", cause="drought")
    assert np.count_nonzero(states(planned) == 1) == planted - 1
    note = planned.planting.card.notes["record"].text()
    assert "dead" in note
    assert "drought" in note
    assert [line.name for line in lines(planned, "causes")] == ["drought"]
    legend = {e.label: e.count for e in planned.canvas.planting.drawing.legend}
    assert legend["dead"] == 1
    record(planned, "A mistake…", note="It was the next one.")
    assert np.count_nonzero(states(planned) == 1) == planted - 1
    assert "next one" in planned.planting.card.notes["record"].text()
    for _ in range(3):
        planned.actions_by_id["undo"].trigger()
    worked_out(planned)
    assert planned.document.project.register is None
    assert lines(planned, "causes") == ()


def _row(window, segment: int) -> int:
    plan = window.answer.plans[0]
    vine = int(np.flatnonzero(plan.vines.segment == segment)[0])
    return int(code_of_vine(window.answer.plans, (0, vine)).split("-R")[1][:3])


def test_a_lot_with_tags_still_to_be_recorded_asks_why_it_is_planted_all_the_same(planned):
    turn_to(planned, "record")
    press(planned, "Planted…")
    card = planned.site.card
    assert not card.fields["although"].isVisible()
    fill_in(planned, parts="B1 row 3", lot="27-P", by="Ana")
    assert card.isVisible()
    assert card.fields["although"].isVisible()
    assert "tags" in card.problem_text()
    assert planned.document.project.register is None
    fill_in(planned, although="the rain came early")
    worked_out(planned)
    assert not card.isVisible()
    assert (states(planned) == 1).any()


def test_a_day_to_come_is_refused_at_the_day(planned):
    turn_to(planned, "record")
    press(planned, "Planted…")
    card = fill_in(planned, parts="B1 row 3", day="2199-04-05", by="Ana")
    assert not card.fields["day"].problem.isHidden()
    assert planned.document.project.register is None


def test_filled_forms_are_read_and_each_line_is_accounted_for(planned, asked, tmp_path):
    turn_to(planned, "record")
    plans = planned.answer.plans
    a, b = (code_of_vine(plans, (0, v)) for v in (10, 11))
    day = datetime.date.today().isoformat()
    form = tmp_path / "north end.csv"
    form.write_text(
        f"code,date,by,state,cause\n{a},{day},Ana,planted,\n{b},{day},Ana,planted,\n"
        f"B9-R001A-V001,{day},Ana,planted,\n",
        encoding="utf-8",
    )
    asked.path = str(form)
    press(planned, "Read filled forms…")
    filed(planned)
    told = " ".join(notices(planned))
    assert "2 taken" in told
    assert "B9-R001A-V001" in told
    asked.path = str(tmp_path / "left over.csv")
    planned.actions_by_id["planting-forms-left"].trigger()
    left = (tmp_path / "left over.csv").read_text(encoding="utf-8-sig")
    assert "B9-R001A-V001" in left
    assert a not in left
    worked_out(planned)
    assert np.count_nonzero(states(planned) == 1) == 2
    for vine in (10, 11):
        place = planned.planting.answer.matching.place[index_of(plans, (0, vine))]
        assert planned.planting.answer.standing.state[place] == 1
    planned.actions_by_id["undo"].trigger()
    assert planned.document.project.register is None


def test_what_was_recorded_is_in_the_saved_project(planned, tmp_path):
    turn_to(planned, "record")
    record(planned, "Planted…", parts="B1 row 3", by="Ana")
    register = planned.document.project.register
    path = tmp_path / "planted.layoutdesk"
    planned.filing.save_to(path)
    filed(planned)
    from layoutdesk.formats.project_file import open_project

    assert len(open_project(path).register.events.place) == len(register.events.place) > 0


def test_the_unit_of_the_desk_is_that_of_its_words(planned):
    turn_to(planned, "plants")
    assert "cm" in planned.planting.card.paragraphs["setting"].fields["setting.hole_depth_m"].text()
    planned.actions_by_id["unit-ft"].trigger()
    worked_out(planned)
    assert "in" in planned.planting.card.paragraphs["setting"].fields["setting.hole_depth_m"].text()


def test_the_keyboard_reaches_every_page_value_and_list(planned):
    turn_to(planned, "days")
    seen = set()
    planned.planting.card.bar.buttons["days"].setFocus(Qt.FocusReason.TabFocusReason)
    for _ in range(120):
        held = QApplication.focusWidget()
        if held in seen:
            break
        seen.add(held)
        QTest.keyClick(held, Key.Key_Tab)
    work = planned.planting
    wanted = [
        *work.card.paragraphs["crew"].fields.values(),
        work.side.tables["days"],
        work.side.sheet,
        work.side.files,
        work.legend.choice,
        button(planned, "The day was missed"),
        planned.canvas,
    ]
    missing = [w for w in wanted if w not in seen]
    assert not missing, f"out of reach: {[w.accessibleName() or w for w in missing]}"


def test_the_whole_set_is_written_where_it_is_asked(planned, asked, tmp_path):
    from layoutdesk.session.planting_files import FILES

    folder = tmp_path / "set"
    folder.mkdir()
    asked.path = str(folder)
    QTest.mouseClick(planned.planting.side.sheet, LEFT, PLAIN)
    filed(planned)
    assert not notices(planned)
    there = {p.name: p.stat().st_size for p in folder.iterdir()}
    assert set(there) <= set(FILES)
    assert min(there.values()) > 100
    assert {"pdf", "csv", "ics", "xlsx"} <= {name.rsplit(".")[-1] for name in there}
