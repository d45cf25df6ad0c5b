"""From the score to line notes: a run-through as somebody who follows in the book would report it.

The score says of each word whether it was said, changed, dropped or unsure, and what else was heard.
`notes_on` turns that into line notes:

- What was corrected at once counts as said.
- Fillers, restarts, prompts, titles and talk are told apart from added words.
- Words that went wrong side by side are one note.
- It finds dropped lines, words said in another order, dries, and the places to work on.

A recording that is clearly of another text is refused.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from statistics import median

from offbook.align import FILLERS
from offbook.errors import RecordingError
from offbook.notes.asides import cue_words, extras_between, sort_extras
from offbook.notes.kinds import Aside, Dry, Note, Pause, Review
from offbook.notes.not_understood import quote_only_what_is_clear
from offbook.notes.quoting import SpokenScript
from offbook.notes.repair import accept_corrections, take_out_cues
from offbook.notes.slips import aside_notes, dropped_lines, slip_notes, swap_notes, unsure_notes
from offbook.notes.swaps import apply_swaps, find_swaps
from offbook.notes.to_work_on import places_to_work_on
from offbook.phrasing import PERCENT
from offbook.score import Extra, Run
from offbook.script import Script
from offbook.words import Word, contraction

# A speech is recognised by words said in a row: single words agree by chance, four in a row hardly ever. A
# script of fewer than _LONG_SCRIPT words needs only two in a row. Set by hand.
_IN_A_ROW = 4
_LONG_SCRIPT, _IN_A_ROW_SHORT = 20, 2
# The recording is of this script if words in a row make up at least this share of the script's words, or this
# share of the words that were heard. Set by hand.
_SCRIPT_SHARE, _HEARD_SHARE = 0.15, 0.5

# The longest silence (s) that may be intended, by what has just ended ("": nothing, because nobody stops for
# long in the middle of a phrase on purpose). Common practice, no source. To be a dry a silence must also be
# long for this performer.
_LONGEST_MEANT = {"paragraph": 6.0, "sentence": 5.0, "line": 4.0, "phrase": 4.0, "": 2.5}
_TIMES_OWN_PAUSE = 3.0  # a dry is at least so many times the performer's median pause; set by hand
_ENOUGH_PAUSES = 5  # fewer pauses say nothing about how the performer pauses; set by hand
# What is heard as a call for the line or as a prompt is taken for a prompt that is known to have been given
# if it begins at most so many seconds before it, or after it. Set by hand.
_CALL_BEFORE_PROMPT, _CALL_AFTER_PROMPT = 4.0, 3.0
_SHORTEST_PAUSE = 0.2  # s; a shorter silence is part of speaking; set by hand


def notes_on(script: Script, words: Sequence[Word], run: Run, prompts: Sequence[Aside] = ()) -> Review:
    """The review of `run`, in which somebody says the `words` of `script`.

    prompts: those that are known to have been given (`Aside.given`). What was heard of such a prompt is not
    reported a second time. Raises RecordingError if the recording is not of this script.
    """
    page = SpokenScript.of(script, words)
    _refuse_another_speech(page, run)
    cues, scored = cue_words(script), run
    run, given = take_out_cues(page, run, cues)
    swaps = find_swaps(page, run, extras_between(run))
    run, corrections = accept_corrections(page, apply_swaps(run, swaps))
    asides, added = [*given, *corrections], list[Extra]()
    for extras in extras_between(run):
        found, kept = sort_extras(page, extras, cues)
        asides += found
        added += kept
    heard = [a for a in asides if not any(_same_prompt(a, p) for p in prompts)]
    asides = _with_prompts_joined(sorted([*heard, *prompts], key=lambda a: a.start))
    run, added = quote_only_what_is_clear(run, added, {i for s in swaps for i in range(s.first, s.last + 1)})
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
    """Whether an extra is the second half of "I am" said for "I'm": that is a change, not an added word."""
    return any(
        n.kind == "changed"
        and n.first <= extra.before_word <= n.last + 1
        and extra.heard in n.heard.split()
        and contraction(n.script, n.heard)
        for n in notes
    )


def _same_prompt(heard: Aside, given: Aside) -> bool:
    """Whether what was heard is the call for this prompt, which is known to have been given, or its words."""
    near = -_CALL_BEFORE_PROMPT <= heard.start - given.start <= _CALL_AFTER_PROMPT
    return heard.kind in ("prompt", "talk", "after", "before") and near


def _with_prompts_joined(asides: Sequence[Aside]) -> list[Aside]:
    """The asides; where words were said twice right after a call for the line, they become its prompt."""
    out: list[Aside] = []
    for a in asides:
        asked = out[-1] if out and out[-1].kind == "prompt" and out[-1].asked and not out[-1].given else None
        if asked is not None and a.kind == "restart" and a.words and a.words[0] == asked.before_word:
            out[-1] = replace(asked, words=a.words, heard=f"{asked.heard} {a.heard}", end=a.end)
        else:
            out.append(a)
    return out


def _refuse_another_speech(page: SpokenScript, run: Run) -> None:
    """Raise RecordingError if hardly any words of the script were heard in a row.

    Either of two shares is enough. Somebody who says a tenth of the script and stops has said it word for
    word, so these words are most of what was heard. Somebody who drops half of it and loses the thread has
    still said a good part of the script in a row.
    """
    need = _IN_A_ROW if len(page) >= _LONG_SCRIPT else min(_IN_A_ROW_SHORT, len(page))
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
    if heard and (share >= _SCRIPT_SHARE or in_a_row >= _HEARD_SHARE * heard):
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

    run: as it was scored, before the notes change it, so that words that were moved, or said by somebody
    else, do not count as silence.
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
        if start - ended >= _SHORTEST_PAUSE:
            place = min(i, len(page) - 1)
            pauses.append(Pause(place, page.line_of(place), ended, start - ended))
        ended = max(ended, end)
    return pauses


def _dries(page: SpokenScript, pauses: Sequence[Pause]) -> tuple[Dry, ...]:
    """The pauses that are too long to be intended."""
    if not pauses:
        return ()
    own = _TIMES_OWN_PAUSE * median(p.seconds for p in pauses) if len(pauses) >= _ENOUGH_PAUSES else 0.0
    return tuple(
        Dry(p.before_word, p.line, p.at, p.seconds)
        for p in pauses
        if p.seconds >= max(own, _LONGEST_MEANT[page.stop_before(p.before_word)])
    )


__all__ = ["Note", "Review", "heard_pauses", "notes_on"]
