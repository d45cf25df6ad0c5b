"""The brief: it is read, refused in two lines if it is invalid, and shown to people."""

from __future__ import annotations

import re
import tomllib
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from offbook.brief import (
    KEYS,
    PICTURES,
    Brief,
    BriefError,
    Limit,
    blank_brief,
    brief_in_words,
    late,
    length_told,
    load_brief,
    parse_brief,
    unsaid,
    until,
    with_lines,
    written,
)
from offbook.brief.points import EXAMPLES

# TOML 1.0.0, the specification at toml.io; its sections are named beside the checks, from memory.
# Summer time in the European Union begins and ends at 01:00 UTC on the last Sundays of March and October
# (Directive 2000/84/EC, articles 2 and 3; from memory): in 2026 on 29 March and on 25 October.
BERLIN = ZoneInfo("Europe/Berlin")  # UTC+1, in summer UTC+2
HEAD = 'name = "Saltmarrow Playhouse"\ndeadline = 2026-12-14T17:00:00+01:00\n'


def brief_with(*lines: str) -> Brief:
    return parse_brief(HEAD + "\n".join(lines), BERLIN)


def deadline_of(value: str) -> datetime:
    return parse_brief(f'name = "Saltmarrow Playhouse"\ndeadline = {value}', BERLIN).deadline


def refusal(text: str) -> BriefError:
    """The two lines with which a brief is refused, whatever is in it."""
    with pytest.raises(BriefError) as refused:
        parse_brief(text, BERLIN)
    in_two_lines(refused.value)
    return refused.value


def in_two_lines(error: BriefError) -> None:
    for line in (error.what, error.do):
        assert len(line.splitlines()) == 1 and line.strip(), repr(line)
        assert line.isprintable(), repr(line)
    assert not error.do.endswith(".")


# Each key ------------------------------------------------------------------------------------------

