"""Heights of the ground: asked for, read, drawn, told, and taken away again."""

from __future__ import annotations

import shutil
import threading
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from PySide6.QtCore import QPoint, QRect, QRectF, Qt
from PySide6.QtGui import QColor, QImage, QPainter
from PySide6.QtTest import QTest

from layoutdesk.core.model import Terrain
from layoutdesk.desk import painting
from layoutdesk.desk.look import LAMP, PAPER, contrast
from layoutdesk.desk.printing import sheet_on
from layoutdesk.desk.terrain_painting import earth, paint_heights
from layoutdesk.session import terrain as held
from layoutdesk.session.sheet import paper_named
from layoutdesk.session.stakeout import CAUTIONS
from tests.desk.hands import (
    LEFT,
    filed,
    notices,
    open_sample_named,
    pixel_of,
    pump_until,
    rest,
)
from tests.desk.test_site import answer

Key = Qt.Key


def raster(
    path, *, unit="", half_m=260, slope=0.05, level=120.0, east=500_060.0, north=6_100_085.0
):
    """Heights round the paddock, cells of 4 m; `slope` is the rise to the east."""
    import rasterio
    from rasterio.transform import from_origin

    n = int(2 * half_m / 4)
    x = (np.arange(n) - n / 2 + 0.5) * 4
    heights = level + slope * x[None, :] + 0.01 * x[:, None]
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        width=n,
        height=n,
        count=1,
        dtype="float32",
        crs="EPSG:32754",
        transform=from_origin(east - half_m, north + half_m, 4, 4),
    ) as f:
        f.write(heights.astype("float32"), 1)
        if unit:
            f.set_band_unit(1, unit)
    return path


@pytest.fixture(scope="module")
def heights(tmp_path_factory):
    return raster(tmp_path_factory.mktemp("heights") / "ground.tif")


@pytest.fixture(autouse=True)
def _nothing_is_held_yet():
    held._read.clear()


def ask(window, asked, path):
    """Choose a file of heights; gives back the card that asks about it."""
    asked.path = str(path)
    window.actions_by_id["terrain"].trigger()
    filed(window)
    assert notices(window) == []
    card = window.site.card
    assert card.isVisible()
    return card


def type_in(card, name, text):
    line = card.fields[name].line
    line.setFocus()
    line.selectAll()
    QTest.keyClick(line, Key.Key_Delete)
    QTest.keyClicks(line, text)
    return line


def drawn(window):
    pump_until(lambda: window.canvas.terrain is not None, "the heights are drawn")
    rest(window)


@pytest.fixture
def hilly(desk, asked, heights):
    """The window with heights, at rest."""
    card = ask(desk, asked, heights)
    QTest.keyClick(type_in(card, "datum", "EGM96"), Key.Key_Return)
    filed(desk)
    drawn(desk)
    return desk


def middle(window):
    outline = window.document.project.blocks[0].outline
    return outline.centroid.x, outline.centroid.y


def picture(window) -> QImage:
    """The plan between the cards."""
    canvas = window.canvas
    left, top, right, bottom = canvas.margins
    room = QRect(left, top, canvas.width() - left - right, canvas.height() - top - bottom)
    return canvas.grab(room).toImage()


def changed(a: QImage, b: QImage) -> int:
    """Pixels that differ; some hundreds between a picture painted finely and a rough one."""
    one, other = (np.frombuffer(i.constBits(), np.uint32) for i in (a, b))
    return int((one != other).sum())


# choosing


def test_heights_are_asked_about_kept_drawn_and_undone(desk, asked, heights):
    before, plain = desk.document.project, picture(desk)
    card = ask(desk, asked, heights)
    assert card.texts() == {"unit": "m", "datum": "", "crs": ""}
    QTest.keyClick(type_in(card, "datum", "EGM96"), Key.Key_Return)
    assert not card.isVisible()
    filed(desk)
    assert desk.document.project.terrain == Terrain(str(heights), "m", "EGM96", contour_m=0.25)
    assert desk.document.undo_label == "heights of the ground"
    assert "above EGM96" in desk.work.text()
    drawn(desk)
    assert changed(picture(desk), plain) > 10_000
    desk.actions_by_id["undo"].trigger()
    assert desk.document.project is before
    assert desk.canvas.terrain is None
    rest(desk)
    assert changed(picture(desk), plain) < 2_000
    desk.actions_by_id["redo"].trigger()
    drawn(desk)
    assert changed(picture(desk), plain) > 10_000


