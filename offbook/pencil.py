"""The pencil file: the performer's own marks, saved beside the script. They overrule the computed ones.

A performer who disagrees with a mark writes a plain text file, named after the script (`helena.txt.pencil`).
It quotes the speech, with the mark at its place:

    # anything after a hash is a note to yourself
    his memory ||| But thou contracted to
        I turn on him at last
    the world || or else this glutton
    tender churl + mak'st waste
    thine own [re-VEN-ue] is spent
    [as-PECT]

`|` is a phrase, `||` a thought, `|||` a turn; `+` means that there is no mark. An indented line gives another
reason for the mark above it. A word in square brackets shows how it is said: hyphens separate its syllables,
capitals are stressed. With words around it this is only for that place, alone for the whole script. With a
line `only these marks` the computed shifts are not used, and a line `metre: trochaic tetrameter` sets the
metre of the verse.

An entry is found by its quoted words, not by a line number, so the file still fits after a change of the
script. If the words are no longer there, the most similar ones are taken. An entry whose place cannot be
found is kept in the file and reported; offbook does not guess.
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
from offbook.phrasing import PERCENT
from offbook.script import Script
from offbook.spelling import PRINTED_WORD
from offbook.words import Word

SUFFIX = ".pencil"
ONLY = "only these marks"
RUN_ON: Literal[0] = 0
# All set by hand, on the scripts of the tests with changed words.
NEAR = 0.62  # how similar, 0 to 1, quoted words and a place in the script must be
CLEAR = 0.05  # by how much the best place must be better than the next
CONTEXT = 3  # words quoted on each side in a file that offbook writes; more if they occur more than once
LONGEST_CONTEXT = 8
# A word that is not in the script: how similar another must be, 0 to 100; how many
_LIKE_A_WORD, _MOST_LIKE = 75, 2
# The parts of the similarity of two rows of words: of words that are the same, of letters, of the word at the
# mark.
_SAME_WORDS, _SAME_LETTERS, _NEAREST_WORD = 0.4, 0.35, 0.25

Mark = Literal[0, 1, 2, 3]

_BARS: dict[str, Mark] = {"|": 1, "||": 2, "|||": 3, "+": RUN_ON}
_SIGNS: dict[int, str] = {grade: sign for sign, grade in _BARS.items()}
_FIX = re.compile(r"\[([^\[\]]+)\]")
_METRE = re.compile(r"met(?:re|er)\s*:\s*(\S.*)$", re.IGNORECASE)
# Of a word in the script: one that is more common does not show where a mark belongs; set by hand
_MOST_PLACES = 200


class PencilError(OffbookError):
    """The pencil file cannot be read or written."""


@dataclass(frozen=True, slots=True)
class PencilShift:
    """A mark of the performer's.

    grade: 1 to 3, or 0 if there must be no mark. reason: None if the performer gave none. row: of the file,
    from 1.
    """

    before_word: int
    grade: Mark
    reason: str | None
    row: int


@dataclass(frozen=True, slots=True)
class Unplaced:
    """An entry of the file that could not be used: its row (from 1), its text, and why."""

    row: int
    text: str
    why: str


@dataclass(frozen=True, slots=True)
class Pencil:
    """What a pencil file says about the present script.

    fixes: the stress of a word by its index, one w or s for each syllable (as `verse.scan` takes it). only:
    whether the computed shifts are not used. metre: its name as written, and the row; None if none is set.
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
    """Where the pencil file of `script` is, whether or not it exists; None if the script has no file."""
    if not script.source or script.source == "-":
        return None
    source = Path(script.source)
    return source.with_name(source.name + SUFFIX)


def load_pencil(path: Path, words: Sequence[Word]) -> Pencil:
    """The pencil file at `path`, applied to `words`. Empty if there is no file."""
    if not os.path.lexists(path):
        return Pencil()
    return read_pencil(read_text(path, PENCIL, PencilError), words)


def read_pencil(text: str, words: Sequence[Word]) -> Pencil:
    """The text of a pencil file, applied to `words`."""
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
    """The entries of a file, whether only they count, the rows that cannot be read, and the metre."""
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
    """The entry on one line of the file, or a sentence that says why it cannot be read."""
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
    return tuple(_bare(m.group()) for m in PRINTED_WORD.finditer(text))


def _bare(word: str) -> str:
    """A word to be compared, without apostrophes at its ends, which people often leave out."""
    return dictionary_form(word).strip("'")


