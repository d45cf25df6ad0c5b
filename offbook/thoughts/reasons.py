"""The reasons in a performer's words: what each signal means for the person who says the speech."""

from __future__ import annotations

import re
from collections.abc import Sequence

from offbook.thoughts.stance import ORDINALS
from offbook.thoughts.wordlists import AFTER_SO, words_in
from offbook.words import Word

_WHOLE: dict[str, str] = {
    "not but": "not that, but this: the second half corrects the first",
    "concession answered": "granted, and now the point itself",
    "instead answered": "not what was expected: this instead",
    "than clause": "two things held against each other: the second is weighed here",
    "not so much as": "not so much that as this",
    "conjunct inside": "turns against what was just said",
    "denied then said, same subject": "denied, and now set right: not that, this",
    "denied then said, word repeated": "the same word again, now without its “not”",
    "or not": "the opposite is put beside it",
    "denied then said, same words": "not that: this. The same words again without the “not”",
    "not to after comma": "and what it is not: the other half of the antithesis",
    "pair in one frame": "the other side of the pair, in the same words: set it against the first",
    "said then denied, same subject": "here a “not” comes in",
    "said then denied, word repeated": "the same word again, now with “not”",
    "short denial": "a flat “not”: no more and no less than that",
    "answer yes": "the question is answered",
    "answer": "a question was asked, and this is what comes of it",
    "question after question": "another question presses on the last",
    "opposites": "opposites set side by side",
    "tense past present": "from past to present",
    "tense present past": "from present to past: a memory or a story begins",
    "tense past future": "from past to what will come",
    "tense present future": "from now to what will come",
    "tense future present": "back from what will come to now",
    "tense future past": "from what will come back to what was",
    "mood question": "begins to ask",
    "mood command": "stops telling and asks for something to be done",
    "mood wish": "a wish",
    "mood cry": "breaks out",
    "person I": "comes back to “I”",
    "person you": "turns to “you”",
    "person we": "takes everyone in: “we”",
    "person they": "turns to someone or something else",
    "paragraph": "a new paragraph",
    "stanza": "a new stanza",
    "speaker": "picks up the cue: someone else has just spoken",
    "direction": "something happens first: the stage direction before it",
    "manner": "said in another way from here on: the direction before it says how",
    "sentence": "a new sentence",
    "question asked": "the question has been put",
    "cry ended": "the outcry is over",
    "semicolon": "a semicolon: this thought is complete, and the next belongs with it",
    "colon": "the colon leads on to this",
    "dash": "breaks off at the dash",
    "bracket opens": "an aside begins",
    "bracket closes": "the aside is over",
    "quotation mark": "another voice: quoted words begin or end",
    "caesura": "the sense stops inside the line",
    "end-stopped": "the line and the sense end together",
    "enjambed": "the sense runs on over the line end; a lift, not a stop",
    "comma": "a breath at the comma",
}

_RELATIVES = words_in("who whom whose which that where when wherein whereof whereto whereby why")
_SPEECH_OVER = "what was said is over"
_SIDE_OVER = "the side thought is over"
_NEW_CLAUSE = "a new clause with its own verb"

_CAUSES: tuple[tuple[tuple[str, ...], str], ...] = (
    (("opens said", "opens before_said"), "what is said or thought begins"),
    (("closes before_said", "closes said"), _SPEECH_OVER),
    (("opens purpose",), "says what for"),
    (("opens infinitive_noun",), "says to do what"),
    (("opens relative", "opens and_relative"), "{word} says more about “{before}”"),
    (("opens participle_noun",), "adds a picture to “{before}”"),
    (("opens participle", "opens verbless", "opens and_participle"), "adds what goes on at the same time"),
    (("opens gerund", "opens prep_clause", "opens and_gerund"), "adds how, or of what"),
    (
        ("opens and_clause", "opens and_verb", "opens and_complement", "opens and_adverbial"),
        "one thing more is added",
    ),
    (("back to the subject after adverbial",), "the circumstances are set; the main point begins"),
    (
        ("back to the verb", "back to the subject after relative", "back to the subject after gerund"),
        "back to the main line of the sentence",
    ),
    (
        ("closes adverbial", "closes participle", "closes gerund", "closes relative"),
        _SIDE_OVER,
    ),
    (
        ("opens object_clause", "opens noun_that", "opens run_on", "closes run_on"),
        _NEW_CLAUSE,
    ),
)

_SUBORDINATE: dict[str, str] = {
    "because": "gives the reason",
    "for": "gives the reason",
    "since": "gives the reason or the time",
    "if": "sets a condition",
    "unless": "sets a condition",
    "lest": "says what is feared",
    "when": "gives the time",
    "while": "gives the time",
    "whilst": "gives the time",
    "till": "gives the end point",
    "until": "gives the end point",
    "before": "gives the time",
    "after": "gives the time",
    "once": "gives the time",
    "whenever": "gives the time",
    "as": "gives the time or the manner",
    "where": "gives the place",
    "wherever": "gives the place",
    "so": "draws the result",
    "than": "makes the comparison",
    "whether": "leaves it open",
}

