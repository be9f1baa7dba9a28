"""Survey grids found among all there are."""

from __future__ import annotations

import math

import pytest
from pyproj import CRS

from layoutdesk.formats.crs import survey_grid
from layoutdesk.session.samples import open_sample, samples
from layoutdesk.session.survey import grid_code, grids_named


@pytest.fixture(scope="module")
def site():
    return open_sample(next(s for s in samples() if s.name == "bench_in_feet"))


def test_grids_that_cover_the_site_come_first_and_the_others_say_so(site):
    found = grids_named("utm zone", site, most=40)
    covers = [g.covers for g in found]
    assert covers == sorted(covers, reverse=True)
    assert any(covers)
    assert not all(covers)
    for grid in found:
        assert ("does not cover the site" in grid.words) != grid.covers
        area = CRS.from_user_input(grid.code).area_of_use
        frame = site.site.frame
        inside = area.west <= frame.longitude_deg <= area.east
        assert grid.covers == (inside and area.south <= frame.latitude_deg <= area.north)


def test_feet_are_told_apart_and_lengths_are_those_of_the_grid(site):
    found = {g.code: g for g in grids_named("washington south", site)}
    assert found["EPSG:6599"].unit == "US survey foot"
    assert found["EPSG:6598"].unit == "metre"
    ppm = survey_grid(site.site.frame, "EPSG:6599").ppm
    assert found["EPSG:6599"].per_100_m_mm == pytest.approx(ppm / 10)
    feet = {g.code: g for g in grids_named("2256", None)}
    assert feet["EPSG:2256"].unit == "foot"
    assert math.isnan(feet["EPSG:2256"].per_100_m_mm)


def test_a_code_is_first_even_where_it_is_withdrawn_or_elsewhere(site):
    first = grids_named("EPSG:7855", site)[0]
    assert (first.code, first.covers) == ("EPSG:7855", False)
    assert grids_named("7855", site)[0].code == first.code
    withdrawn = grids_named("epsg:2036", site)[0]
    assert withdrawn.code == "EPSG:2036"
    assert withdrawn.is_withdrawn
    assert "withdrawn" in withdrawn.words


def test_a_grid_whose_axes_run_elsewhere_is_marked_and_last():
    found = grids_named("lo29", None)
    assert found
    refused = [bool(g.refused) for g in found]
    assert any(refused)
    assert refused == sorted(refused)


def test_words_of_an_area_find_its_grids_and_what_is_found_can_be_chosen(site):
    found = grids_named("new zealand transverse", None)
    assert "EPSG:2193" in {g.code for g in found}
    assert grid_code("2011 washington south ftus", grids_named("6599", site)) == "EPSG:6599"
    assert not grids_named("no such grid anywhere", site)
