"""A million vines on record: every one is told as it was recorded."""

from __future__ import annotations

import datetime

import numpy as np
import pytest

from layoutdesk import lay_rows
from layoutdesk.core.model.register import STATES
from layoutdesk.core.planting.on_record import place_on_record
from layoutdesk.core.planting.standing import matching, places_by, recorded, standing
from layoutdesk.core.planting.survival import survival
from tests.core.planting.recorded_cases import LOTS
from tests.speed.test_layout import site_of

SPRING = datetime.date(2027, 9, 1)
WHO = {"by": "", "when": "", "source": "window", "revision": ""}


@pytest.fixture(scope="module")
def plan():
    block, exclusions = site_of(380)
    plan = lay_rows(block, None, exclusions)
    assert plan.n_vines > 1_000_000
    return plan


def test_a_million_vines_are_told_by_lot_row_and_state(plan):
    n = plan.n_vines
    every = np.arange(n)
    lot = np.where(plan.segments.number[plan.vines.segment] % 2, 0, 1)
    lots = [LOTS[i] for i in lot]
    day = SPRING.toordinal() + every // 20_000
    register = recorded(None, [plan], every, "planted", day, lots=lots, **WHO)
    dead, again = every[::7], every[::14]
    register = recorded(register, [plan], dead, "dead", SPRING.replace(2028), causes="frost", **WHO)
    register = recorded(
        register, [plan], again, "replanted", SPRING.replace(2029), lots=LOTS[2], **WHO
    )
    found, now = matching(register, [plan]), standing(register)
    assert np.array_equal(found.place, every)  # nothing but whole segments was put on record
    state = np.full(n, STATES.index("planted"))
    state[dead], state[again] = STATES.index("dead"), STATES.index("replanted")
    assert np.array_equal(now.state, state)
    wanted = np.array([LOTS[0].name, LOTS[1].name])[lot]
    wanted[again] = LOTS[2].name
    assert np.array_equal(np.array([known.name for known in register.lots])[now.lot], wanted)
    assert np.array_equal(places_by(now, lot="A7"), np.flatnonzero(wanted == "A7"))
    assert len(places_by(now, state="dead")) == len(dead) - len(again)
    segment = int(np.argmax(plan.segments.number == 120))
    row = np.flatnonzero(plan.segments.number[plan.vines.segment] == 120)
    assert np.array_equal(places_by(now, row="B1-R120"), row)
    place = place_on_record(register, "B1-R120A-V034")
    assert plan.vines.index[place] == 34
    assert plan.vines.segment[place] == segment
    lost = survival(now)
    assert (lost.site.size, lost.site.faulty) == (n + len(again), len(dead))
