"""How fast many parcels are compared, and whether memory stays flat. Nothing timed is asserted.

Run with `python -m pytest tests/speed/test_parcels.py --benchmark-only`. The floor is the sweep alone,
in one process, over outlines that are in memory and in their frames already: `times_floor` is
what reading, mending, frames, text, parts and the processes' own cost make of it, divided by what more
processes save. With n processes 1 / n is the least there can be.
"""

from __future__ import annotations

import os
import shutil
import time
from pathlib import Path

import pytest

from layoutdesk.core.compare.sweep import sweep, sweep_bearings
from layoutdesk.core.model import RowRules
from layoutdesk.session.opening import project_from_outline
from layoutdesk.session.parcels import ParcelsRequest, compare_parcels
from layoutdesk.session.parcels_work import ParcelSettings
from tests.parcels_made import fields, layer

N_PARCELS = 200
BEARINGS = tuple(sweep_bearings(1.0).tolist())


def floor_s(tmp_path) -> float:
    """The sweep of as many parcels, by one process. [s]"""
    made = fields(20)
    blocks = []
    for k in range(len(made)):
        made.iloc[[k]].to_file(tmp_path / f"{k}.gpkg")
        blocks.append(project_from_outline(tmp_path / f"{k}.gpkg", rules=RowRules()).blocks)
    for each in blocks[:3]:
        sweep(each, (), None, BEARINGS)
    start = time.perf_counter()
    for each in blocks:
        sweep(each, (), None, BEARINGS)
    return (time.perf_counter() - start) * N_PARCELS / len(made)


@pytest.mark.parametrize("n_processes", [1, os.cpu_count() or 1])
def test_parcels_at_180_bearings(benchmark, tmp_path, n_processes):
    """About 5 ha each, 6 to 39 corners, without the sun, which costs once for a region."""
    path, out = layer(tmp_path / "parcels.gpkg", N_PARCELS), tmp_path / "out"
    settings = ParcelSettings(BEARINGS, sun=False)

    def run():
        shutil.rmtree(out, ignore_errors=True)
        return compare_parcels(
            ParcelsRequest(path, out, settings, id_field="code", n_processes=n_processes)
        )

    facts = benchmark.pedantic(run, rounds=3, warmup_rounds=0)
    assert facts["counts"]["rows"] == N_PARCELS * len(BEARINGS)
    if benchmark.stats:
        median = benchmark.stats.stats.median
        floor = floor_s(tmp_path)
        benchmark.extra_info.update(
            processes=n_processes,
            parcels_a_second=round(N_PARCELS / median, 1),
            bearings_a_second=round(N_PARCELS * len(BEARINGS) / median),
            minutes_for_10000_parcels=round(10_000 / N_PARCELS * median / 60, 1),
            floor_ms_a_parcel=round(1e3 * floor / N_PARCELS, 2),
            times_floor=round(median / floor, 2),
        )


def _resident_mb() -> float:
    """Of this process and all that it has begun. [MB]"""
    me, total, parent = os.getpid(), 0, {}
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                state = (entry / "stat").read_text().rpartition(")")[2].split()
            except OSError:
                continue
            parent[int(entry.name)] = int(state[1]), int(state[21]) * 4096
    for process, (_, size) in parent.items():
        above = process
        while above in parent and above != me:
            above = parent[above][0]
        total += size if above == me else 0
    return total / 1e6


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="memory is read from /proc")
def test_memory_stays_flat(benchmark, tmp_path):
    """All processes together after 1,000 and after 3,000 parcels, eight bearings each."""
    path, out = layer(tmp_path / "parcels.gpkg", 3000), tmp_path / "out"
    settings = ParcelSettings(tuple(sweep_bearings(22.5).tolist()), sun=False)
    seen: dict[int, float] = {}

    def look(going):
        for n in (1000, 3000):
            if going.done >= n and n not in seen:
                seen[n] = _resident_mb()

    def run():
        seen.clear()
        shutil.rmtree(out, ignore_errors=True)
        request = ParcelsRequest(path, out, settings, id_field="code", n_processes=2)
        return compare_parcels(request, look)

    benchmark.pedantic(run, rounds=1, warmup_rounds=0)
    benchmark.extra_info.update({f"mb_after_{n}": round(mb, 1) for n, mb in seen.items()})
    assert seen[3000] < seen[1000] + 30
