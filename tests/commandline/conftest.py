"""What the tests of the command line lay: a field, a pond, a project, the samples."""

from __future__ import annotations

import re
import signal
from pathlib import Path

import geopandas
import pytest
import shapely

from layoutdesk.commandline import main
from tests.commandline.laying import (
    SAMPLES,
    lay,
)


@pytest.fixture(autouse=True)
def _the_signal_handler_is_put_back():
    before = signal.getsignal(signal.SIGTERM)
    yield
    signal.signal(signal.SIGTERM, before)


@pytest.fixture(scope="session")
def outline(tmp_path_factory) -> Path:
    """A field of 100 by 120 m on WGS 84 / UTM zone 54S, its sides along the grid."""
    path = tmp_path_factory.mktemp("outline") / "field.gpkg"
    box = shapely.box(288_800, 6_180_000, 288_900, 6_180_120)
    geopandas.GeoDataFrame(geometry=[box], crs="EPSG:32754").to_file(path)
    return path


@pytest.fixture(scope="session")
def pond(tmp_path_factory) -> Path:
    path = tmp_path_factory.mktemp("pond") / "pond.geojson"
    shape = shapely.Point(288_850, 6_180_060).buffer(6)
    geopandas.GeoDataFrame(geometry=[shape], crs="EPSG:32754").to_crs(4326).to_file(path)
    return path


@pytest.fixture(scope="session")
def project(tmp_path_factory, outline) -> Path:
    out = tmp_path_factory.mktemp("project")
    assert main(["lay", str(outline), "--out", str(out), "--bearing", "3", "--height", "100"]) == 0
    return out / "project.gpkg"


@pytest.fixture(scope="session")
def set_of(tmp_path_factory):
    """Folder and summary of a sample laid from its outline, once."""
    known = {}

    def laid(name):
        if name not in known:
            sample, out = SAMPLES[name], tmp_path_factory.mktemp(name)
            options = ["--height", sample.height_m]
            for rule, value in sample.rules.items():
                option = re.sub(r"_(m|deg|pct)$", "", rule).replace("_", "-")
                options += [f"--{option}", value]
            for path, clearance_m in sample.exclusions:
                options += ["--exclude", path]
                options += [] if clearance_m is None else ["--clearance", clearance_m]
            known[name] = out, lay(sample.outline, out, *options)
        return known[name]

    return laid
