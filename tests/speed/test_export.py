"""Time and memory to write a million points, against a raw write of the same bytes.

Run with --benchmark-only; nothing here asserts a time.
"""

import time
import tracemalloc

import pytest
import shapely

from layoutdesk import Block, RowRules
from layoutdesk.formats.stakes_csv import write_stakes_csv
from layoutdesk.formats.stakes_dxf import write_stakes_dxf
from layoutdesk.formats.stakes_geojson import write_stakes_geojson
from tests.formats.test_stakes_csv import stakes_of

_PIECE = 1 << 20
"""About the size of the pieces the writers write. [bytes]"""


@pytest.fixture(scope="module")
def stakes():
    rules = RowRules(bearing_deg=0, line_post_every=0, anchor_m=0)
    return stakes_of(Block("B1", shapely.box(-2_000, -468, 2_000, 468), rules))


def raw_write_s(path, data):
    """Least time of three to write the bytes to a new file. [s]"""
    times = []
    for _ in range(3):
        path.unlink(missing_ok=True)
        begin = time.perf_counter()
        with open(path, "wb", buffering=0) as file:
            for at in range(0, len(data), _PIECE):
                file.write(data[at : at + _PIECE])
        times.append(time.perf_counter() - begin)
    return min(times)


@pytest.mark.parametrize("write", [write_stakes_csv, write_stakes_geojson, write_stakes_dxf])
def test_a_million_points_are_written_at_a_small_multiple_of_a_raw_write(
    benchmark, tmp_path, stakes, write
):
    path = tmp_path / "stakes"
    count = benchmark.pedantic(
        lambda: write(path, stakes),
        setup=lambda: path.unlink(missing_ok=True),
        rounds=4,
        warmup_rounds=1,
    )
    assert count >= stakes.plans[0].n_vines > 1_000_000
    raw_s = raw_write_s(tmp_path / "raw", memoryview(path.read_bytes()))
    tracemalloc.start()
    write(path, stakes)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    benchmark.extra_info |= {
        "megabytes": round(path.stat().st_size / 1e6),
        "raw_write_ms": round(raw_s * 1e3, 1),
        "times_raw_write": round(benchmark.stats.stats.min / raw_s, 1),
        "peak_memory_mb": round(peak / 1e6, 1),
    }
