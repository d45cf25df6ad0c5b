"""First lines, numbers in the margin, words in capitals, changed meanings, and the option --debug."""

from __future__ import annotations

import pytest

from offbook.cli import main
from offbook.errors import ScriptError
from offbook.glossary import words_worth_a_look
from offbook.notes import notes_on
from offbook.script import Script, parse_script
from offbook.thoughts import shifts_of
from offbook.words import Word, words_of
from tests.journals import LAMP, run_with

pytestmark = pytest.mark.usefixtures("own_home")

VERSE = """They ask me why I keep the lamp alight and
lit until the last of all the boats is in
and nobody has come across the water
since the spring, and no one will again.
I keep it for the sake of those who went
and for the ones who never learnt to steer.
"""


def read(text: str) -> tuple[Script, tuple[Word, ...]]:
    script = parse_script(text)
    return script, words_of(script)


def test_a_line_number_in_the_margin_is_not_a_direction_and_starts_no_thought() -> None:
    lines = VERSE.splitlines()
    numbered = "\n".join(f"{line:<60}{n}" if n % 5 == 0 else line for n, line in enumerate(lines, 19))
    plain, with_numbers = (shifts_of(*read(text)) for text in (VERSE, numbered + "\n"))
    assert len(read(numbered)[0].left_out) == 1
    assert [s.before_word for s in with_numbers] == [s.before_word for s in plain]
    assert not any("stage direction" in s.reason for s in with_numbers)


def advice_when_lost(first: int, last: int) -> str:
    """The advice after a run-through of the lamp in which these words were dropped."""
    script, words = read(LAMP)
    found = notes_on(script, words, run_with(words, dict.fromkeys(range(first, last + 1), ("dropped", None))))
    return found.places[0].do


def test_the_advice_for_a_dropped_first_line_refers_to_no_line_before_it() -> None:
    end = next(w.i for w in read(LAMP)[1] if w.line == 2)
    assert advice_when_lost(0, end - 1) == (
        "Ask what makes you begin to speak. Begin out of silence, and on into “Nobody asked who "
        "carried up”, three times."
    )


def test_the_advice_for_a_dropped_later_line_uses_the_words_before_it_as_a_cue() -> None:
    words = read(LAMP)[1]
    at = [w.i for w in words if w.line == 2]
    assert advice_when_lost(at[0], at[-1]).startswith(
        "Decide why you say this next. Take “the tide came in” as the cue and go straight on to "
    )


def looked_up(text: str) -> dict[str, tuple[str, ...]]:
    return {x.shown.lower(): tuple(x.kinds) for x in words_worth_a_look(*read(text))}


def test_a_common_word_in_capitals_is_not_taken_for_a_name() -> None:
    found = looked_up("And there I was, SWEATING in front of Merrin Tolk, and he never looked up at me.\n")
    assert "sweating" not in found
    assert any("name" in kinds for word, kinds in found.items() if word in ("merrin", "tolk"))


def test_words_whose_meaning_changed_and_their_plurals_are_explained() -> None:
    """The glosses are those of school editions of Hamlet 3.1 and Twelfth Night 2.2 (from memory)."""
    script, words = read(
        "When we have shuffled off this mortal coil, ay, there's the rub; who would fardels bear,\n"
        "The proud man's contumely, when he himself might his quietus make, thou wickedness,\n"
        "Wherein the pregnant enemy does much, and thou dost know it well.\n"
    )
    notes = {x.shown.lower(): x.note for x in words_worth_a_look(script, words)}
    told = {word.replace("-", ""): note for word, note in notes.items()}
    for word, part in (
        ("coil", "turmoil"), ("rub", "in the way"), ("fardels", "burden"), ("contumely", "contempt"),
        ("quietus", "closing of an account"), ("pregnant", "ready"),
    ):  # fmt: skip
        assert part in told[word], (word, told.get(word))


def test_the_option_debug_works_before_and_after_the_command() -> None:
    for argv in (["--debug", "read", "kettle.txt"], ["read", "kettle.txt", "--debug"]):
        with pytest.raises(ScriptError):
            main(argv)


SLOWLY = "Say line 2 slowly with “oil”, then say it three times as you mean it."
LISTEN = "Listen to this place: the words could not be understood. If you did say “oil”, correct the verdict."


@pytest.mark.parametrize(("heard", "advice"), [("…", SLOWLY), ("charnvit", SLOWLY), ("tank … feed", LISTEN)])
def test_a_noise_written_as_letters_is_not_quoted_in_the_advice(heard: str, advice: str) -> None:
    """The advice compares the meaning of a real word with the script's, but not that of a noise."""
    assert advice_when_changed(heard) == advice
    assert "gives you that “coal” does not" in advice_when_changed("coal")


def advice_when_changed(heard: str) -> str:
    """The advice after a run-through of the lamp in which this was heard instead of the oil."""
    script, words = read(LAMP)
    oil = next(w.i for w in words if w.text == "oil")
    return notes_on(script, words, run_with(words, {oil: ("changed", heard)})).places[0].do
