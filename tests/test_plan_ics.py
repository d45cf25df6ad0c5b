"""The plan as iCalendar, read back by a parser of another make (vobject)."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import vobject

from offbook.plan.ics import Deadline, as_icalendar
from offbook.plan.one_plan import Calendar
from tests.test_plan_calendar import TODAY, brief, made, piece

NOW = datetime(2026, 3, 2, 18, tzinfo=UTC)
SYDNEY = ZoneInfo("Australia/Sydney")
DUE = datetime(2026, 3, 16, 17, tzinfo=SYDNEY)
CARE = "Stop at the first pain; see a qualified voice teacher, or a doctor."


def a_plan(deadline: int = 14) -> Calendar:
    return made(
        [piece("Lamp", 12), piece("Österlich, “House”; a", 4, day=9)], [brief("Round one", deadline, "Lamp")]
    )


def written(plan: Calendar | None = None) -> bytes:
    return as_icalendar(plan or a_plan(), [Deadline("Round one", DUE)], "Wren", SYDNEY, NOW, CARE)


def events(data: bytes | None = None) -> list[Any]:
    return list(vobject.readOne((data or written()).decode()).vevent_list)


def summary(text: str, data: bytes | None = None) -> Any:
    """The only event whose summary begins so."""
    (found,) = [e for e in events(data) if e.summary.value.startswith(text)]
    return found


def test_every_step_of_the_plan_is_an_event_on_its_day_and_every_deadline_an_event_at_its_time() -> None:
    plan = a_plan()
    wanted = [(d.day, s.what[0].upper() + s.what[1:]) for d in plan.days for s in d.steps]
    found = [(e.dtstart.value, e.summary.value) for e in events() if e.categories.value[1] != "deadline"]
    assert sorted(found) == sorted(wanted)
    assert summary("Deadline").dtstart.value == datetime(2026, 3, 16, 6, tzinfo=UTC)  # Sydney is UTC+11 then


def test_a_step_is_an_all_day_event_that_does_not_block_the_day() -> None:
    """RFC 5545, 3.6.1: DTEND is not part of the event; 3.8.2.7: TRANSPARENT does not block the day."""
    for event in events():
        if isinstance(event.dtstart.value, date) and not isinstance(event.dtstart.value, datetime):
            assert event.dtend.value - event.dtstart.value == timedelta(days=1)
        assert event.transp.value == "TRANSPARENT"


def test_every_event_except_a_drill_reminds_the_performer_on_the_evening_before() -> None:
    """Six in the evening: six hours before the day begins; of a deadline, by the performer's own clock."""
    kinds = set()
    for event in events():
        kind = event.categories.value[1]
        alarms = event.contents.get("valarm", [])
        assert len(alarms) == (kind != "learn")
        for alarm in alarms:
            kinds.add(kind)
            assert alarm.action.value == "DISPLAY" and alarm.description.value.startswith("Tomorrow: ")
            if kind == "deadline":
                assert alarm.trigger.value == datetime(2026, 3, 15, 18, tzinfo=SYDNEY)
            else:
                assert alarm.trigger.value == timedelta(hours=-6)
    assert kinds == {"run", "quiet", "takes", "spare", "choose", "send", "day", "deadline"}


def test_the_calendar_file_follows_rfc_5545() -> None:
    """RFC 5545: 3.1 lines end in CRLF and have at most 75 octets; 3.6 PRODID and VERSION; 3.8.4.7 one UID
    each; 3.3.11 commas, semicolons and backslashes in text are behind a backslash."""
    data = written()
    assert data.endswith(b"END:VCALENDAR\r\n") and b"\n" not in data.replace(b"\r\n", b"")
    assert max(len(line) for line in data.split(b"\r\n")) <= 75
    text = data.replace(b"\r\n ", b"").decode()
    assert text.startswith("BEGIN:VCALENDAR\r\n") and "\r\nVERSION:2.0\r\n" in text and "\r\nPRODID:" in text
    uids = [e.uid.value for e in events(data)]
    assert len(set(uids)) == len(uids) and "\\, “House”\\; a" in text
    assert all(e.dtstamp.value == NOW for e in events(data))


def test_every_event_that_needs_full_voice_carries_the_voice_caution() -> None:
    for event in events():
        asks = event.categories.value[1] in ("run", "takes", "spare")
        assert CARE in event.contents["description"][0].value if asks else True
        assert asks or CARE not in str(event.contents.get("description", ""))


def test_a_new_plan_moves_its_events_and_duplicates_none() -> None:
    """The takes keep their UID when the deadline moves by three days."""
    before, after = written(a_plan(14)), written(a_plan(17))
    old, new = (
        summary("Record Lamp: up to 5 takes for Round one, an", before),
        summary("Record Lamp: up to 5 takes for Round one, an", after),
    )
    assert old.uid.value == new.uid.value
    assert new.dtstart.value - old.dtstart.value == timedelta(days=3)
    assert old.dtstart.value == TODAY + timedelta(days=10)
