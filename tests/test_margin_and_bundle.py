"""A coach's notes in the margin, and the bundle for a brief, through the real commands."""

from __future__ import annotations

import hashlib
import json
import subprocess
from datetime import timedelta
from pathlib import Path

import pytest

from offbook.brief import Brief
from offbook.desk import log_take, opened_journal
from offbook.desk.bundle import file_name
from tests.journals import LAMP, Clock
from tests.once import measure_once, spoken_recording
from tests.test_cli_journal import Desk, desk_with_lamp
from tests.test_cli_sending import BRIEF, brief, rows

# Whole commands: tests/test_values_*.py hold what the functions behind them give.
pytestmark = pytest.mark.heavy

NAMED = BRIEF + 'file_name = "{performer}-{piece}"\nsend_to = "the playhouse"\nconfirm_days = 2\n'


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Desk:
    """A performer with one piece, and a recording of half a minute."""
    spoken_recording(tmp_path / "one.wav", 31)
    measure_once(monkeypatch)
    return desk_with_lamp(tmp_path, monkeypatch)


# Notes in the margin ---------------------------------------------------------------------------------


def test_a_note_is_listed_with_its_line_and_its_author_until_it_is_done(desk: Desk) -> None:
    said = desk.see("margin", "add", "The lamp", "2", "Who carried it?  You know.", "--by", "Ivo")
    assert "note 1 beside line 2: Nobody asked who carried up the oil" in said
    desk.see("margin", "add", "The lamp", "1", "Land the tide.")
    listed = rows(desk, "margin", "list", "The lamp")
    assert [(n["note"], n["line"], n["author"], n["text"]) for n in listed] == [
        (2, 1, "coach", "Land the tide."),
        (1, 2, "Ivo", "Who carried it? You know."),
    ]
    assert "2 notes in the margin of The lamp" in desk.see("today")
    desk.see("margin", "done", "The lamp", "1")
    assert [n["note"] for n in rows(desk, "margin", "list", "The lamp")] == [2]
    assert "(done)" in desk.see("margin", "list", "The lamp", "--all")
    desk.see("margin", "done", "The lamp", "1", "--undo")
    desk.see("margin", "delete", "The lamp", "2")
    assert [n["note"] for n in rows(desk, "margin", "list", "The lamp", "--all")] == [1]


def test_a_note_moves_with_its_line_and_says_so_when_the_line_is_cut(desk: Desk) -> None:
    desk.see("margin", "add", "The lamp", "3", "Slower.")
    lines = LAMP.splitlines(keepends=True)
    script = desk.home / "lamp.txt"
    script.write_text("A line that is quite new stands here.\n" + "".join(lines), encoding="utf-8")
    desk.see("piece", "revise", "The lamp", str(script))
    assert rows(desk, "margin", "list", "The lamp")[0]["line"] == 4
    script.write_text("".join([*lines[:2], *lines[3:]]), encoding="utf-8")
    desk.see("piece", "revise", "The lamp", str(script))
    assert rows(desk, "margin", "list", "The lamp")[0]["line"] is None
    assert "a line that was cut" in desk.see("margin", "list", "The lamp")


@pytest.mark.parametrize(
    ("args", "what"),
    [
        (("add", "The lamp", "99", "Slower."), "no spoken words at 99"),
        (("add", "The lamp", "1", "  "), "empty or too long"),
        (("add", "The lamp", "1", "a\x1b[2J"), "empty or too long"),
        (("add", "The lamp", "1", "Slower.", "--take", "4"), "no take 4"),
        (("done", "The lamp", "7"), "no note 7"),
    ],
)
def test_an_invalid_margin_note_is_refused(desk: Desk, args: tuple[str, ...], what: str) -> None:
    assert what in desk.fail("margin", *args).what
    assert rows(desk, "margin", "list", "The lamp", "--all") == []


# The bundle ------------------------------------------------------------------------------------------


def chosen(desk: Desk) -> Path:
    """A brief with a chosen take that was not judged; gives the folder of a bundle that is not there yet."""
    brief(desk, NAMED)
    with opened_journal() as journal:
        log_take(journal, "The lamp", None, desk.home / "one.wav", "make her stay", None, True)
    desk.see("take", "choose", "The lamp", "1")
    return desk.home / "parcel"


