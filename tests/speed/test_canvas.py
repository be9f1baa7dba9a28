"""How long the window takes, as multiples of a floor measured in the same run. Nothing timed is asserted.

Run with `python -m pytest tests/speed/test_canvas.py --benchmark-only`. The floor of a picture is blitting a
cached one of its size, 1600×1000 where nothing else is said; the floor of a start is Qt alone to its first
paint.
"""

from __future__ import annotations

import itertools
import statistics
import subprocess
import sys
import time
from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QPointF
from PySide6.QtGui import QImage, QPainter

from layoutdesk import Block, Exclusion, Project, RowRules, Site, SiteFrame
from layoutdesk.desk.canvas import PlanCanvas
from layoutdesk.desk.look import PAPER
from layoutdesk.desk.start import make_application
from layoutdesk.session.drawing import drawing_of
from layoutdesk.session.layouts import Layouter, LayoutRequest
from tests.zoo import wavy

WIDTH, HEIGHT = 1600, 1000
RULES = RowRules(bearing_deg=17.0)


def site_of(hectares: float) -> Project:
    """A wavy block of that size with twenty exclusions."""
    outline = wavy(200, np.sqrt(hectares * 1e4 / np.pi), 7, 0.12)
    rng = np.random.default_rng(5)
    x0, y0, x1, y1 = outline.bounds
    import shapely

    exclusions = tuple(
        Exclusion(shapely.Point(x, y), 5.0)
        for x, y in zip(rng.uniform(x0, x1, 20), rng.uniform(y0, y1, 20), strict=True)
    )
    site = Site(SiteFrame(38.0, 22.0, 0.0), "EPSG:32634", "EPSG:32634")
    return Project("Speed", site, (Block("B1", outline, RULES),), exclusions)


def floor_s(width: int = WIDTH, height: int = HEIGHT) -> float:
    """Median time to blit a cached picture of that size. [s]"""
    cached = QImage(width, height, QImage.Format.Format_RGB32)
    target = QImage(width, height, QImage.Format.Format_RGB32)
    cached.fill(0xFF336699)
    times = []
    for _ in range(25):
        began = time.perf_counter()
        painter = QPainter(target)
        painter.drawImage(0, 0, cached)
        painter.end()
        times.append(time.perf_counter() - began)
    return statistics.median(times)


@pytest.fixture
def canvas(qapp):
    make_application()
    canvas = PlanCanvas(PAPER)
    canvas.resize(WIDTH, HEIGHT)
    canvas.show()
    qapp.processEvents()
    yield canvas
    canvas.close()
    canvas.deleteLater()
    qapp.processEvents()


def set_against_floor(benchmark, vines: int, size_px=(WIDTH, HEIGHT)) -> None:
    floor = floor_s(*size_px)
    benchmark.extra_info["vines"] = vines
    benchmark.extra_info["floor_ms"] = round(1e3 * floor, 3)
    if benchmark.stats:
        median = benchmark.stats.stats.median
        benchmark.extra_info["median_ms"] = round(1e3 * median, 2)
        benchmark.extra_info["times_floor"] = round(median / floor, 1)
        benchmark.extra_info["frames_a_second"] = round(1 / median, 1)


def loaded(canvas, hectares: float):
    """Layouter and project of that size, with the settled plan on the canvas."""
    project, layouter = site_of(hectares), Layouter()
    answer = layouter.answer(LayoutRequest(0, project))
    canvas.show_drawing(drawing_of(answer))
    canvas.repaint()
    return layouter, project, answer


@pytest.mark.parametrize("hectares", [50, 500])
def test_bearing_layout_and_rough_repaint(benchmark, canvas, hectares):
    """One frame of a bearing drag, all of it in one thread."""
    layouter, project, _ = loaded(canvas, hectares)
    revisions, shown = itertools.count(1), []
    block = project.blocks[0]

    def frame():
        n = next(revisions)
        turned = replace(block, rules=replace(block.rules, bearing_deg=17 + 0.1 * n))
        request = LayoutRequest(n, project.with_block(turned), settled=False)
        answer = layouter.answer(request)
        canvas.show_handle(0.0, 0.0, turned.rules.bearing_deg)
        canvas.show_drawing(drawing_of(answer))
        canvas.repaint()
        shown[:] = [answer]

    benchmark(frame)
    [answer] = shown
    assert answer.tally.vines > 1000 * hectares
    assert canvas.drawing.answer is answer
    set_against_floor(benchmark, answer.tally.vines)


