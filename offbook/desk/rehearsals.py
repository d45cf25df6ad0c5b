"""A piece run straight through with the partner, live: recorded, judged, and put into the journal.

The sound is on disk before it is heard, the recording is in the journal before it is judged, and the verdicts
are committed before they are shown. Whoever drives a rehearsal gives it the sound, a voice and a `Front`.
"""

from __future__ import annotations

import wave
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from offbook.desk.cues import cues_picked_up
from offbook.desk.finding import chosen_piece, draft_of
from offbook.desk.journal_open import opened_journal
from offbook.desk.listening import Heard, reviewed
from offbook.desk.meant_pauses import marked_pauses, usual_pauses
from offbook.desk.run_throughs import Saved, commit_run
from offbook.errors import OffbookError, RecordingError
from offbook.sampling import SAMPLE_BYTES

if TYPE_CHECKING:
    from offbook.audio import Arriving, SoundReport
    from offbook.desk.live_sound import LiveSound
    from offbook.desk.model_loading import Loading
    from offbook.desk.voices import Voice
    from offbook.hear import Listener
    from offbook.journal import Journal
    from offbook.partner import Act, Manners, Partner, PartnerLine, PickUp, Prompt
    from offbook.records import Piece, Version


@dataclass(frozen=True)
class Front:
    """What a rehearsal calls to show itself and to ask the performer.

    ready: everything is loaded, and the microphone opens now; told: the partner does this; place: so many
    script words are past; asked: whether the performer has asked for a prompt since the last call; stopped:
    whether the performer wants to stop.
    """

    ready: Callable[[], None]
    told: Callable[[Act], None]
    place: Callable[[int], None]
    asked: Callable[[], bool]
    stopped: Callable[[], bool]


@dataclass(frozen=True)
class Wishes:
    """How the performer wants the rehearsal.

    silence: seconds until a prompt, None for only when they call; aloud: prompts are spoken, and not only
    shown; keep: keep the recording, None for what the piece says.
    """

    silence: float | None = 4.0
    aloud: bool = True
    keep: bool | None = None


@dataclass(frozen=True)
class Rehearsed:
    """What came of a rehearsal. lines: everybody else's, in order; over: it went to the end of the scene."""

    heard: Heard
    saved: Saved
    prompts: tuple[Prompt, ...]
    pick_ups: tuple[PickUp, ...]
    lines: tuple[PartnerLine, ...]
    over: bool


def rehearse(
    piece_name: str,
    performer: str | None,
    sound: Callable[[], LiveSound],
    voice: Voice | Callable[[tuple[PartnerLine, ...], Loading], Voice],
    loading: Loading,
    wishes: Wishes,
    front: Front,
) -> Rehearsed:
    """Run the piece with the partner, judge it and commit it. Raises OffbookError, and still keeps the sound.

    voice: the partner's, or a function that makes it from the others' lines and the models.
    """
    from offbook.partner import Manners, Patience, scene_of

    with opened_journal() as journal:
        with journal.reading() as conn:
            piece = chosen_piece(conn, piece_name, performer)
            version = draft_of(conn, piece)
            usual = usual_pauses(conn, piece, version)
        manners = Manners(Patience(wishes.silence), wishes.aloud, marked_pauses(version), usual)
        if callable(voice):
            voice = voice(scene_of(version.script, version.words).lines, loading)
        run = _Run(version, manners, loading, voice, front)
        path = _new_file(journal, piece)
        begun = journal.clock()
        try:
            run.listen(sound, path)
            return _kept(journal, piece, version, run, path, begun, wishes.keep)
        except OffbookError as e:
            if path.is_file() and path.stat().st_size > _HEADER:
                raise type(e)(e.what, f"{e.do}; what was recorded is at {path}") from e
            raise


_HEADER = 44  # bytes of a WAVE file that has no sound in it
_ARRIVING = "arriving-"  # the name of a sound file begins so while it is being recorded
_KEY_DIGITS = 12  # of a random key that are enough to tell such files apart; set by hand


def broken_off(journal: Journal, piece: Piece) -> list[Path]:
    """The sound files of rehearsals that were killed: they are on disk, but not in the journal."""
    return sorted((journal.recordings / piece.id).glob(f"{_ARRIVING}*.wav"))


