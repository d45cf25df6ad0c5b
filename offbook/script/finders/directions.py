"""Stage directions: what is in brackets or italics and is done, not said.

Square brackets always hold directions. Round brackets hold directions in a play and spoken asides in a speech
or a poem, and even plays have spoken words in them ("For I (that am not shaped for sportive tricks)"). So the
words inside decide: "(pause)", "(to Ben)", "(crossing)", "(She rises.)" are directions, "(for so they said)"
is spoken. If they do not decide, they are kept as spoken.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from offbook.script.sheet import Row, Sheet, paragraphs, word_set
from offbook.spelling import plain_spelling, straight

DIRECTION = "stage direction"

# All the numbers of this module were set by hand, on plays and speeches as people copy them (bench/copied.py)
# and on the texts of the tests. They are the most words of a direction, if nothing else is said.
_FEW_WORDS = 4  # of one that is recognised by its first word: "(pauses a moment)"
_MOST_OF_AN_ACT = 40  # of what somebody does: "(She crosses to the window, ...)"
_MOST_IN_A_PLAY = 30  # of any other in a play
_MOST_TO_SOMEBODY = 8  # "(to the young man by the door)"
_MOST_BY_ITSELF = 6  # in brackets on a line of its own, or at the beginning of a paragraph
_MOST_WITHIN = 3  # in brackets inside a spoken line
_MOST_BETWEEN = 12  # between two sentences of a single speech
_LEAST_NOTE = 4  # the fewest words of a note about the scene; with fewer it may be part of the speech
_VERB_WITHIN = 3  # words after the first, among which a verb is looked for
_SHORTEST_ENDED = 4  # a word in -ly or -ing has more letters: unlike "only", "fly", "ring", "king"
_VERSE_LINE = 60  # characters: a line of verse is shorter
_MOST_ITALIC_PLAY, _MOST_ITALIC = 0.6, 0.4  # of the letters: with more in italics, the italics mean nothing

# First words of directions that hardly ever begin a short spoken aside.
_SURE = word_set(
    """
    pause pauses paused beat silence aside enter enters exit exits exeunt reenter lights blackout curtain
    laughs laughing laughter applause cheers cheering chuckles sighs sighing sobs sobbing cries weeps
    weeping coughs inaudible crosstalk offstage offscreen contd sfx music whispers whispering shouts
    shouting kneels rises sits stands crosses gasps sniffs shrugs nods hums sings reads winks yawns
    """
)
_LIKELY = word_set(
    """
    off continuing continued knocking knock thunder flourish alarum trumpets trumpet drums fanfare sound
    phone telephone doorbell voiceover turns looks takes picks puts gives draws dies kisses stabs fights
    they opens closes throws holds hands walks runs goes moves points waits stops starts begins hesitates
    smiles smile grins frowns stares listens imitates mimics mocks shakes wipes drinks eats pours lights
    quoting sarcastic angry sad quiet loud softer louder upset tearful breathless deadpan dry playful re
    simultaneous overlapping together then slow fast quick reading singing more cont'd v.o vo o.s os o.c
    silent lying tender flat brisk urgent panicked confused amused relieved embarrassed suspicious
    """
)
# Those of the words above that say how something is said, and not what is done.
_MANNER = word_set(
    """
    sarcastic angry sad quiet loud softer louder upset tearful breathless deadpan dry playful fast quick slow
    tender flat brisk urgent panicked confused amused relieved embarrassed suspicious aside
    """
)
_MANNER_PHRASE = re.compile(
    r"with (?:a|an|some|great|mock) |in (?:a|an) .*(?:whisper|voice|tone)\b|under (?:his|her|their) breath\b"
    r"|through (?:tears|gritted)\b|half to\b"
)
_HOW = re.compile(
    r"(?:with (?:a|an|some|great|his|her|their|mock)\b|in (?:a|an|his|her|the|french|german)\b"
    r"|under (?:his|her|their|the)\b|through (?:tears|gritted|his|her)|at (?:him|her|them|the)\b"
    r"|from (?:off|the|behind)\b|on (?:the|his|her) (?:phone|knees|floor|chair|bed|table|telephone)"
    r"|(?:a |the )?(?:long|short|brief|tiny|slight|small|awkward|another)? ?(?:pause|beat|silence)\b"
    r"|as (?:if|though|he|she|they)\b|half to\b|more to\b|almost\b|still \w+ing\b|not \w+ing\b)"
)
# Words in -ly and -ing that begin spoken asides as often as directions.
_SPOKEN_LY = word_set(
    """
    only really surely hardly nearly certainly possibly probably finally frankly hopefully obviously
    particularly especially mainly mostly partly apparently naturally usually fortunately unfortunately
    sadly luckily early family actually basically merely namely likely holy ugly july reply supply daily
    """
)
_SPOKEN_ING = word_set(
    """
    nothing something anything everything king ring thing spring string being having including according
    during considering regarding concerning assuming excepting barring bring sing wing morning evening
    darling notwithstanding speaking counting meaning allowing knowing owing
    """
)
PEOPLE = word_set("he she they")
_NOT_ACTS = word_set(
    "is was has does says knows thinks seems wants needs likes loves means as his this us yes always perhaps"
)
# What people do on a stage: in a single speech "(She works nights.)" is spoken, "(She turns away.)" is not.
_DOES = word_set(
    """
    turns looks takes picks puts gives draws dies kisses stabs opens closes throws holds hands walks goes
    moves points waits stops starts begins hesitates smiles grins frowns stares listens imitates mimics mocks
    shakes wipes pours lights pauses enters exits laughs chuckles sighs sobs cries weeps coughs kneels rises
    sits stands crosses gasps sniffs shrugs nods hums sings reads winks yawns whispers shouts leaves sinks
    steps leans lifts folds unfolds sets drops falls jumps climbs hides pulls pushes touches rubs claps
    dances bows spits breathes strokes dials hangs gestures indicates mimes freezes crumples recovers rings
    """
)
# First words of an aside that is spoken, whatever stop it ends with.
_SPOKEN_FIRST = word_set(
    """
    and or but though although as which who whom whose because if unless not nor so for that what why how
    when where while yes no oh well perhaps maybe even then at is was are were the this these those
    there it he she they his her their god thank please
    """
)
_FROM_ONE_TO_ANOTHER = word_set(
    "i me my mine myself we us our ours you your yours i'm i've i'd i'll we're you're"
)
_TO = re.compile(r"to (?:him|her|them|himself|herself|themselves|all|us|the|[A-Z])")
WORDS = re.compile(r"[^\W\d_]+(?:['’.][^\W\d_]+)*")
_BRACKETS = {"(": ")", "[": "]", "{": "}", "<": ">"}
# What a direction between < and > looks like: a few words, without blanks at the ends.
_ANGLED = re.compile(r"[^\W\d_](?:[\w ,.'’–-]{0,60}[\w.])?")


def _folded(text: str) -> list[str]:
    """The words of a text in small letters, apostrophes straight."""
    return [plain_spelling(w) for w in WORDS.findall(text)]


def looks_like_direction(inside: str, names: Iterable[str], play: bool) -> bool:
    """Whether a text in round brackets or italics is a direction rather than spoken.

    names: the speakers. play: whether the script is a play with speakers, in which less proof is needed.
    """
    words = [straight(w) for w in WORDS.findall(inside)]
    if not words:
        return False
    first = words[0].lower()
    if first in _SURE and (play or len(words) <= _FEW_WORDS):
        return True
    acts = second_word_acts(words)
    staged = play or (inside[:1].isupper() and len(words) > 1 and words[1].lower() in _DOES)
    if first in PEOPLE and acts and staged and len(words) <= _MOST_OF_AN_ACT:
        return True
    if not play:
        return _JUST_A_PAUSE.fullmatch(inside.lower().strip(" .")) is not None
    if len(words) > _MOST_IN_A_PLAY:
        return False
    return (acts and _names_the_actor(words[0], names)) or _says_how(inside, words)


_JUST_A_PAUSE = re.compile(r"(?:a |the )?(?:long |short |brief )?(?:pause|beat|silence)")


def second_word_acts(words: Sequence[str]) -> bool:
    """Whether the second word could be a verb of the third person: "ANNA crosses", not "this is"."""
    return len(words) > 1 and words[1].lower().endswith("s") and words[1].lower() not in _NOT_ACTS


def _names_the_actor(word: str, names: Iterable[str]) -> bool:
    """Whether a word is a speaker's name, or set in capitals as a name is."""
    return (word.isupper() and len(word) > 1) or word.lower() in {n.lower() for n in names}


