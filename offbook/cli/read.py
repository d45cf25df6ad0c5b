"""`offbook read SCRIPT`: what was taken as spoken words, what was left out and why."""

from __future__ import annotations

import os
import shutil
import sys
import textwrap
from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

import click

from offbook import script as scripts
from offbook import words
from offbook.cli.common import console, print_json, quoted
from offbook.cli.selecting import selection_options
from offbook.desk import ShownRow, excerpt_of, shown_rows
from offbook.script import Cue, LeftOut, Script, Selection, folded, said_by
from offbook.words import Word

# The margin: a line's number, "-" for what is left out, ">" for a cue. Eight columns hold any of them.
_MARGIN = 6
_SAID_SHOWN = 12
# Other readings shown with their commands, and the words by which one is named.
_READINGS_SHOWN = 5
_WORDS_QUOTED = 6
# Set by hand.
_UNSEEN = 80  # columns where nobody is looking and COLUMNS is not set
_NARROWEST = 20  # columns drawn, however narrow the window is
_SHORTEST_NAME, _BESIDE_NAME = 4, 24  # columns of a part's name at least, and of what stands beside it
_OPENING = 6  # words of a speech that name it
_UNDER = 4  # columns by which the further rows of a list are indented
_LONG_SPEECH = 60  # words of a speech that is worth taking by itself
_SPEECHES_SHOWN = 12  # of these
# Characters of what was left out that are shown: two rows of a wide screen. Set by hand.
_LONGEST_LEFT_OUT = 160
# A blank at which no line is broken.
_HELD = "\u00a0"


@click.command("read", context_settings={"help_option_names": ["-h", "--help"]})
@click.argument("path", metavar="SCRIPT")
@selection_options
@click.option("--say", metavar="TEXT", help="Take TEXT as spoken, here and in every other command.")
@click.option("--leave-out", metavar="TEXT", help="Leave TEXT out, here and in every other command.")
@click.option("--json", "json_", is_flag=True, help="Print what was read as JSON.")
def read_command(path: str, wanted: Selection, say: str | None, leave_out: str | None, json_: bool) -> None:
    """Show which words of SCRIPT are spoken and what was left out, with the reason.

    SCRIPT is a text, Markdown, Fountain, docx, odt or pdf file, or - for pasted text. The numbers in the
    margin count the spoken lines, in prose the sentences. "-" marks what is left out, "?" what is left out
    but could be spoken, ">" a cue. What you choose with --say and --leave-out is kept beside SCRIPT.
    """
    if say is not None or leave_out is not None:
        scripts.keep_choice(scripts.load_script(path), spoken=say, left_out=leave_out)
    script = excerpt_of(path, wanted)
    spoken = words.words_of(script)
    if json_:
        print_json(_as_json(script, spoken))
        return
    looked_at = sys.stdout.isatty() or "COLUMNS" in os.environ
    width = shutil.get_terminal_size().columns if looked_at else _UNSEEN
    show = console()
    show.width = max(width, _NARROWEST)
    for text, style in _view(script, spoken, max(width, _NARROWEST)):
        show.print(text, style=style, markup=False, soft_wrap=True)


def _as_json(script: Script, spoken: Sequence[Word]) -> dict[str, Any]:
    bounds = _bounds(spoken)
    return {
        "title": script.title,
        "script": script.source,
        "form": script.form,
        "part": script.part,
        "parts": [{"name": name, "lines": n, "words": size} for name, n, size in _part_sizes(script, spoken)],
        "words": [
            {
                "i": w.i,
                "text": w.text,
                "start": w.start,
                "end": w.end,
                "line": w.line,
                "sentence": w.sentence,
                "spoken": [" ".join(form) for form in w.spoken],
            }
            for w in spoken
        ],
        "lines": [
            {
                "n": line.n,
                "text": line.text,
                "start": line.start,
                "end": line.end,
                "paragraph": line.paragraph,
                "speaker": line.speaker,
                "verse": line.verse,
                "words": bounds.get(line.n),
            }
            for line in script.lines
        ],
        "left_out": [
            {"start": o.start, "end": o.end, "text": o.text, "reason": o.reason, "sure": o.sure}
            for o in script.left_out
        ],
        "perhaps": [
            {"start": o.start, "end": o.end, "text": o.text, "reason": o.reason} for o in script.perhaps
        ],
        "cues": [
            {
                "start": c.start,
                "end": c.end,
                "text": c.text,
                "speaker": c.speaker,
                "before_line": c.before_line,
            }
            for c in script.cues
        ],
    }


