"""`offbook run`: what people see, what programs read, and what happens when it goes wrong.

The hearing is faked (`tests/performing.py`): these tests hold the report, the page and the JSON.
"""

from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import UTC, datetime
from html.parser import HTMLParser
from io import StringIO
from pathlib import Path

import pytest
from click.testing import CliRunner
from rich.console import Console

from offbook.audio import SoundReport
from offbook.cli import common, group
from offbook.cli.run_page import page_of
from offbook.cli.run_report import report
from offbook.desk import Heard
from offbook.errors import RecordingError
from offbook.script import Line, Script, parse_script
from offbook.words import words_of
from tests.performing import perform, verse

pytestmark = pytest.mark.usefixtures("own_home")

SOUND = SoundReport(
    seconds=30.0, claimed=30.0, loudness=-20.0, peak=-3.0, clipped=0.0, noise=-60.0, snr=40.0,
    bandwidth=8000.0, decay=0.0, channels=1, mix=(1.0,), dead=(), gain=0.0, line=None, poor=False,
)  # fmt: skip

LINES = (
    "They carried down the table and the chair,",
    "The clock my mother wound, the copper pan,",
    "And left the window open on the stair",
    "For any bird that knew us to come in.",
    "I’m told a swallow nested in the hall",
    "And raised four children underneath our roof;",
)
SCRIPT = verse(*LINES, title="the_clearance")
SAID = (
    "they carried down the chair and the table the clock my mother wound the old copper pan"
    " for any bird that um knew us to come in i am told a swallow a swallow nested in the hall"
    " [2.0] line [1.0] and raised four kittens underneath our roof"
)


def heard_as(script: Script, said: str) -> Heard:
    return Heard(
        script=script,
        words=words_of(script),
        recording=Path("take_1.m4a"),
        recorded_at=datetime(2031, 3, 2, 18, 30, tzinfo=UTC),
        model="small",
        sound=SOUND,
        review=perform(script, said),
    )


def printed(heard: Heard, width: int = 72) -> str:
    out = Console(file=StringIO(), width=width, highlight=False, color_system=None)
    report(heard, out)
    assert isinstance(out.file, StringIO)
    return "\n".join(row.rstrip() for row in out.file.getvalue().splitlines()) + "\n"


def test_the_report_shows_the_speech_with_its_notes_in_place_without_colour() -> None:
    text = printed(heard_as(SCRIPT, SAID))
    assert text == Path(__file__).with_name("golden").joinpath("run_report.txt").read_text(encoding="utf-8")


@pytest.mark.heavy
@pytest.mark.parametrize("width", [32, 40, 50, 72, 100, 140])
def test_the_report_contains_every_word_and_no_row_is_wider_than_the_terminal(width: int) -> None:
    text = printed(heard_as(SCRIPT, SAID), width)
    assert max(map(len, text.splitlines())) <= width
    for line in LINES:
        for word in line.split():
            assert word in text


@pytest.mark.parametrize("width", [32, 50, 100])
def test_marks_are_printed_under_their_words_at_any_width(width: int) -> None:
    rows = printed(heard_as(SCRIPT, SAID), width).splitlines()
    at = next(k for k, row in enumerate(rows) if "children" in row and "changed" not in row)
    start = rows[at].index("children")
    assert rows[at - 1][start:].startswith("kittens")
    assert rows[at + 1][start:].startswith("~~~~~~~~")
    assert not rows[at + 1][start - 1 : start].strip()


def test_only_the_marks_that_were_used_are_explained() -> None:
    text = printed(heard_as(SCRIPT, SAID.replace("a swallow a swallow", "a swallow")))
    assert "--- not said" in text
    assert "said twice" not in text


def test_the_report_of_a_word_perfect_run_through_says_so_and_lists_nothing_to_work_on() -> None:
    said = " ".join(w.spoken[0][0] for w in words_of(SCRIPT))
    text = printed(heard_as(SCRIPT, said))
    assert "word-perfect, all 48 words" in text
    assert "Work on" not in text
    assert "~~~" not in text


@pytest.mark.heavy
def test_dropped_lines_are_printed_first_and_the_accuracy_is_never_rounded_up_to_100() -> None:
    text = printed(heard_as(SCRIPT, SAID))
    assert text.index("Dropped lines") < text.index("They carried")
    long = verse(*[" ".join(f"word{a}x{b}" for b in range(50)) for a in range(60)])
    forms = [w.spoken[0][0] for w in words_of(long)]
    assert "99.9 %" in printed(heard_as(long, " ".join(forms[:-1])))


