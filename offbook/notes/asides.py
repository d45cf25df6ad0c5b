"""Asides: what was heard beside the script and is no added word.

The score leaves every heard word that stands for no script word as an `Extra`. Somebody who follows in the
book tells at once which of these words were put into the speech and which were not: an "um", the same words
begun again, a wrong word corrected in the same breath, the title or a slate before the speech, "thank you"
after it, a call for the line and the prompt that answers it. Only the first kind are added words.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate, groupby

from rapidfuzz import fuzz
from rapidfuzz.distance import LCSseq

from offbook.align import FILLERS
from offbook.notes.kinds import Aside, AsideKind
from offbook.notes.quoting import SMALL, SpokenScript
from offbook.notes.restarts import Restart, find_restart
from offbook.score import SOMETHING_ELSE, Extra, Run
from offbook.script import Line, Script, word_set
from offbook.spelling import plain_spelling
from offbook.words import words_of

# Words that a speech may have; but where one stands alone between two silences, the recogniser writes it for
# an "um" or an "er".
_SOFT_FILLERS = word_set("ah oh eh ha am i'm 'em them hum mum a the her on")
_SOFT_SILENCE = 0.25  # s, before and after such a word; set by hand

# Words and phrases by which talk inside a speech is recognised: nobody adds them to a line by mistake.
_SORRY_WORDS = word_set("sorry oops whoops damn shit fuck")
_TALK_PHRASES = (
    "start again", "go again", "hang on", "hold on", "one more time", "start over", "from the top", "i mean",
    "what is it", "oh no", "no wait", "what comes next", "what's next", "what's the next", "i forgot",
    "i forget", "i've forgotten", "can't remember", "where was i", "let me start", "let me try",
    "from the beginning",
)  # fmt: skip
_CALLS = word_set("line lines prompt")  # what a performer says to be given the line
# Words that may come with such a call: "sorry, what's my line please".
_CALL_COMPANY = word_set("sorry please what what's is the my next yes i need um uh er oh can have a")
_READY_WORDS = word_set("okay ok ready action right yeah yes hello hi")
_SLATE_WORDS = word_set("name name's agency playing reading represented height audition years")
_HEADING_WORDS = word_set(
    "by from act scene the a an of number sonnet chapter part this is speech poem william called"
)

# Where nothing else is said, these are set by hand, on readings with talk before, after and inside them.
_CALL_SILENCE = 0.5  # s before and after "line" together, if it is a call and not a word of the speech
_TALK_SILENCE = 0.5  # s between two things that were said beside the speech
_NEAR_SPEECH = 0.4  # s: one or two words that are nearer than this to the speech belong to it
_MOST_ADDED = 2  # so many words at most belong to it
_MOST_WITH_SORRY = 4  # words, one of them a "sorry", that still are a correction and not talk
_MOST_WRONG_WORDS = 3  # words that are corrected at once
_OVERLAP_SECONDS = 0.05  # by which two words that follow each other may overlap
_FEWEST_LETTERS_BEGUN = 2  # of a word that was begun and broken off, and of what was left of it
# The title was said if its own words are at least the first share of what was said, and its words together
# with words such as "by", "from" and "act" the second.
_TITLE_SHARE, _TITLE_OR_HEADING_SHARE = 0.3, 0.6
_CUE_LINES_BEFORE = 3  # lines: where the performer drops some of them, several cues come together
_CUE_SHARE = 0.6  # so much of what was heard must be the cue's own words in order; the rest was half heard
# Or their letters must be so much like a part of the cues (per cent): the first number for a few words, the
# second for a longer cue; and so many words at least of either. Of 2,400 stretches freely heard one in 500
# missed its own text by this rule, and one in 200 was like another text of 30 words.
_LIKE_A_SHORT_CUE, _LIKE_A_CUE = 65, 60
_FEWEST_HALF_HEARD, _LONGER_CUE = 3, 5
# Of a prompt that was half heard: the fewest words that came through, and how many of its first words may
# have been taken for the performer's.
_FEWEST_PROMPT_WORDS, _MOST_WORDS_TAKEN = 3, 2
_PROMPT_SILENCE = 3.0  # s of silence before words that were said twice: somebody gave the line


# What others say before each line of the performer's, word by word, by the number of that line; None for what
# comes after the last line.
Cues = Mapping[int | None, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class ExtrasBetween:
    """Extras that were heard between two script words, with the silence on either side of them (seconds).

    place: the script word that follows them. before: the silence before them, infinite where nothing was
    heard before; after: the silence behind them, infinite where nothing was heard after. silences_before: the
    silence before each of the script words before the place, the nearest first, as many as there are extras.
    """

    place: int
    extras: tuple[Extra, ...]
    before: float
    after: float
    silences_before: tuple[float, ...] = ()

    @property
    def tokens(self) -> tuple[str, ...]:
        """What was heard, word by word."""
        return tuple(e.heard for e in self.extras)

    def silence(self, back: int) -> float:
        """The silence before the extras, or before the script word so many words before their place (s)."""
        if not back:
            return self.before
        return self.silences_before[back - 1] if back <= len(self.silences_before) else 0.0


def extras_between(run: Run) -> list[ExtrasBetween]:
    """The extras of `run` by their places, in order."""
    out: list[ExtrasBetween] = []
    ordered = sorted(run.extras, key=lambda e: (e.before_word, e.start))
    for place, group in groupby(ordered, key=lambda e: e.before_word):
        extras = _without_noises(group)
        if not extras:
            continue
        ended = [
            w.end
            for w in run.words[:place]
            if w.end is not None and w.end <= extras[0].start + _OVERLAP_SECONDS
        ]
        begun = [
            w.start
            for w in run.words[place:]
            if w.start is not None and w.start >= extras[-1].end - _OVERLAP_SECONDS
        ]
        before = extras[0].start - ended[-1] if ended else float("inf")
        after = begun[0] - extras[-1].end if begun else float("inf")
        out.append(ExtrasBetween(place, extras, before, after, _silences_before(run, place, len(extras))))
    return out


def _without_noises(group: Iterable[Extra]) -> tuple[Extra, ...]:
    """The extras of a place without noises, and without words heard a second time in the same sound."""
    kept: list[Extra] = []
    for e in group:
        overlap = kept[-1].end - e.start if kept else 0.0
        told = any(c.isalnum() for c in e.heard) or e.heard == SOMETHING_ELSE
        if told and e.heard != "[unk]" and overlap <= (e.end - e.start) / 2:
            kept.append(e)
    return tuple(kept)


def _silences_before(run: Run, place: int, count: int) -> tuple[float, ...]:
    """The silence before each of the last `count` script words before `place`, the nearest first (s)."""
    ends = [w.end if w.end is not None else 0.0 for w in run.words[:place]]
    ended = list(accumulate(ends, max, initial=0.0))  # ended[i]: when the words before word i had ended
    found: list[float] = []
    for i in range(place - 1, max(0, place - count) - 1, -1):
        start = run.words[i].start
        found.append(start - ended[i] if start is not None and ended[i] else 0.0)
    return tuple(found)


def sort_extras(page: SpokenScript, here: ExtrasBetween, cues: Cues) -> tuple[list[Aside], list[Extra]]:
    """The extras of one place, sorted: the asides among them, and the words that are really added."""
    fillers, rest = _fillers(here)
    asides = [_aside("filler", here.place, (e,)) for e in fillers]
    if not rest.extras:
        return asides, []
    if is_cue(page, rest.place, rest.tokens, cues):
        found, added = [_aside("cue", rest.place, rest.extras)], list[Extra]()
    elif rest.before == float("inf"):
        found, added = _before_the_speech(page, rest)
    elif rest.after == float("inf"):
        found, added = _after_the_speech(page, rest)
    else:
        aside = _within_the_speech(page, rest)
        found, added = ([aside], []) if aside is not None else ([], list(rest.extras))
    return sorted(asides + found, key=lambda a: a.start), added


def _aside(
    kind: AsideKind,
    place: int,
    extras: Sequence[Extra],
    words: tuple[int, int] | None = None,
    asked: bool = False,
) -> Aside:
    heard = " ".join(e.heard for e in extras)
    return Aside(kind, place, heard, extras[0].start, extras[-1].end, words, asked)


def _fillers(here: ExtrasBetween) -> tuple[list[Extra], ExtrasBetween]:
    """The fillers among the extras, and the extras without them. The time of fillers counts as silence."""
    extras = here.extras
    fillers: list[Extra] = []
    for k, e in enumerate(extras):
        before = e.start - extras[k - 1].end if k else here.before
        after = extras[k + 1].start - e.end if k + 1 < len(extras) else here.after
        alone = min(before, after) >= _SOFT_SILENCE
        if e.heard in FILLERS or (e.heard in _SOFT_FILLERS and alone):
            fillers.append(e)
    rest = tuple(e for e in extras if e not in fillers)
    if not rest:
        return fillers, replace(here, extras=())
    before = here.before + rest[0].start - extras[0].start
    after = here.after + extras[-1].end - rest[-1].end
    return fillers, replace(here, extras=rest, before=before, after=after)


def _within_the_speech(page: SpokenScript, s: ExtrasBetween) -> Aside | None:
    """What extras within the speech are; None where they are added words."""
    called = _call_for_line(page, s)
    if called is not None:
        return called
    again = find_restart(page, s.place, s.tokens)
    given = _prompt_said_twice(page, s) if again is not None else None
    given = given or _prompt_half_heard(page, s)
    if given is not None:
        return _aside("prompt", s.place, s.extras, given)
    if again is not None:
        return _aside("restart", s.place, s.extras, (again.first, again.last))
    if _is_correction(page, s.place, s.tokens):
        return _aside("correction", s.place, s.extras)
    if _is_cut_short(page, s):
        return _aside("cut short", s.place, s.extras, (s.place, s.place))
    if _is_talk(s.tokens):
        return _aside("talk", s.place, s.extras)
    return None


def _prompt_said_twice(page: SpokenScript, s: ExtrasBetween) -> tuple[int, int] | None:
    """The script words that were said twice in a row, the first time after a long silence: a prompt.

    The alignment chooses which of the two sayings is the script's and where it ends. So the repeated words
    may begin some words before the extras, or end some words behind them. None without such a prompt.
    """
    said, count, place = s.tokens, len(s.tokens), s.place
    for k in range(count + 1):
        silence = s.silence(k)
        right = k == count or page.is_roughly(place, said[: count - k])
        if silence >= _PROMPT_SILENCE and right and (not k or page.is_roughly(place - k, said[count - k :])):
            return place - k, place - k + count - 1
    for k in range(1, count):
        silence = s.extras[k].start - s.extras[k - 1].end
        window = [*said[k:], *page.forms[place : place + k]]
        if (
            silence >= _PROMPT_SILENCE
            and page.is_roughly(place, said[:k])
            and page.is_roughly(place + k, window)
        ):
            return place + k, place + k + count - 1
    return None


def _prompt_half_heard(page: SpokenScript, s: ExtrasBetween) -> tuple[int, int] | None:
    """The script words of a prompt that was heard only in part, because somebody farther away gave it.

    It comes after a long silence, and the performer says the same words right after it. At least three of
    its words came through in their order, and more than half of all that there were. Its first words may have
    been taken for the performer's. None without such a prompt.
    """
    for k in range(_MOST_WORDS_TAKEN + 1):
        if s.silence(k) < _PROMPT_SILENCE:
            continue
        if not k or page.is_word_for_word(s.place - k, s.tokens[-k:]):
            said = [*page.forms[s.place - k : s.place], *s.tokens[: len(s.tokens) - k]]
            line = page.forms[s.place - k : s.place - k + len(said)]
            lost = {e.src_pos for e in LCSseq.editops(line, said) if e.tag == "delete"}
            kept = [n for n in range(len(line)) if n not in lost]
            if len(kept) >= _FEWEST_PROMPT_WORDS and 2 * len(kept) > kept[-1]:
                return s.place - k, s.place - k + kept[-1]
    return None


def _call_for_line(page: SpokenScript, s: ExtrasBetween) -> Aside | None:
    """A call for the line, together with the prompt that was given after it, if there was one."""
    tokens = s.tokens
    for k, token in enumerate(tokens):
        if token not in _CALLS or _belongs_to_script(page, s.place, tokens[: k + 1]):
            continue
        before = s.extras[k].start - s.extras[k - 1].end if k else s.before
        after = s.extras[k + 1].start - s.extras[k].end if k + 1 < len(tokens) else s.after
        led = bool(tokens[:k]) and all(t in _CALL_COMPANY for t in tokens[:k])
        if before + after < _CALL_SILENCE and not led:
            continue
        # What comes before the call may be the script itself, where its words occur a second time.
        place, first = (s.place + k, k) if k and page.is_word_for_word(s.place, tokens[:k]) else (s.place, 0)
        read = tokens[k + 1 :]
        while (
            read
            and (read[0] in _CALL_COMPANY or read[0] in _CALLS)
            and not page.is_word_for_word(place, read[:1])
        ):
            read = read[1:]
        again = find_restart(page, place, read) if read else None
        words = (again.first, again.last) if again is not None else (place, place)
        return _aside("prompt", place, s.extras[first:], words, asked=True)
    return None


def _belongs_to_script(page: SpokenScript, place: int, said: Sequence[str]) -> bool:
    """Whether the last word said is the script's own, alone at the place or led up to by the others."""
    return page.is_word_for_word(place, said[-1:]) or page.is_word_for_word(place, said)


