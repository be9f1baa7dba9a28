"""The register: only added to, marked so that changes show, and codes that tell a vine for good."""

from __future__ import annotations

import datetime
import hashlib
import struct
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from layoutdesk import lay_rows
from layoutdesk.core.model import Block, InputProblem, Override, Plant, Register, RowRules
from layoutdesk.core.model.register import NO_PLACE
from layoutdesk.core.model.register_mark import mark_of
from layoutdesk.core.planting.on_record import codes_on_record, place_on_record
from layoutdesk.core.planting.standing import matching, recorded, standing
from tests.core.planting.recorded_cases import (
    DAY,
    LOTS,
    SAID,
    events_of,
    random_register,
    register_of,
)

FIELD = shapely.box(0, 0, 60, 90)
RULES = RowRules(row_spacing_m=2.4, vine_spacing_m=1.5, headland_m=6.0, side_margin_m=2.0)
SPRING = datetime.date(2027, 9, 1)
WHO = {"by": "N. N.", "when": "2027-09-01T10:00:00+02:00", "source": "window", "revision": "r"}


def laid(name: str = "B1", outline=FIELD, overrides=(), **rules):
    return lay_rows(Block(name, outline, replace(RULES, **rules), overrides=overrides), None, ())


def planted(plans, vines=None, register=None, lot=LOTS[0]) -> Register:
    vines = np.arange(sum(p.n_vines for p in plans)) if vines is None else vines
    return recorded(register, plans, vines, "planted", SPRING, lots=lot, **WHO)


def vine_of(plans, code: str) -> int:
    offset = 0
    for plan in plans:
        s = plan.segments
        for i, (segment, index) in enumerate(
            zip(plan.vines.segment.tolist(), plan.vines.index.tolist(), strict=True)
        ):
            row, letter = int(s.number[segment]), chr(65 + int(s.letter[segment]))
            if f"{plan.block.name}-R{row:03d}{letter}-V{index:03d}" == code:
                return offset + i
        offset += plan.n_vines
    raise KeyError(code)


def lot_on_record(register: Register, code: str) -> str | None:
    place = place_on_record(register, code)
    return None if place is None else register.lots[standing(register).lot[place]].name


# --------------------------------------------------------------------------------- only added to


@given(st.integers(0, 10_000), st.integers(0, 10_000))
def test_adding_changes_nothing_that_is_on_record(seed, more):
    register = random_register(seed)
    before = [(b.mark, b.events.place.copy(), b.events.day.copy()) for b in register.batches]
    stand = register.stand.xy_mm.copy()
    longer = register
    for batch in random_register(more).batches:
        longer = longer.with_batch(batch.events, **SAID | {"note": "more"})
    assert longer.begins_with(register)
    assert not register.begins_with(longer)
    for (mark, place, day), batch in zip(before, longer.batches, strict=False):
        assert batch.mark == mark
        assert np.array_equal(batch.events.place, place)
        assert np.array_equal(batch.events.day, day)
    assert np.array_equal(longer.stand.xy_mm[: len(stand)], stand)


def test_what_is_on_record_cannot_be_written_to_not_even_by_who_gave_it():
    events = events_of((0, "planted", DAY, 0))
    register = register_of((0, "planted", DAY, 0)).with_batch(events, **SAID)
    events.place[0] = 5
    assert register.batches[1].events.place[0] == 0
    with pytest.raises(ValueError, match="read-only"):
        register.batches[0].events.day[0] = 1


def test_registers_are_equal_where_everything_recorded_is():
    a, b = random_register(5), random_register(5)
    assert a == b
    assert hash(a) == hash(b)
    last = b.batches[-1]
    for change in (
        {"by": "another"},
        {"note": "x"},
        {"lots": (LOTS[0],)},
        {"words": ("hail",)},
        {"renamed": (("B1", "B2"),)},
        {"events": replace(last.events, day=last.events.day + 1)},
    ):
        other = replace(last, **change)
        assert mark_of(b.batches[-2].mark if len(b.batches) > 1 else "", other) != last.mark


