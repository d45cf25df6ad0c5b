"""The help of every command as one page, for docs/commands.md and the test that keeps it true."""

from __future__ import annotations

import click
from click.testing import CliRunner

from offbook.cli import group


def all_commands() -> list[tuple[str, click.Command]]:
    """Every command and subcommand with its full name, in the order of the help."""
    found: list[tuple[str, click.Command]] = []

    def walk(prefix: str, parent: click.Group) -> None:
        context = click.Context(parent)
        for name in parent.list_commands(context):
            command = parent.get_command(context, name)
            assert command is not None
            found.append((f"{prefix}{name}", command))
            if isinstance(command, click.Group):
                walk(f"{prefix}{name} ", command)

    walk("", group)
    return found


def help_pages() -> str:
    """Markdown: one section a command, with what `--help` prints at 90 columns."""
    runner, pages = CliRunner(), []
    for name, _ in all_commands():
        done = runner.invoke(group, [*name.split(), "--help"], prog_name="offbook", terminal_width=90)
        pages.append(f"## offbook {name}\n\n```\n{done.output.rstrip()}\n```\n")
    return "\n" + "\n".join(pages)
