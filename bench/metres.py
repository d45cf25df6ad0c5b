"""How often the metre that offbook finds for a passage is the one that handbooks give.

    python bench/metres.py [--wrong] [--half odd|even|new]

The passages are in `metre_passages.txt`, each with the names that are right for it and the handbook. Of the
first 85, every second one (the even half) was not looked at until the odd half was right; 38 of its 42 were
right then. The passages from the 86th on (new) were written when nothing was changed any more and had no
influence, except that one of them, "Virtue", was given a second right name after its answer was seen. A
name is right if it begins with one of the accepted names.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from offbook.script import parse_script
from offbook.verse import scan
from offbook.words import words_of

MENDED_ON = 85  # passages with whose figures in view something was changed
PARTS = {"odd": "odd, seen", "even": "even, seen last", "new": "new, took no part"}
PASSAGES = Path(__file__).with_name("metre_passages.txt")


@dataclass(frozen=True, slots=True)
class Passage:
    """One passage. number: its place in the file, from 1. accepted: the names that are right."""

    number: int
    title: str
    accepted: tuple[str, ...]
    source: str
    text: str

    @property
    def half(self) -> str:
        """The part of the file that it belongs to: `odd`, `even` or `new`."""
        return "new" if self.number > MENDED_ON else "odd" if self.number % 2 else "even"


def passages(path: Path = PASSAGES) -> Iterator[Passage]:
    """The passages of the file, in order."""
    for number, piece in enumerate(path.read_text(encoding="utf-8").split("\n@ ")[1:], 1):
        head, _, text = piece.partition("\n")
        title, accepted, source = head.split(" | ", 2)
        names = tuple(name.strip() for name in accepted.split(" / "))
        yield Passage(number, title, names, source, text.strip() + "\n")


def metre_of(passage: Passage) -> str:
    """The name that offbook gives the metre; "prose" if it does not scan the passage."""
    script = parse_script(passage.text)
    return scan(script, words_of(script)).metre or "prose"


def main() -> None:
    """Print the share of right names in each half and, if asked, the wrong ones."""
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--wrong", action="store_true", help="name the passages that are wrong")
    ask.add_argument("--half", choices=tuple(PARTS), help="only this part")
    asked = ask.parse_args()
    right: dict[str, list[bool]] = {part: [] for part in PARTS}
    for passage in passages():
        if asked.half and passage.half != asked.half:
            continue
        found = metre_of(passage)
        ok = found.startswith(passage.accepted)
        right[passage.half].append(ok)
        if asked.wrong and not ok:
            print(f"{passage.number:3d} {passage.title}: {found}, not {' or '.join(passage.accepted)}")
    for part, name in PARTS.items():
        if right[part]:
            print(f"{name}: {sum(right[part])} of {len(right[part])} right")


if __name__ == "__main__":
    main()
