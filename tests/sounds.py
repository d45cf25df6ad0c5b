"""Sounds made for tests, encoded with the codecs that phones and browsers use. Nothing here is committed
as a file: every recording is made when a test asks for it."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import av
import numpy as np
from numpy.typing import NDArray

from offbook.audio import pcm
from offbook.sampling import SAMPLE_RATE

Sound = NDArray[np.float64]  # (channels, n), full scale 1.0


def sine(hertz: float, seconds: float, rate: int, decibels: float = 0.0, phase: float = 0.0) -> Sound:
    """One channel of a sine whose peak is at `decibels` below full scale; phase in degrees."""
    t = np.arange(round(seconds * rate)) / rate
    wave = np.sin(2 * np.pi * hertz * t + np.deg2rad(phase))
    return np.asarray(10 ** (decibels / 20) * wave)[None, :]


def voice(seconds: float, rate: int, decibels: float = -12.0, seed: int = 3) -> Sound:
    """One channel that rises and falls as a voice does: a buzz in syllables, with pauses between phrases."""
    return _voice(seconds, rate, decibels, seed).copy()


@cache
def _voice(seconds: float, rate: int, decibels: float, seed: int) -> Sound:
    rng = np.random.default_rng(seed)
    t = np.arange(round(seconds * rate)) / rate
    turn = np.exp(2j * np.pi * 140 * t)
    harmonic, buzz = np.ones_like(turn), np.zeros(len(t))
    for k in range(1, 56):
        harmonic *= turn
        buzz += harmonic.imag / k
    syllables = 0.5 - 0.5 * np.cos(2 * np.pi * 4 * t)
    phrases = (t % 2.0) < 1.4
    out = np.asarray(buzz * syllables * phrases)
    out *= 10 ** (decibels / 20) / np.abs(out).max()
    return np.asarray(out + 1e-4 * 10 ** (decibels / 20) * rng.standard_normal(len(t)))[None, :]


def silence(seconds: float, rate: int) -> Sound:
    """One channel of digital silence."""
    return np.zeros((1, round(seconds * rate)))


def write(
    path: Path,
    sound: Sound,
    rate: int,
    codec: str = "pcm_s16le",
    *,
    layout: str | None = None,
    picture: bool = False,
    bits: int = 0,
) -> Path:
    """Encode `sound` into the container that `path`'s ending names; picture: a video stream beside it."""
    layout = layout or {1: "mono", 2: "stereo", 6: "5.1"}[sound.shape[0]]
    planar = np.ascontiguousarray(np.clip(sound, -1, 32767 / 32768), dtype=np.float32)
    with av.open(str(path), "w") as container:
        film: Any = _film(container) if picture else None
        stream: Any = container.add_stream(codec, rate=rate, layout=layout)
        if bits:
            stream.bit_rate = bits
        resampler = av.AudioResampler(format=stream.codec_context.format, layout=layout, rate=rate)
        if film is not None:
            for n in range(round(planar.shape[1] / rate * 10)):
                image: Any = av.VideoFrame.from_ndarray(
                    np.full((64, 64, 3), n % 255, dtype=np.uint8), format="rgb24"
                )
                container.mux(film.encode(image))
        step = rate if codec.startswith("pcm_") else rate // 50  # other codecs are fed as a recorder does
        for at in range(0, planar.shape[1], step):
            block = np.ascontiguousarray(planar[:, at : at + step])
            frame: Any = av.AudioFrame.from_ndarray(block, format="fltp", layout=layout)
            frame.sample_rate, frame.pts = rate, at
            for out in resampler.resample(frame):
                container.mux(stream.encode(out))
        container.mux(stream.encode(None))
        if film is not None:
            container.mux(film.encode(None))
    return path


def _film(container: Any) -> Any:
    film = container.add_stream("mpeg4", rate=10)
    film.width = film.height = 64
    film.pix_fmt = "yuv420p"
    return film


def film_without_sound(path: Path, seconds: float = 1.0) -> Path:
    """A video with no audio stream at all."""
    with av.open(str(path), "w") as container:
        film = _film(container)
        for n in range(round(seconds * 10)):
            image: Any = av.VideoFrame.from_ndarray(
                np.full((64, 64, 3), n * 9 % 255, dtype=np.uint8), format="rgb24"
            )
            container.mux(film.encode(image))
        container.mux(film.encode(None))
    return path


def with_a_gap(source: Path, at: float, seconds: float, target: Path) -> Path:
    """A recording with so much silence put in at a place, s; `target` is a wav file."""
    whole = np.frombuffer(b"".join(pcm(source)), "<i2") / 32768
    cut, gap = round(at * SAMPLE_RATE), np.zeros(round(seconds * SAMPLE_RATE))
    return write(target, np.concatenate([whole[:cut], gap, whole[cut:]])[None], SAMPLE_RATE)
