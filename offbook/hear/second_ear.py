"""The second ear along a stretch: how likely the settled wording is, and what else might be there.

The second ear (`recognise.WordingScorer`) is given the words of a stretch as they are written, the script's
where they were heard and what was heard where they were not, in passages of several seconds. After one
look at a passage it says of each word what could be there instead, even where all hearings of the first ear
agree; then it compares the wordings of a doubtful place.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from offbook.align import AlignedWord, AlignmentStep
from offbook.hear.decide import same, slice_of
from offbook.hear.written import in_writing
from offbook.recognise import HeardWord, Passage, WordingScorer
from offbook.sampling import BYTES_PER_SECOND
from offbook.score import Surely

_LONG = 8.0  # s of a passage's own words at most, about
_BEFORE, _AFTER = 2.5, 1.2  # s of words before and behind them that are taken in as well
_MARGIN = 0.15  # s of sound around a passage
# s of sound before the first word of a stretch that belong to its first passage, and behind the last word to
# its last: what the first ear made nothing of.
_UNHEARD = 3.0
_FREE_WORDS = 8  # words at most that the second ear writes by itself for one place
_LOOKED_AT = 4  # beginnings of other words that are looked at for each word
_NEAR = -1.0  # lead of a beginning from which the whole word is tried
_DOUBT = 0.0  # lead of a whole wording from which it is a doubt


@dataclass(frozen=True, slots=True)
class WordUnit:
    """A word of the text: as it is written, the script words and the heard ones it stands for."""

    text: tuple[str, ...]
    script: range
    heard: range


@dataclass(frozen=True, slots=True)
class Suspicion:
    """Another word that the second ear would rather have, in the place of one unit of the text or before it.

    word: "" where it would rather have none.
    """

    unit: WordUnit
    word: str
    put_in: bool

    def instead_of(self, text: str) -> str:
        """What would be heard in the place of the unit, where that is heard as `text`."""
        return f"{self.word} {text}" if self.put_in else self.word


@dataclass(frozen=True, slots=True)
class _Piece:
    """A passage: its first unit, the units that are its own, and where each unit's words begin."""

    first: int
    own: range
    passage: Passage
    begins: tuple[int, ...]


def word_units(
    steps: Sequence[AlignmentStep], places: Sequence[AlignedWord], words: Sequence[HeardWord]
) -> list[WordUnit]:
    """The text of what was heard, the script's words as they are written."""
    found = []
    for s in steps:
        if s.heard_from == s.heard_to:
            continue
        heard = range(s.heard_from, s.heard_to)
        if s.kind == "hit":
            text = tuple(w for p in places[s.script_from : s.script_to] for w in p.written)
            found.append(WordUnit(text, range(s.script_from, s.script_to), heard))
        else:
            text = tuple(in_writing(words[h].word) for h in heard)
            found.append(WordUnit(text, range(s.script_from, s.script_from), heard))
    return found