def test_poor_sound_is_reported_before_the_verdicts() -> None:
    poor = replace(SOUND, line="The background is loud: move nearer the microphone.", poor=True)
    text = printed(replace(heard_as(SCRIPT, SAID), sound=poor))
    assert text.index("too poor to judge every word by: The background is loud") < text.index("Dropped lines")


def test_a_prose_speech_is_wrapped_and_numbered_by_its_sentences() -> None:
    text = "We mended the roof ourselves, we borrowed our chairs\nfrom the chapel (a pause) in the rain.\n"
    lines = (Line(1, 0, 52, text[:52], 1), Line(2, 53, len(text) - 1, text[53:-1], 1))
    script = Script("roof", "", text, "prose", lines)
    out = printed(
        heard_as(
            script, "we mended the roof ourselves we borrowed our stools from the chapel in the rain a pause"
        )
    )
    assert "  1  We mended the roof ourselves, we borrowed our chairs from the\n" in out
    assert "\n       chapel (a pause) in the rain.\n" in out
    assert "stools" in out and "Numbers count sentences." in out


def test_the_voice_caution_is_printed_with_the_places_to_say_again() -> None:
    assert "qualified" in printed(heard_as(SCRIPT, SAID), 120)


def test_at_most_three_places_to_work_on_are_listed_and_the_dropped_line_comes_first() -> None:
    text = printed(heard_as(SCRIPT, SAID), 100)
    places = re.findall(r"^  (\d)  ([\d:]+)  (line \d+)", text, re.M)
    assert [n for n, _, _ in places] == ["1", "2", "3"]
    assert places[0][2] == "line 3"


class Reader(HTMLParser):
    """The page as a screen reader meets it: hidden words kept, what is hidden from it left out."""

    def __init__(self) -> None:
        super().__init__()
        self.text, self.tags, self._silent = "", list[str](), 0
        self._open: list[bool] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        for name, value in attrs:
            assert name not in ("src", "href"), "nothing is fetched"
            assert "http" not in (value or "")
        if tag not in ("meta", "br", "link"):
            self._open.append(("aria-hidden", "true") in attrs or tag in ("style", "script"))
            self._silent += self._open[-1]

    def handle_endtag(self, tag: str) -> None:
        self._silent -= self._open.pop()

    def handle_data(self, data: str) -> None:
        if not self._silent:
            self.text += data


def read_aloud(page: str) -> Reader:
    reader = Reader()
    reader.feed(page)
    reader.text = " ".join(reader.text.split())
    return reader


def test_the_page_marks_dropped_and_added_words_with_the_elements_del_and_ins() -> None:
    reader = read_aloud(page_of(heard_as(SCRIPT, SAID)))
    assert "[script: children, said: kittens]" in reader.text
    assert "[added: old]" in reader.text
    assert "[not said: And left the window open on the stair]" in reader.text
    assert {"del", "ins", "main", "h1", "h2", "ol"} <= set(reader.tags)
    assert "script" not in reader.tags


def test_markup_in_a_speech_is_escaped_on_the_page() -> None:
    script = verse("a <b>bold</b> word & more <script> here", title="<i>x</i>")
    page = page_of(heard_as(script, "a b bold b word more script here"))
    assert "<b>bold" not in page
    assert "<script" not in page
    assert "<i>" not in page


def test_the_page_is_printed_on_a4_and_uses_only_black_and_white() -> None:
    page = page_of(heard_as(SCRIPT, SAID))
    assert "size: A4" in page
    colours = set(re.findall(r"#[0-9a-f]{3,6}\b", page.split("</style>")[0]))
    assert colours <= {"#000", "#fff"}


