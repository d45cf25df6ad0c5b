"""Scenes, speeches and stretches of a script: how each is asked for, and what is said if it is not there."""

from __future__ import annotations

import pytest

from offbook.errors import ScriptError
from offbook.script import Selection, excerpt, parse_script, scenes, speeches
from offbook.script.selection import line_numbered

SAID = "ANNA\nLine {0}, so it was.\n\nBEN\nLine {0}, and more.\n\nANNA\nLine {0}, no.\n\n"


def play(*headings: str) -> str:
    """A play with the same three speeches under each of these headings, with the scene's number in them."""
    return "".join(f"{heading}\n\n{SAID.format('abcdefghijklmn'[k])}" for k, heading in enumerate(headings))


ACTS = play("ACT I", "SCENE 1. A room", "SCENE 2. The sea", "ACT II, SCENE 1. A street", "Scene Three")


def said(text: str, part: str | None = None, **wanted: object) -> str:
    """What is said in an excerpt: the letter of each line, with the last sign of the line."""
    script = excerpt(parse_script(text, source="a.txt", part=part), Selection(**wanted))  # type: ignore[arg-type]
    return " ".join(line.text.partition("Line ")[2][:1] + line.text[-2] for line in script.lines)


def refused(text: str, part: str | None = None, **wanted: object) -> tuple[str, str]:
    """The two lines with which an excerpt is refused."""
    with pytest.raises(ScriptError) as error:
        said(text, part, **wanted)
    return error.value.what, error.value.do


def test_the_headings_of_a_play_divide_it_into_scenes_of_acts() -> None:
    assert [(s.act, s.number, s.heading) for s in scenes(parse_script(ACTS))] == [
        (1, 1, "SCENE 1. A room"),
        (1, 2, "SCENE 2. The sea"),
        (2, 1, "ACT II, SCENE 1. A street"),
        (2, 3, "Scene Three"),
    ]
    found = scenes(parse_script(ACTS))
    assert [a.end for a in found[:-1]] == [b.start for b in found[1:]] and found[-1].end == len(ACTS)
    assert scenes(parse_script(play("ACT I"))) == ()


def test_the_headings_of_a_film_are_numbered_from_one() -> None:
    text = play("SCENE 1. A room", "INT. A HOUSE - NIGHT", "EXT. A STREET")
    (first, *film) = scenes(parse_script(text))
    assert (first.act, first.number) == (None, 1)
    assert [(s.act, s.number) for s in film] in ([], [(None, 1), (None, 2)])


@pytest.mark.parametrize(
    ("wanted", "found"),
    [
        *(("1.1", "b"), ("I.i", "b"), ("act 1 scene 2", "c"), ("Act One, Scene Two", "c"), ("2.1", "d")),
        *(("2.3", "e"), ("scene 2", "c"), ("Scene 3.", "e"), ("3", "e"), ("2", "c"), ("the SEA", "c")),
        *(("a  street", "d"), ("1 2", "c"), ("1,2", "c"), ("The play 2.1", "d")),
    ],
)
def test_a_scene_is_found_by_its_numbers_or_by_words_of_its_heading(wanted: str, found: str) -> None:
    assert said(ACTS, scene=wanted) == f"{found}s {found}e {found}o"


def test_the_message_for_a_scene_that_is_not_there_or_not_the_only_one_lists_the_scenes() -> None:
    listed = "choose one: 1.1; 1.2; 2.1; 2.3"
    assert refused(ACTS, scene="3.1") == ("a.txt has no scene '3.1'", listed)
    assert refused(ACTS, scene="1") == ("a.txt has 2 scenes '1'", listed)
    assert refused(ACTS, scene="nothing") == ("a.txt has no scene 'nothing'", listed)
    bare = play("SCENE 1. A very long and winding road", "SCENE 2")
    assert refused(bare, scene="3") == (
        "a.txt has no scene '3'",
        "choose one: 1 (SCENE 1. A very long and windi); 2 (SCENE 2)",
    )
    twelve, thirteen = (play(*(f"ACT {n}, SCENE 1" for n in range(1, k + 1))) for k in (12, 13))
    assert refused(twelve, scene="20.1")[1].endswith("; 11.1; 12.1")
    assert refused(thirteen, scene="20.1")[1].endswith("; 11.1; 12.1; …")
    assert refused(SAID.format("a"), scene="1") == (
        "a.txt has no scene headings",
        "use --from and --to instead, each with a line's number or some of its words",
    )


def test_a_part_that_is_silent_in_a_scene_is_told_so() -> None:
    text = play("ACT I, SCENE 1", "ACT I, SCENE 2").replace("BEN\nLine a", "ANNA\nLine a", 1)
    assert said(text, "BEN", scene="1.2") == "be"
    assert refused(text, "BEN", scene="1.1") == (
        "nothing of this part is said in 1.1",
        "choose another part or place: `offbook read` shows them all",
    )


