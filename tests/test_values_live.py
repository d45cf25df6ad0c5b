"""A piece run with the partner and heard live, by an ear that knows what was said."""

from __future__ import annotations

import time
import wave
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from click.testing import CliRunner

from offbook.cli import group
from offbook.desk import Heard, NoVoice, Rehearsed, Wishes, rehearse
from offbook.desk.rehearsals import broken_off
from offbook.errors import RecordingError
from offbook.journal import open_journal, pieces_of
from offbook.page.capture import PIECE_SECONDS
from offbook.page.live import UNHEARD_SECONDS, Live
from offbook.partner import Hold, Manners, Over, Patience, Say
from offbook.sampling import SAMPLE_BYTES
from offbook.script import Script, parse_script
from offbook.words import words_of
from tests.journals import Clock
from tests.live_ears import PIECE, QUIET, RATE, AsItIs, Loaded, Speaking
from tests.live_ears import pieces_of as in_pieces
from tests.pages import HeldBack
from tests.test_rehearsals import Quiet, Seen

SCENE = """OSK: Who kept the lamp?

IVE: Nobody asked me to.

OSK: And who carried the oil?

IVE: I carried it up, and the stairs were long.

OSK: It was long ago.
"""
FIRST = "nobody asked me to"
CARRIED = "i carried it up"
STAIRS = "and the stairs were long"
LOST = 36  # tenths of a second in which the performer has dried


class Performer:
    """A microphone in front of somebody who waits for each cue and then says their speech."""

    def __init__(self, voice: Quiet, *speeches: list[bytes]) -> None:
        self.voice, self.speeches, self.closed, self.ran_out = voice, speeches, False, False

    def pieces(self) -> Iterator[tuple[bytes, int]]:
        for cue, spoken in enumerate(self.speeches):
            for _ in range(200):
                if any(line == cue for _, line in self.voice.said) and self.voice.left <= 0:
                    break
                yield QUIET, RATE
            yield from ((piece, RATE) for piece in spoken)
        yield from [(QUIET, RATE)] * 60
        self.ran_out = True

    def close(self) -> None:
        self.closed = True


@pytest.fixture
def speaker(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, own_home: Path) -> Speaking:
    """A journal with the scene in it (the performer plays IVE), and the sound of somebody who speaks it."""
    monkeypatch.setattr("offbook.audio.Arriving", AsItIs)
    script = tmp_path / "lamp.txt"
    script.write_text(SCENE)
    done = CliRunner().invoke(group, ["piece", "add", str(script), "--part", "IVE"])
    assert done.exit_code == 0, done.output
    return Speaking()


def said(speaker: Speaking, text: str) -> list[bytes]:
    return in_pieces(speaker.say(text))


def run(
    speaker: Speaking, seen: Seen, voice: Quiet, *speeches: list[bytes], **wishes: Any
) -> tuple[Rehearsed, Performer]:
    loading: Any = Loaded(speaker)
    microphone = Performer(voice, *speeches)
    wanted = Wishes(**({"silence": 2.5} | wishes))
    return rehearse("lamp", None, lambda: microphone, voice, loading, wanted, seen.front), microphone


@pytest.mark.heavy
def test_the_partner_runs_a_scene_prompts_at_a_dry_and_the_run_through_is_kept(
    speaker: Speaking, own_home: Path
) -> None:
    seen, voice = Seen(), Quiet()
    dried = [*said(speaker, CARRIED), *[QUIET] * LOST, *said(speaker, STAIRS)]
    done, microphone = run(speaker, seen, voice, said(speaker, FIRST), dried)
    assert voice.said == [
        ("Who kept the lamp?", 0),
        ("And who carried the oil?", 1),
        ("and", None),
        ("It was long ago.", 2),
    ]
    assert isinstance(seen.acts[-1], Over) and done.over and microphone.closed and not microphone.ran_out
    assert [(n.kind, n.script) for n in done.heard.review.notes] == [("prompted", "and")]
    assert [(p.line, round(p.seconds, 1)) for p in done.pick_ups] == [(0, 0.0), (1, 0.0)]
    row = done.saved.run
    assert (row.words, row.said, row.prompts, row.model) == (13, 13, 1, "told")
    assert (min(seen.places), max(seen.places)) == (0, 13)
    assert [line.text for line in done.lines][1] == "And who carried the oil?"
    (kept,) = own_home.rglob("*.wav")
    assert kept == done.heard.recording and done.saved.recording_kept
    with wave.open(str(kept)) as sound:
        assert (sound.getnchannels(), sound.getsampwidth(), sound.getframerate()) == (1, 2, RATE)
        assert sound.getnframes() == len(seen.places) * PIECE // 2


