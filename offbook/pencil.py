"""The pencil file: the performer's own marks, kept beside the script and stronger than any computed one.

A performer who disagrees writes it down, in a plain text file named after the script
(`helena.txt.pencil`). It quotes the speech, with the mark standing in its place:

    # anything after a hash is a note to yourself
    his memory ||| But thou contracted to
        I turn on him at last
    the world || or else this glutton
    tender churl + mak'st waste
    thine own [re-VEN-ue] is spent
    [as-PECT]

`|` is a phrase, `||` a thought, `|||` a turn, `+` runs on (no mark here). An indented line rewords the
reason of the mark above it. A word in square brackets is said with the syllables and the stress it is
written with: hyphens divide it, capitals are stressed. With words around it the bracket holds for that
place, alone for the whole script. A line `only these marks` sets the computed shifts aside, a line
`metre: trochaic tetrameter` sets the metre of the verse.

The quoted words are the anchor, not a line number, so the file survives a change of the script: each
entry is looked for by its words, then by the words most like them. An entry whose place is gone is kept
in the file and reported, never dropped and never guessed.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from offbook.errors import OffbookError
from offbook.intake import PENCIL, read_text
from offbook.lexicon import dictionary_form
from offbook.outgoing import write_whole
from offbook.script import Script
from offbook.words import Word

SUFFIX = ".pencil"
ONLY = "only these marks"
RUN_ON: Literal[0] = 0
NEAR = 0.62  # how alike, 0 to 1, quoted words and a place in the script must be
CLEAR = 0.05  # by how much the best place must lead the next
CONTEXT = 3  # words quoted on each side in a file that offbook writes; more where they repeat
LONGEST_CONTEXT = 8

Mark = Literal[0, 1, 2, 3]

_BARS: dict[str, Mark] = {"|": 1, "||": 2, "|||": 3, "+": RUN_ON}
_SIGNS: dict[int, str] = {grade: sign for sign, grade in _BARS.items()}
_WORD = re.compile(r"[^\W_]+(?:['’][^\W_]+)*['’]?", re.UNICODE)
_FIX = re.compile(r"\[([^\[\]]+)\]")
_METRE = re.compile(r"met(?:re|er)\s*:\s*(\S.*)$", re.IGNORECASE)
_MOST_PLACES = 200  # where a word is: a commoner one says little of where a mark belongs; set by hand


class PencilError(OffbookError):
    """The pencil file cannot be read or written."""


@dataclass(frozen=True, slots=True)
class PencilShift:
    """A mark of the performer's. grade: 1 to 3, 0 where there is to be none. reason: None: not reworded."""

    before_word: int
    grade: Mark
    reason: str | None
    row: int


@dataclass(frozen=True, slots=True)
class Unplaced:
    """An entry that could not be used: its row in the file (from 1), its text, and why."""

    row: int
    text: str
    why: str


@dataclass(frozen=True, slots=True)
class Pencil:
    """What a pencil file says about a script as it is now.

    fixes: stress by word index, one w or s a syllable (the shape that `verse.scan` takes). only: computed
    shifts are set aside. metre: its name as written, with the row; None where none is set.
    """

    shifts: tuple[PencilShift, ...] = ()
    fixes: Mapping[int | str, str] = field(default_factory=dict)
    only: bool = False
    unplaced: tuple[Unplaced, ...] = ()
    metre: tuple[str, int] | None = None


@dataclass(frozen=True, slots=True)
class _Entry:
    row: int
    text: str
    before: tuple[str, ...]
    after: tuple[str, ...]
    grade: Mark | None = None
    stress: str | None = None
    reason: str | None = None


def pencil_path(script: Script) -> Path | None:
    """The path of the pencil file of `script`, whether or not it exists; None if the script has no file."""
    if not script.source or script.source == "-":
        return None
    source = Path(script.source)
    return source.with_name(source.name + SUFFIX)


