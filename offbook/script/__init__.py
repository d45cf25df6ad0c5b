"""Scripts: what is on the page, and which of it is spoken.

`load_script` reads a file in any of the known formats, `parse_script` reads a text. The result is a `Script`,
whose lines are what the speaker says. It also has what was left out, each piece with the reason.
"""

from __future__ import annotations

from offbook.script.choices import (
    keep_choice,
)
from offbook.script.finders.directions import (
    DIRECTION,
    says_manner,
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
    load_script,
    parse_script,
    part_names,
)
from offbook.script.respoken import (
    RespokenStretch,
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
    roman_value,
    word_set,
)

__all__ = [
    "BESIDE_THE_TEXT",
    "DIRECTION",
    "Cue",
    "LeftOut",
    "Line",
    "RespokenStretch",
    "Script",
    "Selection",
    "excerpt",
    "folded",
    "keep_choice",
    "load_script",
    "other_language",
    "parse_script",
    "part_names",
    "respoken",
    "roman_value",
    "said_by",
    "says_manner",
    "scenes",
    "speeches",
    "word_set",
]
