"""Small faults that a slip of the hand could make, and where in the package each could be made; for `bench/mutants.py`.

The operators are those that the literature on mutation testing uses most (relational, arithmetic and logical operator
replacement, constant replacement, statement deletion; R. A. DeMillo, R. J. Lipton and F. G. Sayward, "Hints on Test
Data Selection", Computer 11(4), 1978, and A. J. Offutt et al., "An Experimental Determination of Sufficient Mutant
Operators", ACM TOSEM 5(2), 1996; the list from memory).
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import astuple, dataclass
from pathlib import Path

COMPARISONS: dict[type[ast.cmpop], str] = {
    ast.Lt: "<=", ast.LtE: "<", ast.Gt: ">=", ast.GtE: ">", ast.Eq: "!=", ast.NotEq: "==",
    ast.In: "not in", ast.NotIn: "in", ast.Is: "is not", ast.IsNot: "is",
}  # fmt: skip
SIGNS: dict[type[ast.operator], str] = {
    ast.Add: "-", ast.Sub: "+", ast.Mult: "/", ast.Div: "*", ast.FloorDiv: "*", ast.Mod: "*",
}  # fmt: skip
# Left alone, because no behaviour hangs on them: annotations, decorators, `__all__`, and `strict=` of zip, which
# only guards against lengths that differ.
GUARDS = {"strict"}


@dataclass(frozen=True)
class Site:
    """One place and one fault.

    module: path below the package's parent. within: the qualified name of the function or class it is in, "" for
    the module itself. line: of the function that must be called for the fault to matter, 0 for the module itself.
    outer: the first line of the outermost function around it, 0 for none. start, end: offsets in bytes. now: what is there. then: what is put there instead. nth: which of the equal
    faults in the same place this is, from 0.
    """

    module: str
    within: str
    line: int
    kind: str
    start: int
    end: int
    now: str
    then: str
    nth: int
    outer: int = 0

    @property
    def told(self) -> tuple[str | int, ...]:
        """Everything, in the order in which it is given to make the same site."""
        return astuple(self)

    @property
    def key(self) -> tuple[str, str, str, str, str, int]:
        """What stays the same when other lines of the file change."""
        return self.module, self.within, self.kind, self.now, self.then, self.nth


class _Finder(ast.NodeVisitor):
    """Walks one module and collects (within, line, outermost line, kind, start, end, replacement)."""

    def __init__(self, source: bytes) -> None:
        self.source = source
        self.starts = [0]
        for row in source.splitlines(keepends=True):
            self.starts.append(self.starts[-1] + len(row))
        self.names: list[str] = []
        self.lines: list[int] = []
        self.found: list[tuple[str, int, int, str, int, int, str]] = []

    def span(self, node: ast.expr | ast.stmt) -> tuple[int, int]:
        assert node.end_lineno is not None and node.end_col_offset is not None
        return (
            self.starts[node.lineno - 1] + node.col_offset,
            self.starts[node.end_lineno - 1] + node.end_col_offset,
        )

    def text(self, node: ast.expr | ast.stmt) -> str:
        start, end = self.span(node)
        return self.source[start:end].decode()

    def put(self, kind: str, node: ast.expr | ast.stmt, then: str) -> None:
        self.put_between(kind, *self.span(node), then)

    def put_between(self, kind: str, start: int, end: int, then: str) -> None:
        line, outer = (self.lines[-1], self.lines[0]) if self.lines else (0, 0)
        self.found.append((".".join(self.names), line, outer, kind, start, end, then))

    def _inside(self, node: ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef, line: bool) -> None:
        self.names.append(node.name)
        if line:
            # a code object's first line is that of its first decorator
            self.lines.append(min([node.lineno, *(d.lineno for d in node.decorator_list)]))
        for part in node.body:
            self.visit(part)
        if line:
            self.lines.pop()
        self.names.pop()

    def visit_FunctionDef(self, node: ast.FunctionDef) -> None:
        for default in [*node.args.defaults, *(d for d in node.args.kw_defaults if d is not None)]:
            self.visit(default)
        self._inside(node, line=True)

    def visit_ClassDef(self, node: ast.ClassDef) -> None:
        self._inside(node, line=False)

    def visit_AnnAssign(self, node: ast.AnnAssign) -> None:
        if node.value is not None:
            self.visit(node.value)

    def visit_Assign(self, node: ast.Assign) -> None:
        if not any(isinstance(t, ast.Name) and t.id == "__all__" for t in node.targets):
            self.visit(node.value)

    def visit_If(self, node: ast.If) -> None:
        if ast.unparse(node.test) != "TYPE_CHECKING":
            self.generic_visit(node)

    def visit_keyword(self, node: ast.keyword) -> None:
        if node.arg not in GUARDS:
            self.generic_visit(node)

    def visit_Compare(self, node: ast.Compare) -> None:
        sides = [node.left, *node.comparators]
        for before, op, after in zip(sides, node.ops, sides[1:], strict=False):
            if type(op) in COMPARISONS:
                between = (self.span(before)[1], self.span(after)[0])
                opened, closed = self._brackets(*between)
                self.put_between("comparison", *between, f"{opened} {COMPARISONS[type(op)]} {closed}")
        self.generic_visit(node)

    def visit_BinOp(self, node: ast.BinOp) -> None:
        text = isinstance(node.left, ast.JoinedStr) or (
            isinstance(node.left, ast.Constant) and isinstance(node.left.value, str)
        )
        if type(node.op) in SIGNS and not text:
            between = (self.span(node.left)[1], self.span(node.right)[0])
            opened, closed = self._brackets(*between)
            self.put_between("sign", *between, f"{opened} {SIGNS[type(node.op)]} {closed}")
        self.generic_visit(node)

    def _brackets(self, start: int, end: int) -> tuple[str, str]:
        """The closing and the opening brackets that are around an operator."""
        around = self.source[start:end].decode()
        return ")" * around.count(")"), "(" * around.count("(")

    def visit_UnaryOp(self, node: ast.UnaryOp) -> None:
        if isinstance(node.op, ast.Not):
            self.put("not", node, f"({self.text(node.operand)})")
        elif isinstance(node.op, ast.USub):
            self.put("sign", node, f"({self.text(node.operand)})")
        self.generic_visit(node)

    def visit_BoolOp(self, node: ast.BoolOp) -> None:
        join = " and " if isinstance(node.op, ast.And) else " or "
        sides = [f"({self.text(v)})" for v in node.values]
        for gone in range(len(sides)):
            kept = join.join(s for i, s in enumerate(sides) if i != gone)
            self.put("dropped condition", node, f"({kept})")
        self.put("and/or", node, f"({(' or ' if join == ' and ' else ' and ').join(sides)})")
        self.generic_visit(node)

    def visit_Constant(self, node: ast.Constant) -> None:
        if isinstance(node.value, bool):
            self.put("true/false", node, str(not node.value))
        elif isinstance(node.value, int):
            self.put("number", node, f"({node.value + 1})")
        elif isinstance(node.value, float):
            self.put("number", node, repr(node.value * 2 if node.value else 1.0))

    def visit_JoinedStr(self, node: ast.JoinedStr) -> None:
        """Offsets inside an f-string are not to be relied on before Python 3.12: left alone."""

    def visit_Expr(self, node: ast.Expr) -> None:
        if isinstance(node.value, ast.Call):
            self.put("removed statement", node, "pass")
        self.generic_visit(node)

    def visit_AugAssign(self, node: ast.AugAssign) -> None:
        self.put("removed statement", node, "pass")
        self.visit(node.value)

    def visit_Continue(self, node: ast.Continue) -> None:
        self.put("removed statement", node, "pass")

    def visit_Return(self, node: ast.Return) -> None:
        if node.value is not None and not isinstance(node.value, ast.Constant):
            self.put("return value", node, "return None")
        self.generic_visit(node)


def sites_of(path: Path, module: str) -> Iterator[Site]:
    """Every fault that could be made in one file."""
    source = path.read_bytes()
    finder = _Finder(source)
    for part in ast.parse(source).body:
        finder.visit(part)
    seen: dict[tuple[str, str, str, str], int] = {}
    for within, line, outer, kind, start, end, then in finder.found:
        now = source[start:end].decode()
        nth = seen.setdefault((within, kind, now, then), 0)
        seen[within, kind, now, then] += 1
        yield Site(module, within, line, kind, start, end, now, then, nth, outer)


def all_sites(top: Path) -> list[Site]:
    """Every fault in the package below `top`; the journal's shipped migrations are never edited and left out."""
    found: list[Site] = []
    for path in sorted((top / "offbook").rglob("*.py")):
        module = str(path.relative_to(top))
        if "migrations" not in module:
            found += sites_of(path, module)
    return found


def stage_of(site: Site) -> str:
    """The stage that a fault is made in."""
    return Path(site.module).parts[1].removesuffix(".py")
