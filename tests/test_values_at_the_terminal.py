"""Somebody at the terminal: keys in a drill, the partner's screen, programs that speak, play and record."""

from __future__ import annotations

import errno
import io
import signal
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import click
import pytest
from click.testing import CliRunner

from offbook.cli import drill, page, partner, run
from offbook.cli.drill_cue import voice_for
from offbook.desk import AnswerListener, RecordedVoice
from offbook.desk import spoken_answers as spoken
from offbook.drill import Exercise, GivenAnswer, judge
from offbook.errors import OffbookError, RecordingError
from offbook.partner import Hold, Over, PartnerLine, Say
from offbook.script import Selection
from tests.journals import LAMP, desk_at, script_of
from tests.live_ears import CLEAR, LiveTold, Speaking

SCRIPT, WORDS, UNITS = script_of(LAMP)
VERSION: Any = SimpleNamespace(script=SCRIPT, words=WORDS)


class Clock:
    """A clock that goes on by a second at each look."""

    def __init__(self) -> None:
        self.seconds = 0

    def __call__(self) -> datetime:
        self.seconds += 1
        return datetime(2026, 3, 2, tzinfo=UTC) + timedelta(seconds=self.seconds)


class Terminal(io.StringIO):
    """Standard input that is a terminal."""

    def isatty(self) -> bool:
        return True


# Typing an answer -------------------------------------------------------------------------------------


def keys(monkeypatch: pytest.MonkeyPatch, key: Any, line: Any = "") -> tuple[Any, list[str]]:
    """What is typed at a terminal, its first key alone; and what is put back into the line."""
    put: list[str] = []
    hooks: list[Any] = []

    def getchar() -> str:
        if isinstance(key, BaseException):
            raise key
        return str(key)

    def typed(prompt: str) -> str:
        assert prompt == "   > " and hooks[-1] is not None
        hooks[-1]()
        if isinstance(line, BaseException):
            raise line
        return str(line)

    library = SimpleNamespace(set_startup_hook=hooks.append, insert_text=put.append)
    monkeypatch.setitem(sys.modules, "readline", library)
    monkeypatch.setattr(sys, "stdin", Terminal())
    monkeypatch.setattr(click, "getchar", getchar)
    monkeypatch.setattr("builtins.input", typed)
    found = drill._typed(Clock())
    assert not hooks or hooks[-1] is None, "the hook is taken away again"
    return found, put


FIRST = datetime(2026, 3, 2, 0, 0, 1, tzinfo=UTC)


def test_the_first_key_of_an_answer_is_timed_and_handed_back(monkeypatch: pytest.MonkeyPatch) -> None:
    assert keys(monkeypatch, "t", "the lamp") == (("the lamp", FIRST), ["t"])
    assert keys(monkeypatch, "\x1b[A", "the lamp") == (("the lamp", FIRST), [""])
    assert keys(monkeypatch, "\t", "x") == (("x", FIRST), [""])
    assert keys(monkeypatch, "t", EOFError()) == ((None, FIRST), ["t"])


