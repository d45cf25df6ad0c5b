"""The text of a script after a cut, and where a passage is that somebody quotes."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise

from offbook.errors import OffbookError
from offbook.fit.search import Cut
from offbook.lexicon import dictionary_form
from offbook.phrasing import PERCENT
from offbook.script import Script
from offbook.spelling import PRINTED_WORD
from offbook.words import Word

ALIKE = 0.8  # how similar by letters, 0 to 1, a quoted passage and a place in the script must be; set by hand
_NUMBERS = re.compile(
    r"(?:(?P<noun>line|sentence)s?\s+)?(?P<first>\d+)(?:\s*[-–]\s*(?P<last>\d+))?", re.IGNORECASE
)
_TRAILING = re.compile(r"[,;:–—-]+(\s*)$")


class PassageError(OffbookError):
    """A passage to keep or to cut cannot be found."""


def passage(script: Script, words: Sequence[Word], named: str) -> tuple[int, int]:
    """The first and the last word (indices) of a passage.

    named: words of the passage, or numbers such as "5-8" or "sentence 4". A number alone is that of a line in
    verse and of a sentence in prose, as in the marked script. Raises PassageError if the passage is not in
    the script, or is there more than once.
    """
    numbers = _NUMBERS.fullmatch(named.strip())
    if numbers is not None:
        noun = (numbers["noun"] or ("sentence" if script.form == "prose" else "line")).lower()
        return _of_numbers(words, noun, int(numbers["first"]), int(numbers["last"] or numbers["first"]))
    wanted = [dictionary_form(m.group()).strip("'") for m in PRINTED_WORD.finditer(named)]
    forms = [dictionary_form(w.text).strip("'") for w in words]
    if not wanted:
        raise PassageError(
            f"{named!r} is not a passage", "quote words of the script, or give numbers such as 5-8"
        )
    exact = [i for i in range(len(forms) - len(wanted) + 1) if forms[i : i + len(wanted)] == wanted]
    if len(exact) > 1:
        raise PassageError(
            f"{named!r} is at {len(exact)} places in the script",
            "quote more of its words, or give its numbers",
        )
    if exact:
        return exact[0], exact[0] + len(wanted) - 1
    return _most_like(forms, wanted, named)


def _of_numbers(words: Sequence[Word], noun: str, first: int, last: int) -> tuple[int, int]:
    numbers = [w.sentence if noun == "sentence" else w.line for w in words]
    found = [w.i for w, n in zip(words, numbers, strict=True) if first <= n <= last]
    if not found:
        raise PassageError(
            f"the script has no spoken {noun} {first}"
            if first == last
            else f"the script has no {noun}s {first}-{last}",
            f"its {noun}s are {numbers[0]} to {numbers[-1]}",
        )
    return found[0], found[-1]


def _most_like(forms: Sequence[str], wanted: Sequence[str], named: str) -> tuple[int, int]:
    from rapidfuzz import fuzz

    said = " ".join(wanted)
    scores = [
        (fuzz.ratio(said, " ".join(forms[i : i + len(wanted)])) / PERCENT, -i)
        for i in range(max(1, len(forms) - len(wanted) + 1))
    ]
    score, at = max(scores)
    if score < ALIKE:
        raise PassageError(f"{named!r} was not found in the script", "quote its words as they are there")
    return -at, -at + len(wanted) - 1


def without(script: Script, words: Sequence[Word], cuts: Sequence[Cut]) -> str:
    """The whole text of `script` without `cuts`; punctuation and capitals are changed to fit there."""
    text, at, kept = script.text, 0, ""
    for cut in sorted(cuts, key=lambda c: c.first):
        start, end = _opening(text, words, cut.first), _opening(text, words, cut.after)
        if _is_exchange(script, words, cut):
            start, end = _stop_after(text, words[cut.first - 1]), _stop_after(text, words[cut.after - 1])
            kept += text[at:start]
            at = end
            continue
        if cut.after >= len(words):
            start, end = (words[cut.first - 1].end if cut.first else start), _closing(text, words)
            start += len(text[start:]) - len(text[start:].lstrip(".?!,;:\"”’')]…"))
        kept += text[at:start]
        at = end
        kept = _parted(kept, _white_before(text, end))
        if cut.first > 0 and cut.after < len(words):
            ends = words[cut.first - 1].sentence != words[cut.first].sentence
            opens = words[cut.after - 1].sentence != words[cut.after].sentence
            kept, at = _joined(kept, text, at, words[cut.after], ends, opens)
    return re.sub(r"\n{3,}", "\n\n", kept + text[at:])


def _is_exchange(script: Script, words: Sequence[Word], cut: Cut) -> bool:
    """Whether the cut consists of whole speeches of a part, each with the partner's line before it."""
    if not 0 < cut.first < cut.after < len(words):
        return False
    return all(
        any(words[i - 1].end <= cue.start and cue.end <= words[i].start for cue in script.cues)
        for i in (cut.first, cut.after)
    )


def _stop_after(text: str, word: Word) -> int:
    """The offset at which the line of a word ends."""
    end = text.find("\n", word.end)
    return end if end >= 0 else len(text)


def _white_before(text: str, at: int) -> str:
    """The blanks and line ends before an offset."""
    return text[len(text[:at].rstrip()) : at]


def _parted(kept: str, white: str) -> str:
    """The kept text before a cut, with the line ends before the cut or at its end, whichever are more."""
    bare = kept.rstrip()
    own = kept[len(bare) :]
    return kept if own.count("\n") >= white.count("\n") else bare + white


def _joined(kept: str, text: str, at: int, after: Word, ends: bool, opens: bool) -> tuple[str, int]:
    """The kept text and the next offset, with the sentences at the cut made to fit.

    An unfinished sentence gets a full stop, one without its beginning a capital. ends: whether a sentence
    ended before the cut. opens: whether one begins after it.
    """
    if opens and not ends:
        kept = _TRAILING.sub(r".\1", kept)
    if ends and not opens and text[after.start].islower():
        kept += text[at : after.start] + text[after.start].upper()
        at = after.start + 1
    return kept, at


def _opening(text: str, words: Sequence[Word], i: int) -> int:
    """The offset at which word `i` begins, with a quotation mark or bracket before it."""
    if i >= len(words):
        return len(text)
    start = words[i].start
    least = words[i - 1].end if i else 0
    while start > least and not text[start - 1].isspace() and text[start - 1] not in ".,;:?!—–-…”’)":
        start -= 1
    return start


def _closing(text: str, words: Sequence[Word]) -> int:
    """The offset at which the last word ends, with its punctuation."""
    end = words[-1].end
    while end < len(text) and not text[end].isspace():
        end += 1
    return end


def spoken(words: Sequence[Word], script: Script, cuts: Sequence[Cut]) -> str:
    """What is left to say after the cuts, line by line."""
    gone = {i for c in cuts for i in range(c.first, c.after)}
    text, rows, row = without(script, words, cuts), list[str](), ""
    if not script.cues and not script.left_out:
        return text.strip()
    left = [w for w in words if w.i not in gone]
    for a, b in pairwise([*left, None]):
        assert a is not None
        gap = script.text[a.end : b.start] if b is not None and b.i == a.i + 1 and b.line == a.line else ""
        row += script.text[a.start : a.end] + (gap or _mark_after(script.text, a.end))
        if b is None or not gap:
            rows.append(" ".join(row.split()))
            row = ""
    return "\n".join(rows)


def _mark_after(text: str, end: int) -> str:
    stop = end
    while stop < len(text) and not text[stop].isspace():
        stop += 1
    return text[end:stop]
