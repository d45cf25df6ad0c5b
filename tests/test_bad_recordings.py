"""Recordings that cannot be judged: two lines on standard error, exit status 1, nothing else."""

from __future__ import annotations

import os
import struct
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from offbook.audio import survey
from offbook.errors import RecordingError
from tests.sounds import film_without_sound, silence, sine, voice, write

pytestmark = pytest.mark.heavy

SPEECH = """\
The harbour lights went out at nine, and nobody on the quay could say who had put them out.
We stood there with the ropes in our hands, waiting for a boat that was already home.
"""


@pytest.fixture
def script(tmp_path: Path) -> Path:
    path = tmp_path / "speech.txt"
    path.write_text(SPEECH, encoding="utf-8")
    return path


def refused(script: Path, recording: Path) -> str:
    """Run the command on it; the two lines of its refusal."""
    done = subprocess.run(
        [sys.executable, "-m", "offbook", "run", str(script), str(recording)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 1, done.stderr
    assert done.stdout == ""
    lines = done.stderr.splitlines()
    assert len(lines) == 2, done.stderr
    assert lines[0].startswith("offbook: ")
    assert "Traceback" not in done.stderr
    return lines[0].removeprefix("offbook: ")


def test_a_recording_that_does_not_exist_is_refused(script: Path, tmp_path: Path) -> None:
    assert "there is no file" in refused(script, tmp_path / "gone.wav")


def test_a_folder_is_refused_as_a_recording(script: Path, tmp_path: Path) -> None:
    assert "is a folder" in refused(script, tmp_path)


def test_an_empty_file_is_refused_as_a_recording(script: Path, tmp_path: Path) -> None:
    (tmp_path / "a.wav").touch()
    assert "empty file" in refused(script, tmp_path / "a.wav")


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("text.wav", SPEECH.encode() * 20),
        ("page.mp3", b"<!doctype html><title>Sign in</title>" * 50),
        ("noise.m4a", np.random.default_rng(4).bytes(40_000)),
        ("zeros.webm", bytes(40_000)),
        ("list.m3u8", b"#EXTM3U\n#EXTINF:9,\nhttp://127.0.0.1:9/a.ts\n"),
        ("head.wav", b"RIFF\x24\x00\x00\x00WAVE"),
    ],
)
def test_a_file_with_only_the_name_of_a_recording_is_refused(
    name: str, data: bytes, script: Path, tmp_path: Path
) -> None:
    (tmp_path / name).write_bytes(data)
    assert name in refused(script, tmp_path / name)


def test_a_photograph_named_wav_is_refused(script: Path, tmp_path: Path) -> None:
    import av

    image = av.VideoFrame.from_ndarray(np.full((64, 64, 3), 90, dtype=np.uint8), format="rgb24")
    with av.open(str(tmp_path / "a.png"), "w", format="image2", options={"update": "1"}) as container:
        stream = container.add_stream("png", rate=1)
        stream.width = stream.height = 64
        stream.pix_fmt = "rgb24"
        container.mux(stream.encode(image))
        container.mux(stream.encode(None))
    (tmp_path / "a.png").rename(tmp_path / "a.wav")
    assert "without an audio stream" in refused(script, tmp_path / "a.wav")


def test_a_film_without_sound_is_refused(script: Path, tmp_path: Path) -> None:
    path = film_without_sound(tmp_path / "a.mp4")
    assert "without an audio stream" in refused(script, path)


