"""How well speeches and poems are read as people copy them: with headings, names, numbers and directions.

    python bench/copied.py --package DIR [--folder DIR] [--kept | --developed] [--show N]

An item is right if exactly the words of the speech are taken as spoken. `lost unseen` counts the items in
which a spoken word is not taken, and is not shown among what was left out either. The works (plays,
authors) and the ways of copying are divided into two halves: `developed` were looked at while the reading
was written, `kept` were not. For the texts see `copied_texts.py`, for the ways of copying
`copied_kinds.py`.
"""

from __future__ import annotations

import argparse
import random
import re
import sys
import tempfile
import zlib
from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))

import copied_kinds as kinds
import copied_texts as texts
from copied_texts import Piece

from offbook import script as scripts
from offbook.errors import OffbookError

EACH = 7  # pieces for each way of copying, set by hand: some 350 items in all


@dataclass(frozen=True)
class Item:
    """A text as somebody copied it. way: how it was copied. suffix: of its file."""

    piece: Piece
    way: str
    text: str
    suffix: str = ".txt"


def kept_back(piece: Piece) -> bool:
    """Whether a piece belongs to a work (or, for sonnets, has a number) that was not looked at."""
    return zlib.crc32((piece.work or piece.name).encode()) % 2 == 1


def _tidy(piece: Piece) -> Piece:
    """The piece with the name of a work, so that there is a heading to copy with it."""
    return replace(piece, work=piece.work or "Measure for Measure" if piece.kind != "poem" else piece.work)


def items(speeches: Sequence[Piece], poems: Sequence[Piece], kept: bool, seed: int) -> Iterator[Item]:
    """The items of one of the two halves."""
    r = random.Random(f"{seed} {kept}")
    directed = [p for p in speeches if any(not said for said, _ in p.rows)]
    short = [p for p in speeches if p.kind == "prose" or len(p.rows) < 45]
    heads = kinds.KEPT_SPEECHES if kept else kinds.SPEECHES
    for way, above in heads.items():
        for p in r.sample(short, min(EACH, len(short))):
            yield Item(p, f"head: {way}", above(p, r) + kinds._bracketed(list(p.rows), p, r) + "\n")
    for way, above in (kinds.KEPT_POEMS if kept else kinds.POEMS).items():
        for p in r.sample(poems, min(EACH, len(poems))):
            yield Item(p, f"poem: {way}", above(p, r) + p.said + "\n")
    mixed = [*heads.values()]
    for way, body in (kinds.KEPT_BODIES if kept else kinds.BODIES).items():
        pool = [*directed, *r.sample(short, min(len(short), len(directed)))]
        if "number" in way:  # lines are numbered where they are lines
            pool = [p for p in pool if max(len(text) for _, text in p.rows) < 90]
        for p in r.sample(pool, min(2 * EACH, len(pool))):
            rows = _with_line_breaks(p, way)
            yield Item(p, f"body: {way}", r.choice(mixed)(p, r) + body(rows, p, r) + "\n")
    for way, below in (kinds.KEPT_ENDS if kept else kinds.ENDS).items():
        for p in r.sample(short, min(EACH, len(short))):
            text = r.choice(mixed)(p, r) + kinds._bracketed(list(p.rows), p, r) + below(p, r)
            yield Item(p, f"end: {way}", text)
    yield from _documents(short, poems, kept, r)


def _with_line_breaks(p: Piece, way: str) -> list[tuple[bool, str]]:
    """The rows of a piece. Prose with one long row for each paragraph has no line numbers."""
    return list(p.rows)


def _documents(
    speeches: Sequence[Piece], poems: Sequence[Piece], kept: bool, r: random.Random
) -> Iterator[Item]:
    for p in r.sample(list(speeches), EACH):
        work = f"{p.work}, Act {p.act or 1} Scene {p.scene or 1}" if not kept else p.work
        yield Item(p, "docx: heading, bold name", f"{work}\n\x01{p.name.upper()}\n{p.said}", ".docx")
    for p in r.sample(list(poems), EACH):
        title = kinds._title(p, r)
        yield Item(p, "docx: poem with a title style", f"\x02{title}\n{p.author}\n\n{p.said}", ".docx")
    for p in r.sample(list(speeches), EACH):
        text = f"{p.work}\nAct {p.act or 1}, Scene {p.scene or 1}\n\n{p.name.upper()}\n{p.said}"
        yield Item(p, "pdf: heading and name", text, ".pdf")


