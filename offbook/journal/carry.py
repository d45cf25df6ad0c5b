"""Carrying history from one draft of a script to the next.

Every word of a piece has a slot: a number that it keeps as long as it stays in the speech. A new draft is
aligned with the one before it word by word (Levenshtein distance, every edit costs the same, computed by
`rapidfuzz`). Words that stayed keep their slots, so that the results of last week's run-through still
belong to them. A passage that was moved is recognised if at least four of its words still stand together
unchanged.

A thought keeps its key, and what the scheduler knows about it, as long as at least half of its words stay.
If the same words are only divided into thoughts in another way, no thought has to be asked again because of
it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from rapidfuzz.distance import Levenshtein

from offbook.records import Unit

MOVED = 4  # words in a row; fewer may be the same by accident ("of the king"); set by hand


@dataclass(frozen=True, slots=True)
class DraftWords:
    """What is needed here of one draft: its words in small letters, their slots, and its thoughts."""

    words: tuple[str, ...]
    slots: tuple[int, ...]
    units: tuple[Unit, ...]


def slots_of(drafts: Sequence[DraftWords], new: Sequence[str]) -> tuple[int, ...]:
    """The slot of each word of `new`.

    drafts: all drafts so far, oldest first. `new` is aligned word by word with the newest. Words that it does
    not have are looked for in the older ones, so that words that were cut and are put back get their old
    slots again.
    """
    found: list[int | None] = [None] * len(new)
    for back, draft in enumerate(reversed(drafts)):
        free = [i for i, slot in enumerate(draft.slots) if slot not in set(found)]
        if back == 0:
            free = _aligned(draft, new, found)
        _moved(draft, new, free, found)
    fresh = max((s for d in drafts for s in d.slots), default=-1) + 1
    for j, slot in enumerate(found):
        if slot is None:
            found[j] = fresh
            fresh += 1
    return tuple(s for s in found if s is not None)


def _aligned(draft: DraftWords, new: Sequence[str], found: list[int | None]) -> list[int]:
    """Fill in the slots in `found` by aligning `new` with `draft`.

    Returns the numbers of those words of `draft` that have no partner in `new`.
    """
    gone: list[int] = []
    for op in Levenshtein.opcodes(draft.words, new):
        if op.tag == "equal":
            for k in range(op.src_end - op.src_start):
                found[op.dest_start + k] = draft.slots[op.src_start + k]
        else:
            gone.extend(range(op.src_start, op.src_end))
    return gone


def _moved(draft: DraftWords, new: Sequence[str], free: list[int], found: list[int | None]) -> None:
    """Give the words of a moved passage the slots that they had; `found` is changed in place.

    free: the numbers of the words of `draft` that have no partner in `new` yet.
    """
    old, left = draft.words, set(free)
    starts: dict[tuple[str, ...], list[int]] = {}
    for i in free:
        if all(i + k in left for k in range(MOVED)):
            starts.setdefault(tuple(old[i : i + MOVED]), []).append(i)
    j = 0
    while j <= len(new) - MOVED:
        here = starts.get(tuple(new[j : j + MOVED]), [])
        i = next((i for i in here if i in left), -1)
        if i < 0 or any(found[j + k] is not None for k in range(MOVED)):
            j += 1
            continue
        while j < len(new) and i in left and found[j] is None and old[i] == new[j]:
            found[j] = draft.slots[i]
            left.discard(i)
            i, j = i + 1, j + 1


@dataclass(frozen=True, slots=True)
class CarriedUnit:
    """A thought of the new draft.

    copied_from: the key of the thought whose history it takes over, None if most of its words are new.
    made_of: the keys of the old thoughts that have words in it; the one with the most words comes first.
    changed: whether it has words that were not in any thought before, or has lost some that were. If the
    same words are only divided in another way, that is no change.
    """

    unit: Unit
    copied_from: int | None
    changed: bool
    made_of: tuple[int, ...] = ()


def carry_units(
    drafts: Sequence[DraftWords], new: Sequence[Unit], new_slots: Sequence[int]
) -> tuple[CarriedUnit, ...]:
    """The thoughts of the new draft with their keys. drafts: all drafts before it, oldest first."""
    owner: dict[int, int] = {}
    slots: dict[int, tuple[int, ...]] = {}
    for draft in drafts:
        for u in draft.units:
            slots[u.key] = draft.slots[u.first : u.last + 1]
            owner.update(dict.fromkeys(slots[u.key], u.key))
    here = set(new_slots)
    next_key = max(slots, default=-1) + 1
    taken: set[int] = set()
    out: list[CarriedUnit] = []
    for u in new:
        own = new_slots[u.first : u.last + 1]
        made_of = tuple(key for key, _ in Counter(owner[s] for s in own if s in owner).most_common())
        learnt = sum(s in owner for s in own)
        if 2 * learnt < u.words or not made_of:
            out.append(CarriedUnit(replace(u, key=next_key), None, True))
            next_key += 1
            continue
        key = made_of[0]
        changed = learnt < u.words or not here.issuperset(slots[key])
        if key in taken:
            out.append(CarriedUnit(replace(u, key=next_key, parent=key), key, changed, made_of))
            next_key += 1
        else:
            taken.add(key)
            out.append(CarriedUnit(replace(u, key=key), key, changed, made_of))
    return tuple(out)
