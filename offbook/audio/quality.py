"""How good the sound is, measured once before it is heard: loudness, noise, clipping, bandwidth, channels.

One pass over the recording makes a `SoundReport`. It says how the channels are to be mixed, how much gain
brings the voice to the recogniser's level, and whether the sound is good enough to judge a performer by. Only
sums and histograms are kept, so that a long recording needs no more memory than a short one.

Loudness is the integrated loudness of ITU-R BS.1770-4 (LUFS), as FFmpeg's `ebur128` filter computes it. The
signal-to-noise ratio is the difference of two percentiles of the levels of 20 ms frames, after NIST's STNR
(Speech Quality Assurance package): the noise from the low end of their histogram, the speech from its high
end.
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
from offbook.audio.loudness import FLOOR_DB, Meter, decibels
from offbook.errors import RecordingError
from offbook.phrasing import PERCENT
from offbook.sampling import POWER_DB, SAMPLE_RATE, amplitude_ratio, power_ratio

FRAME = SAMPLE_RATE // 50  # samples: 20 ms, the frame of NIST's STNR
_WINDOW = np.hanning(FRAME).astype(np.float32)
# From the power of a frame in this window to its power in a window of the cleaner (`audio.denoise`).
_TO_CLEANER = SIZE / 2 / float(np.sum(_WINDOW.astype(np.float64) ** 2))
_BINS = 400  # of the histogram of levels, from `FLOOR_DB` to 0 dBFS: a quarter of a decibel each
_MIDDLE = 0.5  # of a bin, as a share of its width

# Integrated loudness at which the recogniser gets the sound. Free decoding of two readings recorded 30 dB too
# quiet: 17.3 % of the words lost without gain, 16.0 % at -26 LUFS, 15.6 % at -20, 16.9 % at -14.
TARGET_LUFS = -20.0
MAX_GAIN_DB = 50.0  # set by hand
MOST_TURNED_DOWN_DB = 20.0  # set by hand

# The ratio measured here is that of loud syllables to the quietest moments: a crowd 20, 15, 10, 5 and 0 dB
# below the active voice of six readings measures 24, 20, 16, 11.5 and 7.5 dB. Below `NOISY_SNR_DB` verdicts
# are softened (`hear.softening`), and people are told why. With that, 0.6 % of the words that were really
# said are called wrong at 10 dB, almost twice as many as in quiet, and 1.4 % at 5 dB, where one word in
# thirty is left unsure as well (see docs/sound.md). So below `POOR_SNR_DB` the report begins with that.
NOISY_SNR_DB = 22.0
POOR_SNR_DB = 14.0
CLEAN_SNR_DB = 24.0  # the background is left in the sound from this ratio on; see docs/sound.md
QUIET_LUFS = -40.0  # a softer recording is called very quiet; set by hand
CLIPPED_SHARE = 0.002  # of the samples: from here on people are told that the sound is clipped; set by hand
_SPOILT_BY = 20  # times that share, 4 %: from here on verdicts cannot be trusted; see docs/sound.md
NARROW_HZ = 3_600.0  # set by hand, above the 3,400 Hz at which a telephone ends (ITU-T G.712, from memory)
ECHO_SECONDS = 0.3  # between dry and echoing readings: `audio.echo` has the figures
SILENT_LUFS = -69.0  # just above the absolute gate of BS.1770-4 (-70 LUFS), below which nothing is measured
SILENT_PEAK_DB = -60  # dBFS; set by hand
_LEAST_FRAMES = 16  # that are collected and then measured together, for speed; set by hand
# When a channel is mixed with the best one, set by hand: it is less than so many dB softer and noisier, and
# the size of their correlation is above this.
_JOINS_WITHIN_DB, _JOINS_ALIKE = 6, 0.3
# Which of two channels is the best one: 1 dB of level counts as much as half a dB of ratio; set by hand.
_LEVEL_COUNTS = 0.5
# The shares of all frames that are softer than the voice and softer than the room (NIST's STNR).
_VOICE_SHARE, _ROOM_SHARE = 0.95, 0.10
_MUTED_BINS = 4  # the lowest bins, 1 dB: muted stretches and padding, which tell nothing about the room
_ANYTHING_DB = 10.0  # above the floor: a channel that is softer has nothing on it; set by hand
_NO_RATIO = -1.0  # dB: below every ratio that a channel with sound can have
_TRANSFORM = 512  # samples of a Fourier transform: the power of two above a frame
_HUM_BINS = 10  # of the transform, up to 300 Hz: hum and noise of handling, left out of the bandwidth
_BAND_SHARE = 0.999  # of the energy above 300 Hz lies below the bandwidth; set by hand
_HZ_A_KHZ = 1000
# A file has broken off if it lacks more of the length that it states than the larger of these; set by hand.
_MISSING_SECONDS, _MISSING_SHARE = 2.0, 0.05


@dataclass(frozen=True, slots=True)
class SoundReport:
    """What was measured on one recording.

    seconds: decoded length. claimed: the length that the container states, in seconds, None if it states
    none. loudness: integrated, LUFS; -inf for silence. peak: sample peak, dBFS. clipped: share of samples in
    flat tops, 0 to 1. noise: level of the background, dBFS. snr: dB between the voice and the background.
    bandwidth: Hz below which 99.9 % of the voice's energy lies, at most 8,000. decay: the time in which the
    sound dies away by 60 dB, s, None if that was heard too seldom. mix: one weight for each channel; their
    sizes add up to 1. dead: the channels (from 0) that are left out of the mix. gain: dB to the target. line:
    what people should know about the sound, None if it is fine. poor: whether verdicts cannot be trusted.
    background: the power in each frequency bin that `audio.denoise` is to remove, None if the sound is better
    left as it is.
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
    """Counts how often each level of a 20 ms frame occurs in one channel."""

    def __init__(self) -> None:
        self.counts: NDArray[np.int64] = np.zeros(_BINS, dtype=np.int64)

    def add(self, levels: NDArray[np.float64]) -> None:
        """Count more levels: dBFS, one for each frame, shape (n,)."""
        bins = np.clip((levels - FLOOR_DB) * (_BINS / -FLOOR_DB), 0, _BINS - 1).astype(np.int64)
        self.counts += np.bincount(bins, minlength=_BINS)

    def percentile(self, share: float) -> float:
        """The level, dBFS, below which a `share` (0 to 1) of the frames lies. Digital silence is left out."""
        counts = self.counts.copy()
        counts[:_MUTED_BINS] = 0
        total = int(counts.sum())
        if total == 0:
            return FLOOR_DB
        at = int(np.searchsorted(np.cumsum(counts), share * total))
        return FLOOR_DB + (min(at, _BINS - 1) + _MIDDLE) * (-FLOOR_DB / _BINS)

    def snr(self) -> float:
        """The level of the speech over that of the noise, dB: the 95th percentile minus the 10th."""
        return self.percentile(_VOICE_SHARE) - self.percentile(_ROOM_SHARE)