def load_pencil(path: Path, words: Sequence[Word]) -> Pencil:
    """The pencil file at `path` applied to `words`. An absent file is an empty one."""
    if not os.path.lexists(path):
        return Pencil()
    return read(read_text(path, PENCIL, PencilError), words)


def read(text: str, words: Sequence[Word]) -> Pencil:
    """The text of a pencil file applied to `words`."""
    entries, only, unread, metre = _entries(text)
    finder = _Finder(words)
    shifts: dict[int, PencilShift] = {}
    fixes: dict[int | str, str] = {}
    lost = list(unread)
    at = 0
    for entry in entries:
        if entry.stress is not None and not entry.before and len(entry.after) == 1:
            everywhere = finder.where.get(entry.after[0], [])
            fixes.update(dict.fromkeys(everywhere, entry.stress))
            if not everywhere:
                lost.append(Unplaced(entry.row, entry.text, "the word was not found in the script"))
            continue
        place, why = finder.place(entry, at)
        if place is None:
            lost.append(Unplaced(entry.row, entry.text, why))
        elif entry.stress is not None:
            at = place
            fixes[place] = entry.stress
        elif place == 0:
            lost.append(
                Unplaced(entry.row, entry.text, "the speech starts there: no mark can come before it")
            )
        else:
            at = place
            shifts[place] = PencilShift(place, entry.grade or RUN_ON, entry.reason, entry.row)
    ordered = tuple(shifts[i] for i in sorted(shifts))
    return Pencil(ordered, fixes, only, tuple(sorted(lost, key=lambda u: u.row)), metre)


def _entries(text: str) -> tuple[list[_Entry], bool, list[Unplaced], tuple[str, int] | None]:
    """The entries of a file, whether only they count, the rows that cannot be read, and the metre set."""
    entries: list[_Entry] = []
    unread: list[Unplaced] = []
    metre: tuple[str, int] | None = None
    only, last_read = False, False
    for row, raw in enumerate(text.splitlines(), 1):
        said = raw.split("#", 1)[0].rstrip()
        if not said.strip():
            continue
        if raw[0] in " \t" and entries and last_read:
            entries[-1] = _reworded(entries[-1], said.strip())
            continue
        last_read = False
        if " ".join(said.lower().split()) == ONLY:
            only = True
            continue
        if named := _METRE.match(said.strip()):
            metre = (named[1].strip(), row)
            continue
        entry = _entry(row, said.strip())
        if isinstance(entry, _Entry):
            entries.append(entry)
            last_read = True
        else:
            unread.append(Unplaced(row, said.strip(), entry))
    return entries, only, unread, metre


def _reworded(entry: _Entry, more: str) -> _Entry:
    reason = f"{entry.reason} {more}" if entry.reason else more
    return _Entry(entry.row, entry.text, entry.before, entry.after, entry.grade, entry.stress, reason)


def _entry(row: int, said: str) -> _Entry | str:
    """One line of the file; a sentence saying what is wrong with it where it cannot be read."""
    fix = _FIX.search(said)
    if fix:
        stress = "".join("s" if p.upper() == p and p.lower() != p else "w" for p in fix[1].split("-"))
        word = _bare(fix[1].replace("-", ""))
        return _Entry(row, said, _plain_words(said[: fix.start()]), (word, *_plain_words(said[fix.end() :])),
                      stress=stress)  # fmt: skip
    pieces = said.split()
    marks = [k for k, p in enumerate(pieces) if p in _BARS]
    if len(marks) != 1:
        return (
            "one mark (| || ||| or +) must stand alone between two words" if marks else "no mark in this line"
        )
    k = marks[0]
    before, after = _plain_words(" ".join(pieces[:k])), _plain_words(" ".join(pieces[k + 1 :]))
    if not after:
        return "the words after the mark are missing"
    return _Entry(row, said, before, after, grade=_BARS[pieces[k]])


def _plain_words(text: str) -> tuple[str, ...]:
    return tuple(_bare(m.group()) for m in _WORD.finditer(text))


