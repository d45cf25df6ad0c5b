"""Scenes for `following.py`: what a performer does with a speech, made from a reading, and what is then
true.

A performance is a list of sounds, one after the other, with what is true at each moment of them, and of
waits for a cue. It is put together from a word-perfect reading, at places where the sound may be cut.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from spliced_sound import RATE, Sound, Spoken, burst, faded, synthetic

_LAUGHS = ("ha ha ha ha", "heh heh heh", "ha ha, ha ha ha")
# What the others say: sentences of this benchmark's own.
CUES = (
    "Is there anybody down there with a lantern?",
    "Then tell me what you saw from the window.",
    "You never said a word about it until this morning.",
    "Go on, I am listening, and so is the whole house.",
    "Very well. And what did the ferryman say to that?",
    "Stop there a moment. Who gave you the key?",
)


@dataclass
class Step:
    """One sound of a performance; if `cue` is a number, a wait for that cue.

    places: (second in the sound, how many script words are past from then on). voiced: the spans with a
    voice. jump: the second from which the words go on at another place. dry: whether it is a silence in
    which the performer has forgotten the words. upto: other words stand for the script up to this word, so
    every place until there is right.
    """

    sound: Sound
    places: list[tuple[float, int]] = field(default_factory=list)
    voiced: list[tuple[float, float]] = field(default_factory=list)
    jump: float | None = None
    dry: bool = False
    cue: int | None = None
    upto: int | None = None


class Performance:
    """A performance that is being put together."""

    def __init__(self, s: Spoken) -> None:
        self.s, self.steps, self.place = s, list[Step](), 0
        self.told: list[str] = []

    def say(self, first: int, end: int) -> None:
        """The words from `first` to before `end` of the reading."""
        s = self.s
        at = s.cuts[first] / RATE
        step = Step(s.piece(first, end))
        for k in range(first, end):
            step.places.append(((s.starts[k] + s.ends[k]) / 2 - at, k + 1))
            step.voiced.append((s.starts[k] - at, s.ends[k] - at))
        if first != self.place:
            step.jump = s.starts[first] - at
        self.steps.append(step)
        self.place = end

    def quiet(self, seconds: float, dry: bool = False) -> None:
        """So many seconds of the sound of the room."""
        self.steps.append(Step(self.s.room(seconds), dry=dry))

    def other(self, sound: Sound, upto: int | None = None) -> None:
        """A sound by the performer that is not in the speech; upto: it stands for the words up to this one."""
        self.steps.append(Step(sound, voiced=[(0.0, len(sound) / RATE)], upto=upto))

    def wait(self, cue: int) -> None:
        """Wait until the cue is over."""
        self.steps.append(Step(self.s.room(0.1), cue=cue))


Event = Callable[[Performance, random.Random, Sequence[Spoken]], bool]


def next_fair(s: Spoken, k: int) -> int:
    """The next place after word `k` at which the reading may be cut."""
    return next((j for j in range(k, len(s.words)) if s.fair(j)), len(s.words))


def _dry(p: Performance, rnd: random.Random, others: Sequence[Spoken]) -> bool:
    p.quiet(rnd.uniform(4.0, 9.0), dry=True)
    return True


def _skip(p: Performance, rnd: random.Random, others: Sequence[Spoken]) -> bool:
    ends = [k for k in range(p.place + 4, min(len(p.s.words) - 6, p.place + 30)) if p.s.fair(k)]
    if not ends:
        return False
    at = rnd.choice(ends)
    p.quiet(rnd.uniform(0.1, 0.8))
    p.say(at, next_fair(p.s, at + 3))
    return True


def _back(p: Performance, rnd: random.Random, others: Sequence[Spoken]) -> bool:
    starts = [k for k in range(max(0, p.place - 22), p.place - 2) if p.s.fair(k)]
    if not starts:
        return False
    p.quiet(rnd.uniform(0.2, 1.2))
    p.say(rnd.choice(starts), p.place)
    return True


def _top(p: Performance, rnd: random.Random, others: Sequence[Spoken]) -> bool:
    if not 12 <= p.place <= 60:
        return False
    p.quiet(rnd.uniform(0.5, 2.0))
    p.say(0, p.place)
    return True


def strange_words(
    s: Spoken, rnd: random.Random, others: Sequence[Spoken], least: int = 4
) -> tuple[Sound, str]:
    """Some words of another text."""
    o = rnd.choice([o for o in others if o.name != s.name and o.words[:4] != s.words[:4]])
    spans = [
        (a, b)
        for a in range(1, len(o.words) - 9)
        for b in range(a + least, a + least + 5)
        if o.fair(a) and o.fair(b)
    ]
    a, b = rnd.choice(spans)
    return o.piece(a, b) * (s.voice / o.voice), " ".join(o.words[a:b])


def _talk(p: Performance, rnd: random.Random, others: Sequence[Spoken]) -> bool:
    sound, words = strange_words(p.s, rnd, others)
    p.quiet(rnd.uniform(0.4, 1.0))
    p.told.append(f"talk: {words}")
    p.other(sound)
    p.quiet(rnd.uniform(0.4, 1.0))
    return True


def _laugh(p: Performance, rnd: random.Random, others: Sequence[Spoken]) -> bool:
    said = synthetic(rnd.choice(_LAUGHS), rnd.choice(("rms", "slt")), p.s.voice)
    if said is None:
        return False
    p.quiet(0.3)
    p.other(said)
    p.quiet(0.4)
    return True


def _noise(p: Performance, rnd: random.Random, others: Sequence[Spoken]) -> bool:
    p.quiet(0.1)
    p.other(faded(burst(rnd.choice(("cough", "click", "breath")), rnd, p.s.voice)))
    p.quiet(0.1)
    return True


EVENTS: dict[str, Event] = {
    "dry": _dry, "skip": _skip, "back": _back, "top": _top, "talk": _talk, "laugh": _laugh, "noise": _noise,
}  # fmt: skip


def speech(s: Spoken, seed: int, others: Sequence[Spoken]) -> Performance:
    """A speech in which something happens every ten to twenty-five words."""
    rnd = random.Random(f"following {s.name} {seed}")
    p = Performance(s)
    p.steps.append(Step(s.head()))
    while p.place < len(s.words):
        p.say(p.place, next_fair(s, p.place + rnd.randint(10, 25)))
        if p.place < len(s.words):
            kind = rnd.choice(list(EVENTS))
            before = p.place
            if EVENTS[kind](p, rnd, others):
                p.told.append(f"{kind} at {before}, then {p.place}")
    p.steps.append(Step(s.tail()))
    p.quiet(2.0)
    return p


def cued_at(s: Spoken) -> list[int]:
    """The words before which somebody else speaks: those that begin every second line, if it may be cut."""
    starts = [s.line_of.index(n) for n in range(len(s.lines))]
    found = [k for n, k in enumerate(starts) if n % 2 == 0 and (k == 0 or s.fair(k))]
    return found if len(found) > 1 else [0, next_fair(s, len(s.words) // 2)]


def scene_text(s: Spoken) -> str:
    """The script of a scene: the lines of the reading, with somebody else's before every second one."""
    cued, rows = cued_at(s), list[str]()
    for n, first in enumerate(cued):
        end = cued[n + 1] if n + 1 < len(cued) else len(s.words)
        rows += [f"OSK: {CUES[n % len(CUES)]}", "", f"IVE: {' '.join(s.words[first:end])}", ""]
    return "\n".join(rows) + "\n"


def scene(s: Spoken, seed: int, others: Sequence[Spoken]) -> Performance:
    """The same speech as a scene: the performer waits for cues, and ends some turns in other words."""
    rnd = random.Random(f"scene {s.name} {seed}")
    p, cued = Performance(s), cued_at(s)
    for n, first in enumerate(cued):
        end = cued[n + 1] if n + 1 < len(cued) else len(s.words)
        p.wait(n)
        p.quiet(rnd.uniform(0.2, 1.2))
        p.place = first
        fair = [k for k in range(max(first + 3, end - 6), end - 2) if s.fair(k)]
        if fair and n + 1 < len(cued) and rnd.random() < 0.25:
            at = rnd.choice(fair)
            p.say(first, at)
            sound, words = strange_words(s, rnd, others, max(3, end - at - 1))
            p.other(sound, upto=end)
            p.told.append(f"turn {n} ends in other words: {words}")
            p.place = end
        else:
            p.say(first, end)
    p.quiet(4.0)
    return p
