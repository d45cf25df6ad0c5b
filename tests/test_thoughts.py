"""Thought shifts: where a speech moves on, and why."""

from __future__ import annotations

from offbook.script import parse
from offbook.thoughts import Shift, parse_words, shifts_of
from offbook.words import words_of


def marks(text: str) -> dict[str, Shift]:
    """The shifts of `text`, by the word that they stand before."""
    script = parse(text)
    words = words_of(script)
    return {words[s.before_word].text: s for s in shifts_of(script, words)}


def test_a_contrast_after_a_comma_is_a_turn_and_says_which_word_makes_it() -> None:
    got = marks("The lamp burned all night, but nobody came to the door.")
    assert got["but"].grade == 3
    assert "but" in got["but"].reason


def test_every_word_has_its_place_in_the_parse() -> None:
    script = parse("'Tis late, and o'er the hill thou com'st.\nShall I go?")
    words = words_of(script)
    parsed = parse_words(script, words)
    assert len(parsed.first) == len(words)
    assert all(parsed.tokens[parsed.first[w.i]].word == w.i for w in words)
