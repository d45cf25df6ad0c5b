"""The words of a speech as cells: text with its punctuation, stress marks above, the bar before.

Both the terminal and the printed page are made of them, so that both show the same marks.
"""

from __future__ import annotations

from dataclasses import dataclass

from offbook.lexicon import divide
from offbook.markup.marked import MarkedScript
from offbook.thoughts import Shift

BARS = {1: "|", 2: "||", 3: "|||"}
OPEN = "?"  # after the bar of a turn that one good reader makes and another does not
VOWELS = "aeiouyàâäéèêëîïôöùûü"


def bar_of(shift: Shift) -> str:
    """The bar that stands for a shift."""
    return BARS[shift.grade] + (OPEN if shift.open else "")


@dataclass(frozen=True, slots=True)
class Cell:
    """One word as it is shown, with the punctuation before and after it.

    word: its number; before, text, after: what is printed, in this order; stress: spoken stress, w (weak) or
    s (strong) for each syllable, empty where nothing is scanned; bar: the mark before it, empty where there
    is none; glued: there is no blank between it and the word before.
    """

    word: int
    before: str
    text: str
    after: str
    stress: str
    bar: str
    glued: bool

    @property
    def printed(self) -> str:
        """The whole text of the cell."""
        return self.before + self.text + self.after

    @property
    def above(self) -> str:
        """The marks x and / over the vowels of the syllables, to be printed above `printed`."""
        row = [" "] * len(self.printed)
        at = len(self.before)
        for part, mark in zip(self.syllables, self.stress, strict=False):
            vowel = next((k for k, c in enumerate(part) if c.lower() in VOWELS), 0)
            row[min(at + vowel, len(row) - 1)] = "/" if mark == "s" else "x"
            at += len(part)
        return "".join(row).rstrip()

    @property
    def syllables(self) -> tuple[str, ...]:
        """`text` in as many parts as `stress` has syllables; whole where it is not scanned."""
        return divide(self.text, len(self.stress)) if self.stress else (self.text,)


def cells(marked: MarkedScript, first: int, last: int) -> list[Cell]:
    """The words `first` to `last`, inclusive. The bar before `first` is left out: it opens the row."""
    words, text = marked.words, marked.script.text
    bars = {s.before_word: bar_of(s) for s in marked.shifts_from(first + 1, last)}
    stress = _stresses(marked, first, last)
    gaps = [_gap(marked, i) for i in range(first, last + 2)]
    found = []
    for i in range(first, last + 1):
        (_, _, before, glued), (after, middle, _, _) = gaps[i - first], gaps[i - first + 1]
        if middle and i < last:
            after = f"{after} {middle}"
        shown = text[words[i].start : words[i].end]
        shown = shown if "\n" not in shown else words[i].text
        found.append(
            Cell(i, "" if glued and i > first else before, shown, after,
                 stress.get(i, ""), bars.get(i, ""), glued and i > first)
        )  # fmt: skip
    return found


def _gap(marked: MarkedScript, i: int) -> tuple[str, str, str, bool]:
    """What comes before word `i`: what clings to the word before, what is free, what clings to it.

    Last, whether nothing parts the two words (a hyphen, a dash without spaces).
    """
    words, text = marked.words, marked.script.text
    lines = marked.script.lines
    start = words[i - 1].end if i else lines[0].start
    if i < len(words):
        end = words[i].start
    else:
        end = next((line.end for line in lines if line.n == words[-1].line), len(text))
    gap = text[start : max(start, end)]
    pieces = gap.split()
    if gap and not any(c.isspace() for c in gap) and 0 < i < len(words):
        return gap, "", "", True
    if not pieces:
        return "", "", "", not gap and 0 < i < len(words)
    closing = pieces.pop(0) if not gap[0].isspace() and i else ""
    opening = pieces.pop() if pieces and not gap[-1].isspace() and i < len(words) else ""
    middle = "" if "\n" in gap else " ".join(pieces)
    return closing, middle, opening, False


def _stresses(marked: MarkedScript, first: int, last: int) -> dict[int, str]:
    """Spoken stress of each of the words that are in a scanned line."""
    found: dict[int, str] = {}
    for m in marked.lines_from(first, last):
        if m.scansion is None or m.first is None or m.last is None:
            continue
        at = 0
        for i, n in zip(range(m.first, m.last + 1), m.scansion.word_syllables, strict=False):
            found[i] = m.scansion.stress[at : at + n]
            at += n
    return found
