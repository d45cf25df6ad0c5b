"""Every screen is as it was when somebody last read it; `make golden` writes a change into the files."""

from __future__ import annotations

import re
from contextlib import suppress
from pathlib import Path

import pytest
from werkzeug.exceptions import NotFound

from offbook.page import PageServer
from tests import json_fields
from tests.golden_screens import (
    ESCAPE,
    PAGES,
    WIDTHS,
    commands_text,
    demo_text,
    golden,
    in_colour,
    pages_text,
    short_home,
)
from tests.page_day import STEPS
from tests.page_day import day_text as page_day_text
from tests.second_week import week_text

# The screens of the usual width are among the quick tests: the others show the same in other rows.
EACH_WIDTH = [w if w == 80 else pytest.param(w, marks=pytest.mark.heavy) for w in WIDTHS]
RENEW = "a screen has changed: where that is meant, run `make golden` and read the difference"


def held(name: str, text: str) -> None:
    """Compare the text with that of the golden file."""
    assert text == golden(name).read_text(encoding="utf-8"), RENEW


@pytest.mark.parametrize("width", EACH_WIDTH)
def test_every_command_prints_what_is_in_its_golden_file(width: int, monkeypatch: pytest.MonkeyPatch) -> None:
    with in_colour(monkeypatch), short_home() as home:
        held(f"commands_{width}", commands_text(home, monkeypatch, width))


@pytest.mark.parametrize("width", EACH_WIDTH)
def test_reading_marking_and_timing_the_demo_corpus_prints_what_is_in_its_golden_file(
    width: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    with in_colour(monkeypatch):
        held(f"demo_{width}", demo_text(monkeypatch, width))


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.heavy
def test_the_screens_have_the_same_words_without_colour(width: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing is shown by colour alone: the golden text without its escapes is what a pipe is given."""
    assert demo_text(monkeypatch, width) == ESCAPE.sub(
        "", golden(f"demo_{width}").read_text(encoding="utf-8")
    )


@pytest.mark.heavy
def test_the_commands_print_the_same_words_without_colour(monkeypatch: pytest.MonkeyPatch) -> None:
    with short_home() as home:
        shown = commands_text(home, monkeypatch, 80)
    held = ESCAPE.sub("", golden("commands_80").read_text(encoding="utf-8"))
    assert shown == "\n".join(row.rstrip() for row in held.split("\n"))


@pytest.mark.heavy
def test_every_page_shows_what_is_in_its_golden_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("OFFBOOK_HOME", str(tmp_path))
    held("pages", pages_text(tmp_path))


@pytest.mark.heavy
def test_a_day_on_the_page_shows_what_is_in_its_golden_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every form, sent rightly and wrongly."""
    held("page_day", page_day_text(tmp_path, monkeypatch))


@pytest.mark.heavy
def test_a_second_week_at_the_terminal_prints_what_is_in_its_golden_file(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Options, mistakes and states that the other screens have not."""
    with short_home() as home:
        held("second_week", week_text(home, monkeypatch))


# These have tests of their own: screens shown while something is at work, and addresses without a screen.
AT_WORK = {
    "begin", "begin_slices", "beside", "calendar_file", "close", "closed", "drop", "drop_slices", "end",
    "end_slices", "enter", "again", "export", "go_on", "hear_kept", "import_", "imported", "job", "leave",
    "pack", "partner", "recording", "review", "send", "sound", "spoken", "stop", "take_other", "take_slice",
}  # fmt: skip


def test_every_screen_and_every_form_of_the_page_is_in_a_golden_file(server: PageServer) -> None:
    rules = server.app.url_map
    asked = rules.bind("127.0.0.1")
    typed = [("GET", at) for at in PAGES.values()]
    typed += [(method, at.partition(" >")[0]) for method, at, _ in STEPS]
    held_ones = set()
    for method, at in typed:
        below = re.sub(r"{\w+}", "0", f"/piece/{at}" if at.startswith("{piece}") else at)
        with suppress(NotFound):
            held_ones.add(asked.match(f"/{server.door.place}{below.partition('?')[0]}", method)[0])
    every = {rule.endpoint for rule in rules.iter_rules() if rule.endpoint.startswith("page.")}
    assert every - held_ones == {f"page.{name}" for name in AT_WORK}


@pytest.mark.heavy
def test_the_page_of_json_lists_the_fields_that_the_commands_print(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert json_fields.page(tmp_path, monkeypatch) == json_fields.PAGE.read_text(encoding="utf-8"), RENEW
