"""What `offbook run` costs: its time and memory in proportion to a single free pass of vosk over the same
file.

Whole processes are compared, from start to exit: `python -m offbook run SCRIPT RECORDING --json`, and a
process that loads the same model and decodes the same samples once, without any script. They run in turn,
and the shortest time of each counts, because the machine may do other work.

    python bench/run_cost.py --recording A.wav --text A.txt [--repeat 3] [--seconds 100] [--memory 3600]

    --seconds   first cut or repeat the recording to this length (the script is repeated with it)
    --memory    also compare the peak memory of `run` on a recording of this many seconds with that on 60 s. The script
                stays the same for both, because a longer script would need more memory too
"""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from conditions import RATE, read, write

BARE = """
import json, sys, vosk
vosk.SetLogLevel(-1)
recogniser = vosk.KaldiRecognizer(vosk.Model(sys.argv[1]), 16000)
recogniser.SetWords(True)
with open(sys.argv[2], "rb") as file:
    while chunk := file.read(8000):
        if recogniser.AcceptWaveform(chunk):
            json.loads(recogniser.Result())
json.loads(recogniser.FinalResult())
"""

STARTER = """
import os, subprocess, sys, time
start = time.perf_counter()
child = subprocess.Popen(sys.argv[1:], stdout=subprocess.DEVNULL)
_, status, used = os.wait4(child.pid, 0)
child.returncode = os.waitstatus_to_exitcode(status)
seconds = time.perf_counter() - start
print(child.returncode, seconds, used.ru_utime + used.ru_stime, used.ru_maxrss)
"""


@dataclass(frozen=True)
class Cost:
    """seconds: of the whole process by the clock. processor: of all its threads. memory: the peak, in MB."""

    seconds: float
    processor: float
    memory: float


def cost(command: list[str]) -> Cost:
    """Run a command to its end. Exits if it fails.

    The peak memory that the system reports for a process includes what its parent had when it was started,
    so a small process of its own starts the command.
    """
    with tempfile.TemporaryFile() as errors:
        starter = subprocess.run(
            [sys.executable, "-c", STARTER, *command], stdout=subprocess.PIPE, stderr=errors, check=True
        )
        status, seconds, processor, peak = (float(x) for x in starter.stdout.split())
        if status:
            errors.seek(0)
            sys.exit(f"{' '.join(command[:4])}: {errors.read().decode(errors='replace')[-400:]}")
    unit = 1 if sys.platform == "darwin" else 1024  # ru_maxrss is kilobytes on Linux
    return Cost(seconds, processor, peak * unit / 1e6)


def best(costs: list[Cost]) -> Cost:
    """The smallest value of each figure."""
    return Cost(*(min(getattr(c, f) for c in costs) for f in ("seconds", "processor", "memory")))


def sized(recording: Path, seconds: float, path: Path) -> Path:
    """The recording, cut or repeated to `seconds`, as a WAV file of 16 bits."""
    sound = read(recording)
    n = round(seconds * RATE)
    write(path, np.tile(sound, (1, -(-n // sound.shape[1])))[:, :n])
    return path


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--recording", type=Path, required=True)
    parser.add_argument("--text", type=Path, required=True)
    parser.add_argument("--repeat", type=int, default=3)
    parser.add_argument("--seconds", type=float, default=100.0)
    parser.add_argument("--memory", type=float, metavar="SECONDS")
    args = parser.parse_args()
    from offbook.audio import stream as audio
    from offbook.models import store as models

    folder = models.model_folder()
    with tempfile.TemporaryDirectory() as work:
        base = Path(work)
        long = sized(args.recording, args.seconds, base / "long.wav")
        length = audio.survey(args.recording).seconds
        script = base / "script.txt"
        script.write_text(
            (args.text.read_text(encoding="utf-8") + "\n") * max(1, round(args.seconds / length))
        )
        raw = base / "long.raw"
        raw.write_bytes(b"".join(audio.pcm(long)))
        run = [sys.executable, "-m", "offbook", "run", str(script), str(long), "--json"]
        bare = [sys.executable, "-c", BARE, str(folder), str(raw)]
        pairs = [(cost(bare), cost(run)) for _ in range(args.repeat)]
        a, b = best([p[0] for p in pairs]), best([p[1] for p in pairs])
        print(f"{args.seconds:.0f} s of sound     seconds  processor   peak MB")
        print(f"bare free pass   {a.seconds:9.2f} {a.processor:10.2f} {a.memory:9.0f}")
        print(f"offbook run      {b.seconds:9.2f} {b.processor:10.2f} {b.memory:9.0f}")
        print(f"ratio            {b.seconds / a.seconds:9.2f} {b.processor / a.processor:10.2f} "
              f"{b.memory / a.memory:9.2f}")  # fmt: skip
        if args.memory is not None:
            short = cost([*run[:-2], str(sized(args.recording, 60, base / "short.wav")), "--json"])
            hour = cost([*run[:-2], str(sized(args.recording, args.memory, base / "hour.wav")), "--json"])
            print(f"peak MB: 60 s {short.memory:.0f}, {args.memory:.0f} s {hour.memory:.0f}")


if __name__ == "__main__":
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    main()
