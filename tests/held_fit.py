"""Held values of cuts: the price of every cut of a speech, what is refused, and the text that is left.

The proposals of `held_texts` come from a few cuts; here every place to cut is tried with every other one.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from functools import cache, partial
from itertools import pairwise, product

from offbook.fit import Pins
from offbook.fit.coherence import FORBIDDEN, Coherence
from offbook.fit.edges import MOST_EDGES, Edge, _clean, _strongest, edges_of, may_pair
from offbook.fit.exchanges import Exchanges
from offbook.fit.heart import Heart, _family
from offbook.fit.proposals import LimitError, _is_titled, chosen_proposal, fit
from offbook.fit.search import Cut, cheapest
from offbook.fit.shortened import PassageError, passage, spoken, without
from offbook.script import Script, parse_script
from offbook.thoughts import parse_words, shifts_of
from offbook.timing.pace import preset
from offbook.verse import scan
from offbook.words import Word, words_of
from tests import test_fit
from tests.held import Rows, figures, told

STORY = """The Lamp at Gull Point

My mother Ada kept the lamp; she had two boys and a dog. First she trimmed the wick. Second, she wound \
the clock: it stood by the door. Thirdly she slept.

“Who goes there?” she asked a sailor once. He said he was lost. 'Come in,' she said. "Sit (if you like) \
by the fire." Was he cold? No! He was tired, and his boots were wet. But the boots dried – and so did he.

Friends, you may laugh. You may say that she was mad. The old boat sank; nobody came. Then the sailors \
wept. They wept for the boat. However, it was only a boat. Again the lamp burned, and that was enough. \
This is why I asked: what is a lamp for?

So she sang. She sang because the fog was thick. I heard her sing. Those nights made me. The lamp is \
dark now. Keep yours lit.
"""
RHYMED = """The lamp was lit before the night was deep,
And all the boats were coming from the sea;
My mother sang the harbour into sleep:
She sang of lamps and never sang of me.

Who kept the light? The keeper and his wife.
He climbed the stair; she carried up the oil.
But then he fell, and that was half her life;
She turned the wheel alone, and turned to toil.

O little lamp, you never asked her why!
You burned for her, and burned for every sail.
And so I come to tell you: lamps may die,
But those who lit them did not light to fail.
"""
SCENE = """ORRIN: Who left the gate unbarred?

MAB: I did. The goats were still outside. They would have frozen there.

ORRIN: And the bell?

MAB: The wind rang that. I only held the rope! Did you hear it, Orrin?

ORRIN: I heard it ring till morning.

MAB: Yes. It rang three times. Nobody came but you.

ORRIN: Then hold your tongue.

MAB: My tongue is my own. I will not hold it; I will shout. (She shouts.) Was I wrong?

