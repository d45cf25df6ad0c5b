"""Held values of words, sentences, verse and slips that are put together at random, so that rules meet each
other.

The examples of `held_words`, `held_texts` and `held_heard` were each written for one thing; here similar
ones are in random order. The random numbers have a seed, so the examples are always the same.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from functools import partial

from offbook.lexicon import divide, pronounce
from offbook.script import parse_script
from offbook.soundalike.likeness import alike, rivals, sound_keys
from offbook.thoughts import parse_words, shifts_of
from offbook.thoughts.causes import Places
from offbook.thoughts.shift import _Speech
from offbook.thoughts.turn_weights import turn_score
from offbook.thoughts.weights import phrase_score, thought_score
from offbook.verse import rhyme_letters, scan
from offbook.words import words_of
from tests.held import Rows, figures, one_row
from tests.held_heard import noted
from tests.held_texts import _line, _tenths
from tests.held_words import ANSWERS, answered
from tests.performing import hear_said, perform
from tests.test_notes import SCRIPT as SPEECH
from tests.test_notes import WHOLE

# Written words whose spoken forms hang on what stands beside them.
_WRITTEN = (
    "1998 1900 1905 2007 2024 1010 110 100 101 999 1,000 12,345 1000000 007 0 7 11 15 20 21 40 99 "
    "3.14 0.5 .5 10.0 -4 1/2 3/4 2/3 7/8 9/10 50% 12.5% 3-4 1914-18 '98 '70s 1960s 1st 2nd 3rd 12th "
    "21st 100th £3.50 £1 £2.05 $1m $1,200 €5bn 20p 99¢ 7.30 7:05 12:00 23:59 6pm 10:00 a.m. p.m. "
    "o'clock IV XIV VIII MIX I II C Act Henry Chapter World War king Mr. Mrs Dr. St. Prof. No. no. "
    "e.g. i.e. etc. vs. Inc. Capt. BBC U.S.A. PhD NATO A1 B52 MP3 5G H2O 3D 4x4 km 5km 10kg ft lb in "
    "mph °C 20°C & @ # #4 + = * — … - x re-enter twenty-one T-shirt well-known mother-in-law boats' "
    "James's children's 'tis th' e'en o'er I'm don’t who's they'd y'all rock'n'roll May June 3 March "
    "Monday the of in on at and a said lamp Lamp LAMP café naïve æther Zoë (perhaps) [so] “So it?” "
    "end! yes, no; wait: “quite” ‘so’ http://a.example a@b.example and/or he/she s t ' \" O Oh A B.C. "
    "J. R."
)
WRITTEN = _WRITTEN.split()
GLUE = (" ", " ", " ", " ", ", ", ". ", "; ", "—", "-", "/", "\n", "? ", " - ", "... ", ": ", "  ")

CLAUSES = (
    """
the lamp was lit before the tide came in|nobody asked who carried up the oil|I carried it on both my shoulders
my sister hid the key under the stone|he came back in the spring|you promised to wait for me at the gate
I will not sleep|we shall never see that boat again|the council has no money|there is a light in the window
what was it that you wanted|who sat beside the lamp|is this the man you followed|come up the stairs
look at the sea
do not tell him|let us begin|let the bells be still|I never said that he was wrong|I said he was early
to sit alone is hard|sitting there all night, she learned their names|tired of waiting, they went home
he that keeps the light must never sleep|the boy whom you sent has not come|it is not the cold but the dark
she used to sing|she used to laugh|she used to be my friend|some say he drowned
I would rather be late than sorry
the sea took one and the rocks took another|my mother kept it and her mother kept it before her
if I were you I would go|I have neither bell nor oar|all that I had is gone|O what a fool I was to come
remember the winter of the great storm|yesterday there were eleven|today there is one
tomorrow they will blame me
I know it|they knew|give me your hand|that is all|he laughs at scars that never felt a wound
""".replace("\n", "|")
    .strip("|")
    .split("|")
)
JOINS = (
    """
, and |, but |; |. |. |. |? |! |: | because |, because | although |, though | when |, so |, yet |, for
 if |, if
