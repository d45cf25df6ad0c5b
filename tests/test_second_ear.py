"""A second ear: how its model writes words, what it is asked along a stretch, and what both ears decide."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pytest

from offbook.align import AlignedWord, align_part
from offbook.audio import pcm
from offbook.errors import ModelError
from offbook.hear.blends import blends, with_script_spelling, with_vocabulary_words
from offbook.hear.decide import Scores, WeighedPlace, decide, leading_rival, spread
from offbook.hear.listener import hear
from offbook.hear.pace import PlacePace, pace_of
from offbook.hear.place_wordings import PlaceWordings
from offbook.hear.script_view import places_of
from offbook.hear.second_ear import SecondEar, WordUnit, word_units
from offbook.models import second_folder
from offbook.recognise import HeardWord, OnnxScorer, Rival
from offbook.recognise.word_pieces import WordPieces, read_pieces
from offbook.sampling import BYTES_PER_SECOND
from offbook.score import TIE
from offbook.script import parse_script
from offbook.words import words_of
from tests.fetch_recordings import FOLDER
from tests.second_ears import TableEar
from tests.test_hear import Speaker, Told

SPACE = "\u2581".encode()


def some_pieces(*joined: bytes) -> tuple[bytes, ...]:
    """A list of pieces: marks and bytes first, as the model has them, then these."""
    return (b"<unk>", b"<s>", b"</s>", *(bytes([b]) for b in range(256)), *joined)


# --- word pieces ---------------------------------------------------------------------------------------


def test_the_pair_of_pieces_that_is_earliest_in_the_list_is_joined_first() -> None:
    """Byte pair encoding (Sennrich, Haddow & Birch, ACL 2016): "that" is th and at, or t, ha and t."""
    letters = (SPACE, b"t", b"h", b"a", b".")
    first = WordPieces(some_pieces(b"at", b"th", SPACE + b"th", *letters))
    assert [first.text_of(n) for n in first.numbers_of("that")] == ["\u2581th", "at"]
    other = WordPieces(some_pieces(b"ha", b"th", SPACE + b"th", b"at", *letters))
    assert [other.text_of(n) for n in other.numbers_of("that")] == ["\u2581", "t", "ha", "t"]


def test_a_letter_without_a_word_piece_is_written_as_its_bytes() -> None:
    pieces = WordPieces(some_pieces(SPACE, b"a", b"."))
    assert pieces.numbers_of("aé") == (259, 260, 3 + 0xC3, 3 + 0xA9)


def test_word_pieces_with_a_length_of_one_or_two_bytes_are_read(tmp_path: Path) -> None:
    """300 bytes: 300 = 128 x 2 + 44, so 44 + 128 and 2."""
    wanted = some_pieces(SPACE, b".", b"x" * 300)
    data = b"".join(
        (bytes([len(p)]) if len(p) < 128 else bytes([len(p) % 128 + 128, len(p) // 128])) + p for p in wanted
    )
    (tmp_path / "pieces").write_bytes(data)
    assert read_pieces(tmp_path / "pieces").pieces == wanted
    (tmp_path / "pieces").write_bytes(data[:-1])
    with pytest.raises(ValueError, match="middle of a piece"):
        read_pieces(tmp_path / "pieces")
    (tmp_path / "pieces").write_bytes(b"\x01a\x01b")
    with pytest.raises(ValueError, match="no word pieces"):
        read_pieces(tmp_path / "pieces")


# --- along a stretch -----------------------------------------------------------------------------------

SCRIPT = "We saw the harbour and I'm told it is DEEP. The boats\nCome in at 5 o'clock"


def script_places(text: str = SCRIPT) -> tuple[AlignedWord, ...]:
    script = parse_script(text)
    return places_of(words_of(script), lambda word: True, script.lines)


def heard_as(text: str, word: float = 0.4) -> list[HeardWord]:
    return [HeardWord(w, k * word, (k + 1) * word, 1.0) for k, w in enumerate(text.split())]


def test_a_script_word_is_written_as_in_the_middle_of_a_sentence() -> None:
    """A capital at the start of a sentence is removed, that of a name or I stays; numbers are in words."""
    written = [" ".join(p.written) for p in script_places()]
    assert written == (
        [
            "we",
            "saw",
            "the",
            "harbour",
            "and",
            "I'm",
            "told",
            "it",
            "is",
            "deep",
            "the",
            "boats",
            "come",
            "in",
            "at",
            "five",
            "o'clock",
        ]
    )
    assert [p.written for p in script_places("Ask Gutenberg now")][1] == ("Gutenberg",)


def ear_on(scorer: TableEar, heard: str, text: str = SCRIPT) -> tuple[SecondEar, list[WordUnit]]:
    words = heard_as(heard)
    places = script_places(text)
    units = word_units(align_part(places, words, 0).steps, places, words)
    sound = bytes(int(len(words) * 0.4 * BYTES_PER_SECOND) // 2 * 2)
    return SecondEar(scorer, units, words, sound, range(len(words))), units


def test_the_text_has_the_scripts_spelling_for_words_heard_as_written_and_else_the_heard_words() -> None:
    scorer = TableEar()
    ear_on(scorer, "we saw a harbour and i'm so told it is deep")
    assert scorer.followed[0][1] == (
        "We",
        "saw",
        "a",
        "harbour",
        "and",
        "I'm",
        "so",
        "told",
        "it",
        "is",
        "deep",
    )


def test_a_long_stretch_is_divided_into_overlapping_passages_of_several_seconds() -> None:
    """30 words of 0.4 s: a passage has about 8 s of its own at most, 2.5 before and 1.2 behind it."""
    scorer = TableEar()
    text = " ".join(["alpha bravo charlie delta echo"] * 6)
    ear_on(scorer, text, text.capitalize())
    lengths = [size / BYTES_PER_SECOND for size, _ in scorer.followed]
    assert len(lengths) == 2 and max(lengths) <= 8 + 2.5 + 1.2 + 0.3 + 0.4
    assert len(scorer.followed[0][1]) + len(scorer.followed[1][1]) > 30


def test_a_word_with_a_better_scoring_rival_is_a_suspicion_even_if_every_hearing_had_it() -> None:
    rivals = {"the": (Rival("a", 2.0), Rival("The", 1.0)), "harbour": (Rival("harbor", -3.0),)}
    scorer = TableEar({"the": -9.0, "a": -1.0, "a the": -30.0}, rivals)
    ear, _ = ear_on(scorer, "we saw the harbour and i'm told")
    found = ear.suspicions(lambda word: True)
    assert [(s.unit.text, s.instead_of("the")) for s in found] == [(("the",), "a")]
    assert scorer.asked[0] == (("the",), ("a",), ("a", "the")), "the word, its rival, and the rival put in"


def test_a_rival_that_does_not_score_better_as_a_whole_word_is_no_suspicion() -> None:
    scorer = TableEar({"the": -1.0, "a": -2.0}, {"the": (Rival("a", 2.0),)})
    assert ear_on(scorer, "we saw the harbour")[0].suspicions(lambda word: True) == []


def test_leaving_a_word_out_is_a_suspicion_too_but_an_unknown_word_is_not() -> None:
    scorer = TableEar({"the": -9.0, "": -1.0, "zzz": 0.0}, {"the": (Rival("zzz", 3.0), Rival("", 1.0))})
    ear, _ = ear_on(scorer, "we saw the harbour")
    assert [s.instead_of("the") for s in ear.suspicions(lambda word: word != "zzz")] == [""]


def test_the_first_word_of_a_passage_has_a_capital_in_every_wording() -> None:
    scorer = TableEar({"we": -1.0, "you": -4.0})
    ear, _ = ear_on(scorer, "we saw the harbour")
    assert ear.weigh(range(1), {"we": ("we",), "you": ("you",)}) == {"we": -1.0, "you": -4.0}
    assert scorer.asked[-1] == (("We",), ("You",))


def test_between_two_words_an_added_word_is_weighed_against_no_word() -> None:
    scorer = TableEar({"": -1.0, "very": -6.0})
    ear, _ = ear_on(scorer, "we saw the harbour")
    assert ear.weigh(range(2, 2), {"": (), "very": ("very",)}) == {"": -1.0, "very": -6.0}


def test_the_sound_before_the_first_and_after_the_last_heard_word_is_included() -> None:
    """Up to 3 s on either side: the first ear may have understood nothing of them."""
    scorer = TableEar()
    words = [HeardWord(w, 5 + k * 0.4, 5.4 + k * 0.4, 1.0) for k, w in enumerate(["we", "saw", "the"])]
    places = script_places()
    units = word_units(align_part(places, words, 0).steps, places, words)
    SecondEar(scorer, units, words, bytes(20 * BYTES_PER_SECOND), range(3))
    assert scorer.followed[0][0] / BYTES_PER_SECOND == pytest.approx(1.2 + 3 + 3 + 0.15, abs=0.01)


def test_the_second_ear_gives_the_words_it_would_write_by_itself_at_a_place() -> None:
    ear, _ = ear_on(TableEar(free={"the harbour": ("a", "harbor")}), "we saw the harbour and")
    assert ear.free_wording(range(2, 4)) == "a harbor"
    assert ear.free_wording(range(1, 2)) is None


def test_in_a_place_of_several_words_each_may_be_replaced_by_one_the_second_ear_prefers() -> None:
    """One odd word was heard; with the script's "at the harbour" there, "in" is likelier than "at"."""
    near, far = Rival("in", 2.0), Rival("on", -3.0)
    scorer = TableEar(rivals={"at": [near, far], "harbour": [Rival("", 1.0)], "saw": [near]})
    text = "We saw them at the harbour today"
    ear, _ = ear_on(scorer, "we saw them adder today", text)
    assert ear.likely_replacements(range(3, 4), ["at", "the", "harbour"]) == [(0, "in"), (2, "")]
    places = script_places(text)
    wordings = PlaceWordings(places, lambda _: True, ear, [])
    asked = wordings.for_second_ear(range(3, 6), range(3, 4), ["at the harbour"], ["adder"], ["adder"])
    assert {"adder", "in the harbour", "at the"} <= set(asked)
    assert wordings.for_second_ear(range(3, 4), range(3, 4), ["at"], ["adder"], ["adder"]) == ["adder"]


