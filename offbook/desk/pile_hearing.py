"""Hearing a pile: every recording, on all cores or on a cluster, into one journal.

The same code runs on any executor: a pool of processes on this machine, or the workers of a Dask scheduler.
Only this process writes the journal. A recording is in the journal before it is heard. When a worker is
killed, only the time for its recording is lost, and the same command goes on where it was.
"""

from __future__ import annotations

import logging
import multiprocessing
import os
import re
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, CancelledError, Executor, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from offbook import late
from offbook.desk.pile import NotPlaced, PileError, Placed
from offbook.desk.pile_worker import HearingDone, HearingJob, hear_job, load_models, worker_version
from offbook.desk.run_throughs import Saved, commit_run, keep_recording_once
from offbook.errors import OffbookError, RecordingError
from offbook.intake import RECORDING, digest_of, read_bytes

if TYPE_CHECKING:
    from offbook.journal import Journal
    from offbook.records import Piece, Recording, Version

# Set by hand.
_TRIES = 2  # how often a recording is tried whose worker was killed
_RESTARTS = 3  # how often a scheduler may go away and come back
# Recordings that are with the workers at once, heard or waiting: bytes that are sent must not pile up.
_AHEAD = 64
_REACH_SECONDS = 10.0  # to wait for a scheduler to answer, and then for its first worker

# Memory of a worker with its models and one recording at most (`bench/school_cost.py`: 661 MB), and some
# room.
_WORKER_MEGABYTES = 700
_KILOBYTE_BITS, _MEGABYTE_BITS = 10, 20  # a shift by so many bits
WORKER_BYTES = _WORKER_MEGABYTES << _MEGABYTE_BITS

_ONE_OF_TWO = "one of the two was taken; delete the other"

CountDone = Callable[[int, int], None]  # how many recordings are done, of how many


@dataclass(frozen=True, slots=True)
class PileLine:
    """One recording of a pile that is now in the journal.

    length: seconds; accuracy: word accuracy, 0 to 1; sound: what is wrong with the sound, None for nothing;
    likeness: how like the piece's its opening was, 0 to 1.
    """

    recording: Path
    piece: Piece
    saved: Saved
    length: float
    accuracy: float
    dropped_lines: int
    sound: str | None
    likeness: float


@dataclass(frozen=True, slots=True)
class PileHeard:
    """What became of a pile: what was heard now, what had been heard before, and what failed.

    unsure: those of the failed whose piece could not be recognised, so that somebody can be asked.
    """

    heard: tuple[PileLine, ...]
    before: tuple[Path, ...]
    failed: tuple[NotPlaced, ...]
    unsure: tuple[UnsurePiece, ...] = ()

    def and_then(self, later: PileHeard, chosen: Sequence[Placed]) -> PileHeard:
        """All of this, and what became of its unsure ones after somebody chose their pieces."""
        asked = {each.entry.recording for each in chosen}
        return PileHeard(
            self.heard + later.heard,
            self.before + later.before,
            tuple(f for f in self.failed if f.recording not in asked) + later.failed,
        )


@dataclass(frozen=True, slots=True)
class UnsurePiece:
    """A recording whose piece is not sure. likely: pieces and their likeness, 0 to 1, most alike first."""

    placed: Placed
    likely: tuple[tuple[Piece, float], ...]


@dataclass(slots=True)
class _Waiting:
    """A recording that is to be heard. stored: the journal's copy, None where it keeps none."""

    placed: Placed
    pieces: dict[str, tuple[Piece, Version]]
    job: HearingJob
    stored: Recording | None = None
    tries: int = 0


