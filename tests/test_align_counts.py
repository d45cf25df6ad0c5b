"""Error counts are those of the field's reference scorers.

Sources: jiwer (the library) and NIST's sclite (Debian package sctk), which weighs a substitution 4 and
a deletion or insertion 3 (its own manual page).
"""

from __future__ import annotations

import re
import shutil
import subprocess
from functools import cache
from pathlib import Path

import jiwer
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from offbook.align.error_counts import ErrorCounts, error_counts
from tests.recordings import AUSTEN, TWO_CITIES

Split = tuple[int, int, int]
WORDS = st.lists(st.sampled_from("abcd"), min_size=1, max_size=9)


def cheapest(reference: list[str], hypothesis: list[str], swap: int, off: int) -> set[Split]:
    """Every (substitutions, deletions, insertions) that a cheapest alignment can have."""

    @cache
    def at(i: int, j: int) -> tuple[int, frozenset[Split]]:
        if i == j == 0:
            return 0, frozenset([(0, 0, 0)])
        ways: list[tuple[int, frozenset[Split], Split]] = []
        if i and j:
            same = reference[i - 1] == hypothesis[j - 1]
            cost, splits = at(i - 1, j - 1)
            ways.append((cost + (0 if same else swap), splits, (0 if same else 1, 0, 0)))
        if i:
            ways.append((at(i - 1, j)[0] + off, at(i - 1, j)[1], (0, 1, 0)))
        if j:
            ways.append((at(i, j - 1)[0] + off, at(i, j - 1)[1], (0, 0, 1)))
        least = min(w[0] for w in ways)
        found = {
            (s + ds, d + dd, n + dn) for c, splits, (ds, dd, dn) in ways if c == least for s, d, n in splits
        }
        return least, frozenset(found)

    return set(at(len(reference), len(hypothesis))[1])


def split(counts: ErrorCounts) -> Split:
    """The counts as (substitutions, deletions, insertions)."""
    return counts.substitutions, counts.deletions, counts.insertions


def by_jiwer(reference: list[str], hypothesis: list[str]) -> Split:
    """jiwer's counts."""
    out = jiwer.process_words(" ".join(reference), " ".join(hypothesis))
    return out.substitutions, out.deletions, out.insertions


def by_sclite(pairs: list[tuple[list[str], list[str]]], folder: Path) -> list[Split]:
    """sclite's counts for each pair, from one run over transcripts in its trn format."""
    if shutil.which("sctk") is None:
        pytest.fail("sctk is missing: apt-get install sctk")
    for name, side in (("ref", 0), ("hyp", 1)):
        rows = (f"{' '.join(p[side])} (s_{n:04d})" for n, p in enumerate(pairs))
        (folder / name).write_text("\n".join(rows) + "\n")
    command = ["sctk", "sclite", "-r", "ref", "trn", "-h", "hyp", "trn", "-i", "rm", "-o", "pra", "stdout"]
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=True)
    found: dict[int, Split] = {}
    for number, row in re.findall(r"id: \(s_(\d+)\).*?Scores: \(#C #S #D #I\) ([\d ]+)", done.stdout, re.S):
        _, s, d, n = map(int, row.split())
        found[int(number)] = (s, d, n)
    return [found[k] for k in range(len(pairs))]


@pytest.mark.heavy
@given(WORDS, WORDS)
@settings(max_examples=200, deadline=None)
def test_the_number_of_errors_equals_jiwers_and_so_do_its_parts_if_only_one_split_is_cheapest(
    reference: list[str], hypothesis: list[str]
) -> None:
    """For any two strings of words."""
    ours, theirs = split(error_counts(reference, hypothesis)), by_jiwer(reference, hypothesis)
    possible = cheapest(reference, hypothesis, 1, 1)
    assert sum(ours) == sum(theirs)
    assert ours in possible
    if len(possible) == 1:
        assert ours == theirs


@pytest.mark.heavy
@given(st.lists(st.tuples(WORDS, WORDS), min_size=20, max_size=20))
@settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_sclites_counts_are_cheapest_by_its_own_weights_and_equal_ours_if_no_other_split_is(
    tmp_path: Path, pairs: list[tuple[list[str], list[str]]]
) -> None:
    """With twenty pairs in each run."""
    for (reference, hypothesis), theirs in zip(pairs, by_sclite(pairs, tmp_path), strict=True):
        by_its_weights, by_ours = cheapest(reference, hypothesis, 4, 3), cheapest(reference, hypothesis, 1, 1)
        assert theirs in by_its_weights
        if by_its_weights == by_ours and len(by_ours) == 1:
            assert split(error_counts(reference, hypothesis)) == theirs
        if by_its_weights <= by_ours:
            assert error_counts(reference, hypothesis).errors == sum(theirs)


def test_real_sentences_with_slips_count_as_sclite_and_jiwer_count_them(tmp_path: Path) -> None:
    """The texts of the real readings, each word in eleven left out, each in thirteen changed, one put in."""
    pairs = []
    for text in (TWO_CITIES, *AUSTEN.values()):
        words = re.findall(r"[a-z']+", text.lower())
        said = [("changed" if k % 13 == 5 else w) for k, w in enumerate(words) if k % 11 != 7]
        said.insert(len(said) // 2, "well")
        pairs.append((words, said))
    for (reference, hypothesis), theirs in zip(pairs, by_sclite(pairs, tmp_path), strict=True):
        ours = error_counts(reference, hypothesis)
        assert ours.errors == sum(theirs) == sum(by_jiwer(reference, hypothesis))
        assert ours.insertions - ours.deletions == len(hypothesis) - len(reference)


def test_an_empty_reference_has_only_insertions_and_causes_no_division_by_zero() -> None:
    """The hard case of jiwer's README: an empty reference."""
    counts = error_counts([], ["a", "b"])
    assert (counts.hits, counts.insertions, counts.reference) == (0, 2, 0)
    assert counts.word_error_rate == 2.0
    assert error_counts([], []).word_error_rate == 0.0
