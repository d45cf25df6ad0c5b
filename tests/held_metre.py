"""Held values of the rules of verse one by one: feet, their names, steps of the metre, rhymes, shared lines.

The scansions of `held_texts` and `held_dice` come from all rules together; here each rule meets everything
that it could be given.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial
from itertools import product

from offbook.lexicon import dictionary_form
from offbook.script import parse_script
from offbook.verse import MetreError, scan, set_metre
from offbook.verse.beats import _KINDS, MetricalReading, end_names, step_names
from offbook.verse.feet import divide_feet
from offbook.verse.form import accentual_name, form_name, irregularity, is_accentual, is_free, line_name
from offbook.verse.lines import _caesura, _left_out, _length
from offbook.verse.metres import IAMBIC, METRES, TROCHAIC
from offbook.verse.names import FOOT_NAMES, place_name, variations_of
from offbook.verse.prominence import hardly_stressed
from offbook.verse.rhyme import couplets, rhyme_letters, rhymed_share, rhymes
from offbook.verse.spoken import SpokenSyllable, likeliest, pair, single
from offbook.verse.syllables import _edge, _place, tokens_of
from offbook.verse.whole import StanzaLine, turned
from offbook.words import words_of
from tests.held import Rows
from tests.held_texts import scanned

MARKS = ["".join(marks) for size in range(1, 8) for marks in product("ws", repeat=size)]


def feet(metre: str) -> Iterator[str]:
    """How every line of up to seven syllables is divided into so many feet."""
    for count in (1, 2, 3, 4):
        for size in range(1, 8):
            divided = ("|".join(divide_feet(m, metre, count)) for m in MARKS if len(m) == size)
            yield f"{count}: {' '.join(divided)}"
    for labels in ("swswswswsw", "wswswswsws", "swswsw", "wsws"):
        yield f"{labels}: {[divide_feet(labels, metre, n) for n in (2, 3, 4, 5)]}"


def names() -> Iterator[str]:
    """The names of the variations of every foot, in every metre, as the first, a middle and the last foot."""
    marks = [m for m in MARKS if len(m) <= 5]
    for foot in METRES:
        plain = foot.plain
        for each in marks:
            lines = (each + plain * 2, plain + each + plain, plain * 2 + each, each)
            sizes = ([len(each), len(plain), len(plain)], [len(plain), len(each), len(plain)],
                     [len(plain), len(plain), len(each)], [len(each)])  # fmt: skip
            found = (", ".join(variations_of(s, m, foot)) or "-" for s, m in zip(sizes, lines, strict=True))
            yield f"{foot.name} {each}: {'; '.join(found)}"
        for n in (2, 3, 4, 5):
            yield f"{foot.name} turned {n}: {variations_of([len(plain)] * n, plain[::-1] * n, foot)}"
        for k in range(10):
            yield f"{line_name(StanzaLine(foot, k))}; {accentual_name(StanzaLine(foot, k))}; {place_name(k)}"
            yield f"  {[_length(feet_, StanzaLine(foot, k)) for feet_ in range(4, 8)]}"
    yield str(sorted(FOOT_NAMES.items()))


def steps() -> Iterator[str]:
    """What a beat, and the end of a line, are called after so many weak syllables, in every state."""
    for foot, run, kind in product(METRES, range(4), _KINDS):
        beats = (step_names(foot, run, kind, pause) for pause in (False, True))
        yield f"{foot.name} {run} {kind}: {'; '.join(map(str, beats))}; end {end_names(foot, run, kind)}"


def forms() -> Iterator[str]:
    """The name of a passage by the lengths of its lines, with and without rhymes."""
    pairs, cross = ["day", "way", "night", "light"], ["day", "night", "way", "light"]
    blank = ["lamp", "sea", "harbour", "stone"]
    lengths: list[tuple[int, ...]]
    lengths = [(5,), (6,), (7,), (4,), (3,), (8,), (9,), (4, 3), (3, 3, 4, 3), (6, 7), (7, 6), (6, 7, 6, 5)]
    lengths += [(5, 5, 5, 4), (5, 4), (2, 3, 4, 5, 6), (5,) * 9 + (6,), (5,) * 8 + (6,) * 2]
    lengths += [(5,) * 7 + (4,) * 3, (5,) * 6 + (4,) * 4, (5,) * 12 + (6,), (5,) * 13 + (6,)]
    for foot, beats in product((IAMBIC, TROCHAIC), lengths):
        for many in (len(beats), 4, 14):
            places = [StanzaLine(foot, beats[k % len(beats)]) for k in range(many)]
            told = [form_name(places, [ends[k % 4] for k in range(many)]) for ends in (pairs, cross, blank)]
            yield f"{foot.name} {beats} {many}: {' | '.join(told)}"
    limerick = [StanzaLine(METRES[2], n) for n in (3, 3, 2, 2, 3)]
    mixed = [StanzaLine(foot, 4) for foot in METRES]
    for places in (
        limerick,
        limerick * 2,
        limerick[:4],
        mixed,
        mixed[:2],
        [*mixed[:1] * 13, mixed[1]],
        [*mixed[:1] * 3, mixed[1]],
    ):
        yield form_name(places, ["day"] * len(places))


def metrical() -> Iterator[str]:
    """How irregular lines are, and whether they are free or accentual verse, by their labels and rhymes."""
    rows = (
        "wswswswsws",
        "wsws",
        "swwswswsws",
        "wswwswsws",
        "wswswswswsw",
        "sswsws",
        "wswswswswsws",
        "w",
        "wwwwwwwwww",
        "wswwwswwws",
    )
    rhymed, unrhymed = (
        ["day", "way"] * 8,
        ["lamp", "sea", "harbour", "stone", "oar", "bell", "chair", "tide"] * 2,
    )
    for foot, beats, (one, other) in product((IAMBIC, METRES[2]), (2, 5), product(rows, repeat=2)):
        told = []
        for lines in (3, 4, 5):
            labels = [one if k % 2 else other for k in range(lines)]
            read = [MetricalReading(0.0, m, (), m.count("s")) if m.count("s") else None for m in labels]
            places = [StanzaLine(foot, beats)] * lines
            far = f"{irregularity(read, places):.3f} {irregularity(read, places, {0}):.3f}"
            free = is_free(read, places, rhymed[:lines]), is_free(read, places, unrhymed[:lines])
            parts = is_free(read, places, unrhymed[:lines], {0, 1})
            accents = (is_accentual(read, places, ends[:lines]) for ends in (rhymed, unrhymed))
            told.append(f"{far} {''.join('ny'[x] for x in (*free, parts, *accents))}")
        yield f"{foot.name} {beats} {one} {other}: {'; '.join(told)}"
    for falling, rising, beats in product(range(3), range(3), (4, 5)):
        read = [
            MetricalReading(0.0, m, (), 4) for m in ["swswsws"] * falling + ["wswswsws", "swwsws"][:rising]
        ]
        for foot in (IAMBIC, TROCHAIC, METRES[2]):
            found = turned(read, [StanzaLine(foot, beats)] * len(read))
            yield f"{falling} {rising} {foot.name}: {[p.foot.name for p in found]}"


ENDS = (
    """
