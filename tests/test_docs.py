"""The documents say what the program does: they are generated from it, or checked against it."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.commands import all_commands
from tests.shape import ORDER, PACKAGE, modules

ROOT = PACKAGE.parent


def read(name: str) -> str:
    return (ROOT / name).read_text(encoding="utf-8")


@pytest.mark.heavy
def test_the_pages_of_commands_and_benches_match_the_help_and_the_docstrings() -> None:
    pages = ["docs/commands.md", "docs/benches.md", "docs/tried.md"]
    command = [sys.executable, "-m", "cogapp", "--check", *pages]
    done = subprocess.run(
        command, cwd=ROOT, capture_output=True, text=True, env={"PYTHONPATH": str(ROOT), "PATH": ""}
    )
    assert done.returncode == 0, "run make docs\n" + done.stdout + done.stderr


def test_every_command_and_option_says_what_it_does() -> None:
    for name, command in all_commands():
        assert command.help, f"offbook {name} has no help"
        for parameter in command.params:
            text = getattr(parameter, "help", None)
            assert parameter.param_type_name == "argument" or text, f"offbook {name} {parameter.opts}"


@pytest.mark.parametrize("page", ["README.md", "DEVELOPERS.md"])
def test_every_file_that_a_page_names_exists(page: str) -> None:
    for link in re.findall(r"\]\(([^)#:]+)\)", read(page)):
        assert (ROOT / link).exists(), f"{page} links to {link}"


def test_the_readme_opens_with_the_job_in_one_paragraph() -> None:
    title, job, *_ = read("README.md").split("\n\n")
    assert title == "# offbook"
    assert "script" in job and "deadline" in job and "\n" not in job


def test_every_command_the_readme_shows_exists() -> None:
    names = {name.split()[0] for name, _ in all_commands()}
    shown = set(re.findall(r"^(?:\$ )?offbook ([a-z]+)", read("README.md"), re.M))
    assert shown and shown <= names


def test_the_developers_guide_has_every_stage_and_module_on_its_map() -> None:
    guide = read("DEVELOPERS.md")
    for stage in ORDER:
        assert f"`{stage}`" in guide, f"stage {stage} is not on the map"
    for path in modules():
        name = ".".join(path.relative_to(PACKAGE).with_suffix("").parts)
        if (
            not name.endswith("__init__")
            and not name.startswith(("__main__", "cli."))
            and ".migrations." not in name
        ):
            assert f"`{name}`" in guide, f"{name} is not in DEVELOPERS.md"


def literals(path: Path) -> list[str]:
    """The texts of a module, with spaces for what is filled in; of a page, its lines."""
    source = path.read_text(encoding="utf-8")
    if path.suffix == ".md":
        return source.splitlines()
    found = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            found.append(node.value)
        elif isinstance(node, ast.JoinedStr):
            found.append("".join(str(v.value) if isinstance(v, ast.Constant) else "X" for v in node.values))
    return found


def test_every_stage_has_a_method_page() -> None:
    """The table of method pages in the guide names every stage, each once, and nothing else."""
    table = re.findall(r"^\| ([a-z_, ]+) \| \[.*\.md\)", read("DEVELOPERS.md"), re.M)
    assert sorted(stage for row in table for stage in row.split(", ")) == sorted(ORDER)


@pytest.mark.heavy
def test_every_command_and_option_that_a_message_or_a_page_names_exists() -> None:
    commands = dict(all_commands())
    pages = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *(ROOT / "docs").glob("*.md")]
    unknown = re.compile(rf"`offbook (?!(?:{'|'.join(commands)})\b)[a-z]+")
    named = 0
    for path in (*modules(), *pages):
        for text in literals(path):
            assert not unknown.search(text), f"{path.name}: {text}"
            for name, rest in re.findall(r"\boffbook ([a-z]+)((?: [^`\n;,.)]*)?)", text):
                if name not in commands:
                    continue  # a sentence about offbook
                first = next(iter(rest.split()), "")
                command = commands.get(f"{name} {first}", commands[name])
                options = {o for p in command.params for o in (*p.opts, *p.secondary_opts)}
                for option in re.findall(r"--[a-z][a-z-]*", rest):
                    named += 1
                    assert option in options | {"--help", "--debug"}, f"{path.name}: offbook {name}{rest}"
    assert named > 20, "the pages and messages do name options"
