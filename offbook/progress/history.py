"""Progress: what the run-throughs say, day by day, line by line, thought by thought.

Accuracy is the words said divided by the words of the script, once with the unsure words counted as said and
once as missed. Days are the performer's local days. Off book means at least 98 % of the words in two
run-throughs on different days without a prompt: professional actors say about 98 % of the script's words in
performance (Noice & Noice, Memory 7(3), 1999). Everything is computed from the records that are passed in.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from statistics import median
from typing import Literal

from offbook.phrasing import PERCENT
from offbook.records import DayTotal, RunRow, VerdictLetters, Version
from offbook.score import SOMETHING_ELSE
from offbook.words import as_written, numbered, where

OFF_BOOK = 98  # per cent of the words
# Set by hand.
LATELY = 10  # newest run-throughs that the figures by line and by thought look back on
_PACE_RUNS = 5  # newest run-throughs that running time and pace are taken from
_NEARLY_WHOLE = 0.1  # share of the words that such a run-through may drop
_WORST_SHOWN = 5  # lines or thoughts that go wrong again and again
How = Literal["dropped", "changed"]


@dataclass(frozen=True, slots=True)
class DayAccuracy:
    """Accuracy on one local day, 0 to 1.

    high: unsure words counted as said; low: counted as missed; seconds: mean length of a run-through.
    """

    day: date
    runs: int
    high: float
    low: float
    prompts: int
    seconds: float
    clean: bool


def by_day(totals: Iterable[DayTotal]) -> tuple[DayAccuracy, ...]:
    """Accuracy by local day. Several run-throughs on one day count by their words."""
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
    return run.words > 0 and (run.said + run.unsure) * PERCENT >= OFF_BOOK * run.words and run.prompts == 0


# Line by line --------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Mistake:
    """A mistake at one word that comes back. times: in how many run-throughs; instead: what was heard."""

    word: int
    text: str
    how: How
    instead: str | None
    times: int


@dataclass(frozen=True, slots=True)
class StretchHistory:
    """A line, a sentence of prose or a thought in the newest run-throughs.

    n: its number from 1; number: as it is shown beside the speech; noun: "line", "sentence" or "thought";
    first, last: its words; runs: how many run-throughs had words of it; accuracy: words said there divided by
    words of it, 0 to 1; latest: the same for the newest run-through alone; mistakes: what went wrong, the
    most frequent first.
    """

    n: int
    first: int
    last: int
    text: str
    runs: int
    accuracy: float
    latest: float
    mistakes: tuple[Mistake, ...]
    number: str
    noun: str


@dataclass(frozen=True, slots=True)
class WordCounts:
    """For each word of the draft: how many run-throughs had it, how often it was missed, and how.

    latest: whether the newest run-through said it, None where it did not have it.
    """

    asked: tuple[int, ...]
    missed: tuple[int, ...]
    how: tuple[Counter[tuple[How, str | None]], ...]
    latest: tuple[bool | None, ...]


def count_words(
    version: Version, marked: Sequence[VerdictLetters], slots: Mapping[str, Sequence[int]]
) -> WordCounts:
    """The verdicts of run-throughs of any drafts, counted for the words of `version`.

    slots: for each draft's key, the slots of its words; a word keeps its slot from draft to draft.
    """
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


def often_wrong(stretches: Iterable[StretchHistory], most: int = _WORST_SHOWN) -> tuple[StretchHistory, ...]:
    """The lines or thoughts with a word that went wrong at least twice lately, the worst first."""
    bad = [s for s in stretches if any(g.times > 1 for g in s.mistakes)]
    return tuple(sorted(bad, key=lambda s: (s.accuracy, s.first))[:most])


@dataclass(frozen=True, slots=True)
class SameEachTime:
    """A word that was heard as the same other word in each of the last run-throughs.

    It may well have been said as written, and only be heard wrong. times: in how many run-throughs.
    """

    word: int
    text: str
    heard: str
    times: int


LIKELY_HABIT = 2  # run-throughs in a row after which the performer is asked; set by hand: once is any slip


def same_each_time(
    version: Version, marked: Sequence[VerdictLetters], slots: Mapping[str, Sequence[int]]
) -> tuple[SameEachTime, ...]:
    """The words of `version` that were heard as the same other word in each of the last run-throughs."""
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
    """What was heard in place of a changed word; None where that is not sure enough to be quoted."""
    heard = marked.heard.get(word) if marked.letters[word] == "c" else None
    return None if heard == SOMETHING_ELSE else heard


def _stretch(
    version: Version, counts: WordCounts, n: int, first: int, last: int, number: str, noun: str
) -> StretchHistory:
    span = range(first, last + 1)
    asked = sum(counts.asked[i] for i in span)
    missed = sum(counts.missed[i] for i in span)
    now = [said for i in span if (said := counts.latest[i]) is not None]
    mistakes = [
        Mistake(i, version.words[i].text, kind, instead, times)
        for i in span
        for (kind, instead), times in counts.how[i].items()
    ]
    mistakes.sort(key=lambda g: (-g.times, g.word))
    return StretchHistory(
        n,
        first,
        last,
        as_written(version.script, version.words, first, last),
        max((counts.asked[i] for i in span), default=0),
        1 - missed / asked if asked else 0.0,
        sum(now) / len(now) if now else 0.0,
        tuple(mistakes),
        number,
        noun,
    )


# Time ----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Timing:
    """Running time in the newest run-throughs.

    runs: how many there are; seconds: their median; rate_wpm: words a minute; limit: seconds, None without
    one; over: how many were longer than the limit.
    """

    runs: int
    seconds: float
    shortest: float
    longest: float
    rate_wpm: float
    limit: float | None
    over: int


def timing_of(runs: Sequence[RunRow], limit: float | None) -> Timing | None:
    """Running time and pace of the newest run-throughs in which nearly every word was spoken."""
    whole = [r for r in runs if r.words and r.dropped <= _NEARLY_WHOLE * r.words and r.seconds > 0][
        -_PACE_RUNS:
    ]
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
