"""Fit: whether the speech keeps to its limit, how surely, and what could be cut if it does not.

Ending in time is a matter of chance, because the same performer takes a little more or less each time. `fit`
says how likely the speech is to end in time at a pace. If that is not likely enough, it proposes cuts of
whole thoughts: up to three different ones, with each of which the speech ends in time four times in five. The
first and the last thought are kept, unless the performer allows cutting them. The rules about what belongs
together are in `fit.coherence`.
"""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass, replace

from offbook.errors import OffbookError
from offbook.fit.coherence import FORBIDDEN, Coherence
from offbook.fit.edges import PARAGRAPH, THOUGHT, Edge, edges_of, may_pair
from offbook.fit.heart import ANSWERED, Heart
from offbook.fit.search import Cut, cheapest
from offbook.fit.shortened import PassageError, passage, spoken, without
from offbook.script import Script
from offbook.thoughts import Shift, parse_words
from offbook.timing import Pace, Plain, RunningTime, plain_of, running_time
from offbook.verse import Versification
from offbook.words import Word, where

__all__ = ["Cut", "Fitting", "PassageError", "Pins", "Proposal", "fit", "passage", "spoken", "without"]

# All numbers below were set by hand, on the speeches of the tests. Prices are in the unit of `fit.coherence`.
LIKELY = 0.8  # with this chance of ending in time a speech needs no cut; a proposal must reach it
MOST_PROPOSALS = 3
# Two proposals are different if they have no more than this share of the shorter one in common.
MOST_ALIKE = 0.75
# The price of cutting again what an earlier proposal cuts; the next is tried if the proposals are still
# alike.
AGAIN = (20.0, 100.0, 400.0)
HEART = 8.0  # the price of cutting the whole heart of the speech
_LEAST_EDGES = 3  # of a speech with a title: before the title, before the text, and at the end
_HALVINGS = 40  # of the whole time, which find the time to aim at more exactly than a millisecond
_HALVINGS_OF_MOST = 10  # of the whole time, to find the most that can be cut: exact to a thousandth of it
_LEAST_NEEDED = 1e-3  # seconds
_TRIES = 6  # to reach the time, because cuts do not save exactly what the search adds up
_NEARLY = 0.005  # a chance that is less than LIKELY by so little is accepted
_LEAST_MORE = 0.3  # seconds that are asked for in addition at each try


@dataclass(frozen=True, slots=True)
class Pins:
    """What the performer has decided.

    keep, cut: passages as (first, last) word, both included. ends_too: whether the first and the last thought
    may go.
    """

    keep: tuple[tuple[int, int], ...] = ()
    cut: tuple[tuple[int, int], ...] = ()
    ends_too: bool = False


@dataclass(frozen=True, slots=True)
class Proposal:
    """One way to cut.

    cuts: in order. time: of what is left. saved: seconds. chance: of ending in time, 0 to 1. check: what to
    look at before agreeing. goes: the passages between two turns that are cut completely, each quoted.
    """

    cuts: tuple[Cut, ...]
    time: RunningTime
    saved: float
    chance: float
    check: tuple[str, ...]
    goes: tuple[str, ...] = ()

    @property
    def words(self) -> frozenset[int]:
        """The words that are cut."""
        return frozenset(i for c in self.cuts for i in range(c.first, c.after))


@dataclass(frozen=True, slots=True)
class Fitting:
    """Whether a speech keeps to its limit, and what could be cut.

    limit: in seconds. chance: of ending in time, 0 to 1. proposals: the best first, empty if none is needed
    or possible. shortest: the proposal that cuts as much as is allowed, if even that is not enough; else
    None.
    """

    limit: float
    time: RunningTime
    chance: float
    proposals: tuple[Proposal, ...]
    shortest: Proposal | None

    @property
    def fits(self) -> bool:
        """Whether the expected time is within the limit."""
        return self.time.seconds <= self.limit

    @property
    def over_by(self) -> float:
        """Seconds over the limit; negative if there is time left."""
        return self.time.seconds - self.limit


