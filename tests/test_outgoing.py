"""Files that are written are complete or not there at all, and only their owner can read them."""

from __future__ import annotations

import ast
import errno
import os
import re
import shlex
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from offbook.cli import main
from offbook.errors import OffbookError
from offbook.outgoing import whole_file, write_named, write_whole
from tests.journals import LAMP, full_desk
from tests.shape import module_name, modules, tree_of

on_posix = pytest.mark.skipif(os.name != "posix", reason="rights, pipes and kills are those of POSIX")


@pytest.fixture
def no_umask() -> Iterator[None]:
    """A process that takes nothing away."""
    before = os.umask(0)
    yield
    os.umask(before)


def left_in(folder: Path) -> list[str]:
    """The names in a folder, hidden ones too."""
    return sorted(p.name for p in folder.iterdir())


@on_posix
def test_a_new_file_is_private_and_an_existing_file_keeps_its_permissions(
    tmp_path: Path, no_umask: None
) -> None:
    write_whole(tmp_path / "new.html", "one")
    assert (tmp_path / "new.html").stat().st_mode & 0o777 == 0o600
    (tmp_path / "new.html").chmod(0o640)
    write_whole(tmp_path / "new.html", b"two")
    assert (tmp_path / "new.html").stat().st_mode & 0o777 == 0o640
    assert (tmp_path / "new.html").read_text() == "two"
    assert left_in(tmp_path) == ["new.html"]


def test_a_link_stays_a_link_and_its_target_is_written(tmp_path: Path) -> None:
    (tmp_path / "kept").mkdir()
    (tmp_path / "kept" / "plan.ics").write_text("old")
    (tmp_path / "plan.ics").symlink_to(tmp_path / "kept" / "plan.ics")
    write_whole(tmp_path / "plan.ics", "new")
    assert (tmp_path / "plan.ics").is_symlink()
    assert (tmp_path / "kept" / "plan.ics").read_text() == "new"
    assert left_in(tmp_path / "kept") == ["plan.ics"]


