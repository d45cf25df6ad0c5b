"""Values that a person sets, and when each last changed: if two machines differ, the later value wins.

The column `settled` of a row has, as JSON, the moment of the last change of each such value. A value that
is not in it has never been changed since the row was added. A change is never noted as earlier than the
change before it, whatever the clocks of the two machines say, because the person who makes it has seen the
value before.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import ColumnElement, Connection, Row, Table, select, update

from offbook.moment import utc_from, utc_text

# The values, by table, that a person sets and that may be different on two machines. Values that change
# together are in one group, and the first names it: a brief's deadline is worked out from its text.
SETTLED: Mapping[str, tuple[tuple[str, ...], ...]] = {
    "performer": (("name",), ("zone",), ("minutes_a_day",), ("voice_minutes",)),
    "piece": (("name",), ("part",), ("limit_seconds",), ("due_day",), ("keep_recordings",)),
    "brief": (("text", "deadline"), ("sent_at",)),
    "take": (("chosen",), ("checks", "run_id")),
    "margin_note": (("done_at",),),
    "parcel": (("sent_at", "sent_to", "confirm_by"), ("confirmed_at", "confirmation")),
}
_STEP = timedelta(microseconds=1)  # the smallest difference between two stored moments


def change_and_note(
    conn: Connection, table: Table, where: ColumnElement[bool], values: Mapping[str, Any], at: datetime
) -> None:
    """Set columns of the rows that fit `where`, and note `at` as the moment of the change.

    The moment is noted for those of the values that are in `SETTLED`.
    """
    groups = [g[0] for g in SETTLED[table.name] if any(name in values for name in g)]
    for row in conn.execute(select(table).where(where)).all():
        moments = settled_at(row)
        noted = {**moments, **{g: _after(at, moments.get(g)) for g in groups}}
        set_ = {**values, "settled": moments_as_text(noted)}
        conn.execute(update(table).where(table.c.id == row.id).values(**set_))


def _after(at: datetime, before: datetime | None) -> datetime:
    """The moment to note for a change: `at`, or a step after the change before it if that is later."""
    return at if before is None else max(at, before + _STEP)


def settled_at(row: Row[Any] | Mapping[str, Any]) -> dict[str, datetime]:
    """When the values of a row were last changed, by the first of their group; none that never were."""
    text = row["settled"] if isinstance(row, Mapping) else row.settled
    return {name: utc_from(at) for name, at in json.loads(text).items()} if text else {}


def moments_as_text(moments: Mapping[str, datetime]) -> str | None:
    """These moments as JSON, as they are stored; None if there are none."""
    return json.dumps({name: utc_text(at) for name, at in moments.items()}) if moments else None


def unchanged_since(row: Mapping[str, Any], group: str, moments: Mapping[str, datetime]) -> datetime:
    """The moment since which a value is as it is: its last change, or when its row was added."""
    return moments.get(group) or row.get("added_at") or row["at"]