class _Speech:
    """A speech prepared for the search: its edges, its time, and the prices of cuts."""

    def __init__(
        self,
        script: Script,
        words: tuple[Word, ...],
        shifts: Sequence[Shift],
        versification: Versification,
        pace: Pace,
        pins: Pins,
    ) -> None:
        self.script, self.words, self.pace, self.pins = script, words, pace, pins
        self.halves = False  # whether two halves of verse lines may meet
        self.plain = plain_of(script, words)
        self.time = running_time(self.plain, pace)
        self.edges = _with_pins(edges_of(script, words, shifts, versification), pins, len(words))
        parsed = parse_words(script, words)
        self.coherence = Coherence(script, words, parsed)
        self.heart = Heart(script, words, parsed, self.edges)
        self.cut_before: frozenset[int] = frozenset()
        self.again = 0.0
        self.opening = 1 if _is_titled(script, words, self.edges) else 0
        self.memory: dict[tuple[int, int], Cut | None] = {}

    def with_halves(self) -> _Speech:
        """The same speech, but two halves of verse lines may meet."""
        other = copy(self)
        other.halves, other.memory = True, {}
        return other

    def cut(self, i: int, j: int) -> Cut | None:
        """The cut from edge i up to edge j, None if it is not allowed.

        Its price is higher if an earlier proposal cuts some of the same words.
        """
        if (i, j) not in self.memory:
            self.memory[i, j] = self._cut(self.edges[i], self.edges[j], i, j)
        found = self.memory[i, j]
        if found is None or not self.cut_before:
            return found
        again = sum(k in self.cut_before for k in range(found.first, found.after))
        return replace(found, price=found.price + self.again * again / len(self.cut_before))

    def _cut(self, a: Edge, b: Edge, i: int, j: int) -> Cut | None:
        first, after = a.before, b.before
        if (first, after - 1) in self.pins.cut:
            price, check = self.coherence.price(a, b, 0)
            if price == FORBIDDEN:
                check = ("you asked for this cut, but what is left beside it needs what you cut",)
            return Cut(
                first, after, self._seconds(first, after), 0.0, self._with_answers(first, after, check)[1]
            )
        ends = i <= self.opening or j == len(self.edges) - 1
        if (ends and not self.pins.ends_too) or (i == 0 and j == len(self.edges) - 1):
            return None
        if any(start < after and first <= end for start, end in self.pins.keep):
            return None
        if not may_pair(a, b, self.halves):
            return None
        inside = max((e.level for e in self.edges[i + 1 : j]), default=0)
        price, check = self.coherence.price(a, b, inside)
        if price == FORBIDDEN:
            return None
        if a.verse and not a.line_start:
            check = (*check, f"two half-lines meet in {where(self.script, self.words, first, first)}")
        answered, check = self._with_answers(first, after, check)
        price += ANSWERED * answered + HEART * self.heart.share(first, after)
        return Cut(first, after, self._seconds(first, after), price, check)

    def _with_answers(self, first: int, after: int, check: tuple[str, ...]) -> tuple[int, tuple[str, ...]]:
        """How many later words refer to the cut, and `check` with a note on each; no word gets two notes."""
        answered = tuple(self.heart.answered(first, after))
        told = {note.split(" answers")[0] for note in answered}
        return len(answered), answered + tuple(n for n in check if n.split(" would")[0] not in told)

    def _seconds(self, first: int, after: int) -> float:
        """The seconds that a cut saves: those of its words and of the silence on one side of it."""
        starts, ends = self.time.starts, self.time.ends
        if after < len(self.words):
            return starts[after] - starts[first]
        return ends[-1] - (ends[first - 1] if first else 0.0)

    def proposal(self, cuts: tuple[Cut, ...], limit: float) -> Proposal:
        """A proposal of `cuts`, with the time of what is left worked out again."""
        time = running_time(_plain_without(self.script, self.words, self.plain, cuts), self.pace)
        check = tuple(dict.fromkeys(note for c in cuts for note in c.check))
        goes = tuple(what for c in cuts for what in self.heart.taken(c.first, c.after))
        return Proposal(cuts, time, self.time.seconds - time.seconds, time.chance(limit), check, goes)


_TITLE_WORDS = 8  # of a title, at most; set by hand


def _is_titled(script: Script, words: Sequence[Word], edges: Sequence[Edge]) -> bool:
    """Whether the speech seems to begin with its title.

    A title is a paragraph of a few words without a stop, before prose. Then the thought after it is the first
    one, which is kept.
    """
    if (
        len(edges) < _LEAST_EDGES
        or edges[1].level != PARAGRAPH
        or edges[1].verse
        or edges[1].before > _TITLE_WORDS
    ):
        return False
    first, second = words[edges[1].before - 1], words[edges[1].before]
    return not any(c in ".?!,;:…" for c in script.text[first.end : second.start])


def _with_pins(edges: Sequence[Edge], pins: Pins, count: int) -> tuple[Edge, ...]:
    """The edges, with those added at which the passages to be cut begin and end."""
    found = {e.before: e for e in edges}
    for first, last in pins.cut:
        for i in (first, last + 1):
            found.setdefault(i, Edge(i, False, False, True, None, THOUGHT))
    return tuple(found[i] for i in sorted(found) if i <= count)


def _plain_without(script: Script, words: Sequence[Word], plain: Plain, cuts: Sequence[Cut]) -> Plain:
    """The plain time of what is left. The spoken words are counted again, because a pace may be a rate."""
    gone = {i for c in cuts for i in range(c.first, c.after)}
    left = [w for w in words if w.i not in gone]
    numbered = tuple(replace(w, i=k) for k, w in enumerate(left))
    return plain_of(script, numbered, plain.tempo)


