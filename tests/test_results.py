"""The dated table of results, and the figures that the pages of docs quote from it."""

from __future__ import annotations

import re
from datetime import date
from functools import cache
from pathlib import Path

import metres
import pytest
import results

TOP = Path(__file__).resolve().parent.parent
PAGES = [*sorted((TOP / "docs").glob("*.md")), TOP / "README.md", TOP / "DEVELOPERS.md"]
QUOTED = re.compile(r"([^\s(,;]+(?: of [^\s,;]+)?)[,.;]?\s*<!-- = ([a-z_.0-9]+) -->")
ROWS = results.rows_of(results.PAGE.read_text(encoding="utf-8"))
TYPED = {figure.name: bench.typed[0] for bench in results.BENCHES for figure in bench.figures} | {
    row.name: row.typed.partition(" ")[0] for row in results.BY_HAND
}


@cache
def quoted() -> list[tuple[str, str, str]]:
    """Page, figure as it stands there, and its name, of every figure that is marked."""
    return [
        (page.name, shown, name)
        for page in PAGES
        for shown, name in QUOTED.findall(page.read_text(encoding="utf-8"))
    ]


def test_every_figure_quoted_on_a_page_is_the_one_in_the_table_of_results() -> None:
    assert len(quoted()) >= 3
    wrong = [(page, shown, name) for page, shown, name in quoted() if _plain(ROWS[name][1]) != _plain(shown)]
    assert not wrong, "run its bench again (bench/results.py NAME), or put the figure right on the page"


def _plain(value: str) -> str:
    """Without what only the style of a page adds: ".591" for 0.591, "83.5 %" for 83.5."""
    return value.strip("* %").removeprefix("0")


def test_every_reference_on_a_page_names_a_row_of_the_table_and_follows_a_figure() -> None:
    for page in PAGES:
        text = page.read_text(encoding="utf-8")
        assert text.count("<!-- = ") == len(QUOTED.findall(text)), page.name
    assert {name for _, _, name in quoted()} <= set(ROWS)


@pytest.mark.parametrize("name", ROWS)
def test_a_row_has_its_date_its_commit_its_machine_and_the_command_that_gives_it(name: str) -> None:
    row = dict(zip(results.COLUMNS, ROWS[name], strict=True))
    assert date(2026, 1, 1) <= date.fromisoformat(row["date"])
    assert re.fullmatch(r"[0-9a-f]{7,}\+?", row["commit"])
    assert "cores" in row["machine"]
    assert row["command"].startswith(f"`{TYPED[name]}")


def test_the_page_of_results_is_exactly_what_the_command_writes_from_its_rows() -> None:
    assert results.written(ROWS) == results.PAGE.read_text(encoding="utf-8")


def test_figures_are_read_from_the_output_of_a_bench_and_a_missing_one_is_an_error() -> None:
    bench = next(b for b in results.BENCHES if b.name == "unbroken")
    printed = (
        "hard cuts found: 7 of 9; elsewhere\ncross-fades found: 0 of 9\nunbroken takes suspected: 1 of 9"
    )
    rows = results.rows_from(bench, printed, "bench/unbroken.py", "2026-03-02")
    assert [row[1] for row in rows.values()] == ["7 of 9", "0 of 9", "1 of 9"]
    with pytest.raises(RuntimeError, match=r"nothing for unbroken\.fades"):
        results.rows_from(bench, printed.replace("cross-fades", "fades"), "bench/unbroken.py", "2026-03-02")


def test_every_bench_named_in_the_table_exists() -> None:
    for path in TYPED.values():
        assert (results.TOP / path).is_file()
    assert len(TYPED) == sum(len(bench.figures) for bench in results.BENCHES) + len(results.BY_HAND)


@pytest.mark.heavy
def test_in_a_small_part_of_the_bench_of_metres_enough_passages_are_right() -> None:
    """Every seventh passage of the handbooks: eleven of these twelve and more have the handbook's metre."""
    some = list(metres.passages())[::7]
    right = sum(metres.metre_of(passage).startswith(passage.accepted) for passage in some)
    assert len(some) >= 12
    assert right >= len(some) - 1
