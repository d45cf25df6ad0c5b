"""Held values of sound and picture, to three digits: levels, rooms, light, joins, the voice."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from itertools import product
from typing import Any

import numpy as np
from numpy.typing import NDArray

from offbook.audio.denoise import Background, Cleaner
from offbook.audio.echo import DecayMeter
from offbook.audio.in_step import sound_late
from offbook.audio.joins import joins_in
from offbook.audio.light import light_of
from offbook.audio.loudness import decibels
from offbook.audio.quality import LevelHistogram, mix_weights
from offbook.audio.stream import to_pcm
from offbook.audio.watching import WatchedFilm
from offbook.delivery import MarkedShift, SpokenWord, TakeReview, delivery_picture, review_delivery
from offbook.delivery.edges import EdgeCues, cues_at_edges
from offbook.delivery.level import level_track
from offbook.delivery.pitch import PitchTrack
from offbook.delivery.statement import evidence_of, statement_at, usual_of
from offbook.desk.recorded_lines import spans_of
from offbook.hear.segments import Segmenter
from offbook.sampling import BYTES_PER_SECOND
from offbook.score import WordVerdict
from tests.held import Rows
from tests.sounds import voice
from tests.test_delivery import RATE, spoken
from tests.test_hear import SAID, Speaker, Told

FIGURES = 3  # that another machine's arithmetic leaves alike


def figures(value: float | None) -> str:
    """A number to three digits; a very small one is zero."""
    return "None" if value is None else f"{0.0 if abs(value) < 1e-9 else value:.{FIGURES}g}"


def told(value: object) -> str:
    """A result on one row, its numbers to three digits."""
    if isinstance(value, float | np.floating):
        return figures(float(value))
    if isinstance(value, tuple | list):
        return "(" + ", ".join(map(told, value)) + ")"
    return str(value)


def levels() -> Iterator[str]:
    """Percentiles of levels, ratios of voice and background, the weights of channels."""
    meters = []
    for quiet, loud, share in product((-90.0, -60.0, -40.0), (-30.0, -10.0, 0.0), (3, 10, 17)):
        meter = LevelHistogram()
        meter.add(np.array([quiet] * share + [loud] * (20 - share) + [-200.0, 5.0]))
        meters.append(meter)
        shown = [meter.percentile(p) for p in (0.0, 0.05, 0.1, 0.5, 0.9, 0.95, 1.0)]
        yield f"{quiet} {loud} {share}: {told(shown)} {figures(meter.snr())}"
    for a, b, alike in product((0, 4, 13, 26), (1, 8, 14), (-0.9, -0.3, 0.2, 0.31, 1.0)):
        products = np.array([[1.0, alike * 2], [alike * 2, 4.0]])
        yield f"{a} {b} {alike}: {told(mix_weights([meters[a], meters[b]], products))}"
    yield told(mix_weights([meters[0]], np.zeros((1, 1))))
    yield told([decibels(x) for x in (0.0, 1e-6, 0.5, 1.0, 2.0)])
    yield str(list(to_pcm(np.array([-2.0, -1.0, -0.5, 0.0, 0.25, 0.99999, 1.0, 2.0], np.float32))))


def rooms() -> Iterator[str]:
    """How long sounds take to die away, and what is left of a voice and of a hum without the background."""
    steps = np.random.default_rng(5)
    for seconds, count in product((0.1, 0.3, 0.6, 1.2), (3, 8, 12)):
        meter = DecayMeter()
        t = np.arange(round(0.9 * RATE)) / RATE
        burst = steps.standard_normal(len(t)) * 10 ** (-3 * t / seconds) * 0.3
        for _ in range(count):
            meter.feed(np.concatenate([np.zeros(RATE // 5), burst]).astype(np.float32))
        yield f"{seconds} s, {count} times: {[figures(meter.seconds(loud)) for loud in (-20.0, -12.0, 0.0)]}"
    noise = 0.01 * steps.standard_normal(2 * RATE)
    background = Background()
    frames = np.lib.stride_tricks.sliding_window_view(noise, 512)[::128]
    background.feed(np.abs(np.fft.rfft(frames * np.sqrt(np.hanning(513)[:-1]), axis=1)) ** 2)
    power = background.power()
    yield told([power[k] for k in (0, 1, 40, 128, 255, 256)])
    cleaner = Cleaner(power)
    sound = voice(2.0, RATE)[0] + noise
    cleaned = [cleaner.feed(sound[k : k + 777].astype(np.float32)) for k in range(0, len(sound), 777)]
    whole = np.concatenate([*cleaned, cleaner.flush()])
    yield f"{len(sound)} {len(whole)} {told([len(part) for part in cleaned[:8]])}"
    rms = [float(np.sqrt(np.mean(whole[k : k + RATE // 4] ** 2))) for k in range(0, 2 * RATE, RATE // 4)]
    yield told(rms)


def film(
    pictures: int = 100, jump: float = 0.0, gap: float = 0.0, hertz: float = 0.0, dark: float = 1.0
) -> WatchedFilm:
    """A film of 25 pictures a second in which nothing happens except what is asked for."""
    dice = np.random.default_rng(11)
    at = np.arange(pictures) / 25.0
    at[pictures // 2 :] += gap
    change = 0.02 + 0.005 * dice.random(pictures)
    change[pictures // 3] += jump
    brightness = 0.4 + 0.02 * (hertz > 0) * np.sin(2 * np.pi * hertz * at) + 1e-4 * dice.random(pictures)
    sides = np.column_stack([np.full(pictures, 0.4), np.full(pictures, 0.4 * dark)])
    white = np.full(pictures, 0.01 + 0.3 * (dark > 1.5))
    return WatchedFilm(at, change, brightness, white, sides, dice.random((pictures, 64)) * 0.01, True)


def films() -> Iterator[str]:
    """Joins by how much the picture jumps and by the gap before; light by its flicker and by its halves."""
    for jump in (0.0, 0.02, 0.03, 0.05, 0.08, 0.1, 0.2, 0.5):
        yield f"jump {jump}: {[(figures(j.at), j.likelihood, j.why) for j in joins_in(film(jump=jump))]}"
    for gap in (0.0, 0.05, 0.1, 0.2, 0.3, 0.5, 1.0, 2.5):
        found = joins_in(film(gap=gap), (1.0, 1.1, 3.9))
        yield f"gap {gap}: {[(figures(j.at), j.likelihood, j.why) for j in found]}"
    for hertz, pictures in product((0.0, 1.0, 2.0, 3.0, 6.0, 10.0), (23, 24, 100)):
        yield f"beat {hertz} {pictures}: {figures(light_of(film(pictures, hertz=hertz)).flicker)}"
    for dark in (0.1, 0.3, 0.5, 0.54, 0.7, 1.0, 1.6, 3.0):
        light = light_of(film(dark=dark))
        yield (
            f"dark {dark}: {figures(light.blown)} {figures(light.stops)} {light.darker} "
            f"{light.is_patchy} {light.is_blown_out}"
        )


def in_step() -> Iterator[str]:
    """How late the sound is found to be, by how late it is and by how clearly the picture moves."""
    for late, seconds, clear in product((-0.4, 0.0, 0.08, 0.6), (8, 12), (0.0, 1.0)):
        yield f"{late} {seconds} {clear}: {figures(_late(late, seconds, clear))}"


def _late(late: float, seconds: int, clear: float) -> float | None:
    dice = np.random.default_rng(4)
    beats = np.repeat(dice.random(4 * seconds), 25)
    hop = 0.01
    seen = film(25 * seconds)
    moved = np.interp(seen.at, np.arange(len(beats)) * hop, beats)
    motion = 0.01 * dice.random((len(seen.at), 64))
    motion[:, 20] += clear * moved
    heard = np.interp(np.arange(len(beats)) * hop - late, np.arange(len(beats)) * hop, beats)
    watched = WatchedFilm(seen.at, seen.change, seen.brightness, seen.white, seen.sides, motion, True)
    return sound_late(watched, 40 * heard - 60, hop)


VOICES: dict[str, dict[str, Any]] = {
    "a flat voice": {},
    "pauses": {"pauses": (5, 10, 15)},
    "pitch": {"resets": (5, 10, 15)},
    "both": {"pauses": (5, 12), "resets": (10, 15)},
    "elsewhere": {"pauses": (3, 7, 13), "resets": (8,)},
}


def delivered(name: str) -> Iterator[str]:
    """What is said about an artificial voice at three shifts: whole, hurried, in part, in a loud room."""
    sound, words = spoken(20, **VOICES[name])
    shifts = [
        MarkedShift(5, 2, "a new thought"),
        MarkedShift(10, 3, "a turn"),
        MarkedShift(15, 1, "a phrase"),
    ]
    quick = [SpokenWord(w.i, w.start, w.end, w.expected, 4 if 10 <= w.i < 15 else 2) for w in words]
    for said, snr in ((words, 40.0), (quick, 40.0), (words[:9] + words[11:], 40.0), (words, 9.0)):
        yield from _reviewed(_review(sound, said, shifts, snr))
    yield from delivery_picture(
        _review(sound, words, shifts, 40.0), words, [f"w{i}" for i in range(20)], "A <speech>"
    ).split("\n")


def _review(
    sound: NDArray[np.float32], words: list[SpokenWord], shifts: list[MarkedShift], snr: float
) -> TakeReview:
    return review_delivery(sound, RATE, words, shifts, word_count=20, snr_db=snr)


def _reviewed(found: TakeReview) -> Iterator[str]:
    for s in found.shifts:
        yield f"{s.audible} {figures(s.confidence)} {s.carried_by} {s.told}"
    for f in found.findings:
        yield f"{f.kind} {f.first}-{f.last} {f.told}"
    for t in found.thoughts:
        yield f"thought {told([getattr(t, name) for name in t.__slots__])}"


def stretched() -> Iterator[str]:
    """Where the sound is cut into stretches, by its silences."""
    for said, step in product(
        (SAID, SAID.replace(" / ", " "), "/ / the kettle / / sang", "the " * 90), (1600, 5000)
    ):
        speaker = Speaker()
        sound = speaker.say(said)
        segmenter = Segmenter(Told(speaker))
        found = [s for k in range(0, len(sound), step) for s in segmenter.feed(sound[k : k + step])]
        found += [*segmenter.cut(), *segmenter.finish()]
        shown = [
            f"{figures(s.at)}+{figures(s.lead_in)}-{figures(s.end)} "
            f"{len(s.words)}/{len(s.lead_in_words)} {s.last:d}"
            for s in found
        ]
        yield f"{said[:20]} {len(sound) / BYTES_PER_SECOND:g} s by {step}: {'; '.join(shown)}"


def statements() -> Iterator[str]:
    """What is said about a place between words, with each cue at its limit, below it and above it."""
    usual = usual_of(
        [EdgeCues(k, k * 1.0, 0.02, 0.1 * (k % 3), 0.5 * (k % 4), 0.2 * (k % 5)) for k in range(12)], {3, 7}
    )
    yield told([usual.lengthening, usual.pitch_reset, usual.level_reset])
    edges = [EdgeCues(5, 2.0, p, 0.1, 0.5, 0.4) for p in (0.0, 0.05, 0.19, 0.2, 0.4, 1.0)]
    edges += [EdgeCues(5, 2.0, 0.0, x, 0.5, 0.4) for x in (-1.0, 0.0, 0.39, 0.4, 0.41, 0.7, 3.0)]
    edges += [EdgeCues(5, 2.0, 0.0, 0.1, x, 0.4) for x in (-9.0, -1.1, 0.0, 2.0, 3.9, 5.5, 9.0, 12.0, 20.0)]
    edges += [EdgeCues(5, 2.0, 0.0, 0.1, 0.5, x) for x in (-9.0, -1.7, -1.5, 2.3, 2.5, 6.3, 6.5, 9.0)]
    edges += [EdgeCues(5, 2.0, 0.3, 0.3, None, None), EdgeCues(5, 2.0, 0.1, 0.6, 4.0, 3.0)]
    for edge, rate in product(edges, (None, -0.25, 0.2)):
        s = statement_at(5, 2, edge, usual, rate_change=rate)
        weighed = [figures(x) for x in evidence_of(edge, usual).values()]
        yield f"{s.audible} {figures(s.confidence)} {s.carried_by} {weighed} {s.told}"
    for each in (None, edges[0]):
        yield str(statement_at(5, 2, each, usual, hindered="" if each is None else "a prompt came there"))


def edges() -> Iterator[str]:
    """The cues between two words, by the voiced frames on both sides and the distance between."""
    hop = 0.016
    for before, after, gap in product((0, 2, 3, 10), (0, 2, 3, 10), (0.0, 0.3)):
        at: NDArray[np.float64] = np.arange(200, dtype=np.float64) * np.float64(hop)
        semitones: NDArray[np.float64] = np.full(200, np.nan, dtype=np.float64)
        end = 1.0
        semitones[(at > end - before * hop) & (at <= end)] = 30.0
        semitones[(at >= end + gap) & (at < end + gap + after * hop)] = 34.0
        parts = [0.1 * np.ones(RATE), np.zeros(round(gap * RATE)), 0.2 * np.ones(RATE)]
        level = level_track(np.concatenate(parts).astype(np.float32), RATE)
        words = [SpokenWord(0, 0.5, end, 0.4, 2), SpokenWord(1, end + gap, end + gap + 0.5, 0.5, 2)]
        words.append(SpokenWord(3, 2.0, 2.2, 0.2, 1))
        for cue in cues_at_edges(words, PitchTrack(np.asarray(at, np.float64), semitones), level):
            shown = (cue.at, cue.pause, cue.lengthening, cue.pitch_reset, cue.level_reset)
            yield f"{before} {after} {gap}: {cue.before_word} {told(shown)}"


def _line(start: float, heard: str) -> list[WordVerdict]:
    """A line of words of 0.6 s, one a second: "s" for a word that was said, "." for one that was left out."""
    return [
        WordVerdict(k, "w", "said", "w", start + k, start + k + 0.6, 0.9)
        if mark == "s"
        else WordVerdict(k, "w", "dropped", None, None, None, None)
        for k, mark in enumerate(heard)
    ]


def lines_in_a_recording() -> Iterator[str]:
    """Where each line is in a recording, by how much of it was heard."""

    for heard in ("ssss", "sss.", "ss..", "s...", "....", ".sss"):
        for gap in (0.0, 0.3, 0.6, 2.0):
            found = spans_of([_line(1.0, "ssss"), _line(4.6 + gap, heard), _line(9.2 + 2 * gap, "ssss")])
            yield f"{heard} {gap}: {[(k, told(v)) for k, v in found.items()]}"


PARTS: dict[str, Rows] = {
    "levels": levels,
    "rooms": rooms,
    "films": films,
    "sound and picture in step": in_step,
    "stretches": stretched,
    "statements at an edge": statements,
    "cues at an edge": edges,
    "lines in a recording": lines_in_a_recording,
    **{f"a review: {name}": partial(delivered, name) for name in VOICES},
}
