"""The compare stage by mouse and keyboard: candidates, the table, the curves, what is measured by."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QColor
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLabel

from layoutdesk.core.layout.rows import lay_rows
from layoutdesk.core.model import Study, Terrain
from layoutdesk.desk.compare_table import LINE_PX, box_of
from tests.desk.compare_hands import (
    add,
    candidates,
    click_curve,
    counted,
    figures,
    index_of,
    line_of,
    press,
    titles,
)
from tests.desk.hands import (
    CTRL,
    LEFT,
    PLAIN,
    SHIFT,
    filed,
    notices,
    pixel_of,
    pump_until,
    rest,
    wheel,
)

Key = Qt.Key


# candidates


def test_alone_the_plan_as_it_stands_is_shown_with_what_to_do_next(compare):
    stage = compare.compare_stage
    assert titles(compare) == ["010.0°"]
    assert stage.invitation.isVisible()
    assert "Type a bearing" in " ".join(w.text() for w in stage.invitation.findChildren(QLabel))
    assert compare.document.project.study is None, "looking changes nothing"
    assert compare.document.undo_label is None
    assert figures(compare, "vines") == [str(compare.answer.tally.vines)]
    assert not any(c.best for c in line_of(compare, "vines").cells), "of one, nothing is best"


def test_a_typed_candidate_stands_beside_the_others_with_the_figures_of_its_layout(compare):
    before = compare.document.project
    add(compare, "96")
    counted(compare)
    assert titles(compare) == ["010.0°", "096.0°"]
    assert not compare.compare_stage.invitation.isVisible()
    block = before.blocks[0]
    plan = lay_rows(block, replace(block.rules, bearing_deg=96.0), before.exclusions)
    assert figures(compare, "vines")[1] == str(plan.n_vines)
    assert figures(compare, "end_posts")[1] == str(2 * plan.n_segments)
    assert compare.document.project.blocks == before.blocks, "nothing is laid otherwise yet"
    assert compare.compare_stage.field.text() == ""
    compare.actions_by_id["undo"].trigger()
    assert compare.document.project is before
    assert titles(compare) == ["010.0°"]


def test_a_candidate_may_have_spacings_of_its_own_and_says_so(compare):
    add(compare, "96, 2.2 x 1.2")
    (_, candidate) = candidates(compare)
    assert (candidate.row_spacing_m, candidate.vine_spacing_m) == (2.2, 1.2)
    assert "2.20 × 1.20 m" in compare.compare_stage.plans.cards[1].about.text()


@pytest.mark.parametrize("text", ["uphill", "96, wide", "96, 2.2 x none", ""])
def test_what_cannot_be_a_candidate_is_said_below_the_field_and_stays_for_mending(compare, text):
    before = compare.document.project
    add(compare, text)
    stage = compare.compare_stage
    assert stage.refusal.isVisible()
    assert stage.refusal.text().count(". ") == 0
    assert stage.refusal.text().endswith(".")
    assert stage.field.text() == text
    assert compare.document.project is before
    QTest.keyClicks(stage.field, "9")
    assert not stage.refusal.isVisible()


def test_one_that_stands_there_already_is_not_added_twice(three):
    before = three.document.project
    add(three, "96.0")
    assert three.document.project == before
    assert three.compare_stage.refusal.isVisible()


def test_a_click_on_the_curve_adds_a_candidate_at_that_bearing(compare):
    click_curve(compare, 120)
    assert [c.bearing_deg for c in candidates(compare)] == [None, 120.0]
    assert compare.document.undo_label == "candidate"


def test_arrow_keys_move_a_cursor_on_the_curves_and_enter_adds(compare):
    curves = compare.compare_stage.curves
    curves.setFocus()
    QTest.keyClick(curves, Key.Key_Home)
    for _ in range(4):
        QTest.keyClick(curves, Key.Key_Right, SHIFT)
    QTest.keyClick(curves, Key.Key_Right)
    bearing, told = curves.read_at()
    assert bearing == "041.0°"
    block = compare.document.project.blocks[0]
    plan = lay_rows(block, replace(block.rules, bearing_deg=41.0), ())
    assert told["vines"].replace("\u202f", "") == str(plan.n_vines)
    assert "041.0°" in curves.accessibleDescription()
    QTest.keyClick(curves, Key.Key_Return)
    assert candidates(compare)[1].bearing_deg == 41.0


def test_pointing_at_the_curves_reads_each_at_that_bearing(compare):
    curves = compare.compare_stage.curves
    assert curves.read_at() is None
    QTest.mouseMove(curves, QPoint(round(curves.x_of(90)), 60))
    pump_until(lambda: curves.read_at() is not None, "the curves are read", 5)
    assert curves.read_at()[0] == "090.0°"


def test_an_edge_in_hand_gives_a_candidate_along_it(desk):
    desk.step_edge(1)
    bearing = desk.edges.view.bearing_deg
    desk.actions_by_id["compare-edge"].trigger()
    counted(desk)
    assert desk.stage == "compare"
    assert candidates(desk)[1].bearing_deg == pytest.approx(bearing % 360, abs=1e-4)


def test_without_an_edge_in_hand_it_is_said_where_to_take_one(compare):
    compare.actions_by_id["compare-edge"].trigger()
    (sentence,) = notices(compare)
    assert "No edge is in hand" in sentence
    assert candidates(compare) == []


def test_two_places_on_the_plan_give_a_candidate_and_the_stage_comes_back(compare):
    compare.actions_by_id["compare-places"].trigger()
    assert not compare.compare_stage.isVisible(), "the plan is seen while places are set"
    assert compare.canvas.hasFocus()
    for place in ((-20.0, -20.0), (20.0, 20.0)):
        QTest.mouseClick(
            compare.canvas, LEFT, Qt.KeyboardModifier.AltModifier, pixel_of(compare, *place)
        )
    assert compare.compare_stage.isVisible()
    assert candidates(compare)[1].bearing_deg == pytest.approx(45.0, abs=1.0)
    counted(compare)


def test_escape_while_setting_places_leaves_everything_as_it_was(compare):
    compare.actions_by_id["compare-places"].trigger()
    QTest.keyClick(compare.canvas, Key.Key_Escape)
    assert compare.compare_stage.isVisible()
    assert candidates(compare) == []
    assert compare.compare_stage.isAncestorOf(QApplication.focusWidget())


def test_the_best_of_all_bearings_are_added_as_one_step(compare):
    before = compare.document.project
    compare.actions_by_id["compare-sweep"].trigger()
    card = compare.site.card
    QTest.keyClicks(card.fields["measure"].line, "mean row")
    QTest.keyClick(card.fields["measure"].line, Key.Key_Return)
    counted(compare)
    swept = compare.comparing.counting.swept_answer.sweep
    best = float(swept.bearings_deg[int(np.argmax(swept.values["mean_row_m"]))])
    added = [c.bearing_deg for c in candidates(compare)[1:]]
    assert added[0] == best
    assert len(added) == 3
    apart = [abs((a - b + 90) % 180 - 90) for a in added for b in added if a < b]
    assert min(apart) >= 10
    compare.actions_by_id["undo"].trigger()
    assert compare.document.project is before
    counted(compare)


def test_a_count_that_cannot_be_is_said_at_its_own_field(compare):
    compare.actions_by_id["compare-sweep"].trigger()
    card = compare.site.card
    QTest.keyClicks(card.fields["measure"].line, "vines")
    card.fields["count"].line.selectAll()
    QTest.keyClicks(card.fields["count"].line, "some")
    QTest.keyClick(card.fields["count"].line, Key.Key_Return)
    assert "'some'" in card.fields["count"].problem.text()
    assert card.isVisible()
    card.leave()


# what is done with a candidate


def test_adopting_lays_the_blocks_so_and_undo_takes_it_back(three):
    before = three.document.project
    press(three, 2, "adopt")
    rest(three)
    assert three.document.project.blocks[0].rules.bearing_deg == 96.0
    assert three.answer.plans[0].rules.bearing_deg == 96.0
    assert "096.0°" in three.document.undo_label
    three.actions_by_id["undo"].trigger()
    assert three.document.project is before
    counted(three)


def test_differences_are_told_from_the_base_and_follow_it(three):
    vines = [int(f) for f in figures(three, "vines")]
    told = [c.difference.replace("\u202f", "") for c in line_of(three, "vines").cells]
    assert told[0] == ""
    assert int(told[2].replace("−", "-") or 0) == vines[2] - vines[0]
    press(three, 2, "base")
    told = [c.difference.replace("\u202f", "") for c in line_of(three, "vines").cells]
    assert told[2] == ""
    assert int(told[0].replace("−", "-") or 0) == vines[0] - vines[2]
    assert three.document.project.study.base == 2
    assert "from 096.0°" in three.compare_stage.told.text()
    three.actions_by_id["undo"].trigger()
    assert three.document.project.study.base == 0
    counted(three)


def test_a_note_stays_with_its_candidate_and_is_read_below_its_plan(three):
    press(three, 1, "write")
    card = three.site.card
    QTest.keyClicks(card.fields["note"].line, "Along the road.")
    QTest.keyClick(card.fields["note"].line, Key.Key_Return)
    assert candidates(three)[1].note == "Along the road."
    shown = three.compare_stage.plans.cards[1].note
    assert shown.isVisible()
    assert shown.text() == "Along the road."
    assert figures(three, "vines")[1] != "…", "a note is no reason to count again"
    counted(three)


def test_the_cross_and_delete_take_a_candidate_out_but_never_the_last(three):
    press(three, 1, "remove")
    assert titles(three) == ["010.0°", "096.0°"]
    picture = three.compare_stage.plans.cards[1].picture
    picture.setFocus()
    QTest.keyClick(picture, Key.Key_Delete)
    assert titles(three) == ["010.0°"]
    last = three.compare_stage.plans.cards[0]
    assert not last.remove.isVisible()
    QTest.keyClick(last.picture, Key.Key_Delete)
    assert titles(three) == ["010.0°"]
    counted(three)


def test_the_study_is_in_the_saved_project(three, tmp_path):
    from layoutdesk.formats.project_file import open_project

    three.filing.save_to(tmp_path / "study.gpkg")
    filed(three)
    assert notices(three) == []
    read = open_project(tmp_path / "study.gpkg")
    assert read.study == three.document.project.study
    assert [c.bearing_deg for c in read.study.candidates] == [None, 52.0, 96.0]


# the plans


def test_all_plans_are_at_one_scale_and_move_and_zoom_together(three):
    plans = three.compare_stage.plans
    sizes = {(c.picture.width(), c.picture.height()) for c in plans.cards}
    assert len(sizes) == 1
    assert (plans.view.width, plans.view.height) in sizes
    fitted = plans.view
    at = QPoint(30, 40)
    place = plans.view.to_site(at.x(), at.y())
    wheel(plans.cards[1].picture, at, 3)
    assert plans.view.scale > fitted.scale
    assert plans.view.to_site(at.x(), at.y()) == pytest.approx(place), "zooms at the pointer"
    before = plans.view
    picture = plans.cards[2].picture
    QTest.mousePress(picture, LEFT, PLAIN, QPoint(50, 50))
    picture.mouseMoveEvent(_moved(picture, 62, 45))
    QTest.mouseRelease(picture, LEFT, PLAIN, QPoint(62, 45))
    assert plans.view == before.panned(12, -5)
    three.actions_by_id["fit"].trigger()
    assert plans.view == fitted
    rest(three)


def _moved(widget, x: float, y: float):
    from PySide6.QtGui import QMouseEvent

    at = QPointF(x, y)
    return QMouseEvent(QMouseEvent.Type.MouseMove, at, widget.mapToGlobal(at), LEFT, LEFT, PLAIN)


def test_the_plan_behind_is_left_alone_by_hands_on_the_stage(three):
    before = three.canvas.view
    wheel(three.compare_stage, QPoint(8, 300), 2)
    wheel(three.compare_stage.plans.cards[0].picture, QPoint(20, 20), 2)
    QTest.mouseClick(three.compare_stage, LEFT, PLAIN, QPoint(8, 300))
    three.actions_by_id["zoom-in"].trigger()
    assert three.canvas.view == before
    assert three.document.project.study is not None


def test_the_base_has_the_accents_frame(three):
    theme = three.theme
    cards = three.compare_stage.plans.cards

    def rim(card) -> QColor:
        return card.grab().toImage().pixelColor(1, card.height() // 2)

    assert _near(rim(cards[0]), theme["accent"])
    assert not _near(rim(cards[1]), theme["accent"])


def _near(a: QColor, b: QColor) -> bool:
    return max(abs(x - y) for x, y in zip(a.getRgb()[:3], b.getRgb()[:3], strict=True)) < 40


# the table


def test_every_measure_is_named_once_and_told_what_it_means(three, qtbot):
    model = three.compare_stage.table.model
    names = [r.name for r in model.rows if hasattr(r, "name")]
    assert len(names) == len(set(names))
    assert {"vines", "mean_row_m", "short_rows", "sun_left_h"} <= set(names)
    view = three.compare_stage.table.view
    view.setFocus()
    view.setCurrentIndex(index_of(three, "mean_row_m"))
    assert "over the number of segments" in three.compare_stage.told.text()
    assert "More is better" in three.compare_stage.told.text()
    three.canvas.setFocus()
    assert "Nothing is added up into a score" in three.compare_stage.told.text()


def test_what_is_not_known_is_one_line_that_says_what_is_missing(three):
    groups = [r for r in three.compare_stage.table.model.rows if hasattr(r, "missing")]
    missing = {g.title: g.missing for g in groups}
    assert missing["Rows"] == ""
    for title in ("On the slope", "Wind", "Cost"):
        assert missing[title].endswith(".")
    assert line_of(three, "grade_along_max_pct") is None


def test_the_best_of_a_line_is_marked_in_words_too(three):
    line = line_of(three, "mean_row_m")
    values = [float(f) for f in figures(three, "mean_row_m")]
    best = values.index(max(values))
    assert [c.best for c in line.cells].index(True) == best
    said = index_of(three, "mean_row_m", best + 1).data(Qt.ItemDataRole.AccessibleTextRole)
    assert "best" in said
    assert titles(three)[best] in said


def test_ticking_decides_who_is_beaten_and_is_told_in_words(three):
    view = three.compare_stage.table.view
    for name in ("vines", "short_rows", "end_posts"):
        rect = view.visualRect(index_of(three, name))
        QTest.mouseClick(view.viewport(), LEFT, PLAIN, box_of(rect).center())
        assert not line_of(three, name).chosen
    counted(three)
    known = [n for n in three.document.project.study.chosen if not n.startswith("grade_")]
    assert known == ["mean_row_m"]  # of grades nothing is known here
    values = [float(f) for f in figures(three, "mean_row_m")]
    best = values.index(max(values))
    for i, card in enumerate(three.compare_stage.plans.cards):
        mark = card.picture.mark
        assert mark.isVisible() == (i != best)
        assert i == best or mark.text().startswith("beaten by ")


def test_space_ticks_by_keyboard_and_a_line_without_a_better_has_no_box(three):
    view = three.compare_stage.table.view
    view.setFocus()
    view.setCurrentIndex(index_of(three, "rows"))
    QTest.keyClick(view, Key.Key_Space)
    assert "rows" in three.document.project.study.chosen
    before = three.document.project
    view.setCurrentIndex(index_of(three, "longest_row_m"))
    QTest.keyClick(view, Key.Key_Space)
    assert three.document.project is before
    counted(three)


def test_ctrl_c_copies_the_table_as_text_with_a_column_a_candidate(three):
    view = three.compare_stage.table.view
    view.setFocus()
    QTest.keyClick(view, Key.Key_C, CTRL)
    lines = [line.split("\t") for line in QApplication.clipboard().text().splitlines()]
    assert lines[0] == ["", "010.0°", "052.0°", "096.0°"]
    vines = next(line for line in lines if line[0] == "Vines")
    assert vines[1:] == figures(three, "vines")


def test_columns_stand_below_their_plans(three):
    stage = three.compare_stage
    for i, card in enumerate(stage.plans.cards):
        rect = stage.table.view.visualRect(index_of(three, "vines", i + 1))
        left = stage.table.view.viewport().mapTo(stage, rect.topLeft()).x()
        right = left + rect.width()
        x = card.mapTo(stage, QPoint(0, 0)).x()
        assert left <= x
        assert x + card.width() <= right + 2
        assert card.isVisible()


# what is measured by


def test_a_value_of_the_paragraph_is_an_edit_and_the_table_follows(three):
    value = three.compare_stage.paragraph.fields["short_row_m"]
    value.setFocus(Qt.FocusReason.TabFocusReason)
    QTest.keyClicks(value, "120")
    QTest.keyClick(value, Key.Key_Return)
    assert three.document.project.study.short_row_m == 120.0
    counted(three)
    results = three.comparing.counting.answer.results
    short = [str(sum(int((p.segments.length_m < 120.0).sum()) for p in r.plans)) for r in results]
    assert figures(three, "short_rows") == short
    three.actions_by_id["undo"].trigger()
    assert three.document.project.study.short_row_m == Study().short_row_m
    counted(three)


def test_steps_of_a_value_are_one_edit_and_escape_puts_it_back(three):
    value = three.compare_stage.paragraph.fields["canopy.height_m"]
    value.setFocus(Qt.FocusReason.TabFocusReason)
    before = three.document.project
    for _ in range(3):
        QTest.keyClick(value, Key.Key_Up)
    assert three.document.project.study.canopy.height_m == pytest.approx(2.3)
    QTest.keyClick(value, Key.Key_Escape)
    assert three.document.project == before
    counted(three)


def test_a_foot_above_the_top_is_refused_at_the_value(three):
    value = three.compare_stage.paragraph.fields["canopy.foot_m"]
    value.setFocus(Qt.FocusReason.TabFocusReason)
    before = three.document.project
    QTest.keyClicks(value, "3")
    QTest.keyClick(value, Key.Key_Return)
    assert three.document.project is before
    assert "below its height" in three.compare_stage.paragraph.reason("canopy.foot_m")
    QTest.keyClick(value, Key.Key_Escape)


# being true


def test_figures_of_earlier_rules_look_so_until_the_new_ones_are_there(three):
    table = three.compare_stage.table
    assert not table.stale
    assert three.compare_stage.state.text() == ""
    block = three.document.project.blocks[0]
    wider = replace(block, rules=replace(block.rules, vine_spacing_m=3.0))
    was = figures(three, "vines")
    three.document.edit("vine spacing", lambda p: p.with_block(wider))
    assert table.stale
    assert three.compare_stage.state.text().startswith("Counting…")
    counted(three)
    assert not table.stale
    assert figures(three, "vines")[0] == str(three.answer.tally.vines) != was[0]


def test_an_answer_that_was_overtaken_is_dropped(three):
    counting = three.comparing.counting
    shown = counting.newest
    counting._take(counting.wanted(), replace(shown), None)
    assert counting.newest is shown


def test_nothing_is_counted_before_the_stage_is_looked_at(desk):
    import threading

    names = [t.name for t in threading.enumerate()]
    assert "layoutdesk compare" not in names
    assert desk.comparing.counting.newest is None


def test_heights_that_are_gone_are_said_and_all_else_is_counted(three, tmp_path):
    gone = Terrain(str(tmp_path / "heights.tif"))
    three.document.edit("heights", lambda p: replace(p, terrain=gone))
    counted(three)
    assert "heights.tif" in three.compare_stage.state.text()
    assert figures(three, "vines")[0] == str(three.answer.tally.vines)
    assert line_of(three, "grade_along_max_pct") is None


def test_heights_bring_grades_into_the_table_and_the_curves(compare, tmp_path):
    heights = tmp_path / "heights.tif"
    slope_raster(heights, compare.document.project)
    compare.document.edit("heights", lambda p: replace(p, terrain=Terrain(str(heights))))
    add(compare, "90")
    counted(compare)
    # the ground rises by 10 % to the east
    assert figures(compare, "grade_along_max_pct") == ["1.7", "10.0"]
    assert figures(compare, "grade_across_max_pct") == ["9.8", "0.0"]
    curves = compare.comparing.counting.swept_answer.curves
    bearings = compare.comparing.counting.swept_answer.sweep.bearings_deg
    steepest = 10 * np.abs(np.sin(np.radians(bearings)))
    np.testing.assert_allclose(curves["grade_along_max_pct"], steepest, atol=0.05)


def slope_raster(path, project) -> None:
    """Heights on the project's own grid that rise by 1 m in 10 m to the east."""
    import rasterio
    from rasterio.transform import from_origin

    columns = np.arange(200)
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        width=200,
        height=200,
        count=1,
        dtype="float64",
        crs=project.site.source_crs,
        transform=from_origin(499_900, 6_100_300, 2, 2),
    ) as raster:
        raster.write(np.tile(0.2 * columns, (200, 1)), 1)


