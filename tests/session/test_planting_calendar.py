"""Days of planting in the window's list and in a calendar: what is told, and that events keep who they are."""

from __future__ import annotations

import datetime
import itertools
import re
from dataclasses import replace

import vobject

from layoutdesk.core.model.planting import Years
from layoutdesk.core.planting.needs import Need
from layoutdesk.core.planting.years import first_years
from layoutdesk.formats.icalendar import icalendar_bytes
from layoutdesk.session.day_lines import day_lines, days_sentences
from layoutdesk.session.planting_calendar import planting_events, write_planting_calendar
from tests.session.planted_site import CREW, LOTS, MONDAY, answered, project

STAMP = datetime.datetime(2027, 3, 1, tzinfo=datetime.UTC)


def by_kind(answer, kind: str):
    return [e for e in planting_events(answer) if e.categories == (kind,)]


def test_lines_tell_days_rows_lots_trays_and_sets():
    answer = answered()
    lines = day_lines(answer)
    assert [line.key for line in lines] == [d.day.isoformat() for d in answer.days.days]
    first = lines[0]
    assert first.day == "Mon 5 Apr 2027"
    assert first.rows.startswith("B1 2–")
    assert first.lots == "27-A, 27-P"
    assert first.flag == "" == first.waits
    assert "bundle" in first.told
    assert "trays of lot 27-A" in first.told.replace("\u00a0", " ")
    assert sum(int(line.vines.replace("\u202f", "")) for line in lines) == answer.days.vines


def test_a_row_of_two_days_is_in_part_on_both_and_rows_left_whole_are_not():
    answer = answered(crew=replace(CREW, people=1, hours_a_day=2.0))
    lines = day_lines(answer)
    assert any("in part" in line.rows for line in lines)
    wanted = [set() for _ in lines]
    for at, (a, b) in enumerate(itertools.pairwise(answer.days.days)):
        last, first = a.runs[-1], b.runs[0]
        if (last.plan, last.segment) == (first.plan, first.segment):
            number = int(answer.plans[last.plan].segments.number[last.segment])
            wanted[at].add(number)
            wanted[at + 1].add(number)
    assert [
        set(map(int, re.findall(r"(\d+)[A-Z]* in part", line.rows))) for line in lines
    ] == wanted


def test_a_waiting_day_is_flagged_and_says_what_for():
    lines = day_lines(answered(lots=(replace(LOTS[0], tags_recorded=False), LOTS[1])))
    assert lines[0].flag == "caution"
    assert lines[0].told.startswith("Tags of lot 27-A are not all recorded")


def test_without_a_planting_day_the_list_says_what_to_do():
    answer = replace(answered(), days=None)
    assert day_lines(answer) == ()
    assert days_sentences(answer)[0].startswith("Say when planting begins")
    assert by_kind(answer, "Planting") == []


def test_every_day_and_its_wetting_the_day_before_are_events():
    answer = answered()
    planting, wetting = by_kind(answer, "Planting"), by_kind(answer, "Water")
    assert [e.begins for e in planting] == [d.day for d in answer.days.days]
    assert [e.begins for e in wetting] == [d.wet_on for d in answer.days.days]
    assert "sets 1" in wetting[0].title
    assert "no drip set is known" in by_kind(answered(with_sets=False), "Water")[0].words


def test_a_missed_day_moves_events_but_not_their_uids():
    before = by_kind(answered(), "Planting")
    missed = answered(crew=replace(CREW, missed=(MONDAY,)))
    after = by_kind(missed, "Planting")
    assert [e.uid for e in after] == [e.uid for e in before]
    assert after[0].begins == MONDAY + datetime.timedelta(days=1)
    assert len({e.uid for e in planting_events(missed)}) == len(planting_events(missed))


def test_sites_of_one_name_do_not_share_uids():
    here = project()
    there = replace(
        here, site=replace(here.site, frame=replace(here.site.frame, latitude_deg=47.0))
    )
    assert not {e.uid for e in planting_events(answered(here))} & {
        e.uid for e in planting_events(answered(there))
    }


def test_orders_and_duties_are_in_the_calendar_and_an_independent_reader_reads_it(tmp_path):
    plant = LOTS[0].plant
    days = datetime.date(2026, 12, 14), datetime.date(2025, 12, 5)
    need = Need(plant, 1000, 20, 0, 0, 0, 1020, 0, (), *days)
    years = first_years(Years(), MONDAY, 48.2, 1000)
    answer = replace(answered(), needs=(need, replace(need, short=0)), years=years)
    path = tmp_path / "calendar.ics"
    write_planting_calendar(path, answer, "m", STAMP)
    calendar = vobject.readOne(path.read_bytes().decode("utf-8"))
    assert calendar.validate(raiseException=True)
    titles = [e.summary.value for e in calendar.vevent_list]
    orders = [e for e in calendar.vevent_list if e.categories.value == ["Order"]]
    assert sorted(e.dtstart.value for e in orders) == sorted(days)
    assert "1\u202f020 plants of Grüner Veltliner" in orders[0].summary.value
    assert len(titles) == 2 * len(answer.days.days) + 2 + len(years.duties)
    pruning = next(d for d in years.duties if d.task == "pruning")
    found = next(e for e in calendar.vevent_list if pruning.title[1:] in e.summary.value)
    assert found.dtend.value - datetime.timedelta(days=1) == pruning.ends


def test_a_calendar_without_days_asks_for_the_planting_day(tmp_path):
    path = tmp_path / "calendar.ics"
    write_planting_calendar(path, replace(answered(), days=None), "m", STAMP)
    calendar = vobject.readOne(path.read_bytes().decode("utf-8"))
    assert "say when planting begins" in calendar.vtodo.summary.value


def test_the_same_answer_gives_the_same_calendar():
    assert icalendar_bytes(planting_events(answered()), "x", STAMP) == icalendar_bytes(
        planting_events(answered()), "x", STAMP
    )
