"""Which words sound alike, by their phones."""

from __future__ import annotations

import codecs

import pytest
from hypothesis import given
from hypothesis import strategies as st

from offbook.lexicon import phones_of
from offbook.models import model_folder
from offbook.recognise import VoskRecogniser
from offbook.soundalike import alike, distance, family, known_forms, rivals, same_sound
from offbook.soundalike.likeness import SMALL_WORDS, in_full, is_small, sounds
from offbook.soundalike.phone_distance import distance_of_phones, likeness
from offbook.soundalike.reduced_forms import clipped
from offbook.soundalike.spelling_guess import guessed_sounds
from offbook.soundalike.tact import barred

_PHONES = "IY IH EY EH AE AA AO OW UH UW AH ER AY AW OY P B T D K G F V S Z M N L R W Y HH"
PHONES = st.sampled_from(_PHONES.split())
STRINGS = st.lists(PHONES, max_size=6).map(tuple)


@given(STRINGS, STRINGS)
def test_the_distance_of_two_sounds_is_symmetric_and_zero_only_for_equal_sounds(
    a: tuple[str, ...], b: tuple[str, ...]
) -> None:
    """As for every distance: it is symmetric, and 0 only for the same sound."""
    assert distance(a, b) == pytest.approx(distance(b, a))
    assert distance(a, a) == 0.0
    assert (distance(a, b) == 0.0) == (a == b)


@given(PHONES, PHONES, PHONES)
def test_stress_does_not_change_a_distance_and_no_distance_exceeds_1(a: str, b: str, c: str) -> None:
    """The distance of two phones is between 0 and 1."""
    assert distance_of_phones(a + "1", b) == distance_of_phones(a, b) == distance_of_phones(b, a)
    assert 0.0 <= distance_of_phones(a, c) <= 1.0


def test_sounds_that_differ_in_one_feature_are_nearer_than_those_that_differ_in_more() -> None:
    """Voice, place, manner: International Phonetic Association, chart of consonants (from memory)."""
    assert distance_of_phones("P", "B") < distance_of_phones("P", "Z")
    assert distance_of_phones("IH", "EH") < distance_of_phones("IH", "AO")
    assert distance_of_phones("N", "M") < distance_of_phones("N", "F")


@pytest.mark.parametrize(
    ("a", "b"), [("heir", "air"), ("rose", "rows"), ("night", "knight"), ("grey", "gray")]
)
def test_homophones_are_the_same_sound(a: str, b: str) -> None:
    """Source: the CMU Pronouncing Dictionary."""
    assert same_sound(a, b)


@pytest.mark.parametrize(("a", "b"), [("later", "latter"), ("are", "or"), ("is", "his"), ("diner", "dinner")])
def test_words_that_only_look_alike_or_merge_in_fast_speech_are_different_sounds(a: str, b: str) -> None:
    """If the weak forms of small words counted, "are" and "or" would be the same word."""
    assert not same_sound(a, b)


def test_a_doubled_letter_in_a_name_is_a_spelling_variant() -> None:
    """People spell names in more than one way."""
    assert same_sound("phillip", "philip")
    assert same_sound("mathew", "matthew")


@pytest.mark.parametrize(
    ("word", "near"),
    [
        ("speak'st", "S P IY K S T"),
        ("takest", "T EY K S T"),
        ("carriest", "K AE R IY S T"),
        ("hopeth", "HH OW P IH TH"),
        ("turn'd", "T ER N D"),
        ("kindliness", "K AY N D L IY N AH S"),
        ("farmer's", "F AA R M ER Z"),
    ],
)
def test_an_old_ending_is_added_to_the_sound_of_the_right_stem(word: str, near: str) -> None:
    """takest comes from take and carriest from carry, and not from a name with the same letters."""
    assert distance(sounds(word)[0], near.split()) < 0.4


def test_the_sound_of_a_word_that_no_dictionary_has_is_guessed_from_its_letters() -> None:
    """The guess need only be similar to the right one."""
    assert likeness(guessed_sounds("thrapple")[0], ["TH", "R", "AE", "P", "AH", "L"]) > 0.8
    assert likeness(guessed_sounds("brightling")[0], ["B", "R", "AY", "T", "L", "IH", "NG"]) > 0.8
    assert guessed_sounds("'") == ()


