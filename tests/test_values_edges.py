"""Small functions at both sides of each of their bounds, where a wrong sign or condition shows."""

from __future__ import annotations

import io
import os
import struct
import sys
from concurrent.futures import Future
from datetime import UTC, datetime, time
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from offbook import cli, late
from offbook.align import AlignedWord
from offbook.audio.joins import joins_in
from offbook.brief import Brief
from offbook.brief.message import _CLOCK, _clock
from offbook.cli.run_lines import draw
from offbook.delivery import SpokenWord
from offbook.delivery.stretches import ThoughtDelivery, _flat_thoughts, _rushed_or_dragged
from offbook.desk.live_sound import _wave_header
from offbook.desk.serving import _against
from offbook.desk.spoken_answers import said_from
from offbook.errors import RecordingError
from offbook.hear.listener import Listener
from offbook.hear.script_view import region_around
from offbook.journal.archive.members import _is_recording
from offbook.lexicon.letter_to_sound import _stems
from offbook.notes import Note
from offbook.notes.asides import _silences_before
from offbook.notes.in_place import NotedLine, NotedWord
from offbook.notes.quoting import SpokenScript
from offbook.notes.slips import _why_unsure
from offbook.pencil import _entry, _Finder
from offbook.recognise import HeardWord
from offbook.score import Extra, Run, Verdict, WordVerdict
from offbook.script import formats, parse_script
from offbook.script.finders.line_numbers import _agree, _Number
from offbook.script.formats.pdf import _Setter
from offbook.script.sheet import Page
from offbook.words import words_of
from tests.held_sound import film

LINES = "The lamp was lit before\nthe tide came in again\n"


Told = tuple[Verdict, str | None, float | None, float | None]


def run_of(*words: Told, extras: Any = ()) -> Run:
    """A run-through of the words of LINES: verdict, what was heard, where it ends, how sure."""
    script = words_of(parse_script(LINES))
    out = [
        WordVerdict(k, script[k].text, verdict, heard, None if end is None else end - 0.3, end, sure)
        for k, (verdict, heard, end, sure) in enumerate(words)
    ]
    return Run(tuple(out), tuple(extras), 10.0, 8.0)


def said_until(end: float) -> Told:
    """A word that was said, and ended then."""
    return "said", None, end, 1.0


# Sound and picture ------------------------------------------------------------------------------------


def test_joins_at_most_a_quarter_of_a_second_apart_are_one_and_the_likelier_is_reported() -> None:
    still = film(100)
    assert [j.at for j in joins_in(still, (1.0, 1.25))] == [1.0]
    assert [j.at for j in joins_in(still, (1.0, 1.2501))] == [1.0, 1.2501]
    (join,) = joins_in(still, (1.0,), (1.0, 0.3))
    assert (join.likelihood, join.why) == ("likely", "the file's own edit list puts another stretch here")
    told = {by: joins_in(still, (), (2.0, by))[0].why.split(" the sound ")[1] for by in (0.31, -0.31)}
    assert told == {
        0.31: "begins to come 0.3 s later against the picture",
        -0.31: "begins to come 0.3 s earlier against the picture",
    }


def thought(k: int, rate: float, tones: float | None = 6.0, loud: float = 8.0) -> ThoughtDelivery:
    """The k-th thought of two words; its rate, and over how many semitones and LU it moves."""
    return ThoughtDelivery(2 * k, 2 * k + 1, float(k), k + 0.9, rate, tones, loud, -23.0)


SIX = [SpokenWord(i, i * 0.5, i * 0.5 + 0.4, 0.4, 3) for i in range(10)]  # two words have six syllables


def test_a_thought_is_rushed_from_1_3_times_the_usual_rate_and_dragged_from_0_7_down() -> None:
    rates = [4.0, 4.0, 4.0, 5.2, 2.8]
    found = _rushed_or_dragged([thought(k, rate) for k, rate in enumerate(rates)], SIX)
    assert [(f.kind, f.first, f.last, f.at) for f in found] == [("rushed", 6, 7, 3.0), ("dragged", 8, 9, 4.0)]
    assert found[0].told == "5.2 syllables a second; your usual here is 4.0"
    assert (
        _rushed_or_dragged([thought(k, rate) for k, rate in enumerate([4.0, 4.0, 4.0, 5.19, 2.81])], SIX)
        == []
    )


