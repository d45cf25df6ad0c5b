"""Speech models: where they are on this machine, and whether they are undamaged.

A model is a folder of files that a recogniser reads. `offbook setup` fetches it once (`models.downloads`);
after that nothing here uses the network. When a model is used for the first time, and again after any of its
files has changed, every byte is compared with the manifest, or with what was recorded when the model was
fetched. At every other use only the sizes and times of its files are compared, to see that nothing has
changed.

Two models work together: the first hears, and the second weighs wordings that the first one may confuse. They
are those that the person names, by a name of the manifest or a folder (two with a comma between them); else
those in OFFBOOK_MODEL; else those that the manifest says. "none" means no second one. They are kept in
OFFBOOK_HOME, or else in the person's data folder on this platform.
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

# The files that vosk reads of a model that takes grammars: in its `model.cc`, layout 2 and then layout 1.
NEEDED = (("am/final.mdl", "graph/HCLr.fst", "graph/Gr.fst"), ("final.mdl", "HCLr.fst", "Gr.fst"))
# The files of a second ear (`recognise.onnx_scorer`).
NEEDED_SECOND = (("encoder_model.ort", "decoder_model_merged.ort", "tokenizer.bin"),)
_NO_SECOND = "none"


def needed(role: str) -> tuple[tuple[str, ...], ...]:
    """The files that a model of this role must have, for each possible layout of its folder."""
    return NEEDED if role == FIRST else NEEDED_SECOND


def _is_model(folder: Path, role: str) -> bool:
    """Whether a folder has the files that a model of this role must have."""
    return any(all((folder / f).is_file() for f in layout) for layout in needed(role))


def data_folder() -> Path:
    """The person's data folder. It is not created here."""
    home = os.environ.get("OFFBOOK_HOME")
    return Path(home).expanduser() if home else platformdirs.user_data_path("offbook", appauthor=False)


def models_folder() -> Path:
    """Where fetched models are kept, each in a folder with its name."""
    return data_folder() / "models"


def manifest() -> ModelManifest:
    """The models of the project, and those that the person added in `models.toml` of the data folder."""
    return read_manifest(data_folder() / "models.toml")


def names() -> tuple[str, ...]:
    """The names that --model accepts, the default first."""
    known = manifest()
    return (known.default, *(n for n in known.models if n != known.default))


def _asked(name: str | None) -> list[str]:
    """The names or folders that are asked for: in `name`, else in OFFBOOK_MODEL."""
    parts = (name or os.environ.get("OFFBOOK_MODEL") or "").split(",")
    return [part.strip() for part in parts if part.strip()]


def _role(asked: str, known: ModelManifest) -> str:
    """The role of the model with this name or in this folder."""
    if asked == _NO_SECOND:
        return SECOND
    spec = known.models.get(asked)
    if spec is not None:
        return spec.role
    return SECOND if _is_model(Path(asked).expanduser(), SECOND) else FIRST


def named_roles(name: str | None = None) -> tuple[str, ...]:
    """The roles of the models that `name` asks for; both if it is None."""
    known = manifest()
    return tuple(dict.fromkeys(_role(a, known) for a in _asked(name))) if name else (FIRST, SECOND)


def chosen_model(name: str | None = None, role: str = FIRST) -> tuple[ModelSpec | None, Path]:
    """The model for a role: its entry in the manifest, and the folder in which it should be.

    The entry is None if the person named a folder. Raises ModelError if a name is neither in the manifest nor
    a folder, if a model takes no grammar, or if no second ear is wanted.
    """
    known = manifest()
    asked = next((a for a in _asked(name) if _role(a, known) == role), None)
    spec = known.models.get(asked or known.usual(role) or "")
    if spec is not None:
        if role == FIRST and not spec.grammar:
            raise ModelError(
                f"the model {spec.name} cannot be given the words to expect, which offbook needs",
                f"choose another: {', '.join(n for n, m in known.models.items() if m.grammar)}",
            )
        return spec, models_folder() / spec.name
    if asked is None or asked == _NO_SECOND:
        raise ModelError("no second ear was asked for", f"name one: {', '.join(known.models)}")
    folder = Path(asked).expanduser()
    if not folder.is_dir():
        where = "--model" if name else "OFFBOOK_MODEL"
        raise ModelError(
            f"{where} names {asked!r}, which is neither a known model nor a folder",
            f"known models: {', '.join(known.models)}",
        )
    return None, folder


def second_folder(name: str | None = None) -> Path | None:
    """The folder of the second ear, ready to be read; None if none is wanted, or if none was fetched.

    Raises ModelError if it is damaged, or if the person named one that is not there.
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
    """The folder of a model that is there and undamaged, ready for the recogniser.

    name: a name of the manifest or a folder; None for OFFBOOK_MODEL or the default. Raises ModelError if the
    model is missing, damaged or of the wrong kind.
    """
    spec, folder = chosen_model(name, role)
    if spec is None:
        if not _is_model(folder, role):
            raise ModelError(
                f"{folder} is not a speech model that takes grammars: it lacks {', '.join(NEEDED[0])}",
                "name the unpacked folder of a small or lgraph vosk model, or one of: "
                f"{', '.join(manifest().models)}",
            )
        return folder
    again = "offbook setup" + ("" if spec.name == manifest().usual(role) else f" --model {spec.name}")
    if not folder.is_dir():
        raise ModelError(f"the speech model {spec.name} is not on this machine yet", f"fetch it: {again}")
    found = checked_damage(spec, folder)
    if found is not None:
        raise ModelError(f"the speech model {spec.name} is damaged: {found}", f"fetch it again: {again}")
    return folder


def checked_damage(spec: ModelSpec, folder: Path) -> str | None:
    """The first thing that is wrong with the model in `folder`, in words; None if nothing is.

    Its bytes are only compared if a file has another size, time or place on the disk than at the last
    comparison. That state is kept in a file beside the folder; if it cannot be written, every byte is
    compared each time.
    """
    seen = _state_of_files(spec, folder)
    kept = folder.with_name(folder.name + ".compared.json")
    with suppress(OSError, ValueError):
        if seen is not None and json.loads(kept.read_text(encoding="utf-8")) == seen:
            return None
    found = damage(spec, folder, every_byte=True)
    if found is None and seen is not None:
        with suppress(OSError):
            write_whole(kept, json.dumps(seen))
    return found


def _state_of_files(spec: ModelSpec, folder: Path) -> dict[str, list[int | str]] | None:
    """By what a changed file is noticed: its size, times, place on the disk, and the hash that it should
    have.

    One of the times is that of the last change of the file's entry: unlike the time of the last write, no
    program can set it back. None if a file is missing.
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
    """The record beside a fetched model: where it came from, and the sizes and hashes of its files."""
    return folder.with_name(folder.name + ".json")


def expected(spec: ModelSpec, folder: Path) -> dict[str, FileSpec]:
    """What the files of `folder` should be, by the manifest or else by the record made when it was fetched.

    Empty if neither says anything.
    """
    if spec.files:
        return spec.files
    try:
        record = json.loads(record_path(folder).read_text(encoding="utf-8"))
        return {at: FileSpec(int(f["bytes"]), str(f["sha256"])) for at, f in record["files"].items()}
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return {}


def damage(spec: ModelSpec, folder: Path, *, every_byte: bool = False) -> str | None:
    """The first thing that is wrong with the model in `folder`, in words; None if nothing is.

    every_byte: compare the SHA-256 of each file, and not only its size.
    """
    files = expected(spec, folder)
    if not files:
        return "nothing is recorded about its files"
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
    """The SHA-256 of a file in hexadecimal. Raises OSError if it cannot be read."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