def _says_how(inside: str, words: list[str]) -> bool:
    """Whether a text says how, to whom or doing what: "quietly", "to Ben", "crossing to the door"."""
    first = words[0].lower()
    if first in _LIKELY or _HOW.match(inside.lower()):
        return True
    if _TO.match(inside) and len(words) <= _MOST_TO_SOMEBODY:
        return True
    if len(first) <= _SHORTEST_ENDED:
        return False
    if first.endswith("ly") and first not in _SPOKEN_LY and len(words) <= _FEW_WORDS:
        return True
    return first.endswith("ing") and first not in _SPOKEN_ING


def says_manner(direction: str) -> bool:
    """Whether a direction says how the words after it are spoken: "(quietly)", "(in a whisper)"."""
    words = _folded(direction)
    if not words or len(words) > _FEW_WORDS:
        return False
    first = words[0]
    by_ending = len(first) > _SHORTEST_ENDED and first.endswith("ly") and first not in _SPOKEN_LY
    return by_ending or first in _MANNER or _MANNER_PHRASE.match(" ".join(words)) is not None


def does_on_stage(verb: str) -> bool:
    """Whether a verb in the third person is something that people do on a stage: sits, crosses, laughs."""
    return verb.lower() in _DOES


def find_brackets(sheet: Sheet) -> None:
    """Mark the directions in brackets. Brackets never reach over a blank line."""
    text, names, play = sheet.page.text, sheet.names, bool(sheet.names)
    spoken_from = _SpokenFrom(sheet)
    for group in paragraphs(sheet.rows):
        start, end = group[0].start, group[-1].end
        at = min((k for b in _BRACKETS if (k := text.find(b, start, end)) >= 0), default=end)
        around = _Paragraph(sheet, group, _closings(text, at, end), spoken_from)
        while at < end:
            mark = text[at]
            if mark not in _BRACKETS or sheet.gone[at]:
                at += 1
                continue
            stop = around.closings.get(at, -1)
            if stop < 0:
                row = around.row_of(at)
                inside = text[at + 1 : min(row.end, at + _LEFT_OPEN)]
                if mark == "[" and looks_like_direction(inside, names, True):
                    sheet.leave_out(at, row.end, DIRECTION)  # old editions do not close "[Exit."
                    at = row.end
                at += 1
                continue
            if _is_direction(around, at, stop, names, play):
                inside = text[at + 1 : stop]
                reason = "footnote mark" if re.fullmatch(r"\s*(?:\d+|\*+|[a-z])\s*", inside) else DIRECTION
                sheet.leave_out(at, stop + 1, reason)
                at = stop + 1
            else:
                at += 1


