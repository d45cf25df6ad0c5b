"""Signals of something new: whom the speech addresses, its tense, what the sentence does, what it repeats.

Alone they do not decide how strong a mark is (except a new person addressed, which makes a turn); they tell
the performer what is new at a place that has a mark.
"""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right
from typing import Literal

from offbook.thoughts.causes import Places
from offbook.thoughts.clauses import SUBJECTS, Clause
from offbook.thoughts.wordlists import ADDRESSED, STOP_WORDS, words_in

Tense = Literal["past", "present", "future"]
Mood = Literal["statement", "question", "command", "wish", "cry"]
Person = Literal["I", "you", "we", "they"]

_PERSONS: dict[str, Person] = {
    **dict.fromkeys(("i", "me"), "I"),
    **dict.fromkeys(("you", "thou", "thee", "ye", "y'all"), "you"),
    **dict.fromkeys(("we", "us"), "we"),
    **dict.fromkeys(("he", "she", "they", "it"), "they"),
}
_DETERMINERS = frozenset(
    {
        "my",
        "our",
        "dear",
        "sweet",
        "good",
        "gentle",
        "fair",
        "fellow",
        "o",
        "oh",
        "mr",
        "mr.",
        "mrs",
        "mrs.",
        "ms",
        "ms.",
        "dr",
        "dr.",
        "ladies",
        "and",
        "poor",
        "old",
        "young",
        "most",
        "noble",
        "come",
    }
)
# All set by hand, on the speeches of the tests.
_ADDRESS_LENGTH = 6  # words: a form of address has no more
_SPEAKS_WITHIN = 14  # words after a name, in which a "you" is looked for
_THAT_WITHIN = 2  # words after "O", in which "that" is looked for
_MOST_COUNTED = 9  # items: those after the eighth have no ordinal
_MOST_ALIKE = 4  # words that two openings may share
ORDINALS = {
    2: "second",
    3: "third",
    4: "fourth",
    5: "fifth",
    6: "sixth",
    7: "seventh",
    8: "eighth",
}  # after that: one more


_JOINING = ("and", "or", "but", "nor")
_UNREAL = words_in("if though tho' would could should might")
_EMPTY_SUBJECTS = words_in("it it's that that's this there there's these those 'tis 'twas")
# Set by hand: the item from which on a list is mentioned, and how many equal first words show a repeated
# opening.
_NOTICED_ITEM, _SAME_OPENING = 3, 2


