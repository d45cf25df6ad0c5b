"""Private files and folders: nobody else on the machine can read or open them.

Files have the rights 0600 and folders 0700, whatever the umask of the process is.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

FILE_MODE, FOLDER_MODE = 0o600, 0o700  # POSIX rights: all for the owner, none for others


def make_private(folder: Path) -> None:
    """Create a folder that only its owner can open, and its parents if they are missing. Raises OSError."""
    if not folder.is_dir():
        folder.mkdir(parents=True, exist_ok=True, mode=FOLDER_MODE)
        os.chmod(folder, FOLDER_MODE)  # the umask may have taken away rights of the owner


@contextmanager
def private_file(path: Path) -> Iterator[IO[bytes]]:
    """Create a file that only its owner can read, open for writing. Raises FileExistsError if it exists."""
    flags = os.O_RDWR | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    with os.fdopen(os.open(path, flags, FILE_MODE), "w+b") as file:
        yield file
