"""The metre that the performer sets by hand: from its name to the lines of its stanza."""

from __future__ import annotations

import re

from offbook.errors import OffbookError
from offbook.spelling import plain_spelling
from offbook.verse.metres import ANAPAESTIC, DACTYLIC, IAMBIC, LENGTHS, METRES, TROCHAIC
from offbook.verse.whole import StanzaLine

FREE = "free verse"
_PENTAMETER = (StanzaLine(IAMBIC, 5),)
# names of forms that do not tell the feet (Abrams, "A Glossary of Literary Terms", from memory)
_FORMS: dict[str, tuple[StanzaLine, ...]] = {
    FREE: (),
    "blank verse": _PENTAMETER,
    "heroic couplets": _PENTAMETER,
    "sonnet": _PENTAMETER,
    "ballad measure": (StanzaLine(IAMBIC, 4), StanzaLine(IAMBIC, 3)),
    "short measure": (
        StanzaLine(IAMBIC, 3),
        StanzaLine(IAMBIC, 3),
        StanzaLine(IAMBIC, 4),
        StanzaLine(IAMBIC, 3),
    ),
    "poulter's measure": (StanzaLine(IAMBIC, 6), StanzaLine(IAMBIC, 7)),
    "alexandrines": (StanzaLine(IAMBIC, 6),),
    "fourteeners": (StanzaLine(IAMBIC, 7),),
}
# other names and spellings of the same forms
_SAME = {
    "common measure": "ballad measure",
    "common metre": "ballad measure",
    "ballad metre": "ballad measure",
    "ballad": "ballad measure",
    "heroic couplet": "heroic couplets",
    "alexandrine": "alexandrines",
    "fourteener": "fourteeners",
    "vers libre": FREE,
    "free": FREE,
}
_FEET = {foot.name: foot for foot in METRES} | {
    "iambs": IAMBIC,
    "trochees": TROCHAIC,
    "anapestic": ANAPAESTIC,
    "anapaests": ANAPAESTIC,
    "dactyls": DACTYLIC,
}


class MetreError(OffbookError):
    """There is no metre with this name."""


def set_metre(name: str) -> tuple[str, tuple[StanzaLine, ...]]:
    """The metre's name as offbook writes it, and the lines of its stanza; none for free verse.

    name: as in `Versification.metre`, without additions in brackets, in any case: "blank verse", "trochaic
    tetrameter", "ballad measure". Raises MetreError for any other name.
    """
    said = re.sub(r"\s*\(.*\)$", "", " ".join(plain_spelling(name).split()))
    said = _SAME.get(said, said)
    if said in _FORMS:
        return said, _FORMS[said]
    foot, _, length = said.partition(" ")
    if foot in _FEET and length in LENGTHS[1:]:
        place = StanzaLine(_FEET[foot], LENGTHS.index(length))
        return f"{place.foot.name} {length}", (place,)
    raise MetreError(
        f"no metre is called “{name.strip()}”",
        f"give a foot and a length (iambic pentameter, trochaic tetrameter), or {', '.join(_FORMS)}",
    )
