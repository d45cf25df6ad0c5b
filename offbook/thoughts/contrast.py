"""Signals of contrast: where what follows is opposed to what was just said.

These are contrast and concession with a connective, a concession that comes first, antithesis without a
connective (a denial and its correction, opposites in parallel, a repeated word with and without `not`), and
question and answer. Each signal has a short name; `weights` uses these names, and `reasons` has the words for
the performer.
"""

from __future__ import annotations

import re

from offbook.thoughts.address import orders
from offbook.thoughts.causes import Places
from offbook.thoughts.clauses import SUBJECTS, Clause
from offbook.thoughts.wordlists import (
    AUXILIARIES,
    CONTENT_LETTERS,
    CONTRAST_CONJUNCTS,
    NEGATIONS,
    OPPOSITES,
    PAIRS,
    STOP_WORDS,
    stem,
)

_CONCESSIVE = ("although", "though", "albeit", "whereas", "even though", "even if", "even when",
               "even while", "despite", "in spite", "notwithstanding", "no matter", "whatever", "however",
               "whether", "for all", "much as", "even knowing", "even after", "even with")  # fmt: skip
_FINITE = ("VBD", "VBZ", "VBP", "MD")
_DEGREE = ("JJR", "RBR", "VBG", "JJ", "RB")
_AFTERTHOUGHTS = ("whatever", "however", "no matter")
# All set by hand, on the speeches of the tests.
_FEW = 6  # words of a unit between two commas, at most
_INSTEAD = ("instead of", "rather than", "far from", "not only")
_SHORT_DENIAL = 5  # words of a clause that is only a denial, at most
# Words, in which "or", "however" and "so much" are looked for
_OR_WITHIN, _CONJUNCT_WITHIN, _SO_MUCH_WITHIN = 12, 12, 6
# Words at the beginning of a unit, in which an auxiliary and a pair are looked for
_AUXILIARY_WITHIN, _PAIR_WITHIN = 4, 3