class Survey:
    """Measures sound at `SAMPLE_RATE` as it is fed in.

    samples: how many were fed in, of each channel. levels: a histogram for each channel. products: the sums
    of the products of every two channels, shape (channels, channels). spectrum: the summed power of the
    loudest channel, one value for each frequency bin. background: what is left of it in quiet moments.
    decays: one meter for each channel.
    """

    def __init__(self, channels: int) -> None:
        self.samples = 0
        self.levels = [LevelHistogram() for _ in range(channels)]
        self.products: NDArray[np.float64] = np.zeros((channels, channels))
        self.spectrum: NDArray[np.float64] = np.zeros(_TRANSFORM // 2 + 1)
        self.background = Background()
        self.decays = [DecayMeter() for _ in range(channels)]
        self._rest: Samples = np.zeros((channels, 0), dtype=np.float32)

    def feed(self, block: Samples) -> None:
        """Take in a block of any length, shape (channels, n), full scale 1.0."""
        self.samples += block.shape[1]
        data = np.concatenate([self._rest, block], axis=1)
        whole = data.shape[1] // FRAME
        if whole < _LEAST_FRAMES:
            self._rest = data
            return
        body, self._rest = data[:, : whole * FRAME], data[:, whole * FRAME :]
        self._measure(body)

    def finish(self) -> None:
        """Measure the frames that are still held back. Call it after the last block."""
        whole = self._rest.shape[1] // FRAME
        if whole:
            self._measure(self._rest[:, : whole * FRAME])

    def _measure(self, body: Samples) -> None:
        """Measure whole frames, shape (channels, frames x FRAME)."""
        if body.shape[0] > 1:
            # einsum and not a matrix product: for so few rows, threads of BLAS take longer than they save.
            self.products += np.einsum("in,jn->ij", body, body, dtype=np.float64)
        parts = body.reshape(body.shape[0], -1, FRAME)
        power = np.einsum("cfn,cfn->cf", parts, parts).astype(np.float64) / FRAME
        levels = POWER_DB * np.log10(np.maximum(power, power_ratio(FLOOR_DB)))
        for channel, histogram in enumerate(self.levels):
            histogram.add(levels[channel])
            self.decays[channel].feed(body[channel])
        loudest = int(np.argmax(power.sum(axis=1)))
        bands = np.fft.rfft(parts[loudest] * _WINDOW, _TRANSFORM, axis=1)
        bands_power = bands.real**2 + bands.imag**2
        self.spectrum += np.sum(bands_power, axis=0)
        self.background.feed(bands_power * _TO_CLEANER)

    def bandwidth(self) -> float:
        """The frequency, Hz, below which 99.9 % of the energy above 300 Hz lies; 0 if there is none."""
        tail = self.spectrum.copy()
        tail[:_HUM_BINS] = 0
        total = float(tail.sum())
        if total <= 0:
            return 0.0
        return float(np.searchsorted(np.cumsum(tail), _BAND_SHARE * total)) * SAMPLE_RATE / _TRANSFORM


def mix_weights(levels: list[LevelHistogram], products: NDArray[np.float64]) -> tuple[float, ...]:
    """The weight of each channel in a mix that keeps the voice; the sizes of the weights add up to 1.

    The average with a dead channel loses 6 dB and gains noise, and the average with a channel of opposite
    polarity cancels the voice. So the mix is made of the channel with the best signal-to-noise ratio and
    those within 6 dB of it in level and ratio, each with the sign of its correlation with the best one.

    levels, products: as in `Survey`.
    """
    loud = [h.percentile(_VOICE_SHARE) for h in levels]
    ratio = [
        h.snr() if voice > FLOOR_DB + _ANYTHING_DB else _NO_RATIO
        for h, voice in zip(levels, loud, strict=True)
    ]
    lead = max(range(len(levels)), key=lambda c: (ratio[c] + _LEVEL_COUNTS * loud[c], -c))
    weights = [0.0] * len(levels)
    for c in range(len(levels)):
        scale = math.sqrt(products[c, c] * products[lead, lead])
        alike = products[c, lead] / scale if scale > 0 else 0.0
        close = loud[c] > loud[lead] - _JOINS_WITHIN_DB and ratio[c] > ratio[lead] - _JOINS_WITHIN_DB
        if c == lead or (close and abs(alike) > _JOINS_ALIKE):
            weights[c] = math.copysign(1.0, alike) if c != lead else 1.0
    total = sum(abs(w) for w in weights)
    return tuple(w / total for w in weights)


def survey(path: Path | str) -> SoundReport:
    """Measure the whole of `path` once. Raises RecordingError if it cannot be decoded or is silent."""
    path = Path(path)
    clip = probe(path)
    meter, resampler = Meter(), Resampler()
    measured: Survey | None = None
    invalid = 0

    def count_invalid(count: int) -> None:
        nonlocal invalid
        invalid += count

    for frame in frames(path, count_invalid):
        meter.feed(frame)
        for block in resampler.feed(frame):
            if measured is None or block.shape[0] != len(measured.levels):
                measured = Survey(block.shape[0])
            measured.feed(block)
    for block in resampler.flush():
        if measured is not None and block.shape[0] == len(measured.levels):
            measured.feed(block)
    if measured is None or measured.samples == 0:
        raise RecordingError(f"{path} holds no sound", "record again and listen to it before you go on")
    measured.finish()
    return judge_sound(path, clip.seconds, meter, measured, invalid)


def judge_sound(
    path: Path, claimed: float | None, meter: Meter, measured: Survey, invalid: int = 0
) -> SoundReport:
    """Make the report of what was measured. Raises RecordingError if the recording is silent.

    claimed: the length that the container states, in seconds, None if it states none. invalid: how many
    samples were not valid numbers and were replaced by silence.
    """
    if meter.loudness <= SILENT_LUFS and meter.peak < amplitude_ratio(SILENT_PEAK_DB):
        raise RecordingError(
            f"{path} is silent: no sound above {SILENT_PEAK_DB} dB",
            "check that the right microphone was chosen and not muted, then record again",
        )
    mix = mix_weights(measured.levels, measured.products)
    lead = max(range(len(mix)), key=lambda c: (abs(mix[c]), -c))
    histogram = measured.levels[lead]
    gain = max(-MOST_TURNED_DOWN_DB, min(MAX_GAIN_DB, TARGET_LUFS - meter.loudness))
    clipped, snr, bandwidth = meter.clipped(), histogram.snr(), measured.bandwidth()
    seconds = measured.samples / SAMPLE_RATE
    decay = measured.decays[lead].seconds(histogram.percentile(_VOICE_SHARE))
    unclean = snr < CLEAN_SNR_DB or (decay is not None and decay > ECHO_SECONDS)
    line, poor = quality_line(meter.loudness, snr, clipped, bandwidth, decay)
    for more in (cut_off_line(seconds, claimed, ogg_breaks_off(path)), invalid_samples_line(invalid)):
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
    """The worst fault of the sound and what to do about it, and whether verdicts cannot be trusted.

    The units are those of `SoundReport`. The first is None if the sound is fine.
    """
    if snr < NOISY_SNR_DB:
        return (
            f"The background is loud (only {snr:.0f} dB below the voice): "
            "move nearer the microphone or to a quieter room.",
            snr < POOR_SNR_DB,
        )
    if clipped > CLIPPED_SHARE:
        return (
            f"The sound is clipped ({PERCENT * clipped:.1f} % of it): "
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
            f"The sound stops at {bandwidth / _HZ_A_KHZ:.1f} kHz, like a telephone: "
            "record on the device itself.",
            False,
        )
    return None, False


def cut_off_line(seconds: float, claimed: float | None, unfinished: bool = False) -> str | None:
    """What to tell people if the end of a recording is missing, else None.

    seconds: decoded length. claimed: the length that the container states, None if it states none.
    unfinished: whether the file ends in the middle of a part, whatever length it states.
    """
    if claimed is not None and seconds <= claimed - max(_MISSING_SECONDS, _MISSING_SHARE * claimed):
        return (
            f"The file breaks off after {seconds:.0f} s of the {claimed:.0f} s it claims: "
            "copy it again from the device it was recorded on."
        )
    if unfinished:
        return f"The file breaks off after {seconds:.0f} s: copy it again from the device it was recorded on."
    return None


def invalid_samples_line(samples: int) -> str | None:
    """What to tell people if so many samples of a recording are not valid numbers; None if all are."""
    if not samples:
        return None
    if samples == 1:
        return "1 sample of the file is not a valid number and counts as silence: export it again."
    return f"{samples:,} samples of the file are not valid numbers and count as silence: export it again."
