"""How soon the notes of a live session are ready after the performer has stopped speaking.

    python bench/live_lag.py FOLDER [--only NAME,NAME] [--pace 1] [--chunk 0.1] [--one-ear]

FOLDER holds recordings with their texts, as for `bench/hearing.py`. Each is given to a `Listener` as a
microphone would give it, one chunk after the other, never before it would have been spoken. For each
recording it prints how far the feeding was behind the speaker at worst, how long after the last chunk the
notes were ready, and how long after the last word (after the end of it that was heard).
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

from hearing import Reading, installed, installed_second, page, readings

from offbook.hear import Listener
from offbook.notes import line_notes as notes
from offbook.recognise import Recogniser, WordingScorer
from offbook.sampling import BYTES_PER_SECOND


def lag(
    reading: Reading, recogniser: Recogniser, scorer: WordingScorer | None, chunk: float, pace: float
) -> tuple[float, float, float]:
    """In seconds: how far behind at worst, and from the last chunk and from the last word to the notes."""
    script, words = page(reading.lines)
    size = round(chunk * BYTES_PER_SECOND) // 2 * 2
    began, behind = time.perf_counter(), 0.0
    listener = Listener(words, recogniser, lines=script.lines, scorer=scorer)
    for at in range(0, len(reading.sound), size):
        part = reading.sound[at : at + size]
        due = began + (at + len(part)) / BYTES_PER_SECOND / pace
        time.sleep(max(0.0, due - time.perf_counter()))
        listener.feed(part)
        behind = max(behind, time.perf_counter() - due)
    over = time.perf_counter()
    run = listener.finish()
    notes.notes_on(script, words, run)
    done = time.perf_counter()
    last = max((w.end for w in run.words if w.end is not None), default=0.0)
    return behind, done - over, done - (began + last / pace)


def main() -> int:
    """The command line."""
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("folder", type=Path)
    ap.add_argument("--only", default="", help="recordings by name, separated by commas")
    ap.add_argument("--pace", type=float, default=1.0, help="times as fast as spoken")
    ap.add_argument("--chunk", type=float, default=0.1, help="seconds")
    ap.add_argument("--one-ear", action="store_true", help="without the second ear")
    args = ap.parse_args()
    found = list(readings(args.folder, [n for n in args.only.split(",") if n]))
    if not found:
        sys.exit(f"no recordings with texts in {args.folder}")
    recogniser = installed(None)
    scorer = None if args.one_ear else installed_second(recogniser)
    print("recording             seconds  behind at worst  after the sound  after the last word")
    for reading in found:
        behind, sound, word = lag(reading, recogniser, scorer, args.chunk, args.pace)
        seconds = len(reading.sound) / BYTES_PER_SECOND
        print(f"{reading.name:20s} {seconds:8.1f} {behind:16.2f} {sound:16.2f} {word:20.2f}", flush=True)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
