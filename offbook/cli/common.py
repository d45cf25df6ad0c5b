"""What several commands share: JSON output, and a console that knows whether somebody is looking."""

from __future__ import annotations

import json
import os
import re
import shutil
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import click
from rich.console import Console

if TYPE_CHECKING:
    from datetime import datetime

    from offbook.brief import Brief


def quoted(text: str) -> str:
    """A text as it is typed on a command line: in quotation marks where it needs them."""
    plain = all(c.isalnum() or c in "._-/~+,:@%" for c in text)
    return text if plain and text else '"' + re.sub(r'([\\"$`])', r"\\\1", text) + '"'


def late_in_words(brief: Brief, now: datetime) -> str:
    """That the deadline of a brief passed before it was sent, and what can be done; empty before it has."""
    from offbook.brief import late

    passed = late(brief, now)
    if not passed:
        return ""
    note_it = f"offbook brief sent {quoted(brief.name)}"
    return f"{passed} If it was sent, note it: {note_it}. If not, ask them for a new deadline."


def asking() -> bool:
    """Whether somebody sits at the terminal who can be asked."""
    return sys.stdin.isatty()


def print_json(data: dict[str, Any]) -> None:
    """Print `data` as the JSON of the contract, with its format number first."""
    text = json.dumps({"format": 1, **data}, ensure_ascii=False)
    click.echo(_LEFT_RAW.sub(lambda m: f"\\u{ord(m.group()):04x}", text))


# Characters that json leaves as they are, and that a terminal or a strict reader of UTF-8 does not take.
_LEFT_RAW = re.compile("[\x7f-\x9f\u2028\u2029\ud800-\udfff]")


def console(*, err: bool = False) -> Console:
    """A console for people, without colour when NO_COLOR is set or nobody is looking."""
    stream = sys.stderr if err else sys.stdout
    return Console(
        stderr=err, highlight=False, no_color=bool(os.environ.get("NO_COLOR")) or not stream.isatty()
    )


_UNSEEN = (100, 24)  # columns and lines where nobody is looking and COLUMNS is not set; set by hand


def drawing_width(out: Console) -> int:
    """How many columns there are to draw in."""
    return out.width if sys.stdout.isatty() else shutil.get_terminal_size(_UNSEEN).columns


@contextmanager
def listening_bar() -> Iterator[Callable[[float], None]]:
    """A progress bar on standard error where somebody is looking; yields what moves it (0 to 1)."""
    out = console(err=True)
    if not out.is_terminal:
        yield lambda share: None
        return
    from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (TextColumn("{task.description}"), BarColumn(), TimeRemainingColumn())
    with Progress(*columns, console=out, transient=True) as bar:
        task = bar.add_task("listening", total=1.0)
        yield lambda share: bar.update(task, completed=share)