# --- wordings between two ---


def test_each_difference_is_tried_alone_and_with_all_the_others_but_it() -> None:
    assert set(blends("they have all", "we had all")) == {"they had all", "we have all"}
    assert {"on it in a way", "upon it in a way"} <= set(blends("upon it in one way", "on it and a way"))


def test_no_wordings_between_two_are_tried_for_one_difference_or_for_too_many() -> None:
    assert blends("the harbour", "a harbour") == []
    assert blends("one two three four five", "a b c d e") == []


def test_if_one_word_fewer_was_heard_any_word_of_the_script_may_be_the_one_left_out() -> None:
    assert {"immediately", "perhaps"} <= set(blends("perhaps immediately", "admittedly"))


def test_if_several_words_fewer_were_heard_one_whole_phrase_may_be_missing() -> None:
    """Of "the boats come in at dawn", cut down to one word, the first or the last may be left."""
    assert {"the", "dawn"} <= set(blends("the boats come in at dawn", "don"))
    assert {"at dawn", "the dawn", "the boats"} <= set(blends("the boats come in at dawn", "a dog"))


def test_if_one_word_more_was_heard_it_is_tried_beside_the_scripts_word() -> None:
    assert "feast it" in blends("feast", "feels it")


def test_a_heard_word_is_split_if_the_script_has_its_second_half() -> None:
    assert "a way" in blends("one way", "away")
    assert blends("gone", "away") == []


