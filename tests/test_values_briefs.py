"""Briefs in the journal: how one is found, which take serves it, what conflicts, and what is packed."""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from offbook.brief import Brief
from offbook.cli.brief import _place, _still_empty
from offbook.desk import (
    BriefKept,
    chosen_for,
    note_confirmed,
    note_sent,
    one_brief,
    pack_bundle,
    take_back_sent,
)
from offbook.desk.briefs import brief_by_key, brief_for, correct_brief, read_briefs
from offbook.desk.serving import _against, _between, _missing
from offbook.errors import JournalError, OffbookError
from offbook.journal import Connection, add_performer, add_piece, keep_recording, sending
from offbook.records import BriefRow, Performer, Piece, TakeRow
from tests.journals import Desk, desk_at

DUE = datetime(2026, 3, 11, 18, tzinfo=UTC)
NOW = datetime(2026, 3, 2, 18, tzinfo=UTC)


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return desk_at(tmp_path / "home")


def keep(
    desk: Desk, conn: Connection, name: str, *lines: str, days: int = 9, file: str | None = None
) -> BriefKept:
    """A brief in the journal."""
    due = NOW + timedelta(days=days)
    text = "\n".join([f'name = "{name}"', f"deadline = {due:%Y-%m-%dT%H:%M:%SZ}", *lines]) + "\n"
    sending.keep_brief(desk.journal, conn, desk.performer, name, text, due, file)
    return one_brief(conn, name)


def take(
    desk: Desk, conn: Connection, of: Piece | None = None, brief: BriefKept | None = None, **more: Any
) -> TakeRow:
    """A take that is chosen."""
    given = {"file": "one.wav", "recording_id": None} | more
    made = sending.add_take(
        desk.journal, conn, of or desk.piece, at=desk.clock.now, intention="try",
        brief_id=None if brief is None else brief.row.id, **given,
    )  # fmt: skip
    sending.choose_take(desk.journal, conn, made)
    return made


LAMP = 'pieces = ["The lamp"]'

# Finding a brief --------------------------------------------------------------------------------------


def test_a_brief_is_found_by_name_then_file_then_their_beginnings_then_words(desk: Desk) -> None:
    with desk.journal.writing() as conn:
        keep(desk, conn, "Quay", file="pier.toml")
        keep(desk, conn, "Pier", file="quay_two.toml")
        keep(desk, conn, "Harbour of Quay", 'send_to = "Gull & Sons, loft"')
        keep(desk, conn, "Mole", file="jetty")
        found = {
            "quay": "Quay",
            "PIER": "Pier",
            "quay two.toml": "Pier",
            "Quay_Two": "Pier",
            "harb": "Harbour of Quay",
            "quay_t": "Pier",
            "jett": "Mole",
            "of": "Harbour of Quay",
            "sons": "Harbour of Quay",
            "JETTY": "Mole",
        }
        assert {typed: one_brief(conn, typed).row.name for typed in found} == found
        for typed in ("uay", "son", "arbour"):
            with pytest.raises(JournalError, match=f"there is no brief called {typed}"):
                one_brief(conn, typed)


def test_a_brief_that_is_not_found_is_refused_with_up_to_eight_that_are_here(desk: Desk) -> None:
    with desk.journal.writing() as conn:
        with pytest.raises(JournalError) as caught:
            one_brief(conn, "x")
        assert caught.value.do == "add one: offbook brief add FILE"
        for n in range(8):
            keep(desk, conn, f"Quay {n}", days=n + 1, file="q.toml" if n == 0 else None)
        named = "; ".join(f"Quay {n}" for n in range(1, 8))
        with pytest.raises(JournalError) as caught:
            one_brief(conn, "  ")
        assert caught.value.what == "there is no brief called   "
        assert caught.value.do == f"these are here: Quay 0 (q.toml); {named}"
        keep(desk, conn, "Quay 8", days=9)
        with pytest.raises(JournalError) as caught:
            one_brief(conn, "x")
        assert caught.value.do == f"these are here: Quay 0 (q.toml); {named}; …"
        with pytest.raises(JournalError) as caught:
            one_brief(conn, "quay")
        assert caught.value.what == f"several briefs fit quay: Quay 0 (q.toml); {named}"
        assert caught.value.do == "give the whole name, or name the performer with --performer NAME"


