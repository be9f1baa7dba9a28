"""The materials stage by mouse and keyboard: the trellis in words and drawn, what it takes, own items."""

from __future__ import annotations

import csv
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QColor
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from layoutdesk.core.model import Trellis
from layoutdesk.session.selection import rows_named
from tests.desk.hands import CTRL, LEFT, PLAIN, filed, notices, open_sample_named, pump_until, rest

Key = Qt.Key


def counted(window) -> None:
    """Wait until the take-off is that of the document, with all parts."""
    pump_until(lambda: window.materials.counting.is_done, "the take-off is counted")
    rest(window)


@pytest.fixture
def stage(desk):
    """The stage with the block of 2 ha, counted."""
    QTest.keyClick(desk, Key.Key_4, CTRL)
    counted(desk)
    return desk


@pytest.fixture
def two(two_blocks):
    QTest.keyClick(two_blocks, Key.Key_4, CTRL)
    counted(two_blocks)
    return two_blocks


def line(window, item: str):
    """The listed line of an item, the first where it has several sizes; None where it has none."""
    lines = window.materials.side.table.lines
    return next((n for n in lines if n.product.item == item), None)


def figure(window, item: str) -> str:
    return line(window, item).amount.replace("\u202f", "")


def field(window, key: str):
    """A value of the trellis, with the keyboard on it."""
    value = window.materials.card.paragraph.fields[key]
    value.setFocus(Qt.FocusReason.TabFocusReason)
    pump_until(value.hasFocus, f"{key} has the keyboard", 5)
    return value


def type_into(window, key: str, text: str) -> None:
    value = field(window, key)
    QTest.keyClicks(value, text)
    QTest.keyClick(value, Key.Key_Return)


def trellis(window, block: str = "B1") -> Trellis:
    materials = window.document.project.materials
    return Trellis() if materials is None else materials.trellis_of(block)


def pick(window, item: str) -> None:
    """Walk the list to an item by the keyboard and press Enter."""
    table = window.materials.side.table
    table.setFocus()
    QTest.keyClick(table, Key.Key_Home)
    for _ in range(len(table.table.rows)):
        at = table.table.line(table.currentIndex().row())
        if at is not None and at.product.item == item:
            break
        QTest.keyClick(table, Key.Key_Down)
    else:
        raise AssertionError(f"the keyboard does not come to {item}")
    QTest.keyClick(table, Key.Key_Return)


def type_supply(window, name: str, text: str) -> None:
    editor = window.materials.side.editor
    editor.fields[name].setFocus()
    editor.fields[name].selectAll()
    QTest.keyClicks(editor.fields[name], text)
    QTest.keyClick(editor.fields[name], Key.Key_Return)


def listed_findings(window) -> str:
    return " ".join(n.words for n in window.findings.lines)


# being on show


def test_the_stage_counts_what_stands_in_the_rows_as_laid_and_changes_nothing(stage):
    plan = stage.answer.plans[0]
    assert stage.materials.card.isVisible()
    assert stage.materials.side.isVisible()
    assert figure(stage, "line_posts") == str(int(plan.line_posts.count.sum()))
    assert figure(stage, "end_posts") == str(2 * plan.n_segments)
    assert figure(stage, "training_stakes") == str(plan.n_vines)
    assert figure(stage, "anchors") == str(2 * plan.n_segments)
    assert stage.document.project.materials is None, "looking changes nothing"
    assert stage.document.undo_label is None
    QTest.keyClick(stage, Key.Key_2, CTRL)
    assert not stage.materials.card.isVisible()
    assert not stage.materials.side.isVisible()


def test_pipes_and_fittings_of_the_drip_system_come_behind_what_stands_in_the_rows(stage):
    assert line(stage, "pipe_m") is not None
    assert line(stage, "pipe_m").group == "Water"
    told = " ".join((stage.materials.side.totals.text(), stage.materials.side.rule.text()))
    assert "usual values" in told, "a drip system nobody asked for is said to be one"


