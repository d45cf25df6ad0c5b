"""The picture of films of a second or two: which frames are looked at, and what is told of them."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from offbook.audio import picture as module
from offbook.audio.decode import container_of
from offbook.audio.picture import (
    Picture,
    _is_still,
    _look_at_keys,
    _look_from_start,
    _moves_between_keys,
    _SpreadLooks,
    film_in,
    moving_picture,
    not_film,
)
from offbook.errors import RecordingError
from tests.test_audio_picture import BLACK, WHITE, film, flat, moving, seen, turned

FAST = "mpeg4"  # a codec that is coded and read in milliseconds


def look(level: int, cells: int = 64) -> tuple[int, int, Any]:
    return (64, 48, np.full((cells, cells), level, np.uint8))


def kept_of(count: int, nothing: frozenset[int] = frozenset()) -> list[int]:
    """Which of so many frames are kept. nothing: those that cannot be looked at."""
    spread = _SpreadLooks()
    for n in range(count):
        frame: Any = None if n in nothing else (n, 0, None)
        spread.offer([frame].pop)
    return [n for n, _, _ in spread.looks]


def test_frames_that_are_looked_at_are_evenly_spread_however_many_come() -> None:
    """From 24 on every second one is let go, and from then on every second one is looked at, and so on."""
    assert kept_of(23) == list(range(23))
    assert kept_of(24) == list(range(0, 24, 2))
    assert kept_of(46) == list(range(0, 46, 2))
    assert kept_of(47) == list(range(0, 48, 4))
    assert kept_of(100) == list(range(0, 100, 8))
    assert kept_of(5, frozenset({1, 3})) == [0, 2, 4]


def test_a_picture_is_still_where_no_cell_changes_by_more_than_four_parts_in_a_hundred() -> None:
    assert _is_still([look(100)])
    assert _is_still([look(100), look(105), look(110)])  # 10 of 255
    assert not _is_still([look(100), look(105), look(111)])
    one_cell = look(100)
    one_cell[2][3, 5] = 111
    assert not _is_still([look(100), one_cell])


def test_a_moving_film_is_told_with_its_size_rate_length_and_light(tmp_path: Path) -> None:
    found = seen(film(tmp_path / "a.mp4", moving(30), FAST))
    assert (found.width, found.height, found.codec) == (64, 48, "mpeg4")
    assert found.frames_a_second == 25.0 and found.seconds == pytest.approx(1.2, abs=0.001)
    assert found.brightness == pytest.approx(8 / 64, abs=0.02) and not found.still and not found.upright
    grey = seen(film(tmp_path / "b.mp4", [flat(126)] * 30, FAST))
    assert grey.still and grey.brightness == pytest.approx((126 - BLACK) / (WHITE - BLACK), abs=0.01)


def test_a_picture_is_upright_where_it_is_higher_than_wide(tmp_path: Path) -> None:
    """By a quarter of a turn that its track states, and with the true shape of its pixels."""
    plain = Picture(48, 48, 25.0, "h264", 1.0, 0.5, False)
    assert not plain.upright
    upright = seen(turned(film(tmp_path / "a.mp4", moving(5), FAST), (0, 1, -1, 0)))
    assert (upright.width, upright.height, upright.upright) == (48, 64, True)
    over = seen(turned(film(tmp_path / "b.mp4", moving(5), FAST), (-1, 0, 0, -1)))
    assert (over.width, over.height, over.upright) == (64, 48, False)
    wide = seen(film(tmp_path / "c.mp4", moving(5), FAST, shape=Fraction(3, 2)))
    assert (wide.width, wide.height) == (96, 48)


def test_of_a_film_of_key_frames_alone_twelve_are_looked_at(tmp_path: Path) -> None:
    """The one in the middle of each twelfth of the film: of 48 frames the third of every four."""
    levels = [5 * n for n in range(48)]
    path = film(tmp_path / "a.mp4", [flat(BLACK + level // 2) for level in levels], FAST, keys_every=1)
    with container_of(path, not_film(path)) as container:
        looks = _look_at_keys(container, film_in(path, container), 48 / 25)
    means = [round(float(cells.mean())) for _, _, cells in looks]
    wanted = [round(255 * (levels[n] // 2) / (WHITE - BLACK)) for n in range(2, 48, 4)]
    assert means == pytest.approx(wanted, abs=3) and len(looks) == 12


@pytest.mark.heavy
def test_what_looks_alike_at_each_key_frame_is_not_still_where_it_moves_between_most(tmp_path: Path) -> None:
    """A bar that goes round once for each key frame; and one that is seen once, as a damaged place is."""
    moves = film(tmp_path / "a.mp4", moving(8) * 5, FAST, keys_every=8)
    assert _moves_between_keys(moves) and not seen(moves).still
    bar = moving(8)
    once = [*[bar[0]] * 12, bar[1], *[bar[0]] * 27]
    still = film(tmp_path / "b.mp4", once, FAST, keys_every=8)
    assert not _moves_between_keys(still) and seen(still).still
    half = film(tmp_path / "c.mp4", moving(8) * 2 + [bar[0]] * 16, FAST, keys_every=8)
    assert not _moves_between_keys(half)  # in two of four stretches: not in most


def test_a_film_with_few_key_frames_is_watched_from_its_start_up_to_a_limit(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The limit counts pixels, of 64 x 48 in each frame."""
    path = film(tmp_path / "a.mp4", moving(20), FAST, keys_every=100)
    looks, whole = _look_from_start(path)
    assert (len(looks), whole) == (20, True) and not seen(path).still
    monkeypatch.setattr(module, "_MOST_DECODED_PIXELS", 9 * 64 * 48)
    looks, whole = _look_from_start(path)
    assert (len(looks), whole) == (10, False)
    monkeypatch.setattr(module, "_MOST_DECODED_PIXELS", 20 * 64 * 48)
    assert _look_from_start(path)[1]


def test_a_film_that_states_no_length_is_read_through(tmp_path: Path) -> None:
    found = seen(film(tmp_path / "a.mkv", moving(30), FAST, live=True))
    assert found.seconds == pytest.approx(1.2, abs=0.01)
    assert found.frames_a_second == pytest.approx(25, abs=0.2) and not found.still
    one = seen(film(tmp_path / "b.mkv", moving(1), FAST, live=True))
    assert (one.seconds, one.frames_a_second, one.still) == (None, None, True)


def test_what_is_no_film_or_cannot_be_read_is_refused_in_two_lines(tmp_path: Path) -> None:
    text = tmp_path / "a.mp4"
    text.write_text("Nobody asked who carried up the oil.\n")
    with pytest.raises(RecordingError) as caught:
        moving_picture(text)
    assert caught.value.what == f"{text} is not a recording, or is cut off before its picture can be read"
    assert caught.value.do == (
        "use the file the camera itself saved: wav, mp3, m4a, ogg, opus, webm, flac, mp4 or mov"
    )
    broken = film(tmp_path / "b.mp4", moving(10), FAST)
    data = bytearray(broken.read_bytes())
    frames = slice(data.index(b"mdat") + 4, data.index(b"moov") - 4)
    data[frames] = bytes(len(data[frames]))
    broken.write_bytes(data)
    with pytest.raises(RecordingError) as caught:
        moving_picture(broken)
    assert caught.value.what == f"{broken} holds a picture, but no frame of it can be read here"
    assert caught.value.do == "copy it again from the device it was recorded on, or export it as mp4"
