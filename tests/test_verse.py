"""Scansion against the handbooks: metres, variations and their names, and what is left unscanned.

The lines are in the public domain. Where a handbook prints the scansion, it is named; "memory" says that
the example was written down from memory of it, not looked up.
"""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from offbook.script import Line, Script, parse_script
from offbook.verse import Scansion, Versification, scan
from offbook.words import words_of


def script_of(text: str, *, speakers: list[str] | None = None, verse: bool = True) -> Script:
    """A script whose every line is a verse line (or prose); a blank line parts the stanzas."""
    lines: list[Line] = []
    at, paragraph, blank = 0, 1, False
    for raw in text.split("\n"):
        if any(c.isalnum() for c in raw):
            paragraph += blank and bool(lines)
            who = speakers[len(lines)] if speakers else None
            lines.append(Line(len(lines) + 1, at, at + len(raw), raw, paragraph, who, verse))
            blank = False
        else:
            blank = True
        at += len(raw) + 1
    return Script("test", "test", text, "verse" if verse else "prose", tuple(lines))


def read(text: str) -> Versification:
    """The versification of `text`."""
    script = script_of(text)
    return scan(script, words_of(script))


def lines_of(text: str) -> list[Scansion]:
    """The scanned lines of `text`, none of them missing."""
    found = read(text).lines
    assert all(each is not None for each in found)
    return [each for each in found if each is not None]


BLANK = """\
But, soft! what light through yonder window breaks?
It is the east, and Juliet is the sun.
Arise, fair sun, and kill the envious moon,
Who is already sick and pale with grief,
That thou her maid art far more fair than she:
Be not her maid, since she is envious;
Her vestal livery is but sick and green
And none but fools do wear it; cast it off."""

BALLAD = """\
It is an ancient Mariner,
And he stoppeth one of three.
By thy long beard and glittering eye,
Now wherefore stopp'st thou me?

The Bridegroom's doors are opened wide,
And I am next of kin;
The guests are met, the feast is set:
May'st hear the merry din.

He holds him with his skinny hand,
There was a ship, quoth he.
Hold off! unhand me, grey-beard loon!
Eftsoons his hand dropt he."""

HIAWATHA = """\
By the shores of Gitche Gumee,
By the shining Big-Sea-Water,
Stood the wigwam of Nokomis,
Daughter of the Moon, Nokomis.
Dark behind it rose the forest,
Rose the black and gloomy pine-trees,
Rose the firs with cones upon them;
Bright before it beat the water."""

SENNACHERIB = """\
The Assyrian came down like the wolf on the fold,
And his cohorts were gleaming in purple and gold;
And the sheen of their spears was like stars on the sea,
When the blue wave rolls nightly on deep Galilee."""

EVANGELINE = """\
This is the forest primeval. The murmuring pines and the hemlocks,
Bearded with moss, and in garments green, indistinct in the twilight,
Stand like Druids of eld, with voices sad and prophetic,
Stand like harpers hoar, with beards that rest on their bosoms."""

COUPLETS = """\
A little learning is a dangerous thing;
Drink deep, or taste not the Pierian spring:
There shallow draughts intoxicate the brain,
And drinking largely sobers us again.
Fired at first sight with what the Muse imparts,
In fearless youth we tempt the heights of arts,
While from the bounded level of our mind
Short views we take, nor see the lengths behind;"""

LOST = """\
Take her up tenderly,
Lift her with care;
Fashioned so slenderly,
Young, and so fair!"""

FREE = """\
When I heard the learned astronomer,
When the proofs, the figures, were ranged in columns before me,
When I was shown the charts and diagrams, to add, divide, and measure them,
When I sitting heard the astronomer where he lectured with much applause in the lecture-room,
How soon unaccountable I became tired and sick,
Till rising and gliding out I wandered off by myself,
In the mystical moist night air, and from time to time,
Looked up in perfect silence at the stars."""


