"""Export: the whole journal as one archive, in a form that can be read without this program.

The archive is a zip file: `manifest.json` (format, revision, and the size and SHA-256 of every other
member), one `.jsonl` file for each table with a JSON object on each line, and the recordings. Run-throughs
are written word by word, in the terms of `offbook run --json`, not packed as they are in the journal.

An export is only called done after it was checked: the archive is opened again and read with the same
checks as in an import, every byte compared with the manifest and every row with its table. A recording that
is missing or damaged on the disk is reported, and everything else is exported.
"""

from __future__ import annotations

import hashlib
import json
import os
import zipfile
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, Table, select

from offbook.errors import JournalError
from offbook.journal import tables as t
from offbook.journal.archive.carried import Carried, FitsBrief, NotCarried
from offbook.journal.archive.members import FAULTS, Archive, DamagedTable
from offbook.journal.archive.members import opened_archive as archive_in
from offbook.journal.archive.references import References
from offbook.journal.archive.rows import Misfit, row_of
from offbook.journal.files import BLOCK
from offbook.journal.opening import HEAD
from offbook.journal.packing import unpack
from offbook.moment import utc_text
from offbook.outgoing import whole_file
from offbook.phrasing import KEY_SHOWN

if TYPE_CHECKING:
    from offbook.journal.connection import Journal

_PACKED = {"letters", "heard", "times"}  # columns of a run-through that are written word by word instead
# The moment of every recording in the zip file, so that the same journal gives the same bytes: the earliest
# that the format can express (.ZIP File Format Specification, 4.4.6: years count from 1980; from memory).
_ZIP_EPOCH = (1980, 1, 1, 0, 0, 0)


def write_archive(journal: Journal, target: Path, fits_brief: FitsBrief | None = None) -> Carried:
    """Write the whole journal to the new file `target` and check it; see `archive.export`."""
    if not target.name:
        raise JournalError("an export needs the name of a file", "give one, such as journal.zip")
    try:
        with journal.reading() as conn, whole_file(target, new=True) as file:
            with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as out:
                rows, gone = _write(journal, conn, out)
            file.flush()
            os.fsync(file.fileno())
            return _proved(conn, Path(file.name), rows, gone, fits_brief)
    except FileExistsError as e:
        raise JournalError(
            f"{target} already exists", "give the name of a new file; nothing was overwritten"
        ) from e
    except (OSError, ValueError) as e:  # ValueError: a NUL in the name
        raise JournalError(
            f"cannot write {target}: {getattr(e, 'strerror', None) or e}",
            "give a folder that exists and has room",
        ) from e


def _write(
    journal: Journal, conn: Connection, out: zipfile.ZipFile
) -> tuple[dict[str, int], list[NotCarried]]:
    """Write every member. Returns how many rows each table has, and the recordings that could not be read."""
    members: dict[str, dict[str, Any]] = {}
    rows: dict[str, int] = {}
    for table in t.IN_ORDER:
        digest, size, count = hashlib.sha256(), 0, 0
        with out.open(f"{table.name}.jsonl", "w", force_zip64=True) as member:
            for row in _rows(conn, table):
                line = (json.dumps(row, ensure_ascii=False) + "\n").encode()
                digest.update(line)
                size += len(line)
                count += 1
                member.write(line)
        members[f"{table.name}.jsonl"] = {"sha256": digest.hexdigest(), "bytes": size}
        rows[table.name] = count
    gone: list[NotCarried] = []
    columns = (t.recording.c.id, t.recording.c.path, t.piece.c.name)
    for key, path, piece in conn.execute(select(*columns).join(t.piece)):
        do = f'put it back, or delete it: offbook piece forget "{piece}" {key[:KEY_SHOWN]}'
        try:
            members[f"recordings/{path}"] = _write_recording(out, journal.recordings / path, path)
        except FileNotFoundError:
            gone.append(NotCarried("recording", key, f"its file is no longer on the disk; {do}"))
        except OSError as e:
            if e.filename is None:  # the archive cannot be written; the recording is not to blame
                raise
            gone.append(NotCarried("recording", key, f"its file cannot be read ({e.strerror}); {do}"))
    manifest = {
        "format": 1,
        "kind": "offbook journal",
        "revision": HEAD,
        "made_at": utc_text(journal.clock()),
        "members": members,
    }
    out.writestr("manifest.json", json.dumps(manifest, ensure_ascii=False, indent=1))
    return rows, gone


