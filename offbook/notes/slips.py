"""Line notes: each slip in a sentence for the performer, at its place in the script.

Words side by side that went wrong are one note; a whole dropped line is a note of its own. The notes on what
was repeated, prompted or corrected are made from the asides, and those on what could not be judged from the
unsure words.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from offbook.notes.kinds import Aside, DroppedLine, Kind, Note
from offbook.notes.quoting import SpokenScript, shorten
from offbook.notes.repair import heard_for, wrong_runs
from offbook.notes.swaps import Swap
from offbook.score import SOMETHING_ELSE, Extra, Run
from offbook.spelling import plain_spelling
from offbook.words import contraction, where

_SURE_CONFIDENCE = 0.7  # confidence: below it the recogniser itself was not sure; set by hand
# Letters of a word, and of an ending that was added or left out; set by hand
_SHORTEST_STEM, _LONGEST_ENDING = 3, 3
# What a note has as heard where several words were not understood. SOMETHING_ELSE is a single word that is
# certainly not the script's, but is not known.
NOT_UNDERSTOOD = f"{SOMETHING_ELSE} {SOMETHING_ELSE}"
_MOST_FOR_ONE_WORD = 3  # script words that one word may have replaced; set by hand
_SEVERAL_LINES = 2  # a performer who went back so many lines is told how far; set by hand
# Quoted in a note, set by hand so that it stays short: characters of the script beside what was heard, of a
# sentence that is named by its beginning, and of a place; words at the beginning and at the end of a place.
_QUOTED_SCRIPT, _QUOTED_SENTENCE, _QUOTED_PLACE = 60, 34, 30
_WORDS_AFTER, _WORDS_BEFORE = 4, 3


def dropped_lines(page: SpokenScript, run: Run, swaps: Sequence[Swap]) -> tuple[DroppedLine, ...]:
    """The lines of which no word was said, in order.

    A line that was said somewhere else is swapped, not dropped.
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
    """A name for where word `i` is: "line 5" in verse, in prose the first words of its sentence, quoted."""
    i = min(i, len(page) - 1)
    line = page.line(page.line_of(i))
    if line.verse:
        return f"line {line.n}"
    sentence = [w.i for w in page.words if w.sentence == page.words[i].sentence]
    return f"“{shorten(page.wording(sentence[0], sentence[-1]), _QUOTED_SENTENCE)}”"


def time_near(run: Run, i: int) -> float | None:
    """When word `i` was said (s); None where nothing was heard at all.

    If it was not said, when the words before it end, or else when those behind it begin.
    """
    if i < len(run.words):
        start = run.words[i].start
        if start is not None:
            return start
    ended = [w.end for w in run.words[:i] if w.end is not None]
    if ended:
        return ended[-1]
    begun = [w.start for w in run.words[i:] if w.start is not None]
    return begun[0] if begun else None


def _note(
    page: SpokenScript, kind: Kind, span: tuple[int, int], heard: str, at: float | None, detail: str
) -> Note:
    """A note on the script words of `span` (first and last), which it quotes as printed."""
    first, last = span
    return Note(kind, first, last, page.wording(first, last), heard, at, page.line_of(first), detail)


def slip_notes(
    page: SpokenScript, run: Run, added: Sequence[Extra], swaps: Sequence[Swap], lines: Sequence[DroppedLine]
) -> list[Note]:
    """The notes on dropped, changed and added words, except those in swaps."""
    swapped = {i for s in swaps for i in range(s.first, s.last + 1)}
    whole = {d.line for d in lines}
    notes, used = [], set[Extra]()
    for first, last in wrong_runs(run.words):
        for a, b in _divided(page, run, first, last, swapped, whole):
            at_line = holds_a_line(page, a, b, whole)
            near = () if at_line else tuple(e for e in added if a <= e.before_word <= b + 1 and e not in used)
            used.update(near)
            notes.append(_note_on_wrong_words(page, run, a, b, near, whole=at_line))
    rest = [e for e in added if e not in used]
    while rest:
        place = rest[0].before_word
        group = [e for e in rest if e.before_word == place]
        rest = [e for e in rest if e.before_word != place]
        notes.append(_note_on_added_words(page, place, group))
    return notes


