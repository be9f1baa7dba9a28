"""What one block takes, counted by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from layoutdesk import Block, Exclusion, RowRules, lay_rows
from layoutdesk.core.materials.takeoff import COLUMN, difference, take_off
from layoutdesk.core.model.overrides import Override
from layoutdesk.core.model.trellis import Trellis

# Two rows of 24 m: vines at 1, 3, … 23 (12), line posts midway after 4 and 8 spaces (2).
RULES = RowRules(
    row_spacing_m=3, vine_spacing_m=2, headland_m=8, side_margin_m=1.5, last_vine_m=1, anchor_m=1.8
)
BLOCK = Block("B1", shapely.box(0, 0, 6, 40), RULES)
TRELLIS = Trellis(wrap_m=0.5, tie_lines=2, tie_wrap_m=0.6, drip_line_end_m=1.0)


def counted(trellis=TRELLIS, block=BLOCK, exclusions=()):
    found = take_off([lay_rows(block, None, exclusions)], {"B1": trellis})
    return {item: found.of(item) for item in COLUMN}


def test_two_rows_by_hand():
    assert counted() == pytest.approx(
        {
            "training_stakes": 24,
            "line_posts": 4,
            "end_posts": 4,
            "brace_posts": 0,
            "braces": 0,
            "pads": 0,
            "anchors": 4,
            "fruiting_wire_m": 2 * 25,
            "foliage_wire_m": 2 * 5 * 25,
            "drip_wire_m": 2 * 25,
            # Anchor out by as much as the tie is high: the diagonal of a square of 1.8 m.
            "tie_wire_m": 4 * (2 * 1.8 * np.sqrt(2) + 0.6),
            "drip_line_m": 2 * 26,
            "stake_clips": 24,
            # Two pairs, three bays a row, two clips each.
            "pair_clips": 2 * 3 * 2 * 2,
            "drip_clips": 24,
            "staples": 8 * 7,
            "tensioners": 2 * 7,
            "shelters": 24,
            "drip_tubes": 24,
        }
    )


def test_without_stakes_nothing_is_clipped_to_them():
    found = counted(replace(TRELLIS, stake_length_m=0.0))
    assert (found["training_stakes"], found["stake_clips"], found["drip_clips"]) == (0, 0, 24)


@pytest.mark.parametrize(
    ("ends", "parts", "tie_m"),
    [
        ("tied back", {"anchors": 4}, 2 * np.hypot(1.8, 1.8) + 0.6),
        ("braced inside", {"brace_posts": 4, "braces": 4}, 2 * np.hypot(1.8, 2.4) + 0.6),
        # The loop at the foot of a brace at 60° runs level.
        ("slanted brace", {"braces": 4, "pads": 4}, 2 * 1.8 / np.sqrt(3) + 0.6),
    ],
)
def test_ends_take_what_their_kind_says(ends, parts, tie_m):
    found = counted(replace(TRELLIS, ends=ends))
    besides = {k: found[k] for k in ("anchors", "brace_posts", "braces", "pads")}
    assert besides == {"anchors": 0, "brace_posts": 0, "braces": 0, "pads": 0} | parts
    assert found["tie_wire_m"] == pytest.approx(4 * tie_m)
    assert found["staples"] == 7 * (8 + parts.get("brace_posts", 0))


def test_a_row_cut_in_two_has_four_ends_and_one_number():
    pole = Exclusion(shapely.Point(1.5, 20), 1.0)
    block = replace(BLOCK, rules=replace(RULES, min_row_m=5))
    plan = lay_rows(block, None, [pole])
    found = take_off([plan], {"B1": TRELLIS})
    assert found.amounts.shape[0] == 3
    assert found.rows[:, COLUMN["end_posts"]].tolist() == [4, 2]
    assert found.of("anchors") == 6


def test_vines_left_out_take_no_stake():
    x, y = lay_rows(BLOCK).vines.xy_m[3]
    out = Override("vine left out", 0, x, y)
    found = counted(block=replace(BLOCK, overrides=(out,)))
    assert found["training_stakes"] == found["shelters"] == 23


def test_without_anchors_staked_ties_are_still_ordered():
    bare = replace(BLOCK, rules=replace(RULES, anchor_m=0))
    found = counted(block=bare)
    assert found["anchors"] == 4
    assert found["tie_wire_m"] == pytest.approx(counted()["tie_wire_m"])


def test_nothing_laid_takes_nothing():
    tiny = Block("B1", shapely.box(0, 0, 5, 5), RULES)
    empty = take_off([lay_rows(tiny)], {})
    assert not empty.site.any()
    assert empty.rows.shape == (0, len(COLUMN))
    assert take_off([], {}).site.tolist() == [0.0] * len(COLUMN)


def test_difference_names_blocks_that_came_and_went():
    plan = lay_rows(BLOCK)
    other = lay_rows(replace(BLOCK, name="B2"))
    now, before = take_off([plan], {"B1": TRELLIS}), take_off([other], {"B2": TRELLIS})
    more = difference(now, before)
    assert more["B1"].tolist() == now.site.tolist()
    assert more["B2"].tolist() == (-before.site).tolist()
