"""What all screens share while the server runs: the open journal, the speech model, what is being heard."""

from __future__ import annotations

import secrets
from collections import OrderedDict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from threading import Lock, Thread
from typing import TYPE_CHECKING

from offbook import desk
from offbook.desk import Heard, Loading
from offbook.journal import Journal
from offbook.page.opened import Opened, open_piece
from offbook.page.speaking import Speaking
from offbook.page.turns import Job, Turns
from offbook.records import Piece, Recording, RunRow, Version

if TYPE_CHECKING:
    from offbook.audio import SoundReport
    from offbook.desk import ReviewedTake
    from offbook.journal import NotCarried
    from offbook.markup import MarkedScript
    from offbook.notes import Aside, Review
    from offbook.timing import Pace

# Set by hand.
MARKED = 8  # marked scripts that are kept ready
REVIEWED = 8  # reviews that are kept ready: each holds the pitch and the loudness of its recording
IMPORTS = 8  # imports whose differences can still be settled by pressing
_KEY_BYTES = 12  # random bytes of the key of an import


@dataclass(frozen=True, slots=True)
class Import:
    """The result of an import. read: what came in, in words; found: what differs now; left: left out."""

    read: str
    found: list[desk.Difference]
    left: tuple[NotCarried, ...]


class Room:
    """What one server shares: one journal, one speech model, and what is kept ready while the server runs.

    messages: what waits to be shown, by session; loading: the speech models, loaded once for everybody;
    sounds: a sentence on the sound of a run-through, by its key; reviews: the line notes as they were heard,
    by the same key; reviewed: reviews of the delivery, by the run-through's row (a correction changes it) and
    by when the pencil marks were written; imports: imports whose differences can still be settled, by a key
    of our own.
    """

    def __init__(self, journal: Journal, loading: Loading | None = None) -> None:
        self.journal = journal
        self.messages: dict[str, list[str]] = {}
        self.loading = loading if loading is not None else Loading(None)
        self.sounds: dict[str, str] = {}
        self.reviews: dict[str, Review] = {}
        self.reviewed: OrderedDict[tuple[RunRow, float], ReviewedTake] = OrderedDict()
        self.imports: OrderedDict[str, Import] = OrderedDict()
        self.turns = Turns()
        self.speaking = Speaking(self)
        self._marked: OrderedDict[tuple[str, float, Pace], MarkedScript] = OrderedDict()
        self._marking = Lock()

    @property
    def home(self) -> Path:
        """The folder of everything that is kept."""
        return self.journal.home

    @property
    def clock(self) -> Callable[[], datetime]:
        """Gives the present moment."""
        return self.journal.clock

    def opened(self, key: str) -> Opened:
        """The piece with this key, with its newest draft. Raises JournalError."""
        return open_piece(self.journal, key)

    def marked(self, there: Opened) -> MarkedScript:
        """The marked script of a piece, with its pencil marks as they are now."""
        from offbook import markup, pencil

        pace = self._pace(there)
        key = (there.version.id, there.penciled_at, pace)
        with self._marking:  # there is one parser, and what it has parsed for one window serves the next
            if key not in self._marked:
                own = pencil.load_pencil(there.pencil, there.version.words)
                self._marked[key] = markup.mark(there.version.script, there.version.words, own, pace)
                while len(self._marked) > MARKED:
                    self._marked.popitem(last=False)
            return self._marked[key]

    def _pace(self, there: Opened) -> Pace:
        """The performer's own pace where the journal has timed them, else the usual one."""
        from offbook import timing

        with self.journal.reading() as conn:
            readings = desk.readings_in(conn, there.piece.performer_id)
        return timing.calibrate(readings, timing.tempo_of(there.version.script, there.version.words))

    def keep_reviewed(self, key: tuple[RunRow, float], found: ReviewedTake) -> None:
        """Keep a review ready: measuring takes seconds, and pressing a place loads nothing again."""
        self.reviewed[key] = found
        while len(self.reviewed) > REVIEWED:
            self.reviewed.popitem(last=False)

    def keep_import(self, done: Import) -> str:
        """Keep the result of an import, so that it can be looked at and settled; returns its key."""
        key = secrets.token_hex(_KEY_BYTES)
        self.imports[key] = done
        while len(self.imports) > IMPORTS:
            self.imports.popitem(last=False)
        return key

    def warm(self) -> None:
        """Begin to load what the first screen of a text would have to wait for."""
        from offbook import script as scripts
        from offbook.thoughts import shifts_of
        from offbook.words import words_of

        def load() -> None:
            speech = scripts.parse_script("The door is open, and the wind comes in.")
            shifts_of(speech, words_of(speech))

        Thread(target=load, name="parser", daemon=True).start()

    def keep(self, piece: Piece, source: Path, at: datetime) -> Recording | None:
        """Keep a recording in the journal before it is judged, where the piece keeps any."""
        return desk.keep_recording_once(self.journal, piece, source, at) if piece.keep_recordings else None

    def commit(self, piece: Piece, version: Version, heard: Heard, stored: Recording | None) -> str:
        """Commit a run-through; returns its key."""
        saved = desk.commit_run(self.journal, piece, version, heard, stored)
        self.reviews[saved.run.id] = heard.review
        if heard.sound.line is not None:
            self.sounds[saved.run.id] = heard.sound.line
        return saved.run.id

    def hear_again(
        self,
        job: Job,
        piece: Piece,
        version: Version,
        path: Path,
        stored: Recording | None,
        sound: SoundReport | None = None,
        prompts: Sequence[Aside] = (),
    ) -> str:
        """Hear a whole recording from its file and commit it; returns the key of its run-through.

        prompts: those that the partner only showed.
        """
        heard = desk.listen_to(version.script, path, self.loading, sound, job.step, prompts=prompts)
        return self.commit(piece, version, heard, stored)

    def finish(self) -> None:
        """Finish what is being heard, before the server stops."""
        self.turns.close()
        self.speaking.close()
