"""The review on the page: the evidence beside each shift, and what a coach writes in the margin."""

from __future__ import annotations

import re
from html import unescape
from pathlib import Path

import pytest

from offbook import desk
from offbook import journal as journals
from offbook.page import PageServer
from tests.page_screens import heard, measured
from tests.pages import Visitor, add_piece
from tests.recordings import librivox_sentences
from tests.sounds import with_a_gap

pytestmark = pytest.mark.model
NOT_SAID = "But who asked you? The gardener has left his boots."


def test_the_review_shows_every_measured_shift_and_a_note_stays_beside_its_line_until_done(
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


def test_a_note_on_a_line_that_does_not_exist_is_refused_in_two_lines(visitor: Visitor) -> None:
    piece = add_piece(visitor, f"{NOT_SAID}\n", "Noted")
    for line, told in (("nine", "no spoken words at nine"), ("9", "no spoken words at 9")):
        answer = visitor.form(f"/piece/{piece}/margin", line=line, text="Slower.")
        assert answer.status == 400
        assert told in unescape(answer.text)


def test_two_takes_are_compared_with_the_aim_of_each_and_every_shift_that_changed(
    server: PageServer, visitor: Visitor, tmp_path: Path
) -> None:
    """The same reading twice; the second time silence is inserted at a mark where the reader made none."""
    recording, said = librivox_sentences()[3]
    piece = add_piece(visitor, said, "Twice")
    still = said.split().index("still")
    asked = visitor.form(f"/piece/{piece}/pencil", word=str(still), grade="3", reason="he thinks again")
    assert asked.status == 303
    takes = f"/piece/{piece}/takes"
    there, journal = server.room.opened(piece).piece, server.room.journal

    def take(sound: Path, tries: str) -> None:
        logged = desk.log_take(journal, "Twice", there.performer, sound, tries, None, True)
        assert visitor.ask("GET", f"{takes}/{logged.take.n}-1/beside").status == 400  # not judged yet
        desk.judge_logged(journal, logged, server.room.loading, lambda share: None)

    take(recording, "let it slip")
    with journal.reading() as conn:
        words = journals.scored_run(conn, journals.runs(conn, piece)[0].id).words
    edge = ((words[still - 1].end or 0.0) + (words[still].start or 0.0)) / 2
    take(with_a_gap(recording, edge, 1.0, tmp_path / "held.wav"), "hold them back")

    shown = unescape(visitor.ask("GET", takes).text)
    assert "takes/2-1/beside" in shown and "Shifts of thought that can be heard" in shown
    measured(visitor, f"{takes}/1-2/beside")
    shown = unescape(visitor.ask("GET", f"{takes}/1-2/beside").text)
    for n, tries in ((1, "let it slip"), (2, "hold them back")):
        assert f'Take <span class="lining">{n}</span>: {tries}' in shown
    rows = re.findall(r"still more.*?<td[^>]*>(.*?)</td>\s*<td[^>]*>(.*?)</td>", shown, re.DOTALL)
    [(first, second)] = rows
    assert "pause" not in first.replace("no pause", "")
    assert re.match(r"pause 1\.\d s", second) and second.endswith(": heard")
    for wrong in ("1-9", "9", "1-x"):
        assert visitor.ask("GET", f"{takes}/{wrong}/beside").status == 400
