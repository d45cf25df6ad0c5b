"""`offbook setup`: fetch the speech model, verify it, and say where each step went."""

from __future__ import annotations

from pathlib import Path

import click
from rich.progress import BarColumn, DownloadColumn, Progress, TextColumn, TimeRemainingColumn

from offbook import models
from offbook.cli.common import console
from offbook.errors import ModelError


@click.command("setup")
@click.option("--model", metavar="NAME", help="The model to fetch; --list shows the names.")
@click.option(
    "--from", "archive", type=click.Path(path_type=Path), metavar="FILE",
    help="Use this archive (zip or aar) or unpacked folder instead of the network.",
)  # fmt: skip
@click.option("--check", is_flag=True, help="Fetch nothing: compare every byte of the model at hand.")
@click.option("--list", "show", is_flag=True, help="List the models that are known.")
def command(model: str | None, archive: Path | None, check: bool, show: bool) -> None:
    """Fetch the speech model, check it and unpack it. The only command that uses the network."""
    if show:
        _list()
    elif check:
        _check(model)
    else:
        _fetch(model, archive)


def _list() -> None:
    known = models.manifest()
    for name in models.names():
        spec = known.models[name]
        here = (models.models_folder() / name).is_dir()
        state = "here" if here else "not here" if spec.grammar else "cannot be used"
        click.echo(f"{name:12s}{state:16s}{spec.title}; {spec.licence}")


def _check(model: str | None) -> None:
    spec, folder = models.chosen(model)
    models.model_folder(model)
    if spec is None:
        click.echo(f"{folder}: a model of your own, with the files the recogniser needs")
        return
    found = models.damage(spec, folder, every_byte=True)
    if found is not None:
        raise ModelError(f"the speech model {spec.name} is damaged: {found}", "fetch it again: offbook setup")
    click.echo(f"{folder}: whole, every byte checked")


def _fetch(model: str | None, archive: Path | None) -> None:
    from offbook.models import fetch

    columns = (TextColumn("{task.description}"), BarColumn(), DownloadColumn(), TimeRemainingColumn())
    out = console(err=True)
    with Progress(*columns, console=out, transient=True, disable=not out.is_terminal) as bar:
        task = bar.add_task("fetching", total=None, visible=False)

        def tell(line: str) -> None:
            bar.update(task, visible=False)
            click.echo(line, err=True)

        def progress(done: int, total: int | None) -> None:
            bar.update(task, completed=done, total=total, visible=True)

        folder = fetch(model, archive=archive, tell=tell, progress=progress)
    click.echo(f"the speech model is ready: {folder}")
