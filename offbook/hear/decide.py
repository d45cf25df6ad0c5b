"""Deciding a doubtful place: the chance that the script's words were said, and the words that are taken.

An ear has scored the wordings of a place on its sound: the second ear where there is one, otherwise the
recogniser. The log likelihood of the script's wording is compared with that of the best other one, its rival.
From that lead, from what each hearing had at the place, and from how far apart the two wordings sound, the
chance that the script's was said is computed. Wordings that sound too much alike for an ear to tell apart
count as the same.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from rapidfuzz.distance import LCSseq, Levenshtein

from offbook.align import AlignedWord, pair_by_sound, sound_likeness
from offbook.hear.pace import PlacePace
from offbook.recognise import HeardWord
from offbook.sampling import byte_at
from offbook.score import TIE
from offbook.soundalike import alike, distance, joined, rivals, same_sound

# Scores and leads are in natural log units; distances are phone distances (`soundalike.phone_distance`).
# Where nothing else is said, a number is set by hand.

# Likeness from which what was heard passes for a script word outside the vocabulary.
_PASSES_LIKENESS = 0.6
_SAME_PHONES = 0.999  # likeness of the same phones, which is 1 but for rounding
LEAD_IF_ABSENT = 12.0  # the lead over a wording that the ear did not propose at all
# Leads of the first ear count between these two: a wording farther behind is not proposed any more, and one
# farther ahead is safe.
_LEAST_LEAD, _MOST_LEAD = -8.0, 4.0
_MOST_LEAD_BOTH_EARS = 12.0  # a lead of the second ear counts up to this much, either way
# The lead of a rival up to which the script's wording is taken, where no chance is computed and no hearing
# had the script's words.
_LEAD_THAT_DECIDES = 1.0
# Two words up to so far apart are not told apart by sound (to/do, are/our). For two wordings that share no
# word it is so much for each of the script's words (besiege thy brow/besieged eyebrow).
_NOT_TOLD_APART = 0.2
_MOST_DISTANCE = 2.0  # distances count up to this
_DISTANCE_PER_WORD = 1.5  # stands for each word more, where one of the wordings is empty
# The weights of a logistic regression: they turn what was found at a place into the log odds that the
# script's wording was said. `bench/fit_weighing.py` fits them on readings with planted slips. In order: the
# constant; the lead; whether the free, the leaning and the contested hearing had the script's words, and
# whether none had; whether the free and the contested hearing had the rival's; the distance of the two; and
# whether the script's wording has more words, or fewer.
_FIRST_EAR_WEIGHTS = (2.62, 0.92, 2.12, 1.36, 0.23, -1.36, -0.25, -1.47, -0.64, 0.61, 0.35)
# The same where the second ear weighed the place: the constant; the script's lead; whether the script's
# wording has more words, or fewer; and how many of the hearings had the rival's. Fitted on 1,170 places by 40
# readers, of which 342 were said, and rounded. With each reader left out in turn the log loss is 45.8; with
# the first ear's lead as one more number it is 46.8. The last weight counts where every hearing had a rival
# with more words: by how much better the time fits the script's wording. It is set by hand on words cut into
# readings (`bench/spliced.py`), because the fit has no such place that is in doubt.
_BOTH_EARS_WEIGHTS = (4.15, 0.78, 0.8, -2.5, -0.95, 3.0)
# And where the script has no word and one was put in: the constant; the lead; whether every hearing had the
# rival; and whether that has so many letters that a cough or an "um" cannot have been taken for it. Fitted on
# 284 places: the log loss is 16.8 with readers left out, and no better with the first ear's lead. The last is
# set by hand on words cut into readings (`bench/spliced.py`): the second ear may find the text likely without
# such a word.
_INSERTION_WEIGHTS = (0.5, 0.48, -1.3, -5.0)
_LONG_LETTERS = 5  # a word put in with so many letters is no cough
_HEARING_COUNT = 3  # the free, the leaning and the contested one
# What speaks for a rival of the first ear beside its score: each word that it has as the script has it, and
# each that the free and the contested hearing had.
_SCRIPT_WORD_BONUS, _FREE_WORD_BONUS, _CONTESTED_WORD_BONUS = 6.0, 1.0, 0.5
# The same for a rival of the second ear: what a swap, a word left out and a word put in cost it, as these
# come out of the weights above, and what each word that a hearing had is worth.
_SWAP_COST, _OMISSION_COST, _INSERTION_COST, _HEARD_WORD_BONUS = 5.3, 6.3, 2.1, 1.2
# A word left out right behind another one costs less: somebody who leaves out a phrase leaves out all of its
# words. Set by hand on phrases cut out of readings (`bench/spliced.py`); from 2.7 on one of the words stays.
_NEXT_OMISSION_COST = 2.0
# The same for a word swapped right behind another one. Set by hand: 2.5 finds one slip in 204 more than 4.0
# on six readings, two in 150 on eighteen others and one in 117 by actors, and calls one word in 4,000 more
# wrong.
_NEXT_SWAP_COST = 2.5
# And for a word swapped elsewhere in the same place, at most so many words behind the last one swapped: who
# has one word wrong often has another one wrong beside it. Set by hand: with 5.3 two slips fewer are found of
# 204 in each of a crowd and a room.
_NEAR_SWAP_COST, _NEAR_WORDS = 3.0, 2
# And for a word put in right behind another one.
_NEXT_INSERTION_COST = 0.7
# What was said instead is quoted if the second ear finds no wording likelier by more than this: e^6 is about
# four hundred times as likely.
_QUOTABLE_LEAD = 6.0
# Of two words that sound nearly alike (has/have) the heard one is taken, and not the script's, where its lead
# by the second ear is as large as this.
_TOLD_APART_LEAD = 2.0
# Where so many words seem to be missing, and the time that the place took fits the script's wording better by
# this much (`hear.pace`), the words may have been mumbled. Set by hand on words mumbled in spontaneous talk.
_MUMBLED_WORDS, _MUMBLED_TIME_LEAD = 3, 0.25
# But not where the second ear gives the wording without them, and what follows it, this log probability or
# more. Set by hand: phrases cut out of readings leave -0.1 to -2, words mumbled in talk -8 to -20.
_CREDIBLE_LOG_PROBABILITY = -5.0
# From the first chance on the script's wording is taken as said, and up to the second one the rival is; in
# between the place is in doubt. The third is the second where both ears were asked: on places of readings
# left out in turn 0.44 finds 2.5 slips in 659 more than 0.33 does, and calls 0.2 words in 189 more wrong.
# Both ears leave only a tie in doubt: of 45 actors' 722 slips four more are found than with 0.48, of 744 on
# the six readings, the twenty-five and the second talk none. Without planted slips no word more is called
# wrong in any of them, and with them two in 14,100.
SAID_FROM, _RIVAL_UP_TO, _RIVAL_UP_TO_BOTH_EARS = 0.5, 0.33, 0.4999
# Between two script words an "um" is often heard as one of these; such a word is put in only up to the second
# chance. Set by hand: in two of 782 edits (`bench/spliced.py`) an "um" is otherwise called an added word, and
# no more are found of the words that were put in.
_HEARD_FOR_A_HESITATION = frozenset({"a", "am", "an", "and", "em", "them"})
_AGREED = 0.9  # confidence where all hearings had the same and no wordings could be compared
_CHANCE_NOT_COMPUTED = 0.96  # stands for the chance of what is taken where the chance is not computed
# Where the script has no word and the first ear weighed the place: what was heard there was put in where the
# lead of no word is at most this, by how many of the hearings had nothing there.
_INSERTION_LEADS = (0.5, -3.0, -4.5, -4.5)
_CACHED_DISTANCES = 10_000  # pairs of wordings whose distance is remembered, a few MB

# For each wording of a place its log likelihood, in natural log units, and its words.
Scores = Mapping[str, tuple[float, list[HeardWord]]]


@dataclass(frozen=True, slots=True)
class WeighedPlace:
    """A doubtful place after its wordings were compared: script words [script_from, script_to).

    script, rival: the script's wording and the one that it was compared with; lead: by how many natural log
    units the script's is likelier. free, lean, contest: what each hearing had there. start, end: seconds.
    evidence: the numbers from which the chance is computed, one for each weight; empty where it is not.
    chance: that the script's wording was said. by_second: whether the second ear compared them. time_lead: by
    how much better the time fits the script's wording (`PlacePace.time_lead`). quotable: whether the ears
    agree enough on the rival to quote it as what was said. was_contested: whether there was a contested
    hearing; where not, `contest` is what the leaning one had.
    """

    script_from: int
    script_to: int
    script: str
    rival: str
    lead: float
    free: str
    lean: str
    contest: str
    start: float
    end: float
    evidence: tuple[float, ...] = ()
    chance: float = 1.0
    by_second: bool = False
    time_lead: float = 0.0
    quotable: bool = True
    was_contested: bool = True

    @property
    def rival_up_to(self) -> float:
        """The chance of the script's wording up to which the rival is taken as said."""
        may_be_hesitation = self.is_between_words and self.rival in _HEARD_FOR_A_HESITATION
        return _RIVAL_UP_TO_BOTH_EARS if self.by_second and not may_be_hesitation else _RIVAL_UP_TO

    @property
    def hearings(self) -> tuple[str, str, str]:
        """What the free, the leaning and the contested hearing had."""
        return self.free, self.lean, self.contest

    @property
    def is_between_words(self) -> bool:
        """Whether the script has no word at the place, so that anything said there was put in."""
        return self.script_from == self.script_to

    def moved(self, words: int, seconds: float) -> WeighedPlace:
        """The same place, counted from a beginning that lies so many words and seconds earlier."""
        return replace(
            self,
            script_from=self.script_from + words,
            script_to=self.script_to + words,
            start=self.start + seconds,
            end=self.end + seconds,
        )


