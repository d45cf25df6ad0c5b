"""A killer: it strikes at a random moment of every command that writes, and looks at what is left.

After each kill: SQLite finds nothing wrong, what was acknowledged before is there, no file in the folder of
recordings is without its row, no row without its file, and the command can be given again.
"""

from __future__ import annotations

import json
import random
import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from harm.scripts import SPEECH
from harm.server import Outcome, call, run

Command = Callable[[Path, int], list[str]]


@dataclass(frozen=True, slots=True)
class Desk:
    """A journal to be struck. model: copied anew for each strike. seconds: what each command takes, unhurt."""

    model: Path
    folder: Path
    seconds: dict[str, float]


def _script(folder: Path, changed: bool = False) -> str:
    path = folder / ("changed.txt" if changed else "script.txt")
    path.write_text(SPEECH.replace("rain", "sleet") if changed else SPEECH, encoding="utf-8")
    return str(path)


def _brief(folder: Path) -> str:
    path = folder / "brief.toml"
    path.write_text('name = "Saltmarrow Playhouse"\ndeadline = 2026-12-14\n', encoding="utf-8")
    return str(path)


# What each command is given; `n` makes its names new. The journal it is given to has Mara and her piece Tally.
COMMANDS: dict[str, Command] = {
    "performer add": lambda f, n: ["performer", "add", f"Nora{n}", "--zone", "UTC"],
    "performer set": lambda f, n: ["performer", "set", "Mara", "--minutes", str(5 + n % 90)],
    "performer delete": lambda f, n: ["performer", "delete", "Mara", "--yes"],
    "piece add": lambda f, n: ["piece", "add", _script(f), "--name", f"Piece{n}", "--date", "+20"],
    "piece revise": lambda f, n: ["piece", "revise", "Tally", _script(f, changed=True)],
    "piece set": lambda f, n: ["piece", "set", "Tally", "--limit", f"2:{n % 60:02d}"],
    "piece delete": lambda f, n: ["piece", "delete", "Tally", "--yes"],
    "piece forget": lambda f, n: ["piece", "forget", "Tally", "--all", "--yes"],
    "brief add": lambda f, n: ["brief", "add", _brief(f)],
    "export": lambda f, n: ["export", str(f / f"all{n}.zip")],
    "import": lambda f, n: ["import", str(f / "other.zip")],
    "keep": lambda f, n: ["keep", str(f / "take.wav")],
}
_ENV = {"OFFBOOK_NOW": "2026-11-30T18:00:00+00:00 1", "OFFBOOK_PERFORMER": ""}


def prepared(folder: Path) -> Desk:
    """A journal with a piece and three recordings, an archive of another's, and what each command takes."""
    model = folder / "model"
    (folder / "take.wav").write_bytes(random.Random(1).randbytes(6_000_000))
    for home, name in ((folder / "other", "Other"), (model, "Mara")):
        env = _env(home)
        _must(run(["performer", "add", name, "--zone", "UTC"], env))
        piece = "Tally" if name == "Mara" else "Theirs"
        _must(
            run(["piece", "add", _script(folder), "--name", piece, "--date", "+20", "--part", "MARGERY"], env)
        )
        for _ in range(3):
            _must(call(partial(_keep, folder / "take.wav", piece), ("keep",), env, None))
    _must(run(["export", str(folder / "other.zip")], _env(folder / "other")))
    seconds = {}
    for name in COMMANDS:
        home = folder / "timed"
        shutil.copytree(model, home)
        done = strike(name, 0, folder, home, None)
        _must(done)
        seconds[name] = done.wall
        shutil.rmtree(home)
    return Desk(model, folder, seconds)


def strike(name: str, n: int, folder: Path, home: Path, after: float | None) -> Outcome:
    """Give a command, and kill it after so many seconds."""
    args = COMMANDS[name](folder, n)
    if name == "keep":
        return call(lambda: _keep(Path(args[1]), "Tally"), tuple(args), _env(home), after)
    return run(args, _env(home), after)


def wrong_after(desk: Desk, rng: random.Random, n: int) -> tuple[str, Outcome, list[str]]:
    """Strike once; gives what was struck, how it ended and what is wrong with what is left."""
    name = rng.choice(sorted(COMMANDS))
    home = desk.folder / f"home{n}"
    shutil.copytree(desk.model, home)
    done = strike(name, n, desk.folder, home, rng.uniform(0, 1.1) * desk.seconds[name])
    wrong = _look(home, name, done)
    again = run(["piece", "list", "--json"], _env(home))
    if again.status != 0:
        wrong.append("lost: the journal opens no more")
    wrong += _orphans(home)
    if name not in ("performer delete", "piece delete", "piece forget"):
        gone = run(["performer", "delete", "Mara", "--yes"], _env(home))
        left = [p for p in (home / "recordings").rglob("*") if p.is_file() and _of_mara(home, p)]
        if gone.status != 0 or left:
            wrong.append("orphaned: deleting left something")
    shutil.rmtree(home)
    (desk.folder / f"all{n}.zip").unlink(missing_ok=True)
    return name, done, wrong


def _look(home: Path, name: str, done: Outcome) -> list[str]:
    with closing(sqlite3.connect(home / "journal.sqlite3")) as raw:
        found = []
        if raw.execute("PRAGMA integrity_check").fetchone() != ("ok",):
            found.append("lost: the file is damaged")
        if raw.execute("PRAGMA foreign_key_check").fetchall():
            found.append("lost: rows without their owners")
        people = {row[0] for row in raw.execute("SELECT name FROM performer")}
        kept = raw.execute("SELECT path, bytes FROM recording").fetchall()
    deleting = name in ("performer delete", "piece delete", "piece forget")
    if not deleting and ("Mara" not in people or len(kept) < 3):
        found.append("lost: what was there before")
    told = not done.killed and done.status == 0
    if told and name == "performer add" and len(people) != 2:
        found.append("lost: acknowledged and not there")
    if told and name == "keep" and len(kept) != 4:
        found.append("lost: acknowledged and not there")
    for path, size in kept:
        file = home / "recordings" / path
        if not file.is_file() or file.stat().st_size != size:
            found.append("lost: a recording without its file, or half of it")
    return found


def _orphans(home: Path) -> list[str]:
    """Files of recordings that no row names, after the journal was opened once more."""
    with closing(sqlite3.connect(home / "journal.sqlite3")) as raw:
        named = {row[0] for row in raw.execute("SELECT path FROM recording")}
    files = {
        p.relative_to(home / "recordings").as_posix() for p in (home / "recordings").rglob("*") if p.is_file()
    }
    return ["orphaned"] * len(files - named)


def _of_mara(home: Path, file: Path) -> bool:
    with closing(sqlite3.connect(home / "journal.sqlite3")) as raw:
        named = {row[0] for row in raw.execute("SELECT path FROM recording")}
    return file.relative_to(home / "recordings").as_posix() not in named


def _env(home: Path) -> dict[str, str]:
    return {**_ENV, "OFFBOOK_HOME": str(home)}


def _keep(sound: Path, piece: str) -> int:
    """Keep a recording as `run --piece` does before it judges: no hearing is needed to be struck there."""
    from offbook.desk import opened
    from offbook.journal import keep_recording, pieces

    with opened() as journal:
        with journal.reading() as conn:
            found = next(p for p in pieces(conn) if p.name == piece)
        print(json.dumps(keep_recording(journal, found, sound).id), flush=True)
    return 0


def _must(done: Outcome) -> None:
    if done.status != 0:
        raise SystemExit(f"{' '.join(done.args)} ended with {done.status}: {done.err[-500:]}")
