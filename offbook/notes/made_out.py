"""Stretches that nobody made out: several words heard in the place of the script's that were not said either.

A recogniser writes words for whatever it hears, also for mumbling, for another language, for noise. One ear
alone is often sure of them. A second ear that is asked how likely those words are in that sound is not: what
was said clearly it finds about as likely as the script. The verdicts stay as they are, because the
script's words were not heard either; but such words are not quoted as what somebody said.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace
from itertools import groupby
from statistics import mean, median

from offbook.score import SOMETHING_ELSE, Extra, Run, WordVerdict, decided

# Median log probability, natural units, that the second ear gives to the words of a stretch that was made
# out, at least. Sentences of another book, read clearly in the place of the script's, have -0.03; a reader's
# voice played backwards, alone or under another voice, -3.2 to -7.4 (`tests/test_made_out.py` hears some).
_MADE_OUT = -1.0
# Words heard, or words of the script they stand for, from which on it is a stretch. Set by hand: what is
# shorter is weighed as a place of its own.
_HEARD, _SCRIPT = 2, 4


def quoted_where_made_out(
    run: Run, added: Sequence[Extra], moved: Collection[int]
) -> tuple[Run, list[Extra]]:
    """`run` and its added words, with SOMETHING_ELSE for what was heard in stretches that nobody made out.

    added: of its extras, those that are no asides. moved: script words that were said in another order.
    """
    words, unclear = list(run.words), set[Extra]()
    told_of = sorted(((s.start + s.end) / 2, s.log_probability) for s in run.surely)
    for first, last in _stretches(run, added, moved) if told_of else ():
        put_in = [e for e in added if first <= e.before_word <= last + 1]
        mine = [w for w in words[first : last + 1] if w.heard not in (None, SOMETHING_ELSE)]
        if not _made_out([*mine, *put_in], told_of, last - first + 1):
            unclear.update(put_in)
            for w in mine:
                words[w.i] = _not_quoted(w)

    def quoted(extras: Sequence[Extra]) -> list[Extra]:
        return [replace(e, heard=SOMETHING_ELSE) if e in unclear else e for e in extras]

    return replace(run, words=tuple(words), extras=tuple(quoted(run.extras))), quoted(added)


def _stretches(run: Run, added: Sequence[Extra], moved: Collection[int]) -> Iterator[tuple[int, int]]:
    """First and last word of the stretches that were not heard as written; where words were only put in, the
    place they come before and the one before that."""
    beside: set[int] = set()
    for right, group in groupby(run.words, key=lambda w: w.verdict == "said" or w.i in moved):
        if not right:
            each = [w.i for w in group]
            beside.update(range(each[0], each[-1] + 2))
            yield each[0], each[-1]
    yield from ((place, place - 1) for place in sorted({e.before_word for e in added} - beside))


def _made_out(
    heard: Sequence[WordVerdict | Extra], told_of: Sequence[tuple[float, float]], script: int
) -> bool:
    """Whether what was heard in the place of so many words of the script may be quoted."""
    known = [sure for h in heard if (sure := _how_sure(h, told_of)) is not None]
    is_stretch = len(known) >= _HEARD or (known and script >= _SCRIPT)
    return not is_stretch or median(known) >= _MADE_OUT


def _not_quoted(word: WordVerdict) -> WordVerdict:
    told = f"“{word.heard}” was heard in its place, which the second ear finds hardly likely"
    return decided(word, "second ear", told, heard=SOMETHING_ELSE)


def _how_sure(heard: WordVerdict | Extra, told_of: Sequence[tuple[float, float]]) -> float | None:
    """The mean log probability of what was heard in this time; None where the second ear was not asked.

    told_of: for each word the middle of its time (s), in order, and its log probability.
    """
    if heard.start is None or heard.end is None:
        return None
    here = slice(bisect_left(told_of, (heard.start,)), bisect_left(told_of, (heard.end,)))
    return mean(sure for _, sure in told_of[here]) if told_of[here] else None
