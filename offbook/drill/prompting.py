"""Prompts in a drill: a question mark asks for the next word, and then for the rest of the phrase.

A word that was prompted was not recalled: the answer does not count it, and its thought comes back.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass, replace

from offbook.drill.judging import ComparedWord, JudgedAnswer, judge, tokens
from offbook.script import Script
from offbook.words import Word

LONGEST_PHRASE = 6  # words of a prompt at most; set by hand: more is reading, not recalling
_ASKS = re.compile(r"(?:^|\s)(?:\?|line\s*\?)\s*$", re.IGNORECASE)
_STOPS = frozenset(",;:.!?—–…")


def before_a_prompt(typed: str, next_word: str = "") -> str | None:
    """What was typed before a prompt was asked for; None where none was asked for.

    "?" or "line?" at the end asks, and "line" by itself, unless that is the next word of the script.
    """
    if typed.strip().lower() == "line" and next_word.lower() != "line":
        return ""
    found = _ASKS.search(typed)
    return None if found is None else typed[: found.start()].strip()


@dataclass(frozen=True, slots=True)
class Answering:
    """An answer that is still being given: what was typed so far, and the words that were prompted.

    words: the whole script; first, last: the words asked for.
    """

    script: Script
    words: Sequence[Word]
    first: int
    last: int
    given: tuple[tuple[str, bool], ...] = ()  # each stretch, and whether it was prompted
    prompted: tuple[int, ...] = ()
    fresh: bool = False  # the last thing that happened was a prompt

    def add(self, text: str) -> Answering:
        """The answer with more words typed.

        Typing the words of the last prompt again, as people do, is no mistake.
        """
        if not text.strip():
            return self
        given = tokens(text)
        if self.fresh:
            run = _ending_run(self.prompted)
            said = [w.lower() for k in run for w in tokens(self.words[k].text)]
            if [g.lower() for g in given[: len(said)]] == said:
                given = given[len(said) :]
        return replace(self, given=(*self.given, (" ".join(given), False)), fresh=False)

    def prompt(self) -> tuple[Answering, str]:
        """The answer with the next word prompted, or, asked again at once, the rest of its phrase; and the
        words of the prompt as the script has them, empty where nothing is left to prompt."""
        at = self._reached()
        if at > self.last:
            return self, ""
        end = self._phrase_end(at) if self.fresh else at
        words = range(at, end + 1)
        text = " ".join(self.words[k].text for k in words)
        given = (*self.given, (text, True))
        return replace(self, given=given, prompted=(*self.prompted, *words), fresh=True), text

    def _reached(self) -> int:
        """The number of the next word: the one after the last that was given or prompted."""
        found = self._compared()
        given = [p.word for p in found.places if p.word is not None and p.kind != "lost"]
        return max([self.first - 1, *given, *self.prompted]) + 1

    def _phrase_end(self, at: int) -> int:
        for k in range(at, min(self.last, at + LONGEST_PHRASE - 1)):
            gap = self.script.text[self.words[k].end : self.words[k + 1].start]
            if any(c in _STOPS or unicodedata.category(c) == "Pd" for c in gap if c != "-"):
                return k
        return min(self.last, at + LONGEST_PHRASE - 1)

    def _compared(self) -> JudgedAnswer:
        a, b = self.first, self.last + 1
        return judge(self.words[a:b], self.text, self.words[:a], self.words[b:])

    @property
    def text(self) -> str:
        """What was typed and prompted, in order."""
        return " ".join(text for text, _ in self.given if text)

    @property
    def shown(self) -> str:
        """The same for the record, each prompt in square brackets."""
        return " ".join(f"[{text}]" if prompted else text for text, prompted in self.given if text)

    def judged(self) -> JudgedAnswer:
        """The answer beside the script. A word that was prompted is neither right nor wrong, but prompted."""
        held = set(self.prompted)
        places = tuple(
            ComparedWord("prompted", p.word, p.script, p.given) if p.word in held else p
            for p in self._compared().places
        )
        return JudgedAnswer(places)


def _ending_run(numbers: Sequence[int]) -> list[int]:
    """The last numbers that follow one another."""
    out: list[int] = []
    for k in reversed(numbers):
        if out and out[0] != k + 1:
            break
        out.insert(0, k)
    return out
