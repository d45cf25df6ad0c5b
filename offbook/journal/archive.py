"""Export and import: the whole journal as one archive that outlives this program.

The archive is a zip: `manifest.json` (format, revision, and the size and SHA-256 of every other
member), one `.jsonl` file for each table with a JSON object a line, and the recordings. Run-throughs
are written word by word, in the plain terms of `offbook run --json`, not as they are packed here.

Reading one in trusts nothing: every member must be named in the manifest and match its checksum, no
path may lead outside, every row must fit its table and belong to something. All of it goes in, in
one transaction, or nothing does. Rows that the journal has already are left as they are.
"""

from __future__ import annotations

import glob
import hashlib
import json
import os
import re
import zipfile
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from datetime import date
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, Table, insert, select
from sqlalchemy.exc import IntegrityError, StatementError

from offbook.errors import JournalError
from offbook.journal import files
from offbook.journal import tables as t
from offbook.journal.moment import utc_from, utc_text
from offbook.journal.opening import HEAD
from offbook.journal.packing import pack, unpack
from offbook.score import WordVerdict

if TYPE_CHECKING:
    from offbook.journal.connection import Journal

_PACKED = {"letters", "heard", "times"}
_WHOLE = "give an archive that `offbook export` wrote, copied whole; nothing was changed"
_STORED_PATH = re.compile(r"[0-9a-zA-Z_-]{1,64}/[0-9a-zA-Z_-]{1,64}(\.[0-9a-z]{1,8})?\Z")


@dataclass(frozen=True, slots=True)
class Carried:
    """What an export or import carried: rows by table, and recordings. present: rows there already."""

    rows: dict[str, int]
    recordings: int
    present: int = 0


def export(journal: Journal, target: Path) -> Carried:
    """Write the whole journal to `target` (a new file). Raises JournalError; leaves no half file."""
    part = target.with_name(f"{target.name}.{os.getpid()}.part")
    if target.exists():
        raise JournalError(f"{target} exists already", "give the name of a new file; nothing was overwritten")
    try:
        _clear_left(target)
        with journal.reading() as conn, zipfile.ZipFile(part, "w", zipfile.ZIP_DEFLATED) as out:
            done = _write(journal, conn, out)
        with open(part, "rb") as f:
            os.fsync(f.fileno())
        os.link(part, target) if hasattr(os, "link") else part.rename(target)
    except OSError as e:
        raise JournalError(
            f"cannot write {target}: {e.strerror}", "give a folder that exists and has room"
        ) from e
    finally:
        part.unlink(missing_ok=True)
    return done


def _clear_left(target: Path) -> None:
    """Delete what exports to `target` that were killed have left: parts whose process is no more."""
    for part in target.parent.glob(f"{glob.escape(target.name)}.*.part"):
        number = part.name.removeprefix(f"{target.name}.").removesuffix(".part")
        if number.isdigit() and not _running(int(number)):
            part.unlink(missing_ok=True)


def _running(process: int) -> bool:
    if os.name != "posix":
        return True  # elsewhere asking after a process could end it
    try:
        os.kill(process, 0)
    except (ProcessLookupError, OverflowError):
        return False
    except PermissionError:  # somebody else's
        return True
    return True


def _write(journal: Journal, conn: Connection, out: zipfile.ZipFile) -> Carried:
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
    columns = (
        t.recording.c.path,
        t.recording.c.sha256,
        t.recording.c.bytes,
        t.recording.c.id,
        t.piece.c.name,
    )
    kept = conn.execute(select(*columns).join(t.piece)).all()
    for path, sha256, size, key, piece in kept:
        file = journal.recordings / path
        if not file.is_file():
            raise JournalError(
                f"the recording {file} is gone",
                f'put it back, or take it out of the journal: offbook piece forget "{piece}" {key[:8]}',
            )
        out.write(file, f"recordings/{path}", compress_type=zipfile.ZIP_STORED)
        members[f"recordings/{path}"] = {"sha256": sha256, "bytes": size}
    manifest = {
        "format": 1,
        "kind": "offbook journal",
        "revision": HEAD,
        "made_at": utc_text(journal.clock()),
        "members": members,
    }
    out.writestr("manifest.json", json.dumps(manifest, ensure_ascii=False, indent=1))
    return Carried(rows, len(kept))


def _rows(conn: Connection, table: Table) -> Iterator[dict[str, Any]]:
    texts: dict[str, list[str]] = {}
    if table is t.run:
        for v in conn.execute(select(t.version.c.id, t.version.c.words)):
            texts[v.id] = [w[0] for w in json.loads(v.words)]
    for row in conn.execute(select(table).order_by(*table.primary_key.columns)).mappings():
        plain = {k: _plain(v) for k, v in row.items() if table is not t.run or k not in _PACKED}
        if table is t.run:
            words = unpack(texts[row["version_id"]], row["letters"], row["heard"], row["times"])
            plain["verdicts"] = [asdict(w) for w in words]
        yield plain


def _plain(value: Any) -> Any:
    if hasattr(value, "tzinfo"):
        return utc_text(value)
    return value.isoformat() if hasattr(value, "isoformat") else value


