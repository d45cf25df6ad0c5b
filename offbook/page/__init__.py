"""The page: everything without a terminal, in the performer's own browser, from this machine alone.

`serve` opens the journal's page on 127.0.0.1 and returns when it is closed. `door` says who may come in,
`app` puts the screens together, `room` holds what they share; each screen is a module with its routes.
"""

from __future__ import annotations

from offbook.page.screens import SCREENS
from offbook.page.server import PageServer, open_browser, running

__all__ = ["SCREENS", "PageServer", "open_browser", "running"]
