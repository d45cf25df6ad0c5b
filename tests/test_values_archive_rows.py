"""What a row of an archive may hold: each value at its bounds and just beyond them, and rows that contradict
themselves."""

from __future__ import annotations

import json
from typing import Any

import pytest

from offbook.journal.archive.rows import ROWS, Misfit, row_of
from offbook.journal.packing import unpack

A, B, C, D = ("a" * 32, "b" * 32, "c" * 32, "d" * 32)
AT = "2026-03-02T18:00:00.000000Z"
WHEN = {"at": AT, "day": "2026-03-02", "zone": "Europe/London"}
SHA = "0" * 64
SCRIPT: dict[str, Any] = {
    "title": "The lamp",
    "source": "lamp.txt",
    "text": "lamp lit",
    "form": "prose",
    "lines": [{"n": 1, "start": 0, "end": 8, "text": "lamp lit", "paragraph": 1}],
    "left_out": [],
    "cues": [],
}
WORDS = [["lamp", 0, 4, 1, 0, [["lamp"]]], ["lit", 5, 8, 1, 0, [["lit"]]]]
FILE = {"piece": "The lamp", "take": 1, "name": "Mara.wav", "sha256": SHA, "bytes": 5000}
WHOLE: dict[str, dict[str, Any]] = {
    "performer": {
        "id": A, "name": "Mara", "zone": "Europe/London", "minutes_a_day": 20, "voice_minutes": 30.5,
        "added_at": AT,
    },
    "piece": {"id": B, "performer_id": A, "name": "The lamp", "keep_recordings": True, "added_at": AT},
    "version": {
        "id": C, "piece_id": B, "n": 1, "made_at": AT, "script": json.dumps(SCRIPT),
        "words": json.dumps(WORDS), "slots": "[0, 1]", "units": '[[0, 0, 0, 1, "lamp lit", null]]',
    },
    "recording": {"id": D, "piece_id": B, **WHEN, "path": "b/d.wav", "sha256": SHA, "bytes": 5000},
    "run": {
        "id": D, "piece_id": B, "version_id": C, **WHEN, "seconds": 2.0, "speaking_seconds": 1.0,
        "words": 2, "said": 1, "unsure": 0, "changed": 0, "dropped": 1, "added": 1, "prompts": 0,
        "verdicts": [
            {"i": 0, "text": "lamp", "verdict": "said", "heard": "lamp", "start": 0.5, "end": 1.0,
             "confidence": 0.9},
            {"i": 1, "text": "lit", "verdict": "dropped", "heard": None, "start": None, "end": None,
             "confidence": None},
        ],
        "extras": '[[2, "x", 1.0, 1.2, 0.9]]', "ratings": "3", "predicted": "95",
    },
    "correction": {
        "id": A, "run_id": D, "word": 1, "at": AT, "was": "dropped", "now": "said", "note": "I did",
    },
    "session": {"id": A, "piece_id": B, **WHEN, "minutes": 5},
    "answer": {
        "id": A, "piece_id": B, "version_id": C, "session_id": D, **WHEN, "kind": "thought", "unit": 0,
        "help": 1, "first": 0, "last": 1, "right": 1, "words": 2, "seconds": 9.0, "spoken": False,
        "rating": 1,
    },
    "memory": {"piece_id": B, "unit": 0, "state": 2, "due": AT, "times": 1, "lapses": 0, "help": 0},
    "reading": {"id": A, "performer_id": B, **WHEN, "title": "Prose", "text": "words", "seconds": 12.5},
    "brief": {"id": A, "performer_id": B, "name": "Players", "text": "x", "deadline": AT, "added_at": AT},
    "take": {
        "id": A, "piece_id": B, **WHEN, "n": 1, "intention": "", "file": "take.wav",
        "checks": '{"seconds": 30.0, "checks": []}', "chosen": False,
    },
    "margin_note": {
        "id": A, "piece_id": B, **WHEN, "n": 1, "slot": 0, "quote": "", "author": "Ivo", "text": "Who for?",
    },
    "parcel": {
        "id": A, "brief_id": B, **WHEN, "folder": "/sent", "files": json.dumps([FILE]), "sent_to": "",
        "confirmation": "",
    },
}  # fmt: skip


def why(table: str, **values: Any) -> str:
    """Why a row with these values is refused, "" if it is not."""
    try:
        row_of(table, json.dumps({**WHOLE[table], **values}).encode())
    except Misfit as e:
        return str(e)
    return ""


@pytest.mark.parametrize("table", ROWS)
def test_a_row_as_offbook_writes_it_is_accepted_and_one_with_another_column_is_not(table: str) -> None:
    assert why(table) == ""
    assert why(table, strange=1) == "strange: Extra inputs are not permitted"


def verdict(**values: Any) -> list[dict[str, Any]]:
    first, second = WHOLE["run"]["verdicts"]
    return [{**first, **values}, second]


