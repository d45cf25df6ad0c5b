"""The picture of a take: one long strip with the pitch and the loudness over time, the marks and the words.

It shows nothing that the text beside it does not say. It is an SVG, black on white, with a title and a
description for screen readers. The kinds of mark differ in their strokes, never in colour alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

import numpy as np

from offbook.delivery.edges import SpokenWord
from offbook.delivery.level import HOP_SECONDS
from offbook.delivery.take_review import TakeReview

# All set by hand, lengths in SVG units: readable on screen at full size, and on paper across A4.
_A_SECOND = 90.0  # of the recording
_LEFT = 10  # before the first second
_TOP, _PITCH_HEIGHT, _LEVEL_HEIGHT, _WORD_ROOM = 24.0, 120.0, 50.0, 56.0  # of the parts, from top to bottom
_STROKES = {1: "1 4", 2: "6 4", 3: ""}  # by grade: a phrase is dotted, a thought dashed, a turn a full line
_HEARD_WIDTH, _OTHER_WIDTH = 1.6, 0.8  # of the stroke of a shift that is heard, and of any other
_LABEL_RIGHT, _LABEL_UP = 3, 8  # from the top of a mark to what is written beside it
_FIRST_ROW, _SECOND_ROW = 18, 36  # below the loudness: the words stand in two rows by turns
_LEVEL_STEP = 5  # frames of 10 ms to one point of the loudness line
_LOW_SHARE, _HIGH_SHARE = 2, 98  # percentiles between which the pitch is drawn
_SMALL = 'font-size="11" font-family="serif"'
_FLOOR_LU = 40.0  # how far below the loudest point the loudness line ends


def delivery_picture(
    review: TakeReview, words: Sequence[SpokenWord], texts: Sequence[str], title: str
) -> str:
    """The picture as an SVG document. texts: the words of the script, by their place (`SpokenWord.i`)."""
    seconds = max(review.level.power.size * HOP_SECONDS, words[-1].end if words else 0.0)
    width = round(seconds * _A_SECOND) + 2 * _LEFT
    height = round(_TOP + _PITCH_HEIGHT + _LEVEL_HEIGHT + _WORD_ROOM)
    told = " ".join(f"{s.at:.1f} s: {s.told}." for s in review.shifts)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" '
        f'height="{height}" data-left="{_LEFT}" data-a-second="{_A_SECOND:.0f}" role="img" '
        'aria-labelledby="picture-title picture-told">',
        f'<title id="picture-title">{escape(title)}: pitch and loudness over time</title>',
        f'<desc id="picture-told">{escape(told)}</desc>',
        f'<rect width="{width}" height="{height}" fill="#fff"/>',
        *_marks(review, height),
        *_pitch(review),
        *_loudness(review),
        *_words(words, texts),
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


def _x(seconds: float) -> float:
    """How far to the right a time in the recording is drawn."""
    return round(_LEFT + seconds * _A_SECOND, 1)


def _marks(review: TakeReview, height: int) -> list[str]:
    """A line across the picture for each shift, with what can be heard there."""
    out = []
    for s in review.shifts:
        if s.audible == "not measured" and s.at == 0.0:
            continue
        dash = f' stroke-dasharray="{_STROKES[s.grade]}"' if _STROKES[s.grade] else ""
        wide = _HEARD_WIDTH if s.audible == "heard" else _OTHER_WIDTH
        x, stroke = _x(s.at), f'stroke="#000" stroke-width="{wide}"{dash}'
        out.append(f'<line x1="{x}" y1="{_TOP}" x2="{x}" y2="{height}" {stroke}/>')
        out.append(f'<text x="{x + _LABEL_RIGHT}" y="{_TOP - _LABEL_UP}" {_SMALL}>{escape(s.audible)}</text>')
    return out


def _pitch(review: TakeReview) -> list[str]:
    """The pitch as lines, one for each voiced stretch."""
    tones = review.pitch.semitones
    voiced = np.isfinite(tones)
    if not voiced.any():
        return []
    low, high = np.percentile(tones[voiced], [_LOW_SHARE, _HIGH_SHARE])
    scale = _PITCH_HEIGHT / max(1.0, float(high - low))
    lines: list[list[str]] = [[]]
    for at, tone in zip(review.pitch.at, tones, strict=True):
        if np.isfinite(tone):
            y = _TOP + _PITCH_HEIGHT - (min(max(tone, low), high) - low) * scale
            lines[-1].append(f"{_x(float(at))},{y:.1f}")
        elif lines[-1]:
            lines.append([])
    return [
        f'<polyline points="{" ".join(points)}" fill="none" stroke="#000" stroke-width="2"/>'
        for points in lines
        if len(points) > 1
    ]


def _loudness(review: TakeReview) -> list[str]:
    """The loudness as one line."""
    loud = review.level.frames(0.0, review.level.power.size * HOP_SECONDS)[::_LEVEL_STEP]
    if loud.size <= 1:
        return []
    top = float(loud.max())
    base = _TOP + _PITCH_HEIGHT + _LEVEL_HEIGHT
    heights = np.clip(loud - top + _FLOOR_LU, 0.0, None) / _FLOOR_LU * _LEVEL_HEIGHT
    points = [f"{_x(k * _LEVEL_STEP * HOP_SECONDS)},{base - h:.1f}" for k, h in enumerate(heights)]
    return [f'<polyline points="{" ".join(points)}" fill="none" stroke="#555" stroke-width="1"/>']


def _words(words: Sequence[SpokenWord], texts: Sequence[str]) -> list[str]:
    """Each word at the time when it begins."""
    base = _TOP + _PITCH_HEIGHT + _LEVEL_HEIGHT
    rows = (base + _FIRST_ROW, base + _SECOND_ROW)
    return [
        f'<text x="{_x(w.start)}" y="{rows[k % 2]}" font-size="13" font-family="serif" '
        f'data-at="{w.start:.2f}">{escape(texts[w.i])}</text>'
        for k, w in enumerate(words)
    ]