def decide(
    places: Sequence[AlignedWord],
    script: Sequence[str],
    scores: Scores,
    as_leaned: list[HeardWord],
    blank: WeighedPlace,
    pace: PlacePace | None = None,
) -> tuple[list[HeardWord], WeighedPlace | None]:
    """The words to take at a place, and how its wordings compared (None where there were none to compare).

    places: its script words; script: the wordings in which these may be heard. scores: of all wordings, by
    the ear that `blank` names; blank: the place with what the hearings had, not weighed yet. as_leaned: the
    leaning hearing's words there. pace: how long the place took.
    """
    ours = {r: s for r, s in scores.items() if _is_the_scripts(r, script, places, blank.by_second)}
    theirs = {r: s for r, s in scores.items() if r not in ours}
    if not scores:
        agreed = blank.free == blank.lean == blank.contest
        return [replace(w, confidence=_AGREED) if agreed else w for w in as_leaned], None
    best = max(ours, key=lambda r: ours[r][0]) if ours else script[0]
    likeliest = _likeliest({r: s[0] for r, s in theirs.items()}, script, blank)
    weighed = _compared(blank, best, _rival_to_compare(theirs, likeliest, blank), ours, theirs, pace)
    had = [_is_the_scripts(h, script, places, blank.by_second) for h in blank.hearings]
    weighed = replace(weighed, evidence=_evidence(weighed, best, had))
    chance = _chance_of_script(weighed, had)
    weighed = replace(weighed, chance=chance)
    if chance <= weighed.rival_up_to and theirs:
        weighed = replace(weighed, rival=likeliest)
        if _may_be_mumbled(weighed, theirs[likeliest][0]):
            chance = (SAID_FROM + weighed.rival_up_to) / 2  # in doubt
            ours_there = _spread_at(script[0], theirs[likeliest][1], blank)
            return _missing_words_in_doubt(ours_there, likeliest, chance), replace(weighed, chance=chance)
        words = _words_of_rival(places, likeliest, scores, blank.by_second)
        return [replace(w, confidence=1 - chance, weighed=True) for w in words], weighed
    if ours and best in script:
        words = ours[best][1]
    else:
        words = _spread_at(script[0], (ours[best] if ours else theirs[weighed.rival])[1], blank)
    sure = chance if chance >= SAID_FROM else min(chance, TIE)
    return [replace(w, confidence=sure) for w in words], weighed