MOMENTS = (("1970-01-01T00:00:00Z", "1969-12-31T23:59:59Z"), ("2999-12-31T23:00:00Z", "3000-01-01T00:00:00Z"))
BOUNDS: list[tuple[str, str, Any, Any]] = [
    *(("performer", c, ok, bad) for c in ("minutes_a_day", "voice_minutes")
      for ok, bad in ((1440, 1440.5), (0.001, 0))),
    ("performer", "name", "x" * 200, "x" * 201),
    ("performer", "name", "x", ""),
    ("performer", "zone", "UTC", "Mars/Olympus"),
    ("performer", "id", "0123456789abcdef" * 2, "0123456789abcdef" * 2 + "0"),
    ("performer", "id", A, "g" * 32),
    *(("performer", "added_at", ok, bad) for ok, bad in MOMENTS),
    ("performer", "added_at", "2026-03-02T18:00:00.123456+01:00", "2026-03-02T18:00:00.1234567Z"),
    ("performer", "added_at", "2026-03-02T18:00:00Z", "2026-03-02T18:00:00"),
    ("performer", "settled", '{"zone": "2026-03-02T18:00:00Z"}', '{"zone": "1969-03-02T18:00:00Z"}'),
    ("performer", "settled", json.dumps({"z" * 40: AT}), json.dumps({"z" * 41: AT})),
    ("performer", "settled", "{}", '{"Zone": "2026-03-02T18:00:00Z"}'),
    ("performer", "settled", "{}" + " " * 1998, "{}" + " " * 1999),
    ("piece", "limit_seconds", 1e7, 1.1e7),
    ("piece", "limit_seconds", 0.001, 0),
    ("piece", "part", "x" * 200, "x" * 201),
    ("piece", "part", "Puck", "Pu\nck"),
    ("piece", "part", "Puck", "Pu\u2028ck"),
    ("piece", "part", "Puck", "Pu\u2029ck"),
    ("piece", "due_day", "1970-01-01", "1969-12-31"),
    ("piece", "due_day", "2999-12-31", "3000-01-01"),
    ("version", "n", 1, 0),
    ("version", "n", 1_000_000, 1_000_001),
    ("recording", "bytes", 0, -1),
    ("recording", "bytes", 1 << 44, (1 << 44) + 1),
    ("recording", "sha256", "0123456789abcdef" * 4, "0" * 63),
    ("recording", "path", f"{'a' * 64}/{'b' * 64}.{'c' * 100}", f"{'a' * 65}/b"),
    ("recording", "path", "A_-9/B_-9", f"a/{'b' * 65}"),
    ("recording", "path", "a/b.", f"a/b.{'c' * 101}"),
    ("recording", "path", "a/b", "a"),
    ("run", "prompts", 1_000_000, 1_000_001),
    ("run", "added", 0, -1),
    ("run", "seconds", 86_400, 86_400.5),
    ("run", "speaking_seconds", 0, -0.5),
    ("run", "model", "x" * 200, "x" * 201),
    ("run", "verdicts", verdict(start=-10), verdict(start=-10.5)),
    ("run", "verdicts", verdict(end=86_400), verdict(end=86_400.5)),
    ("run", "verdicts", verdict(confidence=1.01), verdict(confidence=1.02)),
    ("run", "verdicts", verdict(confidence=0), verdict(confidence=-0.01)),
    ("run", "verdicts", verdict(text="x" * 500), verdict(text="x" * 501)),
    ("run", "verdicts", verdict(heard="x" * 500), verdict(heard="x" * 501)),
    ("run", "extras", "[]" + " " * 7_999_998, "[]" + " " * 7_999_999),
    ("run", "ratings", "4", "5"),
    ("run", "predicted", "00", "9x"),
    ("run", "predicted", "--", "-1"),
    ("correction", "was", "unsure", "sung"),
    ("correction", "now", "changed", ""),
    ("correction", "note", "two\n\tlines", "a\x1bb"),
    ("session", "minutes", 1440, 1440.5),
    ("session", "minutes", 0, -0.5),
    ("answer", "help", 9, 10),
    ("answer", "help", 0, -1),
    ("answer", "rating", 4, 5),
    ("answer", "rating", 0, -1),
    ("answer", "kind", "a" + "b" * 15, "a" + "b" * 16),
    ("answer", "predicted", 1, 1.01),
    ("answer", "predicted", 0, -0.01),
    ("answer", "pick_up", 86_400, 86_401),
    ("memory", "state", 1, 0),
    ("memory", "state", 3, 4),
    ("memory", "step", 100, 101),
    ("memory", "step", 0, -1),
    ("memory", "stability", 1e6, 1.1e6),
    ("memory", "stability", 0.001, 0),
    ("memory", "difficulty", 1, 0.99),
    ("memory", "difficulty", 10, 10.01),
    ("memory", "help", 9, 10),
    ("memory", "help", 0, -1),
    ("reading", "seconds", 86_400, 86_400.5),
    ("reading", "seconds", 0.001, 0),
    ("reading", "title", "x" * 200, "x" * 201),
    ("reading", "text", "x", ""),
    ("brief", "text", "x" * 1_000_000, "x" * 1_000_001),
    ("brief", "file", "x" * 400, "x" * 401),
    ("take", "n", 1, 0),
    ("take", "n", 1_000_000, 1_000_001),
    ("take", "file", "x" * 5000, "x" * 5001),
    ("margin_note", "n", 1, 0),
    ("margin_note", "n", 1_000_000, 1_000_001),
    ("margin_note", "take", 1, 0),
    ("margin_note", "take", 1_000_000, 1_000_001),
    ("margin_note", "text", "x", ""),
    ("parcel", "folder", "x" * 5000, "x" * 5001),
    ("parcel", "sent_to", "x" * 500, "x" * 501),
]  # fmt: skip


