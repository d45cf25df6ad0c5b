"""Values that differ between two machines: the later one is taken, and both are shown with a command."""

from __future__ import annotations

import hashlib
import json
import zipfile
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from sqlalchemy import select, update

from offbook.brief import parse_brief
from offbook.desk import (
    Difference,
    correct_brief,
    correct_word,
    differences,
    fits_brief,
    read_briefs,
    record_run,
    take_other_value,
)
from offbook.errors import JournalError
from offbook.journal import Carried, Differing, export, open_journal, read_in
from offbook.journal import tables as t
from offbook.journal.lately import newest_runs
from offbook.journal.margin import margin_notes, mark_margin_note_done
from offbook.journal.people import add_piece, change_piece, delete_piece, pieces_of
from offbook.journal.practice import memories
from offbook.journal.run_throughs import run_of
from offbook.journal.sending import add_take, briefs, choose_take, keep_brief, takes
from offbook.journal.sent_parcels import confirm_parcel, parcels
from offbook.journal.settling import settled_at
from tests.journals import Clock, facts, full_desk, run_with
from tests.journals import Desk as Held
from tests.test_cli_journal import Desk, desk_in
from tests.test_cli_sending import BRIEF

# Whole commands: tests/test_values_*.py hold what the functions behind them give.
pytestmark = pytest.mark.heavy


@dataclass
class Two:
    """A performer at the terminal, and a coach who imported the performer's whole journal."""

    mine: Desk
    coach: Desk
    folder: Path
    monkeypatch: pytest.MonkeyPatch

    def at(self, who: str, minutes: int) -> Desk:
        """One of the two, so many minutes after the coach's import."""
        self.monkeypatch.setenv("OFFBOOK_HOME", str(self.folder / ("home" if who == "mine" else who)))
        desk = self.mine if who == "mine" else self.coach
        desk.now = desk.now.replace(hour=19, minute=minutes)
        return desk

    def brought(self, minutes: int = 50) -> str:
        """What the performer sees when the coach's archive is imported."""
        archive = self.folder / f"coach{minutes}.zip"
        self.at("coach", minutes).see("export", str(archive))
        return " ".join(self.at("mine", minutes).see("import", str(archive)).split())


