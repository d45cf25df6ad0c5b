"""A watched film at its bounds: joins, gaps, light, the layout of its file, and what browsers lack."""

from __future__ import annotations

import io
import struct
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from offbook.audio.boxes import FileLayout, _boxes, browser_lacks, layout_of
from offbook.audio.in_step import sound_jump, sound_late
from offbook.audio.joins import Join, joins_in
from offbook.audio.light import Light, light_of
from offbook.audio.watching import WatchedFilm, _change_of_cells, _largest_changes, _motion_of_parts
from tests.test_audio_film import box, edited, watched

CUT = 50  # the picture that changes most


def joins(
    size: float, around: float = 0.02, at: int = CUT, others: dict[int, float] | None = None
) -> list[tuple[int, str, str]]:
    """The joins of a film in which one picture changes so much. others: and some others, by how much."""
    change = np.full(100, around)
    change[at] = size
    for k, value in (others or {}).items():
        change[k] = value
    film = watched(change=change, at=np.arange(100) / 4)  # so far apart that each join is told
    return [(round(j.at * 4), j.likelihood, j.why) for j in joins_in(film)]


def jump(times: int) -> str:
    return f"the picture jumps, {times} times what moves around it"


def test_a_picture_that_changes_four_times_as_much_as_its_neighbours_is_a_likely_join() -> None:
    assert joins(0.4, 0.1) == [(CUT, "likely", jump(4))]
    assert joins(0.39, 0.1) == [(CUT, "possible", jump(4))]
    assert joins(0.1501, 0.1) == [(CUT, "possible", jump(2))]
    assert joins(0.149, 0.1) == []


def test_a_change_of_less_than_a_twentieth_is_no_join_however_still_the_film_is() -> None:
    """What moves around it counts as an eightieth at least."""
    assert joins(0.05, 0.001) == [(CUT, "likely", jump(4))]
    assert joins(0.0499, 0.001) == []


def test_a_join_is_compared_with_five_pictures_before_it_and_five_after_it() -> None:
    for near, far in ((CUT - 5, CUT - 6), (CUT + 5, CUT + 6)):
        assert joins(0.12, 0.01, others={near: 0.1}) == []
        assert (CUT, "likely", jump(10)) in joins(0.12, 0.01, others={far: 0.1})


def test_the_first_picture_is_no_join_and_does_not_hide_the_second() -> None:
    assert joins(0.4, at=0) == []
    assert joins(0.4, at=1, others={0: 0.4}) == [(1, "likely", jump(20))]
    assert joins(0.4, at=99) == [(99, "likely", jump(20))]


def short(*change: float) -> list[float]:
    n = len(change)
    film = watched(at=np.arange(n) / 25, change=np.array(change))
    return [round(j.at * 25) for j in joins_in(film)]


def test_in_a_film_of_two_or_three_pictures_a_change_needs_something_to_compare_it_with() -> None:
    assert short(0.0, 0.4) == short(0.0, 0.4, 0.0) == []
    assert short(0.0, 0.4, 0.01) == [1]
    assert short(0.0, 0.4, 0.0, 0.0) == [1]


def test_pictures_are_missing_after_three_and_a_half_steps_and_a_quarter_of_a_second() -> None:
    def gaps(step: float, gap: float) -> list[str]:
        at = np.arange(100) * step
        at[50:] += gap - step
        return [f"{j.at:.2f} {j.likelihood} {j.why}" for j in joins_in(watched(at=at))]

    assert gaps(0.0625, 0.375) == ["3.06 possible 0.4 s without a picture"]
    assert gaps(0.0625, 0.25) == []
    assert gaps(0.125, 0.4375) == []  # three and a half steps
    assert gaps(0.125, 0.5) == ["6.12 possible 0.5 s without a picture"]