READ: dict[str, list[tuple[str, Any]]] = {
    "name": [
        ('"  Saltmarrow \\n Playhouse "', "Saltmarrow Playhouse"),
        ("'x'", "x"),
        (f'"{"x" * 200}"', "x" * 200),
    ],
    "deadline": [("2026-12-14T17:00:00Z", datetime(2026, 12, 14, 17, tzinfo=UTC))],
    "pieces": [('["the_lamp", "full_house"]', ("the_lamp", "full_house")), ('"the_lamp"', ("the_lamp",))],
    "shortest": [('"0:50"', 50.0), ("50", 50.0)],
    "longest": [('"2:00"', 120.0), ("120.0", 120.0)],
    "slate": [("true", True), ("false", False)],
    "kinds": [('["MP4", ".mov"]', ("mp4", "mov")), ('"wav"', ("wav",))],
    "megabytes": [("200", 200.0), ("0.1", 0.1), ("1_000_000", 1e6)],
    "picture": [(f'"{each}"', each) for each in PICTURES],
    "lines": [("720", 720), ("1", 1), ("1080.0", 1080)],
    "frames": [("24", 24.0), ("29.97", 29.97)],
    "lufs": [("[-24, -14]", (-24.0, -14.0)), ("[-70.0, 0]", (-70.0, 0.0)), ("[-23, -23]", (-23.0, -23.0))],
    "by_eye": [('["Plain wall  behind", "Chest up"]', ("Plain wall behind", "Chest up"))],
    "takes": [("5", 5), ("100", 100)],
    "file_name": [('"{performer}_{piece}"', "{performer}_{piece}"), ('"tape  {number}"', "tape {number}")],
    "send_to": [('"tapes@saltmarrow.example"', "tapes@saltmarrow.example")],
    "confirm_days": [("3", 3), ("0", 0)],
    "together": [('"3:00"', 180.0), ("95", 95.0)],
    "limits": [
        ('{ the_lamp = "1:30" }', (Limit("the_lamp", None, 90.0),)),
        ('{ the_lamp = ["0:45", 60] }', (Limit("the_lamp", 45.0, 60.0),)),
    ],
    "unbroken": [("true", True), ("false", False)],
    "how_many": [("2", 2)],
    "set_list": [('["the_lamp"]', ("the_lamp",))],
    "free": [('"the_lamp"', ("the_lamp",))],
}
# What else has to be in a brief with such a line: the pieces that it speaks of.
BESIDE = dict.fromkeys(("limits", "set_list", "free"), 'pieces = ["the_lamp", "full_house"]')
TEXTS = ["5", "true", '[""]', '["  "]', "[3]", '[["a"]]', '"\\u0000"', '["a\\u001b[2J"]', "2026-12-14", "{}"]
TIMES = ["-1", "0", "0.0", "true", "nan", "inf", "-inf", "1e400", "86400", '""', '"1:75"', '"-1:00"', "[]"]
REFUSED: dict[str, list[str]] = {
    "name": ["5", '""', '"  "', f'"{"x" * 201}"', '["x"]', '"a\\u0000b"', '"\\u001b[31mred"'],
    "deadline": ['"2026-12-14"', "17:00:00", "20261214", "true", "[2026-12-14]", "0026-12-14", "9999-12-31"],
    "pieces": [*TEXTS, '["the_lamp", "The_Lamp"]'],
    "shortest": TIMES,
    "longest": TIMES,
    "slate": ['"yes"', "1", "0", "[true]"],
    "kinds": [*TEXTS, '["."]', '["mp4", ".."]'],
    "megabytes": ["0", "-5", "1_000_001", "nan", "inf", '"200"', "true", "[200]", "9" * 400],
    "picture": ['"Landscape"', '"wide"', '""', "true", '["landscape"]', "720"],
    "lines": ["0", "-720", "720.5", "10_001", "nan", "inf", "true", '"720"', "9" * 400],
    "frames": ["0", "0.5", "1001", "-24", "nan", "true", '"24"'],
    "lufs": ["-23", "[-23]", "[-14, -24]", "[-71, -14]", "[-24, 1]", "[nan, -14]", "[-24, nan]", "[1, 2, 3]"],
    "by_eye": TEXTS,
    "takes": ["0", "-1", "2.5", "101", "true", '"5"', "inf"],
    "file_name": [
        "5",
        '""',
        '"../x"',
        '"a/b"',
        '"{surname}"',
        '"{"',
        '".x"',
        '"{piece.x}"',
        '"a\\u0000"',
        "[]",
    ],
    "send_to": ["5", '""', '["x"]', '"a\\u001b[2J"'],
    "confirm_days": ["-1", "366", "2.5", "true", '"3"'],
    "together": TIMES,
    "limits": [
        *("5", '"2:00"', "{}", "{ the_lamp = 0 }", '{ the_lamp = "soon" }', "{ the_lamp = [] }"),
        *('{ the_lamp = ["1:30", "1:00"] }', "{ the_lamp = 60, The_Lamp = 50 }", '{ "" = 60 }'),
    ],
    "unbroken": ['"yes"', "1"],
    "how_many": ["0", "2.5", "101", '"2"'],
    "set_list": [*TEXTS, '["the_lamp", "The_Lamp"]'],
    "free": [*TEXTS, '["the_lamp", "The_Lamp"]'],
}


def test_the_examples_of_this_file_cover_every_key_of_a_brief() -> None:
    assert set(READ) == set(REFUSED) == set(KEYS)


def alone(key: str, value: str) -> str:
    """A brief with this one line, and with the two that every brief must have."""
    kept = [line for line in HEAD.splitlines() if not line.startswith(f"{key} =")]
    return "\n".join([*kept, f"{key} = {value}", *([BESIDE[key]] if key in BESIDE else [])])


@pytest.mark.parametrize(("key", "value", "meant"), [(k, v, m) for k in READ for v, m in READ[k]])
def test_each_key_of_a_brief_is_read_with_its_meaning(key: str, value: str, meant: Any) -> None:
    read = getattr(parse_brief(alone(key, value), BERLIN), key)
    assert read == meant and type(read) is type(meant)


@pytest.mark.parametrize(("key", "value"), [(key, value) for key in REFUSED for value in REFUSED[key]])
def test_an_invalid_value_is_refused_with_its_key_and_an_example(key: str, value: str) -> None:
    error = refusal(alone(key, value))
    assert key in error.what and f"{key} = " in error.do
    shown = error.do.removeprefix("write it as in ").removesuffix(", without quotes")
    assert parse_brief(alone(key, shown.removeprefix(f"{key} = ")), BERLIN), "the example can be written so"