def test_what_the_file_says_is_filled_in_and_believed(desk, asked, tmp_path):
    card = ask(desk, asked, raster(tmp_path / "feet.tif", unit="US survey foot"))
    assert card.texts()["unit"] == "usft"
    QTest.keyClick(card.fields["unit"].line, Key.Key_Return)
    filed(desk)
    drawn(desk)
    assert desk.document.project.terrain.unit == "", "the file is believed, not overruled"
    assert "US survey foot (as the file says)" in desk.terrain.read.statement
    assert "ground 36.6 m" in desk.terrain.height_said(*middle(desk))


def test_another_unit_than_the_files_is_taken_and_found_worth_saying(desk, asked, tmp_path):
    card = ask(desk, asked, raster(tmp_path / "feet.tif", unit="US survey foot"))
    QTest.keyClick(type_in(card, "unit", "metres"), Key.Key_Return)
    filed(desk)
    drawn(desk)
    assert desk.document.project.terrain.unit == "m"
    assert "terrain-unit-assumed" in {f.code for f in desk.answer.findings}


@pytest.mark.parametrize(
    ("name", "text"), [("unit", "fathoms"), ("crs", "EPSG:0"), ("crs", "here")]
)
def test_what_cannot_be_is_told_in_one_sentence_under_its_field_and_can_be_mended(
    desk, asked, heights, name, text
):
    before = desk.document.project
    card = ask(desk, asked, heights)
    QTest.keyClick(type_in(card, name, text), Key.Key_Return)
    assert card.isVisible()
    said = card.fields[name].problem.text()
    assert said.endswith(".")
    assert said.count(". ") == 0
    assert "--" not in said
    assert card.fields[name].line.hasFocus()
    assert desk.document.project is before
    assert notices(desk) == []
    QTest.keyClick(type_in(card, name, {"unit": "ft", "crs": "EPSG:32754"}[name]), Key.Key_Return)
    filed(desk)
    assert not card.isVisible()
    assert desk.document.project.terrain is not None


def test_leaving_the_question_changes_nothing(desk, asked, heights):
    before = desk.document.project
    card = ask(desk, asked, heights)
    QTest.keyClick(card.fields["unit"].line, Key.Key_Escape)
    assert not card.isVisible()
    assert desk.document.project is before
    asked.path = ""
    desk.actions_by_id["terrain"].trigger()
    assert desk.filing.task is None


def test_a_file_that_holds_no_heights_is_told_and_changes_nothing(desk, asked, tmp_path):
    before = desk.document.project
    path = tmp_path / "letter.tif"
    path.write_text("no heights", encoding="utf-8")
    asked.path = str(path)
    desk.actions_by_id["terrain"].trigger()
    filed(desk)
    (sentence,) = notices(desk)
    assert "letter.tif" in sentence
    assert desk.document.project is before


def test_heights_of_another_place_are_told_and_changes_nothing(desk, asked, tmp_path):
    before = desk.document.project
    far = raster(tmp_path / "elsewhere.tif", east=560_000.0)
    QTest.keyClick(ask(desk, asked, far).fields["unit"].line, Key.Key_Return)
    filed(desk)
    (sentence,) = notices(desk)
    assert "elsewhere.tif" in sentence
    assert "--" not in sentence
    assert desk.document.project is before


def test_another_file_is_drawn_as_the_one_before_was(hilly, asked, tmp_path):
    answer(hilly, "terrain-contours", "2")
    hilly.actions_by_id["terrain-relief"].trigger()
    card = ask(hilly, asked, raster(tmp_path / "other.tif", level=300.0))
    QTest.keyClick(card.fields["unit"].line, Key.Key_Return)
    filed(hilly)
    pump_until(lambda: "300" in hilly.terrain.height_said(*middle(hilly)), "the other is read")
    terrain = hilly.document.project.terrain
    assert (terrain.contour_m, terrain.relief) == (2.0, False)


def test_for_a_site_in_feet_contours_are_at_round_feet(desk, asked, heights):
    desk.actions_by_id["unit-ft"].trigger()
    card = ask(desk, asked, heights)
    QTest.keyClick(card.fields["unit"].line, Key.Key_Return)
    filed(desk)
    feet = desk.document.project.terrain.contour_m / 0.3048
    assert feet == pytest.approx(round(feet))
    drawn(desk)
    assert "ground 393." in desk.terrain.height_said(*middle(desk))


# contours, relief, taking away


