"""The edits: what a performer may do with a speech, done to the sound of a word-perfect reading.

Each maker gets a reading, a random generator and the other readings. It returns the edited sound with what
is true of every word afterwards, or None if there is no suitable place for the edit in the reading.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from spliced_sound import Sound, Spoken, burst, faded, join, synthetic

Span = range


@dataclass
class Truth:
    """What is true after an edit.

    out: sets of script words; in each set one word is missing or changed. may: other words whose verdict
    may be wrong too. said: what was said of the script, in order, if that is not simply the script without
    `out`. notes: the kinds of notes with the words that they are about. added: places with the word that
    was added. lines: the lines (from 0) of which nothing was said. dries: places with the seconds of
    silence.
    """

    out: list[frozenset[int]] = field(default_factory=lambda: [frozenset()])
    may: frozenset[int] = frozenset()
    said: list[str] | None = None
    notes: list[tuple[str, Span]] = field(default_factory=list)
    added: list[tuple[int, str]] = field(default_factory=list)
    lines: frozenset[int] = frozenset()
    dries: list[tuple[int, float]] = field(default_factory=list)


@dataclass
class Edit:
    """An edited recording: its sound as PCM, what should be reported, and in words what was done."""

    pcm: bytes
    truth: Truth
    what: str


Maker = Callable[[Spoken, random.Random, Sequence[Spoken]], Edit | None]


def _line(s: Spoken, n: int) -> Span:
    first = s.line_of.index(n)
    return range(first, first + len(s.lines[n]))


def _whole_lines(s: Spoken) -> list[int]:
    """Lines that begin and end at places where the sound may be cut."""
    return [n for n in range(len(s.lines)) if s.fair(_line(s, n).start) and s.fair(_line(s, n).stop)]


def _apart(found: list[Span], rnd: random.Random, most: int = 3, between: int = 9) -> list[Span]:
    """Some of the spans, in order, with enough distance between them."""
    kept: list[Span] = []
    for span in rnd.sample(found, len(found)):
        if len(kept) < most and all(
            span.start - k.stop >= between or k.start - span.stop >= between for k in kept
        ):
            kept.append(span)
    return sorted(kept, key=lambda k: k.start)


def _spans(s: Spoken, sizes: range, inside: bool = True) -> list[Span]:
    """Stretches of words within one line between places where it may be cut; inside: not the whole line."""
    found = []
    for n in range(len(s.lines)):
        line = _line(s, n)
        for first in line:
            for size in sizes:
                whole = first + size <= line.stop and s.fair(first) and s.fair(first + size)
                if whole and (not inside or size < len(line)) and s.holds(first, first + size):
                    found.append(range(first, first + size))
    return [f for f in found if f.start > 2 and f.stop < len(s.words) - 2]


def _text(s: Spoken, span: Span) -> str:
    return " ".join(s.words[i] for i in span)


def _without(s: Spoken, spans: Sequence[Span]) -> Edit:
    gone = frozenset(i for span in spans for i in span)
    parts, at = [s.head()], 0
    for span in spans:
        parts.append(s.piece(at, span.start))
        at = span.stop
    parts += [s.piece(at, len(s.words)), s.tail()]
    lines = frozenset(n for n in range(len(s.lines)) if gone.issuperset(_line(s, n)))
    truth = Truth(
        [gone],
        gone,
        [w for i, w in enumerate(s.words) if i not in gone],
        [("dropped", span) for span in spans],
        lines=lines,
    )
    return Edit(join(parts), truth, "out: " + " / ".join(_text(s, span) for span in spans))


def line_out(s: Spoken, rnd: random.Random, others: Sequence[Spoken]) -> Edit | None:
    lines = [n for n in _whole_lines(s) if 0 < n < len(s.lines) - 1]
    return _without(s, [_line(s, rnd.choice(lines))]) if lines else None


def lines_skipped(s: Spoken, rnd: random.Random, others: Sequence[Spoken]) -> Edit | None:
    found = _whole_lines(s)
    starts = [n for n in found if {n + 1, n + 2} <= set(found) and n and n + 3 < len(s.lines)]
    if not starts:
        return None
    n = rnd.choice(starts)
    return _without(s, [range(_line(s, n).start, _line(s, n + 2).stop)])


def phrase_out(s: Spoken, rnd: random.Random, others: Sequence[Spoken]) -> Edit | None:
    spans = _apart(_spans(s, range(2, 7)), rnd)
    return _without(s, spans) if spans else None


def word_out(s: Spoken, rnd: random.Random, others: Sequence[Spoken]) -> Edit | None:
    spans = _apart(_spans(s, range(1, 2)), rnd)
    return _without(s, spans) if spans else None


def _put_in(s: Spoken, places: Sequence[tuple[int, Sequence[Sound]]], truth: Truth, what: str) -> Edit:
    """The reading with sound added before some words."""
    parts, at = [s.head()], 0
    for place, sounds in places:
        parts += [s.piece(at, place), *sounds]
        at = place
    parts += [s.piece(at, len(s.words)), s.tail()]
    return Edit(join(parts), truth, what)


def line_twice(s: Spoken, rnd: random.Random, others: Sequence[Spoken]) -> Edit | None:
    lines = _whole_lines(s)
    if not lines:
        return None
    line = _line(s, rnd.choice(lines))
    truth = Truth(notes=[("repeated", line)])
    return _put_in(s, [(line.stop, [s.piece(line.start, line.stop)])], truth, "twice: " + _text(s, line))


def _openings(s: Spoken) -> list[Span]:
    """The first two to four words of lines, if they may be cut out."""
    found = []
    for n in range(len(s.lines)):
        line = _line(s, n)
        ends = [line.start + k for k in (2, 3, 4) if k < len(line) and s.fair(line.start + k)]
        if s.fair(line.start) and ends:
            found += [range(line.start, e) for e in ends]
    return found


def restart(s: Spoken, rnd: random.Random, others: Sequence[Spoken]) -> Edit | None:
    spans = _apart(_openings(s), rnd)
    if not spans:
        return None
    places = [(x.start, [s.piece(x.start, x.stop), s.room(rnd.uniform(0.1, 0.5))]) for x in spans]
    truth = Truth(notes=[("repeated", x) for x in spans])
    return _put_in(s, places, truth, "restarts: " + " / ".join(_text(s, x) for x in spans))


def _first_lines(s: Spoken, rnd: random.Random) -> Span | None:
    """The speech from its first word to the end of one of its lines, but not the last."""
    ends = [_line(s, n).stop for n in _whole_lines(s) if n < len(s.lines) - 1]
    return range(rnd.choice(ends)) if ends else None


def false_start(s: Spoken, rnd: random.Random, others: Sequence[Spoken]) -> Edit | None:
    """Some lines, a silence, and everything."""
    began = _first_lines(s, rnd)
    if began is None:
        return None
    sounds = [s.piece(0, began.stop), s.room(rnd.uniform(1.0, 4.0))]
    return _put_in(s, [(0, sounds)], Truth(notes=[("repeated", began)]), f"false start of {len(began)} words")


def begins_again(s: Spoken, rnd: random.Random, others: Sequence[Spoken]) -> Edit | None:
    """Everything, a silence, and some lines once more."""
    again = _first_lines(s, rnd)
    if again is None:
        return None
    sounds = [s.room(rnd.uniform(1.0, 4.0)), s.piece(0, again.stop)]
    truth = Truth(notes=[("repeated", again)])
    return _put_in(s, [(len(s.words), sounds)], truth, f"all, then {len(again)} words again")


def twice(s: Spoken, rnd: random.Random, others: Sequence[Spoken]) -> Edit | None:
    """Everything, a silence, and everything."""
    whole = range(len(s.words))
    sounds = [s.piece(0, whole.stop), s.room(rnd.uniform(1.0, 4.0))]
    return _put_in(s, [(0, sounds)], Truth(notes=[("repeated", whole)]), "all of it twice")


def _strangers(s: Spoken, out_of: Spoken, around: Span) -> list[int]:
    """Words of `out_of` that may be cut out, of some length, that are not near `around` in `s`."""
    near = set(s.words[max(0, around.start - 12) : around.stop + 12])
    return [
        i
        for i, w in enumerate(out_of.words)
        if len(w) >= 5 and w not in near and out_of.fair(i) and out_of.fair(i + 1)
        and out_of.holds(i, i + 1)
        and not any(w[:3] == n[:3] for n in near)
    ]  # fmt: skip


def correction(s: Spoken, rnd: random.Random, others: Sequence[Spoken]) -> Edit | None:
    """The first words of a line, a wrong word, then the line from its start."""
    places, truth, what = [], Truth(), []
    for x in _apart(_openings(s), rnd):
        strange = _strangers(s, s, x)
        if strange:
            w = rnd.choice(strange)
            places.append(
                (x.start, [s.piece(x.start, x.stop), s.piece(w, w + 1), s.room(rnd.uniform(0.1, 0.5))])
            )
            truth.notes.append(("repeated", x))
            what.append(f"{_text(s, x)} *{s.words[w]}*")
    return _put_in(s, places, truth, "corrected: " + " / ".join(what)) if places else None


def changed(s: Spoken, rnd: random.Random, others: Sequence[Spoken]) -> Edit | None:
    """A word replaced by another word of the same reader."""
    parts, at, gone, what = [s.head()], 0, [], []
    for x in _apart([x for x in _spans(s, range(1, 2)) if len(s.words[x.start]) > 3], rnd):
        strange = _strangers(s, s, x)
        if strange:
            w = rnd.choice(strange)
            parts += [s.piece(at, x.start), s.piece(w, w + 1)]
            at = x.stop
            gone.append(x)
            what.append(f"{s.words[x.start]} -> {s.words[w]}")
    if not gone:
        return None
    parts += [s.piece(at, len(s.words)), s.tail()]
    out = frozenset(i for x in gone for i in x)
    return Edit(
        join(parts), Truth([out], out, notes=[("changed", x) for x in gone]), "changed: " + " / ".join(what)
    )


def _swap(s: Spoken, a: Span, b: Span) -> Edit:
    """Two neighbouring stretches in the other order."""
    parts = [
        s.head(), s.piece(0, a.start), s.piece(b.start, b.stop), s.piece(a.start, a.stop),
        s.piece(b.stop, len(s.words)), s.tail(),
    ]  # fmt: skip
    both = range(a.start, b.stop)
    truth = Truth([frozenset(a), frozenset(b), frozenset(both)], frozenset(both), notes=[("swapped", both)])
    return Edit(join(parts), truth, f"swapped: {_text(s, a)} | {_text(s, b)}")


def lines_swapped(s: Spoken, rnd: random.Random, others: Sequence[Spoken]) -> Edit | None:
    found = _whole_lines(s)
    starts = [n for n in found if n + 1 in found and s.lines[n] != s.lines[n + 1]]
    if not starts:
        return None
    n = rnd.choice(starts)
    return _swap(s, _line(s, n), _line(s, n + 1))


def phrases_swapped(s: Spoken, rnd: random.Random, others: Sequence[Spoken]) -> Edit | None:
    spans = _spans(s, range(2, 6), inside=False)
    pairs = [
        (a, b) for a in spans for b in spans
        if a.stop == b.start and not set(s.words[a.start : a.stop]) & set(s.words[b.start : b.stop])
        and s.line_of[b.stop - 1] - s.line_of[a.start] <= 1
    ]  # fmt: skip
    return _swap(s, *rnd.choice(pairs)) if pairs else None


def jump_ahead(s: Spoken, rnd: random.Random, others: Sequence[Spoken]) -> Edit | None:
    """A jump three or four lines ahead for one line, then back to where it was made."""
    found = _whole_lines(s)
    pairs = [(n, n + k) for n in found for k in (3, 4) if n and n + k in found]
    if not pairs:
        return None
    n, far = rnd.choice(pairs)
    ahead = _line(s, far)
    truth = Truth(notes=[("repeated", ahead)])
    sounds = [s.piece(ahead.start, ahead.stop), s.room(rnd.uniform(0.4, 1.5))]
    return _put_in(
        s, [(_line(s, n).start, sounds)], truth, f"before line {n + 1} ahead to: {_text(s, ahead)}"
    )


def jump_back(s: Spoken, rnd: random.Random, others: Sequence[Spoken]) -> Edit | None:
    """After a line, a jump back by three or four lines; the speech goes on from there."""
    found = _whole_lines(s)
    pairs = [(n, n - k) for n in found for k in (2, 3) if n - k in found]
    if not pairs:
        return None
    n, back = rnd.choice(pairs)
    again = range(_line(s, back).start, _line(s, n).stop)
    truth = Truth(notes=[("repeated", again)])
    sounds = [s.room(rnd.uniform(0.2, 0.8)), s.piece(again.start, again.stop)]
    return _put_in(s, [(again.stop, sounds)], truth, f"after line {n + 1} back to line {back + 1}")


def dry(s: Spoken, rnd: random.Random, others: Sequence[Spoken]) -> Edit | None:
    spans = _apart([x for x in _spans(s, range(1, 2)) if s.silence_before(x.start) < 0.5], rnd, 2)
    if not spans:
        return None
    truth, places = Truth(), []
    for x in spans:
        seconds = rnd.uniform(6.0, 15.0)
        places.append((x.start, [s.room(seconds)]))
        truth.dries.append((x.start, seconds))
    return _put_in(s, places, truth, "dry before: " + " / ".join(_text(s, x) for x in spans))


def _another(s: Spoken, others: Sequence[Spoken], rnd: random.Random) -> Spoken | None:
    """A reading by somebody else, as far as the names show: prose_1 and prose_2 may be by anybody."""
    found = [o for o in others if o.name != s.name and o.words[:4] != s.words[:4]]
    return rnd.choice(found) if found else None


def talk(s: Spoken, rnd: random.Random, others: Sequence[Spoken]) -> Edit | None:
    """Somebody else's words before the speech and after it."""
    other = _another(s, others, rnd)
    if other is None:
        return None
    spans = _apart(_spans(other, range(4, 9), inside=False), rnd, 2, 0)
    if len(spans) < 2:
        return None
    gain = s.voice / other.voice
    before, after = (other.piece(x.start, x.stop) * gain for x in spans)
    parts = [
        s.room(0.5), before, s.room(rnd.uniform(0.8, 1.5)), s.head(), s.piece(0, len(s.words)),
        s.room(rnd.uniform(0.8, 1.5)), after, s.room(0.5),
    ]  # fmt: skip
    return Edit(join(parts), Truth(), "talk: " + " / ".join(_text(other, x) for x in spans))


