"""Held values of whole texts: the scansion of lines, the causes of thoughts, the seconds, the cuts."""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import cache, partial
from pathlib import Path

from offbook.fit import Pins, Proposal, fit
from offbook.glossary import words_worth_a_look
from offbook.script import Script, load_script, parse_script
from offbook.thoughts import parse_words, shifts_of
from offbook.thoughts.causes import Places
from offbook.thoughts.shift import _Speech
from offbook.thoughts.turn_weights import turn_score
from offbook.thoughts.weights import phrase_score, thought_score
from offbook.timing import PRESETS, EarlierReading, at_rate, calibrate, plain_of, running_time
from offbook.timing.pace import preset
from offbook.verse import Scansion, rhyme_letters, scan
from offbook.verse.beats import metrical_readings
from offbook.verse.costs import CHOOSING, READING
from offbook.verse.metres import METRES
from offbook.verse.spoken import likeliest, spoken_syllables
from offbook.verse.syllables import tokens_of
from offbook.words import Word, words_of
from tests import test_fit, test_mark, test_thoughts, test_verse, test_verse_metres
from tests.held import Rows, figures, one_row

DEMO = Path(__file__).resolve().parent.parent / "corpus_demo"
VERSE = {
    "blank verse": test_verse.BLANK,
    "a ballad": test_verse.BALLAD,
    "trochaic tetrameters": test_verse.HIAWATHA,
    "anapaestic tetrameters": test_verse.SENNACHERIB,
    "dactylic hexameters": test_verse.EVANGELINE,
    "couplets": test_verse.COUPLETS,
    "dactylic dimeters": test_verse.LOST,
    "free verse": test_verse.FREE,
    "a scene with shared lines": test_verse.SCENE,
    "blank verse with broken lines": test_verse_metres.MACBETH,
    "catalectic tetrameters": test_verse_metres.TYGER,
    "a scene of one speaker": test_verse_metres.RICHARD,
    "old words and elisions": "\n".join((
        "O'er heav'n's high tow'rs th' unfeignèd violet blew,",
        "Thou mak'st the murderous ministers obedient,",
        "And wander'd, temperate, to the glorious ocean's nation;",
        "Never, never, never, never, never!",
        "The blessed patience of a studying spirit",
        "Is fire, is power: being ever in the hour,",
        "Upon th' ignorant and general flower, (perhaps)",
        "Romeo and Juliet -- many a violet -- I to it am to enter.",
    )),
}  # fmt: skip
TEXTS = {
    "a lighthouse": test_fit.LIGHTHOUSE,
    "somebody called on": test_fit.CALLED,
    "a lantern keeper": test_fit.LANTERN,
    "a scene": test_mark.SCENE,
    "a speech in verse": test_mark.VIOLA,
    "a question in verse": test_thoughts.HAMLET,
    "an orator": test_thoughts.ANTONY,
    "a prayer in verse": test_thoughts.LADY,
    "a sleepless king": test_thoughts.KING,
    "an address": (
        "Ladies and gentlemen, friends of the harbour!\n\nWe are here because nobody else would "
        "come. We have no bell, "
        "no boat and no money; but we have our lamp, and we shall light it, whether or not the "
        "council pays.\n\n"
        "Some of you remember 1962. Some of you were not born. If the lamp had failed that "
        "night, eleven men would "
        "have drowned. It did not fail. Why? Not because it was new, but because somebody sat beside it.\n\n"
        "“Who sat there?” you ask. My mother did (she was nineteen). She said, “I will not "
        "sleep,” and she did not "
        "sleep. So now I ask you, Mr. Mayor: what will you do? Come up the stairs. Look at the "
        "sea. Then tell us the "
        "lamp is dear — tell us, if you can, that it costs too much!\n"
    ),
    "talk with turns": (
        "No, wait. I never said that he was wrong; I said he was early. There is a difference "
        "between being wrong and "
        "being early, isn't there? Yes. Although he came before the others, he left after them, "
        "and when he left, he "
        "took the key which my sister had hidden under the stone. I'd rather be late than "
        "sorry. Anna, listen to me! "
        "Yesterday you promised to wait for me at the gate; today you say you don't remember. "
        "Well, then. However "
        "that may be, I shall go, and you will stay. The more I think of it, the less I like "
        "it: not so much the "
        "lie as the smile. Either you tell him or I do. He used to sing. He used to laugh. He "
        "used to be my friend. "
        "What a fool I was to come! Now, let us begin.\n"
    ),
}  # fmt: skip


@cache
def script_of(title: str) -> Script:
    """One of the texts as a script."""
    return parse_script(TEXTS[title])


def scanned(text: str) -> Iterator[str]:
    """The versification, and each line with its feet, its stress and the cost of every way to read it."""
    script = parse_script(text)
    words = words_of(script)
    found = scan(script, words)
    yield f"{found.form}, {found.metre}, fit {found.fit}, {found.open or 'named in one way'}"
    ends = [[w for w in words if w.line == line.n][-1].text for line in script.lines]
    yield "rhymes " + " ".join(rhyme_letters(ends, [line.paragraph for line in script.lines]))
    for line, scansion in zip(script.lines, found.lines, strict=True):
        yield one_row(line.text)
        if scansion is not None:
            yield _line(scansion)
            yield from _costs([w for w in words if w.line == line.n], script.text)


def _line(s: Scansion) -> str:
    told = [f"  {' '.join(s.feet)}", s.stress, s.pattern, ",".join(map(str, s.word_syllables)), str(s.metre)]
    told += [*s.variations, f"caesura {s.caesura_before_word}", "enjambed" if s.enjambed else "stopped"]
    told += [f"or {o.stress}: {o.why} ({', '.join(o.variations)})" for o in s.open]
    return "; ".join([*told, *([f"shared with {s.shared_with}"] if s.shared_with else [])])


