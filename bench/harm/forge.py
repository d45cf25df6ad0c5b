"""Archives as a stranger might send them: forged in any member, with checksums that fit, or cut off.

A forger changes a whole archive. If the manifest is made to fit again, the forgery can only be noticed by
what the rows mean. If it is not, the archive is like one that was damaged on its way.
"""

from __future__ import annotations

import hashlib
import io
import json
import random
import zipfile
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

Row = dict[str, Any]


@dataclass
class Built:
    """An archive taken apart: its members by name without the manifest, and what else the manifest says."""

    members: dict[str, bytes]
    head: dict[str, Any] = field(default_factory=dict)

    @classmethod
    def of(cls, path: Path) -> Built:
        """The archive at `path`, taken apart."""
        with zipfile.ZipFile(path) as z:
            members = {n: z.read(n) for n in z.namelist()}
        head = json.loads(members.pop("manifest.json"))
        del head["members"]
        return cls(members, head)

    def rows(self, table: str) -> list[Row]:
        """The rows of a table."""
        return [json.loads(line) for line in self.members[f"{table}.jsonl"].splitlines()]

    def put(self, table: str, rows: list[Any]) -> None:
        """Replace the rows of a table by these; a text is written as it is."""
        lines = [r if isinstance(r, bytes) else json.dumps(r).encode() for r in rows]
        self.members[f"{table}.jsonl"] = b"".join(line + b"\n" for line in lines)

    def save(self, path: Path, manifest: bytes | None = None, packing: int = zipfile.ZIP_DEFLATED) -> Path:
        """Write it to `path` with a manifest that fits its members, or with `manifest`."""
        facts = {
            n: {"sha256": hashlib.sha256(d).hexdigest(), "bytes": len(d)} for n, d in self.members.items()
        }
        with zipfile.ZipFile(path, "w", packing) as z:
            for name, data in self.members.items():
                z.writestr(name, data)
            whole = json.dumps({**self.head, "members": facts}).encode()
            z.writestr("manifest.json", whole if manifest is None else manifest)
        return path


TABLES = (
    *("performer", "piece", "version", "recording", "run", "correction"),
    *("session", "answer", "memory", "reading", "brief", "take"),
)
_DEEP = b"[" * 100_000 + b"]" * 100_000
STRANGE: tuple[Any, ...] = (
    *(None, True, -1, 0, 1, 10**18, 10**400, 1e308, -0.0, float("nan"), float("inf"), "", " ", [], {}),
    *([None], {"a": 1}, "\x1b]0;title\x07", "\x00", "a\nb", "x" * 70_000, "\ud800", "../../x", "/etc/passwd"),
    *("0001-01-01T00:00:00Z", "9999-12-31T23:59:59Z", "2026-13-45", "2026-02-30T25:61:61Z", "Mars/Olympus"),
    *("[]", "{}", "null", "[[]]", "[1", "NaN", "[" * 3000, '{"lines": []}', '[["a", 0, 99999, 1, 1, []]]'),
)
_STRANGE_LINES = (
    *(b"{", b"null", b"[]", b"", b"\xff\xfe{}", b'"' + b"a" * 1000 + b'"', _DEEP, b" " * 3_000_000),
    *(b'{"id": ' + b"9" * 5000 + b"}", b'{"id": "\\ud800"}', b"[" + b"0," * 500_000 + b"0]"),
)
# JSON texts that stand inside rows.
_INSIDE = {"version": ("script", "words", "slots", "units"), "run": ("extras",), "take": ("checks",)}


def forge(rng: random.Random, base: Built, path: Path) -> str:
    """Write one forgery of `base` to `path`; returns in a few words what was done."""
    kinds: list[tuple[float, Callable[[random.Random, Built, Path], str]]] = [
        (6, _values),
        (2, _insides),
        (2, _rows_moved),
        (2, _recordings),
        (1.5, _lines),
        (1.5, _manifest),
        (2, _torn),
        (1, _packed),
    ]
    made = rng.choices([k for _, k in kinds], [w for w, _ in kinds])[0]
    return made(rng, Built(dict(base.members), dict(base.head)), path)


def _table_with_rows(rng: random.Random, built: Built) -> str:
    return rng.choice([t for t in TABLES if built.members.get(f"{t}.jsonl")])


def _dumped(row: Row) -> bytes:
    return json.dumps(row).encode("utf-8", "surrogatepass")


def _values(rng: random.Random, built: Built, path: Path) -> str:
    table = _table_with_rows(rng, built)
    rows = built.rows(table)
    row = rng.choice(rows)
    told = []
    for key in rng.sample(sorted(row), min(len(row), rng.choice((1, 1, 1, 2)))):
        if rng.random() < 0.15:
            del row[key]
        elif rng.random() < 0.3 and isinstance(row[key], int | float):
            row[key] = row[key] * rng.choice((-1, 2, 1000)) + rng.choice((0, 1, -1))
        else:
            row[key] = rng.choice(STRANGE)
        told.append(key)
    if rng.random() < 0.1:
        row["extra"] = 1
    built.put(table, [_dumped(r) for r in rows])
    built.save(path)
    return f"{table}: {', '.join(told)}"


def _insides(rng: random.Random, built: Built, path: Path) -> str:
    table = rng.choice([t for t in _INSIDE if built.members.get(f"{t}.jsonl")])
    rows = built.rows(table)
    row, key = rng.choice(rows), rng.choice(_INSIDE[table])
    data = json.loads(row[key]) if row[key] else []
    at: Any = data
    for _ in range(6):
        if isinstance(at, list) and at:
            k: Any = rng.randrange(len(at))
        elif isinstance(at, dict) and at:
            k = rng.choice(sorted(at))
        else:
            break
        if not isinstance(at[k], list | dict) or rng.random() < 0.3:
            at[k] = rng.choice(STRANGE)
            break
        at = at[k]
    row[key] = json.dumps(data)
    built.put(table, [_dumped(r) for r in rows])
    built.save(path)
    return f"{table}: inside {key}"


