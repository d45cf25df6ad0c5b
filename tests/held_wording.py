"""Held values of words in their contexts: kings, capitals, quotation marks, numbers, contractions."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product

from offbook.script import parse_script
from offbook.words import words_of
from offbook.words.contracted import contraction, expansions
from offbook.words.numbering import at_number, counted, numbered, where, where_each
from offbook.words.passage import as_written, between_words
from tests.held import Rows, told
from tests.held_words import spoken

IN_CONTEXT = (
    """
Henry V came. King I was. Henry I was king. Henry I Am. Henry XL and Anna DC met Louis C of Anna XIX and
    Pope X. King V went.
Act V, scene i, Scene II. the IV of May. henry V. Line C. Canto MC. Sonnet XVIII. Mary II? Vitamin C and
    World War II. MIX it.
THE BBC AND NASA SAY UFO. The BBC, NASA, a UFO, an IQ, the RSPCA, HMRC, DVLA, PDFS, NEVER, ASAP, AI,
    RSVPS, YES and GHI.
It rose 6'2" and 5' 11 and 7’10 but not 0'2 nor 6'12. In 1939-45, pages 9–12, 3-x and x-3. I was 5'1"
    then.
A $5 million, £2 bn, €1 trillion; a million, five million; 12² and x² of 3³ and E=mc². 4x4, 3x4x5, MP3,
    A4, mi5, H2SO4, x2.
e.g. this, i.e. that, 9 a.m. and 10 p.m., n.b. it. J. R. R. T. U.S.A.'s U.S. A.B. & + = @. a.m. M.P.
    Ph.D. B.B.C.
lovers' hearts, James' hat, boys’ boats; the 'lamp' was 'lit'. 'Twas 'the lamp', 'e said. The dogs'
    dinner' is. rock 'n' roll.
“The ‘lamp’ is lit,” she said. ‘Who’s there?’ ‘It is the boys’ boat,’ he said. The boys’ boats’ oars.
    'I'm 'ere,' 'e said. o'
St. Ives and Mill St. Dr. Lee of Lee Dr. No. 5, no. No! no. 7 p. 4 p. ch. 3 sc. 2 vs. Mr. and Mrs. Fig.
    3 etc. Jan. 5. Co.
well-known re-enter twenty-one one-two 3-4 x-ray co-op e-mail T-shirt-like mother-in-law's well- known
    -- so—so…so...so·so
http://a.example/x?y=1 a@b.example www.lamp.example #tag @home and/or he/she 24/7 9/11 1/2/2003 50/50
    km/h C++ C# 3:2 -5 - 5 +5
ÆTHER œuvre Łódź straße þorn naïve Zoë café CAFÉ re´sume´ o’clock O’Brien d’Artagnan l'amour qu'il ‘em
    ’em 'em ta' ol' ev'n
It weighs 3 kg., 1 kg, 2lb, 6 ft. 10 in. and 5 in. Go in. 3 in a row. 20 °C, 5°, -3°F. 12% 12 %. 1st 2nd
    3rd 4th 11th 22nd 103rd
0 00 007 1,234 12,34 1234567 1.5 1.50 .5 5. 1.2.3 3,5 10,000.5 1e5 ½ 1½ ¾ ⅓ 2/3 22/7 1/100 3/1
    1000000000000000 9999999999999999
""".strip()
    .replace("\n    ", " ")
    .split("\n")
)


def in_context() -> Iterator[str]:
    """Words and signs that are said in one way or another by what is beside them; then without capitals."""
    for row in IN_CONTEXT:
        yield from spoken(row)
    yield from spoken(IN_CONTEXT[0].upper())
    yield from spoken(IN_CONTEXT[2].lower())


MIXED = (
    "ANNA: The lamp was lit. It was -- (softly) so -- cold! “Who goes?” *I* asked.\n\nBEN: Nobody.\n\n"
    "ANNA: The lamp was lit before the tide came in,\nAnd “nobody” (not you) was there; but I,\n"
    "I saw it —\nand I wept …\n\nBEN: No. [He goes.]\n\n"
    "ANNA: ‘Go,’ said I [then] and \\he\\ went - at last. Yes! And so on.\n"
)
TEXTS = (
    ("as it is", MIXED, None),
    ("a part", MIXED, "ANNA"),
    ("prose", "One. Two two! Three three three? Four.\n", None),
    ("verse", "The lamp was lit before\nthe tide came in,\nand we were there.\n", None),
)


def by_number() -> Iterator[str]:
    """Where words are, by line and by sentence, and passages as they are written."""
    for name, text, part in TEXTS:
        script = parse_script(text, part=part)
        words = words_of(script)
        last = len(words) - 1
        yield f"{name}: {counted(script)} {[(n.number, n.first, n.last) for n in numbered(script, words)]}"
        for told_ in ("1", "s1", "S2", " 3 ", "s9", "99", "x", "", "s", "1 2", "5"):
            found = at_number(script, words, told_)
            yield f"  {told_!r}: {None if found is None else list(found.span)}"
        spans = [(a, b) for a, b in product(range(0, last + 1, 3), range(0, last + 1, 4)) if a <= b]
        for a, b in spans:
            yield f"  {a}-{b}: {where(script, words, a, b)}; {as_written(script, words, a, b)}"
        yield told(between_words(script, words, 0, last))
        for at in ([0], [0, last], [*range(last + 1)], []):
            yield f"  {where_each(script, words, at)!r} {where_each(script, words, at, 2)!r}"


CONTRACTED = (
    """
i'm|i am|it's|it is|it's|it has|we'd|we had|we'd|we would|can't|can not|cannot|can't|'tis|it is|o'er
over|let's|let us|lets|let us|don't|do not|i'll|i shall|you're|your|who's|whose|o'clock|of the clock
gonna|going to|'s|is|n't|not|I’m|i am|i'm here|i am here|i'd've|i would have|lamp's|lamp is|same|same
won't|will not|y'know|you know|'d|had|they've|they have|ain't|is not
""".strip()
    .replace("\n", "|")
    .split("|")
)


def contracted() -> Iterator[str]:
    """Which wordings differ only in short and full forms, and every full form."""
    for a, b in zip(CONTRACTED[::2], CONTRACTED[1::2], strict=True):
        yield f"{a} / {b}: {contraction(a, b):d}{contraction(b, a):d}; {', '.join(sorted(expansions(a)))}"


PARTS: dict[str, Rows] = {
    "words in their contexts": in_context,
    "places by their numbers": by_number,
    "contracted words": contracted,
}
