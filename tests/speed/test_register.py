"""How long the register of a million vines with ten events each takes. Nothing timed is asserted.

Every event is single and different: position, day, lot, cause and what it says are drawn at random, so that
nothing of it packs well. `extra_info["times_floor"]` is the median over that of the floor: decompressing the
same arrays and digesting them once, in the same run; for queries, comparing one value a vine once.
"""

from __future__ import annotations

import hashlib
import sqlite3
import zlib
from dataclasses import replace

import numpy as np
import pytest
import shapely

from layoutdesk.core.model import Block, Lot, Plant, Project, Register, Site, SiteFrame
from layoutdesk.core.model.register import CAUSES, Events, Stand
from layoutdesk.core.planting import standing as module
from layoutdesk.core.planting.standing import places_by, standing
from layoutdesk.core.planting.survival import inspection_result, survival
from layoutdesk.formats.project_file import open_project, save_project
from tests.speed.test_layout import _median_s

VINES, SEGMENTS, EVENTS = 1_000_000, 2_000, 10


@pytest.fixture(scope="module")
def project() -> Project:
    rng, per = np.random.default_rng(0), VINES // SEGMENTS
    ones = np.ones(SEGMENTS, int)
    x, y = np.repeat(np.arange(SEGMENTS) * 2400, per), np.tile(np.arange(per) * 1500, SEGMENTS)
    rows = np.arange(1, SEGMENTS + 1)
    stand = Stand(("B1",) * SEGMENTS, rows, 0 * ones, ones, per * ones, np.column_stack([x, y]))
    n = VINES * EVENTS
    place = np.repeat(np.arange(VINES, dtype=np.int32), EVENTS)
    rng.shuffle(place)
    events = Events(
        place,
        rng.integers(0, 7, n, np.uint8),
        rng.integers(738_000, 742_000, n, np.int32),
        rng.integers(0, 200, n, np.int16),
        rng.integers(-1, len(CAUSES), n, np.int16),
        rng.integers(0, 256, n, np.uint16),
    )
    lots = tuple(Lot(f"L{i}", Plant("Saperavi", str(i % 7))) for i in range(200))
    register = Register().with_batch(
        events, recorded="", by="", source="x", stand=stand, lots=lots, words=CAUSES
    )
    site = Site(SiteFrame(47.0, 8.0), "EPSG:25832", "EPSG:25832")
    return Project("x", site, (Block("B1", shapely.box(0, 0, 4800, 750)),), register=register)


@pytest.fixture(scope="module")
def path(project, tmp_path_factory):
    path = tmp_path_factory.mktemp("register") / "big.gpkg"
    save_project(path, project, draft=True)
    return path


@pytest.fixture(scope="module")
def opening_floor_s(path) -> float:
    with sqlite3.connect(path) as db:
        row = db.execute("SELECT * FROM layoutdesk_register").fetchone()
    blobs = [value for value in row if isinstance(value, bytes)]

    def work():
        digest = hashlib.sha256()
        for blob in blobs:
            digest.update(zlib.decompress(blob))

    return _median_s(work, 3)


def times(benchmark, floor: float) -> None:
    if benchmark.stats:
        benchmark.extra_info["times_floor"] = round(benchmark.stats.stats.median / floor, 2)


def test_opening(benchmark, path, opening_floor_s):
    opened = benchmark.pedantic(open_project, (path,), rounds=3)
    assert len(opened.register.events) == VINES * EVENTS
    times(benchmark, opening_floor_s)


def test_opening_and_the_first_query(benchmark, path, opening_floor_s):
    def work():
        return places_by(standing(open_project(path).register), lot="L7")

    assert len(benchmark.pedantic(work, rounds=3))
    times(benchmark, opening_floor_s)


@pytest.mark.parametrize(
    "asked", [{"lot": "L7"}, {"row": "B1-R1200"}, {"state": "dead"}, {"row": "B1-R012A", "cause": "frost"}],
    ids=lambda asked: "-".join(asked),
)  # fmt: skip
def test_a_query(benchmark, project, asked):
    now = standing(project.register)
    assert len(benchmark(lambda: places_by(now, **asked)))
    times(benchmark, _median_s(lambda: np.flatnonzero(now.lot == 7)))


def test_what_stands(benchmark, project, opening_floor_s):
    benchmark.pedantic(module._worked_out, (project.register,), rounds=3)
    times(benchmark, opening_floor_s)


def test_inspection_and_losses(benchmark, project, opening_floor_s):
    now = standing(project.register)
    benchmark.pedantic(lambda: (inspection_result(now, 0), survival(now)), rounds=2)
    times(benchmark, opening_floor_s)


def test_saving_with_one_entry_more(benchmark, project, path, tmp_path, opening_floor_s):
    """With the layer of what stands; what was on record before is not packed again."""
    opened = open_project(path)
    one = Events(*(np.array([v]) for v in (5, 0, 740_000, 0, -1, 0)))
    register = opened.register.with_batch(one, recorded="", by="", source="window")
    longer = replace(opened, register=register)
    benchmark.pedantic(save_project, (tmp_path / "x.gpkg", longer), rounds=2)
    times(benchmark, opening_floor_s)
