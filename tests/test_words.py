"""Words: where they are, what belongs to them, and where sentences end."""

from __future__ import annotations

import re
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st
from uniseg.wordbreak import words as unicode_words

from offbook.script import reading as script
from offbook.words import entries as words

LAMP = """The lamp was lit before the tide came in,
And still my father counted every boat.
But one was late, and none would say her name;
I held the rail, and wished the water calm.
"""


def said(text: str) -> list[str]:
    return [w.text for w in words.words_of(script.parse_script(text))]


def sentences(text: str) -> list[int]:
    return [w.sentence for w in words.words_of(script.parse_script(text))]


def test_words_are_numbered_and_their_positions_in_the_text_are_right() -> None:
    s = script.parse_script(LAMP)
    found = words.words_of(s)
    assert [w.i for w in found] == list(range(len(found)))
    assert all(s.text[w.start : w.end] == w.text for w in found)
    assert [w.line for w in found if w.text in ("The", "And", "But", "I")] == [1, 2, 3, 4]


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("the all-eating sea", ["the", "all", "eating", "sea"]),
        ("wait—no, wait--no", ["wait", "no", "wait", "no"]),
        ("well...perhaps…or", ["well", "perhaps", "or"]),
        ("either/or", ["either", "or"]),
        ("don't can’t o'clock", ["don't", "can’t", "o'clock"]),
        ("mother-in-law's", ["mother", "in", "law's"]),
    ],
)
def test_hyphens_dashes_ellipses_and_slashes_separate_words_and_apostrophes_do_not(
    text: str, parts: list[str]
) -> None:
    assert said(text) == parts


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("'Tis late, and 'twas ever so", ["'Tis", "late", "and", "'twas", "ever", "so"]),
        ("’Tis and ‘tis", ["’Tis", "and", "‘tis"]),
        ("tell 'em 'gainst the wall", ["tell", "'em", "'gainst", "the", "wall"]),
        ("He said 'this fair child of mine'.", ["He", "said", "this", "fair", "child", "of", "mine"]),
        ("He said ‘this fair child’.", ["He", "said", "this", "fair", "child"]),
        ("‘It is late,’ she said. ‘Is it?’", ["It", "is", "late", "she", "said", "Is", "it"]),
        ("She told ‘im so, and ‘er too", ["She", "told", "‘im", "so", "and", "‘er", "too"]),
        (
            "'Em is here,' he said, 'round the back'",
            ["'Em", "is", "here", "he", "said", "round", "the", "back"],
        ),
        ("he went 'round the back", ["he", "went", "'round", "the", "back"]),
        ("th' other o' the two", ["th'", "other", "o'", "the", "two"]),
        ("feelin' an' knowin’", ["feelin'", "an'", "knowin’"]),
        ("the lovers' tale", ["the", "lovers'", "tale"]),
        (
            "He said, 'the lovers' tale is told,' and left",
            ["He", "said", "the", "lovers'", "tale", "is", "told", "and", "left"],
        ),
        ("He called it 'goin' home' and went", ["He", "called", "it", "goin'", "home", "and", "went"]),
        ("the word 'lovers' alone", ["the", "word", "lovers", "alone"]),
        ("'\"Come,\" said he'", ["Come", "said", "he"]),
        ("rock 'n' roll", ["rock", "'n'", "roll"]),
    ],
)
def test_an_apostrophe_belongs_to_its_word_and_a_quotation_mark_does_not(text: str, parts: list[str]) -> None:
    assert said(text) == parts


def test_words_are_separated_as_in_unicode_text_segmentation() -> None:
    """Unicode Standard Annex 29, word boundaries, by the uniseg package: letters and inner apostrophes."""
    text = LAMP + "She can't have known; the all-eating sea — that’s all — took “every” boat, didn't it?"
    expected = [w for w in unicode_words(text) if any(c.isalnum() for c in w)]
    assert said(text) == expected


def test_ligatures_soft_hyphens_and_invisible_marks_do_not_change_words_or_positions() -> None:
    text = "the \ufb01rst so\u00adft\u00a0word\u200b and the \ufb02awless o\ufb03ce"
    s = script.parse_script(text)
    found = words.words_of(s)
    assert [w.text for w in found] == ["the", "first", "soft", "word", "and", "the", "flawless", "office"]
    soft = found[2]
    assert s.text[soft.start : soft.end] == "so\u00adft"


def test_a_letter_with_a_combining_accent_is_one_letter_of_its_word() -> None:
    found = words.words_of(script.parse_script("love\u0300d and lovèd"))
    assert [w.text for w in found] == ["lovèd", "and", "lovèd"]
    assert [w.spoken[0] for w in found] == [("loved",), ("and",), ("loved",)]


