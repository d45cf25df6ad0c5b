"""What a cut may do to a scene: a partner's line goes only with the speech that answers it.

A part is a row of speeches with a cue before each. Inside a speech the first thought answers the cue and the
last one is what the partner answers, so both stay. Beyond that whole speeches may go, each with its cue.
"""

from __future__ import annotations

from collections.abc import Sequence

from offbook.script import Cue, Script
from offbook.words import Word

CUE_END = 6  # words of a partner's line that are quoted
AT_ONCE = 4  # words of a line within which a pronoun takes up the line before
SHORT_WORD = 3  # letters; words no longer join any two lines
_PRONOUNS = frozenset(["he", "she", "it", "they", "him", "her", "them", "that", "this", "these", "those"])


class Exchanges:
    """The speeches of a part."""

    def __init__(self, script: Script, words: Sequence[Word], gaps: Sequence[str]) -> None:
        """gaps: what the performer's own text has before each word (`Parsed.gaps`)."""
        self.words, self.gaps = words, gaps
        self.cues: dict[int, Cue] = {}  # the last cue before a word
        at = 0
        for cue in sorted(script.cues, key=lambda c: c.start):
            while at < len(words) and words[at].start < cue.start:
                at += 1
            self.cues[at] = cue

    def allow(self, first: int, after: int) -> bool:
        """Whether the words `first` up to `after` may go without leaving the partner alone."""
        inside = any(first < i < after for i in self.cues)
        if not inside and first not in self.cues and after not in self.cues:
            return True
        if not self.is_exchange(first, after):
            return False
        left_asking = first > 0 and "?" in self.gaps[first]
        return not left_asking and "?" not in self.gaps[after] and not self._answers(first, after)

    def _answers(self, first: int, after: int) -> bool:
        """Whether the partner's next line takes up what would be gone, by a word of it or a pronoun."""
        said = [w.strip(".,;:!?’'\"“”").lower() for w in self.cues[after].text.split()]
        gone = {w.text.lower() for w in self.words[first:after] if len(w.text) > SHORT_WORD}
        return not _PRONOUNS.isdisjoint(said[:AT_ONCE]) or not gone.isdisjoint(said)

    def is_exchange(self, first: int, after: int) -> bool:
        """Whether whole speeches go, each with the cue before it."""
        return first in self.cues and after in self.cues

    def note(self, first: int, after: int) -> str | None:
        """What to say of a cut that takes partners' lines with it; None where it takes none."""
        if not self.is_exchange(first, after):
            return None
        gone = [self.cues[i] for i in sorted(self.cues) if first <= i < after]
        names = " and ".join(dict.fromkeys(cue.speaker for cue in gone))
        said = " ".join(self.cues[after].text.split()[-CUE_END:])
        lines = "line goes" if len(gone) == 1 else "lines go"
        return f"{names}'s {lines} with it; your next cue, “{said}”, then follows what comes before the cut"
