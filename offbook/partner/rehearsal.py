"""A scene run straight through with a partner: what happens goes in, what the partner is to do comes out.

Pure: no sound is played here, nothing printed, no clock looked at. Time is seconds of the performer's sound,
told by the sound itself. Whoever drives a `Rehearsal` hands on the sound (`sound`), what an `Ear` makes of it
(`heard`), a press of the key for a prompt (`ask`), and when something began and ended to be said
(`playing`, `played`); each gives what is to be done now, in order:

- `Say`: say this line or prompt aloud, or show it where `aloud` is false (then `played` is not waited for).
- `Hush`: stop saying that: the performer has come in.
- `Hold`: the silence chosen is over in a pause that the performer marked: say that they may call.
- `Over`: the scene is over.

Where the sound is not heard as it is spoken, as while a speech model is being read, `behind` is set: no words
are given then, since what seems a silence may be over by now. The silence counts on, and when the newest
sound is reached and it is still silent, they are given at once.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from offbook.partner.ear import CALLS, Utterance
from offbook.partner.follower import Follower
from offbook.partner.loudspeaker import OwnWords, Played
from offbook.partner.prompter import Patience, Prompt, Prompter
from offbook.partner.scene import PartnerLine, PlayedScene, Turn
from offbook.partner.voicing import Voicing
from offbook.script import word_set

# s of silence after which the performer's line is taken for done, by what was heard of it: its last word;
# other words for the last two; most of it in other words, or all but the last. Set by hand: the first is the
# gap between two speakers of a conversation (common practice, no source) and what the recogniser is late.
_DONE, _NEARLY, _OTHERWISE = 0.5, 0.9, 1.5
_NEARLY_WORDS = 2
_OTHERWISE_SHARE = 0.7  # of the words of a line, said as written or otherwise
_OVER, _NEARLY_OVER = 1.5, 2.5  # s of the same silences after the last line: nobody waits for a cue
_ECHO = 0.3  # s after the partner's voice in which the room still sounds of it
_QUIET = 0.15  # s without the least sound before words are given
_UNEVEN = 0.3  # s after which small sounds are the room's, in which nobody has begun to speak
_CALL_ALONE = 0.35  # s of silence after "line" that make it a call
_CALL_APART = 3  # words: where the script has "line" as near as that, it is no call unless it stands alone
_SURELY = 2  # words into another turn that are no guess of the recogniser's
_OPENING = 3  # words of the next line by which an early entry is recognised
_STANDS_ALONE = 1.0  # s into a silence from which it does
# Said around a call, and said by somebody who has lost the thread rather than the wording.
_ASKING = word_set("sorry please what what's is the my next yes um uh oh can i have a")
_STUCK = word_set("sorry wait hang forgot remember")


@dataclass(frozen=True, slots=True)
class Say:
    """Something for the partner to say. line: the cue, or prompt: the words given. aloud: not only shown."""

    id: int
    text: str
    aloud: bool
    line: PartnerLine | None = None
    prompt: Prompt | None = None


@dataclass(frozen=True, slots=True)
class Hush:
    """Stop saying `id`."""

    id: int


@dataclass(frozen=True, slots=True)
class Hold:
    """A marked pause before script word `word` has lasted as long as the silence chosen."""

    word: int


@dataclass(frozen=True, slots=True)
class Over:
    """Everything was said."""


Act = Say | Hush | Hold | Over


@dataclass(frozen=True, slots=True)
class PickUp:
    """How soon the performer came in. line: the cue (`Line.n`), word: their first; seconds from its end."""

    line: int
    word: int
    seconds: float


class Rehearsal:
    """One run of `scene`. aloud: prompts are spoken, not only shown. held, usual: see `Prompter`.

    follower: over the scene's words, at their beginning. behind: the performer has spoken on, or been silent,
    since the sound that is given now; whoever gives it says so.
    """

    def __init__(
        self,
        scene: PlayedScene,
        follower: Follower,
        patience: Patience,
        *,
        aloud: bool = True,
        held: frozenset[int] = frozenset(),
        usual: Mapping[int, float] | None = None,
    ) -> None:
        self.scene, self.follower, self.patience = scene, follower, patience
        self.behind = False
        self._prompter = Prompter(scene, patience, held, usual or {})
        self._aloud = aloud
        self._voicing, self._own = Voicing(), OwnWords()
        self._mode: Literal["waiting", "theirs", "mine", "over"] = "waiting"
        self._acts: list[Act] = []
        self._turn = scene.turns[0]
        self._lines: list[PartnerLine] = []  # cues of this turn still to be said
        self._saying: int | None = None
        self._last_id = 0
        self._deaf = 0.0  # up to then the sound may be the partner's
        self._since = 0.0  # silence counts from here at the earliest
        self._voice = -1.0  # when the performer's voice was last heard
        self._entry: PartnerLine | None = None  # the cue that is still to be picked up
        self._pick_ups: list[PickUp] = []
        self._words: tuple[str, ...] = ()  # of the utterance under way, as they were last followed
        self._size = 0  # words of that utterance, everybody's
        self._gone: set[int] = set()  # those of them that are no longer followed
        self._call: float | None = None  # when a call was heard that is not answered yet
        self._lost = False  # what was said since the last word of the script was said by somebody stuck
        self._covered = 0  # words of this turn that were said, as written or otherwise, at most
        self._held_at = -1

    # What whoever drives it asks.

    @property
    def now(self) -> float:
        """Seconds of sound taken in."""
        return self._voicing.now

    @property
    def turn(self) -> Turn:
        """Whose words are due."""
        return self._turn

    @property
    def place(self) -> int:
        """Script words gone by, with those guessed that the recogniser has yet to tell of: to be shown."""
        began = self._voicing.began if self._voice > self._since else -1.0
        return self.follower.place_at(self.now, self._voice, began)

    @property
    def prompts(self) -> tuple[Prompt, ...]:
        """Every prompt given, in order."""
        return tuple(self._prompter.given)

    @property
    def pick_ups(self) -> tuple[PickUp, ...]:
        """How soon each cue was picked up, in order."""
        return tuple(self._pick_ups)

    @property
    def played(self) -> tuple[Played, ...]:
        """Everything the partner said aloud, with when."""
        return tuple(self._own.played)

    @property
    def over(self) -> bool:
        """Whether everything was said."""
        return self._mode == "over"

    @property
    def speaking(self) -> bool:
        """Whether the performer's voice was heard in the last moment."""
        return self._mode == "mine" and self.now - self._voice < _QUIET

    # What happens.

    def start(self) -> list[Act]:
        """Begin with the first turn."""
        self._begin(self.scene.turns[0])
        return self._done()

    def sound(self, pcm: bytes) -> list[Act]:
        """16-bit mono sound at 16 kHz from the performer's microphone, any length."""
        self._voicing.feed(pcm)
        if self._mode == "mine" and (self._voicing.last > self._deaf or self._voicing.last < 0):
            self._voice = self._voicing.last  # none: what seemed a voice was the room
        self._look()
        return self._done()

    def heard(self, heard: Utterance) -> list[Act]:
        """What an ear makes of the sound so far."""
        own = self._own.of(heard.words, heard.at, heard.ended, self._opening())
        self._size = len(heard.words)
        if self._mode in ("mine", "theirs"):
            self._note_call([(i, w) for i, w in own if i not in self._gone], heard.at)
            self._take(tuple(w for i, w in own if i not in self._gone), heard)
        if heard.ended:
            self._gone, self._size, self._words = set(), 0, ()
        self._look()
        return self._done()

    def ask(self) -> list[Act]:
        """The performer pressed the key for a prompt."""
        if self._mode == "mine":
            self._prompt(asked=True)
        return self._done()

    def playing(self, id: int, at: float | None = None) -> list[Act]:
        """What `id` asked for begins to be heard now, or at `at` seconds of sound."""
        for each in self._own.played:
            if each.id == id:
                each.start = self.now if at is None else at
        return self._done()

    def said(self, id: int, at: float | None = None) -> list[Act]:
        """What `id` asked for is over now, or since `at` seconds of sound."""
        self._end(id, self.now if at is None else at)
        return self._done()

    def cut_off(self) -> list[Act]:
        """What is being said was cut off, as when the window closed: it counts as said."""
        if self._saying is not None:
            self._end(self._saying, self.now)
        return self._done()

    # How it goes on.

    def _done(self) -> list[Act]:
        acts, self._acts = self._acts, []
        return acts

    def _end(self, id: int, at: float) -> None:
        """`id` has been said, or interrupted."""
        for each in self._own.played:
            if each.id == id and each.end is None:
                each.end = at
        if id == self._saying:
            self._saying = None
            self._deaf = at + _ECHO
            self._next_line(at)

    def _begin(self, turn: Turn) -> None:
        self._turn, self._lines = turn, list(turn.lines)
        if turn.size:
            self.follower.go(turn.first)
            self._gone, self._words, self._lost = set(range(self._size)), (), False
            self._covered = 0
        self._entry = turn.lines[-1] if turn.lines else None
        self._mode = "theirs"
        self._next_line(self.now)

    def _next_line(self, at: float) -> None:
        """The next cue of this turn, or the performer's words."""
        if self._mode == "theirs" and self._lines:
            line = self._lines.pop(0)
            self._say(Say(self._id(), line.text, True, line=line), self._turn.heard_as)
        elif self._turn.size:
            self._mode = "mine"
            self._since = at
        else:
            self._mode = "over"
            self._acts.append(Over())

    def _id(self) -> int:
        self._last_id += 1
        return self._last_id

    def _say(self, say: Say, words: tuple[str, ...]) -> None:
        self._acts.append(say)
        if say.aloud:
            self._saying = say.id
            kind = "cue" if say.line is not None else "prompt"
            self._own.played.append(Played(say.id, kind, words, self.now))

    def _opening(self) -> list[str]:
        first = self._turn.first
        return [token for w in self.scene.words[first : first + _OPENING] for token in w.spoken[0]]

    def _take(self, own: tuple[str, ...], heard: Utterance) -> None:
        """The performer's words of the utterance under way."""
        fresh = bool(own) and own != self._words
        self._words = own
        if not fresh and not heard.ended:
            return
        before = self.follower.spot.place
        spot = self.follower.hear(own, heard.at, heard.ended)
        if not fresh:
            return
        self._prompter.spoke(spot.place)
        if self._saying is not None and self._own.played[-1].early is not None:
            self._acts.append(Hush(self._saying))
            self._end(self._saying, self.now)
        if self._entry is not None and self._mode == "mine":
            seconds = max(0.0, min(self._voicing.began, heard.at) - self._since)
            self._pick_ups.append(PickUp(self._entry.n, self._turn.first, seconds))
            self._entry = None
        self._lost = spot.astray > 0 and (self._lost or bool(_STUCK & set(own[-spot.astray :])))
        if spot.place != before:
            self._follow_to(spot.place)
        so_far = 0 if spot.place < before - _NEARLY_WORDS else self._covered
        self._covered = max(so_far, spot.place + spot.astray - self._turn.first)

    def _follow_to(self, place: int) -> None:
        """The performer is at `place`: in another turn, if they have left out or repeated a cue.

        One word beyond the turn is no proof: in a silence the recogniser likes to guess the next.
        """
        here = self._turn
        if here.first - _SURELY < place < here.end + _SURELY or self._mode != "mine":
            return
        turn = self.scene.turn_at(place)
        if turn.n != here.n:
            self._turn, self._entry, self._covered = turn, None, 0

    def _look(self) -> None:
        """What is due now in the silence, if it is one."""
        if self._mode != "mine" or self._saying is not None:
            return
        silence = self.now - max(self._voice, self._since)
        if self._call is not None and silence >= _CALL_ALONE:
            if self.behind:
                return
            self._call = None
            self._prompt(asked=True)
        elif self._call is None and silence >= self._line_done():
            later = self.scene.turns[self._turn.n + 1 :]
            if later:
                self._begin(later[0])
            else:
                self._mode = "over"
                self._acts.append(Over())
        elif self._call is None:
            self._look_for_dry(silence)

    def _look_for_dry(self, silence: float) -> None:
        if self.behind:
            return
        spot = self.follower.spot
        waits = self._prompter.waits(spot.place, spot.astray)
        if waits is None:
            chosen = self.patience.silence
            may_call = chosen is not None and silence >= chosen and not self._prompter.all_given
            if may_call and self._held_at != spot.place:
                self._held_at = spot.place
                self._acts.append(Hold(min(spot.place, len(self.scene.words) - 1)))
        elif silence >= waits and (self.now - self._voicing.hint >= _QUIET or silence >= waits + _UNEVEN):
            self._prompt(asked=False)

    def _line_done(self) -> float:
        """The silence (s) after which the line is done, endless where much of it is missing."""
        spot, turn = self.follower.spot, self._turn
        last = turn.n == len(self.scene.turns) - 1
        if not turn.first < spot.place + spot.astray:
            return float("inf")
        left = turn.end - spot.place
        if left <= 0:
            return _OVER if last else _DONE
        if spot.astray and left <= _NEARLY_WORDS:
            return _NEARLY_OVER if last else _NEARLY
        if left == 1 and turn.size > _NEARLY_WORDS:
            return _NEARLY_OVER if last else _OTHERWISE
        if spot.astray and not self._lost and self._covered >= _OTHERWISE_SHARE * turn.size:
            return _NEARLY_OVER if last else _OTHERWISE
        return float("inf")

    def _prompt(self, asked: bool) -> None:
        self._follow_to(self.follower.spot.place)
        prompt = self._prompter.give(self.now, self.follower.spot.place, self._turn, asked)
        words = tuple(t for w in self.scene.words[prompt.first : prompt.end] for t in w.spoken[0])
        text = self.scene.wording(prompt.first, prompt.end)
        self._say(Say(self._id(), text, self._aloud, prompt=prompt), words)
        if not self._aloud:
            self._since = self.now

    def _note_call(self, own: list[tuple[int, str]], at: float) -> None:
        """Note a call for a prompt at the end of what was heard; its words are followed no further."""
        words = [w for _, w in own]
        asking = len(words)
        while asking and (words[asking - 1] in CALLS or words[asking - 1] in _ASKING):
            asking -= 1
        first = next((k for k in range(asking, len(words)) if words[k] in CALLS), None)
        if first is not None and self._may_call(alone=not asking):
            self._call = at
            self._gone |= {i for i, _ in own[first if first == asking else asking :]}
        elif asking and tuple(words) != self._words:
            self._call = None  # it goes on: no call

    def _may_call(self, alone: bool) -> bool:
        """Whether "line" may be a call where the follower is: not where the script has it next."""
        place = self.follower.spot.place
        near = self.scene.words[max(0, place - 1) : place + _CALL_APART]
        expected = any(token in CALLS for w in near for token in w.spoken[0])
        return not expected or (alone and self.now - self._since > _STANDS_ALONE)
