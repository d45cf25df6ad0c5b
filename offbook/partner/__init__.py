"""The partner: somebody who reads the other parts, follows in the script, and prompts.

    partner = partner_for(script, words, recogniser, Manners(Patience(silence=4.0)))
    acts = partner.rehearsal.start()          # a list of Say, Hush, Hold, Over
    acts = partner.feed(pcm)                  # 16-bit mono PCM at 16 kHz from the microphone, any length
    own = partner.own()                       # the same sound without the partner's voice, for a `Listener`
    partner.rehearsal.place                   # how many script words are past, to show where they are

After each `Say` whose `aloud` is true: say its text, `rehearsal.playing(id)` when it begins to be heard,
`rehearsal.said(id)` when it is over; both return further acts. Where `aloud` is false, show the text and
report nothing. `rehearsal.ask()` is for the key that asks for a prompt. A `Hold` comes when a pause that the
performer marked has lasted as long as the silence before a prompt: tell them that they can call for one.
After `Over`, or whenever the performer stops, call `partner.own(last=True)`, and read `rehearsal.prompts`,
`rehearsal.pick_ups` and `rehearsal.played`; `notes.review(script, words, run, prompts_given(partner))` puts
the prompts among the notes.

Times are seconds of the sound fed in. Where the sound is played elsewhere (by a page), pass `at` to `playing`
and `said`. Nothing here plays, prints, waits or looks at a clock, so a test can run a whole scene in
milliseconds: feed `Rehearsal` sound made by hand and `Utterance` words, or give `Partner` an `Ear` of your
own.
"""

from __future__ import annotations

from offbook.partner.ear import (
    Ear,
    LiveEar,
    Utterance,
    phrases_for,
)
from offbook.partner.follower import (
    Follower,
    Spot,
)
from offbook.partner.live import (
    Manners,
    OwnSound,
    Partner,
    partner_for,
    prompts_given,
)
from offbook.partner.loudspeaker import (
    Played,
)
from offbook.partner.prompter import (
    Patience,
    Prompt,
)
from offbook.partner.rehearsal import (
    Act,
    Hold,
    Hush,
    Over,
    PickUp,
    Rehearsal,
    Say,
)
from offbook.partner.scene import (
    PartnerLine,
    PlayedScene,
    Turn,
    scene_of,
)

__all__ = [
    "Act",
    "Ear",
    "Follower",
    "Hold",
    "Hush",
    "LiveEar",
    "Manners",
    "Over",
    "OwnSound",
    "Partner",
    "PartnerLine",
    "Patience",
    "PickUp",
    "Played",
    "PlayedScene",
    "Prompt",
    "Rehearsal",
    "Say",
    "Spot",
    "Turn",
    "Utterance",
    "partner_for",
    "phrases_for",
    "prompts_given",
    "scene_of",
]