# --- how long a place took ---


def tone(*parts: tuple[float, int]) -> bytes:
    """Sound of so many seconds at such a level each."""
    levels = np.concatenate([np.full(round(s * BYTES_PER_SECOND / 2), level) for s, level in parts])
    return (levels * np.where(np.arange(levels.size) % 2, 1, -1)).astype("<i2").tobytes()


def test_a_second_of_voice_between_two_words_shows_that_words_were_said_between_them() -> None:
    words = [HeardWord("harbour", 0.0, 0.6, 1.0), HeardWord("tonight", 1.6, 2.2, 1.0)]
    left, right = words[:1], words[1:]
    voiced = pace_of(tone((2.2, 3000)), words, left, right)
    silent = pace_of(tone((0.6, 3000), (1.0, 0), (0.6, 3000)), words, left, right)
    assert voiced is not None and silent is not None
    assert voiced.time_lead("and the boats", "") > 0.5
    assert silent.time_lead("and the boats", "") < -0.5
    assert silent.voiced == pytest.approx(1.2, abs=0.05)


def test_several_words_are_not_surely_missing_if_there_was_voice_long_enough_for_them() -> None:
    scores = {"and the boats": -27.0, "": -8.0}
    assert decided("and the boats", scores, ("", "", ""))[0] == ""
    word, sure = decided("and the boats", scores, ("", "", ""), PlacePace(2.2, 14, 0.086))
    assert word == "and the boats" and sure < TIE
    partly = {
        "and the boats come in": (-47.0, words("and the boats come in")),
        "come in": (-8.0, words("come in")),
    }
    found, _ = decide_by_second("and the boats come in", partly, ("come in",) * 3, PlacePace(2.7, 14, 0.086))
    assert [w.word for w in found if w.confidence < TIE] == ["and", "the", "boats"]


