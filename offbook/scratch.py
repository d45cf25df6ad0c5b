"""Temporary folders: in the machine's usual place, private, and deleted afterwards.

A process that is killed cannot clear up after itself, so the next one does it: the number of the process
is in the folder's name, and if that process no longer runs the folder is deleted.
"""

from __future__ import annotations

import os
import re
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

_NAME = re.compile(r"offbook-(\d+)-\w+")


def scratch() -> tempfile.TemporaryDirectory[str]:
    """A new folder that only this person can enter (0700). First deletes those that killed processes left."""
    clear_left()
    return tempfile.TemporaryDirectory(prefix=f"offbook-{os.getpid()}-")


def clear_left() -> None:
    """Delete the folders that this person's processes left behind when they were killed."""
    for entry in left_behind(Path(tempfile.gettempdir()), _NAME):
        with suppress(OSError):
            if entry.is_dir(follow_symlinks=False):
                shutil.rmtree(Path(entry.path), ignore_errors=True)


def left_behind(folder: Path, name: re.Pattern[str]) -> Iterator[os.DirEntry[str]]:
    """The entries of a folder that belong to a process of this person which no longer runs.

    name: matches their names; its first group is the number of the process. Entries that cannot be looked at
    are skipped.
    """
    if os.name != "posix":
        return
    with suppress(OSError), os.scandir(folder) as entries:
        for entry in entries:
            found = name.fullmatch(entry.name)
            if found is None or is_running(int(found[1])):
                continue
            with suppress(OSError):
                if entry.stat().st_uid == os.getuid():
                    yield entry


def is_running(process: int) -> bool:
    """Whether a process with this number runs. Always True on systems where asking is not safe."""
    if os.name != "posix":
        return True  # on other systems this call could end the process
    try:
        os.kill(process, 0)
    except (ProcessLookupError, OverflowError):
        return False
    except PermissionError:  # it runs, and is somebody else's
        return True
    return True
