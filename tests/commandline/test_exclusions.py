"""Exclusions and their clearances."""

from __future__ import annotations

import json

import geopandas
import pytest

from layoutdesk.formats.project_file import open_project
from tests.commandline.laying import (
    lay,
)

pytestmark = pytest.mark.filterwarnings("ignore:Geometry is in a geographic CRS")


def test_clearances_belong_to_the_exclusion_before_them(outline, pond, tmp_path):
    bare = lay(outline, tmp_path / "none", "--bearing", "0")
    vines = {"none": bare["vines"]}
    for name, options in {
        "own": ["--exclude", pond],
        "five": ["--exclude", pond, "--clearance", "5"],
        "feet": ["--exclude", pond, "--clearance", "16ft5in"],
        "both": ["--exclude", pond, "--clearance", "5", "--exclude", pond],
        "other": ["--exclude", pond, "--exclude", pond, "--clearance", "5"],
    }.items():
        summary = lay(outline, tmp_path / name, "--bearing", "0", *options)
        vines[name] = summary["vines"]
        clearances = [
            e.clearance_m for e in open_project(tmp_path / name / "project.gpkg").exclusions
        ]
        wanted = {
            "own": [0.0],
            "five": [5.0],
            "feet": [16 * 0.3048 + 5 * 0.0254],
            "both": [5.0, 0.0],
            "other": [0.0, 5.0],
        }
        assert clearances == pytest.approx(wanted[name])
    assert vines["five"] < vines["own"] < vines["none"]
    assert vines["both"] == vines["other"] == vines["five"]


def test_no_vine_stands_in_a_clearance(outline, pond, tmp_path):
    lay(outline, tmp_path, "--exclude", pond, "--clearance", "5")
    exclusion = open_project(tmp_path / "project.gpkg").exclusions[0].shape
    vines = geopandas.read_file(tmp_path / "project.gpkg", layer="vines")
    assert vines.geometry.distance(exclusion).min() >= 5 - 1e-3


def test_exclusions_that_name_no_system_are_in_the_outlines(outline, tmp_path, capsys):
    """Corners read off the same survey as the outline need no word about it."""
    lay(outline, tmp_path / "bare")
    bare = json.loads((tmp_path / "bare" / "summary.json").read_text())
    stakes = (tmp_path / "bare" / "stakes.csv").read_text().splitlines()[1:]
    northing, easting = map(float, stakes[len(stakes) // 2].split(",")[1:3])
    post = tmp_path / "post.csv"
    post.write_text(f"easting,northing\n{easting},{northing}\n")
    lay(outline, tmp_path / "out", "--exclude", post, "--clearance", "20")
    summary = json.loads((tmp_path / "out" / "summary.json").read_text())
    assert summary["vines"] < bare["vines"] - 50
    said = [f["message"] for f in summary["findings"] if f["code"] == "crs-given"]
    assert said == ["The file names no coordinate system; the outline's, EPSG:32754, was taken."]
