"""What every command and every page shows, as text. A person reads it once, and a test compares it from
then on.

    make golden

writes the files in tests/golden again; `git diff tests/golden` then shows how a change has changed the
screens. The journal has the same contents each time, and the clock is set to a Monday in March; keys and
folders are replaced by names. What the commands print is kept in colour, with the escape character written
as ␛, at 60, 80 and 120 columns.
"""

from __future__ import annotations

import os
import re
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from html.parser import HTMLParser
from pathlib import Path

import pytest
from click.testing import CliRunner

from offbook.cli import group
from offbook.desk import record_run
from offbook.page import PageServer
from tests import json_fields
from tests.journals import Clock, desk_at, facts, log_a_take, run_with
from tests.pages import let_in, served
from tests.test_screens import desk_with_everything, screens

GOLDEN = Path(__file__).resolve().parent / "golden"
DEMO = Path(__file__).resolve().parent.parent / "corpus_demo"
WIDTHS = (60, 80, 120)
ESCAPE = re.compile("␛\\[[0-9;]*m")
# The demo corpus as it is read, marked and timed: nothing is planted here.
DEMO_SCREENS = (
    ("read", "the_lamp.txt"),
    ("read", "last_ticket.fountain", "--part", "PIM"),
    ("read", "ferry_ballad.md"),
    ("mark", "the_lamp.txt", "--notes"),
    ("mark", "the_lamp.txt", "--phrases"),
    ("mark", "ferry_ballad.md", "--feet"),
    ("mark", "ferry_ballad.md"),
    ("mark", "last_ticket.fountain", "--part", "PIM"),
    ("fit", "the_lamp.txt", "--limit", "1:00"),
    ("fit", "ferry_ballad.md", "--limit", "0:20"),
    ("mark", "full_house.txt"),
)

PAGES = {
    "pieces": "/",
    "add": "/add",
    "text": "{piece}",
    "pencil": "{piece}?word=11",
    "time": "{piece}/time?limit=0:12",
    "speak": "{piece}/speak",
    "run-throughs": "{piece}/notes",
    "notes": "{piece}/notes/{run}",
    "drill": "{piece}/drill",
    "progress": "{piece}/progress",
    "takes": "{piece}/takes",
    "settings": "{piece}/settings",
    "today": "/today",
    "calendar": "/calendar",
    "briefs": "/briefs",
    "a brief": "/brief/{brief}",
    "a new brief": "/brief/new",
    "class": "/class",
    "keep safe": "/keep-safe",
    "an error": "/nowhere",
}


