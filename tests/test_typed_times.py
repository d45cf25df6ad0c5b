"""Minutes and seconds as people type them: every form, and both messages, in each of the four places."""

from __future__ import annotations

from datetime import UTC
from types import SimpleNamespace
from typing import Any, cast

import pytest

from offbook.brief import BriefError, parse_brief
from offbook.desk.explain import words_asked
from offbook.errors import OffbookError
from offbook.page.forms import limit_in
from offbook.typed_times import TypedTimeError, seconds_in, typed_seconds

TYPED = {
    "90": 90.0,
    "90s": 90.0,
    "90 sec": 90.0,
    "90 seconds": 90.0,
    "52.45": 52.45,
    "2:00": 120.0,
    "1:5": 65.0,
    " 1:30.5 ": 90.5,
    "1:30.5s": 90.5,
    "0:59": 59.0,
    "2 min": 120.0,
    "1.5m": 90.0,
    "1 minute": 60.0,
    "1m30": 90.0,
    "1 min 30 sec": 90.0,
    "2 Minutes 5 S": 125.0,
    "999999": 999999.0,
    "0": 0.0,
    "0:00": 0.0,
}
NOT_A_TIME = (
    "",
    "soon",
    "1:60",
    "1:75",
    "1m75",
    "1.5m30",
    "-3",
    "1:",
    ":30",
    "10:00:01",
    "1e3",
    "1_000",
    "9" * 7,
)


@pytest.mark.parametrize(("typed", "seconds"), TYPED.items())
def test_a_time_may_be_typed_in_seconds_or_minutes_or_both(typed: str, seconds: float) -> None:
    assert typed_seconds(typed) == seconds


@pytest.mark.parametrize("typed", NOT_A_TIME)
def test_a_text_that_is_not_a_time_is_refused_with_an_example(typed: str) -> None:
    assert typed_seconds(typed) is None
    with pytest.raises(TypedTimeError) as refused:
        seconds_in(typed, "limit")
    assert refused.value.what == f"“{typed}” is not a limit"
    assert refused.value.do == "write minutes and seconds as 2:00, or seconds as 120"


@pytest.mark.parametrize(
    ("typed", "told"), [("\x1b[2J", r"\x1b[2J"), ("1:\ud7fc", r"1:\ud7fc"), ("1:x ", "1:x")]
)
def test_the_message_about_a_time_has_a_code_for_what_a_terminal_would_obey_or_not_show(
    typed: str, told: str
) -> None:
    with pytest.raises(TypedTimeError) as refused:
        seconds_in(typed)
    assert refused.value.what == f"“{told}” is not a time"


@pytest.mark.parametrize("typed", ["0", "0:00", "0 min", "0m0s"])
def test_a_time_of_zero_is_refused(typed: str) -> None:
    with pytest.raises(TypedTimeError) as refused:
        seconds_in(typed, "limit")
    assert refused.value.what == f"a limit of {typed} leaves no time to speak"
    assert refused.value.do == "give a time above 0, such as 2:00"


def test_the_shortest_time_accepted_is_a_millionth_of_a_second() -> None:
    assert seconds_in("0.000001") == 0.000001
    assert typed_seconds("0.0000001") is None


def test_in_a_field_of_the_page_a_dot_may_replace_the_colon() -> None:
    assert limit_in("1.30") == 90.0
    assert limit_in("2 . 05") == 125.0
    assert typed_seconds("1.30") == 1.3, "everywhere else a dot begins a fraction of a second"
    assert limit_in("90.5 s") == 90.5, "with a unit behind it a dot begins a fraction on the page too"
    with pytest.raises(TypedTimeError, match=r"“1\.75” is not a time limit"):
        limit_in("1.75")


def test_an_empty_field_of_the_page_means_no_limit() -> None:
    assert limit_in("") is None
    assert limit_in("  ") is None


def brief_with(longest: str) -> float | None:
    text = f'name = "Saltmarrow"\ndeadline = 2026-12-14\nlongest = {longest}\n'
    return parse_brief(text, UTC).longest


def test_a_brief_accepts_the_same_times_and_gives_the_same_messages() -> None:
    assert brief_with('"1m30"') == brief_with('"1:30"') == brief_with('"90 s"') == brief_with("90") == 90.0
    with pytest.raises(BriefError) as refused:
        brief_with('"1:75"')
    assert refused.value.what == "the brief: longest cannot be used: “1:75” is not a time"
    assert refused.value.do == 'write it as in longest = "2:00"'
    with pytest.raises(BriefError, match="a time of 0:00 leaves no time to speak"):
        brief_with('"0:00"')


def spoken(*timed: tuple[str, float, float]) -> Any:
    """A recording in which each word was heard from one second to another."""
    verdicts = [
        SimpleNamespace(i=i, text=text, start=start, end=end) for i, (text, start, end) in enumerate(timed)
    ]
    run = SimpleNamespace(words=verdicts)
    return SimpleNamespace(review=SimpleNamespace(run=run), script=SimpleNamespace(source="the lamp"))


def asked(heard: Any, what: str) -> list[str]:
    return [w.text for w in words_asked(cast(Any, heard), what)]


def test_a_word_to_explain_can_be_given_by_the_time_at_which_it_was_heard() -> None:
    heard = spoken(("the", 0.0, 0.4), ("lamp", 64.8, 65.2), ("90s", 90.0, 90.5))
    assert asked(heard, "1:05") == asked(heard, "65") == asked(heard, "65.1") == ["lamp"]
    assert asked(heard, "0") == ["the"]
    assert asked(heard, "90s") == ["90s"], "a word of the script is not taken for a time"
    with pytest.raises(OffbookError, match="no word was heard at 30"):
        asked(heard, "30")
