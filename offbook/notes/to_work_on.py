"""The places to work on, the most important one first, and what to try at each.

The weight of a note is how much the slip would disturb somebody who follows in the book: most of all a line
that was not said, then a call for the line, a dry, a line out of order, a content word, a small word. The
weights of all notes on one line (in prose, on one sentence) are added up, and so are those of dropped lines
that follow one another. The weights are common practice, no source: to lose the thread is worse than to lose
a word.
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
_CONTENT_WORD = 2.0  # the weight of a content word; that of a small word is 1
_DROPPED_LINE = 10.0  # the weight of a dropped line
_DRY = 5.0  # the weight of a dry
# Times the weight where only a short form was said for a full one, or the other way round.
_CONTRACTION_SHARE = 0.5
# Other lines were said if at least so many words were heard, and less than this share of them is in the
# script; set by hand.
_OTHER_LINE_WORDS, _OTHER_LINE_SHARE = 6, 0.25
# A changed or dropped phrase is one slip, so no more than so many of its words are weighed; set by hand.
_MOST_WORDS_WEIGHED = 4
# What the advice quotes, set by hand so that a sentence stays short: characters of a phrase, and of one that
# was said in another order; words of a cue, and of what follows it.
_QUOTED_CHARACTERS, _QUOTED_ORDER_CHARACTERS, _CUE_WORDS = 30, 50, 4

CARE = (
    "Half voice is enough for this. If your voice hurts, or hoarseness lasts, stop and see a qualified"
    " voice teacher or a doctor."
)


def note_weight(page: SpokenScript, note: Note, whole_lines: frozenset[int]) -> float:
    """The weight of a note: how much the slip would disturb somebody who follows in the book.

    whole_lines: the numbers of the lines that were completely dropped.
    """
    weight = _WEIGHT[note.kind]
    if note.kind == "dropped" and holds_a_line(page, note.first, note.last, whole_lines):
        return _DROPPED_LINE * sum(n in whole_lines for n in range(note.line, page.line_of(note.last) + 1))
    if note.kind in ("dropped", "changed"):
        if note.heard and contraction(note.script, note.heard):
            return _CONTRACTION_SHARE * weight
        each = sorted(
            (1.0 if page.is_small(i) else _CONTENT_WORD for i in range(note.first, note.last + 1)),
            reverse=True,
        )
        return weight * sum(each[:_MOST_WORDS_WEIGHED])
    if note.kind == "swapped":
        return weight * min(_MOST_WORDS_WEIGHED, max(1, (note.last - note.first + 1) // 2))
    return weight


def places_to_work_on(
    page: SpokenScript, notes: Sequence[Note], dries: Sequence[Dry], whole: frozenset[int]
) -> tuple[PlaceToWorkOn, ...]:
    """All places with something to work on, the heaviest first, of equal ones the earlier first.

    whole: the numbers of the lines that were completely dropped.
    """
    keys: dict[int, list[Note | Dry]] = {}
    joined = _place_key(page, whole)
    found_here: list[Note | Dry] = [*notes, *dries]
    for each in found_here:
        if isinstance(each, Note) and each.kind == "unsure":
            continue
        word = each.first if isinstance(each, Note) else each.before_word
        keys.setdefault(joined(min(word, len(page) - 1)), []).append(each)
    found = [_place(page, group, whole) for group in keys.values()]
    return tuple(sorted(found, key=lambda p: (-p.weight, p.first)))


def _place_key(page: SpokenScript, whole: frozenset[int]) -> Callable[[int], int]:
    """A function that gives a key for the place that a word belongs to.

    A place is a line of verse, a sentence of prose, or several dropped lines one after the other.
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
    """The place that these notes and dries are at; what to do there goes by the heaviest of them."""
    notes = tuple(e for e in group if isinstance(e, Note))
    dries = tuple(e for e in group if isinstance(e, Dry))
    weights = {n: note_weight(page, n, whole) for n in notes}
    firsts = [n.first for n in notes] + [min(d.before_word, len(page) - 1) for d in dries]
    lasts = [n.last for n in notes] + [min(d.before_word, len(page) - 1) for d in dries]
    first, last = min(firsts), max(lasts)
    heaviest = max(notes, key=lambda n: weights[n]) if notes else None
    if heaviest is not None and (not dries or weights[heaviest] >= _DRY):
        what, do, at = heaviest.detail, advice(page, heaviest, whole), heaviest.at
    else:
        d = dries[0]
        what = f"a dry of {d.seconds:.1f} s before “{_words_from_here(page, d.before_word)}”"
        do, at = _practise_coming_in(page, d.before_word), d.at
    return PlaceToWorkOn(
        (page.line_of(first), page.line_of(last)), first, last, at,
        sum(weights.values()) + _DRY * len(dries), notes, dries, what, do,
    )  # fmt: skip


