"""Asides: what was heard beside the script without being an added word.

The score leaves every heard word that stands for no script word as an `Extra`. A friend on book tells
at once which of them are words put into the speech and which are not: an "um", a second run at the
same words, a wrong word corrected in the same breath, the title or a slate before the speech, "thank
you" after it, a call for the line and the prompt that answers it. Only the first kind is added.
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
from offbook.notes.retrace import Retrace, retrace
from offbook.score import SOMETHING_ELSE, Extra, Run
from offbook.script import Line, Script, word_set
from offbook.spelling import plain_spelling
from offbook.words import words_of

# These are words of a speech, but alone between two silences the recogniser writes them for "um" or "er".
_SOFT_FILLERS = word_set("ah oh eh ha am i'm 'em them hum mum a the her on")
_SOFT_SILENCE = 0.25  # s, before and after them; set by hand

# By these words talk inside a speech is recognised: nobody adds them to a line by mistake.
_SORRY = word_set("sorry oops whoops damn shit fuck")
_AGAIN = (
    "start again", "go again", "hang on", "hold on", "one more time", "start over", "from the top", "i mean",
    "what is it", "oh no", "no wait", "what comes next", "what's next", "what's the next", "i forgot",
    "i forget", "i've forgotten", "can't remember", "where was i", "let me start", "let me try",
    "from the beginning",
)  # fmt: skip
_ASKED = word_set("line lines prompt")
_ASKING = word_set("sorry please what what's is the my next yes i need um uh er oh can have a")
_READY = word_set("okay ok ready action right yeah yes hello hi")
_SLATE = word_set("name name's agency playing reading represented height audition years")
_HEADING = word_set(
    "by from act scene the a an of number sonnet chapter part this is speech poem william called"
)

_ALONE = 0.5  # s of silence before and after "line", if it is a call and not a word of the speech
_APART = 0.5  # s of silence between talk and the speech
_CLOSE = 0.4  # s: one or two words nearer than this to the speech belong to it
# Set by hand, on readings with talk before, after and inside them:
_SHORT_SORRY = 4  # words at most, a "sorry" among them, that correct a wrong word
_WRONG_WORDS = 3  # at most that are corrected at once
_OVERLAP = 0.05  # s by which two words that follow each other may overlap
_LEAST_BEGUN = 2  # letters of a word begun and interrupted
_FEW_ADDED = 2  # words beside the speech that are part of it
_OF_TITLE, _OF_TITLE_LOOSELY = 0.3, 0.6  # share of the title's own words, and with by, from, act and the like
_CUES_AROUND = 3  # lines: where the performer drops some, several cues come together
_CUE_SHARE = 0.6  # of what was heard must be the cue's own words in order; the rest was half heard
# Or, of three words and more, their letters are so like some stretch of the cues (per cent). Of 2,400
# stretches freely heard one in 500 missed its own text so, and one in 200 was like another text of 30 words.
_LEAST_HALF_HEARD, _SURE_WORDS = 3, 5
_LIKE_A_SHORT_CUE, _LIKE_A_CUE = 65, 60
# Of a prompt that was half heard: the fewest words that came through, and how many of its first ones may have
# been taken for the script's.
_CAME_THROUGH, _TAKEN = 3, 2
_DRY_BEFORE_PROMPT = 3.0  # s of silence before words said twice: somebody gave the line


Cues = Mapping[int | None, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class ExtrasBetween:
    """Extras heard between two script words, with the silence on either side of them (seconds).

    leads: the silence before each of the script words before the place, the nearest first, as many as
    there are extras.
    """

    place: int
    extras: tuple[Extra, ...]
    before: float
    after: float
    leads: tuple[float, ...] = ()

    @property
    def tokens(self) -> tuple[str, ...]:
        """What was heard, word by word."""
        return tuple(e.heard for e in self.extras)

    def silence(self, back: int) -> float:
        """The silence before the stretch, or before the script word so many words before its place."""
        if not back:
            return self.before
        return self.leads[back - 1] if back <= len(self.leads) else 0.0


def extras_between(run: Run) -> list[ExtrasBetween]:
    """The extras of `run` by place, in order. The silence before the first word heard is infinite."""
    out: list[ExtrasBetween] = []
    ordered = sorted(run.extras, key=lambda e: (e.before_word, e.start))
    for place, group in groupby(ordered, key=lambda e: e.before_word):
        extras = _one_at_a_time(group)
        if not extras:
            continue
        ended = [
            w.end for w in run.words[:place] if w.end is not None and w.end <= extras[0].start + _OVERLAP
        ]
        begun = [
            w.start for w in run.words[place:] if w.start is not None and w.start >= extras[-1].end - _OVERLAP
        ]
        before = extras[0].start - ended[-1] if ended else float("inf")
        after = begun[0] - extras[-1].end if begun else float("inf")
        out.append(ExtrasBetween(place, extras, before, after, _leads(run, place, len(extras))))
    return out


def _one_at_a_time(group: Iterable[Extra]) -> tuple[Extra, ...]:
    """The words of a stretch without noises, and without what was heard a second time in the same sound."""
    kept: list[Extra] = []
    for e in group:
        overlap = kept[-1].end - e.start if kept else 0.0
        told = any(c.isalnum() for c in e.heard) or e.heard == SOMETHING_ELSE
        if told and e.heard != "[unk]" and overlap <= (e.end - e.start) / 2:
            kept.append(e)
    return tuple(kept)


def _leads(run: Run, place: int, count: int) -> tuple[float, ...]:
    """The silences before so many script words before `place`, the nearest first (seconds)."""
    ends = [w.end if w.end is not None else 0.0 for w in run.words[:place]]
    ended = list(accumulate(ends, max, initial=0.0))  # ended[i]: when the words before word i had ended
    found: list[float] = []
    for i in range(place - 1, max(0, place - count) - 1, -1):
        start = run.words[i].start
        found.append(start - ended[i] if start is not None and ended[i] else 0.0)
    return tuple(found)


def sort_stretch(page: SpokenScript, stretch: ExtrasBetween, cues: Cues) -> tuple[list[Aside], list[Extra]]:
    """One stretch of extras, told apart: the asides in it, and the words that are truly added."""
    fillers, rest = _fillers(stretch)
    asides = [_aside("filler", stretch.place, (e,)) for e in fillers]
    if not rest.extras:
        return asides, []
    if is_cue(page, rest.place, rest.tokens, cues):
        found, added = [_aside("cue", rest.place, rest.extras)], list[Extra]()
    elif rest.before == float("inf"):
        found, added = _opening(page, rest)
    elif rest.after == float("inf"):
        found, added = _closing(page, rest)
    else:
        aside = _inside(page, rest)
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


def _fillers(stretch: ExtrasBetween) -> tuple[list[Extra], ExtrasBetween]:
    """The fillers of a stretch, and the stretch without them; their time counts as silence."""
    extras = stretch.extras
    fillers: list[Extra] = []
    for k, e in enumerate(extras):
        before = e.start - extras[k - 1].end if k else stretch.before
        after = extras[k + 1].start - e.end if k + 1 < len(extras) else stretch.after
        alone = min(before, after) >= _SOFT_SILENCE
        if e.heard in FILLERS or (e.heard in _SOFT_FILLERS and alone):
            fillers.append(e)
    rest = tuple(e for e in extras if e not in fillers)
    if not rest:
        return fillers, replace(stretch, extras=())
    before = stretch.before + rest[0].start - extras[0].start
    after = stretch.after + extras[-1].end - rest[-1].end
    return fillers, replace(stretch, extras=rest, before=before, after=after)


def _inside(page: SpokenScript, s: ExtrasBetween) -> Aside | None:
    """What a stretch within the speech is, None where its words are simply added."""
    called = _call_for_line(page, s)
    if called is not None:
        return called
    again = retrace(page, s.place, s.tokens)
    if again is not None:
        given = _given(page, s)
        if given is not None:
            return _aside("prompt", s.place, s.extras, given)
        return _aside("restart", s.place, s.extras, (again.first, again.last))
    half_heard = _half_heard(page, s)
    if half_heard is not None:
        return _aside("prompt", s.place, s.extras, half_heard)
    if _corrected(page, s.place, s.tokens):
        return _aside("correction", s.place, s.extras)
    if _cut_short(page, s):
        return _aside("cut short", s.place, s.extras, (s.place, s.place))
    if _is_talk(s.tokens):
        return _aside("talk", s.place, s.extras)
    return None


def _given(page: SpokenScript, s: ExtrasBetween) -> tuple[int, int] | None:
    """The script words that were said twice running, the first time after a long silence: a prompt.

    Which of the two sayings is the script's and which is beside it, and where the one ends, is the
    aligner's choice: the repeated words may reach some way to the left of the extras or to the right.
    """
    said, count, place = s.tokens, len(s.tokens), s.place
    for k in range(count + 1):
        silence = s.silence(k)
        right = k == count or page.about(place, said[: count - k])
        if silence >= _DRY_BEFORE_PROMPT and right and (not k or page.about(place - k, said[count - k :])):
            return place - k, place - k + count - 1
    for k in range(1, count):
        silence = s.extras[k].start - s.extras[k - 1].end
        window = [*said[k:], *page.forms[place : place + k]]
        if silence >= _DRY_BEFORE_PROMPT and page.about(place, said[:k]) and page.about(place + k, window):
            return place + k, place + k + count - 1
    return None


def _half_heard(page: SpokenScript, s: ExtrasBetween) -> tuple[int, int] | None:
    """The script words of a prompt heard in part: somebody farther off said the line after a long silence.

    The performer says it right after. At least three words of it came through in their order, and half of
    all there were. Its first words may have been taken for the script's.
    """
    for k in range(_TAKEN + 1):
        if s.silence(k) < _DRY_BEFORE_PROMPT:
            continue
        if not k or page.same(s.place - k, s.tokens[-k:]):
            said = [*page.forms[s.place - k : s.place], *s.tokens[: len(s.tokens) - k]]
            line = page.forms[s.place - k : s.place - k + len(said)]
            lost = {e.src_pos for e in LCSseq.editops(line, said) if e.tag == "delete"}
            kept = [n for n in range(len(line)) if n not in lost]
            if len(kept) >= _CAME_THROUGH and 2 * len(kept) > kept[-1]:
                return s.place - k, s.place - k + kept[-1]
    return None


def _call_for_line(page: SpokenScript, s: ExtrasBetween) -> Aside | None:
    """A call for the line, with the prompt that was read out after it, if any."""
    tokens = s.tokens
    for k, token in enumerate(tokens):
        if token not in _ASKED or page.same(s.place, (token,)):
            continue
        before = s.extras[k].start - s.extras[k - 1].end if k else s.before
        after = s.extras[k + 1].start - s.extras[k].end if k + 1 < len(tokens) else s.after
        led = bool(tokens[:k]) and all(t in _ASKING for t in tokens[:k])
        if before + after < _ALONE and not led:
            continue
        # what came before the call may be the script again, where its words recur
        place, first = (s.place + k, k) if k and page.same(s.place, tokens[:k]) else (s.place, 0)
        read = tokens[k + 1 :]
        while read and (read[0] in _ASKING or read[0] in _ASKED) and not page.same(place, read[:1]):
            read = read[1:]
        again = retrace(page, place, read) if read else None
        words = (again.first, again.last) if again is not None else (place, place)
        return _aside("prompt", place, s.extras[first:], words, asked=True)
    return None


def _corrected(page: SpokenScript, place: int, tokens: Sequence[str]) -> bool:
    """Whether a wrong word was corrected: words that are not in the script, beside some that were said again.

    Said: from fairest animals, from fairest creatures. Heard beside the script is either "animals
    from fairest", before "creatures", or "from fairest animals", before "from". Where one small word inside
    a phrase is all that comes again, several strangers are put in: in the middle of the second act.
    """
    for strangers in range(1, min(_WRONG_WORDS, len(tokens) - 1) + 1):
        again = len(tokens) - strangers
        for place_again, said_again in ((place - again, tokens[strangers:]), (place, tokens[:again])):
            weak = strangers > 1 and again == 1 and said_again[0] in SMALL and not page.opens(place_again)
            if not weak and page.about(place_again, said_again):
                return True
    return any(t in _SORRY for t in tokens) and len(tokens) <= _SHORT_SORRY


def _cut_short(page: SpokenScript, s: ExtrasBetween) -> bool:
    """A word begun, interrupted and begun again: "re-, remembering"."""
    if len(s.extras) != 1 or s.place >= len(page):
        return False
    heard, form = s.extras[0].heard, page.forms[s.place]
    return (
        heard not in SMALL
        and len(heard) >= _LEAST_BEGUN
        and form.startswith(heard)
        and len(form) >= len(heard) + 2
    )


def _is_talk(tokens: Sequence[str]) -> bool:
    if any(t in _SORRY for t in tokens):
        return True
    said = f" {' '.join(tokens)} "
    return any(f" {phrase} " in said for phrase in _AGAIN)


def _segments(extras: Sequence[Extra]) -> list[tuple[Extra, ...]]:
    """Extras parted where nobody spoke for a while."""
    out: list[list[Extra]] = []
    for e in extras:
        if out and e.start - out[-1][-1].end < _APART:
            out[-1].append(e)
        else:
            out.append([e])
    return [tuple(each) for each in out]


def _opening(page: SpokenScript, s: ExtrasBetween) -> tuple[list[Aside], list[Extra]]:
    """What comes before the first word heard: title, slate, talk, false starts, perhaps a word added."""
    called = _call_for_line(page, s)
    if called is not None and called.before_word > s.place:
        return [called], []  # the first words had been said before the call, and were said again after it
    named, asides = title_words(page.script), list[Aside]()
    segments = _segments(s.extras)
    reached = s.place  # how far a false start has come
    for k, each in enumerate(segments):
        tokens = tuple(e.heard for e in each)
        on = retrace(page, reached, tokens) if reached > s.place else None
        if on is not None and on.first <= reached < on.last:
            _go_on(asides, s.place, each, on)
            reached = on.last + 1
            continue
        again = retrace(page, s.place, tokens)
        close = k == len(segments) - 1 and len(each) <= _FEW_ADDED and s.after < _CLOSE
        if again is not None and not again.ahead:
            asides.append(_aside("restart", s.place, each, (again.first, again.last)))
            reached = again.last + 1
        elif _is_title(tokens, named):
            asides.append(_aside("title", s.place, each))
        elif close and tokens[0] not in _READY:
            return asides, list(each)
        else:
            asides.append(_aside("slate" if _is_slate(tokens) else "before", s.place, each))
    return asides, []


def _go_on(asides: list[Aside], place: int, extras: Sequence[Extra], on: Retrace) -> None:
    """Add to the asides a false start that goes on where the one before broke off."""
    words = asides[-1].words
    if words is not None:
        asides[-1] = _longer(asides[-1], words, extras, on.last)
    else:  # after talk, or the title said once more
        asides.append(_aside("restart", place, extras, (on.first, on.last)))


def _is_title(tokens: Sequence[str], named: frozenset[str]) -> bool:
    """Whether words are the title said before the speech. named: the words of the title."""
    share = sum(t in named for t in tokens) / len(tokens)
    share_loose = sum(t in named or t in _HEADING for t in tokens) / len(tokens)
    return share >= _OF_TITLE and share_loose >= _OF_TITLE_LOOSELY


def _is_slate(tokens: Sequence[str]) -> bool:
    """Whether words say who is about to speak: "I'm Anna Hale"."""
    return bool(_SLATE & set(tokens)) or tokens[:1] == ("i'm",) or tokens[:2] == ("i", "am")


def _longer(aside: Aside, words: tuple[int, int], extras: Sequence[Extra], last: int) -> Aside:
    """A restart of these script words that goes on after a pause, up to script word `last`."""
    heard = " ".join((aside.heard, *(e.heard for e in extras)))
    return replace(aside, heard=heard, end=extras[-1].end, words=(words[0], max(words[1], last)))


def _closing(page: SpokenScript, s: ExtrasBetween) -> tuple[list[Aside], list[Extra]]:
    """What comes after the last word heard: a last call for the line, a repeat, talk, a word added."""
    called = _call_for_line(page, s)
    if called is not None and s.place < len(page):
        return [called], []
    again = retrace(page, s.place, s.tokens)
    if again is not None:
        return [_aside("restart", s.place, s.extras, (again.first, again.last))], []
    first, *others = _segments(s.extras)
    if len(first) <= _FEW_ADDED and s.before < _CLOSE:
        return [_aside("after", s.place, each) for each in others], list(first)
    return [_aside("after", s.place, each) for each in (first, *others)], []


def title_words(script: Script) -> frozenset[str]:
    """Every word, as spoken, of the title and of what is unspoken before the first line."""
    start = script.lines[0].start
    texts = [script.title.replace("_", " "), *(x.text for x in script.left_out if x.end <= start)]
    text = " \n".join(plain_spelling(t) for t in texts if any(c.isalnum() for c in t))
    if not text:
        return frozenset()
    return frozenset(token for way in _ways(text) for token in way)


def _ways(text: str) -> list[tuple[str, ...]]:
    """Every way to say each word of a text that is no part of the speech, one after the other."""
    apart = Script("", "", text, "prose", (Line(1, 0, len(text), text, 1),))
    return [way for w in words_of(apart) for way in w.spoken]


def cue_words(script: Script) -> Cues:
    """What others say before each line of the performer's, by that line; after the last one, by None."""
    found: dict[int | None, tuple[str, ...]] = {}
    for cue in script.cues:
        if any(c.isalnum() for c in cue.text):
            said = tuple(token for way in _ways(cue.text) for token in way)
            found[cue.before_line] = found.get(cue.before_line, ()) + said
    return found


def is_cue(page: SpokenScript, place: int, tokens: Sequence[str], cues: Cues) -> bool:
    """Whether somebody else's line was said here: the reader of a scene gives the performer the cues."""
    if not cues:
        return False
    here = page.line_of(place)
    last = page.words[-1].line
    near = [n for n in range(here - _CUES_AROUND, here + 2) if n in cues]
    said = [token for n in near for token in cues[n]]
    said += cues.get(None, ()) if here >= last - 1 else ()
    agreed = LCSseq.similarity(list(tokens), said)
    if agreed >= _CUE_SHARE * len(tokens) and (agreed > 1 or list(tokens) == said):
        return True
    heard, printed = "".join(tokens), "".join(said)
    if len(tokens) < _LEAST_HALF_HEARD or len(heard) > len(printed):
        return False
    like = fuzz.partial_ratio(heard, printed)
    return like >= (_LIKE_A_CUE if len(tokens) >= _SURE_WORDS else _LIKE_A_SHORT_CUE)
