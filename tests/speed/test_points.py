"""Time and memory to write a hand-off of a million points, against a raw write of the same bytes.

Run with --benchmark-only; nothing here asserts a time. The checksum in the seal is part of the time; it is
reckoned beside the writing where a second processor is free.
"""

import tracemalloc

import pytest
import shapely

from layoutdesk import Block, RowRules
from layoutdesk.core.model.handoff import PointChoice
from layoutdesk.formats.points_csv import write_points_tables
from layoutdesk.formats.points_dxf import write_points_dxf
from layoutdesk.formats.points_geojson import write_points_geojson
from tests.formats.point_hands import SEAL, hand_of
from tests.speed.test_export import raw_write_s

RULES = RowRules(bearing_deg=0, line_post_every=0, anchor_m=0)
BIG = Block("B1", shapely.box(-2_000, -468, 2_000, 468), RULES)
WRITERS = {
    "csv": lambda path, hand: write_points_tables(path.parent, path.stem, hand, SEAL),
    "txt": lambda path, hand: write_points_tables(path.parent, path.stem, hand, SEAL, fixed=True),
    "dxf": lambda path, hand: write_points_dxf(path, hand, SEAL),
    "dxf-3d": lambda path, hand: write_points_dxf(path, hand, SEAL, raised=True),
    "geojson": lambda path, hand: write_points_geojson(path, hand, SEAL),
}


@pytest.fixture(scope="module", params=["by kind", "serpentine"])
def hand(request):
    return hand_of(
        PointChoice(order=request.param),
        blocks=(BIG,),
        exclusions=(),
        heights=lambda xy: 200 + 0.01 * xy[:, 0],
    )


@pytest.mark.parametrize("key", WRITERS)
def test_a_million_points_are_written_at_a_small_multiple_of_a_raw_write(
    benchmark, tmp_path, hand, key
):
    path = tmp_path / f"points.{'dxf' if key == 'dxf-3d' else key}"
    write = WRITERS[key]
    benchmark.pedantic(
        lambda: write(path, hand),
        setup=lambda: path.unlink(missing_ok=True),
        rounds=4,
        warmup_rounds=1,
    )
    assert len(hand.points) > 1_000_000
    raw_s = raw_write_s(tmp_path / "raw", memoryview(path.read_bytes()))
    tracemalloc.start()
    write(path, hand)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    benchmark.extra_info |= {
        "megabytes": round(path.stat().st_size / 1e6),
        "raw_write_ms": round(raw_s * 1e3, 1),
        "times_raw_write": round(benchmark.stats.stats.min / raw_s, 1),
        "peak_memory_mb": round(peak / 1e6, 1),
    }
