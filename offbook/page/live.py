"""A capture heard while it is spoken: the notes are nearly ready when the last word is.

The sound goes from the disk's acknowledgement straight to a thread of its own, which levels and measures it
(`audio.Arriving`), gives it to the partner, who follows in the book, and what is the performer's own of it to
the listener that makes the notes. The speech is over when the partner is at its end and it has been quiet.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import CancelledError, Future
from datetime import UTC, datetime
from pathlib import Path
from queue import Queue
from threading import Event, Thread
from typing import TYPE_CHECKING

from offbook.desk import Ears, Heard, Loading, picked_up
from offbook.errors import OffbookError, RecordingError
from offbook.page.capture import PIECE_SECONDS
from offbook.records import Version

if TYPE_CHECKING:
    from offbook.audio import Arriving
    from offbook.hear import Listener
    from offbook.notes import Aside
    from offbook.partner import Act, Manners, OwnSound, Partner, Played

QUIET_SECONDS = 0.5  # of quiet after the last word; set by hand: shorter than a breath before a last phrase
SETTLING_SECONDS = 0.25  # of quiet after the last word from which it is settled, in case it was the last
BEHIND_SECONDS = 0.5  # of sound that waits, from which the partner is behind; set by hand: two pieces
QUIET_DB = 15.0  # so far below the loudest of the last seconds a piece counts as quiet; set by hand
_LOUDEST_OF = 10.0  # s over which the loudest is looked for

Told = Callable[["Partner"], "list[Act]"]  # something that happened outside, for the partner


class Live:
    """One capture being heard. place: words gone by; done: the last word was said, and it is quiet since.

    ready: the speech model is read, and what was said since the beginning is being gone through.
    fed, seconds: seconds of sound taken in, and heard. unsent: seconds that wait in the browser yet.
    acts: what the partner asks for, in order.
    manners: how the partner behaves, None for nobody who speaks or prompts. before: seconds that were spoken
    to a process that is gone, and given, played: the prompts that came in them and what the partner said
    aloud: the partner goes through them without a word. prompts: all that were given so far. keep: is told
    of all prompts and all that was said aloud when something is added. partner_spoke: at the end, whether
    the partner said anything aloud.
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
        self.prompts: tuple[Aside, ...] = tuple(given)
        self.partner_spoke = False
        self.result: Future[Heard] = Future()
        self._version, self._loading, self._manners = version, loading, manners
        self._before, self._given, self._keep = before, tuple(given), keep
        self._played = list(played)  # in the sound before `before`
        self._known = (self.prompts, repr(self._played))
        self._waiting: Queue[tuple[int, bytes] | Told | None] = Queue()
        self._recording: Future[Path] = Future()
        self._levels: list[float] = []
        self._dropped = self._settling = False
        self._listener: Listener | None = None
        self._past: OwnSound  # takes the partner's voice of an earlier process out of the sound
        Thread(target=self._run, name="live hearing", daemon=True).start()

    @property
    def behind(self) -> float:
        """Seconds of sound that were spoken and are not heard yet."""
        return self.unsent + self.fed - self.seconds

    def feed(self, rate: int, sound: bytes) -> None:
        """Take in a piece. rate: samples a second. Returns at once."""
        self.fed += len(sound) / (2 * rate)
        self._waiting.put((rate, sound))

    @property
    def with_partner(self) -> bool:
        """Whether somebody reads and prompts."""
        return self._manners is not None

    def tell(self, told: Told) -> None:
        """Tell the partner of something; what it asks for then is added to `acts`."""
        self._waiting.put(told)

    def end(self) -> None:
        """No more sound comes."""
        self._waiting.put(None)

    @property
    def share(self) -> float:
        """How much of the sound taken in is heard and settled: 0 to 1."""
        if self._listener is None or not self.fed:
            return 0.0
        return self.seconds / self.fed * self._listener.share

    def drop(self) -> None:
        """Nobody wants to know any more: what is not heard yet never is."""
        self._dropped = True
        self._waiting.put(None)
        if self._listener is not None:
            self._listener.drop()

    def judge(self, recording: Path) -> Future[Heard]:
        """What it came to, once `end` was called and the recording is written at `recording`."""
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
        self.seconds += len(sound) / (2 * rate)
        self._levels = [*self._levels[-round(_LOUDEST_OF / PIECE_SECONDS) :], arriving.level]
        self.place = partner.rehearsal.place
        spot = partner.rehearsal.follower.spot
        said_it_all = spot.place == len(self._version.words)
        if said_it_all and not self._settling and self._is_quiet(SETTLING_SECONDS):
            self._settling = True  # while it is waited whether more comes
            listener.cut()
        at_the_end = said_it_all and self._is_quiet(QUIET_SECONDS)
        # With a partner the last word may be somebody else's.
        if at_the_end if self._manners is None else partner.rehearsal.over:
            self.done.set()

    def _ask(self, partner: Partner, acts: list[Act]) -> None:
        """Note what the partner asks for. With nobody there to say it, a cue is over as soon as it is due."""
        from offbook.partner import Say, prompts_told

        if self._manners is not None and self.seconds >= self._before:
            self.acts += acts
            if any(isinstance(act, Say) and act.prompt is not None for act in acts):
                now = [p for p in prompts_told(partner) if p.start >= self._before]
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
        from offbook import notes
        from offbook.hear import how_hard

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
        return Heard(
            script=script,
            words=words,
            recording=recording,
            recorded_at=datetime.fromtimestamp(recording.stat().st_mtime, UTC),
            model=ears.name,
            second_ear=ears.second is not None,
            sound=sound,
            review=notes.notes_on(script, words, run, self.prompts),
            hard=how_hard(listener.settled),
            pick_ups=picked_up(partner.rehearsal) if self._manners is not None else (),
        )


def _thrown_away() -> RecordingError:
    return RecordingError("this was thrown away", "begin a new one")
