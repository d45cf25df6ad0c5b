"""The one recording that serves several briefs, and why a piece needs more than one.

Two briefs can share a recording of a piece where nothing that is settled in front of the camera is asked
otherwise by the two: how long it lasts, whether a name is said first, which way up the picture is. What is
settled on export (kind of file, size, loudness, sound alone) needs a file of its own, and no new recording.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import combinations

from offbook.brief.points import Brief, same_name
from offbook.brief.wording import length_told


@dataclass(frozen=True, slots=True)
class SharedRecording:
    """One recording to be made. piece: its name; briefs: whom it serves, the nearest deadline first."""

    piece: str
    briefs: tuple[Brief, ...]

    @property
    def shortest(self) -> float | None:
        """The least that it may last for all of them, seconds; None where nobody says."""
        return max((x for b in self.briefs if (x := b.length_of(self.piece)[0]) is not None), default=None)

    @property
    def longest(self) -> float | None:
        """The most that it may last for all of them, seconds; None where nobody says."""
        return min((x for b in self.briefs if (x := b.length_of(self.piece)[1]) is not None), default=None)

    @property
    def unbroken(self) -> bool:
        """Whether one of them wants one continuous take: then it serves those that allow cuts as well."""
        return any(b.unbroken for b in self.briefs)


def clashes(one: Brief, other: Brief, piece: str) -> tuple[str, ...]:
    """Why no one recording of `piece` can serve both, in words for people; empty where one can."""
    found = []
    pair = SharedRecording(piece, (one, other))
    if pair.shortest is not None and pair.longest is not None and pair.shortest > pair.longest:
        found.append(f"length: {_each(one, other, lambda b: length_told(*b.length_of(piece)))}")
    if {one.slate, other.slate} == {True, False}:
        found.append(f"slate: {_each(one, other, lambda b: 'wanted' if b.slate else 'not wanted')}")
    if {one.picture, other.picture} == {"landscape", "portrait"}:
        found.append(f"picture: {_each(one, other, lambda b: str(b.picture))}")
    return tuple(found)


def separate_files(one: Brief, other: Brief) -> tuple[str, ...]:
    """What of one recording each of two briefs needs a file of its own for; empty where one file does."""
    found = []
    if one.kinds and other.kinds and not set(one.kinds) & set(other.kinds):
        found.append(f"file: {_each(one, other, lambda b: ' or '.join(b.kinds))}")
    pictures = {one.picture, other.picture}
    if "none" in pictures and None not in pictures and len(pictures) > 1:
        found.append(f"picture: {_each(one, other, _picture)}")
    if max(_lufs(one)[0], _lufs(other)[0]) > min(_lufs(one)[1], _lufs(other)[1]):
        found.append(f"loudness: {_each(one, other, _loudness)}")
    return tuple(found)


def _picture(brief: Brief) -> str:
    return "sound alone" if brief.picture == "none" else "a picture"


def _loudness(brief: Brief) -> str:
    return f"{_lufs(brief)[0]:g} to {_lufs(brief)[1]:g} LUFS"


def _lufs(brief: Brief) -> tuple[float, float]:
    """The loudness a brief asks for, LUFS; the whole scale where it says nothing."""
    return brief.lufs or (-70.0, 0.0)


def _each(one: Brief, other: Brief, say: Callable[[Brief], str]) -> str:
    return f"{one.name} {say(one)}, {other.name} {say(other)}"


def recordings_of(briefs: Sequence[Brief]) -> tuple[SharedRecording, ...]:
    """The fewest recordings that serve these briefs, found from the nearest deadline on.

    Each brief joins the first recording of the piece that serves it beside all those it serves already.
    """
    found: list[SharedRecording] = []
    for brief in sorted(briefs, key=lambda b: b.deadline):
        for piece in brief.pieces:
            at = next(
                (k for k, r in enumerate(found) if same_name(r.piece, piece) and _joins(brief, r)), None
            )
            if at is None:
                found.append(SharedRecording(piece, (brief,)))
            else:
                found[at] = SharedRecording(found[at].piece, (*found[at].briefs, brief))
    return tuple(found)


def _joins(brief: Brief, recording: SharedRecording) -> bool:
    briefs = (*recording.briefs, brief)
    together = SharedRecording(recording.piece, briefs)
    fits = together.shortest is None or together.longest is None or together.shortest <= together.longest
    return fits and not any(clashes(a, b, recording.piece) for a, b in combinations(briefs, 2))
