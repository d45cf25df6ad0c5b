"""Held values of briefs: what a message asks for, what a line may say, which briefs share a recording."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta, timezone
from itertools import product
from zoneinfo import ZoneInfo

from offbook.brief import (
    Brief,
    BriefError,
    Limit,
    asked_in,
    blank_brief,
    brief_in_words,
    clashes,
    parse_brief,
    recordings_of,
    separate_files,
)
from offbook.brief.wording import as_toml, late, line, unsaid, until, with_lines, written
from tests.held import Rows, told

TODAY = date(2026, 11, 29)
ZONE = timezone(timedelta(hours=1))


def _listed(text: str) -> tuple[str, ...]:
    """The sentences of a text, which have a stroke or the end of a row between them."""
    return tuple(text.strip().replace("\n", "|").split("|"))


# Sentences of messages: lengths, with the words before and after them and in other parts of the sentence.
LENGTHS = _listed("""
No more than 2 minutes.|It must not exceed 2 minutes.|It should not be longer than 90 seconds.
Keep it to 2 minutes.|Not exceeding two minutes.|The maximum is 2 minutes.|Max: 2 mins.
Maximum length of 2 mins.|Limit: 90 secs.|Limited to 3 minutes.|The limit is 3 minutes.
Keep each speech well under 2 minutes.|Within 2 minutes.|At most a minute.|Under an hour.
Less than 100 seconds.|2 minutes limit.|2 minutes tops.|2 minutes (max).|2 minutes or less.
90 seconds or shorter.|2 minutes at the most.|2 minutes at most.|2 minutes or under.|At least 45 seconds.
No shorter than a minute.|No less than 45 seconds.|Minimum 45 seconds.|Min. 45 seconds.|45 seconds or more.
45 seconds or longer.|45 seconds at least.|45 seconds minimum.|45 seconds (min).
Not more than 2 minutes and 30 seconds.|No more than 2 minutes 5 secs.|No more than 1.5 minutes.
Up to 1,5 minutes.|Up to 2-minute pieces.|Up to ten minutes and a half.|Up to one and a half minutes.
Up to two minutes and a half.|Up to two and a half minutes.|Up to 1:30 each.|Up to 10:05.|Up to 1:60.
Between 1:00 and 2:00.|Between 2 and 3 minutes.|Between 3 and 2 minutes.|Between 2 and 2 minutes.
From 30 to 60 seconds.|Lasting one and two minutes.|Pieces of 30 to 45 seconds.
We saw one and two minutes of it.|It runs 60 - 90 secs.|It runs 60–90 seconds long.
Between one and two minutes in total.|In all between 2 and 4 minutes, each up to 90 seconds.
Up to three minutes all together.|Overall no more than 4 minutes.|At least 2 minutes in all.
Combined, up to 4 minutes.|Each piece up to 2 minutes in total.|Up to 4 minutes, together.
Up to 2 minutes and 4 minutes at most in total.
No more than two minutes each (four minutes at most in total).
A total of up to 4 minutes with up to 2 minutes each.
Up to 2 minutes per speech; the whole tape up to 4 minutes.|Up to 2 minutes but at most 5 minutes combined.
Up to a minute and a half.|Up to two minutes and a half each.|A minute and a half at most.
Each piece up to 90 seconds and a half.
""")
# Filming, the slate, the file.
FILMING = _listed("""
One take, please.|One continuous take.|A single take.|A single shot recording.|In one take.
In a single shot.|No edits.|Without cuts.|It must not be edited.|It should be uncut.|Unedited, please.
Don't edit it.|Don’t edit it.|No editing.|Edits are allowed.|Editing is permitted.|Cuts are fine.
Cuts are not fine.|It may be edited.|You can use cuts.|You can edit.|Never say that cuts are welcome.
Cuts allowed.|Editing is okay.|No cuts are allowed.|One take is best but cuts are fine.|Slate first.
No slate.|Never slate.|A slate is not needed.|A slate isn't necessary.
A slate isn’t required on the day of it.|A slate on the very day is not required.|Without an introduction.
Do not, under any circumstances whatever, slate.|Do not under any circumstances ever slate.
Do not ever slate.|Please do not stop, slate first.|Introduce yourself.|Give your full name.
Do not introduce yourself.|Film in landscape.|Film horizontally.|Film vertically.|Record in portrait mode.
Do not film in portrait.|Landscape is lovely.|A landscape photo of your phone.
Film it in portrait and not landscape.|Film it in landscape or portrait.
Film landscape or portrait, we do not mind.|Landscape, not vertical.|Portrait, not a landscape.
Vertical not landscape.|Audio only.|Sound alone.|Only audio, please.|Voice only.|No video.
Audio-only, in landscape.|Film in portrait, audio only.|Send an mp4.|Send an MP4, an .mov or an mp4.
No avi files.|We do not accept wav or mp3.|Send lamp.mp4 at once.|An m4a is fine.|Up to 200MB.
No more than 1.5 GB.|At most 20 megabytes.|Less than 3 gigabytes.|200 mb and 300 MB.|In 720p.
4320p is too much.
""")
# How many pieces, when they confirm, when it is due.
COUNTS = _listed("""
Two monologues.|Send 3 short modern poems.|A total of two speeches.|Two speeches in total.|Ten pieces.
9 extracts.|11 poems.|Two long, dark speeches.|One speech.|Two very long dark old speeches.
Up to 2 minutes per speech.|Up to 30 seconds per short piece.|Two one-minute monologues.|An old speech.
We confirm within 1 day.|We confirm within five working days.|We confirm within 6 working days.
Within two weeks we confirm.|We confirm it within two weeks.|We confirm within 10 business days.
We confirm in a week.|We acknowledge it after 11 working days.
If you have heard back from us within 4 days, good.|You will hear from us in 2 working weeks.
Due 14 December.|Due 14th of Dec.|By Dec. 14th.|By 14 December, 2027.|By December 14, 2027.|Due 2027-02-29.
Due 2026-12-14.|Due 29 November.|Due 28 November.|Due 29 Feb.|Due 26 September.|Due 25 September.
Due 24 September.|Due 1 Jan.|Due 31 June.|Due 31 April 2027.|Closing 3 May and 4 May.
Closes on 3 May at noon.|Closes on 3 May at midday.|Closes on 3 May at midnight.|On 3 May at noon.
Until 3 May, 5pm.|Until 3 May, 5.30 p.m.|Until 3 May at 12 am.|Until 3 May at 12 pm.
Until 3 May at 1:05 a.m.|Latest: 3 May, 23:59.|Before 3 May at 0:00.|Before 3 May, 24:00.
Before 3 May at 13 pm.|Before 3 May at 0 am.|Due 3 May between 5 pm and 6 pm.|Not later than 3 May, 09.45.
No later than 12.30 on 3 May 2027.|Deadline: Sun 3 May.|Deadline 3/5/2027.|Due on 3 Mai.
""")
LETTERS = (
    "We ask for\ntwo poems.\r\nEach may last\nat most two minutes.",
    "Please send:\n- an mp4\n- up to 20 MB\n* slated\n• in 720p\n1. in landscape, filmed\n2) two poems",
    "Up to 2 minutes! Slate? “No cuts.” \"In one take\" (Film in portrait.) Due 3 May; Send an mp4.",
    "An mp4 is fine. A mov is fine. An mp4 again.",
    "Up to 20 MB. Up to 30 MB. Slate first. Do not slate.",
    "The piece must last no more than two minutes " + "and be a good one " * 8 + "so choose well.",
    "The piece must last no more than two minutes \x07" + "x" * 116,
    "The piece must last no more than two minutes " + "x" * 115,
    "The piece must last no more than two minutes " + "x" * 116,
    "",
)  # fmt: skip


def messages(sentences: tuple[str, ...]) -> Iterator[str]:
    """What each sentence asks for."""
    for sentence in sentences:
        found = asked_in(sentence, TODAY, ZONE)
        yield f"{sentence!r}: {'; '.join(f'{a.key} {told(a.value)}' for a in found) or '-'}"


def letters() -> Iterator[str]:
    """Messages of several sentences: each point with the words that are quoted for it."""
    for text in LETTERS:
        yield f"{text[:60]!r}: {told(asked_in(text, TODAY, UTC))}"


GOOD = 'name = "Players"\ndeadline = 2026-12-14T17:00:00\npieces = ["a", "B"]\n'
# Values of each line, with strokes between them: <200> is a name of so many letters, <400> so many zeros.
VALUES = r"""
name = "" | "  " | "a" | " a  b " | "a\u0007" | "<200>" | "<201>" | 1
deadline = "" | "soon" | 2026-12-14 | 1999-12-31 | 2000-01-01 | 2999-12-31 | 3000-01-01
deadline = 2026-12-14T17:00:00Z | 2026-12-14T17:00:00+05:45 | 17:00:00 | 20261214
shortest = 0 | 0.1 | 86399 | 86400 | "x" | true | 1<400>
megabytes = 0.09 | 0.1 | 1000000 | 1000001 | true | "9" | 1<309>
lines = 0 | 1 | 1.5 | 2.0 | 10000 | 10001
frames = 0.9 | 1 | 29.97 | 1000 | 1000.5
takes = 0 | 1 | 100 | 101
how_many = 0 | 1 | 100 | 101
confirm_days = -1 | 0 | 1 | 365 | 366
lufs = [-70, 0] | [-71, 0] | [-70, 1] | [-14, -14] | [-13, -14] | [-14] | [-14, -13, 0] | "x" | ["x", 1]
pieces = [] | "a" | ["a", "A"] | ["a", ""] | [1] | 1 | ["a  b "]
set_list = ["a"] | ["A"] | ["c"] | ["a", "a"]
free = ["b"] | ["c"]
limits = {} | { a = "1:00" } | { a = ["0:30", "1:00"] } | { a = ["1:00", "1:00"] }
limits = { a = ["1:01", "1:00"] } | { a = "1:00", A = "1:00" } | { "" = "1:00" } | { c = "1:00" }
limits = { a = [1, 2, 3] } | "1:00" | { a = 0 }
kinds = "mp4" | [".MP4", "mov"] | ["."] | [""] | [1]
picture = "either" | "none" | "LANDSCAPE" | 1
file_name = "{piece}{take}{brief}{performer}{number}" | "{x}" | "}" | "{" | ".a" | "a/b" | "a\\b" | "a:b"
file_name = "a*" | "a?" | "" | "a" | "<200>" | "<201>" | 1 | 'a"b' | "a<b" | "a>b" | "a|b" | "a.b"
send_to = "us  at home" | "a" | "<200>" | "" | "<201>" | 1
by_eye = "Plain wall" | ["a", "b"] | [] | {}
slate = true | false | "yes"
unbroken = true | false | 0
together = "2:00" | 0
longest = "0:30"
""".strip().split("\n")
TOGETHER = (
    'shortest = "0:31"\nlongest = "0:30"',
    'shortest = "0:30"\nlongest = "0:30"',
    'shortest = "0:30"',
    'picture = "none"\nframes = 25',
    'picture = "none"\nlines = 720',
    'picture = "either"\nlines = 720',
    'set_list = ["a"]\nfree = ["A"]',
    'set_list = ["a"]\nfree = ["b"]',
    "longst = 1",
    "zzz = 1",
    '"" = 1',
    "longest = 2:00",
    "longest",
    "= 3",
    "x = 1\nlongest = soon",
    "takes = " + "9" * 5000,
    "takes = " + "[" * 3000,
    f"{'x' * 201} = 1",
    '"a\\u0007" = 1',
    'LONGEST = "1:00"',
)


def _tried(text: str) -> str:
    try:
        brief = parse_brief(text, ZoneInfo("Asia/Kathmandu"), "it")
    except BriefError as error:
        return f"refused: {error.what[:150]} / {error.do[:150]}"
    return told([(k, v) for k, v in brief_in_words(brief) if k != "pieces" or v != "a, B"])[:300]


def _long(value: str) -> str:
    """A value with so many letters, or after a figure so many zeros, in place of <200>."""
    return re.sub("(1?)<([0-9]+)>", lambda m: m[1] + ("0" if m[1] else "x") * int(m[2]), value)


def lines_of_a_brief() -> Iterator[str]:
    """Every line of a brief at its limits, below them and above them, and lines that do not go together."""
    for row in VALUES:
        key, values = row.split(" = ", 1)
        base = "".join(f"{line}\n" for line in GOOD.split("\n") if not line.startswith(f"{key} "))
        for value in values.split(" | "):
            yield f"{key} = {value}: {_tried(f'{base}{key} = {_long(value)}')}"
    for lines in TOGETHER:
        yield f"{lines[:60]!r}: {_tried(GOOD + lines)}"
    yield _tried('name = "x"\n')
    yield _tried("deadline = 2026-12-14\n")


DUE = datetime(2026, 12, 14, 17, tzinfo=UTC)
ASKS: dict[str, dict[str, object]] = {
    "plain": {}, "to 60": {"longest": 60.0}, "from 60": {"shortest": 60.0}, "from 61": {"shortest": 61.0},
    "own": {"limits": (Limit("Lamp", 61.0, 62.0),), "longest": 10.0},
    "slated": {"slate": True}, "bare": {"slate": False},
    "cut": {"unbroken": False}, "whole": {"unbroken": True},
    "wide": {"picture": "landscape"}, "tall": {"picture": "portrait"}, "either": {"picture": "either"},
    "sound": {"picture": "none"}, "mp4": {"kinds": ("mp4",)}, "mov": {"kinds": ("mov", "mp4")},
    "avi": {"kinds": ("avi",)}, "soft": {"lufs": (-24.0, -16.0)}, "mid": {"lufs": (-16.0, -14.0)},
    "loud": {"lufs": (-15.9, -9.0)},
}  # fmt: skip


def shared() -> Iterator[str]:
    """Every two kinds of brief: why they need two recordings, or two files of one."""
    for (name, one), (other, two) in product(ASKS.items(), repeat=2):
        a, b = (Brief(n, DUE, ("lamp",), **asks) for n, asks in ((name, one), (other, two)))  # type: ignore[arg-type]
        found = clashes(a, b, "LAMP"), separate_files(a, b)
        if any(found):
            yield f"{name}, {other}: {told(found)}"
    briefs = [
        Brief(name, DUE - timedelta(days=k % 5), ("Lamp", "gull")[: 1 + k % 2], **asks)  # type: ignore[arg-type]
        for k, (name, asks) in enumerate(ASKS.items())
    ]
    for r in recordings_of(briefs):
        yield f"{r.piece} {r.shortest} {r.longest} {r.unbroken}: {', '.join(b.name for b in r.briefs)}"


def in_words() -> Iterator[str]:
    """Briefs as they are written to a file, changed by a line, told in words, and what they do not say."""
    full = Brief(
        "The “Players”\x7f", DUE, ("Lamp", "Gull"), 50.0, 90.5, True, ("mp4", "mov"), 200.0, "none", 720,
        23.976, (-24.0, -14.0), ("Plain wall", "Close"), 5, "{piece}", "us", 1, 150.25,
        (Limit("Lamp", None, 60.0), Limit("Gull", 30.0, 60.05)), True, 2, ("Lamp",), ("Gull",),
    )  # fmt: skip
    bare = Brief("B", DUE.replace(tzinfo=timezone(timedelta(hours=-3, minutes=-30))))
    for brief in (
        full,
        bare,
        Brief("C", DUE, ("x",), confirm_days=0, how_many=1, picture="either", longest=61.0),
    ):
        yield from written(brief).split("\n")
        yield told(brief_in_words(brief))
        yield told(unsaid(brief))
        yield written(brief, date(2026, 12, 14)).split("\n")[1]
    counted = (("a",), 0), (("a", "b"), None), ((), 1), ((), None), (("a",), 2)
    for pieces, many in counted:
        yield f"{pieces} {many}: {'how long all together' in unsaid(Brief('B', DUE, pieces, how_many=many))}"
    yield told(
        [
            as_toml(x)
            for x in (True, False, date(2026, 3, 1), DUE, 'é"\\\n', (), (1, "a"), {"a b": 1.5}, 1 / 3, 1e6)
        ]
    )
    yield told(
        [line(key, x) for key, x in (("longest", 61.2), ("longest", 61.25), ("together", 60.0), ("lines", 9))]
    )
    text = 'name = "P"\ndeadline = 2026-12-14\nlongest = "1:00"\ntakes = 3\n'
    changes: list[tuple[list[str], list[str]]] = [
        ([], []), (["takes = 4"], ["longest"]), (["longest = 9", "lines = 5"], []), ([], ["name"]),
        ([], ["tak"]), (["takes ="], []), (["deadline = 2026-12-15"], ["takes"]),
    ]  # fmt: skip
    for set_, gone in changes:
        try:
            yield repr(with_lines(text, set_, gone, UTC))
        except BriefError as error:
            yield f"refused: {error.what} / {error.do}"
    blank = blank_brief(
        "P",
        date(2026, 12, 14),
        ("a",),
        {"takes": ("takes = 4", "At most four takes."), "name": ('name = "Q"', "Q")},
    )
    yield from blank.split("\n")
    yield from blank_brief().split("\n")[:12]


def time_left() -> Iterator[str]:
    """How much time is left, and how late it is, around each limit."""
    hour = 3600
    for seconds in (
        *(0, 1, 59, 60, 61, hour - 60, hour - 1, hour, hour + 60),
        *(48 * hour - 1, 48 * hour, 71 * hour, 72 * hour),
    ):
        for sign in (1, -1):
            now = DUE - timedelta(seconds=sign * seconds)
            yield f"{sign * seconds}: {until(DUE, now)}; {late(Brief('B', DUE), now)}"


PARTS: dict[str, Rows] = {
    "lengths in messages": lambda: messages(LENGTHS),
    "filming in messages": lambda: messages(FILMING),
    "counts and days in messages": lambda: messages(COUNTS),
    "messages of several sentences": letters,
    "lines of a brief at their limits": lines_of_a_brief,
    "two briefs and one recording": shared,
    "briefs in words": in_words,
    "the time that is left": time_left,
}