def test_a_brief_is_found_among_those_of_one_performer_and_listed_by_deadline_and_name(desk: Desk) -> None:
    with desk.journal.writing() as conn:
        ivo = add_performer(desk.journal, conn, "Ivo", "UTC")
        keep(desk, conn, "Quay", days=9)
        keep(desk, conn, "Mole", days=9)
        text = 'name = "Jetty"\ndeadline = 2026-03-05T18:00:00Z\n'
        sending.keep_brief(desk.journal, conn, ivo, "Jetty", text, NOW + timedelta(days=3))
        assert [b.row.name for b in read_briefs(conn)] == ["Jetty", "Mole", "Quay"]
        assert [b.row.name for b in read_briefs(conn, ivo.id)] == ["Jetty"]
        assert one_brief(conn, "Jetty", "Ivo").row.performer_id == ivo.id
        with pytest.raises(JournalError, match="no brief called Quay"):
            one_brief(conn, "Quay", "Ivo")


def test_a_brief_that_is_gone_or_would_change_its_name_is_refused(desk: Desk) -> None:
    with desk.journal.writing() as conn:
        kept = keep(desk, conn, "Quay", LAMP)
        assert brief_by_key(conn, kept.row.id) == kept
        with pytest.raises(JournalError) as caught:
            brief_by_key(conn, "x")
        assert (caught.value.what, caught.value.do) == (
            "there is no such brief",
            "go back to the list of briefs",
        )
        with pytest.raises(JournalError) as caught:
            correct_brief(desk.journal, conn, kept, ['name = "Mole"'], ())
        assert (caught.value.what, caught.value.do) == (
            "a brief keeps its name", "add it again under the other name"
        )  # fmt: skip
        assert correct_brief(desk.journal, conn, kept, ['longest = "1:30"'], ()).longest == 90.0
        assert one_brief(conn, "Quay").brief.longest == 90.0


def test_a_take_is_checked_against_the_only_open_brief_that_asks_for_the_piece(desk: Desk) -> None:
    with desk.journal.writing() as conn:
        assert brief_for(conn, desk.piece, None) is None
        quay = keep(desk, conn, "Quay", LAMP)
        other = keep(desk, conn, "Mole", 'pieces = ["The ferry"]')
        assert brief_for(conn, desk.piece, None) == quay
        assert brief_for(conn, desk.piece, "mole") == other and other.missing == 1 and quay.missing == 0
        second = keep(desk, conn, "Pier", LAMP)
        with pytest.raises(JournalError) as caught:
            brief_for(conn, desk.piece, None)
        assert (caught.value.what, caught.value.do) == (
            "2 briefs ask for The lamp: Pier, Quay", "say which with --brief NAME"
        )  # fmt: skip
        sending.mark_sent(desk.journal, conn, second.row.id, NOW)
        assert brief_for(conn, desk.piece, None) == quay


# The chosen take --------------------------------------------------------------------------------------


def test_a_brief_is_served_by_its_own_take_or_one_for_none_or_that_of_another_that_agrees(desk: Desk) -> None:
    def serving(conn: Connection, name: str) -> int | None:
        ((_, found),) = chosen_for(conn, one_brief(conn, name))
        return None if found is None else found.n

    with desk.journal.writing() as conn:
        quay, pier = keep(desk, conn, "Quay", LAMP, "unbroken = true"), keep(desk, conn, "Pier", LAMP)
        keep(desk, conn, "Mole", LAMP, "slate = false")
        keep(desk, conn, "Jetty", LAMP, "slate = true")
        assert [serving(conn, n) for n in ("Quay", "Pier", "Mole", "Jetty")] == [None] * 4
        take(desk, conn, brief=one_brief(conn, "Jetty"))
        assert [serving(conn, n) for n in ("Quay", "Pier", "Mole", "Jetty")] == [1, 1, None, 1]
        take(desk, conn, brief=quay)
        assert serving(conn, "Quay") == 2 and serving(conn, "Mole") == 2
        take(desk, conn, brief=pier)
        assert [serving(conn, n) for n in ("Quay", "Pier", "Jetty")] == [2, 3, 1]
        take(desk, conn)
        assert [serving(conn, n) for n in ("Quay", "Pier", "Mole", "Jetty")] == [4] * 4
        take(desk, conn, brief=quay)
        assert [serving(conn, n) for n in ("Quay", "Pier", "Mole", "Jetty")] == [5, 4, 4, 4]


