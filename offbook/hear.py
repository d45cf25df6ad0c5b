"""Hearing: a script and the sound of somebody saying it, and what became of every word.

`hear(words, sound, recogniser, lines=...)` drives the stages before it: recognise, align, score.
First version: the sound is decoded freely in stretches, each stretch again with the script leaning
against what was freely heard, then all is aligned and scored.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rapidfuzz.distance import Levenshtein

from offbook.recognise import UNKNOWN, Decoder, HeardWord, Recogniser
from offbook.score import Extra, Run, Verdict, WordVerdict
from offbook.script import Line
from offbook.words import Word


def _decode(decoder: Decoder, pcm: Sequence[bytes]) -> list[HeardWord]:
    out: list[HeardWord] = []
    for chunk in pcm:
        if decoder.feed(chunk):
            out.extend(decoder.cut())
    out.extend(decoder.finish())
    return out


def hear(
    words: Sequence[Word], pcm: Iterable[bytes], recogniser: Recogniser, *, lines: Sequence[Line]
) -> Run:
    """Hear `pcm` (16-bit mono, 16 kHz, in chunks) as somebody saying `words`; a `Run`."""
    sound = list(pcm)
    free = _decode(recogniser.open(), sound)
    by_line: dict[int, list[str]] = {}
    for w in words:
        by_line.setdefault(w.line, []).extend(t for t in w.spoken[0] if recogniser.knows(t))
    phrases = [" ".join(ts) for ts in by_line.values() if ts]
    phrases += sorted({h.word for h in free if recogniser.knows(h.word)}) + [UNKNOWN]
    heard = [h for h in _decode(recogniser.open(phrases), sound) if h.word != UNKNOWN]
    script = [w.spoken[0][0] for w in words]
    verdicts: list[WordVerdict] = []
    extras: list[Extra] = []

    def note(i: int, verdict: Verdict, h: HeardWord | None) -> None:
        verdicts.append(
            WordVerdict(
                i,
                words[i].text,
                verdict,
                h.word if h else None,
                h.start if h else None,
                h.end if h else None,
                h.confidence if h else None,
            )
        )

    for op in Levenshtein.opcodes(script, [h.word for h in heard]):
        si, hi = list(range(op.src_start, op.src_end)), heard[op.dest_start : op.dest_end]
        for k, i in enumerate(si):
            h = hi[k] if k < len(hi) else None
            if op.tag == "equal":
                note(i, "said", h)
            elif not all(recogniser.knows(t) for t in words[i].spoken[0]):
                note(i, "unsure", h)
            else:
                note(i, "dropped" if h is None else "changed", h)
        for h in hi[len(si) :]:
            extras.append(Extra(op.src_end, h.word, h.start, h.end, h.confidence))
    times = [h for h in heard]
    return Run(
        tuple(verdicts),
        tuple(extras),
        times[-1].end - times[0].start if times else 0.0,
        sum(h.end - h.start for h in times),
    )
