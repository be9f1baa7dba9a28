"""Samples and bounds against printed values; the name, publisher and year of each stand beside it."""

from __future__ import annotations

import math

import numpy as np
import pytest

from layoutdesk.core.planting.drawing_lots import numbers_of
from layoutdesk.core.planting.sampling import (
    accept_chance,
    printed_plan,
    sample_plan,
    share_bounds,
)


@pytest.mark.parametrize(
    ("share", "size", "accept", "printed_pct"),
    [
        # 7 CFR 42.140 (c), Code of Federal Regulations, US Government: curve 6, n 500, accepted up to 3
        (0.010, 500, 3, 26),
        (0.001, 500, 3, 99),  # "about 99 percent"; 99.8 by the binomial law
        # 7 CFR 42.141 (c): n 168, accepted up to 16 (the number by 42.109, from memory)
        (0.065, 168, 16, 95),
    ],
)
def test_large_lots_are_accepted_as_the_federal_curves_print(share, size, accept, printed_pct):
    assert 100 * accept_chance(None, share, size, accept) == pytest.approx(printed_pct, abs=1.0)


@pytest.mark.parametrize(
    ("lot", "faulty", "size", "accept", "chance"),
    [
        # scipy.stats.hypergeom 1.x, computed apart from this program
        (20_000, 200, 315, 7, 0.9857937406),
        (20_000, 500, 315, 7, 0.4680011196),
        (2_000, 20, 125, 3, 0.9677504002),
        (1_000, 25, 80, 5, 0.98880),
    ],
)
def test_lots_are_accepted_as_the_hypergeometric_law_says(lot, faulty, size, accept, chance):
    by_hand = sum(
        math.comb(faulty, k) * math.comb(lot - faulty, size - k) for k in range(accept + 1)
    ) / math.comb(lot, size)
    assert by_hand == pytest.approx(chance, abs=5e-6)
    assert accept_chance(lot, faulty, size, accept) == pytest.approx(by_hand, rel=1e-9)


@pytest.mark.parametrize(
    ("tolerated_pct", "size"),
    # Zero-defect samples for 95 % confidence and large lots: ln 0.05 / ln(1 − p), rounded up
    [(1.0, 299), (2.0, 149), (5.0, 59)],
)
def test_a_large_lot_with_nothing_accepted_takes_the_well_known_sizes(tolerated_pct, size):
    assert size == math.ceil(math.log(0.05) / math.log(1 - tolerated_pct / 100))
    assert sample_plan(10_000_000, tolerated_pct, 95.0).size == size


_AQLS = (0.65, 1.0, 1.5, 2.5, 4.0, 6.5, 10.0)
_REJECTS = {
    # MIL-STD-105E (US Department of Defense, 1989), tables I and II-A, as reprinted with reject numbers by
    # public works inspectors of the US Army (table 1-A, general level II, single, normal). Letter, size and
    # the cells of a lot in the middle of its range; v and ^ are the arrows.
    6: ("A", 2, "v v v v v 1 v"),  # the reprint has ^ in the last cell, with no plan above it
    12: ("B", 3, "v v v v 1 ^ v"),
    20: ("C", 5, "v v v 1 ^ v 2"),
    40: ("D", 8, "v v 1 ^ v 2 3"),
    70: ("E", 13, "v 1 ^ v 2 3 4"),
    120: ("F", 20, "1 ^ v 2 3 4 6"),
    200: ("G", 32, "^ v 2 3 4 6 8"),
    400: ("H", 50, "v 2 3 4 6 8 11"),
    800: ("J", 80, "2 3 4 6 8 11 15"),
    2_000: ("K", 125, "3 4 6 8 11 15 22"),
    5_000: ("L", 200, "4 6 8 11 15 22 ^"),
    20_000: ("M", 315, "6 8 11 15 22 ^ ^"),
    100_000: ("N", 500, "8 11 15 22 ^ ^ ^"),
    300_000: ("P", 800, "11 15 22 ^ ^ ^ ^"),
    900_000: ("Q", 1250, "15 22 ^ ^ ^ ^ ^"),
}


def test_every_cell_of_the_printed_table_and_what_its_arrows_point_to():
    rows = list(_REJECTS.values())
    for at, (lot, (_, _, cells)) in enumerate(_REJECTS.items()):
        for column, (aql, cell) in enumerate(zip(_AQLS, cells.split(), strict=True)):
            step = {"v": 1, "^": -1}.get(cell, 0)
            to = at
            while rows[to][2].split()[column] in "v^":
                to += step
            letter, size, aims = rows[to]
            found = printed_plan(lot, aql)
            wanted = (letter, size, int(aims.split()[column]))
            assert (found.letter, found.size, found.reject) == wanted, (lot, aql)
            assert found.accept == found.reject - 1


@pytest.mark.parametrize(
    ("lot", "letter", "size", "rejects"),
    [
        # MIL-STD-105E, as reprinted: reject numbers at 1.0, 2.5 and 4.0 %
        (501, "J", 80, (3, 6, 8)),
        (1_200, "J", 80, (3, 6, 8)),
        (1_201, "K", 125, (4, 8, 11)),
        (3_200, "K", 125, (4, 8, 11)),
        (3_201, "L", 200, (6, 11, 15)),
        (10_000, "L", 200, (6, 11, 15)),
        (10_001, "M", 315, (8, 15, 22)),
        (35_000, "M", 315, (8, 15, 22)),
    ],
)
def test_lot_sizes_begin_and_end_where_the_printed_table_has_them(lot, letter, size, rejects):
    found = [printed_plan(lot, aql) for aql in (1.0, 2.5, 4.0)]
    assert [(p.letter, p.size) for p in found] == [(letter, size)] * 3
    assert tuple(p.reject for p in found) == rejects


@pytest.mark.parametrize(
    ("faulty", "size", "low", "high"),
    # Clopper and Pearson, Biometrika 26 (1934), 95 %: limits by scipy and statsmodels, computed apart
    [(7, 125, 2.28, 11.20), (3, 125, 0.4977, 6.8536), (0, 100, 0.0, 3.6217)],
)
def test_bounds_of_a_share(faulty, size, low, high):
    assert share_bounds(faulty, size) == pytest.approx((low, high), abs=0.005)


def test_the_draw_stands_on_the_published_generator():
    # SplitMix64, seed 1234567, first five: "Pseudo-random numbers/Splitmix64", Rosetta Code
    assert numbers_of(1234567, np.arange(5)).tolist() == [
        6457827717110365317,
        3203168211198807973,
        9817491932198370423,
        4593380528125082431,
        16408922859458223821,
    ]
