"""A private PostgreSQL server for tests, in a temporary folder and only on this machine; deleted
afterwards.

If the server is not installed, the tests that need it fail: the journal promises to run on it.
"""

from __future__ import annotations

import glob
import os
import pwd
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


def _binary(name: str) -> str:
    found = shutil.which(name) or next(iter(sorted(glob.glob(f"/usr/lib/postgresql/*/bin/{name}"))), None)
    if found is None:
        raise FileNotFoundError(f"{name} is missing: install Debian's `postgresql`")
    return found


@contextmanager
def postgresql() -> Iterator[str]:
    """A new server; returns the address of an empty database for SQLAlchemy."""
    folder = Path(tempfile.mkdtemp(prefix="offbook-pg-"))
    # PostgreSQL refuses to run as root; Debian's package brings the user it runs as.
    user = "postgres" if os.getuid() == 0 else pwd.getpwuid(os.getuid()).pw_name
    if os.getuid() == 0:
        shutil.chown(folder, user)
    as_user = user if os.getuid() == 0 else None
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        port = s.getsockname()[1]

    def call(*command: str) -> None:
        subprocess.run(
            command,
            check=True,
            capture_output=True,
            cwd=folder,
            env={"PATH": os.environ["PATH"]},
            user=as_user,
        )

    call(_binary("initdb"), "-D", "data", "-U", "offbook", "-A", "trust", "-E", "UTF8", "--no-sync")
    options = f"-c listen_addresses=127.0.0.1 -c port={port} -c unix_socket_directories={folder} -c fsync=off"
    ctl = _binary("pg_ctl")
    call(ctl, "-D", "data", "-w", "-l", str(folder / "log"), "-o", options, "start")
    try:
        yield f"postgresql+psycopg://offbook@127.0.0.1:{port}/postgres"
    finally:
        call(ctl, "-D", "data", "-m", "immediate", "stop")
        shutil.rmtree(folder, ignore_errors=True)