_ORDER = (
    "new addressee",
    "but",
    "yet",
    "not but",
    "contrast conjunct",
    "conjunct inside",
    "concession",
    "instead answered",
    "whether or",
    "however clause",
    "while",
    "or not",
    "not to after comma",
    "pair in one frame",
    "denied",
    "said then denied",
    "short denial",
    "answer yes",
    "than clause",
    "not so much as",
    "addressed again",
    "answer",
    "direction",
    "manner",
    "mood",
    "tense",
    "question after question",
    "opposites",
    "pair",
    "list",
    "repeats",
    "person",
    "speaker",
    "stanza",
    "paragraph",
)
# What is visible on the page: used only if there is no better reason, the more helpful ones first.
_PRINTED = (
    "dash",
    "colon",
    "bracket",
    "quotation mark",
    "question asked",
    "cry ended",
    "enjambed",
    "semicolon",
    "caesura",
    "end-stopped",
)
_UNPRINTED = "a new sentence, though no stop is printed"
_SEEN = frozenset(
    [
        _WHOLE[key]
        for key in ("semicolon", "colon", "caesura", "end-stopped", "sentence", "comma", "question asked")
    ]
    + [_WHOLE["cry ended"], _NEW_CLAUSE]
)


def is_seen(reason: str) -> bool:
    """Whether a reason only says what the reader sees on the page: a stop, the end of a line."""
    return reason in _SEEN


def explain(
    signals: frozenset[str], causes: frozenset[str], words: Sequence[Word], i: int
) -> tuple[str, ...]:
    """All reasons for the mark before word i, the strongest first; at least one."""
    word = f"“{_lower(words[i].text)}”"
    printed = {s for s in signals if s.startswith(_PRINTED)}
    found = _signals(sorted(signals - printed, key=lambda s: (_rank(s, _ORDER), s)), word, words, i)
    found += _from_causes(causes, word, words, i)
    if "unprinted sentence" in causes:
        found.append(_UNPRINTED)
    found += _signals(sorted(printed, key=lambda s: (_rank(s, _PRINTED), s)), word, words, i)
    if causes & {"sentence"} and not causes & {"unprinted sentence"} and not signals & _ENDS:
        found.append(_WHOLE["sentence"])
    if "comma" in causes and not found:
        found.append(_WHOLE["comma"])
    found.sort(key=lambda reason: (is_seen(reason), reason == _NEW_CLAUSE))
    return tuple(dict.fromkeys(found)) or (_NEW_CLAUSE,)


_ENDS = {"question asked", "cry ended"}


def _lower(text: str) -> str:
    """A word in small letters, except the pronoun I."""
    return text if re.match(r"I\b", text) else text.lower()


def _signals(ranked: Sequence[str], word: str, words: Sequence[Word], i: int) -> list[str]:
    return [text for s in ranked if (text := _signal(s, word, words, i)) is not None]


def _rank(signal: str, order: Sequence[str]) -> int:
    return next((n for n, key in enumerate(order) if signal.startswith(key)), len(order))


def _signal(signal: str, word: str, words: Sequence[Word], i: int) -> str | None:
    if signal in _WHOLE:
        return _WHOLE[signal]
    if signal.startswith(("but ", "yet", "and yet", "contrast conjunct")):
        quoted = "“and yet”" if signal == "and yet" and words[i].text.lower() == "and" else word
        return f"{quoted} turns against what was just said"
    if signal.startswith(("concession follows", "whether or", "however clause", "while comma")):
        return f"{word} grants something against it"
    if signal.startswith("list "):
        n = int(signal.split()[1])
        return f"a list builds: {ORDINALS.get(n, 'one more')} item"
    if signal.startswith("repeats "):
        n = int(signal.split()[1])
        if words[i].text.lower() in ("and", "or", "but", "nor"):
            i += 1
        return f"begins again with “{' '.join(_lower(w.text) for w in words[i : i + n])}”: build on it"
    if signal == "new addressee":
        return "a new person is addressed"
    if signal == "addressed again":
        return "calls on the same person again"
    return None


def _from_causes(causes: frozenset[str], word: str, words: Sequence[Word], i: int) -> list[str]:
    if (
        "exclaims" in causes or "as before as" in causes
    ):  # as far as I can see: the second half of a comparison
        return []
    found: list[str] = []
    plain = re.sub(r"\W", "", words[i].text.lower())
    manner = plain == "so" and i + 1 < len(words) and words[i + 1].text.lower() in AFTER_SO
    if plain == "as" and "as if" in causes:
        found.append("“as if” makes a picture of it")
    elif plain in _SUBORDINATE and f"word {plain}" in causes and not manner:
        found.append(f"{word} {_SUBORDINATE[plain]}")
    for keys, text in _CAUSES:
        weaker = bool(found) and keys[0] in ("opens participle", "opens gerund", "opens object_clause")
        if not causes.isdisjoint(keys) and not weaker and _may_be_said(keys[0], text, causes, plain):
            found.append(text.format(word=word, before=words[i - 1].text))
    return found


def _may_be_said(key: str, text: str, causes: frozenset[str], plain: str) -> bool:
    """Whether the sentence for a cause is true here: for example, a quotation ends in a quotation mark."""
    if text == _SPEECH_OVER:
        return "quotation mark" in causes
    if key == "opens relative" and plain not in _RELATIVES:
        return False
    if text == _SIDE_OVER:
        # without a subject this is the next item of a list, and not the main clause
        return "subject starts" in causes and causes.isdisjoint(("semicolon", "colon", "sentence"))
    return True
