"""Printed figures on wire, posts and ends, re-created by the take-off and the mechanics."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from layoutdesk import Block, RowRules, lay_rows
from layoutdesk.core.materials.ground_lengths import ground_lengths
from layoutdesk.core.materials.mechanics import (
    anchor_for_m,
    breaking_load_n,
    end_pull,
    end_shape,
    roll_length_m,
    sag_m,
    tension_after_n,
)
from layoutdesk.core.materials.rolls import size_bound
from layoutdesk.core.materials.takeoff import take_off
from layoutdesk.core.model import Project, Site, SiteFrame
from layoutdesk.core.model.trellis import FoliageWire, Trellis, Wire
from layoutdesk.core.terrain.grades import row_grades
from layoutdesk.session.stakeout import lay_project
from layoutdesk.session.taking_off import TakeOffCounter, TakeOffRequest
from tests.reference.test_printed_layouts import FOOT_M, laid_in_feet

POUND_FORCE_N = 4.4482216152605  # from definition
PSI_MPA = 0.006894757293168  # from definition


class Slope:
    """Ground rising by a grade towards the north, known everywhere or up to a line."""

    spacing_m = 2.0
    bounds_m = (-500.0, -500.0, 500.0, 500.0)

    def __init__(self, grade_pct: float, known_to_m: float = math.inf):
        self.grade_pct, self.known_to_m = grade_pct, known_to_m

    def heights_m(self, xy_m):
        y = xy_m[:, 1]
        return np.where(y <= self.known_to_m, 50 + self.grade_pct / 100 * y, np.nan)


@pytest.mark.parametrize(
    ("diameter_mm", "printed_m", "computed_m"),
    # Length of a 25 kg coil, trade figures printed in 1980 (title not at hand): 648 and 253 m;
    # 649 and 253 computed at 7,850 kg/m³.
    [(2.50, 648, 649), (4.00, 253, 253)],
)
def test_length_of_a_25_kg_coil(diameter_mm, printed_m, computed_m):
    length = roll_length_m(25.0, diameter_mm)
    assert round(length) == computed_m
    assert length == pytest.approx(printed_m, rel=0.002)  # printed for a slightly denser coil


def test_breaking_load_of_high_tensile_wire():
    """12½ ga at 170,000 psi breaks at 1,309 lbf: USDA NRCS, construction specification 382 Fence,

    Georgia; 0.099 in is the gauge's diameter (from memory), the product is computed.
    """
    load = breaking_load_n(0.099 * 25.4, 170_000 * PSI_MPA)
    assert load / POUND_FORCE_N == pytest.approx(1309, abs=0.5)


def test_square_acre_take_off():
    """University of New Hampshire Extension, a growing guide for another trellised vine: 19 rows,

    399 plants, 152 posts in the rows, 190 with end anchors. (Title and year not at hand.)
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
    trellis = Trellis(wrap_m=0, foliage_wires=(), drip_wire_height_m=None)
    found = take_off([plan], {"B1": trellis})
    assert len(found.rows) == 19
    assert found.of("training_stakes") == 399
    assert found.of("line_posts") + found.of("end_posts") == 152
    assert found.of("line_posts") + found.of("end_posts") + found.of("anchors") == 190
    assert found.of("fruiting_wire_m") / FOOT_M == pytest.approx(19 * 210)
    assert found.theoretical_vines[0] == pytest.approx(210 * 210 / 110)


def test_square_acre_counted_from_a_project():
    """The same square acre and source, from a project to order lines, anchors by the kind of end."""
    rules = RowRules(
        bearing_deg=0.0,
        row_spacing_m=11 * FOOT_M,
        vine_spacing_m=10 * FOOT_M,
        headland_m=0.0,
        side_margin_m=0.0,
        first_row_m=5.5 * FOOT_M,
        first_vine_m=5 * FOOT_M,
        last_vine_m=0.0,
        line_post_every=3,
        anchor_m=4 * FOOT_M,
        min_row_m=0.0,
    )
    block = Block("B1", shapely.box(0, 0, 210 * FOOT_M, 210 * FOOT_M), rules)
    site = Site(SiteFrame(47.0, 8.0), "EPSG:25832", "EPSG:25832")
    project = Project("Acre", site, (block,))
    plans = lay_project(project, check=False)
    found = TakeOffCounter().answer(TakeOffRequest(0, project, plans))
    needed = {
        line.supply.product.item: line.order.need.counted
        for line in found.lines
        if line.supply.product.item != "wire"
    }
    assert plans[0].n_rows == 19
    assert needed["training_stakes"] == 399
    assert needed["line_posts"] + needed["end_posts"] == 152
    assert needed["line_posts"] + needed["end_posts"] + needed["anchors"] == 190


