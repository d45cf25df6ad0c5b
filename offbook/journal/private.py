"""Files and folders that are the person's own: nobody else on the machine can read or enter them.

Files have the rights 0600, folders 0700, whatever the umask of the process.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

FILE_MODE, FOLDER_MODE = 0o600, 0o700


def make_private(folder: Path) -> None:
    """Make a folder that its owner alone can enter, and its parents where they are missing."""
    if not folder.is_dir():
        folder.mkdir(parents=True, exist_ok=True, mode=FOLDER_MODE)
        os.chmod(folder, FOLDER_MODE)  # an unusual umask may have taken away more


@contextmanager
def private_file(path: Path) -> Iterator[IO[bytes]]:
    """A new file that its owner alone can read. Raises FileExistsError where there is one."""
    flags = os.O_RDWR | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    with os.fdopen(os.open(path, flags, FILE_MODE), "w+b") as file:
        yield file