@pytest.mark.parametrize(
    ("text", "metres"), [("2", 2.0), ("5ft", 1.524), ("none", 0.0), ("0", 0.0)]
)
def test_the_interval_is_typed_in_any_unit_and_undone(hilly, text, metres):
    before, shown = hilly.document.project, hilly.canvas.terrain
    card = answer(hilly, "terrain-contours", text)
    assert not card.isVisible()
    assert hilly.document.project.terrain.contour_m == pytest.approx(metres)
    pump_until(lambda: hilly.canvas.terrain is not shown, "they are drawn anew")
    assert bool(hilly.canvas.terrain[0].details) == bool(metres)
    hilly.actions_by_id["undo"].trigger()
    assert hilly.document.project is before


@pytest.mark.parametrize("text", ["steep", "-1", "20000", "", "0.001"])
def test_an_interval_that_cannot_be_is_told_and_can_be_mended(hilly, text):
    before = hilly.document.project
    card = answer(hilly, "terrain-contours", text)
    assert card.isVisible()
    assert card.problem_text().endswith(".")
    assert hilly.document.project is before
    hilly.site.leave()


def test_relief_is_hidden_and_shown_by_one_action(hilly):
    there = hilly.canvas.terrain
    assert there[1] is not None
    hilly.actions_by_id["terrain-relief"].trigger()
    assert hilly.document.project.terrain.relief is False
    pump_until(lambda: hilly.canvas.terrain[1] is None, "the relief is gone")
    assert hilly.canvas.terrain[0].details, "contours stay"
    hilly.actions_by_id["terrain-relief"].trigger()
    pump_until(lambda: hilly.canvas.terrain[1] is not None, "the relief is back")


def test_heights_are_taken_away_and_undone(hilly):
    before = hilly.document.project
    hilly.actions_by_id["terrain-remove"].trigger()
    assert hilly.document.project.terrain is None
    assert hilly.canvas.terrain is None
    assert hilly.terrain.height_said(*middle(hilly)) == ""
    hilly.actions_by_id["undo"].trigger()
    assert hilly.document.project is before
    drawn(hilly)


@pytest.mark.parametrize("action", ["terrain-contours", "terrain-relief", "terrain-remove"])
def test_without_heights_it_is_said_what_to_do(desk, action):
    before = desk.document.project
    desk.actions_by_id[action].trigger()
    assert "no heights yet" in desk.work.text()
    assert desk.document.project is before


# told on the plan


def test_the_foot_tells_the_height_under_the_pointer_and_where_it_is_from(hilly):
    x, y = middle(hilly)
    hilly.canvas.cursor_moved.emit(x, y)
    QTest.mouseMove(hilly.canvas, pixel_of(hilly, x, y))
    assert hilly.cursor_label.text().split("   ")[-1].startswith("ground 120.")
    assert "above EGM96" in hilly.cursor_label.toolTip()
    hilly.canvas.cursor_moved.emit(x + 5000, y)
    assert "ground" not in hilly.cursor_label.text()


def pick_row(window, segment=10):
    plan = window.answer.plans[0]
    s = plan.segments
    along = (s.start_m[segment] + s.end_m[segment]) / 2
    (x, y), (x1, y1) = plan.places(np.array([segment] * 2), np.array([along, along + 1])).tolist()
    x, y = x + 0.8 * (y1 - y), y - 0.8 * (x1 - x)  # beside its vines
    window.canvas.go_to(x, y)
    window.canvas.zoom(4)
    rest(window)
    QTest.mouseClick(window.canvas, LEFT, Qt.KeyboardModifier.NoModifier, pixel_of(window, x, y))
    assert window.picked_card.isVisible()
    return window.picked_card


def test_the_card_of_a_row_tells_how_steep_it_is(hilly):
    card = pick_row(hilly)
    assert "Rises" in card.figures.text() or "Falls" in card.figures.text()
    assert "Side tilt up to" in card.figures.text()
    assert card.caution.isHidden()
    hilly.actions_by_id["terrain-remove"].trigger()
    assert "tilt" not in card.figures.text(), "nothing is told of ground that is not known"
    hilly.actions_by_id["undo"].trigger()
    drawn(hilly)
    assert "tilt" in card.figures.text()


