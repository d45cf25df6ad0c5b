"""Serving the page: one process on 127.0.0.1, on a port of the system's choosing, until it is closed.

waitress serves Flask: the work behind a screen is plain blocking code that threads suit, and where the
performer is in the text travels back with each piece of sound, so that nothing needs a socket of its own
(measured in docs/page.md).
"""

from __future__ import annotations

import json
import time
import urllib.error
import urllib.request
import webbrowser
from collections.abc import Callable
from pathlib import Path
from threading import Event, Thread
from typing import Any

from waitress.server import create_server

from offbook import late
from offbook.errors import JournalError
from offbook.intake import at_least
from offbook.journal import Journal
from offbook.outgoing import write_whole
from offbook.page.app import Screens, make_app
from offbook.page.door import ENTRANCE, HEADER, HOST, Door
from offbook.page.left_behind import delete_old_drafts
from offbook.page.room import Room

THREADS = 8  # requests served at once: a tab asks for few at a time
LARGEST_BODY = 256 << 20  # bytes of one request; a browser sends larger recordings in slices
BESIDE = 1 << 20  # bytes of a form beside its file
_ANSWERING_SECONDS = 0.3  # in which the page that says so reaches the browser
_REACH_SECONDS = 3.0  # in which another server of this journal, on the same machine, answers if there is one
_CLOSING_SECONDS = 5.0  # that the last answers may take
_STATE = "page.json"  # beside the journal, readable by its owner alone
_OPENING = "open-offbook.html"  # what the browser is given; readable by its owner alone too


class PageServer:
    """The server of one journal. Made, it listens; `run` serves until `stop`."""

    def __init__(self, journal: Journal, screens: list[Screens], room: Room | None = None) -> None:
        late.whole("offbook.desk")
        self.room = room or Room(journal)
        delete_old_drafts(journal.home / "coming-in", time.time())
        self.door = Door()
        self._stopping = Event()
        app = make_app(self.room, self.door, screens, self.stop)
        self.app = app
        self._server: Any = create_server(
            app,
            host=HOST,
            port=0,
            threads=THREADS,
            max_request_body_size=at_least(LARGEST_BODY) + BESIDE,
            ident=None,
        )
        self.door.port = self._server.effective_port
        self._state = journal.home / _STATE
        try:
            write_whole(self._state, json.dumps(self._shown()))
        except OSError as e:
            raise JournalError(
                f"the page cannot be opened: {self._state} cannot be written ({e.strerror})",
                "free some space there, and allow offbook to write to the folder",
            ) from e

    def _shown(self) -> dict[str, Any]:
        return {"port": self.door.port, "place": self.door.place, "again": self.door.again}

    def run(self) -> None:
        """Serve until `stop` is called or the process is interrupted; then finish what is being heard."""
        serving = Thread(target=self._server.run, name="page", daemon=True)
        serving.start()
        self.room.warm()
        try:
            self._stopping.wait()
        finally:
            self.room.finish()
            time.sleep(_ANSWERING_SECONDS)
            # In the server's own thread, which would otherwise wait on what is closed under it.
            self._server.trigger.pull_trigger(self._let_go)
            serving.join(timeout=_CLOSING_SECONDS)
            self._server.task_dispatcher.shutdown()
            for name in (_STATE, _OPENING):
                (self._state.parent / name).unlink(missing_ok=True)

    def _let_go(self) -> None:
        self._server.asyncore.close_all(self._server._map, ignore_all=True)

    def stop(self) -> None:
        """Stop serving. Returns at once; safe from any thread."""
        self._stopping.set()


def running(home: Path) -> str | None:
    """A new link of the server that is running on this journal, None where there is none."""
    try:
        there = json.loads((home / _STATE).read_text(encoding="utf-8"))
        base = f"http://{HOST}:{int(there['port'])}/{there['place']}"
        asked = urllib.request.Request(
            f"{base}/{ENTRANCE}/again", method="POST", data=b"", headers={HEADER: str(there["again"])}
        )
        opener = urllib.request.build_opener(urllib.request.ProxyHandler({}))
        with opener.open(asked, timeout=_REACH_SECONDS) as answer:
            return str(answer.read().decode())
    except (OSError, ValueError, KeyError, TypeError):
        return None


def open_browser(home: Path, link: str, opener: Callable[[str], bool] = webbrowser.open) -> bool:
    """Open the link in the person's browser, without putting it where other users could read it.

    A command line can be read by everybody on the machine: the browser is given a file instead, which only
    its owner may read and which leads on to the page.
    """
    file = home / _OPENING
    page = (
        f'<!doctype html><meta charset="utf-8"><meta http-equiv="refresh" content="0; url={link}">'
        f'<title>offbook</title><a href="{link}">Open offbook</a>\n'
    )
    try:
        write_whole(file, page)
        return opener(file.absolute().as_uri())
    except (OSError, webbrowser.Error):
        return False