def _is_correction(page: SpokenScript, place: int, tokens: Sequence[str]) -> bool:
    """Whether a wrong word was corrected: words that are not the script's, next to some that were said again.

    If somebody says "from fairest animals, from fairest creatures", the extras are either "animals from
    fairest", before "creatures", or "from fairest animals", before "from". But where only a single small word
    inside a phrase was said again, several other words are an addition ("in the middle of the second act").
    """
    for strangers in range(1, min(_MOST_WRONG_WORDS, len(tokens) - 1) + 1):
        again = len(tokens) - strangers
        for place_again, said_again in ((place - again, tokens[strangers:]), (place, tokens[:again])):
            weak = (
                strangers > 1
                and again == 1
                and said_again[0] in SMALL
                and not page.begins_a_phrase(place_again)
            )
            if not weak and page.is_roughly(place_again, said_again):
                return True
    return any(t in _SORRY_WORDS for t in tokens) and len(tokens) <= _MOST_WITH_SORRY


def _is_cut_short(page: SpokenScript, s: ExtrasBetween) -> bool:
    """Whether a word was begun, broken off and begun again: "re-, remembering"."""
    if len(s.extras) != 1 or s.place >= len(page):
        return False
    heard, form = s.extras[0].heard, page.forms[s.place]
    return (
        heard not in SMALL
        and len(heard) >= _FEWEST_LETTERS_BEGUN
        and form.startswith(heard)
        and len(form) >= len(heard) + 2
    )


