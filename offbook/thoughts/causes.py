"""What speaks for a mark before each word: named causes, gathered from punctuation and parse.

Every place between two words gets the set of its causes: the punctuation there, the clauses that open
or close there, how the words on its two sides stand to each other. `weights` adds them up. A cause is
a short name like `opens relative` or `comma`; nothing about any one text is among them.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Sequence

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
    """The strongest mark in a gap inside a sentence. A single point there ends an abbreviation."""
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


class Places:
    """The causes of every place between words. index i: the place before word i."""

    def __init__(self, parsed: Parsed, words: Sequence[Word]) -> None:
        self.parsed, self.words = parsed, words
        self.tree = Tree(parsed)
        self.clauses = clauses(self.tree)
        self.opens: dict[int, list[Clause]] = defaultdict(list)
        self.closes: dict[int, list[Clause]] = defaultdict(list)
        for c in self.clauses:
            self.opens[c.first].append(c)
            self.closes[c.last + 1].append(c)
        self.low = [w.text.lower().replace("’", "'") for w in words]

    def causes(self, i: int) -> frozenset[str]:
        """Everything that speaks for or against a mark before word i (0 < i < number of words)."""
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
        """Word i is a cry before a comma, no link and no question: `why, he sent her none`."""
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
            if c.kind in _LENGTH_MATTERS and length <= 2:
                found.add(f"short {c.kind}")
            if c.kind in _LENGTH_MATTERS and length >= 6:
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
        """The sentence has no other finite verb: what looks like a relative clause is the main one."""
        tokens = self.tree.tokens
        root = c.head
        while tokens[root].head != root:
            root = tokens[root].head
        return not tokens[root].tag.startswith(("VB", "MD"))

    def _after_it(self, c: Clause) -> bool:
        """The clause is what an empty `it` before it stands for: `it is time to go`."""
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
        parsed, low = self.parsed, self.low
        word, before = low[i], low[i - 1]
        tag, last = parsed.tag(i), parsed.tokens[parsed.last[i - 1]].tag
        found: set[str] = set()
        if word in _SUBORDINATORS:
            found.add(f"word {word}")
        if word == "but" and mark == "none" and self._means_only(i):
            found.add("but meaning only")
        elif word in _COORDINATORS:
            found.add(f"word {word}" + (" after comma" if mark == "comma" else ""))
        if word in ("without", "despite", "instead", "because", "according", "except", "with", "including"):
            found.add(f"word {word}")
        if tag in _WH:
            found.add("wh" + (" after noun" if last in _NOUN else ""))
        if parsed.dep(i) in SUBJECTS:
            found.add("subject starts")
            if mark == "none" and last in _NOUN and tag in ("PRP", "DT", "PRP$", "EX"):
                found.add("subject after noun")
        if last in _DANGLING:
            found.add("word before hangs")
        if before in _COORDINATORS or before in ("that", "for", "because", "so"):
            found.add("after a connective")
            kinds = {c.kind for c in self.opens[i]}
            if kinds & _FRONTED or word in (
                "when",
                "if",
                "as",
                "while",
                "before",
                "after",
                "where",
                "in",
                "by",
            ):
                found.add("nested after a connective")
        if last in _WH:
            found.add("after wh")
        if i - 1 in parsed.sentence_starts and mark == "comma":
            found.add("after the first word")
        if mark == "comma" and word == "as":
            found.add("as after comma")
        if mark == "comma" and word == "not" and low[i + 1 : i + 2] == ["to"] and self._earlier_to(i):
            found.add("not to after comma")
        if word == "that" and {"so", "such"} & set(low[max(0, i - 7) : i - 1]):
            found.add("so ... that")
        found |= self._verb_sides(i, mark, tag, last)
        return found

    def _goes_on(self, i: int) -> bool:
        """A clause of its own comes after word i: `nothing was said but he knew`."""
        after = i + 1
        if after >= len(self.low):
            return False
        subject = self.parsed.tag(after) in ("PRP", "EX") and self.parsed.dep(after) in SUBJECTS
        return subject or self.parsed.tag(after) in _FINITE

    def _means_only(self, i: int) -> bool:
        """`but` at word i, with no mark before it, means except or only."""
        before = self.low[i - 1]
        return (before in ONLY_BEFORE_BUT and not self._goes_on(i)) or self._inside_verb(i)

    def _inside_verb(self, i: int) -> bool:
        """`but` between an auxiliary and its verb means only: `you have but slumber'd`."""
        auxiliary = self.low[i - 1] in _AUXILIARIES_OF_BUT
        following = self.parsed.tag(i + 1) if i + 1 < len(self.low) else ""
        return auxiliary and following in ("VBN", "VB", "VBD", "VBG")

    def _earlier_to(self, i: int) -> bool:
        """Another `to` with its verb stands before word i in the same sentence: to bury, not to praise."""
        for k in range(i - 1, max(0, i - 20), -1):
            if self.low[k] == "to" and self.parsed.tag(k + 1) == "VB":
                return True
            if k in self.parsed.sentence_starts:
                return False
        return False

    def _verb_sides(self, i: int, mark: str, tag: str, last: str) -> set[str]:
        parsed, low = self.parsed, self.low
        following = parsed.tag(i + 1) if i + 1 < len(low) else ""
        found: set[str] = set()
        if tag == "TO" and following == "VB":
            group = "noun" if last in _NOUN else "verb" if last.startswith("VB") else "other"
            found.add(f"to after {group}")
        if tag in ("VBN", "VBG") and last in _NOUN and mark == "none":
            found.add(f"{tag} after noun")
        if tag in _FINITE and mark == "comma":
            found.add("finite verb after comma")
        if low[i] == "for" and "to" in low[i + 2 : i + 8] and mark in ("none", "comma"):
            k = low.index("to", i + 2)
            if k + 1 < len(low) and parsed.tag(k + 1) == "VB":
                found.add("for ... to")
        if (
            low[i] == "to"
            and "for" in low[max(0, i - 6) : i - 1]
            and "".join(parsed.gaps[i - 4 : i]).strip() == ""
        ):
            found.add("to after for")
        if tuple(low[i - 1 : i + 1]) in (
            ("order", "to"),
            ("as", "to"),
            ("as", "if"),
            ("even", "though"),
            ("even", "if"),
        ):
            found.add("inside a connective")
        if low[i] == "as" and "as" in low[max(0, i - 4) : i]:
            found.add("as before as")
        if low[i] == "as" and i + 1 < len(low) and low[i + 1] in ("if", "though"):
            found.add("as if")
            if not _SEEMING.isdisjoint(low[max(0, i - 4) : i]) and mark == "none":
                found.add("as before as")  # it seems to me as if: the seeming is nothing without it
        if " ".join(low[i : i + 2]) in (
            "in order",
            "so as",
            "because of",
            "instead of",
            "even if",
            "even though",
        ):
            found.add("two-word connective")
        return found
