"""Random sites with rows, handed off on a grid of realistic size, staked with a mistake and measured with noise.

Everything is invented. A site has 1 to 60 ha, rows in any bearing, a grid in metres or in either foot, a combined factor
50 to 450 ppm from one, a convergence of 0.2° to 2.5°, and a declination of 2° to 20°, either way. Row ends alone are
measured, or vines as well; 1 to 3 % of points are left out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import shapely

from layoutdesk.core.layout.rows import lay_rows
from layoutdesk.core.model import Block, PointChoice, RowRules
from layoutdesk.core.staking.blunders import Facts
from layoutdesk.core.staking.points import point_set
from tests.zoo import random_hull, random_star

NOISE_M, TOLERANCE_M = 0.02, 0.03
MOST_POINTS = 600
FOOT_M, US_FOOT_M = 0.3048, 1200 / 3937
GRIDS = {
    1.0: ((2e5, 8e5), (1e6, 9.5e6)),
    FOOT_M: ((1e5, 9e5), (5e4, 2.2e6)),
    US_FOOT_M: ((1.5e5, 2.4e6), (3e4, 2.2e6)),
}


@dataclass(frozen=True, eq=False)
class StakedSite:
    """A plan, point by point: complex written coordinates [m], places in the frame [m], row ids, codes."""

    planned: np.ndarray
    xy_m: np.ndarray
    row: np.ndarray
    code: tuple[str, ...]
    facts: Facts
    has_vines: bool

    @property
    def farthest_m(self) -> float:
        return float(np.abs(self.planned - self.planned.mean()).max())

    def kept(self, chosen) -> StakedSite:
        chosen = np.flatnonzero(chosen)
        codes = tuple(self.code[i] for i in chosen.tolist())
        return replace(
            self, planned=self.planned[chosen], xy_m=self.xy_m[chosen], row=self.row[chosen], code=codes
        )  # fmt: skip


def _outline(rng) -> shapely.Polygon:
    hectares = math.exp(rng.uniform(0, math.log(60)))
    if rng.random() < 0.25:
        wide = math.sqrt(hectares * 1e4 * rng.uniform(0.4, 1.0))
        polygon = shapely.box(0, 0, wide, hectares * 1e4 / wide)
    elif rng.random() < 0.7:
        polygon = random_hull(rng, int(rng.integers(5, 14)), 100)
    else:
        polygon = random_star(rng, int(rng.integers(6, 12)), 100)
    grown = math.sqrt(hectares * 1e4 / polygon.area)
    return shapely.Polygon(np.asarray(polygon.exterior.coords) * grown)


@lru_cache(maxsize=400)
def random_site(seed: int) -> StakedSite:
    """The same for the same seed."""
    rng = np.random.default_rng([7, seed])
    outline = _outline(rng)
    rules = RowRules(
        bearing_deg=float(rng.uniform(0, 180)),
        row_spacing_m=float(rng.choice([1.8, 2.0, 2.4, 2.5, 2.75, 3.0, rng.uniform(1.8, 3.5)])),
        vine_spacing_m=float(rng.choice([1.0, 1.2, 1.5, rng.uniform(0.9, 2.4)])),
        headland_m=8.0,
        side_margin_m=float(rng.uniform(0, 4)),
        min_row_m=15.0,
        alley_every_m=float(rng.choice([0.0, 0.0, 120.0])),
    )  # fmt: skip
    block = Block("B1", outline, rules)
    plan = lay_rows(block, rules, [])
    kinds, every = ("end_post",), 1
    has_vines = bool(rng.random() < 0.5)
    if has_vines:
        kinds = ("end_post", "vine")
        n = len(point_set([plan], [], PointChoice(kinds=("vine",))))
        every = max(1, math.ceil(n / MOST_POINTS))
    found = point_set([plan], [], PointChoice(kinds=kinds, vine_every=every))
    points = found.all()
    codes = tuple(
        map(found.code, points.owner.tolist(), points.kind.tolist(), points.index.tolist())
    )
    unit = float(rng.choice([1.0, 1.0, FOOT_M, US_FOOT_M]))
    factor = 1 + float(rng.choice([-1, 1])) * rng.uniform(50e-6, 450e-6)
    convergence = float(rng.choice([-1, 1]) * rng.uniform(0.2, 2.5))
    declination = float(rng.choice([-1, 1]) * rng.uniform(2, 20))
    origin = complex(*(rng.uniform(*span) for span in GRIDS[unit]))
    # a grid bearing is the true one less the convergence: the grid's picture is turned anticlockwise by it
    place = points.xy_m[:, 0] + 1j * points.xy_m[:, 1]
    written = origin + factor * np.exp(1j * math.radians(convergence)) * place
    facts = Facts(
        unit, factor, (round(origin.real), round(origin.imag)), "grid", convergence, declination,
        rules.row_spacing_m, rules.vine_spacing_m, NOISE_M, TOLERANCE_M,
    )  # fmt: skip
    return StakedSite(written, points.xy_m, points.owner.astype(int), codes, facts, has_vines)


def measured(site: StakedSite, stood: np.ndarray, rng, stray: int = 0, noise_m: float = NOISE_M):
    """The site without points that were not measured, and where the others were measured.

    Parameters
    ----------
    site : StakedSite
    stood : complex array, shape (m,)
        Where they were staked, NaN for what was not. [m]
    rng : Generator
    stray : int
        So many points stand 0.3 to 5 m off, anywhere.
    """
    n = len(stood)
    noise = rng.normal(0, noise_m, n) + 1j * rng.normal(0, noise_m, n)
    there = np.isfinite(stood) & (rng.random(n) >= rng.uniform(0.01, 0.03))
    read = stood + noise
    hit = rng.choice(np.flatnonzero(there), stray, replace=False)
    read[hit] += rng.uniform(0.3, 5, stray) * np.exp(1j * rng.uniform(0, 2 * np.pi, stray))
    return site.kept(there), read[there]


def keyed(site: StakedSite):
    """Row (segment) by code of every point, number and letter of it, and what the point is in it."""
    heads, tails = zip(*(code.rsplit("-", 1) for code in site.code), strict=True)
    number = np.array([int(h.split("-R")[1].rstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ")) for h in heads])
    return np.array(heads), number, np.array(tails)


def counterpart(site: StakedSite, onto: dict[str, str]) -> np.ndarray:
    """Where points stand when the rows of `onto` are staked in other rows' places, NaN where nothing is there."""
    place = dict(zip(site.code, site.planned.tolist(), strict=True))
    nowhere = complex(np.nan, np.nan)
    stood = []
    for code, own in zip(site.code, site.planned.tolist(), strict=True):
        head, tail = code.rsplit("-", 1)
        stood.append(place.get(f"{onto[head]}-{tail}", nowhere) if head in onto else own)
    return np.array(stood)