def _spread_at(wording: str, heard: list[HeardWord], place: WeighedPlace) -> list[HeardWord]:
    """The words of a wording in the time of what was heard; of the whole place where nothing was heard."""
    return spread(wording.split(), heard or [HeardWord("", place.start, place.end, 1.0)])


def _rival_to_compare(theirs: Scores, likeliest: str, blank: WeighedPlace) -> str:
    """The wording that the script's is compared with.

    It is the `likeliest`; only where the first ear compares a place between two script words it is the one
    with the best score.
    """
    by_score = blank.is_between_words and not blank.by_second
    return max(theirs, key=lambda r: theirs[r][0], default="") if by_score else likeliest


def _compared(
    blank: WeighedPlace, best: str, rival: str, ours: Scores, theirs: Scores, pace: PlacePace | None
) -> WeighedPlace:
    """The place with its rival, and with how the script's best wording compares by sound and by time."""
    lead = LEAD_IF_ABSENT if ours else -LEAD_IF_ABSENT
    if ours and theirs:
        lead = ours[best][0] - theirs[rival][0]
    likeliest = max(s for s, _ in (*ours.values(), *theirs.values()))
    quotable = not theirs or likeliest - theirs[rival][0] <= _QUOTABLE_LEAD
    time_lead = pace.time_lead(best, rival) if pace is not None else 0.0
    return replace(blank, rival=rival, lead=lead, time_lead=time_lead, quotable=quotable)


