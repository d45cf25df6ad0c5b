"""The wordings that compete at a doubtful place: the script's, those of the hearings, and others like them.

Where the recogniser weighs a place by itself, it is also given the words that sound like each small word. The
second ear needs fewer of them: it has already gone over the text and said which other words it would prefer.
"""

from __future__ import annotations

from collections.abc import Callable, Container, Sequence

from offbook.align import AlignedWord
from offbook.hear.blends import blends, with_script_spelling, with_vocabulary_words
from offbook.hear.decide import same, words_in_common
from offbook.hear.second_ear import SecondEar, Suspicion
from offbook.soundalike import family, rivals

# All set by hand: each wording more costs the second ear about 10 ms, and the recogniser more.
_FEW_WORDS = 4  # a place of more script words is not tried with its single words swapped
_MOST_BLENDS = 10  # wordings at most that lie between the script's and those of the hearings
_MOST_REWORDED = 6  # wordings at most that are the script's with one word changed
_MOST_WORDS_REWORDED = 8  # a place of more words is not tried with one word changed
_MOST_FORMS = 4  # ways to say one script word that are tried
_MOST_SCRIPT_WORDINGS = 6  # wordings of the script at most that these ways make together


class PlaceWordings:
    """What may have been said at the places of one segment, whose part of the script is `region`.

    knows: whether a word is in the recogniser's vocabulary. ear: the second ear on this segment, None where
    there is none. suspicions: the words that it would prefer to the script's.
    """

    def __init__(
        self,
        region: Sequence[AlignedWord],
        knows: Callable[[str], bool],
        ear: SecondEar | None,
        suspicions: Sequence[Suspicion],
    ) -> None:
        self._region, self._knows, self._ear, self._suspicions = region, knows, ear, suspicions

    def script_and_rivals(self, here: range, hearings: Sequence[str]) -> tuple[list[str], list[str]]:
        """The wordings of the script words `here` (numbers in the region), and the rival wordings.

        Rivals are what the hearings had, the script's words with one of them swapped for a word of the same
        sound or family, what the second ear would prefer and, for a single word, no word at all. A wording
        that sounds the same as the script's is no rival.
        """
        places = self._region[here.start : here.stop]
        script = [""]
        for place in places:
            ways = place.forms[:_MOST_FORMS]
            script = [f"{s} {' '.join(f)}".strip() for s in script for f in ways][:_MOST_SCRIPT_WORDINGS]
        others = [" ".join(w for w in h.split() if self._knows(w)) for h in hearings]
        kin = {p: (*rivals(p.text), *family(p.text)) for p in places}
        for i, place in enumerate(places):
            for rival in kin[place] if len(places) <= _FEW_WORDS else ():
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
        """The wordings of the script words `here` that the second ear prefers to the script's."""
        found = []
        for s in self._suspicions:
            if here.start <= s.unit.script.start < here.stop:
                around = [p.text for p in self._region[here.start : here.stop]]
                at = s.unit.script.start - here.start
                around[at] = s.instead_of(around[at])
                found.append(" ".join(filter(None, around)))
        return found

    def for_second_ear(
        self, here: range, heard: range, script: Sequence[str], others: Sequence[str], hearings: Sequence[str]
    ) -> list[str]:
        """The wordings that the second ear is asked about beside the script's.

        These are the ones of `others` that a hearing had or that the second ear suspects, the blends of them
        with the script's, and what the second ear would write there by itself. Where the place lies between
        two script words, also the small words that sound like a heard one.

        here: script words (numbers in the region); heard: the leaning words there; script: the script's
        wordings; hearings: what each hearing had.
        """
        heard_or_suspected = [*hearings, *self.suspected(here)]
        asked = [h for h in dict.fromkeys(heard_or_suspected) if h in others]
        if not here:
            asked += [w for h in hearings for w in rivals(h) if self._knows(w) and w not in asked]
        blended = self._free_wording_and_blends(here, heard, script[0], heard_or_suspected)
        for wording in (*self._with_one_word_changed(here, heard), *blended):
            if not any(same(wording, o) for o in (*script, *asked)):
                asked.append(wording)
        return asked

    def _with_one_word_changed(self, here: range, heard: range) -> list[str]:
        """The script's wording of several words with one of them changed to what the second ear prefers.

        For a place of one word the second ear has said so already, in its suspicions.
        """
        written = self._script_words(here)
        return self._one_word_changed(here, heard, written, range(len(written)))

    def near_rival(self, here: range, heard: range, rival: str) -> list[str]:
        """A rival of several words, one of the script's words in it changed to what the second ear prefers.

        The other words of a place are only weighed in the company of the script's, so a second slip is not
        found before the first one is known ("it was a best of", where "the best of" was said for the
        script's "a best for"). Words outside the vocabulary are not changed: the second ear knows how they
        are spelt, but it likes the words that sound like them better ("makes" for "makest").

        here: script words (numbers in the region); heard: the leaning words there.
        """
        written = self.written(here, rival)
        changeable = [p.known for p in self._region[here.start : here.stop] for _ in p.written]
        kept = [k for i, k in words_in_common(self._script_words(here), written) if changeable[i]]
        return self._one_word_changed(here, heard, written, kept)

    def _script_words(self, here: range) -> tuple[str, ...]:
        return tuple(w for p in self._region[here.start : here.stop] for w in p.written)

    def _one_word_changed(
        self, here: range, heard: range, written: Sequence[str], which: Container[int]
    ) -> list[str]:
        """The wordings in which one of these words, as they are written, is another in the heard place.

        which: the numbers of the words that may be another.
        """
        if self._ear is None or not 1 < len(written) <= _MOST_WORDS_REWORDED:
            return []
        places = self._region[here.start : here.stop]
        found = []
        for k, word in self._ear.likely_replacements(heard, written):
            changed = " ".join(filter(None, (*written[:k], word, *written[k + 1 :])))
            wording = with_vocabulary_words(changed, places)
            if k in which and all(self._knows(w) for w in wording.split()):
                found.append(wording)
        return found[:_MOST_REWORDED]

    def written(self, here: range, wording: str) -> tuple[str, ...]:
        """The words of a heard wording at the script words `here`, as the script writes them."""
        # Where the script has no word, words of any place around may have been said.
        spelled = with_script_spelling(wording, self._region[here.start : here.stop] or self._region)
        return tuple(spelled.split()) if self._ear is None else self._ear.written_wording(spelled)

    def _free_wording_and_blends(
        self, here: range, heard: range, script: str, wordings: Sequence[str]
    ) -> list[str]:
        """What the second ear would write at a place by itself, and the blends of the script's wording.

        It is blended with that, and with each of `wordings`.
        """
        places = self._region[here.start : here.stop]
        alone = None if self._ear is None else self._ear.free_wording(heard)
        free = [] if alone is None else [with_vocabulary_words(alone, places)]
        # Spelt as in the script, so that a name that is heard as several words is left out or taken whole.
        ours = with_script_spelling(script, places)
        blended = (b for w in (*wordings, *free) for b in blends(ours, with_script_spelling(w, places)))
        found = [*free, *(with_vocabulary_words(b, places) for b in blended)]
        return [f for f in dict.fromkeys(found) if all(self._knows(w) for w in f.split())][:_MOST_BLENDS]
