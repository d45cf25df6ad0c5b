"""Sound as people have it: how many words truly said are called wrong, condition by condition.

Takes recordings of word-perfect readings with their texts (a folder of NAME.wav|mp3|flac|... and
NAME.txt, or pairs given one by one), makes each condition from them with PyAV and numpy alone (the same
bytes every time), runs `offbook run --json` on every one and prints the share of words called changed or
dropped (all false, since the reading is perfect), of unsure ones, and of added ones.

    python bench/conditions.py --folder DIR [--only room,noise10] [--jobs 1] [--keep OUT]
    python bench/conditions.py --recording A.wav --text A.txt

Conditions
  clean     as recorded
  room      a room of RT60 0.6 s: exponentially decaying noise after 4 ms, direct sound 0 dB over the
            reverberation; 60 dB decay in 0.6 s at low and mid frequencies, 0.4 s above 4 kHz
  noise20, noise10, noise5   pink noise and the murmur of a crowd (noise in the shape of speech, in
            syllables) this many dB below the active speech level (ITU-T P.56)
  street10  traffic, 6 dB an octave down, the same way
  hall10    room noise after Hoth (ITU-T P.800), the same way
  quiet     30 dB down, in 16 bit
  clipped   12 dB too loud for full scale
  phone     300-3,400 Hz, 8 kHz, mu-law (ITU-T G.711)
  opus16    Opus at 16 kbit/s in WebM, as a browser records
  dead      stereo with the voice on the left, the right one silent but for hum 60 dB down
  inverted  stereo with the right channel's polarity turned round
  music     slow chords under it, 15 dB below the voice
  fast      said half as fast again (these readings then at 200 to 270 words a minute)
  slow      said at three quarters of the tempo, with 2 s more in every pause
  whisper   the formants filled with noise, no voice
  shout     pitch and formants 15 % up, sounds a tenth longer, 5 dB an octave more above 500 Hz
"""

from __future__ import annotations

import argparse
import json
import math
import shlex
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import av
import numpy as np
from conditions_voice import at_tempo, effort, raised, whispered, with_long_pauses
from numpy.typing import NDArray

RATE = 48_000
Sound = NDArray[np.float64]  # (channels, n), full scale 1.0
KINDS = {".wav", ".mp3", ".flac", ".ogg", ".m4a", ".webm", ".opus"}


def read(path: Path) -> Sound:
    """`path` as one channel at `RATE`."""
    resampler = av.AudioResampler(format="fltp", layout="mono", rate=RATE)
    parts = []
    with av.open(str(path)) as container:
        for frame in container.decode(audio=0):
            parts += [out.to_ndarray() for out in resampler.resample(frame)]
    parts += [out.to_ndarray() for out in resampler.resample(None)]
    return np.concatenate(parts, axis=1).astype(np.float64)