def read_in(journal: Journal, source: Path) -> Carried:
    """Read an archive into the journal, all or nothing. Raises JournalError where anything is amiss."""
    made: list[Path] = []
    try:
        with zipfile.ZipFile(source) as archive:
            manifest = _manifest(archive)
            _check(archive, manifest["members"])
            with journal.writing() as conn:
                done = _read_rows(journal, conn, archive, made)
    except (OSError, zipfile.BadZipFile, EOFError) as e:
        _unmake(made)
        raise JournalError(f"cannot read {source}: {getattr(e, 'strerror', None) or e}", _WHOLE) from e
    except JournalError:
        _unmake(made)
        raise
    return done


def _unmake(made: list[Path]) -> None:
    for path in made:
        path.unlink(missing_ok=True)


def _manifest(archive: zipfile.ZipFile) -> dict[str, Any]:
    try:
        found = json.loads(archive.read("manifest.json"))
        kind, revision, members = found["kind"], found["revision"], found["members"]
    except (KeyError, ValueError, TypeError) as e:
        raise JournalError("this is not a journal archive: it has no manifest", _WHOLE) from e
    if kind != "offbook journal" or not isinstance(members, dict) or not isinstance(revision, str):
        raise JournalError("this is not a journal archive", _WHOLE)
    if revision > HEAD:
        raise JournalError(
            f"the archive was written by a newer offbook (revision {revision}, this one knows {HEAD})",
            "install the newer offbook; nothing was changed",
        )
    return dict(found)


def _check(archive: zipfile.ZipFile, members: dict[str, Any]) -> None:
    tables = {f"{table.name}.jsonl" for table in t.IN_ORDER}
    names = archive.namelist()
    if len(set(names)) != len(names) or {*names} != {*members, "manifest.json"}:
        raise JournalError("the archive does not hold what its manifest names", _WHOLE)
    for name, facts in members.items():
        if name not in tables and not _is_recording(name):
            raise JournalError(f"the archive holds {name}, which is no part of a journal", _WHOLE)
        digest, size = hashlib.sha256(), 0
        with archive.open(name) as member:
            while block := member.read(1 << 20):
                digest.update(block)
                size += len(block)
                if size > facts["bytes"]:  # a small file that unpacks to a vast one stops here
                    break
        if digest.hexdigest() != facts["sha256"]:
            raise JournalError(f"{name} in the archive is not what was written", _WHOLE)


def _is_recording(name: str) -> bool:
    head, _, rest = name.partition("/")
    return head == "recordings" and _STORED_PATH.match(rest) is not None


def _read_rows(journal: Journal, conn: Connection, archive: zipfile.ZipFile, made: list[Path]) -> Carried:
    counts: dict[str, int] = {}
    present = kept = 0
    for table in t.IN_ORDER:
        name = f"{table.name}.jsonl"
        lines = archive.read(name).decode("utf-8").splitlines() if name in archive.namelist() else []
        there = {tuple(row) for row in conn.execute(select(*table.primary_key.columns))}
        fresh = []
        for number, line in enumerate(lines, 1):
            row = _row(table, line, f"{name}, line {number}")
            if tuple(row[c.name] for c in table.primary_key.columns) in there:
                present += 1
                continue
            fresh.append(row)
        _insert(conn, table, fresh)
        counts[table.name] = len(fresh)
        if table is t.recording:
            for row in fresh:
                made.append(_unpack_recording(journal, archive, row))
                kept += 1
    return Carried(counts, kept, present)


def _row(table: Table, line: str, where: str) -> dict[str, Any]:
    try:
        row = json.loads(line)
        if table is t.run:
            words = [WordVerdict(**w) for w in row.pop("verdicts")]
            row["letters"], row["heard"], row["times"] = pack(words)
        if {*row} - {c.name for c in table.columns} or any(
            c.name not in row and not c.nullable for c in table.columns
        ):
            raise ValueError("columns")
        for c in table.columns:
            if isinstance(c.type, t.Moment) and row.get(c.name) is not None:
                row[c.name] = utc_from(row[c.name])
            elif isinstance(c.type, t.Day) and row.get(c.name) is not None:
                row[c.name] = date.fromisoformat(row[c.name])
    except (ValueError, TypeError, KeyError, AttributeError) as e:
        raise JournalError(f"{where} of the archive is not a row of a journal", _WHOLE) from e
    if table is t.recording and not _STORED_PATH.match(row["path"]):
        raise JournalError(f"{where} of the archive leads outside the journal", _WHOLE)
    return dict(row)


def _insert(conn: Connection, table: Table, rows: list[dict[str, Any]]) -> None:
    if not rows:
        return
    try:
        conn.execute(insert(table), rows)
    except IntegrityError as e:
        if table is t.performer:
            raise JournalError(
                "a performer in the archive has the name of another one here",
                "rename yours with `offbook performer set NAME --name NEW`; nothing was changed",
            ) from e
        raise JournalError(f"rows of {table.name} in the archive belong to nothing", _WHOLE) from e
    except StatementError as e:
        raise JournalError(f"rows of {table.name} in the archive do not fit", _WHOLE) from e


def _unpack_recording(journal: Journal, archive: zipfile.ZipFile, row: dict[str, Any]) -> Path:
    name = str(PurePosixPath("recordings") / row["path"])
    target: Path = journal.recordings / row["path"]
    if name not in archive.namelist():
        raise JournalError(f"the archive lacks {name}", _WHOLE)
    with archive.open(name) as member:
        files.store(member, target)
    return target