def test_the_edits_of_a_file_and_a_jump_of_its_sound_are_joins_in_the_order_of_the_film() -> None:
    still = watched()
    why = "the file's own edit list puts another stretch here"
    about = "about here the sound begins to come"
    assert joins_in(still, (3.0, 1.0), (2.0, 0.25)) == (
        Join(1.0, "likely", why),
        Join(2.0, "possible", f"{about} 0.2 s later against the picture"),
        Join(3.0, "likely", why),
    )
    assert joins_in(still, sound=(2.0, -0.5))[0].why == f"{about} 0.5 s earlier against the picture"
    assert joins_in(still) == ()


def light(**values: object) -> Light:
    return light_of(watched(**values))


def test_light_is_the_middle_of_all_pictures_and_the_darker_half_is_named() -> None:
    sides = np.tile([0.6, 0.3], (100, 1))
    sides[:49] = [0.1, 0.9]  # fewer than half of the pictures
    assert light(sides=sides).stops == pytest.approx(2.2) and light(sides=sides).darker == "right"
    assert light(sides=sides[:, ::-1]).darker == "left"
    assert light(sides=np.tile([0.0, 0.02], (100, 1))).stops == 0.0  # black counts as two hundredths
    assert light(sides=np.tile([0.04, 0.0], (100, 1))).stops == pytest.approx(2.2)
    assert light().darker == "right" and light().stops == 0.0
    white = np.array([0.1] * 51 + [0.9] * 49)
    assert light(white=white).blown == 0.1


def test_light_is_blown_out_or_patchy_from_its_bound_on() -> None:
    assert [Light(None, blown, 0.0, "left").is_blown_out for blown in (0.149, 0.15)] == [False, True]
    assert [Light(None, 0.0, stops, "left").is_patchy for stops in (1.99, 2.0)] == [False, True]


def pulse(hz: float, size: float, n: int = 128, other: float = 0.0) -> float | None:
    """The flicker of a film whose brightness goes up and down so often a second. other: noise beside it."""
    at = np.arange(n) / 32
    noise = other * np.random.default_rng(4).standard_normal(n)
    return light(at=at, brightness=0.5 + size * np.sin(2 * np.pi * hz * at) + noise).flicker


def test_a_flicker_is_quick_strong_and_even() -> None:
    assert pulse(10, 0.05) == pytest.approx(10)
    assert pulse(3.0, 0.05) == pytest.approx(3) and pulse(2.75, 0.05) is None
    # the standard deviation of a sine is its size by the root of two: 0.015 from 0.0212 on
    assert pulse(10, 0.022) == pytest.approx(10) and pulse(10, 0.0205) is None
    assert pulse(10, 0.05, other=0.01) == pytest.approx(10) and pulse(10, 0.05, other=0.08) is None
    assert pulse(10, 0.05, n=24) is not None and pulse(10, 0.05, n=23) is None
    assert pulse(0.0, 0.0) is None
    assert light(at=np.zeros(100), brightness=np.tile([0.4, 0.6], 50)).flicker is None  # without a clock


def test_a_change_of_the_light_is_no_movement_and_the_twentieth_that_changes_most_counts() -> None:
    before, now = np.zeros((64, 64)), np.full((64, 64), 0.25)
    now[0, 0] = 0.75
    now[0, 1] = 0.0
    change = _change_of_cells(now, before)
    assert (change[0, 0], change[0, 1], change[5, 5]) == (0.5, 0.25, 0.0)
    few = np.zeros(100)
    few[:5] = [1.0, 0.5, 0.5, 0.25, 0.25]
    assert _largest_changes(few.reshape(10, 10)) == 0.5
    assert _largest_changes(np.array([[0.0, 0.5]])) == 0.5  # one cell at least


def test_the_motion_of_a_film_is_kept_for_eight_by_eight_parts_row_by_row() -> None:
    change = np.zeros((64, 64))
    change[:8, 8:16] = 1.0  # the second part of the first row
    change[8, 0] = 64.0  # one cell of the first part of the second row
    parts = _motion_of_parts(change)
    assert parts.shape == (64,)
    assert {int(k): float(parts[k]) for k in np.flatnonzero(parts)} == {1: 1.0, 8: 1.0}


