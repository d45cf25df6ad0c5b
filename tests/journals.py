"""Journals for tests: a clock that is set by hand, a small script, and run-throughs with planted slips."""

from __future__ import annotations

import json
import random
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from offbook.desk import correct_word, record_run
from offbook.journal import (
    Connection,
    Journal,
    RunFacts,
    add_performer,
    add_piece,
    add_version,
    keep_recording,
    margin,
    open_journal,
    practice,
    sending,
    sent_parcels,
)
from offbook.records import (
    Answer,
    Circumstances,
    CuePickedUp,
    Performer,
    Piece,
    PromptGiven,
    Reason,
    TakeRow,
    Unit,
    Version,
)
from offbook.score import Extra, Run, Verdict, WordVerdict
from offbook.script import Script, parse_script
from offbook.words import Word, words_of

Slips = dict[int, tuple[Verdict, str | None]]

LAMP = (
    "The lamp was lit before the tide came in.\n"
    "Nobody asked who carried up the oil.\n"
    "I carried it, my friends, on both my shoulders,\n"
    "and every night the stairs were one stair more.\n"
)


@dataclass
class Clock:
    """A clock that stands still until it is put forward."""

    now: datetime = datetime(2026, 3, 2, 18, 0, tzinfo=UTC)

    def __call__(self) -> datetime:
        return self.now

    def on(self, **step: float) -> datetime:
        """Put the clock forward by days=, hours=, minutes=, seconds=."""
        self.now += timedelta(**step)
        return self.now


@dataclass
class Desk:
    """One open journal with one performer and one piece in it."""

    journal: Journal
    clock: Clock
    performer: Performer
    piece: Piece
    version: Version


def open_at(home: Path, clock: Clock, url: str | None = None) -> Journal:
    """A journal in `home` (or at `url`)."""
    return open_journal(clock, home=home, url=url)


def script_of(text: str) -> tuple[Script, tuple[Word, ...], tuple[Unit, ...]]:
    """A script, its words, and a thought for each line."""
    script = parse_script(text, title="The lamp")
    words = words_of(script)
    units = []
    for n, line in enumerate(script.lines):
        at = [w.i for w in words if w.line == line.n]
        units.append(Unit(n, n, at[0], at[-1], " ".join(words[i].text for i in at[:4])))
    return script, words, tuple(units)


def desk_at(
    home: Path,
    *,
    url: str | None = None,
    text: str = LAMP,
    zone: str = "Europe/London",
    days_left: int = 20,
    name: str = "Mara",
) -> Desk:
    """A journal with Mara, who learns The lamp."""
    clock = Clock()
    journal = open_at(home, clock, url)
    script, words, units = script_of(text)
    with journal.writing() as conn:
        mara = add_performer(journal, conn, name, zone)
        due = (clock.now + timedelta(days=days_left)).date()
        piece = add_piece(journal, conn, mara, "The lamp", limit_seconds=60.0, due_day=due)
        version, _ = add_version(journal, conn, piece.id, script, words, units)
    return Desk(journal, clock, mara, piece, version)


def run_with(
    words: tuple[Word, ...],
    slips: Mapping[int, tuple[Verdict, str | None]] | None = None,
    seconds: float = 30.0,
) -> Run:
    """A run-through of `words` in which only the words in `slips` are wrong."""
    slips = slips or {}
    each = seconds / len(words)
    out = []
    for w in words:
        verdict, heard = slips.get(w.i, ("said", w.text.replace("’", "'").lower()))
        gone = verdict == "dropped"
        out.append(
            WordVerdict(
                w.i,
                w.text,
                verdict,
                heard,
                None if gone else round(w.i * each, 2),
                None if gone else round(w.i * each + 0.2, 2),
                None if gone else 0.975,
            )
        )
    return Run(tuple(out), (Extra(2, "very", 1.0, 1.2, 0.9),), seconds, seconds * 0.8)


def facts(clock: Clock, prompts: int = 0, recording_id: str | None = None) -> RunFacts:
    """The facts of a run-through that is spoken now."""
    return RunFacts(at=clock.now, model="small", added=1, prompts=prompts, recording_id=recording_id)


def log_a_take(desk: Desk, conn: Connection, recording_id: str | None, run_id: str | None) -> TakeRow:
    """A brief, and a take of the piece that was made for it and judged."""
    text = 'name = "Saltmarrow Players"\ndeadline = 2026-03-11T18:00:00Z\n'
    deadline = desk.clock.now + timedelta(days=9)
    asked, _ = sending.keep_brief(desk.journal, conn, desk.performer, "Saltmarrow Players", text, deadline)
    made = sending.add_take(
        desk.journal,
        conn,
        desk.piece,
        at=desk.clock.now,
        intention="make her stay",
        file="take.wav",
        recording_id=recording_id,
        brief_id=asked.id,
    )
    sending.judge_take(desk.journal, conn, made.id, run_id, '{"seconds": 30.0, "checks": []}')
    return made


def full_desk(home: Path, sound: Path) -> Desk:
    """A journal with a row in every table; its recording is a copy of `sound`, which is written here."""
    desk = desk_at(home)
    journal, piece, version = desk.journal, desk.piece, desk.version
    sound.write_bytes(random.Random(5).randbytes(5000))
    kept = keep_recording(journal, piece, sound)
    run = run_with(version.words, {3: ("dropped", None), 7: ("changed", "ride")})
    told = Circumstances(
        (PromptGiven(4, 5, "the lamp", 3.25, False),),
        (CuePickedUp("go on", 0, 0.62),),
        (Reason(3, "alignment", "dropped", "nothing was heard here"),),
    )
    beside = replace(facts(desk.clock, prompts=1, recording_id=kept.id), told=told)
    row = record_run(journal, piece, version, run, beside)
    correct_word(journal, piece, row.id, 3, "said", "I did")
    now = desk.clock.now
    with journal.writing() as conn:
        sitting = practice.start_session(journal, conn, piece, 5)
        unit = version.units[1]
        given = Answer(
            *(journal.key(), piece.id, version.id, sitting.id, now, now.date(), piece.zone),
            kind="thought",
            unit=unit.key,
            help=1,
            first=unit.first,
            last=unit.last,
            given="nobody asked",
            right=2,
            words=unit.words,
            seconds=9.0,
            pick_up=1.5,
            spoken=False,
            rating=1,
            predicted=0.9,
        )
        practice.add_answer(conn, given)
        practice.end_session(journal, conn, sitting.id)
        practice.add_reading(journal, conn, desk.performer, "Prose", "some words", 12.5)
        take = log_a_take(desk, conn, kept.id, row.id)
        margin.add_margin_note(
            journal, conn, piece, slot=version.slots[2], quote=LAMP.splitlines()[0], text="Who for?",
            author="Ivo", take=take.n,
        )  # fmt: skip
        (asked,) = sending.briefs(conn)
        file = {"piece": "The lamp", "take": 1, "name": "Mara.wav", "sha256": "0" * 64, "bytes": 5000}
        packed = sent_parcels.add_parcel(journal, conn, asked, piece.zone, "/sent/here", json.dumps([file]))
        sent_parcels.send_parcel(desk.journal, conn, packed.id, now, "the playhouse's letter box", now.date())
    return desk
