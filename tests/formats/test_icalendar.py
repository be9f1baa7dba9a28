"""Calendar files, read back by a library that is not ours: days, words and alarms come out as they went in."""

from __future__ import annotations

import datetime
from dataclasses import replace

import pytest
import vobject

from layoutdesk.formats.icalendar import Event, icalendar_bytes, stable_uid, write_icalendar

STAMP = datetime.datetime(
    2027, 3, 1, 12, 30, tzinfo=datetime.timezone(datetime.timedelta(hours=10))
)
DAY = datetime.date(2027, 4, 5)
WORDS = (
    "Lot “Größe 7, süß”; back\\slash, two rows:\nB1-R012A to B1-R040A — 1 920 vines, 77 trays\n"
    "穂木と台木 🍇🍇🍇🍇🍇🍇🍇🍇🍇🍇🍇🍇🍇🍇🍇🍇🍇🍇🍇🍇🍇🍇🍇🍇🍇🍇"
)
PLANTING = Event(
    stable_uid("Two Gums", "planting", 1), DAY, DAY, "Plant rows 12, 13; B1", WORDS,
    categories=("Planting", "rows, all"), alarm_days=1,
)  # fmt: skip
WINDOW = Event(
    stable_uid("Two Gums", "duty", "pruning 1.1"),
    datetime.date(2028, 1, 15),
    datetime.date(2028, 3, 15),
    "Prune",
)
SHIFT = Event(
    "x",
    datetime.datetime(2027, 4, 5, 7),
    datetime.datetime(2027, 4, 5, 15, 30),
    "Shift",
    all_day=False,
)


def read(events, name="Two Gums: planting", stamp=STAMP):
    octets = icalendar_bytes(events, name, stamp)
    calendar = vobject.readOne(octets.decode("utf-8"))
    assert calendar.validate(raiseException=True)
    return calendar


def test_an_independent_reader_finds_every_field():
    calendar = read([WINDOW, PLANTING])
    assert calendar.version.value == "2.0"
    assert calendar.prodid.value
    first, second = calendar.vevent_list  # by their days
    assert first.uid.value == PLANTING.uid
    assert first.summary.value == PLANTING.title
    assert first.description.value == WORDS
    assert first.categories.value == ["Planting", "rows, all"]
    assert (first.dtstart.value, first.dtend.value) == (DAY, DAY + datetime.timedelta(days=1))
    assert second.dtend.value == datetime.date(2028, 3, 16)
    assert first.valarm.trigger.value == datetime.timedelta(days=-1)
    assert first.dtstamp.value == STAMP
    assert not hasattr(second, "valarm")


def test_lines_end_and_fold_as_the_standard_has_it_and_no_letter_is_cut(tmp_path):
    path = tmp_path / "calendar.ics"
    write_icalendar(path, [PLANTING], "Größe " * 30, STAMP)
    octets = path.read_bytes()
    assert octets.endswith(b"END:VCALENDAR\r\n")
    lines = octets.split(b"\r\n")
    assert all(b"\n" not in line and b"\r" not in line for line in lines)
    assert max(map(len, lines)) <= 75
    for line in lines:
        line.decode("utf-8")
    assert sum(line.startswith(b" ") for line in lines) > 5


def test_times_are_local_ones_without_a_zone():
    event = read([SHIFT]).vevent
    assert event.dtstart.value == datetime.datetime(2027, 4, 5, 7)
    assert event.dtend.value == datetime.datetime(2027, 4, 5, 15, 30)
    assert b"DTSTART:20270405T070000\r\n" in icalendar_bytes([SHIFT], "x", STAMP)


def test_a_moved_event_keeps_its_uid_and_is_newer():
    moved = replace(
        PLANTING, begins=DAY + datetime.timedelta(days=2), ends=DAY + datetime.timedelta(days=2)
    )
    before = read([PLANTING]).vevent
    after = read([moved], stamp=STAMP + datetime.timedelta(hours=1)).vevent
    assert after.uid.value == before.uid.value
    assert int(after.sequence.value) > int(before.sequence.value) >= 0
    assert after.last_modified.value > before.last_modified.value


def test_uids_are_the_same_in_every_run_and_differ_by_kind_and_number():
    assert PLANTING.uid == "7ffaa128-6470-5c30-9a15-eb32dda4fd6b"
    assert len({stable_uid("a", k, n) for k in ("planting", "wetting") for n in range(50)}) == 100
    assert stable_uid("a", "b1", 1) != stable_uid("a", "b", 11)


def test_what_cannot_be_in_a_calendar_is_refused():
    with pytest.raises(ValueError, match="UID"):
        icalendar_bytes([PLANTING, PLANTING], "x", STAMP)
    with pytest.raises(ValueError, match="zone"):
        icalendar_bytes([PLANTING], "x", datetime.datetime(2027, 1, 1))
    with pytest.raises(ValueError, match="before"):
        replace(PLANTING, ends=DAY - datetime.timedelta(days=1))
    with pytest.raises(ValueError, match="all day"):
        replace(PLANTING, all_day=False)


def test_a_calendar_without_events_has_a_task_that_says_why():
    octets = icalendar_bytes([], "Two Gums", STAMP, missing="Say when planting begins")
    calendar = vobject.readOne(octets.decode())
    assert calendar.validate(raiseException=True)
    assert calendar.vtodo.summary.value == "Say when planting begins"
    assert not hasattr(calendar, "vevent")
