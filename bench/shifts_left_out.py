"""How well the marks of whole documents agree with annotated discourse; each document is left out in turn.

The data is the TSV file of `fit_shift_weights.py`, with the columns `genre`, `sent_end`, `strong`,
`speaker_change` and `rst_class` as well. For each document the tables for phrases and for steps of thought,
and the signals of contrast, are fitted again to the others. Then the document is marked as `offbook mark`
would mark it, with these instead of the ones in use, and its marks are counted. The table for turns stays,
because it was fitted to other texts, and so do the four weights that were set by hand.

    python bench/shifts_left_out.py shifts.tsv

    edge      a unit like a clause ends; any mark is right
    thought   a sentence of at least four words ends, or, inside a stretch of more than twenty words, a step that leaves eight on
              both sides; a mark of grade 2 or 3 is right
    strong    a paragraph, speaker or direction changes; a turn is right
    turn      the same where no paragraph or speaker changes; a turn is right
    contrast  a contrast or a change of topic, without a new paragraph; a turn is right

The same marks are counted with the tables in use, and printed beside these.
"""

from __future__ import annotations

import argparse
import csv
import pathlib
from bisect import bisect_left, bisect_right, insort
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from unittest import mock

from fit_shift_weights import BASE, PHRASE_FIT, THOUGHT_FIT, Row, Spot, chosen, spots_of, table

from offbook.script import parse_script
from offbook.thoughts import shift, shifts_of, weights
from offbook.words import words_of

SCRAP, LONG, SHARE = 4, 20, 8  # words, as a performer's thoughts are read out of the annotation
KINDS = ("edge", "thought", "strong", "turn", "contrast")
BY_HAND = ("but meaning only", "voice changes", "not to after comma", "as before as", "word than")
STANCES = ("tense", "mood", "person", "list", "repeats", "new addressee", "addressed")  # no contrast
COMPARISONS = frozenset({"than clause", "not so much as"})  # whose halves are played together
Counts = dict[tuple[str, str], Counter[str]]


@dataclass(slots=True)
class Edge:
    """What the annotation says about the place after a token.

    strength: 0 to 3. The others say what ends there.
    """

    strength: int = 0
    sentence: bool = False
    strong: bool = False
    paragraph: bool = False
    contrast: bool = False


@dataclass(frozen=True, slots=True)
class Document:
    """A document.

    text, starts: rebuilt from its tokens, and where each of them begins. anchors: for each token, the last
    token up to it that has a letter or a digit, by which a place is identified. counts: how many such
    tokens there are up to it. top: the anchor of the end of the title, -1 without a title.
    """

    name: str
    genre: str
    text: str
    starts: tuple[int, ...]
    anchors: tuple[int, ...]
    counts: tuple[int, ...]
    top: int
    edges: Mapping[int, Edge]
    spots: tuple[Spot, ...]


def documents(path: pathlib.Path) -> Iterator[Document]:
    """Every document of the file."""
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file, delimiter="\t", quoting=csv.QUOTE_NONE, escapechar="\\"))
    for _, doc in groupby(rows, key=lambda row: row["doc"]):
        yield _document(list(doc))


def _document(rows: Sequence[Row]) -> Document:
    text, starts, anchors, counts = "", list[int](), list[int](), list[int]()
    edges: dict[int, Edge] = defaultdict(Edge)
    anchor, count = -1, 0
    for k, row in enumerate(rows):
        starts.append(len(text))
        if any(c.isalnum() for c in row["token"]):
            anchor, count = k, count + 1
        anchors.append(anchor)
        counts.append(count)
        gap = "\n\n" if row["para_end"] == "1" else "\n" if row["line_end"] == "1" else " "
        text += row["token"] + (gap if gap != " " or row["space_after"] == "1" else "")
        _note(edges[anchor], row)
    headings = [
        k for k, r in enumerate(rows[:60]) if r["rst_rel"] == "organization-heading" and r["para_end"] == "1"
    ]
    top = max((anchors[k] for k in headings), default=-1)
    inside = {k: e for k, e in edges.items() if top < k != anchors[-1]}
    return Document(
        rows[0]["doc"], rows[0]["genre"], text.rstrip() + "\n", tuple(starts), tuple(anchors), tuple(counts),
        top, inside, tuple(spots_of(rows)),
    )  # fmt: skip


def _note(edge: Edge, row: Row) -> None:
    strength = int(row["strength"])
    edge.strength = max(edge.strength, strength)
    edge.sentence |= row["sent_end"] == "1"
    edge.strong |= row["strong"] == "1"
    edge.paragraph |= row["para_end"] == "1" or row["speaker_change"] == "1"
    edge.contrast |= strength > 0 and row["rst_class"] in ("adversative", "topic")


