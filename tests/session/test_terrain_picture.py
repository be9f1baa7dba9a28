"""What is drawn of the ground, at every scale, and how steep a row is said to be."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from layoutdesk import Block, InputProblem, RowRules, lay_rows
from layoutdesk.core.model import Project, Site, SiteFrame, Study
from layoutdesk.core.terrain.surface import GridSurface
from layoutdesk.formats.terrain import AROUND_M, TerrainRead
from layoutdesk.session.slopes import slope_said
from layoutdesk.session.stakeout import CAUTIONS
from layoutdesk.session.terrain_picture import (
    check_interval,
    interval_for,
    terrain_picture,
    usual_interval_m,
)
from layoutdesk.session.terrain_reach import Reach
from layoutdesk.session.view import View

FIELD = shapely.box(-100, -80, 100, 80)
NEAR = View(0.0, 0.0, 3.0, 600, 480)
ALL = View(0.0, 0.0, 2.0, 900, 800)


def ground(height, step_m=2.0, half_m=300.0) -> TerrainRead:
    """Heights by a function of x and y, sampled on a grid."""
    n = int(2 * half_m / step_m)
    x = -half_m + step_m * (np.arange(n) + 0.5)
    x, y = np.meshgrid(x, x[::-1])
    surface = GridSurface(
        height(x, y),
        lambda xy: np.column_stack([(xy[:, 0] + half_m) / step_m, (half_m - xy[:, 1]) / step_m]),
        step_m,
        (-half_m, -half_m, half_m, half_m),
    )
    return TerrainRead(surface, "m", "a bench mark", "Heights from a test")


def hill(x, y):
    return 120.0 + 0.06 * x + 0.03 * y + 4.0 * np.sin(x / 40) * np.cos(y / 50)


@pytest.fixture(scope="module")
def picture():
    return terrain_picture(ground(hill), [FIELD], 1.0, True)


def places_m(view, xy_px):
    x = view.x_m + (xy_px[:, 0] - view.width / 2) / view.scale
    return np.column_stack([x, view.y_m - (xy_px[:, 1] - view.height / 2) / view.scale])


@pytest.mark.parametrize("scale", [0.3, 1.0, 4.0, 30.0])
def test_contours_lie_at_their_heights_to_less_than_a_pixel_at_every_scale(picture, scale):
    view = replace(ALL, scale=scale)
    surface = ground(hill).surface
    drawn = picture.lines_px(view)
    assert drawn
    for _, _, xy_px, _ in drawn:
        xy = places_m(view, xy_px)
        z = surface.heights_m(xy)
        rise = np.hypot(*surface.gradients(xy).T)
        off_m = np.abs(z - np.round(z))[rise > 0.02] / rise[rise > 0.02]
        # half a metre is what straight lines between samples 2 m apart come to where slopes change
        assert np.nanmax(off_m * scale) < max(1.0, 0.5 * scale)


def test_every_fifth_contour_is_strong_and_from_afar_only_these_are_drawn(picture):
    surface = ground(hill).surface
    near, far = picture.lines_px(NEAR), picture.lines_px(replace(ALL, scale=0.25))
    assert {strong for strong, *_ in near} == {True, False}
    for strong, _, xy_px, _ in near:
        z = np.round(surface.heights_m(places_m(NEAR, xy_px)))
        assert ((z % 5 == 0) == strong).all()
    for _, _, xy_px, _ in far:
        z = np.round(surface.heights_m(places_m(replace(ALL, scale=0.25), xy_px)))
        assert (z % 5 == 0).all()


def test_only_pieces_in_sight_are_drawn_and_none_of_them_is_missing(picture):
    corner = View(80.0, 60.0, 20.0, 400, 300)
    x0, y0, x1, y1 = corner.bounds_m
    seen = np.concatenate([places_m(corner, xy) for *_, xy, _ in picture.lines_px(corner)])
    every = picture.details[0]
    assert len(seen) < 0.2 * len(every.xy_m)
    within = (every.xy_m >= (x0, y0)).all(axis=1) & (every.xy_m <= (x1, y1)).all(axis=1)
    assert within.any()
    wanted = {tuple(p) for p in every.xy_m[within].round(3).tolist()}
    assert wanted <= {tuple(p) for p in seen.round(3).tolist()}


def test_pieces_join_without_gaps_between_them(picture):
    """Each piece begins where the one before it ended, or at the end of a contour or a shade."""
    pieces = picture.details[0]
    lines = [pieces.xy_m[a:b] for a, b in zip(pieces.first[:-1], pieces.first[1:], strict=True)]
    drawn = shapely.line_merge(shapely.multilinestrings([shapely.linestrings(xy) for xy in lines]))
    assert shapely.get_num_geometries(drawn) < 60, "few whole contours, not hundreds of pieces"
    assert max(len(xy) for xy in lines) <= 64


def test_nothing_is_cut_off_hard_round_the_outlines(picture):
    reach = Reach.round([FIELD])
    assert reach.bounds_m[0] == FIELD.bounds[0] - AROUND_M
    assert set(np.unique(picture.details[0].shade)) > {1 / 6, 1.0}
    for shade, nearest, farthest in ((1.0, 0.0, 45.0), (1 / 6, 70.0, AROUND_M)):
        mine = picture.details[0].shade == shade
        middles = picture.details[0].box_m[mine].reshape(-1, 2, 2).mean(axis=1)
        away = shapely.distance(FIELD, shapely.points(middles))
        away = away[away > 1]  # under rows contours stand back
        assert away.min() >= nearest
        assert away.max() <= farthest
    alpha = picture.relief[..., 3]
    rim = np.concatenate([alpha[0], alpha[-1], alpha[:, 0], alpha[:, -1]])
    assert rim.max() <= 2
    assert alpha.max() > 10


def test_an_outline_smaller_than_a_cell_of_the_reach_is_still_the_middle_of_it():
    shed = shapely.box(1000.0, 0.0, 1001.0, 1.0)
    reach = Reach.round([FIELD, shed])
    assert reach.from_outline_m(np.array([[1000.5, 0.5]]))[0] <= 0
    assert reach.shade_in_steps(np.array([[1010.0, 0.0], [500.0, 0.0]])).tolist() == [1.0, 0.0]


def test_heights_stand_on_their_contours_readable_from_below(picture):
    places = picture.height_places(ALL)
    assert len(places) >= 3
    surface = ground(hill).surface
    for run in places:
        for place in run:
            assert -90 <= place.turn_deg <= 90
            at = places_m(ALL, np.array([[place.x_px, place.y_px]]))
            assert float(place.text) % 5 == 0
            assert surface.heights_m(at)[0] == pytest.approx(float(place.text), abs=0.1)
            east, north = surface.gradients(at)[0]
            along = np.degrees(np.arctan2(east, north))  # at right angles to the slope; y is down
            assert abs((along - place.turn_deg + 90) % 180 - 90) < 15


def test_heights_stand_beside_the_blocks_where_there_is_room_else_on_them(picture):
    assert not any(run[0].inside for run in picture.height_places(ALL))
    inside = View(0.0, 0.0, 8.0, 900, 700)
    assert all(run[0].inside for run in picture.height_places(inside))
    assert picture.height_places(inside)


@pytest.mark.parametrize(
    ("interval_m", "unit", "text"),
    [(1.0, "m", "120"), (0.25, "m", "121"), (0.6096, "ft", "390"), (1.0, "ft", "393.7")],
)
def test_heights_are_told_in_the_unit_people_read(interval_m, unit, text):
    picture = terrain_picture(ground(hill), [FIELD], interval_m, False)
    told = {p.text for run in picture.height_places(ALL, unit) for p in run}
    assert text in {t.rstrip("0").rstrip(".") if "." in t else t for t in told}


def test_without_contours_there_is_only_light_and_without_light_only_contours():
    light = terrain_picture(ground(hill), [FIELD], 0.0, True)
    assert light.lines_px(ALL) == []
    assert light.height_places(ALL) == []
    assert light.relief is not None
    assert not light.too_many
    assert terrain_picture(ground(hill), [FIELD], 1.0, False).relief is None


def test_level_ground_has_neither_contours_nor_shade():
    picture = terrain_picture(ground(lambda x, y: 0 * x + 50.5), [FIELD], 1.0, True)
    assert picture.lines_px(ALL) == []
    assert picture.relief[..., 3].max() <= 1
    assert not picture.too_many


def test_ground_that_is_not_known_is_left_bare():
    read = ground(lambda x, y: np.where(x > 20, np.nan, hill(x, y)))
    picture = terrain_picture(read, [FIELD], 1.0, True)
    assert picture.details[0].xy_m[:, 0].max() <= 20
    columns = np.linspace(*picture.bounds_m[::2], picture.relief.shape[1])
    assert picture.relief[:, columns > 25, 3].max() == 0


def test_too_many_contours_are_refused_with_the_least_that_can_be_drawn():
    steep = ground(lambda x, y: 100 + 1.0 * x)
    assert terrain_picture(steep, [FIELD], 0.1, False).too_many
    project = Project(
        "Hill", Site(SiteFrame(0, 0), "EPSG:32631", "EPSG:32631"), (Block("B1", FIELD, RowRules()),)
    )
    with pytest.raises(InputProblem) as problem:
        check_interval(steep, project, 0.1)
    assert "1.0 m or more" in str(problem.value)
    check_interval(steep, project, 1.0)
    check_interval(steep, project, 0.0)
    assert terrain_picture(steep, [FIELD], 1.0, False).details


def test_the_usual_interval_is_round_in_the_unit_people_read():
    read = ground(hill)
    project = Project(
        "Hill", Site(SiteFrame(0, 0), "EPSG:32631", "EPSG:32631"), (Block("B1", FIELD, RowRules()),)
    )
    assert interval_for(read, project) == 1.0
    assert interval_for(read, project, "ft") == pytest.approx(2 * 0.3048)
    for range_m in (0.0, 0.4, 7.0, 90.0, 1800.0):
        for unit, size in (("m", 1.0), ("ft", 0.3048)):
            units = usual_interval_m(range_m, unit) / size
            assert range_m / (units * size) <= 80
            assert f"{units:e}"[:3] in ("1.0", "2.0", "2.5", "5.0")


# how steep a row is


def row(bearing_deg, read, **study):
    plan = lay_rows(
        Block("B1", FIELD, RowRules(bearing_deg=bearing_deg)), RowRules(bearing_deg=bearing_deg)
    )
    middle = plan.n_segments // 2
    said = slope_said(plan, middle, read.surface, Study(**study))
    return replace(said, words=said.words.replace("\u00a0", " "))


def test_a_row_up_an_even_slope_rises_as_the_slope_does():
    read = ground(lambda x, y: 100 + 0.10 * x)
    assert row(90, read).words == (
        "Rises 10.0 % from start to far end, 10.0 % at the steepest over 3.0 m. "
        "Side tilt up to 0.0 % over 1.5 m."
    )
    assert row(270, read).words.startswith("Falls 10.0 %")


def test_a_row_along_a_contour_tilts_to_the_side_that_is_lower():
    read = ground(lambda x, y: 100 + 0.06 * x)
    assert "Side tilt up to 6.0 % over 1.5 m, the right side higher." in row(0, read).words
    assert "the left side higher" in row(180, read).words
    assert row(0, read).words.startswith("Ends at one height, 0.0 %")


def test_the_slope_caution_stands_where_a_row_is_steeper_than_the_study_counts():
    read = ground(lambda x, y: 100 + 0.10 * x)
    assert row(90, read).caution == ""
    assert "safe" not in row(90, read).words
    assert row(0, read).caution in CAUTIONS
    assert "manual" in row(0, read).caution
    assert row(90, read, grade_along_pct=9.0).caution in CAUTIONS
    assert row(0, read, grade_across_pct=11.0).caution == ""


def test_ground_that_is_not_known_under_a_row_is_said():
    assert row(90, ground(lambda x, y: np.nan * x)).words == "Heights are not known here."
    half = row(90, ground(lambda x, y: np.where(x > 0, np.nan, 100 + 0.1 * x))).words
    assert half.startswith("Along: 10.0 % at the steepest")
    assert "Heights are not known for" in half
