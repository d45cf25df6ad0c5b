"""How long `offbook.verse.scan` takes for 4,000 lines of verse, after the script was read.

    python bench/scan_speed.py [LINES]

It prints the seconds for loading the bytes of the dictionary, for the words and for the scan, and the lines
a second. The lines are invented at random from a fixed seed, so that hardly two are alike and no result of
an earlier line can be used again.
"""

from __future__ import annotations

import random
import sys
import time

from offbook.lexicon import phones_of
from offbook.script import parse_script
from offbook.verse import scan
from offbook.words import words_of

_SMALL = "the a of and in to with my thy his for on at by or that when so is was"
_NOUNS = """
morning river mountain heart sorrow kingdom window shadow voice lantern harbour summer stone garden feather
silver winter orchard memory sailor hollow tower candle thunder meadow whisper evening
"""
_VERBS = "gathers wandered carried follow answered trembles lingered remember keeps holds sings fell"
_ADJECTIVES = "bright golden weary silent broken heavenly slow dark glorious hidden tender cold every"


def _line(rng: random.Random) -> str:
    words: list[str] = []
    while sum(len(w) for w in words) < 34:
        words += [rng.choice(kind.split()) for kind in (_SMALL, _ADJECTIVES, _NOUNS)]
        if rng.random() < 0.5:
            words.append(rng.choice(_VERBS.split()))
    return " ".join(words).capitalize() + rng.choice([",", "", ";", "."])


def main() -> None:
    """Print the times."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 4000
    rng = random.Random(1609)
    text = "\n".join(_line(rng) for _ in range(count)) + "\n"
    start = time.perf_counter()
    phones_of("time")
    loaded = time.perf_counter()
    script = parse_script(text)
    words = words_of(script)
    ready = time.perf_counter()
    before = time.process_time()
    found = scan(script, words)
    done, spent = time.perf_counter(), time.process_time() - before
    scanned = len([s for s in found.lines if s is not None])
    print(f"dictionary {loaded - start:.2f} s, script and words {ready - loaded:.2f} s")
    print(f"scan {done - ready:.2f} s ({spent:.2f} s of processor) for {scanned} of {count} lines")


if __name__ == "__main__":
    main()