@pytest.fixture
def fake_listen(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("offbook.desk.listen", lambda *a: heard_as(SCRIPT, SAID))


@pytest.mark.usefixtures("fake_listen")
def test_the_json_has_every_promised_field_and_nothing_else_is_printed() -> None:
    done = CliRunner().invoke(group, ["run", "s.txt", "take_1.m4a", "--json"])
    data = json.loads(done.stdout)
    assert done.exit_code == 0
    assert set(data) >= {
        "format", "script", "recording", "recorded_at", "model", "words", "added", "dropped_lines", "notes",
        "accuracy", "accuracy_low", "seconds", "speaking_seconds", "rate_wpm",
    }  # fmt: skip
    assert data["format"] == 1
    assert [w["i"] for w in data["words"]] == list(range(48))
    fields = {"i", "text", "verdict", "heard", "start", "end", "confidence", "steps"}
    assert set(data["words"][0]) == fields
    assert [(a["before_word"], a["heard"]) for a in data["added"]] == [(14, "old")]
    assert data["dropped_lines"] == [{"line": 3, "words": [16, 23]}]
    assert all(set(n) >= {"kind", "words", "script", "heard", "at"} for n in data["notes"])
    assert data["recorded_at"] == "2031-03-02T18:30:00+00:00"
    said = sum(w["verdict"] in ("said", "unsure") for w in data["words"])
    assert data["accuracy"] == pytest.approx(said / 48, abs=1e-4)


@pytest.mark.usefixtures("fake_listen")
def test_with_the_option_html_a_page_is_written_in_addition_to_the_report(tmp_path: Path) -> None:
    page = tmp_path / "notes.html"
    done = CliRunner().invoke(group, ["run", "s.txt", "take_1.m4a", "--html", str(page)])
    assert "<!doctype html>" in page.read_text(encoding="utf-8")
    assert "Dropped lines" in done.stdout


def test_a_page_that_cannot_be_written_is_refused_before_anything_is_heard(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def never(*args: object) -> Heard:
        raise AssertionError("heard too early")

    monkeypatch.setattr("offbook.desk.listen", never)
    from offbook.cli import main

    for bad in (tmp_path, tmp_path / "no" / "page.html"):
        with pytest.raises(SystemExit) as stopped:
            main(["run", "s.txt", "r.m4a", "--html", str(bad)])
        out, err = capsys.readouterr()
        assert (stopped.value.code, out, err.count("\n")) == (1, "", 2)


def test_an_error_leaves_standard_output_empty_with_and_without_json(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def refuse(*args: object) -> Heard:
        raise RecordingError("this does not sound like “X”", "check both files")

    monkeypatch.setattr("offbook.desk.listen", refuse)
    from offbook.cli import main

    for more in ([], ["--json"]):
        with pytest.raises(SystemExit) as stopped:
            main(["run", "s.txt", "r.m4a", *more])
        out, err = capsys.readouterr()
        assert (stopped.value.code, out) == (1, "")
        assert err == "offbook: this does not sound like “X”\ncheck both files\n"


def test_the_progress_bar_is_shown_only_in_a_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    shown = StringIO()
    monkeypatch.setattr(common, "console", lambda err: Console(file=shown, force_terminal=True, width=60))
    with common.listening_bar() as step:
        step(0.5)
    assert "listening" in shown.getvalue()
    quiet = StringIO()
    monkeypatch.setattr(common, "console", lambda err: Console(file=quiet, width=60))
    with common.listening_bar() as step:
        step(0.5)
    assert quiet.getvalue() == ""


def test_the_report_says_if_a_voice_was_hard_to_follow_and_what_to_do() -> None:
    clear = heard_as(SCRIPT, SAID)
    hard = replace(clear, hard=0.8)
    assert "hard to follow" not in printed(clear)
    text = " ".join(printed(hard).split())
    assert "This voice was hard to follow, so offbook may not have noticed every small word" in text
    assert "try another model: offbook setup --list" in text
    word_perfect = " ".join(printed(replace(heard_as(SCRIPT, " ".join(LINES)), hard=0.8)).split())
    assert "Every word could be judged" not in word_perfect


def test_the_report_points_out_an_unsaid_first_line_that_may_be_a_title() -> None:
    titled = parse_script("What my mother would have said\n\n" + "\n".join(LINES) + "\n")
    hint = "The first line is set apart like a title. If nobody says it:"
    told = " ".join(printed(heard_as(titled, " ".join(LINES))).split())
    assert hint in told and '--leave-out "What my mother would have said"' in told
    said = "what my mother would have said " + " ".join(LINES)
    assert "like a title" not in printed(heard_as(titled, said))
    assert "like a title" not in printed(heard_as(SCRIPT, " ".join(LINES[1:])))
