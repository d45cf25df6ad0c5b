"""Every screen: axe-core finds nothing (WCAG 2.2 A and AA) in light or dark, nothing is cut off at 320 px."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import unescape
from importlib.resources import files
from io import BytesIO
from pathlib import Path

import pdfplumber
import pytest
from playwright.sync_api import Page, expect

from offbook import journal as journals
from offbook.page import PageServer
from tests.browsing import browser, entered, until
from tests.page_screens import DEMO, NARROW, USUAL, seed
from tests.pages import Visitor, add_piece, let_in, served
from tests.recordings import librivox_sentences

pytestmark = pytest.mark.model
AXE = (files("axe_playwright_python") / "axe.min.js").read_text(encoding="utf-8")
RULES = "{runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice']}"


@pytest.fixture(scope="module")
def screens(server: PageServer) -> dict[str, str]:
    recording, said = librivox_sentences()[0]
    text = f"{said.strip()}\nThe gardener has left his boots beside the gate.\n"
    return seed(server, let_in(server), text, recording)


@pytest.fixture(scope="module")
def tab(server: PageServer) -> Iterator[Page]:
    with browser() as context:
        yield entered(context, server.door.link())


@pytest.fixture(scope="module")
def plain_tab(server: PageServer) -> Iterator[Page]:
    """A browser with scripts switched off."""
    with browser(scripts=False) as context:
        yield entered(context, server.door.link())


def _address(server: PageServer, at: str) -> str:
    return f"{server.door.origin}/{server.door.place}{at}"


def test_every_screen_is_accessible_in_light_and_dark(
    tab: Page, server: PageServer, screens: dict[str, str]
) -> None:
    """By axe-core, whose rules rest on WCAG 2.2; contrast is among them, so both schemes are looked at."""
    found: list[str] = []
    for name, at in screens.items():
        for scheme in ("light", "dark"):
            tab.emulate_media(color_scheme=scheme, reduced_motion="reduce")
            answer = tab.goto(_address(server, at))
            assert answer is not None
            assert answer.status == (404 if name == "an error" else 200), name
            tab.evaluate(AXE)
            told = tab.evaluate(f"axe.run(document, {RULES})")
            for violation in told["violations"]:
                where = [node["target"] for node in violation["nodes"]][:3]
                found.append(f"{name}, {scheme}: {violation['id']} ({violation['help']}) at {where}")
    assert found == []


# What is no screen: sound, whether it still comes, a calendar for another program, the files of the page, the
# way in that leads on.
NO_SCREENS = {"page.recording", "page.closed", "page.calendar_file", "static", "page.enter"}


def test_every_address_that_shows_a_screen_is_in_the_list_of_screens_checked(
    server: PageServer, screens: dict[str, str]
) -> None:
    """The routes of the page against the list that axe, the widths and `make screens` go through."""
    rules = server.app.url_map
    there = {rule.endpoint for rule in rules.iter_rules() if "GET" in (rule.methods or ())}
    find = rules.bind(f"127.0.0.1:{server.door.port}")
    seen = {
        find.match(f"/{server.door.place}{at.partition('?')[0]}")[0]
        for name, at in screens.items()
        if name != "an error"
    }
    assert there - NO_SCREENS == seen


def test_the_screens_that_appear_after_pressing_a_button_are_accessible_too(tmp_path: Path) -> None:
    """And those of an empty journal: no pieces, no day, a brief as text, an import, offbook closed."""
    found: list[str] = []

    def look(page: Page, name: str, wanted: str) -> None:
        expect(page.locator("main")).to_contain_text(wanted)
        page.evaluate(AXE)
        told = page.evaluate(f"axe.run(document, {RULES})")
        found.extend(f"{name}: {v['id']} ({v['help']})" for v in told["violations"])

    with served(tmp_path / "one") as server, browser() as context:
        page = entered(context, server.door.link())
        page.emulate_media(reduced_motion="reduce")  # a message that still fades in has too little contrast
        look(page, "pieces, none yet", "Add the script you have to learn")
        page.goto(_address(server, "/today"))
        look(page, "today, nothing yet", "Nothing to do yet")
        page.goto(_address(server, "/brief/new?as=text"))
        look(page, "a new brief as text", "brief")
        journals.export(server.room.journal, tmp_path / "mine.zip")
        page.goto(_address(server, "/keep-safe"))
        page.locator("input[name=archive]").set_input_files(tmp_path / "mine.zip")
        page.get_by_role("button", name="Read it in").click()
        look(page, "read in", "mported")
        page.get_by_role("button", name="Close offbook").click()
        look(page, "closed", "closed")
    assert found == []


def test_the_speech_is_shown_for_speaking_exactly_as_it_is_printed(visitor: Visitor) -> None:
    """Also inside a word with a hyphen and around a dash without blanks."""
    speech = "He was not an ill-disposed man\nand yet\u2014he left us here."
    shown = visitor.ask("GET", f"/piece/{add_piece(visitor, speech, 'Printed so')}/speak").text
    rows = re.findall(r'<span class="said">(.*?)</span></li>', shown)
    assert "\n".join(re.sub("<[^>]+>", "", row) for row in rows) == speech


def test_neighbouring_words_that_are_dropped_repeatedly_are_shown_as_one_entry(
    visitor: Visitor, server: PageServer, screens: dict[str, str]
) -> None:
    """It is a whole line that was not said, in the run-through and in the take."""
    shown = unescape(visitor.ask("GET", screens["progress"]).text)
    assert "“The gardener has left his boots beside the gate” dropped" in re.sub(r"\s+", " ", shown)


def test_a_run_through_that_was_reviewed_and_then_logged_as_a_take_is_shown_as_that_take(
    visitor: Visitor, screens: dict[str, str]
) -> None:
    for name in ("two takes", "review"):
        shown = re.sub("<[^>]+>", "", unescape(visitor.ask("GET", screens[name]).text))
        assert "let it slip that the ship is lost" in shown and "take 1" in shown.lower(), name
        assert "None" not in shown


def test_no_screen_is_wider_than_a_narrow_window_or_a_window_at_double_zoom(
    tab: Page, server: PageServer, screens: dict[str, str]
) -> None:
    """320 CSS px is WCAG 1.4.10's width for reflow, and what 200 % zoom leaves of 640."""
    wide = []
    tab.set_viewport_size(NARROW)  # type: ignore[arg-type]
    for name, at in screens.items():
        tab.goto(_address(server, at))
        width = tab.evaluate("document.documentElement.scrollWidth")
        if width > NARROW["width"]:
            wide.append((name, width))
    tab.set_viewport_size(USUAL)  # type: ignore[arg-type]
    assert wide == []


