"""The demo: mark a verse speech, hear two recorded run-throughs, and check the notes against the truth.

    python corpus_demo/demo.py

The recordings were made with known slips (`planted.json`, `make_recordings.py`). Every note is compared
with them; the exit status is 1, and the differences are printed, unless exactly these were found.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

from offbook.cli.run import as_json
from offbook.cli.run_listen import listen
from offbook.cli.run_report import report
from offbook.errors import OffbookError

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
    rows = differences(as_json(run), expected)
    for row in rows:
        print(f"{name}: {row}", file=sys.stderr)
    as_planted = f"all {len(planted_in(expected))} planted facts found, and nothing else"
    print(f"\n{name}: {'NOT as planted' if rows else as_planted}", flush=True)
    return len(rows)


def main() -> int:
    """Run the demo; the exit status."""
    planted = json.loads((HERE / "planted.json").read_text(encoding="utf-8"))
    print("== offbook mark the_lamp.txt ==\n", flush=True)
    marked = subprocess.run([sys.executable, "-m", "offbook", "mark", "the_lamp.txt"], cwd=HERE)
    try:
        wrong = sum(heard(name, expected) for name, expected in planted.items())
    except OffbookError as e:
        print(f"offbook: {e.what}\n{e.do}", file=sys.stderr)
        return 1
    return 1 if wrong or marked.returncode else 0


if __name__ == "__main__":
    sys.exit(main())
