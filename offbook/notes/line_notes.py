"""Notes: a scored run-through as somebody on book would report it.

The score knows, word by word, what was said, changed, dropped or unsure, and what was heard besides.
`notes_on` turns that into line notes: what was corrected at once counts as said; fillers, restarts,
prompts, titles and talk are told apart from added words; neighbouring slips become one note; lines
that are gone, words in another order, dries and the places to work on are found. It refuses a
recording that is plainly of something else.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from statistics import median

from offbook.align import FILLERS
from offbook.errors import RecordingError
from offbook.notes.asides import cue_words, extras_between, sort_stretch
from offbook.notes.kinds import Aside, Dry, Note, Pause, Review
from offbook.notes.made_out import quoted_where_made_out
from offbook.notes.quoting import SpokenScript
from offbook.notes.repair import put_right, set_cues_apart
from offbook.notes.slips import aside_notes, dropped_lines, slip_notes, swap_notes, unsure_notes
from offbook.notes.swaps import find_swaps, restate
from offbook.notes.to_work_on import places_to_work_on
from offbook.phrasing import PERCENT
from offbook.score import Extra, Run
from offbook.script import Script
from offbook.words import Word, contraction

# A speech is known by words said in a row: single words agree by chance, four in a row hardly ever.
_IN_A_ROW = 4
_LONG, _IN_A_ROW_SHORT = 20, 2  # words; of a shorter script two in a row have to do
_OF_SCRIPT, _OF_HEARD = 0.15, 0.5

# s: the longest silence that may be meant, by what has just ended; in the middle of a phrase nobody
# stops long on purpose. Common practice, no source. A dry also exceeds the performer's own pauses.
_MEANT = {"paragraph": 6.0, "sentence": 5.0, "line": 4.0, "phrase": 4.0, "": 2.5}
_OWN_PAUSES = 3.0  # times the performer's median pause
_ENOUGH_PAUSES = 5  # fewer say nothing about how the performer pauses
# s before and after a prompt was given, in which what was heard as a call or a prompt is that one.
_CALLED_BEFORE, _CALLED_AFTER = 4.0, 3.0
_PAUSE = 0.2  # s: a shorter silence is part of speaking


def notes_on(script: Script, words: Sequence[Word], run: Run, prompts: Sequence[Aside] = ()) -> Review:
    """The notes on `run`, somebody's saying of the `words` of `script`.

    prompts: those known to have been given (`Aside.given`); a prompt found by ear is not told beside them.
    Raises RecordingError where the recording is not of this script.
    """
    page = SpokenScript.of(script, words)
    _refuse_another_speech(page, run)
    cues, scored = cue_words(script), run
    run, given = set_cues_apart(page, run, cues)
    swaps = find_swaps(page, run, extras_between(run))
    run, corrections = put_right(page, restate(run, swaps))
    asides, added = [*given, *corrections], list[Extra]()
    for stretch in extras_between(run):
        found, kept = sort_stretch(page, stretch, cues)
        asides += found
        added += kept
    heard = [a for a in asides if not any(_same_prompt(a, p) for p in prompts)]
    asides = _prompts_taken_up(sorted([*heard, *prompts], key=lambda a: a.start))
    run, added = quoted_where_made_out(run, added, {i for s in swaps for i in range(s.first, s.last + 1)})
    lines = dropped_lines(page, run, swaps)
    notes = [
        *slip_notes(page, run, added, swaps, lines),
        *swap_notes(page, swaps),
        *aside_notes(page, asides),
        *unsure_notes(page, run),
    ]
    notes.sort(key=lambda n: (n.first, n.last, n.kind))
    pauses = heard_pauses(page, scored)
    dries = _dries(page, pauses)
    return Review(
        run=run,
        added=tuple(e for e in added if not _opens_a_contraction(notes, e)),
        asides=tuple(asides),
        notes=tuple(notes),
        dropped_lines=lines,
        dries=dries,
        longest_pause=max(pauses, key=lambda p: p.seconds, default=None),
        places=places_to_work_on(page, notes, dries, frozenset(d.line for d in lines)),
    )


def _opens_a_contraction(notes: Sequence[Note], extra: Extra) -> bool:
    """Whether an extra is the second half of "I am" said for "I'm": changed, not added."""
    return any(
        n.kind == "changed"
        and n.first <= extra.before_word <= n.last + 1
        and extra.heard in n.heard.split()
        and contraction(n.script, n.heard)
        for n in notes
    )


def _same_prompt(heard: Aside, given: Aside) -> bool:
    """Whether what was heard is the call for a prompt that is known to have been given, or its words."""
    near = -_CALLED_BEFORE <= heard.start - given.start <= _CALLED_AFTER
    return heard.kind in ("prompt", "talk", "after", "before") and near


def _prompts_taken_up(asides: Sequence[Aside]) -> list[Aside]:
    """The asides, with the words said twice after a call for the line taken as its prompt."""
    out: list[Aside] = []
    for a in asides:
        asked = out[-1] if out and out[-1].kind == "prompt" and out[-1].asked and not out[-1].given else None
        if asked is not None and a.kind == "restart" and a.words and a.words[0] == asked.before_word:
            out[-1] = replace(asked, words=a.words, heard=f"{asked.heard} {a.heard}", end=a.end)
        else:
            out.append(a)
    return out


def _refuse_another_speech(page: SpokenScript, run: Run) -> None:
    """Raise RecordingError where hardly any words of the script were heard in a row.

    Both shares are asked for: who says a fifth of the script and stops has said it word for word, and
    who drops half of it and loses the thread still says a good part of the script in a row.
    """
    need = _IN_A_ROW if len(page) >= _LONG else min(_IN_A_ROW_SHORT, len(page))
    in_a_row = count = 0
    for w in (*run.words, None):
        if w is not None and w.verdict == "said":
            count += 1
            continue
        if w is not None and w.verdict == "unsure":
            continue
        in_a_row += count if count >= need else 0
        count = 0
    heard = sum(w.heard is not None for w in run.words) + len(run.extras)
    share = in_a_row / len(page)
    if heard and (share >= _OF_SCRIPT or in_a_row >= _OF_HEARD * heard):
        return
    name = page.script.title.replace("_", " ") or page.script.source or "the script"
    what = (
        f"this does not sound like “{name}”: only {PERCENT * share:.0f} % of its words were heard in order"
        if heard
        else f"no words of “{name}” were heard in the recording"
    )
    raise RecordingError(what, "check that the script and the recording belong together, then run again")


def heard_pauses(page: SpokenScript, run: Run) -> list[Pause]:
    """Every silence of at least 0.2 s between two heard words of the speech; fillers count as silence.

    run: as scored, so that words noted as moved, or as somebody else's, are not taken for silence.
    """
    events = [(w.start, w.end, w.i) for w in run.words if w.start is not None and w.end is not None]
    if not events:
        return []
    low, high = min(e[0] for e in events), max(e[1] for e in events)
    events += [
        (x.start, x.end, x.before_word)
        for x in run.extras
        if x.heard not in FILLERS and low <= x.start and x.end <= high
    ]
    events.sort()
    pauses, ended = [], events[0][1]
    for start, end, i in events[1:]:
        if start - ended >= _PAUSE:
            place = min(i, len(page) - 1)
            pauses.append(Pause(place, page.line_of(place), ended, start - ended))
        ended = max(ended, end)
    return pauses


def _dries(page: SpokenScript, pauses: Sequence[Pause]) -> tuple[Dry, ...]:
    """The pauses in which the performer had lost the words."""
    if not pauses:
        return ()
    own = _OWN_PAUSES * median(p.seconds for p in pauses) if len(pauses) >= _ENOUGH_PAUSES else 0.0
    return tuple(
        Dry(p.before_word, p.line, p.at, p.seconds)
        for p in pauses
        if p.seconds >= max(own, _MEANT[page.stop_before(p.before_word)])
    )


__all__ = ["Note", "Review", "heard_pauses", "notes_on"]
