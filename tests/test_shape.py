"""The shape of the project: one direction of flow, small modules, heavy libraries in one place."""

from __future__ import annotations

import ast
import subprocess
import sys
import textwrap
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from threading import Thread

import pytest

from offbook import late
from offbook.cli import COMMANDS
from offbook.desk import local_workers
from offbook.journal import open_journal
from offbook.page import PageServer
from tests.shape import (
    APART,
    FACELESS,
    HOMES,
    ORDER,
    PACKAGE,
    PURE,
    branches,
    dotted,
    imports,
    imports_when_run,
    module_name,
    modules,
    nodes_of,
    stage_named,
    stage_of,
    tree_of,
)

MODULE_LINES = 500
FUNCTION_LINES = 60
BRANCHES = 20


@pytest.fixture(scope="module", autouse=True)
def trees_let_go() -> Iterator[None]:
    """The trees of all modules are shared by the tests of this file, and not kept after it."""
    yield
    for kept in (imports, nodes_of, tree_of):
        kept.cache_clear()


def name_of(path: Path) -> str:
    return str(path.relative_to(PACKAGE))


def our_imports(path: Path) -> list[tuple[str, int]]:
    """The imports of a file that name something in this package, as dotted names with their lines."""
    return [(m, line) for m, line in imports(path) if m.startswith("offbook.") and "__" not in m]


def test_a_module_imports_only_modules_of_earlier_stages() -> None:
    wrong = [
        f"{name_of(path)}:{line} imports {module}, a later stage"
        for path in modules()
        if (stage := stage_of(path)) is not None
        for module, line in our_imports(path)
        if ORDER.index(stage_named(module.split(".")[1])) > ORDER.index(stage)
    ]
    assert wrong == []


def test_the_modules_for_text_and_the_modules_for_sound_do_not_import_each_other() -> None:
    wrong = [
        f"{name_of(path)}:{line} imports {module}, from the other road"
        for path in modules()
        for module, line in our_imports(path)
        for here, there in APART
        if stage_of(path) in here and module.split(".")[1] in there
    ]
    assert wrong == []


def test_a_package_is_imported_only_through_its_face() -> None:
    """Outside a package only its `__init__` is imported; inside, modules import one another by full name."""
    known = {module_name(p) for p in modules()}
    packages = {p.parent.name for p in PACKAGE.glob("*/__init__.py")} - FACELESS
    wrong = []
    for path in modules():
        for module, line in our_imports(path):
            stage, depth = module.split(".")[1], module.count(".")
            if stage not in packages or depth < 2:
                continue
            if stage != stage_of(path) and module in known:
                wrong.append(f"{name_of(path)}:{line} imports {module}, past the face of {stage}")
            if stage == stage_of(path) and depth == 2 and module not in known:
                wrong.append(f"{name_of(path)}:{line} imports {module} from its own face")
    assert wrong == []


@pytest.mark.heavy
def test_a_package_has_no_circular_imports() -> None:
    known = {module_name(p) for p in modules()}
    uses = {
        module_name(p): {m for m in imports_when_run(p) if m in known and m != module_name(p)}
        for p in modules()
        if p.name != "__init__.py"
    }
    done: set[str] = set()

    def follow(name: str, road: tuple[str, ...]) -> None:
        assert name not in road, " imports ".join((*road[road.index(name) :], name))
        if name not in done:
            for other in uses.get(name, ()):
                follow(other, (*road, name))
            done.add(name)

    for name in uses:
        follow(name, ())


def test_a_heavy_library_is_imported_only_in_its_own_module() -> None:
    wrong = [
        f"{name_of(path)}:{line} imports {module}; its home is {home}"
        for path in modules()
        for module, line in imports(path)
        if (home := HOMES.get(module.split(".")[0])) is not None and stage_of(path) not in (home, None)
    ]
    assert wrong == []


def test_a_module_has_at_most_500_lines_and_a_docstring() -> None:
    """At most 500 lines, one noun a module; it opens with a docstring a newcomer can read."""
    texts = {name_of(p): p.read_text(encoding="utf-8") for p in modules()}
    assert [n for n, text in texts.items() if len(text.splitlines()) > MODULE_LINES] == []
    assert [name_of(p) for p in modules() if not ast.get_docstring(tree_of(p))] == []


@pytest.mark.heavy
def test_a_function_is_short_enough_and_a_public_one_has_a_docstring() -> None:
    wrong = []
    for path in modules():
        tree = tree_of(path)
        for node in nodes_of(path):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                length = (node.end_lineno or node.lineno) - node.lineno + 1
                if length > FUNCTION_LINES:
                    wrong.append(f"{name_of(path)}: {node.name} has {length} lines")
        for top in tree.body:
            if not isinstance(top, ast.FunctionDef | ast.ClassDef) or top.name.startswith("_"):
                continue
            if not ast.get_docstring(top):
                wrong.append(f"{name_of(path)}: {top.name} is public and says nothing")
    assert wrong == []


