"""Parcels: the files packed for a brief, where they went and when, and whether anybody confirmed them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from datetime import date, datetime
from typing import TYPE_CHECKING

from sqlalchemy import Connection, insert, select

from offbook.journal import tables as t
from offbook.journal.settling import change
from offbook.moment import local_day
from offbook.records import BriefRow, Parcel

if TYPE_CHECKING:
    from offbook.journal.connection import Journal

_PARCEL = t.columns_of(t.parcel, Parcel)


def add_parcel(
    journal: Journal, conn: Connection, brief: BriefRow, zone: str, folder: str, files: str
) -> Parcel:
    """Note what was packed. files: as JSON, what `desk.parcels` makes of them; folder: where they lie."""
    now = journal.clock()
    made = Parcel(
        id=journal.key(),
        brief_id=brief.id,
        at=now,
        day=local_day(now, zone),
        zone=zone,
        folder=folder,
        files=files,
        sent_at=None,
        sent_to="",
        confirm_by=None,
        confirmed_at=None,
        confirmation="",
    )
    conn.execute(insert(t.parcel).values(**asdict(made)))
    return made


def parcels(conn: Connection, brief_ids: Sequence[str]) -> dict[str, list[Parcel]]:
    """The parcels of these briefs by the brief's key, the oldest first."""
    query = select(*_PARCEL).where(t.parcel.c.brief_id.in_(list(brief_ids))).order_by(t.parcel.c.at)
    found: dict[str, list[Parcel]] = {}
    for row in conn.execute(query):
        found.setdefault(row.brief_id, []).append(Parcel(*row))
    return found


def send_parcel(
    journal: Journal,
    conn: Connection,
    parcel_id: str,
    sent_at: datetime | None,
    sent_to: str,
    confirm_by: date | None,
) -> None:
    """Note when a parcel went, where, and by which day it should be confirmed; sent_at None takes it back."""
    values = {"sent_at": sent_at, "sent_to": sent_to, "confirm_by": confirm_by}
    change(conn, t.parcel, t.parcel.c.id == parcel_id, values, journal.clock())


def confirm_parcel(
    journal: Journal, conn: Connection, parcel_id: str, at: datetime | None, words: str
) -> None:
    """Note when a confirmation came and what it said; None takes it back."""
    values = {"confirmed_at": at, "confirmation": words}
    change(conn, t.parcel, t.parcel.c.id == parcel_id, values, journal.clock())
