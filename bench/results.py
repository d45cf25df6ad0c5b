"""Every figure of quality with its bench, its date and its machine: runs the benches and writes
docs/results.md.

    python bench/results.py                     those that need only the checkout; figures measured by hand are written too
    python bench/results.py metres unbroken     only these
    python bench/results.py --data FOLDER       also those that need outside data
    python bench/results.py NAME --printed FILE --commit C     from what a run of that commit has printed today
    python bench/results.py --list              what there is, and how long each takes

A row keeps its date until its bench is run again, so long benches can be run one at a time. If a page of
docs quotes a figure, `<!-- = NAME -->` is behind it, and a test compares the two. FOLDER holds
scansion/dev.tsv (lines scanned by hand), shifts/shifts.tsv (annotated discourse), turns/*.txt (speeches
with their turns marked) and listening/* (recordings, each with its text).
"""

from __future__ import annotations

import argparse
import os
import platform
import re
import subprocess
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

TOP = Path(__file__).resolve().parent.parent
PAGE = TOP / "docs" / "results.md"
COLUMNS = ("figure", "value", "what it says", "date", "commit", "machine", "command")
HEAD = """# Results

Every figure of quality that these pages quote, as the bench gave it: when, from which commit, on what machine and
with which command. `bench/results.py` writes this page; a row keeps its date until its bench is run again.
FOLDER stands for outside data (see that file). "By hand": a bench that takes hours, a browser or recordings, run by
hand with this command; its rows are typed into `BY_HAND` of that file. Tables on the pages that tell how a method
came about, step by step, are a record of trials and are not repeated here.

"""


@dataclass(frozen=True)
class Figure:
    """One figure. pattern: of what the bench prints, the figure is its first group; said: what it means."""

    name: str
    pattern: str
    said: str


@dataclass(frozen=True)
class Bench:
    """One command and its figures.

    typed: what comes after the interpreter; {data} stands for the folder of outside data. minutes: of
    processor time, roughly, on the machine of the table.
    """

    name: str
    typed: tuple[str, ...]
    minutes: float
    figures: tuple[Figure, ...]

    @property
    def outside(self) -> bool:
        """Whether the bench needs outside data."""
        return any("{data}" in part for part in self.typed)


@dataclass(frozen=True)
class HandRow:
    """A figure that was measured by hand, with the day, the commit, and what was typed."""

    name: str
    value: str
    said: str
    day: str
    commit: str
    typed: str

    def cells(self) -> list[str]:
        """The cells of its row in the table."""
        return [
            f"`{self.name}`", self.value, self.said, self.day, self.commit, "by hand, 2 cores", f"`{self.typed}`",
        ]  # fmt: skip


