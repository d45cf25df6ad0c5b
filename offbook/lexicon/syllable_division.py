"""Words in written syllables: un-ac-count-a-ble, not un-ac-count-ab-le.

The pronunciation says how many syllables a word has; this module decides where it is divided in writing. It
finds the groups of letters that sound as vowels, as many as there are syllables. Between two of them the word
is divided where pyphen would hyphenate it, or else before the longest group of consonants that can begin an
English syllable.
"""

from __future__ import annotations

import re
from functools import cache
from itertools import pairwise
from typing import Any

from offbook.spelling import plain_spelling

_VOWEL = "aeiouyàáâäèéêëìíîïòóôöùúûü"
# groups of consonants that can begin a syllable
_ONSETS_TEXT = (
    "bl br ch cl cr dr dw fl fr gh gl gr kn ph phr pl pr sc scr sh shr sk sl sm sn sp spl spr squ st "
    "str sw th thr tr tw wh wr qu"
)
_ONSETS = frozenset(_ONSETS_TEXT.split())
# Two vowel letters that may belong to two syllables, the likeliest first: those that often do, and those that
# seldom do. Set by hand.
_OFTEN_APART = ("ia", "io", "eo", "ua", "iu", "uo", "ie", "ue", "ui", "oe")
_SELDOM_APART = ("yi", "ea", "ei", "ai", "ae", "au", "oi", "ou", "oo", "ee", "oa")
# How much a group of vowel letters looks like a syllable, added up; set by hand. At the word's edge, for any
# letters but a single e, and for each letter of its distance from the group before (taken as 9 if there is
# none).
_AT_EDGE, _NOT_E, _EACH_LETTER_APART, _FAR = 4, 1, 0.1, 9
# a last syllable without a vowel letter of its own: prism, rhythm, and the endings of didn't and couldn't
_SYLLABIC = re.compile(r"(?<=[sth])m(?='?s?$)|(?<=[dst])n(?='t$)")
# the prefix "un" before a vowel
_PREFIX = re.compile(r"un(?:a(?!n)|e|o|i[^tqfvosx])\w{3}")
Nucleus = tuple[int, int]


@cache
def _hyphenation() -> Any:
    from pyphen import Pyphen

    return Pyphen(lang="en_US", left=1, right=1)


def divided_into(word: str, count: int) -> tuple[str, ...]:
    """`word` in `count` parts, each with a vowel; in fewer parts if it does not have letters for so many."""
    if count <= 1:
        return (word,)
    low = plain_spelling(word)
    found = _with_count(low, count)
    hints = set(_hyphenation().positions(low))
    cuts = [_cut(low, a, b, hints) for a, b in pairwise(found)]
    return tuple(word[a:b] for a, b in zip([0, *cuts], [*cuts, len(word)], strict=True))


def _nuclei(low: str) -> tuple[list[Nucleus], list[Nucleus]]:
    """The groups of vowel letters that are sounded, and those that may be silent, each as (start, end)."""
    groups = [m.span() for m in re.finditer(f"[{_VOWEL}]+", low)]
    split: list[Nucleus] = []
    for a, b in groups:
        if low[a - 1 : a + 1] == "qu" or (low[a] == "y" and a == 0):
            a += 1
        for k in range(a + 1, b - 1):  # a y between two vowels separates them: roy-al, be-yond
            if low[k] == "y":
                split.append((a, k))
                a = k
        if a < b:
            split.append((a, b))
    sounded: list[Nucleus] = []
    silent: list[Nucleus] = []
    for a, b in split:
        tail = low[a:]
        lone = bool(re.fullmatch(r"e('?s|d|'?)?", tail)) and bool(split[0] != (a, b))
        syllabic = bool(re.search(r"[bcdfgkpstz]l$", low[:a])) and tail.rstrip("'s") == "e"
        hissing = tail == "es" and bool(re.search(r"([cgsxz]|ch|sh)$", low[:a]))
        stopped = tail == "ed" and low[a - 1] in "td"
        (silent if lone and not (syllabic or hissing or stopped) else sounded).append((a, b))
    return sounded, silent


def _with_count(low: str, count: int) -> list[Nucleus]:
    """`count` groups of vowel letters, or as many as there can be."""
    sounded, silent = _nuclei(low)
    while len(sounded) < count:
        more = _with_one_more(low, sounded, silent)
        if more is None:
            break
        sounded = more
    while len(sounded) > count:
        sounded.remove(min(sounded, key=lambda n: _syllable_strength(low, sounded, n)))
    return sounded


def _with_one_more(low: str, sounded: list[Nucleus], silent: list[Nucleus]) -> list[Nucleus] | None:
    pairs = [(a, b, k) for a, b in sounded for k in range(a + 1, b)]
    for apart in _OFTEN_APART:
        for a, b, k in pairs:
            if low[k - 1 : k + 1] == apart:
                return sorted([*(n for n in sounded if n != (a, b)), (a, k), (k, b)])
    syllabic = _SYLLABIC.search(low)
    if syllabic is not None and syllabic.span() not in sounded:
        return sorted([*sounded, syllabic.span()])
    if silent and (not pairs or low[silent[-1][1] :] == "d"):
        return sorted([*sounded, silent.pop()])
    for apart in _SELDOM_APART:
        for a, b, k in reversed(pairs):
            if low[k - 1 : k + 1] == apart:
                return sorted([*(n for n in sounded if n != (a, b)), (a, k), (k, b)])
    if pairs:
        a, b, k = pairs[-1]
        return sorted([*(n for n in sounded if n != (a, b)), (a, k), (k, b)])
    return None


def _syllable_strength(low: str, nuclei: list[Nucleus], n: Nucleus) -> float:
    """How much a group of vowel letters looks like a syllable; least of all an e inside the word."""
    inner = nuclei.index(n) not in (0, len(nuclei) - 1)
    letters = low[n[0] : n[1]]
    near = min((abs(n[0] - o[1]) for o in nuclei if o[1] <= n[0]), default=_FAR)
    edge, vowel = 0 if inner else _AT_EDGE, 0 if letters == "e" else _NOT_E
    return edge + vowel + len(letters) + _EACH_LETTER_APART * near


def _cut(low: str, a: Nucleus, b: Nucleus, hints: set[int]) -> int:
    """Where to divide the word between two groups of vowel letters."""
    start, end = a[1], b[0]
    if start >= end:
        return end
    if _is_le(low, b):
        return end - 1 if low[: end - 1].endswith("ck") else max(start, end - 2)
    if start == 1 and _PREFIX.match(low):
        return 2
    hinted = [h for h in hints if start <= h <= end]
    best = _before_onset(low, start, end)
    return min(hinted, key=lambda h: (abs(h - best), h)) if hinted else best


def _is_le(low: str, n: Nucleus) -> bool:
    return low[n[0] : n[1]] == "e" and low[n[0] - 1] == "l" and low[n[1] :].strip("'sd") == ""


def _before_onset(low: str, start: int, end: int) -> int:
    run = low[start:end]
    if "'" in run:
        return start + run.index("'") if run.index("'") else start + 1
    if run == "w" or run[0] == "x":
        return start + 1
    for k in range(len(run) - 1):
        if run[k:] in _ONSETS:
            return start + k
    return end - 1
