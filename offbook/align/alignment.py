"""Alignment: which heard word stands for which script word.

A weighted dynamic programme of the heard words against every place of the script. A heard word may be the
script word itself (a hit: the same word, a homophone, a form as which it is known to be heard, or two words
that are written as one or sound like one, as "all right" and "alright"), another word in its place (a
substitution), or a word that stands for none (an insertion). A script word may be left out (a deletion). And
the speaker may jump, back to say something again, or ahead.
Three preferences decide what plain edit distance leaves to chance: words in unbroken runs belong together, so
that a refrain is found in the right place; words are more likely left out from the beginning of a line than
from inside one; and of two places, a substitution belongs to the one that sounds more like it.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from offbook.recognise import HeardWord
from offbook.soundalike import alike, same_sound, sound_keys
from offbook.soundalike import joined as joined_sounds

# Words as which hesitation is heard. They never stand for a script word that only sounds alike: "uh" is not
# "a".
FILLERS = frozenset(
    ["um", "umm", "uhm", "uh", "uhh", "er", "err", "erm", "ehm", "hm", "hmm", "mm", "mmm", "mhm", "huh"]
)

Form = tuple[str, ...]
Kind = Literal["hit", "substitution", "deletion", "insertion"]

# Costs, in units of one substitution; set on planted slips, see docs/hearing_steps.md.
_SUBSTITUTION = 1.0
_DELETION = 0.55
_INSERTION = 0.6
_LEAVE = 0.25  # to leave an unbroken run of hits
_LEAVE_AT_LINE = 0.10  # the same at the beginning of a line
_LEAVE_AT_STANZA = 0.08  # the same at the beginning of a stanza, a paragraph or a speech
_ENTER = 0.02  # to begin a run after a gap, so that of two equal places the one without a gap is taken
_JUMP = 2.4  # to go on at another place of the script
_OFF_EXPECTED = 0.01  # for each word between where a part begins and where it is expected to begin
_OFF_EXPECTED_MOST = 1.0  # and the most for all of these words
# For each word that is jumped over, so that of two equal places the nearer one is taken.
_JUMPED_OVER = 0.0005
_LONGEST = 4  # heard words that may stand for one script word; set by hand
_LONGEST_FORM = 16  # the same for a number in many words (two thousand and twenty four); set by hand
_MOST_JOINED = 3  # script words that may be heard as one; set by hand
_FINDERS_KEPT = 4  # of the scripts that were aligned last; set by hand
_ROUNDING = 1e-9  # a cost must be lower by more than this to be lower, whatever the rounding


@dataclass(frozen=True, slots=True)
class AlignedWord:
    """One script word, as the alignment needs it.

    forms: the ways in which it may be heard, each as its words, the likeliest first; empty if the recogniser
    knows nothing that sounds like it. opens: whether it begins a line. spoken: how it is said. known: whether
    all of that is in the recogniser's vocabulary. starts: whether it begins a stanza, a paragraph or a
    speech. written: how it is written within a sentence; a number is written in words.
    """

    forms: tuple[Form, ...]
    opens: bool = False
    spoken: Form = ()
    known: bool = True
    starts: bool = False
    written: Form = ()

    @property
    def text(self) -> str:
        """The likeliest form, with spaces between its words; empty if there is none."""
        return " ".join(self.forms[0]) if self.forms else ""


@dataclass(frozen=True, slots=True)
class AlignmentStep:
    """One step of an alignment: script words [script_from, script_to) and heard words [heard_from, heard_to).

    A hit may have several words on either side. An insertion has no script word, and a deletion has no heard
    word. Steps are in the order of the heard words. If the speaker jumps, script_from need not rise.
    """

    kind: Kind
    script_from: int
    script_to: int
    heard_from: int
    heard_to: int


@dataclass(frozen=True, slots=True)
class Alignment:
    """An alignment of heard words with the places of the script, and its cost."""

    steps: tuple[AlignmentStep, ...]
    cost: float

    @property
    def hits(self) -> list[AlignmentStep]:
        """The steps that are hits, in order."""
        return [s for s in self.steps if s.kind == "hit"]

    def is_unbroken(self, heard: int) -> bool:
        """Whether all the aligned words are hits, for script words that follow one another.

        heard: how many words were aligned.
        """
        hits = self.hits
        if not hits:
            return heard == 0
        ends = [(0, hits[0].script_from), *((s.heard_to, s.script_to) for s in hits)]
        starts = [*((s.heard_from, s.script_from) for s in hits), (heard, hits[-1].script_to)]
        return starts == ends


@dataclass(slots=True)
class Finder:
    """Finds where in the script a heard word, or several in a row, are a hit."""

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
            for j in range(i, min(i + _MOST_JOINED, len(self.places))):
                if not self.places[j].forms:
                    break
                joined += "".join(self.places[j].forms[0])
                if j > i:
                    self._note((joined,), i, j + 1)
        for i, (place, after) in enumerate(itertools.pairwise(self.places)):
            if len(place.spoken) == len(after.spoken) == 1:
                for way in joined_sounds(f"{place.spoken[0]} {after.spoken[0]}")[:1]:
                    self._pairs_by_sound.setdefault(way, []).append((i, i + 2))
        self.words = list(vocabulary)
        self.longest = max((len(form) for place in self.places for form in place.forms), default=1)
        self._vocabulary = vocabulary
        for word in vocabulary:
            for key in sound_keys(word):
                self._by_sound.setdefault(key, []).append(word)

    _vocabulary: dict[str, list[tuple[int, int]]] = field(default_factory=dict)
    _by_sound: dict[object, list[str]] = field(default_factory=dict)
    # Two script words in a row by how they sound together, in the likeliest way to say each.
    _pairs_by_sound: dict[tuple[str, ...], list[tuple[int, int]]] = field(default_factory=dict)

    def _note(self, form: Form, start: int, end: int) -> None:
        """Remember that these heard words are a hit for the script words [start, end)."""
        spots = self.exact.setdefault(form, [])
        if (start, end) not in spots:
            spots.append((start, end))

    def _hesitations(self) -> list[tuple[int, int]]:
        """The places where the script itself has an "um" or an "er": any hesitation is a hit there."""
        return [(i, i + 1) for i, p in enumerate(self.places) if p.spoken[:1] and p.spoken[0] in FILLERS]

    def _homophones(self, word: str) -> list[tuple[int, int]]:
        """The places whose word sounds the same as this other word."""
        near = {w for key in sound_keys(word) for w in self._by_sound.get(key, ())}
        return [
            spot for w in sorted(near) if w != word and same_sound(word, w) for spot in self._vocabulary[w]
        ]

    def hits(self, heard: Form) -> list[tuple[int, int]]:
        """The spans of script words, ends exclusive, for which these heard words are a hit."""
        found = list(self.exact.get(heard, ()))
        if len(heard) == 1:
            word = heard[0]
            if word not in self.sound_of:
                if word in FILLERS:
                    self.sound_of[word] = self._hesitations()
                else:
                    pairs = (self._pairs_by_sound.get(way, ()) for way in joined_sounds(word)[:1])
                    self.sound_of[word] = [*self._homophones(word), *itertools.chain(*pairs)]
            found += self.sound_of[word]
        else:
            # Several heard words may be one script word, but "we're all" is not "were all".
            whole = self.exact.get(("".join(heard).replace("'", ""),), ())
            found += [(start, end) for start, end in whole if end == start + 1]
        return list(dict.fromkeys(found))


@lru_cache(maxsize=_FINDERS_KEPT)
def finder_of(places: tuple[AlignedWord, ...]) -> Finder:
    """The finder for these places. It is kept, because several alignments are made with the same places."""
    return Finder(places)


def _leaving_cost(place: AlignedWord) -> float:
    """What it costs to leave an unbroken run of hits before a place."""
    return _LEAVE_AT_STANZA if place.starts else _LEAVE_AT_LINE if place.opens else _LEAVE


_UNREACHED = 1e9  # a cost above any that occurs
# How a cell of the gap layer was reached. _RUN_IS_BEST is added to it if the run layer costs no more.
_LEFT_RUN, _SUBSTITUTED, _INSERTED, _DELETED, _JUMPED = range(5)
_RUN_IS_BEST = 8
_HIT_NUMBERS = 3  # that are kept of each hit


def align(places: Sequence[AlignedWord], heard: Sequence[HeardWord] | Sequence[str]) -> Alignment:
    """The cheapest alignment of `heard` with all of `places`, from the script's first word to its last."""
    return AlignmentProgramme(places, _texts(heard), None).solve()


