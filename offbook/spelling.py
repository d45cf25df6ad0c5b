"""A word as it is compared: one kind of apostrophe, small letters."""

from __future__ import annotations


def straight(text: str) -> str:
    """The text with straight apostrophes: Unicode has three others that word processors and scans print."""
    return text.replace("’", "'").replace("‘", "'").replace("ʼ", "'")


def plain_spelling(word: str) -> str:
    """A word in small letters with straight apostrophes."""
    return straight(word).lower()
