"""A folder of recordings: who speaks in each, what is heard, what fails, and that none is heard twice."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Callable, Iterator
from concurrent.futures import Future
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import jiwer
import pytest

from offbook.at_once import AtOnce
from offbook.audio import SoundReport
from offbook.desk import Heard, PileError, pile_of, workers_here
from offbook.desk.pile_hearing import _check_memory
from offbook.desk.pile_worker import HearingJob, hear_job, likeness_of_pieces
from offbook.errors import RecordingError
from offbook.intake import digest_of
from offbook.notes import notes_on
from offbook.script import Script, parse_script
from offbook.words import words_of
from tests.journals import LAMP, Slips, run_with
from tests.test_cli_journal import Desk, desk_in
from tests.test_hear_sound import sound

SONG = "A bell went down the river in the dark.\nWe never heard who rang it, or for whom.\n"


class Here(AtOnce):
    """An executor in this process. kills: so many pieces of work are lost with their worker first; gone: and
    so many with the scheduler, which takes away whatever waits there."""

    def __init__(self, kills: int = 0, gone: int = 0) -> None:
        self.kills, self.gone, self.jobs = kills, gone, list[Any]()

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        self.jobs.append(args[0])
        if self.gone <= 0 and self.kills <= 0:
            return super().submit(fn, *args, **kwargs)
        lost: Future[Any] = Future()
        if self.gone > 0:
            self.gone -= 1
            lost.cancel()
            lost.set_running_or_notify_cancel()
        else:
            self.kills -= 1
            lost.set_exception(BrokenProcessPool("a process was killed"))
        return lost


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Desk:
    """Two performers, one with two pieces, and a folder of recordings."""
    found = desk_in(tmp_path, monkeypatch)
    (tmp_path / "song.txt").write_text(SONG, encoding="utf-8")
    for name in ("Wren", "Ash"):
        found.see("performer", "add", name)
    found.see("piece", "add", str(tmp_path / "lamp.txt"), "--name", "The lamp", "--performer", "Wren")
    found.see("piece", "add", str(tmp_path / "song.txt"), "--name", "The bell", "--performer", "Wren")
    found.see("piece", "add", str(tmp_path / "lamp.txt"), "--name", "The lamp", "--performer", "Ash")
    for at in ("Wren/The lamp 1.wav", "Wren/The lamp 2.wav", "Ash/monday.wav", "Nobody/x.wav"):
        file = tmp_path / "pile" / at
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_bytes(b"RIFF" + at.encode() * 40)
    (tmp_path / "pile" / "Wren" / "notes.pdf").write_bytes(b"%PDF")
    return found


def hears(desk: Desk, pool: Here, slips: dict[str, Slips] | None = None) -> list[bool]:
    """From here on recordings are heard in this process, with these slips by the file's first letters.

    Gives back, as it comes to be, whether each was heard on one core.
    """
    on_one_core: list[bool] = []

    def listen_to(script: Script, recording: Path, loading: object, *, one_core: bool) -> Heard:
        on_one_core.append(one_core)
        if b"broken" in Path(recording).read_bytes():
            raise RecordingError(f"{recording} holds no sound", "record it again")
        words = words_of(script)
        report: SoundReport = sound(40.0)
        mine = next((s for text, s in (slips or {}).items() if text.encode() in recording.read_bytes()), {})
        found = notes_on(script, words, run_with(words, mine))
        return Heard(script, words, Path(recording), datetime.now(UTC), "planted", report, found)

    @contextmanager
    def here(count: int, model: str | None) -> Iterator[Here]:
        yield pool

    desk.monkeypatch.setattr("offbook.desk.listening.listen_to", listen_to)
    desk.monkeypatch.setattr("offbook.desk.pile_worker.Loading", lambda model: None)
    desk.monkeypatch.setattr("offbook.desk.local_workers", here)
    return on_one_core


def heard(desk: Desk, *more: str) -> list[dict[str, Any]]:
    found = json.loads(desk.type("hear", str(desk.home / "pile"), "--yes", "--json", *more).stdout)
    return list(found["heard"])


def runs(desk: Desk, piece: str, performer: str) -> int:
    shown = json.loads(desk.see("piece", "recordings", piece, "--performer", performer, "--json"))
    return sum(r["judged"] for r in shown["recordings"])


@pytest.mark.heavy
def test_every_recording_enters_the_journal_of_its_performer_and_the_worst_is_listed_first(
    desk: Desk,
) -> None:
    hears(desk, Here(), {"The lamp 2": {3: ("dropped", None)}})
    rows = heard(desk)
    assert [(r["performer"], r["piece"], r["recording"]) for r in rows] == [
        ("Wren", "The lamp", "The lamp 2.wav"),
        ("Ash", "The lamp", "monday.wav"),
        ("Wren", "The lamp", "The lamp 1.wav"),
    ]
    assert rows[0]["accuracy"] < rows[1]["accuracy"] == 1.0
    assert runs(desk, "The lamp", "Wren") == 2


@pytest.mark.heavy
def test_several_workers_use_one_core_each_and_a_single_worker_may_use_two(desk: Desk) -> None:
    told = hears(desk, Here())
    heard(desk, "--workers", "2")
    assert told == [True] * 3
    for at in ("Wren/The lamp 3.wav", "Wren/The lamp 4.wav"):
        (desk.home / "pile" / at).write_bytes(b"RIFF" + at.encode() * 40)
    heard(desk, "--workers", "1")
    assert told[3:] == [False] * 2


@pytest.mark.heavy
def test_the_summary_is_a_printable_page_with_the_failures_listed_below(desk: Desk) -> None:
    hears(desk, Here(), {"The lamp 2": {3: ("dropped", None)}})
    page = desk.home / "heard.html"
    desk.type("hear", str(desk.home / "pile"), "--yes", "--html", str(page))
    text = page.read_text(encoding="utf-8")
    assert re.findall(r'<th scope="row">(.*)</th>', text) == ["Wren", "Ash", "Wren"]
    assert "97.0 %" in text and "size: A4" in text and "no performer is called" in text
    assert "src=" not in text and "http" not in text, "nothing is fetched"
    (desk.home / "pile" / "Ash" / "tuesday.wav").write_bytes(b"RIFF another" * 30)
    error = desk.type("hear", str(desk.home / "pile"), "--yes", "--html", str(desk.home / "no" / "a.html"))
    assert "what was heard is kept" in str(error.exception) and runs(desk, "The lamp", "Ash") == 2


@pytest.mark.heavy
def test_the_counts_of_a_pile_are_the_sums_that_jiwer_counts_for_its_recordings(desk: Desk) -> None:
    """jiwer, the reference for word errors, over all the recordings at once and over each alone."""
    planted: dict[str, Slips] = {
        "The lamp 1": {3: ("dropped", None), 12: ("changed", "cellar")},
        "The lamp 2": {0: ("changed", "a"), 7: ("dropped", None), 8: ("dropped", None)},
    }
    hears(desk, Here(), planted)
    heard(desk)
    words = [w.text.lower() for w in words_of(parse_script(LAMP))]
    said = []
    for slips in (*planted.values(), {}):
        told = [(slips[i][1] if i in slips else word) for i, word in enumerate(words)]
        extra = run_with(words_of(parse_script(LAMP)), slips).extras
        said.append(" ".join([*(e.heard for e in extra), *(word for word in told if word is not None)]))
    whole = jiwer.process_words([" ".join(words)] * 3, said)
    rows = []
    for performer in ("Wren", "Ash"):
        shown = desk.see("progress", "The lamp", "--performer", performer, "--runs", "--json")
        rows += json.loads(shown)["runs"]
    assert len(rows) == 3
    assert sum(r["changed"] for r in rows) == whole.substitutions == 2
    assert sum(r["dropped"] for r in rows) == whole.deletions == 3
    assert sum(r["added"] for r in rows) == whole.insertions
    alone = [jiwer.process_words(" ".join(words), each) for each in said]
    assert sorted((r["changed"], r["dropped"]) for r in rows) == sorted(
        (each.substitutions, each.deletions) for each in alone
    )


@pytest.mark.heavy
def test_a_recording_of_an_unknown_performer_is_reported_and_the_others_are_heard(desk: Desk) -> None:
    hears(desk, Here())
    done = desk.type("hear", str(desk.home / "pile"), "--yes")
    assert done.exit_code == 0
    assert "3 recordings heard, 1 not heard." in done.output
    assert "x.wav: no performer is called 'Nobody'" in done.output


@pytest.mark.heavy
def test_a_second_run_over_a_pile_hears_only_the_new_recordings(desk: Desk) -> None:
    hears(desk, Here())
    assert len(heard(desk)) == 3
    (desk.home / "pile" / "Ash" / "tuesday.wav").write_bytes(b"RIFF another" * 30)
    pool = Here()
    hears(desk, pool)
    assert [r["recording"] for r in heard(desk)] == ["tuesday.wav"]
    assert len(pool.jobs) == 1


@pytest.mark.heavy
def test_a_recording_that_cannot_be_heard_is_reported_in_two_lines_and_the_others_are_heard(
    desk: Desk,
) -> None:
    (desk.home / "pile" / "Ash" / "monday.wav").write_bytes(b"broken" * 40)
    hears(desk, Here())
    done = desk.type("hear", str(desk.home / "pile"), "--yes")
    assert "monday.wav: it holds no sound\n  record it again" in done.output
    assert "2 recordings heard, 2 not heard." in done.output


@pytest.mark.heavy
def test_the_work_of_a_killed_worker_is_done_again_and_stored_once(desk: Desk) -> None:
    hears(desk, Here(kills=1))
    assert len(heard(desk)) == 3
    assert runs(desk, "The lamp", "Wren") == 2


@pytest.mark.heavy
def test_a_lost_scheduler_is_replaced_three_times_and_the_fourth_loss_ends_the_work(desk: Desk) -> None:
    """A recording that waited there is not blamed; what was heard is in the journal once."""
    hears(desk, Here(gone=9))
    assert len(heard(desk)) == 3
    assert runs(desk, "The lamp", "Wren") == 2
    (desk.home / "pile" / "Ash" / "tuesday.wav").write_bytes(b"RIFF another" * 30)
    hears(desk, Here(gone=9))
    assert "0 recordings heard, 3 heard before, 2 not heard." in " ".join(
        desk.type("hear", str(desk.home / "pile"), "--yes").output.split()
    )


@pytest.mark.heavy
def test_a_recording_that_is_twice_in_a_pile_is_heard_once_and_reported(desk: Desk) -> None:
    twice = desk.home / "pile" / "Wren" / "The lamp 9.wav"
    twice.write_bytes((desk.home / "pile" / "Wren" / "The lamp 1.wav").read_bytes())
    hears(desk, Here())
    done = desk.type("hear", str(desk.home / "pile"), "--yes")
    assert "The lamp 9.wav: it is the same recording as The lamp 1.wav" in done.output
    assert runs(desk, "The lamp", "Wren") == 2


def test_a_worker_refuses_a_file_whose_bytes_differ_from_the_ones_expected(tmp_path: Path) -> None:
    """Where a folder is not shared after all, another file may be at the same path."""
    (tmp_path / "a.wav").write_bytes(b"RIFF another")
    done = hear_job(HearingJob(0, str(tmp_path / "a.wav"), SCRIPTS, "0" * 64))
    assert done.heard is None and "found another file at" in done.what and "--send" in done.do
    gone = hear_job(HearingJob(0, str(tmp_path / "b.wav"), SCRIPTS, "0" * 64))
    assert "the worker cannot read" in gone.what


@pytest.mark.heavy
def test_a_recording_that_kills_its_worker_twice_is_given_up_and_nothing_is_stored_twice(desk: Desk) -> None:
    hears(desk, Here(kills=6))
    done = desk.type("hear", str(desk.home / "pile"), "--yes")
    assert "0 recordings heard, 4 not heard." in done.output
    hears(desk, Here())
    assert len(heard(desk)) == 3
    shown = json.loads(desk.see("piece", "recordings", "The lamp", "--performer", "Wren", "--json"))
    assert len(shown["recordings"]) == 2


@pytest.mark.heavy
def test_nothing_is_stored_before_the_names_are_confirmed(desk: Desk) -> None:
    hears(desk, Here())
    done = desk.type("hear", str(desk.home / "pile"), keys="n\n")
    assert done.exit_code == 1
    assert "monday.wav: Ash, The lamp" in done.output
    assert runs(desk, "The lamp", "Wren") == 0


@pytest.mark.heavy
def test_a_table_names_the_performer_and_the_piece_of_each_recording(desk: Desk) -> None:
    table = desk.home / "pile.csv"
    table.write_text("performer,piece,recording\nASH,the lamp,pile/Ash/monday.wav\n", encoding="utf-8")
    assert [e.performer for e in pile_of(table)] == ["ASH"]
    hears(desk, Here())
    done = json.loads(desk.type("hear", str(table), "--yes", "--json").stdout)
    assert [(r["performer"], r["piece"]) for r in done["heard"]] == [("Ash", "The lamp")]


def test_a_table_with_a_missing_column_and_an_empty_folder_are_refused(tmp_path: Path) -> None:
    table = tmp_path / "a.csv"
    table.write_text("performer,recording\nAsh,a.wav\n", encoding="utf-8")
    with pytest.raises(PileError, match="no column piece"):
        pile_of(table)
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "a.jpg").write_bytes(b"x")
    with pytest.raises(PileError, match="holds no recording"):
        pile_of(tmp_path / "photos")


def test_a_custom_pattern_decides_how_file_names_are_read(tmp_path: Path) -> None:
    (tmp_path / "Wren_Hale_the lamp_2.wav").write_bytes(b"x")
    entry = pile_of(tmp_path, "{performer}_{piece}")[0]
    assert (entry.performer, entry.piece) == ("Wren", "Hale_the lamp")
    with pytest.raises(PileError, match=r"has no .performer."):
        pile_of(tmp_path, "{piece}")


SCRIPTS = (
    ("lamp", parse_script("The lamp was lit before the tide came in.\n")),
    ("bell", parse_script(SONG)),
)


def test_a_piece_is_recognised_by_its_opening_words_with_its_lead_over_the_next() -> None:
    best, next_one = likeness_of_pieces(("a", "bell", "went", "down", "the", "river"), SCRIPTS)
    assert best == ("bell", 1.0)
    assert next_one[0] == "lamp"
    assert next_one[1] < 0.7


def test_if_an_opening_fits_no_piece_offbook_asks(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr("offbook.desk.pile_worker.heard_opening", lambda *a: ("something", "else"))
    monkeypatch.setattr("offbook.desk.pile_worker.Loading", lambda model: None)
    (tmp_path / "a.wav").write_bytes(b"RIFF")
    done = hear_job(HearingJob(0, str(tmp_path / "a.wav"), SCRIPTS, digest_of(tmp_path / "a.wav")))
    assert done.heard is None
    assert "does not show which piece it is" in done.what
    assert {name for name, _ in done.likely} == {"lamp", "bell"}


@pytest.mark.heavy
def test_offbook_asks_for_the_piece_of_an_unclear_recording_and_uses_the_answer(
    desk: Desk,
) -> None:
    hears(desk, Here())
    desk.monkeypatch.setattr("offbook.desk.pile_worker.heard_opening", lambda *a: ("something", "else"))
    (desk.home / "pile" / "Wren" / "tuesday.wav").write_bytes(b"RIFF" + b"tuesday" * 40)
    done = desk.type("hear", str(desk.home / "pile"), keys="y\n2\n")
    asked = re.search(r"Which piece is tuesday.wav, of Wren\?\n +1  (.*), .*\n +2  (.*), .*\n", done.output)
    assert asked is not None, done.output
    assert {asked[1], asked[2]} == {"The bell", "The lamp"}
    before = {"The bell": 0, "The lamp": 2}[asked[2]]
    assert runs(desk, asked[2], "Wren") == before + 1
    assert "4 recordings heard, 1 not heard." in done.output  # Nobody's is the one


def test_the_number_of_workers_depends_on_the_free_memory(monkeypatch: pytest.MonkeyPatch) -> None:
    """700 MB for each; at least one worker, and never more than cores."""
    monkeypatch.setattr("os.sysconf", lambda name: 1)
    monkeypatch.setattr("os.cpu_count", lambda: 8)
    for free, many in ((100, 1), (2_150, 3), (64_000, 8)):
        monkeypatch.setattr("offbook.desk.pile_hearing._available", lambda free=free: free << 20)
        assert workers_here() == many


def test_a_worker_with_too_little_memory_for_its_threads_is_refused() -> None:
    told = {"workers": {"tcp://127.0.0.1:9": {"nthreads": 2, "memory_limit": 1_000 << 20}}}
    with pytest.raises(PileError, match="has 500 MB for each of its 2 threads"):
        _check_memory(told)
    told["workers"]["tcp://127.0.0.1:9"]["memory_limit"] = 1_400 << 20
    _check_memory(told)


class Named:
    """A model that is loaded at once; it has a name and hears nothing."""

    def __init__(self, name: str = "small") -> None:
        self.name = name

    def result(self) -> Named:
        return self


@pytest.fixture
def scheduler() -> Iterator[str]:
    """The address of a real Dask scheduler on this machine, with one worker; it listens on 127.0.0.1 only."""
    from distributed import LocalCluster

    made: Any = LocalCluster
    with made(
        n_workers=1,
        threads_per_worker=1,
        processes=False,
        dashboard_address=None,
        protocol="tcp",
        host="127.0.0.1",
    ) as cluster:
        yield str(cluster.scheduler_address)


@pytest.mark.heavy
def test_a_pile_is_heard_by_the_workers_of_a_cluster(
    desk: Desk, scheduler: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    hears(desk, Here())
    monkeypatch.setattr("offbook.desk.pile_worker._loaded", lambda model: Named())
    rows = heard(desk, "--cluster", scheduler, "--send")
    assert sorted(r["recording"] for r in rows) == ["The lamp 1.wav", "The lamp 2.wav", "monday.wav"]


@pytest.mark.heavy
def test_workers_with_another_model_are_refused_before_anything_is_heard(
    desk: Desk, scheduler: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    names = iter(["large", "small"])
    hears(desk, Here())
    monkeypatch.setattr("offbook.desk.pile_worker._loaded", lambda model: Named(next(names)))
    error = desk.fail("hear", str(desk.home / "pile"), "--yes", "--cluster", scheduler)
    assert "with large, this machine has" in error.what
    assert runs(desk, "The lamp", "Wren") == 0


@pytest.mark.heavy
def test_an_address_where_no_scheduler_answers_is_refused_in_two_lines(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    hears(desk, Here())
    monkeypatch.setattr("offbook.desk.pile_hearing._REACH_SECONDS", 0.5)
    error = desk.fail("hear", str(desk.home / "pile"), "--yes", "--cluster", "tcp://127.0.0.1:9")
    assert error.what == "no scheduler answers at tcp://127.0.0.1:9"


def test_a_table_that_is_a_pipe_is_refused_at_once(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "table.csv")
    with pytest.raises(PileError, match="is a pipe"):
        list(pile_of(tmp_path / "table.csv"))