def test_another_project_shows_none_of_the_last_ones_candidates(three, two_block_project):
    three.show_project(two_block_project)
    rest(three)
    three.actions_by_id["stage-compare"].trigger()
    counted(three)
    assert titles(three) == ["010.0°"]
    assert "blocks" in three.compare_stage.paragraph.fields


def test_tab_goes_from_the_field_by_paragraph_and_plans_to_table_and_curves(three):
    stage = three.compare_stage
    stage.field.setFocus()
    seen = []
    for _ in range(60):
        QTest.keyClick(QApplication.focusWidget(), Key.Key_Tab)
        seen.append(QApplication.focusWidget())
        if seen[-1] is stage.curves:
            break
    assert all(stage.isAncestorOf(w) for w in seen)
    stations = [
        stage.export,
        stage.paragraph.fields["canopy.height_m"],
        stage.plans.cards[0].picture,
        stage.plans.cards[2].adopt,
        stage.table.view,
        stage.curves,
    ]
    assert [seen.index(w) for w in stations] == sorted(seen.index(w) for w in stations)


# handing out


def test_the_comparison_is_written_to_a_file_with_the_figures_on_show(three, asked, tmp_path):
    import csv

    asked.path = str(tmp_path / "compared.csv")
    three.actions_by_id["compare-csv"].trigger()
    filed(three)
    assert notices(three) == []
    with (tmp_path / "compared.csv").open(encoding="utf-8", newline="") as f:
        rows = list(csv.DictReader(r for r in f if not r.startswith("#")))
    assert [r["vines"] for r in rows] == figures(three, "vines")


