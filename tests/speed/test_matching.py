"""How long 100,000 measured points take to be matched with a plan of a million. Nothing timed is asserted.

`extra_info["times_floor"]` is the median over that of the floor of the same run: for codes and numbers, sorting as
many random whole numbers as the plan has points and looking up as many as were measured; for places, building a
KD-tree over the plan and asking it once for each measured point. `extra_info["times_unique"]` is the same over
`np.unique` of as many random whole numbers as the plan has points.
"""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from layoutdesk.core.layout.rows import lay_rows
from layoutdesk.core.model import Block, PointChoice, RowRules
from layoutdesk.core.model.handoff import POINT_KINDS
from layoutdesk.core.staking.matching import Measured, matched
from layoutdesk.core.staking.points import point_set
from layoutdesk.core.staking.residuals import directions, histogram, residuals
from tests.speed.test_layout import _median_s

MEASURED = 100_000
RULES = RowRules(
    bearing_deg=20.0, row_spacing_m=2.4, vine_spacing_m=1.5, line_post_every=4, anchor_m=1.2
)


class Site:
    def __init__(self):
        block = Block("B1", shapely.box(0, 0, 1800, 1750), RULES)
        self.plan = lay_rows(block, RULES, [])
        self.set = point_set([self.plan], [], PointChoice(kinds=POINT_KINDS[1:]))
        points = self.set.all()
        assert len(points) > 1_000_000
        self.en = points.xy_m + (288_000.0, 6_180_000.0)
        rng = np.random.default_rng(1)
        self.which = rng.choice(len(points), MEASURED, replace=False)
        fields = (points.owner, points.kind, points.index)
        picked = zip(*(f[self.which].tolist() for f in fields), strict=True)
        self.measured = Measured(
            tuple(map(str, points.number[self.which].tolist())),
            tuple(self.set.code(*p) for p in picked),
            self.en[self.which] + rng.normal(0, 0.02, (MEASURED, 2)),
            np.full(MEASURED, np.nan),
            np.arange(1, MEASURED + 1),
        )


@pytest.fixture(scope="module")
def site():
    return Site()


@pytest.fixture(scope="module")
def floors_s(site) -> dict[str, float]:
    from scipy.spatial import cKDTree

    rng = np.random.default_rng(0)
    keys = rng.integers(0, 1 << 60, len(site.en))
    asked = keys[site.which]
    en, measured = site.en - site.en[0], site.measured.en_m - site.en[0]

    def sorted_once():
        order = np.argsort(keys)
        return np.searchsorted(keys, asked, sorter=order)

    def tree_once():
        return cKDTree(en, balanced_tree=False, compact_nodes=False).query(measured)

    sorting = _median_s(sorted_once)
    return {
        "code": sorting,
        "number": sorting,
        "": sorting,
        "place": _median_s(tree_once),
        "unique": _median_s(lambda: np.unique(keys)),
    }


@pytest.mark.parametrize("way", ["code", "number", "place", ""])
def test_a_hundred_thousand_of_a_million(benchmark, site, floors_s, way):
    found = benchmark(lambda: matched(site.set, site.en, site.measured, way, numbered=site.set))
    assert len(found.planned) == MEASURED
    assert (found.planned == site.which[found.measured]).all()
    benchmark.extra_info["times_floor"] = benchmark.stats["median"] / floors_s[way]
    benchmark.extra_info["times_unique"] = benchmark.stats["median"] / floors_s["unique"]


def test_residuals_of_a_hundred_thousand(benchmark, site, floors_s):
    found = matched(site.set, site.en, site.measured, "code")
    some = type(found.points)(
        *(
            getattr(found.points, f)[found.planned]
            for f in ("number", "kind", "owner", "index", "xy_m")
        )
    )
    measured_m = site.measured.en_m[found.measured] - (288_000.0, 6_180_000.0)

    def work():
        off = residuals(some.xy_m, measured_m, directions([site.plan], some))
        return off, histogram(off.distance_m, 0.03)

    off, bars = benchmark(work)
    assert bars.count.sum() == MEASURED
    assert 0.02 < off.distance_m.mean() < 0.03
    benchmark.extra_info["times_unique"] = benchmark.stats["median"] / floors_s["unique"]