@pytest.mark.parametrize(
    ("table", "column", "accepted", "refused"),
    BOUNDS,
    ids=[f"{n} {b[0]} {b[1]}" for n, b in enumerate(BOUNDS)],
)
def test_a_value_at_its_bound_is_accepted_and_one_beyond_it_is_refused_by_name(
    table: str, column: str, accepted: Any, refused: Any
) -> None:
    assert why(table, **{column: accepted}) == ""
    assert why(table, **{column: refused}).startswith(f"{column}: ")


def test_a_value_that_is_no_name_no_line_or_out_of_the_calendar_is_refused_with_the_reason() -> None:
    assert why("performer", name="Mara  Hale") == "name: cannot be used as a name"
    assert why("performer", name=" Mara") == "name: cannot be used as a name"
    assert why("performer", name="Ma\x7fra") == "name: is more than one line, or holds control characters"
    assert why("correction", note="a\x00") == "note: holds control characters"
    assert why("performer", zone="nowhere") == "zone: is not a time zone"
    assert why("piece", due_day="1969-12-31") == "due_day: is in the year 1969"
    assert why("performer", added_at="3000-01-01T00:00:00Z") == "added_at: is in the year 3000"


def test_the_day_of_a_row_is_at_most_one_from_that_of_its_moment() -> None:
    told = "day: is not the local day of its moment"
    for day, refused in (("02-28", told), ("03-01", ""), ("03-03", ""), ("03-04", told)):
        assert why("recording", day=f"2026-{day}") == refused


def draft(**values: Any) -> str:
    """Why a draft is refused; what is given is written as JSON."""
    return why("version", **{k: v if k == "n" else json.dumps(v) for k, v in values.items()})


def test_the_words_of_a_draft_lie_in_its_script() -> None:
    outside = "its words are not in its script"
    assert draft(script={**SCRIPT, "text": "lamp li"}) == outside
    assert draft(words=[WORDS[0], ["lit", 8, 8, 1, 0, [["lit"]]]]) == ""
    assert draft(words=[WORDS[0], ["lit", 6, 5, 1, 0, [["lit"]]]]) == outside
    assert draft(words=[WORDS[0], ["lit", 5, 9, 1, 0, [["lit"]]]]) == outside
    assert draft(words=[WORDS[0], ["lit", 5, 8, 2, 0, [["lit"]]]]) == outside
    left = {"start": 5, "end": 9, "text": "x", "reason": "direction"}
    assert draft(script={**SCRIPT, "left_out": [left]}) == outside
    assert draft(script={**SCRIPT, "left_out": [{**left, "end": 8}]}) == ""
    cue = {"start": 9, "end": 9, "text": "x", "speaker": "PUCK", "before_line": None}
    assert draft(script={**SCRIPT, "cues": [cue]}) == outside
    assert draft(script={**SCRIPT, "cues": [{**cue, "start": 8, "end": 8}]}) == ""
    line = {**SCRIPT["lines"][0], "end": 9}
    assert draft(script={**SCRIPT, "lines": [line]}) == outside


def test_each_word_of_a_draft_has_one_slot_and_its_thoughts_are_numbered_and_within_it() -> None:
    slots = "it does not have one slot for each word"
    assert [draft(slots=s) for s in ([0], [0, 0], [0, 1, 2], [5, 3])] == [slots, slots, slots, ""]
    one, two = [0, 7, 0, 0, "lamp", None], [1, 9, 1, 1, "lit", 7]
    numbered = "its thoughts are not numbered one after another"
    assert draft(units=[one, two]) == ""
    assert draft(units=[two, one]) == draft(units=[one, [1, 7, 1, 1, "lit", None]]) == numbered
    assert draft(units=[[1, 7, 0, 0, "lamp", None]]) == numbered
    beyond = "its thoughts reach beyond its words"
    assert draft(units=[one, [1, 9, 1, 2, "lit", None]]) == beyond
    assert draft(units=[one, [1, 9, 1, 0, "lit", None]]) == beyond


