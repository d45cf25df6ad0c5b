"""Fit the layers of spread in `offbook.timing.spreads`, and say how the ranges hold for readers left out.

A folder holds `pieces.tsv` (piece, reader, seconds; also `occasion` if a reader was timed on several days,
otherwise the year with which the name of the piece begins, otherwise one occasion) and `text/PIECE.txt`. It
is not part of the project.

The method: the logarithms of all readings of one reader are taken to be normal, with a covariance that is
made of the layers (reader, occasion, text, moment). The sum of their log densities is maximised one
parameter after the other, in smaller and smaller steps. Because there are few readers, each parameter has a
weak prior around the value at which it starts. Then each reader is left out in turn and the layers are
fitted to the others. Each reading of that reader is predicted twice: from the preset, and from all the
reader's other readings, as if they were of one earlier occasion.

    python bench/fit_pace.py FOLDER [--spread-of-starts 0.4]
"""

from __future__ import annotations

import argparse
import csv
import math
import pathlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from offbook import script, timing
from offbook.timing import EarlierReading, Spreads, Tempo
from offbook.words import words_of

FITTED = ("voice", "occasion", "audience", "text", "moment")
STEPS = (0.2, 0.1, 0.05, 0.02)  # of a logarithm
SHORT, LONG = 20.0, 300.0  # seconds


@dataclass(frozen=True, slots=True)
class Timed:
    """One reading: the preset's seconds for its text, who read it, and on which occasion."""

    piece: str
    reader: str
    occasion: str
    plain: timing.Plain
    seconds: float

    @property
    def earlier(self) -> EarlierReading:
        """The reading as an earlier one of its reader, with nothing known of the day."""
        return EarlierReading(sum(self.plain.voiced), sum(self.plain.pauses), self.seconds, self.plain.tempo)


