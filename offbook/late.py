"""A package's face whose modules are loaded only when one of their names is used.

The desk offers a hundred names, and a command needs only a few of them: `offbook read` should not wait until
the database library is loaded, which only other commands use. The method is that of SPEC 1 of Scientific
Python ("Lazy Loading of Submodules and Functions"): the imports are written under `if TYPE_CHECKING`, where
the type checker reads them, and each is done when its name is first used.

Two threads that import large libraries at the same time can wait for each other for ever, each holding a
module that the other needs. So load the package with `whole` before starting a thread.
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
    """The `__getattr__` for a package whose face is written under `if TYPE_CHECKING`.

    package: its name. The returned function raises AttributeError for a name that is not part of the face.
    """

    def given(name: str) -> object:
        home = homes(package).get(name)
        if home is None:
            raise AttributeError(f"module {package!r} has no attribute {name!r}")
        return cast(object, getattr(importlib.import_module(home), name))

    return given


def whole(package: str) -> None:
    """Load every module of a face that is not loaded yet; to be called before a thread is started."""
    importlib.import_module(package)
    with _ONE_AT_A_TIME:
        for home in homes(package).values():
            importlib.import_module(home)


@cache
def homes(package: str) -> dict[str, str]:
    """The module that each name of a face comes from, read from the package's own source."""
    source = Path(str(sys.modules[package].__file__)).read_text(encoding="utf-8")
    return {
        alias.asname or alias.name: node.module
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.ImportFrom) and node.module and node.module.startswith(f"{package}.")
        for alias in node.names
    }