# How many characters are looked at inside a bracket, before it and after it. With this limit the time for
# thousands of brackets inside one another is proportional to their number. The second limit is for one that
# is never closed.
_LOOKED_AT = 2_000
_LEFT_OPEN = 300


def _closings(text: str, start: int, end: int) -> dict[int, int]:
    """For each opening bracket in text[start:end] the offset of the one of its kind that closes it."""
    found: dict[int, int] = {}
    opens: dict[str, list[int]] = {close: [] for close in _BRACKETS.values()}
    for k in range(start, end):
        mark = text[k]
        if mark in _BRACKETS:
            opens[_BRACKETS[mark]].append(k)
        elif opens.get(mark):
            found[opens[mark].pop()] = k
    return found


class _SpokenFrom:
    """Whether anything is spoken in a stretch; remembers how far it has looked, because the stretch grows."""

    def __init__(self, sheet: Sheet) -> None:
        self._sheet = sheet
        self._looked: dict[int, tuple[int, bool]] = {}

    def before(self, start: int, at: int) -> bool:
        """Whether anything of text[start:at] is spoken. `at` never goes back for the same start."""
        text, gone = self._sheet.page.text, self._sheet.gone
        k, found = self._looked.get(start, (start, False))
        while not found and k < at:
            found = text[k].isalnum() and not gone[k]
            k += 1
        self._looked[start] = k, found
        return found


@dataclass
class _Paragraph:
    """A paragraph whose brackets are being looked at.

    closings: for the offset of each opening bracket that of the closing one.
    """

    sheet: Sheet
    rows: list[Row]
    closings: dict[int, int]
    spoken_from: _SpokenFrom

    def __post_init__(self) -> None:
        self.starts = {row.start for row in self.rows}
        self.ends = {row.end for row in self.rows}
        self._ends = [row.end for row in self.rows]
        verse = [row.start for row in self.rows if len(row.text) < _VERSE_LINE and row.text[:1].isupper()]
        self._last_verse = max(verse, default=-1)

    def row_of(self, at: int) -> Row:
        """The row that has this offset."""
        return self.rows[bisect_right(self._ends, at)]

    def opens(self, at: int) -> bool:
        """Whether nothing of the paragraph is spoken before `at`."""
        return not self.spoken_from.before(self.rows[0].start, at)

    def alone(self, at: int, stop: int) -> bool:
        """Whether a bracket begins a row and ends one; a stop may follow it."""
        return at in self.starts and not self.ends.isdisjoint((stop + 1, stop + 2))

    def verse_after(self, at: int) -> bool:
        """Whether a row that may be a line of verse (short, with a capital) begins after `at`."""
        return self._last_verse > at


