"""The second ear on one segment: how likely its words are, and which other words might be there.

The second ear (`recognise.WordingScorer`) is given the text of a segment in passages of several seconds. The
text has the script's words where they were heard, and elsewhere what was heard, all of it as it is written.
After one look at a passage the second ear says of each word what else could be there, even where all hearings
of the first ear agree. Later it compares the wordings of each doubtful place.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from offbook.align import AlignedWord, AlignmentStep
from offbook.hear.decide import same, slice_of
from offbook.hear.written import written_form
from offbook.recognise import HeardWord, Passage, WordingScorer
from offbook.sampling import BYTES_PER_SECOND
from offbook.score import HeardLikelihood

# All set by hand. A lead is in natural log units, as `recognise.Rival` and `Passage.weigh` give them.
_PASSAGE_SECONDS = 8.0  # length of a passage's own words, at most about this
_BEFORE_SECONDS, _AFTER_SECONDS = 2.5, 1.2  # of words before and behind them that are taken in as a context
_MARGIN_SECONDS = 0.15  # of sound around a passage
# Sound before the first word of a segment that belongs to its first passage, and sound behind the last word
# that belongs to its last passage: the first ear may have made nothing of it.
_UNHEARD_SECONDS = 3.0
_MOST_FREE_WORDS = 8  # words that the second ear writes by itself for one place
_MOST_RIVALS = 4  # other words that are looked at for each word, by how likely their beginnings are
_TRIED_FROM_LEAD = -1.0  # a rival whose beginning leads by this much is tried as a whole word
_SUSPECTED_ABOVE_LEAD = 0.0  # a wording that leads by more than this makes the place doubtful


@dataclass(frozen=True, slots=True)
class WordUnit:
    """One unit of the text that the second ear is given, mostly a single word.

    text: its words as they are written. script, heard: the script words (numbers in the region) and the heard
    words that it stands for; script is empty where what was heard is not the script's.
    """

    text: tuple[str, ...]
    script: range
    heard: range


@dataclass(frozen=True, slots=True)
class Suspicion:
    """Another word that the second ear finds likelier at one unit of the text.

    word: the other word, "" where it finds it likelier that the unit was left out. inserted: whether the word
    comes before the unit instead of replacing it.
    """

    unit: WordUnit
    word: str
    inserted: bool

    def instead_of(self, text: str) -> str:
        """What would be heard in the place of the unit, where the unit itself would be heard as `text`."""
        return f"{self.word} {text}" if self.inserted else self.word


@dataclass(frozen=True, slots=True)
class _UnitsInPassage:
    """A passage and the units of the text that are in it.

    first: the number of its first unit. own: the units that it is there for; the others are its context.
    begins: at which word of the passage each unit begins, and behind the last one where it ends.
    """

    first: int
    own: range
    passage: Passage
    begins: tuple[int, ...]


def word_units(
    steps: Sequence[AlignmentStep], places: Sequence[AlignedWord], words: Sequence[HeardWord]
) -> list[WordUnit]:
    """The text of what was heard: the script's words as they are written, and the other heard words.

    steps: the alignment of the heard `words` with the script words `places`.
    """
    found = []
    for s in steps:
        if s.heard_from == s.heard_to:
            continue
        heard = range(s.heard_from, s.heard_to)
        if s.kind == "hit":
            text = tuple(w for p in places[s.script_from : s.script_to] for w in p.written)
            found.append(WordUnit(text, range(s.script_from, s.script_to), heard))
        else:
            text = tuple(written_form(words[h].word) for h in heard)
            found.append(WordUnit(text, range(s.script_from, s.script_from), heard))
    return found


class SecondEar:
    """The second ear on one segment.

    units: the text that is taken to be said in `sound` (16-bit mono); words: what was heard there, times in
    seconds from the beginning of the sound; own: which of these words the segment settles. Ranges of heard
    words are always numbers in `words`.
    """

    def __init__(
        self,
        scorer: WordingScorer,
        units: Sequence[WordUnit],
        words: Sequence[HeardWord],
        sound: bytes,
        own: range,
    ) -> None:
        self._scorer, self._units, self._words, self._sound = scorer, units, words, sound
        self._spellings = {w.lower(): w for u in units for w in u.text}
        self._passages = [self._passage_of(part) for part in self._parts(own)]

    def _parts(self, own: range) -> list[range]:
        """The units of the segment's own words, cut into parts of about the length of a passage."""
        units = [k for k, u in enumerate(self._units) if own.start <= u.heard.start < own.stop]
        found: list[list[int]] = []
        for k in units:
            if not found or self._end(k) - self._start(found[-1][0]) > _PASSAGE_SECONDS:
                found.append([])
            found[-1].append(k)
        return [range(p[0], p[-1] + 1) for p in found]

    def _start(self, unit: int) -> float:
        return self._words[self._units[unit].heard.start].start

    def _end(self, unit: int) -> float:
        return self._words[self._units[unit].heard.stop - 1].end

    def _passage_of(self, own: range) -> _UnitsInPassage:
        """The passage for these units of the text, with a context before and behind them."""
        first, stop = own.start, own.stop
        while first > 0 and self._start(own.start) - self._start(first - 1) <= _BEFORE_SECONDS:
            first -= 1
        while stop < len(self._units) and self._end(stop) - self._end(own.stop - 1) <= _AFTER_SECONDS:
            stop += 1
        texts = [self._units[k].text for k in range(first, stop)]
        begins = [0]
        for text in texts:
            begins.append(begins[-1] + len(text))
        words = [w for text in texts for w in text]
        start = max(0.0, self._start(first) - (_MARGIN_SECONDS if first else _UNHEARD_SECONDS))
        end = self._end(stop - 1) + _MARGIN_SECONDS
        if stop == len(self._units):
            end = max(end, min(len(self._sound) / BYTES_PER_SECOND, end + _UNHEARD_SECONDS))
        passage = self._scorer.follow(slice_of(self._sound, start, end), _as_a_beginning(words))
        return _UnitsInPassage(first, own, passage, tuple(begins))

    def suspicions(self, knows: Callable[[str], bool]) -> list[Suspicion]:
        """Where the second ear finds another wording likelier than the script's single word.

        knows: whether a word is in the recogniser's vocabulary; other words are not suspected.
        """
        found = []
        for part in self._passages:
            for k in part.own:
                unit = self._units[k]
                if len(unit.script) == len(unit.text) == 1:
                    suspicion = self._suspicion_of(part, k, knows)
                    if suspicion is not None:
                        found.append(suspicion)
        return found

    def _suspicion_of(
        self, part: _UnitsInPassage, unit: int, knows: Callable[[str], bool]
    ) -> Suspicion | None:
        """The likeliest other wording of a unit, if it is likelier than the script's word."""
        word = self._units[unit].text[0]
        at = part.begins[unit - part.first]
        tried: dict[tuple[str, bool], tuple[str, ...]] = {}  # by the other word, and whether it is inserted
        for rival in part.passage.rivals(at, _MOST_RIVALS):
            other = rival.word.lower()
            if rival.lead < _TRIED_FROM_LEAD or (other and not knows(other)) or same(other, word.lower()):
                continue
            tried[other, False] = tuple(filter(None, (self._written(other),)))
            if other:
                tried[other, True] = (self._written(other), word)
        if not tried:
            return None
        wordings = [(word,), *tried.values()]
        texts = [_as_a_beginning(w) if at == 0 else w for w in wordings]
        ours, *theirs = part.passage.weigh(at, at + 1, texts)
        lead, best = max(zip((s - ours for s in theirs), tried, strict=True))
        return Suspicion(self._units[unit], *best) if lead > _SUSPECTED_ABOVE_LEAD else None

    def weigh(self, heard: range, wordings: Mapping[str, Sequence[str]]) -> dict[str, float]:
        """The natural log probability of each wording in the place of the heard words, by its name.

        wordings: by name, each as it is written. Empty where no passage has the whole place.
        """
        found = self._passage_at(heard)
        if found is None:
            return {}
        passage, a, b = found
        texts = [_as_a_beginning(w) if a == 0 else w for w in wordings.values()]
        return dict(zip(wordings, passage.weigh(a, b, texts), strict=True))

    def free_wording(self, heard: range) -> str | None:
        """What the second ear would write by itself in the place of the heard words.

        None where it does not find back to the text behind them.
        """
        found = self._passage_at(heard)
        words = None if found is None else found[0].free_words(found[1], found[2], _MOST_FREE_WORDS)
        return None if words is None else " ".join(words)

    def likely_replacements(self, heard: range, words: Sequence[str]) -> list[tuple[int, str]]:
        """Other words that might be in the place of each of `words`, if these replaced the heard words.

        Gives pairs: which of `words` it is, and the other word ("" where that one might be left out).
        """
        found = self._passage_at(heard)
        if found is None:
            return []
        passage, a, b = found
        reworded = passage.reworded(a, b, _as_a_beginning(words) if a == 0 else words)
        return [
            (k, rival.word.lower())
            for k in range(len(words))
            for rival in reworded.rivals(a + k, _MOST_RIVALS)
            if rival.lead >= _TRIED_FROM_LEAD
        ]

    def _passage_at(self, heard: range) -> tuple[Passage, int, int] | None:
        """The passage that has the whole place of the heard words, and from where to where in its text.

        None where there is no such passage.
        """
        for part in self._passages:
            inside = [k for k, u in enumerate(self._units) if _within(u.heard, heard)]
            start = (
                inside[0]
                if inside
                else next(
                    (k for k, u in enumerate(self._units) if u.heard.start >= heard.start), len(self._units)
                )
            )
            stop = inside[-1] + 1 if inside else start
            if part.own.start <= start <= part.own.stop and stop - part.first < len(part.begins):
                return part.passage, part.begins[start - part.first], part.begins[stop - part.first]
        return None

    def _written(self, word: str) -> str:
        """A heard word as the text of this segment writes it, with its capitals."""
        return self._spellings.get(word, written_form(word)) if word else ""

    def written_wording(self, wording: str) -> tuple[str, ...]:
        """The words of a heard wording as the text of this segment writes them."""
        return tuple(self._written(w) for w in wording.split())

    def certainties(self, own: range, at: float) -> list[HeardLikelihood]:
        """How likely the second ear finds each unit of the text within the heard words `own`.

        at: where the sound begins in the recording (s). The times given are seconds in the recording.
        """
        found = []
        for part in self._passages:
            sure = part.passage.log_probabilities
            for k in part.own:
                if _within(self._units[k].heard, own):
                    a, b = part.begins[k - part.first : k - part.first + 2]
                    heard = self._units[k].heard
                    start, end = self._words[heard.start].start, self._words[heard.stop - 1].end
                    found.append(HeardLikelihood(at + start, at + end, sum(sure[a:b])))
        return found


def _within(inner: range, outer: range) -> bool:
    return outer.start <= inner.start and inner.stop <= outer.stop


def _as_a_beginning(words: Sequence[str]) -> list[str]:
    """The words with a capital for the first one, because a sentence begins with them."""
    return [w[:1].upper() + w[1:] if k == 0 else w for k, w in enumerate(words)]