@given(st.text("abcdefghijklmnopqrstuvwxyz'", max_size=12))
def test_any_string_of_letters_has_a_sound_or_none_and_causes_no_error(word: str) -> None:
    """No string of letters fails, and the same word always sounds the same."""
    assert guessed_sounds(word) == guessed_sounds(word)
    assert 0.0 <= alike(word or "x", "thing") <= 1.0


@pytest.mark.heavy
def test_a_rival_is_another_small_word_with_a_similar_but_never_the_same_sound() -> None:
    """This is so for every small word, by the distances themselves."""
    for word in SMALL_WORDS:
        for other in rivals(word):
            assert is_small(other) and other != word and not same_sound(word, other)
            assert min(distance(x, y) for x in sounds(word) for y in sounds(other)) <= 1.3
    assert rivals("mountain") == ()
    assert "an" in rivals("a") and "him" in rivals("in") and "into" in rivals("unto")


def test_the_family_of_a_small_word_consists_of_words_of_the_same_kind() -> None:
    """thy and your do not sound alike, but one may be said in the place of the other."""
    assert "your" in family("thy") and "will" in family("shall") and "unto" in family("to")
    assert family("mountain") == ()


_KNOWN = "farmers wood cutters would cut speaks taste take kind lean less thrift the a of beauties tattered"
VOCABULARY = frozenset(_KNOWN.split())


@pytest.mark.heavy
def test_a_word_outside_the_vocabulary_is_heard_as_known_words_that_sound_like_it() -> None:
    """As a homophone, as several shorter words, or as a similar word."""
    knows = VOCABULARY.__contains__
    assert known_forms("farmer's", knows)[0] == ("farmers",)
    assert known_forms("woodcutters", knows)[0] in {("wood", "cutters"), ("would", "cutters")}
    assert known_forms("tatter'd", knows)[0] == ("tattered",)
    assert known_forms("thrift", knows) == (("thrift",),)
    assert known_forms("xylophone", knows) == ()


@pytest.mark.parametrize("word", ["farmer's", "woodcutters", "takest", "kindliness"])
def test_every_form_is_made_of_known_words_and_sounds_like_the_word(word: str) -> None:
    """So every form can be one of the recogniser's phrases."""
    for form in known_forms(word, lambda w: bool(phones_of(w)) and w != word):
        assert all(phones_of(w) for w in form)
        assert alike(word, " ".join(form)) > 0.6


@pytest.mark.heavy
def test_no_two_known_forms_of_a_word_sound_the_same() -> None:
    """The recogniser could not decide between them, and would be unsure of both."""
    knows = frozenset(("beauties", "beauty", "time's", "times'", "dimes", "lime's")).__contains__
    assert known_forms("beauty's", knows) == (("beauties",),)
    assert known_forms("times", knows) == (("time's",),)


def test_if_a_homophone_is_known_no_other_form_is_offered() -> None:
    """If beckoned is known, beckon said for beckon'd is another word."""
    assert known_forms("beckon'd", {"beckoned", "beckon", "beckons"}.__contains__) == (("beckoned",),)


@pytest.mark.parametrize(
    ("cut", "whole"),
    [("heav'n", "heaven"), ("o'er", "over"), ("pris'ner", "prisoner"), ("ta'en", "taken"), ("th'", "the"),
     ("'neath", "beneath"), ("'gainst", "against"), ("shou'd", "should")],
)  # fmt: skip
def test_a_shortened_word_may_be_said_in_full(cut: str, whole: str) -> None:
    """The recogniser knows the whole word, not the spelling of the verse. Elisions: common practice."""
    assert in_full(cut) == whole
    assert sounds(whole)[0] in sounds(cut)
    assert known_forms(cut, {whole}.__contains__) == ((whole,),)


def test_a_possessive_is_not_taken_for_a_shortened_word() -> None:
    """do's is not a short form of does."""
    assert in_full("do's") is None
    assert in_full("lantern's") is None


