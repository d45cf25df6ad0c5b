"""Alignment that grows: heard words taken in as they come, the whole script aligned at any moment.

The dynamic programme of `align` works through the heard words one after another and never looks ahead,
so nothing of it is lost when another word comes. As it is kept between words, asking for the
alignment so far costs only the way back through it, even near the end of a long run-through. The result is
what `align` gives for all the words at once.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from offbook.align.alignment import AlignedWord, Alignment, Programme


class Growing:
    """The alignment of more and more heard words with all of `places`."""

    def __init__(self, places: Sequence[AlignedWord]) -> None:
        self._words: list[str] = []
        self._programme = Programme(places, self._words, None)

    def take(self, words: Iterable[str]) -> None:
        """Take in the words heard next."""
        for word in words:
            self._words.append(word)
            self._programme.take(len(self._words))

    def alignment(self) -> Alignment:
        """The cheapest alignment of all the words so far with the whole script."""
        return self._programme.back()