def workers_here() -> int:
    """For how many workers this machine has cores and free memory; at least one."""
    cores = os.cpu_count() or 1
    try:
        free = os.sysconf("SC_AVPHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")
        free = max(free, _available())
    except (OSError, ValueError):  # a system that does not say
        return cores
    return max(1, min(cores, free // WORKER_BYTES))


def _available() -> int:
    """Bytes that Linux can give to a new program, with those of cached files; 0 where it does not say."""
    try:
        told = Path("/proc/meminfo").read_text(encoding="ascii")
    except OSError:
        return 0
    found = re.search(r"^MemAvailable:\s+(\d+) kB$", told, re.M)
    return 0 if found is None else int(found[1]) << _KILOBYTE_BITS


@contextmanager
def local_workers(count: int, model: str | None) -> Iterator[Executor]:
    """A pool of `count` processes that load the model when they start."""
    late.whole("offbook.desk")
    context = multiprocessing.get_context("spawn")
    pool = ProcessPoolExecutor(count, mp_context=context, initializer=load_models, initargs=(model,))
    try:
        yield pool
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


@contextmanager
def cluster_workers(address: str, model: str | None) -> Iterator[Executor]:
    """The workers of a Dask scheduler.

    Raises PileError where their offbook or their model is not the same as here.
    """
    try:
        from distributed import Client
    except ImportError as e:
        raise PileError(
            "hearing on a cluster needs dask.distributed", "install it with: pip install 'offbook[cluster]'"
        ) from e
    # offbook reports a lost scheduler itself, once
    logging.getLogger("distributed").setLevel(logging.CRITICAL)
    try:
        connect: Any = Client
        client = connect(address, timeout=_REACH_SECONDS)
    except (OSError, TimeoutError, ValueError) as e:
        raise PileError(
            f"no scheduler answers at {address}",
            "start it or correct the address, then run the same command again: what was heard is kept",
        ) from e
    try:
        with suppress(TimeoutError):  # the workers of a scheduler that was restarted come back one by one
            client.wait_for_workers(1, timeout=_REACH_SECONDS)
        versions = set(client.run(worker_version, model).values())
        if not versions:
            raise PileError(f"the scheduler at {address} has no workers", "start workers, then run it again")
        ours = worker_version(model)
        if versions != {ours}:
            told = ", ".join(sorted(f"offbook {v} with {m}" for v, m in versions))
            raise PileError(
                f"the workers have {told}, this machine has offbook {ours[0]} with {ours[1]}",
                "install the same release and the same model everywhere",
            )
        _check_memory(client.scheduler_info())
        yield client.get_executor()
    finally:
        client.close()


def _check_memory(told: dict[str, Any]) -> None:
    """Raise PileError where a worker has less memory for each of its threads than a hearing takes."""
    for address, worker in told["workers"].items():
        threads = max(1, worker["nthreads"])
        if 0 < worker["memory_limit"] < WORKER_BYTES * threads:
            each = worker["memory_limit"] // threads >> _MEGABYTE_BITS
            raise PileError(
                f"the worker {address} has {each} MB for each of its {threads} threads, a hearing takes "
                f"{_WORKER_MEGABYTES}",
                f"start it with one thread for each {_WORKER_MEGABYTES} MB: "
                "dask worker ADDRESS --nworkers N --nthreads 1",
            )


def hear_pile(
    journal: Journal,
    placed: Sequence[Placed],
    workers: Callable[[], Any],
    *,
    model: str | None = None,
    send_bytes: bool = False,
    one_core: bool = True,
    told: CountDone = lambda done, of: None,
) -> PileHeard:
    """Hear every recording of a pile into the journal.

    workers: makes the executor, as a context; send_bytes: the workers cannot read this machine's files;
    one_core: a hearing keeps to one core, which is right for as many workers as cores, while a single worker
    may use two; told: is called with how many recordings are done, and of how many. A recording that was
    heard before (the same bytes, the same draft) is not heard again. No error is raised for a single
    recording, and after a KeyboardInterrupt everything that was committed is kept.
    """
    before, waiting, failed = _prepared(journal, placed, model, one_core)
    total = len(placed)
    heard: list[PileLine] = []
    unsure: list[UnsurePiece] = []
    done = len(before) + len(failed)
    restarts = 0
    told(done, total)
    while waiting:
        again: list[_Waiting] = []
        with workers() as pool:
            for each, result in _results(pool, waiting, send_bytes):
                if isinstance(result, CancelledError) and restarts < _RESTARTS:
                    again.append(each)  # it was lost because the scheduler was, so it is not counted as a try
                    continue
                if isinstance(result, BaseException):
                    each.tries += 1
                    if each.tries < _TRIES:
                        again.append(each)
                        continue
                    what = "the process that heard it was killed, twice"
                    failed.append(NotPlaced(each.placed.entry.recording, what, "try it alone: offbook run"))
                elif result.heard is None or result.piece is None:
                    failed.append(NotPlaced(each.placed.entry.recording, result.what, result.do))
                    if result.likely:
                        likely = tuple((each.pieces[name][0], like) for name, like in result.likely)
                        unsure.append(UnsurePiece(each.placed, likely))
                else:
                    heard.append(_committed(journal, each, result))
                done += 1
                told(done, total)
        restarts += any(each.tries == 0 for each in again)
        waiting = again
    return PileHeard(tuple(heard), tuple(before), tuple(failed), tuple(unsure))


def _results(
    pool: Executor, waiting: Sequence[_Waiting], send_bytes: bool
) -> Iterator[tuple[_Waiting, HearingDone | BaseException]]:
    """Each recording with what became of it, when it is done; an exception where its worker was killed."""
    running: dict[Future[HearingDone], _Waiting] = {}
    left = list(reversed(waiting))
    while running or left:
        while left and len(running) < _AHEAD:
            each = left.pop()
            try:
                data = read_bytes(each.job.path, RECORDING, RecordingError) if send_bytes else None
                running[pool.submit(hear_job, replace(each.job, data=data))] = each
            except (BrokenProcessPool, CancelledError) as e:
                yield each, e
            except RecordingError as e:
                yield each, HearingDone(each.job.key, None, None, what=e.what, do=e.do)
        finished, _ = wait(running, return_when=FIRST_COMPLETED) if running else ((), None)
        for future in finished:
            each = running.pop(future)
            lost = CancelledError() if future.cancelled() else future.exception()
            yield each, future.result() if lost is None else lost


def _prepared(
    journal: Journal, placed: Sequence[Placed], model: str | None, one_core: bool
) -> tuple[list[Path], list[_Waiting], list[NotPlaced]]:
    """What was heard before, what is to be heard (its recording kept by now), and what cannot be read."""
    before: list[Path] = []
    waiting: list[_Waiting] = []
    failed: list[NotPlaced] = []
    drafts: dict[str, Version] = {}
    met: dict[tuple[str, str], Path] = {}
    for key, each in enumerate(placed):
        path = each.entry.recording
        try:
            candidates = (each.piece,) if each.piece is not None else each.among
            digest = digest_of(path)
            twin = met.setdefault((each.entry.performer.casefold(), digest), path)
            if twin != path:
                failed.append(NotPlaced(path, f"it is the same recording as {twin.name}", _ONE_OF_TWO))
                continue
            if any(_heard_before(journal, piece, digest, drafts) for piece in candidates):
                before.append(path)
                continue
            stored = _kept(journal, each.piece, path, digest) if each.piece is not None else None
            pieces = {p.name: (p, drafts[p.id]) for p in candidates if p.id in drafts}
            source = path if stored is None else journal.recordings / stored.path
            job = HearingJob(
                key,
                str(source),
                tuple((name, version.script) for name, (_, version) in pieces.items()),
                digest,
                model,
                one_core=one_core,
            )
            waiting.append(_Waiting(each, pieces, job, stored))
        except OffbookError as e:
            failed.append(NotPlaced(path, e.what, e.do))
        except OSError as e:
            failed.append(
                NotPlaced(path, f"it cannot be read: {e.strerror}", "see whether the file is there")
            )
    return before, waiting, failed


def _heard_before(journal: Journal, piece: Piece, digest: str, drafts: dict[str, Version]) -> bool:
    """Whether these bytes have a run-through of the piece's newest draft already."""
    from offbook.desk.finding import draft_of
    from offbook.journal import recordings, runs

    with journal.reading() as conn:
        if piece.id not in drafts:
            drafts[piece.id] = draft_of(conn, piece)
        same = {r.id for r in recordings(conn, piece.id) if r.sha256 == digest}
        return any(
            run.recording_id in same and run.version_id == drafts[piece.id].id
            for run in (runs(conn, piece.id) if same else ())
        )


def _kept(journal: Journal, piece: Piece, path: Path, digest: str) -> Recording | None:
    """The journal's copy of the recording: made before a hearing that was cut short, or made now."""
    from offbook.journal import unjudged

    with journal.reading() as conn:
        for recording in unjudged(conn, piece.id):
            if recording.sha256 == digest:
                return recording
    return keep_recording_once(journal, piece, path) if piece.keep_recordings else None


def _committed(journal: Journal, each: _Waiting, result: HearingDone) -> PileLine:
    assert result.heard is not None and result.piece is not None
    piece, version = each.pieces[result.piece]
    path = each.placed.entry.recording
    heard = replace(result.heard, recording=path)
    stored = each.stored or _kept(journal, piece, path, digest_of(path))
    saved = commit_run(journal, piece, version, heard, stored)
    return PileLine(
        path,
        piece,
        saved,
        heard.review.run.seconds,
        heard.review.run.accuracy,
        len(heard.review.dropped_lines),
        heard.sound.line,
        result.likeness,
    )