def prompt(s: Spoken, rnd: random.Random, others: Sequence[Spoken]) -> Edit | None:
    """A silence, then a synthetic voice reads the next words, as a prompter would, and the line goes on."""
    spans = _apart([x for x in _spans(s, range(4, 7)) if s.silence_before(x.start) < 0.8], rnd, 2)
    places, truth = [], Truth()
    for x in spans:
        said = synthetic(_text(s, x), "rms", s.voice)
        if said is None:
            return None
        places.append((x.start, [s.room(6.0), said, s.room(0.7)]))
        truth.notes.append(("prompted", x))
        truth.dries.append((x.start, 6.0))
    return (
        _put_in(s, places, truth, "prompted: " + " / ".join(_text(s, x) for x in spans)) if places else None
    )


def asked(s: Spoken, rnd: random.Random, others: Sequence[Spoken]) -> Edit | None:
    """The performer calls "line?" and the next words are read out (both by synthetic voices)."""
    spans = _apart(_spans(s, range(4, 7)), rnd, 2)
    places, truth = [], Truth()
    for x in spans:
        call, said = synthetic("line?", "slt", s.voice), synthetic(_text(s, x), "rms", s.voice)
        if call is None or said is None:
            return None
        places.append((x.start, [s.room(1.0), call, s.room(0.8), said, s.room(0.7)]))
        truth.notes.append(("prompted", x))
    return _put_in(s, places, truth, "asked: " + " / ".join(_text(s, x) for x in spans)) if places else None


