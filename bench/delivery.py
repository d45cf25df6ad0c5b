"""How well the statement on a shift tells real boundaries from other places between words.

    python bench/delivery.py FOLDER [--same A,B ...] [--changed]

FOLDER has recordings of people who read, each with its text beside it (`a.txt` and `a.wav`, `a.mp3`, ...).
`--same prose_2,prose_3` says that these were read by one person; every other recording counts as a reader
of its own. Each recording is heard once, and what was heard is kept in `.delivery-bench/` in the current
folder.

It prints the area under the curve for sentence ends, strong stops, commas and verse line ends, each against
the places without any mark: with weights that were fitted to the other readers, with the weights in use,
and for each cue alone. It also prints the weights that a fit to all readers gives, and how long the
measuring takes in addition to the hearing.

With `--changed` every recording is also written in other ways (20 dB softer, at other sampling rates, as
Opus at a low rate, with white noise 20 dB below the voice), and heard and measured again. It then counts
the statements at the marked places that stay the same, and those that stay the same or change by one step.
"""

from __future__ import annotations

import argparse
import pickle
import re
import time
from collections.abc import Callable, Iterator, Sequence
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from offbook import audio
from offbook.delivery import SpokenWord
from offbook.delivery.edges import EdgeCues, cues_at_edges
from offbook.delivery.level import level_track
from offbook.delivery.pitch import pitch_track
from offbook.delivery.statement import (
    CueName,
    SpeakerUsual,
    boundary_chance,
    evidence_of,
    statement_at,
    usual_of,
    weight_of,
)
from offbook.delivery.take_review import TOP_HZ
from offbook.desk import listen
from offbook.desk.delivery_review import spoken_words
from offbook.sampling import SAMPLE_RATE

KEPT = Path(".delivery-bench")
SOUNDS = (".wav", ".flac", ".mp3", ".ogg", ".m4a")
CUES = ("pause", "lengthening", "pitch_reset", "level_reset")
KINDS = ("sentence", "strong", "comma", "line")
FITTED: tuple[CueName, ...] = (
    "pause",
    "lengthening",
    "loudness",
)  # the weight of pitch is set by hand: see offbook.delivery.statement
RIDGE = 1e-3
STEPS = ("not heard", "slight", "heard")


def area(yes: Sequence[float], no: Sequence[float]) -> float:
    """The area under the receiver operating characteristic; a tie counts half."""
    a, b = np.array(yes)[:, None], np.array(no)[None, :]
    return float(((a > b).sum() + 0.5 * (a == b).sum()) / (len(yes) * len(no)))


def kind_of(gap: str, line_end: bool) -> str:
    """What is printed between two words of a text."""
    if re.search(r"[.?!]", gap):
        return "sentence"
    if re.search(r"[;:\u2013\u2014]|--", gap):
        return "strong"
    return "comma" if "," in gap else "line" if line_end else "none"


class Reading:
    """One recording: its samples, its words, and what is measured between each two of them."""

    def __init__(self, text: Path, sound: Path) -> None:
        kept = KEPT / f"{sound.stem}.pickle"
        if not kept.is_file():
            KEPT.mkdir(exist_ok=True)
            heard = listen(str(text), str(sound))
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
        began = time.process_time()
        tracks = pitch_track(self.samples, SAMPLE_RATE), level_track(self.samples, SAMPLE_RATE, TOP_HZ)
        self.edges: tuple[EdgeCues, ...] = cues_at_edges(self.words, *tracks)
        self.spent = time.process_time() - began
        self.usual: SpeakerUsual = usual_of(
            self.edges, {i for i, kind in self.kinds.items() if kind != "none"}
        )

    def told(self) -> dict[int, str]:
        """The statement at every edge that carries a mark, by the word it comes before."""
        return {
            e.before_word: statement_at(e.before_word, 2, e, self.usual).audible
            for e in self.edges
            if self.kinds[e.before_word] != "none"
        }

    def values(self) -> tuple[NDArray[np.float64], NDArray[np.float64], list[str]]:
        """Of each edge the fitted cues without their weights, what the hand-set one adds, and its kind."""
        evidence = [evidence_of(e, self.usual) for e in self.edges]
        fitted = np.array([[x[c] / weight_of(c) for c in FITTED] for x in evidence])
        return (
            fitted,
            np.array([x["pitch"] for x in evidence]),
            [self.kinds[e.before_word] for e in self.edges],
        )


