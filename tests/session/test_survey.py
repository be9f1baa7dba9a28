"""Survey grids that are offered for a site."""

from __future__ import annotations

import pytest

from layoutdesk.core.model import InputProblem
from layoutdesk.formats.crs import survey_grid
from layoutdesk.session.samples import open_sample, samples
from layoutdesk.session.survey import grid_code, grids_matching, likely_grids


@pytest.fixture(scope="module")
def projects():
    return {s.name: open_sample(s) for s in samples()}


def test_every_sample_is_offered_its_own_grid_near_the_top(projects):
    for name, project in projects.items():
        codes = [o.code for o in likely_grids(project)]
        assert project.site.survey_crs in codes[:3], name


def test_every_grid_offered_takes_stakes_and_says_what_it_does(projects):
    for project in projects.values():
        offers = likely_grids(project)
        assert offers
        for offer in offers:
            grid = survey_grid(project.site.frame, offer.code)
            assert offer.per_100_m_mm == pytest.approx(grid.ppm / 10)
            assert abs(offer.per_100_m_mm) <= 100


def test_grids_in_feet_are_found_by_word(projects):
    offers = likely_grids(projects["bench_in_feet"])
    found = grids_matching(offers, "2011 ftus")
    assert [o.code for o in found] == ["EPSG:6599"]
    assert grid_code("2011 ftus", offers) == "EPSG:6599"


def test_words_that_fit_several_grids_are_asked_again(projects):
    with pytest.raises(InputProblem, match="pick one"):
        grid_code("washington", likely_grids(projects["bench_in_feet"]))
    with pytest.raises(InputProblem, match="No grid is named"):
        grid_code("  ")
