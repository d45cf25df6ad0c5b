"""Thoughts at the scale a performer plays them: mostly a sentence, 8 to 20 words.

A scrap (`Fie upon't!`, `Not one.`) is played with its neighbour. A long sentence is divided at the steps
that leave a fair stretch on both sides; in verse a line end with a stop and a new statement after it
divides sooner. Whatever is still too long to be played in one go is divided at a phrase, else at a stop or a
line end. The sizes are those at which discourse units of speeches are read as thoughts; verse sizes
were chosen on public-domain verse with the figures of `docs/thoughts.md` in view. They count words as a
corpus does: `don't` and `well-known` are two each.
"""

from __future__ import annotations

from bisect import bisect_left, insort
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

SCRAP = 4  # words; a shorter sentence joins its neighbour
LONG, SHARE = 20, 8  # words: a longer stretch is divided where each side keeps at least so many
VERSE_LONG, VERSE_SHARE = 12, 5  # the same at the end of a verse line with a stop
UNPLAYABLE = 30  # words; a longer stretch is divided at a stop or a verse line end
UNBROKEN = 40  # words; a longer stretch is divided at any phrase that leaves a fair stretch


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
    """The words at which a thought begins, in order, without the first of the speech."""
    starts = [0, *_sentences_without_scraps(edges), edges.count]
    steps = [i for i in range(1, edges.count) if edges.steps(i) > 0]
    phrases = [i for i in range(1, edges.count) if edges.phrases(i) > 0]

    def divide(places: Iterable[int], long: int, share: int) -> None:
        _divide(starts, edges.at, places, long, share)

    divide([i for i in steps if i in edges.stops & edges.line_starts], VERSE_LONG, VERSE_SHARE)
    divide(steps, LONG, SHARE)
    divide(sorted(edges.stops), UNPLAYABLE, SHARE)
    divide(sorted(edges.line_starts), UNPLAYABLE, SHARE)  # a list of pictures has no verb
    divide(sorted(phrases, key=lambda i: -edges.phrases(i)), UNBROKEN, SHARE)
    return starts[1:-1]


def _sentences_without_scraps(edges: Edges) -> list[int]:
    """Sentence starts and what is kept, a scrap joined to a neighbour unless what is kept parts them."""
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
    """Add to `starts` the places that divide a stretch of more than `long` words fairly."""
    for i in places:
        k = bisect_left(starts, i)
        if starts[k] == i:
            continue
        low, here, high = at[starts[k - 1]], at[i], at[starts[k]]
        if high - low > long and here - low >= share and high - here >= share:
            insort(starts, i)