@pytest.mark.heavy
def test_a_recording_that_is_not_to_be_kept_is_deleted_after_it_is_judged(
    speaker: Speaking, own_home: Path
) -> None:
    done, _ = run(speaker, Seen(), Quiet(), said(speaker, FIRST), said(speaker, CARRIED), keep=False)
    assert not done.saved.recording_kept and list(own_home.rglob("*.wav")) == []


def test_with_spoken_prompts_switched_off_prompts_are_only_shown(speaker: Speaking) -> None:
    seen, voice = Seen(), Quiet()
    dried = [*said(speaker, CARRIED), *[QUIET] * LOST, *said(speaker, STAIRS)]
    run(speaker, seen, voice, said(speaker, FIRST), dried, aloud=False)
    assert [text for text, line in voice.said if line is None] == []
    assert [a.text for a in seen.acts if isinstance(a, Say) and a.prompt is not None] == ["and"]


@pytest.mark.heavy
def test_without_a_chosen_silence_the_performer_is_not_prompted(speaker: Speaking) -> None:
    seen, voice = Seen(), Quiet()
    dried = [*said(speaker, CARRIED), *[QUIET] * LOST, *said(speaker, STAIRS)]
    done, _ = run(speaker, seen, voice, said(speaker, FIRST), dried, silence=None)
    assert done.saved.run.prompts == 0
    assert [line for _, line in voice.said] == [0, 1, 2]


@pytest.mark.heavy
def test_a_performer_who_asks_is_given_the_next_word_once(speaker: Speaking) -> None:
    seen, voice = Seen(), Quiet()
    dried = [*said(speaker, CARRIED), *[QUIET] * LOST, *said(speaker, STAIRS)]
    microphone: Any = Performer(voice, said(speaker, FIRST), dried)
    front = replace(seen.front, asked=lambda: len(seen.places) == 65)  # after "up"
    loading: Any = Loaded(speaker)
    made: list[Any] = []

    def voiced(lines: Any, models: Any) -> Quiet:
        made.append(([line.text for line in lines], models))
        return voice

    done = rehearse("lamp", None, lambda: microphone, voiced, loading, Wishes(silence=None), front)
    assert [text for text, line in voice.said if line is None] == ["and"]
    (prompt,) = done.prompts
    assert (prompt.asked, done.saved.run.prompts) == (True, 1)
    asides = [a for a in done.heard.review.asides if a.kind == "prompt"]
    assert [(a.asked, a.words) for a in asides] == [(True, (8, 8))]
    lines = ["Who kept the lamp?", "And who carried the oil?", "It was long ago."]
    assert made == [(lines, loading)]


@pytest.mark.heavy
def test_the_partner_waits_through_a_marked_pause(speaker: Speaking, tmp_path: Path) -> None:
    marks = "I carried it up || and the stairs were long\n"
    (tmp_path / "lamp.txt.pencil").write_text(marks)
    seen, voice = Seen(), Quiet()
    dried = [*said(speaker, CARRIED), *[QUIET] * LOST, *said(speaker, STAIRS)]
    done, _ = run(speaker, seen, voice, said(speaker, FIRST), dried)
    assert [a for a in seen.acts if isinstance(a, Hold)] == [Hold(8)]
    assert done.saved.run.prompts == 0