class Stance:
    """What each sentence of a speech does, and what is new at a place."""

    def __init__(self, places: Places, units: list[int]) -> None:
        self.places, self.parsed, self.low = places, places.parsed, places.low
        self.starts = sorted(self.parsed.sentence_starts)
        self.end = dict(zip(self.starts, [*self.starts[1:], len(self.low)], strict=True))
        self.previous = dict(zip(self.starts[1:], self.starts, strict=False))
        self.unit_before = dict(zip(units[1:], units, strict=False))
        self.unit_end = dict(zip(units, [*units[1:], len(self.low)], strict=True))
        self.main = self._main_clauses()
        self.items = self._items()
        self.addressees = {i: who for i in self.starts if (who := self._vocative(i)) is not None}
        self.called = sorted(self.addressees)

    def _main_clauses(self) -> dict[int, Clause]:
        """The main clause of each sentence, by the sentence's first word."""
        found: dict[int, Clause] = {}
        main = ((self.parsed.tokens[c.head].word, c) for c in self.places.clauses if c.kind == "main")
        roots = sorted(main, key=lambda root: root[0])  # two may hang on one word
        at = 0
        for start in self.starts:
            while at < len(roots) and roots[at][0] < self.end[start]:
                if roots[at][0] >= start and start not in found:
                    found[start] = roots[at][1]
                at += 1
        return found

    def tense(self, start: int) -> Tense | None:
        """The tense of a sentence's main verb, None if it has none or the sentence is only imagined."""
        clause = self.main.get(start)
        if clause is None:
            return None
        tree = self.places.tree
        parts = [
            clause.head,
            *(c for c in tree.children[clause.head] if tree.tokens[c].dep in ("aux", "auxpass")),
        ]
        tags = {tree.tokens[p].tag for p in parts}
        were = any(tree.form(p) == "were" for p in parts)
        if "VBD" in tags and (self._wishes(start) or (were and self._imagined(start, clause))):
            return None
        if "MD" in tags:
            return (
                "future"
                if any(tree.form(p) in ("will", "shall", "'ll", "wo", "sha") for p in parts)
                else None
            )
        return "past" if "VBD" in tags else "present" if tags & {"VBZ", "VBP"} else None

    def _wishes(self, start: int) -> bool:
        """Whether a sentence wishes for something that is not so: `O, that she knew she were!`."""
        return self.low[start] in ("o", "oh") and "that" in self.low[start + 1 : start + 1 + _THAT_WITHIN]

    def _imagined(self, start: int, clause: Clause) -> bool:
        """Whether a `were` is not in the past: `as though to breathe were life`."""
        subject = self.places.tree.deps(clause.head).get("nsubj")
        single = subject is not None and self.places.tree.tokens[subject].tag in ("NN", "NNP")
        return single or not _UNREAL.isdisjoint(self.low[start : self.end[start]])

    def mood(self, start: int) -> Mood:
        """What a sentence does: states, asks, orders, wishes or exclaims something."""
        gap = self.parsed.gaps[self.end[start]]
        if "?" in gap and not any(
            re.search("[;:—]", g) for g in self.parsed.gaps[start + 1 : self.end[start]]
        ):
            return "question"
        clause = self.main.get(start)
        if clause is not None:
            tree = self.places.tree
            deps, verb = tree.deps(clause.head), tree.tokens[clause.head]
            if (
                not deps.keys() & SUBJECTS
                and "aux" not in deps
                and verb.tag in ("VB", "VBP")
                and verb.word <= clause.first + 2
            ):
                return "command"
        if self.low[start] in ("let", "may", "would") and "!" in gap:
            return "wish"
        return "cry" if "!" in gap else "statement"

    def person(self, start: int) -> Person | None:
        """Who the main clause is about."""
        clause = self.main.get(start)
        if clause is None:
            return None
        tree = self.places.tree
        subject = next(
            (tree.deps(clause.head)[d] for d in ("nsubj", "nsubjpass") if d in tree.deps(clause.head)), None
        )
        form = "" if subject is None else tree.form(subject)
        return None if form == "it" else _PERSONS.get(form)  # "it seems" and "it rains" are about nobody

    def _vocative(self, i: int) -> str | None:
        """The person or thing addressed at the beginning of sentence i: `Friends,` `O Romeo,` `Mr.

        Chair,`.
        """
        low, parsed = self.low, self.parsed
        for k in range(i, min(i + _ADDRESS_LENGTH, len(low))):
            if k > i and parsed.gaps[k].strip():
                return None
            if re.match(r"\s*[,!:—]", parsed.gaps[k + 1]):
                called = k > i and low[i] in ("o", "oh") and parsed.tag(k).startswith("NN")
                named = called or parsed.tag(k) in ("NNP", "NNPS") or low[k] in ADDRESSED
                led = all(
                    low[m] in _DETERMINERS or parsed.tag(m) in ("NNP", "NNPS", "JJ") or low[m] in ADDRESSED
                    for m in range(i, k)
                )
                spoken = self._speaks_to(k + 1)
                return low[k] if named and led and spoken else None
        return None

    def _speaks_to(self, i: int) -> bool:
        """Whether the words after a name speak to somebody: with a "you", an order or a question."""
        end = self.end[self.starts[bisect_right(self.starts, i) - 1]] if i < len(self.low) else i
        if "!" in self.parsed.gaps[i] if i < len(self.parsed.gaps) else False:
            return True
        second = {
            "you",
            "your",
            "yours",
            "thou",
            "thee",
            "thy",
            "thine",
            "ye",
            "let",
            "yourself",
            "yourselves",
        }
        near = self.low[i : min(end, i + _SPEAKS_WITHIN)]
        if not second.isdisjoint(near) or "?" in self.parsed.gaps[end]:
            return True
        return i < len(self.low) and self.parsed.tag(i) == "VB" and self.parsed.dep(i) == "ROOT"

    def signals(self, i: int) -> frozenset[str]:
        """The signals at the first word i of a unit."""
        found: set[str] = set()
        if i in self.previous:
            found |= self._sentence(i)
        found |= self._repeats(i)
        nth = self.items.get(i, 0)
        if nth >= _NOTICED_ITEM:
            found.add(f"list {min(nth, _MOST_COUNTED)}")
        return frozenset(found)

    def _sentence(self, i: int) -> set[str]:
        found: set[str] = set()
        who = self.addressees.get(i)
        if who is not None:
            found.add("addressed again" if self._addressee_before(i) == who else "new addressee")
        before = self.previous[i]
        was, now = self.tense(before), self.tense(i)
        if was is not None and now is not None and was != now:
            found.add(f"tense {was} {now}")
        mood, mood_before = self.mood(i), self.mood(before)
        if mood != mood_before and mood != "statement":
            found.add(f"mood {mood}")
        person, person_before = self.person(i), self.person(before)
        if self.low[i] in _EMPTY_SUBJECTS:
            person = None  # "It's a flower shop" is about nobody new
        if person is not None and self._spoken_of(person, before):
            person = None  # in "I could tell you how we did it. We did it by turning up" the "we" is not new
        if person is not None and person_before is not None and person != person_before:
            found.add(f"person {person}")
        return found

    def _spoken_of(self, person: Person, start: int) -> bool:
        """Whether a sentence has this person (`I`, `we` or `you`) in it. `they` may be different people."""
        said = self.low[start : self.end[start]]
        return person != "they" and any(_PERSONS.get(word) == person for word in said)

    def _addressee_before(self, i: int) -> str | None:
        """The person who was last addressed before word i."""
        n = bisect_left(self.called, i)
        return self.addressees[self.called[n - 1]] if n else None

    def _repeats(self, i: int) -> set[str]:
        """The signal if the unit begins with the same words as the unit before, or the one before that."""
        before = self.unit_before.get(i)
        for start in (before, self.unit_before.get(before) if before is not None else None):
            n = 0 if start is None else self._alike(start, i)
            if n >= _SAME_OPENING or (n == 1 and self.low[i] not in STOP_WORDS):
                return {f"repeats {n}"}
        return set()

    def _alike(self, a: int, b: int) -> int:
        """How many first words two units have in common (at most four), without an `and` before them."""
        first, second = (
            [w for w in self.low[k : self.unit_end[k]][: _MOST_ALIKE + 1] if w not in _JOINING][:_MOST_ALIKE]
            for k in (a, b)
        )
        n = 0
        while n < min(len(first), len(second)) and first[n] == second[n]:
            n += 1
        return n

    def _items(self) -> dict[int, int]:
        """For each unit that is an item of a list of clauses, which item it is.

        A list is shown by coordination or by a repeated opening. After a gap it is a new list.
        """
        found: dict[int, int] = {}
        counts: dict[object, int] = {}
        last: dict[object, int] = {}
        earlier = before = 0
        for i in self.unit_before:
            key = self._list_of(i, before)
            if key is not None:
                # coordination has no gap
                since = (before, i) if isinstance(key, int) else (before, earlier, i)
                near = last.get(key, i) in since
                counts[key] = counts.get(key, 1) + 1 if near else 2
                found[i], last[key] = counts[key], i
            earlier, before = before, i
        return found

    def _list_of(self, i: int, before: int) -> object:
        """The key of the list that unit i continues: its opening or its first verb; None if there is none."""
        if self._alike(before, i) >= _SAME_OPENING:
            opening = [w for w in self.low[i : self.unit_end[i]] if w not in _JOINING]
            return tuple(opening[:2])
        tokens = self.places.tree.tokens
        for c in self.places.opens[i]:
            at = c.head
            while c.kind.startswith("and_") and tokens[at].dep == "conj" and tokens[at].head != at:
                at = tokens[at].head
            if at != c.head and self._begin_alike(before, i):
                return at
        return None

    def _begin_alike(self, a: int, b: int) -> bool:
        """Whether two coordinated units begin with the same part of speech, and so sound like a list."""
        first, second = (k + (self.low[k] in ("and", "or", "nor")) for k in (a, b))
        if max(first, second) >= len(self.low) or self.low[second] in ("but", "yet"):
            return False
        return self.places.parsed.tag(first)[:2] == self.places.parsed.tag(second)[:2]
