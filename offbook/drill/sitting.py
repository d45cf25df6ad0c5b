"""Drills: what to ask next, what to show with it, and when to stop.

A sitting asks for thoughts; it does not show them to be read again, because recalling is what makes memory
last (Roediger & Karpicke 2006). The surer the recall, the less help is shown, and after a failure more is
shown again (diminishing cues: Finley, Benjamin, Hays, Bjork & Kornell 2011). A question that failed comes
back a few questions later. A sitting ends when its time is over, with an answer that was right.

`KINDS` says what each kind of exercise asks for; docs/learning.md says what it rests on. The clock and the
random choices are passed in, and nothing is printed.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from random import Random
from typing import Literal

from offbook.drill.judging import JudgedAnswer
from offbook.drill.units import Lookalike
from offbook.records import Memory, Unit, Version
from offbook.schedule import FIRST_HELP, MOST_HELP, next_help, rating_of, recall_at
from offbook.words import as_written

Kind = Literal["thought", "cue", "join", "build-up", "build-back", "drop-in", "tell-apart"]

KINDS: dict[Kind, str] = {
    "thought": "the thought before is shown; give the whole next thought",
    "cue": "your partner's line is shown or spoken; give yours, and see how soon you came in",
    "join": "the end of one thought is shown; give the first words of the next",
    "build-up": "from one thought on: one, then two, then three in a row",
    "build-back": "from the end: the last thought, then the last two, then the last three",
    "drop-in": "a few words from anywhere are shown; go on from there to the end of the thought",
    "tell-apart": "two thoughts that sound alike, one after the other",
}

# What a question of each kind is called on a screen that has room for it.
TITLES: dict[Kind, str] = {
    "thought": "Say the next thought",
    "cue": "Answer your partner",
    "join": "Begin the next thought",
    "build-up": "One thought, then more after it",
    "build-back": "The end, then more before it",
    "drop-in": "Go on from the middle",
    "tell-apart": "Tell two thoughts apart",
}

# Set by hand.
JOIN_WORDS = 5  # words of the next thought that a join asks for
CUE_WORDS = 8  # last words of the thought before that are shown
APART = 3  # other questions before one that failed comes back
CHAIN = 3  # thoughts in a chain at most
_LEAST_DROP_IN = 6  # words that a thought must have to be entered in its middle
_LEAD_IN = 3  # words shown before the place where a drop-in begins
_MEASURED = 0.6  # share of a thought's words that must be asked for before a good answer says it is known
# Last words of the surest thought that are asked for once it has failed at the end, one fewer at each try.
_LAST_WORDS = 3
_WEAKEST, _PAIRS = 3, 2  # weakest thoughts, and pairs of lookalikes, in each round after the day's work


@dataclass(frozen=True, slots=True)
class Exercise:
    """One question.

    key: the thought that it asks for, the first one of a chain; first, last: the script words asked for;
    shown: what leads into them, empty at the beginning; help, hint: how much of them is shown, 0 to 3, and
    how they are then shown (see `veiled`); speaker: of the cue; first_look: the thought is new, and is to be
    read once before it is asked for.
    """

    kind: Kind
    key: int
    first: int
    last: int
    shown: str
    help: int
    hint: str
    speaker: str | None = None
    first_look: bool = False


def veiled(words: Sequence[str], help_: int) -> str:
    """As much of `words` as the help shows.

    help_: 0 nothing; 1 the first word; 2 the first letters; 3 every other word, and the first letters of the
    others.
    """
    if help_ <= 0:
        return ""
    if help_ == 1:
        return f"{words[0]} …"
    return " ".join(w if help_ >= MOST_HELP and k % 2 == 0 else _letter(w) for k, w in enumerate(words))


def _letter(word: str) -> str:
    return word[0] + "·" * (len(word) - 1)


@dataclass
class Sitting:
    """One sitting of drills on one draft.

    memories: by the thoughts' keys; wanted: the keys of the day's thoughts, in order; pairs: thoughts that
    are easily mixed up; seconds: how long it lasts; now: gives the seconds since it began; dice: for random
    choices; kinds: which exercises it has, all where this is empty; closing: how many questions were asked
    after the time was over.
    """

    version: Version
    memories: dict[int, Memory]
    wanted: Sequence[int]
    pairs: Sequence[Lookalike]
    seconds: float
    now: Callable[[], float]
    dice: Random
    kinds: frozenset[Kind] = frozenset()
    help: dict[int, int] = field(default_factory=dict)
    _queue: deque[Exercise] = field(default_factory=deque)
    _asked: int = 0
    _last_good: bool = False
    closing: int = 0
    _seen: set[int] = field(default_factory=set)
    _rounds: int = 0

    def __post_init__(self) -> None:
        """Set the help of each thought from its memory, and queue the day's work."""
        self._by_key = {u.key: u for u in self.version.units}
        self._texts = [w.text for w in self.version.words]
        self._cues = self._cues_by_word()
        for u in self.version.units:
            m = self.memories.get(u.key)
            self.help[u.key] = FIRST_HELP if m is None else m.help
        self._queue.extend(self._allowed(self._days_work()))

    # What to ask ------------------------------------------------------------------------------

    def ask(self) -> Exercise | None:
        """The next question; None when the time is over and the last answer went right."""
        if self.now() >= self.seconds:
            return None if self._last_good or not self._asked else self._close()
        if not self._queue:
            self._queue.extend(self._more())
        found = self._queue.popleft()
        help_ = self.help[found.key] if found.kind in ("thought", "cue", "tell-apart") else found.help
        if found.first_look and found.key in self._seen:
            found = replace(found, first_look=False)
        self._seen.add(found.key)
        return self._with_help(found, help_)

    def take(self, exercise: Exercise, judged: JudgedAnswer | None) -> dict[int, int]:
        """Note an answer (None: "I don't know"); returns ratings by the thoughts' keys, 0 for not rated."""
        self._asked += 1
        self._last_good = judged is not None and judged.clean
        ratings: dict[int, int] = {}
        for u in self.version.units:
            first, last = max(u.first, exercise.first), min(u.last, exercise.last)
            if first <= last:
                ratings[u.key] = self._rate(u, first, last, exercise, judged)
        for key, rating in ratings.items():
            if not self.closing:
                self.help[key] = help_after(self.help[key], rating, exercise, self._last_good)
        if not self._last_good and not self.closing:
            again = replace(exercise, first_look=False, help=min(MOST_HELP, exercise.help + 1))
            self._queue.insert(min(APART, len(self._queue)), again)
        return ratings

    def _rate(self, u: Unit, first: int, last: int, exercise: Exercise, judged: JudgedAnswer | None) -> int:
        if judged is None:
            return rating_of(0, u.words, gave_up=True)
        right, asked = judged.within(first, last)
        rating = rating_of(right, asked, help_=exercise.help, prompted=judged.prompted(first, last))
        # A few words that were right do not prove that the thought is known; a few wrong ones prove that it
        # is not.
        partial = asked < _MEASURED * u.words
        return 0 if partial and rating > 1 else rating

    # How the sitting is laid out --------------------------------------------------------------

    def _days_work(self) -> list[Exercise]:
        """The day's thoughts.

        A new one is asked for again after the next one, and then the join between them.
        """
        out: list[Exercise] = []
        row: list[Unit] = []
        waiting: Unit | None = None
        for key in self.wanted:
            u = self._by_key[key]
            out.append(self._thought(u, first_look=key not in self.memories))
            if waiting is not None:
                out.append(self._thought(waiting))
            if u.n and key not in self.memories:
                out.append(self._join(u))
            waiting = u if key not in self.memories else None
            row = [*row, u] if row and u.n == row[-1].n + 1 else [u]
            if len(row) == CHAIN:
                out.append(self._stretch("build-up", row[0], row[-1]))
                row = []
        return out if waiting is None else [*out, self._thought(waiting)]

    def _more(self) -> list[Exercise]:
        """More to do once the day's work is done: the weakest joins, chains, random places, lookalikes."""
        self._rounds += 1
        begun = self._begun()
        some = self._weakest()[:_WEAKEST]
        out = [self._join(u) for u in some if u.n]
        keys = {u.key for u in begun}
        for pair in [p for p in self.pairs if p.one in keys and p.other in keys][:_PAIRS]:
            out += [
                replace(self._thought(self._by_key[k]), kind="tell-apart") for k in (pair.one, pair.other)
            ]
        out += [self._drop_in(self.dice.choice(begun)), self._drop_in(self.dice.choice(begun))]
        end = _row_ending(begun, len(begun) - 1, min(self._rounds, CHAIN))
        out.append(self._stretch("build-back", end[0], end[-1]))
        row = _row_ending(begun, self.dice.randrange(len(begun)), CHAIN)
        out += [self._stretch("build-up", row[0], u) for u in row]
        out += [self._thought(u) for u in some]
        return self._allowed(out) or self._only_kind()

    def _begun(self) -> list[Unit]:
        """The thoughts that have been asked for: only these can be chained, or entered in the middle."""
        known = self._seen | set(self.memories)
        return [u for u in self.version.units if u.key in known] or list(self.version.units[:1])

    def _allowed(self, exercises: list[Exercise]) -> list[Exercise]:
        return [e for e in exercises if not self.kinds or e.kind in self.kinds]

    def lacking(self) -> list[Kind]:
        """The kinds asked for, where none of them can be: tell-apart without a pair, cue in a monologue."""
        keys = {u.key for u in self._begun()} | set(self.wanted)
        there: set[Kind] = {"thought", "join", "build-up", "build-back", "drop-in"}
        if self._cues:
            there.add("cue")
        if any(p.one in keys and p.other in keys for p in self.pairs):
            there.add("tell-apart")
        return [] if there & self.kinds or not self.kinds else sorted(self.kinds)

    def _only_kind(self) -> list[Exercise]:
        """Where one kind was asked for and the layout has none of it just now."""
        out: list[Exercise] = []
        for u in self._weakest():
            out += [self._thought(u), *([self._join(u)] if u.n else []), self._drop_in(u)]
        return self._allowed(out) or [self._thought(self._weakest()[0])]

    def _weakest(self) -> list[Unit]:
        return sorted(self._begun(), key=lambda u: (-self.help[u.key], self._stability(u.key), u.n))

    def _stability(self, key: int) -> float:
        m = self.memories.get(key)
        return m.stability if m is not None and m.stability is not None else 0.0

    def _close(self) -> Exercise:
        """Time is over and the last answer was wrong: ask for the surest thought, showing more each time."""
        sure = min(self._begun(), key=lambda u: (self.help[u.key], -self._stability(u.key), u.words))
        self.closing += 1
        left = max(1, _LAST_WORDS - (self.closing - 2))  # words asked for, once all of the thought has failed
        first = sure.first if self.closing == 1 else max(sure.first, sure.last - left + 1)
        asked = self._with_help(replace(self._thought(sure), first=first), MOST_HELP)
        lead = self._text(sure.first, first - 1)
        return replace(asked, shown=lead or asked.shown)

    # The kinds --------------------------------------------------------------------------------

    def _with_help(self, e: Exercise, help_: int) -> Exercise:
        return replace(e, help=help_, hint=veiled(self._texts[e.first : e.last + 1], help_))

    def _thought(self, u: Unit, *, first_look: bool = False) -> Exercise:
        cue = self._cues.get(u.first)
        if cue is not None:
            return Exercise("cue", u.key, u.first, u.last, cue[0], 0, "", cue[1], first_look)
        return Exercise("thought", u.key, u.first, u.last, self._before(u.first), 0, "", None, first_look)

    def _join(self, u: Unit) -> Exercise:
        last = min(u.last, u.first + JOIN_WORDS - 1)
        while last < u.last and self._hyphen_after(last):  # a compound such as to-morrow is asked for whole
            last += 1
        return Exercise("join", u.key, u.first, last, self._before(u.first), 0, "")

    def _stretch(self, kind: Kind, one: Unit, other: Unit) -> Exercise:
        return Exercise(kind, one.key, one.first, other.last, self._before(one.first), 0, "")

    def _drop_in(self, u: Unit) -> Exercise:
        if u.words < _LEAST_DROP_IN:
            return replace(self._thought(u), kind="drop-in")
        start = self.dice.randrange(u.first + _LEAD_IN, u.last - 1)
        while start > u.first + _LEAD_IN and self._hyphen_after(start - 1):
            start -= 1
        return Exercise(
            "drop-in", u.key, start, u.last, f"… {self._text(start - _LEAD_IN, start - 1)}", 0, ""
        )

    def _hyphen_after(self, word: int) -> bool:
        """Whether a word and the next are the two halves of a compound."""
        a, b = self.version.words[word], self.version.words[word + 1]
        return self.version.script.text[a.end : b.start] in ("-", "\u2010", "\u2011")

    def _before(self, word: int) -> str:
        """What leads into a word: its cue, or the last words before it."""
        if word in self._cues:
            return self._cues[word][0]
        lead = self._text(max(0, word - CUE_WORDS), word - 1)
        return f"… {lead}" if word > CUE_WORDS else lead

    def _text(self, first: int, last: int) -> str:
        return as_written(self.version.script, self.version.words, first, last) if first <= last else ""

    def _cues_by_word(self) -> dict[int, tuple[str, str]]:
        first: dict[int, int] = {}
        for w in self.version.words:
            first.setdefault(w.line, w.i)
        return {
            first[c.before_line]: (c.text, c.speaker)
            for c in self.version.script.cues
            if c.before_line is not None and c.before_line in first
        }


def _row_ending(units: Sequence[Unit], at: int, most: int) -> list[Unit]:
    """At most `most` thoughts that follow one another in the speech, the last of them units[at]."""
    row = [units[at]]
    while len(row) < most and at - len(row) >= 0 and units[at - len(row)].n == row[0].n - 1:
        row.insert(0, units[at - len(row)])
    return row


def help_after(help_: int, rating: int, exercise: Exercise, right: bool) -> int:
    """The help that a thought gets next time.

    A right answer with nearly all of it shown proves nothing, so it is not rated; but a little less is shown.
    """
    if rating:
        return next_help(help_, rating)
    return min(help_, MOST_HELP - 1) if right and exercise.help >= MOST_HELP else help_


def weakest_first(units: Sequence[Unit], memories: Mapping[int, Memory], at: datetime) -> list[int]:
    """The keys of the thoughts by their recall at the moment `at`, the lowest first."""
    return [u.key for u in sorted(units, key=lambda u: (recall_at(memories.get(u.key), at), u.n))]
