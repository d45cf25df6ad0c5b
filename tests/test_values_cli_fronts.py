"""The command line at its edges: how a command ends, what it asks, and how a proposal to cut is shown."""

from __future__ import annotations

import errno
import io
import sys
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import click
import pytest
from click.testing import CliRunner

from offbook import cli
from offbook.cli import hear_pile, setup
from offbook.cli.fit import _cuts, _in_hundred, _in_short, _page
from offbook.cli.guarded import Guarded, guard_streams
from offbook.cli.left_out import print_left
from offbook.desk import NotPlaced, PileHeard, Placed, UnsurePiece
from offbook.desk.pile import PileEntry
from offbook.desk.pile_hearing import PileLine
from offbook.errors import JournalError
from offbook.records import Piece
from offbook.script import parse_script
from offbook.words import words_of

NOW = datetime(2026, 3, 2, 18, tzinfo=UTC)


def piece(name: str = "The lamp", limit: float | None = None) -> Piece:
    return Piece(name, "mara", "Mara", "UTC", name, None, limit, None, True, NOW)


def rows(text: str) -> str:
    return " ".join(text.split())


# How a command ends -----------------------------------------------------------------------------------


def ending(monkeypatch: pytest.MonkeyPatch, result: Any) -> int:
    """The exit status of a command line whose command returns or raises this."""

    def command(args: list[str], **more: Any) -> Any:
        assert args == ["read"] and more == {"prog_name": "offbook", "standalone_mode": False}
        if isinstance(result, BaseException):
            raise result
        return result

    monkeypatch.setattr(cli.group, "main", command)
    return cli._status(["read"])


def test_the_exit_status_is_the_commands_own_or_else_0(monkeypatch: pytest.MonkeyPatch) -> None:
    assert [ending(monkeypatch, result) for result in (None, "text", 0, 3)] == [0, 0, 0, 3]


def test_an_error_ends_with_status_1_and_two_lines_a_wrong_command_line_with_2(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert ending(monkeypatch, JournalError("nothing is here", "add one")) == 1
    assert capsys.readouterr() == ("", "offbook: nothing is here\nadd one\n")
    assert ending(monkeypatch, click.UsageError("no such option")) == 2
    assert capsys.readouterr() == ("", "Error: no such option\n")


@pytest.mark.parametrize("end", [click.Abort(), KeyboardInterrupt()])
def test_an_interrupted_command_says_so_and_ends_with_130(
    end: BaseException, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert ending(monkeypatch, end) == 130
    assert capsys.readouterr() == ("", "offbook: stopped\n")


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EDQUOT, errno.EIO, errno.EBADF])
def test_output_that_cannot_be_written_is_reported_and_what_is_left_of_it_is_dropped(
    number: int, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys, "stdout", sys.stdout)  # put back afterwards
    assert ending(monkeypatch, OSError(number, "it is full")) == 1
    assert sys.stdout.name == "/dev/null"
    sys.stdout.close()
    assert capsys.readouterr().err == (
        "offbook: the output cannot be written: it is full\n"
        "free some space, or write it to another place; everything that was saved is still there\n"
    )


def test_a_reader_who_has_gone_is_told_nothing_and_another_error_of_the_system_is_raised(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys, "stdout", sys.stdout)
    assert ending(monkeypatch, OSError(errno.EPIPE, "gone")) == 1
    sys.stdout.close()
    assert capsys.readouterr().err == ""
    with pytest.raises(FileNotFoundError):
        ending(monkeypatch, FileNotFoundError(errno.ENOENT, "no such file"))