@pytest.mark.parametrize("key", ["name", "deadline"])
def test_a_brief_without_a_name_or_a_deadline_is_refused_with_the_line_to_add(key: str) -> None:
    error = refusal("\n".join(line for line in HEAD.splitlines() if not line.startswith(key)))
    assert f"no {key}" in error.what and f"{key} = " in error.do


@pytest.mark.parametrize(
    ("slip", "near"),
    [
        ("deadlne", "deadline"),
        ("Longest", "longest"),
        ("LONGEST", "longest"),
        ("by-eye", "by_eye"),
        ("piece", "pieces"),
        ("taeks", "takes"),
        ("lfus", "lufs"),
        ("megabyte", "megabytes"),
    ],
)
def test_an_unknown_key_is_refused_and_the_most_similar_key_is_named(slip: str, near: str) -> None:
    error = refusal(f"{HEAD}{slip} = 5")
    assert slip in error.what and error.do == f"did you mean {near}?"


@pytest.mark.parametrize("key", ["weather", "date", "x", '""', '"a\\nb"', '"\\u001b[2J"', '"\\u2028"'])
def test_an_unknown_key_unlike_any_other_is_refused_with_all_known_keys(key: str) -> None:
    """ "date" is not taken for a misspelt "takes"; a quoted key can hold anything (TOML 1.0.0, Keys)."""
    error = refusal(f"{HEAD}{key} = 5")
    assert all(known in error.do for known in KEYS)


def test_the_refusal_of_a_very_long_key_shortens_it() -> None:
    assert len(refusal(f"{HEAD}{'x' * 5000} = 5").what) < 400


def test_a_shortest_time_above_the_longest_is_refused() -> None:
    error = refusal(HEAD + 'shortest = "2:00"\nlongest = "1:59"')
    assert "shortest" in error.what and "longest" in error.what
    same = brief_with('shortest = "2:00"', 'longest = "2:00"')
    assert same.shortest == same.longest


@pytest.mark.parametrize("line", ["lines = 720", "frames = 24"])
def test_a_brief_that_wants_no_picture_cannot_ask_for_its_sharpness(line: str) -> None:
    error = refusal(f'{HEAD}picture = "none"\n{line}')
    assert "picture" in error.what and "lines and frames" in error.do
    assert brief_with('picture = "either"', line).picture == "either"


def test_a_requirement_that_a_brief_does_not_name_is_not_set() -> None:
    bare = brief_with()
    assert bare == Brief("Saltmarrow Playhouse", bare.deadline)


# Times ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("written", "seconds"),
    [
        ('"1:30"', 90),
        ('" 1:30 "', 90),
        ('"1: 30"', 90),
        ('"1m30"', 90),
        ('"1.5 min"', 90),
        ('"90"', 90),
        ('"90s"', 90),
        ("90", 90),
        ("1.5", 1.5),
        ('"0:01.5"', 1.5),
        ('"61:01"', 3661),
        ("0x5A", 90),  # TOML 1.0.0, Integer
        ("9e1", 90),  # TOML 1.0.0, Float
        ('"0:59.9"', 59.9),
    ],
)
def test_a_time_may_be_written_as_minutes_and_seconds_or_as_seconds(written: str, seconds: float) -> None:
    assert brief_with(f"longest = {written}").longest == pytest.approx(seconds)


@pytest.mark.parametrize(
    "written",
    [
        *("1:75", "1:60", "-1:00", "-0:30", "1:-5", "1:-0", "+1:30", "1_0:30", "1:3e1", "1:nan", "1 30"),
        *("1::30", ":30", "1:", ":", "", " ", "nan", "inf", "infinity", "1e400", "1:30:00", "1.5:00"),
        *("two minutes", "0", "0:00", "１:３０", "１:30", "9" * 400, f"{'9' * 400}:00", "1439:60", "1440:00"),
    ],
)
def test_a_text_that_is_not_a_time_is_refused(written: str) -> None:
    """Digits are those of ASCII, as TOML's own numbers have them (TOML 1.0.0, Integer)."""
    assert "longest" in refusal(f'{HEAD}longest = "{written}"').what


@given(tenths=st.integers(1, 863_999))
def test_a_length_is_shown_in_the_form_in_which_a_brief_writes_it(tenths: int) -> None:
    shown = length_told(None, tenths / 10).removeprefix("at most ")
    assert brief_with(f'longest = "{shown}"').longest == pytest.approx(tenths / 10)


