"""What a cut would break: connectives, questions, names, quotations, rhymes.

Every possible cut is given a price. What a coach would never let pass is forbidden: a "but" whose other
side is gone, an answer whose question is gone, half a quotation. What can be mended or lived with costs
something and is said beside the proposal. The rest of the price is how much of the speech's own matter
goes with the cut.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise

from offbook.fit.edges import PARAGRAPH, Edge
from offbook.fit.exchanges import Exchanges
from offbook.lexicon import dictionary_form, pronounce
from offbook.script import Script
from offbook.thoughts import SUBJECTS, YOU, Parsed, called_on
from offbook.words import Word, where

FORBIDDEN = float("inf")
ONE_CUT = 1.0  # each separate cut is a join the audience may hear
CROSSING = 2.0  # for each level of edge that lies inside a cut and is stronger than its own edges
HEADLESS = 2.0
CLOSE = 6.0  # for the whole of the close
MATTER = 10.0  # for the whole speech; a cut pays for its share, more where its words come again
_MATTER_ONCE, _MATTER_AGAIN = (
    0.6,
    0.8,
)  # of that share: for words met once, and put to it where all come again
_PRONOUN_LOST, _NOUN_LOST = 4.0, 1.5  # for a pronoun without its name, a noun without its first mention
_POINTS_ELSEWHERE, _FOLLOWS_ELSEWHERE = 2.5, 0.8  # for "this" and for "again" after the cut
_SENTENCE_CLOSED = 1.0  # for a sentence that ends at the cut
_RHYME_BROKEN = 1.2  # for each
_RHYMES_WITHIN = 4  # lines
_CLOSE_SHARE = 8  # the close of a speech of one paragraph is one part in so many of its words
_TELLING = 3  # words after a quotation in which "he said" stands

_CONNECTIVES = """but yet however nevertheless nonetheless still instead otherwise whereas although though
    therefore thus hence so then consequently because for or nor also too moreover furthermore besides
    likewise similarly meanwhile rather except unless whereupon thereby thereupon"""
_LEAN_BACK = frozenset(_CONNECTIVES.split())
# At the head of a paragraph these gather up the whole speech so far, not the sentence before.
_GATHER = frozenset(
    ["so", "then", "therefore", "thus", "hence", "still", "also", "meanwhile", "finally", "for"]
)
_LEAN_LIGHTLY = frozenset(["and", "again", "another", "other", "others", "even", "now", "here", "there"])
_POINTING = frozenset(["this", "that", "these", "those", "such", "it", "both", "neither", "none", "which"])
_PERSON = frozenset(["he", "him", "his", "himself", "she", "her", "hers", "herself"])
_MANY = frozenset(["they", "them", "their", "theirs", "themselves"])
_ORDER = ("first", "second", "third", "fourth", "fifth")
RHYMED = 0.4  # rhymes for each verse line from which a poem rhymes; in blank verse a rhyme is an accident
ADDRESSED_FOR = 40  # words after a cut in which a "you" still speaks to who was called on before it
REACH_BACK = 80  # words; a pronoun further from a name leans on something else
_ASKED = frozenset(["ask", "asks", "asked", "wondered", "inquired", "enquired", "demanded"])
_SAID = frozenset(["say", "says", "said", "answer", "answers", "answered", "reply", "replied", "told"])
_SHORT_ANSWER = 8  # words; a cut no longer takes an answer and nothing else
_SHORT_REPLY = 3  # words; so short a line says nothing without the one before it; common practice, no source
_FEW_ANSWERS = frozenset(["yes", "no", "ay", "aye", "nay", "never", "none", "nobody", "nothing", "indeed"])
# A single quotation mark opens speech before a capital, unless letters are left out there ('Tis), and ends
# it after a stop.
_SINGLE_OPENS = re.compile(
    r"(?<!\w)['‘](?!(?:T(?:is|was|were|will|would)|Gainst|Fore|Scape|Cause)\b)(?=[A-Z])"
)
_SINGLE_CLOSES = re.compile(r"[.,;:?!…—-]['’](?!\w)")
_LOOSE = frozenset(["punct", "cc", "intj", "ROOT"])  # relations whose word can do without its head
_CLAUSES = frozenset(["conj", "ccomp", "advcl", "parataxis", "dep"])  # with a subject they can stand alone
# Tags of a verb that can do without a subject: `make thick my blood; stop up the access`.
_COMMAND_TAGS = frozenset(["VB", "VBP"])
_SHORTEST = 3  # letters of a word that can carry the matter of a sentence; set by hand


@dataclass(frozen=True, slots=True)
class Leaning:
    """A word at `at` that leans on the noun or name at `on`. others: earlier places of the same noun.

    price: of leaving it without any of them.
    """

    at: int
    on: int
    others: tuple[int, ...]
    price: float


class Coherence:
    """Prices of cuts of one speech."""

    def __init__(self, script: Script, words: Sequence[Word], parsed: Parsed) -> None:
        self.script, self.words, self.parsed = script, words, parsed
        self.forms = [dictionary_form(w.text) for w in words]
        self.tags = [parsed.tag(i) for i in range(len(words))]
        self.content = [
            f if t[:2] in ("NN", "VB", "JJ") and len(f) >= _SHORTEST else ""
            for f, t in zip(self.forms, self.tags, strict=True)
        ]
        # by the noun that is leaned on, so that a cut looks only at what it takes away
        self.leanings = sorted(self._leanings(), key=lambda lean: lean.on)
        self.rhymes = self._rhymes()
        verse = sum(line.verse for line in script.lines)
        self.rhymed = len(self.rhymes) >= RHYMED * verse
        self.counts = Counter(c for c in self.content if c)
        self.meaning = [0, *accumulate(c != "" for c in self.content)]
        self.repeated = [0, *accumulate(c != "" and self.counts[c] > 1 for c in self.content)]
        self.ordinals = {
            word: [i for i, form in enumerate(self.forms) if form in (word, word + "ly")] for word in _ORDER
        }
        self.exchanges = Exchanges(script, words, parsed.gaps)
        self.calls = called_on(script, words)
        self.with_subject = frozenset(t.head for t in parsed.tokens if t.dep in SUBJECTS)
        self.speakers = {line.n: line.speaker for line in script.lines}
        self.close = self._close()

    def price(self, a: Edge, b: Edge, inside: int) -> tuple[float, tuple[str, ...]]:
        """The price of cutting the words from `a` up to `b`, and what a reader should check.

        inside: the strongest level of the edges between them, 0 where there is none.
        """
        if not self.exchanges.allow(a.before, b.before) or self._leaves_nobody_addressed(a.before, b.before):
            return FORBIDDEN, ()
        if b.before < len(self.words) and self._leans_back(a, b):
            return FORBIDDEN, ()
        if self._leaves_question(a.before, b.before):
            return FORBIDDEN, ()
        if self._splits_quotation(a.before, b.before) or self._dangles(a, b) or self._breaks_order(a, b):
            return FORBIDDEN, ()
        if self._breaks_sentence(a, b):
            return FORBIDDEN, ()
        price = ONE_CUT + self._matter(a.before, b.before) + self._shape(a, b, inside)
        notes = list[str]()
        exchange = self.exchanges.note(a.before, b.before)
        if exchange is not None:
            notes.append(exchange)
        for extra, note in (*self._names(a.before, b.before), *self._joins(a, b), *self._rhyme(a, b)):
            price += extra
            notes.append(note)
        return price, tuple(notes)

    def _leans_back(self, a: Edge, b: Edge) -> bool:
        """What follows the cut answers or turns against something that would be gone."""
        i = b.before
        word = self.forms[i]
        if self._changes_speaker(i) and len(self._sentence_from(i)) <= _SHORT_REPLY:
            return True  # "Are they?" takes up the very words before it
        if self._ends_in(i - 1, "?") and not self._asks(i):
            return True  # an answer without its question
        if self._was_asked(a.before, i) and self._is_said(i):
            return True  # "I asked her what it was for. She said it was for other people."
        if word in _FEW_ANSWERS and self._gap(i).strip()[-1:] in ("?", "!"):
            return True
        if word in _LEAN_BACK and not (word in _GATHER and b.level == PARAGRAPH):
            # "So much", "then the king", "for ever" lean on nothing when no clause stop is before them.
            return not (word in ("so", "for", "then", "still", "too") and self.tags[i][:2] in ("JJ", "NN"))
        return False

    def _sentence_before(self, i: int) -> range:
        """The words of the sentence that ends before word `i`."""
        k = i
        while k > 0 and self.words[k - 1].sentence == self.words[i - 1].sentence:
            k -= 1
        return range(k, i)

    def _sentence_from(self, i: int) -> range:
        """Word `i` and the others up to the end of its sentence."""
        k = i
        while k < len(self.words) and self.words[k].sentence == self.words[i].sentence:
            k += 1
        return range(i, k)

    def _was_asked(self, a: int, i: int) -> bool:
        """Whether the sentence before word `i`, which would go with a cut from `a`, tells of a question."""
        before = self._sentence_before(i)
        return before.start >= a and any(self.forms[k] in _ASKED for k in before)

    def _is_said(self, i: int) -> bool:
        """Whether the sentence at word `i` begins by telling what was said."""
        return any(form in _SAID for form in self.forms[i + 1 : i + 1 + _TELLING])

    def _gap(self, i: int) -> str:
        """What the speaker's own text has before word `i`."""
        return self.parsed.gaps[i] if i else ""

    def _ends_in(self, i: int, mark: str) -> bool:
        return i >= 0 and mark in self._gap(i + 1) if i + 1 < len(self.words) else False

    def _changes_speaker(self, i: int) -> bool:
        """Whether somebody else speaks from word `i` on, in a scene of which all parts are one speech."""
        return i > 0 and self.speakers[self.words[i - 1].line] != self.speakers[self.words[i].line]

    def _asks(self, i: int) -> bool:
        """Whether the sentence of word `i` ends in a question mark."""
        return self._ends_in(self._sentence_from(i).stop - 1, "?")

    def _splits_quotation(self, a: int, b: int) -> bool:
        end = self.words[b].start if b < len(self.words) else self.words[-1].end + 2
        stretch = self.script.text[self.words[a].start - (1 if a else 0) : end]
        return (
            stretch.count("“") != stretch.count("”")
            or stretch.count('"') % 2 == 1
            or stretch.count("(") != stretch.count(")")
            or len(_SINGLE_OPENS.findall(stretch)) != len(_SINGLE_CLOSES.findall(stretch))
        )

    def _breaks_sentence(self, a: Edge, b: Edge) -> bool:
        """What is left of a sentence has lost what it hangs on.

        "That I may speak with you; and ask you why": without the first half nobody asks.
        """
        after = () if b.sentence else self._sentence_from(b.before)
        before = () if a.sentence else self._sentence_before(a.before)
        return any(self._hangs(k, a.before, b.before) for k in (*before, *after))

    def _hangs(self, word: int, first: int, after: int) -> bool:
        """Whether `word`, which stays, is a part of a clause whose verb or noun is among those that go."""
        tokens = self.parsed.tokens
        for k in range(self.parsed.first[word], self.parsed.last[word] + 1):
            token = tokens[k]
            if not first <= tokens[token.head].word < after or token.dep in _LOOSE:
                continue
            commands = token.tag in _COMMAND_TAGS and token.head not in self.with_subject
            if not (token.dep in _CLAUSES and (k in self.with_subject or commands)):
                return True
        return False

    def _dangles(self, a: Edge, b: Edge) -> bool:
        """What comes before the cut promises something that would be gone: a colon."""
        return a.before > 0 and not a.sentence and not a.verse and ":" in self._gap(a.before)

    def _leaves_question(self, a: int, b: int) -> bool:
        """The cut takes the answer to a question that would stay; a long one may, where one follows."""
        if not a or "?" not in self._gap(a) or self._asks(a):
            return False
        if self._changes_speaker(a):
            return True  # whoever was asked would not answer
        return b - a <= _SHORT_ANSWER or b >= len(self.words) or not self._asks(b)

    def _leaves_nobody_addressed(self, a: int, b: int) -> bool:
        """The cut calls on somebody to whom what follows still speaks."""
        gone = [span for span in self.calls if a <= span[0] and span[1] < b]
        if not gone:
            return False
        end = min([span[0] for span in self.calls if span[0] >= b], default=len(self.words))
        if not any(self.forms[i] in YOU for i in range(b, min(end, b + ADDRESSED_FOR))):
            return False
        before = [span for span in self.calls if span[1] < a]
        return not before or self.forms[before[-1][1]] != self.forms[gone[-1][1]]

    def _breaks_order(self, a: Edge, b: Edge) -> bool:
        """ "Second" is left without its "first"."""
        for word, following in pairwise(_ORDER):
            places, later = self.ordinals[word], self.ordinals[following]
            gone = bisect_left(places, a.before) < bisect_left(places, b.before)
            if gone and later and later[-1] >= b.before:
                return True
        return False

    def _shape(self, a: Edge, b: Edge, inside: int) -> float:
        """How badly the cut sits in the build of the speech.

        A cut that crosses from the tail of one paragraph or turn into the head of the next takes the end
        of one and the point of the other; one that takes the head of a paragraph takes what it is about;
        and the close of a speech is what it has been built for.
        """
        price = CROSSING * max(0, inside - min(a.level, b.level))
        if a.level == PARAGRAPH and b.level < PARAGRAPH:
            price += HEADLESS
        overlap = b.before - max(a.before, self.close)
        return price + (CLOSE * overlap / max(1, len(self.words) - self.close) if overlap > 0 else 0.0)

    def _close(self) -> int:
        """The word at which the last paragraph begins, or the last eighth where there is only one."""
        paragraph = {line.n: line.paragraph for line in self.script.lines}
        last = paragraph[self.words[-1].line]
        first = next(w.i for w in self.words if paragraph[w.line] == last)
        return first or len(self.words) - max(1, len(self.words) // _CLOSE_SHARE)

    def _matter(self, a: int, b: int) -> float:
        """The share of the speech that goes, more where its words come again elsewhere."""
        n = max(1, len(self.words))
        content = self.meaning[b] - self.meaning[a] or 1
        again = (self.repeated[b] - self.repeated[a]) / content
        return MATTER * (b - a) / n * (_MATTER_ONCE + _MATTER_AGAIN * again)

    def _leanings(self) -> list[Leaning]:
        """Each third-person pronoun with the nearest noun or name before it that it can stand for."""
        found = []
        places: dict[str, list[int]] = {}
        for i, (form, tag) in enumerate(zip(self.forms, self.tags, strict=True)):
            on = self._antecedent(i, form) if form in _PERSON or form in _MANY else None
            if on is not None:
                others = tuple(p for p in places.get(self.forms[on], ()) if p != on)
                found.append(Leaning(i, on, others, _PRONOUN_LOST))
            if tag.startswith("NN"):
                before = places.setdefault(form, [])
                if before and (tag.startswith("NNP") or self._is_definite(i)):
                    found.append(Leaning(i, before[0], tuple(before[1:]), _NOUN_LOST))
                before.append(i)
        return found

    def _is_definite(self, i: int) -> bool:
        """ "the boat", "that old boat": a boat that was spoken of before."""
        if self.forms[i] in _IN_PHRASES:
            return False
        return any(f in ("the", "that", "this", "those", "these") for f in self.forms[max(0, i - 2) : i])

    def _antecedent(self, i: int, form: str) -> int | None:
        wanted = ("NNS", "NNPS") if form in _MANY else ("NNP",)
        back = range(i - 1, max(-1, i - REACH_BACK), -1)
        person = form in _PERSON
        named = (k for k in back if self.tags[k] in wanted or (person and self.forms[k] in PEOPLE))
        return next((k for k in named if not (person and self.forms[k] in _CALENDAR)), None)

    def _names(self, a: int, b: int) -> list[tuple[float, str]]:
        """Pronouns after the cut whose name or noun would be gone."""
        found, told = [], set()
        first = bisect_left(self.leanings, a, key=lambda lean: lean.on)
        taken = self.leanings[first : bisect_left(self.leanings, b, first, key=lambda lean: lean.on)]
        for lean in sorted(taken, key=lambda lean: lean.at):
            if lean.at < b:
                continue
            if any(p < a or b <= p < lean.at for p in lean.others) or lean.on in told:
                continue
            told.add(lean.on)
            pronoun, name = self.words[lean.at].text, self.words[lean.on].text
            at = where(self.script, self.words, lean.at, lean.at)
            lost = "its first mention" if pronoun.lower() == name.lower() else f"“{name}”"
            found.append((lean.price, f"“{pronoun}” in {at} would come without {lost}"))
        return found

    def _joins(self, a: Edge, b: Edge) -> list[tuple[float, str]]:
        """How what is left meets."""
        found: list[tuple[float, str]] = []
        if b.before < len(self.words):
            word = self.forms[b.before]
            shown = self.words[b.before].text
            if word in _POINTING and not self.tags[b.before].startswith("NN"):
                found.append((_POINTS_ELSEWHERE, f"“{shown}” would point at what now comes before it"))
            elif word in _LEAN_LIGHTLY:
                found.append((_FOLLOWS_ELSEWHERE, f"“{shown}” would follow on from what now comes before it"))
            if a.sentence != b.sentence:
                found.append((_SENTENCE_CLOSED, "the sentence is closed where the cut begins or ends"))
        return found

    def _rhymes(self) -> list[tuple[int, int]]:
        """Pairs of verse line ends, by the word that ends them, that rhyme within four lines."""
        ends = [
            i
            for i, w in enumerate(self.words)
            if i + 1 == len(self.words) or self.words[i + 1].line != w.line
        ]
        verse = {line.n for line in self.script.lines if line.verse}
        sounds = [(i, _rime(self.forms[i])) for i in ends if self.words[i].line in verse]
        found = []
        for k, (i, sound) in enumerate(sounds):
            for j, other in sounds[k + 1 : k + 1 + _RHYMES_WITHIN]:
                if sound and sound == other and self.forms[i] != self.forms[j]:
                    found.append((i, j))
                    break
        return found

    def _rhyme(self, a: Edge, b: Edge) -> list[tuple[float, str]]:
        if not self.rhymed:
            return []
        broken = sum((a.before <= i < b.before) != (a.before <= j < b.before) for i, j in self.rhymes)
        if not broken:
            return []
        return [(_RHYME_BROKEN * broken, f"{broken} rhyme{'s' if broken > 1 else ''} would be broken")]


def _rime(form: str) -> tuple[str, ...]:
    """The phones from the last stressed vowel on, stress left out; empty where they are not known."""
    phones = pronounce(form)[0].phones
    at = max((k for k, p in enumerate(phones) if p[-1] in "12"), default=None)
    return tuple(p.rstrip("012") for p in phones[at:]) if at is not None else ()


_PEOPLE = """man woman boy girl father mother brother sister son daughter king queen lord lady friend
    husband wife child doctor nurse soldier captain teacher master mistress uncle aunt grandfather
    grandmother sir madam prince princess stranger neighbour neighbor lover servant fellow gentleman sailor
    fisherman poet keeper duke duchess emperor bishop priest"""
PEOPLE = frozenset(_PEOPLE.split())
_DATES = """january february march april may june july august september october november december
    monday tuesday wednesday thursday friday saturday sunday christmas easter"""
_CALENDAR = frozenset(_DATES.split())
_IN_PHRASES = frozenset(["time", "way", "moment", "rest", "course", "fact"])  # by the time, on the way
