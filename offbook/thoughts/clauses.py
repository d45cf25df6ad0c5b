"""Clause edges: where phrases with their own verb begin and end, according to the parse.

The units are those of Carlson & Marcu's Discourse Tagging Reference Manual (2001), which discourse corpora
use: main and coordinated clauses, adverbial clauses, relative clauses and participles after a noun,
infinitives of purpose, and what is said or thought after a verb of saying. The subject and object clauses of
other verbs are not units, and neither are the complements of `want to`, `begin to` and similar verbs.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from offbook.thoughts.parse import Parsed, ParsedToken
from offbook.thoughts.wordlists import SAYING

VERB_TAGS = frozenset({"VB", "VBD", "VBG", "VBN", "VBP", "VBZ", "MD"})
SUBJECTS = frozenset({"nsubj", "nsubjpass", "csubj", "csubjpass", "expl"})
OBJECTS = frozenset(
    {
        "dobj",
        "attr",
        "acomp",
        "prep",
        "prt",
        "advmod",
        "npadvmod",
        "xcomp",
        "ccomp",
        "dative",
        "oprd",
        "agent",
        "advcl",
    }
)
CLAUSAL = frozenset(
    {
        "ROOT",
        "ccomp",
        "xcomp",
        "advcl",
        "relcl",
        "acl",
        "csubj",
        "csubjpass",
        "conj",
        "pcomp",
        "parataxis",
        "dep",
        "appos",
        "pobj",
        "acomp",
        "attr",
    }
)


@dataclass(frozen=True, slots=True)
class Clause:
    """A clause of the parse.

    kind: how it is connected to the rest of the sentence. first, last: its first and last word. head: the
    token of its verb. opener: its first word in lower case. subject: whether it has a subject. bare: whether
    its verb has no object or other complement. finite: whether its verb is finite.
    """

    kind: str
    first: int
    last: int
    head: int
    opener: str
    subject: bool
    bare: bool
    finite: bool


class Tree:
    """The parse as a tree: the children of each token, and the first and last token below it."""

    def __init__(self, parsed: Parsed) -> None:
        self.parsed = parsed
        self.tokens: tuple[ParsedToken, ...] = parsed.tokens
        n = len(self.tokens)
        self.children: dict[int, list[int]] = defaultdict(list)
        self.left, self.right = list(range(n)), list(range(n))
        for i, t in enumerate(self.tokens):
            if t.head != i:
                self.children[t.head].append(i)
            if t.word < 0:
                continue
            at = i
            while True:
                self.left[at], self.right[at] = min(self.left[at], i), max(self.right[at], i)
                if self.tokens[at].head == at:
                    break
                at = self.tokens[at].head

    def deps(self, i: int) -> dict[str, int]:
        """For each relation the last child of the token that has it."""
        return {self.tokens[c].dep: c for c in self.children.get(i, ())}

    def form(self, i: int) -> str:
        return self.tokens[i].form.lower()


def clauses(tree: Tree) -> list[Clause]:
    """All clauses of the parse, in the order of their verbs."""
    found = []
    for i, t in enumerate(tree.tokens):
        if t.word < 0 or t.dep not in CLAUSAL:
            continue
        kind = _kind(tree, i)
        if kind is None:
            continue
        first, last = _edges(tree, i, kind)
        if first is None or last is None:
            continue
        deps = tree.deps(i)
        bare = not (deps.keys() & OBJECTS)
        found.append(
            Clause(
                kind,
                first,
                last,
                i,
                tree.form(tree.parsed.first[first]),
                bool(deps.keys() & SUBJECTS),
                bare,
                _finite(tree, i),
            )
        )
    return found


def _finite(tree: Tree, i: int) -> bool:
    tags = {tree.tokens[c].tag for c in tree.children.get(i, ()) if tree.tokens[c].dep in ("aux", "auxpass")}
    return tree.tokens[i].tag in ("VBD", "VBP", "VBZ", "MD") or bool(tags & {"VBD", "VBP", "VBZ", "MD"})


def _verbal(tree: Tree, i: int) -> bool:
    return tree.tokens[i].tag in VERB_TAGS or bool({"aux", "cop", "auxpass"} & tree.deps(i).keys())


def _kind(tree: Tree, i: int) -> str | None:
    """The kind of the clause whose verb is token i, by the relation that the parser gives it."""
    t = tree.tokens[i]
    to = any(
        tree.tokens[c].tag == "TO" and tree.tokens[c].dep in ("aux", "mark") for c in tree.children.get(i, ())
    )
    if t.dep == "relcl":
        return "relative" if not to else "infinitive_noun"
    if t.dep == "acl":
        return "infinitive_noun" if to else _at_noun(tree, i)
    if t.dep == "advcl":
        return "purpose" if to else _adverbial(tree, i)
    if t.dep == "pcomp":
        return "gerund" if t.tag == "VBG" else "prep_clause"
    if t.dep in ("ccomp", "parataxis", "dep", "xcomp"):
        return _complement(tree, i, to)
    if t.dep in ("csubj", "csubjpass"):
        return "subject_clause"
    if t.dep == "conj":
        return _coordinated(tree, i)
    return "main" if t.dep == "ROOT" else None


def _at_noun(tree: Tree, i: int) -> str:
    """The kind of a clause that depends on a noun: the boy standing there, the news that he came."""
    participle = tree.tokens[i].tag in ("VBG", "VBN", "VBD") and not _finite(tree, i)
    return "participle_noun" if participle and "mark" not in tree.deps(i) else "noun_that"


def _adverbial(tree: Tree, i: int) -> str:
    """The kind of a clause that says when, why or how: when he came, standing there, so cold."""
    deps = tree.deps(i)
    if _finite(tree, i) or "mark" in deps or ("advmod" in deps and _wh(tree, deps["advmod"])):
        return "adverbial"
    return "participle" if tree.tokens[i].tag in ("VBG", "VBN", "VBD") else "verbless"


def _wh(tree: Tree, i: int) -> bool:
    return tree.tokens[i].tag in ("WRB", "WDT", "WP", "WP$")


def _complement(tree: Tree, i: int, to: bool) -> str | None:
    t = tree.tokens[i]
    head = t.head
    if t.dep == "xcomp":
        return (
            ("to_complement" if to else "complement_participle" if t.tag == "VBG" else None)
            if _verbal(tree, i)
            else None
        )
    if i < head and tree.right[i] < head:
        return "before_said" if tree.form(head) in SAYING else "run_on"
    said = tree.form(head) in SAYING
    return ("said" if said else "object_clause") if t.dep == "ccomp" else "run_on"


def _coordinated(tree: Tree, i: int) -> str | None:
    head = i
    while tree.tokens[head].dep == "conj" and tree.tokens[head].head != head:
        head = tree.tokens[head].head
    if not (_verbal(tree, i) or tree.deps(i).keys() & SUBJECTS):
        return None
    if not _verbal(tree, head) and not (tree.deps(i).keys() & SUBJECTS):
        return None
    if tree.deps(i).keys() & SUBJECTS:
        return "and_clause"
    first = tree.tokens[head].dep
    return {
        "relcl": "and_relative",
        "advcl": "and_adverbial",
        "xcomp": "and_complement",
        "acl": "and_participle",
        "pcomp": "and_gerund",
    }.get(first, "and_verb")


def _edges(tree: Tree, i: int, kind: str) -> tuple[int | None, int | None]:
    """The first and the last word of a clause, with its connective, without clauses coordinated to it."""
    tokens = tree.tokens
    parts = [
        c
        for c in tree.children.get(i, ())
        if tokens[c].dep != "conj" and not (tokens[c].dep == "cc" and c > i)
    ]
    left = min([i] + [tree.left[c] for c in parts if tokens[c].word >= 0])
    right = max([i] + [tree.right[c] for c in parts if tokens[c].word >= 0])
    if kind in ("gerund", "prep_clause"):
        prep = tokens[i].head
        left = min(left, tree.left[prep])
    if tokens[i].dep == "conj":
        left = _over_connective(tree, left)
    if tokens[left].word < 0:
        return None, None
    return tokens[left].word, tokens[right].word


def _over_connective(tree: Tree, left: int) -> int:
    """The first token of a coordinated clause, which includes the `and` or `but` before it."""
    k = left - 1
    while k >= 0 and tree.tokens[k].word < 0:
        k -= 1
    while k >= 0 and tree.tokens[k].dep in ("cc", "preconj") and tree.tokens[k].word >= 0:
        left, k = k, k - 1
    return left
