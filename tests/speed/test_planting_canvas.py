"""How long a million vines coloured by class take to paint, as multiples of blitting a picture of that size.

Nothing timed is asserted. Run with `python -m pytest tests/speed/test_planting_canvas.py --benchmark-only`.
"""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtGui import QImage

from layoutdesk.desk.look import PAPER
from layoutdesk.desk.planting_painting import PlantingLayer
from layoutdesk.session.planting_drawing import LegendEntry, PlantingDrawing
from layoutdesk.session.view import View
from tests.speed.test_canvas import HEIGHT, WIDTH, floor_s

N = 1000
VIEW = View(1.25 * N, 0.75 * N, 0.6, WIDTH, HEIGHT)


@pytest.fixture(scope="module")
def layer() -> PlantingLayer:
    """A million vines, 2.5 m by 1.5 m, most of them planted, some dead."""
    x, y = np.meshgrid(2.5 * np.arange(N), 1.5 * np.arange(N))
    vines = np.column_stack([x.ravel(), y.ravel()])
    kind = (np.arange(len(vines)) // 50_000 % 3).astype(np.int16)
    kind[::20_000] = 3
    counts = np.bincount(kind).tolist()
    roles = ("good", "good", "noted", "amiss")
    legend = tuple(
        LegendEntry(f"class {i}", n, r) for i, (n, r) in enumerate(zip(counts, roles, strict=True))
    )
    return PlantingLayer(PlantingDrawing("plant", vines, kind, legend))


@pytest.mark.parametrize("again", [False, True], ids=["another view", "the same view"])
def test_a_million_vines_in_view(benchmark, qapp, layer, again):
    image = QImage(WIDTH, HEIGHT, QImage.Format.Format_RGB32)
    image.fill(0)
    views = [VIEW, View(VIEW.x_m + 1.0, VIEW.y_m, VIEW.scale, WIDTH, HEIGHT)]
    turn = iter([0, 0 if again else 1] * 100_000)

    benchmark(lambda: layer.paint_dots(image, views[next(turn)], PAPER, 0.9))

    pixels = np.frombuffer(image.constBits(), np.uint32)
    assert len(np.unique(pixels)) == 4, "three colours and what lies beside"
    if benchmark.stats:
        benchmark.extra_info["floor_times"] = round(benchmark.stats.stats.median / floor_s(), 1)
        benchmark.extra_info["ms"] = round(1e3 * benchmark.stats.stats.median, 1)
