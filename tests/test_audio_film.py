"""A whole film is watched: is it one take, how is its light, is its sound in step, and who can play it."""

from __future__ import annotations

import struct
from dataclasses import dataclass
from pathlib import Path

import av
import numpy as np
import pytest
from numpy.typing import NDArray
from unbroken import made, mouthing, write

from offbook.audio import FilmFacts, film_facts_of
from offbook.audio.boxes import browser_lacks, layout_of
from offbook.audio.in_step import sound_jump, sound_late
from offbook.audio.joins import joins_in
from offbook.audio.light import light_of
from offbook.audio.watching import WatchedFilm
from offbook.takes import Check, facts_of, film_checks
from tests.sounds import voice
from tests.sounds import write as recorded
from tests.test_audio_picture import film, flat, moving

SMALL = (160, 90)  # pixels
SECONDS = 8.4
LATE = 0.4  # s


@dataclass(frozen=True)
class Films:
    """One film of each kind, and the time, s, at which the broken one was joined."""

    broken: Path
    joined_at: float
    unbroken: Path
    late: Path


@pytest.fixture(scope="module")
def films(tmp_path_factory: pytest.TempPathFactory) -> Films:
    folder, dice = tmp_path_factory.mktemp("films"), np.random.default_rng(3)
    frames, mouth, at = made(dice, "hard", SECONDS, *SMALL)
    assert at is not None
    broken = write(folder / "broken.mp4", frames, mouth, dice)
    dice = np.random.default_rng(3)
    frames, mouth, _ = made(dice, "none", SECONDS, *SMALL)
    whole = write(folder / "whole.mp4", frames, mouth, dice)
    return Films(broken, at, whole, write(folder / "late.mp4", frames, mouth, dice, LATE))


def seen(path: Path) -> FilmFacts:
    found = film_facts_of(path)
    assert found is not None
    return found


def the(what: str, path: Path) -> Check:
    return next(c for c in film_checks(facts_of(path)) if c.what == what)


@pytest.mark.heavy
def test_a_hard_cut_is_reported_as_a_likely_join_with_its_place(films: Films) -> None:
    (join,) = seen(films.broken).joins
    assert join.at == pytest.approx(films.joined_at, abs=0.05)
    assert join.likelihood == "likely" and "the picture jumps" in join.why
    check = the("one take", films.broken)
    assert check.met is None and check.found.startswith("likely not: at 0:0")


@pytest.mark.heavy
def test_an_unbroken_take_is_reported_without_a_join(films: Films) -> None:
    assert seen(films.unbroken).joins == ()
    assert the("one take", films.unbroken).met is True


def watched(**values: object) -> WatchedFilm:
    """A film of 100 pictures at 25 a second in which little moves, except what is given."""
    n = 100
    usual: dict[str, object] = {
        "at": np.arange(n) / 25,
        "change": np.full(n, 0.02),
        "brightness": np.full(n, 0.5),
        "white": np.zeros(n),
        "sides": np.full((n, 2), 0.5),
        "motion": np.zeros((n, 64)),
        "whole": True,
    }
    return WatchedFilm(**(usual | values))  # type: ignore[arg-type]


def test_a_gesture_over_several_frames_is_not_a_join_but_a_gap_may_be_one() -> None:
    change = np.full(100, 0.02)
    change[40:46] = [0.1, 0.2, 0.3, 0.3, 0.2, 0.1]
    assert joins_in(watched(change=change)) == ()
    change[70] = 0.3
    assert [(j.at, j.likelihood) for j in joins_in(watched(change=change))] == [(70 / 25, "likely")]
    at = np.arange(100) / 25
    at[50:] += 0.4
    (gap,) = joins_in(watched(at=at))
    assert gap.likelihood == "possible" and gap.why == "0.4 s without a picture"


