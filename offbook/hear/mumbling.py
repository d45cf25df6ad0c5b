"""Several words in a row that nobody made out: they are unsure, not wrong.

Where somebody mumbles, the recogniser writes a short word or two for what were five, and the script's words
count as dropped. A place with a voice that fits the script's words is left in doubt when it is weighed
(`hear.decide`), but mumbled words are often torn apart by a pause, or begin a segment, and then no one place
has all of them. So they are looked at once more in the whole run-through: if the second ear hardly believes
what was heard there, and saying it took about as long as the script's words take, nobody knows what was said.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import groupby
from statistics import median

from offbook.hear.pace import letters_in
from offbook.score import SOMETHING_ELSE, TIE, UNDERSTOOD_FROM, HeardLikelihood, Run, WordVerdict, decided

# How many script words in a row must be wrong or unsure, how many of them wrong, and how many words there may
# be. Set by hand: fewer may be slips side by side, and somebody who says something else for more has lost the
# line.
_LEAST_WORDS, _LEAST_WRONG, _MOST_WORDS = 4, 3, 8
# The share of the time that the script's words need, at the pace of this run-through, that what was heard has
# to take. Set by hand: what was mumbled in spontaneous talk took half of it; a cough of a third of a second
# takes a third of what four short words need.
_LEAST_TIME = 0.4

_TOLD = (
    "something was said here for about as long as these words take, and neither ear can make out what, so "
    "nobody knows"
)


def doubt_mumbled(run: Run) -> Run:
    """`run` with the words unsure that seem wrong, but were only mumbled. Without a second ear it stays."""
    pace = _seconds_per_letter(run.words)
    mumbled = {
        i
        for stretch in _missed_stretches(run.words)
        if _is_mumbled(run, stretch, pace)
        for i in range(stretch[0], stretch[-1] + 1)
    }
    return replace(run, words=tuple(_unsure(w) if w.i in mumbled and w.is_wrong else w for w in run.words))


def _missed_stretches(words: Sequence[WordVerdict]) -> Iterator[list[int]]:
    """The script words in a row that were not said, as far as is known, where enough of them seem wrong."""
    for missed, group in groupby(words, key=lambda w: w.verdict != "said"):
        stretch = list(group)
        if missed and len(stretch) >= _LEAST_WORDS and sum(w.is_wrong for w in stretch) >= _LEAST_WRONG:
            yield [w.i for w in stretch]


def _seconds_per_letter(words: Sequence[WordVerdict]) -> float:
    """How long a letter takes in this run-through (s), from the words that were said; 0 where none was."""
    said = [
        (w, w.end - w.start)
        for w in words
        if w.verdict == "said" and w.start is not None and w.end is not None
    ]
    letters = sum(letters_in(w.text) for w, _ in said)
    return sum(seconds for _, seconds in said) / letters if letters else 0.0


def _is_mumbled(run: Run, stretch: Sequence[int], seconds_per_letter: float) -> bool:
    """Whether what was heard in the place of these script words is unlikely, and took their time."""
    if len(stretch) > _MOST_WORDS:
        return False
    heard = _heard_there(run, stretch)
    if not heard or median(s.log_probability for s in heard) >= UNDERSTOOD_FROM:
        return False
    needed = sum(letters_in(run.words[i].text) for i in stretch) * seconds_per_letter
    return sum(s.end - s.start for s in heard) >= _LEAST_TIME * needed


def _heard_there(run: Run, stretch: Sequence[int]) -> list[HeardLikelihood]:
    """What was heard between the script words on either side of the stretch; nothing where one is missing."""
    before, after = stretch[0] - 1, stretch[-1] + 1
    if before < 0 or after >= len(run.words):
        return []
    start, end = run.words[before].end, run.words[after].start
    if start is None or end is None:
        return []
    return [s for s in run.likelihoods if start <= (s.start + s.end) / 2 < end]


def _unsure(word: WordVerdict) -> WordVerdict:
    """The word, in doubt, and without a wording of what was heard."""
    heard = None if word.heard is None else SOMETHING_ELSE
    confidence = None if word.heard is None else TIE
    return decided(word, "second ear", _TOLD, verdict="unsure", heard=heard, confidence=confidence)