def _is_the_scripts(
    wording: str, script: Sequence[str], places: Sequence[AlignedWord], by_spelling: bool
) -> bool:
    """Whether a wording is the script's, as far as an ear can tell.

    Words outside the vocabulary need only sound like what was heard; the others must sound the same.
    by_spelling: the ear is given those words as they are spelt, so it can tell the script's wording from the
    same with more words around it.
    """
    if any(same(wording, s) for s in script):
        return True
    if by_spelling and any(s and f" {s} " in f" {wording} " for s in script):
        return False
    if not wording or all(p.known for p in places):
        return False
    if not any(p.known for p in places):
        return alike(" ".join(w for p in places for w in p.spoken), wording) >= _PASSES_LIKENESS
    words = wording.split()
    pairs = pair_by_sound(places, words)
    if len(pairs) < len(places) or sum(b - a for _, a, b in pairs) < len(words):
        return False
    return all(
        same(places[i].text, " ".join(words[a:b]))
        if places[i].known
        else sound_likeness(places[i], " ".join(words[a:b])) >= _PASSES_LIKENESS
        for i, a, b in pairs
    )


def _words_of_rival(
    places: Sequence[AlignedWord],
    rival: str,
    scores: Scores,
    by_second: bool,
) -> list[HeardWord]:
    """A rival's words. One that sounds too much like its script word to be told apart becomes that word.

    But where the second ear tells the two apart all the same, what was heard is kept.
    """
    heard = scores[rival][1]
    found = list(heard)
    for i, a, b in pair_by_sound(places, [w.word for w in heard]):
        if b == a + 1 and places[i].forms and len(places[i].forms[0]) == 1:
            form = places[i].forms[0][0]
            if heard[a].word != form and _phone_distance(form, heard[a].word) <= _NOT_TOLD_APART:
                found[a] = replace(heard[a], word=form)
    with_script_words = " ".join(w.word for w in found)
    told_apart = (
        by_second
        and with_script_words in scores
        and scores[rival][0] - scores[with_script_words][0] >= _TOLD_APART_LEAD
    )
    return heard if told_apart else found


def spread(words: Sequence[str], over: Sequence[HeardWord]) -> list[HeardWord]:
    """`words` in the time of `over`, each with an equal share of it and the confidence 1."""
    if not over:
        return []
    start, step = over[0].start, (over[-1].end - over[0].start) / max(1, len(words))
    return [HeardWord(w, start + k * step, start + (k + 1) * step, 1.0) for k, w in enumerate(words)]


def leading_rival(
    places: Sequence[AlignedWord], script: Sequence[str], scores: Scores, place: WeighedPlace
) -> str:
    """The wording that would be taken if the script's were not, where its score is above the script's.

    Otherwise "". Arguments as for `decide`; place: with what the hearings had there.
    """
    theirs = {r: s for r, (s, _) in scores.items() if not _is_the_scripts(r, script, places, place.by_second)}
    rival = _likeliest(theirs, script, place)
    ours = max((s for r, (s, _) in scores.items() if r not in theirs), default=-math.inf)
    return rival if rival and theirs[rival] > ours else ""


