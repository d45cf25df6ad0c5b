"""Signs of a turn as a performer plays it: the aim, the subject, the person spoken to or the time changes.

A speech is divided into steps: sentences, and the parts of a sentence between semicolons, colons and dashes.
A sign belongs to the beginning of a step and has a short name, such as `you begins` or `asks`. `turn_weights`
has their weights, and `changes` says in plain words what changes at the turn.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import defaultdict
from dataclasses import dataclass
from functools import cached_property

from offbook.thoughts.address import FINITE, YOU, called, is_pause, orders
from offbook.thoughts.causes import Places, punctuation
from offbook.thoughts.clauses import SUBJECTS
from offbook.thoughts.wordlists import CONTENT_LETTERS, NO_TOPICS, STOP_WORDS, stem, words_in

# Set by hand, before the weights of the signs were fitted (`turn_weights`).
WINDOW = 25  # words on each side, to see who is spoken to and about whom
COHESION = 30  # words on each side, whose nouns, verbs and adjectives are compared
# Words: a long sentence has at least the first, a short one at most the second or third
LONG, SHORT, SCRAP = 20, 6, 3
MUCH = 3  # new nouns in one step
NEAR_START = 12  # words from the beginning: a turn so early is unlikely
NEAR_END = 20  # words from the end, where many speeches have their last turn
NO_QUESTIONS = 40  # words without a question before a first one
AHEAD = 15  # words at the beginning of a step, in which a "you" is looked for
# Words at the beginning of a step, in which "I" or somebody who comes, or a time is looked for
_OPENING, _TIME_WITHIN = 6, 4

I_WORDS = words_in("i me my mine myself i'll i've i'm i'd")
_STOPS = ("semicolon", "colon", "dash", "stop inside")
_OPENERS = {
    **dict.fromkeys(("then", "so", "thus", "therefore", "hence"), "so"),
    **dict.fromkeys(("when", "while", "whilst", "ere", "till", "before", "after"), "when"),
    **dict.fromkeys(("what", "how"), "what"),
    **{word: word for word in ("but", "yet", "and", "for", "well", "now", "no")},
    "nay": "no",
}
_TIME = words_in(
    "now then once today tonight to-night to-day yesterday tomorrow to-morrow ago years when first next "
    "last still hereafter henceforth never always"
)
_THIRD = words_in(
    "he she it they this that these those 'tis tis it's that's there's he's she's they're who which"
)
POINTERS = words_in("he she they his her their he's she's they're he'd she'd they'd he'll she'll they'll")
_COMING = words_in("comes cometh wakes knock knocking hark")
_RESOLVED = words_in("i'll we'll let's")
_RESOLVES = (("i", "will"), ("we", "will"), ("let", "us"), ("let", "me"), ("will", "i"))
_BEFORE_A_RESOLVE = words_in(
    "and so but then now well no nay yes yea ay o oh yet therefore however come thus"
)
_MEANING = ("NN", "VB", "JJ", "RB")  # beginnings of Penn tags
_MARKERS = words_in("right anyway anyhow okay ok look listen there see well now so no yes oh")
_BREAKS_OFF = words_in("soft peace hush hark hold stay lo alas ah why here come there good ha")
_ADJECTIVES = ("less", "ous")
_IT = words_in("it 'tis it's")
_NO_NOUNS = ("'d", "'ld", "o'")  # ends of verbs that the parser takes for nouns
_COMMON_OPENINGS = words_in("and the i a in to of for my")
_I_CHANGES = 0.08  # the change in the share of words such as "I": two in twenty-five; set by hand
_DECISION = 4  # words that show a decision, at most: "I will have to"
_SAME_MATTER = 2  # stems that are on both sides of the beginning of a step; set by hand


@dataclass(frozen=True, slots=True)
class SpeechStep:
    """A step of a speech.

    first: its first word. after: the word after its last. before: the first word of the step before.
    sentence_after: the end of its sentence, if the step begins one, otherwise the end of the step.
    sentence_before: the beginning of the sentence before. mark: what is before it (`sentence`, `paragraph`,
    `colon`, ...).
    """

    first: int
    after: int
    before: int
    sentence_after: int
    sentence_before: int
    mark: str


class Turning:
    """The steps of a speech and their signs."""

    def __init__(self, places: Places, verse: frozenset[int]) -> None:
        """verse: the indices of words in lines of verse."""
        self.places, self.parsed, self.low = places, places.parsed, places.low
        self.verse = verse
        self.count = len(self.low)
        self.sentences = sorted(self.parsed.sentence_starts | self.parsed.unprinted_starts | {0})
        self.marks = {i: self._mark(i) for i in range(1, self.count)}
        cuts = [0, *(i for i, mark in self.marks.items() if mark in ("paragraph", "sentence", *_STOPS))]
        ends = [*cuts[1:], self.count]
        self.after = dict(zip(cuts, ends, strict=True))
        self.before = dict(zip(cuts[1:], cuts, strict=False))
        self.starts = cuts

    def _mark(self, i: int) -> str:
        if i in self.parsed.paragraph_starts:
            return "paragraph"
        if i in self.parsed.sentence_starts or i in self.parsed.unprinted_starts:
            return "sentence"
        return punctuation(self.parsed.gaps[i])

    @cached_property
    def steps(self) -> tuple[SpeechStep, ...]:
        """All steps except the first, in order."""
        return tuple(self._step(i) for i in self.starts[1:])

    def _step(self, i: int) -> SpeechStep:
        whole = self.marks[i] in ("paragraph", "sentence")
        k = bisect_right(self.sentences, i)
        end = self.sentences[k] if k < len(self.sentences) else self.count
        begin = self.sentences[max(0, bisect_left(self.sentences, i) - 1)]
        after = self.after[i]
        return SpeechStep(i, after, self.before[i], end if whole else after, begin, self.marks[i])

    @cached_property
    def calls(self) -> dict[int, tuple[int, int]]:
        """The forms of address (first and last word), by the first word of their step."""
        found = {i: called(self.parsed, self.low, i, self.after[i]) for i in self.starts}
        return {i: span for i, span in found.items() if span is not None}

    def leads(self, i: int) -> bool:
        """Whether the sentence at word `i` has a noun for which the next sentence has a pronoun."""
        k = bisect_right(self.sentences, i)
        if k >= len(self.sentences):
            return False
        after = self.sentences[k]
        names = any(
            self.parsed.tag(w).startswith("NN") and self.parsed.dep(w) in SUBJECTS for w in range(i, after)
        )
        return names and self.low[after] in POINTERS

    @cached_property
    def stems(self) -> list[str]:
        """The stem of each content word, "" for the others."""
        tags = [self.parsed.tag(i)[:2] for i in range(self.count)]
        meant = [
            w not in STOP_WORDS and len(w) >= CONTENT_LETTERS and tags[i] in _MEANING
            for i, w in enumerate(self.low)
        ]
        return [stem(w) if meant[i] else "" for i, w in enumerate(self.low)]

    def signs(self, step: SpeechStep) -> frozenset[str]:
        """All signs for or against a turn at `step`."""
        found = {step.mark} | self._lengths(step) | self._opener(step) | self._address(step)
        found |= self._subject(step) | self._mood(step) | self._again(step) | self._matter(step)
        if step.first in self.verse:
            found.add("verse")
        return frozenset(found)

    def has(self, first: int, after: int, words: frozenset[str]) -> bool:
        """Whether one of `words` is in the words `first` up to `after`."""
        return not words.isdisjoint(self.low[max(0, first) : min(after, self.count)])

    def share(self, first: int, after: int, words: frozenset[str]) -> float:
        """The share of the words `first` up to `after` that are among `words`, 0 to 1."""
        part = self.low[max(0, first) : min(after, self.count)]
        return sum(w in words for w in part) / max(1, len(part))

    def _lengths(self, step: SpeechStep) -> set[str]:
        found = set()
        before, ahead = step.first - step.sentence_before, step.sentence_after - step.first
        if before <= SCRAP:
            found.add("scrap before")
        elif before <= SHORT:
            found.add("short before")
        elif before >= LONG:
            found.add("long before")
        if ahead <= SCRAP:
            found.add("scrap ahead")
        elif ahead >= LONG:
            found.add("long ahead")
        if step.first < NEAR_START:
            found.add("near the start")
        if self.count - step.first <= NEAR_END:
            found.add("near the end")
        return found

    def _opener(self, step: SpeechStep) -> set[str]:
        opener = _OPENERS.get(self.low[step.first])
        found = set() if opener is None else {f"opens with {opener}"}
        if opener is not None and step.mark in ("paragraph", "sentence"):
            found.add(f"sentence opens with {opener}")
        if self.has(step.first, min(step.after, step.first + _TIME_WITHIN), _TIME):
            found.add("time word")
        if self.stands_alone(step):
            found.add("a marker stands alone")
        elif self.stands_alone(step, _BREAKS_OFF):
            found.add("a cry stands alone")
        return found

    def stands_alone(self, step: SpeechStep, words: frozenset[str] = _MARKERS) -> bool:
        """Whether a sentence begins with a marker (or one of `words`) and a pause: `Right.` `No, no`."""
        whole = step.mark in ("paragraph", "sentence")
        return whole and self.low[step.first] in words and is_pause(self.parsed.gaps[step.first + 1])

    def _address(self, step: SpeechStep) -> set[str]:
        found = set()
        if step.first in self.calls:
            found.add("called on")
            if step.mark not in ("paragraph", "sentence"):
                found.add("called on after a stop")
        ahead = min(step.sentence_after, step.first + AHEAD)
        if self.has(step.first, ahead, YOU) and not self.has(step.first - WINDOW, step.first, YOU):
            found.add("you begins")
        if self.has(step.first, min(step.sentence_after, step.first + _OPENING), _COMING):
            found.add("somebody comes")
        return found

    def _subject(self, step: SpeechStep) -> set[str]:
        found = set()
        subject = self.subject(step)
        if subject is not None and self.low[subject] in _THIRD:
            found.add("same subject")
        elif subject is not None and self.parsed.tag(subject).startswith("NN") and not self.is_new(subject):
            found.add("a noun heard before is the subject")
        if self.low[step.first] in _IT:
            found.add("opens with it")
        opening = self.has(step.first, step.first + _OPENING, I_WORDS)
        if opening and not self.has(step.first - WINDOW, step.first, I_WORDS):
            found.add("I begins")
        was = self.share(step.first - WINDOW, step.first, I_WORDS)
        now = self.share(step.first, step.first + WINDOW, I_WORDS)
        if abs(was - now) >= _I_CHANGES:
            found.add("I comes or goes")
        here = set(self.stems[step.first : step.first + COHESION]) - {""}
        before = set(self.stems[max(0, step.first - COHESION) : step.first]) - {""}
        if len(here & before) >= _SAME_MATTER:
            found.add("same words")
        return found

    def subject(self, step: SpeechStep) -> int | None:
        """The index of the first subject of a step, None if there is none."""
        span = range(step.first, step.sentence_after)
        return next((k for k in span if self.parsed.dep(k) in SUBJECTS), None)

    def _matter(self, step: SpeechStep) -> set[str]:
        """The signs for how many new things the step mentions."""
        new = sum(self.is_new(k) for k in range(step.first, step.sentence_after))
        return {"nothing new"} if new == 0 else {"much new"} if new >= MUCH else set()

    def is_new(self, k: int) -> bool:
        """Whether word `k` is a noun that was not said before; oaths do not count."""
        low = self.low[k]
        noun = self.parsed.tag(k).startswith("NN") and low not in NO_TOPICS and not low.endswith(_NO_NOUNS)
        noun = noun and not low.endswith(_ADJECTIVES)  # the parser takes "thriftless" for a noun
        return noun and bool(self.stems[k]) and self.first_said[self.stems[k]] == k

    def _mood(self, step: SpeechStep) -> set[str]:
        found = set()
        gap = self.parsed.gaps[step.first]
        if "?" in gap:
            found.add("after a question")
        if "!" in gap:
            found.add("after a cry")
        if self.asks(step):
            found |= self._question(step)
        if self.resolves(step):
            found.add("resolves")
        if self.ordered_before(step) and not self.orders(step):
            found.add("orders end")
        if (
            self.verb(step.first, step.sentence_after)
            == "future"
            != self.verb(step.sentence_before, step.first)
        ):
            found.add("future begins")
        return found

    def _question(self, step: SpeechStep) -> set[str]:
        """The signs of a question: whether it follows another one, or is the first for some time."""
        if "?" in self.parsed.gaps[step.first]:
            return {"question upon question"}
        recent = self.parsed.gaps[max(0, step.first - NO_QUESTIONS) : step.first + 1]
        return {"asks"} | (set() if any("?" in gap for gap in recent) else {"first question"})

    def ordered_before(self, step: SpeechStep) -> bool:
        """Whether the step before begins with an order; not counted for the first step of the speech."""
        return step.before > 0 and orders(self.parsed, self.low, step.before, step.first)

    def asks(self, step: SpeechStep) -> bool:
        """Whether the step is a question."""
        return "?" in self.parsed.gaps[step.after]

    def resolves(self, step: SpeechStep) -> bool:
        """Whether the step begins with a decision: `I'll`, `I will`, `Let us`."""
        k = step.first
        while k + 2 < step.sentence_after and self.low[k] in _BEFORE_A_RESOLVE:
            k += 1
        near = (self.low[n] if n < self.count else "" for n in range(k, k + _DECISION))
        first, second, third, fourth = near
        verb = second if first in _RESOLVED else third
        if verb == "have" and "to" not in (third, fourth):
            return False  # "I'll have no call now" is a prediction
        return first in _RESOLVED or (first, second) in _RESOLVES

    def orders(self, step: SpeechStep) -> bool:
        """Whether the step begins with an order."""
        return orders(self.parsed, self.low, step.first, step.after)

    def _again(self, step: SpeechStep) -> set[str]:
        word = self.low[step.first]
        if word in _COMMON_OPENINGS:
            return set()
        earlier = self.openings[word]
        k = bisect_left(earlier, step.first)
        if k == 0:
            return set()
        return {"opening repeated"} if earlier[k - 1] == step.before else {"opening heard before"}

    @cached_property
    def openings(self) -> dict[str, list[int]]:
        """The first words of the steps, by the word that they begin with."""
        found: dict[str, list[int]] = defaultdict(list)
        for i in self.starts:
            found[self.low[i]].append(i)
        return found

    @cached_property
    def first_said(self) -> dict[str, int]:
        """The index of the first word with each stem."""
        found: dict[str, int] = {}
        for i, each in enumerate(self.stems):
            found.setdefault(each, i)
        return found

    def verb(self, first: int, after: int) -> str | None:
        """The Penn Treebank tag of the first finite verb; "future" if it is `will` or `shall`."""
        for k in range(first, after):
            if self.low[k] in (
                "will",
                "shall",
                "wilt",
                "shalt",
                "i'll",
                "we'll",
                "he'll",
                "she'll",
                "they'll",
            ):
                return "future"
            if self.parsed.tag(k) in FINITE:
                return self.parsed.tag(k)
        return None
