"""The causes for a mark before each word, from the punctuation and the parse.

Every place between two words has a set of causes: the punctuation there, the clauses that begin or end there,
and how the words on both sides are related. `weights` adds up their weights. A cause has a short name such as
`opens relative` or `comma`; no cause is about a particular text.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Sequence

from offbook.spelling import plain_spelling
from offbook.thoughts.clauses import SUBJECTS, Clause, Tree, clauses
from offbook.thoughts.parse import Parsed
from offbook.thoughts.wordlists import ONLY_BEFORE_BUT, words_in
from offbook.words import Word

_DASH = re.compile(r"[—–―]|--|(?<=\s)-(?=\s)")
_NOUN = frozenset({"NN", "NNS", "NNP", "NNPS", "PRP", "CD", "DT"})
_WH = frozenset({"WDT", "WP", "WRB", "WP$"})
_FINITE = frozenset({"VBD", "VBZ", "VBP", "MD"})
_DANGLING = frozenset({"IN", "TO", "DT", "PRP$", "MD", "CC"})
_SUBORDINATORS = words_in(
    "because although though while whilst when whenever where wherever if unless until till since before "
    "after as than lest once whereas that whether for so"
)
_COORDINATORS = frozenset({"and", "but", "or", "nor", "yet"})
_AUXILIARIES_OF_BUT = words_in(
    "have has had hath hast do does did doth dost will would shall should may might must"
)
_CRIES = words_in("why what how well now come so then there")
_LENGTH_MATTERS = frozenset({
    "participle_noun", "gerund", "purpose", "and_verb", "participle", "to_complement",
    "infinitive_noun", "verbless", "and_complement", "complement_participle",
})  # fmt: skip
_AFTER_NOUN = frozenset({"relative", "participle_noun", "noun_that", "infinitive_noun", "gerund"})
_FRONTED = frozenset({"adverbial", "participle", "verbless", "prep_clause", "gerund", "purpose"})
_BEFORE_SUBJECT = frozenset({"adverbial", "relative", "gerund", "participle"})


def punctuation(gap: str) -> str:
    """The strongest mark in a gap inside a sentence, where a single point belongs to an abbreviation."""
    gap = re.sub(r"^\.(?!\.)", "", gap)
    if ";" in gap:
        return "semicolon"
    if ":" in gap:
        return "colon"
    if _DASH.search(gap):
        return "dash"
    if re.search(r"[(\[]", gap):
        return "bracket opens"
    if re.search(r"[)\]]", gap):
        return "bracket closes"
    if re.search(r"[.?!…]", gap):
        return "stop inside"
    if "," in gap:
        return "comma"
    return "none"


_SEEMING = words_in("seem seems seemed look looks looked feel feels felt sound sounds sounded")


_PREPOSITIONS = frozenset(
    ("without", "despite", "instead", "because", "according", "except", "with", "including")
)
_NESTED = ("when", "if", "as", "while", "before", "after", "where", "in", "by")  # after "and" and the like
_INSIDE_CONNECTIVE = (("order", "to"), ("as", "to"), ("as", "if"), ("even", "though"), ("even", "if"))
_TWO_WORD_CONNECTIVES = (
    *(
        ("in", "order"),
        ("so", "as"),
        ("because", "of"),
        ("instead", "of"),
        ("even", "if"),
        ("even", "though"),
    ),
)
# Set by hand: how many words away the other half is looked for, in so ... that, for ... to, as ... as, to ...
# not to.
_SO_THAT, _FOR_TO, _TO_FOR, _AS_AS, _TO_NOT_TO = 7, 8, 6, 4, 20
_UNBROKEN = 4  # gaps before "to" without a mark, if "for" belongs to it; set by hand
# Words, set by hand: a clause with no more than the first is hardly a clause, and before one with the second
# people breathe.
_SHORT_CLAUSE, _LONG_CLAUSE = 2, 6


class Places:
    """The causes at every place between words. An index i means the place before word i."""

    def __init__(self, parsed: Parsed, words: Sequence[Word]) -> None:
        self.parsed, self.words = parsed, words
        self.tree = Tree(parsed)
        self.clauses = clauses(self.tree)
        self.opens: dict[int, list[Clause]] = defaultdict(list)
        self.closes: dict[int, list[Clause]] = defaultdict(list)
        for c in self.clauses:
            self.opens[c.first].append(c)
            self.closes[c.last + 1].append(c)
        self.low = [plain_spelling(w.text) for w in words]

    def causes(self, i: int) -> frozenset[str]:
        """All causes for or against a mark before word i (0 < i < number of words)."""
        parsed = self.parsed
        if i in parsed.paragraph_starts:
            return frozenset({"paragraph"})
        if i in parsed.sentence_starts:
            return frozenset({"sentence"})
        if i in parsed.unprinted_starts:
            return frozenset({"unprinted sentence", "sentence"})
        mark = punctuation(parsed.gaps[i])
        found = {mark}
        if re.search(r"[\"“”]", parsed.gaps[i]):
            found.add("quotation mark")
            if mark in ("comma", "stop inside", "colon"):
                found.add("voice changes")
        found |= self._openings(i, mark)
        found |= self._closings(i, mark)
        found |= self._sides(i, mark)
        return frozenset(found)

    def exclaims(self, i: int) -> bool:
        """Whether word i is an exclamation before a comma, and not a question: `why, he sent her none`."""
        return self.low[i] in _CRIES and self.parsed.gaps[i + 1].lstrip().startswith(",")

    def _openings(self, i: int, mark: str) -> set[str]:
        found: set[str] = set()
        for c in self.opens[i]:
            if c.kind == "main":
                continue
            found.add(f"opens {c.kind}")
            if mark == "comma":
                found.add("comma and opening")
            length = c.last - c.first + 1
            if c.kind in _LENGTH_MATTERS and length <= _SHORT_CLAUSE:
                found.add(f"short {c.kind}")
            if c.kind in _LENGTH_MATTERS and length >= _LONG_CLAUSE:
                found.add(f"long {c.kind}")
            if c.kind in ("said", "object_clause", "noun_that", "run_on", "relative"):
                found.add(f"opens {c.kind} {self._opener(i)}")
                found.add(f"finite {c.kind}" if c.finite else f"non-finite {c.kind}")
            if c.kind == "relative" and self._no_other_verb(c):
                found.add("the only verb")
            if c.kind in ("purpose", "to_complement", "infinitive_noun", "object_clause", "relative"):
                found |= {"after it is"} if self._after_it(c) else set()
            if c.kind == "gerund":
                found.add(f"gerund {self.low[i]}")
            if c.kind.startswith("and_") and c.bare:
                found.add("bare coordination")
        return found

    def _opener(self, i: int) -> str:
        word = self.low[i]
        if word == "that":
            return "that"
        if word in ("if", "whether"):
            return "if"
        return "wh" if self.parsed.tag(i) in _WH else "zero"

    def _no_other_verb(self, c: Clause) -> bool:
        """Whether the sentence has no other finite verb: then the relative clause is really the main one."""
        tokens = self.tree.tokens
        root = c.head
        while tokens[root].head != root:
            root = tokens[root].head
        return not tokens[root].tag.startswith(("VB", "MD"))

    def _after_it(self, c: Clause) -> bool:
        """Whether an `it` before the clause stands for it: `it is time to go`."""
        tree = self.tree
        at = c.head
        while tree.tokens[at].head != at:
            at = tree.tokens[at].head
            subject = tree.deps(at).get("nsubj", tree.deps(at).get("nsubjpass", -1))
            if subject >= 0 and tree.tokens[at].tag.startswith(("VB", "MD")):
                return tree.form(subject) == "it"
        return False

    def _closings(self, i: int, mark: str) -> set[str]:
        found = {f"closes {c.kind}" for c in self.closes[i]}
        kinds = {c.kind for c in self.closes[i]}
        if found and mark == "comma":
            found.add("comma and closing")
        tag = self.parsed.tag(i)
        if kinds & _AFTER_NOUN and tag in _FINITE:
            found.add("back to the verb")
        if self.parsed.dep(i) in SUBJECTS:
            found |= {f"back to the subject after {kind}" for kind in kinds & _BEFORE_SUBJECT}
        return found

    def _sides(self, i: int, mark: str) -> set[str]:
        tag, last = self.parsed.tag(i), self.parsed.tokens[self.parsed.last[i - 1]].tag
        found = self._word_itself(i, mark) | self._after_connective(i)
        if tag in _WH:
            found.add("wh" + (" after noun" if last in _NOUN else ""))
        if self.parsed.dep(i) in SUBJECTS:
            found.add("subject starts")
            if mark == "none" and last in _NOUN and tag in ("PRP", "DT", "PRP$", "EX"):
                found.add("subject after noun")
        if last in _DANGLING:
            found.add("word before hangs")
        if last in _WH:
            found.add("after wh")
        if mark == "comma":
            found |= self._after_comma(i)
        return found | self._verb_sides(i, mark, tag, last)

    def _word_itself(self, i: int, mark: str) -> set[str]:
        """The causes that depend on which word i is: a subordinator, but, without, so ... that."""
        word = self.low[i]
        found: set[str] = set()
        if word in _SUBORDINATORS or word in _PREPOSITIONS:
            found.add(f"word {word}")
        if word == "but" and mark == "none" and self._means_only(i):
            found.add("but meaning only")
        elif word in _COORDINATORS:
            found.add(f"word {word}" + (" after comma" if mark == "comma" else ""))
        if word == "that" and {"so", "such"} & set(self.low[max(0, i - _SO_THAT) : i - 1]):
            found.add("so ... that")
        return found

    def _after_connective(self, i: int) -> set[str]:
        """The causes after a connective; another may follow right after it: and when ..."""
        before = self.low[i - 1]
        if before not in _COORDINATORS and before not in ("that", "for", "because", "so"):
            return set()
        kinds = {c.kind for c in self.opens[i]}
        nested = bool(kinds & _FRONTED) or self.low[i] in _NESTED
        return {"after a connective", "nested after a connective"} if nested else {"after a connective"}

    def _after_comma(self, i: int) -> set[str]:
        found: set[str] = set()
        if i - 1 in self.parsed.sentence_starts:
            found.add("after the first word")
        if self.low[i] == "as":
            found.add("as after comma")
        if self.low[i : i + 2] == ["not", "to"] and self._earlier_to(i):
            found.add("not to after comma")
        return found

    def _goes_on(self, i: int) -> bool:
        """Whether a clause begins after word i: `nothing was said but he knew`."""
        after = i + 1
        if after >= len(self.low):
            return False
        subject = self.parsed.tag(after) in ("PRP", "EX") and self.parsed.dep(after) in SUBJECTS
        return subject or self.parsed.tag(after) in _FINITE

    def _means_only(self, i: int) -> bool:
        """Whether `but` at word i, without a mark before it, means except or only."""
        before = self.low[i - 1]
        return (before in ONLY_BEFORE_BUT and not self._goes_on(i)) or self._inside_verb(i)

    def _inside_verb(self, i: int) -> bool:
        """Whether `but` between an auxiliary and its verb means only: `you have but slumber'd`."""
        auxiliary = self.low[i - 1] in _AUXILIARIES_OF_BUT
        following = self.parsed.tag(i + 1) if i + 1 < len(self.low) else ""
        return auxiliary and following in ("VBN", "VB", "VBD", "VBG")

    def _earlier_to(self, i: int) -> bool:
        """Whether the sentence has another `to` with its verb before word i: to bury, not to praise."""
        for k in range(i - 1, max(0, i - _TO_NOT_TO), -1):
            if self.low[k] == "to" and self.parsed.tag(k + 1) == "VB":
                return True
            if k in self.parsed.sentence_starts:
                return False
        return False

    def _verb_sides(self, i: int, mark: str, tag: str, last: str) -> set[str]:
        following = self.parsed.tag(i + 1) if i + 1 < len(self.low) else ""
        found: set[str] = set()
        if tag == "TO" and following == "VB":
            group = "noun" if last in _NOUN else "verb" if last.startswith("VB") else "other"
            found.add(f"to after {group}")
        if tag in ("VBN", "VBG") and last in _NOUN and mark == "none":
            found.add(f"{tag} after noun")
        if tag in _FINITE and mark == "comma":
            found.add("finite verb after comma")
        return found | self._for_and_to(i, mark) | self._two_words(i) | self._as_and_as(i, mark)

    def _for_and_to(self, i: int, mark: str) -> set[str]:
        """The causes in "for ... to": for him to go."""
        low = self.low
        found: set[str] = set()
        if low[i] == "for" and "to" in low[i + 2 : i + _FOR_TO] and mark in ("none", "comma"):
            k = low.index("to", i + 2)
            if k + 1 < len(low) and self.parsed.tag(k + 1) == "VB":
                found.add("for ... to")
        unbroken = "".join(self.parsed.gaps[i - _UNBROKEN : i]).strip() == ""
        if low[i] == "to" and "for" in low[max(0, i - _TO_FOR) : i - 1] and unbroken:
            found.add("to after for")
        return found

    def _two_words(self, i: int) -> set[str]:
        """Whether word i begins or ends a connective of two words: in order, even though."""
        found: set[str] = set()
        if tuple(self.low[i - 1 : i + 1]) in _INSIDE_CONNECTIVE:
            found.add("inside a connective")
        if tuple(self.low[i : i + 2]) in _TWO_WORD_CONNECTIVES:
            found.add("two-word connective")
        return found

    def _as_and_as(self, i: int, mark: str) -> set[str]:
        """The causes in "as ... as" and "as if"."""
        low = self.low
        if low[i] != "as":
            return set()
        near = low[max(0, i - _AS_AS) : i]
        as_if = low[i + 1 : i + 2] in (["if"], ["though"])
        found = {"as if"} if as_if else set()
        seems = as_if and mark == "none" and not _SEEMING.isdisjoint(near)
        # in "it seems to me as if" the verb needs the clause
        return found | {"as before as"} if "as" in near or seems else found