def _is_direction(around: _Paragraph, at: int, stop: int, names: Iterable[str], play: bool) -> bool:
    """Whether the bracket from `at` to `stop` (offsets of its two signs) is a direction."""
    text = around.sheet.page.text
    inside = text[at + 1 : min(stop, at + _LOOKED_AT)].strip()
    if not any(c.isalnum() for c in inside):
        return False
    if text[at] == "<":
        return _ANGLED.fullmatch(text[at + 1 : min(stop, at + _LOOKED_AT)]) is not None
    touching = text[at - 1 : at].isalpha() or text[stop + 1 : stop + 2].isalpha()
    if text[at] in "[{":
        # "[H]e" and "walk[ed]" are an editor's letters inside a spoken word
        return not (touching and inside.isalpha())
    if looks_like_direction(inside, names, play):
        return True
    if not play:
        return _between_sentences(around, at, stop) or _sets_the_scene(around, at, stop)
    words = WORDS.findall(inside)
    if around.alone(at, stop) or around.opens(at):
        return inside[:1].isupper() or len(words) <= _MOST_BY_ITSELF
    lead = _last_printed(text, at)
    sentence = lead in set(".?!…") and inside[:1].isupper()
    verse = around.verse_after(at)
    few = len(words) <= _MOST_WITHIN and inside.islower()
    return sentence or (few and not verse and lead.isalpha() is False)


def _last_printed(text: str, at: int) -> str:
    """The last character before `at` that is not a blank, "" if there is none near."""
    return text[max(0, at - _LOOKED_AT) : at].rstrip()[-1:]


def _between_sentences(around: _Paragraph, at: int, stop: int) -> bool:
    """Whether a bracket between two sentences of a single speech is a direction.

    A spoken one has a capital and a stop of its own: "(Nobody laughed.)". Without the stop it is a direction
    if it begins with a small letter or reads like one; with the stop, only if it says what somebody does.
    """
    text = around.sheet.page.text
    inside = text[at + 1 : min(stop, at + _LOOKED_AT)].strip()
    words = _folded(inside)
    if not words or len(words) > _MOST_BETWEEN or _FROM_ONE_TO_ANOTHER & set(words):
        return False
    lead = _last_spoken(around.sheet, at)
    he_or_she_acts = words[0] in ("he", "she") and words[1:2] != [] and words[1] in _DOES
    if lead in set(",;–—") and he_or_she_acts:
        return True  # a spoken aside would have the comma after it
    after = text[stop + 1 : min(around.rows[-1].end, stop + _LOOKED_AT)]
    runs_on = after.lstrip(" \t\n.:–—-\"'“‘")[:1].islower()
    if runs_on or not (lead in ".?!…:" or around.opens(at)):
        return False
    return _is_done(inside, words)


def _last_spoken(sheet: Sheet, at: int) -> str:
    """The last spoken character before `at` that is not a blank, "" if there is none near."""
    text = sheet.page.text
    near = range(at - 1, max(-1, at - _LOOKED_AT), -1)
    return next((text[k] for k in near if not sheet.gone[k] and not text[k].isspace()), "")


def _is_done(inside: str, words: list[str]) -> bool:
    """Whether the words of a bracket between two sentences are a direction: by verb, capital and stop."""
    done = _says_what_is_done(words)
    if inside[-1] in ".?!…":
        return done and words[1:2] not in (["like"], ["after"])
    if inside[0].islower():
        rings = any(w in _DOES for w in words[1 : 1 + _VERB_WITHIN])  # "the phone rings", "she turns away"
        return rings or words[0] not in _SPOKEN_FIRST or bool(_HOW.match(inside))
    return done or looks_like_direction(inside[0].lower() + inside[1:], (), True)


def _says_what_is_done(words: list[str]) -> bool:
    """Whether the words say what somebody does: "turns away", "the clock strikes", "slowly she sits"."""
    if words[0] in _DOES:
        return True
    if len(words) <= _FEW_WORDS and words[-1] in _DOES and words[0] in ("a", "the"):
        return True
    return words[0].endswith("ly") and words[1:2] in (["he"], ["she"]) and not _DOES.isdisjoint(words)


