"""Held values about days: what is due, plans backwards from a date, forecasts, drills, checks of takes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from functools import partial
from itertools import product
from pathlib import Path
from random import Random
from typing import Literal
from zoneinfo import ZoneInfo

from offbook.audio import Loudness, Picture, SoundReport
from offbook.audio.quality import cut_off_line, invalid_samples_line, quality_line
from offbook.brief import BriefError, until
from offbook.brief import brief_in_words as points_of
from offbook.brief import parse_brief as brief_of
from offbook.drill import Answering, Sitting, judge, lookalikes
from offbook.drill.sitting import Kind, veiled, weakest_first
from offbook.drill.units import Lookalike
from offbook.pencil import PencilError, read_pencil, with_mark, with_stress
from offbook.plan import Allowance, BriefNeed, PieceNeed, RecordingNeed, calendar
from offbook.progress import StretchHistory, by_day, is_clean, off_book
from offbook.progress.forecast import Past, PastThought, between, forecast, steady_slips
from offbook.progress.history import timing_of
from offbook.records import DayTotal, Memory, RunRow, Unit, Version
from offbook.report import accuracy_svg, lines_svg, text_chart, text_stretches
from offbook.schedule import Item, next_help, plan, rating_of, recall_after, review
from offbook.script import parse_script
from offbook.takes import HeardTake, RecordingFacts, TakeStanding, best_take, checks_of
from offbook.words.passage import as_written, between_words
from tests import test_plan
from tests.held import Rows, figures, told
from tests.journals import LAMP, script_of
from tests.rehearsing import Stage, rehearsal_of
from tests.test_partner import SCENE
from tests.test_pencil import SPEECH, said
from tests.test_plan import TODAY, items, need
from tests.test_progress import row
from tests.test_schedule import learnt

NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)


def item(unit: int, memory: Memory | None, day: date | None = None, seconds: float = 20.0) -> Item:
    """A thought of ten words with its memory."""
    return Item("p", Unit(unit, unit, 10 * unit, 10 * unit + 9, "words"), memory, day, "UTC", seconds)


def planned() -> Iterator[str]:
    """The whole plan for one to three pieces, with so many days left, clean days and minutes."""
    for left, pieces, clean in product((0, 1, 2, 3, 5, 6, 7, 12, 30), (1, 3), (0, 1, 2)):
        yield f"{left} days, {pieces} pieces, {clean} clean: {_plan(test_plan.usual(left, pieces, clean))}"
    for minutes, cap, used, takes in (
        (5, 45, 0, 3),
        (20, 6, 0, 3),
        (20, 45, 44, 3),
        (20, 12, 3, 9),
        (90, 90, 0, 1),
    ):
        found = test_plan.made(
            9,
            need(thoughts=8),
            need("Full house", seconds=240.0),
            minutes=minutes,
            cap=cap,
            takes=takes,
            used=used,
        )
        yield f"{minutes} {cap} {used} {takes}: {_plan(found)}"


def _plan(found: test_plan.Plan) -> str:
    days = []
    for day in found.days:
        steps = ", ".join(f"{s.kind} {s.what} {figures(s.minutes)}/{figures(s.voice)}" for s in day.steps)
        days.append(
            f"+{(day.day - TODAY).days} {figures(day.minutes)} {figures(day.practice)} "
            f"{figures(day.voice)} ({steps})"
        )
    return "; ".join([*days, *found.short])


def two_briefs() -> Iterator[str]:
    """A calendar for two briefs that share a piece, when there was a run-through today."""
    needs = [
        need(clean=1, thoughts=6),
        need("Full house", seconds=200.0, thoughts=3),
        PieceNeed(
            "x",
            "The ferry",
            60.0,
            2,
            items("x", 4, 2),
        ),
    ]
    briefs = [
        BriefNeed("Round one", TODAY + timedelta(days=6), ("The lamp", "Full house"), 3),
        BriefNeed("Round two", TODAY + timedelta(days=13), ("The lamp", "x"), 2),
        BriefNeed("Too late", TODAY - timedelta(days=1), ("x",), 1),
    ]
    recordings = [
        RecordingNeed(("The lamp",), ("Round one", "Round two")),
        RecordingNeed(("Full house",), ("Round one",)),
        RecordingNeed(("x",), ("Round two",)),
    ]
    for done in (0.0, 11.0):
        found = calendar(needs, briefs, recordings, TODAY, Allowance(25.0, 30.0, done, done / 2))
        for day in found.days:
            yield f"+{(day.day - TODAY).days} {told(day.steps)}"
        yield told([str(s) for s in found.short])


def scheduled() -> Iterator[str]:
    """The work of a day out of many thoughts, by age, stability and date; ratings, help and recall."""
    for right, help_ in product(range(11), range(4)):
        yield f"{right} of 10, help {help_}: {rating_of(right, 10, help_=help_)}"
    yield told([[next_help(h, r) for h in range(4)] for r in (1, 2, 3, 4)])
    memory: Memory | None = None
    for k, rating in enumerate((3, 3, 1, 2, 3, 3, 4, 1, 3)):
        memory = review(memory, "p", 1, rating, NOON + timedelta(days=k * k))
        yield told(memory)
        yield told([recall_after(memory, days) for days in (0, 1, 2, 5, 10, 40, 400)])
    pool = [
        item(
            n,
            None if n % 4 == 0 else learnt(n, 3 + n, n - 7, 2.0 + n),
            None if n % 3 else TODAY + timedelta(days=n),
            5.0 + n,
        )
        for n in range(24)
    ]
    for minutes, days, done in product((1.0, 4.0, 10.0), (1, 6), (0.0, 0.7)):
        for load in plan(pool, TODAY, minutes, days=days, done=done):
            tasks = ", ".join(f"{t.unit.key} {t.why} {figures(t.minutes)}" for t in load.tasks)
            yield f"{minutes} {done} {load.day}: moved {load.moved}; {tasks}"


def foretold() -> Iterator[str]:
    """Forecasts, by what was said so far, by memory, and by the days that are left."""
    for stability, left, said_, tidy in product((1.0, 6.0, 40.0), (0, 1, 4, 10), (30, 38, 40), (0.2, 0.9)):
        due = TODAY + timedelta(days=left)
        memory = Memory("p", 0, 2, None, stability, 5.0, NOON + timedelta(days=5), NOON, 4, 0, 0)
        _, _, units = script_of("one two three four.\n" * 10)
        pool = [Item("p", u, memory if u.n % 3 else None, due, "UTC", 10) for u in units]
        rows = [row(40, said_, day=day, unsure=1 if said_ < 40 else 0) for day in (1, 1, 2)]
        past = [Past((PastThought(99, 40, 40 - said_, 0.9), PastThought(98, 20, 1, 0.6)))] * 2
        found = forecast(pool, rows, past, TODAY, tidy)
        weak = [u.unit.n for u in found.weak]
        numbers = [x if x is None else figures(x) for x in (found.chance, found.low, found.high)]
        yield f"{stability} {left} {said_} {tidy}: {numbers} {weak} {found.reason}"
    for chance, runs in product((0.02, 0.5, 0.7, 0.96), (1, 2, 3, 4, 9)):
        yield f"between {chance} {runs}: {told(between(chance, runs))}"
    once = Past((PastThought(0, 9, 1, 0.9), PastThought(1, 9, 3, 0.9), PastThought(2, 9, 0, 0.9)))
    yield told([steady_slips([once] * n) for n in range(1, 6)])


def _total(r: RunRow) -> DayTotal:
    return DayTotal(r.day, 1, r.words, r.said, r.unsure, r.prompts, r.seconds, int(is_clean(r)))


def gone_by() -> Iterator[str]:
    """Days, off book, timing and charts, from run-throughs."""
    rows = [
        row(100, 100 - miss, unsure=un, prompts=p, seconds=s, day=d)
        for miss, un, p, s, d in (
            (12, 3, 0, 60, 1),
            (2, 0, 0, 55, 2),
            (1, 1, 0, 65, 2),
            (3, 1, 0, 61, 3),
            (2, 2, 0, 70, 4),
            (0, 0, 1, 58, 5),
            (40, 0, 0, 33, 6),
            (0, 0, 0, 62, 8),
        )
    ]
    for n in range(1, len(rows) + 1):
        days = by_day(map(_total, rows[:n]))
        yield (
            f"{is_clean(rows[n - 1])} {told(days[-1])} {told(off_book(days, rows[n - 1]))} "
            f"{told(timing_of(rows[:n], 60.0))} {told(timing_of(rows[:n], None))}"
        )
    days = by_day(map(_total, rows))
    for width in (40, 60, 78, 120):
        yield from text_chart(days, width).split("\n")
    stretches = [
        StretchHistory(
            n, 0, 4, "He lit the wick and sat beside the glass " * n, 2, 0.05 * n * n, 0.9, (), str(n), "line"
        )
        for n in range(1, 5)
    ]
    for width in (20, 46):
        yield from text_stretches(stretches, width).split("\n")
    yield from accuracy_svg("The <lamp>", days).split("\n")
    yield from lines_svg("The lamp", stretches).split("\n")


def _version(text: str = LAMP) -> Version:
    script, words, units = script_of(text)
    return Version("v", "p", 1, NOON, script, words, tuple(range(len(words))), units)


def sitting(kinds: tuple[Kind, ...], learnt_: int, wrong: int) -> Iterator[str]:
    """A sitting of five minutes in which every `wrong`-th answer is wrong, question by question."""
    version = _version()
    clock = [0.0]
    memories = {
        u.key: replace(learnt(u.key, 9, 1, 3.0 + u.key), help=u.key % 4) for u in version.units[:learnt_]
    }
    one = Sitting(
        version,
        memories,
        [u.key for u in version.units],
        [Lookalike(0, 1, 80.0)] if learnt_ else [],
        300,
        lambda: clock[0],
        Random(3),
        frozenset(kinds),
    )
    yield told(one.lacking())
    for n in range(60):
        asked = one.ask()
        if asked is None:
            break
        words = version.words[asked.first : asked.last + 1]
        given = " ".join(w.text for w in words)
        if n % wrong == 1:
            given = " ".join(given.split()[: len(words) // 2])
        judged = None if n % (3 * wrong) == 2 else judge(words, given)
        earned = one.take(asked, judged)
        yield f"{clock[0]:g} {told(asked)} -> {earned} help {one.help} closing {one.closing}"
        clock[0] += 17.0
    yield told(weakest_first(version.units, memories, NOON))


def asked_for() -> Iterator[str]:
    """What is shown of words, how a passage is printed, which thoughts are alike, prompts while typing."""
    for help_ in range(-1, 5):
        yield veiled(["They", "lit", "a", "lamp"], help_)
    version = _version(
        "(Softly.) The lamp -- my own -- was lit; and to-morrow [He sits.] it shall be "
        "lit.\nThe lamp was lit, and mine.\nThe lamp was lit and ours.\n"
    )
    count = len(version.words)
    for first, last in product(range(0, count, 3), range(2, count, 4)):
        if first <= last:
            yield (
                f"{first}-{last}: {as_written(version.script, version.words, first, last)} "
                f"{between_words(version.script, version.words, first, last)}"
            )
    yield told(lookalikes(version.units, version.words))
    answer = Answering(version.script, version.words, 2, 9)
    for typed in ("lamp", "", "?", "?", "my", "own was", "?", "lit and", "?", "?", "?", "?"):
        if typed == "?":
            answer, prompt = answer.prompt()
            yield f"prompt {prompt!r}"
        else:
            answer = answer.add(typed)
        yield f"{answer.shown!r} {answer.prompted} {told(answer.judged())}"


SOUND = SoundReport(60.0, 60.0, -20.0, -3.0, 0.0, -60.0, 40.0, 8000.0, 0.2, 1, (1.0,), (), 0.0, None, False)
FACTS = RecordingFacts(
    Path("take.mp4"),
    "mp4",
    40.0,
    60.0,
    Loudness(-20.0, -3.0, -3.1, 0.0, 60.0),
    SOUND,
    Picture(1920, 1080, 25.0, "h264", 60.0, 0.45, still=False),
)
ASKED = brief_of(
    'name = "Saltmarrow Players"\ndeadline = 2026-12-14T17:00:00\nshortest = "0:50"\nlongest = "1:30"\n'
    'slate = true\nkinds = ["mp4", "mov"]\nmegabytes = 100\npicture = "landscape"\nlines = 1080\n'
    "frames = 25\nlufs = [-24, -14]\n",
    ZoneInfo("Europe/London"),
)


def checked() -> Iterator[str]:
    """Every point of a take, each measured at its limit, below it and above it."""
    film = FACTS.picture
    assert film is not None
    changes: list[RecordingFacts] = [FACTS]
    changes += [replace(FACTS, megabytes=m) for m in (99.9, 100.0, 100.1)]
    changes += [replace(FACTS, seconds=s) for s in (49.4, 49.5, 49.9, 50.0, 90.0, 90.4, 90.5, 90.6, 91.0)]
    changes += [
        replace(FACTS, loudness=Loudness(i, p, p, 0.0, 60.0))
        for i, p in ((-24.0, -1.0), (-24.1, -0.9), (-14.0, 0.0), (-13.9, 0.1), (-float("inf"), -100.0))
    ]
    changes += [
        replace(FACTS, picture=replace(film, **c))
        for c in (
            {"width": 1080, "height": 1920},
            {"height": 1079, "width": 1900},
            {"frames_a_second": 24.0},
            {"frames_a_second": 24.5},
            {"frames_a_second": 30.0},
            {"brightness": 0.11},
            {"brightness": 0.12},
            {"still": True},
            {"width": 1080},
        )
    ]
    changes += [replace(FACTS, picture=None), replace(FACTS, kind="avi")]
    for facts in changes:
        shown = "; ".join(
            f"{c.what}: {c.met} {c.wanted} {c.found} {c.do}"
            for c in checks_of(facts, ASKED, 80.0)
            if not c.met
        )
        yield f"{facts.megabytes} {facts.seconds} {told(facts.loudness)} {told(facts.picture)}: {shown}"
    for words, missed, prompts, slate, first, last in (
        (100, 2, 0, True, 2.9, 56.1),
        (100, 3, 0, True, 3.1, 55.9),
        (100, 0, 1, False, None, None),
        (100, 0, 0, True, 0.1, 59.9),
        (1, 0, 0, True, 3.0, 56.0),
    ):
        spoken = HeardTake(words, 1 - missed / words, 1 - missed / words, missed, prompts, slate, first, last)
        yield "; ".join(f"{c.what}: {c.met} {c.found} {c.do}" for c in checks_of(FACTS, ASKED, None, spoken))
    takes = [
        TakeStanding(1, 0, 2, 0),
        TakeStanding(2, 0, 2, 0),
        TakeStanding(3, 1, 0, 0),
        TakeStanding(4, 0, None, None),
        TakeStanding(5, 0, 1, 1),
    ]
    yield told([best_take(takes[a:b]) for a in range(5) for b in range(a, 6)])


def briefs() -> Iterator[str]:
    """Briefs as they are read and shown, and the message for each wrong line."""
    good = 'name = "Players"\ndeadline = 2026-12-14\n'
    lines = (
        'longest = "1:30"',
        "longest = 90",
        'longest = "90 s"',
        'longest = "0:00"',
        "longest = -3",
        "longest = 36001",
        'longest = "10:00:01"',
        "megabytes = 0",
        "megabytes = 0.5",
        "lufs = [-14, -24]",
        "lufs = [-24]",
        "lufs = [-80, 3]",
        "lines = 1080.5",
        "lines = 0",
        "lines = 100000",
        "frames = 1000",
        "slate = 1",
        'picture = "Landscape"',
        'picture = "square"',
        'picture = "none"\nlines = 3',
        "kinds = []",
        'kinds = "mp4"',
        'kinds = [".MP4"]',
        'file_name = "a/b"',
        'file_name = "{name}"',
        "logest = 3",
        'shortest = "2:00"\nlongest = "1:00"',
        "name = 3",
        'pieces = ["a", "a"]',
        "x",
    )
    for line in ("", *lines):
        try:
            yield f"{line!r}: {points_of(brief_of(good + line, ZoneInfo('Asia/Kathmandu')))}"
        except BriefError as error:
            yield f"{line!r}: {error.what} / {error.do}"
    for deadline, now in product(
        (NOON, NOON + timedelta(hours=1), NOON + timedelta(days=1), NOON + timedelta(days=2)),
        (
            NOON,
            NOON - timedelta(minutes=1),
            NOON + timedelta(minutes=59, seconds=31),
            NOON - timedelta(days=30),
        ),
    ):
        yield f"{deadline - now}: {until(deadline, now)}"


def pencilled() -> Iterator[str]:
    """Rows of a pencil file as they are read beside a speech, and rows that are added to it."""
    words = said(SPEECH)
    for text in (
        "every boat ||| But one was\n    the first fear\n",
        "came in + And still\nwas late | and none\nher name || I held\n",
        "boat || But\n",
        "late || and nobody would\n",
        "a line of no speech || at all\n",
        "the [RAIL]\n",
        "[coun-TED]\n",
        "I held the [ra-il], and\n",
        "metre: blank verse\n",
        "metre: nonsense\n",
        "# a remark\n\n  why\n",
        "||| The lamp\n",
        "calm |||\n",
        "boat || But one |||| was\n",
        "the || \n",
    ):
        try:
            yield f"{text!r}: {told(read_pencil(text, words))}"
        except PencilError as error:
            yield f"{text!r}: {error.what} / {error.do}"
    text = "every boat ||| But one was\n    the first fear\n"
    marks: tuple[tuple[int, Literal[0, 1, 2, 3]], ...] = (
        (9, 2),
        (16, 3),
        (17, 0),
        (1, 1),
        (len(words) - 1, 2),
    )
    for word, grade in marks:
        text = with_mark(text, words, word, grade, "why not" if grade > 1 else "")
        yield repr(text)
    for word, mark in ((3, "lit"), (12, "FA-ther"), (12, "fa-THER"), (12, None)):
        yield repr(with_stress(text, words, word, mark))


def rehearsed(said_: tuple[str, ...], patience: float) -> Iterator[str]:
    """A scene with the partner: what the performer does, and everything that the partner does, and when."""
    stage = Stage(rehearsal_of(parse_script(SCENE, part="MAB")))
    for each in said_:
        if each.startswith("/"):
            stage.quiet(float(each[1:]))
        elif each == "...":
            stage.noise(patience)
        elif each == "wait":
            stage.wait()
        else:
            stage.say(each)
    for at, act in stage.done:
        yield f"{at:.1f} {told(act)}"
    yield told(stage.rehearsal.prompts)
    yield told(stage.rehearsal.pick_ups)
    yield f"{stage.rehearsal.place} {stage.now:.1f}"


SCENES = {
    "a scene said to its end": (
        "wait",
        "/0.6",
        "i did because the goats were still outside",
        "/1",
        "wait",
        "/0.9",
        "the wind rang that i only held the rope",
        "/1",
        "wait",
        "/2",
    ),
    "a scene with long silences": (
        "wait",
        "/9",
        "i did because",
        "/7",
        "the goats were still outside",
        "/3",
        "wait",
        "/12",
    ),
    "a scene with wrong words and noise": (
        "wait",
        "...",
        "i did the ghosts were outside",
        "...",
        "/4",
        "wait",
        "the wind",
        "...",
        "/6",
        "line",
        "/5",
    ),
}


def sound_lines() -> Iterator[str]:
    """What is said about the sound of a recording, with each figure at its limit and beside it."""
    for snr, clipped, bandwidth, decay, loudness in product(
        (5.9, 6.0, 9.9, 10.0, 14.9, 15.0, 20.1),
        (0.0, 0.0011, 0.011),
        (2000.0, 8000.0),
        (None, 0.31),
        (-50.0, -20.0),
    ):
        yield (
            f"{snr} {clipped} {bandwidth} {decay} {loudness}: "
            f"{quality_line(loudness, snr, clipped, bandwidth, decay)}"
        )
    for seconds, claimed, unfinished in product(
        (0.5, 10.0, 59.0), (None, 10.0, 10.9, 11.1, 60.0, 61.9), (False, True)
    ):
        yield f"{seconds} {claimed} {unfinished}: {cut_off_line(seconds, claimed, unfinished)}"
    yield told([invalid_samples_line(n) for n in (0, 1, 2, 1600, 16000, 160000)])


PARTS: dict[str, Rows] = {
    "plans": planned,
    "a calendar for two briefs": two_briefs,
    "the day's work": scheduled,
    "forecasts": foretold,
    "run-throughs gone by": gone_by,
    "a first sitting": partial(sitting, (), 0, 4),
    "a sitting with half of it known": partial(sitting, (), 2, 3),
    "a sitting with all of it known": partial(sitting, (), 9, 5),
    "a sitting of joins": partial(sitting, ("join",), 9, 3),
    "a sitting of what sounds alike": partial(sitting, ("tell-apart", "drop-in"), 9, 3),
    "what is shown and prompted": asked_for,
    "takes at their bounds": checked,
    "briefs": briefs,
    "a pencil file": pencilled,
    "what is told of the sound": sound_lines,
    **{title: partial(rehearsed, said_, 1.5) for title, said_ in SCENES.items()},
}
