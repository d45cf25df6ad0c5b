"""Alignment: which heard word stands for which script word.

A weighted dynamic programme over the heard words against every place of the script. A heard word may
be the script word itself (hit: the same word, a homophone, a form it is known to be heard as, two words
written as one), another word in its place (substitution), or one that stands for none (insertion); a
script word may be left out (deletion); and the speaker may jump, back to say something again or ahead.
Three leanings settle what plain edit distance leaves to chance: words in unbroken runs belong together, so
that a refrain does not slide; a run of words left out begins at a line's beginning more easily than inside
one; and of two places the one whose sound is nearer takes the substitution.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from offbook.recognise import HeardWord
from offbook.soundalike import alike, same_sound, sound_keys

# What hesitation is heard as. It stands for no script word that merely sounds like it: "uh" is not "a".
FILLERS = frozenset(
    ["um", "umm", "uhm", "uh", "uhh", "er", "err", "erm", "ehm", "hm", "hmm", "mm", "mmm", "mhm", "huh"]
)

Form = tuple[str, ...]
Kind = Literal["hit", "substitution", "deletion", "insertion"]

# Costs, in units of one substitution of unlike words; set on planted slips, see docs/hearing_steps.md.
_SUBSTITUTION = 1.0
_DELETION = 0.55
_INSERTION = 0.6
_OPEN = 0.25  # leaving an unbroken run of hits
_OPEN_AT_LINE = 0.10  # the same where a line begins
_OPEN_AT_STANZA = 0.08  # and where a stanza, a paragraph or a speech does
_ENTER = 0.02  # beginning a run after a gap: of two like places, the one that goes on from the last word
_JUMP = 2.4  # going on at another place of the script
_ASTRAY = 0.01  # for each word that a part begins away from where it is expected, up to _ASTRAY_MOST
_ASTRAY_MOST = 1.0
_BACK = 0.0005  # for each word jumped over, so that of two like places the nearer is taken
_LONGEST = 4  # heard words that may stand for one script word, or script words for one heard word
_LONGEST_FORM = 16  # the same where it is a number, said in so many words: two thousand and twenty four


@dataclass(frozen=True, slots=True)
class AlignedWord:
    """One script word as the alignment sees it.

    forms: the ways it may be heard, each a string of words, the likeliest first; none where nothing the
    recogniser knows comes near. opens: it begins a line; starts: a stanza, a paragraph or a speech. spoken:
    how it is said; known: all of that is in the recogniser's vocabulary. written: how it is written within a
    sentence, in words where it is a number.
    """

    forms: tuple[Form, ...]
    opens: bool = False
    spoken: Form = ()
    known: bool = True
    starts: bool = False
    written: Form = ()

    @property
    def text(self) -> str:
        """The likeliest form, its words joined by spaces."""
        return " ".join(self.forms[0]) if self.forms else ""


@dataclass(frozen=True, slots=True)
class AlignmentStep:
    """One step of an alignment: script words [script_from, script_to), heard words [heard_from, heard_to).

    A hit may cover several words on either side; an insertion covers no script word, a deletion no
    heard one. Steps follow the heard words; where the speaker jumps, script_from need not rise.
    """

    kind: Kind
    script_from: int
    script_to: int
    heard_from: int
    heard_to: int


@dataclass(frozen=True, slots=True)
class Alignment:
    """An alignment of `heard` with the places of the script, and what it cost."""

    steps: tuple[AlignmentStep, ...]
    cost: float

    @property
    def hits(self) -> list[AlignmentStep]:
        """The steps that are hits, in order."""
        return [s for s in self.steps if s.kind == "hit"]

    def is_unbroken(self, heard: int) -> bool:
        """Whether `heard` words, all that were aligned, are the script's, one after the other."""
        hits = self.hits
        if not hits:
            return heard == 0
        ends = [(0, hits[0].script_from), *((s.heard_to, s.script_to) for s in hits)]
        starts = [*((s.heard_from, s.script_from) for s in hits), (heard, hits[-1].script_to)]
        return starts == ends