def test_marks_are_those_of_every_program_to_come():
    """Worked out here from the rule that is written into every file, with the standard library alone."""
    register = register_of((0, "planted", 739860, 0), (3, "dead", 739900, -1, 0, 129))
    words = (
        '{"before":"","blocks":["B1","B1","B1"],"by":"N. N.","events":2,"form":1,"lots":['
        '{"name":"A7","plant":{"clone":"9","rootstock":"5BB","variety":"Saperavi"}},'
        '{"name":"B2","plant":{"clone":"9","rootstock":"5BB","variety":"Saperavi"}},'
        '{"name":"C","plant":{"variety":"Roter Veltliner"}}],"note":"","places":12,'
        '"recorded":"2027-09-01T10:00:00+02:00","renamed":[],"revision":"","source":"window",'
        '"words":["frost","machine","not known"]}'
    )
    xy = [v for row in range(3) for vine in range(4) for v in (2400 * row, 1500 * vine)]
    content = struct.pack("<3i3i3i3i24i", 1, 2, 3, 0, 0, 0, 1, 1, 1, 4, 4, 4, *xy)
    content += struct.pack("<2i2B2i2h2h2H", 0, 3, 0, 4, 739860, 739900, 0, -1, -1, 0, 0, 129)
    assert register.mark == hashlib.sha256(words.encode() + content).hexdigest()
    again = register.with_batch(note="Grüße", **{k: SAID[k] for k in SAID})
    words = (
        f'{{"before":"{register.mark}","blocks":[],"by":"N. N.","events":0,"form":1,"lots":[],'
        '"note":"Gr\\u00fc\\u00dfe","places":0,"recorded":"2027-09-01T10:00:00+02:00","renamed":[],'
        '"revision":"","source":"window","words":[]}'
    )
    assert again.mark == hashlib.sha256(words.encode()).hexdigest()


def test_a_lot_told_of_again_keeps_its_number_and_is_told_better():
    register = register_of((0, "planted", DAY, 0))
    told = replace(LOTS[0], name="a7", delivered=500)
    register = register.with_batch(lots=(told,), **SAID)
    assert register.lots == (told, *LOTS[1:])


@pytest.mark.parametrize(
    ("told", "name"),
    [((12, "planted"), "place"), ((0, 8), "what"), ((0, 0, DAY, 3), "lot"), ((0, 0, -1), "day")],
)
def test_events_about_what_is_not_there_are_refused(told, name):
    with pytest.raises(ValueError, match=rf"events\.{name}"):
        register_of(told)


# ------------------------------------------------------------------------------ vines of the plan


def test_recording_puts_whole_segments_on_record_with_their_codes():
    plan = laid()
    register = planted([plan], np.array([vine_of([plan], "B1-R003A-V007")]))
    n = int(plan.vines_of_segment[2])
    assert len(register.stand) == n
    codes = codes_on_record(register, range(n))
    assert (codes[0], codes[-1]) == ("B1-R003A-V001", f"B1-R003A-V{n:03d}")
    assert np.allclose(register.stand.xy_m(np.arange(n)), plan.part(2, 3).vines.xy_m, atol=6e-4)
    assert place_on_record(register, "b1-r003a-v007") == 6
    assert place_on_record(register, "B1-R004A-V007") is None
    again = planted([plan], np.array([vine_of([plan], "B1-R003A-V008")]), register)
    assert len(again.stand) == n


def test_a_place_left_empty_has_an_index_and_no_place_until_a_vine_comes():
    filled = laid()
    x, y = filled.vines.xy_m[vine_of([filled], "B1-R003A-V005")]
    plan = laid(overrides=(Override("vine left out", 2, x, y),))
    assert len(plan.special.gap_index) == 1
    register = planted([plan], np.flatnonzero(plan.vines.segment == 2))
    place = place_on_record(register, "B1-R003A-V005")
    assert register.stand.xy_mm[place, 0] == NO_PLACE
    assert place_on_record(register, "B1-R003A-V006") == place + 1
    later = planted([filled], np.array([vine_of([filled], "B1-R003A-V005")]), register, LOTS[1])
    assert lot_on_record(later, "B1-R003A-V005") == "B2"
    assert lot_on_record(later, "B1-R003A-V006") == "A7"


