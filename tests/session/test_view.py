"""The view: pixels and places, zoom about a point, fitting inside margins, round scale bars."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from layoutdesk.session.view import View, scale_bar

places = st.floats(-5000, 5000)
scales = st.floats(0.01, 1000)
views = st.builds(View, places, places, scales, st.integers(100, 4000), st.integers(100, 3000))
pixels = st.floats(-500, 4500)


@given(views, pixels, pixels)
def test_pixels_and_places_are_inverse(view, px, py):
    place = np.array([view.to_site(px, py)])
    # 1e-12 of 5 km times up to 1000 px/m
    assert np.abs(view.to_pixels(place)[0] - (px, py)).max() < 1e-5


@given(views, places, places)
def test_places_and_pixels_are_inverse(view, x, y):
    px, py = view.to_pixels(np.array([x, y]))
    assert np.abs(np.array(view.to_site(px, py)) - (x, y)).max() < 1e-8


def test_north_is_up_and_east_to_the_right():
    view = View(10.0, 20.0, 2.0, 200, 100)
    assert view.to_pixels(np.array([10.0, 20.0])).tolist() == [100.0, 50.0]
    assert view.to_pixels(np.array([11.0, 20.0])).tolist() == [102.0, 50.0]
    assert view.to_pixels(np.array([10.0, 21.0])).tolist() == [100.0, 48.0]
    assert view.bounds_m == (-40.0, -5.0, 60.0, 45.0)


def test_many_places_at_once_in_any_shape():
    view = View(10.0, 20.0, 2.0, 200, 100)
    xy = np.arange(24.0).reshape(3, 4, 2)
    one_by_one = [[view.to_pixels(p).tolist() for p in row] for row in xy]
    assert view.to_pixels(xy).tolist() == one_by_one


@given(views, st.floats(1e-6, 1e6), pixels, pixels)
def test_zooming_keeps_the_place_under_the_pointer(view, factor, px, py):
    zoomed = view.zoomed(factor, px, py)
    assert View.LEAST <= zoomed.scale <= View.MOST
    before, after = np.array(view.to_site(px, py)), np.array(zoomed.to_site(px, py))
    assert np.abs(after - before).max() * zoomed.scale < 1e-3  # of a pixel


@given(views, st.floats(0.5, 2.0), pixels, pixels)
def test_zooming_there_and_back_is_the_same_view(view, factor, px, py):
    back = view.zoomed(factor, px, py).zoomed(1 / factor, px, py)
    assert back.scale == pytest.approx(view.scale, rel=1e-12)
    # the scale came back to within a rounding, so places far off the pointer to that share
    assert np.abs(np.array([back.x_m - view.x_m, back.y_m - view.y_m])).max() < 1e-6


@given(views, st.floats(-900, 900), st.floats(-900, 900))
def test_panning_moves_the_plan_with_the_hand(view, dx, dy):
    place = np.array(view.to_site(50, 60))
    assert np.abs(view.panned(dx, dy).to_pixels(place) - (50 + dx, 60 + dy)).max() < 1e-4


@given(
    views,
    st.tuples(places, places, st.floats(0.1, 3000), st.floats(0.1, 3000)),
    st.tuples(*[st.integers(0, 40)] * 4),
)
def test_fitting_shows_everything_inside_the_margins(view, box, margins):
    x, y, wide, high = box
    fitted = view.fitted((x, y, x + wide, y + high), margins)
    left, top, right, bottom = margins
    (x0, y1), (x1, y0) = fitted.to_pixels(np.array([[x, y], [x + wide, y + high]]))
    slack = 1e-3  # of a pixel
    if view.width - left - right < 50 or view.height - top - bottom < 50:
        return  # no room that margins could keep clear
    assert x0 >= left - slack
    assert y0 >= top - slack
    assert x1 <= view.width - right + slack
    assert y1 <= view.height - bottom + slack
    if fitted.scale < View.MOST:  # and no smaller than need be
        touch_x = abs(x1 - x0 - (view.width - left - right))
        touch_y = abs(y1 - y0 - (view.height - top - bottom))
        assert min(touch_x, touch_y) < slack


def test_fitting_a_point_or_tiny_window_gives_a_usable_view():
    fitted = View(0, 0, 1, 10, 10).fitted((5, 5, 5, 5), (100, 100, 100, 100))
    assert View.LEAST <= fitted.scale <= View.MOST
    assert np.isfinite(fitted.bounds_m).all()


@given(st.floats(1e-3, 4000), st.sampled_from([1.0, 0.3048, 1200 / 3937]), st.floats(40, 400))
def test_scale_bars_are_round_and_as_long_as_fits(scale, unit_m, most_px):
    units, px = scale_bar(scale, unit_m, most_px)
    assert px == pytest.approx(units * unit_m * scale)
    assert f"{units:e}"[0] in "125"
    assert float(f"{units:.0e}") == pytest.approx(units, rel=1e-12)
    assert 0.39 * most_px < px <= most_px * (1 + 1e-9)


@pytest.mark.parametrize(
    "most", [999.9999999999999, 99.99999999999999, 0.09999999999999999, 1000.0]
)
def test_a_scale_bar_just_under_a_power_of_ten_is_found(most):
    units, _ = scale_bar(1.0, 1.0, most)
    assert units == pytest.approx(most)