def test_a_bundle_holds_an_exact_copy_of_the_chosen_take_under_the_requested_name(desk: Desk) -> None:
    folder = chosen(desk)
    told = desk.see("brief", "pack", "Saltmarrow", str(folder))
    assert sorted(p.name for p in folder.iterdir()) == ["Me-The_lamp.wav", "SHA256SUMS.txt", "checklist.html"]
    assert (folder / "Me-The_lamp.wav").read_bytes() == (desk.home / "one.wav").read_bytes()
    checked = subprocess.run(
        ["sha256sum", "-c", "SHA256SUMS.txt"], cwd=folder, capture_output=True, text=True
    )
    assert (checked.returncode, checked.stdout) == (0, "Me-The_lamp.wav: OK\n")  # GNU coreutils as the oracle
    assert "not judged yet" in told
    digest = hashlib.sha256((desk.home / "one.wav").read_bytes()).hexdigest()
    assert digest[:16] in told
    sheet = (folder / "checklist.html").read_text(encoding="utf-8")
    for said in (digest, "Me-The_lamp.wav", "the playhouse", "Say it to one person", "@page { size: A4"):
        assert said in sheet
    shown = json.loads(desk.see("brief", "show", "Saltmarrow", "--json"))["parcels"]
    assert [f["sha256"] for f in shown[0]["files"]] == [digest] and shown[0]["sent_at"] is None


def test_nothing_is_packed_into_a_used_folder_or_without_a_chosen_take(desk: Desk) -> None:
    brief(desk, NAMED)
    folder = desk.home / "parcel"
    assert "no take is chosen of The lamp" in desk.fail("brief", "pack", "Saltmarrow", str(folder)).what
    assert not folder.exists()
    folder = chosen(desk)
    folder.mkdir()
    (folder / "mine.txt").write_text("mine")
    assert "not an empty folder" in desk.fail("brief", "pack", "Saltmarrow", str(folder)).what
    assert [p.name for p in folder.iterdir()] == ["mine.txt"]
    kept = next(p for p in desk.home.rglob("*.wav") if p.name != "one.wav")
    kept.write_bytes(kept.read_bytes()[:-1] + b"\x01")
    new = desk.home / "another"
    assert "is not what was recorded" in desk.fail("brief", "pack", "Saltmarrow", str(new)).what
    assert list(new.iterdir()) == []
    assert json.loads(desk.see("brief", "show", "Saltmarrow", "--json"))["parcels"] == []


def test_a_missing_confirmation_leads_to_a_reminder_and_can_be_noted(desk: Desk) -> None:
    folder = chosen(desk)
    desk.see("brief", "pack", "Saltmarrow", str(folder))
    assert "not sent yet" in " ".join(desk.see("brief", "show", "Saltmarrow").split())
    assert "is not noted as sent" in desk.fail("brief", "confirmed", "Saltmarrow").what
    told = desk.see("brief", "sent", "Saltmarrow")
    assert "to the playhouse; not confirmed yet, ask after 2026-03-04" in " ".join(told.split())
    assert "Ask whether" not in desk.see("today")
    desk.now += timedelta(days=2)
    assert "Ask whether" not in desk.see("today")
    desk.now += timedelta(days=1)
    assert 'offbook brief confirmed "Saltmarrow Players, first round"' in " ".join(desk.see("today").split())
    assert "NOT CONFIRMED" in desk.see("brief", "list", "--csv")
    assert json.loads(desk.see("today", "--json"))["performers"][0]["unconfirmed"]
    desk.see("brief", "confirmed", "Saltmarrow", "number 31")
    assert "Ask whether" not in desk.see("today")
    assert "number 31" in desk.see("brief", "show", "Saltmarrow")
    desk.see("brief", "sent", "Saltmarrow", "--undo")
    assert "not sent yet" in " ".join(desk.see("brief", "show", "Saltmarrow").split())


def test_sending_can_be_noted_without_a_bundle_with_its_address_and_day(desk: Desk) -> None:
    chosen(desk)
    told = desk.see("brief", "sent", "Saltmarrow", "--to", "Hollis's letter box", "--confirm-by", "+5")
    assert "to Hollis's letter box; not confirmed yet, ask after 2026-03-07" in " ".join(told.split())
    assert "empty or too long" in desk.fail("brief", "sent", "Saltmarrow", "--to", "x" * 201).what


def test_the_name_of_a_file_to_send_never_leads_out_of_its_folder() -> None:
    asked = Brief("First / round", Clock().now, file_name="{number}. {brief} {performer} {piece} {take}")
    named = file_name(asked, "../Mara Ó", "The: lamp?", 2, 7, ".mp4")
    assert named == "2. First___round Mara_Ó The__lamp 7.mp4"
