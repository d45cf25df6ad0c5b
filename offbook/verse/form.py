"""What a passage of verse is called, and whether it is metrical at all."""

from __future__ import annotations

from collections.abc import Container, Sequence

from offbook.verse.beats import MetricalReading
from offbook.verse.metres import LENGTHS
from offbook.verse.rhyme import couplets, rhymed_share
from offbook.verse.whole import StanzaLine

# A passage is in a metre if this sum is at least the third number: the first times the share of lines that
# keep to it without a fault, less the irregularity, plus the second times the share of rhymed lines. Chosen
# on speeches of Shakespeare's plays, some of them prose printed as verse, the hand-scanned poems and half of
# the handbook passages (figures in docs/verse.md).
_CLEAN, _RHYME, _METRICAL = 2.0, 0.3, 0.05
# The share of rhymed lines from which on a passage is never free verse, and below which it may be blank
# verse. Set by hand.
_ALWAYS, RHYMED = 0.5, 0.4
# The fewest and the most feet of unrhymed lines in a metre; set by hand, because other lengths are hardly
# ever unrhymed.
_SHORTEST, _LONGEST = 3, 6
# The share of equal lines from which on they give the stanza its name; the other lines are mentioned. Set by
# hand.
_COMMON = 0.7
# Accentual verse: at least so irregular, and at least this share of the lines with the same number of beats.
# Set by hand.
_IRREGULAR, _SAME_BEATS = 0.47, 0.8
_FEW_LINES = 3  # so few that nobody can say whether they keep to a metre; set by hand
# In a poem with more lines than the first number, if at least the second share is in one metre, the others
# are exceptions.
_LONG_POEM, _NEARLY_ALL = 12, 0.9
_SONNET = 14  # lines
# The lengths of the lines of well-known stanzas, in feet (Abrams, "A Glossary of Literary Terms", from
# memory).
_BALLAD, _SHORT_MEASURE, _POULTER = (4, 3, 4, 3), (3, 3, 4, 3), ((6, 7), (7, 6))
_COUPLET = 2  # lines
_MOST_NAMED = 4  # kinds of line in the name of a mixed stanza; set by hand


def _odd_gaps(reading: MetricalReading, place: StanzaLine) -> tuple[int, int]:
    """How many gaps between beats do not fit the metre (initial inversions aside), and how many there are."""
    between = [len(g) for g in reading.labels.strip("w")[1:-1].split("s")] if reading.beats > 1 else []
    if place.foot.rising and reading.labels[0] == "s" and between[:1] == [2]:
        between = between[1:]
    return sum(g != len(place.foot.plain) - 1 for g in between), len(between)


def irregularity(
    chosen: Sequence[MetricalReading | None], places: Sequence[StanzaLine], parts: Container[int] = ()
) -> float:
    """How far the lines are from their metre: 0 if they fit, 1 or more if they do not fit at all.

    This is the share of the gaps between beats that do not fit the metre (except in an initial inversion),
    plus the share of the lines that have another number of beats than their place. parts: the indices of
    lines that are parts of a line, for which another number of beats is not counted.
    """
    odd = gaps = off = 0
    for k, (reading, place) in enumerate(zip(chosen, places, strict=True)):
        if reading is None:
            off += 1
            continue
        off += reading.beats != place.beats and k not in parts
        more, all_of_them = _odd_gaps(reading, place)
        odd, gaps = odd + more, gaps + all_of_them
    return odd / max(1, gaps) + off / max(1, len(chosen))


def _clean(
    chosen: Sequence[MetricalReading | None], places: Sequence[StanzaLine], parts: Container[int]
) -> float:
    """The share of the lines that have the beats of their place and only gaps that fit the metre."""
    kept = [
        reading is not None
        and (reading.beats == place.beats or k in parts)
        and _odd_gaps(reading, place)[0] == 0
        for k, (reading, place) in enumerate(zip(chosen, places, strict=True))
    ]
    return sum(kept) / max(1, len(kept))


