"""The whole harm campaign: thousands of scripts, recordings, archives and kills, with counts.

    .venv/bin/python bench/harm_campaign.py scripts=10000 recordings=2000 archives=1000 kills=300 --seed 7

Each part prints what went wrong and with which input, and its counts at the end. Inputs that did harm are
kept in the folder `--keep`. The exit status is 1 if anything went wrong.
"""

from __future__ import annotations

import argparse
import contextlib
import random
import shutil
import sqlite3
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from harm import kills, recordings, scripts
from harm.forge import Built, forge
from harm.server import Counts, folder, run, warm

from offbook.thoughts.parse import pipeline

# A few of the scripts are marked and fitted too, which takes the parser of sentences.
_MARKED = 25


def bombs_part(count: int, rng: random.Random, counts: Counts) -> None:
    """Up to `count` small documents that unpack to something huge."""
    with folder() as made:
        for path, what in scripts.bombs(made)[:count]:
            counts.take(run(["read", str(path)]), what, path)
            path.unlink()


def scripts_part(count: int, rng: random.Random, counts: Counts) -> None:
    """Mutated scripts of every format."""
    whole = scripts.seeds()
    with folder() as made:
        for n in range(count):
            path, what = scripts.mutated(rng, whole, made)
            args = ["read", str(path)]
            if n % _MARKED == 0:
                args = [rng.choice(("mark", "fit")), str(path), "--json", "--part", "all"]
                args += ["--limit", "1:00"] if args[0] == "fit" else []
            elif n % 3 == 0:
                args.append("--json")
            counts.take(run(args), what, path)
            path.unlink()


def recordings_part(count: int, rng: random.Random, counts: Counts) -> None:
    """Mutated recordings of every container, given to `offbook check`."""
    whole = recordings.seeds()
    with folder() as made:
        (made / "other.wav").write_bytes(whole[0][1])
        for _ in range(count):
            path, what = recordings.mutated(rng, whole, made)
            counts.take(run(["check", str(path)]), what, path)
            path.unlink()


def archives_part(count: int, rng: random.Random, counts: Counts) -> None:
    """Forged archives, imported into a journal that has recordings of its own."""
    with folder() as made:
        model, base = _journals(made)
        for n in range(count):
            home, path = made / f"home{n}", made / f"{n}.zip"
            what = forge(rng, base, path)
            shutil.copytree(model, home)
            env = {"OFFBOOK_HOME": str(home), "OFFBOOK_NOW": "2026-11-30T18:00:00+00:00 1"}
            before = {p: p.read_bytes() for p in (home / "recordings").rglob("*") if p.is_file()}
            done = run(["import", str(path)], env)
            wrong = ["lost" for p, data in before.items() if not p.is_file() or p.read_bytes() != data]
            with contextlib.closing(sqlite3.connect(home / "journal.sqlite3")) as raw:
                named = {row[0] for row in raw.execute("SELECT path FROM recording")}
            files = (p for p in (home / "recordings").rglob("*") if p.is_file())
            wrong += ["orphaned" for p in files if p.relative_to(home / "recordings").as_posix() not in named]
            if done.status != 1:
                for args in (["piece", "list"], ["class"], ["today"], ["export", str(made / "again.zip")]):
                    after = run(args, env)
                    wrong += [f"{args[0]} afterwards: {fault}" for fault in after.faults()]
                (made / "again.zip").unlink(missing_ok=True)
            counts.take(done, what, path, wrong)
            shutil.rmtree(home)
            path.unlink()


def journals_part(count: int, rng: random.Random, counts: Counts) -> None:
    """Journals that were damaged on the disk: some bytes of the file were changed."""
    with folder() as made:
        model, _ = _journals(made)
        whole = (model / "journal.sqlite3").read_bytes()
        for n in range(count):
            home = made / f"home{n}"
            home.mkdir(0o700)
            harmed = bytearray(whole)
            for _ in range(rng.choice((1, 20, 400))):
                harmed[rng.randrange(len(harmed))] = rng.randrange(256)
            file = home / "journal.sqlite3"
            file.write_bytes(harmed)
            file.chmod(0o600)
            for args in (
                ["piece", "list"],
                ["class"],
                ["progress", "The lamp"],
                ["export", str(made / "e.zip")],
            ):
                done = run(args, {"OFFBOOK_HOME": str(home), "OFFBOOK_NOW": "2026-11-30T18:00:00+00:00 1"})
                counts.take(done, f"{args[0]} of a damaged journal", file)
            (made / "e.zip").unlink(missing_ok=True)
            shutil.rmtree(home)


def _journals(made: Path) -> tuple[Path, Built]:
    """A journal with a row in every table, and the archive of another one."""
    from tests.journals import full_desk

    here = full_desk(made / "here", made / "take.wav")
    here.journal.close()
    there = full_desk(made / "there", made / "take.wav")
    there.journal.close()
    # the same people on both machines: what is forged meets what is there
    run(["export", str(made / "here.zip")], {"OFFBOOK_HOME": str(made / "here")})
    run(["performer", "set", "Mara", "--name", "Nora"], {"OFFBOOK_HOME": str(made / "here")})
    run(["export", str(made / "there.zip")], {"OFFBOOK_HOME": str(made / "there")})
    return made / "here", Built.of(made / "there.zip")


def kills_part(
    count: int, rng: random.Random, counts: Counts, names: Sequence[str] = tuple(kills.COMMANDS)
) -> None:
    """Kills at random moments of every command that writes, or of the commands in `names`."""
    with folder() as made:
        desk = kills.prepared(made, names)
        for n in range(count):
            name, done, wrong = kills.wrong_after(desk, rng, n)
            counts.inputs += 1
            counts.statuses[done.status] += 1
            counts.faults.update(wrong)
            for each in wrong:
                print(f"kills {n}: {each}: {name}", flush=True)


PARTS: dict[str, Callable[[int, random.Random, Counts], None]] = {
    "bombs": bombs_part,
    "scripts": scripts_part,
    "recordings": recordings_part,
    "archives": archives_part,
    "journals": journals_part,
    "kills": kills_part,
}


def main() -> int:
    """Run the parts that are named, each with its number of inputs."""
    reader = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    reader.add_argument("parts", nargs="*", default=[], metavar="PART=COUNT")
    reader.add_argument("--seed", type=int, default=1)
    reader.add_argument("--keep", type=Path, default=Path("harm_kept"))
    asked = reader.parse_args()
    wanted = asked.parts or [
        "bombs=20",
        "scripts=10000",
        "recordings=2000",
        "archives=1000",
        "journals=500",
        "kills=300",
    ]
    warm(["offbook.thoughts", "offbook.cli.mark", "offbook.cli.fit", "offbook.cli.plan", "offbook.cli.drill"])
    pipeline()
    harmed = False
    for part in wanted:
        name, _, count = part.partition("=")
        counts = Counts(name, asked.keep / name)
        PARTS[name](int(count), random.Random(f"{asked.seed} {name}"), counts)
        print(counts.told(), flush=True)
        harmed = harmed or bool(counts.faults)
    return int(harmed)


if __name__ == "__main__":
    sys.exit(main())
