"""A pile of recordings at its edges: whose each is, the workers that hear it, and what a worker answers."""

from __future__ import annotations

import io
import sys
from collections.abc import Iterator
from concurrent.futures import CancelledError, Future
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from offbook import __version__
from offbook.at_once import AtOnce
from offbook.desk import (
    NotPlaced,
    PileError,
    PileHeard,
    Placed,
    match_recordings,
    pile_of,
    workers_here,
)
from offbook.desk import pile_hearing as hearing
from offbook.desk import pile_worker as worker
from offbook.desk.pile import PileEntry
from offbook.desk.pile_worker import HearingDone, HearingJob, hear_job
from offbook.errors import RecordingError
from offbook.intake import digest_of
from offbook.journal import Connection, add_performer, add_piece
from offbook.recognise import HeardWord
from offbook.script import parse_script
from tests.journals import Desk, desk_at

# Whose each recording is ------------------------------------------------------------------------------


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return desk_at(tmp_path / "home")


def entry(recording: Path, performer: str = "mara", piece: str = "") -> PileEntry:
    return PileEntry(recording, performer, piece)


def test_a_recording_is_placed_by_its_piece_or_by_the_only_piece_or_left_to_hearing(
    desk: Desk, tmp_path: Path
) -> None:
    def matched(conn: Connection, *entries: PileEntry) -> list[tuple[str | None, list[str]]]:
        placed, lost = match_recordings(conn, entries)
        assert lost == []
        return [(None if p.piece is None else p.piece.name, [a.name for a in p.among]) for p in placed]

    named = ((1, "the LAMP"), (2, "monday"), (3, ""))
    one, two, three = (entry(tmp_path / f"{n}.wav", piece=of) for n, of in named)
    with desk.journal.writing() as conn:
        assert matched(conn, one, two, three) == [("The lamp", [])] * 3
        add_piece(desk.journal, conn, desk.performer, "The ferry")
        both = ["The ferry", "The lamp"]
        found = [(name, sorted(among)) for name, among in matched(conn, one, two, three)]
        assert found == [("The lamp", []), (None, both), (None, both)]


def test_a_recording_that_cannot_be_placed_says_why(desk: Desk, tmp_path: Path) -> None:
    with desk.journal.writing() as conn:
        add_performer(desk.journal, conn, "Ivo", "UTC")
        file = tmp_path / "a.wav"
        given = (entry(file), entry(file), entry(file, "ivo"), entry(file, "Nobody"), entry(file, ""))
        placed, lost = match_recordings(conn, given)
    add = "add the performer, or correct the name or --pattern"
    assert [p.entry for p in placed] == [given[0]]
    assert lost == [
        NotPlaced(file, "it is in the pile twice", "one of the two was taken"),
        NotPlaced(file, "Ivo has no piece", "add one: offbook piece add SCRIPT"),
        NotPlaced(file, "no performer is called 'Nobody'", add),
        NotPlaced(file, "its name does not say whose it is", add),
    ]


