"""The metre of a passage as handbooks give it, the metre set by hand, and names that follow the marks."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest
from hypothesis import given
from hypothesis import strategies as st

from offbook.pencil import read_pencil
from offbook.script import parse_script
from offbook.verse import MetreError, Scansion, Versification, scan, set_metre
from offbook.verse.metres import ANAPAESTIC, DACTYLIC, IAMBIC, TROCHAIC, Foot
from offbook.verse.names import FOOT_NAMES, place_name, variations_of
from offbook.verse.rhyme import rhymes
from offbook.words import words_of

BENCH = Path(__file__).resolve().parent.parent / "bench" / "metres.py"


@pytest.fixture(scope="module")
def bench() -> ModuleType:
    """The bench of passages with their metres."""
    spec = importlib.util.spec_from_file_location("metres_bench", BENCH)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def read(text: str, metre: str | None = None) -> Versification:
    """The versification of a text."""
    script = parse_script(text)
    return scan(script, words_of(script), metre=metre)


def line_of(text: str, start: str, metre: str | None = None) -> Scansion:
    """The scanned line of `text` that begins with `start`."""
    script = parse_script(text)
    found = scan(script, words_of(script), metre=metre)
    at = next(k for k, line in enumerate(script.lines) if line.text.startswith(start))
    scanned = found.lines[at]
    assert scanned is not None
    return scanned


@pytest.mark.heavy
def test_nineteen_of_twenty_passages_have_the_metre_of_the_handbooks(bench: ModuleType) -> None:
    """At least 60 passages of all forms; the handbook is beside each in the bench's file."""
    passages = list(bench.passages())
    wrong = [p.title for p in passages if not bench.metre_of(p).startswith(p.accepted)]
    assert len(passages) >= 60
    assert len(wrong) <= 0.05 * len(passages), wrong


MACBETH = """\
She should have died hereafter;
There would have been a time for such a word.
To-morrow, and to-morrow, and to-morrow,
Creeps in this petty pace from day to day
To the last syllable of recorded time,
And all our yesterdays have lighted fools
The way to dusty death. Out, out, brief candle!
Life's but a walking shadow, a poor player
That struts and frets his hour upon the stage
And then is heard no more: it is a tale
Told by an idiot, full of sound and fury,
Signifying nothing.
"""
TYGER = """\
Tyger Tyger, burning bright,
In the forests of the night;
What immortal hand or eye,
Could frame thy fearful symmetry?

In what distant deeps or skies,
Burnt the fire of thine eyes?
On what wings dare he aspire?
What the hand, dare seize the fire?
"""
LEAR = """\
And my poor fool is hang'd! No, no, no life!
Why should a dog, a horse, a rat, have life,
And thou no breath at all? Thou'lt come no more,
Never, never, never, never, never!
Pray you, undo this button: thank you, sir.
Do you see this? Look on her, look, her lips,
Look there, look there!
"""


def test_the_line_of_five_nevers_is_trochaic_and_not_headless() -> None:
    """King Lear 5.3.308: five trochees (Fussell, "Poetic Meter and Poetic Form", memory)."""
    line = line_of(LEAR, "Never")
    assert line.feet == ("sw", "sw", "sw", "sw", "sw")
    assert line.variations == ("trochaic line (falling throughout)",)
    assert read(LEAR).metre == "blank verse"


def test_a_line_of_seven_syllables_is_trochaic_in_a_trochaic_poem() -> None:
    """The Tyger: trochaic tetrameter, catalectic, with iambic lines among it (Abrams, Meter, memory)."""
    assert read(TYGER).metre == "trochaic tetrameter"
    first, fourth = line_of(TYGER, "Tyger"), line_of(TYGER, "Could")
    assert (first.feet, first.variations) == (("sw", "sw", "sw", "s"), ("catalexis",))
    assert (fourth.feet, fourth.variations) == (
        ("ws", "ws", "ws", "ws"),
        ("iambic line (rising throughout)",),
    )


def test_a_line_of_seven_syllables_is_headless_in_an_iambic_poem() -> None:
    """Marvell, Coy Mistress (iambic tetrameter), with one line of Milton's L'Allegro (headless)."""
    text = (
        "Had we but world enough and time,\nThis coyness, lady, were no crime.\n"
        "We would sit down, and think which way\nTo walk, and pass our long love's day.\n"
        "Haste thee, nymph, and bring with thee\n"
    )
    assert read(text).metre == "iambic tetrameter"
    assert line_of(text, "Haste").variations[0] == "headless (acephalous)"


