"""Documents read within bounds: a small file may unpack to a vast one, or keep a library busy for hours.

What can be told beforehand is: how much a zip unpacks to, and how many parts it has. For the rest the reader
works in a child process that has so much processor time and so much memory and no more, and can print
nothing. A fork costs a few milliseconds; where there is none (and on macOS, whose libraries do not bear
it) the reader works in this process, bounded in size alone.
"""

from __future__ import annotations

import gc
import io
import json
import os
import select
import signal
import sys
import time
import zipfile
from collections.abc import Callable, Sequence
from contextlib import redirect_stdout, suppress
from dataclasses import asdict
from importlib import import_module
from typing import Any, NoReturn

from offbook.errors import ScriptError
from offbook.intake import check_contents, lifted
from offbook.script.sheet import Mark, Page

# Set by hand: a novel as docx unpacks to 10 MB, pictures come to some tens.
MOST_PARTS = 10_000
MOST_UNPACKED = 300_000_000  # bytes of all parts together
MOST_XML = 60_000_000  # bytes of one part that is parsed
CPU_SECONDS = 15  # of processor time; a play of 120 pages as pdf takes some 10 on a small machine
WALL_SECONDS = 40.0  # where the machine is busy with other things
MEMORY = 800_000_000  # bytes beyond what the process has
LIFTED = 20  # times as much of time and memory where the person has raised the limits

Reader = Callable[[bytes, str], Page]


def check_parts(data: bytes, name: str) -> set[str]:
    """The names of the members of a zipped document. Raises ScriptError where it is damaged or a bomb."""
    try:
        check_contents(io.BytesIO(data), len(data), MOST_PARTS, 100 * MOST_PARTS)
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            infos = archive.infolist()
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError) as e:
        raise ScriptError(
            f"{name} is a damaged document: it breaks off or its parts do not fit",
            "open it in a word processor and save it again",
        ) from e
    xml = max((i.file_size for i in infos if i.filename.endswith((".xml", ".rels"))), default=0)
    if not lifted() and (xml > MOST_XML or sum(i.file_size for i in infos) > MOST_UNPACKED):
        raise _beyond(name)
    return {i.filename for i in infos}


def read_within_bounds(reader: Reader, data: bytes, name: str, libraries: Sequence[str]) -> Page:
    """The page that `reader` makes of `data`. Raises ScriptError, also where it takes too much.

    libraries: what the reader imports. They are imported here: a child that finds another thread in the
    middle of an import would wait for it without end.
    """
    for library in libraries:
        import_module(library)
    if not hasattr(os, "fork") or sys.platform == "darwin":
        with redirect_stdout(io.StringIO()):
            return reader(data, name)
    ours, theirs = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(ours)
        _work(theirs, reader, data, name)
    os.close(theirs)
    try:
        answer = _answer(ours, child)
    finally:
        os.close(ours)
        with suppress(ProcessLookupError):
            os.kill(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
    if answer is not None:
        return _page(json.loads(answer))
    if os.WIFEXITED(status) and os.WEXITSTATUS(status) == _FAILED:
        raise ScriptError(
            f"{name} is damaged: its parts do not fit together", "open it where it was made and save it again"
        )
    raise _beyond(name)


_FAILED = 70  # exit status of a child whose reader failed in a way that nobody foresaw


def _work(out: int, reader: Reader, data: bytes, name: str) -> NoReturn:
    """In the child: read, write the answer into `out`, and be gone."""
    status = _FAILED
    gc.freeze()  # what the parent has to clear away may wait for a thread that is not in the child
    try:
        _limit()
        nothing = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nothing, 1)
        os.dup2(nothing, 2)
        sys.stdout = sys.stderr = io.StringIO()
        try:
            answer = asdict(reader(data, name))
        except ScriptError as e:
            answer = {"what": e.what, "do": e.do}
        with os.fdopen(out, "wb") as pipe:
            pipe.write(json.dumps(answer).encode())
        status = 0
    except MemoryError:
        status = 0  # without an answer: too much
    finally:
        os._exit(status)


def _limit() -> None:
    import resource

    times = LIFTED if lifted() else 1
    used = resource.getrusage(resource.RUSAGE_SELF)
    seconds = int(used.ru_utime + used.ru_stime) + 1 + CPU_SECONDS * times
    with suppress(OSError, ValueError):
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
        resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds + 1))
    with suppress(OSError, ValueError), open("/proc/self/statm", encoding="ascii") as file:
        room = int(file.read().split()[0]) * resource.getpagesize() + MEMORY * times
        resource.setrlimit(resource.RLIMIT_AS, (room, room))


def _answer(ours: int, child: int) -> bytes | None:
    """What the child wrote; None where it ended without an answer, or had to be ended."""
    end = time.monotonic() + WALL_SECONDS * (LIFTED if lifted() else 1)
    blocks: list[bytes] = []
    while True:
        ready, _, _ = select.select([ours], [], [], max(0.0, end - time.monotonic()))
        if not ready:
            return None
        block = os.read(ours, 1 << 20)
        if not block:
            return b"".join(blocks) or None
        blocks.append(block)


def _page(answer: dict[str, Any]) -> Page:
    if "what" in answer:
        raise ScriptError(answer["what"], answer["do"])
    marks = tuple(Mark(**m) for m in answer.pop("marks"))
    italics = tuple((start, end) for start, end in answer.pop("italics"))
    return Page(marks=marks, italics=italics, **answer)


def _beyond(name: str) -> ScriptError:
    return ScriptError(
        f"{name} takes more time or memory to read than a script should",
        "give the pages with the speech alone, or as text, or let it take longer: offbook --largest 1000 …",
    )