_COVERAGE = r"\nall\n.*\n(?:.*\n)*?\s+{runs}\s+\d+\s+\d+%\s+([\d.]+%)"
_COVERAGE_CHANCE = r"\nall\n.*\n(?:.*\n)*?\s+{runs}\s+\d+\s+\d+%\s+[\d.]+%\s+[\d.]+%\s+([\d.]+%)"
BENCHES = (
    Bench(
        "metres",
        ("bench/metres.py",),
        0.1,
        (
            Figure("metres.seen", r"odd, seen: (\d+ of \d+) right", "metres of passages looked at, right"),
            Figure("metres.kept", r"even, seen last: (\d+ of \d+) right", "metres of the other passages, right"),
            Figure("metres.new", r"new, took no part: (\d+ of \d+) right", "metres of passages that took no part, right"),
        ),
    ),
    Bench(
        "unbroken",
        ("bench/unbroken.py", "--films", "50", "--seed", "23"),
        3,
        (
            Figure("unbroken.cuts", r"hard cuts found: (\d+ of \d+)", "hard cuts found"),
            Figure("unbroken.fades", r"cross-fades found: (\d+ of \d+)", "cross-fades found"),
            Figure("unbroken.suspected", r"unbroken takes suspected: (\d+ of \d+)", "unbroken takes suspected"),
        ),
    ),
    Bench(
        "coverage",
        ("bench/forecast_coverage.py", "--learners", "15", "--lives", "8", "--seed", "9000"),
        4,
        (
            Figure("coverage.accuracy.2", _COVERAGE.format(runs=2), "accuracy within its range, two run-throughs"),
            Figure("coverage.chance.2", _COVERAGE_CHANCE.format(runs=2), "chance within its range, two run-throughs"),
        ),
    ),
    Bench(
        "mutants",
        ("bench/mutants.py", "--seed", "{seed}"),
        15,
        (Figure("mutants.caught", r"\n(\d+ of \d+) caught", "small faults that the quick tests notice, a new seed"),),
    ),
    Bench(
        "scansion",
        ("bench/fit_scansion.py", "{data}/scansion/dev.tsv"),
        10,
        (
            Figure("scansion.lines", r"poems left out, feet: lines ([\d.]+)", "lines scanned as by hand, per cent, poems left out"),
            Figure("scansion.syllables", r"poems left out, feet: .*?syllables ([\d.]+)", "syllables as by hand, per cent, poems left out"),
            Figure("scansion.counts", r"poems left out, feet: .*?counts ([\d.]+)", "lines with the right count, per cent, poems left out"),
            Figure("scansion.voice", r"poems left out, voice \(counts only\):.*counts ([\d.]+)", "lines marked for the voice with the right count, per cent, poems left out"),
        ),
    ),
    Bench(
        "shifts",
        ("bench/fit_shift_weights.py", "{data}/shifts/shifts.tsv", "--left-out"),
        6,
        (
            Figure("shifts.phrase", r"phrase edges, documents left out: F1 ([\d.]+)", "F1 of phrase edges, documents left out"),
            Figure("shifts.turn", r"turns inside paragraphs \(strong\): F1 ([\d.]+) left out", "F1 of turns inside paragraphs, documents left out"),
            Figure("shifts.contrast", r"turns inside paragraphs \(contrast\): F1 ([\d.]+) left out", "F1 of contrast, documents left out"),
        ),
    ),
    Bench(
        "marks",
        ("bench/shifts_left_out.py", "{data}/shifts/shifts.tsv"),
        20,
        (
            Figure("marks.phrase", r"all edge +left out .*F1 ([\d.]+)", "F1 of phrase edges, the whole marking, documents left out"),
            Figure("marks.thought", r"all thought +left out .*F1 ([\d.]+)", "F1 of thoughts, documents left out"),
            Figure("marks.verse", r"verse thought +left out .*F1 ([\d.]+)", "F1 of thoughts in verse, documents left out"),
            Figure("marks.strong", r"all strong +left out .*F1 ([\d.]+)", "F1 of strong breaks, documents left out"),
            Figure("marks.turn", r"all turn +left out .*F1 ([\d.]+)", "F1 of turns inside paragraphs, documents left out"),
            Figure("marks.contrast", r"all contrast +left out .*F1 ([\d.]+)", "F1 of contrast, documents left out"),
        ),
    ),
    Bench(
        "turns",
        ("bench/fit_turn_weights.py", "{data}/turns"),
        10,
        (
            Figure("turns.left_out", r"all, left out: .*F1 ([\d.]+)", "F1 of turns, speeches left out"),
            Figure("turns.verse", r"verse, left out: .*F1 ([\d.]+)", "F1 of turns in verse, speeches left out"),
            Figure("turns.prose", r"prose, left out: .*F1 ([\d.]+)", "F1 of turns in prose, speeches left out"),
            Figure("turns.seven", r"turns, left out: .*F1 ([\d.]+)", "F1 of turns in seven speeches that four others had read, left out"),
            Figure("turns.sure", r"left out, sure turns: ([\d.]+) of", "share of the sure turns that are right, speeches left out"),
            Figure("turns.open", r"left out, open turns: ([\d.]+) of", "share of the open turns that are right, speeches left out"),
        ),
    ),
)  # fmt: skip