def foreign(s: Spoken, rnd: random.Random, others: Sequence[Spoken]) -> Edit | None:
    """A word added that is nowhere near; from another recording if there is one."""
    places, truth, what = [], Truth(), []
    for x in _apart(_spans(s, range(1, 2)), rnd):
        other = _another(s, others, rnd) or s
        strange = _strangers(s, other, x)
        if strange:
            w = rnd.choice(strange)
            places.append((x.start, [other.piece(w, w + 1) * (s.voice / other.voice)]))
            truth.added.append((x.start, other.words[w]))
            truth.notes.append(("added", range(x.start, x.start + 1)))
            what.append(f"{s.words[x.start - 1]} *{other.words[w]}* {s.words[x.start]}")
    return _put_in(s, places, truth, "put in: " + " / ".join(what)) if places else None


def noises(s: Spoken, rnd: random.Random, others: Sequence[Spoken]) -> Edit | None:
    """Coughs, clicks and breaths between words and in the longest pauses."""
    places = []
    for x in _apart(_spans(s, range(1, 2)), rnd, 4, 6):
        kind = rnd.choice(("cough", "click", "breath"))
        places.append((x.start, [faded(burst(kind, rnd, s.voice))]))
    edit = _put_in(s, places, Truth(), f"{len(places)} noises between words")
    pauses = [k for k in range(1, len(s.words)) if s.silence_before(k) > 0.5]
    over = s.sound.copy()
    for k in rnd.sample(pauses, min(3, len(pauses))):
        noise = burst(rnd.choice(("cough", "click", "breath")), rnd, s.voice)
        at = max(0, s.cuts[k] - len(noise) // 2)
        over[at : at + len(noise)] += noise[: len(over) - at]
    if pauses:
        edit = _put_in(
            Spoken(s.name, over, s.lines, s.words, s.line_of, s.starts, s.ends), places, Truth(), edit.what
        )
    return edit


def um(s: Spoken, rnd: random.Random, others: Sequence[Spoken]) -> Edit | None:
    """An "um" or "uh" (a synthetic voice) between words."""
    places = []
    for x in _apart(_spans(s, range(1, 2)), rnd):
        said = synthetic(rnd.choice(("um", "uh", "er")), rnd.choice(("rms", "slt")), s.voice)
        if said is None:
            return None
        places.append((x.start, [s.room(0.15), said, s.room(0.2)]))
    return _put_in(s, places, Truth(), f"{len(places)} fillers") if places else None


def _only(s: Spoken, span: Span) -> Edit:
    gone = frozenset(range(len(s.words))) - frozenset(span)
    lines = frozenset(n for n in range(len(s.lines)) if gone.issuperset(_line(s, n)))
    notes = [("dropped", r) for r in (range(span.start), range(span.stop, len(s.words))) if r]
    parts = [s.room(0.5), s.piece(span.start, span.stop), s.room(0.8)]
    said = s.words[span.start : span.stop]
    return Edit(join(parts), Truth([gone], gone, said, notes, lines=lines), f"only {_text(s, span)[:40]}...")


def from_the_middle(s: Spoken, rnd: random.Random, others: Sequence[Spoken]) -> Edit | None:
    lines = [n for n in _whole_lines(s) if len(s.lines) // 4 <= n <= len(s.lines) // 2 and n]
    return _only(s, range(_line(s, rnd.choice(lines)).start, len(s.words))) if lines else None


def stops(s: Spoken, rnd: random.Random, others: Sequence[Spoken]) -> Edit | None:
    """The speech stops in the middle of a line."""
    third = len(s.words) // 3
    ends = [x.start for x in _spans(s, range(1, 2)) if third < x.start < 2 * third]
    return _only(s, range(rnd.choice(ends))) if ends else None


MAKERS: dict[str, Maker] = {
    "line out": line_out, "lines skipped": lines_skipped, "phrase out": phrase_out, "word out": word_out,
    "word changed": changed, "word put in": foreign, "line twice": line_twice, "restart": restart,
    "correction": correction, "lines swapped": lines_swapped, "phrases swapped": phrases_swapped,
    "jump ahead": jump_ahead, "jump back": jump_back, "dry": dry, "talk": talk, "prompt": prompt,
    "line asked": asked, "noises": noises, "um": um, "from the middle": from_the_middle, "stops": stops,
    "false start": false_start, "begins again": begins_again, "twice": twice,
}  # fmt: skip


def make(kind: str, s: Spoken, seed: int, others: Sequence[Spoken]) -> Edit | None:
    """One edit of a reading, always the same for the same seed."""
    return MAKERS[kind](s, random.Random(f"splice {kind} {s.name} {seed}"), others)


__all__ = ["MAKERS", "Edit", "Truth", "make"]