def test_a_metre_set_by_hand_is_used() -> None:
    assert read(TYGER, "Iambic Tetrameter").metre == "iambic tetrameter"
    assert line_of(TYGER, "Tyger", "iambic tetrameter").feet == ("s", "ws", "ws", "ws")
    free = read(MACBETH, "free verse")
    assert free.metre == "free verse"
    assert all(line is not None and line.metre is None for line in free.lines)


@pytest.mark.parametrize(
    ("said", "name", "lengths"),
    [
        ("Common Metre", "ballad measure", [4, 3]),
        ("heroic couplets (iambic pentameter)", "heroic couplets", [5]),
        ("anapestic trimeter", "anapaestic trimeter", [3]),
        ("fourteeners", "fourteeners", [7]),
        ("free verse", "free verse", []),
    ],
)
def test_the_names_of_the_handbooks_are_understood(said: str, name: str, lengths: list[int]) -> None:
    """Abrams, "A Glossary of Literary Terms" (memory): common metre is four and three iambs in turn."""
    found, places = set_metre(said)
    assert (found, [place.beats for place in places]) == (name, lengths)


def test_a_name_that_is_not_a_metre_is_refused_in_two_lines() -> None:
    with pytest.raises(MetreError) as error:
        read(TYGER, "iambic")
    assert error.value.what == "no metre is called “iambic”"
    assert "trochaic tetrameter" in error.value.do


def test_the_pencil_file_can_set_the_metre() -> None:
    script = parse_script(TYGER)
    found = read_pencil("# mine\nmetre: iambic tetrameter\n", words_of(script))
    assert found.metre == ("iambic tetrameter", 2)
    assert not found.unplaced


def test_a_printed_elision_is_noted_only_if_the_omitted_vowel_could_be_sounded() -> None:
    """charm'd is how everybody says it; bless'd and heav'n leave a syllable out."""
    text = "\n".join(
        [
            "And charm'd the air, and call'd the hollow hill,",
            "And bless'd the house, and heav'n that keeps it still,",
            "And went his way, and never turn'd again,",
            "And left the door to strangers and to rain.",
        ]
    )
    assert line_of(text, "And charm'd").variations == ()
    assert line_of(text, "And bless'd").variations == (
        "elision as printed (bless'd)",
        "elision as printed (heav'n)",
    )


@pytest.mark.parametrize(
    ("a", "b", "answer"),
    [
        ("love", "move", True),  # for the eye
        ("eternity", "me", True),  # promotion
        ("caught", "Light", False),  # the same last letters, another vowel
        ("pastures", "waters", False),  # two light endings
        ("shining", "going", False),
        ("life", "life", False),
    ],
)
def test_two_words_rhyme_from_the_last_stressed_vowel_on(a: str, b: str, answer: bool) -> None:
    """Rhyme: the last stressed vowel and all after it (Abrams, under Rhyme, memory)."""
    assert rhymes(a, b) is answer


def feet_and_marks() -> st.SearchStrategy[tuple[list[int], str]]:
    """A line in feet of one to four syllables, with any marks at all."""
    sizes = st.lists(st.integers(1, 4), min_size=1, max_size=8)
    return sizes.flatmap(lambda n: st.tuples(st.just(n), st.text("ws", min_size=sum(n), max_size=sum(n))))


NAMED = {name: marks for marks, name in FOOT_NAMES.items()}
MARKS_OF = {
    "anapaestic substitution": "wws",
    "dactylic substitution": "sww",
    "initial inversion": None,
    "inversion": None,
    **NAMED,
}


def cut(sizes: list[int], stress: str) -> list[str]:
    """The marks of each foot."""
    at, found = 0, []
    for n in sizes:
        found.append(stress[at : at + n])
        at += n
    return found


