"""A sitting of drills, made from the journal: the day's thoughts of a piece and the memory of each."""

from __future__ import annotations

import random
from collections.abc import Iterable
from typing import TYPE_CHECKING

from offbook.desk.agendas import agenda
from offbook.phrasing import MINUTE

if TYPE_CHECKING:
    from offbook.drill import Sitting
    from offbook.journal import Journal
    from offbook.records import Piece, Version


_WITHOUT_PLAN = 3  # thoughts of a sitting on a day for which the plan has none; set by hand


def lay_out_sitting(
    journal: Journal,
    piece: Piece,
    version: Version,
    minutes: float,
    kinds: Iterable[str] = (),
    seed: int | None = None,
) -> Sitting:
    """A sitting of `minutes` on draft `version`, beginning now.

    kinds: which exercises it has, all where this is empty; seed: of the random choices; without it they
    depend on the piece and the minute.
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
        wanted=wanted or weakest_first(version.units, known, at)[:_WITHOUT_PLAN],
        pairs=lookalikes(version.units, version.words),
        seconds=minutes * MINUTE,
        now=lambda: (journal.clock() - at).total_seconds(),
        dice=random.Random(seed if seed is not None else f"{piece.id} {at:%Y%m%d%H%M}"),
        kinds=frozenset(k for k in KINDS if k in chosen),
    )