def test_rushed_thoughts_are_reported_only_with_four_thoughts_of_six_syllables() -> None:
    four = [thought(k, rate) for k, rate in enumerate([4.0, 4.0, 4.0, 6.0])]
    assert [f.kind for f in _rushed_or_dragged(four, SIX)] == ["rushed"]
    assert _rushed_or_dragged(four[1:], SIX) == []
    five = [SpokenWord(w.i, w.start, w.end, w.expected, 3 if w.i else 2) for w in SIX]
    assert _rushed_or_dragged(four, five) == [], "the first has five, and three are left"


def test_a_thought_is_flat_with_half_the_usual_pitch_range_and_no_more_loudness_range() -> None:
    tunes = [(6.0, 8.0), (6.0, 8.0), (6.0, 8.0), (3.0, 8.0), (3.0, 8.1), (3.1, 8.0), (None, 1.0)]
    words = [SpokenWord(i, i * 0.5, i * 0.5 + 0.4, 0.4, 3) for i in range(14)]
    found = _flat_thoughts([thought(k, 4.0, *t) for k, t in enumerate(tunes)], words)
    assert [f.first for f in found] == []
    tunes[5] = (6.0, 8.0)
    found = _flat_thoughts([thought(k, 4.0, *t) for k, t in enumerate(tunes)], words)
    assert [(f.kind, f.first, f.at) for f in found] == [("flat", 6, 3.0)]
    assert found[0].told == (
        "pitch moves over 3.0 semitones and loudness over 8 LU; your usual here is 6.0 and 8"
    )


CODAS = ("zip", "tuck", "rob", "wesh", "jid", "pent", "harg", "vil", "quob")


# Sound that arrives -----------------------------------------------------------------------------------


def riff(bits: int = 16, kind: int = 1, junk: bytes = b"") -> bytes:
    """The beginning of a WAV file: 48 kHz in two channels."""
    about = struct.pack("<HHIIHH", kind, 2, 48_000, 192_000, 4, bits)
    head = b"RIFF" + b"\0" * 4 + b"WAVE" + b"fmt " + struct.pack("<I", 16) + about
    return head + junk + b"data" + b"\0" * 4 + b"ab"


@pytest.mark.parametrize("known", [4, 12, 30, 60])
@pytest.mark.parametrize("junk", [b"", b"LIST" + b"\1\0\0\0" * 3])
def test_the_rate_and_channels_of_a_recording_program_are_read_from_its_wav_header(
    known: int, junk: bytes
) -> None:
    whole = riff(junk=junk)
    pipe = io.BytesIO(whole[known:])
    rate, channels, sound = _wave_header(whole[:known], pipe)
    assert (rate, channels, sound + pipe.read()) == (48_000, 2, b"ab")


def test_sound_without_a_header_is_taken_as_16_bit_mono_at_16_khz() -> None:
    assert _wave_header(b"\1\0\2\0", io.BytesIO()) == (16_000, 1, b"\1\0\2\0")


def test_a_wav_header_without_sound_is_read_up_to_4096_bytes_and_refused() -> None:
    pipe = io.BytesIO(b"\0" * 10_000)
    with pytest.raises(RecordingError, match="a format that is not known"):
        _wave_header(b"RIFF", pipe)
    assert pipe.tell() == 4092
    with pytest.raises(RecordingError, match="24-bit"):
        _wave_header(riff(bits=24), io.BytesIO())
    with pytest.raises(RecordingError, match="make it write 16-bit samples"):
        _wave_header(riff(kind=3), io.BytesIO())


def test_a_hearing_that_is_dropped_cancels_everything_but_the_loading_of_the_models() -> None:
    """The models are read all the same: the next hearing uses them."""
    listener = Listener.__new__(Listener)
    listener._waiting = [Future(), Future(), Future()]
    listener.drop()
    assert [each.cancelled() for each in listener._waiting] == [False, True, True]


