"""One recording for several briefs, and why a piece may need more than one.

Two briefs can share a recording of a piece if they agree on everything that is decided in front of the
camera: how long it lasts, whether a name is said first, whether the picture is landscape or portrait. If they
differ in what is decided on export (kind of file, size, loudness, only sound), each needs its own file, but
not its own recording.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import combinations

from offbook.brief.points import GATE_LUFS, Brief, same_name
from offbook.brief.wording import length_told


@dataclass(frozen=True, slots=True)
class SharedRecording:
    """One recording to be made. piece: its name. briefs: those it is for, the nearest deadline first."""

    piece: str
    briefs: tuple[Brief, ...]

    @property
    def shortest(self) -> float | None:
        """The shortest length in seconds that suits all of them; None if no brief has one."""
        return max((x for b in self.briefs if (x := b.length_of(self.piece)[0]) is not None), default=None)

    @property
    def longest(self) -> float | None:
        """The longest length in seconds that suits all of them; None if no brief has one."""
        return min((x for b in self.briefs if (x := b.length_of(self.piece)[1]) is not None), default=None)

    @property
    def unbroken(self) -> bool:
        """Whether one of them asks for one continuous take, which also suits those that allow cuts."""
        return any(b.unbroken for b in self.briefs)


def clashes(one: Brief, other: Brief, piece: str) -> tuple[str, ...]:
    """Sentences that say why one recording of `piece` cannot be for both briefs; empty if it can."""
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
    """What two briefs that share a recording need different files for; empty if one file is enough."""
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
    """The range of loudness that a brief asks for, in LUFS; the whole scale if it does not say."""
    return brief.lufs or (float(GATE_LUFS), 0.0)


def _each(one: Brief, other: Brief, say: Callable[[Brief], str]) -> str:
    return f"{one.name} {say(one)}, {other.name} {say(other)}"


def recordings_of(briefs: Sequence[Brief]) -> tuple[SharedRecording, ...]:
    """The recordings needed for these briefs, beginning with the nearest deadline.

    Each brief uses the first recording of the piece that suits it and all briefs that use it already.
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