def test_density_rule_and_lengths_are_told_below_the_list(stage):
    side = stage.materials.side
    if not side.rule.isVisible():
        QTest.mouseClick(side.fold, LEFT)
    told = f"{side.totals.text()} {side.rule.text()}"
    for words in (
        "theoretical density",
        "Counted by geometry",
        "plan length",
        "No price is known",
        "recoils",
    ):
        assert words in told
    assert side.rule.isVisible()
    QTest.mouseClick(side.fold, LEFT)
    assert not side.rule.isVisible()


def test_with_no_row_it_is_said_what_to_do(stage):
    def without_rows(project):
        block = project.blocks[0]
        return project.with_block(replace(block, rules=replace(block.rules, min_row_m=400.0)))

    stage.document.edit("short rows", without_rows)
    counted(stage)
    side = stage.materials.side
    assert side.empty.isVisible()
    assert "stage Rows" in side.empty.text()
    assert not side.orders.isEnabled()
    stage.undo()
    counted(stage)
    assert not side.empty.isVisible()
    assert side.orders.isEnabled()


def test_lengths_follow_the_unit_and_the_theme_is_worn_at_once(stage):
    metres = float(figure(stage, "wire").removesuffix(" m"))
    stage.actions_by_id["unit-ft"].trigger()
    feet = float(figure(stage, "wire").removesuffix(" ft"))
    assert feet == pytest.approx(metres / 0.3048, abs=3)
    assert stage.materials.card.paragraph.fields["stake_length_m"].text() == "5.906 ft"
    assert stage.materials.card.view.drawing.marks[0].text.endswith("ft")
    stage.actions_by_id["theme-lamp"].trigger()
    view = stage.materials.card.view
    colours = view.grab().toImage()
    ink = stage.theme["ink"]
    end = view.place(0.0, 1.0)
    assert QColor(colours.pixel(round(end.x()), round(end.y()))).lightness() == pytest.approx(
        ink.lightness(), abs=12
    )


# the trellis


def test_a_typed_length_changes_the_trellis_the_drawing_and_the_order(stage):
    type_into(stage, "end_post_length_m", "3.2")
    assert trellis(stage).end_post_length_m == 3.2
    (post,) = stage.materials.card.view.drawing.of("end post")
    assert post[1, 1] == pytest.approx(3.2 - 1.0)
    counted(stage)
    assert "3.2" in line(stage, "end_posts").label
    assert stage.document.undo_label == "Change length of end posts"
    stage.undo()
    assert stage.document.project.materials is None
    counted(stage)


def test_what_the_trellis_cannot_bear_is_said_at_the_value(stage):
    before = stage.document.project
    type_into(stage, "line_post_length_m", "1.5")
    paragraph = stage.materials.card.paragraph
    assert "highest wire" in paragraph.reason("line_post_length_m")
    assert stage.document.project is before
    QTest.keyClick(paragraph.fields["line_post_length_m"], Key.Key_Escape)
    assert paragraph.reason("line_post_length_m") == ""


def test_steps_in_a_row_are_one_edit_and_escape_takes_them_back(stage):
    value = field(stage, "foliage.0.height_m")
    for _ in range(3):
        QTest.keyClick(value, Key.Key_Up)
    assert trellis(stage).foliage_wires[0].height_m == pytest.approx(1.35)
    QTest.keyClick(value, Key.Key_Escape)
    assert trellis(stage) == Trellis()
    for _ in range(2):
        QTest.keyClick(value, Key.Key_Down)
    field(stage, "line_post_length_m")
    assert trellis(stage).foliage_wires[0].height_m == pytest.approx(1.1)
    stage.undo()
    assert trellis(stage) == Trellis()
    counted(stage)


def test_another_kind_of_end_is_drawn_and_ordered(stage):
    assert line(stage, "braces") is None
    value = field(stage, "ends")
    while trellis(stage).ends != "slanted brace":
        QTest.keyClick(value, Key.Key_Down)
    counted(stage)
    segments = stage.answer.plans[0].n_segments
    assert figure(stage, "braces") == figure(stage, "pads") == str(2 * segments)
    assert line(stage, "anchors") is None
    assert len(stage.materials.card.view.drawing.of("brace")) == 1


