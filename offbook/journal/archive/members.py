"""The members of an archive, read within bounds.

A zip can lie about everything: how many members it has, how large they are, how they are packed. Before
anything is unpacked its table of contents is compared with bounds, and what is unpacked is counted.
"""

from __future__ import annotations

import hashlib
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import IO, Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from offbook.errors import JournalError
from offbook.intake import check_contents
from offbook.journal import tables as t
from offbook.journal.opening import HEAD

WHOLE = "give an archive that `offbook export` wrote, copied whole; nothing was changed"
# Set by hand, far above what a journal of ten years needs (350 MB of tables, a few thousand recordings).
MOST_MEMBERS = 200_000
MOST_CONTENTS = 64_000_000  # bytes of the zip's table of contents
MOST_MANIFEST = 64_000_000  # bytes
MOST_TABLE = 2_000_000_000  # bytes of one table, unpacked
MOST_LINE = 32_000_000  # bytes of one row; a run-through of 200,000 words has 22 million
MOST_UNPACKED = 1_000_000_000_000  # bytes, all together
MOST_TIMES = 200  # a member that unpacks to more than this many times its size is a bomb
# What a damaged or hostile zip makes Python's zipfile raise.
FAULTS = (
    *(zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError, KeyError),
    *(OSError, IndexError, OverflowError),
)
_LONGEST_NAME = 500  # characters; set by hand, a bound for archives from strangers


class Torn(Exception):
    """A table of the archive is not what was written."""


class MemberFacts(BaseModel):
    """What the manifest says of one member: its SHA-256 and its size in bytes."""

    model_config = ConfigDict(strict=True, extra="ignore", frozen=True)
    sha256: Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
    bytes: Annotated[int, Field(ge=0, le=1 << 44)]


class ArchiveManifest(BaseModel):
    """`manifest.json`: the format, the newest migration its writer knew, and every other member."""

    model_config = ConfigDict(strict=True, extra="ignore", frozen=True)
    format: Literal[1]
    kind: Literal["offbook journal"]
    revision: Annotated[str, Field(pattern=r"^[0-9]{4}$")]
    members: Annotated[dict[str, MemberFacts], Field(max_length=MOST_MEMBERS)]


@dataclass
class Checked:
    """A member being read: counts and hashes what passes, so that the end can be held to the manifest."""

    raw: IO[bytes]
    digest: hashlib._Hash = field(default_factory=hashlib.sha256)
    size: int = 0

    def read(self, most: int = 1 << 20) -> bytes:
        """The next bytes. Raises one of `FAULTS`."""
        block = self.raw.read(most)
        self.digest.update(block)
        self.size += len(block)
        return block

    def fits(self, facts: MemberFacts) -> bool:
        """Whether what was read is what the manifest says, and nothing is left."""
        return self.size == facts.bytes and self.digest.hexdigest() == facts.sha256


class Archive:
    """An archive whose table of contents and manifest have been checked."""

    def __init__(self, zipped: zipfile.ZipFile, manifest: ArchiveManifest) -> None:
        self._zipped = zipped
        self.manifest = manifest
        self._infos = {i.filename: i for i in zipped.infolist()}

    def has(self, name: str) -> bool:
        """Whether a member is there and named by the manifest."""
        return name in self._infos and name in self.manifest.members

    def facts(self, name: str) -> MemberFacts:
        """What the manifest says of a member."""
        return self.manifest.members[name]

    def open(self, name: str) -> Checked:
        """A member, to be read. Raises one of `FAULTS`."""
        info = self._infos[name]
        if info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            raise NotImplementedError("packed in a way that offbook does not use")
        if info.file_size > MOST_TIMES * max(info.compress_size, 4096):
            raise zipfile.BadZipFile("unpacks to more than it can hold")
        return Checked(self._zipped.open(info))

    def lines(self, name: str) -> Iterator[bytes]:
        """The lines of a table. Raises Torn where it breaks off, or, at the end, where it is not what the
        manifest says."""
        try:
            yield from self._lines(name)
        except FAULTS as e:
            raise Torn("it is damaged") from e

    def _lines(self, name: str) -> Iterator[bytes]:
        if not self.has(name) or self._infos[name].file_size > MOST_TABLE:
            raise zipfile.BadZipFile("not there, or larger than a table can be")
        checked = self.open(name)
        left = b""
        while block := checked.read():
            *whole, left = (left + block).split(b"\n") if b"\n" in block else (left + block,)
            yield from whole
            if len(left) > MOST_LINE:
                raise zipfile.BadZipFile("a row is longer than any row can be")
        if left:
            yield left
        if not checked.fits(self.facts(name)):
            raise zipfile.BadZipFile("not what was written")


def opened_archive(file: IO[bytes], size: int) -> Archive:
    """The archive in `file`. Raises JournalError where it is none, or one that is out of all bounds."""
    try:
        check_contents(file, size, MOST_MEMBERS, MOST_CONTENTS)
        zipped = zipfile.ZipFile(file)
        infos = zipped.infolist()
        info = zipped.getinfo("manifest.json")
        if info.file_size > MOST_MANIFEST or info.file_size > MOST_TIMES * max(info.compress_size, 4096):
            raise zipfile.BadZipFile("manifest")
        raw = zipped.read(info)
    except KeyError as e:
        raise JournalError("this is not a journal archive: it has no manifest", WHOLE) from e
    except FAULTS as e:
        raise JournalError("cannot read the archive: it is damaged, or no archive at all", WHOLE) from e
    try:
        manifest = ArchiveManifest.model_validate_json(raw)
    except (ValidationError, RecursionError) as e:
        raise JournalError("this is not a journal archive: its manifest cannot be read", WHOLE) from e
    if (theirs := manifest.revision) > HEAD:
        raise JournalError(
            f"the archive was written by a newer offbook (revision {theirs}, this one knows {HEAD})",
            "install the newer offbook; nothing was changed",
        )
    names = [i.filename for i in infos]
    if len({*names}) != len(names):
        raise JournalError("the archive holds two members of one name", WHOLE)
    tables = {f"{table.name}.jsonl" for table in t.IN_ORDER}
    strange = [n for n in names if n != "manifest.json" and n not in tables and not _is_recording(n)]
    if strange or {*names} - {*manifest.members, "manifest.json"}:
        raise JournalError("the archive holds something that does not belong to a journal", WHOLE)
    if sum(i.file_size for i in infos) > MOST_UNPACKED:
        raise JournalError("the archive claims to hold more than any disk", WHOLE)
    return Archive(zipped, manifest)


def _is_recording(name: str) -> bool:
    """Below `recordings/`; what is behind it is only a name to find it by, never a path."""
    return name.startswith("recordings/") and len(name) <= _LONGEST_NAME
