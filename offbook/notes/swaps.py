"""Swaps: words, phrases or lines that were all said, in another order than the script's.

Two ways to find them. A stretch that was dropped here and heard there has moved. And a stretch whose
heard words are the script's own, only in another order ("no oar, no bell" for "no bell, no oar"),
was swapped within itself.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from rapidfuzz.distance import Levenshtein

from offbook.align import FILLERS
from offbook.notes.asides import ExtrasBetween
from offbook.notes.quoting import SMALL, SpokenScript
from offbook.notes.repair import Heard, bad_runs, heard_between
from offbook.score import Extra, Run, WordVerdict, decided
from offbook.soundalike import same_sound

_FAR = 120  # script words that a whole line may have moved, about a minute of speech
_NEAR = 3  # script words that a single word may have moved past
_LIKE = 0.7  # least agreement, word for word, of a moved phrase with the script
# Words, set by hand: the more of them there are, the surer that they moved together.
_PAIR, _SEVERAL, _PHRASE = 2, 3, 4
_SPAN = 12  # longest stretch, in words, searched for a swap within itself


@dataclass(frozen=True, slots=True)
class Swap:
    """Words first to last of the script were said in another order, or elsewhere.

    moved_to: the script word before which a moved stretch was said; None for a swap within itself.
    extras: the heard words it accounts for. heard: what was heard. at: seconds. restated: the verdicts
    of a swap within itself, each word beside what was heard in its place.
    """

    first: int
    last: int
    heard: str
    at: float
    moved_to: int | None
    extras: tuple[Extra, ...]
    restated: tuple[WordVerdict, ...] = ()


def find_swaps(page: SpokenScript, run: Run, stretches: list[ExtrasBetween]) -> list[Swap]:
    """Every swap of `run`, in the order of the script; no word belongs to two of them."""
    found = _within(page, run)
    taken = {i for s in found for i in range(s.first, s.last + 1)}
    for stretch in stretches:
        if any(e in s.extras for s in found for e in stretch.extras):
            continue
        moved = _moved(page, run, stretch, taken)
        if moved is not None:
            found.append(moved)
            taken |= set(range(moved.first, moved.last + 1))
    return sorted(found, key=lambda s: s.first)


def _moved(page: SpokenScript, run: Run, stretch: ExtrasBetween, taken: set[int]) -> Swap | None:
    """The dropped stretch of the script that this stretch of extras is, said elsewhere."""
    best, score = None, 0.0
    for start, end in _dropped_spans(run, len(stretch.tokens), taken):
        if not _reachable(page, start, end, stretch.place, len(stretch.tokens)):
            continue
        like = _agreement(page, start, end, stretch.tokens)
        if like > score:
            best, score = (start, end), like
    if best is None:
        return None
    first, last, place = best[0], best[1], stretch.place
    low, high = min(first, place), max(last, place - 1)
    if high - low + 1 <= _SPAN and len(stretch.tokens) < _PHRASE:  # neighbours: one note over both
        between = tuple(e for e in run.extras if low <= e.before_word <= high + 1)
        spoken = heard_between(run, low, high, between)
        return Swap(low, high, " ".join(h[2] for h in spoken), spoken[0][0], None, between)
    return Swap(first, last, " ".join(stretch.tokens), stretch.extras[0].start, place, stretch.extras)


def _dropped_spans(run: Run, count: int, taken: set[int]) -> Iterator[tuple[int, int]]:
    """The first and last of script words that were dropped together, up to `count` of them."""
    for first, last in bad_runs(run.words):
        dropped = [i for i in range(first, last + 1) if run.words[i].heard is None and i not in taken]
        for start in dropped:
            end = min(start + count - 1, last)
            if end in dropped:
                yield start, end


def _agreement(page: SpokenScript, start: int, end: int, tokens: tuple[str, ...]) -> float:
    """How like heard words are to script words start..end, from 0 to 1; 0 where it could be by chance."""
    said = [page.forms[start + k] if _is(page, start + k, end, t) else t for k, t in enumerate(tokens)]
    like = Levenshtein.normalized_similarity(page.forms[start : end + 1], said)
    if like < _LIKE and len(tokens) == _PAIR and page.about(start, tokens):
        like = _LIKE
    return like if like == 1.0 or (len(tokens) >= _PAIR and like >= _LIKE) else 0.0


def _is(page: SpokenScript, i: int, last: int, token: str) -> bool:
    return i <= last and page.says(i, token)


def _reachable(page: SpokenScript, start: int, end: int, place: int, count: int) -> bool:
    """Whether a stretch may have moved from words start..end to `place`, and has really moved."""
    distance = place - end - 1 if place > end else start - place
    if distance <= 0:
        return False
    if count >= _SEVERAL:
        return distance <= _FAR
    small = all(page.small(i) for i in range(start, end + 1))
    return distance <= (1 if small else _NEAR * count)


def _within(page: SpokenScript, run: Run) -> list[Swap]:
    """Stretches whose heard words are the script's own in another order, the shortest first."""
    found: list[Swap] = []
    taken: set[int] = set()
    for first, last in _windows(page, run):
        if taken & set(range(first, last + 1)):
            continue
        for low, high in ((first + 1, last), (first, last), (first + 1, last + 1), (first, last + 1)):
            extras = tuple(e for e in run.extras if low <= e.before_word <= high)
            heard = heard_between(run, first, last, extras)
            if _permuted(page, first, last, [h[2] for h in heard]):
                found.append(_trimmed(page, first, last, heard, extras))
                taken |= set(range(first, last + 1))
                break
    return found


