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