def _likeliest(scores: Mapping[str, float], script: Sequence[str], place: WeighedPlace) -> str:
    """Of the wordings that are not the script's, the one to compare it with, and to take where it loses.

    scores: of these wordings. A word that is as the script has it speaks for a wording as much as it does for
    the script's own; a word that another hearing had speaks for it too, but less. For somebody who slips in
    one word says the others of its place as they are written, and of two wordings with like scores the one
    that was heard is probably meant. "" where there are no wordings.
    """
    forms = [s.split() for s in script]
    hearings = [h.split() for h in place.hearings]
    bonuses = (
        (_HEARD_WORD_BONUS,) * _HEARING_COUNT
        if place.by_second
        else (_FREE_WORD_BONUS, 0.0, _CONTESTED_WORD_BONUS)
    )

    def worth(wording: str) -> float:
        words = wording.split()
        as_heard = sum(b * LCSseq.similarity(h, words) for b, h in zip(bonuses, hearings, strict=True))
        if place.by_second:
            unheard = sum(len(words) for h in hearings if not h)
            as_heard -= _HEARD_WORD_BONUS * unheard
            return scores[wording] + as_heard - min(_departure_cost(form, words) for form in forms)
        kept = LCSseq.similarity(forms[0], words) - max(0, len(words) - len(forms[0]))
        return scores[wording] + as_heard + _SCRIPT_WORD_BONUS * kept

    as_heard = _insertions_as_heard(scores, place) if place.by_second and place.is_between_words else ()
    return max(as_heard or scores, key=worth, default="")


def _insertions_as_heard(scores: Mapping[str, float], place: WeighedPlace) -> list[str]:
    """Of the wordings between two script words, those that a hearing had, and small words that sound like it.

    Only those that the second ear finds likely enough to be quoted. Others are left out, because the script
    has no word at such a place for which a hearing could have taken them.
    """
    heard = {*place.hearings, *(w for h in place.hearings for w in rivals(h))}
    least = max(scores.values(), default=0.0) - _QUOTABLE_LEAD
    return [w for w in scores if w and w in heard and scores[w] >= least]


def _departure_cost(script: Sequence[str], words: Sequence[str]) -> float:
    """How unlikely it is that somebody who has the script says these words instead, natural log units."""
    cost = 0.0
    last_swap = -math.inf  # where the last swapped words end
    for c in Levenshtein.opcodes(script, words):
        ours, theirs = c.src_end - c.src_start, c.dest_end - c.dest_start
        if c.tag != "equal":
            swapped = min(ours, theirs)
            first = _NEAR_SWAP_COST if c.src_start - last_swap <= _NEAR_WORDS else _SWAP_COST
            last_swap = c.src_end if swapped else last_swap
            cost += _in_a_row(swapped, first, _NEXT_SWAP_COST)
            cost += _in_a_row(ours - swapped, _OMISSION_COST, _NEXT_OMISSION_COST)
            cost += _in_a_row(theirs - swapped, _INSERTION_COST, _NEXT_INSERTION_COST)
    return cost


def _in_a_row(words: int, first: float, following: float) -> float:
    """What so many departures side by side cost, by the cost of the first and of each one behind it."""
    return first * min(1, words) + following * max(0, words - 1)


def _evidence(place: WeighedPlace, ours: str, had: Sequence[bool]) -> tuple[float, ...]:
    """The numbers that speak for the script's wording `ours` or against it, in the order of the weights.

    had: whether each hearing had the script's words. Empty where the first ear cannot tell the two wordings
    apart, and where it compares a place between two script words.
    """
    theirs, lead = place.rival, place.lead
    more = len(ours.split()) - len(theirs.split())
    if place.by_second:
        lead = max(-_MOST_LEAD_BOTH_EARS, min(_MOST_LEAD_BOTH_EARS, lead))
        agreed = sum(same(h, theirs) for h in place.hearings)
        all_agreed = agreed == _HEARING_COUNT
        if place.is_between_words:
            return (1.0, lead, float(all_agreed), float(all_agreed and len(theirs) >= _LONG_LETTERS))
        time = min(0.0, place.time_lead) if more < 0 and all_agreed else 0.0
        return (1.0, lead, float(more > 0), float(more < 0), float(agreed), time)
    apart = _phone_distance(ours, theirs)
    if place.is_between_words or apart <= _least_distance(ours, theirs):
        return ()
    return (
        1.0,
        max(_LEAST_LEAD, min(_MOST_LEAD, lead)),
        *map(float, (*had, not any(had), same(place.free, theirs), same(place.contest, theirs))),
        min(_MOST_DISTANCE, apart if math.isfinite(apart) else _DISTANCE_PER_WORD * abs(more)),
        float(more > 0),
        float(more < 0),
    )


