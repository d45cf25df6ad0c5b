"""`offbook mark` and `offbook fit` at the command line, good input and bad."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from offbook.cli import main
from tests.viola import first_lines

pytestmark = pytest.mark.usefixtures("own_home")

SPEECH = """My grandmother kept a lighthouse for thirty years. She never once called it lonely.

People ask me what I learnt from her. I learnt to trim a wick. I learnt to read the sky before breakfast.

My cousins thought the place was haunted. They heard steps on the stair at night. It was the clockwork.

So I have come to tell you what she told me. Keep something lit. You will not see who steers by it.
"""


class Told:
    """What a command said: exit status, standard output, standard error."""

    def __init__(self, status: int, out: str, err: str) -> None:
        self.status, self.out, self.err = status, out, err


def offbook(capsys: pytest.CaptureFixture[str], *args: str) -> Told:
    status = 0
    try:
        main(list(args))
    except SystemExit as e:
        status = int(e.code or 0)
    said = capsys.readouterr()
    return Told(status, said.out, said.err)


@pytest.fixture
def speech(tmp_path: Path) -> Path:
    path = tmp_path / "lamp.txt"
    path.write_text(SPEECH, encoding="utf-8")
    return path


def test_the_mark_command_prints_the_speech_its_time_and_its_marks(
    speech: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    told = offbook(capsys, "mark", str(speech), "--limit", "0:30")
    assert told.status == 0
    assert "Running time 0:" in told.out
    assert "Limit 0:30" in told.out
    assert "|||" in told.out
    assert "\x1b" not in told.out, "nobody is looking: no colour"
    assert all(len(row) <= 80 for row in told.out.splitlines())


def test_the_json_of_mark_is_one_object_that_begins_with_its_format(
    speech: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told = offbook(capsys, "mark", str(speech), "--json")
    assert told.out.startswith('{"format": 1,')
    assert json.loads(told.out)["form"] == "prose"


def test_a_pencil_file_is_written_once_then_followed_and_never_overwritten(
    speech: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    first = json.loads(offbook(capsys, "mark", str(speech), "--json").out)["shifts"]
    assert offbook(capsys, "mark", str(speech), "--pencil").status == 0
    file = speech.with_name("lamp.txt.pencil")
    kept = json.loads(offbook(capsys, "mark", str(speech), "--json").out)["shifts"]
    assert [(s["before_word"], s["grade"], s["reason"]) for s in kept] == [
        (s["before_word"], s["grade"], s["reason"]) for s in first if s["grade"] > 1
    ], "the finer edges are written only with --phrases"
    assert {s["source"] for s in kept} == {"performer"}
    again = offbook(capsys, "mark", str(speech), "--pencil")
    assert again.status == 1
    assert "already exists" in again.err
    rows = file.read_text(encoding="utf-8").splitlines()
    dropped = [r for r in rows if "|||" not in r or r.startswith("#")]
    file.write_text("\n".join(dropped), encoding="utf-8")
    left = json.loads(offbook(capsys, "mark", str(speech), "--json").out)["shifts"]
    assert len(left) < len(kept)
    assert all(s["grade"] < 3 for s in left)


def test_an_earlier_reading_narrows_the_time_range_and_lies_inside_it(
    speech: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One reading takes half as long again as usual: the range narrows by a quarter and includes it."""
    usual = json.loads(offbook(capsys, "mark", str(speech), "--json").out)["time"]
    own = json.loads(offbook(capsys, "mark", str(speech), "--json", "--pace-from", f"{speech}=0:52").out)[
        "time"
    ]
    wide, wide_usual = ((t["high"] - t["low"]) / t["seconds"] for t in (own, usual))
    assert wide < 0.75 * wide_usual
    assert own["low"] < 52 < own["high"]
    assert abs(own["seconds"] - 52) < abs(usual["seconds"] - 52)


