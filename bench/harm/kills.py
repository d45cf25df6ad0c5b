"""Kills every command that writes at a random moment, and looks at what is left.

After each kill SQLite must find nothing wrong, everything that was acknowledged before must be there, every
file in the folder of recordings must have its row and every row its file, a file that was being written
must be complete or not there, and the command can be given again.
"""

from __future__ import annotations

import io
import random
import shutil
import sqlite3
import sys
import zipfile
from collections.abc import Callable, Sequence
from contextlib import closing
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from harm.scripts import SPEECH
from harm.server import Outcome, call, run

Command = Callable[[Path, int], list[str]]


@dataclass(frozen=True, slots=True)
class Desk:
    """A journal for the kills. model: copied for each. seconds: how long each command takes without a kill."""

    model: Path
    folder: Path
    seconds: dict[str, float]


def _script(folder: Path, changed: bool = False) -> str:
    path = folder / ("changed.txt" if changed else "script.txt")
    path.write_text(SPEECH.replace("rain", "sleet") if changed else SPEECH, encoding="utf-8")
    return str(path)


def _brief(folder: Path) -> str:
    path = folder / "brief.toml"
    path.write_text('name = "Saltmarrow Fair"\ndeadline = 2026-12-14\n', encoding="utf-8")
    return str(path)


def _pencilled(folder: Path, n: int) -> str:
    path = folder / f"out{n}"
    path.write_text("The river rose. Nobody called the ferry back.\n", encoding="utf-8")
    return str(path)


_PART = ("--part", "MARGERY")
# What each command is given; `n` makes its names new, `out{n}` is where it writes. The journal it is given to
# has a row in every table: Mara, her piece The lamp, run-throughs, a brief and a take.
COMMANDS: dict[str, Command] = {
    "performer add": lambda f, n: ["performer", "add", f"Nora{n}", "--zone", "UTC"],
    "performer set": lambda f, n: ["performer", "set", "Mara", "--minutes", str(5 + n % 90)],
    "performer timed": lambda f, n: ["performer", "timed", "Mara", _script(f), "0:40"],
    "performer delete": lambda f, n: ["performer", "delete", "Mara", "--yes"],
    "piece add": lambda f, n: ["piece", "add", _script(f), "--name", f"Piece{n}", "--date", "+20", *_PART],
    "piece revise": lambda f, n: ["piece", "revise", "The lamp", _script(f, changed=True), *_PART],
    "piece set": lambda f, n: ["piece", "set", "The lamp", "--limit", f"2:{n % 60:02d}"],
    "piece delete": lambda f, n: ["piece", "delete", "The lamp", "--yes"],
    "piece forget": lambda f, n: ["piece", "forget", "The lamp", "--all", "--yes"],
    "brief add": lambda f, n: ["brief", "add", _brief(f)],
    "brief sent": lambda f, n: ["brief", "sent", "Saltmarrow Players", "--anyway"],
    "brief delete": lambda f, n: ["brief", "delete", "Saltmarrow Players"],
    "brief pack": lambda f, n: ["brief", "pack", "Saltmarrow Players", str(f / f"out{n}")],
    "brief confirmed": lambda f, n: ["brief", "confirmed", "Saltmarrow Players", "by letter"],
    "brief blank": lambda f, n: ["brief", "blank", str(f / f"out{n}")],
    "take choose": lambda f, n: ["take", "choose", "The lamp", "1"],
    "take delete": lambda f, n: ["take", "delete", "The lamp", "1", "--recording"],
    "margin add": lambda f, n: ["margin", "add", "The lamp", "1", f"Slower, {n} times"],
    "margin done": lambda f, n: ["margin", "done", "The lamp", "1"],
    "margin delete": lambda f, n: ["margin", "delete", "The lamp", "1"],
    "correct": lambda f, n: ["correct", "The lamp", "8", "--as", "said"],
    "drill": lambda f, n: ["drill", "The lamp", "--kind", "thought", "--seed", str(n)],
    "mark --html": lambda f, n: ["mark", _script(f), *_PART, "--html", str(f / f"out{n}")],
    "mark --pencil": lambda f, n: ["mark", _pencilled(f, n), "--pencil"],
    "read --leave-out": lambda f, n: ["read", _pencilled(f, n), "--leave-out", "Nobody called"],
    "fit --write": lambda f, n: [
        *("fit", _script(f), *_PART, "--limit", "0:20", "--ends-too"),
        "--write",
        str(f / f"out{n}"),
    ],
    "progress --svg": lambda f, n: ["progress", "The lamp", "--svg", str(f / f"out{n}")],
    "plan --ics": lambda f, n: ["plan", "--ics", str(f / f"out{n}")],
    "export": lambda f, n: ["export", str(f / f"out{n}")],
    "import": lambda f, n: ["import", str(f / "other.zip")],
    "keep": lambda f, n: ["keep", str(f / "take.wav")],
    "keep and judge": lambda f, n: ["judge", str(f / "take.wav")],
}
_DELETES_PIECES = ("performer delete", "piece delete")
_DELETES_SOUND = (*_DELETES_PIECES, "piece forget", "take delete")
_ENV = {"OFFBOOK_NOW": "2026-03-03T18:00:00+00:00 1", "OFFBOOK_PERFORMER": ""}
_SOUNDS = 4  # recordings of the journal that is struck


