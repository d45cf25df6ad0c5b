"""One speech out of a long script: a scene, the n-th speech of a part, or from one place to another.

If several are asked for, each is looked for in what the one before it left. The lines of a scene or a speech
are numbered from 1 again, as a printed play does; from one place to another they keep their numbers.
"""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from offbook.errors import ScriptError
from offbook.script.choices import word_places
from offbook.script.reading import MOST_LISTED, Line, Script, form_of
from offbook.script.sheet import roman_value


@dataclass(frozen=True, slots=True)
class Selection:
    """Which part of a script is wanted. A field that is None does not narrow it.

    part: a part's name. scene: "2.2", "Act 2, Scene 2", or words of the scene's heading. speech: a speech's
    number, counted from 1. first, last: where to begin and to end, each a line's number or words of the text.
    """

    part: str | None = None
    scene: str | None = None
    speech: int | None = None
    first: str | None = None
    last: str | None = None

    @property
    def whole(self) -> bool:
        """Whether the whole of the script, or of one part, is asked for."""
        return self.scene is None and self.speech is None and self.first is None and self.last is None


@dataclass(frozen=True, slots=True)
class Scene:
    """A scene of a script.

    act, number: None if its heading has none. start, end: offsets in code points into the text, end
    exclusive.
    """

    act: int | None
    number: int | None
    heading: str
    start: int
    end: int


# From the number of a line to its start and end (offsets in code points); None if no line has this number.
Numbering = Callable[[Script, str], tuple[int, int] | None]


def line_numbered(script: Script, number: str) -> tuple[int, int] | None:
    """The start and end of the line with this number, None if there is none."""
    there = {str(line.n): (line.start, line.end) for line in script.lines}
    return there.get(number.lstrip("0"))


def excerpt(script: Script, wanted: Selection, numbering: Numbering = line_numbered) -> Script:
    """The wanted excerpt of a script whose part was chosen before. Raises ScriptError if there is none.

    numbering: finds a line by its number; for prose the numbers are those of its sentences.
    """
    if wanted.scene is not None:
        script = _of_scene(script, wanted.scene)
    if wanted.speech is not None:
        script = _nth_speech(script, wanted.speech)
    if wanted.first is not None or wanted.last is not None:
        script = _between(script, wanted.first, wanted.last, numbering)
    return script


_ONES = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
_FIGURE = rf"(?:\d+|[ivxl]+|{'|'.join(_ONES)})"
_HEADING = re.compile(
    rf"\W*(?:act\s+(?P<act>{_FIGURE})\b)?[\s.,:;–—-]*(?:sc(?:ene|\.)?\s*(?P<scene>{_FIGURE})\b)?(?P<rest>.*)",
    re.IGNORECASE | re.DOTALL,
)
_PLACED = re.compile(rf"(?:.*\s)?(?P<act>{_FIGURE})\s*[.,:\s]\s*(?P<scene>{_FIGURE})", re.IGNORECASE)
_SLUG = re.compile(r"\W*(?:int|ext|i/e|est)[\s./]", re.IGNORECASE)


def _number_of(text: str | None) -> int | None:
    """The number written as figures, as a word or as a Roman numeral; None for None."""
    if text is None:
        return None
    low = text.lower()
    if low.isdigit():
        return int(low)
    if low in _ONES:
        return _ONES.index(low) + 1
    return roman_value(low)


def scenes(script: Script) -> tuple[Scene, ...]:
    """The scenes that the headings of a script divide it into; those of a screenplay are numbered from 1."""
    found: list[tuple[int | None, int | None, str, int]] = []
    act: int | None = None
    for out in script.left_out:
        if "heading" not in out.reason and out.reason != "before the first speech":
            continue
        m = _HEADING.fullmatch(" ".join(out.text.split()))
        assert m is not None  # every text fits
        if m["act"] is not None:
            act = _number_of(m["act"])
        if m["scene"] is not None:
            found.append((act, _number_of(m["scene"]), out.text, out.start))
        elif _SLUG.match(out.text):
            found.append((None, sum(_SLUG.match(f[2]) is not None for f in found) + 1, out.text, out.start))
    ends = [start for *_, start in found[1:]] + [len(script.text)][: len(found)]
    return tuple(Scene(a, n, text, start, end) for (a, n, text, start), end in zip(found, ends, strict=True))


