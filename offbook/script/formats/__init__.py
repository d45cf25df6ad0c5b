"""From a file to a `Page`: which format it is in, and what to say when it cannot be read.

The content decides before the name does: a pdf that was called .txt is read as a pdf. The libraries for
docx, odt and pdf are heavy and are imported only where such a file is met.
"""

from __future__ import annotations

import sys
import zipfile
from io import BytesIO
from pathlib import Path

from offbook.errors import ScriptError
from offbook.script.encodings import decode, kind_of
from offbook.script.sheet import Page

_MARKDOWN = (".md", ".markdown", ".mdown", ".mkd")
_FOUNTAIN = (".fountain", ".spmd")


def read_page(path: str | Path) -> Page:
    """The page in the file at `path`, "-" for standard input. Raises ScriptError, always with a remedy."""
    if str(path) == "-":
        data, name, suffix = sys.stdin.buffer.read(), "the pasted text", ""
    else:
        file = Path(path)
        data, name, suffix = _bytes(file), str(file), file.suffix.lower()
    if not data.strip():
        raise ScriptError(f"{name} is empty", "give a script with text in it")
    if data[:1024].lstrip().startswith(b"%PDF"):
        from offbook.script.formats.pdf import read_pdf

        return read_pdf(data, name)
    if data.startswith(b"PK\x03\x04"):
        return _zipped(data, name)
    if suffix in (".docx", ".odt", ".pdf"):
        return _mislabelled(data, name, suffix)
    text = decode(data, name)
    if suffix in _MARKDOWN:
        from offbook.script.formats.markdown import read_markdown

        return read_markdown(text)
    if suffix in _FOUNTAIN:
        from offbook.script.formats.fountain import read_fountain

        return read_fountain(text)
    return Page(text)


def _bytes(file: Path) -> bytes:
    try:
        return file.read_bytes()
    except FileNotFoundError as e:
        raise ScriptError(f"there is no file {file}", "check the name and the folder") from e
    except IsADirectoryError as e:
        raise ScriptError(f"{file} is a folder, not a script", "name the script file inside it") from e
    except PermissionError as e:
        if file.is_dir():  # some systems refuse to read a folder this way
            raise ScriptError(f"{file} is a folder, not a script", "name the script file inside it") from e
        raise ScriptError(f"no permission to read {file}", "allow yourself to read it, or copy it") from e
    except OSError as e:
        raise ScriptError(f"cannot read {file}: {e.strerror or e}", "check the name, or copy the file") from e


def _zipped(data: bytes, name: str) -> Page:
    try:
        with zipfile.ZipFile(BytesIO(data)) as archive:
            names = set(archive.namelist())
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError) as e:
        raise ScriptError(
            f"{name} is a damaged document: it breaks off or its parts do not fit",
            "open it in a word processor and save it again",
        ) from e
    if "word/document.xml" in names:
        from offbook.script.formats.docx import read_docx

        return read_docx(data, name)
    if "content.xml" in names:
        from offbook.script.formats.odt import read_odt

        return read_odt(data, name)
    raise ScriptError(
        f"{name} is a zip archive, not a script", "unpack it, and give the script file that is in it"
    )


def _mislabelled(data: bytes, name: str, suffix: str) -> Page:
    """A file whose name promises a document that its content is not."""
    kind = kind_of(data)
    if kind is not None and kind.startswith("an old Word"):
        raise ScriptError(
            f"{name} is protected by a password, or an old Word document",
            "open it in a word processor and save it as docx without a password",
        )
    if kind is None and suffix != ".pdf" and b"\x00" not in data[:4096]:
        return Page(decode(data, name))  # plain text under a document's name
    raise ScriptError(
        f"{name} is not a {suffix[1:]} file" + (f" but {kind}" if kind is not None else ", or is damaged"),
        "save the script again as text, docx, odt or pdf, and give that file",
    )
