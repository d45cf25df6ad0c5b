"""The bundle for a brief: the chosen takes copied into one folder, named as asked, compared and noted.

Every copy is read back, and its SHA-256 is compared with the source's before anything is noted; where one
differs, all copies are removed again. offbook itself sends nothing. The performer notes where the files went
and when, and that they were confirmed; offbook reminds them when a confirmation is due.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from offbook.brief import FILE_NAME, Brief
from offbook.desk.briefs import CONSENT, BriefKept, chosen_for, one_brief
from offbook.desk.sheets import filled_template
from offbook.desk.take_log import findings_of_take, unmet_of
from offbook.errors import JournalError
from offbook.intake import RECORDING, open_input
from offbook.journal import (
    add_parcel,
    confirm_parcel,
    mark_sent,
    parcels,
    performers,
    recordings,
    send_parcel,
)
from offbook.moment import local_day
from offbook.outgoing import whole_file, write_whole

if TYPE_CHECKING:
    from offbook.journal import Connection, Journal
    from offbook.records import Parcel, Performer, Piece, TakeRow

# Days after which to ask for a confirmation, where the brief says nothing; common practice, no source.
CONFIRM_DAYS = 3
SUMS = "SHA256SUMS.txt"
CHECKLIST = "checklist.html"
_BLOCK = 1 << 20  # bytes copied at a time; set by hand
_LONGEST_NAME = 150  # characters of a file's name; many drop boxes refuse more than 255 bytes


@dataclass(frozen=True, slots=True)
class BundledFile:
    """One file of a bundle. take: its number; unmet: the points of its check that are not met."""

    piece: str
    take: int
    name: str
    sha256: str
    bytes: int
    unmet: tuple[str, ...] = ()
    judged: bool = True


@dataclass(frozen=True, slots=True)
class Bundle:
    """What was packed for a brief, and where."""

    kept: BriefKept
    performer: str
    folder: Path
    files: tuple[BundledFile, ...]
    parcel: Parcel


def file_name(brief: Brief, performer: str, piece: str, number: int, take: int, ending: str) -> str:
    """A file's name by the brief's pattern; in what is filled in, odd characters become underscores."""
    given = {
        "performer": performer,
        "piece": piece,
        "brief": brief.name,
        "number": str(number),
        "take": str(take),
    }
    clean = {
        k: "".join(c if c.isalnum() or c in "-." else "_" for c in v).strip("._") for k, v in given.items()
    }
    stem = (brief.file_name or FILE_NAME).format(**clean)
    return f"{stem[:_LONGEST_NAME]}{ending}"


def pack_bundle(
    journal: Journal, name: str, performer: str | None, folder: Path, *, place: str | None = None
) -> Bundle:
    """Copy the chosen takes of a brief into `folder`, compare and note them. Raises JournalError.

    place: where the journal says that they lie, where that is not the folder.
    """
    with journal.reading() as conn:
        kept = one_brief(conn, name, performer)
        owner = _owner(conn, kept)
        wanted = _wanted(conn, kept, owner, journal.recordings)
    _check_folder(folder)
    made: list[Path] = []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        files = tuple(_copied(each, folder, made) for each in wanted)
        sums = folder / SUMS
        made.append(sums)
        write_whole(sums, "".join(f"{f.sha256}  {f.name}\n" for f in files))
        sheet = folder / CHECKLIST
        made.append(sheet)
        write_whole(sheet, _checklist(kept, owner, files, local_day(journal.clock(), owner.zone)))
        rows = [{k: v for k, v in asdict(f).items() if k not in ("unmet", "judged")} for f in files]
        with journal.writing() as conn:
            packed = json.dumps(rows, ensure_ascii=False)
            parcel = add_parcel(journal, conn, kept.row, owner.zone, place or str(folder.absolute()), packed)
    except OSError as e:
        _remove(made)
        raise JournalError(
            f"the bundle cannot be written into {folder}: {e.strerror or e}",
            "free some space there, or name another folder; nothing was packed",
        ) from e
    except BaseException:
        _remove(made)
        raise
    return Bundle(kept, owner.name, folder, files, parcel)


def _checklist(kept: BriefKept, owner: Performer, files: Sequence[BundledFile], day: date) -> str:
    """What to tick off before and after sending, as an HTML page that prints on A4."""
    from offbook.brief import brief_in_words

    return filled_template(
        "checklist.html",
        brief=kept.brief,
        performer=owner.name,
        files=files,
        day=day,
        asked=[(what, said) for what, said in brief_in_words(kept.brief) if what != "by eye"],
        consent=CONSENT,
    )


def _owner(conn: Connection, kept: BriefKept) -> Performer:
    return next(p for p in performers(conn) if p.id == kept.row.performer_id)


@dataclass(frozen=True, slots=True)
class _Copy:
    """A file to be copied. sha256: of the source, None where it is not known; name: of the copy."""

    piece: Piece
    take: TakeRow
    source: Path
    sha256: str | None
    name: str


def _wanted(conn: Connection, kept: BriefKept, owner: Performer, folder: Path) -> list[_Copy]:
    """What is to be copied.

    Raises JournalError where a piece has no chosen take, or two copies the same name.
    """
    chosen = chosen_for(conn, kept)
    without = [piece.name for piece, take in chosen if take is None]
    if without or not chosen:
        name = without[0] if without else "PIECE"
        raise JournalError(
            f"no take is chosen of {', '.join(without)}"
            if without
            else f"{kept.row.name} names no piece here",
            f'choose with: offbook take choose "{name}" N; nothing was packed',
        )
    out: list[_Copy] = []
    for number, (piece, take) in enumerate(chosen, 1):
        assert take is not None
        stored = next((r for r in recordings(conn, piece.id) if r.id == take.recording_id), None)
        source = Path(take.file) if stored is None else folder / stored.path
        ending = source.suffix.lower()
        named = file_name(kept.brief, owner.name, piece.name, number, take.n, ending)
        out.append(_Copy(piece, take, source, None if stored is None else stored.sha256, named))
    names = [each.name.casefold() for each in out]
    if len({*names}) < len(names):
        raise JournalError(
            "two files of the bundle would have the same name",
            "put {piece} or {number} into the brief's file_name and add the brief again; nothing was packed",
        )
    return out


def _check_folder(folder: Path) -> None:
    if folder.is_symlink() or (folder.exists() and (not folder.is_dir() or any(folder.iterdir()))):
        raise JournalError(
            f"{folder} already exists and is not an empty folder",
            "name a new folder; nothing was packed",
        )


def _copied(wanted: _Copy, folder: Path, made: list[Path]) -> BundledFile:
    """Copy one file and read the copy back. Raises JournalError where the copy differs from the source."""
    piece, take, source, known = wanted.piece, wanted.take, wanted.source, wanted.sha256
    target = folder / wanted.name
    if not source.exists():
        raise JournalError(
            f"the recording of take {take.n} of {piece.name} is gone: {source}",
            "put it back, or choose another take; nothing was packed",
        )
    with open_input(source, RECORDING, JournalError) as (coming, _), whole_file(target, new=True) as going:
        made.append(target)
        digest, size = hashlib.sha256(), 0
        while block := coming.read(_BLOCK):
            digest.update(block)
            size += len(block)
            going.write(block)
    copy = _sum_of(target)
    if copy != digest.hexdigest() or (known is not None and copy != known):
        whose = "its copy" if copy != digest.hexdigest() else "the recording kept in the journal"
        raise JournalError(
            f"take {take.n} of {piece.name} cannot be packed: {whose} is not what was recorded",
            "try another disk, or choose another take; nothing was packed",
        )
    told = findings_of_take(take)
    unmet = () if told is None else tuple(unmet_of(told))
    return BundledFile(piece.name, take.n, wanted.name, copy, size, unmet, told is not None)


def _sum_of(path: Path) -> str:
    with open(path, "rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _remove(made: Sequence[Path]) -> None:
    for path in made:
        with suppress(OSError):
            path.unlink()


def note_sent(
    journal: Journal, conn: Connection, kept: BriefKept, where: str | None, confirm_by: date | None
) -> Parcel:
    """Note that what a brief asks for has been sent.

    where: where it went, None for where the brief says; confirm_by: the day by which it should be confirmed,
    None for as many days from today as the brief says, or `CONFIRM_DAYS` where it says nothing.
    """
    owner = _owner(conn, kept)
    now = journal.clock()
    found = parcels(conn, [kept.row.id]).get(kept.row.id, [])
    parcel = found[-1] if found else add_parcel(journal, conn, kept.row, owner.zone, "", "[]")
    days = CONFIRM_DAYS if kept.brief.confirm_days is None else kept.brief.confirm_days
    by = local_day(now, owner.zone) + timedelta(days=days) if confirm_by is None else confirm_by
    mark_sent(journal, conn, kept.row.id, now)
    send_parcel(journal, conn, parcel.id, now, (where if where is not None else kept.brief.send_to) or "", by)
    return parcels(conn, [kept.row.id])[kept.row.id][-1]


def take_back_sent(journal: Journal, conn: Connection, kept: BriefKept) -> None:
    """Note that a brief was not sent after all."""
    mark_sent(journal, conn, kept.row.id, None)
    for parcel in parcels(conn, [kept.row.id]).get(kept.row.id, [])[-1:]:
        send_parcel(journal, conn, parcel.id, None, "", None)
        confirm_parcel(journal, conn, parcel.id, None, "")


def note_confirmed(
    journal: Journal, conn: Connection, kept: BriefKept, at: datetime | None, words: str
) -> Parcel:
    """Note that whoever receives it has confirmed it; `at` None takes that back. Raises JournalError."""
    found = [p for p in parcels(conn, [kept.row.id]).get(kept.row.id, []) if p.sent_at is not None]
    if not found:
        raise JournalError(
            f"{kept.row.name} is not noted as sent, so nothing can be confirmed",
            f'note it first: offbook brief sent "{kept.row.name}"',
        )
    confirm_parcel(journal, conn, found[-1].id, at, words)
    return found[-1]


def overdue(parcel: Parcel, today: date) -> bool:
    """Whether a confirmation should have come by now and has not."""
    if parcel.sent_at is None or parcel.confirmed_at is not None or parcel.confirm_by is None:
        return False
    return today > parcel.confirm_by


def parcel_in_words(parcel: Parcel, today: date) -> str:
    """Where a parcel is, in a sentence for people."""
    if parcel.sent_at is None:
        return f"packed {parcel.day:%Y-%m-%d} in {parcel.folder}, not sent yet"
    went = f"sent {local_day(parcel.sent_at, parcel.zone):%Y-%m-%d}"
    went += f" to {parcel.sent_to}" if parcel.sent_to else ""
    if parcel.confirmed_at is not None:
        said = f": {parcel.confirmation}" if parcel.confirmation else ""
        return f"{went}; confirmed {local_day(parcel.confirmed_at, parcel.zone):%Y-%m-%d}{said}"
    if parcel.confirm_by is None:
        return f"{went}; no confirmation noted"
    by = f"{parcel.confirm_by:%Y-%m-%d}"
    if overdue(parcel, today):
        return f"{went}; NOT CONFIRMED by {by}: ask whether it arrived"
    return f"{went}; not confirmed yet, ask after {by}"
