"""Pixels that matter: what must be seen is there, in its colour, and can be read in both themes."""

from __future__ import annotations

import datetime
from dataclasses import replace

import numpy as np
import pytest
import shapely
from PySide6.QtGui import QColor, QImage

from layoutdesk.core.model import Block, Exclusion, Project, RowRules, Site, SiteFrame
from layoutdesk.desk.look import LAMP, PAPER, THEMES, contrast
from layoutdesk.desk.painting import paint_plan
from layoutdesk.desk.start import make_application
from layoutdesk.session.drawing import drawing_of
from layoutdesk.session.layouts import Layouter, LayoutRequest
from layoutdesk.session.view import View
from tests.desk.hands import open_sample_named
from tests.pictures.gallery import desk, write_gallery

both_themes = pytest.mark.parametrize("theme", [PAPER, LAMP], ids=lambda t: t.name)


@pytest.fixture(scope="session", autouse=True)
def application(qapp):
    return make_application()


@pytest.fixture(scope="module")
def drawing():
    """A block of 60 by 100 m with its rows north, and a pond and a pole line in it."""
    block = Block("B1", shapely.box(-30, -50, 30, 50), RowRules(bearing_deg=0, min_row_m=5))
    project = Project(
        "Sample",
        Site(SiteFrame(-35.0, 141.0, 0.0), "EPSG:32754", "EPSG:32754"),
        (block,),
        (
            Exclusion(shapely.Point(0, 20).buffer(6), 3.0, "", "pond"),
            Exclusion(shapely.LineString([(-30, -20), (30, -25)]), 2.0, "", "overhead line"),
        ),
        datetime.date(2026, 5, 1),
    )
    return drawing_of(Layouter().answer(LayoutRequest(0, project)))


def painted(drawing, theme, scale=5.0, rough=False, x_m=0.0, y_m=0.0) -> tuple[np.ndarray, View]:
    """RGB of a picture, (height, width, 3), and its view."""
    view = View(x_m, y_m, scale, 640, 560)
    image = QImage(640, 560, QImage.Format.Format_RGB32)
    paint_plan(image, view, drawing, theme, rough=rough)
    pixels = np.frombuffer(image.bits(), np.uint8).reshape(560, 640, 4)[:, :, 2::-1]
    return pixels.copy(), view


def near(pixels, view, x_m, y_m, colour: QColor, reach: int = 3, within: int = 30) -> bool:
    """Whether a colour is found within so many pixels of a place."""
    px, py = np.rint(view.to_pixels(np.array([x_m, y_m]))).astype(int)
    patch = pixels[py - reach : py + reach + 1, px - reach : px + reach + 1].astype(int)
    wanted = np.array([colour.red(), colour.green(), colour.blue()])
    return bool((np.abs(patch - wanted).max(axis=2) <= within).any())


@both_themes
@pytest.mark.parametrize("rough", [False, True], ids=["fine", "rough"])
def test_the_outline_stands_where_the_outline_is(drawing, theme, rough):
    pixels, view = painted(drawing, theme, rough=rough)
    for x, y in ((-30, 7), (30, -11), (4, 50), (-9, -50)):
        assert near(pixels, view, x, y, theme["ink"]), (x, y)
    assert not near(pixels, view, 45, 0, theme["ink"], reach=20)


@both_themes
def test_outside_is_ground_and_the_headland_is_block_and_hatch(drawing, theme):
    pixels, view = painted(drawing, theme)
    assert near(pixels, view, 40, 30, theme["ground"], reach=0, within=0)
    headland = pixels[slice(*pixel_rows(view, 48, 44)), slice(*pixel_columns(view, -26, -14))]
    colours = {tuple(c) for c in headland.reshape(-1, 3).tolist()}
    assert QColor(theme.block).getRgb()[:3] in colours
    assert QColor(theme.hatch).getRgb()[:3] in colours
    assert QColor(theme.row).getRgb()[:3] not in colours


def pixel_rows(view, y_from, y_to):
    return [int(view.to_pixels(np.array([0, y]))[1]) for y in (y_from, y_to)]


def pixel_columns(view, x_from, x_to):
    return [int(view.to_pixels(np.array([x, 0]))[0]) for x in (x_from, x_to)]


