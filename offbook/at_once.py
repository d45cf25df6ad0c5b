"""An executor without threads or processes: for one core, and for whoever wants to see each step happen."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor, Future
from typing import ParamSpec, TypeVar

_Given = ParamSpec("_Given")
_Made = TypeVar("_Made")


class AtOnce(Executor):
    """Does what it is given there and then, on the thread that gives it."""

    def submit(
        self, fn: Callable[_Given, _Made], /, *args: _Given.args, **kwargs: _Given.kwargs
    ) -> Future[_Made]:
        """A future that is done already; what `fn` raises is raised here."""
        done: Future[_Made] = Future()
        done.set_result(fn(*args, **kwargs))
        return done