@dataclass(slots=True)
class Finder:
    """Where in the script a heard word, or a run of heard words, is a hit."""

    places: Sequence[AlignedWord]
    exact: dict[Form, list[tuple[int, int]]] = field(default_factory=dict)
    words: list[str] = field(default_factory=list)
    sound_of: dict[str, list[tuple[int, int]]] = field(default_factory=dict)
    longest: int = 1

    def __post_init__(self) -> None:
        vocabulary: dict[str, list[tuple[int, int]]] = {}
        for i, place in enumerate(self.places):
            for form in place.forms:
                self._note(form, i, i + 1)
                squeezed = "".join(form).replace("'", "").replace("-", "")
                self._note((squeezed,), i, i + 1)
                if len(form) == 1:
                    vocabulary.setdefault(form[0], []).append((i, i + 1))
        for i in range(len(self.places)):
            joined = ""
            for j in range(i, min(i + 3, len(self.places))):
                if not self.places[j].forms:
                    break
                joined += "".join(self.places[j].forms[0])
                if j > i:
                    self._note((joined,), i, j + 1)
        self.words = list(vocabulary)
        self.longest = max((len(form) for place in self.places for form in place.forms), default=1)
        self._vocabulary = vocabulary
        for word in vocabulary:
            for key in sound_keys(word):
                self._by_sound.setdefault(key, []).append(word)

    _vocabulary: dict[str, list[tuple[int, int]]] = field(default_factory=dict)
    _by_sound: dict[object, list[str]] = field(default_factory=dict)

    def _note(self, form: Form, start: int, end: int) -> None:
        spots = self.exact.setdefault(form, [])
        if (start, end) not in spots:
            spots.append((start, end))

    def _hesitations(self) -> list[tuple[int, int]]:
        """Where the script itself has an "um" or an "er": any hesitation says it."""
        return [(i, i + 1) for i, p in enumerate(self.places) if p.spoken[:1] and p.spoken[0] in FILLERS]

    def _sounding(self, word: str) -> list[tuple[int, int]]:
        near = {w for key in sound_keys(word) for w in self._by_sound.get(key, ())}
        return [
            spot for w in sorted(near) if w != word and same_sound(word, w) for spot in self._vocabulary[w]
        ]

    def hits(self, heard: Form) -> list[tuple[int, int]]:
        """Script spans that `heard` is a hit for, ends exclusive."""
        found = list(self.exact.get(heard, ()))
        if len(heard) == 1:
            word = heard[0]
            if word not in self.sound_of:
                self.sound_of[word] = self._hesitations() if word in FILLERS else self._sounding(word)
            found += self.sound_of[word]
        else:
            # for one script word only: "we're all" is not "were all"
            whole = self.exact.get(("".join(heard).replace("'", ""),), ())
            found += [(start, end) for start, end in whole if end == start + 1]
        return list(dict.fromkeys(found))


@lru_cache(maxsize=4)
def finder_of(places: tuple[AlignedWord, ...]) -> Finder:
    """Kept, because a stretch is aligned with the same places several times over."""
    return Finder(places)


def _leaving_before(place: AlignedWord) -> float:
    """What it costs to leave an unbroken run of hits before a place."""
    return _OPEN_AT_STANZA if place.starts else _OPEN_AT_LINE if place.opens else _OPEN


_FAR = 1e9
# How a cell of the gap layer was reached; _RUN_IS_BEST is added where the run layer is no dearer.
_LEFT_RUN, _SUBSTITUTED, _INSERTED, _DELETED, _JUMPED = range(5)
_RUN_IS_BEST = 8


def align(places: Sequence[AlignedWord], heard: Sequence[HeardWord] | Sequence[str]) -> Alignment:
    """The cheapest alignment of `heard` with `places`, the whole script from its first word to its last."""
    return Programme(places, _texts(heard), None).solve()


def align_part(
    places: Sequence[AlignedWord], heard: Sequence[HeardWord] | Sequence[str], expected: int = 0
) -> Alignment:
    """The cheapest alignment of `heard` with some part of `places`: what lies around it costs nothing.

    expected: the place where it should begin; beginning elsewhere costs a little.
    """
    return Programme(places, _texts(heard), expected).solve()


def _texts(heard: Sequence[HeardWord] | Sequence[str]) -> list[str]:
    return [h if isinstance(h, str) else h.word for h in heard]


