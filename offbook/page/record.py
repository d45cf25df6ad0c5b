"""Speaking a piece: the screen with the one button, and where its sound goes.

The browser sends the sound in small numbered pieces, several at once where it has fallen behind. The answer
says which piece is wanted next, so that one that was lost on the way is sent again, and how far the performer
is in the text. Recordings made elsewhere come in slices in the same way, or as a plain form.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from flask import Blueprint, Response, jsonify, request

from offbook import desk
from offbook import journal as journals
from offbook.errors import RecordingError
from offbook.intake import at_least
from offbook.moment import local_day
from offbook.page.app import go, rendered, url
from offbook.page.capture import MOST_PIECES, PIECE_SECONDS, RATES, Spell
from offbook.page.forms import FieldError
from offbook.page.opened import Opened
from offbook.page.room import Room
from offbook.page.speaking import OpenCapture
from offbook.page.turns import Job
from offbook.page.uploads import ENDINGS, LARGEST_FORM, SLICE, Upload, begin_upload, open_upload
from offbook.phrasing import MINUTE, SHARE_DECIMALS
from offbook.sampling import SAMPLE_BYTES
from offbook.words import numbered

if TYPE_CHECKING:
    from collections.abc import Sequence

    from offbook.partner import Act, Manners
    from offbook.script import Script
    from offbook.words import Word

LARGEST_PIECES = MOST_PIECES * round(SAMPLE_BYTES * PIECE_SECONDS * RATES[1])  # bytes, at the highest rate
# Set by hand.
_LEAST_SILENCE, _MOST_SILENCE = 1.0, 60.0  # s before a prompt that can be chosen
_SOON_DONE = 2.0  # s for which the answer waits for notes that are nearly ready: one question less
_SOON_STOPPED = 3.0  # s for which the answer waits for a hearing that is being stopped


def add_record(place: Blueprint, room: Room) -> None:
    """The routes of speaking a piece and of what becomes of its sound."""
    _add_screen(place, room)
    _add_capture(place, room)
    _add_capture_told(place, room)
    _add_uploads(place, room)
    _add_jobs(place, room)


def _add_screen(place: Blueprint, room: Room) -> None:
    @place.get("/piece/<piece>/speak")
    def speak(piece: str) -> Response:
        there = room.opened(piece)
        from offbook.schedule import CAUTION, voice_note

        with room.journal.reading() as conn:
            day = local_day(room.clock(), there.piece.zone)
            used = journals.voice_seconds(conn, there.piece.performer_id, day) / MINUTE
            cap = journals.performer_named(conn, there.piece.performer).voice_minutes
            waiting = journals.unjudged(conn, there.piece.id)
        return rendered(
            "speak.html",
            piece=there.piece,
            rows=_rows(there),
            cues=bool(there.version.script.cues),
            count=len(there.version.words),
            open_now=room.speaking.still_open(there.piece.id),  # before what is left: it may go in between
            left=room.speaking.left(there.piece.id),
            waiting=waiting,
            care=f"{voice_note(used, cap)} {CAUTION}",
            piece_seconds=PIECE_SECONDS,
            most_pieces=MOST_PIECES,
            slice=SLICE,
            endings=",".join(sorted(ENDINGS)),
        )


def _rows(there: Opened) -> list[dict[str, Any]]:
    """The speech as it is shown while it is spoken: lines or sentences, each with its words and its cues."""
    from offbook.words import as_written

    script, words = there.version.script, there.version.words
    lines = {line.n: line for line in script.lines}
    cues: dict[int | None, list[Any]] = {}
    for cue in script.cues:
        cues.setdefault(cue.before_line, []).append(cue)
    found, paragraph = [], 0
    for each in numbered(script, words):
        line = lines[words[each.first].line]
        found.append(
            {
                "n": each.number,
                "gap": paragraph not in (0, line.paragraph),
                "cues": [(c.speaker, " ".join(c.text.split())) for c in cues.pop(line.n, ())],
                "words": [(i, as_written(script, words, i, i), _apart(script, words, i)) for i in each.span],
            }
        )
        paragraph = line.paragraph
    return found


def _apart(script: Script, words: Sequence[Word], i: int) -> str:
    """What stands between a word and the next: a blank, or nothing, as in ill-disposed."""
    between = script.text[words[i].end : words[i + 1].start] if i + 1 < len(words) else ""
    return " " if not between or any(c.isspace() for c in between) else ""


def _add_capture(place: Blueprint, room: Room) -> None:
    @place.post("/piece/<piece>/speak")
    def begin(piece: str) -> Response:
        there = room.opened(piece)
        manners = _manners(room, there) if "partner" in request.form else None
        return _begun(*room.speaking.begin(there.piece, there.version, _rate(), manners))

    @place.post("/capture/<key>/go-on")
    def go_on(key: str) -> Response:
        there = room.opened(room.speaking.piece_in(key))
        manners = _manners(room, there) if "partner" in request.form else None
        return _begun(*room.speaking.go_on(key, _rate(), manners))

    @place.post("/capture/<key>/<int:spell>/<int:number>")
    def sound(key: str, spell: int, number: int) -> Response:
        request.max_content_length = LARGEST_PIECES
        spoken, wanted = room.speaking.add(
            key, spell, number, request.get_data(), last="last" in request.args, unsent=_count("unsent")
        )
        live = spoken.live
        return jsonify(
            next=wanted,
            seconds=round(spoken.capture.seconds, 2),
            place=live.place,
            done=live.done.is_set(),
            acts=[_act(act) for act in live.acts[_count("acts") :]],
            ready=live.ready,
            behind=round(live.behind, 2),
            unheard=live.unheard,
        )


def _add_capture_told(place: Blueprint, room: Room) -> None:
    """What else the page reports while somebody speaks: the partner, the end, and that it is being closed."""

    @place.post("/capture/<key>/partner")
    def partner(key: str) -> Response:
        """Tell the partner that a prompt is asked for, or that a line begins to be heard or is over."""
        live, what = room.speaking.spoken(key).live, request.form.get("what", "")
        number, at = int(float(_digits("id"))), float(_digits("at"))
        if what == "ask":
            live.tell(lambda p: p.rehearsal.ask())
        elif what == "playing":
            live.tell(lambda p: p.rehearsal.playing(number, at))
        elif what == "said":
            live.tell(lambda p: p.rehearsal.said(number, at))
        return jsonify(taken=True)

    @place.post("/capture/<key>/end")
    def end(key: str) -> Response:
        job = room.speaking.end(key)
        if not request.headers.get("Accept", "").startswith("application/json"):
            return go("job", key=job.key)
        job.over.wait(timeout=_SOON_DONE)
        return jsonify(_told(room, job))

    @place.post("/capture/<key>/leave")
    def leave(key: str) -> Response:
        """The page is being closed: another can go on at once."""
        room.speaking.spoken(key).leave()
        return jsonify(left=True)

    @place.get("/capture/<key>/closed")
    def closed(key: str) -> Response:
        """Whether nobody speaks into the capture any more; the answer waits some seconds for that."""
        return jsonify(closed=room.speaking.closed(key))

    @place.post("/capture/<key>/drop")
    def drop(key: str) -> Response:
        spoken = room.speaking.spoken(key)
        room.speaking.drop(key)
        return go("speak", piece=spoken.piece.id)


def _begun(spoken: OpenCapture, spell: Spell) -> Response:
    return jsonify(
        key=spoken.capture.about.key,
        spell=spell.number,
        bytes=spell.piece,
        seconds=round(spoken.capture.seconds, 2),
        words=len(spoken.version.words),
        acts=len(spoken.live.acts),
    )


def _count(name: str) -> int:
    value = request.args.get(name, "0")
    return int(value) if value.isdecimal() else 0


def _digits(name: str) -> str:
    value = request.form.get(name, "0")
    return value if re.fullmatch(r"\d{1,6}(\.\d{1,3})?", value) else "0"


def _manners(room: Room, there: Opened) -> Manners:
    """How the partner behaves: what was asked for, and the pauses that the performer means."""
    from offbook.partner import Manners, Patience

    typed = request.form.get("silence", "").strip().replace(",", ".")
    try:
        silence = min(_MOST_SILENCE, max(_LEAST_SILENCE, float(typed))) if typed else None
    except ValueError as e:
        raise FieldError(f"“{typed}” is not a number of seconds", "write a number, such as 4") from e
    with room.journal.reading() as conn:
        usual = desk.usual_pauses(conn, there.piece, there.version)
    held = desk.marked_pauses(there.version, there.pencil)
    return Manners(Patience(silence), "aloud" in request.form, held, usual)


def _act(act: Act) -> dict[str, Any]:
    """What the partner asks for, for our scripts."""
    from offbook.partner import Hush, Say

    if isinstance(act, Say):
        speaker = act.line.speaker if act.line is not None else ""
        return {"kind": "say", "id": act.id, "text": act.text, "aloud": act.aloud, "speaker": speaker}
    if isinstance(act, Hush):
        return {"kind": "hush", "id": act.id}
    return {"kind": type(act).__name__.lower()}


def _rate() -> int:
    value = request.form.get("rate", "")
    if not value.isdecimal():
        raise FieldError("the microphone did not say its sampling rate", "load the page again")
    return int(value)


def _add_uploads(place: Blueprint, room: Room) -> None:
    @place.post("/piece/<piece>/recording")
    def send(piece: str) -> Response:
        """A recording as a plain form."""
        request.max_content_length = at_least(LARGEST_FORM)
        there = room.opened(piece)
        given = request.files.get("recording")
        if given is None or not given.filename:
            raise RecordingError("no recording was chosen", "choose a file, or drop it onto the page")
        upload = begin_upload(room.home / "coming-in", there.piece.id, given.filename)
        while block := given.stream.read(SLICE):
            upload.add(upload.slices, block)
        return go("job", key=hear_upload(room, there, upload).key)

    @place.post("/piece/<piece>/upload")
    def begin_slices(piece: str) -> Response:
        there = room.opened(piece)
        name = request.form.get("name", "")
        return jsonify(key=begin_upload(room.home / "coming-in", there.piece.id, name).key)

    @place.post("/upload/<key>/<int:number>")
    def take_slice(key: str, number: int) -> Response:
        request.max_content_length = SLICE + 1
        upload = open_upload(room.home / "coming-in", key)
        return jsonify(next=upload.add(number, request.get_data()))

    @place.post("/upload/<key>/end")
    def end_slices(key: str) -> Response:
        upload = open_upload(room.home / "coming-in", key)
        job = hear_upload(room, room.opened(upload.piece), upload)
        return jsonify(_told(room, job))

    @place.post("/upload/<key>/drop")
    def drop_slices(key: str) -> Response:
        open_upload(room.home / "coming-in", key).drop()
        return jsonify(gone=True)

    @place.post("/piece/<piece>/unjudged/<key>")
    def hear_kept(piece: str, key: str) -> Response:
        """Hear a kept recording whose hearing was interrupted."""
        there = room.opened(piece)
        with room.journal.reading() as conn:
            stored = next((r for r in journals.unjudged(conn, there.piece.id) if r.id == key), None)
        if stored is None:
            raise RecordingError("this recording was heard already, or deleted", "look at the notes")
        path = room.journal.recordings / stored.path
        job = Job(
            there.piece.performer_id,
            there.piece.id,
            there.piece.name,
            lambda job: room.hear_again(job, there.piece, there.version, path, stored),
            file=path,
        )
        return go("job", key=room.turns.add(job).key)


def hear_upload(room: Room, there: Opened, upload: Upload) -> Job:
    """Put a recording that has come in as a whole into the queue. It is in the journal before it is heard."""
    from offbook import audio

    try:
        audio.probe(upload.path)
    except RecordingError as e:
        upload.drop()
        raise RecordingError(e.what.replace(str(upload.path), upload.name), e.do) from e
    stored = room.keep(there.piece, upload.path, room.clock())
    path = upload.path if stored is None else room.journal.recordings / stored.path
    if stored is not None:
        upload.drop()

    def work(job: Job) -> str:
        try:
            return room.hear_again(job, there.piece, there.version, path, stored)
        finally:
            upload.drop()

    piece = there.piece
    return room.turns.add(Job(piece.performer_id, piece.id, piece.name, work, file=path, called=upload.name))


def _add_jobs(place: Blueprint, room: Room) -> None:
    @place.get("/hearing/<key>")
    def job(key: str) -> Response:
        found = _job(room, key)
        if request.headers.get("Accept", "").startswith("application/json"):
            return jsonify(_told(room, found))
        if found.state == "done":
            return go(found.screen, piece=found.piece, run=found.result)
        with room.journal.reading() as conn:
            piece = next(p for p in journals.pieces_of(conn) if p.id == found.piece)
        return rendered(
            "job.html", piece=piece, job=found, before=room.turns.before(found), failed=found.problem
        )

    @place.post("/hearing/<key>/stop")
    def stop(key: str) -> Response:
        found = _job(room, key)
        found.stop()
        found.over.wait(timeout=_SOON_STOPPED)
        return go("job", key=key)


def _job(room: Room, key: str) -> Job:
    found = room.turns.job(key)
    if found is None:
        raise RecordingError("this is no longer being heard", "look at the notes of the piece")
    return found


def _told(room: Room, job: Job) -> dict[str, Any]:
    """How far a job is, for our scripts."""
    told: dict[str, Any] = {
        "state": job.state,
        "doing": job.doing,
        "share": round(job.share, SHARE_DECIMALS),
        "before": room.turns.before(job),
        "at": url("job", key=job.key),
    }
    if job.state == "done":
        told["notes"] = url(job.screen, piece=job.piece, run=job.result)
    if job.problem is not None:
        told |= {"what": job.problem.what, "do": job.problem.do}
    return told