PROSE = (
    "We had been walking for an hour when the old man re-\n"
    "membered that he had left the gate open, and the well-\n"
    "known brown cow, whom nobody could ever have called self-\n"
    "controlled, was by now in the middle of the mar\u00ad\n"
    "ket, eating the flowers of a very well-known widow.\n"
)


def test_a_word_divided_at_a_line_end_is_one_word_over_both_lines() -> None:
    s = script.parse_script(PROSE)
    found = {w.text: w for w in words.words_of(s)}
    assert s.form == "prose"
    assert s.text[found["remembered"].start : found["remembered"].end] == "re-\nmembered"
    assert found["remembered"].line == 1
    assert "market" in found


def test_a_compound_that_breaks_at_its_hyphen_stays_two_words() -> None:
    texts = said(PROSE)
    assert texts.count("well") == 2 and texts.count("known") == 2
    assert "self" in texts and "controlled" in texts


def test_a_hyphen_at_the_end_of_a_verse_line_does_not_join_two_words() -> None:
    assert "allday" not in said(
        "I sat beside the river all-\nDay long and watched the boats\nGo out and in.\n"
    )


@pytest.mark.parametrize(
    ("text", "count"),
    [
        ("He came. She went. They stayed.", 3),
        ("Mr. Vane met Dr. Amory in St. Anne's.", 1),
        ("It was J. R. Vane who came. He stayed.", 2),
        ("We met at 5 p.m. He was late.", 2),
        ("We met at 5 p.m. on Monday.", 1),
        ("Bread, wine, etc. Then we sat.", 2),
        ("Well... perhaps.", 1),
        ("Well... Perhaps not.", 2),
        ('"Who goes there?" he cried. Nobody spoke.', 2),
        ("O! that this were all. It is not.", 2),
        ("It cost 3.50 in all. Or No. 5 did.", 2),
        ("Come in!? Really? Yes.", 3),
        ("He (b. 1901) had c. 150 lamps, see p. 4. They shone.", 2),
        ("ALL THE LAMPS ARE OUT. NOBODY CAME.", 2),
        ("all the lamps are out. nobody came.", 2),
    ],
)
def test_sentences_end_where_a_reader_would_end_them(text: str, count: int) -> None:
    assert sentences(text)[-1] == count


def test_a_paragraph_end_ends_a_sentence_but_a_stanza_that_ends_with_a_comma_does_not() -> None:
    prose = (
        "A title without a stop\n\nThen the speech, which goes on for a good while and is prose to the end.\n"
    )
    assert sentences(prose)[-1] == 2
    stanzas = "The lamp was lit before the tide came in,\nAnd all was still,\n\nAnd still he stood.\nI saw.\n"
    assert sentences(stanzas)[-1] == 2


def test_a_plain_list_of_words_has_as_many_words_as_splitting_at_blanks_gives() -> None:
    lines = ["the lamp was lit before the tide came in", "and still my father counted every boat"]
    assert said("\n".join(lines)) == " ".join(lines).split()


_LETTERS = st.characters(categories=("Lu", "Ll"), max_codepoint=0x24F)
_PRINTED = st.text(
    st.one_of(_LETTERS, st.sampled_from(" \n'’-–—.,;:!?()\"“”\u00ad\u00a0…&0123456789")), max_size=120
)


@given(_PRINTED)
def test_every_word_has_its_right_position_in_the_text(printed: str) -> None:
    text = "So " + printed
    s = script.parse_script(text)
    found = words.words_of(s)
    at = 0
    for w in found:
        assert at <= w.start < w.end <= len(text)
        at = w.end
        held = re.sub(r"[\u00ad\u200b]|[-‐]?\n\s*", "", text[w.start : w.end])
        assert unicodedata.normalize("NFKC", held).replace("\u00a0", " ") == unicodedata.normalize(
            "NFKC", w.text
        )
        line = s.lines[w.line - 1]
        assert line.start <= w.start < line.end
    assert [w.sentence for w in found] == sorted(w.sentence for w in found)


@given(_PRINTED)
def test_every_word_has_a_spoken_form(printed: str) -> None:
    for w in words.words_of(script.parse_script("So " + printed)):
        assert w.spoken and all(form for form in w.spoken)
        assert all(token == token.lower() and " " not in token for form in w.spoken for token in form)
        assert not any(c in "’‘-" for form in w.spoken for token in form for c in token)