@both_themes
def test_vines_and_posts_stand_where_they_are_to_be_staked(drawing, theme):
    pixels, view = painted(drawing, theme, scale=12.0)
    [plan] = drawing.answer.plans
    x0, y0, x1, y1 = view.bounds_m
    seen = 0
    for marks, role in (("vines", "row"), ("end_posts", "ink"), ("anchors", "caution")):
        for x, y in getattr(plan, marks).xy_m[::7].tolist():
            if x0 + 1 < x < x1 - 1 and y0 + 1 < y < y1 - 1:
                assert near(pixels, view, x, y, theme[role], reach=1), (marks, x, y)
                seen += 1
    assert seen > 20


@both_themes
def test_no_row_is_drawn_in_the_pond_and_water_is_water(drawing, theme):
    pixels, view = painted(drawing, theme)
    assert near(pixels, view, 0, 20, theme["water_fill"], reach=0, within=0)
    assert not near(pixels, view, 0, 20, theme["row"], reach=20)
    assert near(pixels, view, 6, 20, theme["water"], reach=2, within=60)


@both_themes
def test_an_overhead_line_is_drawn_in_the_colour_of_caution(drawing, theme):
    pixels, view = painted(drawing, theme)
    found = [near(pixels, view, x, -22.5 - x / 12, theme["caution"]) for x in range(-25, 26, 2)]
    assert sum(found) > len(found) / 2  # dashed


@both_themes
def test_row_numbers_have_a_halo(drawing, theme):
    """In a wide headland it parts the number from the hatch; a rough picture has none."""
    ground = np.array(QColor(theme.ground).getRgb()[:3])
    seen = []
    for rough in (False, True):
        pixels, view = painted(drawing, theme, scale=12.0, rough=rough, y_m=40.0)
        headland = pixels[
            slice(*pixel_rows(view, 49.5, 42.5)), slice(*pixel_columns(view, -20, 20))
        ]
        assert (
            np.abs(headland.astype(int) - QColor(theme.ink).getRgb()[:3]).max(axis=2) < 40
        ).any()
        seen.append(int((np.abs(headland.astype(int) - ground).max(axis=2) <= 1).sum()))
    fine, rough = seen
    assert fine > 300
    assert rough == 0