# sizes


@pytest.mark.parametrize("size", [(1280, 800), (1920, 1080), (960, 600)])
def test_four_candidates_have_room_and_no_word_is_cut(three, qtbot, size):
    add(three, "140")
    three.resize(*size)
    counted(three)
    qtbot.waitUntil(lambda: three.width() == size[0])
    rest(three)
    stage = three.compare_stage
    assert stage.geometry() == three.canvas.rect()
    cards = stage.plans.cards
    assert [c.isVisible() for c in cards] == [True] * 4
    for card in cards:
        for label in (card.title, card.about):
            assert label.isHidden() or label.shown_text() == label.text()
        for button in (card.base, card.adopt, card.write, card.remove):
            assert card.rect().contains(button.geometry())
            assert button.width() >= button.minimumSizeHint().width()
    for button in (stage.add, stage.ways, stage.export):
        assert button.width() >= button.sizeHint().width()
    assert not stage.head.geometry().intersects(three.stage_bar.geometry())
    assert stage.table.view.viewport().height() % LINE_PX == 0, "the last line is whole"


def test_more_candidates_than_have_room_are_reached_sideways(three):
    for text in ("20", "30", "40", "60", "70", "80", "110"):
        add(three, text)
    counted(three)
    stage = three.compare_stage
    seen = [c.isVisible() for c in stage.plans.cards]
    assert seen[-1], "the newest is in sight"
    assert not seen[0]
    stage._sideways.setValue(0)
    seen = [c.isVisible() for c in stage.plans.cards]
    assert seen[0]
    assert not seen[-1]
    hidden = [stage.table.view.isColumnHidden(i + 1) for i in range(len(seen))]
    assert hidden == [not s for s in seen]