def test_words_are_missing_despite_the_time_if_the_second_ear_scores_well_without_them() -> None:
    """A phrase cut out leaves nothing strange behind, however long the words around it took."""
    time_for_them = PlacePace(2.2, 14, 0.086)
    assert decided("and the boats", {"and the boats": -60.0, "": -4.9}, ("",) * 3, time_for_them)[0] == ""
    word, sure = decided("and the boats", {"and the boats": -60.0, "": -5.1}, ("",) * 3, time_for_them)
    assert word == "and the boats" and sure < TIE


# --- the second ear decides ----------------------------------------------------------------------------

AS_WRITTEN = ("the", "the", "the")


def words(wording: str) -> list[HeardWord]:
    """The words of a wording, a second each."""
    return [HeardWord(w, k, k + 1.0, 1.0) for k, w in enumerate(wording.split())]


def decide_by_second(
    script: str, scores: Scores, hearings: tuple[str, str, str], pace: PlacePace | None = None
) -> tuple[list[HeardWord], WeighedPlace | None]:
    """`decide` on scores of the second ear."""
    mine = script.split()
    places = [AlignedWord(((w,),), spoken=(w,), written=(w,)) for w in mine]
    blank = WeighedPlace(0, len(mine), script, "", 0.0, *hearings, 0.0, 1.0, by_second=True)
    return decide(places, [script], scores, [], blank, pace)


def decided(
    script: str, scores: Mapping[str, float], hearings: tuple[str, str, str], pace: PlacePace | None = None
) -> tuple[str, float]:
    """What is taken at a place, and how surely. scores: what the second ear makes of the wordings."""
    found, _ = decide_by_second(script, {w: (s, words(w)) for w, s in scores.items()}, hearings, pace)
    return " ".join(w.word for w in found), min((w.confidence for w in found), default=1.0)


def test_if_every_hearing_had_the_scripts_word_the_second_ear_decides() -> None:
    """For example the first ear misses "a" for "the": all its hearings had the script's word."""
    assert decided("the", {"the": -12.0, "a": -1.0}, AS_WRITTEN)[0] == "a"
    word, sure = decided("the", {"the": -1.0, "a": -6.0}, AS_WRITTEN)
    assert word == "the" and sure > 0.95


def test_a_small_lead_of_the_second_ear_is_not_enough_against_every_hearing() -> None:
    assert decided("the", {"the": -4.0, "a": -1.0}, AS_WRITTEN)[0] == "the"
    assert decided("the", {"the": -4.0, "a": -1.0}, ("a", "a", "a"))[0] == "a"


def test_ears_that_contradict_each_other_make_the_script_word_less_sure() -> None:
    """The hearings had "the", the second ear "that", as written; if both have "the", it is taken."""
    word, sure = decided("that", {"that": -1.0, "the": -2.0}, AS_WRITTEN)
    assert word == "that"
    assert decided("that", {"that": -8.0, "the": -1.0}, AS_WRITTEN)[0] == "the"
    agreed = decided("that", {"that": -1.0, "the": -2.0}, ("that", "that", "that"))
    assert agreed[0] == "that" and agreed[1] > sure > TIE


def test_a_word_that_every_hearing_added_needs_less_lead_than_one_that_two_added() -> None:
    scores = {"": -9.8, "no oar": -9.6}
    assert decided("", scores, ("no oar", "no oar", "no oar"))[0] == "no oar"
    assert decided("", scores, ("", "no oar", "no oar"))[0] == ""
    assert decided("", {"": -14.0, "no oar": -9.6}, ("", "no oar", "no oar"))[0] == "no oar"


def test_a_longer_word_that_every_hearing_added_is_taken_against_the_second_ear() -> None:
    """A cough or an "um" may be heard three times as "the", hardly as "throughout"."""
    assert decided("", {"": -0.9, "throughout": -8.9}, ("throughout",) * 3)[0] == "throughout"
    assert decided("", {"": -0.9, "quite": -8.9}, ("quite",) * 3)[0] == "quite"
    assert decided("", {"": -0.9, "such": -8.9}, ("such",) * 3)[0] == ""
    assert decided("", {"": -0.9, "throughout": -8.9}, ("throughout", "throughout", "through"))[0] == ""
    beside = {"or": -2.4, "should or": -4.4}
    assert decided("or", beside, ("should or",) * 3, PlacePace(1.2, 7, 0.086))[0] == "should or"
    assert decided("or", beside, ("should or",) * 3, PlacePace(0.7, 7, 0.086))[0] == "or"


