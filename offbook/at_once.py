"""An executor without threads or processes: for a machine with one core, and for tests."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor, Future
from typing import ParamSpec, TypeVar

_Given = ParamSpec("_Given")
_Made = TypeVar("_Made")


class AtOnce(Executor):
    """Runs each call at once, on the caller's own thread."""

    def submit(
        self, fn: Callable[_Given, _Made], /, *args: _Given.args, **kwargs: _Given.kwargs
    ) -> Future[_Made]:
        """Run `fn` and return a future with its result. An exception of `fn` is raised here."""
        done: Future[_Made] = Future()
        done.set_result(fn(*args, **kwargs))
        return done