day way|love move|night knight|light light|eternity me|pastures waters|sing king|going coming|hour power
heaven even|the sea|stone gone|prove love|fire desire|nation station|oar door|cat cats|bring thing
bear fear|tide side|strzt zt|a day|wind kind|mother other|falling calling|fear'd appear'd|o'er before
eye I|none stone|cost most|city pretty|able table|thee me
""".strip()
    .replace("\n", "|")
    .split("|")
)
POEMS = (
    "day way night light", "day night way light", "day night light way", "day day lamp lamp",
    "lamp sea oar stone bell chair day way",
    "day lamp sea oar way stone", "day lamp sea oar bell way", "day way say lamp night light", "day",
)  # fmt: skip


def rhyming() -> Iterator[str]:
    """Which words rhyme, the letters of the rhymes, and how much of a poem rhymes."""
    for ends in ENDS:
        a, b = ends.split()
        yield f"{ends}: {rhymes(a, b):d} {rhymes(b, a):d}"
    for poem in POEMS:
        words = poem.split()
        letters = " ".join(rhyme_letters(words, [0] * len(words)))
        shares = f"{rhymed_share(words):.3f} {rhymed_share(words, True):.3f}"
        yield f"{poem}: {letters} {shares} {couplets(words):d}"
    for count in (36, 40, 44):
        words = (["day", "night", "way", "light"] * 12)[:count]
        yield f"{count}: {''.join(rhyme_letters(words, [k // 4 for k in range(count)]))}"
        yield f"{count}: {''.join(rhyme_letters(words, [k // 3 for k in range(count)]))}"
    many = [word for ends in ENDS if not ends.startswith("strzt") for word in ends.split()[:1] * 2][:40]
    yield " ".join(rhyme_letters(many, [0] * len(many)))


WORDS = [
    "the",
    "and",
    "of",
    "to",
    "but",
    "my",
    "I",
    "it",
    "was",
    "not",
    "one",
    "go",
    "lamp",
    "upon",
    "never",
    "harbour",
    "away",
    "lighthouse",
    "heaven",
    "o'er",
    "th'",
    "'tis",
    "mother",
]


def places_of_words() -> Iterator[str]:
    """What the place in a line gives a word of one syllable, by the words and pauses beside it."""
    yield " ".join(f"{w}:{_edge(w, True)}{_edge(w, False)}{hardly_stressed(w):d}" for w in WORDS)
    for word, before, after in product(
        ("the", "lamp", "go", "one"),
        ("", "of", "lamp", "never", "away", "upon"),
        ("", "the", "lamp", "away", "never", "go"),
    ):
        forms = [dictionary_form(w) for w in (before, word, after) if w]
        k = 1 if before else 0
        for pauses in ((0, 0, 0), (0, 1, 0), (0, 0, 2)):
            marks = pauses[: len(forms)] if before else pauses[1:][: len(forms)]
            yield f"{before}/{word}/{after} {marks}: {', '.join(_place(forms, k, marks)) or '-'}"


def weights_used() -> Iterator[str]:
    """The names of the weights of a syllable by kinds, beats and pauses, and the likeliest stress."""
    kinds = (("content", "S"), ("article", "F"), ("unstressed apart", "W"), ("quantity", "M"))
    for (a, b), beats, pauses in product(
        product(kinds, repeat=2), ("ws", "sw"), ((0, 0), (1, 0), (0, 2), (3, 3))
    ):
        line = (
            SpokenSyllable(a[0], a[1], beats[0], 3, pauses[0], False),
            SpokenSyllable(b[0], b[1], beats[1], pauses[0], pauses[1], pauses == (0, 2)),
            SpokenSyllable("content", "S", "s", pauses[1], 3, False),
        )
        best = likeliest(line), likeliest(line, [None, "w", "s"])
        yield f"{a[0]}, {b[0]} {beats} {pauses}: {'; '.join(single(line, 1))} | {'; '.join(pair(line, 1))}"
        yield f"  {[f'{score:.3f} {stress}' for ways in best for score, stress in ways]}"
        yield f"  {'; '.join(single(line, 0))} | {'; '.join(single(line, 2))}"


STOPPED = (
    "The lamp, the lamp, the lamp was lit",
    "The lamp: the lamp, the lamp was lit",
    "The lamp was lit. And so",
    "The (lamp) was lit again",
    "“The lamp,” he said, was lit and -- gone",
    "The lamp was lit again",
    "O, the lamp was lit again so, yes",
    "Lit; lit; lit; lit",
    "The lamp, it was; it was.",
)
PRINTED = (
    "heav'n bless'd charm'd o'er e'er th' want'ed want'd lov'd don't i'll i'm john's wing'd fixt add'd "
    "pow'r'd 'tis "
    "ev'ry crook'd"
)


def pauses_and_spellings() -> Iterator[str]:
    """The main pause inside a line, and which spellings leave a syllable out."""
    for text in STOPPED:
        script = parse_script(f"{text}\n")
        words = words_of(script)
        at = _caesura(tokens_of(words, script.text, {}), script.text)
        yield f"{text}: {at} {[t.pause for t in tokens_of(words, script.text, {})]}"
    yield " ".join(f"{w}:{_left_out(w):d}" for w in PRINTED.split())


METRES_NAMED = """Blank  verse|blank verse (with rhymes)
vers libre|common metre|ballad|Alexandrine|fourteener|sonnet (x)
iambic pentameter|iambs tetrameter|anapestic trimeter|dactyls hexameter|trochees dimeter
Poulter’s measure|short measure|heroic couplet|iambic|iambic no|iambic pentametre|spondaic trimeter|
iambic monometer|iambic octameter"""


def set_by_hand() -> Iterator[str]:
    """Metres by their names, however they are written."""
    for name in METRES_NAMED.replace("\n", "|").split("|"):
        try:
            found, places = set_metre(name)
            yield f"{name}: {found} {[(p.foot.name, p.beats) for p in places]}"
        except MetreError as error:
            yield f"{name}: refused: {error.what} / {error.do}"


HALVES = """ANNA: The lamp was lit before the tide came in,
And all the boats were coming from the sea.

