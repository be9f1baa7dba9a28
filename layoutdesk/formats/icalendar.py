"""Calendar files that any calendar reads: iCalendar, RFC 5545.

Days are dates, and times are local ones without a zone ("floating", section 3.3.5): work begins at seven wherever the
site is. An event is known by its UID. The same one written again later has a higher SEQUENCE and a newer
LAST-MODIFIED, both of the moment of writing, so that a calendar moves it instead of keeping two; an event that is not
written any more stays in calendars that read it before.
"""

from __future__ import annotations

import datetime
import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

PRODUCT = "-//Layout Desk//Layout Desk//EN"
FOLDED_OCTETS = 75
"""A line has no more, without its end. Source: RFC 5545 (2009), section 3.1."""
_NAMES = uuid.UUID("5b0f3c52-6d5b-5f0e-9d3c-2f4f1c8f7a10")
"""Ours, under which UIDs are made of names; never changed."""
_SEQUENCE_FROM = datetime.datetime(2020, 1, 1, tzinfo=datetime.UTC)
_DAY = datetime.timedelta(days=1)


@dataclass(frozen=True)
class Event:
    """Something in a calendar.

    Attributes
    ----------
    uid : str
        What it is known by; see `stable_uid`.
    begins, ends : datetime.date or datetime.datetime
        First and last day, both in it, of what lasts all day; else the moments it begins and ends, local time
        without a zone.
    title, words : str
    all_day : bool
    categories : tuple of str
    alarm_days : int or None
        It is called to mind so many days before it begins; None for never.
    """

    uid: str
    begins: datetime.date
    ends: datetime.date
    title: str
    words: str = ""
    all_day: bool = True
    categories: tuple[str, ...] = ()
    alarm_days: int | None = None

    def __post_init__(self):
        timed = [isinstance(d, datetime.datetime) for d in (self.begins, self.ends)]
        if any(timed) == self.all_day or not (all(timed) or self.all_day):
            raise ValueError("begins, ends: dates for what lasts all day, else moments")
        if not self.all_day and (self.begins.tzinfo or self.ends.tzinfo):
            raise ValueError("begins, ends: local times, without a zone")
        if self.ends < self.begins:
            raise ValueError(f"ends: {self.ends} is before {self.begins}")
        if self.alarm_days is not None and self.alarm_days < 0:
            raise ValueError(f"alarm_days: {self.alarm_days!r} is negative")


def stable_uid(*names) -> str:
    """The same UID for the same names, on every machine and in every year.

    Examples
    --------
    >>> stable_uid("Two Gums", "planting", 1) == stable_uid("Two Gums", "planting", 1)
    True
    """
    return str(uuid.uuid5(_NAMES, "\x1f".join(map(str, names))))


def write_icalendar(
    path, events: Iterable[Event], name: str, stamp: datetime.datetime, *, missing: str = ""
) -> None:
    """Write events into a calendar file, in the order of their days.

    A calendar holds something (section 3.6): one without events has a task that says why.

    Parameters
    ----------
    path : path
    events : iterable of Event
    name : str
        Of the calendar.
    stamp : datetime.datetime
        The moment of writing, with its zone.
    missing : str
        What the task says where there are no events.

    Raises
    ------
    ValueError
        Where `stamp` has no zone, or two events have one UID.
    """
    Path(path).write_bytes(icalendar_bytes(events, name, stamp, missing=missing))


def icalendar_bytes(
    events: Iterable[Event], name: str, stamp: datetime.datetime, *, missing: str = ""
) -> bytes:
    """The file as `write_icalendar` writes it."""
    if stamp.tzinfo is None:
        raise ValueError("stamp: a moment with its zone is needed")
    stamp = stamp.astimezone(datetime.UTC)
    events = sorted(events, key=lambda e: (e.begins.timetuple(), e.ends.timetuple(), e.uid))
    uids = [e.uid for e in events]
    if len(set(uids)) < len(uids):
        raise ValueError("events: two of them have one UID")
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", f"PRODID:{PRODUCT}", "CALSCALE:GREGORIAN"]
    lines.append(f"NAME:{escaped(name)}")  # RFC 7986 (2016), section 5.1
    for event in events:
        lines += _event_lines(event, stamp)
    if not events:
        lines += _task_lines(name, missing or "Nothing is planned yet", stamp)
    lines.append("END:VCALENDAR")
    return b"".join(folded(line) for line in lines)