class SecondEar:
    """The second ear on one stretch: the text `units` in `sound`, whose word times are those of `words`."""

    def __init__(
        self,
        scorer: WordingScorer,
        units: Sequence[WordUnit],
        words: Sequence[HeardWord],
        sound: bytes,
        own: range,
    ) -> None:
        self._scorer, self._units, self._words, self._sound = scorer, units, words, sound
        self._names = {w.lower(): w for u in units for w in u.text}
        self._pieces = [self._piece(part) for part in self._parts(own)]

    def _parts(self, own: range) -> list[range]:
        """The units of the stretch's own heard words, cut into passages."""
        units = [k for k, u in enumerate(self._units) if own.start <= u.heard.start < own.stop]
        found: list[list[int]] = []
        for k in units:
            if not found or self._end(k) - self._start(found[-1][0]) > _LONG:
                found.append([])
            found[-1].append(k)
        return [range(p[0], p[-1] + 1) for p in found]

    def _start(self, unit: int) -> float:
        return self._words[self._units[unit].heard.start].start

    def _end(self, unit: int) -> float:
        return self._words[self._units[unit].heard.stop - 1].end

    def _piece(self, own: range) -> _Piece:
        first, stop = own.start, own.stop
        while first > 0 and self._start(own.start) - self._start(first - 1) <= _BEFORE:
            first -= 1
        while stop < len(self._units) and self._end(stop) - self._end(own.stop - 1) <= _AFTER:
            stop += 1
        texts = [self._units[k].text for k in range(first, stop)]
        begins = [0]
        for text in texts:
            begins.append(begins[-1] + len(text))
        words = [w for text in texts for w in text]
        start = max(0.0, self._start(first) - (_MARGIN if first else _UNHEARD))
        end = self._end(stop - 1) + _MARGIN
        if stop == len(self._units):  # what the first ear made nothing of is heard along
            end = max(end, min(len(self._sound) / BYTES_PER_SECOND, end + _UNHEARD))
        passage = self._scorer.follow(slice_of(self._sound, start, end), _begun(words))
        return _Piece(first, own, passage, tuple(begins))

    def suspicions(self, knows: Callable[[str], bool]) -> list[Suspicion]:
        """Where another wording than the script's is likelier to the second ear."""
        found = []
        for piece in self._pieces:
            for k in piece.own:
                unit = self._units[k]
                if len(unit.script) == len(unit.text) == 1:
                    suspicion = self._likelier(piece, k, knows)
                    if suspicion is not None:
                        found.append(suspicion)
        return found

    def _likelier(self, piece: _Piece, unit: int, knows: Callable[[str], bool]) -> Suspicion | None:
        word = self._units[unit].text[0]
        at = piece.begins[unit - piece.first]
        tried: dict[tuple[str, bool], tuple[str, ...]] = {}  # by the other word, and whether it is put in
        for rival in piece.passage.rivals(at, _LOOKED_AT):
            other = rival.word.lower()
            if rival.lead < _NEAR or (other and not knows(other)) or same(other, word.lower()):
                continue
            tried[other, False] = tuple(filter(None, (self._written(other),)))
            if other:
                tried[other, True] = (self._written(other), word)
        if not tried:
            return None
        wordings = [(word,), *tried.values()]
        ours, *theirs = piece.passage.weigh(at, at + 1, [_begun(w) if at == 0 else w for w in wordings])
        lead, best = max(zip((s - ours for s in theirs), tried, strict=True))
        return Suspicion(self._units[unit], *best) if lead > _DOUBT else None

    def weigh(self, heard: range, wordings: Mapping[str, Sequence[str]]) -> dict[str, float]:
        """The log probability of each wording in the place of the heard words; empty where none is told.

        wordings: by name, each as it is written.
        """
        found = self._found(heard)
        if found is None:
            return {}
        passage, a, b = found
        texts = [_begun(w) if a == 0 else w for w in wordings.values()]
        return dict(zip(wordings, passage.weigh(a, b, texts), strict=True))

    def freely(self, heard: range) -> str | None:
        """What the second ear would write by itself for the heard words; None where it gets lost."""
        found = self._found(heard)
        words = None if found is None else found[0].freely(found[1], found[2], _FREE_WORDS)
        return None if words is None else " ".join(words)

    def rather(self, heard: range, words: Sequence[str]) -> list[tuple[int, str]]:
        """With `words` in the place of the heard ones: which other word might stand for each of them."""
        found = self._found(heard)
        if found is None:
            return []
        passage, a, b = found
        reworded = passage.reworded(a, b, _begun(words) if a == 0 else words)
        return [
            (k, rival.word.lower())
            for k in range(len(words))
            for rival in reworded.rivals(a + k, _LOOKED_AT)
            if rival.lead >= _NEAR
        ]

    def _found(self, heard: range) -> tuple[Passage, int, int] | None:
        """The passage in which the place of the heard words is whole, and the words of its text there."""
        for piece in self._pieces:
            inside = [k for k, u in enumerate(self._units) if _within(u.heard, heard)]
            start = (
                inside[0]
                if inside
                else next(
                    (k for k, u in enumerate(self._units) if u.heard.start >= heard.start), len(self._units)
                )
            )
            stop = inside[-1] + 1 if inside else start
            if piece.own.start <= start <= piece.own.stop and stop - piece.first < len(piece.begins):
                return piece.passage, piece.begins[start - piece.first], piece.begins[stop - piece.first]
        return None

    def _written(self, word: str) -> str:
        return self._names.get(word, in_writing(word)) if word else ""

    def in_writing(self, wording: str) -> tuple[str, ...]:
        """A heard wording as it would be written here."""
        return tuple(self._written(w) for w in wording.split())

    def sure(self, own: range, at: float) -> list[Surely]:
        """How likely each word of the text within the heard words `own` is. at: where the sound begins."""
        found = []
        for piece in self._pieces:
            sure = piece.passage.sure
            for k in piece.own:
                if _within(self._units[k].heard, own):
                    a, b = piece.begins[k - piece.first : k - piece.first + 2]
                    heard = self._units[k].heard
                    start, end = self._words[heard.start].start, self._words[heard.stop - 1].end
                    found.append(Surely(at + start, at + end, sum(sure[a:b])))
        return found


def _within(inner: range, outer: range) -> bool:
    return outer.start <= inner.start and inner.stop <= outer.stop


def _begun(words: Sequence[str]) -> list[str]:
    """Words as a sentence begins: with a capital."""
    return [w[:1].upper() + w[1:] if k == 0 else w for k, w in enumerate(words)]
