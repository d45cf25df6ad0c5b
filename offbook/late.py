"""A package's face whose names are loaded when they are asked for.

The desk gives a hundred names, and a command needs a few of them: `offbook read` should not wait for the
database that another command writes into. The way is that of SPEC 1 of Scientific Python ("Lazy Loading of
Submodules and Functions"): the imports stand in the source where the type checker reads them, and are carried
out one by one.
"""

from __future__ import annotations

import ast
import importlib
import sys
from collections.abc import Callable
from importlib.abc import InspectLoader
from typing import cast


def face(package: str) -> Callable[[str], object]:
    """The `__getattr__` of a package whose face stands under `if TYPE_CHECKING`.

    package: its name. What it gives raises AttributeError for a name that is not part of the face.
    """
    homes: dict[str, str] = {}

    def given(name: str) -> object:
        if not homes:
            homes.update(_homes(package))
        if name not in homes:
            raise AttributeError(f"module {package!r} has no attribute {name!r}")
        return cast(object, getattr(importlib.import_module(homes[name]), name))

    return given


def _homes(package: str) -> dict[str, str]:
    """Which module each name of a face comes from, as the package's own source says."""
    spec = sys.modules[package].__spec__
    source = spec.loader.get_source(package) if spec and isinstance(spec.loader, InspectLoader) else None
    if source is None:
        raise ImportError(f"the source of {package} is missing")
    return {
        alias.asname or alias.name: node.module
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.ImportFrom) and node.module and node.module.startswith(f"{package}.")
        for alias in node.names
    }