def test_a_performer_who_stops_half_way_gets_notes_on_what_was_said(speaker: Speaking) -> None:
    done, microphone = run(speaker, Seen(stop_at=30), Quiet(), said(speaker, FIRST))
    verdicts = [w.verdict for w in done.heard.review.run.words]
    assert not done.over and microphone.closed and not microphone.ran_out
    assert verdicts[:4] == ["said"] * 4 and verdicts[4:] == ["dropped"] * 9


class Broken(Performer):
    """A microphone that is pulled out after so many tenths of a second."""

    def pieces(self) -> Iterator[tuple[bytes, int]]:
        yield from ((piece, RATE) for piece in self.speeches[0])
        raise RecordingError("the microphone is gone", "plug it in")


@pytest.mark.parametrize("tenths", [0, 20])
def test_sound_recorded_before_a_microphone_fails_is_kept_and_its_place_is_named(
    speaker: Speaking, tenths: int, own_home: Path
) -> None:
    loading: Any = Loaded(speaker)
    microphone = Broken(Quiet(), [QUIET] * tenths)
    with pytest.raises(RecordingError) as caught:
        rehearse("lamp", None, lambda: microphone, Quiet(), loading, Wishes(), Seen().front)
    journal = open_journal(Clock(), home=own_home)
    with journal.reading() as conn:
        (piece,) = pieces_of(conn)
    left = broken_off(journal, piece)
    assert caught.value.what == "the microphone is gone" and microphone.closed
    if tenths:
        assert caught.value.do == f"plug it in; what was recorded is at {left[0]}"
        with wave.open(str(left[0])) as kept:
            assert (kept.getnframes(), kept.getframerate()) == (2 * RATE, RATE)
    else:
        assert caught.value.do == "plug it in" and left == []
    journal.close()


def test_a_microphone_that_gives_no_sound_is_reported_in_two_lines(speaker: Speaking) -> None:
    loading: Any = Loaded(speaker)

    class Dead(Performer):
        def pieces(self) -> Iterator[tuple[bytes, int]]:
            yield from ()

    with pytest.raises(RecordingError, match="no sound came"):
        rehearse("lamp", None, lambda: Dead(Quiet()), Quiet(), loading, Wishes(), Seen().front)


# The command ------------------------------------------------------------------------------------------


@pytest.fixture
def command(speaker: Speaking, monkeypatch: pytest.MonkeyPatch) -> Quiet:
    """The voice of `offbook partner`, in front of somebody who says it all and dries once."""
    voice = Quiet()
    dried = [*said(speaker, CARRIED), *[QUIET] * LOST, *said(speaker, STAIRS)]
    monkeypatch.setattr("offbook.cli.partner.Loading", lambda model: Loaded(speaker))
    monkeypatch.setattr("offbook.cli.partner.speaking_command", lambda given: given)
    monkeypatch.setattr("offbook.cli.partner.ProgramVoice", lambda given: voice)
    monkeypatch.setattr(
        "offbook.cli.partner.microphone_for", lambda given: Performer(voice, said(speaker, FIRST), dried)
    )
    return voice


def partner(*args: str) -> str:
    done = CliRunner().invoke(group, ["partner", "lamp", *args], input="")
    assert done.exit_code == 0, (done.output, done.exception)
    return done.output


@pytest.mark.heavy
def test_the_partner_command_shows_the_lines_and_prompts_and_ends_with_the_notes(command: Quiet) -> None:
    shown = partner("--say-cues", "speak TEXT", "--silence", "2.5")
    begun, _, notes = shown.partition("\nThat was the end.\n")
    assert begun.split("\n") == [
        "Say “line” or press Enter for your next word; q and Enter to stop.",
        "With headphones the partner's voice stays out of the recording.",
        "",
        "OSK: Who kept the lamp?",
        "OSK: And who carried the oil?",
        "   … and",
        "OSK: It was long ago.",
        "",
    ]
    assert ("and", None) in command.said
    assert "13 of 13 as written" in notes or "all 13 words" in notes
    assert "In the journal with its recording" in " ".join(notes.split())