def prepared(folder: Path, names: Sequence[str] = tuple(COMMANDS)) -> Desk:
    """A journal with a row in every table, an archive of another one, and how long each command takes.

    names: the commands that will be killed.
    """
    from tests.journals import full_desk

    model = folder / "model"
    sound = folder / "take.wav"
    for home in (folder / "other", model):
        full_desk(home, sound).journal.close()
        sound.write_bytes(random.Random(1).randbytes(6_000_000))
        for _ in range(_SOUNDS - 1):
            _must(call(partial(_keep, sound, judged=False), ("keep",), _env(home), None))
    _must(run(["performer", "set", "Mara", "--name", "Other"], _env(folder / "other")))
    _must(run(["export", str(folder / "other.zip")], _env(folder / "other")))
    asked = folder / "asked.toml"
    text = 'name = "Saltmarrow Players"\ndeadline = 2026-03-11T18:00:00Z\npieces = ["The lamp"]\n'
    asked.write_text(text, encoding="utf-8")
    _must(run(["brief", "add", str(asked)], _env(model)))
    _must(run(["take", "choose", "The lamp", "1"], _env(model)))
    seconds = {}
    for k, name in enumerate(names):
        home = folder / "timed"
        shutil.copytree(model, home)
        done = strike(name, -k, folder, home, None)
        _must(done)
        seconds[name] = done.wall
        shutil.rmtree(home)
    return Desk(model, folder, seconds)


def strike(name: str, n: int, folder: Path, home: Path, after: float | None) -> Outcome:
    """Give a command, and kill it after so many seconds."""
    args = COMMANDS[name](folder, n)
    if args[0] in ("keep", "judge"):
        work = partial(_keep, Path(args[1]), judged=args[0] == "judge")
        return call(work, tuple(args), _env(home), after)
    if name == "drill":
        return call(partial(_drill, args), tuple(args), _env(home), after)
    return run(args, _env(home), after)


def wrong_after(desk: Desk, rng: random.Random, n: int) -> tuple[str, Outcome, list[str]]:
    """Kill once; returns the command, how it ended, and what is wrong with what is left."""
    name = rng.choice(sorted(desk.seconds))
    home = desk.folder / f"home{n}"
    shutil.copytree(desk.model, home)
    done = strike(name, n, desk.folder, home, rng.uniform(0, 1.1) * desk.seconds[name])
    wrong = _look(home, name, done)
    if name != "drill":  # what was written is there whole or not at all, whether it ended or not
        wrong += _half_written(desk.folder, home, name, n)
    if run(["piece", "list", "--json"], _env(home)).status != 0:
        wrong.append("lost: the journal opens no more")
    wrong += _orphans(home)
    again = strike(name, n, desk.folder, home, None)
    wrong += [f"given again: {fault}" for fault in again.faults()]
    wrong += [f"given again: {each}" for each in _half_written(desk.folder, home, name, n)]
    wrong += _orphans(home)
    if name in _WRITES:  # what a killed one left beside its file goes with the next that writes there
        wrong += ["orphaned: a part"] * len(list(desk.folder.glob(".offbook-*.part")))
    if name not in _DELETES_PIECES:
        gone = run(["performer", "delete", "Mara", "--yes"], _env(home))
        if gone.status != 0 or _orphans(home):
            wrong.append("orphaned: deleting left something")
    shutil.rmtree(home)
    for file in desk.folder.glob(f"*out{n}*"):
        shutil.rmtree(file) if file.is_dir() else file.unlink()
    return name, done, wrong


