"""What a cut would break: connectives, questions, names, quotations, rhymes.

Every possible cut has a price. What a coach would never accept is forbidden: a "but" without what it is
opposed to, an answer without its question, half a quotation. What the performer can repair or accept adds to
the price, and is told beside the proposal. The rest of the price depends on how much of the speech's content
the cut takes.
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
from offbook.thoughts import CONTENT_LETTERS, SUBJECTS, YOU, Parsed, called_on
from offbook.words import Word, where

# Prices, set by hand in relation to one another, on the speeches of the tests.
FORBIDDEN = float("inf")
ONE_CUT = 1.0  # for each separate cut, because the audience may notice the join
CROSSING = 2.0  # for each level by which an edge inside the cut is stronger than both edges of the cut
HEADLESS = 2.0  # for the beginning of a paragraph without its end
CLOSE = 6.0  # for the whole of the close
MATTER = 10.0  # for the whole speech; a cut pays for its share
# The price of a share is multiplied by the first number if its words are not repeated; if all of them are, by
# the sum.
_MATTER_ONCE, _MATTER_AGAIN = 0.6, 0.8
_PRONOUN_LOST, _NOUN_LOST = 4.0, 1.5  # for a pronoun without its name, for a noun without its first mention
_POINTS_ELSEWHERE, _FOLLOWS_ELSEWHERE = 2.5, 0.8  # for "this" and for "again" after the cut
_SENTENCE_CLOSED = 1.0  # for a sentence that gets a new end at the cut
_RHYME_BROKEN = 1.2  # for each rhyme

# Other numbers, set by hand in the same way.
_RHYMES_WITHIN = 4  # lines between two that rhyme, at most
_CLOSE_SHARE = 8  # the close of a speech of one paragraph is its last eighth
_TELLING = 3  # words after the first, among which "he said" is looked for

_CONNECTIVES = """but yet however nevertheless nonetheless still instead otherwise whereas although though
    therefore thus hence so then consequently because for or nor also too moreover furthermore besides
    likewise similarly meanwhile rather except unless whereupon thereby thereupon"""
_LEAN_BACK = frozenset(_CONNECTIVES.split())
# At the beginning of a paragraph these refer to the whole speech so far, not to the sentence before.
_GATHER = frozenset(
    ["so", "then", "therefore", "thus", "hence", "still", "also", "meanwhile", "finally", "for"]
)
_LEAN_LIGHTLY = frozenset(["and", "again", "another", "other", "others", "even", "now", "here", "there"])
_POINTING = frozenset(["this", "that", "these", "those", "such", "it", "both", "neither", "none", "which"])
_PERSON = frozenset(["he", "him", "his", "himself", "she", "her", "hers", "herself"])
_MANY = frozenset(["they", "them", "their", "theirs", "themselves"])
_ORDER = ("first", "second", "third", "fourth", "fifth")
RHYMED = 0.4  # rhymes for each line of verse: with fewer, a rhyme is an accident
ADDRESSED_FOR = 40  # words after a cut in which "you" still means a person addressed before it
REACH_BACK = 80  # words before a pronoun in which its name is looked for
_ASKED = frozenset(["ask", "asks", "asked", "wondered", "inquired", "enquired", "demanded"])
_SAID = frozenset(["say", "says", "said", "answer", "answers", "answered", "reply", "replied", "told"])
_SHORT_ANSWER = 8  # words: a cut that is not longer takes only an answer
_SHORT_REPLY = 3  # words: a line that is not longer needs the line before it; common practice, no source
_FEW_ANSWERS = frozenset(["yes", "no", "ay", "aye", "nay", "never", "none", "nobody", "nothing", "indeed"])
# A single quotation mark opens a quotation before a capital, unless it stands for missing letters ('Tis). It
# closes one after a stop.
_SINGLE_OPENS = re.compile(
    r"(?<!\w)['‘](?!(?:T(?:is|was|were|will|would)|Gainst|Fore|Scape|Cause)\b)(?=[A-Z])"
)
_SINGLE_CLOSES = re.compile(r"[.,;:?!…—-]['’](?!\w)")
_LOOSE = frozenset(["punct", "cc", "intj", "ROOT"])  # a word with this relation does not need its head
_CLAUSES = frozenset(["conj", "ccomp", "advcl", "parataxis", "dep"])  # with a subject they can stand alone
# The tags of a verb that does not need a subject: `make thick my blood; stop up the access`.
_COMMAND_TAGS = frozenset(["VB", "VBP"])


@dataclass(frozen=True, slots=True)
class Leaning:
    """A word that needs an earlier noun or name to be understood.

    at: the word. on: the noun or name. others: other earlier places of the same noun. price: of cutting all
    of them.
    """

    at: int
    on: int
    others: tuple[int, ...]
    price: float


class Coherence:
    """The prices of all cuts of one speech."""

    def __init__(self, script: Script, words: Sequence[Word], parsed: Parsed) -> None:
        self.script, self.words, self.parsed = script, words, parsed
        self.forms = [dictionary_form(w.text) for w in words]
        self.tags = [parsed.tag(i) for i in range(len(words))]
        self.content = [
            f if t[:2] in ("NN", "VB", "JJ") and len(f) >= CONTENT_LETTERS else ""
            for f, t in zip(self.forms, self.tags, strict=True)
        ]
        # sorted by the noun, so that for a cut only the nouns inside it need be looked at
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
        """The price of cutting the words from `a` up to `b`, and what the performer should check.

        inside: the strongest level of the edges between them, 0 if there is none.
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
        """Whether what follows the cut answers, or is opposed to, something that would be cut."""
        i = b.before
        word = self.forms[i]
        if self._changes_speaker(i) and len(self._sentence_from(i)) <= _SHORT_REPLY:
            return True  # a line such as "Are they?" needs the words before it
        if self._ends_in(i - 1, "?") and not self._asks(i):
            return True  # an answer without its question
        if self._was_asked(a.before, i) and self._is_said(i):
            return True  # "I asked her what it was for. She said it was for other people."
        if word in _FEW_ANSWERS and self._gap(i).strip()[-1:] in ("?", "!"):
            return True
        if word in _LEAN_BACK and not (word in _GATHER and b.level == PARAGRAPH):
            # in "so much", "then the king" and "for ever" these are not connectives
            return not (word in ("so", "for", "then", "still", "too") and self.tags[i][:2] in ("JJ", "NN"))
        return False

    def _sentence_before(self, i: int) -> range:
        """The words (indices) of the sentence that ends before word `i`."""
        k = i
        while k > 0 and self.words[k - 1].sentence == self.words[i - 1].sentence:
            k -= 1
        return range(k, i)

    def _sentence_from(self, i: int) -> range:
        """The words (indices) from `i` to the end of its sentence."""
        k = i
        while k < len(self.words) and self.words[k].sentence == self.words[i].sentence:
            k += 1
        return range(i, k)

    def _was_asked(self, a: int, i: int) -> bool:
        """Whether the sentence before word `i` says that somebody asked, and would go with a cut from `a`."""
        before = self._sentence_before(i)
        return before.start >= a and any(self.forms[k] in _ASKED for k in before)

    def _is_said(self, i: int) -> bool:
        """Whether the sentence at word `i` begins by saying who said something."""
        return any(form in _SAID for form in self.forms[i + 1 : i + 1 + _TELLING])

    def _gap(self, i: int) -> str:
        """What is printed before word `i` in the speaker's own text."""
        return self.parsed.gaps[i] if i else ""

    def _ends_in(self, i: int, mark: str) -> bool:
        return i >= 0 and mark in self._gap(i + 1) if i + 1 < len(self.words) else False

    def _changes_speaker(self, i: int) -> bool:
        """Whether another part begins to speak at word `i`, if the speech is a scene with all its parts."""
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
        """Whether what is left of a sentence no longer makes sense.

        "That I may speak with you; and ask you why": the second half needs the first.
        """
        after = () if b.sentence else self._sentence_from(b.before)
        before = () if a.sentence else self._sentence_before(a.before)
        return any(self._hangs(k, a.before, b.before) for k in (*before, *after))

    def _hangs(self, word: int, first: int, after: int) -> bool:
        """Whether `word`, which stays, depends on a verb or noun from `first` up to `after`, which is cut."""
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
        """Whether there is a colon before the cut, which announces something that would be cut."""
        return a.before > 0 and not a.sentence and not a.verse and ":" in self._gap(a.before)

    def _leaves_question(self, a: int, b: int) -> bool:
        """Whether the cut takes the answer to a question that stays, and no other question follows."""
        if not a or "?" not in self._gap(a) or self._asks(a):
            return False
        if self._changes_speaker(a):
            return True  # the other part would not answer
        return b - a <= _SHORT_ANSWER or b >= len(self.words) or not self._asks(b)

    def _leaves_nobody_addressed(self, a: int, b: int) -> bool:
        """Whether somebody is addressed in the cut to whom the text after it still speaks."""
        gone = [span for span in self.calls if a <= span[0] and span[1] < b]
        if not gone:
            return False
        end = min([span[0] for span in self.calls if span[0] >= b], default=len(self.words))
        if not any(self.forms[i] in YOU for i in range(b, min(end, b + ADDRESSED_FOR))):
            return False
        before = [span for span in self.calls if span[1] < a]
        return not before or self.forms[before[-1][1]] != self.forms[gone[-1][1]]

    def _breaks_order(self, a: Edge, b: Edge) -> bool:
        """Whether "first" would be cut and "second" kept."""
        for word, following in pairwise(_ORDER):
            places, later = self.ordinals[word], self.ordinals[following]
            gone = bisect_left(places, a.before) < bisect_left(places, b.before)
            if gone and later and later[-1] >= b.before:
                return True
        return False

    def _shape(self, a: Edge, b: Edge, inside: int) -> float:
        """The part of the price for harming the structure of the speech.

        A cut from the end of one paragraph or turn into the beginning of the next damages both; a paragraph
        without its beginning does not say what it is about; and a speech leads up to its close.
        """
        price = CROSSING * max(0, inside - min(a.level, b.level))
        if a.level == PARAGRAPH and b.level < PARAGRAPH:
            price += HEADLESS
        overlap = b.before - max(a.before, self.close)
        return price + (CLOSE * overlap / max(1, len(self.words) - self.close) if overlap > 0 else 0.0)

    def _close(self) -> int:
        """The word at which the last paragraph begins, or the last eighth if there is only one paragraph."""
        paragraph = {line.n: line.paragraph for line in self.script.lines}
        last = paragraph[self.words[-1].line]
        first = next(w.i for w in self.words if paragraph[w.line] == last)
        return first or len(self.words) - max(1, len(self.words) // _CLOSE_SHARE)

    def _matter(self, a: int, b: int) -> float:
        """The part of the price for the content: more if the words are repeated elsewhere in the speech."""
        n = max(1, len(self.words))
        content = self.meaning[b] - self.meaning[a] or 1
        again = (self.repeated[b] - self.repeated[a]) / content
        return MATTER * (b - a) / n * (_MATTER_ONCE + _MATTER_AGAIN * again)

    def _leanings(self) -> list[Leaning]:
        """The pronouns, each with the nearest name that it can mean, and the nouns with earlier mentions."""
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
        """Whether a noun is one mentioned before: "the boat", "that old boat"."""
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
        """The prices of, and notes on, words after the cut whose noun or name would be cut."""
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
        """The prices of, and notes on, how the text before and after the cut fit together."""
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
        """Pairs of rhyming line ends, each as the index of its word, not more than four lines apart."""
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
    """The phones from the last stressed vowel on, without stress digits; empty if they are not known."""
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
