"""The others' lines as somebody recorded them: one recording, heard once and cut line by line.

Whoever records them says each line once, in the order of the scene, with a pause between two lines. Each line
is written into a sound file, for a program that plays it.
"""

from __future__ import annotations

import shlex
import shutil
import wave
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from offbook.desk.voices import ProgramVoice, Voice, split_command
from offbook.errors import OffbookError, RecordingError
from offbook.sampling import SAMPLE_BYTES, SAMPLE_RATE

if TYPE_CHECKING:
    from offbook.desk.model_loading import Loading
    from offbook.partner import PartnerLine
    from offbook.score import WordVerdict

# Programs that play a sound file; the first one that is installed is taken.
_PLAYERS = ("aplay -q FILE", "paplay FILE", "ffplay -nodisp -autoexit -loglevel quiet FILE", "afplay FILE")
# Set by hand.
_HEARD = 0.5  # share of a line's words that must be heard for it to be in the recording
_BEFORE, _AFTER = 0.15, 0.3  # s of sound kept around a line, where the next one leaves room for them


def playing_command(command: str | None) -> str:
    """The command that plays a file: `command`, or one that is installed. Raises OffbookError."""
    found = command or next((c for c in _PLAYERS if shutil.which(c.split()[0])), None)
    if found is None or not any("FILE" in w for w in split_command(found, "aplay -q FILE")[1:]):
        raise OffbookError(
            "no program that plays sound was found" if found is None else f"there is no FILE in: {found}",
            'name one, with FILE for the file, as in --play-with "aplay -q FILE"',
        )
    return found


class RecordedVoice:
    """Plays the lines that were recorded; another voice says the others, and the prompts.

    files: a sound file for each recorded line, by its number; player: a command, as `playing_command` returns
    it.
    """

    def __init__(self, files: Mapping[int, Path], player: str, other: Voice) -> None:
        self._files, self._player, self._other = files, player, other
        self._now = other

    def begin(self, text: str, line: int | None) -> None:
        """See `Voice`."""
        self._now = self._other
        if line is not None and line in self._files:
            words = [w.replace("FILE", str(self._files[line])) for w in shlex.split(self._player)]
            self._now = ProgramVoice(shlex.join(words))
        self._now.begin(text, line)

    def over(self) -> bool:
        """See `Voice`."""
        return self._now.over()

    def stop(self) -> None:
        """See `Voice`."""
        self._now.stop()


def cut_lines(
    recording: Path, lines: Sequence[PartnerLine], loading: Loading, folder: Path
) -> dict[int, Path]:
    """Hear `recording`, and write each line that is in it into a file in `folder`.

    Returns the files by the numbers of their lines. Raises RecordingError where none of the lines was heard.
    """
    from offbook import audio
    from offbook.desk.listening import listen_to
    from offbook.script import parse_script

    # Each line is a paragraph of its own. Brackets are taken out: they would make directions of it.
    texts = ["".join(c for c in line.text if c not in "[]()*_#") for line in lines]
    script = parse_script("\n\n".join(texts) + "\n")
    heard = listen_to(script, recording, loading)
    if len(script.lines) != len(lines):
        raise RecordingError("the others' lines cannot be told apart", "let a program speak: --say-cues")
    owner = [line.n for line in script.lines]
    by_line: list[list[WordVerdict]] = [[] for _ in lines]
    for word, verdict in zip(heard.words, heard.review.run.words, strict=True):
        by_line[owner.index(word.line)].append(verdict)
    spans = spans_of(by_line)
    if not spans:
        raise RecordingError(
            f"none of the others' lines was heard in {recording}",
            "record them one after the other, in the order of the scene",
        )
    sound = b"".join(audio.pcm(recording, sound=heard.sound))
    files = {}
    for k, (begin, end) in spans.items():
        files[lines[k].n] = folder / f"line-{lines[k].n + 1:03d}.wav"
        with wave.open(str(files[lines[k].n]), "wb") as out:
            out.setparams((1, SAMPLE_BYTES, SAMPLE_RATE, 0, "NONE", ""))
            out.writeframes(
                sound[SAMPLE_BYTES * int(begin * SAMPLE_RATE) : SAMPLE_BYTES * int(end * SAMPLE_RATE)]
            )
    return files


def spans_of(by_line: Sequence[Sequence[WordVerdict]]) -> dict[int, tuple[float, float]]:
    """Where each line begins and ends in a recording (s), by its number, without those hardly heard.

    by_line: for each line, the verdicts on its words.
    """
    found: dict[int, tuple[float, float]] = {}
    for k, words in enumerate(by_line):
        said = [(w.start, w.end) for w in words if w.start is not None and w.end is not None]
        if said and len(said) >= _HEARD * len(words):
            found[k] = min(s for s, _ in said), max(e for _, e in said)
    edges = sorted(found.values())
    spans = {}
    for k, (begin, end) in found.items():
        before = max((e for _, e in edges if e <= begin), default=0.0)
        after = min((s - _BEFORE / 2 for s, _ in edges if s >= end), default=end + _AFTER)
        spans[k] = max(before, begin - _BEFORE), min(max(end, after), end + _AFTER)
    return spans
