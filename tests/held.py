"""Held values: the results of each stage for examples, written down to the last digit, and compared by
tests.

    make golden

writes the files in tests/held again; `git diff tests/held` then shows what a change has changed. Each file
has a part for each example: "=== " and its name, then a row for each value. The examples are the scripts,
poems and words of the other tests, which name their sources. What a handbook or a standard says about them
is checked in those tests. Here everything else is held, so that any changed sign, weight or limit is
noticed.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import fields, is_dataclass
from functools import cache
from pathlib import Path

FOLDER = Path(__file__).resolve().parent / "held"
Rows = Callable[[], Iterable[str]]


@cache  # each of a file's examples asks for it
def read(name: str) -> dict[str, list[str]]:
    """The parts of a file: the rows of each example, by its name."""
    found: dict[str, list[str]] = {}
    for row in (FOLDER / f"{name}.txt").read_text(encoding="utf-8").split("\n"):
        if row.startswith("=== "):
            rows = found.setdefault(row[4:], [])
        elif row:
            rows.append(row)
    return found


def write(name: str, parts: dict[str, Rows]) -> None:
    """Write the file of a stage again."""
    FOLDER.mkdir(exist_ok=True)
    text = "\n".join(
        f"=== {title}\n" + "".join(f"{row}\n" for row in rows()) for title, rows in parts.items()
    )
    (FOLDER / f"{name}.txt").write_text(text, encoding="utf-8")


def figures(value: float) -> str:
    """A number with six significant digits.

    They are enough to show any changed weight, and the same on every machine.
    """
    return f"{value:.6g}"


def one_row(text: str) -> str:
    """A text on one row."""
    return re.sub(r"\s+", " ", text).strip()


def told(value: object) -> str:
    """Any result on one row: dataclasses by their fields, floats by `figures`, sets in order."""
    if is_dataclass(value) and not isinstance(value, type):
        inside = ", ".join(f"{f.name}={told(getattr(value, f.name))}" for f in fields(value))
        return f"{type(value).__name__}({inside})"
    if isinstance(value, float):
        return figures(value)
    if isinstance(value, dict):
        return "{" + ", ".join(f"{told(k)}: {told(v)}" for k, v in value.items()) + "}"
    if isinstance(value, set | frozenset):
        return "{" + ", ".join(sorted(map(told, value))) + "}"
    if isinstance(value, tuple | list):
        return "(" + ", ".join(map(told, value)) + ")"
    return repr(value) if isinstance(value, str) else str(value)
