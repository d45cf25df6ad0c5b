"""What a person settles of a row, and when: so that of two machines the one that settled it later is right.

Beside the row is, as JSON, the moment at which each such value was last changed; a value without one has
been as it is since the row came in. A change is never noted as earlier than the one it takes the place of,
whatever the clocks of the two machines say: whoever changes a value has seen the one before.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import ColumnElement, Connection, Row, Table, select, update

from offbook.moment import utc_from, utc_text

# By table, the values that a person settles and may settle otherwise on two machines. A value that only goes
# with another is behind it, in the same group: a brief's deadline is in its text.
SETTLED: Mapping[str, tuple[tuple[str, ...], ...]] = {
    "performer": (("name",), ("zone",), ("minutes_a_day",), ("voice_minutes",)),
    "piece": (("name",), ("part",), ("limit_seconds",), ("due_day",), ("keep_recordings",)),
    "brief": (("text", "deadline"), ("sent_at",)),
    "take": (("chosen",), ("checks", "run_id")),
    "margin_note": (("done_at",),),
    "parcel": (("sent_at", "sent_to", "confirm_by"), ("confirmed_at", "confirmation")),
}
_STEP = timedelta(microseconds=1)  # the least that the journal's moments tell apart


def change(
    conn: Connection, table: Table, where: ColumnElement[bool], values: Mapping[str, Any], at: datetime
) -> None:
    """Set columns of the rows that fit `where`, and note when what a person settles of them was changed."""
    groups = [g[0] for g in SETTLED[table.name] if any(name in values for name in g)]
    for row in conn.execute(select(table).where(where)).all():
        moments = settled_at(row)
        noted = {**moments, **{g: _after(at, moments.get(g)) for g in groups}}
        set_ = {**values, "settled": moments_as_text(noted)}
        conn.execute(update(table).where(table.c.id == row.id).values(**set_))


def _after(at: datetime, before: datetime | None) -> datetime:
    """The moment of a change: now, and later than the one before in any case."""
    return at if before is None else max(at, before + _STEP)


def settled_at(row: Row[Any] | Mapping[str, Any]) -> dict[str, datetime]:
    """When those values of a row that were ever changed were changed last, by the first of their group."""
    text = row["settled"] if isinstance(row, Mapping) else row.settled
    return {name: utc_from(at) for name, at in json.loads(text).items()} if text else {}


def moments_as_text(moments: Mapping[str, datetime]) -> str | None:
    """The same as it is stored."""
    return json.dumps({name: utc_text(at) for name, at in moments.items()}) if moments else None


def since(row: Mapping[str, Any], group: str, moments: Mapping[str, datetime]) -> datetime:
    """Since when a value has been as it is: its last change, or when the row came in."""
    return moments.get(group) or row.get("added_at") or row["at"]
