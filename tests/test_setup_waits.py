"""Setting up waits while another program installs packages, and says so."""

from __future__ import annotations

import os
import subprocess
from pathlib import Path

APT = Path(__file__).resolve().parent.parent / ".ci" / "apt"


def apt(folder: Path, script: str, *args: str, wait: int = 60) -> subprocess.CompletedProcess[str]:
    """`.ci/apt` with an apt-get of our own in its place."""
    fake = folder / "apt-get"
    fake.write_text(f"#!/bin/sh\n{script}\n")
    fake.chmod(0o755)
    world = os.environ | {"PATH": f"{folder}{os.pathsep}{os.environ['PATH']}", "APT_PAUSE": "0"}
    return subprocess.run(
        ["sh", str(APT), *args],
        env=world | {"APT_WAIT": str(wait)},
        capture_output=True,
        text=True,
        cwd=folder,
    )


BUSY = (
    "E: Could not get lock /var/lib/apt/lists/lock. It is held by process 42 (apt-get)"  # apt 2.6.1's words
)


def test_setup_waits_for_a_busy_apt_and_then_runs_the_command(tmp_path: Path) -> None:
    done = apt(
        tmp_path,
        f'echo x >> tries; [ $(wc -l < tries) -ge 3 ] || {{ echo "{BUSY}" >&2; exit 100; }}',
        "update",
    )
    assert done.returncode == 0
    assert (tmp_path / "tries").read_text().count("x") == 3
    assert done.stderr == "another program is installing packages: waiting for it\n"


def test_any_other_error_of_apt_is_reported_at_once(tmp_path: Path) -> None:
    done = apt(
        tmp_path, 'echo x >> tries; echo "E: Unable to locate package kettle" >&2; exit 100', "install"
    )
    assert done.returncode == 100 and "Unable to locate package kettle" in done.stderr
    assert (tmp_path / "tries").read_text().count("x") == 1


def test_setup_gives_up_on_an_apt_that_never_ends_and_says_what_to_do(tmp_path: Path) -> None:
    done = apt(tmp_path, f'echo "{BUSY}" >&2; exit 100', "update", wait=20)
    assert done.returncode == 100
    assert done.stderr.splitlines()[-1] == "let it end, or end it, then run make again"
