"""The script as the hearing sees it, and which part of it is being said."""

from __future__ import annotations

from collections.abc import Sequence

from offbook.align import AlignedWord, AlignmentStep, align_part
from offbook.hear.written import written_form
from offbook.recognise import HeardWord
from offbook.script import Line
from offbook.soundalike import Knows, known_forms
from offbook.words import Word

# All set by hand.
_MOST_FORMS = 8  # ways at most in which one word may be heard
_MARGIN_WORDS = 14  # script words taken in before the first and after the last one that was heard
_MEMORY_WORDS = 40  # heard words before the segment that help to find the place
_NEAR_WORDS = 600  # script words on either side of the last settled place that are searched first
_STRANGE_RUN = 4  # so many words in a row that hit nothing are looked for by themselves
_JUMP_WORDS = 100  # they, and the last settled word, count if they are within so many words of the rest
_AHEAD_WORDS = 40  # script words taken in ahead, beside as many as were heard, if few words tell the place
# Hits are few below one heard word in so many, and below this number.
_FEW_HITS_SHARE, _FEW_HITS = 3, 2
# Words of a strange run that must be found elsewhere: at least so many, and one in so many of the run.
_FEWEST_FOUND, _FOUND_SHARE = 3, 3


def places_of(words: Sequence[Word], knows: Knows, lines: Sequence[Line]) -> tuple[AlignedWord, ...]:
    """One `AlignedWord` for each script word: the forms the recogniser can hear, and what begins with it.

    knows: whether a word is in the recogniser's vocabulary. lines: the script's lines.
    """
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

    It loses a capital that it has only because something begins with it, and capitals throughout.
    """
    text = word.text.replace("\u2019", "'")
    if not text.replace("'", "").isalpha():
        return word.spoken[0]
    alone = text == "I" or text.startswith("I'")
    lower = text.lower()
    if alone or not (begins or text.isupper()):
        return (text,)
    return (written_form(lower),)


def region_around(
    places: Sequence[AlignedWord], before: Sequence[HeardWord], words: Sequence[HeardWord], last: int
) -> tuple[range, int]:
    """The part of the script in which `words`, heard after `before`, are to be looked for.

    last: the script word after the last settled one, as it was found before. Gives the part, and that script
    word as it is found now.
    """
    memory = before[-_MEMORY_WORDS:]
    among = range(max(0, last - _NEAR_WORDS), min(len(places), last + _NEAR_WORDS))
    spots, here, strange = _spots(places, among, memory, words, last)
    if len(spots) < len(words) // 2 and len(among) < len(places):
        among = range(len(places))
        spots, here, strange = _spots(places, among, memory, words, last)
    spots += _across_a_jump(places, among, spots, strange, here)
    if len(spots) < max(_FEW_HITS, len(words) // _FEW_HITS_SHARE):
        spots += [here, min(len(places) - 1, here + len(words) + _AHEAD_WORDS)]
    # The last words before a jump may have been kept back for this segment.
    spots += [here] if here < len(places) and _not_far([here], spots) else []
    region = range(max(0, min(spots) - _MARGIN_WORDS), min(len(places), max(spots) + 1 + _MARGIN_WORDS))
    return region, here


def _spots(
    places: Sequence[AlignedWord],
    among: range,
    memory: Sequence[HeardWord],
    words: Sequence[HeardWord],
    last: int,
) -> tuple[list[int], int, list[Sequence[HeardWord]]]:
    """Where in the part `among` of the script `words` are found.

    Gives the script words that they hit, the script word after those that `memory` hit (`last` where it hit
    none), and the longer runs of words that hit nothing.
    """
    expected = max(0, last - len(memory) - among.start)
    found = align_part(places[among.start : among.stop], [*memory, *words], expected)
    hits = found.hits
    own = [s for s in hits if s.heard_to > len(memory)]
    spots = _script_words_hit(own, among.start)
    settled = (among.start + s.script_to for s in reversed(hits) if s.heard_to <= len(memory))
    edges = [0, *(k - len(memory) for s in own for k in (s.heard_from, s.heard_to)), len(words)]
    runs = [words[max(0, a) : b] for a, b in zip(edges[::2], edges[1::2], strict=True)]
    return spots, next(settled, last), [run for run in runs if len(run) >= _STRANGE_RUN]


def _across_a_jump(
    places: Sequence[AlignedWord],
    among: range,
    spots: Sequence[int],
    strange: Sequence[Sequence[HeardWord]],
    here: int,
) -> list[int]:
    """The script words from which runs of words that hit nothing were said, if they are not far from `spots`.

    The speaker may have jumped within the segment. To the alignment a jump costs more than a few words that
    hit nothing, so these runs are looked for by themselves.
    """
    found: list[int] = []
    for run in strange if spots else ():
        found_there = align_part(places[among.start : among.stop], run, max(0, here - among.start))
        own = _script_words_hit(found_there.hits, among.start)
        if len(own) < max(_FEWEST_FOUND, len(run) // _FOUND_SHARE):
            continue
        if _not_far(own, spots):
            found += own
    return found


def _not_far(words: Sequence[int], spots: Sequence[int]) -> bool:
    """Whether script words are not far before the first of `spots`, nor far behind the last."""
    return min(spots) - _JUMP_WORDS <= min(words) and max(words) <= max(spots) + _JUMP_WORDS


def _script_words_hit(hits: Sequence[AlignmentStep], first: int) -> list[int]:
    """The script words of `hits`, which are counted from script word `first` on."""
    return [first + i for s in hits for i in range(s.script_from, s.script_to)]
