"""What a school's journal costs: 2,000 pieces and at least 10,000 run-throughs, without the start of a
command.

A number of performers have the same number of pieces each. Every piece has a speech of about 100 words in
12 thoughts, a date in the next five weeks or in the last few days, five run-throughs (or `--runs`) and some
drill answers. A brief asks for every tenth piece. Then `class`, `today`, `today --performer`, `progress`,
`piece list` and `plan --performer` are run as a user runs them, each in a process of its own, once on this
journal and once on a journal with a single piece. The two processes of a pair are run directly one after
the other, because from one minute to the next the same command can take half as much time again.

It prints the median of each in milliseconds of processor time, and the median of the differences within the
pairs, which is what the size of the journal costs; beside that, how far half of the differences are from
it. With `--server` the tables are in two empty databases of a PostgreSQL server, offbook_small and
offbook_big, which must exist; the processor time of the server is not counted.

    python bench/class_cost.py [--performers N] [--pieces N] [--runs N] [--home FOLDER] [--server URL]
"""

from __future__ import annotations

import argparse
import os
import random
import resource
import shutil
import subprocess
import sys
import tempfile
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import median
from typing import Any

from sqlalchemy import insert

from offbook.journal import Connection, Journal, add_performer, add_piece, add_version, open_journal, tables
from offbook.journal import performers as people
from offbook.records import Performer, Unit
from offbook.schedule import GOOD, review
from offbook.script import parse_script
from offbook.words import words_of

NOW = datetime(2026, 3, 2, 18, tzinfo=UTC)
ANSWERS, WORDS_A_THOUGHT = 4, 8
PAIRS = 15  # of starts for each command; an odd number
VOCABULARY = "lamp stair tide ship light oil night rope wind wall stone harbour glass sand year".split()
LIMITS = {
    "class": 300,
    "today": 100,
    "today --performer P1": 100,
    "progress --performer P1": 100,
    "piece list": 100,
}


def speech(dice: random.Random) -> str:
    """Twelve lines of eight words."""
    return "\n".join(" ".join(dice.choices(VOCABULARY, k=WORDS_A_THOUGHT)) + "." for _ in range(12))


