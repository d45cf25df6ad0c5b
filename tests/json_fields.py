"""Every field that `--json` prints, found by printing it: for docs/json.md and the test that keeps it true.

    make golden

writes docs/json.md again. Lists are walked through their elements; a field that is only a date, a key or a
number between quotes (the keys of a table) is written as NAME.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.test_screens import desk_with_everything

MEANINGS = Path(__file__).resolve().parent / "json_meanings.txt"
PAGE = Path(__file__).resolve().parent.parent / "docs" / "json.md"
TYPED: tuple[tuple[str, ...], ...] = (
    ("read", "{home}/scene.txt", "--part", "PIM"),
    ("mark", "{home}/lamp.txt"),
    ("fit", "{home}/lamp.txt", "--limit", "0:09"),
    ("run", "The lamp", "{home}/one.wav"),
    ("correct", "The lamp"),
    ("review", "The lamp", "--run", "newest"),
    ("today",),
    ("drill", "The lamp", "--answers"),
    ("progress",),
    ("progress", "The lamp"),
    ("progress", "The lamp", "--lines"),
    ("progress", "The lamp", "--thoughts"),
    ("progress", "The lamp", "--runs"),
    ("class",),
    ("brief", "add", "{home}/round.toml", "--performer", "Me"),
    ("brief", "list"),
    ("brief", "show", "Saltmarrow"),
    ("brief", "table"),
    ("plan",),
    ("check", "{home}/one.wav", "--brief", "Saltmarrow"),
    ("take", "add", "The lamp", "{home}/one.wav", "--intention", "make her stay"),
    ("take", "judge", "The lamp", "1"),
    ("take", "list", "The lamp"),
    ("take", "show", "The lamp", "1"),
    ("margin", "add", "The lamp", "2", "Who is this said to?"),
    ("margin", "list", "The lamp"),
    ("piece", "list"),
    ("piece", "show", "The lamp"),
    ("piece", "recordings", "The lamp"),
    ("performer", "list"),
    ("hear", "{home}/pile"),
)
OTHER_TABLES = ("--lines", "--thoughts", "--runs")
SILENT = (("brief", "add"), ("margin", "add"))  # they print no JSON, and prepare what the others print
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


def printed_by(home: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[tuple[tuple[str, ...], Any]]:
    """What each command prints on the journal of the tests."""
    desk = desk_with_everything(home, monkeypatch)
    for typed in TYPED:
        args = [a.format(home=home) for a in typed]
        silent = typed[:2] in SILENT
        done = desk.type(*args, *(() if silent else ("--json",)), keys="y\n")
        assert done.exit_code in (0, 3), (typed, done.output, done.exception)
        if not silent:
            yield typed, json.loads(done.stdout)


def meaning(at: str) -> str:
    """What a field means, by the last part of its name; KeyError where nobody wrote it down."""
    rows = (row.partition(" | ") for row in MEANINGS.read_text(encoding="utf-8").splitlines())
    known = {name: said for name, _, said in rows}
    name = at.rpartition(".")[2]
    return "each of them" if name.endswith("[]") else "" if name == "NAME" else known[name]


def page(home: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """docs/json.md: a section for each command, a row for each field."""
    parts = [HEAD]
    for typed, printed in printed_by(home, monkeypatch):
        words = [w for w in typed if (w.isalpha() and w.islower() and w != "newest") or w in OTHER_TABLES]
        rows = [
            f"| `{at}` | {' or '.join(sorted(kinds))} | {meaning(at)} |"
            for at, kinds in fields(printed).items()
        ]
        columns = "| field | what it holds | what it means |\n| --- | --- | --- |"
        head = f"\n## offbook {' '.join(words)}\n\n{columns}"
        parts.append("\n".join([head, *rows]) + "\n")
    return "".join(parts)
