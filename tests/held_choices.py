"""Held values of small decisions that whole pages and whole run-throughs seldom bring to their limits.

Rows that are chosen by hand, the paragraphs of a document, old forms made modern, calls for the line, what
is said about the joins in a film, and which places of a review come first.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product
from pathlib import Path
from types import SimpleNamespace
from typing import cast

from offbook.audio.film import FilmFacts
from offbook.audio.in_step import EARLIEST, LATEST
from offbook.audio.joins import Join
from offbook.audio.light import Light
from offbook.audio.quality import (
    CLIPPED_SHARE,
    ECHO_SECONDS,
    NARROW_HZ,
    NOISY_SNR_DB,
    POOR_SNR_DB,
    QUIET_LUFS,
    quality_line,
)
from offbook.delivery.statement import ShiftStatement
from offbook.delivery.stretches import StretchFinding
from offbook.delivery.take_review import _worth_a_look
from offbook.desk.live_sound import _mono
from offbook.errors import ScriptError
from offbook.lexicon.letter_to_sound import _aphetic
from offbook.notes.asides import ExtrasBetween, _call_for_line
from offbook.notes.quoting import SpokenScript
from offbook.notes.restarts import find_restart
from offbook.score import Extra
from offbook.script import Script, parse_script
from offbook.script.formats.built import _PROSE, Builder
from offbook.script.respoken import RespokenStretch, respoken
from offbook.script.sheet import text_rows
from offbook.takes import RecordingFacts, _step, _unbroken
from offbook.thoughts.archaic import modern
from offbook.words import words_of
from tests.held import Rows, told
from tests.performing import perform
from tests.test_notes import SAID, SCRIPT

PLAY = """THE GATE

WARDEN: Who goes there?

MARA: Perhaps the tide took every light. (She sits.)
Stay a little, and I will tell you
what it was.

It was late.
The lamp was out.
"""
POEM = """The lamp was lit before the tide came in,
  And still he counted.

