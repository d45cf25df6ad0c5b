"""The page of a document with styles, built paragraph by paragraph.

The readers of docx and odt both use it: each gives its paragraphs with the names of their styles. Here they
become the lines of a text, with marks for what the styles mean: headings, italics, and the speakers and
directions of a script template.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from offbook.script.sheet import Mark, Page

# The names of styles in word processors and script templates, in small letters, by what they mean.
_HEADINGS = re.compile(
    r"(?:heading|title|subtitle|toc|überschrift|contents|header|footer|caption|act|scene)\b"
)
_SCENES = re.compile(r"(?:scene heading|slug ?line|shot|act|new act|end of act)\b")
_NAMES = re.compile(r"(?:character|character name|speaker|cue|role)(?: name)?(?: \d+)?$")
_DIRECTIONS = re.compile(
    r"(?:parenthetical|action|stage directions?|transition|direction|sd|general|scene description|cast list)$"
)
# A paragraph with more characters than this is prose and gets a blank line on both sides; shorter ones may be
# lines of verse. Set by hand: the longest line of verse has about 75.
_PROSE = 100


class Builder:
    """Collects paragraphs into a `Page`."""

    def __init__(self) -> None:
        self._text: list[str] = []
        self._size = 0
        self._marks: list[Mark] = []
        self._italics: list[tuple[int, int]] = []
        self._title = ""
        self._last_long = False
        self._names = 0

    def paragraph(
        self, runs: Sequence[tuple[str, bool, str]], style: str, same_row: bool | None = None
    ) -> None:
        """Add a paragraph.

        runs: its pieces, each as its text, whether it is italic, and why it is left out ("" if it is not).
        style: the name of its style. same_row: True if it continues the line before, as a table's next cell
        does.
        """
        said = "".join(text for text, _, _ in runs)
        kind = style.casefold()
        long = len(said) > _PROSE or bool(_HEADINGS.match(kind))
        if self._size:
            self._put("\t" if same_row else "\n\n" if long or self._last_long else "\n")
        start = self._size
        for text, italic, reason in runs:
            at = self._size
            self._put(text)
            if reason:
                self._marks.append(Mark(at, self._size, "out", reason))
            elif italic and text.strip():
                if self._italics and self._italics[-1][1] == at:
                    at = self._italics.pop()[0]
                self._italics.append((at, self._size))
        self._last_long = long
        if any(c.isalnum() for c in said):
            self._styled(start, said, kind)

    def _styled(self, start: int, said: str, kind: str) -> None:
        first = start + len(said) - len(said.lstrip())
        end = first + len(said.strip())
        if _NAMES.match(kind):
            from offbook.script.finders.speakers import clean_name

            self._names += 1
            self._marks.append(Mark(first, end, "speaker", clean_name(said)))
        elif _SCENES.match(kind) or _HEADINGS.match(kind):
            self._marks.append(Mark(first, end, "out", "heading"))
            if not self._title and re.match(r"title|heading 1$", kind):
                self._title = " ".join(said.split())
        elif _DIRECTIONS.match(kind):
            self._marks.append(Mark(first, end, "out", "stage direction"))

    def _put(self, text: str) -> None:
        self._text.append(text)
        self._size += len(text)

    def page(self) -> Page:
        """The page. A single paragraph in a speaker's style is not taken for a speaker."""
        marks = self._marks
        if self._names == 1:
            marks = [m for m in marks if m.kind != "speaker"]
        return Page("".join(self._text), title=self._title, marks=tuple(marks), italics=tuple(self._italics))