# What conflicts ---------------------------------------------------------------------------------------

MARA = Performer("mara", "Mara", "Asia/Tokyo", 20.0, 45.0, NOW)


def asked(name: str = "Quay", hours: float = 0, **points: Any) -> Brief:
    return Brief(name, DUE + timedelta(hours=hours), **({"pieces": ("The lamp",)} | points))


def test_two_briefs_conflict_in_the_recording_in_the_file_or_in_the_day() -> None:
    def between(one: dict[str, Any], other: dict[str, Any], hours: float = 30) -> list[str]:
        return list(_between([asked(**one), asked("Mole", hours, **other)], MARA))

    assert between({}, {}) == []
    assert between({"slate": True}, {"slate": False}) == [
        "The lamp needs two recordings. Slate: Quay wanted, Mole not wanted."
    ]
    (file,) = between({"kinds": ("mp4",)}, {"kinds": ("wav",)})
    assert file == "The lamp: one recording, and a file for each. File: Quay mp4, Mole wav."
    for one, other, strict in ((True, False, "Quay"), (False, True, "Mole")):
        assert between({"unbroken": one}, {"unbroken": other}) == [
            f"The lamp: film it in one take, as {strict} wants it; the other allows cuts."
        ]
    assert between({"unbroken": True}, {"unbroken": True}) == []
    assert len(between({"slate": True, "unbroken": True}, {"slate": False, "unbroken": False})) == 1
    assert between({}, {}, 20.9) == ["Quay and Mole are due on the same day, 2026-03-12."]
    assert between({}, {}, 21) == [], "18:00 is three in the morning in Tokyo"
    assert between({}, {"pieces": ("The ferry",)}) == []


def told_take(**told: Any) -> TakeRow:
    checks = json.dumps({"seconds": 30.0, "checks": [{"what": k, "met": v} for k, v in told.items()]})
    return TakeRow("k", "p", None, None, None, NOW, NOW.date(), "UTC", 3, "try", "one.wav", checks, True)


def test_a_length_may_be_half_a_second_beyond_what_a_brief_asks() -> None:
    def against(seconds: float, **points: Any) -> list[str]:
        lengths = {("Quay", "The lamp"): (seconds, "take 3 of The lamp lasts")}
        return list(_against(asked(**points), {"The lamp": None}, lengths))

    assert against(60.5, longest=60.0) == []
    assert against(60.6, longest=60.0) == ["take 3 of The lamp lasts 1:00.6; Quay wants at most 1:00."]
    assert against(29.5, shortest=30.0) == []
    assert against(29.4, shortest=30.0) == ["take 3 of The lamp lasts 0:29.4; Quay wants at least 0:30."]
    assert against(99.0) == []
    assert against(60.5, together=60.0) == []
    assert against(60.6, together=60.0) == ["Quay: all together last 1:00.6, and it asks for at most 1:00."]
    two: dict[str, Any] = {"pieces": ("The lamp", "The ferry"), "together": 60.0}
    assert against(61.0, **two) == ["Quay: 1 of 2 pieces together last 1:01, and it asks for at most 1:00."]
    assert list(_against(asked(**two), {}, {})) == []


def test_the_points_that_a_take_does_not_meet_are_named_but_for_its_length() -> None:
    lengths = {("Quay", "The lamp"): (30.0, "take 3 of The lamp lasts")}
    unmet = told_take(length=False, words=False, noise=True, slate=False)
    assert list(_against(asked(), {"The lamp": unmet}, lengths)) == [
        "take 3 of The lamp, for Quay: not met: words, slate."
    ]
    assert list(_against(asked(), {"The lamp": told_take(length=False, words=True)}, lengths)) == []


