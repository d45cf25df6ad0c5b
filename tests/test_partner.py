"""The partner: it follows the script, gives the cues and prompts."""

from __future__ import annotations

import numpy as np
import pytest

from offbook.audio import pcm
from offbook.hear import places_of
from offbook.models import model_folder
from offbook.notes import SMALL
from offbook.partner import (
    Follower,
    Hold,
    Hush,
    LiveEar,
    Manners,
    Over,
    OwnSound,
    Patience,
    Played,
    Say,
    Utterance,
    partner_for,
    phrases_for,
    scene_of,
)
from offbook.recognise import VoskRecogniser
from offbook.words import words_of
from tests.recordings import two_cities
from tests.rehearsing import ROOM, VOICE, Stage, every_word, rehearsal_of, script_of

SPEECH = """The lamp is lit before the boats are out,
and every keeper knows the oil by weight.
My father wrote the hours in a ledger,
and when he slept I held the pen instead.
No captain ever asked us why it burned,
they only steered a little to the west.
"""
SCENE = """ORRIN: Who left the gate unbarred last night?

MAB: I did, because the goats were still outside.

ORRIN: And was it you that rang the bell at three?

MAB: The wind rang that. I only held the rope.

ORRIN: Then hold your tongue as well.
"""


def follower(text: str = SPEECH) -> Follower:
    script = script_of(text)
    return Follower(places_of(words_of(script), every_word, script.lines), SMALL)


def follow(f: Follower, said: str, begin: float = 0.0) -> int:
    """Hear words one by one, as the guesses of a recogniser come, and give the place after them."""
    words = said.split()
    for k in range(len(words)):
        f.hear(words[: k + 1], begin + 0.4 * k)
    f.hear(words, begin + 0.4 * len(words) + 0.5, ended=True)
    return f.spot.place


# Following.


def test_the_place_is_the_number_of_script_words_already_said() -> None:
    assert follow(follower(), "the lamp is lit before the boats are out and every") == 11


def test_the_place_moves_with_every_word_and_not_only_at_the_end_of_an_utterance() -> None:
    f = follower()
    places = [f.hear(["the", "lamp", "is", "lit", "before"][: k + 1], 0.4 * k).place for k in range(5)]
    assert places == [1, 2, 3, 4, 5]


def test_a_guess_that_the_recogniser_takes_back_does_not_affect_the_place() -> None:
    f = follower()
    f.hear(["the", "lamp", "is", "little", "west"], 2.0)
    assert f.hear(["the", "lamp", "is", "lit"], 2.4).place == 4


def test_misheard_words_do_not_stop_the_place_from_moving_on() -> None:
    assert follow(follower(), "the lamb is lit before [unk] boats are out") == 9


def test_the_place_skips_lines_left_out_after_two_content_words_of_the_later_line() -> None:
    f = follower()
    follow(f, "the lamp is lit before the boats are out")
    assert follow(f, "no captain ever asked", 5.0) == 38


def test_saying_the_line_again_moves_the_place_back() -> None:
    f = follower()
    follow(f, "the lamp is lit before the boats are out and every keeper knows")
    assert follow(f, "the lamp is lit", 8.0) == 4


def test_talk_and_laughter_do_not_move_the_place() -> None:
    f = follower()
    follow(f, "the lamp is lit before the boats are out")
    follow(f, "sorry [unk] wait what was it oh god [unk] hang on", 5.0)
    assert f.spot.place == pytest.approx(9, abs=2)
    assert follow(f, "and every keeper knows the oil", 12.0) == 15


def test_a_single_word_that_also_stands_elsewhere_does_not_move_the_place_there() -> None:
    f = follower()
    follow(f, "the lamp is lit before the boats")
    assert f.hear(["west"], 5.0).place in (7, 8)


TWINS = """It was the year of plenty,
it was the year of quarrels,
and nobody wrote any of it down.
"""


def test_a_line_that_begins_like_the_one_before_is_recognised_at_the_word_that_differs() -> None:
    f = follower(TWINS)
    assert follow(f, "it was the year of") == 5
    f.go(0)
    assert follow(f, "it was the year of quarrels") == 12


