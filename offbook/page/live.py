"""A capture that is heard while it is spoken, so that the notes are nearly ready after the last word.

As soon as a piece of sound is on the disk it goes to a thread of its own. That thread levels and measures it
(`audio.Arriving`), passes it to the partner, who follows in the script, and passes the performer's own sound
to the listener that makes the notes. The speech is over when the partner is at its end and it has been quiet.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import CancelledError, Future
from pathlib import Path
from queue import Queue
from threading import Event, Thread
from typing import TYPE_CHECKING

from offbook.desk import Ears, Heard, Loading, cues_picked_up, reviewed
from offbook.errors import OffbookError, RecordingError
from offbook.page.capture import PIECE_SECONDS
from offbook.records import Version
from offbook.sampling import SAMPLE_BYTES

if TYPE_CHECKING:
    from offbook.audio import Arriving
    from offbook.hear import Listener
    from offbook.notes import Aside
    from offbook.partner import Act, Manners, OwnSound, Partner, Played

# Set by hand.
QUIET_SECONDS = 0.5  # of quiet after the last word that end the speech: shorter than a breath before a phrase
# Of quiet after the last word, after which what was heard is decided, as it may be the end.
SETTLING_SECONDS = 0.25
UNHEARD_SECONDS = 10.0  # without a word of the speech after which the page says so
BEHIND_SECONDS = 0.5  # of sound that waits to be heard, two pieces, from which the partner counts as behind
QUIET_DB = 15.0  # a piece so far below the loudest of the last seconds counts as quiet
_LOUDEST_OF = 10.0  # s in which the loudest is looked for

PartnerEvent = Callable[["Partner"], "list[Act]"]  # something that happened outside, for the partner


class Live:
    """One capture that is being heard.

    manners: how the partner behaves, None for no partner; keep: is called with all prompts, and all that the
    partner said aloud, after each new one; before, given, played: how much of the sound was spoken to an
    earlier process (s), the prompts that were given in it, and what the partner said aloud in it: the partner
    goes through that part without saying anything.

    place: how many script words are past; done: the last word was said, and it has been quiet since; ready:
    the speech model is loaded, and the sound so far is being heard; fed, seconds: how much sound came in, and
    how much of it was heard (s); unsent: how much still waits in the browser (s); acts: what the partner asks
    for, in order; prompts: all prompts so far; partner_spoke: known at the end, whether the partner said
    anything aloud.
    """

    def __init__(
        self,
        version: Version,
        loading: Loading,
        manners: Manners | None = None,
        keep: Callable[[Sequence[Aside], Sequence[Played]], None] = lambda prompts, played: None,
        before: float = 0.0,
        given: Sequence[Aside] = (),
        played: Sequence[Played] = (),
    ) -> None:
        self.place, self.done, self.ready = 0, Event(), False
        self.fed = self.seconds = self.unsent = 0.0
        self.acts: list[Act] = []
        self._unheard = 0.0  # s in which the performer could speak, and no word of the speech was heard
        self.prompts: tuple[Aside, ...] = tuple(given)
        self.partner_spoke = False
        self.result: Future[Heard] = Future()
        self._version, self._loading, self._manners = version, loading, manners
        self._before, self._given, self._keep = before, tuple(given), keep
        self._played = list(played)  # in the sound before `before`
        self._known = (self.prompts, repr(self._played))
        self._waiting: Queue[tuple[int, bytes] | PartnerEvent | None] = Queue()
        self._recording: Future[Path] = Future()
        self._levels: list[float] = []
        self._dropped = self._settling = False
        self._listener: Listener | None = None
        self._past: OwnSound  # takes the partner's voice of an earlier process out of the sound
        Thread(target=self._run, name="live hearing", daemon=True).start()

    @property
    def behind(self) -> float:
        """How much sound was spoken and has not been heard yet (s)."""
        return self.unsent + self.fed - self.seconds

    @property
    def unheard(self) -> bool:
        """Whether the performer has had time to begin, and no word of the speech has been heard."""
        return self.place == 0 and self._unheard >= UNHEARD_SECONDS

    def feed(self, rate: int, sound: bytes) -> None:
        """Take in a piece of sound, and return at once. rate: samples a second."""
        self.fed += len(sound) / (SAMPLE_BYTES * rate)
        self._waiting.put((rate, sound))

    @property
    def with_partner(self) -> bool:
        """Whether there is a partner who reads and prompts."""
        return self._manners is not None

    def tell(self, told: PartnerEvent) -> None:
        """Tell the partner that something happened; what it asks for then is added to `acts`."""
        self._waiting.put(told)

    def end(self) -> None:
        """Note that no more sound will come."""
        self._waiting.put(None)

    @property
    def share(self) -> float:
        """The share of the sound that has been heard and decided on, 0 to 1."""
        if self._listener is None or not self.fed:
            return 0.0
        return self.seconds / self.fed * self._listener.share

    def drop(self) -> None:
        """Stop hearing: nobody wants the result any more."""
        self._dropped = True
        self._waiting.put(None)
        if self._listener is not None:
            self._listener.drop()

    def judge(self, recording: Path) -> Future[Heard]:
        """What was heard, as soon as it is. `end` was called, and the sound is written at `recording`."""
        self._recording.set_result(recording)
        return self.result

    def _run(self) -> None:
        try:
            self.result.set_result(self._hear())
        except CancelledError:
            self.result.set_exception(_thrown_away())
        except OffbookError as e:
            self.result.set_exception(e)
        except BaseException as e:  # whoever waits must hear of it
            self.result.set_exception(e)
            raise

    def _hear(self) -> Heard:
        from offbook.audio import Arriving
        from offbook.hear import Listener
        from offbook.partner import Manners, OwnSound, Patience, partner_for

        ears = self._loading.result()
        script, words = self._version.script, self._version.words
        listener = Listener(words, ears.first, lines=script.lines, scorer=ears.second)
        self._listener = listener
        self._past = OwnSound()
        alone = Manners(Patience(silence=None), aloud=False)
        partner = partner_for(script, words, ears.first, self._manners or alone)
        arriving = Arriving()
        self.ready = True
        self._ask(partner, partner.rehearsal.start())
        while (item := self._waiting.get()) is not None and not self._dropped:
            if isinstance(item, tuple):
                self._take(*item, arriving, partner, listener)
            else:
                self._ask(partner, item(partner))
                self._keep_partner(partner)
        if self._dropped:
            raise _thrown_away()
        left = arriving.finish()
        partner.feed(left)
        listener.feed(self._own(left, partner, last=True))
        return self._judged(arriving, listener, ears, partner)

    def _take(
        self, rate: int, sound: bytes, arriving: Arriving, partner: Partner, listener: Listener
    ) -> None:
        pcm = arriving.feed(sound, rate)
        partner.rehearsal.behind = self.behind > BEHIND_SECONDS
        self._ask(partner, partner.feed(pcm))
        listener.feed(self._own(pcm, partner))
        self.seconds += len(sound) / (SAMPLE_BYTES * rate)
        self._levels = [*self._levels[-round(_LOUDEST_OF / PIECE_SECONDS) :], arriving.level]
        self.place = partner.rehearsal.place
        if all(each.end is not None for each in partner.rehearsal.played):  # nobody else is speaking
            self._unheard += len(sound) / (SAMPLE_BYTES * rate)
        spot = partner.rehearsal.follower.spot
        said_it_all = spot.place == len(self._version.words)
        if said_it_all and not self._settling and self._is_quiet(SETTLING_SECONDS):
            self._settling = True  # in the meantime, while more may still come
            listener.cut()
        at_the_end = said_it_all and self._is_quiet(QUIET_SECONDS)
        # With a partner, somebody else may have the last word.
        if at_the_end if self._manners is None else partner.rehearsal.over:
            self.done.set()

    def _ask(self, partner: Partner, acts: list[Act]) -> None:
        """Note what the partner asks for. Without a partner a cue is over as soon as it is due."""
        from offbook.partner import Say, prompts_given

        if self._manners is not None and self.seconds >= self._before:
            self.acts += acts
            if any(isinstance(act, Say) and act.prompt is not None for act in acts):
                now = [p for p in prompts_given(partner) if p.start >= self._before]
                self.prompts = (*self._given, *now)
                self._keep_partner(partner)
            return
        for act in acts:
            if isinstance(act, Say) and act.aloud:
                self._ask(partner, partner.rehearsal.playing(act.id))
                self._ask(partner, partner.rehearsal.said(act.id))

    def _aloud(self, partner: Partner) -> list[Played]:
        """What the partner said aloud since the beginning of the sound, in this process or an earlier one."""
        if self._manners is None:
            return self._played
        return [*self._played, *(p for p in partner.rehearsal.played if p.start >= self._before)]

    def _keep_partner(self, partner: Partner) -> None:
        """Have it written down what the partner did so far, where that has changed."""
        known = (self.prompts, repr(self._aloud(partner)))
        if known != self._known:
            self._known = known
            self._keep(self.prompts, self._aloud(partner))

    def _own(self, pcm: bytes, partner: Partner, *, last: bool = False) -> bytes:
        """The performer's own sound of what the partner took in; without a partner, of `pcm`."""
        self._past.feed(pcm if self._manners is None else partner.own(last=last))
        return self._past.take(self._played, last=True)

    def _is_quiet(self, seconds: float) -> bool:
        pieces = round(seconds / PIECE_SECONDS)
        return max(self._levels[-pieces:]) < max(self._levels) - QUIET_DB

    def _judged(self, arriving: Arriving, listener: Listener, ears: Ears, partner: Partner) -> Heard:
        script, words = self._version.script, self._version.words
        self.partner_spoke = bool(self._aloud(partner))
        recording = self._recording.result()
        sound = arriving.report(recording)
        run = listener.finish(sound)
        if not any(w.start is not None for w in run.words):
            raise RecordingError(
                "nothing of the speech was heard",
                "choose another microphone, come closer, and watch the level while you speak",
            )
        pick_ups = cues_picked_up(partner.rehearsal) if self._manners is not None else ()
        return reviewed(script, words, recording, sound, run, listener, ears, self.prompts, pick_ups)


def _thrown_away() -> RecordingError:
    return RecordingError("this was thrown away", "begin a new one")