def test_a_length_is_shown_with_its_minimum_its_maximum_or_both() -> None:
    assert length_told(50, 120) == "0:50 to 2:00"
    assert length_told(50, None) == "at least 0:50"
    assert length_told(None, 59.96) == "at most 1:00"


# The deadline --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("written", "in_utc"),
    [
        # Offset date-time: the offset holds, wherever the performer is; a space may stand for the T
        ("2026-12-14T17:00:00+01:00", "2026-12-14T16:00:00"),
        ("2026-12-14T17:00:00Z", "2026-12-14T17:00:00"),
        ("2026-12-14 17:00:00-07:00", "2026-12-15T00:00:00"),
        ("2026-07-14T17:00:00.5+05:45", "2026-07-14T11:15:00.500000"),
        # Local date-time: "without any relation to an offset"; here the zone of the performer
        ("2026-12-14T17:00:00", "2026-12-14T16:00:00"),
        ("2026-07-14T17:00:00", "2026-07-14T15:00:00"),
        ("2026-03-29T01:30:00", "2026-03-29T00:30:00"),
        ("2026-03-29T12:00:00", "2026-03-29T10:00:00"),
        ("2026-10-25T01:30:00", "2026-10-24T23:30:00"),
        ("2026-10-25T02:30:00", "2026-10-25T00:30:00"),  # comes twice: the first is the safe one
        ("2026-10-25T12:00:00", "2026-10-25T11:00:00"),
        # Local date: "an entire day"; over at its end
        ("2026-12-14", "2026-12-14T22:59:00"),
        ("2026-03-29", "2026-03-29T21:59:00"),
        ("2026-10-25", "2026-10-25T22:59:00"),
    ],
)
def test_a_deadline_in_each_form_of_toml_gives_the_right_moment(written: str, in_utc: str) -> None:
    """TOML 1.0.0, Offset Date-Time, Local Date-Time and Local Date."""
    assert deadline_of(written).astimezone(UTC) == datetime.fromisoformat(in_utc).replace(tzinfo=UTC)


def test_a_deadline_keeps_the_offset_it_was_given_in() -> None:
    assert deadline_of("2026-12-14T17:00:00-07:00").utcoffset() == timedelta(hours=-7)


@pytest.mark.parametrize(
    "written",
    [
        "2026-02-30",
        "2026-13-01",
        "2026-12-14T25:00:00",
        "2026-12-14 17:00",
        "14.12.2026",
        "14/12/2026",
        "soon",
    ],
)
def test_a_deadline_that_is_not_toml_is_refused_with_an_example(written: str) -> None:
    """The line is known, so its own example is shown; TOML 1.0.0 wants the seconds too."""
    error = refusal(f'name = "Saltmarrow Playhouse"\ndeadline = {written}')
    assert "line 2" in error.what and "deadline = 2026-12-14T17:00:00+01:00" in error.do


@given(
    day=st.dates(date(2000, 1, 1), date(2999, 12, 31)),
    hours=st.integers(-12, 14),
)
def test_every_accepted_deadline_can_be_converted_to_utc(day: date, hours: int) -> None:
    """Dates near the ends of the calendar are refused, so that no offset moves a deadline over them."""
    found = deadline_of(f"{day}T00:00:00{hours:+03d}:00")
    assert abs(found.astimezone(UTC).replace(tzinfo=None) - datetime(day.year, day.month, day.day)) <= (
        timedelta(hours=14)
    )
    assert until(found, found) == "0 min left"


# The file ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "raw",
    [
        HEAD.encode(),
        b"\xef\xbb\xbf" + HEAD.encode(),  # the byte-order mark of RFC 3629, section 6; from memory
        HEAD.replace("\n", "\r\n").encode(),  # TOML 1.0.0: a newline is LF or CRLF
        b"\xef\xbb\xbf" + HEAD.replace("\n", "\r\n").encode(),
    ],
    ids=["as written", "byte-order mark", "CRLF", "both"],
)
def test_a_file_is_read_whatever_editor_it_came_from(tmp_path: Path, raw: bytes) -> None:
    file = tmp_path / "brief.toml"
    file.write_bytes(raw)
    found, text = load_brief(file, BERLIN)
    assert found == brief_with()
    assert parse_brief(text, BERLIN) == found, "the text is kept and read again"