@pytest.mark.parametrize("scale", [0.05, 0.6, 1.2, 3.0, 9.0, 40.0, 400.0])
@both_themes
def test_every_scale_paints_rows(drawing, theme, scale):
    [plan] = drawing.answer.plans
    x, y = plan.segment_ends_m[plan.n_segments // 2].mean(axis=0)
    pixels, _ = painted(drawing, theme, scale=scale, x_m=x, y_m=y)
    ground = np.array(QColor(theme.ground).getRgb()[:3])
    block = np.array(QColor(theme.block).getRgb()[:3])
    middle = pixels[240:321, 280:361].astype(int)
    plain = (np.abs(middle - ground).max(axis=2) < 6) | (np.abs(middle - block).max(axis=2) < 6)
    assert (~plain).sum() >= (1 if scale < 0.1 else 20)


# the window


@pytest.fixture(scope="module", params=["paper", "lamp"])
def window(request, application, tmp_path_factory):
    with desk(1280, 800, request.param, tmp_path_factory.mktemp("desk")) as window:
        open_sample_named(window, "field_with_pond")
        yield window


def canvas_pixels(window) -> np.ndarray:
    image = window.canvas.grab().toImage().convertToFormat(QImage.Format.Format_RGB32)
    return (
        np.frombuffer(image.bits(), np.uint8)
        .reshape(image.height(), image.width(), 4)[:, :, 2::-1]
        .copy()
    )


def test_the_pointed_row_is_lit_up_from_end_to_end_and_no_other(window):
    segment = 20
    before = canvas_pixels(window)
    window.canvas.point_at((0, segment))
    after = canvas_pixels(window)
    window.canvas.point_at(None)
    a, b = window.answer.plans[0].segment_ends_m[segment]
    for share in (0.02, 0.3, 0.98):
        x, y = a + share * (b - a)
        assert near(after, window.canvas.view, x, y, window.theme["accent"], within=40)
        assert not near(before, window.canvas.view, x, y, window.theme["accent"], within=40)
    x, y = np.mean(window.answer.plans[0].segment_ends_m[segment + 4], axis=0)
    assert not near(after, window.canvas.view, x, y, window.theme["accent"], within=40)


def bar_colours(window, bar: int) -> set[str]:
    """Colours at the foot of a bar of the strip."""
    strip = window.strip
    image, band = strip.grab().toImage(), strip._band()
    x = round(band.left() + (bar + 0.5) * band.width() / len(strip._length))
    return {image.pixelColor(x + dx, round(band.bottom()) - 3).name().upper() for dx in (-1, 0)}


def test_the_bar_of_the_picked_row_is_in_the_accent(window):
    window.strip.pick((0, 20))
    picked = bar_colours(window, 20)
    window.strip.pick(None)
    assert window.theme.accent in picked
    assert window.theme.accent not in bar_colours(window, 20)


def test_the_bar_of_the_pointed_row_differs_from_others_and_from_the_picked_one(window):
    plain = bar_colours(window, 20)
    window.canvas.point_at((0, 20))
    pointed = bar_colours(window, 20)
    window.canvas.point_at(None)
    accent = window.theme["accent"]
    lit = [QColor(c) for c in pointed - plain]
    assert lit, "the bar is lit up"
    assert window.theme.accent not in pointed
    for colour in lit:
        assert abs(colour.hslHue() - accent.hslHue()) % 360 < 12


def test_the_grip_of_the_bearing_ring_is_in_the_accent(window):
    grip = window.canvas._grip()
    colour = window.canvas.grab().toImage().pixelColor(round(grip.x()), round(grip.y()))
    assert colour.name().upper() == window.theme.accent


def test_short_rows_differ_from_others_by_more_than_colour(window):
    """Their bars are shorter than a quarter, so that nothing depends on telling colours apart."""
    lengths, short = window.strip._length, window.strip._short
    assert short.any()
    assert lengths[short].max() < 0.25 * lengths.max() <= lengths[~short].min()


# contrast

TEXT_ON = {
    "ink": ("panel", "block", "ground"),
    "soft_ink": ("panel", "ground", "block"),
    "accent": ("panel", "block"),
    "caution": ("panel",),
    "better": ("panel",),
    "worse": ("panel",),
    "on_accent": ("accent", "accent_deep"),
}
"""Roles that text is written in, and the grounds it is written on."""
MARKS_ON = {
    "row": ("block", "panel"),
    "water": ("block",),
    "caution": ("block",),
    "ink": ("block",),
}
"""Roles that marks are drawn in."""


@pytest.mark.parametrize(
    ("theme", "text", "ground"),
    [(t, text, g) for t in THEMES.values() for text, gs in TEXT_ON.items() for g in gs],
    ids=lambda v: v if isinstance(v, str) else v.name,
)
def test_text_can_be_read(theme, text, ground):
    assert contrast(theme[text], theme[ground]) >= 4.5


@pytest.mark.parametrize("theme", THEMES.values(), ids=lambda t: t.name)
def test_marks_can_be_told_from_the_block(theme):
    """3:1 for what is drawn. Source: W3C, WCAG 2.1, 1.4.11 (2018)."""
    for role, grounds in MARKS_ON.items():
        for ground in grounds:
            assert contrast(theme[role], theme[ground]) >= 3.0, (role, ground)


def test_contrast_of_black_and_white_is_21():
    assert contrast(QColor("#000000"), QColor("#FFFFFF")) == pytest.approx(21.0)
    assert contrast(QColor("#777777"), QColor("#777777")) == 1.0


def test_every_theme_colours_every_role():
    for theme in THEMES.values():
        for role in ("ground", *TEXT_ON, *MARKS_ON):
            assert theme[role].isValid(), (theme.name, role)
    assert replace(PAPER, name="lamp") != LAMP


def test_the_gallery_has_every_picture(tmp_path, monkeypatch):
    monkeypatch.setattr("tests.pictures.gallery.SIZES", ((1000, 640),))
    monkeypatch.setattr("tests.pictures.gallery.THEME_NAMES", ("lamp",))
    monkeypatch.setattr("tests.pictures.gallery.SITES", ("field_with_pond",))
    names = [p.name.removesuffix("-lamp-1000x640.png") for p in write_gallery(tmp_path)]
    assert {n.removesuffix("-field_with_pond") for n in names} >= {
        "welcome",
        "question",
        "rows",
        "ground",
        "ground-corner",
        "ground-exclusion",
        "ground-sketch",
        "rows-picked",
        "rows-selected",
        "rows-special",
        "rows-curved",
        "handoff-folder",
        "refused",
        "notice",
        "ask",
        "help",
        "drag",
    }
    assert len(set(names)) == len(names)
    assert all(p.stat().st_size > 5000 for p in tmp_path.iterdir())
