"""Edits of a project's water that are made on the plan or come from a file."""

from __future__ import annotations

from dataclasses import replace

import pytest
import shapely

from layoutdesk.core.model import Block, InputProblem, Project, Site, SiteFrame
from layoutdesk.core.model.water import Drip, Source
from layoutdesk.session.water_edits import (
    with_climate_file,
    with_source_at,
    with_source_curve,
    with_submain_edge,
    with_submain_line,
)

BLOCKS = tuple(Block(f"B{i}", shapely.box(100 * i, 0, 100 * i + 60, 160)) for i in (1, 2))
PROJECT = Project("Wet", Site(SiteFrame(-35.0, 138.9), "EPSG:32754", "EPSG:32754"), BLOCKS)


def test_a_place_says_nothing_of_what_the_source_gives_there():
    source = with_source_at(PROJECT, (12.5, -3.0)).water.source
    assert source == replace(Source(), place_m=(12.5, -3.0))
    assert source.is_assumed
    known = with_source_curve(with_source_at(PROJECT, (12.5, -3.0)), "30 m at 9 m³/h").water.source
    assert known.place_m == (12.5, -3.0)
    assert known.curve == ((0.0, 30.0), (9.0, 30.0))
    assert not known.is_assumed


def test_a_drawn_line_feeds_the_rows_of_its_blocks_alone():
    line = ((90.0, 80.0), (90.0, 80.0), (170.0, 85.0))
    water = with_submain_line(PROJECT, ("B1",), line).water
    assert water.drip_of("B1") == Drip(fed="line", line_m=((90.0, 80.0), (170.0, 85.0)))
    assert water.drip_of("B2") == Drip()


@pytest.mark.parametrize("line", [[], [(1.0, 2.0)], [(1.0, 2.0), (1.0, 2.0)], [(1, 2), (1.1, 2)]])
def test_a_line_that_is_none_is_refused(line):
    with pytest.raises(InputProblem, match="two places"):
        with_submain_line(PROJECT, ("B1",), line)


def test_a_submain_runs_along_an_edge_of_the_outline():
    edges = [with_submain_edge(PROJECT, "B2", 0, i).water.drip_of("B2").line_m for i in range(4)]
    corners = {(200.0, 0.0), (260.0, 0.0), (260.0, 160.0), (200.0, 160.0)}
    assert {frozenset(e) for e in edges} == {
        frozenset(pair)
        for pair in (
            ((200.0, 0.0), (260.0, 0.0)),
            ((260.0, 0.0), (260.0, 160.0)),
            ((260.0, 160.0), (200.0, 160.0)),
            ((200.0, 160.0), (200.0, 0.0)),
        )
    }
    assert set().union(*edges) == corners
    with pytest.raises(InputProblem, match="no such edge"):
        with_submain_edge(PROJECT, "B2", 0, 9)


def test_a_climate_is_read_from_a_file(tmp_path):
    path = tmp_path / "station.csv"
    months = [4.1, 3.8, 3.2, 2.1, 1.4, 1.1, 1.2, 1.7, 2.4, 3.1, 3.7, 4.2]
    lines = ["month,et0,rain"] + [f"{i},{e},{10 + i}" for i, e in enumerate(months, 1)]
    path.write_text("\n".join(lines))
    before = with_source_at(PROJECT, (1.0, 2.0))
    water = with_climate_file(before, path).water
    assert water.climate.et0_mm_day == pytest.approx(months)
    assert water.climate.rain_mm == pytest.approx([10 + i for i in range(1, 13)])
    assert "station.csv" in water.climate.source
    assert water.source == before.water.source