def test_a_word_after_a_dropped_word_is_dropped_too_if_it_fits_the_sound_poorly() -> None:
    """A phrase of two was left out; one of its words fits the joined sound a little, not enough."""
    scores = {"or cost incurred": -32.9, "or incurred": -9.5, "incurred": -6.8}
    assert decided("or cost incurred", scores, ("incurred",) * 3)[0] == "incurred"
    scores["incurred"] = -8.0
    assert decided("or cost incurred", scores, ("incurred",) * 3)[0] == "or incurred"
    heard_to = {"how much praise thy": -54.6, "to thy": -6.8, "thy": -8.8}
    assert decided("how much praise thy", heard_to, ("to thy", "thy", "thy"))[0] == "thy"


def test_of_two_changed_neighbouring_words_the_second_needs_less_evidence() -> None:
    heard = ("with the", "with a", "were the")
    assert decided("for a", {"for a": -30.0, "for the": -6.2, "with the": -6.0}, heard)[0] == "with the"
    assert decided("for a", {"for a": -30.0, "for the": -6.0, "with the": -6.0}, heard)[0] == "for the"


def test_a_second_changed_word_in_a_place_needs_less_evidence_up_to_two_words_on() -> None:
    """For the script's "a spring for" the second ear also likes "of"; no hearing had either."""
    nothing = ("ring", "ring", "ring")
    asked = {"a spring for": -30.0, "a spring of": -9.0}
    assert decided("a spring for", {**asked, "the spring of": -5.9}, nothing)[0] == "the spring of"
    assert decided("a spring for", {**asked, "the spring of": -6.1}, nothing)[0] == "a spring of"
    longer = {"a spring we had for": -30.0, "a spring we had of": -9.0, "the spring we had of": -5.9}
    assert decided("a spring we had for", longer, nothing)[0] == "a spring we had of"
    nearer = {"a spring had for": -30.0, "a spring had of": -9.0, "the spring had of": -5.9}
    assert decided("a spring had for", nearer, nothing)[0] == "the spring had of"


def test_the_rival_that_leads_is_the_one_that_would_be_taken_where_it_beats_the_script() -> None:
    """What a hearing had counts as for any rival; the script's own wording never is one."""
    places = [AlignedWord(((w,),), spoken=(w,), written=(w,)) for w in ("in", "a")]
    blank = WeighedPlace(0, 2, "in a", "", 0.0, "in the", "in the", "in the", 0.0, 1.0, by_second=True)

    def leading(**scores: float) -> str:
        table = {w.replace("_", " "): (s, words(w.replace("_", " "))) for w, s in scores.items()}
        return leading_rival(places, ["in a"], table, blank)

    assert leading(in_a=-5.0, in_the=-4.0, on_the=-3.5) == "in the"
    assert leading(in_a=-3.9, in_the=-4.0, on_the=-3.5) == ""
    assert leading(in_a=-5.0) == ""


def test_a_word_added_beside_a_script_word_needs_less_evidence_than_a_changed_word() -> None:
    """One hearing of three had "a rose" for "rose"."""
    scores = {"rose": -4.4, "a rose": -1.0}
    assert decided("rose", scores, ("a rose", "rose", "rose"))[0] == "a rose"
    assert decided("rose", {"rose": -2.0, "a rose": -2.6}, ("a rose", "rose", "rose"))[0] == "rose"
    assert decided("rose", {"rose": -4.4, "roads": -1.0}, ("roads", "rose", "rose"))[0] == "rose"


def test_two_words_that_sound_nearly_alike_are_told_apart_if_the_second_ear_can() -> None:
    """By phones "has" and "have" are too near to be told apart."""
    heard = {"you have to": -1.0, "you has to": -9.0, "we has into": -30.0}
    assert decided("we has into", heard, ("you have to",) * 3)[0] == "you have to"
    level = {"you have to": -1.0, "you has to": -2.0, "we has into": -30.0}
    assert decided("we has into", level, ("you have to",) * 3)[0] == "you has to"


def test_a_word_outside_the_vocabulary_does_not_hide_an_added_word_beside_it() -> None:
    """ "makest" is heard as "maxed"; the second ear scores it as it is spelt, and the "waste" behind it."""
    places = [AlignedWord((("maxed",),), known=False, spoken=("makest",), written=("makest",))]
    blank = WeighedPlace(0, 1, "maxed", "", 0.0, *("maxed waste",) * 3, 0.0, 1.0, by_second=True)
    scores = {"maxed": (-12.0, words("maxed")), "maxed waste": (-2.0, words("maxed waste"))}
    found, _ = decide(places, ["maxed"], scores, [], blank)
    assert [w.word for w in found] == ["maxed", "waste"]
    found, _ = decide(
        places, ["maxed"], {"maxed": (-2.0, words("maxed")), "maxed waste": (-9.0, [])}, [], blank
    )
    assert [w.word for w in found] == ["maxed"]


