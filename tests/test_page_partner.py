"""The partner on the page: what is counted and kept of prompts and cues, and the pauses they respect."""

from __future__ import annotations

import json
import wave
from dataclasses import replace
from typing import Any
from urllib.parse import urlencode

import numpy as np
import pytest

from offbook import journal as journals
from offbook.journal import RunFacts
from offbook.page import PageServer
from offbook.page.speaking import Speaking
from offbook.score import Run
from offbook.words import Word
from tests.browsing import SAID, sentence
from tests.journals import run_with
from tests.pages import FORM, Visitor, add_piece

pytestmark = pytest.mark.model
RATE = 16_000
PIECE = RATE // 2  # bytes of a quarter of a second
NEXT = "The gardener has left his boots."  # nobody says it: the partner has to give it
SCENE = f"WARDEN: What was he like?\nMARA: {SAID}\n{NEXT}\n"


def read() -> bytes:
    """The reader's sentence."""
    with wave.open(str(sentence())) as wav:
        assert wav.getframerate() == RATE
        return bytes(wav.readframes(wav.getnframes()))


class Speaker:
    """Somebody at the microphone, as fast as the server hears them."""

    def __init__(self, server: PageServer, visitor: Visitor, piece: str, silence: str) -> None:
        self.server, self.visitor = server, visitor
        begun = visitor.form(f"/piece/{piece}/speak", rate=str(RATE), partner="1", silence=silence)
        self.key, self.number, self.spell = json.loads(begun.text)["key"], 0, 0
        self._silence, self._gone = silence, 0  # acts of before an interruption
        self.acts: list[dict[str, Any]] = []
        self.told: dict[str, Any] = {}  # what the server said last

    def hear(self, sound: bytes) -> None:
        """Say it; what the partner does goes to `acts`, and cues and prompts are taken as read at once."""
        for at in range(0, len(sound) - PIECE + 1, PIECE):
            told = self._send(sound[at : at + PIECE])
            while told["behind"] > 0:  # as in real time: nothing comes before what was said is heard
                told = self._send(b"")
            self.told = told
            self.acts += told["acts"]
            for act in told["acts"]:
                if act["kind"] == "say" and act["aloud"]:
                    for what in ("playing", "said"):
                        self.tell(what=what, id=str(act["id"]), at=f"{self.number / 4:.2f}")

    def read_aloud(self, sound: bytes, *, to_the_end: bool) -> None:
        """The cue comes out of a loudspeaker, and `sound` is what the microphone has of it."""
        told = self._send(bytes(PIECE))
        while not told["acts"]:
            told = self._send(b"")
        [cue] = told["acts"]
        self.tell(what="playing", id=str(cue["id"]), at=f"{self.number / 4:.2f}")
        for at in range(0, len(sound) - PIECE + 1, PIECE):
            self._send(sound[at : at + PIECE])
        if to_the_end:
            self.tell(what="said", id=str(cue["id"]), at=f"{self.number / 4:.2f}")
            self._send(bytes(PIECE))
        while self._send(b"")["behind"] > 0:
            pass

    def go_on(self) -> dict[str, Any]:
        """Press the button again after an interruption."""
        form = {"rate": str(RATE), "partner": "1", "silence": self._silence}
        told: dict[str, Any] = json.loads(self.visitor.form(f"/capture/{self.key}/go-on", **form).text)
        self.spell, self.number = told["spell"], 0
        self._gone = len(self.acts) - told["acts"]
        return told

    def _send(self, sound: bytes) -> dict[str, Any]:
        number, acts = self.number if sound else self.number - 1, len(self.acts) - self._gone
        at = f"/capture/{self.key}/{self.spell}/{number}?acts={acts}"
        told: dict[str, Any] = json.loads(self.visitor.ask("POST", at, sound or bytes(PIECE)).text)
        self.number += bool(sound)
        return told

    def tell(self, **told: str) -> None:
        """Tell the partner something, as the page does."""
        self.visitor.ask("POST", f"/capture/{self.key}/partner", urlencode(told).encode(), Content_Type=FORM)

    def end(self) -> str:
        """Stop; the key of the run-through."""
        told = json.loads(
            self.visitor.ask("POST", f"/capture/{self.key}/end", Accept="application/json").text
        )
        job = self.server.room.turns.job(told["at"].rpartition("/")[2])
        assert job is not None and job.over.wait(300) and job.state == "done"
        return job.result


