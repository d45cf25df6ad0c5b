"""Words in syllables for the eye: un-ac-count-a-ble, not un-ac-count-ab-le.

How many syllables a word has is the pronunciation's business. Where it is parted on paper is decided here:
the letters that sound as vowels are found, as many as there are syllables, and between two of them the
word is parted where pyphen would break it, or else before the longest group of consonants that can begin
an English syllable.
"""

from __future__ import annotations

import re
from functools import cache
from itertools import pairwise
from typing import Any

from offbook.spelling import plain_spelling

_VOWEL = "aeiouyàáâäèéêëìíîïòóôöùúûü"
# consonants that can begin a syllable together
_ONSETS_TEXT = (
    "bl br ch cl cr dr dw fl fr gh gl gr kn ph phr pl pr sc scr sh shr sk sl sm sn sp spl spr squ st "
    "str sw th thr tr tw wh wr qu"
)
_ONSETS = frozenset(_ONSETS_TEXT.split())
# two vowel letters that are said apart, the likeliest first
_APART_TEXT = "ia io eo ua iu uo ie ue ui oe yi ea ei ai ae au oi ou oo ee oa"
_APART = _APART_TEXT.split()
# a last syllable without a vowel letter of its own: prism, rhythm, and the endings of didn't and couldn't
_SYLLABIC = re.compile(r"(?<=[sth])m(?='?s?$)|(?<=[dst])n(?='t$)")
# "un" put before a word that begins with a vowel
_PREFIX = re.compile(r"un(?:a(?!n)|e|o|i[^tqfvosx])\w{3}")
Nucleus = tuple[int, int]


@cache
def _breaks() -> Any:
    from pyphen import Pyphen

    return Pyphen(lang="en_US", left=1, right=1)


def parts(word: str, count: int) -> tuple[str, ...]:
    """`word` in `count` parts, each with a vowel; in fewer where its letters do not give so many."""
    if count <= 1:
        return (word,)
    low = plain_spelling(word)
    found = _as_many(low, count)
    hints = set(_breaks().positions(low))
    cuts = [_cut(low, a, b, hints) for a, b in pairwise(found)]
    return tuple(word[a:b] for a, b in zip([0, *cuts], [*cuts, len(word)], strict=True))


def _nuclei(low: str) -> tuple[list[Nucleus], list[Nucleus]]:
    """The groups of vowel letters that sound, and those that could be silent."""
    groups = [m.span() for m in re.finditer(f"[{_VOWEL}]+", low)]
    split: list[Nucleus] = []
    for a, b in groups:
        if low[a - 1 : a + 1] == "qu" or (low[a] == "y" and a == 0):
            a += 1
        for k in range(a + 1, b - 1):  # a y between two vowels opens the second: roy-al, be-yond
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


def _as_many(low: str, count: int) -> list[Nucleus]:
    """`count` nuclei of the word, or as many as there can be."""
    sounded, silent = _nuclei(low)
    while len(sounded) < count:
        more = _one_more(low, sounded, silent)
        if more is None:
            break
        sounded = more
    while len(sounded) > count:
        sounded.remove(min(sounded, key=lambda n: _weight(low, sounded, n)))
    return sounded


def _one_more(low: str, sounded: list[Nucleus], silent: list[Nucleus]) -> list[Nucleus] | None:
    pairs = [(a, b, k) for a, b in sounded for k in range(a + 1, b)]
    for apart in _APART[:10]:
        for a, b, k in pairs:
            if low[k - 1 : k + 1] == apart:
                return sorted([*(n for n in sounded if n != (a, b)), (a, k), (k, b)])
    syllabic = _SYLLABIC.search(low)
    if syllabic is not None and syllabic.span() not in sounded:
        return sorted([*sounded, syllabic.span()])
    if silent and (not pairs or low[silent[-1][1] :] == "d"):
        return sorted([*sounded, silent.pop()])
    for apart in _APART[10:]:
        for a, b, k in reversed(pairs):
            if low[k - 1 : k + 1] == apart:
                return sorted([*(n for n in sounded if n != (a, b)), (a, k), (k, b)])
    if pairs:
        a, b, k = pairs[-1]
        return sorted([*(n for n in sounded if n != (a, b)), (a, k), (k, b)])
    return None


def _weight(low: str, nuclei: list[Nucleus], n: Nucleus) -> float:
    """How much a nucleus looks like a syllable of its own: an inner e between consonants the least."""
    inner = nuclei.index(n) not in (0, len(nuclei) - 1)
    letters = low[n[0] : n[1]]
    near = min((abs(n[0] - o[1]) for o in nuclei if o[1] <= n[0]), default=9)
    return (0 if inner else 4) + (0 if letters == "e" else 1) + len(letters) + 0.1 * near


def _cut(low: str, a: Nucleus, b: Nucleus, hints: set[int]) -> int:
    """Where to part the word between two nuclei."""
    start, end = a[1], b[0]
    if start >= end:
        return end
    if _is_le(low, b):
        return end - 1 if low[end - 3 : end - 1] == "ck" else max(start, end - 2)
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
