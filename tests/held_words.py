"""Held values of words and their sounds: spoken forms, pronunciations, what sounds alike, typed answers."""

from __future__ import annotations

from collections.abc import Iterator

from offbook.drill.judging import judge
from offbook.lexicon import divide, pronounce
from offbook.script import parse_script
from offbook.soundalike.likeness import alike, family, joined, known_forms, rivals, sound_keys
from offbook.soundalike.phone_distance import _CONSONANTS, _VOWELS, cost_of_gap, distance, distance_of_phones
from offbook.soundalike.reduced_forms import clipped, drawn_out, said_in_full
from offbook.soundalike.spelling_guess import guessed_sounds
from offbook.timing.durations import seconds_of
from offbook.words import words_of
from tests.held import Rows, figures

# What is said in more ways than it is written: figures, dates, money, times, names with numbers, marks.
SPOKEN = """
In 1998 we moved to number 42, Mill Lane; in 1900, 1905, 2000, 2007 and 2024 too.
It cost £3.50, then $1,200, then €5m, and at last 20p or 99¢; £1 was left, £2.05 of it mine.
We met at 7.30, at 7:05, at 12 o'clock, at 6pm, at 10:00 a.m. and at 23:59.
Born on 3 May 1862 and on May 3rd, 1862; on the 21st of June, the 1st, the 2nd, the 12th and the 100th.
Chapter IV, Henry VIII, Act II, Part III and World War I; I am Louis XIV. MIX and CIVIC are words.
0 degrees, 7 hills, 11 men, 15, 40, 99, 100, 101, 110, 999, 1000, 1001, 1234, 10,000 and 1,000,000.
3.14, 0.5, .5, 10.0, -4, 1/2, 3/4, 2/3, 7/8, 50%, 12.5%, a 2:1 win, 3-4 days and the 1960s and '70s.
Mr. Grey, Mrs Brown, Dr. Hale, St. Ives, Prof. Low vs. Capt. Oak & Sons, Inc., etc., e.g. No. 7.
I'm, I've, I'd, he'll, they're, don't, won't, can't, shan't, it's, let's, who's, o'er, e'en, 'tis, th'other.
The BBC, the U.S.A., a PhD, NATO, A1, B52, MP3, 5G, the A40, H2O, 3D, 4x4 and R2.
Mother-in-law, twenty-one, well-known, e-mail, re-enter, X-ray, half-past, T-shirt, one-two-three.
At 5 km, 3kg, 10 ft, 6 in., 60 mph, 20°C, 5 lb, 7 oz and 250 ml; #4, @ noon, + and = and 2 + 2 = 4.
""".strip().split("\n")

LOOKED_UP = [
    word
    for row in (
        "the a of strength fire power heaven spirit flower hour tower being violet studying every different",
        "memory glorious ocean nation mansion million patience interest wandered blessed winged learned",
        "striped beloved cursed haste o'er e'er ne'er heav'n pow'r th' 'tis bless'd charm'd burn'd look'd",
        "wish'd banish'd damnèd fixèd lovest mayst dost hath doth giveth sayeth thou thee thine wherefore",
        "whilst betwixt amongst yon yonder methinks quoth forsooth lighthouse gannet harbour saltmarrow",
        "lamplighter oarsman seagull fishwife thrapple quondling blorft strix zzt xyloph unlamped relighted",
        "overfished misremembered disharboured outsang foresaw nonsailor keepership boatless gulllike",
        "children's boats' sailors lanterns boxes wishes judges knives singing running making dying believed",
        "carried quickly happiness government colour centre realise theatre grey programme aeroplane naïve",
        "café façade rôle æther cœur temperate murderous ignorant ministering violence influence obedient",
        "Romeo Juliet Capulet Elsinore Desdemona re-enter mother-in-law well-known co-operate "
        "I'm I've you're",
        "they'll don't shan't could've who'd",
    )
    for word in row.split()
]

SOUND = [
    word
    for row in (
        "the they a an and in on of to for from with by he she it we you see sea right write their there",
        "knight night lamp lamps light lit lighted bright harbour harbor boat coat goat ghost sail sale",
        "sailor tailor window widow wonder wander river never ever weather whether feather father farther",
        "further keeper kipper copper pepper twenty plenty walking talking going gone gonna "
        "want wanted won't",
        "don't I'm im isn't isnt o'er over heav'n heaven 'tis tis thrapple thou thee fire higher hour our",
    )
    for word in row.split()
]

PAIRS = [
    pair
    for row in (
        "lamp lamb|light right|sea see|boat vote|harbour arbour|window widow|strength length|the a|fire far",
        "night knight|sing sin|cat cats|walk walked|thin then|zoo sue|judge church|yes us|wool pull|hat at",
        "of off|measure mesher|ship chip|run rang",
    )
    for pair in row.split("|")
]

