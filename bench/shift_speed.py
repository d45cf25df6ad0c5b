"""What it costs to find the thought shifts: seconds and memory, for a short speech and for a very long one.

The text is the same invented paragraph again and again, so that the figures depend on its length alone.
`load` is the parser's own; `parse` and `weigh` are the two stages after it.

    python bench/shift_speed.py [--words 800 50000]
"""

from __future__ import annotations

import argparse
import resource
import time

from offbook.script import parse_script
from offbook.thoughts import parse_words, shifts_of
from offbook.thoughts.parse import pipeline
from offbook.words import words_of

PARAGRAPH = """My father kept the lamp, but he never kept a diary. When the wind came from the north,
which it did most nights, he climbed the stair before anyone called him. Why did he do it? Because the
boats were out. He was not a brave man; he was a careful one, and the careful are up late.

"""


def main() -> None:
    """Print a line for each length."""
    arguments = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    arguments.add_argument("--words", type=int, nargs="+", default=[800, 50_000])
    lengths: list[int] = arguments.parse_args().words
    start = time.perf_counter()
    pipeline()
    print(f"load {time.perf_counter() - start:.2f} s")
    for n in lengths:
        script = parse_script(PARAGRAPH * (n // len(PARAGRAPH.split()) + 1), title="lamp")
        words = words_of(script)[:n]
        begin = time.perf_counter()
        parse_words(script, words)
        parsed = time.perf_counter()
        shifts = shifts_of(script, words)
        done = time.perf_counter()
        memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(
            f"{len(words)} words: parse {parsed - begin:.2f} s, weigh {done - parsed:.2f} s, "
            f"{len(shifts)} shifts, peak {memory:.0f} MB"
        )


if __name__ == "__main__":
    main()
