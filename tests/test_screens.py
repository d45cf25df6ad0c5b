"""Every command's screen in a narrow window: nothing wider than it, no word and no command broken in two."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from offbook.desk import Heard
from offbook.notes import notes_on
from offbook.script import Script
from offbook.words import words_of
from tests.commands import all_commands
from tests.journals import Slips, run_with
from tests.once import measure_once, spoken_anew, spoken_recording
from tests.test_cli_journal import MONDAY, Desk, desk_in
from tests.test_cli_sending import BRIEF
from tests.test_hear_pile import Here
from tests.test_hear_sound import sound

WIDTHS = (60, 80)
WIDE = 1000
LONG = "Bartholomew Featherstonehaugh"
MISSED: Slips = {3: ("dropped", None), 12: ("changed", "cellar"), 20: ("unsure", "tied")}
SCENE = """\
PIM. One to the coast, a single, and I shall not be needing to come back from there this evening.
CLERK. The last one has gone.
PIM. Then I will wait for the first one.
"""

# Screens in the order of a week; a name stands for what is typed there. A command that is not here has no
# screen of its own: see NO_SCREEN.
TYPED: tuple[tuple[str, ...], ...] = (
    ("performer", "add", LONG),
    ("performer", "list"),
    ("performer", "set", LONG, "--minutes", "15"),
    ("performer", "timed", LONG, "{home}/lamp.txt", "0:14"),
    ("read", "{home}/lamp.txt"),
    ("read", "{home}/scene.txt"),
    ("read", "{home}/scene.txt", "--part", "PIM"),
    ("mark", "{home}/lamp.txt"),
    ("mark", "{home}/lamp.txt", "--feet"),
    ("mark", "{home}/lamp.txt", "--notes"),
    ("mark", "{home}/lamp.txt", "--html", "{home}/{n}.html"),
    ("mark", "{home}/{copy}", "--pencil"),
    ("fit", "{home}/lamp.txt", "--limit", "0:09"),
    ("run", "{home}/lamp.txt", "{home}/one.wav"),
    ("run", "{home}/lamp.txt", "{home}/one.wav", "--explain", "oil"),
    ("run", "{home}/lamp.txt", "{home}/one.wav", "--html", "{home}/{n}.html"),
    ("piece", "list"),
    ("piece", "show", "The lamp"),
    ("piece", "set", "The lamp", "--limit", "0:40"),
    ("piece", "revise", "The lamp", "{home}/lamp.txt"),
    ("piece", "recordings", "The lamp"),
    ("today",),
    ("today", "--performer", "Me"),
    ("drill", "The lamp", "--minutes", "1"),
    ("drill", "The lamp", "--explain"),
    ("drill", "The lamp", "--answers"),
    ("run", "The lamp", "{home}/one.wav"),
    ("correct", "The lamp"),
    ("correct", "The lamp", "13"),
    ("progress", "--performer", "Me"),
    ("progress", "The lamp"),
    ("progress", "The lamp", "--lines"),
    ("progress", "The lamp", "--thoughts"),
    ("progress", "The lamp", "--runs"),
    ("brief", "blank", "{home}/{n}.toml", "--piece", "The lamp"),
    ("brief", "add", "{home}/round.toml", "--performer", "Me"),
    ("brief", "list"),
    ("brief", "set", "Saltmarrow", "unbroken = true", 'together = "1:10"'),
    ("brief", "show", "Saltmarrow"),
    ("brief", "table"),
    ("brief", "blank", "{home}/{n}m.toml", "--message", "{home}/mail.txt"),
    ("plan",),
    ("plan", "Saltmarrow", "--performer", "Me"),
    ("plan", "--performer", "Me", "--ics", "{home}/{n}.ics"),
    ("check", "{home}/one.wav", "--brief", "Saltmarrow"),
    ("take", "add", "The lamp", "{home}/one.wav", "--intention", "make her stay until the tide has turned"),
    ("take", "judge", "The lamp", "1"),
    ("take", "list", "The lamp"),
    ("take", "show", "The lamp", "1"),
    ("take", "choose", "The lamp", "1"),
    ("margin", "add", "The lamp", "2", "Who is this said to? Let me see that you see them."),
    ("margin", "list", "The lamp"),
    ("margin", "done", "The lamp", "1"),
    ("margin", "delete", "The lamp", "1"),
    ("brief", "pack", "Saltmarrow", "{home}/{n}"),
    ("brief", "sent", "Saltmarrow"),
    ("brief", "confirmed", "Saltmarrow"),
    ("brief", "sent", "Saltmarrow", "--undo"),
    ("class",),
    ("hear", "{home}/pile"),
    ("export", "{home}/{n}.zip"),
    ("import", "{home}/all.zip"),
    ("review", "{home}/lamp.txt", "{home}/one.wav"),
    ("review", "The lamp", "--run", "newest"),
    ("setup", "--list"),
    ("take", "delete", "The lamp", "1"),
    ("piece", "forget", "The lamp", "--all", "--yes"),
    ("brief", "delete", "Saltmarrow"),
    ("piece", "add", "{home}/scene.txt", "--name", "Last", "--part", "PIM", "--performer", "Me"),
    ("piece", "delete", "Last", "--yes"),
    ("performer", "delete", LONG, "--yes"),
)
# A command to be typed: between back quotes, or from a colon or a full stop to the row's end.
COMMAND = re.compile(r"(?:(?<=`)|(?<=: )|(?<=\. )|^ *)(offbook [a-z][^`\n]*?)(?=`|$)", re.M)
AMOUNT = re.compile(r"\d+ (?:%|d|days?|min|minutes|seconds?|words|dB|LUFS|MB|aloud)(?![\w-])")
# groups, and what goes on by itself
MAIL = """Each speech must be no longer than two minutes, in one continuous take.
Send an mp4 file by 5 pm on Monday 16 March 2026.
"""
NO_SCREEN = {"performer", "piece", "brief", "take", "margin", "page", "partner"}


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Desk:
    return desk_with_everything(tmp_path, monkeypatch)


def desk_with_everything(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Desk:
    """A performer with a piece that has been run through twice, and files for the rest."""
    found = desk_in(tmp_path, monkeypatch)
    (tmp_path / "scene.txt").write_text(SCENE, encoding="utf-8")
    (tmp_path / "round.toml").write_text(BRIEF, encoding="utf-8")
    (tmp_path / "mail.txt").write_text(MAIL, encoding="utf-8")
    spoken_recording(tmp_path / "one.wav", 15, 8_000)
    for at in ("Me/The lamp 1.wav", "Nobody in particular/The lamp.wav"):
        (tmp_path / "pile" / at).parent.mkdir(parents=True)
        shutil.copy(tmp_path / "one.wav", tmp_path / "pile" / at)
    heard(monkeypatch)
    found.see("piece", "add", str(tmp_path / "lamp.txt"), "--name", "The lamp", "--date", "+20")
    for _ in range(2):
        found.see("run", "The lamp", str(tmp_path / "one.wav"))
        spoken_anew(tmp_path / "one.wav")
        found.sleep()
    found.see("export", str(tmp_path / "all.zip"))
    return found


def heard(monkeypatch: pytest.MonkeyPatch) -> None:
    """From here on the hearing finds the same three slips in whatever is said, in this process."""

    def listen_to(script: Script, recording: Path, *more: Any, **named: Any) -> Heard:
        words = words_of(script)
        slips = MISSED if len(words) > 20 else {}
        found = notes_on(script, words, run_with(words, slips))
        return Heard(script, words, Path(recording), MONDAY, "planted", sound(40.0), found)

    @contextmanager
    def here(count: int, model: str | None) -> Iterator[Here]:
        yield Here()

    monkeypatch.setattr("offbook.desk.listening.listen_to", listen_to)
    measure_once(monkeypatch)
    monkeypatch.setattr("offbook.desk.pile_worker.Loading", lambda model: None)
    monkeypatch.setattr("offbook.desk.local_workers", here)


def screens(desk: Desk, width: int) -> list[tuple[str, str]]:
    """What every command prints in a window so wide, in a journal of its own. Files have names as long."""
    home = desk.home / f"home{width:04}"
    shutil.copytree(desk.home / "home", home)
    desk.monkeypatch.setenv("OFFBOOK_HOME", str(home))
    desk.monkeypatch.setenv("COLUMNS", str(width))
    shutil.copy(desk.home / "lamp.txt", desk.home / f"copy{width:04}.txt")
    desk.now = MONDAY + timedelta(days=2)
    out = []
    for n, typed in enumerate(TYPED):
        args = [a.format(home=desk.home, n=f"w{width:04}{n:02}", copy=f"copy{width:04}.txt") for a in typed]
        desk.now += timedelta(minutes=5)
        if typed[:2] in (("take", "add"), ("run", "The lamp")):
            spoken_anew(desk.home / "one.wav")
            shutil.copy(desk.home / "one.wav", desk.home / "pile" / "Me" / "The lamp 1.wav")
        done = desk.type(*args, keys="\nThe lamp\nq\n" if typed[0] == "drill" else "y\n")
        assert done.exit_code in (0, 3), (typed, done.output, done.exception)
        shown = done.output.replace(f"{width:04}", "0000").replace(str(desk.home), "~")
        out.append((" ".join(typed), re.sub(r"\b[0-9a-f]{8}\b|\b[0-9a-f]{16}(?=…)", "KEY", shown)))
    return out


def test_every_command_has_a_screen_in_this_file() -> None:
    typed = {" ".join(t[:k]) for t in TYPED for k in (1, 2)}
    assert {name for name, _ in all_commands()} - NO_SCREEN <= typed


@pytest.mark.heavy
def test_no_row_is_wider_than_the_window_and_no_word_or_command_is_broken(desk: Desk) -> None:
    """Every word of a narrow screen is on the wide one too, and every command of that in one row here, and
    every number with its unit.

    Only what cannot be broken, a path or a command, may be wider than the window, in a row of its own.
    """
    whole = screens(desk, WIDE)
    wrong: list[tuple[int, str, str, object]] = []
    for width in WIDTHS:
        for (typed, wide), (_, narrow) in zip(whole, screens(desk, width), strict=True):
            rows = [row.rstrip() for row in narrow.splitlines()]
            for row in rows:
                alone = " " not in row.strip() or COMMAND.fullmatch(row.strip())
                if len(row) > width and not alone:
                    wrong.append((width, typed, "too wide", row))
            if broken := words_in(narrow) - words_in(wide):
                wrong.append((width, typed, "broken words", broken))
            if torn := set(AMOUNT.findall(wide)) - set(AMOUNT.findall(narrow)):
                wrong.append((width, typed, "a number torn from its unit", torn))
            for command in COMMAND.findall(wide):
                if not any(command in row for row in rows):
                    wrong.append((width, typed, "a broken command", command))
    assert not wrong, "\n".join(map(str, wrong))


def words_in(shown: str) -> set[str]:
    """What is between blanks and holds a letter or a figure."""
    words = (word.rstrip(";:,") for word in shown.split())
    return {word for word in words if any(c.isalnum() for c in word)}
