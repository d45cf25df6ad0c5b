"""The score: a verdict for every word of the script, and the words that were heard besides.

`Run` is the result of the hearing: one `WordVerdict` for each script word, in order, and an `Extra` for each
heard word that stands for no script word. `notes` later sorts these into added words, fillers, lines begun
again and the rest.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from difflib import SequenceMatcher
from itertools import pairwise
from typing import Any, Literal

from offbook.align import FILLERS, AlignedWord, Alignment, AlignmentStep, pair_by_sound, sound_likeness
from offbook.phrasing import PERCENT
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
    """One step on the way to a verdict.

    by: what decided it. verdict: what it was after the step. told: why, in words for the performer.
    """

    by: DecidedBy
    verdict: Verdict
    told: str


@dataclass(frozen=True, slots=True)
class WordVerdict:
    """What became of the script word `i`, whose text is `text`.

    heard: what was heard in its place, in lower case; None if nothing was, `SOMETHING_ELSE` if that is not
    sure enough to be quoted. start, end: seconds from the beginning of the recording, None if it was not
    heard. confidence: 0 to 1, None if it was not heard. steps: what decided the verdict and what changed it
    later, in order. They are left out of comparisons, so that two verdicts reached in different ways are
    equal.
    """

    i: int
    text: str
    verdict: Verdict
    heard: str | None
    start: float | None
    end: float | None
    confidence: float | None
    steps: tuple[DecisionStep, ...] = field(default=(), compare=False)

    @property
    def is_wrong(self) -> bool:
        """Whether the word counts as a slip: something else was said, or nothing."""
        return self.verdict in ("changed", "dropped")


def decided(word: WordVerdict, by: DecidedBy, told: str, **changes: Any) -> WordVerdict:
    """A copy of `word` with `changes`, and with one more step that says who made them and why."""
    changed = replace(word, **changes)
    return replace(changed, steps=(*word.steps, DecisionStep(by, changed.verdict, told)))


@dataclass(frozen=True, slots=True)
class Extra:
    """One heard word that stands for no script word.

    before_word: the script word that it comes before; the number of script words if it was heard after the
    last one. start, end: seconds from the beginning of the recording. confidence: 0 to 1.
    """

    before_word: int
    heard: str
    start: float
    end: float
    confidence: float


@dataclass(frozen=True, slots=True)
class HeardLikelihood:
    """How likely a heard word is for the second ear.

    start, end: seconds from the beginning of the recording. log_probability: natural logarithm.
    """

    start: float
    end: float
    log_probability: float


@dataclass(frozen=True, slots=True)
class Run:
    """One run-through with its verdicts.

    words: the verdict of each script word. extras: the heard words that stand for none. seconds: from the
    first word of the speech to the last. speaking_seconds: the time in which words were said. likelihoods:
    how likely each heard word is for the second ear; they are neither compared nor kept.
    """

    words: tuple[WordVerdict, ...]
    extras: tuple[Extra, ...]
    seconds: float
    speaking_seconds: float
    likelihoods: tuple[HeardLikelihood, ...] = field(default=(), compare=False, repr=False)

    @property
    def accuracy(self) -> float:
        """The share of the script's words that were said, 0 to 1; unsure words count as said."""
        good = sum(w.verdict in ("said", "unsure") for w in self.words)
        return good / len(self.words) if self.words else 0.0

    @property
    def accuracy_low(self) -> float:
        """The share of the script's words that were said, 0 to 1; unsure words do not count."""
        return sum(w.verdict == "said" for w in self.words) / len(self.words) if self.words else 0.0


