"""Every mistake with a name, made in turn on 200 random sites and measured with 2 cm of noise in each axis.

2 cm is common practice for a single satellite measurement against its own base; sites are those of
`tests.core.staked_sites`. A mistake that does next to nothing on a site cannot show there, so it is made at least one
tolerance (3 cm) large: at the point farthest from the middle for turns and scales (where the combined factor does less, the
site's factor is taken to be the least that does it), by its length for a shift. Foot, axes and rows do more than that
anywhere. A declination is known to 0.2° only. Three sites in ten have a stray point besides, which may be told as well.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from layoutdesk.core.staking.blunders import explained
from tests.core.staked_sites import (
    FOOT_M,
    TOLERANCE_M,
    US_FOOT_M,
    counterpart,
    keyed,
    measured,
    random_site,
)

N_SITES = 200
ENOUGH = 0.95
FEET = FOOT_M / US_FOOT_M


def sign(rng) -> int:
    return int(rng.choice([-1, 1]))


def about_a_point(site, factor, rng):
    pivot = site.planned[rng.integers(len(site.planned))]
    return pivot + factor * (site.planned - pivot)


def turned(site, deg, rng):
    return site, about_a_point(site, np.exp(-1j * math.radians(deg)), rng)


def between(rng, least, most):
    return math.exp(rng.uniform(math.log(least), math.log(most)))


def honest(site, rng):
    return site, site.planned.copy()


def foot_taken_for_the_other(site, rng):
    return site, site.planned * FEET ** sign(rng)


def feet_as_metres(site, rng):
    foot = US_FOOT_M if site.facts.unit_m == US_FOOT_M else FOOT_M
    return site, site.planned * foot ** sign(rng)


def feet_as_metres_about_a_point(site, rng):
    return site, about_a_point(site, FOOT_M ** sign(rng), rng)


def axes_exchanged(site, rng):
    return site, 1j * site.planned.conj()


def grid_as_ground(site, rng):
    off = site.facts.combined_factor - 1
    least = TOLERANCE_M / site.farthest_m
    if abs(off) < least:
        site = replace(
            site, facts=replace(site.facts, combined_factor=1 + math.copysign(least, off))
        )
    return site, about_a_point(site, site.facts.combined_factor ** sign(rng), rng)


def by_the_convergence(site, rng):
    return turned(site, site.facts.convergence_deg * sign(rng), rng)


def by_the_declination(site, rng):
    return turned(site, site.facts.declination_deg * sign(rng) + rng.normal(0, 0.2), rng)


def grid_by_compass(site, rng):
    deg = site.facts.declination_deg - site.facts.convergence_deg
    return turned(site, deg * sign(rng) + rng.normal(0, 0.2), rng)


def rows_exchanged(site, rng):
    rows = np.unique(keyed(site)[0])
    one, other = rng.choice(rows, 2, replace=False)
    if rng.random() < 0.5:
        first = rng.integers(len(rows) - 1)
        one, other = rows[first : first + 2]
    return site, counterpart(site, {one: other, other: one})


def rows_numbered_wrong(site, rng):
    by = int(rng.choice([-2, -1, 1, 2]))
    onto = {}
    for row in set(keyed(site)[0]):
        head, number, letter = re.match(r"(.*-R)(\d+)([A-Z]+)", row).groups()
        onto[row] = f"{head}{int(number) + by:0{len(number)}d}{letter}"
    return site, counterpart(site, onto)


def row_from_its_other_end(site, rng):
    heads = keyed(site)[0]
    mine = np.flatnonzero(heads == rng.choice(np.unique(heads)))
    stood = site.planned.copy()
    kinds = np.array([site.code[i].rsplit("-", 1)[1][0] for i in mine.tolist()])
    for kind in set(kinds):
        at = mine[kinds == kind]
        stood[at] = stood[at[0]] + stood[at[-1]] - stood[at]
    return site, stood


def shifted(site, rng):
    shift = between(rng, TOLERANCE_M, 20.0)
    return site, site.planned + shift * np.exp(2j * np.pi * rng.random())


def turned_by_anything(site, rng):
    turn = between(rng, TOLERANCE_M / site.farthest_m, 0.5)
    return turned(site, math.degrees(turn) * sign(rng), rng)


def scaled_by_anything(site, rng):
    """From 1000 ppm, beyond any combined factor."""
    return site, about_a_point(site, 1 + between(rng, 1e-3, 0.05) * sign(rng), rng)


MISTAKES = {
    foot_taken_for_the_other: "survey-foot",
    feet_as_metres: "feet-as-metres",
    feet_as_metres_about_a_point: "feet-as-metres",
    axes_exchanged: "axes-swapped",
    grid_as_ground: "grid-as-ground",
    by_the_convergence: "bearing-convergence",
    by_the_declination: "bearing-magnetic",
    grid_by_compass: "bearing-magnetic",
    rows_exchanged: "rows-swapped",
    rows_numbered_wrong: "rows-shifted",
    row_from_its_other_end: "row-reversed",
    shifted: "shift",
    turned_by_anything: "turn",
    scaled_by_anything: "scale",
}


def told(mistake, seed: int) -> tuple[list[str], int]:
    """Codes of what is told, without a stray point that is there; how many such points there are."""
    rng = np.random.default_rng([11, seed])
    site, stood = mistake(random_site(seed), rng)
    stray = int(rng.random() < 0.3)
    found, read = measured(site, stood, rng, stray)
    explanations = explained(
        np.column_stack([found.planned.real, found.planned.imag]),
        np.column_stack([read.real, read.imag]),
        site.facts,
        xy_m=found.xy_m,
        row=found.row,
        end=found.code,
    )
    return [e.code for e in explanations if not (stray and e.code == "point-off")], stray


@pytest.mark.parametrize("mistake", MISTAKES, ids=lambda m: m.__name__)
def test_a_mistake_and_nothing_else_is_recognised_on_random_sites(mistake):
    found = Counter("+".join(told(mistake, seed)[0]) for seed in range(N_SITES))
    assert found[MISTAKES[mistake]] >= ENOUGH * N_SITES, found


def test_nothing_is_explained_where_sites_were_staked_well():
    found = Counter("+".join(told(honest, seed)[0]) for seed in range(N_SITES))
    assert found[""] >= ENOUGH * N_SITES, found