@pytest.mark.parametrize(
    ("text", "name"),
    [
        (BLANK, "blank verse"),
        (BALLAD, "ballad measure"),
        (HIAWATHA, "trochaic tetrameter"),
        (SENNACHERIB, "anapaestic tetrameter"),
        (COUPLETS, "heroic couplets (iambic pentameter)"),
        (FREE, "free verse"),
    ],
)
def test_a_poem_gets_the_metre_that_the_handbooks_give_it(text: str, name: str) -> None:
    """Abrams, "A Glossary of Literary Terms", under Meter, Blank Verse, Ballad, Heroic Couplet, Free
    Verse; Fussell, "Poetic Meter and Poetic Form" (both memory): Romeo and Juliet, The Ancient Mariner,
    Hiawatha, The Destruction of Sennacherib, An Essay on Criticism, Whitman."""
    assert read(text).metre == name


@pytest.mark.parametrize(
    ("line", "feet"),
    [
        ("The curfew tolls the knell of parting day", "ws ws ws ws ws"),
        ("The lowing herd wind slowly o'er the lea", "ws ws ws ws ws"),
        ("The ploughman homeward plods his weary way", "ws ws ws ws ws"),
        ("Season of mists and mellow fruitfulness", "sw ws ws ws ws"),
        ("Better to reign in hell than serve in heaven", "sw ws ws ws wsw"),
        ("A thing of beauty is a joy for ever", "ws ws ws ws wsw"),
        ("Of man's first disobedience and the fruit", "ws ws ws ws ws"),
    ],
)
def test_a_single_pentameter_is_divided_as_in_the_handbooks(line: str, feet: str) -> None:
    """Gray's Elegy (Abrams, under Meter), Keats, Milton (Fussell, ch. 3), memory; among blank verse.

    The last foot may have a third syllable where a reader sounds what Milton elides."""
    found = lines_of(BLANK + "\n" + line)[-1]
    assert found.feet[:4] == tuple(feet.split()[:4])


def test_the_lines_of_each_metre_are_divided_into_its_own_feet() -> None:
    """One line of each of the four metres, and dactyls falling short at the end (Abrams, Meter, memory)."""
    assert lines_of(HIAWATHA)[4].feet == ("sw", "sw", "sw", "sw")
    assert lines_of(SENNACHERIB)[1].feet == ("wws", "wws", "wws", "wws")
    assert lines_of(BLANK)[4].feet == ("ws", "ws", "ws", "ws", "ws")
    tender = lines_of(LOST)
    assert tender[0].feet == ("sww", "sww")
    assert tender[1].feet == ("sww", "s")
    assert "catalexis" in tender[1].variations


def test_a_dactylic_hexameter_is_divided_into_its_feet() -> None:
    """Longfellow's Evangeline (Abrams, under Meter: dactylic hexameter, memory)."""
    found = lines_of(EVANGELINE)
    assert [each.metre for each in found][:1] == ["dactylic hexameter"]
    assert found[0].feet[-2:] == ("sww", "sw")


def test_the_variations_have_the_names_of_the_handbooks() -> None:
    """Inversion, feminine ending, alexandrine, elision: Fussell ch. 3, Abrams Meter (memory).

    The alexandrine closes the first stanza of Spenser's Faerie Queene."""
    text = BLANK + "\nMaster, go on, and I will follow thee\nTo be, or not to be: that is the question:"
    inverted, feminine = lines_of(text)[-2:]
    assert any(v.startswith("initial inversion") for v in inverted.variations)
    assert "feminine ending" in feminine.variations
    moralize = lines_of(COUPLETS + "\nFierce wars and faithful loves shall moralize my song.")[-1]
    assert "alexandrine" in moralize.variations
    assert moralize.metre == "iambic hexameter"