# What was heard in the place of a word, if no wording of it is sure enough to be quoted.
SOMETHING_ELSE = "…"
# Median log probability, natural units, that the second ear gives at least to the words of a stretch that was
# understood. Sentences of another book, read clearly in the place of the script's, have -0.03; a reader's
# voice played backwards, alone or under another voice, -3.2 to -7.4 (`tests/test_made_out.py` hears some).
UNDERSTOOD_FROM = -1.0
TIE = 0.5  # the confidence up to which a hearing is undecided
# The confidence from which a word is changed if another was heard in its place. That is for confidences that
# a recogniser states; if it is the chance with which the place was decided, it need only be above a tie. Set
# by hand.
_CHANGED_FROM = 0.7
# The likeness of sound, 0 to 1, from which a word that the recogniser does not know counts as said, and from
# which it is unsure; set by hand.
_UNKNOWN_SAID, _UNKNOWN_UNSURE = 0.62, 0.4
_HESITATION = "hesitations are often not recognised, so they never count as a mistake"
# So many words heard as they are written, one after the other, are no accident; set by hand.
_NO_ACCIDENT = 3
_LONGEST_CONTRACTION = 3  # words that a contraction or its full form has at most
# Seconds that times may differ by rounding and still be the same.
_SAME_TIME = 1e-6
# If a later saying has so many words fewer than an earlier one, the speaker broke it off, and the earlier one
# counts. Set by hand.
_FEWER_IF_BROKEN_OFF = 4
# The decimals of a percentage that are shown, and what is added so that rounding down never takes one from a
# share that is exactly on a step.
_PERCENT_DECIMALS, _ROUNDING = 1, 1e-9
_STEPS_A_PERCENT = 10**_PERCENT_DECIMALS


def score(
    words: Sequence[Word], places: Sequence[AlignedWord], heard: Sequence[HeardWord], alignment: Alignment
) -> Run:
    """The verdicts for `words` (`places` is the same words for alignment) from an alignment with `heard`.

    If a word was said twice, the later saying counts, because it may be a correction.
    """
    return _Scoring(words, places, heard, alignment.steps).run()