def _sets_the_scene(around: _Paragraph, at: int, stop: int) -> bool:
    """Whether a bracket says whom a single speech is spoken to, or tells of the scene before it begins."""
    sheet, text = around.sheet, around.sheet.page.text
    inside = text[at + 1 : min(stop, at + _LOOKED_AT)].strip()
    if re.fullmatch(r"To (?:the audience|(?:him|her|them)(?:self|selves)?|[A-Z]{2,}|us)\.?", inside):
        return True
    whole = not around.ends.isdisjoint((stop + 1, stop + 2))
    if around.rows[0].start != at or not whole or around.spoken_from.before(0, at):
        return False
    if re.search(r"\b[A-Z]{3,}\b", inside) and not inside.isupper():
        return True
    words = set(_folded(inside))
    told = len(words) >= _LEAST_NOTE and not _FROM_ONE_TO_ANOTHER & words and not re.search("[?!]", inside)
    return told and _spoken_after(sheet, stop)


def _spoken_after(sheet: Sheet, stop: int) -> bool:
    """Whether anything is spoken after an offset."""
    first = bisect_right(sheet.rows, stop, key=lambda row: row.start)
    return any(sheet.spoken(sheet.rows[k]) for k in range(first, len(sheet.rows)))


def find_italics(sheet: Sheet) -> None:
    """Mark the directions in italics: whole lines of a play, and what reads like a direction."""
    spans = [(s, e) for s, e in sheet.page.italics if any(c.isalnum() for c in sheet.page.text[s:e])]
    if not spans:
        return
    printed = sum(c.isalnum() for c in sheet.page.text)
    slanted = sum(sum(c.isalnum() for c in sheet.page.text[s:e]) for s, e in spans)
    play = bool(sheet.names)
    if slanted > (_MOST_ITALIC_PLAY if play else _MOST_ITALIC) * printed:
        return
    for start, end in spans:
        inside = sheet.page.text[start:end].strip().strip("()[]")
        if all(sheet.gone[k] for k in range(start, end) if sheet.page.text[k].isalnum()):
            continue
        done = looks_like_direction(inside, sheet.names, play)
        if not done and _stands_apart(sheet, start, end):
            first = WORDS.search(inside)  # None if only a number is in italics
            done = play or (first is not None and first.group().lower() in _SURE)
        if done:
            sheet.leave_out(start, end, DIRECTION)
        elif _under_heading(sheet, start, end):
            sheet.leave_out(start, end, "note under the heading")


def _under_heading(sheet: Sheet, start: int, end: int) -> bool:
    """Whether italics are a line between the heading and the speech that says who speaks, or where.

    A line of the speech itself is likely to say "I" or "you", or to be a call or a question.
    """
    words = _folded(sheet.page.text[start:end])
    if (
        len(words) < _LEAST_NOTE
        or _FROM_ONE_TO_ANOTHER & set(words)
        or re.search(r"[!?“”\"]", sheet.page.text[start:end])
    ):
        return False
    if not any(m.what == "heading" and m.end <= start for m in sheet.marks):
        return False
    inside = [r for r in sheet.rows if not r.blank and r.end > start and r.start < end]
    whole = all(not any(c.isalnum() for c in _outside(sheet, r, start, end)) for r in inside)
    first = not any(sheet.spoken(r) for r in sheet.rows if r.end <= start)
    return whole and first and any(sheet.spoken(r) for r in sheet.rows if r.start >= end)


def _outside(sheet: Sheet, row: Row, start: int, end: int) -> str:
    """The part of a row before `start` and the part after `end`."""
    text = sheet.page.text
    return text[row.start : max(row.start, start)] + text[min(row.end, end) : row.end]


def _stands_apart(sheet: Sheet, start: int, end: int) -> bool:
    """Whether italics are a line or a sentence of their own, and not just stressed words."""
    text = sheet.page.text
    row = next(r for r in sheet.rows if r.start <= start <= r.end or r.start > start)
    if not any(
        c.isalnum() and not sheet.gone[row.start + k]
        for k, c in enumerate(row.text[: max(0, start - row.start)])
    ):
        rest = text[end : max(row.end, end)]
        if not any(c.isalnum() for c in rest):
            return True
        if text[start:end].rstrip()[-1:] in ".?!" or len(WORDS.findall(text[start:end])) > _MOST_WITHIN:
            return True
    lead = text[:start].rstrip()[-1:]
    return (
        lead in ".?!…" and text[start:end].rstrip()[-1:] in ".?!" and len(WORDS.findall(text[start:end])) > 1
    )
