"""The calendar: what to learn, run through, record, choose and send on which day, for all pieces together."""

from __future__ import annotations

from offbook.plan.days import (
    CLEAN_DAYS,
    TAKES,
    BriefNeed,
    PieceNeed,
    RecordingNeed,
    Shortfall,
)
from offbook.plan.ics import (
    Deadline,
    as_icalendar,
)
from offbook.plan.one_plan import (
    MOST_DAYS,
    WEEK,
    Allowance,
    Calendar,
    CalendarDay,
    PlanStep,
    calendar,
)

__all__ = [
    "CLEAN_DAYS",
    "MOST_DAYS",
    "TAKES",
    "WEEK",
    "Allowance",
    "BriefNeed",
    "Calendar",
    "CalendarDay",
    "Deadline",
    "PieceNeed",
    "PlanStep",
    "RecordingNeed",
    "Shortfall",
    "as_icalendar",
    "calendar",
]
