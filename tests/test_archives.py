"""Archives: what an export promises, and what an import accepts from a stranger."""

from __future__ import annotations

import json
import os
import random
import shutil
import subprocess
import sys
import zipfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from harm.forge import Built, forge
from sqlalchemy import event, select

from offbook.errors import JournalError
from offbook.journal import (
    Carried,
    Journal,
    delete_marked_files,
    delete_performer,
    delete_piece,
    export,
    read_in,
)
from offbook.journal import tables as t
from offbook.journal.archive.rows import ROWS
from tests.journals import Clock, Desk, full_desk, open_at


def everything(journal: Journal) -> dict[str, list[dict[str, object]]]:
    """Every row of every table."""
    with journal.reading() as conn:
        return {
            table.name: [
                dict(r) for r in conn.execute(select(table).order_by(*table.primary_key.columns)).mappings()
            ]
            for table in t.IN_ORDER
        }


def files(journal: Journal) -> dict[str, bytes]:
    """The files in the folder of recordings."""
    found = (p for p in journal.recordings.rglob("*") if p.is_file())
    return {str(p.relative_to(journal.recordings)): p.read_bytes() for p in found}


Models = tuple[Path, Desk, Path]


@pytest.fixture(scope="session")
def models(tmp_path_factory: pytest.TempPathFactory) -> Models:
    """An empty journal, a full one, and its archive; made once and copied for each test."""
    home = tmp_path_factory.mktemp("models")
    open_at(home / "empty", Clock()).close()
    full = full_desk(home / "full", home / "take.wav")
    export(full.journal, home / "all.zip")
    full.journal.close()
    return home / "empty", full, home / "all.zip"


def copied(model: Path, home: Path) -> Journal:
    """A journal in `home` that is a copy of another one's folder."""
    shutil.copytree(model, home)
    return open_at(home, Clock())


@pytest.fixture
def desk(models: Models, tmp_path: Path) -> Desk:
    """A journal with a row in every table."""
    return replace(models[1], journal=copied(models[1].journal.home, tmp_path / "here"))


@pytest.fixture
def base(models: Models) -> Built:
    """The archive of that journal, taken apart."""
    return Built.of(models[2])


@pytest.fixture
def there(models: Models, tmp_path: Path) -> Journal:
    """An empty journal on another machine."""
    return copied(models[0], tmp_path / "there")


def changed(base: Built, table: str, **values: Any) -> Built:
    """The archive with other values in the first row of a table, and with checksums that fit."""
    made = Built(dict(base.members), dict(base.head))
    first, *others = made.rows(table)
    made.put(table, [first | values, *others])
    return made


def left(done: Carried) -> set[str]:
    """The tables from which something was left out."""
    return {each.table for each in done.left}


# A complete copy ------------------------------------------------------------------------------------


@pytest.mark.heavy
def test_an_archive_restores_the_whole_journal(desk: Desk, there: Journal, tmp_path: Path) -> None:
    done = export(desk.journal, tmp_path / "all.zip")
    assert (done.rows["run"], done.recordings, done.left) == (1, 1, ())
    assert all(done.rows[table.name] for table in t.IN_ORDER), "every table is tried here"
    assert read_in(there, tmp_path / "all.zip") == done
    assert everything(there) == everything(desk.journal)
    assert files(there) == files(desk.journal)
    again = read_in(there, tmp_path / "all.zip")
    assert sum(again.rows.values()) == 0 and again.present == sum(done.rows.values())
    assert (again.left, files(there)) == ((), files(desk.journal))


def test_an_archive_uses_the_field_names_of_run_json(base: Built) -> None:
    """JSON lines in the terms of `offbook run --json`: another program can read every verdict."""
    assert base.rows("run")[0]["verdicts"][7] == {
        "i": 7,
        "text": "came",
        "verdict": "changed",
        "heard": "ride",
        "start": 6.18,
        "end": 6.38,
        "confidence": 0.975,
    }


def test_the_schema_of_a_row_has_the_columns_of_its_table() -> None:
    for table in t.IN_ORDER:
        columns = {c.name for c in table.columns} - {"letters", "heard", "times"}
        fields = set(ROWS[table.name].model_fields) - {"verdicts"}
        assert fields == (columns if table is t.run else {c.name for c in table.columns}), table.name
        for c in table.columns:
            if c.name in fields and not c.nullable:
                assert ROWS[table.name].model_fields[c.name].is_required(), (table.name, c.name)


