"""Pitch as the program Praat measures it, and tones whose pitch is known: for tests and for benches.

Praat (P. Boersma & D. Weenink; Debian's `praat`) is the reference for the pitch of people's voices.
"""

from __future__ import annotations

import math
import subprocess
import wave
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from offbook.delivery.pitch import HIGHEST_HZ, LOWEST_HZ
from offbook.sampling import LARGEST_SAMPLE, SAMPLE_RATE

_SCRIPT = f"""\
form Pitch
  sentence sound
  sentence table
endform
Read from file: sound$
To Pitch (ac): 0.01, {LOWEST_HZ:g}, 15, "no", 0.03, 0.45, 0.01, 0.35, 0.14, {HIGHEST_HZ:g}
writeFileLine: table$, ""
frames = Get number of frames
for i to frames
  at = Get time from frame number: i
  hz = Get value in frame: i, "Hertz"
  appendFileLine: table$, at, " ", hz
endfor
"""
_HARMONICS = 7
_FADE_SECONDS = 0.02


def pitch_by_praat(
    samples: NDArray[np.float32], folder: Path
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Praat's pitch by autocorrelation, 60 to 600 Hz, one frame every 10 ms.

    samples: mono at `SAMPLE_RATE`, full scale 1.0, shape (n,). folder: for the files that Praat reads and
    writes. Returns the middle of each frame, s, and its pitch, Hz, NaN if it is not voiced, both of shape
    (frames,). Raises CalledProcessError if Praat fails, and FileNotFoundError if it is not installed.
    """
    with wave.open(str(folder / "a.wav"), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(SAMPLE_RATE)
        out.writeframes((np.clip(samples, -1, 1) * LARGEST_SAMPLE).astype("<i2").tobytes())
    (folder / "a.praat").write_text(_SCRIPT)
    call = ["praat", "--run", str(folder / "a.praat"), str(folder / "a.wav"), str(folder / "a.txt")]
    subprocess.run(call, check=True, capture_output=True)
    rows = [line.split() for line in (folder / "a.txt").read_text().splitlines() if line]
    at = np.array([float(row[0]) for row in rows])
    return at, np.array([math.nan if row[1].startswith("--") else float(row[1]) for row in rows])


def harmonic_tone(hz: NDArray[np.float64], level: float = 0.1) -> NDArray[np.float32]:
    """A tone with seven harmonics whose pitch is given for each sample, Hz; it fades in and out over 20 ms.

    It has the shape of `hz`, at `SAMPLE_RATE`; level: the amplitude of its fundamental, full scale 1.0.
    """
    n = len(hz)
    phase = 2 * np.pi * np.cumsum(hz) / SAMPLE_RATE
    sound = sum(np.sin(k * phase) / k for k in range(1, _HARMONICS + 1))
    fade = np.minimum(1.0, np.minimum(np.arange(n), n - np.arange(n)) / (_FADE_SECONDS * SAMPLE_RATE))
    return np.asarray(level * sound * fade, np.float32)
