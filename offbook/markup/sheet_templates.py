"""The templates of the pages that print: the marked script and the teacher's sheet."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from jinja2 import Environment, Template


def sheet_template(name: str) -> Template:
    """The template with this file name, such as "mark.html". Texts that it shows are escaped."""
    return _environment().get_template(name)


@cache
def _environment() -> Environment:
    from jinja2 import Environment, PackageLoader

    return Environment(loader=PackageLoader("offbook", "templates"), autoescape=True)