def load_refused(file: Path) -> BriefError:
    with pytest.raises(BriefError) as refused:
        load_brief(file, BERLIN)
    in_two_lines(refused.value)
    return refused.value


@pytest.mark.parametrize("encoding", ["latin-1", "utf-16", "utf-16-le"])
def test_a_file_that_is_not_utf_8_is_refused(tmp_path: Path, encoding: str) -> None:
    """TOML 1.0.0: a file must be valid UTF-8; and the tab is the only control character allowed in it."""
    file = tmp_path / "brief.toml"
    file.write_bytes(HEAD.replace("Saltmarrow", "Brückenhaus").encode(encoding))
    assert "brief.toml" in load_refused(file).what


def test_a_folder_or_a_missing_file_is_refused_with_what_to_do(tmp_path: Path) -> None:
    for nothing in (tmp_path, tmp_path / "none.toml", tmp_path / "none" / "brief.toml"):
        error = load_refused(nothing)
        assert str(nothing) in error.what and "offbook brief blank" in error.do


def test_a_path_with_a_line_break_is_shown_on_one_line(tmp_path: Path) -> None:
    error = load_refused(tmp_path / "two\nlines.toml")
    assert "two\\nlines.toml" in error.what


@pytest.mark.parametrize(
    "text",
    [
        "name = Saltmarrow Playhouse\ndeadline = 2026-12-14",
        f"{HEAD}longest = 2:00",
        f"{HEAD}longest = ",
        f"{HEAD}longest",
        f'{HEAD}name = "Again"',  # TOML 1.0.0, Key/Value Pair: a key is given once
        f"[brief]\n{HEAD}",
        f"{HEAD}lines = {'9' * 5000}",
        f"{HEAD}pieces = {'[' * 100_000}",
        f"{HEAD}name.first = 5",
        "\x00",
        "",
    ],
    ids=range(11),
)
def test_a_file_that_is_not_a_brief_is_refused_in_two_lines(text: str) -> None:
    assert refusal(text).what.startswith("the brief")


LITERALS = st.one_of(
    st.sampled_from([value for values in REFUSED.values() for value in values]),
    st.sampled_from([value for values in READ.values() for value, _ in values]),
    st.integers().map(str),
    st.floats().map(lambda x: repr(x) if "." in repr(x) or not repr(x)[-1].isdigit() else "1.0"),
    st.text(max_size=8).map(lambda text: f"'{text}'"),
)


@settings(deadline=None)
@given(rows=st.dictionaries(st.sampled_from(KEYS), LITERALS, min_size=1))
@example(rows={"name": "'x'", "deadline": "2026-12-14", "longest": "'1:30'"})
@example(rows={"name": "'x'", "deadline": "2026-12-14", "shortest": "'\ud7fc'"})
def test_a_brief_is_read_or_refused_in_two_lines_whatever_is_in_it(rows: dict[str, str]) -> None:
    text = "\n".join(f"{key} = {value}" for key, value in rows.items())
    try:
        found = parse_brief(text, BERLIN)
    except BriefError as e:
        in_two_lines(e)
    else:
        assert set(rows) >= {"name", "deadline"}
        assert all(line.isprintable() for row in brief_in_words(found) for line in row if line.isascii())


@settings(deadline=None)
@given(text=st.text())
def test_any_invalid_text_is_refused_in_two_lines(text: str) -> None:
    """The first says that it cannot be read, and where; the second how to write the line that is wrong."""
    told = refusal(f"{text}\nweather =")
    assert re.match(
        r"the brief cannot be read: .+ \(at (?:line \d+, column \d+|end of document)\)$", told.what
    )
    assert told.do == EVERY_LINE or any(told.do == as_in(key) for key in KEYS if key in text)


EVERY_LINE = 'write each line like this one: longest = "2:00"; put words in "quotes"'


def as_in(key: str) -> str:
    """The second line of a message about the line of a brief that begins with this key."""
    return f"write it as in {EXAMPLES[key]}"


