"""Drills on the page.

A sitting is kept in memory from request to request; each answer is in the journal at once.
"""

from __future__ import annotations

import secrets
import wave
from collections import OrderedDict
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from flask import Blueprint, Response, jsonify, request

from offbook import desk
from offbook import journal as journals
from offbook.page.app import go, rendered
from offbook.page.capture import RATES
from offbook.page.forms import FieldError
from offbook.page.opened import Opened
from offbook.page.room import Room
from offbook.records import Session
from offbook.sampling import whole_samples

if TYPE_CHECKING:
    from offbook.drill import Answering, Exercise, GivenAnswer, JudgedAnswer, Sitting

MOST = 50  # sittings that are open at once; set by hand
_KEY_BYTES = 8  # random bytes of the key of a sitting
LARGEST_SPOKEN = 40 << 20  # bytes of an answer said aloud: three minutes at the highest usual rate
LONGEST_ANSWER = 4000  # characters; set by hand
_LEAST_MINUTES, _MOST_MINUTES = 0.1, 180  # of a sitting; set by hand, the least so that a trial can be short
_LONGEST_ANSWER = 3600  # seconds; what took longer says nothing about recall


@dataclass
class OpenSitting:
    """A sitting that is going on.

    exercise: the question; looking: its words are shown to be read once; asked_at: when it was asked; answer:
    what was typed so far, with the prompts; prompts: those given for this question; asked, right: how many
    questions were asked, and how many answers were right; heard: what was heard of a spoken answer; last: the
    answer before this question.
    """

    there: Opened
    sitting: Sitting
    session: Session
    exercise: Exercise | None
    looking: bool
    asked_at: datetime
    answer: Answering | None = None
    prompts: list[str] = field(default_factory=list)
    asked: int = 0
    right: int = 0
    heard: str = ""
    last: tuple[JudgedAnswer | None, str, Exercise] | None = None


def add_drill(place: Blueprint, room: Room) -> None:
    """The routes of the drills."""
    sittings: OrderedDict[str, OpenSitting] = OrderedDict()

    @place.get("/piece/<piece>/drill")
    def drill(piece: str) -> Response:
        from offbook.drill import KINDS, TITLES

        there = room.opened(piece)
        minutes = request.args.get("minutes", "10")
        return rendered("drill.html", piece=there.piece, kinds=KINDS, titles=TITLES, minutes=minutes)

    @place.post("/piece/<piece>/drill")
    def sit(piece: str) -> Response:
        there = room.opened(piece)
        minutes = _minutes(request.form.get("minutes", "10"))
        sitting = desk.lay_out_sitting(
            room.journal, there.piece, there.version, minutes, request.form.getlist("kind")
        )
        with room.journal.writing() as conn:
            session = journals.start_session(room.journal, conn, there.piece, minutes)
        found = OpenSitting(there, sitting, session, None, False, room.clock())
        _ask_next(room, found)
        key = secrets.token_hex(_KEY_BYTES)
        sittings[key] = found
        while len(sittings) > MOST:
            sittings.popitem(last=False)
        return go("question", piece=piece, key=key)

    @place.get("/piece/<piece>/drill/<key>")
    def question(piece: str, key: str) -> Response:
        found = _open(sittings, key)
        return rendered("question.html", piece=found.there.piece, key=key, now=found, **_on_screen(found))

    @place.post("/piece/<piece>/drill/<key>")
    def answer(piece: str, key: str) -> Response:
        found = _open(sittings, key)
        done = request.form.get("do", "answer")
        if done == "leave" or found.exercise is None:
            del sittings[key]
            return go("drill", piece=piece)
        if done == "read":
            found.looking, found.asked_at = False, room.clock()
        elif done == "prompt":
            _prompt(found, request.form.get("answer", "")[:LONGEST_ANSWER])
        else:
            given = "" if done == "unknown" else request.form.get("answer", "")[:LONGEST_ANSWER]
            _judge_typed(room, found, given, _pick_up(request.form.get("pick_up", "")))
        return go("question", piece=piece, key=key)

    @place.post("/piece/<piece>/drill/<key>/spoken")
    def spoken(piece: str, key: str) -> Response:
        """An answer said aloud: the samples of the microphone, 16-bit mono."""
        request.max_content_length = LARGEST_SPOKEN
        found = _open(sittings, key)
        rate = request.headers.get("X-Rate", "")
        if not rate.isdecimal() or not RATES[0] <= int(rate) <= RATES[1]:
            raise FieldError("the microphone did not say its sampling rate", "load the page again")
        _judge_spoken(room, found, request.get_data(), int(rate))
        return jsonify(heard=True)