def test_words_are_searched_for_around_two_matching_words_or_else_after_the_last_place() -> None:
    script = [f"{a}{b}{c}" for a in ("bah", "dee", "foo") for b in ("gah", "lee", "moo") for c in CODAS]
    places = [AlignedWord(((word,),), spoken=(word,)) for word in script]

    def region(*said: str) -> range:
        words = [HeardWord(word, k / 2, k / 2 + 0.4, 1.0) for k, word in enumerate(said)]
        return region_around(places, [], words, 10)[0]

    assert region(script[50], script[51], "um", "um") == range(66)  # with the last settled word, 10
    assert region(script[50], "um", "um", "um") == range(69)
    assert region("um", "um") == range(67)


# What is asked for ------------------------------------------------------------------------------------


def test_a_time_of_day_in_a_mail_is_read_in_12_hour_and_24_hour_form() -> None:
    read = {
        "noon": time(12), "midnight": time(23, 59), "1 am": time(1), "12 am": time(0), "12 pm": time(12),
        "12:30 pm": time(12, 30), "11.45 p.m.": time(23, 45), "1 pm": time(13), "18:05": time(18, 5),
        "00:10": time(0, 10), "13 pm": None, "0 am": None,
    }  # fmt: skip
    found = {}
    for said in read:
        m = _CLOCK.search(f"by {said} please")
        found[said] = None if m is None else _clock(m)
    assert found == read


def asked(**points: Any) -> Brief:
    return Brief("Quay", datetime(2031, 5, 4, 18, tzinfo=UTC), ("One", "Two"), **points)


def told_against(brief: Brief, *seconds: float) -> list[str]:
    """The messages about pieces that last so long."""
    lengths = {("Quay", p): (s, f"{p} lasts") for p, s in zip(("One", "Two"), seconds, strict=False)}
    return list(_against(brief, {}, lengths))


def test_a_recording_may_exceed_or_miss_the_required_length_by_half_a_second() -> None:
    between = asked(shortest=50.0, longest=60.0)
    assert told_against(between, 60.5, 49.5) == []
    assert told_against(between, 60.51, 49.49) == [
        "One lasts 1:00.5; Quay wants 0:50 to 1:00.",
        "Two lasts 0:49.5; Quay wants 0:50 to 1:00.",
    ]
    together = asked(together=100.0)
    assert told_against(together, 50.0, 50.5) == []
    assert told_against(together, 50.0, 50.6) == [
        "Quay: all together last 1:40.6, and it asks for at most 1:40."
    ]
    assert told_against(together, 100.6) == [
        "Quay: 1 of 2 pieces together last 1:40.6, and it asks for at most 1:40."
    ]
    assert told_against(asked(together=100.0)) == []


# What was said ----------------------------------------------------------------------------------------


def test_a_spoken_answer_lists_what_was_heard_in_order_and_judges_each_word() -> None:
    run = run_of(
        ("said", None, 1.0, 0.9),
        ("changed", "lump", 2.0, 0.9),
        ("dropped", None, None, None),
        ("unsure", "lit", 3.0, 0.4),
        extras=[Extra(0, "ahem", 0.2, 0.4, 0.9), Extra(3, "very", 2.2, 2.4, 0.9)],
    )
    found = said_from(run, words_of(parse_script(LINES)), 5, 4.0)
    assert (found.text, found.pick_up, found.seconds) == ("ahem lump very lit", 0.2, 4.0)
    assert found.judged is not None
    shown = [(p.kind, p.word, p.script, p.given) for p in found.judged.places]
    assert shown == [
        ("right", 5, "The", "The"),
        ("changed", 6, "lamp", "lump"),
        ("lost", 7, "was", ""),
        ("added", None, "", "very"),
        ("right", 8, "lit", "lit"),
    ]
    nothing = said_from(run_of(("dropped", None, None, None)), words_of(parse_script(LINES)), 0, 4.0)
    assert (nothing.text, nothing.judged, nothing.pick_up, nothing.seconds) == (None, None, None, 4.0)