@pytest.mark.parametrize(
    ("text", "where", "do"),
    [
        ("name = Saltmarrow\nlongest = 5", "line 1, column 8", as_in("name")),
        (f"{HEAD}\n\n  longest   = 2:00\n", "line 5, column 16", as_in("longest")),
        (f"{HEAD}weather = 2:00", "line 3, column 12", EVERY_LINE),
        (f"{HEAD}longest =", "end of document", EVERY_LINE),
        (f"{HEAD}longest = \n", "line 3, column 11", as_in("longest")),
        (f"{HEAD}longest\n", "line 3, column 8", as_in("longest")),
    ],
)
def test_the_message_for_a_line_that_cannot_be_read_says_where_it_is_and_how_to_write_it(
    text: str, where: str, do: str
) -> None:
    told = refusal(text)
    assert told.what.startswith("the brief cannot be read: ") and told.what.endswith(f"(at {where})")
    assert told.do == do


# The blank brief -----------------------------------------------------------------------------------


def test_the_blank_brief_can_be_read_and_asks_for_nothing_but_its_deadline() -> None:
    found = parse_brief(blank_brief("Harbour Festival", date(2026, 12, 14)), BERLIN)
    assert found == Brief("Harbour Festival", datetime(2026, 12, 14, 23, 59, tzinfo=BERLIN))


def test_the_blank_brief_has_an_empty_name_and_deadline_and_is_refused_until_both_are_filled_in() -> None:
    assert tomllib.loads(blank_brief()) == {"name": "", "deadline": ""}
    named = refusal(blank_brief(deadline=date(2026, 12, 14)))
    assert "the name is still empty" in named.what and 'name = "' in named.do
    dated = refusal(blank_brief("Harbour Festival"))
    assert "the deadline is still empty" in dated.what and "without quotes" in dated.do


@given(
    pieces=st.lists(
        st.text(min_size=1).filter(lambda t: t.strip() and t.isprintable()), unique=True, max_size=3
    )
)
def test_the_blank_brief_lists_its_pieces_whatever_their_names_contain(pieces: list[str]) -> None:
    assert tomllib.loads(blank_brief(pieces=pieces)).get("pieces", []) == pieces


def test_the_blank_brief_without_its_comment_marks_asks_what_its_examples_say() -> None:
    opened = re.sub(r"(?m)^# (?=[a-z_]+ = )", "", blank_brief("Harbour Festival", date(2026, 12, 14)))
    raw = tomllib.loads(opened)
    assert list(raw) == list(KEYS)
    found = parse_brief(opened, BERLIN)
    for key, value in raw.items():
        meant: Any = tuple(value) if isinstance(value, list) else value
        if key == "limits":
            meant = (Limit("the_lamp", None, 90.0), Limit("full_house", 45.0, 60.0))
        elif key in ("shortest", "longest", "together"):
            minutes, seconds = value.split(":")
            meant = 60 * int(minutes) + int(seconds)
        elif key == "deadline":
            meant = datetime(value.year, value.month, value.day, 23, 59, tzinfo=BERLIN)
        assert getattr(found, key) == meant, key


def test_every_line_of_the_blank_brief_is_explained_and_fits_a_page() -> None:
    lines = blank_brief().splitlines()
    assert all(len(line) <= 110 for line in lines)
    for n, line in enumerate(lines):
        if re.match(r"(# )?[a-z_]+ = ", line):
            assert lines[n - 1].startswith("# ") and " = " not in lines[n - 1]


# Shown ---------------------------------------------------------------------------------------------

TOLD: dict[str, tuple[str, str]] = {
    'pieces = ["the_lamp", "full_house"]': ("pieces", "the_lamp, full_house"),
    'shortest = "0:50"': ("length", "at least 0:50"),
    'longest = "2:00"': ("length", "at most 2:00"),
    "slate = true": ("slate", "wanted"),
    "slate = false": ("slate", "not wanted"),
    'kinds = ["mp4", "mov"]': ("file", "mp4 or mov"),
    "megabytes = 200": ("size", "at most 200 MB"),
    "megabytes = 1_000_000": ("size", "at most 1000000 MB"),
    'picture = "landscape"': ("picture", "landscape"),
    'picture = "either"': ("picture", "any"),
    'picture = "none"': ("picture", "none, sound alone"),
    "lines = 720": ("sharpness", "at least 720 pixels on the shorter side"),
    "frames = 29.97": ("motion", "at least 29.97 pictures a second"),
    "lufs = [-24, -14.5]": ("loudness", "-24 to -14.5 LUFS"),
    "takes = 5": ("takes", "at most 5 of a piece on one day"),
    'by_eye = ["Plain wall behind"]': ("by eye", "Plain wall behind"),
    'together = "3:00"': ("together", "at most 3:00"),
    "how_many = 2": ("how many", "2 pieces"),
    "unbroken = true": ("filming", "one continuous take"),
    "unbroken = false": ("filming", "cuts are allowed"),
}


