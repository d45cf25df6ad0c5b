"""The page to print: the same report as semantic HTML, on A4, in black and white, with nothing fetched."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby

from offbook import __version__
from offbook.cli.run_report import clock, facts, headline, numbered_noun, sureness, times
from offbook.cli.sheets import filled
from offbook.desk import PLACES, Heard, speech_name
from offbook.notes import CARE, SAID_BEFORE, Cell, Kind, Note, Page, Row, dropped_rows, marks_used, rows
from offbook.words import counted, number_of, where


@dataclass(frozen=True)
class Span:
    """Neighbouring words of one line under one note, or under none. said: what stands above them."""

    glue: str
    text: str
    kind: Kind | None
    said: str
    spoken: str


@dataclass(frozen=True)
class PageLine:
    """A verse line, or a sentence of prose, for the page. gap: a stanza or paragraph begins here."""

    number: str
    gap: bool
    spans: tuple[Span, ...]


def page_of(heard: Heard) -> str:
    """The whole page as one HTML document."""
    page = Page.of(heard.script, heard.words)
    lines = rows(heard.script, heard.words, heard.review)
    return filled(
        "run.html",
        title=speech_name(heard),
        headline=headline(heard),
        facts=facts(page, heard),
        sound=heard.sound,
        dropped=_dropped(heard),
        lines=_lines(lines),
        noun=numbered_noun(page),
        counted=counted(heard.script),
        used=marks_used(lines),
        notes=[_note(page, n) for n in heard.review.notes],
        times=times(page, heard),
        sure=sureness(heard),
        places=_places(page, heard),
        care=CARE,
        recording=heard.recording.name,
        recorded=heard.recorded_at.strftime("%Y-%m-%d %H:%M UTC"),
        model=heard.model,
        version=__version__,
    )


def _dropped(heard: Heard) -> list[tuple[str, str]]:
    return [(row.number, row.text) for row in dropped_rows(heard.script, heard.words, heard.review)]


def _lines(lines: list[Row]) -> list[PageLine]:
    out: list[PageLine] = []
    for k, row in enumerate(lines):
        gap = k > 0 and lines[k - 1].stanza != row.stanza
        out.append(PageLine(row.number, gap, tuple(_spans(row.cells))))
    return out


def _spans(cells: list[Cell]) -> list[Span]:
    """The cells of a row, gathered by the note they stand under."""
    out: list[Span] = []
    for _, group in groupby(cells, key=lambda c: (id(c.note), not c.text)):
        each = list(group)
        text = each[0].text + "".join(c.glue + c.text for c in each[1:])
        note = each[0].note
        if note is None:
            out.append(Span(each[0].glue, text, None, "", ""))
        else:
            out.append(Span(each[0].glue, text, note.kind, each[0].above, SAID_BEFORE[note.kind]))
    return out


def _note(page: Page, note: Note) -> dict[str, str]:
    return {
        "at": clock(note.at) if note.at is not None else "",
        "number": number_of(page.script, page.words[note.first]),
        "kind": note.kind,
        "detail": note.detail,
    }


def _places(page: Page, heard: Heard) -> list[dict[str, str]]:
    return [
        {
            "at": clock(p.at) if p.at is not None else "",
            "where": where(page.script, page.words, p.first, p.last),
            "what": p.what,
            "do": p.do,
        }
        for p in heard.review.places[:PLACES]
    ]
