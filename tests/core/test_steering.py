"""Lines that machines are steered along lie where rows are, and between them, whatever is left out."""

from __future__ import annotations

import numpy as np
import shapely

from layoutdesk.core.layout.rows import lay_rows
from layoutdesk.core.model import Block, Exclusion, Guide, RowRules
from layoutdesk.core.staking.steering import steering_lines

RULES = RowRules(bearing_deg=20.0, row_spacing_m=2.5, vine_spacing_m=1.5)
POND = Exclusion(shapely.Point(75, 60).buffer(12), 2.0, "Pond", "pond")
OUTLINE = shapely.box(0, 0, 150, 120)
GUIDE = Guide(((-5, 50), (75, 75), (155, 50)))


def lines_of(guide=None, exclusions=(POND,)):
    """The plan, its lines, and places of these by name."""
    plan = lay_rows(Block("B1", OUTLINE, RULES, guide=guide), RULES, exclusions)
    lines = steering_lines(plan)
    return plan, lines, dict(zip(lines.name, lines.places_m, strict=True))


def test_a_straight_row_is_one_line_over_what_cuts_it():
    plan, lines, named = lines_of()
    s = plan.segments
    assert plan.n_segments > plan.n_rows == lines.kind.count("row")
    assert lines.is_parallel
    for number in np.unique(s.number).tolist():
        ends = plan.segment_ends_m[s.number == number].reshape(-1, 2)
        along = ends @ np.array(plan.axes.unit_along)
        assert np.allclose(named[f"B1-R{number:03d}"], ends[[along.argmin(), along.argmax()]])


def test_a_bent_row_goes_on_along_its_bend_where_an_exclusion_cuts_it():
    plan, _, cut = lines_of(GUIDE)
    _, _, whole = lines_of(GUIDE, ())
    parts = np.bincount(plan.segments.number)
    some = [f"B1-R{number:03d}" for number in np.flatnonzero(parts > 1).tolist()]
    assert len(some) > 5
    for name in some:
        on_it = shapely.segmentize(shapely.LineString(cut[name]), 0.5)
        places = shapely.points(shapely.get_coordinates(on_it))
        assert shapely.distance(shapely.LineString(whole[name]), places).max() < 0.002


def test_a_path_beside_a_bent_row_runs_its_way_half_a_spacing_to_its_right():
    _, lines, named = lines_of(GUIDE)
    assert not lines.is_parallel
    paths = [name for name in named if "/" in name]
    assert len(paths) > 20
    for name in paths:
        left, right = (named[n] for n in (name.split("/")[0], f"B1-{name.split('/')[1]}"))
        path = named[name]
        assert (path[-1] - path[0]) @ (left[-1] - left[0]) > 0
        inner = shapely.points(path[2:-2])
        assert np.allclose(shapely.distance(shapely.LineString(left), inner), 1.25, atol=0.01)
        middle = shapely.Point(path[len(path) // 2])
        assert abs(middle.distance(shapely.LineString(right)) - 1.25) < 0.01


def test_rows_left_out_between_others_are_counted_as_steps():
    plan, _, _ = lines_of(exclusions=())
    some = steering_lines(plan, np.isin(plan.segments.number, (13, 14, 17, 19)))
    assert some.name == ("B1-R013", "B1-R014", "B1-R017", "B1-R019", "B1-R013/R014")
    assert some.steps == (0, 1, 4, 6, 0)
    across = [plan.axes.to_axes(xy)[0, 1] for xy in some.places_m[:4]]
    assert np.allclose(np.subtract(across, across[0]), (0, 2.5, 10, 15))
