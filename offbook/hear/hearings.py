"""The hearings of one segment: free, leaning and contested, each set against the script around it.

The free hearing has been made as the sound came in. The leaning one expects the script's words; the contested
one has every small word compete with those that sound like it (`hear.grammar`).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TypeVar

from offbook.align import AlignedWord, Alignment, align_part, last_hits
from offbook.hear.grammar import contested_phrases, leaning_phrases
from offbook.recognise import UNKNOWN, HeardWord, Recogniser

_Aligned = tuple[list[HeardWord], Alignment]  # a hearing and its alignment with the script around it
_A = TypeVar("_A")
_B = TypeVar("_B")


@dataclass(frozen=True, slots=True)
class SegmentHearings:
    """The hearings of a segment and their alignments. Times are seconds from the beginning of its sound.

    region: the script around the segment; all script numbers here are counted from its beginning. free, lean,
    contest: what each hearing had; lean and contest are the same list where there was no contested hearing.
    own: which of the leaning words this segment settles; those before them are settled already. script_at:
    the first script word after the last settled one. at_script_end: nothing of the script can follow the
    region. leaning, contested, freely: the three hearings aligned with the region.
    """

    region: Sequence[AlignedWord]
    free: list[HeardWord]
    lean: list[HeardWord]
    contest: list[HeardWord]
    own: range
    script_at: int
    at_script_end: bool
    leaning: Alignment
    contested: Alignment
    freely: Alignment

    @property
    def was_contested(self) -> bool:
        """Whether there was a contested hearing."""
        return self.contest is not self.lean

    def script_words_had(self) -> tuple[int, int]:
        """How many script words of this segment the leaning hearing had, and of these the contested one."""
        own = {
            i
            for s in self.leaning.hits
            if self.own.start <= s.heard_from and s.heard_to <= self.own.stop
            for i in range(s.script_from, s.script_to)
        }
        return len(own), len(own.intersection(last_hits(self.contested)))


def leaning_and_contested(
    sound: bytes,
    region: Sequence[AlignedWord],
    said: Sequence[str],
    recogniser: Recogniser,
    core_is_free: Callable[[], bool],
    contested: bool,
    expected: int,
) -> tuple[_Aligned, _Aligned]:
    """The leaning and the contested hearing of a segment's sound, each with its alignment with the region.

    said: the words freely heard in it. core_is_free: as for `in_order`. contested: whether there is a
    contested hearing in any case. Otherwise there is only one where the leaning hearing departs from the
    script; where it has the script's words one after the other, it is given back twice. expected: the word of
    the region at which the sound probably begins.
    """

    def among(phrases: Sequence[str]) -> _Aligned:
        words = [w for w in recogniser.decode_among(sound, phrases) if w.word != UNKNOWN]
        return words, align_part(region, words, expected)

    if not contested:
        lean = among(leaning_phrases(region, said))
        words, alignment = lean
        if alignment.is_unbroken(len(words)):
            return lean, lean
        return lean, among(contested_phrases(region, said, recogniser.knows))
    lists = leaning_phrases(region, said), contested_phrases(region, said, recogniser.knows)
    lean, contest = in_order(among, lists, core_is_free)
    return lean, contest


def in_order(do: Callable[[_A], _B], items: Sequence[_A], core_is_free: Callable[[], bool]) -> list[_B]:
    """`do` of every item, the results in the order of the items.

    One item is done at a time, and two at a time as soon as `core_is_free` says that the free hearing does
    not need its processor core.
    """
    done: list[_B] = []
    while len(done) < len(items) and not core_is_free():
        done.append(do(items[len(done)]))
    left = items[len(done) :]
    if len(left) <= 1:
        return done + [do(item) for item in left]
    with ThreadPoolExecutor(2, thread_name_prefix="no-free-hearing") as pool:
        return done + list(pool.map(do, left))