def _windows(page: SpokenScript, run: Run) -> list[tuple[int, int]]:
    """Where to look for a swap: between any two places of trouble that are near, the nearest first."""
    marks = {i for first, last in bad_runs(run.words) for i in range(first, last + 1)}
    marks |= {i for e in run.extras for i in (e.before_word - 1, e.before_word) if 0 <= i < len(page)}
    ordered = sorted(marks)
    pairs = [(a, b) for k, a in enumerate(ordered) for b in ordered[k + 1 : k + _SPAN] if b - a < _SPAN]
    return sorted(pairs, key=lambda p: (p[1] - p[0], p[0]))


def _permuted(page: SpokenScript, first: int, last: int, tokens: list[str]) -> bool:
    """Whether `tokens` are script words first to last in another order, and that says something."""
    forms = list(page.forms[first : last + 1])
    if len(forms) != len(tokens) or page.same(first, tokens):
        return False
    said = _spelled(forms, tokens)
    if Counter(forms) != Counter(said):
        return False
    if [f for f in forms if f not in FILLERS] == [t for t in said if t not in FILLERS]:
        return False  # a hesitation elsewhere moves no words
    return len(forms) == _PAIR or any(f not in SMALL for f in forms)


def _spelled(forms: Sequence[str], tokens: Sequence[str]) -> list[str]:
    """`tokens` with each that sounds like one of `forms` spelled as that one: or, for oar."""
    return [next((f for f in forms if f == t or same_sound(f, t)), t) for t in tokens]


def _trimmed(
    page: SpokenScript, first: int, last: int, heard: list[Heard], extras: tuple[Extra, ...]
) -> Swap:
    """The swap without the words on either side that are where they should; every word restated."""
    wrong = [k for k, h in enumerate(heard) if not page.says(first + k, h[2])]
    a, b = wrong[0], wrong[-1]
    restated = tuple(
        WordVerdict(
            first + k, page.words[first + k].text, "changed" if k in wrong else "said", h[2], h[0], h[1], h[3]
        )
        for k, h in enumerate(heard)
    )
    said = " ".join(_spelled(page.forms[first : last + 1], [h[2] for h in heard[a : b + 1]]))
    return Swap(first + a, first + b, said, heard[a][0], None, extras, restated)


def restate(run: Run, swaps: list[Swap]) -> Run:
    """`run` with the words of every swap as they are in it, and without the extras it accounts for."""
    words = list(run.words)
    for swap in swaps:
        for verdict in swap.restated:
            told = "the words of this place were said in another order"
            swapped = replace(verdict, steps=words[verdict.i].steps)
            words[verdict.i] = decided(swapped, "swap", told)
    used = {e for s in swaps for e in s.extras}
    return replace(run, words=tuple(words), extras=tuple(e for e in run.extras if e not in used))