def test_words_without_times_share_the_time_of_their_place_equally() -> None:
    found = spread(["the", "boats"], [HeardWord("", 3.5, 4.1, 1.0)])
    assert [(w.word, round(w.start, 2), round(w.end, 2)) for w in found] == [
        ("the", 3.5, 3.8),
        ("boats", 3.8, 4.1),
    ]


def test_an_added_word_is_the_one_heard_unless_the_second_ear_finds_it_very_unlikely() -> None:
    """The hearings had "no oar" between two words; the second ear scores "nor" slightly better."""
    heard = ("know or", "no oar", "no oar")
    assert decided("", {"": -16.0, "no oar": -9.6, "nor": -4.4}, heard)[0] == "no oar"
    assert decided("", {"": -22.0, "no oar": -9.6, "nor": -2.4}, heard)[0] == "nor"


def test_an_added_word_may_be_a_small_word_that_sounds_like_the_one_heard() -> None:
    asked = PlaceWordings([], lambda _: True, None, []).for_second_ear(
        range(3, 3), range(2, 3), [""], ["and", "ending"], ["and", "ending", ""]
    )
    assert asked[:2] == ["and", "ending"] and {"an", "in"} <= set(asked)
    assert decided("", {"": -9.0, "and": -8.0, "in": -3.0}, ("and", "and", ""))[0] == "in"


def test_the_words_of_the_second_ear_are_translated_into_the_recognisers_vocabulary_and_back() -> None:
    places = [AlignedWord((("maxed",),), known=False, spoken=("makest",), written=("Makest",))]
    assert with_vocabulary_words("makest waste", places) == "maxed waste"
    assert with_script_spelling("maxed waste", places) == "Makest waste"


def test_where_no_hearing_had_a_word_a_wording_without_one_is_likelier() -> None:
    """With "most" left out the second ear finds "to" likelier there than nothing, as a text."""
    nothing = ("", "", "")
    assert decided("most", {"most": -30.0, "": -9.0, "to": -6.5}, nothing)[0] == ""
    assert decided("most", {"most": -30.0, "": -9.0, "to": -6.3}, nothing)[0] == "to"
    assert decided("most", {"most": -30.0, "": -9.0, "to": -6.5}, ("to", "", ""))[0] == "to"


def test_of_several_words_put_in_only_the_first_costs_as_much_as_one_alone() -> None:
    """Two hearings had a prompter's words; the second ear does not expect them, but may well be wrong."""
    heard = ("line what comes next", "line what comes next", "line")
    asked = {"": -25.0, "line": -6.0, "line what comes next": -11.0}
    assert decided("", asked, heard)[0] == "line what comes next"
    assert decided("", {**asked, "line what comes next": -11.2}, heard)[0] == "line"


def test_the_rival_is_taken_up_to_a_tie() -> None:
    """All hearings had "a"; the leads make the chance of "the" 0.49 and 0.503."""
    assert decided("the", {"the": -4.0, "a": -2.28}, ("a", "a", "a"))[0] == "a"
    word, sure = decided("the", {"the": -4.0, "a": -2.35}, ("a", "a", "a"))
    assert word == "the" and TIE < sure < 0.51


def test_a_word_for_which_an_um_is_often_taken_needs_more_evidence_where_the_script_has_none() -> None:
    """The leads make the chance that nothing was said 0.42, 0.42 and 0.32."""
    heard = ("am", "am", "")
    assert decided("", {"": -2.68, "and": -1.0, "am": -9.0}, heard)[0] == ""
    assert decided("", {"": -2.68, "line": -1.0}, ("line", "line", ""))[0] == "line"
    assert decided("", {"": -3.6, "and": -1.0, "am": -9.0}, heard)[0] == "and"
    word = decided("the", {"the": -8.0, "and": -2.2}, ("the", "the", "the"))[0]
    assert word == "and", "only where the script has no word: here the chance is 0.41"


# --- a whole run-through -------------------------------------------------------------------------------


def test_a_changed_small_word_that_the_first_ear_misses_is_found_with_the_second() -> None:
    """The first ear hears "the" whenever the script has it; the second ear prefers "a"."""
    script = parse_script("We saw the harbour and the boats come in at five")
    speaker = Speaker()
    sound = speaker.say("we saw the harbour and the boats come in at five /")
    first = Told(speaker)
    alone = hear(words_of(script), [sound], first, lines=script.lines)
    assert [w.verdict for w in alone.words] == ["said"] * 11
    scorer = TableEar({"the": -1.0}, otherwise=-1.0)
    assert hear(words_of(script), [sound], first, lines=script.lines, scorer=scorer) == alone
    assert scorer.followed, "it was asked"