def test_a_headless_line_among_full_lines_is_named_as_headless() -> None:
    """Lines that begin on the beat: headless or acephalous (Abrams, Fussell, memory); Milton, L'Allegro."""
    found = lines_of(
        "Come, and trip it as ye go\nOn the light fantastic toe,\n"
        "And in thy right hand lead with thee\nThe mountain nymph, sweet Liberty;\n"
        "And if I give thee honour due,\nMirth, admit me of thy crew,\n"
        "To live with her, and live with thee,\nIn unreproved pleasures free;"
    )
    assert "headless (acephalous)" in found[0].variations
    assert found[0].pattern == "wswswsws"


def test_a_stressed_word_off_the_beat_keeps_its_stress_without_changing_the_foot() -> None:
    """Spoken stress and foot scansion differ: Milton's spondees, Paradise Lost 2.621 (Fussell, memory)."""
    text = BLANK + "\nRocks, caves, lakes, fens, bogs, dens, and shades of death,"
    found = lines_of(text)[-1]
    assert "".join(found.feet) == "wswswswsws"
    assert found.stress.count("s") > 5
    assert any(v.startswith("spondee") for v in found.variations)


def test_an_elision_is_reported_with_its_word() -> None:
    found = lines_of(BLANK + "\nAnd all the pow'r of heav'n did shine o'er all")[-1]
    assert "elision as printed (heav'n)" in found.variations
    assert found.syllables == 10


def test_a_sounded_ending_counts_as_a_syllable() -> None:
    found = lines_of(BLANK + "\nThe wingèd seeds lie cold and low a while")[-1]
    assert found.word_syllables[1] == 2
    assert "expansion as printed (wingèd)" in found.variations


def test_the_caesura_is_the_main_pause_inside_the_line() -> None:
    """To err is human; to forgive, divine: after "human" (Pope; Abrams, under Meter: Caesura, memory)."""
    script = script_of(COUPLETS + "\nTo err is human; to forgive, divine.")
    words = words_of(script)
    found = scan(script, words).lines[-1]
    assert found is not None
    assert found.caesura_before_word is not None
    assert words[found.caesura_before_word].text == "to"


def test_a_line_without_punctuation_at_its_end_is_enjambed() -> None:
    """Enjambed and end-stopped lines (Abrams, under Meter, memory)."""
    found = lines_of(BLANK)
    assert [each.enjambed for each in found] == [False] * 6 + [True, False]


def test_half_lines_of_two_speakers_are_joined_to_one_verse_line() -> None:
    """A verse line shared between speakers (antilabe): Macbeth 2.2 and Shakespearean practice (memory)."""
    text = BLANK + "\nMy lord, the queen is dead.\nShe should have lived."
    speakers = ["ROMEO"] * 8 + ["SEYTON", "MACBETH"]
    script = script_of(text, speakers=speakers)
    first, second = scan(script, words_of(script)).lines[-2:]
    assert first is not None
    assert second is not None
    assert (first.shared_with, second.shared_with) == (second.n, first.n)
    assert "".join(first.feet) + "".join(second.feet) == "wswswswsws"
    assert any(v.startswith("shared line") for v in first.variations)


SCENE = """LADY MACBETH
My hands are of your colour; but I shame
To wear a heart so white. I hear a knocking
At the south entry: retire we to our chamber;
A little water clears us of this deed.

MACBETH
I have done the deed. Didst thou not hear a noise?

LADY MACBETH
I heard the owl scream and the crickets cry.
Did not you speak?

MACBETH
When?

LADY MACBETH
Now.

MACBETH
As I descended?

LADY MACBETH
Ay.
"""


def test_a_line_may_be_shared_by_several_speakers_and_a_scene_of_short_lines_is_verse() -> None:
    """Macbeth 2.2 (lines brought together): "Did not you speak? When? Now. As I descended? Ay." """
    script = parse_script(SCENE)
    found = scan(script, words_of(script))
    assert found.metre == "blank verse"
    parts = [s for s in found.lines[6:10] if s is not None]
    assert len(parts) == 4
    assert "".join("".join(part.feet) for part in parts) == "wswswswswsw"
    assert all(part.variations[0].startswith("shared line (with ") for part in parts)
    assert [len(part.variations) for part in parts] == [1, 1, 1, 2]
    assert parts[-1].variations[-1] == "feminine ending"