@pytest.mark.parametrize(
    ("bay_ft", "vine_ft", "every", "posts"),
    # Line posts every 21, 24 or 28 ft, a whole number of vine spaces: Domoto, Constructing a
    # Vineyard Trellis, Iowa State University, 2002 (second-hand); their number in the 330-ft rows
    # of NC State University's costed blocks (The North Carolina Winegrape Grower's Guide, 2007) is
    # computed: whole bays from the first vine to the last.
    [(21, 7, 3, 15), (24, 8, 3, 13), (24, 6, 4, 13), (28, 7, 4, 11)],
)
def test_line_posts_at_printed_bays(bay_ft, vine_ft, every, posts):
    half = vine_ft / 2
    plan = laid_in_feet(
        100,
        330,
        row_spacing_m=10,
        vine_spacing_m=vine_ft,
        first_row_m=5,
        first_vine_m=half,
        last_vine_m=half,
        line_post_every=every,
    )
    found = take_off([plan], {})
    assert found.of("line_posts") == 10 * posts
    first = plan.line_posts.xy_m[plan.line_posts.segment == 0, 1] / FOOT_M
    assert np.diff(first) == pytest.approx(bay_ft)


@pytest.mark.parametrize(
    ("grade_pct", "slope_m"),
    # Slope length of 100 m in plan, computed from definition.
    [(0, 100.0), (10, 100.499), (20, 101.980), (30, 104.403)],
)
def test_wire_on_a_slope(grade_pct, slope_m):
    outline = shapely.box(0, 0, 10, 100)
    rules = RowRules(headland_m=0, side_margin_m=0, row_spacing_m=2.5)
    plan = lay_rows(Block("B1", outline, rules))
    found = take_off([plan], {"B1": Trellis(wrap_m=0.0)}, Slope(grade_pct))
    assert found.lengths.basis == "ground"
    assert found.of("fruiting_wire_m") / plan.n_rows == pytest.approx(slope_m, abs=5e-4)
    wrapped = take_off([plan], {"B1": Trellis(wrap_m=0.4)}, Slope(grade_pct))
    assert wrapped.of("fruiting_wire_m") / plan.n_rows == pytest.approx(slope_m + 0.8, abs=5e-4)


def test_where_no_height_is_known_plan_length_counts_and_is_told():
    outline = shapely.box(0, 0, 10, 100)
    plan = lay_rows(Block("B1", outline, RowRules(headland_m=0, side_margin_m=0)))
    half = ground_lengths([plan], Slope(20, known_to_m=50.0))
    assert half.basis == "ground where known"
    assert half.length_m == pytest.approx(50 + 50.990, abs=0.05)
    assert half.unknown_m == pytest.approx(50 * plan.n_rows, abs=2 * plan.n_rows)
    flat = take_off([plan], {})
    assert flat.lengths.basis == "plan"
    assert "no terrain is known" in flat.statement


def test_lengths_are_those_of_the_grades():
    rules = RowRules(bearing_deg=33, headland_m=3)
    plan = lay_rows(Block("B1", shapely.box(0, 0, 150, 120), rules))
    bumpy = Slope(0)
    bumpy.heights_m = lambda xy: 4 * np.sin(xy[:, 0] / 9) + 3 * np.cos(xy[:, 1] / 7)
    grades = row_grades(plan, bumpy)
    assert ground_lengths([plan], bumpy).length_m == pytest.approx(grades.ground_length_m, abs=1e-9)
    assert grades.ground_length_m.sum() > 1.01 * plan.row_length_m