BEN: Who kept it?

ANNA: I.

BEN: And who was with you there?

ANNA: Nobody came. I sat alone all night

BEN: You sat alone?

ANNA: I did, and trimmed the wick, and watched the door.
I never slept. The stair

CAL: The stair was dark.

BEN: The stair was dark enough to break a neck,
And yet you climbed it

ANNA: Every night

CAL: for him.
"""


def shared(part: str | None, metre: str | None) -> Iterator[str]:
    """Lines that two or three speakers complete, as the whole scene and as one part has them."""
    script = parse_script(HALVES, part=part)
    found = scan(script, words_of(script), metre=metre)
    yield f"{found.form} {found.metre} {found.fit} {found.open}"
    for line, s in zip(script.lines, found.lines, strict=True):
        if s is not None:
            told = f"{' '.join(s.feet)}; {s.stress}; {s.metre}; {', '.join(s.variations)}"
            yield f"{line.text[:30]}: {told}; {s.shared_with} {s.enjambed:d} {s.caesura_before_word}"


STANZAS = (
    """The lamp was lit before the tide,
The boats came in again;
My mother stood the door beside
And waited for the men.

""",
    """Trim the wick and wind the clock,
Sit beside the glass;
Hear the harbour bells that rock,
Let the evening pass.

""",
    """And the boats in the bay were as black as the night,
