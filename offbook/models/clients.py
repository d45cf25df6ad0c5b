"""Package clients: fetch a model's archive with `mvn` or `pip`, with the settings that the person has.

If neither the makers' address nor `mvn` can be used, and the set-up runs as root on Debian, Debian's package
of the client is installed. The person is told before that is done.
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

CLIENT_SECONDS = 600.0  # a client that takes longer is stopped; set by hand
_LOOK_SECONDS = 0.2  # from one look whether a client is done to the next; set by hand, so that progress moves
MAVEN_PACKAGE = "maven"  # Debian's name for the package that has mvn
_SHOWN = 200  # characters of a client's error at most; set by hand: more would hide what to do
_BEFORE_PIP = 3  # words of a command up to and with pip: the interpreter, -m, pip
_COLOUR = re.compile(r"\x1b\[[\d;]*m")  # ECMA-48, select graphic rendition: mvn sends it into files too
_ERROR = re.compile(r"(?:\[ERROR\]|ERROR:|E:)\s*(.*)")  # as mvn, pip and apt-get begin such a line
# The platform whose package is asked for, the same on every machine: only its files are used, none is run.
_PLATFORM = "manylinux_2_34_x86_64"


class SourceError(Exception):
    """This source cannot be used; the text says why. It is always caught inside `offbook.models`."""


def is_debian() -> bool:
    """Whether Debian's packages can be installed on this machine."""
    return Path("/etc/debian_version").is_file() and shutil.which("apt-get") is not None


def have_maven(tell: Tell) -> None:
    """Make sure that the `mvn` client is there, and install Debian's if possible. Raises SourceError if not.

    tell is called with one line before anything is installed.
    """
    if shutil.which("mvn") is not None:
        return
    if not is_debian():
        raise SourceError("needs the mvn client, which is not installed")
    if os.geteuid() != 0:
        raise SourceError(
            f"needs the mvn client, which is not installed; install it: sudo apt-get install {MAVEN_PACKAGE}"
        )
    tell(f"mvn is missing: installing Debian's package {MAVEN_PACKAGE} (with a Java runtime, about 60 MB)")
    quiet = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    for command in (
        ["apt-get", "-q", "update"],
        ["apt-get", "-q", "-y", "install", "--no-install-recommends", MAVEN_PACKAGE],
    ):
        run_client(command, Path("/"), lambda done, total: None, env=quiet)
    if shutil.which("mvn") is None:
        raise SourceError(f"{MAVEN_PACKAGE} was installed, but mvn is still missing")


def fetch_maven(source: Source, downloads: Path, progress: Progress) -> Path:
    """Fetch an artifact with the `mvn` client; return its file in `downloads`. Raises SourceError."""
    group, artifact, version, kind = source.address.split(":")
    with tempfile.TemporaryDirectory(dir=downloads) as target:
        command = [
            "mvn", "-q", "-B", "dependency:copy", f"-Dartifact={group}:{artifact}:{version}:{kind}",
            f"-DoutputDirectory={target}", "-Daether.connector.connectTimeout=5000",
        ]  # fmt: skip
        run_client(command, Path(target), progress)
        return _moved_to_downloads(Path(target), f"*.{kind}", downloads, "mvn")


def wheel_address(source: Source) -> str | None:
    """The URL from which pip would fetch a wheel; None if pip does not say.

    Known, it lets an interrupted download be resumed, which pip itself cannot do.
    """
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
    """Fetch a wheel with the `pip` client; return its file in `downloads`. Raises SourceError.

    If its hash is known, pip checks it too.
    """
    with tempfile.TemporaryDirectory(dir=downloads) as target:
        wanted = Path(target) / "wanted.txt"
        pinned = f" --hash=sha256:{source.sha256}" if source.sha256 else ""
        wanted.write_text(f"{source.address}{pinned}\n", encoding="utf-8")
        run_client([*_pip("download"), "-r", str(wanted), "-d", target], Path(target), progress)
        return _moved_to_downloads(Path(target), "*.whl", downloads, "pip")


def _pip(command: str) -> list[str]:
    """The beginning of a call of pip that fetches one package, without those it depends on."""
    return [
        sys.executable, "-m", "pip", command, "--quiet", "--disable-pip-version-check", "--no-deps",
        "--only-binary", ":all:", "--platform", _PLATFORM,
    ]  # fmt: skip


def _moved_to_downloads(target: Path, pattern: str, downloads: Path, client: str) -> Path:
    """Move the file that a client put into `target` to `downloads`. Raises SourceError if there is none."""
    found = sorted(target.glob(pattern))
    if not found:
        raise SourceError(f"{client} failed (it fetched no file)")
    file = downloads / found[0].name
    os.replace(found[0], file)
    return file


def run_client(
    command: Sequence[str], folder: Path, progress: Progress, env: dict[str, str] | None = None
) -> None:
    """Run a client to its end. Raises SourceError with the first error that it reports.

    folder: where it runs. progress is called now and then while it runs.
    """
    name = "pip" if "pip" in command[:_BEFORE_PIP] else command[0]
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
        raise SourceError(f"{name} failed ({_first_error(output)[:_SHOWN]})")


def _first_error(output: str) -> str:
    """The first line that a client calls an error, without colours and marks; else its first line."""
    lines = [line.strip() for line in _COLOUR.sub("", output).splitlines()]
    errors = [found[1] for line in lines if (found := _ERROR.match(line))]
    return next((each for each in (*errors, *lines) if each), "it does not say why")


def _wait(process: subprocess.Popen[bytes], progress: Progress, name: str) -> str:
    """Wait for a client and return what it printed. Raises SourceError after `CLIENT_SECONDS`."""
    waited = 0.0
    while True:
        progress(0, None)
        try:
            return process.communicate(timeout=_LOOK_SECONDS)[0].decode("utf-8", "replace")
        except subprocess.TimeoutExpired:
            waited += _LOOK_SECONDS
            if waited > CLIENT_SECONDS:
                process.kill()
                raise SourceError(f"{name} did not finish within {CLIENT_SECONDS:.0f} s") from None