def _words_from_here(page: SpokenScript, i: int) -> str:
    """A few words from word `i` on, short enough to be quoted."""
    i = min(i, len(page) - 1)
    return shorten(page.wording(i, min(i + _CUE_WORDS, len(page) - 1)), _QUOTED_CHARACTERS)


def _practise_coming_in(page: SpokenScript, i: int) -> str:
    """How to practise coming in at word `i`."""
    if i <= 0:
        return "Begin three times, each time out of silence: know the first words before you breathe in."
    return f"{_how_to_come_in(page, i)}, three times."


def _how_to_come_in(page: SpokenScript, i: int) -> str:
    """How to come in at word `i`: with the words before it as a cue, or out of silence."""
    if i <= 0:
        return "Begin out of silence"
    cue = page.wording(max(0, i - _CUE_WORDS), i - 1)
    return f"Take “{cue}” as the cue and go straight on to “{_words_from_here(page, i)}”"


def _makes_sense(heard: str) -> bool:
    """Whether what was heard can be compared with the script: it was understood and has real words only.

    A noise that was written down as letters has no meaning to compare.
    """
    return SOMETHING_ELSE not in heard and all(phones_of(w) for w in heard.split())


def _other_lines(note: Note) -> bool:
    """Whether other lines were said, and not just another wording of the script."""
    heard, script = note.heard.split(), re.findall(r"[\w']+", plain_spelling(note.script))
    return len(heard) >= _OTHER_LINE_WORDS and LCSseq.similarity(heard, script) < _OTHER_LINE_SHARE * len(
        heard
    )


def advice(page: SpokenScript, note: Note, whole: frozenset[int]) -> str:
    """What to do about a note: one or two sentences with something to try at once."""
    first, last = note.first, note.last
    if note.heard == NOT_UNDERSTOOD:
        script = shorten(note.script, _QUOTED_CHARACTERS)
        meant = f" If you did say “{script}”, correct the verdict." if note.script else ""
        return f"Listen to this place: the words could not be understood.{meant}"
    if note.kind == "dropped" and holds_a_line(page, first, last, whole):
        after = _words_from_here(page, last + 1)
        then = f", and on into “{after}”" if last + 1 < len(page) else ""
        why = "Decide why you say this next" if first > 0 else "Ask what makes you begin to speak"
        return f"{why}. {_how_to_come_in(page, first)}{then}, three times."
    if note.kind == "prompted":
        return _practise_coming_in(page, first)
    if note.kind == "dropped":
        gone = shorten(note.script, _QUOTED_CHARACTERS)
        where = named_there(page, first)
        return f"Say {where} slowly and stress “{gone}”, then say it three times as you mean it."
    if note.kind == "changed" and not _makes_sense(note.heard):
        said = shorten(note.script, _QUOTED_CHARACTERS)
        return f"Say {named_there(page, first)} slowly with “{said}”, then say it three times as you mean it."
    if note.kind == "changed" and contraction(note.script, note.heard):
        return f"The meaning is the same, but say “{note.script}” as written: the rhythm depends on it."
    if note.kind == "changed" and first == last and page.is_small(first):
        small = f"A small word: “{note.script}”, not “{note.heard}”."
        return f"{small} Say {named_there(page, first)} three times with it."
    if note.kind == "changed" and _other_lines(note):
        return f"{_how_to_come_in(page, first)}, three times: you said other lines here."
    if note.kind == "changed":
        script, heard = shorten(note.script, _QUOTED_CHARACTERS), shorten(note.heard, _QUOTED_CHARACTERS)
        where = named_there(page, first)
        return f"Ask what “{script}” gives you that “{heard}” does not, then say {where} three times."
    if note.kind == "added":
        return f"Say {named_there(page, first)} three times without “{note.heard}”: it is not in the script."
    if note.kind == "swapped":
        order = shorten(note.script, _QUOTED_ORDER_CHARACTERS)
        return f"Ask why the words come in this order: “{order}”. Then say them three times."
    return f"Breathe before the thought, not inside it: take {named_there(page, first)} in one go."
