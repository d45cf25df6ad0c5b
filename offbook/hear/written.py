"""How a heard word is written."""

from __future__ import annotations


def in_writing(word: str) -> str:
    """A word in lower case, with a capital where English has one whatever is around it: i, i'm."""
    return word[:1].upper() + word[1:] if word == "i" or word.startswith("i'") else word
