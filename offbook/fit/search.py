"""The cheapest cuts that save enough time: dynamic programming over the edges of the thoughts.

A state is an edge, and the time saved before it in small steps. An edge is reached from the one before it
(the thought between them is kept) or from any earlier edge (everything between them is cut). The result is
the cheapest way to save at least the time that is needed, exact except for the size of the steps.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from offbook.fit.edges import Edge

STEPS = 160  # the time that is needed is divided into so many steps; set by hand
_ROUNDING = 1e-9  # steps: added before a number of steps is cut down to a whole one


@dataclass(frozen=True, slots=True)
class Cut:
    """The words from `first` up to, but not including, `after`.

    seconds: that it saves. price: how much it harms the speech. check: what the performer should look at.
    """

    first: int
    after: int
    seconds: float
    price: float
    check: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Best:
    price: float
    cuts: tuple[Cut, ...]


def cheapest(
    edges: Sequence[Edge], cuts: Callable[[int, int], Cut | None], needed: float
) -> tuple[Cut, ...] | None:
    """The cheapest cuts that save at least `needed` seconds; None if no allowed cuts do.

    cuts: gives the cut from edge i up to edge j, None if it is not allowed.
    """
    step = needed / STEPS
    # reached[k][just_cut]: for each number of steps saved (at most STEPS) the cheapest way to edge k
    reached: list[tuple[dict[int, _Best], dict[int, _Best]]] = [({0: _Best(0.0, ())}, {})]
    for j in range(1, len(edges)):
        kept: dict[int, _Best] = {}
        for way in reached[j - 1]:
            for saved, best in way.items():
                if saved not in kept or best.price < kept[saved].price:
                    kept[saved] = best
        cut: dict[int, _Best] = {}
        for i in range(j):
            piece = cuts(i, j)
            if piece is None:
                continue
            steps = int(piece.seconds / step + _ROUNDING)
            for saved, best in reached[i][0].items():
                total, price = min(STEPS, saved + steps), best.price + piece.price
                if total not in cut or price < cut[total].price:
                    cut[total] = _Best(price, (*best.cuts, piece))
        reached.append((kept, cut))
    done = [way[STEPS] for way in reached[-1] if STEPS in way]
    return min(done, key=lambda b: b.price).cuts if done else None
