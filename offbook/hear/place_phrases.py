"""A doubtful place heard once more by the recogniser: the phrases it is given, and the scores it gives back.

This is how the wordings of a place are compared where there is no second ear.
"""

from __future__ import annotations

from collections.abc import Sequence

from offbook.recognise import Alternative, HeardWord


def phrases_of(
    script: Sequence[str], others: Sequence[str], left: Sequence[str], right: Sequence[str]
) -> list[str]:
    """The wordings of a place as phrases for the recogniser.

    One phrase has the script's first wording with the whole context `left` and `right`; the others have a
    wording and the one word on either side of it. The whole context is given only once, because whatever it
    shares with a wording would speak for that wording.
    """
    found = [" ".join(filter(None, (*left, script[0], *right)))]
    for wording in (*script[1:], *others):
        found.append(" ".join(filter(None, (*left[-1:], wording, *right[:1]))))
    return [f for f in found if f]


def scores_of(
    found: Sequence[Alternative], left: Sequence[HeardWord], right: Sequence[HeardWord]
) -> dict[str, tuple[float, list[HeardWord]]]:
    """For each wording of the place among the alternatives `found`: its best score, and its words.

    An alternative may also put a word into the context, or leave one out of it. So only what lies between
    the place's two neighbours counts, and each wording counts by its best alternative.
    """
    scores: dict[str, tuple[float, list[HeardWord]]] = {}
    for each in found:
        words = [w.word for w in each.words]
        begin = _behind_word(words, left[-1].word, len(left)) if left else 0
        end = _at_word(words, right[0].word, len(right)) if right else len(words)
        if begin is None or end is None or end < begin:
            continue
        wording = " ".join(words[begin:end])
        if wording not in scores or scores[wording][0] < each.score:
            scores[wording] = (each.score, list(each.words[begin:end]))
    return scores


def _behind_word(words: list[str], neighbour: str, expected: int) -> int | None:
    """The place behind the word `neighbour` that is nearest to the expected one; None without the word."""
    spots = [k for k, w in enumerate(words) if w == neighbour]
    return min(spots, key=lambda k: abs(k + 1 - expected)) + 1 if spots else None


def _at_word(words: list[str], neighbour: str, expected: int) -> int | None:
    """The place of the word `neighbour`, with about as many words from there on as expected; None without."""
    spots = [k for k, w in enumerate(words) if w == neighbour]
    return min(spots, key=lambda k: abs(len(words) - k - expected)) if spots else None
