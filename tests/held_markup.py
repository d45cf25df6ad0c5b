"""Held values of marked scripts: rows, notes, sheets for printing and teaching, small texts."""

from __future__ import annotations

import json
from collections.abc import Iterator
from functools import partial

from offbook import pencil
from offbook.cli.run_lines import draw, key
from offbook.cli.screen import chance_shown, json_plain, seconds_shown
from offbook.markup import (
    MarkedScript,
    block_notes,
    foot,
    head,
    limit_in_words,
    look_up_rows,
    mark,
    marked_as_json,
    marked_blocks,
    marked_rows,
    sheet,
    summary,
    taught,
    teaching_rows,
    teaching_sheet,
    without_phrases,
)
from offbook.notes import noted_lines as note_rows
from offbook.phrasing import clock_time, plural
from offbook.script import parse_script
from offbook.words import words_of
from tests import test_markup, test_verse
from tests.held import Rows, told
from tests.performing import perform
from tests.test_notes import SCRIPT, WHOLE

PENCIL = "up the | stair again\nfor the boats + Who steers\nBut he ||| only laughed\n    I nearly smile\n"
TEXTS: dict[str, tuple[str, str, str | None]] = {
    "verse": (test_markup.VERSE, "", None),
    "prose with the performer's marks": (test_markup.PROSE, PENCIL, None),
    "one part of a scene": (test_markup.SCENE, "", "HALE"),
    "a ballad": (test_verse.BALLAD, "", None),
    "broken verse": (test_verse.SCENE, "", None),
}


def marked_of(title: str) -> MarkedScript:
    """One of the texts, marked."""
    text, own, part = TEXTS[title]
    script = parse_script(text, title="lamp", part=part)
    words = words_of(script)
    return mark(script, words, pencil.read_pencil(own, words))


def marked(title: str) -> Iterator[str]:
    """Everything that is printed for a marked script, and its JSON."""
    found = marked_of(title)
    for each in (found, without_phrases(found)):
        for width in (44, 80, 130):
            for row in marked_rows(each, width, width == 130):
                yield "|".join(f"{p.kind} {p.text}" if p.kind != "text" else p.text for p in row)
    for limit in (None, 5.0, 8.0, 12.0, 60.0):
        yield from ("".join(p.text for p in row) for row in head(found, limit, 80))
        if limit is not None:
            yield limit_in_words(found, limit)
        yield json.dumps(marked_as_json(found, limit)["time"])
    yield from ("".join(p.text for p in row) for row in foot(found, 60))
    yield from (told(each) for each in (summary(found), look_up_rows(found)))
    for block in marked_blocks(found):
        yield told([block_notes(found, block), block_notes(found, block, True)])


def sheets(title: str) -> Iterator[str]:
    """The sheet for printing, and the sheet for teaching."""
    found = marked_of(title)
    yield from sheet(found, 9.0, True).split("\n")
    if not any(line.verse for line in found.script.lines):
        return
    yield from (told(line) for line in taught(found))
    for width in (50, 90):
        yield from ("".join(p.text for p in row) for row in teaching_rows(found, width))
    yield from teaching_sheet(found).split("\n")[-40:]


def drawn() -> Iterator[str]:
    """Notes drawn into the lines of a run-through, in windows of several widths."""
    said = WHOLE.replace("open on the stair", "open stair").replace("copper pan", "iron kettle")
    said = said.replace("no rent was", "[3] line [1] no rent was").replace("nested in", "nested um in")
    lines = note_rows(SCRIPT, words_of(SCRIPT), perform(SCRIPT, said))
    for width in (24, 40, 60, 100):
        yield from key(lines, width)
        yield from (
            f"{text.plain!r} {[(s.start, s.end, str(s.style)) for s in text.spans]}"
            for text in draw(lines, width)
        )


def small() -> Iterator[str]:
    """Clock times, seconds, chances, plurals and plain values as they are shown."""
    seconds = (0.0, 0.4, 0.5, 1.0, 9.95, 59.4, 59.5, 60.0, 61.0, 599.6, 3599.0, 3600.0, 7384.2)
    yield ", ".join(f"{s:g} {clock_time(s)} {seconds_shown(s)}" for s in seconds)
    yield ", ".join(f"{c} {chance_shown(c)}" for c in (None, 0.0, 0.004, 0.01, 0.5, 0.955, 0.99, 0.996, 1.0))
    yield ", ".join(plural(n, noun) for n in (0, 1, 2) for noun in ("word", "box", "day", "sentence"))
    yield told([json_plain(x) for x in (None, 0.123456, 3, "x", True)])


PARTS: dict[str, Rows] = {
    **{title: partial(marked, title) for title in TEXTS},
    **{f"sheets of {title}": partial(sheets, title) for title in TEXTS},
    "notes in their lines": drawn,
    "small text": small,
}
