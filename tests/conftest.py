"""Fixtures that several files of tests share."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import settings

if TYPE_CHECKING:
    from offbook.page import PageServer
    from tests.pages import Visitor


# An example that takes long on a busy machine is no fault; how long things take is for bench/.
settings.register_profile("offbook", deadline=None)
settings.register_profile("quick", deadline=None, max_examples=10)  # `make quick`; `make test` draws 100
settings.load_profile("offbook")


@pytest.fixture(scope="session", autouse=True)
def made_once() -> Iterator[None]:
    """Things that take long and are always the same are made once in a process.

    The migrations run once, and each later journal gets copies of the tables that they made. A query is
    written as SQL once. A journal does not wait for the disk: what is left after a kill or on a full disk
    is tested with processes of their own (tests/test_journal_harm.py). spaCy parses the same text once, the
    pitch of the same sound is measured once, and the models of both ears are read once.
    """
    from tests import once

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("offbook.thoughts.parse.pipeline", once.pipeline_once)
        patch.setattr("offbook.delivery.take_review.pitch_track", once.pitch_once)
        patch.setattr("offbook.desk.model_loading.Loading._read_first", once.first_ear_once)
        patch.setattr("offbook.desk.model_loading.Loading._read_second", once.second_ear_once)
        patch.setattr("offbook.journal.opening._upgrade", once.upgrade_once)
        patch.setattr("offbook.journal.opening.create_engine", once.engine_with_known_queries)
        patch.setattr("offbook.journal.opening._sqlite_pragmas", once.pragmas_without_waiting)
        yield


# How much is made before Python looks for what could be thrown away (its own: 700, 10, 10). A process of
# tests keeps a million objects to its end, and looking through them took a twelfth of its time.
gc.set_threshold(20_000, 10, 10)


@pytest.fixture
def own_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A home folder of its own for commands that look into the journal.

    It is never that of the person who runs the tests.
    """
    home = tmp_path / "home"
    monkeypatch.setenv("OFFBOOK_HOME", str(home))
    monkeypatch.delenv("OFFBOOK_JOURNAL", raising=False)
    return home


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[PageServer]:
    """A page with a journal of its own, for one file of tests."""
    from tests.pages import served  # here, so that tests without a page do not load its framework

    with served(tmp_path_factory.mktemp("home")) as found:
        yield found


@pytest.fixture(scope="module")
def visitor(server: PageServer) -> Visitor:
    """Somebody who came to the page with a link."""
    from tests.pages import let_in

    return let_in(server)
