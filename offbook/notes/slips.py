"""Line notes: each slip in a performer's words, at its place in the script.

Words in a row that went wrong are one note (a dropped phrase, a changed phrase); a whole dropped line is a
note of its own. Notes on what was repeated, prompted or corrected are made from the asides, and notes on what
could not be judged from the unsure words.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from offbook.notes.kinds import Aside, DroppedLine, Kind, Note
from offbook.notes.quoting import SpokenScript, shorten
from offbook.notes.repair import bad_runs, heard_between
from offbook.notes.swaps import Swap
from offbook.score import SOMETHING_ELSE, Extra, Run
from offbook.spelling import plain_spelling
from offbook.words import contraction, where

_SURE = 0.7  # confidence: below it the recogniser itself was not sure; set by hand
# Letters of a word, and of an ending that was added or left out; set by hand
_SHORTEST_STEM, _LONGEST_ENDING = 3, 3
# What a note has as heard, if nobody could understand a stretch. A single word that is certainly not the
# script's, but unknown, is SOMETHING_ELSE.
NOT_UNDERSTOOD = f"{SOMETHING_ELSE} {SOMETHING_ELSE}"
_ONE_SLIP = 3  # words of the script that one word may stand for; set by hand
_SEVERAL_LINES = 2  # repeated lines from which on a note says how far the performer went back; set by hand
# Quoted in a note, set by hand so that it stays short: characters of the script beside what was heard, of a
# sentence that is named by its beginning, and of a place; words at the beginning and at the end of a place.
_QUOTED_SCRIPT, _QUOTED_SENTENCE, _QUOTED_PLACE = 60, 34, 30
_WORDS_AFTER, _WORDS_BEFORE = 4, 3


def dropped_lines(page: SpokenScript, run: Run, swaps: Sequence[Swap]) -> tuple[DroppedLine, ...]:
    """The lines of which no word was said, in order.

    A line that was said elsewhere is swapped, not dropped.
    """
    moved = {i for s in swaps for i in range(s.first, s.last + 1)}
    by_line: dict[int, list[int]] = {}
    for word in page.words:
        by_line.setdefault(word.line, []).append(word.i)
    return tuple(
        DroppedLine(n, each[0], each[-1])
        for n, each in by_line.items()
        if all(run.words[i].verdict == "dropped" and i not in moved for i in each)
    )


def named_there(page: SpokenScript, i: int) -> str:
    """What to say again around word `i`: "line 5", or for prose the sentence, quoted by its first words."""
    i = min(i, len(page) - 1)
    line = page.line(page.line_of(i))
    if line.verse:
        return f"line {line.n}"
    sentence = [w.i for w in page.words if w.sentence == page.words[i].sentence]
    return f"“{shorten(page.wording(sentence[0], sentence[-1]), _QUOTED_SENTENCE)}”"


def time_near(run: Run, i: int) -> float | None:
    """When word `i` was said, in seconds; if it was not said, the end of the words before it."""
    if i < len(run.words):
        start = run.words[i].start
        if start is not None:
            return start
    ended = [w.end for w in run.words[:i] if w.end is not None]
    if ended:
        return ended[-1]
    begun = [w.start for w in run.words[i:] if w.start is not None]
    return begun[0] if begun else None


def _make(
    page: SpokenScript, kind: Kind, span: tuple[int, int], heard: str, at: float | None, detail: str
) -> Note:
    first, last = span
    return Note(kind, first, last, page.wording(first, last), heard, at, page.line_of(first), detail)


def slip_notes(
    page: SpokenScript, run: Run, added: Sequence[Extra], swaps: Sequence[Swap], lines: Sequence[DroppedLine]
) -> list[Note]:
    """The notes on dropped, changed and added words, except those in swaps."""
    swapped = {i for s in swaps for i in range(s.first, s.last + 1)}
    whole = {d.line for d in lines}
    notes, used = [], set[Extra]()
    for first, last in bad_runs(run.words):
        for a, b in _pieces(page, run, first, last, swapped, whole):
            at_line = holds_a_line(page, a, b, whole)
            near = () if at_line else tuple(e for e in added if a <= e.before_word <= b + 1 and e not in used)
            used.update(near)
            notes.append(_wrong(page, run, a, b, near, whole=at_line))
    rest = [e for e in added if e not in used]
    while rest:
        place = rest[0].before_word
        group = [e for e in rest if e.before_word == place]
        rest = [e for e in rest if e.before_word != place]
        notes.append(_added(page, place, group))
    return notes


def holds_a_line(page: SpokenScript, first: int, last: int, whole: Collection[int]) -> bool:
    """Whether one of the lines from word `first` to word `last` was completely dropped."""
    return any(n in whole for n in range(page.line_of(first), page.line_of(last) + 1))


def _pieces(
    page: SpokenScript, run: Run, first: int, last: int, swapped: set[int], whole: set[int]
) -> list[tuple[int, int]]:
    """Wrong words in a row, divided where a swap or a completely dropped line begins or ends.

    Words missing at the beginning or the end of the speech are one piece: the performer began late, or
    stopped.
    """
    edge = first == 0 or last == len(page) - 1
    gone = all(run.words[i].verdict == "dropped" and i not in swapped for i in range(first, last + 1))
    if edge and gone and holds_a_line(page, first, last, whole):
        return [(first, last)]
    pieces: list[tuple[int, int]] = []
    for i in range(first, last + 1):
        if i in swapped:
            continue
        joined = bool(pieces) and pieces[-1][1] == i - 1
        before, here = page.line_of(i - 1) in whole if i else False, page.line_of(i) in whole
        if joined and before == here:
            pieces[-1] = (pieces[-1][0], i)
        else:
            pieces.append((i, i))
    return pieces


def _wrong(page: SpokenScript, run: Run, a: int, b: int, near: tuple[Extra, ...], *, whole: bool) -> Note:
    heard = heard_between(run, a, b, near)
    said = " ".join(h[2] for h in heard)
    script = page.wording(a, b)
    if not said:
        detail = _left_out(page, a, b) if whole else f"“{shorten(script)}” was not said"
        return _make(page, "dropped", (a, b), "", time_near(run, a), detail)
    if SOMETHING_ELSE in said and (said != SOMETHING_ELSE or b - a >= _ONE_SLIP):
        said = NOT_UNDERSTOOD
        detail = f"what was said here was not understood; the script has “{shorten(script, _QUOTED_SCRIPT)}”"
    elif SOMETHING_ELSE in said:
        detail = f"you said something else; the script has “{shorten(script, _QUOTED_SCRIPT)}”"
    elif contraction(" ".join(page.forms[a : b + 1]), said):
        detail = f"you said “{said}”: the same meaning, but the script has “{script}”"
    elif a == b and not near and _ending_only(page.forms[a], said):
        detail = f"nearly: “{said}” for “{script}”, only the ending differs"
    else:
        detail = f"you said “{said}”; the script has “{shorten(script, _QUOTED_SCRIPT)}”"
    return _make(page, "changed", (a, b), said, heard[0][0], detail)


def _left_out(page: SpokenScript, a: int, b: int) -> str:
    """A sentence that says that words a to b, with whole lines among them, were not said."""
    first, last, end = page.line_of(a), page.line_of(b), len(page) - 1
    verse = page.line(first).verse
    cut_before = a > 0 and page.line_of(a - 1) == first
    cut_behind = b < end and page.line_of(b + 1) == last
    if a > 0 and b == end and (cut_before or not verse):
        return f"you stopped after “{_end(page, a - 1)}”: the rest was not said"
    if a == 0 and b < end and (cut_behind or not verse):
        return f"you began at “{_start(page, b + 1)}”: what comes before it was not said"
    if not verse:
        return f"“{shorten(page.wording(a, b))}” was not said"
    return f"{'the whole line was' if first == last else f'lines {first} to {last} were'} not said"


def _ending_only(form: str, said: str) -> bool:
    """Whether two words differ only in an ending: ship and ships, climb and climbed."""
    short, long = sorted((form, said), key=len)
    return (
        len(short) >= _SHORTEST_STEM and long.startswith(short) and len(long) - len(short) <= _LONGEST_ENDING
    )


def _added(page: SpokenScript, place: int, group: Sequence[Extra]) -> Note:
    said = " ".join(e.heard for e in group)
    by = min(place, len(page) - 1)
    after = f"after “{page.words[place - 1].text}”" if place else f"before “{page.words[0].text}”"
    verb = "is" if len(group) == 1 else "are"
    detail = f"“{said}”, {after}, {verb} not in the script"
    if SOMETHING_ELSE in said:
        said = NOT_UNDERSTOOD
        detail = f"{after}, something was said that was not understood and is not in the script"
    return Note("added", by, by, "", said, group[0].start, page.line_of(by), detail, before_word=place)


def swap_notes(page: SpokenScript, swaps: Sequence[Swap]) -> list[Note]:
    """A note for every swap: what was said in which order, or where a line was said instead."""
    notes = []
    for s in swaps:
        if s.moved_to is None:
            detail = f"in another order: you said “{shorten(s.heard)}”"
        else:
            there = min(s.moved_to, len(page) - 1)
            side = "before" if s.moved_to < len(page) else "after"
            spot = where(page.script, page.words, there, there)
            detail = f"said elsewhere: {side} “{_start(page, there)}” ({spot})"
        notes.append(_make(page, "swapped", (s.first, s.last), s.heard, s.at, detail))
    return notes


def _start(page: SpokenScript, i: int) -> str:
    """The words from `i` on, to name a place."""
    return shorten(page.wording(i, min(i + _WORDS_AFTER, len(page) - 1)), _QUOTED_PLACE)


def _end(page: SpokenScript, i: int) -> str:
    """The words up to `i`, to name a place."""
    return page.wording(max(0, i - _WORDS_BEFORE), i)


def aside_notes(page: SpokenScript, asides: Sequence[Aside]) -> list[Note]:
    """The notes on what was said twice, corrected, or prompted. Fillers, titles and talk give none."""
    notes: list[Note] = []
    for a in asides:
        here = min(a.before_word, len(page) - 1)
        first, last = a.words if a.words is not None else (here, here)
        span = min(first, len(page) - 1), min(last, len(page) - 1)  # a call after the last word
        if a.kind == "prompt":
            notes.append(_make(page, "prompted", span, a.heard, a.start, _prompted(a)))
        elif a.kind == "restart":
            notes.append(_make(page, "repeated", span, a.heard, a.start, _restart(page, a, span)))
        elif a.kind == "cut short":
            detail = f"“{page.words[here].text}” was begun twice"
            notes.append(_make(page, "repeated", span, a.heard, a.start, detail))
        elif a.kind == "correction":
            detail = f"“{a.heard}” came first and was corrected at once: counted as said"
            notes.append(_make(page, "repeated", span, a.heard, a.start, detail))
    return notes


def _prompted(a: Aside) -> str:
    if a.given:
        why = "you asked for the line and" if a.asked else "after a silence you"
        return f"{why} were given “{shorten(a.heard)}”"
    return "you asked for the line" if a.asked else "after a silence the words came twice: a prompt?"


def _restart(page: SpokenScript, a: Aside, span: tuple[int, int]) -> str:
    first, last = span
    if a.before_word == first == 0 and page.line_of(last) - page.line_of(first) >= _SEVERAL_LINES:
        whole = last == len(page) - 1
        return f"you {'said it all' if whole else 'began'}, then began again: the later time counts"
    if first > a.before_word:
        return f"you jumped ahead to “{_start(page, first)}” and came back"
    if page.line_of(a.before_word) - page.line_of(first) >= _SEVERAL_LINES:
        return f"you went back to “{_start(page, first)}” and said it again"
    again = "these words were" if last > first else f"“{page.words[first].text}” was"
    return f"{again} said twice, picked up again"


def unsure_notes(page: SpokenScript, run: Run) -> list[Note]:
    """One note for every run of neighbouring words that could not be judged, with the reason."""
    notes: list[Note] = []
    doubtful = [w.i for w in run.words if w.verdict == "unsure"]
    while doubtful:
        first = last = doubtful.pop(0)
        while doubtful and doubtful[0] == last + 1:
            last = doubtful.pop(0)
        each = run.words[first : last + 1]
        heard = " ".join(w.heard for w in each if w.heard)
        notes.append(
            _make(page, "unsure", (first, last), heard, time_near(run, first), _why(page, run, first, last))
        )
    return notes


def _why(page: SpokenScript, run: Run, first: int, last: int) -> str:
    each = run.words[first : last + 1]
    heard = " ".join(w.heard for w in each if w.heard)
    script = page.wording(first, last)
    sure = [w.confidence for w in each if w.confidence is not None]
    if not heard:
        return f"“{script}”: nothing was heard clearly here"
    if SOMETHING_ELSE in heard:
        return f"“{script}”: what was said here was not understood"
    if plain_spelling(heard) == " ".join(page.forms[first : last + 1]):
        return f"“{script}” was heard, but faintly"
    if sure and min(sure) < _SURE:
        return f"“{script}”: heard faintly, as “{heard}”"
    return f"“{script}” or “{heard}”: they could not be told apart"
