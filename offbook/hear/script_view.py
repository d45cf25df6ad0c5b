"""The script as the hearing sees it, and the part of it around what is being said."""

from __future__ import annotations

from collections.abc import Sequence

from offbook.align import AlignedWord, AlignmentStep, align_part
from offbook.hear.written import in_writing
from offbook.recognise import HeardWord
from offbook.script import Line
from offbook.soundalike import Knows, known_forms
from offbook.words import Word

_MOST_FORMS = 8
_AROUND = 14  # script words taken in before the first and after the last that was heard
_MEMORY = 40  # heard words before the stretch that help to find the place
_NEAR = 600  # script words on either side of the last settled place that are searched first
_RUN = 4  # words that hit nothing, from which on they are looked for by themselves
_JUMP = 100  # script words from the rest within which they are
_AHEAD = 40  # script words ahead that are taken in where nothing tells the place


def places_of(words: Sequence[Word], knows: Knows, lines: Sequence[Line]) -> tuple[AlignedWord, ...]:
    """One `AlignedWord` for each word: the forms the recogniser can hear it as, and what begins with it."""
    found: list[AlignedWord] = []
    stanza_of = {line.n: (line.paragraph, line.speaker) for line in lines}
    line = stanza = sentence = None
    for word in words:
        forms: list[tuple[str, ...]] = []
        for spoken in word.spoken:
            ways: list[tuple[str, ...]] = [()]
            for token in spoken:
                ways = [(*w, *f) for w in ways for f in known_forms(token, knows)][:_MOST_FORMS]
            forms += [w for w in ways if w and w not in forms]
        known = all(knows(t) for spoken in word.spoken for t in spoken)
        begins = word.line != line and stanza_of.get(word.line) != stanza
        opens = word.line != line
        written = _written(word, opens or word.sentence != sentence)
        found.append(AlignedWord(tuple(forms[:_MOST_FORMS]), opens, word.spoken[0], known, begins, written))
        sentence = word.sentence
        line, stanza = word.line, stanza_of.get(word.line)
    return tuple(found)


def _written(word: Word, begins: bool) -> tuple[str, ...]:
    """How a word is written within a sentence. begins: a line or a sentence begins with it here.

    A capital that only the beginning asks for is taken away, and so are capitals throughout.
    """
    text = word.text.replace("\u2019", "'")
    if not text.replace("'", "").isalpha():
        return word.spoken[0]
    alone = text == "I" or text.startswith("I'")
    lower = text.lower()
    if alone or not (begins or text.isupper()):
        return (text,)
    return (in_writing(lower),)


def region_around(
    places: Sequence[AlignedWord], before: Sequence[HeardWord], words: Sequence[HeardWord], last: int
) -> tuple[range, int]:
    """The script places among which `words`, heard after `before`, are to be looked for.

    last: the place after the last settled word as it was found then. Also gives that place as found now.
    """
    memory = before[-_MEMORY:]
    among = range(max(0, last - _NEAR), min(len(places), last + _NEAR))
    spots, here, strange = _spots(places, among, memory, words, last)
    if len(spots) < len(words) // 2 and len(among) < len(places):
        among = range(len(places))
        spots, here, strange = _spots(places, among, memory, words, last)
    spots += _across_a_jump(places, among, spots, strange, here)
    if len(spots) < max(2, len(words) // 3):
        spots += [here, min(len(places) - 1, here + len(words) + _AHEAD)]
    region = range(max(0, min(spots) - _AROUND), min(len(places), max(spots) + 1 + _AROUND))
    return region, here


def _spots(
    places: Sequence[AlignedWord],
    among: range,
    memory: Sequence[HeardWord],
    words: Sequence[HeardWord],
    last: int,
) -> tuple[list[int], int, list[Sequence[HeardWord]]]:
    """The script places that `words` hit within `among`, and the place after what `memory` hit.

    Also the longer runs of words that hit nothing.
    """
    expected = max(0, last - len(memory) - among.start)
    found = align_part(places[among.start : among.stop], [*memory, *words], expected)
    hits = found.hits
    own = [s for s in hits if s.heard_to > len(memory)]
    spots = _reached(own, among.start)
    settled = (among.start + s.script_to for s in reversed(hits) if s.heard_to <= len(memory))
    edges = [0, *(k - len(memory) for s in own for k in (s.heard_from, s.heard_to)), len(words)]
    runs = [words[max(0, a) : b] for a, b in zip(edges[::2], edges[1::2], strict=True)]
    return spots, next(settled, last), [run for run in runs if len(run) >= _RUN]


def _across_a_jump(
    places: Sequence[AlignedWord],
    among: range,
    spots: Sequence[int],
    strange: Sequence[Sequence[HeardWord]],
    here: int,
) -> list[int]:
    """Where words that hit nothing beside `spots` were said from, if not far from them.

    A jump within a stretch costs an alignment more than a few words that hit nothing.
    """
    found: list[int] = []
    for run in strange if spots else ():
        found_there = align_part(places[among.start : among.stop], run, max(0, here - among.start))
        own = _reached(found_there.hits, among.start)
        if len(own) < max(3, len(run) // 2):
            continue
        if min(spots) - _JUMP <= min(own) and max(own) <= max(spots) + _JUMP:
            found += own
    return found


def _reached(hits: Sequence[AlignmentStep], first: int) -> list[int]:
    """The script places of `hits`, which are counted from `first`."""
    return [first + i for s in hits for i in range(s.script_from, s.script_to)]
