"""Held values of `--json`: every object that a command prints for the tests' journal."""

from __future__ import annotations

import json
import re
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.held import Rows, figures
from tests.json_fields import printed_by

KEY = re.compile(r"\b[0-9a-f]{8}(?:-?[0-9a-f]{4,12})*\b")


def printed() -> Iterator[str]:
    """Each command, then each of its values on a row; keys and folders are replaced by names."""
    patch = pytest.MonkeyPatch()
    with tempfile.TemporaryDirectory() as folder:
        try:
            for typed, value in printed_by(Path(folder), patch):
                yield f"$ offbook {' '.join(typed).replace('{home}', '~')} --json"
                for row in _rows(value, ""):
                    yield KEY.sub("KEY", row.replace(folder, "~"))
        finally:
            patch.undo()


def _rows(value: Any, at: str) -> Iterator[str]:
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from _rows(inner, f"{at}.{key}" if at else key)
    elif isinstance(value, list) and any(isinstance(inner, dict | list) for inner in value):
        for n, inner in enumerate(value):
            yield from _rows(inner, f"{at}[{n}]")
    else:
        shown = [
            figures(x) if isinstance(x, float) else json.dumps(x, ensure_ascii=False) for x in _list(value)
        ]
        yield f"{at} {' '.join(shown) if shown else '[]'}"


def _list(value: Any) -> list[Any]:
    return value if isinstance(value, list) else [value]


PARTS: dict[str, Rows] = {"every object": printed}
