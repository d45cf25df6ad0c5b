"""A fake hearing: from what a performer says, as text, it makes the `Run` that a real hearing would give.

`perform(script, said)` gets what is said as words with silences between them: a number in square brackets
is so many seconds of silence ("[2.5]"). Every word lasts 0.3 s. The alignment is simple edit distance, so
that the notes are tested with what any aligner would give them.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from rapidfuzz.distance import Levenshtein

from offbook.align.alignment import align
from offbook.hear.script_view import places_of
from offbook.notes import Review, notes_on
from offbook.recognise import HeardWord
from offbook.score import Extra, Run, Verdict, WordVerdict, score
from offbook.script import Line, Script
from offbook.words import Word, words_of

WORD_SECONDS = 0.3

Spoken = tuple[str, float, float]


def verse(*lines: str, title: str = "a speech") -> Script:
    """A script of these verse lines."""
    text = "\n".join(lines) + "\n"
    out, at = [], 0
    for n, line in enumerate(lines, 1):
        out.append(Line(n, at, at + len(line), line, 1, verse=True))
        at += len(line) + 1
    return Script(title, "", text, "verse", tuple(out))


def timed(said: str) -> list[Spoken]:
    """The words of `said` with their times in seconds."""
    now, out = 0.0, list[Spoken]()
    for token in re.findall(r"\[[\d.]+\]|[\w']+", said):
        if token.startswith("["):
            now += float(token[1:-1])
        else:
            out.append((token.lower(), now, now + WORD_SECONDS))
            now += WORD_SECONDS
    return out


def heard_run(words: Sequence[Word], spoken: Sequence[Spoken]) -> Run:
    """`spoken` aligned with `words` by simple edit distance."""
    forms = [w.spoken[0][0] for w in words]
    verdicts: list[WordVerdict] = []
    extras: list[Extra] = []

    def note(i: int, verdict: Verdict, s: Spoken | None) -> None:
        h, a, b = s if s is not None else (None, None, None)
        verdicts.append(WordVerdict(i, words[i].text, verdict, h, a, b, 1.0 if s is not None else None))

    for op in Levenshtein.opcodes(forms, [s[0] for s in spoken]):
        here = spoken[op.dest_start : op.dest_end]
        for k, i in enumerate(range(op.src_start, op.src_end)):
            s = here[k] if k < len(here) else None
            note(i, "said" if op.tag == "equal" else "dropped" if s is None else "changed", s)
        extras += [Extra(op.src_end, h, a, b, 1.0) for h, a, b in here[op.src_end - op.src_start :]]
    seconds = spoken[-1][2] - spoken[0][1] if spoken else 0.0
    return Run(tuple(verdicts), tuple(extras), seconds, WORD_SECONDS * len(spoken))


def second_by_second(
    words: Sequence[Word], changes: Mapping[int, str | None], extras: Sequence[tuple[int, str]] = ()
) -> Run:
    """Each word said as written for half a second, word 7 at 7 s; no alignment decides anything.

    changes: what was heard in the place of a word, None for nothing. extras: a script word and what was heard
    in the half second before it, word by word.
    """
    verdicts = []
    for w in words:
        heard = changes.get(w.i, " ".join(w.spoken[0]))
        if heard is None:
            verdicts.append(WordVerdict(w.i, w.text, "dropped", None, None, None, None))
        else:
            verdict: Verdict = "changed" if w.i in changes else "said"
            verdicts.append(WordVerdict(w.i, w.text, verdict, heard, w.i, w.i + 0.5, 1.0))
    more: list[Extra] = []
    for place, said in extras:
        each = said.split()
        size = 0.5 / len(each)
        starts = [place - 0.5 + size * k for k in range(len(each))]
        more += [Extra(place, h, at, at + size, 1.0) for h, at in zip(each, starts, strict=True)]
    return Run(tuple(verdicts), tuple(more), float(len(words)), len(words) / 2)


def perform(script: Script, said: str) -> Review:
    """The review if somebody says `said` and the script is `script`."""
    words = words_of(script)
    return notes_on(script, words, heard_run(words, timed(said)))


def hear_said(script: Script, said: str) -> Review:
    """The notes if somebody says `said`, aligned and scored as the words of a recording are."""
    words = words_of(script)
    places = places_of(words, lambda word: True, script.lines)
    heard = [HeardWord(token, start, end, 0.98) for token, start, end in timed(said)]
    return notes_on(script, words, score(words, places, heard, align(places, heard)))
