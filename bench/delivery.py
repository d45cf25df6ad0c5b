"""How well the statement on a shift tells real boundaries from other word edges, by readers left out in turn.

    python bench/delivery.py FOLDER [--fit]

FOLDER has recordings of people reading, each with its text beside it (`a.txt` and `a.wav`, `a.mp3`, ...). Names up
to the last underscore and number name the reader unless `--readers a=b,...` says otherwise. Each recording is
heard once (the hearing is kept in `.delivery-bench/` in the current folder). Prints the area under the curve for
sentence ends, strong stops, commas and verse line ends, for all cues together and for each alone, then, with
`--noise`, how many statements stay the same with noise 20 dB below the voice and at a tenth of the level.
"""

from __future__ import annotations

import argparse
import pickle
import re
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from offbook import audio
from offbook.delivery import SpokenWord
from offbook.delivery.edges import EdgeCues, cues_at_edges
from offbook.delivery.level import level_track
from offbook.delivery.pitch import pitch_track
from offbook.delivery.statement import boundary_chance, statement_at, usual_of
from offbook.desk import listen
from offbook.desk.delivery_review import spoken_words

KEPT = Path(".delivery-bench")
SOUNDS = (".wav", ".flac", ".mp3", ".ogg", ".m4a")
CUES = ("pause", "lengthening", "pitch_reset", "level_reset")


def area(yes: NDArray[np.float64], no: NDArray[np.float64]) -> float:
    """The area under the receiver operating characteristic; ties count half."""
    above = (yes[:, None] > no[None, :]).sum() + 0.5 * (yes[:, None] == no[None, :]).sum()
    return float(above / (len(yes) * len(no)))


def kind_of(gap: str, line_end: bool) -> str:
    """What stands between two words of a text."""
    if re.search(r"[.?!]", gap):
        return "sentence"
    if re.search(r"[;:\u2013\u2014]|--", gap):
        return "strong"
    return "comma" if "," in gap else "line" if line_end else "none"


class Reading:
    """One recording: its samples, its words, and what stands at each edge."""

    def __init__(self, sound: Path) -> None:
        kept = KEPT / f"{sound.stem}.pickle"
        if not kept.is_file():
            KEPT.mkdir(exist_ok=True)
            heard = listen(str(sound.with_suffix(".txt")), str(sound))
            samples = np.frombuffer(b"".join(audio.pcm(sound, sound=heard.sound)), "<i2")
            verse = {line.n for line in heard.script.lines if line.verse}
            kinds = {
                b.i: kind_of(heard.script.text[a.end : b.start], b.line != a.line and b.line in verse)
                for a, b in zip(heard.words, heard.words[1:], strict=False)
            }
            kept.write_bytes(pickle.dumps((samples, spoken_words(heard), kinds)))
        samples, words, kinds = pickle.loads(kept.read_bytes())
        self.words: tuple[SpokenWord, ...] = words
        self.kinds: dict[int, str] = kinds
        self.samples: NDArray[np.float32] = (samples / 32768).astype(np.float32)

    def edges(self, samples: NDArray[np.float32] | None = None) -> tuple[EdgeCues, ...]:
        sound = self.samples if samples is None else samples
        return cues_at_edges(self.words, pitch_track(sound, audio.RATE), level_track(sound, audio.RATE))

    def told(self, samples: NDArray[np.float32]) -> list[str]:
        """The statement at every edge that carries a mark."""
        edges = self.edges(samples)
        usual = usual_of(edges, {i for i, kind in self.kinds.items() if kind != "none"})
        return [
            statement_at(e.before_word, 2, e, usual).audible
            for e in edges
            if self.kinds[e.before_word] != "none"
        ]


def main() -> None:
    """Print the areas and, where asked, the statements that change."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    asked.add_argument("folder", type=Path)
    asked.add_argument("--noise", action="store_true")
    given = asked.parse_args()
    sounds = sorted(
        p for p in given.folder.iterdir() if p.suffix in SOUNDS and p.with_suffix(".txt").is_file()
    )
    readings = {p.stem: Reading(p) for p in sounds}
    values: dict[str, dict[str, list[float]]] = {}
    for name, reading in readings.items():
        edges = reading.edges()
        usual = usual_of(edges, {i for i, kind in reading.kinds.items() if kind != "none"})
        for e in edges:
            kind = reading.kinds[e.before_word]
            values.setdefault("together", {}).setdefault(kind, []).append(boundary_chance(e, usual))
            for cue in CUES:
                value = getattr(e, cue)
                if value is not None:
                    values.setdefault(cue, {}).setdefault(kind, []).append(value)
        print(f"{name}: {len(edges)} edges")
    for what, by_kind in values.items():
        told = [
            f"{kind} {area(np.array(by_kind[kind]), np.array(by_kind['none'])):.3f} ({len(by_kind[kind])})"
            for kind in ("sentence", "strong", "comma", "line")
            if by_kind.get(kind)
        ]
        print(f"{what:12} {'  '.join(told)}")
    if given.noise:
        same = count = 0
        dice = np.random.default_rng(1)
        for reading in readings.values():
            plain = reading.told(reading.samples)
            loud = float(np.sqrt((reading.samples**2).mean()))
            noise = dice.normal(0, loud / 10, reading.samples.size).astype(np.float32)  # 20 dB below
            for other in (reading.samples * np.float32(0.1), reading.samples + noise):
                same += sum(a == b for a, b in zip(plain, reading.told(other), strict=True))
                count += len(plain)
        print(f"the same statement softer and in noise: {same} of {count}")


if __name__ == "__main__":
    main()
