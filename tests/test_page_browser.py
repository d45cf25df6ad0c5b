"""The page in a real browser: from a script to its notes, and what can go wrong on the way."""

from __future__ import annotations

import json
import re
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from offbook import journal as journals
from offbook.page import PageServer
from offbook.page.turns import Job
from tests.browsing import ELSEWHERE, LOOKS, SAID, Command, browser, entered, sentence, until
from tests.page_screens import heard
from tests.pages import Visitor, add_piece

pytestmark = pytest.mark.model
PLANTED = "The gardener has left his boots beside the gate."  # nobody says this line


@pytest.fixture(scope="module")
def chromium() -> Iterator[BrowserContext]:
    with browser() as found:
        yield found


@pytest.fixture
def tab(chromium: BrowserContext, server: PageServer) -> Iterator[Page]:
    page = entered(chromium, server.door.link())
    yield page
    page.close()


def at(server: PageServer, where: str) -> str:
    """The address of a screen."""
    return f"{server.door.origin}/{server.door.place}{where}"


@contextmanager
def offline(context: BrowserContext) -> Iterator[None]:
    """A time in which the browser has no connection."""
    context.set_offline(True)
    try:
        yield
    finally:
        context.set_offline(False)


def add_script(page: Page, name: str, text: str) -> None:
    """Add a script as a person does: paste it, look at it, keep it."""
    page.get_by_role("link", name="Add a script").click()
    page.get_by_label("Paste it here").fill(text)
    page.get_by_label("What to call it").fill(name)
    page.get_by_role("button", name="Show what is spoken").click()
    page.get_by_role("button", name="Yes, keep it").click()
    page.wait_for_selector("#speech")


def begin(page: Page) -> None:
    """Press the button; it records."""
    page.get_by_role("button", name="Begin").click()
    expect(page.locator("#state")).to_have_text("Recording.")


def speaking(tab: Page, server: PageServer, visitor: Visitor, name: str, text: str = SAID) -> str:
    """A new piece that is being spoken; its key."""
    piece = add_piece(visitor, text, name)
    tab.goto(at(server, f"/piece/{piece}/speak"))
    begin(tab)
    return piece


_SECONDS = """at_least => {
  const [minutes, seconds] = document.getElementById("timer").textContent.split(":").map(Number);
  return 60 * minutes + seconds >= at_least;
}"""


def spoken(page: Page, seconds: int = 4) -> None:
    """Wait for so many seconds of sound at least: the reader is done after 3, and begins again after 8."""
    until(page, _SECONDS, seconds)


def written(page: Page, home: Path, piece: str = "*", at_least: float = 3.0) -> None:
    """Wait until a server, which may be another process, has so many seconds of what is being spoken on disk.

    Its reader is done then. On a busy machine the timer of the page says more than it has sent.
    """
    while _on_disk(home / "spoken", piece) < at_least:
        page.wait_for_timeout(LOOKS)


def _on_disk(spoken: Path, piece: str) -> float:
    [about] = spoken.glob(f"{piece}/*/about.json")
    rate = int(json.loads(about.read_text())["spells"][0]["rate"])
    return sum(p.stat().st_size for p in about.parent.glob("spell-*.pcm")) / (2 * rate)


def test_a_pasted_script_is_spoken_and_its_notes_are_shown(tab: Page) -> None:
    """A real reader speaks it. The dropped line is listed first, and nothing else is wrong."""
    add_script(tab, "The whole way", f"[A room at Norland.]\n{SAID}\n{PLANTED}\n")
    assert "Norland" not in tab.locator("#speech li:not(.aside)").first.inner_text()
    tab.get_by_role("navigation", name="This piece").get_by_role("link", name="Speak").click()
    begin(tab)
    spoken(tab)  # its script goes on, so the page cannot end by itself
    tab.get_by_role("button", name="Stop").click()
    tab.wait_for_url(re.compile("/notes/"))
    heads = tab.locator("h2").all_inner_texts()
    assert heads.index("Dropped lines") < heads.index("On the text") < heads.index("Line notes")
    assert tab.locator("p > del").all_inner_texts() == [PLANTED]
    [row] = tab.locator("tr[id^=note-]").all_inner_texts()
    assert "dropped" in row
    words = len(re.findall(r"[\w']+", f"{SAID} {PLANTED}"))
    assert f"{words - 9} of {words} words" in tab.locator("main").inner_text()


