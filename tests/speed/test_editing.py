"""How long an edit at the whole window takes until it is seen, as multiples of a floor of the same run.

Run with `python -m pytest tests/speed/test_editing.py --benchmark-only`. Layouts are answered in the GUI
thread here, so that a frame is everything from the hand to the picture. The floor is blitting a cached
picture of the canvas's size. Nothing timed is asserted.
"""

from __future__ import annotations

import itertools
import statistics
import time
from dataclasses import replace

import numpy as np
import pytest
import shapely
from PySide6.QtCore import QPoint, QPointF, QSettings
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from layoutdesk import Project, RowRules, Site, SiteFrame
from layoutdesk.core.model import Block
from layoutdesk.desk.start import make_application
from layoutdesk.desk.window import DeskWindow
from layoutdesk.session.drawing import drawing_of
from layoutdesk.session.jobs import NewestWins
from layoutdesk.session.layouts import Layouter, LayoutRequest
from layoutdesk.session.reshaping import ShapeId, checked, with_corner_moved
from tests.desk.hands import LEFT, PLAIN, bury, let_go, move_hand, notices, pixel_of
from tests.speed.test_canvas import floor_s
from tests.zoo import wavy

CORNERS = 5000
HELD = ShapeId("block", "B1")


def site_of(hectares: float, corners: int) -> Project:
    """A wavy block with so many corners and no exclusions."""
    outline = wavy(corners, np.sqrt(hectares * 1e4 / np.pi), 7, 0.12)
    site = Site(SiteFrame(38.0, 22.0, 0.0), "EPSG:32634", "EPSG:32634")
    return Project("Speed", site, (Block("B1", outline, RowRules(bearing_deg=17.0)),))


@pytest.fixture
def window(qapp, tmp_path):
    """The window at 1600×1000 whose layouts are answered at once."""
    make_application()
    settings = QSettings(str(tmp_path / "settings.ini"), QSettings.Format.IniFormat)
    settings.setValue("theme", "paper")
    window = DeskWindow(settings)
    window.layouts.worker.close()
    window.layouts.worker = NewestWins(
        Layouter().answer, window.layouts.answered.emit, threaded=False
    )
    window.resize(1600, 1000)
    window.show()
    qapp.processEvents()
    yield window
    notices(window)
    window.document.mark_saved(window.document.path, window.document.project)
    bury(window)


def show(window, project: Project) -> None:
    window.show_project(project)
    window.ask_settled()
    window.canvas._paint_finely()
    window.canvas.repaint()


def set_against_floor(benchmark, window) -> None:
    floor = floor_s(window.canvas.width(), window.canvas.height())
    benchmark.extra_info["vines"] = window.answer.tally.vines
    benchmark.extra_info["floor_ms"] = round(1e3 * floor, 3)
    if benchmark.stats:
        median = benchmark.stats.stats.median
        benchmark.extra_info["median_ms"] = round(1e3 * median, 1)
        benchmark.extra_info["times_floor"] = round(median / floor, 1)


def median_ms(work, rounds: int = 5) -> float:
    times = []
    for _ in range(rounds):
        began = time.perf_counter()
        work()
        times.append(time.perf_counter() - began)
    return round(1e3 * statistics.median(times), 1)


@pytest.mark.parametrize("hectares", [50, 500])
def test_bearing_scrub_step_at_the_window(benchmark, window, hectares):
    """One step of the paragraph's bearing: edit, layout, all cards and the plan."""
    show(window, site_of(hectares, 200))
    steps = itertools.cycle([1] * 20 + [-1] * 20)

    def step():
        window.rules.move("bearing_deg", next(steps))
        QApplication.processEvents()

    benchmark.pedantic(step, rounds=20, warmup_rounds=2)
    assert window.answer.project == window.document.project
    set_against_floor(benchmark, window)