def test_the_page_warns_after_ten_seconds_in_which_it_hears_no_word(
    server: PageServer, visitor: Visitor
) -> None:
    speaker = Speaker(server, visitor, add_piece(visitor, SCENE, "Muted", part="MARA"), silence="")
    speaker.hear(bytes(2 * RATE * 9))
    assert not speaker.told["unheard"]
    speaker.hear(bytes(2 * RATE * 2))
    assert speaker.told["unheard"]
    speaker.hear(read())
    assert speaker.told["place"] > 0 and not speaker.told["unheard"]


def test_the_journal_and_the_notes_say_where_a_prompt_was_given(server: PageServer, visitor: Visitor) -> None:
    """Even after a restart of the server: the journal has the place, and how soon the cue was picked up."""
    piece = add_piece(visitor, SCENE, "Prompted", part="MARA")
    speaker = Speaker(server, visitor, piece, silence="2")
    speaker.hear(bytes(PIECE))
    speaker.hear(bytes(2 * PIECE) + read() + bytes(14 * PIECE))
    run = speaker.end()
    prompts = [act for act in speaker.acts if act["kind"] == "say" and not act["speaker"]]
    assert prompts and str(prompts[0]["text"]).startswith("The")
    with server.room.journal.reading() as conn:
        row, told = journals.run_of(conn, run), journals.circumstances_of(conn, run)
    assert row.prompts == 1
    assert [(p.first, p.asked) for p in told.prompts] == [(8, False)]
    [cue] = told.pick_ups
    assert cue.word == 0 and cue.text == "What was he like?" and 0.2 <= cue.seconds <= 2.0
    server.room.reviews.clear()
    notes = visitor.ask("GET", f"/piece/{piece}/notes/{run}").text
    assert "after a silence you were given “The" in notes
    assert f"The cue was picked up after {cue.seconds:.1f} s." in notes


def test_prompts_are_still_counted_when_a_noisy_recording_is_cleaned_and_heard_again(
    server: PageServer, visitor: Visitor
) -> None:
    """A fan 20 dB under the voice: the recording is cleaned and heard again, whole."""
    piece = add_piece(visitor, f"{SAID}\n{NEXT}\n", "A fan")
    speaker = Speaker(server, visitor, piece, silence="2")
    said = np.frombuffer(read() + bytes(24 * PIECE), "<i2")
    fan = np.random.default_rng(3).normal(0, float(np.std(said[: RATE * 2])) * 10 ** (-20 / 20), len(said))
    speaker.hear(np.rint(said + fan).astype("<i2").tobytes())
    live = server.room.speaking.spoken(speaker.key).live
    run = speaker.end()
    assert live.result.result().sound.background is not None
    with server.room.journal.reading() as conn:
        told = journals.circumstances_of(conn, run)
    assert [(p.first, p.asked) for p in told.prompts] == [(8, False)]


def test_the_partner_gives_no_prompt_during_a_pause_that_the_performer_marked(
    server: PageServer, visitor: Visitor
) -> None:
    """The same silence, with the performer's mark before its word; the partner says that it waits."""
    piece = add_piece(visitor, SCENE, "Marked", part="MARA")
    assert visitor.form(f"/piece/{piece}/pencil", word="8", grade="2", reason="she looks away").status == 303
    speaker = Speaker(server, visitor, piece, silence="2")
    speaker.hear(bytes(3 * PIECE) + read() + bytes(14 * PIECE))
    assert [act["kind"] for act in speaker.acts] == ["say", "hold"]
    visitor.form(f"/capture/{speaker.key}/drop")


@pytest.mark.parametrize("crashed", [False, True])
def test_the_partner_works_again_when_the_performer_goes_on_after_an_interruption(
    server: PageServer, visitor: Visitor, crashed: bool
) -> None:
    """Even after a crash of offbook: what was said before is heard again without a cue or a prompt."""
    piece = add_piece(visitor, SCENE, f"Interrupted {crashed}", part="MARA")
    speaker = Speaker(server, visitor, piece, silence="2")
    speaker.hear(bytes(3 * PIECE) + read()[: 6 * PIECE])
    visitor.form(f"/capture/{speaker.key}/leave")
    if crashed:
        server.room.speaking = Speaking(server.room)
    told = speaker.go_on()
    assert told["acts"] == (0 if crashed else 1)  # the cue is not said again
    speaker.hear(read()[6 * PIECE :] + bytes(14 * PIECE))
    prompts = [act["text"] for act in speaker.acts if not act.get("speaker")]
    assert prompts == ["The"]
    run = speaker.end()
    with server.room.journal.reading() as conn:
        assert [p.first for p in journals.circumstances_of(conn, run).prompts] == [8]


