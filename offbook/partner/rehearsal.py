"""A scene run straight through with a partner: what happens goes in, and what the partner is to do comes out.

Nothing here plays a sound, prints or looks at a clock. Times are seconds of the performer's sound, counted
from the sound itself. Whoever drives a `Rehearsal` passes on the sound (`sound`), what an `Ear` heard in it
(`heard`), a press of the key for a prompt (`ask`), and when the partner's voice began and ended (`playing`,
`said`). Each of these returns what is to be done now, in order:

- `Say`: say this line or prompt aloud; where `aloud` is false only show it, and `said` is not waited for.
- `Hush`: stop saying that, because the performer has come in.
- `Hold`: a pause that the performer marked has lasted as long as the silence before a prompt: tell them that
  they can call for one.
- `Over`: the scene is over.

Sometimes the sound is heard later than it was spoken, for example while a speech model is still loading. Then
`behind` is set, and no prompt is given, because what seems to be a silence may already be over. The silence
is counted all the same: when the newest sound has been heard and it is still silent, the prompt comes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from offbook.partner.ear import CALLS, Utterance
from offbook.partner.follower import Follower
from offbook.partner.loudspeaker import OwnWords, Played
from offbook.partner.prompter import Patience, Prompt, Prompter
from offbook.partner.scene import PartnerLine, PlayedScene, Turn
from offbook.partner.voicing import Voicing
from offbook.recognise import UNKNOWN
from offbook.script import word_set

# After how many seconds of silence the performer's line counts as done. It depends on what was heard of the
# line: its last word; other words in place of the last two; or most of it in other words, or all but the last
# word. Set by hand: the first is the usual gap between two speakers in a conversation (common practice, no
# source) and the time by which the recogniser is late. The other numbers here are set by hand too;
# bench/following.py measures what they do together.
_DONE, _NEARLY, _OTHERWISE = 0.5, 0.9, 1.5
_NEARLY_WORDS = 2
_OTHERWISE_SHARE = 0.7  # of the words of a line that were said, as written or in other words
_OVER, _NEARLY_OVER = 1.5, 2.5  # s, the same after the last line: longer, because nobody waits for a cue
_ECHO = 0.3  # s after the partner's voice in which the room still sounds of it
_QUIET = 0.15  # s without the slightest sound before a prompt
_UNEVEN = 0.3  # s by which small sounds delay a prompt at most: after that they count as noise of the room
_CALL_ALONE = 0.35  # s of silence after "line" that make it a call
_CALL_APART = 3  # words: where the script has "line" within so many, it is a call only if it stands alone
_SURELY = 2  # words into another turn that are more than a guess of the recogniser's
_OPENING = 3  # words of the next line by which an early entry is recognised
_STANDS_ALONE = 1.0  # s: a "line" after so long a silence stands alone
# What people say around a call, and what they say when they have lost the thread and not only the wording.
_ASKING = word_set("sorry please what what's is the my next yes um uh oh can i have a")
_STUCK = word_set("sorry wait hang forgot remember")


@dataclass(frozen=True, slots=True)
class Say:
    """Something for the partner to say: `line` is a cue, or `prompt` is a prompt.

    aloud: it is spoken, and not only shown.
    """

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
    """A marked pause before script word `word` has lasted as long as the silence before a prompt."""

    word: int


@dataclass(frozen=True, slots=True)
class Over:
    """The scene is over."""


Act = Say | Hush | Hold | Over


@dataclass(frozen=True, slots=True)
class PickUp:
    """How soon the performer came in after a cue.

    line: the cue (`PartnerLine.n`); word: the performer's first script word; seconds: since the cue ended.
    """

    line: int
    word: int
    seconds: float


def _sounds_stuck(words: Sequence[str]) -> bool:
    """Whether somebody who says this has lost the thread: one such word among others was likely misheard."""
    known = [w for w in words if w != UNKNOWN]
    stuck = sum(w in _STUCK or w in _ASKING for w in known)
    return bool(_STUCK.intersection(known)) and 2 * stuck > len(known)


class Rehearsal:
    """One run through `scene`.

    follower: of the scene's words, not yet used; aloud: prompts are spoken, and not only shown; held, usual:
    see `Prompter`. `behind` is set by whoever passes the sound on, while newer sound is already waiting.
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
        self._mode: Literal["waiting", "theirs", "mine", "over"] = "waiting"  # mine: the performer's words
        self._acts: list[Act] = []
        self._turn = scene.turns[0]
        self._lines: list[PartnerLine] = []  # cues of this turn still to be said
        self._saying: int | None = None
        self._last_id = 0
        self._deaf = 0.0  # until then the sound may be the partner's (s)
        self._since = 0.0  # silence is counted from here at the earliest (s)
        self._voice = -1.0  # when the performer's voice was last heard (s)
        self._entry: PartnerLine | None = None  # the cue that the performer has not picked up yet
        self._pick_ups: list[PickUp] = []
        self._words: tuple[str, ...] = ()  # the performer's, of the utterance in progress, as last followed
        self._size = 0  # how many words that utterance has, the partner's included
        self._gone: set[int] = set()  # which of them are no longer followed
        self._call: float | None = None  # when a call was heard that has not been answered yet (s)
        self._lost = False  # since the last word of the script the performer has sounded stuck
        self._covered = 0  # words of this turn said so far at most, as written or in other words
        self._held_at = -1  # the place of the last `Hold`

    # For whoever drives the rehearsal: how things stand.

    @property
    def now(self) -> float:
        """How much sound has been taken in (s)."""
        return self._voicing.now

    @property
    def turn(self) -> Turn:
        """The turn that is being played."""
        return self._turn

    @property
    def place(self) -> int:
        """How many script words are past, for showing it.

        The newest are a guess from the performer's pace.
        """
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
        """Everything the partner said aloud, and when."""
        return tuple(self._own.played)

    @property
    def over(self) -> bool:
        """Whether the scene is over."""
        return self._mode == "over"

    @property
    def speaking(self) -> bool:
        """Whether the performer's voice was heard just now, during their own line."""
        return self._mode == "mine" and self.now - self._voice < _QUIET

    # For whoever drives the rehearsal: what happens.

    def start(self) -> list[Act]:
        """Begin with the first turn."""
        self._begin_turn(self.scene.turns[0])
        return self._take_acts()

    def sound(self, pcm: bytes) -> list[Act]:
        """Take in sound from the performer's microphone: 16-bit mono at 16 kHz, any length."""
        self._voicing.feed(pcm)
        if self._mode == "mine" and (self._voicing.last > self._deaf or self._voicing.last < 0):
            self._voice = self._voicing.last  # -1 where what seemed to be a voice was the room
        self._look_at_silence()
        return self._take_acts()

    def heard(self, heard: Utterance) -> list[Act]:
        """Take in what an ear has heard in the sound so far."""
        own = self._own.pick(heard.words, heard.at, heard.ended, self._opening())
        self._size = len(heard.words)
        if self._mode in ("mine", "theirs"):
            self._note_call([(i, w) for i, w in own if i not in self._gone], heard.at)
            self._follow(tuple(w for i, w in own if i not in self._gone), heard)
        if heard.ended:
            self._gone, self._size, self._words = set(), 0, ()
        self._look_at_silence()
        return self._take_acts()

    def ask(self) -> list[Act]:
        """Answer the key for a prompt."""
        if self._mode == "mine":
            self._prompt(asked=True)
        return self._take_acts()

    def playing(self, id: int, at: float | None = None) -> list[Act]:
        """Note that the `Say` with this id begins to be heard now, or at `at` (s)."""
        for each in self._own.played:
            if each.id == id:
                each.start = self.now if at is None else at
        return self._take_acts()

    def said(self, id: int, at: float | None = None) -> list[Act]:
        """Note that the `Say` with this id is over now, or has been since `at` (s)."""
        self._end_saying(id, self.now if at is None else at)
        return self._take_acts()

    def cut_off(self) -> list[Act]:
        """Count what the partner is saying as said.

        It was cut off, for example because the window was closed.
        """
        if self._saying is not None:
            self._end_saying(self._saying, self.now)
        return self._take_acts()

    # How the scene goes on.

    def _take_acts(self) -> list[Act]:
        """What is to be done now; asked again, only what is new."""
        acts, self._acts = self._acts, []
        return acts

    def _end_saying(self, id: int, at: float) -> None:
        """The `Say` with this id is over or was interrupted."""
        for each in self._own.played:
            if each.id == id and each.end is None:
                each.end = at
        if id == self._saying:
            self._saying = None
            self._deaf = at + _ECHO
            self._next_line(at)

    def _begin_turn(self, turn: Turn) -> None:
        self._turn, self._lines = turn, list(turn.lines)
        if turn.size:
            self.follower.go(turn.first)
            self._gone, self._words, self._lost = set(range(self._size)), (), False
            self._covered = 0
        self._entry = turn.lines[-1] if turn.lines else None
        self._mode = "theirs"
        self._next_line(self.now)

    def _next_line(self, at: float) -> None:
        """Go on to the next cue of this turn, or to the performer's words, or end the scene."""
        if self._mode == "theirs" and self._lines:
            line = self._lines.pop(0)
            self._say(Say(self._next_id(), line.text, True, line=line), self._turn.heard_as)
        elif self._turn.size:
            self._mode = "mine"
            self._since = at
        else:
            self._mode = "over"
            self._acts.append(Over())

    def _next_id(self) -> int:
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

    def _follow(self, own: tuple[str, ...], heard: Utterance) -> None:
        """Follow the performer's words of the utterance in progress."""
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
            self._end_saying(self._saying, self.now)
        if self._entry is not None and self._mode == "mine":
            seconds = max(0.0, min(self._voicing.began, heard.at) - self._since)
            self._pick_ups.append(PickUp(self._entry.n, self._turn.first, seconds))
            self._entry = None
        self._lost = spot.astray > 0 and (self._lost or _sounds_stuck(own[-spot.astray :]))
        if spot.place != before:
            self._follow_to(spot.place)
        so_far = 0 if spot.place < before - _NEARLY_WORDS else self._covered
        self._covered = max(so_far, spot.place + spot.astray - self._turn.first)

    def _follow_to(self, place: int) -> None:
        """Change to the turn that has `place`: the performer has skipped a cue or gone back before one.

        One word beyond the turn does not prove it: in a silence the recogniser often guesses the next word.
        """
        here = self._turn
        if here.first - _SURELY < place < here.end + _SURELY or self._mode != "mine":
            return
        turn = self.scene.turn_at(place)
        if turn.n != here.n:
            self._turn, self._entry, self._covered = turn, None, 0

    def _look_at_silence(self) -> None:
        """If it is silent, and long enough, let the partner answer a call, go on, or prompt."""
        if self._mode != "mine" or self._saying is not None:
            return
        silence = self.now - max(self._voice, self._since)
        if self._call is not None and silence >= _CALL_ALONE:
            if self.behind:
                return
            self._call = None
            self._prompt(asked=True)
        elif self._call is None and silence >= self._silence_after_line():
            later = self.scene.turns[self._turn.n + 1 :]
            if later:
                self._begin_turn(later[0])
            else:
                self._mode = "over"
                self._acts.append(Over())
        elif self._call is None:
            self._prompt_if_dry(silence)

    def _prompt_if_dry(self, silence: float) -> None:
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

    def _silence_after_line(self) -> float:
        """After how many seconds of silence the line counts as done; infinity where much of it is missing."""
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
        self._say(Say(self._next_id(), text, self._aloud, prompt=prompt), words)
        if not self._aloud:
            self._since = self.now

    def _note_call(self, own: list[tuple[int, str]], at: float) -> None:
        """Note a call for a prompt at the end of what was heard; the follower does not see its words."""
        words = [w for _, w in own]
        asking = len(words)
        while asking and (words[asking - 1] in CALLS or words[asking - 1] in _ASKING):
            asking -= 1
        first = next((k for k in range(asking, len(words)) if words[k] in CALLS), None)
        if first is not None and self._may_call(alone=not asking):
            self._call = at
            self._gone |= {i for i, _ in own[first if first == asking else asking :]}
        elif asking and tuple(words) != self._words:
            self._call = None  # the performer talks on, so it was not a call

    def _may_call(self, alone: bool) -> bool:
        """Whether "line" can be a call here.

        Where the script has that word next, it is one only if it stands alone.
        """
        place = self.follower.spot.place
        near = self.scene.words[max(0, place - 1) : place + _CALL_APART]
        expected = any(token in CALLS for w in near for token in w.spoken[0])
        return not expected or (alone and self.now - self._since > _STANDS_ALONE)
