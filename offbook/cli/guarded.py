"""The last guard before the terminal: only control characters that offbook itself sends get through.

Texts and names are made harmless where they come in; this is a second guard, for everything that is printed.
Characters that a terminal would obey are printed as text (an escape as \\x1b), except line ends, tabs and,
where somebody is looking, colours and the steps of a progress bar.
"""

from __future__ import annotations

import io
import re
import sys
from typing import TextIO

_CONTROL = re.compile(
    "(?P<colour>\x1b\\[[0-9;]*m)|(?P<bar>\x1b\\[(?:\\?25[lh]|[0-9]*[AK])|\r)|[\x00-\x08\x0b-\x1f\x7f-\x9f]"
)


class Guarded(io.TextIOWrapper):
    """A text stream that prints control characters as text."""

    def write(self, text: str) -> int:
        """Write `text`, made harmless."""
        looked_at = self.isatty()

        def shown(m: re.Match[str]) -> str:
            ours = looked_at and m.lastgroup is not None
            return m.group() if ours else m.group().encode("unicode_escape").decode("ascii")

        return super().write(_CONTROL.sub(shown, text))


def guard_streams() -> None:
    """Guard both standard streams. Characters that they cannot encode are printed as text too."""
    sys.stdout = _guarded(sys.stdout)
    sys.stderr = _guarded(sys.stderr)


def _guarded(stream: TextIO) -> TextIO:
    if isinstance(stream, Guarded) or not isinstance(stream, io.TextIOWrapper):
        return stream
    encoding, buffering = stream.encoding, stream.line_buffering
    stream.flush()
    return Guarded(stream.detach(), encoding, "backslashreplace", line_buffering=buffering)