def holds_a_line(page: SpokenScript, first: int, last: int, whole: Collection[int]) -> bool:
    """Whether one of the lines from word `first` to word `last` was completely dropped."""
    return any(n in whole for n in range(page.line_of(first), page.line_of(last) + 1))


def _divided(
    page: SpokenScript, run: Run, first: int, last: int, swapped: set[int], whole: set[int]
) -> list[tuple[int, int]]:
    """Words side by side that went wrong, divided where a swap or a completely dropped line begins or ends.

    Words missing at the beginning or the end of the speech are not divided: the performer began late, or
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


def _note_on_wrong_words(
    page: SpokenScript, run: Run, a: int, b: int, near: tuple[Extra, ...], *, whole: bool
) -> Note:
    """The note on words a to b, which were changed or dropped.

    near: added words beside them, which belong to the same slip. whole: there is a completely dropped line
    among the words.
    """
    heard = heard_for(run, a, b, near)
    said = " ".join(h[2] for h in heard)
    script = page.wording(a, b)
    if not said:
        detail = _left_out(page, a, b) if whole else f"“{shorten(script)}” was not said"
        return _note(page, "dropped", (a, b), "", time_near(run, a), detail)
    if SOMETHING_ELSE in said and (said != SOMETHING_ELSE or b - a >= _MOST_FOR_ONE_WORD):
        said = NOT_UNDERSTOOD
        detail = f"what was said here was not understood; the script has “{shorten(script, _QUOTED_SCRIPT)}”"
    elif SOMETHING_ELSE in said:
        detail = f"you said something else; the script has “{shorten(script, _QUOTED_SCRIPT)}”"
    elif contraction(" ".join(page.forms[a : b + 1]), said):
        detail = f"you said “{said}”: the same meaning, but the script has “{script}”"
    elif a == b and not near and _ending_only(page.forms[a], said):
        detail = f"nearly right: you said “{said}” for “{script}”, only the ending differs"
    else:
        detail = f"you said “{said}”; the script has “{shorten(script, _QUOTED_SCRIPT)}”"
    return _note(page, "changed", (a, b), said, heard[0][0], detail)


def _left_out(page: SpokenScript, a: int, b: int) -> str:
    """A sentence that says that words a to b were not said, where whole lines are among them."""
    first, last, end = page.line_of(a), page.line_of(b), len(page) - 1
    verse = page.line(first).verse
    cut_before = a > 0 and page.line_of(a - 1) == first
    cut_behind = b < end and page.line_of(b + 1) == last
    if a > 0 and b == end and (cut_before or not verse):
        return f"you stopped after “{_words_up_to(page, a - 1)}”: the rest was not said"
    if a == 0 and b < end and (cut_behind or not verse):
        return f"you began at “{_words_from(page, b + 1)}”: what comes before it was not said"
    if not verse:
        return f"“{shorten(page.wording(a, b))}” was not said"
    return f"{'the whole line was' if first == last else f'lines {first} to {last} were'} not said"


def _ending_only(form: str, said: str) -> bool:
    """Whether two words differ only in an ending: "ship" and "ships", "climb" and "climbed"."""
    short, long = sorted((form, said), key=len)
    return (
        len(short) >= _SHORTEST_STEM and long.startswith(short) and len(long) - len(short) <= _LONGEST_ENDING
    )


def _note_on_added_words(page: SpokenScript, place: int, group: Sequence[Extra]) -> Note:
    """The note on words that were added before script word `place`."""
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
    """A note for every swap: in which order the words were said, or where they were said instead."""
    notes = []
    for s in swaps:
        if s.moved_to is None:
            detail = f"the words came in another order: you said “{shorten(s.heard)}”"
        else:
            there = min(s.moved_to, len(page) - 1)
            side = "before" if s.moved_to < len(page) else "after"
            spot = where(page.script, page.words, there, there)
            detail = f"you said this somewhere else: {side} “{_words_from(page, there)}” ({spot})"
        notes.append(_note(page, "swapped", (s.first, s.last), s.heard, s.at, detail))
    return notes


def _words_from(page: SpokenScript, i: int) -> str:
    """A few words from word `i` on, to name a place by."""
    return shorten(page.wording(i, min(i + _WORDS_AFTER, len(page) - 1)), _QUOTED_PLACE)


def _words_up_to(page: SpokenScript, i: int) -> str:
    """A few words up to word `i`, to name a place by."""
    return page.wording(max(0, i - _WORDS_BEFORE), i)


def aside_notes(page: SpokenScript, asides: Sequence[Aside]) -> list[Note]:
    """The notes on what was said again, corrected or prompted. Fillers, titles and talk give none."""
    notes: list[Note] = []
    for a in asides:
        here = min(a.before_word, len(page) - 1)
        first, last = a.words if a.words is not None else (here, here)
        span = min(first, len(page) - 1), min(last, len(page) - 1)  # a call after the last word
        if a.kind == "prompt":
            notes.append(_note(page, "prompted", span, a.heard, a.start, _prompted(a)))
        elif a.kind == "restart":
            notes.append(_note(page, "repeated", span, a.heard, a.start, _restart(page, a, span)))
        elif a.kind == "cut short":
            detail = f"you began “{page.words[here].text}”, broke off and said it"
            notes.append(_note(page, "repeated", span, a.heard, a.start, detail))
        elif a.kind == "correction":
            detail = f"you said “{a.heard}” first and corrected it at once: that counts as said"
            notes.append(_note(page, "repeated", span, a.heard, a.start, detail))
    return notes


def _prompted(a: Aside) -> str:
    """A sentence on a prompt: who asked for it and what was given."""
    if a.given:
        why = "you asked for the line and" if a.asked else "after a silence you"
        return f"{why} were given “{shorten(a.heard)}”"
    if a.asked:
        return "you asked for the line"
    return "after a silence these words were heard twice: perhaps somebody gave you the line"


def _restart(page: SpokenScript, a: Aside, span: tuple[int, int]) -> str:
    """A sentence on words of the script (`span`, first and last) that were said again."""
    first, last = span
    if a.before_word == first == 0 and page.line_of(last) - page.line_of(first) >= _SEVERAL_LINES:
        whole = last == len(page) - 1
        return f"you {'said it all' if whole else 'began'}, then began again: the last time counts"
    if first > a.before_word:
        return f"you jumped ahead to “{_words_from(page, first)}” and came back"
    if page.line_of(a.before_word) - page.line_of(first) >= _SEVERAL_LINES:
        return f"you went back to “{_words_from(page, first)}” and said it again"
    if first == last:
        return f"you said “{page.words[first].text}” twice"
    return "you went back and said these words again"


def unsure_notes(page: SpokenScript, run: Run) -> list[Note]:
    """One note, with the reason, for every run of words side by side that could not be judged."""
    notes: list[Note] = []
    doubtful = [w.i for w in run.words if w.verdict == "unsure"]
    while doubtful:
        first = last = doubtful.pop(0)
        while doubtful and doubtful[0] == last + 1:
            last = doubtful.pop(0)
        each = run.words[first : last + 1]
        heard = " ".join(w.heard for w in each if w.heard)
        notes.append(
            _note(
                page,
                "unsure",
                (first, last),
                heard,
                time_near(run, first),
                _why_unsure(page, run, first, last),
            )
        )
    return notes


def _why_unsure(page: SpokenScript, run: Run, first: int, last: int) -> str:
    """A sentence that says why words first to last could not be judged."""
    each = run.words[first : last + 1]
    heard = " ".join(w.heard for w in each if w.heard)
    script = page.wording(first, last)
    sure = [w.confidence for w in each if w.confidence is not None]
    if not heard:
        return f"“{script}”: nothing was heard clearly here"
    if SOMETHING_ELSE in heard:
        return f"“{script}”: what was said here was not understood"
    if plain_spelling(heard) == " ".join(page.forms[first : last + 1]):
        return f"“{script}” was heard, but only faintly"
    if sure and min(sure) < _SURE_CONFIDENCE:
        return f"“{script}”: only “{heard}” was heard, and that faintly"
    return f"“{script}” or “{heard}”: the two could not be told apart"