@pytest.mark.parametrize(("paper", "width"), [("A4", 673), ("Letter", 695)])
def test_everything_fits_the_width_of_the_paper_and_prints_in_black(
    tab: Page, server: PageServer, screens: dict[str, str], paper: str, width: int
) -> None:
    """210 or 215.9 mm (ISO 216, ANSI Y14.1) less two margins of 16 mm, at 96 px an inch (CSS)."""
    wide = []
    tab.emulate_media(media="print", color_scheme="dark")
    tab.set_viewport_size({"width": width, "height": 900})
    for name in ("text", "notes", "time", "calendar", "progress", "a brief", "today"):
        tab.goto(_address(server, screens[name]))
        found, ink = tab.evaluate(
            "[document.documentElement.scrollWidth, getComputedStyle(document.body).color]"
        )
        if found > width or ink != "rgb(0, 0, 0)":
            wide.append((name, found, ink))
    tab.emulate_media(media="screen", color_scheme="light")
    tab.set_viewport_size(USUAL)  # type: ignore[arg-type]
    assert wide == []


def test_a_speech_of_24_lines_prints_on_two_pages_and_no_line_is_split(tab: Page, server: PageServer) -> None:
    """On A4, marked: a coach keeps it as one sheet printed on both sides (common practice, no source)."""
    speech = (DEMO / "the_lamp.txt").read_text(encoding="utf-8")
    piece = add_piece(let_in(server), speech, "Printed")
    tab.goto(_address(server, f"/piece/{piece}"))
    tab.emulate_media(media="print")
    sheet = tab.pdf(format="A4")
    tab.emulate_media(media="screen")
    with pdfplumber.open(BytesIO(sheet)) as pdf:
        rows = [row for page in pdf.pages for row in page.extract_text().splitlines()]
        assert len(pdf.pages) == 2
    assert [row for row in rows if re.match(r"24 .*Good evening\.", row)], rows


def test_forced_colours_keep_buttons_and_marks_visible_and_reduced_motion_stops_all_movement(
    tab: Page, server: PageServer, screens: dict[str, str]
) -> None:
    """In the system's own colours (CSS Color Adjustment) only what has a border, a rule or text is seen."""
    tab.emulate_media(forced_colors="active", reduced_motion="reduce")
    for name in ("pieces", "speak", "question", "notes"):
        tab.goto(_address(server, screens[name]))
        unseen = tab.evaluate(
            """() => [...document.querySelectorAll("main button:not(.mark), main .button")].filter(each => {
                 const s = getComputedStyle(each);
                 if (!each.checkVisibility()) return false;
                 return s.color === s.backgroundColor || (s.borderBottomWidth === "0px");
               }).map(each => each.textContent.trim())"""
        )
        assert unseen == [], name
        assert tab.evaluate("document.getAnimations().length") == 0, name
    struck = tab.evaluate("getComputedStyle(document.querySelector('p > del')).textDecorationLine")
    assert struck == "line-through"
    tab.emulate_media(forced_colors="none", reduced_motion="no-preference")


