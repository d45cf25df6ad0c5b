"""`offbook run SCRIPT RECORDING`: a recorded run-through, heard and noted."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from offbook.cli.common import print_json
from offbook.cli.desk import performer_option
from offbook.cli.run_model import Loading
from offbook.errors import OffbookError

if TYPE_CHECKING:
    from offbook.cli.run_listen import Heard
    from offbook.notes import Aside, Dry, Note, Pause, Place
    from offbook.score import Extra, WordVerdict

PLACES = 3  # places to work on: more is no help in the next hour


@click.command("run", context_settings={"help_option_names": ["-h", "--help"]})
@click.argument("script", metavar="SCRIPT")
@click.argument("recording", metavar="RECORDING")
@click.option("--part", metavar="NAME", help="Take this part's lines as the speech; all: every part's.")
@click.option("--model", metavar="NAME", help="Hear with this speech model: a name or a folder.")
@click.option("--json", "json_", is_flag=True, help="Print the verdicts and notes as JSON.")
@click.option("--html", "html", metavar="FILE", help="Write a page to print as well.")
@click.option("--piece", metavar="NAME", help="Put it into the journal, as a run-through of this piece.")
@performer_option
@click.option("--keep/--no-keep", default=None, help="With --piece: keep the recording too, or not.")
def command(
    script: str,
    recording: str,
    part: str | None,
    model: str | None,
    json_: bool,
    html: str | None,
    piece: str | None,
    performer: str | None,
    keep: bool | None,
) -> None:
    """Hear a recorded run-through and give line notes.

    SCRIPT is the text, RECORDING any audio or video file of somebody saying it. Everything is heard on
    this machine and nothing is sent; without --piece nothing is stored.
    """
    page = _page_path(html) if html is not None else None
    loading = Loading(model)  # before the rest is imported, which takes as long as a third of it
    saved = None
    if piece is None:
        from offbook.cli.run_listen import listen

        heard = listen(script, recording, part, loading)
    else:
        from offbook.cli.run_keep import listen_for

        heard, saved = listen_for(piece, performer, script, recording, part, loading, keep)
    if page is not None:
        from offbook.cli.run_page import page_of

        _write(page, page_of(heard))
    if json_:
        print_json(as_json(heard) | ({"run": saved.run.id} if saved is not None else {}))
    else:
        from offbook.cli.run_report import report

        report(heard)
        if saved is not None:
            click.echo(saved.line)
    if page is not None:
        click.echo(f"page written: {page}", err=True)


def _page_path(name: str) -> Path:
    """The page's path, refused before anything is heard where it could not be written."""
    path = Path(name)
    if path.is_dir() or not path.absolute().parent.is_dir():
        raise OffbookError(f"cannot write the page {path}", "name a file in a folder that exists")
    return path


def _write(path: Path, text: str) -> None:
    try:
        path.write_text(text, encoding="utf-8")
    except OSError as e:
        raise OffbookError(
            f"cannot write the page {path}: {e.strerror}", "name a file that may be written"
        ) from e


def as_json(heard: Heard) -> dict[str, Any]:
    """The run as other programs read it."""
    review, run, sound = heard.review, heard.review.run, heard.sound
    return {
        "script": heard.script.source,
        "title": heard.script.title,
        "part": heard.script.part,
        "recording": str(heard.recording),
        "recorded_at": heard.recorded_at.isoformat(timespec="seconds"),
        "model": heard.model,
        "words": [_word(w) for w in run.words],
        "added": [_added(e) for e in review.added],
        "dropped_lines": [{"line": d.line, "words": [d.first, d.last]} for d in review.dropped_lines],
        "notes": [note_as_json(n) for n in review.notes],
        "asides": [_aside(a) for a in review.asides],
        "dries": [_pause(d) for d in review.dries],
        "longest_pause": _pause(review.longest_pause) if review.longest_pause is not None else None,
        "places": [_place(p) for p in review.places[:PLACES]],
        "accuracy": round(run.accuracy, 4),
        "accuracy_low": round(run.accuracy_low, 4),
        "seconds": _seconds(run.seconds),
        "speaking_seconds": _seconds(run.speaking_seconds),
        "rate_wpm": round(review.rate_wpm, 1),
        "sound": {
            "line": sound.line,
            "poor": sound.poor,
            "seconds": _seconds(sound.seconds),
            "loudness_lufs": _finite(sound.loudness),
            "snr_db": _finite(sound.snr),
        },
    }


def _word(w: WordVerdict) -> dict[str, Any]:
    return {
        "i": w.i,
        "text": w.text,
        "verdict": w.verdict,
        "heard": w.heard,
        "start": _seconds(w.start),
        "end": _seconds(w.end),
        "confidence": _seconds(w.confidence),
    }


def _added(e: Extra) -> dict[str, Any]:
    return {
        "before_word": e.before_word,
        "heard": e.heard,
        "start": _seconds(e.start),
        "end": _seconds(e.end),
        "confidence": _seconds(e.confidence),
    }


def note_as_json(n: Note) -> dict[str, Any]:
    """A line note as other programs read it."""
    return {
        "kind": n.kind,
        "words": [n.first, n.last],
        "script": n.script,
        "heard": n.heard,
        "at": _seconds(n.at),
        "line": n.line,
        "detail": n.detail,
        "before_word": n.before_word,
    }


def _aside(a: Aside) -> dict[str, Any]:
    return {
        "kind": a.kind,
        "before_word": a.before_word,
        "heard": a.heard,
        "start": _seconds(a.start),
        "end": _seconds(a.end),
        "words": list(a.words) if a.words is not None else None,
    }


def _pause(p: Dry | Pause) -> dict[str, Any]:
    return {"before_word": p.before_word, "at": _seconds(p.at), "seconds": _seconds(p.seconds)}


def _place(p: Place) -> dict[str, Any]:
    return {
        "lines": list(p.lines),
        "words": [p.first, p.last],
        "at": _seconds(p.at),
        "what": p.what,
        "do": p.do,
    }


def _seconds(value: float | None) -> float | None:
    return None if value is None else round(value, 3)


def _finite(value: float) -> float | None:
    return round(value, 1) if abs(value) != float("inf") else None