_LONGEST_HEADING_SHOWN = 30  # characters of a scene's heading in a message; set by hand, so that several fit


def _of_scene(script: Script, wanted: str) -> Script:
    found = scenes(script)
    if not found:
        raise ScriptError(
            f"{script.source} has no scene headings",
            "use --from and --to instead, each with a line's number or some of its words",
        )
    fits = [s for s in found if _is_scene(s, wanted)]
    if len(fits) != 1:
        more = "; …" if len(found) > MOST_LISTED else ""
        listed = "; ".join(_scene_name(s) for s in found[:MOST_LISTED]) + more
        many = "no scene" if not fits else f"{len(fits)} scenes"
        raise ScriptError(f"{script.source} has {many} {wanted!r}", f"choose one: {listed}")
    scene = fits[0]
    kept = [line for line in script.lines if scene.start <= line.start < scene.end]
    found_cues = tuple(cue for cue in script.cues if scene.start <= cue.start < scene.end)
    return _only_lines(
        replace(script, cues=found_cues), kept, f"nothing of this part is said in {_scene_name(scene)}"
    )


def _is_scene(scene: Scene, wanted: str) -> bool:
    text = " ".join(wanted.split())
    placed = _PLACED.fullmatch(text)
    m = _HEADING.fullmatch(text)
    assert m is not None
    if m["scene"] is not None and not m["rest"].strip(" ."):
        return scene.number == _number_of(m["scene"]) and (
            m["act"] is None or scene.act == _number_of(m["act"])
        )
    if placed is not None:
        return (scene.act, scene.number) == (_number_of(placed["act"]), _number_of(placed["scene"]))
    if text.isdigit():
        return scene.number == int(text)
    return text.casefold() in " ".join(scene.heading.split()).casefold()


def _scene_name(scene: Scene) -> str:
    if scene.act is not None and scene.number is not None:
        return f"{scene.act}.{scene.number}"
    return f"{scene.number} ({' '.join(scene.heading.split())[:_LONGEST_HEADING_SHOWN]})"


def speeches(script: Script) -> tuple[tuple[Line, ...], ...]:
    """The lines of a script, grouped into speeches: a new one begins after somebody else has spoken."""
    after_a_cue = {cue.before_line for cue in script.cues}
    found: list[list[Line]] = []
    for line in script.lines:
        if not found or line.n in after_a_cue or line.speaker != found[-1][-1].speaker:
            found.append([])
        found[-1].append(line)
    return tuple(map(tuple, found))


def _nth_speech(script: Script, n: int) -> Script:
    found = speeches(script)
    if not 1 <= n <= len(found):
        raise ScriptError(
            f"there is no speech {n}: there {'is one' if len(found) == 1 else f'are {len(found)}'}",
            f"give a number from 1 to {len(found)}; `offbook read` shows the speeches",
        )
    return _only_lines(script, found[n - 1], "")


def _between(script: Script, first: str | None, last: str | None, numbering: Numbering) -> Script:
    start = script.lines[0].start if first is None else _find_place(script, first, 0, numbering)[0]
    end = script.lines[-1].end if last is None else _find_place(script, last, start, numbering)[1]
    if end <= start:
        raise ScriptError("the end comes before the beginning", "swap --from and --to")
    kept = [
        _trim_line(script, line, start, end) for line in script.lines if line.end > start and line.start < end
    ]
    return _only_lines(script, [line for line in kept if line.text], "nothing is said there", renumber=False)


