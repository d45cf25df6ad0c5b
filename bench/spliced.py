"""What the notes say about slips in the sound: real readings, cut and joined so that the truth is known.

    python bench/spliced.py FOLDER [--seeds 1] [--kinds "line out,dry"] [--only NAME,...] [--cache FILE] [--detail]
                           [--one-ear]

FOLDER holds recordings and, under the same name with .txt, the words as they were read, line by line. Each
reading is heard against its own text to find the times of its words, and then edited: lines, phrases and
words are cut out, said twice, swapped or added, and there are jumps, silences, talk, prompts and noises
(`spliced_edits`). A row counts the edits, how many were noticed, how many were reported exactly (every
verdict, note, added word, dropped line and silence), and what was reported although it is not so. A recording
has up to three edits, and one fault in it counts against all of them. The column "in words" counts each by
itself: every wrong, unsure or added word is a fault of the edit that is nearest to it in the script. What is
also reported for the reading before the edit is not counted. Prompts, calls for the line and fillers are
said by a synthetic voice (Debian's flite), because a prompt by another person would need two readers of one
text.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields
from pathlib import Path

import hearing as H
from spliced_edits import MAKERS, Edit, Truth, make
from spliced_sound import Spoken, spoken

from offbook.errors import RecordingError
from offbook.hear.listener import hear
from offbook.notes import Note, Review, notes_on
from offbook.recognise import Recogniser, WordingScorer
from offbook.score import Extra
from offbook.script import parse_script
from offbook.words import words_of

_WIDE = 3  # words by which a note may miss its place
_DRY_SLACK = 0.6  # s


@dataclass
class Count:
    """The counts of one kind of edit. missed, doubts: words; false_...: what was reported and is not so."""

    edits: int = 0
    noticed: int = 0
    right: int = 0
    right_in_words: int = 0
    words: int = 0
    missed: int = 0
    false_words: int = 0
    doubts: int = 0
    false_added: int = 0
    false_lines: int = 0
    false_notes: int = 0
    parted: int = 0
    false_dries: int = 0

    def add(self, other: Count) -> None:
        """Add another count to this one."""
        for f in fields(self):
            setattr(self, f.name, getattr(self, f.name) + getattr(other, f.name))

    def row(self, kind: str) -> str:
        """One row of the table."""
        return (
            f"{kind:16s}{self.edits:6d}{self.noticed:9d}{self.right:7d}{self.right_in_words:10d} |"
            f"{self.words:6d}{self.missed:8d}"
            f"{self.false_words:7d}{self.doubts:8d}{self.false_added:7d}{self.false_lines:7d}{self.false_notes:7d}"
            f"{self.parted:8d}{self.false_dries:7d}"
        )


HEAD = (
    f"{'':29s}told            |  words                 false            false\n"
    f"{'kind':16s} edits  noticed  right  in words | slips  missed  words  unsure  added  lines  notes  parted"
    "  dries"
)


def heard(s: Spoken, pcm: bytes, recogniser: Recogniser, scorer: WordingScorer | None) -> Review:
    """The notes on a recording of the speech `s`."""
    script = parse_script("\n".join(" ".join(line) for line in s.lines) + "\n")
    words = words_of(script)
    chunks = [pcm[k : k + 32_000] for k in range(0, len(pcm), 32_000)]
    return notes_on(script, words, hear(words, chunks, recogniser, lines=script.lines, scorer=scorer))


def _bad(r: Review) -> frozenset[int]:
    return frozenset(w.i for w in r.run.words if w.verdict in ("changed", "dropped"))


def _about(note: Note) -> range:
    return range(note.first, note.last + 1)


def _meet(a: range, b: range) -> bool:
    return a.start - _WIDE < b.stop and b.start < a.stop + _WIDE


def judge(s: Spoken, edit: Edit, found: Review, own: Review, tell: Callable[[str], None]) -> Count:
    """Compare what is reported for an edited recording with the truth.

    own: what is reported for the recording before the edit.
    """
    truth, c = edit.truth, Count()
    faults = _words(s, truth, found, own, c, tell)
    _notes(truth, found, own, c, tell)
    faults += _rest(s, truth, found, own, c, tell)
    c.right_in_words = c.edits - len({_nearest(truth, at) for at in faults})
    return c


def _nearest(truth: Truth, at: int) -> int:
    """The number of the edit that is nearest to a script word; 0 where a recording counts as one edit."""
    spans = [span for _, span in truth.notes] or [range(at, at + 1) for at, _ in truth.dries] or [range(1)]
    return min(range(len(spans)), key=lambda k: max(spans[k].start - at, at - spans[k].stop + 1, 0))


def _words(
    s: Spoken, truth: Truth, found: Review, own: Review, c: Count, tell: Callable[[str], None]
) -> list[int]:
    """Compare the verdicts; returns the script words whose verdict is wrong, or unsure."""
    bad = _bad(found)
    out = min(truth.out, key=lambda o: len(o - bad) + len(bad - o))
    c.words = len(out)
    if truth.said is not None and [w for i, w in enumerate(s.words) if i not in bad] == truth.said:
        out = truth_may = bad
    else:
        truth_may = truth.may
    faults = sorted((out - bad) | (bad - truth_may - _bad(own)))
    for i in faults:
        w = found.run.words[i]
        missed = i in out
        around = f"{' '.join(s.words[max(0, i - 2) : i])} [{w.text}] {' '.join(s.words[i + 1 : i + 3])}"
        tell(f"    {'missed' if missed else 'FALSE'} {w.verdict}: {around} heard {w.heard}")
        c.missed, c.false_words = c.missed + missed, c.false_words + (not missed)
    unsure = {w.i for w in found.run.words if w.verdict == "unsure"}
    unsure -= {w.i for w in own.run.words if w.verdict == "unsure"}
    for i in sorted(unsure - truth.may):
        tell(
            f"    unsure: {' '.join(s.words[max(0, i - 2) : i])} [{s.words[i]}] heard {found.run.words[i].heard}"
        )
        c.doubts += 1
    return [*faults, *(unsure - truth.may)]


def _notes(truth: Truth, found: Review, own: Review, c: Count, tell: Callable[[str], None]) -> None:
    known = {(n.kind, n.first, n.heard) for n in own.notes}
    left = [n for n in found.notes if n.kind != "unsure"]
    for kind, span in truth.notes:
        c.edits += 1
        mine = [n for n in left if n.kind == kind and _meet(_about(n), span)]
        c.noticed += bool(mine)
        c.parted += max(0, len(mine) - 1)
        left = [n for n in left if n not in mine]
        if not mine:
            tell(f"    MISSED note: {kind} {span.start}-{span.stop - 1}")
    for n in left:
        if (n.kind, n.first, n.heard) not in known:
            c.false_notes += 1
            tell(f"    FALSE note {n.kind} {n.first}-{n.last} “{n.script}” heard “{n.heard}”: {n.detail}")


def _rest(
    s: Spoken, truth: Truth, found: Review, own: Review, c: Count, tell: Callable[[str], None]
) -> list[int]:
    """Compare added words, dropped lines and silences; returns the places of words that are wrongly added or
    not reported as added.
    """
    usual = {(e.before_word, e.heard) for e in own.added}
    extra: list[Extra] = [e for e in found.added if (e.before_word, e.heard) not in usual]
    unheard = 0
    faults: list[int] = []
    for place, word in truth.added:
        mine = [e for e in extra if abs(e.before_word - place) <= 1][:3]
        extra = [e for e in extra if e not in mine]
        unheard += not mine
        if not mine:
            faults.append(place)
            tell(f"    MISSED added {word}")
    for e in extra:
        faults.append(e.before_word)
        tell(f"    FALSE added {e.heard} before {' '.join(s.words[e.before_word : e.before_word + 3])}")
    c.false_added = len(extra)
    lines = frozenset(d.line - 1 for d in found.dropped_lines)
    c.false_lines = len(lines - truth.lines)
    if lines != truth.lines:
        tell(f"    LINES {sorted(lines)} for {sorted(truth.lines)}")
    unheard += len(truth.lines - lines)
    usual_dries = {d.before_word for d in own.dries}
    dries = [d for d in found.dries if d.before_word not in usual_dries]
    if truth.dries and not truth.notes:
        c.edits += len(truth.dries)
    for place, seconds in truth.dries:
        near = [d for d in dries if abs(d.before_word - place) <= 1]
        dries = [d for d in dries if d not in near]
        good = [d for d in near if abs(d.seconds - seconds) <= _DRY_SLACK or truth.notes]
        unheard += not good
        c.noticed += bool(good) and not truth.notes
        if not good:
            tell(f"    MISSED dry of {seconds:.1f} s before {s.words[place]}: {near}")
    c.false_dries = len(dries)
    for d in dries:
        tell(
            f"    FALSE dry of {d.seconds:.1f} s before {' '.join(s.words[d.before_word : d.before_word + 3])}"
        )
    if not truth.notes and not truth.dries:
        c.edits = c.noticed = 1
    wrong = (
        c.missed + c.false_words + c.false_added + len(lines ^ truth.lines) + c.false_notes + c.false_dries
    )
    c.right = c.noticed if not wrong and not unheard else 0
    return faults


def measure(
    readings: Sequence[Spoken],
    recogniser: Recogniser,
    kinds: Sequence[str],
    seeds: Sequence[int],
    only: Sequence[str],
    tell: Callable[[str], None],
    scorer: WordingScorer | None,
) -> dict[str, Count]:
    """Measure every kind of edit with every reading and seed."""
    own = {s.name: heard(s, s.sound.astype("<i2").tobytes(), recogniser, scorer) for s in readings}
    total = {kind: Count() for kind in kinds}
    for kind in kinds:
        for s in readings:
            for seed in seeds if not only or s.name in only else ():
                edit = make(kind, s, seed, readings)
                if edit is None:
                    continue
                tell(f"  {kind} {s.name} {seed}: {edit.what}")
                try:
                    found = heard(s, edit.pcm, recogniser, scorer)
                except RecordingError as e:
                    tell(f"    REFUSED {e}")
                    total[kind].add(
                        Count(edits=1, words=len(edit.truth.out[0]), missed=len(edit.truth.out[0]))
                    )
                    continue
                total[kind].add(judge(s, edit, found, own[s.name], tell))
    return total


def main() -> int:
    """The command line."""
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("folder", type=Path)
    ap.add_argument("--kinds", default=",".join(MAKERS))
    ap.add_argument("--seeds", type=int, default=1)
    ap.add_argument("--first-seed", type=int, default=0)
    ap.add_argument("--only", default="", help="recordings to edit, by name, separated by commas")
    ap.add_argument("--cache", type=Path, metavar="FILE", help="keep what the recogniser answers")
    ap.add_argument("--detail", action="store_true")
    ap.add_argument("--one-ear", action="store_true", help="without the second ear")
    a = ap.parse_args()

    recogniser = H.installed(a.cache)
    scorer = None if a.one_ear else H.installed_second(recogniser)
    readings = [spoken(r, recogniser) for r in H.readings(a.folder, ())]
    if not readings:
        sys.exit(f"no recordings with texts in {a.folder}")
    tell: Callable[[str], None] = (lambda t: print(t, flush=True)) if a.detail else lambda _: None
    began = time.perf_counter()
    seeds = range(a.first_seed, a.first_seed + a.seeds)
    only = [n for n in a.only.split(",") if n]
    total = measure(readings, recogniser, a.kinds.split(","), seeds, only, tell, scorer)
    print(HEAD)
    whole = Count()
    for kind, c in total.items():
        print(c.row(kind))
        whole.add(c)
    print(whole.row("all"))
    print(f"{time.perf_counter() - began:.0f} s", file=sys.stderr)
    return 0


if __name__ == "__main__":
    sys.exit(main())
