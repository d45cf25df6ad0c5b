"""The picture of a recording: its size as shown, its rate, its light, and whether anything moves."""

from __future__ import annotations

import struct
from collections.abc import Callable, Iterable
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest
from numpy.typing import NDArray

from offbook.audio import Picture, moving_picture
from offbook.audio import picture as audio_picture
from offbook.errors import RecordingError
from tests.sounds import film_without_sound, sine, write

Luma = NDArray[np.uint8]  # (height, width), as stored

BLACK, WHITE = 16, 235  # ITU-R BT.601-7 and BT.709-6: black level and nominal peak of luma in 8 bits
WEBM = pytest.param("a.webm", "libvpx", marks=pytest.mark.heavy)  # coding it takes a quarter of a second


def flat(value: int, width: int = 64, height: int = 48) -> Luma:
    return np.full((height, width), value, dtype=np.uint8)


def moving(count: int, width: int = 64, height: int = 48) -> list[Luma]:
    """A white bar that goes from left to right over black, once."""
    frames = []
    for n in range(count):
        frame = flat(BLACK, width, height)
        at = n * (width - 8) // count
        frame[:, at : at + 8] = WHITE
        frames.append(frame)
    return frames


def film(
    path: Path,
    frames: Iterable[Luma],
    codec: str = "libx264",
    *,
    rate: int | Fraction = 25,
    pixels: str = "yuv420p",
    shape: Fraction | None = None,
    keys_every: int = 0,
    bits: int = 0,
    live: bool = False,
    full: bool = False,
) -> Path:
    """Encode luma planes as they are.

    live: without the length and index that are written at the end. full: 0 to 255 stated as the range.
    """
    options = {"live": "1"} if live else {}
    with av.open(str(path), "w", options=options) as container:
        stream: Any = None
        for luma in frames:
            if stream is None:
                stream = container.add_stream(codec, rate=rate)
                stream.height, stream.width = luma.shape
                stream.pix_fmt = pixels
                if full:
                    stream.codec_context.color_range = 2  # AVCOL_RANGE_JPEG of FFmpeg
                if shape is not None:
                    stream.codec_context.sample_aspect_ratio = shape
                if keys_every:
                    stream.codec_context.gop_size = keys_every
                if bits:
                    stream.bit_rate = bits
            height, width = luma.shape
            grey = np.full((height // 2, width), 128, dtype=np.uint8)
            frame: Any = av.VideoFrame.from_ndarray(np.concatenate([luma, grey]), format=pixels)
            if full:
                frame.color_range = 2
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return path


def seen(path: Path) -> Picture:
    picture = moving_picture(path)
    assert picture is not None
    return picture


def turned(path: Path, matrix: tuple[int, ...]) -> Path:
    """`path` with a b c d of its track's matrix set, each 1, 0 or -1.

    ISO/IEC 14496-12, 8.3.2, TrackHeaderBox: after the type are version and flags (4 bytes), two times,
    the track, a reserved word and the length (20 bytes in version 0, 32 in version 1), then 16 bytes, then
    the matrix a b u c d v x y w, big-endian, fixed point 16.16 but for u v w, which are 2.30.
    """
    data = bytearray(path.read_bytes())
    start = data.index(b"tkhd") + 4
    at = start + 4 + (32 if data[start] else 20) + 16
    a, b, c, d = (n << 16 for n in matrix)
    assert struct.unpack_from(">9i", data, at) == (1 << 16, 0, 0, 0, 1 << 16, 0, 0, 0, 1 << 30)
    struct.pack_into(">9i", data, at, a, b, 0, c, d, 0, 0, 0, 1 << 30)
    path.write_bytes(data)
    return path


@pytest.mark.heavy
@pytest.mark.parametrize(
    ("name", "codec", "told"),
    [
        ("phone.mp4", "libx264", "h264"),
        ("phone.mov", "libx264", "h264"),
        ("camera.mp4", "mpeg4", "mpeg4"),
        ("browser.webm", "libvpx", "vp8"),
        ("camera.mts", "libx264", "h264"),
    ],
)
def test_the_size_and_rate_of_a_film_are_read_whatever_program_made_it(
    name: str, codec: str, told: str, tmp_path: Path
) -> None:
    picture = seen(film(tmp_path / name, moving(75), codec))
    assert (picture.width, picture.height, picture.codec) == (64, 48, told)
    assert picture.frames_a_second == pytest.approx(25)
    assert picture.seconds == pytest.approx(3, abs=0.05)
    assert not picture.upright and not picture.still


@pytest.mark.heavy
@pytest.mark.parametrize("rate", [Fraction(25), Fraction(30_000, 1001)])  # SMPTE ST 12-1: 25 and 29.97
@pytest.mark.parametrize(("name", "codec"), [("a.mp4", "libx264"), ("a.mov", "mpeg4"), WEBM])
def test_a_broadcast_frame_rate_is_read_to_a_thousandth(
    name: str, codec: str, rate: Fraction, tmp_path: Path
) -> None:
    picture = seen(film(tmp_path / name, moving(60), codec, rate=rate))
    assert picture.frames_a_second == pytest.approx(float(rate), rel=0.0005)


# clockwise by 90, by 270, by 180 degrees, and none: (a, b, c, d) takes x, y to ax + cy, bx + dy (8.2.2)
@pytest.mark.heavy
@pytest.mark.parametrize(
    ("matrix", "upright"),
    [((0, 1, -1, 0), True), ((0, -1, 1, 0), True), ((-1, 0, 0, -1), False), ((1, 0, 0, 1), False)],
)
@pytest.mark.parametrize("name", ["a.mp4", "a.mov"])
def test_a_picture_stored_on_its_side_is_upright_if_its_track_says_so(
    name: str, matrix: tuple[int, ...], upright: bool, tmp_path: Path
) -> None:
    picture = seen(turned(film(tmp_path / name, moving(30, 96, 64)), matrix))
    assert (picture.width, picture.height) == ((64, 96) if upright else (96, 64))
    assert picture.upright is upright


@pytest.mark.heavy
def test_pixels_wider_than_high_make_the_picture_wider(tmp_path: Path) -> None:
    """720 x 576 shown 16:9 is 1024 x 576, by arithmetic: its pixels are 64:45."""
    path = film(tmp_path / "a.mp4", moving(5, 720, 576), shape=Fraction(64, 45))
    assert (seen(path).width, seen(path).height) == (1024, 576)


def test_the_shape_of_the_pixels_is_rotated_with_the_picture(tmp_path: Path) -> None:
    path = turned(film(tmp_path / "a.mov", moving(5, 96, 64), shape=Fraction(2)), (0, 1, -1, 0))
    assert (seen(path).width, seen(path).height) == (64, 192)


@pytest.mark.heavy
@pytest.mark.parametrize(("luma", "light"), [(BLACK, 0.0), (WHITE, 1.0), (126, 110 / 219)])
@pytest.mark.parametrize(("name", "codec"), [("a.mp4", "libx264"), WEBM])
def test_black_is_0_and_white_is_1_in_the_range_of_video(
    name: str, codec: str, luma: int, light: float, tmp_path: Path
) -> None:
    picture = seen(film(tmp_path / name, [flat(luma)] * 30, codec))
    assert picture.brightness == pytest.approx(light, abs=0.006)


@pytest.mark.heavy
@pytest.mark.parametrize(("luma", "light"), [(0, 0.0), (16, 16 / 255), (255, 1.0)])
@pytest.mark.parametrize("codec", ["mjpeg", "libvpx-vp9"])
def test_black_is_0_and_white_is_1_in_the_full_range(
    codec: str, luma: int, light: float, tmp_path: Path
) -> None:
    """ITU-T T.871 (JFIF): luma takes all of 0 to 255; other codings say so in their colour range."""
    if codec == "mjpeg":
        path = film(tmp_path / "a.mov", [flat(luma)] * 30, codec, pixels="yuvj420p")
    else:
        path = film(tmp_path / "a.webm", [flat(luma)] * 30, codec, full=True)
    picture = seen(path)
    assert picture.brightness == pytest.approx(light, abs=0.006)


@pytest.mark.heavy
@pytest.mark.parametrize("keys_every", [5, 1000])
def test_the_brightness_is_measured_over_the_whole_length(keys_every: int, tmp_path: Path) -> None:
    frames = [flat(BLACK)] * 60 + [flat(WHITE)] * 60
    picture = seen(film(tmp_path / "a.mp4", frames, "mpeg4", keys_every=keys_every))
    assert picture.brightness == pytest.approx(0.5, abs=0.1)
    assert not picture.still


def wall(seed: int = 5) -> NDArray[np.float64]:
    """A picture with shades and edges, 320 x 180."""
    rng = np.random.default_rng(seed)
    shades = np.add.outer(np.linspace(40, 120, 180), np.linspace(0, 80, 320))
    return np.asarray(shades + np.kron(rng.integers(-20, 20, (6, 8)), np.ones((30, 40))))


def noisy(picture: NDArray[np.float64], seed: int) -> Luma:
    grain = np.random.default_rng(seed).normal(0, 3, picture.shape)
    return np.clip(picture + grain, BLACK, WHITE).astype(np.uint8)


@pytest.mark.heavy
@pytest.mark.parametrize(("name", "codec"), [("a.mp4", "libx264"), ("b.mp4", "mpeg4"), ("a.webm", "libvpx")])
@pytest.mark.parametrize("keys_every", [10, 1000])
def test_a_lossy_photograph_counts_as_still_and_a_moving_mouth_in_it_does_not(
    name: str, codec: str, keys_every: int, tmp_path: Path
) -> None:
    asleep, awake = wall(), wall()
    awake[90:98, 150:166] -= 40  # a mouth of 16 x 8 pixels, a twentieth of the width
    for speaks in (False, True):
        frames = [noisy(awake if speaks and n // 5 % 3 else asleep, n) for n in range(100)]
        path = film(tmp_path / name, frames, codec, keys_every=keys_every, bits=600_000)
        assert seen(path).still is not speaks


@pytest.mark.heavy
def test_a_film_that_looks_alike_at_every_key_frame_is_not_still(tmp_path: Path) -> None:
    """Each key frame shows a shut mouth, so the frames between them must be looked at too."""
    shut, open_ = wall(), wall()
    open_[90:98, 150:166] -= 40
    frames = [(open_ if 5 <= n % 25 < 20 else shut).astype(np.uint8) for n in range(125)]
    path = film(tmp_path / "a.mp4", frames, keys_every=25)
    with av.open(str(path)) as container:
        keys = [packet.is_keyframe for packet in container.demux(video=0) if packet.size]
    assert [n % 25 for n, key in enumerate(keys) if key] == [0] * 5, "as the encoder was asked"
    assert not seen(path).still


def test_a_film_of_one_frame_is_a_still_picture(tmp_path: Path) -> None:
    picture = seen(film(tmp_path / "a.mp4", [flat(WHITE)]))
    assert picture.still and picture.brightness == pytest.approx(1, abs=0.006)


def test_a_recording_of_sound_alone_has_no_picture(tmp_path: Path) -> None:
    for name, codec in (("a.wav", "pcm_s16le"), ("a.m4a", "aac"), ("a.mp3", "libmp3lame")):
        assert moving_picture(write(tmp_path / name, sine(500, 1, 48_000, -12), 48_000, codec)) is None


def photograph(path: Path) -> Path:
    """A picture of 16 x 16 pixels as PNG."""
    stream: Any = av.CodecContext.create("png", "w")
    stream.width = stream.height = 16
    stream.pix_fmt, stream.time_base = "rgb24", Fraction(1, 25)
    image: Any = av.VideoFrame.from_ndarray(np.full((16, 16, 3), 90, dtype=np.uint8), format="rgb24")
    path.write_bytes(b"".join(bytes(packet) for packet in [*stream.encode(image), *stream.encode(None)]))
    return path


def test_the_cover_in_an_mp3_file_does_not_count_as_a_picture(tmp_path: Path) -> None:
    """ID3v2.3.0, sections 3.1, 3.3 and 4.15: tag, frame, attached picture; 3 is the front cover."""
    cover = photograph(tmp_path / "cover.png").read_bytes()
    body = b"\x00image/png\x00\x03\x00" + cover
    frame = b"APIC" + len(body).to_bytes(4, "big") + b"\x00\x00" + body
    size = bytes(len(frame) >> shift & 0x7F for shift in (21, 14, 7, 0))
    path = write(tmp_path / "a.mp3", sine(500, 1, 44_100, -12), 44_100, "libmp3lame")
    path.write_bytes(b"ID3\x03\x00\x00" + size + frame + path.read_bytes())
    with av.open(str(path)) as container:
        assert container.streams.video, "the cover is found as a stream of pictures"
    assert moving_picture(path) is None


def test_a_photograph_does_not_count_as_a_film_whatever_its_name(tmp_path: Path) -> None:
    path = photograph(tmp_path / "a.png")
    assert moving_picture(path) is None
    assert moving_picture(path.rename(tmp_path / "a.mp4")) is None


@pytest.mark.heavy
def test_a_film_has_a_picture_with_or_without_sound(tmp_path: Path) -> None:
    silent = seen(film_without_sound(tmp_path / "silent.mp4", 3))
    loud = seen(write(tmp_path / "loud.mp4", sine(500, 3, 48_000, -12), 48_000, "aac", picture=True))
    for picture in (silent, loud):
        assert (picture.width, picture.height, picture.codec) == (64, 64, "mpeg4")
        assert picture.seconds == pytest.approx(3, abs=0.05)
        assert picture.frames_a_second == pytest.approx(10)


@pytest.mark.parametrize("count", [1, *(pytest.param(n, marks=pytest.mark.heavy) for n in (30, 500))])
def test_a_webm_file_without_a_stated_length_is_measured(count: int, tmp_path: Path) -> None:
    frames = [flat(BLACK if n < count / 2 else WHITE) for n in range(count)]
    path = film(tmp_path / "a.webm", frames, "libvpx", keys_every=10, live=True)
    with av.open(str(path)) as container:
        assert container.duration is None and container.streams.video[0].duration is None
    picture = seen(path)
    assert (picture.width, picture.height) == (64, 48)
    if count == 1:  # one frame takes no time that could be measured
        assert picture.seconds is None and picture.frames_a_second is None and picture.still
    else:
        assert picture.seconds == pytest.approx(count / 25, abs=0.05)
        assert picture.frames_a_second == pytest.approx(25, rel=0.01)
        assert picture.brightness == pytest.approx(0.5, abs=0.1) and not picture.still


def test_a_picture_that_changes_its_size_has_the_size_of_most_of_its_frames(tmp_path: Path) -> None:
    """Two transport streams may be joined to one (ISO/IEC 13818-1); it has enough key frames."""
    short = film(tmp_path / "short.ts", moving(20, 64, 48), keys_every=5).read_bytes()
    long = film(tmp_path / "long.ts", moving(80, 48, 64), keys_every=5).read_bytes()
    path = tmp_path / "a.ts"
    path.write_bytes(short + long)
    assert seen(path).upright


def counted(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """A list that grows by one entry with each packet that is decoded from here on."""
    decode: Callable[[Any, Any], list[Any]] = audio_picture.decoded
    packets: list[int] = []

    def count(stream: Any, packet: Any) -> list[Any]:
        if packet is not None:
            packets.append(packet.size)
        return decode(stream, packet)

    monkeypatch.setattr(audio_picture, "decoded", count)
    return packets


@pytest.mark.heavy
def test_only_a_dozen_frames_of_a_long_film_are_decoded(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = film(tmp_path / "a.mp4", moving(1500), keys_every=25)
    packets = counted(monkeypatch)
    assert not seen(path).still
    assert len(packets) == 12


@pytest.mark.heavy
def test_few_frames_of_a_long_film_without_a_stated_length_are_decoded(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """24 of the first key frames, and 12 more each time their number doubles: here there are 300."""
    path = film(tmp_path / "a.webm", moving(1500), "libvpx", keys_every=5, live=True)
    packets = counted(monkeypatch)
    assert not seen(path).still
    assert len(packets) <= 24 + 4 * 12


@pytest.mark.heavy
def test_a_film_with_one_key_frame_is_decoded_only_up_to_the_limit(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    frames = [flat(BLACK)] * 200 + [flat(WHITE)] * 200
    path = film(tmp_path / "a.mp4", frames, "mpeg4", keys_every=1000)
    whole = seen(path)
    monkeypatch.setattr(audio_picture, "_MOST_DECODED_PIXELS", 50 * 64 * 48)
    packets = counted(monkeypatch)
    bounded = seen(path)
    assert len(packets) <= 2 + 51  # the key frames, the second where the encoder saw the change
    assert bounded.brightness < 0.2 < whole.brightness == pytest.approx(0.5, abs=0.1)


def damaged(path: Path, places: int) -> Path:
    """`path` with so many bytes inverted, none of them near its beginning or its end."""
    data = bytearray(path.read_bytes())
    for at in np.random.default_rng(7).integers(len(data) // 10, len(data) * 8 // 10, places):
        data[at] ^= 0xFF
    path.write_bytes(data)
    return path


@pytest.mark.heavy
@pytest.mark.parametrize("name", ["a.mp4", "a.ts", "a.webm"])
def test_damaged_places_in_a_film_are_skipped(name: str, tmp_path: Path) -> None:
    codec = "libvpx" if name == "a.webm" else "libx264"
    frames = [noisy(wall(), n) for n in range(200)]
    path = film(tmp_path / name, frames, codec, keys_every=20, bits=600_000)
    whole = seen(path)
    picture = seen(damaged(path, 20))
    assert (picture.width, picture.height) == (320, 180)
    assert picture.brightness == pytest.approx(whole.brightness, abs=0.1)


@pytest.mark.heavy
@pytest.mark.parametrize("name", ["a.mp4", "a.ts"])
def test_an_incomplete_frame_is_not_taken_for_movement(name: str, tmp_path: Path) -> None:
    """The decoder of H.264 marks the frames that it had to complete; that of VP8 does not."""
    frames = [noisy(wall(), n) for n in range(200)]
    path = damaged(film(tmp_path / name, frames, keys_every=5, bits=600_000), 20)
    light = (wall().mean() - BLACK) / (WHITE - BLACK)
    picture = seen(path)
    assert picture.still and picture.brightness == pytest.approx(light, abs=0.01)


@pytest.mark.heavy
def test_a_film_that_is_cut_off_is_judged_by_what_is_left(tmp_path: Path) -> None:
    path = film(tmp_path / "a.webm", [flat(WHITE)] * 300, "libvpx", keys_every=10)
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    assert seen(path).brightness == pytest.approx(1, abs=0.006)


def fails(path: Path) -> RecordingError:
    with pytest.raises(RecordingError) as caught:
        moving_picture(path)
    error = caught.value
    assert str(path) in error.what and error.do
    assert "\n" not in error.what + error.do
    return error


def test_a_missing_file_a_folder_and_an_empty_file_get_different_errors(tmp_path: Path) -> None:
    (tmp_path / "empty.mp4").touch()
    assert "no file" in fails(tmp_path / "none.mp4").what
    assert "folder" in fails(tmp_path).what
    assert "empty" in fails(tmp_path / "empty.mp4").what


@pytest.mark.parametrize("name", ["a.txt", "a.nfo", "a.mp4", "a"])
@pytest.mark.parametrize("lines", [1, 200])
def test_a_text_file_is_refused_as_a_recording(name: str, lines: int, tmp_path: Path) -> None:
    (tmp_path / name).write_text("Two households, both alike in dignity\n" * lines)
    assert "is not a recording" in fails(tmp_path / name).what


def test_a_file_with_subtitles_alone_is_refused_as_a_recording(tmp_path: Path) -> None:
    (tmp_path / "a.srt").write_text("1\n00:00:01,000 --> 00:00:02,000\nTwo households\n\n" * 3)
    assert "is not a recording" in fails(tmp_path / "a.srt").what


def test_a_film_without_its_pictures_is_reported(tmp_path: Path) -> None:
    path = film(tmp_path / "a.mp4", moving(50))
    data = path.read_bytes()
    start, end = data.index(b"mdat") + 4, data.index(b"moov") - 4
    path.write_bytes(data[:start] + bytes(end - start) + data[end:])
    assert "no frame" in fails(path).what


def test_a_film_in_an_unknown_format_is_reported(tmp_path: Path) -> None:
    """ISO/IEC 14496-12, 8.5.2: the sample description names the coding by four characters."""
    path = film(tmp_path / "a.mp4", moving(50))
    data = bytearray(path.read_bytes())
    at = data.index(b"avc1", data.index(b"stsd"))
    data[at : at + 4] = b"zzzz"
    path.write_bytes(data)
    assert "no frame" in fails(path).what
