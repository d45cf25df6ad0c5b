"""The members of an archive, read within limits.

Nothing that a zip file says about itself can be trusted: how many members it has, how large they are, how
they are packed. So its table of contents is compared with limits before anything is unpacked, and every
byte that is unpacked is counted.
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
from offbook.journal.files import BLOCK
from offbook.journal.opening import HEAD

GIVE_WHOLE = "give an archive that `offbook export` wrote, copied whole; nothing was changed"
# All set by hand, far above what the journal of ten years needs (350 MB of tables, a few thousand
# recordings).
MOST_MEMBERS = 200_000
MOST_CONTENTS = 64_000_000  # bytes of the zip's table of contents
MOST_MANIFEST = 64_000_000  # bytes
MOST_TABLE = 2_000_000_000  # bytes of one table, unpacked
MOST_LINE = 32_000_000  # bytes of one row; a run-through of 200,000 words has 22 million
MOST_UNPACKED = 1_000_000_000_000  # bytes, all together
# A member that unpacks to more than this many times its packed size was made to fill the disk. Small
# members, up to the size of a page of memory, are left out of that: an empty table is packed into almost
# nothing.
MOST_TIMES = 200
_SMALL_MEMBER = 4096  # bytes
# The errors that Python's zipfile raises for a damaged or malicious zip file.
FAULTS = (
    *(zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError, KeyError),
    *(OSError, IndexError, OverflowError),
)
_LONGEST_NAME = 500  # characters of a member's name; set by hand, for archives from strangers


class DamagedTable(Exception):
    """A table of the archive is damaged: it is not what the manifest says."""


class MemberFacts(BaseModel):
    """What the manifest says about one member: its SHA-256 and its size in bytes."""

    model_config = ConfigDict(strict=True, extra="ignore", frozen=True)
    sha256: Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
    bytes: Annotated[int, Field(ge=0, le=1 << 44)]


class ArchiveManifest(BaseModel):
    """`manifest.json`: the format, the newest migration that its writer knew, and all other members."""

    model_config = ConfigDict(strict=True, extra="ignore", frozen=True)
    format: Literal[1]
    kind: Literal["offbook journal"]
    revision: Annotated[str, Field(pattern=r"^[0-9]{4}$")]
    members: Annotated[dict[str, MemberFacts], Field(max_length=MOST_MEMBERS)]


@dataclass
class CheckedMember:
    """A member that is being read.

    Its bytes are counted and hashed, to be compared with the manifest at the end.
    """

    raw: IO[bytes]
    digest: hashlib._Hash = field(default_factory=hashlib.sha256)
    size: int = 0

    def read(self, most: int = BLOCK) -> bytes:
        """The next bytes, none at the end. Raises one of `FAULTS`."""
        block = self.raw.read(most)
        self.digest.update(block)
        self.size += len(block)
        return block

    def fits(self, facts: MemberFacts) -> bool:
        """Whether all that was read is what the manifest says."""
        return self.size == facts.bytes and self.digest.hexdigest() == facts.sha256


class Archive:
    """An archive whose table of contents and manifest have been checked."""

    def __init__(self, zipped: zipfile.ZipFile, manifest: ArchiveManifest) -> None:
        self._zipped = zipped
        self.manifest = manifest
        self._infos = {i.filename: i for i in zipped.infolist()}

    def has(self, name: str) -> bool:
        """Whether the zip file and the manifest both have the member `name`."""
        return name in self._infos and name in self.manifest.members

    def facts(self, name: str) -> MemberFacts:
        """What the manifest says about a member."""
        return self.manifest.members[name]

    def open(self, name: str) -> CheckedMember:
        """Open a member for reading. Raises one of `FAULTS`."""
        info = self._infos[name]
        if info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            raise NotImplementedError("packed in a way that offbook does not use")
        if _unpacks_to_too_much(info):
            raise zipfile.BadZipFile("unpacks to more than it can hold")
        return CheckedMember(self._zipped.open(info))

    def lines(self, name: str) -> Iterator[bytes]:
        """The lines of a table, one by one.

        Raises DamagedTable as soon as a line cannot be read, or after the last one if all of them together
        are not what the manifest says.
        """
        try:
            yield from self._lines(name)
        except FAULTS as e:
            raise DamagedTable("it is damaged") from e

    def _lines(self, name: str) -> Iterator[bytes]:
        if not self.has(name) or self._infos[name].file_size > MOST_TABLE:
            raise zipfile.BadZipFile("missing, or larger than a table can be")
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


def _unpacks_to_too_much(info: zipfile.ZipInfo) -> bool:
    return info.file_size > MOST_TIMES * max(info.compress_size, _SMALL_MEMBER)


def opened_archive(file: IO[bytes], size: int) -> Archive:
    """The archive in `file`, of `size` bytes.

    Raises JournalError if it is not an archive, is damaged, is beyond a limit, or was written by a newer
    offbook.
    """
    try:
        check_contents(file, size, MOST_MEMBERS, MOST_CONTENTS)
        zipped = zipfile.ZipFile(file)
        infos = zipped.infolist()
        info = zipped.getinfo("manifest.json")
        if info.file_size > MOST_MANIFEST or _unpacks_to_too_much(info):
            raise zipfile.BadZipFile("manifest")
        raw = zipped.read(info)
    except KeyError as e:
        raise JournalError("this is not a journal archive: it has no manifest", GIVE_WHOLE) from e
    except FAULTS as e:
        raise JournalError(
            "cannot read the archive: it is damaged, or it is not an archive", GIVE_WHOLE
        ) from e
    try:
        manifest = ArchiveManifest.model_validate_json(raw)
    except (ValidationError, RecursionError) as e:
        raise JournalError("this is not a journal archive: its manifest cannot be read", GIVE_WHOLE) from e
    if (theirs := manifest.revision) > HEAD:
        raise JournalError(
            f"the archive was written by a newer offbook (revision {theirs}, this one knows {HEAD})",
            "install the newer offbook; nothing was changed",
        )
    names = [i.filename for i in infos]
    if len({*names}) != len(names):
        raise JournalError("the archive holds two members of the same name", GIVE_WHOLE)
    tables = {f"{table.name}.jsonl" for table in t.IN_ORDER}
    strange = [n for n in names if n != "manifest.json" and n not in tables and not _is_recording(n)]
    if strange or {*names} - {*manifest.members, "manifest.json"}:
        raise JournalError("the archive holds something that does not belong to a journal", GIVE_WHOLE)
    if sum(i.file_size for i in infos) > MOST_UNPACKED:
        raise JournalError("the archive claims to hold more than fits on any disk", GIVE_WHOLE)
    return Archive(zipped, manifest)


def _is_recording(name: str) -> bool:
    """Whether a member is a recording. Its name only serves to find it; it is never used as a path."""
    return name.startswith("recordings/") and len(name) <= _LONGEST_NAME
