"""The page in a real browser: the whole way from a script to its notes, and what goes wrong on it."""

from __future__ import annotations

import json
import re
import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from offbook.page import PageServer
from tests.browsing import WAIT, Command, browser, entered, padded
from tests.pages import served
from tests.recordings import librivox_sentences

pytestmark = pytest.mark.model
PLANTED = "The gardener has left his boots beside the gate."  # nobody says this line
SAID = librivox_sentences()[0][1].strip()


@pytest.fixture(scope="module")
def microphone(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A LibriVox reader of Austen (Debian's pocketsphinx-testdata), then the quiet of a room."""
    return padded(librivox_sentences()[0][0], tmp_path_factory.mktemp("microphone") / "austen.wav")


@pytest.fixture(scope="module")
def chromium(tmp_path_factory: pytest.TempPathFactory, microphone: Path) -> Iterator[BrowserContext]:
    with browser(tmp_path_factory.mktemp("profile"), microphone) as found:
        yield found


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[PageServer]:
    with served(tmp_path_factory.mktemp("home")) as found:
        yield found


@pytest.fixture
def tab(chromium: BrowserContext, server: PageServer) -> Iterator[Page]:
    page = entered(chromium, server.door.link())
    yield page
    page.close()


def add_script(page: Page, name: str, text: str) -> None:
    """As a person does it: paste, look, keep."""
    page.get_by_role("link", name="Add a script").click()
    page.get_by_label("Paste it here").fill(text)
    page.get_by_label("What to call it").fill(name)
    page.get_by_role("button", name="Show what is spoken").click()
    page.get_by_role("button", name="Yes, keep it").click()
    page.wait_for_selector("#speech")


def speak(page: Page) -> None:
    """To the button, and press it."""
    page.get_by_role("navigation", name="This piece").get_by_role("link", name="Speak").click()
    page.get_by_role("button", name="Begin").click()
    expect(page.locator("#state")).to_have_text("Recording.", timeout=WAIT)


def test_the_whole_way_from_a_pasted_script_to_the_notes_on_it(tab: Page) -> None:
    """Added, spoken by a real reader, stopped by itself; the dropped line first, and nothing else wrong."""
    add_script(tab, "The whole way", f"[A room at Norland.]\n{SAID}\n{PLANTED}\n")
    assert "Norland" not in tab.locator("#speech li:not(.aside)").first.inner_text()
    speak(tab)
    tab.get_by_role("button", name="Stop").wait_for()
    tab.wait_for_timeout(9_000)  # the reading takes 8 s; its script goes on, so the page cannot end by itself
    tab.get_by_role("button", name="Stop").click()
    tab.wait_for_url(re.compile("/notes/"))
    heads = tab.locator("h2").all_inner_texts()
    assert heads.index("Dropped lines") < heads.index("On the text") < heads.index("Line notes")
    assert tab.locator("p > del").all_inner_texts() == [PLANTED]
    [row] = tab.locator("tr[id^=note-]").all_inner_texts()
    assert "dropped" in row
    words = len(re.findall(r"[\w']+", f"{SAID} {PLANTED}"))
    assert f"{words - 9} of {words} words" in tab.locator("main").inner_text()


def test_it_stops_by_itself_after_the_last_word_and_a_word_is_heard_when_it_is_pressed(tab: Page) -> None:
    add_script(tab, "By itself", SAID)
    speak(tab)
    tab.wait_for_url(re.compile("/notes/"))
    expect(tab.locator(".figure")).to_contain_text("Word-perfect")
    tab.locator(".w[data-at]").last.click()
    tab.wait_for_function("document.getElementById('sound').currentTime > 2")


def test_a_verdict_is_contested_on_the_note_and_the_figure_follows(tab: Page) -> None:
    add_script(tab, "Contested", f"{SAID} {PLANTED}")
    speak(tab)
    tab.wait_for_timeout(9_000)
    tab.get_by_role("button", name="Stop").click()
    tab.wait_for_url(re.compile("/notes/"))
    tab.locator("a.mark").first.focus()
    tab.keyboard.press("Enter")
    note = tab.locator("[popover]:popover-open")
    note.get_by_role("button", name="I did say that").click()
    expect(tab.locator(".told").first).to_contain_text("Corrected")
    expect(tab.locator(".figure")).to_contain_text("Word-perfect")


def test_a_page_loaded_again_in_the_middle_offers_to_go_on(tab: Page, server: PageServer) -> None:
    add_script(tab, "Loaded again", SAID)
    speak(tab)
    tab.wait_for_timeout(3_000)
    tab.on("dialog", lambda dialog: dialog.accept())
    tab.reload()
    tab.wait_for_timeout(1_000)
    tab.reload()  # what the closing page said has arrived by now
    expect(tab.get_by_text("when this was broken off")).to_be_visible()
    piece_id = tab.url.split("/piece/")[1].split("/")[0]  # other tests may leave captures of other pieces
    [capture] = server.room.speaking.left(piece_id)
    assert 2.0 <= capture.seconds <= 5.0  # at most a second of what was said is lost
    tab.get_by_role("button", name="Go on from there").click()
    expect(tab.locator("#state")).to_have_text("Recording.")
    tab.wait_for_timeout(1_500)
    tab.get_by_role("button", name="Stop").click()
    tab.wait_for_url(re.compile("/notes/"))
    assert server.room.speaking.left(piece_id) == []


def test_a_second_tab_is_told_that_the_first_is_being_spoken_into(
    tab: Page, chromium: BrowserContext, server: PageServer
) -> None:
    add_script(tab, "Two tabs", SAID)
    speak(tab)
    other = entered(chromium, server.door.link())
    other.goto(tab.url)
    other.get_by_role("button", name="Begin").click()
    expect(other.get_by_role("alert")).to_contain_text("Another window of this page is being spoken into")
    other.close()


def test_what_is_said_while_the_server_cannot_be_reached_arrives_afterwards(
    tab: Page, chromium: BrowserContext, server: PageServer
) -> None:
    add_script(tab, "Cut off", SAID)
    speak(tab)
    tab.wait_for_timeout(1_000)
    chromium.set_offline(True)
    expect(tab.get_by_role("alert")).to_contain_text("is safe on disk")
    tab.wait_for_timeout(1_000)
    chromium.set_offline(False)
    expect(tab.locator("#trouble")).to_be_hidden()
    tab.wait_for_url(re.compile("/notes/"))
    expect(tab.locator(".figure")).to_contain_text("Word-perfect")


def test_a_server_killed_in_the_middle_keeps_what_was_said(chromium: BrowserContext, tmp_path: Path) -> None:
    first = Command(tmp_path)
    page = entered(chromium, first.link)
    add_script(page, "Killed", SAID)
    speak(page)
    page.wait_for_timeout(4_000)
    first.kill()
    expect(page.get_by_role("alert")).to_contain_text("is safe on disk")
    page.close()
    second = Command(tmp_path)
    page = entered(chromium, second.link)
    page.get_by_role("link", name="Killed").click()
    page.get_by_role("navigation", name="This piece").get_by_role("link", name="Speak").click()
    seconds = page.locator("[data-left] strong").inner_text()
    assert seconds in ("0:03", "0:04", "0:05")
    page.get_by_role("button", name="Hear what there is").click()
    page.wait_for_url(re.compile("/notes/"))
    assert page.locator("tr[id^=note-]").count() > 0  # the words after the crash were not said
    page.close()
    second.stop()
    about = [json.loads(p.read_text()) for p in (tmp_path / "spoken").glob("*/*/about.json")]
    assert about == []


def test_a_microphone_that_is_denied_is_told_with_what_to_do(tmp_path: Path, server: PageServer) -> None:
    with browser(tmp_path, deny=True) as context:
        page = entered(context, server.door.link())
        add_script(page, "Denied", SAID)
        page.get_by_role("navigation", name="This piece").get_by_role("link", name="Speak").click()
        page.get_by_role("button", name="Begin").click()
        expect(page.get_by_role("alert")).to_contain_text("does not let this page use the microphone")
        expect(page.get_by_role("alert")).to_contain_text("Allow it")
        expect(page.get_by_role("button", name="Begin")).to_be_enabled()


def test_another_program_on_this_machine_is_not_sent_the_cookie(tab: Page) -> None:
    """Cookies do not tell ports apart; ours is bound to a random place."""
    seen: list[str] = []

    class Other(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            seen.append(self.headers.get("Cookie", ""))
            self.send_response(200)
            self.end_headers()

        def log_message(self, *told: object) -> None:
            """Say nothing."""

    with HTTPServer(("127.0.0.1", 0), Other) as other:
        threading.Thread(target=other.serve_forever, daemon=True).start()
        tab.goto(f"http://127.0.0.1:{other.server_port}/anything/")
        tab.evaluate("fetch('/again').catch(() => {})")
        other.shutdown()
    assert seen and set(seen) == {""}


def test_a_partner_gives_the_cue_and_the_word_that_is_asked_for(tab: Page) -> None:
    """Without a voice of this machine in the browser, cues and prompts are shown to be read."""
    tab.get_by_role("link", name="Add a script").click()
    tab.get_by_label("Paste it here").fill(
        "WARDEN: Who goes there?\n\nMARA: Perhaps the tide took every light.\n"
    )
    tab.get_by_label("What to call it").fill("The gate")
    tab.get_by_role("button", name="Show what is spoken").click()
    tab.get_by_role("radio", name="MARA").check()
    tab.get_by_role("button", name="Take this part").click()
    tab.get_by_role("button", name="Yes, keep it").click()
    tab.get_by_role("navigation", name="This piece").get_by_role("link", name="Speak").click()
    tab.get_by_label("reads the other lines and prompts").check()
    tab.get_by_role("button", name="Begin").click()
    expect(tab.locator("#partner-says")).to_have_text("WARDEN: Who goes there?")
    tab.wait_for_timeout(2_500)
    tab.get_by_role("button", name="Line?").click()
    expect(tab.locator("#partner-says")).to_contain_text("Perhaps")
    tab.get_by_role("button", name="Stop").click()
    tab.wait_for_url(re.compile("/notes/|/speak"))


def test_an_answer_said_aloud_in_a_drill_is_heard_and_judged(tab: Page) -> None:
    add_script(tab, "Aloud", SAID)
    tab.get_by_role("navigation", name="This piece").get_by_role("link", name="Drill").click()
    tab.get_by_role("button", name="Begin").click()
    if tab.get_by_role("button", name="I have read it").is_visible():
        tab.get_by_role("button", name="I have read it").click()
    tab.get_by_role("button", name="Say it").click()
    tab.wait_for_timeout(4_000)
    tab.get_by_role("button", name="I have said it").click()
    expect(tab.get_by_text("Heard:")).to_be_visible(timeout=WAIT)