def _known_by(uid: str, stamp: datetime.datetime) -> list[str]:
    moment = f"{stamp:%Y%m%dT%H%M%SZ}"
    minutes = max(0, int((stamp - _SEQUENCE_FROM).total_seconds() // 60))
    return [f"UID:{uid}", f"DTSTAMP:{moment}", f"LAST-MODIFIED:{moment}", f"SEQUENCE:{minutes}"]


def _task_lines(name: str, title: str, stamp: datetime.datetime) -> list[str]:
    known = _known_by(stable_uid(name, "missing"), stamp)
    return ["BEGIN:VTODO", *known, f"SUMMARY:{escaped(title)}", "END:VTODO"]


def _event_lines(event: Event, stamp: datetime.datetime) -> list[str]:
    lines = ["BEGIN:VEVENT", *_known_by(event.uid, stamp)]
    if event.all_day:
        # The end is the first day that is not in it any more (section 3.6.1).
        lines.append(f"DTSTART;VALUE=DATE:{_date(event.begins)}")
        lines.append(f"DTEND;VALUE=DATE:{_date(event.ends + _DAY)}")
    else:
        lines.append(f"DTSTART:{_date(event.begins)}T{event.begins:%H%M%S}")
        if event.ends > event.begins:
            lines.append(f"DTEND:{_date(event.ends)}T{event.ends:%H%M%S}")
    lines.append(f"SUMMARY:{escaped(event.title)}")
    if event.words:
        lines.append(f"DESCRIPTION:{escaped(event.words)}")
    if event.categories:
        lines.append(f"CATEGORIES:{','.join(map(escaped, event.categories))}")
    lines.append("TRANSP:TRANSPARENT")  # nobody's own day is taken up by it
    if event.alarm_days is not None:
        lines += ["BEGIN:VALARM", "ACTION:DISPLAY", f"TRIGGER:-P{event.alarm_days}D"]
        lines += [f"DESCRIPTION:{escaped(event.title)}", "END:VALARM"]
    return [*lines, "END:VEVENT"]


def _date(day: datetime.date) -> str:
    return f"{day.year:04d}{day.month:02d}{day.day:02d}"


def escaped(text: str) -> str:
    """A text as the value of a property (section 3.3.11); what may not stand in one is left out.

    Examples
    --------
    >>> print(escaped("Rows 3, 4; lot A\\nwait"))
    Rows 3\\, 4\\; lot A\\nwait
    """
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    text = "".join(c for c in text if c in "\n\t" or (c >= " " and c != "\x7f"))
    for mark in ("\\", ";", ","):
        text = text.replace(mark, f"\\{mark}")
    return text.replace("\n", "\\n")


def folded(line: str) -> bytes:
    """A line with its end, broken so that no part is longer than may be and no letter is cut.

    Examples
    --------
    >>> [len(part) for part in folded("x" * 100).split(b"\\r\\n")]
    [75, 26, 0]
    """
    octets = line.encode("utf-8")
    parts, at, room = [], 0, FOLDED_OCTETS
    while len(octets) - at > room:
        stop = at + room
        while octets[stop] & 0xC0 == 0x80:  # within a letter of several octets
            stop -= 1
        parts.append(octets[at:stop])
        at, room = stop, FOLDED_OCTETS - 1  # a part goes on after a space
    parts.append(octets[at:])
    return b"\r\n ".join(parts) + b"\r\n"
