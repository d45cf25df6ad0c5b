"""What it costs to hear a folder of recordings: processor time, how busy the workers are, memory, and the
journal.

Recordings of a minute are made from the demo's reading (each with other bytes). The same recordings are
heard in four ways: one by one in this process, each on two cores as `offbook run` does; by a pool of two
processes; by one and by two workers of a Dask scheduler on 127.0.0.1, each on one core. Starting and
loading the models is not counted. For each way it prints the processor time of a recording in proportion to
one by one; the share of the time in which the workers had a recording, which shows how well the work is
shared out even if other programs slow the machine down; how many recordings an hour by the clock; and the
most memory of a worker. Then run-throughs with invented verdicts and a recording of a megabyte each are
written to the journal in the same way: how many it takes in a second, on SQLite or, with `--server`, on
PostgreSQL.

    python bench/school_cost.py [--recordings 200] [--commits 500] [--server URL] [--only one,pool,...]
"""

from __future__ import annotations

import argparse
import json
import os
import random
import resource
import shutil
import tempfile
import time
import wave
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from offbook import audio, desk
from offbook.desk import pile_hearing, pile_worker
from offbook.desk.pile_worker import HearingDone, HearingJob
from offbook.journal import Journal, add_performer, add_piece, add_version, keep_recording, open_journal
from offbook.records import Unit
from offbook.sampling import SAMPLE_RATE
from offbook.script import load_script
from offbook.words import words_of

DEMO = Path(__file__).resolve().parent.parent / "corpus_demo"
SECONDS = 60.0
WRITTEN = "OFFBOOK_BENCH_FILE"  # where workers write what each recording cost them


def measured(job: HearingJob) -> HearingDone:
    """Hear a recording, and note who did it, from when to when, and what it cost."""
    began, used = time.monotonic(), time.process_time()
    done = pile_worker.hear_job(job)
    row = {
        "worker": os.getpid(),
        "began": began,
        "ended": time.monotonic(),
        "cpu": time.process_time() - used,
        "memory": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
    }
    with open(os.environ[WRITTEN], "a", encoding="utf-8") as file:
        file.write(json.dumps(row) + "\n")
    return done


