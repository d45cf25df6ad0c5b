"""One speech out of a long script, by scene, by number, from here to there; and a piece by its name."""

from __future__ import annotations

from pathlib import Path

import pytest
from click import Command
from click.testing import CliRunner

from offbook import script as scripts
from offbook.cli.fit import fit_command as fit
from offbook.cli.mark import mark_command as mark
from offbook.cli.read import read_command as read
from offbook.desk import excerpt_of
from offbook.errors import OffbookError, ScriptError
from offbook.script import Script, Selection, excerpt
from offbook.words import words_of
from tests.test_cli_journal import Desk, desk_in

PLAY = """THE LAMP ROOM

ACT I
SCENE I. The lamp room. Night.

ANNA
You said you would be back by seven.

BEN
I said seven or thereabouts. (He sits.) And it is thereabouts now.

ANNA
The lamp went out at nine.
I lit it again at ten.

SCENE II. The harbour.

BEN
Nobody has come. I have counted the boats, and then (quietly) I have counted them again.

ACT II
SCENE I. The lamp room. Morning.

ANNA
You are late.

BEN
I am sorry.

ANNA
So am I.
"""


def lines(script: Script) -> list[str]:
    return [line.text for line in script.lines]


def of(part: str | None = None, **wanted: object) -> Script:
    return excerpt(scripts.parse_script(PLAY, part=part), Selection(**wanted))  # type: ignore[arg-type]


@pytest.mark.parametrize("scene", ["2.1", "II.i", "ii.i", "Act 2, Scene 1", "Act Two Scene One", "morning"])
def test_a_scene_can_be_named_in_any_of_the_usual_ways(scene: str) -> None:
    found = of(scene=scene)
    assert lines(found) == ["You are late.", "I am sorry.", "So am I."]
    assert [line.n for line in found.lines] == [1, 2, 3]
    assert found.parts == ("ANNA", "BEN")


def test_a_scene_number_without_an_act_must_be_unique() -> None:
    assert lines(of(scene="scene 2"))[0].startswith("Nobody has come.")
    with pytest.raises(ScriptError, match="has 2 scenes 'scene 1'") as e:
        of(scene="scene 1")
    assert e.value.do == "choose one: 1.1; 1.2; 2.1"


def test_a_chosen_speech_of_a_part_keeps_the_cue_directly_before_it() -> None:
    found = of("ANNA", speech=2)
    assert lines(found) == ["The lamp went out at nine.", "I lit it again at ten."]
    assert [(cue.speaker, cue.before_line) for cue in found.cues] == [("BEN", 1)]
    assert lines(of("ANNA", scene="2.1", speech=2)) == ["So am I."]
    assert of("ANNA", scene="2.1", speech=1).cues == ()  # what Ben says in the scene before is no cue
    with pytest.raises(ScriptError, match="there is no speech 5: there are 4"):
        of("ANNA", speech=5)


def test_lines_are_taken_by_the_numbers_that_read_shows() -> None:
    assert lines(of("ANNA", first="2", last="3")) == ["The lamp went out at nine.", "I lit it again at ten."]
    assert lines(of(first="4", last="4")) == ["I lit it again at ten."]
    with pytest.raises(ScriptError, match="no spoken line has the number 12"):
        of(last="12")


def test_an_excerpt_given_by_words_may_begin_and_end_inside_a_line() -> None:
    found = of(first="or thereabouts", last="counted the boats")
    assert lines(found) == [
        "or thereabouts. And it is thereabouts now.",
        "The lamp went out at nine.",
        "I lit it again at ten.",
        "Nobody has come. I have counted the boats,",
    ]
    assert lines(of(first="i have counted THE boats", last="them again")) == [
        "I have counted the boats, and then I have counted them again."
    ]


def test_every_word_of_an_excerpt_keeps_its_position_in_the_script() -> None:
    for found in (of(first="or thereabouts", last="counted the boats"), of("BEN", scene="1.2"), of(speech=3)):
        for w in words_of(found):
            assert PLAY[w.start : w.end] == w.text


def test_an_excerpt_with_a_missing_place_or_with_its_ends_in_the_wrong_order_is_refused() -> None:
    with pytest.raises(ScriptError, match="'the kettle' is not said"):
        of(first="the kettle")
    with pytest.raises(ScriptError, match="is not said in the text after the beginning"):
        of(first="You are late", last="back by seven")
    with pytest.raises(ScriptError, match="comes before the beginning"):
        of(first="5", last="2")
    with pytest.raises(ScriptError, match="has no scene headings"):
        excerpt(scripts.parse_script("The lamp was lit.\nAnd all was still.\n"), Selection(scene="1.1"))


VERSE = """The lamp was lit before the tide came in.
Nobody asked who carried up the oil.
I carried it, my friends, on both my shoulders,
and every night the stairs were one stair more.
I count them now. I count them in my sleep.
The sea has never once come up to thank me.
"""


@pytest.mark.heavy
def test_an_excerpt_keeps_the_line_numbers_of_the_whole_text(tmp_path: Path) -> None:
    verse = tmp_path / "verse.txt"
    verse.write_text(VERSE)
    shown = said_by(read, verse, "--from", "3", "--to", "stair more")
    assert "   3  I carried it, my friends, on both my shoulders,\n   4  and every night" in shown
    assert "verse: verse, 2 lines, 18 words, 1 sentence" in shown
    rows = [row.split() for row in said_by(mark, verse, "--from", "on both", "--to", "5").splitlines()]
    assert [row[0] for row in rows if row[1:2] and row[1].startswith("0:")] == ["3", "4", "5"]
    fitted = said_by(fit, verse, "--from", "3", "--limit", "0:12", "--cut", "5")
    assert "Cut line 5" in fitted
    assert "The sea has never" in said_by(read, verse, "--from", "3", "--to", "6")


