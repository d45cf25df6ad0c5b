"""The file of an archive: its members within their limits, and what is said of a file that is none."""

from __future__ import annotations

import hashlib
import io
import json
import zipfile
from typing import Any

import pytest

from offbook.errors import JournalError
from offbook.journal.archive import members
from offbook.journal.archive.carried import NotCarried
from offbook.journal.archive.members import Archive, DamagedTable, opened_archive
from offbook.journal.opening import HEAD

TABLE = "piece.jsonl"
GIVE_WHOLE = "give an archive that `offbook export` wrote, copied whole; nothing was changed"


def facts(data: bytes) -> dict[str, Any]:
    return {"sha256": hashlib.sha256(data).hexdigest(), "bytes": len(data)}


def zipped(
    parts: dict[str, bytes],
    told: dict[str, Any] | None = None,
    packed: int = zipfile.ZIP_DEFLATED,
    **more: Any,
) -> io.BytesIO:
    """A zip file with these members and a manifest. told: facts of members that are not as they are."""
    out = io.BytesIO()
    known = {**{name: facts(data) for name, data in parts.items()}, **(told or {})}
    with zipfile.ZipFile(out, "w", packed) as file:
        for name, data in parts.items():
            file.writestr(name, data)
        manifest = {"format": 1, "kind": "offbook journal", "revision": HEAD, "members": known, **more}
        file.writestr("manifest.json", json.dumps(manifest))
    return out


def opened(file: io.BytesIO) -> Archive:
    return opened_archive(file, len(file.getvalue()))


def refused(file: io.BytesIO) -> tuple[str, str]:
    with pytest.raises(JournalError) as caught:
        opened(file)
    return caught.value.what, caught.value.do


def lines(archive: Archive, name: str = TABLE) -> list[bytes]:
    return list(archive.lines(name))


def test_a_table_is_read_line_by_line_however_its_bytes_come(monkeypatch: pytest.MonkeyPatch) -> None:
    for block in (1, 2, 3, 7, 1000):
        monkeypatch.setattr(members.CheckedMember.read, "__defaults__", (block,))
        assert lines(opened(zipped({TABLE: b"one\ntwo\n\nfour\n"}))) == [b"one", b"two", b"", b"four"]
        assert lines(opened(zipped({TABLE: b"one\ntwo"}))) == [b"one", b"two"]
        assert lines(opened(zipped({TABLE: b""}))) == []


def test_a_table_that_is_missing_or_not_what_the_manifest_says_is_damaged() -> None:
    whole = {TABLE: b"one\n"}
    for archive, name in (
        (opened(zipped(whole)), "take.jsonl"),
        (opened(zipped({}, {TABLE: facts(b"one\n")})), TABLE),
        (opened(zipped(whole, {TABLE: {**facts(b"one\n"), "bytes": 5}})), TABLE),
        (opened(zipped(whole, {TABLE: facts(b"two\n")})), TABLE),
    ):
        with pytest.raises(DamagedTable, match="it is damaged"):
            lines(archive, name)


def test_a_table_and_a_row_may_be_as_large_as_their_limits(monkeypatch: pytest.MonkeyPatch) -> None:
    archive = opened(zipped({TABLE: b"12345678\n1"}))
    monkeypatch.setattr(members, "MOST_TABLE", 10)
    assert lines(archive) == [b"12345678", b"1"]
    monkeypatch.setattr(members, "MOST_TABLE", 9)
    with pytest.raises(DamagedTable):
        lines(archive)
    monkeypatch.undo()
    archive = opened(zipped({TABLE: b"12345"}))
    monkeypatch.setattr(members, "MOST_LINE", 5)
    assert lines(archive) == [b"12345"]
    monkeypatch.setattr(members, "MOST_LINE", 4)
    with pytest.raises(DamagedTable):
        lines(archive)


def test_a_member_may_unpack_to_200_times_its_size_or_that_of_a_page_of_memory() -> None:
    def too_much(size: int, packed: int) -> bool:
        info = zipfile.ZipInfo("x")
        info.file_size, info.compress_size = size, packed
        return members._unpacks_to_too_much(info)

    assert [too_much(size, 0) for size in (819_200, 819_201)] == [False, True]
    assert [too_much(size, 5000) for size in (1_000_000, 1_000_001)] == [False, True]


def test_a_member_that_unpacks_to_too_much_or_is_packed_in_another_way_is_not_opened() -> None:
    zeros = opened(zipped({TABLE: bytes(2_000_000)}))
    with pytest.raises(zipfile.BadZipFile, match="unpacks to more than it can hold"):
        zeros.open(TABLE)
    stored = opened(zipped({TABLE: b"one\n"}, packed=zipfile.ZIP_STORED))
    assert lines(stored) == [b"one"]
    other = opened(zipped({TABLE: b"one\n"}, packed=zipfile.ZIP_BZIP2))
    with pytest.raises(NotImplementedError, match="packed in a way that offbook does not use"):
        other.open(TABLE)