@given(feet_and_marks(), st.sampled_from([IAMBIC, TROCHAIC, ANAPAESTIC, DACTYLIC]))
def test_no_name_of_a_variation_contradicts_its_stress_marks(line: tuple[list[int], str], foot: Foot) -> None:
    """Every name says of its foot what the marks of this very foot say, whatever the line."""
    sizes, stress = line
    feet = cut(sizes, stress)
    names = variations_of(sizes, stress, foot)
    if feet == [foot.plain] * len(feet):
        assert names == ()
    for name in names:
        if name.endswith("foot)") and not name.startswith(("foot of", "monosyllabic")):
            kind, _, rest = name.removesuffix(" foot)").partition(" (")
            said, _, where = rest.rpartition(", ")
            at = next(k for k in range(len(sizes)) if place_name(k) == where)
            marks = NAMED[said] if said else MARKS_OF[kind]
            assert marks is not None
            assert feet[at].startswith(marks)
        elif name in ("feminine ending", "triple ending"):
            assert stress.endswith("w" if name[0] == "f" else "ww")
            assert foot.rising
        elif name == "catalexis":
            assert sizes[-1] < len(foot.plain)
        elif name.startswith("headless"):
            assert (sizes[0], foot.rising) == (1, True)


def test_an_open_reading_has_names_for_its_own_marks_and_keeps_the_stress_of_long_words() -> None:
    """What is open is a word of one syllable; its names are those of the line said so."""
    script = parse_script(MACBETH)
    found = scan(script, words_of(script))
    assert sum(len(line.open) for line in found.lines if line is not None) >= 2
    for line in found.lines:
        assert line is not None
        sizes = [len(foot) for foot in line.feet]
        marks = variations_of(sizes, line.stress, IAMBIC)
        assert [v for v in line.variations if v in marks] == list(marks)
        for other in line.open:
            again = variations_of(sizes, other.stress, IAMBIC)
            assert [v for v in other.variations if v in again] == list(again)
            at = 0
            for n in line.word_syllables:
                if n > 1:
                    assert other.stress[at : at + n] == line.stress[at : at + n]
                at += n


@pytest.mark.parametrize(
    ("line", "word", "marks"),
    [
        ("Why, man, he doth bestride the narrow world", "bestride", "ws"),
        ("The undiscover'd country from whose bourn", "undiscover'd", "wwsw"),
        ("When he himself might his quietus make", "quietus", "wsw"),
        ("Our stern alarums changed to merry meetings,", "alarums", "wsw"),
        ("The oppressor's wrong, the proud man's contumely,", "contumely", "swsw"),
        ("As Phaethon would whip you to the west,", "Phaethon", "sws"),
        ("I know a bank, and curtail'd is the thyme,", "curtail'd", "sw"),
        ("And there I see such black and grained spots", "grained", "sw"),
    ],
)
def test_old_and_classical_words_have_the_stress_that_verse_gives_them(
    line: str, word: str, marks: str
) -> None:
    """Julius Caesar 1.2, Hamlet 3.1, Richard III 1.1, Romeo and Juliet 3.2 (values from memory).

    On or off the beat: a syllable off the main stress may be raised by the metre (con-tu-me-LY).
    """
    text = f"{RICHARD}{line}\n"
    script = parse_script(text)
    words = words_of(script)
    scanned = scan(script, words).lines[-1]
    assert scanned is not None
    at = [w.text for w in words if w.line == script.lines[-1].n].index(word)
    start = sum(scanned.word_syllables[:at])
    found = "".join(scanned.feet)[start : start + scanned.word_syllables[at]]
    main = marks.index("s") if word != "undiscover'd" else 2
    assert len(found) == len(marks)
    assert found[main] == "s"


RICHARD = """\
Now is the winter of our discontent
Made glorious summer by this sun of York;
And all the clouds that lour'd upon our house
In the deep bosom of the ocean buried.
Now are our brows bound with victorious wreaths;
"""


def test_the_line_that_ends_with_poor_player_has_a_feminine_ending() -> None:
    """Macbeth 5.5.24: pyrrhic and spondee, then the syllable over (common practice, no source)."""
    line = line_of(MACBETH, "Life")
    assert [len(foot) for foot in line.feet] == [2, 2, 2, 2, 3]
    assert line.variations[-1] == "feminine ending"
    assert not any("fifth" in v and "trochee" in v for v in line.variations)


@pytest.mark.parametrize("start", ["I come to bury", "Could trammel"])
def test_an_unstressed_word_may_be_the_feminine_ending(start: str) -> None:
    """Julius Caesar 3.2.74 ("praise him"), Macbeth 1.7.3 ("catch it"): values from memory."""
    text = (
        RICHARD
        + "I come to bury Caesar, not to praise him.\nCould trammel up the consequence, and catch it\n"
    )
    line = line_of(text, start)
    assert line.feet[-1] == "wsw"
    assert line.variations[-1:] == ("feminine ending",)
