"""The page under the notes: where a word is, what it sounds like in writing, what surrounds it.

Everything that sorts or words a note looks at the script through a `SpokenScript`: its words as they may be
said, its lines and sentences, and plain questions about them (is this a small word, does a line end
here).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from offbook.script import Line, Script, word_set
from offbook.soundalike import alike, same_sound
from offbook.words import Word

# Words that carry the grammar and little of the sense: losing one troubles a listener less, and meeting
# one twice nearby proves nothing. Standard closed-class words of English, older forms included.
SMALL = word_set(
    """a an the this that these those and or but nor so yet for if as than then of to in on at by from with
    into upon unto onto out off up down over under i me my mine we us our you your ye thou thee thy thine he
    him his she her it its they them their who whom whose which what is am are was were be been being art
    wert do does did doth hath has have had shall will would should could can may might must not no o oh
    there here when where while though"""
)
_ALIKE = 0.6  # likeness of sound from which a word passes for another among words that are right
_MOST_CHARACTERS = 42  # of a quotation in a sentence; set by hand
_MOST_MARKS = 3  # marks between two words that are quoted with them: a dash and two quotation marks


@dataclass(frozen=True)
class SpokenScript:
    """A script and its words, with the words' likeliest spoken form as one string each."""

    script: Script
    words: tuple[Word, ...]
    forms: tuple[str, ...]

    @classmethod
    def of(cls, script: Script, words: Sequence[Word]) -> SpokenScript:
        """The page of `script`, whose spoken words are `words`."""
        return cls(script, tuple(words), tuple(" ".join(w.spoken[0]) for w in words))

    @cached_property
    def spots(self) -> dict[str, tuple[int, ...]]:
        """Where each form is in the script."""
        found: dict[str, list[int]] = {}
        for i, form in enumerate(self.forms):
            found.setdefault(form, []).append(i)
        return {form: tuple(each) for form, each in found.items()}

    def __len__(self) -> int:
        return len(self.words)

    def line_of(self, i: int) -> int:
        """The line of word `i`; of the last word, where `i` is past the end."""
        return self.words[min(i, len(self.words) - 1)].line

    def line(self, n: int) -> Line:
        """Line `n` of the script."""
        return next(line for line in self.script.lines if line.n == n)

    def wording(self, first: int, last: int) -> str:
        """What is printed from word `first` to word `last`, on one row, no directions between."""
        out = self.words[first].text
        for before, word in zip(self.words[first:last], self.words[first + 1 : last + 1], strict=True):
            gap = self.script.text[before.end : word.start]
            marks = "".join(c for c in gap if not c.isspace())
            plain_gap = not any(c.isalnum() for c in gap) and len(marks) <= _MOST_MARKS and "(" not in gap
            out += (re.sub(r"\s+", " ", gap) if plain_gap and gap else " ") + word.text
        return out

    def small(self, i: int) -> bool:
        """Whether word `i` is a small word."""
        return self.forms[i] in SMALL

    def says(self, i: int, heard: str) -> bool:
        """Whether `heard` (one word or several) is word `i`, or sounds the same as it."""
        return any(heard == " ".join(way) for way in self.words[i].spoken) or same_sound(heard, self.forms[i])

    def same(self, first: int, heard: Sequence[str]) -> bool:
        """Whether `heard` is the script from word `first` on, word for word."""
        inside = first >= 0 and first + len(heard) <= len(self)
        return inside and all(self.says(first + k, h) for k, h in enumerate(heard))

    def about(self, first: int, heard: Sequence[str]) -> bool:
        """Whether `heard` is the script from word `first` on: half of it to the word, the rest by sound.

        An old word (feed'st) is heard as what it sounds like (feats).
        """
        if first < 0 or first + len(heard) > len(self):
            return False
        unlike = [(self.forms[first + k], h) for k, h in enumerate(heard) if not self.says(first + k, h)]
        return 2 * len(unlike) <= len(heard) and all(alike(form, h) >= _ALIKE for form, h in unlike)

    def stop_before(self, i: int) -> str:
        """What ends just before word `i`: "paragraph", "sentence", "line", "phrase" or "" for nothing."""
        if i <= 0 or i >= len(self):
            return "paragraph"
        a, b = self.words[i - 1], self.words[i]
        if a.sentence != b.sentence:
            same = self.line(a.line).paragraph == self.line(b.line).paragraph
            return "sentence" if same else "paragraph"
        if a.line != b.line and self.line(a.line).verse:
            return "line"
        return "phrase" if re.search(r"[,;:—–…()-]", self.script.text[a.end : b.start]) else ""

    def opens(self, i: int) -> bool:
        """Whether word `i` begins a phrase or a sentence, by what comes before it or by its capital."""
        return bool(self.stop_before(i)) or self.words[i].text[:1].isupper()


def shorten(text: str, most: int = _MOST_CHARACTERS) -> str:
    """`text` cut at a word so that it is no longer than `most` characters, with an ellipsis."""
    if len(text) <= most:
        return text
    kept = text[: most - 1].rsplit(" ", 1)[0]
    return kept.rstrip(" ,;:.") + "…"