def timed_in(folder: pathlib.Path) -> list[Timed]:
    """The readings of a folder."""
    with (folder / "pieces.tsv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file, delimiter="\t", quoting=csv.QUOTE_NONE))
    found = []
    for row in rows:
        text = script.parse_script((folder / "text" / f"{row['piece']}.txt").read_text(encoding="utf-8"))
        year = row["piece"].partition("-")[0]
        occasion = row.get("occasion") or (year if year.isdigit() else "one")
        plain = timing.plain_of(text, words_of(text))
        found.append(Timed(row["piece"], row["reader"], occasion, plain, float(row["seconds"])))
    return found


def by_reader(timed: Sequence[Timed]) -> dict[str, list[Timed]]:
    """The readings of each reader."""
    found: dict[str, list[Timed]] = {}
    for t in timed:
        found.setdefault(t.reader, []).append(t)
    return found


def log_density(readings: Sequence[Timed], spreads: Spreads) -> float:
    """The log density of the logarithms of one reader's seconds around their presets."""
    shares = np.array([[sum(t.plain.voiced), sum(t.plain.pauses)] for t in readings])
    total = shares.sum(axis=1)
    shares = shares / total[:, None]
    presets = np.array([timing.PRESETS[t.plain.tempo] for t in readings])
    seconds = np.array([t.seconds for t in readings])
    miss = np.log(seconds / (presets * total))
    a, b, c = spreads.readers
    between = shares @ np.array([[a, b], [b, c]]) @ shares.T
    same = np.array([[x.occasion == y.occasion for y in readings] for x in readings])
    noise = np.diag([spreads.noise(s) for s in seconds])
    steady = np.array(
        [spreads.audience if t.plain.tempo == "address" else spreads.occasion for t in readings]
    )
    covariance = between + np.sqrt(np.outer(steady, steady)) * between * same + noise
    return float(
        -0.5 * (np.linalg.slogdet(2 * np.pi * covariance)[1] + miss @ np.linalg.solve(covariance, miss))
    )


def scaled(spreads: Spreads, name: str, factor: float) -> Spreads:
    """`spreads` with one layer wider; the pauses keep their proportion to the voice."""
    value = getattr(spreads, name) * factor
    if name == "voice":
        return replace(spreads, voice=value, pause=spreads.pause * factor)
    return replace(spreads, **{name: value})


def fitted(readers: Mapping[str, Sequence[Timed]], start: Spreads, looseness: float) -> Spreads:
    """The layers for which the readings are most likely.

    looseness: of the prior around `start`, on logarithms.
    """

    def worth(spreads: Spreads) -> float:
        prior = sum(math.log(getattr(spreads, n) / getattr(start, n)) ** 2 for n in FITTED)
        return sum(log_density(r, spreads) for r in readers.values()) - prior / (2 * looseness**2)

    best, most = start, worth(start)
    for step in STEPS:
        moved = True
        while moved:
            moved = False
            for name in FITTED:
                for sign in (-1, 1):
                    tried = scaled(best, name, math.exp(sign * step))
                    if (got := worth(tried)) > most + 1e-9:
                        best, most, moved = tried, got, True
    return best


@dataclass(frozen=True, slots=True)
class Foreseen:
    """A reading and its prediction. error: of the seconds, relative; width: half of the range, relative."""

    of: Timed
    error: float
    inside: bool
    width: float


def foreseen(t: Timed, pace: timing.Pace) -> Foreseen:
    """How reading `t` compares with what `pace` predicts."""
    time = timing.running_time(t.plain, pace)
    return Foreseen(
        t,
        abs(time.seconds / t.seconds - 1),
        time.low <= t.seconds <= time.high,
        (time.high - time.low) / 2 / time.seconds,
    )


def told(name: str, found: Sequence[Foreseen]) -> str:
    """One row of the table."""
    n = len(found)
    if not n:
        return f"{name:34} none"
    readers = by_reader([f.of for f in found])
    each = [np.mean([f.inside for f in found if f.of.reader == r]) for r in readers]
    return (
        f"{name:34}{n:5} readings  mean error {100 * sum(f.error for f in found) / n:5.1f} %  inside "
        f"{100 * sum(f.inside for f in found) / n:5.1f} %  by readers {100 * float(np.mean(each)):5.1f} %  "
        f"half width {100 * sum(f.width for f in found) / n:5.1f} %"
    )


def table(readers: Mapping[str, Sequence[Timed]], spreads: Mapping[str, Spreads]) -> None:
    """Print how well the readings of each reader are predicted with the layers of `spreads[reader]`."""
    preset, paced = [], []
    for reader, own in readers.items():
        for t in own:
            tempo: Tempo = t.plain.tempo
            preset.append(foreseen(t, timing.calibrate([], tempo, spreads[reader])))
            if others := [o.earlier for o in own if o is not t]:
                paced.append(foreseen(t, timing.calibrate(others, tempo, spreads[reader])))
    for name, found in (("preset", preset), ("after earlier readings", paced)):
        print(told(name, found))
        print(told(f"  under {SHORT:g} s", [f for f in found if f.of.seconds < SHORT]))
        print(told(f"  {SHORT:g} to {LONG:g} s", [f for f in found if SHORT <= f.of.seconds < LONG]))
        print(told(f"  over {LONG:g} s", [f for f in found if f.of.seconds >= LONG]))


def main() -> None:
    """Fit, leave readers out in turn, and print."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folder", type=pathlib.Path)
    parser.add_argument("--spread-of-starts", type=float, default=0.4, help="how loose the prior is")
    asked = parser.parse_args()
    readers = by_reader(timed_in(asked.folder))
    start, loose = Spreads(), asked.spread_of_starts
    print("in use ", start)
    print("fitted ", fitted(readers, start, loose))
    left_out = {
        reader: fitted({r: own for r, own in readers.items() if r != reader}, start, loose)
        for reader in readers
    }
    print("\nas in use")
    table(readers, dict.fromkeys(readers, start))
    print("\nlayers fitted without the reader")
    table(readers, left_out)


if __name__ == "__main__":
    main()
