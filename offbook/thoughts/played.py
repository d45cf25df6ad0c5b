"""Thoughts at the scale a performer plays them: mostly a sentence, 8 to 20 words.

A very short sentence (`Fie upon't!`, `Not one.`) is played together with its neighbour. A long sentence is
divided where enough words are left on both sides; in verse, the end of a line with a stop and a new statement
after it divides shorter sentences too. What is still too long to be played in one go is divided at a phrase,
or else at a stop or a line end. The sizes are those at which readers take the discourse units of speeches for
thoughts; those for verse were chosen on public-domain verse, with the figures of `docs/thoughts.md` in view.
Words are counted as in a corpus: `don't` and `well-known` are two words each.
"""

from __future__ import annotations

from bisect import bisect_left, insort
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

SCRAP = 4  # words: a shorter sentence is joined to its neighbour
LONG, SHARE = 20, 8  # words: a stretch longer than the first is divided if each side has at least the second
VERSE_LONG, VERSE_SHARE = 12, 5  # the same at the end of a line of verse with a stop
UNPLAYABLE = 30  # words: a longer stretch is divided at a stop or the end of a line of verse
UNBROKEN = 40  # words: a longer stretch is divided at any phrase with enough words on both sides


@dataclass(frozen=True, slots=True)
class Edges:
    """Where a thought may begin, as words. count: words of the speech.

    at: how many words of a corpus come before each word, and before the end of the speech: count + 1 values.
    kept: there one begins whatever the sizes. sentences: sentence starts; leading: those that bring in what
    the next speaks of (`Your sister rang.`). stops: places after a semicolon, a colon or a dash; line_starts:
    of verse lines after any mark. steps, phrases: how strongly a thought or a phrase begins, above 0 where
    it does.
    """

    count: int
    at: Sequence[int]
    kept: frozenset[int]
    sentences: frozenset[int]
    leading: frozenset[int]
    stops: frozenset[int]
    line_starts: frozenset[int]
    steps: Callable[[int], float]
    phrases: Callable[[int], float]


def thought_starts(edges: Edges) -> list[int]:
    """The words at which a thought begins, in order, without the first word of the speech."""
    starts = [0, *_sentences_without_scraps(edges), edges.count]
    steps = [i for i in range(1, edges.count) if edges.steps(i) > 0]
    phrases = [i for i in range(1, edges.count) if edges.phrases(i) > 0]

    def divide(places: Iterable[int], long: int, share: int) -> None:
        _divide(starts, edges.at, places, long, share)

    divide([i for i in steps if i in edges.stops & edges.line_starts], VERSE_LONG, VERSE_SHARE)
    divide(steps, LONG, SHARE)
    divide(sorted(edges.stops), UNPLAYABLE, SHARE)
    divide(sorted(edges.line_starts), UNPLAYABLE, SHARE)  # for lists of images, which have no verbs
    divide(sorted(phrases, key=lambda i: -edges.phrases(i)), UNBROKEN, SHARE)
    return starts[1:-1]


def _sentences_without_scraps(edges: Edges) -> list[int]:
    """The sentence starts and those in `kept`, after short sentences were joined to a neighbour."""
    chosen, at = sorted((edges.sentences | edges.kept) - {0}), edges.at
    k = 0
    while k < len(chosen):
        before = at[chosen[k]] - at[chosen[k - 1] if k else 0]
        after = at[chosen[k + 1] if k + 1 < len(chosen) else edges.count] - at[chosen[k]]
        if (
            after < SCRAP
            and chosen[k] in edges.leading
            and k + 1 < len(chosen)
            and chosen[k + 1] not in edges.kept
        ):
            chosen.pop(k + 1)
        elif min(before, after) < SCRAP and chosen[k] not in edges.kept:
            chosen.pop(k)
            k = max(0, k - 1)
        else:
            k += 1
    return chosen


def _divide(starts: list[int], at: Sequence[int], places: Iterable[int], long: int, share: int) -> None:
    """Add to `starts` the places that divide more than `long` words, with at least `share` on each side."""
    for i in places:
        k = bisect_left(starts, i)
        if starts[k] == i:
            continue
        low, here, high = at[starts[k - 1]], at[i], at[starts[k]]
        if high - low > long and here - low >= share and high - here >= share:
            insort(starts, i)