def test_brace_at_sixty_degrees():
    """Post and brace at 60° to the ground, 6 ft high: 6.93 ft (Domoto, 2002, second-hand; computed).

    With both at 60° the triangle has three equal sides, so that the anchor is as far out.
    """
    six = 6 * FOOT_M
    braced = Trellis(ends="slanted brace", tie_height_m=six, end_post_driven_m=0.9)
    assert end_shape(braced, 0.0).member_m / FOOT_M == pytest.approx(6.93, abs=0.005)
    out = anchor_for_m(six, 60, 60)
    assert out / FOOT_M == pytest.approx(6.93, abs=0.005)
    leaning = Trellis(tie_height_m=six, end_post_length_m=3.6, end_angle_deg=60)
    tied = end_shape(leaning, out)
    assert (tied.member_m, tied.angle_deg) == (pytest.approx(out), pytest.approx(60))


@pytest.mark.parametrize("ends", ["tied back", "braced inside", "slanted brace"])
def test_end_pull_stands_in_balance(ends):
    """Moments and levels about the end post's foot, from definition, for one wire at 1.5 m."""
    wire = Wire(2.5, 1200, 1000)
    trellis = Trellis(
        ends=ends,
        fruiting_wire_height_m=1.5,
        fruiting_wire=wire,
        foliage_wires=(),
        drip_wire_height_m=None,
    )
    pull, shape = end_pull(trellis, 1.5), end_shape(trellis, 1.5)
    assert pull.pull_n == pytest.approx(1000)
    assert pull.moment_n_m == pytest.approx(1500)
    angle = math.radians(shape.angle_deg)
    # Where tie or brace meets the post at the wire's height, its level part is the wire's pull.
    assert pull.member_n * math.cos(angle) == pytest.approx(1000)
    assert pull.member_n * math.sin(angle) == pytest.approx(pull.uplift_n)


def test_a_tie_at_45_degrees_bears_root_two_of_the_pull():
    trellis = Trellis(foliage_wires=(FoliageWire(1.8, paired=False),), drip_wire_height_m=None)
    pull = end_pull(trellis, anchor_m=1.8)
    moment = 1100 * 0.9 + 500 * 1.8
    assert pull.member_n == pytest.approx(moment / 1.8 * math.sqrt(2))
    assert math.isnan(end_pull(trellis, anchor_m=0.0).member_n)


def test_tension_follows_temperature():
    """A straight steel wire of 2.5 mm: E·A·α is 12.37 N for each kelvin (EN 1993-1-1:2005, 3.2.6)."""
    wire = Wire(2.5, 1200, 1100)
    per_k = 210_000 * math.pi / 4 * 2.5**2 * 12e-6
    assert per_k == pytest.approx(12.37, abs=0.005)
    cold, same, hot, slack = tension_after_n(wire, [-30, 0, 30, 100])
    assert cold - same == pytest.approx(30 * per_k)
    assert same - hot == pytest.approx(30 * per_k)
    assert slack == 0
    hanging = tension_after_n(wire, [-30, 0, 30, 100], span_m=6.0)
    assert hanging[1] == pytest.approx(1100)
    assert hanging[3] > 0
    assert hanging[0] < cold
    assert np.all(np.diff(hanging) < 0)


def test_load_stretches_a_wire_by_what_its_curve_is_longer():
    """The arc of a parabola is longer than its chord by 8·f²/3·l (from definition): the wire's strain."""
    wire, span, load = Wire(2.5, 1200, 1100), 6.0, 30.0
    tension = float(tension_after_n(wire, 0.0, span, load))
    f, f_drawn = sag_m(load, span, tension), sag_m(0.37788, span, 1100)  # own weight
    longer = 8 / 3 * (f**2 - f_drawn**2) / span
    area = math.pi / 4 * 2.5**2
    assert (tension - 1100) / (210_000 * area) * span == pytest.approx(longer, rel=1e-4)


def test_size_bound_sees_what_cannot_share_a_roll():
    """Seven of 6 and three of 4 in rolls of 10: seven rolls, where lengths alone say six.

    The bound L2 of Martello and Toth, Knapsack Problems, Wiley 1990, chapter 8; case by hand.
    """
    assert size_bound([6] * 7 + [4] * 3, 10) == 7
    assert -(-(6 * 7 + 4 * 3) // 10) == 6
