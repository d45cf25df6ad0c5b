"""The weight of each cause, in two short tables, and which signals make a turn.

A place gets a mark if the weights of its causes and the base of the table add up to more than 0. The two
tables were fitted by ridge-penalised logistic regression on the eight openly licensed documents of the
development half of a discourse corpus (GUM and GENTLE, annotations CC BY 4.0: Zeldes 2017, "The GUM Corpus",
Language Resources and Evaluation 51(3), 581-612). The weakest causes were dropped one after another, and the
other weights rounded to a tenth. Four weights were set by hand, because these documents hardly have such
cases: `but meaning only` (`nothing but`), `voice changes` (a comma and a quotation mark, where another voice
begins or ends), `not to after comma` (to bury, not to praise), and for a thought `word than` (a comparison is
played in one go). The turn signals were chosen by hand, one by one, by their grammar. `docs/thoughts.md` has
the figures, also for documents that were not used in the fit.
"""

from __future__ import annotations

from collections.abc import Iterable
from math import fsum

# A score is rounded, so that a sum of tenths that should be 0 is not slightly above or below it
SCORE_DECIMALS = 6
PHRASE_BASE = 1.9
PHRASE: dict[str, float] = {
    "opens adverbial": 4.7, "opens gerund": 3.2, "back to the verb": 3.2, "sentence": 3.1,
    "opens and_clause": 2.8, "paragraph": 2.7, "word that": 2.7, "opens participle_noun": 2.7,
    "opens relative": 2.5, "opens participle": 2.5, "to after noun": 2.4, "VBG after noun": 2.4,
    "finite relative": 2.3, "VBN after noun": 2.3, "opens infinitive_noun": 2.3, "closes gerund": 2.2,
    "back to the subject after adverbial": 2.1, "opens and_verb": 2.1, "nested after a connective": 2.0,
    "closes relative": 2.0, "opens relative wh": 1.9, "opens said": 1.9, "comma and closing": 1.9,
    "finite said": 1.9, "for ... to": 1.9, "closes adverbial": 1.8, "opens prep_clause": 1.8,
    "opens and_relative": 1.8, "closes subject_clause": 1.8, "opens noun_that": 1.7, "word than": 1.7,
    "gerund of": 1.7, "closes run_on": 1.6, "word and": 1.6, "wh after noun": 1.6, "long and_verb": 1.6,
    "finite noun_that": 1.6, "opens purpose": 1.6, "word when": 1.5, "opens and_adverbial": 1.5,
    "finite object_clause": 1.4, "to after other": 1.4, "wh": 1.3, "word for": 1.2,
    "opens to_complement": 1.2, "long purpose": 1.2, "long participle_noun": 1.2, "word where": 1.1,
    "closes said": 1.1, "word but": 1.1, "quotation mark": 1.1, "gerund in": 1.1, "bracket opens": 1.1,
    "comma and opening": 1.0, "after a connective": 0.8, "opens object_clause": 0.8,
    "closes participle": 0.8, "long gerund": 0.8, "word so": 0.7, "closes participle_noun": 0.7,
    "subject starts": 0.6, "closes to_complement": 0.6, "after the first word": -0.9, "colon": -1.1,
    "to after for": -1.3, "after wh": -1.7, "after it is": -1.7, "word before hangs": -2.1, "comma": -3.2,
    "none": -5.2, "but meaning only": -4.0, "voice changes": 5.0,
    "not to after comma": 4.0, "as before as": -6.0,
}  # fmt: skip
"""The weights for the beginning of a phrase (grade 1 or higher), in log odds."""

THOUGHT_BASE = 1.6
THOUGHT: dict[str, float] = {
    "sentence": 4.4, "opens adverbial": 4.3, "paragraph": 4.0, "opens and_verb": 3.5,
    "opens and_clause": 3.5, "opens participle": 3.0, "word when": 2.9, "gerund for": 2.7,
    "finite object_clause": 2.6, "closes run_on": 2.5, "word and": 2.4, "opens prep_clause": 2.3,
    "word but": 2.3, "opens gerund": 2.3, "bracket opens": 2.1, "opens and_relative": 2.0,
    "opens infinitive_noun": 1.9, "opens and_adverbial": 1.8, "semicolon": 1.8,
    "opens run_on": 1.7, "back to the subject after adverbial": 1.7, "opens noun_that": 1.7,
    "to after other": 1.6, "word for": 1.5, "word before": 1.5, "word or": 1.5, "subject after noun": 1.4,
    "comma and closing": 1.4, "closes and_clause": 1.4, "closes gerund": 1.4, "closes adverbial": 1.3,
    "VBG after noun": 1.2, "closes participle": 1.1, "wh after noun": 1.0, "word and after comma": 1.0,
    "word that": 0.8, "closes to_complement": 0.7, "subject starts": 0.6, "colon": -0.8, "after wh": -1.4,
    "finite verb after comma": -1.6, "word with": -1.9, "after the first word": -2.0,
    "after a connective": -2.1, "as after comma": -2.6, "comma": -2.8, "word before hangs": -3.3,
    "bracket closes": -3.5, "none": -5.1, "but meaning only": -4.0, "voice changes": 5.0,
    "not to after comma": 4.0, "as before as": -6.0, "word than": -2.0,
}  # fmt: skip
"""The weights for the beginning of a thought (grade 2 or higher), in log odds."""

CONTRASTS = frozenset({
    "but comma clause", "but comma phrase", "but sentence clause", "but sentence phrase", "but stop clause",
    "but stop phrase", "but none clause", "not but", "yet", "and yet",
    "concession follows", "concession answered", "instead answered", "whether or", "however clause",
    "while comma", "than clause", "not so much as", "contrast conjunct", "conjunct inside",
    "denied then said, same subject", "denied then said, word repeated", "said then denied, same subject",
    "denied then said, same words", "not to after comma", "or not", "pair in one frame",
    "answer yes",
})  # fmt: skip
"""Signals of contrast: a new thought everywhere, and a turn in prose that is divided into paragraphs."""

PLAYED_CONTRASTS = CONTRASTS - {"than clause", "not so much as"}
"""The signals at which a performer begins a new thought. The halves of a comparison are played together."""


def phrase_score(causes: Iterable[str]) -> float:
    """The log odds that a phrase begins here; it is marked if they are above 0."""
    return round(PHRASE_BASE + fsum(PHRASE.get(c, 0.0) for c in causes), SCORE_DECIMALS)


def thought_score(causes: Iterable[str]) -> float:
    """The log odds that a new thought begins here; it is marked if they are above 0."""
    return round(THOUGHT_BASE + fsum(THOUGHT.get(c, 0.0) for c in causes), SCORE_DECIMALS)