def test_a_second_slip_in_a_place_is_looked_for_once_the_first_is_known() -> None:
    """Said was "the best of"; no hearing had "the", and the second ear likes it only with "of"."""
    script = parse_script("I know it was a best for times like these that we all")
    speaker = Speaker()
    scores = {"a best for": -30.0, "a best of": -8.0, "the best of": -1.0, "the best for": -30.0}
    scorer = TableEar(scores, {"a": [Rival("the", 0.0)]})
    told = Told(speaker)
    sound = speaker.say("i know it was an bed of times like these that we all /")
    run = hear(words_of(script), [sound], told, lines=script.lines, scorer=scorer)
    assert [w.heard for w in run.words[4:7]] == ["the", "best", "of"]
    del scorer.scores["the best of"]
    run = hear(words_of(script), [sound], told, lines=script.lines, scorer=scorer)
    assert [w.heard for w in run.words[4:7]] == ["a", "best", "of"]


def test_of_a_rival_only_the_scripts_words_are_changed_and_none_outside_the_vocabulary() -> None:
    """The second ear likes another word better for each; the recogniser hears "maxed" for "makest"."""

    def knows(word: str) -> bool:
        return word != "makest"

    script = parse_script("You makest waste of it")
    places = places_of(words_of(script), knows, script.lines)
    heard = heard_as("you maxed waste of it")
    liked = {"makest": "makes", "waste": "paste", "too": "to"}
    scorer = TableEar(rivals={word: [Rival(other, 0.0)] for word, other in liked.items()})
    units = word_units(align_part(places, heard, 0).steps, places, heard)
    ear = SecondEar(scorer, units, heard, bytes(2 * BYTES_PER_SECOND), range(len(heard)))
    wordings = PlaceWordings(places, knows, ear, ())
    assert wordings.near_rival(range(1, 3), range(1, 3), "maxed waste too") == ["maxed paste too"]


def test_a_phrase_said_twice_is_heard_even_if_the_second_ear_finds_that_unlikely() -> None:
    """A single word said twice is weighed as any other, and so is a doubtful word beside the phrase."""
    script = parse_script("We saw the harbour and the boats come in at five")
    speaker = Speaker()
    sound = speaker.say("we saw the harbour and the boats and the boats come in at five /")
    scorer = TableEar({"": -1.0})
    run = hear(words_of(script), [sound], Told(speaker), lines=script.lines, scorer=scorer)
    assert [w.verdict for w in run.words] == ["said"] * 11
    assert [x.heard for x in run.extras] == ["and", "the", "boats"]
    sound = speaker.say("we saw the harbour and and the boats come in at five /")
    run = hear(words_of(script), [sound], Told(speaker), lines=script.lines, scorer=scorer)
    assert [w.verdict for w in run.words] == ["said"] * 11
    assert run.extras == ()
    scorer = TableEar({"an": -1.0}, {"and": [Rival("an", 0.0)]})
    sound = speaker.say("we saw the harbour and the boats and the boats come in at five /")
    run = hear(words_of(script), [sound], Told(speaker), lines=script.lines, scorer=scorer)
    assert [w.verdict for w in run.words] == ["said"] * 11
    assert [x.heard for x in run.extras] == ["the", "boats", "an"]


def test_words_of_another_line_are_spelt_for_the_second_ear_as_the_script_has_them() -> None:
    """Heard as "lanterns", and said where the script has nothing."""
    script = parse_script("We saw the harbour\nand lantern's light when boats come in at five")
    speaker, scorer = Speaker(), TableEar(otherwise=-1.0)
    said = "we saw lanterns light the harbour and lanterns light when boats come in at five /"
    told = Told(speaker, unknown=frozenset(["lantern's"]))
    hear(words_of(script), [speaker.say(said)], told, lines=script.lines, scorer=scorer)
    assert any(("lantern's", "light") in asked for asked in scorer.asked)
    assert not any(("lanterns", "light") in asked for asked in scorer.asked)


@dataclass
class Counting(Told):
    """Keeps how many hearings among phrases each stretch of sound was given."""

    stretches: Counter[bytes] = field(default_factory=Counter)

    def decode_among(self, pcm: bytes, phrases: Sequence[str]) -> tuple[HeardWord, ...]:
        self.stretches[pcm] += 1
        return super().decode_among(pcm, phrases)


