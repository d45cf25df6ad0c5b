"""The fitted weights as their fits wrote them, and every number that has a name, by its module.

A typing mistake in one of them might be seen nowhere else. What a number means, its unit and its origin are
beside it in its module. The same goes for the words that the rules about language look for: the lists of
forms, endings, patterns and phrases that have a name.
"""

from __future__ import annotations

import ast
import inspect
import re
import textwrap
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
    """Whether a value is a number or a row of numbers."""
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


# The stages that know English: what they look for in a text has a name in a list.
ABOUT_LANGUAGE = (
    "words", "lexicon", "thoughts", "verse", "timing", "fit", "glossary", "markup", "soundalike", "partner",
    "drill", "progress", "brief", "plan",
)  # fmt: skip
ROW = 100  # characters of a row of words


def _of_words(value: object) -> bool:
    """Whether a value is a text, a pattern, or a list or table of such; numbers may stand among them."""
    if isinstance(value, Mapping):
        value = (*value, *value.values())
    if isinstance(value, tuple | list | frozenset | set):
        return bool(value) and all(_of_words(v) or _is_numbers(v) for v in value)
    return isinstance(value, str | re.Pattern)


def _rows_of(value: object) -> Iterator[str]:
    """A list of words in rows of about the same length; a table or a text of many lines row by row."""
    if isinstance(value, Mapping):
        yield from (f"{told(key)}: {told(entry)}" for key, entry in value.items())
    elif isinstance(value, frozenset | set | tuple | list):
        each = sorted(map(told, value)) if isinstance(value, frozenset | set) else map(told, value)
        yield from textwrap.wrap(" | ".join(each), ROW, break_long_words=False, break_on_hyphens=False)
    elif isinstance(value, re.Pattern):
        yield from (row.strip() for row in f"{value.pattern}\nflags {int(value.flags)}".split("\n"))
    elif isinstance(value, str):
        yield from value.strip().split("\n")
    else:
        yield told(value)


def named_words(stage: str) -> Iterator[str]:
    """What the modules of a stage look for in a text and say about it, where that has a name."""
    fitted = list(TABLES.values())
    for path in modules():
        name = module_name(path)
        if name.split(".")[1:2] == [stage]:
            for key, value in _named(import_module(name), tree_of(path)):
                if key != "__all__" and _of_words(value) and not _is_numbers(value) and value not in fitted:
                    yield f"{name.removeprefix('offbook.')} {key}"
                    yield from (f"  {row}" for row in _rows_of(value))


WORD_LISTS: dict[str, Rows] = {
    f"{stage}: every list of words that has a name": partial(named_words, stage) for stage in ABOUT_LANGUAGE
}
PARTS: dict[str, Rows] = {name: partial(table, name) for name in TABLES} | {
    "every number that has a name": named_numbers,
}