def test_a_phone_recording_cut_off_before_its_index_is_refused(script: Path, tmp_path: Path) -> None:
    """An m4a or mp4 keeps its index at the end: cut off, there is nothing to find the sound by."""
    whole = write(tmp_path / "whole.m4a", voice(8, 44_100), 44_100, "aac").read_bytes()
    (tmp_path / "cut.m4a").write_bytes(whole[: len(whole) // 2])
    assert "cut off" in refused(script, tmp_path / "cut.m4a")


def test_a_silent_recording_is_refused(script: Path, tmp_path: Path) -> None:
    path = write(tmp_path / "a.flac", silence(8, 44_100), 44_100, "flac")
    assert "silent" in refused(script, path)


def test_a_recording_of_two_seconds_is_refused(script: Path, tmp_path: Path) -> None:
    path = write(tmp_path / "a.wav", voice(2, 16_000), 16_000)
    assert "only 2.0 s long" in refused(script, path)


def test_a_recording_of_three_hours_is_refused_by_its_header_alone(script: Path, tmp_path: Path) -> None:
    """The file is a hole on the disk: nothing of it is decoded."""
    path = write(tmp_path / "a.wav", silence(1, 8_000), 8_000, "pcm_mulaw")
    data = bytearray(path.read_bytes())
    at = data.index(b"data") + 4
    size = 3 * 3600 * 8_000
    data[at : at + 4] = size.to_bytes(4, "little")
    data[4:8] = (size + at - 4).to_bytes(4, "little")
    path.write_bytes(data)
    os.truncate(path, at + 4 + size)
    assert "3 h 0 min long" in refused(script, path)


@pytest.mark.model
def test_a_recording_of_music_alone_is_refused(script: Path, tmp_path: Path) -> None:
    tune = np.concatenate(
        [
            sum(sine(f * 2 ** (n / 12), 0.5, 16_000, -18) for f in (220, 277, 330))
            for n in (0, 5, 7, 0, 3, 8, 7, 5) * 3
        ],
        axis=1,
    )
    message = refused(script, write(tmp_path / "a.wav", tune, 16_000))
    assert "words" in message


@pytest.mark.model
def test_a_recording_of_a_room_in_which_nobody_speaks_is_refused(script: Path, tmp_path: Path) -> None:
    hiss = np.random.default_rng(5).standard_normal((1, 160_000)) * 10 ** (-50 / 20)
    assert "words" in refused(script, write(tmp_path / "a.wav", hiss, 16_000))


@contextmanager
def as_nobody() -> Iterator[None]:
    """Root may read everything: step down to a user who may not."""
    if os.geteuid() != 0:
        yield
        return
    os.seteuid(65_534)
    try:
        yield
    finally:
        os.seteuid(0)


def test_a_recording_that_may_not_be_read_is_refused(script: Path, tmp_path: Path) -> None:
    path = write(tmp_path / "a.wav", voice(4, 16_000), 16_000)
    path.chmod(0)
    for folder in (tmp_path, *tmp_path.parents):
        if folder.is_relative_to("/tmp") and folder != Path("/tmp"):
            folder.chmod(0o755)
    with as_nobody(), pytest.raises(RecordingError) as caught:
        survey(path)
    assert "you do not have permission to read" in caught.value.what


def test_a_wav_file_that_was_cut_off_is_heard_as_far_as_it_goes(tmp_path: Path) -> None:
    """Its header says 8 s, 5 s are there."""
    whole = write(tmp_path / "whole.wav", voice(8, 16_000), 16_000).read_bytes()
    (tmp_path / "cut.wav").write_bytes(whole[: len(whole) * 5 // 8])
    report = survey(tmp_path / "cut.wav")
    assert report.seconds == pytest.approx(5, abs=0.1)
    assert report.line is not None and "breaks off after 5 s of the 8 s" in report.line and not report.poor


@pytest.mark.parametrize("size", [0, 0x7FFF_FFFF, 0xFFFF_FFFF])
def test_a_wav_file_without_its_length_in_the_header_counts_as_complete(size: int, tmp_path: Path) -> None:
    data = bytearray(write(tmp_path / "whole.wav", voice(8, 16_000), 16_000).read_bytes())
    at = data.index(b"data") + 4
    data[at : at + 4] = size.to_bytes(4, "little")
    (tmp_path / "live.wav").write_bytes(data)
    assert survey(tmp_path / "live.wav").line is None


def test_the_report_says_before_the_verdicts_that_a_recording_breaks_off(tmp_path: Path) -> None:
    whole = write(tmp_path / "whole.flac", voice(8, 16_000), 16_000, "flac").read_bytes()
    (tmp_path / "cut.flac").write_bytes(whole[: len(whole) // 2])
    report = survey(tmp_path / "cut.flac")
    assert report.line is not None and "breaks off" in report.line and "8 s" in report.line
    assert not report.poor


@pytest.mark.parametrize("codec", ["libopus", "flac"])
def test_an_ogg_file_that_was_cut_off_is_reported_though_it_states_no_length(
    codec: str, tmp_path: Path
) -> None:
    """Its last page is not whole. Source: RFC 3533, section 6, the Ogg page."""
    file = write(tmp_path / "whole.ogg", voice(8, 48_000), 48_000, codec)
    assert survey(file).line is None
    whole = file.read_bytes()
    (tmp_path / "cut.ogg").write_bytes(whole[: len(whole) * 3 // 4])
    report = survey(tmp_path / "cut.ogg")
    assert report.line is not None and report.line.startswith("The file breaks off after ")
    assert "copy it again" in report.line and not report.poor


def test_of_a_recording_damaged_in_the_middle_the_undamaged_sound_is_heard(tmp_path: Path) -> None:
    data = bytearray(write(tmp_path / "a.mp3", voice(8, 44_100), 44_100, "libmp3lame").read_bytes())
    data[len(data) // 2 : len(data) // 2 + 3000] = np.random.default_rng(6).bytes(3000)
    (tmp_path / "b.mp3").write_bytes(data)
    assert survey(tmp_path / "b.mp3").seconds == pytest.approx(8, abs=0.5)


def test_a_bad_recording_is_reported_before_a_missing_model(
    script: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Fetching a model first and learning then that the file is silent would be a wasted evening."""
    monkeypatch.setenv("OFFBOOK_MODEL", str(tmp_path / "no_such_model"))
    quiet = write(tmp_path / "quiet.wav", silence(10, 16_000), 16_000)
    assert "silent" in refused(script, quiet)
    assert "no_such_model" in refused(script, write(tmp_path / "a.wav", voice(10, 16_000), 16_000))


@pytest.mark.parametrize("rate", [3, 1_627_405_952])
def test_a_header_with_an_impossible_sample_rate_counts_as_damaged(rate: int, tmp_path: Path) -> None:
    # the rate is behind the format and the channels in the format chunk (RIFF: Multimedia Programming
    # Interface and Data Specifications 1.0, 1991)
    path = write(tmp_path / "take.wav", voice(2, 16_000), 16_000)
    data = bytearray(path.read_bytes())
    at = data.index(b"fmt ") + 12
    data[at : at + 4] = rate.to_bytes(4, "little")
    path.write_bytes(data)
    with pytest.raises(RecordingError, match="header is damaged"):
        survey(path)


# Channels, numbers and playlists --------------------------------------------------------------------


def floats(path: Path, data: np.ndarray[tuple[int, int], np.dtype[np.float32]], rate: int = 16_000) -> Path:
    """A WAV of 32-bit floats, (channels, n), written byte by byte: any number of channels, any value."""
    channels = data.shape[0]
    body = np.ascontiguousarray(data.T, dtype="<f4").tobytes()
    head = struct.pack("<IHHIIHH", 16, 3, channels, rate, rate * 4 * channels, 4 * channels, 32)
    chunks = b"WAVEfmt " + head + b"data" + struct.pack("<I", len(body)) + body
    path.write_bytes(b"RIFF" + struct.pack("<I", len(chunks)) + chunks)
    return path


def spread(channels: int, seconds: float = 4.0) -> np.ndarray[tuple[int, int], np.dtype[np.float32]]:
    """A voice, the same on every channel."""
    return np.repeat(voice(seconds, 16_000, -20), channels, axis=0).astype(np.float32)


def in_seven_one(path: Path, codec: str) -> Path:
    """A voice on all eight channels of 7.1."""
    import av

    data = np.repeat(voice(4, 48_000, -20), 8, axis=0).astype(np.float32)
    with av.open(str(path), "w") as container:
        stream: Any = container.add_stream(codec, rate=48_000, layout="7.1")
        packed = np.ascontiguousarray(data.T).reshape(1, -1)
        frame: Any = av.AudioFrame.from_ndarray(packed, format="flt", layout="7.1")
        frame.rate = 48_000
        resampler = av.AudioResampler(format=stream.codec_context.format, layout="7.1", rate=48_000)
        for ready in resampler.resample(frame):
            container.mux(stream.encode(ready))
        container.mux(stream.encode(None))
    return path


MEASURE = """
import sys
from offbook.audio import loudness_of, pcm, survey
from offbook.errors import RecordingError
for path in sys.argv[1:]:
    try:
        report = survey(path)
        sound = b"".join(pcm(path, sound=report))
        print("heard", report.channels, len(sound) // 2, loudness_of(path).seconds)
    except RecordingError as e:
        print("refused", e.what)
"""


def test_a_recording_with_any_number_of_channels_is_heard_or_refused(tmp_path: Path) -> None:
    """In a process of its own: more than eight channels once ended it, without a word."""
    paths = [floats(tmp_path / f"{n}.wav", spread(n)) for n in (1, 2, 3, 6, 8, 9, 10, 12, 16, 24, 32, 255)]
    for name, codec in (("a.m4a", "aac"), ("b.flac", "flac"), ("c.opus", "libopus")):
        paths.append(in_seven_one(tmp_path / name, codec))
    done = subprocess.run(
        [sys.executable, "-c", MEASURE, *map(str, paths)], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, (done.returncode, done.stderr[-500:])
    told = dict(zip([p.name for p in paths], done.stdout.splitlines(), strict=True))
    for name, line in told.items():
        if name in ("9.wav", "32.wav", "255.wav"):
            assert line.startswith("refused") and "channels" in line, (name, line)
        else:
            kept = 1 if name == "1.wav" else 2
            assert line.startswith(f"heard {kept} "), (name, line)
            assert int(line.split()[2]) == pytest.approx(64_000, abs=1_000), (name, line)


def test_a_voice_on_one_of_many_channels_keeps_its_level(tmp_path: Path) -> None:
    """BS.775 mixes left and right in as they are; what is silent beside them takes nothing away."""
    data = spread(6)
    data[2:] = 0
    six = survey(floats(tmp_path / "six.wav", data))
    two = survey(floats(tmp_path / "two.wav", data[:2]))
    assert six.loudness == pytest.approx(two.loudness, abs=0.3)


def test_samples_that_are_not_numbers_become_silence_and_are_reported(tmp_path: Path) -> None:
    data = spread(2)
    whole = survey(floats(tmp_path / "whole.wav", data))
    data[0, 5_000], data[1, 5_001], data[0, 20_000], data[1, 20_001] = np.nan, np.inf, -np.inf, 1e30
    report = survey(floats(tmp_path / "broken.wav", data))
    assert report.line is not None and report.line.endswith(
        "4 samples of the file are not valid numbers and count as silence: export it again."
    )
    assert report.loudness == pytest.approx(whole.loudness, abs=0.3)
    assert report.peak == pytest.approx(whole.peak, abs=0.5)


def test_a_recording_whose_samples_are_all_not_numbers_is_silent(tmp_path: Path) -> None:
    with pytest.raises(RecordingError, match="is silent"):
        survey(floats(tmp_path / "a.wav", np.full((1, 48_000), np.nan, dtype=np.float32)))


@pytest.mark.parametrize(
    "text",
    ["ffconcat version 1.0\nfile other.wav\n", "#EXTM3U\n#EXT-X-TARGETDURATION:9\n#EXTINF:9,\nother.wav\n"],
)
@pytest.mark.parametrize("name", ["take.ffconcat", "take.m3u8", "take.wav"])
def test_a_playlist_is_refused_and_opens_no_other_file(name: str, text: str, tmp_path: Path) -> None:
    write(tmp_path / "other.wav", voice(4, 16_000), 16_000)
    (tmp_path / name).write_text(text, encoding="utf-8")
    with pytest.raises(RecordingError, match="not a recording"):
        survey(tmp_path / name)


def test_the_refusal_of_a_long_recording_states_its_true_length(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A silent one takes so few bytes that its header is not believed; then it is decoded, up to a point."""
    monkeypatch.setattr("offbook.audio.decode.LONGEST_SECONDS", 60.0)
    path = write(tmp_path / "a.flac", silence(180, 1_000), 1_000, "flac")
    with pytest.raises(RecordingError, match="is 0 h 3 min long"):
        survey(path)