def four_lines() -> list[str]:
    """Eighty different words, twenty a line."""
    halves = [
        " ".join(f"{letter}{end}" for letter in "klmnprstvz")
        for end in ("a", "e", "i", "o", "u", "y", "ai", "au")
    ]
    return [f"{a} {b}" for a, b in zip(halves[::2], halves[1::2], strict=True)]


def test_with_a_second_ear_what_is_heard_as_the_script_has_it_is_not_contested() -> None:
    """Four lines of twenty words with a silence after each; without a second ear all are contested."""
    lines = four_lines()
    script, speaker = parse_script("\n".join(lines)), Speaker()
    sound = speaker.say(" / ".join(lines))
    both, alone = Counting(speaker), Counting(speaker)
    ear = TableEar(otherwise=-1.0)
    run = hear(words_of(script), [sound], both, lines=script.lines, scorer=ear)
    assert [w.verdict for w in run.words] == ["said"] * 80
    assert list(both.stretches.values()) == [1, 1, 1, 1]
    assert hear(words_of(script), [sound], alone, lines=script.lines).words == run.words
    assert list(alone.stretches.values()) == [2, 2, 2, 2]


@pytest.mark.heavy
@pytest.mark.parametrize("slip", ["kai lai kai lai mai", "kai mai", "kai py mai", "kai lai mai nai la"])
def test_with_a_second_ear_what_departs_from_the_script_is_contested(slip: str) -> None:
    """Words said twice, left out, put in another's place or put in at the end, in the last of four lines."""
    lines = four_lines()
    script, speaker = parse_script("\n".join(lines)), Speaker()
    both = Counting(speaker)
    sound = speaker.say(" / ".join([*lines[:3], slip]))
    hear(words_of(script), [sound], both, lines=script.lines, scorer=TableEar(otherwise=-1.0))
    assert list(both.stretches.values()) == [1, 1, 1, 2]


# --- the real model ------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def scorer() -> OnnxScorer:
    folder = second_folder()
    assert folder is not None, "the second ear is not set up: offbook setup"
    return OnnxScorer(folder)


OPENING = "it was the best of times it was the worst of times it was the age of wisdom"


@pytest.mark.model
def test_the_model_distinguishes_what_was_said_from_what_was_not(scorer: OnnxScorer) -> None:
    """The opening of A Tale of Two Cities, a person's reading: its first 5.5 seconds."""
    sound = b"".join(pcm(FOLDER / "two_cities.wav"))[: int(5.5 * BYTES_PER_SECOND)]
    text = ["It", *OPENING.split()[1:12]]
    passage = scorer.follow(sound, text)
    assert len(passage.log_probabilities) == 12 and min(passage.log_probabilities) > -4
    the, a, none = passage.weigh(2, 3, [("the",), ("a",), ()])
    assert the - a > 3 and the - none > 3
    was, is_ = passage.weigh(7, 8, [("was",), ("is",)])
    assert was - is_ > 3
    best, rest = passage.weigh(3, 4, [("best",), ("rest",)])
    assert best > rest
    wrong = scorer.follow(sound, [*text[:2], "a", *text[3:]])
    assert wrong.rivals(2, 3)[0].word == "the" and wrong.rivals(2, 3)[0].lead > 2
    assert scorer.follow(sound, text).log_probabilities == passage.log_probabilities, "the same every time"
    assert passage.reworded(2, 3, ["a"]).log_probabilities == wrong.log_probabilities, (
        "no need to listen again"
    )


@pytest.mark.model
def test_a_word_that_no_dictionary_has_is_scored_as_it_is_spelt(scorer: OnnxScorer) -> None:
    assert "".join(scorer.pieces.text_of(n) for n in scorer.pieces.numbers_of("feed'st")) == "\u2581feed'st"
    passage = scorer.follow(bytes(BYTES_PER_SECOND), ["Hello", "feed'st", "thriftless"])
    assert len(passage.log_probabilities) == 3 and all(s < 0 for s in passage.log_probabilities)


def test_the_error_for_a_folder_that_is_no_second_ear_names_the_missing_file(tmp_path: Path) -> None:
    with pytest.raises(ModelError, match=r"encoder_model\.ort is missing"):
        OnnxScorer(tmp_path)
    for name in ("encoder_model.ort", "decoder_model_merged.ort", "tokenizer.bin"):
        (tmp_path / name).write_bytes(b"nothing")
    with pytest.raises(ModelError, match="cannot be read"):
        OnnxScorer(tmp_path)
