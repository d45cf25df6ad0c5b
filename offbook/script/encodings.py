"""From bytes to text: which encoding a file is in, and whether it is text at all.

Most scripts are UTF-8. Older ones come from Windows (cp1252) or an old Mac, and some are UTF-16, with or
without a byte-order mark. A picture or a recording under a text file's name is recognised by its first bytes,
or by characters that no text has.
"""

from __future__ import annotations

import codecs

from offbook.errors import ScriptError

_BOMS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
# The first bytes of other kinds of file, and what to call each. From the formats' own specifications, from
# memory.
_KINDS = (
    (b"\xff\xd8\xff", "a JPEG picture"),
    (b"\x89PNG", "a PNG picture"),
    (b"GIF8", "a GIF picture"),
    (b"II*\x00", "a TIFF picture"),
    (b"MM\x00*", "a TIFF picture"),
    (b"ID3", "an MP3 recording"),
    (b"\xff\xfb", "an MP3 recording"),
    (b"\xff\xf3", "an MP3 recording"),
    (b"OggS", "an Ogg recording"),
    (b"fLaC", "a FLAC recording"),
    (b"RIFF", "a WAV recording or a picture"),
    (b"\x1aE\xdf\xa3", "a WebM recording"),
    (b"\x1f\x8b", "a compressed file"),
    (b"7z\xbc\xaf", "a compressed file"),
    (b"PK\x03\x04", "a zip archive"),
    (b"\x7fELF", "a program"),
    (b"{\\rtf", "a rich text (RTF) document"),
)
_OLD_OFFICE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_BOX_TYPE = slice(4, 8)  # bytes: where an MP4 file has the type of its first box (ISO/IEC 14496-12, 4.2)
_LEGACY = ("cp1252", "mac_roman", "cp850")
_SAVE_AS_SCRIPT = "save the script as text, docx, odt or pdf, and give that file"


def kind_of(data: bytes) -> str | None:
    """What a file that is not text is, by its first bytes; None if they are not those of a known kind."""
    if data.startswith(_OLD_OFFICE):
        return "an old Word document, or a protected one"
    if data[_BOX_TYPE] == b"ftyp":
        return "an MP4 or M4A recording"
    return next((name for start, name in _KINDS if data.startswith(start)), None)


def decode(data: bytes, name: str) -> str:
    """The text in `data`, with LF as the line end and without a byte-order mark.

    name: the file's name, for the error message. Raises ScriptError if the bytes are not text.
    """
    for mark, encoding in _BOMS:
        if data.startswith(mark):
            return _clean(_strict(data, encoding, name), name)
    kind = kind_of(data)
    if kind is not None:
        raise ScriptError(f"{name} is not text but {kind}", _SAVE_AS_SCRIPT)
    wide = _wide(data)
    if wide is not None:
        return _clean(_strict(data, wide, name), name)
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError:
        text = _legacy(data)
    return _clean(text, name)


def _strict(data: bytes, encoding: str, name: str) -> str:
    try:
        return data.decode(encoding)
    except UnicodeDecodeError as e:
        raise ScriptError(
            f"{name} begins as {encoding.removesuffix('-sig').upper()} text but is damaged",
            "save it again as UTF-8 text",
        ) from e


# Set by hand: how many bytes are looked at, and the fewest that show anything. Then the share of zeros among
# every second byte: at least this on the side where English has them (an accent or a dash has none), and at
# most this on the other.
_LOOKED_AT, _SHORTEST_WIDE = 4096, 4
_ONE_SIDE, _OTHER_SIDE = 0.6, 0.05


def _wide(data: bytes) -> str | None:
    """The encoding of UTF-16 text without a byte-order mark: in English every second byte is zero.

    Else None.
    """
    head = data[:_LOOKED_AT]
    if len(head) < _SHORTEST_WIDE or len(data) % 2:
        return None
    even, odd = head[0::2].count(0), head[1::2].count(0)
    half = len(head) // 2
    if odd > _ONE_SIDE * half and even < _OTHER_SIDE * half:
        return "utf-16-le"
    if even > _ONE_SIDE * half and odd < _OTHER_SIDE * half:
        return "utf-16-be"
    return None


def _legacy(data: bytes) -> str:
    """The text in the old one-byte encoding that puts quotation marks and accents where they make sense."""
    ranked = sorted(
        ((_fitness(text), -k, text) for k, text in enumerate(data.decode(e, "replace") for e in _LEGACY)),
        reverse=True,
    )
    best, _, text = ranked[0]
    if best >= 0:
        return text
    from charset_normalizer import from_bytes  # heavy, and hardly ever needed

    guess = from_bytes(data).best()
    return text if guess is None else str(guess)


def _fitness(text: str) -> int:
    """How well the characters beyond ASCII fit those beside them; a negative score means a wrong encoding."""
    score = 0
    for k, c in enumerate(text):
        if c.isascii():
            continue
        before, after = text[k - 1 : k], text[k + 1 : k + 2]
        if c in "‘’“”–—…":
            opening = c in "‘“"
            fits = (not before.strip() or before in "—–(\"“'") if opening else bool(before.strip())
            score += 2 if fits or c in "–—…’" else -1
        elif c in "£€©°½¼¾·•«»¡¿§®™":
            score += 0 if before.isalpha() and after.isalpha() else 1
        elif c.isalpha():
            clash = c.isupper() and (before.islower() or (after.islower() and before.isalpha()))
            rare = c in "ÝýÞþÐðﬁﬂƒıˆ" or c in "ªº"
            score += -2 if clash or rare else 1
        elif c != "\u00a0":
            score -= 2
    return score


# Set by hand: how many characters are looked at, and how many of them may be control characters or
# replacement characters in a text with a few faults: this many, or this share.
_CHARACTERS_CHECKED, _FEW_ODD, _ODD_SHARE = 65_536, 2, 0.005


def _clean(text: str, name: str) -> str:
    """The text with LF as the line end. Raises ScriptError if it has too many characters that no text has."""
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    head = text[:_CHARACTERS_CHECKED]
    odd = sum((c < " " and c not in "\t\n\f\v\x1a\x1b") or c in "\x7f\ufffd" for c in head)
    if "\x00" in head or odd > max(_FEW_ODD, _ODD_SHARE * len(head)):
        raise ScriptError(f"{name} is not text: it has characters that no script has", _SAVE_AS_SCRIPT)
    return text
