"""The speech model, read on a thread of its own while the rest gets ready.

Reading a model takes most of a second, nearly all of it outside Python: begun first, it is done by the time
the libraries are loaded, the script is read and the sound is measured.
"""

from __future__ import annotations

from concurrent.futures import Future
from threading import Thread
from typing import TYPE_CHECKING

from offbook.errors import OffbookError

if TYPE_CHECKING:
    from offbook.recognise import VoskRecogniser


class Loading:
    """A speech model on its way. name: a model's name or folder, None for the default."""

    def __init__(self, name: str | None) -> None:
        self._read: Future[VoskRecogniser] = Future()
        # A daemon: where the script or the recording is at fault, nobody waits for the model.
        Thread(target=self._load, args=(name,), name="model", daemon=True).start()

    def result(self) -> VoskRecogniser:
        """The model, once it is read. Raises ModelError."""
        return self._read.result()

    def _load(self, name: str | None) -> None:
        try:
            from offbook import models
            from offbook.recognise import VoskRecogniser

            self._read.set_result(VoskRecogniser(models.model_folder(name)))
        except OffbookError as e:
            self._read.set_exception(e)
        except BaseException as e:  # whoever waits must hear of it
            self._read.set_exception(e)
            raise
