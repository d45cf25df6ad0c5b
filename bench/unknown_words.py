"""Words that the recogniser does not know: are they verified when they are said, and noticed when they are
not?

    python bench/unknown_words.py FOLDER [--seeds 3] [--only NAMES] [--cache FILE] [--detail] [--one-ear]
    python bench/unknown_words.py --speak FOLDER

FOLDER holds recordings of word-perfect readings and, under the same name with .txt, their words. A script
word outside the vocabulary is heard as words that sound like it; this bench counts how often that succeeds.

    said       script words outside the vocabulary, all of which were said
    hidden     the same for words that the recogniser knows but that are hidden from it: a tenth of the long words, at
               random, because real readings have few words that are in no vocabulary. If the free hearing heard one of
               them, it gets the word that sounds most like it instead
    planted    a known word of the script, replaced by one outside the vocabulary that was not said
    swapped    a word outside the vocabulary (or a hidden one), replaced by another
    others     all other words that were said, with or without slips: the price

--speak makes such recordings with Debian's flite and festival (text2wave): sentences of our own, full of
words that the small English model does not have, in four voices.
"""

from __future__ import annotations

import argparse
import random
import re
import subprocess
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from hearing import Planted, Reading, installed, installed_second, listen, readings

from offbook.recognise import Alternative, HeardWord, Recogniser, WordingScorer
from offbook.recognise.vosk_recogniser import Decoder
from offbook.script import parse_script
from offbook.soundalike import alike, known_forms
from offbook.soundalike.likeness import is_small
from offbook.words import words_of

# Words of old verse, names and coinages; those that a model knows after all are passed over.
STRANGE = (
    "hearkeneth wanderest kindleth forsakest quencheth murmurest beholdest unfoldeth glimmer'd scatter'd "
    "whisper'd linger'd beckon'd slumb'ring flick'ring quiv'ring sev'nfold lanternlight moonwashed hearthfire "
    "windless shoreless tideless leafless wharfside millrace haymow cottager's steeple's ploughman's minstrel's "
    "shepherdess's dingle coppice withal methinks forsooth prithee Hippolyta Leontes Malvolio Perdita Thisbe "
    "glimbering snorrick velloway brindleby thistledown bulrushes candlesmoke ferrywoman cobblestoned "
    "unforgiveness rememberest thunderhead's outlandishly mournfulest foxgloves sexton's wherefrom"
).split()
# Said by --speak: a line a line, hardly one without a word that the small model lacks.
SENTENCES = (
    "The ferryman's lantern glimmer'd on the wharfside.",
    "Thou wanderest too far from thy hearthfire, child.",
    "Who hearkeneth to the bell shall hear the tide.",
    "A shoreless water and a windless night.",
    "The sexton's boots went scuffing down the millrace.",
    "He quencheth every candle with his thumb.",
    "She whisper'd it and beckon'd from the doorway.",
    "Among the bulrushes a moorhen's nest lay hidden.",
    "The ploughman's daughter kept the cobblestoned yard.",
    "Thou rememberest nothing of the haymow, brother.",
    "There was a dingle full of foxgloves once.",
    "My grandsire's fiddle hung above the hearthstone.",
    "Leontes and Hippolyta came late to supper.",
    "Prithee unbolt the door, for Perdita is freezing.",
    "The minstrel's song was tuneless and outlandishly long.",
    "A moonwashed steeple and a leafless elm.",
    "Thou forsakest me, and then thou murmurest of love.",
    "We found the shepherdess asleep in the thistledown.",
    "The tideless harbour stank of candlesmoke and herring.",
    "Methinks the fog unfoldeth like a sail.",
)
_HIDDEN = 0.1  # share of the long words that are hidden
_PLANTED = 0.08
_LONG = 4  # letters from which a word may be hidden or swapped
_UNLIKE = 0.45  # likeness under which one word is no version of another


class Hiding:
    """A recogniser that does not know some words; if it hears one freely, it says the nearest other word."""

    def __init__(self, real: Recogniser, hidden: Sequence[str]) -> None:
        self._real, self._hidden = real, frozenset(hidden)
        self._instead = {w: self._other(w) for w in self._hidden}

    @property
    def name(self) -> str:
        return self._real.name

    def _other(self, word: str) -> str:
        found = known_forms(word, self.knows)
        return found[0][0] if found and len(found[0]) == 1 else "[unk]"

    def knows(self, word: str) -> bool:
        return word not in self._hidden and self._real.knows(word)

    def given(self, words: Sequence[HeardWord]) -> tuple[HeardWord, ...]:
        """`words` with the hidden ones heard as something else."""
        return tuple(replace(w, word=self._instead.get(w.word, w.word)) for w in words)

    def open(self) -> Decoder:
        return _HidingDecoder(self._real.open(), self)

    def decode_among(self, pcm: bytes, phrases: Sequence[str]) -> tuple[HeardWord, ...]:
        return self._real.decode_among(pcm, phrases)

    def weigh(self, pcm: bytes, phrases: Sequence[str], most: int = 8) -> tuple[Alternative, ...]:
        return self._real.weigh(pcm, phrases, most)


class _HidingDecoder:
    def __init__(self, real: Decoder, hiding: Hiding) -> None:
        self._real, self._hiding = real, hiding

    def feed(self, pcm: bytes) -> bool:
        return self._real.feed(pcm)

    def cut(self) -> tuple[HeardWord, ...]:
        return self._hiding.given(self._real.cut())

    def finish(self) -> tuple[HeardWord, ...]:
        return self._hiding.given(self._real.finish())


