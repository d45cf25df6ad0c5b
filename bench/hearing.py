"""How well the hearing hears: slips planted in the scripts of word-perfect readings.

    python bench/hearing.py FOLDER [--seeds 3] [--kinds near,far] [--cache FILE] [--detail] [--curve] [--one-ear]

FOLDER holds recordings and, under the same name with .txt, the words as they were read, a line a line.
Slips are planted in the script, not in the sound, so that the truth is known for every word: a small
word swapped for another (near), a word swapped for an unrelated one (far), a word put into the script
that nobody said (dropped), a word taken out (added), whole lines put in (lines). The word lists are this
benchmark's own. With --cache what the recogniser answered is kept, so that a change that comes after it
is measured in seconds. --curve prints how often words of each confidence were what was said. --one-ear
leaves the second ear out.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import random
import re
import sqlite3
import sys
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any, Generic, TypeVar

from offbook.audio import pcm
from offbook.hear.listener import hear
from offbook.models import model_folder, second_folder
from offbook.recognise import (
    Alternative,
    HeardWord,
    OnnxScorer,
    Passage,
    Recogniser,
    Rival,
    VoskRecogniser,
    WordingScorer,
)
from offbook.recognise.vosk_recogniser import Decoder
from offbook.score import Run
from offbook.script import Script, parse_script
from offbook.words import Word, words_of

SOUNDS = {".wav", ".mp3", ".flac", ".ogg", ".opus", ".m4a", ".webm", ".mp4"}
KINDS = ("perfect", "near", "far", "dropped", "added", "lines")

NEAR = {
    "the": ("that", "a", "this"), "a": ("the", "one"), "an": ("the", "a"), "of": ("in", "from", "to"),
    "in": ("of", "into", "at"), "to": ("for", "into", "and"), "and": ("or", "then", "so"), "is": ("are", "be"),
    "was": ("were", "has"), "were": ("was", "are"), "had": ("has", "did"), "have": ("had", "has"),
    "be": ("been", "is"), "my": ("your", "the"), "his": ("this", "the"), "their": ("the", "his"),
    "he": ("she", "we"), "it": ("he", "that"), "we": ("you", "they"), "they": ("we", "he"), "you": ("we", "i"),
    "thou": ("he", "thy"), "thy": ("the", "my"), "thee": ("me", "you"), "for": ("to", "or"), "at": ("in", "on"),
    "with": ("in", "for"), "by": ("with", "for"), "from": ("of", "with"), "on": ("at", "upon"), "or": ("and", "nor"),
    "not": ("now", "never"), "but": ("and", "yet"), "so": ("as", "too"), "that": ("the", "this"), "this": ("the", "his"),
    "shall": ("should", "can"), "should": ("could", "shall"), "will": ("would", "shall"), "may": ("might", "can"),
    "as": ("so", "is"), "no": ("not", "now"), "all": ("some", "the"), "what": ("that", "which"), "who": ("that", "he"),
}  # fmt: skip
FAR = (
    "basket copper dragon engine feather glacier hammer island jacket kettle lantern marble needle orchard "
    "pepper quarrel ribbon saddle thunder umbrella velvet wagon yesterday zebra bitter climb drift extend "
    "gather hollow invite linger mumble"
).split()
PUT_IN = "quite just even well only such more still almost perhaps indeed soon old new little".split()
LINES = (
    "The gardener has left his boots beside the gate",
    "Seven small boats came round the point at dusk",
    "She folded every letter and she burned them all",
    "There is a draught under the kitchen door",
)


@dataclass(frozen=True)
class Reading:
    """A recording and its words, line by line."""

    name: str
    sound: bytes
    lines: list[list[str]]


@dataclass(frozen=True)
class Planted:
    """A script with slips: its lines, for each word whether it is one, and where a word was taken out."""

    lines: list[list[str]]
    slips: list[bool]
    gone: list[int]


def tokens(line: str) -> list[str]:
    """The words of a line of text, hyphenated compounds apart."""
    return re.findall(r"[A-Za-z']+", line.replace("’", "'").replace("-", " "))


def plant(lines: list[list[str]], kind: str, seed: int) -> Planted:
    """`lines` with slips of one kind."""
    rnd = random.Random(f"offbook {kind} {seed}")
    out, slips, gone = [], list[bool](), list[int]()
    for n, line in enumerate(lines):
        new: list[str] = []
        for word in line:
            hit = rnd.random() < 0.1
            if kind == "near" and word.lower() in NEAR and rnd.random() < 0.25:
                new.append(rnd.choice(NEAR[word.lower()]))
                slips.append(True)
            elif kind == "far" and hit and len(word) > 3:
                new.append(rnd.choice(FAR))
                slips.append(True)
            elif kind == "dropped" and hit:
                new += [rnd.choice(PUT_IN), word]
                slips += [True, False]
            elif kind == "added" and hit and len(line) > 2 and gone[-1:] != [len(slips)]:
                gone.append(len(slips))
            else:
                new.append(word)
                slips.append(False)
        if new:
            out.append(new)
        if kind == "lines" and n % 4 == 1:
            extra = LINES[(n // 4 + seed) % len(LINES)].split()
            out.append(extra)
            slips += [True] * len(extra)
    return Planted(out, slips, gone)


@dataclass
class Count:
    """What one kind of slip came to."""

    slips: int = 0
    found: int = 0
    unsure: int = 0
    clean: int = 0
    alarms: int = 0
    doubts: int = 0
    places: int = 0
    places_found: int = 0
    extra: int = 0
    lines: int = 0
    lines_found: int = 0
    lines_false: int = 0
    curve: dict[float, list[int]] = field(default_factory=dict)

    def row(self, kind: str) -> str:
        """One row of the table."""

        def pc(x: int, n: int) -> float:
            return 100 * x / n if n else 0.0

        return (
            f"{kind:9s}{self.slips:6d} {pc(self.found, self.slips):7.1f} {pc(self.unsure, self.slips):8.1f} {self.clean:7d}"
            f" {pc(self.alarms, self.clean):7.2f} {pc(self.doubts, self.clean):7.2f} {pc(self.places_found, self.places):13.1f}"
            f" {self.extra:12d} {pc(self.lines_found, self.lines):13.1f} {self.lines_false:12d}"
        )


HEAD = "kind      slips  found%  unsure%   clean  false%  doubt%  added-found%  added-false  lines-found%  lines-false"


def count(t: Count, case: str, run: Run, planted: Planted, detail: Callable[[str], None]) -> None:
    """Add one run-through to the count `t`."""
    words = [w for line in planted.lines for w in line]
    verdicts = [w.verdict for w in run.words]
    if len(verdicts) != len(words):
        raise ValueError(f"{case}: {len(verdicts)} verdicts for {len(words)} words")
    for i, (v, slip) in enumerate(zip(verdicts, planted.slips, strict=True)):
        bad = v in ("changed", "dropped")
        around = f"{' '.join(words[max(0, i - 2) : i])} [{words[i]}] {' '.join(words[i + 1 : i + 3])}"
        if slip:
            t.slips, t.found, t.unsure = t.slips + 1, t.found + bad, t.unsure + (v == "unsure")
        else:
            t.clean, t.alarms, t.doubts = t.clean + 1, t.alarms + bad, t.doubts + (v == "unsure")
        if bad != slip or (v == "unsure" and not slip):
            sure = run.words[i].confidence
            detail(
                f"  {case} {'missed' if slip else 'false'} {v}: {around} heard {run.words[i].heard} ({sure})"
            )
        if run.words[i].confidence is not None and v in ("said", "unsure"):
            bin_ = round(run.words[i].confidence or 0.0, 1)
            cell = t.curve.setdefault(bin_, [0, 0])
            cell[0] += not slip
            cell[1] += 1
    claimed = [x.before_word for x in run.extras]
    near = {i for i, v in enumerate(verdicts) if v != "said"}
    for p in planted.gone:
        t.places += 1
        found = any(abs(c - p) <= 1 for c in claimed) or bool({p - 1, p} & near)
        t.places_found += found
        if not found:
            detail(
                f"  {case} missed added: {' '.join(words[max(0, p - 3) : p])} [] {' '.join(words[p : p + 3])}"
            )
    for x in run.extras:
        c = x.before_word
        if not any(abs(c - p) <= 1 for p in planted.gone) and not any(
            planted.slips[k] for k in (c - 1, c) if 0 <= k < len(words)
        ):
            t.extra += 1
            detail(
                f"  {case} false added: {' '.join(words[max(0, c - 3) : c])} [{x.heard}] {' '.join(words[c : c + 3])}"
            )
    _count_lines(t, planted, verdicts)


def _count_lines(t: Count, planted: Planted, verdicts: Sequence[str]) -> None:
    at = 0
    for line in planted.lines:
        gone = all(planted.slips[at : at + len(line)]) and len(line) > 3
        said = sum(v == "dropped" for v in verdicts[at : at + len(line)]) >= 0.75 * len(line)
        t.lines, t.lines_found, t.lines_false = (
            t.lines + gone,
            t.lines_found + (gone and said),
            t.lines_false + (said and not gone),
        )
        at += len(line)


Ear = TypeVar("Ear")


class _KeptEar(Generic[Ear]):
    """An ear whose answers are kept; the real one is loaded only for what is not there."""

    name = "kept"

    def __init__(self, make: Callable[[], Ear]) -> None:
        self._make = make
        self._real: Ear | None = None

    @property
    def real(self) -> Ear:
        """The ear itself."""
        if self._real is None:
            self._real = self._make()
        return self._real


class Kept(_KeptEar[Recogniser]):
    """A recogniser whose answers are kept in a file."""

    def __init__(self, file: Path, make: Callable[[], Recogniser]) -> None:
        super().__init__(make)
        self._db = sqlite3.connect(file, timeout=120, check_same_thread=False)
        self._db.execute("pragma synchronous = off")  # what is lost with the power is heard again
        self._db.execute("create table if not exists answers (question text primary key, answer text)")
        self._lock = threading.Lock()
        self._known: dict[str, bool] = {}

    def ask(self, question: bytes, answer: Callable[[], object]) -> object:
        """The kept answer, or a new one."""
        key = hashlib.sha256(question).hexdigest()
        with self._lock:
            row = self._db.execute("select answer from answers where question = ?", (key,)).fetchone()
        if row is not None:
            return json.loads(row[0])
        found = answer()
        with self._lock:
            self._db.execute("insert or replace into answers values (?, ?)", (key, json.dumps(found)))
            self._db.commit()
        return found

    def knows(self, word: str) -> bool:
        if word not in self._known:
            self._known[word] = bool(self.ask(b"knows " + word.encode(), lambda: self.real.knows(word)))
        return self._known[word]

    def open(self) -> Decoder:
        return _KeptDecoder(self)

    def decode_among(self, pcm: bytes, phrases: Sequence[str]) -> tuple[HeardWord, ...]:
        key = b"among " + json.dumps(list(phrases)).encode() + pcm
        return _heard(self.ask(key, lambda: [asdict(w) for w in self.real.decode_among(pcm, phrases)]))

    def weigh(self, pcm: bytes, phrases: Sequence[str], most: int = 8) -> tuple[Alternative, ...]:
        def answer() -> object:
            return [[[asdict(w) for w in a.words], a.score] for a in self.real.weigh(pcm, phrases, most)]

        found = self.ask(b"weigh " + json.dumps([list(phrases), most]).encode() + pcm, answer)
        assert isinstance(found, list)
        return tuple(Alternative(_heard(words), score) for words, score in found)


def _heard(found: object) -> tuple[HeardWord, ...]:
    assert isinstance(found, list)
    return tuple(HeardWord(**w) for w in found)


class _KeptDecoder:
    """A free decoding whose answers are kept; what was fed is fed again to a real one on a miss."""

    def __init__(self, kept: Kept) -> None:
        self._kept, self._sofar = kept, hashlib.sha256(b"free")
        self._log: list[tuple[str, bytes]] = []
        self._decoder: Decoder | None = None
        self._done = 0

    def _ask(self, kind: str, pcm: bytes) -> object:
        self._sofar.update(kind.encode() + pcm)
        self._log.append((kind, pcm))
        return self._kept.ask(self._sofar.digest(), self._really)

    def _really(self) -> object:
        if self._decoder is None:
            self._decoder = self._kept.real.open()
        found: object = None
        for kind, sound in self._log[self._done :]:
            if kind == "feed":
                found = self._decoder.feed(sound)
            else:
                words = self._decoder.cut() if kind == "cut" else self._decoder.finish()
                found = [asdict(w) for w in words]
        self._done = len(self._log)
        return found

    def feed(self, pcm: bytes) -> bool:
        return bool(self._ask("feed", pcm))

    def cut(self) -> tuple[HeardWord, ...]:
        return _heard(self._ask("cut", b""))

    def finish(self) -> tuple[HeardWord, ...]:
        return _heard(self._ask("finish", b""))


def installed(cache: Path | None) -> Recogniser:
    """The installed model, its answers kept in `cache` if that is given."""

    def make() -> Recogniser:
        return VoskRecogniser(model_folder())

    return make() if cache is None else Kept(cache, make)


class KeptScorer(_KeptEar[WordingScorer]):
    """A second ear whose answers are kept along with the first's."""

    def __init__(self, kept: Kept, make: Callable[[], WordingScorer]) -> None:
        super().__init__(make)
        self.kept = kept

    def follow(self, pcm: bytes, words: Sequence[str]) -> Passage:
        return _KeptPassage(self, pcm, tuple(words))


