"""A sitting of drills laid out from the journal: the day's thoughts of a piece, and what is known of them."""

from __future__ import annotations

import random
from collections.abc import Iterable
from typing import TYPE_CHECKING

from offbook.desk.agendas import agenda

if TYPE_CHECKING:
    from offbook.drill import Sitting
    from offbook.journal import Journal
    from offbook.records import Piece, Version


def lay_out(
    journal: Journal,
    piece: Piece,
    version: Version,
    minutes: float,
    kinds: Iterable[str] = (),
    seed: int | None = None,
) -> Sitting:
    """A sitting of `minutes` over the newest draft, beginning now. kinds: only these, all where empty.

    seed: fixes the dice; otherwise they fall with the piece and the minute.
    """
    from offbook.drill import KINDS, Sitting, lookalikes, weakest_first
    from offbook.journal import memories, performer_named
    from offbook.plan import WEEK

    with journal.reading() as conn:
        known = memories(conn, [piece.id])[piece.id]
        at = journal.clock()
        load = agenda(conn, performer_named(conn, piece.performer), at, most_days=WEEK).plan.today.load
    wanted = [t.unit.key for t in load.tasks if t.piece_id == piece.id]
    chosen = set(kinds)
    return Sitting(
        version=version,
        memories=dict(known),
        wanted=wanted or weakest_first(version.units, known, at)[:3],
        pairs=lookalikes(version.units, version.words),
        seconds=minutes * 60,
        now=lambda: (journal.clock() - at).total_seconds(),
        dice=random.Random(seed if seed is not None else f"{piece.id} {at:%Y%m%d%H%M}"),
        kinds=frozenset(k for k in KINDS if k in chosen),
    )