@pytest.mark.parametrize("line", TOLD)
def test_each_requirement_of_a_brief_is_shown_on_one_line_and_nothing_else_is(line: str) -> None:
    bare = brief_in_words(brief_with())
    assert [what for what, _ in bare] == ["by"]
    assert brief_in_words(brief_with(line)) == [*bare, TOLD[line]]


def test_both_ends_of_a_length_share_one_line_and_each_check_by_eye_has_its_own() -> None:
    rows = brief_in_words(
        brief_with('shortest = "0:50"', 'longest = "2:00"', 'by_eye = ["Wall", "Chest up"]')
    )
    assert rows[1:] == [("length", "0:50 to 2:00"), ("by eye", "Wall"), ("by eye", "Chest up")]


@pytest.mark.parametrize(
    ("written", "shown"),
    [
        ("2026-12-14T17:00:00+01:00", "Mon 14 Dec 2026, 17:00 (UTC+01:00)"),
        ("2026-12-04T09:05:00Z", "Fri 4 Dec 2026, 09:05 (UTC)"),
        ("2026-12-14T17:00:00-03:30", "Mon 14 Dec 2026, 17:00 (UTC-03:30)"),
        ("2026-07-14", "Tue 14 Jul 2026, 23:59 (UTC+02:00)"),
    ],
)
def test_the_deadline_is_shown_in_its_own_time_zone(written: str, shown: str) -> None:
    (row,) = brief_in_words(parse_brief(f'name = "x"\ndeadline = {written}', BERLIN))
    assert row == ("by", shown)


# What is left open ---------------------------------------------------------------------------------


def test_only_the_things_that_a_brief_leaves_open_are_listed_as_open() -> None:
    everything = unsaid(brief_with('pieces = ["the_lamp", "full_house"]'))
    assert everything == [
        "how long each may be",
        "how long all together",
        "one continuous take or cuts",
        "set list or own choice",
        "a slate",
        "which kinds of file",
        "landscape or portrait",
        "whether they confirm it",
    ]
    said = brief_with(
        'pieces = ["the_lamp", "full_house"]', 'limits = { the_lamp = "2:00" }', 'together = "3:00"',
        "unbroken = false", 'free = ["the_lamp"]', "slate = false", 'kinds = ["mp4"]', 'picture = "either"',
        "confirm_days = 3",
    )  # fmt: skip
    assert unsaid(said) == []
    alone = brief_with('pieces = ["the_lamp"]')
    assert "how long all together" not in unsaid(alone), "of one piece there is nothing to add up"


def test_a_piece_with_its_own_limit_is_not_bound_by_the_general_limit() -> None:
    asked = brief_with(
        'pieces = ["the_lamp", "full_house"]', 'longest = "2:00"', 'limits = { The_Lamp = ["0:50", "1:10"] }'
    )
    assert asked.length_of("the_lamp") == (50.0, 70.0)
    assert asked.length_of("full_house") == asked.length_of(None) == (None, 120.0)


@pytest.mark.parametrize(
    "line", ['limits = { the_ferry = "2:00" }', 'set_list = ["the_ferry"]', 'free = ["the_ferry"]']
)
def test_a_line_about_a_piece_that_the_brief_does_not_ask_for_is_refused(line: str) -> None:
    error = refusal(f'{HEAD}pieces = ["the_lamp"]\n{line}')
    assert "the_ferry" in error.what and line.split(" =")[0] in error.what


def test_a_piece_cannot_be_both_from_the_set_list_and_of_free_choice() -> None:
    error = refusal(f'{HEAD}pieces = ["the_lamp"]\nset_list = ["the_lamp"]\nfree = ["The_Lamp"]')
    assert "set_list" in error.what and "free" in error.what