def _is_talk(tokens: Sequence[str]) -> bool:
    if any(t in _SORRY_WORDS for t in tokens):
        return True
    said = f" {' '.join(tokens)} "
    return any(f" {phrase} " in said for phrase in _TALK_PHRASES)


def _parted_by_silence(extras: Sequence[Extra]) -> list[tuple[Extra, ...]]:
    """The extras in groups, parted where nobody spoke for a while."""
    out: list[list[Extra]] = []
    for e in extras:
        if out and e.start - out[-1][-1].end < _TALK_SILENCE:
            out[-1].append(e)
        else:
            out.append([e])
    return [tuple(each) for each in out]


def _before_the_speech(page: SpokenScript, s: ExtrasBetween) -> tuple[list[Aside], list[Extra]]:
    """What comes before the first script word heard: a title, a slate, talk, false starts, added words."""
    called = _call_for_line(page, s)
    if called is not None and called.before_word > s.place:
        return [called], []  # the words before the call are the script's first ones, said again after it
    named, asides = title_words(page.script), list[Aside]()
    segments = _parted_by_silence(s.extras)
    reached = s.place  # the script word that a false start has come to
    for k, each in enumerate(segments):
        tokens = tuple(e.heard for e in each)
        on = find_restart(page, reached, tokens) if reached > s.place else None
        if on is not None and on.first <= reached < on.last:
            _continue_false_start(asides, s.place, each, on)
            reached = on.last + 1
            continue
        again = find_restart(page, s.place, tokens)
        close = k == len(segments) - 1 and len(each) <= _MOST_ADDED and s.after < _NEAR_SPEECH
        if again is not None and not again.ahead:
            asides.append(_aside("restart", s.place, each, (again.first, again.last)))
            reached = again.last + 1
        elif _is_title(tokens, named):
            asides.append(_aside("title", s.place, each))
        elif close and tokens[0] not in _READY_WORDS:
            return asides, list(each)
        else:
            asides.append(_aside("slate" if _is_slate(tokens) else "before", s.place, each))
    return asides, []


