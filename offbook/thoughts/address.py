"""Whom a speech speaks to: names called out, orders given, and the word `you`.

A form of address is between two pauses and has no verb: `Come, night,`, `O gentle sleep,`, `Therefore, Jew,`.
It counts if words near it speak to somebody: a `you` or `thou`, an order, a question, an exclamation.
"""

from __future__ import annotations

import re

from offbook.thoughts.clauses import SUBJECTS
from offbook.thoughts.parse import Parsed
from offbook.thoughts.wordlists import ADDRESSED, words_in

YOU = words_in("you thou thee ye your thy thine yours yourself thyself yourselves y'all you're you'll you've")
FINITE = ("VBD", "VBZ", "VBP", "MD")
# Set by hand, on the speeches of bench/turns_read.txt and of the tests.
CALL_LENGTH = 6  # words: a longer stretch between two pauses is not a form of address
_REACH = 12  # words at the beginning of a step, in which a form of address is looked for
_LEADS = words_in("o oh thou you ye good sweet fair dear my poor gentle noble kind brave old thick")
_NOT_FIRST = words_in(
    "the a an this that his her their its to in of on with for from by and at as or nor but if"
)
_NOT_INSIDE = words_in("i i'll i'd i've we he it they to instead not")
_SAYING = words_in("said says told tells asked asks answered replied cried")
_CLAUSE = 8  # words before a name, among which a verb such as "said" is looked for
_NO_NAMES = words_in(
    "o oh come now and go ah alas alack fie woe pardon farewell welcome arise amen adieu out upon't "
    "peace silence mercy thanks god's good's od's faith sooth troth nothing anon enough away knock why well"
)
_SUBJECT_FORMS = words_in("i he she we they")
_BEFORE_AN_ORDER = words_in("and but so then now o oh well therefore please pray nay no ay yes come go")


def called(parsed: Parsed, low: list[str], first: int, after: int) -> tuple[int, int] | None:
    """The first and the last word of a form of address from `first` up to `after`, None if there is none."""
    end = min(after, first + _REACH)
    k = first
    while k < end:
        last = k
        while last + 1 < end and not is_pause(parsed.gaps[last + 1]):
            last += 1
        if last + 1 <= len(low) and _is_call(parsed, low, k, last):
            return _without_opener(low, k), last
        k = last + 1
    return None


def is_pause(gap: str) -> bool:
    """Whether the text between two words makes a pause; the hyphen of a compound does not."""
    return bool(gap.strip()) and gap != "-"


def is_called(parsed: Parsed, low: list[str], k: int) -> bool:
    """Whether word `k` is part of what looks like a form of address: `I understand, Kostya, that`."""
    first = last = k
    while first > 0 and last - first < CALL_LENGTH and not is_pause(parsed.gaps[first]):
        first -= 1
    while last + 1 < len(low) and last - first < CALL_LENGTH and not is_pause(parsed.gaps[last + 1]):
        last += 1
    return _is_call(parsed, low, first, last)


def _is_call(parsed: Parsed, low: list[str], first: int, last: int) -> bool:
    """Whether the words between two pauses look like a form of address."""
    if last - first >= CALL_LENGTH or not re.search("[,!?;:.—-]", parsed.gaps[last + 1]):
        return False
    led = low[first] in _LEADS or (low[first] == "come" and last > first)
    noun = parsed.tag(last).startswith("NN")
    named = parsed.tag(last) in ("NNP", "NNPS") or low[last] in ADDRESSED or (led and noun)
    named = named and low[last] not in _NO_NAMES
    verb = any(parsed.tag(k) in FINITE for k in range(first, last + 1))
    # "Give me the Holy Water" is an order, not a name; "Come, night" is a form of address
    verb = verb or any(parsed.tag(k) == "VB" and low[k] != "come" for k in range(first, last))
    of_somebody = (
        first > 0 and low[first] == "my" and parsed.tag(first - 1) in ("NNP", "NNPS")
    )  # Crab, my dog,
    fits = low[first] not in _NOT_FIRST and _NOT_INSIDE.isdisjoint(low[first : last + 1])
    apart = of_somebody or _heads_the_matter(parsed, low, first, last) or _reported(parsed, low, first)
    return named and fits and not verb and not apart


def _heads_the_matter(parsed: Parsed, low: list[str], first: int, last: int) -> bool:
    """Whether two names are the topic of what follows: `Brutus and Caesar: what should be in`."""
    return "and" in low[first:last] and low[last] not in ADDRESSED and ":" in parsed.gaps[last + 1]


def _reported(parsed: Parsed, low: list[str], first: int) -> bool:
    """Whether a name is part of reported speech: `I said you were late, Ada, and`."""
    if _SAYING.isdisjoint(low[max(0, first - _CLAUSE) : first]):
        return False
    return not any(re.search('["“”]', parsed.gaps[k]) for k in range(max(0, first - 1), first + 1))


def _without_opener(low: list[str], first: int) -> int:
    """The first word of a form of address, without `O` or `Come` before it."""
    return first + 1 if low[first] in _NO_NAMES else first


def speaks_to(parsed: Parsed, low: list[str], first: int, after: int) -> bool:
    """Whether words speak to somebody: with a `you`, an order, an exclamation or a question."""
    if any(w in YOU for w in low[first:after]):
        return True
    return orders(parsed, low, first, after) or any(c in parsed.gaps[after] for c in "?!")


def orders(parsed: Parsed, low: list[str], first: int, after: int) -> bool:
    """Whether the words `first` up to `after` begin with an order: `Bear with me`, `Don't laugh`."""
    k = first
    while k < after and low[k] in _BEFORE_AN_ORDER and parsed.tag(k) != "VB":
        k += 1
    if k >= after:
        return low[first] in ("come", "go")
    if low[k] in ("let", "let's"):
        return True
    if "?" in parsed.gaps[after] or (k + 1 < after and low[k + 1] in _SUBJECT_FORMS):
        return False  # Think'st thou? Are not thy bills hung up? Die I must
    head = parsed.first[k]
    if low[k] in ("do", "don't") and parsed.dep(k) == "aux":
        forbidden = parsed.tokens[head].head
        return not _has_subject(parsed, forbidden, parsed.first[first], parsed.last[after - 1])
    token = parsed.tokens[head]
    bare = token.tag == "VB" or (token.tag == "VBP" and token.dep == "ROOT" and k == first)
    if not bare or token.dep not in ("ROOT", "ccomp", "conj", "advcl", "dep"):
        return False
    if _has_subject(parsed, head, parsed.first[first], head - 1):
        return False
    return not _has_subject(
        parsed, head, head + 1, parsed.last[after - 1], YOU
    )  # Sing they may; but: Go thou


def _has_subject(
    parsed: Parsed, verb: int, first: int, last: int, apart_from: frozenset[str] = frozenset()
) -> bool:
    """Whether a verb has a subject among the tokens `first` to `last` that is not in `apart_from`."""
    return any(
        parsed.tokens[t].dep in SUBJECTS
        and parsed.tokens[t].head == verb
        and parsed.tokens[t].form.lower() not in apart_from
        for t in range(first, last + 1)
    )