@pytest.mark.parametrize("hectares", [50, 500])
def test_fine_picture_of_the_whole_site(benchmark, canvas, hectares):
    _, _, answer = loaded(canvas, hectares)

    def paint():
        canvas._paint_finely()
        canvas.repaint()

    benchmark(paint)
    set_against_floor(benchmark, answer.tally.vines)


ZOOMS_PX = [None, 2, 4, 7, 25]
"""Pixels between vines; None is the whole site."""
WIDE_PX = (3840, 2160)


def painted_at(canvas, vine_px: float | None):
    """A million vines, finely painted at that zoom; the answer shown."""
    _, _, answer = loaded(canvas, 500)
    assert answer.tally.vines > 1_000_000
    if vine_px is None:
        canvas.fit()
    else:
        scale = vine_px / RULES.vine_spacing_m
        canvas.look_at(replace(canvas.view, x_m=0.0, y_m=0.0, scale=scale))
    canvas._paint_finely()
    canvas.repaint()
    return answer


def told_as(benchmark, canvas, answer, before) -> None:
    """Whether the picture there was before was moved, beside the floor of the canvas's size."""
    moved = canvas._picture is before
    benchmark.extra_info["frame"] = "moved picture" if moved else "painted anew"
    set_against_floor(benchmark, answer.tally.vines, (canvas.width(), canvas.height()))


@pytest.mark.parametrize("vine_px", ZOOMS_PX)
def test_fine_picture_of_a_million_vines(benchmark, canvas, vine_px):
    answer = painted_at(canvas, vine_px)
    before = canvas._picture

    def paint():
        canvas._paint_finely()
        canvas.repaint()

    benchmark(paint)
    told_as(benchmark, canvas, answer, before)


@pytest.mark.parametrize("vine_px", ZOOMS_PX)
def test_pan_step_over_a_million_vines(benchmark, canvas, vine_px):
    answer = painted_at(canvas, vine_px)
    before = canvas._picture
    steps = itertools.cycle([(7, 5)] * 20 + [(-7, -5)] * 20)

    def pan():
        canvas.look_at(canvas.view.panned(*next(steps)))
        canvas.repaint()

    benchmark(pan)
    told_as(benchmark, canvas, answer, before)


@pytest.mark.parametrize("vine_px", ZOOMS_PX)
def test_zoom_step_over_a_million_vines(benchmark, canvas, vine_px):
    answer = painted_at(canvas, vine_px)
    before = canvas._picture
    steps = itertools.cycle([1.2, 1 / 1.2])

    def zoom():
        canvas.zoom(next(steps), QPointF(620, 360))
        canvas.repaint()

    benchmark(zoom)
    told_as(benchmark, canvas, answer, before)


@pytest.mark.parametrize("vine_px", ZOOMS_PX)
def test_pan_step_on_a_wide_screen_moves_the_picture(benchmark, canvas, vine_px):
    """3840×2160, as where a fine picture takes longer than a frame."""
    canvas.resize(*WIDE_PX)
    answer = painted_at(canvas, vine_px)
    before = canvas._picture
    canvas._fine_cost_s = 1.0
    steps = itertools.cycle([(7, 5)] * 20 + [(-7, -5)] * 19)

    def pan():
        canvas.look_at(canvas.view.panned(*next(steps)))
        canvas.repaint()

    benchmark(pan)
    assert canvas._picture is before
    assert canvas._pictured != canvas.view
    told_as(benchmark, canvas, answer, before)


