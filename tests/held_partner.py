"""Held values of the partner: the place, the pace, whose words were heard, when prompts are given.

What a scene is like for a performer is checked in `test_partner`; here the same parts meet performers who do
anything at all, in random order, so that every number and condition matters somewhere.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from functools import partial
from itertools import product
from types import SimpleNamespace
from typing import Any, cast

import numpy as np

from offbook.hear import places_of
from offbook.notes import SMALL
from offbook.partner import (
    Follower,
    LiveEar,
    Manners,
    OwnSound,
    Partner,
    Patience,
    Played,
    Say,
    phrases_for,
    scene_of,
)
from offbook.partner.follower import FollowedPace
from offbook.partner.live import prompts_given
from offbook.partner.loudspeaker import OwnWords
from offbook.partner.prompter import Prompt, Prompter
from offbook.partner.rehearsal import _sounds_stuck
from offbook.partner.scene import PlayedScene
from offbook.partner.voicing import Voicing
from offbook.recognise import LiveRecogniser
from offbook.script import parse_script
from offbook.words import words_of
from tests.held import Rows, told
from tests.rehearsing import ROOM, VOICE, Stage, every_word, rehearsal_of
from tests.test_partner import SCENE, SPEECH, TWINS

CALLED = """TESS: (Aside.) Wait for the line.

ODO: Read me the line again, and slowly, one more time.

TESS: — !

HOB: I have no line.
TESS: Then go on.

ODO: We dropped the line at nine; the line was cut; the line came back.
"""
TEXTS: dict[str, tuple[str, str | None]] = {
    "a speech": (SPEECH, None), "lines that begin alike": (TWINS, None), "a scene": (SCENE, "MAB"),
    "the last word": (SCENE, "ORRIN"), "a scene about a line": (CALLED, "ODO"),
}  # fmt: skip
SPEECHES = ("a speech", "lines that begin alike")


def scene(title: str) -> PlayedScene:
    """The scene of one of the texts."""
    text, part = TEXTS[title]
    script = parse_script(text, part=part)
    return scene_of(script, words_of(script))


def scenes() -> Iterator[str]:
    """The turns of each scene, the phrases from each place, and what the ear is told to expect."""
    for title, (text, part) in TEXTS.items():
        found, script = scene(title), parse_script(text, part=part)
        for turn in found.turns:
            yield f"{title}, {turn.n}: {turn.first}-{turn.end} {told(turn.lines)} {' '.join(turn.heard_as)}"
        size = len(found.words)
        ends = (f"{found.turn_at(k).n}:{found.phrase_from(k, found.turn_at(k))}" for k in range(size + 1))
        yield f"{' '.join(ends)} of {size}; {sorted(found.phrases)}; {len(found.lines)} lines"
        places = places_of(found.words, every_word, script.lines)
        yield "; ".join(phrases_for(found, places, lambda w: len(w) < 6))


def paces() -> Iterator[str]:
    """Two steps of the place, short and long, quick and slow, and the place that is guessed after them."""
    for gone, seconds in product((-1, 0, 1, 8, 9), (-0.1, 0.0, 0.5, 2.0, 2.1)):
        pace = FollowedPace(3)
        untold = [pace.reached(until, began) for until in (0.3, 0.5, 0.7, 1.2) for began in (-1.0, 0.0, 0.3)]
        pace.take(1.0, 4)
        pace.take(1.0 + seconds, 4 + gone)
        rest = [pace.reached(1.0 + seconds + more / 20, 0.0) for more in range(0, 24, 2)]
        pace.begin(7)
        yield f"{gone} in {seconds}: {untold} {rest} {pace.reached(9.0, -1.0)} {pace.reached(9.0, 8.0)}"


def followed(title: str, seed: int) -> Iterator[str]:
    """A performer who says, skips, repeats and mistakes words: place, lead and words astray after each."""
    text, part = TEXTS[title]
    script = parse_script(text, part=part)
    words = words_of(script)
    places = places_of(words, every_word, script.lines)
    dice = random.Random(f"followed {title} {seed}")
    follower, at, now = Follower(places, SMALL, begin=dice.choice((0, 0, 5))), 0, 0.0
    said = [w.spoken[0][0] for w in words]
    for _ in range(9):
        heard: list[str] = []
        rows = []
        at = dice.choice((at, at, at, at + 1, at + 3, max(0, at - 4), dice.randrange(len(said))))
        for _ in range(dice.randrange(1, 7)):
            word = said[at % len(said)]
            heard += dice.choice(([word], [word], [word], ["[unk]"], ["um"], ["kettle"], [word, word], []))
            at += 1
            now += dice.choice((0.2, 0.4, 0.4, 1.9, 2.5))
            if dice.random() < 0.15 and heard:
                heard[-1] = dice.choice(said)
            spot = follower.hear(heard, now)
            guess = follower.place_at(now + 0.6, now + dice.choice((0.0, 0.3, 0.6)), dice.choice((-1.0, 0.2)))
            rows.append(f"{spot.place}/{spot.lead + 0.0005:.2f}/{spot.astray}/{guess}")
        spot = follower.hear(heard, now + 0.5, ended=True)
        yield f"{' '.join(heard)}: {' '.join(rows)} {spot.place}"
        if dice.random() < 0.2:
            at = dice.randrange(len(said))
            follower.go(at)
            guess = follower.place_at(now, now, now - 0.5)
            yield f"go {at}: {follower.spot.place} {follower.spot.lead} {guess}"


# Around the beginnings and ends of what the partner says, and 0.35 s and 1 s after them.
MOMENTS = (0.9, 1.0, 1.1, 1.9, 2.0, 2.34, 2.35, 2.36, 2.99, 3.0, 3.01, 3.34, 3.35, 3.36, 4.0, 4.01)


def picked(seed: int) -> Iterator[str]:
    """Words that are heard while the partner speaks and just after: which of them are the performer's."""
    dice = random.Random(f"picked {seed}")
    cue = ("who", "left", "the", "gate", "unbarred", "last", "night", "who")
    prompt = ("because", "the")
    opening = ["i", "did", "because", "the", "goats"]
    for n in range(60):
        end = dice.choice((None, 3.0, 3.0))
        own = OwnWords(
            [Played(1, "cue", cue, 1.0, 2.0), Played(2, dice.choice(("cue", "prompt")), prompt, 2.0, end)]
        )
        if dice.random() < 0.5:
            own.played = own.played[:1]
        heard: list[str] = []
        rows = []
        for at in sorted(dice.sample(MOMENTS, 6)):
            heard.append(dice.choice((*cue, *opening, "kettle", *prompt)))
            if dice.random() < 0.2:
                first = dice.randrange(4)
                heard[-1:] = opening[first : first + dice.choice((1, 2, 2, 3))]
            if dice.random() < 0.1:
                heard[0] = "night"
            rows.append(f"{at} {' '.join(w for _, w in own.pick(heard, at, False, opening))}")
        last = own.pick(heard, 4.0, True, opening[: dice.choice((0, 1, 2, 3))])
        early = [p.early for p in own.played]
        yield f"{n} {end} {' '.join(heard)}: {'; '.join(rows)}; {[k for k, _ in last]} {early}"