@pytest.mark.parametrize("go_on", [False, True])
def test_a_prompt_given_before_a_crash_is_still_counted_after_it(
    server: PageServer, visitor: Visitor, go_on: bool
) -> None:
    """It was asked for with the button, so nothing of it can be heard in the sound."""
    piece = add_piece(visitor, SCENE, f"Given before {go_on}", part="MARA")
    speaker = Speaker(server, visitor, piece, silence="")
    speaker.hear(bytes(3 * PIECE) + read() + bytes(12 * PIECE))
    speaker.tell(what="ask")
    speaker.hear(bytes(4 * PIECE))
    assert [act["text"] for act in speaker.acts if not act.get("speaker")] == ["The"]
    server.room.speaking = Speaking(server.room)
    if go_on:
        speaker.go_on()
        speaker.hear(bytes(8 * PIECE))
    run = speaker.end()
    with server.room.journal.reading() as conn:
        assert journals.run_of(conn, run).prompts == 1
        assert [(p.first, p.asked) for p in journals.circumstances_of(conn, run).prompts] == [(8, True)]
    assert list(server.room.speaking.home.glob(f"{piece}/*")) == []


@pytest.mark.parametrize("to_the_end", [True, False])
def test_after_a_crash_the_recorded_voice_of_the_partner_is_not_taken_for_the_performers(
    server: PageServer, visitor: Visitor, to_the_end: bool
) -> None:
    """The performer's line ends with the cue's words; offbook crashes after or during the cue."""
    scene = f"WARDEN: {SAID}\nMARA: {NEXT} {SAID}\n"
    piece = add_piece(visitor, scene, f"Loud {to_the_end}", part="MARA")
    speaker = Speaker(server, visitor, piece, silence="")
    speaker.read_aloud(read(), to_the_end=to_the_end)
    server.room.speaking = Speaking(server.room)
    ended = visitor.ask("POST", f"/capture/{speaker.key}/end", Accept="application/json")
    job = server.room.turns.job(json.loads(ended.text)["at"].rpartition("/")[2])
    assert job is not None and job.over.wait(300)
    assert job.problem is not None and job.problem.what == "nothing of the speech was heard"


def waited(words: tuple[Word, ...], before: int, seconds: float) -> Run:
    """A run-through of words that lie 0.1 s apart, with so many seconds more before one of them."""
    scored = run_with(words, seconds=0.3 * len(words))
    late = [
        replace(w, start=(w.start or 0) + seconds, end=(w.end or 0) + seconds) for w in scored.words[before:]
    ]
    return replace(scored, words=(*scored.words[:before], *late))


def test_the_partner_waits_through_a_pause_made_in_every_run_through_before_it_prompts(
    server: PageServer, visitor: Visitor
) -> None:
    """Three run-throughs have 3 s before a word; the chosen silence of 2 s is counted after those."""
    key = add_piece(visitor, SCENE, "Always made", part="MARA")
    there = server.room.opened(key)
    with server.room.journal.writing() as conn:
        for _ in range(3):
            scored = waited(there.version.words, 8, 2.9)
            facts = RunFacts(at=server.room.clock(), model="small", added=0, prompts=0)
            journals.add_run(server.room.journal, conn, there.piece, there.version, scored, facts, ())
    speaker = Speaker(server, visitor, key, silence="2")
    speaker.hear(bytes(3 * PIECE) + read() + bytes(14 * PIECE))
    assert [act["kind"] for act in speaker.acts] == ["say"]  # the cue, and 3.5 s of silence without a word
    speaker.hear(bytes(9 * PIECE))
    assert [act["text"] for act in speaker.acts[1:]] == ["The"]
    visitor.form(f"/capture/{speaker.key}/drop")
