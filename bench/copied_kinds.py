"""The ways in which a speech or a poem is copied together with what is around it, for `bench/copied.py`.

Each way is a function that gets a piece and adds what is above it, in it or below it. The ways in
`DEVELOPED` were looked at while the reading was written. Those in `KEPT` were not, so theirs is the figure
that counts.
"""

from __future__ import annotations

import random
from collections.abc import Callable

from copied_texts import Piece

Above = Callable[[Piece, random.Random], str]


def roman(n: int) -> str:
    """A number up to 199 in Roman numerals."""
    ones = ["", "I", "II", "III", "IV", "V", "VI", "VII", "VIII", "IX"]
    tens = ["", "X", "XX", "XXX", "XL", "L", "LX", "LXX", "LXXX", "XC"]
    return "C" * (n // 100) + tens[n // 10 % 10] + ones[n % 10]


def proper(name: str) -> str:
    """A name in which each word begins with a capital."""
    return " ".join(w.capitalize() if w.isupper() else w for w in name.split())


def short(name: str) -> str:
    """A name that is shortened, as old editions print it."""
    word = name.split()[-1]
    return word[:3].capitalize() + "."


def _act(p: Piece) -> int:
    return p.act or 1


def _scene(p: Piece) -> int:
    return p.scene or 1


def _words(n: int) -> str:
    return ["Zero", "One", "Two", "Three", "Four", "Five", "Six", "Seven", "Eight", "Nine", "Ten"][n % 11]


SPEECHES: dict[str, Above] = {
    "work, act and scene, name": lambda p, r: (
        f"{p.work}\nAct {_act(p)}, Scene {_scene(p)}\n\n{p.name.upper()}\n"
    ),
    "WORK, act and scene in a line": lambda p, r: (
        f"{p.work.upper()}, Act {roman(_act(p))}, Scene {_scene(p)}\n{p.name.upper()}\n"
    ),
    "work, NAME": lambda p, r: f"{p.work}\n\n{p.name.upper()}\n",
    "Name:": lambda p, r: f"{proper(p.name)}:\n",
    "Name - Work 2.2": lambda p, r: f"{proper(p.name)} - {p.work} {_act(p)}.{_scene(p)}\n\n",
    "NAME. text": lambda p, r: f"{p.name.upper()}. ",
    "edition: scene, place, Enter, NAME. text": lambda p, r: (
        f"ACT {roman(_act(p))}. SCENE {roman(_scene(p))}. {p.place}\n"
        f"Enter {p.name.upper()}\n{p.name.upper()}. "
    ),
    "NAME.": lambda p, r: f"{p.name.upper()}.\n",
    "NAME: text": lambda p, r: f"{p.name.upper()}: ",
    "Name": lambda p, r: f"{proper(p.name)}\n",
    "nothing": lambda p, r: "",
    "Name (work)": lambda p, r: f"{proper(p.name)} ({p.work})\n\n",
}
KEPT_SPEECHES: dict[str, Above] = {
    "work (name)": lambda p, r: f"{p.work} ({proper(p.name)})\n\n",
    "Name's monologue from work": lambda p, r: (
        f"{proper(p.name)}'s {r.choice(['monologue', 'speech', 'soliloquy'])} from {p.work}\n\n"
    ),
    "work by author, act, Name": lambda p, r: (
        f"{p.work} by {p.author}\nAct {_act(p)} Scene {_scene(p)}\n{proper(p.name)}\n"
    ),
    "WORK, by author, NAME: text": lambda p, r: f"{p.work.upper()}\nby {p.author}\n\n{p.name.upper()}: ",
    "Name (Act, Sc.)": lambda p, r: f"{proper(p.name)} (Act {_act(p)}, Sc. {_scene(p)})\n",
    "work, III.i.56-90, Name": lambda p, r: (
        f"{p.work}, {roman(_act(p))}.{roman(_scene(p)).lower()}.{r.randint(20, 90)}-{r.randint(100, 140)}"
        f"\n{proper(p.name)}\n\n"
    ),
    "SCENE, [Enter], Nam. text": lambda p, r: (
        f"SCENE {roman(_scene(p))}. {p.place}\n\n[Enter {proper(p.name)}.]\n\n{short(p.name)} "
    ),
    "from work, 3.1, NAME": lambda p, r: f"from {p.work}, {_act(p)}.{_scene(p)}\n\n{p.name.upper()}\n",
    "NAME — work, Act, Scene": lambda p, r: (
        f"{p.name.upper()} — {p.work}, Act {_act(p)}, Scene {_scene(p)}\n\n"
    ),
    "work - Act - Name": lambda p, r: f"{p.work} - Act {_act(p)} Scene {_scene(p)} - {proper(p.name)}\n\n",
    "III, i NAME": lambda p, r: f"{roman(_act(p))}, {roman(_scene(p)).lower()}\n\n{p.name.upper()}\n",
    "author, work, Name:": lambda p, r: f"{p.author}\n{p.work}\n\n{proper(p.name)}: ",
    "work, Act, Scene, place, Name": lambda p, r: (
        f"{p.work}\nAct {_words(_act(p))}\nScene {_words(_scene(p))}\n{p.place}\n\n{proper(p.name)}\n"
    ),
    "NAME tab text": lambda p, r: f"{p.name.upper()}\t",
    "[work, act] NAME (direction)": lambda p, r: (
        f"[{p.work}, Act {roman(_act(p))}]\n\n{p.name.upper()} (alone)\n"
    ),
    "Character: Name / Play: work": lambda p, r: (
        f"Character: {proper(p.name)}\nPlay: {p.work}\nPlaywright: {p.author}\n\n"
    ),
    "quoted work": lambda p, r: f"“{p.work}” – {p.author} – {proper(p.name)}\n\n",
    "Enter NAME., NAME text below": lambda p, r: f"Enter {p.name}.\n\n{p.name.upper()}\n\n",
}

POEMS: dict[str, Above] = {
    "title": lambda p, r: f"{_title(p, r)}\n\n",
    "title, by author": lambda p, r: f"{_title(p, r)}\nby {p.author}\n\n",
    "TITLE": lambda p, r: f"{_title(p, r).upper()}\n\n",
    "author, title": lambda p, r: f"{p.author}\n{_title(p, r)}\n\n",
    "title - author": lambda p, r: f"{_title(p, r)} - {p.author}\n\n",
    "nothing": lambda p, r: "",
}
KEPT_POEMS: dict[str, Above] = {
    "title, author": lambda p, r: f"{_title(p, r)}\n\n{p.author}\n\n",
    "title, author, no blank": lambda p, r: f"{_title(p, r)}\n{p.author}\n",
    "title (year), author": lambda p, r: f"{_title(p, r)} ({p.year})\n{p.author}\n\n",
    "author: title": lambda p, r: f"{p.author}: {_title(p, r)}\n\n",
    "author, quoted title": lambda p, r: f"{p.author}, “{_title(p, r)}”\n\n",
    "TITLE, BY AUTHOR": lambda p, r: f"{_title(p, r).upper()}\n\nBY {p.author.upper()}\n\n",
    "title, author (dates)": lambda p, r: f"{_title(p, r)}\nby {p.author} (1770–1850)\n\n",
    "title on the first line": lambda p, r: f"{_title(p, r)}\n",
    "nothing at all": lambda p, r: "",
    "first line for a title": lambda p, r: f"{p.rows[0][1].rstrip(',;:.')}\n\n",
}


def _title(p: Piece, r: random.Random) -> str:
    if p.work:
        return p.work
    return r.choice([f"Sonnet {p.scene}", f"Sonnet {roman(p.scene)}", roman(p.scene), f"SONNET {p.scene}"])


Set = Callable[[list[tuple[bool, str]], Piece, random.Random], str]


def _own_row(rows: list[tuple[bool, str]], p: Piece, r: random.Random) -> str:
    return "\n".join(text if said else _stopped(text, r) for said, text in rows)


def _stopped(text: str, r: random.Random) -> str:
    return text if text[-1] in ".!?" or r.random() < 0.5 else text + "."


def _bracketed(rows: list[tuple[bool, str]], p: Piece, r: random.Random) -> str:
    pair = r.choice(["()", "[]"])
    return "\n".join(text if said else pair[0] + text + pair[1] for said, text in rows)


def _indented(rows: list[tuple[bool, str]], p: Piece, r: random.Random) -> str:
    return "\n".join(text if said else f"\t({text.rstrip('.')})" for said, text in rows)


def _apart(rows: list[tuple[bool, str]], p: Piece, r: random.Random) -> str:
    return "\n".join(text if said else f"\n{_stopped(text, r)}\n" for said, text in rows)


def _numbered(rows: list[tuple[bool, str]], p: Piece, r: random.Random) -> str:
    """Every fifth line has its number at the right, and the numbers begin somewhere in the middle."""
    n, out = r.randint(1, 80), []
    width = max(len(text) for _, text in rows) + 4
    for said, text in rows:
        if not said:
            out.append(f"    [{text}]")
            continue
        out.append(text + (" " * (width - len(text)) + str(n) if n % 5 == 0 and text else ""))
        n += bool(text)
    return "\n".join(out)


def _numbered_left(rows: list[tuple[bool, str]], p: Piece, r: random.Random) -> str:
    """Every line has its number before it."""
    n, out = r.randint(1, 80), []
    for said, text in rows:
        out.append(f"{n:<4}{text}" if said and text else f"    [{text}]" if text else "")
        n += said and bool(text)
    return "\n".join(out)


def _numbers_between(rows: list[tuple[bool, str]], p: Piece, r: random.Random) -> str:
    """Every fifth number is on a row of its own, as if copied from a page that has them in a column."""
    n, out = r.randint(1, 80), []
    for said, text in rows:
        out.append(text if said else f"[{text}]")
        if said and text and n % 5 == 0:
            out.append(str(n))
        n += said and bool(text)
    return "\n".join(out)


def _numbered_tight(rows: list[tuple[bool, str]], p: Piece, r: random.Random) -> str:
    """Every tenth line has its number after it, with one space between, as some pages copy."""
    n, out = r.randint(1, 80), []
    for said, text in rows:
        out.append((f"{text} {n}" if n % 10 == 0 and text else text) if said else f"({text})")
        n += said and bool(text)
    return "\n".join(out)


BODIES: dict[str, Set] = {
    "own row": _own_row,
    "bracketed": _bracketed,
    "numbered right": _numbered,
    "indented": _indented,
}
KEPT_BODIES: dict[str, Set] = {
    "own paragraph": _apart,
    "numbered left": _numbered_left,
    "numbers between": _numbers_between,
    "numbered tight": _numbered_tight,
}

Below = Callable[[Piece, random.Random], str]
ENDS: dict[str, Below] = {
    "nothing": lambda p, r: "",
    "Exit": lambda p, r: "\n\nExit\n",
    "[Exit.]": lambda p, r: "    [Exit.]\n",
    "Exit NAME": lambda p, r: f"\nExit {p.name}\n",
    "Exeunt": lambda p, r: "\n\nExeunt\n",
}
KEPT_ENDS: dict[str, Below] = {
    "— author": lambda p, r: f"\n\n— {p.author}\n" if p.author else "",
    "(work, act)": lambda p, r: f"\n\n({p.work or p.author}, Act {_act(p)}, Scene {_scene(p)})\n",
    "He exits": lambda p, r: "\n\nHe exits.\n",
    "Exit. at the line's end": lambda p, r: "  Exit.\n",
    "source line": lambda p, r: f"\n\nFrom {p.work or 'The Sonnets'} by {p.author}\n",
    "Exeunt all but": lambda p, r: "\n\nExeunt all but HORATIO\n",
    "Blackout.": lambda p, r: "\n\nBlackout.\n",
}