def test_between_two_answers_of_the_recogniser_the_place_moves_on_at_the_speakers_pace() -> None:
    f = follower()
    words = ["the", "lamp", "is", "lit", "before", "the", "boats"]
    for k in range(len(words)):
        f.hear(words[: k + 1], 0.4 * (k + 1))
    assert f.place_at(2.8 + 0.7, spoken=2.8 + 0.7) == 9
    assert f.place_at(2.8 + 0.7, spoken=2.5) == 7  # nobody has spoken since


# The scene.


def test_a_scene_has_a_turn_for_each_entry_of_the_performer_and_one_for_a_last_line_of_others() -> None:
    script = script_of(SCENE, "MAB")
    scene = scene_of(script, words_of(script))
    assert [(t.first, t.end, [line.text for line in t.lines]) for t in scene.turns] == [
        (0, 8, ["Who left the gate unbarred last night?"]),
        (8, 17, ["And was it you that rang the bell at three?"]),
        (17, 17, ["Then hold your tongue as well."]),
    ]
    assert scene.turns[1].heard_as == (
        "and",
        "was",
        "it",
        "you",
        "that",
        "rang",
        "the",
        "bell",
        "at",
        "three",
    )


def test_a_speech_without_cues_is_a_single_turn() -> None:
    script = script_of(SPEECH)
    words = words_of(script)
    assert [(t.first, t.end, t.lines) for t in scene_of(script, words).turns] == [(0, len(words), ())]


# Cues.


def test_the_partner_runs_the_scene_cue_by_cue_to_its_end() -> None:
    stage = Stage(rehearsal_of(script_of(SCENE, "MAB")))
    stage.wait()
    stage.quiet(0.6)
    stage.say("i did because the goats were still outside")
    stage.quiet(1.0)
    stage.wait()
    stage.quiet(0.9)
    stage.say("the wind rang that i only held the rope")
    stage.quiet(1.0)
    stage.wait()
    assert stage.said() == [
        "Who left the gate unbarred last night?",
        "And was it you that rang the bell at three?",
        "Then hold your tongue as well.",
    ]
    assert isinstance(stage.done[-1][1], Over)


def test_the_next_cue_comes_half_a_second_after_the_last_word() -> None:
    stage = Stage(rehearsal_of(script_of(SCENE, "MAB")))
    stage.wait()
    stage.quiet(0.5)
    stage.say("i did because the goats were still outside")
    ended = stage.now
    stage.quiet(2.0)
    second = next(at for at, act in stage.done if isinstance(act, Say) and act.text.startswith("And was it"))
    assert second - ended == pytest.approx(0.5, abs=0.15)


def test_the_next_cue_comes_even_if_the_line_was_said_in_other_words() -> None:
    stage = Stage(rehearsal_of(script_of(SCENE, "MAB")))
    stage.wait()
    stage.quiet(0.5)
    stage.say("i left it open for them creatures you know")
    stage.quiet(2.0)
    assert stage.said()[-1] == "And was it you that rang the bell at three?"


def test_a_line_with_one_sorry_among_wrong_words_still_brings_the_next_cue() -> None:
    stage = Stage(rehearsal_of(script_of(SCENE, "MAB"), Patience(9.0)))
    stage.wait()
    stage.say("i did because the goats said sorry [unk]")
    stage.quiet(2.0)
    assert stage.said()[-1] == "And was it you that rang the bell at three?"


def test_half_a_line_does_not_bring_the_next_cue() -> None:
    stage = Stage(rehearsal_of(script_of(SCENE, "MAB"), Patience(9.0)))
    stage.wait()
    stage.say("i did because")
    stage.quiet(5.0)
    assert stage.said() == ["Who left the gate unbarred last night?"]


def test_a_performer_who_breaks_off_to_apologise_does_not_get_the_next_cue() -> None:
    stage = Stage(rehearsal_of(script_of(SCENE, "MAB"), Patience(9.0)))
    stage.wait()
    stage.say("i did because the sorry hang on a minute")
    stage.quiet(5.0)
    assert stage.said() == ["Who left the gate unbarred last night?"]


