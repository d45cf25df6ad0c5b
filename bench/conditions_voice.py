"""Ways of speaking that are made from an ordinary reading: very fast, slow with long pauses, whispered,
shouted.

They stand for recordings of such speech, which hardly anybody has together with a text. They are rougher
than real ones: after a change of tempo the vowels are as clear as before, and in a whisper that is made
from a voice the formants stay where they were, while those of a person who whispers are higher. But they
have in common with real ones what is difficult for a recogniser: little time for each sound, long silences,
no pitch, and other proportions of low and high frequencies. Sound is an array of (channels, n) at `rate` Hz
with a full scale of 1.0.
"""

from __future__ import annotations

from typing import Any

import av
import numpy as np
from numpy.typing import NDArray

Sound = NDArray[np.float64]

_ORDER = 18  # of the linear prediction: two for each formant below 8 kHz, two for the tilt
_FRAME, _HOP = 0.03, 0.01  # s
_WIDE = 16_000  # Hz at which a whisper is made; more than 8 kHz nobody here listens to
_QUIET = 0.12  # of the loud level, below which a step of 0.1 s is a pause
_TONE = 60.0  # dB by which what is left of the room lies below the voice in a whisper's pauses


def at_tempo(sound: Sound, rate: int, times: float) -> Sound:
    """`sound` at so many times its tempo, with the same pitch (FFmpeg's atempo)."""
    graph = av.filter.Graph()
    source = graph.add_abuffer(sample_rate=rate, format="flt", layout="mono", time_base=f"1/{rate}")  # type: ignore[arg-type]
    tempo, sink = graph.add("atempo", f"{times}"), graph.add("abuffersink")
    source.link_to(tempo)
    tempo.link_to(sink)
    graph.configure()
    frame: Any = av.AudioFrame.from_ndarray(
        np.ascontiguousarray(sound[:1], dtype=np.float32), format="flt", layout="mono"
    )
    frame.sample_rate, frame.pts = rate, 0
    graph.push(frame)
    graph.push(None)
    parts = []
    while True:
        try:
            parts.append(graph.pull().to_ndarray())
        except (av.error.EOFError, av.error.BlockingIOError):
            break
    return np.concatenate(parts, axis=1).astype(np.float64)


def with_long_pauses(sound: Sound, rate: int, seconds: float) -> Sound:
    """`sound` with so many seconds of silence put into the middle of each of its pauses.

    The silence is noise with the spectrum of the quietest tenth of a second in that pause.
    """
    rng = np.random.default_rng(5)
    step = rate // 10
    steps = sound[0][: sound.shape[1] // step * step].reshape(-1, step)
    levels = np.sqrt(np.mean(steps**2, axis=1))
    quiet = levels < _QUIET * np.percentile(levels, 90)
    parts, at, k = list[NDArray[np.float64]](), 0, 0
    while k < len(quiet):
        end = k
        while end < len(quiet) and quiet[end]:
            end += 1
        if end - k >= 2 and k and end < len(quiet):
            middle = (k + end) // 2 * step
            bed = steps[k + int(np.argmin(levels[k:end]))]
            size = int(seconds * rate)
            noise = np.fft.rfft(rng.standard_normal(size)) * np.fft.rfft(bed, size) / np.sqrt(step)
            parts += [sound[0][at:middle], np.fft.irfft(noise, size)]
            at = middle
        k = max(end, k + 1)
    return np.concatenate([*parts, sound[0][at:]])[None, :]


def whispered(sound: Sound, rate: int) -> Sound:
    """`sound` without its voice: the formants of each frame, by linear prediction, are filled with noise.

    Each frame keeps its loudness, but not the tilt of the voice, 6 dB an octave, which a whisper does not
    have.
    """
    rng = np.random.default_rng(3)
    voice = _resampled(sound[0], rate, _WIDE)
    x = np.append(voice[0], voice[1:] - 0.95 * voice[:-1])
    size, hop = int(_FRAME * _WIDE), int(_HOP * _WIDE)
    window = np.hanning(size)
    out = np.zeros(len(x) + size)
    for at in range(0, len(x) - size, hop):
        frame = x[at : at + size] * window
        spectrum = np.abs(np.fft.rfft(frame, 2 * size)) ** 2
        covariance = np.fft.irfft(spectrum)[: _ORDER + 1]
        if covariance[0] <= 0:
            continue
        covariance[0] *= 1.0001  # keeps the equations solvable in silence
        lags = np.abs(np.subtract.outer(np.arange(_ORDER), np.arange(_ORDER)))
        prediction = np.linalg.solve(covariance[lags], covariance[1:])
        filter_ = np.fft.rfft(np.append(1.0, -prediction), 2 * size)
        noise = np.fft.rfft(rng.standard_normal(size) * window, 2 * size)
        filled = np.fft.irfft(noise / filter_)[:size]
        power = float(np.sum(filled**2))
        out[at : at + size] += filled * np.sqrt(np.sum(frame**2) / power) if power else 0.0
    out = out[: len(x)]
    out += rng.standard_normal(len(x)) * np.std(out) * 10 ** (-_TONE / 20)
    return _resampled(out, _WIDE, rate)[None, :]


def _resampled(x: NDArray[np.float64], old: int, new: int) -> NDArray[np.float64]:
    n = round(len(x) * new / old)
    spectrum = np.fft.rfft(x)[: n // 2 + 1]
    return np.fft.irfft(np.pad(spectrum, (0, n // 2 + 1 - len(spectrum))), n) * n / len(x)


def raised(sound: Sound, rate: int) -> Sound:
    """`sound` about two and a half semitones higher, with its sounds a tenth longer.

    With more vocal effort the pitch, the first formant and the share of everything above 1 kHz rise
    (Traunmüller & Eriksson, JASA 107, 2000, from memory). Here all formants rise with the pitch, by 15 %.
    """
    up = 1.15
    n = int(sound.shape[1] / up)
    higher = np.interp(np.arange(n) * up, np.arange(sound.shape[1]), sound[0])[None, :]
    return at_tempo(higher, rate, 0.9 / up)


def effort(frequency: NDArray[np.float64]) -> NDArray[np.float64]:
    """How much stronger a raised voice is at each frequency (Hz): 5 dB an octave from 500 Hz to 4 kHz."""
    return np.asarray(10 ** (5 * np.log2(np.clip(frequency, 500, 4000) / 500) / 20))