ANSWERS = [
    ("The kettle sang before the house was up.", "the kettle sang before the house was up"),
    ("The kettle sang before the house was up.", "the ketle sagn befor teh house was up"),
    ("The kettle sang before the house was up.", "kettle sang the house was very up now"),
    ("The kettle sang before the house was up.", "a pot boiled over"),
    ("The kettle sang before the house was up.", ""),
    ("I'll say it's theirs, and they're ill.", "ill say its there's and their I'll"),
    ("I'll say it's theirs, and they're ill.", "I will say it is theirs and they are ill"),
    ("In 1603 we owed £5 at 7.30.", "in sixteen oh three we owed five pounds at half past seven"),
    ("In 1603 we owed £5 at 7.30.", "in 1603 we owed £5 at 7.30"),
    ("In 1603 we owed £5 at 7.30.", "in 1604 we owed £6 at 7.31"),
    ("Naïve Zoë's café & the well-known o'er-worn rôle", "naive zoes cafe and the well known oer worn role"),
    ("My friend said so, their way, for me.", "my freind siad so thier way from em"),
    ("one two three four five six", "two one three five four six"),
    ("one two three four five six", "one two two three four four five"),
    ("one two three four five six", "one … six"),
    ("The colour of the grey theatre", "the color of the gray theater"),
]  # fmt: skip


def spoken(row: str) -> Iterator[str]:
    """Each word of a row with its place and all its spoken forms."""
    for word in words_of(parse_script(row)):
        forms = " | ".join(" ".join(form) for form in word.spoken)
        yield f"{word.start}-{word.end} {word.text}: {forms}"


def pronounced(word: str) -> str:
    """Every way to say a word, the likeliest first; how it is divided, and how long it lasts."""
    ways = [
        f"{p.stress or '-'} {' '.join(p.phones)} ({p.source}{p.variant and ', ' + p.variant})"
        for p in pronounce(word)
    ]
    lasts = (
        f"{figures(seconds_of(word.lower(), False))} s, "
        f"{figures(seconds_of(word.lower(), True))} s before a stop"
    )
    return f"{word}: {'-'.join(divide(word))}; {'; '.join(ways)}; {lasts}"


def _knows(word: str) -> bool:
    """A recogniser whose vocabulary is the words of SOUND, without words of more than six letters."""
    return word in SOUND and len(word) <= 6


def sounds_like(word: str) -> str:
    """What may be heard for a word, its family, its keys, its short and its full forms."""
    told = [rivals(word), family(word), tuple(map(str, sound_keys(word)))]
    told += [
        tuple(" ".join(w) for w in ways) for ways in (clipped(word), said_in_full(word), drawn_out(word))
    ]
    told.append(tuple(" ".join(p) for p in guessed_sounds(word)))
    told.append(tuple(" ".join(form) for form in known_forms(word, _knows)))
    return f"{word}: " + "; ".join(", ".join(each) or "-" for each in told)


def phones_apart() -> Iterator[str]:
    """The distance of every pair of phones in thousandths, and the cost of leaving one out."""
    phones = [*_VOWELS, *_CONSONANTS]
    for a in phones:
        row = " ".join(f"{1000 * distance_of_phones(a, b):.0f}" for b in phones)
        yield f"{a}: {row}; left out {figures(cost_of_gap(a))}"


def pairs_apart() -> Iterator[str]:
    """How alike two words are, and how far apart their first pronunciations are."""
    for pair in PAIRS:
        a, b = pair.split()
        far = distance(pronounce(a)[0].phones, pronounce(b)[0].phones)
        yield (
            f"{pair}: alike {figures(alike(a, b))}, apart {figures(far)}; {len(joined(pair))} "
            f"ways to say both"
        )


def answered(script: str, given: str) -> Iterator[str]:
    """A typed answer beside the script, place by place."""
    judged = judge(words_of(parse_script(script)), given)
    yield f"{given!r} for {script!r}: {judged.right} of {judged.words}, {judged.added} added"
    yield " ".join(f"{p.kind}:{p.script}/{p.given}" for p in judged.places)


PARTS: dict[str, Rows] = {
    "numbers, names and marks as they are said": lambda: (row for text in SPOKEN for row in spoken(text)),
    "words as they sound, and how long they last": lambda: map(pronounced, LOOKED_UP),
    "every phone beside every other": phones_apart,
    "pairs of words": pairs_apart,
    "what may be heard for a word": lambda: map(sounds_like, SOUND),
    "typed answers": lambda: (row for pair in ANSWERS for row in answered(*pair)),
}