def test_the_partner_follows_a_performer_who_skips_a_line_and_the_next_cue() -> None:
    stage = Stage(rehearsal_of(script_of(SCENE, "MAB")))
    stage.wait()
    stage.say("the wind rang that i only held the rope")
    stage.quiet(1.5)
    assert stage.said() == ["Who left the gate unbarred last night?", "Then hold your tongue as well."]


@pytest.mark.parametrize("gap", [0.4, 1.2, 3.0])
def test_the_time_taken_to_pick_up_a_cue_is_recorded(gap: float) -> None:
    stage = Stage(rehearsal_of(script_of(SCENE, "MAB"), Patience(9.0)))
    stage.wait()
    stage.quiet(gap)
    stage.say("i did because the goats were still outside")
    [kept] = stage.rehearsal.pick_ups
    assert (kept.line, kept.word) == (0, 0)
    assert kept.seconds == pytest.approx(gap, abs=0.15)


# The partner's own voice.


def test_the_partners_voice_from_a_loudspeaker_does_not_move_the_place() -> None:
    stage = Stage(rehearsal_of(script_of(SCENE, "MAB")))
    stage.wait()
    stage.quiet(1.0)
    assert stage.rehearsal.place == 0
    assert stage.rehearsal.pick_ups == ()


def test_the_partners_voice_is_recognised_as_the_partners_even_if_it_is_misheard() -> None:
    stage = Stage(
        rehearsal_of(script_of(SCENE, "MAB")), spoken=lambda w: "goats" if w == "gate" else w.lower()
    )
    stage.wait()
    stage.quiet(1.0)
    assert stage.rehearsal.place == 0


def test_a_prompt_from_a_loudspeaker_is_not_taken_for_the_performers_voice() -> None:
    stage = Stage(rehearsal_of(script_of(SPEECH), Patience(3.0, 2.0)))
    stage.say("the lamp is lit")
    stage.quiet(4.5)
    assert stage.prompts() == [(stage.prompts()[0][0], "before")]
    assert stage.rehearsal.follower.spot.place == 4
    stage.say("before the boats are out")
    stage.quiet(1.0)
    assert stage.rehearsal.follower.spot.place == 9


def test_a_cue_of_the_partner_that_was_cut_off_counts_as_said() -> None:
    """For example the window was closed in the middle of it, so that nobody reports its end."""
    rehearsal = rehearsal_of(script_of(SCENE, "MAB"))
    [cue] = rehearsal.start()
    assert isinstance(cue, Say)
    rehearsal.sound(VOICE)
    assert not rehearsal.speaking  # what is heard meanwhile is the cue
    assert rehearsal.cut_off() == []
    for _ in range(5):
        rehearsal.sound(VOICE)
    assert rehearsal.speaking
    assert rehearsal.said(cue.id) == [] and rehearsal.cut_off() == []


def test_a_performer_who_comes_in_early_silences_the_partner_and_is_followed() -> None:
    stage = Stage(rehearsal_of(script_of(SCENE, "MAB")), loud=False)
    stage.quiet(0.8)
    stage.say("i did because")
    stage.quiet(0.4)
    assert [type(act) for _, act in stage.done] == [Say, Hush]
    assert stage.rehearsal.place == 3


def test_in_the_performers_own_sound_there_is_silence_where_the_partner_spoke() -> None:
    own = OwnSound()
    own.feed(VOICE * 100)  # ten seconds
    played = (Played(1, "cue", ("who",), 2.0, 4.0), Played(2, "cue", ("and",), 6.0, 8.0, early=7.5))
    sound = own.take(played)
    assert len(sound) == len(VOICE) * 100
    quiet = [not any(sound[int(t * 32_000) : int(t * 32_000) + 320]) for t in (1.9, 2.1, 4.05, 4.2, 6.2, 6.6)]
    assert quiet == [
        False,
        True,
        True,
        False,
        True,
        False,
    ]  # 0.1 s of the room behind; from 1 s before 7.5 kept