def test_what_a_brief_is_missing_is_said_piece_by_piece() -> None:
    lamp = Piece("p", "mara", "Mara", "UTC", "The lamp", None, None, None, True, NOW)

    def missing(brief: Brief, chosen: dict[str, TakeRow | None], *pieces: Piece) -> list[str]:
        row = BriefRow("k", "mara", brief.name, "", DUE, NOW, None)
        return list(_missing(BriefKept(row, brief, pieces), chosen))

    judged, unjudged = told_take(words=True), replace(told_take(), checks=None)
    assert missing(asked(how_many=1), {"The lamp": judged}, lamp) == []
    assert missing(asked(how_many=2), {"The lamp": judged}, lamp) == ["Quay wants 2 pieces and 1 are named."]
    assert missing(asked(pieces=()), {}) == ["Quay names no piece."]
    assert missing(asked(pieces=("the Lamp", "The ferry")), {"The lamp": None}, lamp) == [
        "Quay: The ferry: not in the journal under that name.",
        "Quay: no take is chosen of The lamp.",
    ]
    assert missing(asked(), {"The lamp": unjudged}, lamp) == ["Quay: take 3 of The lamp is not judged yet."]


# Packing and sending ----------------------------------------------------------------------------------


def test_a_bundle_lists_its_files_with_their_sums_sizes_and_unmet_points(desk: Desk, tmp_path: Path) -> None:
    sound = tmp_path / "one.WAV"
    sound.write_bytes(b"abc" * 1000)
    with desk.journal.writing() as conn:
        ferry = add_piece(desk.journal, conn, desk.performer, "The ferry")
    kept = keep_recording(desk.journal, desk.piece, sound)
    with desk.journal.writing() as conn:
        keep(desk, conn, "Quay", 'pieces = ["The lamp", "The ferry"]', 'by_eye = ["One person"]')
        one = take(desk, conn, recording_id=kept.id)
        told = {"seconds": 30.0, "checks": [{"what": "words", "met": False}, {"what": "noise", "met": None}]}
        sending.judge_take(desk.journal, conn, one.id, None, json.dumps(told))
        take(desk, conn, of=ferry, file=str(sound))
    made = pack_bundle(desk.journal, "quay", None, tmp_path / "new" / "parcel")
    digest = hashlib.sha256(b"abc" * 1000).hexdigest()
    assert [(f.piece, f.take, f.name, f.sha256, f.bytes, f.unmet, f.judged) for f in made.files] == [
        ("The lamp", 1, "1_Mara_The_lamp.wav", digest, 3000, ("words",), True),
        ("The ferry", 1, "2_Mara_The_ferry.wav", digest, 3000, (), False),
    ]
    assert (made.performer, made.parcel.folder, made.parcel.day) == (
        "Mara", str(tmp_path / "new" / "parcel"), date(2026, 3, 2)
    )  # fmt: skip
    assert json.loads(made.parcel.files)[1] == {
        "piece": "The ferry", "take": 1, "name": "2_Mara_The_ferry.wav", "sha256": digest, "bytes": 3000
    }  # fmt: skip
    sums = (made.folder / "SHA256SUMS.txt").read_text()
    assert sums == f"{digest}  1_Mara_The_lamp.wav\n{digest}  2_Mara_The_ferry.wav\n"
    again = pack_bundle(desk.journal, "quay", "Mara", tmp_path / "second", place="the cloud")
    assert again.parcel.folder == "the cloud"


