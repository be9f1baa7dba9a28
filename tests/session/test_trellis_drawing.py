"""A row end from the side: everything stands where the trellis and the rules say."""

from __future__ import annotations

import math

import numpy as np
import pytest

from layoutdesk.core.model import FoliageWire, RowRules, Trellis
from layoutdesk.session.trellis_drawing import ROLES, SEEN_M, trellis_drawing

RULES = RowRules(vine_spacing_m=1.5, first_vine_m=1.0, line_post_every=4, anchor_m=1.2)


def test_posts_stand_as_deep_and_as_high_as_they_are_said_to_be():
    trellis = Trellis(
        end_post_length_m=3.0,
        end_post_driven_m=0.9,
        line_post_length_m=2.5,
        line_post_driven_m=0.6,
    )
    drawing = trellis_drawing(trellis, RULES)
    (end,) = drawing.of("end post")
    assert end == pytest.approx(np.array([[0, -0.9], [0, 2.1]]))
    (post,) = drawing.of("line post")
    # midway between vines 4 and 5: 1.0 + 3.5 · 1.5
    assert post == pytest.approx(np.array([[6.25, -0.6], [6.25, 1.9]]))


def test_a_leaning_end_post_keeps_its_length_and_wires_begin_on_it():
    drawing = trellis_drawing(Trellis(end_angle_deg=70.0), RULES)
    (end,) = drawing.of("end post")
    assert np.hypot(*(end[1] - end[0])) == pytest.approx(3.0)
    assert end[1, 0] < 0, "leaning out of the row"
    (fruit,) = drawing.of("fruiting wire")
    assert fruit[0, 0] == pytest.approx(-0.9 / math.tan(math.radians(70)))


def test_each_kind_of_end_is_drawn_with_what_it_takes():
    kinds = {
        kind: trellis_drawing(Trellis(ends=kind), RULES)
        for kind in ("tied back", "braced inside", "slanted brace")
    }
    counts = {
        kind: [len(d.of(role)) for role in ("anchor", "brace", "pad", "end post", "tie")]
        for kind, d in kinds.items()
    }
    assert counts == {
        "tied back": [1, 0, 0, 1, 1],
        "braced inside": [0, 1, 0, 2, 1],
        "slanted brace": [0, 1, 1, 1, 1],
    }
    (tie,) = kinds["tied back"].of("tie")
    assert tie == pytest.approx(np.array([[0.0, 1.8], [-1.2, 0.0]]))
    (brace,) = kinds["slanted brace"].of("brace")
    rise, run = brace[0, 1] - brace[1, 1], brace[1, 0] - brace[0, 0]
    assert math.degrees(math.atan2(rise, run)) == pytest.approx(60.0)


def test_heights_are_marked_from_the_highest_with_the_value_that_sets_them():
    trellis = Trellis(foliage_wires=(FoliageWire(1.3), FoliageWire(1.7, paired=False)))
    marks = trellis_drawing(trellis, RULES).marks
    assert [(m.text, m.key) for m in marks] == [
        ("1.70 m", "foliage.1.height_m"),
        ("1.30 m pair", "foliage.0.height_m"),
        ("0.90 m fruit", "fruiting_wire_height_m"),
        ("0.45 m drip", "drip_wire_height_m"),
    ]
    assert trellis_drawing(trellis, RULES, "ft").marks[-1].text == "1.48 ft drip"


def test_what_cannot_be_drawn_is_said():
    far = trellis_drawing(Trellis(), RowRules(line_post_every=10))
    assert far.of("line post") == ()
    assert "first line post stands 15.2" in far.caption.replace("15.25", "15.2")
    assert far.bounds_m[2] == SEEN_M
    bare = trellis_drawing(Trellis(), RowRules(anchor_m=0.0), block="B2")
    assert "B2" in bare.caption
    assert "45°" in bare.caption


def test_all_lines_lie_inside_the_bounds_and_in_the_order_they_are_painted():
    for kind in ("tied back", "braced inside", "slanted brace"):
        drawing = trellis_drawing(Trellis(ends=kind, end_angle_deg=75.0), RULES)
        left, low, right, high = drawing.bounds_m
        every = np.concatenate([s.points_m for s in drawing.strokes])
        assert every.min(axis=0) == pytest.approx([left, low], abs=0.2)
        assert np.all(every >= (left, low))
        assert np.all(every <= (right, high))
        places = [ROLES.index(s.role) for s in drawing.strokes]
        assert places == sorted(places)