def test_a_height_in_the_drawing_leads_to_its_value(stage):
    view, card = stage.materials.card.view, stage.materials.card
    box, _, mark = next(m for m in view.labels() if m[2].key == "fruiting_wire_height_m")
    QTest.mouseClick(view, LEFT, PLAIN, box.center().toPoint())
    assert card.paragraph.fields[mark.key].hasFocus()
    boxes = [b for b, _, _ in view.labels()]
    assert all(a.bottom() <= b.top() + 1 for a, b in pairwise(boxes))
    assert boxes[-1].bottom() <= view.height()


def test_a_block_has_a_trellis_of_its_own_and_where_blocks_differ_it_is_said(two):
    card = two.materials.card
    assert card.scope.choice.isVisible()
    QTest.keyClick(card.scope.choice, Key.Key_End)
    pump_until(lambda: two.materials.names() == ("B2",), "block B2 is chosen", 5)
    type_into(two, "line_post_length_m", "2.7")
    assert trellis(two, "B1") == Trellis()
    assert trellis(two, "B2").line_post_length_m == 2.7
    assert two.document.undo_label == "Change length of line posts of B2"
    counted(two)
    sizes = [n.label for n in two.materials.side.table.lines if n.product.item == "line_posts"]
    assert len(sizes) == 2, "posts of two lengths are ordered apart"
    for _ in range(2):
        QTest.keyClick(card.scope.choice, Key.Key_Up)
    usual = Trellis().line_post_length_m
    assert card.paragraph.fields["line_post_length_m"].text() == f"{usual:.2f} m / 2.70 m"
    assert "B1" in card.caption.text(), "which block is drawn is said"
    assert two.block_choice.currentIndex() == 0, "rules are of the same blocks"


def test_mechanics_have_their_say_while_the_stage_is_on_show(stage):
    assert "of what breaks it" not in listed_findings(stage)
    type_into(stage, "fruiting_wire.tension_n", "5000")
    counted(stage)
    assert "of what breaks it" in listed_findings(stage)
    QTest.keyClick(stage, Key.Key_2, CTRL)
    assert "of what breaks it" not in listed_findings(stage)


# the take-off


def test_selected_rows_are_told_alone_with_a_way_back(stage):
    whole = figure(stage, "training_stakes")
    strip = stage.strip
    stage.selecting.take(rows_named(stage.answer.plans, "5-9"))
    side = stage.materials.side
    assert side.banner.isVisible()
    assert "5 rows" in side.of_what.text()
    plan = stage.answer.plans[0]
    mine = (plan.segments.number >= 5) & (plan.segments.number <= 9)
    assert figure(stage, "training_stakes") == str(int(plan.vines_of_segment[mine].sum()))
    assert figure(stage, "line_posts") == str(int(plan.line_posts.count[mine].sum()))
    assert line(stage, "training_stakes").ordered == ""
    assert side.totals.text().startswith("The whole site")
    QTest.mouseClick(side.whole, LEFT)
    assert not side.banner.isVisible()
    assert figure(stage, "training_stakes") == whole
    assert strip.selection == []


def test_a_bar_of_the_strip_selects_for_the_take_off_too(stage):
    bar = stage.strip
    bar.setFocus()
    QTest.keyClick(bar, Key.Key_Home)
    assert stage.materials.side.banner.isVisible()
    assert "selected rows take alone: 1 row" in stage.materials.side.of_what.text()


def test_changes_are_told_from_what_was_kept_as_settled(stage):
    assert line(stage, "shelters").change == ""
    QTest.mouseClick(stage.materials.side.keep, LEFT)
    assert stage.document.project.materials.settled.day is not None
    assert stage.document.undo_label == "settled take-off"
    counted(stage)
    assert line(stage, "shelters").change == ""
    type_into(stage, "shelters_per_vine", "2")
    counted(stage)
    vines = stage.answer.plans[0].n_vines
    assert line(stage, "shelters").change.replace("\u202f", "") == f"+{vines}"
    stage.undo()
    counted(stage)


