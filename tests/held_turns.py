"""Held values of turns and reasons: what changes at each step of short passages, told in words.

Each passage is two or three sentences of our own for one thing that the stage tells: who is spoken to, what
for, what about, when; a contrast, an answer, a list.
"""

from __future__ import annotations

from collections.abc import Iterator

from offbook.script import parse_script
from offbook.thoughts.shift import _Speech
from offbook.words import words_of
from tests.held import Rows

FILLER = (
    "The lamp was lit before the tide came in and nobody on the long wall by the water asked who had "
    "carried up the oil that winter. It burned all night. "
)  # more words than separate two calls on one person
PASSAGES = (
    """
I came to bury him, not to praise him. It was time for him to go, and he waited for the boat to come.
He rowed in order to live, even though it was cold, because of the boy, so as to reach the land.
It seems to me as if he slept. He looked as though he slept. She is as cold as the sea, as far as I can
    see.
It was so cold that nobody slept. It was such a night that nobody slept. He said that it was late.
It is late, he said, and then he went. “It is late,” he said. He wondered whether she would come.
While I slept, you sang. I slept while you sang. Whether he comes or stays, we go. We go, whether he
    comes or not.
Rather than wait, she swam. Far from the sea, we slept. He is kind, or rather he is slow. He had nothing
    but a rope.
Who goes there? Nobody. Is it late? Yes. It is. Is it late? No, tell me the hour.
Why did he go? Because he was cold. Who is it? Who calls? Is it you: or is it the wind? I think it is
    you.
Come, night, and hide me. Therefore, keeper, wait. I said you were late, Ada, and you laughed.
Rosa and Anna: what is in a name? Anna, my sister, is cold. Give me the lamp, Ada! My own heart, be
    still. Heart, be still.
Ada, you are late. {filler}Ada, come here. Peter, you are late. {filler}Ada, do you hear me?
You are late. {filler}You are early. I was late. {filler}I am early now.
Here comes the keeper with his lamp. See, she comes. Soft, somebody comes. He comes home every night.
It was a long day. Good night, my friends. Farewell, all of you. Good evening, friends.
    {filler}Farewell.
Last week the letters stopped. In 1994 I played the king. Two years ago I left. And in the winter we
    slept.
Now I go. Once there was a lamp. Today it is gone. But tonight it burns. If he comes, I go. And if he
    stays, I stay.
My first comfort is the lamp. {filler}My second comfort is the sea. {filler}My third comfort is sleep.
Some of you rowed against the tide that night. {filler}Some of you slept in your beds. {filler}Some of
    you sang.
I was cold. Therefore I went in. So I slept. So much for that. Next, the oil. Then he came. Thus it
    ended. But why?
I will think of it. I'll go. I'll have to go. I'll have no more of it. Let me think. Let us begin. Will
    I go? And so I will.
Men are fools. The men are fools. A lamp needs oil. All men sleep. Every keeper sleeps. I know that men
    are fools.
Leander, he would have lived. I am the man. I call that piece a wonder. I did consent. The harbour mouth
    is dark.
Edward's sons are dead. His wife's old brother rang. I found the brush yesterday. The silver box was
    hidden there.
We slept. We sleep. We shall sleep. We slept. We shall sleep. We sleep. I never slept, but you sleep
    every night.
Do not go. Don't laugh. Think'st thou so? Go thou and fetch it. Sing they may. Tell me, do you hear? Be
    still! Wait.
Right. The net is torn. No, no. The net is whole. Well, there was a light. Hush! The door is open. Alas,
    he is gone.
Not one. {filler}Not one. He sat. The man who kept the lamp that burned above the door went down to see
    who knocked.
He asked, “Who is there?” Nobody spoke. “Who is there?” he asked. They told me. Is it you? You told me
    so. Go home!
He is not cold; he is tired. It is not the sea: it is the wind. They said yes – I said no. He was old,
    yet he was strong.
The sea is calm. The sea is not calm. She never asked, and he never told. She asked. She never told. The
    end, at last.
To love is to live. To live is to love. The rich sleep, the poor wake. War is over; peace begins. The
    young go, the old stay.
I want to go home. I want to sleep. I want to forget. You may stay. You may go. It may be late. Nobody
    rowed, nobody sang.
Although it rained, we went. We went although it rained. It rained; however, we went. Still, we went. We
    went, though.
O that he were here! May he live! Would he were home! What a night! How cold it is! Why, he is gone.
    Why, then?
The boy, who was cold, sat down. The boy that I saw sat down. Tired of it, she left. She left, singing a
    song. To live, she left.
It’s a flower shop. It’s ours. We run it. I could tell you how we did it. We did it by turning up. They
    left. It seems so.
""".strip()
    .replace("\n    ", " ")
    .split("\n")
)
SCENES = (
    (
        "ROSE: Who left the lamp?\n\nTOM: I did. (He sits.) The boy was cold.\n(Softly.) I lit it again. "
        "[A bell rings.] There it goes!\n\nROSE: Was it?\n\nTOM: It was.\n",
        "TOM",
    ),
    ("ROSE: Who left it?\n\nTOM: I did. The boy was cold.\n\nROSE: Was it you?\n\nTOM: It was.\n", None),
    (
        "But soft, the lamp upon the stair is lit,\nAnd yet no hand has carried up the oil;\n"
        "O that the tide were in! Then would I sit\nBeside the door\n\n"
        "and rest me, love, from toil.\nI never slept\n",
        None,
    ),
    ("THE LAMP WAS OUT AND NOBODY CAME. I SAT THERE, i'm told, ALL NIGHT.\n", None),
    (
        "the lamp was out and nobody came and then somebody knocked and i went down to see who it was and "
        "there was a boy there who was cold\n",
        None,
    ),
    (
        "We came early.\n\nWe waited, but nobody came. They were late.\n\n"
        "They came at last. “Who is it?” we said. Not I.\n\nThe end of it was short; yet we were glad.\n",
        None,
    ),
)


def _told(text: str, part: str | None = None) -> Iterator[str]:
    script = parse_script(text, part=part)
    words = words_of(script)
    speech = _Speech(script, words)
    for i, step in speech.steps.items():
        signs = ", ".join(sorted(speech.turning.signs(step)))
        yield f"  step {words[i].text}: {' | '.join(speech.changes.at(step))} ({signs})"
    for shift in speech.shifts():
        mark = f"{shift.grade}{'?' * shift.open} {words[shift.before_word].text}"
        yield f"  {mark}: {' | '.join(shift.reasons)}"


def passages() -> Iterator[str]:
    """Each passage by itself: what changes at its steps, and its marks with all their reasons."""
    for text in PASSAGES:
        yield text
        yield from _told(text.replace("{filler}", FILLER))


def scenes() -> Iterator[str]:
    """Cues, directions, verse, capitals and a text without any stop."""
    for text, part in SCENES:
        yield text[:60].replace("\n", " / ")
        yield from _told(text, part)


PARTS: dict[str, Rows] = {"what changes in short passages": passages, "marks of scenes and verse": scenes}
