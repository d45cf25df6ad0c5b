"""Commands run in forked children of one warm process, so that thousands of them take only an hour.

The libraries are imported once. Each command then runs in a child process of its own, with its output in
files, a limit on its time, and its memory measured. A child that hangs is killed, together with its own
children.
"""

from __future__ import annotations

import contextlib
import gc
import io
import os
import re
import resource
import signal
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from importlib import import_module
from pathlib import Path

HANG_SECONDS = 20.0  # of processor time; on a busy machine the clock on the wall says little
WAIT_SECONDS = 60.0  # by the clock, after which a command that does nothing is ended too
MOST_MEGABYTES = 1000.0
# Commands end with 0, 1 (two lines), 2 (a wrong command line) or 3 (done, and something is not as asked).
_STATUSES = {0, 1, 2, 3}
_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f]")
_WARM = (
    *("offbook.cli", "offbook.cli.read", "offbook.cli.check", "offbook.script", "offbook.words", "docx"),
    *("odf.opendocument", "pdfplumber", "av", "numpy", "sqlalchemy", "pydantic", "offbook.journal"),
)


@dataclass(frozen=True, slots=True)
class Outcome:
    """How a command ended.

    status: the exit status, negative for a signal. seconds: of processor time, those of its own children
    included. megabytes: the most memory beyond what it had at its start. killed: whether it was ended from
    outside. wall: seconds by the clock.
    """

    args: tuple[str, ...]
    status: int
    out: str
    err: str
    seconds: float
    megabytes: float
    killed: bool = False
    wall: float = 0.0

    def faults(self) -> list[str]:
        """What is wrong with an outcome, in the words of the counts."""
        found = []
        if self.seconds > HANG_SECONDS or self.killed:
            found.append("hang")
        elif self.status < 0:
            found.append("crash")
        elif "Traceback" in self.err or self.status not in _STATUSES:
            found.append("traceback")
        elif self.status == 1 and len(self.err.splitlines()) != 2:
            found.append("not two lines")
        if self.megabytes > MOST_MEGABYTES:
            found.append("memory")
        if self.status == 1 and self.out:
            found.append("output with an error")
        if _CONTROL.search(self.out + self.err):
            found.append("control characters")
        return found


def warm(more: Sequence[str] = ()) -> None:
    """Import what the commands will need."""
    for name in (*_WARM, *more):
        with contextlib.suppress(ImportError):
            import_module(name)


def run(args: Sequence[str], env: dict[str, str] | None = None, kill_after: float | None = None) -> Outcome:
    """Run `offbook ARGS` in a child. kill_after: seconds after which it is killed outright."""
    return call(lambda: _command(args), tuple(args), env, kill_after)


def call(
    work: Callable[[], int], args: tuple[str, ...], env: dict[str, str] | None, kill_after: float | None
) -> Outcome:
    """Run `work` in a child process; returns how it ended."""
    with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as err:
        began = time.monotonic()
        held = _resident_megabytes()  # what the child has of its parent from the start
        child = os.fork()
        if child == 0:
            gc.freeze()  # what the parent has to clear away may wait for a thread that is not in the child
            _become(out.fileno(), err.fileno(), env)
            status = 99
            try:
                status = work()
            finally:  # whatever it was: it is printed, and the child is gone
                if sys.exc_info()[0] is not None:
                    traceback.print_exc()
                with contextlib.suppress(OSError, ValueError):
                    sys.stdout.flush()
                    sys.stderr.flush()
                os._exit(status)
        end = began + (WAIT_SECONDS if kill_after is None else kill_after)
        status, usage, killed = _wait(child, end)
        seconds = usage.ru_utime + usage.ru_stime
        texts = []
        for file in (out, err):
            file.seek(0)
            texts.append(file.read(5_000_000).decode("utf-8", "surrogateescape"))
        wall = time.monotonic() - began
        used = max(0.0, usage.ru_maxrss / 1024 - held)
        return Outcome(args, status, texts[0], texts[1], seconds, used, killed, wall)


def _resident_megabytes() -> float:
    """The resident memory of this process now."""
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    return pages * resource.getpagesize() / 2**20


def _wait(child: int, end: float) -> tuple[int, resource.struct_rusage, bool]:
    pause = 0.002
    while True:
        done, raw, usage = os.wait4(child, os.WNOHANG)
        if done:
            return os.waitstatus_to_exitcode(raw), usage, False
        if time.monotonic() >= end:
            with contextlib.suppress(ProcessLookupError):
                os.killpg(child, signal.SIGKILL)
            _, raw, usage = os.wait4(child, 0)
            return os.waitstatus_to_exitcode(raw), usage, True
        time.sleep(min(pause, max(0.0, end - time.monotonic())))
        pause = min(0.02, pause * 1.3)


def _become(out: int, err: int, env: dict[str, str] | None) -> None:
    os.setsid()
    null = os.open(os.devnull, os.O_RDONLY)
    os.dup2(null, 0)
    os.dup2(out, 1)
    os.dup2(err, 2)
    sys.stdin = io.TextIOWrapper(os.fdopen(0, "rb", closefd=False))
    sys.stdout = io.TextIOWrapper(os.fdopen(1, "wb", closefd=False), "utf-8", "surrogateescape")
    sys.stderr = io.TextIOWrapper(os.fdopen(2, "wb", closefd=False), "utf-8", "surrogateescape")
    os.environ.update(env or {})


def _command(args: Sequence[str]) -> int:
    from offbook.cli import main

    try:
        main(list(args))
    except SystemExit as e:
        return e.code if isinstance(e.code, int) else 1
    return 0


@dataclass
class Counts:
    """The counts of one part of the campaign, and the folder in which inputs that did harm are kept."""

    part: str
    keep: Path
    inputs: int = 0
    faults: Counter[str] = field(default_factory=Counter)
    statuses: Counter[int] = field(default_factory=Counter)
    slowest: float = 0.0
    largest: float = 0.0
    began: float = field(default_factory=time.monotonic)

    def take(self, outcome: Outcome, what: str, source: Path | None = None, more: Sequence[str] = ()) -> None:
        """Count an outcome; if something is wrong with it, print that and keep its input."""
        self.inputs += 1
        self.statuses[outcome.status] += 1
        self.slowest = max(self.slowest, outcome.seconds)
        self.largest = max(self.largest, outcome.megabytes)
        found = [*outcome.faults(), *more]
        self.faults.update(found)
        if found:
            self.keep.mkdir(parents=True, exist_ok=True)
            if source is not None and source.is_file():
                (self.keep / f"{self.inputs}-{source.name}").write_bytes(source.read_bytes()[:20_000_000])
            last = [line for line in outcome.err.splitlines() if line.strip()][-1:] or [""]
            print(f"{self.part} {self.inputs}: {', '.join(found)}: {what}: {last[0][:160]!r}", flush=True)

    def told(self) -> str:
        """The counts in one line."""
        every = ", ".join(f"{n} {name}" for name, n in sorted(self.faults.items())) or "nothing wrong"
        ended = ", ".join(f"{n} with {status}" for status, n in sorted(self.statuses.items()))
        return (
            f"{self.part}: {self.inputs} inputs in {time.monotonic() - self.began:.0f} s; {every}; "
            f"ended {ended}; slowest {self.slowest:.1f} s, largest {self.largest:.0f} MB"
        )


@contextlib.contextmanager
def folder() -> Iterator[Path]:
    """A folder of the campaign's own, which is deleted afterwards."""
    with tempfile.TemporaryDirectory(prefix="harm-") as made:
        yield Path(made)
