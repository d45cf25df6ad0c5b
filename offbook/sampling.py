"""The one form of sound inside offbook: mono, 16 bits a sample, at the rate that the speech models hear."""

from __future__ import annotations

SAMPLE_RATE = 16_000  # Hz: what the recognisers' acoustic models are trained on
SAMPLE_BYTES = 2  # of a 16-bit sample
BYTES_PER_SECOND = SAMPLE_BYTES * SAMPLE_RATE
FULL_SCALE = 32_768  # of a 16-bit sample: 2 to the power of 15, the loudest value, which counts as 1
