"""The page to print: the same report as semantic HTML, on A4, in black and white, with nothing fetched."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby

from offbook import __version__
from offbook.cli.run_report import facts, headline, numbered_noun, sureness, time_rows
from offbook.desk import PLACES, Heard, filled_template, speech_name
from offbook.notes import (
    CARE,
    SAID_BEFORE,
    Kind,
    Note,
    NotedLine,
    NotedWord,
    SpokenScript,
    dropped_rows,
    marks_used,
    noted_lines,
)
from offbook.phrasing import jump_clock
from offbook.words import counted, number_of, where


@dataclass(frozen=True)
class Span:
    """Neighbouring words of one line under one note, or under none. said: what is above them."""

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
    page = SpokenScript.of(heard.script, heard.words)
    lines = noted_lines(heard.script, heard.words, heard.review)
    return filled_template(
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
        times=time_rows(page, heard),
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


def _lines(lines: list[NotedLine]) -> list[PageLine]:
    out: list[PageLine] = []
    for k, row in enumerate(lines):
        gap = k > 0 and lines[k - 1].stanza != row.stanza
        out.append(PageLine(row.number, gap, tuple(_spans(row.cells))))
    return out


def _spans(cells: list[NotedWord]) -> list[Span]:
    """The cells of a row, gathered by the note they are under."""
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


def _note(page: SpokenScript, note: Note) -> dict[str, str]:
    return {
        "at": jump_clock(note.at) if note.at is not None else "",
        "number": number_of(page.script, page.words[note.first]),
        "kind": note.kind,
        "detail": note.detail,
    }


def _places(page: SpokenScript, heard: Heard) -> list[dict[str, str]]:
    return [
        {
            "at": jump_clock(p.at) if p.at is not None else "",
            "where": where(page.script, page.words, p.first, p.last),
            "what": p.what,
            "do": p.do,
        }
        for p in heard.review.places[:PLACES]
    ]