def _bounds(spoken: Sequence[Word]) -> dict[int, list[int]]:
    """Line number -> its first and last word."""
    found: dict[int, list[int]] = {}
    for w in spoken:
        found.setdefault(w.line, [w.i, w.i])[1] = w.i
    return found


def _part_sizes(script: Script, spoken: Sequence[Word]) -> list[tuple[str, int, int]]:
    """Each part with its number of lines and of words; with a part chosen, of that part alone."""
    if script.part is not None:
        return [(script.part, len(script.lines), len(spoken))]
    words = Counter(w.line for w in spoken)
    lines: Counter[str] = Counter()  # by speaker, as the script prints them
    said: Counter[str] = Counter()
    for line in script.lines:
        if line.speaker:
            lines[line.speaker] += 1
            said[line.speaker] += words[line.n]
    known = folded(script.parts)
    everybody = {name for name in lines if said_by(name, known) >= known}
    joint = {name: said_by(name, known) for name in lines if name not in everybody}
    sizes: dict[str, list[int]] = {part: [0, 0] for part in known}
    for name, parts in joint.items():
        for part in parts & known:
            sizes[part][0] += lines[name]
            sizes[part][1] += said[name]
    more, more_said = sum(lines[n] for n in everybody), sum(said[n] for n in everybody)
    counts = ((name, sizes[name.casefold()]) for name in script.parts)
    return [(name, size + more, spoken_words + more_said) for name, (size, spoken_words) in counts]


def _view(script: Script, spoken: Sequence[Word], width: int) -> Iterator[tuple[str, str | None]]:
    """The printed view, line by line, each with its style."""
    last = spoken[-1].sentence - spoken[0].sentence + 1 if spoken else 0
    lines = "" if script.form == "prose" else f"{_many(len(script.lines), 'line')}, "
    head = f"{script.title}: {script.form}, {lines}{_many(len(spoken), 'word')}, {_many(last, 'sentence')}"
    yield from _wrapped(head, width, 0, "bold")
    if script.part is not None:
        yield from _wrapped(f"Part: {script.part}. The other parts are cues.", width, 0, None)
        yield from _speeches_table(script, width)
    elif len(script.parts) > 1:
        yield from _parts_table(script, spoken, width)
    yield "", None
    yield from _body(script, spoken, width)
    yield "", None
    if spoken:
        yield words.counted(script), "dim"
    yield from _wrapped(_summary(script.left_out), width, 0, None)
    yield from _said_as(spoken, width)
    yield from _other_readings(script, width)


def _other_readings(script: Script, width: int) -> Iterator[tuple[str, str | None]]:
    """What could be read in two ways, each with the unbroken command that takes the other."""
    told = [("left out", "spoken", "--say", out) for out in script.doubtful]
    told += [("spoken", f"not ({out.reason})", "--leave-out", out) for out in script.perhaps]
    if not told:
        return
    yield "", None
    for taken, other, option, out in told[:_READINGS_SHOWN]:
        text = " ".join(out.text.split())
        short = " ".join(text.split()[:_WORDS_QUOTED])
        yield from _wrapped(f"“{text}” is taken as {taken}. If it is {other}:", width, 0, None)
        yield f"  offbook read {quoted(script.source)} {option} {quoted(short)}", None
    if len(told) > _READINGS_SHOWN:
        yield f"And {len(told) - _READINGS_SHOWN} more, marked ? above.", None


def _parts_table(script: Script, spoken: Sequence[Word], width: int) -> Iterator[tuple[str, str | None]]:
    sizes = _part_sizes(script, spoken)
    room = max(_SHORTEST_NAME, min(max(len(name) for name, _, _ in sizes), width - _BESIDE_NAME))
    for name, lines, size in sizes:
        shown = name if len(name) <= room else name[: room - 1] + "…"
        yield f"  {shown:<{room}}  {_many(lines, 'line')}, {_many(size, 'word')}", None
    yield from _wrapped(
        f"Choose yours with --part, for instance --part {quoted(sizes[0][0])}", width, 0, "dim"
    )


def _speeches_table(script: Script, width: int) -> Iterator[tuple[str, str | None]]:
    """The longer speeches of a part, by the number that --speech takes."""
    found = list(enumerate(scripts.speeches(script), 1))
    sizes = {n: sum(len(line.text.split()) for line in lines) for n, lines in found}
    longer = [(n, lines) for n, lines in found if sizes[n] >= _LONG_SPEECH]
    if len(found) <= 1 or not longer:
        return
    for n, lines in longer[:_SPEECHES_SHOWN]:
        opening = " ".join(lines[0].text.split()[:_OPENING])
        yield from _wrapped(f"Speech {n}, {_many(sizes[n], 'word')}: {opening} …", width, _UNDER, None, "  ")
    yield from _wrapped(
        f"Take one of them with --speech, for instance --speech {longer[0][0]}", width, 0, "dim"
    )


