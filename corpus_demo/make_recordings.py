"""Make the recordings of the demo: two run-throughs with known slips, spoken by a free synthesiser.

Needs Debian's `festival` and `festvox-us-slt-hts` (the voice of the run-throughs), `flite` (the voice
of the prompt), all three free software, and the project's own libraries. It writes beside itself:

    python corpus_demo/make_recordings.py

Each run-through is written out below as it is spoken: the text of one breath, the silence after it in
seconds and, for a prompt, another voice. What differs from the script is listed in `planted.json`.
"""

from __future__ import annotations

import subprocess
import tempfile
import wave
from dataclasses import dataclass
from pathlib import Path

import av
import numpy as np
from numpy.typing import NDArray

HERE = Path(__file__).resolve().parent
RATE = 16_000  # Hz, the rate of both voices
LEAD = 0.8  # s of room before the first word and after the last
ROOM_DB = -62.0  # dBFS of room noise: no recording made in a room is digitally silent

Samples = NDArray[np.float32]


@dataclass(frozen=True)
class Breath:
    """Something said in one go. after: silence that follows, in seconds.

    prompter: spoken by the voice of somebody else.
    """

    text: str
    after: float = 0.5
    prompter: bool = False


LAMP = [
    Breath("They ask me why I keep the lamp alight.", 0.7),
    Breath("No ship", 0.5),
    Breath("hmm", 0.5),  # a filler
    Breath("has rounded Gannet Head since spring,", 0.4),
    Breath("The fish are gone, the harbor mouth is sand,", 0.4),
    Breath("And half the houses facing out to sea", 0.2),
    Breath("Have boarded up their windows to the bitter weather.", 0.8),  # added: bitter
    Breath("What use, they say, is light where none will look?", 0.8),
    Breath("A reasonable question.", 0.4),
    Breath("Here's my answer.", 1.0),
    Breath("My father climbed these stairs when I was small", 0.2),
    Breath("And carried me asleep against his shoulder,", 0.4),
    Breath("And once, in fog", 0.6),  # begun, and begun again
    Breath("And once, in fog so thick it drank the beam,", 0.4),
    Breath("He lit the wick and sat beside the glass", 0.3),
    Breath("And sang, because a song goes where it will.", 0.8),
    Breath("Nobody came.", 0.5),
    Breath("No oar,", 0.3),  # swapped with the bell
    Breath("no bell,", 0.3),
    Breath("no cry.", 0.7),
    # dropped: He wrote it in the book: all quiet, clear,
    Breath("Then slept an hour, and rose, and trimmed the flame.", 0.9),
    Breath("Nine winters on, a sailor climbed our hill,", 0.4),  # changed: a stranger
    Breath("Grey, bent, and slow, and asked to see the light.", 0.7),
    Breath("I heard you sing, he said.", 0.4),
    Breath("I turned my wheel.", 0.5),  # changed: the
    Breath("There were eleven of us in that boat.", 2.2),
    Breath("Line?", 0.7),  # the words have gone, and somebody gives them
    Breath("So tell me, you who count", 0.9, prompter=True),
    Breath("So tell me, you who count the cost of oil,", 0.4),
    Breath("How shall I know which night the sea is empty?", 0.8),
    Breath("Bring me a night that swears it holds no sailor", 0.3),
    Breath("And I will put it out with my own breath.", 0.8),
    Breath("Until that night the lamp stays lit.", 0.6),
    Breath("Good evening.", 0.0),
]

