"""Words: one entry for each spoken word of a script, with its place in the text and its spoken forms."""

from __future__ import annotations

from offbook.words.contracted import (
    contraction,
)
from offbook.words.entries import (
    Word,
    words_of,
)
from offbook.words.numbering import (
    Numbered,
    at_number,
    counted,
    number_of,
    numbered,
    where,
    where_each,
)
from offbook.words.passage import (
    as_written,
    between_words,
)
from offbook.words.spoken_forms import (
    fold,
)

__all__ = [
    "Numbered",
    "Word",
    "as_written",
    "at_number",
    "between_words",
    "contraction",
    "counted",
    "fold",
    "number_of",
    "numbered",
    "where",
    "where_each",
    "words_of",
]
