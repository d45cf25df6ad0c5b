"""What is said of one shift: the evidence of each cue, its bounds, and the sentence, worked out by hand."""

from __future__ import annotations

import math
from typing import Any

import pytest

from offbook.delivery.edges import EdgeCues
from offbook.delivery.statement import (
    SpeakerUsual,
    boundary_chance,
    evidence_of,
    statement_at,
    usual_of,
    weight_of,
)

PLAIN = SpeakerUsual((0.0, 1.0), (0.0, 1.0), (0.0, 1.0))


def edge(
    pause: float = 0.0,
    lengthening: float = 0.0,
    pitch: float | None = 0.0,
    level: float | None = 0.0,
    before_word: int = 5,
) -> EdgeCues:
    return EdgeCues(before_word, 3.5, pause, lengthening, pitch, level)


def told(usual: SpeakerUsual = PLAIN, rate: float | None = None, **cues: Any) -> list[str]:
    """What is named of an edge."""
    said = statement_at(5, 2, edge(**cues), usual, rate_change=rate).told
    return said.rpartition(":")[0].split(", ")


def pause_for(chance: float) -> float:
    """The pause with which a boundary is so likely and nothing else speaks for it; by the published form of
    logistic regression."""
    return 0.05 * math.expm1((math.log(chance / (1 - chance)) + 3.06) / 2.10)


def test_the_usual_values_are_the_median_and_spread_of_the_edges_without_a_mark() -> None:
    """The spread is 1.4826 times the median distance from the median, as of a normal distribution."""
    edges = [
        edge(0, 0.1, 1.0, None, before_word=1),
        edge(0, 0.2, 3.0, -2.0, before_word=2),
        edge(0, 0.5, 4.0, -2.0, before_word=3),
        edge(0, 9.0, 90.0, 90.0, before_word=4),
    ]
    usual = usual_of(edges, {4})
    assert usual.lengthening == pytest.approx((0.2, 1.4826 * 0.1))
    assert usual.pitch_reset == pytest.approx((3.0, 1.4826 * 1.0))
    assert usual.level_reset == (-2.0, 0.001)  # a thousandth at least, for it is divided by
    assert usual_of(edges[3:], {4}).lengthening == (9.0, 0.001)  # where all have a mark, all count
    unmeasured = usual_of([edge(pitch=None, level=None)], set())
    assert (unmeasured.pitch_reset, unmeasured.level_reset) == ((0.0, 1.0), (0.0, 1.0))


def test_only_four_cues_have_a_weight() -> None:
    assert [weight_of(c) for c in ("pause", "lengthening", "pitch", "loudness", "rate")] == [
        2.10, 1.01, 0.5, 0.147, 0.0,
    ]  # fmt: skip


def test_each_cue_adds_its_weight_times_its_excess_over_the_usual_value() -> None:
    usual = SpeakerUsual((0.1, 0.2), (1.0, 5.0), (2.0, 5.0))
    evidence = evidence_of(edge(0.15, 0.3, 6.0, 5.0), usual)
    assert list(evidence) == ["pause", "lengthening", "pitch", "loudness"]
    assert evidence["pause"] == pytest.approx(2.10 * math.log(1 + 0.15 / 0.05))
    assert evidence["lengthening"] == pytest.approx(1.01 * (0.3 - 0.1) / 0.2)
    assert evidence["pitch"] == pytest.approx(0.5 * (6.0 - 1.0 - 3.0))
    assert evidence["loudness"] == pytest.approx(0.147 * (5.0 - 2.0))
    assert evidence_of(edge(0.0, 0.1, None, None), usual) == {
        "pause": 0.0, "lengthening": 0.0, "pitch": 0.0, "loudness": 0.0,
    }  # fmt: skip


@pytest.mark.parametrize(
    ("cue", "cues", "most"),
    [
        ("lengthening", {"lengthening": (2.9, 3.0, 3.1)}, (2.9 * 1.01, 3 * 1.01, 3 * 1.01)),
        ("lengthening", {"lengthening": (-2.9, -3.0, -9.0)}, (-2.9 * 1.01, -3 * 1.01, -3 * 1.01)),
        ("pitch", {"pitch": (2.9, 3.0, 3.1)}, (0.0, 0.0, 0.05)),
        ("pitch", {"pitch": (12.9, 13.0, 20.0)}, (4.95, 5.0, 5.0)),
        ("pitch", {"pitch": (-4.0, -13.0, -20.0)}, (0.0, 0.0, 0.0)),
        ("loudness", {"level": (5.9, 6.0, 6.1)}, (5.9 * 0.147, 6 * 0.147, 6 * 0.147)),
        ("loudness", {"level": (-5.9, -6.0, -6.1)}, (-5.9 * 0.147, -6 * 0.147, -6 * 0.147)),
    ],
)
def test_a_cue_beyond_its_limit_adds_no_more(
    cue: Any, cues: dict[str, tuple[float, ...]], most: tuple[float, ...]
) -> None:
    ((name, sizes),) = cues.items()
    edges = [edge(**{name: s}) for s in sizes]  # type: ignore[arg-type]
    assert [evidence_of(each, PLAIN)[cue] for each in edges] == pytest.approx(most)


