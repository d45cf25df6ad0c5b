"""Spoken drills: the recording program, and what is done with what was heard."""

from __future__ import annotations

import shlex
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from offbook.cli import drill, group
from offbook.cli.drill_cue import voice_for
from offbook.desk import AnswerListener, SpokenAnswer, said_from, spoken_answers
from offbook.drill import judge
from offbook.errors import OffbookError, RecordingError
from offbook.recognise import Alternative, HeardWord
from offbook.recognise.vosk_recogniser import Decoder
from offbook.records import Version
from offbook.sampling import BYTES_PER_SECOND
from offbook.score import Extra, Run
from tests.journals import LAMP, run_with, script_of
from tests.sounds import voice, write


def test_a_spoken_answer_is_judged_word_by_word() -> None:
    _, words, _ = script_of(LAMP)
    run = run_with(words[:9], {3: ("dropped", None), 7: ("changed", "ride"), 8: ("unsure", "in")}, 5.0)
    run = Run(run.words, (Extra(0, "right", 0.0, 0.1, 0.9), Extra(5, "very", 2.7, 2.8, 0.9)), 5.0, 4.0)
    said = said_from(run, words[:9], 0, 6.5)
    assert said.judged is not None
    assert [p.kind for p in said.judged.places] == [
        "right", "right", "right", "lost", "right", "added", "right", "right", "changed", "right",
    ]  # fmt: skip
    assert (said.judged.right, said.judged.words, said.judged.added) == (7, 9, 1)
    assert said.text == "right the lamp was before very the tide ride in"
    assert (said.pick_up, said.seconds) == (0.0, 6.5)


def test_words_further_on_in_the_script_keep_their_numbers() -> None:
    _, words, units = script_of(LAMP)
    part = words[units[2].first : units[2].last + 1]
    run = run_with(
        tuple(type(w)(k, w.text, w.start, w.end, w.line, w.sentence, w.spoken) for k, w in enumerate(part))
    )
    said = said_from(run, part, units[2].first, 4.0)
    assert said.judged is not None
    assert said.judged.within(units[2].first, units[2].last) == (9, 9)


def test_a_silent_answer_counts_as_not_known() -> None:
    _, words, _ = script_of(LAMP)
    run = Run(run_with(words[:3], dict.fromkeys(range(3), ("dropped", None))).words, (), 0.0, 0.0)
    assert said_from(run, words[:3], 0, 2.0) == SpokenAnswer(None, None, None, 2.0)


def _timed(text: str, after: float = 0.0) -> tuple[HeardWord, ...]:
    times = ((after + 0.3 * k, w) for k, w in enumerate(text.split()))
    return tuple(HeardWord(w, at, at + 0.25, 0.95) for at, w in times)


@dataclass
class _Divided:
    """Hears `said`; with the script to lean on it hears `script`; weighed closely, it finds for `said`."""

    said: str
    script: str
    name: str = "divided"

    def knows(self, word: str) -> bool:
        return word.isalpha()

    def open(self) -> Decoder:
        return self

    def feed(self, pcm: bytes) -> bool:
        return False

    def cut(self) -> tuple[HeardWord, ...]:
        return ()

    def finish(self) -> tuple[HeardWord, ...]:
        return _timed(self.said)

    def decode_among(self, pcm: bytes, phrases: Sequence[str]) -> tuple[HeardWord, ...]:
        silence = (len(pcm) - len(pcm.lstrip(b"\0"))) / BYTES_PER_SECOND
        return _timed(self.script if phrases[0] == phrases[1] else self.said, silence)

    def weigh(self, pcm: bytes, phrases: Sequence[str], most: int = 8) -> tuple[Alternative, ...]:
        return (Alternative(_timed(self.said), 9.0), Alternative(_timed(self.script), 0.0))


@pytest.mark.heavy
@pytest.mark.parametrize(("noise", "kind"), [(0.0, "changed"), (0.08, "right")])
def test_in_a_noisy_room_a_slip_that_one_hearing_contradicts_is_not_counted(
    tmp_path: Path, noise: float, kind: str
) -> None:
    """The hearing is the same as for run-throughs: a word that is unsure counts as said."""
    script, words, _ = script_of("The lamp was lit before the tide came in.\n")
    sound = voice(4.0, 16_000, -6.0)
    sound += noise * np.random.default_rng(1).standard_normal(sound.shape)
    recogniser = _Divided(
        "the lamp is lit before the tide came in", "the lamp was lit before the tide came in"
    )
    ear = AnswerListener(lambda path: write(path, sound, 16_000).is_file(), recogniser)
    moment = datetime(2026, 3, 2, tzinfo=UTC)
    version = Version("1", "1", 1, moment, script, words, tuple(range(len(words))), ())
    said = ear.answer(version, 0, len(words) - 1)
    assert said is not None and said.judged is not None
    assert [p.kind for p in said.judged.places] == ["right", "right", kind, *["right"] * 6]


