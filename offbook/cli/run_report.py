"""The report of a run-through for a person at a terminal."""

from __future__ import annotations

from collections import Counter

from rich.console import Console, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from offbook.cli.common import console, quoted
from offbook.cli.run_lines import draw, key
from offbook.cli.screen import seconds_shown, wrapped
from offbook.desk import PLACES, Heard, Saved, speech_name
from offbook.notes import CARE, Aside, Note, Review, SpokenScript, dropped_rows, noted_lines, shorten
from offbook.phrasing import KEY_SHOWN, jump_clock, plural
from offbook.score import accuracy_share
from offbook.words import counted, number_of, where

# What to call talk that is not counted. Restarts, corrections and prompts are among the notes.
_ASIDES = {
    "filler": "fillers",
    "title": "the title",
    "slate": "a slate",
    "before": "talk before the speech",
    "after": "talk after it",
    "talk": "talk within it",
    "cue": "cues",
}
_HARD_FROM = 0.75  # how hard to follow a voice must be (0 to 1) for the report to say so; set by hand
_HARD_TO_FOLLOW = (
    "This voice was hard to follow, so offbook may not have noticed every small word that was changed.",
    "Come closer to the microphone, or try another model: offbook setup --list names them.",
)
_NO_SECOND_EAR = (
    "This was heard without the second ear, which notices when one small word is said for another. "
    "Fetch it with: offbook setup"
)
_SHOWN = 4  # asides of one kind that are named; set by hand
_POOR = 0.8  # word accuracy below which a first line read as a title may be to blame; set by hand


def report(heard: Heard, to: Console | None = None) -> None:
    """Print everything: accuracy, dropped lines, the speech with its notes, times, places to work on."""
    out = to if to is not None else console()
    lines = noted_lines(heard.script, heard.words, heard.review)
    page = SpokenScript.of(heard.script, heard.words)
    out.print(Text(f"{speech_name(heard)}: {headline(heard)}", "bold"))
    for each in facts(page, heard):
        out.print(Text(each))
    if heard.sound.line is not None:
        lead = "The sound is too poor to judge every word by" if heard.sound.poor else "Sound"
        out.print(Text(f"{lead}: {heard.sound.line}", "bold" if heard.sound.poor else ""))
    _section(out, f"Dropped {numbered_noun(page)}s", _dropped(heard))
    meaning = [Text(f"  {row}", "dim") for row in [*key(lines, out.width - 2), counted(heard.script)]]
    _section(out, "", [*meaning, *([Text()] if meaning else []), *draw(lines, out.width)])
    _section(out, "Line notes", _notes(page, heard.review.notes))
    _section(out, "Time", [Text(t) for t in time_rows(page, heard)])
    _section(out, "How sure", [Text(t) for t in sureness(heard)])
    _section(out, "Work on", _places(page, heard))


def _section(out: Console, title: str, body: list[Text] | list[RenderableType]) -> None:
    if not body:
        return
    out.print()
    if title:
        out.print(Text(title, "bold"))
    for each in body:
        out.print(Padding(each, (0, 0, 0, 2), expand=False) if title else each)


def headline(heard: Heard) -> str:
    """How it went, in a few words."""
    run = heard.review.run
    said = sum(w.verdict in ("said", "unsure") for w in run.words)
    if said == len(run.words) and not heard.review.added:
        return f"word-perfect, all {said} words"
    return f"{accuracy_share(run.accuracy)} of the words, {said} of {len(run.words)} as written"


def facts(page: SpokenScript, heard: Heard) -> list[str]:
    """The row below the headline: how many notes there are of each kind."""
    counts = Counter(n.kind for n in heard.review.notes if n.kind != "unsure")
    whole = dropped_rows(heard.script, heard.words, heard.review)
    said = [f"{plural(len(whole), numbered_noun(page))} dropped"] if whole else []
    gone = [n for n in heard.review.notes if n.kind == "dropped"]
    rest = sum(not any(row.within(n.first, n.last) for row in whole) for n in gone)
    for kind, count in (("dropped", rest), *((k, c) for k, c in counts.items() if k != "dropped")):
        if count > 0:
            said.append(
                f"{count} {kind}"
                if kind != "dropped"
                else f"{count} {'word or phrase' if count == 1 else 'words or phrases'} dropped"
            )
    return [", ".join(said)] if said else []


def numbered_noun(page: SpokenScript) -> str:
    """What is numbered in a speech: lines, or sentences where all of it is prose."""
    return "line" if any(line.verse for line in page.script.lines) else "sentence"


def _dropped(heard: Heard) -> list[Text]:
    return [Text(f"{r.number}  {r.text}") for r in dropped_rows(heard.script, heard.words, heard.review)]


