"""What the command line and the page say about models, recordings and lines; nothing is fetched."""

from __future__ import annotations

import wave
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from click.testing import CliRunner, Result

from offbook import models
from offbook.cli.setup import setup_command
from offbook.delivery import ShiftStatement
from offbook.desk.meant_pauses import marked_pauses
from offbook.desk.recorded_lines import cut_lines, playing_command
from offbook.desk.review_wording import reviewed_stretches
from offbook.errors import ModelError, OffbookError, RecordingError
from offbook.page.settings import _mistakes_in_words
from offbook.partner import PartnerLine
from offbook.progress import Mistake
from offbook.score import WordVerdict
from offbook.script import Script, parse_script
from offbook.words import words_of

LINES = "The lamp was lit before\nthe tide came in again\n"


# Setting up -------------------------------------------------------------------------------------------


def typed(*args: str) -> Result:
    return CliRunner().invoke(setup_command, list(args))


@pytest.fixture
def fetched(monkeypatch: pytest.MonkeyPatch) -> dict[str, Any]:
    """What each role's fetch gives: a folder, or an error. Also keeps what was asked for."""
    gives: dict[str, Any] = {models.FIRST: Path("/m/first"), models.SECOND: Path("/m/second"), "asked": []}

    def fetch(model: str | None, *, role: str, archive: Path | None, **more: Any) -> Path:
        gives["asked"].append((model, role, archive))
        if isinstance(gives[role], ModelError):
            raise gives[role]
        found: Path = gives[role]
        return found

    monkeypatch.setattr(models, "fetch", fetch)
    monkeypatch.setattr(models, "named_roles", lambda name: (models.FIRST, models.SECOND))
    return gives


def test_setup_fetches_both_models_and_says_what_each_is_for(fetched: dict[str, Any]) -> None:
    assert " ".join(typed().stdout.split()) == (
        "the speech model is ready, it hears the words and when they were said: /m/first "
        "the speech model is ready, it tells apart small words that the first one mixes up: /m/second"
    )
    assert [role for _, role, _ in fetched["asked"]] == [models.FIRST, models.SECOND]


def test_setup_succeeds_without_a_second_ear_and_says_what_will_be_missing(fetched: dict[str, Any]) -> None:
    fetched[models.SECOND] = ModelError("no connection", "try again later")
    done = typed()
    assert (done.exit_code, done.stdout.count("is ready")) == (0, 1)
    assert " ".join(done.stderr.split()) == (
        "no second ear: no connection. offbook hears without it, but it may not notice when one "
        "small word is said for another, such as “a” for “the”. To get the second ear: try again later"
    )


def test_setup_fails_if_the_first_or_a_named_model_cannot_be_fetched(fetched: dict[str, Any]) -> None:
    fetched[models.SECOND] = ModelError("no connection", "try again later")
    assert isinstance(typed("--model", "two").exception, ModelError)
    fetched[models.FIRST], fetched[models.SECOND] = fetched[models.SECOND], Path("/m/second")
    assert isinstance(typed().exception, ModelError)


def test_setup_from_an_archive_takes_it_for_the_first_model_only(fetched: dict[str, Any]) -> None:
    assert typed("--from", "a.zip").exit_code == 0
    assert fetched["asked"] == [(None, models.FIRST, Path("a.zip"))]
    refused = typed("--from", "a.zip", "--model", "two").exception
    assert isinstance(refused, ModelError) and refused.what == "one archive cannot be two models"


