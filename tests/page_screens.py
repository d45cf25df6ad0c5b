"""Every screen of the page, with something on it: for the tests, and to be looked at.

    python -m tests.page_screens FOLDER [SMALL]

writes a picture of each into FOLDER: light, dark, narrow (320 px), as printed on A4; and into SMALL the few
small ones that the README shows.
"""

from __future__ import annotations

import json
import sys
import tempfile
import time
from datetime import timedelta
from pathlib import Path

from playwright.sync_api import Page

from offbook import desk
from offbook import journal as journals
from offbook.page import PageServer
from offbook.page.room import Import
from offbook.page.turns import Job, Stopped
from tests.browsing import browser, entered
from tests.pages import Visitor, add_piece, let_in, served
from tests.sounds import with_a_gap

DEMO = Path(__file__).resolve().parent.parent / "corpus_demo"
NARROW = {"width": 320, "height": 720}
USUAL = {"width": 1100, "height": 900}


def seed(server: PageServer, visitor: Visitor, speech: str, recording: Path) -> dict[str, str]:
    """A piece with a run-through and a take, a scene with cues, a brief; the addresses of every screen."""
    day = (server.room.clock() + timedelta(days=20)).date().isoformat()
    piece = add_piece(visitor, speech, "The lamp", limit="1:20", day=day)
    scene = add_piece(visitor, SCENE, "The gate", limit="0:40", part="MARA")
    run = heard(visitor, piece, recording)
    asked = {
        "name": "Saltmarrow Playhouse, first round",
        "deadline": day,
        "piece": "The lamp",
        "longest": "2:00",
    }
    at = visitor.form("/brief/new", **asked).headers["location"]
    draft = visitor.form("/add", text=HEADED, name="Headed").headers["location"].rsplit("/", 1)[1]
    sitting = (
        visitor.form(f"/piece/{piece}/drill", minutes="5").headers["location"].partition(server.door.place)[2]
    )
    measured(visitor, f"/piece/{piece}/notes/{run}/review")
    two_takes(server, piece, run, recording)
    measured(visitor, f"/piece/{piece}/takes/1-2/beside")
    brief = at.partition(server.door.place)[2]
    word = "?word=11"
    return {
        "pieces": "/",
        "add": "/add",
        "what is spoken": f"/add/{draft}",
        "text": f"/piece/{piece}",
        "text of a scene": f"/piece/{scene}",
        "pencil": f"/piece/{piece}{word}",
        "time": f"/piece/{piece}/time?limit=1:00",
        "speak": f"/piece/{piece}/speak",
        "speak a scene": f"/piece/{scene}/speak",
        "run-throughs": f"/piece/{piece}/notes",
        "notes": f"/piece/{piece}/notes/{run}",
        "review": f"/piece/{piece}/notes/{run}/review",
        "drill": f"/piece/{piece}/drill",
        "question": sitting,
        "progress": f"/piece/{piece}/progress",
        "takes": f"/piece/{piece}/takes",
        "two takes": f"/piece/{piece}/takes/1-2/beside",
        "hearing": f"/hearing/{broken_off(server, piece)}",
        "settings": f"/piece/{piece}/settings",
        "today": "/today",
        "calendar": "/calendar",
        "briefs": "/briefs",
        "a brief": brief,
        "a new brief": "/brief/new",
        "a brief to change": f"{brief}/change",
        "a brief as text": f"{brief}/change?as=text",
        "class": "/class",
        "keep safe": "/keep-safe",
        "an import": f"/keep-safe/import/{brought_back(server, scene)}",
        "an error": "/nowhere",
    }


HEADED = "THE TIDE\n\nShe waits. [A bell.]\nThe tide took the lights.\nI waited on the wall.\n"
SCENE = """WARDEN: Who has the key to the gate?
MARA: I have. I have had it since the spring.
WARDEN: And who gave it to you?
MARA: The one who locked it, and went out to sea.
"""


def heard(visitor: Visitor, piece: str, recording: Path) -> str:
    """The recording heard as a run-through; its key."""
    key = json.loads(visitor.form(f"/piece/{piece}/upload", name=recording.name).text)["key"]
    visitor.ask("POST", f"/upload/{key}/0", recording.read_bytes(), Content_Type="application/octet-stream")
    told = json.loads(visitor.ask("POST", f"/upload/{key}/end").text)
    while told["state"] in ("waiting", "hearing"):
        time.sleep(0.2)
        told = json.loads(
            visitor.ask("GET", told["at"].partition(visitor.place)[2], Accept="application/json").text
        )
    assert told["state"] == "done", told
    return str(told["notes"]).rsplit("/", 1)[1]


