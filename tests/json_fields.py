"""Every field that `--json` prints, found by printing it: for docs/json.md and the test that keeps it true.

    make golden

writes docs/json.md anew. Lists are walked through their elements; a field that is only a date, a key or a
number between quotes (the keys of a table) is written as NAME.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from tests.test_screens import desk_with_everything

PAGE = Path(__file__).resolve().parent.parent / "docs" / "json.md"
TYPED: tuple[tuple[str, ...], ...] = (
    ("read", "{home}/scene.txt", "--part", "PIM"),
    ("mark", "{home}/lamp.txt"),
    ("fit", "{home}/lamp.txt", "--limit", "0:09"),
    ("run", "The lamp", "{home}/one.wav"),
    ("today",),
    ("progress", "The lamp"),
    ("class",),
    ("brief", "add", "{home}/round.toml", "--performer", "Me"),
    ("plan",),
    ("check", "{home}/one.wav", "--brief", "Saltmarrow"),
    ("piece", "list"),
    ("performer", "list"),
    ("brief", "list"),
    ("take", "list", "The lamp"),
)
KINDS = {bool: "true or false", int: "whole number", float: "number", str: "text", type(None): "null"}
TABLE_KEY = re.compile(r"[0-9a-f-]{8,}|\d+")
HEAD = """# What `--json` prints

Every command with `--json` prints one object on one line, with `"format": 1` first: the number goes up when
a field is taken away or changes its meaning, and a new field may come at any time. Times are seconds unless
the name says otherwise, moments are ISO 8601 in UTC, days are ISO 8601, shares go from 0 to 1. An empty list
means that there is nothing; null means that it was not measured or not given.

This page is written by `make golden` from what the commands print on the journal of the tests, so it lists
the fields that were seen there. `[]` stands for each element of a list, NAME for each key of a table.
"""


def fields(value: Any, path: str = "") -> dict[str, set[str]]:
    """Every path below a value, with the kinds of what was found there."""
    if isinstance(value, dict):
        found: dict[str, set[str]] = {}
        for key, inner in value.items():
            name = "NAME" if TABLE_KEY.fullmatch(key) else key
            for at, kinds in fields(inner, f"{path}.{name}" if path else name).items():
                found.setdefault(at, set()).update(kinds)
        return found
    if isinstance(value, list):
        found = {path: {"list"}}
        for inner in value:
            for at, kinds in fields(inner, f"{path}[]").items():
                found.setdefault(at, set()).update(kinds)
        return found
    return {path: {KINDS[type(value)]}}


def page(home: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """docs/json.md: a section for each command, a row for each field."""
    desk = desk_with_everything(home, monkeypatch)
    parts = [HEAD]
    for typed in TYPED:
        args = [a.format(home=home) for a in typed]
        done = desk.type(*args, *(() if typed[:2] == ("brief", "add") else ("--json",)))
        assert done.exit_code in (0, 3), (typed, done.output, done.exception)
        if typed[:2] == ("brief", "add"):
            continue
        printed = json.loads(done.stdout)
        words = [w for w in typed if w.isalpha() and w.islower()]
        rows = [f"| `{at}` | {' or '.join(sorted(kinds))} |" for at, kinds in fields(printed).items()]
        head = f"\n## offbook {' '.join(words)}\n\n| field | what it holds |\n| --- | --- |"
        parts.append("\n".join([head, *rows]) + "\n")
    return "".join(parts)