def test_the_check_compares_every_byte_of_known_models_and_accepts_your_own(
    fetched: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    there = {models.FIRST: SimpleNamespace(name="one"), models.SECOND: None}
    damage: dict[str, str | None] = {"one": None}
    monkeypatch.setattr(models, "second_folder", lambda: Path("/m/second"))
    monkeypatch.setattr(models, "model_folder", lambda name, role: Path("/m") / role)
    monkeypatch.setattr(models, "chosen_model", lambda name, role: (there[role], Path("/m") / role))
    monkeypatch.setattr(models, "damage", lambda spec, folder, every_byte: damage[spec.name])
    shown = " ".join(typed("--check").stdout.split())
    assert shown == (
        f"/m/{models.FIRST}: complete, every byte checked; it hears the words and when they were said "
        f"/m/{models.SECOND}: your own model; the files that offbook reads are there"
    )
    monkeypatch.setattr(models, "second_folder", lambda: None)
    shown = " ".join(typed("--check").stdout.split())
    assert "no second ear: offbook hears without it, but it may not notice" in shown
    assert shown.endswith("Fetch it with: offbook setup")
    assert "your own model" in " ".join(typed("--check", "--model", "one").stdout.split())
    damage["one"] = "a file is missing"
    broken = typed("--check").exception
    assert isinstance(broken, ModelError)
    assert broken.what == "the speech model one is damaged: a file is missing"


# The others' lines, recorded --------------------------------------------------------------------------


def verdicts(script: Script, ends: dict[int, float]) -> list[WordVerdict]:
    """Each word said until then, for half a second; dropped where nothing is known of it."""
    return [
        WordVerdict(w.i, w.text, "said", w.text, ends[w.i] - 0.5, ends[w.i], 0.9)
        if w.i in ends
        else WordVerdict(w.i, w.text, "dropped", None, None, None, None)
        for w in words_of(script)
    ]


def hearing(monkeypatch: pytest.MonkeyPatch, ends: dict[int, float]) -> None:
    """From here on a recording of 10 s is heard so; its samples have the number of their millisecond."""

    def listen_to(script: Script, recording: Path, loading: Any) -> Any:
        run = SimpleNamespace(words=verdicts(script, ends))
        return SimpleNamespace(words=words_of(script), review=SimpleNamespace(run=run), sound=None)

    monkeypatch.setattr("offbook.desk.listening.listen_to", listen_to)
    monkeypatch.setattr("offbook.audio.pcm", lambda path, sound: [SOUND])


SOUND = b"".join(ms.to_bytes(2, "little") * 16 for ms in range(10_000))


def milliseconds(path: Path) -> tuple[int, int]:
    """Where a piece of that recording begins and ends."""
    with wave.open(str(path), "rb") as cut:
        assert cut.getparams()[:3] == (1, 2, 16_000)
        data = cut.readframes(cut.getnframes())
    return int.from_bytes(data[:2], "little"), int.from_bytes(data[-2:], "little") + 1


def test_each_line_of_the_others_is_cut_out_of_one_recording_with_a_small_margin(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    lines = [PartnerLine(4, "Who [is] there", "ANNA"), PartnerLine(6, "Nobody (is) here", "ANNA")]
    first, second = {0: 1.0, 1: 2.0, 2: 3.0}, {3: 6.0, 4: 7.0, 5: 8.0}
    loading: Any = None
    hearing(monkeypatch, first | second)
    files = cut_lines(tmp_path / "a.wav", lines, loading, tmp_path)
    assert {n: (path.name, *milliseconds(path)) for n, path in files.items()} == {
        4: ("line-005.wav", 350, 3300),
        6: ("line-007.wav", 5350, 8300),
    }
    hearing(monkeypatch, second)
    assert list(cut_lines(tmp_path / "a.wav", lines, loading, tmp_path)) == [6]
    hearing(monkeypatch, {})
    with pytest.raises(RecordingError, match="none of the others' lines was heard"):
        cut_lines(tmp_path / "a.wav", lines, loading, tmp_path)


def test_the_command_of_a_player_must_contain_the_word_file(monkeypatch: pytest.MonkeyPatch) -> None:
    assert playing_command("play FILE") == "play FILE"
    with pytest.raises(OffbookError, match="there is no FILE in: play it"):
        playing_command("play it")
    with pytest.raises(OffbookError, match="there is no FILE in: FILE"):
        playing_command("FILE")
    monkeypatch.setattr("shutil.which", lambda name: None)
    with pytest.raises(OffbookError, match="no program that plays sound was found"):
        playing_command(None)
    monkeypatch.setattr("shutil.which", lambda name: f"/bin/{name}")
    assert "FILE" in playing_command(None)


# A speech thought by thought --------------------------------------------------------------------------


def statement(before: int, grade: int, at: float, audible: Any) -> ShiftStatement:
    return ShiftStatement(before, grade, at, audible, 0.9, (), None, None, f"told of {before}")


def test_the_review_lists_the_text_thought_by_thought_with_what_was_measured_at_each_start() -> None:
    script = parse_script(LINES)
    shifts = (
        statement(2, 1, 1.0, "heard"),
        statement(4, 2, 2.0, "heard"),
        statement(5, 3, 3.0, "not measured"),
        statement(8, 2, 0.0, "not measured"),
    )
    notes = [SimpleNamespace(word=w) for w in (3, 4, None, 9)]
    reviewed: Any = SimpleNamespace(
        heard=SimpleNamespace(words=words_of(script), script=script),
        delivery=SimpleNamespace(shifts=shifts),
        margin=notes,
        spoken=[SimpleNamespace(i=4, start=2.25)],
    )
    told = reviewed_stretches(reviewed)
    assert [(s.first, s.last, s.bars, s.at, s.told) for s in told] == [
        (0, 3, "", None, ""),
        (4, 4, "||", 2.0, "told of 4"),
        (5, 7, "|||", 3.0, "told of 5"),
        (8, 9, "||", None, "told of 8"),
    ]
    assert [" ".join(s.text.split()) for s in told] == [
        "The lamp was lit",
        "before",
        "the tide came",
        "in again",
    ]
    assert [len(s.notes) for s in told] == [1, 1, 0, 1]
    assert told[1].words_apart(reviewed)[0][0::2] == ("before", 2.25)
    assert [(word, at) for word, _, at in told[2].words_apart(reviewed)] == [
        ("the", None), ("tide", None), ("came", None)
    ]  # fmt: skip


def test_marked_pauses_come_only_from_the_performers_own_pencil_file(tmp_path: Path) -> None:
    (tmp_path / "speech.txt").write_text(LINES, encoding="utf-8")
    script = parse_script(LINES)
    version: Any = SimpleNamespace(script=script, words=words_of(script))
    path = tmp_path / "speech.pencil"
    assert marked_pauses(version) == marked_pauses(version, path) == frozenset()
    path.write_text("lamp was | lit before\ntide came + in again\n", encoding="utf-8")
    assert marked_pauses(version, path) == {3}


# What goes wrong in a line ----------------------------------------------------------------------------


def mistake(word: int, text: str, how: Any, times: int, instead: str | None = None) -> Mistake:
    return Mistake(word, text, how, instead, times)


def test_the_mistakes_of_a_line_are_listed_in_its_order_and_neighbouring_words_as_one() -> None:
    line: Any = SimpleNamespace(
        mistakes=(
            mistake(7, "again", "dropped", 2),
            mistake(2, "lamp", "dropped", 3),
            mistake(1, "the", "dropped", 3),
            mistake(3, "was", "dropped", 2),
            mistake(4, "lit", "changed", 2, "light"),
            mistake(5, "before", "changed", 2),
            mistake(6, "the", "dropped", 1),
        )
    )
    assert _mistakes_in_words(line) == [
        ("the lamp", "dropped", 3),
        ("was", "dropped", 2),
        ("lit", "became “light”", 2),
        ("before", "changed", 2),
        ("again", "dropped", 2),
    ]