def outward(window) -> tuple[QPoint, np.ndarray]:
    """Pixel of a corner, and the direction away from the block on the canvas."""
    outline = window.document.project.blocks[0].outline
    x, y = shapely.get_coordinates(outline)[CORNERS // 4].tolist()
    middle = np.array(outline.centroid.coords[0])
    away = (np.array([x, y]) - middle) * (1, -1)
    return pixel_of(window, x, y), away / np.hypot(*away)


def take_a_corner(window, near: bool) -> tuple[QPoint, np.ndarray]:
    """Press on a corner of the block of 5,000; what the drag starts from."""
    window.show_stage("ground")
    window.ground.tool.hold(HELD)
    if near:
        outline = window.document.project.blocks[0].outline
        window.canvas.go_to(*shapely.get_coordinates(outline)[CORNERS // 4].tolist())
    else:
        window.canvas.fit()
    window.canvas.repaint()
    at, away = outward(window)
    QTest.mousePress(window.canvas, LEFT, PLAIN, at)
    assert window.ground.tool.corner is not None
    return at, away


def pulled(at: QPoint, away: np.ndarray, by_px: float) -> QPoint:
    """Beyond the reach of snapping to its neighbours, so that it is never refused."""
    return (QPointF(at) + QPointF(*(away * by_px).tolist())).toPoint()


@pytest.mark.parametrize("near", [False, True], ids=["whole site", "near"])
def test_dragging_a_corner_of_5000(benchmark, window, near):
    """One move of the hand: snapping, edit, layout, all cards and the plan."""
    show(window, site_of(50, CORNERS))
    at, away = take_a_corner(window, near)
    places = itertools.cycle([pulled(at, away, px) for px in (14, 17, 20, 23, 20, 17)])

    def move():
        move_hand(window, next(places))
        QApplication.processEvents()

    benchmark.pedantic(move, rounds=20, warmup_rounds=2)
    assert window.document.undo_label == "corner"
    assert window.answer.project == window.document.project
    let_go(window, next(places))
    set_against_floor(benchmark, window)
    _split_up(benchmark, window)


def _split_up(benchmark, window) -> None:
    """What the parts of a move take by themselves."""
    project, layouter = window.document.project, Layouter()
    corner = window.ground.tool.corner or (0, CORNERS // 4)
    x, y = shapely.get_coordinates(project.blocks[0].outline)[corner[1]].tolist()
    shifts, revisions = itertools.count(1), itertools.count(1)
    edited = []

    def edit():
        by = 0.001 * next(shifts)
        edited.append(with_corner_moved(project, HELD, *corner, x + by, y + by))

    def lay():
        edit()
        return layouter.answer(LayoutRequest(next(revisions), edited[-1], settled=False))

    answer = lay()
    benchmark.extra_info["edit_ms"] = median_ms(edit)
    benchmark.extra_info["edit_and_layout_ms"] = median_ms(lay)
    benchmark.extra_info["drawing_ms"] = median_ms(lambda: drawing_of(answer))
    benchmark.extra_info["validity_ms"] = median_ms(lambda: checked(project, HELD))


def test_letting_a_corner_of_5000_go(benchmark, window):
    """From the release to the settled answer, finely painted."""
    show(window, site_of(50, CORNERS))
    ways = itertools.cycle([26, 14, 20])

    def drag():
        at, away = take_a_corner(window, False)
        to = pulled(at, away, next(ways))
        move_hand(window, to)
        QApplication.processEvents()
        return (to,), {}

    def settle(to):
        let_go(window, to)
        window.canvas._paint_finely()
        QApplication.processEvents()

    benchmark.pedantic(settle, setup=drag, rounds=6)
    assert window.answer.settled
    assert window.answer.project == window.document.project
    set_against_floor(benchmark, window)
    block = window.document.project.blocks[0]
    turned = replace(block, rules=replace(block.rules, bearing_deg=18.0))
    request = LayoutRequest(1, window.document.project.with_block(turned))
    benchmark.extra_info["settled_layout_ms"] = median_ms(lambda: Layouter().answer(request), 3)
