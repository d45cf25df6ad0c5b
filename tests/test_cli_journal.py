"""The daily work through the real commands: what a performer and a coach see."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from types import SimpleNamespace

import pytest
from click.testing import CliRunner, Result

from offbook.cli import COMMANDS, group
from offbook.errors import OffbookError
from offbook.notes import notes_on
from offbook.records import Unit
from offbook.script import Script
from offbook.words import Word
from tests.journals import LAMP, Slips, run_with
from tests.once import spoken_anew

# Whole commands: tests/test_values_*.py hold what the functions behind them give.
pytestmark = pytest.mark.heavy

MONDAY = datetime.fromisoformat("2026-03-02T18:00:00+00:00")


def by_lines(script: Script, words: tuple[Word, ...], marks: object) -> tuple[Unit, ...]:
    """A thought for each line, because these tests are not about where a thought shifts."""
    out = []
    for n, line in enumerate(script.lines):
        at = [w.i for w in words if w.line == line.n]
        out.append(Unit(n, n, at[0], at[-1], " ".join(words[i].text for i in at[:4])))
    return tuple(out)


@dataclass
class Desk:
    """A person at the terminal: commands, screens, and a calendar."""

    home: Path
    monkeypatch: pytest.MonkeyPatch
    now: datetime = MONDAY
    step: float = 10.0

    def type(self, *args: str, keys: str = "") -> Result:
        """Give a command as it is typed; `keys` is what the person then types into it."""
        self.monkeypatch.setenv("OFFBOOK_NOW", f"{self.now.isoformat()} {self.step:g}")
        return CliRunner().invoke(group, list(args), input=keys)

    def see(self, *args: str, keys: str = "") -> str:
        """The screen of a command that succeeds."""
        done = self.type(*args, keys=keys)
        assert done.exit_code == 0, (args, done.output, done.exception)
        return done.output

    def fail(self, *args: str) -> OffbookError:
        """The error of a command that is refused; it prints nothing on standard output."""
        done = self.type(*args)
        assert isinstance(done.exception, OffbookError), (args, done.output, done.exception)
        assert done.stdout == ""
        return done.exception

    def sleep(self, days: int = 1) -> None:
        """Go on to the next evening."""
        self.now += timedelta(days=days)


def desk_in(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Desk:
    """A terminal with an empty journal, and the script of the lamp beside it."""
    monkeypatch.setenv("OFFBOOK_HOME", str(tmp_path / "home"))
    monkeypatch.delenv("OFFBOOK_JOURNAL", raising=False)
    monkeypatch.delenv("OFFBOOK_PERFORMER", raising=False)
    monkeypatch.setenv("COLUMNS", "100")
    monkeypatch.setattr("offbook.thoughts.shifts_of", lambda *a, **k: ())
    monkeypatch.setattr("offbook.drill.units_of", by_lines)
    (tmp_path / "lamp.txt").write_text(LAMP, encoding="utf-8")
    return Desk(tmp_path, monkeypatch)


def desk_with_lamp(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Desk:
    """The same, with the lamp as a piece without a date."""
    found = desk_in(tmp_path, monkeypatch)
    found.see("piece", "add", str(tmp_path / "lamp.txt"), "--name", "The lamp")
    return found


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Desk:
    (tmp_path / "take.wav").write_bytes(b"RIFF" + bytes(500))
    return desk_in(tmp_path, monkeypatch)


def lamp(desk: Desk, *more: str) -> str:
    return desk.see("piece", "add", str(desk.home / "lamp.txt"), "--name", "The lamp", "--date", "+20", *more)


def run(desk: Desk, slips: Slips | None = None, *args: str) -> Result:
    """`offbook run --piece` with a new recording; the hearing is replaced by a planted run-through."""
    from offbook.script import reading as scripts
    from offbook.words import words_of

    script = scripts.load_script(desk.home / "lamp.txt")
    words = words_of(script)
    found = notes_on(script, words, run_with(words, slips or {}))
    made = spoken_anew(desk.home / "take.wav")
    heard = SimpleNamespace(review=found, model="planted", recording=made, script=script, pick_ups=())
    desk.monkeypatch.setattr("offbook.desk.listening.listen_to", lambda *a, **k: heard)
    desk.monkeypatch.setattr("offbook.cli.run_report.report", lambda h: None)
    return desk.type("run", str(desk.home / "lamp.txt"), str(made), "--piece", "The lamp", *args)


def test_an_empty_journal_says_how_to_begin(desk: Desk) -> None:
    for command in (["today"], ["progress"]):
        error = desk.fail(*command)
        assert "offbook piece add" in error.do
    assert "No pieces yet" in desk.see("class")


def test_adding_the_first_piece_needs_only_a_script_and_a_date(desk: Desk) -> None:
    assert lamp(desk) == ('The lamp, for Me: 34 words in 4 thoughts.\nBegin with: offbook drill "The lamp"\n')
    shown = desk.see("today")
    assert "The lamp (20 days left)" in shown and shown.count("begin it") == 4
    assert "0 of 45 minutes of full voice" in shown and "qualified voice teacher" in shown


def test_the_answers_of_a_drill_are_judged_and_kept_and_change_the_tasks_of_today(desk: Desk) -> None:
    lamp(desk)
    desk.step = 3
    lines = LAMP.splitlines()
    keys = f"\n{lines[0]}\n\nNobdy asked who carried up a oil\nq\n"
    shown = desk.see("drill", "The lamp", "--minutes", "5", keys=keys)
    assert "New. Read it once for what it means" in shown
    assert "Right." in shown
    assert "not this" in shown and "the oil" in shown
    assert "Left after 2 questions; every answer is kept." in shown
    rows = json.loads(desk.see("drill", "The lamp", "--answers", "--json"))["answers"]
    assert [(r["thought"], r["right"], r["words"]) for r in rows] == [(1, 9, 9), (2, 6, 7)]
    assert rows[1]["given"] == "Nobdy asked who carried up a oil"
    assert desk.see("today").count("not yet sure") == 2


def test_a_drill_stops_when_its_time_is_up_and_ends_with_a_right_answer(desk: Desk) -> None:
    lamp(desk)
    desk.step = 20
    shown = desk.see(
        "drill", "The lamp", "--minutes", "1", "--seed", "4", keys="\n" * 9 + f"{LAMP.splitlines()[0]}\n" * 30
    )
    assert "Time is up. One more" in shown
    assert shown.rstrip().splitlines()[-1].endswith("and the last one was. See what is left: offbook today")
    assert shown.rstrip().splitlines()[-3].strip() == "Right."


def test_an_empty_answer_shows_the_words_of_the_thought(desk: Desk) -> None:
    lamp(desk)
    assert "It goes: The lamp was lit before the tide came in" in desk.see(
        "drill", "The lamp", keys="\n\nq\n"
    )


def test_typing_q_leaves_the_drill_even_while_a_new_thought_is_shown(desk: Desk) -> None:
    lamp(desk)
    assert "Left after 0 questions" in desk.see("drill", "The lamp", keys="q\n")


def test_a_question_mark_in_a_drill_gives_a_prompt_and_counts_as_one(desk: Desk) -> None:
    lamp(desk)
    keys = "\nThe lamp was ?\n?\nNobody asked\nq\n"
    shown = desk.see("drill", "The lamp", "--seed", "4", keys=keys)
    assert "prompt: lit\n" in shown and "prompt: before the tide came in\n" in shown
    assert "3 of 9 words" in shown
    (answer,) = json.loads(desk.see("drill", "The lamp", "--answers", "--json"))["answers"]
    assert answer["given"] == "The lamp was [lit] [before the tide came in] Nobody asked"
    assert (answer["right"], answer["words"]) == (3, 9)


def test_a_drill_that_has_nothing_to_ask_says_what_it_needs(desk: Desk) -> None:
    lamp(desk)
    shown = desk.see("drill", "The lamp", "--kind", "cue", keys="q\n")
    assert "Nothing to ask as cue yet. It needs another part's lines" in shown


def test_a_piece_that_was_never_run_through_has_no_accuracy(desk: Desk) -> None:
    lamp(desk)
    rows = list(csv.DictReader(io.StringIO(desk.see("progress", "The lamp", "--lines", "--csv"))))
    assert {r["accuracy"] for r in rows} == {""}
    assert json.loads(desk.see("progress", "The lamp", "--json"))["lines"][0]["accuracy"] is None


def test_every_screen_of_the_daily_work_fits_into_sixty_columns(desk: Desk) -> None:
    lamp(desk, "--limit", "0:45")
    for _ in range(3):
        run(desk, {3: ("dropped", None), 12: ("changed", "cellar")})
        desk.sleep()
    desk.monkeypatch.setenv("COLUMNS", "60")
    for args in (("progress", "The lamp", "--lines"), ("progress",), ("class",)):
        shown = desk.see(*args)
        assert max(len(row.rstrip()) for row in shown.splitlines()) <= 60, shown
        assert "Performer" in shown or args[0] == "progress", "no heading is broken inside a word"


def test_adding_a_piece_with_a_past_date_warns_and_class_says_how_to_see_past_pieces(desk: Desk) -> None:
    added = desk.see("piece", "add", str(desk.home / "lamp.txt"), "--name", "Old", "--date", "2026-03-01")
    assert "2026-03-01 is over" in added
    assert "--past shows those that are over" in desk.see("class")
    assert "Old" in desk.see("class", "--past")
    assert "2026-02-28 is over" in desk.see("piece", "set", "Old", "--date", "2026-02-28")


def test_neighbouring_dropped_words_are_reported_as_one_stretch(desk: Desk) -> None:
    lamp(desk)
    for _ in range(2):
        run(desk, dict.fromkeys((3, 4, 5), ("dropped", None)))
        desk.sleep()
    words = LAMP.split()[3:6]
    assert f"“{' '.join(words)}” dropped: 2 of the last 2" in desk.see("progress", "The lamp")


def test_the_option_explain_describes_every_kind_of_drill(desk: Desk) -> None:
    lamp(desk)
    told = desk.see("drill", "The lamp", "--explain").splitlines()
    assert sum(not row.startswith(" ") for row in told) == 7


def test_a_run_through_is_kept_in_the_journal_and_changes_the_progress(desk: Desk) -> None:
    lamp(desk, "--limit", "0:45")
    for day in range(4):
        done = run(desk, {27: ("changed", "day")} if day < 3 else {})
        assert done.exit_code == 0, (done.output, done.exception)
        assert "In the journal with its recording, as run-through" in done.output
        assert "minutes of full voice" in done.output and "voice teacher" in done.output
        desk.sleep()
    shown = desk.see("progress", "The lamp")
    assert "Off book: not yet. One clean day (Thu 5 Mar); it takes two." in shown
    assert "line 4: and every night the stairs were one stair more" in shown
    assert "“night” became “day”: 3 of the last 4" in shown
    assert (
        "Time: 0:30 (0:30 to 0:30), limit 0:45: over it in 0 of the last 4.\nPace: 68 words a minute."
        in shown
    )
    assert "Forecast:" in shown
    run(desk)
    assert "Off book since Fri 6 Mar." in desk.see("progress", "The lamp")


def test_the_recording_is_kept_only_if_the_performer_chooses_so(desk: Desk) -> None:
    lamp(desk, "--no-keep")
    assert "without the recording" in run(desk).output
    assert "with its recording" in run(desk, {3: ("dropped", None)}, "--keep").output
    assert len(list((desk.home / "home" / "recordings").rglob("*.wav"))) == 1


def test_a_recording_whose_judging_was_interrupted_is_offered_again(desk: Desk) -> None:
    lamp(desk)

    def killed(*args: object, **more: object) -> None:
        raise KeyboardInterrupt

    run(desk)
    desk.monkeypatch.setattr("offbook.desk.listening.listen_to", killed)
    made = spoken_anew(desk.home / "take.wav")
    desk.type("run", str(desk.home / "lamp.txt"), str(made), "--piece", "The lamp")
    shown = desk.see("today")
    assert "was never judged to the end" in shown
    (path,) = json.loads(desk.see("today", "--json"))["performers"][0]["unjudged"]
    assert Path(path).is_file() and path in shown


def test_recordings_are_listed_and_can_be_deleted_singly_or_all_the_unjudged_ones(desk: Desk) -> None:
    lamp(desk)
    run(desk), run(desk)
    desk.monkeypatch.setattr("offbook.desk.listening.listen_to", lambda *a, **k: 1 / 0)
    made = spoken_anew(desk.home / "take.wav")
    desk.type("run", str(desk.home / "lamp.txt"), str(made), "--piece", "The lamp")

    def kept() -> list[dict[str, object]]:
        listed = json.loads(desk.see("piece", "recordings", "The lamp", "--json"))["recordings"]
        assert isinstance(listed, list)
        return listed

    assert [r["judged"] for r in kept()] == [True, True, False]
    assert "no recording was named" in desk.fail("piece", "forget", "The lamp").what
    assert "begins with 'zz'" in desk.fail("piece", "forget", "The lamp", "zz").what
    assert len(kept()) == 3
    assert "1 recording of The lamp gone" in desk.see("piece", "forget", "The lamp", "--unjudged", "--yes")
    first, second = kept()
    desk.see("piece", "forget", "The lamp", str(first["recording"]), keys="y\n")
    assert kept() == [second]
    assert list((desk.home / "home" / "recordings").rglob("*.wav")) == [Path(str(second["path"]))]
    assert len(json.loads(desk.see("progress", "The lamp", "--runs", "--json"))["runs"]) == 2
    assert desk.type("piece", "forget", "The lamp", "--all", keys="n\n").exit_code != 0
    assert kept() == [second], "no means no"


def test_a_recording_missing_from_the_disk_is_reported_with_the_command_that_forgets_it(desk: Desk) -> None:
    lamp(desk)
    run(desk)
    (only,) = json.loads(desk.see("piece", "recordings", "The lamp", "--json"))["recordings"]
    Path(only["path"]).unlink()
    told = desk.see("export", str(desk.home / "all.zip"))
    assert "0 recordings" in told and "no longer on the disk" in told
    assert f'offbook piece forget "The lamp" {only["recording"]}' in told
    desk.see("piece", "forget", "The lamp", only["recording"], "--yes")
    desk.see("export", str(desk.home / "whole.zip"))


def test_the_sound_of_an_interrupted_rehearsal_is_listed_with_the_command_that_hears_it(desk: Desk) -> None:
    """A partner that is killed leaves it in the folder of its piece, and no row knows of it."""
    lamp(desk)
    run(desk)
    (kept,) = json.loads(desk.see("piece", "recordings", "The lamp", "--json"))["recordings"]
    left = Path(kept["path"]).parent / "arriving-0123456789ab.wav"
    assert "rehearsal" not in desk.type("piece", "recordings", "The lamp").output
    left.write_bytes(b"RIFF sound")
    told = " ".join(desk.type("piece", "recordings", "The lamp").output.split())
    assert f'offbook run "The lamp" {left}' in told
    assert left.exists() and Path(kept["path"]).exists()


def test_a_changed_script_must_be_revised_in_the_journal_before_it_can_be_run(desk: Desk) -> None:
    lamp(desk)
    run(desk, {3: ("dropped", None)})
    (desk.home / "lamp.txt").write_text(LAMP.replace("Nobody asked", "No one had asked"), encoding="utf-8")
    done = run(desk)
    assert isinstance(done.exception, OffbookError) and "piece revise" in done.exception.do
    shown = desk.see("piece", "revise", "The lamp", str(desk.home / "lamp.txt"))
    assert (
        shown
        == (
            "The lamp, draft 2: 33 of 34 words stayed with their history, 1 went, 3 are new.\n"
            "Thoughts: 3 as they were, 1 changed, 0 new.\n"
        )
        or "33 of 34 words stayed" in shown
    )
    assert run(desk).exit_code == 0


def test_a_word_is_corrected_by_its_number_or_by_the_word_itself(desk: Desk) -> None:
    lamp(desk)
    run(desk, {3: ("dropped", None), 7: ("changed", "ride")})
    listed = desk.see("correct", "The lamp")
    assert "[lit]" in listed and "ride" in listed
    shown = desk.see("correct", "The lamp", "lit", "--note", "I did say that")
    assert "Word 4: said. Words said: 94.1 % before, 97.0 % now; the first verdict is kept" in shown
    assert "by hand, was dropped" in desk.see("correct", "The lamp")
    assert "100.0 % now" in desk.see("correct", "The lamp", "8")
    assert "nowhere" in desk.fail("correct", "The lamp", "lighthouse").what
    assert "no word 99" in desk.fail("correct", "The lamp", "99").what


def test_the_class_lists_performers_at_risk_first(desk: Desk) -> None:
    for name, days in (("Mara", "+3"), ("Ivo", "+30")):
        desk.see("performer", "add", name, "--zone", "Europe/Vienna")
        desk.see(
            "piece",
            "add",
            str(desk.home / "lamp.txt"),
            "--name",
            f"Lamp of {name}",
            "--performer",
            name,
            "--date",
            days,
        )
    rows = json.loads(desk.see("class", "--json"))["pieces"]
    assert [(r["performer"], r["days_left"], r["stands"]) for r in rows] == [
        ("Mara", 3, "not begun"),
        ("Ivo", 30, "not begun"),
    ]
    assert "2 performers" in desk.fail("progress").what
    assert "Lamp of Ivo" in desk.see("progress", "--performer", "Ivo")
    shown = desk.see("today")
    assert shown.index("Mara") < shown.index("Ivo") and "Lamp of Mara: in 3 d" in shown
    assert shown.count("qualified voice teacher") == 1 and len(shown.splitlines()) < 12
    assert "minutes of full voice used today" in desk.see("today", "--performer", "Ivo")


def test_the_class_fits_on_one_screen_with_deadlines_what_was_sent_and_the_last_work(desk: Desk) -> None:
    """Six performers with five pieces each in a window of 24 lines."""
    for n in range(6):
        desk.see("performer", "add", f"P{n}")
        for k in range(5):
            path, date = str(desk.home / "lamp.txt"), f"+{10 + 5 * n + k}"
            desk.see("piece", "add", path, "--name", f"Lamp {k}", "--performer", f"P{n}", "--date", date)
    text = 'name = "Round"\ndeadline = 2026-03-04T12:00:00+00:00\npieces = ["Lamp 3"]\n'
    (desk.home / "b.toml").write_text(text, encoding="utf-8")
    desk.see("brief", "add", str(desk.home / "b.toml"), "--performer", "P5")
    desk.see("drill", "Lamp 3", "--performer", "P5", keys="\n\nq\n")
    shown = desk.see("class")
    assert len(shown.splitlines()) <= 24 and shown.count("qualified voice teacher") == 1
    first = shown.splitlines()[1].split()
    assert first[:3] == ["P5", "Lamp", "3"] and "in 2 d" in shown.splitlines()[1], "a deadline in two days"
    assert "no take" in shown.splitlines()[1] and "today" in shown.splitlines()[1]
    assert "15 more, less at risk: offbook class --all" in shown
    assert desk.see("class", "--all").count("Lamp") == 30
    told = json.loads(desk.see("class", "--json"))
    assert (
        told["more"] == 15 and told["pieces"][0]["brief"] == "Round" and told["pieces"][0]["sent_at"] is None
    )
    desk.see("brief", "sent", "Round", "--anyway", "--performer", "P5")
    (row,) = [r for r in json.loads(desk.see("class", "--all", "--json"))["pieces"] if r["sent_at"]]
    assert row["piece"] == "Lamp 3" and row["days_left"] == 38
    desk.see("brief", "sent", "Round", "--undo", "--performer", "P5")
    desk.sleep(4)
    late = desk.see("class").splitlines()[1]
    assert "LATE" in late and late.startswith("P5"), "what is late comes first"


def test_offbook_asks_about_a_word_always_misheard_the_same_way_and_a_confirmed_word_is_no_slip(
    desk: Desk,
) -> None:
    lamp(desk)
    slips: Slips = {3: ("changed", "let"), 20: ("dropped", None)}
    run(desk, slips)
    assert "Did you say it" not in desk.see("progress", "The lamp"), "once is a slip like any other"
    desk.sleep()
    run(desk, slips)
    shown = " ".join(desk.see("progress", "The lamp").split())
    assert "“lit” was heard as “let” 2 times in a row. Did you say it?" in shown
    assert 'offbook correct "The lamp" 4 --always' in shown
    assert "Corrected in 2 run-throughs" in desk.see("correct", "The lamp", "4", "--always")
    after = desk.see("progress", "The lamp")
    assert "Did you say it" not in after and "became “let”" not in after
    desk.sleep()
    run(desk, slips)
    runs = json.loads(desk.see("progress", "The lamp", "--runs", "--json"))["runs"]
    assert [r["changed"] for r in runs] == [0, 0, 0] and [r["dropped"] for r in runs] == [1, 1, 1]
    assert "was changed" in desk.see("correct", "The lamp"), "as first judged it is kept"
    desk.sleep()
    run(desk, {3: ("changed", "late")})
    newest = json.loads(desk.see("progress", "The lamp", "--runs", "--json"))["runs"][-1]
    assert newest["changed"] == 1, "another word in its place is a mistake as before"


def test_every_listing_is_available_as_csv_and_json(desk: Desk) -> None:
    lamp(desk)
    run(desk, {3: ("dropped", None)})
    desk.see("drill", "The lamp", keys="\n\nq\n")
    listings = {
        ("performer", "list"): "performers",
        ("piece", "list"): "pieces",
        ("progress",): "pieces",
        ("progress", "The lamp", "--runs"): "runs",
        ("drill", "The lamp", "--answers"): "answers",
        ("correct", "The lamp"): "words",
        ("piece", "show", "The lamp"): "thoughts",
        ("class",): "pieces",
    }
    for args, name in listings.items():
        data = json.loads(desk.see(*args, "--json"))
        assert data["format"] == 1 and len(data[name]) >= 1
        rows = list(csv.DictReader(io.StringIO(desk.see(*args, "--csv"))))
        assert len(rows) == len(data[name])
        if args[1:2] != ("show",):  # which has the first and the last word in cells of their own
            assert set(rows[0]) == set(data[name][0])
    for args in (("today",), ("progress", "The lamp"), ("progress", "The lamp", "--lines")):
        assert len(list(csv.DictReader(io.StringIO(desk.see(*args, "--csv"))))) >= 1
    assert json.loads(desk.see("today", "--json"))["performers"][0]["minutes"] > 0


def test_export_and_import_carry_everything_to_another_machine(desk: Desk) -> None:
    lamp(desk)
    run(desk)
    desk.see("drill", "The lamp", keys="\n\nq\n")
    before = desk.see("progress", "The lamp", "--json")
    desk.see("export", str(desk.home / "all.zip"))
    desk.monkeypatch.setenv("OFFBOOK_HOME", str(desk.home / "other"))
    shown = desk.see("import", str(desk.home / "all.zip"))
    assert " ".join(shown.split()) == (
        "Imported: 1 performer, 1 piece, 1 run-through, 2 answers, 1 recording; 0 rows were already here."
    )
    assert desk.see("progress", "The lamp", "--json") == before
    assert "there is no file" in desk.fail("import", str(desk.home / "none.zip")).what


def test_deleting_a_performer_asks_first_and_then_leaves_nothing_on_disk(desk: Desk) -> None:
    lamp(desk)
    run(desk)
    assert desk.type("performer", "delete", "Me", keys="n\n").exit_code == 1
    assert "1 piece" in desk.type("performer", "delete", "Me", keys="n\n").output
    desk.see("performer", "delete", "Me", "--yes")
    assert "No performers yet" in desk.see("performer", "list")
    left = [p for p in (desk.home / "home").rglob("*") if p.is_file()]
    assert all(b"stairs were one stair" not in p.read_bytes() for p in left), "not even in free pages"


def test_the_two_charts_are_written_into_the_same_folder(desk: Desk) -> None:
    lamp(desk)
    run(desk)
    desk.see("progress", "The lamp", "--svg", str(desk.home / "chart.svg"))
    assert (desk.home / "chart.svg").read_text(encoding="utf-8").startswith("<svg")
    assert "stairs" in (desk.home / "chart-lines.svg").read_text(encoding="utf-8")
    assert "cannot write" in desk.fail("progress", "The lamp", "--svg", "/nowhere/x.svg").what


@pytest.mark.parametrize(
    "args",
    [
        ("drill", "Nothing"),
        ("progress", "Nothing"),
        ("piece", "set", "The lamp"),
        ("piece", "set", "The lamp", "--date", "soon"),
        ("piece", "set", "The lamp", "--limit", "never"),
        ("performer", "set", "Me"),
        ("performer", "set", "Me", "--zone", "Here"),
        ("performer", "delete", "Nobody", "--yes"),
        ("correct", "The lamp"),
        ("class", "--json", "--csv"),
    ],
)
def test_a_command_that_cannot_be_carried_out_is_refused_in_two_lines(
    desk: Desk, args: tuple[str, ...]
) -> None:
    lamp(desk)
    done = desk.type(*args)
    assert done.stdout == ""
    if isinstance(done.exception, OffbookError):
        assert done.exception.what and done.exception.do
        assert "\n" not in done.exception.what + done.exception.do
    else:
        assert done.exit_code == 2


def test_a_performers_own_pace_comes_from_the_timed_readings_in_the_journal(desk: Desk) -> None:
    """A reading at half the usual speed makes the estimate of another text nearly twice as long."""
    text = str(desk.home / "lamp.txt")
    lamp(desk)
    assert "no timed reading" in desk.fail("mark", text, "--json", "--performer", "Me").what
    usual = json.loads(desk.see("mark", text, "--json"))["time"]["seconds"]
    desk.see("performer", "timed", "Me", text, f"{usual * 2:.1f}")
    slow = json.loads(desk.see("mark", text, "--json", "--performer", "Me"))["time"]["seconds"]
    assert 1.6 * usual < slow < 2.1 * usual
    run(desk)
    both = json.loads(desk.see("mark", text, "--json", "--performer", "Me"))["time"]
    assert both["seconds"] != slow, "a whole run-through is a timed reading too"
    assert both["pace"] == "2 earlier readings of your own on one day"
    assert "both set the pace" in desk.fail("mark", text, "--rate", "120", "--performer", "Me").what


def test_a_clock_setting_that_cannot_be_read_is_refused(desk: Desk) -> None:
    lamp(desk)
    for value in ("yesterday", "2026-03-02T18:00:00"):
        desk.monkeypatch.setenv("OFFBOOK_NOW", value)
        done = CliRunner().invoke(group, ["today"])
        assert isinstance(done.exception, OffbookError) and "OFFBOOK_NOW" in done.exception.what


def test_all_commands_of_the_daily_work_are_listed() -> None:
    assert {
        "today",
        "drill",
        "progress",
        "correct",
        "class",
        "piece",
        "performer",
        "export",
        "import",
    } <= set(COMMANDS)


def test_no_row_of_a_drill_is_wider_than_the_window(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    desk = desk_in(tmp_path, monkeypatch)
    monkeypatch.setenv("COLUMNS", "44")
    desk.see("piece", "add", str(tmp_path / "lamp.txt"), "--name", "The lamp")
    shown = desk.see("drill", "The lamp", "--minutes", "5", keys="\n\n\n\nq\n")
    rows = shown.splitlines()
    at = next(n for n, row in enumerate(rows) if row.startswith("   help: "))
    assert max(map(len, rows)) <= 44
    assert "·" in rows[at + 1], "the help goes on in the next row"
