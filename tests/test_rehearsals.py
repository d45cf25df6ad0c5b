"""A piece run with the partner, from the first cue to the journal, with a real reading and a silent voice."""

from __future__ import annotations

import os
import wave
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from offbook.audio import pcm
from offbook.cli import group
from offbook.desk import (
    Front,
    Loading,
    NoVoice,
    RecordedVoice,
    Rehearsed,
    Wishes,
    cut_lines,
    pauses_in,
    rehearse,
    spans_of,
)
from offbook.errors import OffbookError, RecordingError
from offbook.models import model_folder
from offbook.partner import Act, Hold, Over, PartnerLine
from offbook.score import Run, WordVerdict
from tests.recordings import two_cities

SCENE = """OSK: Who remembers that year?

IVE: It was the best of times, it was the worst of times,
it was the age of wisdom, it was the age of foolishness.

OSK: And what did people believe?

IVE: It was the epoch of belief, it was the epoch of incredulity,
it was the season of Light, it was the season of Darkness.

OSK: It was long ago.
"""
RATE = 16_000
PIECE = RATE // 10 * 2  # bytes of a tenth of a second
# Where the reading may be cut (s): before its first word, after "foolishness", "incredulity" and "darkness".
BEGIN, FOOLISHNESS, INCREDULITY, DARKNESS = 0.95, 8.5, 13.1, 17.2
LOST = 3.6  # s in which the performer has dried


class Quiet:
    """A voice that needs half a second for each line and makes no sound."""

    def __init__(self) -> None:
        self.said: list[tuple[str, int | None]] = []
        self.left = 0

    def begin(self, text: str, line: int | None) -> None:
        self.said.append((text, line))
        self.left = 5

    def over(self) -> bool:
        self.left -= 1
        return self.left <= 0

    def stop(self) -> None:
        self.left = 0