class _Scoring:
    """The work of `score`, with what is known so far."""

    def __init__(
        self,
        words: Sequence[Word],
        places: Sequence[AlignedWord],
        heard: Sequence[HeardWord],
        steps: Sequence[AlignmentStep],
    ) -> None:
        self.words, self.places, self.heard, self.steps = words, places, heard, steps
        counting = _counting_hits([s for s in steps if s.kind == "hit"])
        # The hit of each script word that has one. The heard words that are no hit, and those of hits that do
        # not count, because the words were said again.
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
        self.stands: dict[int, int] = {}  # for which script word a heard word that is no hit stands
        self.verdicts: dict[int, WordVerdict] = {}

    def run(self) -> Run:
        """Decide every verdict."""
        for i, step in self.owner.items():
            self.verdicts[i] = self._verdict_of_hit(i, step)
        i = 0
        while i < len(self.words):
            if i in self.owner:
                i += 1
                continue
            end = next((k for k in range(i, len(self.words)) if k in self.owner), len(self.words))
            self._judge_gap(i, end)
            i = end
        self._keep_first_of_repeated()
        verdicts = tuple(self.verdicts[i] for i in range(len(self.words)))
        said = [w for w in verdicts if w.start is not None and w.end is not None]
        seconds = said[-1].end - said[0].start if said and said[-1].end and said[0].start is not None else 0.0
        speaking = sum(w.end - w.start for w in self._words_of_speech())
        return Run(verdicts, self._extras(), max(0.0, seconds), speaking)

    def _keep_first_of_repeated(self) -> None:
        """If a line has the same word twice in a row and it was said once, the second one is the dropped one.

        Nothing in the sound tells which one it was; this is how a prompter with the book takes it.
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

    def _words_of_speech(self) -> Sequence[HeardWord]:
        """The heard words from the first script word that was said to the last one."""
        taken = [v for v in self.verdicts.values() if v.start is not None]
        if not taken:
            return ()
        first = min(v.start for v in taken if v.start is not None)
        last = max(v.end for v in taken if v.end is not None)
        return [h for h in self.heard if h.start >= first - _SAME_TIME and h.end <= last + _SAME_TIME]

    def _verdict_of_hit(self, i: int, step: AlignmentStep) -> WordVerdict:
        """The verdict for a script word with a hit."""
        words = self.heard[step.heard_from : step.heard_to]
        sure = min(w.confidence for w in words)
        start, end = words[0].start, words[-1].end
        count = step.script_to - step.script_from
        if count > 1:  # one heard word for several script words: each gets an equal part of its time
            start, end = (start + (end - start) * (i - step.script_from + k) / count for k in (0, 1))
        verdict: Verdict = "said" if sure > TIE else "unsure"
        token = " ".join(self.places[i].spoken) or " ".join(w.word for w in words)
        told = f"it was heard here as written, with a confidence of {sure:.2f}"
        if verdict == "unsure":
            told += f"; up to {TIE:.2f} that is a tie between the script and something else"
        word = WordVerdict(i, self.words[i].text, verdict, token, start, end, sure)
        return decided(word, "alignment", told)

    def _judge_gap(self, begin: int, end: int) -> None:
        """Decide the script words [begin, end), which have no hit, by the words that were heard there."""
        low = self.owner[begin - 1].heard_to if begin else 0
        high = self.owner[end].heard_from if end < len(self.words) else len(self.heard)
        self._judge_in_place(begin, end, [h for h in range(low, high) if h in self.spare])

    def _judge_in_place(self, begin: int, end: int, inside: Sequence[int]) -> None:
        """Decide the script words [begin, end), in whose place the heard words `inside` (by index) are."""
        as_written = self._as_written(begin, end, inside)
        if as_written is not None:
            i, a, count = as_written
            self._judge_in_place(begin, i, inside[:a])
            for k in range(count):
                h, hit = inside[a + k], i + k
                self.spare.discard(h)
                self.stands[h] = hit
                step = AlignmentStep("hit", hit, hit + 1, h, h + 1)
                self.verdicts[hit] = self._verdict_of_hit(hit, step)
            self._judge_in_place(i + count, end, inside[a + count :])
            return
        short = self._contraction_in(begin, end, inside)
        if short is not None:
            i, j, a, b = short
            self._judge_in_place(begin, i, inside[:a])
            self._judge_changed(range(i, j), inside[a:b], is_contraction=j - i > 1 or b - a > 1)
            self._judge_in_place(j, end, inside[b:])
            return
        pairs = {
            begin + k: inside[a:b]
            for k, a, b in pair_by_sound(self.places[begin:end], [self.heard[h].word for h in inside])
        }
        for i in range(begin, end):
            if i in pairs:
                self._judge_changed(range(i, i + 1), pairs[i])
            else:
                gone = WordVerdict(i, self.words[i].text, "dropped", None, None, None, None)
                told = "between the words around it nothing was heard that could stand for it"
                if self._hesitates(i):
                    gone, told = replace(gone, verdict="unsure"), _HESITATION
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
        """Whether the script itself has a hesitation here, such as "um"."""
        return self.places[i].spoken[:1] != () and self.places[i].spoken[0] in FILLERS

    def _contraction_in(
        self, begin: int, end: int, inside: Sequence[int]
    ) -> tuple[int, int, int, int] | None:
        """The first script words [i, j) that were said as their contraction, or in full, in inside[a:b].

        Returns i, j, a and b; None if there are none.
        """
        for i in range(begin, end):
            for j in range(i + 1, min(i + _LONGEST_CONTRACTION, end) + 1):
                script = " ".join(token for w in self.words[i:j] for token in w.spoken[0])
                for a in range(len(inside)):
                    for b in range(a + 1, min(a + _LONGEST_CONTRACTION, len(inside)) + 1):
                        if contraction(script, " ".join(self.heard[h].word for h in inside[a:b])):
                            return i, j, a, b
        return None

    def _judge_changed(self, script: range, heard: Sequence[int], *, is_contraction: bool = False) -> None:
        """Decide script words in whose place these heard words are: "I'm" in the place of both "I" and "am".

        is_contraction: one is the contraction of the other, so that they never count as the same.
        """
        words = [self.heard[h] for h in heard]
        self.spare -= set(heard)
        self.stands.update(dict.fromkeys(heard, script.start))
        for i in script:
            self.verdicts[i] = self._verdict_of_changed(i, words, is_contraction=is_contraction)

    def _verdict_of_changed(self, i: int, words: Sequence[HeardWord], *, is_contraction: bool) -> WordVerdict:
        """The verdict for a script word in whose place these words were heard."""
        text = " ".join(w.word for w in words)
        sure = min(w.confidence for w in words)
        least = TIE if all(w.weighed for w in words) else _CHANGED_FROM
        verdict: Verdict = "changed" if sure >= least else "unsure"
        told = f"“{text}” was heard in its place, with a confidence of {sure:.2f}"
        if verdict == "unsure":
            told += f"; it takes {least:.2f} to call it changed"
        if self._hesitates(i):
            verdict, told = "unsure", f"“{text}” was heard in its place; {_HESITATION}"
        elif not self.places[i].known and not is_contraction:
            like = sound_likeness(self.places[i], text)
            told = (
                f"the recogniser does not know this word; “{text}” was heard, "
                f"and its likeness in sound is {like:.2f} of 1"
            )
            if like >= _UNKNOWN_SAID:
                verdict = "said"
            elif like >= _UNKNOWN_UNSURE or not self.places[i].forms:
                verdict = "unsure"
        word = WordVerdict(i, self.words[i].text, verdict, text, words[0].start, words[-1].end, sure)
        return decided(word, "alignment", told)

    def _extras(self) -> tuple[Extra, ...]:
        """The heard words that stand for no script word, each with the script word that was said next."""
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
        return tuple(_in_script_spelling(found[::-1], self.places))


def _in_script_spelling(extras: Sequence[Extra], places: Sequence[AlignedWord]) -> list[Extra]:
    """The extras, with the script's word for several words as which it is heard ("an mute" is "unmute").

    Only words outside the recogniser's vocabulary are heard as several. All the extras are in order.
    """
    word_heard_as = {
        form: " ".join(place.spoken)
        for place in places
        if not place.known
        for form in place.forms
        if len(form) > 1
    }
    sizes = sorted({len(form) for form in word_heard_as}, reverse=True)

    def tokens(group: Sequence[Extra]) -> tuple[str, ...]:
        return tuple(e.heard for e in group)

    def is_one_word(group: Sequence[Extra]) -> bool:
        return tokens(group) in word_heard_as and group[0].before_word == group[-1].before_word

    found: list[Extra] = []
    at = 0
    while at < len(extras):
        groups = (extras[at : at + size] for size in sizes)
        several = next(filter(is_one_word, groups), extras[at : at + 1])
        heard = word_heard_as.get(tokens(several), several[0].heard)
        sure = min(e.confidence for e in several)
        found.append(replace(several[0], heard=heard, end=several[-1].end, confidence=sure))
        at += len(several)
    return found


def _counting_hits(hits: Sequence[AlignmentStep]) -> list[AlignmentStep]:
    """The hits that count, in the order of the script: the last saying of each word.

    They must all be in order, so a word that was said out of its place does not count as said there; `notes`
    calls it moved. If somebody goes back and then breaks off, to stop or to go on from the farthest place
    they had reached, the words said before they went back count too. But if a later saying goes on, a word
    that it leaves out is dropped, even if it was said before.
    """
    last = {i: s for s in hits for i in range(s.script_from, s.script_to)}
    chosen = _longest_rising(
        [s for s in hits if any(last[i] is s for i in range(s.script_from, s.script_to))]
    )
    every = _longest_rising(hits)
    more = _script_words(every) >= _script_words(chosen) + _FEWER_IF_BROKEN_OFF
    return every if more and not _mixes_sayings(every, hits) else chosen


def _mixes_sayings(chain: Sequence[AlignmentStep], hits: Sequence[AlignmentStep]) -> bool:
    """Whether some hits of `chain` are of an earlier saying that had already gone past the next hit."""
    heard = [s.heard_from for s in hits]
    for before, after in pairwise(chain):
        between = hits[bisect_right(heard, before.heard_from) : bisect_left(heard, after.heard_from)]
        if any(s.script_to > after.script_from for s in between):
            return True
    return False


def _script_words(hits: Sequence[AlignmentStep]) -> int:
    """How many script words have these hits."""
    return sum(s.script_to - s.script_from for s in hits)


def _longest_rising(hits: Sequence[AlignmentStep]) -> list[AlignmentStep]:
    """Of hits in the order of hearing, those in the order of the script that have most words together.

    If several choices have as many words, the later hits are taken.
    """
    best: list[tuple[int, int, int]] = []  # rising: end in the script, words so far, index of the last hit
    before: list[int] = []
    beyond = _script_words(hits) + 1
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
    """A share of the words (0 to 1) for people: 97.1 %, or from `low` to `high` 95.9-97.1 %.

    Always rounded down, so that 97.96 % is never called 98 %.
    """
    a, b = _floor(low), _floor(low if high is None else high)
    return f"{b} %" if a == b else f"{a}–{b} %"


def chance_as_text(chance: float) -> str:
    """A chance (0 to 1) for people, rounded: 94 %."""
    return f"{round(PERCENT * chance)} %"


def _floor(share: float) -> str:
    """A share (0 to 1) in percent, rounded down to a tenth."""
    steps = int(share * (PERCENT * _STEPS_A_PERCENT) + _ROUNDING)
    return f"{steps / _STEPS_A_PERCENT:.{_PERCENT_DECIMALS}f}"