def test_the_silence_before_a_word_begins_at_the_latest_end_of_a_word_before_it() -> None:
    """It is 0 before the first word, and 0 if nothing was heard of the word or before it."""
    gone: Told = ("dropped", None, None, None)
    run = run_of(gone, said_until(1.0), said_until(3.0), gone, said_until(4.0))
    assert _silences_before(run, 5, 5) == pytest.approx((0.7, 0.0, 1.7, 0.0, 0.0))
    assert _silences_before(run, 5, 2) == pytest.approx((0.7, 0.0))
    assert _silences_before(run, 1, 5) == (0.0,)
    assert _silences_before(run, 0, 3) == ()


@pytest.mark.parametrize(
    ("heard", "sure", "why"),
    [
        (None, None, "“The lamp”: nothing was heard clearly here"),
        ("lump", 0.69, "“The lamp”: only “the lump” was heard, and that faintly"),
        ("lump", 0.7, "“The lamp” or “the lump”: the two could not be told apart"),
        ("lamp", 0.9, "“The lamp” was heard, but only faintly"),
    ],
)
def test_an_unsure_place_says_why_it_is_unsure(heard: str | None, sure: float | None, why: str) -> None:
    script = parse_script(LINES)
    first: Told = ("unsure", heard and "the", 1.0, 0.95)
    run = run_of(first, ("unsure", heard, 2.0, sure))
    assert _why_unsure(SpokenScript.of(script, words_of(script)), run, 0, 1) == why


def noted(stanza: int, kind: Any, above: str = "") -> NotedLine:
    """A line of one word with a note on it."""
    note = Note(kind, 0, 0, "lamp", "lump", 1.0, 1, "told")
    return NotedLine("1", stanza, [NotedWord("lamp", note=note, begins=True, ends=True, above=above, word=0)])


def test_an_empty_row_separates_stanzas_and_marks_from_what_is_above_them() -> None:
    def rows(*lines: NotedLine) -> list[str]:
        return [text.plain.lstrip(" 1") for text in draw(lines, 60)]

    assert rows(noted(1, "dropped"), noted(1, "dropped")) == ["lamp", "----", "lamp", "----"]
    assert rows(noted(1, "dropped"), noted(2, "dropped")) == ["lamp", "----", "", "lamp", "----"]
    assert rows(noted(1, "dropped"), noted(1, "changed", "lump")) == [
        "lamp", "----", "", "lump", "lamp", "~~~~"
    ]  # fmt: skip
    apart = rows(noted(1, "dropped"), noted(2, "changed", "lump"))
    assert apart == ["lamp", "----", "", "lump", "lamp", "~~~~"], "one empty row does for both"


# The page ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("lines", "numbers", "agree"),
    [
        (5, 5, True), (4, 5, True), (6, 5, True), (3, 5, False), (7, 5, False), (-5, -5, True),
        (5, -5, False), (-5, 5, False), (1, 0, False), (0, 5, False), (18, 20, True), (17, 20, False),
        (22, 20, True), (23, 20, False), (16, 19, False),
    ],
)  # fmt: skip
def test_two_line_numbers_agree_if_about_as_many_lines_lie_between_them(
    lines: int, numbers: int, agree: bool
) -> None:
    """One line more or less is allowed, and another for every twenty, because a line may take two rows."""
    one, other = _Number(30, 40, 0, 2, False), _Number(30 + numbers, 40 + lines, 9, 11, False)
    assert _agree(one, other) is agree