@pytest.mark.parametrize("name", ["narration", "verse", "address", "conversation"])
def test_a_usual_pace_can_be_chosen_by_its_name(
    name: str, speech: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    time = json.loads(offbook(capsys, "mark", str(speech), "--json", "--rate", name).out)["time"]
    assert time["tempo"] == name


def test_the_printable_sheet_is_written_and_the_command_says_where(
    speech: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told = offbook(capsys, "mark", str(speech), "--html", str(tmp_path / "lamp.html"))
    assert told.status == 0
    assert "A4" in told.err
    assert "lighthouse" in (tmp_path / "lamp.html").read_text(encoding="utf-8")


def test_the_fit_command_proposes_cuts_and_writes_a_new_script(
    speech: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    target = tmp_path / "short.txt"
    told = offbook(capsys, "fit", str(speech), "--limit", "0:30", "--write", str(target))
    assert told.status == 0
    assert "Proposal 1" in told.out
    assert "It then reads:" in told.out
    written = target.read_text(encoding="utf-8")
    assert len(written) < len(SPEECH)
    assert speech.read_text(encoding="utf-8") == SPEECH
    again = offbook(capsys, "fit", str(speech), "--limit", "0:30", "--write", str(target))
    assert again.status == 1
    assert "nothing is overwritten" in again.err


def test_the_json_of_fit_gives_each_proposal_with_its_text(
    speech: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    got = json.loads(offbook(capsys, "fit", str(speech), "--limit", "0:30", "--json").out)
    assert got["fits"] is False
    assert got["over_by"] > 0
    for p in got["proposals"]:
        assert p["saved"] > 0
        assert p["time"]["seconds"] <= 30.01
        assert p["text"].startswith("My grandmother")


BAD = [
    (["mark", "{speech}", "--rate", "0"], "nobody speaks at"),
    (["mark", "{speech}", "--rate", "1000"], "nobody speaks at"),
    (["mark", "{speech}", "--rate", "brisk"], "is not a rate"),
    (["mark", "{speech}", "--limit", "0"], "leaves no time to speak"),
    (["mark", "{speech}", "--limit", "soon"], "is not a limit"),
    (["mark", "{speech}", "--limit", "1:75"], "is not a limit"),
    (["mark", "{speech}", "--pace-from", "lamp.txt"], "names no earlier reading"),
    (["mark", "{speech}", "--pace-from", "=50"], "names no earlier reading"),
    (["mark", "{speech}", "--pace-from", "{speech}=quick"], "is not a time of an earlier reading"),
    (["mark", "{speech}", "--pace-from", "{speech}=0"], "leaves no time to speak"),
    (["mark", "{speech}", "--pace-from", "{speech}=900"], "cannot be of a text"),
    (["mark", "{speech}", "--pace-from", "nowhere.txt=50"], "nowhere.txt"),
    (["mark", "{speech}", "--pace-from", "{speech}=50", "--rate", "120"], "both set the pace"),
    (["mark", "{speech}", "--html", "{folder}/none/page.html"], "cannot write"),
    (["mark", "{folder}/none.txt"], "none.txt"),
    (["fit", "{speech}", "--limit", "0"], "leaves no time to speak"),
    (["fit", "{speech}", "--limit", "0:30", "--keep", "seven green bottles"], "was not found in the script"),
    (["fit", "{speech}", "--limit", "0:30", "--cut", "99"], "no spoken sentence 99"),
    (
        ["fit", "{speech}", "--limit", "0:30", "--keep", "1-2", "--cut", "2-3"],
        "to keep and to cut the same passage",
    ),
    (["fit", "{speech}", "--limit", "0:30", "--write", "{folder}/x.txt", "--proposal", "9"], "no proposal 9"),
    (["fit", "{speech}", "--limit", "9:00", "--write", "{folder}/x.txt"], "no proposal 1"),
    (["fit", "{speech}", "--limit", "0:30", "--write", "{speech}"], "is the script itself"),
]


@pytest.mark.parametrize(("args", "what"), BAD, ids=[" ".join(a[2:]) or a[1] for a, _ in BAD])
def test_bad_input_gives_a_two_line_error_and_nothing_on_standard_output(
    args: list[str], what: str, speech: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    filled = [a.format(speech=speech, folder=tmp_path) for a in args]
    told = offbook(capsys, *filled)
    assert told.status == 1
    assert told.out == ""
    assert len(told.err.strip().splitlines()) == 2
    assert what in told.err.splitlines()[0]


ODD = {
    "one word": "Yes.",
    "all capitals": SPEECH.upper(),
    "no punctuation": " ".join(SPEECH.lower().replace(".", "").split()),
    "another language": "Ich habe den Leuchtturm dreißig Jahre lang geführt. Niemand kam. Das Meer war laut.",
    "emoji": "🎭 We begin. 😀 Then we go on, 👍🏽 and stop. 🎬",
    "one long line": " ".join(SPEECH.split()),
    "shouting": "What?! No! Never!! Who said it? You did. Why?",
}


@pytest.mark.heavy
@pytest.mark.parametrize("text", ODD.values(), ids=ODD.keys())
@pytest.mark.parametrize("form", [None, "verse", "prose"])
def test_unusual_scripts_are_marked_and_fitted_without_an_error(
    text: str, form: str | None, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "odd.txt"
    path.write_text(text, encoding="utf-8")
    extra = ["--form", form] if form else []
    got = json.loads(offbook(capsys, "mark", str(path), "--json", *extra).out)
    assert got["words"]
    assert 0 < got["time"]["low"] < got["time"]["high"]
    if form:
        assert got["form"] == form
        if form == "prose":
            assert not any(line["feet"] for line in got["lines"])
    assert offbook(capsys, "mark", str(path), *extra).status == 0
    fitted = offbook(capsys, "fit", str(path), "--limit", "0:01", "--json", *extra)
    assert fitted.status == 0
    assert "proposals" in json.loads(fitted.out)


def test_for_prose_marked_as_verse_the_command_says_that_no_line_can_be_scanned(
    speech: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    speech.write_text(" ".join(SPEECH.split()), encoding="utf-8")
    told = offbook(capsys, "mark", str(speech), "--form", "verse")
    assert told.status == 0
    assert "no line of it can be scanned" in told.out


def test_an_empty_script_is_refused_in_two_lines(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "empty.txt"
    path.write_text(" \n\n", encoding="utf-8")
    told = offbook(capsys, "mark", str(path))
    assert told.status == 1
    assert told.out == ""
    assert len(told.err.strip().splitlines()) == 2


SCENE = """ANNA: You said you would be back before the tide turned.

BEN: I said I would try.

ANNA: You said you would. I wrote it on the wall.

BEN: Then the wall is wrong.
"""


@pytest.mark.parametrize("command", [["mark"], ["fit", "--limit", "1:00"], ["run"]])
def test_a_scene_without_a_chosen_part_is_refused_and_its_parts_are_named(
    command: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nobody says both parts: taken as one speech, half the words would count as dropped."""
    scene = tmp_path / "scene.txt"
    scene.write_text(SCENE, encoding="utf-8")
    recording = [str(tmp_path / "never_looked_at.wav")] if command[0] == "run" else []
    told = offbook(capsys, command[0], str(scene), *recording, *command[1:])
    assert (told.status, told.out, told.err.count("\n")) == (1, "", 2)
    assert "several parts: ANNA, BEN" in told.err and "--part ANNA" in told.err


def test_all_parts_together_can_be_chosen(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    scene = tmp_path / "scene.txt"
    scene.write_text(SCENE, encoding="utf-8")
    whole = json.loads(offbook(capsys, "mark", str(scene), "--part", "all", "--json").out)
    anna = json.loads(offbook(capsys, "mark", str(scene), "--part", "anna", "--json").out)
    assert len(whole["words"]) == 30 and len(anna["words"]) == 20


def test_a_script_with_one_part_needs_no_choice(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    alone = tmp_path / "alone.txt"
    alone.write_text(
        "HESTER: I said I would wait.\n\nHESTER: I have waited.\n\nHESTER: Go.\n", encoding="utf-8"
    )
    assert len(json.loads(offbook(capsys, "mark", str(alone), "--json").out)["words"]) == 9


def test_a_piece_has_the_thoughts_that_its_pencil_file_makes(
    speech: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same speech has the same thoughts wherever it is looked at."""
    monkeypatch.setenv("OFFBOOK_HOME", str(speech.parent / "home"))
    computed = json.loads(offbook(capsys, "mark", str(speech), "--json").out)["thoughts"]
    assert f"in {len(computed)} thoughts" in offbook(capsys, "piece", "add", str(speech)).out
    speech.with_name("lamp.txt.pencil").write_text("only these marks\ntrim a wick || I learnt to read\n")
    pencilled = json.loads(offbook(capsys, "mark", str(speech), "--json").out)["thoughts"]
    assert [t["words"] for t in pencilled] == [[0, 27], [28, 76]]
    assert "in 2 thoughts" in offbook(capsys, "piece", "add", str(speech), "--name", "again").out


def test_phrases_and_all_notes_are_shown_only_on_request(
    speech: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "120")
    plain = offbook(capsys, "mark", str(speech)).out
    assert "| phrase" not in plain and "|| thought  ||| turn" in plain
    finer = offbook(capsys, "mark", str(speech), "--phrases").out
    assert "| phrase" in finer
    assert finer.count(" | ") > plain.count(" | ")
    every = offbook(capsys, "mark", str(speech), "--phrases", "--notes").out
    assert len(every.splitlines()) > len(finer.splitlines())


def test_an_open_turn_is_shown_as_open(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Twelfth Night 2.2: some Violas turn at “I am the man”, some go straight on (a reading of ours)."""
    script = tmp_path / "viola.txt"
    script.write_text(VIOLA, encoding="utf-8")
    shifts = json.loads(offbook(capsys, "mark", str(script), "--json").out)["shifts"]
    opens = [s["open"] for s in shifts if s["reason"] == "what about: from “he” to “I”"]
    assert opens == [True]
    assert all(s["grade"] == 3 for s in shifts if s["open"])
    shown = offbook(capsys, "mark", str(script)).out
    assert "|||? I am the man" in shown
    assert "|||? a turn some would make" in shown


VIOLA = first_lines(12)
