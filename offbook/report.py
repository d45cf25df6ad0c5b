"""Charts of progress: as text for the terminal, as SVG for the page and for paper.

Both show the same: one bar for each local day, solid up to the accuracy with unsure words counted as missed,
lighter up to the accuracy with unsure words counted as said, and a line at 98 %, which is off book. In the
SVG a bar begins at 0 %. In the terminal it begins at 50 %, and the screen says so: if all of it had to fit
into thirty characters, 91 % and 94 % would look the same. Colour is never the only difference: the parts of a
bar differ in their pattern, and every figure is written beside it.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from datetime import date
from xml.sax.saxutils import escape

from offbook.phrasing import PERCENT
from offbook.progress import OFF_BOOK, DayAccuracy, StretchHistory
from offbook.score import accuracy_share

BAR = 30  # characters of a bar in the terminal
TEXT_FROM = 0.5  # the share of the words at the left end of a bar in the terminal; set by hand
WIDTH, ROW, LEFT, RIGHT, TOP = 760, 22, 190, 150, 64  # of the SVG, in px
_BELOW, _TICK_AT = 24, 16  # px from the last row down to the chart's edge, and to the figures of the scale
# px in a row: from its top to the bar, from the bar's height to the row's, from its top to the base line of
# the text
_BAR_AT, _BAR_LESS, _TEXT_AT = 3, 8, 14
_BESIDE_NAME, _BESIDE_FIGURE = 8, 10  # px between the bars and the texts to their left and right
_LINE_ABOVE = 6  # px by which the line of off book begins above the bars
_TICKS = (0.0, 0.25, 0.5, 0.75, 1.0)  # the shares of the words that the scale has figures for
_DAY, _FIGURE = 9, 11  # characters of the columns for the day and for its figure, without the gaps
_ROUNDING = 1e-9  # added to a length before it is cut down to whole characters
_WIDE = 78  # columns of a terminal in which a bar has its full length; set by hand
_NARROW_BAR = 3  # in a narrower one a bar has a third of it
_STRETCH_WIDTH = 46  # characters of a line's text; set by hand, so that its figure fits into 78 columns
_LONGEST_NAME = 24  # characters of a line's text beside its bar; set by hand


def day_name(day: date) -> str:
    """A day as people write it: Mon 2 Mar."""
    return f"{day:%a} {day.day} {day:%b}"


def text_chart(days: Sequence[DayAccuracy], width: int = _WIDE) -> str:
    """Accuracy by day as text, not wider than `width` columns if that is 60 or more; `|` is at 98 %.

    A bar begins at `TEXT_FROM`; whoever shows the chart says so.
    """
    size, gap = (BAR, "  ") if width >= _WIDE else (BAR // _NARROW_BAR, " ")
    rows = []
    for d in days:
        name, figure = (
            day_name(d.day).rjust(_DAY + len(gap)),
            accuracy_share(d.low, d.high).rjust(_FIGURE + 2 * (len(gap) - 1)),
        )
        rows.append(f"{name}{gap}{_bar(d.low, d.high, size)}{gap}{figure}{gap}{_side(d)}".rstrip())
    return "\n".join(rows)


def _bar(low: float, high: float, size: int) -> str:
    def at(value: float) -> int:
        return max(0, min(size, int((value - TEXT_FROM) / (1 - TEXT_FROM) * size + _ROUNDING)))

    cells = ["█" if k < at(low) else "▒" if k < at(high) else "·" for k in range(size)]
    mark = at(OFF_BOOK / PERCENT)
    return "".join(cells[:mark]) + "|" + "".join(cells[mark:])


def _side(d: DayAccuracy) -> str:
    parts = [f"{d.runs} run-through{'s' * (d.runs != 1)}"]
    if d.prompts:
        parts.append(f"{d.prompts} prompt{'s' * (d.prompts != 1)}")
    if d.clean:
        parts.append("clean")
    return ", ".join(parts)


def text_stretches(stretches: Sequence[StretchHistory], width: int = _STRETCH_WIDTH) -> str:
    """Lines or thoughts with their accuracy as text. width: characters for the words of each."""
    rows = []
    for s in stretches:
        first, *more = textwrap.wrap(s.text, width, break_on_hyphens=False)
        figure = accuracy_share(s.accuracy) if s.runs else "not run yet"
        rows.append(f"{s.number:>4}  {first:{width}}  {figure:>11}")
        rows += [f"      {each}" for each in more]
    return "\n".join(rows)


# SVG -----------------------------------------------------------------------------------------------


def accuracy_svg(title: str, days: Sequence[DayAccuracy]) -> str:
    """Word accuracy by day as an SVG document with a text alternative."""
    rows = [
        (day_name(d.day), d.low, d.high, f"{accuracy_share(d.low, d.high)}{' clean' if d.clean else ''}")
        for d in days
    ]
    said = "; ".join(f"{name}: {figure}" for name, _, _, figure in rows) or "no run-through yet"
    return _svg(f"{title}: words said, by day", said, rows)


def lines_svg(title: str, stretches: Sequence[StretchHistory]) -> str:
    """Word accuracy by line or thought as an SVG document with a text alternative."""
    rows = []
    for s in stretches:
        name = s.text if len(s.text) <= _LONGEST_NAME else s.text[: _LONGEST_NAME - 1] + "…"
        rows.append(
            (
                f"{s.number} {name}",
                s.accuracy,
                s.accuracy,
                accuracy_share(s.accuracy) if s.runs else "not run yet",
            )
        )
    said = "; ".join(
        f"{s.number} {s.text}: {figure}" for s, (*_, figure) in zip(stretches, rows, strict=True)
    )
    return _svg(f"{title}: words said, line by line", said, rows)


def _svg(title: str, said: str, rows: Sequence[tuple[str, float, float, str]]) -> str:
    height = TOP + ROW * max(1, len(rows)) + _BELOW
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" role="img" '
        f'aria-labelledby="t d" font-family="sans-serif" font-size="12">',
        f'<title id="t">{escape(title)}</title><desc id="d">{escape(said)}</desc>',
        '<defs><pattern id="unsure" width="6" height="6" patternUnits="userSpaceOnUse">'
        '<path d="M0 6L6 0" stroke="#000" stroke-width="1"/></pattern></defs>',
        f'<rect width="{WIDTH}" height="{height}" fill="#fff"/>',
        f'<text x="12" y="22" font-size="15">{escape(title)}</text>',
        '<text x="12" y="42">solid: said; striped: unsure; dashed line: 98 %, off book</text>',
    ]
    for n, (name, low, high, figure) in enumerate(rows):
        out.append(_row(TOP + n * ROW, name, low, high, figure))
    x = _x(OFF_BOOK / PERCENT)
    foot = TOP + ROW * max(1, len(rows))
    out.append(f'<path d="M{x} {TOP - _LINE_ABOVE}V{foot}" stroke="#000" stroke-dasharray="4 3"/>')
    for tick in _TICKS:
        share = f"{round(PERCENT * tick)} %"
        out.append(f'<text x="{_x(tick)}" y="{foot + _TICK_AT}" text-anchor="middle">{share}</text>')
    return "\n".join([*out, "</svg>", ""])


def _row(y: int, name: str, low: float, high: float, figure: str) -> str:
    start, a, b = _x(0.0), _x(low), _x(high)
    box = f'y="{y + _BAR_AT}" height="{ROW - _BAR_LESS}" stroke="#000"'
    return (
        f'<text x="{LEFT - _BESIDE_NAME}" y="{y + _TEXT_AT}" text-anchor="end">{escape(name)}</text>'
        f'<rect x="{start}" width="{a - start:.1f}" {box} fill="#444"/>'
        f'<rect x="{a}" width="{b - a:.1f}" {box} fill="url(#unsure)"/>'
        f'<text x="{WIDTH - RIGHT + _BESIDE_FIGURE}" y="{y + _TEXT_AT}">{escape(figure)}</text>'
    )


def _x(value: float) -> float:
    return round(LEFT + (WIDTH - LEFT - RIGHT) * value, 1)
