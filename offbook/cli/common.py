"""What several commands share: JSON out, and a console that knows whether anybody is looking."""

from __future__ import annotations

import json
import os
import sys
from typing import TYPE_CHECKING, Any

import click
from rich.console import Console

from offbook.errors import ScriptError

if TYPE_CHECKING:
    from offbook.script import Script

LIKE_A_TITLE = "Line 1 stands apart like a title. If nobody says it, put it in [square brackets]."
EVERY_PART = "all"  # what --part takes for the parts of a scene together


def print_json(data: dict[str, Any]) -> None:
    """Print `data` as the JSON of the contract, with its format number first."""
    click.echo(json.dumps({"format": 1, **data}, ensure_ascii=False))


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


def console(*, err: bool = False) -> Console:
    """A console for people: no colour when NO_COLOR is set or nobody is looking."""
    stream = sys.stderr if err else sys.stdout
    return Console(
        stderr=err, highlight=False, no_color=bool(os.environ.get("NO_COLOR")) or not stream.isatty()
    )
