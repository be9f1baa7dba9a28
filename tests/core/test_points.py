"""Points that are handed off: which, in which order, with which numbers, against a way that takes one point at a time."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from layoutdesk.core.layout.numbering import mark_code
from layoutdesk.core.layout.rows import lay_rows
from layoutdesk.core.model import Block, Exclusion, Guide, Override, PointChoice, RowRules
from layoutdesk.core.model.handoff import POINT_KINDS
from layoutdesk.core.staking.lines import plan_lines
from layoutdesk.core.staking.points import point_set

RULES = RowRules(
    bearing_deg=20.0, row_spacing_m=3.0, vine_spacing_m=1.5, line_post_every=4, anchor_m=1.2
)
POND = Exclusion(shapely.Point(60, 70).buffer(14), 3.0, "Pond", "pond")
ALL = ("end_post", "line_post", "anchor", "vine")


@pytest.fixture(scope="module")
def plans():
    one = Block("B1", shapely.box(0, 0, 120, 150), RULES)
    two = Block("B2", shapely.box(140, 0, 200, 90), replace(RULES, number_from="right"))
    laid = [lay_rows(b, b.rules, [POND]) for b in (one, two)]
    vine = laid[0].vines.xy_m[100]
    one = replace(one, overrides=(Override("vine left out", 0, *map(float, vine)),))
    return lay_rows(one, one.rules, [POND]), laid[1]


def codes(found):
    points = found.all()
    return [
        found.code(o, k, i)
        for o, k, i in zip(
            points.owner.tolist(), points.kind.tolist(), points.index.tolist(), strict=True
        )
    ]


def slow(plans, kinds=ALL, wanted=lambda plan, segment, kind, index, last: True):
    """(block, row, letter, along, code, x, y) of every mark, one at a time."""
    found = []
    for p, plan in enumerate(plans):
        s = plan.segments
        for marks in plan.marks():
            n_of = np.bincount(marks.segment, minlength=plan.n_segments)
            seen = np.zeros(plan.n_segments, int)
            for segment, index, (x, y) in zip(
                marks.segment.tolist(), marks.index.tolist(), marks.xy_m.tolist(), strict=True
            ):
                seen[segment] += 1
                if marks.kind in kinds and wanted(
                    p, segment, marks.kind, index, seen[segment] == n_of[segment]
                ):
                    number, letter = int(s.number[segment]), int(s.letter[segment])
                    along = plan.axes.to_axes(np.array([[x, y]]))[0, 0]
                    code = mark_code(plan.block.name, number, letter, marks.kind, index)
                    found.append((p, number, letter, along, code, x, y))
    return found


@pytest.mark.parametrize("most", [50, 65_536])
def test_one_kind_after_the_other_is_the_order_of_the_stake_out_set(plans, most):
    found = point_set(plans, [POND], PointChoice(kinds=ALL))
    parts = list(found.chunks(most))
    numbers = np.concatenate([p.number for p in parts])
    xy = np.concatenate([p.xy_m for p in parts])
    expected = slow(plans)
    assert numbers.tolist() == list(range(1, len(expected) + 1))
    assert len(found) == len(expected)
    assert codes(found) == [e[4] for e in expected]
    assert np.allclose(xy, [e[5:] for e in expected], atol=1e-9)
    assert max(len(p) for p in parts) <= max(most, 200)


@pytest.mark.parametrize("most", [300, 65_536])
def test_along_the_rows_and_back_and_forth(plans, most):
    expected = sorted(slow(plans), key=lambda e: e[:4])
    found = point_set(plans, [POND], PointChoice(kinds=ALL, order="row by row"))
    assert codes(found) == [e[4] for e in expected]

    def walked(e):
        back = sorted({o[1] for o in expected if o[0] == e[0]}).index(e[1]) % 2
        return (e[0], e[1], -e[2], -e[3]) if back else e[:4]

    found = point_set(plans, [POND], PointChoice(kinds=ALL, order="serpentine"))
    assert codes(found) == [e[4] for e in sorted(expected, key=walked)]
    points = np.concatenate([p.xy_m for p in found.chunks(most)])
    assert np.array_equal(points, found.all().xy_m)


def test_chosen_segments_and_vines_alone(plans):
    n = [p.n_segments for p in plans]
    rng = np.random.default_rng(4)
    segments = rng.random(sum(n)) < 0.3
    vines = rng.random(sum(p.n_vines for p in plans)) < 0.5
    first = np.cumsum([0, *(p.n_vines for p in plans)])
    place = [{} for _ in plans]
    for p, plan in enumerate(plans):
        for v, key in enumerate(
            zip(plan.vines.segment.tolist(), plan.vines.index.tolist(), strict=True)
        ):
            place[p][key] = first[p] + v

    def wanted(p, segment, kind, index, last):
        if not segments[(0, n[0])[p] + segment]:
            return False
        return kind != "vine" or bool(vines[place[p][segment, index]])

    for order in ("by kind", "serpentine"):
        choice = PointChoice(kinds=ALL, order=order)
        found = point_set(plans, [], choice, segments=segments, vines=vines)
        assert sorted(codes(found)) == sorted(e[4] for e in slow(plans, ALL, wanted))
        assert sum(len(p) for p in found.chunks(100)) == len(found)


def test_every_fifth_vine_and_the_last(plans):
    found = point_set(plans, [], PointChoice(kinds=("vine",), vine_every=5))

    def wanted(p, segment, kind, index, last):
        return (index - 1) % 5 == 0 or last

    assert codes(found) == [e[4] for e in slow(plans, ("vine",), wanted)]


def test_row_ends_are_the_first_and_last_post_of_a_whole_row(plans):
    found = codes(point_set(plans, [], PointChoice(kinds=("row_end",))))
    rows = sum(p.n_rows for p in plans)
    assert len(found) == 2 * rows == len(set(found))
    by_row = {}
    for e in slow(plans, ("end_post",)):
        by_row.setdefault(e[:2], []).append(e)
    expected = {f(ends, key=lambda e: e[3])[4] for ends in by_row.values() for f in (min, max)}
    assert set(found) == expected
    assert any("B-E2" in c for c in found)


def test_numbers_pass_over_names_of_control_points(plans):
    control = [("101", 0.0, 0.0), ("K1", 5.0, 5.0), ("103", 9.0, 9.0), ("900000", 1.0, 1.0)]
    choice = PointChoice(kinds=("row_end", "control"), first_number=100)
    found = point_set(plans, [], choice, control=control)
    points = found.all()
    assert len(np.unique(points.number)) == len(points)
    assert points.number[:4].tolist() == [100, 102, 104, 105]
    assert found.passed == (101, 103)
    named = dict(zip(codes(found), points.number.tolist(), strict=True))
    assert named["101"] == 101
    assert named["103"] == 103
    assert named["900000"] == 900000
    assert points.kind[-1] == POINT_KINDS.index("control")


def test_corners_of_outlines_and_exclusions_are_points_once(plans):
    found = point_set(plans, [POND, POND], PointChoice(kinds=("outline", "exclusion")))
    told = codes(found)
    n = len(POND.shape.exterior.coords) - 1
    assert told[:4] == ["B1-C001", "B1-C002", "B1-C003", "B1-C004"]
    assert len(told) == 8 + 2 * n
    assert told[8] == "Pond-C001"
    assert told[8 + n] == "Pond 2-C001"
    ring = shapely.get_coordinates(POND.shape)[:-1]
    assert np.array_equal(found.all().xy_m[8 : 8 + n], ring)


def test_a_block_that_has_no_rows_has_no_points():
    plan = lay_rows(Block("B9", shapely.box(0, 0, 4, 4), RULES))
    found = point_set([plan], [], PointChoice())
    assert len(found) == 0
    assert len(found.all()) == 0
    assert list(found.chunks()) == []


def test_bent_rows_are_walked_along_their_bend():
    guide = Guide(((0.0, -80.0), (25.0, 0.0), (0.0, 80.0)))
    block = Block(
        "B1", shapely.box(-60, -70, 60, 70), replace(RULES, leftover="far end"), guide=guide
    )
    plan = lay_rows(block)
    found = point_set([plan], [], PointChoice(kinds=ALL, order="row by row")).all()
    for segment in range(plan.n_segments):
        mine = found.owner == segment
        kinds = [POINT_KINDS[k] for k in found.kind[mine].tolist()]
        assert kinds[0] == "anchor"
        assert kinds[1] == "end_post"
        assert kinds[-2:] == ["end_post", "anchor"]
        vines = found.index[mine & (found.kind == POINT_KINDS.index("vine"))]
        assert (np.diff(vines) == 1).all()


def test_lines_are_rows_outlines_and_exclusions(plans):
    some = np.zeros(sum(p.n_segments for p in plans), bool)
    some[[2, plans[0].n_segments + 1]] = True
    lines = plan_lines(plans, [POND, Exclusion(shapely.Point(1, 2), 2.0, "Well", "well")], some)
    assert lines.kind.tolist() == [0, 0, 1, 1, 2, 2]
    assert lines.block == ("B1", "B2", "B1", "B2", "", "")
    assert lines.code[4:] == ("Pond", "Well")
    assert lines.closed.tolist() == [False, False, True, True, True, False]
    first = lines.xy_m[lines.first[0] : lines.first[1]]
    assert np.array_equal(first, plans[0].segment_ends_m[2])
    assert np.diff(lines.first)[2:4].tolist() == [4, 4]
    assert lines.first[-1] == len(lines.xy_m)
