"""How soon after the last word the notes are on the page, through the server as a browser uses it.

    python bench/page_lag.py FOLDER [--only NAME,NAME] [--until SECONDS]

FOLDER holds recordings with their texts, as for `bench/hearing.py`. Each is spoken into the page in real
time, in pieces of a quarter of a second, with silence after it. The page is stopped when the server says
that the last word was said, or two seconds after the end of the recording. For each it prints the seconds
that were spoken, the slowest answer to a piece (it is on the disk by then), and the time from the end of
the last word that was heard to "stop" and to the notes.
"""

from __future__ import annotations

import argparse
import http.client
import json
import re
import sys
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path
from threading import Thread
from urllib.parse import urlencode

from hearing import Reading, readings

from offbook.journal import open_journal
from offbook.page import SCREENS, PageServer
from offbook.sampling import BYTES_PER_SECOND

RATE = BYTES_PER_SECOND // 2
PIECE = BYTES_PER_SECOND // 4
QUIET = 4  # s after the recording


class Visitor:
    """What the bench needs of a browser: a cookie, the token of a session, one connection."""

    def __init__(self, server: PageServer) -> None:
        self.door = server.door
        self.conn = http.client.HTTPConnection("127.0.0.1", server.door.port)
        self.headers: dict[str, str] = {}
        self.conn.request("GET", server.door.link().removeprefix(server.door.origin))
        answer = self.conn.getresponse()
        answer.read()
        self.headers["Cookie"] = (answer.getheader("Set-Cookie") or "").split(";")[0]
        token = re.search(r'name="_token" value="([^"]+)"', self.get("/").decode())
        assert token is not None
        self.headers |= {
            "X-Offbook-Token": token[1],
            "Origin": self.door.origin,
            "Accept": "application/json",
        }

    def get(self, at: str) -> bytes:
        """Get a page."""
        self.conn.request("GET", f"/{self.door.place}{at}", headers=self.headers)
        return self.conn.getresponse().read()

    def post(self, at: str, body: bytes, kind: str = "application/octet-stream") -> tuple[int, str, bytes]:
        """Make a change: returns the status, the page that it leads to, and the answer."""
        headers = self.headers | {"Content-Type": kind}
        self.conn.request("POST", f"/{self.door.place}{at}", body, headers)
        answer = self.conn.getresponse()
        return answer.status, answer.getheader("Location") or "", answer.read()

    def form(self, at: str, **fields: str) -> tuple[int, str, bytes]:
        """Send a form."""
        return self.post(at, urlencode(fields).encode(), "application/x-www-form-urlencoded")


def spoken(server: PageServer, visitor: Visitor, reading: Reading) -> tuple[float, float, float, float]:
    """The seconds spoken, the slowest answer, and the time from the last word to stop and to the notes."""
    _, at, _ = visitor.form(
        "/add", text="\n".join(" ".join(line) for line in reading.lines), name=reading.name
    )
    _, at, _ = visitor.form("/add/" + at.rsplit("/", 1)[1], name=reading.name, do="keep")
    piece = at.rsplit("/", 1)[1]
    begun = json.loads(visitor.form(f"/piece/{piece}/speak", rate=str(RATE))[2])
    sound = reading.sound + bytes(QUIET * BYTES_PER_SECOND)
    began, slowest, number = time.perf_counter(), 0.0, 0
    for number, k in enumerate(range(0, len(sound) - PIECE + 1, PIECE)):
        time.sleep(max(0.0, began + (k + PIECE) / BYTES_PER_SECOND - time.perf_counter()))
        sent = time.perf_counter()
        told = json.loads(visitor.post(f"/capture/{begun['key']}/0/{number}", sound[k : k + PIECE])[2])
        slowest = max(slowest, time.perf_counter() - sent)
        if told["done"]:
            break
    stopped = time.perf_counter() - began
    told = json.loads(visitor.form(f"/capture/{begun['key']}/end")[2])
    while told["state"] in ("waiting", "hearing"):
        time.sleep(0.05)
        told = json.loads(visitor.get(told["at"].removeprefix(f"/{visitor.door.place}")))
    visitor.get(told["notes"].removeprefix(f"/{visitor.door.place}"))
    noted = time.perf_counter() - began
    from offbook import journal as journals

    with server.room.journal.reading() as conn:
        run = journals.scored_run(conn, told["notes"].rsplit("/", 1)[1])
    last = max(w.end for w in run.words if w.end is not None)
    return (number + 1) / 4, slowest, stopped - last, noted - last


def main() -> int:
    """The command line."""
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("folder", type=Path)
    ap.add_argument("--only", default="", help="recordings by name, separated by commas")
    args = ap.parse_args()
    found = list(readings(args.folder, [n for n in args.only.split(",") if n]))
    if not found:
        sys.exit(f"no recordings with texts in {args.folder}")
    with tempfile.TemporaryDirectory() as home:
        journal = open_journal(lambda: datetime.now(UTC), home=Path(home))
        server = PageServer(journal, SCREENS)
        serving = Thread(target=server.run, daemon=True)
        serving.start()
        server.room.loading.result()
        print("recording              seconds  slowest piece  to stop  to the notes")
        for reading in found:
            told = spoken(server, Visitor(server), reading)
            print(
                f"{reading.name:22s} {told[0]:7.1f} {told[1]:14.3f} {told[2]:8.2f} {told[3]:13.2f}",
                flush=True,
            )
        server.stop()
        serving.join()
        journal.close()
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
