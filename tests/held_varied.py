"""Held values of pages that are put together at random: every finder meets every other in them, near its
limits.

The families of `held_script` differ in one thing each. Here headings, names, directions, numbers and lines
of all lengths are in random order, as in texts that people paste. The random numbers have a seed, so the
pages are always the same.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from functools import partial

from tests.held import Rows
from tests.held_pages import picture
from tests.held_script import ACTS, HEADINGS, INSIDE, NAMES

# Spoken rows of verse and prose, of all lengths, with and without stops and capitals at their ends.
SPOKEN = (
    """
The lamp was lit before the tide came in|And nobody was told but you and me,
and carried off its bark to find the sea.
O heavy stair!|Who goes there?|No.|Yes, and no.|I carried it, my friends, on both my shoulders,|Stay.
Stay, and be still until the morning comes|The light, the light is out and no one came
So it was. And so it is.
I never asked for the lantern, and nobody ever told me why it was mine to keep and to carry.
Eleven men went out that night in two small boats, and I will tell you now what I told them{more}
My mother kept it before me. She said, “Never sleep.” I never slept|a harbour, a bell, an oar and a stair
He went down to the sea, and he came back|She sits there every night and waits for him|We sleep and they wake
Enter the house, said he, and close the door|Exit the light|Beat the drum and call the boats in from the sea!
ROSE was my sister’s name|Anna, listen to me!|BEN! Come here!
the clock strikes one, and then it strikes no more
I was nineteen, it was 1962, and I had 7 candles|“Who sat there?” you ask.|It was Act 2 of my life
1 For ever is a long time|5 years have gone|The bell - the bell rings|What? When? Why?
Reads like a letter, it does
to be continued by another hand than mine and by a better|Silence is what I asked for, silence and a chair
""".replace("\n", "|")
    .strip("|")
    .replace(
        "{more}", ": the lamp was lit, it burned until the morning, and it was not the lamp that failed."
    )
    .split("|")
)
CALLED = ("ANNA", "BEN", "OLD ROSE", "Anna", "Ben", "FIRST KEEPER", "ANNA AND BEN", "ALL")
FORMS = (
    "{}\n",
    "{}:\n",
    "{}. ",
    "{}: ",
    "{}\t",
    "{} ({inside})\n",
    "{} ({inside}): ",
    "   {}\n",
    "{} [{inside}] ",
)
TAILS = (
    "THE END",
    "Exit.",
    "Exeunt",
    "End of scene",
    "- Rosa Vane",
    "© 1962 Rosa Vane",
    "3",
    "Page 3 of 9",
    "Fin",
)
GAPS = ("\n", "\n", "\n", "\n\n", "\n\n\n", "\n\n    ", "\n  ", "\n\f")


def page(dice: random.Random) -> str:
    """One page: perhaps a heading, then speeches with other rows between theirs, perhaps an ending."""
    parts = [dice.choice(HEADINGS) + dice.choice(GAPS) for _ in range(dice.choice((0, 0, 1, 1, 2, 3)))]
    names = dice.sample(CALLED, dice.choice((1, 2, 2, 3)))
    form = dice.choice(FORMS)
    play, numbered = dice.random() < 0.5, dice.random() < 0.15
    said = 0
    for _ in range(dice.choice((1, 2, 2, 3, 4))):
        if play:
            parts.append(form.format(dice.choice(names), inside=dice.choice(INSIDE)))
        elif dice.random() < 0.2:
            parts.append(dice.choice(NAMES) + dice.choice(GAPS))
        for _ in range(dice.choice((1, 2, 3, 4, 5, 8))):
            said += 1
            parts.append(_row(dice, said if numbered and said % 5 == 0 else 0))
            if dice.random() < 0.12:
                parts.append(_act(dice))
        parts.append(dice.choice(GAPS))
    if dice.random() < 0.4:
        parts.append(dice.choice(TAILS) + "\n")
    return "".join(parts)


def _row(dice: random.Random, number: int) -> str:
    text = dice.choice(SPOKEN)
    if dice.random() < 0.12:
        words = text.split()
        words.insert(dice.randrange(len(words) + 1), f"({dice.choice(INSIDE)})")
        text = " ".join(words)
    if number:
        text = dice.choice((f"{text}   {number}", f"{number} {text}", f"{text} {number}"))
    return text + dice.choice(GAPS)


def _act(dice: random.Random) -> str:
    act = dice.choice(ACTS)
    return dice.choice(("{}", "({})", "[{}]", "*{}*", "    {}", "{}.")).format(act) + dice.choice(GAPS)


def pages(seed: int, count: int) -> Iterator[str]:
    """Each page on a row, as it is read."""
    for n in range(count):
        text = page(random.Random(f"{seed} {n}"))
        yield f"{n}: {picture(text)}"


SEEDS = range(1, 7)
PARTS: dict[str, Rows] = {f"pages by dice, {seed}": partial(pages, seed, 70) for seed in SEEDS}
