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
