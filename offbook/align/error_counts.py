"""Plain error counts between two sequences of words, the usual measure in speech recognition.

The hits, substitutions, deletions and insertions of a cheapest alignment in which each error costs one, as
NIST's sclite and jiwer count them. They are used to compare the hearing with published figures, and for
drills that are typed. The verdicts of a run-through come from `align.alignment`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rapidfuzz.distance import Levenshtein


@dataclass(frozen=True, slots=True)
class ErrorCounts:
    """How many hits and errors of each kind a cheapest alignment has, in words."""

    hits: int
    substitutions: int
    deletions: int
    insertions: int

    @property
    def errors(self) -> int:
        """The edit distance: substitutions, deletions and insertions together."""
        return self.substitutions + self.deletions + self.insertions

    @property
    def reference(self) -> int:
        """How many words the reference has."""
        return self.hits + self.substitutions + self.deletions

    @property
    def word_error_rate(self) -> float:
        """The errors divided by the words of the reference; an empty reference counts as one word."""
        return self.errors / max(1, self.reference)


def error_counts(reference: Sequence[str], hypothesis: Sequence[str]) -> ErrorCounts:
    """The counts of a cheapest alignment of `hypothesis` with `reference`, in which each error costs one.

    If several alignments cost the same, their numbers of errors are equal, but the kinds may differ.
    """
    edits = Levenshtein.editops(reference, hypothesis)
    kinds = [e.tag for e in edits]
    substitutions, deletions, insertions = (kinds.count(k) for k in ("replace", "delete", "insert"))
    return ErrorCounts(len(reference) - substitutions - deletions, substitutions, deletions, insertions)
