"""Fixtures that several files of tests share."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from offbook.page import PageServer
    from tests.pages import Visitor


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
