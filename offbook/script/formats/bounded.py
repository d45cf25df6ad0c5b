"""Documents are read within limits: a small file may unpack to a huge one, or keep a library busy for hours.

How much a zip file unpacks to, and how many parts it has, is checked before it is read. The reader then works
in a child process with a limit on processor time and memory, which cannot print anything. Starting it by a
fork takes a few milliseconds. On systems without fork, and on macOS, whose libraries may crash after a fork,
the reader works in this process, and only the sizes are limited.
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

# All set by hand: a novel as docx unpacks to 10 MB, and its pictures to several times that.
MOST_PARTS = 10_000
_CONTENTS_BYTES = 100  # for each part in the zip's table of contents: 46 and the part's name (APPNOTE 4.3.12)
MOST_UNPACKED = 300_000_000  # bytes of all parts together
MOST_XML = 60_000_000  # bytes of one part that is parsed
CPU_SECONDS = 15  # of processor time; a play of 120 pages as pdf takes about 10 on a small machine
WALL_SECONDS = 40.0  # of elapsed time, in which a busy machine still gives the child that much processor time
MEMORY = 800_000_000  # bytes more than this process has now
LIFTED = 20  # the limits on time and memory are so many times as large if the person has raised the limits
_PIPE_BLOCK = 1 << 20  # bytes read from the child at a time

Reader = Callable[[bytes, str], Page]


def check_parts(data: bytes, name: str) -> set[str]:
    """The names of the parts of a zipped document.

    Raises ScriptError if it is damaged or unpacks to too much.
    """
    try:
        check_contents(io.BytesIO(data), len(data), MOST_PARTS, _CONTENTS_BYTES * MOST_PARTS)
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
    """The page that `reader` makes of `data`. Raises ScriptError, also if it takes too much time or memory.

    libraries: the modules that the reader imports. They are imported before the fork: if another thread were
    in the middle of an import at that moment, the child would wait for it for ever.
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


# The child's exit status after an error that the reader does not expect (EX_SOFTWARE in sysexits.h)
_FAILED = 70


def _work(out: int, reader: Reader, data: bytes, name: str) -> NoReturn:
    """What the child does: it reads, writes the answer into `out`, and ends."""
    status = _FAILED
    # the parent's garbage is not cleared here: that may wait for a thread which the child does not have
    gc.freeze()
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
        status = 0  # ending without an answer means: too much
    finally:
        os._exit(status)


def _limit() -> None:
    """Limit the processor time and the memory of this process."""
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
    """What the child wrote; None if it ended without an answer or took too long."""
    end = time.monotonic() + WALL_SECONDS * (LIFTED if lifted() else 1)
    blocks: list[bytes] = []
    while True:
        ready, _, _ = select.select([ours], [], [], max(0.0, end - time.monotonic()))
        if not ready:
            return None
        block = os.read(ours, _PIPE_BLOCK)
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
        "give only the pages with the speech, or the text, or allow more: offbook --largest 1000 …",
    )
