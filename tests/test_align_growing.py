"""Alignment that grows gives what the whole alignment gives."""

from __future__ import annotations

import random

import pytest

from offbook.align import AlignedWord, GrowingAlignment
from offbook.align.alignment import align

TEXT = (
    "the kettle sang before the house was up and every lantern leaned towards the sea "
    "nobody told the baker he was late and every lantern leaned towards the house"
)
WORDS = TEXT.split()


@pytest.mark.heavy
@pytest.mark.parametrize("seed", range(8))
def test_words_aligned_one_by_one_give_the_same_alignment_as_all_at_once(seed: int) -> None:
    """With words left out, put in, changed, and jumps back and ahead, at every moment."""
    rnd = random.Random(seed)
    places = tuple(AlignedWord(((w,),), i % 7 == 0, (w,)) for i, w in enumerate(WORDS))
    growing, heard, at = GrowingAlignment(places), list[str](), 0
    while at < len(WORDS) and len(heard) < 60:
        chance = rnd.random()
        if chance < 0.08:
            at = rnd.randrange(len(WORDS))
        word = rnd.choice(["harbour", "seven", "the", "was"]) if chance > 0.9 else WORDS[at]
        at += 2 if 0.8 < chance < 0.9 else 1
        heard.append(word)
        growing.add([word])
        assert growing.alignment() == align(places, heard)


def test_before_the_first_word_every_script_word_is_missing() -> None:
    """This is so as long as nothing has been heard."""
    places = [AlignedWord(((w,),)) for w in WORDS]
    assert GrowingAlignment(places).alignment() == align(places, [])
