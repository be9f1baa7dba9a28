"""What stands: every state as a plain reading of the events has it, and the order they count in."""

from __future__ import annotations

import datetime

import numpy as np
import pytest

from layoutdesk.core.model.register import STATES, Register
from layoutdesk.core.planting.standing import history, places_by, standing
from tests.core.planting.recorded_cases import (
    DAY,
    LOTS,
    SAID,
    WORDS,
    events_of,
    random_register,
    register_of,
    slow_checks,
    slow_plants,
    stand_of,
    told_of,
)


def state_of(now, place=0) -> str:
    return STATES[now.state[place]]


@pytest.mark.parametrize("seed", range(60))
def test_states_are_what_a_plain_reading_of_all_events_says(seed):
    register = random_register(seed)
    now = standing(register)
    for place in range(len(register.stand)):
        told, plants = told_of(register, place), slow_plants(register, place)
        checked, faults, _, _ = slow_checks(register, place)
        assert (now.checked[place], now.faults[place]) == (checked, faults)
        assert now.changed[place] == (max(t["when"][0] for t in told) if told else 0)
        assert now.times_planted[place] == len(
            [p for p in plants if any(t["what"] in ("planted", "replanted") for t in told)]
        )
        if not plants:
            assert (state_of(now, place), now.lot[place]) == ("not planted", -1)
            continue
        last = plants[-1]
        if last["lost"]:
            wanted = last["how"]
        else:
            wanted = "replanted" if any(p["renewed"] for p in plants) else "planted"
        assert state_of(now, place) == wanted
        assert (now.lot[place], now.planted[place]) == (last["lot"], last["day"])
        assert now.cause[place] == last["cause"]


def test_a_whole_life():
    register = register_of(
        (0, "planted", DAY, 0),
        (0, "checked", DAY + 2, -1, -1, 5),
        (0, "reworked", DAY + 3),
        (0, "dead", DAY + 200, -1, 1),
        (0, "replanted", DAY + 220, 1),
    )
    states = []
    for n in range(1, 6):
        now = standing(
            Register().with_batch(
                register.events.taken(slice(n)), stand=stand_of(), lots=LOTS, words=WORDS, **SAID
            )
        )
        lot = register.lots[now.lot[0]].name
        states.append((state_of(now), lot, int(now.faults[0]), bool(now.checked[0])))
    assert states == [
        ("planted", "A7", 0, False),
        ("planted", "A7", 5, True),
        ("planted", "A7", 0, False),
        ("dead", "A7", 0, False),
        ("replanted", "B2", 0, False),
    ]


def test_events_count_by_their_day_whenever_they_were_recorded():
    register = register_of((0, "dead", DAY + 9, -1, 0))
    register = register.with_batch(events_of((0, "planted", DAY, 2)), **SAID)
    now = standing(register)
    assert (state_of(now), register.lots[now.lot[0]].name) == ("dead", "C")


def test_a_mistake_is_taken_back_whatever_its_days_and_a_right_entry_follows():
    register = register_of((0, "planted", DAY + 30, 0), (1, "planted", DAY + 30, 0))
    register = register.with_batch(events_of((0, "void", DAY + 10)), **SAID)
    assert state_of(standing(register)) == "not planted"
    register = register.with_batch(events_of((0, "planted", DAY + 3, 1)), **SAID)
    now = standing(register)
    assert (now.planted[0], now.lot[0], now.times_planted[0]) == (DAY + 3, 1, 1)
    assert (now.planted[1], now.lot[1]) == (DAY + 30, 0)


def test_what_has_no_day_comes_behind_what_was_known_before_it():
    register = register_of((0, "planted", DAY, 0), (0, "missing", 0), (1, "missing", 0))
    register = register.with_batch(events_of((0, "alive", DAY - 5), (1, "planted", DAY, 1)), **SAID)
    now = standing(register)
    assert (state_of(now, 0), state_of(now, 1)) == ("missing", "planted")


def test_planting_recorded_after_the_inspection_of_the_same_day_keeps_what_was_found():
    register = register_of((0, "checked", DAY, -1, -1, 2), (0, "planted", DAY, 0))
    assert standing(register).faults[0] == 2


def test_a_lot_put_right_is_no_second_plant_but_planting_after_a_loss_is():
    register = register_of(
        (0, "planted", DAY, 0),
        (0, "planted", DAY + 1, 1),
        (1, "planted", DAY, 0),
        (1, "dead", DAY + 1, -1, 0),
        (1, "planted", DAY + 2, 1),
    )
    now = standing(register)
    assert now.lot[:2].tolist() == [1, 1]
    assert now.times_planted[:2].tolist() == [1, 2]
    assert (state_of(now, 0), state_of(now, 1)) == ("planted", "replanted")


@pytest.mark.parametrize(("places", "days"), [(50, 30), (2**31 - 1, 3_650_000)])
def test_order_is_by_position_day_and_record_however_far_apart_they_are(places, days):
    from layoutdesk.core.planting.standing import _sorted_by

    rng = np.random.default_rng(1)
    n = 3000
    place, day = rng.integers(0, places, n).astype(np.int32), rng.integers(0, days, n, np.int32)
    late = rng.random(n) < 0.3
    wanted = sorted(range(n), key=lambda i: (place[i], day[i], late[i], i))
    order, its_place, its_day = _sorted_by(place, day, late)
    assert order.tolist() == wanted
    assert its_place.tolist() == place[wanted].tolist()
    assert its_day.tolist() == day[wanted].tolist()


def test_queries_by_lot_row_state_and_cause():
    register = register_of(
        (0, "planted", DAY, 0),
        (5, "planted", DAY, 0),
        (6, "planted", DAY, 1),
        (5, "dead", DAY + 1, -1, 0),
        (6, "missing", DAY + 1, -1, 1),
    )
    now = standing(register)
    assert places_by(now, lot="a7").tolist() == [0, 5]
    assert places_by(now, row="b1-r002").tolist() == [4, 5, 6, 7]
    assert places_by(now, row="B1-R002A", lot="A7").tolist() == [5]
    assert places_by(now, state="missing").tolist() == [6]
    assert places_by(now, cause="Frost").tolist() == [5]
    assert places_by(now, lot="no such").tolist() == []
    assert places_by(now, row="B9-R001").tolist() == []
    assert len(places_by(now)) == 12


def test_history_tells_everything_in_the_order_it_was_recorded():
    register = register_of((1, "planted", DAY, 0), (0, "planted", DAY, 0))
    said = SAID | {"by": "Inspector", "note": "windy"}
    register = register.with_batch(
        events_of((1, "checked", DAY - 1, -1, -1, 9), (1, "dead", 0, -1, 0), (1, "void", DAY)),
        **said,
    )
    told = history(register, 1)
    assert [t.event for t in told] == ["planted", "checked", "dead", "void"]
    assert told[0].lot == LOTS[0]
    assert told[1].faults == ("container_off", "trunk_at_stake")
    assert (told[2].day, told[2].cause, told[2].by, told[2].note) == (
        None,
        "frost",
        "Inspector",
        "windy",
    )
    assert told[1].day == datetime.date.fromordinal(DAY - 1)