def spoken(late: int, seconds: float = 20.0, part: int = 10) -> tuple[WatchedFilm, NDArray[np.float64]]:
    """A film of 25 pictures a second in which one part moves by chance, and levels so many pictures later."""
    n = round(seconds * 25)
    mouth = np.random.default_rng(8).random(n + 100)
    motion = np.zeros((n, 64))
    motion[:, part] = mouth[50 : 50 + n]
    levels = 40 * np.repeat(mouth[50 - late : 50 - late + n], 2)  # one every 0.02 s
    return watched(at=np.arange(n) / 25, change=np.full(n, 0.02), motion=motion), levels


def test_how_late_the_sound_comes_is_found_to_the_picture_up_to_a_second_either_way() -> None:
    for late in (-25, -3, 0, 4, 25):
        film, levels = spoken(late)
        assert sound_late(film, levels, 0.02) == pytest.approx(late / 25)
    for late in (-40, 40):
        film, levels = spoken(late)
        assert sound_late(film, levels, 0.02) is None


def test_in_less_than_eight_seconds_of_sound_or_picture_nothing_is_found() -> None:
    film, levels = spoken(4, 8.0)
    assert sound_late(film, levels, 0.02) == pytest.approx(0.16)
    assert sound_late(film, levels[:-1], 0.02) is None
    film, _ = spoken(4, 7.96)
    assert sound_late(film, levels, 0.02) is None and sound_jump(film, levels, 0.02) is None


def test_a_picture_in_which_nothing_moves_tells_nothing_of_the_sound() -> None:
    _, levels = spoken(0)
    still = watched(at=np.arange(500) / 25, change=np.zeros(500), motion=np.full((500, 64), 0.3))
    assert sound_late(still, levels, 0.02) is None


@pytest.mark.parametrize(
    ("kind", "picture", "pixels", "sound", "lacks"),
    [
        ("matroska,webm", "vp9", "yuv420p", "opus", None),
        ("mov,mp4,m4a", None, None, "aac", None),
        ("mov,mp4,m4a", "h264", None, None, None),
        ("mov,mp4,m4a", "h264", "yuvj420p", "aac", None),
        ("ogg", None, None, "vorbis", None),
        ("flac", None, None, "flac", None),
        ("mp3", None, None, "mp3float", None),
        ("avi,x", "h264", "yuv420p", "aac", "a file of this kind (avi)"),
        ("mov,mp4,m4a", "hevc", "yuv422p10le", "pcm_s16le", "the codec of its picture (hevc)"),
        ("mov,mp4,m4a", "h264", "yuv422p10le", "pcm_s16le", "the pixel format of its picture (yuv422p10le)"),
        ("mov,mp4,m4a", "h264", "yuv420p", "pcm_s16le", "the codec of its sound (pcm_s16le)"),
        ("matroska,webm", "h264", "yuv420p", "opus", "the codec of its picture (h264)"),
        ("matroska,webm", None, None, "aac", "the codec of its sound (aac)"),
        ("wav", "mjpeg", "yuvj420p", "pcm_s16le", "the codec of its picture (mjpeg)"),
    ],
)
def test_the_first_part_of_a_file_that_some_browsers_cannot_play_is_named(
    kind: str, picture: str | None, pixels: str | None, sound: str | None, lacks: str | None
) -> None:
    assert browser_lacks(kind, picture, pixels, sound) == lacks


def inside(data: bytes) -> list[tuple[bytes, int, int]]:
    return list(_boxes(io.BytesIO(data), 0, len(data)))


