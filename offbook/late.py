"""A package's face whose names are loaded when they are asked for.

The desk offers a hundred names, and a command needs a few of them: `offbook read` should not wait for the
database that another command writes into. The method is that of SPEC 1 of Scientific Python ("Lazy Loading of
Submodules and Functions"): the imports are written where the type checker reads them, and each is
carried out when its name is first asked for.

Threads that import large libraries at the same time can wait for each other without end, each holding a
module that the other wants. So whoever begins a thread loads the package `whole` first.
"""

from __future__ import annotations

import ast
import importlib
import sys
from collections.abc import Callable
from functools import cache
from pathlib import Path
from threading import Lock
from typing import cast

_ONE_AT_A_TIME = Lock()


def face(package: str) -> Callable[[str], object]:
    """The `__getattr__` of a package whose face is under `if TYPE_CHECKING`.

    package: its name. What it gives raises AttributeError for a name that is not part of the face.
    """

    def given(name: str) -> object:
        home = homes(package).get(name)
        if home is None:
            raise AttributeError(f"module {package!r} has no attribute {name!r}")
        return cast(object, getattr(importlib.import_module(home), name))

    return given


def whole(package: str) -> None:
    """Load everything that a face gives, where it is not loaded yet: before a thread is begun."""
    importlib.import_module(package)
    with _ONE_AT_A_TIME:
        for home in homes(package).values():
            importlib.import_module(home)


@cache
def homes(package: str) -> dict[str, str]:
    """Which module each name of a face comes from, as the package's own source says."""
    source = Path(str(sys.modules[package].__file__)).read_text(encoding="utf-8")
    return {
        alias.asname or alias.name: node.module
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.ImportFrom) and node.module and node.module.startswith(f"{package}.")
        for alias in node.names
    }