FULL_HOUSE = [
    Breath("Six years ago the ferry stopped running,", 0.3),
    Breath("and kind people told us that the playhouse would not last the winter.", 0.7),
    Breath("I should like to thank them.", 0.6),
    Breath("Nothing makes a company work harder than hearing its own funeral planned.", 1.0),
    Breath("That first season we played to eleven people and a dog.", 0.6),
    Breath("The dog came every night.", 0.7),
    Breath("We mended the roof ourselves,", 0.3),
    Breath("we borrowed our chairs from the school,", 0.3),  # changed: the chapel
    Breath("and when the boiler died in the second act of a comedy,", 0.3),
    Breath("the audience kept their coats on and laughed louder to stay warm.", 1.1),
    Breath("Tonight every seat is taken.", 0.7),
    Breath("I could tell you that we did it with courage, or with money,", 0.3),
    Breath("but we had little of either.", 0.7),  # dropped: very
    Breath("We did it by turning up.", 0.6),
    Breath("You turned up too, in the rain, in the dark, with your own cushions.", 0.7),
    Breath("So this house is not ours, and it never was.", 0.6),
    Breath("Look left along your row,", 0.4),
    Breath("then look right.", 0.6),
    Breath("The house belongs to them.", 0.0),
]


def festival(text: str, out: Path) -> None:
    """Speak `text` with Festival's HTS voice into the file `out`."""
    orders = f"""
        (voice_cmu_us_slt_arctic_hts)
        (set! said (SynthText "{text}"))
        (utt.wave.resample said {RATE})
        (utt.save.wave said "{out}" 'riff)
    """
    script = out.with_suffix(".scm")
    script.write_text(orders, encoding="ascii")
    subprocess.run(["festival", "-b", str(script)], check=True)


def flite(text: str, out: Path) -> None:
    """Speak `text` with Flite's rms voice, a tenth slower than usual, into the file `out`."""
    how = ["-voice", "rms", "--setf", "duration_stretch=1.1"]
    subprocess.run(["flite", *how, "-t", text, "-o", str(out)], check=True)


def speak(breath: Breath) -> Samples:
    """One breath as samples of full scale 1.0, without the silence the voices put around it."""
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "breath.wav"
        (flite if breath.prompter else festival)(breath.text, out)
        with wave.open(str(out)) as sound:
            raw = np.frombuffer(sound.readframes(sound.getnframes()), dtype="<i2")
    samples = raw.astype(np.float32) / 32768
    loud = np.flatnonzero(np.abs(samples) > 0.01)
    edge = RATE // 50  # 20 ms kept, so that no soft consonant is cut
    return samples[max(0, loud[0] - edge) : loud[-1] + edge]


def perform(breaths: list[Breath]) -> Samples:
    """A whole run-through: the breaths, the silences, a little room around everything."""
    silence = [np.zeros(round(LEAD * RATE), dtype=np.float32)]
    pieces = silence.copy()
    for breath in breaths:
        pieces += [speak(breath), np.zeros(round(breath.after * RATE), dtype=np.float32)]
    sound = np.concatenate(pieces + silence)
    room = np.random.default_rng(0).standard_normal(len(sound)).astype(np.float32)
    return 0.8 * sound / np.abs(sound).max() + np.float32(10 ** (ROOM_DB / 20)) * room


def write(sound: Samples, path: Path, codec: str, rate: int, bits: int) -> None:
    """Encode `sound` into the file `path` names, mono, at `bits` bits a second."""
    with av.open(str(path), "w") as container:
        stream = container.add_stream(codec, rate=rate, layout="mono")
        stream.bit_rate = bits
        frame = av.AudioFrame.from_ndarray(sound[np.newaxis], format="fltp", layout="mono")
        frame.sample_rate = RATE
        resampler = av.AudioResampler(stream.format, "mono", rate, frame_size=stream.frame_size or 960)
        for part in [*resampler.resample(frame), *resampler.resample(None)]:
            container.mux(stream.encode(part))
        container.mux(stream.encode(None))
    print(f"{path.name}: {len(sound) / RATE:.1f} s, {path.stat().st_size / 1000:.0f} kB")


if __name__ == "__main__":
    write(perform(LAMP), HERE / "the_lamp_run.ogg", "libopus", 16_000, 20_000)
    write(perform(FULL_HOUSE), HERE / "full_house_run.m4a", "aac", 16_000, 28_000)
