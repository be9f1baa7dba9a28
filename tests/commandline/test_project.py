"""What is laid from a saved project."""

from __future__ import annotations

import pytest

from layoutdesk.formats.project_file import open_project, save_project
from layoutdesk.session.samples import open_sample
from tests.commandline.laying import (
    FILES,
    SAMPLES,
    each_sample,
    entities,
    lay,
    rules_of,
)

pytestmark = pytest.mark.filterwarnings("ignore:Geometry is in a geographic CRS")


@each_sample
def test_a_saved_project_gives_the_same_stakes_as_its_outline(set_of, name, tmp_path):
    out, summary = set_of(name)
    again = lay(out / "project.gpkg", tmp_path)
    for file in ("stakes.csv", "stakes.geojson"):
        assert (tmp_path / file).read_bytes() == (out / file).read_bytes(), file
    assert entities(tmp_path) == entities(out)
    assert again == summary
    assert open_project(tmp_path / "project.gpkg") == open_project(out / "project.gpkg")


def test_a_sample_saved_by_the_window_gives_the_same_stakes(set_of, tmp_path):
    out, summary = set_of("field_with_pond")
    save_project(tmp_path / "x.gpkg", open_sample(SAMPLES["field_with_pond"]))
    again = lay(tmp_path / "x.gpkg", tmp_path / "out")
    assert again["vines"] == summary["vines"]
    assert (tmp_path / "out" / "stakes.csv").read_bytes() == (out / "stakes.csv").read_bytes()


def test_a_project_may_be_laid_into_its_own_folder(outline, tmp_path):
    first = lay(outline, tmp_path, "--bearing", "3")
    again = lay(tmp_path / "project.gpkg", tmp_path, "--row-spacing", "3")
    assert again["rows"] < first["rows"]
    assert again["bearing_deg"] == 3.0
    assert rules_of(tmp_path).row_spacing_m == 3.0
    assert sorted(p.name for p in tmp_path.iterdir()) == FILES


def test_options_change_a_project_as_they_would_its_outline(outline, project, tmp_path):
    changes = ["--height", "450", "--survey-crs", "EPSG:32753", "--row-spacing", "9ft"]
    a = lay(outline, tmp_path / "a", "--bearing", "3", *changes)
    b = lay(project, tmp_path / "b", *changes)
    assert a["vines"] == b["vines"]
    assert a["frame"] == b["frame"]
    assert (tmp_path / "a" / "stakes.csv").read_bytes() == (
        tmp_path / "b" / "stakes.csv"
    ).read_bytes()