def is_free(
    chosen: Sequence[MetricalReading | None],
    places: Sequence[StanzaLine],
    ends: Sequence[str],
    parts: Container[int] = (),
) -> bool:
    """Whether the lines keep to no metre; never for three lines or fewer.

    A few short lines or lines like prose do not make free verse: what counts is how many lines keep to the
    metre.
    """
    if len(chosen) <= _FEW_LINES:
        return False
    rhymed = rhymed_share(ends, repeated=True)
    if rhymed >= _ALWAYS:
        return False
    usual = max(set(places), key=list(places).count).beats
    if rhymed < RHYMED and not _SHORTEST <= usual <= _LONGEST:
        return True
    kept = _CLEAN * _clean(chosen, places, parts) - irregularity(chosen, places, parts)
    return kept + _RHYME * rhymed < _METRICAL


def is_accentual(
    chosen: Sequence[MetricalReading | None], places: Sequence[StanzaLine], ends: Sequence[str]
) -> bool:
    """Whether the lines have equal beats but any number of syllables (Coleridge, "Christabel")."""
    if len(chosen) <= _FEW_LINES or len(set(places)) > 1 or rhymed_share(ends, repeated=True) < RHYMED:
        return False
    same = sum(r is not None and r.beats == p.beats for r, p in zip(chosen, places, strict=True))
    return same >= _SAME_BEATS * len(chosen) and irregularity(chosen, places) >= _IRREGULAR


def line_name(place: StanzaLine) -> str:
    """The name of a line: "iambic pentameter"."""
    length = LENGTHS[place.beats] if place.beats < len(LENGTHS) else f"of {place.beats} feet"
    return f"{place.foot.name} {length}"


_LIMERICK = [("anapaestic", beats) for beats in (3, 3, 2, 2, 3)]
_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight")


def accentual_name(place: StanzaLine) -> str:
    """The name of accentual verse: "accentual verse (four beats)"."""
    return f"accentual verse ({_NUMBERS[place.beats] if place.beats < len(_NUMBERS) else place.beats} beats)"


def form_name(places: Sequence[StanzaLine], ends: Sequence[str]) -> str:
    """The name of a form. places: of each line. ends: the last word of each line."""
    kinds = list(dict.fromkeys(places))
    if len(kinds) == 1:
        return _even(kinds[0], ends)
    lengths = tuple(p.beats for p in places[: len(_BALLAD)])
    if {p.foot.name for p in kinds} == {"iambic"}:
        if lengths == _BALLAD:
            return "ballad measure"
        if lengths == _SHORT_MEASURE:
            return "short measure"
        if lengths[:2] in _POULTER and len(kinds) == len(_POULTER[0]):
            return "poulter's measure"
    if [(p.foot.name, p.beats) for p in places] == _LIMERICK * (len(places) // len(_LIMERICK)):
        return "limerick (anapaestic)"
    common = max(kinds, key=places.count)
    if places.count(common) >= _NEARLY_ALL * len(places) and len(places) > _LONG_POEM:
        return _even(common, ends)
    others = [p for p in kinds if p != common]
    if places.count(common) >= _COMMON * len(places) and all(p.foot == common.foot for p in others):
        lines = " and ".join(LENGTHS[p.beats] for p in others if p.beats < len(LENGTHS))
        return f"{line_name(common)} (with lines of {lines})"
    return "mixed stanza (" + ", ".join(line_name(p) for p in kinds[:_MOST_NAMED]) + ")"


def _even(place: StanzaLine, ends: Sequence[str]) -> str:
    name = line_name(place)
    if name == "iambic pentameter" and len(ends) > _COUPLET:
        share = rhymed_share(ends)
        if share < RHYMED:
            return "blank verse"
        if len(ends) == _SONNET:
            return "sonnet (iambic pentameter)"
        return "heroic couplets (iambic pentameter)" if couplets(ends) else name
    if name == "iambic heptameter":
        return "fourteeners (iambic heptameter)"
    return "alexandrines (iambic hexameter)" if name == "iambic hexameter" else name
