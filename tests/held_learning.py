"""Held values of learning: sittings, prompts, answers, what run-throughs say, forecasts, plans.

The examples of `held_days` were chosen by hand; here performers answer, forget and plan in random order, so
that the rules meet each other. The random numbers have a seed.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from functools import partial
from itertools import product
from zoneinfo import ZoneInfo

from offbook.drill import (
    KINDS,
    Answering,
    Exercise,
    JudgedAnswer,
    Sitting,
    before_a_prompt,
    compared,
    judge,
    lookalikes,
    remembered_after,
    side_by_side,
    units_of,
)
from offbook.drill.alike import one_word_spelled_twice, said_alike
from offbook.drill.judging import passes, tokens
from offbook.drill.sitting import Kind as Exercises
from offbook.drill.sitting import help_after, weakest_first
from offbook.plan import Allowance, BriefNeed, Deadline, PieceNeed, RecordingNeed, as_icalendar, calendar
from offbook.plan.days import roles_of
from offbook.progress import detail_of, forecast_for, often_wrong, recall_in, standing_from
from offbook.progress.history import timing_of
from offbook.progress.overview import Kept, habit, pasts
from offbook.records import DayTotal, Piece, RunRow, VerdictLetters, Version
from offbook.schedule import Item
from offbook.script import parse_script
from offbook.thoughts import shifts_of
from offbook.words import words_of
from tests.held import Rows, figures, told
from tests.journals import script_of
from tests.test_plan import TODAY, items
from tests.test_schedule import learnt

NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)
SPEECH = (
    "To-morrow the well-known lamp-lighter goes up.\n"
    "He goes up, and nobody asks him why, or how he gets down.\n"
    "He goes up and nobody asks him when!\nNo. It's 1603, and the café's shut – isn't it?\n"
    "I carried it, my friends, on both my shoulders, and every night the stairs were one stair more.\n"
    "And so.\n"
)
SCENE = (
    "ROSE: Who left it?\n\nTOM: I did, for the goats were out.\n\n"
    "ROSE: Was it you?\n\nTOM: The wind rang it; I held on.\n"
)


def _version(text: str, part: str | None = None) -> Version:
    script, words, units = script_of(text)
    if part is not None:
        script = parse_script(text, title="The lamp", part=part)
        words = words_of(script)
        units = units_of(script, words, shifts_of(script, words))
    return Version("v", "p", 1, NOON, script, words, tuple(range(len(words))), units)


def _answer(version: Version, asked: Exercise, dice: random.Random) -> JudgedAnswer | None:
    """A performer's answer: right, wrong in a word or two, half of it, prompted, or none."""
    words = version.words[asked.first : asked.last + 1]
    given = [w.text for w in words]
    match dice.choice(("right", "right", "right", "wrong", "half", "prompted", "none")):
        case "none":
            return None
        case "wrong":
            for _ in range(dice.choice((1, 2))):
                given[dice.randrange(len(given))] = dice.choice(("kettle", "the", "goes", ""))
        case "half":
            given = given[: len(given) // 2]
        case "prompted":
            answer = Answering(version.script, version.words, asked.first, asked.last)
            return answer.add(" ".join(given[:-1])).prompt()[0].judged()
    return judge(words, " ".join(given))


def sat(seed: int) -> Iterator[str]:
    """A sitting of a few minutes, question by question, with answers of every kind."""
    dice = random.Random(f"sat {seed}")
    version = _version(SCENE, "TOM") if seed % 3 == 2 else _version(SPEECH)
    keys = [u.key for u in version.units]
    memories = {
        k: replace(learnt(k, 9, 1, dice.choice((0.5, 3.0, 3.0, 20.0))), help=dice.randrange(4))
        for k in keys
        if dice.random() < (0.0, 0.5, 1.0)[seed % 3]
    }
    kinds: list[Exercises] = dice.sample(list(KINDS), dice.choice((1, 2))) if dice.random() < 0.4 else []
    pairs = lookalikes(version.units, version.words)
    clock = [0.0]
    wanted = sorted(dice.sample(keys, dice.randrange(1, len(keys) + 1)))
    one = Sitting(
        version, memories, wanted, pairs, 240.0, lambda: clock[0], random.Random(seed), frozenset(kinds)
    )
    yield f"{sorted(memories)} wanted {wanted} {kinds} lacking {one.lacking()} pairs {told(pairs)}"
    for _ in range(40):
        asked = one.ask()
        if asked is None:
            break
        judged = _answer(version, asked, dice)
        earned = one.take(asked, judged)
        yield (
            f"{clock[0]:g} {asked.kind} {asked.key} {asked.first}-{asked.last} {asked.shown!r} {asked.help} "
            f"{asked.hint!r} {asked.speaker or ''}{' first look' * asked.first_look} -> {earned} "
            f"help {one.help} closing {one.closing}"
        )
        clock[0] += dice.choice((5.0, 8.0, 30.0))
    yield told(weakest_first(version.units, memories, NOON))


def prompts() -> Iterator[str]:
    """Answers with prompts in them: what is prompted, shown for the record, and judged."""
    version = _version(SPEECH)
    for seed in range(25):
        dice = random.Random(f"prompts {seed}")
        first = dice.randrange(len(version.words) - 12)
        answer, at, rows = (
            Answering(version.script, version.words, first, first + dice.choice((0, 3, 8, 11))),
            first,
            [],
        )
        for _ in range(6):
            if dice.random() < 0.5:
                answer, prompt = answer.prompt()
                rows.append(f"? {prompt!r}")
            else:
                at = max(0, at + dice.choice((-1, 0, 0, 1)))
                said = [w.text for w in version.words[at : at + dice.choice((1, 2, 4))]]
                at += len(said)
                answer = answer.add(
                    " ".join(said) if dice.random() < 0.8 else dice.choice(("", "  ", "kettle", "1603"))
                )
        judged = answer.judged()
        prompted = f"{answer.prompted} {answer.fresh:d}"
        yield f"{answer.first}-{answer.last} {'; '.join(rows)}: {answer.shown!r} {prompted}"
        columns = [(c.script, c.given, c.sign) for c in compared(judged)]
        yield f"  {told(columns)} {judged.right} {judged.words} {judged.added}"
        yield f"  {judged.clean:d} {judged.prompted(first, first + 2):d} {judged.within(first, first + 2)}"
    for typed, word in product(
        ("line", " LINE ", "line?", "the line ?", "the ?", "?", "why?", "the\n?", "the?", "linen"),
        ("", "Line", "lamp"),
    ):
        yield f"{typed!r} {word}: {before_a_prompt(typed, word)!r}"


PAIRS = """
o'er over|e'er ever|th' the|th' thee|ha' have|'em them|'scape escape|charm'd charmed|dimm'd dimmed
deceiv'd deceived|try'd tried|stay'd stayed|we'd wed|I'll ill|ill I'll|its it's|it's its|their there
your you're|tho' though|pow'r power|heav'n heaven|flow'ry flowery|mak'st makest|can't cant|cant can't
freind friend|friend freind|the teh|the hte|the then|and nad|cat act|of fo|is si|lamp lmap|lamp lam
lamp lampp|lamp lamps|lamp damp|harbour harbuor|harbour harbor|harbour habrour|harbour hrabuor
lantern lnatren|lantern latrn|lantern lanter|lanterns lantrens|window widnow|window windwo|form from
from form|trail trial|café cafe|naïve naive|1603 1604|twenty-one 21|colour color|grey gray|& and|and &
Mr mister|don't dont|dont don't|won't wont|shan't shant|John's Johns|calm clam|said siad|said sad
great graet|lightning lightening|receive recieve|thier their|their thier|silent listen
""".strip().replace("\n", "|").split("|")  # fmt: skip
COLUMNS = (
    ("The well-known lamp was lit, and nobody came.", "the lamp was very litt and no body came now"),
    ("So", "so so"),
    ("So", ""),
    ("one two three four five six seven eight nine ten eleven twelve thirteen", "one ten"),
)


def judged_words() -> Iterator[str]:
    """Whether one typed word passes for another; answers beside the script, in rows of several widths."""
    for pair in PAIRS:
        a, b = pair.split()
        twice = one_word_spelled_twice(a, b), one_word_spelled_twice(b, a), said_alike(a, b)
        yield f"{pair}: {passes(a, b)} {twice}"
    for script, given in COLUMNS:
        judged = judge(words_of(parse_script(script)), given)
        for width in (20, 40, 78):
            yield from side_by_side(judged, width).split("\n")
    yield told(tokens("It's £5.50, 3rd, 12% & ’tis o'er—well-known “naïve” a_b 1,000:30 café's"))
    words = words_of(parse_script(SPEECH))
    for first, given in product(
        (0, 8, 14),
        ("goes up he goes up", "nobody asks him why", "up", "kettle", "why or how he gets down he"),
    ):
        judged = judge(words[first : first + 6], given, words[:first], words[first + 6 :])
        yield f"{first} {given}: " + " ".join(f"{p.kind}:{p.word}:{p.given}" for p in judged.places)


def helped() -> Iterator[str]:
    """The help that is shown next, and the memory after an answer, by rating, help and result."""
    for help_, rating, shown, right in product(range(4), (0, 1, 2, 3, 4), (2, 3), (True, False)):
        asked = Exercise("join", 1, 0, 3, "", shown, "")
        before = replace(learnt(1, 9, 1), help=help_)
        after = remembered_after(before, "p", 1, rating, asked, NOON, right)
        new = remembered_after(None, "p", 1, rating, asked, NOON, right)
        then = help_after(help_, rating, asked, right)
        yield f"{help_} {rating} {shown} {right}: {then} {told(after)} {told(new)}"


# Progress ------------------------------------------------------------------------------------------


def _run(dice: random.Random, n: int, words: int, letters: str) -> RunRow:
    at = NOON + timedelta(days=n // 2, hours=n % 2)
    said, unsure, changed, dropped = (letters.count(c) for c in "sucd")
    seconds, prompts_ = dice.choice((0.0, 25.0, 30.0, 31.0)), dice.choice((0, 0, 1))
    counts = (words, said, unsure, changed, dropped, 0, prompts_)
    return RunRow(str(n), "p", "v", None, at, at.date(), "UTC", None, seconds, 20.0, *counts)


def _kept(seed: int) -> tuple[Version, Kept, dict[str, tuple[int, ...]]]:
    """What a journal keeps of some run-throughs, the earliest of them of another draft."""
    dice = random.Random(f"kept {seed}")
    version = _version(SPEECH)
    size = len(version.words)
    old = tuple(k + 1 if k > 8 else k for k in range(size))  # the draft before had one word less at 8
    rows, verdicts, rated = [], [], []
    heard = ("kettle", "lamp", "…", None)
    for n in range(dice.choice((0, 1, 2, 4, 6))):
        letters = "".join(dice.choice("ssssssssu" + "cd" * (k % 7 == 0)) for k in range(size))
        said = {k: dice.choice(heard) for k, c in enumerate(letters) if c == "c"}
        row = replace(_run(dice, n, size, letters), version_id="old" if n == 0 else "v")
        rows.append(row)
        verdicts.append(VerdictLetters(row.id, row.version_id, row.at, letters, said))
        ratings = "".join(dice.choice("0123") for _ in version.units)
        recalls = "".join(dice.choice(("--", "00", "07", "99", "50")) for _ in version.units)
        rated.append((row, ratings, recalls))
    totals = [
        DayTotal(r.day, 1, r.words, r.said, r.unsure, r.prompts, r.seconds, n % 2) for n, r in enumerate(rows)
    ]
    memories = [
        None if dice.random() < 0.4 else learnt(u.key, dice.randrange(9), 3, dice.choice((1.0, 9.0)))
        for u in version.units
    ]
    due = NOON.date() + timedelta(days=dice.choice((0, 1, 2, 3, 9)))
    pool = [Item("p", u, m, due, "UTC", 20.0) for u, m in zip(version.units, memories, strict=True)]
    practised = frozenset(NOON.date() - timedelta(days=k) for k in range(20) if dice.random() < 0.5)
    kept = Kept(tuple(totals), rated, verdicts, {"v": version.units, "old": version.units}, pool, practised)
    return version, kept, {"v": version.slots, "old": old}


def _piece(added_days_ago: int, due: date | None) -> Piece:
    return Piece(
        "p",
        "m",
        "Mara",
        "Asia/Kathmandu",
        "The lamp",
        None,
        30.0,
        due,
        False,
        NOON - timedelta(days=added_days_ago),
    )


def stood(seeds: range) -> Iterator[str]:
    """How well a piece is known after some run-throughs: days, timing, lines, thoughts, forecast."""
    for seed in seeds:
        version, kept, slots = _kept(seed)
        last = kept.rated[-1][0].day if kept.rated else NOON.date()
        due = kept.items[0].date
        found = standing_from(_piece(seed, due), last, kept)
        yield f"{seed}: {found.days_left} {told(found.off_book)} {told(found.timing)}"
        yield f"  {figures(found.seen)} {found.latest is None} {_forecast(found.forecast)}"
        yield f"  without {standing_from(_piece(3, due), last, kept, foretell=False).forecast}"
        other = forecast_for(_piece(3, due), kept, last, last + timedelta(days=5))
        empty = forecast_for(_piece(3, due), replace(kept, items=()), last, last)
        yield f"  in five days {_forecast(other)} {empty}"
        for thoughts in pasts(kept.rated, kept.verdicts, kept.units):
            each = [(t.key, t.words, t.missed, t.foretold) for t in thoughts.thoughts]
            yield f"  {told(each)} {thoughts.missed} {thoughts.clumps}"
        detail = detail_of(version, kept.verdicts, slots)
        for s in (*detail.lines, *detail.thoughts):
            shares = f"{figures(s.accuracy)} {figures(s.latest)}"
            yield f"  {s.noun} {s.number}: {s.runs} {shares} {told(s.mistakes)}"
        wrong = [s.n for s in often_wrong(detail.lines)], [s.n for s in often_wrong(detail.thoughts, 1)]
        yield f"  {told(detail.same)} {wrong}"


def _forecast(found: object) -> str:
    return told(found)[:700]


def figures_of_progress() -> Iterator[str]:
    """How often somebody practises, recalls as they are packed, and which run-throughs are timed."""
    for days_ago, every in product((0, 1, 5, 13, 14, 15, 40), (0, 1, 2, 5)):
        days = (
            frozenset(NOON.date() - timedelta(days=k * every) for k in range(30))
            if every
            else frozenset[date]()
        )
        share = habit(_piece(days_ago, None), NOON.date(), days)
        yield f"added {days_ago} days ago, every {every}: {figures(share)}"
    yield told([recall_in("--0799", n) for n in range(3)])
    for dropped, seconds in product((0, 3, 4, 5), (0.0, 29.9, 30.0, 30.1)):
        run = replace(_run(random.Random(1), 0, 40, "s" * (40 - dropped) + "d" * dropped), seconds=seconds)
        many = timing_of([run] * 6 + [replace(run, seconds=20.0)], 30.0)
        yield f"{dropped} {seconds}: {told(many)} {told(timing_of([run], None))}"


# Plans ---------------------------------------------------------------------------------------------


def planned(seed: int) -> Iterator[str]:
    """A calendar for random pieces, briefs and recordings, with any minutes and any voice."""
    dice = random.Random(f"planned {seed}")
    names = ("The lamp", "Full house", "Gulls")[: dice.choice((1, 2, 3))]

    def a_day() -> date | None:
        return dice.choice((None, None, TODAY + timedelta(days=dice.choice((-1, 0, 1, 3, 9)))))

    pieces = [
        PieceNeed(
            n,
            n,
            dice.choice((45.0, 90.0, 300.0)),
            dice.choice((0, 1, 2)),
            items(n, dice.choice((0, 3, 8, 30)), dice.choice((0, 2))),
            a_day(),
        )
        for n in names
    ]
    briefs, recordings = [], []
    for b in range(dice.choice((0, 1, 1, 2))):
        asked = tuple(dice.sample(names, dice.randrange(0, len(names) + 1))) + ("unknown",) * (
            dice.random() < 0.2
        )
        days = dice.choice((-1, 0, 1, 2, 4, 6, 7, 9, 14, 1001))
        briefs.append(
            BriefNeed(
                f"B{b}", TODAY + timedelta(days=days), asked, dice.choice((1, 3, 5)), dice.random() < 0.1
            )
        )
    for name in names:
        whose = tuple(b.name for b in sorted(briefs, key=lambda b: (b.deadline, b.name)) if name in b.pieces)
        if whose:
            recordings.append(RecordingNeed((name,), whose, dice.random() < 0.2))
    allowed = Allowance(
        dice.choice((5.0, 20.0, 60.0)),
        dice.choice((4.0, 12.0, 45.0)),
        dice.choice((0.0, 0.0, 7.5)),
        dice.choice((0.0, 0.0, 5.0)),
    )
    found = calendar(
        pieces,
        briefs,
        recordings,
        TODAY,
        allowed,
        least_days=dice.choice((1, 7)),
        most_days=dice.choice((None, None, 2)),
    )
    yield told([(p.name, p.seconds, p.clean_days, len(p.items), p.day) for p in pieces])
    yield f"  {told(briefs)} {told(allowed)}"
    for day in found.days:
        steps = "; ".join(
            f"{s.kind} “{s.what}” {','.join((*s.pieces, *s.briefs))} {figures(s.minutes)}/{figures(s.voice)}"
            for s in day.steps
        )
        sums = f"{figures(day.minutes)} {figures(day.practice)} {figures(day.voice)}"
        yield f"  +{(day.day - TODAY).days} {sums}: {steps}"
    yield f"  {told([str(s) for s in found.short])} {told(dict(found.takes_on))} {found.today.day == TODAY}"
    if seed % 5 == 0:
        zone = ZoneInfo("America/New_York")
        deadlines = [Deadline(b.name, datetime.combine(b.deadline, NOON.time(), UTC)) for b in briefs]
        yield from (
            as_icalendar(found, deadlines, "Mara", zone, NOON, "Rest.")
            .decode()
            .replace("\r\n ", "")
            .split("\r\n")
        )


def roles() -> Iterator[str]:
    """What the last days before a deadline are for, and what is given up, by days and run-throughs."""
    for days, runs in product(range(-1, 10), (1, 2)):
        found, short = roles_of(days, runs, "B")
        yield f"{days} {runs}: {' | '.join('+'.join(r) for r in found)} {'; '.join(map(str, short))}"


PARTS: dict[str, Rows] = {
    **{f"a sitting by dice, {n}": partial(sat, n) for n in range(9)},
    "answers with prompts": prompts,
    "words and answers judged": judged_words,
    "help and memory after an answer": helped,
    "how well a piece is known": partial(stood, range(12)),
    "figures of progress": figures_of_progress,
    **{f"a plan by dice, {n}": partial(planned, n) for n in range(16)},
    "what the last days are for": roles,
}
