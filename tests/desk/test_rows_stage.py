"""Rows, posts and vines picked on the plan and made special; alleys, guides, clear strips by hand."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest

from layoutdesk.session.special_rows import left_out_ends_m

from .hands import LEFT, PLAIN, let_go, move_hand, notices, on_ring, pixel_of, rest, type_into

Key = Qt.Key


def plan_of(window, i=0):
    return window.answer.plans[i]


def click(window, x, y, keys=PLAIN):
    QTest.mouseClick(window.canvas, LEFT, keys, pixel_of(window, x, y))


def on_row(window, segment, share=0.4, plan=0):
    """A place on a row."""
    start, far = plan_of(window, plan).segment_ends_m[segment]
    return tuple((start + share * (far - start)).tolist())


def near(window, place):
    """Look at a place so closely that vines and posts can be picked."""
    window.canvas.go_to(*place)
    window.canvas.zoom(4)
    return place


def type_in(line, text):
    line.setFocus()
    line.selectAll()
    QTest.keyClicks(line, text)
    QTest.keyClick(line, Key.Key_Return)


def undone(window, before, steps=1):
    for _ in range(steps):
        window.actions_by_id["undo"].trigger()
    assert window.document.project is before
    rest(window)


def middle_row(window):
    return plan_of(window).n_segments // 2


# a row


def test_a_clicked_row_is_told_with_its_figures_and_escape_lets_go(desk):
    i = middle_row(desk)
    click(desk, *on_row(desk, i))
    card = desk.picked_card
    assert card.isVisible()
    assert card.heading.text() == f"Row B1-R{plan_of(desk).segments.number[i]:03d}A"
    assert f"{plan_of(desk).vines_of_segment[i]} vines" in card.figures.text()
    assert desk.canvas.selected == ((0, i),)
    QTest.keyClick(desk.canvas, Key.Key_Escape)
    assert not card.isVisible()
    assert desk.canvas.selected == ()
    click(desk, *on_row(desk, i))
    QTest.keyClick(card, Key.Key_Escape)
    assert not card.isVisible()
    assert desk.canvas.selected == ()


def test_a_row_is_left_out_and_planted_again(desk):
    before, rows = desk.document.project, desk.answer.tally.rows
    i = middle_row(desk)
    click(desk, *on_row(desk, i))
    desk.picked_card.buttons["leave-out"].click()
    rest(desk)
    assert desk.answer.tally.rows == rows - 1
    assert desk.document.undo_label == "row left out"
    assert not desk.picked_card.isVisible()
    empty = left_out_ends_m(plan_of(desk))[0].mean(axis=0)
    click(desk, *empty)
    assert desk.picked_card.heading.text().startswith("Left-out row B1-R")
    desk.picked_card.buttons["back"].click()
    assert desk.document.project == before
    rest(desk)
    assert desk.answer.tally.rows == rows
    undone(desk, before, 2)


def test_delete_leaves_out_the_rows_that_are_selected(desk):
    before, rows = desk.document.project, desk.answer.tally.rows
    i = middle_row(desk)
    click(desk, *on_row(desk, i))
    click(desk, *on_row(desk, i + 2), Qt.KeyboardModifier.ControlModifier)
    QTest.keyClick(desk.canvas, Key.Key_Delete)
    rest(desk)
    assert desk.answer.tally.rows == rows - 2
    assert desk.document.undo_label == "rows left out"
    undone(desk, before)


def test_an_end_typed_out_makes_the_row_longer_and_the_rules_take_it_back(desk):
    before = desk.document.project
    i = middle_row(desk)
    length = float(plan_of(desk).segments.length_m[i])
    click(desk, *on_row(desk, i))
    type_in(desk.picked_card.fields["far"], "2")
    rest(desk)
    assert plan_of(desk).segments.length_m[i] == pytest.approx(length + 2)
    assert desk.picked_card.fields["far"].text() == "0.00 m"
    type_in(desk.picked_card.fields["start"], "-3.5")
    rest(desk)
    assert plan_of(desk).segments.length_m[i] == pytest.approx(length - 1.5)
    assert len(desk.document.project.blocks[0].overrides) == 2
    desk.picked_card.buttons["rules"].click()
    assert desk.document.project == before
    rest(desk)
    assert plan_of(desk).segments.length_m[i] == pytest.approx(length)
    assert "rules" not in desk.picked_card.buttons
    undone(desk, before, 3)


@pytest.mark.parametrize("text", ["out", "500"])
def test_an_end_that_cannot_be_moved_so_is_told_and_changes_nothing(desk, text):
    before = desk.document.project
    click(desk, *on_row(desk, middle_row(desk)))
    type_in(desk.picked_card.fields["far"], text)
    assert len(notices(desk)) == 1
    assert desk.document.project is before
    assert desk.picked_card.fields["far"].text() == text


# posts and vines


def test_an_end_post_and_a_line_post_are_moved_by_typed_lengths(desk):
    before = desk.document.project
    i = middle_row(desk)
    start = near(desk, tuple(plan_of(desk).segment_ends_m[i][0].tolist()))
    click(desk, *start)
    assert desk.picked_card.heading.text().startswith("End post B1-R")
    assert "E" in desk.picked_card.figures.text()  # where it stands
    type_in(desk.picked_card.fields["post"], "-1")
    rest(desk)
    assert np.hypot(*(plan_of(desk).segment_ends_m[i][0] - start)) == pytest.approx(1.0)
    part = plan_of(desk).part(i, i + 1)
    post = near(desk, tuple(part.line_posts.xy_m[3].tolist()))
    click(desk, *post)
    assert desk.picked_card.heading.text().startswith("Line post B1-R")
    type_in(desk.picked_card.fields["post"], "0.4")
    rest(desk)
    moved = plan_of(desk).part(i, i + 1).line_posts.xy_m[3]
    assert np.hypot(*(moved - post)) == pytest.approx(0.4, abs=1e-6)
    undone(desk, before, 2)


def test_a_post_that_is_refused_stays_in_hand(desk):
    before = desk.document.project
    i = middle_row(desk)
    post = near(desk, tuple(plan_of(desk).part(i, i + 1).line_posts.xy_m[3].tolist()))
    click(desk, *post)
    type_in(desk.picked_card.fields["post"], "50")
    assert "half its interval" in notices(desk)[0]
    assert desk.document.project is before
    assert desk.picked_card.heading.text().startswith("Line post")
    assert desk.picked_card.isVisible()


def test_a_vine_is_left_out_and_planted_again(desk):
    before, vines = desk.document.project, desk.answer.tally.vines
    i = middle_row(desk)
    vine = near(desk, tuple(plan_of(desk).part(i, i + 1).vines.xy_m[5].tolist()))
    click(desk, *vine)
    assert desk.picked_card.heading.text().endswith("V006")
    desk.picked_card.buttons["leave-out-vine"].click()
    rest(desk)
    assert desk.answer.tally.vines == vines - 1
    click(desk, *vine)
    assert desk.picked_card.heading.text().startswith("Left-out vine")
    desk.picked_card.buttons["back"].click()
    assert desk.document.project == before
    rest(desk)
    assert desk.answer.tally.vines == vines
    undone(desk, before, 2)


def test_a_vine_is_added_between_two_and_refused_on_one(desk):
    before, vines = desk.document.project, desk.answer.tally.vines
    i = middle_row(desk)
    xy = plan_of(desk).part(i, i + 1).vines.xy_m
    near(desk, tuple(xy[5].tolist()))
    desk.actions_by_id["snapping"].setChecked(False)
    desk.actions_by_id["add-vine"].trigger()
    click(desk, *xy[5])
    assert "stands there already" in desk.sketch_bar.refusal.text()
    assert desk.document.project is before
    click(desk, *((xy[5] + xy[6]) / 2))
    assert desk.canvas.tool is None
    rest(desk)
    assert desk.answer.tally.vines == vines + 1
    undone(desk, before)


def test_nothing_picked_is_said(desk):
    before = desk.document.project
    for name in ("leave-out", "put-back", "drop-unfit"):
        desk.work.clear()
        desk.actions_by_id[name].trigger()
        assert desk.work.text().endswith("."), name
    assert desk.document.project is before


# how rows run


def test_rows_run_from_one_place_to_another(desk):
    before = desk.document.project
    desk.actions_by_id["bearing-through"].trigger()
    click(desk, -20, -30)
    desk.sketch_bar.field.setFocus()
    QTest.keyClicks(desk.sketch_bar.field, "50 033.5")
    QTest.keyClick(desk.sketch_bar.field, Key.Key_Return)
    assert desk.canvas.tool is None
    assert desk.document.project.blocks[0].rules.bearing_deg == pytest.approx(33.5)
    assert desk.canvas.handle[2] == pytest.approx(33.5)
    undone(desk, before)


def test_a_row_passes_through_a_place(desk):
    before = desk.document.project
    desk.actions_by_id["snapping"].setChecked(False)
    desk.actions_by_id["first-row-through"].trigger()
    tool = desk.canvas.tool
    click(desk, 3, 4)
    assert desk.canvas.tool is None
    (place,) = tool.places
    rest(desk)
    rows = shapely.union_all(plan_of(desk).shapes)
    assert rows.distance(shapely.Point(*place)) < 1e-3
    assert 0 <= desk.document.project.blocks[0].rules.first_row_m < 2.4
    undone(desk, before)


def test_an_alley_is_put_dragged_and_taken_away(desk):
    before, segments = desk.document.project, plan_of(desk).n_segments
    desk.actions_by_id["alley"].trigger()
    click(desk, 0, 0)
    rest(desk)
    assert plan_of(desk).n_segments > segments
    assert desk.document.undo_label == "alley"
    start, end = pixel_of(desk, 0, 0), pixel_of(desk, 5, 40)
    QTest.mousePress(desk.canvas, LEFT, PLAIN, start)
    for share in (0.5, 1.0):
        move_hand(desk, start + (end - start) * share)
    let_go(desk, end)
    (alley,) = desk.document.project.blocks[0].rules.alleys
    assert (alley.x_m, alley.y_m) == pytest.approx((5, 40), abs=1.0)
    QTest.keyClick(desk.canvas, Key.Key_Delete)
    assert desk.document.project == before
    undone(desk, before, 3)


def test_the_grip_of_an_alley_is_seen_on_the_rows_stage_alone(desk):
    desk.actions_by_id["alley"].trigger()
    click(desk, 0, 0)
    rest(desk)
    at = pixel_of(desk, 0, 0) + QPoint(8, 0)
    accent = desk.theme["accent"]
    seen = desk.canvas.grab().toImage().pixelColor(at)
    assert abs(seen.red() - accent.red()) + abs(seen.green() - accent.green()) < 60
    desk.actions_by_id["stage-ground"].trigger()
    gone = desk.canvas.grab().toImage().pixelColor(at)
    assert abs(gone.red() - accent.red()) + abs(gone.green() - accent.green()) > 60


def test_a_vine_in_hand_whose_block_is_renamed_leaves_no_trap(desk):
    i = middle_row(desk)
    vine = near(desk, tuple(plan_of(desk).part(i, i + 1).vines.xy_m[5].tolist()))
    click(desk, *vine)
    type_into(desk, "block_name", "East")
    QTest.keyClick(desk, Key.Key_A, Qt.KeyboardModifier.ControlModifier)
    rest(desk)
    assert desk.answer.plans[0].block.name == "East"
    assert desk.picked_card.heading.text().endswith("rows selected")


def test_escape_puts_a_dragged_alley_back(desk):
    desk.actions_by_id["alley"].trigger()
    click(desk, 0, 0)
    before = desk.document.project
    start, end = pixel_of(desk, 0, 0), pixel_of(desk, 5, 40)
    QTest.mousePress(desk.canvas, LEFT, PLAIN, start)
    move_hand(desk, end)
    assert desk.document.project != before
    QTest.keyClick(desk.canvas, Key.Key_Escape)
    let_go(desk, end)
    assert desk.document.project is before
    rest(desk)


def test_the_clear_strip_of_an_edge_is_pulled_at_its_grip(desk):
    before, vines = desk.document.project, desk.answer.tally.vines
    (ax, ay), (bx, by) = before.blocks[0].outline.exterior.coords[:2]
    click(desk, (ax + bx) / 2, (ay + by) / 2)
    grip = desk.rows.tool._strip_grip()
    start = QPoint(round(grip.x()), round(grip.y()))
    end = start - QPoint(0, 40)
    QTest.mousePress(desk.canvas, LEFT, PLAIN, start)
    for share in (0.5, 1.0):
        move_hand(desk, start + (end - start) * share)
    let_go(desk, end)
    (own,) = desk.document.project.blocks[0].edge_widths
    assert own.width_m == pytest.approx(8.0 + 40 / desk.canvas.view.scale, abs=1.0)
    assert own.width_m == pytest.approx(round(own.width_m / 0.05) * 0.05)
    assert desk.edge_card.width_field.text() == f"{own.width_m:.2f} m"
    rest(desk)
    assert desk.answer.tally.vines < vines
    undone(desk, before)


def test_rows_curve_along_a_drawn_line_and_are_straight_again(desk):
    before = desk.document.project
    desk.actions_by_id["guide-line"].trigger()
    for place in ((-20, -70), (-8, 0), (-20, 70)):
        click(desk, *place)
    QTest.keyClick(desk.canvas, Key.Key_Return)
    assert desk.canvas.tool is None, desk.sketch_bar.refusal.text()
    rest(desk)
    assert plan_of(desk).course is not None
    shape = plan_of(desk).shapes[middle_row(desk)]
    assert shapely.get_num_coordinates(shape) > 2
    assert desk.canvas.handle is None  # a bearing turns no curved row
    click(desk, *shape.interpolate(0.4, normalized=True).coords[0])
    assert desk.picked_card.heading.text().startswith("Row B1-R")
    drawn = desk.document.project
    desk.actions_by_id["straight-rows"].trigger()
    rest(desk)
    assert desk.document.project.blocks[0].guide is None
    assert plan_of(desk).course is None
    assert desk.canvas.handle is not None
    undone(desk, drawn)
    undone(desk, before)


def test_a_guide_that_turns_too_sharply_is_refused_in_the_bar(desk):
    before = desk.document.project
    desk.actions_by_id["guide-line"].trigger()
    for place in ((-20, -70), (20, 70), (-19, -60)):
        click(desk, *place)
    QTest.keyClick(desk.canvas, Key.Key_Return)
    assert desk.sketch_bar.refusal.text().endswith("gentler one.")
    assert desk.document.project is before


def test_straight_rows_are_said_to_be_straight(desk):
    desk.actions_by_id["straight-rows"].trigger()
    assert "straight already" in desk.work.text()


def test_two_blocks_share_their_rules_and_have_each_its_own_again(two_blocks):
    window = two_blocks
    before = window.document.project
    window.rules.choose_block("B2")
    type_into(window, "row_spacing_m", "3")
    different = window.document.project
    assert [b.rules.row_spacing_m for b in different.blocks] == [2.4, 3.0]
    window.actions_by_id["shared-rules"].trigger()
    assert all(b.common for b in window.document.project.blocks)
    assert [b.rules.row_spacing_m for b in window.document.project.blocks] == [3.0, 3.0]
    window.rules.choose_block("B1")
    type_into(window, "row_spacing_m", "2.8")
    assert [b.rules.row_spacing_m for b in window.document.project.blocks] == [2.8, 2.8]
    window.actions_by_id["shared-rules"].trigger()
    assert not any(b.common for b in window.document.project.blocks)
    type_into(window, "row_spacing_m", "2.5")
    assert [b.rules.row_spacing_m for b in window.document.project.blocks] == [2.5, 2.8]
    undone(window, before, 5)


# what no longer fits


def test_what_no_longer_fits_is_a_finding_and_can_be_taken_back(desk):
    before = desk.document.project
    click(desk, *on_row(desk, 0))
    type_in(desk.picked_card.fields["far"], "-3")
    rest(desk)
    type_into(desk, "side_margin_m", "30")
    rest(desk)
    told = [f for f in desk.answer.findings if f.code == "override-unfit"]
    assert len(told) == 1
    desk.actions_by_id["drop-unfit"].trigger()
    assert desk.document.project.blocks[0].overrides == ()
    rest(desk)
    assert not any(f.code == "override-unfit" for f in desk.answer.findings)
    undone(desk, before, 3)


def test_a_row_left_out_stays_out_while_the_spacing_of_vines_changes(desk):
    before = desk.document.project
    click(desk, *on_row(desk, middle_row(desk)))
    desk.actions_by_id["leave-out"].trigger()
    rest(desk)
    rows = desk.answer.tally.rows
    type_into(desk, "vine_spacing_m", "1.2")
    rest(desk)
    assert desk.answer.tally.rows == rows
    assert not plan_of(desk).unfit
    undone(desk, before, 2)


# cards


def overlaps(window):
    cards = [
        window.specification_card,
        window.stage_bar,
        window.tally,
        window.findings,
        window.strip,
        window.edge_card,
        window.picked_card,
    ]
    seen = [c for c in cards if c.isVisible()]
    return [
        (a.accessibleName(), b.accessibleName())
        for n, a in enumerate(seen)
        for b in seen[n + 1 :]
        if a.geometry().intersects(b.geometry())
    ]


def test_the_cards_of_what_is_picked_cover_no_other_at_1280_by_800(desk):
    (ax, ay), (bx, by) = desk.document.project.blocks[0].outline.exterior.coords[:2]
    click(desk, (ax + bx) / 2, (ay + by) / 2)
    assert desk.edge_card.isVisible()
    assert overlaps(desk) == []
    i = middle_row(desk)
    click(desk, *on_row(desk, i))
    assert desk.picked_card.isVisible()
    assert not desk.edge_card.isVisible()
    assert overlaps(desk) == []
    type_in(desk.picked_card.fields["far"], "-3")
    rest(desk)
    assert "rules" in desk.picked_card.buttons
    assert overlaps(desk) == []
    desk.actions_by_id["select-all"].trigger()
    desk.actions_by_id["next-edge"].trigger()
    assert overlaps(desk) == []


def test_every_word_and_button_of_the_picked_card_has_room(desk):
    click(desk, *on_row(desk, middle_row(desk)))
    card = desk.picked_card
    rest(desk)
    for widget in (card.figures, *card.fields.values(), *card.buttons.values()):
        assert card.rect().contains(widget.geometry())
    assert card.figures.height() >= card.figures.heightForWidth(card.figures.width())


def test_what_is_picked_is_let_go_with_the_stage_and_the_site(desk, two_block_project):
    click(desk, *on_row(desk, middle_row(desk)))
    desk.actions_by_id["stage-ground"].trigger()
    assert not desk.picked_card.isVisible()
    desk.actions_by_id["stage-rows"].trigger()
    desk.show_project(two_block_project)
    rest(desk)
    assert not desk.picked_card.isVisible()
    assert desk.canvas.selected == ()


def test_the_bearing_ring_is_still_turned_over_a_picked_row(desk):
    before = desk.document.project
    click(desk, *on_row(desk, middle_row(desk)))
    QTest.mousePress(desk.canvas, LEFT, PLAIN, on_ring(desk, desk.canvas.handle[2]))
    move_hand(desk, on_ring(desk, 40))
    let_go(desk)
    assert desk.document.project.blocks[0].rules.bearing_deg == pytest.approx(40, abs=1)
    undone(desk, before)