def _rows_moved(rng: random.Random, built: Built, path: Path) -> str:
    table = _table_with_rows(rng, built)
    rows = built.rows(table)
    what = rng.choice(("lost", "twice", "another key", "another owner", "shuffled", "emptied"))
    if what == "lost":
        rows.pop(rng.randrange(len(rows)))
    elif what == "twice":
        rows.append(rng.choice(rows))
    elif what == "another key" and "id" in rows[0]:
        rng.choice(rows)["id"] = f"{rng.getrandbits(128):032x}"
    elif what == "another owner":
        keys = [k for k in rows[0] if k.endswith("_id")]
        if keys:
            rng.choice(rows)[rng.choice(keys)] = f"{rng.getrandbits(128):032x}"
    elif what == "shuffled":
        rng.shuffle(rows)
    else:
        rows = []
    built.put(table, rows)
    built.save(path)
    return f"{table}: a row {what}"


def _recordings(rng: random.Random, built: Built, path: Path) -> str:
    rows = built.rows("recording")
    row = rng.choice(rows)
    name = f"recordings/{row['path']}"
    what = rng.choice(("new key, old path", "cut", "flipped", "gone", "outside", "one path for all", "huge"))
    data = built.members[name]
    if what == "new key, old path":
        row["id"] = f"{rng.getrandbits(128):032x}"
        data = rng.randbytes(len(data))
        built.members[name] = data
        row |= {"sha256": hashlib.sha256(data).hexdigest(), "bytes": len(data)}
    elif what == "cut":
        built.members[name] = data[: rng.randrange(len(data))]
    elif what == "flipped":
        at = rng.randrange(len(data))
        built.members[name] = data[:at] + bytes([data[at] ^ 1]) + data[at + 1 :]
    elif what == "gone":
        del built.members[name]
    elif what == "outside":
        row["path"] = rng.choice(
            ("../../evil.wav", "/etc/evil", "a/../../b.wav", "C:/x/y", "a\\b", "x/" * 99)
        )
        built.members[f"recordings/{row['path']}"] = built.members.pop(name)
    elif what == "one path for all":
        for other in rows:
            other |= {k: row[k] for k in ("path", "sha256", "bytes")}
    else:
        row["bytes"] = 10**15
    built.put("recording", rows)
    built.save(path)
    return f"recording: {what}"


def _lines(rng: random.Random, built: Built, path: Path) -> str:
    table = rng.choice(TABLES)
    line = rng.choice(_STRANGE_LINES)
    built.members[f"{table}.jsonl"] = built.members.get(f"{table}.jsonl", b"") + line + b"\n"
    built.save(path)
    return f"{table}: a line of {line[:6]!r}"


def _manifest(rng: random.Random, built: Built, path: Path) -> str:
    whole = built.save(path)
    with zipfile.ZipFile(whole) as z:
        manifest = json.loads(z.read("manifest.json"))
    key = rng.choice((*manifest, "member", "text"))
    if key == "text":
        data = rng.choice((b"", b"{", b"null", b"\xff\xfe", _DEEP, b"[]", b"9" * 5000, b" " * 5_000_000))
    else:
        if key == "member":
            name = rng.choice(sorted(manifest["members"]))
            fact = rng.choice(("sha256", "bytes", None))
            if fact is None:
                manifest["members"][name] = rng.choice(STRANGE)
            else:
                manifest["members"][name][fact] = rng.choice(STRANGE)
        else:
            manifest[key] = rng.choice(STRANGE)
        data = json.dumps(manifest).encode("utf-8", "surrogatepass")
    built.save(path, data)
    return f"manifest: {key}"


def _torn(rng: random.Random, built: Built, path: Path) -> str:
    data = bytearray(built.save(path).read_bytes())
    what = rng.choice(("cut", "flips", "flips", "flips", "a stretch", "doubled"))
    if what == "cut":
        del data[rng.randrange(len(data)) :]
    elif what == "flips":
        for _ in range(rng.choice((1, 3, 30))):
            data[rng.randrange(len(data))] = rng.randrange(256)
    elif what == "a stretch":
        at = rng.randrange(len(data))
        data[at : at + 200] = rng.randbytes(len(data[at : at + 200]))
    else:
        data = data * 2
    path.write_bytes(data)
    return f"torn: {what}"


def _packed(rng: random.Random, built: Built, path: Path) -> str:
    what = rng.choice(("bz2", "lzma", "bomb", "encrypted", "strange member", "two of a name", "many"))
    if what in ("bz2", "lzma"):
        built.save(path, packing=zipfile.ZIP_BZIP2 if what == "bz2" else zipfile.ZIP_LZMA)
    elif what == "bomb":
        built.members[f"{rng.choice(TABLES)}.jsonl"] = b" " * 200_000_000
        built.save(path)
    elif what == "encrypted":
        data = bytearray(built.save(path).read_bytes())
        at = data.find(b"PK\x01\x02")
        data[at + 8] |= 1
        path.write_bytes(data)
    else:
        built.save(path)
        whole = io.BytesIO(path.read_bytes())
        with zipfile.ZipFile(whole, "a") as z:
            if what == "strange member":
                z.writestr("evil.sh", b"rm")
            elif what == "two of a name":
                z.writestr("run.jsonl", b"{}\n")
            else:
                for k in range(3000):
                    z.writestr(f"recordings/{k}", b"")
        path.write_bytes(whole.getvalue())
    return f"packed: {what}"
