"""A piece of the text with what is on either side of it, by which it is known how it is said."""

from __future__ import annotations

from dataclasses import dataclass

from offbook.words.tokenise import Token


@dataclass(frozen=True, slots=True)
class InContext:
    """A piece and what is around it. stopped: a full stop follows it at once."""

    piece: Token
    before: Token | None
    after: Token | None
    stopped: bool
    tight: bool  # nothing but blanks before the next piece, but for the stop
    flat: bool