def _docx(path: Path, text: str) -> None:
    from docx import Document

    document = Document()
    for line in text.splitlines():
        if line.startswith("\x02"):
            document.add_paragraph(line[1:], style="Title")
        else:
            document.add_paragraph().add_run(line.lstrip("\x01")).bold = line.startswith("\x01") or None
    document.save(str(path))


def _pdf(path: Path, text: str) -> None:
    from reportlab.lib.pagesizes import A4
    from reportlab.pdfgen.canvas import Canvas

    canvas = Canvas(str(path), pagesize=A4)
    y = A4[1] - 72
    for line in text.splitlines():
        if y < 72:
            canvas.showPage()
            y = A4[1] - 72
        canvas.drawString(72, y, line)
        y -= 15
    canvas.save()


def _folded(text: str) -> list[str]:
    return re.findall(r"[^\W_]+", text.lower())


@dataclass(frozen=True)
class Result:
    """What was done with an item: the words too many and those missing, and which were not shown."""

    item: Item
    right: bool
    extra: list[str]
    missing: list[str]
    unseen: bool
    error: str = ""


def judge(item: Item, folder: Path) -> Result:
    """Read an item as offbook does, and compare it with what is spoken."""
    path = folder / f"copied{item.suffix}"
    if item.suffix == ".docx":
        _docx(path, item.text)
    elif item.suffix == ".pdf":
        _pdf(path, item.text)
    else:
        path.write_text(item.text, encoding="utf-8")
    wanted = _folded(item.piece.said)
    try:
        script = scripts.load_script(path)
    except OffbookError as e:
        return Result(item, False, [], wanted, True, e.what)
    got = _folded("\n".join(line.text for line in script.lines))
    extra, missing = Counter(got) - Counter(wanted), Counter(wanted) - Counter(got)
    shown = Counter(_folded("\n".join(out.text for out in script.left_out)))
    return Result(
        item, got == wanted, list(extra.elements()), list(missing.elements()), bool(missing - shown)
    )


def main() -> None:
    """Measure, and print the figures for each way of copying."""
    ask = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    ask.add_argument("--package", type=Path, required=True)
    ask.add_argument("--folder", type=Path)
    ask.add_argument("--kept", action="store_true")
    ask.add_argument("--developed", action="store_true")
    ask.add_argument("--show", type=int, default=0, metavar="N", help="Show N items that were read wrongly.")
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("--way", default="")
    given = ask.parse_args()
    pieces = [_tidy(p) for p in texts.plays(given.package, 60, given.seed) if "Seigneur" not in p.said]
    verses = list(texts.sonnets(given.package))
    more = list(texts.folder_pieces(given.folder)) if given.folder else []
    verses = [*[p for p in more if p.kind == "poem"] * 4, *verses[:60]]
    pieces += [p for p in more if p.kind != "poem"] * 8
    halves = [k for k, on in ((False, given.developed), (True, given.kept)) if on] or [False, True]
    for kept in halves:
        said = [p for p in pieces if kept_back(p) == kept]
        recited = [p for p in verses if kept_back(p) == kept]
        with tempfile.TemporaryDirectory() as folder:
            asked = items(said, recited, kept, given.seed)
            found = [judge(i, Path(folder)) for i in asked if given.way in i.way]
        _report("kept back" if kept else "developed", found, given.show)


def _report(half: str, found: Sequence[Result], show: int) -> None:
    by_way: dict[str, list[Result]] = defaultdict(list)
    for result in found:
        by_way[result.item.way].append(result)
    for way, results in by_way.items():
        right = sum(r.right for r in results)
        print(f"{right:>4} of {len(results):<4} {way}" + ("" if right == len(results) else "   <"))
    wrong = [r for r in found if not r.right]
    lost = sum(bool(r.missing) for r in found)
    print(
        f"{half}: {len(found) - len(wrong)} of {len(found)} right "
        f"({(len(found) - len(wrong)) / max(len(found), 1):.1%}); "
        f"{lost} lose a spoken word, {sum(r.unseen for r in found)} of them unseen"
    )
    for r in wrong[:show]:
        print(f"--- {r.item.way} | extra {r.extra[:12]} | missing {r.missing[:12]} {r.error}")
        text = r.item.text
        print(text if len(text) < 900 else text[:500] + "\n   ...\n" + text[-300:])


if __name__ == "__main__":
    main()