def prompted() -> Iterator[str]:
    """When words are given at a place, and which: after words, after prompts, at marked and usual pauses."""
    found = scene("a scene")
    for silence, held, usual in product(
        (None, 4.0), (frozenset[int](), frozenset([5])), ({}, {4: 1.5, 9: 3.0})
    ):
        prompter = Prompter(found, Patience(silence, 2.5), held, usual)
        rows = [
            f"{place}/{astray} {prompter.waits(place, astray)}"
            for place, astray in product((2, 3, 4, 5, 6, 7), (0, 1, 2, 3))
        ]
        yield f"{silence} {sorted(held)} {usual}: {'; '.join(rows)}"
    for seed in range(12):
        dice = random.Random(f"prompted {seed}")
        prompter, place = Prompter(found, Patience()), dice.randrange(20)
        rows = []
        for _ in range(7):
            if dice.random() < 0.4:
                place = max(0, min(19, place + dice.choice((-1, 0, 1, 1, 2, 5))))
                prompter.spoke(place)
            given = prompter.give(1.0, place, found.turn_at(place), dice.random() < 0.5)
            told_ = f"at {place} {given.first}-{given.end}{' again' * given.again}"
            rows.append(f"{told_} {prompter.all_given:d} {prompter.waits(place)}")
        yield "; ".join(rows)


