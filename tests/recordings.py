"""Where the real readings are that tests hear, and what is said in them.

Neither is committed: `make test` fetches both. If one is missing, the test fails with the reason.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.fetch_recordings import FOLDER

LIBRIVOX = Path("/usr/share/pocketsphinx/test/data/librivox")

# Dickens, A Tale of Two Cities, the first paragraph (public domain), as the reader says it.
TWO_CITIES = """\
It was the best of times, it was the worst of times,
it was the age of wisdom, it was the age of foolishness,
it was the epoch of belief, it was the epoch of incredulity,
it was the season of Light, it was the season of Darkness,
it was the spring of hope, it was the winter of despair,
we had everything before us, we had nothing before us,
we were all going direct to Heaven, we were all going direct the other way.
In short, the period was so far like the present period,
that some of its noisiest authorities insisted on its being received,
for good or for evil, in the superlative degree of comparison only.
"""

# Austen, Sense and Sensibility, chapter 1 (public domain), a LibriVox reading in five pieces.
AUSTEN = {
    "0870": "and Mr. John Dashwood had then leisure to consider how much there might be prudently "
    "in his power to do for them.",
    "0880": "He was not an ill-disposed young man,",
    "0890": "unless to be rather cold hearted and rather selfish is to be ill-disposed:",
    "0920": "Had he married a more amiable woman, "
    "he might have been made still more respectable than he was:",
    "0930": "he might even have been made amiable himself;",
}


def two_cities() -> tuple[Path, str]:
    """The 44 s reading of the `moonshine-voice` wheel, and its text."""
    wav = FOLDER / "two_cities.wav"
    if not wav.is_file():
        pytest.fail(f"{wav} is missing: python tests/fetch_recordings.py brings it")
    return wav, TWO_CITIES


def librivox_sentences() -> list[tuple[Path, str]]:
    """The five sentences of Debian's `pocketsphinx-testdata`, each with its text."""
    found = []
    for number, text in AUSTEN.items():
        wav = LIBRIVOX / f"sense_and_sensibility_01_austen_64kb-{number}.wav"
        if not wav.is_file():
            pytest.fail(f"{wav} is missing: apt-get install pocketsphinx-testdata")
        found.append((wav, text + "\n"))
    return found
