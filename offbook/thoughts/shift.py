"""From signals to marks: each place gets its score, its grade and its reasons."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from offbook.script import Script
from offbook.thoughts.address import speaks_to
from offbook.thoughts.causes import Places
from offbook.thoughts.changes import NEXT_STEP, Changes
from offbook.thoughts.contrast import Contrast
from offbook.thoughts.parse import Parsed, parse_words
from offbook.thoughts.played import Edges, thought_starts
from offbook.thoughts.reasons import explain
from offbook.thoughts.stance import Stance
from offbook.thoughts.turn_weights import SURE, turn_score, turns_apart
from offbook.thoughts.turning import Turning
from offbook.thoughts.weights import CONTRASTS, PLAYED_CONTRASTS, phrase_score, thought_score
from offbook.words import Word

Grade = Literal[1, 2, 3]
PHRASE_GRADE: Literal[1] = 1
THOUGHT_GRADE: Literal[2] = 2
TURN_GRADE: Literal[3] = 3


@dataclass(frozen=True, slots=True)
class Shift:
    """A mark before a word.

    before_word: the word's index. grade: 1 for a new phrase, 2 for a new thought, 3 for a turn. reason: the
    strongest one, in a performer's words. reasons: all of them, the strongest first. source: "offbook" if it
    was computed, "performer" if it is from the pencil file. open: whether it is a turn that not every good
    reader makes.
    """

    before_word: int
    grade: Grade
    reason: str
    reasons: tuple[str, ...]
    source: Literal["offbook", "performer"] = "offbook"
    open: bool = False


# All set by hand, with the figures of docs/thoughts.md in view.
PARAGRAPHS = 3  # prose with so many paragraphs or more was divided into paragraphs by its writer
RUNS_ON = 3.0  # log odds that are subtracted for a thought at the end of a line of verse without a stop
CERTAIN = 99.0  # log odds of a turn that is always marked
WITHIN_PARAGRAPHS = 2.5  # log odds that are subtracted for a turn inside such a paragraph


def shifts_of(script: Script, words: Sequence[Word]) -> tuple[Shift, ...]:
    """The shifts of the speech in order: at most one before each word, and none before the first."""
    return _Speech(script, words).shifts() if len(words) > 1 else ()


def called_on(script: Script, words: Sequence[Word]) -> tuple[tuple[int, int], ...]:
    """The forms of address (first and last word) in order, if the text then speaks to that person."""
    if not words:
        return ()
    turning = Turning(Places(parse_words(script, words), words), frozenset())
    return tuple(
        span
        for i, span in sorted(turning.calls.items())
        if speaks_to(turning.parsed, turning.low, i, turning.after[i])
    )


class _Speech:
    """A speech with everything that is needed to grade its places."""

    def __init__(self, script: Script, words: Sequence[Word]) -> None:
        self.script, self.words = script, words
        self.parsed = parse_words(script, words)
        self.places = Places(self.parsed, words)
        self.causes = {i: self.places.causes(i) for i in range(1, len(words))}
        self.verse_lines = {line.n for line in script.lines if line.verse}
        self.verse = frozenset(w.i for w in words if w.line in self.verse_lines)
        self.turning = Turning(self.places, self.verse)
        self.changes = Changes(script, words, self.turning)
        self.steps = {step.first: step for step in self.turning.steps}
        self.speakers = {line.n: line.speaker for line in script.lines}

    def shifts(self) -> tuple[Shift, ...]:
        """All shifts with their grades and reasons."""
        phrases = {
            i for i, found in self.causes.items() if phrase_score(found) > 0 or thought_score(found) > 0
        }
        units = [0, *sorted(phrases | self.steps.keys())]
        contrast, stance = Contrast(self.places, units), Stance(self.places, units)
        signals = {i: contrast.signals(i) | stance.signals(i) | self._outward(i) for i in units[1:]}
        turns = self._turns_laid_out(signals) | self._played_turns()
        steps = {i for i, found in signals.items() if not found.isdisjoint(PLAYED_CONTRASTS)}
        thoughts = set(thought_starts(self._edges(self._kept() | turns.keys() | steps)))
        marked = sorted(phrases | thoughts | turns.keys())
        return tuple(self._shift(i, signals.get(i) or self._outward(i), turns, thoughts) for i in marked)

    def _outward(self, i: int) -> frozenset[str]:
        return frozenset(_outward(self.places, self.causes[i], self.words, i, self.verse_lines))

    def _played_turns(self) -> dict[int, bool]:
        """The turns as a performer plays them: for each first word, whether others may not turn there."""
        scores = {i: turn_score(self.turning.signs(step)) for i, step in self.steps.items()}
        laid = self.parsed.paragraph_starts  # these are always turns
        worth = [
            (i, CERTAIN if i in laid else score - (WITHIN_PARAGRAPHS if self._laid_out(i) else 0))
            for i, score in scores.items()
        ]
        return {i: i not in laid and scores[i] <= SURE for i in turns_apart(worth)}

    def _laid_out(self, i: int) -> bool:
        """Whether word `i` is in prose that its writer has divided into paragraphs."""
        return i not in self.verse and len(self.parsed.paragraph_starts) >= PARAGRAPHS

    def _turns_laid_out(self, signals: Mapping[int, frozenset[str]]) -> dict[int, bool]:
        """The turns inside the paragraphs of prose: at a contrast, and where another voice begins a sentence.

        For each first word, whether other readers may not turn there; they may not if it is inside a
        sentence.
        """
        whole = self.parsed.sentence_starts
        turns = {i: i not in whole for i, found in signals.items() if not found.isdisjoint(CONTRASTS)}
        turns |= {i: False for i in whole if "quotation mark" in signals.get(i, ())}
        return {i: open_ for i, open_ in turns.items() if self._laid_out(i)}

    def _kept(self) -> set[int]:
        """Places where a thought of any length begins: at another speaker, a direction, quoted speech."""
        quoted = {i for i in self.parsed.sentence_starts if re.search('[“]|(?<!\\w)"', self.parsed.gaps[i])}
        kept = self.parsed.paragraph_starts | self.parsed.directions | quoted
        return {i for i in kept if 0 < i < len(self.words)}  # a direction may follow the last word

    def _edges(self, kept: set[int]) -> Edges:
        """Where thoughts may begin."""
        words = self.words
        line_starts = {i for i in self.verse if i and words[i].line != words[i - 1].line}
        stops = {i for i, mark in self.turning.marks.items() if mark in ("semicolon", "colon", "dash")}
        sentences = self.parsed.sentence_starts | self.parsed.unprinted_starts
        run_on = line_starts - {i for i in line_starts if self.parsed.gaps[i].strip()}

        def steps(i: int) -> float:
            return thought_score(self.causes[i]) - (RUNS_ON if i in run_on else 0)

        return Edges(
            len(words), self.parsed.counted, frozenset(kept - {0}), frozenset(sentences),
            frozenset(i for i in sentences if self.turning.leads(i)),
            frozenset(stops), frozenset(line_starts - run_on), steps,
            lambda i: phrase_score(self.causes[i]),
        )  # fmt: skip

    def _shift(self, i: int, signals: frozenset[str], turns: Mapping[int, bool], thoughts: set[int]) -> Shift:
        parsed, words = self.parsed, self.words
        new_part = self.speakers[words[i].line] != self.speakers[words[i - 1].line]
        if new_part or (i in parsed.directions and i in parsed.paragraph_starts):
            signals |= {"speaker"} if new_part or self.script.cues else {_directed(parsed, i)}
        if any(s.startswith("repeats ") and s != "repeats 1" for s in signals):
            signals -= {"pair in one frame"}  # "some of you ... some of you" is a list, not a contrast
        grade: Grade = TURN_GRADE if i in turns else THOUGHT_GRADE if i in thoughts else PHRASE_GRADE
        causes = self.causes[i] | ({"exclaims"} if self.places.exclaims(i) else set())
        reasons = explain(signals, causes, words, i)
        if grade == TURN_GRADE and i in self.steps and not new_part:
            reasons = tuple(dict.fromkeys(self.changes.at(self.steps[i]) + reasons))
        vague = grade == TURN_GRADE and reasons[0] == NEXT_STEP  # nothing in the text shows what changes
        return Shift(i, grade, reasons[0], reasons, open=turns.get(i, False) or vague)


def _directed(parsed: Parsed, i: int) -> str:
    """The signal of the stage direction before word `i`."""
    return "manner" if i in parsed.manners else "direction"


def _outward(
    places: Places, causes: frozenset[str], words: Sequence[Word], i: int, verse: set[int]
) -> set[str]:
    """The signals that are visible on the page: punctuation, line ends, stanzas, directions."""
    parsed, gap = places.parsed, places.parsed.gaps[i]
    new_line = words[i].line != words[i - 1].line
    in_verse = words[i].line in verse
    found: set[str] = set()
    if i in parsed.paragraph_starts:
        found.add("stanza" if in_verse else "paragraph")
    elif i in parsed.directions:
        found.add(_directed(parsed, i))
    if i in parsed.sentence_starts and "?" in gap:
        found.add("question asked")
    elif i in parsed.sentence_starts and "!" in gap:
        found.add("cry ended")
    stops = ("dash", "bracket opens", "bracket closes", "semicolon", "colon")
    mark = next((stop for stop in stops if stop in causes), None)
    if mark is not None:
        found.add(mark)
    if re.search(r"[\"“”]", gap):
        found.add("quotation mark")
    if in_verse and new_line and i not in parsed.paragraph_starts:
        found.add("end-stopped" if re.search(r"[^\s\"“”'‘’]", gap) else "enjambed")
    elif in_verse and not new_line and gap.strip():
        found.add("caesura")
    return found