# The ending by which a file is known to be whole; of an archive and of a bundle more is looked at.
_WRITES = {
    "mark --html": "</html>",
    "mark --pencil": "",
    "read --leave-out": "",
    "fit --write": "",
    "progress --svg": "</svg>",
    "plan --ics": "END:VCALENDAR",
    "brief blank": "",
    "export": "",
}
_BESIDE = {"mark --pencil": ".pencil", "read --leave-out": ".spoken"}  # the script's own file is out{n}


def _half_written(folder: Path, home: Path, name: str, n: int) -> list[str]:
    """What a command wrote outside the journal, if it is there and is not complete."""
    file = folder / f"out{n}{_BESIDE.get(name, '')}"
    if name == "brief pack" and file.exists():
        whole = {p.read_bytes() for p in (home / "recordings").rglob("*.wav")}
        return ["half-written"] * sum(p.read_bytes() not in whole for p in file.glob("[!.]*.wav"))
    if name not in _WRITES or not file.exists():
        return []
    if name == "export":
        with zipfile.ZipFile(file) as archive:
            return ["half-written"] * (archive.testzip() is not None)
    text = file.read_text(encoding="utf-8").rstrip()
    return ["half-written"] * (not text or not text.endswith(_WRITES[name]))


def _look(home: Path, name: str, done: Outcome) -> list[str]:
    with closing(sqlite3.connect(home / "journal.sqlite3")) as raw:
        found = []
        if raw.execute("PRAGMA integrity_check").fetchone() != ("ok",):
            found.append("lost: the file is damaged")
        if raw.execute("PRAGMA foreign_key_check").fetchall():
            found.append("lost: rows without their owners")
        people = {row[0] for row in raw.execute("SELECT name FROM performer")}
        kept = raw.execute("SELECT path, bytes FROM recording").fetchall()
        judged, answered = raw.execute(
            "SELECT (SELECT count(*) FROM run), (SELECT count(*) FROM answer)"
        ).fetchone()
    if name not in _DELETES_SOUND and ("Mara" not in people or len(kept) < _SOUNDS):
        found.append("lost: what was there before")
    told = not done.killed and done.status == 0
    if told and name == "performer add" and len(people) != 2:
        found.append("lost: acknowledged and not there")
    if "kept" in done.out and name.startswith("keep") and len(kept) != _SOUNDS + 1:
        found.append("lost: acknowledged and not there")
    if "judged" in done.out and judged != 2:
        found.append("lost: acknowledged and not there")
    if told and name == "drill" and answered < 2:
        found.append("lost: acknowledged and not there")
    for path, size in kept:
        file = home / "recordings" / path
        if not file.is_file() or file.stat().st_size != size:
            found.append("lost: a recording without its file, or half of it")
    return found


def _orphans(home: Path) -> list[str]:
    """The files of recordings that no row names, after the journal was opened once more."""
    with closing(sqlite3.connect(home / "journal.sqlite3")) as raw:
        named = {row[0] for row in raw.execute("SELECT path FROM recording")}
    files = {
        p.relative_to(home / "recordings").as_posix() for p in (home / "recordings").rglob("*") if p.is_file()
    }
    return ["orphaned"] * len(files - named)


def _env(home: Path) -> dict[str, str]:
    return {**_ENV, "OFFBOOK_HOME": str(home)}


def _keep(sound: Path, judged: bool) -> int:
    """Keep a recording as `run --piece` does before it judges, and then a verdict.

    The hearing between the two writes nothing. What is acknowledged is printed at once.
    """
    from offbook.desk import opened_journal, record_run
    from offbook.journal import keep_recording, newest_version, pieces_of
    from tests.journals import Clock, facts, run_with

    with opened_journal() as journal:
        with journal.reading() as conn:
            found = next(p for p in pieces_of(conn) if p.name == "The lamp")
            text = newest_version(conn, found.id)
        kept = keep_recording(journal, found, sound)
        print("kept", flush=True)
        if judged and text is not None:
            told = facts(Clock(journal.clock()), recording_id=kept.id)
            record_run(journal, found, text, run_with(text.words), told)
            print("judged", flush=True)
    return 0


def _drill(args: list[str]) -> int:
    """A sitting of typed drills: four answers, then the end."""
    from offbook.cli import main

    sys.stdin = io.StringIO("the lamp was lit\n\nnobody asked\n\nq\n")
    try:
        main(args)
    except SystemExit as e:
        return e.code if isinstance(e.code, int) else 1
    return 0


def _must(done: Outcome) -> None:
    if done.status != 0:
        raise SystemExit(f"{' '.join(done.args)} ended with {done.status}: {done.err[-500:]}")
