"""Parcels: the files that were packed for a brief, where and when they were sent, and who confirmed them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from datetime import date, datetime
from typing import TYPE_CHECKING

from sqlalchemy import Connection, insert, select

from offbook.journal import tables as t
from offbook.journal.settling import change_and_note
from offbook.moment import local_day
from offbook.records import BriefRow, Parcel

if TYPE_CHECKING:
    from offbook.journal.connection import Journal

_PARCEL = t.columns_of(t.parcel, Parcel)


def add_parcel(
    journal: Journal, conn: Connection, brief: BriefRow, zone: str, folder: str, files: str
) -> Parcel:
    """Write down what was packed for a brief.

    zone: the performer's time zone. folder: where the files are. files: their list as JSON (`desk.bundle`).
    """
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
    """The parcels of these briefs, oldest first, by the key of the brief."""
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
    """Write down when and where a parcel was sent, and by which local day it should be confirmed.

    sent_at: None means that it was not sent after all.
    """
    values = {"sent_at": sent_at, "sent_to": sent_to, "confirm_by": confirm_by}
    change_and_note(conn, t.parcel, t.parcel.c.id == parcel_id, values, journal.clock())


def confirm_parcel(
    journal: Journal, conn: Connection, parcel_id: str, at: datetime | None, words: str
) -> None:
    """Write down when a confirmation came and what it said; None means that none came after all."""
    values = {"confirmed_at": at, "confirmation": words}
    change_and_note(conn, t.parcel, t.parcel.c.id == parcel_id, values, journal.clock())
