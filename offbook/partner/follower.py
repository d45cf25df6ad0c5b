"""The follower: where in the text the performer is, while they speak.

It takes the words of a live recogniser, which come as guesses that are changed until an utterance ends,
and keeps for every place of the script how well it explains all that was heard: the best way there, word by
word, with what it costs to leave words out, to say others, to talk, and to go on somewhere else. Guesses
are worked through again from the first word that changed. Nothing looks ahead, so the place is known at once.

Two layers, as in `align`: `on`, where the last word heard was the script's, and `off`, where it was not.
Scores are log likelihoods against a word that says nothing, natural units; the best is always 0.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from offbook.align import FILLERS, AlignedWord, finder_of
from offbook.recognise import UNKNOWN

Scores = NDArray[np.float64]
# The pace is learnt from steps of so many words and seconds at the most (a longer one is a jump or a pause),
# each older step counting less. Set by hand.
_STEP_WORDS, _STEP_SECONDS, _FADES = 8, 2.0, 0.9


@dataclass(frozen=True, slots=True)
class Leanings:
    """What the follower expects of a speaker, natural log units. Set on readings: bench/following.py.

    word, small: what a script word heard in its place tells, and one of `SMALL`. wrong: a word heard where
    the script has another; unknown: where the recogniser heard no word it knows. leave: from the script to
    other words; more: each of them; back: and into the script again. skip: each word left out, up to `near`
    of them. jump: going on anywhere else; jump_line: where a line begins there; far: for each word from here.
    rest: what a silence before it takes off a jump. lead: by how much a place elsewhere must lead.
    """

    word: float = 3.0
    small: float = 1.2
    wrong: float = 2.0
    unknown: float = 1.0
    leave: float = 0.7
    more: float = 0.5
    back: float = 0.3
    skip: float = 1.4
    near: int = 4
    jump: float = 7.0
    jump_line: float = 5.5
    far: float = 0.002
    rest: float = 1.0
    lead: float = 1.0


@dataclass(slots=True)
class _State:
    """Every place of the script after some word: scores on and off, and whether a silence came last."""

    on: Scores
    off: Scores
    rested: bool = False


@dataclass(frozen=True, slots=True)
class Spot:
    """Where the performer is. place: script words gone by. lead: over any place not near it, natural log
    units. astray: heard words since the last that was the script's.
    """

    place: int
    lead: float
    astray: int


_USUAL = 2.5  # words a second until the performer has shown theirs: 150 words a minute
_LATE = 0.2  # s by which the recogniser is late at best
_FIRST = 0.4  # s that the first word takes
_GUESS = 2  # words at most that are guessed


class FollowedPace:
    """How fast the place moves, for the words between two answers of the recogniser."""

    def __init__(self, place: int) -> None:
        self._place, self._at = place, -1e9
        self._words, self._seconds = 4 * _USUAL, 4.0

    def take(self, at: float, place: int) -> None:
        """The place is given at `at` (s)."""
        if place == self._place:
            return
        gone, seconds = place - self._place, at - self._at
        if 0 < gone <= _STEP_WORDS and 0 < seconds <= _STEP_SECONDS:
            self._words, self._seconds = _FADES * self._words + gone, _FADES * self._seconds + seconds
        self._place, self._at = place, at

    def begin(self, place: int) -> None:
        """The performer begins at `place`."""
        self._place, self._at = place, -1e9

    def reached(self, until: float, began: float) -> int:
        """The place at `until`, guessed; began: when it began to move, where it has not yet."""
        since = self._at if self._at >= 0 else began + _FIRST
        if since < _FIRST:
            return self._place
        rate = self._words / self._seconds
        more = rate * (until - since + _LATE)
        return self._place + max(0, min(_GUESS, int(more)))


@dataclass(slots=True)
class _Utterance:
    tokens: list[str] = field(default_factory=list)
    states: list[_State] = field(default_factory=list)


class Follower:
    """Keeps the place in `places` (see `hear.places_of`), beginning at script word `begin`."""

    def __init__(
        self,
        places: Sequence[AlignedWord],
        small: frozenset[str],
        leanings: Leanings | None = None,
        begin: int = 0,
    ) -> None:
        self._ways = leanings or Leanings()
        self._finder = finder_of(tuple(places))
        self._longest = max(1, min(4, self._finder.longest))
        self._small = small
        self._size = len(places) + 1
        opens = np.array([*(p.opens for p in places), False])
        self._landing = np.where(opens, self._ways.jump_line, self._ways.jump)
        self._landing[-1] = 1e9
        self._index = np.arange(self._size)
        self._base = self._begin(begin)
        self._now = _Utterance()
        self._astray = 0  # heard words before this utterance since the last that was the script's
        self._place = begin
        self._spot = Spot(begin, 0.0, 0)
        self._pace = FollowedPace(begin)

    def _begin(self, at: int) -> _State:
        on = -self._ways.far * np.abs(self._index - at) - self._landing
        on[at] = 0.0
        return _State(on, on - self._ways.leave, True)

    @property
    def spot(self) -> Spot:
        """Where the performer is."""
        return self._spot

    def go(self, place: int) -> None:
        """The performer begins at script word `place` now, whatever was heard before."""
        self._now, self._base, self._astray = _Utterance(), self._begin(place), 0
        self._place, self._spot = place, Spot(place, 0.0, 0)
        self._pace.begin(place)

    def place_at(self, now: float, spoken: float, began: float = -1.0) -> int:
        """The place, with the words that the recogniser has yet to tell of guessed from the pace.

        spoken: the last second at which a voice was heard, `now` while it is heard. began: where nothing was
        told of since the performer was expected to begin, when they did; -1 for not yet.
        """
        if self._spot.astray:
            return self._spot.place
        return min(self._size - 1, self._pace.reached(min(now, spoken), began))

    def hear(self, words: Sequence[str], at: float, ended: bool = False) -> Spot:
        """Take in what the utterance under way is heard as now, whole; `ended`: it is over with these.

        An utterance that has ended is followed by a silence.
        """
        now, same = self._now, 0
        for a, b in zip(now.tokens, words, strict=False):
            if a != b:
                break
            same += 1
        del now.tokens[same:], now.states[same:]
        for word in words[same:]:
            now.tokens.append(word)
            now.states.append(self._step(word))
        self._settle()
        self._pace.take(at, self._place)
        if ended:
            self._end()
        return self._spot

    def _end(self) -> None:
        last = self._now.states[-1] if self._now.states else self._base
        self._base = _State(last.on, last.off, True)
        self._now, self._astray = _Utterance(), self._spot.astray

    def _state(self, words_ago: int) -> _State | None:
        """The state before the last `words_ago` words, of which the newest is being taken in."""
        k = len(self._now.tokens) - words_ago
        if k > 0:
            return self._now.states[k - 1]
        return self._base if k == 0 else None

    def _arriving(self, s: _State) -> Scores:
        """For each place, how well it explains that the script's word there comes next."""
        w = self._ways
        base = np.maximum(s.on, s.off - w.back)
        arriving = base.copy()
        step = base
        for _ in range(w.near):
            step = np.concatenate(([-np.inf], step[:-1])) - w.skip
            np.maximum(arriving, step, out=arriving)
        best = int(np.argmax(base))
        landed = base[best] - self._landing - w.far * np.abs(self._index - best)
        if s.rested:
            landed = landed + w.rest
        return np.asarray(np.maximum(arriving, landed))

    def _step(self, word: str) -> _State:
        w = self._ways
        before = self._state(1)
        assert before is not None
        off = np.maximum(before.on - w.leave, before.off) - w.more
        cost = w.unknown if word == UNKNOWN else w.wrong
        if word not in FILLERS:
            base = np.maximum(before.on, before.off)
            np.maximum(off[1:], base[:-1] - cost, out=off[1:])
        on = np.full(self._size, -1e9)
        for k in range(1, min(self._longest, len(self._now.tokens)) + 1):
            s = self._state(k)
            if s is None:
                break
            heard = tuple(self._now.tokens[-k:])
            hits = self._finder.hits(heard)
            if not hits:
                continue
            arriving = self._arriving(s)
            tells = w.small if all(h in self._small for h in heard) else w.word
            for start, end in hits:
                on[end] = max(on[end], arriving[start] + tells)
        top = max(float(on.max()), float(off.max()))
        return _State(on - top, off - top)

    def _settle(self) -> None:
        state = self._now.states[-1] if self._now.states else self._base
        score = np.maximum(state.on, state.off)
        best = int(np.argmax(score))
        near = slice(max(0, self._place - self._ways.near - 1), self._place + self._ways.near + 2)
        if not near.start <= best < near.stop and score[best] - score[near].max() < self._ways.lead:
            best = near.start + int(np.argmax(score[near]))
        others = score.copy()
        others[max(0, best - 3) : best + 4] = -np.inf
        astray = 0
        for s in reversed(self._now.states):
            if s.on.max() >= s.off.max():
                break
            astray += 1
        else:
            astray += self._astray  # not a word of this utterance was the script's
        self._place = best
        self._spot = Spot(best, float(score[best] - others.max(initial=-1e9)), astray)