def test_the_chance_of_a_boundary_is_logistic_in_the_sum_of_the_evidence() -> None:
    assert boundary_chance(edge(), PLAIN) == pytest.approx(1 / (1 + math.exp(3.06)))
    assert boundary_chance(edge(pause_for(0.5)), PLAIN) == pytest.approx(0.5)
    both = 2.10 * math.log1p(0.1 / 0.05) + 0.147 * 4
    assert boundary_chance(edge(0.1, level=4.0), PLAIN) == pytest.approx(1 / (1 + math.exp(3.06 - both)))


@pytest.mark.parametrize(
    ("chance", "audible", "sure"),
    [
        (0.751, "heard", 0.751),
        (0.749, "slight", 0.5),
        (0.351, "slight", 0.5),
        (0.349, "not heard", 0.651),
        (0.1, "not heard", 0.9),
        (0.97, "heard", 0.97),
    ],
)
def test_a_shift_is_heard_from_a_chance_of_75_per_cent_and_slight_from_35(
    chance: float, audible: Any, sure: float
) -> None:
    found = statement_at(5, 2, edge(pause_for(chance)), PLAIN)
    assert found.audible == audible and found.confidence == pytest.approx(sure)
    assert (found.before_word, found.grade, found.at, found.rate_change) == (5, 2, 3.5, None)
    assert found.told.endswith(f": {audible}") and found.cues == edge(pause_for(chance))


def test_cues_that_carry_a_shift_add_at_least_0_8_and_the_strongest_comes_first() -> None:
    """In the first they add 1.5, 0.88, 0.82 and 0.81; in the second 2.42, 0.81, and twice 0.79."""
    found = statement_at(5, 3, edge(0.024, 0.8, 6.0, 6.0), PLAIN)
    assert found.carried_by == ("pitch", "loudness", "pause", "lengthening")
    found = statement_at(5, 3, edge(0.108, 0.785, 4.625, 5.4), PLAIN)
    assert found.carried_by == ("pause", "pitch")


def test_a_shift_that_could_not_be_measured_says_why_and_keeps_its_cues() -> None:
    unheard = statement_at(7, 3, None, PLAIN, rate_change=0.1)
    assert (unheard.before_word, unheard.grade, unheard.at, unheard.audible) == (7, 3, 0.0, "not measured")
    assert (unheard.confidence, unheard.carried_by, unheard.cues, unheard.rate_change) == (0.5, (), None, 0.1)
    assert unheard.told == "the words around it were not both heard: could not be measured"
    loud = statement_at(7, 2, edge(9.0), PLAIN, hindered="a prompt came here")
    assert (loud.at, loud.audible, loud.confidence, loud.cues) == (3.5, "not measured", 0.5, edge(9.0))
    assert (loud.carried_by, loud.told) == ((), "a prompt came here: could not be measured")
    assert statement_at(7, 2, None, PLAIN, hindered="a prompt came here").told == loud.told


@pytest.mark.parametrize(
    ("cues", "named"),
    [
        ({"pause": 0.2}, "pause 0.2 s"),
        ({"pause": 0.19}, "no pause, no change"),
        ({"pause": 1.26}, "pause 1.3 s"),
        ({"pitch": 2.5}, "pitch up 2 semitones"),  # one of them is usual here
        ({"pitch": 2.4}, "no pause, no change"),
        ({"pitch": -0.5}, "pitch down 2 semitones"),
        ({"pitch": -0.4}, "no pause, no change"),
        ({"level": 4.0}, "2 LU louder"),  # two are usual
        ({"level": 3.9}, "no pause, no change"),
        ({"level": 0.0}, "2 LU softer"),
        ({"level": 0.1}, "no pause, no change"),
        ({"lengthening": 0.8}, "last word drawn out"),  # half of it is usual
        ({"lengthening": 0.79}, "no pause, no change"),
        ({"lengthening": -5.0}, "no pause, no change"),
        ({"rate": 0.2}, "faster after it"),
        ({"rate": 0.19}, "no pause, no change"),
        ({"rate": -0.2}, "slower after it"),
        ({"rate": -0.19}, "no pause, no change"),
        ({"pitch": None, "level": None}, "no pause, no change"),
    ],
)
def test_a_change_is_named_from_the_size_that_a_listener_notices(cues: dict[str, Any], named: str) -> None:
    usual = SpeakerUsual((0.5, 1.0), (1.0, 1.0), (2.0, 1.0))
    plain: dict[str, Any] = {"lengthening": 0.5, "pitch": 1.0, "level": 2.0}
    assert told(usual, **(plain | cues)) == named.split(", ")


def test_the_named_changes_are_always_in_the_same_order() -> None:
    assert told(lengthening=0.3) == ["last word drawn out"] and told(lengthening=0.29) != told(
        lengthening=0.3
    )
    assert told(rate=0.3, pause=0.5, pitch=-3.0, level=-3.0, lengthening=0.4) == [
        "pause 0.5 s", "pitch down 3 semitones", "3 LU softer", "last word drawn out", "faster after it",
    ]  # fmt: skip