def test_recording_stops_by_itself_after_the_last_word_and_pressing_a_word_plays_it(
    tab: Page, server: PageServer, visitor: Visitor
) -> None:
    speaking(tab, server, visitor, "By itself")
    tab.wait_for_url(re.compile("/notes/"))
    expect(tab.locator(".figure")).to_contain_text("Word-perfect")
    last = tab.locator(".w[data-at]").last
    said_at = float(last.get_attribute("data-at") or 0)
    assert said_at > 1.0
    last.click()
    until(tab, f"document.getElementById('sound').currentTime > {said_at - 0.4}")


def test_correcting_a_verdict_on_its_note_changes_the_accuracy_shown(
    tab: Page, server: PageServer, visitor: Visitor
) -> None:
    piece = add_piece(visitor, f"{SAID}\n{PLANTED}\n", "Contested")
    tab.goto(at(server, f"/piece/{piece}/notes/{heard(visitor, piece, sentence())}"))
    tab.locator("a.mark").first.focus()
    tab.keyboard.press("Enter")
    note = tab.locator("[popover]:popover-open")
    note.get_by_role("button", name="I did say that").click()
    expect(tab.locator(".told").first).to_contain_text("Corrected")
    expect(tab.locator(".figure")).to_contain_text("Word-perfect")


def test_a_page_loaded_again_during_a_recording_offers_to_go_on(
    tab: Page, server: PageServer, visitor: Visitor
) -> None:
    piece = speaking(tab, server, visitor, "Loaded again", f"{SAID}\n{PLANTED}\n")
    written(tab, server.room.home, piece)
    before = float(server.room.speaking.open_now()[0].capture.seconds)
    tab.on("dialog", lambda dialog: dialog.accept())
    tab.reload()
    expect(tab.get_by_text("A recording was broken off at")).to_be_visible()
    [capture] = server.room.speaking.left(piece)
    assert capture.seconds >= before >= 3.0  # nothing of what was acknowledged is lost
    begun = capture.seconds
    tab.get_by_role("button", name="Go on from there").click()
    expect(tab.locator("#state")).to_have_text("Recording.")
    spoken(tab, int(begun) + 2)
    assert server.room.speaking.open_now()[0].capture.seconds > begun  # it goes on where it was
    tab.get_by_role("button", name="Stop").click()
    tab.wait_for_url(re.compile("/notes/"))
    assert server.room.speaking.left(piece) == []


def test_a_second_tab_says_that_the_first_is_recording_and_the_first_goes_on_unharmed(
    tab: Page, chromium: BrowserContext, server: PageServer, visitor: Visitor
) -> None:
    """None of the second tab's sound is kept; it may record when the first has ended."""
    piece = speaking(tab, server, visitor, "Two tabs", f"{SAID}\n{PLANTED}\n")
    other = entered(chromium, server.door.link())
    other.goto(at(server, f"/piece/{piece}/speak"))
    other.get_by_role("button", name="Begin").click()
    expect(other.get_by_role("alert")).to_contain_text("Another window of this page is recording")
    expect(other.locator("#state")).to_have_text("Not recording.")
    spoken(tab)
    tab.get_by_role("button", name="Stop").click()
    tab.wait_for_url(re.compile("/notes/"))
    assert [row for row in tab.locator("tr[id^=note-]").all_inner_texts() if "dropped" not in row] == []
    begin(other)
    expect(other.get_by_role("alert")).to_be_hidden()
    other.close()
    with server.room.journal.reading() as conn:
        assert len(journals.runs(conn, piece)) == 1


def test_pressing_begin_just_after_another_window_was_closed_starts_a_recording(
    tab: Page, chromium: BrowserContext, server: PageServer, visitor: Visitor
) -> None:
    """The closed page did not tell the server, so it still seems to record for some seconds."""
    piece = add_piece(visitor, SAID, "Closed before")
    begun = json.loads(visitor.form(f"/piece/{piece}/speak", rate="16000").text)
    visitor.ask("POST", f"/capture/{begun['key']}/0/0", bytes(begun["bytes"]))
    tab.goto(at(server, f"/piece/{piece}/speak"))
    begin(tab)
    expect(tab.get_by_role("alert")).to_be_hidden()