class Programme:
    """The dynamic programme: rows are heard words taken in, columns script words gone by.

    Two layers: `run` ends in a hit, `gap` does not. Leaving a run costs, so gaps are few. Costs are kept
    for the last rows only; of every cell one byte is kept, how it was reached, and of every hit where it
    began, so that an hour of speech needs tens of megabytes. `words` may grow while they are taken in.
    """

    def __init__(self, places: Sequence[AlignedWord], words: Sequence[str], expected: int | None) -> None:
        self.places, self.words, self.part = places, words, expected is not None
        size = len(places) + 1
        self.size = size
        self.finder = finder_of(tuple(places))
        self.longest = min(_LONGEST_FORM, max(_LONGEST, self.finder.longest))
        self.opens = np.array([*map(_leaving_before, places), _OPEN])
        self.ramp = _DELETION * np.arange(size)
        run, gap = np.full(size, _FAR), np.full(size, _FAR)
        run[0] = 0.0
        if expected is not None:
            run = np.minimum(np.abs(np.arange(size) - expected) * _ASTRAY, _ASTRAY_MOST)
        self.run, self.gap = [run], [gap]  # the last rows, oldest first
        # for each row its hits: where they end in the script, where they begin, how many heard words they are
        self.run_from: list[NDArray[np.int32]] = [np.zeros((0, 3), np.int32)]
        self.moves: list[NDArray[np.int8]] = [np.zeros(size, np.int8)]
        self.jump_from: list[int] = [0]
        self._leave_out()

    def solve(self) -> Alignment:
        """Every word taken in, and the way back."""
        for j in range(1, len(self.words) + 1):
            self.take(j)
        return self.back()

    def _leave_out(self) -> None:
        """Finish the newest row: out of runs, jumps, then deletions along the script."""
        run, gap, move = self.run[-1], self.gap[-1], self.moves[-1]
        left = run + self.opens
        better = left < gap
        gap[better], move[better] = left[better], _LEFT_RUN
        if len(self.moves) > 1 or not self.part:
            best = int(np.argmin(gap))
            landed = gap[best] + _JUMP + self.opens + _BACK * np.abs(np.arange(self.size) - best)
            better = landed < gap
            better[best] = False
            gap[better], move[better] = landed[better], _JUMPED
            self.jump_from[-1] = best
        # deletions: from the cheapest place before, at so much a word
        reached = np.minimum.accumulate(gap - self.ramp) + self.ramp
        better = reached < gap - 1e-9
        gap[better], move[better] = reached[better], _DELETED
        move[run <= gap + _ENTER] += _RUN_IS_BEST

    def take(self, j: int) -> None:
        """Row j: the j-th heard word taken in, as hit, substitution or insertion."""
        run, before = np.full(self.size, _FAR), self.gap[-1]
        gap, move = before + _INSERTION, np.full(self.size, _INSERTED, np.int8)
        swapped = before[:-1] + _SUBSTITUTION
        better = swapped < gap[1:]
        gap[1:][better], move[1:][better] = swapped[better], _SUBSTITUTED
        origins: dict[int, tuple[int, int]] = {}
        for k in range(1, min(self.longest, j) + 1):
            for start, end in self.finder.hits(tuple(self.words[j - k : j])):
                cost = min(self.run[-k][start], self.gap[-k][start] + _ENTER)
                if cost < run[end]:
                    run[end] = cost
                    origins[end] = (start, k)
        self.run = [*self.run[-self.longest + 1 :], run]
        self.gap = [*self.gap[-self.longest + 1 :], gap]
        rows = [(end, *origins[end]) for end in sorted(origins)]
        self.run_from.append(np.array(rows, np.int32).reshape(-1, 3))
        self.moves.append(move)
        self.jump_from.append(0)
        self._leave_out()

    def _run_is_best(self, j: int, i: int) -> bool:
        return bool(self.moves[j][i] >= _RUN_IS_BEST)

    def back(self) -> Alignment:
        """The cheapest way through all the words taken in so far."""
        last = np.minimum(self.run[-1], self.gap[-1])
        j, i = len(self.words), int(np.argmin(last)) if self.part else len(self.places)
        cost, in_run = float(last[i]), bool(self.run[-1][i] <= self.gap[-1][i])
        steps: list[AlignmentStep] = []
        while j > 0 or (i > 0 and not self.part):
            if in_run and j == 0:
                break
            move = int(self.moves[j][i]) % _RUN_IS_BEST
            if in_run:
                hits = self.run_from[j]
                _, start, taken = map(int, hits[np.searchsorted(hits[:, 0], i)])
                k = j - taken
                steps.append(AlignmentStep("hit", start, i, k, j))
                j, i, in_run = k, start, self._run_is_best(k, start)
            elif move == _LEFT_RUN:
                in_run = True
            elif move == _DELETED:
                steps.append(AlignmentStep("deletion", i - 1, i, j, j))
                i -= 1
            elif move == _JUMPED:
                i = self.jump_from[j]
            elif move == _SUBSTITUTED:
                steps.append(AlignmentStep("substitution", i - 1, i, j - 1, j))
                i, j = i - 1, j - 1
            else:
                steps.append(AlignmentStep("insertion", i, i, j - 1, j))
                j -= 1
        return Alignment(tuple(reversed(steps)), cost)


def covered(alignment: Alignment) -> Mapping[int, AlignmentStep]:
    """For each script word that was hit, the last step that hit it (a correction counts as said)."""
    return {i: s for s in alignment.hits for i in range(s.script_from, s.script_to)}


def nearest(place: AlignedWord, heard: str) -> float:
    """How alike a script word and heard words sound, 0 to 1."""
    ways = [*place.forms, *((place.spoken,) if place.spoken else ())]
    return max((alike(" ".join(form), heard) for form in ways), default=0.0)