def fit(
    script: Script,
    words: tuple[Word, ...],
    shifts: Sequence[Shift],
    versification: Versification,
    pace: Pace,
    limit: float,
    pins: Pins = Pins(),  # frozen
) -> Fitting:
    """Whether `words` end within `limit` seconds at `pace`, and proposals if that is not likely enough.

    Raises PassageError if the same words are to be kept and cut.
    """
    _agree(pins)
    whole = _Speech(script, words, shifts, versification, pace, pins)
    time = whole.time
    chance = time.chance(limit)
    if chance >= LIKELY and not pins.cut:
        return Fitting(limit, time, chance, (), None)
    ways = [whole, whole.with_halves()] if any(e.verse for e in whole.edges) else [whole]
    found = _different(ways, limit)
    if found:
        return Fitting(limit, time, chance, found, None)
    return Fitting(limit, time, chance, (), next(filter(None, (_most(way, limit) for way in ways)), None))


def _different(ways: Sequence[_Speech], limit: float) -> tuple[Proposal, ...]:
    """Up to three different proposals, each of which is likely to end in time.

    ways: the speech with whole lines of verse, then with half-lines that may meet, which is used only if the
    first does not give enough proposals. For each the cheapest come first.
    """
    found: list[Proposal] = []
    for speech in ways:
        while len(found) < MOST_PROPOSALS:
            another = _another(speech, limit, found)
            if another is None:
                break
            found.append(another)
    return tuple(found)


def _another(speech: _Speech, limit: float, found: Sequence[Proposal]) -> Proposal | None:
    """The cheapest proposal that is different from those in `found`; None if there is none."""
    speech.cut_before = frozenset(i for p in found for i in p.words)
    for again in AGAIN:
        speech.again = again
        proposal = _reach(speech, limit)
        if proposal is None:
            return None
        if all(_alike(proposal, p) <= MOST_ALIKE for p in found):
            return proposal
    return None


def _alike(one: Proposal, other: Proposal) -> float:
    """The share of the shorter proposal's words that the other cuts too, 0 to 1."""
    return len(one.words & other.words) / max(1, min(len(one.words), len(other.words)))


def _agree(pins: Pins) -> None:
    for a, b in pins.keep:
        for c, d in pins.cut:
            if a <= d and c <= b:
                raise PassageError(
                    "you asked to keep and to cut the same passage", "leave it out of --keep or out of --cut"
                )


def _reach(speech: _Speech, limit: float) -> Proposal | None:
    """The cheapest proposal with which the speech is likely to end in time; None if there is none."""
    time = speech.time
    # Find the time with which the chance is LIKELY, then correct it by how long the proposals really take.
    low, high = 0.0, time.seconds
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        if replace(time, seconds=middle).chance(limit) >= LIKELY:
            low = middle
        else:
            high = middle
    needed = max(time.seconds - low, _LEAST_NEEDED)
    for _ in range(_TRIES):
        cuts = _with_forced(speech, needed)
        if cuts is None:
            return None
        proposal = speech.proposal(cuts, limit)
        if proposal.chance >= LIKELY - _NEARLY:
            return proposal
        needed += max(_LEAST_MORE, proposal.time.seconds - low)
    return None


def _with_forced(speech: _Speech, needed: float) -> tuple[Cut, ...] | None:
    """The cheapest cuts that include those the performer asked for; None if they do not save enough."""
    if not speech.pins.cut:
        return cheapest(speech.edges, speech.cut, needed)
    place = {e.before: k for k, e in enumerate(speech.edges)}
    forced = [speech.cut(place[a], place[b + 1]) for a, b in sorted(speech.pins.cut)]
    sure = tuple(c for c in forced if c is not None)
    taken = {i for c in sure for i in range(c.first, c.after)}
    rest = needed - sum(c.seconds for c in sure)
    if rest <= 0:
        return sure

    def other(i: int, j: int) -> Cut | None:
        a, b = speech.edges[i].before, speech.edges[j].before
        return None if any(k in taken for k in range(max(0, a - 1), b + 1)) else speech.cut(i, j)

    more = cheapest(speech.edges, other, rest)
    return None if more is None else tuple(sorted((*sure, *more), key=lambda c: c.first))


def _most(speech: _Speech, limit: float) -> Proposal | None:
    """The proposal that cuts as much as is allowed; None if nothing may be cut."""
    low, high, best = 0.0, speech.time.seconds, None
    for _ in range(_HALVINGS_OF_MOST):
        middle = (low + high) / 2
        cuts = _with_forced(speech, middle)
        if cuts is None:
            high = middle
        else:
            low, best = middle, cuts
    return speech.proposal(best, limit) if best else None


class LimitError(OffbookError):
    """There is no such proposal."""


def chosen_proposal(fitting: Fitting, number: int) -> Proposal:
    """Proposal `number`, counted from 1; the shortest one comes last. Raises LimitError if there is none."""
    every = fitting.proposals if fitting.shortest is None else (*fitting.proposals, fitting.shortest)
    if not 1 <= number <= len(every):
        count = len(every)
        raise LimitError(
            f"there is no proposal {number}",
            f"give a number from 1 to {count}" if count else "no cut is proposed: leave out --write",
        )
    return every[number - 1]
