"""What a cut takes from the structure of a speech: its heart, and words that a later passage refers to.

The heart is the passage between two turns whose words are repeated most in the rest of the speech, which
depends on it. It may be cut, but the performer is told. If a word is said only inside the cut and then again
after it, the later place refers to the cut: a listener who did not hear that somebody sang does not
understand why it matters that it was heard.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from itertools import pairwise
from math import sqrt

from offbook.fit.edges import TURN, Edge
from offbook.lexicon import dictionary_form
from offbook.script import Script
from offbook.thoughts import CONTENT_LETTERS, Parsed
from offbook.words import Word, where

# All set by hand, on the speeches of the tests.
LEAST_AGAIN = 4  # words of the heart that are repeated elsewhere
LEAST_SPANS = 4  # passages between turns: a speech with fewer has no heart
HEART_SIZE = (0.15, 0.35)  # the smallest and the largest share of the speech that may be its heart
ANSWERED = 1.5  # the price of each word after the cut that refers to a word said only inside the cut
MOST_ANSWERED = 3  # such words that are listed for one cut
MOST_NAMED = 3  # passages that are listed for one cut
QUOTED = 5  # words that are quoted of a passage

_IRREGULAR = """
bear bore borne born | begin began begun | bind bound | bite bit bitten | bleed bled
blow blew blown | break broke broken | bring brought | build built | burn burnt | buy bought
catch caught | choose chose chosen | creep crept | deal dealt | dig dug | draw drew drawn
dream dreamt | drink drank drunk | drive drove driven | eat ate eaten | fall fell fallen | feed fed
feel felt | fight fought | find found | fly flew flown | forget forgot forgotten
forgive forgave forgiven | freeze froze frozen | grow grew grown | hang hung | hear heard
hide hid hidden | hold held | kneel knelt | lead led | leap leapt | learn learnt | leave left
lend lent | light lit | lose lost | mean meant | meet met | mow mown | pay paid | ride rode ridden
ring rang rung | rise rose risen | run ran | seek sought | sell sold | send sent | sew sewn
shake shook shaken | shine shone | shoot shot | shrink shrank shrunk | sing sang sung
sink sank sunk | sit sat | sleep slept | smell smelt | speak spoke spoken | spend spent | spin spun
steal stole stolen | stick stuck | strike struck stricken | swear swore sworn | sweep swept
swim swam swum | swing swung | teach taught | tear tore torn | throw threw thrown | tread trod
wake woke woken | wear wore worn | weave wove woven | weep wept | win won | wind wound
write wrote written
"""
_BASE = {
    form: forms.split()[0]
    for row in _IRREGULAR.split("\n")
    for forms in row.split("|")
    for form in forms.split()[1:]
}
_COMMON = """am is are was were been being had has did does done said told went gone came saw seen made took
taken gave given got knew known thought kept stood put be have do say go come know think see
get make take give look tell ask let put want need keep stand use try turn call way thing time
man woman year day night hand eye one people place lot bit"""
COMMON = frozenset(_COMMON.split())
_MOST_OF_IT = 0.5  # of the heart: a cut that takes so much of it is said to take the heart; set by hand


class Heart:
    """The passages of a speech, and the words that are repeated in several of them."""

    def __init__(self, script: Script, words: Sequence[Word], parsed: Parsed, edges: Sequence[Edge]) -> None:
        self.script, self.words = script, words
        tags = [parsed.tag(i) for i in range(len(words))]
        self.families = [_family(dictionary_form(w.text), tag) for w, tag in zip(words, tags, strict=True)]
        self.places: dict[str, list[int]] = defaultdict(list)
        for i, family in enumerate(self.families):
            if family:
                self.places[family].append(i)
        turns = sorted({0, *(e.before for e in edges if e.level >= TURN), len(words)})
        self.spans = list(pairwise(turns))
        self.heart = self._heart()

    def _heart(self) -> tuple[int, int] | None:
        """The heart: the index of its first word and of the word after its last; None if there is none."""
        if len(self.spans) < LEAST_SPANS:
            return None
        low, high = (share * len(self.words) for share in HEART_SIZE)
        starts, ends = [a for a, _ in self.spans[1:]], [b for _, b in self.spans[1:]]
        runs = [(a, b) for a in starts for b in ends if low <= b - a <= high]
        best = max(runs, key=self._weight, default=None)
        return best if best is not None and self._again(best) >= LEAST_AGAIN else None

    def _weight(self, span: tuple[int, int]) -> float:
        """How many of the passage's words are repeated elsewhere, in relation to its length."""
        return self._again(span) / sqrt(max(1, len(self._inside(span))))

    def _inside(self, span: tuple[int, int]) -> set[str]:
        return {f for f in self.families[span[0] : span[1]] if f}

    def _again(self, span: tuple[int, int]) -> int:
        """How many words of a passage are repeated elsewhere."""
        return sum(any(not span[0] <= i < span[1] for i in self.places[f]) for f in self._inside(span))

    def share(self, first: int, after: int) -> float:
        """The share of the heart that the words `first` up to `after` take, 0 to 1."""
        if self.heart is None:
            return 0.0
        a, b = self.heart
        return max(0, min(after, b) - max(first, a)) / (b - a)

    def answered(self, first: int, after: int) -> Iterator[str]:
        """Sentences about words after the cut that refer to a word said only inside the cut."""
        told = 0
        for i in range(after, len(self.words)):
            family = self.families[i]
            before = [k for k in self.places.get(family, ()) if k < i]
            if before and all(first <= k < after for k in before) and told < MOST_ANSWERED:
                told += 1
                was, now = self.words[before[0]], self.words[i]
                here, there = f"“{now.text}” in {self._at(i)}", f"“{was.text}” in {self._at(before[0])}"
                yield f"{here} answers {there}, which would be gone"

    def taken(self, first: int, after: int) -> Iterator[str]:
        """The passages between two turns that are cut completely, each quoted, the heart first."""
        if self.share(first, after) >= _MOST_OF_IT and self.heart is not None:
            yield f"the heart, which the rest refers to most: {self.named(*self.heart)}"
        heart = self.heart[0] if self.heart is not None else None
        whole = [(a, b) for a, b in self.spans if first <= a and b <= after and a != heart]
        for a, b in whole[:MOST_NAMED]:
            yield self.named(a, b)
        if len(whole) > MOST_NAMED:
            more = len(whole) - MOST_NAMED
            yield f"{more} more passage{'s' * (more > 1)} after that"

    def named(self, first: int, after: int) -> str:
        """A passage quoted by its first words, with its place."""
        last = min(first + QUOTED, after) - 1
        said = " ".join(self.script.text[self.words[first].start : self.words[last].end].split())
        more = " …" if last + 1 < after else ""
        return f"“{said}{more}” ({self._at(first)})"

    def _at(self, i: int) -> str:
        return where(self.script, self.words, i, i)


def _family(form: str, tag: str) -> str:
    """The base form of a word, by which it is counted; "" for a word that occurs in every speech."""
    if tag[:2] not in ("NN", "VB", "JJ") or len(form) < CONTENT_LETTERS or form.endswith("n't"):
        return ""
    base = _BASE.get(form, form)
    if base == form:
        for ending in ("'s", "ies", "ing", "ed", "es", "s"):
            if (
                form.endswith(ending)
                and len(form) - len(ending) >= CONTENT_LETTERS
                and not form.endswith("ss")
            ):
                base = form[: -len(ending)] + ("y" if ending == "ies" else "")
                break
    base = _BASE.get(base, base)
    return "" if base in COMMON or form in COMMON else base.rstrip("e")