def test_what_cannot_be_packed_is_refused_and_nothing_is_left(desk: Desk, tmp_path: Path) -> None:
    folder, sound = tmp_path / "parcel", tmp_path / "one.wav"
    sound.write_bytes(b"abc")

    def refused(name: str = "Quay", into: Path = folder) -> tuple[str, str]:
        with pytest.raises(OffbookError) as caught:
            pack_bundle(desk.journal, name, None, into)
        assert not folder.exists() or list(folder.iterdir()) == []
        return caught.value.what, caught.value.do

    with desk.journal.writing() as conn:
        ferry = add_piece(desk.journal, conn, desk.performer, "The ferry")
        keep(desk, conn, "Quay", 'pieces = ["The lamp", "The ferry"]', 'file_name = "{performer}"')
        keep(desk, conn, "Mole")
    choose = 'choose with: offbook take choose "{}" N; nothing was packed'
    assert refused("Mole") == ("Mole names no piece here", choose.format("PIECE"))
    assert refused() == ("no take is chosen of The lamp, The ferry", choose.format("The lamp"))
    with desk.journal.writing() as conn:
        take(desk, conn, file=str(sound))
        take(desk, conn, of=ferry, file=str(tmp_path / "gone.wav"))
    assert refused() == (
        "two files of the bundle would have the same name",
        "put {piece} or {number} into the brief's file_name and add the brief again; nothing was packed",
    )
    with desk.journal.writing() as conn:
        correct_brief(desk.journal, conn, one_brief(conn, "Quay"), [], ["file_name"])
    assert refused() == (
        f"the recording of take 1 of The ferry is gone: {tmp_path / 'gone.wav'}",
        "put it back, or choose another take; nothing was packed",
    )
    used = (f"{sound} already exists and is not an empty folder", "name a new folder; nothing was packed")
    assert refused(into=sound) == used
    (tmp_path / "link").symlink_to(tmp_path)
    assert refused(into=tmp_path / "link")[0].endswith("link already exists and is not an empty folder")
    what, do = refused(into=sound / "below")
    assert what.startswith(f"the bundle cannot be written into {sound / 'below'}: ")
    assert do == "free some space there, or name another folder; nothing was packed"


def test_a_parcel_is_noted_as_sent_with_the_day_by_which_it_should_be_confirmed(desk: Desk) -> None:
    with desk.journal.writing() as conn:
        quay = keep(desk, conn, "Quay", 'send_to = "the loft"')
        soon = keep(desk, conn, "Soon", "confirm_days = 1")
        sent = note_sent(desk.journal, conn, quay, None, None)
        assert (sent.sent_at, sent.sent_to, sent.confirm_by, sent.folder) == (
            NOW,
            "the loft",
            date(2026, 3, 5),
            "",
        )
        found = note_sent(desk.journal, conn, soon, None, None)
        assert (found.sent_to, found.confirm_by) == ("", date(2026, 3, 3))
        again = note_sent(desk.journal, conn, quay, "", date(2026, 4, 1))
        assert (again.id, again.sent_to, again.confirm_by) == (sent.id, "", date(2026, 4, 1))
        assert note_confirmed(desk.journal, conn, quay, NOW, "thanks").id == sent.id
        take_back_sent(desk.journal, conn, quay)
        assert one_brief(conn, "Quay").row.sent_at is None
        with pytest.raises(JournalError) as caught:
            note_confirmed(desk.journal, conn, quay, NOW, "")
        assert caught.value.what == "Quay is not noted as sent, so nothing can be confirmed"
        assert caught.value.do == 'note it first: offbook brief sent "Quay"'
        back = sending_parcels(conn, quay)
        assert [(p.sent_at, p.sent_to, p.confirm_by, p.confirmed_at, p.confirmation) for p in back] == [
            (None, "", None, None, "")
        ]


def sending_parcels(conn: Connection, kept: BriefKept) -> list[Any]:
    from offbook.journal import parcels

    return list(parcels(conn, [kept.row.id])[kept.row.id])


# The command ------------------------------------------------------------------------------------------


def test_a_place_is_one_line_of_up_to_200_characters() -> None:
    assert _place("  the \n box ") == "the box"
    assert _place("x" * 200) == "x" * 200
    for where in (" ", "x" * 201, "a\x07"):
        with pytest.raises(JournalError) as caught:
            _place(where)
        assert caught.value.what == "the place where it went is empty or too long"
        assert caught.value.do == "write up to 200 characters"


def test_a_blank_brief_says_what_is_still_empty() -> None:
    assert _still_empty({"name": True, "deadline": True}) == ""
    assert _still_empty({"name": False, "deadline": True}) == " Its name is still empty."
    assert _still_empty({"name": False, "deadline": False}) == " Its name and its deadline are still empty."