def _body(script: Script, spoken: Sequence[Word], width: int) -> Iterator[tuple[str, str | None]]:
    items: list[tuple[int, ShownRow | LeftOut | Cue]] = [(r.start, r) for r in shown_rows(script, spoken)]
    items += [(cue.start, cue) for cue in script.cues]
    items += [(out.start, out) for out in script.left_out if not _in_a_cue(script, out)]
    paragraph, named = 0, False
    first = min(at for at, _ in items)
    for at, item in sorted(items, key=lambda pair: pair[0]):
        if isinstance(item, ShownRow):
            if item.paragraph != paragraph and paragraph and not named:
                yield "", None
            paragraph, named = item.paragraph, False
            yield from _wrapped(item.text, width, _MARGIN, None, f"{item.number:>4}  ")
        elif isinstance(item, Cue):
            if paragraph:
                yield "", None
            paragraph = 0
            said = f"{item.speaker}: {' '.join(item.text.split())}"
            yield from _wrapped(said, width, _MARGIN, "dim", "   >  ")
        elif not (item.reason == "speaker name" and item.sure):
            yield from _left_out_row(item, width)
        elif not named and (name := _named_over_a_line(script, at)) is not None:
            if at > first:
                yield "", None
            named = True
            yield name, "bold"


def _named_over_a_line(script: Script, at: int) -> str | None:
    """Who says the next line, where a name at a place is over a line and not over a cue."""
    k = bisect_left(script.lines, at, key=lambda line: line.start)
    c = bisect_left(script.cues, at, key=lambda cue: cue.start)
    if k == len(script.lines):
        return None
    over_a_cue = c < len(script.cues) and script.cues[c].start < script.lines[k].start
    return None if over_a_cue else script.lines[k].speaker or ""


def _left_out_row(out: LeftOut, width: int) -> Iterator[tuple[str, str | None]]:
    """What was left out, with the reason; a long stretch by its beginning."""
    said = " ".join(out.text.split())
    if len(said) > _LONGEST_LEFT_OUT:
        said = said[: _LONGEST_LEFT_OUT - len("...")].rstrip() + "..."
    return _wrapped(f"{said}  [{out.reason}]", width, _MARGIN, "dim", "   -  " if out.sure else "   ?  ")


def _in_a_cue(script: Script, out: LeftOut) -> bool:
    """Whether something left out is inside another's speech, where the performer need not see it."""
    k = bisect_right(script.cues, out.start, key=lambda cue: cue.start) - 1
    return k >= 0 and out.start < script.cues[k].end


def _wrapped(
    text: str, width: int, indent: int, style: str | None, first: str = ""
) -> Iterator[tuple[str, str | None]]:
    """Text wrapped to the width, later rows indented so that the margin stays clear."""
    rows = textwrap.wrap(
        text,
        width,
        initial_indent=first,
        subsequent_indent=" " * indent,
        break_long_words=True,
        break_on_hyphens=False,
    )
    for row in rows or [first]:
        yield row.replace(_HELD, " "), style


def _many(n: int, noun: str) -> str:
    return f"{n:,} {noun}" + ("" if n == 1 else "s")


def _summary(left_out: Sequence[LeftOut]) -> str:
    counts = Counter(out.reason for out in left_out)
    if not counts:
        return "Left out: nothing. Every word on the page is taken as spoken."
    listed = "; ".join(f"{n} × {reason}" for reason, n in counts.most_common())
    return f"Left out: {listed}."


def _said_as(spoken: Iterable[Word], width: int) -> Iterator[tuple[str, str | None]]:
    """Numbers, amounts and abbreviations with the way they are expected to be said."""
    seen: dict[str, str] = {}
    for w in spoken:
        likeliest = " ".join(w.spoken[0])
        in_full = likeliest in _IN_FULL and likeliest != w.text.lower()
        if in_full or len(w.spoken[0]) > 1 or likeliest[:1] != words.fold(w.text)[:1]:
            seen.setdefault(w.text, likeliest)
    if not seen:
        return
    shown = [f"{text} = {said}".replace(" ", _HELD) for text, said in list(seen.items())[:_SAID_SHOWN]]
    more = f"; and {len(seen) - _SAID_SHOWN} more (--json has them all)" if len(seen) > _SAID_SHOWN else ""
    yield from _wrapped(f"Said as: {'; '.join(shown)}{more}.", width, 0, None)


_IN_FULL = frozenset(
    ("mister", "doctor", "saint", "street", "professor", "captain", "number", "page", "versus")
)
