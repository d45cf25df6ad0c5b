"""Held values of sounds and times: words by rule, how they are divided, silences, paces from readings."""

from __future__ import annotations

import random
from collections.abc import Iterator
from itertools import product

from offbook.lexicon.letter_to_sound import phones_by_rule, stress_by_letters
from offbook.lexicon.pronunciations import pronounce
from offbook.lexicon.syllable_division import divided_into
from offbook.script import parse_script
from offbook.soundalike.likeness import alike, family, in_full, joined, rivals, same_sound, sounds
from offbook.soundalike.reduced_forms import clipped, drawn_out, said_in_full
from offbook.soundalike.spelling_guess import guessed_sounds
from offbook.soundalike.tact import barred
from offbook.timing.durations import seconds_of, sounds_of, token_syllables
from offbook.timing.estimate import (
    PRESETS,
    EarlierReading,
    Pace,
    PaceError,
    RunningTime,
    at_rate,
    calibrate,
    plain_of,
    reading_of,
    running_time,
    tempo_of,
)
from offbook.timing.pace import preset
from offbook.timing.pauses import Stop, plain_pauses, stops_of
from offbook.timing.spreads import Spreads, applied, inverse, plus, scaled, shared, through
from offbook.words import words_of
from tests.held import Rows, figures, told


def _listed(text: str, between: str = " ") -> tuple[str, ...]:
    """The words or pairs of a text of several rows."""
    return tuple(text.strip().replace("\n", between).split(between))


# Words that a rule must make: endings, beginnings, compounds, letters left out, old spellings.
BY_RULE = _listed("""
lampless lamplessly lamplike lampful lampfulness lampward lampwards lampship lamphood lampdom lampsome
lampish lampable lampably lampment lampments lamper lampers lamping lampings lamplier lampliest lampèd
lampedly lampeth lampest lamped lampy lampous lamps witchèd bettereth happiest happieth drizzlest begged
begging beggeth lovest loveth wast thinkst stopst stopt vext opprest imposd signd wisht blest lookt dropt
kist talkt fetcht reedst drest undrest undistrest mockt curst guest nest best tempest forest earnest
underlamp overlamp o'erleap interlamp foreknow outvenom upgaze unlamp relamp dislamp mislamp enlamp emlamp
imlamp inlamp belamp alamp bestride immodest unkind besmear adazzle becharm enthral embosom lamphouse
seaworms lighthouse moonlit starlike oarsman windowseat candlestub boathouses handlamps bedsides
footsteppe honour colour theatre centre realise realising travelled traveller labelling musick publick
olde goode shoppe sonne citie mee doe yvory kyng sworne vvith vnto haue loue giue oake oaken bloud aunswer
musicke skull kalendar deuil euery receiue coelum aether foetus heav'n pow'r wand'ring int'rest mem'ry
fav'rite ev'ry flow'ry giv'n ta'en ne'er e'er o'er pris'ner th'other th'unknown t'other t'have 'gainst
'twixt 'neath 'scape 'tis 'twas 'mong 'fore 'bout 'cause th' i' o' singin' goin' runnin' nothin'
children's boats' fox's judge's lamp's mak'st look't deserv'd try'd stay'd cry'dst know'st hadst hast dost
doth saith quoth spake brake clomb wrought xyloph blorft strix zzt quondling mooncat brinemaid tarn
""")
VARIED = _listed("""
fire hour power flower tower our ours fires tired iron wire violet violets glorious virtuous being seeing
doing studying player lower mower every reverence wandering memory history different interest general
several murderous heaven even given fallen stolen seven driven open spirit devil evil whether either
rather never over loved lovèd wicked aged naked tied died wanted ended bed red fled nation nations ocean
action vision passion suspicion goest doest knowest honest nearest earnest harvest player conveyor mayor
coward prior quiet poet poem idea theatre real ruin cruel jewel jewels diamond usual actual influence
obedient ministering temperate desperate
""")
DIVIDED = _listed("""
quiet quite question royal beyond yellow unaccountable unable under until unit uneasy uniform strength
lighthouse little littles tickle tackle apple apples able table people middle bottles needed wanted loved
boxes judges washes wishes churches hopes hope fire hour poem ruin ruins naive idea area real reality
create created seeing being prism rhythm schism didn't couldn't isn't o'clock o'er heav'n wand'ring mother
father brother sister sympathy extra explain exact away aware tower lower window shadow hardship mankind
instruct monster hungry angry laughter daughter beautiful miscellaneous association continuous yesterday
every evening evenings evenness houses horses æther café naïve
""")
STRESSED = _listed("""
agree bamboo lemonade unique picturesque cigarette nation magician delicious physics strategic banana
tomorrow strix rè blé fied
""")