@contextmanager
def in_colour(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """From now on a command prints as on a terminal with colours, although nobody types."""
    with monkeypatch.context() as patch:
        patch.delenv("NO_COLOR", raising=False)
        patch.setenv("TERM", "xterm-256color")
        patch.delenv("COLORTERM", raising=False)
        stream = "click.testing._NamedTextIOWrapper.isatty"
        patch.setattr(stream, lambda self: self.name == "<stdout>", raising=False)
        yield


def commands_text(home: Path, monkeypatch: pytest.MonkeyPatch, width: int) -> str:
    """What every command prints on the seeded journal at this width."""
    return _joined(screens(desk_with_everything(home, monkeypatch), width))


def demo_text(monkeypatch: pytest.MonkeyPatch, width: int) -> str:
    """What the reading commands print for the demo corpus at this width."""
    monkeypatch.setenv("COLUMNS", str(width))
    monkeypatch.chdir(DEMO)
    out = []
    for typed in DEMO_SCREENS:
        done = CliRunner().invoke(group, list(typed))
        assert done.exit_code in (0, 3), (typed, done.output, done.exception)
        out.append((" ".join(typed), done.output))
    return _joined(out)


def _joined(shown: list[tuple[str, str]]) -> str:
    parts = []
    for typed, screen in shown:
        rows = "\n".join(row.rstrip() for row in screen.replace("\x1b", "␛").splitlines())
        parts.append(f"$ offbook {typed}\n{rows}\n")
    return "\n".join(parts)


class _Text(HTMLParser):
    """The words of a page, a row for each block.

    Fields are in square brackets, and the addresses of links are left out.
    """

    BLOCKS = frozenset(
        ["p", "h1", "h2", "h3", "li", "tr", "div", "section", "form", "dt", "dd", "label", "nav", "option"]
    )
    SILENT = frozenset({"style", "script", "svg"})

    def __init__(self) -> None:
        super().__init__()
        self.rows: list[str] = [""]
        self.silent = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        named = dict(attrs)
        if tag in self.SILENT:
            self.silent += 1
        if tag in self.BLOCKS:
            self.rows.append("")
        if tag in ("th", "td"):
            self.rows[-1] += " | "
        if tag == "input" and named.get("type") != "hidden":
            self.rows[-1] += (
                f"[{named.get('type', 'text')} {named.get('name', '')}={named.get('value') or ''}]"
            )

    def handle_endtag(self, tag: str) -> None:
        if tag in self.SILENT:
            self.silent -= 1
        if tag in self.BLOCKS:
            self.rows.append("")

    def handle_data(self, data: str) -> None:
        if not self.silent:
            self.rows[-1] += data


def text_of(html: str) -> str:
    """A page as the rows of text that a person reads."""
    parser = _Text()
    parser.feed(html)
    rows = (" ".join(row.split()) for row in parser.rows)
    return "\n".join(row for row in rows if row)


@dataclass(frozen=True)
class Seeded:
    """The keys of the performer, the piece, the run-through and the brief in the journal of a page."""

    performer: str
    piece: str
    run: str
    brief: str
    clock: Clock


def seeded(home: Path) -> Seeded:
    """A journal in `home` with a run-through with two mistakes, and a take of it for a brief."""
    desk = desk_at(home)
    heard = run_with(desk.version.words, {3: ("dropped", None), 7: ("changed", "ride")})
    run = record_run(desk.journal, desk.piece, desk.version, heard, facts(desk.clock)).id
    with desk.journal.writing() as conn:
        brief = str(log_a_take(desk, conn, None, run).brief_id)
    desk.journal.close()
    return Seeded(desk.performer.id, desk.piece.id, run, brief, Clock(desk.clock.now))


def with_names_for_keys(text: str, home: Path, server: PageServer) -> str:
    """The text of a page with names in place of what is different each time: folders, addresses, keys."""
    text = text.replace(str(home), "~").replace(server.door.place, "PLACE")
    return re.sub(r"\b[0-9a-f]{8,32}\b", "KEY", text)


def pages_text(home: Path) -> str:
    """Every page of a seeded journal as text."""
    found = seeded(home)
    out = []
    with served(home, clock=found.clock) as server:
        visitor = let_in(server)
        for name, at in PAGES.items():
            at = at.format(piece=f"/piece/{found.piece}", run=found.run, brief=found.brief)
            answer = visitor.ask("GET", at)
            out.append(f"# {name} ({answer.status})\n{text_of(answer.text)}\n")
    return with_names_for_keys("\n".join(out), home, server)


def golden(name: str) -> Path:
    """The file of one set of screens."""
    return GOLDEN / f"{name}.txt"


def everything(home: Path) -> Iterator[tuple[str, str]]:
    """The name and the text of every golden file."""
    for width in WIDTHS:
        with pytest.MonkeyPatch.context() as monkeypatch, in_colour(monkeypatch), short_home() as short:
            yield f"commands_{width}", commands_text(short, monkeypatch, width)
        with pytest.MonkeyPatch.context() as monkeypatch, in_colour(monkeypatch):
            yield f"demo_{width}", demo_text(monkeypatch, width)
    with pytest.MonkeyPatch.context() as monkeypatch:
        monkeypatch.setenv("OFFBOOK_HOME", str(home / "pages"))
        yield "pages", pages_text(_new(home, "pages"))
    from tests.page_day import day_text  # they use what stands here
    from tests.second_week import week_text

    with pytest.MonkeyPatch.context() as monkeypatch:
        yield "page_day", day_text(_new(home, "page_day"), monkeypatch)
    with pytest.MonkeyPatch.context() as monkeypatch, short_home() as short:
        yield "second_week", week_text(short, monkeypatch)


def _new(home: Path, name: str) -> Path:
    (home / name).mkdir(mode=0o700)
    return home / name


@contextmanager
def short_home() -> Iterator[Path]:
    """A folder whose name always has the same length.

    So rows with its name are always wrapped at the same place.
    """
    with tempfile.TemporaryDirectory(prefix="golden-", dir="/tmp") as made:
        yield Path(made)


def main() -> int:
    """Writes every golden file again."""
    with tempfile.TemporaryDirectory() as made:
        for name, text in everything(Path(made)):
            golden(name).write_text(text, encoding="utf-8")
            sys.stdout.write(f"{golden(name)}\n")
    with pytest.MonkeyPatch.context() as monkeypatch, short_home() as home:
        json_fields.PAGE.write_text(json_fields.page(home, monkeypatch), encoding="utf-8")
    return 0


if __name__ == "__main__":
    os.environ.pop("OFFBOOK_JOURNAL", None)
    raise SystemExit(main())