def test_the_list_is_copied_as_a_table(stage):
    table = stage.materials.side.table
    table.setFocus()
    QTest.keyClick(table, Key.Key_C, CTRL)
    rows = [r.split("\t") for r in QApplication.clipboard().text().strip().split("\n")]
    assert rows[0][1:3] == ["item", "counted"]
    assert len(rows) == 1 + len(table.lines)
    posts = next(r for r in rows if r[1].startswith("Line post"))
    assert posts[2] == figure(stage, "line_posts")


def test_every_line_is_read_aloud_and_the_keyboard_skips_headings(stage):
    table = stage.materials.side.table
    model = table.table
    roles = Qt.ItemDataRole
    for row, listed in enumerate(model.rows):
        said = model.data(model.index(row), roles.AccessibleTextRole)
        assert said
        assert isinstance(listed, str) == (not model.data(model.index(row), roles.ToolTipRole))
    table.setFocus()
    reached = set()
    for _ in range(len(model.rows)):
        reached.add(table.currentIndex().row())
        QTest.keyClick(table, Key.Key_Down)
    assert reached == {i for i, r in enumerate(model.rows) if not isinstance(r, str)}


# own items


def test_a_price_typed_at_a_line_is_the_users_own_and_is_summed(stage):
    pick(stage, "end_posts")
    editor = stage.materials.side.editor
    assert editor.isVisible()
    type_supply(stage, "price", "12.50")
    counted(stage)
    (own,) = stage.document.project.materials.supplies
    assert own.sold.price == 12.5
    posts = 2 * stage.answer.plans[0].n_segments
    assert line(stage, "end_posts").price.replace("\u202f", "") == f"{posts * 12.5:.0f}"
    assert f"Price {posts * 12.5:.0f}" in stage.materials.side.totals.text().replace("\u202f", "")
    assert editor.give_back.isVisible()
    QTest.mouseClick(editor.give_back, LEFT)
    counted(stage)
    assert stage.document.project.materials.supplies == ()
    assert line(stage, "end_posts").price == ""
    QTest.keyClick(editor.fields["name"], Key.Key_Escape)
    assert not editor.isVisible()
    assert stage.materials.side.table.hasFocus()


def test_rolls_of_another_length_are_cut_otherwise(stage):
    from layoutdesk.core.materials.rolls import cut_rolls

    pick(stage, "wire")
    picked = stage.materials.side.table.picked_key
    type_supply(stage, "holds", "500")
    counted(stage)
    (own,) = stage.document.project.materials.supplies
    assert own.sold.holds == 500
    order = next(
        n.order
        for n in stage.materials.counting.answer.lines
        if n.order.need.product == own.product
    )
    need = order.need
    least = cut_rolls(need.cuts_m, 500.0, need.joins_allowed).n_rolls
    assert order.units >= max(least, int(np.ceil(need.counted / 500)))
    listed = next(n for n in stage.materials.side.table.lines if n.key == picked)
    assert listed.ordered.startswith(f"{order.units} rolls of 500")


def test_what_cannot_be_is_said_below_the_fields_and_stays_for_mending(stage):
    before = stage.document.project
    pick(stage, "end_posts")
    type_supply(stage, "price", "dear")
    editor = stage.materials.side.editor
    assert editor.problem.isVisible()
    assert "'dear'" in editor.problem.text()
    assert editor.fields["price"].hasFocus()
    assert editor.fields["price"].text() == "dear"
    assert stage.document.project is before
    type_supply(stage, "price", "9")
    assert not editor.problem.isVisible()
    counted(stage)


def test_what_is_being_typed_of_an_item_stays_while_figures_change(stage):
    pick(stage, "shelters")
    editor = stage.materials.side.editor
    editor.fields["name"].setFocus()
    editor.fields["name"].selectAll()
    QTest.keyClicks(editor.fields["name"], "Tall shel")
    stage.materials.move("shelters_per_vine", 1)
    counted(stage)
    assert editor.fields["name"].text() == "Tall shel"


