"""What came back from the field: read, told, found on the plan, accepted, adopted and reported."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from layoutdesk.session.hand_off_drawing import Arrows, in_view

from .handoff_hands import (
    field_file,
    hand_off,
    lines,
    press,
    to_handoff,
    told,
    turn_to,
    worked_out,
)
from .hands import LEFT, filed, notices, pixel_of, rest
from .planting_hands import fill_in

Key = Qt.Key


def turned(deg: float):
    """Turns points about their middle, clockwise."""
    a = np.radians(deg)
    turn = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
    return lambda en: (en - en.mean(axis=0)) @ turn + en.mean(axis=0)


def one_off(en):
    """The third point half a metre east of its place."""
    moved = en.copy()
    moved[2, 0] += 0.5
    return moved


def read(window, path) -> None:
    window.handing_off.staked.read_file(path)
    worked_out(window)


@pytest.fixture
def staked(desk):
    to_handoff(desk, "staked")
    return desk


@pytest.fixture
def measured(staked, tmp_path):
    """Every end post within its tolerance, but for one that is half a metre off."""
    read(staked, field_file(staked, tmp_path / "field.csv", one_off))
    return staked


def test_without_a_file_the_page_says_what_to_do_and_bars_the_rest(staked):
    assert "Read the file that a crew brought back" in told(staked, "staked")
    card, side = staked.handoff_card, staked.handing_off.side
    for name in ("staked-how", "staked-accept", "staked-adopt", "staked-back"):
        assert not card.buttons[f"handoff-{name}"][0].isEnabled(), name
    assert card.buttons["handoff-staked-read"][0].isEnabled()
    assert not side.sheet.isEnabled()
    assert not side.bars.isVisible()


def test_a_good_file_is_told_counted_and_drawn_on_its_page_alone(staked, tmp_path):
    read(staked, field_file(staked, tmp_path / "field.csv"))
    (plan,) = staked.answer.plans
    side = staked.handing_off.side
    assert "stand within tolerance" in told(staked, "staked")
    assert "field.csv: " in staked.handoff_card.notes["staked"].text()
    assert lines(staked, "worst") == ()
    assert sum(bar.count for bar in side.bars.bars) == len(plan.end_posts)
    assert len(staked.canvas.overlay.arrows.at_m) == len(plan.end_posts)
    turn_to(staked, "grid")
    assert staked.canvas.overlay is None
    turn_to(staked, "staked")
    assert staked.canvas.overlay is not None


def test_a_mistake_with_a_name_is_told_in_full_before_all_else(staked, tmp_path):
    read(staked, field_file(staked, tmp_path / "field.csv", turned(0.5)))
    first = staked.handing_off.side.firsts["staked"]
    assert first.isVisible()
    assert first.text().startswith("Do not plant from these points yet")
    (explanation,) = lines(staked, "explanations")
    assert explanation.words in first.text()
    assert explanation.words not in staked.handing_off.side.sentences["staked"].text()
    assert first.height() >= first.heightForWidth(first.width())


def test_the_farthest_point_is_found_from_the_list_and_from_the_plan(measured):
    (line,) = lines(measured, "worst")
    table = measured.handing_off.side.tables["worst"]
    measured.canvas.go_to(400.0, 400.0)
    table.setFocus()
    table.hold(0)
    (place,) = measured.handing_off.tool.places
    assert measured.canvas.free_room().contains(pixel_of(measured, *place))
    QTest.keyClick(measured.canvas, Key.Key_Escape)
    assert table.held is None
    QTest.mouseClick(measured.canvas, LEFT, pos=pixel_of(measured, *place))
    assert table.held_line.code == line.code
    measured.canvas.fit()
    scale = measured.canvas.view.scale
    QTest.keyClick(table, Key.Key_Return)
    assert measured.canvas.view.scale > scale


def test_a_file_that_cannot_be_read_is_told_and_can_be_read_in_another_way(staked, tmp_path):
    good = field_file(staked, tmp_path / "field.csv").read_text(encoding="utf-8").splitlines()[1:]
    path = tmp_path / "bare.csv"
    path.write_text("\n".join(good), encoding="utf-8")
    read(staked, path)
    work = staked.handing_off.staked
    work.ask_how()
    card = fill_in(staked, columns="point, easting, northing, elevation, description", way="place")
    assert not card.isVisible()
    worked_out(staked)
    assert "matches nothing of the plan" in told(staked, "staked")
    assert not staked.handoff_card.buttons["handoff-staked-accept"][0].isEnabled()
    press(staked, "How it is read…")
    fill_in(staked, columns="point, northing, easting, elevation, description", way="code")
    worked_out(staked)
    assert "matched with the plan by code" in told(staked, "staked")


def test_a_way_of_matching_there_is_none_of_is_said_at_its_field(measured):
    press(measured, "How it is read…")
    card = fill_in(measured, way="by guess")
    assert card.isVisible()
    assert "is none of code, number, place" in card.fields["way"].problem.text()
    measured.site.leave()


def test_another_file_puts_down_what_was_told_of_the_one_before(measured, tmp_path):
    read(measured, field_file(measured, tmp_path / "again.csv"))
    assert lines(measured, "worst") == ()
    assert "again.csv" in measured.handoff_card.notes["staked"].text()


def test_accepting_goes_on_record_and_can_be_undone(measured):
    before = measured.document.project
    press(measured, "Accept them…")
    card = fill_in(measured, by="Ilka", day="some day")
    assert card.isVisible()
    assert "year-month-day" in card.fields["day"].problem.text()
    fill_in(measured, by="Ilka", day="2026-05-02")
    worked_out(measured)
    (check,) = hand_off(measured).checks
    assert (check.verdict, check.by, check.file) == ("accepted", "Ilka", "field.csv")
    (line,) = lines(measured, "decided")
    assert (line.verdict, line.by) == ("accepted", "Ilka")
    measured.undo()
    assert measured.document.project is before


def test_adopting_says_what_changes_asks_once_and_rows_run_between_the_ends(measured, tmp_path):
    before, ends = measured.document.project, measured.answer.plans[0].segment_ends_m.copy()
    press(measured, "Adopt the ends…")
    filed(measured)
    card = measured.site.card
    assert card.isVisible()
    assert "row ends stand where they were measured then" in card.sentence.text()
    assert "vines" in card.sentence.text()
    assert measured.document.project is before  # nothing is done before it is said so
    fill_in(measured, by="Ilka", day="2026-05-02")
    assert not card.isVisible(), card.problem_text()
    worked_out(measured)
    away = np.hypot(*(measured.answer.plans[0].segment_ends_m - ends).reshape(-1, 2).T)
    assert 0.45 < away.max() < 0.55
    assert 0 < np.median(away) < 0.03
    assert hand_off(measured).checks[-1].verdict == "adopted"
    assert lines(measured, "worst") == ()  # the plan is where the points are now
    press(measured, "Lay by the rules again")
    worked_out(measured)
    assert np.abs(measured.answer.plans[0].segment_ends_m - ends).max() < 1e-9
    measured.undo()
    measured.undo()
    assert measured.document.project is before


def test_points_that_look_like_a_mistake_are_adopted_only_with_a_reason(staked, tmp_path):
    read(staked, field_file(staked, tmp_path / "field.csv", turned(0.4)))
    before = staked.document.project
    press(staked, "Adopt the ends…")
    filed(staked)
    card = staked.site.card
    assert card.sentence.text().startswith("The points look like a mistake")
    fill_in(staked, by="Ilka")
    assert card.isVisible()
    assert "say why" in card.fields["although"].problem.text()
    assert staked.document.project is before
    fill_in(staked, although="the grower wants it so")
    assert not card.isVisible(), card.problem_text()
    assert "the grower wants it so" in hand_off(staked).checks[-1].note


def test_the_report_is_written_whole(measured, tmp_path):
    measured.handing_off.staked.write_report_to(tmp_path / "report")
    filed(measured)
    assert notices(measured) == []
    assert {p.name for p in (tmp_path / "report").iterdir()} == {
        *("as-staked.csv", "as-staked.geojson", "as-staked.json", "as-staked.pdf")
    }


def test_bars_are_walked_by_keys_and_told(measured):
    bars = measured.handing_off.side.bars
    bars.setFocus()
    QTest.keyClick(bars, Key.Key_End)
    assert bars.told.endswith("1 point, beyond tolerance")
    QTest.keyClick(bars, Key.Key_Escape)
    assert "hatched: beyond tolerance" in bars.told


def test_the_file_of_another_site_is_put_down(measured, two_block_project):
    measured.show_project(two_block_project)
    rest(measured)
    to_handoff(measured, "staked")
    assert "Read the file that a crew brought back" in told(measured, "staked")
    assert measured.canvas.overlay is None


def test_arrows_too_short_to_see_stand_for_those_beside_them_and_it_is_said(measured):
    canvas, legend = measured.canvas, measured.handing_off.legend
    canvas.fit()
    rest(measured)
    far = canvas.overlay.arrows_in(canvas.view)
    assert f"drawn {far.times:g} times as long" in legend.said
    canvas.zoom(12.0)
    rest(measured)
    near = canvas.overlay.arrows_in(canvas.view)
    assert near.times < far.times
    assert f"drawn {near.times:g} times as long" in legend.said


def test_of_arrows_that_lie_on_one_another_those_beyond_tolerance_are_kept():
    rng = np.random.default_rng(1)
    at = rng.uniform(0, 1000, (20_000, 2))
    step = rng.normal(0, 0.01, (20_000, 2))
    amiss = np.zeros(20_000, bool)
    amiss[[5, 77]] = True
    arrows = Arrows(at, step, 10.0, amiss, ("",) * 20_000, "Arrows, drawn 10 times as long")
    seen = in_view(arrows, 0.5)
    assert seen.amiss.sum() == 2
    assert len(seen.at_m) < 2000
    assert seen.times > 10.0
