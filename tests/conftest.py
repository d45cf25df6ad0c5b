"""Fixtures that several files of tests share."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest
from hypothesis import settings

if TYPE_CHECKING:
    from offbook.page import PageServer
    from tests.pages import Visitor


# An example that takes long on a busy machine is no fault; how long things take is for bench/.
settings.register_profile("offbook", deadline=None)
settings.load_profile("offbook")


@pytest.fixture(scope="session", autouse=True)
def tables_made_once() -> Iterator[None]:
    """The migrations run once in a process; each new journal after that is given the tables they made."""
    from tests.once import upgrade_once

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("offbook.journal.opening._upgrade", upgrade_once)
        yield


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[PageServer]:
    """A page on a journal of its own, for one file of tests."""
    from tests.pages import served  # here, so that tests without a page do not load its framework

    with served(tmp_path_factory.mktemp("home")) as found:
        yield found


@pytest.fixture(scope="module")
def visitor(server: PageServer) -> Visitor:
    """Somebody who came in with a link."""
    from tests.pages import let_in

    return let_in(server)
