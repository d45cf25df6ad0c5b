"""Sound-alikes: which words may be mistaken for one another by ear, decided by their phones."""

from __future__ import annotations

from offbook.soundalike.likeness import (
    Knows,
    alike,
    family,
    joined,
    known_forms,
    rivals,
    same_sound,
    sound_keys,
)
from offbook.soundalike.phone_distance import (
    distance,
)

__all__ = [
    "Knows",
    "alike",
    "distance",
    "family",
    "joined",
    "known_forms",
    "rivals",
    "same_sound",
    "sound_keys",
]