def fitted_weights(readings: Sequence[Reading]) -> NDArray[np.float64]:
    """A constant and the weight of each of `FITTED`, by logistic regression; both classes weigh the same."""
    parts = [r.values() for r in readings]
    x = np.concatenate([np.column_stack([np.ones(len(p[0])), p[0]]) for p in parts])
    given = np.concatenate([p[1] for p in parts])
    y = np.array([kind != "none" for p in parts for kind in p[2]], float)
    weight = np.where(y > 0, 0.5 / y.mean(), 0.5 / (1 - y.mean()))
    beta = np.zeros(x.shape[1])
    for _ in range(50):  # Newton's steps
        p = 1 / (1 + np.exp(-x @ beta - given))
        slope = x.T @ (weight * (y - p)) - RIDGE * beta
        bend = (x * (weight * p * (1 - p))[:, None]).T @ x + RIDGE * np.eye(len(beta))
        beta = beta + np.linalg.solve(bend, slope)
    return beta


Scores = dict[str, list[float]]  # by the kind of edge


def told_areas(what: str, scores: Scores) -> None:
    """Print one line of areas."""
    told = [f"{k} {area(scores[k], scores['none']):.3f} ({len(scores[k])})" for k in KINDS if scores.get(k)]
    print(f"{what:28} {'  '.join(told)}")


def merged(parts: Sequence[Scores]) -> Scores:
    """The scores of several readers together."""
    return {k: [v for p in parts for v in p.get(k, [])] for k in (*KINDS, "none")}


def left_out(people: dict[str, list[Reading]]) -> None:
    """Print the areas of each reader with weights fitted to the others, then the areas of all these scores."""
    found = []
    for name, own in people.items():
        beta = fitted_weights([r for other, rs in people.items() if other != name for r in rs])
        scores: Scores = {}
        for r in own:
            fitted, given, kinds = r.values()
            for kind, value in zip(kinds, beta[0] + fitted @ beta[1:] + given, strict=True):
                scores.setdefault(kind, []).append(float(value))
        told_areas(f"left out: {name}", scores)
        found.append(scores)
    told_areas("left out, together", merged(found))


def alone(readings: Sequence[Reading], value: Callable[[EdgeCues, SpeakerUsual], float | None]) -> Scores:
    """One value at every place between words, by the kind of the place."""
    scores: Scores = {}
    for r in readings:
        for e in r.edges:
            if (x := value(e, r.usual)) is not None:
                scores.setdefault(r.kinds[e.before_word], []).append(x)
    return scores


def cue_of(cue: str, edge: EdgeCues, usual: SpeakerUsual) -> float | None:
    """One cue as it was measured."""
    value: float | None = getattr(edge, cue)
    return value


def write(path: Path, samples: NDArray[np.float32], rate: int, codec: str, bits: int | None = None) -> None:
    """Write a recording with FFmpeg's libraries. samples: at `rate` Hz; bits: a second, of a lossy codec."""
    import av

    with av.open(str(path), "w") as out:
        stream: Any = out.add_stream(codec, rate=rate)
        stream.layout = "mono"
        if bits is not None:
            stream.bit_rate = bits
        for k in range(0, len(samples), rate):
            block = np.ascontiguousarray((np.clip(samples[k : k + rate], -1, 1) * 32767).astype("<i2"))
            frame = av.AudioFrame.from_ndarray(block[None, :], format="s16", layout="mono")
            frame.sample_rate, frame.pts = rate, k
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))