def test_a_line_number_outside_an_excerpt_is_refused_with_the_numbers_it_has(tmp_path: Path) -> None:
    verse = tmp_path / "verse.txt"
    verse.write_text(VERSE)
    typed = [str(verse), "--from", "3", "--limit", "0:12", "--cut", "1"]
    error = CliRunner().invoke(fit, typed).exception
    assert isinstance(error, OffbookError)
    assert (error.what, error.do) == ("the script has no spoken line 1", "its lines are 3 to 6")


def test_an_excerpt_of_prose_keeps_the_numbers_of_its_sentences(tmp_path: Path) -> None:
    play = tmp_path / "play.txt"
    play.write_text(PLAY)
    found = excerpt_of(str(play), Selection(part="BEN", scene="1.2", first="counted them"))
    assert [(w.text, w.sentence) for w in words_of(found)] == [("counted", 2), ("them", 2), ("again", 2)]


def said_by(command: Command, *args: object) -> str:
    return CliRunner().invoke(command, [str(a) for a in args], catch_exceptions=False).output


def test_the_same_choice_gives_the_same_words_in_read_and_mark(tmp_path: Path) -> None:
    file = tmp_path / "play.txt"
    file.write_text(PLAY)
    chosen = [str(file), "--part", "ben", "--scene", "1.2", "--from", "I have counted"]
    shown = CliRunner().invoke(read, chosen, catch_exceptions=False).output
    assert "   2  I have counted the boats, and then I have counted them again." in shown
    marked = CliRunner().invoke(mark, [*chosen, "--json"], catch_exceptions=False).output
    assert '"text": "I", "start"' in marked and '"Nobody"' not in marked


def test_bold_names_in_a_markdown_play_are_speakers_in_capitals_or_not() -> None:
    text = "# The lamp room\n\n## Scene 1\n\n**ANNA**  \nYou are late.\n\n**Captain**  \nI am not.\n\n"
    text += "**ANNA**  \nSo.\n\n## Scene 1\n\n**Captain**  \nSo what?\n"
    from offbook.script.formats.markdown import read_markdown

    names = [m.what for m in read_markdown(text).marks if m.kind == "speaker"]
    assert names == ["ANNA", "Captain", "ANNA", "Captain"]


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Desk:
    """A terminal with an empty journal and the play beside it."""
    made = desk_in(tmp_path, monkeypatch)
    (tmp_path / "play.txt").write_text(PLAY)
    return made


@pytest.mark.heavy
def test_a_piece_can_be_one_speech_of_a_long_script_and_its_name_works_as_a_script(desk: Desk) -> None:
    file = str(desk.home / "play.txt")
    added = desk.see("piece", "add", file, "--name", "Late", "--part", "anna", "--scene", "2.1")
    assert added.startswith("Late, for Me: 6 words in 2 thoughts.")
    assert "   1  You are late." in desk.see("read", "late")
    assert "Late" in desk.see("piece", "list")
    assert "   2  So am I." in desk.see("read", "late", "--from", "So am I")


def test_adding_a_script_with_several_parts_asks_which_one_is_yours(desk: Desk) -> None:
    file = str(desk.home / "play.txt")
    error = desk.fail("piece", "add", file)
    assert error.what.endswith("play.txt has several parts: ANNA, BEN")
    assert "--part ANNA" in error.do
    desk.monkeypatch.setattr("offbook.cli.piece.asking", lambda: True)
    asked = desk.see("piece", "add", file, keys="carol\nb\n")
    assert "Which part is yours (all for all of them): " in asked and "No single part begins" in asked
    assert "play, for Me: 28 words" in asked


@pytest.mark.heavy
def test_the_part_of_a_piece_can_be_changed_and_its_history_is_kept(desk: Desk) -> None:
    file = str(desk.home / "play.txt")
    desk.see("piece", "add", file, "--part", "BEN")
    changed = desk.see("piece", "set", "play", "--part", "anna", "--name", "Anna's")
    assert changed.startswith("play, draft 2: ")
    assert "Part: ANNA." in desk.see("read", "Anna's")
    assert desk.fail("piece", "set", "Anna's", "--part", "carol").do == "choose one of its parts: ANNA, BEN"
    (desk.home / "play.txt").unlink()  # without the file the journal's own text serves
    desk.see("piece", "set", "Anna's", "--part", "all")
    assert "   1  You said you would be back by seven." in desk.see("read", "Anna's")


def test_changing_the_part_of_an_excerpt_warns_that_the_whole_part_is_now_the_piece(desk: Desk) -> None:
    file = str(desk.home / "play.txt")
    desk.see("piece", "add", file, "--name", "Late", "--part", "anna", "--scene", "2.1")
    changed = " ".join(desk.see("piece", "set", "Late", "--part", "ben").split())
    assert "Before, it was a stretch of the script; now it is this part in all of it." in changed
    assert 'offbook piece revise "Late" SCRIPT --part "ben" --from … --to …' in changed
    assert "stretch" not in desk.see("piece", "set", "Late", "--part", "anna")


def test_a_name_that_is_neither_a_file_nor_a_piece_is_refused_and_creates_no_journal(desk: Desk) -> None:
    assert desk.fail("mark", "kettle").what == "there is no file kettle"
    assert not (desk.home / "home" / "journal.sqlite3").exists()
