"""The one form of sound inside offbook: mono, 16 bits a sample, at the rate that the speech models need.

Also how long a recording may be, and how decibels are counted.
"""

from __future__ import annotations

SAMPLE_RATE = 16_000  # Hz: what the recognisers' acoustic models are trained on
SAMPLE_BYTES = 2  # of a 16-bit sample
BYTES_PER_SECOND = SAMPLE_BYTES * SAMPLE_RATE
LONGEST_SECONDS = 90 * 60.0  # of one recording; set by hand, longer than any speech
FULL_SCALE = 32_768  # of a 16-bit sample: 2 to the power of 15, the size that counts as 1
LARGEST_SAMPLE = FULL_SCALE - 1  # the largest positive value that 16 bits can hold
# A level in decibels is 10 times the common logarithm of a ratio of powers, and 20 times that of a ratio of
# amplitudes (IEC 60027-3; from memory).
POWER_DB, AMPLITUDE_DB = 10, 20
COMMON_BASE = 10  # of the common logarithm


def byte_at(seconds: float) -> int:
    """The first byte of the sample that sounds at this time."""
    return int(seconds * BYTES_PER_SECOND) // SAMPLE_BYTES * SAMPLE_BYTES


def whole_samples(sound: bytes) -> bytes:
    """The sound without the half of a sample that may stand at its end, where a piece was cut short."""
    return sound[: len(sound) // SAMPLE_BYTES * SAMPLE_BYTES]


def power_ratio(decibels: float) -> float:
    """The ratio of two powers whose levels differ by so many dB: 10 dB is 10 times the power."""
    return float(COMMON_BASE ** (decibels / POWER_DB))


def amplitude_ratio(decibels: float) -> float:
    """The ratio of two amplitudes whose levels differ by so many dB: 20 dB is 10 times the amplitude."""
    return float(COMMON_BASE ** (decibels / AMPLITUDE_DB))
