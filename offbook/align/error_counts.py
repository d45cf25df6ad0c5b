"""Plain error counts between two strings of words: the common measure of speech recognition.

Hits, substitutions, deletions and insertions of a cheapest alignment where each error costs one, as
NIST's sclite and jiwer count them. The verdicts of a run-through do not come from here (see `align`);
this is for comparing the hearing with published figures, and drills that are typed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rapidfuzz.distance import Levenshtein


@dataclass(frozen=True, slots=True)
class ErrorCounts:
    """What a cheapest alignment of `hits` + errors comes to. reference: words of the reference."""

    hits: int
    substitutions: int
    deletions: int
    insertions: int

    @property
    def errors(self) -> int:
        """Substitutions, deletions and insertions together: the edit distance."""
        return self.substitutions + self.deletions + self.insertions

    @property
    def reference(self) -> int:
        """Words of the reference."""
        return self.hits + self.substitutions + self.deletions

    @property
    def word_error_rate(self) -> float:
        """Errors for each word of the reference; an empty one counts as one word."""
        return self.errors / max(1, self.reference)


def error_counts(reference: Sequence[str], hypothesis: Sequence[str]) -> ErrorCounts:
    """Counts of a cheapest alignment of `hypothesis` with `reference`, each error costing one.

    Where several alignments cost the same their sum of errors is the same, the split may differ.
    """
    edits = Levenshtein.editops(reference, hypothesis)
    kinds = [e.tag for e in edits]
    substitutions, deletions, insertions = (kinds.count(k) for k in ("replace", "delete", "insert"))
    return ErrorCounts(len(reference) - substitutions - deletions, substitutions, deletions, insertions)