def test_sound_recorded_during_an_unfinished_line_of_the_partner_is_held_back() -> None:
    own = OwnSound()
    own.feed(VOICE * 100)
    assert len(own.take((Played(1, "cue", (), 5.0),))) == int(7.0 * 32_000)
    assert len(own.take((Played(1, "cue", (), 5.0, 9.0),), last=True)) == int(3.0 * 32_000)


# Prompts.


def stuck(silence: float, **manners: object) -> Stage:
    """A performer who has said four words, and the partner's patience is `silence` and then 2 s."""
    stage = Stage(rehearsal_of(script_of(SPEECH), Patience(silence, 2.0), **manners), loud=False)
    stage.say("the lamp is lit")
    return stage


@pytest.mark.parametrize("silence", [2.0, 3.0, 5.0])
def test_the_partner_gives_the_next_word_after_the_chosen_silence(silence: float) -> None:
    stage = stuck(silence)
    ended = stage.now
    stage.quiet(silence + 0.5)
    [(at, text)] = stage.prompts()
    assert text == "before"
    assert 0.0 <= at - ended - silence <= 0.3


@pytest.mark.heavy
@pytest.mark.parametrize("level", [-70, -55, -50, -45, -40])
def test_the_partner_gives_the_first_word_in_time_however_loud_the_room_is(level: int) -> None:
    """Nobody has spoken yet; the noise (dB of full scale) is even, as a fan's is."""
    noise = np.random.default_rng(11).normal(0, 32768 * 10 ** (level / 20), 1600)
    stage = Stage(rehearsal_of(script_of(SPEECH), Patience(3.0)), room=noise.astype("<i2").tobytes())
    stage.quiet(4.0)
    [(at, text)] = stage.prompts()
    assert text == "The"
    assert 0.0 <= at - 3.0 <= 0.5
    stage = Stage(rehearsal_of(script_of(SPEECH), Patience(3.0)), room=noise.astype("<i2").tobytes())
    stage.quiet(1.0)
    stage.say("the lamp is lit")
    stage.quiet(2.5)
    assert stage.prompts() == [], "the silence counts from the last word"
    stage.quiet(1.0)
    assert [text for _, text in stage.prompts()] == ["before"]


def test_the_first_prompt_gives_a_word_the_second_gives_the_phrase_and_no_third_follows() -> None:
    stage = stuck(3.0)
    stage.quiet(20.0)
    assert [text for _, text in stage.prompts()] == ["before", "before the boats are out"]
    first, second = (prompt for prompt in stage.rehearsal.prompts)
    assert (first.first, first.end, first.asked, first.again) == (4, 5, False, False)
    assert (second.first, second.end, second.again) == (4, 9, True)
    assert second.at - first.at == pytest.approx(0.4 + 2.0, abs=0.25)  # the word was spoken for 0.4 s
    assert [act for _, act in stage.done if isinstance(act, Hold)] == []  # nor is what was given written over


def test_a_performer_who_says_only_the_prompted_word_gets_the_rest_of_the_phrase() -> None:
    stage = stuck(3.0)
    stage.quiet(4.0)
    stage.say("before")
    stage.quiet(4.0)
    assert [text for _, text in stage.prompts()] == ["before", "the boats are out"]


def test_a_dry_at_another_place_starts_again_with_a_single_word() -> None:
    stage = stuck(3.0)
    stage.quiet(4.0)
    stage.say("before the boats are out and every keeper")
    stage.quiet(3.6)
    assert [(p.first, p.end, p.again) for p in stage.rehearsal.prompts] == [(4, 5, False), (12, 13, False)]


@pytest.mark.parametrize("call", ["line", "sorry line", "what's my line", "prompt please"])
def test_a_call_for_the_line_is_answered_at_once(call: str) -> None:
    stage = stuck(9.0)
    stage.quiet(0.8)
    stage.say(call)
    ended = stage.now
    stage.quiet(1.5)
    [(at, text)] = stage.prompts()
    assert text == "before"
    assert at - ended <= 0.5
    assert stage.rehearsal.prompts[0].asked
    stage.say("before the boats are out")
    stage.quiet(1.0)
    assert stage.rehearsal.follower.spot.place == 9


