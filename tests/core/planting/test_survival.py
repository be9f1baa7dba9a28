"""Inspection and losses: counted as a plain reading of every vine's life counts them."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest
from scipy import stats

from layoutdesk.core.model.planting import CHECKS
from layoutdesk.core.model.register import STATES
from layoutdesk.core.planting.standing import standing
from layoutdesk.core.planting.survival import inspection_result, survival
from tests.core.planting.recorded_cases import (
    DAY,
    LOTS,
    WORDS,
    random_register,
    register_of,
    slow_checks,
    slow_plants,
    stand_of,
)

NAMES = [lot.name for lot in LOTS] + [""]  # -1 is the last


def counts(tallies) -> dict[str, tuple[int, int]]:
    return {t.name: (t.size, t.faulty) for t in tallies}


@pytest.mark.parametrize("seed", range(60))
def test_losses_are_those_of_every_plant_that_ever_stood(seed):
    register = random_register(seed)
    now = standing(register)
    found = survival(now)
    by_lot, by_row, causes = {}, {}, Counter()
    for place in range(len(register.stand)):
        for plant in slow_plants(register, place):
            for name, tally in (
                (NAMES[plant["lot"]], by_lot),
                (f"B1-R{place // 4 + 1:03d}", by_row),
            ):
                size, faulty = tally.get(name, (0, 0))
                tally[name] = size + 1, faulty + plant["lost"]
            if plant["lost"]:
                causes[WORDS[plant["cause"]]] += 1  # -1 is "not known"
    assert counts(found.by_lot) == by_lot
    assert counts(found.by_row) == by_row
    assert dict(found.by_cause) == causes
    assert (found.site.size, found.site.faulty) == tuple(np.sum([*by_lot.values(), (0, 0)], axis=0))
    for tally in (*found.by_lot, *found.by_row):
        assert sum(n for _, n in tally.items) == tally.faulty


@pytest.mark.parametrize("seed", range(60))
def test_inspection_counts_what_was_found_since_planting_by_lot_and_row(seed):
    register = random_register(seed)
    now = standing(register)
    found = inspection_result(now, 0)
    by_lot, by_row, items, wrong = {}, {}, Counter(), set()
    for place in range(len(register.stand)):
        _, faults, looked, ever = slow_checks(register, place)
        if faults and STATES[now.state[place]] in ("planted", "replanted"):
            wrong.add(place)
        if not looked:
            continue
        plants = slow_plants(register, place)
        lot = NAMES[plants[-1]["lot"] if plants else -1]
        for name, tally in ((lot, by_lot), (f"B1-R{place // 4 + 1:03d}", by_row)):
            size, faulty = tally.get(name, (0, 0))
            tally[name] = size + 1, faulty + (ever > 0)
        items.update(item for bit, item in enumerate(CHECKS) if ever >> bit & 1)
    assert counts(found.by_lot) == by_lot
    assert counts(found.by_row) == by_row
    assert sum((Counter(dict(t.items)) for t in found.by_row), Counter()) == items
    assert {p for line in found.rework for p in line.places} == wrong


def test_a_vine_that_died_and_was_planted_again_is_a_loss_of_its_first_lot_only():
    register = register_of(
        (0, "planted", DAY, 0),
        (0, "dead", DAY + 1, -1, 0),
        (0, "replanted", DAY + 2, 1),
        (1, "planted", DAY, 0),
        (2, "planted", DAY, 1),
        (2, "missing", DAY + 3),
    )
    found = survival(standing(register), spares_pct=10.0)
    assert counts(found.by_lot) == {"A7": (2, 1), "B2": (2, 1)}
    assert found.by_cause == (("frost", 1), ("not known", 1))
    assert [(t.size, t.faulty) for t in found.causes] == [(4, 1), (4, 1)], "of all plants set"
    assert found.causes[0].high_pct == pytest.approx(
        80.5880, abs=1e-4
    )  # scipy, beta.ppf(.975, 2, 3)
    assert found.replacement_pct == pytest.approx(100 / 3)  # one of three positions is missing now
    (line,) = found.replant
    assert (line.lot, line.plant, line.places.tolist(), line.order) == (
        "B2", "Saperavi, clone 9, on 5BB", [2], 2,
    )  # fmt: skip


def test_replacement_share_is_the_published_formula():
    """100·A/(B·C), as an extension guide gives it: A dead or missing, B vines a row, C rows counted."""
    dead = [(p, "dead", DAY + 9) for p in (0, 7, 8, 31, 49, 50, 99)]
    planted = [(p, "planted", DAY, 0) for p in range(100)]
    found = survival(standing(register_of(*planted, *dead, stand=stand_of(4, 25))))
    assert found.replacement_pct == pytest.approx(100 * 7 / (25 * 4))
    assert [t.faulty for t in found.by_row] == [3, 2, 1, 1]


def test_bounds_of_losses_are_clopper_and_pearsons():
    """7 of 125: 2.28 to 11.20 % (Clopper and Pearson, Biometrika 26, 1934; worked out by scipy too)."""
    told = [(p, "planted", DAY, 0) for p in range(125)] + [(p, "dead", DAY + 1) for p in range(7)]
    (tally,) = survival(standing(register_of(*told, stand=stand_of(5, 25)))).by_lot
    assert (round(tally.low_pct, 2), round(tally.high_pct, 2)) == (2.28, 11.20)
    exact = stats.binomtest(7, 125).proportion_ci(0.95, "exact")
    assert (tally.low_pct, tally.high_pct) == pytest.approx((100 * exact.low, 100 * exact.high))


def accepted(told, accept=0, sizes=None):
    return dict(inspection_result(standing(register_of(*told)), accept, sizes).accepted)


def test_a_lot_is_accepted_by_what_was_found_not_by_what_was_put_right():
    planted = [(p, "planted", DAY, 0) for p in range(6)]
    good = [(p, "checked", DAY + 1) for p in (0, 1)]
    bad = [(2, "checked", DAY + 1, -1, -1, 1)]
    right = [(2, "reworked", DAY + 2), (2, "checked", DAY + 3)]
    assert accepted(planted)["A7"] is None
    assert accepted(planted + good)["A7"] is True
    assert accepted(planted + good, sizes={"A7": 5})["A7"] is None
    assert accepted(planted + good + bad)["A7"] is False
    assert accepted(planted + good + bad, accept=1)["A7"] is True
    assert accepted(planted + good + bad + right)["A7"] is False
    rest = [(p, "checked", DAY + 4) for p in (3, 4, 5)]
    assert accepted(planted + good + bad + right + rest)["A7"] is True
    assert accepted(planted)["B2"] is None


def test_rows_of_a_lot_that_is_not_accepted_are_to_be_gone_over():
    planted = [(p, "planted", DAY, 0) for p in range(8)] + [(p, "planted", DAY, 1) for p in (8, 9)]
    seen = [(1, "checked", DAY + 1, -1, -1, 17), (8, "checked", DAY + 1)]
    lines = inspection_result(standing(register_of(*planted, *seen)), 0).rework
    assert [(line.row, line.places) for line in lines] == [("B1-R001", (1,)), ("B1-R002", ())]
    assert lines[0].why == (
        "1 faulty vine; not right: container off 1, firm in the soil 1; "
        "lot A7 is not accepted: go over all of it"
    )