def test_a_segment_that_has_grown_gets_the_vines_that_came():
    short, long = laid(), laid(outline=shapely.box(0, 0, 60, 120))
    register = planted([short])
    found = matching(register, [long])
    new = np.flatnonzero(found.place < 0)
    assert len(new) == long.n_vines - short.n_vines
    assert not len(found.moved)
    register = planted([long], new, register, LOTS[1])
    assert (matching(register, [long]).place >= 0).all()
    assert len(register.stand) == long.n_vines
    top = f"B1-R003A-V{int(long.vines_of_segment[2]):03d}"
    assert (lot_on_record(register, "B1-R003A-V001"), lot_on_record(register, top)) == ("A7", "B2")


def test_a_vine_whose_code_is_on_record_elsewhere_is_refused_in_one_sentence():
    register = planted([laid()])
    wide = laid(row_spacing_m=3.0)
    vine = vine_of([wide], "B1-R004A-V001")
    with pytest.raises(InputProblem, match=r"^B1-R004A-V001 stands .* 1\.80 m away: .*\.$"):
        planted([wide], np.array([vine]), register)


# --------------------------------------------- the lot of a vine, whatever becomes of the layout


def matches(register, plans) -> np.ndarray:
    """How far from its position each matched vine stands; every match is of one vine."""
    found = matching(register, plans)
    known = found.place >= 0
    assert len(np.unique(found.place[known])) == known.sum()
    xy = np.concatenate([p.vines.xy_m for p in plans])
    return np.hypot(*(xy[known] - register.stand.xy_m(found.place[known])).T)


def two_lots(plan) -> Register:
    """Rows 1 to 12 of lot A7, the others of B2."""
    row = plan.segments.number[plan.vines.segment]
    register = planted([plan], np.flatnonzero(row <= 12))
    return planted([plan], np.flatnonzero(row > 12), register, LOTS[1])


def test_a_renamed_block_is_found_by_its_old_and_its_new_name():
    register = two_lots(laid())
    register = register.with_batch(renamed=(("B1", "North"),), **SAID)
    renamed = laid("North")
    assert (matching(register, [renamed]).place >= 0).all()
    assert not len(matching(register, [renamed]).renamed)
    for code in ("B1-R012A-V034", "North-R012A-V034"):
        assert lot_on_record(register, code) == "A7"
    place = place_on_record(register, "B1-R012A-V034")
    assert codes_on_record(register, [place]) == ["B1-R012A-V034"]
    assert codes_on_record(register, [place], today=True) == ["North-R012A-V034"]


def test_a_name_that_another_block_has_by_now_means_that_block():
    first, second = laid("B1"), laid("B1", shapely.box(100, 0, 160, 90))
    register = planted([first]).with_batch(renamed=(("B1", "Old"),), **SAID)
    register = planted(
        [laid("Old"), second], np.arange(first.n_vines, 2 * first.n_vines), register, LOTS[1]
    )
    assert lot_on_record(register, "B1-R002A-V003") == "B2"
    assert lot_on_record(register, "Old-R002A-V003") == "A7"
    found = matching(register, [laid("Old"), second])
    assert found.place.tolist() == list(range(2 * first.n_vines))