def test_an_archive_of_an_older_offbook_lacks_the_newer_tables(
    base: Built, there: Journal, tmp_path: Path
) -> None:
    for table in ("brief", "take", "margin_note", "parcel"):
        del base.members[f"{table}.jsonl"]
    done = read_in(there, base.save(tmp_path / "old.zip"))
    assert (done.left, done.rows["run"], done.rows["take"]) == ((), 1, 0)


# Written and checked --------------------------------------------------------------------------------


@pytest.mark.heavy
@pytest.mark.parametrize("harm", ["cut short", "one bit", "gone"])
def test_a_recording_damaged_on_the_disk_is_reported_and_all_else_is_exported(
    harm: str, desk: Desk, there: Journal, tmp_path: Path
) -> None:
    (file,) = desk.journal.recordings.rglob("*.wav")
    data = file.read_bytes()
    if harm == "gone":
        file.unlink()
    else:
        file.write_bytes(data[:-100] if harm == "cut short" else data[:-1] + bytes([data[-1] ^ 1]))
    done = export(desk.journal, tmp_path / "all.zip")
    assert left(done) == {"recording"} and done.recordings == 0 and len(done.left) == 1
    taken = read_in(there, tmp_path / "all.zip")
    assert left(taken) == {"recording"}
    rows = everything(there)
    assert rows["recording"] == [] and rows["run"][0]["recording_id"] is None
    assert [r["words"] for r in rows["run"]] == [34] and len(rows["take"]) == 1
    assert files(there) == {}


def test_the_export_reports_what_an_import_would_leave_out(desk: Desk, tmp_path: Path) -> None:
    with desk.journal.writing() as conn:
        conn.execute(t.run.update().values(seconds=-1.0))
    done = export(desk.journal, tmp_path / "all.zip")
    assert {"run"} <= left(done) and done.rows["run"] == 1, "it is written all the same"


