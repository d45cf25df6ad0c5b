"""Package clients: fetching a model's archive with `mvn` or `pip`, with whatever settings the person has.

Where neither the makers' address nor `mvn` is there, and the set-up runs as root on Debian, Debian's own
package of the client is installed; what is about to be done is said first.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path

from offbook.models.listing import Source

Tell = Callable[[str], None]
Progress = Callable[[int, int | None], None]  # bytes so far, bytes in all or None

CLIENT_SECONDS = 600.0  # a client that takes longer is given up
MAVEN_PACKAGE = "maven"  # Debian's name for the package that has mvn
_SAID = 200  # characters of what a client says; set by hand: more would hide what to do
_COLOUR = re.compile(r"\x1b\[[\d;]*m")  # ECMA-48, select graphic rendition: mvn sends it into files too
_ERROR = re.compile(r"(?:\[ERROR\]|ERROR:|E:)\s*(.*)")  # as mvn, pip and apt-get begin such a line
# The platform asked for, so that every machine takes the same file: nothing of the package is run.
_PLATFORM = "manylinux_2_34_x86_64"


class SourceError(Exception):
    """This source won't do; the sentence says why. Never leaves the package."""


def is_debian() -> bool:
    """Whether packages of Debian can be installed here."""
    return Path("/etc/debian_version").is_file() and shutil.which("apt-get") is not None


def have_maven(tell: Tell) -> None:
    """Have the `mvn` client, installing Debian's where that can be done. Raises SourceError."""
    if shutil.which("mvn") is not None:
        return
    if not is_debian():
        raise SourceError("needs the mvn client, which is not here")
    if os.geteuid() != 0:
        raise SourceError(
            f"needs the mvn client, which is not here; this brings it: sudo apt-get install {MAVEN_PACKAGE}"
        )
    tell(f"mvn is not here: installing Debian's package {MAVEN_PACKAGE} (with a Java runtime, about 60 MB)")
    quiet = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    for command in (
        ["apt-get", "-q", "update"],
        ["apt-get", "-q", "-y", "install", "--no-install-recommends", MAVEN_PACKAGE],
    ):
        run_client(command, Path("/"), lambda done, total: None, env=quiet)
    if shutil.which("mvn") is None:
        raise SourceError(f"{MAVEN_PACKAGE} was installed, but mvn is still not here")


def fetch_maven(source: Source, downloads: Path, progress: Progress) -> Path:
    """The artifact, by the `mvn` client. Raises SourceError."""
    group, artifact, version, kind = source.address.split(":")
    with tempfile.TemporaryDirectory(dir=downloads) as target:
        command = [
            "mvn", "-q", "-B", "dependency:copy", f"-Dartifact={group}:{artifact}:{version}:{kind}",
            f"-DoutputDirectory={target}", "-Daether.connector.connectTimeout=5000",
        ]  # fmt: skip
        run_client(command, Path(target), progress)
        return _brought(Path(target), f"*.{kind}", downloads, "mvn")


def wheel_address(source: Source) -> str | None:
    """Where pip would have the wheel from, so that a broken download can be resumed; None where not said."""
    command = [*_pip("install"), "--dry-run", "--ignore-installed", "--target", os.devnull, "--report", "-"]
    try:
        done = subprocess.run(
            [*command, source.address], capture_output=True, text=True, timeout=CLIENT_SECONDS, check=False
        )
        found = json.loads(done.stdout)["install"][0]["download_info"]["url"]
    except (OSError, ValueError, LookupError, TypeError, subprocess.TimeoutExpired):
        return None
    return str(found) if str(found).startswith(("http://", "https://")) else None


def fetch_wheel(source: Source, downloads: Path, progress: Progress) -> Path:
    """The wheel, by the `pip` client, its hash checked by pip too. Raises SourceError."""
    with tempfile.TemporaryDirectory(dir=downloads) as target:
        wanted = Path(target) / "wanted.txt"
        pinned = f" --hash=sha256:{source.sha256}" if source.sha256 else ""
        wanted.write_text(f"{source.address}{pinned}\n", encoding="utf-8")
        run_client([*_pip("download"), "-r", str(wanted), "-d", target], Path(target), progress)
        return _brought(Path(target), "*.whl", downloads, "pip")


def _pip(command: str) -> list[str]:
    return [
        sys.executable, "-m", "pip", command, "--quiet", "--disable-pip-version-check", "--no-deps",
        "--only-binary", ":all:", "--platform", _PLATFORM,
    ]  # fmt: skip


def _brought(target: Path, pattern: str, downloads: Path, client: str) -> Path:
    """The file that a client put into `target`, moved to the downloads."""
    found = sorted(target.glob(pattern))
    if not found:
        raise SourceError(f"{client} gave up (it brought no file)")
    file = downloads / found[0].name
    os.replace(found[0], file)
    return file


def run_client(
    command: Sequence[str], folder: Path, progress: Progress, env: dict[str, str] | None = None
) -> None:
    """Run a client to its end. Raises SourceError with its own first word of what is wrong."""
    name = "pip" if "pip" in command[:3] else command[0]
    try:
        with subprocess.Popen(
            command,
            cwd=folder,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            env=env,
        ) as process:
            output = _wait(process, progress, name)
    except OSError as e:
        raise SourceError(f"{name} cannot be started ({e.strerror})") from None
    if process.returncode != 0:
        raise SourceError(f"{name} gave up ({_what_is_wrong(output)[:_SAID]})")


def _what_is_wrong(output: str) -> str:
    """The first thing that a client calls an error, without colours and marks; else its first words."""
    lines = [line.strip() for line in _COLOUR.sub("", output).splitlines()]
    errors = [found[1] for line in lines if (found := _ERROR.match(line))]
    return next((each for each in (*errors, *lines) if each), "it does not say why")


def _wait(process: subprocess.Popen[bytes], progress: Progress, name: str) -> str:
    waited = 0.0
    while True:
        progress(0, None)
        try:
            return process.communicate(timeout=0.2)[0].decode("utf-8", "replace")
        except subprocess.TimeoutExpired:
            waited += 0.2
            if waited > CLIENT_SECONDS:
                process.kill()
                raise SourceError(f"{name} was not done within {CLIENT_SECONDS:.0f} s") from None
