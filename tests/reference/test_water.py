"""Laterals, friction and uniformity against printed figures and against EPANET."""

from __future__ import annotations

from functools import partial

import numpy as np
import pytest

from layoutdesk.core.water import Emitter, Friction, even_laterals, solve_laterals
from layoutdesk.core.water.friction import (
    friction_factor,
    friction_factor_blasius,
    reynolds,
    water_viscosity_m2_s,
)
from layoutdesk.core.water.uniformity import christiansen_f, emission_uniformity_pct
from tests.epanet_network import GRAVITY_M_S2, VISCOSITY_M2_S, solve_network, write_network

as_epanet = partial(Friction, viscosity_m2_s=VISCOSITY_M2_S, gravity_m_s2=GRAVITY_M_S2)
ALIKE = 5e-6
"""EPANET stops at flow changes of 1e-5 of all flow, and has 0.02517 for 8/(π²·32.2)."""


def lateral(grade=0.0, n=100, barb_loss=0.0):
    """Outlets at 1 m on a tube of 13.6 mm."""
    height = grade * np.arange(1, n + 1)
    return even_laterals(
        [n], 1.0, 1.0, 0.0136, outlet_height_m=height, inlet_height_m=0.0, barb_loss=barb_loss
    )


# Computed once with EPANET 2.2 and 2.3 (owa-epanet, wntr and epyt alike): 2.0 L/h at 10 m, inlet
# head 12 m, roughness 0.0015 mm, 1.0219e-6 m²/s. Head at the last outlet [m], flow of all [L/h].
LATERALS = {
    "level": ({}, {}, 11.20312, 213.52825),
    "falling 2 %": ({"grade": -0.02}, {}, 13.12284, 222.25636),
    "rising 2 %": ({"grade": 0.02}, {}, 9.28506, 204.30450),
    "x 0.1": ({}, {"exponent": 0.1}, 11.27431, 202.72961),
    "x 0.05": ({}, {"exponent": 0.05}, 11.28327, 201.36609),
    "4 L/h": ({}, {"nominal_l_h": 4.0}, 9.53383, 403.06463),
    "barbs": ({"barb_loss": 0.5}, {}, 11.07008, 212.58020),
    "200 m": ({"n": 200}, {}, 7.78722, 375.61295),
}


@pytest.mark.parametrize("case", LATERALS)
def test_the_laterals_that_epanet_solved(case):
    tube, kind, head_m, total_l_h = LATERALS[case]
    found = solve_laterals(lateral(**tube), Emitter(**kind), as_epanet(), inlet_head_m=12.0)
    assert found.converged.all()
    assert found.head_m[-1] == pytest.approx(head_m, rel=ALIKE)
    assert found.total_l_h[0] == pytest.approx(total_l_h, rel=ALIKE)
    # With standard gravity friction is 0.08 % more; 0.05 % is what was promised.
    ours = solve_laterals(
        lateral(**tube), Emitter(**kind), Friction(viscosity_m2_s=VISCOSITY_M2_S), inlet_head_m=12.0
    )
    assert ours.head_m[-1] == pytest.approx(head_m, rel=5e-4)
    assert ours.total_l_h[0] == pytest.approx(total_l_h, rel=5e-4)


def test_hazen_williams_is_epanets_and_says_less_than_is_lost():
    found = solve_laterals(lateral(), Emitter(), Friction("hazen-williams"), inlet_head_m=12.0)
    # EPANET 2.2, C 150.
    assert found.head_m[-1] == pytest.approx(11.349048, rel=ALIKE)
    assert found.total_l_h[0] == pytest.approx(214.61059, rel=ALIKE)


def test_blasius_stays_near():
    ours = solve_laterals(lateral(), Emitter(), as_epanet(), inlet_head_m=12.0)
    # 0.35 % in the last emitter's pressure and 0.18 % in its flow, with 64/Re in the laminar tail;
    # computed step by step by another program.
    head = np.full(100, 11.5)
    for _ in range(60):
        flow = np.cumsum(Emitter().flow_l_h(head)[::-1])[::-1] / 3.6e6
        factor = friction_factor_blasius(reynolds(flow, 0.0136, VISCOSITY_M2_S), 2000)
        loss = factor / 0.0136 * 8 * flow**2 / (GRAVITY_M_S2 * np.pi**2 * 0.0136**4)
        head = 12 - np.cumsum(loss)
    assert 1 - head[-1] / ours.head_m[-1] == pytest.approx(0.0035, abs=5e-5)
    last = Emitter().flow_l_h(head[-1])
    assert 1 - last / ours.flow_l_h[-1] == pytest.approx(0.0018, abs=1e-4)
    # Blasius to the very end takes yet more, but little.
    blasius = solve_laterals(lateral(), Emitter(), as_epanet("blasius"), inlet_head_m=12.0)
    assert 11.15 < blasius.head_m[-1] < head[-1]


def test_loss_along_100_equal_outlets():
    # 100 × 2 L/h at 1.5 m, 15.8 mm; computed step by step by another program.
    flow = np.arange(100, 0, -1) * 2 / 3.6e6
    size, piece, viscosity = np.full(100, 0.0158), np.full(100, 1.5), 1.004e-6
    blasius = Friction("blasius", viscosity_m2_s=viscosity)
    assert blasius.loss_and_slope(flow, size, piece)[0].sum() == pytest.approx(0.5547, abs=5e-5)
    factor = friction_factor_blasius(reynolds(flow, size, viscosity), laminar_below=2000)
    loss = factor * piece / size * 8 * flow**2 / (9.80665 * np.pi**2 * size**4)
    assert loss.sum() == pytest.approx(0.5509, abs=5e-5)
    # 0.4146 m with the older 4.8704 for the diameter's power; EPANET's 4.871 gives 0.25 % more.
    hazen = Friction("hazen-williams").loss_and_slope(flow, size, piece)[0].sum()
    assert hazen == pytest.approx(0.4146 * 0.0158**-0.0006, rel=5e-4)