_NOW, _LATE, _MIDDLE, _EARLY = "2026-11-30", "2026-11-29", "2026-11-26", "2026-11-25"
_HEARING, _SCHOOL = "bench/hearing.py FOLDER", "bench/school_cost.py --recordings 80"
BY_HAND = (
    HandRow("mutants.newest", "97 of 120", "small faults that the quick tests notice, drawn with the newest seed; nothing was mended for it", _NOW, "9673a0f", "bench/mutants.py --seed 61207"),
    HandRow("mutants.mended", "110 of 115", "the faults of an earlier draw (seed 21107, 85 of 120) after tests were written for what it missed; those that change nothing left out", _NOW, "73bc717", "bench/mutants.py --again FILE"),
    HandRow("hearing.near.six", "98.5", "small words swapped, found, per cent, six readings", _NOW, "9512f76", _HEARING),
    HandRow("hearing.near.eighteen", "99.0", "small words swapped, found, per cent, eighteen readings gathered later", _NOW, "de60752", _HEARING),
    HandRow("hearing.near.last", "98.9", "small words swapped, found, per cent, twenty-five readings gathered last", _NOW, "9512f76", _HEARING),
    HandRow("hearing.near.actors", "93.4", "small words swapped, found, per cent, actors whose lines another recogniser heard as printed", _NOW, "9512f76", _HEARING),
    HandRow("hearing.false.actors", "0.89", "words said that are called wrong, per cent, the same actors", _NOW, "9512f76", _HEARING),
    HandRow("hearing.false.nineteen", "0.09", "words said that are called wrong, per cent, nineteen other readings", _NOW, "80f8444+", _HEARING),
    HandRow("hearing.near.nineteen", "97.6", "small words swapped, found, per cent, nineteen other readings", _NOW, "80f8444+", _HEARING),
    HandRow("hearing.near.talk", "95.9", "small words swapped, found, per cent, talk", _NOW, "80f8444+", _HEARING),
    HandRow("hearing.processor", "1.68", "processor time of a run, times one bare pass, prose, idle", _NOW, "9512f76", "bench/run_cost.py FOLDER"),
    HandRow("hearing.wall", "1.08", "time of a run by the clock, times one bare pass, prose, idle", _NOW, "9512f76", "bench/run_cost.py FOLDER"),
    HandRow("hearing.lag", "0.30", "seconds from the last word to the notes, prose, one ear", _EARLY, "e280fc6", "bench/live_lag.py FOLDER --one-ear"),
    HandRow("hearing.lag.both", "1.11", "seconds from the last word to the notes, verse, both ears", _NOW, "de7d9e2", "bench/live_lag.py FOLDER"),
    HandRow("spliced.noticed", "215 of 216", "slips made in the sound that are noticed", _MIDDLE, "fe711c8", "bench/spliced.py FOLDER"),
    HandRow("spliced.right", "181 of 216", "slips made in the sound that are reported right in every word and note", _MIDDLE, "fe711c8", "bench/spliced.py FOLDER"),
    HandRow("spliced.both", "210 of 216", "slips made in the sound that are reported right in every word and note, both ears", _NOW, "9512f76", "bench/spliced.py FOLDER"),
    HandRow("spliced.others", "493 of 566", "the same in nineteen readings by other people, both ears", _NOW, "9512f76", "bench/spliced.py FOLDER"),
    HandRow("unknown.said", "96.2", "words outside the vocabulary, said, per cent", _EARLY, "e172b07", "bench/unknown_words.py FOLDER"),
    HandRow("unknown.caught", "95.9", "words outside the vocabulary, not said, caught, per cent", _EARLY, "e172b07", "bench/unknown_words.py FOLDER"),
    HandRow("sound.crowd", "0.00", "words said that are called wrong, per cent, crowd 10 dB below", _LATE, "9e1aabd", "bench/conditions.py --folder FOLDER"),
    HandRow("sound.room", "0.31", "words said that are called wrong, per cent, a room", _LATE, "9e1aabd", "bench/conditions.py --folder FOLDER"),
    HandRow("sound.telephone", "1.09", "words said that are called wrong, per cent, a telephone, one ear", _EARLY, "ede3df8", "bench/conditions.py --folder FOLDER"),
    HandRow("timing.inside", "96", "readings inside their range, per cent, readers left out", _LATE, "72af78d", "bench/fit_pace.py FOLDER"),
    HandRow("timing.width", "13", "half the width of the range, per cent, readers left out", _LATE, "72af78d", "bench/fit_pace.py FOLDER"),
    HandRow("forecast.brier", "0.202", "Brier score of the forecast, simulated learners", _EARLY, "a2c1929", "bench/forecast.py"),
    HandRow("forecast.base", "0.240", "Brier score of the base rate alone, the same learners", _EARLY, "a2c1929", "bench/forecast.py"),
    HandRow("forecast.calibration", "2.0", "calibration error of the forecast, per cent", _EARLY, "a2c1929", "bench/forecast.py"),
    HandRow("delivery.sentences", ".989", "area under the curve at sentence ends, readers left out", _LATE, "11a08a1", "bench/delivery.py FOLDER"),
    HandRow("delivery.commas", ".908", "area under the curve at commas, readers left out", _LATE, "11a08a1", "bench/delivery.py FOLDER"),
    HandRow("partner.place", "99.3", "tenths of a second at which the place is right, per cent, away from jumps", _LATE, "aff51fc+", "bench/following.py FOLDER"),
    HandRow("partner.jumps", "40 of 40", "jumps in the text found within 3 s", _LATE, "aff51fc+", "bench/following.py FOLDER"),
    HandRow("partner.dries", "16 of 16", "dries that were prompted, within 0.5 s of the silence chosen", _LATE, "aff51fc+", "bench/following.py FOLDER"),
    HandRow("school.hour", "506", "recordings of a minute an hour, a pool of two", _LATE, "9e1aabd", _SCHOOL),
    HandRow("school.two", "1.94", "two Dask workers, times one", _LATE, "9e1aabd", _SCHOOL),
    HandRow("journal.verdict", "6.8", "bytes a verdict in the journal, packed", _EARLY, "aaa6879", "bench/journal_cost.py"),
    HandRow("page.lag", "1.02", "seconds from the last word to the notes on the page, verse, idle", _LATE, "2509470", "bench/page_lag.py FOLDER"),
    HandRow("page.behind", "1.0", "seconds of sound at most not on disk yet, half an hour", _LATE, "b9cd849", "bench/page_long.py FOLDER"),
)  # fmt: skip