def test_enter_alone_or_a_line_typed_ahead_is_the_answer(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert keys(monkeypatch, "\r") == (("", FIRST), [])
    assert keys(monkeypatch, "the lamp\nmore") == (("the lamp", FIRST), [])
    assert capsys.readouterr().out == "   > \n   > the lamp\n"
    assert keys(monkeypatch, EOFError()) == ((None, None), [])
    assert capsys.readouterr().out == "   > \n"


def test_without_readline_or_a_terminal_the_line_is_read_whole(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setitem(sys.modules, "readline", None)
    monkeypatch.setattr(sys, "stdin", Terminal("the lamp\n"))
    assert drill._typed(Clock()) == ("the lamp\n", None)
    assert capsys.readouterr().out == "   > "
    monkeypatch.setattr(sys, "stdin", io.StringIO("the lamp\n"))
    assert [drill._typed(Clock()) for _ in range(2)] == [("the lamp\n", None), (None, None)]
    assert capsys.readouterr().out == "   > the lamp\n   > \n"


def answered(monkeypatch: pytest.MonkeyPatch, *lines: str) -> Any:
    """The answer to the first line of the lamp, typed in these lines."""
    monkeypatch.setattr(sys, "stdin", io.StringIO("".join(f"{line}\n" for line in lines)))
    exercise = Exercise("thought", 0, 0, 8, "", 0, "", None)
    return drill._answer(exercise, VERSION, Clock())


def test_a_prompt_is_given_after_what_was_typed_until_nothing_is_left(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    given, judged = answered(monkeypatch, "the lamp was ?", "before the tide came in")
    assert "   prompt: lit\n" in capsys.readouterr().out
    assert (judged.right, judged.words) == (8, 9)
    assert (given.seconds, given.pick_up, given.at) == (2.0, None, FIRST + timedelta(seconds=2))
    given, judged = answered(monkeypatch, "the lamp was lit before the tide came in ?")
    assert "   Nothing is left to prompt: that was the end.\n" in capsys.readouterr().out
    assert (judged.right, judged.words) == (9, 9)


def test_an_empty_answer_is_none_and_q_or_the_end_of_the_input_leaves(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    given, judged = answered(monkeypatch, "")
    assert (given.text, judged) == (None, None)
    for lines in (("q",), ("QUIT ",), ()):
        assert answered(monkeypatch, *lines) is None


def test_a_spoken_answer_waits_for_enter_and_q_leaves(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    for typed, stays in (("\n", True), ("q\n", False), (" Quit \n", False), ("", False)):
        monkeypatch.setattr(sys, "stdin", io.StringIO(typed))
        assert drill._enter() is stays
    assert capsys.readouterr().out == "   Say it, then press Enter (q and Enter: leave). " * 4


def test_what_leads_into_an_answer_is_shown_or_spoken(capsys: pytest.CaptureFixture[str]) -> None:
    said: list[str] = []

    def shown(voice: Callable[[str], None] | None = None, **more: Any) -> list[str]:
        given: dict[str, Any] = {"shown": "", "hint": "", "speaker": None} | more
        drill._lead_in(Exercise("cue", 0, 0, 8, given["shown"], 0, given["hint"], given["speaker"]), voice)
        return capsys.readouterr().out.splitlines()

    assert shown() == ["   (the beginning)"]
    assert shown(shown="and then", hint="t·· l···") == ["   and then", "   help: t·· l···"]
    assert shown(shown="Who goes?", speaker="OSK") == ["   OSK: Who goes?"]
    assert shown(said.append, shown="and then") == ["   and then"]
    assert shown(said.append, shown="Who goes?", speaker="OSK", hint="t··") == [
        "   OSK: (listen)",
        "   help: t··",
    ]
    assert said == ["Who goes?"]


def test_an_answer_is_shown_as_right_with_its_spelling_and_time_or_beside_the_script(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    kept: list[Any] = []

    def record(*given: Any) -> dict[int, str]:
        kept.append(given)
        return {0: "known"}

    monkeypatch.setattr("offbook.desk.record_answer", record)
    sitting: Any = SimpleNamespace(take=lambda exercise, judged: {0: 3}, memories={})
    exercise = Exercise("thought", 0, 0, 8, "", 0, "", None)

    def shown(text: str | None, pick_up: float | None) -> list[str]:
        given = GivenAnswer(text, FIRST, 9.0, pick_up)
        judged = None if text is None else judge(WORDS[:9], text)
        nothing: Any = None
        drill._take(nothing, nothing, VERSION, nothing, sitting, exercise, given, judged)
        return capsys.readouterr().out.splitlines()

    whole = "the lamp was lit before the tide came in"
    assert shown(whole, None) == ["   Right."]
    assert shown(whole, 1.26) == ["   Right. Came in after 1.3 s."]
    assert shown(whole.replace("before", "befroe"), None) == ["   Right. (spelling: befroe)"]
    assert shown(None, None) == ["   It goes: The lamp was lit before the tide came in."]
    assert shown("the lamp was lit", None)[0] == "   4 of 9 words"
    assert sitting.memories == {0: "known"} and kept[0][-1] == {0: 3}


# The partner ------------------------------------------------------------------------------------------


def test_the_screen_shows_each_act_of_the_partner(capsys: pytest.CaptureFixture[str]) -> None:
    screen = partner._Screen(speaks=True)
    for act in (
        Say(1, "Who goes?", True, PartnerLine(0, "Who goes?", "OSK")),
        Say(2, "it", True),
        Hold(3),
        Over(),
    ):
        screen._told(act)
    assert capsys.readouterr().out == (
        "OSK: Who goes?\n   … it\n   (your pause: say “line” or press Enter for the words)\n\n"
        "That was the end.\n\n"
    )


@pytest.mark.parametrize("speaks", [True, False])
def test_the_partner_is_asked_by_enter_once_and_stopped_by_q(
    speaks: bool, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    screen = partner._Screen(speaks)
    monkeypatch.setattr(partner, "Thread", lambda **more: SimpleNamespace(start=more["target"]))
    monkeypatch.setattr(sys, "stdin", io.StringIO("\nnext\n Q \nmore\n"))
    screen.front.ready()
    assert [screen.front.asked(), screen.front.asked()] == [True, False]
    assert screen.front.stopped() and sys.stdin.read() == "more\n"
    shown = capsys.readouterr().out
    assert shown.startswith("Say “line” or press Enter for your next word; q and Enter to stop.\n")
    assert ("With headphones the partner's voice stays out of the recording." in shown) is speaks
    quiet = partner._Screen(speaks)
    monkeypatch.setattr(sys, "stdin", io.StringIO(""))
    quiet._read()
    assert not quiet.front.stopped() and not quiet.front.asked()


def test_lines_that_are_not_in_the_recording_are_counted_and_said_by_the_other_voice(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    lines = (PartnerLine(0, "Who goes?", "OSK"), PartnerLine(2, "Go on.", "OSK"))
    files = {0: tmp_path / "one.wav"}
    monkeypatch.setattr(partner, "cut_lines", lambda recording, lines, loading, folder: files)
    other, nothing = Voice(), cast("Any", None)
    made = partner._recorded(Path("a.wav"), "play FILE", other, tmp_path)
    assert isinstance(made(lines, nothing), RecordedVoice)
    assert capsys.readouterr().out == "Not in the recording: 1 of 2 lines.\n"
    files[2] = tmp_path / "two.wav"
    made(lines, nothing)
    assert capsys.readouterr().out == ""


class Voice:
    """A voice that only remembers what it is told."""

    def __init__(self, name: str = "other") -> None:
        self.told: list[Any] = []
        self.name = name

    def begin(self, text: str, line: int | None) -> None:
        self.told.append((text, line))

    def over(self) -> bool:
        return bool(self.told)

    def stop(self) -> None:
        self.told.append("stopped")


def test_a_recorded_line_is_played_and_any_other_is_said(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    played: list[Voice] = []

    def program(command: str) -> Voice:
        played.append(Voice(command))
        return played[-1]

    monkeypatch.setattr("offbook.desk.recorded_lines.ProgramVoice", program)
    other = Voice()
    voice = RecordedVoice({3: Path("/t/a b.wav")}, "play --now FILE", other)
    voice.stop()
    assert other.told == ["stopped"]
    voice.begin("Who goes?", 3)
    assert (played[0].name, played[0].told) == ("play --now '/t/a b.wav'", [("Who goes?", 3)])
    assert voice.over()
    voice.stop()
    assert played[0].told[-1] == "stopped" and other.told == ["stopped"]
    for line in (4, None):
        voice.begin("it", line)
        assert other.told[-1] == ("it", line)
    assert len(played) == 1


# Programs that speak and record -----------------------------------------------------------------------


def test_a_program_that_speaks_a_cue_is_given_the_words_and_waited_for(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    called: list[Any] = []
    result: Any = SimpleNamespace(returncode=0, stderr=b"")

    def call(words: list[str], **more: Any) -> Any:
        called.append((words, more["timeout"]))
        if isinstance(result, BaseException):
            raise result
        return result

    def refused() -> tuple[str, str]:
        with pytest.raises(OffbookError) as caught:
            voice_for("speak TEXT")("it")
        return caught.value.what, caught.value.do

    monkeypatch.setattr(subprocess, "run", call)
    voice_for("speak -t TEXT,TEXT")("--go on")
    assert called == [(["speak", "-t", "go on,go on"], 120.0)]
    short = "try it by itself on a short text"
    result = subprocess.TimeoutExpired("speak", 120)
    assert refused() == ("speak was still speaking after 120 seconds", short)
    result = FileNotFoundError(errno.ENOENT, "No such file or directory")
    assert refused() == (
        "cannot start speak: No such file or directory",
        "name a speaking program that is installed",
    )
    result = SimpleNamespace(returncode=2, stderr=b"first\nno sound card\n")
    assert refused() == ("speak failed: no sound card", f"{short}; what you answered is kept")
    result = SimpleNamespace(returncode=2, stderr=b"")
    assert refused()[0] == "speak failed: exit status 2"


@pytest.mark.parametrize(
    ("command", "what"),
    [
        ("speak", "the speaking program has no TEXT in it: speak"),
        ("TEXT", "the speaking program has no TEXT in it: TEXT"),
        ('speak "TEXT', "the speaking program cannot be read: No closing quotation"),
    ],
)
def test_a_speaking_program_must_have_a_place_for_the_words(command: str, what: str) -> None:
    with pytest.raises(OffbookError) as caught:
        voice_for(command)
    assert caught.value.what == what and "TEXT" in caught.value.do


class Child:
    """A recording program; hangs: it has to be killed."""

    def __init__(self, ended: bool = False, hangs: bool = False) -> None:
        self.ended, self.hangs, self.told = ended, hangs, list[Any]()

    def poll(self) -> int | None:
        return 0 if self.ended else None

    def send_signal(self, number: int) -> None:
        self.told.append(number)

    def wait(self, seconds: float | None = None) -> int:
        self.told.append(seconds)
        if self.hangs and seconds is not None:
            raise subprocess.TimeoutExpired("arecord", seconds)
        return 0

    def kill(self) -> None:
        self.told.append("killed")


@pytest.mark.parametrize(
    ("child", "told"),
    [
        (Child(), [signal.SIGINT, 5.0]),
        (Child(ended=True), [5.0]),
        (Child(hangs=True), [signal.SIGINT, 5.0, "killed", None]),
    ],
)
def test_a_recording_program_is_stopped_when_the_answer_has_been_said(
    child: Child, told: list[Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    called: list[Any] = []

    def started(call: list[str], **more: Any) -> Child:
        called.append(call)
        return child

    monkeypatch.setattr(subprocess, "Popen", started)
    for done, stays in ((lambda: True, True), (lambda: False, False)):
        child.told.clear()
        assert spoken._program("arecord -q FILE", done)(Path("/t/a.wav")) is stays
        assert child.told == told
    assert called == [["arecord", "-q", "/t/a.wav"]] * 2


def test_a_recording_program_needs_a_place_for_its_file_and_must_be_there(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    with pytest.raises(RecordingError) as caught:
        spoken._program("arecord -q", lambda: True)
    assert caught.value.what == "the recording program has no FILE in it: arecord -q"
    assert caught.value.do == 'write FILE where its file is named, as in "arecord -q -f S16_LE -r 16000 FILE"'

    def gone(call: list[str], **more: Any) -> None:
        raise FileNotFoundError(errno.ENOENT, "No such file or directory")

    monkeypatch.setattr(subprocess, "Popen", gone)
    with pytest.raises(RecordingError) as caught:
        spoken._program("arecord FILE", lambda: True)(Path("a.wav"))
    assert caught.value.what == "cannot start arecord: No such file or directory"
    assert caught.value.do == "name a recording program that is installed"


def test_the_ear_of_a_drill_records_with_the_program_or_the_microphone(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    loaded: list[Any] = []

    def loading(model: str | None) -> Any:
        loaded.append(model)
        return SimpleNamespace(result=lambda: SimpleNamespace(first="first", second="second"))

    monkeypatch.setattr("offbook.desk.model_loading.Loading", loading)
    monkeypatch.setattr(spoken, "_microphone", lambda done: "microphone")
    monkeypatch.setattr(spoken, "_program", lambda command, done: command)
    for command in (None, "arecord FILE"):
        found: Any = spoken.ear_for(command, "small", lambda: True)
        assert found._recorder == (command or "microphone")
        assert (found._recogniser, found._scorer) == ("first", "second")
    assert loaded == ["small", "small"]


@pytest.mark.parametrize(("size", "heard"), [(None, False), (3_999, False), (4_000, True)])
def test_a_recording_shorter_than_an_eighth_of_a_second_is_no_answer(
    size: int | None, heard: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def record(path: Path) -> bool:
        if size is not None:
            path.write_bytes(bytes(size))
        return True

    monkeypatch.setattr("offbook.audio.survey", lambda path: replace(CLEAR, seconds=2.5))
    monkeypatch.setattr("offbook.audio.pcm", lambda path, sound: [bytes(32_000)])
    ear: Any = LiveTold(Speaking())
    desk = desk_at(tmp_path)
    said = AnswerListener(record, ear).answer(desk.version, 9, 15)
    assert said == spoken.SpokenAnswer(None, None, None, 2.5 if heard else 0.0)
    assert AnswerListener(lambda path: False, ear).answer(desk.version, 9, 15) is None
    desk.journal.close()


# Opening the page and hearing a run-through -----------------------------------------------------------


class Server:
    """A page that is served until it is told to stop."""

    def __init__(self, journal: Any, screens: Any) -> None:
        self.door = SimpleNamespace(link=lambda: "http://link")
        self.told: list[str] = []
        made.append(self)

    def run(self) -> None:
        self.told.append("served")

    def stop(self) -> None:
        self.told.append("stopped")


made: list[Server] = []


@pytest.fixture
def opening(monkeypatch: pytest.MonkeyPatch, own_home: Path) -> dict[str, Any]:
    """What the command finds: a page that runs already, and a browser."""
    given: dict[str, Any] = {"running": None, "browser": True, "signals": {}}
    made.clear()
    monkeypatch.setattr("offbook.page.running", lambda home: given["running"])
    monkeypatch.setattr("offbook.page.open_browser", lambda home, link: given["browser"])
    monkeypatch.setattr("offbook.page.PageServer", Server)
    monkeypatch.setattr(signal, "signal", lambda number, handler: given["signals"].update({number: handler}))
    return given


ONCE = "  http://link\nThe link works once. To close: Ctrl-C here, or “Close offbook” on the page.\n"


def opened(*args: str) -> str:
    done = CliRunner().invoke(page.page_command, list(args), env={"COLUMNS": "120"})
    assert done.exit_code == 0, done.exception
    return done.output


def test_the_page_is_opened_in_the_browser_or_its_link_is_printed(opening: dict[str, Any]) -> None:
    in_browser = "offbook is open in your browser. If no window came up:\n" + ONCE
    assert opened() == in_browser + "Closed. Everything is kept.\n"
    assert made[0].told == ["served"]
    assert opened("--no-browser") == "offbook is open:\n" + ONCE + "Closed. Everything is kept.\n"
    opening["browser"] = False
    assert opened() == "offbook is open:\n" + ONCE + "Closed. Everything is kept.\n"


def test_a_page_that_is_open_already_is_shown_again_but_not_with_other_limits(
    opening: dict[str, Any],
) -> None:
    opening["running"] = "http://link"
    assert opened() == "offbook is open already in your browser. If no window came up:\n" + ONCE
    assert made == []
    refused = CliRunner().invoke(page.page_command, ["--largest", "9"]).exception
    assert isinstance(refused, OffbookError)
    assert refused.what == "offbook is open already, with the limits it was opened with"
    assert refused.do == "close it there first"


def test_the_first_signal_finishes_the_page_and_a_second_one_ends_it_at_once(opening: dict[str, Any]) -> None:
    opened()
    handlers = dict(opening["signals"])
    assert set(handlers) == {signal.SIGINT, signal.SIGTERM, signal.SIGHUP}
    for number, handler in handlers.items():
        made[0].told.clear()
        handler(number, None)
        assert made[0].told == ["stopped"] and opening["signals"][number] == signal.SIG_DFL


def test_a_run_through_is_of_a_script_or_of_a_piece(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    file = tmp_path / "lamp.txt"
    file.write_text(LAMP)
    monkeypatch.setattr("offbook.desk.is_piece", lambda name, performer: name in ("lamp", str(file)))
    whole, stretch, part = Selection(), Selection(first="2"), Selection(part="IVE")
    with pytest.raises(click.UsageError, match=r"Missing argument 'RECORDING'\."):
        run._named("a.wav", None, None, None, whole)
    assert run._named("a.wav", None, "lamp", None, whole) == (None, "a.wav", "lamp")
    assert run._named("lamp", "a.wav", None, None, whole) == (None, "a.wav", "lamp")
    assert run._named("lamp", "a.wav", "lamp", None, whole) == (None, "a.wav", "lamp")
    assert run._named("lamp", "a.wav", "other", None, whole) == ("lamp", "a.wav", "other")
    for wanted in (stretch, part):
        assert run._named("lamp", "a.wav", None, None, wanted) == ("lamp", "a.wav", None)
    assert run._named(str(file), "a.wav", None, None, whole) == (str(file), "a.wav", None)
    assert run._named("-", "a.wav", None, None, whole) == ("-", "a.wav", None)
    assert run._named("ferry", "a.wav", None, None, whole) == ("ferry", "a.wav", None)
