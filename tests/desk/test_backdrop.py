"""A picture under the plan: put, shown, weakened, hidden, taken away."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtGui import QColor

from .hands import filed, notices, pixel_of, pump_until, rest
from .test_site import answer

RED = (200, 20, 30)


@pytest.fixture(scope="module")
def picture(tmp_path_factory):
    """A red orthophoto of the paddock and 60 m around it."""
    import rasterio
    from rasterio.transform import from_origin

    path = tmp_path_factory.mktemp("picture") / "ortho.tif"
    pixels = np.empty((3, 290, 260), np.uint8)
    pixels[:] = np.array(RED, np.uint8)[:, None, None]
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        width=260,
        height=290,
        count=3,
        dtype="uint8",
        crs="EPSG:32754",
        transform=from_origin(499_940, 6_100_240, 1, 1),
    ) as f:
        f.write(pixels)
    return path


def colour(window):
    """The colour of the plan just west of the block, where nothing else is drawn."""
    x0, y0, _, y1 = window.document.project.blocks[0].outline.bounds
    at = pixel_of(window, x0 - 5, (y0 + y1) / 2)
    return QColor(window.canvas.grab().toImage().pixel(at))


def shown(window):
    pump_until(lambda: window.canvas.backdrop is not None, "the picture is there")
    rest(window)


@pytest.fixture
def backed(desk, asked, picture):
    asked.path = str(picture)
    desk.actions_by_id["backdrop"].trigger()
    assert notices(desk) == []
    shown(desk)
    return desk


def test_a_picture_is_put_under_the_plan_and_undone(desk, asked, picture):
    before, plain = desk.document.project, colour(desk)
    asked.path = str(picture)
    desk.actions_by_id["backdrop"].trigger()
    shown(desk)
    assert desk.document.project.backdrop.path == str(picture)
    assert desk.document.undo_label == "backdrop"
    there = colour(desk)
    assert there != plain
    assert there.red() > there.green() + 60
    desk.actions_by_id["undo"].trigger()
    assert desk.document.project is before
    assert desk.canvas.backdrop is None
    assert colour(desk) == plain
    desk.actions_by_id["redo"].trigger()
    shown(desk)
    assert colour(desk) == there


def test_it_lies_where_the_survey_says(backed):
    x0, y0, x1, y1 = backed.canvas.backdrop[1]
    b0, b1, b2, b3 = backed.document.project.blocks[0].outline.bounds
    assert x0 < b0
    assert y0 < b1
    assert x1 > b2
    assert y1 > b3


def test_it_is_hidden_and_shown_again_by_one_action(backed):
    there, project = colour(backed), backed.document.project
    backed.actions_by_id["backdrop-toggle"].trigger()
    assert backed.document.project.backdrop.shown is False
    assert backed.canvas.backdrop is None
    assert colour(backed) != there
    backed.actions_by_id["backdrop-toggle"].trigger()
    shown(backed)
    assert backed.document.project == project
    assert colour(backed) == there


def test_its_strength_is_typed_in_percent(backed):
    before, there = backed.document.project, colour(backed)
    card = answer(backed, "backdrop-strength", "20 %")
    assert not card.isVisible()
    assert backed.document.project.backdrop.opacity == pytest.approx(0.2)
    rest(backed)
    assert colour(backed).green() > there.green() + 20
    for text in ("140", "strong", "nan"):
        card = answer(backed, "backdrop-strength", text)
        assert card.problem_text().endswith("."), text
    backed.site.leave()
    backed.actions_by_id["undo"].trigger()
    assert backed.document.project is before
    rest(backed)
    assert colour(backed) == there


def test_it_is_taken_away_and_undone(backed):
    before, there = backed.document.project, colour(backed)
    backed.actions_by_id["backdrop-remove"].trigger()
    assert backed.document.project.backdrop is None
    assert backed.canvas.backdrop is None
    backed.actions_by_id["undo"].trigger()
    assert backed.document.project is before
    shown(backed)
    assert colour(backed) == there


def test_it_stays_as_the_plan_is_moved_and_enlarged(backed):
    backed.canvas.zoom(3)
    backed.canvas.look_at(backed.canvas.view.panned(40, 25))
    rest(backed)
    pump_until(lambda: not backed.backdrop._later.isActive(), "the picture is asked for")
    there = QColor(backed.canvas.grab().toImage().pixel(*_free(backed)))
    assert there.red() > there.green() + 20


def _free(window):
    left, top, right, bottom = window.canvas.margins
    return (left + window.canvas.width() - right) // 2, (top + window.canvas.height() - bottom) // 2


def test_what_is_no_picture_is_told_and_changes_nothing(desk, asked, tmp_path):
    before = desk.document.project
    path = tmp_path / "letter.tif"
    path.write_text("no picture", encoding="utf-8")
    asked.path = str(path)
    desk.actions_by_id["backdrop"].trigger()
    filed(desk)
    (sentence,) = notices(desk)
    assert "letter.tif" in sentence
    assert desk.document.project is before
    assert desk.canvas.backdrop is None


def test_without_a_picture_its_strength_is_not_asked_for(desk):
    desk.actions_by_id["backdrop-strength"].trigger()
    assert "no picture" in desk.work.text()
    before = desk.document.project
    desk.actions_by_id["backdrop-remove"].trigger()
    assert desk.document.project is before


def test_a_picture_that_is_gone_is_said_and_the_plan_goes_on(desk, picture, tmp_path):
    from dataclasses import replace

    from layoutdesk.core.model import Backdrop

    gone = replace(desk.document.project, backdrop=Backdrop(str(tmp_path / "gone.tif")))
    desk.show_project(gone)
    pump_until(lambda: "gone.tif" in desk.work.text(), "the loss is said", 10)
    assert notices(desk) == []
    rest(desk)
    assert desk.canvas.backdrop is None


def test_it_goes_with_its_site(backed, small_project):
    backed.show_project(small_project)
    rest(backed)
    assert backed.canvas.backdrop is None
    backed.document.mark_saved(None, backed.document.project)
    backed.close_site()
    assert backed.canvas.backdrop is None


def test_another_picture_takes_the_place_of_the_one_before(backed, asked, picture, tmp_path):
    import rasterio

    there = colour(backed)
    with rasterio.open(picture) as f:
        pixels, profile = f.read(), f.profile
    other = tmp_path / "other.tif"
    with rasterio.open(other, "w", **profile) as f:
        f.write(pixels[::-1])
    asked.path = str(other)
    backed.actions_by_id["backdrop"].trigger()
    filed(backed)
    pump_until(lambda: colour(backed) != there, "the other picture is there")
    assert backed.document.project.backdrop.path == str(other)
    backed.actions_by_id["undo"].trigger()
    pump_until(lambda: colour(backed) == there, "the first picture is back")