@pytest.mark.parametrize("vine_px", ZOOMS_PX)
def test_settling_on_a_wide_screen(benchmark, canvas, vine_px):
    """What follows a pan: rough at once where fine would wait, then finely."""
    canvas.resize(*WIDE_PX)
    answer = painted_at(canvas, vine_px)
    before = canvas._picture
    ways = itertools.cycle([(300, 200), (-300, -200)])
    rough_s = []

    def moved():
        canvas.look_at(canvas.view.panned(*next(ways)))
        canvas._at_rest = False
        began = time.perf_counter()
        canvas.redraw()
        canvas.repaint()
        rough_s.append(time.perf_counter() - began)

    def settle():
        canvas._paint_finely()
        canvas.repaint()

    benchmark.pedantic(settle, setup=moved, rounds=8, warmup_rounds=1)
    assert canvas._pictured == canvas.view
    benchmark.extra_info["rough_ms"] = round(1e3 * statistics.median(rough_s), 1)
    told_as(benchmark, canvas, answer, before)


def test_pointing_at_rows_needs_no_new_plan(benchmark, canvas):
    """What moves over the cached picture."""
    _, _, answer = loaded(canvas, 500)
    segments = itertools.cycle(range(answer.plans[0].n_segments))

    def point():
        canvas.point_at((0, next(segments)))
        canvas.repaint()

    benchmark(point)
    set_against_floor(benchmark, answer.tally.vines)


@pytest.mark.parametrize("hectares", [50, 500])
def test_row_under_the_pointer(benchmark, canvas, hectares):
    _, _, answer = loaded(canvas, hectares)
    places = itertools.cycle([QPointF(600 + 3 * k, 300 + k) for k in range(100)])

    def look():
        at = next(places)
        return canvas._row_under(*canvas.view.to_site(at.x(), at.y()))

    benchmark(look)
    set_against_floor(benchmark, answer.tally.vines)


# start-up, from the process's birth to the first picture on the screen

_CHILD = """
import os, sys, tempfile, time
born = float(sys.argv[1])
{first}
from PySide6.QtCore import QEvent, QObject, QSettings
class FirstPaint(QObject):
    def eventFilter(self, watched, event):
        if event.type() == QEvent.Type.Paint:
            print(1e3 * (time.time() - born), len(sys.modules), flush=True)
            os._exit(0)
        return False
{window}
seen = FirstPaint()
watched.installEventFilter(seen)
window.show()
app.exec()
"""
_DESK = """
from layoutdesk.desk.start import make_application
app = make_application()
from layoutdesk.desk.window import DeskWindow
path = os.path.join(tempfile.mkdtemp(), "settings.ini")
window = DeskWindow(QSettings(path, QSettings.Format.IniFormat))
watched = window.canvas
"""
_QT_ALONE = """
from PySide6.QtWidgets import QApplication, QWidget
app = QApplication([])
window = watched = QWidget()
"""
_EVERYTHING = "import geopandas, pyogrio, ezdxf, pyproj, pint, pygeomag, shapely, numpy"
STARTS = {
    "Qt alone": _CHILD.format(first="", window=_QT_ALONE),
    "desk": _CHILD.format(first="", window=_DESK),
    "everything up front": _CHILD.format(first=_EVERYTHING, window=_DESK),
}


def first_paint_ms(code: str) -> float:
    """From the birth of a process to its first paint. [ms]"""
    done = subprocess.run(
        [sys.executable, "-c", code, str(time.time())],
        capture_output=True,
        text=True,
        timeout=120,
        check=True,
    )
    return float(done.stdout.split()[0])


def test_start_to_first_paint(benchmark):
    taken: dict[str, list[float]] = {name: [] for name in STARTS}

    def start():
        for name, code in STARTS.items():
            taken[name].append(first_paint_ms(code))

    benchmark.pedantic(start, rounds=5, warmup_rounds=1)
    assert all(taken.values())
    medians = {name: statistics.median(ms[1:] or ms) for name, ms in taken.items()}
    for name, ms in medians.items():
        benchmark.extra_info[f"{name}_ms"] = round(ms)
    benchmark.extra_info["times_floor"] = round(medians["desk"] / medians["Qt alone"], 2)
    benchmark.extra_info["share_of_everything"] = round(
        medians["desk"] / medians["everything up front"], 2
    )