def at_rate(samples: NDArray[np.float32], rate: int) -> NDArray[np.float32]:
    """The samples brought from `SAMPLE_RATE` to another rate by FFmpeg."""
    import av

    resampler = av.AudioResampler("s16", "mono", rate)
    block = np.ascontiguousarray((np.clip(samples, -1, 1) * 32767).astype("<i2"))
    frame = av.AudioFrame.from_ndarray(block[None, :], format="s16", layout="mono")
    frame.sample_rate = SAMPLE_RATE
    parts = [f.to_ndarray()[0] for f in [*resampler.resample(frame), *resampler.resample(None)]]
    return np.asarray(np.concatenate(parts) / 32768, np.float32)


def changed(plain: Reading, name: str) -> Iterator[tuple[str, Path]]:
    """The recording written in other ways: for each, what was done and the file."""
    dice = np.random.default_rng(1)
    sound = plain.samples
    loud = float(np.sqrt((sound**2).mean()))
    noise = dice.normal(0, loud / 10, sound.size).astype(np.float32)  # 20 dB below
    for what, samples, rate, codec, bits, end in (
        ("20 dB softer", sound * np.float32(0.1), SAMPLE_RATE, "pcm_s16le", None, "wav"),
        ("44.1 kHz", at_rate(sound, 44_100), 44_100, "pcm_s16le", None, "wav"),
        ("8 kHz", at_rate(sound, 8_000), 8_000, "pcm_s16le", None, "wav"),
        ("Opus, 16 kbit/s", at_rate(sound, 48_000), 48_000, "libopus", 16_000, "ogg"),
        ("noise 20 dB below", sound + noise, SAMPLE_RATE, "pcm_s16le", None, "wav"),
    ):
        path = KEPT / f"{name}~{re.sub('[^0-9a-z]+', '_', what.lower())}.{end}"
        if not path.is_file():
            write(path, samples, rate, codec, bits)
        yield what, path


def same_statements(readings: dict[str, Reading], texts: dict[str, Path]) -> None:
    """Print for each change how many statements stay as they were."""
    same: dict[str, list[int]] = {}
    for name, plain in readings.items():
        before = plain.told()
        for what, path in changed(plain, name):
            after = Reading(texts[name], path).told()
            for i in before.keys() & after.keys():
                same.setdefault(what, []).append(abs(STEPS.index(before[i]) - STEPS.index(after[i])))
            print(
                f"  {name}, {what}:",
                *(
                    f"{i} {before[i]}, then {after[i]}"
                    for i in sorted(before)
                    if i in after and before[i] != after[i]
                ),
                *(f"{i} not measured" for i in sorted(before) if i not in after),
            )
    for what, steps in same.items():
        print(f"{what:20} the same {steps.count(0)} of {len(steps)}; two steps apart {steps.count(2)}")


def main() -> None:
    """Print the areas and, with `--changed`, the statements that change."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    asked.add_argument("folder", type=Path)
    asked.add_argument("--same", action="append", default=[], metavar="A,B")
    asked.add_argument("--changed", action="store_true")
    given = asked.parse_args()
    sounds = sorted(
        p for p in given.folder.iterdir() if p.suffix in SOUNDS and p.with_suffix(".txt").is_file()
    )
    readings = {p.stem: Reading(p.with_suffix(".txt"), p) for p in sounds}
    reader = {name: group.split(",")[0] for group in given.same for name in group.split(",")}
    people: dict[str, list[Reading]] = {}
    for name, reading in readings.items():
        people.setdefault(reader.get(name, name), []).append(reading)
    left_out(people)
    everybody = list(readings.values())
    told_areas("the weights in use", alone(everybody, boundary_chance))
    for cue in CUES:
        told_areas(f"{cue} alone", alone(everybody, partial(cue_of, cue)))
        for name, own in people.items():
            told_areas(f"  {name}", alone(own, partial(cue_of, cue)))
    print("fitted on everybody: constant", *np.round(fitted_weights(everybody), 3), f"({', '.join(FITTED)})")
    seconds = sum(len(r.samples) / SAMPLE_RATE for r in everybody)
    print(f"measuring takes {sum(r.spent for r in everybody) / seconds:.3f} of the length in processor time")
    if given.changed:
        same_statements(readings, {p.stem: p.with_suffix(".txt") for p in sounds})


if __name__ == "__main__":
    main()