@pytest.mark.parametrize(
    "change",
    [
        {"first_number": 101},
        {"number_from": "right"},
        {"bearing_deg": 180.0, "number_from": "right"},
    ],
)
def test_rows_numbered_another_way_are_the_same_vines(change):
    alike = {"row_spacing_m": 2.0, "last_vine_m": 1.0, "leftover": "both ends"}  # from both sides
    plan = laid(**alike)
    register = two_lots(plan)
    again = laid(**alike | change)
    found = matching(register, [again])
    assert (found.place >= 0).all()
    assert matches(register, [again]).max() < 0.001
    assert len(found.renamed) > 0.9 * again.n_vines
    assert not len(found.moved)
    assert lot_on_record(register, "B1-R012A-V034") == "A7"
    # A loss told by today's code is on record at the very place.
    code = "B1-R112A-V034" if "first_number" in change else "B1-R012A-V034"
    vine = vine_of([again], code)
    register = recorded(register, [again], np.array([vine]), "dead", SPRING, causes="frost", **WHO)
    assert len(register.stand) == plan.n_vines
    now = standing(register)
    place = int(np.flatnonzero(now.cause >= 0)[0])
    assert np.allclose(register.stand.xy_m(place), again.vines.xy_m[vine], atol=0.001)


def test_vines_spaced_another_way_on_the_plan_leave_the_record_as_it_is():
    plan = laid()
    register = two_lots(plan)
    wide = laid(vine_spacing_m=1.7)
    found = matching(register, [wide])
    assert 0 < (found.place >= 0).sum() < wide.n_vines
    assert matches(register, [wide]).max() <= 1.7 / 4
    assert len(found.lost) == plan.n_vines - (found.place >= 0).sum()
    assert lot_on_record(register, "B1-R012A-V034") == "A7"
    assert lot_on_record(register, "B1-R013A-V034") == "B2"


def test_split_and_joined_blocks_are_the_same_vines():
    whole = laid()
    register = two_lots(whole)
    parts = [laid("B1", shapely.box(0, 0, 30, 90)), laid("B2", shapely.box(26.4, 0, 60, 90))]
    assert (matching(register, parts).place >= 0).mean() > 0.9
    assert matches(register, parts).max() < 0.38
    apart = planted(parts)
    assert (matching(apart, [whole]).place >= 0).mean() > 0.9


@pytest.mark.parametrize("seed", range(8))
def test_matches_are_those_of_looking_at_every_pair(seed):
    """Of a register of some rows and a plan moved a little, each match is the nearest free pair in reach."""
    rng = np.random.default_rng(seed)
    plan = laid()
    register = planted([plan], np.flatnonzero(rng.random(plan.n_vines) < 0.02))
    moved = laid(first_vine_m=1.0 + rng.uniform(-0.3, 0.3), first_number=int(rng.integers(1, 30)))
    found = matching(register, [moved])
    xy = register.stand.xy_m(np.arange(len(register.stand)))
    away = np.hypot(*(moved.vines.xy_m[:, None] - xy[None]).transpose(2, 0, 1))
    near = away <= 1.5 / 4
    assert (near.sum(axis=1) <= 1).all()  # else there would be a choice
    wanted = np.where(near.any(axis=1), near.argmax(axis=1), -1)
    assert found.place.tolist() == wanted.tolist()


def test_blocks_side_by_side_with_one_plant_and_no_lot():
    plans = [laid("B1"), laid("B2", shapely.box(100, 0, 160, 90))]
    register = recorded(None, plans, np.arange(3), "planted", None, **WHO)
    assert (register.lots, register.events.lot.tolist(), register.events.day.tolist()) == (
        (), [-1] * 3, [0] * 3,
    )  # fmt: skip
    many = [LOTS[0], None, replace(LOTS[0], plant=Plant("Saperavi", "9", "5BB"))]
    register = recorded(register, plans, np.arange(3), "planted", SPRING, lots=many, **WHO)
    assert (register.lots, register.events.lot.tolist()[3:]) == (LOTS[:1], [0, -1, 0])
    causes = ["Frost", "frost ", ""]
    register = recorded(
        register, plans, np.arange(3), ["dead", "missing", "alive"], SPRING, causes=causes, **WHO
    )
    assert register.words == ("Frost",)
    assert register.events.cause.tolist()[6:] == [0, 0, -1]
    assert register.events.what.tolist()[6:] == [4, 3, 2]
