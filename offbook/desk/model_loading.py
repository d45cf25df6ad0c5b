"""The speech models, loaded on threads of their own while everything else gets ready.

Loading a model takes most of a second, and nearly all of that outside Python. If it begins first, it is done
by the time the libraries are loaded, the script is read and the sound is measured.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import dataclass
from threading import Thread
from typing import TYPE_CHECKING, TypeVar

from offbook.errors import OffbookError

if TYPE_CHECKING:
    from offbook.recognise import VoskRecogniser, WordingScorer


_T = TypeVar("_T")


@dataclass(frozen=True)
class Ears:
    """The models that a run-through is heard with.

    second: None where no second ear was asked for, or none was fetched.
    """

    first: VoskRecogniser
    second: WordingScorer | None

    @property
    def name(self) -> str:
        """The models' names, for reports."""
        return self.first.name if self.second is None else f"{self.first.name} and {self.second.name}"


# What reading the models imports. Two threads that import large libraries at the same time can wait for each
# other without end (see `offbook.late`), so the threads below import nothing themselves.
_READ_WITH = ("offbook.models", "offbook.recognise", "vosk", "onnxruntime")


class Loading:
    """Speech models that are being loaded. name: their names or folders; None for the usual ones."""

    def __init__(self, name: str | None) -> None:
        for library in _READ_WITH:
            importlib.import_module(library)
        self._name = name
        self._first: Future[VoskRecogniser] = Future()
        self._second: Future[WordingScorer | None] = Future()
        # Daemons, so that a command which fails for another reason does not wait for the models.
        Thread(target=_read, args=(self._first, self._read_first), name="model", daemon=True).start()
        Thread(target=_read, args=(self._second, self._read_second), name="second model", daemon=True).start()

    def result(self) -> Ears:
        """The models, as soon as they are loaded. Raises ModelError."""
        return Ears(self._first.result(), self._second.result())

    def _read_first(self) -> VoskRecogniser:
        from offbook import models
        from offbook.recognise import VoskRecogniser

        return VoskRecogniser(models.model_folder(self._name))

    def _read_second(self) -> WordingScorer | None:
        from offbook import models
        from offbook.recognise import OnnxScorer

        folder = models.second_folder(self._name)
        return None if folder is None else OnnxScorer(folder)


def _read(into: Future[_T], read: Callable[[], _T]) -> None:
    try:
        into.set_result(read())
    except OffbookError as e:
        into.set_exception(e)
    except BaseException as e:  # whoever waits must hear of it
        into.set_exception(e)
        raise
