"""Hearing, with a fake recogniser that is told what it hears."""

from __future__ import annotations

import itertools
import threading
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
import pytest

from offbook.hear import Listener
from offbook.hear.listener import hear
from offbook.hear.segments import Segment, Segmenter
from offbook.recognise import UNKNOWN, Alternative, HeardWord
from offbook.recognise.vosk_recogniser import Decoder
from offbook.sampling import BYTES_PER_SECOND
from offbook.score import Run
from offbook.script import Script, parse_script
from offbook.words import Word, words_of

WORD = 0.4  # s that a word takes in the made-up sound
STEP = BYTES_PER_SECOND // 10


@dataclass
class Speaker:
    """Sound that stands for words: each a number in every sample of its time, zero a silence."""

    vocabulary: list[str] = field(default_factory=lambda: [""])

    def say(self, text: str) -> bytes:
        """The sound of a text; "/" is a second of silence."""
        parts = []
        for word in text.split():
            if word == "/":
                parts.append(bytes(BYTES_PER_SECOND))
                continue
            if word not in self.vocabulary:
                self.vocabulary.append(word)
            sample = (1000 + self.vocabulary.index(word)).to_bytes(2, "little")
            parts.append(sample * int(WORD * BYTES_PER_SECOND / 2))
        return b"".join(parts)

    def hear(self, pcm: bytes) -> Iterator[tuple[str, float, float]]:
        """The words in a stretch of sound, with their times."""
        samples = np.frombuffer(pcm[: len(pcm) // 2 * 2], "<i2")
        edges = [0, *(np.flatnonzero(np.diff(samples)) + 1), len(samples)]
        longest = int(WORD * BYTES_PER_SECOND / 2)
        for first, last in itertools.pairwise(edges):
            for at in range(first, last, longest):  # the same word twice is one stretch of equal samples
                end = min(at + longest, last)
                if samples[at] and end - at > 800:
                    word = self.vocabulary[int(samples[at]) - 1000]
                    yield word, at * 2 / BYTES_PER_SECOND, end * 2 / BYTES_PER_SECOND


@dataclass
class Told:
    """A recogniser that hears what the speaker says, but for the words it mishears when nobody helps it.

    mishears: word -> what a free decoding makes of it. unknown: words outside the vocabulary. swallows: words
    that a hearing among phrases leaves out of a whole stretch.
    """

    speaker: Speaker
    mishears: dict[str, str] = field(default_factory=dict)
    unknown: frozenset[str] = frozenset()
    swallows: frozenset[str] = frozenset()
    asked: list[Sequence[str]] = field(default_factory=list)
    name: str = "told"

    def knows(self, word: str) -> bool:
        return word not in self.unknown and word != ""

    def open(self) -> Decoder:
        return _Free(self)

    def decode_among(self, pcm: bytes, phrases: Sequence[str]) -> tuple[HeardWord, ...]:
        """A word that some phrase has is heard; another as misheard, or as unknown."""
        return tuple(w for w in self._among(pcm, phrases) if w.word not in self.swallows)

    def _among(self, pcm: bytes, phrases: Sequence[str]) -> tuple[HeardWord, ...]:
        allowed = {w for p in phrases for w in p.split()}
        found = []
        for word, start, end in self.speaker.hear(pcm):
            heard = word if word in allowed else self.mishears.get(word, UNKNOWN)
            found.append(HeardWord(heard if heard in allowed else UNKNOWN, start, end, 0.99))
        return tuple(found)

    def weigh(self, pcm: bytes, phrases: Sequence[str], most: int = 8) -> tuple[Alternative, ...]:
        """Only what was said comes back."""
        self.asked.append(phrases)
        return (Alternative(self._among(pcm, phrases), 0.0),)


class _Free:
    def __init__(self, told: Told) -> None:
        self.told, self.sound, self.cut_at = told, b"", 0

    def feed(self, pcm: bytes) -> bool:
        self.sound += pcm
        new = self.sound[self.cut_at :]
        return len(new) > BYTES_PER_SECOND and not any(new[-BYTES_PER_SECOND // 2 :]) and any(new)

    def cut(self) -> tuple[HeardWord, ...]:
        offset = self.cut_at / BYTES_PER_SECOND
        heard = list(self.told.speaker.hear(self.sound[self.cut_at :]))
        self.cut_at = len(self.sound)
        return tuple(
            HeardWord(self.told.mishears.get(w, w), s + offset, e + offset, 0.9) for w, s, e in heard
        )

    def finish(self) -> tuple[HeardWord, ...]:
        return self.cut()


SCRIPT = """The kettle sang before the house was up
and every lantern leaned towards the sea
nobody told the baker he was late
we counted seven herons on the weir"""
SAID = SCRIPT.lower().replace("\n", " / ")


def listen(said: str, script: str = SCRIPT, **told: object) -> tuple[Run, Told]:
    """A run-through of a script, as said."""
    speaker = Speaker()
    sound = speaker.say(said)
    recogniser = Told(speaker, **told)  # type: ignore[arg-type]
    parsed, words = page(script)
    chunks = [sound[k : k + STEP] for k in range(0, len(sound), STEP)]
    return hear(words, chunks, recogniser, lines=parsed.lines), recogniser


def page(script: str) -> tuple[Script, tuple[Word, ...]]:
    """A script and its words."""
    parsed = parse_script(script)
    return parsed, words_of(parsed)


def marks(run: Run) -> str:
    """One letter a word."""
    return "".join(w.verdict[0] for w in run.words)


def test_a_speech_said_without_a_slip_has_only_said_words() -> None:
    """Nothing is added either, over several stretches of sound."""
    run, _ = listen(SAID)
    assert marks(run) == "s" * 29
    assert run.extras == ()


def test_a_word_that_the_free_hearing_mishears_is_corrected_with_the_script() -> None:
    """A word said rightly counts as said, even if a hearing without the script misheard it."""
    run, _ = listen(SAID, mishears={"herons": "heroes", "lantern": "lent", "weir": "we're"})
    assert marks(run) == "s" * 29


def test_a_changed_a_dropped_and_an_added_word_are_each_found_in_their_place() -> None:
    """Nothing else is found."""
    said = SAID.replace("seven", "eleven").replace("every ", "").replace("the baker", "the old baker")
    run, _ = listen(said)
    wrong = {w.text: w.verdict for w in run.words if w.verdict != "said"}
    assert wrong == {"seven": "changed", "every": "dropped"}
    assert [(x.heard, run.words[x.before_word].text) for x in run.extras] == [("old", "baker")]


def test_an_added_word_that_only_the_free_hearing_had_is_heard_again_and_found() -> None:
    """The hearings that are helped by the script leave it out."""
    run, _ = listen(SAID.replace("the baker", "the old baker"), swallows=frozenset(["old"]))
    assert marks(run) == "s" * 29
    assert [(x.heard, run.words[x.before_word].text) for x in run.extras] == [("old", "baker")]


def test_every_word_of_a_line_left_out_is_dropped() -> None:
    """The third line is left out."""
    lines = SAID.split(" / ")
    run, _ = listen(" / ".join([*lines[:2], lines[3]]))
    assert [w.i for w in run.words if w.verdict == "dropped"] == list(range(15, 22))
    assert run.extras == ()


@pytest.mark.heavy
def test_a_word_outside_the_vocabulary_is_heard_as_what_it_sounds_like() -> None:
    """The script says lantern's; the recogniser only knows lanterns."""
    script = SCRIPT.replace("lantern", "lantern's")
    run, _ = listen(SAID.replace("lantern", "lanterns"), script, unknown=frozenset(["lantern's"]))
    assert marks(run) == "s" * 29


def test_a_line_begun_twice_counts_once_and_the_words_of_the_first_beginning_are_extras() -> None:
    """To begin again is not counted as a mistake in the words."""
    run, _ = listen(SAID.replace("nobody", "nobody told the / nobody"))
    assert marks(run) == "s" * 29
    assert [x.heard for x in run.extras] == ["nobody", "told", "the"]


def test_only_doubtful_places_are_heard_again() -> None:
    """A clean run-through asks for no third hearing; a slip asks for one about itself."""
    assert listen(SAID)[1].asked == []
    asked = listen(SAID.replace("seven", "eleven"))[1].asked
    assert any("seven" in p and "counted" in p for phrases in asked for p in phrases)


def test_a_wrong_last_word_that_sounds_like_the_scripts_is_heard_again() -> None:
    """No word follows it, so it could also be a word that the script does not have."""
    run, told = listen(SAID.replace("weir", "wear"))
    assert any({"weir", "wear"} <= {w for p in phrases for w in p.split()} for phrases in told.asked)
    assert [(w.text, w.verdict, w.heard) for w in run.words if w.verdict != "said"] == [
        ("weir", "changed", "wear")
    ]
    assert listen(SAID + " thunder")[1].asked == []


def test_a_listener_gives_verdicts_while_the_sound_still_arrives() -> None:
    """The verdicts of a stretch are settled when it ends, long before the end of the speech."""
    speaker = Speaker()
    sound = speaker.say(SAID + " / /")
    parsed, words = page(SCRIPT)
    listener = Listener(words, Told(speaker), lines=parsed.lines)
    half = len(sound) // 2
    for k in range(0, half, STEP):
        listener.feed(sound[k : k + STEP])
    listener.wait()
    assert marks(listener.so_far()).startswith("s" * 8)
    assert marks(listener.so_far()).endswith("d" * 7)
    for k in range(half, len(sound), STEP):
        listener.feed(sound[k : k + STEP])
    assert marks(listener.finish()) == "s" * 29


@pytest.mark.heavy
def test_the_same_sound_gives_the_same_run_whatever_the_size_of_its_chunks() -> None:
    """This holds even though the second hearing runs on its own thread."""
    speaker = Speaker()
    sound = speaker.say(SAID.replace("seven", "eleven"))
    parsed, words = page(SCRIPT)
    runs = [
        hear(
            words,
            [sound[k : k + size] for k in range(0, len(sound), size)],
            Told(speaker),
            lines=parsed.lines,
        )
        for size in (999, STEP, STEP, len(sound))
    ]
    assert all(r == runs[0] for r in runs)


def test_on_one_core_the_result_is_the_same_and_no_thread_is_started() -> None:
    """One core is used if the other cores hear other recordings."""
    speaker = Speaker()
    sound = speaker.say(SAID.replace("seven", "eleven"))
    parsed, words = page(SCRIPT)
    before = set(threading.enumerate())
    listener = Listener(words, Told(speaker), lines=parsed.lines, one_core=True)
    for k in range(0, len(sound), STEP):
        listener.feed(sound[k : k + STEP])
        assert set(threading.enumerate()) <= before
    assert listener.finish() == hear(words, [sound], Told(speaker), lines=parsed.lines)
    assert set(threading.enumerate()) <= before


def test_silence_gives_a_run_in_which_every_word_is_dropped() -> None:
    """It is not an error here: the caller decides whether to refuse it."""
    run, _ = listen("/ / /")
    assert marks(run) == "d" * 29
    assert run.seconds == 0.0


@pytest.mark.heavy
def test_the_place_of_a_speaker_is_found_again_after_a_long_jump() -> None:
    """The search begins near the last place and then takes the whole script."""
    from offbook.align import AlignedWord
    from offbook.hear.script_view import region_around

    syllables = [c + v for c in "bdfgklmnprstvz" for v in ("ah", "ee", "oo")]

    def word(i: int) -> str:
        return syllables[i % 42] + syllables[i // 42 % 42] + syllables[i // 1764]

    def said(first: int, last: int) -> list[HeardWord]:
        return [HeardWord(word(i), i * WORD, (i + 1) * WORD, 1.0) for i in range(first, last)]

    places = tuple(AlignedWord(((word(i),),)) for i in range(3000))
    here, _ = region_around(places, [], said(100, 140), 0)
    there, after = region_around(places, said(100, 140), said(2500, 2512), 140)
    assert 100 in here and 139 in here and 2500 not in here
    assert 2500 in there and 2511 in there and after == 140


def test_a_stretch_with_a_jump_is_compared_with_the_words_before_and_after_it() -> None:
    """Six words of the opening, two of them wrong, then thirty words further on: both are in the region."""
    from offbook.align import AlignedWord
    from offbook.hear.script_view import region_around

    text = """
        the harbour lay under a copper sky and nobody spoke until morgan lifted the lantern from its hook and
        counted seven barrels beside the wall every one marked with chalk although we had paid for twelve in
        autumn before winter closed the pass to wagons so our master wrote letters by candle and sent them
    """
    script = text.split()
    places = [AlignedWord(((w,),), spoken=(w,)) for w in script]
    heard = [*script[:3], "somewhere", "beneath", script[5], *script[35:]]
    words = [HeardWord(w, k / 2, k / 2 + 0.4, 1.0) for k, w in enumerate(heard)]
    region, _ = region_around(places, [], words, 0)
    assert region == range(len(script))


def test_the_words_before_a_jump_are_searched_with_those_behind_it_if_they_are_not_far_apart() -> None:
    """The last words of a segment may be heard again with the next one. Words 100 apart are not far."""
    from offbook.align import AlignedWord
    from offbook.hear.script_view import region_around

    def word(i: int) -> str:
        return (
            "bdfgklmnpr"[i // 26 % 10] + "aeiou"[i // 260 % 5] + "abcdefghijklmnopqrstuvwxyz"[i % 26] + "en"
        )

    def region(first: int, last: int) -> range:
        said = [HeardWord(word(i), k / 2, k / 2 + 0.4, 1.0) for k, i in enumerate(range(first, first + 6))]
        return region_around(places, [], said, last)[0]

    places = [AlignedWord(((word(i),),)) for i in range(400)]
    assert region(150, 50) == range(50 - 14, 156 + 14)
    assert region(151, 50) == range(151 - 14, 157 + 14)
    assert region(50, 155) == range(50 - 14, 156 + 14)
    assert region(50, 156) == range(50 - 14, 56 + 14)
    assert region(394, 400) == range(394 - 14, 400), "the script is over"


def test_a_jump_is_found_if_one_in_three_of_the_words_behind_it_are_heard() -> None:
    """Of eleven words behind the jump four are the script's; of twelve, three are too few."""
    from offbook.align import AlignedWord
    from offbook.hear.script_view import region_around

    script = [
        f"{a}{b}{c}" for a in ("bah", "dee", "foo") for b in ("gah", "lee", "moo") for c in ("n", "t", "k")
    ]
    script += [w + "s" for w in script]
    places = [AlignedWord(((w,),), spoken=(w,)) for w in script]

    def region(behind: list[str]) -> range:
        said = [*script[:6], *behind]
        words = [HeardWord(w, k / 2, k / 2 + 0.4, 1.0) for k, w in enumerate(said)]
        return region_around(places, [], words, 0)[0]

    strange = [f"zz{k}" for k in range(12)]
    assert region([*strange[:2], *script[44:48], *strange[2:7]]) == range(len(script))
    assert region([*strange[:2], *script[44:47], *strange[2:9]]) == range(6 + 14)


def segment_of(sound: bytes) -> Segment:
    """The one segment of a short sound that comes in pieces."""
    segmenter = Segmenter(Told(Speaker()))
    for k in range(0, len(sound), STEP):
        assert not list(segmenter.feed(sound[k : k + STEP]))
    [only] = segmenter.finish()
    return only


VOICE = b"\x00\x10\x00\xf0" * (BYTES_PER_SECOND // 2)  # 2 s, loud
HUSH = bytes(BYTES_PER_SECOND)  # 1 s of silence


def test_a_tightly_cut_recording_gets_silence_at_both_ends_and_keeps_its_times() -> None:
    cut_close = segment_of(VOICE)
    before = cut_close.pcm.index(VOICE)
    assert before >= BYTES_PER_SECOND // 2
    assert not any(cut_close.pcm[:before])
    assert cut_close.at == -before / BYTES_PER_SECOND
    assert not any(cut_close.pcm[before + len(VOICE) :])
    assert len(cut_close.pcm) > before + len(VOICE)


def test_a_recording_that_begins_and_ends_with_silence_is_not_changed() -> None:
    for sound in (HUSH + VOICE + HUSH[: 3 * STEP], HUSH + HUSH, HUSH[:100]):
        whole = segment_of(sound)
        assert (whole.pcm, whole.at) == (sound, 0.0)


@pytest.mark.heavy
def test_the_segments_do_not_depend_on_the_size_of_the_chunks() -> None:
    """The sound is loud only later: measured by all of it, the opening would count as silence."""
    sound = bytes(b // 8 if b < 128 else 255 for b in VOICE) + VOICE * 3
    whole, pieces = Segmenter(Told(Speaker())), Segmenter(Told(Speaker()))
    assert not list(whole.feed(sound))
    for k in range(0, len(sound), 1000):
        assert not list(pieces.feed(sound[k : k + 1000]))
    assert next(whole.finish()).at == next(pieces.finish()).at
