"""Recordings waiting to be heard: one at a time, in turns, with how far each has come.

Hearing a recording takes both cores of a small machine, so recordings are heard one at a time. Where several
people wait, they take turns, so that nobody waits for all the recordings of somebody else.
"""

from __future__ import annotations

import secrets
from collections import OrderedDict, deque
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from threading import Condition, Event, Thread
from typing import Literal

from offbook.errors import OffbookError

State = Literal["waiting", "hearing", "done", "failed", "stopped"]
KEPT = 200  # jobs that are over and can still be asked about; set by hand
_KEY_BYTES = 12  # random bytes of the key of a job


class Stopped(OffbookError):
    """Somebody stopped the hearing."""

    def __init__(self) -> None:
        super().__init__(
            "this was stopped before it was heard to the end", "the recording is kept: hear it later"
        )


Work = Callable[["Job"], str]


@dataclass
class Job:
    """One recording that is to be heard.

    owner: the key of whose turn it takes; piece, what: the key and the name of the piece; work: what is to be
    done, and returns `result`; screen: where the page goes then; doing: what is being done, for people; file:
    the recording, under a name of our own; called: what to call it instead; share: how far the work has come,
    0 to 1.
    """

    owner: str
    piece: str
    what: str
    work: Work
    screen: str = "notes"
    doing: str = "Hearing the recording"
    file: Path | None = None
    called: str = "the recording"
    key: str = field(default_factory=lambda: secrets.token_hex(_KEY_BYTES))
    state: State = "waiting"
    share: float = 0.0
    result: str = ""
    problem: OffbookError | None = None
    over: Event = field(default_factory=Event)
    _stop: Event = field(default_factory=Event)

    def stop(self) -> None:
        """Ask for the work to be stopped."""
        self._stop.set()

    def fail(self, problem: OffbookError) -> None:
        """Note why the work failed.

        Our own name of the file would mean nothing to people, so it is replaced.
        """
        self.state, self.problem = "failed", problem
        if self.file is not None:
            self.problem = OffbookError(problem.what.replace(str(self.file), self.called), problem.do)

    def step(self, share: float) -> None:
        """Note how far the work has come. Raises Stopped where somebody stopped it."""
        self.share = share
        if self._stop.is_set():
            raise Stopped


class Turns:
    """The queue: a thread that works on one job after the other, owner after owner."""

    def __init__(self) -> None:
        self._waiting: OrderedDict[str, deque[Job]] = OrderedDict()
        self._jobs: OrderedDict[str, Job] = OrderedDict()
        self._changed = Condition()
        self._closing = False
        self._thread: Thread | None = None
        self._standing: list[Thread] = []

    def add(self, job: Job) -> Job:
        """Put a job behind the others of its owner."""
        with self._changed:
            self._note(job)
            self._waiting.setdefault(job.owner, deque()).append(job)
            if self._thread is None:
                self._thread = Thread(target=self._run, name="hearing", daemon=True)
                self._thread.start()
            self._changed.notify_all()
        return job

    def now(self, job: Job) -> Job:
        """Begin a job at once, whatever else is waiting: somebody is sitting there waiting for it."""
        with self._changed:
            self._note(job)
        worker = Thread(target=self._guarded, args=(job,), name="hearing", daemon=True)
        self._standing = [t for t in self._standing if t.is_alive()] + [worker]
        worker.start()
        return job

    def _note(self, job: Job) -> None:
        self._jobs[job.key] = job
        while len(self._jobs) > KEPT:
            self._jobs.popitem(last=False)

    def job(self, key: str) -> Job | None:
        """The job with this key; None where there is none, or none any more."""
        return self._jobs.get(key)

    def before(self, job: Job) -> int:
        """How many other recordings are heard before this one."""
        with self._changed:
            mine = list(self._waiting.get(job.owner, ()))
            if job not in mine:
                return 0
            k = mine.index(job)
            others = [min(len(q), k + 1) for owner, q in self._waiting.items() if owner != job.owner]
            return k + sum(others)

    def close(self) -> None:
        """Finish what is being heard, and return; recordings that still wait are kept without being heard."""
        with self._changed:
            self._closing = True
            self._changed.notify_all()
        for thread in (self._thread, *self._standing):
            if thread is not None:
                thread.join()

    def _next(self) -> Job | None:
        with self._changed:
            while not self._closing:
                for owner in list(self._waiting):
                    jobs = self._waiting.pop(owner)
                    if jobs:
                        job = jobs.popleft()
                        if jobs:
                            self._waiting[owner] = jobs  # behind the others, whose turn is next
                        return job
                self._changed.wait()
        return None

    def _run(self) -> None:
        while (job := self._next()) is not None:
            self._guarded(job)

    def _guarded(self, job: Job) -> None:
        # On a thread of its own, so that a bug does not end the queue.
        worker = Thread(target=self._work, args=(job,), name="job", daemon=True)
        worker.start()
        worker.join()
        if not job.over.is_set():
            job.problem, job.state = _CRASHED, "failed"
            job.over.set()

    def _work(self, job: Job) -> None:
        try:
            job.step(0.0)
            job.state = "hearing"
            job.result = job.work(job)
            job.state = "done"
        except Stopped as e:
            job.state, job.problem = "stopped", e
        except OffbookError as e:
            job.fail(e)
        job.over.set()


_CRASHED = OffbookError(
    "offbook failed while it heard this recording",
    "it is kept: hear it again, and report what the terminal says",
)
