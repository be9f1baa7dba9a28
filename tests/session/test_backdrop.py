"""Backdrop requests: what is asked for, what is kept, and the making of reduced copies."""

from __future__ import annotations

import numpy as np
import pytest
import rasterio
from affine import Affine

from layoutdesk.core.model import InputProblem
from layoutdesk.formats import backdrop_levels
from layoutdesk.formats.backdrop import BackdropReader, read_about
from layoutdesk.formats.crs import crs_named, make_frame
from layoutdesk.session.backdrop import (
    Backdrops,
    OverviewBuild,
    picture_file,
    request_for,
)
from layoutdesk.session.jobs import NewestWins
from layoutdesk.session.view import View

VIEW = View(0.0, 0.0, 2.0, 200, 100)


@pytest.fixture
def site(tmp_path):
    """A grey raster of 100 m a side about the frame's origin, and the frame."""
    path = tmp_path / "map.tif"
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        width=1000,
        height=1000,
        count=1,
        dtype="uint8",
        crs="EPSG:32633",
        transform=Affine(0.1, 0, 500_000, 0, -0.1, 5_300_000),
    ) as out:
        out.write(np.tile(np.arange(1000) // 4, (1000, 1)).astype(np.uint8), 1)
    frame = make_frame(crs_named("EPSG:32633"), [500_000, 500_100], [5_299_900, 5_300_000])
    return read_about(path, frame), frame


@pytest.fixture
def backdrops(tmp_path):
    made = Backdrops(tmp_path / "cache")
    yield made
    made.close()


@pytest.fixture
def reads(monkeypatch):
    """Bounds of the pictures that are really made."""
    made, really = [], BackdropReader.picture

    def picture(self, bounds_m, width, height):
        made.append(bounds_m)
        return really(self, bounds_m, width, height)

    monkeypatch.setattr(BackdropReader, "picture", picture)
    return made


def test_more_is_asked_for_than_is_seen_pixel_on_pixel(site):
    request = request_for(3, *site, VIEW)
    assert (request.number, request.width, request.height) == (3, 300, 150)
    x0, y0, x1, y1 = request.bounds_m
    assert (x1 - x0, y1 - y0) == (150, 75)
    assert (x0 + x1, y0 + y1) == (0, 0)


def test_a_small_pan_needs_no_new_picture_a_large_one_or_a_zoom_does(site):
    request = request_for(0, *site, VIEW)
    assert request.suits(VIEW)
    assert request.suits(VIEW.panned(49, -24))
    assert not request.suits(VIEW.panned(51, 0))
    assert not request.suits(VIEW.zoomed(1.1, 100, 50))


def test_the_seen_part_of_an_answer_is_what_the_view_would_show(site, backdrops):
    wide = backdrops.answer(request_for(0, *site, VIEW)).rgba
    plain = backdrops.answer(request_for(0, *site, VIEW, margin=0.0)).rgba
    assert wide.shape == (150, 300, 4)
    off = wide[25:125, 50:250].astype(int) - plain
    assert abs(off).max() <= 1


def test_the_last_pictures_are_kept(site, backdrops, reads):
    views = [VIEW.panned(100 * k, 0) for k in range(5)]
    for view in views:
        backdrops.answer(request_for(0, *site, view))
    assert len(reads) == 5
    again = request_for(9, *site, views[4])
    assert backdrops.answer(again).request is again
    backdrops.answer(request_for(0, *site, views[1]))
    assert len(reads) == 5
    backdrops.answer(request_for(0, *site, views[0]))  # the oldest has gone
    assert len(reads) == 6


def test_another_picture_or_frame_is_not_answered_from_the_last(site, backdrops, reads):
    source, frame = site
    first = backdrops.answer(request_for(0, source, frame, VIEW)).rgba
    moved = make_frame(crs_named("EPSG:32633"), [500_020, 500_100], [5_299_900, 5_300_000])
    second = backdrops.answer(request_for(0, source, moved, VIEW)).rgba
    assert len(reads) == 2
    assert (first != second).any()


def test_answers_come_from_a_thread_of_its_own(site, backdrops):
    got = []
    worker = NewestWins(backdrops.answer, lambda *told: got.append(told), name="backdrop")
    try:
        request = request_for(0, *site, VIEW)
        worker.submit(request)
        assert worker.wait()
    finally:
        worker.close()
    ((asked, answer, problem),) = got
    assert asked is request
    assert problem is None
    assert answer.rgba[75, 150, 3] == 255


def test_a_picture_that_went_away_is_an_input_problem_and_its_return_mends_it(site, backdrops):
    source, _ = site
    away = source.path.with_suffix(".away")
    source.path.rename(away)
    with pytest.raises(InputProblem, match="no file"):
        backdrops.answer(request_for(0, *site, VIEW))
    away.rename(source.path)
    assert backdrops.answer(request_for(0, *site, VIEW)).rgba.any()


def test_a_coarse_answer_is_bettered_once_the_copies_are_made(
    site, backdrops, tmp_path, monkeypatch
):
    monkeypatch.setattr(backdrop_levels, "MOST_READ", 900_000)
    whole = View(0.0, 0.0, 0.5, 60, 60)
    source, frame = site
    assert backdrops.answer(request_for(0, source, frame, whole)).coarse
    told = []
    build = OverviewBuild(source, lambda *t: told.append(t), tmp_path / "cache")
    build.start()
    assert build.wait()
    ((folder, problem),) = told
    assert problem is None
    assert folder.is_dir()
    assert build.share == 1.0
    assert not backdrops.answer(request_for(0, source, frame, whole)).coarse


def test_making_copies_can_be_stopped(site, tmp_path):
    told = []
    build = OverviewBuild(
        site[0],
        lambda *t: told.append(t),
        tmp_path / "cache",
        progress=lambda share: build.cancel(),
        threaded=False,
    )
    build.start()
    assert told == [(None, None)]
    assert build.share < 1.0
    assert not any((tmp_path / "cache").iterdir())


def test_a_picture_is_found_beside_a_project_that_moved(tmp_path):
    folder = tmp_path / "moved"
    (folder / "maps").mkdir(parents=True)
    project = folder / "site.gpkg"
    (folder / "photo.tif").touch()
    (folder / "maps" / "old.tif").touch()
    assert picture_file("/elsewhere/photo.tif", project) == folder / "photo.tif"
    assert picture_file(r"D:\elsewhere\photo.tif", project) == folder / "photo.tif"
    assert picture_file("maps/old.tif", project) == folder / "maps" / "old.tif"
    assert str(picture_file("/elsewhere/none.tif", project)) == "/elsewhere/none.tif"