def test_light_is_classified_as_even_flickering_blown_out_or_patchy() -> None:
    at = np.arange(100) / 25
    even = light_of(watched())
    assert (even.flicker, even.is_blown_out, even.is_patchy) == (None, False, False)
    assert light_of(watched(brightness=0.5 + 0.05 * np.sin(2 * np.pi * 10 * at))).flicker == pytest.approx(
        10, abs=0.3
    )
    assert light_of(watched(brightness=0.5 + 0.05 * np.sin(2 * np.pi * 0.5 * at))).flicker is None, "a cloud"
    assert light_of(watched(white=np.full(100, 0.3))).is_blown_out
    sides = np.tile([0.2, 0.6], (100, 1))
    patchy = light_of(watched(sides=sides))
    # ITU-R BT.1886 sets a display's gamma at 2.4 and BT.709 codes with about 1/2: about 2.2; from memory
    assert patchy.is_patchy and patchy.darker == "left" and patchy.stops == pytest.approx(2.2 * np.log2(3))


@pytest.mark.heavy
def test_light_is_measured_in_real_video_frames(tmp_path: Path) -> None:
    pulse = [flat(120 + (20 if n % 5 < 2 else 0)) for n in range(100)]  # five times a second
    assert seen(film(tmp_path / "pulse.mp4", pulse)).light.flicker == pytest.approx(5, abs=0.3)
    assert seen(film(tmp_path / "white.mp4", [flat(235)] * 30)).light.is_blown_out


@pytest.mark.heavy
def test_late_sound_is_reported_if_a_moving_mouth_is_visible(films: Films) -> None:
    found = seen(films.late).sound_late
    assert found is not None and found == pytest.approx(LATE, abs=0.06)
    check = the("in step", films.late)
    assert check.met is None and "0.4 s late" in check.found
    shift = f"ffmpeg -i late.mp4 -itsoffset {-found:.2f} -i late.mp4 -map 0:v -map 1:a -c copy late_new.mp4"
    assert shift in check.do
    together = seen(films.unbroken).sound_late
    assert together is None or abs(together) <= 0.06


HOP = 0.02  # s between two levels


def levels_of(mouth: NDArray[np.float64]) -> NDArray[np.float64]:
    """The level, dB, of a voice that is as strong as the mouth is open."""
    at = np.arange(round(len(mouth) / 25 / HOP)) * HOP
    return np.asarray(20 * np.log10(0.1 * np.interp(at, np.arange(len(mouth)) / 25, mouth) + 0.001))


@pytest.mark.heavy
def test_sound_removed_under_a_continuous_picture_is_reported_with_its_place_and_length() -> None:
    """Mouth and voice go together for 20 s. Then 0.6 s of the voice are missing, and the rest comes early."""
    mouth = mouthing(np.random.default_rng(5), 1_000)
    cut = np.concatenate([mouth[:500], mouth[515:], np.zeros(15)])
    motion = np.zeros((1_000, 64))
    motion[:, 10] = mouth
    seen_moving = watched(at=np.arange(1_000) / 25, change=np.full(1_000, 0.02), motion=motion)
    found = sound_jump(seen_moving, levels_of(cut), HOP)
    assert found is not None
    assert found[0] == pytest.approx(20, abs=4) and found[1] == pytest.approx(-0.6, abs=0.06)
    (join,) = joins_in(seen_moving, sound=found)
    assert join.likelihood == "possible"
    assert join.why == "about here the sound begins to come 0.6 s earlier against the picture"
    assert sound_jump(seen_moving, levels_of(mouth), HOP) is None
    late = np.concatenate([np.zeros(10), mouth[:-10]])
    assert sound_late(seen_moving, levels_of(late), HOP) == pytest.approx(0.4)
    assert sound_jump(seen_moving, levels_of(late), HOP) is None  # late from the first to the last is no join
    other = mouthing(np.random.default_rng(6), 1_000)
    assert sound_jump(seen_moving, levels_of(other), HOP) is None


def test_no_delay_is_reported_if_nothing_in_the_picture_moves_with_the_voice(tmp_path: Path) -> None:
    assert seen(film(tmp_path / "bar.mp4", moving(40))).sound_late is None