def stuck() -> Iterator[str]:
    """Who has lost the thread: so many words of that kind among so many others and unknown sounds."""
    for lost, asking, others, unknown in product((0, 1, 2), (0, 1, 2), (0, 1, 2, 3), (0, 2)):
        words = ["forgot", "wait"][:lost] + ["please", "um"][:asking] + ["lamp", "gate", "bell"][:others]
        yield f"{lost} {asking} {others} {unknown}: {_sounds_stuck([*words, *['[unk]'] * unknown]):d}"


class ToldEar:
    """A recogniser that hears what it is told, tenth by tenth: the words so far, and whether they ended."""

    def __init__(self, told_: list[tuple[str, bool]]) -> None:
        self._told, self._now = told_, ""
        self.fed: list[int] = []

    def follow(self, phrases: list[str]) -> ToldEar:
        """Itself."""
        self.fed.append(len(phrases))
        return self

    def feed(self, pcm: bytes) -> bool:
        """Whether the utterance has ended."""
        self.fed.append(len(pcm))
        self._now, ended = self._told.pop(0)
        return ended

    def words(self) -> tuple[str, ...]:
        """What is heard."""
        return tuple(self._now.split())


def ears() -> Iterator[str]:
    """What an ear reports of sound that comes in pieces of any length, and a partner does with it."""
    hears = [("", False), ("i", False), ("i", False), ("i did", False), ("i did", True)]
    hears += [("", False), ("", True), ("so", False), ("so", False)]
    told_ear = ToldEar(list(hears))
    ear = LiveEar(cast(LiveRecogniser, told_ear), ["i did", "so"])
    for size in (3199, 1, 3200, 6401, 3199, 6400, 6399):
        yield f"{size}: {told(ear.feed(bytes(size)))}"
    yield told(told_ear.fed)
    found = scene("a scene")
    script = parse_script(SCENE, part="MAB")
    places = places_of(found.words, every_word, script.lines)
    partner = Partner(
        found,
        places,
        LiveEar(cast(LiveRecogniser, ToldEar(hears * 12)), []),
        Manners(Patience(1.0), aloud=False),
    )
    yield told(partner.rehearsal.start())
    for size in (1000, 2200, 4000, 32_000, 20_000, 9000):
        acts = partner.feed(VOICE[:2] * (size // 2))
        yield f"{size}: {told(acts)} {len(partner.own())} {partner.rehearsal.now}"
    partner.rehearsal.said(1)
    yield f"{told(partner.feed(ROOM * 20))} {len(partner.own(last=True))} {partner.rehearsal.place}"


def notes_of_prompts() -> Iterator[str]:
    """Prompts one after the other, asked for or not, at one place or at two: what is noted of them."""
    found = scene("a scene")
    for asked, again, (a, b) in product(
        product((True, False), repeat=3), product((True, False), repeat=2), ((4, 2), (2, 4))
    ):
        prompts = [
            Prompt(1.0, 3, 4, asked[0], False),
            Prompt(2.0, a, 7, asked[1], again[0]),
            Prompt(3.0, b, 8, asked[2], again[1]),
        ]
        rehearsal = SimpleNamespace(prompts=prompts, scene=found)
        notes = prompts_given(cast(Partner, SimpleNamespace(rehearsal=rehearsal)))
        yield f"{asked} {again} {a}: " + "; ".join(
            f"{n.before_word} {n.words} {n.heard} {n.start} {n.asked}" for n in notes
        )


def own_sound() -> Iterator[str]:
    """Which tenths of a second of twelve are silent, and how much is held back."""
    ends = (None, 4.0, 4.96)
    for end, early, start, last in product(ends, (None, 2.0, 3.5, 4.5), (0.0, 2.05), (True, False)):
        own = OwnSound()
        rows = []
        for seconds in (5, 1, 6):
            own.feed(np.ones(16_000 * seconds, "<i2").tobytes())
            given = np.frombuffer(
                own.take([Played(1, "cue", (), start, end, early)], last=last and seconds != 6)[
                    : 32_000 * 12
                ],
                "<i2",
            )
            edges = np.flatnonzero(np.diff(np.concatenate(([1], given))))
            rows.append(f"{len(given)} {' '.join(map(str, edges))}")
        yield f"{start}-{end}, {early} {last}: {'; '.join(rows)}"


def levels() -> Iterator[str]:
    """Steps of sound, softer and louder, shorter and longer: when a voice is heard, when it began."""
    tone = np.resize([1.0, -1.0], 160)
    for seed in range(14):
        dice = random.Random(f"levels {seed}")
        voicing, rows = Voicing(), []
        room = dice.choice((0.0, 20.0, 33.0, 200.0, 580.0, 600.0, 3000.0))
        for _ in range(dice.choice((6, 14))):
            loud = dice.choice((room, room, room * 1.5, room * 1.9, room * 2.9, 90.0, 400.0, 3000.0, 9000.0))
            frames = dice.choice((1, 2, 3, 4, 39, 40, 41, 50, 60, 120))
            jitter = np.array([dice.choice((1.0, 1.0, 0.6, 0.45)) for _ in range(frames)])
            voicing.feed(
                (loud * jitter[:, None] * tone + 50).astype("<i2").tobytes()
                + b"\1\0" * dice.choice((0, 0, 80))
            )
            rows.append(f"{voicing.now} {voicing.last:.2f} {voicing.began:.2f} {voicing.hint:.2f}")
        yield f"{room}: {'; '.join(rows)}"


# Twice as loud as the room: a sound that may be the beginning of a voice, and is none.
STIR = (2 * np.frombuffer(ROOM, "<i2")).astype("<i2").tobytes()
DOES = ("say", "say", "say", "wait", "quiet", "quiet", "quiet", "stir", "noise", "call", "ask", "jump", "cut")


def rehearsed(title: str, seed: int) -> Iterator[str]:
    """A performer who does anything at all with the partner: all that the partner does, and when."""
    text, part = TEXTS[title]
    dice = random.Random(f"rehearsed {title} {seed}")
    manners: dict[str, Any] = {"held": frozenset([dice.randrange(12)]), "usual": {dice.randrange(12): 1.5}}
    patience = Patience(dice.choice((3.0, 3.0, None)), 1.5)
    rehearsal = rehearsal_of(parse_script(text, part=part), patience, aloud=dice.random() < 0.7, **manners)
    stage, at = Stage(rehearsal, loud=dice.random() < 0.7), 0
    said = [w.spoken[0][0] for w in rehearsal.scene.words]
    places = []
    for _ in range(14):
        match dice.choice(DOES):
            case "say":
                at = dice.choice((at, at, rehearsal.follower.spot.place))
                part_ = said[at : at + dice.choice((1, 3, 8, 9))]
                stage.say(
                    " ".join(
                        w if dice.random() < 0.85 else dice.choice(("[unk]", "kettle", "sorry"))
                        for w in part_
                    )
                    or "um"
                )
                at += len(part_)
            case "wait":
                stage.wait()
            case "quiet":
                stage.quiet(dice.choice((0.2, 0.5, 0.9, 1.6, 2.5, 3.1, 4.6)))
            case "noise":
                stage.noise(dice.choice((0.1, 0.5)))
            case "stir":
                for _ in range(dice.choice((1, 2, 5))):
                    stage.steps += 1
                    stage._take(rehearsal.sound(STIR))
            case "call":
                stage.say(
                    dice.choice(
                        ("line", "sorry what's the line please", "can i have the line", "line sorry i forgot")
                    )
                )
            case "ask":
                stage._take(rehearsal.ask())
            case "jump":
                at = dice.randrange(len(said))
            case "cut":
                rehearsal.behind = not rehearsal.behind
                stage._take(rehearsal.cut_off() if dice.random() < 0.3 else [])
        places.append(f"{rehearsal.place}{'!' * rehearsal.speaking}")
        if rehearsal.over:
            break
    for now, act in stage.done:
        name = f"say {act.id} “{act.text}” {act.aloud:d}" if isinstance(act, Say) else told(act)
        yield f"{now:.1f} {name}"
    yield " ".join(places)
    yield told(rehearsal.prompts)
    yield told(rehearsal.pick_ups)
    yield told([(p.id, p.kind, p.start, p.end, p.early) for p in rehearsal.played])


PARTS: dict[str, Rows] = {
    "scenes as the partner plays them": scenes,
    "the performer's pace": paces,
    **{f"following {title}, {n}": partial(followed, title, n) for n, title in enumerate(TEXTS)},
    "whose words are heard": partial(picked, 1),
    "when to prompt, and with what": prompted,
    "who has lost the thread": stuck,
    "what the ear reports": ears,
    "what is noted of prompts": notes_of_prompts,
    "the performer's own sound": own_sound,
    "when a voice is heard": levels,
    **{
        f"rehearsing {title}, {n}": partial(rehearsed, title, n)
        for title in TEXTS
        for n in range(2 if title in SPEECHES else 4)
    },
}
