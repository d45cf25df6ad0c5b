"""Every stage gives its examples the values that a person has read, so a changed value is noticed."""

from __future__ import annotations

import re

import pytest

from tests import held
from tests.held_all import FILES

RENEW = "a value has changed: where that is meant, run `make golden` and read the difference"
# Whole commands, pages and reviews of a take, whose parts the other examples hold.
HEAVY = {"json"}
# Of what is put together at random, the parts after these are as long and hold little that is new.
QUICK_PARTS = 2
BY_DICE = re.compile(r".* by dice, (\d+)")


def _is_heavy(name: str, title: str) -> bool:
    part = BY_DICE.fullmatch(title)
    return (
        name in HEAVY or title.startswith("a review: ") or (part is not None and int(part[1]) > QUICK_PARTS)
    )


EXAMPLES = [
    pytest.param(
        name, title, id=f"{name}: {title}", marks=[pytest.mark.heavy] if _is_heavy(name, title) else []
    )
    for name, parts in FILES.items()
    for title in parts
]


@pytest.mark.parametrize(("name", "title"), EXAMPLES)
def test_every_example_gives_the_values_in_its_file(name: str, title: str) -> None:
    assert [row for row in FILES[name][title]() if row] == held.read(name)[title], RENEW


@pytest.mark.parametrize("name", FILES)
def test_each_file_of_held_values_has_exactly_one_part_for_each_example(name: str) -> None:
    assert list(held.read(name)) == list(FILES[name]), RENEW
