"""The compare stage says nothing that could mislead: whom a mark means, what adopting does, what is unknown."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from layoutdesk.core.model import Alley, Terrain
from tests.desk.compare_hands import (
    add,
    candidates,
    counted,
    figures,
    press,
    titles,
)

Key = Qt.Key


def note_card(window, index: int):
    press(window, index, "write")
    return window.site.card


def test_a_candidate_is_named_beside_its_note_and_keeps_saying_how_it_runs(three):
    card = note_card(three, 1)
    QTest.keyClicks(card.fields["name"].line, "Along  the road")
    QTest.keyClick(card.fields["name"].line, Key.Key_Return)
    assert candidates(three)[1].name == "Along the road"
    assert titles(three)[1] == "Along the road"
    assert "052.0°" in three.compare_stage.plans.cards[1].about.text()
    assert note_card(three, 1).fields["name"].line.text() == "Along the road"
    three.site.leave()
    three.actions_by_id["undo"].trigger()
    assert titles(three)[1] == "052.0°"


def test_words_go_to_the_candidate_they_were_written_for(three):
    card = note_card(three, 1)
    QTest.keyClicks(card.fields["note"].line, "Steep.")
    three.comparing.edits.remove(0)
    QTest.keyClick(card.fields["note"].line, Key.Key_Return)
    assert [(c.bearing_deg, c.note) for c in candidates(three)] == [(52.0, "Steep."), (96.0, "")]
    counted(three)


def test_words_for_a_candidate_that_is_gone_are_given_to_no_other(three):
    card = note_card(three, 1)
    QTest.keyClicks(card.fields["note"].line, "Steep.")
    three.comparing.edits.remove(1)
    QTest.keyClick(card.fields["note"].line, Key.Key_Return)
    assert [c.note for c in candidates(three)] == ["", ""]
    three.site.leave()
    counted(three)


def test_two_at_one_bearing_are_told_apart_wherever_one_is_named(three):
    add(three, "96, 2.2 x 1.2")
    counted(three)
    called = [c.column.called for c in three.compare_stage.plans.cards]
    assert called[2] != called[3]
    assert "2.20 × 1.20 m" in called[3]
    press(three, 3, "base")
    assert f"from {called[3]}" in three.compare_stage.told.text()
    counted(three)


def test_adopting_leaves_every_figure_where_it_was(three):
    add(three, "140, 2.2 x 1.2")
    counted(three)
    before = [figures(three, n) for n in ("vines", "row_length_m", "short_rows")]
    press(three, 3, "adopt")
    counted(three)
    assert three.document.project.blocks[0].rules.row_spacing_m == 2.2
    assert [figures(three, n) for n in ("vines", "row_length_m", "short_rows")] == before
    assert titles(three) == ["010.0°", "052.0°", "096.0°", "140.0°"]
    in_use = [c.column.in_use for c in three.compare_stage.plans.cards]
    assert in_use == [False, False, False, True]


def test_what_was_said_of_an_adoption_goes_with_it(three):
    press(three, 2, "adopt")
    assert "as in 096.0°" in three.work.text()
    three.actions_by_id["undo"].trigger()
    assert three.work.text() == ""
    counted(three)


def test_beaten_only_by_what_is_ticked_is_said_so(three):
    cards = three.compare_stage.plans.cards
    beaten = [c for c in cards if c.column.beaten_by]
    assert beaten, "one of the three is beaten by the usual ticks"
    for card in beaten:
        assert card.column.better_in, "and is better in something else, such as the sun"
        assert card.picture.said_mark().endswith("where ticked")
        assert card.column.better_in[0] in card.picture.mark.toolTip()


def test_no_curve_is_drawn_over_bearings_at_which_no_rows_can_be_laid(three):
    block = three.document.project.blocks[0]
    x, y = block.outline.centroid.coords[0]
    rules = replace(block.rules, alleys=(Alley(x, y, 6.0, 100.0),))
    three.document.edit("alley", lambda p: p.with_block(replace(block, rules=rules)))
    counted(three)
    curves = three.compare_stage.curves
    gap = np.isnan(curves._curves[0].share)
    assert gap[100]
    image = curves.grab().toImage()
    band = curves._band()
    empty = int(curves.x_of(104.0))  # within the gap, clear of the marks of candidates
    assert gap[104]
    rows = range(int(band.top()) + 3, int(band.bottom()) - 3)
    assert {image.pixelColor(empty, y).rgb() for y in rows} == {three.theme["panel"].rgb()}


def test_heights_that_cannot_be_read_are_named_in_the_table_and_stand_out(three, tmp_path):
    gone = Terrain(str(tmp_path / "gone.tif"), "m", "a bench mark")
    three.document.edit("heights", lambda p: replace(p, terrain=gone))
    counted(three)
    stage = three.compare_stage
    (slope,) = [r for r in stage.table.model.rows if getattr(r, "title", "") == "On the slope"]
    assert "gone.tif" in slope.missing
    assert "gone.tif" in stage.state.text()
    assert stage.state.objectName() == "notice"
    three.actions_by_id["undo"].trigger()
    counted(three)
    assert stage.state.objectName() == "soft"
