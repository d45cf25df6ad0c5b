"""Alignment that grows: it takes in words as they are heard, and can be asked for the result at any moment.

The dynamic programme of `align` takes one heard word after another and never looks ahead, so all of it can be
kept when another word comes. To ask for the alignment so far only takes the traceback, even near the end of a
long run-through. The result is the same as that of `align` for all the words at once.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from offbook.align.alignment import AlignedWord, Alignment, AlignmentProgramme


class GrowingAlignment:
    """The alignment of more and more heard words with all of `places`, the whole script."""

    def __init__(self, places: Sequence[AlignedWord]) -> None:
        self._words: list[str] = []
        self._programme = AlignmentProgramme(places, self._words, None)

    def add(self, words: Iterable[str]) -> None:
        """Take in the words that were heard next."""
        for word in words:
            self._words.append(word)
            self._programme.add_row(len(self._words))

    def alignment(self) -> Alignment:
        """The cheapest alignment of all the words so far with the whole script."""
        return self._programme.traceback()
