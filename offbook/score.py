"""The score: a verdict for every word of the script, and what was heard beside it.

`Run` is the product of hearing: one `WordVerdict` for each script word, in order, and every heard
word that stands for no script word (`Extra`), not yet sorted into added words, fillers, restarts
and the rest: that is the work of `notes`.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from difflib import SequenceMatcher
from itertools import pairwise
from typing import Any, Literal

from offbook.align import FILLERS, AlignedWord, Alignment, AlignmentStep, nearest, partners
from offbook.recognise import HeardWord
from offbook.words import Word, contraction

Verdict = Literal["said", "unsure", "changed", "dropped"]


# What can decide a verdict, or change it afterwards, in the order in which they act.
DecidedBy = Literal[
    "alignment",
    "two in a row",
    "place heard again",
    "whole run-through",
    "second ear",
    "poor sound",
    "cue",
    "correction",
    "swap",
]


@dataclass(frozen=True, slots=True)
class DecisionStep:
    """One step on the way to a verdict. by: what decided; verdict: as it stood after the step.

    told: why, in words for the performer.
    """

    by: DecidedBy
    verdict: Verdict
    told: str


@dataclass(frozen=True, slots=True)
class WordVerdict:
    """What became of script word `i`. start, end: seconds in the recording, None where not heard.

    heard: what was heard in its place (lower case), None where nothing was, SOMETHING_ELSE where it is not
    sure enough to be quoted. confidence: 0 to 1.
    steps: what decided the verdict and what changed it afterwards, in order; no part of what a verdict is,
    so that two verdicts reached in different ways are equal.
    """

    i: int
    text: str
    verdict: Verdict
    heard: str | None
    start: float | None
    end: float | None
    confidence: float | None
    steps: tuple[DecisionStep, ...] = field(default=(), compare=False)


def decided(word: WordVerdict, by: DecidedBy, told: str, **changes: Any) -> WordVerdict:
    """`word` with `changes`, and with the step that made them at the end of its steps."""
    changed = replace(word, **changes)
    return replace(changed, steps=(*word.steps, DecisionStep(by, changed.verdict, told)))


@dataclass(frozen=True, slots=True)
class Extra:
    """One heard word that stands for no script word. before_word: the script word it comes before.

    before_word is len(words) for what is heard after the last one. Times in seconds.
    """

    before_word: int
    heard: str
    start: float
    end: float
    confidence: float


@dataclass(frozen=True, slots=True)
class Surely:
    """How likely the second ear found a heard word. start, end: seconds. log_probability: natural units."""

    start: float
    end: float
    log_probability: float


@dataclass(frozen=True, slots=True)
class Run:
    """One run-through, scored. seconds: first to last word of the speech; speaking_seconds: voiced part.

    surely: what the second ear says of each heard word; no part of what a run-through is, and not kept.
    """

    words: tuple[WordVerdict, ...]
    extras: tuple[Extra, ...]
    seconds: float
    speaking_seconds: float
    surely: tuple[Surely, ...] = field(default=(), compare=False, repr=False)

    @property
    def accuracy(self) -> float:
        """Words said / words of the script; an unsure word counts as said."""
        good = sum(w.verdict in ("said", "unsure") for w in self.words)
        return good / len(self.words) if self.words else 0.0

    @property
    def accuracy_low(self) -> float:
        """The same with unsure words counted as missed."""
        return sum(w.verdict == "said" for w in self.words) / len(self.words) if self.words else 0.0


# Stands for what was heard in a word's place where no wording of it is sure enough to be quoted.
SOMETHING_ELSE = "…"
# Median log probability, natural units, that the second ear gives at least to the words of a stretch that was
# understood. Sentences of another book, read clearly in the place of the script's, have -0.03; a reader's
# voice played backwards, alone or under another voice, -3.2 to -7.4 (`tests/test_made_out.py` hears some).
UNDERSTOOD_FROM = -1.0
TIE = 0.5  # confidence up to which a hearing is undecided
# Confidence from which a word heard in another's place is taken for changed, where it is what a hearing
# claims; where it is the chance by which the place was decided, it need only be past a tie.
_CHANGED_FROM = 0.7
_STRANGE_SAID = 0.62  # likeness from which a word outside the vocabulary counts as said
_STRANGE_UNSURE = 0.4  # and from which it may have been
_NOT_MADE_OUT = "hesitations are often not recognised, so they never count as a mistake"
# So many words heard as they are written, one after the other, are no accident; set by hand.
_NO_ACCIDENT = 3
_SHORT = 3  # words that a contraction and its full form have at most


def score(
    words: Sequence[Word], places: Sequence[AlignedWord], heard: Sequence[HeardWord], alignment: Alignment
) -> Run:
    """Verdicts for `words` (with their `places`) from an alignment of `heard` with them.

    Of two sayings of the same word the later counts: a correction counts as said.
    """
    return _Scoring(words, places, heard, alignment.steps).run()


class _Scoring:
    def __init__(
        self,
        words: Sequence[Word],
        places: Sequence[AlignedWord],
        heard: Sequence[HeardWord],
        steps: Sequence[AlignmentStep],
    ) -> None:
        self.words, self.places, self.heard, self.steps = words, places, heard, steps
        counting = _counting([s for s in steps if s.kind == "hit"])
        self.owner = {i: s for s in counting for i in range(s.script_from, s.script_to)}
        kept = {id(s) for s in counting}
        self.spare = {
            h
            for s in steps
            if s.kind in ("substitution", "insertion")
            for h in range(s.heard_from, s.heard_to)
        }
        again = [s for s in steps if s.kind == "hit" and id(s) not in kept]
        self.again = {h for s in again for h in range(s.heard_from, s.heard_to)}
        self.stands: dict[int, int] = {}  # heard words that were taken for another word's, and for which
        self.verdicts: dict[int, WordVerdict] = {}

    def run(self) -> Run:
        for i, step in self.owner.items():
            self.verdicts[i] = self._hit(i, step)
        i = 0
        while i < len(self.words):
            if i in self.owner:
                i += 1
                continue
            end = next((k for k in range(i, len(self.words)) if k in self.owner), len(self.words))
            self._missed(i, end)
            i = end
        self._first_of_two()
        verdicts = tuple(self.verdicts[i] for i in range(len(self.words)))
        said = [w for w in verdicts if w.start is not None and w.end is not None]
        seconds = said[-1].end - said[0].start if said and said[-1].end and said[0].start is not None else 0.0
        speaking = sum(w.end - w.start for w in self._spoken())
        return Run(verdicts, self._extras(), max(0.0, seconds), speaking)

    def _first_of_two(self) -> None:
        """Of the same word twice running in a line, said once, the first was said and the second left out.

        Nothing in the sound tells; it is how somebody takes it who follows along in the book.
        """
        for i in range(len(self.words) - 2, -1, -1):
            one, two = self.verdicts[i], self.verdicts[i + 1]
            alike = self.places[i].forms[:1] == self.places[i + 1].forms[:1] and self.places[i].forms
            if one.verdict == "dropped" and two.verdict == "said" and alike and not self.places[i + 1].opens:
                told = (
                    "the script has this word twice in a row and it was heard once: the first counts as said"
                )
                self.verdicts[i] = decided(two, "two in a row", told, i=i, text=one.text)
                self.verdicts[i + 1] = decided(one, "two in a row", told, i=i + 1, text=two.text)

    def _spoken(self) -> Sequence[HeardWord]:
        taken = [v for v in self.verdicts.values() if v.start is not None]
        if not taken:
            return ()
        first = min(v.start for v in taken if v.start is not None)
        last = max(v.end for v in taken if v.end is not None)
        return [h for h in self.heard if h.start >= first - 1e-6 and h.end <= last + 1e-6]

    def _hit(self, i: int, step: AlignmentStep) -> WordVerdict:
        words = self.heard[step.heard_from : step.heard_to]
        sure = min(w.confidence for w in words)
        start, end = words[0].start, words[-1].end
        count = step.script_to - step.script_from
        if count > 1:  # one heard word for several of the script: its time is shared out
            start, end = (start + (end - start) * (i - step.script_from + k) / count for k in (0, 1))
        verdict: Verdict = "said" if sure > TIE else "unsure"
        token = " ".join(self.places[i].spoken) or " ".join(w.word for w in words)
        told = f"it was heard here as written, with a confidence of {sure:.2f}"
        if verdict == "unsure":
            told += f"; up to {TIE:.2f} that is a tie between the script and something else"
        word = WordVerdict(i, self.words[i].text, verdict, token, start, end, sure)
        return decided(word, "alignment", told)

    def _missed(self, begin: int, end: int) -> None:
        """Script words that no hit covers: paired with what was heard in their place, or dropped."""
        low = self.owner[begin - 1].heard_to if begin else 0
        high = self.owner[end].heard_from if end < len(self.words) else len(self.heard)
        self._paired(begin, end, [h for h in range(low, high) if h in self.spare])

    def _paired(self, begin: int, end: int, inside: Sequence[int]) -> None:
        """Verdicts for script words [begin, end) in whose place the words `inside` were heard."""
        as_written = self._as_written(begin, end, inside)
        if as_written is not None:
            i, a, count = as_written
            self._paired(begin, i, inside[:a])
            for k in range(count):
                h = inside[a + k]
                self.spare.discard(h)
                self.stands[h] = i + k
                self.verdicts[i + k] = self._hit(i + k, AlignmentStep("hit", i + k, i + k + 1, h, h + 1))
            self._paired(i + count, end, inside[a + count :])
            return
        short = self._contracted(begin, end, inside)
        if short is not None:
            i, j, a, b = short
            self._paired(begin, i, inside[:a])
            self._take(range(i, j), inside[a:b], opened=j - i > 1 or b - a > 1)
            self._paired(j, end, inside[b:])
            return
        pairs = {
            begin + k: inside[a:b]
            for k, a, b in partners(self.places[begin:end], [self.heard[h].word for h in inside])
        }
        for i in range(begin, end):
            if i in pairs:
                self._take(range(i, i + 1), pairs[i])
            else:
                gone = WordVerdict(i, self.words[i].text, "dropped", None, None, None, None)
                told = "between the words around it nothing was heard that could stand for it"
                if self._hesitates(i):
                    gone, told = replace(gone, verdict="unsure"), _NOT_MADE_OUT
                self.verdicts[i] = decided(gone, "alignment", told)

    def _as_written(self, begin: int, end: int, inside: Sequence[int]) -> tuple[int, int, int] | None:
        """The longest run of script words that were heard as they are written, if it is long enough.

        It is given as its first script word, the place of its first heard word in `inside`, and its number of
        words. Between two stretches that are missing the alignment may pass over a few such words.
        """
        script = [self.places[i].forms[0] if self.places[i].forms else () for i in range(begin, end)]
        heard = [(self.heard[h].word,) for h in inside]
        block = SequenceMatcher(None, script, heard, autojunk=False).find_longest_match()
        return (begin + block.a, block.b, block.size) if block.size >= _NO_ACCIDENT else None

    def _hesitates(self, i: int) -> bool:
        """Whether the script itself has an "um" here."""
        return self.places[i].spoken[:1] != () and self.places[i].spoken[0] in FILLERS

    def _contracted(self, begin: int, end: int, inside: Sequence[int]) -> tuple[int, int, int, int] | None:
        """The first script words [i, j) said as the contraction or the full form inside[a:b]."""
        for i in range(begin, end):
            for j in range(i + 1, min(i + _SHORT, end) + 1):
                script = " ".join(token for w in self.words[i:j] for token in w.spoken[0])
                for a in range(len(inside)):
                    for b in range(a + 1, min(a + _SHORT, len(inside)) + 1):
                        if contraction(script, " ".join(self.heard[h].word for h in inside[a:b])):
                            return i, j, a, b
        return None

    def _take(self, script: range, heard: Sequence[int], *, opened: bool = False) -> None:
        """The heard words for each of these script words: "I'm" for both "I" and "am".

        opened: they are a contraction or its full form, so that no likeness makes one the other.
        """
        words = [self.heard[h] for h in heard]
        self.spare -= set(heard)
        self.stands.update(dict.fromkeys(heard, script.start))
        for i in script:
            self.verdicts[i] = self._changed(i, words, opened=opened)

    def _changed(self, i: int, words: Sequence[HeardWord], *, opened: bool) -> WordVerdict:
        text = " ".join(w.word for w in words)
        sure = min(w.confidence for w in words)
        least = TIE if all(w.weighed for w in words) else _CHANGED_FROM
        verdict: Verdict = "changed" if sure >= least else "unsure"
        told = f"“{text}” was heard in its place, with a confidence of {sure:.2f}"
        if verdict == "unsure":
            told += f"; it takes {least:.2f} to call it changed"
        if self._hesitates(i):
            verdict, told = "unsure", f"“{text}” was heard in its place; {_NOT_MADE_OUT}"
        elif not self.places[i].known and not opened:
            like = nearest(self.places[i], text)
            told = (
                f"the recogniser does not know this word; “{text}” was heard, "
                f"which sounds like it by {like:.2f} of 1"
            )
            if like >= _STRANGE_SAID:
                verdict = "said"
            elif like >= _STRANGE_UNSURE or not self.places[i].forms:
                verdict = "unsure"
        word = WordVerdict(i, self.words[i].text, verdict, text, words[0].start, words[-1].end, sure)
        return decided(word, "alignment", told)

    def _extras(self) -> tuple[Extra, ...]:
        """Heard words that stand for no script word, before the script word that was said next."""
        found: list[Extra] = []
        following = len(self.words)
        for step in reversed(self.steps):
            if step.kind == "hit" and step.heard_from not in self.again:
                following = step.script_from
            for h in range(step.heard_to - 1, step.heard_from - 1, -1):
                following = self.stands.get(h, following)
                if h in self.spare or h in self.again:
                    w = self.heard[h]
                    found.append(Extra(following, w.word, w.start, w.end, w.confidence))
        return tuple(reversed(found))


# A later saying that has so many words fewer than an earlier one was interrupted: the earlier one counts.
_BROKEN_OFF = 4


def _counting(hits: Sequence[AlignmentStep]) -> list[AlignmentStep]:
    """The hits that count, in the script's order: of each word its last saying, as far as they rise together.

    What was said out of its place was said, but not there: it is left to be noted as moved. Where somebody
    goes back and breaks off, to stop or to go on from the farthest they had come, what was said before they
    went back counts too; what is left out of a later saying that goes on is dropped, said before or not.
    """
    last = {i: s for s in hits for i in range(s.script_from, s.script_to)}
    chosen = _rising([s for s in hits if any(last[i] is s for i in range(s.script_from, s.script_to))])
    every = _rising(hits)
    more = _size(every) >= _size(chosen) + _BROKEN_OFF
    return every if more and not _patched(every, hits) else chosen


def _patched(chain: Sequence[AlignmentStep], hits: Sequence[AlignmentStep]) -> bool:
    """Whether some hits of `chain` are of an earlier saying that had gone past the later one's next hit."""
    heard = [s.heard_from for s in hits]
    for before, after in pairwise(chain):
        between = hits[bisect_right(heard, before.heard_from) : bisect_left(heard, after.heard_from)]
        if any(s.script_to > after.script_from for s in between):
            return True
    return False


