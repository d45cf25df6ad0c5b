"""What the page shows about several briefs and about an import: one table, and both values of each."""

from __future__ import annotations

import re
from contextlib import closing
from datetime import timedelta
from html import unescape
from pathlib import Path

import pytest

from offbook import desk
from offbook import journal as journals
from offbook.page import PageServer
from tests.pages import Visitor, add_piece, let_in, served

SPEECH = "The lamp was lit before the tide came in.\n"


def plain(html: str) -> str:
    """The text of a page, on one line."""
    return " ".join(unescape(re.sub("<[^>]+>", " ", html)).split())


@pytest.mark.heavy
def test_one_table_shows_which_recording_serves_which_brief_and_what_is_missing(
    server: PageServer, visitor: Visitor
) -> None:
    add_piece(visitor, SPEECH, "The lamp")
    assert "Which recording serves whom" not in visitor.ask("GET", "/briefs").text
    day = server.room.clock().date()
    for n, name in enumerate(("Saltmarrow Playhouse", "Harbour Festival"), 9):
        asked = {"deadline": (day + timedelta(days=n)).isoformat(), "piece": "The lamp", "longest": "2:00"}
        assert visitor.form("/brief/new", name=name, **asked).status in (302, 303)
    table = plain(visitor.ask("GET", "/briefs").text)
    assert "Which recording serves whom Piece For By Length Filming Recording" in table
    assert "The lamp Saltmarrow Playhouse, Harbour Festival" in table, "one recording serves both"
    assert "at most 2:00 not said none chosen" in table
    assert "What is missing" in table


@pytest.mark.heavy
def test_an_import_shows_both_sides_and_either_one_can_be_taken(tmp_path: Path) -> None:
    """The limit of a piece, and one line of a brief."""
    with served(tmp_path / "here") as server:
        visitor = let_in(server)
        add_piece(visitor, SPEECH, "The gate", limit="1:20")
        visitor.form("/brief/new", name="Quayside", deadline="2031-05-04", piece="The gate", longest="2:00")
        at = read_in_at(visitor, changed_elsewhere(server, tmp_path))

        def have() -> tuple[float | None, bool | None]:
            with server.room.journal.reading() as conn:
                return journals.piece_named(conn, "The gate").limit_seconds, quayside(conn).brief.slate

        read = re.search(r'class="facts">([^<]*)', visitor.ask("GET", at).text)
        assert read is not None and read[1] == "Imported: nothing that was not already here."
        assert (shown(visitor, at), have()) == (LATER_THERE, (90.0, True))
        assert visitor.form(f"{at}/0").headers["location"].endswith(f"{at}#differs-0")
        assert (shown(visitor, at)[0], have()) == (TAKEN_BACK[0], (80.0, True))
        visitor.form(f"{at}/1")
        assert (shown(visitor, at), have()) == (TAKEN_BACK, (80.0, None))
        for n in (0, 1):
            visitor.form(f"{at}/{n}")
        assert (shown(visitor, at), have()) == (TAKEN_AGAIN, (90.0, True))
        refused = visitor.form(f"{at}/2")
        assert refused.status == 400 and "There is no such difference" in refused.text
        assert "This list of differences is no longer kept" in visitor.ask("GET", "/keep-safe/import/0").text


LATER_THERE = [
    "The gate: limit 1:30 , as it came in. Theirs was changed later, and is taken. Take 1:20, as it was here",
    "Quayside: slate = true , as it came in. Theirs was changed later, and is taken. "
    "Take no slate, as it was here",
]
TAKEN_BACK = [
    "The gate: limit 1:20 , as it was here. Take 1:30, as it came in",
    "Quayside: no slate , as it was here. Take slate = true, as it came in",
]
TAKEN_AGAIN = [
    "The gate: limit 1:30 , as it came in. Take 1:20, as it was here",
    "Quayside: slate = true , as it came in. Take no slate, as it was here",
]


def changed_elsewhere(server: PageServer, folder: Path) -> bytes:
    """An archive of the server's journal in which a piece and a brief were changed five minutes later."""
    journal = server.room.journal
    with journal.writing() as conn:  # once changed, a brief's deadline has its zone with it, as there
        desk.correct_brief(journal, conn, quayside(conn), ["takes = 2"], ())
    journals.export(journal, folder / "mine.zip", desk.fits_brief)
    ahead = server.room.clock() + timedelta(minutes=5)
    with closing(journals.open_journal(lambda: ahead, home=folder / "other")) as other:
        journals.read_in(other, folder / "mine.zip", desk.fits_brief)
        with other.writing() as conn:
            found = journals.piece_named(conn, "The gate")
            journals.change_piece(other, conn, found.id, limit_seconds=90.0)
            desk.correct_brief(other, conn, quayside(conn), ["slate = true"], ())
        journals.export(other, folder / "theirs.zip", desk.fits_brief)
    return (folder / "theirs.zip").read_bytes()


def quayside(conn: journals.Connection) -> desk.BriefKept:
    """The brief of that name."""
    return next(kept for kept in desk.read_briefs(conn) if kept.brief.name == "Quayside")


def read_in_at(visitor: Visitor, archive: bytes) -> str:
    """Send an archive as the form does; where what came of it is shown."""
    head = '--x\r\nContent-Disposition: form-data; name="archive"; filename="theirs.zip"\r\n\r\n'
    body = head.encode() + archive + b"\r\n--x--\r\n"
    answer = visitor.ask("POST", "/keep-safe/import", body, Content_Type="multipart/form-data; boundary=x")
    assert answer.status == 303, plain(answer.text)
    return answer.headers["location"].partition(visitor.place)[2]


def shown(visitor: Visitor, at: str) -> list[str]:
    """What the page says of each difference."""
    return [plain(row) for row in re.findall(r'<li id="differs-.*?</li>', visitor.ask("GET", at).text, re.S)]
