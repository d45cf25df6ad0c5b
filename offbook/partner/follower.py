"""The follower: where in the text the performer is, while they speak.

It takes the words of a live recogniser. These are guesses, which may change until the utterance ends. For
every place in the script the follower keeps a score that says how well the place explains everything heard so
far: the score of the best way to get there, word by word, where it costs something to leave words out, to say
other words, to talk, or to go on somewhere else. When guesses change, it works again from the first word that
changed. It never waits for later words, so the place is known at once.

As in `align` there are two layers: `on`, where the last word heard was the script's, and `off`, where it was
not. Scores are natural logarithms of likelihood ratios, compared with a word that says nothing about the
place; the best score is always 0.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from offbook.align import FILLERS, AlignedWord, finder_of
from offbook.recognise import UNKNOWN

Scores = NDArray[np.float64]
# The pace is learnt from the steps between two places. A step of more words is a jump, one of more seconds
# has a pause in it, and neither counts. With each new step the older ones count less. Set by hand.
_STEP_WORDS, _STEP_SECONDS, _FADES = 8, 2.0, 0.9
# So many words just said that also stand before another place make going on there a likely slip. Set by hand.
_SHARED = 3
_NEVER = -1e9  # a score, or a time (s), lower than any other
_MOST_JOINED = 4  # heard words that can be one word of the script, at most; set by hand
_AROUND = 3  # words on either side of the place that are no other place; set by hand


@dataclass(frozen=True, slots=True)
class Leanings:
    """What the follower expects of a speaker, in natural log units. Set on readings: bench/following.py.

    word: gained when the script's next word is heard; small: the same for a word of `SMALL`. The rest are
    costs. wrong: a heard word in place of the script's; unknown: a sound in its place that is no word the
    recogniser knows. leave: the first word beside the script; more: each word beside it; back: returning to
    the script. skip: each word left out, up to `near` of them. jump: going on anywhere else; jump_line: at
    the beginning of a line; alike: where the last `_SHARED` words before it are the same as here, the most
    that it costs; far: for each word of distance; rest: how much cheaper a jump is after a silence.
    lead: how far a place elsewhere must be ahead before the follower goes there.
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
    alike: float = 3.0
    far: float = 0.002
    rest: float = 1.0
    lead: float = 1.0


@dataclass(slots=True)
class _State:
    """The scores of every place after one heard word; rested: a silence came after it."""

    on: Scores
    off: Scores
    rested: bool = False


@dataclass(frozen=True, slots=True)
class Spot:
    """Where the performer is.

    place: how many script words are past; lead: by how much its score is better than that of any place
    further away (natural log units); astray: how many words were heard since the last word of the script.
    """

    place: int
    lead: float
    astray: int


# Set by hand.
_USUAL = 2.5  # words a second, 150 a minute, until the performer's own pace is known
_USUAL_SECONDS = 4.0  # s of speech at that pace that are counted beside the performer's own
_LATE = 0.2  # s by which the recogniser is late at least
_FIRST = 0.4  # s that the first word takes
_GUESS = 2  # words that are guessed at most


class FollowedPace:
    """How fast the place moves: guesses the words that the recogniser has not reported yet."""

    def __init__(self, place: int) -> None:
        self._place, self._at = place, _NEVER
        self._words, self._seconds = _USUAL_SECONDS * _USUAL, _USUAL_SECONDS

    def take(self, at: float, place: int) -> None:
        """Learn from the performer being at `place` at `at` (s)."""
        if place == self._place:
            return
        gone, seconds = place - self._place, at - self._at
        if 0 < gone <= _STEP_WORDS and 0 < seconds <= _STEP_SECONDS:
            self._words, self._seconds = _FADES * self._words + gone, _FADES * self._seconds + seconds
        self._place, self._at = place, at

    def begin(self, place: int) -> None:
        """Note that the performer begins at `place`."""
        self._place, self._at = place, _NEVER

    def reached(self, until: float, began: float) -> int:
        """A guess at the place at `until` (s).

        began: when the performer began to speak, where no place is known yet.
        """
        since = self._at if self._at >= 0 else began + _FIRST
        if since < _FIRST:
            return self._place
        rate = self._words / self._seconds
        more = rate * (until - since + _LATE)
        return self._place + max(0, min(_GUESS, int(more)))


def _numbered_by_what_precedes(places: Sequence[AlignedWord]) -> NDArray[np.int64]:
    """For every place, and the end, a number that all places after the same words share."""
    forms = [p.forms[0] for p in places]
    numbers: dict[object, int] = {}
    return np.array(
        [
            numbers.setdefault(tuple(forms[k - _SHARED : k]) if k >= _SHARED else k, len(numbers))
            for k in range(len(places) + 1)
        ]
    )


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
        self._longest = max(1, min(_MOST_JOINED, self._finder.longest))
        self._small = small
        self._size = len(places) + 1
        opens = np.array([*(p.opens for p in places), False])
        self._landing = np.where(opens, self._ways.jump_line, self._ways.jump)
        self._landing[-1] = -_NEVER
        self._index = np.arange(self._size)
        self._after = _numbered_by_what_precedes(places)
        self._base = self._begin(begin)
        self._now = _Utterance()
        self._astray = 0  # words heard before this utterance and after the last word of the script
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
        """Note that the performer begins at script word `place` now, whatever was heard before."""
        self._now, self._base, self._astray = _Utterance(), self._begin(place), 0
        self._place, self._spot = place, Spot(place, 0.0, 0)
        self._pace.begin(place)

    def place_at(self, now: float, spoken: float, began: float = -1.0) -> int:
        """The place at `now` (s); words that the recogniser has not reported yet are guessed from the pace.

        spoken: when a voice was last heard (s), `now` while it is heard. began: when the performer began to
        speak (s), where the recogniser has reported nothing since then; -1 for not yet.
        """
        if self._spot.astray:
            return self._spot.place
        return min(self._size - 1, self._pace.reached(min(now, spoken), began))

    def hear(self, words: Sequence[str], at: float, ended: bool = False) -> Spot:
        """Take in all words of the utterance in progress as they are heard at `at` (s).

        ended: the utterance is over, and a silence follows.
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
        """The state before the last `words_ago` words; the newest of these is just being taken in."""
        k = len(self._now.tokens) - words_ago
        if k > 0:
            return self._now.states[k - 1]
        return self._base if k == 0 else None

    def _arriving(self, s: _State) -> Scores:
        """For each place, the score of getting there so that the script's word there comes next."""
        w = self._ways
        base = np.maximum(s.on, s.off - w.back)
        arriving = base.copy()
        step = base
        for _ in range(w.near):
            step = np.concatenate(([-np.inf], step[:-1])) - w.skip
            np.maximum(arriving, step, out=arriving)
        best = int(np.argmax(base))
        alike = self._after == self._after[best]
        landing = np.where(alike, np.minimum(self._landing, w.alike), self._landing)
        landed = base[best] - landing - w.far * np.abs(self._index - best)
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
        on = np.full(self._size, _NEVER)
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
        others[max(0, best - _AROUND) : best + _AROUND + 1] = -np.inf
        astray = 0
        for s in reversed(self._now.states):
            if s.on.max() >= s.off.max():
                break
            astray += 1
        else:
            astray += self._astray  # no word of this utterance was the script's
        self._place = best
        self._spot = Spot(best, float(score[best] - others.max(initial=_NEVER)), astray)
