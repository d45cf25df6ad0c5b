"""Sending from the page: the chosen takes saved in one file, noted as sent, and the confirmation."""

from __future__ import annotations

import io
import zipfile
from html import unescape
from pathlib import Path

import pytest

from offbook import desk
from offbook import journal as journals
from offbook.page import PageServer
from tests.pages import Visitor, add_piece
from tests.sounds import voice, write

pytestmark = pytest.mark.model
SPEECH = "The lamp was lit before the tide came in.\n"


def test_a_take_is_saved_under_the_requested_name_noted_as_sent_and_confirmed(
    server: PageServer, visitor: Visitor, tmp_path: Path
) -> None:
    piece = add_piece(visitor, SPEECH, "The lamp")
    journal = server.room.journal
    there = server.room.opened(piece).piece
    sound = tmp_path / "one.wav"
    write(sound, voice(5, 8_000), 8_000)
    logged = desk.log_take(journal, "The lamp", there.performer, sound, "make her stay", None, True)
    asked = {"name": "Saltmarrow", "deadline": "2031-05-04", "piece": "The lamp"}
    brief = visitor.form("/brief/new", **asked).headers["location"].partition(visitor.place)[2]

    def in_the_class() -> str:
        """What a coach sees of it."""
        shown = unescape(visitor.ask("GET", "/class").text)
        return shown.partition("Saltmarrow</a>: ")[2].partition("</td>")[0]

    assert in_the_class() == "no take chosen"
    assert "Save the chosen takes" not in visitor.ask("GET", brief).text
    refused = visitor.form(f"{brief}/pack")
    assert refused.status == 400
    assert "No take is chosen of The lamp, so there is nothing to save yet" in unescape(refused.text)

    with journal.writing() as conn:
        journals.choose_take(journal, conn, logged.take)
    assert in_the_class() == "take chosen"
    saved = visitor.form(f"{brief}/pack")
    assert saved.headers["content-disposition"] == 'attachment; filename="Saltmarrow.zip"'
    with zipfile.ZipFile(io.BytesIO(saved.body)) as archive:
        named = [name for name in archive.namelist() if name.endswith(".wav")]
        assert [archive.read(name) for name in named] == [sound.read_bytes()]
        assert named[0] in archive.read("SHA256SUMS.txt").decode()
        sheet = archive.read("checklist.html").decode()
        for said in (named[0], "The lamp, take 1", "Played from the first second to the last", "on consent"):
            assert said in sheet

    assert visitor.form(f"{brief}/sent", where="the playhouse").status == 303
    assert in_the_class() == "sent"
    shown = unescape(visitor.ask("GET", brief).text)
    assert "to the playhouse; not confirmed yet, ask after" in shown
    assert visitor.form(f"{brief}/confirmed", words="Thank you, it is here").status == 303
    shown = unescape(visitor.ask("GET", brief).text)
    assert "confirmed" in shown and "Thank you, it is here" in shown
    assert "It has arrived" not in shown
    visitor.form(f"{brief}/sent", undo="1")
    assert "not sent yet" in visitor.ask("GET", brief).text


def test_the_warning_of_a_passed_deadline_names_the_button_to_press_and_no_command(visitor: Visitor) -> None:
    add_piece(visitor, SPEECH, "The tide")
    asked = {"name": "Harbour Festival", "deadline": "2020-05-04", "piece": "The tide"}
    brief = visitor.form("/brief/new", **asked).headers["location"].partition(visitor.place)[2]
    passed = "The deadline of Harbour Festival passed"
    advice = {
        brief: "If it was sent, choose the takes that went, and note it here.",
        "/briefs": "open it above and press “Note it as sent”",
        "/today": "Ask for a new one, or note it as sent if it was.",
    }
    for screen, said in advice.items():
        shown = unescape(visitor.ask("GET", screen).text)
        assert said in shown and "offbook brief" not in shown, screen
    assert passed in unescape(visitor.ask("GET", brief).text)
