"""Plantable ground where its rim is hard to tell: jagged, necked, reached across, crossed."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from layoutdesk.core.layout.rows import lay_rows
from layoutdesk.core.model import Block, EdgeWidth, Exclusion, RowRules
from tests.core.random_cases import differences
from tests.zoo import wavy


def jagged(noise_m: float, step_m: float, radius_m: float = 70.0, seed: int = 4) -> shapely.Polygon:
    """A round outline whose corners jump in and out, as one drawn from an aerial picture has."""
    n = int(2 * np.pi * radius_m / step_m)
    angle = 2 * np.pi * np.arange(n) / n
    r = radius_m + np.random.default_rng(seed).normal(0, noise_m, n)
    return shapely.Polygon(np.column_stack([r * np.cos(angle), r * np.sin(angle)]))


U_WITH_A_GAP = shapely.Polygon(
    # Two arms 4 m apart: the headland of one reaches across the gap into the other.
    [(0, 0), (84, 0), (84, 90), (44, 90), (44, 20), (40, 20), (40, 90), (0, 90)]
)


@pytest.mark.parametrize("bearing", [0.0, 21.0, 90.0, 137.0])
@pytest.mark.parametrize(
    "outline",
    [jagged(0.3, 2.0), jagged(0.02, 2.0), wavy(90, 70, 6, 0.2), U_WITH_A_GAP],
    ids=["jagged", "nearly smooth", "wavy", "arms"],
)
def test_rows_are_those_of_the_slow_way(outline, bearing):
    rules = RowRules(bearing_deg=bearing, headland_m=9.0, side_margin_m=2.0, min_row_m=5.0)
    found, _ = differences(Block("B1", outline, rules), [Exclusion(shapely.Point(9, 30), 6.0)])
    assert found == []


def test_a_width_reaches_into_ground_beyond_a_gap():
    rules = RowRules(headland_m=0.0, side_margin_m=0.0, min_row_m=5.0)
    wide = Block(
        "B1", U_WITH_A_GAP, rules, (EdgeWidth(0, 5, 11.0),)
    )  # along x = 40, the left arm's
    reached = lay_rows(wide).vines.xy_m
    assert (reached[:, 0] > 44).any()
    beyond = reached[(reached[:, 0] > 44) & (reached[:, 1] > 21)]
    assert beyond[:, 0].min() >= 51.0 - 1e-6  # 11 m from x = 40, through the gap
    found, _ = differences(wide, [])
    assert found == []


def test_an_exclusion_that_crosses_itself_bars_both_its_lobes():
    block = Block("B1", shapely.box(-60, -60, 60, 60), RowRules(min_row_m=3.0))
    bow = shapely.Polygon([(-30, -20), (30, 20), (30, -20), (-30, 20)])
    vines = lay_rows(block, block.rules, [Exclusion(bow, 1.0)]).vines.xy_m
    lobes = shapely.make_valid(bow)
    away = shapely.distance(lobes, shapely.points(vines))
    assert away.min() >= 1.0 - 1e-6
    assert len(vines) < len(lay_rows(block).vines.xy_m)


@pytest.mark.parametrize("seed", range(25))
def test_a_shape_in_a_moving_hand_never_stops_the_program(seed):
    """Outlines that cross themselves are refused when the hand lets go; until then they are laid."""
    rng = np.random.default_rng(seed)
    outline = shapely.Polygon(rng.uniform(-100, 100, (9, 2)))
    pond = Exclusion(shapely.Polygon(rng.uniform(-60, 60, (6, 2))), 3.0)
    rules = RowRules(bearing_deg=float(rng.uniform(0, 180)))
    plan = lay_rows(Block("B1", outline, rules), rules, [pond], check=False)
    assert np.isfinite(plan.vines.xy_m).all()
