"""A long session in a real browser: half an hour is spoken into Chromium's microphone.

    python bench/page_long.py FOLDER [--minutes 30] [--only NAME,NAME]

FOLDER holds recordings with their texts, as for `bench/hearing.py`. They are joined again and again, with
three seconds of silence between them, until they last so many minutes, and Debian's Chromium gets them as
its microphone. `offbook page` runs in a process of its own, as when a person starts it. The script is added
and the button is pressed; after the last reading it is pressed again. Every minute it prints the seconds
that are on the disk and those of the clock, and the memory and processor time of the server. At the end it
prints what is on the disk, the time from the button to the notes, the words that were said, the memory of
the browser, and whether the recording that was kept is as long as what was spoken.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
import tempfile
import time
import wave
from pathlib import Path
from typing import TYPE_CHECKING

from hearing import Reading, readings

from offbook.sampling import BYTES_PER_SECOND

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

if TYPE_CHECKING:
    from playwright.sync_api import Page

RATE = BYTES_PER_SECOND // 2
QUIET = 3  # s between two readings
AFTER = 60  # s of quiet at the end, so that the file does not begin again before the button is pressed
KILOBYTE = 1024
PATIENCE = (
    1_500_000  # ms the browser waits for anything: where other programs take the cores, hearing falls behind
)


def joined(found: list[Reading], seconds: float, target: Path) -> tuple[str, float]:
    """Make a microphone of so many seconds; returns the spoken text, and the second of its last word."""
    text: list[str] = []
    spoken = 0
    with wave.open(str(target), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(RATE)
        while spoken < seconds * BYTES_PER_SECOND:
            for reading in found:
                out.writeframes(reading.sound + bytes(QUIET * BYTES_PER_SECOND))
                spoken += len(reading.sound) + QUIET * BYTES_PER_SECOND
                text += [" ".join(line) for line in reading.lines] + [""]
                if spoken >= seconds * BYTES_PER_SECOND:
                    break
        out.writeframes(bytes(AFTER * BYTES_PER_SECOND))
    return "\n".join(text), spoken / BYTES_PER_SECOND


def on_disk(home: Path) -> float:
    """How many seconds of sound of the present session the page has on the disk."""
    seconds = 0.0
    for about in (home / "spoken").glob("*/*/about.json"):
        for spell in json.loads(about.read_text())["spells"]:
            file = about.parent / f"spell-{spell['number']}.pcm"
            seconds += file.stat().st_size / (2 * spell["rate"]) if file.exists() else 0.0
    return seconds


def costs(process: int) -> tuple[float, float]:
    """The most memory (megabytes) and the processor time (seconds) of a process so far (proc(5))."""
    status = Path(f"/proc/{process}/status").read_text()
    peak = next(row.split()[1] for row in status.splitlines() if row.startswith("VmHWM"))
    ticks = Path(f"/proc/{process}/stat").read_text().rsplit(")", 1)[1].split()[11:13]
    return int(peak) / KILOBYTE, sum(map(int, ticks)) / os.sysconf("SC_CLK_TCK")


def add_script(page: Page, text: str) -> None:
    """Add the script as a person does: paste it, look at it, keep it, and go on to Speak."""
    page.get_by_role("link", name="Add a script").click()
    page.get_by_label("Paste it here").fill(text)
    page.get_by_label("What to call it").fill("A long one")
    page.get_by_role("button", name="Show what is spoken").click()
    page.get_by_role("button", name="Yes, keep it").click()
    page.wait_for_selector("#speech")
    page.get_by_role("navigation", name="This piece").get_by_role("link", name="Speak").click()


def session(page: Page, home: Path, process: int, seconds: float) -> None:
    """Speak for so many seconds; each minute say what is on the disk."""
    from playwright.sync_api import expect

    page.get_by_label("stop after the last word").uncheck()
    page.get_by_role("button", name="Begin").click()
    expect(page.locator("#state")).to_have_text("Recording.")
    began, worst = time.perf_counter(), 0.0
    while (past := time.perf_counter() - began) < seconds:
        behind = past - on_disk(home)
        worst = max(worst, behind)
        if int(past) % 60 == 0:
            peak, used = costs(process)
            print(
                f"{past:7.1f} s: {behind:5.2f} s behind, {peak:.0f} MB, {used:.0f} s of processor", flush=True
            )
        page.wait_for_timeout(1_000 - (time.perf_counter() - began) % 1 * 1_000)
    print(f"at most {worst:.2f} s were not on disk yet (a quarter of it is the piece that is being filled)")
    print(f"shown by the page: {page.locator('#timer').inner_text()}, {page.locator('#state').inner_text()}")
    trouble = page.get_by_role("alert")
    if trouble.is_visible():
        print(f"trouble told: {trouble.inner_text()}")
    pressed = time.perf_counter()
    page.get_by_role("button", name="Stop").click()
    page.wait_for_url("**/notes/**")
    print(f"from the button to the notes: {time.perf_counter() - pressed:.2f} s")
    print("told: " + " | ".join(page.locator(".figure").inner_text().split("\n")))
    print(f"notes: {page.locator('tr[id^=note-]').count()}")
    heap = page.evaluate("performance.memory ? performance.memory.usedJSHeapSize / 1048576 : 0")
    print(f"the browser's own scripts: {heap:.1f} MB")


def kept(home: Path) -> None:
    """How long the recordings are that the journal has kept."""
    from offbook.audio import probe

    for file in (home / "recordings").rglob("*"):
        if file.is_file():
            print(f"kept: {probe(file).seconds:.2f} s of recording, {file.stat().st_size / 1e6:.0f} MB")


def main() -> int:
    """The command line."""
    from playwright.sync_api import sync_playwright

    from tests.browsing import CHROMIUM, FLAGS, Command, entered

    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("folder", type=Path)
    ap.add_argument("--minutes", type=float, default=30.0)
    ap.add_argument("--only", default="", help="recordings by name, separated by commas")
    args = ap.parse_args()
    found = list(readings(args.folder, [n for n in args.only.split(",") if n]))
    if not found:
        sys.exit(f"no recordings with texts in {args.folder}")
    with tempfile.TemporaryDirectory() as made, sync_playwright() as play:
        microphone, home = Path(made) / "microphone.wav", Path(made) / "home"
        text, seconds = joined(found, args.minutes * 60, microphone)
        browser = play.chromium.launch(
            executable_path=CHROMIUM,
            headless=True,
            args=[*FLAGS, f"--use-file-for-fake-audio-capture={microphone}"],
        )
        context = browser.new_context(permissions=["microphone"])
        context.set_default_timeout(PATIENCE)
        server = Command(home)
        page = entered(context, server.link)
        add_script(page, text)
        session(page, home, server.process.pid, seconds)
        kept(home)
        peak, used = costs(server.process.pid)
        print(f"the server: {peak:.0f} MB at most, {used:.0f} s of processor for {seconds:.0f} s of sound")
        server.stop()
        browser.close()
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
