"""Whether the partner keeps the place, gives prompts in time, and never speaks while the performer does.

    python bench/following.py FOLDER... [--seeds 4] [--only NAME,...] [--silence 3] [--cache FILE] [--detail]

FOLDER holds recordings and, under the same name with .txt, the words as they were read, line by line. From
each reading speeches are made with silences where the words were forgotten, jumps, words said again,
restarts from the top, talk, laughter and noises, and scenes with another person's lines, where some turns
end in other words (`following_scenes`). They are given to the partner a tenth of a second at a time. The
partner's lines and prompts are said by a synthetic voice (Debian's flite) and come back into the microphone
from a loudspeaker, with an echo. The clock is that of the sound, so nothing has to wait. With --cache the
recogniser's answers are kept.

place: the share of tenths of a second, from the first word to the last, in which the place shown is at most
two words from the true one, at times more than 3 s after any jump; and the same for all times. found: the
seconds from the first word after a jump until the place is right. prompts: how many of the silences that
were long enough got a prompt, how far from the chosen silence, and how many prompts came while the
performer was speaking. cues: how soon they came after the last word, and how many were missed or came
during the line.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import sqlite3
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, fields
from pathlib import Path

import hearing as H
import numpy as np
from following_scenes import CUES, Performance, cued_at, scene, scene_text, speech
from spliced_sound import RATE, Sound, Spoken, spoken, synthetic

from offbook.models import model_folder
from offbook.partner import Hush, Manners, Partner, Patience, Say, partner_for
from offbook.recognise import LiveDecoder, VoskRecogniser
from offbook.script import parse_script
from offbook.words import words_of

STEP = RATE // 10  # samples fed at a time
NEAR = 2  # words by which the place may be missed
FOUND = 3.0  # s in which it must be found again
PROMPTLY = 0.5  # s by which a prompt may miss the silence chosen
_LOUDSPEAKER = 0.35  # of the performer's level in the microphone
_ECHO, _ECHO_AT = 0.4, int(0.06 * RATE)
_GIVES_UP = 6.0  # s after which a performer goes on without the cue


class KeptLive:
    """A recogniser that follows; its answers are kept, by all the sound before them."""

    def __init__(
        self, file: Path | None, make: Callable[[], VoskRecogniser], knows: Callable[[str], bool]
    ) -> None:
        self._db = sqlite3.connect(file or ":memory:")
        self._db.execute("create table if not exists live (question blob primary key, answer text)")
        self.make, self.knows = make, knows

    def follow(self, phrases: Sequence[str]) -> LiveDecoder:
        """A decoder whose answers are kept."""
        return _KeptLiveDecoder(self, list(phrases))

    def get(self, key: bytes) -> str | None:
        """A kept answer."""
        row = self._db.execute("select answer from live where question = ?", (key,)).fetchone()
        return None if row is None else str(row[0])

    def put(self, key: bytes, answer: str) -> None:
        """Keep an answer."""
        self._db.execute("insert or replace into live values (?, ?)", (key, answer))

    def save(self) -> None:
        """Write what was kept."""
        self._db.commit()


class _KeptLiveDecoder:
    def __init__(self, kept: KeptLive, phrases: list[str]) -> None:
        self._kept, self._phrases = kept, phrases
        self._hash = hashlib.sha256(json.dumps(phrases).encode())
        self._unfed: list[bytes] = []
        self._real: LiveDecoder | None = None
        self._words: tuple[str, ...] = ()

    def feed(self, pcm: bytes) -> bool:
        self._hash.update(pcm)
        self._unfed.append(pcm)
        key = self._hash.digest()[:16]
        answer = self._kept.get(key)
        if answer is None:
            answer = self._ask()
            self._kept.put(key, answer)
        ended, words = answer[:1], answer[1:]
        self._words = tuple(words.split())
        return ended == "1"

    def _ask(self) -> str:
        if self._real is None:
            self._real = self._kept.make().follow(self._phrases)
        ended = False
        for pcm in self._unfed:
            ended = self._real.feed(pcm)
        self._unfed = []
        return str(int(ended)) + " ".join(self._real.words())

    def words(self) -> tuple[str, ...]:
        return self._words


@dataclass
class Session:
    """What happened at which second. shown: (second, true place from, true place to, place shown)."""

    shown: list[tuple[float, int, int, int]] = field(default_factory=list)
    jumps: list[float] = field(default_factory=list)
    voiced: list[tuple[float, float]] = field(default_factory=list)
    dries: list[tuple[float, float]] = field(default_factory=list)
    prompts: list[float] = field(default_factory=list)
    cues: list[tuple[int, float]] = field(default_factory=list)
    turn_ends: list[float] = field(default_factory=list)
    entries: list[tuple[float, float]] = field(default_factory=list)
    pick_ups: list[float] = field(default_factory=list)
    first: float = 0.0
    last: float = 0.0
    seconds: float = 0.0


class Room:
    """A performer, a partner, and the air between them."""

    def __init__(self, performance: Performance, partner: Partner) -> None:
        self.performance, self.partner = performance, partner
        self.session = Session()
        self._loud: Sound = np.zeros(0)
        self._saying: int | None = None
        self._over = set[int]()  # cues that were said
        self._lines: dict[int, int] = {}
        self._samples = 0
        self._left: Sound = np.zeros(0)  # of the performer, less than a step
        self._true = 0
        self._marks: list[tuple[float, int]] = []
        self._spans: list[tuple[float, int]] = []  # from when on any place up to that is right

    @property
    def now(self) -> float:
        return self._samples / RATE

    def run(self) -> Session:
        """All of it."""
        s, told = self.session, self.session
        self._act(self.partner.rehearsal.start())
        for step in self.performance.steps:
            if step.cue is not None:
                s.turn_ends.append(self._ahead())
                self._wait(step.cue)
                continue
            at = self._ahead()
            self._marks += [(at + t, k) for t, k in step.places]
            s.voiced += [(at + a, at + b) for a, b in step.voiced]
            if step.upto is not None:
                self._spans.append((at, step.upto))
            if step.jump is not None:
                s.jumps.append(at + step.jump)
            if step.dry:
                s.dries.append((max((b for _, b in s.voiced), default=at), at + len(step.sound) / RATE))
            self._play(step.sound)
        told.first = self.session.voiced[0][0]
        told.last = self._marks_end
        told.seconds = self.now
        told.pick_ups = [p.seconds for p in self.partner.rehearsal.pick_ups]
        return self.session

    _marks_end = 0.0

    def _ahead(self) -> float:
        return self.now + len(self._left) / RATE

    def _wait(self, cue: int) -> None:
        begun = self.now
        while cue not in self._over and self.now < begun + _GIVES_UP:
            self._play(self.performance.s.room(0.1))
        while self._saying is not None:
            self._play(self.performance.s.room(0.1))
        self.session.entries.append((self.now, begun))

    def _play(self, sound: Sound) -> None:
        self._left = np.concatenate([self._left, sound])
        while len(self._left) >= STEP:
            piece, self._left = self._left[:STEP], self._left[STEP:]
            self._step(piece)

    def _step(self, piece: Sound) -> None:
        mixed = piece + self._loud[:STEP] if len(self._loud) >= STEP else piece
        self._loud = self._loud[STEP:]
        self._samples += STEP
        pcm = np.clip(np.round(mixed), -32768, 32767).astype("<i2").tobytes()
        self._act(self.partner.feed(pcm))
        if self._saying is not None and len(self._loud) < STEP:
            saying, self._saying = self._saying, None
            if saying in self._lines:
                self._over.add(self._lines[saying])
            self._act(self.partner.rehearsal.said(saying))
        while self._marks and self._marks[0][0] <= self.now:
            self._marks_end, self._true = self._marks.pop(0)
        upto = max((k for at, k in self._spans if at <= self.now), default=0)
        self.session.shown.append((self.now, self._true, max(self._true, upto), self.partner.rehearsal.place))

    def _act(self, acts: Sequence[object]) -> None:
        for act in acts:
            if isinstance(act, Hush) and act.id == self._saying:
                self._saying, self._loud = None, np.zeros(0)
                if act.id in self._lines:
                    self._over.add(self._lines[act.id])
            if isinstance(act, Say):
                said = synthetic(act.text, "rms", self.performance.s.voice * _LOUDSPEAKER)
                if said is None:
                    sys.exit("the others' lines are said by flite: apt-get install flite")
                loud = np.concatenate([said, np.zeros(2 * STEP)])
                loud[_ECHO_AT:] += _ECHO * loud[:-_ECHO_AT]
                self._loud = np.resize(loud, len(loud) // STEP * STEP)
                self._saying = act.id
                if act.line is not None:
                    self._lines[act.id] = act.line.n
                    self.session.cues.append((act.line.n, self.now))
                else:
                    self.session.prompts.append(self.now)
                self._act(self.partner.rehearsal.playing(act.id))


@dataclass
class Tally:
    """The counts of several sessions, and lists of seconds."""

    seconds: float = 0.0
    steps: int = 0
    right: int = 0
    away: int = 0
    away_right: int = 0
    found: list[float] = field(default_factory=list)
    dries: int = 0
    prompted: list[float] = field(default_factory=list)
    into: int = 0
    astray: int = 0
    cues: list[float] = field(default_factory=list)
    missed: int = 0
    early: int = 0
    picked: list[float] = field(default_factory=list)

    def add(self, other: Tally) -> None:
        """Add another tally to this one."""
        for f in fields(self):
            setattr(self, f.name, getattr(self, f.name) + getattr(other, f.name))


def judge(s: Session, silence: float | None, tell: Callable[[str], None]) -> Tally:
    """The counts of one session."""
    t = Tally(seconds=s.seconds)
    wrong_from: tuple[int, int] | None = None
    for now, true, upto, shown in s.shown:
        if not s.first <= now <= s.last:
            continue
        right = true - NEAR <= shown <= upto + NEAR
        away = not any(j <= now < j + FOUND for j in s.jumps)
        t.steps, t.right = t.steps + 1, t.right + right
        t.away, t.away_right = t.away + away, t.away_right + (away and right)
        if away and not right and (true, shown) != wrong_from:
            tell(f"    {now:.1f} s: at {true}, shown {shown}")
            wrong_from = (true, shown)
    for jump in s.jumps:
        there = (now for now, true, _, shown in s.shown if now >= jump + 0.3 and abs(true - shown) <= NEAR)
        t.found.append(next(there, jump + 99.0) - jump)
        if t.found[-1] > FOUND:
            tell(f"    jump at {jump:.1f} s found after {t.found[-1]:.1f}")
    if silence is not None:
        _judge_prompts(s, silence, t, tell)
    _judge_cues(s, t, tell)
    return t


def _judge_prompts(s: Session, silence: float, t: Tally, tell: Callable[[str], None]) -> None:
    left = list(s.prompts)
    for begun, over in s.dries:
        inside = [p for p in left if begun < p < over + 0.1]
        left = [p for p in left if p not in inside]
        if over - begun > silence + PROMPTLY:
            t.dries += 1
            if inside:
                t.prompted.append(inside[0] - begun - silence)
            if not inside or abs(t.prompted[-1]) > PROMPTLY:
                tell(
                    f"    dry of {over - begun:.1f} s at {begun:.1f}: prompts at {[round(p - begun, 1) for p in inside]}"
                )
    for p in s.prompts:
        if any(a <= p <= b for a, b in s.voiced):
            t.into += 1
            tell(f"    prompt at {p:.1f} s into the performer's words")
    t.astray += len(left)
    for p in left:
        tell(f"    prompt at {p:.1f} s where there was no dry")


def _judge_cues(s: Session, t: Tally, tell: Callable[[str], None]) -> None:
    said = dict(s.cues)
    for n, end in enumerate(s.turn_ends):
        if n == 0:
            continue
        spoken_until = max((b for _, b in s.voiced if b <= end + 0.05), default=end)
        if n not in said or said[n] > end + _GIVES_UP:
            t.missed += 1
            tell(f"    cue {n} missed after {spoken_until:.1f} s")
        elif said[n] < spoken_until - 0.05:
            t.early += 1
            tell(f"    cue {n} {spoken_until - said[n]:.1f} s into the line")
        else:
            t.cues.append(said[n] - spoken_until)


def row(name: str, t: Tally) -> str:
    """One row of the table."""

    def pc(x: float, n: float) -> str:
        return f"{100 * x / n:6.2f}" if n else "     –"

    found, late, cues = (np.abs(np.array(x)) for x in (t.found, t.prompted, t.cues))
    return (
        f"{name:12s}{t.seconds / 60:5.0f} |{pc(t.away_right, t.away)}{pc(t.right, t.steps)} |{len(found):5d}"
        f"{pc((found <= FOUND).sum(), len(found))}{np.median(found) if len(found) else 0:6.1f}{found.max(initial=0):6.1f} |"
        f"{t.dries:5d}{len(late):5d}{pc((late <= PROMPTLY).sum(), len(late))}{late.max(initial=0):6.2f}{t.into:5d}{t.astray:6d} |"
        f"{len(cues) + t.missed + t.early:5d}{t.missed:6d}{t.early:6d}{np.median(cues) if len(cues) else 0:6.2f}{cues.max(initial=0):6.2f}"
    )


HEAD = (
    "                  | place right  |  jumps found again      | dries                      wrong | cues\n"
    "reading       min |  away   all  |  all within3 median  max |  all  got  in0.5   max into   none |  all  miss  into median  max"
)


def main() -> int:
    """The command line."""
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("folder", type=Path, nargs="+")
    ap.add_argument("--seeds", type=int, default=4)
    ap.add_argument("--first-seed", type=int, default=0)
    ap.add_argument("--only", default="", help="readings by name, separated by commas")
    ap.add_argument("--silence", type=float, default=3.0, help="seconds after which a dry is prompted")
    ap.add_argument("--kinds", default="speech,scene")
    ap.add_argument("--cache", type=Path, help="keep what the recogniser answers here")
    ap.add_argument("--detail", action="store_true")
    a = ap.parse_args()
    loaded: list[VoskRecogniser] = []

    def make() -> VoskRecogniser:
        if not loaded:
            loaded.append(VoskRecogniser(model_folder()))
        return loaded[0]

    words_kept = a.cache.with_suffix(".words") if a.cache is not None else Path(":memory:")
    kept = H.Kept(words_kept, make)
    readings = [spoken(r, kept) for folder in a.folder for r in H.readings(folder, ())]
    live = KeptLive(a.cache, make, kept.knows)
    tell: Callable[[str], None] = (lambda line: print(line, flush=True)) if a.detail else lambda line: None
    whole = Tally()
    print(HEAD)
    for s in readings:
        if a.only and s.name not in a.only.split(","):
            continue
        one = Tally()
        for seed in range(a.first_seed, a.first_seed + a.seeds):
            for kind in a.kinds.split(","):
                one.add(session(s, kind, seed, readings, live, a.silence, tell))
        live.save()
        print(row(s.name, one), flush=True)
        whole.add(one)
    print(row("all", whole))
    return 0


def session(
    s: Spoken,
    kind: str,
    seed: int,
    readings: Sequence[Spoken],
    live: KeptLive,
    silence: float,
    tell: Callable[[str], None],
) -> Tally:
    """One speech or scene, from beginning to end, judged."""
    performance = (speech if kind == "speech" else scene)(s, seed, readings)
    if kind == "speech":
        script = parse_script("\n".join(" ".join(line) for line in s.lines) + "\n")
    else:
        script = parse_script(scene_text(s), part="IVE")
    words = words_of(script)
    tell(f"  {s.name} {kind} {seed}: " + "; ".join(performance.told))
    partner = partner_for(script, words, live, Manners(Patience(silence)))
    return judge(Room(performance, partner).run(), silence, tell)


__all__ = ["CUES", "cued_at"]

if __name__ == "__main__":
    sys.exit(main())