def played(doc: Document) -> set[int]:
    """The places where a performer's next thought begins, according to the annotation."""
    count = {k: doc.counts[k] for k in doc.edges}
    first, last = (doc.counts[doc.top] if doc.top >= 0 else 0), doc.counts[-1]
    places = sorted(k for k, edge in doc.edges.items() if edge.sentence or edge.strength == 3)
    k = 0
    while k < len(places):
        before = count[places[k]] - (count[places[k - 1]] if k else first)
        after = (count[places[k + 1]] if k + 1 < len(places) else last) - count[places[k]]
        if min(before, after) < SCRAP and doc.edges[places[k]].strength < 3:
            places.pop(k)
            k = max(0, k - 1)
        else:
            k += 1
    bounds = sorted({first, last, *(count[place] for place in places)})
    found = set(places)
    for place, edge in sorted(doc.edges.items()):
        at = count[place]
        if place in found or edge.strength < 2 or not first < at < last:
            continue
        low, high = bounds[bisect_right(bounds, at) - 1], bounds[bisect_left(bounds, at)]
        if high - low > LONG and min(at - low, high - at) >= SHARE:
            found.add(place)
            insort(bounds, at)
    return found


def wanted(doc: Document) -> dict[str, set[int]]:
    """The places of each kind in the annotation."""
    edges = doc.edges
    return {
        "edge": {k for k, e in edges.items() if e.strength >= 1},
        "thought": played(doc),
        "strong": {k for k, e in edges.items() if e.strong},
        "turn": {k for k, e in edges.items() if e.strong and not e.paragraph},
        "contrast": {k for k, e in edges.items() if e.contrast and not e.paragraph},
    }


def marked(doc: Document) -> dict[str, set[int]]:
    """The places of each kind that are marked with the tables that are set at the moment."""
    script = parse_script(doc.text)
    words = words_of(script)
    grades: dict[int, int] = {}
    for mark in shifts_of(script, words):
        token = bisect_right(doc.starts, words[mark.before_word].start) - 1
        place = doc.anchors[token - 1] if token > 0 else -1
        grades[place] = max(grades.get(place, 0), mark.grade)
    inside = {k: g for k, g in grades.items() if doc.top < k != doc.anchors[-1] and k >= 0}
    turns = {k for k, g in inside.items() if g == 3}
    within = {k for k in turns if not (k in doc.edges and doc.edges[k].paragraph)}
    thoughts = {k for k, g in inside.items() if g >= 2}
    return {"edge": set(inside), "thought": thoughts, "strong": turns, "turn": within, "contrast": within}


def _kept(fitted: Mapping[str, float], in_use: Mapping[str, float]) -> dict[str, float]:
    """A fitted table without its base, with the weights that are set by hand."""
    by_hand = {key: in_use[key] for key in BY_HAND if key in in_use}
    return {key: value for key, value in fitted.items() if key != BASE} | by_hand


def marked_without(doc: Document, others: Sequence[Spot]) -> dict[str, set[int]]:
    """The places that `marked` gives with everything fitted to `others`."""
    fitted_on = [spot for spot in others if spot.open]
    phrase, thought = table(fitted_on, *PHRASE_FIT), table(fitted_on, *THOUGHT_FIT)
    signals, threshold = chosen(others)
    contrasts = frozenset(signal for signal in signals if not signal.startswith(STANCES))
    with (
        mock.patch.object(weights, "PHRASE", _kept(phrase, weights.PHRASE)),
        mock.patch.object(weights, "PHRASE_BASE", phrase[BASE]),
        mock.patch.object(weights, "THOUGHT", _kept(thought, weights.THOUGHT)),
        mock.patch.object(weights, "THOUGHT_BASE", thought[BASE]),
        mock.patch.object(shift, "CONTRASTS", signals),
        mock.patch.object(shift, "PLAYED_CONTRASTS", contrasts - COMPARISONS),
        mock.patch.object(shift, "WITHIN_PARAGRAPHS", threshold),
    ):
        return marked(doc)


def count(counts: Counts, how: str, doc: Document, said: Mapping[str, set[int]]) -> None:
    """Add the marks of a document to the counts of all documents and, if it is verse, to those of verse."""
    true = wanted(doc)
    for kind in KINDS:
        for group in ("all", "verse")[: 1 + (doc.genre == "poetry")]:
            counts[f"{group} {kind}", how].update(
                true=len(true[kind]), said=len(said[kind]), right=len(true[kind] & said[kind])
            )


def main() -> None:
    """Print precision, recall and F1 of each kind, left out and with the tables in use."""
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("tsv", type=pathlib.Path)
    docs = list(documents(ask.parse_args().tsv))
    counts: Counts = defaultdict(Counter)
    for doc in docs:
        count(counts, "in use", doc, marked(doc))
        others = [spot for other in docs if other.name != doc.name for spot in other.spots]
        count(counts, "left out", doc, marked_without(doc, others))
    for (kind, how), c in sorted(counts.items()):
        p, r, f = (c["right"] / max(1, c["said"]), c["right"] / max(1, c["true"]),
                   2 * c["right"] / max(1, c["true"] + c["said"]))  # fmt: skip
        print(
            f"{kind:16s}{how:9s} precision {p:.3f}, recall {r:.3f}, F1 {f:.3f} ({c['true']} in the annotation)"
        )


if __name__ == "__main__":
    main()