def test_a_recording_program_gets_the_file_name_and_a_signal_to_stop(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Not a shell script: a shell puts its trap off for as long as the program it waits for takes.
    program = tmp_path / "recorder.py"
    program.write_text(
        f"""
import signal, sys
def stop(*_):
    with open(sys.argv[1], "a") as file:
        file.write("whole\\n")
    sys.exit(0)
signal.signal(signal.SIGINT, stop)
with open(sys.argv[1], "w") as file:
    file.write("sound\\n")
open({str(tmp_path / "begun")!r}, "w").close()
while True:
    signal.pause()
"""
    )

    class Keys:
        def readline(self) -> str:
            while not (tmp_path / "begun").exists():
                time.sleep(0.01)
            return "\n"

    monkeypatch.setattr("sys.stdin", Keys())
    monkeypatch.setattr(spoken_answers, "_STOPPING", 60.0)  # a loaded machine may take its time
    record = spoken_answers._program(shlex.join([sys.executable, str(program), "FILE"]), drill._enter)
    assert record(tmp_path / "answer.wav") is True
    assert (tmp_path / "answer.wav").read_text() == "sound\nwhole\n"


def test_a_recording_program_that_cannot_be_started_is_named(tmp_path: Path) -> None:
    with pytest.raises(RecordingError, match="no FILE"):
        spoken_answers._program("arecord -q", drill._enter)
    with pytest.raises(RecordingError, match="cannot start nothing-of-the-sort"):
        spoken_answers._program("nothing-of-the-sort FILE", drill._enter)(tmp_path / "a.wav")


@pytest.mark.heavy
def test_a_spoken_drill_shows_the_voice_caution_and_counts_as_full_voice(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Ear:
        def answer(self, version: Version, first: int, last: int) -> SpokenAnswer | None:
            if first:
                return None
            text = " ".join(w.text for w in version.words[first : last + 1])
            return SpokenAnswer(text, judge(version.words[first : last + 1], text), 0.4, 90.0)

    monkeypatch.setenv("OFFBOOK_HOME", str(tmp_path / "home"))
    monkeypatch.setenv("OFFBOOK_NOW", "2026-03-02T18:00:00+00:00 5")
    monkeypatch.setattr("offbook.thoughts.shifts_of", lambda *a, **k: ())
    monkeypatch.setattr("offbook.desk.ear_for", lambda command, model, done: Ear())
    (tmp_path / "lamp.txt").write_text(LAMP, encoding="utf-8")
    CliRunner().invoke(group, ["piece", "add", str(tmp_path / "lamp.txt")])
    shown = CliRunner().invoke(group, ["drill", "lamp", "--spoken"], input="\n\n").output
    assert "qualified voice teacher" in shown.replace("\n", " ")
    assert "Right. Came in after 0.4 s." in shown
    today = CliRunner().invoke(group, ["today"]).output
    assert "2 of 45 minutes of full voice" in today


def test_with_the_option_say_cues_a_partners_line_is_spoken_and_not_shown(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The pick-up is counted from the end of the cue: the program is over before the answer is asked for."""
    monkeypatch.setenv("OFFBOOK_HOME", str(tmp_path / "home"))
    monkeypatch.setenv("OFFBOOK_NOW", "2026-03-02T18:00:00+00:00 5")
    monkeypatch.setattr("offbook.thoughts.shifts_of", lambda *a, **k: ())
    scene = tmp_path / "pier.fountain"
    scene.write_text("INT. PIER\n\nMARA\nWho goes there?\n\nPILOT\nOnly the pilot of the boat.\n")
    CliRunner().invoke(group, ["piece", "add", str(scene), "--part", "PILOT"])
    program = f"sh -c 'printf %s \"$0\" >> {tmp_path}/spoken' TEXT"
    shown = CliRunner().invoke(group, ["drill", "pier", "--say-cues", program], input="\n\nq\n").output
    assert "MARA: (listen)" in shown and "Who goes there" not in shown
    assert (tmp_path / "spoken").read_text().startswith("Who goes there?")
    plain = CliRunner().invoke(group, ["drill", "pier"], input="\nq\n").output
    assert "MARA: Who goes there?" in plain


@pytest.mark.parametrize(
    ("program", "what"),
    [
        ("espeak-ng", "no TEXT"),
        ("nothing-of-the-sort TEXT", "cannot start nothing-of-the-sort"),
        ("false TEXT", "false failed: exit status 1"),
        ("say 'TEXT", "cannot be read"),
    ],
)
def test_a_speaking_program_that_does_not_work_is_named(program: str, what: str) -> None:
    with pytest.raises(OffbookError, match=what):
        voice_for(program)("Who goes there?")
