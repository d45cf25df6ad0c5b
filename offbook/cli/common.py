"""What several commands share: JSON out, and a console that knows whether anybody is looking."""

from __future__ import annotations

import json
import os
import re
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import click
from rich.console import Console


def quoted(text: str) -> str:
    """A word or several as they are typed on a command line."""
    plain = all(c.isalnum() or c in "._-/~+,:@%" for c in text)
    return text if plain and text else '"' + re.sub(r'([\\"$`])', r"\\\1", text) + '"'


def asking() -> bool:
    """Whether somebody sits there who can be asked."""
    return sys.stdin.isatty()


def print_json(data: dict[str, Any]) -> None:
    """Print `data` as the JSON of the contract, with its format number first."""
    text = json.dumps({"format": 1, **data}, ensure_ascii=False)
    click.echo(_LEFT_RAW.sub(lambda m: f"\\u{ord(m.group()):04x}", text))


# What json leaves as it is, and a terminal or a strict reader of UTF-8 does not.
_LEFT_RAW = re.compile("[\x7f-\x9f\u2028\u2029\ud800-\udfff]")


def console(*, err: bool = False) -> Console:
    """A console for people: no colour when NO_COLOR is set or nobody is looking."""
    stream = sys.stderr if err else sys.stdout
    return Console(
        stderr=err, highlight=False, no_color=bool(os.environ.get("NO_COLOR")) or not stream.isatty()
    )


@contextmanager
def listening_bar() -> Iterator[Callable[[float], None]]:
    """A progress bar on standard error where somebody is looking; gives how to move it (0 to 1)."""
    out = console(err=True)
    if not out.is_terminal:
        yield lambda share: None
        return
    from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (TextColumn("{task.description}"), BarColumn(), TimeRemainingColumn())
    with Progress(*columns, console=out, transient=True) as bar:
        task = bar.add_task("listening", total=1.0)
        yield lambda share: bar.update(task, completed=share)