def test_a_second_call_at_the_same_place_gives_the_phrase() -> None:
    stage = stuck(9.0)
    for _ in range(2):
        stage.quiet(0.8)
        stage.say("line")
        stage.quiet(1.5)
    assert [text for _, text in stage.prompts()] == ["before", "before the boats are out"]


def test_pressing_the_key_gives_a_prompt_too() -> None:
    stage = stuck(9.0)
    stage.quiet(0.5)
    acts = stage.rehearsal.ask()
    assert [act.text for act in acts if isinstance(act, Say)] == ["before"]


def test_the_word_line_in_the_script_is_not_a_call() -> None:
    stage = Stage(rehearsal_of(script_of("We held the line until the morning came."), Patience(9.0)))
    stage.say("we held the line")
    stage.quiet(3.0)
    assert stage.prompts() == []
    assert stage.rehearsal.follower.spot.place == 4


def test_the_partner_gives_no_prompt_while_the_performer_makes_any_sound() -> None:
    stage = stuck(2.0)
    stage.quiet(1.7)
    stage.noise(6.0)
    assert stage.prompts() == []
    stage.quiet(2.5)
    assert len(stage.prompts()) == 1


def heard_late(patience: float, before: float, said: str, after: float) -> Stage:
    """A stage on which a silence, words and a silence were heard late, without a prompt until then."""
    stage = stuck(patience)
    stage.rehearsal.behind = True
    stage.quiet(before)
    stage.say(said)
    stage.quiet(after)
    assert stage.prompts() == []
    stage.rehearsal.behind = False
    stage.quiet(0.1)
    return stage


def test_sound_heard_late_brings_no_prompt_until_the_newest_sound_is_reached() -> None:
    """A silence in old sound may be over by now, and the performer may have answered the call."""
    stage = heard_late(2.0, 3.0, "before the boats are out", 3.0)
    assert [text for _, text in stage.prompts()] == ["and"]
    assert [(p.first, p.asked) for p in stage.rehearsal.prompts] == [(9, False)]


def test_a_call_heard_late_is_answered_once_the_newest_sound_is_reached() -> None:
    stage = heard_late(9.0, 1.0, "line", 2.0)
    assert [p.asked for p in stage.rehearsal.prompts] == [True]


def test_uneven_room_noise_does_not_delay_the_prompt() -> None:
    """Single frames 8 dB over the rest of the room: too much for silence, too little for a voice."""
    stage = stuck(2.0)
    stage.quiet(0.4)  # until the ear has told of the last word
    samples = np.frombuffer(ROOM, "<i2").astype(float)
    samples[:160] *= 2.5
    uneven = np.rint(samples).astype("<i2").tobytes()
    acts = [act for _ in range(20) for act in stage.rehearsal.sound(uneven)]
    assert [act.text for act in acts if isinstance(act, Say)] == ["before"]


@pytest.mark.heavy
def test_in_a_marked_pause_the_partner_gives_no_prompt_but_says_that_the_performer_may_call() -> None:
    stage = stuck(2.0, held=frozenset({4}))
    stage.quiet(30.0)
    assert stage.prompts() == []
    assert [act for _, act in stage.done if isinstance(act, Hold)] == [Hold(4)]
    stage.say("line")
    stage.quiet(1.0)
    assert [text for _, text in stage.prompts()] == ["before"]


def test_a_pause_marked_elsewhere_does_not_delay_a_prompt() -> None:
    stage = stuck(2.0, held=frozenset({9}))
    stage.quiet(2.5)
    assert len(stage.prompts()) == 1


def test_the_partner_adds_the_usual_pause_to_the_silence_before_it_prompts() -> None:
    stage = stuck(2.0, usual={4: 3.5})
    ended = stage.now
    stage.quiet(6.0)
    assert stage.prompts()[0][0] - ended == pytest.approx(5.5, abs=0.3)


@pytest.mark.heavy
def test_without_a_chosen_silence_the_partner_gives_no_prompt_by_itself() -> None:
    stage = Stage(rehearsal_of(script_of(SPEECH), Patience(None)), loud=False)
    stage.say("the lamp is lit")
    stage.quiet(60.0)
    assert stage.prompts() == []


