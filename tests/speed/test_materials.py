"""How long a take-off of 500 ha takes, against a floor. Nothing timed is asserted.

`extra_info["times_floor"]` is how many times as long as writing the coordinates of all vines once takes,
in the same run; on terrain `times_heights` is how many times as long as the heights alone take that
lengths are made from. Rolls: `times_sorted` is how many times as long as sorting the wires in Python takes.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from layoutdesk import lay_rows
from layoutdesk.core.materials.rolls import cut_rolls
from layoutdesk.core.materials.takeoff import take_off
from layoutdesk.core.materials.units_of_sale import needs, orders
from layoutdesk.core.terrain.surface import GridSurface
from tests.speed.test_layout import _median_s, set_against_floor, site_of


@pytest.fixture(scope="module")
def plan():
    block, exclusions = site_of(500)
    return lay_rows(block, None, exclusions)


def ground(outline, cells: int = 1500) -> GridSurface:
    x0, y0, x1, y1 = outline.bounds
    step = 1.05 * max(x1 - x0, y1 - y0) / cells
    at = (np.arange(cells) + 0.5) * step

    def to_cells(xy):
        return np.column_stack([(xy[:, 0] - x0) / step, cells - (xy[:, 1] - y0) / step])

    z = 100 + 30 * np.sin(at / 150) * np.cos(at[::-1, None] / 210)
    return GridSurface(z, to_cells, step, (x0, y0, x0 + cells * step, y0 + cells * step))


def test_take_off_of_five_hundred_hectares(benchmark, plan):
    # A copy of the plan knows none of its counts yet.
    found = benchmark(lambda: take_off([replace(plan)], {}))
    benchmark.extra_info["segments"] = len(found.amounts)
    set_against_floor(benchmark, plan.n_vines)


def test_take_off_on_terrain(benchmark, plan):
    surface = ground(plan.block.outline)
    benchmark(lambda: take_off([replace(plan)], {}, surface))
    set_against_floor(benchmark, plan.n_vines)
    n = 400_000
    segment = np.sort(np.random.default_rng(0).integers(0, plan.n_segments, n))
    s = plan.segments
    along = s.start_m[segment] + s.length_m[segment] * np.linspace(0, 1, n)
    places = plan.places(segment, along)
    heights = _median_s(lambda: surface.heights_m(places), 5)
    if benchmark.stats:
        times = benchmark.stats.stats.median / heights
        benchmark.extra_info["times_heights"] = round(times, 2)


def test_orders_of_five_hundred_hectares(benchmark, plan):
    wanted = needs(take_off([plan], {}))
    benchmark(orders, wanted)
    set_against_floor(benchmark, plan.n_vines)


@pytest.mark.parametrize("joins", [0, 1])
def test_fourteen_thousand_wires_of_as_many_lengths(benchmark, joins):
    wires = np.random.default_rng(1).uniform(40, 600, 14_000)
    found = benchmark(cut_rolls, wires, 648.0, joins)
    benchmark.extra_info |= {"rolls": found.n_rolls, "bound": found.bound, "joins": found.n_joins}
    if benchmark.stats:
        floor = _median_s(lambda: sorted(wires.tolist()))
        benchmark.extra_info["times_sorted"] = round(benchmark.stats.stats.median / floor, 1)


def test_a_whole_take_off_with_its_orders(benchmark, plan):
    """Counted, cut from rolls, rounded up to what is sold, and looked at by mechanics: 500 ha."""
    from layoutdesk.core.model import Project, Site, SiteFrame
    from layoutdesk.session.taking_off import TakeOffCounter, TakeOffRequest

    site = Site(SiteFrame(47.0, 8.0), "EPSG:25832", "EPSG:25832")
    project = Project("x", site, (plan.block,))
    found = benchmark(lambda: TakeOffCounter().answer(TakeOffRequest(0, project, (replace(plan),))))
    assert found.lines
    set_against_floor(benchmark, plan.n_vines)