def test_a_single_part_of_a_scene_has_the_metre_of_the_whole_scene() -> None:
    """If a part has only pieces of lines, the cues show the metre (Macbeth 2.2)."""
    script = parse_script(SCENE, part="MACBETH")
    found = scan(script, words_of(script))
    assert found.metre == "blank verse"


def test_a_half_line_is_joined_only_with_the_last_line_of_its_cue() -> None:
    """A cue of several lines: the performer's half line goes with the last of them (Macbeth 5.5, memory)."""
    text = (
        "ROMEO\n"
        + BLANK
        + "\n\n"
        + "SEYTON\nThere stands a rider at the western gate:\nMy lord, the queen is dead.\n\n"
        + "ROMEO\nShe should have lived.\n"
    )
    script = parse_script(text, part="ROMEO")
    last = scan(script, words_of(script)).lines[-1]
    assert last is not None
    assert last.variations[0] == "shared line (with SEYTON)"


@pytest.mark.parametrize(
    ("scene", "sharing"),
    [
        ("BEN\nAnd who was there?\n\nANNA\nI never slept. The stair\n\nCAL\nThe stair was dark.\n", "ANNA"),
        ("CAL\nThe stair was dark.\n\nANNA\nAnd who was with you there?\n\nBEN\nNobody.\n", "ANNA"),
        ("CAL\nThe stair was dark.\n\nANNA\nIt was.\n\nBEN\nAnd who was with you there?\n", ""),
        ("BEN\nAnd who was with you there?\n\nANNA\nIt was.\n\nCAL\nThe stair was dark.\n", ""),
    ],
)  # fmt: skip
def test_a_half_line_is_joined_only_with_the_cue_next_to_it(scene: str, sharing: str) -> None:
    """Four syllables and six make a line, unless somebody else speaks between them."""
    script = parse_script(f"CAL\n{BLANK}\n\n{scene}", part="CAL")
    half = scan(script, words_of(script)).lines[-1]
    assert half is not None
    shared = [name for name in half.variations if name.startswith("shared")]
    assert shared == ([f"shared line (with {sharing})"] if sharing else [])


def test_a_short_line_is_named_as_short() -> None:
    found = lines_of(BLANK + "\nAnd so goodnight.")[-1]
    assert any(v.startswith("short line") for v in found.variations)
    assert found.pattern == "wsws"


def test_a_line_with_all_its_syllables_is_not_called_short() -> None:
    """A light foot in a full line is a pyrrhic (handbooks); the line keeps its five feet."""
    line = lines_of(BLANK + "\nThe evil that men do lives after them;")[-1]
    assert line.metre == "iambic pentameter"
    assert len(line.feet) == 5
    assert not any("short" in name for name in line.variations)
    assert any(name.startswith("pyrrhic") for name in line.variations)


