"""Height and survey grid."""

from __future__ import annotations

import numpy as np
import pytest
from pyproj import Transformer

from tests.commandline.laying import (
    SAMPLES,
    distance_m,
    lay,
    table,
)

pytestmark = pytest.mark.filterwarnings("ignore:Geometry is in a geographic CRS")


@pytest.mark.parametrize("height", ["0", "1000", "3000ft"])
def test_the_height_changes_grid_distances_by_h_over_r(outline, tmp_path, height):
    summary = lay(outline, tmp_path, "--height", height, "--bearing", "0", "--vine-spacing", "1")
    height_m = {"3000ft": 914.4}.get(height) or float(height)
    assert summary["frame"]["height_m"] == pytest.approx(height_m, rel=1e-15)
    ground = 80.0
    grid = distance_m(tmp_path, "B1-R010A-V001", "B1-R010A-V081")
    factor = summary["survey"]["combined_factor"]
    assert grid == pytest.approx(ground * factor, abs=1.5e-4)
    flat = summary["survey"]["point_scale"]
    radius_m = 6_371_900  # mean radius of curvature at 34.5° S on WGS 84, to 1 km
    assert (factor / flat - 1) * 1e6 == pytest.approx(
        -height_m / (radius_m + height_m) * 1e6, abs=0.05
    )


def test_a_survey_grid_in_feet_writes_feet(outline, tmp_path):
    sample = SAMPLES["bench_in_feet"]
    summary = lay(sample.outline, tmp_path, "--survey-crs", "EPSG:6598")  # the same grid in metres
    assert summary["survey"]["unit"] == "metre"
    metres = {r["description"]: r for r in table(tmp_path)}
    out = tmp_path / "feet"
    assert lay(sample.outline, out)["survey"]["unit"] == "US survey foot"
    feet = {r["description"]: r for r in table(out)}
    assert list(feet) == list(metres)
    for code in list(feet)[::5000]:
        for axis in ("northing", "easting"):
            ratio = float(metres[code][axis]) / float(feet[code][axis])
            assert ratio == pytest.approx(1200 / 3937, rel=1e-9)


def test_another_survey_grid_on_the_same_datum_is_the_same_place(outline, tmp_path):
    here = lay(outline, tmp_path / "a", "--bearing", "0")
    other = lay(outline, tmp_path / "b", "--bearing", "0", "--survey-crs", "EPSG:32753")
    assert other["survey"]["crs"] == "EPSG:32753"
    assert other["vines"] == here["vines"]
    assert "survey-crs-chosen" not in [f["code"] for f in other["findings"]]

    def lonlat(out, crs):
        rows = table(out)[::200]
        to = Transformer.from_crs(crs, "EPSG:4326", always_xy=True)
        xy = np.array([[float(r["easting"]), float(r["northing"])] for r in rows])
        return np.column_stack(to.transform(*xy.T))

    apart = lonlat(tmp_path / "a", "EPSG:32754") - lonlat(tmp_path / "b", "EPSG:32753")
    assert np.abs(apart).max() * 111_320 < 2e-4  # four decimals of a metre, twice


def test_a_survey_grid_on_another_datum_is_a_finding_and_shifts_nothing(tmp_path):
    sample = SAMPLES["slope_two_blocks"]  # GDA2020; GDA94 lies 1.8 m away
    own = lay(sample.outline, tmp_path / "a", "--bearing", "66")
    summary = lay(sample.outline, tmp_path / "b", "--bearing", "66", "--survey-crs", "EPSG:28355")
    found = {f["code"]: f["severity"] for f in summary["findings"]}
    assert found["datum-not-shifted"] == "caution"
    assert "datum-not-shifted" not in {f["code"] for f in own["findings"]}
    for a, b in zip(table(tmp_path / "a")[::3000], table(tmp_path / "b")[::3000], strict=True):
        assert float(a["easting"]) == pytest.approx(float(b["easting"]), abs=2e-4)
        assert float(a["northing"]) == pytest.approx(float(b["northing"]), abs=2e-4)
