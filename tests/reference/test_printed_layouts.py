"""Densities and take-offs that are printed, laid out by the program and counted."""

from __future__ import annotations

import pytest
import shapely

from layoutdesk import Block, RowRules, lay_rows

FOOT_M = 0.3048
ACRE_FT2 = 43_560


def laid_in_feet(width_ft: float, length_ft: float, **rules_ft):
    """A box of feet with rows along its length, nothing kept clear unless told."""
    plain = {
        "headland_m": 0,
        "side_margin_m": 0,
        "first_vine_m": 0,
        "last_vine_m": 0,
        "min_row_m": 0,
    }
    scaled = {
        k: v * FOOT_M if k.endswith("_m") and isinstance(v, float | int) else v
        for k, v in {**plain, **rules_ft}.items()
    }
    outline = shapely.box(0, 0, width_ft * FOOT_M, length_ft * FOOT_M)
    return lay_rows(Block("B1", outline, RowRules(**scaled)))


def vines_on_own_ground(rows: int, vines: int, row_spacing_m: float, vine_spacing_m: float):
    """A plan in which each vine has a rectangle of one row by one vine spacing to itself."""
    outline = shapely.box(0, 0, rows * row_spacing_m, vines * vine_spacing_m)
    return lay_rows(
        Block("B1", outline),
        RowRules(
            row_spacing_m=row_spacing_m,
            vine_spacing_m=vine_spacing_m,
            headland_m=0,
            side_margin_m=0,
            min_row_m=0,
            first_row_m=row_spacing_m / 2,
            first_vine_m=vine_spacing_m / 2,
            last_vine_m=vine_spacing_m / 2,
        ),
    )


@pytest.mark.parametrize(
    ("row_ft", "vine_ft", "per_acre"),
    # 43,560/(r·v), computed; 622 at 10×7 is printed by NC State University Extension, The North
    # Carolina Winegrape Grower's Guide (2007), cost chapter; 792 at 11×5 by UC Cooperative
    # Extension, a cost study of 2012 (second-hand).
    [
        (8, 5, 1089.0),
        (8, 6, 907.5),
        (9, 7, 691.4),
        (10, 6, 726.0),
        (10, 7, 622.3),
        (12, 8, 453.75),
        (11, 5, 792.0),
    ],
)
def test_vines_per_acre(row_ft, vine_ft, per_acre):
    plan = vines_on_own_ground(40, 60, row_ft * FOOT_M, vine_ft * FOOT_M)
    assert plan.n_vines == 40 * 60
    acres = plan.block.outline.area / FOOT_M**2 / ACRE_FT2
    assert plan.n_vines / acres == pytest.approx(per_acre, abs=0.05)


@pytest.mark.parametrize(
    ("row_m", "vine_m", "per_hectare", "rounding"),
    # The Oxford Companion to Wine, Oxford University Press, 3rd ed. 2006, vine density: 10,000,
    # 1,080 (1,081 computed) and 625.
    [(1, 1, 10_000, 0.5), (3.7, 2.5, 1_080, 1.5), (4, 4, 625, 0.5)],
)
def test_vines_per_hectare(row_m, vine_m, per_hectare, rounding):
    plan = vines_on_own_ground(40, 60, row_m, vine_m)
    assert plan.n_vines == 40 * 60
    assert plan.n_vines / (plan.block.outline.area / 1e4) == pytest.approx(
        per_hectare, abs=rounding
    )


class TestCostedBlocks:
    """NC State University Extension, The North Carolina Winegrape Grower's Guide (2007), cost chapter:

    two 330 × 660 ft blocks, 66 rows each at 10 ft, vines 7 ft apart. 47 a row by whole spaces, 48 by
    counting fence posts (computed).
    """

    def plan(self, **ends_ft):
        # Rows in the middle of their 10 ft: 66 of them in 660 ft, not 67.
        return laid_in_feet(660, 330, row_spacing_m=10, vine_spacing_m=7, first_row_m=5, **ends_ft)

    def test_one_vine_for_each_whole_space(self):
        plan = self.plan(first_vine_m=3.5, last_vine_m=3.5)
        assert plan.n_rows == 66
        assert set(plan.segments.n_vines.tolist()) == {47}
        acres = 2 * plan.block.outline.area / FOOT_M**2 / ACRE_FT2
        assert acres == pytest.approx(10.0)
        assert 2 * plan.n_vines / acres == pytest.approx(620.4, abs=0.05)

    def test_a_vine_at_both_ends_as_fence_posts_are_counted(self):
        plan = self.plan()
        assert plan.n_rows == 66
        assert set(plan.segments.n_vines.tolist()) == {48}

    def test_row_lines_on_both_edges_make_one_row_more(self):
        assert laid_in_feet(660, 330, row_spacing_m=10, vine_spacing_m=7).n_rows == 67


def test_square_acre_take_off():
    """University of New Hampshire Extension, a growing guide for another trellised vine, take-off for

    a square acre: 19 rows of 210 ft, 11 ft apart, plants at 10 ft and posts every 30 ft: 399 plants,
    152 posts in the rows, 190 with end anchors. (Title and year not at hand: read second-hand.)
    """
    plan = laid_in_feet(
        210,
        210,
        row_spacing_m=11,
        vine_spacing_m=10,
        first_row_m=5.5,
        first_vine_m=5,
        last_vine_m=5,
        line_post_every=3,
        anchor_m=4,
    )
    assert plan.n_rows == 19
    assert plan.row_length_m / FOOT_M == pytest.approx(19 * 210)
    assert plan.n_vines == 399
    assert len(plan.line_posts) + len(plan.end_posts) == 152
    assert len(plan.line_posts) + len(plan.end_posts) + len(plan.anchors) == 190
    first_row = plan.line_posts.segment == 0
    along_ft = plan.line_posts.xy_m[first_row, 1] / FOOT_M
    assert along_ft.tolist() == pytest.approx([30, 60, 90, 120, 150, 180])
