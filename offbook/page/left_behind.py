"""What came in and was neither kept nor thrown away: a script that was only looked at, half a recording."""

from __future__ import annotations

import os
import re
import shutil
from contextlib import suppress
from pathlib import Path

# Set by hand: nobody goes on with a script that was shown a month ago, and a recording that came in through
# the page is a copy of a file that the person has.
DAYS = 30
_DAY = 86_400  # seconds
_OURS = re.compile(r"[0-9a-f]{24}|[0-9a-f]{32}")  # the keys of drafts and of uploads


def delete_old_drafts(folder: Path, now: float) -> None:
    """Delete the drafts and uploads in `folder` of which nothing was written for `DAYS` days.

    now: seconds since 1970, as the times of files are. What has no key of ours for a name is left alone.
    """
    with suppress(OSError), os.scandir(folder) as entries:
        for entry in entries:
            if _OURS.fullmatch(entry.name) and entry.is_dir(follow_symlinks=False):
                with suppress(OSError):
                    if now - _written(Path(entry.path)) > DAYS * _DAY:
                        shutil.rmtree(entry.path, ignore_errors=True)


def _written(folder: Path) -> float:
    """When something in a folder was last written. Raises OSError."""
    return max(p.lstat().st_mtime for p in (folder, *folder.iterdir()))
