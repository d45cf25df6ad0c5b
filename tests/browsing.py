"""A real browser on the page: Debian's Chromium, which gets a recording as its microphone."""

from __future__ import annotations

import atexit
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import wave
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright

from offbook import models
from tests.recordings import librivox_sentences

CHROMIUM = "/usr/bin/chromium"
ELSEWHERE = "rehearse.example"  # a name that leads to this machine, as somebody else's DNS might say
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    f"--host-resolver-rules=MAP {ELSEWHERE} 127.0.0.1",
    "--use-fake-device-for-media-stream",
]
WAIT = 120_000  # ms; a busy machine may take long, and a test fails by what it finds
LOOKS = 50  # ms between two looks
expect.set_options(timeout=WAIT)
SAID = "He was not an ill-disposed young man,"


@cache
def _chromium() -> Browser:
    """One for the whole process. Its microphone plays a reading of Austen, then a minute of a quiet room."""
    if shutil.which(CHROMIUM) is None:
        pytest.fail(f"{CHROMIUM} is missing: apt-get install chromium")
    folder = Path(tempfile.mkdtemp(prefix="offbook-browser-"))
    microphone = padded(sentence(), folder / "microphone.wav")
    play = sync_playwright().start()
    found = play.chromium.launch(
        executable_path=CHROMIUM,
        headless=True,
        args=[*FLAGS, f"--use-file-for-fake-audio-capture={microphone}"],
    )

    def close() -> None:
        found.close()
        play.stop()
        shutil.rmtree(folder, ignore_errors=True)

    atexit.register(close)
    return found


def sentence() -> Path:
    """The sentence that the microphone plays: LibriVox, from Debian's pocketsphinx-testdata."""
    return next(wav for wav, text in librivox_sentences() if text.strip() == SAID)


@contextmanager
def browser(*, deny: bool = False, scripts: bool = True) -> Iterator[BrowserContext]:
    """A window of its own, like that of somebody who opens the browser for the first time.

    deny: pages are not allowed to use the microphone.
    """
    context = _chromium().new_context(
        viewport={"width": 1100, "height": 900},
        java_script_enabled=scripts,
        permissions=[] if deny else ["microphone"],
    )
    context.set_default_timeout(WAIT)
    try:
        yield context
    finally:
        context.close()


def entered(context: BrowserContext, link: str) -> Page:
    """A tab that was opened with a link to the page."""
    page = context.new_page()
    page.goto(link)
    page.wait_for_selector("nav[aria-label=offbook]")
    return page


def until(page: Page, expression: str, arg: object = None) -> None:
    """Wait until `expression`, a value or a function of `arg`, is true in the page.

    Playwright's own `wait_for_function` evaluates text, which our Content-Security-Policy forbids from the
    second look on.
    """
    end = time.monotonic() + WAIT / 1000
    while not page.evaluate(expression, arg):
        assert time.monotonic() < end, f"never true: {expression}"
        page.wait_for_timeout(LOOKS)


def padded(source: Path, target: Path, seconds: float = 60.0) -> Path:
    """A recording with the sound of a quiet room after it.

    A fake microphone begins again at the end of its recording.
    """
    with wave.open(str(source)) as wav:
        settings, sound = wav.getparams(), wav.readframes(wav.getnframes())
    room = np.random.default_rng(7).normal(0, 12, round(seconds * settings.framerate)).astype("<i2")
    with wave.open(str(target), "wb") as out:
        out.setparams(settings)
        out.writeframes(sound + room.tobytes())
    return target


class Command:
    """`offbook page` as a person starts it, in a process of its own."""

    def __init__(self, home: Path) -> None:
        env = {**os.environ, "OFFBOOK_HOME": str(home), "OFFBOOK_MODEL": str(models.model_folder(None))}
        self.process = subprocess.Popen(
            [sys.executable, "-m", "offbook", "page", "--no-browser"],
            env=env,
            stdout=subprocess.PIPE,
            text=True,
        )
        self.link = self._link()

    def _link(self) -> str:
        assert self.process.stdout is not None
        until = time.monotonic() + WAIT / 1000
        while time.monotonic() < until:
            line = self.process.stdout.readline()
            if "http://" in line:
                return line.strip()
        raise AssertionError("offbook page gave no link")

    def kill(self) -> None:
        """Kill it, as in a crash."""
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()

    def stop(self) -> None:
        """Stop it, as Ctrl-C does."""
        self.process.send_signal(signal.SIGINT)
        self.process.wait(timeout=60)