def _notes(page: SpokenScript, notes: tuple[Note, ...]) -> list[RenderableType]:
    if not notes:
        return []
    table = Table.grid(padding=(0, 2))
    for n in notes:
        at = jump_clock(n.at) if n.at is not None else ""
        table.add_row(at, number_of(page.script, page.words[n.first]), n.kind, n.detail)
    return [table]


def time_rows(page: SpokenScript, heard: Heard) -> list[str]:
    """Running time, rate, longest pause, dries, fillers and talk, one row each."""
    review = heard.review
    out = [
        f"{seconds_shown(review.run.seconds)} from first word to last, {review.rate_wpm:.0f} words a minute"
    ]
    pause = review.longest_pause
    if pause is not None:
        out.append(
            f"Longest pause {pause.seconds:.1f} s at {jump_clock(pause.at)}, "
            + _before(page, pause.before_word)
        )
    for d in review.dries:
        if pause is None or d.at != pause.at:
            before = _before(page, d.before_word)
            out.append(f"A dry of {d.seconds:.1f} s at {jump_clock(d.at)}, {before}")
    for kind, called in _ASIDES.items():
        found = [a for a in review.asides if a.kind == kind]
        if found:
            shown = ", ".join(_aside(a) for a in found[:_SHOWN])
            more = f" and {len(found) - _SHOWN} more" if len(found) > _SHOWN else ""
            out.append(f"Not counted, {called}: {shown}{more}")
    return out


# Set by hand, so that each fits on a row. Characters quoted of an aside, and of what follows a silence:
_LONGEST_HEARD, _LONGEST_PLACE = 40, 30
_AFTER_SILENCE = 4  # words after the first one that say where a silence is
_TITLE_WORDS = 6  # of a first line that are quoted


def _aside(a: Aside) -> str:
    return f"“{shorten(a.heard, _LONGEST_HEARD)}” at {jump_clock(a.start)}"


def _before(page: SpokenScript, i: int) -> str:
    """Where a silence is: the words after it, and their line or sentence."""
    i = min(i, len(page) - 1)
    words = shorten(page.wording(i, min(i + _AFTER_SILENCE, len(page) - 1)), _LONGEST_PLACE)
    return f"before “{words}” ({where(page.script, page.words, i, i)})"


def sureness(heard: Heard) -> list[str]:
    """How sure the verdicts are: how many words are unsure, and what the accuracy is without them."""
    told = [*(() if heard.second_ear else (_NO_SECOND_EAR,)), *_title_not_said(heard)]
    if heard.hard < _HARD_FROM:
        return [*_unjudged(heard.review), *told]
    return [*(_unjudged(heard.review) if heard.review.unsure else ()), *_HARD_TO_FOLLOW, *told]


def _title_not_said(heard: Heard) -> list[str]:
    """What to do where most of the speech was said, but not a first line that could be a title."""
    run, first = heard.review.run, heard.script.lines[0]
    like_a_title = any(out.start == first.start for out in heard.script.perhaps)
    if not like_a_title or run.accuracy < _POOR:
        return []
    said = (v.verdict for v, w in zip(run.words, heard.words, strict=True) if w.line == first.n)
    if any(verdict in ("said", "unsure") for verdict in said):
        return []
    text = " ".join(first.text.split()[:_TITLE_WORDS])
    return [
        "The first line is set apart like a title. If nobody says it:",
        f"offbook read {quoted(heard.script.source)} --leave-out {quoted(text)}",
    ]


def _unjudged(review: Review) -> list[str]:
    if not review.unsure:
        return ["Every word could be judged."]
    low = accuracy_share(review.run.accuracy_low)
    if review.unsure == 1:
        return [
            f"1 word could not be judged and counts as said; if it was not, it is {low}.",
            "Listen to it yourself before you trust the figure: its time is above.",
        ]
    return [
        f"{review.unsure} words could not be judged and count as said; if none of them was, it is {low}.",
        "Listen to them yourself before you trust the figure: their times are above.",
    ]


def _places(page: SpokenScript, heard: Heard) -> list[RenderableType]:
    chosen = heard.review.places[:PLACES]
    if not chosen:
        return []
    table = Table.grid(padding=(0, 2))
    for k, place in enumerate(chosen, 1):
        at = f"{jump_clock(place.at)}" if place.at is not None else ""
        spot = where(page.script, page.words, place.first, place.last)
        table.add_row(f"{k}", at, Text.assemble((f"{spot}: ", "bold"), f"{place.what}.\n", place.do))
    return [table, Text(CARE, "dim")]


def saved_line(saved: Saved) -> str:
    """What was put into the journal, and the minutes of full voice used that day."""
    kept = "with its recording" if saved.recording_kept else "without the recording"
    name = f"run-through {saved.run.id[:KEY_SHOWN]} of {saved.piece}"
    line = f"In the journal {kept}, as {name}."
    if not saved.counted:
        line = f"This recording was heard before, as {name} on {saved.run.day}: it does not count twice."
    return f"{wrapped(line)}\n{wrapped(saved.voice)}"
