"""The water stage by mouse and keyboard: words, vines on the plan, sets, run times, files."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QColor
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLabel

from layoutdesk.core.model import Water
from layoutdesk.core.model.water import Drip
from layoutdesk.desk.look import THEMES, contrast
from layoutdesk.desk.water_painting import ramp_colours
from layoutdesk.session.vine_places import index_of, place_of_vine
from layoutdesk.session.water_drawing import water_drawing
from layoutdesk.session.water_places import (
    rows_of_set,
    set_of_vine,
)
from tests.desk.hands import CTRL, LEFT, PLAIN, SHIFT, filed, notices, pixel_of, rest
from tests.desk.water_hands import (
    field,
    point_at_vine,
    to_water,
    type_water,
    vine_pixel,
    water_of,
    worked_out,
)

Key = Qt.Key
UNEVEN = Drip(exponent=0.5, tube_mm=8.0, head_m=14.0, sets=2)
"""Turbulent emitters on thin tube: the tails of rows get markedly less."""


@pytest.fixture
def water(desk):
    """The stage with the block of 2 ha and the usual drip system."""
    to_water(desk)
    return desk


@pytest.fixture
def uneven(window, small_project):
    """The stage with vines that get too little."""
    name = small_project.blocks[0].name
    window.show_project(replace(small_project, water=Water().with_drip(name, UNEVEN)))
    window.ask_settled()
    rest(window)
    to_water(window)
    return window


def colour_at(window, at: QPoint) -> QColor:
    return window.canvas.grab().toImage().pixelColor(at)


# looking


def test_a_first_look_costs_nothing_and_changes_nothing(water):
    work = water.watering
    assert water.document.project.water is None
    assert water.document.undo_label is None
    assert work.card.isVisible()
    assert work.side.isVisible()
    assert work.legend.isVisible()
    answer = work.answer
    assert len(answer.design.vine_flow_l_h) == water.answer.tally.vines
    said = [line.label.text() for line in work.side.sentences.lines if line.isVisible()]
    assert said == list(answer.judgement.sentences)
    assert work.side.sets.model().rowCount() == len(answer.design.sets) > 0


def test_every_vine_has_the_colour_of_its_share(uneven):
    work = uneven.watering
    drawing = water_drawing(work.answer)
    assert len(set(drawing.vine_class.tolist())) > 2, "else nothing is told apart"
    colours = ramp_colours(uneven.theme, drawing.ramp)
    index = uneven.answer.plans[0].vines.index
    inner = np.flatnonzero((index > 8) & (index < 80))  # clear of posts, pipes and valves
    steps = drawing.vine_class[inner]
    for vine in (int(inner[np.argmin(steps)]), int(inner[np.argmax(steps)])):
        uneven.canvas.go_to(*drawing.vine_xy_m[vine].tolist())
        rest(uneven)
        at = pixel_of(uneven, *drawing.vine_xy_m[vine].tolist())
        wanted = colours[drawing.vine_class[vine]]
        near = [
            colour_at(uneven, at + QPoint(dx, dy))
            for dx in range(-6, 7, 1)
            for dy in range(-6, 7, 1)
        ]
        assert wanted.rgb() in {c.rgb() for c in near}


def test_leaving_the_stage_takes_the_colours_and_cards_away_and_coming_back_brings_them(water):
    layer = water.canvas.water
    assert layer is not None
    QTest.keyClick(water, Key.Key_2, CTRL)
    assert water.canvas.water is None
    assert not water.watering.card.isVisible()
    assert not water.watering.legend.isVisible()
    to_water(water)
    assert water.canvas.water is layer, "nothing was worked out anew"


def test_rows_changed_elsewhere_are_watered_as_they_are_now(water):
    QTest.keyClick(water, Key.Key_2, CTRL)
    water.rules.type("row_spacing_m", "3.1")
    rest(water)
    to_water(water)
    design = water.watering.answer.design
    assert len(design.vine_flow_l_h) == water.answer.tally.vines
    assert len(water.canvas.water.xy_m) == water.answer.tally.vines


def test_findings_of_water_are_listed_while_the_stage_is_on_show(water):
    told = [line.words for line in water.findings.lines]
    mine = [f.message for f in water.watering.findings]
    assert mine
    assert any(m[:30] in t for m in mine for t in told)
    QTest.keyClick(water, Key.Key_2, CTRL)
    left = [line.words for line in water.findings.lines]
    assert not any(m[:30] in t for m in mine for t in left)


def test_without_vines_it_is_said_what_to_do(desk):
    desk.rules.type("min_row_m", "900")
    rest(desk)
    assert desk.answer.tally.vines == 0
    to_water(desk)
    side = desk.watering.side
    assert side.empty.isVisible()
    assert "stage Rows" in side.empty.text()
    assert not side.sheet.isEnabled()
    assert desk.canvas.water is None


# words


def test_a_typed_tube_is_an_edit_that_undo_takes_back(water):
    before = water.document.project
    eu = water.watering.answer.judgement.eu_pct
    type_water(water, "tube_mm", "9 mm")
    assert water_of(water).drip_of("B1").tube_mm == 9.0
    worked_out(water)
    assert water.watering.answer.judgement.eu_pct < eu
    assert "width of the drip line" in water.document.undo_label
    water.actions_by_id["undo"].trigger()
    assert water.document.project is before
    worked_out(water)
    assert water.watering.answer.judgement.eu_pct == pytest.approx(eu, abs=1e-9)


def test_what_cannot_be_is_said_at_the_value_and_changes_nothing(water):
    before = water.document.project
    type_water(water, "tube_mm", "900 mm")
    paragraph = water.watering.card.paragraphs["drip"]
    assert paragraph.reason("tube_mm").endswith(".")
    assert water.document.project is before


def test_steps_in_a_row_are_one_edit_and_escape_puts_them_back(water):
    before = water.document.project
    value = field(water, "head_m")
    for _ in range(3):
        QTest.keyClick(value, Key.Key_Up)
    assert water_of(water).drip_of("B1").head_m > Drip().head_m
    QTest.keyClick(value, Key.Key_Escape)
    assert water.document.project == before
    assert water.document.undo_label is None
    for _ in range(3):
        QTest.keyClick(value, Key.Key_Up)
    QTest.keyClick(value, Key.Key_Tab)
    water.actions_by_id["undo"].trigger()
    assert water.document.project is before


def test_words_are_of_the_block_that_is_chosen(two_blocks):
    to_water(two_blocks)
    choice = two_blocks.watering.card.scope.choice
    choice.setCurrentIndex(2)
    choice.activated.emit(2)
    type_water(two_blocks, "tube_mm", "20 mm")
    water = water_of(two_blocks)
    assert water.drip_of("B2").tube_mm == 20.0
    assert water.drip_of("B1") == Drip()


# vines and sets


def test_pointing_at_a_vine_tells_what_it_gets(uneven):
    work = uneven.watering
    vine = (0, 40)
    uneven.canvas.go_to(*place_of_vine(uneven.answer.plans, vine))
    rest(uneven)
    point_at_vine(uneven, vine)
    assert work.tool.vine == vine
    flow = work.answer.design.vine_flow_l_h[index_of(uneven.answer.plans, vine)]
    assert f"{flow:.1f}" in work.tool.said() or f"{flow:.2f}" in work.tool.said()
    assert work.tool.said() == uneven.canvas.accessibleDescription()


def test_vines_can_be_walked_by_keyboard_and_enter_takes_the_set(uneven):
    work, canvas = uneven.watering, uneven.canvas
    canvas.setFocus()
    QTest.keyClick(canvas, Key.Key_Right, SHIFT)
    assert work.tool.vine == (0, 0)
    QTest.keyClick(canvas, Key.Key_Right, SHIFT)
    assert work.tool.vine == (0, 1)
    QTest.keyClick(canvas, Key.Key_Up, SHIFT)
    plan = uneven.answer.plans[0]
    assert plan.vines.segment[work.tool.vine[1]] == 1
    QTest.keyClick(canvas, Key.Key_Return)
    assert work.held == set_of_vine(work.answer, work.tool.vine)
    QTest.keyClick(canvas, Key.Key_Escape)
    assert work.tool.vine is None
    assert work.held is None


def test_a_set_in_hand_lights_up_its_rows_and_stands_in_the_calendar(uneven):
    work = uneven.watering
    sets = work.side.sets
    assert len(work.answer.design.sets) >= 2
    sets.setFocus(Qt.FocusReason.TabFocusReason)
    assert work.held == 0
    QTest.keyClick(sets, Key.Key_Down)
    assert work.held == 1
    rings = shapely.polygons(list(work.rings_of_held()))
    mine = {s for _, s in rows_of_set(work.answer, 1)}
    for segment, row in enumerate(uneven.answer.plans[0].shapes):
        assert bool(shapely.contains(rings, row).any()) == (segment in mine)
    assert work.side.chosen_set == 1
    assert f"Set {work.answer.design.sets[1].number}" in work.side.set_told.text()
    view = uneven.canvas.view
    QTest.keyClick(sets, Key.Key_Return)
    assert uneven.canvas.view != view
    QTest.keyClick(sets, Key.Key_Escape)
    assert work.held is None
    assert work.rings_of_held() == ()
    assert work.side.chosen_set is None


def test_a_click_on_a_vine_takes_its_set(uneven):
    work = uneven.watering
    vine = (0, uneven.answer.plans[0].n_vines - 1)
    uneven.canvas.go_to(*place_of_vine(uneven.answer.plans, vine))
    rest(uneven)
    at = vine_pixel(uneven, vine)
    QTest.mouseClick(uneven.canvas, LEFT, PLAIN, at)
    assert work.held == set_of_vine(work.answer, vine)


def test_a_sentence_about_vines_leads_to_them(uneven):
    work = uneven.watering
    stretch = work.answer.judgement.worst[0]
    line = next(n for n in work.side.sentences.lines if n.sign.text())
    QTest.mouseClick(line, LEFT, PLAIN, QPoint(30, 8))
    x, y = uneven.canvas.view.to_pixels(np.array(stretch.place)).tolist()
    left, top, right, bottom = uneven.canvas.margins
    assert left < x < uneven.canvas.width() - right
    assert top < y < uneven.canvas.height() - bottom
    assert work.tool.vine is not None, "and the vine there is told of"
    assert work.tool.said()


def test_the_sets_are_copied_as_a_table(uneven):
    sets = uneven.watering.side.sets
    sets.setFocus(Qt.FocusReason.TabFocusReason)
    QTest.keyClick(sets, Key.Key_C, CTRL)
    lines = QApplication.clipboard().text().splitlines()
    assert len(lines) == 1 + len(uneven.watering.answer.design.sets)
    assert len({line.count("\t") for line in lines}) == 1


# run times


def test_run_times_are_read_week_by_week(water):
    side, times = water.watering.side, water.watering.answer.run_times
    calendar = side.calendar
    calendar.setFocus()
    QTest.keyClick(calendar, Key.Key_Home)
    first = times.weeks[0].astype("datetime64[D]").item()
    assert f"Week of {first.day} " in side.week_told.text()
    QTest.keyClick(calendar, Key.Key_Right)
    second = times.weeks[1].astype("datetime64[D]").item()
    assert f"Week of {second.day} " in side.week_told.text()
    side.year.setCurrentIndex(1)
    side.year.activated.emit(1)
    QTest.keyClick(calendar, Key.Key_Home)
    day = times.weeks[times.year == 2][0].astype("datetime64[D]").item()
    assert f"Week of {day.day} " in side.week_told.text()
    assert str(day.year) in side.week_told.text()


def test_how_run_times_follow_opens_on_demand(water):
    side = water.watering.side
    assert not side.statement.isVisible()
    QTest.mouseClick(side.fold, LEFT)
    assert side.statement.isVisible()
    assert side.statement.text() == water.watering.answer.run_times.statement


# places


def test_the_source_is_placed_by_a_click(water):
    water.actions_by_id["water-source"].trigger()
    x, y = water.document.project.blocks[0].outline.centroid.coords[0]
    at = pixel_of(water, x, y)
    QTest.mouseClick(water.canvas, LEFT, PLAIN, at)
    assert water.canvas.tool is None
    placed = water_of(water).source.place_m
    assert np.hypot(placed[0] - x, placed[1] - y) < 5
    worked_out(water)
    assert water.watering.answer.design.source_xy_m == pytest.approx(placed)
    assert water.document.undo_label == "place of the source"


def test_a_submain_is_drawn_across_the_rows(water):
    water.actions_by_id["water-submain"].trigger()
    x0, y0, x1, y1 = water.document.project.blocks[0].outline.bounds
    middle = (y0 + y1) / 2
    for x in (x0 + 2, x1 - 2):
        QTest.mouseClick(water.canvas, LEFT, PLAIN, pixel_of(water, x, middle))
    QTest.keyClick(water.canvas, Key.Key_Return)
    drip = water_of(water).drip_of("B1")
    assert drip.fed == "line"
    assert len(drip.line_m) == 2
    worked_out(water)
    inlets = water.watering.answer.design.lines.inlet_xy_m
    assert np.median(np.abs(inlets[:, 1] - middle)) < 3


def test_a_submain_runs_along_the_edge_that_is_clicked(water):
    water.actions_by_id["water-edge"].trigger()
    outline = water.document.project.blocks[0].outline
    (x0, y0), (x1, y1) = outline.exterior.coords[:2]
    QTest.mouseClick(water.canvas, LEFT, PLAIN, pixel_of(water, (x0 + x1) / 2, (y0 + y1) / 2))
    drip = water_of(water).drip_of("B1")
    assert drip.fed == "line"
    assert water.canvas.tool is None
    assert np.allclose(sorted(drip.line_m), sorted([(x0, y0), (x1, y1)]), atol=1e-6)


def test_far_from_any_edge_it_is_said_and_the_hand_stays(water):
    before = water.document.project
    water.actions_by_id["water-edge"].trigger()
    x, y = before.blocks[0].outline.centroid.coords[0]
    QTest.mouseClick(water.canvas, LEFT, PLAIN, pixel_of(water, x, y))
    assert "no edge" in water.sketch_bar.refusal.text()
    assert water.document.project is before
    QTest.keyClick(water.canvas, Key.Key_Escape)
    assert water.canvas.tool is None


def test_an_edge_in_hand_is_taken_without_asking(desk):
    desk.step_edge(1)
    ends = desk.edges.view.ends_m
    desk.actions_by_id["water-edge"].trigger()
    assert desk.stage == "water"
    drip = water_of(desk).drip_of("B1")
    assert np.allclose(sorted(drip.line_m), sorted(ends), atol=1e-6)


# files


def test_a_climate_is_read_from_a_file(water, asked, tmp_path):
    rows = "\n".join(f"{m},{2 + 0.4 * min(m, 12 - m):.1f},{40 - 2 * m}" for m in range(1, 13))
    path = tmp_path / "station.csv"
    path.write_text(f"month,et0_mm_day,rain_mm\n{rows}\n", encoding="utf-8")
    asked.path = str(path)
    assert water.watering.answer.run_times.is_assumed
    water.actions_by_id["water-climate"].trigger()
    filed(water)
    worked_out(water)
    assert notices(water) == []
    assert len(water_of(water).climate.et0_mm_day) == 12
    assert not water.watering.answer.run_times.is_assumed
    assert water.document.undo_label == "climate"


def test_a_file_that_holds_no_climate_is_said_and_changes_nothing(water, asked, tmp_path):
    path = tmp_path / "poem.csv"
    path.write_text("roses,are\nred,blue\n", encoding="utf-8")
    asked.path, before = str(path), water.document.project
    water.actions_by_id["water-climate"].trigger()
    filed(water)
    assert len(notices(water)) == 1
    assert water.document.project is before


@pytest.mark.parametrize(
    ("kind", "begins"), [("pdf", b"%PDF"), ("csv", b"code"), ("inp", b"[TITLE]")]
)
def test_files_are_written_as_they_are_named(water, asked, tmp_path, kind, begins):
    asked.path = str(tmp_path / "shed")
    water.actions_by_id[f"water-{kind}"].trigger()
    filed(water)
    assert notices(water) == []
    written = (tmp_path / f"shed.{kind}").read_bytes()
    assert written.lstrip(b"\xef\xbb\xbf").startswith(begins)


def test_the_whole_set_goes_into_a_folder(water, asked, tmp_path):
    asked.path = str(tmp_path / "water")
    water.actions_by_id["water-set"].trigger()
    filed(water)
    assert notices(water) == []
    folder = tmp_path / "water"
    names = {p.name for p in folder.iterdir()}
    assert {"emitters.csv", "laterals.csv", "sets.csv", "network.inp", "irrigation.pdf"} <= names
    before = (folder / "sets.csv").read_bytes()
    type_water(water, "head_m", "2 bar")
    worked_out(water)
    water.actions_by_id["water-set"].trigger()
    filed(water)
    assert "sets.csv" in asked.questions[-1], "asked before what is there is replaced"
    assert (folder / "sets.csv").read_bytes() == before, "the answer was to go back"
    asked.answer = "replace"
    water.actions_by_id["water-set"].trigger()
    filed(water)
    assert (folder / "sets.csv").read_bytes() != before


# looks


@pytest.mark.parametrize("name", ["paper", "lamp"])
def test_too_little_and_too_much_stand_out_from_what_is_usual_without_hue(water, name):
    """Both ends part from the quiet middle by lightness, which colour-blind eyes see as others do."""
    theme = THEMES[name]
    ramp = water_drawing(water.watering.answer).ramp
    colours = ramp_colours(theme, ramp)
    quiet = colours[water.canvas.water.usual]
    assert contrast(colours[0], quiet) > 1.9
    assert contrast(colours[len(ramp) - 1], quiet) > 1.9
    assert contrast(colours[0], theme["block"]) > 3


def test_a_change_of_theme_and_unit_is_followed(water):
    water.actions_by_id["theme-lamp"].trigger()
    worked_out(water)
    assert water.watering.legend.theme is water.theme
    water.actions_by_id["unit-ft"].trigger()
    worked_out(water)
    shown = " ".join(label.text() for label in water.watering.side.findChildren(QLabel))
    assert "psi" in shown
    assert " bar" not in shown
    water.actions_by_id["theme-paper"].trigger()