def _chance_of_script(place: WeighedPlace, had: Sequence[bool]) -> float:
    """The chance that a place was said as the script has it. had: whether each hearing had it so."""
    if place.evidence:
        both_ears = _INSERTION_WEIGHTS if place.is_between_words else _BOTH_EARS_WEIGHTS
        weights = both_ears if place.by_second else _FIRST_EAR_WEIGHTS
        return chance_from(sum(w * x for w, x in zip(weights, place.evidence, strict=True)))
    if place.is_between_words:
        nothing_said = place.lead > _INSERTION_LEADS[sum(had)]
        return _CHANCE_NOT_COMPUTED if nothing_said else 1 - _CHANCE_NOT_COMPUTED
    as_written = any(had) or place.lead > -_LEAD_THAT_DECIDES
    return _CHANCE_NOT_COMPUTED if as_written else (SAID_FROM + place.rival_up_to) / 2


def _may_be_mumbled(place: WeighedPlace, score: float) -> bool:
    """Whether several words seem to be missing although the place took the time to say them.

    Then nobody can tell. score: of the wording without them; where the second ear finds that likely enough,
    nothing else was said.
    """
    missing = len(place.script.split()) - len(place.rival.split())
    credible = place.by_second and score >= _CREDIBLE_LOG_PROBABILITY
    return missing >= _MUMBLED_WORDS and place.time_lead >= _MUMBLED_TIME_LEAD and not credible


def _missing_words_in_doubt(words: Sequence[HeardWord], rival: str, confidence: float) -> list[HeardWord]:
    """The script's `words`; those that the rival does not have get this confidence, the others a high one."""
    kept = {k for k, _ in words_in_common([w.word for w in words], rival.split())}
    return [
        replace(w, confidence=_CHANCE_NOT_COMPUTED if k in kept else confidence) for k, w in enumerate(words)
    ]


def words_in_common(a: Sequence[str], b: Sequence[str]) -> list[tuple[int, int]]:
    """Which word of `a` is which word of `b`, by their numbers, in the nearest alignment of the two."""
    equal = (c for c in Levenshtein.opcodes(a, b) if c.tag == "equal")
    return [(c.src_start + k, c.dest_start + k) for c in equal for k in range(c.src_end - c.src_start)]


def chance_from(log_odds: float) -> float:
    """The chance, 0 to 1, whose odds have this natural logarithm."""
    return 1 / (1 + math.exp(-log_odds))


def _least_distance(ours: str, theirs: str) -> float:
    """The distance up to which two wordings are not told apart by sound."""
    words = ours.split()
    return _NOT_TOLD_APART * (1 if set(words) & set(theirs.split()) else max(1, len(words)))


@lru_cache(maxsize=_CACHED_DISTANCES)
def _phone_distance(a: str, b: str) -> float:
    """The phone distance of two short wordings, in the ways to say them that are nearest to each other.

    Infinite where one of them is empty.
    """
    if not a or not b:
        return math.inf
    return min((distance(x, y) for x in joined(a) for y in joined(b)), default=math.inf)


def same(a: str, b: str) -> bool:
    """Whether two wordings sound the same: homophones word for word, or the same phones in all."""
    if a == b:
        return True
    x, y = a.split(), b.split()
    if len(x) == len(y):
        return all(same_sound(p, q) for p, q in zip(x, y, strict=True))
    return bool(x) and bool(y) and alike(a, b) > _SAME_PHONES


def slice_of(sound: bytes, start: float, end: float) -> bytes:
    """The part of 16-bit mono sound between two times (s)."""
    return sound[byte_at(start) : byte_at(end)]
