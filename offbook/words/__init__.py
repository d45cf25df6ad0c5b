"""Words: one entry for each spoken word of a script, with its place in the text and its spoken forms."""

from __future__ import annotations

from offbook.words.contracted import (
    contraction,
    plain,
)
from offbook.words.entries import (
    Word,
    words_of,
)
from offbook.words.spoken_forms import (
    fold,
)

__all__ = [
    "Word",
    "contraction",
    "fold",
    "plain",
    "words_of",
]