class _KeptPassage:
    """A passage that is gone over only where an answer is not there."""

    def __init__(self, scorer: KeptScorer, pcm: bytes, words: tuple[str, ...]) -> None:
        self._scorer, self._pcm, self._words = scorer, pcm, words
        self._key = hashlib.sha256(json.dumps(words).encode() + pcm).digest()
        self._real: Passage | None = None

    def _ask(self, question: object, answer: Callable[[Passage], object]) -> Any:
        def really() -> object:
            if self._real is None:
                self._real = self._scorer.real.follow(self._pcm, self._words)
            return answer(self._real)

        return self._scorer.kept.ask(b"second" + self._key + json.dumps(question).encode(), really)

    @property
    def log_probabilities(self) -> tuple[float, ...]:
        return tuple(self._ask("sure", lambda p: p.log_probabilities))

    def rivals(self, word: int, most: int) -> tuple[Rival, ...]:
        found = self._ask([word, most], lambda p: [asdict(r) for r in p.rivals(word, most)])
        return tuple(Rival(**r) for r in found)

    def reworded(self, start: int, end: int, words: Sequence[str]) -> Passage:
        return _KeptPassage(self._scorer, self._pcm, (*self._words[:start], *words, *self._words[end:]))

    def free_words(self, start: int, end: int, most: int) -> tuple[str, ...] | None:
        found = self._ask(["freely", start, end, most], lambda p: p.free_words(start, end, most))
        return None if found is None else tuple(found)

    def weigh(self, start: int, end: int, wordings: Sequence[Sequence[str]]) -> tuple[float, ...]:
        asked = [list(w) for w in wordings]
        return tuple(self._ask([start, end, asked], lambda p: p.weigh(start, end, asked)))