def by_rule() -> Iterator[str]:
    """Words that no dictionary has, by the rules for them, and their stress by their letters alone."""
    for word in BY_RULE:
        ways = " | ".join(" ".join(p) for p in phones_by_rule(word)) or "-"
        yield f"{word}: {ways}; {' '.join(p.stress for p in pronounce(word))}; {stress_by_letters(word)}"
    yield " ".join(f"{w}:{stress_by_letters(w)}" for w in (*STRESSED, *DIVIDED))


def varied() -> Iterator[str]:
    """The other lengths of words in verse, and how words are divided into so many syllables."""
    for word in VARIED:
        yield f"{word}: " + "; ".join(f"{p.variant or '-'} {' '.join(p.phones)}" for p in pronounce(word))
    for word in (*DIVIDED, *VARIED):
        yield f"{word}: " + " ".join("-".join(divided_into(word, count)) for count in range(1, 6))


PAIRS = (
    """
heir air|are our|our are|is his|were we're|well we'll|harbour harbor|travelling traveling|a the|in on
an and|of off|mine my|ill I'll|begged begd|heav'n heaven|night knight|too two|to too|lamp lamps
strength length|of have|boat boat|zzt strix|o'er over|all a'
""".strip()
    .replace("\n", "|")
    .split("|")
)


def alike_words() -> Iterator[str]:
    """What sounds the same, what stands for a shortened word, and what may be heard for a small one."""
    for pair in PAIRS:
        a, b = pair.split()
        yield f"{pair}: {same_sound(a, b):d}{same_sound(b, a):d} {figures(alike(a, b))} {joined(pair)[:3]}"
    for word in BY_RULE:
        if "'" in word or word.endswith(("est", "eth", "ed", "ing", "er")):
            yield f"{word}: {in_full(word)} {' | '.join(' '.join(p) for p in sounds(word)[:4])}"
    for word in ("the", "a", "of", "is", "shall", "not", "lamp", "thou", "till"):
        yield f"{word}: {' '.join(rivals(word))}; {' '.join(family(word))}"
    for word in [
        "sooo",
        "nooo",
        "gonna",
        "wanna",
        "'em",
        "'tis",
        "o'er",
        "ooh",
        "lamp",
        "i'm",
        "could've",
        "ahhh",
        "goin'",
        "thou'rt",
        "is't",
        "on't",
    ]:
        ways = (said_in_full(word), drawn_out(word), clipped(word), guessed_sounds(word))
        said = "; ".join(", ".join(" ".join(w) for w in each) or "-" for each in ways)
        yield f"{word}: {said} {barred(word, 'lamp'):d}"


# Times ---------------------------------------------------------------------------------------------

READ = (
    "Now, as I said, the lamp was lit; nobody came. (A pause.) Well? -- he went … and so,\n"
    "so it was: late!\n\nThe end (he sits) of it (Silence) all",
    "The lamp was lit before the tide came in\nAnd nobody was told, but you and me,\nAnd still it burned.\n\n"
    "O wait (beat) for me (he turns), the sea is high;\nWho goes?\nNo one: no, never.",
    "A very long sentence without any stop at all goes on and on and on until the one who says it has no "
    "breath left in the end",
    "What! are you there? I am。Yes！No？Well.",
    "In 1603 th' lamp o'er th' door cost £5.50 and zzt went out.",
)


def silences() -> Iterator[str]:
    """The stop after each word, the seconds of each word and silence, and the kind of speech."""
    for text in READ:
        script = parse_script(text)
        words = words_of(script)
        plain, stops = plain_of(script, words), stops_of(script, words)
        yield f"{plain.tempo} {plain.spoken} {plain.syllables}: {text[:40]!r}"
        for word, stop, voiced, pause in zip(words, stops, plain.voiced, plain.pauses, strict=True):
            mark = f"{stop.mark or '-'}{'l' * stop.line_end}{'p' * stop.paragraph_end}{'a' * stop.asked}"
            yield f"  {word.text} {mark} {figures(voiced)} {figures(pause)}"
    flags = list(product(("", ",", ":", "."), (False, True), (False, True), (False, True)))
    for size in (1, 3, 6, 7, 15, 16, 31):
        told_ = [plain_pauses([Stop(*f), Stop(".", False, False, False)], [size, 4])[0] for f in flags]
        yield f"{size} syllables: {' '.join(map(figures, told_))}"
    for token in [
        "the",
        "a",
        "strength",
        "zzt",
        "qqq",
        "lampes",
        "blé",
        "ae",
        "th'",
        "violet",
        "misunderstanding",
        "'tis",
        "1",
    ]:
        lasts = f"{figures(seconds_of(token, False))} {figures(seconds_of(token, True))}"
        yield f"{token}: {' '.join(sounds_of(token))} {token_syllables(token)} {lasts}"


