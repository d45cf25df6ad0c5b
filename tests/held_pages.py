"""A page as it is read, on one line: a letter for each row, then what was left out, and where.

A spoken row is `v` (verse) or `p` (prose), a capital letter if a paragraph begins there, with `-` after it
if a part of it is left out. An empty row is `.`. A row that is left out is `n` (a name), `d` (a direction),
`h` (a heading) or `o` (anything else), with `?` after it if it could also be spoken.
"""

from __future__ import annotations

from functools import cache

from offbook.errors import ScriptError
from offbook.script import LeftOut, Line, Script, parse_script
from offbook.script.sheet import Row, text_rows

LETTERS = {"speaker name": "n", "stage direction": "d", "heading": "h"}


@cache  # several families come to the same page
def picture(text: str, part: str | None = None) -> str:
    """The page as it is read, or the message with which it is refused."""
    try:
        script = parse_script(text, part=part)
    except ScriptError as error:
        return f"refused: {error.what}"
    rows = text_rows(script.text)
    starts: dict[int, int] = {}
    for line in script.lines:
        starts.setdefault(line.paragraph, line.n)
    shown = "".join(_letter(script, row, starts) for row in rows)
    told = [shown, *(_out(o) for o in script.left_out)]
    told += [f"perhaps {o.start}-{o.end}" for o in script.perhaps]
    if script.parts:
        told.append("parts " + ", ".join(script.parts))
    told += [f"cue {c.speaker} {c.start}-{c.end} before {c.before_line}" for c in script.cues]
    return "; ".join(told)


def _letter(script: Script, row: Row, starts: dict[int, int]) -> str:
    if row.blank:
        return "."
    said = [x for x in script.lines if x.start < row.end and x.end > row.start]
    if not said:
        over = [o for o in script.left_out if o.start < row.end and o.end > row.start]
        return "".join(LETTERS.get(o.reason, "o") + ("" if o.sure else "?") for o in over[:1]) or "_"
    return _spoken(said[0], row, starts)


def _spoken(line: Line, row: Row, starts: dict[int, int]) -> str:
    letter = "v" if line.verse else "p"
    whole = line.text == row.text
    return (letter.upper() if starts[line.paragraph] == line.n else letter) + ("" if whole else "-")


def _out(out: LeftOut) -> str:
    return f"{out.reason}{'' if out.sure else '?'} {out.start}-{out.end}"


def without_a_row(text: str) -> list[str]:
    """The page without each of its printed rows in turn."""
    rows = text.split("\n")
    return ["\n".join(rows[:k] + rows[k + 1 :]) for k, row in enumerate(rows) if row.strip()]


def cut_short(text: str) -> list[str]:
    """The page up to each of its printed rows."""
    rows = text.split("\n")
    return ["\n".join(rows[:k]) + "\n" for k, row in enumerate(rows) if k and row.strip()]