def test_what_was_read_fits_the_manifest_by_its_size_and_its_hash() -> None:
    archive = opened(zipped({"recordings/a/b.wav": b"sound"}))
    read = archive.open("recordings/a/b.wav")
    assert (read.read(2), read.read(2), read.read(2), read.read(2)) == (b"so", b"un", b"d", b"")
    known = archive.facts("recordings/a/b.wav")
    assert read.fits(known) and read.size == 5
    assert not read.fits(known.model_copy(update={"bytes": 4}))
    assert not read.fits(known.model_copy(update={"sha256": "0" * 64}))


def test_a_member_is_there_if_the_file_and_the_manifest_both_have_it() -> None:
    archive = opened(zipped({TABLE: b""}, {"take.jsonl": facts(b"")}))
    assert [archive.has(name) for name in (TABLE, "take.jsonl", "run.jsonl")] == [True, False, False]


def test_what_is_no_archive_of_a_journal_is_refused_with_the_reason() -> None:
    no_manifest = io.BytesIO()
    with zipfile.ZipFile(no_manifest, "w") as file:
        file.writestr(TABLE, b"")
    assert refused(no_manifest) == ("this is not a journal archive: it has no manifest", GIVE_WHOLE)
    damaged = "cannot read the archive: it is damaged, or it is not an archive"
    assert refused(io.BytesIO(b"no zip file" * 100)) == (damaged, GIVE_WHOLE)
    unread = ("this is not a journal archive: its manifest cannot be read", GIVE_WHOLE)
    others: list[dict[str, Any]] = [
        {"format": 2}, {"kind": "offbook"}, {"revision": "12"}, {"revision": "abcd"}, {"members": 5},
    ]  # fmt: skip
    for other in others:
        assert refused(zipped({}, **other)) == unread
    for wrong in ({"sha256": "0" * 63, "bytes": 0}, {"sha256": "0" * 64, "bytes": -1}):
        assert refused(zipped({}, {TABLE: wrong})) == unread
    assert refused(zipped({}, {TABLE: {"sha256": "0" * 64, "bytes": (1 << 44) + 1}})) == unread
    opened(zipped({}, {TABLE: {"sha256": "0" * 64, "bytes": 1 << 44}}))


def test_an_archive_of_a_newer_offbook_is_refused_and_one_as_new_as_this_is_not() -> None:
    opened(zipped({}, revision=HEAD))
    opened(zipped({}, revision="0001"))
    assert refused(zipped({}, revision="9999")) == (
        f"the archive was written by a newer offbook (revision 9999, this one knows {HEAD})",
        "install the newer offbook; nothing was changed",
    )


def test_an_archive_holds_only_tables_and_recordings_of_a_journal_each_once() -> None:
    strange = ("the archive holds something that does not belong to a journal", GIVE_WHOLE)
    assert refused(zipped({"notes.txt": b""})) == strange
    assert refused(zipped({"recordings/" + "x" * 490: b""})) == strange
    opened(zipped({"recordings/" + "x" * 489: b""}))  # a name of 500 characters
    not_told = io.BytesIO()
    with zipfile.ZipFile(not_told, "w") as file:
        file.writestr(TABLE, b"")
        file.writestr(
            "manifest.json",
            json.dumps({"format": 1, "kind": "offbook journal", "revision": HEAD, "members": {}}),
        )
    assert refused(not_told) == strange
    twice = zipped({TABLE: b""})
    with zipfile.ZipFile(twice, "a") as file, pytest.warns(UserWarning, match="Duplicate"):
        file.writestr(TABLE, b"")
    assert refused(twice) == ("the archive holds two members of the same name", GIVE_WHOLE)


def test_the_manifest_and_all_members_together_have_limits(monkeypatch: pytest.MonkeyPatch) -> None:
    file = zipped({TABLE: b"12345"})
    with zipfile.ZipFile(file) as inside:
        manifest = inside.getinfo("manifest.json").file_size
    for name, size in (("MOST_MANIFEST", manifest), ("MOST_UNPACKED", manifest + 5)):
        monkeypatch.setattr(members, name, size)
        opened(file)
        monkeypatch.setattr(members, name, size - 1)
        what, do = refused(file)
        assert do == GIVE_WHOLE
        assert (
            what
            == {
                "MOST_MANIFEST": "cannot read the archive: it is damaged, or it is not an archive",
                "MOST_UNPACKED": "the archive claims to hold more than fits on any disk",
            }[name]
        )
        monkeypatch.undo()


def test_what_was_left_out_is_named_as_people_call_it() -> None:
    names = {"version": "draft", "run": "run-through", "session": "sitting", "reading": "timed reading"}
    for table, name in {**names, "margin_note": "note in the margin", "take": "take"}.items():
        assert str(NotCarried(table, None, "damaged")) == f"{name}: damaged"
    assert str(NotCarried("run", "0123456789abcdef" * 2, "damaged")) == "run-through 01234567: damaged"
