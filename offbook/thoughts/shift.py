"""From signals to marks: each place weighed, graded and given its reasons."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from offbook.script import Script
from offbook.thoughts.causes import Places
from offbook.thoughts.parse import parse_words
from offbook.thoughts.reasons import explain
from offbook.thoughts.stance import Stance
from offbook.thoughts.turns import Turns
from offbook.thoughts.weights import TURNS, phrase_score, thought_score
from offbook.words import Word

Grade = Literal[1, 2, 3]


@dataclass(frozen=True, slots=True)
class Shift:
    """A mark before a word. grade: 1 a new phrase, 2 a new thought, 3 a turn.

    reason: the strongest signal in the performer's words; reasons: all of them, strongest first.
    source: "offbook" where it was computed, "performer" where it stands in the performer's file.
    """

    before_word: int
    grade: Grade
    reason: str
    reasons: tuple[str, ...]
    source: Literal["offbook", "performer"] = "offbook"


def shifts_of(script: Script, words: Sequence[Word]) -> tuple[Shift, ...]:
    """The shifts of the speech, in order, at most one before each word (never before the first)."""
    if len(words) < 2:
        return ()
    parsed = parse_words(script, words)
    places = Places(parsed, words)
    causes = {i: places.causes(i) for i in range(1, len(words))}
    thoughts = {i for i, found in causes.items() if thought_score(found) > 0}
    units = [0, *(i for i, found in causes.items() if i in thoughts or phrase_score(found) > 0)]
    turns, stance = Turns(places, units), Stance(places, units)
    speakers = {line.n: line.speaker for line in script.lines}
    verse = {line.n for line in script.lines if line.verse}
    shifts: list[Shift] = []
    for i in units[1:]:
        signals = turns.signals(i) | stance.signals(i) | _outward(places, causes[i], words, i, verse)
        new_part = speakers[words[i].line] != speakers[words[i - 1].line]
        if new_part or (i in parsed.directions and i in parsed.paragraph_starts):
            signals |= {"speaker"} if new_part or script.cues else {"direction"}
        if any(s.startswith("repeats ") and s != "repeats 1" for s in signals):
            signals -= {"pair in one frame"}  # some of you ... some of you: it builds, it does not oppose
        grade: Grade = 1
        if i in parsed.paragraph_starts or not signals.isdisjoint(TURNS):
            grade = 3
        elif i in thoughts or i in parsed.directions:
            grade = 2
        reasons = explain(signals, causes[i], words, i)
        shifts.append(Shift(i, grade, reasons[0], reasons))
    return tuple(shifts)


def _outward(
    places: Places, causes: frozenset[str], words: Sequence[Word], i: int, verse: set[int]
) -> set[str]:
    """What the page shows: punctuation in its use in a script, line ends, stanzas, directions."""
    parsed, gap = places.parsed, places.parsed.gaps[i]
    new_line = words[i].line != words[i - 1].line
    in_verse = words[i].line in verse
    found: set[str] = set()
    if i in parsed.paragraph_starts:
        found.add("stanza" if in_verse else "paragraph")
    elif i in parsed.directions:
        found.add("direction")
    if i in parsed.sentence_starts and "?" in gap:
        found.add("question asked")
    elif i in parsed.sentence_starts and "!" in gap:
        found.add("cry ended")
    mark = next(iter(causes & {"semicolon", "colon", "dash", "bracket opens", "bracket closes"}), None)
    if mark is not None:
        found.add(mark)
    if re.search(r"[\"“”]", gap):
        found.add("quotation mark")
    if in_verse and new_line and i not in parsed.paragraph_starts:
        found.add("end-stopped" if re.search(r"[^\s\"“”'‘’]", gap) else "enjambed")
    elif in_verse and not new_line and gap.strip():
        found.add("caesura")
    return found
