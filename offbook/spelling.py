"""Words and names as they are compared: one kind of apostrophe, small letters."""

from __future__ import annotations

import re

PRINTED_WORD = re.compile(r"[^\W_]+(?:['’][^\W_]+)*['’]?")  # a word in a text, with its apostrophes


def straight(text: str) -> str:
    """The text with straight apostrophes in place of the three other kinds that files have."""
    return text.replace("’", "'").replace("‘", "'").replace("ʼ", "'")


def plain_spelling(word: str) -> str:
    """A word in small letters with straight apostrophes."""
    return straight(word).lower()


def plain_name(name: str) -> str:
    """A name in small letters, with single spaces in place of underscores and of more than one space."""
    return " ".join(name.replace("_", " ").casefold().split())