def test_a_prompt_may_be_shown_instead_of_spoken() -> None:
    stage = stuck(2.0, aloud=False)
    stage.quiet(2.5)
    [say] = [act for _, act in stage.done if isinstance(act, Say)]
    assert (say.text, say.aloud) == ("before", False)
    assert stage.rehearsal.played == ()


def test_a_performer_who_dries_on_a_cue_is_given_its_first_word() -> None:
    stage = Stage(rehearsal_of(script_of(SCENE, "MAB"), Patience(3.0)))
    stage.wait()
    over = stage.now
    stage.quiet(3.5)
    [(at, text)] = stage.prompts()
    assert text == "I"
    assert at - over == pytest.approx(3.0, abs=0.3)


def test_a_prompt_never_continues_into_the_next_turn() -> None:
    stage = Stage(rehearsal_of(script_of(SCENE, "MAB"), Patience(3.0, 2.0)), loud=False)
    stage.wait()
    stage.say("i did because the goats")
    stage.quiet(9.0)
    assert [text for _, text in stage.prompts()] == ["were", "were still outside"]


# The ear.


class Scripted:
    """A recogniser that says what it was told to, a tenth of a second at a time."""

    def __init__(self, told: list[tuple[str, bool]]) -> None:
        self._told = told

    def knows(self, word: str) -> bool:
        return True

    def follow(self, phrases: object) -> Scripted:
        return self

    def feed(self, pcm: bytes) -> bool:
        words, ended = self._told.pop(0)
        self._now = tuple(words.split())
        return ended

    def words(self) -> tuple[str, ...]:
        return self._now


def test_the_ear_reports_each_change_of_the_words_and_each_end_of_an_utterance() -> None:
    ear = LiveEar(
        Scripted([("", False), ("the", False), ("the", False), ("the lamp", True), ("", False)]), []
    )
    heard = ear.feed(ROOM * 2 + ROOM[:100])
    heard += ear.feed(ROOM[100:] + ROOM * 2)
    assert heard == [Utterance(("the",), 0.2), Utterance(("the", "lamp"), 0.4, ended=True)]


def test_the_ear_expects_the_script_the_lines_of_others_and_a_call_for_the_line() -> None:
    script = script_of(SCENE, "MAB")
    words = words_of(script)
    places = places_of(words, every_word, script.lines)
    phrases = phrases_for(scene_of(script, words), places, every_word)
    assert phrases[0].startswith("i did because the goats were still outside the wind")
    assert "and was it you that rang the bell at three" in phrases
    assert {"line", "prompt", "sorry", "[unk]"} <= set(phrases)


def test_the_partner_takes_sound_in_chunks_of_any_length_and_passes_it_to_the_ear() -> None:
    script = script_of(SPEECH)
    told = [(" ".join(["the", "lamp", "is", "lit", "before"][: k // 4]), False) for k in range(30)]
    partner = partner_for(script, words_of(script), Scripted(told), Manners())
    assert partner.rehearsal.start() == []
    for at in range(0, 20 * len(VOICE), 7_000):
        partner.feed((VOICE * 20)[at : at + 7_000])
    assert partner.rehearsal.follower.spot.place == 4
    assert partner.own(last=True) == VOICE * 20


@pytest.mark.model
def test_a_human_reading_is_followed_to_its_last_word_without_a_prompt() -> None:
    """Two Cities, read aloud (see tests/recordings.py); the reader pauses for up to a second."""
    path, text = two_cities()
    script = script_of(text)
    words = words_of(script)
    partner = partner_for(script, words, VoskRecogniser(model_folder()), Manners(Patience(2.0)))
    acts = partner.rehearsal.start()
    sound = b"".join(pcm(path))
    half = None
    for at in range(0, len(sound), 3_200):
        acts += partner.feed(sound[at : at + 3_200])
        if half is None and partner.rehearsal.now >= 20.5:
            half = partner.rehearsal.place
    acts += partner.feed(ROOM * 25)
    assert [type(act) for act in acts] == [Over]
    assert half == pytest.approx(60, abs=2)  # "the winter of despair" ends at 20.5 s
    assert partner.rehearsal.follower.spot.place == len(words)
