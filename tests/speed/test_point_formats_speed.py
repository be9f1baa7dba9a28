"""Time and memory to hand off a million points, against a raw write of the same bytes.

Run with --benchmark-only; nothing here asserts a time.
"""

import tracemalloc

import pytest
import shapely

from layoutdesk.core.model import Block, RowRules
from layoutdesk.core.model.handoff import PointChoice
from layoutdesk.formats.points_gpkg import gpkg_seal
from layoutdesk.session.hand_off_files import write_one
from layoutdesk.session.hand_off_lines import FILE_NAMES
from layoutdesk.session.hand_off_set import hand_off_set
from tests.speed.test_export import raw_write_s
from tests.staked_project import project


@pytest.fixture(scope="module")
def hand():
    rules = RowRules(bearing_deg=0, line_post_every=0, anchor_m=0)
    block = Block("B1", shapely.box(-2_000, -468, 2_000, 468), rules)
    return hand_off_set(project(blocks=(block,), points=PointChoice(("end_post", "vine"))))


@pytest.mark.parametrize("key", ["landxml", "kml", "kmz", "gpx", "gpkg", "shp"])
def test_a_million_points_are_handed_off(benchmark, tmp_path, hand, key):
    path = tmp_path / FILE_NAMES[key]
    benchmark.pedantic(
        lambda: write_one(tmp_path, hand, key),
        setup=lambda: path.unlink(missing_ok=True),
        rounds=3,
        warmup_rounds=1,
    )
    assert len(hand.points) > 1_000_000
    raw_s = raw_write_s(tmp_path / "raw", memoryview(path.read_bytes()))
    path.unlink()
    tracemalloc.start()
    write_one(tmp_path, hand, key)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    benchmark.extra_info |= {
        "megabytes": round(path.stat().st_size / 1e6),
        "raw_write_ms": round(raw_s * 1e3, 1),
        "times_raw_write": round(benchmark.stats.stats.min / raw_s, 1),
        "peak_memory_mb": round(peak / 1e6, 1),
    }


def test_the_seal_of_a_million_points_in_a_geopackage_is_checked(benchmark, tmp_path, hand):
    (name,) = write_one(tmp_path, hand, "gpkg")
    found = benchmark.pedantic(lambda: gpkg_seal(tmp_path / name), rounds=2)
    assert found.is_whole
