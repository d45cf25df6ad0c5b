"""The results of scansion: the scanned line, another possible reading, and the verse of a whole script."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

Form = Literal["verse", "prose", "mixed"]

# A performer's corrections: from a word's index (`Word.i`) or its text in lower case to its stress, one w or
# s for each syllable ("wsw"). An index counts more than a text.
Fixes = Mapping[int | str, str]


@dataclass(frozen=True, slots=True)
class OpenReading:
    """Another good reading of a line, with the same syllables.

    stress: one w or s for each syllable. why: how it differs, in words. variations: from the plain metre,
    with this stress.
    """

    stress: str
    why: str
    variations: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Scansion:
    """One scanned line of verse.

    n: `Line.n`. stress: the spoken stress, one w or s for each syllable. feet: the same syllables in feet,
    each a string of w and s; "".join(feet) is the foot scansion. pattern: the plain metre of the line.
    word_syllables: how many syllables each word of the line has (0 for a word elided into its neighbour).
    metre: None if the line has none. variations: where `stress` differs from the plain metre, foot by foot,
    by the names of the handbooks. caesura_before_word: an index into all words (`Word.i`). enjambed: whether
    the sentence continues on the next line without a stop. open: other good readings. shared_with: the
    `Line.n` of another speaker's part of the same line.
    """

    n: int
    stress: str
    feet: tuple[str, ...]
    pattern: str
    syllables: int
    word_syllables: tuple[int, ...]
    metre: str | None
    variations: tuple[str, ...]
    caesura_before_word: int | None
    enjambed: bool
    open: tuple[OpenReading, ...] = ()
    shared_with: int | None = None


@dataclass(frozen=True, slots=True)
class Versification:
    """The verse of a whole script.

    metre: the name of its form ("blank verse", "ballad measure", "iambic tetrameter", "free verse"), None for
    prose. lines: one `Scansion` for each `Line`, None for a line of prose. fit: 0 to 1, how well the lines
    keep to the metre. open: another name for the metre, if it has two; else "".
    """

    form: Form
    metre: str | None
    lines: tuple[Scansion | None, ...]
    fit: float = 0.0
    open: str = ""