def _open(sittings: OrderedDict[str, OpenSitting], key: str) -> OpenSitting:
    if key not in sittings:
        raise FieldError("this sitting is over", "begin another: every answer is kept")
    return sittings[key]


def _minutes(value: str) -> float:
    try:
        minutes = float(value)
    except ValueError:
        minutes = 0.0
    if not _LEAST_MINUTES <= minutes <= _MOST_MINUTES:
        raise FieldError(f"“{value}” is not a number of minutes", f"write a number from 1 to {_MOST_MINUTES}")
    return minutes


def _pick_up(value: str) -> float | None:
    """Seconds until the first key was pressed, as the browser measured them; None without scripts."""
    try:
        seconds = float(value)
    except ValueError:
        return None
    return seconds if 0 <= seconds <= _LONGEST_ANSWER else None


def _ask_next(room: Room, found: OpenSitting) -> None:
    from offbook.drill import Answering

    found.exercise = found.sitting.ask()
    found.prompts = []
    e = found.exercise
    if e is None:
        with room.journal.writing() as conn:
            journals.end_session(room.journal, conn, found.session.id)
        return
    found.looking, found.asked_at = e.first_look, room.clock()
    found.answer = Answering(found.there.version.script, found.there.version.words, e.first, e.last)


def _prompt(found: OpenSitting, typed: str) -> None:
    assert found.answer is not None
    found.answer, words = found.answer.add(typed).prompt()
    found.prompts.append(words or "that was the end")


def _judge_typed(room: Room, found: OpenSitting, typed: str, pick_up: float | None) -> None:
    """Judge an answer, commit it, and go on."""
    from offbook.drill import GivenAnswer

    e = found.exercise
    assert e is not None and found.answer is not None
    answer = found.answer.add(typed)
    now = room.clock()
    given = GivenAnswer(answer.shown or None, now, (now - found.asked_at).total_seconds(), pick_up)
    judged = None if given.text is None else answer.judged()
    _commit(room, found, e, given, judged)
    found.heard = ""


def _commit(
    room: Room, found: OpenSitting, e: Exercise, given: GivenAnswer, judged: JudgedAnswer | None
) -> None:
    """Put an answer into the journal, and ask the next question."""
    from offbook.words import as_written

    there = found.there
    ratings = found.sitting.take(e, judged)
    found.sitting.memories.update(
        desk.record_answer(room.journal, there.piece, there.version, found.session, e, given, judged, ratings)
    )
    found.asked += 1
    found.right += judged is not None and judged.clean
    found.last = (judged, as_written(there.version.script, there.version.words, e.first, e.last), e)
    _ask_next(room, found)


def _judge_spoken(room: Room, found: OpenSitting, sound: bytes, rate: int) -> None:
    """Hear and judge a spoken answer, commit it, and go on."""
    from offbook.drill import GivenAnswer

    e, there = found.exercise, found.there
    if e is None or found.looking:
        raise FieldError("nothing is being asked", "load the page again")

    def recorder(path: Path) -> bool:
        with wave.open(str(path), "wb") as out:
            out.setparams((1, 2, rate, 0, "NONE", ""))
            out.writeframes(whole_samples(sound))
        return True

    said = desk.AnswerListener(recorder, room.loading.result().first).answer(there.version, e.first, e.last)
    assert said is not None
    given = GivenAnswer(said.text, room.clock(), said.seconds, said.pick_up, spoken=True)
    _commit(room, found, e, given, said.judged)
    found.heard = said.text or "nothing"


def _on_screen(found: OpenSitting) -> dict[str, Any]:
    """What the screen says about the last answer and the question."""
    from offbook.drill import KINDS, TITLES, compared
    from offbook.words import as_written

    version, e = found.there.version, found.exercise
    judged = found.last[0] if found.last is not None else None
    return {
        "kinds": KINDS,
        "titles": TITLES,
        "looking": ""
        if e is None or not found.looking
        else as_written(version.script, version.words, e.first, e.last),
        "compared": () if judged is None or judged.clean else compared(judged),
    }
