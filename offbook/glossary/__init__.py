"""Words worth looking up before a speech is learnt, and why each one is."""

from __future__ import annotations

from offbook.glossary.worth_a_look import (
    LookUp,
    how_common,
    words_worth_a_look,
)

__all__ = [
    "LookUp",
    "how_common",
    "words_worth_a_look",
]
