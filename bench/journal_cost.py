"""What ten years in one journal cost: the size of the file, and the time of progress and today.

Four performers run through a speech of 685 words twice a day for 3,650 days and answer 20 drill questions a
day: 29,200 run-throughs, 20 million verdicts, 292,000 answers. Run-throughs are written with
`packing.pack_verdicts` as the program writes them (200 different ones, again and again). Then the calls
behind `offbook progress PIECE`, `offbook today` and `offbook class` are timed, the median of 9, in a
journal that was just opened (without imports, which take the same time in an empty journal).

For comparison a million verdicts are also written with a row for each, and with the index that such a table
needs.

    python bench/journal_cost.py [--days N] [--home FOLDER]
"""

from __future__ import annotations

import argparse
import random
import shutil
import sqlite3
import statistics
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from sqlalchemy import insert

from offbook.desk import agenda, detail, standing
from offbook.journal import (
    Journal,
    add_performer,
    add_piece,
    add_version,
    open_journal,
    performers,
    pieces_of,
)
from offbook.journal import tables as t
from offbook.journal.connection import random_key
from offbook.journal.packing import pack_verdicts
from offbook.records import Piece, Unit
from offbook.report import accuracy_svg
from offbook.schedule import GOOD, review
from offbook.score import Verdict, WordVerdict
from offbook.script import parse_script
from offbook.words import Word, words_of

START = datetime(2016, 3, 1, 18, tzinfo=UTC)
VOCABULARY = ("lamp", "stair", "tide", "ship", "light", "oil", "night", "rope", "wind", "wall", "stone")
WORDS, LINES, RUNS_A_DAY, ANSWERS_A_DAY, PERFORMERS = 685, 85, 2, 20, 4


def speech(dice: random.Random) -> str:
    """A text of WORDS words in LINES lines."""
    words = [dice.choice(VOCABULARY) for _ in range(WORDS)]
    return "\n".join(" ".join(words[k::LINES]) + "." for k in range(LINES))


def a_run(words: tuple[Word, ...], dice: random.Random) -> dict[str, Any]:
    """The packed columns of one run-through in which three words in a hundred are missed."""
    out, at = [], 0.3
    for w in words:
        draw = dice.random()
        verdict: Verdict = (
            "said" if draw < 0.96 else "unsure" if draw < 0.97 else "changed" if draw < 0.985 else "dropped"
        )
        length = dice.uniform(0.09, 0.6)
        heard = (
            None
            if verdict == "dropped"
            else dice.choice(VOCABULARY)
            if verdict == "changed"
            else w.text.lower()
        )
        gone = verdict == "dropped"
        out.append(
            WordVerdict(
                w.i,
                w.text,
                verdict,
                heard,
                None if gone else round(at, 2),
                None if gone else round(at + length, 2),
                None if gone else round(dice.uniform(0.6, 1.0), 6),
            )
        )
        at += length + (0.7 if dice.random() < 0.08 else 0.02)
    letters, heard_text, times = pack_verdicts(out)
    return {
        "letters": letters,
        "heard": heard_text,
        "times": times,
        "seconds": at,
        "speaking_seconds": at * 0.8,
        "words": WORDS,
        "said": letters.count("s"),
        "unsure": letters.count("u"),
        "changed": letters.count("c"),
        "dropped": letters.count("d"),
        "added": 1,
        "prompts": 0,
        "extras": '[[12, "very", 9.1, 9.3, 0.9]]',
        "model": "small",
    }


