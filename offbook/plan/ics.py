"""The calendar as a file for any calendar program: iCalendar, RFC 5545, written by `icalendar`.

Every event except the drills has a reminder on the evening before. A step keeps its identity (UID, RFC 5545
section 3.8.4.7) when the plan is made again. So if a calendar program imports a newer file, events are moved
and none appears twice.
"""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from offbook.plan.one_plan import Calendar, PlanStep

if TYPE_CHECKING:
    from icalendar import Alarm, Event

# Local time of a reminder on the evening before; set by hand, because most people have time then
EVENING = time(18)
_UID_CHARACTERS = 32  # hexadecimal digits of the hash, as many as a UUID has (RFC 7986, section 5.3)
_PRODUCT = "-//offbook//plan//EN"


@dataclass(frozen=True, slots=True)
class Deadline:
    """The moment by which a recording must have arrived. brief: its name. at: aware."""

    brief: str
    at: datetime


def as_icalendar(
    plan: Calendar, deadlines: Sequence[Deadline], performer: str, zone: ZoneInfo, now: datetime, care: str
) -> bytes:
    """The plan as an iCalendar file in UTF-8.

    zone: the performer's. now: when the plan was made, aware. care: the cautions about the voice, which are
    put into every event that needs full voice.
    """
    from icalendar import Calendar as Ics

    out = Ics()
    out.add("prodid", _PRODUCT)
    out.add("version", "2.0")
    out.add("calscale", "GREGORIAN")
    count: Counter[str] = Counter()
    for day in plan.days:
        for step in day.steps:
            about = f"{performer}|{step.kind}|{'|'.join(step.pieces)}|{'|'.join(step.briefs)}"
            count[about] += 1
            which = day.day.isoformat() if step.kind == "learn" else str(count[about])
            out.add_component(_whole_day(step, day.day, _uid(f"{about}|{which}"), now, care))
    for deadline in deadlines:
        uid = _uid(f"{performer}|deadline|{deadline.brief}")
        out.add_component(_moment(deadline, zone, uid, now))
    return bytes(out.to_ical())


def _uid(about: str) -> str:
    return f"{hashlib.sha256(about.encode()).hexdigest()[:_UID_CHARACTERS]}@offbook"


def _whole_day(step: PlanStep, day: date, uid: str, now: datetime, care: str) -> Event:
    """A step as an all-day event, during which the person is shown as free."""
    event = _event(uid, now, _headline(step.what), step.kind)
    event.add("dtstart", day)
    event.add("dtend", day + timedelta(days=1))  # the day after the event, because DTEND is exclusive
    event.add("transp", "TRANSPARENT")
    minutes = f"About {max(1, round(step.minutes))} minutes" if step.minutes else ""
    aloud = f", {max(1, round(step.voice))} of them at full voice. {care}" if step.voice else "."
    if minutes:
        event.add("description", minutes + aloud)
    if step.kind != "learn":
        # counted from the midnight before the event
        evening = timedelta(hours=EVENING.hour) - timedelta(days=1)
        event.add_component(_alarm(evening, f"Tomorrow: {_headline(step.what)}"))
    return event


def _moment(deadline: Deadline, zone: ZoneInfo, uid: str, now: datetime) -> Event:
    """A deadline as an event, with a reminder on the evening before in the performer's own zone."""
    event = _event(uid, now, f"Deadline: {deadline.brief}", "deadline")
    event.add("dtstart", deadline.at.astimezone(UTC))
    event.add("transp", "TRANSPARENT")
    eve = deadline.at.astimezone(zone).date() - timedelta(days=1)
    evening = datetime.combine(eve, EVENING, zone).astimezone(UTC)
    event.add_component(_alarm(evening, f"Tomorrow: the deadline of {deadline.brief}"))
    return event


def _event(uid: str, now: datetime, summary: str, kind: str) -> Event:
    from icalendar import Event

    event = Event()
    event.add("uid", uid)
    event.add("dtstamp", now.astimezone(UTC))
    event.add("summary", summary)
    event.add("categories", ["offbook", kind])
    return event


def _alarm(trigger: timedelta | datetime, text: str) -> Alarm:
    from icalendar import Alarm

    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("trigger", trigger)
    alarm.add("description", text)
    return alarm


def _headline(text: str) -> str:
    return text[0].upper() + text[1:]
