"""The three places to work on, and what to do there.

The weight of a note is how much the slip would disturb somebody who follows in the book: most of all a line
that was not said, then a call for the line, a dry, a line out of order, a content word, a small word. The
weights of all notes on one line (in prose, on one sentence) are added up, and so are those of dropped lines
that follow one another. The weights are common practice, no source: losing the thread is worse than losing a
word.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from rapidfuzz.distance import LCSseq

from offbook.lexicon import phones_of
from offbook.notes.kinds import Dry, Kind, Note, PlaceToWorkOn
from offbook.notes.quoting import SpokenScript, shorten
from offbook.notes.slips import NOT_UNDERSTOOD, holds_a_line, named_there
from offbook.score import SOMETHING_ELSE
from offbook.spelling import plain_spelling
from offbook.words import contraction

_WEIGHT: dict[Kind, float] = {
    "prompted": 6.0, "swapped": 2.0, "dropped": 1.0, "changed": 1.0, "added": 1.0, "repeated": 1.0,
    "unsure": 0.0,
}  # fmt: skip
_SENSE = 2.0  # of a content word; that of a small word is 1
_LINE = 10.0  # of a whole line
_DRY = 5.0
_CONTRACTED = 0.5  # times the weight, if only a short form was said for a full one, or the other way round
# Set by hand: other lines were said if at least so many words were heard, and less than this share of them is
# in the script.
_WHOLE_LINE, _SHARED = 6, 0.25
# That count in one changed or dropped phrase, which is one slip even if it is longer; set by hand
_MOST_WORDS = 4
# Quoted in the advice, set by hand so that a sentence stays short: characters of a phrase and of one in
# another order; words of a cue and of what follows it.
_QUOTED, _QUOTED_ORDER, _CUE_WORDS = 30, 50, 4

CARE = (
    "Half voice is enough for this. If your voice hurts, or hoarseness lasts, stop and see a qualified"
    " voice teacher or a doctor."
)


def weigh(page: SpokenScript, note: Note, whole_lines: frozenset[int]) -> float:
    """How much a slip would disturb somebody who follows in the book.

    whole_lines: the numbers of the lines that were completely dropped.
    """
    weight = _WEIGHT[note.kind]
    if note.kind == "dropped" and holds_a_line(page, note.first, note.last, whole_lines):
        return _LINE * sum(n in whole_lines for n in range(note.line, page.line_of(note.last) + 1))
    if note.kind in ("dropped", "changed"):
        if note.heard and contraction(note.script, note.heard):
            return _CONTRACTED * weight
        each = sorted(
            (1.0 if page.small(i) else _SENSE for i in range(note.first, note.last + 1)), reverse=True
        )
        return weight * sum(each[:_MOST_WORDS])
    if note.kind == "swapped":
        return weight * min(_MOST_WORDS, max(1, (note.last - note.first + 1) // 2))
    return weight


def places_to_work_on(
    page: SpokenScript, notes: Sequence[Note], dries: Sequence[Dry], whole: frozenset[int]
) -> tuple[PlaceToWorkOn, ...]:
    """All places with something to work on, those with the highest weight first, then the earlier ones."""
    keys: dict[int, list[Note | Dry]] = {}
    joined = _joined(page, whole)
    found_here: list[Note | Dry] = [*notes, *dries]
    for each in found_here:
        if isinstance(each, Note) and each.kind == "unsure":
            continue
        word = each.first if isinstance(each, Note) else each.before_word
        keys.setdefault(joined(min(word, len(page) - 1)), []).append(each)
    found = [_place(page, group, whole) for group in keys.values()]
    return tuple(sorted(found, key=lambda p: (-p.weight, p.first)))


def _joined(page: SpokenScript, whole: frozenset[int]) -> Callable[[int], int]:
    """A function that gives the key of the place a word belongs to.

    A place is a line of verse, a sentence of prose, or a row of dropped lines.
    """

    def key(i: int) -> int:
        n = page.line_of(i)
        if n in whole:
            while n - 1 in whole:
                n -= 1
            return n
        return n if page.line(n).verse else -page.words[i].sentence

    return key


def _place(page: SpokenScript, group: Sequence[Note | Dry], whole: frozenset[int]) -> PlaceToWorkOn:
    notes = tuple(e for e in group if isinstance(e, Note))
    dries = tuple(e for e in group if isinstance(e, Dry))
    weights = {n: weigh(page, n, whole) for n in notes}
    firsts = [n.first for n in notes] + [min(d.before_word, len(page) - 1) for d in dries]
    lasts = [n.last for n in notes] + [min(d.before_word, len(page) - 1) for d in dries]
    first, last = min(firsts), max(lasts)
    heaviest = max(notes, key=lambda n: weights[n]) if notes else None
    if heaviest is not None and (not dries or weights[heaviest] >= _DRY):
        what, do, at = heaviest.detail, advice(page, heaviest, whole), heaviest.at
    else:
        d = dries[0]
        what = f"a dry of {d.seconds:.1f} s before “{shorten(_from(page, d.before_word), _QUOTED)}”"
        do, at = _cue(page, d.before_word), d.at
    return PlaceToWorkOn(
        (page.line_of(first), page.line_of(last)), first, last, at,
        sum(weights.values()) + _DRY * len(dries), notes, dries, what, do,
    )  # fmt: skip


def _from(page: SpokenScript, i: int) -> str:
    i = min(i, len(page) - 1)
    return page.wording(i, min(i + _CUE_WORDS, len(page) - 1))


def _cue(page: SpokenScript, i: int) -> str:
    """How to practise coming in at word `i` after the words before it."""
    if i <= 0:
        return "Begin cold, from silence, three times: know the first words before you breathe in."
    return f"{_way_in(page, i)}, three times."


def _way_in(page: SpokenScript, i: int) -> str:
    """How to come in at word `i`, after silence or after the words before it."""
    if i <= 0:
        return "Begin cold, from silence"
    cue = page.wording(max(0, i - _CUE_WORDS), i - 1)
    return f"Take “{cue}” as the cue and go straight on to “{shorten(_from(page, i), _QUOTED)}”"


def _makes_sense(heard: str) -> bool:
    """Whether what was heard can be compared with the script: all words were understood and are real words.

    A noise that was written down as letters has no sense to compare.
    """
    return SOMETHING_ELSE not in heard and all(phones_of(w) for w in heard.split())


def _other_lines(note: Note) -> bool:
    """Whether so much else was said that it is not just another wording of the script."""
    heard, script = note.heard.split(), re.findall(r"[\w']+", plain_spelling(note.script))
    return len(heard) >= _WHOLE_LINE and LCSseq.similarity(heard, script) < _SHARED * len(heard)


def advice(page: SpokenScript, note: Note, whole: frozenset[int]) -> str:
    """What to do about a note: one or two sentences, something to try at once."""
    first, last = note.first, note.last
    if note.heard == NOT_UNDERSTOOD:
        script = shorten(note.script, _QUOTED)
        meant = f" If it was “{script}”, put the verdict right." if note.script else ""
        return f"Listen to this place: the words could not be understood.{meant}"
    if note.kind == "dropped" and holds_a_line(page, first, last, whole):
        after = shorten(_from(page, last + 1), _QUOTED)
        then = f", and on into “{after}”" if last + 1 < len(page) else ""
        why = "Decide why you say this next" if first > 0 else "Ask what makes you begin to speak"
        return f"{why}. {_way_in(page, first)}{then}, three times."
    if note.kind == "prompted":
        return _cue(page, first)
    if note.kind == "dropped":
        gone = shorten(note.script, _QUOTED)
        return f"Say {named_there(page, first)} slowly, leaning on “{gone}”, then three times as you mean it."
    if note.kind == "changed" and not _makes_sense(note.heard):
        said = shorten(note.script, _QUOTED)
        return f"Say {named_there(page, first)} slowly, with “{said}”, then three times as you mean it."
    if note.kind == "changed" and contraction(note.script, note.heard):
        return f"The meaning is the same, but say “{note.script}” as written: the rhythm depends on it."
    if note.kind == "changed" and first == last and page.small(first):
        small = f"A small word: “{note.script}”, not “{note.heard}”."
        return f"{small} Say {named_there(page, first)} three times with it."
    if note.kind == "changed" and _other_lines(note):
        return f"{_way_in(page, first)}, three times: you said other lines here."
    if note.kind == "changed":
        script, heard = shorten(note.script, _QUOTED), shorten(note.heard, _QUOTED)
        where = named_there(page, first)
        return f"Ask what “{script}” gives you that “{heard}” does not, then {where} three times."
    if note.kind == "added":
        return (
            f"Say {named_there(page, first)} without “{note.heard}”: where the line moves, it needs no help."
        )
    if note.kind == "swapped":
        order = shorten(note.script, _QUOTED_ORDER)
        return f"Find the reason for the order and see it so: “{order}”. Then three times."
    return f"Breathe before the thought, not inside it: take {named_there(page, first)} in one go."
