"""Mutants put into a running process: the tests are collected once, and each mutant is a fork that changes one function.

A fork that imports everything again takes three to six seconds before its first test; this one takes hundredths. What
it can't reach is a value that was worked out from the changed one when the modules were imported: a mutant that is
missed here and could be such a one is tried again from its file (`bench/mutants.py`).
"""

from __future__ import annotations

import functools
import gc
import importlib
import json
import os
import re
import shutil
import signal
import sys
from collections.abc import Iterator
from pathlib import Path
from types import CodeType, FunctionType, ModuleType
from typing import Any

import pytest
from mutant_reach import ended, every_module, in_pytest
from mutant_sites import Site

CANNOT = (
    71  # the fork's status when the mutant can't be put in: it does not compile, or its function is not there
)
SIMPLE = (int, float, str, bytes, tuple, list, dict, set, frozenset, re.Pattern, type(None))
# What takes seconds to load and is the same with every mutant outside its own module.
LOADED = [("offbook.thoughts.parse", "pipeline"), ("offbook.lexicon.cmudict_data", "_text")]


def _codes(code: CodeType) -> Iterator[CodeType]:
    for part in code.co_consts:
        if isinstance(part, CodeType):
            yield part
            yield from _codes(part)


def put_in(site: Site, path: str, source: bytes) -> bool:
    """Puts the mutant into this process. False when it can't be."""
    changed = source[: site.start] + site.then.encode() + source[site.end :]
    try:
        whole = compile(changed, path, "exec", dont_inherit=True)
    except SyntaxError:
        return False
    module = sys.modules[site.module.removesuffix(".py").removesuffix("/__init__").replace("/", ".")]
    _forget(module)
    return _function(site, path, whole) if site.outer else _values(module, whole)


def _forget(module: ModuleType) -> None:
    """Empties the caches of one module."""
    for value in list(vars(module).values()):
        if isinstance(value, functools._lru_cache_wrapper):
            value.cache_clear()


def _function(site: Site, path: str, whole: CodeType) -> bool:
    code = next((c for c in _codes(whole) if c.co_firstlineno == site.outer), None)
    found = [
        f
        for f in gc.get_objects()
        if isinstance(f, FunctionType)
        and f.__code__.co_filename == path
        and f.__code__.co_firstlineno == site.outer
    ]
    if code is None or not found:
        return False
    for function in found:
        if len(function.__code__.co_freevars) != len(code.co_freevars):
            return False
        function.__code__ = code
    return True


def _values(module: ModuleType, whole: CodeType) -> bool:
    """The plain values that a module's own lines make, put wherever the package has them."""
    fresh = ModuleType(module.__name__)
    fresh.__dict__.update({k: v for k, v in vars(module).items() if k.startswith("__")})
    before = sys.modules[module.__name__]
    sys.modules[module.__name__] = fresh
    try:
        exec(
            whole, fresh.__dict__
        )  # what it raises ends the fork: a module that can't be imported is noticed
    finally:
        sys.modules[module.__name__] = before
    put = False
    ours = [m for name, m in sys.modules.items() if name.startswith("offbook") and isinstance(m, ModuleType)]
    for name, new in vars(fresh).items():
        old = vars(module).get(name)
        if name.startswith("__") or not isinstance(new, SIMPLE) or old == new:
            continue
        put = True
        for each in ours:
            if name in vars(each) and vars(each)[name] is old:
                setattr(each, name, new)
    return put


class Live:
    """A pytest plugin that, instead of running the tests, waits for mutants and runs some of the tests with each."""

    def __init__(self, top: Path, orders: int, answers: int) -> None:
        self.top = top
        self.orders = os.fdopen(orders, "r")
        self.answers = os.fdopen(answers, "w")

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Reads orders, one JSON line each, until there are none."""
        every_module()
        for name, called in LOADED:
            getattr(importlib.import_module(name), called)()
        items = {item.nodeid: item for item in session.items}
        base: Path = session.config._tmp_path_factory.getbasetemp()  # type: ignore[attr-defined]
        gc.freeze()
        self._say({"ready": len(items)})
        for line in self.orders:
            order = json.loads(line)
            child = os.fork()
            if child == 0:
                os.setsid()
                chosen = [(items[n], limit) for n, limit in order["tests"] if n in items]
                self._run(session, chosen, order["site"])
            self._say({"status": ended(child, order["seconds"])})
            for left in base.iterdir():
                shutil.rmtree(left, ignore_errors=True)
        return True

    def _say(self, what: dict[str, Any]) -> None:
        self.answers.write(json.dumps(what) + "\n")
        self.answers.flush()

    def _run(self, session: pytest.Session, items: list[tuple[pytest.Item, float]], told: list[Any]) -> None:
        """Ends this process: 0 when all tests pass, CANNOT, else 1, for a mutant may raise anything."""
        status = 1
        try:
            gc.unfreeze()
            site = Site(*told)
            path = self.top / site.module
            if not put_in(site, str(path), path.read_bytes()):
                status = CANNOT
                return
            for (item, limit), after in zip(items, [*(i for i, _ in items[1:]), None], strict=True):
                signal.setitimer(signal.ITIMER_PROF, limit)  # kills a test that never ends
                item.config.hook.pytest_runtest_protocol(item=item, nextitem=after)
                if session.testsfailed:
                    return
            status = 0
        finally:
            os._exit(status)


class LiveServer:
    """The process that has collected the tests, and what it says of a mutant."""

    def __init__(self, top: Path, arguments: list[str], told: Path) -> None:
        orders, self._orders = os.pipe()
        self._answers, answers = os.pipe()
        self.process = os.fork()
        if self.process == 0:
            os.close(self._orders)
            os.close(self._answers)
            try:
                sys.dont_write_bytecode = True
                in_pytest(top, arguments, [Live(top, orders, answers)], told)
            finally:
                os._exit(0)
        os.close(orders)
        os.close(answers)
        self._to, self._from = os.fdopen(self._orders, "w"), os.fdopen(self._answers, "r")
        self.ready = int(self._next()["ready"])

    def _next(self) -> dict[str, Any]:
        line = self._from.readline()
        if not line:
            raise RuntimeError("the process that collects the tests ended")
        answer: dict[str, Any] = json.loads(line)
        return answer

    def status(self, site: Site, tests: list[tuple[str, float]], seconds: float) -> int:
        """0 when all these tests pass with the mutant, CANNOT, FAILED_TO_FINISH, else anything.

        tests: each with the seconds of processor time that it may take. seconds: for all, by the clock.
        """
        order = {"site": list(site.told), "tests": tests, "seconds": seconds}
        self._to.write(json.dumps(order) + "\n")
        self._to.flush()
        return int(self._next()["status"])

    def close(self) -> None:
        """Ends the process."""
        self._to.close()
        os.waitpid(self.process, 0)
