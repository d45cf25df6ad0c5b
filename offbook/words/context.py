"""A piece of the text together with the pieces beside it, which decide how it is said."""

from __future__ import annotations

from dataclasses import dataclass

from offbook.words.tokenise import Token


@dataclass(frozen=True, slots=True)
class InContext:
    """A piece and what is around it.

    stopped: whether a full stop follows right after it. tight: whether only blanks, and perhaps that full
    stop, are between it and the next piece. caseless: whether capitals mean nothing in this text
    (`is_caseless`).
    """

    piece: Token
    before: Token | None
    after: Token | None
    stopped: bool
    tight: bool
    caseless: bool