ADDRESSES = (
    "Ladies and gentlemen, it is late.",
    "My fellow keepers, wait.",
    "Mr. Speaker, no.",
    "Your Majesty is kind.",
    "To the class of 1962, hello.",
    "We must go. " * 3 + "He sat.",
    "We must go. " * 4 + "He sat.",
    "We were tired. " * 6,
    "Our lamp is lit. " * 4 + "He sat by the door all day long and slept. " * 17,
    "Our lamp is lit. " * 4 + "He sat by the door all day long and slept. " * 22,
    "One line of it\n",
    "Two lines of it,\nand both of them are verse\n",
)


def kinds_of_speech() -> Iterator[str]:
    """Which texts are an address, verse or prose; the rates and readings that are refused."""
    for text in ADDRESSES:
        script = parse_script(text)
        words = words_of(script)
        yield f"{text[:40]!r} {len(words)}: {tempo_of(script, words)}"
    script = parse_script(READ[0])
    words = words_of(script)
    for rate in (39.9, 40.0, 150.0, 400.0, 400.1, float("inf"), float("nan")):
        try:
            yield f"{rate}: {_told(running_time(plain_of(script, words), at_rate(rate, 'verse')), 30.0)}"
        except PaceError as error:
            yield f"{rate}: refused: {error.what} / {error.do}"
    total = sum(map(sum, (plain_of(script, words).voiced, plain_of(script, words).pauses)))
    for seconds in (0.0, -1.0, float("inf"), total / 3.01, total / 2.99, total * 3.99, total * 4.01):
        try:
            pace = calibrate([reading_of(script, words, seconds)], "narration")
            yield f"{seconds / total:.2f}: {_pace(pace)}"
        except PaceError as error:
            yield f"{seconds / total:.2f}: refused: {error.what[:60]} / {error.do}"
    for text in ("Lamp.", "No. No."):
        script = parse_script(text)
        found = running_time(plain_of(script, words_of(script)))
        whole = found.stretch(0, len(words_of(script)) - 1)
        yield f"{text}: {_told(found, 0.0)} {_told(found, found.seconds)} {told(whole)}"


def _told(t: RunningTime, limit: float) -> str:
    numbers = (t.seconds, t.low, t.high, t.rate_wpm, t.articulation, t.voiced, t.pauses, t.spread)
    return " ".join(map(figures, (*numbers, t.chance(limit))))


def _pace(pace: Pace) -> str:
    spreads = pace.spread(40.0, 10.0), pace.spread(0.0, 0.0)
    numbers = (pace.voice, pace.pause, *pace.covariance, pace.timed, *spreads)
    return f"{pace.name}, {pace.readings}: {' '.join(map(figures, numbers))}"


def readings() -> Iterator[str]:
    """Paces from earlier readings of one day or several, of one kind or several, timed or not."""
    for seed in range(24):
        dice = random.Random(f"readings {seed}")
        found = []
        for _ in range(dice.choice((1, 2, 3, 6))):
            voiced, pauses = dice.choice((8.0, 30.0, 90.0)), dice.choice((0.0, 2.0, 20.0))
            ratio = dice.choice((0.5, 1.0, 1.2, 1.3, 2.0, 3.5))
            seconds = ratio * (voiced + pauses)
            speaking = dice.choice((None, 0.8 * seconds, seconds, 0.0))
            kind = dice.choice((*PRESETS, "narration", "narration"))
            day = dice.choice((None, "Mon", "Tue", "Mon"))
            found.append(EarlierReading(voiced, pauses, seconds, kind, speaking, day))
        for kind in ("narration", "address"):
            yield f"{seed} {kind}: {_pace(calibrate(found, kind))}"
    for tempo in PRESETS:
        yield f"{tempo}: {_pace(preset(tempo))} {_pace(at_rate(150, tempo))}"
    yield _pace(calibrate([], "verse"))
    s, m, v = Spreads(), (2.0, 0.5, 1.5), (0.3, -0.7)
    yield told([s.readers, s.occasions(True), s.occasions(False), *map(s.noise, (0.1, 0.5, 0.6, 60.0))])
    yield told([plus(m, s.readers), scaled(m, 3.0), inverse(m), applied(m, v), through(m, v)])
    yield told(shared(m, v, (0.2, 0.1, 0.4)))


PARTS: dict[str, Rows] = {
    "words by rule": by_rule,
    "other lengths, and divisions": varied,
    "words that sound alike": alike_words,
    "stops and silences": silences,
    "kinds of speech": kinds_of_speech,
    "paces from readings": readings,
}
