"""What a turn changes, in plain words: to whom, what for, what about, when.

Each line says what the text shows: a person is addressed, a question is asked, a subject is new. If there are
several, the one that helps the performer most comes first; if the text shows nothing, the only line says that
a new step begins.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Iterator, Sequence
from itertools import pairwise

from offbook.script import Script
from offbook.thoughts.address import FINITE, YOU, is_called, is_pause, orders, speaks_to
from offbook.thoughts.clauses import SUBJECTS
from offbook.thoughts.turning import AHEAD, I_WORDS, LONG, SHORT, WINDOW, SpeechStep, Turning
from offbook.thoughts.wordlists import ADDRESSED, AFTER_SO, SELF, words_in
from offbook.words import Word

NEXT_STEP = "what about: the next step"
_WE = words_in("we us our ours ourselves")
# All numbers of this module were set by hand, on the speeches of the tests and of bench/turns_read.txt.
_BACK_AFTER = 25  # words: "back to" a person is said only after so many words without addressing them
_PHRASE = 5  # words of a subject that are quoted
_SERIES = 14  # words between two steps that begin alike: with fewer they are one list
_LANDS = 8  # words: a short thought after a long one has no more
_CRY = 12  # words: an exclamation has no more
_AGREE = 0.75  # the share of a sentence's finite verbs that must agree in their time
# Words at the beginning of a step, in which "comes" and "good night" are looked for
_COMING_WITHIN, _LEAVING_WITHIN = 6, 4
_CONCLUDES = words_in("therefore thus hence so")
_NEXT = words_in(
    "besides moreover furthermore first second secondly third thirdly fourth next last lastly again"
)
_ORDINALS = words_in("second third fourth fifth sixth seventh")
_COUNTED_WITHIN = 3  # words at the beginning of a step, in which an ordinal is looked for: and my third
_DETERMINERS = words_in("the a an one's my your thy his her our their this that these those mine thine")
_DO = words_in("do does did dost doth didst")
_SPEAKERS = words_in("i you thou we")
_UNREAL = words_in("if would could should might may were as though")
_TOPIC = 15  # words at the beginning of a step, in which its new subject is looked for
_HOLLOW = words_in(
    "end beginning moment instant hint "
    "kind sort manner way lot bit piece part number pair deal tut pooh lo alas bah hush ha thing things "
    "much little more less many few order "
    "witness advantage heed care notice hold amends pains chance others rest today tonight yesterday "
    "tomorrow to-day to-night to-morrow thrice twice afternoon morning evening"
)
"""Nouns that are never a subject: measures, exclamations, parts of verbs (`bear witness`), times of day."""
_NO_SUBJECTS = words_in(
    "it it's 'tis 'twas there there's that that's this these those who which what one all nothing nobody"
)
_COMES = words_in("comes cometh")
_SHOWS = words_in("here yonder see look soft lo hark")
_LEAVE = words_in("farewell adieu goodbye good-bye")
_GOOD = words_in("night evening day morning afternoon bye")
_NEAR_LEAVING = 40  # words from the end: earlier in a speech `good evening` is a greeting
_TIMES = words_in(
    "year years day days night nights morning evening afternoon week weeks month months winter summer "
    "spring autumn christmas easter monday tuesday wednesday thursday friday saturday sunday ago "
    "yesterday tomorrow to-morrow"
)
_WHEN = ("npadvmod", "pobj", "advmod", "nummod")  # relations of a time to its sentence
_BEFORE_A_TIME = words_in("and but then so for yet")
_YEAR = re.compile(r"1[0-9]{3}|20[0-9]{2}")
_OPENING = 7  # words at the beginning of a step, in which a time is looked for
_BEFORE_A_CASE = words_in("and but or for so")
_WHEN_FIRST = words_in("now today tonight yesterday tomorrow to-day to-night to-morrow once lately")
_MODIFIERS = ("JJ", "JJR", "JJS", "NN", "NNP", "CD", "VBN")
_RESOLVES = words_in("i'll i we'll we let let's will")
_TENSE = {
    ("past", "present"): "from then to now",
    ("past", "future"): "from what was to what will be",
    ("present", "past"): "from now to then",
    ("present", "future"): "from now to what will be",
    ("future", "present"): "from what will be back to now",
    ("future", "past"): "from what will be to what was",
}


class Changes:
    """What changes at the steps of one speech."""

    def __init__(self, script: Script, words: Sequence[Word], turning: Turning) -> None:
        self.script, self.words, self.turning = script, words, turning
        self.low, self.parsed = turning.low, turning.parsed
        self.called = sorted(turning.calls)

    def at(self, step: SpeechStep) -> tuple[str, ...]:
        """What changes at `step`, the most helpful line first; at least one line."""
        found = [
            *self._comes_or_goes(step),
            *self._whom(step),
            *self._moment(step),
            *self._aim(step),
            *self._link(step),
            *self._when(step),
        ]
        found += [*self._people(step), *self._series(step), *self._topic(step)]
        return tuple(dict.fromkeys(found)) or (self._shape(step),)

    def _shape(self, step: SpeechStep) -> str:
        """A line for a step whose words show no change: how it follows what was said before."""
        if self.turning.stands_alone(step):
            return f"what for: starts afresh, {self._quoted(step.first, step.first)}"
        before, ahead = step.first - step.sentence_before, step.sentence_after - step.first
        if before >= LONG and ahead <= _LANDS and "!" not in self.parsed.gaps[step.after]:
            return "what for: lands the long thought in a short one"
        if before <= SHORT and ahead >= LONG:
            return "what for: gathers for a long thought"
        return next(self._small(step), NEXT_STEP)

    def _small(self, step: SpeechStep) -> Iterator[str]:
        """Small changes: a condition, a time, or another subject in the same matter."""
        k = step.first + (self.low[step.first] in _BEFORE_A_CASE and step.first + 1 < step.after)
        if self.low[k] == "if":
            yield "what for: puts a case, “if”"
        if self.low[step.first] in _WHEN_FIRST:
            yield f"when: {self._quoted(step.first, step.first)}"
        was = self._named_subject(step.sentence_before, step.first)
        now = self._named_subject(step.first, step.sentence_after)
        if was is not None and now is not None and self.low[was] != self.low[now]:
            yield f"what about: from {self._phrase(was)} to {self._phrase(now)}"

    def _named_subject(self, first: int, after: int) -> int | None:
        """The index of the first subject from `first` up to `after`, None if it is a word such as "it"."""
        subject = next((k for k in range(first, after) if self.parsed.dep(k) in SUBJECTS), None)
        return None if subject is None or self.low[subject] in _NO_SUBJECTS else subject

    def _quoted(self, first: int, last: int) -> str:
        """Words of the speech in quotation marks, without the capital of a sentence or line."""
        end = self.words[last].end - self._contracted(last)
        said = " ".join(self.script.text[self.words[first].start : end].split())
        place = first in self.turning.after or self.words[first].line != self.words[first - 1].line
        if place and not self.parsed.tag(first).startswith("NNP") and not said.startswith(("I ", "I'", "I’")):
            said = said[:1].lower() + said[1:] if said != "I" else said
        return f"“{said}”"

    def _contracted(self, k: int) -> int:
        """How many characters of word `k` are a contracted verb: `you're`, `her train's` (stuck)."""
        whole = self.parsed.first[k] == self.parsed.last[k]
        if whole or self.parsed.tokens[self.parsed.last[k]].tag == "POS" or "'" not in self.low[k]:
            return 0
        if self.low[k].endswith("n't"):
            return 0  # without “not” the word would mean the opposite
        return len(self.low[k]) - self.low[k].rindex("'")

    def _whom(self, step: SpeechStep) -> Iterator[str]:
        span = self.turning.calls.get(step.first)
        if span is None or not speaks_to(self.parsed, self.low, step.first, step.sentence_after):
            return
        before = self._called_before(step.first)
        if before is None or self.low[before[1]] != self.low[span[1]]:
            own = self.low[span[1]] in SELF and span[1] > span[0] and self.low[span[1] - 1] in ("my", "mine")
            if own:
                yield f"to whom: to the speaker's own {self.low[span[1]]}"
            elif before is None and self._said_before(step, YOU) and self.parsed.tag(span[1]) == "NNP":
                yield f"to whom: calls {self._quoted(*span)} by name"  # "you" was said before
            else:
                yield f"to whom: {self._quoted(*span)} is spoken to now"
        elif span[0] - before[1] > _BACK_AFTER:
            here = self._said_before(step, YOU)
            yield f"to whom: {'calls on' if here else 'back to'} {self._quoted(*span)}{' again' * here}"

    def _comes_or_goes(self, step: SpeechStep) -> Iterator[str]:
        """The lines for somebody who comes in (`Here comes Beatrice`), or a speaker who takes leave."""
        opening = self.low[step.first : min(step.first + _COMING_WITHIN, step.after)]
        coming = next((k for k, word in enumerate(opening) if word in _COMES), None)
        if coming is not None and not _SHOWS.isdisjoint(opening[:coming]):
            yield "to whom: somebody comes"
        wishes = any(a == "good" and b in _GOOD for a, b in pairwise(opening[:_LEAVING_WITHIN]))
        leaves = wishes or not _LEAVE.isdisjoint(opening[:2])
        if leaves and self.turning.count - step.first <= _NEAR_LEAVING:
            yield "what for: takes leave"

    def _called_before(self, i: int) -> tuple[int, int] | None:
        k = bisect_left(self.called, i)
        return self.turning.calls[self.called[k - 1]] if k else None

    def _aim(self, step: SpeechStep) -> Iterator[str]:
        turning, before = self.turning, self._before(step)
        asked, asks = "?" in self.parsed.gaps[step.first], turning.asks(step)
        asked = asked and not (before is not None and self._tells_a_question(before))
        asks = asks and not self._tells_a_question(step)
        if turning.resolves(step):
            yield f"what for: makes up the mind, {self._resolve(step)}"
        elif turning.orders(step):
            if asked or before is None or not turning.orders(before):
                yield "what for: wants something done"
        elif asked and not asks:
            yield "what for: from asking to telling"
        elif asks and not asked:
            yield "what for: from telling to asking"
        short = step.after - step.first <= _CRY
        if short and "!" in self.parsed.gaps[step.after] and "!" not in self.parsed.gaps[step.first]:
            yield "what for: breaks out"

    def _tells_a_question(self, step: SpeechStep) -> bool:
        """Whether a step reports a question: `Caesar said, 'Darest thou?'`.

        A step that is all quoted asks it.
        """
        quoted = re.search("[?]['’\"”]", self.parsed.gaps[step.after])
        return quoted is not None and not re.search("['‘\"“]", self.parsed.gaps[step.first])

    def _resolve(self, step: SpeechStep) -> str:
        """The words of a decision with its verb: `I'll have`, `let us go`."""
        k = next(k for k in range(step.first, step.after) if self.low[k] in _RESOLVES)
        long = self.low[k] not in ("i'll", "we'll", "let's")
        return self._quoted(k, min(k + 1 + long, step.after - 1))

    def _before(self, step: SpeechStep) -> SpeechStep | None:
        k = bisect_left(self.turning.starts, step.first) - 1
        return self.turning.steps[k - 1] if k > 0 else None

    def _link(self, step: SpeechStep) -> Iterator[str]:
        """The lines for how the first words connect the step to what was said before."""
        k = step.first + (self.low[step.first] == "and" and step.first + 1 < step.after)
        word, after = self.low[k], self.low[k + 1] if k + 1 < step.after else ""
        if word in ("but", "yet"):
            yield f"what about: {self._quoted(step.first, k)} sets the other side against it"
        elif word in _CONCLUDES and not (word == "so" and after in AFTER_SO):
            yield f"what about: “{word}” draws what follows from it"
        elif word in _NEXT:
            yield f"what about: the next of a series, “{word}”"
        elif word == "then":
            yield "when: “then”, what comes after that"

    def _series(self, step: SpeechStep) -> Iterator[str]:
        """The lines for a series: an ordinal (`My third comfort`), or a beginning that was heard before."""
        opening = range(step.first + 1, min(step.first + _COUNTED_WITHIN, step.after - 1))
        counted = next((k for k in opening if self.low[k] in _ORDINALS), None)
        if counted is not None and self.parsed.tag(counted + 1).startswith("NN"):
            yield f"what about: the next of a series, {self._quoted(step.first, counted + 1)}"
        elif self._heard(step) is not None:
            yield f"what about: the next of a series, {self._quoted(step.first, step.first + 1)}"

    def _heard(self, step: SpeechStep) -> int | None:
        """The first word of an earlier step that begins with the same two words, if it is not too near."""
        if step.first + 1 >= step.after:
            return None
        word, after = self.low[step.first : step.first + 2]
        earlier = (i for i in self.turning.openings[word] if i <= step.first - _SERIES)
        return next((i for i in earlier if self.low[i + 1] == after), None)

    def _when(self, step: SpeechStep) -> Iterator[str]:
        was = self._time(step.sentence_before, step.first)
        now = self._time(step.first, step.sentence_after)
        if was is not None and now is not None and was != now:
            yield f"when: {_TENSE[was, now]}"

    def _moment(self, step: SpeechStep) -> Iterator[str]:
        """The line for a time before the subject: `Last week the letters stopped`, `In 1994 I played`."""
        subject = self.turning.subject(step)
        if subject is None or self.turning.asks(step) or self.turning.orders(step):
            return
        opening = range(step.first, min(step.after, step.first + _OPENING, subject))
        named = [k for k in opening if self.low[k] in _TIMES or _YEAR.fullmatch(self.low[k])]
        if not named or self.parsed.dep(named[0]) not in _WHEN or is_called(self.parsed, self.low, named[0]):
            return
        first = named[0]
        while first > step.first and not is_pause(self.parsed.gaps[first]):
            first -= 1
        first += self.low[first] in _BEFORE_A_TIME
        if first <= named[0] and self.low[first] != "good":
            last = named[0] + (named[0] + 1 in named)  # years ago
            yield f"when: {self._quoted(first, last)}"

    def _time(self, first: int, after: int) -> str | None:
        """Past, present or future; None if the verbs do not agree, or if something is only imagined."""
        if orders(self.parsed, self.low, first, after):
            return None  # an order has no time
        if self.turning.verb(first, after) == "future":
            return "future"
        tags = [self.parsed.tag(k) for k in range(first, after)]
        verbs = [t for t in tags if t in FINITE and t != "MD"]
        if not verbs or not _UNREAL.isdisjoint(self.low[first:after]):
            return None
        past = verbs.count("VBD") / len(verbs)
        return "past" if past >= _AGREE else "present" if past <= 1 - _AGREE else None

    def _people(self, step: SpeechStep) -> Iterator[str]:
        ahead = range(step.first, min(step.sentence_after, step.first + AHEAD))
        you = next((k for k in ahead if self.low[k] in YOU), None)
        if you is not None and (comes := self._comes(step, YOU)):
            yield f"to whom: {comes} {self._quoted(you, you)}"
        subject = self.turning.subject(step)
        if subject is not None and self.low[subject] in I_WORDS and (comes := self._comes(step, I_WORDS)):
            yield f"what about: {comes} “I”"
        if subject is not None and self.low[subject] in _WE and not self._said_before(step, _WE):
            yield "what about: takes everyone in, “we”"

    def _comes(self, step: SpeechStep, words: frozenset[str]) -> str:
        """ "comes to" if the words are new, "back to" if they were said some time before, "" if just now."""
        if self._said_before(step, words):
            return ""
        return "back to" if self.turning.has(0, step.first, words) else "comes to"

    def _said_before(self, step: SpeechStep, words: frozenset[str]) -> bool:
        return self.turning.has(step.first - WINDOW, step.first, words)

    def _topic(self, step: SpeechStep) -> Iterator[str]:
        subjects = [k for k in range(step.first, step.sentence_after) if self.parsed.dep(k) in SUBJECTS]
        if subjects and self._holds_always(step, subjects[0]):
            yield "what about: from this case to what always holds"
        topic = self._new_topic(step, subjects)
        if topic is not None:
            yield f"what about: on to {self._phrase(topic)}"

    def _new_topic(self, step: SpeechStep, subjects: Sequence[int]) -> int | None:
        """The index of the new thing that a step is about, None if there is none. subjects: those of the
        step.

        A first word with a comma (`Leander, he would`) is preferred, then a subject, then the first new noun.
        """
        near = range(step.first, min(step.sentence_after, step.first + _TOPIC))
        found = [
            k
            for k in near
            if self.turning.is_new(k) and self.low[k] not in _HOLLOW | _TIMES and self._is_thing(step, k)
        ]
        sure = [k for k in found if k > step.first or k in subjects or is_pause(self.parsed.gaps[k + 1])]
        new = [k for k in sure if k < step.after] or sure
        if not new:
            return None
        if new[0] == step.first and is_pause(self.parsed.gaps[step.first + 1]):
            return new[0]
        led = subjects[:1] if subjects and self.parsed.tag(subjects[0]) == "PRP" else subjects
        return next((k for k in led if k in new), new[0])

    def _is_thing(self, step: SpeechStep, k: int) -> bool:
        """Whether word `k` is a noun for something that the step may be about.

        Not a form of address, the first half of `twin-born`, what somebody is (`I am the man`) or is called
        (`I call that piece a wonder`), nor a verb that the parser takes for a noun (`I did consent`).
        """
        half = self.parsed.gaps[k + 1] == "-" and not self.parsed.tag(k + 1).startswith("NN")
        verb = k > step.first and self.low[k - 1] in _DO
        told = self.parsed.dep(k) == "oprd" or (self.parsed.dep(k) == "attr" and self._of_person(k))
        called = self.low[k] in ADDRESSED and is_called(self.parsed, self.low, k)
        return not (half or verb or told or called or self._is_address(step, k))

    def _of_person(self, k: int) -> bool:
        """Whether word `k` says what the speaker or the listener is: `I am the man`."""
        tokens = self.parsed.tokens
        verb = tokens[self.parsed.first[k]].head
        return any(t.head == verb and t.dep in SUBJECTS and t.form.lower() in _SPEAKERS for t in tokens)

    def _is_address(self, step: SpeechStep, k: int) -> bool:
        """Whether word `k` is a form of address; the name in `Leander, he would` is not."""
        if not is_called(self.parsed, self.low, k):
            return False
        return k > step.first or speaks_to(self.parsed, self.low, step.first, step.sentence_after)

    def _holds_always(self, step: SpeechStep, subject: int) -> bool:
        """Whether a step is a general statement in the present, not about "I", "you" or "we"."""
        span = range(step.first, step.sentence_after)
        led = self.low[subject - 1] if subject > step.first else ""
        plural = self.parsed.tag(subject) == "NNS" and led not in _DETERMINERS
        verb = self.turning.verb(step.first, step.sentence_after)
        people = I_WORDS | YOU | _WE
        return (
            (plural or led in ("a", "an", "all", "every"))
            and verb in ("VBZ", "VBP")
            and people.isdisjoint(self.low[k] for k in span)
            and "?" not in self.parsed.gaps[step.sentence_after]
        )

    def _phrase(self, noun: int) -> str:
        """A noun, quoted with the words before and after it that belong to it."""
        first = last = noun
        while last + 1 < len(self.low) and self._goes_on(last):
            last += 1
        while first > 0 and last - first < _PHRASE - 1 and not is_pause(self.parsed.gaps[first]):
            before = first - 1
            if self.words[before].line != self.words[first].line:
                break
            if self.low[before] in _DETERMINERS and self.parsed.tag(before) != "IN":  # that, the conjunction
                first = before
                break
            if self.parsed.tag(before) not in _MODIFIERS:
                break
            first = before
        return self._quoted(first, last)

    def _goes_on(self, k: int) -> bool:
        """Whether the next word belongs to the noun: after `Edward's`, or the half of `harbour mouth`."""
        after = self.parsed.tag(k + 1)
        if self.parsed.tag(k) == "NNP" and after == "NN" and self.words[k + 1].text.islower():
            return False  # in "What sighs shall poor Olivia breathe" the parser takes the verb for a noun
        if is_pause(self.parsed.gaps[k + 1]) or self.words[k + 1].line != self.words[k].line:
            return False
        if self.low[k + 1] in _TIMES and self.parsed.dep(k + 1) == "npadvmod":
            return False  # in "I found the brush yesterday" the time does not belong to the noun
        owned = self.parsed.tokens[self.parsed.last[k]].tag == "POS" or self.low[k].endswith("s'")
        return after.startswith("NN") or (after == "JJ" and (owned or self.parsed.tag(k) == "JJ"))
