"""The cheapest set of cuts that saves enough: dynamic programming over the edges of the thoughts.

The state is how much time has been saved so far, in small steps, and the edge reached; each edge is
reached from the one before (its thought is kept) or from any earlier edge (all between is cut). The
result is the cheapest way to save at least what is needed, exactly, up to the step.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from offbook.fit.edges import Edge

STEPS = 160  # the time that is needed is divided into so many steps


@dataclass(frozen=True, slots=True)
class Cut:
    """The words `first` up to, not including, `after`. seconds: saved. check: what to look at."""

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
    """The cheapest cuts that save at least `needed` seconds; None where no allowed cuts do.

    cuts: the cut from edge i up to edge j, None where it is not allowed.
    """
    step = needed / STEPS
    # reached[k][just_cut]: saved steps (capped at STEPS) -> cheapest way there
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
            steps = int(piece.seconds / step + 1e-9)
            for saved, best in reached[i][0].items():
                total, price = min(STEPS, saved + steps), best.price + piece.price
                if total not in cut or price < cut[total].price:
                    cut[total] = _Best(price, (*best.cuts, piece))
        reached.append((kept, cut))
    done = [way[STEPS] for way in reached[-1] if STEPS in way]
    return min(done, key=lambda b: b.price).cuts if done else None