@dataclass
class Performer:
    """A microphone in front of somebody who waits for each cue, and dries in their second speech."""

    voice: Quiet
    path: Path
    closed: bool = False

    def pieces(self) -> Iterator[tuple[bytes, int]]:
        sound = b"".join(pcm(two_cities()[0]))
        room = (8 * np.random.default_rng(3).standard_normal(PIECE // 2)).astype("<i2").tobytes()

        def said(a: float, b: float) -> list[bytes]:
            return [sound[at : at + PIECE] for at in range(int(a * 10) * PIECE, int(b * 10) * PIECE, PIECE)]

        for cue, spoken in (
            (0, said(BEGIN, FOOLISHNESS)),
            (1, [*said(FOOLISHNESS, INCREDULITY), *[room] * int(LOST * 10), *said(INCREDULITY, DARKNESS)]),
        ):
            while not any(line == cue for _, line in self.voice.said) or self.voice.left > 0:
                yield room, RATE
            for piece in [room, room, *spoken]:
                yield piece, RATE
        while True:
            yield room, RATE

    def close(self) -> None:
        self.closed = True


@dataclass
class Seen:
    """What the performer was told, and what they press."""

    acts: list[Act] = field(default_factory=list)
    places: list[int] = field(default_factory=list)
    stop_at: int = 10_000

    @property
    def front(self) -> Front:
        return Front(
            lambda: None,
            self.acts.append,
            self.places.append,
            lambda: False,
            lambda: len(self.places) >= self.stop_at,
        )


@pytest.fixture
def piece(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A journal with the scene in it; IVE is the performer's part."""
    monkeypatch.setenv("OFFBOOK_MODEL", str(model_folder()))
    monkeypatch.setenv("OFFBOOK_HOME", str(tmp_path / "home"))
    script = tmp_path / "times.txt"
    script.write_text(SCENE)
    done = CliRunner().invoke(group, ["piece", "add", str(script), "--part", "IVE"])
    assert done.exit_code == 0, done.output
    return script


def run(seen: Seen, voice: Quiet, sound: object = None, **wishes: object) -> Rehearsed:
    def microphone() -> Performer:
        return sound if sound is not None else Performer(voice, Path())  # type: ignore[return-value]

    wanted = Wishes(**({"silence": 2.5} | wishes))  # type: ignore[arg-type]
    return rehearse("times", None, microphone, voice, Loading(None), wanted, seen.front)


@pytest.mark.model
def test_the_partner_runs_a_scene_prompts_at_a_dry_and_keeps_it_in_the_journal(piece: Path) -> None:
    seen, voice = Seen(), Quiet()
    done = run(seen, voice)
    assert voice.said == [
        ("Who remembers that year?", 0),
        ("And what did people believe?", 1),
        ("it", None),
        ("It was long ago.", 2),
    ]
    assert isinstance(seen.acts[-1], Over) and done.over
    assert [(n.kind, n.script) for n in done.heard.review.notes] == [("prompted", "it")]
    assert "after a silence you were given" in done.heard.review.notes[0].detail
    assert done.heard.review.run.accuracy == 1.0
    assert [p.line for p in done.pick_ups] == [0, 1]
    assert all(0.0 <= p.seconds <= 0.8 for p in done.pick_ups)
    row = done.saved.run
    assert (row.words, row.said, row.prompts) == (48, 48, 1)
    assert max(seen.places) == 48
    listed = CliRunner().invoke(group, ["progress", "times", "--runs"])
    assert row.id[:8] in listed.output


@pytest.mark.model
def test_the_partner_waits_through_a_pause_marked_in_the_pencil_file_beside_the_script(piece: Path) -> None:
    piece.with_name("times.txt.pencil").write_text("the epoch of incredulity || it was the season of Light\n")
    seen, voice = Seen(), Quiet()
    done = run(seen, voice)
    assert ("it", None) not in voice.said
    assert [act for act in seen.acts if isinstance(act, Hold)] == [Hold(36)]
    assert done.saved.run.prompts == 0


@pytest.mark.model
def test_a_performer_who_stops_half_way_gets_notes_on_what_was_said(piece: Path) -> None:
    seen = Seen(stop_at=100)  # after ten seconds
    done = run(seen, Quiet())
    assert not done.over
    assert done.heard.review.run.words[5].verdict == "said"
    assert done.heard.review.run.words[47].verdict == "dropped"


class Broken:
    """A microphone that is pulled out after two seconds."""

    def pieces(self) -> Iterator[tuple[bytes, int]]:
        for _ in range(20):
            yield bytes(PIECE), RATE
        raise RecordingError("the microphone is gone", "plug it in")

    def close(self) -> None:
        pass


@pytest.mark.model
def test_sound_recorded_before_a_microphone_fails_is_on_disk_and_its_place_is_named(piece: Path) -> None:
    with pytest.raises(RecordingError) as caught:
        run(Seen(), Quiet(), Broken())
    assert caught.value.what == "the microphone is gone"
    path = Path(caught.value.do.split("what was recorded is at ")[1])
    with wave.open(str(path)) as kept:
        assert (kept.getnframes(), kept.getframerate()) == (2 * RATE, RATE)


def pauses(*silences: float) -> Run:
    """A run of words of 0.3 s with these silences between them."""
    at, words = 0.0, []
    for i, silence in enumerate((*silences, 0.0)):
        words.append(WordVerdict(i, "word", "said", "word", at, at + 0.3, 1.0))
        at += 0.3 + silence
    return Run(tuple(words), (), at, 0.3 * len(words))


def test_a_pause_made_in_every_run_through_is_found_with_its_longest_length() -> None:
    runs = [pauses(0.2, 1.4, 3.0), pauses(1.6, 2.2, 0.2), pauses(0.1, 1.1, 7.0)]
    assert pauses_in(runs) == {2: pytest.approx(2.2)}
    assert pauses_in(runs[:2]) == {}


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="a system without pipes in folders")
@pytest.mark.model
def test_the_partner_command_uses_the_sound_of_a_recording_program(piece: Path, tmp_path: Path) -> None:
    """The program gives all its sound at once, so nobody waits for the cues; the words count."""
    sound = tmp_path / "both.wav"
    with wave.open(str(sound), "wb") as out:
        out.setparams((1, 2, RATE, 0, "NONE", ""))
        out.writeframes(b"".join(pcm(two_cities()[0]))[: int(DARKNESS * RATE) * 2])
    args = ["partner", "times", "--no-voice", "--record-with", f"cp {sound} FILE"]
    done = CliRunner().invoke(group, args, input="")
    assert done.exit_code == 0, done.output
    assert "OSK: Who remembers that year?" in done.output
    assert "In the journal" in done.output


@pytest.mark.heavy
def test_a_recording_program_that_does_not_exist_is_reported_in_two_lines(piece: Path) -> None:
    with pytest.raises(OffbookError) as caught:
        CliRunner().invoke(
            group, ["partner", "times", "--record-with", "no-such-program FILE"], catch_exceptions=False
        )
    assert caught.value.what.startswith("cannot start no-such-program")


@pytest.mark.model
def test_a_speaking_program_without_a_place_for_the_words_is_refused(piece: Path) -> None:
    with pytest.raises(OffbookError) as caught:
        CliRunner().invoke(group, ["partner", "times", "--say-cues", "espeak-ng"], catch_exceptions=False)
    assert "no TEXT in it" in caught.value.what


def said(*times: tuple[float, float] | None) -> list[WordVerdict]:
    return [
        WordVerdict(i, "word", "said", "word", *t, 1.0)
        if t is not None
        else WordVerdict(i, "word", "dropped", None, None, None, None)
        for i, t in enumerate(times)
    ]


def test_a_recorded_line_is_cut_with_a_small_margin_and_never_into_the_next_line() -> None:
    lines = [said((1.0, 1.4), (1.4, 2.0)), said((2.1, 2.5)), said(None, None, (5.0, 5.2)), said((6.0, 6.4))]
    found = spans_of(lines)
    assert set(found) == {0, 1, 3}  # of the third hardly a word was heard
    assert found[0] == pytest.approx((0.85, 2.025))
    assert found[1] == pytest.approx((2.0, 2.8))
    assert found[3] == pytest.approx((5.85, 6.7))


@pytest.mark.model
def test_a_recording_of_the_other_parts_is_cut_into_lines_and_played(tmp_path: Path) -> None:
    path, text = two_cities()
    first, second = text.splitlines()[:2], text.splitlines()[2:4]
    lines = [PartnerLine(0, " ".join(first), "OSK"), PartnerLine(1, " ".join(second), "OSK")]
    whole = tmp_path / "friend.wav"
    with wave.open(str(whole), "wb") as out:
        out.setparams((1, 2, RATE, 0, "NONE", ""))
        out.writeframes(b"".join(pcm(path))[: int(DARKNESS * RATE) * 2])
    files = cut_lines(whole, lines, Loading(None), tmp_path)
    with wave.open(str(files[0])) as one, wave.open(str(files[1])) as two:
        seconds = [each.getnframes() / RATE for each in (one, two)]
    # "It" begins at 1.17 s and "foolishness" ends at 8.25; "it" at 8.81 and "darkness" at 16.73
    assert seconds == [pytest.approx(7.5, abs=0.3), pytest.approx(8.35, abs=0.3)]
    voice = RecordedVoice(files, f"cp FILE {tmp_path / 'played.wav'}", NoVoice(lambda: 0.0))
    voice.begin(lines[1].text, 1)
    while not voice.over():
        pass
    assert (tmp_path / "played.wav").read_bytes() == files[1].read_bytes()