def recordings(folder: Path, many: int) -> None:
    """So many recordings of a minute: the demo's, each with its start a little earlier or later."""
    sound = b"".join(audio.pcm(DEMO / "the_lamp_run.ogg"))
    folder.mkdir(parents=True)
    for k in range(many):
        first = 2 * (SAMPLE_RATE // 100) * k
        with wave.open(str(folder / f"The lamp {k}.wav"), "wb") as out:
            out.setnchannels(1)
            out.setsampwidth(2)
            out.setframerate(SAMPLE_RATE)
            out.writeframes(sound[first : first + 2 * round(SECONDS * SAMPLE_RATE)])


def opened(home: Path, server: str | None = None) -> tuple[Journal, Any, Any]:
    """A new journal with one performer and one piece."""
    journal = open_journal(lambda: datetime.now(UTC), home=home, url=server)
    script = load_script(DEMO / "the_lamp.txt")
    words = words_of(script)
    units = tuple(
        Unit(k, k, 8 * k, min(8 * k + 7, len(words) - 1), "the") for k in range(-(-len(words) // 8))
    )
    with journal.writing() as conn:
        person = add_performer(journal, conn, f"Wren {random.random():.6f}", "UTC")
        piece = add_piece(journal, conn, person, "The lamp")
        version, _ = add_version(journal, conn, piece.id, script, words, units)
    return journal, piece, version


@contextmanager
def one_by_one() -> Iterator[Any]:
    """An executor that does everything in this process, at once."""
    from offbook.at_once import AtOnce

    pile_worker.load_models(None)
    yield AtOnce()


@contextmanager
def dask_workers(many: int) -> Iterator[Any]:
    """So many worker processes of our own scheduler, over TCP."""
    from distributed import LocalCluster

    made: Any = LocalCluster
    with (
        made(
            n_workers=many,
            threads_per_worker=1,
            processes=True,
            protocol="tcp",
            host="127.0.0.1",
            dashboard_address=None,
        ) as cluster,
        desk.cluster_workers(cluster.scheduler_address, None) as pool,
    ):
        yield pool


WAYS: dict[str, tuple[str, int, Any]] = {
    "one": ("one by one", 1, one_by_one),
    "pool": ("a pool of two", 2, lambda: desk.local_workers(2, None)),
    "dask1": ("one Dask worker", 1, lambda: dask_workers(1)),
    "dask2": ("two Dask workers", 2, lambda: dask_workers(2)),
}


def heard(folder: Path, way: str, many: int) -> list[dict[str, float]]:
    """Hear all recordings in one way into a new journal; returns what each cost."""
    written = folder / f"{way}.jsonl"
    os.environ[WRITTEN] = str(written)
    pile_hearing.hear_job = measured  # type: ignore[attr-defined]
    journal, piece, _ = opened(folder / way)
    entries = desk.pile_of(folder / "pile", "{performer}/{piece}")
    placed = [desk.Placed(replace(e, performer=piece.performer), piece) for e in entries]
    done = desk.hear_pile(journal, placed, WAYS[way][2], one_core=way != "one")
    journal.close()
    if len(done.heard) != many or done.failed:
        raise SystemExit(f"{len(done.heard)} of {many} were heard: {done.failed[:3]}")
    return [json.loads(row) for row in written.read_text(encoding="utf-8").splitlines()]


def kept(home: Path, many: int, server: str | None) -> float:
    """How many run-throughs a second the journal takes, each with a recording of a megabyte."""
    from offbook.audio import survey
    from offbook.notes import notes_on
    from offbook.score import Run, WordVerdict

    journal, piece, version = opened(home, server)
    sound = home / "take.wav"
    shutil.copy(next((home.parent / "pile" / "Wren").glob("*.wav")), sound)
    script, words = version.script, version.words
    said = tuple(WordVerdict(w.i, w.text, "said", w.text, 0.4 * w.i, 0.4 * w.i + 0.3, 0.9) for w in words)
    found = notes_on(script, words, Run(said, (), 80.0, 60.0))
    report = survey(sound)
    began = time.monotonic()
    for k in range(many):
        with sound.open("r+b") as file:  # other bytes each time
            file.seek(-8, os.SEEK_END)
            file.write(k.to_bytes(8, "big"))
        stored = keep_recording(journal, piece, sound, datetime.now(UTC))
        heard = desk.Heard(script, words, sound, datetime.now(UTC), "made up", report, found)
        desk.commit_run(journal, piece, version, heard, stored)
    spent = time.monotonic() - began
    journal.close()
    return many / spent


def main() -> None:
    """Hear the recordings, write to the journal, and print the costs."""
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--recordings", type=int, default=200)
    ask.add_argument("--commits", type=int, default=500)
    ask.add_argument("--server", help="keep run-throughs on this PostgreSQL server too")
    ask.add_argument("--only", default=",".join(WAYS), help="which ways of hearing, with commas between")
    given = ask.parse_args()
    folder = Path(tempfile.mkdtemp(prefix="offbook-school-"))
    recordings(folder / "pile" / "Wren", max(1, given.recordings))
    alone = None
    for way in given.only.split(",") if given.recordings else ():
        rows = heard(folder, way, given.recordings)
        name, workers, _ = WAYS[way]
        cpu = sum(r["cpu"] for r in rows) / len(rows)
        alone = cpu if way == "one" else alone
        span = max(r["ended"] for r in rows) - min(r["began"] for r in rows)
        busy = sum(r["ended"] - r["began"] for r in rows) / (workers * span)
        against = "" if alone is None else f", {cpu / alone:.2f} times one by one"
        print(
            f"{name:17} {cpu:6.2f} s of processor a recording{against}; workers busy {busy:.1%} of the time; "
            f"{3600 * len(rows) / span:.0f} an hour; {max(r['memory'] for r in rows):.0f} MB",
            flush=True,
        )
    for name, server in (("SQLite", None), ("PostgreSQL", given.server)):
        if given.commits and (server is not None or name == "SQLite"):
            rate = kept(folder / name, given.commits, server)
            print(f"{name}: {rate:.1f} run-throughs a second into the journal, each with 1.9 MB of sound")
    shutil.rmtree(folder)


if __name__ == "__main__":
    main()