def _new_file(journal: Journal, piece: Piece) -> Path:
    """Where the sound is written while it is being recorded."""
    folder = journal.recordings / piece.id
    folder.mkdir(parents=True, exist_ok=True)
    return folder / f"{_ARRIVING}{journal.key()[:_KEY_DIGITS]}.wav"


def _kept(
    journal: Journal,
    piece: Piece,
    version: Version,
    run: _Run,
    path: Path,
    begun: datetime,
    keep: bool | None,
) -> Rehearsed:
    from offbook.journal import keep_recording

    kept = piece.keep_recordings if keep is None else keep
    stored = keep_recording(journal, piece, path, begun) if kept else None
    heard = run.judge(path)
    if stored is not None:
        heard = replace(heard, recording=journal.recordings / stored.path)
    saved = commit_run(journal, piece, version, heard, stored)
    path.unlink(missing_ok=True)
    rehearsal = run.partner.rehearsal
    return Rehearsed(
        heard, saved, rehearsal.prompts, rehearsal.pick_ups, rehearsal.scene.lines, rehearsal.over
    )


class _Run:
    """A rehearsal that is going on."""

    def __init__(
        self, version: Version, manners: Manners, loading: Loading, voice: Voice, front: Front
    ) -> None:
        from offbook.audio import Arriving
        from offbook.hear import Listener
        from offbook.partner import partner_for

        self._ears = ears = loading.result()
        self._version, self._voice, self._front = version, voice, front
        self.partner: Partner = partner_for(version.script, version.words, ears.first, manners)
        self._listener: Listener = Listener(
            version.words, ears.first, lines=version.script.lines, scorer=ears.second
        )
        self._arriving: Arriving = Arriving()
        self._saying: int | None = None
        self._seconds = 0.0  # of sound recorded; the partner hears it a little later, once it is levelled

    def listen(self, sound: Callable[[], LiveSound], path: Path) -> None:
        """Go from the first cue to the end, or until the performer stops; sound goes to the disk first."""
        self._front.ready()
        file: wave.Wave_write | None = None
        with ExitStack() as after:
            live = sound()
            after.callback(live.close)
            after.callback(self._voice.stop)
            self._act(self.partner.rehearsal.start())
            for piece, rate in live.pieces():
                if file is None:
                    file = after.enter_context(wave.open(str(path), "wb"))
                    file.setparams((1, SAMPLE_BYTES, rate, 0, "NONE", ""))
                # This writes the length anew each time, so that a killed one can be heard.
                file.writeframes(piece)
                self._take(piece, rate)
                if self.partner.rehearsal.over or self._front.stopped():
                    break
        if file is None:
            raise RecordingError(
                "no sound came", "see that the microphone is on, and that programs may use it"
            )

    def _take(self, piece: bytes, rate: int) -> None:
        rehearsal = self.partner.rehearsal
        self._seconds += len(piece) / (SAMPLE_BYTES * rate)
        self._act(self.partner.feed(self._arriving.feed(piece, rate)))
        self._listener.feed(self.partner.own())
        if self._saying is not None and self._voice.over():
            saying, self._saying = self._saying, None
            self._act(rehearsal.said(saying, self._seconds))
        if self._front.asked():
            self._act(rehearsal.ask())
        self._front.place(rehearsal.place)

    def _act(self, acts: list[Act]) -> None:
        from offbook.partner import Hush, Say

        for act in acts:
            self._front.told(act)
            if isinstance(act, Hush):
                self._voice.stop()
                self._saying = None
            elif isinstance(act, Say) and act.aloud:
                self._voice.begin(act.text, act.line.n if act.line is not None else None)
                self._saying = act.id
                self._act(self.partner.rehearsal.playing(act.id, self._seconds))

    def judge(self, path: Path) -> Heard:
        """What was heard, with its notes. Raises RecordingError where nothing of the speech was heard."""
        from offbook.partner import prompts_given

        script, words = self._version.script, self._version.words
        self.partner.feed(self._arriving.finish())
        self._listener.feed(self.partner.own(last=True))
        report: SoundReport = self._arriving.report(path)
        run = self._listener.finish(report)
        prompts, pick_ups = prompts_given(self.partner), cues_picked_up(self.partner.rehearsal)
        return reviewed(script, words, path, report, run, self._listener, self._ears, prompts, pick_ups)
