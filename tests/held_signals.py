"""Held values of the signs before they are weighed: what is new at each unit, and what turns at each step.

A shift only tells the reasons for places that are marked; here every sign of every place is written down.
The sentences are our own, at least one for each construction that the stage looks for.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from functools import partial

from offbook.script import parse_script
from offbook.thoughts.contrast import Contrast
from offbook.thoughts.shift import _Speech
from offbook.thoughts.stance import Stance
from offbook.thoughts.weights import phrase_score, thought_score
from offbook.words import words_of
from tests.held import Rows

SENTENCES = """
You may come or not, as you please.
He was tired, and yet he rowed.
It was late; yet nobody slept.
She is small yet strong, but meaning only well she broke it.
They were not few but many.
He came to stay, but the house was shut.
But the lamp was out.
I did not ask for bread, but for work.
Nobody wanted the boat, whatever it cost.
And you, whatever your name is, came too.
However hard he pulled, the door held.
The sea, however, was calm.
However, the sea was calm.
Whether we win or lose, we go on.
Though the road was long, we sang.
We sang, though the road was long.
Tired though he was, he sang.
Instead of bread they gave us stones.
Not only the men but the children worked.
Rather than wait, she swam.
Only the tide knows, and only love can keep us.
I would stay, only my mother is alone.
Still slower went the cart, still climbing.
Still, somebody must go.
It was not so much fear as shame.
She has more friends than you have.
It is colder than last night.
While you slept, I mended the net.
While I waited the boat sailed, while you laughed.
O, that she knew she were here!
Oh that I had a horse.
Oh, you know that it was late.
As though to breathe were life.
If I were king, you would be free.
The boat were better gone.
He went home yesterday.
He goes home now.
He will go home soon.
We shall not see it again.
I've eaten already, and you had eaten too.
Can you hear it?
Will nobody answer me? And why should they?
What do you want; is it bread?
Go home and sleep.
Wait! Come here, all of you!
Let me go!
May you never be cold!
Would he were here!
What a morning!
I am the keeper.
You are the keeper, and thou art my friend.
We are tired, us two.
They left, and she stayed.
It seems that nobody came.
It's a flower shop.
That's the end.
Friends, listen to me.
O Romeo, where are you?
Mr. Chair, I thank you.
My dear old friend, come in.
Ladies and gentlemen, you have waited long.
Anna, my sister, was late.
Anna, you were late.
Peter, go!
Good people, I have seen the sea.
He took the bread, he took the knife, he took the lamp.
Some of you rowed, some of you sang, and some of you slept.
I will speak, and I will write, and I will sing, and I will wait.
No bread, no fire, no light.
Never did he ask, never did he thank, never did he look back.
She ran, she fell, and she rose.
To row, to sing, and to be home by night.
I'll go myself.
Let us begin.
And so I'll have no call now.
I'll have to leave tonight.
Right. The net is torn.
No, no. The net is whole.
Well, suddenly there was a light.
Then somebody knocked.
Now here comes the captain.
She said, “Nobody sails tonight.”
“Nobody sails,” said the captain, and went.
The lamp (nobody lit it) was warm.
There was one thing left: the lamp.
There was one thing left – the lamp.
The captain had a lamp. He carried it himself.
The lamp was old, the lamp was heavy, and the old lamp smoked.
You told me that the lamp was safe; you told me so twice.
He was nothing but kind, and all but one had left.
There was nobody left but him.
In the morning, when the fog had gone, the children who had waited on the wall ran down to the boats.
""".strip().split("\n")
VERSE = """
But soft, the lamp upon the stair is lit,
And yet no hand has carried up the oil;
O that the tide were in! Then would I sit
Beside the door, and rest me from my toil.

Go, little boat, whose rope is in my hand,
Go where the others went, nor turn again;
I saw them leave. I will not leave the land –
Nor you, my friend, who stood with me till then.
"""
OPENINGS = (
    "Right. The net is torn, and nobody has mended it.",
    "Right. Go home at once, all of you. The net is torn, and it was late when they told me.",
    "Go home at once, all of you. The net is torn, and it was late when they told me.",
    "I told you that. Oh, he was tired and he slept. It is late now.",
    "Friends. You have waited long. Are you cold? Come in.",
    "Come. Will you come? I will. I'll come.",
)


def _signs(text: str) -> Iterator[str]:
    script = parse_script(text)
    words = words_of(script)
    speech = _Speech(script, words)
    phrases = {i for i, found in speech.causes.items() if phrase_score(found) > 0 or thought_score(found) > 0}
    units = [0, *sorted(phrases | speech.steps.keys())]
    contrast, stance = Contrast(speech.places, units), Stance(speech.places, units)
    for i in units[1:]:
        new = contrast.signals(i) | stance.signals(i) | speech._outward(i)
        causes = ", ".join(sorted(speech.causes[i]))
        yield f"  {words[i].text}: {', '.join(sorted(new)) or '-'} ({causes})"
    for i, step in speech.steps.items():
        yield f"  step {words[i].text}: {', '.join(sorted(speech.turning.signs(step)))}"


def alone() -> Iterator[str]:
    """Each sentence by itself, after one simple sentence."""
    for sentence in SENTENCES:
        yield sentence
        yield from _signs(f"The boat is old. {sentence}\n")


def opening() -> Iterator[str]:
    """Texts that begin with a single word, with an order, or with something that may be a wish."""
    for text in OPENINGS:
        yield text
        yield from _signs(f"{text}\n")


def together(seed: int, count: int) -> Iterator[str]:
    """Four of the sentences in a row, in random order."""
    for n in range(count):
        text = " ".join(random.Random(f"signs {seed} {n}").sample(SENTENCES, 4))
        yield text
        yield from _signs(f"{text}\n")


def verse() -> Iterator[str]:
    """Two stanzas."""
    yield from _signs(VERSE)


PARTS: dict[str, Rows] = {
    "signs of single sentences": alone,
    "signs of openings": opening,
    "signs of sentences together, 1": partial(together, 1, 20),
    "signs of sentences together, 2": partial(together, 2, 20),
    "signs of verse": verse,
}