def test_a_steep_row_carries_the_caution(desk, asked, tmp_path):
    card = ask(desk, asked, raster(tmp_path / "steep.tif", slope=0.25))
    QTest.keyClick(card.fields["unit"].line, Key.Key_Return)
    filed(desk)
    drawn(desk)
    card = pick_row(desk)
    assert card.caution.isVisible()
    assert card.caution.text().removeprefix("▲ ") in CAUTIONS
    assert "manual" in card.caution.text()
    low = card.caution.geometry().bottom()
    assert low < card.fields["start"].geometry().top(), "nothing lies over it"
    assert card.height() >= card.layout().totalHeightForWidth(card.width())
    QTest.keyClick(desk.canvas, Key.Key_Escape)
    assert not card.isVisible()


def test_rows_beyond_the_heights_are_found_and_a_click_goes_there(desk, asked, tmp_path):
    path = raster(tmp_path / "small.tif", half_m=60)
    QTest.keyClick(ask(desk, asked, path).fields["unit"].line, Key.Key_Return)
    filed(desk)
    drawn(desk)
    (found,) = [f for f in desk.answer.findings if f.code == "terrain-outside"]
    line = next(n for n in desk.findings.lines if "outside the heights" in n.words)
    desk.findings.area.ensureWidgetVisible(line)
    QTest.mouseClick(line, LEFT, Qt.KeyboardModifier.NoModifier, QPoint(20, 8))
    at = pixel_of(desk, *found.place)
    left, top, right, bottom = desk.canvas.margins
    assert left < at.x() < desk.canvas.width() - right
    assert top < at.y() < desk.canvas.height() - bottom


# files that are gone or moved


def terrained(project, path):
    return replace(project, terrain=Terrain(str(path), "m", "EGM96"))


def test_heights_that_are_gone_are_a_finding_and_the_plan_goes_on(desk, small_project, tmp_path):
    desk.show_project(terrained(small_project, tmp_path / "gone.tif"))
    rest(desk)
    (found,) = [f for f in desk.answer.findings if f.code == "terrain-unread"]
    assert "gone.tif" in str(found.told(str))
    assert desk.answer.tally.vines > 0
    assert desk.canvas.terrain is None
    assert notices(desk) == []


def test_heights_that_moved_along_are_found_beside_the_project(
    desk, small_project, heights, tmp_path
):
    shutil.copy(heights, tmp_path / "ground.tif")
    kept = terrained(small_project, "/nowhere/any/more/ground.tif")
    desk.show_project(kept, tmp_path / "site.gpkg")
    drawn(desk)
    assert "terrain-unread" not in {f.code for f in desk.answer.findings}
    desk.document.edit("name", lambda p: replace(p, name="Other"))
    rest(desk)
    assert "terrain-unread" not in {f.code for f in desk.answer.findings}, "after an edit too"
    assert desk.answer.path == tmp_path / "site.gpkg"


def test_saving_beside_the_heights_finds_them(desk, small_project, asked, heights, tmp_path):
    shutil.copy(heights, tmp_path / "ground.tif")
    desk.show_project(terrained(small_project, "/nowhere/any/more/ground.tif"))
    rest(desk)
    assert "terrain-unread" in {f.code for f in desk.answer.findings}
    asked.path = str(tmp_path / "site.gpkg")
    desk.actions_by_id["save-as"].trigger()
    filed(desk)
    drawn(desk)
    pump_until(
        lambda: "terrain-unread" not in {f.code for f in desk.answer.findings},
        "the findings follow",
    )


# who overtakes whom


@pytest.fixture
def slow(monkeypatch):
    """Reading that waits for leave."""
    gate = SimpleNamespace(open=threading.Event(), reading=threading.Event())
    real = held.read_terrain

    def read(*args):
        gate.reading.set()
        assert gate.open.wait(20)
        return real(*args)

    monkeypatch.setattr(held, "read_terrain", read)
    yield gate
    gate.open.set()


def test_another_project_opened_while_heights_are_read_does_not_get_them(
    desk, asked, heights, small_project, slow
):
    asked.path = str(heights)
    desk.actions_by_id["terrain"].trigger()
    filed(desk)
    QTest.keyClick(desk.site.card.fields["unit"].line, Key.Key_Return)
    assert slow.reading.wait(10)
    other = replace(small_project, name="Other")
    desk.show_project(other)
    slow.open.set()
    filed(desk)
    rest(desk)
    assert desk.document.project is other
    assert desk.canvas.terrain is None


def test_heights_of_a_project_that_was_left_are_not_drawn_on_the_next(
    desk, heights, small_project, slow
):
    desk.show_project(terrained(small_project, heights))
    assert slow.reading.wait(10)
    desk.show_project(small_project)
    slow.open.set()
    assert desk.terrain._answers.worker.wait(20)
    rest(desk)
    assert desk.canvas.terrain is None
    assert desk.terrain.read is None


