"""Rules and blocks that make no sense are refused, with the name of what is wrong."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from layoutdesk import Block, RowRules
from layoutdesk.core.model import CHOICES, LIMITS


@pytest.mark.parametrize("name", LIMITS)
def test_each_number_has_limits_and_they_are_allowed(name):
    low, high = LIMITS[name]
    for value in (low, high):
        assert getattr(RowRules(**{name: value}), name) == (
            value % 360 if name == "bearing_deg" else value
        )
    step = 1 if isinstance(low, int) else 0.001
    for value in (low - step, high + step, float("nan"), float("inf"), None, "7"):
        with pytest.raises(ValueError, match=name):
            RowRules(**{name: value})


@pytest.mark.parametrize("name", CHOICES)
def test_each_choice_has_a_list(name):
    for value in CHOICES[name]:
        assert getattr(RowRules(**{name: value}), name) == value
    with pytest.raises(ValueError, match=name):
        RowRules(**{name: "elsewhere"})


@pytest.mark.parametrize("name", ["line_post_every", "first_number"])
def test_counts_are_whole_numbers(name):
    with pytest.raises(ValueError, match=name):
        RowRules(**{name: 2.5})


def test_numbers_of_numpy_are_numbers():
    rules = RowRules(line_post_every=np.int64(3), headland_m=np.float64(7.5))
    assert (rules.line_post_every, rules.headland_m) == (3, 7.5)


@pytest.mark.parametrize(
    "outline", [shapely.Polygon(), shapely.Point(0, 0), shapely.MultiPolygon()]
)
def test_a_block_needs_an_outline(outline):
    with pytest.raises(ValueError, match="outline"):
        Block("B1", outline)


@pytest.mark.parametrize("name", ["", "a,b", 'a"b', "a\nb"])
def test_a_block_name_must_fit_a_stake_list(name):
    with pytest.raises(ValueError, match="name"):
        Block(name, shapely.box(0, 0, 1, 1))