@pytest.mark.heavy
def test_a_function_has_at_most_twenty_branches() -> None:
    """A function inside another has no more than the one around it, of which its branches are part."""
    wrong = [
        f"{name_of(path)}: {node.name} has {count}"
        for path in modules()
        for node in outermost_functions(tree_of(path).body)
        if (count := branches(node)) > BRANCHES
    ]
    assert wrong == []


def outermost_functions(body: list[ast.stmt]) -> Iterator[ast.FunctionDef | ast.AsyncFunctionDef]:
    """The functions of a module and the methods of its classes, without those that are inside others."""
    for node in body:
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            yield node
        elif isinstance(node, ast.ClassDef | ast.If):
            yield from outermost_functions(node.body)


def test_a_public_name_is_defined_only_once_in_the_whole_tree() -> None:
    """What two modules call by the same name, a reader takes for the same thing."""
    homes: dict[str, list[str]] = {}
    for path in modules():
        if "versions" in path.parts:  # a migration's `upgrade` is called so by its library
            continue
        for top in tree_of(path).body:
            if not isinstance(top, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
                continue
            if not top.name.startswith("_"):
                homes.setdefault(top.name, []).append(name_of(path))
    assert {name: where for name, where in homes.items() if len(where) > 1} == {}


def test_every_kind_of_branch_is_counted() -> None:
    text = """
    def f(a, b):
        assert a
        if a and b or a:
            return [x if x else y for x in a for y in b if x if y]
        while a:
            try:
                pass
            except OSError:
                pass
        for x in a:
            match x:
                case 1:
                    pass
        def inside():
            return a or b
    """
    function = ast.parse(textwrap.dedent(text)).body[0]
    assert isinstance(function, ast.FunctionDef)
    # assert, if, and, or; if-else, two loops and two conditions; while, except; for, case; or
    assert branches(function) == 4 + 5 + 2 + 2 + 1


def test_the_stages_up_to_the_notes_print_nothing_and_read_no_clock() -> None:
    forbidden = {"print", "datetime.now", "datetime.utcnow", "date.today", "time.time"}
    wrong = [
        f"{name_of(path)}:{node.lineno} calls {dotted(node.func)}"
        for path in modules()
        if stage_of(path) in PURE
        for node in nodes_of(path)
        if isinstance(node, ast.Call) and dotted(node.func) in forbidden
    ]
    assert wrong == []


def test_the_use_cases_print_nothing_and_do_not_use_a_terminal() -> None:
    """The command line and the page are fronts of the desk: it imports neither, and asks by callbacks."""
    wrong = []
    for path in (p for p in modules() if stage_of(p) == "desk"):
        wrong += [
            f"{name_of(path)}:{line} imports {module}"
            for module, line in imports(path)
            if module.split(".")[0] in {"click", "rich"}
        ]
        wrong += [
            f"{name_of(path)}:{node.lineno} calls {dotted(node.func)}"
            for node in nodes_of(path)
            if isinstance(node, ast.Call) and dotted(node.func) in {"print", "input"}
        ]
        wrong += [
            f"{name_of(path)}:{node.lineno} uses {dotted(node)}"
            for node in nodes_of(path)
            if isinstance(node, ast.Attribute) and dotted(node) in {"sys.stdout", "sys.stderr", "sys.stdin"}
        ]
    assert wrong == []


def test_no_code_catches_every_kind_of_error() -> None:
    wrong = []
    for path in modules():
        for node in nodes_of(path):
            if isinstance(node, ast.ExceptHandler):
                caught = ast.unparse(node.type) if node.type else "everything"
                wholesale = caught in {"Exception", "BaseException", "everything"}
                # vosk raises the bare class; such a handler must pass the failure on under a name of ours
                if wholesale and not isinstance(node.body[-1], ast.Raise):
                    wrong.append(f"{name_of(path)}:{node.lineno}")
    assert wrong == []


@pytest.mark.heavy
def test_help_loads_no_heavy_library() -> None:
    """Neither the list of commands nor the help of any one of them waits for a library it does not use."""
    heavy = sorted(
        {*HOMES, "numpy", "jinja2", "rapidfuzz", "pyphen", "pdfplumber", "docx"} - {"click", "rich"}
    )
    code = (
        "import sys\nfrom offbook.cli import COMMANDS, main\n"
        "for command in ([], *([name] for name in COMMANDS)):\n"
        "    try: main([*command, '--help'])\n"
        "    except SystemExit: pass\n"
        f"    print(*command, [m for m in {heavy} if m in sys.modules], file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    shown = done.stderr.splitlines()
    assert len(shown) == len(COMMANDS) + 1
    assert [line for line in shown if not line.endswith("[]")] == []
    assert "Usage: offbook" in done.stdout


@pytest.mark.heavy
def test_importing_the_stages_up_to_the_notes_creates_no_file_and_loads_no_engine(tmp_path: Path) -> None:
    names = [
        ".".join(p.relative_to(PACKAGE.parent).with_suffix("").parts)
        for p in modules()
        if stage_of(p) in PURE
    ]
    code = (
        "import sys, importlib\n"
        f"for name in {names}: importlib.import_module(name.removesuffix('.__init__'))\n"
        "print([m for m in ('vosk', 'spacy', 'av', 'sqlalchemy') if m in sys.modules])"
    )
    env = {"HOME": str(tmp_path), "PATH": "/usr/bin:/bin", "PYTHONDONTWRITEBYTECODE": "1"}
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, env=env, cwd=tmp_path
    )
    assert done.stdout.strip() == "[]"
    assert list(tmp_path.iterdir()) == []


def _opening(node: ast.expr) -> str | None:
    """The first letters of a string as written in the source; None where they are computed."""
    if isinstance(node, ast.JoinedStr):
        node = node.values[0]
    return node.value if isinstance(node, ast.Constant) and isinstance(node.value, str) else None


def test_the_second_line_of_every_error_is_written_in_the_same_style() -> None:
    """The second line begins small and ends without a full stop."""
    errors = {"OffbookError", "ScriptError", "RecordingError", "ModelError", "JournalError"}
    wrong = []
    for path in modules():
        for node in nodes_of(path):
            if not isinstance(node, ast.Call) or len(node.args) != 2:
                continue
            if dotted(node.func).rpartition(".")[2] not in errors:
                continue
            first = (_opening(node.args[1]) or "x").split()[0]
            small = not first[0].isupper() or first.isupper()
            if not small or ast.unparse(node.args[1])[:-1].endswith("."):
                wrong.append(f"{name_of(path)}:{node.lineno} {first}")
    assert wrong == []


@pytest.mark.heavy
def test_reading_a_script_does_not_wait_for_the_journal() -> None:
    """The desk's face loads what is asked of it, and no more; a name it does not have is an error."""
    code = (
        "import sys\nfrom offbook.desk import excerpt_of\n"
        "assert excerpt_of.__module__ == 'offbook.desk.speech_of'\n"
        "assert not {'sqlalchemy', 'numpy', 'vosk'} & set(sys.modules), 'too much'\n"
        "import offbook.desk\n"
        "assert not hasattr(offbook.desk, 'excerpts_of')\n"
        "from offbook import late\n"
        "late.whole('offbook.desk')\n"
        "missing = set(late.homes('offbook.desk').values()) - set(sys.modules)\n"
        "assert 'sqlalchemy' in sys.modules and not missing, missing\n"
        "assert all(hasattr(offbook.desk, name) for name in offbook.desk.__all__)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")


READS_MODELS = """
import sys, threading
from pathlib import Path
imported = []
class Watch:
    def find_spec(self, name, path=None, target=None):
        if threading.current_thread() is not threading.main_thread():
            imported.append(name)
sys.meta_path.insert(0, Watch())
from offbook import desk, models
models.model_folder = models.second_folder = lambda name: Path(sys.argv[1])
loading = desk.Loading(None)
print(type(loading._first.exception()).__name__, type(loading._second.exception()).__name__, imported)
print("sqlalchemy" in sys.modules)
"""


@pytest.mark.heavy
def test_the_threads_that_read_the_models_import_nothing_and_do_not_wait_for_the_whole_desk(
    tmp_path: Path,
) -> None:
    """They read an empty folder here, and find that out after everything that they need is loaded."""
    done = subprocess.run(
        [sys.executable, "-c", READS_MODELS, str(tmp_path)], capture_output=True, text=True, check=True
    )
    assert done.stdout.splitlines() == ["ModelError ModelError []", "False"]


def test_no_thread_is_started_before_the_desk_is_completely_loaded(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Threads that load large libraries together can wait for each other without end."""
    order: list[str] = []
    monkeypatch.setattr(late, "whole", order.append)
    monkeypatch.setattr(Thread, "start", lambda thread: order.append(thread.name))
    with local_workers(1, None):
        assert order == ["offbook.desk"]
    order.clear()
    with closing(open_journal(lambda: datetime(2026, 3, 2, tzinfo=UTC), home=tmp_path)) as journal:
        PageServer(journal, [])
    assert order[0] == "offbook.desk" and len(order) > 1