@pytest.mark.parametrize(("blanks", "is_pdf"), [(0, True), (1020, True), (1021, False), (2000, False)])
def test_a_file_is_a_pdf_if_its_mark_is_within_the_first_1024_bytes(
    blanks: int, is_pdf: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """ISO 32000-1:2008, annex H, implementation note 13 (from memory)."""
    path = tmp_path / "speech.txt"
    path.write_bytes(b" " * blanks + b"%PDF-1.7 the lamp was lit")
    monkeypatch.setattr(formats, "read_within_bounds", lambda *a: Page("read as a PDF"))
    assert (formats.read_page(path).text == "read as a PDF") is is_pdf


@pytest.mark.parametrize(
    ("size", "bottom", "text", "pieces", "raised"),
    [
        (6.0, 90.0, "3", 2, True),
        (6.0, 90.0, "†", 2, True),
        (6.0, 90.0, "3", 1, False),
        (6.0, 90.0, "3a", 2, False),
        (10.0, 90.0, "3", 2, False),
        (6.0, 100.0, "3", 2, False),
    ],
)
def test_a_footnote_mark_is_a_small_digit_or_sign_raised_above_its_line(
    size: float, bottom: float, text: str, pieces: int, raised: bool
) -> None:
    line: Any = SimpleNamespace(size=10.0, bottom=100.0, pieces=[None] * pieces)
    piece: Any = SimpleNamespace(size=size, bottom=bottom, text=text)
    assert _Setter.__new__(_Setter)._raised(line, piece) is raised


def test_a_pencil_mark_that_fits_two_places_equally_well_is_put_at_neither() -> None:
    def place(text: str, line: str) -> tuple[int | None, str]:
        entry = _entry(1, line)
        assert not isinstance(entry, str)
        return _Finder(words_of(parse_script(text))).place(entry, 0)

    twice = "the tide falls my boat waits, the tide falls my boat waits."
    assert place(twice, "the tied falls | my boat weights") == (
        None,
        "two places in the script are equally like these words",
    )
    once = "the tide falls my boat waits, and nobody on the quay has a lamp."
    assert place(once, "the tied falls | my boat weights") == (3, "")
    assert place(once, "three kettles | sang loudly") == (None, "these words are no longer in the script")


# Words ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("word", "ending", "losses", "stems"),
    [
        ("going", "ing", ("e", "", "-2"), ["goe", "go"]),
        ("sung", "ng", ("", "e"), ["sue"]),
        ("doest", "est", ("",), ["do"]),
        ("beest", "est", ("", "e"), ["be", "bee"]),
        ("axed", "ed", ("",), []),
        ("hurried", "ed", ("y<i", ""), ["hurry", "hurri"]),
        ("hurred", "ed", ("y<i", "-2"), ["hur"]),
        ("ebbed", "ed", ("-2", ""), ["ebb"]),
    ],
)
def test_the_possible_stems_of_a_word_with_an_ending_are_found(
    word: str, ending: str, losses: tuple[str, ...], stems: list[str]
) -> None:
    """Letters that the ending removes are restored; two letters count only if they are a known word."""
    assert _stems(word, ending, losses) == stems


# Files and modules ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "is_one"),
    [
        ("recordings/a.wav", True),
        ("recordings/" + "a" * 489, True),
        ("recordings/" + "a" * 490, False),
        ("notes.txt", False),
        ("x/recordings/a.wav", False),
    ],
)
def test_an_archive_member_is_a_recording_if_its_folder_fits_and_its_name_has_at_most_500_letters(
    name: str, is_one: bool
) -> None:
    assert _is_recording(name) is is_one


def test_a_package_face_may_offer_a_name_under_another_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "facing").mkdir()
    (tmp_path / "facing" / "__init__.py").write_text(
        "if False:\n    from facing.inner import a, b as other\n    from elsewhere.inner import c\n"
    )
    monkeypatch.syspath_prepend(tmp_path)
    __import__("facing")
    try:
        assert late.homes("facing") == {"a": "facing.inner", "other": "facing.inner"}
    finally:
        sys.modules.pop("facing", None)
        late.homes.cache_clear()


def test_only_the_owner_can_read_what_a_command_writes(monkeypatch: pytest.MonkeyPatch) -> None:
    asked_for: list[int] = []
    monkeypatch.setattr(cli, "os", SimpleNamespace(umask=asked_for.append, environ=os.environ))
    with pytest.raises(SystemExit) as ended:
        cli.main(["--version"])
    assert (asked_for, ended.value.code) == ([0o077], 0)
