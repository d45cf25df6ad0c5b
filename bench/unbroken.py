"""Is it one unbroken take? Films with hard cuts, with cross-fades and with neither, and what offbook says
about each.

    python bench/unbroken.py [--films 50] [--seed 1] [--size 320x180] [--sound 30]

Each film is made here, and joined and encoded by FFmpeg's libraries (H.264 and AAC in MP4). Somebody stands
before a wall, sways, turns, throws up a hand now and then, and moves the mouth with a voice of noise; the
sensor is noisy, and the camera sets its exposure. A broken film changes once, at a random place, to another
stretch of the same person in the same room, with a hard cut or a fade of 0.4 s. With --sound the films last
so many seconds, and in every second one 0.3 to 0.9 s of the sound alone is cut out while the picture goes
on. It prints the hard cuts that are found within 0.1 s, the unbroken takes that are suspected, what is said
about fades, how often the shift between sound and picture is found rightly, and the processor time for each
second of film.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from pathlib import Path
from typing import Any, Literal

import av
import numpy as np
from numpy.typing import NDArray

from offbook.audio import film_facts_of

RATE, SOUND_RATE = 25, 16_000
FADE = 10  # pictures
Kind = Literal["hard", "fade", "none"]
Frames = NDArray[np.float64]  # (n, height, width), 0 to 1


def smooth(dice: np.random.Generator, n: int, seconds: float) -> NDArray[np.float64]:
    """A wandering value, about -1 to 1, that changes over `seconds`."""
    knots = dice.normal(0, 0.5, max(4, int(n / RATE / seconds) + 3))
    return np.interp(np.arange(n), np.linspace(0, n, len(knots)), knots)


def mouthing(dice: np.random.Generator, n: int) -> NDArray[np.float64]:
    """How open the mouth is, 0 to 1: syllables, four or five a second, with pauses between phrases."""
    out, at = np.zeros(n), 0
    while at < n:
        for _ in range(int(dice.integers(4, 14))):
            size = int(dice.integers(4, 8))
            rise = np.sin(np.linspace(0, np.pi, size)) * dice.uniform(0.4, 1)
            out[at : at + size] = rise[: max(0, min(size, n - at))]
            at += size
        at += int(dice.integers(5, 25))
    return out


def acted(
    dice: np.random.Generator, n: int, width: int, height: int, wall: Frames
) -> tuple[Frames, NDArray[np.float64]]:
    """Somebody who speaks, for n pictures; returns the pictures before this wall and how open the mouth is."""
    y, x = np.mgrid[0:height, 0:width] / height
    sway, nod = 0.05 * smooth(dice, n, 1.2), 0.02 * smooth(dice, n, 0.8)
    shift, mouth = dice.uniform(-0.12, 0.12), mouthing(dice, n)
    hand = np.full(n, 2.0)
    for at in dice.integers(0, n, int(n / RATE / 4) + 1):  # a gesture, up and down in half a second each
        rise = np.minimum(np.arange(n - at) / 12, 1) - np.clip((np.arange(n - at) - 30) / 12, 0, 1)
        hand[at:] = np.where(rise > 0, 1.1 - 0.6 * rise, hand[at:])
    breath = 1 + 0.02 * smooth(dice, n, 2.0)  # the exposure
    out = np.empty((n, height, width))
    for k in range(n):
        cx, cy = width / height / 2 + shift + sway[k], 0.42 + nod[k]
        face = ((x - cx) / 0.15) ** 2 + ((y - cy) / 0.2) ** 2 < 1
        body = ((x - cx) / 0.38) ** 2 + ((y - 1.05) / 0.42) ** 2 < 1
        lips = ((x - cx) / 0.05) ** 2 + ((y - cy - 0.1) / (0.008 + 0.035 * mouth[k])) ** 2 < 1
        arm = ((x - cx - 0.35) / 0.06) ** 2 + ((y - hand[k]) / 0.06) ** 2 < 1
        picture = wall.copy()
        for where, luma in ((body, 0.25), (face, 0.62), (lips, 0.2), (arm, 0.6)):
            picture[where] = luma
        out[k] = picture * breath[k]
    return out, mouth


def made(
    dice: np.random.Generator, kind: Kind, seconds: float, width: int, height: int
) -> tuple[Frames, NDArray[np.float64], float | None]:
    """A film, the strength of its voice for each picture, and the second at which it was joined."""
    n = round(seconds * RATE)
    y, x = np.mgrid[0:height, 0:width] / height
    wall = 0.45 + 0.15 * x - 0.1 * y + 0.05 * np.sin(9 * x + dice.uniform(0, 6))
    frames, mouth = acted(dice, n, width, height, wall)
    if kind == "none":
        return frames, mouth, None
    other, there = acted(dice, n, width, height, wall)
    at = int(dice.integers(n // 5, n - n // 5))
    mouth = np.concatenate([mouth[:at], there[at:]])
    if kind == "hard":
        return np.concatenate([frames[:at], other[at:]]), mouth, at / RATE
    share = np.clip((np.arange(n) - at) / FADE, 0, 1)[:, None, None]
    return frames * (1 - share) + other * share, mouth, at / RATE


def write(
    path: Path, frames: Frames, mouth: NDArray[np.float64], dice: np.random.Generator, late: float = 0.0
) -> Path:
    """Encode a film, with the noise of a sensor, and a voice of noise that comes `late` by so many seconds."""
    n, height, width = frames.shape
    with av.open(str(path), "w", options={"movflags": "faststart"}) as out:
        film: Any = out.add_stream("libx264", rate=RATE)
        film.width, film.height, film.pix_fmt = width, height, "yuv420p"
        film.codec_context.options = {"preset": "veryfast", "crf": "23"}
        sound: Any = out.add_stream("aac", rate=SOUND_RATE)
        sound.layout = "mono"
        for k in range(n):
            luma = np.clip(frames[k] + dice.normal(0, 0.02, (height, width)), 0, 1) * 219 + 16
            grey = np.full((height // 2, width), 128.0)
            picture = av.VideoFrame.from_ndarray(
                np.concatenate([luma, grey]).astype(np.uint8), format="yuv420p"
            )
            out.mux(film.encode(picture))
        out.mux(film.encode(None))
        at = np.arange(n * SOUND_RATE // RATE) / SOUND_RATE
        loud = np.interp(at - late, np.arange(n) / RATE, mouth, left=0, right=0)
        noise = dice.normal(0, 1, len(at)) * (0.1 * loud + 0.001)
        block = (np.clip(noise, -1, 1) * 32767).astype("<i2")[None, :]
        voice = av.AudioFrame.from_ndarray(block, format="s16", layout="mono")
        voice.sample_rate = SOUND_RATE
        out.mux(sound.encode(voice))
        out.mux(sound.encode(None))
    return path


def sound_alone(dice: np.random.Generator, films: int, seconds: float, width: int, height: int) -> None:
    """Films in which only the sound was cut, and whole films: what is said about each."""
    found = near = false = 0
    with tempfile.TemporaryDirectory() as folder:
        for n in range(2 * films):
            frames, mouth, _ = made(dice, "none", seconds, width, height)
            at, gone = int(dice.uniform(0.3, 0.7) * len(mouth)), int(dice.integers(8, 23))
            if n % 2:
                left = np.concatenate([mouth[:at], mouth[at + gone :], np.zeros(gone)])
            facts = film_facts_of(write(Path(folder) / f"{n}.mp4", frames, left if n % 2 else mouth, dice))
            assert facts is not None
            told = [j.at for j in facts.joins if "sound" in j.why]
            found, false = found + (n % 2 and bool(told)), false + (n % 2 == 0 and bool(told))
            near += n % 2 and any(abs(j - at / RATE) <= 4.0 for j in told)
    print(f"sound cut while the picture runs on: found {found} of {films}, within 4 s of its place {near}")
    print(f"films of {seconds:.0f} s that were whole and are suspected for their sound: {false} of {films}")


def main() -> None:
    """Make the films and print what is said of them."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    asked.add_argument("--films", type=int, default=50)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--seconds", type=float, default=10)
    asked.add_argument("--size", default="320x180")
    asked.add_argument("--sound", type=float, default=0, metavar="SECONDS")
    given = asked.parse_args()
    width, height = (int(v) for v in given.size.split("x"))
    dice = np.random.default_rng(given.seed)
    if given.sound:
        sound_alone(dice, given.films, given.sound, width, height)
        return
    kinds: tuple[Kind, ...] = ("hard", "fade", "none")
    found = dict.fromkeys(kinds, 0)
    false = likely = told = right = 0
    spent = 0.0
    with tempfile.TemporaryDirectory() as folder:
        for kind in kinds:
            for n in range(given.films):
                frames, mouth, at = made(dice, kind, given.seconds, width, height)
                late = float(dice.choice([-0.3, 0.0, 0.0, 0.4])) if kind == "none" else 0.0
                path = write(Path(folder) / f"{kind}{n}.mp4", frames, mouth, dice, late)
                began = time.process_time()
                facts = film_facts_of(path)
                spent += time.process_time() - began
                path.unlink()
                assert facts is not None
                if at is None:
                    found[kind] += bool(facts.joins)
                    likely += any(j.likelihood == "likely" for j in facts.joins)
                    told += facts.sound_late is not None
                    right += facts.sound_late is not None and abs(facts.sound_late - late) <= 0.06
                else:
                    found[kind] += any(
                        abs(j.at - at) <= 0.1 + (FADE / RATE if kind == "fade" else 0) for j in facts.joins
                    )
                    false += sum(abs(j.at - at) > 0.5 for j in facts.joins)
    count = given.films
    print(f"hard cuts found: {found['hard']} of {count}; elsewhere in broken films: {false} places")
    print(f"cross-fades found: {found['fade']} of {count}")
    print(f"unbroken takes suspected: {found['none']} of {count}, as likely {likely}")
    print(f"sound and picture: told of {told} of {count}, rightly {right}")
    print(
        f"{spent / (3 * count * given.seconds):.3f} s of processor time for each second of film, {given.size}"
    )


if __name__ == "__main__":
    main()