def _size(hits: Sequence[AlignmentStep]) -> int:
    """Script words that the hits cover."""
    return sum(s.script_to - s.script_from for s in hits)


def _rising(hits: Sequence[AlignmentStep]) -> list[AlignmentStep]:
    """Of hits in the order they were heard, the most words that rise together; of equals the later ones."""
    best: list[tuple[int, int, int]] = []  # script end, words so far, index of the last hit; rising
    before: list[int] = []
    beyond = _size(hits) + 1
    for k, step in enumerate(hits):
        at = bisect_right(best, (step.script_from, beyond, 0))
        words, last = (best[at - 1][1], best[at - 1][2]) if at else (0, -1)
        before.append(last)
        words += step.script_to - step.script_from
        at = bisect_right(best, (step.script_to, beyond, 0))
        if at and best[at - 1][1] > words:
            continue
        if at and best[at - 1][0] == step.script_to:
            at -= 1
            del best[at]
        best.insert(at, (step.script_to, words, k))
        while at + 1 < len(best) and best[at + 1][1] <= words:
            del best[at + 1]
    kept: list[AlignmentStep] = []
    k = best[-1][2] if best else -1
    while k >= 0:
        kept.append(hits[k])
        k = before[k]
    return kept[::-1]


def accuracy_share(low: float, high: float | None = None) -> str:
    """A share of the words for people: 97.1 % or, from low to high, 95.9-97.1 %.

    The one way to say it: rounded down, so that 97.96 is never called 98.
    """
    a, b = _floor(low), _floor(low if high is None else high)
    return f"{b} %" if a == b else f"{a}–{b} %"


def chance_told(chance: float) -> str:
    """A chance, or a recall foretold, for people: 94 %."""
    return f"{round(100 * chance)} %"


def _floor(value: float) -> str:
    return f"{int(value * 1000 + 1e-9) / 10:.1f}"