def test_viscosity_of_water():
    # 0.8900 mPa·s and 997.05 kg/m³ at 25 °C; 1.5673 at 4 °C, 0.6578 at 40 °C [mm²/s]: CRC
    # Handbook of Chemistry and Physics (from memory).
    assert water_viscosity_m2_s(25.0) == pytest.approx(0.8900e-3 / 997.05, rel=2e-4)
    assert water_viscosity_m2_s(4.0) == pytest.approx(1.5673e-6, rel=1e-3)
    assert water_viscosity_m2_s(40.0) == pytest.approx(0.6578e-6, rel=1e-3)


def test_friction_factor_of_smooth_pipe_is_that_of_prandtl():
    # Prandtl's 1/√f = 2 log(Re √f) − 0.8 for smooth pipe; Swamee and Jain tell theirs within 1 %
    # of Colebrook's from 5,000, and a little more just below.
    for re in (5e3, 1e4, 1e5, 1e6):
        factor = 0.02
        for _ in range(50):
            factor = (2 * np.log10(re * np.sqrt(factor)) - 0.8) ** -2
        assert friction_factor(re) == pytest.approx(factor, rel=0.015)


# Exact sums, first outlet at a full and at half a spacing. Christiansen, Irrigation by sprinkling,
# Univ. of California Agr. Exp. Sta. Bull. 670, 1942 has the closed form of the same.
SUMS = [
    (1.852, 1, 1.0, 1.0),
    (1.852, 2, 0.6385, 0.5180),
    (1.852, 5, 0.4568, 0.3964),
    (1.852, 10, 0.4022, 0.3707),
    (1.852, 20, 0.3760, 0.3600),
    (1.852, 100, 0.3556, 0.3524),
    (1.75, 10, 0.4151, 0.3843),
    (2.0, 10, 0.3850, 0.3526),
]


@pytest.mark.parametrize(("exponent", "n", "full", "half"), SUMS)
def test_sums_over_equal_outlets(exponent, n, full, half):
    assert christiansen_f(n, exponent) == pytest.approx(full, abs=5.1e-5)
    assert christiansen_f(n, exponent, "half") == pytest.approx(half, abs=5.1e-5)


def test_sums_agree_with_the_closed_form_where_it_holds():
    # Christiansen, 1942: 1/(m+1) + 1/(2N) + √(m−1)/(6N²); 1.9 is Scobey's.
    for m in (1.75, 1.852, 1.9, 2.0):
        for n in (10, 30, 100):
            closed = 1 / (m + 1) + 1 / (2 * n) + np.sqrt(m - 1) / (6 * n**2)
            assert christiansen_f(n, m) == pytest.approx(closed, abs=1e-3)


def test_emission_uniformity_by_keller_and_karmeli():
    # 100 (1 − 1.27 · 0.05 / √2) · 0.95 and, with one emitter a vine, 88.97.
    flows = [1.9, 2.0, 2.1]
    assert emission_uniformity_pct(flows, 0.05, 2) == pytest.approx(90.73, abs=0.005)
    assert emission_uniformity_pct(flows, 0.05, 1) == pytest.approx(88.97, abs=0.005)


def test_a_fifth_less_head_is_a_tenth_less_flow():
    emitter = Emitter(exponent=0.5)
    assert 100 * (1 - emitter.flow_l_h(8.0) / emitter.flow_l_h(10.0)) == pytest.approx(
        10.56, abs=5e-3
    )


def a_block(fed, seed):
    """Ragged laterals on a rough slope, tubes of two sizes."""
    some = np.random.default_rng(seed)
    count = some.integers(1, 160, 30)
    spacing, tube = some.uniform(0.6, 1.4, 30), some.choice([0.0136, 0.0158], 30)
    flat = even_laterals(count, spacing, 0.4, tube)
    grade = some.uniform(-0.03, 0.03, 30)[flat.lateral]
    height = 211.0 + grade * flat.outlet_m + some.normal(0, 0.05, len(flat.outlet_m))
    return even_laterals(
        count,
        spacing,
        0.4,
        tube,
        fed=fed,
        outlet_height_m=height,
        emitters=some.choice([1.0, 2.0], len(height)),
        barb_loss=0.2,
    )


@pytest.mark.parametrize("fed", ["start", "far", "middle"])
@pytest.mark.parametrize("exponent", [0.5, 0.1, 0.05, 1.0])
def test_whole_blocks_on_slopes_against_epanet(fed, exponent, tmp_path):
    pytest.importorskip("epanet")
    block, emitter = a_block(fed, 7), Emitter(exponent=exponent)
    path = tmp_path / "block.inp"
    write_network(path, block, emitter, as_epanet(), 25.0)
    head, flow, _ = solve_network(path, len(block.outlet_m))
    found = solve_laterals(block, emitter, as_epanet(), inlet_head_m=25.0)
    assert found.converged.all()
    assert 2 < found.head_m.min() < 22.5  # friction matters, and nothing runs dry
    assert found.head_m == pytest.approx(head, rel=2e-5)
    assert found.flow_l_h == pytest.approx(flow, rel=2e-5)
    # With standard gravity too: a twentieth of a per cent was promised.
    ours = Friction(viscosity_m2_s=VISCOSITY_M2_S)
    assert solve_laterals(block, emitter, ours, inlet_head_m=25.0).flow_l_h == pytest.approx(
        flow, rel=5e-4
    )
