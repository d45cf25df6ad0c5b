"""What the page shows of several receivers, and of two machines: one table, and both sides of an import."""

from __future__ import annotations

import re
from datetime import timedelta
from html import unescape
from pathlib import Path

import pytest

from offbook import journal as journals
from offbook.page import PageServer
from tests.pages import Visitor, add_piece

pytestmark = pytest.mark.model
SPEECH = "The lamp was lit before the tide came in.\n"


def plain(html: str) -> str:
    """The text of a page, on one line."""
    return " ".join(unescape(re.sub("<[^>]+>", " ", html)).split())


def test_one_table_says_which_recording_serves_whom_and_what_is_missing(
    server: PageServer, visitor: Visitor
) -> None:
    add_piece(visitor, SPEECH, "The lamp")
    assert "Which recording serves whom" not in visitor.ask("GET", "/briefs").text
    day = server.room.clock().date()
    for n, name in enumerate(("Saltmarrow Playhouse", "Harbour Festival"), 9):
        asked = {"deadline": (day + timedelta(days=n)).isoformat(), "piece": "The lamp", "longest": "2:00"}
        assert visitor.form("/brief/new", name=name, **asked).status in (302, 303)
    shown = plain(visitor.ask("GET", "/briefs").text)
    assert "Which recording serves whom Piece For By Length Filming Recording" in shown
    assert "The lamp Saltmarrow Playhouse, Harbour Festival" in shown, "one recording serves both"
    assert "at most 2:00 not said none chosen" in shown
    assert "What is missing" in shown


def test_an_import_shows_both_sides_and_which_one_is_taken(
    server: PageServer, visitor: Visitor, tmp_path: Path
) -> None:
    add_piece(visitor, SPEECH, "The gate", limit="1:20")
    journal = server.room.journal
    journals.export(journal, tmp_path / "mine.zip")
    ahead = server.room.clock() + timedelta(minutes=5)
    other = journals.open_journal(lambda: ahead, home=tmp_path / "other")
    journals.read_in(other, tmp_path / "mine.zip")
    with other.writing() as conn:
        found = journals.piece_named(conn, "The gate")
        journals.change_piece(other, conn, found.id, limit_seconds=90.0)
    journals.export(other, tmp_path / "theirs.zip")
    archive = (tmp_path / "theirs.zip").read_bytes()
    head = '--x\r\nContent-Disposition: form-data; name="archive"; filename="theirs.zip"\r\n\r\n'
    body = head.encode() + archive + b"\r\n--x--\r\n"
    answer = visitor.ask("POST", "/keep-safe/import", body, Content_Type="multipart/form-data; boundary=x")
    assert answer.status == 303, plain(answer.text)
    shown = plain(visitor.ask("GET", answer.headers["location"].partition(visitor.place)[2]).text)
    assert "The gate: limit 1:30 , as it came in. Theirs was changed later, and is taken." in shown
    assert "Take 1:20, as it was here" in shown
    with journal.reading() as conn:
        assert journals.piece_named(conn, "The gate").limit_seconds == 90.0