def fill(journal: Journal, days: int, dice: random.Random) -> None:
    """Write everything, one performer after the other."""
    script = parse_script(speech(dice), title="The lighthouse")
    words = words_of(script)
    units = tuple(Unit(k, k, k * 8, min(WORDS, k * 8 + 8) - 1, "the lamp") for k in range(-(-WORDS // 8)))
    templates = [a_run(words, dice) for _ in range(200)]
    for n in range(PERFORMERS):
        with journal.writing() as conn:
            person = add_performer(journal, conn, f"Performer {n + 1}", "Europe/London")
            due = (START + timedelta(days=days + 20)).date()
            piece = add_piece(journal, conn, person, "The lighthouse", limit_seconds=300, due_day=due)
            version, _ = add_version(journal, conn, piece.id, script, words, units)
        for first in range(0, days, 365):
            with journal.writing() as conn:
                _year(
                    conn, piece, version.id, len(units), range(first, min(days, first + 365)), templates, dice
                )
        with journal.writing() as conn:
            at = START + timedelta(days=days)
            rows = []
            for u in units:
                m = review(None, piece.id, u.key, GOOD, at - timedelta(days=dice.randint(4, 30)))
                m = review(m, piece.id, u.key, GOOD, at - timedelta(days=dice.randint(1, 3)))
                rows.append({name: getattr(m, name) for name in m.__slots__})
            conn.execute(insert(t.memory), rows)


def _year(
    conn: Any,
    piece: Piece,
    version_id: str,
    units: int,
    days: range,
    templates: list[dict[str, Any]],
    dice: random.Random,
) -> None:
    runs, sessions, answers = [], [], []
    for day in days:
        at = START + timedelta(days=day)
        when = {"at": at, "day": at.date(), "zone": "Europe/London"}
        both = {"piece_id": piece.id, "version_id": version_id}
        for k in range(RUNS_A_DAY):
            ratings = "".join(dice.choice("3332") for _ in range(units))
            extra = {"recording_id": None, "ratings": ratings, "predicted": "93" * units}
            row = {"id": random_key(), **both, **when, **templates[(day * 7 + k) % len(templates)], **extra}
            runs.append({**row, "at": at + timedelta(hours=k)})
        sitting = random_key()
        sessions.append({"id": sitting, "piece_id": piece.id, **when, "minutes": 10.0, "ended_at": at})
        for k in range(ANSWERS_A_DAY):
            u = dice.randrange(units)
            answers.append(
                {
                    "id": random_key(),
                    **both,
                    **when,
                    "session_id": sitting,
                    "at": at + timedelta(seconds=20 * k),
                    "kind": "thought",
                    "unit": u,
                    "help": 1,
                    "first": u * 8,
                    "last": u * 8 + 7,
                    "given": "the lamp was lit before the tide came",
                    "right": 8,
                    "words": 8,
                    "seconds": 14.0,
                    "pick_up": 1.2,
                    "spoken": False,
                    "rating": 3,
                    "predicted": 0.93,
                }
            )
    conn.execute(insert(t.run), runs)
    conn.execute(insert(t.session), sessions)
    conn.execute(insert(t.answer), answers)


def median_ms(call: Callable[[], object]) -> str:
    """The median of nine calls in milliseconds: by the clock, and of processor time.

    The machine may be busy with other work, which only the first of them shows.
    """
    wall, cpu = [], []
    for _ in range(9):
        began, used = time.perf_counter(), time.process_time()
        call()
        wall.append((time.perf_counter() - began) * 1000)
        cpu.append((time.process_time() - used) * 1000)
    return f"{statistics.median(wall):6.1f} ms by the clock, {statistics.median(cpu):6.1f} ms of processor"


def _size_of(home: Path, table: str) -> int:
    """The bytes of a table in the SQLite file, without its indexes."""
    with sqlite3.connect(home / "journal.sqlite3") as db:
        return int(db.execute("SELECT sum(pgsize) FROM dbstat WHERE name = ?", (table,)).fetchone()[0])


def row_each(folder: Path) -> float:
    """The bytes for each verdict if each has a row of its own, from a million of them."""
    path = folder / "rows.sqlite3"
    path.unlink(missing_ok=True)
    dice = random.Random(1)
    with sqlite3.connect(path) as db:
        db.execute(
            "CREATE TABLE verdict (run INTEGER, word INTEGER, verdict TEXT, heard TEXT, start REAL,"
            " stop REAL, confidence REAL, PRIMARY KEY (run, word)) WITHOUT ROWID"
        )
        db.executemany(
            "INSERT INTO verdict VALUES (?, ?, 's', NULL, ?, ?, ?)",
            (
                (k // WORDS, k % WORDS, dice.random() * 300, dice.random() * 300, dice.random())
                for k in range(10**6)
            ),
        )
    return path.stat().st_size / 10**6


def main() -> None:
    """Build the journal, then print what it costs."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--days", type=int, default=3650)
    parser.add_argument("--home", type=Path, help="keep the journal here")
    a = parser.parse_args()
    home = a.home or Path(tempfile.mkdtemp(prefix="offbook-cost-"))
    now = START + timedelta(days=a.days)
    journal = open_journal(lambda: now, home=home)
    began = time.perf_counter()
    with journal.reading() as conn:
        empty = not performers(conn)
    if empty:
        fill(journal, a.days, random.Random(7))
    verdicts = PERFORMERS * RUNS_A_DAY * a.days * WORDS
    journal.close()
    size = (home / "journal.sqlite3").stat().st_size
    print(f"{verdicts:,} word verdicts written in {time.perf_counter() - began:.0f} s")
    print(f"journal {size / 1e6:.0f} MB with {PERFORMERS * ANSWERS_A_DAY * a.days:,} answers")
    packed = _size_of(home, "run") / verdicts
    print(f"run-throughs {packed:.2f} bytes a verdict, their ratings and figures included")
    each = row_each(home)
    print(f"a row each would take {each:.1f} bytes a verdict, {each * verdicts / 1e6:.0f} MB")
    journal = open_journal(lambda: now, home=home)

    def progress() -> None:
        with journal.reading() as conn:
            piece = pieces_of(conn)[0]
            stand = standing(conn, piece, now)
            detail(conn, piece)
        accuracy_svg(piece.name, stand.days[-14:])

    def today() -> None:
        with journal.reading() as conn:
            agenda(conn, performers(conn)[0], now)

    def class_() -> None:
        with journal.reading() as conn:
            for p in pieces_of(conn):
                standing(conn, p, now)

    print("progress of one piece", median_ms(progress))
    print("today                ", median_ms(today))
    print("class, four pieces   ", median_ms(class_))
    journal.close()
    if a.home is None:
        shutil.rmtree(home)


if __name__ == "__main__":
    main()