And the stars on the water were silver and bright;
And the wind from the headland came over the sea,
And it sang to the keepers and sang it to me.

""",
    """Stay.
The lamp is a small thing,
and nobody, not even the sea,
asks it
to burn.

""",
)
MIXED = ((0, 1), (0, 0, 1, 0), (2, 0), (0, 2, 0, 2), (3,), (3, 0), (1, 1, 2))


def blocks(order: Sequence[int]) -> Iterator[str]:
    """Stanzas of several metres after one another, each with its own form or not."""
    yield from (row for row in scanned("".join(STANZAS[k] for k in order)) if not row.startswith("  iamb"))


PARTS: dict[str, Rows] = {
    **{f"{foot.name} feet": partial(feet, foot.name) for foot in METRES},
    "names of variations": names,
    "steps of the metre": steps,
    "names of forms": forms,
    "how metrical lines are": metrical,
    "what rhymes": rhyming,
    "words in their places": places_of_words,
    "weights of spoken stress": weights_used,
    "pauses and spellings": pauses_and_spellings,
    "metres set by hand": set_by_hand,
    **{f"shared lines, {part}, {metre}": partial(shared, part, metre)
       for part, metre in ((None, None), ("ANNA", None), ("BEN", None), ("CAL", None),
                           ("ANNA", "blank verse"), (None, "free verse"))},
    **{f"stanzas {order}": partial(blocks, order) for order in MIXED},
}  # fmt: skip
