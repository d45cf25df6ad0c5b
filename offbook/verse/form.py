"""What a passage of verse is called, and whether it is metrical at all."""

from __future__ import annotations

from collections.abc import Container, Sequence

from offbook.verse.beats import MetricalReading
from offbook.verse.metres import LENGTHS
from offbook.verse.rhyme import couplets, rhymed_share
from offbook.verse.whole import StanzaLine

# Where a passage is taken for verse in a metre: twice the share of lines that keep to it without a fault,
# less the irregularity, and a little for rhyme. Chosen on speeches of Shakespeare's plays, some of them prose
# set out as verse, the hand-scanned poems and half of the handbook passages (figures in docs/verse.md).
_CLEAN, _RHYME, _METRICAL = 2.0, 0.3, 0.05
# so rhymed, no passage is free verse; less rhymed, it may be blank verse
_ALWAYS, _RHYMED = 0.5, 0.4
# without rhyme nobody writes lines of these numbers of feet in a metre
_SHORTEST, _LONGEST = 3, 6
# so many lines alike give a stanza its name; the others are mentioned
_COMMON = 0.7
# more irregular than this, with always the same beats, is accentual verse
_IRREGULAR, _SAME_BEATS = 0.47, 0.8
_FEW_LINES = 3  # of which nobody can say whether they keep to a metre
_LONG_POEM = 12  # lines; in a longer one a few in another metre are exceptions, no part of the form
_SONNET = 14  # lines
_POULTER = 2  # lengths of line in poulter's measure
_COUPLET = 2  # lines


def _odd_gaps(reading: MetricalReading, place: StanzaLine) -> tuple[int, int]:
    """The gaps between beats that are not the metre's own, an initial inversion excepted; all gaps."""
    between = [len(g) for g in reading.labels.strip("w")[1:-1].split("s")] if reading.beats > 1 else []
    if place.foot.rising and reading.labels[0] == "s" and between[:1] == [2]:
        between = between[1:]
    return sum(g != len(place.foot.plain) - 1 for g in between), len(between)


def irregularity(
    chosen: Sequence[MetricalReading | None], places: Sequence[StanzaLine], parts: Container[int] = ()
) -> float:
    """How far the lines are from their metre: 0 none, 1 and more nothing in common.

    The share of the gaps between beats that are not the metre's own (an initial inversion excepted), and
    the share of the lines that have another number of beats than their place. parts: the lines, by index,
    that are parts of a line: another number of beats is no fault of theirs.
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
    """The share of the lines that have the beats of their place and no gap that is not the metre's."""
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
    """Whether the lines keep to no metre; of three lines or fewer never.

    A short line, a line like prose or two are no sign of it: what counts is how many lines are clean.
    """
    if len(chosen) <= _FEW_LINES:
        return False
    rhymed = rhymed_share(ends, repeated=True)
    if rhymed >= _ALWAYS:
        return False
    usual = max(set(places), key=list(places).count).beats
    if rhymed < _RHYMED and not _SHORTEST <= usual <= _LONGEST:
        return True
    kept = _CLEAN * _clean(chosen, places, parts) - irregularity(chosen, places, parts)
    return kept + _RHYME * rhymed < _METRICAL


def is_accentual(
    chosen: Sequence[MetricalReading | None], places: Sequence[StanzaLine], ends: Sequence[str]
) -> bool:
    """Whether the beats are counted and the syllables between them are not (Coleridge, "Christabel")."""
    if len(chosen) <= _FEW_LINES or len(set(places)) > 1 or rhymed_share(ends, repeated=True) < _RHYMED:
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
    """What verse with these `places`, one for each line, is called."""
    kinds = list(dict.fromkeys(places))
    if len(kinds) == 1:
        return _even(kinds[0], ends)
    lengths = [p.beats for p in places[:4]]
    if {p.foot.name for p in kinds} == {"iambic"}:
        if lengths == [4, 3, 4, 3]:
            return "ballad measure"
        if lengths == [3, 3, 4, 3]:
            return "short measure"
        if lengths[:2] in ([6, 7], [7, 6]) and len(kinds) == _POULTER:
            return "poulter's measure"
    if [(p.foot.name, p.beats) for p in places] == _LIMERICK * (len(places) // 5):
        return "limerick (anapaestic)"
    common = max(kinds, key=places.count)
    if places.count(common) >= 0.9 * len(places) and len(places) > _LONG_POEM:
        return _even(common, ends)
    others = [p for p in kinds if p != common]
    if places.count(common) >= _COMMON * len(places) and all(p.foot == common.foot for p in others):
        lines = " and ".join(LENGTHS[p.beats] for p in others if p.beats < len(LENGTHS))
        return f"{line_name(common)} (with lines of {lines})"
    return "mixed stanza (" + ", ".join(line_name(p) for p in kinds[:4]) + ")"


def _even(place: StanzaLine, ends: Sequence[str]) -> str:
    name = line_name(place)
    if name == "iambic pentameter" and len(ends) > _COUPLET:
        share = rhymed_share(ends)
        if share < _RHYMED:
            return "blank verse"
        if len(ends) == _SONNET:
            return "sonnet (iambic pentameter)"
        return "heroic couplets (iambic pentameter)" if couplets(ends) else name
    if name == "iambic heptameter":
        return "fourteeners (iambic heptameter)"
    return "alexandrines (iambic hexameter)" if name == "iambic hexameter" else name