def test_of_two_grounds_one_after_another_the_first_is_not_told_for_the_second(
    hilly, small_project, slow, tmp_path
):
    other = raster(tmp_path / "other.tif", level=400.0)
    hilly.show_project(terrained(small_project, other))
    assert hilly.canvas.terrain is None
    assert hilly.terrain.height_said(*middle(hilly)) == ""
    slow.open.set()
    drawn(hilly)
    assert hilly.terrain.height_said(*middle(hilly)).startswith("ground 400.")


def test_closing_the_site_takes_its_heights_along(hilly):
    hilly.document.mark_saved(None, hilly.document.project)
    hilly.close_site()
    assert hilly.canvas.terrain is None
    assert hilly.terrain.read is None


def test_a_corner_that_moves_keeps_the_heights_on_show(hilly):
    import shapely

    before = hilly.canvas.terrain
    block = hilly.document.project.blocks[0]
    moved = replace(block, outline=shapely.affinity.translate(block.outline, 3, 0))
    hilly.document.edit("corner", lambda p: p.with_block(moved))
    assert hilly.canvas.terrain is before, "no flicker while they are drawn anew"
    pump_until(lambda: hilly.canvas.terrain is not before, "they are drawn anew")
    rest(hilly)


# looks and paper


@pytest.mark.parametrize("theme", [PAPER, LAMP], ids=lambda t: t.name)
def test_heights_keep_clear_of_row_numbers_and_can_be_read(window, theme, monkeypatch):
    open_sample_named(window, "slope_two_blocks")
    drawn(window)
    boxes = []

    def noted(painter, view, picture, theme, unit, taken):
        boxes.append([QRectF(b) for b in taken])
        paint_heights(painter, view, picture, theme, unit, taken)
        boxes.append(taken)

    monkeypatch.setattr("layoutdesk.desk.terrain_painting.paint_heights", noted)
    image = QImage(window.canvas.size(), QImage.Format.Format_RGB32)
    canvas = window.canvas
    painting.paint_plan(image, canvas.view, canvas.drawing, theme, terrain=canvas.terrain)
    numbers, every = boxes
    ours = every[len(numbers) :]
    assert len(numbers) > 10
    assert len(ours) > 4
    for i, box in enumerate(ours):
        assert not any(box.intersects(other) for other in (*numbers, *ours[:i]))
    for under in ("ground", "block"):
        assert contrast(painting._mixed(theme["ink"], earth(theme), 0.35), theme[under]) >= 4.5


def test_the_printed_sheet_has_contours_heights_and_where_they_are_from(hilly):
    sheet = sheet_on(hilly, paper_named("A4"), hilly.answer)
    (section,) = [s for s in sheet.sections if s.heading == "Heights of the ground"]
    said = " ".join(section.paragraphs).replace("\u00a0", " ")
    assert "ground.tif" in said
    assert "above EGM96" in said
    assert "Contours every 0.25 m" in said
    with_them, without = (_page(s, hilly) for s in (sheet, replace(sheet, ground=None)))
    brown = _count(with_them, sheet)
    assert brown > 1000
    assert _count(without, sheet) < brown / 20
    hilly.actions_by_id["terrain-remove"].trigger()
    rest(hilly)
    plain = sheet_on(hilly, paper_named("A4"), hilly.answer)
    assert plain.ground is None
    assert "Heights of the ground" not in [s.heading for s in plain.sections]


def _page(sheet, window) -> QImage:
    from layoutdesk.desk.printing import paint_sheet
    from layoutdesk.session.drawing import drawing_of

    image = QImage(297 * 6, 210 * 6, QImage.Format.Format_RGB32)
    image.fill(QColor("white"))
    painter = QPainter(image)
    paint_sheet(painter, 6.0, sheet, drawing_of(window.answer), lambda: None, page_only=0)
    painter.end()
    return image


def _count(image, sheet) -> int:
    """Pixels in the plan's frame that are rather brown."""
    pixels = np.frombuffer(image.constBits(), np.uint8).reshape(image.height(), -1, 4).astype(int)
    box = sheet.plan
    x, y = round(6 * box.x_mm), round(6 * box.y_mm)
    part = pixels[y : y + round(6 * box.height_mm), x : x + round(6 * box.width_mm)]
    blue, red = part[..., 0], part[..., 2]
    # the hatch of clear strips is lighter than any contour's middle
    return int(((red - blue > 25) & (red < 190)).sum())
