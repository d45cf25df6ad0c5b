"""A real browser on the page: Debian's Chromium, with a recording as its microphone."""

from __future__ import annotations

import atexit
import os
import shutil
import signal
import subprocess
import sys
import time
import wave
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from playwright.sync_api import BrowserContext, Page, Playwright, sync_playwright

from offbook import models

CHROMIUM = "/usr/bin/chromium"
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
WAIT = 30_000  # ms; a busy machine may take long, and a test fails by what it finds


@cache
def _play() -> Playwright:
    """One for the process: a second would wait for the loop of the first."""
    started = sync_playwright().start()
    atexit.register(started.stop)
    return started


@contextmanager
def browser(
    profile: Path, microphone: Path | None = None, *, deny: bool = False, scripts: bool = True
) -> Iterator[BrowserContext]:
    """Chromium with a fresh profile. microphone: a WAV it plays into pages, over and over."""
    if shutil.which(CHROMIUM) is None:
        pytest.fail(f"{CHROMIUM} is missing: apt-get install chromium")
    flags = list(FLAGS)
    if microphone is not None:
        flags += [
            "--use-fake-device-for-media-stream",
            "--use-fake-ui-for-media-stream",
            f"--use-file-for-fake-audio-capture={microphone}",
        ]
    if deny:
        flags += ["--use-fake-device-for-media-stream", "--deny-permission-prompts"]
    context = _play().chromium.launch_persistent_context(
        str(profile),
        executable_path=CHROMIUM,
        headless=True,
        args=flags,
        viewport={"width": 1100, "height": 900},
        java_script_enabled=scripts,
    )
    context.set_default_timeout(WAIT)
    try:
        yield context
    finally:
        context.close()


def entered(context: BrowserContext, link: str) -> Page:
    """A tab that came in with a link."""
    page = context.new_page()
    page.goto(link)
    page.wait_for_selector("nav[aria-label=offbook]")
    return page


def padded(source: Path, target: Path, seconds: float = 6.0) -> Path:
    """A recording with the quiet of a room after it, because a fake microphone begins again at its end."""
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
        """As a crash does."""
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()

    def stop(self) -> None:
        """As Ctrl-C does."""
        self.process.send_signal(signal.SIGINT)
        self.process.wait(timeout=60)