def test_layers_of_the_text_that_are_switched_off_stay_off(
    tab: Page, server: PageServer, screens: dict[str, str]
) -> None:
    tab.goto(_address(server, screens["text"]))
    bars = tab.locator("#speech .bar:visible")
    assert not tab.get_by_label("Phrases").is_checked()  # the finer edges are there when asked for
    without = bars.count()
    tab.get_by_label("Phrases").check()
    shown = bars.count()
    assert 0 < without < shown
    for layer in ("Thoughts and turns", "Phrases"):
        tab.get_by_label(layer).uncheck()
    assert bars.count() == 0
    tab.reload()
    assert not tab.get_by_label("Phrases").is_checked()
    assert bars.count() == 0
    for layer in ("Thoughts and turns", "Phrases"):
        tab.get_by_label(layer).check()
    assert bars.count() == shown


def test_pressing_a_place_in_the_picture_of_the_review_plays_the_sound_from_there(
    tab: Page, server: PageServer, screens: dict[str, str]
) -> None:
    """90 units of the picture are a second, after 10 of margin; a third of a second before it is played."""
    tab.goto(_address(server, screens["review"]))
    tab.wait_for_selector("#sound")  # a review that is not at hand is measured first
    until(tab, "document.getElementById('sound').readyState > 0")
    tab.evaluate("document.getElementById('sound').play = () => Promise.resolve()")
    tab.locator("svg[data-a-second]").click(position={"x": 190, "y": 60})
    assert tab.evaluate("document.getElementById('sound').currentTime") == pytest.approx(1.65, abs=0.02)


def test_a_word_can_be_reached_and_marked_with_the_keyboard_alone(
    tab: Page, server: PageServer, screens: dict[str, str]
) -> None:
    tab.goto(_address(server, screens["text of a scene"]))
    tab.locator("#speech .word[tabindex='0']").focus()
    for key in ("ArrowRight", "ArrowRight", "ArrowRight", "Enter"):
        tab.keyboard.press(key)
    tab.wait_for_url("**word=3#pencil")
    tab.get_by_label("||| a turn").focus()
    tab.keyboard.press("Space")
    tab.get_by_label("Why, in your words").fill("he turns to her")
    tab.keyboard.press("Enter")
    tab.wait_for_url("**#w3")
    assert "|||" in tab.locator("#speech").inner_text()
    assert "he turns to her" in tab.locator("#speech").inner_text()


def test_the_printed_notes_are_black_on_white_without_buttons(
    tab: Page, server: PageServer, screens: dict[str, str]
) -> None:
    tab.goto(_address(server, screens["notes"]))
    tab.emulate_media(media="print", color_scheme="dark")
    ink = tab.evaluate(
        "getComputedStyle(document.body).color + getComputedStyle(document.body).backgroundColor"
    )
    assert ink == "rgb(0, 0, 0)rgb(255, 255, 255)"
    assert not tab.locator(".head").is_visible()
    assert not tab.get_by_role("button", name="I did say that").first.is_visible()
    assert tab.locator("p > del").first.is_visible()
    tab.emulate_media(media="screen")


def test_everything_that_needs_no_microphone_works_without_javascript(
    plain_tab: Page, server: PageServer, screens: dict[str, str]
) -> None:
    """Added by paste, corrected with one press, marked, noted and drilled, with scripts switched off."""
    page = plain_tab
    page.get_by_role("link", name="Add a script").click()
    page.get_by_label("Paste it here").fill("The tide went out.\nShe waits.\nI waited on the wall.\n")
    page.get_by_role("button", name="Show what is spoken").click()
    page.get_by_role("button", name="Take it out: I waited").click()
    assert "you took it out" in page.locator(".out").last.inner_text()
    page.goto(_address(server, screens["notes"]))
    page.locator("a.mark").first.focus()
    page.keyboard.press("Enter")
    expect(page).to_have_url(re.compile("#note-0$"))
    page.goto(_address(server, screens["drill"]))
    page.get_by_role("button", name="Begin").click()
    assert "1. " in page.locator("h2").first.inner_text()