def two_takes(server: PageServer, piece: str, run: str, recording: Path) -> None:
    """The recording logged as a take, and again with a second of silence at one of its shifts."""
    journal = server.room.journal
    there = server.room.opened(piece)
    with journal.reading() as conn:
        row = journals.run_of(conn, run)
    at = (row, there.penciled_at)
    shift = next(s.at for s in server.room.reviewed[at].delivery.shifts if s.at is not None)
    held = with_a_gap(recording, shift, 1.0, server.room.home / "held.wav")
    for sound, tries in (
        (recording, "let it slip that the ship is lost"),
        (held, "hold them until they ask"),
    ):
        name, performer = there.piece.name, there.piece.performer
        logged = desk.log_take(journal, name, performer, sound, tries, None, True)
        desk.judge_logged(journal, logged, server.room.loading, lambda share: None)


def brought_back(server: PageServer, piece: str) -> str:
    """An archive read in, in which the piece has another limit; the key of the import."""
    journal, ahead = server.room.journal, server.room.clock() + timedelta(minutes=5)
    with tempfile.TemporaryDirectory() as made:
        mine, theirs = Path(made) / "mine.zip", Path(made) / "theirs.zip"
        journals.export(journal, mine)
        other = journals.open_journal(lambda: ahead, home=Path(made) / "other")
        journals.read_in(other, mine)
        with other.writing() as conn:
            journals.change_piece(other, conn, piece, limit_seconds=45.0)
        journals.export(other, theirs)
        other.close()
        done = journals.read_in(journal, theirs)
    found = [each for differing in done.differing for each in desk.differences(differing)]
    return server.room.keep_import(Import("Imported: nothing that was not already here.", found, done.left))


def broken_off(server: PageServer, piece: str) -> str:
    """A recording whose hearing was stopped; the key of its job."""

    def work(job: Job) -> str:
        raise Stopped

    job = server.room.turns.add(Job("somebody", piece, "The lamp", work))
    job.over.wait()
    return job.key


def measured(visitor: Visitor, at: str) -> None:
    """The review of a run-through asked for, and waited for."""
    job = visitor.ask("GET", at).headers["location"].partition(visitor.place)[2]
    while json.loads(visitor.ask("GET", job, Accept="application/json").text)["state"] != "done":
        time.sleep(0.2)


def pictures(page: Page, base: str, screens: dict[str, str], folder: Path) -> None:
    """Every screen in light, dark, narrow and print."""
    for name, at in screens.items():
        shown = name.replace(" ", "-")
        for kind in ("light", "dark", "narrow"):
            page.emulate_media(color_scheme="dark" if kind == "dark" else "light", media="screen")
            page.set_viewport_size(NARROW if kind == "narrow" else USUAL)  # type: ignore[arg-type]
            page.goto(f"{base}{at}")
            page.wait_for_load_state("networkidle")
            page.screenshot(path=folder / f"{shown}-{kind}.png", full_page=True)
        page.emulate_media(color_scheme="light", media="print")
        page.pdf(path=folder / f"{shown}.pdf", format="A4", print_background=False)


IN_THE_README = {"text": "light", "speak a scene": "light", "notes": "light", "progress": "dark"}
SMALL = {"width": 860, "height": 620}


def small_pictures(page: Page, base: str, screens: dict[str, str], folder: Path) -> None:
    """The pictures of the README: the top of a screen each, in the few shades that ink and paper need."""
    from PIL import Image

    folder.mkdir(parents=True, exist_ok=True)
    page.set_viewport_size(SMALL)  # type: ignore[arg-type]
    for name, scheme in IN_THE_README.items():
        page.emulate_media(color_scheme="dark" if scheme == "dark" else "light", media="screen")
        page.goto(f"{base}{screens[name]}")
        page.wait_for_load_state("networkidle")
        path = folder / f"{name.replace(' ', '_')}.png"
        page.screenshot(path=path)
        with Image.open(path) as shot:
            shot.convert("RGB").quantize(24).save(path, optimize=True)


def main() -> int:
    """The command line."""
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as made, served(Path(made) / "home") as server:
        speech = (DEMO / "the_lamp.txt").read_text(encoding="utf-8")
        screens = seed(server, let_in(server), speech, DEMO / "the_lamp_run.ogg")
        with browser() as context:
            page = entered(context, server.door.link())
            base = f"{server.door.origin}/{server.door.place}"
            if len(sys.argv) > 2:
                small_pictures(page, base, screens, Path(sys.argv[2]))
            pictures(page, base, screens, folder)
    sys.stdout.write(f"{len(screens)} screens in {folder}\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
