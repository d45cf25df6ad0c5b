"""What poor sound leaves unsure: a slip does not count where one of the hearings had the script's words.

In noise or in a room that echoes, comparing the wordings of a doubtful place works less well: the recogniser
often does not propose the script's wording at all, and another one wins for want of it. Performers lose more
trust over one wrong note on a word that they did say than over one word left unsure, so such a slip becomes
unsure. Where no hearing had the script's words, the slip stands. Poor sound misleads a second ear less; where
it compared the wordings, more has to speak for the script. Figures in `docs/sound.md`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from offbook.audio import ECHO_SECONDS, SoundReport
from offbook.hear.decide import WeighedPlace, same
from offbook.hear.rescore import SettledSegment
from offbook.score import TIE, Run, WordVerdict, decided

# The measured signal-to-noise ratio, dB, below which verdicts are softened. Readings with noise 10 dB below
# them by ITU-T P.56 measure 16 to 17 in a crowd, 18 in a hall and up to 20 in traffic; with a crowd 20 dB
# below them they measure 24.
SOFTENED_BELOW_SNR_DB = 22.0
# How many of the three hearings must have had the script's words for a slip to become unsure: where the first
# ear compared the wordings, and where the second one did. There the script's wording must also have more than
# this chance. Set by hand on six readings in an echoing room and with a crowd 10 dB below them: with one
# hearing and any chance, 9 % and 14 % of the small words swapped were unsure; so 3 % and none are. Of the
# words said 0.31 % are called wrong in the room instead of 0.16, and none in the crowd.
_LEAST_HEARINGS, _LEAST_HEARINGS_BOTH_EARS, _LEAST_CHANCE_BOTH_EARS = 1, 2, 0.05

_HEARINGS_IN_WORDS = {
    1: "one of the three hearings",
    2: "two of the three hearings",
    3: "all three hearings",
}


def too_poor_to_be_sure(sound: SoundReport) -> bool:
    """Whether the background is so loud, or the echo so long, that verdicts have to be softened."""
    return sound.snr < SOFTENED_BELOW_SNR_DB or (sound.decay is not None and sound.decay > ECHO_SECONDS)


def soften_for_poor_sound(run: Run, settled: Sequence[SettledSegment], sound: SoundReport) -> Run:
    """`run` with those slips unsure for which poor sound may be to blame. In good sound it is left as it is.

    settled: the segments with the places that were weighed in them.
    """
    if not too_poor_to_be_sure(sound):
        return run
    in_doubt = {
        i: place
        for each in settled
        for place in each.weighed
        if _may_be_as_written(place)
        for i in range(place.script_from, place.script_to)
    }
    words = (_made_unsure(w, in_doubt[w.i]) if w.i in in_doubt else w for w in run.words)
    return replace(run, words=tuple(words))


def _may_be_as_written(place: WeighedPlace) -> bool:
    """Whether enough speaks for the script's words at the place to leave a slip there in doubt."""
    hearings = _hearings_with_the_script(place)
    if place.by_second:
        return hearings >= _LEAST_HEARINGS_BOTH_EARS and place.chance > _LEAST_CHANCE_BOTH_EARS
    return hearings >= _LEAST_HEARINGS


def _hearings_with_the_script(place: WeighedPlace) -> int:
    """How many of the free, the leaning and the contested hearing had the script's words at the place."""
    return sum(bool(h) and same(h, place.script) for h in (place.free, place.lean, place.contest))


def _made_unsure(word: WordVerdict, place: WeighedPlace) -> WordVerdict:
    """The verdict, where it is a slip, as unsure and at most as confident as a tie."""
    if not word.is_wrong:
        return word
    hearings = _HEARINGS_IN_WORDS[_hearings_with_the_script(place)]
    told = (
        "the background is too loud or the room echoes too much to be sure, and "
        f"{hearings} had the script's words here"
    )
    confidence = None
    if word.heard is not None:
        confidence = TIE if word.confidence is None else min(word.confidence, TIE)
    return decided(word, "poor sound", told, verdict="unsure", confidence=confidence)
