"""The review on the page: the evidence beside each shift, and what a coach writes in the margin."""

from __future__ import annotations

from html import unescape

import pytest

from offbook import desk
from offbook import journal as journals
from offbook.page import PageServer
from tests.page_screens import heard, measured
from tests.pages import Visitor, add_piece
from tests.recordings import librivox_sentences

pytestmark = pytest.mark.model
NOT_SAID = "But who asked you? The gardener has left his boots."


def test_the_review_tells_every_shift_as_measured_and_a_note_stands_beside_its_line_until_it_is_worked_on(
    server: PageServer, visitor: Visitor
) -> None:
    recording, said = librivox_sentences()[0]
    piece = add_piece(visitor, f"{said.strip()}\n\n{NOT_SAID}\n", "Reviewed")
    run = heard(visitor, piece, recording)
    at = f"/piece/{piece}/notes/{run}/review"
    measured(visitor, at)
    with server.room.journal.reading() as conn:
        row = journals.run_of(conn, run)
        found = next(p for p in journals.pieces_of(conn) if p.id == piece)
    reviewed = desk.review_kept(server.room.journal, found, row)
    shown = unescape(visitor.ask("GET", at).text)
    told = [s.told for s in reviewed.delivery.shifts if s.grade > 1]
    assert len(told) >= 2
    assert all(each in shown for each in told)
    assert "the words around it were not both heard: could not be measured" in told
    assert desk.review_headline(reviewed) in shown

    note = {"line": "1", "author": "Ivo", "text": "Who is this said to?"}
    assert visitor.form(f"/piece/{piece}/margin", **note).status == 303
    for screen in (at, f"/piece/{piece}"):
        assert "sentence 1, Ivo: Who is this said to?" in unescape(visitor.ask("GET", screen).text)
    assert "1 note in the margin" in visitor.ask("GET", "/today").text
    assert visitor.form(f"/piece/{piece}/margin/1").status == 303
    for screen in (at, f"/piece/{piece}"):
        assert "Who is this said to?" not in visitor.ask("GET", screen).text

    assert visitor.form(f"/piece/{piece}/pencil", word="2", grade="3", reason="he turns").status == 303
    measured(visitor, at)  # the marks are others now: it is measured against these
    assert "he turns" in unescape(visitor.ask("GET", at).text)


def test_a_note_beside_no_line_is_refused_in_two_lines(visitor: Visitor) -> None:
    piece = add_piece(visitor, f"{NOT_SAID}\n", "Noted")
    for line, told in (("nine", "no spoken words at nine"), ("9", "no spoken words at 9")):
        answer = visitor.form(f"/piece/{piece}/margin", line=line, text="Slower.")
        assert answer.status == 400
        assert told in unescape(answer.text)