def test_the_words_of_a_run_through_are_counted_and_numbered_as_they_are() -> None:
    first, second = WHOLE["run"]["verdicts"]
    numbered = "its words are not numbered one after another"
    assert why("run", verdicts=[first]) == why("run", words=3, said=2) == numbered
    assert why("run", verdicts=[second, first]) == numbered
    assert why("run", verdicts=[first, {**second, "i": 2}]) == numbered
    adds = "its counts do not add up to its words"
    for column in ("said", "unsure", "changed", "dropped"):
        assert why("run", **{column: WHOLE["run"][column] + 1}) == adds
        assert why("run", **{"said": 0, "dropped": 0, column: 2}) == ""


def test_a_run_through_has_a_prediction_for_each_rating() -> None:
    told = "its predictions do not fit its ratings"
    assert why("run", ratings="34") == why("run", predicted="9595") == told
    assert why("run", ratings="34", predicted="95--") == ""
    most = {"ratings": "0" * 200_000, "predicted": "--" * 200_000}
    assert why("run", **most) == ""
    assert why("run", **{**most, "ratings": "0" * 200_001}).startswith("ratings: ")
    assert why("run", **{**most, "predicted": "--" * 200_001}).startswith("predicted: ")


def test_what_a_run_through_names_is_within_its_words() -> None:
    """An added word may come after the last of the two, and all else must be about one of them."""
    assert why("run", extras='[[3, "x", 1.0, 1.2, 0.9]]') == "a word that was added is beyond its end"

    def told(**values: Any) -> str:
        return why("run", told=json.dumps({"prompts": [], "pick_ups": [], "reasons": [], **values}))

    beyond = "a word that is named is beyond its end"
    assert told() == ""
    for word, refused in ((1, ""), (2, beyond)):
        assert told(prompts=[[0, word, "lit", 1.0, False]]) == refused
        assert told(pick_ups=[["go on", word, 0.5]]) == refused
        assert told(reasons=[[word, "alignment", "dropped", "nothing"]]) == refused
    assert told(prompts=[[5, 1, "lit", 1.0, False]]) == ""


def test_an_answer_ends_no_earlier_than_it_begins_and_has_no_more_right_words_than_words() -> None:
    told = "it ends before it begins, or has more right words than words"
    assert why("answer", first=1, last=0) == why("answer", right=3) == told
    assert why("answer", first=1, last=1, right=2) == ""


def test_the_checks_of_a_take_and_the_files_of_a_parcel_are_read_too() -> None:
    point = {"what": "length", "wanted": "60 s", "found": "61 s", "met": None, "do": ""}
    assert why("take", checks=json.dumps({"seconds": 86_400, "checks": [point] * 1000})) == ""
    assert why("take", checks=json.dumps({"seconds": 86_400, "checks": [point] * 1001})) != ""
    assert why("take", checks=json.dumps({"seconds": 86_400.5, "checks": []})) != ""
    assert why("take", checks=None) == ""
    assert why("parcel", files=json.dumps([FILE] * 1000)) == ""
    assert why("parcel", files=json.dumps([FILE] * 1001)) != ""
    assert why("parcel", files=json.dumps([{**FILE, "bytes": 1 << 44}])) == ""
    for change in ({"bytes": (1 << 44) + 1}, {"bytes": -1}, {"sha256": "0" * 65}, {"take": -1}):
        assert why("parcel", files=json.dumps([FILE | change])) != ""


def test_a_refusal_names_a_column_only_if_it_can_be_one_of_ours() -> None:
    """A name of up to 30 letters; and of a long reason 120 characters are told."""
    assert why("session", **{"x" * 30: 1}) == f"{'x' * 30}: Extra inputs are not permitted"
    assert why("session", **{"x" * 31: 1}) == "Extra inputs are not permitted"
    assert why("session", **{"not ours": 1}) == "Extra inputs are not permitted"
    told = why("session", id="\x1b" * 32)
    assert "\x1b" not in told and len(told) <= len("id: ") + 120


def test_a_run_through_is_packed_as_it_comes_in() -> None:
    row = row_of("run", json.dumps(WHOLE["run"]).encode())
    assert (row["letters"], row["texts"], "verdicts" in row) == ("sd", ["lamp", "lit"], False)
    one, two = unpack(row["texts"], row["letters"], row["heard"], row["times"])
    assert (one.verdict, one.heard, one.start, one.end, one.confidence) == ("said", "lamp", 0.5, 1.0, 0.9)
    assert (two.verdict, two.heard, two.start, two.end, two.confidence) == ("dropped", None, None, None, None)
