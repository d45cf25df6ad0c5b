"""The options that say which speech of a script is meant, shared by every command that takes a script."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Any, TypeVar

import click

F = TypeVar("F", bound=Callable[..., Any])


def selection_options(command: F) -> F:
    """--part, --scene, --speech, --from and --to, handed on together as `wanted`."""

    @functools.wraps(command)
    def with_selection(*args: Any, **kwargs: Any) -> Any:
        from offbook.script import Selection

        names = ("part", "scene", "speech", "first", "last")
        return command(*args, wanted=Selection(**{n: kwargs.pop(n) for n in names}), **kwargs)

    for option in reversed(_OPTIONS):
        with_selection = option(with_selection)
    return with_selection  # type: ignore[return-value]


_OPTIONS = (
    click.option(
        "--part",
        metavar="NAME",
        help="Only this part's lines; the other parts' lines become cues. all: every part's lines.",
    ),
    click.option("--scene", metavar="SCENE", help="One scene: 2.2, or words of its heading."),
    click.option(
        "--speech",
        type=int,
        metavar="N",
        help="Only speech number N (of the part and the scene, with --part and --scene).",
    ),
    click.option(
        "--from",
        "first",
        metavar="WHERE",
        help="Begin at the line with this number (in prose: the sentence), or at these words.",
    ),
    click.option("--to", "last", metavar="WHERE", help="End with this number, or with these words."),
)
