"""Old forms, replaced by words that a parser of modern English knows.

The parser was trained on modern prose. `hath`, `'tis` or `feed'st` are unknown words to it, and an unknown
verb makes the edges of its whole clause wrong. So the parser gets a modern form with the same place in the
sentence; nothing that the performer sees is changed. The lists are our own; the endings are those in any
grammar of Early Modern English (-est, -eth, -'d and -'st): common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Callable

from offbook.spelling import plain_spelling

MODERN: dict[str, str] = {
    "thou": "you", "thee": "you", "ye": "you", "thy": "your", "thyself": "yourself",
    "hath": "has", "hast": "have", "doth": "does", "dost": "do", "wert": "were", "wast": "were",
    "shalt": "shall", "wilt": "will", "canst": "can", "couldst": "could", "wouldst": "would",
    "shouldst": "should", "mayst": "may", "mayest": "may", "mightst": "might", "didst": "did",
    "hadst": "had", "durst": "dared", "saith": "says", "quoth": "said", "spake": "spoke", "bade": "told",
    "'tis": "it is", "'twas": "it was", "'twere": "it were", "'twill": "it will", "'twould": "it would",
    "tis": "it is", "twas": "it was", "is't": "is it", "was't": "was it", "do't": "do it", "on't": "on it",
    "for't": "for it", "in't": "in it", "to't": "to it", "methinks": "I think", "methought": "I thought",
    "thro'": "through", "tho'": "though", "altho'": "although", "wherethro'": "through which",
    "o'er": "over", "ne'er": "never", "e'er": "ever", "e'en": "even", "whate'er": "whatever",
    "howe'er": "however", "whene'er": "whenever", "where'er": "wherever", "whoe'er": "whoever",
    "ere": "before", "oft": "often", "nigh": "near", "betwixt": "between", "amidst": "amid",
    "whilst": "while", "whither": "where", "thither": "there", "hither": "here", "whence": "where",
    "wherefore": "why", "albeit": "although", "howbeit": "however", "lest": "lest", "nay": "no",
    "yea": "yes", "ay": "yes", "aye": "yes", "prithee": "please", "alack": "alas", "i'": "in",
    "th'": "the", "i'th'": "in the", "o'th'": "of the", "o'": "of", "'em": "them", "'gainst": "against",
    "'gan": "began", "'mongst": "among", "'neath": "beneath", "'scape": "escape", "'ere": "before",
    "heav'n": "heaven", "heav'ns": "heavens", "giv'n": "given", "ev'n": "even", "ev'ry": "every",
    "pow'r": "power", "flow'r": "flower", "spir't": "spirit", "ta'en": "taken", "ope": "open",
    "morn": "morning", "naught": "nothing", "nought": "nothing", "aught": "anything", "yon": "that",
    "yonder": "that", "sooth": "truth", "wot": "know", "wist": "knew", "fain": "gladly",
    "shew": "show", "shewed": "showed", "shewing": "showing", "shewn": "shown",
}  # fmt: skip
NOT_ETH = {"teeth", "beth", "seth", "macbeth", "elizabeth", "lizbeth", "nazareth", "shibboleth", "heth"}
NOT_EST = {
    "best", "rest", "west", "test", "nest", "vest", "jest", "quest", "guest", "chest", "breast", "forest",
    "honest", "modest", "earnest", "request", "conquest", "interest", "tempest", "harvest", "priest",
    "protest", "suggest", "arrest", "behest", "crest", "lest", "manifest", "digest", "contest", "invest",
    "attest", "detest", "molest", "infest", "unrest", "bequest", "zest", "pest", "wrest", "blest", "dearest",
}  # fmt: skip
# Letters: a word with such an ending has more, because otherwise it is hardly more than the ending
_ENDED = 4


def modern(word: str, after: str, near_thou: bool, known: Callable[[str], bool]) -> str:
    """The form of `word` for the parser; the word itself if it is modern.

    after: the next word in lower case. near_thou: whether `thou` is near, because only then -est is the
    ending of a verb and not of a superlative. known: whether the parser knows a form.
    """
    form = plain_spelling(word)
    if form in MODERN:
        return _cased(word, MODERN[form])
    if form in ("thine", "mine"):
        own = {"thine": ("your", "yours"), "mine": ("my", "mine")}[form]
        return _cased(word, own[0] if after[:1] in tuple("aeiouh") else own[1])
    if form == "art" and near_thou:
        return _cased(word, "are")
    stem = re.sub("(?:'d|'st|eth|est)$", "", form)
    if form.endswith("'d") and len(form) > _ENDED and stem[-1] not in "aeiou":
        return _cased(word, _first([stem + "ed", stem + "d"], known))
    if form.endswith("'st"):
        return _cased(word, _first([stem, stem + "e"], known))
    if form.endswith("eth") and len(form) > _ENDED and form not in NOT_ETH and not form.endswith("ieth"):
        return _cased(word, _first([stem + "s", stem + "es", stem[:-1] + "s"], known))
    if form.endswith("est") and len(form) > _ENDED and near_thou and form not in NOT_EST:
        return _cased(word, _first([stem, stem + "e", stem[:-1]], known))
    return word


def _first(forms: list[str], known: Callable[[str], bool]) -> str:
    return next((f for f in forms if known(f)), forms[0])


def _cased(word: str, form: str) -> str:
    return form[0].upper() + form[1:] if word[:1].isupper() else form