def test_a_window_opened_earlier_offers_what_a_closed_window_left_and_asks_the_server_again(
    tab: Page, server: PageServer, visitor: Visitor
) -> None:
    """The other did not report that it closed; the server answers when no sound has come for seconds."""
    piece = add_piece(visitor, SAID, "Left behind")
    begun = json.loads(visitor.form(f"/piece/{piece}/speak", rate="16000").text)
    capture = server.room.speaking.spoken(begun["key"])
    speak = at(server, f"/piece/{piece}/speak")
    asked = list[str]()
    tab.on("request", lambda r: asked.append(r.url))
    capture.last = float("inf")  # sound goes on coming
    tab.goto(speak)
    visitor.ask("POST", f"/capture/{begun['key']}/0/0", bytes(begun["bytes"]))
    expect(tab.get_by_text("A recording was broken off at")).to_be_visible()
    assert asked.count(speak) == 2
    closed = at(server, f"/capture/{begun['key']}/closed")
    assert asked.count(closed) == 1
    tab.get_by_role("button", name="Throw it away").click()
    tab.wait_for_load_state()
    assert asked.count(closed) == 1  # nothing is open: nothing is asked


def test_a_page_that_waits_for_a_hearing_goes_on_to_the_notes_when_the_server_answers_again(
    chromium: BrowserContext, tab: Page, server: PageServer, visitor: Visitor
) -> None:
    piece = add_piece(visitor, SAID, "Waits")
    run, heard_now = heard(visitor, piece, sentence()), threading.Event()

    def work(job: Job) -> str:
        assert heard_now.wait(120)
        return run

    job = server.room.turns.add(Job("somebody", piece, "Waits", work))
    tab.goto(at(server, f"/hearing/{job.key}"))
    expect(tab.locator("#job-words")).to_have_text("Hearing the recording …")
    with offline(chromium):
        expect(tab.locator("#job-words")).to_contain_text("offbook does not answer. The recording is kept")
        heard_now.set()
        assert job.over.wait(120)
        tab.wait_for_timeout(1_000)
    tab.wait_for_url(re.compile(f"/notes/{run}$"))


