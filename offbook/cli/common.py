"""What several commands share: JSON out, and a console that knows whether anybody is looking."""

from __future__ import annotations

import json
import os
import sys
from typing import Any

import click
from rich.console import Console


def print_json(data: dict[str, Any]) -> None:
    """Print `data` as the JSON of the contract, with its format number first."""
    click.echo(json.dumps({"format": 1, **data}, ensure_ascii=False))


def console(*, err: bool = False) -> Console:
    """A console for people: no colour when NO_COLOR is set or nobody is looking."""
    stream = sys.stderr if err else sys.stdout
    return Console(
        stderr=err, highlight=False, no_color=bool(os.environ.get("NO_COLOR")) or not stream.isatty()
    )
