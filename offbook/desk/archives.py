"""The whole journal into one archive and back: both go through the same gate, briefs included."""

from __future__ import annotations

from typing import TYPE_CHECKING

from offbook.desk.journal_open import opened_journal

if TYPE_CHECKING:
    from pathlib import Path

    from offbook.journal import Carried


def fits_brief(text: str, zone: str) -> None:
    """Raise ValueError where `text`, meant in the time zone `zone`, cannot be read as a brief."""
    from offbook import brief
    from offbook.moment import zone_named

    try:
        brief.parse_brief(text, zone_named(zone))
    except brief.BriefError as e:
        raise ValueError(e.what) from e


def export_to(target: Path) -> Carried:
    """Write the whole journal to the new file `target` and prove it. Raises JournalError."""
    from offbook.journal import export

    with opened_journal() as journal:
        return export(journal, target, fits_brief)


def import_from(source: Path) -> Carried:
    """Read what is whole of an archive into the journal. Raises JournalError where nothing is."""
    from offbook.journal import read_in

    with opened_journal() as journal:
        return read_in(journal, source, fits_brief)