def test_a_speech_that_is_heard_while_the_server_is_unreachable_still_gets_its_notes(
    chromium: BrowserContext,
    tab: Page,
    server: PageServer,
    visitor: Visitor,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    heard_now, commit = threading.Event(), server.room.commit

    def held_back(*run: Any) -> str:
        assert heard_now.wait(120)
        return commit(*run)

    monkeypatch.setattr(server.room, "commit", held_back)
    speaking(tab, server, visitor, "Out of reach")
    tab.wait_for_event("request", lambda request: "/hearing/" in request.url)  # it asks how far it is
    with offline(chromium):
        expect(tab.get_by_role("alert")).to_contain_text("Wait, and it goes on when it answers")
        heard_now.set()
    tab.wait_for_url(re.compile("/notes/"))
    expect(tab.locator(".figure")).to_contain_text("Word-perfect")


def test_words_said_while_the_server_is_unreachable_arrive_afterwards(
    chromium: BrowserContext, tab: Page, server: PageServer, visitor: Visitor
) -> None:
    sent = set[int]()
    tab.on("request", lambda r: sent.update(map(int, re.findall(r"/capture/\w+/0/(\d+)", r.url))))
    speaking(tab, server, visitor, "Cut off")
    with offline(chromium):
        expect(tab.get_by_role("alert")).to_contain_text("is safe on disk")
        tab.wait_for_timeout(1_000)
    expect(tab.locator("#trouble")).to_be_hidden()
    tab.wait_for_url(re.compile("/notes/"))
    expect(tab.locator(".figure")).to_contain_text("Word-perfect")
    assert len(sent) < max(sent) + 1  # what had to wait went together


def test_a_server_killed_during_a_recording_keeps_what_was_said(
    chromium: BrowserContext, tmp_path: Path
) -> None:
    first = Command(tmp_path)
    page = entered(chromium, first.link)
    add_script(page, "Killed", f"{SAID}\n{PLANTED}\n")
    page.get_by_role("navigation", name="This piece").get_by_role("link", name="Speak").click()
    begin(page)
    written(page, tmp_path)
    first.kill()
    expect(page.get_by_role("alert")).to_contain_text("is safe on disk")
    safe = page.get_by_role("alert").inner_text()
    page.close()
    second = Command(tmp_path)
    page = entered(chromium, second.link)
    page.get_by_role("link", name="Killed").click()
    page.get_by_role("navigation", name="This piece").get_by_role("link", name="Speak").click()
    seconds = page.locator("[data-left] strong").inner_text()
    [told] = re.findall(r"everything up to 0:0(\d) is safe", safe)
    assert f"0:0{told}" <= seconds  # what was written may not have been acknowledged before the end
    page.get_by_role("button", name="Hear what there is").click()
    page.wait_for_url(re.compile("/notes/"))
    assert page.locator("tr[id^=note-]").count() > 0  # the words after the crash were not said
    page.close()
    second.stop()
    about = [json.loads(p.read_text()) for p in (tmp_path / "spoken").glob("*/*/about.json")]
    assert about == []


def test_a_refused_microphone_is_reported_with_what_to_do(server: PageServer, visitor: Visitor) -> None:
    piece = add_piece(visitor, SAID, "Denied")
    with browser(deny=True) as context:
        page = entered(context, server.door.link())
        page.goto(at(server, f"/piece/{piece}/speak"))
        page.get_by_role("button", name="Begin").click()
        expect(page.get_by_role("alert")).to_contain_text("does not let this page use the microphone")
        expect(page.get_by_role("alert")).to_contain_text("Allow it")
        expect(page.get_by_role("button", name="Begin")).to_be_enabled()
        expect(page.locator("#state")).to_have_text("Not recording.")


# Keeps the streams a page opens, so that a test can do to them what a cable does.
_STREAMS = """
const open = navigator.mediaDevices.getUserMedia.bind(navigator.mediaDevices);
window.streams = [];
navigator.mediaDevices.getUserMedia = async (wanted) => {
  const stream = await open(wanted);
  window.streams.push(stream);
  return stream;
};
const Whole = window.AudioContext;
window.contexts = [];
window.AudioContext = class extends Whole {
  constructor(...all) { super(...all); window.contexts.push(this); }
};
"""


def test_an_unplugged_microphone_is_reported_and_what_was_said_is_kept_and_continued(
    chromium: BrowserContext, server: PageServer, visitor: Visitor
) -> None:
    """A track of what is unplugged ends (W3C Media Capture and Streams, 4.3): "ended" is all a page hears."""
    page = entered(chromium, server.door.link())
    page.add_init_script(_STREAMS)
    piece = speaking(page, server, visitor, "Unplugged", f"{SAID}\n{PLANTED}\n")
    spoken(page, 2)
    page.evaluate("streams[0].getTracks().forEach(t => { t.stop(); t.dispatchEvent(new Event('ended')); })")
    expect(page.get_by_role("alert")).to_contain_text("The microphone is gone; everything up to 0:0")
    expect(page.locator("#state")).to_have_text("Not recording.")
    page.get_by_role("button", name="Go on from there").click()
    expect(page.locator("#state")).to_have_text("Recording.")
    expect(page.get_by_role("alert")).to_be_hidden()
    spoken(page)
    page.get_by_role("button", name="Stop").click()
    page.wait_for_url(re.compile("/notes/"))
    assert server.room.speaking.left(piece) == []
    page.close()


def test_the_page_does_not_claim_to_record_if_the_microphone_sends_no_sound_at_all(
    chromium: BrowserContext, server: PageServer, visitor: Visitor
) -> None:
    """No sound at all, not even silence, comes from a sound system that has stopped."""
    page = entered(chromium, server.door.link())
    page.add_init_script(_STREAMS)
    speaking(page, server, visitor, "Fell silent")
    page.evaluate("contexts[0].suspend()")
    expect(page.get_by_role("alert")).to_contain_text("The microphone gives no sound; everything up to 0:0")
    expect(page.locator("#state")).to_have_text("Not recording.")
    page.close()


@pytest.mark.parametrize(
    ("hangs", "told"),
    [
        (
            "navigator.mediaDevices.getUserMedia = () => NEVER",
            "The microphone is not open yet",
        ),
        ("AudioContext.prototype.resume = () => NEVER", "does not start its sound"),
    ],
)
def test_pressing_begin_gives_a_reason_if_the_browser_never_answers(
    chromium: BrowserContext, server: PageServer, visitor: Visitor, hangs: str, told: str
) -> None:
    page = entered(chromium, server.door.link())
    page.add_init_script(hangs.replace("NEVER", "new Promise(() => {})"))
    piece = add_piece(visitor, SAID, f"Hangs: {told}")
    page.clock.install()
    page.goto(at(server, f"/piece/{piece}/speak"))
    page.get_by_role("button", name="Begin").click()
    expect(page.locator("#state")).to_contain_text("Allow it if the browser asks")
    for _ in range(3):
        page.clock.run_for(4_500)
        page.wait_for_timeout(200)
    expect(page.get_by_role("alert")).to_contain_text(told)
    page.close()


@contextmanager
def another_program(answer: bytes = b"") -> Iterator[tuple[int, list[str]]]:
    """Another server of this machine: its port, and the cookies that it is sent."""
    seen: list[str] = []

    class Other(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            seen.append(self.headers.get("Cookie", ""))
            self.send_response(200)
            self.send_header("Content-Type", "text/html")
            self.end_headers()
            self.wfile.write(answer)

        def log_message(self, *told: object) -> None:
            """Say nothing."""

    with HTTPServer(("127.0.0.1", 0), Other) as other:
        threading.Thread(target=other.serve_forever, args=(0.01,), daemon=True).start()
        yield other.server_port, seen
        other.shutdown()


def test_another_program_on_this_machine_is_not_sent_the_cookie(tab: Page) -> None:
    """Cookies do not tell ports apart; ours is bound to a random place."""
    with another_program() as (port, seen):
        tab.goto(f"http://127.0.0.1:{port}/anything/")
        tab.evaluate("fetch('/again').catch(() => {})")
    assert seen and set(seen) == {""}


def test_a_foreign_domain_name_that_points_to_this_machine_shows_nothing(
    tab: Page, server: PageServer
) -> None:
    """DNS rebinding in the performer's own browser, with the very address of the page."""
    answer = tab.goto(f"http://{ELSEWHERE}:{server.door.port}/{server.door.place}/")
    assert answer is not None and answer.status == 403
    assert "Pieces" not in tab.content()


@pytest.mark.parametrize("host", ["127.0.0.1", ELSEWHERE])
def test_a_form_or_a_fetch_of_another_site_changes_and_reads_nothing(
    tab: Page, server: PageServer, host: str
) -> None:
    """In the performer's browser, which holds the cookie: from another port, and from another name."""
    target = at(server, "/add")
    form = (
        f'<form method="post" action="{target}"><input name="text" value="planted"><button>Go</button></form>'
    )
    before = set((server.room.home / "coming-in").glob("*"))
    with another_program(form.encode()) as (port, _):
        tab.goto(f"http://{host}:{port}/")
        read = tab.evaluate(
            "at => fetch(at, {credentials: 'include'}).then(a => a.text(), () => 'nothing')", at(server, "/")
        )
        assert read == "nothing"
        with tab.expect_response(target) as answer:
            tab.get_by_role("button", name="Go").click()
    assert answer.value.status == 403
    assert set((server.room.home / "coming-in").glob("*")) == before


def test_the_partner_gives_the_cue_and_the_word_that_the_performer_asks_for(tab: Page) -> None:
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
    # The reader says something else and may have moved the place by then: still a word of the line.
    expect(tab.locator("#partner-says")).to_have_text(re.compile("^(Perhaps|the|tide|took|every|light)"))
    tab.get_by_role("button", name="Stop").click()
    # Notes, or why there are none: the reader says a sentence of another book.
    tab.locator(".figure, #trouble:not([hidden])").first.wait_for()


def test_an_answer_said_aloud_in_a_drill_is_heard_and_judged(
    tab: Page, server: PageServer, visitor: Visitor
) -> None:
    piece = add_piece(visitor, SAID, "Aloud")
    tab.goto(at(server, f"/piece/{piece}/drill"))
    tab.get_by_role("button", name="Begin").click()
    if tab.get_by_role("button", name="I have read it").is_visible():
        tab.get_by_role("button", name="I have read it").click()
    tab.get_by_role("button", name="Say it").click()
    tab.wait_for_timeout(4_000)
    tab.get_by_role("button", name="I have said it").click()
    expect(tab.get_by_text("Heard:")).to_be_visible()