def _find_place(script: Script, wanted: str, after: int, numbering: Numbering) -> tuple[int, int]:
    """The start and end of a line or sentence given by its number, or of words of the text.

    after: words are looked for from this offset on. Raises ScriptError if they are not there.
    """
    if _NUMBER.fullmatch(wanted.strip()):
        there = numbering(script, wanted.strip())
        if there is None:
            raise ScriptError(
                f"no spoken line has the number {wanted.strip()}",
                "give a number as `offbook read` shows it beside the speech, or words of the text",
            )
        return there
    starts = [line.start for line in script.lines]
    for start, end in word_places(script.text, wanted):
        k = bisect_right(starts, start) - 1
        if start >= after and k >= 0 and start < script.lines[k].end:
            return start, end
    raise ScriptError(
        f"{wanted!r} is not said in {script.source or 'the text'}"
        + (" after the beginning" if after and word_places(script.text, wanted) else ""),
        "give a line's number, or words as `offbook read` shows them",
    )


_NUMBER = re.compile(r"s?[0-9]{1,9}", re.IGNORECASE)
_STOPS = re.compile(r"[.,;:?!…”’\"')\]]*")
_WORD = re.compile(r"[^\W_]+")


def _trim_line(script: Script, line: Line, start: int, end: int) -> Line:
    """A line without the words before `start` and after `end`; words of a direction do not count."""
    if start <= line.start and end >= line.end:
        return line
    gone = [out for out in script.left_out if out.end > line.start and out.start < line.end]
    words = [
        m.span()
        for m in _WORD.finditer(script.text, line.start, line.end)
        if not any(out.start <= m.start() < out.end for out in gone)
    ]
    shown = [m.span() for m in _WORD.finditer(line.text)]
    kept = [k for k, (a, b) in enumerate(words) if a >= start and b <= max(end, start)]
    if not kept or len(shown) != len(words):
        return replace(line, text="" if not kept else line.text)
    first, last = kept[0], kept[-1]
    text_end = len(line.text) if last == len(shown) - 1 else shown[last + 1][0]
    text = line.text[shown[first][0] : text_end].rstrip(' \t\n([“‘"')
    lead = line.text[: shown[first][0]]
    opening = lead[len(lead.rstrip("“‘\"'([—–")) :]
    return replace(
        line,
        start=max(line.start, words[first][0] - len(opening)),
        end=line.end
        if last == len(words) - 1
        else words[last][1] + _stops_after(script.text, words[last][1]),
        text=opening + text,
    )


def _stops_after(text: str, at: int) -> int:
    """How many stops and closing marks follow a word that ends at `at`."""
    found = _STOPS.match(text, at)
    return 0 if found is None else len(found[0])


def _only_lines(script: Script, lines: Sequence[Line], nothing: str, *, renumber: bool = True) -> Script:
    """The script with only these lines, and with the cues and left-out stretches that belong to them.

    nothing: the error if there are no lines. renumber: whether the lines are numbered from 1 again.
    """
    if not lines:
        raise ScriptError(nothing, "choose another part or place: `offbook read` shows them all")
    first, last = lines[0].start, lines[-1].end
    number = {line.n: n if renumber else line.n for n, line in enumerate(lines, 1)}
    paragraphs = sorted({line.paragraph for line in lines})
    renumbered = tuple(
        replace(line, n=number[line.n], paragraph=bisect_left(paragraphs, line.paragraph) + 1)
        for line in lines
    )
    cues = tuple(
        replace(cue, before_line=number[cue.before_line])
        for cue in script.cues
        if cue.before_line is not None and cue.before_line in number
    )
    return replace(
        script,
        form=form_of(lines),
        lines=renumbered,
        cues=cues,
        left_out=tuple(out for out in script.left_out if out.end > first and out.start < last),
        perhaps=tuple(out for out in script.perhaps if first <= out.start < last),
        parts=script.parts if script.part is not None else _speakers(renumbered, script.parts),
    )


def _speakers(lines: Sequence[Line], parts: Sequence[str]) -> tuple[str, ...]:
    heard = {line.speaker.casefold() for line in lines if line.speaker is not None}
    return tuple(name for name in parts if name.casefold() in heard)
