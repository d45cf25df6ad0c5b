"""Speech models: where one lies on this machine, and whether it is whole.

A model is a folder of files that the recogniser reads. It is fetched once by `offbook setup`
(`models.downloads`), from then on nothing here touches the network. The first use, and the first
after any of its files has changed, compares every byte with the manifest (or with what was recorded when the
model was fetched); every other use sees by sizes and times that nothing has.

Two models work together: the first hears, the second weighs wordings that the first takes for each other.
Which ones: those asked for by name or folder, one or two with a comma between them; else those OFFBOOK_MODEL
names; else the manifest's. "none" asks for no second one. Where: OFFBOOK_HOME, else the platform's data
folder for the person.
"""

from __future__ import annotations

import hashlib
import json
import os
from contextlib import suppress
from pathlib import Path

import platformdirs

from offbook.errors import ModelError
from offbook.models.listing import FIRST, SECOND, FileSpec, ModelManifest, ModelSpec, read_manifest
from offbook.outgoing import write_whole

__all__ = [
    "FIRST",
    "SECOND",
    "FileSpec",
    "ModelManifest",
    "ModelSpec",
    "chosen_model",
    "damage",
    "data_folder",
    "model_folder",
    "models_folder",
    "named_roles",
    "names",
    "needed",
    "second_folder",
]

# What vosk reads of a model that takes grammars (its `model.cc`, layout 2 then layout 1).
NEEDED = (("am/final.mdl", "graph/HCLr.fst", "graph/Gr.fst"), ("final.mdl", "HCLr.fst", "Gr.fst"))
# What a second ear is read from (`recognise.onnx_scorer`).
NEEDED_SECOND = (("encoder_model.ort", "decoder_model_merged.ort", "tokenizer.bin"),)
_NO_SECOND = "none"


def needed(role: str) -> tuple[tuple[str, ...], ...]:
    """The files that a model of a role is read from, in each layout there is."""
    return NEEDED if role == FIRST else NEEDED_SECOND


def _has(folder: Path, role: str) -> bool:
    return any(all((folder / f).is_file() for f in layout) for layout in needed(role))


def data_folder() -> Path:
    """The person's data folder; not made here."""
    home = os.environ.get("OFFBOOK_HOME")
    return Path(home).expanduser() if home else platformdirs.user_data_path("offbook", appauthor=False)


def models_folder() -> Path:
    """Where fetched models lie, each in a folder of its own name."""
    return data_folder() / "models"


def manifest() -> ModelManifest:
    """The project's models and those the person added in `models.toml` of the data folder."""
    return read_manifest(data_folder() / "models.toml")


def names() -> tuple[str, ...]:
    """The names --model takes, the default first."""
    known = manifest()
    return (known.default, *(n for n in known.models if n != known.default))


def _asked(name: str | None) -> list[str]:
    """What is asked for: by `name`, else by OFFBOOK_MODEL."""
    parts = (name or os.environ.get("OFFBOOK_MODEL") or "").split(",")
    return [part.strip() for part in parts if part.strip()]


def _role(asked: str, known: ModelManifest) -> str:
    """The role of what is asked for by this name or folder."""
    if asked == _NO_SECOND:
        return SECOND
    spec = known.models.get(asked)
    if spec is not None:
        return spec.role
    return SECOND if _has(Path(asked).expanduser(), SECOND) else FIRST


def named_roles(name: str | None = None) -> tuple[str, ...]:
    """The roles of the models that `name` asks for; both where it is None."""
    known = manifest()
    return tuple(dict.fromkeys(_role(a, known) for a in _asked(name))) if name else (FIRST, SECOND)


def chosen_model(name: str | None = None, role: str = FIRST) -> tuple[ModelSpec | None, Path]:
    """-> (the manifest's entry, None for a folder of the person's own; the folder it should be in).

    Raises ModelError for a name that is neither in the manifest nor a folder, and for a model that
    takes no grammar.
    """
    known = manifest()
    asked = next((a for a in _asked(name) if _role(a, known) == role), None)
    spec = known.models.get(asked or known.usual(role) or "")
    if spec is not None:
        if role == FIRST and not spec.grammar:
            raise ModelError(
                f"the model {spec.name} cannot be told which words to expect, which offbook needs",
                f"choose another: {', '.join(n for n, m in known.models.items() if m.grammar)}",
            )
        return spec, models_folder() / spec.name
    if asked is None or asked == _NO_SECOND:
        raise ModelError("no second ear is asked for", f"name one: {', '.join(known.models)}")
    folder = Path(asked).expanduser()
    if not folder.is_dir():
        where = "--model" if name else "OFFBOOK_MODEL"
        raise ModelError(
            f"{where} names {asked!r}, which is neither a known model nor a folder",
            f"known models: {', '.join(known.models)}",
        )
    return None, folder