def test_the_item_list_is_written_filled_in_and_read_back(stage, asked, tmp_path):
    asked.path = str(tmp_path / "items")
    stage.actions_by_id["materials-template"].trigger()
    filed(stage)
    path = tmp_path / "items.csv"
    with path.open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert {r["item"] for r in rows} == {
        n.product.item for n in stage.materials.side.table.lines
    }, "every line of the list is in it"
    for row in rows:
        row["price"] = "2"
    with path.open("w", newline="", encoding="utf-8") as file:
        table = csv.DictWriter(file, rows[0])
        table.writeheader()
        table.writerows(rows)
    before = stage.document.project
    asked.path = str(path)
    stage.actions_by_id["materials-read"].trigger()
    filed(stage)
    counted(stage)
    assert all(n.price for n in stage.materials.side.table.lines)
    units = sum(n.order.units for n in stage.materials.counting.answer.lines)
    told = stage.materials.side.totals.text().replace("\u202f", "")
    assert told.startswith(f"Price {2 * units}, ")
    stage.undo()
    assert stage.document.project is before, "read as one step"
    counted(stage)


def test_a_list_that_cannot_be_read_changes_nothing_and_names_the_line(stage, asked, tmp_path):
    path = tmp_path / "mine.csv"
    path.write_text("item,name,price\nend_posts,Post,cheap\n", encoding="utf-8")
    before = stage.document.project
    asked.path = str(path)
    stage.actions_by_id["materials-read"].trigger()
    filed(stage)
    (sentence,) = notices(stage)
    assert "mine.csv, line 2" in sentence
    assert stage.document.project is before


# handing out


def test_the_take_off_is_written_as_workbook_table_and_order_lists(stage, asked, tmp_path):
    import openpyxl
    import pdfplumber

    for kind in ("xlsx", "csv", "pdf"):
        asked.path = str(tmp_path / "taken")
        stage.actions_by_id[f"materials-{kind}"].trigger()
        filed(stage)
    assert notices(stage) == []
    posts = int(figure(stage, "line_posts"))
    text = (tmp_path / "taken.csv").read_text(encoding="utf-8")
    assert str(posts) in text
    book = openpyxl.load_workbook(tmp_path / "taken.xlsx")
    values = [str(c.value) for s in book for row in s.iter_rows() for c in row]
    assert any(v.startswith("Line post") for v in values)
    with pdfplumber.open(tmp_path / "taken.pdf") as pdf:
        assert "Line post" in " ".join(p.extract_text() for p in pdf.pages)


def test_a_project_that_is_left_amid_counting_leaves_nothing(stage, asked):
    asked.answer = "drop"
    stage.materials.move("shelters_per_vine", 1)
    open_sample_named(stage, "field_with_pond")
    assert stage.materials.counting.answer is None
    QTest.keyClick(stage, Key.Key_4, CTRL)
    counted(stage)
    plan = stage.answer.plans[0]
    assert stage.materials.counting.answer.plans[0] is plan
    assert figure(stage, "training_stakes") == str(sum(p.n_vines for p in stage.answer.plans))


def test_rows_laid_otherwise_are_counted_anew(stage):
    from layoutdesk.session.rule_scope import with_typed_value

    before = figure(stage, "line_posts")
    stage.document.edit(
        "rows", lambda p: with_typed_value(p, ("B1",), "row_spacing_m", "3.0", "m", None)
    )
    counted(stage)
    plan = stage.answer.plans[0]
    assert figure(stage, "line_posts") == str(int(plan.line_posts.count.sum())) != before


def test_tab_goes_through_paragraph_list_and_buttons(stage):
    card, side = stage.materials.card, stage.materials.side
    last = list(card.paragraph.fields.values())[-1]
    last.setFocus()
    QTest.keyClick(last, Key.Key_Tab)
    assert QApplication.focusWidget() is side.keep
    QTest.keyClick(side.keep, Key.Key_Tab)
    assert QApplication.focusWidget() is side.table
