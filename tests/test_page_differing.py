"""On the page: taking the other of two values that differ after an import, and changing a brief."""

from __future__ import annotations

import re
import shutil
from html import unescape
from pathlib import Path

import pytest
from playwright.sync_api import expect

from offbook import desk
from offbook import journal as journals
from offbook.brief import Brief
from offbook.page import PageServer
from tests.browsing import browser, entered
from tests.pages import Visitor, add_piece, let_in, served

SPEECH = "The lamp was lit before the tide came in.\n"
ASKED = {
    "name": "Saltmarrow",
    "deadline": "2031-05-04",
    "clock": "18:30",
    "piece": "The lamp",
    "known": "1",
    "name-0": "The lamp",
    "limit-0": "0:50 to 1:30",
    "longest": "2:00",
    "slate": "true",
    "kinds": "mp4",
    "by_eye": "Look beside the lens",
}


@pytest.mark.heavy
def test_a_button_takes_the_other_of_two_differing_values_and_another_takes_it_back(tmp_path: Path) -> None:
    """A limit and a line of a brief were changed on a copy of the journal, which then comes back.

    What the server makes of it is tested without a browser in tests/test_page_sides.py.
    """
    with served(tmp_path / "here") as server:
        visitor = let_in(server)
        piece = add_piece(visitor, SPEECH, "The lamp", limit="1:00")
        visitor.form("/brief/new", **ASKED)
        shutil.copytree(tmp_path / "here", tmp_path / "there")
    with served(tmp_path / "there") as other:
        there = let_in(other)
        there.form(f"/piece/{piece}/settings", name="The lamp", limit="1:30", keep="1")
        with other.room.journal.writing() as conn:
            (kept,) = desk.read_briefs(conn)
            desk.correct_brief(other.room.journal, conn, kept, ["slate = false"], ())
        archive = tmp_path / "theirs.zip"
        journals.export(other.room.journal, archive, desk.fits_brief)
    with served(tmp_path / "here") as server, browser() as context:
        tab = entered(context, server.door.link())
        tab.get_by_role("link", name="Keep safe").click()
        tab.get_by_label("archive").set_input_files(archive)
        tab.get_by_role("button", name="Read it in").click()
        row = tab.get_by_role("listitem").filter(has_text="The lamp: limit")
        expect(row.locator("strong")).to_have_text("1:30")
        expect(row).to_contain_text("Theirs was changed later, and is taken.")
        row.get_by_role("button", name="Take 1:00, as it was here").click()
        expect(row.locator("strong")).to_have_text("1:00")
        assert server.room.opened(piece).piece.limit_seconds == 60
        row.get_by_role("button", name="Take 1:30, as it came in").click()
        expect(row.locator("strong")).to_have_text("1:30")
        assert server.room.opened(piece).piece.limit_seconds == 90
        row = tab.get_by_role("listitem").filter(has_text="slate")
        row.get_by_role("button", name="Take slate = true").click()
        expect(row.locator("strong")).to_have_text("slate = true")
        with server.room.journal.reading() as conn:
            (kept,) = desk.read_briefs(conn)
        assert (kept.brief.slate, kept.brief.longest) == (True, 120)
        tab.goto(f"{tab.url.rpartition('/')[0]}/nothing")
        expect(tab.locator("main")).to_contain_text("This list of differences is no longer kept")


@pytest.fixture
def brief(server: PageServer, visitor: Visitor) -> str:
    """A brief with points that the form has no field for; where it is."""
    with server.room.journal.reading() as conn:
        if not journals.pieces_of(conn):
            add_piece(visitor, SPEECH, "The lamp")
    at = visitor.form("/brief/new", **ASKED).headers["location"].partition(visitor.place)[2]
    with server.room.journal.writing() as conn:
        kept = desk.brief_by_key(conn, at.rpartition("/")[2])
        lines = ['file_name = "{piece}"', "takes = 3", "frames = 25"]
        desk.correct_brief(server.room.journal, conn, kept, lines, ())
    return at


@pytest.mark.heavy
def test_a_brief_is_changed_field_by_field_and_lines_without_a_field_stay(
    server: PageServer, visitor: Visitor, brief: str
) -> None:
    shown = unescape(visitor.ask("GET", f"{brief}/change").text)
    for value in (
        'value="18:30"',
        'value="0:50 to 1:30"',
        'value="2:00"',
        ">Look beside the lens</textarea>",
    ):
        assert value in shown
    assert re.search(r'value="true" selected>yes, a slate', shown)
    before = _brief(server, brief)
    changed = ASKED | {"longest": "1:45", "slate": "", "kinds": "mp4, mov"}
    assert visitor.form(f"{brief}/change", **changed).status == 303
    after = _brief(server, brief)
    assert (after.longest, after.slate, after.kinds) == (105, None, ("mp4", "mov"))
    for same in ("deadline", "limits", "pieces", "file_name", "takes", "frames", "by_eye", "name"):
        assert getattr(after, same) == getattr(before, same), same
    assert "Corrected." in visitor.ask("GET", brief).text


@pytest.mark.heavy
def test_saving_an_unchanged_brief_changes_nothing_and_a_wrong_value_is_shown_with_the_reason(
    server: PageServer, visitor: Visitor, brief: str
) -> None:
    """A piece that the journal does not have under that name is not lost on the way."""
    key = brief.rpartition("/")[2]
    with server.room.journal.writing() as conn:
        kept = desk.brief_by_key(conn, key)
        desk.correct_brief(
            server.room.journal,
            conn,
            kept,
            ['pieces = ["the LAMP", "Gone"]', 'limits = { "Gone" = "1:00" }'],
            (),
        )
    before = _brief(server, brief)
    shown = unescape(visitor.ask("GET", f"{brief}/change").text)
    assert re.findall(r'name="piece" value="([^"]+)" checked', shown) == ["The lamp", "Gone"]
    as_it_stands = [(k, v) for k, v in ASKED.items() if k not in ("piece", "known", "name-0", "limit-0")]
    for n, name in enumerate(("The lamp", "Gone")):
        as_it_stands += [("piece", name), ("known", "1"), (f"name-{n}", name)]
    as_it_stands += [("limit-1", "1:00")]
    assert visitor.pairs(f"{brief}/change", as_it_stands).status == 303
    assert _brief(server, brief) == before
    refused = visitor.form(f"{brief}/change", **ASKED | {"longest": "soon"})
    assert refused.status == 400 and 'value="soon"' in refused.text
    assert _brief(server, brief) == before


def _brief(server: PageServer, at: str) -> Brief:
    with server.room.journal.reading() as conn:
        return desk.brief_by_key(conn, at.rpartition("/")[2]).brief
