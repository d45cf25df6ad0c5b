"""Why a word got its verdict: which words somebody asks about, and what decided each of them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from offbook.errors import OffbookError
from offbook.spelling import plain_spelling
from offbook.typed_times import typed_seconds

if TYPE_CHECKING:
    from offbook.desk.listening import Heard
    from offbook.score import WordVerdict

_NEAR_SECONDS = 1.0  # set by hand: a time read off a note is rounded to the second


def words_asked(heard: Heard, asked: str) -> list[WordVerdict]:
    """The verdicts that `asked` is about: a word, everywhere it stands, or a time in the recording.

    A time is seconds (21.4) or minutes and seconds (1:05); it names the word heard then, or the nearest
    within a second. Raises OffbookError where there is none.
    """
    verdicts = heard.review.run.words
    # With a letter in it, such as "90s", it may be a word of the script, and is not taken for a time.
    at = None if any(c.isalpha() for c in asked) else typed_seconds(asked)
    if at is not None:
        near = [(_away(w, at), w.i) for w in verdicts if w.start is not None and w.end is not None]
        if not near or min(near)[0] > _NEAR_SECONDS:
            raise OffbookError(
                f"no word was heard at {asked}", "ask for a time that a note names, or for the word itself"
            )
        return [verdicts[min(near)[1]]]
    found = [w for w in verdicts if plain_spelling(w.text) == plain_spelling(asked.strip())]
    if not found:
        raise OffbookError(
            f"{heard.script.source} does not have the word “{asked}”", "write it as it is in the script"
        )
    return found


def _away(word: WordVerdict, at: float) -> float:
    """Seconds from `at` to the word, 0 while it is said."""
    assert word.start is not None and word.end is not None
    return max(word.start - at, at - word.end, 0.0)
