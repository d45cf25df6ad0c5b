"""Nothing in a text, a name or a file name can control a terminal or a spreadsheet."""

from __future__ import annotations

import csv
import io
import json
import os
import re
import subprocess
import sys
from pathlib import Path
from typing import IO

import pytest
from click.testing import CliRunner

from offbook import script
from offbook.cli import group
from offbook.cli.guarded import Guarded
from offbook.cli.screen import print_listing
from offbook.errors import JournalError
from offbook.journal import add_performer
from tests.journals import Clock, open_at

ORDERS = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f]")
TITLE = "\x1b]0;owned\x07"
CLEAR, CLIPBOARD, C1 = "\x1b[2J", "\x1b]52;c;cm0=\x07", "\x9b31m"
SPEECH = f"""\
THE LAMP {TITLE}

MARA{CLEAR}: I lit the lamp {CLIPBOARD} before the tide came in.

TOBIAS: And who{C1} carried up the oil? [He {TITLE} turns.]

MARA{CLEAR}: I carried it.
"""
SPEECH += "\nTOBIAS: Nobody asked who carried it.\n\nMARA: Nor why, and nobody will.\n" * 12


def typed(
    *args: str, folder: Path, stdout: int | IO[bytes] = subprocess.PIPE
) -> subprocess.CompletedProcess[str]:
    """A command as a person types it, its output into pipes."""
    return subprocess.run(
        [sys.executable, "-m", "offbook", *args],
        stdout=stdout,
        stderr=subprocess.PIPE,
        text=True,
        errors="surrogateescape",
        env={**os.environ, "OFFBOOK_HOME": str(folder / "home")},
        check=False,
    )


@pytest.mark.parametrize("options", [(), ("--json",)])
@pytest.mark.heavy
def test_control_sequences_in_a_text_are_never_printed(options: tuple[str, ...], tmp_path: Path) -> None:
    path = tmp_path / f"a{CLEAR}.txt"
    path.write_text(SPEECH, encoding="utf-8")
    done = typed("read", str(path), *options, folder=tmp_path)
    assert done.returncode == 0, done.stderr
    assert not ORDERS.search(done.stdout + done.stderr)
    if options:
        told = json.loads(done.stdout)
        assert told["script"] == str(path), "JSON gives the name itself, escaped"
        assert not ORDERS.search("".join(line["text"] for line in told["lines"]) + told["title"])


def test_escaping_control_characters_does_not_move_positions_in_the_text() -> None:
    read = script.parse_script(SPEECH)
    assert len(read.text) == len(SPEECH)
    assert read.parts and all(not ORDERS.search(part) for part in read.parts)


@pytest.mark.heavy
def test_a_file_name_with_a_line_break_still_gives_a_two_line_error(tmp_path: Path) -> None:
    done = typed("read", str(tmp_path / "no\nsuch\x1b[2J"), folder=tmp_path)
    assert done.returncode == 1 and done.stdout == ""
    assert len(done.stderr.splitlines()) == 2 and not ORDERS.search(done.stderr)


@pytest.mark.heavy
def test_a_name_that_is_not_utf_8_is_refused_in_two_lines(tmp_path: Path) -> None:
    done = typed("performer", "add", os.fsdecode(b"Ma\xffra"), "--zone", "UTC", folder=tmp_path)
    assert done.returncode == 1 and done.stdout == ""
    assert len(done.stderr.splitlines()) == 2, done.stderr


@pytest.mark.parametrize("name", ["Mara\x1b[2J", "Ma\x9bra", "Mara\u202e", "\ud800"])
def test_a_name_with_control_sequences_in_it_is_refused(name: str, tmp_path: Path) -> None:
    journal = open_at(tmp_path, Clock())
    with journal.writing() as conn, pytest.raises(JournalError, match="cannot be used as a name"):
        add_performer(journal, conn, name, "UTC")


def test_colours_are_printed_only_to_a_terminal() -> None:
    class Screen(io.BytesIO):
        def isatty(self) -> bool:
            return self.looked_at

        looked_at = True

    colour = "\x1b[1mbold\x1b[0m"
    for looked_at, shown in ((True, colour), (False, r"\x1b[1mbold\x1b[0m")):
        raw = Screen()
        raw.looked_at = looked_at
        out = Guarded(raw, "utf-8", "backslashreplace")
        out.write(f"{colour}\t{TITLE}{C1}\n\ud800")
        out.flush()
        assert raw.getvalue().decode() == shown + "\t" + r"\x1b]0;owned\x07\x9b31m" + "\n" + r"\ud800"


def test_a_cell_of_csv_is_never_a_formula(capsys: pytest.CaptureFixture[str]) -> None:
    """OWASP Foundation, CSV Injection: cells that begin with = + - @, a tab or a return.

    Also after a separator: a spreadsheet of another country begins a new cell at a semicolon.
    """
    made_safe = {
        "=1+1": "'=1+1",
        "+1": "'+1",
        "-1": "'-1",
        "@SUM(A1)": "'@SUM(A1)",
        "＝1": "'＝1",
        "\t=1": "'\t'=1",
        "\r=1": "'\n'=1",
        "a; =1": "a; '=1",
        'a";=1': "a\";'=1",
        "a\n-1": "a\n'-1",
        "plain; 1-2": "plain; 1-2",
        "": "",
    }
    texts = list(made_safe)
    rows = [{"piece": text, "days": -3} for text in texts]
    print_listing("pieces", rows, [("piece", "Piece")], json_=False, csv_=True, empty="")
    cells = list(csv.DictReader(io.StringIO(capsys.readouterr().out, newline="")))
    assert [c["piece"] for c in cells] == list(made_safe.values())
    assert {c["days"] for c in cells} == {"-3"}, "a number is a number"


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="only Linux has such a device")
@pytest.mark.heavy
def test_output_that_cannot_be_written_gives_two_lines(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    path.write_text("The lamp was lit before the tide came in.\n" * 2000, encoding="utf-8")
    with open("/dev/full", "wb") as full:
        done = typed("read", str(path), folder=tmp_path, stdout=full)
    assert done.returncode == 1
    assert len(done.stderr.splitlines()) == 2 and "No space left" in done.stderr, done.stderr


@pytest.mark.heavy
def test_a_pipe_that_is_closed_early_causes_no_message(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    path.write_text("The lamp was lit before the tide came in.\n" * 5000, encoding="utf-8")
    reading, writing = os.pipe()
    os.close(reading)
    done = typed("read", str(path), folder=tmp_path, stdout=writing)
    os.close(writing)
    assert done.returncode == 1 and done.stderr == ""


@pytest.mark.parametrize(
    "now", ["0001-01-01T00:00:00+00:00", "9999-12-31T23:59:59+00:00", "2026-03-02T18:00:00+00:00 1e300"]
)
def test_a_clock_outside_the_calendar_is_refused(
    now: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("OFFBOOK_HOME", str(tmp_path))
    monkeypatch.setenv("OFFBOOK_NOW", now)
    done = CliRunner().invoke(group, ["today"])
    assert isinstance(done.exception, JournalError) and "OFFBOOK_NOW" in done.exception.what
