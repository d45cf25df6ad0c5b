"""`offbook read`: what a performer sees of the spoken words and of what was left out."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from offbook.cli import main
from offbook.cli.mark import mark_command as mark
from offbook.cli.read import read_command
from offbook.errors import ScriptError

pytestmark = pytest.mark.usefixtures("own_home")

SCENE = """ANNA
(without looking up)
You said you would be back by 7.

BEN
I said seven or thereabouts. (He sits.) And Mr Vane
was late.

[Silence.]

ANNA
I did.
"""


def read(folder: Path, *options: str, text: str = SCENE) -> Result:
    file = folder / "scene.txt"
    file.write_text(text, encoding="utf-8")
    return CliRunner().invoke(read_command, [str(file), *options], catch_exceptions=False)


def test_read_shows_numbered_lines_and_each_passage_left_out_with_its_reason(tmp_path: Path) -> None:
    assert read(tmp_path).output == (
        "scene: prose, 20 words, 4 sentences\n"
        "  ANNA  2 lines, 10 words\n"
        "  BEN   2 lines, 10 words\n"
        "Choose yours with --part, for instance --part ANNA\n"
        "\n"
        "ANNA\n"
        "   -  (without looking up)  [stage direction]\n"
        "   1  You said you would be back by 7.\n"
        "\n"
        "BEN\n"
        "   2  I said seven or thereabouts.\n"
        "   -  (He sits.)  [stage direction]\n"
        "   3  And Mr Vane was late.\n"
        "   -  [Silence.]  [stage direction]\n"
        "\n"
        "ANNA\n"
        "   4  I did.\n"
        "\n"
        "Numbers count sentences.\n"
        "Left out: 3 × speaker name; 3 × stage direction.\n"
        "Said as: 7 = seven; Mr = mister.\n"
    )


def test_with_a_chosen_part_the_lines_of_the_others_are_cues(tmp_path: Path) -> None:
    lines = read(tmp_path, "--part", "ben").output.splitlines()
    assert lines[0] == "scene: prose, 10 words, 2 sentences"
    assert "   >  ANNA: You said you would be back by 7." in lines
    assert "   1  I said seven or thereabouts." in lines
    assert "   >  ANNA: I did." in lines


def test_read_says_so_if_nothing_is_left_out(tmp_path: Path) -> None:
    output = read(tmp_path, text="The lamp was lit before the tide came in,\nAnd all was still.\n").output
    assert "Left out: nothing. Every word on the page is taken as spoken." in output


SPEECH = "I kept the lamp for eleven years.\nNobody asked me to.\nNobody thanked me for it.\n"


def test_a_title_that_may_be_a_first_line_is_shown_with_the_command_that_makes_it_spoken(
    tmp_path: Path,
) -> None:
    file = tmp_path / "scene.txt"
    shown = read(tmp_path, text=f"The lantern\n\n{SPEECH}").output
    assert "   ?  The lantern  [heading]\n   1  I kept the lamp for eleven years.\n" in shown
    command = f'  offbook read {file} --say "The lantern"\n'
    assert shown.endswith(f"“The lantern” is taken as left out. If it is spoken:\n{command}")
    for other in (SPEECH, f"[The lantern]\n\n{SPEECH}", f"The lantern.\n\n{SPEECH}", SCENE):
        assert "is taken as left" not in read(tmp_path, text=other).output


def test_a_line_that_may_be_a_title_stays_and_the_command_that_leaves_it_out_is_shown(tmp_path: Path) -> None:
    shown = read(tmp_path, text=f"What I never told my brother\n\n{SPEECH}").output
    assert "   1  What I never told my brother\n" in shown
    assert '--leave-out "What I never told my brother"\n' in shown


def test_a_choice_of_what_is_spoken_is_kept_beside_the_script_and_used_by_every_command(
    tmp_path: Path,
) -> None:
    text = f"The lantern\n\n{SPEECH}"
    assert "   1  The lantern\n" in read(tmp_path, "--say", "The lantern", text=text).output
    assert "   1  The lantern\n" in read(tmp_path, text=text).output
    assert (tmp_path / "scene.txt.spoken").read_text().splitlines()[1:] == ["spoken: The lantern"]
    marked = CliRunner().invoke(mark, [str(tmp_path / "scene.txt"), "--json"], catch_exceptions=False)
    assert json.loads(marked.output)["words"][:2][1]["text"] == "lantern"
    back = read(tmp_path, "--leave-out", "The lantern", text=text).output
    assert "   -  The lantern  [your choice]\n" in back and "   1  I kept" in back
    assert (tmp_path / "scene.txt.spoken").read_text().splitlines()[1:] == ["left out: The lantern"]


def test_a_choice_of_words_that_are_not_in_the_script_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "scene.txt"
    file.write_text(SPEECH)
    with pytest.raises(ScriptError, match="was not found in"):
        CliRunner().invoke(read_command, [str(file), "--say", "The lantern"], catch_exceptions=False)
    assert not (tmp_path / "scene.txt.spoken").exists()


def test_the_json_holds_words_lines_parts_cues_and_what_was_left_out(tmp_path: Path) -> None:
    got = json.loads(read(tmp_path, "--part", "BEN", "--json").output)
    assert got["format"] == 1 and got["form"] == "prose" and got["part"] == "BEN"
    assert got["parts"] == [{"name": "BEN", "lines": 2, "words": 10}]
    assert got["words"][0] == {
        "i": 0,
        "text": "I",
        "start": SCENE.index("I said"),
        "end": SCENE.index("I said") + 1,
        "line": 1,
        "sentence": 1,
        "spoken": ["i"],
    }
    assert [line["words"] for line in got["lines"]] == [[0, 7], [8, 9]]
    assert got["cues"][0]["speaker"] == "ANNA" and got["cues"][0]["before_line"] == 1
    assert {out["reason"] for out in got["left_out"]} == {"speaker name", "stage direction"}
    for out in got["left_out"]:
        assert SCENE[out["start"] : out["end"]] == out["text"]


def test_long_lines_are_wrapped_and_the_margin_stays_free(tmp_path: Path) -> None:
    text = "We had been walking for an hour when the old man remembered that he had left the gate open.\n"
    rows = read(tmp_path, text=text * 2).output.splitlines()
    body = [row for row in rows if row.startswith(("   1", "      "))]
    assert all(len(row) <= 80 for row in rows)
    assert len(body) > 1 and body[1].startswith("      ")


@pytest.mark.heavy
def test_pasted_text_is_read_from_standard_input() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "offbook", "read", "-", "--json"],
        input="The lamp was lit.\n".encode("utf-16"),
        capture_output=True,
        check=True,
    )
    assert [w["text"] for w in json.loads(done.stdout)["words"]] == ["The", "lamp", "was", "lit"]


@pytest.mark.parametrize(
    ("content", "part", "what"),
    [
        (b"", None, "is empty"),
        (b"...\n", None, "has no words to say"),
        (b"\xff\xd8\xff\xe0" + bytes(range(256)), None, "a JPEG picture"),
        (SCENE.encode(), "Zoe", "has no part 'Zoe'"),
        (b"Die Lampe war an und das Boot kam nicht und wir waren da. " * 4, None, "German"),
    ],
)
def test_bad_input_gives_a_two_line_error_and_nothing_on_standard_output(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], content: bytes, part: str | None, what: str
) -> None:
    file = tmp_path / "scene.txt"
    file.write_bytes(content)
    with pytest.raises(SystemExit) as left:
        main(["read", str(file), *(["--part", part] if part is not None else [])])
    out, err = capsys.readouterr()
    assert left.value.code == 1 and out == ""
    assert what in err.splitlines()[0] and len(err.splitlines()) == 2


@pytest.mark.heavy
def test_a_damaged_pdf_gives_a_two_line_error_without_messages_of_the_library(tmp_path: Path) -> None:
    file = tmp_path / "cut.pdf"
    file.write_bytes(
        b"%PDF-1.4\n1 0 obj\n<< /Type /Catalog /Pages 2 0 R >>\nendobj\ntrailer\n<< /Root 9 0 R >>\n"
    )
    done = subprocess.run(
        [sys.executable, "-m", "offbook", "read", str(file)], capture_output=True, text=True
    )
    assert done.returncode == 1 and done.stdout == ""
    assert len(done.stderr.splitlines()) == 2 and "pdf" in done.stderr


def test_a_missing_file_and_a_folder_get_different_errors(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for path, what in ((tmp_path / "none.txt", "there is no file"), (tmp_path, "is a folder")):
        with pytest.raises(SystemExit) as left:
            main(["read", str(path)])
        assert left.value.code == 1
        assert what in capsys.readouterr().err


@pytest.mark.heavy
def test_reading_plain_text_loads_no_heavy_library(tmp_path: Path) -> None:
    file = tmp_path / "lamp.txt"
    file.write_text("The lamp was lit.\n")
    code = (
        "import sys; from offbook.script import load_script; from offbook.words import words_of; "
        f"words_of(load_script({str(file)!r})); "
        "heavy = ('docx', 'odf', 'pdfplumber', 'pdfminer', 'lxml', 'charset_normalizer', 'spacy'); "
        "print([m for m in heavy if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, text=True)
    assert done.stdout.strip() == "[]"
