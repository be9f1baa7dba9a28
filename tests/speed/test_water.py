"""How long a block's laterals take, as a share of EPANET's time in the same run. Nothing timed is asserted.

`extra_info["epanet_times"]` is how many times as long EPANET's C toolkit takes to open, solve and
read the same network; that both find the same is asserted.
"""

from __future__ import annotations

import pytest

from layoutdesk.core.water import Emitter, Friction, even_laterals, solve_laterals
from tests.epanet_network import GRAVITY_M_S2, VISCOSITY_M2_S, solve_network, write_network
from tests.speed.test_projection import once_s

FRICTION = Friction(viscosity_m2_s=VISCOSITY_M2_S, gravity_m_s2=GRAVITY_M_S2)


@pytest.mark.parametrize("exponent", [0.5, 0.05])
def test_a_block_of_200_laterals_of_100_emitters(benchmark, exponent, tmp_path):
    pytest.importorskip("epanet")
    emitter = Emitter(exponent=exponent)

    def ours():
        rows = even_laterals([100] * 200, 1.0, 1.0, 0.0136)
        return solve_laterals(rows, emitter, FRICTION, inlet_head_m=12.0)

    found = benchmark(ours)
    path = tmp_path / "block.inp"
    write_network(path, found.laterals, emitter, FRICTION, 12.0)
    head, flow, trials = solve_network(path, 20_000)
    assert found.head_m == pytest.approx(head, rel=1e-4)
    assert found.flow_l_h == pytest.approx(flow, rel=1e-4)
    if benchmark.stats:
        ours_s = benchmark.stats.stats.median
        epanet_s = once_s(lambda: solve_network(path, 20_000))
        benchmark.extra_info["ms"] = round(1e3 * ours_s, 1)
        benchmark.extra_info["epanet_ms"] = round(1e3 * epanet_s, 1)
        benchmark.extra_info["epanet_times"] = round(epanet_s / ours_s, 1)
        benchmark.extra_info["epanet_trials"] = trials


def test_a_scrub_of_the_tube_or_the_head(benchmark):
    """As while a hand scrubs: 200 laterals of 100, fed from the middle on a slope, new every time."""
    sizes = [0.0120 + 0.0001 * i for i in range(60)]
    turn = iter(sizes * 10_000)

    def scrubbed():
        rows = even_laterals([100] * 200, 1.0, 0.5, next(turn), fed="middle", barb_loss=0.4)
        found = solve_laterals(rows, Emitter(), FRICTION, inlet_head_m=14.0)
        return found.total_l_h, found.least_l_h, found.greatest_l_h

    total, least, greatest = benchmark(scrubbed)
    assert (least <= greatest).all()
    assert (total > 0).all()


@pytest.mark.parametrize("exponent", [0.5, 0.05])
def test_a_site_designed_anew_while_a_hand_scrubs(benchmark, exponent):
    """Sets, pipes, all vines, judgement and run times of 200 rows of 100 vines, the tube another each time.

    `times_solve` is how many times as long as one solution of its laterals alone takes, in the same run.
    """
    import shapely

    from layoutdesk import Block, RowRules, lay_rows
    from layoutdesk.core.model import Drip, Project, Site, SiteFrame, Water
    from layoutdesk.session.watering import WaterDesigner, WaterRequest

    rules = RowRules(bearing_deg=0.0, row_spacing_m=2.4, vine_spacing_m=1.5)
    plan = lay_rows(Block("B1", shapely.box(0, 0, 486, 166), rules))
    site = Site(SiteFrame(47.0, 8.0), "EPSG:25832", "EPSG:25832")
    designer, turn = WaterDesigner(), iter(range(10**9))

    def scrubbed():
        drip = Drip(exponent=exponent, tube_mm=13.6 + 0.1 * (next(turn) % 30))
        project = Project("x", site, (plan.block,), water=Water((("B1", drip),)))
        return designer.answer(WaterRequest(0, project, (plan,), haste=True))

    found = benchmark(scrubbed)
    assert len(found.design.vine_flow_l_h) == plan.n_vines
    assert all(s.is_served for s in found.design.sets)
    if benchmark.stats:
        laterals, emitter = found.design.lines.laterals, Emitter(exponent=exponent)
        alone = once_s(lambda: solve_laterals(laterals, emitter, inlet_head_m=15.0))
        benchmark.extra_info["ms"] = round(1e3 * benchmark.stats.stats.median, 1)
        benchmark.extra_info["times_solve"] = round(benchmark.stats.stats.median / alone, 1)