def write(path: Path, sound: Sound, rate: int = RATE, codec: str = "pcm_s16le", bits: int = 0) -> None:
    """Encode `sound` (at `rate`) as `codec` into `path`; bits: bits a second, 0 for the codec's own."""
    with av.open(str(path), "w") as container:
        layout = "mono" if sound.shape[0] == 1 else "stereo"
        stream: Any = container.add_stream(codec, rate=rate, layout=layout)
        if bits:
            stream.bit_rate = bits
        whole = np.ascontiguousarray(np.clip(sound, -1, 32767 / 32768), dtype=np.float32)
        resampler = av.AudioResampler(format=stream.codec_context.format, layout=layout, rate=rate)
        for at in range(0, whole.shape[1], rate // 50):
            block = np.ascontiguousarray(whole[:, at : at + rate // 50])
            frame: Any = av.AudioFrame.from_ndarray(block, format="fltp", layout=layout)
            frame.sample_rate, frame.pts = rate, at
            for out in resampler.resample(frame):
                container.mux(stream.encode(out))
        container.mux(stream.encode(None))


def active_level(sound: Sound) -> float:
    """The active speech level as a root mean square, without the pauses (ITU-T P.56, method B).

    The constants are from memory. The envelope is made by two exponential averages of 30 ms with a hangover
    of 200 ms. The threshold that is 15.9 dB below the level of what exceeds it is interpolated between
    thresholds 3 dB apart.
    """
    lag = np.arange(int(0.4 * RATE)) / RATE / 0.03
    envelope = convolved(np.abs(sound[:1]), lag * np.exp(-lag) / 0.03 / RATE)[0][:: RATE // 1000]
    energy = float(np.sum(sound[0] ** 2))
    steps = np.arange(len(envelope))
    before: tuple[float, float] | None = None  # level of the active part, how far it is over the threshold
    for threshold in np.arange(-90.0, 0.0, 3.0):
        last = np.maximum.accumulate(np.where(envelope >= 10 ** (threshold / 20), steps, -1000))
        active = int(np.sum(steps - last <= 200))
        if active == 0:
            break
        level = 10 * math.log10(energy / (active * RATE / 1000))
        over = level - threshold
        if over <= 15.9 and before is not None:
            share = (before[1] - 15.9) / (before[1] - over)
            return float(10 ** ((before[0] + share * (level - before[0])) / 20))
        before = (level, over)
    raise ValueError("no voice in this sound")


def filtered(sound: Sound, gain: Callable[[NDArray[np.float64]], NDArray[np.float64]]) -> Sound:
    """`sound` with every frequency (Hz) multiplied by its `gain`, in one transform of the whole sound."""
    n = sound.shape[1]
    size = 1 << (n - 1).bit_length()
    spectrum = np.fft.rfft(sound, size) * gain(np.asarray(np.fft.rfftfreq(size, 1 / RATE)))
    return np.fft.irfft(spectrum, size)[:, :n]


def convolved(sound: Sound, response: NDArray[np.float64]) -> Sound:
    """`sound` as it is heard in a room with this impulse response, cut to its own length."""
    n = sound.shape[1]
    size = 1 << (n + len(response) - 1).bit_length()
    return np.fft.irfft(np.fft.rfft(sound, size) * np.fft.rfft(response, size), size)[:, :n]


def room_response(rt60: float, direct_db: float, seed: int) -> NDArray[np.float64]:
    """Direct sound, then noise decaying by 60 dB in `rt60` s (two thirds of it above 4 kHz)."""
    rng = np.random.default_rng(seed)
    n = int(1.2 * rt60 * RATE)
    t = np.arange(n) / RATE
    noise = rng.standard_normal((1, n))
    low = filtered(noise, lambda f: (f < 4000).astype(float))[0] * 10 ** (-3 * t / rt60)
    high = filtered(noise, lambda f: (f >= 4000).astype(float))[0] * 10 ** (-3 * t / (rt60 * 2 / 3))
    tail = low + high
    tail[: int(0.004 * RATE)] = 0
    tail /= math.sqrt(float(np.sum(tail**2))) * 10 ** (direct_db / 20)
    tail[0] = 1.0
    return np.asarray(tail / math.sqrt(float(np.sum(tail**2))))


@cache
def crowd(seed: int) -> Sound:
    """20 s of pink noise with a murmur: twelve talkers of speech-shaped noise, each in its own syllables."""
    rng = np.random.default_rng(seed)
    n = 20 * RATE
    pink = filtered(rng.standard_normal((1, n)), lambda f: 1 / np.sqrt(np.maximum(f, 40)))
    pink /= np.std(pink)
    murmur = np.zeros((1, n))
    for _ in range(12):
        voice = filtered(
            rng.standard_normal((1, n)),
            lambda f: (f > 100) / (1 + (f / 500) ** 2) ** 0.75,  # about 9 dB an octave over 500 Hz
        )
        pace = rng.uniform(3, 5)  # syllables a second
        steps = np.repeat(rng.random(int(n / RATE * pace) + 2) ** 2, int(RATE / pace))[:n]
        murmur += voice / np.std(voice) * filtered(steps[None, :], lambda f: (f < 12).astype(float))
    murmur /= np.std(murmur)
    return np.asarray(pink * 0.6 + murmur * 0.8)


def chords(n: int) -> Sound:
    """Four slow chords again and again, with harmonics; each is struck and dies away."""
    t = np.arange(n) / RATE
    out = np.zeros(n)
    length = 2.4
    for k, notes in enumerate(
        ((220, 277.2, 329.6), (196, 246.9, 293.7), (174.6, 220, 261.6), (164.8, 207.7, 246.9))
    ):
        local = (t - k * length) % (4 * length)
        strike = np.where(local < length, np.minimum(local / 0.02, 1) * np.exp(-local), 0.0)
        for note in notes:
            for harmonic in range(1, 7):
                out += strike * np.sin(2 * np.pi * note * harmonic * t) / harmonic**1.5
    return out[None, :] / np.std(out)


@cache
def traffic(seed: int) -> Sound:
    """20 s of noise that falls by 6 dB an octave above 60 Hz and grows and fades as cars pass."""
    n = 20 * RATE
    rumble = filtered(np.random.default_rng(seed).standard_normal((1, n)), lambda f: 1 / np.maximum(f, 60))
    rumble *= 1 + 0.5 * np.sin(2 * np.pi * np.arange(n) / RATE / 5)
    return np.asarray(rumble / np.std(rumble))


# Room noise after Hoth, as ITU-T P.800 gives it for tests of telephones (dB per Hz; from memory): the usual
# noise of rooms where people are, 5 dB an octave down between 100 Hz and 4 kHz, faster above.
_HOTH = {
    100: 32.4,
    200: 27.6,
    400: 22.7,
    800: 17.8,
    1600: 12.9,
    3150: 7.8,
    4000: 5.4,
    5000: 2.6,
    6300: -1.3,
    8000: -6.6,
}


@cache
def hall(seed: int) -> Sound:
    """20 s of the room noise after Hoth, 50 Hz to 12 kHz, which grows and fades by a third as people pass."""
    n = 20 * RATE
    at, db = np.log(list(_HOTH)), np.array(list(_HOTH.values()))
    noise = filtered(
        np.random.default_rng(seed).standard_normal((1, n)),
        lambda f: ((f > 50) & (f < 12_000)) * 10 ** (np.interp(np.log(np.maximum(f, 1)), at, db) / 20),
    )
    noise *= 1 + 0.33 * np.sin(2 * np.pi * np.arange(n) / RATE / 4)
    return np.asarray(noise / np.std(noise))


def _noise(db: float, kind: Callable[[int], Sound] = crowd) -> Callable[[Sound, Path], Path]:
    def make(sound: Sound, path: Path) -> Path:
        murmur = np.tile(kind(7), (1, sound.shape[1] // (20 * RATE) + 1))[:, : sound.shape[1]]
        added = murmur * active_level(sound) * 10 ** (-db / 20)
        write(path.with_suffix(".wav"), _fit(sound + added))
        return path.with_suffix(".wav")

    return make


def _fit(sound: Sound) -> Sound:
    return np.asarray(sound * min(1.0, 0.98 / float(np.abs(sound).max())))


def _wav(change: Callable[[Sound], Sound]) -> Callable[[Sound, Path], Path]:
    def make(sound: Sound, path: Path) -> Path:
        write(path.with_suffix(".wav"), change(sound))
        return path.with_suffix(".wav")

    return make


def _phone(sound: Sound, path: Path) -> Path:
    narrow = filtered(sound, lambda f: ((f > 300) & (f < 3400)).astype(float))[:, :: RATE // 8000]
    write(path.with_suffix(".wav"), _fit(narrow), 8000, "pcm_mulaw")
    return path.with_suffix(".wav")


def _opus(sound: Sound, path: Path) -> Path:
    write(path.with_suffix(".webm"), sound, RATE, "libopus", 16_000)
    return path.with_suffix(".webm")


def _hum(n: int) -> Sound:
    return np.asarray(0.001 * np.sin(2 * np.pi * 50 * np.arange(n) / RATE))[None, :]


CONDITIONS: dict[str, Callable[[Sound, Path], Path]] = {
    "clean": _wav(_fit),
    "room": _wav(lambda s: _fit(convolved(s, room_response(0.6, 0.0, 1)))),
    "noise20": _noise(20),
    "noise10": _noise(10),
    "noise5": _noise(5),
    "street10": _noise(10, traffic),
    "hall10": _noise(10, hall),
    "quiet": _wav(lambda s: s * 10 ** (-30 / 20)),
    "clipped": _wav(lambda s: np.clip(s / np.abs(s).max() * 10 ** (12 / 20), -1, 1)),
    "phone": _phone,
    "opus16": _opus,
    "dead": _wav(lambda s: np.concatenate([_fit(s), _hum(s.shape[1])])),
    "inverted": _wav(lambda s: np.concatenate([_fit(s), -_fit(s)])),
    "music": _wav(lambda s: _fit(s + chords(s.shape[1]) * active_level(s) * 10 ** (-15 / 20))),
    "fast": _wav(lambda s: _fit(at_tempo(s, RATE, 1.5))),
    "slow": _wav(lambda s: _fit(with_long_pauses(at_tempo(s, RATE, 0.75), RATE, 2.0))),
    "whisper": _wav(lambda s: _fit(whispered(s, RATE))),
    "shout": _wav(lambda s: _fit(filtered(raised(s, RATE), effort))),
}


@dataclass
class Count:
    """The counts over all recordings of one condition."""

    words: int = 0
    false: int = 0
    unsure: int = 0
    added: int = 0
    failed: int = 0


def hear(command: list[str], text: Path, recording: Path) -> Count:
    """What `offbook run --json` says about one perfect reading."""
    done = subprocess.run(
        [*command, "run", str(text), str(recording), "--json"], capture_output=True, text=True, check=False
    )
    if done.returncode:
        print(f"{recording.name}: {done.stderr.strip()[-300:]}", file=sys.stderr)
        return Count(failed=1)
    got = json.loads(done.stdout)
    verdicts = [w["verdict"] for w in got["words"]]
    return Count(
        words=len(verdicts),
        false=sum(v in ("changed", "dropped") for v in verdicts),
        unsure=verdicts.count("unsure"),
        added=len(got["added"]),
    )


def pairs(args: argparse.Namespace) -> list[tuple[Path, Path]]:
    """The recordings asked for, each with its text."""
    found = list(zip(args.recording, args.text, strict=True))
    if args.folder is not None:
        found += [
            (p, p.with_suffix(".txt"))
            for p in sorted(args.folder.iterdir())
            if p.suffix in KINDS and p.with_suffix(".txt").is_file()
        ]
    return found


def main() -> None:
    """Make the conditions, run them, print the table."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--folder", type=Path, help="recordings, each with a .txt of the same name")
    parser.add_argument("--recording", type=Path, action="append", default=[])
    parser.add_argument("--text", type=Path, action="append", default=[])
    parser.add_argument("--only", default=",".join(CONDITIONS), help="these conditions")
    parser.add_argument("--offbook", default="offbook", help="the command")
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--keep", type=Path, metavar="OUT", help="keep the made recordings there")
    args = parser.parse_args()
    found = pairs(args)
    if not found:
        sys.exit("no recordings: give --folder, or --recording with --text")
    command = shlex.split(args.offbook)
    work = args.keep or Path(tempfile.mkdtemp(prefix="conditions-"))
    print(f"{'condition':10s} {'words':>6s} {'false%':>7s} {'unsure%':>8s} {'added':>6s} {'failed':>7s}")
    for name in args.only.split(","):
        (work / name).mkdir(parents=True, exist_ok=True)
        made = [(CONDITIONS[name](read(r), work / name / r.stem), t) for r, t in found]
        with ThreadPoolExecutor(args.jobs) as pool:
            counts = list(pool.map(lambda m: hear(command, m[1], m[0]), made))
        words = sum(c.words for c in counts)
        print(
            f"{name:10s} {words:6d} {100 * sum(c.false for c in counts) / max(words, 1):7.2f} "
            f"{100 * sum(c.unsure for c in counts) / max(words, 1):8.2f} {sum(c.added for c in counts):6d} "
            f"{sum(c.failed for c in counts):7d}",
            flush=True,
        )
    if args.keep is None:
        shutil.rmtree(work)


if __name__ == "__main__":
    main()