def _continue_false_start(asides: list[Aside], place: int, extras: Sequence[Extra], on: Restart) -> None:
    """Add a false start to the asides that goes on where the one before it broke off."""
    words = asides[-1].words
    if words is not None:
        asides[-1] = _extended(asides[-1], words, extras, on.last)
    else:  # there was talk in the meantime, or the title once more
        asides.append(_aside("restart", place, extras, (on.first, on.last)))


def _is_title(tokens: Sequence[str], named: frozenset[str]) -> bool:
    """Whether these words are the title, said before the speech. named: the words of the title."""
    share = sum(t in named for t in tokens) / len(tokens)
    share_loose = sum(t in named or t in _HEADING_WORDS for t in tokens) / len(tokens)
    return share >= _TITLE_SHARE and share_loose >= _TITLE_OR_HEADING_SHARE


def _is_slate(tokens: Sequence[str]) -> bool:
    """Whether these words say who is about to speak: "I'm Anna Hale"."""
    return bool(_SLATE_WORDS & set(tokens)) or tokens[:1] == ("i'm",) or tokens[:2] == ("i", "am")


def _extended(aside: Aside, words: tuple[int, int], extras: Sequence[Extra], last: int) -> Aside:
    """A restart that goes on after a pause with `extras`, up to script word `last`.

    words: the first and last script word that it has repeated so far.
    """
    heard = " ".join((aside.heard, *(e.heard for e in extras)))
    return replace(aside, heard=heard, end=extras[-1].end, words=(words[0], max(words[1], last)))


