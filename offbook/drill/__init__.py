"""Recall drills: what to ask, what to show with it, how an answer is judged, and when to stop."""

from __future__ import annotations

from offbook.drill.answers import (
    GivenAnswer,
    remembered_after,
)
from offbook.drill.judging import (
    ComparedWord,
    ComparisonColumn,
    JudgedAnswer,
    Kind,
    compared,
    judge,
    side_by_side,
)
from offbook.drill.prompting import (
    Answering,
    before_a_prompt,
)
from offbook.drill.sitting import (
    KINDS,
    TITLES,
    Exercise,
    Sitting,
    weakest_first,
)
from offbook.drill.units import (
    lookalikes,
    units_of,
)

__all__ = [
    "KINDS",
    "TITLES",
    "Answering",
    "ComparedWord",
    "ComparisonColumn",
    "Exercise",
    "GivenAnswer",
    "JudgedAnswer",
    "Kind",
    "Sitting",
    "before_a_prompt",
    "compared",
    "judge",
    "lookalikes",
    "remembered_after",
    "side_by_side",
    "units_of",
    "weakest_first",
]