def rows_of(page: str) -> dict[str, list[str]]:
    """The rows of the table by the names of their figures, each with its cells."""
    cells = [
        [c.strip() for c in row.strip("|").split("|")] for row in page.splitlines() if row.startswith("|")
    ]
    return {row[0].strip("`"): row for row in cells[2:]}


def written(rows: Mapping[str, Sequence[str]]) -> str:
    """The page with these rows, in the order of the benches."""
    order = [f.name for bench in BENCHES for f in bench.figures] + [row.name for row in BY_HAND]
    rows = {**rows, **{row.name: row.cells() for row in BY_HAND}}
    lines = [COLUMNS, tuple("---" for _ in COLUMNS), *(rows[name] for name in order if name in rows)]
    return HEAD + "".join(f"| {' | '.join(line)} |\n" for line in lines)


def machine() -> str:
    """This machine in a few words: how many cores, and of which kind."""
    model = ""
    info = Path("/proc/cpuinfo")
    if info.exists():
        found = re.search(r"model name\s*: (.*)", info.read_text())
        model = " ".join(found[1].split()) if found else ""
    return f"{os.cpu_count()} cores, {model or platform.machine()}".replace("|", "/")


def commit() -> str:
    """The commit of the checkout, with a plus sign if files differ from it."""

    def asked(*typed: str) -> str:
        return subprocess.run(
            ["git", *typed], cwd=TOP, capture_output=True, text=True, check=True
        ).stdout.strip()

    return asked("rev-parse", "--short", "HEAD") + ("+" if asked("status", "--porcelain", "offbook") else "")


