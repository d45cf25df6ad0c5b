"""Pages to print: a template of offbook's, filled in."""

from __future__ import annotations


def filled_template(template: str, /, **facts: object) -> str:
    """A page of HTML. template: its name; facts: what it shows.

    Raises UndefinedError where one is missing.
    """
    from jinja2 import Environment, PackageLoader, StrictUndefined

    env = Environment(
        loader=PackageLoader("offbook", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return env.get_template(template).render(**facts)
