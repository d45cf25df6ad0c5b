"""The script as the notes see it: its words as they may be said, and how to quote them.

Everything that sorts or writes notes asks a `SpokenScript`: is this a small word, was this word said, does a
line end here, how is this stretch of words printed?
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from offbook.script import Line, Script, word_set
from offbook.soundalike import alike, same_sound
from offbook.words import Word

# Words that carry the grammar and little of the sense. To lose one disturbs a listener less, and to find one
# twice close together proves nothing. They are the closed-class words of English, with their older forms.
SMALL = word_set(
    """a an the this that these those and or but nor so yet for if as than then of to in on at by from with
    into upon unto onto out off up down over under i me my mine we us our you your ye thou thee thy thine he
    him his she her it its they them their who whom whose which what is am are was were be been being art
    wert do does did doth hath has have had shall will would should could can may might must not no o oh
    there here when where while though"""
)
_ALIKE = 0.6  # likeness of sound from which one word may be another one misheard; set by hand
_MOST_CHARACTERS = 42  # of a quotation within a sentence; set by hand
_MOST_MARKS = 3  # between two words that are quoted together: a dash and two quotation marks


@dataclass(frozen=True)
class SpokenScript:
    """A script and its words.

    forms: the likeliest spoken form of each word, in lower case, as one string.
    """

    script: Script
    words: tuple[Word, ...]
    forms: tuple[str, ...]

    @classmethod
    def of(cls, script: Script, words: Sequence[Word]) -> SpokenScript:
        """`script` with its spoken `words`."""
        return cls(script, tuple(words), tuple(" ".join(w.spoken[0]) for w in words))

    @cached_property
    def words_with_form(self) -> dict[str, tuple[int, ...]]:
        """For each form the words of the script that have it."""
        found: dict[str, list[int]] = {}
        for i, form in enumerate(self.forms):
            found.setdefault(form, []).append(i)
        return {form: tuple(each) for form, each in found.items()}

    def __len__(self) -> int:
        return len(self.words)

    def line_of(self, i: int) -> int:
        """The number of the line of word `i`, or of the last word where `i` is past the end."""
        return self.words[min(i, len(self.words) - 1)].line

    def line(self, n: int) -> Line:
        """The line of the script with number `n`."""
        return next(line for line in self.script.lines if line.n == n)

    def wording(self, first: int, last: int) -> str:
        """What is printed from word `first` to word `last`, on one row, without directions."""
        out = self.words[first].text
        for before, word in zip(self.words[first:last], self.words[first + 1 : last + 1], strict=True):
            gap = self.script.text[before.end : word.start]
            marks = "".join(c for c in gap if not c.isspace())
            plain_gap = not any(c.isalnum() for c in gap) and len(marks) <= _MOST_MARKS and "(" not in gap
            out += (re.sub(r"\s+", " ", gap) if plain_gap and gap else " ") + word.text
        return out

    def is_small(self, i: int) -> bool:
        """Whether word `i` is one of the `SMALL` words."""
        return self.forms[i] in SMALL

    def says(self, i: int, heard: str) -> bool:
        """Whether `heard` (one word or several) is word `i`, or sounds the same."""
        return any(heard == " ".join(way) for way in self.words[i].spoken) or same_sound(heard, self.forms[i])

    def is_word_for_word(self, first: int, heard: Sequence[str]) -> bool:
        """Whether the words `heard` are the script's from word `first` on, one for one."""
        inside = first >= 0 and first + len(heard) <= len(self)
        return inside and all(self.says(first + k, h) for k, h in enumerate(heard))

    def is_roughly(self, first: int, heard: Sequence[str]) -> bool:
        """Whether the words `heard` are about the script's from word `first` on.

        At least half of them must be the same; the others need only sound alike, because an old word
        ("feed'st") is heard as a word that sounds like it ("feats").
        """
        if first < 0 or first + len(heard) > len(self):
            return False
        unlike = [(self.forms[first + k], h) for k, h in enumerate(heard) if not self.says(first + k, h)]
        return 2 * len(unlike) <= len(heard) and all(alike(form, h) >= _ALIKE for form, h in unlike)

    def stop_before(self, i: int) -> str:
        """What ends just before word `i`: "paragraph", "sentence", "line", "phrase", or "" for nothing."""
        if i <= 0 or i >= len(self):
            return "paragraph"
        a, b = self.words[i - 1], self.words[i]
        if a.sentence != b.sentence:
            same = self.line(a.line).paragraph == self.line(b.line).paragraph
            return "sentence" if same else "paragraph"
        if a.line != b.line and self.line(a.line).verse:
            return "line"
        return "phrase" if re.search(r"[,;:—–…()-]", self.script.text[a.end : b.start]) else ""

    def begins_a_phrase(self, i: int) -> bool:
        """Whether word `i` begins a phrase or a sentence, by what stands before it or by its capital."""
        return bool(self.stop_before(i)) or self.words[i].text[:1].isupper()


def shorten(text: str, most: int = _MOST_CHARACTERS) -> str:
    """`text`, cut after a word and with an ellipsis where it has more than `most` characters."""
    if len(text) <= most:
        return text
    kept = text[: most - 1].rsplit(" ", 1)[0]
    return kept.rstrip(" ,;:.") + "…"
