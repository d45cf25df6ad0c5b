"""A performer who dries in front of the page, in a real browser: what the partner shows, says and counts."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from offbook import journal as journals
from offbook.page import PageServer
from tests.browsing import SAID, browser, entered, until
from tests.pages import HeldBack, Visitor, add_piece, let_in, served

pytestmark = pytest.mark.model
NEXT = "The gardener has left his boots beside the gate."  # the reader is silent here for five seconds

# A machine with two voices, of which one sends the text away (Web Speech API, `localService`).
VOICES = """
window.spoken = [];
const voices = [
  { name: "far", lang: "en-GB", localService: false },
  { name: "near", lang: "en-GB", localService: true },
];
window.SpeechSynthesisUtterance = class { constructor(text) { this.text = text; } };
Object.defineProperty(window, "speechSynthesis", { value: {
  getVoices: () => voices,
  cancel: () => {},
  speak: (said) => {
    window.spoken.push([said.text, said.voice.name]);
    said.onstart();
    setTimeout(said.onend, 300);
  },
} });
"""


@pytest.fixture(scope="module")
def chromium() -> Iterator[BrowserContext]:
    with browser() as found:
        yield found


def partnered(page: Page, server: PageServer, visitor: Visitor, name: str) -> str:
    """A piece that is being spoken with a partner who waits 1.5 s and speaks; its key."""
    piece = add_piece(visitor, f"{SAID}\n{NEXT}\n", name)
    page.goto(f"{server.door.origin}/{server.door.place}/piece/{piece}/speak")
    page.get_by_label("prompts me").check()
    page.get_by_label("after so many seconds of silence").fill("1.5")
    page.get_by_label("prompts spoken, not only shown").check()
    page.get_by_role("button", name="Begin").click()
    expect(page.locator("#state")).to_have_text("Recording.")
    return piece


def see_the_prompt_counted(page: Page, server: PageServer, piece: str) -> None:
    """The next word is shown and spoken by the machine's own voice; the notes and the journal have it."""
    expect(page.locator("#partner-says")).to_have_text(re.compile("^The"))
    page.get_by_role("button", name="Stop").click()
    page.wait_for_url(re.compile("/notes/"))
    expect(page.locator("main")).to_contain_text("after a silence you were given “The")
    with server.room.journal.reading() as conn:
        [run] = journals.runs(conn, piece)
        told = journals.circumstances_of(conn, run.id)
    assert run.prompts == 1
    assert [(p.first, p.asked) for p in told.prompts] == [(8, False)]  # before the ninth word


def test_a_performer_who_dries_sees_and_hears_the_next_word_and_the_prompt_is_counted(
    chromium: BrowserContext, server: PageServer, visitor: Visitor
) -> None:
    page = entered(chromium, server.door.link())
    page.add_init_script(VOICES)
    piece = partnered(page, server, visitor, "Dries")
    expect(page.locator("#partner-says")).to_have_text(re.compile("^The"))
    assert page.evaluate("spoken[0]") == ["The", "near"]
    see_the_prompt_counted(page, server, piece)
    page.close()


def test_a_performer_who_begins_before_the_model_is_loaded_is_told_so_and_prompted_once_it_is(
    chromium: BrowserContext, tmp_path: Path
) -> None:
    """What was said until then is heard without a prompt; the silence after it lasts, so a prompt follows."""
    loading = HeldBack()
    with served(tmp_path, loading) as server:
        page = entered(chromium, server.door.link())
        page.add_init_script(VOICES)
        piece = partnered(page, server, let_in(server), "At once")
        expect(page.locator("#behind")).to_contain_text("still getting ready to follow you")
        until(page, "document.getElementById('timer').textContent >= '0:05'")
        assert page.evaluate("spoken") == []
        loading.read.set()
        expect(page.locator("#behind")).to_have_text("")
        see_the_prompt_counted(page, server, piece)
        page.close()
