"""The week of the README, typed line by line as it is there, on the real commands."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from offbook import models

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")


def week() -> list[str]:
    """The commands of the week, as somebody would type them: without the comments."""
    block = re.search(r"## A week with it\n+```\n(.*?)```", README, re.DOTALL)
    assert block is not None
    return [line.split("  #")[0].split(" # ")[0].strip() for line in block[1].splitlines()]


def test_the_week_in_the_readme_names_every_stage_of_the_work_in_order() -> None:
    said = [line.split()[1] for line in week() if line.startswith("offbook")]
    assert said[:4] == ["read", "mark", "fit", "run"]
    for command in ("performer", "piece", "today", "drill", "progress", "brief", "plan", "take", "export"):
        assert command in said


# Words on the screen of each command of the week.
SHOWN = {
    "read": "Left out:",
    "mark": "||",
    "fit": "1:20",
    "run": "dropped",
    "piece add": "Begin with: offbook drill",
    "today": "begin it",
    "drill": "prompt:",
    "progress": "run-through",
    "brief add": "added",
    "plan": "Send Saltmarrow",
    "take add": "make her stay",
    "review": "take 1",
    "take list": "make her",
    "class": "Wren",
    "export": "1 take",
}


@pytest.mark.model
def test_every_command_of_the_week_in_the_readme_runs_in_order(tmp_path: Path) -> None:
    """In a copy of what a fresh clone holds, with an empty HOME. The first line sets the path; in the drill
    somebody asks for the next word, then for the phrase, and leaves."""
    shutil.copytree(ROOT / "corpus_demo", tmp_path / "corpus_demo")
    where, home = tmp_path, tmp_path / "home"
    home.mkdir()
    world = os.environ | {
        "HOME": str(home),
        "OFFBOOK_MODEL": str(models.model_folder()),
        "PATH": f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}",
        "PYTHONPATH": str(ROOT),
    }
    for name in ("OFFBOOK_HOME", "OFFBOOK_JOURNAL", "OFFBOOK_PERFORMER", "XDG_DATA_HOME"):
        world.pop(name, None)
    seen: dict[str, str] = {}
    for line in week():
        if line.startswith(". "):
            assert line == ". .venv/bin/activate"  # what PATH does here
            continue
        if line.startswith("cp "):
            subprocess.run(line, shell=True, cwd=where, check=True)
            where = where / "my_week"
            continue
        done = subprocess.run(
            line.replace("offbook", f"{sys.executable} -m offbook", 1),
            shell=True, cwd=where, env=world, input="\n?\n?\nq\n", capture_output=True, text=True,
        )  # fmt: skip
        assert done.returncode == 0, f"{line}\n{done.stdout}\n{done.stderr}"
        assert done.stdout.strip(), f"{line} shows nothing"
        typed = line.split()
        both = " ".join(typed[1:3])
        seen[both if both in SHOWN else typed[1]] = done.stdout
    missing = {name for name, words in SHOWN.items() if words not in seen.get(name, "")}
    assert not missing, {name: seen.get(name) for name in missing}
    assert (where / "journal.zip").is_file()
    assert (home / ".local/share/offbook/journal.sqlite3").is_file()


def test_the_readme_alone_is_enough_to_set_up_a_microphone() -> None:
    """The section names the page, the two packages and a recording program, as the error of a drill does."""
    section = README.split("## A microphone")[1].split("\n## ")[0]
    for named in ("offbook page", "libportaudio2", "pip install sounddevice", "--record-with", "arecord"):
        assert named in section
