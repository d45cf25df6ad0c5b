"""The fitted weights as their fits wrote them, and every number that has a name, by its module.

A typing mistake in one of them might be seen nowhere else. What a number means, its unit and its origin are
beside it in its module.
"""

from __future__ import annotations

import ast
import inspect
from collections.abc import Iterator, Mapping
from dataclasses import MISSING, fields, is_dataclass
from functools import partial
from importlib import import_module
from types import ModuleType

from offbook.thoughts import turn_weights, weights
from offbook.verse import costs, learnt, spoken_weights
from tests.held import Rows, told
from tests.shape import module_name, modules, tree_of

TABLES: dict[str, Mapping[str, object]] = {
    "a phrase begins (bench/fit_shift_weights.py)": weights.PHRASE,
    "a thought begins (bench/fit_shift_weights.py)": weights.THOUGHT,
    "a performer turns (bench/fit_turn_weights.py)": turn_weights.TURN,
    "a syllable is said strong (docs/verse.md)": spoken_weights.SINGLE,
    "two syllables follow one another (docs/verse.md)": spoken_weights.PAIR,
    "a word leans to the beat, choosing a metre (set by hand)": costs.LEANING,
    "a step of the metre, choosing a metre (set by hand)": costs.STEP,
    "a word said otherwise, choosing a metre (set by hand)": costs.VARIANT,
    "a word leans to the beat, reading (bench/fit_scansion.py)": learnt.LEANING,
    "a step of the metre, reading (bench/fit_scansion.py)": learnt.STEP,
    "a word said otherwise, reading (bench/fit_scansion.py)": learnt.VARIANT,
}


def table(name: str) -> Iterator[str]:
    """Each weight of a table on a row."""
    for key, value in TABLES[name].items():
        inner = value.items() if isinstance(value, Mapping) else [("", value)]
        yield from (f"{key} {part}: {weight}" for part, weight in inner)


def _is_numbers(value: object) -> bool:
    """Whether a value is a number or a row of numbers. Words and tables are held where they are used."""
    if isinstance(value, tuple):
        return bool(value) and all(map(_is_numbers, value))
    return isinstance(value, int | float)


def _named(module: ModuleType, tree: ast.Module) -> Iterator[tuple[str, object]]:
    """The names that a module gives to its own values, and the defaults of its fields and parameters."""
    for node in tree.body:
        targets = node.targets if isinstance(node, ast.Assign) else [getattr(node, "target", None)]
        for name in (n.id for t in targets if t is not None for n in ast.walk(t) if isinstance(n, ast.Name)):
            yield name, getattr(module, name, None)
        made = getattr(module, node.name, None) if isinstance(node, ast.FunctionDef | ast.ClassDef) else None
        if isinstance(made, type) and is_dataclass(made):
            yield from (
                (f"{made.__name__}.{f.name}", f.default) for f in fields(made) if f.default is not MISSING
            )
        elif inspect.isfunction(made):
            given = inspect.signature(made).parameters.values()
            yield from ((f"{made.__name__}({p.name})", p.default) for p in given)


def named_numbers() -> Iterator[str]:
    """Each number that has a name on a row: of modules, of fields of dataclasses, of parameters."""
    for path in modules():
        if "migrations" in path.parts or path.stem == "__main__":
            continue
        name = module_name(path)
        for key, value in _named(import_module(name), tree_of(path)):
            if _is_numbers(value):
                yield f"{name} {key}: {told(value)}"


PARTS: dict[str, Rows] = {name: partial(table, name) for name in TABLES} | {
    "every number that has a name": named_numbers,
}