def _costs(words: list[Word], text: str) -> Iterator[str]:
    """The two cheapest readings of a line in each metre, with both sets of weights, and its stress."""
    tokens = tokens_of(words, text, {})
    for foot in METRES:
        told = []
        for purpose in (CHOOSING, READING):
            best = sorted(metrical_readings(tokens, foot, purpose, 0.3).values(), key=lambda r: r.cost)[:2]
            told += [f"{r.labels} {figures(r.cost)}" for r in best]
            if purpose == READING and best:
                ways = likeliest(spoken_syllables(tokens, best[0], not foot.duple))
                told += [f"said {stress} {figures(score)}" for score, stress in ways]
        yield f"  {foot.name}: {', '.join(told)}"


def _tenths(odds: float) -> str:
    """Log-odds to a tenth, like their weights, so that neither the order of adding nor a sign of 0 shows."""
    return f"{round(odds, 1) + 0.0:.1f}"


def thoughts(title: str) -> Iterator[str]:
    """Before each word the log-odds of a phrase and of a thought with their causes; then every mark."""
    script = script_of(title)
    words = words_of(script)
    speech = _Speech(script, words)
    places = Places(parse_words(script, words), words)
    for i in range(1, len(words)):
        causes = places.causes(i)
        odds = f"{_tenths(phrase_score(causes))} {_tenths(thought_score(causes))}"
        turn = (
            f", turn {_tenths(turn_score(speech.turning.signs(speech.steps[i])))}"
            if i in speech.steps
            else ""
        )
        yield f"{words[i].text}: {odds}{turn}; {', '.join(sorted(causes))}"
    for i, step in speech.steps.items():
        yield f"step at {words[i].text}: {', '.join(sorted(speech.turning.signs(step)))}"
    for shift in shifts_of(script, words):
        shown = f"{shift.grade}{'?' if shift.open else ''} before {words[shift.before_word].text}"
        yield f"{shown}: {'; '.join(shift.reasons)}"


def timed(title: str) -> Iterator[str]:
    """The seconds of a text at every pace and after earlier readings; each word with the silence after it."""
    script = script_of(title)
    words = words_of(script)
    plain = plain_of(script, words)
    yield f"{plain.tempo}: {plain.spoken} words, {plain.syllables} syllables"
    readings_ = [
        EarlierReading(40, 12, 50, "narration", None, "Monday"),
        EarlierReading(30, 9, 48, "narration", 36, "Monday"),
        EarlierReading(20, 5, 31, "verse", 24, "Tuesday"),
    ]
    paces = [preset(kind) for kind in PRESETS] + [at_rate(130, plain.tempo)]
    paces += [calibrate(readings_[:n], plain.tempo) for n in (1, 2, 3)]
    for pace in paces:
        t = running_time(plain, pace)
        shown = " ".join(
            map(figures, (t.seconds, t.low, t.high, t.rate_wpm, t.articulation, t.voiced, t.pauses, t.spread))
        )
        yield f"{pace.name}: {shown}; within a minute {figures(t.chance(60))}"
    for word, voiced, pause in zip(words, plain.voiced, plain.pauses, strict=True):
        yield f"{word.text} {figures(voiced)} {figures(pause)}"


def fitted(title: str) -> Iterator[str]:
    """The proposals for three limits: what is cut, what it costs, what to look at."""
    script = script_of(title)
    words = words_of(script)
    shifts, verse = shifts_of(script, words), scan(script, words)
    pace = preset(plain_of(script, words).tempo)
    whole = running_time(plain_of(script, words), pace).seconds
    pinned = Pins(keep=((0, 3),), cut=((len(words) // 2, len(words) // 2 + 2),))
    for part, pins in ((0.95, Pins()), (0.75, Pins()), (0.5, Pins(ends_too=True)), (0.8, pinned)):
        found = fit(script, words, shifts, verse, pace, math.floor(whole * part), pins)
        yield f"{found.limit:g} s: {figures(found.chance)}, over by {figures(found.over_by)}"
        for p in [*found.proposals, *([found.shortest] if found.shortest else [])]:
            yield from _proposal(p)


def _proposal(p: Proposal) -> Iterator[str]:
    cuts = ", ".join(f"{c.first}-{c.after} {figures(c.seconds)} s at {figures(c.price)}" for c in p.cuts)
    yield f"  {cuts}: saves {figures(p.saved)}, {figures(p.chance)}; {'; '.join([*p.check, *p.goes])}"


def looked_up(title: str, text: str) -> Iterator[str]:
    """The words that are worth a look."""
    script = parse_script(text, title)
    for each in words_worth_a_look(script, words_of(script)):
        kinds = ", ".join(each.kinds)
        sure = "" if each.sure else "?"
        yield f"{each.word} ({kinds}): {each.shown}{sure} {each.stress}; {each.note}; {each.places}"


def demo_words() -> Iterator[str]:
    """The words that are worth a look in the demo's verse."""
    script = load_script(DEMO / "the_lamp.txt")
    return (f"{w.word}: {w.shown}; {w.note}" for w in words_worth_a_look(script, words_of(script)))


VERSE_PARTS: dict[str, Rows] = {title: partial(scanned, text) for title, text in VERSE.items()}
THOUGHT_PARTS: dict[str, Rows] = {title: partial(thoughts, title) for title in TEXTS}
TIME_PARTS: dict[str, Rows] = {title: partial(timed, title) for title in TEXTS}
FIT_PARTS: dict[str, Rows] = {title: partial(fitted, title) for title in TEXTS}
LOOK_PARTS: dict[str, Rows] = {
    **{title: partial(looked_up, title, text) for title, text in VERSE.items()},
    "the demo's verse": demo_words,
}
