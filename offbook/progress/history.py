"""Progress: what the run-throughs say, day by day, line by line, thought by thought.

Accuracy is words said / words of the script, once with the unsure words counted as said and once as
missed. Days are the performer's local days. Off book means at least 98 % of the words on two
run-throughs on different days without a prompt: professional actors say about 98 % of the script's
words in performance (Noice & Noice, Memory 7(3), 1999). Everything here is computed from records
handed in; the journal is read by the caller.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from statistics import median
from typing import Literal

from offbook.records import DayTotal, RunRow, Unit, VerdictLetters, Version
from offbook.score import SOMETHING_ELSE
from offbook.words import as_written, numbered, where

OFF_BOOK = 98  # per cent of the words
LATELY = 10  # run-throughs that the figures by line and by thought look back on
_PACE_RUNS = 5
How = Literal["dropped", "changed"]


@dataclass(frozen=True, slots=True)
class DayAccuracy:
    """One local day. high: unsure words counted as said; low: counted as missed. seconds: mean run."""

    day: date
    runs: int
    high: float
    low: float
    prompts: int
    seconds: float
    clean: bool


def by_day(totals: Iterable[DayTotal]) -> tuple[DayAccuracy, ...]:
    """Accuracy by local day; several run-throughs of a day weigh by their words."""
    return tuple(
        DayAccuracy(
            d.day,
            d.runs,
            (d.said + d.unsure) / max(1, d.words),
            d.said / max(1, d.words),
            d.prompts,
            d.seconds,
            d.clean > 0,
        )
        for d in totals
    )


@dataclass(frozen=True, slots=True)
class OffBook:
    """Whether a piece is off book. since: the day of the second clean run-through, None before it.

    clean_days: the days that counted. holds: the newest run-through still keeps to the rule.
    """

    since: date | None
    clean_days: tuple[date, ...]
    holds: bool


def off_book(days: Iterable[DayAccuracy], newest: RunRow | None) -> OffBook:
    """The off-book rule over all days, oldest first."""
    clean = tuple(d.day for d in days if d.clean)
    since = clean[1] if len(clean) > 1 else None
    return OffBook(since, clean, newest is not None and is_clean(newest))


def is_clean(run: RunRow) -> bool:
    """Whether a run-through counts towards off book: 98 % of the words or more, and no prompt."""
    return run.words > 0 and (run.said + run.unsure) * 100 >= OFF_BOOK * run.words and run.prompts == 0


# Line by line --------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Going:
    """What keeps happening at one word. times: in how many of the run-throughs; instead: what was heard."""

    word: int
    text: str
    how: How
    instead: str | None
    times: int


@dataclass(frozen=True, slots=True)
class StretchHistory:
    """A line, a sentence of prose or a thought over the latest run-throughs. n: counted from 1, of a line its
    number in the script. number: as it is beside the speech. noun: what is counted.

    runs: run-throughs that had words of it; accuracy: words said there / words asked there.
    latest: the same for the newest run-through alone. going: what still goes wrong, most often first.
    """

    n: int
    first: int
    last: int
    text: str
    runs: int
    accuracy: float
    latest: float
    going: tuple[Going, ...]
    number: str
    noun: str


@dataclass(frozen=True, slots=True)
class WordCounts:
    """For each word of the draft: run-throughs that had it, times missed, and how."""

    asked: tuple[int, ...]
    missed: tuple[int, ...]
    how: tuple[Counter[tuple[How, str | None]], ...]
    latest: tuple[bool | None, ...]


def count_words(
    version: Version, marked: Sequence[VerdictLetters], slots: Mapping[str, Sequence[int]]
) -> WordCounts:
    """Verdicts of run-throughs of any draft, laid on the words of `version` by their slots."""
    place = {slot: i for i, slot in enumerate(version.slots)}
    n = len(version.words)
    asked, missed = [0] * n, [0] * n
    how: list[Counter[tuple[How, str | None]]] = [Counter() for _ in range(n)]
    latest: list[bool | None] = [None] * n
    for m in marked:
        newest = m is marked[-1]
        for k, (letter, slot) in enumerate(zip(m.letters, slots[m.version_id], strict=True)):
            i = place.get(slot)
            if i is None:
                continue
            asked[i] += 1
            if newest:
                latest[i] = letter in "su"
            if letter in "cd":
                missed[i] += 1
                kind: How = "dropped" if letter == "d" else "changed"
                how[i][kind, _quoted(m, k)] += 1
    return WordCounts(tuple(asked), tuple(missed), tuple(how), tuple(latest))


def by_line(version: Version, counts: WordCounts) -> tuple[StretchHistory, ...]:
    """The spoken lines of the draft, in order; of prose its sentences."""
    script, words = version.script, version.words
    found = []
    for each in numbered(script, words):
        noun, n = where(script, words, each.first, each.first).split()
        found.append(_stretch(version, counts, int(n), each.first, each.last, each.number, noun))
    return tuple(found)


def by_thought(version: Version, counts: WordCounts) -> tuple[StretchHistory, ...]:
    """The thoughts of the draft, in order."""
    return tuple(
        _stretch(version, counts, u.n + 1, u.first, u.last, str(u.n + 1), "thought") for u in version.units
    )


def keeps_going(stretches: Iterable[StretchHistory], most: int = 5) -> tuple[StretchHistory, ...]:
    """The lines or thoughts with a word that went wrong at least twice lately, the worst first."""
    bad = [s for s in stretches if any(g.times > 1 for g in s.going)]
    return tuple(sorted(bad, key=lambda s: (s.accuracy, s.first))[:most])


@dataclass(frozen=True, slots=True)
class SameEachTime:
    """A word that was heard otherwise in each of the last run-throughs, and always as the same: said so, it
    may be, and only heard wrong. times: in how many."""

    word: int
    text: str
    heard: str
    times: int


LIKELY_HABIT = 2  # run-throughs on end from which it is asked; one alone is a slip like any other


def same_each_time(
    version: Version, marked: Sequence[VerdictLetters], slots: Mapping[str, Sequence[int]]
) -> tuple[SameEachTime, ...]:
    """Words of `version` that the last run-throughs have heard in the same other way each time they came."""
    told: dict[int, list[str | None]] = {}
    for m in marked:
        for k, slot in enumerate(slots[m.version_id]):
            told.setdefault(slot, []).append(_quoted(m, k))
    found = []
    for i, slot in enumerate(version.slots):
        heard = told.get(slot, [])
        last = heard[-1] if heard else None
        times = next((n for n, h in enumerate(reversed(heard)) if h != last), len(heard))
        if last is not None and times >= LIKELY_HABIT:
            found.append(SameEachTime(i, version.words[i].text, last, times))
    return tuple(found)


def _quoted(marked: VerdictLetters, word: int) -> str | None:
    """What was heard in the place of a changed word; None where that is not sure enough to be quoted."""
    heard = marked.heard.get(word) if marked.letters[word] == "c" else None
    return None if heard == SOMETHING_ELSE else heard


def _stretch(
    version: Version, counts: WordCounts, n: int, first: int, last: int, number: str, noun: str
) -> StretchHistory:
    span = range(first, last + 1)
    asked = sum(counts.asked[i] for i in span)
    missed = sum(counts.missed[i] for i in span)
    now = [said for i in span if (said := counts.latest[i]) is not None]
    going = [
        Going(i, version.words[i].text, kind, instead, times)
        for i in span
        for (kind, instead), times in counts.how[i].items()
    ]
    going.sort(key=lambda g: (-g.times, g.word))
    return StretchHistory(
        n,
        first,
        last,
        as_written(version.script, version.words, first, last),
        max((counts.asked[i] for i in span), default=0),
        1 - missed / asked if asked else 0.0,
        sum(now) / len(now) if now else 0.0,
        tuple(going),
        number,
        noun,
    )


# Time ----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Timing:
    """Running time lately. seconds: median of whole run-throughs; over: how many broke the limit."""

    runs: int
    seconds: float
    shortest: float
    longest: float
    rate_wpm: float
    limit: float | None
    over: int


def timing_of(runs: Sequence[RunRow], limit: float | None) -> Timing | None:
    """Running time and pace of the newest run-throughs in which nearly every word was spoken."""
    whole = [r for r in runs if r.words and r.dropped <= 0.1 * r.words and r.seconds > 0][-_PACE_RUNS:]
    if not whole:
        return None
    seconds = [r.seconds for r in whole]
    return Timing(
        len(whole),
        median(seconds),
        min(seconds),
        max(seconds),
        median(r.rate_wpm for r in whole),
        limit,
        0 if limit is None else sum(s > limit for s in seconds),
    )


def units_seen(units: Sequence[Unit], known: Iterable[int]) -> float:
    """The share of the thoughts that have ever been asked."""
    keys = set(known)
    return sum(u.key in keys for u in units) / len(units) if units else 0.0
