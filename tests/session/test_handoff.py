"""The preview of a stake-out set tells what writing it will give."""

from __future__ import annotations

import datetime
import json
import re
from dataclasses import replace

import pytest
import shapely

from layoutdesk.core.model import Block, Exclusion, Project, RowRules, Site, SiteFrame
from layoutdesk.session.handoff import preview_of
from layoutdesk.session.layouts import Layouter, LayoutRequest
from layoutdesk.session.opening import with_survey_crs
from layoutdesk.session.stakeout import stake_set, write_stake_set
from layoutdesk.session.survey import survey_view


@pytest.fixture(scope="module")
def project():
    block = Block("B1", shapely.box(-60, -40, 60, 50), RowRules(bearing_deg=15.0))
    site = Site(SiteFrame(-35.0, 141.2, 120.0), "EPSG:32754", "EPSG:32754")
    return Project("oak", site, (block,), day=datetime.date(2026, 5, 1))


def preview(project, folder=None):
    answer = Layouter().answer(LayoutRequest(1, project))
    return preview_of(project, answer, survey_view(project), folder), answer


def number(text: str, word: str) -> int:
    found = re.search(rf"([\d\s,\u202f\u00a0]+) {word}", text)
    return int(re.sub(r"\D", "", found[1]))


def test_counts_are_those_of_the_files_that_writing_gives(project, tmp_path):
    hole = Exclusion(shapely.Point(0, 0).buffer(4), 2.0, kind="pond")
    project = replace(project, exclusions=(*project.exclusions, hole))
    told, answer = preview(project)
    write_stake_set(tmp_path / "set", stake_set(project), lambda *_: None)
    by_name = {f.name: f for f in told.files}
    lines = (tmp_path / "set" / "stakes.csv").read_text(encoding="utf-8").splitlines()
    marks = [line for line in lines if line and not line.startswith("#")]
    assert number(by_name["stakes.csv"].holds, "points") == len(marks) - 1
    assert number(by_name["stakes.csv"].holds, "vines") == answer.tally.vines
    features = json.loads((tmp_path / "set" / "stakes.geojson").read_text(encoding="utf-8"))
    assert number(by_name["stakes.geojson"].holds, "features") == len(features["features"])
    assert number(by_name["stakes.dxf"].holds, "row segments") == sum(
        p.n_segments for p in answer.plans
    )
    written = {p.name for p in (tmp_path / "set").iterdir()}
    assert written == {n for f in told.files for n in f.name.split(", ")}


def test_system_unit_and_factor_are_those_of_the_survey_grid(project):
    told, _ = preview(with_survey_crs(project, "EPSG:32754"))
    assert "EPSG:32754" in told.files[0].system
    assert "metre" in told.files[0].system
    assert "WGS 84" in told.files[2].system
    assert re.search(r"0\.\d{4}|1\.\d{4}", told.factor)


def test_an_older_set_in_the_folder_is_told(project, tmp_path):
    folder = tmp_path / "set"
    assert preview(project, folder)[0].there == ""
    folder.mkdir()
    assert preview(project, folder)[0].there == ""
    write_stake_set(folder, stake_set(project), lambda *_: None)
    assert preview(project, folder)[0].there.startswith("This plan is written there already")
    other = replace(project, name="another")
    assert preview(other, folder)[0].there.endswith("will be replaced.")
    assert preview(project, None)[0].there == ""