. Yet |. But |. And |. Then |. Now |. No, |. Yes, |. Still, |. However, |. For |. So | — | until | that
, which means that |. Perhaps |. First, |. Well, |.\n\n|.\n|, while |. Not because |, either |, or |. Although
. When |. Therefore |. Anna, |. My friends, |. Sir, |, my love, |. Listen: |. “|.” |, unless |. Once | as if
""".replace("\n", "|")
    .strip("|")
    .split("|")
)

_FEET = (
    "the a of to and in my thy with from upon against before between never ever over heaven power "
    "spirit flower hour being violet every glorious ocean million patience temperate murderous "
    "obedient blessèd fixèd wander'd o'er e'en th' 'tis thou hast doth love death night light sea "
    "stair lamp tide bell oar ghost king queen crown sword blood golden silver bitter sorrow morning "
    "evening window harbour lantern sailor keeper mother sister water river beautiful miserable "
    "remember tomorrow forgotten imagine delivered undone alone away again behold become begin goes "
    "came sings wept sleeps burns falls rose and not no all but yet so then when where why what how O "
    "ah melancholy generation everlasting incarnadine unfeigned lighthouse moonlight sunlight "
    "twilight overthrow"
)
FEET = _FEET.split()
STOPS = ("", "", "", ",", ".", ";", "!", "?", ":", " --")

_INVENTED = (
    "bl st thr qu sh ch ph wr kn gn sc spl gr n m l d z j v x y",
    "a e i o u ai ea oo ou ough igh ar er ir or ure ey ie oa y ee au ew",
    "ck ng st nd ll sh tch dge mb gh ft lt pt ss ve ce ge ne te me s x z th",
    " ed es ing er est ly ness ful less tion sion ment able ous 's s' ward hood ship ity al y",
)
INVENTED = [part.split(" ") for part in _INVENTED]


def written(seed: int, count: int) -> Iterator[str]:
    """Rows of written words, each with its place and its spoken forms."""
    for n in range(count):
        dice = random.Random(f"written {seed} {n}")
        row = "The " + "".join(dice.choice(WRITTEN) + dice.choice(GLUE) for _ in range(9)).strip()
        told = [
            f"{w.start}-{w.end} {w.text}: {'|'.join(' '.join(f) for f in w.spoken)}"
            for w in words_of(parse_script(row))
        ]
        yield f"{one_row(row)} => {'; '.join(told)}"


def sounded(seed: int, count: int) -> Iterator[str]:
    """Words that are in no dictionary: how they are divided and said, and what sounds like them."""
    for n in range(count):
        dice = random.Random(f"sounded {seed} {n}")
        word = "".join(
            dice.choice(part) for _ in range(dice.choice((1, 1, 2))) for part in INVENTED[:3]
        ) + dice.choice(INVENTED[3])
        other = dice.choice(FEET)
        ways = " ".join(f"{p.stress or '-'}:{'.'.join(p.phones)}:{p.source}" for p in pronounce(word))
        likes = f"{' '.join(rivals(word)) or '-'}; {' '.join(map(str, sound_keys(word)))[:60]}"
        yield f"{word}: {'-'.join(divide(word))}; {ways}; {likes}; {other} {figures(alike(word, other))}"


def sentences(seed: int, count: int) -> Iterator[str]:
    """Texts of a few clauses: the log-odds of a phrase and a thought before each word, then the marks."""
    for n in range(count):
        dice = random.Random(f"sentences {seed} {n}")
        text = dice.choice(CLAUSES).capitalize()
        for _ in range(dice.choice((2, 3, 4, 6))):
            text += dice.choice(JOINS) + dice.choice(CLAUSES)
        script = parse_script(text + ".")
        words = words_of(script)
        speech, places = _Speech(script, words), Places(parse_words(script, words), words)
        odds = []
        for i in range(1, len(words)):
            causes = places.causes(i)
            odds.append(f"{_tenths(phrase_score(causes))}/{_tenths(thought_score(causes))}")
        turns = [f"{i}:{_tenths(turn_score(speech.turning.signs(s)))}" for i, s in speech.steps.items()]
        yield f"{one_row(text)} => {' '.join(odds)}; turns {' '.join(turns) or '-'}"
        for shift in shifts_of(script, words):
            mark = f"{shift.grade}{'?' if shift.open else ''} {words[shift.before_word].text}"
            yield f"  {mark}: {'; '.join(shift.reasons)}"


def verses(seed: int, count: int) -> Iterator[str]:
    """Stanzas of random words: the metre, the rhymes, and the scansion of each line."""
    for n in range(count):
        dice = random.Random(f"verses {seed} {n}")
        metre = dice.choice(
            ("ws" * 5, "ws" * 5, "ws" * 4, "sw" * 4, "wws" * 4, "sww" * 4, "ws" * 3, "sws" * 4)
        )
        rows = [
            _metrical(metre, dice).capitalize() + dice.choice(STOPS) for _ in range(dice.choice((2, 4, 5)))
        ]
        script = parse_script("\n".join(rows) + "\n")
        words = words_of(script)
        found = scan(script, words)
        ends = [[w for w in words if w.line == line.n][-1].text for line in script.lines]
        letters = "".join(rhyme_letters(ends, [line.paragraph for line in script.lines]))
        yield f"{found.form}, {found.metre}, fit {found.fit}, {found.open or 'named in one way'}; {letters}"
        for line, scansion in zip(script.lines, found.lines, strict=True):
            yield f"  {one_row(line.text)}: {'-' if scansion is None else _line(scansion)}"


def _metrical(metre: str, dice: random.Random) -> str:
    """A line whose words mostly fit the metre; one word in eight may not."""
    row: list[str] = []
    at = 0
    while at < len(metre):
        word = dice.choice(FEET)
        stress = pronounce(word)[0].stress.replace("2", "s").replace("1", "s").replace("0", "w")
        size = max(1, len(stress))
        if size == 1 or stress == metre[at : at + size] or dice.random() < 0.12:
            row.append(word)
            at += size
    return " ".join(row)


def slips(seed: int, count: int) -> Iterator[str]:
    """A speech with three slips of any kind in it: its notes, aligned simply and as a recording is."""
    for n in range(count):
        dice = random.Random(f"slips {seed} {n}")
        said = WHOLE.split()
        for _ in range(dice.choice((1, 2, 3))):
            _slip(said, dice)
        for review in (perform, hear_said):
            shown = [
                row for row in noted(SPEECH, review(SPEECH, " ".join(said))) if not row.startswith("row ")
            ]
            yield f"{n} {review.__name__}: {' / '.join(shown)}"


def _slip(said: list[str], dice: random.Random) -> None:
    at, size = dice.randrange(len(said) - 8), dice.choice((1, 1, 2, 3, 7))
    part = said[at : at + size]
    ways: tuple[list[str], ...] = (
        [],
        [*part, *part],
        [*part, f"[{dice.choice((0.3, 0.8, 1.5, 3.0, 5.0, 7.0))}]", *part],
        [*part, dice.choice(("um", "er", "line", "sorry", "very", "the", "lantern", "no wait")), *part[:0]],
        [dice.choice(("kettle", "a", "swallows", "chair", "window")), *part[1:]],
        [*part[::-1]],
        [f"[{dice.choice((0.5, 2.0, 2.9, 3.1, 6.0))}]", *part],
        [*part[:1], dice.choice(("[1.0]", "and")), *said[max(0, at - 3) : at], *part],
    )
    said[at : at + size] = dice.choice(ways)


def typed(seed: int, count: int) -> Iterator[str]:
    """Typed answers with words that are missing, changed, doubled, swapped or misspelt."""
    for n in range(count):
        dice = random.Random(f"typed {seed} {n}")
        script = dice.choice(ANSWERS)[0]
        given = script.lower().split()
        for _ in range(dice.choice((1, 2, 3))):
            k = dice.randrange(len(given))
            word = given[k]
            cut = dice.randrange(len(word) + 1)
            given[k : k + 1] = dice.choice(
                ([], [word, word], [word[:cut] + word[cut + 1 :]], [word[:cut] + "e" + word[cut:]],
                 [word[::-1]], [word[:cut] + word[cut : cut + 2][::-1] + word[cut + 2 :]], [word, "so"],
                 [word + "s"], ["…"], [dice.choice(FEET)])
            )  # fmt: skip
            given = given or ["so"]
        yield from answered(script, " ".join(given))


WORD_PARTS: dict[str, Rows] = {
    **{f"written words by dice, {seed}": partial(written, seed, 60) for seed in (1, 2, 3)},
    **{f"invented words by dice, {seed}": partial(sounded, seed, 60) for seed in (1, 2)},
    **{f"typed answers by dice, {seed}": partial(typed, seed, 60) for seed in (1, 2)},
}
THOUGHT_PARTS: dict[str, Rows] = {
    f"sentences by dice, {seed}": partial(sentences, seed, 20) for seed in (1, 2, 3, 4, 5, 6)
}
VERSE_PARTS: dict[str, Rows] = {f"verses by dice, {seed}": partial(verses, seed, 12) for seed in (1, 2, 3, 4)}
SLIP_PARTS: dict[str, Rows] = {f"slips by dice, {seed}": partial(slips, seed, 12) for seed in (1, 2, 3, 4)}