But one was late;
I held the rail.
"""


def _spoken(script: Script) -> str:
    lines = " / ".join(f"{x.n}.{x.paragraph} {'v' if x.verse else 'p'} {x.text}" for x in script.lines)
    return f"{lines} [{'; '.join(f'{o.reason} {o.start}-{o.end}' for o in script.left_out)}] {script.form}"


def rows_by_hand() -> Iterator[str]:
    """Each row, and each two in a row, chosen as spoken or as not; then a part of a row, and all rows."""
    for text in (PLAY, POEM):
        script = parse_script(text, part="MARA" if "MARA" in text else None)
        rows = [row for row in text_rows(text) if not row.blank]
        wholes = [(a.start, b.end) for k, a in enumerate(rows) for b in rows[k : k + 2]]
        for (start, end), spoken in product([*wholes, (3, 9), (0, len(text))], (True, False)):
            try:
                found = _spoken(respoken(script, [RespokenStretch(start, end, spoken)]))
            except ScriptError as error:
                found = f"refused: {error.what}"
            yield f"{start}-{end} {'spoken' if spoken else 'not'}: {found}"


def paragraphs() -> Iterator[str]:
    """Short and long paragraphs one after the other, by their style, and the cells of a table."""
    short, long = "Stay a while. ", "x" * (_PROSE + 1)
    for first, then in product(("short", "long", "bound"), repeat=2):
        said = {"short": short, "long": long, "bound": long[1:]}
        built = Builder()
        for part in (said[first], said[then], said["short"]):
            built.paragraph([(part, False, "")], "Normal")
        text = built.page().text
        yield f"{first}, {then}: {[text.count(mark) for mark in (chr(10), chr(10) * 2)]}"
    styles = ("Normal", "Heading 1", "Heading 2", "Title", "Character", "Stage Direction", "Scene Heading")
    for style, then, same_row in product(styles, ("Normal", "Character", "Heading 1"), (None, True)):
        built = Builder()
        built.paragraph([("  MARA ", True, ""), ("waits. ", True, "")], style)
        built.paragraph([("Ben", False, ""), ("1", False, "footnote"), (" ", True, "")], then, same_row)
        page = built.page()
        yield f"{style}, {then}, {same_row}: {page.text!r} {page.title!r} {told(page.marks)} {page.italics}"


OLD = "thine mine art walk'd pray'd lov'd ow'd couldst know'st hav'st goeth teeth dieth runneth cometh best"
NEAR = "knowest hast comest nearest lovest sayest sittest 'd eth est"


BEHEADED = "gainst twixt neath fore mongst scape nough stead lamp less bout"


def old_forms() -> Iterator[str]:
    """Old words before a vowel or a consonant, near `thou` or not, by the forms that the parser knows."""
    forms = (*OLD.split(), *NEAR.split(), "Thine", "LOV'D")
    known = {
        "walked",
        "prayed",
        "loved",
        "owed",
        "know",
        "have",
        "goes",
        "runs",
        "comes",
        "come",
        "love",
        "say",
    }
    for form in forms:
        yield f"{form}: " + ", ".join(
            modern(form, after, near, (known | {"sit"}).__contains__)
            for after, near in product(("eyes", "lamp", ""), (True, False))
        )


def calls() -> Iterator[str]:
    """Words that are not in the script, with silence between them: which of them call for the line."""
    script = parse_script("The lamp was lit before the tide came in, and we held the line till morning.\n")
    page = SpokenScript.of(script, words_of(script))
    for words in (
        "line",
        "sorry line",
        "lamp line",
        "line before the",
        "what's the line please tide",
        "prompt line",
    ):
        for place, gap, before, after in product((4, 9), (0.1, 0.3), (0.0, 0.2, 0.6), (0.1, 0.4)):
            tokens = words.split()
            at = [1.0 + k * (0.2 + gap) for k in range(len(tokens))]
            extras = tuple(Extra(place, w, t, t + 0.2, 0.9) for w, t in zip(tokens, at, strict=True))
            found = _call_for_line(page, ExtrasBetween(place, extras, before, after))
            if found is not None:
                yield f"{words} at {place}, {gap} {before} {after}: {told(found)}"


def restarts() -> Iterator[str]:
    """Stretches of the script said again before a word: whole, with a word in them, several in a row."""
    page = SpokenScript.of(SCRIPT, words_of(SCRIPT))
    place = 20
    for back, count in product((-4, -1, 0, 1, 3, 5, 15), (1, 2, 3, 5)):
        first = place - back
        words = SAID[first : first + count]
        ways = {
            "whole": words,
            "stranger": [*words[:-2], "zebra", *words[-1:]],
            "runs": [*words, *words[-2:]],
        }
        found = [(way, find_restart(page, place, said)) for way, said in ways.items()]
        rows = [f"{way} {r.first}-{r.last}{' exact' * r.exact}{' ahead' * r.ahead}" for way, r in found if r]
        yield f"{count} from {first} before {place}: {'; '.join(rows) or 'none'}"


def other_orders() -> Iterator[str]:
    """Words and phrases that are said in another order: the notes on each."""
    for k in range(0, 56, 5):
        a, b = SAID[:k], SAID[k + 6 :]
        one, two, three, four, five, six = SAID[k : k + 6]
        orders = {
            "two": (two, one, three, four, five, six), "three": (two, three, one, four, five, six),
            "later": (two, three, four, five, one, six), "earlier": (five, one, two, three, four, six),
            "phrases": (four, five, three, one, two, six), "and dropped": (three, one, four, five, six),
        }  # fmt: skip
        for name, order in orders.items():
            found = perform(SCRIPT, " ".join([*a, *order, *b]))
            notes = "; ".join(f"{n.kind} {n.first}-{n.last} {n.script}/{n.heard}" for n in found.notes)
            yield f"{name} at {k}: {notes}; {[(x.kind, x.words) for x in found.asides]} {len(found.added)}"


def joins() -> Iterator[str]:
    """What is said about a film with likely and possible joins, by what the brief asks for."""
    found = (Join(3.0, "possible", "the light jumps"), Join(65.5, "likely", "the picture jumps"))
    many = tuple(Join(float(k), "possible", f"jump {k}") for k in range(5))
    for joined, whole, wanted in product(((), found[:1], found, many), (True, False), (None, True, False)):
        film = FilmFacts(joined, Light(None, 0.0, 0.0, "left"), None, whole)
        yield f"{len(joined)} {whole} {wanted}: {told(_unbroken(film, wanted))}"


def worth_a_listen() -> Iterator[str]:
    """Shifts of each grade, heard and not heard, and what else is noticeable: which of them come first."""

    def shift(word: int, grade: int, audible: str, confidence: float) -> ShiftStatement:
        return ShiftStatement(word, grade, float(word), audible, confidence, (), None, None, "")  # type: ignore[arg-type]

    rushed = StretchFinding("rushed", 1, 2, 0.5, "fast")
    for grades in product((1, 2, 3), repeat=2):
        for audible in ("not heard", "slight", "heard"):
            shifts = [shift(k, grade, audible, 0.6 + k / 10) for k, grade in enumerate((*grades, 2), 1)]
            shifts.append(shift(9, 2, "not heard", 0.95))
            places = _worth_a_look(shifts, [rushed])
            yield f"{grades} {audible}: {[getattr(p, 'before_word', 'rushed') for p in places]}"


def beginnings_left_out() -> Iterator[str]:
    """How words are said without their first syllable."""
    for rest in BEHEADED.split():
        for depth in (0, 1):
            yield f"{rest} {depth}: {' or '.join(' '.join(phones) for phones in _aphetic(rest, depth))}"


def in_step() -> Iterator[str]:
    """What is said about the sound of a film, by how late it is."""
    for late in (None, -0.3, EARLIEST - 0.001, EARLIEST, 0.0, LATEST, LATEST + 0.001, 0.5):
        film = FilmFacts((), Light(None, 0.0, 0.0, "left"), late, True)
        facts = cast(RecordingFacts, SimpleNamespace(film=film, path=Path("a take.mp4")))
        yield f"{late}: {told(_step(facts))}"


def channels() -> Iterator[str]:
    """Sound with one channel and with two, whole and with one or two bytes too many."""
    for size, count in product(range(7, 13), (1, 2, 3)):
        yield f"{size} bytes, {count}: {_mono(bytes(range(size)), count).hex()}"


def quality_at_its_bounds() -> Iterator[str]:
    """Each measure of the sound at its limit, below it and above it, while the others are fine."""
    fine = {"loudness": -20.0, "snr": 40.0, "clipped": 0.0, "bandwidth": 8000.0, "decay": 0.1}
    bounds = {
        "snr": (NOISY_SNR_DB, POOR_SNR_DB), "clipped": (CLIPPED_SHARE, 20 * CLIPPED_SHARE),
        "decay": (ECHO_SECONDS,), "loudness": (QUIET_LUFS,), "bandwidth": (NARROW_HZ,),
    }  # fmt: skip
    for name, values in bounds.items():
        for value, off in product(values, (-1e-6, 0.0, 1e-6)):
            yield f"{name} {value} {off:+g}: {quality_line(**fine | {name: value + off})}"


SCRIPT_PARTS: dict[str, Rows] = {
    "rows chosen by hand": rows_by_hand,
    "paragraphs of a document": paragraphs,
}
WORD_PARTS: dict[str, Rows] = {
    "old forms made modern": old_forms,
    "beginnings left out": beginnings_left_out,
}
HEARING_PARTS: dict[str, Rows] = {
    "calls for the line": calls,
    "restarts": restarts,
    "words in another order": other_orders,
}
SOUND_PARTS: dict[str, Rows] = {
    "joins in a film": joins,
    "places worth a listen": worth_a_listen,
    "sound that comes late": in_step,
    "channels brought to one": channels,
    "the quality at its bounds": quality_at_its_bounds,
}