def installed_second(recogniser: Recogniser) -> WordingScorer | None:
    """The installed second ear, its answers kept where the first one's are; None where there is none."""
    folder = second_folder()
    if folder is None:
        return None
    if isinstance(recogniser, Kept):
        return KeptScorer(recogniser, lambda: OnnxScorer(folder))
    return OnnxScorer(folder)


def readings(folder: Path, only: Sequence[str]) -> Iterator[Reading]:
    """The recordings of `folder` that have a text."""
    for path in sorted(folder.iterdir()):
        text = path.with_suffix(".txt")
        if path.suffix in SOUNDS and text.exists() and (not only or path.stem in only):
            lines = [t for t in map(tokens, text.read_text(encoding="utf-8").splitlines()) if t]
            yield Reading(path.stem, b"".join(pcm(path)), lines)


def page(lines: Sequence[Sequence[str]]) -> tuple[Script, tuple[Word, ...]]:
    """The script that has these lines, and its words."""
    script = parse_script("\n".join(" ".join(line) for line in lines) + "\n")
    return script, words_of(script)


def listen(
    reading: Reading, planted: Planted, recogniser: Recogniser, scorer: WordingScorer | None = None
) -> Run:
    """One run-through against a planted script; scorer: the second ear."""
    script, words = page(planted.lines)
    chunks = [reading.sound[k : k + 32_000] for k in range(0, len(reading.sound), 32_000)]
    return hear(words, chunks, recogniser, lines=script.lines, scorer=scorer)


