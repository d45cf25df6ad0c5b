"""The screens of the page, in the order in which their routes are added."""

from __future__ import annotations

from offbook.page.app import Screens
from offbook.page.day import add_day
from offbook.page.everybody import add_everybody
from offbook.page.parcels import add_parcels
from offbook.page.pieces import add_pieces
from offbook.page.record import add_record
from offbook.page.reviewing import add_reviewing
from offbook.page.run_notes import add_notes
from offbook.page.sending import add_sending
from offbook.page.settings import add_settings
from offbook.page.sitting import add_drill
from offbook.page.text import add_text

SCREENS: list[Screens] = [
    add_pieces,
    add_text,
    add_record,
    add_notes,
    add_reviewing,
    add_day,
    add_drill,
    add_settings,
    add_sending,
    add_parcels,
    add_everybody,
]
