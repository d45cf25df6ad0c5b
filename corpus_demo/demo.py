"""The demo: mark a verse speech, hear two recorded run-throughs, plan back from a deadline and log a take.

    python corpus_demo/demo.py

The recordings were made with known slips (`planted.json`, `make_recordings.py`). Every note is compared
with them, and every point of the take with what the brief `round_one.toml` was written to find; the exit
status is 1, and the differences are printed, unless exactly these were found.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from offbook.cli.run_report import report
from offbook.desk import listen, run_as_json
from offbook.errors import OffbookError
from offbook.models import store as models

HERE = Path(__file__).resolve().parent

# What was heard is the script's own words here, said again or read out.
_AS_IN_SCRIPT = ("repeated", "prompted")

Fact = tuple[str, ...]


def found_in(run: dict[str, Any], expected: dict[str, Any]) -> set[Fact]:
    """What a run reports, in the terms of `planted.json`. Unsure words are no claim, and not compared."""
    lined = any("line" in note for note in expected["notes"])
    facts: set[Fact] = {("dropped line", str(d["line"])) for d in run["dropped_lines"]}
    for n in run["notes"]:
        if n["kind"] != "unsure":
            heard = "" if n["kind"] in _AS_IN_SCRIPT else n["heard"]
            facts.add((n["kind"], str(n["line"]) if lined else "", n["script"], heard))
    for a in run["asides"]:
        if a["kind"] not in ("restart", "prompt"):  # these have their notes
            facts.add((a["kind"], run["words"][a["before_word"]]["text"], a["heard"]))
    return facts


def planted_in(expected: dict[str, Any]) -> set[Fact]:
    """What was planted, in the same terms."""
    facts: set[Fact] = {("dropped line", str(n)) for n in expected["dropped_lines"]}
    facts |= {(n["kind"], str(n.get("line", "")), n["script"], n.get("heard", "")) for n in expected["notes"]}
    return facts | {(a["kind"], a["before"], a["heard"]) for a in expected["asides"]}


def differences(run: dict[str, Any], expected: dict[str, Any]) -> list[str]:
    """One line for each planted slip that was missed and each note that nothing was planted for."""
    found, planted = found_in(run, expected), planted_in(expected)
    missed = [f"missed: {' | '.join(f)}" for f in sorted(planted - found)]
    return missed + [f"not planted: {' | '.join(f)}" for f in sorted(found - planted)]


def heard(name: str, expected: dict[str, Any]) -> int:
    """Hear one run-through, print its notes and how they compare; the number of differences."""
    print(f"\n== offbook run {expected['script']} {expected['recording']} ==\n", flush=True)
    run = listen(str(HERE / expected["script"]), str(HERE / expected["recording"]))
    report(run)
    rows = differences(run_as_json(run), expected)
    for row in rows:
        print(f"{name}: {row}", file=sys.stderr)
    as_planted = f"all {len(planted_in(expected))} planted facts found, and nothing else"
    print(f"\n{name}: {'NOT as planted' if rows else as_planted}", flush=True)
    return len(rows)


def sent(expected: dict[str, Any]) -> int:
    """Plan back from the brief's deadline and log a take for it, in a journal of its own; the differences."""
    with tempfile.TemporaryDirectory() as home:
        world = os.environ | {
            "OFFBOOK_HOME": home,
            "OFFBOOK_MODEL": str(models.model_folder()),
            "OFFBOOK_NOW": "2026-03-02T18:00:00+00:00",
            "OFFBOOK_JOURNAL": "",
        }

        def typed(*words: str, shown: bool = True) -> str:
            if shown:
                print(f"\n== offbook {' '.join(words)} ==\n", flush=True)
            command = [sys.executable, "-m", "offbook", *words]
            done = subprocess.run(command, cwd=HERE, env=world, stdout=subprocess.PIPE, text=True, check=True)
            if shown:
                print(done.stdout, end="", flush=True)
            return done.stdout

        typed("performer", "add", "Wren", "--zone", "Europe/London", shown=False)
        typed("piece", "add", expected["script"], shown=False)
        typed("brief", "add", "round_one.toml")
        typed("plan")
        take = ("take", "add", "full_house", expected["recording"], "--intention", expected["intention"])
        told = json.loads(typed(*take, "--json", shown=False))
        typed("take", "show", "full_house", "1")
        typed("take", "list", "full_house")
    found = [c["what"] for c in told["checks"] if c["met"] is False]
    if found != expected["not_met"]:
        print(f"take: not met {found}, written for {expected['not_met']}", file=sys.stderr)
        return 1
    print(f"\ntake: what the brief was written to find is not met ({', '.join(found)}), and nothing else")
    return 0


def main() -> int:
    """Run the demo; the exit status."""
    planted = json.loads((HERE / "planted.json").read_text(encoding="utf-8"))
    print("== offbook mark the_lamp.txt ==\n", flush=True)
    marked = subprocess.run([sys.executable, "-m", "offbook", "mark", "the_lamp.txt"], cwd=HERE)
    try:
        take = planted.pop("take")
        wrong = sum(heard(name, expected) for name, expected in planted.items()) + sent(take)
    except OffbookError as e:
        print(f"offbook: {e.what}\n{e.do}", file=sys.stderr)
        return 1
    except subprocess.CalledProcessError as e:
        return e.returncode  # it has said why
    print("\nEverything here without a terminal, in your own browser: .venv/bin/offbook page")
    return 1 if wrong or marked.returncode else 0


if __name__ == "__main__":
    sys.exit(main())