@pytest.mark.parametrize("links", [True, False])
def test_a_file_that_must_be_new_never_overwrites_another(
    links: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Neither an existing file nor one created meanwhile, even on a disk without hard links."""
    if not links:

        def refuse(*paths: object) -> None:
            raise OSError(errno.EPERM, "no links here")

        monkeypatch.setattr(os, "link", refuse)
    write_whole(tmp_path / "cut.txt", "mine", new=True)
    assert (tmp_path / "cut.txt").read_text() == "mine"
    with pytest.raises(FileExistsError):
        write_whole(tmp_path / "cut.txt", "theirs", new=True)
    with pytest.raises(FileExistsError), whole_file(tmp_path / "late.txt", new=True) as out:
        out.write(b"theirs")
        (tmp_path / "late.txt").write_text("came meanwhile")
    (tmp_path / "nowhere.txt").symlink_to(tmp_path / "gone.txt")
    with pytest.raises(FileExistsError):
        write_whole(tmp_path / "nowhere.txt", "theirs", new=True)
    assert (tmp_path / "cut.txt").read_text() == "mine"
    assert (tmp_path / "late.txt").read_text() == "came meanwhile"
    assert left_in(tmp_path) == ["cut.txt", "late.txt", "nowhere.txt"]


def test_a_file_named_by_a_person_is_written_or_refused_in_two_lines(tmp_path: Path) -> None:
    named = tmp_path / "cut.txt"
    write_named(named, "one")
    write_named(named, "two")
    with pytest.raises(OffbookError) as there:
        write_named(named, "three", new=True)
    assert (there.value.what, there.value.do) == (
        f"{named} already exists",
        "name a new file: nothing is overwritten",
    )
    with pytest.raises(OffbookError) as nowhere:
        write_named(tmp_path / "gone" / "cut.txt", "one")
    assert nowhere.value.what == f"cannot write {tmp_path}/gone/cut.txt: No such file or directory"
    assert nowhere.value.do == "name a file in a folder you can write to"
    assert named.read_text() == "two"


@on_posix
def test_a_kill_while_writing_leaves_the_old_file_and_the_next_write_clears_up(tmp_path: Path) -> None:
    page = tmp_path / "page.html"
    page.write_text("old")
    code = (
        "import os, sys, signal\nfrom offbook.outgoing import whole_file\n"
        "with whole_file(sys.argv[1]) as out:\n"
        "    out.write(b'half'); out.flush(); os.kill(os.getpid(), signal.SIGKILL)\n"
    )
    done = subprocess.run([sys.executable, "-c", code, page], check=False)
    assert done.returncode == -signal.SIGKILL
    assert page.read_text() == "old"
    half = [p for p in tmp_path.iterdir() if p != page]
    assert [p.read_text() for p in half] == ["half"]
    running = tmp_path / f".offbook-{os.getppid()}-0a1b.part"
    running.write_text("another's, under way")
    theirs = tmp_path / ".offbook-notes.part"
    theirs.write_text("no part of ours")
    write_whole(page, "new")
    assert page.read_text() == "new"
    assert left_in(tmp_path) == sorted([page.name, running.name, theirs.name])


@on_posix
def test_a_device_is_written_to_and_a_pipe_that_nobody_reads_is_refused_at_once(tmp_path: Path) -> None:
    write_whole("/dev/null", "gone")
    assert not Path("/dev/null").is_file()
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(OSError, match="No such device"):
        write_whole(tmp_path / "pipe", "to nobody")
    with pytest.raises(IsADirectoryError):
        write_whole(tmp_path, "a folder")
    assert left_in(tmp_path) == ["pipe"]


def test_a_text_with_an_invalid_character_is_written_with_a_question_mark(tmp_path: Path) -> None:
    """Python gives such characters for a file name that is not UTF-8, and the name may become a title."""
    write_whole(tmp_path / "page.html", "<title>a\udcffb</title>")
    assert (tmp_path / "page.html").read_text() == "<title>a?b</title>"


# Every command that writes a file -------------------------------------------------------------------

WRITERS = {
    "page.html": "mark speech.txt --html page.html",
    "speech.txt.pencil": "mark speech.txt --pencil",
    "speech.txt.spoken": "read speech.txt --leave-out 'Nobody asked who carried up the oil.'",
    "cut.txt": "fit speech.txt --limit 0:30 --write cut.txt",
    "chart.svg": "progress 'The lamp' --svg chart.svg",
    "plan.ics": "plan --ics plan.ics",
    "brief.toml": "brief blank brief.toml",
    "all.zip": "export all.zip",
}
NEW = {"speech.txt.pencil", "cut.txt", "brief.toml", "all.zip"}  # never written over what is there


@pytest.mark.heavy
@pytest.mark.parametrize("name", WRITERS)
def test_a_full_disk_damages_no_existing_file_and_leaves_no_half_written_one(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    full_desk(tmp_path / "home", tmp_path / "take.wav").journal.close()
    (tmp_path / "here").mkdir()
    (tmp_path / "here" / "speech.txt").write_text(LAMP * 3)
    if name not in NEW:
        (tmp_path / "here" / name).write_text("" if name.endswith("spoken") else "old")
    before = {p.name: p.read_text() for p in (tmp_path / "here").iterdir()}
    monkeypatch.chdir(tmp_path / "here")
    monkeypatch.setenv("OFFBOOK_HOME", str(tmp_path / "home"))

    def full(handle: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(SystemExit) as end:
        main(shlex.split(WRITERS[name]))
    told = capsys.readouterr()
    assert end.value.code == 1
    assert "No space left" in told.err and told.err.count("\n") == 2
    assert told.out == ""
    assert {p.name: p.read_text() for p in (tmp_path / "here").iterdir()} == before


# Modules that may write in another way, and why.
ELSEWHERE = {
    "outgoing": "is the way",
    "cli": "standard output, given up",
    "desk.pile_worker": "into a folder for a moment",
    "desk.recorded_lines": "into a folder for a moment",
    "desk.rehearsals": "into a folder for a moment",
    "desk.spoken_answers": "into a folder for a moment",
    "page.sitting": "into a folder for a moment",
    "page.speaking": "made anew from the pieces that are kept",
    "recognise.vosk_recogniser": "into a folder for a moment",
    "models.clients": "into a folder for a moment",
    "models.downloads": "into a part that is gone on with, and a folder for a moment",
    "journal.private": "makes the parts of journal.files and journal.opening, which are renamed",
    "journal.opening": "into such a part",
    "page.capture": "sound is added as it comes, and what came before is kept",
    "page.uploads": "slices are added as they come",
    "script.formats.bounded": "a pipe",
    "journal.archive.writing": "a member of an archive",
}


def _writes(call: ast.Call) -> bool:
    """Whether a call writes a file under the name that it is to have."""
    if not isinstance(call.func, ast.Attribute | ast.Name):
        return False
    name = call.func.attr if isinstance(call.func, ast.Attribute) else call.func.id
    if name in ("open", "fdopen"):
        given = [*call.args[:2], *(k.value for k in call.keywords if k.arg == "mode")]
        modes = [a.value for a in given if isinstance(a, ast.Constant) and isinstance(a.value, str)]
        return any(re.fullmatch("[wxa][b+t]*", mode) for mode in modes)
    return name in ("write_text", "write_bytes", "copyfile", "copy2")


@pytest.mark.heavy
def test_no_other_module_writes_files() -> None:
    found = {
        module_name(path).removeprefix("offbook.")
        for path in modules()
        if re.search(r"open\(|write_|copy", path.read_text(encoding="utf-8"))
        and any(isinstance(node, ast.Call) and _writes(node) for node in ast.walk(tree_of(path)))
    }
    assert found == set(ELSEWHERE)
