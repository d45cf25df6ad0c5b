"""The parts of command-line screens, listings and wrapped rows, and the choice of the performer."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import click
import pytest

from offbook.cli.screen import hanging, print_listing, wrapped
from offbook.desk.pieces import owner_named
from offbook.errors import JournalError
from offbook.journal import add_performer, performers
from tests.journals import Clock, open_at

ROWS: list[dict[str, Any]] = [
    {"name": "The lamp", "share": 0.123456, "days": None, "done": True, "lines": 3},
    {"name": "Full, house", "share": 1.0, "days": 4, "done": False, "lines": 12},
]
COLUMNS = [("name", "piece"), ("share", "said"), ("days", "days left")]


def listed(capsys: pytest.CaptureFixture[str], rows: list[dict[str, Any]], **forms: bool) -> str:
    """What is printed of these rows."""
    both = {"json_": False, "csv_": False} | forms
    print_listing("pieces", rows, COLUMNS, empty="nothing yet", **both)
    return capsys.readouterr().out


def test_rows_are_printed_as_json_as_csv_and_as_a_table(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "60")
    assert json.loads(listed(capsys, ROWS, json_=True)) == {
        "format": 1,
        "pieces": [
            {"name": "The lamp", "share": 0.123456, "days": None, "done": True, "lines": 3},
            {"name": "Full, house", "share": 1.0, "days": 4, "done": False, "lines": 12},
        ],
    }
    printed = listed(capsys, ROWS, csv_=True)
    assert printed.split("\n")[0] == "name,share,days,done,lines"
    assert printed.split("\n")[2].startswith('"Full, house",1.0,4,')
    assert printed.count("\n") == 3 and printed.endswith("\n") and "\r" not in printed
    assert listed(capsys, [], csv_=True) == "name,share,days\n"
    assert listed(capsys, []) == "nothing yet\n"
    table = listed(capsys, ROWS)
    assert table.split("\n")[0].split() == ["piece", "said", "days", "left"]
    assert "The lamp" in table and "true" not in table
    with pytest.raises(click.UsageError, match="cannot both"):
        listed(capsys, ROWS, json_=True, csv_=True)


def test_a_text_is_wrapped_at_the_width_of_the_window_with_its_indent(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("COLUMNS", "40")
    text = "The lamp was lit before the tide came in, and nobody was told but you and me."
    assert wrapped(text, "- ", "  ").split("\n") == [
        "- The lamp was lit before the tide came",
        "  in, and nobody was told but you and",
        "  me.",
    ]
    assert hanging(text, "    ").split("\n")[1].startswith("    ")


def test_the_first_piece_creates_a_performer_and_with_several_one_must_be_named(tmp_path: Path) -> None:
    clock = Clock()
    journal = open_at(tmp_path, clock)
    with journal.writing() as conn:
        assert owner_named(journal, conn, None).name == "Me"
        assert [p.name for p in performers(conn)] == ["Me"]
        assert owner_named(journal, conn, None).name == "Me"
        add_performer(journal, conn, "Ann", "UTC")
        with pytest.raises(JournalError):
            owner_named(journal, conn, None)
        assert owner_named(journal, conn, "Ann").name == "Ann"
        with pytest.raises(JournalError):
            owner_named(journal, conn, "Nobody")
        assert len(performers(conn)) == 2
