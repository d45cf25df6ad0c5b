"""What a worker process does with one recording of a pile: finds out which piece it is, and hears it.

A worker loads each model once and keeps it. It writes nothing: only the process that sends the work writes
the journal. So a worker can be killed at any moment, and the same work can be sent again.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from offbook.desk.model_loading import Loading
from offbook.errors import OffbookError, RecordingError
from offbook.intake import digest_of
from offbook.phrasing import PERCENT
from offbook.sampling import SAMPLE_BYTES, SAMPLE_RATE
from offbook.score import chance_as_text
from offbook.scratch import scratch

if TYPE_CHECKING:
    from offbook.desk.listening import Heard
    from offbook.script import Script

# A piece is recognised by its opening. Set by hand: two sentences are enough to tell speeches apart.
OPENING_SECONDS = 20.0
_OPENING_WORDS = 40
# Least likeness of the best piece (0 to 1), and how much less the next one must have.
_SURE, _AHEAD = 0.6, 0.15


@dataclass(frozen=True, slots=True)
class HearingJob:
    """One recording to hear.

    scripts: the pieces that it may be, by name, with their scripts; path: where the worker reads it; digest:
    SHA-256 of its bytes, in hexadecimal; data: the bytes themselves, where the worker cannot read that path;
    model: a name or a folder, None for the default; one_core: keep to one core, because the others hear other
    recordings.
    """

    key: int
    path: str
    scripts: tuple[tuple[str, Script], ...]
    digest: str
    model: str | None = None
    data: bytes | None = None
    one_core: bool = True


@dataclass(frozen=True, slots=True)
class HearingDone:
    """What became of a job: which piece was heard, or why nothing was.

    likeness: of the piece's opening, 0 to 1; what, do: the two lines of an error; likely: where no piece is
    like enough, all of them with their likeness, the most alike first.
    """

    key: int
    piece: str | None
    heard: Heard | None
    likeness: float = 1.0
    what: str = ""
    do: str = ""
    likely: tuple[tuple[str, float], ...] = ()


@lru_cache(maxsize=2)  # models: the one asked for, and the default
def _loaded(model: str | None) -> Loading:
    return Loading(model)


def load_models(model: str | None) -> None:
    """Load the model of this process before the first recording comes."""
    _loaded(model).result()


def worker_version(model: str | None) -> tuple[str, str]:
    """The release of offbook and the name of the model that this process would hear with."""
    from offbook import __version__

    return __version__, _loaded(model).result().name


def hear_job(job: HearingJob) -> HearingDone:
    """Hear one recording. A recording that cannot be heard is reported, never raised."""
    if job.data is None:
        return _heard_or_why(job, Path(job.path))
    with scratch() as folder:
        path = Path(folder) / Path(job.path).name
        path.write_bytes(job.data)
        return _heard_or_why(job, path)


def _heard_or_why(job: HearingJob, path: Path) -> HearingDone:
    try:
        return _hear(job, _checked_bytes(path, job.digest))
    except OffbookError as e:
        # Whoever sent it knows it by another name than the copy that is heard here.
        return HearingDone(job.key, None, None, what=e.what.replace(str(path), "it"), do=e.do)


def _checked_bytes(path: Path, digest: str) -> Path:
    """`path`, where it has the bytes with this digest. Raises RecordingError."""
    try:
        found = digest_of(path)
    except RecordingError as e:
        raise RecordingError(
            f"the worker cannot read it: {e.what}", "share the folder with it, or give --send"
        ) from e
    if found != digest:
        raise RecordingError(
            f"the worker found another file at {path}", "share the same folder with it, or give --send"
        )
    return path


def _hear(job: HearingJob, path: Path) -> HearingDone:
    from offbook.desk.listening import listen_to

    loading = _loaded(job.model)
    piece, likeness = job.scripts[0][0], 1.0
    if len(job.scripts) > 1:
        likely = likeness_of_pieces(heard_opening(path, loading), job.scripts)
        piece, likeness = likely[0]
        if likeness < _SURE or likeness - likely[1][1] < _AHEAD:
            return HearingDone(
                job.key,
                None,
                None,
                likeness,
                f"its opening does not show which piece it is "
                f"(most alike: {piece}, {chance_as_text(likeness)})",
                "name the piece in the file's name or in the table",
                likely,
            )
    script = dict(job.scripts)[piece]
    return HearingDone(job.key, piece, listen_to(script, path, loading, one_core=job.one_core), likeness)


def heard_opening(path: Path, loading: Loading) -> tuple[str, ...]:
    """The first words of a recording, heard with no help from any script. Raises RecordingError."""
    from offbook import audio

    decoder = loading.result().first.open()
    sound = audio.survey(path)
    left = round(OPENING_SECONDS * SAMPLE_RATE) * SAMPLE_BYTES
    for chunk in audio.pcm(path, sound=sound):
        decoder.feed(chunk[:left])
        left -= len(chunk)
        if left <= 0:
            break
    return tuple(w.word for w in decoder.finish())


def likeness_of_pieces(
    heard: tuple[str, ...], scripts: tuple[tuple[str, Script], ...]
) -> tuple[tuple[str, float], ...]:
    """How like the words heard each piece's opening is, 0 to 1, the most alike first."""
    from rapidfuzz.fuzz import partial_ratio

    from offbook.words import words_of

    said = " ".join(heard[:_OPENING_WORDS])
    likes = []
    for name, script in scripts:
        opening = " ".join(" ".join(w.spoken[0]) for w in words_of(script)[: len(heard) + _OPENING_WORDS])
        likes.append((name, partial_ratio(said, opening) / PERCENT if said else 0.0))
    return tuple(sorted(likes, key=lambda like: (-like[1], like[0])))