ORRIN: No.
"""
TEXTS: dict[str, tuple[str, str | None]] = {
    "a story": (STORY, None), "rhymed verse": (RHYMED, None), "a part": (SCENE, "MAB"),
    "a lighthouse": (test_fit.LIGHTHOUSE, None), "a whole scene": (SCENE, None),
}  # fmt: skip


@cache
def _prepared(title: str) -> tuple[Script, tuple[Word, ...], tuple[Edge, ...]]:
    text, part = TEXTS[title]
    script = parse_script(text, title="speech", part=part)
    words = words_of(script)
    return script, words, edges_of(script, words, shifts_of(script, words), scan(script, words))


def edges(title: str) -> Iterator[str]:
    """Where a cut may begin and end, with and without half-lines, and what the heart is."""
    script, words, found = _prepared(title)
    for e in found:
        word = words[e.before].text if e.before < len(words) else "the end"
        yield f"{e.before} {word}: {e.sentence:d} {e.line_start:d} {e.verse:d} {e.syllables} {e.level}"
    pairs = [(a, b) for a, b in product(found, repeat=2) if a.before < b.before]
    for halves in (False, True):
        yield f"may meet: {[f'{a.before}-{b.before}' for a, b in pairs if may_pair(a, b, halves)][:120]}"
    heart = Heart(script, words, parse_words(script, words), found)
    yield f"{heart.spans} {heart.heart} titled {_is_titled(script, words, found)}"
    for a, b in pairs:
        told_ = [*heart.taken(a.before, b.before), *heart.answered(a.before, b.before)]
        if told_:
            yield f"{a.before}-{b.before} {figures(heart.share(a.before, b.before))}: {told_}"


STOPS = (
    "The lamp was lit; nobody came. It burned: it smoked, and it went out – or so – they said ... at last … "
    "yes, -- and no -- indeed; but, after all: no.\n"
)


def stops() -> Iterator[str]:
    """Before which words there is a stop at which a cut may begin, in prose and in verse."""
    script = parse_script(STOPS)
    words = words_of(script)
    at = range(1, len(words))
    for verse in (False, True):
        yield f"verse {verse}: {[words[i].text for i in at if _clean(script, words, i, verse)]}"


def prices(title: str) -> Iterator[str]:
    """The price of the cut between every two edges, with what is to be checked; x where it is refused."""
    script, words, found = _prepared(title)
    coherence = Coherence(script, words, parse_words(script, words))
    yield f"rhymed {coherence.rhymed} {coherence.rhymes} close {coherence.close}"
    yield told([(x.at, x.on, x.others, x.price) for x in coherence.leanings])
    for k, a in enumerate(found):
        row, notes = [], []
        for j, b in enumerate(found[k + 1 :], k + 1):
            inside = max((e.level for e in found[k + 1 : j]), default=0)
            price, checks = coherence.price(a, b, inside)
            row.append("x" if price == FORBIDDEN else f"{price:.3f}")
            notes += [f"{b.before}: {check}" for check in checks]
        yield f"{a.before}: {' '.join(row)}; {'; '.join(notes)}"


def exchanges(title: str) -> Iterator[str]:
    """What may go of a part with its cues, between any two words."""
    script, words, _ = _prepared(title)
    found = Exchanges(script, words, parse_words(script, words).gaps)
    for a in range(len(words)):
        may = "".join(".x"[found.allow(a, b)] for b in range(a + 1, len(words)))
        yield f"{a} {words[a].text}: {may}"
    yield told([found.note(a, b) for a, b in product(sorted(found.cues), repeat=2) if a < b])


def left(title: str) -> Iterator[str]:
    """The text that is left, and what is said of it, after the cut between two edges near each other."""
    script, words, found = _prepared(title)
    whole = spoken(words, script, [])
    for k, a in enumerate(found):
        for b in found[k + 1 : k + 4]:
            cut = Cut(a.before, b.before, 1.0, 1.0, ())
            if b.before - a.before < len(words):
                yield f"{a.before}-{b.before}: {_changed(script.text, without(script, words, [cut]))}"
                if script.cues or script.left_out:
                    yield f"  {_changed(whole, spoken(words, script, [cut]))}"
    ends = Cut(0, found[1].before, 1.0, 1.0, ()), Cut(found[-2].before, len(words), 1.0, 1.0, ())
    yield _changed(script.text, without(script, words, ends))


def _changed(text: str, shorter: str) -> str:
    """Where a shorter text begins and ceases to differ from the longer one, and what it has around there."""
    same = next((k for k, (a, b) in enumerate(zip(text, shorter, strict=False)) if a != b), len(shorter))
    return f"{len(shorter)} {shorter[max(0, same - 20) : same + 20]!r} {shorter[-12:]!r}"


NAMED = """2|2-3|line 2|lines 2 - 3|sentence 2|Sentences 4–5|99|98-99|3-2|0||…|the lamp|My mother Ada kept
my mother Ava kept the lamp|she sang because the fog was thick|the fog was thin and grey|wept for the boat
They wept for the boat however|Keep yours lit|yours lit now|And so I come to tell
and now I come to tell|did not light too fail|the lump was lit
""".replace("\n", "|").split("|")


def passages() -> Iterator[str]:
    """Passages by their words or numbers, in prose and in verse, found or refused."""
    for title, named in product(("a story", "rhymed verse"), NAMED):
        script, words, _ = _prepared(title)
        try:
            yield f"{title}, {named}: {passage(script, words, named)}"
        except PassageError as error:
            yield f"{title}, {named}: refused: {error.what} / {error.do}"


def families() -> Iterator[str]:
    """The base form by which a word is counted, by its ending and its part of speech."""
    forms = [
        "lamps",
        "boxes",
        "carries",
        "carried",
        "singing",
        "sang",
        "song",
        "loved",
        "loves",
        "pass",
        "passes",
        "less",
        "ring",
        "rings",
        "red",
        "reds",
        "bed",
        "wife's",
        "seas",
        "uses",
        "bring",
        "brought",
        "is",
        "asked",
        "won't",
        "don't",
        "wicked",
        "things",
        "ax",
        "sea",
        "ties",
        "tied",
        "seeing",
        "dies",
    ]
    for tag in ("NN", "VBD", "JJ", "RB", "PRP"):
        yield f"{tag}: {' '.join(_family(form, tag) or '-' for form in forms)}"


def searched() -> Iterator[str]:
    """The cheapest cuts of a small speech for every time that is needed."""
    places = tuple(Edge(3 * k, True, True, False, None, 1) for k in range(7))
    table = {(0, 1): (2.0, 1.0), (1, 2): (2.0, 0.9), (1, 3): (4.5, 2.5), (2, 4): (3.0, 1.0)}
    table |= {(3, 5): (5.0, 2.4), (4, 6): (2.5, 0.9), (5, 6): (1.0, 0.2)}

    def cut(i: int, j: int) -> Cut | None:
        return Cut(3 * i, 3 * j, *table[i, j], ()) if (i, j) in table else None

    for needed in (0.5, 1.0, 1.001, 2.0, 2.5, 3.0, 4.5, 5.0, 5.5, 7.0, 7.6, 9.0, 9.6, 20.0):
        found = cheapest(places, cut, needed)
        yield f"{needed}: {None if found is None else [(c.first, c.after) for c in found]}"


def strongest() -> Iterator[str]:
    """Which edges of a long script are used: by paragraphs, turns and thoughts."""
    for paragraphs, size in ((3, 60), (60, 4), (130, 2)):
        text = "\n\n".join(" ".join(["Lamp."] * size) for _ in range(paragraphs))
        script = parse_script(text)
        words = words_of(script)
        for every in (1, 2, 3):
            at = list(range(1, len(words), every))
            grade = {i: 3 if i % 5 == 0 else 2 for i in at}
            found = _strongest(script, words, at, grade)
            steps = Counter(b - a for a, b in pairwise(found))
            told_ = f"{len(at)} {len(found)} {found[:9]} {found[-3:]} {sorted(steps.items())}"
            yield f"{paragraphs} {size} {every}: {told_}"
    many = list(range(1, MOST_EDGES + 3))
    for count in (MOST_EDGES - 1, MOST_EDGES, MOST_EDGES + 1):
        yield f"{count}: {len(_strongest(script, words, many[:count], {}))}"


def pinned(title: str, limit: float) -> Iterator[str]:
    """Proposals with passages that must stay or go, and which proposal is chosen by its number."""
    script, words, _ = _prepared(title)
    shifts, verse = shifts_of(script, words), scan(script, words)
    every = (0, len(words) - 1)
    pins = [Pins(ends_too=True), Pins(cut=((9, 15),)), Pins(keep=(every,))]
    pins += [Pins(keep=((9, 12),), cut=((13, 20),)), Pins(keep=((9, 13),), cut=((13, 20),))]
    for pin in pins:
        try:
            found = fit(script, words, shifts, verse, preset("narration"), limit, pin)
        except PassageError as error:
            yield f"{told(pin)}: refused: {error.what} / {error.do}"
            continue
        yield f"{told(pin)}: {found.fits} {figures(found.over_by)} {figures(found.chance)}"
        for n in range(5):
            try:
                p = chosen_proposal(found, n)
                cuts = ", ".join(f"{c.first}-{c.after} {figures(c.seconds)} {c.price:.3f}" for c in p.cuts)
                yield f"  {n} {cuts}; {figures(p.saved)} {figures(p.chance)} {told(p.check)} {told(p.goes)}"
            except LimitError as error:
                yield f"  {n} refused: {error.what} / {error.do}"


PARTS: dict[str, Rows] = {
    **{f"edges of {title}": partial(edges, title) for title in TEXTS},
    **{f"prices of {title}": partial(prices, title) for title in TEXTS},
    **{f"what is left of {title}": partial(left, title) for title in TEXTS},
    "what may go of a part": partial(exchanges, "a part"),
    "stops at which a cut may begin": stops,
    "passages that are named": passages,
    "words that are counted as one": families,
    "the cheapest cuts": searched,
    "edges of a long script": strongest,
    "proposals for a story, pinned": partial(pinned, "a story", 50.0),
    "proposals for verse, pinned": partial(pinned, "rhymed verse", 30.0),
}