def fill(journal: Journal, performers: int, pieces: int, runs: int, dice: random.Random) -> None:
    """Write everything into the journal, in one transaction for each performer."""
    templates = []
    for _ in range(20):
        script = parse_script(speech(dice), title="x")
        words = words_of(script)
        units = tuple(Unit(n, n, 8 * n, 8 * n + 7, words[8 * n].text) for n in range(len(words) // 8))
        templates.append((script, words, units))
    for p in range(performers):
        with journal.writing() as conn:
            person = add_performer(journal, conn, f"P{p + 1}", "Europe/London")
            for k in range(pieces // performers):
                _piece(journal, conn, person, k, templates[dice.randrange(20)], runs, dice)


def _piece(
    journal: Journal,
    conn: Connection,
    person: Performer,
    k: int,
    speech: Any,
    runs: int,
    dice: random.Random,
) -> None:
    script, words, units = speech
    due = (NOW + timedelta(days=dice.randint(-3, 35))).date()
    piece = add_piece(journal, conn, person, f"Piece {k + 1}", limit_seconds=60, due_day=due)
    version, _ = add_version(journal, conn, piece.id, script, words, units)
    rows, answers, memories = [], [], []
    n = len(words)
    for r in range(runs):
        at = NOW - timedelta(days=2 * (runs - r), minutes=k % 60)
        missed = dice.randint(0, 6)
        letters = "".join("c" if i < missed else "s" for i in range(n))
        rows.append(
            {
                "id": journal.key(),
                "piece_id": piece.id,
                "version_id": version.id,
                "recording_id": None,
                "at": at,
                "day": at.date(),
                "zone": "Europe/London",
                "model": None,
                "seconds": 40.0,
                "speaking_seconds": 30.0,
                "words": n,
                "said": n - missed,
                "unsure": 0,
                "changed": missed,
                "dropped": 0,
                "added": 0,
                "prompts": 0,
                "letters": letters,
                "heard": "{}",
                "times": b"",
                "extras": "[]",
                "ratings": "3" * len(units),
                "predicted": "93" * len(units),
            }
        )
    for u in units:
        m = review(None, piece.id, u.key, GOOD, NOW - timedelta(days=dice.randint(3, 12)))
        m = review(m, piece.id, u.key, GOOD, NOW - timedelta(days=dice.randint(1, 2)))
        memories.append({name: getattr(m, name) for name in m.__slots__})
    sitting = journal.key()
    when = {"at": NOW - timedelta(days=1), "day": (NOW - timedelta(days=1)).date(), "zone": "Europe/London"}
    conn.execute(
        insert(tables.session), [dict(id=sitting, piece_id=piece.id, minutes=5.0, ended_at=NOW, **when)]
    )
    for _ in range(ANSWERS):
        answers.append(
            dict(
                id=journal.key(),
                piece_id=piece.id,
                version_id=version.id,
                session_id=sitting,
                kind="thought",
                unit=0,
                help=1,
                first=0,
                last=7,
                given="the lamp",
                right=8,
                words=8,
                seconds=12.0,
                pick_up=1.0,
                spoken=False,
                rating=3,
                predicted=0.9,
                **when,
            )
        )
    conn.execute(insert(tables.run), rows)
    conn.execute(insert(tables.answer), answers)
    conn.execute(insert(tables.memory), memories)
    if k % 10 == 0:
        deadline = NOW + timedelta(days=dice.randint(1, 30))
        text = f'name = "Round {k}"\ndeadline = {deadline.isoformat()}\npieces = ["{piece.name}"]\n'
        conn.execute(
            insert(tables.brief),
            [
                {
                    "id": journal.key(),
                    "performer_id": person.id,
                    "name": f"Round {k}",
                    "text": text,
                    "deadline": deadline,
                    "added_at": NOW,
                    "sent_at": None,
                }
            ],
        )


def processor_ms(home: Path, command: str, server: str | None) -> float:
    """The processor time of a command in a process of its own, in milliseconds."""
    env = {**os.environ, "OFFBOOK_HOME": str(home), "OFFBOOK_NOW": NOW.isoformat(), "COLUMNS": "100"}
    env.pop("PYTHONDONTWRITEBYTECODE", None)  # or every start would compile what it imports
    if server is not None:
        env["OFFBOOK_JOURNAL"] = server
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    done = subprocess.run(
        [sys.executable, "-m", "offbook", *command.split()], env=env, capture_output=True, check=False
    )
    if done.returncode:
        raise SystemExit(done.stderr.decode())
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return 1000 * (after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)


def in_turn(
    small: Path, big: Path, command: str, one: str | None, all_: str | None
) -> list[tuple[float, float]]:
    """The processor time of a command on both journals in milliseconds, one directly after the other."""
    found = []
    for n in range(PAIRS):
        if n % 2:
            full, alone = processor_ms(big, command, all_), processor_ms(small, command, one)
        else:
            alone, full = processor_ms(small, command, one), processor_ms(big, command, all_)
        found.append((alone, full))
    return found


def made(home: Path, performers: int, pieces: int, runs: int, server: str | None) -> Path:
    """The journal in `home` or on a server. It is filled if it is not there yet."""
    journal = open_journal(lambda: NOW, home=home, url=server)
    with journal.reading() as conn:
        empty = not people(conn)
    if empty:
        fill(journal, performers, pieces, runs, random.Random(7))
    journal.close()
    return home


def main() -> None:
    """Build both journals, then print what each command costs in them."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--performers", type=int, default=20)
    parser.add_argument("--pieces", type=int, default=2000)
    parser.add_argument("--runs", type=int, default=5, help="run-throughs of each piece")
    parser.add_argument("--home", type=Path, help="keep the journals here")
    parser.add_argument("--server", help="a PostgreSQL server: postgresql+psycopg://USER@HOST")
    a = parser.parse_args()
    home = a.home or Path(tempfile.mkdtemp(prefix="offbook-class-"))
    one, all_ = (a.server and f"{a.server}/offbook_{name}" for name in ("small", "big"))
    small = made(home / "small", 1, 1, a.runs, one)
    big = made(home / f"big-{a.performers}-{a.pieces}-{a.runs}", a.performers, a.pieces, a.runs, all_)
    print(f"{a.pieces} pieces of {a.performers} performers, {a.runs * a.pieces} run-throughs; processor ms")
    print(f"{'command':26} {'one piece':>9} {'all':>7} {'beyond':>7} {'half in':>7} {'at most':>7}")
    for command, limit in LIMITS.items():
        pairs = in_turn(small, big, command, one, all_)
        alone, full = (median(each) for each in zip(*pairs, strict=True))
        beyond = median(f - a for a, f in pairs)
        apart = f"± {median(abs(f - a - beyond) for a, f in pairs):.0f}"
        print(f"{command:26} {alone:9.0f} {full:7.0f} {beyond:7.0f} {apart:>7} {limit:7}")
    if a.home is None:
        shutil.rmtree(home)


if __name__ == "__main__":
    main()