def _after_the_speech(page: SpokenScript, s: ExtrasBetween) -> tuple[list[Aside], list[Extra]]:
    """What comes behind the last script word heard: a call for the line, a repeat, talk, added words."""
    called = _call_for_line(page, s)
    if called is not None and s.place < len(page):
        return [called], []
    again = find_restart(page, s.place, s.tokens)
    if again is not None:
        return [_aside("restart", s.place, s.extras, (again.first, again.last))], []
    first, *others = _parted_by_silence(s.extras)
    if len(first) <= _MOST_ADDED and s.before < _NEAR_SPEECH:
        return [_aside("after", s.place, each) for each in others], list(first)
    return [_aside("after", s.place, each) for each in (first, *others)], []


def title_words(script: Script) -> frozenset[str]:
    """All words, as they are spoken, of the title and of what stands before the first spoken line."""
    start = script.lines[0].start
    texts = [script.title.replace("_", " "), *(x.text for x in script.left_out if x.end <= start)]
    text = " \n".join(plain_spelling(t) for t in texts if any(c.isalnum() for c in t))
    if not text:
        return frozenset()
    return frozenset(token for way in _spoken_forms_of(text) for token in way)


def _spoken_forms_of(text: str) -> list[tuple[str, ...]]:
    """The ways to say the words of a text that is not part of the speech, all of them in one list."""
    apart = Script("", "", text, "prose", (Line(1, 0, len(text), text, 1),))
    return [way for w in words_of(apart) for way in w.spoken]


def cue_words(script: Script) -> Cues:
    """What others say before each line of the performer's, by the number of that line.

    What they say after the last line is under None. Empty where nobody else speaks.
    """
    found: dict[int | None, tuple[str, ...]] = {}
    for cue in script.cues:
        if any(c.isalnum() for c in cue.text):
            said = tuple(token for way in _spoken_forms_of(cue.text) for token in way)
            found[cue.before_line] = found.get(cue.before_line, ()) + said
    return found


def is_cue(page: SpokenScript, place: int, tokens: Sequence[str], cues: Cues) -> bool:
    """Whether somebody else's line was said at this place, as when a reader gives the performer the cues.

    place: the script word that follows; tokens: what was heard.
    """
    if not cues:
        return False
    here = page.line_of(place)
    last = page.words[-1].line
    near = [n for n in range(here - _CUE_LINES_BEFORE, here + 2) if n in cues]
    said = [token for n in near for token in cues[n]]
    said += cues.get(None, ()) if here >= last - 1 else ()
    agreed = LCSseq.similarity(list(tokens), said)
    if agreed >= _CUE_SHARE * len(tokens) and (agreed > 1 or list(tokens) == said):
        return True
    heard, printed = "".join(tokens), "".join(said)
    if len(tokens) < _FEWEST_HALF_HEARD or len(heard) > len(printed):
        return False
    like = fuzz.partial_ratio(heard, printed)
    return like >= (_LIKE_A_CUE if len(tokens) >= _LONGER_CUE else _LIKE_A_SHORT_CUE)