def test_the_process_ends_at_once_with_its_status_or_1_if_its_output_cannot_be_written(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    left: list[int] = []
    monkeypatch.setattr("os._exit", left.append)

    class Full(io.StringIO):
        def flush(self) -> None:
            raise OSError(errno.ENOSPC, "it is full")

    for status in (0, 3):
        monkeypatch.setattr(sys, "stdout", io.StringIO())
        cli._leave(status)
        monkeypatch.setattr(sys, "stdout", Full())
        cli._leave(status)
    assert left == [0, 1, 3, 3]
    assert capsys.readouterr().err.count("offbook: the output cannot be written: it is full") == 1


def test_the_arguments_of_the_process_are_guarded_and_those_of_a_program_are_not(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    done: list[Any] = []

    def status(argv: list[str]) -> int:
        done.append(argv)
        return 3

    monkeypatch.setattr(cli, "guard_streams", lambda: done.append("guarded"))
    monkeypatch.setattr(cli, "_status", status)
    monkeypatch.setattr(cli, "_leave", lambda status: done.append(status))
    monkeypatch.setattr("os.umask", lambda mask: done.append(oct(mask)))
    monkeypatch.setattr(sys, "argv", ["offbook", "class"])
    for given, seen in ((None, ["guarded", "0o77", ["class"], 3]), (["read"], ["0o77", ["read"]])):
        done.clear()
        with pytest.raises(SystemExit) as left:
            cli.main(given)
        assert (left.value.code, done) == (3, seen)


def test_the_help_lists_every_command_in_order_and_an_unknown_one_is_refused() -> None:
    shown = CliRunner().invoke(cli.group, ["-h"]).output.partition("Commands:\n")[2]
    listed = [row.split()[0] for row in shown.splitlines() if row[2:3].strip()]
    assert listed == list(cli.COMMANDS)
    refused = CliRunner().invoke(cli.group, ["sing"])
    assert refused.exit_code == 2 and "No such command 'sing'." in refused.output


def test_both_streams_are_guarded_once_and_keep_their_encoding(monkeypatch: pytest.MonkeyPatch) -> None:
    out = io.TextIOWrapper(io.BytesIO(), "latin-1", line_buffering=True)
    other = io.StringIO()
    monkeypatch.setattr(sys, "stdout", out)
    monkeypatch.setattr(sys, "stderr", other)
    out.write("before ")
    guard_streams()
    guarded = sys.stdout
    assert isinstance(guarded, Guarded) and sys.stderr is other
    assert (guarded.encoding, guarded.errors, guarded.line_buffering) == ("latin-1", "backslashreplace", True)
    guarded.write("é … \x1b[2J\n")
    guard_streams()
    assert sys.stdout is guarded
    raw = guarded.buffer
    assert isinstance(raw, io.BytesIO) and raw.getvalue() == b"before \xe9 \\u2026 \\x1b[2J\n"


# Rows that were left out ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("count", "last"),
    [
        (20, "Damaged or missing: row 19."),
        (21, "And 1 more row that is damaged or missing."),
        (22, "And 2 more rows that are damaged or missing."),
    ],
)
def test_twenty_rows_that_were_left_out_are_named_and_the_others_counted(
    count: int, last: str, capsys: pytest.CaptureFixture[str]
) -> None:
    left: Any = [f"row {n}" for n in range(count)]
    assert print_left(left) == 3
    told = capsys.readouterr().out.splitlines()
    assert (len(told), told[-1]) == (min(count, 20) + (count > 20), last)
    assert print_left([]) == 0 and capsys.readouterr().out == ""


# A pile of recordings ---------------------------------------------------------------------------------


def placed(n: int, of: Piece | None = None) -> Placed:
    return Placed(PileEntry(Path(f"/p/{n}.wav"), "Mara", ""), of)


def test_up_to_twenty_recordings_are_listed_before_it_is_asked_whether_they_are_right(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    asked: list[Any] = []
    monkeypatch.setattr(click, "confirm", lambda text, **more: asked.append((text, more)))
    hear_pile._ask([placed(0, piece()), placed(1)])
    assert capsys.readouterr().err.splitlines() == [
        "  0.wav: Mara, The lamp", "  1.wav: Mara, piece to be found by hearing"
    ]  # fmt: skip
    assert asked == [("Hear 2 recordings so?", {"default": True, "abort": True, "err": True})]
    for count, more in ((20, []), (22, ["  and 2 more"])):
        hear_pile._ask([placed(n) for n in range(count)])
        told = capsys.readouterr().err.splitlines()
        assert told[19] == "  19.wav: Mara, piece to be found by hearing" and told[20:] == more


def test_the_piece_of_an_unsure_recording_is_asked_for_by_its_number(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    answers = iter([2, 0])
    monkeypatch.setattr(click, "prompt", lambda text, **more: next(answers))
    likely = ((piece(), 0.614), (piece("The ferry"), 0.5))
    unsure = (UnsurePiece(placed(0), likely), UnsurePiece(placed(1), likely))
    assert hear_pile._which(unsure) == [placed(0, piece("The ferry"))]
    assert capsys.readouterr().err.splitlines()[:3] == [
        "Which piece is 0.wav, of Mara?", "  1  The lamp, 61 % like it", "  2  The ferry, 50 % like it"
    ]  # fmt: skip


def test_those_who_need_most_work_come_first_and_what_is_over_the_limit_is_shown() -> None:
    saved: Any = SimpleNamespace(run=SimpleNamespace(id="the run"))

    def line(
        name: str, said: float, dropped: int, seconds: float = 60.0, most: float | None = None
    ) -> PileLine:
        return PileLine(Path(f"/p/{name}.wav"), piece(limit=most), saved, seconds, said, dropped, None, 1.0)

    heard = PileHeard(
        (
            line("d", 0.99, 0, 61.0, 60.0), line("c", 0.9, 1, 60.0, 60.0), line("b", 0.9, 2),
            line("a", 0.9, 1, 90.0, 60.0), line("e", 0.123456, 0),
        ),
        (),
        (),
    )  # fmt: skip
    told = hear_pile._rows(heard)
    assert [r["recording"] for r in told] == ["e.wav", "b.wav", "a.wav", "c.wav", "d.wav"]
    assert [r["over"] for r in told] == [None, None, "0:30", None, "0:01"]
    assert told[0] == {
        "performer": "Mara", "piece": "The lamp", "accuracy": 0.1235, "dropped_lines": 0, "length": "1:00",
        "over": None, "sound": None, "recording": "e.wav", "run": "the run",
    }  # fmt: skip
    failed = (NotPlaced(Path("x"), "", ""),)
    assert hear_pile._counted(heard, failed) == "5 recordings heard, 1 not heard."
    assert hear_pile._counted(replace(heard, before=(Path("y"),)), ()) == (
        "5 recordings heard, 1 heard before, 0 not heard."
    )


class Bar:
    """A progress bar that only remembers what it is told."""

    told: list[Any]

    def __init__(self, *columns: Any, **more: Any) -> None:
        self.told.append(more.get("transient"))

    def __enter__(self) -> Bar:
        return self

    def __exit__(self, *error: Any) -> None:
        self.told.append("closed")

    def add_task(self, text: str, **more: Any) -> int:
        self.told.append((text, more))
        return 7

    def update(self, task: int, **more: Any) -> None:
        self.told.append((task, more))


def test_a_progress_bar_of_a_pile_is_drawn_only_on_a_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    Bar.told = []
    monkeypatch.setattr("rich.progress.Progress", Bar)
    for looked_at, told in (
        (False, []),
        (True, [True, ("hearing", {"total": None}), (7, {"completed": 3, "total": 9}), "closed"]),
    ):
        monkeypatch.setattr(hear_pile, "console", lambda err, at=looked_at: SimpleNamespace(is_terminal=at))
        with hear_pile._bar() as step:
            step(3, 9)
        assert Bar.told == told


def test_the_progress_of_a_fetch_is_hidden_while_a_line_is_printed(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    Bar.told = []

    def fetch(model: Any, *, role: str, archive: Any, tell: Any, progress: Any) -> Path:
        tell("unpacking")
        progress(3, 9)
        return Path("/m")

    monkeypatch.setattr(setup, "Progress", Bar)
    monkeypatch.setattr("offbook.models.fetch", fetch)
    assert setup._fetch_one(None, "first", None) == Path("/m")
    assert capsys.readouterr().err == "unpacking\n"
    assert Bar.told == [
        True, ("fetching", {"total": None, "visible": False}), (7, {"visible": False}),
        (7, {"completed": 3, "total": 9, "visible": True}), "closed",
    ]  # fmt: skip


# Fitting a limit --------------------------------------------------------------------------------------


def test_a_chance_is_told_in_hundred_with_its_article_and_never_as_certain() -> None:
    told = {0.0: "a 1", 0.006: "a 1", 0.08: "an 8", 0.11: "an 11", 0.18: "an 18", 0.79: "a 79", 0.8: "an 80"}
    told |= {0.89: "an 89", 0.9: "a 90", 0.994: "a 99", 1.0: "a 99"}
    assert {chance: _in_hundred(chance) for chance in told} == {c: f"{t} in 100" for c, t in told.items()}
    assert [_cuts(n) for n in (1, 2)] == ["one cut", "2 cuts"]


def test_a_cut_of_up_to_42_words_is_shown_whole_and_a_longer_one_by_14_at_each_end() -> None:
    said = [f"w{n}" for n in range(43)]
    assert _in_short(said[:42]) == " ".join(said[:42])
    assert _in_short(said) == " ".join([*said[:14], "…", *said[-14:]])


def fitting(**more: Any) -> Any:
    time = SimpleNamespace(seconds=70.0, low=60.0, high=80.0, pace=SimpleNamespace(name="130 words a minute"))
    given = {"time": time, "limit": 60.0, "over_by": 10.0, "chance": 0.2, "proposals": (), "shortest": None}
    return SimpleNamespace(**(given | more))


def proposal() -> Any:
    cut, time = SimpleNamespace(first=0, after=3, seconds=1.6), SimpleNamespace(seconds=68.4)
    given = {"cuts": (cut,), "saved": 1.6, "time": time, "chance": 0.5}
    return SimpleNamespace(**given, goes=("the lamp",), check=("line 1",))


def fit_rows(found: Any, text: str = "The lamp was lit before the tide.\nNobody came.\n") -> list[str]:
    script = parse_script(text, title="The lamp")
    return list(_page(script, words_of(script), found, 200))


def test_a_fit_is_told_with_what_is_over_or_to_spare() -> None:
    told = (
        "The lamp runs 1:10 (likely 1:00 to 1:20, at 130 words a minute) and {} against 1:00: "
        "a 20 in 100 chance of ending in time."
    )
    nothing = (
        "There is no whole thought that may go: --ends-too lets the opening and the last thought go, "
        "--cut names a passage that goes whatever it breaks."
    )
    assert fit_rows(fitting())[0] == told.format("is 0:10 over")
    assert fit_rows(fitting(over_by=0.0))[0] == told.format("fits with 0:00 to spare")
    assert fit_rows(fitting(over_by=-5.0))[0] == told.format("fits with 0:05 to spare")
    assert fit_rows(fitting())[1:] == ["", nothing]
    assert fit_rows(fitting(chance=0.8))[1:] == [] and fit_rows(fitting(chance=0.79))[2:] == [nothing]


def test_a_proposal_is_shown_with_its_cuts_what_it_gives_up_and_the_text_that_remains() -> None:
    shown = [
        "",
        "Proposal 1: one cut, 2 s saved, then 1:08, a 50 in 100 chance of ending in time.",
        "  Cut line 1, 2 s: The lamp was",
        "  Gives up: the lamp",
        "  Check: line 1.",
        "  It then reads:",
    ]
    assert fit_rows(fitting(proposals=(proposal(),)))[1:7] == shown
    most = fit_rows(fitting(shortest=proposal()))
    assert " ".join(most[2:4]) == (
        "No cut of whole thoughts ends within 1:00 in four readings of five. "
        "The most that may go is shown below; --ends-too lets the opening and the last thought go, "
        "--cut names a passage that goes whatever it breaks."
    )
    assert most[4:6] == ["", shown[1].replace("Proposal 1", "The most that may go")]


@pytest.mark.heavy
def test_the_remaining_text_of_a_speech_of_more_than_3000_words_is_not_shown() -> None:
    too_long = "  Too long to show here: --write FILE --proposal 1 writes it, --json prints it."
    line = "The lamp was lit before the tide came in again\n"
    assert too_long not in fit_rows(fitting(proposals=(proposal(),)), line * 300)
    long = line * 300 + "and now once more\n"
    assert fit_rows(fitting(proposals=(proposal(),)), long)[-1] == too_long
    assert fit_rows(fitting(shortest=proposal()), long)[-1] == too_long
