"""What a passage of verse is called, and whether it is metrical at all."""

from __future__ import annotations

from collections.abc import Container, Sequence

from offbook.verse.beats import Reading
from offbook.verse.metres import LENGTHS
from offbook.verse.rhyme import couplets, rhymed_share
from offbook.verse.whole import Place

FREE = "free verse"
# more irregular than this, and not rhymed, is free verse (figures in docs/verse.md)
_IRREGULAR = 0.47
_RHYMED = 0.4


def irregularity(
    chosen: Sequence[Reading | None], places: Sequence[Place], parts: Container[int] = ()
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
        between = [len(g) for g in reading.labels.strip("w")[1:-1].split("s")] if reading.beats > 1 else []
        if place.foot.rising and reading.labels[0] == "s" and between[:1] == [2]:
            between = between[1:]
        odd += sum(g != len(place.foot.plain) - 1 for g in between)
        gaps += len(between)
    return odd / max(1, gaps) + off / max(1, len(chosen))


def is_free(
    chosen: Sequence[Reading | None],
    places: Sequence[Place],
    ends: Sequence[str],
    parts: Container[int] = (),
) -> bool:
    """Whether the lines keep to no metre: irregular and not rhymed; of three lines or fewer never."""
    return (
        len(chosen) > 3 and irregularity(chosen, places, parts) >= _IRREGULAR and rhymed_share(ends) < _RHYMED
    )


def line_name(place: Place) -> str:
    """The name of a line: "iambic pentameter"."""
    length = LENGTHS[place.beats] if place.beats < len(LENGTHS) else f"of {place.beats} feet"
    return f"{place.foot.name} {length}"


def form_name(places: Sequence[Place], ends: Sequence[str]) -> str:
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
        if lengths[:2] in ([6, 7], [7, 6]) and len(kinds) == 2:
            return "poulter's measure"
    common = max(kinds, key=places.count)
    if places.count(common) >= 0.9 * len(places) and len(places) > 12:
        return _even(common, ends)
    return "mixed stanza (" + ", ".join(line_name(p) for p in kinds[:4]) + ")"


def _even(place: Place, ends: Sequence[str]) -> str:
    name = line_name(place)
    if name == "iambic pentameter" and len(ends) > 2:
        share = rhymed_share(ends)
        if share < _RHYMED:
            return "blank verse"
        if len(ends) == 14:
            return "sonnet (iambic pentameter)"
        return "heroic couplets (iambic pentameter)" if couplets(ends) else name
    if name == "iambic heptameter":
        return "fourteeners (iambic heptameter)"
    return "alexandrines (iambic hexameter)" if name == "iambic hexameter" else name