def measure(
    found: Sequence[Reading],
    recogniser: Recogniser,
    kinds: Sequence[str],
    seeds: Sequence[int],
    detail: Callable[[str], None],
    planter: Callable[[list[list[str]], str, int], Planted] = plant,
    scorer: WordingScorer | None = None,
) -> dict[str, Count]:
    """Every kind of slip, seed and reading."""
    total: dict[str, Count] = {}
    for kind in kinds:
        t = total.setdefault(kind, Count())
        for reading in found:
            for seed in seeds if kind != "perfect" else seeds[:1]:
                planted = planter(reading.lines, kind, seed)
                run = listen(reading, planted, recogniser, scorer)
                count(t, f"{reading.name} {kind} {seed}", run, planted, detail)
    return total


def print_curve(total: dict[str, Count]) -> None:
    """For each confidence, how many words taken as said (or unsure) were said."""
    cells: dict[float, list[int]] = {}
    for t in total.values():
        for bin_, (said, all_) in t.curve.items():
            cell = cells.setdefault(bin_, [0, 0])
            cell[0] += said
            cell[1] += all_
    print("\nconfidence   words   truly said %")
    for bin_ in sorted(cells):
        said, all_ = cells[bin_]
        print(f"{bin_:10.1f} {all_:7d} {100 * said / all_:14.1f}")