def run(bench: Bench, data: Path | None, seed: int) -> dict[str, list[str]]:
    """Run one bench now; returns its rows.

    Raises RuntimeError if it fails or does not print one of its figures.
    """
    typed = [part.format(data=data, seed=seed) for part in bench.typed]
    env = {**os.environ, "PYTHONPATH": str(TOP), "OMP_NUM_THREADS": "1"}
    done = subprocess.run([sys.executable, *typed], cwd=TOP, env=env, capture_output=True, text=True)
    if done.returncode:
        raise RuntimeError(f"{bench.name} failed: {done.stderr.strip().splitlines()[-1:]}")
    return rows_from(bench, done.stdout, command_of(bench, seed), today())


def rows_from(bench: Bench, printed: str, command: str, day: str, of: str = "") -> dict[str, list[str]]:
    """The rows of one bench, from what it printed. Raises RuntimeError if a figure is missing.

    of: the commit that was run, by default that of the checkout.
    """
    found: dict[str, list[str]] = {}
    for figure in bench.figures:
        match = re.search(figure.pattern, "\n" + printed)
        if match is None:
            raise RuntimeError(f"{bench.name} printed nothing for {figure.name}")
        value = match[1].strip()
        found[figure.name] = [
            f"`{figure.name}`",
            value,
            figure.said,
            day,
            of or commit(),
            machine(),
            f"`{command}`",
        ]
    return found


def command_of(bench: Bench, seed: int) -> str:
    """What was typed, as the table shows it."""
    return " ".join(bench.typed).format(data="FOLDER", seed=seed)


def today() -> str:
    """Today's date, as the table shows it."""
    return f"{datetime.now(UTC):%Y-%m-%d}"


def _kept(bench: Bench, printed: Path, of: str, seed: int) -> int:
    rows = rows_of(PAGE.read_text(encoding="utf-8")) if PAGE.exists() else {}
    text = printed.read_text(encoding="utf-8")
    rows |= rows_from(bench, text, command_of(bench, seed), today(), of)
    PAGE.write_text(written(rows), encoding="utf-8")
    return 0


def main() -> int:
    """The command line."""
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("names", nargs="*", help="only these benches")
    ask.add_argument("--data", type=Path, metavar="FOLDER", help="outside data")
    ask.add_argument("--printed", type=Path, metavar="FILE", help="what one bench printed, instead of a run")
    ask.add_argument("--commit", default="", help="the commit that run was of")
    ask.add_argument("--seed", type=int, default=1, help="for the sample of small faults")
    ask.add_argument("--list", action="store_true", help="name the benches and end")
    asked = ask.parse_args()
    known = {bench.name: bench for bench in BENCHES}
    if strange := [name for name in asked.names if name not in known]:
        ask.error(f"no bench is called {', '.join(strange)}: there are {', '.join(known)}")
    if asked.list:
        for bench in BENCHES:
            print(f"{bench.name:10} about {bench.minutes:g} min  {command_of(bench, asked.seed)}")
        return 0
    if asked.printed is not None:
        if len(asked.names) != 1:
            ask.error("name the one bench that printed this")
        return _kept(known[asked.names[0]], asked.printed, asked.commit, asked.seed)
    chosen = [known[n] for n in asked.names] or [b for b in BENCHES if asked.data or not b.outside]
    if asked.data is None and (outside := [b.name for b in chosen if b.outside]):
        ask.error(f"{', '.join(outside)}: outside data is needed, give its folder with --data")
    rows = rows_of(PAGE.read_text(encoding="utf-8")) if PAGE.exists() else {}
    failed = 0
    for bench in chosen:
        try:
            rows |= run(bench, asked.data, asked.seed)
        except RuntimeError as error:
            print(error, file=sys.stderr)
            failed += 1
            continue
        PAGE.write_text(written(rows), encoding="utf-8")
        print(f"{bench.name}: {', '.join(f'{f.name} {rows[f.name][1]}' for f in bench.figures)}", flush=True)
    return int(failed > 0)


if __name__ == "__main__":
    sys.exit(main())
