"""What was not understood: words that were written down for mumbling or noise, and so are not quoted.

A recogniser writes words for whatever it hears: also for mumbling, for another language, for noise. By itself
it is often sure of them. The second ear, asked how likely those words are in that sound, is not, whereas it
finds what was said clearly about as likely as the script. The verdicts stay as they are, because the script's
words were not heard either way; but such words are not quoted as something that somebody said.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace
from itertools import groupby
from statistics import mean, median

from offbook.score import SOMETHING_ELSE, UNDERSTOOD_FROM, Extra, Run, WordVerdict, decided

# This is asked of a place with so many heard words, or of one that stands for so many script words. Set by
# hand: the wordings of a smaller place have been compared one by one.
_FEWEST_HEARD, _FEWEST_SCRIPT = 2, 4


def quote_only_what_is_clear(
    run: Run, added: Sequence[Extra], moved: Collection[int]
) -> tuple[Run, list[Extra]]:
    """`run` and its added words, with SOMETHING_ELSE in the place of what was not understood.

    Nothing of it is an added word where it was said instead of words of the script: nobody knows how many
    words it was. added: those of its extras that are no asides. moved: script words that were said in another
    order; these were understood.
    """
    words, unclear, instead = list(run.words), set[Extra](), set[Extra]()
    likelihoods = sorted(((s.start + s.end) / 2, s.log_probability) for s in run.likelihoods)
    for first, last in _places_not_as_written(run, added, moved) if likelihoods else ():
        put_in = [e for e in added if first <= e.before_word <= last + 1]
        mine = [w for w in words[first : last + 1] if w.heard not in (None, SOMETHING_ELSE)]
        if not _was_understood([*mine, *put_in], likelihoods, last - first + 1):
            (instead if mine else unclear).update(put_in)
            for w in mine:
                words[w.i] = _not_quoted(w)

    def quoted(extras: Sequence[Extra]) -> list[Extra]:
        kept = (e for e in extras if e not in instead)
        return [replace(e, heard=SOMETHING_ELSE) if e in unclear else e for e in kept]

    return replace(run, words=tuple(words), extras=tuple(quoted(run.extras))), quoted(added)


def _places_not_as_written(
    run: Run, added: Sequence[Extra], moved: Collection[int]
) -> Iterator[tuple[int, int]]:
    """The first and last word of each run of words that were not heard as written.

    Where words were only put in between two words: the later one and the earlier one, in this order, which
    stands for no script words.
    """
    beside: set[int] = set()
    for right, group in groupby(run.words, key=lambda w: w.verdict == "said" or w.i in moved):
        if not right:
            each = [w.i for w in group]
            beside.update(range(each[0], each[-1] + 2))
            yield each[0], each[-1]
    yield from ((place, place - 1) for place in sorted({e.before_word for e in added} - beside))


def _was_understood(
    heard: Sequence[WordVerdict | Extra], likelihoods: Sequence[tuple[float, float]], script: int
) -> bool:
    """Whether what was heard in the place of so many words of the script may be quoted."""
    known = [p for h in heard if (p := _log_probability_of(h, likelihoods)) is not None]
    is_asked = len(known) >= _FEWEST_HEARD or (known and script >= _FEWEST_SCRIPT)
    return not is_asked or median(known) >= UNDERSTOOD_FROM


def _not_quoted(word: WordVerdict) -> WordVerdict:
    """The verdict with SOMETHING_ELSE for what was heard, and with the step that says why."""
    told = f"“{word.heard}” was heard in its place, but the second ear finds that very unlikely"
    return decided(word, "second ear", told, heard=SOMETHING_ELSE)


def _log_probability_of(
    heard: WordVerdict | Extra, likelihoods: Sequence[tuple[float, float]]
) -> float | None:
    """The mean natural log probability of what was heard in the time of a word.

    likelihoods: for each word that the second ear was asked about the middle of its time (s), in order, and
    its log probability. None where there is none in this time.
    """
    if heard.start is None or heard.end is None:
        return None
    here = slice(bisect_left(likelihoods, (heard.start,)), bisect_left(likelihoods, (heard.end,)))
    return mean(p for _, p in likelihoods[here]) if likelihoods[here] else None
