"""What an export or an import left out, in words for people."""

from __future__ import annotations

from typing import TYPE_CHECKING

from offbook.cli.screen import say
from offbook.phrasing import plural

if TYPE_CHECKING:
    from collections.abc import Sequence

    from offbook.journal import NotCarried

NOT_WHOLE = 3  # exit status where the work was done but something was left out
_SHOWN = 20  # rows that are named; set by hand


def print_left(left: Sequence[NotCarried]) -> int:
    """Print what was left out, and why; returns the exit status."""
    for each in left[:_SHOWN]:
        say(f"Damaged or missing: {each}.")
    more = len(left) - _SHOWN
    if more > 0:
        say(f"And {plural(more, 'more row')} that {'is' if more == 1 else 'are'} damaged or missing.")
    return NOT_WHOLE if left else 0
