"""What poor sound leaves unsure: a slip does not count where one of the hearings had the script's words.

In noise or in a room that echoes, comparing the wordings of a doubtful place works less well: the recogniser
often does not propose the script's wording at all, and another one wins for want of it. Performers lose more
trust over one wrong note on a word that they did say than over one word left unsure, so such a slip becomes
unsure. Where no hearing had the script's words, the slip stands. Poor sound misleads a second ear less; where
it compared the wordings, more has to speak for the script: two hearings and a chance, or all three hearings,
even if for a single word of the place. Figures in `docs/sound.md`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from offbook.audio import ECHO_SECONDS, SoundReport
from offbook.hear.decide import WeighedPlace, same, words_in_common
from offbook.hear.rescore import SettledSegment
from offbook.score import TIE, Run, WordVerdict, decided

# The measured signal-to-noise ratio, dB, below which verdicts are softened. Readings with noise 10 dB below
# them by ITU-T P.56 measure 16 to 17 in a crowd, 18 in a hall and up to 20 in traffic; with a crowd 20 dB
# below them they measure 24.
SOFTENED_BELOW_SNR_DB = 22.0
# How many of the three hearings must have had the script's words for a slip to become unsure: where the first
# ear compared the wordings, and where the second one did. There the script's wording must also have more than
# this chance. Set by hand on 31 readings in an echoing room and with a crowd 10 dB below them: of the words
# swapped that are called wrong, 1.3 % become unsure, and of the words said that are called wrong 45 %.
_LEAST_HEARINGS, _LEAST_HEARINGS_BOTH_EARS, _LEAST_CHANCE_BOTH_EARS = 1, 2, 0.1
# Where all of the hearings had the script's word and the second ear alone calls it wrong, no chance is asked
# for: on the same readings 13 such words were said, and none of 1,414 swapped ones was among them.
_ALL_HEARINGS = 3

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
    in_doubt = {i: n for each in settled for place in each.weighed for i, n in _in_doubt(place).items()}
    words = (_made_unsure(w, in_doubt[w.i]) if w.i in in_doubt else w for w in run.words)
    return replace(run, words=tuple(words))


def _in_doubt(place: WeighedPlace) -> dict[int, int]:
    """The script words of a place for which enough speaks to leave a slip there in doubt.

    By their numbers, each with how many of the hearings had it.
    """
    hearings = _hearings_with_the_script(place)
    whole = range(place.script_from, place.script_to)
    if not place.by_second:
        return dict.fromkeys(whole, hearings) if hearings >= _LEAST_HEARINGS else {}
    if hearings >= _LEAST_HEARINGS_BOTH_EARS and place.chance > _LEAST_CHANCE_BOTH_EARS:
        return dict.fromkeys(whole, hearings)
    words = place.script.split()
    if len(words) != len(whole):
        return {}
    had = Counter(k for h in place.hearings for k, _ in words_in_common(words, h.split()))
    return {i: had[k] for k, i in enumerate(whole) if had[k] == _ALL_HEARINGS}


def _hearings_with_the_script(place: WeighedPlace) -> int:
    """How many of the free, the leaning and the contested hearing had the script's words at the place."""
    return sum(bool(h) and same(h, place.script) for h in (place.free, place.lean, place.contest))


def _made_unsure(word: WordVerdict, hearings: int) -> WordVerdict:
    """The verdict, where it is a slip, as unsure and at most as confident as a tie.

    hearings: how many of the three had the script's word.
    """
    if not word.is_wrong:
        return word
    told = (
        "the background is too loud or the room echoes too much to be sure, and "
        f"{_HEARINGS_IN_WORDS[hearings]} had the script's words here"
    )
    confidence = None
    if word.heard is not None:
        confidence = TIE if word.confidence is None else min(word.confidence, TIE)
    return decided(word, "poor sound", told, verdict="unsure", confidence=confidence)
