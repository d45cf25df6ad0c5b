"""A short part of the harm campaign, with a seed. `bench/harm_campaign.py` runs thousands of inputs.

Forged archives are in `test_archives`.
"""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from harm.server import Counts, warm
from harm_campaign import PARTS, kills_part

SEED = 20261129
# The commands killed here: one for each way of writing, of those that need no parser of sentences.
STRUCK = ("keep and judge", "performer delete", "import", "export", "plan --ics", "brief pack")

# Times that all of them are run, until one is killed. The moment is drawn from the time that each command
# took a little earlier, so where other work on the machine comes and goes, a whole round may end unharmed.
_MOST_ROUNDS = 5


@pytest.mark.heavy
@pytest.mark.parametrize(("part", "count"), [("scripts", 30), ("recordings", 15), ("journals", 6)])
def test_mutated_files_do_no_harm(part: str, count: int, tmp_path: Path) -> None:
    """No traceback, no crash, no hang, memory under 1 GB, nothing printed with an error.

    Archives are forged in `test_archives`.
    """
    warm()
    counts = Counts(part, tmp_path)
    PARTS[part](count, random.Random(f"{SEED} {part}"), counts)
    assert counts.inputs >= count
    assert dict(counts.faults) == {}
    assert counts.statuses[1] > 0, "some of them must be refused, else nothing was harmed"


@pytest.mark.heavy
def test_a_command_killed_at_a_random_moment_loses_nothing(tmp_path: Path) -> None:
    counts = Counts("kills", tmp_path)
    rounds = 0
    while not counts.statuses[-9] and rounds < _MOST_ROUNDS:
        kills_part(len(STRUCK), random.Random(f"{SEED} {rounds}"), counts, STRUCK)
        rounds += 1
    assert counts.inputs == rounds * len(STRUCK)
    assert dict(counts.faults) == {}
    assert counts.statuses[-9] > 0, "some of them must be struck before they end"