def _bare(word: str) -> str:
    """A word for comparing: quotation marks and apostrophes at its ends are easily lost."""
    return dictionary_form(word).strip("'")


class _Finder:
    """Finds quoted words in the words of a script."""

    def __init__(self, words: Sequence[Word]) -> None:
        self.words = [_bare(w.text) for w in words]
        self.where: dict[str, list[int]] = {}
        for i, w in enumerate(self.words):
            self.where.setdefault(w, []).append(i)

    def place(self, entry: _Entry, at: int) -> tuple[int | None, str]:
        """The index of the word after the mark, and why not where it is None.

        Where the same words are at several places, the first after `at`, the entry before: the file
        goes through the script in order.
        """
        exact = [i for i in self.where.get(entry.after[0], ()) if self._fits(entry, i)]
        if exact:
            return next((i for i in exact if i > at), exact[-1] if len(exact) == 1 else exact[0]), ""
        return self._nearest(entry)

    def _fits(self, entry: _Entry, i: int) -> bool:
        b, a = entry.before, entry.after
        return (
            i >= len(b)
            and tuple(self.words[i - len(b) : i]) == b
            and tuple(self.words[i : i + len(a)]) == a
        )  # fmt: skip

    def context(self, i: int) -> tuple[int, int]:
        """How many words to quote before and after `i` so that they are nowhere else, if that can be."""
        for n in range(CONTEXT, LONGEST_CONTEXT + 1):
            b, a = min(n, i), min(n, len(self.words) - i)
            quoted = self.words[i - b : i + a]
            places = self.where[self.words[i]]
            if sum(j >= b and self.words[j - b : j + a] == quoted for j in places) == 1:
                break
        return b, a

    def _nearest(self, entry: _Entry) -> tuple[int | None, str]:
        """By likeness. Only places that share a quoted word, or a word like it, are weighed."""
        scores = sorted(((self._alike(entry, i), -i) for i in self._candidates(entry)), reverse=True)
        if not scores or scores[0][0] < NEAR:
            return None, "these words are no longer in the script"
        if len(scores) > 1 and scores[0][0] - scores[1][0] < CLEAR:
            return None, "two places in the script are equally like these words"
        return -scores[0][1], ""

    def _candidates(self, entry: _Entry) -> set[int]:
        from rapidfuzz import process

        places: set[int] = set()
        quoted = [(k - len(entry.before), w) for k, w in enumerate(entry.before + entry.after)]
        # A word of the fix itself must be the one that is fixed; a shift may be anywhere near.
        for offset, word in quoted if entry.stress is None else [q for q in quoted if q[0] == 0]:
            hits = self.where.get(word)
            if hits is None:
                like = process.extract(word, self.where.keys(), limit=2, score_cutoff=75)
                hits = [i for found, _, _ in like for i in self.where[found]]
            if len(hits) <= _MOST_PLACES:
                places |= {i - offset + d for i in hits for d in (-1, 0, 1)}
        if entry.stress is not None:
            places &= {i for i in places if 0 <= i < len(self.words) and self.words[i] == entry.after[0]}
        return {i for i in places if 0 <= i < len(self.words)}

    def _alike(self, entry: _Entry, i: int) -> float:
        """0 to 1: the words before and after `i` against those quoted, the nearest counting most."""
        sides = []
        if entry.before:
            sides.append(_side(entry.before[::-1], self.words[max(0, i - len(entry.before) - 1) : i][::-1]))
        sides.append(_side(entry.after, self.words[i : i + len(entry.after) + 1]))
        return sum(sides) / len(sides)


def _side(quoted: Sequence[str], found: Sequence[str]) -> float:
    from rapidfuzz import fuzz
    from rapidfuzz.distance import Indel

    if not found:
        return 0.0
    same = Indel.normalized_similarity(list(quoted), list(found[: len(quoted)]))
    nearest = fuzz.ratio(quoted[0], found[0]) / 100
    letters = fuzz.ratio(" ".join(quoted), " ".join(found[: len(quoted)])) / 100
    return 0.4 * same + 0.35 * letters + 0.25 * nearest


