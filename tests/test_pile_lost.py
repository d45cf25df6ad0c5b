"""A cluster that loses a worker or its scheduler in the middle: nothing is lost, nothing is heard twice."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, contextmanager
from pathlib import Path
from threading import Thread
from typing import Any

import pytest

from offbook import __version__
from offbook.desk.pile_worker import HearingDone, HearingJob
from offbook.notes import notes_on
from offbook.words import words_of
from tests.journals import run_with
from tests.test_cli_journal import Desk, desk_with_lamp
from tests.test_hear_sound import sound

RECORDINGS = 4


def planted(job: HearingJob) -> HearingDone:
    """What a worker does here: leaves word that it has begun, waits a moment, hears every word as written."""
    from datetime import UTC, datetime

    from offbook.desk import Heard

    Path(job.path).with_suffix(f".{os.getpid()}.begun").touch()
    time.sleep(0.3)
    name, script = job.scripts[0]
    words = words_of(script)
    found = notes_on(script, words, run_with(words, {}))
    heard = Heard(script, words, Path(job.path), datetime.now(UTC), "planted", sound(40.0), found)
    return HearingDone(job.key, name, heard)


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Desk:
    """A performer with a piece and four recordings of it; workers hear as planted."""
    found = desk_with_lamp(tmp_path, monkeypatch)
    (tmp_path / "pile" / "Me").mkdir(parents=True)
    for n in range(RECORDINGS):
        (tmp_path / "pile" / "Me" / f"The lamp {n}.wav").write_bytes(b"RIFF" + bytes([n]) * 400)
    monkeypatch.setattr("offbook.desk.pile_hearing.hear_job", planted)
    monkeypatch.setattr("offbook.desk.pile_hearing.worker_version", version)
    return found


def version(model: str | None) -> tuple[str, str]:
    """The same release and model everywhere."""
    return __version__, "planted"


def once_begun(desk: Desk, do: Callable[[int], None]) -> None:
    """Once a worker has begun, do something with its process, in a thread of its own."""

    def watch() -> None:
        for _ in range(600):
            begun = list((desk.home / "home").rglob("*.begun"))
            if begun:
                do(int(begun[0].name.split(".")[-2]))
                return
            time.sleep(0.05)

    Thread(target=watch, daemon=True).start()


def heard(desk: Desk, address: str) -> str:
    return desk.see("hear", str(desk.home / "pile"), "--yes", "--cluster", address)


def kept_once(desk: Desk) -> bool:
    """Whether each recording is in the journal once, with one run-through."""
    import json

    kept = json.loads(desk.see("piece", "recordings", "The lamp", "--json"))["recordings"]
    runs = json.loads(desk.see("progress", "The lamp", "--runs", "--json"))["runs"]
    return [r["judged"] for r in kept] == [True] * RECORDINGS and len(runs) == RECORDINGS


@pytest.mark.heavy
def test_if_a_worker_is_killed_no_recording_is_lost_or_stored_twice(desk: Desk) -> None:
    """With the cluster of Dask's own tests (distributed.utils_test): real processes, one of them killed."""
    from distributed.utils_test import cluster

    killed: list[int] = []

    def kill(worker: int) -> None:
        os.kill(worker, signal.SIGKILL)
        killed.append(worker)

    def lost_in_the_middle() -> str:
        made: Any = cluster
        with made(nworkers=2, nanny=False) as (scheduler, _):
            once_begun(desk, kill)
            return heard(desk, scheduler["address"])

    # in a thread of its own: the browser of other tests keeps a loop running in the first one
    with ThreadPoolExecutor(1) as one:
        shown = one.submit(lost_in_the_middle).result()
    assert len(killed) == 1
    assert f"{RECORDINGS} recordings heard, 0 not heard." in shown
    assert kept_once(desk)


@contextmanager
def started(*words: str) -> Iterator[subprocess.Popen[bytes]]:
    """A program of Dask's own, as it is typed, which sees the tests; stopped at the end."""
    root = Path(__file__).resolve().parent.parent
    typed = [str(Path(sys.executable).with_name("dask")), *words]
    env = os.environ | {"PYTHONPATH": str(root)}
    process = subprocess.Popen(typed, env=env, stderr=subprocess.DEVNULL, cwd=root)
    try:
        yield process
    finally:
        process.terminate()
        process.wait()


def free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


@pytest.mark.heavy
def test_a_restarted_scheduler_gets_the_remaining_recordings_and_none_is_heard_twice(desk: Desk) -> None:
    """As docs/school.md types them. The scheduler is killed with no warning; its workers leave with it."""
    port = free_port()
    address = f"tcp://127.0.0.1:{port}"
    scheduler = ("scheduler", "--host", "127.0.0.1", "--port", str(port), "--no-dashboard")
    worker = ("worker", address, "--nworkers", "1", "--nthreads", "1", "--no-dashboard")
    with ExitStack() as running:
        first = running.enter_context(started(*scheduler))
        running.enter_context(started(*worker))

        def begin_anew(_: int) -> None:
            first.kill()
            first.wait()
            running.enter_context(started(*scheduler))
            running.enter_context(started(*worker))

        once_begun(desk, begin_anew)
        with ThreadPoolExecutor(1) as one:
            shown = one.submit(heard, desk, address).result()
        assert first.returncode == -signal.SIGKILL
    assert f"{RECORDINGS} recordings heard, 0 not heard." in shown
    assert kept_once(desk)


@pytest.mark.heavy
def test_a_cluster_with_certificates_works_over_tls_and_refuses_anyone_without_one(
    desk: Desk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Dask's own TLS settings, as docs/school.md gives them; distributed.security makes the certificate."""
    import dask
    from distributed.security import Security

    made: Any = Security.temporary
    made = made()
    files = {"ca-file": made.tls_ca_file, "cert": made.tls_client_cert, "key": made.tls_client_key}
    for name, text in files.items():
        (tmp_path / name).write_text(text, encoding="ascii")
    paths = {name: str(tmp_path / name) for name in files}
    port = free_port()
    address = f"tls://127.0.0.1:{port}"
    secure = [w for n, at in paths.items() for w in (f"--tls-{n}", at)]
    scheduler = ("scheduler", "--host", "127.0.0.1", "--port", str(port), "--no-dashboard", *secure)
    worker = ("worker", address, "--nworkers", "1", "--nthreads", "1", "--no-dashboard", *secure)
    mine = {
        "distributed.comm.tls.ca-file": paths["ca-file"],
        "distributed.comm.tls.client": {"cert": paths["cert"], "key": paths["key"]},
    }
    settings: Any = dask.config.set
    with started(*scheduler), started(*worker):
        with monkeypatch.context() as impatient:
            impatient.setattr("offbook.desk.pile_hearing._REACH_SECONDS", 2.0)
            refused = desk.fail(
                "hear", str(desk.home / "pile"), "--yes", "--cluster", address.replace("tls", "tcp")
            )
        assert "no scheduler answers" in refused.what
        with settings(mine), ThreadPoolExecutor(1) as one:
            shown = one.submit(heard, desk, address).result()
    assert f"{RECORDINGS} recordings heard, 0 not heard." in shown