@pytest.mark.parametrize(
    ("name", "performer", "piece"),
    [
        ("Mara_Lind/the_lamp_2.wav", "Mara Lind", "the_lamp"),
        ("Mara/the lamp - 12.MP3", "Mara", "the lamp"),
        ("Mara/3.ogg", "Mara", ""),
        ("a/b/c.flac", "", ""),
        ("Mara.wav", "", ""),
    ],
)
def test_the_name_of_a_file_says_whose_it_is_and_of_which_piece(
    name: str, performer: str, piece: str, tmp_path: Path
) -> None:
    (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
    (tmp_path / name).write_bytes(b"")
    (tmp_path / "folder.wav").mkdir()
    assert pile_of(tmp_path) == (PileEntry(tmp_path / name, performer, piece),)


def test_a_pattern_or_a_table_that_cannot_be_used_is_refused(tmp_path: Path) -> None:
    def refused(source: Path, pattern: str = "{performer}") -> tuple[str, str]:
        with pytest.raises(PileError) as caught:
            pile_of(source, pattern)
        return caught.value.what, caught.value.do

    write = "write it as {performer}/{piece} or {performer}_{piece}"
    assert refused(tmp_path, "x") == ("the pattern 'x' has no {performer}", write)
    twice = "{performer}/{performer}"
    assert refused(tmp_path, twice) == (f"the pattern {twice!r} names a field twice", "name each field once")
    table = tmp_path / "t.csv"
    table.write_text("performer,take\n")
    assert refused(table) == (
        f"the table {table} has no column piece, recording",
        "give it the columns performer, piece, recording in its first line",
    )
    table.write_text("performer,piece,recording\nMara,x, \n")
    nothing = "name a folder of recordings, or a table that lists them"
    assert refused(table) == (f"{table} holds no recording", nothing)
    table.write_text("performer,piece,recording\n Mara ,,a.wav\nIvo,b,/r/b.wav\n")
    assert pile_of(table) == (
        PileEntry(tmp_path / "a.wav", "Mara", ""),
        PileEntry(Path("/r/b.wav"), "Ivo", "b"),
    )


def test_what_was_chosen_for_unsure_recordings_takes_their_failures_away() -> None:
    def failed(name: str) -> NotPlaced:
        return NotPlaced(Path(name), "unsure", "")

    first: Any = PileHeard(("one",), (Path("b"),), (failed("x"), failed("y")), ("asked",))  # type: ignore[arg-type]
    later: Any = PileHeard(("two",), (Path("c"),), (failed("z"),))  # type: ignore[arg-type]
    both = first.and_then(later, [Placed(entry(Path("x")), None)])
    assert both == PileHeard(
        ("one", "two"), (Path("b"), Path("c")), (failed("y"), failed("z"))  # type: ignore[arg-type]
    )  # fmt: skip


# The workers ------------------------------------------------------------------------------------------


def test_a_machine_that_does_not_tell_its_memory_uses_all_its_cores(monkeypatch: pytest.MonkeyPatch) -> None:
    def unknown(name: str) -> int:
        raise ValueError(name)

    monkeypatch.setattr("os.sysconf", unknown)
    monkeypatch.setattr("os.cpu_count", lambda: 3)
    assert workers_here() == 3
    monkeypatch.setattr("os.cpu_count", lambda: None)
    assert workers_here() == 1


def test_free_memory_is_what_linux_could_give_or_the_free_pages(monkeypatch: pytest.MonkeyPatch) -> None:
    told = {"text": "MemTotal: 9 kB\nMemAvailable:   2150 kB\nMemFree: 7 kB\n"}
    monkeypatch.setattr(
        Path, "read_text", lambda path, encoding: told["text"] if str(path) == "/proc/meminfo" else ""
    )
    assert hearing._available() == 2150 * 1024
    told["text"] = "MemTotal: 9 kB\n"
    assert hearing._available() == 0

    def gone(path: Path, encoding: str) -> str:
        raise FileNotFoundError(path)

    monkeypatch.setattr(Path, "read_text", gone)
    assert hearing._available() == 0
    monkeypatch.setattr("os.cpu_count", lambda: 8)
    monkeypatch.setattr("os.sysconf", {"SC_AVPHYS_PAGES": 3 * 700 * 256, "SC_PAGE_SIZE": 4096}.get)
    assert workers_here() == 3
    monkeypatch.setattr("os.sysconf", {"SC_AVPHYS_PAGES": 3 * 700 * 256 - 1, "SC_PAGE_SIZE": 4096}.get)
    assert workers_here() == 2


def test_workers_of_this_machine_are_new_processes_that_load_the_model_and_are_stopped(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    told: list[Any] = []

    def pool(count: int, **more: Any) -> Any:
        told.append((count, more["mp_context"].get_start_method(), more["initializer"], more["initargs"]))
        return SimpleNamespace(shutdown=lambda **how: told.append(how))

    monkeypatch.setattr(hearing, "ProcessPoolExecutor", pool)
    with pytest.raises(KeyboardInterrupt), hearing.local_workers(3, "small"):
        raise KeyboardInterrupt
    assert told == [
        (3, "spawn", worker.load_models, ("small",)), {"wait": True, "cancel_futures": True}
    ]  # fmt: skip


class Client:
    """The client of a scheduler, as dask.distributed has it; it remembers what it was asked."""

    versions: dict[str, tuple[str, str]]
    told: list[Any]

    def __init__(self, address: str, timeout: float) -> None:
        if address == "nowhere":
            raise OSError("refused")
        self.told.append((address, timeout))

    def wait_for_workers(self, count: int, timeout: float) -> None:
        self.told.append((count, timeout))
        raise TimeoutError

    def run(self, function: Any, model: str | None) -> dict[str, tuple[str, str]]:
        assert (function, model) == (worker.worker_version, "small")
        return self.versions

    def scheduler_info(self) -> dict[str, Any]:
        return {"workers": {"w": {"nthreads": 1, "memory_limit": 0}}}

    def get_executor(self) -> str:
        return "the executor"

    def close(self) -> None:
        self.told.append("closed")


def test_the_workers_of_a_cluster_have_the_same_release_and_model(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", SimpleNamespace(Client=Client))
    monkeypatch.setattr(
        worker, "_loaded", lambda model: SimpleNamespace(result=lambda: SimpleNamespace(name=model))
    )
    ours = (__version__, "small")
    Client.told, Client.versions = [], {"a": ours, "b": ours}
    with hearing.cluster_workers("tcp://s", "small") as found:
        assert found == "the executor"  # type: ignore[comparison-overlap]
    assert Client.told == [("tcp://s", 10.0), (1, 10.0), "closed"]

    def refused(address: str = "tcp://s") -> tuple[str, str]:
        with pytest.raises(PileError) as caught, hearing.cluster_workers(address, "small"):
            pass
        return caught.value.what, caught.value.do

    Client.versions = {}
    assert refused() == ("the scheduler at tcp://s has no workers", "start workers, then run it again")
    Client.versions = {"a": ours, "b": ("0.1", "large")}
    what, do = refused()
    both = ", ".join(sorted(["offbook 0.1 with large", f"offbook {__version__} with small"]))
    assert what == f"the workers have {both}, this machine has offbook {__version__} with small"
    assert do == "install the same release and the same model everywhere"
    assert refused("nowhere") == (
        "no scheduler answers at nowhere",
        "start it or correct the address, then run the same command again: what was heard is kept",
    )
    monkeypatch.setitem(sys.modules, "distributed", None)
    assert refused() == (
        "hearing on a cluster needs dask.distributed", "install it with: pip install 'offbook[cluster]'"
    )  # fmt: skip


@pytest.mark.parametrize(
    ("threads", "megabytes", "refused"),
    [(1, 700, False), (1, 699, True), (0, 699, True), (3, 2099, True), (9, 0, False)],
)
def test_a_worker_needs_700_megabytes_for_each_thread_unless_it_has_no_limit(
    threads: int, megabytes: int, refused: bool
) -> None:
    told = {"workers": {"w": {"nthreads": threads, "memory_limit": megabytes << 20}}}
    if not refused:
        hearing._check_memory(told)
        return
    with pytest.raises(PileError) as caught:
        hearing._check_memory(told)
    many = max(1, threads)
    assert caught.value.what == (
        f"the worker w has {megabytes // many} MB for each of its {many} threads, a hearing takes 700"
    )
    assert caught.value.do == (
        "start it with one thread for each 700 MB: dask worker ADDRESS --nworkers N --nthreads 1"
    )


def waiting(path: Path, n: int = 0) -> Any:
    job = HearingJob(n, str(path), (), "")
    return hearing._Waiting(Placed(entry(path), None), {}, job)


def test_the_bytes_of_a_recording_are_sent_only_if_asked_and_what_cannot_be_read_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "a.wav").write_bytes(b"sound")
    sent: list[Any] = []
    monkeypatch.setattr(hearing, "hear_job", lambda job: sent.append(job.data))
    here, gone = waiting(tmp_path / "a.wav"), waiting(tmp_path / "gone.wav", 7)
    for send in (False, True):
        assert len(list(hearing._results(AtOnce(), [here], send))) == 1
    assert sent == [None, b"sound"]
    ((each, told),) = hearing._results(AtOnce(), [gone], True)
    assert each is gone and isinstance(told, HearingDone)
    assert (told.key, told.piece, told.heard) == (7, None, None) and "gone.wav" in told.what and told.do


def test_at_most_64_recordings_are_with_the_workers_at_once_and_come_back_in_order(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    running: list[Future[Any]] = []
    most: list[int] = []

    class Pool(AtOnce):
        def submit(self, fn: Any, /, *args: Any, **more: Any) -> Future[Any]:
            running.append(Future())
            return running[-1]

    def wait(futures: Any, return_when: str) -> Any:
        most.append(len(futures))
        first = next(iter(futures))
        first.set_result(f"result {len(most)}")
        return {first}, None

    monkeypatch.setattr(hearing, "wait", wait)
    all_ = [waiting(Path(f"{n}.wav"), n) for n in range(66)]
    found = list(hearing._results(Pool(), all_, False))
    assert max(most) == 64 and len(found) == 66
    assert [each.job.key for each, _ in found] == list(range(66))


def test_a_recording_whose_worker_is_gone_comes_back_with_the_reason() -> None:
    class Gone(AtOnce):
        def __init__(self, why: BaseException) -> None:
            self.why = why

        def submit(self, fn: Any, /, *args: Any, **more: Any) -> Future[Any]:
            raise self.why

    for why in (BrokenProcessPool("killed"), CancelledError()):
        one = waiting(Path("a.wav"))
        assert list(hearing._results(Gone(why), [one], False)) == [(one, why)]


def test_a_recording_that_is_not_there_or_cannot_be_read_is_not_heard(
    desk: Desk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before, todo, (failed,) = hearing._prepared(
        desk.journal, [Placed(entry(tmp_path / "gone.wav"), desk.piece)], None, True
    )
    assert (before, todo, failed.recording) == ([], [], tmp_path / "gone.wav") and "gone.wav" in failed.what

    def broken(path: Path) -> str:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(hearing, "digest_of", broken)
    locked = Placed(entry(tmp_path / "a.wav"), desk.piece)
    _, _, failures = hearing._prepared(desk.journal, [locked], None, True)
    assert failures == [
        NotPlaced(tmp_path / "a.wav", "it cannot be read: Permission denied", "see whether the file is there")
    ]


# A worker ---------------------------------------------------------------------------------------------

LAMP = ("lamp", parse_script("The lamp was lit before the tide came in.\n"))
BELL = ("bell", parse_script("A bell went down.\n"))


@pytest.fixture
def heard(monkeypatch: pytest.MonkeyPatch) -> list[Any]:
    """What is heard in the place of the models."""
    told: list[Any] = []

    def listen_to(script: Any, path: Path, loading: Any, *, one_core: bool) -> str:
        told.append((script.text.split()[1], path.name, path.read_bytes(), loading, one_core))
        return "heard"

    monkeypatch.setattr("offbook.desk.listening.listen_to", listen_to)
    monkeypatch.setattr(worker, "_loaded", lambda model: f"model {model}")
    return told


def test_a_worker_loads_its_model_once_and_tells_its_name(monkeypatch: pytest.MonkeyPatch) -> None:
    made: list[Any] = []

    def loading(model: str | None) -> Any:
        made.append(model)
        return SimpleNamespace(result=lambda: SimpleNamespace(name=f"model {model}"))

    monkeypatch.setattr(worker, "Loading", loading)
    worker._loaded.cache_clear()
    worker.load_models("small")
    assert worker.worker_version("small") == (__version__, "model small")
    worker.load_models(None)
    assert made == ["small", None]
    worker._loaded.cache_clear()


def test_sound_that_was_sent_is_heard_under_its_own_name(heard: list[Any], tmp_path: Path) -> None:
    (tmp_path / "a.wav").write_bytes(b"RIFF sound")
    digest = digest_of(tmp_path / "a.wav")
    job = HearingJob(3, "/elsewhere/b.wav", (LAMP,), digest, "small", b"RIFF sound", one_core=False)
    assert hear_job(job) == HearingDone(3, "lamp", "heard", 1.0)  # type: ignore[arg-type]
    assert heard == [("lamp", "b.wav", b"RIFF sound", "model small", False)]


def test_a_worker_says_it_in_the_place_of_its_own_name_of_the_file(
    heard: list[Any], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "a.wav"
    path.write_bytes(b"RIFF")

    def fail(script: Any, path: Path, loading: Any, *, one_core: bool) -> None:
        raise RecordingError(f"{path} holds no sound", "record it again")

    monkeypatch.setattr("offbook.desk.listening.listen_to", fail)
    done = hear_job(HearingJob(3, str(path), (LAMP,), digest_of(path)))
    assert (done.key, done.heard, done.what, done.do) == (3, None, "it holds no sound", "record it again")
    other = hear_job(HearingJob(3, str(path), (LAMP,), "0" * 64))
    assert other.what == "the worker found another file at it"
    assert other.do == "share the same folder with it, or give --send"
    gone = hear_job(HearingJob(3, str(tmp_path / "b.wav"), (LAMP,), ""))
    assert gone.what.startswith("the worker cannot read it: ")
    assert gone.do == "share the folder with it, or give --send"


@pytest.mark.parametrize(
    ("best", "other", "piece"),
    [(0.65, 0.5, "bell"), (0.65, 0.501, None), (0.6, 0.1, "bell"), (0.59, 0.1, None), (0.61, 0.6, None)],
)
def test_a_piece_is_recognised_from_a_likeness_of_0_6_that_is_0_15_ahead(
    best: float,
    other: float,
    piece: str | None,
    heard: list[Any],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    path = tmp_path / "a.wav"
    path.write_bytes(b"RIFF")
    likely = (("bell", best), ("lamp", other))
    monkeypatch.setattr(worker, "heard_opening", lambda path, loading: ("a", "bell"))
    monkeypatch.setattr(worker, "likeness_of_pieces", lambda heard, scripts: likely)
    done = hear_job(HearingJob(3, str(path), (LAMP, BELL), digest_of(path)))
    assert (done.piece, done.likeness) == (piece, best)
    if piece is None:
        assert (
            done.what == f"its opening does not show which piece it is (most alike: bell, {best * 100:.0f} %)"
        )
        assert (done.do, done.likely) == ("name the piece in the file's name or in the table", likely)
    else:
        assert (heard[0][0], done.likely) == ("bell", ())


def test_the_first_twenty_seconds_are_heard_to_recognise_a_piece(monkeypatch: pytest.MonkeyPatch) -> None:
    fed = io.BytesIO()
    decoder = SimpleNamespace(
        feed=fed.write, finish=lambda: (HeardWord("a", 0, 1, 1.0), HeardWord("bell", 1, 2, 1.0))
    )
    loading: Any = SimpleNamespace(
        result=lambda: SimpleNamespace(first=SimpleNamespace(open=lambda: decoder))
    )
    asked: list[int] = []

    def pcm(path: Path, sound: Any) -> Iterator[bytes]:
        for n in range(10):
            asked.append(n)
            yield bytes([n]) * 300_000

    monkeypatch.setattr("offbook.audio.survey", lambda path: None)
    monkeypatch.setattr("offbook.audio.pcm", pcm)
    assert worker.heard_opening(Path("a.wav"), loading) == ("a", "bell")
    assert fed.getvalue() == bytes([0]) * 300_000 + bytes([1]) * 300_000 + bytes([2]) * 40_000
    assert asked == [0, 1, 2]


def test_nothing_heard_is_like_no_piece_and_equal_pieces_are_in_the_order_of_their_names() -> None:
    assert worker.likeness_of_pieces((), (LAMP, BELL)) == (("bell", 0.0), ("lamp", 0.0))


@contextmanager
def nothing() -> Iterator[None]:
    yield
