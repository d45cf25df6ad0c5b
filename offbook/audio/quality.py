"""The sound itself, measured once before it is heard: loudness, noise, clipping, bandwidth, channels.

One pass over the recording fills a `SoundReport`: how the channels are to be mixed and how much gain
brings the voice to the level the recogniser was trained on, and whether the sound is good enough to
judge a performer by. Only running sums and histograms are kept, so memory stays flat.

Loudness is ITU-R BS.1770-4 integrated loudness (LUFS) as computed by FFmpeg's `ebur128` filter; the
signal-to-noise ratio is a difference of percentiles of 20 ms frame levels, after NIST's STNR
(Speech Quality Assurance package): noise from the low end, speech from the high end of the histogram.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from offbook.audio.decode import Resampler, Samples, frames, ogg_breaks_off, probe
from offbook.audio.denoise import SIZE, Background
from offbook.audio.echo import DecayMeter
from offbook.audio.loudness import Meter, decibels
from offbook.errors import RecordingError
from offbook.sampling import SAMPLE_RATE

FRAME = SAMPLE_RATE // 50  # 20 ms
_WINDOW = np.hanning(FRAME).astype(np.float32)
_TO_CLEANER = SIZE / 2 / float(np.sum(_WINDOW.astype(np.float64) ** 2))  # power of one window in another's
_FLOOR_DB = -100.0  # anything quieter is counted as this
_BINS = 400  # quarter-decibel bins from _FLOOR_DB to 0 dBFS

# Integrated loudness the recogniser is given. Free decoding of two readings recorded 30 dB too quiet: 17.3 %
# of the words lost without gain, 16.0 % at -26 LUFS, 15.6 % at -20, 16.9 % at -14.
TARGET_LUFS = -20.0
MAX_GAIN_DB = 50.0

# A voice that nobody could follow on these terms is not judged; the milder ones are only said.
QUIET_LUFS = -40.0
# The measured ratio is that of loud syllables to the quietest moments: a crowd 20, 15, 10, 5 and 0 dB
# below the active voice of six readings measures 24, 20, 16, 11.5 and 7.5 dB. Below the first of these
# verdicts are softened (`hear.softening`), and people are told why. After that, 0.6 % of the words truly said
# are called wrong at 10 dB, almost twice as many as in quiet, and 1.4 % at 5 dB, where one word in thirty is
# left unsure as well (see docs/sound.md): there the report says so first.
NOISY_SNR_DB = 22.0
POOR_SNR_DB = 14.0
CLIPPED_SHARE = 0.002
NARROW_HZ = 3_600.0
CLEAN_SNR_DB = 24.0  # a better ratio than this is left as it is
ECHO_SECONDS = 0.3  # see `audio.echo` for what readings lie on either side
SILENT_LUFS = -69.0  # BS.1770-4's absolute gate is at -70 LUFS: below it nothing is measured
_LEAST_FRAMES = 16  # gathered before they are measured together, for speed; set by hand
# When a channel joins the best one, set by hand: it is less than so many dB softer and noisier, and their
# correlation, plus or minus, is above this.
_JOINS_WITHIN, _JOINS_ALIKE = 6, 0.3
# Of the levels of all frames: the voice is taken at this share from below, the room at that (NIST's STNR).
_VOICE_SHARE, _ROOM_SHARE = 0.95, 0.10
_MUTED_BINS = 4  # the lowest bins, 1 dB: muted stretches and padding, which say nothing of the room
_ANYTHING_DB = 10.0  # above the floor, from which on a channel has anything on it; set by hand
_TRANSFORM = 512  # samples of a Fourier transform: the power of two above a frame
_HUM_BINS = 10  # of it, up to 300 Hz: hum and handling say nothing of the bandwidth
_BAND_SHARE = 0.999  # of the energy above that lies below the bandwidth
SILENT_PEAK_DB = -60  # dBFS; set by hand
_MOST_TURNED_DOWN_DB = 20.0  # set by hand
_SPOILT_BY = 20  # times the share from which clipping is told, from which on verdicts cannot be trusted
# A file that lacks more of the length it claims than this has broken off; set by hand.
_MISSING_SECONDS, _MISSING_SHARE = 2.0, 0.05


@dataclass(frozen=True, slots=True)
class SoundReport:
    """What was measured on one recording.

    seconds: decoded length. claimed: the container's claim, None where it makes none.
    loudness: integrated, LUFS; -inf for silence. peak: sample peak, dBFS. clipped: share of samples
    in flat tops. noise: level of the background, dBFS. snr: dB between the voice and the background.
    bandwidth: Hz below which 99.9 % of the voice's energy lies, at most 8,000.
    decay: time in which the sound dies away by 60 dB, s, None where too few decays were heard.
    mix: one weight for each channel. dead: channels (from 0) without voice. gain: dB to the target.
    line: one line for people, None where the sound is fine; poor: True where verdicts can't be trusted.
    background: what `audio.denoise` is to take out, None where the sound is better left alone.
    """

    seconds: float
    claimed: float | None
    loudness: float
    peak: float
    clipped: float
    noise: float
    snr: float
    bandwidth: float
    decay: float | None
    channels: int
    mix: tuple[float, ...]
    dead: tuple[int, ...]
    gain: float
    line: str | None
    poor: bool
    background: tuple[float, ...] | None = field(default=None, repr=False)


class LevelHistogram:
    """How often each level of a 20 ms frame occurred, for one channel."""

    def __init__(self) -> None:
        self.counts: NDArray[np.int64] = np.zeros(_BINS, dtype=np.int64)

    def add(self, levels: NDArray[np.float64]) -> None:
        """levels: dBFS, one for each frame."""
        bins = np.clip((levels - _FLOOR_DB) * (_BINS / -_FLOOR_DB), 0, _BINS - 1).astype(np.int64)
        self.counts += np.bincount(bins, minlength=_BINS)

    def percentile(self, share: float) -> float:
        """dBFS below which `share` of the frames lie; digital silence is left out."""
        counts = self.counts.copy()
        counts[:_MUTED_BINS] = 0
        total = int(counts.sum())
        if total == 0:
            return _FLOOR_DB
        at = int(np.searchsorted(np.cumsum(counts), share * total))
        return _FLOOR_DB + (min(at, _BINS - 1) + 0.5) * (-_FLOOR_DB / _BINS)

    def snr(self) -> float:
        """Speech minus noise, dB: 95th and 10th percentile of the frame levels."""
        return self.percentile(_VOICE_SHARE) - self.percentile(_ROOM_SHARE)


class Survey:
    """Running measurements at `SAMPLE_RATE`: levels, products between channels, average spectrum."""

    def __init__(self, channels: int) -> None:
        self.n = 0
        self.levels = [LevelHistogram() for _ in range(channels)]
        self.products: NDArray[np.float64] = np.zeros((channels, channels))
        self.spectrum: NDArray[np.float64] = np.zeros(_TRANSFORM // 2 + 1)
        self.background = Background()
        self.decays = [DecayMeter() for _ in range(channels)]
        self._rest: Samples = np.zeros((channels, 0), dtype=np.float32)

    def feed(self, block: Samples) -> None:
        self.n += block.shape[1]
        data = np.concatenate([self._rest, block], axis=1)
        whole = data.shape[1] // FRAME
        if whole < _LEAST_FRAMES:
            self._rest = data
            return
        body, self._rest = data[:, : whole * FRAME], data[:, whole * FRAME :]
        self._measure(body)

    def finish(self) -> None:
        whole = self._rest.shape[1] // FRAME
        if whole:
            self._measure(self._rest[:, : whole * FRAME])

    def _measure(self, body: Samples) -> None:
        if body.shape[0] > 1:
            # einsum, not a matrix product: for so few rows BLAS threads cost more than they bring.
            self.products += np.einsum("in,jn->ij", body, body, dtype=np.float64)
        parts = body.reshape(body.shape[0], -1, FRAME)
        power = np.einsum("cfn,cfn->cf", parts, parts).astype(np.float64) / FRAME
        levels = 10 * np.log10(np.maximum(power, 10 ** (_FLOOR_DB / 10)))
        for channel, histogram in enumerate(self.levels):
            histogram.add(levels[channel])
            self.decays[channel].feed(body[channel])
        loudest = int(np.argmax(power.sum(axis=1)))
        bands = np.fft.rfft(parts[loudest] * _WINDOW, _TRANSFORM, axis=1)
        bands_power = bands.real**2 + bands.imag**2
        self.spectrum += np.sum(bands_power, axis=0)
        self.background.feed(bands_power * _TO_CLEANER)

    def bandwidth(self) -> float:
        """Hz below which 99.9 % of the energy above 300 Hz lies."""
        tail = self.spectrum.copy()
        tail[:_HUM_BINS] = 0
        total = float(tail.sum())
        if total <= 0:
            return 0.0
        return float(np.searchsorted(np.cumsum(tail), _BAND_SHARE * total)) * SAMPLE_RATE / _TRANSFORM


def mix_weights(levels: list[LevelHistogram], products: NDArray[np.float64]) -> tuple[float, ...]:
    """How to bring the channels to one without losing the voice.

    Averaging with a dead channel costs 6 dB and adds its noise; averaging with one of inverted phase
    cancels the voice. So: the channel with the best signal-to-noise ratio leads, those within 6 dB of
    it in level and ratio join, each with the sign of its correlation with the leader.
    """
    loud = [h.percentile(_VOICE_SHARE) for h in levels]
    ratio = [h.snr() if h.percentile(_VOICE_SHARE) > _FLOOR_DB + _ANYTHING_DB else -1.0 for h in levels]
    # A louder channel wins over a slightly cleaner one: 1 dB of level counts like half a dB of ratio.
    lead = max(range(len(levels)), key=lambda c: (ratio[c] + 0.5 * loud[c], -c))
    weights = [0.0] * len(levels)
    for c in range(len(levels)):
        scale = math.sqrt(products[c, c] * products[lead, lead])
        alike = products[c, lead] / scale if scale > 0 else 0.0
        close = loud[c] > loud[lead] - _JOINS_WITHIN and ratio[c] > ratio[lead] - _JOINS_WITHIN
        if c == lead or (close and abs(alike) > _JOINS_ALIKE):
            weights[c] = math.copysign(1.0, alike) if c != lead else 1.0
    total = sum(abs(w) for w in weights)
    return tuple(w / total for w in weights)


def survey(path: Path | str) -> SoundReport:
    """Measure the whole of `path` once. Raises RecordingError where there is nothing to hear in it."""
    path = Path(path)
    clip = probe(path)
    meter, resampler = Meter(), Resampler()
    measured: Survey | None = None
    broken = 0

    def no_numbers(count: int) -> None:
        nonlocal broken
        broken += count

    for frame in frames(path, no_numbers):
        meter.feed(frame)
        for block in resampler.feed(frame):
            if measured is None or block.shape[0] != len(measured.levels):
                measured = Survey(block.shape[0])
            measured.feed(block)
    for block in resampler.flush():
        if measured is not None and block.shape[0] == len(measured.levels):
            measured.feed(block)
    if measured is None or measured.n == 0:
        raise RecordingError(f"{path} holds no sound", "record again and listen to it before you go on")
    measured.finish()
    return judge_sound(path, clip.seconds, meter, measured, broken)


def judge_sound(
    path: Path, claimed: float | None, meter: Meter, measured: Survey, broken: int = 0
) -> SoundReport:
    """The report from what `survey` measured. Raises RecordingError for silence.

    broken: samples that were no numbers and count as silence.
    """
    if meter.loudness <= SILENT_LUFS and meter.peak < 10 ** (SILENT_PEAK_DB / 20):
        raise RecordingError(
            f"{path} is silent: no sound above {SILENT_PEAK_DB} dB",
            "check that the right microphone was chosen and not muted, then record again",
        )
    mix = mix_weights(measured.levels, measured.products)
    lead = max(range(len(mix)), key=lambda c: (abs(mix[c]), -c))
    histogram = measured.levels[lead]
    gain = max(-_MOST_TURNED_DOWN_DB, min(MAX_GAIN_DB, TARGET_LUFS - meter.loudness))
    clipped, snr, bandwidth = meter.clipped(), histogram.snr(), measured.bandwidth()
    seconds = measured.n / SAMPLE_RATE
    decay = measured.decays[lead].seconds(histogram.percentile(_VOICE_SHARE))
    unclean = snr < CLEAN_SNR_DB or (decay is not None and decay > ECHO_SECONDS)
    line, poor = quality_line(meter.loudness, snr, clipped, bandwidth, decay)
    for more in (cut_off_line(seconds, claimed, ogg_breaks_off(path)), broken_line(broken)):
        line = more if line is None else line if more is None else f"{line} {more}"
    return SoundReport(
        seconds=seconds,
        claimed=claimed,
        loudness=meter.loudness,
        peak=decibels(meter.peak),
        clipped=clipped,
        noise=histogram.percentile(_ROOM_SHARE),
        snr=snr,
        bandwidth=bandwidth,
        decay=decay,
        channels=len(mix),
        mix=mix,
        dead=tuple(c for c, w in enumerate(mix) if w == 0),
        gain=gain,
        line=line,
        poor=poor,
        background=measured.background.power() if unclean else None,
    )


def quality_line(
    loudness: float, snr: float, clipped: float, bandwidth: float, decay: float | None = None
) -> tuple[str | None, bool]:
    """-> (the worst thing about the sound and what to do, or None; whether verdicts can be trusted)."""
    if snr < NOISY_SNR_DB:
        return (
            f"The background is loud (only {snr:.0f} dB below the voice): "
            "move nearer the microphone or to a quieter room.",
            snr < POOR_SNR_DB,
        )
    if clipped > CLIPPED_SHARE:
        return (
            f"The sound is clipped ({100 * clipped:.1f} % of it): "
            "turn the recording level down or step back from the microphone.",
            clipped > _SPOILT_BY * CLIPPED_SHARE,
        )
    if decay is not None and decay > ECHO_SECONDS:
        return (
            f"The room echoes (the voice takes {decay:.1f} s or more to die away): "
            "move nearer the microphone, or to a room with curtains, carpet or a full wardrobe.",
            False,
        )
    if loudness < QUIET_LUFS:
        return (
            f"The recording is very quiet ({loudness:.0f} LUFS): "
            "turn the recording level up or move nearer the microphone.",
            False,
        )
    if bandwidth < NARROW_HZ:
        return (
            f"The sound stops at {bandwidth / 1000:.1f} kHz, like a telephone: record on the device itself.",
            False,
        )
    return None, False


def cut_off_line(seconds: float, claimed: float | None, unfinished: bool = False) -> str | None:
    """One line where a good part of what the container claims is not there, else None.

    unfinished: the file stops in the middle of something, whatever it claims.
    """
    if claimed is not None and seconds <= claimed - max(_MISSING_SECONDS, _MISSING_SHARE * claimed):
        return (
            f"The file breaks off after {seconds:.0f} s of the {claimed:.0f} s it claims: "
            "copy it again from where it was made."
        )
    if unfinished:
        return f"The file breaks off after {seconds:.0f} s: copy it again from where it was made."
    return None


def broken_line(samples: int) -> str | None:
    """One line if samples of the file are not numbers, else None."""
    if not samples:
        return None
    return f"{samples:,} samples of the file are not numbers and count as silence: export it again."