def test_each_line_of_a_stanza_of_unequal_lines_has_its_own_length() -> None:
    """Common measure: four and three beats in turn (Abrams, under Ballad, memory)."""
    assert [len(each.pattern) // 2 for each in lines_of(BALLAD)] == [4, 3] * 6


def test_prose_is_not_scanned() -> None:
    script = script_of("It was a cold day. He went out all the same, and came back late.", verse=False)
    found = scan(script, words_of(script))
    assert (found.form, found.metre, found.lines) == ("prose", None, (None,))


def test_prose_marked_as_verse_is_free_verse_without_a_metre() -> None:
    """Sentences broken into lines at random are called free verse, and no line gets a metre."""
    text = """\
The committee will meet again on Thursday in the smaller room,
because the larger one is being painted; please bring the figures
for the last quarter, and whatever you can find
about the cost of heating, lighting and insurance. Anyone who cannot come
should tell Martin before Wednesday, and he will
send the papers round by post instead."""
    found = read(text)
    assert found.metre == "free verse"
    assert all(each is not None and each.metre is None and not each.pattern for each in found.lines)


def test_free_verse_gets_spoken_stress_and_no_metre() -> None:
    for each in lines_of(FREE):
        assert each.metre is None
        assert each.pattern == ""
        assert not each.variations
        assert set(each.stress) <= {"w", "s"}


def test_a_stress_fixed_by_the_performer_is_used() -> None:
    """A word fixed by the side file is read so wherever it is, or at one place only."""
    script = script_of(BLANK)
    words = words_of(script)
    at = next(w.i for w in words if w.text == "Juliet")
    by_word = scan(script, words, {"juliet": "sw"}).lines[1]
    by_place = scan(script, words, {at: "sw"}).lines[1]
    for each in (by_word, by_place):
        assert each is not None
        assert each.word_syllables[5] == 2
        assert each.syllables == 10
    again = scan(script, words, {"breaks": "w"}).lines[0]
    assert again is not None
    assert again.stress[-1] == "w"


def test_an_open_reading_has_the_syllables_of_the_line_and_says_why() -> None:
    """If two readings are almost equally likely, both are shown."""
    shown = [o for each in lines_of(BLANK) for o in each.open]
    assert shown, "in eight lines of Shakespeare there is at least one"
    for each in lines_of(BLANK):
        for other in each.open:
            assert len(other.stress) == each.syllables
            assert other.stress != each.stress
            assert other.why


def test_for_a_metre_with_two_names_the_second_is_given_too() -> None:
    """Seven-syllable lines of four beats: headless iambs or catalectic trochees (Saintsbury, "Historical
    Manual of English Prosody", 1910, on the octosyllable, memory)."""
    found = read(
        "Come, and trip it as ye go\nOn the light fantastic toe,\nHaste thee, nymph, and bring with thee\n"
        "Jest and youthful jollity,\nQuips and cranks and wanton wiles,\nNods and becks and wreathed smiles"
    )
    assert found.open.startswith(("iambic", "trochaic"))


def test_the_stresses_the_feet_and_the_words_of_a_line_have_the_same_number_of_syllables() -> None:
    for text in (BLANK, BALLAD, HIAWATHA, SENNACHERIB, EVANGELINE, COUPLETS, LOST, FREE):
        for each in lines_of(text):
            assert len(each.stress) == each.syllables == len("".join(each.feet)) == sum(each.word_syllables)


def test_capitals_and_missing_punctuation_hardly_change_the_scansion() -> None:
    loud = lines_of(BLANK.upper())
    bare = lines_of("".join(c for c in BLANK if c.isalpha() or c in " \n'"))
    want = ["".join(each.feet) for each in lines_of(BLANK)]
    assert ["".join(each.feet) for each in loud] == want
    agree = sum("".join(each.feet) == feet for each, feet in zip(bare, want, strict=True))
    assert agree >= 7


def test_a_single_word_can_be_scanned() -> None:
    (found,) = lines_of("Tomorrow")
    assert found.stress == "wsw"


@pytest.mark.heavy
def test_a_line_as_long_as_a_book_is_not_a_verse_line() -> None:
    script = script_of("word " * 50_000)
    found = scan(script, words_of(script))
    assert found.lines == (None,)
    assert found.metre is None


def test_a_text_without_words_is_not_verse() -> None:
    found = scan(script_of("🎭 🎭\n\n😀"), ())
    assert (found.form, found.metre, found.lines) == ("prose", None, ())


@pytest.mark.heavy
@settings(deadline=None, max_examples=60)
@given(st.lists(st.text(max_size=60), min_size=1, max_size=6))
def test_any_text_can_be_scanned(rows: list[str]) -> None:
    """Whatever is in the file, each line comes back as a scansion that counts right, or as None."""
    script = script_of("\n".join(" ".join(row.split()) for row in rows))
    found = scan(script, words_of(script))
    assert len(found.lines) == len(script.lines)
    for each in found.lines:
        if each is not None:
            assert len(each.stress) == each.syllables == sum(each.word_syllables)
