"""A week with one piece through the real commands, with their screens printed: the daily work as a person
sees it.

A simulated performer types the drills (forgets by a known rule, and makes typing mistakes) and speaks
run-throughs with Debian's `festival` (text2wave), with slips that become fewer during the week. The clock
is set with OFFBOOK_NOW; nothing else is simulated. It needs the speech model (`offbook setup`).

    python bench/week.py [--home FOLDER] [--days N]
"""

from __future__ import annotations

import argparse
import json
import os
import random
import re
import subprocess
import sys
import tempfile
from dataclasses import dataclass, field
from pathlib import Path

HERE = Path(__file__).resolve().parent
SCRIPT = HERE.parent / "corpus_demo" / "the_lamp.txt"
PIECE = "the_lamp"
VOICE = "(voice_cmu_us_slt_arctic_hts)"
# Slips of the run-through of each day: (word in the script, what is said there). The wick keeps going.
SLIPS = {
    2: [
        ("reasonable", ""),
        ("asleep", "along"),
        ("wick", "lamp"),
        ("slept an hour, and", "slept and"),
        ("Grey, bent", "Bent"),
    ],
    3: [("asleep", "along"), ("wick", "lamp"), ("counts", "count"), ("turned", "held")],
    5: [("wick", "lamp"), ("nobody", "nobody")],
    6: [],
}


@dataclass
class Typist:
    """Types what they remember: the chance of each thought grows every time it was right."""

    thoughts: list[tuple[int, int]]
    words: list[str]
    dice: random.Random
    sure: dict[int, float] = field(default_factory=dict)

    def answer(self, shown: str, hint: bool) -> str:
        """The answer to a cue: more than enough from there on, or nothing, or a slip."""
        at = self.place(shown)
        thought = next((n for n, (a, b) in enumerate(self.thoughts) if a <= at <= b), 0)
        chance = self.sure.get(thought, 0.35) + (0.3 if hint else 0.0)
        draw = self.dice.random()
        last = self.thoughts[min(len(self.thoughts) - 1, thought + 2)][1]
        words = self.words[at : last + 1]
        if draw > chance:
            self.sure[thought] = min(0.95, self.sure.get(thought, 0.35) + 0.15)
            return "" if self.dice.random() < 0.5 else " ".join([*words[:2], "never", *words[3:]])
        self.sure[thought] = min(0.98, self.sure.get(thought, 0.35) + 0.25)
        if self.dice.random() < 0.15 and len(words[0]) > 3:
            words = [words[0][1] + words[0][0] + words[0][2:], *words[1:]]
        return " ".join(words)

    def place(self, shown: str) -> int:
        """The word after the cue."""
        cue = [w.lower() for w in re.findall(r"[\w’']+", shown)]
        if not cue or "beginning" in cue:
            return 0
        plain = [w.lower() for w in self.words]
        for at in range(len(plain) - len(cue) + 1):
            if plain[at : at + len(cue)] == cue:
                return min(at + len(cue), len(plain) - 1)
        return 0


@dataclass
class Week:
    """The commands as they are typed on some day, and their screens."""

    home: Path

    def env(self, now: str) -> dict[str, str]:
        """The environment of a command at `now`."""
        return {
            **os.environ,
            "OFFBOOK_HOME": str(self.home),
            "OFFBOOK_NOW": now,
            "NO_COLOR": "1",
            "COLUMNS": "96",
        }

    def show(self, now: str, *args: str) -> str:
        """Run a command and print its screen."""
        done = subprocess.run(
            [sys.executable, "-m", "offbook", *args], env=self.env(now), capture_output=True, text=True
        )
        print(f"\n$ offbook {' '.join(args)}\n{done.stdout}{done.stderr}", flush=True)
        return done.stdout

    def drill(self, now: str, typist: Typist, minutes: int, lines: int) -> None:
        """A sitting of drills, answered as it goes; the first and the last lines of its screen are printed."""
        args = ["drill", PIECE, "--minutes", str(minutes), "--seed", "1"]
        child = subprocess.Popen(
            [sys.executable, "-u", "-m", "offbook", *args],
            env=self.env(f"{now} 6"),
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        assert child.stdin is not None and child.stdout is not None
        screen, block = "", ""
        while (c := child.stdout.read(1)) != "":
            screen += c
            block += c
            if block.endswith("press Enter:\n"):
                screen += child.stdout.readline()
                child.stdin.write("\n")
                child.stdin.flush()
                block = ""
            elif block.endswith("   > "):
                shown = [x.strip() for x in block.splitlines() if x.startswith("   ") and x.strip() != ">"]
                hint = shown[-1].startswith("help:")
                cue = shown[-2 if hint else -1]  # the line just above the prompt, or above the help
                child.stdin.write(typist.answer(cue, hint) + "\n")
                child.stdin.flush()
                block = ""
        child.wait()
        shown_lines = screen.splitlines()
        middle = [f"  [… {len(shown_lines) - 2 * lines} lines …]"] if len(shown_lines) > 2 * lines else []
        part = shown_lines if not middle else [*shown_lines[:lines], *middle, *shown_lines[-lines:]]
        print(f"\n$ offbook {' '.join(args)}\n" + "\n".join(part), flush=True)


def speak(text: str, target: Path) -> None:
    """A recording of `text` by the synthesiser."""
    subprocess.run(
        ["text2wave", "-eval", VOICE, "-o", str(target)],
        input=text,
        text=True,
        check=True,
        capture_output=True,
    )


def spoken(day: int) -> str:
    """What is said in the run-through of this day."""
    text = SCRIPT.read_text(encoding="utf-8").replace("’", "'").replace("“", "").replace("”", "")
    for word, said in SLIPS[day]:
        text = text.replace(word, said)
    return text


def main() -> None:
    """Seven evenings at 18:00 in Dublin."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--home", type=Path)
    parser.add_argument("--days", type=int, default=7)
    a = parser.parse_args()
    home = a.home or Path(tempfile.mkdtemp(prefix="offbook-week-"))
    week = Week(home)
    first = "2027-03-01T18:00:00+00:00"
    week.show(first, "performer", "add", "Wren", "--zone", "Europe/Dublin")
    week.show(first, "piece", "add", str(SCRIPT), "--limit", "2:00", "--date", "2027-03-12")
    shown = subprocess.run(
        [sys.executable, "-m", "offbook", "piece", "show", PIECE, "--json"],
        env=week.env(first),
        capture_output=True,
        text=True,
        check=True,
    )
    thoughts = json.loads(shown.stdout)["thoughts"]
    words = [w for t in thoughts for w in t["text"].split()]
    typist = Typist([tuple(t["words"]) for t in thoughts], words, random.Random(5))
    for day in range(a.days):
        now = f"2027-03-{day + 1:02d}T18:00:00+00:00"
        print(f"\n{'=' * 30} evening {day + 1} {'=' * 30}")
        if day == 4:
            print("\n(nothing done: an evening missed)")
            continue
        week.show(now, "today")
        week.drill(now, typist, 8, 16 if day else 34)
        if day in SLIPS:
            take = home / f"evening{day + 1}.wav"
            speak(spoken(day), take)
            week.show(
                f"2027-03-{day + 1:02d}T18:30:00+00:00", "run", str(SCRIPT), str(take), "--piece", PIECE
            )
    last = f"2027-03-{a.days:02d}T19:00:00+00:00"
    for args in (
        ["progress", PIECE],
        ["progress", PIECE, "--runs"],
        ["correct", PIECE],
        ["today"],
        ["class"],
    ):
        week.show(last, *args)
    week.show(last, "export", str(home / "journal.zip"))


if __name__ == "__main__":
    main()
