"""A made-up speech model: the files a model has, a few bytes long, so that set-up can be tested whole."""

from __future__ import annotations

import hashlib
import io
import zipfile
from pathlib import Path

PARTS = {
    "am/final.mdl": b"acoustic model" * 400,
    "conf/model.conf": b"--beam=10.0\n",
    "graph/Gr.fst": b"words" * 900,
    "graph/HCLr.fst": b"sounds" * 700,
}

EAR_PARTS = {
    "encoder_model.ort": b"e" * 300,
    "decoder_model_merged.ort": b"d" * 900,
    "tokenizer.bin": b"t" * 90,
}


def lay_out(folder: Path) -> Path:
    """The model unpacked into `folder`."""
    for name, data in PARTS.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(data)
    return folder


def packed(inside: str, parts: dict[str, bytes] = PARTS) -> bytes:
    """The model as a zip archive, below the folder `inside`."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("elsewhere/other.txt", "not of the model")
        archive.writestr(f"{inside}/README", "who made it")
        for name, data in parts.items():
            archive.writestr(f"{inside}/{name}", data)
    return out.getvalue()


def entry(name: str, addresses: list[str], archive: bytes | None = None, *, known: bool = True) -> str:
    """Its manifest entry. known: whether the manifest knows the files beforehand."""
    lines = [f"[[model]]\nname = '{name}'\nlanguage = 'en'\nlicence = 'none'"]
    for address in addresses:
        lines.append(f"[[model.sources]]\nkind = 'zip'\naddress = '{address}'\ninside = 'toy-1.0'")
        if archive is not None:
            lines.append(f"bytes = {len(archive)}\nsha256 = '{hashlib.sha256(archive).hexdigest()}'")
    if not addresses:
        lines.append("sources = []")
    if known:
        lines.append("[model.files]")
        lines += [
            f"'{at}' = {{ bytes = {len(data)}, sha256 = '{hashlib.sha256(data).hexdigest()}' }}"
            for at, data in PARTS.items()
        ]
    return "\n".join(lines) + "\n"


def second_entry(name: str, archive: bytes) -> str:
    """A made-up second ear in a wheel."""
    files = "\n".join(
        f"'{at}' = {{ bytes = {len(data)}, sha256 = '{hashlib.sha256(data).hexdigest()}' }}"
        for at, data in EAR_PARTS.items()
    )
    return (
        f"[[model]]\nname = '{name}'\nrole = 'second'\nlanguage = 'en'\nlicence = 'none'\n"
        f"[[model.sources]]\nkind = 'wheel'\naddress = 'toy-ear==1'\ninside = 'toy/assets'\n"
        f"bytes = {len(archive)}\nsha256 = '{hashlib.sha256(archive).hexdigest()}'\n[model.files]\n{files}\n"
    )