class Contrast:
    """The signals of contrast in a speech. units: the first words of the units, which begin at any shift."""

    def __init__(self, places: Places, units: list[int]) -> None:
        self.places, self.units = places, units
        self.low, self.parsed, self.tree = places.low, places.parsed, places.tree
        self.next = dict(zip(units, [*units[1:], len(self.low)], strict=True))
        self.before = dict(zip(units[1:], units, strict=False))

    def signals(self, i: int) -> frozenset[str]:
        """The signals at the first word i of a unit (0 < i)."""
        found: set[str] = set()
        found |= self._but(i)
        found |= self._concession(i)
        found |= self._conjunct(i)
        found |= self._comparison(i)
        found |= self._negation(i)
        if "not to after comma" in self.places.causes(i):
            found.add("not to after comma")
        found |= self._parallel(i)
        found |= self._question(i)
        return frozenset(found)

    # connectives -------------------------------------------------------------------------------

    def _phrase(self, i: int, n: int) -> str:
        return " ".join(self.low[i : i + n])

    def _starts(self, i: int, phrases: tuple[str, ...]) -> str | None:
        return next((p for p in phrases if self._phrase(i, p.count(" ") + 1) == p), None)

    def _pause(self, i: int) -> str:
        if i in self.parsed.sentence_starts:
            return "sentence"
        gap = self.parsed.gaps[i]
        return (
            "comma" if re.fullmatch(r"\s*[,\"“”’']*,[\"“”’']*\s*", gap) else "stop" if gap.strip() else "none"
        )

    def _but(self, i: int) -> set[str]:
        word = self.low[i]
        if word == "or" and self._phrase(i + 1, 1) == "not":
            return {"or not"}
        if word in ("and", "or") and self._phrase(i + 1, 1) in ("yet", "rather", "still"):
            return {"and yet"}
        if word == "yet":
            return {"yet"} if self._pause(i) != "none" or self.places.opens[i] else set()
        if word != "but":
            return set()
        if "but meaning only" in self.places.causes(i):
            return set()
        clause = any(c.finite or c.kind.startswith("and_") for c in self.places.opens[i]) or self._verb_in(i)
        found = {f"but {self._pause(i)} {'clause' if clause else 'phrase'}"}
        if self._negated(self.before[i], i):
            found.add("not but")
        return found

    def _verb_in(self, i: int) -> bool:
        return any(self.parsed.tag(k) in _FINITE for k in range(i, self.next[i]))

    def _concession(self, i: int) -> set[str]:
        found: set[str] = set()
        opener = self._starts(i, _CONCESSIVE)
        if opener is not None and i not in self.parsed.sentence_starts and not self._fronted(i):
            if opener in _AFTERTHOUGHTS and self._set_between_commas(i):
                pass  # and you, whatever your name is, came too
            elif opener == "whether":
                if "or" in self.low[i : i + _OR_WITHIN]:
                    found.add("whether or")
            elif opener == "however":
                found.add("however clause" if self._pause(i + 1) == "none" else "conjunct")
            else:
                found.add("concession follows")
        for c in self.places.closes[i]:
            if self._before_its_head(c) and self._opens_main(i):
                if self._starts(c.first, _CONCESSIVE):
                    found.add("concession answered")
                if self._starts(c.first, _INSTEAD):
                    found.add("instead answered")
                if "as" in self.low[c.first : c.first + 1] and self.parsed.tag(c.first - 1) in ("JJ", "RB"):
                    found.add("concession answered")
        start = self.before[i]
        if (
            start in self.next
            and self._starts(start, _CONCESSIVE)
            and self._fronted(start)
            and self._pause(i) != "none"
        ):
            found.add("concession answered")
        return found

    def _set_between_commas(self, i: int) -> bool:
        """Whether the unit at `i` is a few words between two commas of a sentence."""
        end = self.next[i]
        return (
            end - i <= _FEW
            and self._pause(i) == "comma"
            and end < len(self.low)
            and self._pause(end) == "comma"
        )

    def _fronted(self, i: int) -> bool:
        return any(self._before_its_head(c) for c in self.places.opens[i])

    def _before_its_head(self, c: Clause) -> bool:
        head = self.tree.tokens[c.head].head
        while c.first <= self.tree.tokens[head].word <= c.last and self.tree.tokens[head].head != head:
            head = self.tree.tokens[head].head
        return self.tree.tokens[head].word > c.last

    def _opens_main(self, i: int) -> bool:
        return i not in self.parsed.sentence_starts

    def _conjunct(self, i: int) -> set[str]:
        found: set[str] = set()
        phrase = self._starts(i, CONTRAST_CONJUNCTS)
        if phrase == "only" and not (self._verb_in(i) and self._subject(self._span(i)) is not None):
            phrase = None  # in "only this and nothing more" it is not a connective
        if phrase == "only" and self.parsed.tag(self.parsed.head(i)).startswith("NN"):
            phrase = None  # in "only love can keep us" it belongs to the noun
        if phrase == "still" and self.parsed.tag(min(i + 1, len(self.low) - 1)) in _DEGREE:
            phrase = None  # still slower, still learning
        fronted = self._starts(i, _INSTEAD) is not None and self._fronted(i)
        if phrase is not None and self._pause(i) != "none" and not fronted:
            found.add("contrast conjunct")
        if self._pause(i) in ("sentence", "stop"):
            for k in range(i + 1, min(i + _CONJUNCT_WITHIN, len(self.low) - 1)):
                if k in self.parsed.sentence_starts:
                    break
                if (
                    self.low[k] in ("however", "nevertheless", "nonetheless", "instead", "though")
                    and "," in self.parsed.gaps[k]
                    and self.parsed.gaps[k + 1].strip()
                ):
                    found.add("conjunct inside")
        if self.low[i] in ("while", "whilst") and not self._fronted(i):
            found.add(f"while {self._pause(i)}")
        return found

    def _comparison(self, i: int) -> set[str]:
        if self.low[i] == "than":
            return {"than clause" if self._verb_in(i) else "than phrase"}
        if self.low[i] == "as" and "so much" in self._phrase(max(0, i - _SO_MUCH_WITHIN), _SO_MUCH_WITHIN):
            return {"not so much as"}
        return set()

    # antithesis --------------------------------------------------------------------------------

    def _span(self, i: int) -> range:
        return range(i, self.next[i])

    def _negated(self, a: int, b: int) -> bool:
        return any(self.low[k] in NEGATIONS or self.low[k].endswith("n't") for k in range(a, b))

    def _says_not(self, span: range) -> bool:
        """Whether a unit says that something is not so; `without a horse` does not."""
        return any(
            self.low[k] in ("not", "no", "never", "cannot") or self.low[k].endswith("n't") for k in span
        )

    def _content(self, span: range) -> set[str]:
        kept = (self.low[k] for k in span)
        return {stem(word) for word in kept if word not in STOP_WORDS and len(word) >= CONTENT_LETTERS}

    def _subject(self, span: range) -> str | None:
        for k in span:
            if self.parsed.dep(k) in SUBJECTS:
                return self.low[k]
        return None

    def _negation(self, i: int) -> set[str]:
        """The signals if one of this unit and the one before has a `not`, and the other has not."""
        a, b = range(self.before[i], i), self._span(i)
        was, now = self._negated(a.start, a.stop), self._negated(b.start, b.stop)
        if was == now or "?" in self.parsed.gaps[b.stop]:
            return set()
        shared = self._content(a) & self._content(b)
        subjects = self._subject(a), self._subject(b)
        same = subjects[0] is not None and subjects[1] is not None and (
            subjects[0] == subjects[1] or subjects[1] in ("it", "he", "she", "they", "this", "that")
        )  # fmt: skip
        name = "denied then said" if was else "said then denied"
        pause = self._pause(i)
        if pause == "none":
            return set()
        found = set()
        opening = range(b.start, min(b.start + _AUXILIARY_WITHIN, b.stop))
        auxiliary = any(self.low[k].replace("n't", "") in AUXILIARIES for k in opening)
        if self._says_not(a) and self._frame(b) is not None and self._frame(a) == self._frame(b):
            found.add("denied then said, same words")
        if shared:
            found.add(f"{name}, word repeated")
        if same and self.low[i] not in ("and", "or", "nor", "for", "so", "because", "that", "which", "who"):
            found.add(f"{name}, same subject" + (" at a stop" if pause != "comma" else ""))
        if now and auxiliary and b.stop - b.start <= _SHORT_DENIAL:
            found.add("short denial")
        return found

    def _frame(self, span: range) -> tuple[str, str] | None:
        """The first subject of a unit and the finite verb after it: `it is`, `you are`."""
        tokens, begin = self.tree.tokens, self.parsed.first[span.start]
        subject: str | None = None
        for k in range(begin, self.parsed.last[span.stop - 1] + 1):
            if subject is None and tokens[k].dep in SUBJECTS:
                subject = self.tree.form(k)
            elif subject is not None and tokens[k].tag in _FINITE:
                return subject, self.tree.form(k)
        return None

    def _parallel(self, i: int) -> set[str]:
        """The signals of opposites, or of the two members of a pair, in two units that follow one another."""
        a, b = range(self.before[i], i), self._span(i)
        earlier = self.before.get(a.start, a.start)
        left, right = set(self.low[earlier : a.stop]), set(self.low[b.start : b.stop])
        found = set()
        if any(not right.isdisjoint(OPPOSITES.get(word, ())) for word in left):
            found.add("opposites")
        first, second = (set(self.low[unit.start : unit.start + _PAIR_WITHIN]) for unit in (a, b))
        if any(x in first and y in second for x, y in PAIRS):
            found.add("pair")
            verbs = (
                [self.low[k] for k in a if self.parsed.tag(k) in _FINITE][:1],
                [self.low[k] for k in b if self.parsed.tag(k) in _FINITE][:1],
            )
            if verbs[0] and verbs[0] == verbs[1] and self._pause(i) != "none":
                found.add("pair in one frame")
        return found

    def _question(self, i: int) -> set[str]:
        if i not in self.parsed.sentence_starts or i in self.parsed.paragraph_starts:
            return set()
        if "?" not in self.parsed.gaps[i]:
            return set()
        end = next(
            (k for k in range(i + 1, len(self.low)) if k in self.parsed.sentence_starts), len(self.low)
        )
        if "?" in self.parsed.gaps[end]:
            # in "I think it is: and doth affection breed it?" the first half is an answer
            halves = any(re.search("[:;—]", gap) for gap in self.parsed.gaps[i + 1 : end])
            return {"answer" if halves else "question after question"}
        answers = self.low[i] in ("yes", "no", "because", "never", "ay", "aye", "nay") or self._starts(
            i, ("it is because", "why because")
        )
        insists = self.low[i] in ("no", "nay") and orders(self.parsed, self.low, i + 1, end)  # No, tell me.
        return {"answer yes" if answers and not insists else "answer"}