@pytest.mark.heavy
def test_with_the_option_show_prompts_prompts_are_shown_and_not_spoken(command: Quiet) -> None:
    shown = partner("--say-cues", "speak TEXT", "--silence", "2.5", "--show-prompts", "--no-keep")
    assert "   … and\n" in shown and ("and", None) not in command.said
    assert "In the journal without the recording" in " ".join(shown.split())


@pytest.mark.heavy
def test_a_silence_of_0_seconds_switches_prompts_off(command: Quiet) -> None:
    assert "   … " not in partner("--say-cues", "speak TEXT", "--silence", "0")


@pytest.mark.heavy
def test_without_a_speaking_program_the_lines_are_shown_and_the_command_says_so(
    command: Quiet, monkeypatch: pytest.MonkeyPatch
) -> None:
    class AtOnce(NoVoice):
        def begin(self, text: str, line: int | None) -> None:
            command.said.append((text, line))

        def over(self) -> bool:
            return True

    monkeypatch.setattr("offbook.cli.partner.NoVoice", AtOnce)
    done = CliRunner().invoke(group, ["partner", "lamp", "--silence", "2.5"], input="")
    assert "No speaking program was found, so lines are shown." in " ".join(done.stderr.split())
    assert "With headphones" not in done.stdout and "OSK: Who kept the lamp?\n" in done.stdout
    assert ("and", None) not in command.said and "   … and\n" in done.stdout
    silent = CliRunner().invoke(group, ["partner", "lamp", "--no-voice"], input="")
    assert "No speaking program" not in silent.stderr


# On the page ------------------------------------------------------------------------------------------

ALONE = parse_script("Nobody asked me to.\nI carried it up, and the stairs were long.\n")


class Spoken:
    """A `Live` hearing of a script and the sound it is given, a tenth of a second at a time."""

    def __init__(self, script: Script, speaker: Speaking, **named: Any) -> None:
        version: Any = SimpleNamespace(script=script, words=words_of(script))
        loading: Any = Loaded(speaker)
        self.live = Live(version, loading, **named)

    def hear(self, pieces: list[bytes]) -> None:
        """Give it the sound as the page does, a quarter of a second at a time, and wait till it was heard."""
        sound, size = b"".join(pieces), round(PIECE_SECONDS * RATE) * SAMPLE_BYTES
        for at in range(0, len(sound), size):
            self.live.feed(RATE, sound[at : at + size].ljust(size, b"\0"))
        for _ in range(2000):
            if self.live.seconds >= self.live.fed - 1e-6:
                return
            time.sleep(0.005)
        raise AssertionError("the sound was not heard within ten seconds")

    def judged(self) -> Heard:
        """What was heard, all in all."""
        self.live.end()
        return self.live.judge(Path("kept.wav")).result(timeout=20)


@pytest.fixture
def as_it_is(monkeypatch: pytest.MonkeyPatch) -> Speaking:
    """A speaker whose sound is not changed when it comes in."""
    monkeypatch.setattr("offbook.audio.Arriving", AsItIs)
    monkeypatch.setattr("offbook.desk.listening._written_at", lambda path: datetime(2026, 3, 2, tzinfo=UTC))
    return Speaking()


