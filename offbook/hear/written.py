"""How a heard word is written in a text."""

from __future__ import annotations


def written_form(word: str) -> str:
    """The word in lower case, except that "i" and its contractions ("i'm") get their capital.

    word: as the recogniser gives it, in lower case.
    """
    return word[:1].upper() + word[1:] if word == "i" or word.startswith("i'") else word
