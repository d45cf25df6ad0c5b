"""Fit: does the speech keep to its limit, how surely, and what could go if it does not.

A limit is a chance, not a line: the same performer takes a little more or less each time. `fit` says how
likely the speech ends in time at a pace, and where that is not likely enough proposes cuts of whole
thoughts: up to three that differ, each enough to end in time four times in five. The opening and the last
thought stay unless asked for; a coach's rules about what may go together are in `fit.coherence`.
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

LIKELY = 0.8  # a speech that ends in time with this chance needs no cut, and a proposal reaches it
MOST_PROPOSALS = 3
# Share of the shorter cut that the other cuts too, above which they are one idea; set by hand.
MOST_ALIKE = 0.75
# Prices of cutting what an earlier proposal cuts, tried in turn until they differ.
AGAIN = (20.0, 100.0, 400.0)
HEART = 8.0  # price of cutting the whole heart of the speech
_LEAST_EDGES = 3  # a title, the text and its end: with fewer, the first passage is all there is


@dataclass(frozen=True, slots=True)
class Pins:
    """What the performer has decided: runs of words (first, last, inclusive) to keep and to cut."""

    keep: tuple[tuple[int, int], ...] = ()
    cut: tuple[tuple[int, int], ...] = ()
    ends_too: bool = False


@dataclass(frozen=True, slots=True)
class Proposal:
    """One way to cut. cuts: in order. time: of what is left. check: what to look at before agreeing.

    goes: what the performer gives up with it: passages from turn to turn that go whole.
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
    """A speech against a limit in seconds. proposals: the best first, empty where none helps.

    shortest: the proposal that cuts the most that may go, where even that is too long; else None.
    """

    limit: float
    time: RunningTime
    chance: float
    proposals: tuple[Proposal, ...]
    shortest: Proposal | None

    @property
    def fits(self) -> bool:
        """Whether the expected time keeps to the limit."""
        return self.time.seconds <= self.limit

    @property
    def over_by(self) -> float:
        """Seconds over the limit; negative where there is time to spare."""
        return self.time.seconds - self.limit


class _Speech:
    """A speech made ready for the search: its edges, its plain time, the prices of cuts."""

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
        self.halves = False  # half verse lines may meet
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
        """The same speech where half verse lines may meet."""
        other = copy(self)
        other.halves, other.memory = True, {}
        return other

    def cut(self, i: int, j: int) -> Cut | None:
        """The cut from edge i up to edge j, None where it may not be made; dearer where it was cut before."""
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
                check = ("you asked for this cut: what is left beside it leans on what goes",)
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
        """How many later words answer what goes, and `check` with them; each word is named once."""
        answered = tuple(self.heart.answered(first, after))
        told = {note.split(" answers")[0] for note in answered}
        return len(answered), answered + tuple(n for n in check if n.split(" would")[0] not in told)

    def _seconds(self, first: int, after: int) -> float:
        """What a cut saves: its words and the silence on one side of it."""
        starts, ends = self.time.starts, self.time.ends
        if after < len(self.words):
            return starts[after] - starts[first]
        return ends[-1] - (ends[first - 1] if first else 0.0)

    def proposal(self, cuts: tuple[Cut, ...], limit: float) -> Proposal:
        """`cuts` with the time of what is left, worked out afresh."""
        time = running_time(_plain_without(self.script, self.words, self.plain, cuts), self.pace)
        check = tuple(dict.fromkeys(note for c in cuts for note in c.check))
        goes = tuple(what for c in cuts for what in self.heart.taken(c.first, c.after))
        return Proposal(cuts, time, self.time.seconds - time.seconds, time.chance(limit), check, goes)


_TITLE_WORDS = 8


def _is_titled(script: Script, words: Sequence[Word], edges: Sequence[Edge]) -> bool:
    """Whether the speech begins with what looks like its title: the opening is what comes after it.

    A few words without a stop, a paragraph to themselves, before prose.
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
    """The edges with those of the passages to be cut put in, whatever is there."""
    found = {e.before: e for e in edges}
    for first, last in pins.cut:
        for i in (first, last + 1):
            found.setdefault(i, Edge(i, False, False, True, None, THOUGHT))
    return tuple(found[i] for i in sorted(found) if i <= count)


def _plain_without(script: Script, words: Sequence[Word], plain: Plain, cuts: Sequence[Cut]) -> Plain:
    """The plain time of what is left. A rate asked for stays a rate, so spoken words are counted again."""
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
    """`words` against `limit` seconds at `pace`, with proposals where it is not likely to keep to it.

    Raises PassageError where the same words are to be kept and cut.
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
    """Up to three proposals that differ, each of which is likely to end in time.

    ways: the speech with whole verse lines, then with half-lines that may meet, which is asked only
    for what the first does not give. Of each the cheapest comes first.
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
    """The cheapest proposal that is another idea than those in `found`; None where there is none."""
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
    """How much of the shorter of two cuts the other cuts too, 0 to 1; 1 where one only grows the other."""
    return len(one.words & other.words) / max(1, min(len(one.words), len(other.words)))


def _agree(pins: Pins) -> None:
    for a, b in pins.keep:
        for c, d in pins.cut:
            if a <= d and c <= b:
                raise PassageError(
                    "a passage is to be kept and to be cut", "take it out of --keep or out of --cut"
                )


def _reach(speech: _Speech, limit: float) -> Proposal | None:
    """The cheapest cuts after which the speech is likely to end in time."""
    time = speech.time
    # The time at which the chance is what is aimed at; then mended by what the proposals really take.
    low, high = 0.0, time.seconds
    for _ in range(40):
        middle = (low + high) / 2
        if replace(time, seconds=middle).chance(limit) >= LIKELY:
            low = middle
        else:
            high = middle
    needed = max(time.seconds - low, 1e-3)
    for _ in range(6):
        cuts = _with_forced(speech, needed)
        if cuts is None:
            return None
        proposal = speech.proposal(cuts, limit)
        if proposal.chance >= LIKELY - 0.005:
            return proposal
        needed += max(0.3, proposal.time.seconds - low)
    return None


def _with_forced(speech: _Speech, needed: float) -> tuple[Cut, ...] | None:
    """The cheapest cuts with those the performer asked for among them."""
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
    """The most that may go, found by asking for less until there is an answer."""
    low, high, best = 0.0, speech.time.seconds, None
    for _ in range(10):
        middle = (low + high) / 2
        cuts = _with_forced(speech, middle)
        if cuts is None:
            high = middle
        else:
            low, best = middle, cuts
    return speech.proposal(best, limit) if best else None


class LimitError(OffbookError):
    """No proposal can be written."""


def chosen_proposal(fitting: Fitting, number: int) -> Proposal:
    """Proposal `number`, from 1; the most that may go where none is likely enough. Raises LimitError."""
    every = fitting.proposals if fitting.shortest is None else (*fitting.proposals, fitting.shortest)
    if not 1 <= number <= len(every):
        count = len(every)
        raise LimitError(
            f"there is no proposal {number}",
            f"give a number from 1 to {count}" if count else "no cut is proposed: leave out --write",
        )
    return every[number - 1]