def align_part(
    places: Sequence[AlignedWord], heard: Sequence[HeardWord] | Sequence[str], expected: int = 0
) -> Alignment:
    """The cheapest alignment of `heard` with any part of `places`; the words around that part cost nothing.

    expected: the place where the part should begin. To begin elsewhere costs a little.
    """
    return AlignmentProgramme(places, _texts(heard), expected).solve()


def _texts(heard: Sequence[HeardWord] | Sequence[str]) -> list[str]:
    """The heard words without their times."""
    return [h if isinstance(h, str) else h.word for h in heard]


class AlignmentProgramme:
    """The dynamic programme: a row for each heard word so far, a column for each script word so far.

    It has two layers: a way in `run` ends in a hit, and a way in `gap` does not. Leaving a run costs
    something, so that there are few gaps. Costs are only kept for the last rows. For every cell one byte says
    how it was reached, and for every hit it is kept where it began, so that an hour of speech needs tens of
    megabytes.

    places: of the script. words: the heard words; the list may grow later. expected: where a part of the
    script should begin; None for the whole script.
    """

    def __init__(self, places: Sequence[AlignedWord], words: Sequence[str], expected: int | None) -> None:
        self.places, self.words, self.part = places, words, expected is not None
        size = len(places) + 1
        self.size = size
        self.finder = finder_of(tuple(places))
        self.longest = min(_LONGEST_FORM, max(_LONGEST, self.finder.longest))
        self.leaving = np.array([*map(_leaving_cost, places), _LEAVE])
        self.deleting = _DELETION * np.arange(size)  # all script words before each column
        run, gap = np.full(size, _UNREACHED), np.full(size, _UNREACHED)
        run[0] = 0.0
        if expected is not None:
            run = np.minimum(np.abs(np.arange(size) - expected) * _OFF_EXPECTED, _OFF_EXPECTED_MOST)
        self.run, self.gap = [run], [gap]  # the last rows, the oldest first
        # The hits of each row: where each ends in the script, where it begins, and its number of heard words.
        self.run_from: list[NDArray[np.int32]] = [_as_rows([])]
        self.moves: list[NDArray[np.int8]] = [np.zeros(size, np.int8)]
        self.jump_from: list[int] = [0]
        self._finish_row()

    def solve(self) -> Alignment:
        """Take in every word, and return the cheapest alignment."""
        for j in range(1, len(self.words) + 1):
            self.add_row(j)
        return self.traceback()

    def _finish_row(self) -> None:
        """Finish the newest row with what needs no heard word: leaving runs, jumps, and then deletions."""
        run, gap, move = self.run[-1], self.gap[-1], self.moves[-1]
        left = run + self.leaving
        better = left < gap
        gap[better], move[better] = left[better], _LEFT_RUN
        if len(self.moves) > 1 or not self.part:
            best = int(np.argmin(gap))
            over = np.abs(np.arange(self.size) - best)
            landed = gap[best] + _JUMP + self.leaving + _JUMPED_OVER * over
            better = landed < gap
            better[best] = False
            gap[better], move[better] = landed[better], _JUMPED
            self.jump_from[-1] = best
        # Deletions go on from the cheapest place before.
        reached = np.minimum.accumulate(gap - self.deleting) + self.deleting
        better = reached < gap - _ROUNDING
        gap[better], move[better] = reached[better], _DELETED
        move[run <= gap + _ENTER] += _RUN_IS_BEST

    def add_row(self, j: int) -> None:
        """Take in the j-th heard word, counted from 1, as a hit, a substitution or an insertion."""
        run, before = np.full(self.size, _UNREACHED), self.gap[-1]
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
        self.run_from.append(_as_rows([(end, *origins[end]) for end in sorted(origins)]))
        self.moves.append(move)
        self.jump_from.append(0)
        self._finish_row()

    def _run_is_best(self, j: int, i: int) -> bool:
        """Whether the run layer costs no more than the gap layer, in row j and column i."""
        return bool(self.moves[j][i] >= _RUN_IS_BEST)

    def traceback(self) -> Alignment:
        """The cheapest alignment of all the words so far, found from its end."""
        ends = np.minimum(self.run[-1], self.gap[-1])
        if not self.part:
            # To stop early breaks no run, so of two places with the same words the one that goes on is meant.
            ends[:-1] += _JUMP + _JUMPED_OVER * np.arange(len(self.places), 0, -1)
        j, i = len(self.words), int(np.argmin(ends))
        cost, in_run = float(ends[i]), bool(self.run[-1][i] <= self.gap[-1][i])
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


def _as_rows(hits: Sequence[tuple[int, ...]]) -> NDArray[np.int32]:
    """Hits as an array of shape (hits, 3)."""
    return np.array([*hits], np.int32).reshape(-1, _HIT_NUMBERS)


def last_hits(alignment: Alignment) -> Mapping[int, AlignmentStep]:
    """For each script word with a hit, its last hit: if a word is said again, that counts."""
    return {i: s for s in alignment.hits for i in range(s.script_from, s.script_to)}


def sound_likeness(place: AlignedWord, heard: str) -> float:
    """How similar a script word and heard words (with spaces between them) sound, 0 to 1."""
    ways = [*place.forms, *((place.spoken,) if place.spoken else ())]
    return max((alike(" ".join(form), heard) for form in ways), default=0.0)