@settings(deadline=None)
@given(rows=st.fixed_dictionaries({}, optional={k: st.sampled_from([v for v, _ in READ[k]]) for k in READ}))
def test_a_brief_that_is_written_out_and_read_again_is_the_same(rows: dict[str, str]) -> None:
    lines = {"name": '"x"', "deadline": "2026-12-14T17:00:00Z"} | rows
    if any(key in lines for key in BESIDE):
        lines["pieces"] = '["the_lamp", "full_house"]'
    if "set_list" in lines:
        lines.pop("free", None)
    try:
        asked = parse_brief("\n".join(f"{k} = {v}" for k, v in lines.items()), BERLIN)
    except BriefError:
        return  # shortest above longest, and no picture that must be sharp
    assert parse_brief(written(asked), BERLIN) == asked


def test_a_line_set_by_hand_replaces_the_line_of_the_same_key_and_the_others_stay() -> None:
    text = f'{HEAD}# from their page\nlongest = "2:00"\nslate = true\n'
    after = parse_brief(with_lines(text, ['longest = "1:30"', "unbroken = true"], ["slate"], BERLIN), BERLIN)
    assert (after.longest, after.unbroken, after.slate) == (90.0, True, None)
    assert after.deadline == parse_brief(text, BERLIN).deadline
    whole_day = text.replace("2026-12-14T17:00:00+01:00", "2026-12-14")
    assert "deadline = 2026-12-14\n" in with_lines(whole_day, ["unbroken = true"], [], BERLIN), (
        "as it was written"
    )
    for lines, gone in (
        (["longest = soon"], []),
        (['longst = "1:30"'], []),
        ([], ["weather"]),
        ([], ["name"]),
    ):
        with pytest.raises(BriefError) as refused:
            with_lines(text, lines, gone, BERLIN)
        in_two_lines(refused.value)


def test_only_a_deadline_that_has_passed_gives_a_warning() -> None:
    asked = brief_with()
    assert late(asked, asked.deadline) == ""
    assert (
        late(asked, asked.deadline + timedelta(days=3, hours=2))
        == "The deadline of Saltmarrow Playhouse passed 3 days ago, and it is not noted as sent."
    )


# The time left -------------------------------------------------------------------------------------

HOUR, DAY = 3600, 86_400


@pytest.mark.parametrize(
    ("seconds", "shown"),
    [
        (-1, "deadline passed 0 min ago"),
        (-0.001, "deadline passed 0 min ago"),
        (-HOUR, "deadline passed 1 h ago"),
        (-(2 * DAY - 1), "deadline passed 47 h ago"),
        (-400 * DAY, "deadline passed 400 days ago"),
        (0, "0 min left"),
        (59, "0 min left"),
        (HOUR - 1, "59 min left"),
        (HOUR, "1 h 00 min left"),
        (DAY - 1, "23 h 59 min left"),
        (DAY, "24 h 00 min left"),
        (2 * DAY - 1, "47 h 59 min left"),
        (2 * DAY, "2 days left"),
        (14 * DAY + HOUR, "14 days left"),
    ],
)
def test_the_time_left_is_shown_in_days_hours_or_minutes(seconds: float, shown: str) -> None:
    now = datetime(2026, 6, 1, 12, tzinfo=UTC)
    assert until(now + timedelta(seconds=seconds), now) == shown


@pytest.mark.parametrize(
    ("day", "shown"),
    [(date(2026, 3, 29), "22 h 59 min left"), (date(2026, 10, 25), "24 h 59 min left")],
    ids=["23 hours long", "25 hours long"],
)
def test_the_time_left_counts_real_hours_across_a_change_of_the_clocks(day: date, shown: str) -> None:
    """The day has an hour less in March and one more in October (Directive 2000/84/EC)."""
    midnight = datetime(day.year, day.month, day.day, tzinfo=BERLIN)
    assert until(deadline_of(day.isoformat()), midnight) == shown


@given(seconds=st.integers(0, 40 * DAY), hours=st.integers(-12, 14))
def test_the_time_left_is_never_shown_longer_than_it_is(seconds: int, hours: int) -> None:
    """Whatever time zones the two clocks are in."""
    deadline = deadline_of(f"2026-12-14T17:00:00{hours:+03d}:00")
    shown = until(deadline, deadline.astimezone(BERLIN) - timedelta(seconds=seconds))
    sizes = {"days": DAY, "h": HOUR, "min": 60}
    said = sum(int(n) * sizes[unit] for n, unit in re.findall(r"(\d+) (days|h|min)\b", shown))
    assert said <= seconds < said + (DAY if "days" in shown else 60)