@pytest.mark.parametrize(
    ("word", "known", "near"),
    [
        ("shoreless", "shore less chore lace", ("shore", "less")),
        ("moonwashed", "moon washed", ("moon", "washed")),
        ("hippolyta", "hippo lita", ("hippo", "lita")),
    ],
)
def test_shorter_words_match_a_longer_one_even_if_an_unstressed_vowel_differs(
    word: str, known: str, near: tuple[str, ...]
) -> None:
    """Unstressed vowels sound nearly the same, so a piece may have another one."""
    assert known_forms(word, known.split().__contains__)[0] == near


def test_no_slur_or_obscenity_is_offered_unless_the_scripts_word_has_it() -> None:
    """No sound-alike is or contains a slur or an obscenity, unless the script's word has it."""
    rude = [codecs.decode(w, "rot13") for w in ("shpxrq", "encr", "pbpx", "fuvg")]
    knows = frozenset((*rude, "sucked", "bed", "pea", "sheet")).__contains__
    assert known_forms("suck'd", knows) == (("sucked",),)
    for word in ("bedrape", "peacock", "suck'd", "shi't", "bedraped"):
        assert not set(rude) & {w for form in known_forms(word, knows) for w in form}
    assert all(map(barred, rude))
    assert not barred(rude[2], rude[2] + "crow")
    assert not any(map(barred, SMALL_WORDS))
    ordinary = "god hell weed organ stroke thrust assess peer spices cumin snatch"
    assert not any(map(barred, ordinary.split()))


@pytest.mark.model
def test_most_words_of_verse_that_the_model_lacks_have_a_known_form_and_none_offends() -> None:
    """Old forms are made by rule of the dictionary's verbs; the vocabulary is that of the real model."""
    model = VoskRecogniser(model_folder())
    stems = "wander hearken murmur kindle quench linger beckon forsake unfold darken glimmer listen"
    words = [s.rstrip("e") + ending for s in stems.split() for ending in ("eth", "est", "'d", "'st", "less")]
    words = [w for w in words if not model.knows(w)]
    assert len(words) > 40
    near = [known_forms(w, model.knows) for w in words]
    assert sum(bool(forms) for forms in near) >= 0.95 * len(words)
    assert not any(barred(w) for forms in near for form in forms for w in form)


@pytest.mark.parametrize(
    ("short", "heard"),
    [
        ("'cause", "cause"),
        ("should've", "should have"),
        ("couldn't've", "couldn't of"),
        ("there'd", "there would"),
        ("how'd", "how did"),
        ("that'll", "that will"),
        ("d'you", "do you"),
        ("nothin'", "nothing"),
        ("'ello", "hello"),
        ("s'pose", "suppose"),
        ("nooooo", "no"),
        ("goooood", "good"),
        ("yesss", "yes"),
        ("didja", "did you"),
    ],
)
def test_a_clipped_or_drawn_out_word_of_talk_is_heard_as_the_words_that_it_is_made_of(
    short: str, heard: str
) -> None:
    assert tuple(heard.split()) in known_forms(short, lambda word: word != short and not word.endswith("'ve"))


@pytest.mark.parametrize("word", ["deserv'd", "feed'st", "heav'n", "beauty's", "o'er", "th'", "sin'", "have"])
def test_an_elision_of_verse_or_a_possessive_is_not_taken_for_a_clipped_word(word: str) -> None:
    assert clipped(word) == ()


def test_a_clipped_word_that_the_recogniser_knows_is_heard_as_itself() -> None:
    assert known_forms("should've", lambda word: True) == (("should've",),)


def test_a_reduced_word_that_the_recogniser_knows_may_also_be_heard_as_its_full_form() -> None:
    """ "kind of" in running speech sounds like "kinda", but "going to" does not sound like "gonna"."""
    assert known_forms("kinda", lambda word: True) == (("kinda",), ("kind", "of"))
    assert known_forms("gonna", lambda word: True) == (("gonna",),)


def test_a_drawn_out_word_that_the_recogniser_knows_may_also_be_heard_in_another_spelling() -> None:
    assert known_forms("sooo", {"sooo", "so"}.__contains__) == (("sooo",), ("so",))
    assert known_forms("helllooo", {"hello", "halo"}.__contains__) == (("hello",),)
