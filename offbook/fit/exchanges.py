"""What a cut may do to a scene: a partner's line may go only with the speech that answers it.

A part consists of speeches with a cue before each. In a speech, the first thought answers the cue, and the
partner answers the last one, so both must stay. But whole speeches may go, each with its cue.
"""

from __future__ import annotations

from collections.abc import Sequence

from offbook.script import Cue, Script
from offbook.words import Word

CUE_END = 6  # words at the end of a partner's line that are quoted; set by hand
AT_ONCE = 4  # words at the beginning of a line: a pronoun among them refers to the line before; set by hand
SHORT_WORD = 3  # letters: words that are no longer do not connect two lines; set by hand
_PRONOUNS = frozenset(["he", "she", "it", "they", "him", "her", "them", "that", "this", "these", "those"])


class Exchanges:
    """The speeches of a part."""

    def __init__(self, script: Script, words: Sequence[Word], gaps: Sequence[str]) -> None:
        """gaps: what is printed before each word in the performer's own text (`Parsed.gaps`)."""
        self.words, self.gaps = words, gaps
        self.cues: dict[int, Cue] = {}  # the last cue before a word
        at = 0
        for cue in sorted(script.cues, key=lambda c: c.start):
            while at < len(words) and words[at].start < cue.start:
                at += 1
            self.cues[at] = cue

    def allow(self, first: int, after: int) -> bool:
        """Whether the words `first` up to `after` may go, so that the partner's lines still make sense."""
        inside = any(first < i < after for i in self.cues)
        if not inside and first not in self.cues and after not in self.cues:
            return True
        if not self.is_exchange(first, after):
            return False
        left_asking = first > 0 and "?" in self.gaps[first]
        return not left_asking and "?" not in self.gaps[after] and not self._answers(first, after)

    def _answers(self, first: int, after: int) -> bool:
        """Whether the partner's next line refers to what would be cut, by one of its words or a pronoun."""
        said = [w.strip(".,;:!?’'\"“”").lower() for w in self.cues[after].text.split()]
        gone = {w.text.lower() for w in self.words[first:after] if len(w.text) > SHORT_WORD}
        return not _PRONOUNS.isdisjoint(said[:AT_ONCE]) or not gone.isdisjoint(said)

    def is_exchange(self, first: int, after: int) -> bool:
        """Whether the cut consists of whole speeches, each with the cue before it."""
        return first in self.cues and after in self.cues

    def note(self, first: int, after: int) -> str | None:
        """What to tell about a cut that includes partners' lines; None if it includes none."""
        if not self.is_exchange(first, after):
            return None
        gone = [self.cues[i] for i in sorted(self.cues) if first <= i < after]
        names = " and ".join(dict.fromkeys(cue.speaker for cue in gone))
        said = " ".join(self.cues[after].text.split()[-CUE_END:])
        lines = "line goes" if len(gone) == 1 else "lines go"
        return f"{names}'s {lines} with it; your next cue, “{said}”, then follows what comes before the cut"
