"""The page as tests use it: a server on a journal of its own, and a visitor that is no browser."""

from __future__ import annotations

import http.client
import json
import os
import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from threading import Event, Thread
from urllib.parse import urlencode

import pytest
from werkzeug.routing import Rule

from offbook.desk import Ears, Loading
from offbook.journal import open_journal
from offbook.page import SCREENS, PageServer
from offbook.page.room import Room

FORM = "application/x-www-form-urlencoded"


@dataclass
class Answer:
    """What came back. headers: by lower-case name."""

    status: int
    headers: dict[str, str]
    body: bytes

    @property
    def text(self) -> str:
        """The body as text."""
        return self.body.decode()

    @property
    def refusal(self) -> list[str]:
        """Of an answer to a script: its status, what has failed, and what to do."""
        told = json.loads(self.text)
        return [str(self.status), told["what"], told["do"]]


class UsualEars(Loading):
    """The usual speech models: read once in a process of tests, when something is first to be heard."""

    def __init__(self) -> None:
        """Begins nothing, so that the many tests in which nothing is heard do not read them."""

    def result(self) -> Ears:
        return Loading(None).result()  # which reads them once (tests/once.py)


class HeldBack(UsualEars):
    """Speech models that are there when the test says so."""

    def __init__(self) -> None:
        self.read = Event()

    def result(self) -> Ears:
        self.read.wait()
        return super().result()


@contextmanager
def served(
    home: Path, loading: Loading | None = None, clock: Callable[[], datetime] | None = None
) -> Iterator[PageServer]:
    """A server on the journal in `home`, stopped at the end as a person would stop it.

    loading: the speech models on their way, None for the usual ones when they are asked for. clock: None
    for the computer's.
    """
    journal = open_journal(clock or (lambda: datetime.now(UTC)), home=home)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Rule, "_compile_builder", _builder_when_asked)
        server = PageServer(journal, SCREENS, Room(journal, loading or UsualEars()))
    serving = Thread(target=server.run)
    serving.start()
    try:
        yield server
    finally:
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr("offbook.page.server._ANSWERING_SECONDS", 0.0)  # every answer was read by now
            server.stop()
            serving.join()
        journal.close()


_usual_builder = Rule._compile_builder


def _builder_when_asked(rule: Rule, append_unknown: bool = True) -> Callable[..., tuple[str, str]]:
    """What puts the addresses of a route together. werkzeug compiles two for each of the seventy routes of a
    server, and for most routes no test asks for an address: here they are compiled when one does."""
    made: list[Callable[..., tuple[str, str]]] = []

    def build(_: Rule, **values: object) -> tuple[str, str]:
        if not made:
            made.append(_usual_builder(rule, append_unknown))
        return made[0](rule, **values)

    return build


@dataclass
class Visitor:
    """Asks the server as any program of any user could: `headers` are what it knows."""

    port: int
    place: str
    headers: dict[str, str] = field(default_factory=dict)

    def ask(self, method: str, at: str, body: bytes = b"", **headers: str) -> Answer:
        """One request. at: below the place, or from the root where it begins with two slashes."""
        conn = http.client.HTTPConnection("127.0.0.1", self.port, timeout=300)
        try:
            path = at[1:] if at.startswith("//") else f"/{self.place}{at}"
            named = {k.replace("_", "-"): v for k, v in headers.items()}
            conn.request(method, path, body or None, self.headers | named)
            got = conn.getresponse()
            return Answer(got.status, {k.lower(): v for k, v in got.getheaders()}, got.read())
        finally:
            conn.close()

    def form(self, at: str, **fields: str) -> Answer:
        """A form of ours, sent."""
        return self.pairs(at, list(fields.items()))

    def pairs(self, at: str, fields: Sequence[tuple[str, str]]) -> Answer:
        """A form with several fields of one name, sent."""
        return self.ask("POST", at, urlencode(fields).encode(), Content_Type=FORM)


def stranger(server: PageServer) -> Visitor:
    """Somebody who knows the port, as every user of the machine can."""
    return Visitor(server.door.port, "anything")


def let_in(server: PageServer) -> Visitor:
    """Somebody who came in with a link, and knows the token of the forms."""
    visitor = Visitor(server.door.port, server.door.place)
    entered = visitor.ask("GET", server.door.link().partition(server.door.place)[2])
    visitor.headers["Cookie"] = entered.headers["set-cookie"].split(";")[0]
    found = re.search(r'name="_token" value="([^"]+)"', visitor.ask("GET", "/").text)
    assert found is not None
    visitor.headers |= {"X-Offbook-Token": found[1], "Origin": server.door.origin}
    return visitor


def add_piece(visitor: Visitor, text: str, name: str, **fields: str) -> str:
    """Add a script as the forms do; gives the key of its piece."""
    shown = visitor.form("/add", text=text, name=name)
    assert shown.status == 303, shown.text
    draft = shown.headers["location"].rsplit("/", 1)[1]
    kept = visitor.form(f"/add/{draft}", name=name, do="keep", **fields)
    assert kept.status == 303, kept.text
    return kept.headers["location"].rsplit("/", 1)[1]


def mode_of(path: Path) -> int:
    """The permission bits of a file."""
    return os.stat(path).st_mode & 0o777
