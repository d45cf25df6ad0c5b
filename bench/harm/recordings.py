"""Recordings of every container, mutated: headers, channels, bytes, length, values that are not numbers."""

from __future__ import annotations

import random
import struct
import tempfile
from pathlib import Path
from typing import Any

import numpy as np

from tests.sounds import write

_RATE = 16_000
_SECONDS = 3.0
# ending, codec, channels, whether there is a picture
_KINDS = (
    *(("wav", "pcm_s16le", 1, False), ("wav", "pcm_s24le", 2, False), ("wav", "pcm_f32le", 1, False)),
    *(("m4a", "aac", 1, False), ("m4a", "aac", 2, False), ("mp4", "aac", 1, True), ("mov", "aac", 2, True)),
    *(("flac", "flac", 1, False), ("ogg", "libopus", 1, False), ("opus", "libopus", 2, False)),
    *(("webm", "libopus", 1, False), ("mp3", "mp3", 1, False), ("mka", "flac", 2, False)),
)
_LISTS = (
    b"ffconcat version 1.0\nfile /etc/passwd\n",
    b"ffconcat version 1.0\nfile other.wav\nfile other.wav\n",
    b"#EXTM3U\n#EXT-X-TARGETDURATION:9\n#EXTINF:9,\nother.wav\n#EXT-X-ENDLIST\n",
    b"<?xml version='1.0'?><MPD><Period><AdaptationSet/></Period></MPD>",
    b"v=0\no=- 0 0 IN IP4 127.0.0.1\ns=x\nc=IN IP4 127.0.0.1\nm=audio 9 RTP/AVP 0\n",
)


def _voice(channels: int, rate: int) -> Any:
    t = np.arange(round(_SECONDS * rate)) / rate
    buzz = sum(np.sin(2 * np.pi * 150 * k * t) / k for k in range(1, 20))
    one = 0.1 * buzz * (0.5 - 0.5 * np.cos(2 * np.pi * 4 * t)) * ((t % 1.0) < 0.8)
    return np.repeat(np.asarray(one + 1e-4 * np.sin(9000 * t))[None, :], channels, axis=0)


def seeds() -> list[tuple[str, bytes]]:
    """A whole recording of every kind: the suffix of its file, and its bytes."""
    found = []
    with tempfile.TemporaryDirectory() as made:
        for ending, codec, channels, picture in _KINDS:
            rate = _RATE if codec.startswith(("pcm", "flac")) else 48_000
            path = Path(made) / f"seed.{ending}"
            write(path, _voice(channels, rate), rate, codec, picture=picture)
            found.append((ending, path.read_bytes()))
    return found


def _floats(rng: random.Random) -> bytes:
    channels = rng.choice((1, 2, 3, 5, 6, 7, 8, 9, 10, 12, 16, 24, 32, 64, 255))
    data = np.ascontiguousarray(_voice(channels, _RATE).T, dtype="<f4")
    for _ in range(rng.choice((0, 1, 50, 5000))):
        at = rng.randrange(data.size)
        data.flat[at] = rng.choice((float("nan"), float("inf"), -float("inf"), 1e38, -1e30, 1e-45, 40.0))
    head = struct.pack("<IHHIIHH", 16, 3, channels, _RATE, _RATE * 4 * channels, 4 * channels, 32)
    body = b"WAVEfmt " + head + b"data" + struct.pack("<I", data.nbytes) + data.tobytes()
    return b"RIFF" + struct.pack("<I", len(body) % 2**32) + body


def mutated(rng: random.Random, whole: list[tuple[str, bytes]], folder: Path) -> tuple[Path, str]:
    """Write one mutated recording into `folder`; returns it and what was done."""
    ending, data = rng.choice(whole)
    what = rng.choice(
        ("flips", "flips", "head", "head", "cut", "stretch", "joined", "doubled", "floats", "list")
    )
    out = bytearray(data)
    if what == "flips":
        for _ in range(rng.choice((1, 5, 50, 500))):
            out[rng.randrange(len(out))] = rng.randrange(256)
    elif what == "head":  # where a header says how much, how often, how many
        for _ in range(rng.choice((1, 2, 6))):
            at = rng.randrange(min(len(out), 600))
            size = rng.choice((1, 2, 4))
            out[at : at + size] = rng.choice((bytes(size), b"\xff" * size, rng.randbytes(size)))
    elif what == "cut":
        del out[rng.randrange(len(out)) :]
    elif what == "stretch":
        at = rng.randrange(len(out))
        out[at : at + rng.choice((0, 100, 5000))] = rng.randbytes(rng.choice((1, 100, 5000)))
    elif what == "joined":
        out = bytearray(data[: rng.randrange(len(data))] + rng.choice(whole)[1])
    elif what == "doubled":
        out = bytearray(data * rng.choice((2, 5)))
    elif what == "floats":
        ending, out = "wav", bytearray(_floats(rng))
    else:
        out = bytearray(rng.choice(_LISTS))
        ending = rng.choice(("wav", "m3u8", "ffconcat", "mpd", "sdp", "txt"))
    path = folder / f"take.{ending}"
    path.write_bytes(out)
    return path, f"{ending}: {what}"
