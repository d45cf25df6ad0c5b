"""How each word is said: the spoken forms of numbers, amounts, abbreviations and plain words."""

from __future__ import annotations

from collections.abc import Sequence

from offbook.words_split import Piece

Forms = tuple[tuple[str, ...], ...]


def spoken_forms(pieces: Sequence[Piece], text: str, flat: bool) -> list[Forms]:
    """For each piece the ways to say it, likeliest first."""
    return [((p.text.replace("’", "'").lower(),),) for p in pieces]
