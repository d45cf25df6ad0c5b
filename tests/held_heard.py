"""Held values of hearings: alignments, notes on planted slips, doubtful places, and the whole run-through."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import partial

from offbook.align.alignment import AlignmentStep, align
from offbook.align.error_counts import error_counts
from offbook.align.gaps import gaps, pair_by_sound
from offbook.hear import voice_difficulty
from offbook.hear.blends import blends
from offbook.hear.decide import WeighedPlace, decide
from offbook.hear.grammar import contested_phrases, leaning_phrases, phrases_to_follow
from offbook.hear.pace import pace_of
from offbook.hear.rescore import SettledSegment
from offbook.hear.script_view import places_of, region_around
from offbook.hear.whole_run import log_odds_of, reconsider, swap_rarities
from offbook.notes import Review, noted_lines
from offbook.recognise import HeardWord
from offbook.score import Verdict, accuracy_share
from offbook.script import Script, parse_script
from offbook.words import words_of
from tests.held import Rows, figures, told
from tests.performing import hear_said, perform
from tests.test_hear import SAID, listen
from tests.test_hear_habit import CHANGED_12, CLEAR, HARD, SAID_9, place, run_of
from tests.test_hear_weigh import places as known
from tests.test_notes import SCRIPT as SPEECH
from tests.test_notes import WHOLE

# What is said instead of a part of the speech; a number in brackets is a silence in seconds.
SLIPS = [
    ("open on the stair", "open stair"),
    ("copper pan", "iron kettle"),
    ("nested in", "made home in"),
    ("i'm told", "i am told"),
    ("copper pan", "copper frying pan"),
    ("copper pan", "copper um pan"),
    ("and raised four", "and raised [0.4] and raised four"),
    ("swallow nested", "swallow swallow nested"),
    ("for any bird", "for any for any for any bird"),
    ("raised four children", "raised three children raised four children"),
    ("raised four children", "raised three sorry raised four children"),
    ("raised four children", "raised three children [0.3] raised four children"),
    ("the window open", "the win window open"),
    ("copper pan", "pan copper"),
    ("the table and the chair", "the chair and the table"),
    (" for any bird that knew us to come in", ""),
    (" and left the window open on the stair for any bird that knew us to come in", ""),
    (" knew us to come in", ""),
    ("no rent was", "[2.0] line [1.5] no rent was"),
    ("no rent was", "[2.0] line [0.8] no rent was [0.8] no rent was"),
    ("no rent was", "[4.0] no rent was [0.6] no rent was"),
    ("no rent was", "[5.0] no went was ask no number [0.6] no rent was"),
    ("no rent was", "[5.0] we never had our heating [0.6] no rent was"),
    ("no rent was", "[1.5] no rent was"),
    ("no rent was", "[2.9] no rent was"),
    ("no rent was", "[3.1] no rent was"),
    ("nested in the hall", "nested [6.0] in the hall"),
    ("nested in the hall", "nested in the hall [1.0] no wait what comes next oh yes [1.0]"),
    ("nested in the hall", "nested in the middle of the hall"),
    ("nested in the hall", "nested in the room the hall"),
    ("told a swallow", "told uh a swallow"),
    ("a swallow nested", "a line swallow nested"),
    ("copper pan and left the window", "and left the window copper ban"),
    ("children", "child"),
    ("children underneath our roof", "chickens under neath a proof"),
    ("they carried", "the house clearance [1.0] they carried"),
    ("they carried", "my name is sparrow and i'm reading for the part of the daughter [1.0] they carried"),
    ("they carried", "okay are we ready to go now [1.0] they carried"),
    ("they carried", "they carried down the [1.0] they carried"),
    ("they carried", "and they carried"),
    ("back the proof", "back the proof [1.0] thank you shall i do it again"),
    ("back the proof", "back the proof back the proof"),
    (" she brought us back the proof", ""),
    ("they carried down the table and the chair the clock", "the clock"),
    ("at all", "at all no letter came at all"),
    ("no letter came at all and spring by spring", "and spring by spring no letter came at all"),
]  # fmt: skip

SCENE = parse_script(
    "BRAMBLE: We're closed. The sign says so, and I painted it.\nPIM: The sign says open.\n"
    "BRAMBLE: That's the wrong side of the sign. It says closed to me.\n"
    "PIM: I only want the one. Anywhere. I'll stand at the back behind the post.\n",
    title="the last ticket",
    part="PIM",
)
SCENE_SAID = [
    "the sign says open [0.5] i only want the one anywhere i'll stand at the back behind the post",
    "we're closed the sign says so and i painted it the sign says open [0.5] that's the wrong "
    "side of the sign it says "
    "closed to me i only want the one anywhere i'll stand at the back behind the post",
    "the sign says open [0.5] that's the wrong side [1.0] i only want one i'll stand behind the post",
    "sign says closed [7.0] i want the one anywhere i'll stand at the front behind the last post office",
]


def noted(script: Script, found: Review) -> Iterator[str]:
    """A review: its notes, pauses, places to work on, and the speech as it is marked."""
    run = found.run
    yield (
        f"accuracy {figures(run.accuracy)} to {figures(run.accuracy_low)}, {run.seconds:.3f} s, "
        f"speaking {run.speaking_seconds:.3f} s"
    )
    yield "verdicts " + "".join(w.verdict[0] for w in run.words)
    for kind in (found.notes, found.added, found.asides, found.dries, found.dropped_lines, found.places):
        yield from map(told, kind)
    for row in noted_lines(script, words_of(script), found):
        marked = [
            (c.text, c.glue, c.above, c.begins, c.ends, c.word) for c in row.cells if c.note is not None
        ]
        if marked or row.dropped:
            yield f"row {row.number}, stanza {row.stanza}{', dropped' if row.dropped else ''}: {told(marked)}"


def slipped(change: str, into: str) -> Iterator[str]:
    """The notes on one slip, aligned simply and aligned as a recording is."""
    said = WHOLE.replace(change, into)
    assert said != WHOLE, change
    for review in (perform(SPEECH, said), hear_said(SPEECH, said)):
        yield from noted(SPEECH, review)


def in_a_scene() -> Iterator[str]:
    """The same for one part of a scene, with the cues read aloud or not."""
    for said in SCENE_SAID:
        yield from noted(SCENE, hear_said(SCENE, said))


def aligned() -> Iterator[str]:
    """Alignments with their costs and gaps, and the counts of errors."""
    words = words_of(SPEECH)
    places = places_of(words, lambda word: word not in ("swallow", "i'm"), SPEECH.lines)
    yield told(places[:6])
    for change, into in SLIPS[::3]:
        heard = [w for w in WHOLE.replace(change, into).split() if not w.startswith("[")]
        found = align(places, heard)
        yield f"{into}: {' '.join(_step(step) for step in found.steps)}"
        yield told(gaps(found))
        yield told(pair_by_sound(places[12:24], heard[12:24]))
        yield told(error_counts(WHOLE.split(), heard))
        words_heard = [HeardWord(w, k / 2, k / 2 + 0.4, 0.98) for k, w in enumerate(heard)]
        for at in (8, 20, 33):
            yield told(region_around(places, words_heard[:at], words_heard[at : at + 6], at))


def _step(step: AlignmentStep) -> str:
    return f"{step.kind[0]}{step.script_from}-{step.script_to}/{step.heard_from}-{step.heard_to}"


def decided() -> Iterator[str]:
    """Doubtful places: scores and hearings of each, the wording that is taken, and its odds."""
    hearings = [("from", "for", "from"), ("for", "for", "from"), ("from", "from", "from"), ("", "for", "")]
    for lead in (2.0, 0.6, 0.0, -0.5, -1.5, -2.4, -4.0, -7.0, -12.0):
        for had in hearings:
            yield from _decided("for", {"from": 300.0, "for": 300.0 + lead}, had)
        for nothing in (("of", "of", "of"), ("of", "of", ""), ("of", "", "")):
            yield from _decided("", {"of": 300.0, "": 300.0 + lead}, nothing)
        yield from _decided(
            "was a best", {"was the best": 300.0, "was a best": 300.0 + lead}, ("was the best",) * 3
        )
        yield from _decided(
            "besiege thy brow",
            {"besieged eyebrow": 300.0, "besiege thy brow": 300.0 + lead},
            ("besieged eyebrow",) * 3,
        )
        yield from _decided(
            "has", {"has never been": 300.0, "as": 299.0, "has": 299.0 + lead}, ("as", "has", "as")
        )


def _decided(script: str, scores: dict[str, float], had: tuple[str, str, str]) -> Iterator[str]:
    heard = {
        wording: (score, [HeardWord(w, k, k + 1.0, 1.0) for k, w in enumerate(wording.split())])
        for wording, score in scores.items()
    }
    words = script.split()
    blank = WeighedPlace(0, len(words), script, "", 0.0, *had, 0.0, float(max(1, len(words))))
    for by_second in (False, True):
        found, weighed = decide(known(*words), [script], heard, [], replace(blank, by_second=by_second))
        taken = " ".join(f"{w.word} {figures(w.confidence)} {w.start:.2f}-{w.end:.2f}" for w in found) or "-"
        ear = "second ear" if by_second else "first ear"
        yield f"{script!r} {told(had)} {figures(scores[script] - 300)} {ear}: {taken}{_odds(weighed)}"


def _odds(weighed: WeighedPlace | None) -> str:
    if weighed is None:
        return ""
    lead = f"{weighed.rival!r} {figures(weighed.lead)} {told(weighed.evidence)}"
    return f"; {lead} {figures(weighed.chance)} {weighed.quotable}"


def believed_or_not() -> Iterator[str]:
    """One doubtful place after the other, in view of the whole run-through."""
    yield told(
        [
            voice_difficulty([CLEAR]),
            voice_difficulty([HARD]),
            voice_difficulty([CLEAR, HARD]),
            voice_difficulty([CLEAR, CLEAR, HARD]),
        ]
    )
    verdicts: tuple[Verdict, ...] = ("changed", "dropped", "unsure", "said")
    for verdict in verdicts:
        for chance in (0.001, 0.01, 0.05, 0.1, 0.22, 0.4):
            for swaps in (0, 1, 3, 12):
                for voice in (CLEAR, HARD):
                    yield (
                        f"{verdict} {chance} {swaps} {voice.contested_hits}: "
                        f"{_believed(verdict, chance, swaps, voice)}"
                    )
    many = [place(k, chance) for k, chance in enumerate((0.001, 0.1, 0.3, 0.5, 0.9))]
    yield told([log_odds_of(p) for p in many])
    yield told([swap_rarities(many, words) for words in (5, 40, 120, 1000)])


def _believed(verdict: Verdict, chance: float, swaps: int, voice: SettledSegment) -> str:
    verdicts: tuple[Verdict, ...] = (verdict, *SAID_9, *CHANGED_12[:swaps])
    doubtful = place(0, chance, rival="" if verdict == "dropped" else "x")
    others = [place(10 + k, 0.001) for k in range(swaps)]
    after = reconsider(run_of(*verdicts), [SettledSegment((), (doubtful, *others)), voice], 120)
    word = after.words[0]
    steps = ", ".join(step.by for step in word.steps)
    return f"{word.verdict} {word.heard} {told(word.confidence)}; {steps}"


def listened() -> Iterator[str]:
    """Whole hearings with a fake recogniser: what it hears, mishears and does not know."""
    for said, mishears, unknown in (
        (SAID, {}, ()),
        (SAID.replace("lantern leaned", "lantern"), {}, ()),
        (SAID.replace("seven herons", "several herons"), {"herons": "heroes"}, ("herons",)),
        (SAID.replace("the baker", "a baker he"), {"the": "a", "late": "lake"}, ()),
        (SAID.replace("before the house was up / ", ""), {"sang": "sand"}, ("weir",)),
    ):
        run, recogniser = listen(said, mishears=mishears, unknown=frozenset(unknown))
        yield f"{said}: {figures(run.accuracy)} to {figures(run.accuracy_low)}"
        yield from (
            f"  {w.text} {w.verdict} {w.heard} {told(w.start)} {told(w.end)} {told(w.confidence)}"
            for w in run.words
        )
        yield told(run.extras)
        # Two places are asked about at a time, and either may come first.
        yield told(sorted(list(phrases) for phrases in recogniser.asked))


def wordings() -> Iterator[str]:
    """What a recogniser is asked about a place, shares as they are shown, the pace of a place."""
    for script, other in (
        ("was the best of times", "was a best time"),
        ("and the sea", "and sea"),
        ("no bell no oar", "no oar no bell"),
        ("for", "four or"),
    ):
        yield f"{script} / {other}: {told(blends(script, other))}"
        for phrases in (
            leaning_phrases(known(*script.split()), other.split()),
            phrases_to_follow(known(*script.split()), [other]),
            contested_phrases(known(*script.split()), other.split(), lambda word: len(word) < 6),
        ):
            yield told(phrases)
    sound = b"".join(n.to_bytes(2, "little") * 4000 for n in (4000, 0, 3000, 9000, 0, 0, 200, 5000))
    heard = [
        HeardWord(w, a, b, 1.0) for w, a, b in (("sang", 0.0, 0.25), ("before", 0.5, 1.0), ("was", 1.75, 2.0))
    ]
    pace = pace_of(sound, heard, heard[:1], heard[2:])
    assert pace is not None
    yield (
        f"{told(pace)} {figures(pace.time_lead('before the house', 'be'))} "
        f"{figures(pace.time_lead('', 'before'))}"
    )
    yield ", ".join(accuracy_share(x) for x in (0.0, 0.001, 0.5, 0.8549, 0.855, 0.9949, 0.995, 0.9999, 1.0))
    yield ", ".join(
        accuracy_share(x, y) for x, y in ((0.5, 0.5), (0.5, 0.6), (0.994, 0.996), (0.99, 1.0), (0.0, 1.0))
    )


PARTS: dict[str, Rows] = {
    **{
        f"{change.strip()} -> {into.strip() or 'nothing'}": partial(slipped, change, into)
        for change, into in SLIPS
    },
    "one part of a scene": in_a_scene,
    "alignments": aligned,
    "a recogniser that is told what it hears": listened,
    "wordings that are asked about": wordings,
}

# Apart, because the weights that these rest on are fitted again more often than the rest changes.
DECISIONS: dict[str, Rows] = {
    "doubtful places": decided,
    "the whole run-through": believed_or_not,
}