def test_the_boxes_of_a_file_are_found_whatever_way_their_size_is_written() -> None:
    long = struct.pack(">I4sQ", 1, b"long", 20) + b"1234"
    rest = struct.pack(">I4s", 0, b"rest") + b"12"
    assert inside(box(b"ftyp", b"isom") + long + rest) == [
        (b"ftyp", 8, 12), (b"long", 28, 32), (b"rest", 40, 42),
    ]  # fmt: skip
    assert inside(box(b"ftyp")) == [(b"ftyp", 8, 8)]
    assert inside(box(b"ftyp")[:7]) == inside(b"") == []
    assert inside(struct.pack(">I4s", 7, b"bad!") + b"123456789") == []
    assert inside(struct.pack(">I4sQ", 1, b"bad!", 15)) == []
    assert inside(struct.pack(">I4s", 99, b"cut!") + b"12") == [(b"cut!", 8, 10)]


def laid_out(tmp_path: Path, data: bytes) -> FileLayout | None:
    path = tmp_path / "a.mp4"
    path.write_bytes(data)
    return layout_of(path)


def test_a_file_is_laid_out_as_mp4_if_it_has_a_header_and_a_mark_or_pictures(tmp_path: Path) -> None:
    mark, header, pictures = box(b"ftyp", b"isom"), box(b"moov"), box(b"mdat", b"x")
    first, last = FileLayout(True, ()), FileLayout(False, ())
    assert laid_out(tmp_path, mark + header) == laid_out(tmp_path, header + pictures) == first
    assert laid_out(tmp_path, mark + pictures + header) == laid_out(tmp_path, pictures + header) == last
    assert laid_out(tmp_path, header) is laid_out(tmp_path, mark + pictures) is None


def track(rows: bytes, count: int, version: int = 0) -> bytes:
    edits = box(b"elst", struct.pack(">BxxxI", version, count), rows)
    return box(b"trak", box(b"tkhd", b"x"), box(b"edts", edits))


def test_where_an_edit_list_goes_on_is_told_in_seconds_of_the_films_clock(tmp_path: Path) -> None:
    mark, clock = box(b"ftyp", b"isom"), box(b"mvhd", struct.pack(">IIIII", 0, 0, 0, 500, 0) + bytes(80))
    wide_clock = box(b"mvhd", struct.pack(">BxxxQQIQ", 1, 0, 0, 250, 0) + bytes(80))
    rows = [(1000, 0), (1500, 9000), (500, -1), (100, 50)]
    short = b"".join(struct.pack(">Iii", *row, 0x10000) for row in rows)
    wide = b"".join(struct.pack(">Qqi", *row, 0x10000) for row in rows)

    def edits(*header: bytes) -> tuple[float, ...]:
        found = laid_out(tmp_path, mark + box(b"moov", *header))
        assert found is not None
        return found.edits

    assert edits(clock, track(short, 4)) == (2.0, 6.0)
    assert edits(clock, track(wide, 4, version=1)) == (2.0, 6.0)
    assert edits(wide_clock, track(short, 4)) == (4.0, 12.0)
    assert edits(track(short, 4)) == (1.0, 3.0)  # a thousandth of a second without a clock
    assert edits(track(short, 4), box(b"mvhd", bytes(16))) == (1000.0, 3000.0)  # a clock of nothing counts 1
    assert edits(track(short, 4), box(b"mvhd", bytes(15))) == (1.0, 3.0)  # the file ends within its clock
    assert edits(clock, track(short, 2)) == (2.0,)
    assert edits(clock, track(short[:-1], 4)) == (2.0,)  # the last row is cut short
    later = b"".join(struct.pack(">Iii", *row, 0x10000) for row in ((1002, 0), (9, 1)))
    assert edits(clock, track(short, 2), track(later, 2)) == (2.0,)  # within ten milliseconds they are one
    assert edits(clock, track(later, 0)) == ()
    assert layout_of(tmp_path / "a.mp4") == FileLayout(True, ())
    whole = edited((2000, 0), (3000, 9000))
    assert laid_out(tmp_path, whole) == FileLayout(True, (2.0,))