def test_a_speech_is_chosen_by_its_number() -> None:
    text = SAID.format("a")
    assert [[line.n for line in speech] for speech in speeches(parse_script(text))] == [[1], [2], [3]]
    assert said(text, speech=1) == "as" and said(text, speech=3) == "ao"
    assert said(text, "ANNA", speech=2) == "ao"
    for n in (0, 4):
        assert refused(text, speech=n) == (
            f"there is no speech {n}: there are 3",
            "give a number from 1 to 3; `offbook read` shows the speeches",
        )
    assert refused(text, "BEN", speech=2)[0] == "there is no speech 2: there is one"


VERSE = "The lamp was lit,\nAnd nobody was told,\nThe kettle sang (sighs) its song,\nAnd so it sang.\n"


def lines(first: str | None, last: str | None, text: str = VERSE) -> list[tuple[int, str]]:
    """The lines between two places, with their numbers."""
    script = parse_script(text, source="a.txt")
    return [(line.n, line.text) for line in excerpt(script, Selection(first=first, last=last)).lines]


def test_a_stretch_keeps_the_numbers_of_its_lines() -> None:
    assert lines("2", "3") == [(2, "And nobody was told,"), (3, "The kettle sang its song,")]
    assert lines("02", "2") == [(2, "And nobody was told,")]
    assert lines(None, "1") == [(1, "The lamp was lit,")] and lines("4", None) == [(4, "And so it sang.")]
    assert lines("kettle", "song")[0][1].startswith("kettle sang")
    assert lines("nobody", "was") == [(2, "nobody was")]
    assert lines("sang", None)[0][0] == 3 and lines("so", "sang")[0] == (4, "so it sang.")


def test_words_are_looked_for_after_the_beginning_and_only_where_they_are_spoken() -> None:
    assert [n for n, _ in lines("2", "was")] == [2]
    assert [n for n, _ in lines("3", "sang")] == [3] and [n for n, _ in lines("4", "sang")] == [4]
    left = VERSE.replace("song,\n", "song,\n[nobody sighs]\n")
    with pytest.raises(ScriptError) as error:
        lines("3", "nobody", left)
    assert error.value.what == "'nobody' is not said in a.txt after the beginning"
    assert error.value.do == "give a line's number, or words as `offbook read` shows them"
    with pytest.raises(ScriptError) as error:
        lines("nobody sighs", None, left)
    assert error.value.what == "'nobody sighs' is not said in a.txt"
    for first, last in (("kettles", None), (None, "kettles"), ("2", "kettles")):
        with pytest.raises(ScriptError) as error:
            lines(first, last)
        assert error.value.what == "'kettles' is not said in a.txt"


def test_the_message_for_a_number_or_an_order_that_cannot_be() -> None:
    for number in ("5", "0", "123456789", "s2"):
        with pytest.raises(ScriptError) as error:
            lines(number, None)
        assert error.value.what == f"no spoken line has the number {number}"
        assert error.value.do == (
            "give a number as `offbook read` shows it beside the speech, or words of the text"
        )
    with pytest.raises(ScriptError) as error:
        lines("1234567890", None)
    assert error.value.what == "'1234567890' is not said in a.txt"
    with pytest.raises(ScriptError) as error:
        lines("3", "2")
    assert (error.value.what, error.value.do) == (
        "the end comes before the beginning",
        "swap --from and --to",
    )


def test_a_line_is_found_by_its_number_as_it_is_printed() -> None:
    script = parse_script(VERSE)
    assert line_numbered(script, "1") == (0, 17) and line_numbered(script, "002") == (18, 38)
    assert line_numbered(script, "0") is None and line_numbered(script, "5") is None


def test_an_excerpt_keeps_what_was_left_out_and_pointed_out_inside_it_and_its_speakers() -> None:
    text = f"{SAID.format('a')}BEN\nLine z [low] so.\n\n"
    whole = parse_script(text)
    inside, outside = (excerpt(whole, Selection(speech=n)) for n in (4, 1))
    assert [out.text for out in inside.left_out] == ["[low]"] and outside.left_out == ()
    assert (inside.parts, outside.parts) == (("BEN",), ("ANNA",))
    assert [line.paragraph for line in inside.lines] == [1]
    both = excerpt(whole, Selection(first="2", last="3"))
    assert both.parts == ("ANNA", "BEN") and [line.paragraph for line in both.lines] == [1, 2]


def test_a_selection_is_whole_only_if_it_narrows_nothing() -> None:
    assert Selection().whole and Selection(part="ANNA").whole
    for one in (Selection(scene="1"), Selection(speech=1), Selection(first="1"), Selection(last="1")):
        assert not one.whole
