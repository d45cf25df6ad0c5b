"""Swaps: words, phrases or lines that were all said, but in another order than the script's.

They are found in two ways. Words that were dropped at one place and heard at another have moved. And words
that are the script's own at their place, only in another order ("no oar, no bell" for "no bell, no oar"),
were swapped in place.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from rapidfuzz.distance import Levenshtein

from offbook.align import FILLERS
from offbook.notes.asides import ExtrasBetween
from offbook.notes.quoting import SMALL, SpokenScript
from offbook.notes.repair import Heard, heard_for, wrong_runs
from offbook.score import Extra, Run, WordVerdict, decided
from offbook.soundalike import alike, same_sound

_FARTHEST = 120  # script words that a longer phrase may have moved, about a minute of speech
_FARTHEST_WORD = 3  # script words that a single word may have moved, and as many for each word of a pair
_LEAST_AGREEMENT = 0.7  # at least this share of a moved phrase must be the script's words
# Or it must sound so much like them, 0 to 1; set by hand. "Know bees" for "snow peas" is 0.81, "a hall" for
# "the wall" 0.55.
_LEAST_LIKENESS = 0.7
# Sounds are only compared where so much of the letters agrees, 0 to 1: to compare a long phrase takes
# milliseconds, and there may be thousands. "Creating" and "create a" have 0.75, other phrases 0.2 to 0.35.
_LEAST_LETTERS = 0.45
# How many words make a pair, several, and a phrase: the more words, the surer it is that they moved.
_PAIR, _SEVERAL, _PHRASE = 2, 3, 4
_LONGEST_SWAP = 12  # words; a longer stretch is not searched for a swap in place


@dataclass(frozen=True, slots=True)
class Swap:
    """Script words first to last were said in another order, or somewhere else.

    heard: what was heard instead. at: when (s). moved_to: the script word before which moved words were said;
    None for a swap in place. extras: the extras that it explains. restated: for a swap in place the verdict
    on each word, with what was heard in its place; otherwise empty.
    """

    first: int
    last: int
    heard: str
    at: float
    moved_to: int | None
    extras: tuple[Extra, ...]
    restated: tuple[WordVerdict, ...] = ()


def find_swaps(page: SpokenScript, run: Run, stretches: list[ExtrasBetween]) -> list[Swap]:
    """Every swap of `run`, in the order of the script; no word belongs to two of them.

    stretches: the extras of each place.
    """
    found = _swapped_in_place(page, run)
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
    """The swap, if the extras of a place are words of the script that were dropped elsewhere; else None.

    taken: script words that belong to other swaps.
    """
    best, score = None, 0.0
    count = len(stretch.tokens)
    # The words of a phrase may be heard as one more or one fewer.
    spans = (span for n in (count, count + 1, count - 1) if n for span in _dropped_spans(run, n, taken))
    for start, end in dict.fromkeys(spans):
        if not _reachable(page, start, end, stretch.place, max(count, end - start + 1)):
            continue
        like = _agreement(page, start, end, stretch.tokens)
        if like > score:
            best, score = (start, end), like
    if best is None:
        return None
    first, last, place = best[0], best[1], stretch.place
    low, high = min(first, place), max(last, place - 1)
    if (
        high - low + 1 <= _LONGEST_SWAP and len(stretch.tokens) < _PHRASE
    ):  # close together: one note for both places
        between = tuple(e for e in run.extras if low <= e.before_word <= high + 1)
        spoken = heard_for(run, low, high, between)
        return Swap(low, high, " ".join(h[2] for h in spoken), spoken[0][0], None, between)
    return Swap(first, last, " ".join(stretch.tokens), stretch.extras[0].start, place, stretch.extras)


def _dropped_spans(run: Run, count: int, taken: set[int]) -> Iterator[tuple[int, int]]:
    """The first and last word of each run of up to `count` dropped words, none of them `taken`."""
    for first, last in wrong_runs(run.words):
        dropped = [i for i in range(first, last + 1) if run.words[i].heard is None and i not in taken]
        for start in dropped:
            end = min(start + count - 1, last)
            if end in dropped:
                yield start, end


def _agreement(page: SpokenScript, start: int, end: int, tokens: tuple[str, ...]) -> float:
    """How much heard words agree with script words start to end, 0 to 1; 0 where it may be by chance."""
    said = [
        page.forms[start + k] if _says_up_to(page, start + k, end, t) else t for k, t in enumerate(tokens)
    ]
    like = Levenshtein.normalized_similarity(page.forms[start : end + 1], said)
    if like >= _LEAST_AGREEMENT:
        return like
    half_heard = len(tokens) == _PAIR and page.is_roughly(start, tokens)
    return _LEAST_AGREEMENT if half_heard or _sounds_like(page, start, end, tokens) else 0.0


def _sounds_like(page: SpokenScript, start: int, end: int, tokens: Sequence[str]) -> bool:
    """Whether heard words sound like script words start to end, which are several and not all small."""
    if start == end or _are_small(page, start, end):
        return False
    ours, theirs = " ".join(page.forms[start : end + 1]), " ".join(tokens)
    close = Levenshtein.normalized_similarity(ours, theirs) >= _LEAST_LETTERS
    return close and alike(ours, theirs) >= _LEAST_LIKENESS


def _are_small(page: SpokenScript, start: int, end: int) -> bool:
    """Whether script words start to end are all small words."""
    return all(page.is_small(i) for i in range(start, end + 1))


def _says_up_to(page: SpokenScript, i: int, last: int, token: str) -> bool:
    """Whether script word `i` is not behind word `last` and a heard word is it."""
    return i <= last and page.says(i, token)


def _reachable(page: SpokenScript, start: int, end: int, place: int, count: int) -> bool:
    """Whether `count` heard words may have moved from script words start to end as far as `place`."""
    distance = max(place - end - 1, start - place)
    if distance <= 0:
        return False
    if count >= _SEVERAL:
        return distance <= _FARTHEST
    return distance <= (1 if _are_small(page, start, end) else _FARTHEST_WORD * count)


def _swapped_in_place(page: SpokenScript, run: Run) -> list[Swap]:
    """The swaps in place, the shortest first."""
    found: list[Swap] = []
    taken: set[int] = set()
    used: set[Extra] = set()  # a word that was heard once belongs to one swap
    for first, last in _windows(page, run):
        if taken & set(range(first, last + 1)):
            continue
        for low, high in ((first + 1, last), (first, last), (first + 1, last + 1), (first, last + 1)):
            extras = tuple(e for e in run.extras if low <= e.before_word <= high and e not in used)
            heard = heard_for(run, first, last, extras)
            if _is_another_order(page, first, last, [h[2] for h in heard]):
                found.append(_swap_in_place(page, first, last, heard, extras))
                taken |= set(range(first, last + 1))
                used |= set(extras)
                break
    return found


def _windows(page: SpokenScript, run: Run) -> list[tuple[int, int]]:
    """Where to look for a swap: from one slip to another that is near, the shortest stretches first."""
    marks = {i for first, last in wrong_runs(run.words) for i in range(first, last + 1)}
    marks |= {i for e in run.extras for i in (e.before_word - 1, e.before_word) if 0 <= i < len(page)}
    ordered = sorted(marks)
    pairs = [
        (a, b)
        for k, a in enumerate(ordered)
        for b in ordered[k + 1 : bisect_left(ordered, a + _LONGEST_SWAP)]
    ]
    return sorted(pairs, key=lambda p: p[1] - p[0])


def _is_another_order(page: SpokenScript, first: int, last: int, tokens: list[str]) -> bool:
    """Whether `tokens` are script words first to last in another order, and cannot be so by chance."""
    forms = list(page.forms[first : last + 1])
    if page.is_word_for_word(first, tokens):
        return False
    said = _spelled(forms, tokens)
    if Counter(forms) != Counter(said):
        return False
    if [f for f in forms if f not in FILLERS] == [t for t in said if t not in FILLERS]:
        return False  # only a hesitation came elsewhere
    return len(forms) == _PAIR or any(f not in SMALL for f in forms)


def _spelled(forms: Sequence[str], tokens: Sequence[str]) -> list[str]:
    """`tokens`, each spelled as the one of `forms` that sounds the same: "oar" for "or"."""
    return [t if t in forms else next((f for f in forms if same_sound(f, t)), t) for t in tokens]


def _swap_in_place(
    page: SpokenScript, first: int, last: int, heard: list[Heard], extras: tuple[Extra, ...]
) -> Swap:
    """The swap without the words at its ends that are where they belong.

    Its restated verdicts are those of all words first to last.
    """
    wrong = [k for k, h in enumerate(heard) if not page.says(first + k, h[2])]
    a, b = wrong[0], wrong[-1]
    restated = tuple(
        WordVerdict(
            i=first + k,
            text=page.words[first + k].text,
            verdict="changed" if k in wrong else "said",
            heard=token,
            start=start,
            end=end,
            confidence=confidence,
        )
        for k, (start, end, token, confidence) in enumerate(heard)
    )
    said = " ".join(_spelled(page.forms[first : last + 1], [h[2] for h in heard[a : b + 1]]))
    return Swap(first + a, first + b, said, heard[a][0], None, extras, restated)


def apply_swaps(run: Run, swaps: list[Swap]) -> Run:
    """`run` with the verdicts as the swaps restate them, and without the extras that they explain."""
    words = list(run.words)
    for swap in swaps:
        for verdict in swap.restated:
            told = "the words of this place were said in another order"
            swapped = replace(verdict, steps=words[verdict.i].steps)
            words[verdict.i] = decided(swapped, "swap", told)
    used = {e for s in swaps for e in s.extras}
    return replace(run, words=tuple(words), extras=tuple(e for e in run.extras if e not in used))
