"""Corrections: a wrong word and then, at once, the right one counts as said.

The alignment may have given a script word the first thing that was heard in its place and left the
correction over as an extra. Here the two change places: the word counts as said, and the slip becomes an
aside. Cues that were heard in the place of script words are taken out in a similar way.
"""

from __future__ import annotations

from dataclasses import replace

from offbook.align import FILLERS
from offbook.notes.asides import Cues, is_cue
from offbook.notes.kinds import Aside
from offbook.notes.quoting import SpokenScript
from offbook.score import Extra, Run, WordVerdict, decided

# A heard word: its start and end (s), the word, and its confidence.
Heard = tuple[float, float, str, float | None]


def wrong_runs(words: tuple[WordVerdict, ...]) -> list[tuple[int, int]]:
    """The first and last word of every run of neighbouring words that were changed or dropped."""
    runs: list[tuple[int, int]] = []
    for w in words:
        if not w.is_wrong:
            continue
        if runs and runs[-1][1] == w.i - 1:
            runs[-1] = (runs[-1][0], w.i)
        else:
            runs.append((w.i, w.i))
    return runs


def heard_for(run: Run, first: int, last: int, extras: tuple[Extra, ...]) -> list[Heard]:
    """What was heard in the place of script words first to last, and the `extras`, in the order of time."""
    out: list[Heard] = [(e.start, e.end, e.heard, e.confidence) for e in extras]
    before: WordVerdict | None = None
    for w in run.words[first : last + 1]:
        # "I'm" in the place of "I am" stands for both words, but was heard once.
        twice = before is not None and (w.heard, w.start, w.end) == (before.heard, before.start, before.end)
        before = w
        if w.heard is not None and w.start is not None and w.end is not None and not twice:
            out += [(w.start, w.end, token, w.confidence) for token in w.heard.split()]
    return sorted(out, key=lambda h: h[0])


def take_out_cues(page: SpokenScript, run: Run, cues: Cues) -> tuple[Run, list[Aside]]:
    """`run` without the cues that were heard in the place of script words, and these cues as asides.

    Such words seemed to be changed; without the cue they are dropped.
    """
    words, asides = list(run.words), list[Aside]()
    used: set[Extra] = set()
    for first, last in wrong_runs(run.words) if cues else ():
        near = tuple(e for e in run.extras if first <= e.before_word <= last + 1 and e not in used)
        heard = heard_for(run, first, last, near)
        tokens = [h[2] for h in heard]
        if len(tokens) <= 1 or len(near) == len(tokens) or not is_cue(page, first, tokens, cues):
            continue
        for i in range(first, last + 1):
            told = "what was heard in its place was another part's cue"
            gone = {"heard": None, "start": None, "end": None, "confidence": None}
            words[i] = decided(words[i], "cue", told, verdict="dropped", **gone)
        used.update(near)
        asides.append(Aside("cue", last + 1, " ".join(tokens), heard[0][0], heard[-1][1]))
    kept = tuple(e for e in run.extras if e not in used)
    return replace(run, words=tuple(words), extras=kept), asides


def accept_corrections(page: SpokenScript, run: Run) -> tuple[Run, list[Aside]]:
    """`run` with every slip that was corrected at once counted as said, and these slips as asides."""
    words, asides = list(run.words), list[Aside]()
    for w in run.words:  # a slip beside a word may have made it doubtful, though it was heard as written
        if w.verdict == "changed" and w.heard is not None and page.says(w.i, w.heard):
            told = "what was heard in its place sounds the same as the script's word"
            words[w.i] = decided(w, "correction", told, verdict="said")
    run = replace(run, words=tuple(words))
    used: set[Extra] = set()
    for first, last in wrong_runs(run.words):
        near = tuple(e for e in run.extras if first <= e.before_word <= last + 1 and e not in used)
        if not near:
            continue
        heard = heard_for(run, first, last, near)
        at = _last_place_of(page, first, last, [h[2] for h in heard])
        if at is None:
            continue
        size = last - first + 1
        for k in range(size):
            start, end, token, confidence = heard[at + k]
            told = "a slip came first here and was corrected at once"
            right = {"heard": token, "start": start, "end": end, "confidence": confidence}
            words[first + k] = decided(words[first + k], "correction", told, verdict="said", **right)
        used.update(near)
        slip = [h for h in heard[:at] + heard[at + size :] if h[2] not in FILLERS]
        if slip:
            text = " ".join(h[2] for h in slip)
            asides.append(Aside("correction", first, text, slip[0][0], slip[-1][1], (first, last)))
    kept = tuple(e for e in run.extras if e not in used)
    return replace(run, words=tuple(words), extras=kept), asides


def _last_place_of(page: SpokenScript, first: int, last: int, tokens: list[str]) -> int | None:
    """Where in `tokens` script words first to last stand, word for word, the last time; None if nowhere."""
    size = last - first + 1
    for at in range(len(tokens) - size, -1, -1):
        if page.is_word_for_word(first, tokens[at : at + size]):
            return at
    return None