def start(title: str, words: Sequence[Word], shifts: Iterable[tuple[int, int, str]]) -> str:
    """The text of a first pencil file: every computed mark, (before_word, grade, reason), to be changed."""
    finder = _Finder(words)
    rows = [
        f"# Marks for {title}. Change, move, add or take out lines: what stands here is what you get.",
        "# | phrase   || thought   ||| turn   + runs on, no mark. An indented line is the reason.",
        "# [re-VEN-ue] after and before other words sets how a word is said there; alone, everywhere.",
        "# metre: blank verse   sets the metre of the verse.",
        "# Take the next line away to keep offbook's own marks wherever you have written none.",
        ONLY,
        "",
    ]
    for i, grade, reason in shifts:
        before, after = finder.context(i)
        quoted = " ".join(w.text for w in words[i - before : i])
        rows.append(f"{quoted} {_SIGNS[grade]} {' '.join(w.text for w in words[i : i + after])}")
        if reason:
            rows.append(f"    {reason}")
    return "\n".join(rows) + "\n"


def write_new(path: Path, text: str) -> None:
    """Write a first pencil file. Raises PencilError where one is there already: it is the performer's."""
    try:
        write_whole(path, text, new=True)
    except FileExistsError as e:
        raise PencilError(
            f"{path} already exists", "it holds your marks: edit it, or move it away to start afresh"
        ) from e
    except OSError as e:
        raise PencilError(
            f"cannot write {path}: {e.strerror}", "choose a script in a folder you can write to"
        ) from e


# One mark changed, for whoever edits the file through a screen -------------------------------------


def with_mark(
    text: str, words: Sequence[Word], before_word: int, grade: Mark | None, reason: str = ""
) -> str:
    """The text of a pencil file with the mark before a word set, or with none of its own there (None).

    Everything else of the file stays as it is written, the performer's notes to themselves too.
    """
    shifts = {s.before_word: s.row for s in read(text, words).shifts}
    row = None
    if grade is not None:
        before, after = _Finder(words).context(before_word)
        quoted = " ".join(w.text for w in words[before_word - before : before_word])
        following = " ".join(w.text for w in words[before_word : before_word + after])
        row = f"{quoted} {_SIGNS[grade]} {following}"
        row += f"\n    {' '.join(reason.split())}" if reason.strip() else ""
    at = next((r for place, r in sorted(shifts.items()) if place > before_word), None)
    return _with_row(text, shifts.get(before_word), row, at)


def with_stress(text: str, words: Sequence[Word], word: int, said: str | None) -> str:
    """The same for how a word is said at its place, written as "re-VEN-ue"; None: as offbook has it.

    Raises PencilError where `said` is not the word.
    """
    row = None
    finder = _Finder(words)
    if said is not None:
        if _bare(said.replace("-", "")) != _bare(words[word].text):
            raise PencilError(
                f"“{said}” is not the word {words[word].text}",
                "write the same letters, hyphens between the syllables and capitals where it is stressed",
            )
        before, after = finder.context(word)
        quoted = " ".join(w.text for w in words[word - before : word])
        row = f"{quoted} [{said}] {' '.join(w.text for w in words[word + 1 : word + after])}".strip()
    entries = _entries(text)[0]
    there = [e.row for e in entries if e.stress is not None and finder.place(e, -1)[0] == word]
    return _with_row(text, there[0] if there else None, row, None)


def _with_row(text: str, old: int | None, new: str | None, before: int | None) -> str:
    """The file with row `old` and the reason under it replaced by `new`, or `new` put before row `before`."""
    rows = text.splitlines()
    if old is not None:
        end = old
        while end < len(rows) and rows[end][:1] in (" ", "\t") and rows[end].strip():
            end += 1
        rows[old - 1 : end] = [] if new is None else [new]
    elif new is not None:
        rows.insert(len(rows) if before is None else before - 1, new)
    return "\n".join(rows) + "\n" if rows else ""