def _write_recording(out: zipfile.ZipFile, file: Path, path: str) -> dict[str, Any]:
    """Write a recording into the zip file as it is.

    Returns its size and SHA-256 for the manifest. Raises OSError.
    """
    digest, size = hashlib.sha256(), 0
    with open(file, "rb") as source:
        info = zipfile.ZipInfo(f"recordings/{path}", _ZIP_EPOCH)
        with out.open(info, "w", force_zip64=True) as member:
            while block := source.read(BLOCK):
                digest.update(block)
                size += len(block)
                member.write(block)
    return {"sha256": digest.hexdigest(), "bytes": size}


def _rows(conn: Connection, table: Table) -> Iterator[dict[str, Any]]:
    texts: dict[str, list[str]] = {}
    if table is t.run:
        for v in conn.execute(select(t.version.c.id, t.version.c.words)):
            texts[v.id] = [w[0] for w in json.loads(v.words)]
    for row in conn.execute(select(table).order_by(*table.primary_key.columns)).mappings():
        plain = {k: _plain(v) for k, v in row.items() if table is not t.run or k not in _PACKED}
        if table is t.run:
            words = unpack(texts[row["version_id"]], row["letters"], row["heard"], row["times"])
            # how the verdict was reached is not part of an archive
            plain["verdicts"] = [{k: v for k, v in asdict(w).items() if k != "steps"} for w in words]
        yield plain


def _plain(value: Any) -> Any:
    if hasattr(value, "tzinfo"):
        return utc_text(value)
    return value.isoformat() if hasattr(value, "isoformat") else value


def _proved(
    conn: Connection, part: Path, rows: dict[str, int], gone: list[NotCarried], fits_brief: FitsBrief | None
) -> Carried:
    """Read the archive that was just written as an import would.

    Returns what it contains, with the rows and recordings that an import would leave out. Raises
    JournalError if the file is not what was meant to be written.
    """
    left = list(gone)
    kept = 0
    with open(part, "rb") as file:
        archive = archive_in(file, part.stat().st_size)
        references = References(conn, fits_brief)
        for table in t.IN_ORDER:
            count = 0
            try:
                for line in archive.lines(f"{table.name}.jsonl"):
                    count += 1
                    row = json.loads(line)
                    try:
                        fits = row_of(table.name, line)
                        references.check(table.name, fits)
                    except Misfit as e:
                        left.append(
                            NotCarried(table.name, row.get("id"), f"{e}; an import will leave it out")
                        )
                        continue
                    if table is t.recording:
                        why = _why_not_whole(archive, fits)
                        kept += why is None
                        left += [NotCarried("recording", fits["id"], why)] if why else []
            except DamagedTable as e:
                raise _not_proved(part) from e
            if count != rows[table.name]:
                raise _not_proved(part)
    return Carried(rows, kept, left=tuple(left))


def _why_not_whole(archive: Archive, row: dict[str, Any]) -> str | None:
    """Why a recording in the archive is not as it was kept.

    None if it is; "" if it is not in the archive at all, which has been reported already.
    """
    name = f"recordings/{row['path']}"
    if not archive.has(name):
        return ""
    facts = archive.facts(name)
    try:
        checked = archive.open(name)
        while checked.read():
            pass
    except FAULTS as e:
        raise _not_proved(Path(name)) from e
    if not checked.fits(facts):
        raise _not_proved(Path(name))
    if (facts.sha256, facts.bytes) != (row["sha256"], row["bytes"]):
        return "its file is damaged on the disk; the archive has it as it is, and an import will leave it out"
    return None


def _not_proved(path: Path) -> JournalError:
    return JournalError(
        f"what was written cannot be read back ({path.name})",
        "write the archive to another disk; the journal itself is as it was",
    )