def second_folder(name: str | None = None) -> Path | None:
    """The folder of the second ear, ready to be read; None where none is asked for or none was fetched.

    Raises ModelError where one that is asked for by name is not there, or is damaged.
    """
    known = manifest()
    asked = [a for a in _asked(name) if _role(a, known) == SECOND]
    if _NO_SECOND in asked or not (asked or known.second):
        return None
    spec, folder = chosen_model(name, SECOND)
    if spec is not None and not asked and not folder.is_dir():
        return None
    return model_folder(name, SECOND)


def model_folder(name: str | None = None, role: str = FIRST) -> Path:
    """The folder of a model that is there and whole, ready for the recogniser.

    Every byte of it is compared once after each change of its files, their sizes and times at each use.

    name: a manifest name or a folder; None for OFFBOOK_MODEL or the default. Raises ModelError.
    """
    spec, folder = chosen_model(name, role)
    if spec is None:
        if not _has(folder, role):
            raise ModelError(
                f"{folder} is not a speech model that takes grammars: it lacks {', '.join(NEEDED[0])}",
                "name the unpacked folder of a small or lgraph vosk model, or one of: "
                f"{', '.join(manifest().models)}",
            )
        return folder
    again = "offbook setup" + ("" if spec.name == manifest().usual(role) else f" --model {spec.name}")
    if not folder.is_dir():
        raise ModelError(f"the speech model {spec.name} is not on this machine yet", f"fetch it: {again}")
    found = changed(spec, folder)
    if found is not None:
        raise ModelError(f"the speech model {spec.name} is damaged: {found}", f"fetch it again: {again}")
    return folder


def changed(spec: ModelSpec, folder: Path) -> str | None:
    """The first thing wrong with the model in `folder`, in words; None where it is whole.

    Its bytes are compared where a file has another size, time or place on the disk than when that was last
    done. What was seen then is kept beside the folder; where it cannot be, they are compared each time.
    """
    seen = _seen(spec, folder)
    kept = folder.with_name(folder.name + ".compared.json")
    with suppress(OSError, ValueError):
        if seen is not None and json.loads(kept.read_text(encoding="utf-8")) == seen:
            return None
    found = damage(spec, folder, every_byte=True)
    if found is None and seen is not None:
        with suppress(OSError):
            write_whole(kept, json.dumps(seen))
    return found


def _seen(spec: ModelSpec, folder: Path) -> dict[str, list[int | str]] | None:
    """What tells that a file of a model is another one: size, times, place, and the hash it should have.

    The time of the last change of its entry too: a program may set the time of writing back, not that one.
    """
    try:
        stats = {at: (os.stat(folder / at), file) for at, file in expected(spec, folder).items()}
    except OSError:
        return None
    return {
        at: [found.st_size, found.st_mtime_ns, found.st_ctime_ns, found.st_ino, file.sha256]
        for at, (found, file) in stats.items()
    }


def record_path(folder: Path) -> Path:
    """The record kept beside a fetched model: where it came from and what its files were."""
    return folder.with_name(folder.name + ".json")


def expected(spec: ModelSpec, folder: Path) -> dict[str, FileSpec]:
    """What the files of `folder` should be: the manifest's word, else the record made at fetching."""
    if spec.files:
        return spec.files
    try:
        record = json.loads(record_path(folder).read_text(encoding="utf-8"))
        return {at: FileSpec(int(f["bytes"]), str(f["sha256"])) for at, f in record["files"].items()}
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return {}


def damage(spec: ModelSpec, folder: Path, *, every_byte: bool = False) -> str | None:
    """The first thing wrong with the model in `folder`, in words; None where it is whole.

    every_byte: compare SHA-256 as well as sizes.
    """
    files = expected(spec, folder)
    if not files:
        return "nothing is recorded of its files"
    for at, file in files.items():
        path = folder / at
        try:
            size = path.stat().st_size
            if size != file.bytes:
                return f"{at} has {size:,} bytes instead of {file.bytes:,}"
            if every_byte and sha256_of(path) != file.sha256:
                return f"{at} is not what was published (SHA-256 differs)"
        except FileNotFoundError:
            return f"{at} is missing"
        except OSError as e:
            return f"{at} cannot be read: {e.strerror}"
    return None


def sha256_of(path: Path) -> str:
    """SHA-256 of a file, hexadecimal. Raises OSError."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