def main() -> int:
    """The command line."""
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("folder", type=Path)
    ap.add_argument("--kinds", default=",".join(KINDS))
    ap.add_argument("--seeds", type=int, default=1)
    ap.add_argument("--first-seed", type=int, default=0)
    ap.add_argument("--only", default="", help="recordings by name, separated by commas")
    ap.add_argument("--cache", type=Path, metavar="FILE")
    ap.add_argument("--detail", action="store_true")
    ap.add_argument("--curve", action="store_true")
    ap.add_argument("--one-ear", action="store_true", help="without the second ear")
    a = ap.parse_args()
    found = list(readings(a.folder, [n for n in a.only.split(",") if n]))
    if not found:
        sys.exit(f"no recordings with texts in {a.folder}")
    recogniser = installed(a.cache)
    seeds = range(a.first_seed, a.first_seed + a.seeds)
    began = time.perf_counter()
    scorer = None if a.one_ear else installed_second(recogniser)
    detail = print if a.detail else lambda _: None
    total = measure(found, recogniser, a.kinds.split(","), seeds, detail, scorer=scorer)
    print("heard with " + ("one ear" if scorer is None else "both ears"))
    print(HEAD)
    for kind, t in total.items():
        print(t.row(kind))
    if a.curve:
        print_curve(total)
    print(f"{time.perf_counter() - began:.0f} s", file=sys.stderr)
    return 0


if __name__ == "__main__":
    sys.exit(main())
