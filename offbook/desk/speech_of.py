"""The speech that one performer says, out of a script with one part or several."""

from __future__ import annotations

from typing import TYPE_CHECKING

from offbook.errors import ScriptError

if TYPE_CHECKING:
    from offbook.script import Script

EVERY_PART = "all"  # the name that stands for all the parts of a scene together


def speech(path: str, part: str | None) -> Script:
    """The script as one performer says it.

    part: a part's name, `EVERY_PART` for all of them as one speech, or None where there is no choice.
    Raises ScriptError as `script.load` does, and where a scene has several parts and none was chosen.
    """
    from offbook import script as scripts

    every = part is not None and part.strip().casefold() == EVERY_PART
    script = scripts.load(path, None if every else part)
    if part is None and len(script.parts) > 1:
        example = f'"{script.parts[0]}"' if " " in script.parts[0] else script.parts[0]
        raise ScriptError(
            f"{script.source} has several parts: {scripts.listed(script.parts)}",
            f"choose yours, for instance --part {example}; --part {EVERY_PART} takes them all as one speech",
        )
    return script
