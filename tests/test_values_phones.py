"""Values of the distance between two phones, worked out by hand from the chart and the weights beside it."""

from __future__ import annotations

import pytest

from offbook.soundalike.phone_distance import cost_of_gap, distance_of_phones


@pytest.mark.parametrize(
    "one, other, far",
    [
        ("T", "T", 0.0),
        ("AH0", "AH1", 0.0),  # stress is no difference of sound
        ("T", "D", 0.15),  # the voice alone
        ("P", "T", 0.3),  # three places apart
        ("P", "K", 0.4),  # six, of which four count
        ("S", "Z", 0.15),
        ("F", "DH", 0.25),  # one place and the voice
        ("T", "CH", 0.35),  # stop and affricate, one place
        ("B", "M", 0.35),  # stop and nasal
        ("L", "W", 0.55),  # liquid and glide, three places
        ("M", "HH", 1.0),  # no shared manner (0.55), the voice (0.15), seven places: never more than 1
        ("IY", "UW", 0.8),  # the whole width of the chart: 0.1 and 0.7
        ("W", "UW", 0.3),
        ("Y", "IY", 0.3),
        ("R", "ER", 0.3),
        ("T", "AA", 1.0),
    ],
)
def test_two_phones_are_as_far_apart_as_their_place_manner_and_voice(
    one: str, other: str, far: float
) -> None:
    """The chart is that of the International Phonetic Association, the weights those of the module."""
    assert distance_of_phones(one, other) == pytest.approx(far)
    assert distance_of_phones(one, other) == distance_of_phones(other, one)


def test_leaving_out_a_sound_costs_more_the_more_the_sound_carries() -> None:
    assert [cost_of_gap(p) for p in ("HH", "AH0", "T", "R", "S", "AH1", "AA")] == [
        0.3, 0.3, 0.35, 0.4, 0.5, 0.7, 0.7,
    ]  # fmt: skip