def test_a_speech_is_followed_while_it_is_spoken_and_ends_shortly_after_its_last_word(
    as_it_is: Speaking,
) -> None:
    spoken = Spoken(ALONE, as_it_is)
    live = spoken.live
    assert (live.place, live.fed, live.behind, live.share, live.unheard) == (0, 0.0, 0.0, 0.0, False)
    spoken.hear([QUIET] * 5 + said(as_it_is, FIRST) + [QUIET] * 9)
    assert live.ready and live.place == 4 and not live.done.is_set()
    assert live.fed == live.seconds == pytest.approx(3.0)
    assert not live.with_partner and not live.unheard
    spoken.hear([*said(as_it_is, f"{CARRIED} {STAIRS}"), QUIET])  # a quarter of a second of quiet
    assert live.place == 13 and not live.done.is_set()
    spoken.hear([QUIET])
    assert live.done.is_set()
    assert live.behind == pytest.approx(0.0, abs=1e-6)
    heard = spoken.judged()
    assert [w.verdict for w in heard.review.run.words] == ["said"] * 13
    assert (live.acts, live.prompts, live.partner_spoke) == ([], (), False)
    assert heard.recording == Path("kept.wav")


@pytest.mark.heavy
def test_a_performer_who_is_not_heard_for_a_while_is_told_so_and_nothing_is_judged(
    as_it_is: Speaking,
) -> None:
    spoken = Spoken(ALONE, as_it_is)
    tenths = round(10 * UNHEARD_SECONDS)
    spoken.hear([QUIET] * (tenths - 3))
    assert not spoken.live.unheard
    spoken.hear([QUIET])
    assert spoken.live.unheard
    with pytest.raises(RecordingError, match="nothing of the speech was heard"):
        spoken.judged()


def test_a_recording_that_was_thrown_away_cannot_be_judged(as_it_is: Speaking) -> None:
    spoken = Spoken(ALONE, as_it_is)
    spoken.hear([QUIET] * 5)
    spoken.live.drop()
    with pytest.raises(RecordingError, match="this was thrown away"):
        spoken.live.judge(Path("kept.wav")).result(timeout=20)


def test_sound_not_yet_sent_or_not_yet_heard_counts_as_the_delay(as_it_is: Speaking) -> None:
    live = Live(SimpleNamespace(script=ALONE, words=words_of(ALONE)), HeldBack())  # type: ignore[arg-type]
    live.feed(RATE, QUIET * 3)
    live.feed(2 * RATE, QUIET)
    live.unsent = 0.5
    assert live.fed == pytest.approx(0.35) and live.seconds == 0.0
    assert live.behind == pytest.approx(0.85)
    assert not live.ready and live.share == 0.0
    live.drop()


@pytest.mark.heavy
def test_the_partner_gives_the_cue_and_the_lost_word_and_both_are_recorded(
    as_it_is: Speaking,
) -> None:
    script = parse_script(SCENE, part="IVE")
    kept: list[tuple[int, int]] = []
    spoken = Spoken(
        script,
        as_it_is,
        manners=Manners(Patience(silence=2.5), aloud=True),
        keep=lambda prompts, played: kept.append((len(prompts), len(played))),
    )
    live = spoken.live

    def read_out(text: str) -> None:
        """The page says what it was last asked to say, and it is over at once."""
        act = live.acts[-1]
        assert isinstance(act, Say) and act.text == text
        live.tell(lambda partner: partner.rehearsal.playing(act.id, live.seconds))
        live.tell(lambda partner: partner.rehearsal.said(act.id, live.seconds))

    spoken.hear([QUIET] * 2)
    assert live.with_partner
    read_out("Who kept the lamp?")
    spoken.hear([QUIET] + said(as_it_is, FIRST) + [QUIET] * 12)
    read_out("And who carried the oil?")
    spoken.hear([QUIET] + said(as_it_is, CARRIED) + [QUIET] * LOST)
    read_out("and")
    spoken.hear([QUIET] + said(as_it_is, STAIRS) + [QUIET] * 12)
    read_out("It was long ago.")
    spoken.hear([QUIET] * 5)
    assert isinstance(live.acts[-1], Over) and live.done.is_set()
    heard = spoken.judged()
    assert [(n.kind, n.script) for n in heard.review.notes] == [("prompted", "and")]
    assert [p.heard for p in live.prompts] == ["and"] and live.partner_spoke
    assert kept[-1] == (1, 4) and len(heard.pick_ups) == 2
