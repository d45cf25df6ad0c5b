"""Doubtful places: where the hearings of a segment differ, or where an ear is not sure of a word.

A place is doubtful where the leaning or the contested hearing differs from the script, where either is not
confident of a script word, where the free or the contested hearing alone put a word in, and where the second
ear would prefer another word. Places that touch are weighed as one.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from offbook.align import AlignmentStep, sound_likeness
from offbook.hear.hearings import SegmentHearings
from offbook.hear.second_ear import SecondEar, Suspicion
from offbook.recognise import HeardWord

# All set by hand.
_REPEATED_WORDS = 2  # so many words heard twice in a row are a phrase begun twice; fewer are a word repeated
_CONFIDENT = 0.8  # a word that the leaning or the contested hearing is less confident of is doubtful
# Words before the first hit of a segment, or after the last one: more of them are not weighed.
_MOST_AT_EDGE = 4
_ALIKE = 0.5  # likeness from which one of these words may be a misheard script word
# Script words missing between two hits: up to so many the place is weighed, with two ears and with one.
_MOST_MISSING, _MOST_MISSING_ONE_EAR = 8, 4
# A place with more heard words than this, or with so many more script words than heard ones, is taken for a
# jump in the script: its wordings are too many to compare.
_MOST_HEARD, _MORE_MISSING = 8, 3


@dataclass(frozen=True, slots=True)
class DoubtfulPlace:
    """Script words [script_from, script_to) of the region against leaning words [heard_from, heard_to)."""

    script_from: int
    script_to: int
    heard_from: int
    heard_to: int


def doubtful_places(
    hearings: SegmentHearings, ear: SecondEar | None, suspicions: Sequence[Suspicion]
) -> list[DoubtfulPlace]:
    """The doubtful places of a segment that are not settled yet, in the order of the leaning words.

    ear: the second ear on this segment, None where there is none; suspicions: what it would prefer.
    """
    hits = hearings.leaning.hits
    found = [
        *_between_hits(hearings, hits, _MOST_MISSING_ONE_EAR if ear is None else _MOST_MISSING),
        *_at_the_edges(hearings, hits),
        *(_missing_at_the_ends(hearings, hits, ear) if ear is not None and hits else ()),
        *_not_confident(hearings, hits),
        *_inserted(hearings, hits),
        *(_place_of(s) for s in suspicions),
    ]
    return _joined([d for d in found if d.heard_from >= hearings.own.start], hearings.lean)


def _place_of(suspicion: Suspicion) -> DoubtfulPlace:
    """The place of a word for which the second ear would prefer another."""
    unit = suspicion.unit
    return DoubtfulPlace(unit.script.start, unit.script.stop, unit.heard.start, unit.heard.stop)


def _between_hits(
    hearings: SegmentHearings, hits: Sequence[AlignmentStep], most_missing: int
) -> list[DoubtfulPlace]:
    """Places between two hits where script words are missing, or other words were heard, or both."""
    found: list[DoubtfulPlace] = []
    for a, b in itertools.pairwise(hits):
        if b.script_from < a.script_to:
            continue  # the speaker went back
        script, heard = b.script_from - a.script_to, b.heard_from - a.heard_to
        few_missing = script <= max(most_missing, heard + _MORE_MISSING)
        if (script or heard) and few_missing and heard <= _MOST_HEARD:
            found.append(DoubtfulPlace(a.script_to, b.script_from, a.heard_to, b.heard_from))
    return found


def _at_the_edges(hearings: SegmentHearings, hits: Sequence[AlignmentStep]) -> list[DoubtfulPlace]:
    """A few words heard before the first hit, or after the last one, as they stand for script words.

    The script around a segment is aligned without what lies beyond it. So the alignment may leave such a word
    without a script word, however much it sounds like the next one.
    """
    if not hits:
        return []
    found: list[DoubtfulPlace] = []
    first, last = hits[0], hits[-1]
    steps = [s for s in hearings.leaning.steps if s.kind == "substitution"]
    before = [s for s in steps if s.heard_to <= first.heard_from]
    behind = [s for s in steps if s.heard_from >= last.heard_to]
    count, start = first.heard_from, first.script_from
    if count <= _MOST_AT_EDGE:
        if before and before[-1].script_to == start:
            found.append(DoubtfulPlace(before[0].script_from, start, before[0].heard_from, count))
        elif _one_sounds_alike(hearings, start - count, 0, count):
            found.append(DoubtfulPlace(start - count, start, 0, count))
    count, start = len(hearings.lean) - last.heard_to, last.script_to
    if count <= _MOST_AT_EDGE:
        if behind and behind[0].script_from == start:
            found.append(DoubtfulPlace(start, behind[-1].script_to, last.heard_to, behind[-1].heard_to))
        elif _one_sounds_alike(hearings, start, last.heard_to, count):
            found.append(DoubtfulPlace(start, start + count, last.heard_to, last.heard_to + count))
    return found


def _one_sounds_alike(hearings: SegmentHearings, script: int, heard: int, count: int) -> bool:
    """Whether one of `count` script words from `script` on, at least, sounds like the leaning word beside."""
    if script < 0 or script + count > len(hearings.region):
        return False
    pairs = zip(hearings.region[script : script + count], hearings.lean[heard : heard + count], strict=True)
    return any(sound_likeness(place, word.word) >= _ALIKE for place, word in pairs)


def _missing_at_the_ends(
    hearings: SegmentHearings, hits: Sequence[AlignmentStep], ear: SecondEar
) -> list[DoubtfulPlace]:
    """Script words that are missing where a segment begins or ends, which the first ear hears poorly.

    At the end the second ear says how far the script goes on.
    """
    found: list[DoubtfulPlace] = []
    own, region_words = hearings.own, len(hearings.region)
    first = next((s for s in hits if s.heard_from >= own.start), None)
    if first is not None and hits[0] is first:
        missing = first.script_from - hearings.script_at
        if 0 < missing <= _MOST_MISSING and first.heard_from - own.start <= _MOST_AT_EDGE:
            found.append(DoubtfulPlace(hearings.script_at, first.script_from, own.start, first.heard_from))
    last = hits[-1]
    strange = range(last.heard_to, len(hearings.lean))  # heard words behind the last hit
    if 0 < len(strange) <= _MOST_AT_EDGE and last.script_to < region_words:
        count = _script_words_instead_of(hearings, ear, last.script_to, strange)
        if count:
            found.append(DoubtfulPlace(last.script_to, last.script_to + count, strange.start, strange.stop))
    elif hearings.at_script_end and not strange and 0 < region_words - last.script_to <= _MOST_AT_EDGE:
        found.append(DoubtfulPlace(last.script_to, region_words, len(hearings.lean), len(hearings.lean)))
    return found


def _script_words_instead_of(hearings: SegmentHearings, ear: SecondEar, script: int, strange: range) -> int:
    """How many script words from `script` on the second ear prefers to the `strange` words at the end.

    0 where it prefers what was heard.
    """
    most = min(_MOST_MISSING, len(hearings.region) - script)
    following = [w for p in hearings.region[script : script + most] for w in p.written]
    heard = ear.written_wording(" ".join(hearings.lean[h].word for h in strange))
    wordings: dict[str, Sequence[str]] = {"": heard}
    wordings |= {str(n): following[:n] for n in range(1, most + 1)}
    scores: Mapping[str, float] = ear.weigh(strange, wordings)
    best = max(scores, key=lambda n: scores[n], default="")
    return int(best) if best else 0


def _not_confident(hearings: SegmentHearings, hits: Sequence[AlignmentStep]) -> list[DoubtfulPlace]:
    """Script words that the leaning hearing had and was not confident of, or that the contested one lost.

    It has lost a word where it does not have it, or is not confident of it.
    """
    kept = {
        i
        for s in hearings.contested.hits
        if min(w.confidence for w in hearings.contest[s.heard_from : s.heard_to]) >= _CONFIDENT
        for i in range(s.script_from, s.script_to)
    }
    return [
        DoubtfulPlace(s.script_from, s.script_to, s.heard_from, s.heard_to)
        for s in hits
        if not all(i in kept for i in range(s.script_from, s.script_to))
        or min(w.confidence for w in hearings.lean[s.heard_from : s.heard_to]) < _CONFIDENT
    ]


def _inserted(hearings: SegmentHearings, hits: Sequence[AlignmentStep]) -> list[DoubtfulPlace]:
    """Places between two script words where the leaning hearing has nothing and another hearing a word."""
    ends = {s.script_to: s for s in hits}
    starts = {s.script_from: s for s in hits}
    found: list[DoubtfulPlace] = []
    for s in (*hearings.contested.steps, *hearings.freely.steps):
        if s.kind == "insertion" and s.script_from in ends and s.script_from in starts:
            a, b = ends[s.script_from], starts[s.script_from]
            if a.heard_to == b.heard_from:
                found.append(DoubtfulPlace(s.script_from, s.script_from, a.heard_to, a.heard_to))
    return found


def _joined(places: Iterable[DoubtfulPlace], lean: Sequence[HeardWord]) -> list[DoubtfulPlace]:
    """The places in the order of the leaning words `lean`, those that touch made into one."""
    found: list[DoubtfulPlace] = []
    for d in sorted(places, key=lambda d: (d.heard_from, d.heard_to)):
        last = found[-1] if found else None
        if last is not None and _touch(last, d, lean):
            found[-1] = DoubtfulPlace(
                min(last.script_from, d.script_from),
                max(last.script_to, d.script_to),
                last.heard_from,
                max(last.heard_to, d.heard_to),
            )
        else:
            found.append(d)
    return found


def _touch(a: DoubtfulPlace, b: DoubtfulPlace, lean: Sequence[HeardWord]) -> bool:
    """Whether a place and a later one overlap or touch. A phrase begun twice is not joined to a neighbour."""
    if b.heard_from > a.heard_to or b.script_from > a.script_to:
        return False
    return b.heard_from < a.heard_to or not (is_phrase_begun_twice(a, lean) or is_phrase_begun_twice(b, lean))


def is_phrase_begun_twice(place: DoubtfulPlace, lean: Sequence[HeardWord]) -> bool:
    """Whether the place has no script words, and several words that were heard twice in a row.

    Nobody can know then which of the two sayings the words of the place belong to. The saying that was broken
    off may end in another word.
    """
    count = place.heard_to - place.heard_from
    if place.script_from < place.script_to or count < _REPEATED_WORDS:
        return False
    heard = [w.word for w in lean]
    starts = range(max(0, place.heard_from - count), place.heard_from + 1)
    if any(heard[k : k + count] == heard[k + count : k + 2 * count] for k in starts):
        return True
    first, again = heard[place.heard_from : place.heard_to - 1], heard[place.heard_to :]
    return len(first) >= _REPEATED_WORDS and first == again[: len(first)]