@dataclass
class Tally:
    """The verdicts on one kind of word."""

    words: int = 0
    verdicts: dict[str, int] = field(default_factory=dict)

    def add(self, verdict: str) -> None:
        """One more word."""
        self.words += 1
        self.verdicts[verdict] = self.verdicts.get(verdict, 0) + 1

    def row(self, kind: str) -> str:
        """One row of the table."""
        share = [100 * self.verdicts.get(v, 0) / max(1, self.words) for v in ("said", "unsure")]
        return f"{kind:9s}{self.words:7d} {share[0]:7.1f} {share[1]:9.1f} {100 - sum(share) if self.words else 0:17.1f}"


HEAD = "kind       words   said%   unsure%   changed/dropped%"


@dataclass(frozen=True)
class _Case:
    """One run-through: its script, the kind of each of its words, and the words that are hidden."""

    planted: Planted
    kinds: list[str]
    hidden: tuple[str, ...]


def _spoken(word: str) -> list[tuple[str, ...]]:
    found = words_of(parse_script(word + "\n"))
    return [s for w in found for s in w.spoken]


def outside(word: str, knows: Callable[[str], bool]) -> bool:
    """Whether no way of saying a script word is wholly in the vocabulary."""
    return not any(all(map(knows, said)) for said in _spoken(word))


def case_of(reading: Reading, real: Recogniser, hide: bool, plant: bool, seed: int) -> _Case:
    """A script for a reading."""
    rnd = random.Random(f"unknown {reading.name} {hide} {plant} {seed}")
    long = sorted({w.lower() for line in reading.lines for w in line if len(w) >= _LONG})
    hidden = tuple(w for w in long if not is_small(w) and real.knows(w) and rnd.random() < _HIDDEN and hide)
    knows = Hiding(real, ()).knows if not hide else lambda w: w not in hidden and real.knows(w)
    strange = [w for w in STRANGE if outside(w, real.knows)]
    lines: list[list[str]] = []
    kinds: list[str] = []
    for line in reading.lines:
        lines.append([])
        for word in line:
            unknown = outside(word, knows)
            kind = ("hidden" if word.lower() in hidden else "said") if unknown else "others"
            if plant and len(word) >= _LONG and rnd.random() < (0.5 if unknown else _PLANTED):
                other = rnd.choice(strange)
                if alike(other.lower(), word.lower()) < _UNLIKE:
                    word, kind = other, "swapped" if unknown else "planted"
            lines[-1].append(word)
            kinds.append(kind)
    return _Case(Planted(lines, [k in ("planted", "swapped") for k in kinds], []), kinds, hidden)


def measure(
    found: Sequence[Reading],
    real: Recogniser,
    seeds: Sequence[int],
    detail: Callable[[str], None],
    scorer: WordingScorer | None = None,
) -> dict[str, Tally]:
    """Every reading as it is and with words planted, and both again with words hidden, for each seed."""
    total = {kind: Tally() for kind in ("said", "hidden", "planted", "swapped", "others")}
    for reading in found:
        for hide, plant in ((False, False), (False, True), (True, False), (True, True)):
            for seed in seeds if hide or plant else seeds[:1]:
                case = case_of(reading, real, hide, plant, seed)
                run = listen(reading, case.planted, Hiding(real, case.hidden), scorer)
                words = [w for line in case.planted.lines for w in line]
                for i, (word, kind) in enumerate(zip(run.words, case.kinds, strict=True)):
                    if kind == "said" and (hide or plant):
                        continue  # the same words again
                    total[kind].add(word.verdict)
                    slip = kind in ("planted", "swapped")
                    if word.verdict == "unsure" or (word.verdict in ("changed", "dropped")) != slip:
                        around = f"{' '.join(words[max(0, i - 2) : i])} [{words[i]}] {' '.join(words[i + 1 : i + 3])}"
                        detail(f"  {reading.name} {seed} {kind} {word.verdict}: {around} heard {word.heard}")
    return total


_FLITE = ("slt", "rms", "awb")
_FESTIVAL = "(voice_cmu_us_slt_arctic_hts)"


def speak(folder: Path) -> None:
    """The sentences, five to a recording, in each voice."""
    folder.mkdir(parents=True, exist_ok=True)
    for at in range(0, len(SENTENCES), 5):
        said = SENTENCES[at : at + 5]
        for voice in (*_FLITE, "festival"):
            stem = folder / f"{voice}_{at // 5}"
            text = " ".join(re.sub("'d\\b", "ed", s).replace("'ring", "ering") for s in said)
            if voice == "festival":
                call = ["text2wave", "-eval", _FESTIVAL, "-o", f"{stem}.wav"]
                subprocess.run(call, input=text.encode(), check=True)
            else:
                subprocess.run(["flite", "-voice", voice, "-t", text, "-o", f"{stem}.wav"], check=True)
            stem.with_suffix(".txt").write_text("\n".join(said) + "\n", encoding="utf-8")


def main() -> int:
    """The command line."""
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("folder", type=Path)
    ap.add_argument("--speak", action="store_true")
    ap.add_argument("--seeds", type=int, default=1)
    ap.add_argument("--only", default="", help="recordings by name, separated by commas")
    ap.add_argument("--cache", type=Path, metavar="FILE")
    ap.add_argument("--detail", action="store_true")
    ap.add_argument("--one-ear", action="store_true", help="without the second ear")
    a = ap.parse_args()
    if a.speak:
        speak(a.folder)
        return 0
    found = list(readings(a.folder, [n for n in a.only.split(",") if n]))
    if not found:
        sys.exit(f"no recordings with texts in {a.folder}")
    recogniser = installed(a.cache)
    scorer = None if a.one_ear else installed_second(recogniser)
    total = measure(found, recogniser, range(a.seeds), print if a.detail else lambda _: None, scorer)
    print(HEAD)
    for kind, tally in total.items():
        print(tally.row(kind))
    return 0


if __name__ == "__main__":
    sys.exit(main())
