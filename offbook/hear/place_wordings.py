"""The wordings that compete at a doubtful place: the script's, those of the hearings, and any other.

The recogniser, where it is asked alone, is given the rivals of each small word too. The second ear need not
be: it has told which word it would rather have of all that there are.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from offbook.align import AlignedWord
from offbook.hear.blends import blends, spelt, unspelt
from offbook.hear.decide import same
from offbook.hear.second_ear import SecondEar, Suspicion
from offbook.soundalike import family, rivals

_FEW = 4  # script words of a place up to which single small words of it are swapped
_BLENDS = 10  # wordings at most between the script's and those of the hearings
_NEAR = 6  # wordings at most that have another word in one place of the script's
_MOST_WORDS = 8  # of a place for which those are looked for
_FORMS, _SCRIPT = 4, 6  # ways to say a word outside the vocabulary, and wordings of the script that they make


class PlaceWordings:
    """What may have been said at the places of one stretch, whose part of the script is `region`.

    knows: whether a word is in the recogniser's vocabulary. suspicions: what the second ear would rather
    have.
    """

    def __init__(
        self,
        region: Sequence[AlignedWord],
        knows: Callable[[str], bool],
        ear: SecondEar | None,
        suspicions: Sequence[Suspicion],
    ) -> None:
        self._region, self._knows, self._ear, self._suspicions = region, knows, ear, suspicions

    def of(self, here: range, hearings: Sequence[str]) -> tuple[list[str], list[str]]:
        """The script's wordings of the script words `here`, and the rival ones."""
        places = self._region[here.start : here.stop]
        script = [""]
        for place in places:
            script = [f"{s} {' '.join(f)}".strip() for s in script for f in place.forms[:_FORMS]][:_SCRIPT]
        others = [" ".join(w for w in h.split() if self._knows(w)) for h in hearings]
        kin = {p: (*rivals(p.text), *family(p.text)) for p in places}
        for i, place in enumerate(places):
            for rival in kin[place] if len(places) <= _FEW else ():
                if self._knows(rival):
                    around = [p.text for p in places]
                    around[i] = rival
                    others.append(" ".join(filter(None, around)))
        others += self.suspected(here)
        if len(places) == 1:
            others.append("")
        kept = [o for o in dict.fromkeys(others) if not any(same(o, s) for s in script)]
        return list(dict.fromkeys(script)), kept

    def suspected(self, here: range) -> list[str]:
        """The wordings of a place that the second ear would rather have."""
        found = []
        for s in self._suspicions:
            if here.start <= s.unit.script.start < here.stop:
                around = [p.text for p in self._region[here.start : here.stop]]
                at = s.unit.script.start - here.start
                around[at] = s.instead_of(around[at])
                found.append(" ".join(filter(None, around)))
        return found

    def for_second(
        self, here: range, heard: range, script: Sequence[str], others: Sequence[str], hearings: Sequence[str]
    ) -> list[str]:
        """The wordings that the second ear is asked about beside the script's.

        Of `others` those that were heard or that it suspects; what lies between these and the script's, and
        what it would write there by itself. Between two script words also the small words that a small one
        which was heard may be.
        """
        heard_or_suspected = [*hearings, *self.suspected(here)]
        asked = [h for h in dict.fromkeys(heard_or_suspected) if h in others]
        if not here:
            asked += [w for h in hearings for w in rivals(h) if self._knows(w) and w not in asked]
        for wording in (*self._near(here, heard), *self._between(here, heard, script[0], heard_or_suspected)):
            if not any(same(wording, o) for o in (*script, *asked)):
                asked.append(wording)
        return asked

    def _near(self, here: range, heard: range) -> list[str]:
        """The script's wording of several words with one of them as the second ear would rather have it.

        Of one word it has told that already.
        """
        places = self._region[here.start : here.stop]
        written = [w for p in places for w in p.written]
        if self._ear is None or not 1 < len(written) <= _MOST_WORDS:
            return []
        found = []
        for k, word in self._ear.rather(heard, written):
            wording = unspelt(" ".join(filter(None, (*written[:k], word, *written[k + 1 :]))), places)
            if all(self._knows(w) for w in wording.split()):
                found.append(wording)
        return found[:_NEAR]

    def _between(self, here: range, heard: range, script: str, wordings: Sequence[str]) -> list[str]:
        """What the second ear would write at a place by itself, and what lies between the script's wording
        and that or one of the others.
        """
        places = self._region[here.start : here.stop]
        alone = None if self._ear is None else self._ear.freely(heard)
        free = [] if alone is None else [unspelt(alone, places)]
        # As they are written, so that a name of several forms is left out or taken whole.
        ours = spelt(script, places)
        lying_between = (b for w in (*wordings, *free) for b in blends(ours, spelt(w, places)))
        found = [*free, *(unspelt(b, places) for b in lying_between)]
        return [f for f in dict.fromkeys(found) if all(self._knows(w) for w in f.split())][:_BLENDS]