class _Finder:
    """Finds quoted words in the words of a script."""

    def __init__(self, words: Sequence[Word]) -> None:
        self.words = [_bare(w.text) for w in words]
        self.where: dict[str, list[int]] = {}
        for i, w in enumerate(self.words):
            self.where.setdefault(w, []).append(i)

    def place(self, entry: _Entry, at: int) -> tuple[int | None, str]:
        """The index of the word after the mark, or None and the reason.

        at: the place of the entry before. If the same words are at several places, the first one after it is
        taken, because the entries are in the order of the script.
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
        """How many words to quote before and after word `i`: if possible, so many that they are unique."""
        for n in range(CONTEXT, LONGEST_CONTEXT + 1):
            b, a = min(n, i), min(n, len(self.words) - i)
            quoted = self.words[i - b : i + a]
            places = self.where[self.words[i]]
            if sum(j >= b and self.words[j - b : j + a] == quoted for j in places) == 1:
                break
        return b, a

    def _nearest(self, entry: _Entry) -> tuple[int | None, str]:
        """The most similar place. Only places with a quoted word, or one similar to it, are compared."""
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
        # For a stress only the word in brackets counts; a shift may be near any quoted word.
        for offset, word in quoted if entry.stress is None else [q for q in quoted if q[0] == 0]:
            hits = self.where.get(word)
            if hits is None:
                like = process.extract(word, self.where.keys(), limit=_MOST_LIKE, score_cutoff=_LIKE_A_WORD)
                hits = [i for found, _, _ in like for i in self.where[found]]
            if len(hits) <= _MOST_PLACES:
                places |= {i - offset + d for i in hits for d in (-1, 0, 1)}
        if entry.stress is not None:
            places &= {i for i in places if 0 <= i < len(self.words) and self.words[i] == entry.after[0]}
        return {i for i in places if 0 <= i < len(self.words)}

    def _alike(self, entry: _Entry, i: int) -> float:
        """How similar the words around `i` are to those quoted, 0 to 1; those next to the mark count most."""
        sides = []
        if entry.before:
            sides.append(_side(entry.before[::-1], self.words[max(0, i - len(entry.before) - 1) : i][::-1]))
        sides.append(_side(entry.after, self.words[i : i + len(entry.after) + 1]))
        return sum(sides) / len(sides)


def _side(quoted: Sequence[str], found: Sequence[str]) -> float:
    """How similar the words on one side of the mark are, 0 to 1; the one next to the mark comes first."""
    from rapidfuzz import fuzz
    from rapidfuzz.distance import Indel

    if not found:
        return 0.0
    same = Indel.normalized_similarity(list(quoted), list(found[: len(quoted)]))
    nearest = fuzz.ratio(quoted[0], found[0]) / PERCENT
    letters = fuzz.ratio(" ".join(quoted), " ".join(found[: len(quoted)])) / PERCENT
    return _SAME_WORDS * same + _SAME_LETTERS * letters + _NEAREST_WORD * nearest


def new_pencil_text(title: str, words: Sequence[Word], shifts: Iterable[tuple[int, int, str]]) -> str:
    """The text of a new pencil file with all computed marks, for the performer to change.

    shifts: each as (before_word, grade, reason).
    """
    finder = _Finder(words)
    rows = [
        f"# Marks for {title}. Change, move, add or delete lines: the script gets the marks in this file.",
        "# | phrase   || thought   ||| turn   + no mark here. An indented line is the reason.",
        "# [re-VEN-ue] between other words shows how a word is said there; alone, everywhere.",
        "# metre: blank verse   sets the metre of the verse.",
        "# Delete the next line to keep offbook's own marks wherever you have written none.",
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
    """Write a new pencil file. Raises PencilError if there is one, which is never overwritten."""
    try:
        write_whole(path, text, new=True)
    except FileExistsError as e:
        raise PencilError(
            f"{path} already exists", "it has your marks: edit it, or move it away to begin a new one"
        ) from e
    except OSError as e:
        raise PencilError(
            f"cannot write {path}: {e.strerror}", "choose a script in a folder you can write to"
        ) from e


# One mark changed, for a page on which the performer edits the file ---------------------------------


def with_mark(
    text: str, words: Sequence[Word], before_word: int, grade: Mark | None, reason: str = ""
) -> str:
    """The text of a pencil file with another mark before a word. grade: None to remove the file's mark there.

    Everything else in the file stays as it is, with the performer's own notes.
    """
    shifts = {s.before_word: s.row for s in read_pencil(text, words).shifts}
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
    """The text of a pencil file that says how a word is said at its place.

    said: as in "re-VEN-ue"; None to remove what the file says. Raises PencilError if `said` is not that word.
    """
    row = None
    finder = _Finder(words)
    if said is not None:
        if _bare(said.replace("-", "")) != _bare(words[word].text):
            raise PencilError(
                f"“{said}” is not the word {words[word].text}",
                "write the same letters, with hyphens between the syllables and the stressed one in capitals",
            )
        before, after = finder.context(word)
        quoted = " ".join(w.text for w in words[word - before : word])
        row = f"{quoted} [{said}] {' '.join(w.text for w in words[word + 1 : word + after])}".strip()
    entries = _entries(text)[0]
    there = [e.row for e in entries if e.stress is not None and finder.place(e, -1)[0] == word]
    return _with_row(text, there[0] if there else None, row, None)


def _with_row(text: str, old: int | None, new: str | None, before: int | None) -> str:
    """The file with `new` in place of row `old` and the reason under it, or put before row `before`.

    old: None to add a row. new: None to delete. before: None for the end.
    """
    rows = text.splitlines()
    if old is not None:
        end = old
        while end < len(rows) and rows[end][:1] in (" ", "\t") and rows[end].strip():
            end += 1
        rows[old - 1 : end] = [] if new is None else [new]
    elif new is not None:
        rows.insert(len(rows) if before is None else before - 1, new)
    return "\n".join(rows) + "\n" if rows else ""
