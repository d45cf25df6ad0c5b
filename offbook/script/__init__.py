"""Scripts: what is on the page, and which of it is spoken.

`load` a file in any format we know, or `parse` a text: the result is a `Script`, whose lines are what the
speaker says. What was left out stands beside it, each piece with its reason.
"""

from __future__ import annotations

from offbook.script.choices import (
    choose,
)
from offbook.script.finders.directions import (
    DIRECTION,
)
from offbook.script.finders.speakers import (
    folded,
    said_by,
)
from offbook.script.language import (
    other_language,
)
from offbook.script.reading import (
    Cue,
    LeftOut,
    Line,
    Script,
    listed,
    load,
    parse,
)
from offbook.script.respoken import (
    Stretch,
    respoken,
)
from offbook.script.selection import (
    Selection,
    excerpt,
    scenes,
    speeches,
)
from offbook.script.sheet import (
    BESIDE_THE_TEXT,
    word_set,
)

__all__ = [
    "BESIDE_THE_TEXT",
    "DIRECTION",
    "Cue",
    "LeftOut",
    "Line",
    "Script",
    "Selection",
    "Stretch",
    "choose",
    "excerpt",
    "folded",
    "listed",
    "load",
    "other_language",
    "parse",
    "respoken",
    "said_by",
    "scenes",
    "speeches",
    "word_set",
]