@pytest.mark.heavy
def test_the_check_of_a_film_says_whether_every_browser_can_play_it(films: Films, tmp_path: Path) -> None:
    assert the("in a browser", films.unbroken).met is True
    path = recorded(tmp_path / "an end.mp4", voice(3, 48_000), 48_000, "aac", picture=True)
    check = the("in a browser", path)
    assert check.met is None
    assert "ffmpeg -i 'an end.mp4' -c" in check.do and "-movflags +faststart 'an end_new.mp4'" in check.do


def box(name: bytes, *inside: bytes) -> bytes:
    """A box of ISO/IEC 14496-12: its size, its name and its contents."""
    data = b"".join(inside)
    return struct.pack(">I4s", 8 + len(data), name) + data


def edited(*stretches: tuple[int, int]) -> bytes:
    """A file with one track that plays these parts: how long each is, and from where; -1 for a wait."""
    rows = b"".join(struct.pack(">Iii", length, start, 0x10000) for length, start in stretches)
    edits = box(b"edts", box(b"elst", struct.pack(">II", 0, len(stretches)), rows))
    clock = box(b"mvhd", struct.pack(">IIIII", 0, 0, 0, 1000, 0) + bytes(80))
    return box(b"ftyp", b"isom") + box(b"moov", clock, box(b"trak", edits)) + box(b"mdat", b"x")


def test_an_edit_list_of_several_parts_is_an_edit_but_an_empty_start_is_not(tmp_path: Path) -> None:
    path = tmp_path / "a.mp4"
    for stretches, edits in (
        (((5000, 0),), ()),
        (((40, -1), (5000, 0)), ()),
        (((2000, 0), (3000, 9000)), (2.0,)),
    ):
        path.write_bytes(edited(*stretches))
        found = layout_of(path)
        assert found is not None and found.edits == edits and found.header_first


def test_a_header_at_the_end_of_a_file_is_recognised_and_the_file_is_not_changed(
    tmp_path: Path,
) -> None:
    path = film(tmp_path / "my film.mp4", moving(10))
    before = path.read_bytes()
    found = layout_of(path)
    assert found is not None and not found.header_first
    assert path.read_bytes() == before
    front = tmp_path / "front.mp4"
    with av.open(str(path)) as source, av.open(str(front), "w", options={"movflags": "faststart"}) as out:
        stream = out.add_stream_from_template(source.streams.video[0])
        for packet in source.demux(source.streams.video[0]):
            if packet.dts is not None:
                packet.stream = stream
                out.mux(packet)
    found = layout_of(front)  # what `-movflags +faststart` does, by FFmpeg's own libraries
    assert found is not None and found.header_first


@pytest.mark.parametrize(
    ("kind", "picture", "pixels", "sound", "plays"),
    [
        ("mov,mp4,m4a,3gp,3g2,mj2", "h264", "yuv420p", "aac", True),
        ("mov,mp4,m4a,3gp,3g2,mj2", "hevc", "yuv420p", "aac", False),
        ("mov,mp4,m4a,3gp,3g2,mj2", "h264", "yuv422p10le", "aac", False),
        ("mov,mp4,m4a,3gp,3g2,mj2", "h264", "yuv420p", "pcm_s16le", False),
        ("matroska,webm", "vp9", "yuv420p", "opus", True),
        ("avi", "mpeg4", "yuv420p", "mp3", False),
        ("wav", None, None, "pcm_s16le", True),
    ],
)
def test_the_formats_that_every_browser_plays_are_recognised(
    kind: str, picture: str | None, pixels: str | None, sound: str, plays: bool
) -> None:
    """H.264 or VP9 in 4:2:0 with AAC or Opus is common practice, no source."""
    assert (browser_lacks(kind, picture, pixels, sound) is None) is plays


def test_a_file_with_damaged_boxes_is_read_without_an_error(tmp_path: Path) -> None:
    path = tmp_path / "a.mp4"
    whole = edited((2000, 0), (3000, 9000))
    for cut in range(0, len(whole), 7):
        path.write_bytes(whole[:cut] or b"x")
        layout_of(path)
