"""Check lines join the row ends that tell most of a block, and only row ends that are handed off."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely

from layoutdesk.core.layout.rows import lay_rows
from layoutdesk.core.model import Block, RowRules
from layoutdesk.core.staking.check_lines import check_lines
from layoutdesk.core.staking.lines import plan_lines

RULES = RowRules(
    bearing_deg=0.0, row_spacing_m=2.5, vine_spacing_m=1.5, headland_m=6.0, side_margin_m=2.5
)


def laid(outline, name="B1", **rules):
    said = replace(RULES, **rules)
    return lay_rows(Block(name, outline, said), said, ())


def by_kind(lines):
    return {line.kind: line for line in lines}


def test_a_rectangle_is_checked_along_its_sides_and_diagonals():
    plan = laid(shapely.box(0, 0, 105, 100))
    found = by_kind(check_lines(plan_lines([plan])))
    assert list(found) == [
        *("diagonal", "other diagonal", "first row", "last row", "start ends", "far ends")
    ]
    row = float(plan.segments.length_m[0])
    wide = (plan.n_rows - 1) * 2.5
    assert found["first row"].ground_m == pytest.approx(row, abs=1e-9)
    assert found["start ends"].ground_m == pytest.approx(wide, abs=1e-9)
    assert found["diagonal"].ground_m == pytest.approx(math.hypot(row, wide), abs=1e-9)
    assert found["first row"].bearing_deg % 360 == pytest.approx(0.0, abs=1e-9)
    first, last = (min(plan.segments.number), max(plan.segments.number))
    assert found["far ends"].codes == (f"B1-R{first:03d}A-E2", f"B1-R{last:03d}A-E2")


def test_ends_are_where_the_plan_has_the_end_posts_of_these_codes():
    plan = laid(shapely.Polygon([(0, 0), (120, 10), (140, 90), (30, 130)]), bearing_deg=33.0)
    posts = plan.end_posts
    at = {}
    for segment, index, xy in zip(
        posts.segment.tolist(), posts.index.tolist(), posts.xy_m.tolist(), strict=True
    ):
        s = plan.segments
        letter = "ABCDEFG"[int(s.letter[segment])]
        at[f"B1-R{int(s.number[segment]):03d}{letter}-E{index}"] = xy
    lines = check_lines(plan_lines([plan]))
    assert len(lines) == 6
    for line in lines:
        for code, end in zip(line.codes, line.ends_m, strict=True):
            assert end == pytest.approx(at[code], abs=1e-9)


def test_stubs_in_a_corner_are_passed_over():
    plan = laid(shapely.Polygon([(0, 0), (60, -70), (120, 0), (60, 70)]), min_row_m=5.0)
    length = plan.segments.length_m
    assert length[0] < 0.2 * length.max()
    found = by_kind(check_lines(plan_lines([plan])))
    assert found["first row"].ground_m >= 0.5 * length.max()
    crossing = abs(found["diagonal"].bearing_deg - found["other diagonal"].bearing_deg) % 180
    assert 40 < crossing < 140


def test_every_block_is_checked_and_together_they_stay_an_hours_work():
    plans = [laid(shapely.box(0, 200 * i, 100, 200 * i + 90), f"B{i}") for i in range(1, 5)]
    lines = check_lines(plan_lines(plans))
    assert len(lines) == 10
    assert {line.block for line in lines if line.kind == "diagonal"} == {"B1", "B2", "B3", "B4"}
    assert len(check_lines(plan_lines(plans), most=2)) == 4


def test_rows_that_are_not_handed_off_are_not_measured_to():
    plan = laid(shapely.box(0, 0, 105, 100))
    wanted = np.isin(plan.segments.number, (11, 12, 13))
    lines = check_lines(plan_lines([plan], segments=wanted))
    assert {n for line in lines for n in line.rows} == {11, 13}
    assert check_lines(plan_lines([plan], segments=np.zeros(plan.n_segments, bool))) == ()
