"""What the scansion of a speech is made of: the scanned line, the open reading, the versification."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

Form = Literal["verse", "prose", "mixed"]

# A performer's corrections: a word's index (`Word.i`) or its lower-case text to its stress, one w or s
# for each syllable it is to have ("wsw"). An index wins over a text.
Fixes = Mapping[int | str, str]


@dataclass(frozen=True, slots=True)
class OpenReading:
    """Where good readers differ: another stress of the line, and why. Same syllables as the line.

    variations: what departs from the plain metre when the line is said so.
    """

    stress: str
    why: str
    variations: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Scansion:
    """One verse line, scanned.

    n: `Line.n`. stress: spoken stress, one w or s a syllable. feet: the same syllables in feet, each
    foot its own string of w and s; "".join(feet) is the foot scansion. pattern: the plain metre under the
    line. word_syllables: how many of the syllables each word of the line has (0 for a word elided into
    its neighbour). variations: where `stress` departs from the plain metre, foot by foot, by handbook name.
    caesura_before_word: index into all words (`Word.i`). enjambed: the sense runs on without a stop.
    open: readings that good readers differ on. shared_with: the `Line.n` with which two speakers
    complete one verse line. metre: None where the line keeps to none.
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
    """The verse of a whole script. lines: one `Scansion` for each `Line`, None for a line of prose.

    metre: the passage's form by name ("blank verse", "ballad measure", "iambic tetrameter", "free
    verse"), None in prose. fit: 0..1, how well the lines keep that metre. open: where the metre itself can
    be named in two ways, the other name; else empty.
    """

    form: Form
    metre: str | None
    lines: tuple[Scansion | None, ...]
    fit: float = 0.0
    open: str = ""
