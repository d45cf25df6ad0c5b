"""What is read from a page, as pairs and lists that a test can write down: for the tests of single pages."""

from __future__ import annotations

from offbook.script import Script, parse_script


def lines_said(text: str | Script) -> list[str]:
    """The spoken lines of a page."""
    script = parse_script(text) if isinstance(text, str) else text
    return [line.text for line in script.lines]


def not_said(text: str | Script) -> list[tuple[str, str]]:
    """What was left out, each with its reason; "?" behind the reason if it could also be spoken."""
    script = parse_script(text) if isinstance(text, str) else text
    return [(out.text, out.reason + ("" if out.sure else "?")) for out in script.left_out]


_SHORT = {"speaker name": "name", "stage direction": "direction", "before the first speech": "before"}


def around(above: str, body: str, below: str = "") -> str:
    """What is left out above and below a speech, in order, each with its reason; then what else is spoken.

    The speech itself must be spoken, row by row. above, below: what is printed around it.
    """
    script = parse_script(above + body + below)
    told = []
    for text, reason in not_said(script):
        plain = reason.removesuffix("?")
        told.append(f"{_SHORT.get(plain, plain)}{reason[len(plain) :]}: {text}")
    told += [f"perhaps: {mark.text}" for mark in script.perhaps]
    said, rows = lines_said(script), [row.strip() for row in body.splitlines() if row.strip()]
    first = next(k for k, line in enumerate(said) if line.endswith(rows[0]))
    last = first + len(rows)
    assert said[first + 1 : last] == rows[1:]
    more = [*said[:first], said[first].removesuffix(rows[0]).strip(), *said[last:]]
    return "; ".join([*told, *(f"said: {row}" for row in more if row)])