def test_an_export_that_cannot_be_read_back_fails(
    desk: Desk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A disk that gives back other bytes than it was given."""
    from offbook.journal.archive import writing

    whole = writing._proved

    def proved(conn: Any, part: Path, *others: Any) -> Carried:
        data = bytearray(part.read_bytes())
        at = data.find(b"performer.jsonl") + len("performer.jsonl") + 30
        data[at] ^= 1
        part.write_bytes(data)
        return whole(conn, part, *others)

    monkeypatch.setattr(writing, "_proved", proved)
    with pytest.raises(JournalError, match="cannot be read back"):
        export(desk.journal, tmp_path / "all.zip")
    assert list(tmp_path.glob("all*")) == []


def test_an_export_never_overwrites_a_file_and_leaves_no_half_written_one(desk: Desk, tmp_path: Path) -> None:
    (tmp_path / "all.zip").write_text("mine")
    with pytest.raises(JournalError, match="exists"):
        export(desk.journal, tmp_path / "all.zip")
    assert (tmp_path / "all.zip").read_text() == "mine"
    for name in ("nowhere/all.zip", "", "a\0b"):
        with pytest.raises(JournalError):
            export(desk.journal, tmp_path / name if name else Path(name))


def test_the_next_export_deletes_the_files_of_a_killed_export_and_nothing_else(
    desk: Desk, tmp_path: Path
) -> None:
    gone = subprocess.Popen([sys.executable, "-c", ""])
    gone.wait()
    dead, working = (tmp_path / f".offbook-{n}-0a1b.part" for n in (gone.pid, os.getppid()))
    dead.write_text("half")
    working.write_text("another export, under way")
    export(desk.journal, tmp_path / "all.zip")
    assert not dead.exists()
    assert working.read_text() == "another export, under way"
    assert zipfile.is_zipfile(tmp_path / "all.zip")


@pytest.mark.skipif(os.name != "posix", reason="other systems have no such rights")
def test_only_the_owner_can_read_archives_recordings_and_their_folders(desk: Desk, tmp_path: Path) -> None:
    before = os.umask(0)
    try:
        export(desk.journal, tmp_path / "all.zip")
        there = open_at(tmp_path / "there", Clock())
        read_in(there, tmp_path / "all.zip")
    finally:
        os.umask(before)
    assert (tmp_path / "all.zip").stat().st_mode & 0o777 == 0o600
    for path in there.recordings.rglob("*"):
        assert path.stat().st_mode & 0o777 == (0o700 if path.is_dir() else 0o600), path


# Untrusted archives ---------------------------------------------------------------------------------


@pytest.mark.parametrize("fails", [False, True])
def test_a_path_in_an_archive_never_changes_an_existing_recording(
    fails: bool, desk: Desk, base: Built, tmp_path: Path
) -> None:
    """A new recording with the path of one that exists: once overwritten, or unlinked where it failed."""
    before = files(desk.journal)
    assert len(before) == 1
    row = base.rows("recording")[0]
    base.members[f"recordings/{row['path']}"] = b"another voice"
    import hashlib

    new = row | {
        "id": "f" * 32,
        "sha256": hashlib.sha256(b"another voice").hexdigest(),
        "bytes": len(b"another voice"),
    }
    base.put("recording", [new])
    path = base.save(tmp_path / "evil.zip")
    if fails:

        def stop(conn: Any, clause: Any, *others: Any) -> None:
            if str(clause).startswith("RELEASE SAVEPOINT") or "INSERT INTO recording" in str(clause):
                raise JournalError("stopped", "by the test")

        event.listen(desk.journal.engine, "before_cursor_execute", lambda c, k, s, *o: stop(c, s))
        with pytest.raises(JournalError, match="stopped"):
            read_in(desk.journal, path)
        assert files(desk.journal) == before
        return
    read_in(desk.journal, path)
    now = files(desk.journal)
    assert before.items() <= now.items(), "what was here is as it was"
    assert sorted(now.values()) == sorted([*before.values(), b"another voice"])


@pytest.mark.heavy
@pytest.mark.parametrize("path", ["../../evil.wav", "/etc/evil", "a/../../b.wav", "C:/x/y", "a\\b"])
def test_an_archive_cannot_write_outside_the_journal(
    path: str, base: Built, there: Journal, tmp_path: Path
) -> None:
    """Even one whose checksums all fit; its recording is left out, and named."""
    row = base.rows("recording")[0]
    base.members[f"recordings/{path}"] = base.members.pop(f"recordings/{row['path']}")
    base.put("recording", [row | {"path": path}])
    done = read_in(there, base.save(tmp_path / "evil.zip"))
    assert left(done) == {"recording"} and done.rows["run"] == 1
    assert files(there) == {}
    assert not list(tmp_path.rglob("*evil.wav")) and not Path("/etc/evil").exists()


STRANGE_ROWS: list[tuple[str, dict[str, Any]]] = [
    ("performer", {"zone": "Mars/Olympus"}),
    ("performer", {"minutes_a_day": float("inf")}),
    ("performer", {"name": "Mara\x1b]0;owned\x07"}),
    ("piece", {"due_day": "9999-12-31"}),
    ("piece", {"limit_seconds": -5.0}),
    ("version", {"slots": "[0]"}),
    ("version", {"units": "[]"}),
    ("version", {"words": "[" * 5000}),
    ("version", {"script": "{}"}),
    ("recording", {"sha256": "0" * 64}),
    ("run", {"words": 35}),
    ("run", {"said": 99}),
    ("run", {"seconds": float("nan")}),
    ("run", {"extras": '[["a", 1, 2, 3, 4]]'}),
    ("run", {"ratings": "9999"}),
    ("run", {"day": "2026-03-09"}),
    ("run", {"at": "0001-01-01T00:00:00Z"}),
    ("correction", {"now": "sung"}),
    ("correction", {"word": 34}),
    ("answer", {"last": 34}),
    ("answer", {"unit": 77}),
    ("memory", {"state": 7}),
    ("memory", {"due": "9999-12-31T23:59:59Z"}),
    ("memory", {"unit": 77}),
    ("reading", {"seconds": 0.0}),
    ("brief", {"deadline": "0001-01-01T00:00:00Z"}),
    ("take", {"checks": '{"checks": 5}'}),
    ("take", {"n": 10**30}),
]


@pytest.mark.heavy
@pytest.mark.parametrize(("table", "values"), STRANGE_ROWS, ids=lambda v: str(v)[:30])
def test_an_invalid_row_is_left_out_and_reported(
    table: str, values: dict[str, Any], base: Built, there: Journal, tmp_path: Path
) -> None:
    path = changed(base, table, **values).save(tmp_path / "strange.zip")
    whole = {"performer": 0}.get(table, 1)
    if not whole:
        with pytest.raises(JournalError, match="nothing in"):
            read_in(there, path)
        assert sum(map(len, everything(there).values())) == 0
        return
    done = read_in(there, path)
    assert table in left(done) and done.rows["performer"] == 1
    assert len(everything(there)[table]) == len(base.rows(table)) - 1
    assert left(export(there, tmp_path / "again.zip")) == set(), "what came in is whole"


@pytest.mark.heavy
@pytest.mark.parametrize(
    ("column", "change"),
    [
        (
            "words",
            lambda words: [[*words[0][:3], 99, *words[0][4:]], *words[1:]],
        ),  # in a line that is none
        ("words", lambda words: [*words[:-1], [*words[-1][:2], 9999, *words[-1][3:]]]),  # past the text
        ("words", lambda words: [[words[0][0], 5, 4, *words[0][3:]], *words[1:]]),  # ends before it begins
        ("slots", lambda slots: slots[:-1]),
        ("slots", lambda slots: [slots[0], slots[0], *slots[2:]]),
        ("units", lambda units: [[1, *units[0][1:]], *units[1:]]),
        ("units", lambda units: [units[0], [1, units[0][1], *units[1][2:]], *units[2:]]),
        ("units", lambda units: [*units[:-1], [*units[-1][:3], 9999, *units[-1][4:]]]),
        ("units", lambda units: [[*units[0][:2], 3, 2, *units[0][4:]], *units[1:]]),
    ],
    ids=range(9),
)
def test_a_draft_whose_parts_contradict_each_other_is_left_out(
    base: Built, there: Journal, tmp_path: Path, column: str, change: Callable[[Any], Any]
) -> None:
    values = json.loads(base.rows("version")[0][column])
    made = changed(base, "version", **{column: json.dumps(change(values))})
    assert "version" in left(read_in(there, made.save(tmp_path / "made.zip")))


def test_rows_that_refer_to_a_row_that_was_left_out_are_left_out_too(
    base: Built, there: Journal, tmp_path: Path
) -> None:
    done = read_in(there, changed(base, "version", n=-1).save(tmp_path / "a.zip"))
    assert left(done) == {"version", "run", "correction", "answer", "memory"}
    rows = everything(there)
    assert rows["take"][0]["run_id"] is None and rows["recording"] and rows["brief"]


def test_rows_of_one_piece_cannot_refer_to_rows_of_another(
    base: Built, there: Journal, tmp_path: Path
) -> None:
    other = base.rows("piece")[0] | {"id": "e" * 32, "name": "Another"}
    base.put("piece", [*base.rows("piece"), other])
    done = read_in(there, changed(base, "run", piece_id="e" * 32).save(tmp_path / "a.zip"))
    assert {"run"} <= left(done) and "another piece" in done.left[0].why


def test_a_brief_that_cannot_be_read_is_left_out(base: Built, there: Journal, tmp_path: Path) -> None:
    from offbook.desk import fits_brief

    good = 'name = "Saltmarrow Players"\ndeadline = 2026-03-11\n'
    fits_brief(good, "Europe/London")
    assert left(read_in(there, base.save(tmp_path / "whole.zip"), fits_brief)) == set()
    there = open_at(tmp_path / "another", Clock())
    undated = changed(base, "brief", text='name = "Saltmarrow Players"')
    done = read_in(there, undated.save(tmp_path / "a.zip"), fits_brief)
    # a parcel is nothing without the brief it was packed for
    assert left(done) == {"brief", "parcel"} and everything(there)["take"][0]["brief_id"] is None


def test_a_different_performer_with_the_same_name_stops_the_import(
    desk: Desk, base: Built, tmp_path: Path
) -> None:
    before = everything(desk.journal)
    path = changed(base, "performer", id="d" * 32).save(tmp_path / "a.zip")
    with pytest.raises(JournalError, match="has the same name as a different one here") as caught:
        read_in(desk.journal, path)
    assert "offbook performer set" in caught.value.do
    assert everything(desk.journal) == before


# Damaged on its way ---------------------------------------------------------------------------------


def harmed(base: Built, path: Path, name: str, change: Any) -> Path:
    """The archive with one member changed and the manifest left as it was."""
    with zipfile.ZipFile(base.save(path)) as z:
        manifest = z.read("manifest.json")
    full = next(n for n in base.members if n.startswith(name))
    data = change(base.members[full])
    if data is None:
        del base.members[full]
    else:
        base.members[full] = data
    return base.save(path, manifest)


def test_a_damaged_table_is_left_out_as_a_whole(base: Built, there: Journal, tmp_path: Path) -> None:
    path = harmed(base, tmp_path / "a.zip", "reading.jsonl", lambda d: d.replace(b"12.5", b"13.5"))
    done = read_in(there, path)
    assert left(done) == {"reading"} and everything(there)["reading"] == []
    assert done.rows["run"] == 1 and len(files(there)) == 1


@pytest.mark.heavy
@pytest.mark.parametrize("change", [lambda d: d[:-1] + bytes([d[-1] ^ 1]), lambda d: d[:-9], lambda d: None])
def test_a_damaged_recording_is_left_out_and_the_rest_comes_in(
    change: Any, base: Built, there: Journal, tmp_path: Path
) -> None:
    done = read_in(there, harmed(base, tmp_path / "a.zip", "recordings/", change))
    assert left(done) == {"recording"} and done.rows["run"] == 1
    assert files(there) == {}


@pytest.mark.parametrize(
    "manifest",
    [
        b"",
        b"{",
        b"null",
        b"[]",
        b"\xff\xfe",
        b"[" * 100_000,
        b'{"format": 1}',
        b'{"kind": "\\ud800"}',
        b"9" * 5000,
    ],
    ids=lambda b: str(b[:12]),
)
def test_an_archive_without_a_manifest_that_can_be_read_changes_nothing(
    manifest: bytes, base: Built, there: Journal, tmp_path: Path
) -> None:
    with pytest.raises(JournalError, match="not a journal archive"):
        read_in(there, base.save(tmp_path / "a.zip", manifest))
    assert sum(map(len, everything(there).values())) == 0 and files(there) == {}


def test_an_archive_of_a_newer_offbook_is_refused(base: Built, there: Journal, tmp_path: Path) -> None:
    base.head["revision"] = "0999"
    with pytest.raises(JournalError, match="newer offbook"):
        read_in(there, base.save(tmp_path / "a.zip"))


def test_a_file_that_is_not_an_archive_is_refused(there: Journal, tmp_path: Path) -> None:
    (tmp_path / "text.zip").write_text("no zip")
    with pytest.raises(JournalError, match="cannot read the archive"):
        read_in(there, tmp_path / "text.zip")
    with pytest.raises(JournalError, match="there is no file"):
        read_in(there, tmp_path / "nowhere.zip")


@pytest.mark.heavy
def test_forged_and_damaged_archives_give_two_lines_or_a_journal_that_can_be_exported(
    models: Models, base: Built, tmp_path: Path
) -> None:
    """A short seeded part of the campaign of `bench/harm`."""
    rng = random.Random(2026)
    for n in range(60):
        path = tmp_path / f"{n}.zip"
        what = forge(rng, base, path)
        there = copied(models[0], tmp_path / f"there{n}")
        try:
            read_in(there, path)
        except JournalError as e:
            assert "\n" not in e.what + e.do, what
            assert sum(map(len, everything(there).values())) == 0, what
        else:
            assert export(there, tmp_path / f"again{n}.zip").left == (), what
        with there.reading() as conn:
            named = set(conn.execute(select(t.recording.c.path)).scalars())
        assert set(files(there)) == named, what
        there.close()
        path.unlink()


# Orphans --------------------------------------------------------------------------------------------


def test_a_recording_whose_row_was_never_committed_is_deleted(desk: Desk) -> None:
    """A process killed after it put a recording in its place and before its row was committed."""
    (kept,) = desk.journal.recordings.rglob("*.wav")
    part = desk.journal.recordings / f"{'1' * 32}.999999999.part"
    part.write_bytes(b"whole")
    os.link(part, kept.with_name("0" * 32 + ".wav"))
    half = part.with_name(f"{'2' * 32}.999999999.part")
    half.write_bytes(b"half")
    acknowledged = part.with_name(f"{'3' * 32}.999999999.part")  # killed after its row was committed
    os.link(kept, acknowledged)
    mine = kept.with_name("notes of mine.txt")
    mine.write_text("not offbook's")
    desk.journal.close()
    journal = open_at(desk.journal.home, Clock())
    assert sorted(files(journal)) == sorted(str(p.relative_to(journal.recordings)) for p in (kept, mine))


def test_no_recording_is_deleted_if_the_journal_was_moved_away(desk: Desk) -> None:
    """A new journal in the place of one that was damaged, an older copy put back, or one on a server."""
    before = files(desk.journal)
    desk.journal.close()
    for file in desk.journal.home.glob("journal.sqlite3*"):
        file.rename(file.with_name(f"moved {file.name}"))
    journal = open_at(desk.journal.home, Clock())
    delete_marked_files(journal)
    assert before and files(journal) == before


def test_a_file_that_is_being_written_now_is_not_deleted(desk: Desk) -> None:
    part = desk.journal.recordings / f"{'1' * 32}.{os.getppid()}.part"
    part.write_bytes(b"half")
    delete_marked_files(desk.journal)
    assert part.exists()


def test_deleting_a_performer_also_deletes_files_without_a_row(desk: Desk) -> None:
    (kept,) = desk.journal.recordings.rglob("*.wav")
    kept.with_name("0" * 32 + ".wav").write_bytes(b"left")
    with desk.journal.writing() as conn:
        delete_performer(conn, desk.performer.id)
    delete_marked_files(desk.journal)
    assert files(desk.journal) == {}
    assert list(desk.journal.recordings.iterdir()) == []


def test_deleting_a_piece_also_deletes_its_script_and_its_sound(desk: Desk) -> None:
    """Also what a killed partner was recording and what the page took in; another piece's stay."""
    gone, there = desk.journal.home, []
    for name in ("recordings", "scripts", "spoken"):
        for key in (desk.piece.id, "b" * 32):
            (gone / name / key / "deep").mkdir(parents=True)
            (gone / name / key / "deep" / "arriving.wav").write_bytes(b"sound")
        there.append(gone / name / ("b" * 32) / "deep" / "arriving.wav")
    for n, (name, told) in enumerate(
        [
            ("upload.json", {"piece": desk.piece.id}),
            ("draft.json", {"revises": desk.piece.id}),
            ("upload.json", {"piece": "b" * 32}),
            ("draft.json", {"revises": ""}),
            ("draft.json", ["no draft"]),
        ]
    ):
        (gone / "coming-in" / str(n)).mkdir(parents=True)
        (gone / "coming-in" / str(n) / name).write_text(json.dumps(told))
        there += [gone / "coming-in" / str(n) / name] * (n > 1)
    with desk.journal.writing() as conn:
        delete_piece(conn, desk.piece.id)
    delete_marked_files(desk.journal)
    assert len(list((gone / "coming-in").iterdir())) == 3
    assert not any((gone / name / desk.piece.id).exists() for name in ("recordings", "scripts", "spoken"))
    assert all(file.is_file() for file in there)


def test_deleting_a_piece_erases_copies_with_its_text_even_after_a_kill(desk: Desk) -> None:
    """Copies from before an update, and the log of the database."""
    copies = desk.journal.home / "copies"
    copies.mkdir()
    for name in ("journal-0001.sqlite3", "journal-0002.sqlite3.77.part"):
        (copies / name).write_bytes(b"The lamp was lit before the tide came in.")
    delete_marked_files(desk.journal)
    assert len(list(copies.iterdir())) == 2
    with desk.journal.writing() as conn:
        delete_piece(conn, desk.piece.id)
    delete_marked_files(desk.journal)  # as at the next opening
    assert list(copies.iterdir()) == []
    left = (p for p in desk.journal.home.rglob("*") if p.is_file())
    assert [p.name for p in left if b"before the tide" in p.read_bytes()] == []


def test_a_piece_that_an_import_brought_back_keeps_its_folders(desk: Desk, tmp_path: Path) -> None:
    export(desk.journal, tmp_path / "a.zip")
    before = files(desk.journal)
    with desk.journal.writing() as conn:
        delete_piece(conn, desk.piece.id)
    (desk.journal.recordings / next(iter(before))).unlink()
    read_in(desk.journal, tmp_path / "a.zip")
    delete_marked_files(desk.journal)
    assert set(files(desk.journal)) == set(before)