@pytest.fixture
def two(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Two:
    mine = desk_in(tmp_path, monkeypatch)
    mine.see("piece", "add", str(tmp_path / "lamp.txt"), "--name", "The lamp", "--date", "2026-03-22")
    (tmp_path / "round.toml").write_text(BRIEF, encoding="utf-8")
    mine.see("brief", "add", str(tmp_path / "round.toml"))
    mine.see("export", str(tmp_path / "mine.zip"))
    assert "otherwise" not in mine.see("import", str(tmp_path / "mine.zip")), "the same on both sides"
    monkeypatch.setenv("OFFBOOK_HOME", str(tmp_path / "coach"))
    coach = Desk(tmp_path, monkeypatch)
    coach.see("import", str(tmp_path / "mine.zip"))
    return Two(mine, coach, tmp_path, monkeypatch)


def test_a_value_changed_only_on_the_other_side_is_taken_and_shown(two: Two) -> None:
    coach = two.at("coach", 5)
    coach.see("piece", "set", "The lamp", "--date", "2026-03-18", "--limit", "1:30", "--name", "Lamp")
    coach.see("brief", "set", "Saltmarrow", "slate = true")
    shown = two.brought()
    assert "Lamp: name The lamp here, Lamp there. Theirs was changed later, and is taken." in shown
    assert 'To take yours: offbook piece set Lamp --name "The lamp"' in shown
    assert "date 2026-03-22 here, 2026-03-18 there." in shown
    assert 'To take yours: offbook piece set "The lamp" --limit none' in shown
    assert "first round: no slate here, slate = true there. Theirs was changed later" in shown
    assert 'brief set "Saltmarrow Players, first round" --unset slate' in shown
    mine = two.at("mine", 51)
    (row,) = json.loads(mine.see("piece", "list", "--json"))["pieces"]
    assert (row["piece"], row["date"], row["limit"]) == ("Lamp", "2026-03-18", "1:30")
    mine.see("piece", "set", "Lamp", "--name", "The lamp", "--limit", "none")
    assert "These differ between" in two.brought(52)
    (row,) = json.loads(mine.see("piece", "list", "--json"))["pieces"]
    assert (row["piece"], row["limit"]) == ("The lamp", None), "the command that takes the other is the later"


def test_each_value_is_compared_separately_and_the_later_of_two_changes_is_kept(two: Two) -> None:
    two.at("coach", 5).see("piece", "set", "The lamp", "--date", "2026-03-18")
    two.at("mine", 9).see("piece", "set", "The lamp", "--date", "2026-03-20")
    two.at("coach", 15).see("piece", "set", "The lamp", "--limit", "1:30")
    shown = two.brought()
    assert "date 2026-03-20 here, 2026-03-18 there. Yours was changed later, and stays." in shown
    assert 'To take theirs: offbook piece set "The lamp" --date 2026-03-18' in shown
    assert "limit none here, 1:30 there. Theirs was changed later, and is taken." in shown
    (row,) = json.loads(two.at("mine", 51).see("piece", "list", "--json"))["pieces"]
    assert (row["date"], row["limit"]) == ("2026-03-20", "1:30")


def test_if_neither_change_is_later_the_local_value_stays_and_the_other_is_shown(two: Two) -> None:
    for who, day in (("coach", "2026-03-18"), ("mine", "2026-03-20")):
        desk = two.at(who, 5)
        desk.step = 0.0
        desk.see("piece", "set", "The lamp", "--date", day)
    shown = two.brought()
    assert "date 2026-03-20 here, 2026-03-18 there. Neither is known to be later: yours stays." in shown


def test_a_change_always_counts_as_later_than_the_one_before_even_with_a_slow_clock(two: Two) -> None:
    two.at("coach", 40).see("piece", "set", "The lamp", "--date", "2026-03-18")
    two.brought(45)
    two.at("mine", 1).see("piece", "set", "The lamp", "--date", "2026-03-25")  # a clock that is slow
    two.at("mine", 2).see("export", str(two.folder / "back.zip"))
    shown = " ".join(two.at("coach", 3).see("import", str(two.folder / "back.zip")).split())
    assert "date 2026-03-18 here, 2026-03-25 there. Theirs was changed later, and is taken." in shown


def test_an_archive_without_times_of_change_is_imported_and_both_values_are_shown(two: Two) -> None:
    two.at("coach", 5).see("piece", "set", "The lamp", "--date", "2026-03-18")
    two.at("coach", 6).see("export", str(two.folder / "new.zip"))
    old = without_moments(two.folder / "new.zip", two.folder / "old.zip")
    shown = " ".join(two.at("mine", 7).see("import", str(old)).split())
    assert "date 2026-03-22 here, 2026-03-18 there. Neither is known to be later: yours stays." in shown


def without_moments(archive: Path, target: Path) -> Path:
    """The same archive as revision 0005 wrote it."""
    with zipfile.ZipFile(archive) as came, zipfile.ZipFile(target, "w") as out:
        manifest = json.loads(came.read("manifest.json"))
        manifest["revision"] = "0005"
        for name in came.namelist():
            data = came.read(name)
            if name == "manifest.json":
                continue
            if name.endswith(".jsonl"):
                rows = [json.loads(line) for line in data.splitlines()]
                bare = [{k: v for k, v in row.items() if k != "settled"} for row in rows]
                data = "".join(json.dumps(row, ensure_ascii=False) + "\n" for row in bare).encode()
            manifest["members"][name] = {"sha256": hashlib.sha256(data).hexdigest(), "bytes": len(data)}
            out.writestr(name, data)
        out.writestr("manifest.json", json.dumps(manifest))
    return target


# Without the screens -------------------------------------------------------------------------------


@dataclass
class Pair:
    """A full journal on this machine, and the same one on another."""

    here: Held
    there: Held
    folder: Path

    def brought(self, minutes: int = 60) -> Carried:
        """The other machine's archive, imported on this one."""
        target = self.folder / f"{minutes}.zip"
        self.there.clock.on(minutes=minutes)
        export(self.there.journal, target)
        return read_in(self.here.journal, target)


@pytest.fixture
def pair(tmp_path: Path) -> Pair:
    here = full_desk(tmp_path / "here", tmp_path / "take.wav")
    export(here.journal, tmp_path / "all.zip")
    clock = Clock()
    clock.now = here.clock.now + timedelta(minutes=1)
    journal = open_journal(clock, home=tmp_path / "there", key=here.journal.key)
    read_in(journal, tmp_path / "all.zip")
    return Pair(here, Held(journal, clock, here.performer, here.piece, here.version), tmp_path)


def test_an_import_takes_over_a_later_run_through_a_correction_and_a_note_marked_as_done(pair: Pair) -> None:
    there, here = pair.there, pair.here
    run = run_with(there.version.words, {3: ("dropped", None), 9: ("changed", "ride")})
    row = record_run(there.journal, there.piece, there.version, run, facts(there.clock))
    pair.brought(1)
    there.clock.on(days=1)
    correct_word(there.journal, there.piece, row.id, 9, "said", "I did")
    with there.journal.writing() as conn:
        (note,) = conn.execute(select(t.margin_note)).mappings().all()
    with there.journal.writing() as conn:
        mark_margin_note_done(there.journal, conn, margin_notes(conn, there.piece.id)[0], there.clock.now)
    done = pair.brought(2)
    assert note["done_at"] is None
    assert [(d.table, d.column, d.taken, d.number) for d in done.differing] == [
        ("margin_note", "done_at", True, 1)
    ]
    with here.journal.reading() as conn, there.journal.reading() as other:
        assert margin_notes(conn, here.piece.id) == margin_notes(other, there.piece.id)
        assert run_of(conn, row.id).changed == 0, "the count follows the correction"
        assert newest_runs(conn, [here.piece.id], 9) == newest_runs(other, [here.piece.id], 9)
        assert memories(conn, [here.piece.id]) == memories(other, [here.piece.id])


def test_a_memory_of_a_thought_that_is_older_in_the_archive_is_not_taken(pair: Pair) -> None:
    pair.here.clock.on(days=1)
    run = run_with(pair.here.version.words)
    record_run(pair.here.journal, pair.here.piece, pair.here.version, run, facts(pair.here.clock))
    with pair.here.journal.reading() as conn:
        before = memories(conn, [pair.here.piece.id])
    assert pair.brought().remembered == 0
    with pair.here.journal.reading() as conn:
        assert memories(conn, [pair.here.piece.id]) == before


@pytest.mark.parametrize("later", ["here", "there"])
def test_of_two_chosen_takes_the_one_chosen_later_stays_chosen(pair: Pair, later: str) -> None:
    another_take(pair.here)
    export(pair.here.journal, pair.folder / "both.zip")
    read_in(pair.there.journal, pair.folder / "both.zip")
    choices = [(pair.here, 1), (pair.there, 2)]
    for minute, (desk, n) in enumerate(choices if later == "there" else choices[::-1]):
        desk.clock.now = pair.here.clock.now.replace(hour=20, minute=minute)
        choose(desk, n)
    (found,) = pair.brought().differing
    assert (found.column, found.here, found.there, found.taken) == ("chosen", 1, 2, later == "there")
    with pair.here.journal.reading() as conn:
        chosen = [take.n for take in takes(conn, pair.here.piece.id) if take.chosen]
    assert chosen == [2 if later == "there" else 1]


@pytest.mark.parametrize("later", ["here", "there"])
def test_a_take_that_only_the_archive_has_is_chosen_if_it_was_chosen_later(pair: Pair, later: str) -> None:
    another_take(pair.there)
    choices = [(pair.here, 1), (pair.there, 2)]
    for minute, (desk, n) in enumerate(choices if later == "there" else choices[::-1]):
        desk.clock.now = pair.here.clock.now.replace(hour=20, minute=minute)
        choose(desk, n)
    (found,) = pair.brought().differing
    assert (found.here, found.there, found.taken) == (1, 2, later == "there")
    with pair.here.journal.reading() as conn:
        chosen = [take.n for take in takes(conn, pair.here.piece.id) if take.chosen]
    assert chosen == [2 if later == "there" else 1]


def choose(desk: Held, n: int) -> None:
    """Choose the take with this number."""
    with desk.journal.writing() as conn:
        chosen = next(take for take in takes(conn, desk.piece.id) if take.n == n)
        choose_take(desk.journal, conn, chosen)


def another_take(desk: Held) -> str:
    """One more take of the piece, for the same brief."""
    with desk.journal.writing() as conn:
        (asked,) = briefs(conn)
        made = add_take(
            desk.journal, conn, desk.piece, at=desk.clock.now, intention="again", file="b.wav",
            recording_id=None, brief_id=asked.id,
        )  # fmt: skip
    return made.id


def test_a_later_name_is_shown_and_not_taken_if_another_piece_here_has_it(pair: Pair) -> None:
    with pair.here.journal.writing() as conn:
        add_piece(pair.here.journal, conn, pair.here.performer, "Lantern")
    with pair.there.journal.writing() as conn:
        change_piece(pair.there.journal, conn, pair.there.piece.id, name="Lantern")
    (found,) = pair.brought().differing
    assert (found.name, found.taken, found.later_there) == ("The lamp", False, True)
    (told,) = differences(found)
    assert "another one here has that name: yours stays" in told.said
    with pair.here.journal.reading() as conn:
        assert sorted(p.name for p in pieces_of(conn)) == ["Lantern", "The lamp"]


def test_each_value_keeps_the_time_at_which_it_was_changed(pair: Pair) -> None:
    at = pair.here.clock.now
    with pair.here.journal.writing() as conn:
        change_piece(pair.here.journal, conn, pair.here.piece.id, limit_seconds=90.0)
        change_piece(pair.here.journal, conn, pair.here.piece.id, limit_seconds=80.0)
        row = conn.execute(select(t.piece)).one()
    assert settled_at(row) == {"limit_seconds": at + timedelta(microseconds=1)}


@pytest.mark.parametrize(
    ("column", "here", "there", "taken", "said", "command"),
    [
        ("sent_at", None, "2026-03-09", True, "sent not yet here, 2026-03-09 there", "brief sent X --undo"),
        ("sent_at", "2026-03-09", None, True, "sent 2026-03-09 here, not yet there", "brief sent X"),
        ("keep_recordings", True, False, False, "kept here, not kept there", "piece set X --no-keep"),
        ("zone", "UTC", "Europe/Rome", False, "time zone UTC here", "performer set X --zone Europe/Rome"),
        ("voice_minutes", 45.0, 30.0, True, "45 here, 30 there", "performer set X --voice-minutes 45"),
        ("chosen", 1, 2, True, "take chosen 1 here, 2 there", "take choose X 1"),
        ("chosen", None, 2, True, "take chosen none here, 2 there", ""),
        ("done_at", None, "2026-03-09", False, "X, note 2: done not yet here", "margin done X 2"),
        ("confirmed_at", "2026-03-09", None, False, "confirmed 2026-03-09 here", "brief confirmed X --undo"),
        ("checks", None, "{}", True, "X, take 2: what was checked not judged here", "take judge X 2"),
    ],
)  # fmt: skip
def test_each_differing_value_is_described_with_the_command_that_takes_the_other(
    column: str, here: object, there: object, taken: bool, said: str, command: str
) -> None:
    table = {"zone": "performer", "voice_minutes": "performer", "checks": "take", "chosen": "take"}
    ours, theirs = (date.fromisoformat(str(v)) if str(v).startswith("2026") else v for v in (here, there))
    found = Differing(
        table.get(column, "piece"), "X", column, ours, theirs, taken=taken, later_there=taken, number=2
    )
    (told,) = differences(found)
    assert said in told.said
    assert " ".join(told.command) == command
    assert told.theirs is not taken


def test_taking_the_other_value_or_taking_it_back_counts_as_a_new_change(pair: Pair) -> None:
    """A date, a chosen take, a line of a brief, and the confirmation of what was sent."""
    here, there = pair.here, pair.there
    another_take(there)
    choose(here, 1)
    there.clock.on(minutes=5)
    choose(there, 2)
    with there.journal.writing() as conn:
        change_piece(there.journal, conn, there.piece.id, due_day=date(2026, 3, 18))
        (kept,) = read_briefs(conn)
        correct_brief(there.journal, conn, kept, ["slate = true"], ())
        (parcel,) = parcels(conn, [kept.row.id])[kept.row.id]
        confirm_parcel(there.journal, conn, parcel.id, there.clock.now, "number 12")
    found = [each for differing in pair.brought().differing for each in differences(differing)]

    def stands() -> tuple[object, ...]:
        with here.journal.reading() as conn:
            (piece,), (kept,) = pieces_of(conn), read_briefs(conn)
            chosen = [take.n for take in takes(conn, piece.id) if take.chosen]
            (parcel,) = parcels(conn, [kept.row.id])[kept.row.id]
            return piece.due_day, chosen, kept.brief.slate, parcel.confirmation

    came_in = stands()
    assert came_in == (date(2026, 3, 18), [2], True, "number 12")
    other = [flipped(here, each) for each in found]
    taken = stands()
    assert taken[0] != came_in[0] and taken[1:] == ([1], None, "")
    assert [each.theirs for each in other] == [not each.theirs for each in found]
    again = {flipped(here, each).found.column for each in other}
    assert stands() == came_in and again == {"due_day", "chosen", "text", "confirmed_at"}
    there.clock.on(minutes=9)
    assert pair.brought(9).differing == (), "both sides have the same again"


def flipped(desk: Held, each: Difference) -> Difference:
    """The difference after the other value was taken."""
    with desk.journal.writing() as conn:
        return take_other_value(desk.journal, conn, each)


def test_a_name_already_in_use_or_a_value_of_a_deleted_piece_cannot_be_taken(pair: Pair) -> None:
    with pair.here.journal.writing() as conn:
        other = add_piece(pair.here.journal, conn, pair.here.performer, "Lantern")
    with pair.there.journal.writing() as conn:
        change_piece(pair.there.journal, conn, pair.there.piece.id, name="Lantern")
    (told,) = differences(pair.brought().differing[0])
    with pytest.raises(JournalError, match="something here is already called Lantern"):
        flipped(pair.here, told)
    with pair.here.journal.writing() as conn:
        delete_piece(conn, other.id)
    assert not flipped(pair.here, told).theirs
    with pair.here.journal.writing() as conn:
        assert [piece.name for piece in pieces_of(conn)] == ["Lantern"]
        delete_piece(conn, pair.here.piece.id)
    with pytest.raises(JournalError, match="is no longer in the journal"):
        flipped(pair.here, told)


BY_THE_DAY = 'name = "Saltmarrow by the day"\ndeadline = 2026-03-20\nkinds = [".MP4"]\nlongest = 90\n'


def add_by_the_day(desk: Held, text: str = BY_THE_DAY) -> None:
    """A brief whose deadline is a day, without a time and a zone, as most people write it."""
    zone = ZoneInfo(desk.performer.zone)
    with desk.journal.writing() as conn:
        asked = parse_brief(text, zone)
        keep_brief(desk.journal, conn, desk.performer, asked.name, text, asked.deadline)


def text_by_the_day(desk: Held) -> str:
    """The text of that brief as the journal has it."""
    with desk.journal.reading() as conn:
        return next(row.text for row in briefs(conn) if row.name == "Saltmarrow by the day")


def set_a_line(desk: Held, line: str) -> None:
    """What `offbook brief set` does."""
    with desk.journal.writing() as conn:
        kept = next(kept for kept in read_briefs(conn) if kept.row.name == "Saltmarrow by the day")
        correct_brief(desk.journal, conn, kept, [line], ())


def test_a_line_set_on_one_side_does_not_make_the_deadline_differ(pair: Pair) -> None:
    """The deadline keeps the form in which it was written; only the line that was set is shown."""
    add_by_the_day(pair.here)
    export(pair.here.journal, pair.folder / "day.zip")
    read_in(pair.there.journal, pair.folder / "day.zip")
    pair.there.clock.on(minutes=5)
    set_a_line(pair.there, "slate = true")
    assert "deadline = 2026-03-20\n" in text_by_the_day(pair.there)
    (found,) = pair.brought().differing
    assert [each.line for each in differences(found)] == ["slate"]


def test_brief_lines_that_are_written_differently_but_mean_the_same_are_not_shown(pair: Pair) -> None:
    """A deadline with its zone, an ending without its dot and a time with a colon mean what they meant."""
    add_by_the_day(pair.here)
    export(pair.here.journal, pair.folder / "day.zip")
    read_in(pair.there.journal, pair.folder / "day.zip")
    with pair.here.journal.reading() as conn:
        moment = next(row.deadline for row in briefs(conn) if row.name == "Saltmarrow by the day")
    written = BY_THE_DAY.replace("2026-03-20", moment.isoformat()).replace(".MP4", "mp4")
    written = written.replace("longest = 90", 'longest = "1:30"')
    pair.there.clock.on(minutes=5)
    add_by_the_day(pair.there, written)
    (found,) = pair.brought().differing
    assert found.taken and differences(found) == []
    pair.there.clock.on(minutes=5)
    set_a_line(pair.there, "deadline = 2026-03-21")
    (found,) = pair.brought(70).differing
    assert [each.line for each in differences(found)] == ["deadline"], "another day is shown"


def test_a_brief_in_the_archive_that_cannot_be_read_is_left_out_even_if_it_is_later(pair: Pair) -> None:
    pair.there.clock.on(minutes=5)
    with pair.there.journal.writing() as conn:
        (asked,) = briefs(conn)
        conn.execute(update(t.brief).where(t.brief.c.id == asked.id).values(text="deadline = soon"))
    export(pair.there.journal, pair.folder / "bad.zip")
    done = read_in(pair.here.journal, pair.folder / "bad.zip", fits_brief)
    assert [str(each) for each in done.left] == [f"brief {asked.id[:8]}: it cannot be read as a brief"]
    assert done.differing == ()


def test_two_deadlines_are_equal_if_they_mean_the_same_moment_in_the_performers_zone() -> None:
    """The end of a day in Berlin is 22:59 UTC: the texts differ, and only the journal knows the zone."""
    berlin = ZoneInfo("Europe/Berlin")
    end_of_day = datetime(2026, 3, 20, 23, 59, tzinfo=berlin)
    day = 'name = "X"\ndeadline = 2026-03-20\n'
    moment = f'name = "X"\ndeadline = {end_of_day.isoformat()}\n'

    def lines(there: datetime) -> list[str | None]:
        whole = ({"text": day, "deadline": end_of_day}, {"text": moment, "deadline": there})
        return [each.line for each in differences(Differing("brief", "X", "text", day, moment, whole=whole))]

    assert lines(end_of_day.astimezone(UTC)) == []
    assert lines(end_of_day + timedelta(minutes=1)) == ["deadline"]
